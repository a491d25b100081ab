"""Motor rules against arithmetic and version order from outside the project.

The examples beside the rules are run by test_examples.py; here are the properties.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import floor
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from packaging.version import Version

from cfglint.kit import build_craft
from cfglint.rule import Options, Put, judge
from cfglint_rules import motor

if TYPE_CHECKING:
    from cfglint.craft import Craft
    from cfglint.rule import Outcome, Rule

SELF_RIGHT = [("self-right", 7, 1715.0, 2155.0)]


def said(rule: Rule, craft: Craft, **options: Any) -> Outcome:
    values = {option.name: option.default for option in rule.options} | options
    return judge(rule, craft, Options(values))


def lacks(outcome: Outcome) -> list[str]:
    return [lack.fact for lack in outcome.lacks]


# ---------------------------------------------------------------- the signal


def test_a_default_that_is_not_brushed_is_for_the_card_to_judge() -> None:
    craft = build_craft(defaults={"motor.signal": "servo-pwm"}, extent="changes")
    assert said(motor.left_on_default_signal, craft).state == "holds"
    assert lacks(said(motor.signal_esc_does_not_speak, craft)) == ["esc.signals"]


@pytest.mark.parametrize("spoken", [None, {"esc.signals": frozenset({"brushed", "servo-pwm"})}])
def test_only_the_card_makes_brushed_right(spoken: dict[str, Any] | None) -> None:
    craft = build_craft({"motor.signal": "brushed"}, card=spoken)
    assert said(motor.left_on_default_signal, craft).state == ("holds" if spoken else "broken")


def test_the_advice_names_what_the_card_says_digital_signals_first() -> None:
    """Digital ones need no calibrating, and slow ones leave the most time."""
    card = {"esc.signals": frozenset({"dshot600", "oneshot125", "dshot150"})}
    craft = build_craft({"motor.signal": "brushed"}, card=card)
    (finding,) = said(motor.left_on_default_signal, craft).findings
    assert "set motor.signal to dshot150, dshot600 or oneshot125" in finding.instead
    assert finding.edits == (Put("motor.signal", "dshot150"),)
    assert [related.span.file for related in finding.related] == ["built.toml"]


ALL = (
    "servo-pwm oneshot125 oneshot42 multishot dshot150 dshot300 dshot600 dshot1200".split()  # noqa: SIM905
)


@given(st.sampled_from(ALL), st.frozensets(st.sampled_from(ALL), min_size=1))
def test_a_signal_is_sound_where_the_card_lists_it(signal: str, spoken: frozenset[str]) -> None:
    craft = build_craft({"motor.signal": signal}, card={"esc.signals": spoken})
    state = said(motor.signal_esc_does_not_speak, craft).state
    assert state == ("holds" if signal in spoken else "broken")


@pytest.mark.parametrize("signal", ["brushed", *ALL])
@pytest.mark.parametrize("answers", [True, False, None])
def test_two_way_needs_digital_and_answers(signal: str, answers: bool | None) -> None:
    card = {} if answers is None else {"esc.two_way": answers}
    craft = build_craft({"motor.signal": signal, "motor.two_way": True}, card=card)
    outcome = said(motor.two_way_unanswered, craft)
    if not signal.startswith("dshot"):
        assert outcome.state == "broken"
        assert outcome.findings[0].grade == "fix"
    else:
        assert outcome.state == {True: "holds", False: "broken", None: "unknown"}[answers]


# ---------------------------------------------------------------- self-right


@pytest.mark.parametrize("signal", ["brushed", *ALL])
def test_self_right_asks_for_a_digital_signal(signal: str) -> None:
    craft = build_craft({"motor.signal": signal}, ranges=SELF_RIGHT)
    digital = signal.startswith("dshot")
    outcome = said(motor.self_right_needs_digital, craft)
    assert outcome.state == ("holds" if digital else "broken")


def test_self_right_that_only_follows_another_mode_counts() -> None:
    links = [("self-right", "beacon")]
    on = [("beacon", 7, 1640.0, 2110.0)]
    craft = build_craft({"motor.signal": "multishot"}, ranges=on, links=links)
    assert said(motor.self_right_needs_digital, craft).state == "broken"
    # A link alone turns nothing on.
    alone = build_craft({"motor.signal": "multishot"}, links=links)
    assert said(motor.self_right_needs_digital, alone).state == "not for this craft"
    other = build_craft({"motor.signal": "multishot"}, links=[("beacon", "self-right")])
    assert said(motor.self_right_needs_digital, other).state == "not for this craft"


PART = st.integers(0, 120)
TWO_PARTS = st.builds("{}.{}".format, PART, PART)


def older(order: str, firmware: str, first: str) -> bool:
    """Decimal order by decimal.Decimal; dotted order by packaging ({pep-440})."""
    if order == "decimal":
        return Decimal(firmware) < Decimal(first)
    return Version(firmware) < Version(first)


def esc(firmware: str, first: str, order: str | None) -> Craft:
    card = {"esc.firmware": firmware, "esc.reverses_from": first}
    if order:
        card["esc.firmware_order"] = order
    return build_craft(ranges=SELF_RIGHT, card=card)


@given(TWO_PARTS, TWO_PARTS, st.sampled_from(["decimal", "dotted"]))
def test_firmware_is_too_old_in_the_order_of_the_card(
    firmware: str, first: str, order: str
) -> None:
    outcome = said(motor.self_right_firmware_too_old, esc(firmware, first, order))
    assert outcome.state == ("broken" if older(order, firmware, first) else "holds")
    assert all(f"in {order} order" in finding.message for finding in outcome.findings)


@given(TWO_PARTS, TWO_PARTS)
def test_without_an_order_only_what_both_orders_say_counts(firmware: str, first: str) -> None:
    answers = {older(order, firmware, first) for order in ("decimal", "dotted")}
    outcome = said(motor.self_right_firmware_too_old, esc(firmware, first, None))
    if len(answers) == 2:
        assert outcome.state == "unknown"
        assert lacks(outcome) == ["esc.firmware_order"]
    else:
        assert outcome.state == ("broken" if answers == {True} else "holds")


@pytest.mark.parametrize(
    ("firmware", "decimal", "dotted"),
    [("3.5", True, True), ("3.58", False, False), ("3.6", False, True), ("3.60", False, False)],
)
def test_the_first_version_that_reverses_in_either_order(
    firmware: str, decimal: bool, dotted: bool
) -> None:
    """The card's 3.58 as the first that reverses; 3.6 is the same as 3.60 in decimal."""
    for order, old in (("decimal", decimal), ("dotted", dotted)):
        outcome = said(motor.self_right_firmware_too_old, esc(firmware, "3.58", order))
        assert outcome.state == ("broken" if old else "holds"), order


