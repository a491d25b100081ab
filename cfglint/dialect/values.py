"""One value between a dump's own text and the craft: words, numbers with units, codes, bits."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import Setting, show_number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: How many of a neutral unit one of some written units is, by neutral unit.
_MEASURES: dict[str, dict[float, str]] = {
    "µs": {
        1: "µs us μs usec microseconds microsecond",
        1000: "milliseconds ms",
        1e6: "s",
        1e-3: "ns",
    },
    "s": {
        1: "s sec secs second seconds sek",
        60: "min",
        0.1: "ds",
        0.01: "cs",
        1e-3: "ms msec milliseconds millisecond",
        1e-6: "microseconds µs us",
    },
    "deg": {1: "deg degree degrees"},
    "Hz": {1: "hz hertz per_s /s", 1000: "khz kilohertz k", 1e6: "mhz"},
    "MHz": {1: "mhz megahertz", 1000: "ghz gigahertz", 1e-3: "khz"},
    "V": {1: "v volt volts", 0.1: "dv", 0.01: "cv", 1e-3: "mv millivolt millivolts"},
    "mW": {1: "mw milliwatt milliwatts", 1000: "w watt watts"},
    "%": {1: "% percent pct prozent", 0.1: "‰ permille"},
    "baud": {1: "baud bd bps bit/s", 1000: "kbaud kbd k kbit/s"},
    "port": {},
    "poles": {1: "poles magnets"},
    "cells": {1: "s cells cell"},
    "": {},
}
#: The same by written unit.
UNITS: dict[str, dict[str, float]] = {
    unit: {word.replace("_", " "): size for size, words in sizes.items() for word in words.split()}
    for unit, sizes in _MEASURES.items()
}
#: Units of a period whose reciprocal is a rate in Hz: how many of them a second has.
PERIODS = {"s": 1.0, "ms": 1e3, "µs": 1e6, "us": 1e6, "μs": 1e6, "ns": 1e9}

#: All units there are: one behind a number that its setting cannot have is a mistake.
_ANY_UNIT = frozenset(unit for units in UNITS.values() for unit in units) | {"mah", "db"}
_UNIT = re.compile(r"[ \t\xa0]?([%‰]|/s(?![^\W\d_])|[^\W\d_]+(?:/s)?)")


#: The signs that a number may have, as in a class of a pattern: what word processors, in place of
#: a minus, make of a hyphen included.  A number with another stroke before it is refused.
SIGNS = "+\\-\u2212\u2010-\u2013\ufe63\uff0d"

#: What a channel can be sent on a lost link; where numbers are codes too, less is no pulse.
_LEAST_PULSE, _MOST_PULSE = 100, 3000


class Bad(Exception):  # noqa: N818  (a value is bad; whoever catches it makes it a Misread)
    """A written value means nothing here: ``valid`` says what would, ``nearest`` the likeliest."""

    def __init__(self, valid: str, nearest: str = "") -> None:
        super().__init__(valid)
        self.valid = valid
        self.nearest = nearest


def unquote(written: str) -> str:
    """A quoted text without its quotes and escapes; any other text as it is."""
    if len(written) >= 2 and written[0] == written[-1] == '"':
        return written[1:-1].replace('\\"', '"').replace("\\\\", "\\")
    return written


def quote(text: str) -> str:
    """A text in quotes."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


