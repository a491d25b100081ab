"""Receiver links against published tick tables, frame times and tolerances."""

from __future__ import annotations

from fractions import Fraction
from math import floor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft import settings
from cfglint.facts.links import (
    EDGE_MARGIN_US,
    LINKS,
    NOMINAL_HIGH_US,
    NOMINAL_LOW_US,
    USUAL_HIGH_TICK,
    USUAL_LOW_TICK,
    baud_within,
    frame_time_us,
    link_baud_within,
    one_wire_ceiling_hz,
    reply_time_us,
)

SCALED = [name for name, row in LINKS.items() if row.scaling is not None]


def tick_to_us(link: str, tick: int) -> float:
    """The µs that a tick stands for, by the link's row."""
    scale = LINKS[link].scaling
    assert scale is not None
    return scale.offset_us + tick * scale.step_us


def test_the_table_has_exactly_the_links_that_a_setting_can_name() -> None:
    assert tuple(LINKS) == settings.LINKS
    assert all(row.id == name for name, row in LINKS.items())


# ---------------------------------------------------------------- channel values


# Source: {crsf}, frame 0x16: µs = (t - 992) · 5/8 + 1500.
@pytest.mark.parametrize("link", ["crsf", "crsf-one-wire"])
@pytest.mark.parametrize(
    ("tick", "us"),
    [
        (0, 880),
        (172, 987.5),
        (191, 999.375),
        (192, 1000),
        (992, 1500),
        (1792, 2000),
        (1811, 2011.875),
        (1984, 2120),
    ],
)
def test_crsf_ticks(link: str, tick: int, us: float) -> None:
    assert tick_to_us(link, tick) == us


# Source: as above, second formula: t = (µs - 1500) · 8/5 + 992.
@given(st.integers(880, 2120))
def test_crsf_carries_every_whole_us_there_and_back_when_rounded(us: int) -> None:
    tick = floor(Fraction(us - 1500) * 8 / 5 + 992 + Fraction(1, 2))
    assert round(tick_to_us("crsf", tick)) == us
    # How a real link rounds is not published.
    assert LINKS["crsf"].scaling is not None
    assert LINKS["crsf"].scaling.rounding is None


def test_truncating_instead_would_lose_a_us() -> None:
    # Source: {crsf}, frame 0x16, worked through.
    us = tick_to_us("crsf", 1811)
    assert (int(us), round(us)) == (2011, 2012)


def test_published_crsf_frame() -> None:
    """A whole channels frame, all sixteen at the middle.

    Sources: {crsf} (layout: address, length, type, 16 × 11 bits lowest
    bit first, CRC-8/DVB-S2 over type and payload); the CRC by crccheck.
    """
    crc = pytest.importorskip("crccheck.crc")
    frame = bytes.fromhex("c81816e0031ff8c0073ef0810f7ce0031ff8c0073ef0810f7cad")
    assert len(frame) == LINKS["crsf"].frame_bytes
    assert frame[1] == len(frame) - 2
    assert crc.Crc8DvbS2.calc(frame[2:-1]) == frame[-1]
    assert crc.Crc8DvbS2.calc(frame[2:-2] + b"\x7d") != frame[-1]
    bits = int.from_bytes(frame[3:-1], "little")
    ticks = [bits >> 11 * n & 0x7FF for n in range(16)]
    assert LINKS["crsf"].channels.sure == len(ticks)
    assert bits >> 11 * len(ticks) == 0
    assert [tick_to_us("crsf", tick) for tick in ticks] == [1500.0] * 16


def test_usual_travel_of_eleven_bit_links() -> None:
    # Common practice: ticks 172 and 1811; no specification gives them as ends.
    for link in ("sbus", "crsf", "crsf-one-wire", "fport"):
        row = LINKS[link]
        assert row.usual is not None
        assert row.usual.low_us == tick_to_us(link, USUAL_LOW_TICK)
        assert row.usual.high_us == tick_to_us(link, USUAL_HIGH_TICK)
        # A page of a wiki has them for CRSF ({crsf-wiki}).
        assert row.usual.source == ("{crsf-wiki}" if "crsf" in link else "common practice")