@pytest.mark.parametrize(
    ("firmware", "first", "order", "fact"),
    [
        ("3.6.1", "3.58", "decimal", "esc.firmware"),
        ("3.6", "3.5.8", "decimal", "esc.reverses_from"),
        ("the red one", "3.58", "dotted", "esc.firmware"),
        ("the red one", "the blue one", None, "esc.firmware"),
    ],
)
def test_a_version_that_has_no_place_in_its_order_is_a_missing_fact(
    firmware: str, first: str, order: str | None, fact: str
) -> None:
    outcome = said(motor.self_right_firmware_too_old, esc(firmware, first, order))
    assert outcome.state == "unknown"
    assert lacks(outcome) == [fact]
    assert "cannot be ordered" in outcome.lacks[0].text


def test_three_parts_can_only_be_dotted() -> None:
    outcome = said(motor.self_right_firmware_too_old, esc("2.10.1", "2.9.4", None))
    assert outcome.state == "holds"
    outcome = said(motor.self_right_firmware_too_old, esc("2.9.4", "2.10.1", None))
    assert "in dotted order" in outcome.findings[0].message


def test_who_cannot_reverse_at_all_is_told_once() -> None:
    card = {"esc.reverses": False, "esc.firmware": "3.5", "esc.reverses_from": "3.58"}
    craft = build_craft(ranges=SELF_RIGHT, card=card)
    assert said(motor.self_right_esc_cannot_reverse, craft).state == "broken"
    assert said(motor.self_right_firmware_too_old, craft).state == "not for this craft"


# ---------------------------------------------------------------- time for a command

