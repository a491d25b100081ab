"""Motor signals: what a flight controller sends an ESC, and how long one command takes.

Times are microseconds, rates hertz.  Functions take a signal's id and raise ValueError for an
id that is not in :data:`SIGNALS`.
"""

from __future__ import annotations

from typing import NamedTuple

from cfglint.facts.table import Mark, row_of


class Signal(NamedTuple):
    """One motor signal.

    ``pulse_low_us`` and ``pulse_high_us`` are the pulse for stop and for full throttle (None
    where throttle is not a pulse length).  ``command_us`` is the time of the longest command
    by itself, without any gap (None where there are no separate commands).  ``bit_rate`` and
    ``gap_bits``, the pause kept between two frames, are 0 for signals that are not digital.
    ``rate_cap_hz`` is a limit in use below the one that arithmetic gives.
    Only digital signals carry commands besides throttle, such as turning a motor backwards,
    and only they can be two-way; that a signal could does not mean that an ESC does.
    """

    id: str
    title: str
    digital: bool
    pulse_low_us: float | None
    pulse_high_us: float | None
    command_us: float | None
    bit_rate: int
    gap_bits: int
    rate_cap_hz: float | None
    source: str
    mark: Mark


#: One digital frame: 11 bits value, 1 bit telemetry request, 4 bits check.
#: Source: {digital-example}.
FRAME_BITS = 16
#: The published example ({digital-example}) leaves 50 µs between frames; no least pause is
#: published, and two bit times are the least in use (common practice).
EXAMPLE_GAP_US = 50.0
GAP_BITS = 2
#: Values of a digital frame: stop, commands, throttle (2000 steps).  From memory.
STOP_VALUE = 0
COMMAND_VALUES = range(1, 48)
THROTTLE_VALUES = range(48, 2048)

#: The ESC's reply on the same wire: pause before it, its bits, its speed against the frame's.
#: The speed is from memory, so a rule that rests on a two-way time should only advise.
TURN_ROUND_US = 30.0
REPLY_BITS = 21
REPLY_SPEED = 5 / 4
TWO_WAY_SOURCE = "pause and bits of the reply: {digital-libraries}; its speed: from memory"
TWO_WAY_MARK: Mark = "from memory"

_PRACTICE = "common practice"


def _pulse(
    row_id: str, title: str, low_us: float, high_us: float, cap_hz: float | None = None
) -> Signal:
    return Signal(
        row_id, title, False, low_us, high_us, high_us, 0, 0, cap_hz, _PRACTICE, "common practice"
    )


def _digital(row_id: str, title: str, bit_rate: int) -> Signal:
    return Signal(
        row_id,
        title,
        True,
        None,
        None,
        FRAME_BITS * 1e6 / bit_rate,
        bit_rate,
        GAP_BITS,
        None,
        "frame and check: {digital-example}; bit rate: {digital-libraries}; least gap between "
        "frames: common practice",
        "common practice",
    )


#: In alphabetical order of families.  No code number is made of a signal's place in it.
SIGNALS: dict[str, Signal] = {
    row.id: row
    for row in (
        Signal(
            "brushed",
            "brushed duty",
            False,
            None,
            None,
            None,
            0,
            0,
            None,
            _PRACTICE,
            "common practice",
        ),
        _digital("dshot150", "DShot150", 150_000),
        _digital("dshot300", "DShot300", 300_000),
        _digital("dshot600", "DShot600", 600_000),
        _digital("dshot1200", "DShot1200", 1_200_000),
        _pulse("multishot", "Multishot", 5, 25),
        _pulse("oneshot42", "OneShot42", 42, 84),
        _pulse("oneshot125", "OneShot125", 125, 250),
        # 1e6 / 2100 Hz, not 500: between two pulses of full length the line must be low, here
        # for a twentieth of a pulse.
        _pulse("servo-pwm", "servo PWM", 1000, 2000, 476),
    )
}


def command_time_us(signal: str, two_way: bool = False) -> float | None:
    """Time of one command in µs, without the gap that follows it.

    With ``two_way`` it lasts until the ESC's reply has ended: frame, turn-round of about
    30 µs, 21 bits at 5/4 of the bit rate (see ``TWO_WAY_SOURCE``).  None where there is no
    such thing: brushed duty has no separate commands, and only digital signals can be two-way.
    """
    row = row_of(SIGNALS, signal, "motor signal")
    if not two_way:
        return row.command_us
    if row.command_us is None or not row.digital:
        return None
    return row.command_us + TURN_ROUND_US + REPLY_BITS * 1e6 / (row.bit_rate * REPLY_SPEED)


def highest_rate_hz(signal: str, two_way: bool = False) -> float | None:
    """Most commands a second that fit on the wire, the gap of a digital signal included.

    A control loop faster than this outruns the signal.  None as in :func:`command_time_us`.
    """
    row = row_of(SIGNALS, signal, "motor signal")
    time_us = command_time_us(signal, two_way)
    if time_us is None:
        return None
    if row.digital:
        time_us += row.gap_bits * 1e6 / row.bit_rate
    rate_hz = 1e6 / time_us
    return rate_hz if row.rate_cap_hz is None else min(rate_hz, row.rate_cap_hz)


def digital_check(payload: int) -> int:
    """The check nibble over the 12 bits ``value · 2 + telemetry``: their three nibbles xored.

    Raises ValueError outside 0–4095.  Source: {digital-example}.
    """
    if not 0 <= payload <= 0xFFF:
        raise ValueError(f"payload {payload} does not fit in 12 bits (0-4095)")
    return (payload ^ payload >> 4 ^ payload >> 8) & 0xF


def digital_frame(value: int, telemetry: bool = False) -> int:
    """The 16 bits of a one-way frame, sent highest bit first.

    Raises ValueError for a value outside 0–2047.
    Source: {digital-example}.
    """
    if not 0 <= value <= 0x7FF:
        raise ValueError(f"value {value} does not fit in 11 bits (0-2047)")
    payload = value << 1 | bool(telemetry)
    return payload << 4 | digital_check(payload)
