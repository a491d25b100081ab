"""What a written number may be in neutral units: candidates of scale, offset and base.

A number alone rarely says its unit, but what a setting can sensibly be is narrow: 420 as a full
cell is 4.20 V in hundredths and nothing else.
"""

from __future__ import annotations

import re
from math import log
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Line speeds in common use: those that POSIX and Linux name (termios.h, from 1200 on), those of
#: the receiver links, and even parts of a megahertz; the last two common practice.
BAUDS = (
    1200, 1800, 2400, 4800, 9600, 14400, 19200, 28800, 31250, 38400, 57600, 62500, 76800, 100000,
    111111, 115200, 125000, 187500, 200000, 230400, 250000, 400000, 416666, 416667, 420000, 460800,
    500000, 576000, 921600, 1000000, 1152000, 1500000, 2000000, 2500000, 3000000, 3500000, 4000000,
)  # fmt: skip

_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")


class Reading(NamedTuple):
    """One way to understand written numbers: codec keys, how plausible (0 to 1), and a note."""

    codec: dict[str, Any]
    fit: float
    note: str


class Sense(NamedTuple):
    """What a numeric setting can sensibly be, in its neutral unit.

    ``wide`` bounds what craft of all makes have.  ``scales`` are the factors tried, by unit of
    the written number; the first is the neutral unit itself.
    """

    wide: tuple[float, float]
    scales: tuple[tuple[str, float], ...]
    over: float = 0


_PULSE = (("us", 1.0), ("tenths", 0.1), ("ns", 0.001))
_VOLT = (("v", 1.0), ("tenths", 0.1), ("hundredths", 0.01), ("mv", 0.001))
_PERCENT = (("percent", 1.0), ("permille", 0.1), ("hundredths", 0.01), ("fraction", 100.0))
_SECONDS = (("s", 1.0), ("tenths", 0.1), ("hundredths", 0.01), ("ms", 0.001))
_DEGREES = (("deg", 1.0),)
_HERTZ = (("hz", 1.0), ("khz", 1000.0), ("hundreds", 100.0))

#: Common practice, all of it: wide enough for any craft, narrow enough to tell units apart.  No
#: value within is likelier than others by what some firmware has as its default.
SENSES: dict[str, Sense] = {
    "motor.idle_percent": Sense((0.8, 20), _PERCENT),
    "motor.pulse_stop_us": Sense((700, 1280), _PULSE),
    "motor.pulse_min_us": Sense((800, 1380), _PULSE),
    "motor.pulse_max_us": Sense((1640, 2300), _PULSE),
    "motor.rate_hz": Sense((25, 50000), _HERTZ),
    "motor.poles": Sense((2, 60), (("", 1.0),)),
    "loop.rate_hz": Sense((300, 40000), _HERTZ, 1_000_000),
    "channel.N.low_us": Sense((700, 1340), _PULSE),
    "channel.N.mid_us": Sense((1280, 1720), _PULSE),
    "channel.N.high_us": Sense((1660, 2300), _PULSE),
    "stick.low_us": Sense((860, 1380), _PULSE),
    "stick.high_us": Sense((1620, 2140), _PULSE),
    "stick.centre_us": Sense((1380, 1620), _PULSE),
    "stick.dead_band_us": Sense((0, 120), _PULSE[:1]),
    "failsafe.delay_s": Sense((0.02, 20), _SECONDS),
    "failsafe.throttle_us": Sense((780, 1840), _PULSE),
    "battery.cells": Sense((0, 16), (("", 1.0),)),
    "battery.full_v": Sense((3.4, 4.6), _VOLT),
    "battery.warn_v": Sense((2.4, 4.1), _VOLT),
    "battery.empty_v": Sense((2.2, 3.8), _VOLT),
    "video.frequency_mhz": Sense((900, 6200), (("mhz", 1.0), ("ghz", 1000.0))),
    "video.power_mw": Sense((1, 5000), (("mw", 1.0),)),
    "self-right.power_percent": Sense((4, 100), _PERCENT),
    "board.roll_deg": Sense((-180, 360), _DEGREES),
    "board.pitch_deg": Sense((-180, 360), _DEGREES),
    "board.yaw_deg": Sense((-180, 360), _DEGREES),
    "frame.motors": Sense((1, 12), (("", 1.0),)),
}

#: Names of units as a reason says them.
SAYS = {
    "tenths": "tenths",
    "hundredths": "hundredths",
    "hundreds": "hundreds",
    "period": "a period in µs",
    "us": "µs",
    "fraction": "fractions of one",
}


