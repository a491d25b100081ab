"""The path of a position, against sweeping every tick and every hundredth of a microsecond.

Tick arithmetic: {crsf}, frame 0x16 (µs = (t − 992) · 5/8 + 1500).
"""

from __future__ import annotations

from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.facts.links import LINKS
from cfglint.switches.intervals import between
from cfglint.switches.modes import Logic, Strip
from cfglint.switches.positions import (
    Band,
    Calibration,
    assumed,
    calibration_of,
    claims,
    from_card,
    place_names,
    wire_of,
)

from .build import card, craft, row, switch


def crsf_us(tick: int) -> Fraction:
    return Fraction(tick - 992) * Fraction(5, 8) + 1500


def wire(link: str, **on_card: float):  # type: ignore[no-untyped-def]
    return wire_of(craft(card=card(receiver__link=link, **on_card)))


def test_published_ticks_arrive_as_published() -> None:
    crsf = wire("crsf")
    for tick in (0, 191, 192, 992, 1792, 1984, 172, 1811):
        band = crsf.carry(float(crsf_us(tick)), float(crsf_us(tick)))
        assert band.low == band.high == crsf_us(tick)
    assert (crsf.lowest, crsf.highest) == (880, 2120)
    assert crsf.everything() == Band(880, 2120, 880, 0.625)
    assert (crsf.usual_low, crsf.usual_high) == (987.5, 2011.875)


def clip_and_quantise(link: str, us: float) -> float:
    """What arrives when ``us`` is sent: held within the link's ends, then to its nearest step."""
    row = LINKS[link]
    us = us if row.lowest_us is None else max(us, row.lowest_us)
    us = us if row.highest_us is None else min(us, row.highest_us)
    if row.scaling is None:
        return us
    offset, step = row.scaling.offset_us, row.scaling.step_us
    return offset + floor((us - offset) / step + 0.5) * step


PULSES = st.one_of(st.integers(700, 2300), st.floats(700, 2300).map(lambda x: round(x, 3)))


@given(st.sampled_from(sorted(LINKS)), PULSES, st.sampled_from([0, 0.3, 2, 4, 40]))
def test_what_arrives_covers_every_pulse_within_the_jitter(
    link: str, pulse: float, jitter: float
) -> None:
    band = wire(link).carry(pulse - jitter, pulse + jitter)
    assert band.low <= band.high
    for part in range(21):
        sent = min(pulse - jitter + 2 * jitter * part / 20, pulse + jitter)
        arrived = clip_and_quantise(link, sent)
        assert band.low <= arrived <= band.high
    row_ = LINKS[link]
    if row_.scaling is not None and row_.scaling.rounding == "nearest":
        # Where the rounding is known, the band is no wider than what its own ends give.
        assert band.low == clip_and_quantise(link, pulse - jitter)
        assert band.high == clip_and_quantise(link, pulse + jitter)
    elif row_.scaling is not None:
        assert band.high - band.low <= 2 * jitter + 2 * row_.scaling.step_us


def test_a_link_whose_rounding_is_unknown_may_go_either_way() -> None:
    for link in ("sbus", "crsf"):
        band = wire(link).carry(1001, 1001)  # between ticks 193 and 194
        assert (band.low, band.high) == (float(crsf_us(193)), float(crsf_us(194)))


def test_a_channel_that_is_only_on_or_off() -> None:
    """{sbus}: 17 and 18 are flags; which µs stand for them is common practice."""
    sbus = wire("sbus")
    for channel in (17, 18):
        assert sbus.carry(1130, 1130, channel).hull() == between(987.5, 987.5)
        assert sbus.carry(1730, 1790, channel).hull() == between(2011.875, 2011.875)
        both = sbus.carry(1490, 1510, channel)
        assert (both.low, both.high) == (987.5, 2011.875)
        assert both.after(1000, 0) == 2011.875  # nothing lies between
        for assume in ("two", "three", "free"):
            made = assumed(channel, sbus, assume)
            assert [place.band.low for place in made.places] == [987.5, 2011.875]
    assert sbus.carry(1130, 1130, 16).low > 1129
    three = from_card(switch("K7", 17, (1100, 1500, 1900)), sbus)
    assert [place.band.low for place in three.places] == [987.5, 2011.875, 2011.875]
    card_ends = wire("fport", receiver__low_us=1040, receiver__high_us=1960)
    assert card_ends.carry(1000, 1000, 18).low == 1040


