"""Arithmetic of the fleet rules beyond their examples."""

from __future__ import annotations

from typing import Any

import pytest

from cfglint.craft.card import Card, SwitchCard
from cfglint.craft.fleet import lean
from cfglint.kit.build import build_craft
from cfglint.rule import Options, judge
from cfglint.runner.select import _unfit
from cfglint_rules.fleet import (
    _position,
    arm_the_odd_one_out,
    firmware_below_floor,
    one_video_frequency,
    two_of_one_name,
)

Range = tuple[str, int, float, float]


def arm(*arms: list[Range]) -> list[str]:
    """What the arm rule says of the first craft among several."""
    first, *others = (build_craft(ranges=rows, name=f"C{at}") for at, rows in enumerate(arms, 1))
    first = first.changed(others=tuple(others))
    outcome = judge(arm_the_odd_one_out, first, Options({}))
    return [one.message for one in outcome.findings] or [outcome.state]


UP: list[Range] = [("arm", 5, 1640.0, 2090.0)]
DOWN: list[Range] = [("arm", 5, 810.0, 1240.0)]


def test_two_ranges_are_compared_whole() -> None:
    both = [*UP, ("arm", 6, 1790.0, 2200.0)]
    assert arm(both, both, both) == ["holds"]  # type: ignore[arg-type]
    (told,) = arm(both, UP, UP)  # type: ignore[arg-type]
    assert told.startswith("arm is on channel 5 and 6, on channel 5 in C2 and C3")
    (told,) = arm(DOWN, UP, UP)
    assert told.startswith("arm is on where its channel is low, in C2 and C3 where it is high")
    assert arm(UP, DOWN) == ["not for this craft"]
    assert arm([], UP, UP) == ["not for this craft"]
    assert arm(UP, [], UP, UP) == ["holds"]


def test_a_middle_range_counts_as_up() -> None:
    assert arm([("arm", 5, 1400.0, 1600.0)], UP, UP) == ["holds"]


def frequency(mine: float, *others: float | None, mhz: float = 5.0) -> str:
    craft = build_craft({"video.frequency_mhz": mine})
    beside = tuple(
        build_craft({} if other is None else {"video.frequency_mhz": other}) for other in others
    )
    return judge(one_video_frequency, craft.changed(others=beside), Options({"mhz": mhz})).state


def test_how_near_two_frequencies_may_be() -> None:
    assert frequency(5800, 5805) == "broken"
    assert frequency(5800, 5805.5) == "holds"
    assert frequency(5800, 5800, mhz=0.0) == "broken"
    assert frequency(5800, 0) == "holds"
    assert frequency(5800, None) == "unknown"
    assert frequency(5800, None, 5800) == "broken"
    assert frequency(0, 5800) == frequency(5800) == "not for this craft"


def test_names_differ_in_more_than_case_and_blanks() -> None:
    def named(mine: str, other: str) -> str:
        craft = build_craft({}, name=mine).changed(others=(build_craft({}, name=other),))
        return judge(two_of_one_name, craft, Options({})).state

    assert named("Avocet", " AVOCET ") == "broken"
    assert named("Avocet", "Avocet 2") == "holds"


@pytest.mark.parametrize(
    ("firmware", "floors", "state"),
    [
        ("7.9", ["built 7.10"], "broken"),
        ("7.10", ["built 7.10"], "holds"),
        ("7.9", ["plain 7.10"], "not for this craft"),
        ("of May", ["built 7.10"], "unknown"),
        (None, ["built 7.10"], "unknown"),
    ],
)
def test_the_club_sets_a_floor(firmware: str | None, floors: list[str], state: str) -> None:
    settings: dict[str, Any] = {} if firmware is None else {"craft.firmware": firmware}
    outcome = judge(firmware_below_floor, build_craft(settings), Options({"floors": floors}))
    assert outcome.state == state


def test_a_floor_names_a_dialect_and_a_version() -> None:
    (option,) = firmware_below_floor.options
    assert _unfit(firmware_below_floor, option, ["plain 7.10", "terse 2.57"]) is None
    for wrong in (["plain"], [" 7.10"], [7.10], ["plain of May"]):
        told = _unfit(firmware_below_floor, option, wrong)
        assert told is not None
        assert told[0].startswith("the option `floors` holds ")
        assert "plain 7.10" in told[1]
    assert _unfit(firmware_below_floor, option, "plain 7.10") is not None


def test_a_switch_is_called_as_its_card_calls_it() -> None:
    """High or low is the channel's; which way the switch then points is for the card to say."""
    span = build_craft(ranges=UP).whole
    switch = SwitchCard(
        "left rear", 5, (1988.0, 1012.0), ("down", "up"), 0.0, False, span, span, (span, span)
    )
    craft = build_craft(ranges=UP)
    craft = craft.changed(card=Card("built.toml", {}, (switch,)))
    shown = lean(craft, arm_the_odd_one_out.asks)
    (row,) = shown.ranges_of("arm")
    assert _position(shown, row) == " (down of left rear)"
    assert _position(lean(build_craft(ranges=UP), ("mode.arm",)), row) == ""
