"""Setups of craft that nobody flies, but somebody could: sound, and each a little different."""

from __future__ import annotations

from random import Random
from typing import Any

from cfglint.craft.settings import MODES
from invent.model import Link, Range, Truth

NAMES = (
    "Heron", "Moth", "Kestrel", "Wren", "Sable", "Pike", "Ember", "Thistle", "Gannet", "Fern",
    "Otter", "Swift", "Juniper", "Mallow", "Stoat", "Petrel", "Bramble", "Linnet", "Tern", "Vole",
    "Grey Tern", "Old Pike", "Little Moth", "Field Wren", "Two Otters",
)  # fmt: skip
SPEEDS = {
    "sbus": 100000, "crsf": 420000, "crsf-one-wire": 400000, "ibus": 115200, "dsm": 115200,
    "srxl2": 115200, "sumd": 115200, "fport": 115200, "ppm": 115200,
}  # fmt: skip
#: Full, warning and empty, V a cell.
CELLS = {"lipo": (4.2, 3.6, 3.4), "lihv": (4.35, 3.7, 3.4), "li-ion": (4.2, 3.2, 2.8),
         "life": (3.6, 2.9, 2.6)}  # fmt: skip
#: Output powers in mW.
POWERS = (10, 40, 130, 320, 500, 900)


def draw_zones(rng: Random) -> tuple[tuple[int, int], ...]:
    """Where a switch of three positions has its ranges, this craft's own way: not from end to end,
    and with or without gaps between.
    """
    low = rng.randrange(780, 960, 10)
    edges = (rng.randrange(1210, 1420, 10), rng.randrange(1580, 1800, 10))
    gaps = [rng.choice((0, 0, 10, 30, 60, 90)) for _ in edges]
    high = rng.randrange(2050, 2240, 10)
    return ((low, edges[0]), (edges[0] + gaps[0], edges[1]), (edges[1] + gaps[1], high))


def draw_craft(rng: Random, *, channels: int, ports: int) -> Truth:
    """One craft's setup with everything a dialect might have a line for."""
    values: dict[str, Any] = {"craft.name": rng.choice(NAMES)}
    values.update(_drive(rng))
    values.update(_receiver(rng, channels, ports))
    values.update(_failsafe(rng, channels))
    values.update(_battery(rng))
    values.update(_ports(rng, ports, values))
    values["video.frequency_mhz"] = float(rng.choice((1280, 2414, *range(5645, 5946, 20))))
    values["video.power_mw"] = float(rng.choice(POWERS))
    values["self-right.power_percent"] = float(rng.randrange(18, 64))
    values["log.on"] = rng.random() < 0.5
    ranges, links = _modes(rng, channels)
    return Truth(values, ranges, links)


def _drive(rng: Random) -> dict[str, Any]:
    signal = rng.choices(
        ("dshot300", "dshot600", "dshot150", "dshot1200", "multishot", "oneshot125", "oneshot42",
         "brushed", "servo-pwm"),
        weights=(30, 30, 8, 3, 5, 7, 4, 8, 5),
    )[0]  # fmt: skip
    return {
        "motor.signal": signal,
        "motor.two_way": signal.startswith("dshot") and rng.random() < 0.6,
        "motor.idle_percent": rng.randrange(35, 90) / 10,
        "motor.pulse_stop_us": float(rng.randrange(880, 1010, 5)),
        "motor.pulse_min_us": float(rng.randrange(1015, 1150, 5)),
        "motor.pulse_max_us": float(rng.randrange(1820, 2060, 5)),
        "motor.rate_hz": float(rng.choice((250, 400, 1200, 1600, 2500, 5000, 12500, 20000))),
        "motor.poles": 2 * rng.randrange(5, 15),
        "loop.rate_hz": float(rng.choice((1000, 1250, 1600, 2000, 2500, 3125, 4000, 5000, 6250))),
    }


def _receiver(rng: Random, channels: int, ports: int) -> dict[str, Any]:
    link = rng.choices(tuple(SPEEDS), weights=(24, 34, 5, 10, 6, 5, 4, 6, 6))[0]
    values: dict[str, Any] = {
        "receiver.link": link,
        "receiver.port": rng.randrange(1, ports + 1),
        "receiver.baud": float(SPEEDS[link]),
        "receiver.inverted": rng.random() < 0.4,
        "receiver.half_duplex": link in ("fport", "srxl2", "crsf-one-wire"),
        "receiver.channel_order": rng.choice(("AETR", "AETR", "TAER", "RETA", "AERT", "TEAR")),
        "stick.low_us": float(rng.randrange(1030, 1180, 4)),
        "stick.high_us": float(rng.randrange(1830, 1978, 4)),
        "stick.centre_us": float(rng.randrange(1486, 1522)),
        "stick.dead_band_us": float(rng.randrange(0, 21)),
    }
    plain = rng.random() < 0.3
    low, high = rng.randrange(980, 1030), rng.randrange(1970, 2025)
    for number in range(1, channels + 1):
        bend = 0 if plain else 8
        values[f"channel.{number}.low_us"] = float(low + rng.randint(-bend, bend))
        values[f"channel.{number}.mid_us"] = float(1500 + rng.randint(-bend, bend))
        values[f"channel.{number}.high_us"] = float(high + rng.randint(-bend, bend))
    return values


