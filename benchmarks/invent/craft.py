"""Setups of craft that nobody flies, but somebody could: sound, and each a little different."""

from __future__ import annotations

from random import Random
from typing import Any, NamedTuple

from .words import CALLED, FUNCTIONS, MODES, VALUES, Half, choices

SPEEDS = (9600, 19200, 38400, 57600, 115200, 230400, 400000)
#: Full, warning and empty, V a cell.
CELLS = {"lipo": (4.2, 3.6, 3.4), "lihv": (4.35, 3.7, 3.4), "li-ion": (4.2, 3.2, 2.8),
         "life": (3.6, 2.9, 2.6)}  # fmt: skip
#: Ends in whole hundreds: every author draws its own.
TAKEN = frozenset(range(800, 2300, 100))


class Range(NamedTuple):
    mode: str
    channel: int
    low: int
    high: int
    join: str


class Craft(NamedTuple):
    values: dict[str, Any]
    ports: int
    channels: int
    ranges: list[Range]
    links: list[tuple[str, str]]


def draw_craft(rng: Random, half: Half, ports: int, channels: int) -> Craft:
    """One craft's setup with everything that a dialect might have a line for."""
    link = rng.choice(tuple(VALUES["receiver.link"]))
    chemistry = rng.choice(tuple(CELLS))
    full, warn, empty = CELLS[chemistry]
    signal = rng.choice(tuple(VALUES["motor.signal"]))
    values: dict[str, Any] = {
        "craft.name": rng.choice(choices(CALLED, half)),
        "motor.signal": signal,
        "motor.two_way": signal.startswith("dshot") and rng.random() < 0.6,
        "motor.idle_percent": rng.randrange(32, 91) / 10,
        "motor.pulse_stop_us": rng.randrange(871, 1009),
        "motor.pulse_min_us": rng.randrange(1013, 1149),
        "motor.pulse_max_us": rng.randrange(1821, 2059),
        "motor.rate_hz": rng.choice((230, 410, 520, 1150, 1700, 2600, 5200, 11500)),
        "motor.poles": 2 * rng.randrange(5, 15),
        "loop.rate_hz": rng.choice((1250, 1600, 2500, 3125, 4000, 5000, 6250)),
        "receiver.link": link,
        "receiver.port": rng.randrange(1, ports + 1),
        "receiver.baud": 420000 if link == "crsf" else rng.choice((100000, *SPEEDS[4:])),
        "receiver.inverted": rng.random() < 0.5,
        "receiver.half_duplex": rng.random() < 0.4,
        "receiver.channel_order": "".join(rng.sample("AETR", 4)),
        "stick.low_us": rng.randrange(1031, 1180),
        "stick.high_us": rng.randrange(1831, 1978),
        "stick.centre_us": rng.randrange(1486, 1522),
        "stick.dead_band_us": rng.randrange(2, 24),
        "failsafe.action": rng.choice(tuple(VALUES["failsafe.action"])),
        "failsafe.delay_s": rng.randrange(3, 42) / 10,
        "failsafe.throttle_us": rng.randrange(1052, 1400),
        "battery.chemistry": chemistry,
        "battery.cells": rng.choice((1, 2, 3, 4, 5, 6, 8)),
        "battery.full_v": round(full - rng.randrange(9) / 100, 2),
        "battery.warn_v": round(warn + rng.randrange(-4, 9) / 100, 2),
        "battery.empty_v": round(empty + rng.randrange(-12, 10) / 100, 2),
        "video.frequency_mhz": rng.randrange(5653, 5939),
        "video.power_mw": rng.randrange(12, 880),
        "self-right.power_percent": rng.randrange(18, 74),
        "log.on": rng.random() < 0.5,
    }
    others = [name for name in FUNCTIONS if name != "receiver"]
    rng.shuffle(others)
    for number in range(1, ports + 1):
        uses = ["receiver"] if number == values["receiver.port"] else []
        if not uses or rng.random() < 0.2:
            uses += [others.pop() for _ in range(rng.choice((0, 1, 1, 1, 2))) if others]
        baud, wire = rng.choice(SPEEDS), rng.random() < 0.2
        if "receiver" in uses:
            baud, wire = values["receiver.baud"], values["receiver.half_duplex"]
        values[f"port.{number}.functions"] = uses
        values[f"port.{number}.baud"] = baud
        values[f"port.{number}.inverted"] = rng.random() < 0.2
        values[f"port.{number}.half_duplex"] = wire
    for number in range(1, channels + 1):
        values[f"channel.{number}.low_us"] = rng.randrange(961, 1049)
        values[f"channel.{number}.mid_us"] = rng.randrange(1483, 1519)
        values[f"channel.{number}.high_us"] = rng.randrange(1957, 2041)
        values[f"failsafe.channel.{number}"] = rng.choice(
            ("hold", "drop", "hold", rng.randrange(1011, 1999))
        )
    ranges, links = _modes(rng, channels)
    return Craft(values, ports, channels, ranges, links)


def _ends(rng: Random) -> tuple[int, int]:
    """A range's ends, anywhere that a switch could stand."""
    while True:
        low = rng.randrange(757, 1893)
        high = low + rng.randrange(168, 640)
        if high < 2247 and not TAKEN & {low, high}:
            return low, high


def _modes(rng: Random, channels: int) -> tuple[list[Range], list[tuple[str, str]]]:
    chosen = ["arm", *rng.sample([mode for mode in MODES if mode != "arm"], rng.randrange(4, 8))]
    ranges = []
    for mode in chosen:
        kind = rng.random()
        channel = rng.randrange(5, channels + 1)
        if kind < 0.12:
            other = rng.choice([one for one in range(5, channels + 1) if one != channel])
            ranges += [Range(mode, one, *_ends(rng), "all") for one in (channel, other)]
        elif kind < 0.24:
            edge = rng.randrange(1213, 1477)
            ranges += [
                Range(mode, channel, rng.randrange(757, 893), edge, "any"),
                Range(mode, channel, edge + rng.randrange(140, 400), 2231 - edge % 90, "any"),
            ]
        else:
            ranges.append(Range(mode, channel, *_ends(rng), "any"))
    links = []
    if rng.random() < 0.5:
        spare = [mode for mode in MODES if mode not in chosen]
        links.append((rng.choice(spare), rng.choice(chosen[1:])))
    return ranges, links
