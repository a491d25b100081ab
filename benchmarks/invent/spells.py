"""How values are written: scales, words, code numbers, bit masks; drawn, and put to use."""

from __future__ import annotations

from random import Random
from typing import Any, NamedTuple

from cfglint.craft.settings import show_number
from invent.craft import POWERS
from invent.model import Spell
from invent.shapes import Shape
from invent.words import VALUES, Half

BAUDS = (9600, 19200, 38400, 57600, 100000, 115200, 250000, 400000, 420000)


class Scale(NamedTuple):
    unit: str
    scale: float
    offset: float = 0
    places: int = 0
    over: float = 0


#: Kinds of numbers and how they may be written; the first is the commonest.
SCALES: dict[str, tuple[Scale, ...]] = {
    "volt": (
        Scale("v", 1, places=2),
        Scale("cv", 0.01),
        Scale("dv", 0.1),
        Scale("mv", 0.001),
        Scale("v", 1),
    ),
    "wait": (Scale("s", 1), Scale("ms", 0.001), Scale("ds", 0.1), Scale("s", 1, places=1)),
    "percent": (Scale("pct", 1), Scale("permille", 0.1), Scale("x100", 0.01)),
    "whole percent": (Scale("pct", 1),),
    "loop": (Scale("hz", 1), Scale("khz", 1000), Scale("period", 1, over=1_000_000)),
    "rate": (Scale("hz", 1), Scale("khz", 1000)),
    "pulse": (Scale("us", 1),),
    "throttle": (Scale("us", 1), Scale("us", 1), Scale("us", 1), Scale("pct", 10, 1000)),
    "plain": (Scale("", 1),),
    "mhz": (Scale("mhz", 1),),
    "mw": (Scale("mw", 1),),
}
QUANTITY: dict[str, str] = {
    "motor.idle_percent": "percent",
    "motor.pulse_stop_us": "pulse",
    "motor.pulse_min_us": "pulse",
    "motor.pulse_max_us": "pulse",
    "motor.rate_hz": "rate",
    "motor.poles": "plain",
    "loop.rate_hz": "loop",
    "channel.N.low_us": "pulse",
    "channel.N.mid_us": "pulse",
    "channel.N.high_us": "pulse",
    "stick.low_us": "pulse",
    "stick.high_us": "pulse",
    "stick.centre_us": "pulse",
    "stick.dead_band_us": "pulse",
    "failsafe.delay_s": "wait",
    "failsafe.throttle_us": "throttle",
    "battery.cells": "plain",
    "battery.full_v": "volt",
    "battery.warn_v": "volt",
    "battery.empty_v": "volt",
    "video.frequency_mhz": "mhz",
    "video.power_mw": "mw",
    "self-right.power_percent": "whole percent",
}


def draw_ends(rng: Random) -> Scale:
    """What the ends of mode ranges are written in: µs, percent, or steps drawn anew each time."""
    kind = rng.choices(("us", "step", "pct", "signed"), weights=(64, 24, 6, 6))[0]
    if kind == "step":
        return Scale("step", rng.choice((3, 4, 6, 7, 8, 9, 11, 12, 14, 16, 18, 22, 28)),
                     rng.randrange(600, 780, 4))  # fmt: skip
    return {"us": Scale("us", 1), "pct": Scale("pct", 10, 1000), "signed": Scale("pct", 5, 1500)}[
        kind
    ]


def number(scale: Scale) -> Spell:
    """The spelling of a number in one scale."""
    if scale.over:
        return Spell("over", {"over": scale.over}, over=scale.over, unit=scale.unit)
    keys: dict[str, Any] = {}
    if scale.scale != 1:
        keys["scale"] = scale.scale
    if scale.offset:
        keys["offset"] = scale.offset
    grid = 10.0**-scale.places if scale.places else 0
    if scale.scale != 1 and scale.unit != "khz":  # a rate in kHz may well have a fraction
        grid = scale.scale
    return Spell(
        "number",
        keys,
        scale=scale.scale,
        offset=scale.offset,
        places=scale.places,
        grid=grid,
        unit=scale.unit,
    )


def counting(base: int, first: int = 1) -> Spell:
    """The spelling of a number that counts from ``base`` where the neutral one is ``first``."""
    keys = {}
    if base != 1:
        keys["base"] = base
    if first != 1:
        keys["first"] = first
    return Spell("number", keys, base=base, first=first)