class Codec(NamedTuple):
    """How one field's values are written.

    ``words`` maps neutral words (``yes``/``no`` for flags, numbers as text) to written ones, the
    first of which is used for writing.  Numbers otherwise are ``offset + scale × written``, or
    ``over ÷ written``; ``given`` names numbers of the dump itself that take the place of either.
    ``first`` is what the dump counts from where the craft counts from 1.  ``bit`` is the bit that a
    flag is in a number; ``named`` is what a flag is where its words stand; ``own`` are words of
    the firmware's that have no neutral meaning, ``none`` those that say that nothing is set
    (``empty``: as they are compared).
    ``unit`` is the unit of written numbers that carry none.  Sets are ``bits`` (word → bit), marks
    at ``places``, one for each word, or a list divided by ``divider``.  ``filled`` is the mark of a
    drawn bar that is on; with ``points`` each mark is a point of the scale, else a stretch of it.
    """

    words: Mapping[str, tuple[str, ...]] = {}
    back: Mapping[str, str] = {}
    scale: float = 1
    offset: float = 0
    over: float = 0
    first: int | None = None
    bits: Mapping[str, int] = {}
    bit: int | None = None
    own: frozenset[str] = frozenset()
    empty: frozenset[str] = frozenset()
    divider: str = ","
    none: tuple[str, ...] = ()
    base: int = 10
    comma: bool = False
    thousands: str = ""
    unit: str = ""
    decimals: int | None = None
    quoted: bool = False
    named: bool | None = None
    filled: str = ""
    points: bool = False
    places: tuple[str, ...] = ()
    given: tuple[tuple[str, str], ...] = ()
    sure: bool = True
    unsure: frozenset[str] = frozenset()

    @property
    def coded(self) -> bool:
        """Whether numbers stand for other things, so that one without a word means nothing."""
        return any(numeral(word, self) is not None for word in self.back)

    @property
    def scaled(self) -> bool:
        """Whether written numbers are in a measure of the firmware's own."""
        return bool(self.scale != 1 or self.offset or self.over or self.given)

    def trusts(self, value: Any) -> bool:
        """Whether the mapping is confirmed for a neutral value that was read or is written."""
        if not self.unsure or not self.sure:
            return self.sure
        if isinstance(value, frozenset):
            return self.unsure.isdisjoint(value)
        if isinstance(value, bool):
            return ("yes" if value else "no") not in self.unsure
        return (show_number(value) if isinstance(value, int | float) else value) not in self.unsure


_JOINTS = str.maketrans("_-./", "    ")


def key(text: str) -> str:
    """A written word as it is compared: joints and letter case are spelling."""
    return " ".join(text.translate(_JOINTS).split()).lower() or text.strip().lower()


@cache
def _number_pattern(comma: bool, thousands: str, base: int) -> re.Pattern[str]:
    """The pattern of a number without its unit; a comma is what the dialect says that it is."""
    sign = f"(?P<sign>[{SIGNS}]?)[ \\t]*"
    if base == 16:
        return re.compile(
            rf"{sign}(?P<hex>0[xX]|[$#])?(?P<body>[0-9A-Fa-f]{{1,16}})[hH]?(?![^\W_])"
        )
    mark = "," if comma else "."
    groups = "['_\u202f" + re.escape(thousands) + "]"
    if thousands == " ":
        groups = "['_\u202f\xa0 ]"
    # Where the dialect says nothing of a comma, a number that holds one is refused.
    stop = "" if comma or thousands == "," else r"(?![.,][0-9])"
    return re.compile(
        rf"{sign}(?:(?P<hex>0[xX]|\$)(?P<body>[0-9A-Fa-f]{{1,16}})(?![^\W_])"
        # 4k7: the letter of the multiple stands for the decimal sign (IEC 60062, from memory).
        rf"|(?P<coded>[0-9]{{1,4}}[kKM][0-9]{{1,3}})(?![^\W_])"
        rf"|(?P<plain>[0-9]{{1,3}}(?>(?:{groups}[0-9]{{3}})+)(?![0-9])(?>(?:[{mark}][0-9]++)?)"
        rf"|[0-9]++(?>(?:[.{mark}][0-9]++)?)|[.{mark}][0-9]++){stop}(?![.{mark}][0-9]))"
    )


_GROUPS = re.compile(r"['_ \xa0\u202f]")


def _value_of(match: re.Match[str], codec: Codec) -> float:
    named = match.groupdict()
    if named.get("coded") is not None:
        whole, letter, part = re.split("([kKM])", match["coded"])
        value = float(f"{whole}.{part}") * (1e6 if letter == "M" else 1e3)
    elif named.get("plain") is None:
        value = float(int(match["body"], 16))
    else:
        body = _GROUPS.sub("", match["plain"])
        if codec.thousands and codec.thousands in body:
            body = body.replace(codec.thousands, "")
        value = float(body.replace(",", "."))
    return value if match["sign"] in ("", "+") else -value


_A_UNIT = re.compile(r"[^\s\d.,;:|)\]}(\[{][^\d,;:|)\]}(\[{]*")


