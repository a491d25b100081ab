"""Motor signals against published frames and the arithmetic of pulse lengths."""

from __future__ import annotations

import pytest

from cfglint.craft import settings
from cfglint.facts.signals import (
    GAP_BITS,
    SIGNALS,
    command_time_us,
    highest_rate_hz,
)

DIGITAL = [name for name, row in SIGNALS.items() if row.digital]
ANALOGUE = [name for name, row in SIGNALS.items() if not row.digital]


def test_the_table_has_exactly_the_signals_that_a_setting_can_name() -> None:
    assert tuple(SIGNALS) == settings.SIGNALS
    assert all(row.id == name for name, row in SIGNALS.items())


# 16 bits at the bit rate: {digital-example} for the frame; the rates by name, common practice.
@pytest.mark.parametrize(
    ("signal", "frame_us", "ceiling_hz"),
    [
        ("dshot150", 106.67, 9375),
        ("dshot300", 53.33, 18_750),
        ("dshot600", 26.67, 37_500),
        ("dshot1200", 13.33, 75_000),
    ],
)
def test_digital_frame_times(signal: str, frame_us: float, ceiling_hz: float) -> None:
    time_us = command_time_us(signal)
    assert time_us == pytest.approx(frame_us, abs=0.005)
    assert time_us is not None
    assert 1e6 / time_us == pytest.approx(ceiling_hz)
    # With the gap of two bits (common practice) 18 bit times pass between frames.
    assert GAP_BITS >= 2
    # The 50 µs of the example ({digital-example}) are more than that at every speed.
    assert GAP_BITS * 1e6 / SIGNALS[signal].bit_rate < 50
    assert highest_rate_hz(signal) == pytest.approx(ceiling_hz * 16 / 18)


# Common practice: pulse lengths, and 1 / longest pulse; servo PWM is held to 476 Hz.
@pytest.mark.parametrize(
    ("signal", "low_us", "high_us", "rate_hz"),
    [
        ("servo-pwm", 1000, 2000, 476),
        ("oneshot125", 125, 250, 4000),
        ("oneshot42", 42, 84, 11_905),
        ("multishot", 5, 25, 40_000),
    ],
)
def test_pulse_signals(signal: str, low_us: float, high_us: float, rate_hz: float) -> None:
    row = SIGNALS[signal]
    assert (row.pulse_low_us, row.pulse_high_us) == (low_us, high_us)
    assert command_time_us(signal) == high_us
    assert highest_rate_hz(signal) == pytest.approx(rate_hz, abs=0.5)


def test_servo_pwm_keeps_a_rest_between_two_full_pulses() -> None:
    # A twentieth of the pulse: at 476 Hz the period is 2101 µs against a pulse of 2000 µs.
    rate_hz = highest_rate_hz("servo-pwm")
    assert rate_hz is not None
    assert 1e6 / rate_hz == pytest.approx(2100.8, abs=0.05)


def test_brushed_duty_has_no_commands_to_time() -> None:
    assert command_time_us("brushed") is None
    assert highest_rate_hz("brushed") is None


@pytest.mark.parametrize("signal", ANALOGUE)
def test_only_digital_signals_can_be_two_way(signal: str) -> None:
    assert command_time_us(signal, two_way=True) is None
    assert highest_rate_hz(signal, two_way=True) is None


@pytest.mark.parametrize("signal", DIGITAL)
def test_a_reply_costs_about_as_much_time_again_or_more(signal: str) -> None:
    one_way, two_way = command_time_us(signal), command_time_us(signal, two_way=True)
    assert one_way is not None
    assert two_way is not None
    assert two_way > 2 * one_way
    # From memory: 30 µs, then 21 bits at 5/4 of the bit rate (1.05 times the 16 of the frame).
    assert two_way - one_way == pytest.approx(30 + one_way * 21 / 20)


# By hand: 16 bits, 30 µs, 21 bits at 5/4 of the rate and a gap of two bits are 146 and 88 µs.
@pytest.mark.parametrize(
    ("signal", "fits_hz", "too_fast_hz"), [("dshot300", 6840, 6860), ("dshot600", 11_350, 11_380)]
)
def test_two_way_rates(signal: str, fits_hz: float, too_fast_hz: float) -> None:
    rate_hz = highest_rate_hz(signal, two_way=True)
    assert rate_hz is not None
    assert fits_hz < rate_hz < too_fast_hz


@pytest.mark.parametrize("ask", [command_time_us, highest_rate_hz])
def test_an_unknown_signal_is_named_with_those_there_are(ask: object) -> None:
    assert callable(ask)
    with pytest.raises(ValueError, match=r"no motor signal is called 'smoke'; known: brushed, "):
        ask("smoke")
