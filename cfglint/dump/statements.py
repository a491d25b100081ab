"""Statements: one line of a dump, parsed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.dump.grammar import master
from cfglint.record import NamedTuple
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.dump.grammar import Spec
    from cfglint.dump.source import Source

#: A dump's line is far shorter; a longer one is a file that is no dump, and not worth scanning.
LONGEST_LINE = 65_536


class Statement(NamedTuple):
    """One line, parsed.

    ``kind`` is ``assignment``, ``removal``, ``switched_on``, ``switched_off``, ``command``,
    ``section``, ``section_end``, ``comment``, ``refusal`` or ``unreadable``.  ``line`` counts
    from 1; ``start`` and ``end`` count characters of the line from 0, without prompt marks and
    blanks around.  ``name`` and ``value`` are filled for the kinds that have them (a refusal's
    reason is its value); ``name_at`` and ``value_at`` are where they start.  ``prompted`` says
    that a prompt mark stood before, as in a pasted terminal log.
    """

    kind: str
    line: int
    text: str
    start: int
    end: int
    name: str = ""
    name_at: int = 0
    value: str = ""
    value_at: int = 0
    prompted: bool = False

    def span(self, file: str) -> Span:
        """The statement's own span."""
        return Span(file, self.line, self.start + 1, self.line, self.end + 1)

    def name_span(self, file: str) -> Span:
        """The span of its name (of the whole where it has none)."""
        if not self.name:
            return self.span(file)
        return Span(file, self.line, self.name_at + 1, self.line, self.name_at + len(self.name) + 1)

    def value_span(self, file: str) -> Span:
        """The span of its value (of the whole where it has none)."""
        if not self.value:
            return self.span(file)
        at = self.value_at
        return Span(file, self.line, at + 1, self.line, at + len(self.value) + 1)


_KINDS = {
    "COMMENT": "comment",
    "REFUSAL": "refusal",
    "SECTION": "section",
    "SECTION_END": "section_end",
    "ASSIGNMENT": "assignment",
    "REMOVAL": "removal",
    "SWITCHED_ON": "switched_on",
    "SWITCHED_OFF": "switched_off",
    "COMMAND": "command",
    "UNREADABLE": "unreadable",
}


#: Where a statement's name and value come from: the terminal's parameter, as groups are named.
_STEMS = {
    "ASSIGNMENT": "assign",
    "REMOVAL": "unset",
    "SWITCHED_ON": "flagon",
    "SWITCHED_OFF": "flagoff",
    "SECTION": "open",
    "REFUSAL": "refusal",
}


class Scanner:
    """Reads lines by the patterns derived from a grammar (see ``cfglint.dump.grammar``)."""

    __slots__ = ("_groups", "_match")

    def __init__(self, spec: Spec) -> None:
        pattern = re.compile(master(spec))
        self._match = pattern.match
        self._groups = {name: groups_of(pattern, name) for name, _ in spec}

    def line(self, text: str, number: int) -> Statement | None:
        """The statement of one line (from 1), or None for a blank line."""
        if len(text) > LONGEST_LINE:
            return Statement("unreadable", number, text, 0, len(text))
        if not text:
            return None
        match = self._match(text)
        # A grammar of the user's own may leave a line, or the rest of one, to nobody.
        if match is None or match.lastgroup is None or match.end() != len(text):
            return Statement("unreadable", number, text, 0, len(text))
        terminal = match.lastgroup
        if terminal == "BLANK":
            return None
        return build(terminal, text, number, match, self._groups[terminal])

    def statements(self, source: Source) -> Iterator[Statement]:
        """The statements of a dump, in order."""
        for number, text in enumerate(source.lines, 1):
            found = self.line(text, number)
            if found is not None:
                yield found


class Groups(NamedTuple):
    """The groups of one terminal: where the line proper starts, its names and its values."""

    start: str
    names: tuple[str, ...]
    values: tuple[str, ...]


def groups_of(pattern: re.Pattern[str], terminal: str) -> Groups:
    """The groups that a pattern has for a terminal; ``start`` is ``""`` where it has none."""
    start = "at_" + terminal.lower()
    stem = _STEMS.get(terminal, "-")
    found: dict[str, list[str]] = {"name": [], "title": [], "value": [], "reason": []}
    for group in pattern.groupindex:
        head, _, field = group.rpartition("_")
        if field in found and head.startswith(stem) and head[len(stem) :].isdecimal():
            found[field].append(group)
    return Groups(
        start if start in pattern.groupindex else "",
        (*found["name"], *found["title"]),
        (*found["value"], *found["reason"]),
    )


def build(terminal: str, text: str, number: int, match: re.Match[str], groups: Groups) -> Statement:
    """The statement of a line whose terminal is known; ``match`` holds its inner groups."""
    kind = _KINDS[terminal]
    if kind == "unreadable":
        return Statement(kind, number, text, 0, len(text))
    lead = match.start(groups.start) if groups.start else len(text) - len(text.lstrip(" \t"))
    prompted = text[:lead].strip(" \t") != ""
    end = len(text.rstrip(" \t"))
    name = value = ""
    name_at = value_at = 0
    for group in groups.names:
        if match.group(group) is not None:
            name, name_at = match.group(group).rstrip(" \t"), match.start(group)
    for group in groups.values:
        if match.group(group) is not None:
            value, value_at = match.group(group), match.start(group)
    return Statement(kind, number, text, lead, end, name, name_at, value, value_at, prompted)
