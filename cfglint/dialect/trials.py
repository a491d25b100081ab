"""Trying the examples of a dialect file: read, and written back."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.model import Craft, ModeLink, ModeRange, Value, show
from cfglint.dialect.examples import (
    parse_link,
    parse_range,
    said,
    show_link,
    show_range,
)
from cfglint.dialect.mapping import default_of
from cfglint.dialect.reading import Reader
from cfglint.dialect.roundtrip import round_trip
from cfglint.dialect.writing import Writer
from cfglint.dump.source import Source

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from typing import Literal

    from cfglint.dialect.model import Dialect
    from cfglint.dialect.roundtrip import Trip
    from cfglint.dump.layout import Row
    from cfglint.span import Span

#: Uses of a line that has a meaning, and so must be written back.
_MEANT = ("used", "identity", "misread", "stray", "unreadable")


class Failure(NamedTuple):
    """One way in which an example does not come true.

    ``what`` is the setting, range, link or line that it is about; ``expected`` and ``got`` are
    ``""`` for nothing; ``text`` says all of it in a line.
    """

    step: Literal["reading", "writing"]
    what: str
    expected: str
    got: str
    text: str


class Tried(NamedTuple):
    """One example (from 1) and what did not come true of it."""

    number: int
    span: Span
    lines: str
    failures: tuple[Failure, ...]


class _Wanted(NamedTuple):
    """What an example says that its lines come to."""

    values: Mapping[str, Any]
    ranges: tuple[str, ...]
    links: tuple[str, ...]


def try_examples(dialect: Dialect) -> tuple[Tried, ...]:
    """Every example of a dialect file, tried both ways."""
    rows = dialect.data.get("examples", [])
    return tuple(_try(dialect, row, number) for number, row in enumerate(rows))


def trips_of_examples(dialect: Dialect) -> Iterator[Trip]:
    """The lines of each example as a dump that must survive being written and read again.

    Those that are for reading only are left out.
    """
    for number, row in enumerate(dialect.data.get("examples", []), 1):
        if row.get("writes") is not False:
            trip = round_trip(
                Source.from_text(dialect.file, row["lines"].strip("\n")),
                dialect,
                version=row.get("firmware", ""),
                where=f"example {number}",
            )
            # Lines of an example are counted from its own first one; in the file it stands here.
            span = dialect.document.where("examples", number - 1)
            yield trip._replace(lost=tuple(one._replace(span=span) for one in trip.lost))


def _try(dialect: Dialect, row: Mapping[str, Any], index: int) -> Tried:
    span = dialect.document.where("examples", index)
    values = {name: default_of(name, value) for name, value in row.get("sets", {}).items()}
    wanted = _Wanted(
        values,
        tuple(show_range(parse_range(text)) for text in row.get("ranges", [])),
        tuple(show_link(parse_link(text)) for text in row.get("links", [])),
    )
    version = row.get("firmware", "")
    first = _read(dialect, row["lines"], version)
    failures = [*_not_understood(first), *_differing(first.craft, wanted, "reading")]
    writes = row.get("writes")
    # Lines that are not read as they should be say nothing of how they should be written.
    if writes is not False and (writes is not None or not failures):
        expected = first if writes is None else _read(dialect, writes, first.version)
        failures += _written(dialect, wanted, expected, span)
    return Tried(index + 1, span, row["lines"].strip("\n"), tuple(failures))


class _Reading(NamedTuple):
    """Some lines, read: the craft, each line with its use, and the version that they are of."""

    reader: Reader
    craft: Craft
    rows: tuple[tuple[Row, str], ...]
    version: str


def _read(
    dialect: Dialect, lines: str, version: str, extent: Literal["full", "changes"] | None = None
) -> _Reading:
    source = Source.from_text(dialect.file, lines.strip("\n"))
    reader = Reader(source, dialect, version=version, extent=extent)
    craft = reader.craft()
    rows = tuple((row, reader.uses.get(row.line, "comment")) for row in reader.rows)
    return _Reading(reader, craft, rows, reader.tables.version)


# ---------------------------------------------------------------- reading


def _not_understood(reading: _Reading) -> Iterator[Failure]:
    """Lines of an example that say nothing, or not what they should."""
    notes = {
        "stray": "has no meaning in this dialect",
        "unreadable": "cannot be read",
        "refusal": "is a refusal, by which the line before has no effect",
    }
    misread = {row.line_span.line: row for row in reading.craft.misread}
    for row, use in reading.rows:
        line = _text(row)
        if use == "misread":
            bad = misread[row.line]
            note = f"has `{bad.written}` for {bad.name}, which may be {bad.valid}"
        elif use in notes:
            note = notes[use]
        else:
            continue
        yield Failure("reading", line, "", "", f"reading: the line `{line}` {note}")


def _differing(
    craft: Craft, wanted: _Wanted, step: Literal["reading", "writing"], start: str = "reading"
) -> Iterator[Failure]:
    """What a craft has otherwise than wanted."""
    got = {name: value.value for name, value in craft.values.items() if said(value)}
    for name in dict.fromkeys((*wanted.values, *got)):
        if step == "writing" and name not in wanted.values and name.startswith("craft."):
            continue  # what is written says who it is, also where the example does not
        expected = show(name, wanted.values[name]) if name in wanted.values else ""
        found = show(name, got[name]) if name in got else ""
        if name not in wanted.values:
            text = f"{start} sets {name} to `{found}`, which the example does not list"
        elif name not in got:
            text = f"{start} does not set {name}; expected `{expected}`"
        elif not _same(got[name], wanted.values[name]):
            text = f"{start} sets {name} to `{found}`; expected `{expected}`"
        else:
            continue
        yield Failure(step, name, expected, found, text)
    for kind, mine, theirs in (
        ("range", wanted.ranges, map(show_range, craft.mode_ranges)),
        ("link", wanted.links, map(show_link, craft.mode_links)),
    ):
        yield from _pairs(step, kind, mine, theirs, f"{start} makes", "the example does not list")


def _same(got: Any, wanted: Any) -> bool:
    if isinstance(got, float) and isinstance(wanted, float):
        # A rate from a period has nine digits; whoever writes an example need not.
        return abs(got - wanted) <= 1e-6 * max(abs(got), abs(wanted))
    return bool(got == wanted)


def _pairs(
    step: Literal["reading", "writing"],
    kind: str,
    wanted: Iterable[str],
    got: Iterable[str],
    verb: str,
    unlisted: str,
) -> Iterator[Failure]:
    """What is lacking of some texts, and what is there beyond them; in pairs while there are."""
    want, have = Counter(wanted), Counter(got)
    lacking, beyond = list((want - have).elements()), list((have - want).elements())
    for place in range(max(len(lacking), len(beyond))):
        expected = lacking[place] if place < len(lacking) else ""
        found = beyond[place] if place < len(beyond) else ""
        if expected and found:
            text = f"{verb} the {kind} `{found}`; expected `{expected}`"
        elif expected:
            text = f"{verb} no {kind} `{expected}`"
        else:
            text = f"{verb} the {kind} `{found}`, which {unlisted}"
        yield Failure(step, kind, expected, found, text)


# ---------------------------------------------------------------- writing


def _written(
    dialect: Dialect, wanted: _Wanted, expected: _Reading, span: Span
) -> Iterator[Failure]:
    """What is wrong with the lines that an example's settings are written as."""
    craft = Craft(
        file=dialect.file,
        name="",
        dialect=dialect.id,
        extent=expected.craft.extent,
        whole=span,
        values={name: Value(name, one, "set", span, span) for name, one in wanted.values.items()},
        mode_ranges=tuple(
            ModeRange(*parse_range(text), span, span, span, span)  # type: ignore[arg-type]
            for text in wanted.ranges
        ),
        mode_links=tuple(ModeLink(*parse_link(text), span) for text in wanted.links),  # type: ignore[arg-type]
    )
    writer = Writer(craft, dialect, expected.version, like=expected.reader)
    written = writer.written()
    for name in written.unwritten:
        reason = writer.reasons.get(name, "")
        text = f"writing has no line for {name}" + (f": {reason}" if reason else "")
        yield Failure("writing", name, name, "", text)
    back = _read(dialect, "\n".join(written.lines), expected.version, craft.extent)
    named = any(use == "identity" for _, use in expected.rows)
    lines = [line for line in _lines(back) if named or line[1] != "identity"]
    failures = list(
        _pairs(
            "writing",
            "line",
            [text for text, _ in _lines(expected)],
            [text for text, _ in lines],
            "writing gives",
            "is not expected; `writes` says how it is written back, or `writes = false`",
        )
    )
    failures += _pairs(
        "writing", "section", _titles(expected), _titles(back), "writing opens", "is not expected"
    )
    yield from failures
    if not failures and not written.unwritten:
        yield from _differing(back.craft, wanted, "writing", "reading what is written")


