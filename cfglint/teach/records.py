"""Lines of several fields, those that are alike together.

A channel's ends, a port and its load, a mode's range: such lines are alike but for their fields,
and what stands in a column over all of them says what it is (:mod:`cfglint.teach.columns`).
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.record import NamedTuple
from cfglint.teach.meanings import best
from cfglint.teach.slots import section_forms

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row
from cfglint.teach.cells import (
    Cell,
    about_ranges,
    cells_of,
    count_numbers,
    mode_parts,
    range_prefixes,
)


class Record(NamedTuple):
    """Lines that are alike: their cells, row by row, equally many in each."""

    rows: tuple[Row, ...]
    cells: tuple[tuple[Cell, ...], ...]
    within: str
    head: tuple[str, ...]

    def column(self, at: int) -> list[str]:
        return [cells[at].text for cells in self.cells]

    @property
    def fields(self) -> list[int]:
        return [at for at, cell in enumerate(self.cells[0]) if cell.field]


def records_of(rows: Sequence[Row]) -> list[Record]:
    """Groups of alike lines that have several fields, those with most lines first."""
    homes = section_forms(rows)
    # Where sections never end, a line of a table stands in whatever section came before it.
    flat = not any(row.kind == "section_end" for row in rows)
    skeletons = frozenset(
        form for path in homes if path and "{mode}" in (form := _modeless(path, homes[path]))
    )
    found: dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]] = defaultdict(list)
    cut = [(row, cells_of(row.text)) for row in rows if row.kind in ("assignment", "command")]
    prefixes = range_prefixes(cells for _, cells in cut)
    for row, whole in cut:
        cells = tuple(mode_parts(whole, prefixes))
        fields = [cell.text for cell in cells if cell.field]
        if not 2 <= len(fields) <= 14:
            continue
        marks = tuple(cell.text if not cell.field else "\0" for cell in cells)
        home = homes[row.sections]
        if "{" not in home:
            home = _modeless(row.sections, home, skeletons)
        if flat and "{" not in home:
            home = ""
        found[home, marks, _head(cells, row)].append((row, cells))
    found = _titled_by_modes(found)
    out = []
    for (home, _marks, head), pairs in found.items():
        per_file = {(row.file, row.sections) for row, _ in pairs}
        alone = len(per_file) == len({file for file, _ in per_file})
        # A whole table under one number is not that number's.
        within = (
            "" if flat and alone and len(pairs) > 1 and ("{N}" in home or "{P}" in home) else home
        )
        out.append(
            Record(tuple(row for row, _ in pairs), tuple(cells for _, cells in pairs), within, head)
        )
    out.sort(key=lambda record: -len(record.rows))
    return out


def _titled_by_modes(
    found: dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]],
) -> dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]]:
    """Lines that are alike in sections beside one another, whose titles are modes, as one table."""
    beside: dict[tuple[Any, ...], set[str]] = defaultdict(set)
    for home, marks, head in found:
        parent, _, title = home.rpartition("/")
        if title and "{" not in home and " " not in title:
            beside[parent, marks, head].add(title)
    out: dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]] = defaultdict(list)
    for (home, marks, head), pairs in found.items():
        parent, _, title = home.rpartition("/")
        titles = beside.get((parent, marks, head), set())
        known = any(best("mode", one)[1] >= 0.75 for one in titles)
        if title in titles and len(titles) >= 3 and known and count_numbers(pairs[0][1]) >= 3:
            out[f"{parent}/{{mode}}" if parent else "{mode}", marks, head].extend(pairs)
        else:
            out[home, marks, head].extend(pairs)
    return out


def _modeless(sections: tuple[str, ...], home: str, skeletons: frozenset[str] = frozenset()) -> str:
    """A section's form with a mode's word in its title taken out: ``when {mode}``."""
    if not sections:
        return home
    words = sections[-1].split()
    for size in (2, 1):
        for start in range(len(words) - size + 1):
            inner = " ".join(words[start : start + size])
            if size == 1 and "." in inner:
                continue
            outer = [*words[:start], *words[start + size :]]
            if (
                size == 1
                and best("mode", inner)[1] >= 0.75
                and outer
                and any(map(about_ranges, outer))
            ):
                title = " ".join([*words[:start], "{mode}", *words[start + size :]])
                return "/".join([*sections[:-1], title])
    for at in range(len(words)):
        # A word that nobody knows, in a title that is like those of modes.
        title = " ".join([*words[:at], "{mode}", *words[at + 1 :]])
        form = "/".join([*sections[:-1], title])
        if form in skeletons:
            return form
    return home


def _head(cells: Sequence[Cell], row: Row) -> tuple[str, ...]:
    """What a line begins with, in a form that alike lines share.

    An assignment's verb stands before its name, which says more.
    """
    words = [cell.text for cell in cells if cell.field][:2]
    if row.kind != "assignment" or row.text.startswith((row.name, '"')):
        words = words[:1]
    return tuple("{mode}" if best("mode", word)[1] >= 0.75 else word.lower() for word in words)
