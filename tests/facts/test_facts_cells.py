"""Voltages of cells and packs."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft import settings
from cfglint.facts.cells import CELLS, cell_counts, pack

CHEMISTRY = st.sampled_from(list(CELLS))


def test_the_table_has_exactly_the_chemistries_that_a_card_can_name() -> None:
    assert tuple(CELLS) == settings.CHEMISTRIES


# Sources: {charger} for all but Li-ion's full and floor, which are {cell-inr} (2.5) and {cell-icr}
# (2.75); LiHV's full also {open-class}.
@pytest.mark.parametrize(
    ("chemistry", "nominal_v", "full_v", "never_below_v"),
    [
        ("lipo", 3.7, 4.20, 3.0),
        ("lihv", 3.8, 4.35, 3.0),
        ("li-ion", 3.6, 4.20, 2.5),
        ("life", 3.3, 3.6, 2.0),
    ],
)
def test_cells(chemistry: str, nominal_v: float, full_v: float, never_below_v: float) -> None:
    row = CELLS[chemistry]
    assert (row.nominal_v, row.full_v, row.never_below_v) == (nominal_v, full_v, never_below_v)
    assert CELLS["life"].land_by_v is None  # nothing is known, so nothing is said
    assert {name for name, row in CELLS.items() if row.harm_from_v} == {"li-ion"}
    assert CELLS["li-ion"].harm_from_v == 2.75


# Common practice: where to land, and how far a cell may sag in flight.
def test_landing_voltages() -> None:
    assert {name: row.land_by_v for name, row in CELLS.items() if row.land_by_v} == {
        "lipo": 3.5,
        "lihv": 3.5,
        "li-ion": 3.1,
    }
    assert CELLS["lipo"].under_load_v == CELLS["lihv"].under_load_v == 3.2


@pytest.mark.parametrize("chemistry", CELLS)
def test_voltages_fall_in_order(chemistry: str) -> None:
    row = CELLS[chemistry]
    steps = [row.full_v, row.nominal_v, row.land_by_v, row.under_load_v, row.never_below_v]
    known = [step for step in steps if step is not None]
    assert known == sorted(known, reverse=True)
    assert len(set(known)) == len(known)


def test_chemistries_are_those_of_mavlink() -> None:
    # Source: {mavlink}, MAV_BATTERY_TYPE (pymavlink's copy).  LiHV is not told
    # apart there; nickel cells are not for multirotors.
    common = pytest.importorskip("pymavlink.dialects.v20.common")
    prefix = "MAV_BATTERY_TYPE_"
    named = {
        entry.name.removeprefix(prefix).lower()
        for entry in common.enums["MAV_BATTERY_TYPE"].values()
    }
    ours = {name.replace("-", "") for name in CELLS}
    assert ours - named == {"lihv", "liion"}
    assert named - ours == {"lion", "nimh", "unknown", "enum_end"}


# Sources: as above, times four.
def test_four_cells() -> None:
    assert (pack("lipo", 4).full_v, pack("lipo", 4).never_below_v) == (16.8, 12.0)
    assert pack("lipo", 4).land_by_v == 14.0
    assert pack("lihv", 4).full_v == 17.4
    assert pack("life", 4).land_by_v is None


@pytest.mark.parametrize(
    ("volts", "counts"),
    # By arithmetic: 12.6 V is three cells full or four at 3.15 V.
    [(12.6, (3, 4)), (16.8, (4, 5)), (4.2, (1,)), (2.9, ()), (0, ()), (12.0, (3, 4)), (4.25, ())],
)
def test_cell_counts_of_a_voltage(volts: float, counts: tuple[int, ...]) -> None:
    assert cell_counts("lipo", volts) == counts


def test_a_hair_of_float_arithmetic_costs_no_cell() -> None:
    full_v, floor_v = 4.35 * 3, 12 - 2e-15
    assert full_v < 13.05  # three full cells, as floats have it
    assert cell_counts("lihv", 13.05)[0] == 3
    assert floor_v < 12
    assert cell_counts("lipo", floor_v)[-1] == 4


@given(CHEMISTRY, st.integers(1, 24), st.floats(0, 1))
def test_a_pack_between_its_ends_is_among_the_counts(
    chemistry: str, cells: int, charge: float
) -> None:
    row = pack(chemistry, cells)
    volts = row.never_below_v + charge * (row.full_v - row.never_below_v)
    counts = cell_counts(chemistry, volts)
    assert cells in counts
    assert list(counts) == list(range(counts[0], counts[-1] + 1))
    cell = CELLS[chemistry]
    for count in counts:
        assert cell.never_below_v - 1e-6 <= volts / count <= cell.full_v + 1e-6


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match=r"no battery chemistry is called 'lead'; known: lipo, "):
        pack("lead", 3)
    with pytest.raises(ValueError, match="no battery chemistry"):
        cell_counts("lead", 12)
    with pytest.raises(ValueError, match="at least one"):
        pack("lipo", 0)
    for volts in (-1, 1001, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="no voltage of a pack"):
            cell_counts("lipo", volts)