def _lines(reading: _Reading) -> list[tuple[str, str]]:
    """The lines of a dump that have a meaning, blanks made alike, each with its use."""
    return [
        (" ".join(_text(row).lower().split()), use) for row, use in reading.rows if use in _MEANT
    ]


def _titles(reading: _Reading) -> set[str]:
    """The titles that lines open, each once."""
    return {" ".join(_text(row).lower().split()) for row, use in reading.rows if use == "title"}


def _text(row: Row) -> str:
    """A line as it stands, without prompt and blanks around."""
    return row.text[row.start : row.note].strip()


def sample_text(dialect: Dialect) -> str:
    """An example that a dialect file might have, in one line; of its first setting."""
    from cfglint.dialect.writing import GAP, Titles

    tables, titles = dialect.at(""), Titles(dialect)
    for entry in tables.map.entries:
        if entry.makes == "settings" and entry.way in ("phrase", "template"):
            line = titles.line(tables, entry, dict.fromkeys((*entry.codecs, "P"), GAP))
            if line is not None:
                text = "\\n".join(titles.around(line.section, [line.text]))
                quoted = text.replace('"', '\\"')
                name = next(iter(entry.sets.values()))
                return (
                    f'`[[examples]]` with `lines = "{quoted}"` and `sets = {{ "{name}" = {GAP} }}`'
                )
    return '`[[examples]]` with `lines = "…"` and `sets = { … }`'