def _failsafe(rng: Random, channels: int) -> dict[str, Any]:
    values: dict[str, Any] = {
        "failsafe.action": rng.choices(
            ("stop", "descend", "return-home", "hold-last", "none"), weights=(50, 24, 14, 5, 7)
        )[0],
        "failsafe.delay_s": rng.randrange(2, 42) / 10,
        "failsafe.throttle_us": float(rng.randrange(1020, 1400, 10)),
    }
    for number in range(1, channels + 1):
        values[f"failsafe.channel.{number}"] = rng.choice(
            ("hold", "drop", "hold", str(rng.randrange(1000, 2001, 50)))
        )
    return values


def _battery(rng: Random) -> dict[str, Any]:
    chemistry = rng.choices(tuple(CELLS), weights=(60, 16, 20, 4))[0]
    full, warn, empty = CELLS[chemistry]
    return {
        "battery.chemistry": chemistry,
        "battery.cells": rng.choice((0, 1, 2, 3, 4, 4, 6, 6)),
        "battery.full_v": round(full - rng.randrange(0, 9) / 100, 2),
        "battery.warn_v": round(warn + rng.randrange(-4, 9) / 100, 2),
        "battery.empty_v": round(empty + rng.randrange(-12, 10) / 100, 2),
    }


def _ports(rng: Random, ports: int, values: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    others = ["telemetry", "esc-telemetry", "gps", "video-control", "camera-control", "log",
              "console", "lights", "rangefinder"]  # fmt: skip
    rng.shuffle(others)
    for number in range(1, ports + 1):
        functions: frozenset[str] = frozenset()
        baud = 115200
        if number == values["receiver.port"]:
            functions = frozenset({"receiver"})
            baud = int(values["receiver.baud"])
            if rng.random() < 0.25:
                functions |= {"telemetry"}
        elif rng.random() < 0.7 and others:
            functions = frozenset({others.pop()})
            baud = rng.choice((9600, 19200, 38400, 57600, 115200, 115200, 250000))
            if rng.random() < 0.12 and others:
                functions |= {others.pop()}
        found[f"port.{number}.functions"] = functions
        found[f"port.{number}.baud"] = float(baud)
        found[f"port.{number}.inverted"] = rng.random() < 0.12
        found[f"port.{number}.half_duplex"] = rng.random() < 0.12
    return found


def _modes(rng: Random, channels: int) -> tuple[tuple[Range, ...], tuple[Link, ...]]:
    extra = [mode for mode in MODES if mode != "arm"]
    weights = [3 if mode in ("self-right", "self-level", "beacon") else 1 for mode in extra]
    chosen = ["arm"]
    while len(chosen) < rng.choice((4, 5, 6, 7)):
        mode = rng.choices(extra, weights=weights)[0]
        if mode not in chosen:
            chosen.append(mode)
    ranges: list[Range] = []
    free = list(range(5, channels + 1))
    rng.shuffle(free)
    thirds = draw_zones(rng)
    for place, mode in enumerate(chosen):
        channel = free[place % len(free)]
        zones = [rng.choice(thirds)]
        if rng.random() < 0.1:
            zones = [thirds[0], thirds[2]]
        for low, high in zones:
            shift = rng.choice((0, 0, 0, 20, 40, -20))
            top = high + min(shift, 0)
            ranges.append((mode, channel, float(low + max(shift, 0)), float(top), "any"))
    last = ranges[-1]
    if rng.random() < 0.2 and [row[0] for row in ranges].count(last[0]) == 1:
        second = rng.choice([one for one in range(5, channels + 1) if one != last[1]])
        ranges[-1:] = [
            (*last[:4], "all"),
            (last[0], second, float(thirds[1][0]), float(thirds[2][1]), "all"),
        ]
    links: list[Link] = []
    if rng.random() < 0.3:
        spare = [mode for mode in MODES if mode not in chosen]
        links.append((rng.choice(spare), rng.choice(chosen), "any"))
    return tuple(ranges), tuple(links)
