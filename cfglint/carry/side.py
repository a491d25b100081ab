"""One dump, read with everything that comparing and carrying need to know of its lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.dialect.reading import Reader
from cfglint.dump.atoms import cut
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from cfglint.craft.card import Card
    from cfglint.craft.model import Craft, Value
    from cfglint.dialect.model import Dialect, Tables
    from cfglint.dialect.reading import Extent
    from cfglint.dump.layout import Row
    from cfglint.dump.source import Source


class Idle(NamedTuple):
    """A value in a profile that is not in use."""

    profile: str
    value: Value


class Statement(NamedTuple):
    """One line of a dump: its whole text, the characters (from 0) that are its own, its name."""

    line: int
    text: str
    start: int
    end: int
    name: str

    def span(self, file: str) -> Span:
        return on_line(file, self.line, self.start, self.end)


class Side(NamedTuple):
    """One dump, read.

    ``uses`` has each line that is not blank once, in the dump's order, with what it is good for
    (see :class:`cfglint.dialect.reading.Reader`); ``sections`` the titles over each line; ``idle``
    what stands in profiles that are not in use; ``profile`` the one that the dump says is in use
    ("" where it says none).
    """

    source: Source
    dialect: Dialect
    craft: Craft
    tables: Tables
    uses: tuple[tuple[Statement, str], ...]
    sections: Mapping[int, tuple[str, ...]]
    reader: Reader
    idle: tuple[Idle, ...] = ()
    profile: str = ""

    @property
    def version(self) -> str:
        """The firmware version that the dump was read by, ``""`` where nobody says."""
        return self.tables.version

    def name_in(self, text: str) -> str:
        """The name that a line of this dump's dialect would be about."""
        return self.reader.name_in(text, 0, len(text))[0]

    def overridden(self, line: int) -> str:
        """By which other line what a line says does not hold, in words; ``""`` if by none."""
        reader = self.reader
        if line in reader.taken_back:
            return f"line {reader.taken_back[line]} takes it back"
        for name in reader.told.get(line, ()):
            for values in (self.craft.values, *reader.profiles.values()):
                span = values[name].line_span if name in values else None
                if span is not None and span.line > line:
                    took = span.line in reader.removals
                    return f"line {span.line} {'takes it back' if took else 'says otherwise'}"
            for number, gone in reader.removals.items():
                if gone == name and number > line:
                    return f"line {number} takes it back"
        return ""

    def owns(self, line: int) -> str:
        """The word of the firmware's own that a line gives a setting; ``""`` for none."""
        for slip, nothing in self.reader.blank.values():
            if slip.line_span.line == line and not nothing:
                return slip.written
        return ""

    def joins(self, line: int) -> tuple[str, ...]:
        """The modes of which a line says how their ranges are joined."""
        mode = self.reader.join_lines.get(line, "")
        return (mode,) if mode else ()

    def why_nothing(self, line: int) -> str:
        """Why a line that was understood sets nothing."""
        for name, (slip, nothing) in self.reader.blank.items():
            if slip.line_span.line == line and nothing:
                return f"`{slip.written}` says that {name} is not set"
        gone = self.reader.removals.get(line, "").removeprefix("mode ")
        if gone:
            return f"it takes {gone} back, and what it took back is left out, too"
        if self.reader.is_given(line):
            return "a number that other lines are reckoned with; those are carried"
        return "nothing that its form holds has a value in this line"


def read_side(
    source: Source,
    dialect: Dialect,
    name: str = "",
    *,
    version: str = "",
    card: Card | None = None,
    extent: Extent | None = None,
) -> Side:
    """Read one dump.  ``name``, ``version`` and ``extent`` hold where it does not say them."""
    reader = Reader(source, dialect, card=card, name=name, extent=extent, version=version)
    craft = reader.craft()
    chosen = reader.profile_in_use or str(reader.tables.profiles.get("first", 1))
    idle = tuple(
        Idle(profile, value)
        for profile, values in reader.profiles.items()
        if profile != chosen
        for value in values.values()
    )
    rows = {row.line: row for row in reader.rows}
    return Side(
        source,
        dialect,
        craft,
        reader.tables,
        tuple(_uses(reader, rows)),
        {line: _titles(row, reader) for line, row in rows.items()},
        reader,
        idle,
        reader.profile_in_use,
    )


def _uses(reader: Reader, rows: Mapping[int, Row]) -> Iterator[tuple[Statement, str]]:
    for number, text in enumerate(reader.source.lines, 1):
        start, end = len(text) - len(text.lstrip()), len(text.rstrip())
        if start >= end:
            continue
        row = rows.get(number)
        if row is None:
            # What only ends a title has no row.
            yield Statement(number, text, start, end, text[start:end]), "title"
            continue
        use = reader.uses.get(number, "comment")
        if not row.comment and use not in ("title", "comment", "unreadable"):
            start, end = row.start, len(text[: row.note].rstrip())
        if row.comment and start < row.start <= end:
            start = min(start, row.start)
        name = text[start:end] if use == "unreadable" else reader.name_in(text, start, end)[0]
        yield Statement(number, text, start, end, name), use


def _titles(row: Row, reader: Reader) -> tuple[str, ...]:
    """The titles over a row as they are written, comments apart.

    Where sections are closed, indentation is only for the eye; and where headings have a mark of
    their own, a line with a meaning of its own is none for standing further out.
    """
    marks = reader.dialect.mark
    return tuple(
        reader.source.lines[title.line - 1][title.atoms[0].start : title.atoms[-1].end]
        for title in row.titles
        if title.style != "comment"
        and title.atoms
        and not (
            title.style == "indent"
            and (marks("close") or (marks("title") and reader.uses.get(title.line) != "title"))
        )
    )


def raw_of(statement: Statement) -> str:
    """A line as it stands, without prompt marks and blanks around."""
    return statement.text[statement.start : statement.end]


def text_of(statement: Statement) -> str:
    """A line to compare and to show: runs of blanks are one, unless they may be quoted."""
    return bare(raw_of(statement))


def bare(text: str) -> str:
    """A line without needless blanks."""
    return text.strip() if '"' in text else " ".join(text.split())


def cut_off(side: Side) -> str:
    """Why a dump seems to end too early, or ``""``: a last line that was not finished."""
    if not side.uses:
        return ""
    statement, use = side.uses[-1]
    if side.dialect.mark("close") and _depth(side.uses):
        return "it ends inside a section that is not closed"
    ended = side.source.text.endswith(("\n", "\r"))
    if not ended and use in ("stray", "misread", "unreadable"):
        return f"its last line, {statement.line}, is not finished"
    if not ended and use in ("used", "kept"):
        return f"its last line, {statement.line}, has no line end, so it may not be finished"
    return ""


def _depth(uses: Iterable[tuple[Statement, str]]) -> int:
    """How many brackets are still open at the end."""
    depth = 0
    for statement, use in uses:
        for atom in cut(raw_of(statement)) if use not in ("comment", "unreadable") else ():
            if atom.kind == "mark":
                depth = max(0, depth + (atom.text in "{[(") - (atom.text in "}])"))
    return depth