def test_the_cards_receiver_narrows_the_link() -> None:
    narrow = wire("crsf", receiver__low_us=1000, receiver__high_us=2000)
    assert narrow.carry(800, 2300) == Band(1000, 2000, 880, 0.625)
    odd = wire("crsf", receiver__low_us=1000.2, receiver__high_us=1999.9)
    assert odd.carry(800, 2300) == Band(1000.625, 1999.375, 880, 0.625)
    turned = wire("crsf", receiver__low_us=2000, receiver__high_us=1000)
    assert turned.lowest == turned.highest == 1500
    only_high = wire("crsf", receiver__high_us=1900)
    assert (only_high.usual_low, only_high.usual_high) == (987.5, 1900)


def test_an_unknown_link_passes_pulses_as_they_are() -> None:
    free = wire_of(craft())
    assert free.carry(1001.3, 1009) == Band(1001.3, 1009)
    assert (free.usual_low, free.usual_high, free.link) == (1000, 2000, "")
    assert free.carries(99)
    assert wire("ppm").carries(99)  # no maximum is published
    assert wire("sbus").carries(18)
    assert not wire("sbus").carries(19)
    assert wire_of(craft(values={"receiver.link": "crsf"})).link == "crsf"
    both = craft(values={"receiver.link": "crsf"}, card=card(receiver__link="ppm"))
    assert wire_of(both).link == "ppm"  # the card speaks of the receiver itself


CALIBRATIONS = st.tuples(
    st.integers(897, 1200), st.integers(1360, 1724), st.integers(1800, 2048)
).map(lambda ends: Calibration(*ends))


@given(CALIBRATIONS, st.fractions(800, 2200), st.fractions(800, 2200))
def test_calibration_is_exact_both_ways_and_rises(
    calibration: Calibration, one: Fraction, two: Fraction
) -> None:
    assert calibration.arriving(calibration.seen(one)) == one
    assert (calibration.seen(one) < calibration.seen(two)) == (one < two)


def test_calibration_puts_its_three_pulses_in_their_places() -> None:
    given_ = Calibration(1015, 1510, 1990)
    assert [given_.seen(us) for us in given_] == [1000, 1500, 2000]
    assert [given_.arriving(us) for us in (1000, 1500, 2000)] == [1015, 1510, 1990]
    assert Calibration().seen(1234.5) == Calibration().arriving(1234.5) == 1234.5
    said = craft(values={"channel.5.low_us": 1015})
    assert calibration_of(said, 5) == Calibration(1015, 1500, 2000)
    assert calibration_of(said, 6).plain
    assert not Calibration(1500, 1500, 2000).possible


RANGES = st.lists(
    st.tuples(st.integers(980, 1020), st.integers(980, 1020), st.sampled_from([0, 1])), max_size=6
)


