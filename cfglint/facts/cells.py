"""Battery chemistries: voltages of one cell, and of a pack of cells in series.  All in volts."""

from __future__ import annotations

from typing import NamedTuple

from cfglint.facts.table import Mark, row_of

#: The lowest a LiPo or LiHV cell should sag to while flying: where to land, 3.5 V at rest, less
#: what a cell of 10 mΩ drops at 30 A.
UNDER_LOAD_V = 3.2


class Cell(NamedTuple):
    """One cell at rest, in volts.

    ``land_by_v`` is where a flight should end, ``never_below_v`` where the cell takes harm; some
    cells of the kind take harm from ``harm_from_v`` on already, as their own sheets say.
    ``under_load_v`` is the lowest a cell should sag to while flying.  None where nothing is known.
    """

    id: str
    title: str
    full_v: float
    nominal_v: float
    land_by_v: float | None
    never_below_v: float
    harm_from_v: float | None
    under_load_v: float | None
    source: str
    mark: Mark


class Pack(NamedTuple):
    """A pack of ``cells`` cells in series, in volts; fields as in :class:`Cell`."""

    cells: int
    full_v: float
    nominal_v: float
    land_by_v: float | None
    never_below_v: float


CELLS: dict[str, Cell] = {
    row.id: row
    for row in (
        Cell(
            "lipo",
            "LiPo",
            4.20,
            3.7,
            3.5,
            3.0,
            None,
            UNDER_LOAD_V,
            "full, nominal and floor: {charger}; land by and under load: common practice",
            "common practice",
        ),
        Cell(
            "lihv",
            "LiHV",
            4.35,
            3.8,
            3.5,
            3.0,
            None,
            UNDER_LOAD_V,
            "full: {open-class} and {charger}; nominal and floor: {charger}; land by and under "
            "load: common practice",
            "common practice",
        ),
        Cell(
            "li-ion",
            "Li-ion (18650, 21700)",
            4.20,
            3.6,
            3.1,
            2.5,
            2.75,
            None,
            # The charger's manual is more careful (4.1 full, floor 3.0); the cells' sheets count.
            "full and floor: {cell-inr} (2.5) and {cell-icr} (2.75); nominal: {charger}; "
            "land by: common practice",
            "common practice",
        ),
        Cell(
            "life",
            "LiFe",
            3.6,
            3.3,
            None,
            2.0,
            None,
            None,
            "{charger}",
            "published",
        ),
    )
}


def pack(chemistry: str, cells: int) -> Pack:
    """The voltages of ``cells`` cells in series, to the millivolt.

    Raises ValueError for an unknown chemistry or fewer than one cell.
    """
    row = row_of(CELLS, chemistry, "battery chemistry")
    if cells < 1:
        raise ValueError(f"a pack of {cells} cells: there must be at least one")
    return Pack(
        cells,
        round(row.full_v * cells, 3),
        round(row.nominal_v * cells, 3),
        None if row.land_by_v is None else round(row.land_by_v * cells, 3),
        round(row.never_below_v * cells, 3),
    )


def cell_counts(chemistry: str, volts: float) -> tuple[int, ...]:
    """Every number of cells that a pack of ``volts`` at rest may have, fewest first.

    Often more than one: 12.6 V is three LiPo cells full or four that are nearly empty.
    Raises ValueError for an unknown chemistry or a voltage outside 0–1000 V.
    """
    row = row_of(CELLS, chemistry, "battery chemistry")
    if not 0 <= volts <= 1000:  # NaN fails this too
        raise ValueError(f"{volts} V is no voltage of a pack (0-1000 V)")
    slack = 1e-6  # a microvolt, against 4.35 * 3 coming out a hair below 13.05
    most = int((volts + slack) / row.never_below_v)
    return tuple(n for n in range(1, most + 1) if volts <= row.full_v * n + slack)