# Source: {srxl2}, §7.7.1, for the ticks; {interfacing} (100 % = 1102-1898 µs, 150 % = 903-2097
# µs), for the µs.
@pytest.mark.parametrize(
    ("tick", "us"), [(0, 903), (10_912, 1102), (32_768, 1500), (54_612, 1898), (65_532, 2097)]
)
def test_srxl2_ticks(tick: int, us: float) -> None:
    assert tick_to_us("srxl2", tick) == pytest.approx(us, abs=0.25)
    assert tick_to_us("srxl2", 32_768) == 1500


# Source: {interfacing}: 0.583 or 1.166 µs a step about 1500.
def test_dsm_steps() -> None:
    scale = LINKS["dsm"].scaling
    assert scale is not None
    assert scale.step_us == pytest.approx(0.583, abs=5e-4)
    assert 2 * scale.step_us == pytest.approx(1.166, abs=5e-4)
    assert tick_to_us("dsm", 1024) == 1500
    assert tick_to_us("dsm", 2047) == pytest.approx(2097, abs=1)


def test_travel_of_dsm_and_srxl2_is_not_the_nominal_one() -> None:
    # Source: {interfacing}.
    for link in ("dsm", "srxl2"):
        usual = LINKS[link].usual
        assert usual is not None
        assert (usual.low_us, usual.high_us) == (1102, 1898)
        assert (usual.low_us, usual.high_us) != (NOMINAL_LOW_US, NOMINAL_HIGH_US)


def test_nominal_travel_is_that_of_mavlink() -> None:
    # Source: {mavlink}, RC_CHANNELS (pymavlink's copy).
    common = pytest.importorskip("pymavlink.dialects.v20.common")
    text = " ".join(common.MAVLink_rc_channels_message.__doc__.split())
    assert f"{NOMINAL_LOW_US:.0f} microseconds: 0%" in text
    assert f"{NOMINAL_HIGH_US:.0f} microseconds: 100%" in text
    # "Unused" and "let go" are numbers there that no link of ours can send as a channel value.
    xml = Path(common.__file__).with_name("common.xml").read_text(encoding="utf-8")
    assert "UINT16_MAX" in xml[xml.index('name="RC_CHANNELS"') :][:600]
    for released in (0, 2**16 - 2, 2**16 - 1):
        for row in LINKS.values():
            if row.lowest_us is not None and row.highest_us is not None:
                assert not row.lowest_us <= released <= row.highest_us


def test_every_end_of_a_link_is_one_of_its_ticks() -> None:
    for link in SCALED:
        row = LINKS[link]
        scale = row.scaling
        assert scale is not None
        if scale.lowest_tick is None or scale.highest_tick is None:
            assert row.lowest_us is row.highest_us is None
            continue
        assert tick_to_us(link, scale.lowest_tick) == row.lowest_us
        assert tick_to_us(link, scale.highest_tick) == row.highest_us


@given(st.sampled_from(SCALED), st.integers(0, 65_535))
def test_ticks_are_exact(link: str, tick: int) -> None:
    scale = LINKS[link].scaling
    assert scale is not None
    if scale.lowest_tick is not None and scale.highest_tick is not None:
        tick = scale.lowest_tick + tick % (scale.highest_tick - scale.lowest_tick + 1)
    us = tick_to_us(link, tick)
    # Against fractions: floats lose nothing, because every step divides by a power of two.
    assert Fraction(us) == Fraction(scale.offset_us) + tick * Fraction(scale.step_us)


# ---------------------------------------------------------------- time on the wire