class Speller:
    """A dialect's habits of writing values, drawn once and used for all its settings."""

    def __init__(self, rng: Random, half: Half, shape: Shape, banned: str) -> None:
        self.rng = rng
        self.half: Half = half
        self.shape = shape
        seps = [one for one in ("", "_", "-") if not one or one not in banned + shape.divider]
        self.sep = rng.choice(seps)
        self.case = rng.choices(("lower", "upper", "title", "camel"), weights=(55, 18, 15, 12))[0]
        # Most makers write words for words; some write numbers nearly everywhere.
        self.numbers = rng.choice((0.0, 0.0, 0.0, 0.15, 0.75))
        self.scales = {kind: self._scale(rows) for kind, rows in SCALES.items()}
        self.number_base = rng.choices((1, 0), weights=(75, 25))[0]
        self.channel_base = rng.choices((1, 0), weights=(72, 28))[0]
        self.masks = rng.random() < 0.35 * bool(self.numbers) + 0.06
        self.baud = rng.choices(("plain", "index", "hundreds"), weights=(82, 10, 8))[0]
        self.levels = rng.random() < 0.12
        self.quotes = rng.random() < 0.07

    def _scale(self, rows: tuple[Scale, ...]) -> Scale:
        return self.rng.choices(rows, weights=[4] + [2] * (len(rows) - 1))[0]

    def text(self, words: str) -> str:
        """Words in this dialect's spelling of values."""
        parts = words.split()
        if self.case == "upper":
            return self.sep.join(part.upper() for part in parts)
        if self.case == "title":
            # The trade writes one word with two capitals.
            parts = ["DShot" if part == "dshot" else part for part in parts]
            return self.sep.join(part[:1].upper() + part[1:] for part in parts)
        if self.case == "camel":
            return "".join(p if not i else p[:1].upper() + p[1:] for i, p in enumerate(parts))
        return self.sep.join(parts)

    def words(self, key: str) -> dict[str, str]:
        """Neutral → written words of one enumeration, no two alike."""
        taken: dict[str, str] = {}
        for neutral, idea in VALUES[key].items():
            pool = list(map(self.text, idea.words(self.half)))
            free = [text for text in pool if text not in taken.values()]
            taken[neutral] = self.rng.choice(free)
        return taken

    def codes(self, key: str) -> dict[str, str]:
        """Neutral words → code numbers of one enumeration, drawn in no order."""
        neutral = list(VALUES[key])
        most = 99 if self.rng.random() < 0.5 else 2 * len(neutral) + 3
        numbers = self.rng.sample(range(most + 1), len(neutral))
        return {word: str(code) for word, code in zip(neutral, numbers, strict=True)}

    def enumeration(self, key: str, *, coded: bool | None = None) -> Spell:
        """A word's spelling: words or, in some dialects, numbers."""
        opaque = self.rng.random() < self.numbers if coded is None else coded
        words = self.codes(key) if opaque else self.words(key)
        quoted = self.quotes and not opaque and key not in ("mode", "join")
        return Spell("words", {"values": words}, words=words, opaque=opaque, quoted=quoted)

    def functions(self, *, ends: bool) -> Spell:
        """The spelling of what a port carries: a mask or a list of words."""
        words = self.words("port.N.functions")
        if self.masks:
            bits = self.rng.sample(range(14), len(words))
            mask = dict(zip(words, bits, strict=True))
            return Spell("mask", {"mask": mask}, mask=mask, opaque=True)
        divider = self.shape.divider
        if not ends and " " in divider:
            divider = "+"
        keys: dict[str, Any] = {"values": words}
        if divider != self.shape.divider:
            keys["list"] = divider
        return Spell("list", keys, words=words, divider=divider, none=self.shape.none)

    def flag(self) -> Spell:
        return Spell("flag", {}, words={"yes": self.shape.yes[0], "no": self.shape.no[0]})

    def line_speed(self) -> Spell:
        if self.baud == "index":
            codes = self.rng.sample(range(20), len(BAUDS))
            words = {str(baud): str(code) for baud, code in zip(BAUDS, codes, strict=True)}
            return Spell("words", {"values": words}, words=words, opaque=True)
        return number(Scale("", 100 if self.baud == "hundreds" else 1))

    def of(self, setting: str) -> Spell:
        """The spelling of a setting that has a line of its own."""
        ends = not self.shape.ends
        if setting in ("motor.signal", "receiver.link", "failsafe.action", "battery.chemistry"):
            return self.enumeration(setting)
        if setting == "port.N.functions":
            return self.functions(ends=ends)
        if setting.endswith("baud"):
            return self.line_speed()
        if setting == "receiver.port":
            return counting(self.number_base)
        if setting == "failsafe.channel.N":
            words = self.words(setting)
            return Spell("text", {"values": words}, words=words)
        if setting == "craft.name":
            quoted = self.rng.random() < 0.6
            return Spell("text", {"quoted": True} if quoted else {}, quoted=quoted)
        if setting == "receiver.channel_order":
            return Spell("text", quoted=self.quotes)
        if setting == "video.power_mw" and self.levels:
            levels = self.rng.sample(range(20), len(POWERS))
            words = {str(power): str(level) for power, level in zip(POWERS, levels, strict=True)}
            return Spell("words", {"values": words}, words=words, opaque=True)
        if setting == "battery.cells" and self.rng.random() < 0.2:
            auto = self.text(self.rng.choice(("auto", "detect", "count")))
            words = {"0": auto, **{str(n): str(n) for n in range(1, 15)}}
            return Spell("words", {"values": words}, words=words)
        if setting in QUANTITY:
            return number(self.scales[QUANTITY[setting]])
        return self.flag()


def fit(spell: Spell, value: Any) -> Any:
    """The value nearest to a given one that the spelling can write."""
    if spell.kind == "number" and spell.grid and isinstance(value, int | float):
        steps = round((value - spell.offset) / spell.grid)
        return round(spell.offset + steps * spell.grid, 9)
    return value


def write(spell: Spell, value: Any) -> str:
    """A neutral value as this dialect writes it.  Raises KeyError for a word it lacks."""
    kind = spell.kind
    if kind == "flag":
        return spell.words["yes" if value else "no"]
    if kind == "words":
        word = spell.words[value if isinstance(value, str) else show_number(value)]
        return f'"{word}"' if spell.quoted else word
    if kind == "mask":
        return str(sum(1 << spell.mask[word] for word in value))
    if kind == "list":
        return spell.divider.join(spell.words[word] for word in sorted(value)) or spell.none
    if kind == "text":
        text = spell.words.get(value, str(value))
        return f'"{text}"' if spell.quoted or " " in text else text
    if kind == "over":
        return show_number(round(spell.over / value, 6))
    raw = round((value - spell.offset - spell.first + spell.base) / spell.scale, 6)
    return f"{raw:.{spell.places}f}" if spell.places else show_number(raw)
