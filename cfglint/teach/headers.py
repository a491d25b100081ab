"""The comment above a table that names its columns: `-- port use baud inverted`."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.teach.cells import Cell
    from cfglint.teach.lines import Row

#: Ideas that a column can be headed by.
COLUMN_IDEAS = frozenset(
    "number channel aux port functions baud invert one-wire low mid high failsafe range kind "
    "action name".split()
)
_TOKEN = re.compile(r"[A-Za-z0-9#][\w#\-/]*")


def comments_above(rows: Sequence[Row]) -> dict[tuple[str, int], tuple[str, ...]]:
    """File and line of each row → the comments right above it, the nearest first."""
    out: dict[tuple[str, int], tuple[str, ...]] = {}
    above: list[str] = []
    file = ""
    for row in rows:
        if row.file != file:
            file, above = row.file, []
        if row.kind == "comment":
            above.insert(0, row.value)
        else:
            out[row.file, row.number] = tuple(above[:3])
            above = []
    return out


def header_of(cells: Sequence[Cell], texts: Sequence[str]) -> Mapping[int, frozenset[str]]:
    """Column → what its head speaks of, by the first of some comments that names them all.

    ``cells`` are those of a table's first line.  Empty where no comment names the columns.
    """
    groups = _groups(cells)
    if len(groups) < 3:
        return {}
    verb = cells[groups[0][0]].text.lower()
    for text in texts:
        heads = [token.lower() for token in _TOKEN.findall(text)]
        if not heads:
            continue
        if heads[0] == verb and len(heads) >= len(groups):
            named = dict(zip(groups, heads, strict=False))
        elif len(heads) == len(groups):
            named = dict(zip(groups, heads, strict=True))
        elif len(heads) == len(groups) - 1:
            named = dict(zip(groups[1:], heads, strict=True))
        else:
            continue
        found = {group: _ideas(head) for group, head in named.items()}
        told = sum(bool(kinds) for group, kinds in found.items() if group != groups[0])
        if told >= 2 and told >= 0.6 * (len(groups) - 1):
            return {group[-1]: kinds for group, kinds in found.items() if kinds}
    return {}


def _groups(cells: Sequence[Cell]) -> list[tuple[int, ...]]:
    """The fields by columns: pieces that nothing stands between (``ch``, ``5``) are one."""
    out: list[tuple[int, ...]] = []
    joined = False
    for at, cell in enumerate(cells):
        if not cell.field:
            joined = not cell.text
            continue
        if joined and out:
            out[-1] = (*out[-1], at)
        else:
            out.append((at,))
        joined = False
    return out


def _ideas(head: str) -> frozenset[str]:
    if head in ("#", "n", "nr", "i"):
        return frozenset({"number"})
    return (
        frozenset(idea for word in split(head) for idea, weight in ideas(word) if weight >= 0.8)
        & COLUMN_IDEAS
    )