def numeral(text: str, codec: Codec) -> tuple[float, str] | None:
    """The number a text is, and the unit behind it; None where it is none.

    A comma is a decimal sign only where the dialect says so; no number of a dump has so many
    digits that a float could not hold it.
    """
    if codec.base == 10 and len(text) < 16 and text.isdecimal() and text.isascii():
        return float(text), ""
    text = text.strip().lstrip("±").lstrip()
    if len(text) > 48:
        return None
    match = _number_pattern(codec.comma, codec.thousands, codec.base).match(text)
    if match is None:
        return None
    unit = text[match.end() :].strip()
    if unit and not _A_UNIT.fullmatch(unit):
        return None
    return _value_of(match, codec), unit


def number_at(codec: Codec, row: Setting, text: str, start: int, end: int) -> int:
    """Where the number with its unit ends that begins at a place of a line; -1 where none does.

    A unit that the setting cannot have is a mistake, another word behind a blank is prose.
    """
    match = _number_pattern(codec.comma, codec.thousands, codec.base).match(text, start, end)
    if match is None:
        return -1
    at = match.end()
    found = _UNIT.match(text, at, end)
    if found is None or codec.base == 16:
        return at
    unit = found[1].lower()
    glued = found.start(1) == at
    known = UNITS.get(row.unit, {})
    if unit in known or (row.unit == "Hz" and unit in PERIODS):
        return found.end()
    if codec.scaled and (glued or unit in _ANY_UNIT):
        return found.end()
    if glued or (unit in _ANY_UNIT and known):
        return -1
    return at


def _number(codec: Codec, row: Setting, text: str) -> float:
    found = numeral(text, codec)
    if found is None:
        raise Bad("a number")
    value, unit = found
    unit = unit or codec.unit
    over, scale = codec.over, codec.scale
    if unit and not (found[1] and codec.scaled):
        known = UNITS.get(row.unit, {})
        if row.unit == "Hz" and unit.lower() in PERIODS:
            over = PERIODS[unit.lower()] * (over or 1)
        elif unit.lower() in known:
            scale *= known[unit.lower()]
        elif found[1]:
            raise Bad(f"a number{' in ' + row.unit if row.unit else ''}")
    if over:
        if value == 0:
            raise Bad("a number other than 0")
        # Nine digits: what a period in nine decimals says of a rate, and no more.
        return float(f"{over / value * (scale if scale != codec.scale else 1):.9g}")
    if codec.first is not None:
        value += 1 - codec.first
    return round(codec.offset + scale * value, 9)


def _valid(codec: Codec, words: Sequence[str]) -> tuple[str, ...]:
    return tuple(one[0] for one in codec.words.values()) if codec.words else tuple(words)


def _word(codec: Codec, words: Sequence[str], written: str) -> str:
    found = codec.back.get(key(written)) if codec.back else None
    if found is None and not codec.back:
        low = written.strip().lower()
        found = low if low in words or not words else None
    if found is None:
        from cfglint.near import nearest

        valid = _valid(codec, words)
        raise Bad(", ".join(valid), nearest(written, valid))
    return found


def _set(codec: Codec, row: Setting, written: str) -> frozenset[str]:
    if codec.places:
        marks = written.split()
        if len(marks) != len(codec.places):
            raise Bad(f"{len(codec.places)} marks: {', '.join(codec.places)}")
        return frozenset(
            word for word, mark in zip(codec.places, marks, strict=True) if mark not in codec.none
        )
    if codec.bits:
        number = numeral(written, codec)
        bits = int(number[0]) if number is not None and not number[1] else -1
        named = {word for word, bit in codec.bits.items() if bits >> bit & 1}
        if bits != sum({1 << codec.bits[word] for word in named}):
            raise Bad("a sum of " + ", ".join(f"{1 << bit} ({w})" for w, bit in codec.bits.items()))
        return frozenset(named)
    if codec.empty and key(written) in codec.empty:
        return frozenset()
    try:
        return frozenset({_word(codec, row.words, written)})
    except Bad:
        parts = [part.strip() for part in split_list(written, codec.divider) if part.strip()]
        if len(parts) < 2:
            raise
    return frozenset(_word(codec, row.words, part) for part in parts if key(part) not in codec.own)


def split_list(written: str, divider: str) -> list[str]:
    """The parts of a list; a divider that is a word stands as a word; without one, each letter."""
    if not divider:
        return list(written)
    plain = divider.strip()
    if plain.isalnum():
        return re.split(rf"(?<![^\W_]){re.escape(plain)}(?![^\W_])", written)
    return written.split(plain or None)