#: Most commands a second, worked out afresh: 1 / longest pulse for pulses (476 Hz for servo
#: pulses); 16 bits and a gap of 2 for digital frames.  Common practice, but for the 16 bits:
#: {digital-example}.
PULSES = {
    "servo-pwm": Fraction(476),
    "oneshot125": Fraction(1_000_000, 250),
    "oneshot42": Fraction(1_000_000, 84),
    "multishot": Fraction(1_000_000, 25),
}
BITS = {"dshot150": 150_000, "dshot300": 300_000, "dshot600": 600_000, "dshot1200": 1_200_000}
FITS = PULSES | {signal: Fraction(rate, 18) for signal, rate in BITS.items()}


@given(st.sampled_from(sorted(FITS)), st.integers(100, 64_000))
def test_a_command_fits_in_a_loop_or_it_does_not(signal: str, loop_hz: int) -> None:
    craft = build_craft({"motor.signal": signal, "loop.rate_hz": float(loop_hz)})
    outcome = said(motor.command_outlasts_loop, craft)
    assert outcome.state == ("holds" if loop_hz <= FITS[signal] else "broken")


@given(st.sampled_from(sorted(FITS)), st.integers(100, 64_000), st.integers(100, 64_000))
def test_only_pulses_have_a_rate_of_their_own(signal: str, loop_hz: int, own_hz: int) -> None:
    settings = {"motor.signal": signal, "loop.rate_hz": loop_hz, "motor.rate_hz": own_hz}
    outcome = said(motor.command_outlasts_loop, build_craft(settings))
    counts = own_hz if signal in PULSES else loop_hz
    assert outcome.state == ("holds" if counts <= FITS[signal] else "broken")


def two_way_fits(signal: str, loop_hz: int) -> bool:
    """Frame, gap, 30 µs and 21 bits at 5/4 of the speed.  From memory, so it only advises."""
    bit_us = Fraction(1_000_000, BITS[signal])
    return loop_hz * (18 * bit_us + 30 + 21 * bit_us * Fraction(4, 5)) <= 1_000_000


@given(st.sampled_from(sorted(BITS)), st.integers(100, 64_000))
def test_an_answer_needs_time_too(signal: str, loop_hz: int) -> None:
    settings = {"motor.signal": signal, "loop.rate_hz": loop_hz, "motor.two_way": True}
    craft = build_craft(settings)
    one_way = said(motor.command_outlasts_loop, craft)
    two_way = said(motor.two_way_outlasts_loop, craft)
    assert motor.two_way_outlasts_loop.grade == "advise"
    # What does not even fit one way is said once, with certainty.
    expected = one_way.state == "holds" and not two_way_fits(signal, loop_hz)
    assert two_way.state == ("broken" if expected else "holds")


@given(st.sampled_from(sorted(FITS)), st.integers(100, 64_000), st.booleans())
def test_following_the_advice_settles_it(signal: str, loop_hz: int, two_way: bool) -> None:
    rule = motor.two_way_outlasts_loop if two_way else motor.command_outlasts_loop
    settings = {"motor.signal": signal, "loop.rate_hz": loop_hz, "motor.two_way": two_way}
    for finding in said(rule, build_craft(settings)).findings:
        (put,) = finding.edits
        assert isinstance(put, Put)
        most = int(finding.instead.split("at most ")[1].split(" ")[0])
        assert put.most is not None
        assert floor(put.most) == most
        for slower in (most, put.value, put.least):
            assert said(rule, build_craft(settings | {put.name: slower})).state == "holds"
        # Pulses get a rate of their own; else a whole part of the loop's, which controllers count.
        if signal in PULSES:
            assert put.name == "motor.rate_hz"
        else:
            assert loop_hz / put.value == pytest.approx(round(loop_hz / put.value))


def test_only_signals_that_the_card_lists_are_advised() -> None:
    settings = {"motor.signal": "servo-pwm", "loop.rate_hz": 7600}
    card = {"esc.signals": frozenset({"servo-pwm", "oneshot125", "dshot300"})}
    (finding,) = said(motor.command_outlasts_loop, build_craft(settings, card=card)).findings
    assert finding.instead.endswith("that the ESCs understand: dshot300")
    card = {"esc.signals": frozenset({"servo-pwm", "oneshot125"})}
    (finding,) = said(motor.command_outlasts_loop, build_craft(settings, card=card)).findings
    assert finding.instead == (
        "set motor.rate_hz to at most 476 Hz: the loop may stay as fast as it is"
    )


