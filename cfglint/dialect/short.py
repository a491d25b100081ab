"""Lines that break off: the beginning of one of the dialect's lines, and what it lacks."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.dialect.values import Bad, decode
from cfglint.near import listed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.dialect.mapping import Entry

_PART = re.compile(r"\{[A-Za-z_]+\}|\*|[^\W_](?:[\w.\-]*\w)?|[^\w\s]|_")
_FIELD = re.compile(r"\{([A-Za-z_]+)\}")


def what_lacks(text: str, entries: Iterable[Entry]) -> str:
    """What a line would need to be one of the dialect's, if it is the beginning of one.

    In neutral words; ``""`` where it is no such beginning, or that of too many.  Of several lines
    it could be, the one that lacks least.
    """
    there = _PART.findall(text)
    while there and _is_mark(there[-1]):
        there.pop()
    could_be: list[list[str]] = []
    for entry in entries:
        if entry.way not in ("template", "phrase") or not there:
            continue
        form = entry.at.text.rsplit(" > ", 1)[-1].strip()
        if "{value}" not in form and entry.way == "phrase":
            form += " {value}"
        found = _left(there, _PART.findall(form))
        if found is None:
            continue
        number, left = found
        fields = [field for one in left for field in _FIELD.findall(one)]
        names = list(dict.fromkeys(_called(entry, field, number) for field in fields))
        if names and names not in could_be:
            could_be.append(names)
    fewest = min(map(len, could_be), default=0)
    choice = [names for names in could_be if len(names) == fewest]
    best = choice[0] if len(choice) == 1 else []  # of many beginnings nobody can tell which
    return listed(best)


def _is_mark(part: str) -> bool:
    return not (part[0].isalnum() or part[0] in "_{")


def _left(there: list[str], form: list[str]) -> tuple[str, list[str]] | None:
    """The parts of a form that are left when a line ends, and the number in the line; None where
    it goes another way.
    """
    number, words = "", 0
    for one, part in zip(there, form, strict=False):
        if part in ("N", "{N}"):
            if not one.isdigit():
                return None
            number = one
        elif part.startswith("{") or _is_mark(part):
            if _is_mark(one) != _is_mark(part):
                return None
        elif re.fullmatch(re.escape(part).replace("N", "(?:N|[0-9]+)"), one, re.I) is None:
            return None
        else:
            words += 1
            digits = re.search("[0-9]+", one) if "N" in part else None
            number = digits[0] if digits else number
    return (number, form[len(there) :]) if words and len(there) < len(form) else None


def _called(entry: Entry, field: str, number: str) -> str:
    name = entry.sets.get(field)
    if name is None or "." not in name:
        return _PARTS.get(field, f"its {field}")
    if number and "N" in entry.codecs:
        try:
            number = str(decode(entry.codecs["N"], entry.row_of("N"), number))
        except Bad:
            number = "N"
    return name.replace("N", number, 1) if number else name


#: What the parts of a mode range are called.
_PARTS = {"low": "its low end", "high": "its high end", "follows": "the mode that it follows"}
