"""Cells: how a line of a table is divided, and which column each cell stands under."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Marks that divide cells, the surest first; blanks divide where none of these does.
_DIVIDERS = ("|", "│", "┃", "¦", "\t", ";", ",")
_GAP = re.compile(r"[ \t\xa0]{2,}")
_BLANK = re.compile(r"[ \t\xa0]+")


class Cell(NamedTuple):
    """One cell's characters, without blanks around: ``start`` to ``end`` of its line."""

    start: int
    end: int


def _trim(text: str, start: int, end: int) -> Cell:
    part = text[start:end]
    if not part.strip(" \t\xa0"):
        return Cell(start, start)
    return Cell(end - len(part.lstrip(" \t\xa0")), start + len(part.rstrip(" \t\xa0")))


def _split(text: str, start: int, end: int, pattern: re.Pattern[str]) -> list[Cell]:
    cells, at = [], start
    for match in pattern.finditer(text, start, end):
        cells.append(_trim(text, at, match.start()))
        at = match.end()
    return [*cells, _trim(text, at, end)]


def divider(text: str, start: int, end: int) -> str:
    """The mark that divides a line's cells; ``""`` where blanks do."""
    return next((mark for mark in _DIVIDERS if mark in text[start:end]), "")


def divide(text: str, start: int, end: int, mark: str) -> list[Cell]:
    """The cells of a line, empty ones too; a border at either side makes none."""
    if mark:
        cells = _split(text, start, end, re.compile(re.escape(mark)))
        if cells and cells[0].start >= cells[0].end and text[start:end].lstrip().startswith(mark):
            cells = cells[1:]
        if cells and cells[-1].start >= cells[-1].end:
            cells = cells[:-1]
        return cells
    cells = _split(text, start, end, _GAP)
    return [cell for cell in cells if cell.start < cell.end]


def single(text: str, start: int, end: int) -> list[Cell]:
    """The cells of a line in which every blank divides."""
    return [cell for cell in _split(text, start, end, _BLANK) if cell.start < cell.end]


def unnamed(header: Sequence[Cell], cells: Sequence[Cell]) -> Sequence[Cell]:
    """A line's cells without its name: what stands before the first header, if another is under it."""  # noqa: E501
    named = (
        len(cells) > 1
        and bool(header)
        and cells[0].end <= header[0].start < cells[1].end
        and cells[1].start < header[0].end
    )
    return cells[1:] if named else cells


def under(header: Sequence[Cell], cells: Sequence[Cell]) -> list[Cell | None]:
    """For each cell of a header the cell under it: by overlap, else the nearest one.

    Cells that fall under one header together make one.
    """
    found: list[Cell | None] = [None] * len(header)
    for cell in cells:

        def distance(at: int, cell: Cell = cell) -> tuple[int, int]:
            head = header[at]
            shared = min(cell.end, head.end) - max(cell.start, head.start)
            return (-shared if shared > 0 else -shared + 1, abs(cell.start - head.start))

        best = min(range(len(header)), key=distance)
        before = found[best]
        found[best] = cell if before is None else Cell(before.start, cell.end)
    return found