@pytest.mark.parametrize(
    ("link", "baud", "largest", "us"),
    [
        # Source: {crsf} (416 666 baud 8N1, 26 bytes, 64 at most).
        ("crsf", None, False, 624),
        ("crsf", None, True, 1536),
        ("crsf-one-wire", None, False, 650),
        ("crsf-one-wire", None, True, 1600),
        # Source: {srxl2} (14 bytes and two for each of 16 channels, 80 at most, 8N1).
        ("srxl2", None, False, 3993),
        ("srxl2", 400_000, False, 1150),
        ("srxl2", None, True, 6944),
        # Sources: {sbus}, {interfacing}.
        ("sbus", None, False, 3000),
        ("sbus", 200_000, False, 1500),
        ("dsm", None, False, 1388.9),
        # Common practice.
        ("ibus", None, False, 2777.8),
        ("sumd", None, False, 3212),
        # From memory.
        ("fport", None, False, 2517.4),
    ],
)
def test_frame_times(link: str, baud: int | None, largest: bool, us: float) -> None:
    assert frame_time_us(link, baud, largest=largest) == pytest.approx(us, rel=1e-4)


def test_frames_that_grow_with_their_channels() -> None:
    # Common practice: SUMD is 3 + 2n + 2 bytes for n channels.  {srxl2}: 14 + 2n, 78 at most.
    for n in range(1, 33):
        assert frame_time_us("sumd", channels=n) == pytest.approx((3 + 2 * n + 2) * 1e7 / 115_200)
        assert frame_time_us("srxl2", channels=n) == pytest.approx((14 + 2 * n) * 1e7 / 115_200)
    assert frame_time_us("srxl2", channels=32) == pytest.approx(78 * 1e7 / 115_200)
    assert frame_time_us("sumd", largest=True) == frame_time_us("sumd", channels=32)
    assert frame_time_us("sbus", channels=8) == frame_time_us("sbus")


def test_frames_of_unknown_length_stay_unknown() -> None:
    assert frame_time_us("ppm") is None
    assert frame_time_us("fport", largest=True) is None


def test_answers_within_the_period() -> None:
    # From memory: a message of telemetry on SRXL2 has 22 bytes.  {crsf}: 64 at most.
    assert reply_time_us("srxl2") == pytest.approx(22 * 1e7 / 115_200)
    assert reply_time_us("srxl2", 400_000) == pytest.approx(550)
    assert reply_time_us("crsf-one-wire") == frame_time_us("crsf-one-wire", largest=True)
    # Whoever answers shares a wire.
    for name, row in LINKS.items():
        assert row.wires == "half duplex" or reply_time_us(name) == 0


def test_frames_against_periods() -> None:
    # Source: {crsf}, by arithmetic: no 500 Hz on 115 200 baud.
    slow = frame_time_us("crsf", 115_200)
    assert slow == pytest.approx(2257, abs=0.5)
    assert slow is not None
    assert slow > LINKS["crsf"].periods_us[0] == 2000
    # Source: {srxl2}: 16 channels fit in 5.5 ms at 115 200 baud, with the answer they do not.
    frame = frame_time_us("srxl2", 115_200)
    assert frame is not None
    assert frame < LINKS["srxl2"].periods_us[0] == 5500 < frame + reply_time_us("srxl2", 115_200)
    # Every frame fits its link's shortest usual period.
    for name, row in LINKS.items():
        time_us = frame_time_us(name)
        if time_us is not None:
            assert time_us < row.periods_us[0]


# Derived from the {crsf}: one frame of 64 bytes from each side.
@pytest.mark.parametrize(
    ("baud", "hz"), [(115_200, 90.0), (400_000, 312.5), (1_000_000, 781.25), (2_000_000, 1562.5)]
)
def test_one_wire_ceilings(baud: int, hz: float) -> None:
    assert one_wire_ceiling_hz(baud) == hz
    assert baud in LINKS["crsf-one-wire"].bauds
    both_us = frame_time_us("crsf-one-wire", baud, largest=True)
    assert both_us is not None
    assert 1e6 / (2 * both_us) == pytest.approx(hz)


def test_one_wire_period_is_the_ceiling_at_the_usual_baud() -> None:
    row = LINKS["crsf-one-wire"]
    assert row.periods_us[0] == pytest.approx(1e6 / one_wire_ceiling_hz(row.bauds[0]))


# Common practice.
def test_a_sum_of_pulses_takes_22_5_ms() -> None:
    assert LINKS["ppm"].periods_us == (22_500,)


# ---------------------------------------------------------------- baud