def test_without_a_card_no_signal_is_advised() -> None:
    settings = {"motor.signal": "servo-pwm", "loop.rate_hz": 7600}
    (finding,) = said(motor.command_outlasts_loop, build_craft(settings)).findings
    assert "signal" not in finding.instead


def test_no_signal_is_advised_that_breaks_another_rule() -> None:
    """Answers and reversing need a digital one, a fast loop a quick one."""
    card = {"esc.signals": frozenset({"servo-pwm", "oneshot42", "dshot150", "dshot600"})}
    settings = {"motor.signal": "multishot", "loop.rate_hz": 8000.0, "motor.two_way": True}
    (finding,) = said(motor.signal_esc_does_not_speak, build_craft(settings, card=card)).findings
    assert finding.instead == "set motor.signal to dshot600"


def test_a_default_loop_points_at_the_signal() -> None:
    craft = build_craft(
        {"motor.signal": "dshot300", "motor.two_way": True}, defaults={"loop.rate_hz": 9400}
    )
    (finding,) = said(motor.two_way_outlasts_loop, craft).findings
    assert finding.span == craft.get("motor.signal").span


# ---------------------------------------------------------------- pulses

US = st.integers(900, 2200).map(float)


@given(st.sampled_from(sorted(PULSES)), US, US, US)
def test_the_order_of_the_three_points(signal: str, stop: float, low: float, high: float) -> None:
    craft = build_craft(
        {
            "motor.signal": signal,
            "motor.pulse_stop_us": stop,
            "motor.pulse_min_us": low,
            "motor.pulse_max_us": high,
        }
    )
    outcome = said(motor.pulse_points_out_of_order, craft)
    assert outcome.state == ("holds" if stop <= low < high else "broken")
    assert len(outcome.findings) == (stop > low) + (low >= high)


@given(US, US, US, US, US, st.integers(0, 100), st.integers(0, 300), st.integers(0, 900))
def test_points_against_calibration(
    stop: float,
    low: float,
    high: float,
    begins: float,
    ends: float,
    slack: int,
    short: int,
    deep: int,
) -> None:
    craft = build_craft(
        {
            "motor.signal": "oneshot125",
            "motor.pulse_stop_us": stop,
            "motor.pulse_min_us": low,
            "motor.pulse_max_us": high,
        },
        card={"esc.pulse_min_us": begins, "esc.pulse_max_us": ends},
    )
    options = {"slack_us": slack, "short_us": short, "deep_us": deep}
    outcome = said(motor.pulse_ends_off_calibration, craft, **options)
    grades = []
    if stop < begins - deep:
        grades.append("fix")
    elif stop > begins + slack:
        grades.append("ground")
    if low < begins - slack:
        grades.append("fix")
    if high > ends + slack:
        grades.append("fix")
    elif high < ends - short:
        grades.append("fix" if high < ends - motor.FAR_SHORT_US else "advise")
    assert [finding.grade for finding in outcome.findings] == grades


@pytest.mark.parametrize("signal", ["brushed", *sorted(BITS)])
def test_digital_signals_and_brushed_duty_have_no_end_points(signal: str) -> None:
    craft = build_craft({"motor.signal": signal, "motor.pulse_min_us": 3000.0})
    for rule in (motor.pulse_points_out_of_order, motor.pulse_ends_off_calibration):
        assert said(rule, craft).state == "not for this craft"


@pytest.mark.parametrize("known", list(product([True, False], repeat=3)))
def test_each_missing_point_is_named_and_no_verdict_is_lost(known: tuple[bool, ...]) -> None:
    points = {
        "motor.pulse_stop_us": 1200.0,
        "motor.pulse_min_us": 1100.0,
        "motor.pulse_max_us": 1000.0,
    }
    kept = {name: us for (name, us), here in zip(points.items(), known, strict=True) if here}
    outcome = said(
        motor.pulse_points_out_of_order, build_craft({"motor.signal": "multishot"} | kept)
    )
    assert lacks(outcome) == [name for name in points if name not in kept]
    assert len(outcome.findings) == (known[0] and known[1]) + (known[1] and known[2])
