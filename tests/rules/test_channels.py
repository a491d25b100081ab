"""Channel rules against plain arithmetic, a sweep of pulses and the published travel of links.

Sources: {interfacing} (±100 % is 1102 to 1898 µs, ±150 % 903 to
2097 µs); {crsf} (880 to 2120 µs).
The examples beside the rules are run by test_examples.py.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.kit import build_craft
from cfglint_rules import channels

from .crafts import lacks, read, said

PULSE = st.integers(800, 2200)


def calibrated(number: int, low: float, mid: float, high: float) -> dict[str, float]:
    ends = {"low": low, "mid": mid, "high": high}
    return {f"channel.{number}.{end}_us": float(value) for end, value in ends.items()}


def sticks(low: float, high: float, **more: Any) -> dict[str, Any]:
    return {"transmitter.low_us": float(low), "transmitter.high_us": float(high), **more}


# ---------------------------------------------------------------- order


@given(PULSE, PULSE, PULSE)
def test_order_holds_exactly_when_the_ends_rise(low: int, mid: int, high: int) -> None:
    outcome = said(channels.ends_out_of_order, build_craft(calibrated(3, low, mid, high)))
    assert (outcome.state == "holds") is (low < mid < high)
    for finding in outcome.findings:
        assert f"{low:g}, {mid:g}, {high:g}" in finding.message
        assert ("backwards" in finding.message) is (low > mid > high)


@pytest.mark.parametrize("order", list(permutations((1065.0, 1495.0, 1925.0))))
def test_the_thresholds_of_a_stick_rise_too(order: tuple[float, float, float]) -> None:
    names = ("stick.low_us", "stick.centre_us", "stick.high_us")
    craft = build_craft(dict(zip(names, order, strict=True)))
    assert (said(channels.ends_out_of_order, craft).state == "holds") is (
        order[0] < order[1] < order[2]
    )


def test_the_value_that_spoils_the_order_is_pointed_at() -> None:
    for ends in ((1000, 900, 2000), (1000, 1500, 1200), (1600, 1500, 2000), (1000, 2010, 2000)):
        settings = calibrated(2, *ends)
        craft = build_craft(settings)
        (finding,) = said(channels.ends_out_of_order, craft).findings
        at = [name for name in settings if craft.get(name).span == finding.span]
        rest = [value for name, value in settings.items() if name not in at]
        assert len(rest) == 2
        assert rest[0] < rest[1]  # without it the others rise
    # Nobody wrote any of them: there is only the craft to point at.
    craft = build_craft(defaults=calibrated(2, 2000, 1500, 1000))
    (finding,) = said(channels.ends_out_of_order, craft).findings
    assert finding.span == craft.whole
    # One was written, though it is not the only one that is wrong.
    craft = build_craft(
        {"channel.2.low_us": 2000.0},
        defaults={"channel.2.mid_us": 1500.0, "channel.2.high_us": 1000.0},
    )
    (finding,) = said(channels.ends_out_of_order, craft).findings
    assert finding.span == craft.get("channel.2.low_us").span


# ---------------------------------------------------------------- ends and travel


@given(
    cal_low=st.integers(850, 1200),
    cal_high=st.integers(1800, 2150),
    low=st.integers(880, 1190),
    high=st.integers(1790, 2130),
    slack=st.integers(0, 100),
)
def test_ends_against_travel(cal_low: int, cal_high: int, low: int, high: int, slack: int) -> None:
    craft = build_craft(calibrated(1, cal_low, 1500, cal_high), card=sticks(low, high))
    reach = said(channels.end_out_of_reach, craft, slack_us=slack)
    assert len(reach.findings) == (cal_low < low - slack) + (cal_high > high + slack)
    lost = said(channels.travel_cut_off, craft, slack_us=slack)
    assert len(lost.findings) == (cal_low > low + slack) + (cal_high < high - slack)


@pytest.mark.parametrize(
    ("link", "low", "high"),
    [("dsm", 1102, 1898), ("srxl2", 1102, 1898)],  # {interfacing}
)
def test_nominal_ends_are_not_everybody_s(link: str, low: int, high: int) -> None:
    craft = build_craft({"receiver.link": link, **calibrated(3, 1000, 1500, 2000)})
    messages = [f.message for f in said(channels.end_out_of_reach, craft).findings]
    assert any(f"lowest that comes is {low} µs" in message for message in messages)
    assert any(f"highest that comes is {high} µs" in message for message in messages)
    craft = build_craft({"receiver.link": link, **calibrated(3, low, 1500, high)})
    assert said(channels.end_out_of_reach, craft).state == "holds"
    assert said(channels.travel_cut_off, craft).state == "holds"


@pytest.mark.parametrize("link", ["sbus", "crsf", "crsf-one-wire", "ibus", "fport", "ppm"])
def test_nominal_ends_are_right_for_most_links(link: str) -> None:
    craft = build_craft({"receiver.link": link, **calibrated(3, 1000, 1500, 2000)})
    assert said(channels.end_out_of_reach, craft).state == "holds"
    assert said(channels.travel_cut_off, craft).state == "holds"


def test_what_the_link_cannot_send_counts_before_the_transmitter() -> None:
    # {crsf}: 880 µs is the lowest there is.
    craft = build_craft(
        {"receiver.link": "crsf", **calibrated(1, 800, 1500, 2000)}, card=sticks(800, 2000)
    )
    (finding,) = said(channels.end_out_of_reach, craft).findings
    assert "lowest that comes is 880 µs" in finding.message


def test_defaults_that_do_not_fit_are_one_finding_for_all_sticks() -> None:
    defaults: dict[str, float] = {}
    for number in range(1, 17):
        defaults |= calibrated(number, 1000, 1500, 2000)
    craft = build_craft({"receiver.link": "dsm"}, defaults=defaults)
    low, high = said(channels.end_out_of_reach, craft).findings
    assert low.span == high.span == craft.whole
    for finding in (low, high):
        assert "channels 1, 2, 3 and 4" in finding.message


def test_switches_channels_only_need_what_can_be_sent_at_all() -> None:
    craft = build_craft({"receiver.link": "crsf", **calibrated(6, 1200, 1500, 2500)})
    (finding,) = said(channels.end_out_of_reach, craft).findings
    assert "2500 µs" in finding.message
    assert said(channels.travel_cut_off, craft).state == "not for this craft"
    craft = build_craft({"receiver.link": "ibus", **calibrated(6, 1200, 1500, 2500)})
    assert said(channels.end_out_of_reach, craft).state == "holds"


def test_a_channel_with_ends_out_of_order_is_left_to_that_rule() -> None:
    craft = build_craft({"receiver.link": "sbus", **calibrated(1, 2000, 1500, 1000)})
    assert said(channels.end_out_of_reach, craft).state == "holds"
    assert said(channels.travel_cut_off, craft).state == "not for this craft"


# ---------------------------------------------------------------- thresholds


def straight(pulse: int, low: int, mid: int, high: int) -> Fraction:
    """The calibration by itself: two straight lines through 1000, 1500 and 2000."""
    if pulse < mid:
        return 1500 - Fraction(500) * (mid - pulse) / (mid - low)
    return 1500 + Fraction(500) * (pulse - mid) / (high - mid)


@given(
    low=st.integers(870, 1210),
    high=st.integers(1780, 2120),
    stick_low=st.integers(1000, 1200),
    stick_high=st.integers(1800, 2000),
    cal=st.tuples(st.integers(910, 1180), st.integers(1450, 1550), st.integers(1810, 2090)),
)
def test_thresholds_are_passed_exactly_when_what_is_seen_lies_beyond(
    low: int, high: int, stick_low: int, stick_high: int, cal: tuple[int, int, int]
) -> None:
    settings = {"stick.low_us": float(stick_low), "stick.high_us": float(stick_high)}
    for number in (1, 2, 3, 4):
        settings |= calibrated(number, *cal)
    outcome = said(
        channels.stick_threshold_out_of_reach, build_craft(settings, card=sticks(low, high))
    )
    short = [
        not straight(low, *cal) < stick_low,
        not straight(high, *cal) > stick_high,
    ]
    assert len(outcome.findings) == sum(short)
    assert outcome.state == ("broken" if any(short) else "holds")


def test_one_stick_that_falls_short_is_named_alone() -> None:
    craft = build_craft(
        {"stick.low_us": 1062.0, "stick.high_us": 1938.0, **calibrated(3, 900, 1500, 2000)},
        card=sticks(1000, 2000),
    )
    (finding,) = said(channels.stick_threshold_out_of_reach, craft).findings
    assert "none on channel 3 comes below 1083.33 µs" in finding.message
    assert "set stick.low_us to 1108" in finding.instead


def test_ordinary_travel_shows_a_fault_but_proves_nothing_right() -> None:
    thresholds = {"stick.low_us": 1045.0, "stick.high_us": 1933.0}
    rule = channels.stick_threshold_out_of_reach
    fine = said(rule, build_craft({"receiver.link": "crsf", **thresholds}))
    assert (fine.state, lacks(fine)) == ("unknown", ["transmitter.low_us", "transmitter.high_us"])
    wrong = said(rule, build_craft({"receiver.link": "dsm", **thresholds}))
    assert (wrong.state, len(wrong.findings)) == ("broken", 2)
    blank = said(rule, build_craft(thresholds))
    assert (blank.state, lacks(blank)) == ("unknown", ["transmitter.low_us", "transmitter.high_us"])


def test_a_calibration_that_is_impossible_is_passed_over() -> None:
    settings = {"stick.low_us": 1080.0, "stick.high_us": 1915.0, "stick.centre_us": 1500.0}
    settings |= {"stick.dead_band_us": 11.0, **calibrated(1, 1500, 1500, 1500)}
    craft = build_craft(
        {**settings, "receiver.channel_order": "AETR"},
        card=sticks(1000, 2000, **{"transmitter.centre_us": 1500.0, "transmitter.jitter_us": 3.0}),
    )
    assert said(channels.stick_threshold_out_of_reach, craft).state == "holds"
    assert said(channels.stick_off_centre, craft).state == "holds"
    off = build_craft(
        {**settings, "receiver.channel_order": "AETR"},
        card=sticks(1000, 2000, **{"transmitter.centre_us": 1520.0}),
    )
    assert said(channels.stick_off_centre, off).state == "broken"


# ---------------------------------------------------------------- centre


@given(
    sent=st.integers(1440, 1560),
    centre=st.integers(1480, 1520),
    band=st.integers(0, 40),
    jitter=st.integers(0, 20),
)
def test_a_stick_rests_within_the_dead_band_or_not(
    sent: int, centre: int, band: int, jitter: int
) -> None:
    craft = build_craft(
        {
            "stick.centre_us": float(centre),
            "stick.dead_band_us": float(band),
            "receiver.channel_order": "AETR",
        },
        card={"transmitter.centre_us": float(sent), "transmitter.jitter_us": float(jitter)},
    )
    # Every pulse that a stick at rest may send lies within the band, or not.
    pulses = range(sent - jitter, sent + jitter + 1)
    inside = all(centre - band <= pulse <= centre + band for pulse in pulses)
    outcome = said(channels.stick_off_centre, craft)
    assert (outcome.state == "holds") is inside
    for finding in outcome.findings:
        assert ("wanders" in finding.message) is (abs(sent - centre) <= band)


def test_each_channel_is_measured_at_its_own_middle() -> None:
    craft = read(
        """
        let stick-order be AETR
        channel 1 spans 1000 1500 2000
        channel 2 spans 1000 1530 2000
        channel 3 spans 1000 1570 2000
        channel 4 spans 1000 1540 2000
        let stick-rest be 1500
        let stick-slack be 13
        """,
        "[transmitter]\ncentre_us = 1500\n",
    )
    findings = said(channels.stick_off_centre, craft).findings
    assert [finding.span.line for finding in findings] == [3, 5]
    assert "channel 2 takes 1530 µs" in findings[0].message


def test_one_stick_off_may_be_the_throttle_two_may_not() -> None:
    common = {"stick.centre_us": 1500.0, "stick.dead_band_us": 6.0}
    card = {"transmitter.centre_us": 1500.0, "transmitter.jitter_us": 2.0}
    one = build_craft({**common, **calibrated(3, 1000, 1540, 2000)}, card=card)
    assert lacks(said(channels.stick_off_centre, one)) == ["receiver.channel_order"]
    known = build_craft(
        {**common, **calibrated(3, 1000, 1540, 2000)},
        card={**card, "transmitter.channel_order": "AETR"},
    )
    assert said(channels.stick_off_centre, known).state == "holds"
    both = {**calibrated(3, 1000, 1540, 2000), **calibrated(4, 1000, 1540, 2000)}
    two = said(channels.stick_off_centre, build_craft({**common, **both}, card=card))
    assert two.state == "broken"
    quiet = {"transmitter.centre_us": 1500.0, "transmitter.channel_order": "AETR"}
    still = said(channels.stick_off_centre, build_craft(common, card=quiet))
    assert lacks(still) == ["transmitter.jitter_us"]
