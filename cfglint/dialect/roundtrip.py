"""Round trips: what a dump says, written back in its dialect and read again."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.model import Craft, show
from cfglint.dialect.examples import show_link, show_range
from cfglint.dialect.reading import Reader
from cfglint.dialect.writing import Writer
from cfglint.errors import Problem
from cfglint.span import on_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft.model import Value
    from cfglint.dialect.model import Dialect
    from cfglint.dialect.reading import Extent
    from cfglint.dump.source import Source
    from cfglint.span import Span

#: Who a craft is.  Lines of [identity] that say it may say more, such as the day of a build, and
#: then cannot be written; nobody enters them either.
_NAMES = ("craft.board", "craft.firmware", "craft.name")


class Lost(NamedTuple):
    """Something that cannot be written so that it is read as the same again.

    ``what`` is a neutral setting, ``range`` or ``link``; ``value`` what was read at ``span``.
    """

    what: str
    span: Span
    value: str
    why: str


class Trip(NamedTuple):
    """One dump, there and back: how much was written, and what did not survive.

    ``where`` tells several dumps of one file apart (``example 3``).  ``ambiguous`` are addresses
    that fit two places of the dump.
    """

    file: str
    settings: int
    ranges: int
    links: int
    lost: tuple[Lost, ...]
    where: str = ""
    ambiguous: tuple[Problem, ...] = ()


def round_trip(
    source: Source,
    dialect: Dialect,
    *,
    version: str = "",
    extent: Extent | None = None,
    where: str = "",
) -> Trip:
    """Read a dump, write all that its lines say, and read that: whatever is not read as the same
    is lost.
    """
    reader = Reader(source, dialect, extent=extent, version=version)
    craft = reader.craft()
    said = {name: one for name, one in craft.values.items() if one.origin == "set"}
    writer = Writer(_only(craft, said), dialect, reader.tables.version, like=reader)
    lost = tuple(_lost(writer, craft))
    return Trip(
        source.file,
        sum(name not in ("craft.board", "craft.firmware") for name in said),
        len(craft.mode_ranges),
        len(craft.mode_links),
        lost,
        where,
        tuple(ambiguities(reader)),
    )


def _only(craft: Craft, values: dict[str, Value]) -> Craft:
    return craft.changed(values={**craft.values, **values})


def _lost(writer: Writer, craft: Craft) -> Iterator[Lost]:
    unwritten = list(writer.written().unwritten)
    for name, value in craft.values.items():
        if name in unwritten and name not in _NAMES and value.line_span is not None:
            why = writer.reasons.get(name, "no line of the dialect says it")
            yield Lost(name, value.line_span, show(name, value.value), why)
    for row in craft.mode_ranges:
        text = f"range of {row.mode} on channel {row.channel}"
        if text in unwritten:
            unwritten.remove(text)
            why = _reason(writer, "range", craft.mode_ranges.index(row), row.mode)
            yield Lost("range", row.span, show_range(row), why)
    for link in craft.mode_links:
        text = f"link of {link.mode} to {link.follows}"
        if text in unwritten:
            unwritten.remove(text)
            why = _reason(writer, "link", craft.mode_links.index(link), link.mode)
            yield Lost("link", link.span, show_link(link), why)


def _reason(writer: Writer, kind: str, number: int, mode: str) -> str:
    return writer.reasons.get(
        f"{kind} {number}",
        writer.reasons.get(f"{kind} of {mode}", "no line of the dialect says it"),
    )


def ambiguities(reader: Reader) -> Iterator[Problem]:
    """Addresses that fit two places of a dump, each with both."""
    told = set()
    for address, first, second in reader.ambiguous:
        if (address, first, second) in told:
            continue
        told.add((address, first, second))
        here = on_line(reader.file, first.line, first.start, first.end)
        there = on_line(reader.file, second.line, second.start, second.end)
        yield Problem(
            f"the address `{address}` fits here and at line {there.line}, column {there.column}",
            span=here,
            instead="write more of the words around the value that is meant, or its title",
        )
