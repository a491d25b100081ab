"""Who a dump says it is: board, firmware version, extent; and which dialect it asks for."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dialect.values import unquote
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source

#: A dump names itself near its top; a pasted log may have a screenful before it.
LOOK_AT = 200
#: An identity line is short; a longer one is looked at by no pattern.
LONGEST = 1000
_DIRECTIVE = re.compile(r"cfglint:[ \t]*dialect[ \t=]+(?P<name>[^ \t]+)")


class Identity(NamedTuple):
    """What the identity lines say: field → text and span; ``line`` covers the first of them."""

    said: Mapping[str, tuple[str, Span]]
    line: Span | None
    numbers: frozenset[int]


@lru_cache(maxsize=64)
def _form(form: str) -> tuple[str, re.Pattern[str]]:
    """The text that an identity line's form begins with, in lower case, and its pattern."""
    parts = re.split(r"\{([a-z]+)\}", form.strip())
    bits = []
    for place, part in enumerate(parts):
        if place % 2:
            bits.append(f'(?P<{part}>"[^"]*"|[^ \\t]|[^ \\t].*?[^ \\t])')
        else:
            bits.append(r"[ \t]+".join(map(re.escape, re.split(r"[ \t]+", part))))
    return parts[0].strip().lower(), re.compile("".join(bits) + r"[ \t]*", re.IGNORECASE)


def identify(dialect: Dialect, source: Source) -> Identity:
    """The identity lines of a dump, read by one dialect; looked for once."""
    found: Identity | None = source.noted.get(dialect)
    if found is None:
        found = source.noted[dialect] = _identify(dialect, source)
    return found


def _head(source: Source) -> tuple[list[tuple[int, str, str]], str]:
    """The lines at a dump's top, with their numbers and in lower case; all of them in one text.

    What is not ASCII stays as it is, since its length may change.
    """
    if _head not in source.noted:
        lines = [
            (number, line, line.lower() if line.isascii() else line)
            for number, line in enumerate(source.lines[:LOOK_AT], 1)
            if len(line) <= LONGEST
        ]
        source.noted[_head] = lines, "\n".join(one[2] for one in lines)
    head: tuple[list[tuple[int, str, str]], str] = source.noted[_head]
    return head


def _identify(dialect: Dialect, source: Source) -> Identity:
    lines, whole = _head(source)
    forms = [_form(one) for one in dialect.data.get("identity", {}).get("lines", [])]
    if whole.isascii():
        forms = [form for form in forms if form[0] in whole]
    said: dict[str, tuple[str, Span]] = {}
    first: Span | None = None
    numbers = set()
    for number, line, searched in lines if forms else ():
        for start, pattern in forms:
            at = searched.find(start) if searched.isascii() else _find(line, start)
            # Not in the middle of a word: `version=` is no part of `inversion=no`.
            while at > 0 and start and line[at - 1].isalnum() and start[0].isalnum():
                at = searched.find(start, at + 1)
            match = pattern.fullmatch(line, at) if at >= 0 else None
            if match is None:
                continue
            numbers.add(number)
            span = on_line(source.file, number, at, len(line.rstrip(" \t")))
            first = first or span
            for field, text in match.groupdict().items():
                where = on_line(source.file, number, match.start(field), match.end(field))
                said.setdefault(field, (unquote(text), where))
            break
    return Identity(said, first, frozenset(numbers))


def _find(line: str, start: str) -> int:
    """Where a text stands in a line, letter case apart, without changing the line's length."""
    match = re.search(re.escape(start), line, re.IGNORECASE)
    return match.start() if match is not None else -1


def directive(source: Source) -> tuple[str, Span] | None:
    """The dialect that a comment of the dump asks for: ``cfglint: dialect NAME``."""
    for number, line in enumerate(source.lines[:LOOK_AT], 1):
        at = line.find("cfglint:")
        if at >= 0 and len(line) <= LONGEST:
            match = _DIRECTIVE.search(line, at)
            if match is not None:
                span = on_line(source.file, number, match.start("name"), match.end("name"))
                return match["name"], span
    return None
