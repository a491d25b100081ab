"""One dump, read with everything that comparing and carrying need to know of its lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.dialect.reading import Reader
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from cfglint.craft.card import Card
    from cfglint.craft.model import Craft, Value
    from cfglint.dialect.model import Dialect, Tables
    from cfglint.dialect.reading import Extent
    from cfglint.dump.source import Source
    from cfglint.dump.statements import Statement


class Idle(NamedTuple):
    """A value in a profile that is not in use."""

    profile: str
    value: Value


class Side(NamedTuple):
    """One dump, read.

    ``uses`` has each statement once, in the dump's order, with what it is good for (see
    :class:`cfglint.dialect.reading.Reader`); ``sections`` the open sections of each line, titles
    joined by ``/``; ``idle`` what stands in profiles that are not in use; ``profile`` the one
    that the dump says is in use ("" where it says none).
    """

    source: Source
    dialect: Dialect
    craft: Craft
    tables: Tables
    uses: tuple[tuple[Statement, str], ...]
    sections: Mapping[int, str]
    idle: tuple[Idle, ...] = ()
    profile: str = ""

    @property
    def version(self) -> str:
        """The firmware version that the dump was read by, ``""`` where nobody says."""
        return self.tables.version


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
    found: list[tuple[Statement, str]] = []

    def witness(statement: Statement, use: str) -> None:
        found.append((statement, use))

    reader = Reader(source, dialect, card=card, name=name, extent=extent, witness=witness)
    if version and not reader.tables.version:
        reader.tables = dialect.at(version)
    craft = reader.craft()
    # Comments are told of before the line that they stand after.
    uses = tuple(sorted(found, key=lambda row: row[0].line))
    chosen = reader.profile_in_use or str(reader.tables.profiles.get("first", 1))
    idle = tuple(
        Idle(profile, value)
        for profile, values in reader.profiles.items()
        if profile != chosen
        for value in values.values()
    )
    nested = bool(dialect.data["shape"].get("close"))
    return Side(
        source,
        dialect,
        craft,
        reader.tables,
        uses,
        sections_of(uses, nested=nested),
        idle,
        reader.profile_in_use,
    )


def sections_of(uses: Iterable[tuple[Statement, str]], *, nested: bool) -> dict[int, str]:
    """Line → the sections open there; a shape whose sections never end has one at a time."""
    found: dict[int, str] = {}
    path: list[str] = []
    for statement, use in uses:
        found[statement.line] = "/".join(path)
        if use != "section":
            continue
        if statement.kind == "section":
            if not nested:
                path.clear()
            path.append(" ".join(statement.name.split()))
        elif path:
            path.pop()
    return found


def raw_of(statement: Statement) -> str:
    """A statement as it stands, without prompt marks and blanks around."""
    return statement.text[statement.start : statement.end]


def text_of(statement: Statement) -> str:
    """A statement to compare and to show: runs of blanks are one, unless they may be quoted."""
    return bare(raw_of(statement))


def bare(text: str) -> str:
    """A line without needless blanks."""
    return text.strip() if '"' in text else " ".join(text.split())


def name_of(statement: Statement) -> str:
    """A statement's name, or its first word."""
    return statement.name or text_of(statement).split(" ", maxsplit=1)[0]


def cut_off(side: Side) -> str:
    """Why a dump seems to end too early, or ``""``: a last line that was not finished."""
    if not side.uses:
        return ""
    statement, use = side.uses[-1]
    if side.dialect.data["shape"].get("close"):
        depth = 0
        for other, used in side.uses:
            if used == "section":
                depth = max(0, depth + (1 if other.kind == "section" else -1))
        if depth:
            return "it ends inside a section that is not closed"
    ended = side.source.text.endswith(("\n", "\r"))
    if not ended and use in ("stray", "misread", "unreadable"):
        return f"its last line, {statement.line}, is not finished"
    if not ended and use in ("setting", "range", "link", "kept"):
        return f"its last line, {statement.line}, has no line end, so it may not be finished"
    return ""
