"""What of a dump was read by unconfirmed mappings, and where the dialect file marks them.

Imported only for a craft that has any.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import family
from cfglint.dialect.versions import changes_until

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from cfglint.craft.model import Craft
    from cfglint.dialect.model import Dialect, Tables
    from cfglint.span import Span
    from cfglint.tomltext import Path


class Unsure(NamedTuple):
    """One unconfirmed mapping: its name (see ``Craft.unsure``) and how the dialect writes it.

    ``lines`` are the lines of the dump that were read by it, ``mark`` is where the dialect file
    marks it (``reed.toml:12:5``).  ``written`` is empty for a trait.
    """

    name: str
    written: str
    lines: tuple[int, ...]
    mark: str


def unconfirmed(craft: Craft, dialect: Dialect) -> tuple[Unsure, ...]:
    """All that a craft's dialect marks, by name."""
    firmware = craft.values.get("craft.firmware")
    version = str(firmware.value) if firmware is not None else ""
    marks = dict(_marks(dialect.data, ()))
    for at, row in enumerate(changes_until(dialect, version)):
        marks.update(_marks(row, ("changes", at)))
    written = _written(dialect.at(version))
    lines = _lines(craft)
    return tuple(
        Unsure(
            name,
            written.get(name, ""),
            tuple(sorted(lines.get(name, ()))),
            str(dialect.document.where(*marks[name])) if name in marks else dialect.file,
        )
        for name in sorted(craft.unsure)
    )


def _marks(data: Mapping[str, Any], path: Path) -> Iterator[tuple[str, Path]]:
    """Each marked name and its mark, in one part of a dialect file; of two, the last is meant."""
    for name, entry in data.get("map", {}).items():
        for key in _keys(entry) if isinstance(entry, dict) else ():
            yield name, (*path, "map", name, *key)
    for table, word in (("modes", "mode"), ("traits", "trait")):
        for at, name in enumerate(data.get(table, {}).get("unsure", ())):
            yield f"{word} {name}", (*path, table, "unsure", at)
    for number, row in enumerate(data.get("rows", ())):
        here: Path = (*path, "rows", number)
        makes, sets = row.get("makes", "settings"), row.get("sets", {})
        every = list(sets.values()) if makes == "settings" else [makes]
        for field, value in row.get("fields", {}).items():
            names = [sets[field]] if field in sets else every
            for key in _keys(value):
                for name in names:
                    yield name, (*here, "fields", field, *key)
            if field in ("mode", "follows"):
                for at, mode in enumerate(value.get("unsure", ())):
                    yield f"mode {mode}", (*here, "fields", field, "unsure", at)
        for name in every if row.get("sure") is False else ():
            yield name, (*here, "sure")
    if data.get("identity", {}).get("sure") is False:
        for name in ("craft.board", "craft.firmware", "craft.name"):
            yield name, ("identity", "sure")
    if data.get("kept", {}).get("sure") is False:
        yield "kept", ("kept", "sure")


def _keys(part: Mapping[str, Any]) -> Iterator[Path]:
    if part.get("N", {}).get("sure") is False:
        yield "N", "sure"
    if part.get("unsure"):
        yield ("unsure",)
    if part.get("sure") is False:
        yield ("sure",)


def _written(tables: Tables) -> dict[str, str]:
    """The dialect's own words, as far as it has any."""
    found: dict[str, str] = {}
    for entry in reversed(tables.map.entries):
        if entry.makes == "settings":
            found.update(dict.fromkeys(entry.sets.values(), tables.called(entry)))
            continue
        found[entry.makes] = entry.at.text
        for field in ("mode", "follows"):
            words = entry.codecs[field].words if field in entry.codecs else {}
            found.update({f"mode {mode}": word[0] for mode, word in words.items()})
    return found


def _lines(craft: Craft) -> dict[str, set[int]]:
    found: dict[str, set[int]] = {}

    def add(name: str, span: Span | None) -> None:
        if span is not None:
            found.setdefault(name, set()).add(span.line)

    for value in craft.values.values():
        if not value.sure:
            add(family(value.name), value.line_span)
    for row in craft.mode_ranges:
        for name in () if row.sure else ("range", f"mode {row.mode}"):
            add(name, row.span)
    for link in craft.mode_links:
        for name in () if link.sure else ("link", f"mode {link.mode}", f"mode {link.follows}"):
            add(name, link.span)
    return found
