"""How a value is written, by what the owner said that one means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import setting
from cfglint.teach.answers import neutral_value
from cfglint.teach.fits import Habits, ValueFit, unquoted
from cfglint.teach.meanings import in_style
from cfglint.teach.numbers import readings
from cfglint.teach.slots import Slot

if TYPE_CHECKING:
    from collections.abc import Mapping


def tidy(value: float) -> int | float:
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded


def codec_by_value(
    name: str, slot: Slot, answer: str, codec: dict[str, Any], value: ValueFit, habits: Habits
) -> tuple[dict[str, Any], str]:
    """The codec that makes a slot's first value what the owner said, and a note."""
    neutral = neutral_value(name, answer)
    written = unquoted(slot.written[0])
    row = setting(name)
    note = f"{written} means {answer}, says the owner"
    if row.kind == "flag":
        return _flag_by_value(written, bool(neutral), codec, habits), note
    if row.kind == "word":
        if not neutral:
            return codec, ""
        table = {k: v for k, v in codec.get("values", {}).items() if v != written}
        seen = {**table, neutral: written}
        table.update({neutral: written})
        if name in ("motor.signal", "receiver.link", "battery.chemistry", "failsafe.action"):
            table.update(
                {
                    k: v
                    for k, v in in_style(name, seen).items()
                    if k not in table and v not in table.values()
                }
            )
        return {**codec, "values": table}, note
    if row.kind == "words":
        return codec, ""
    if row.kind == "text":
        return ({**codec, "values": {str(neutral): written}} if written != neutral else codec), note
    if not re.fullmatch(r"[+-]?\d+(?:\.\d+)?", written):
        return {"values": {f"{neutral:g}": written}}, note
    number = float(written)
    if row.kind == "count":
        shift = number - neutral
        if shift == 0:
            return {k: v for k, v in codec.items() if k not in ("base", "first", "values")}, note
        if name == "receiver.port" and shift >= -1:
            return {"base": int(1 + shift)}, note
        return {"values": {f"{neutral:g}": written}}, note
    for one in readings(name, [written], ""):
        if _reads(one.codec, number, neutral):
            return dict(one.codec), note
    if (
        name in ("receiver.baud", "port.N.baud", "video.power_mw", "video.frequency_mhz")
        and number < 50
    ):
        return {"values": {f"{neutral:g}": written}}, note
    if number and neutral:
        scale = neutral / number
        if abs(scale - 1) < 1e-9:
            return {}, note
        return {"scale": tidy(scale)}, note
    return codec, note


def still_open(name: str, slot: Slot, answer: str) -> bool:
    """Whether an answer fits two ways to read a number: 1000 is 1000 Hz, and 1000 µs as well."""
    written = unquoted(slot.written[0])
    if setting(name).kind != "number" or not re.fullmatch(r"\d+(?:\.\d+)?", written):
        return False
    neutral = neutral_value(name, answer)
    fitting = [
        one
        for one in readings(name, slot.written, "")
        if _reads(one.codec, float(written), neutral)
    ]
    return len(fitting) > 1


def _reads(codec: Mapping[str, Any], number: float, neutral: float) -> bool:
    if codec.get("over"):
        return bool(number) and abs(codec["over"] / number - neutral) <= 0.01 * abs(neutral)
    read = codec.get("offset", 0) + number * codec.get("scale", 1)
    return bool(abs(read - neutral) <= 1e-6 + 0.005 * abs(neutral))


def _flag_by_value(
    written: str, meant: bool, codec: dict[str, Any], habits: Habits
) -> dict[str, Any]:
    from cfglint.teach.meanings import YES_NO

    yes, no = codec.get("yes", habits.yes), codec.get("no", habits.no)
    if written == (yes if meant else no):
        return codec
    for one, two in YES_NO:
        for spell in (str, str.upper, str.capitalize):
            if written == spell(one if meant else two):
                return {**codec, "yes": spell(one), "no": spell(two)}
            if written == spell(two if meant else one):
                # A word that says the opposite: `normal` for not turned is one, 0 for set too.
                return {**codec, "yes": spell(two), "no": spell(one)}
    return {**codec, "yes" if meant else "no": written}


def counted_from_0(codec: dict[str, Any]) -> dict[str, Any]:
    """A codec of numbered words (``uart1``) where the first port is ``uart0``."""
    values = codec.get("values", {})
    matches = {key: re.fullmatch(r"(.*?)(\d+)", text) for key, text in values.items()}
    if not values or any(m is None or m[2] != key for key, m in matches.items()):
        return codec
    word = next(m[1] for m in matches.values() if m)
    return {**codec, "values": {str(n + 1): f"{word}{n}" for n in range(len(values))}}
