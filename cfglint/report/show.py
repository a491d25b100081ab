"""What a dump was read as: neutral settings with where each came from, and what was not read.

For people, or as JSON in the shape of ``show.schema.json`` beside this file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.model import show
from cfglint.dialect.examples import show_link, show_range, toml_value
from cfglint.report.blocks import Columns, Counts, Item, Lines, Title, count

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.craft.model import Craft, Value
    from cfglint.dialect.reading import Reader
    from cfglint.dump.layout import Row
    from cfglint.report.blocks import Block
    from cfglint.span import Span


def shown(craft: Craft, reader: Reader) -> dict[str, Any]:
    """Everything as plain data."""
    return {
        "file": craft.file,
        "dialect": craft.dialect,
        "craft": craft.name,
        "extent": craft.extent,
        "settings": [_setting(value, craft.file) for value in craft.values.values()],
        "ranges": [
            {
                "mode": row.mode,
                "channel": row.channel,
                "low_us": row.low_us,
                "high_us": row.high_us,
                "join": row.join,
                **_place(row.span),
                "confirmed": row.sure,
            }
            for row in craft.mode_ranges
        ],
        "links": [
            {
                "mode": row.mode,
                "follows": row.follows,
                "join": row.join,
                **_place(row.span),
                "confirmed": row.sure,
            }
            for row in craft.mode_links
        ],
        "ports": [
            {
                "number": port.number,
                **{
                    name: toml_value(value.name, value.value)
                    for name, value in port._asdict().items()
                    if name != "number" and value.known
                },
            }
            for port in craft.ports()
        ],
        "not_read": [
            {**_place(span), "text": text, "why": why} for span, text, why in not_read(reader)
        ],
        "ambiguous": [
            {"file": craft.file, "address": address, "lines": [one.line, other.line]}
            for address, one, other in reader.ambiguous
        ],
    }


def _setting(value: Value, file: str) -> dict[str, Any]:
    found: dict[str, Any] = {
        "name": value.name,
        "value": toml_value(value.name, value.value),
        "origin": value.origin,
        "confirmed": value.sure,
    }
    if value.span is not None:
        found.update(_place(value.span), written=value.written)
    else:
        found.update(file=file)
    return found


def _place(span: Span) -> dict[str, Any]:
    return {
        "file": span.file,
        "line": span.line,
        "column": span.column,
        "end_column": span.end_column,
    }


def not_read(reader: Reader) -> Iterator[tuple[Span, str, str]]:
    """Lines that say nothing to the craft and are no comments, titles or the like, and why."""
    rows: list[tuple[Span, str]] = []
    for stray in reader.strays:
        hint = f"; the nearest name it has is `{stray.nearest}`" if stray.nearest else ""
        rows.append((stray.span, f"the dialect has no meaning for `{stray.name}`{hint}"))
    for bad in reader.misread:
        why = f"`{bad.written}` is no value of {bad.name}, which may be {bad.valid}"
        rows.append((bad.line_span, why))
    rows += [(one.span, one.why) for one in reader.unreadable]
    rows += [
        (one.cause, f"the controller refused it: {one.reason or 'it does not say why'}")
        for one in reader.refusals
        if one.cause is not None
    ]
    for span, why in sorted(rows):
        yield span, reader.source.slice(span), why


def show_json(data: dict[str, Any]) -> str:
    import json

    return json.dumps(data, indent=2) + "\n"


def meanings(craft: Craft, reader: Reader) -> Iterator[Block]:
    """The same for people: settings in columns, then one thing a paragraph."""
    said = f"{craft.file}: {craft.name or 'a craft'}, dialect {craft.dialect}, {craft.extent}"
    yield Item("", said, "bold")
    values = list(craft.values.values())
    rows = []
    for value in values:
        where = f"line {value.span.line}: `{value.written}`" if value.span else "as usual"
        doubt = "" if value.sure else ", unconfirmed"
        rows.append(("", value.name, show(value.name, value.value), f"({where}{doubt})"))
    yield Columns(tuple(rows))
    for row in craft.mode_ranges:
        doubt = "" if row.sure else ", unconfirmed"
        yield Item("  ", f"range {show_range(row)} (line {row.span.line}{doubt})")
    for link in craft.mode_links:
        doubt = "" if link.sure else ", unconfirmed"
        yield Item("  ", f"link {show_link(link)} (line {link.span.line}{doubt})")
    for address, one, other in reader.ambiguous:
        yield Item("  ", f"ambiguous: `{address}` fits lines {one.line} and {other.line}")
    lines = list(not_read(reader))
    for span, text, why in lines:
        yield Item("  ", f"not read, line {span.line}: `{text}`: {why}")
    yield Counts(f"{len(values)} settings, {count(len(lines), 'line', 'lines')} not read")


# ---------------------------------------------------------------- the tree


def tree(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """Rows with their titles and atoms, as plain data."""
    return [
        {
            "line": row.line,
            "comment": row.comment,
            "titles": [
                {"text": _words(title.atoms), "line": title.line, "style": title.style}
                for title in row.titles
            ],
            "atoms": [
                {"kind": atom.kind, "text": atom.text, "column": atom.start + 1}
                for atom in row.atoms
            ],
        }
        for row in rows
    ]


def _words(atoms: Sequence[Any]) -> str:
    return " ".join(atom.text for atom in atoms)


def tree_blocks(rows: Sequence[Row]) -> Iterator[Block]:
    """Rows under their titles; between bars the atoms, numbers with ``#``, quotes with ``"``."""
    before: tuple[str, ...] = ()
    marks = {"word": "", "number": "#", "quoted": "", "mark": "'"}
    for row in rows:
        path = tuple(_words(title.atoms) for title in row.titles if title.style != "comment")
        if path != before:
            yield Title("", " > ".join(path) or "(no title)")
            before = path
        atoms = " | ".join(marks[atom.kind] + atom.text for atom in row.atoms)
        kind = "comment: " if row.comment else ""
        yield Lines(str(row.line), kind + atoms, copy=True)