# Source: {usart}: 8 bits -4.64/+4.58 %, recommended
# ±2.0 %; 9 bits -4.19/+4.14 %, recommended ±1.5 %.
@pytest.mark.parametrize(
    ("bits", "percent", "verdict"),
    [
        (8, 2.0, "good"),
        (8, -2.0, "good"),
        (8, 2.01, "limit"),
        (8, -2.01, "limit"),
        (8, 4.57, "limit"),
        (8, -4.63, "limit"),
        (8, 4.59, "fails"),
        (8, -4.65, "fails"),
        (9, 1.5, "good"),
        (9, -1.5, "good"),
        (9, 1.51, "limit"),
        (9, -1.51, "limit"),
        (9, 4.13, "limit"),
        (9, -4.18, "limit"),
        (9, 4.15, "fails"),
        (9, -4.20, "fails"),
    ],
)
def test_baud_tolerance(bits: int, percent: float, verdict: str) -> None:
    assert baud_within(100_000 + 1000 * percent, 100_000, bits) == verdict


# Source: as above, applied to bauds met on receiver links.
@pytest.mark.parametrize(
    ("actual", "wanted", "bits", "verdict"),
    [
        (420_000, 416_666, 8, "good"),
        (420_000, 400_000, 8, "fails"),
        (416_666, 400_000, 8, "limit"),
        (416_666, 400_000, 9, "fails"),
        (115_200, 125_000, 8, "fails"),
        (100_000, 115_200, 8, "fails"),
        (115_200, 115_200, 8, "good"),
    ],
)
def test_bauds_of_links(actual: int, wanted: int, bits: int, verdict: str) -> None:
    assert baud_within(actual, wanted, bits) == verdict


@pytest.mark.parametrize(
    ("link", "actual", "verdict"),
    [
        ("crsf", 420_000, "good"),
        ("crsf", 400_000, "limit"),
        ("crsf", 115_200, "fails"),
        ("crsf-one-wire", 420_000, "fails"),
        ("crsf-one-wire", 416_666, "limit"),
        ("crsf-one-wire", 1_000_000, "good"),
        ("dsm", 125_000, "fails"),
        ("dsm", 120_000, "limit"),
        ("sbus", 100_000, "good"),
        ("sbus", 115_200, "fails"),
        ("ppm", 115_200, None),
    ],
)
def test_best_verdict_over_the_bauds_of_a_link(link: str, actual: int, verdict: str | None) -> None:
    assert link_baud_within(link, actual) == verdict


# Common practice: receivers that run at a speed which the description of their link lacks.
@pytest.mark.parametrize(
    ("link", "port", "verdict"),
    [
        ("crsf-one-wire", 420_000, "good"),
        ("sbus", 200_000, "good"),
        ("dsm", 125_000, "good"),
        ("sbus", 100_000, "fails"),
        ("crsf", 420_000, None),
    ],
)
def test_speeds_that_are_met_besides(link: str, port: int, verdict: str | None) -> None:
    assert link_baud_within(link, port, met=True) == verdict


def test_the_port_is_the_receiving_end() -> None:
    # {usart}: the error is that of the sender against the receiver, and its limits are not even.
    # 416 666 baud heard at 436 800 is 4.61 % slow, which is within the limit of -4.64 %; the
    # other way round it would be 4.83 % fast.
    assert baud_within(416_666, 436_800) == "limit"
    assert baud_within(436_800, 416_666) == "fails"
    assert link_baud_within("crsf", 436_800) == "limit"


@given(st.integers(1, 4_000_000), st.sampled_from([8, 9]))
def test_every_baud_agrees_with_itself_and_never_with_its_double(baud: int, bits: int) -> None:
    assert baud_within(baud, baud, bits) == "good"
    assert baud_within(2 * baud, baud, bits) == "fails"
    assert baud_within(baud, 2 * baud, bits) == "fails"


@given(st.integers(1, 4_000_000), st.integers(1, 4_000_000))
def test_a_ninth_bit_never_forgives_more(actual: int, wanted: int) -> None:
    order = ["good", "limit", "fails"]
    eight, nine = baud_within(actual, wanted, 8), baud_within(actual, wanted, 9)
    assert order.index(eight) <= order.index(nine)


