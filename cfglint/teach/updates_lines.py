"""The names of dumps, each with what is written for it: what two versions are compared by."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.craft.settings import family
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Entry, Tables
    from cfglint.dump.statements import Statement

#: Section (its numbers as ``#``) and name: what one thing is found by again.
Key = tuple[str, str]
#: Which craft (from 0) and which member of a family (``""`` for a single setting).
Place = tuple[int, str]

_DIGITS = re.compile(r"\d+")
_FLAGS = {"switched_on": "on", "switched_off": "off"}
#: Uses of a line that the controller did not take, or that sets nothing.
_NOT_SET = ("refused", "ignored", "identity", "section", "comment", "refusal")


class Name(NamedTuple):
    """A name in dumps of one version.

    ``setting`` is the neutral setting that the dialect knows it for (a family's name), ``""``
    for none; a family's name has ``{N}`` in it.  ``written`` is what stands there: values, or
    ``on`` and ``off`` where lines only name it (``flag``).  ``removed`` says that no line gives
    it a value.  ``at`` counts names as they come, ``line`` is where the first craft has it.
    ``known`` says that the dialect's tables name it, other than by a ``*``; ``shown`` is the name
    in its own letters, where the key has small ones.
    """

    key: Key
    setting: str
    written: Mapping[Place, str]
    flag: bool
    removed: bool
    at: int
    line: int
    known: bool
    shown: str

    @property
    def within(self) -> str:
        return self.key[0]

    @property
    def name(self) -> str:
        return self.key[1]


class Names(NamedTuple):
    """All names of dumps of one version, by key, and the sections they stand in."""

    by_key: Mapping[Key, Name]
    sections: Mapping[str, tuple[str, ...]]
    order: tuple[Key, ...]


def home(path: str) -> str:
    """A section's path with its numbers taken out: ``axis #``."""
    return _DIGITS.sub("#", path)


def _lines(side: Side) -> dict[int, str]:
    """Line → the setting (a member's own name) that it speaks of."""
    craft = side.craft
    values = [*craft.values.values(), *(row.value for row in side.idle)]
    values += [row.earlier for row in craft.repeats]
    found = {one.line_span.line: one.name for one in values if one.line_span is not None}
    for bad in craft.misread:
        found.setdefault(bad.line_span.line, bad.name)
    return found


def _entry(tables: Tables, statement: Statement, target: str) -> Entry | None:
    """The entry by which a line was read; None for a line that a form reads."""
    entry = tables.by_setting.get(family(target))
    if entry is None or not entry.name or not statement.name:
        return None
    fold = tables.fold
    if fold(entry.name) == fold(statement.name):
        return entry
    matches = "{" in entry.name and tables.compiled(entry.name).fullmatch(statement.name)
    return entry if matches else None


def _last_number(path: str) -> str:
    return next(reversed(_DIGITS.findall(path)), "")


def _member(target: str) -> str:
    return next((part for part in target.split(".") if part.isdigit()), "")


class _Collector:
    def __init__(self) -> None:
        self.written: dict[Key, dict[Place, str]] = {}
        self.facts: dict[Key, tuple[str, bool, int, bool, str]] = {}
        self.valued: set[Key] = set()
        self.sections: dict[str, list[str]] = {}

    def add(self, side: Side, craft: int) -> None:
        tables = side.tables
        speaks = _lines(side)
        exact = {tables.fold(name) for name in tables.kept if not name.endswith("*")}
        for statement, use in side.uses:
            if use in _NOT_SET or not statement.name:
                continue
            if statement.kind not in ("assignment", "removal", *_FLAGS):
                continue
            target = speaks.get(statement.line, "")
            entry = _entry(tables, statement, target) if target else None
            if entry is None and use in ("setting", "range", "link", "misread"):
                continue  # a form's line, or the one that says which profile is in use
            path = side.sections.get(statement.line, "")
            name = entry.name if entry is not None else statement.name
            key = home(path), tables.fold(name)
            # An unknown name's number can only be that of its section.
            member = _member(target) if entry is not None else _last_number(path)
            if key not in self.facts:
                known = entry is not None or tables.fold(name) in exact
                setting = entry.setting if entry is not None else ""
                flag = statement.kind in _FLAGS
                self.facts[key] = setting, flag, statement.line, known, name
                self.sections.setdefault(key[0], []).append(path)
            elif path not in self.sections[key[0]]:
                self.sections[key[0]].append(path)
            row = self.written.setdefault(key, {})
            if statement.kind == "removal":
                continue
            self.valued.add(key)
            row[craft, member] = _FLAGS.get(statement.kind, statement.value)

    def names(self) -> Names:
        by_key = {
            key: Name(
                key,
                setting,
                self.written[key],
                flag,
                key not in self.valued,
                at,
                line,
                known,
                shown,
            )
            for at, (key, (setting, flag, line, known, shown)) in enumerate(self.facts.items())
        }
        return Names(by_key, {one: tuple(p) for one, p in self.sections.items()}, tuple(by_key))


def names_of(sides: Sequence[Side]) -> Names:
    """The names of dumps of one version, one dump a craft."""
    collector = _Collector()
    for craft, side in enumerate(sides):
        collector.add(side, craft)
    return collector.names()


def families(names: Iterable[Name]) -> list[Name]:
    """The families that single names come to: one for each number that may be a member's."""
    found: dict[Key, dict[str, Name]] = {}
    shown: dict[Key, str] = {}
    for one in names:
        if one.setting:
            continue
        for match in _DIGITS.finditer(one.name):
            if len(match.group()) <= 2:
                stem = f"{one.name[: match.start()]}{{N}}{one.name[match.end() :]}"
                found.setdefault((one.within, stem), {})[match.group()] = one
                text = f"{one.shown[: match.start()]}{{N}}{one.shown[match.end() :]}"
                shown.setdefault((one.within, stem), text)
    out = []
    for key, members in found.items():
        first = min(members.values(), key=lambda one: one.at)
        written = {
            (craft, number): text
            for number, one in members.items()
            for (craft, _), text in one.written.items()
        }
        out.append(
            Name(
                key,
                "",
                written,
                first.flag,
                not written,
                first.at,
                first.line,
                known=False,
                shown=shown[key],
            )
        )
    return out