@given(
    RANGES,
    st.sampled_from([0.625, 1.0, 0.125, 0.0]),
    st.integers(0, 300),
    st.integers(0, 60),
    st.sampled_from([Calibration(), Calibration(990, 1497, 2003)]),
)
def test_walking_a_strip_finds_the_faces_that_sweeping_finds(
    rows: list[tuple[int, int, int]], step: float, start: int, count: int, calibration: Calibration
) -> None:
    """Every tick one by one for stepped bands; every twentieth of a µs for continuous ones."""
    fine = step or 0.05
    first = 975 + start * (step or 0.125)
    values = [first + number * fine for number in range(count + 1)]
    band = Band(values[0], values[-1], 975, step)
    ends = ["half-open" if kind else "closed" for _, _, kind in rows]
    seen = [
        between(low, high, kind)  # type: ignore[arg-type]
        for (low, high, _), kind in zip(rows, ends, strict=True)
    ]
    strip = Strip((1 << bit, part.mapped(calibration.arriving)) for bit, part in enumerate(seen))

    def face(value: float) -> int:
        there = calibration.seen(Fraction(value))
        return sum(1 << bit for bit, part in enumerate(seen) if there in part)

    swept = [face(value) for value in values]
    walked = strip.walk(band)
    assert len(walked) <= len(strip.cuts) + 1
    if step:
        assert list(dict.fromkeys(swept)) == list(dict.fromkeys(part.face for part in walked))
        again = [
            part.face
            for part in walked
            for number in range(round((part.high - part.low) / step) + 1)
        ]
        assert again == swept
    else:
        # Sweeping may miss a stretch that is a single point, walking may not.
        assert set(swept) <= {part.face for part in walked}
        for part in walked:
            assert band.low <= part.low <= part.high <= band.high
    for value in values:
        assert strip.face(value) == face(value)


def test_the_first_value_of_a_band_at_or_after_another() -> None:
    steps = Band(1000, 1002.5, 880, 0.625)
    assert steps.after(905, 0) == 1000
    assert steps.after(1000, 0) == 1000
    assert steps.after(1000, 1) == 1000.625
    assert steps.after(1001, 0) == 1001.25
    assert steps.after(1002.5, 0) == 1002.5
    assert steps.after(1002.5, 1) is None
    assert steps.after(1003, 0) is None
    assert Band(1000, 1003).after(1001.1, 1) == 1001.1
    assert steps.hull() == between(1000, 1002.5)


def test_names_of_positions() -> None:
    assert place_names((1000, 2000)) == ("low", "high")
    assert place_names((2000, 1000)) == ("high", "low")
    assert place_names((1000, 1500, 2000)) == ("low", "middle", "high")
    assert place_names((2000, 1500, 1000)) == ("high", "middle", "low")
    assert place_names((1500, 1000, 2000)) == ("position 1", "position 2", "position 3")
    assert place_names((1, 2, 3, 4))[3] == "position 4"


def test_switches_from_a_card_and_without_one() -> None:
    crsf = wire("crsf")
    made = from_card(switch("K1", 5, (1000, 2000), names=("off", "on"), jitter=4), crsf)
    assert [place.name for place in made.places] == ["off", "on"]
    assert (made.places[0].band.low, made.places[0].band.high) == (995.625, 1004.375)
    plain = from_card(switch("", 5, (1000, 2000), names=("only one",)), crsf)
    assert plain.name == "the switch on channel 5"
    assert [place.name for place in plain.places] == ["low", "high"]
    unplaced = switch("K4", 6, (1000, 2000))._replace(position_spans=())
    assert from_card(unplaced, crsf).places[1].span == unplaced.span
    assert [place.sent_us for place in assumed(6, crsf, "two").places] == [987.5, 2011.875]
    assert [place.sent_us for place in assumed(6, crsf, "three").places] == [987.5, 1500, 2011.875]
    assert assumed(6, crsf, "free").places == ()
    lopsided = wire("crsf", receiver__low_us=1600, receiver__high_us=2000)
    assert [place.sent_us for place in assumed(6, lopsided, "three").places] == [1600, 1800, 2000]


def test_claims_leave_out_switches_without_positions() -> None:
    on_card = card(switch("K1", 5, (1000,)), switch("K4", 6, ()), switch("K2", 5, (1500,)))
    assert {n: len(rows) for n, rows in claims(craft(card=on_card)).items()} == {5: 2}
    assert claims(craft()) == {}


def test_an_impossible_calibration_is_a_missing_fact() -> None:
    from cfglint.craft import Missing

    broken = craft([row("arm", 5, 1675, 2157)], values={"channel.5.mid_us": 990})
    with pytest.raises(Missing, match=r"channel\.5\.mid_us.*do not rise"):
        Logic(broken, "half-open").strip(5)