# ---------------------------------------------------------------- the wire itself


def test_idle_level_and_wires() -> None:
    # Sources: {crsf}, {srxl2}, {sbus} and {fport}; PPM is common practice; the others from memory.
    assert {name: row.idle_inverted for name, row in LINKS.items()} == {
        "sbus": True,
        "crsf": False,
        "crsf-one-wire": None,
        "ibus": False,
        "dsm": False,
        "srxl2": False,
        "sumd": False,
        "fport": True,
        "ppm": None,
    }
    half = {name for name, row in LINKS.items() if row.wires == "half duplex"}
    assert half == {"crsf-one-wire", "srxl2", "fport"}
    assert {name for name, row in LINKS.items() if row.wires == "full duplex"} == {"crsf"}


def test_bits_of_a_byte() -> None:
    # 8E2 is a start bit, eight data, a parity and two stop bits; 8N1 ten in all.
    assert (LINKS["sbus"].wire_bits, LINKS["sbus"].data_bits) == (12, 9)
    for name, row in LINKS.items():
        if name not in ("sbus", "ppm"):
            assert (row.wire_bits, row.data_bits) == (10, 8)


def test_payloads_hold_the_channels() -> None:
    # {sbus}, {crsf}: sixteen channels of eleven bits are 22 bytes; on/off channels are flags.
    for name, around in (("sbus", 3), ("crsf", 4), ("crsf-one-wire", 4)):
        row = LINKS[name]
        eleven_bits = row.channels_a_frame - len(row.channels.on_off)
        assert row.frame_bytes == eleven_bits * 11 // 8 + around
    assert LINKS["dsm"].channels_a_frame < LINKS["dsm"].channels.sure


# Sources: {sbus}, {fport}, {srxl2}, {interfacing}; {crsf} for its 16; SUMD, iBUS and PPM are common
# practice.
def test_how_many_channels_a_link_carries() -> None:
    assert {name: row.channels[:3] for name, row in LINKS.items()} == {
        "sbus": (18, 18, (17, 18)),
        "crsf": (16, 32, ()),
        "crsf-one-wire": (16, 32, ()),
        "ibus": (14, None, ()),
        "dsm": (12, 20, ()),
        "srxl2": (32, 32, ()),
        "sumd": (16, 32, ()),
        "fport": (18, 18, (17, 18)),
        "ppm": (8, None, ()),
    }


def test_the_margin_to_an_edge_is_far_more_than_a_channel_wanders_at_rest() -> None:
    # {recorded}: 0.2 to 0.9 µs standard deviation.
    assert EDGE_MARGIN_US >= 24 * 0.9


# ---------------------------------------------------------------- misuse


@pytest.mark.parametrize(
    "ask",
    [
        lambda: frame_time_us("string"),
        lambda: link_baud_within("string", 9600),
    ],
)
def test_an_unknown_link_is_named_with_those_there_are(ask: object) -> None:
    assert callable(ask)
    with pytest.raises(ValueError, match=r"no receiver link is called 'string'; known: sbus, "):
        ask()


@pytest.mark.parametrize("baud", [0, -115_200])
def test_impossible_bauds_are_refused(baud: int) -> None:
    for ask in (
        lambda: frame_time_us("sbus", baud),
        lambda: baud_within(baud, 9600),
        lambda: baud_within(9600, baud),
        lambda: link_baud_within("ppm", baud),
        lambda: one_wire_ceiling_hz(baud),
    ):
        with pytest.raises(ValueError, match="must be above 0"):
            ask()


def test_tolerance_for_other_bits_is_refused() -> None:
    with pytest.raises(ValueError, match="no baud tolerance is known for 7 bits"):
        baud_within(9600, 9600, 7)


@pytest.mark.parametrize("channels", [0, 33])
def test_channels_that_a_link_does_not_carry_are_refused(channels: int) -> None:
    with pytest.raises(ValueError, match="SUMD carries 1 to 32 channels"):
        frame_time_us("sumd", channels=channels)
