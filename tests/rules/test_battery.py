"""Battery rules against the numbers of the published sheets and plain arithmetic.

The examples beside the rules are run by test_examples.py.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.kit import build_craft
from cfglint_rules import battery

from .crafts import lacks, said

VOLTS = st.integers(min_value=200, max_value=450).map(lambda volts: volts / 100)


def pack(full: float, warn: float, empty: float, **more: Any):  # type: ignore[no-untyped-def]
    settings = {"battery.full_v": full, "battery.warn_v": warn, "battery.empty_v": empty}
    return build_craft({**settings, **more})


@given(VOLTS, VOLTS, VOLTS)
def test_the_order_holds_exactly_when_the_three_rise(
    full: float, warn: float, empty: float
) -> None:
    outcome = said(battery.voltages_out_of_order, pack(full, warn, empty))
    assert (outcome.state == "holds") is (empty < warn < full)


@pytest.mark.parametrize("left_out", ["battery.full_v", "battery.warn_v", "battery.empty_v"])
def test_what_two_voltages_already_show_is_said_and_the_third_is_missed(left_out: str) -> None:
    falling = {"battery.empty_v": 4.0, "battery.warn_v": 3.5, "battery.full_v": 3.0}
    del falling[left_out]
    outcome = said(battery.voltages_out_of_order, build_craft(falling))
    assert outcome.state == "broken"
    assert lacks(outcome) == [left_out]
    rising = {"battery.empty_v": 3.0, "battery.warn_v": 3.5, "battery.full_v": 4.0}
    del rising[left_out]
    assert said(battery.voltages_out_of_order, build_craft(rising)).state == "unknown"


def test_a_finding_points_at_the_line_that_somebody_wrote() -> None:
    craft = build_craft(
        {"battery.empty_v": 3.6}, defaults={"battery.full_v": 4.2, "battery.warn_v": 3.5}
    )
    (finding,) = said(battery.voltages_out_of_order, craft).findings
    assert finding.span == craft.get("battery.empty_v").span
    craft = build_craft(
        defaults={"battery.full_v": 4.2, "battery.warn_v": 3.0, "battery.empty_v": 3.3}
    )
    (finding,) = said(battery.voltages_out_of_order, craft).findings
    assert finding.span == craft.whole


#: Per cell: full and floor.  {charger}, but for Li-ion: {cell-inr}.  LiHV's full also {open-class}.
SHEETS = {"lipo": (4.2, 3.0), "lihv": (4.35, 3.0), "li-ion": (4.2, 2.5), "life": (3.6, 2.0)}


@pytest.mark.parametrize("chemistry", SHEETS)
def test_bounds_are_those_of_the_sheets(chemistry: str) -> None:
    full, floor = SHEETS[chemistry]
    rule = battery.beyond_the_chemistry

    def spoken(top: float, bottom: float, **options: float) -> list[str]:
        craft = pack(top, 3.5, bottom, **{"battery.chemistry": chemistry})
        return [finding.message for finding in said(rule, craft, **options).findings]

    sure = 2.75 if chemistry == "li-ion" else floor
    assert spoken(full, sure) == []
    assert spoken(round(full + 0.05, 3), sure) == []  # a charger's tolerance
    (over,) = spoken(round(full + 0.06, 3), sure)
    assert f"full at {full:g} V" in over
    assert len(spoken(round(full + 0.06, 3), sure, slack_v=0.1)) == 0
    assert len(spoken(round(full + 0.01, 3), sure, slack_v=0.0)) == 1
    (under,) = spoken(full, round(floor - 0.01, 3))
    assert f"below {floor:g} V" in under


@pytest.mark.parametrize(
    ("empty", "grades"), [(2.49, [None]), (2.5, ["advise"]), (2.74, ["advise"]), (2.75, [])]
)
def test_between_the_sheets_of_two_cells_the_rule_only_advises(
    empty: float, grades: list[str | None]
) -> None:
    """Floors of Li-ion: {cell-inr} 2.5, {cell-icr} 2.75."""
    craft = pack(4.2, 3.4, empty, **{"battery.chemistry": "li-ion"})
    found = said(battery.beyond_the_chemistry, craft).findings
    assert [finding.grade for finding in found] == grades
    for finding in found:
        assert (finding.grade == "advise") is ("own sheet" in finding.message)


def test_the_card_is_nearer_to_the_pack_than_the_dump() -> None:
    settings = {"battery.full_v": 4.2, "battery.empty_v": 2.8, "battery.chemistry": "lipo"}
    rule = battery.beyond_the_chemistry
    assert said(rule, build_craft(settings)).state == "broken"
    fitted = build_craft(settings, card={"battery.chemistry": "li-ion"})
    assert said(rule, fitted).state == "holds"


@pytest.mark.parametrize("chemistry", SHEETS)
def test_the_example_of_a_doubtful_count_is_the_smallest_there_is(chemistry: str) -> None:
    full, floor = (Fraction(str(volts)) for volts in SHEETS[chemistry])
    few = next(count for count in range(1, 99) if (count + 1) * floor <= count * full)
    craft = build_craft({"battery.cells": 0, "battery.chemistry": chemistry})
    (finding,) = said(battery.count_is_a_guess, craft).findings
    assert f"{float(few * full):g} V is {few} " in finding.message
    assert f" cells full or {few + 1} at " in finding.message


def test_twelve_point_six_volts_is_three_cells_or_four() -> None:
    # By arithmetic: 3 × 4.2 V = 12.6 V = 4 × 3.15 V.
    craft = build_craft({"battery.cells": 0, "battery.chemistry": "lipo"})
    (finding,) = said(battery.count_is_a_guess, craft).findings
    assert "12.6 V is 3 LiPo cells full or 4 at 3.15 V" in finding.message


@given(st.integers(0, 14), st.integers(1, 14))
def test_a_count_is_wrong_when_it_differs_and_the_harm_goes_the_right_way(
    told: int, fitted: int
) -> None:
    craft = build_craft({"battery.cells": told}, card={"battery.cells": fitted})
    outcome = said(battery.other_cell_count_on_board, craft)
    if told == 0:
        assert outcome.state == "not for this craft"
    elif told == fitted:
        assert outcome.state == "holds"
    else:
        (finding,) = outcome.findings
        # The controller sees pack ÷ told; the true cell is pack ÷ fitted.
        assert ("fuller" in finding.message) is (Fraction(1, told) > Fraction(1, fitted))
        assert finding.related[0].span.file == "built.toml"