def numbers(written: Sequence[str]) -> list[float] | None:
    """The numbers of written texts; None if one of them is no number."""
    found = []
    for text in written:
        bare = text.strip().strip("\"'")
        if not _NUMBER.fullmatch(bare):
            return None
        found.append(float(bare))
    return found


def _near_middle(values: list[float], bounds: tuple[float, float]) -> float:
    """1 for values in the middle of what is sensible, 0.55 at its ends, 0 outside.

    The middle is that of factors: a unit that makes a value extreme is the less likely one.
    """
    if not all(bounds[0] - 1e-9 <= one <= bounds[1] + 1e-9 for one in values):
        return 0.0
    low, high = (log(max(bound, 0.01)) for bound in bounds)
    middle, half = (low + high) / 2, (high - low) / 2
    far = [abs(log(max(one, 0.01)) - middle) / half for one in values]
    return 1 - 0.45 * min(1.0, sum(far) / len(far))


def readings(setting: str, written: Sequence[str], unit: str = "") -> list[Reading]:
    """The ways in which written numbers can be a setting's, most plausible first.

    ``unit`` is what the name says of it (see :data:`cfglint.teach.words.UNITS`), ``""`` for
    nothing.
    """
    sense = SENSES.get(setting)
    values = numbers(written)
    if sense is None or values is None or not values:
        return []
    out: list[Reading] = []
    points = any("." in text for text in written)
    ways = [(name, {"scale": _neat(f)} if f != 1 else {}, [v * f for v in values])
            for name, f in sense.scales if points or name not in ("ghz", "fraction")]  # fmt: skip
    if sense.over and all(values):
        ways.append(("period", {"over": int(sense.over)}, [sense.over / v for v in values]))
    near = [_near_middle(read, sense.wide) for _, _, read in ways]
    for (name, codec, _), middling in zip(ways, near, strict=True):
        if not middling:
            continue
        fit = 0.92 * middling / max(near)
        if points and codec:
            # Who writes a point has no need of a smaller unit.
            fit *= 0.5 if codec.get("scale", 1) < 1 or "over" in codec else 0.95
        fit = _by_unit(fit, unit, name, setting)
        note = f"written in {SAYS.get(name, name)}" if codec else ""
        out.append(Reading(codec, fit, note.replace("in a period", "as a period")))
    if setting == "motor.poles" and unit == "pairs":
        out = [Reading({"scale": 2}, 0.95, "written in pairs")] if max(values) <= 24 else []
    if setting == "failsafe.throttle_us" and all(0 <= one <= 100 for one in values):
        # A share of the throttle's travel from 1000 to 2000 µs.
        fit = 0.85 if unit in ("", "percent") else 0.3
        out.append(Reading({"offset": 1000, "scale": 10}, fit, "percent of 1000 to 2000 µs"))
    out.sort(key=lambda row: -row.fit)
    return out


def _by_unit(fit: float, unit: str, name: str, setting: str) -> float:
    """How a unit in the name changes what is plausible."""
    if not unit:
        return fit
    same = unit == name or (unit == "us" and name == "period")
    if same:
        return min(1.0, fit + 0.3)
    if unit == "s" and setting != "failsafe.delay_s":
        return fit * (0.6 if setting in _OF_KIND else 1.0)  # a plural's letter, perhaps
    # Percent stands in names of whatever is a share, a unit of another kind in none but its own.
    return fit * (0.25 if unit in _SHARES or setting not in _OF_KIND else 0.1)


#: Units of shares, and settings whose units are of one kind, which their names may say.
_SHARES = frozenset(("percent", "permille", "tenths", "hundredths", "period", "us"))
_OF_KIND = frozenset(("motor.rate_hz", "loop.rate_hz", "video.frequency_mhz", "video.power_mw"))


def _neat(factor: float) -> int | float:
    return int(factor) if factor == int(factor) else factor


def baud_readings(written: Sequence[str]) -> list[Reading]:
    """The ways in which written numbers can be line speeds."""
    values = numbers(written)
    if not values:
        return []
    out = []
    for factor, note in ((1, ""), (100, "written in hundreds"), (1000, "written in thousands")):
        hits = [any(abs(one * factor - baud) <= 0.01 * baud for baud in BAUDS) for one in values]
        exact = [one * factor in BAUDS for one in values]
        if all(hits):
            fit = 0.6 + 0.35 * sum(exact) / len(exact)
            out.append(Reading({} if factor == 1 else {"scale": factor}, fit, note))
    return sorted(out, key=lambda row: -row.fit)