def _flag(codec: Codec, written: str) -> bool:
    if codec.named is not None:
        return codec.named
    if codec.bit is not None:
        number = numeral(written, codec)
        if number is None:
            raise Bad("a number")
        return bool(int(number[0]) >> codec.bit & 1)
    found = codec.back.get(key(written))
    if found is None:
        raise Bad(" or ".join(_valid(codec, ("yes", "no"))))
    return found == "yes"


#: The four sticks by their letters, and what else they are called.
_STICKS = {
    "A": ("a", "aileron", "ailerons", "roll"),
    "E": ("e", "elevator", "pitch", "nick"),
    "T": ("t", "throttle", "gas", "collective"),
    "R": ("r", "rudder", "yaw"),
}
#: Names of further channels behind the sticks.
_CHANNELS = re.compile(r"(?:[/-][A-Za-z0-9]{1,4})+")


def _order(codec: Codec, written: str) -> str:
    """The order of the sticks as letters, from letters or words with anything between them; the
    channels behind them follow as they are written (``TAER/K1/K2``).
    """
    names = {word: letter for letter, words in _STICKS.items() for word in words}
    names.update({key(word): letter for letter, words in codec.words.items() for word in words})
    parts = list(re.finditer(r"[^\W\d_]+", written))
    if parts and key(parts[0][0]) not in names and len(parts[0][0]) == len(_STICKS):
        parts = list(re.finditer(r"[^\W\d_]", written))
    parts = parts[: len(_STICKS)]
    letters = "".join(names.get(key(part[0]), "") for part in parts)
    # One that stands twice is a rule's to tell of: it says what is wrong with it.
    if len(letters) != len(_STICKS):
        raise Bad("an order such as AETR")
    more = written[parts[-1].end() :]
    if not any(one.isalpha() for one in more):
        return letters
    if not _CHANNELS.fullmatch(more):
        raise Bad("an order such as AETR")
    return letters + more


_QUOTES = ("''", "«»", "»«", "„“", "„”", "“”", "””", "‘’", "‚‘", "‹›")


def _bounds(row: Setting) -> str:
    return f"{row.least:g} to {row.most:g}{' ' + row.unit if row.unit else ''}"


def decode(codec: Codec, row: Setting, written: str) -> Any:
    """The neutral value of a written one, None where it says that nothing is set.

    Raises Bad, which says what would be understood.
    """
    written = written.strip()
    if codec.own and key(written) in codec.own:
        return frozenset() if row.kind == "words" else None
    if codec.empty and row.kind != "words" and key(written) in codec.empty:
        return None
    if row.kind == "flag":
        return _flag(codec, written)
    plain = unquote(written)
    if len(plain) > 1 and plain[0] + plain[-1] in _QUOTES:
        plain = plain[1:-1].strip()
    if row.kind == "word":
        return _word(codec, row.words, plain)
    if row.kind == "words":
        return _set(codec, row, plain)
    if row.name == "receiver.channel_order":
        return _order(codec, plain)
    coded = codec.back.get(key(plain)) if codec.back else None
    if row.name == "bar":
        return plain
    if row.kind == "text":
        if coded is not None:
            return coded
        if row.texts and not codec.words and key(plain) in row.texts:
            return key(plain)
        if row.texts or codec.scale != 1 or codec.offset:
            if numeral(plain, codec) is None:
                words = tuple(codec.words.get(word, (word,))[0] for word in row.texts)
                raise Bad(f"{', '.join(words)} or a number")
            number = _number(codec, row._replace(unit="µs" if row.texts else ""), plain)
            if row.texts and not (_LEAST_PULSE if codec.coded else 0) <= number <= _MOST_PULSE:
                raise Bad(f"a pulse of {_LEAST_PULSE} to {_MOST_PULSE} µs")
            return show_number(number)
        return plain
    if coded is not None:
        return float(coded) if row.kind == "number" else int(coded)
    if codec.back and not codec.scaled and (codec.coded or numeral(plain, codec) is None):
        raise Bad(", ".join(f"{one[0]} ({value})" for value, one in codec.words.items()))
    value = _number(codec, row, plain)
    if row.kind == "count" and value != int(value):
        raise Bad(f"a whole number, {_bounds(row)}")
    assert row.least is not None
    assert row.most is not None
    if not row.least <= value <= row.most:
        raise Bad(_bounds(row))
    return int(value) if row.kind == "count" else value


__all__ = ["Bad", "Codec", "decode", "key", "number_at", "numeral", "quote", "unquote"]
