"""Statements: one line of a dump, parsed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

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


class Scanner:
    """Reads lines by the patterns derived from a grammar (see ``cfglint.dump.grammar``)."""

    __slots__ = ("_groups", "_match")

    def __init__(self, spec: Spec, *, ignore_case: bool = False) -> None:
        flags = re.IGNORECASE if ignore_case else 0
        master = re.compile("|".join(f"(?P<{name}>{body})" for name, body in spec), flags)
        self._match = master.match
        names = [group for group in master.groupindex if group.endswith(("_name", "_title"))]
        values = [group for group in master.groupindex if group.endswith(("_value", "_reason"))]
        owners: dict[str, tuple[list[str], list[str]]] = {}
        for terminal, stem in (
            ("ASSIGNMENT", "assign"),
            ("REMOVAL", "unset"),
            ("SWITCHED_ON", "flagon"),
            ("SWITCHED_OFF", "flagoff"),
            ("SECTION", "open"),
            ("REFUSAL", "refusal"),
        ):
            owners[terminal] = (
                [group for group in names if group.startswith(stem)],
                [group for group in values if group.startswith(stem)],
            )
        self._groups = owners

    def line(self, text: str, number: int) -> Statement | None:
        """The statement of one line (from 1), or None for a blank line."""
        if len(text) > LONGEST_LINE:
            return Statement("unreadable", number, text, 0, len(text))
        if not text:
            return None
        match = self._match(text)
        terminal = match.lastgroup if match is not None else "UNREADABLE"
        if terminal == "BLANK" or match is None or terminal is None:
            return None
        return build(terminal, text, number, match, self._groups.get(terminal))

    def statements(self, source: Source) -> Iterator[Statement]:
        """The statements of a dump, in order."""
        for number, text in enumerate(source.lines, 1):
            found = self.line(text, number)
            if found is not None:
                yield found


def build(
    terminal: str,
    text: str,
    number: int,
    match: re.Match[str],
    groups: tuple[list[str], list[str]] | None,
) -> Statement:
    """The statement of a line whose terminal is known; ``match`` holds its inner groups."""
    kind = _KINDS[terminal]
    if kind == "unreadable":
        return Statement(kind, number, text, 0, len(text))
    lead = match.start("at_" + terminal.lower())
    prompted = text[:lead].strip(" \t") != ""
    end = len(text.rstrip(" \t"))
    name = value = ""
    name_at = value_at = 0
    if groups is not None:
        for group in groups[0]:
            if match.group(group) is not None:
                name, name_at = match.group(group).rstrip(" \t"), match.start(group)
        for group in groups[1]:
            if match.group(group) is not None:
                value, value_at = match.group(group), match.start(group)
    return Statement(kind, number, text, lead, end, name, name_at, value, value_at, prompted)


def from_tokens(tokens: Iterable[tuple[str, str, int]], scanner: Scanner) -> list[Statement]:
    """Statements from Lark's tokens (terminal, text, line): the reference path.

    Each token's inner parts are read by the same terminal's pattern; a terminal that differs
    from what the scanner takes the line for shows as a different kind.
    """
    out = []
    for terminal, text, number in tokens:
        if terminal == "BLANK":
            continue
        found = scanner.line(text, number)
        if found is None or found.kind != _KINDS[terminal]:
            out.append(Statement(_KINDS[terminal], number, text, 0, len(text)))
        else:
            out.append(found)
    return out
