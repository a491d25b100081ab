"""What the owner said, put to work: on forms, and on the lines that were named."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import SETTINGS
from cfglint.teach.answers import NONE, Told
from cfglint.teach.fits import Habits, ValueFit
from cfglint.teach.forms import FormGuess, line_form, without
from cfglint.teach.match import Pair, pair_of
from cfglint.teach.names import BY_SETTING, fit
from cfglint.teach.ranges import channel_codec
from cfglint.teach.slots import Slot

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.teach.lines import Row
from cfglint.teach.codecs import tidy
from cfglint.teach.functions import function_codec


def accepted_forms(guesses: Sequence[FormGuess], told: Told) -> list[FormGuess]:
    taken: set[tuple[str, int]] = set()
    out: list[FormGuess] = []
    settled: FormGuess | None = None
    for guess in guesses:
        one = guess
        places = {(row.file, row.number) for row in one.record.rows}
        if places & taken or one.confidence < 0.4:
            continue
        if one.makes == "range":
            one = _by_codes(one, told.words.get("mode", {}))
        if one.makes == "range" and told.range is not None:
            if settled is None and range_open(one):
                one = settled = _by_range_answer(one, told.range)
            elif settled is not None:
                one = _like_settled(one, settled)
        one = _by_words(one, told)
        taken |= places
        out.append(one)
    return out


def released_forms(
    guesses: Sequence[FormGuess], told: Told, rows: Sequence[Row]
) -> list[FormGuess]:
    """The forms without those of which the owner said that a line sets something else."""
    named: dict[tuple[str, int], str] = {}
    for name, text in told.lines.items():
        for row in rows_named(text, rows):
            named[row.file, row.number] = name
    out = []
    for one in guesses:
        said = {
            named[place] for row in one.record.rows if (place := (row.file, row.number)) in named
        }
        if not said or said & set(one.sets.values()):
            out.append(one)
    return out


def rows_named(text: str, rows: Iterable[Row]) -> list[Row]:
    """The rows that an answer names by line number or by their own text."""
    match = re.fullmatch(r"(?:(?P<file>.+):)?(?P<number>\d+)", text.strip())
    if not match:
        return [row for row in rows if row.text == text.strip()]
    number = int(match["number"])
    found = [row for row in rows if row.number == number]
    return [row for row in found if row.file == match["file"]] if match["file"] else found[:1]


def _by_range_answer(one: FormGuess, answer: tuple[int, float, float]) -> FormGuess:
    """A range's form made to say of its first line what the owner said."""
    channel, low, high = answer
    cells = one.record.cells[0]
    one = _turned(one, channel)
    fields = {name: dict(codec) for name, codec in one.fields.items()}
    written = int(float(cells[one.roles["channel"]].text))
    first = 1 if channel - written in (0, 1) else 5
    base = written - channel + first
    if base < 0:
        first, base = channel - written, 0
    codec = {}
    if base != 1:
        codec["base"] = base
    if first != 1:
        codec["first"] = first
    fields.pop("channel", None)
    if codec:
        fields["channel"] = codec
    a, b = float(cells[one.roles["low"]].text), float(cells[one.roles["high"]].text)
    if a != b:
        step = (high - low) / (b - a)
        offset = low - step * a
        ends: dict[str, Any] = {}
        if abs(offset) > 1e-6:
            ends["offset"] = tidy(offset)
        if abs(step - 1) > 1e-9:
            ends["step"] = tidy(step)
        for name in ("low", "high"):
            fields.pop(name, None)
            if ends:
                fields[name] = dict(ends)
    doubts = {name: why for name, why in one.doubts.items() if name not in ("channel", "low")}
    other = one.roles.get("mode", -1)
    if (
        other >= 0
        and cells[other].text.isdigit()
        and other != one.roles["channel"]
        and channel - int(cells[other].text) in _USUAL_SHIFTS
    ):
        # The other column could be the channel as well; only more lines would tell.
        doubts["channel"] = doubts["mode"] = "two columns can be the channel"
    return one._replace(fields=fields, doubts=doubts, confidence=max(one.confidence, 0.95))


def _by_codes(one: FormGuess, codes: Mapping[str, str]) -> FormGuess:
    """The form with mode and channel exchanged, where the known codes stand in the other column."""
    at, other = one.roles["channel"], one.roles.get("mode", -1)
    if other < 0 or not codes or not all(text.isdigit() for text in one.record.column(other)):
        return one

    def share(column: int) -> float:
        texts = one.record.column(column)
        return sum(text in codes for text in texts) / len(texts)

    slot = one.roles.get("N", -1)
    if slot >= 0 and share(slot) == 1.0 and _in_turn(one, other) and not _in_turn(one, slot):
        # Of two that count the lines, the one whose numbers are explained is the mode.
        roles = {**one.roles, "N": other, "mode": slot}
        texts = tuple(dict.fromkeys(one.record.column(slot)))
        fields = {name: codec for name, codec in one.fields.items() if name != "N"}
        if "0" in one.record.column(other):
            fields["N"] = {"base": 0}
        return one._replace(
            roles=roles,
            fields=fields,
            codes={**one.codes, "mode": texts},
            line=line_form(one.record, roles, fields),
        )
    return _exchanged(one) if share(at) > share(other) else one


def _in_turn(one: FormGuess, at: int) -> bool:
    """Whether a column numbers each sample's lines one by one, none left out."""
    seen: dict[str, list[int]] = {}
    for row, text in zip(one.record.rows, one.record.column(at), strict=True):
        seen.setdefault(row.file, []).append(int(text))
    return all(run == list(range(run[0], run[0] + len(run))) for run in seen.values())


def range_open(one: FormGuess) -> bool:
    """Whether a range's form is worth asking about; the first such one is."""
    return bool(one.doubts.keys() & {"channel", "low"}) or one.confidence < 0.8


def _like_settled(one: FormGuess, settled: FormGuess) -> FormGuess:
    """A range's form that is written as another one of which the owner said what it means."""
    columns = [settled.roles.get("channel", -1), settled.roles.get("mode", -1)]
    turned = [one.roles.get("mode", -1), one.roles.get("channel", -1)]
    if turned == columns and -1 not in columns and len(one.record.cells[0]) > max(columns):
        numbers = [text for at in columns for text in one.record.column(at)]
        if all(text.isdigit() for text in numbers):
            one = _exchanged(one)
    fields = {
        name: codec for name, codec in one.fields.items() if name not in ("channel", "low", "high")
    }
    fields.update(
        {
            name: dict(settled.fields[name])
            for name in ("channel", "low", "high")
            if name in settled.fields
        }
    )
    doubts = {name: why for name, why in one.doubts.items() if name not in ("channel", "low")}
    return one._replace(fields=fields, doubts=doubts)


#: What a channel's number may differ by from what is written: counted from 1 or 0, or from the
#: first after the sticks.
_USUAL_SHIFTS = (0, 1, 4, 5)


def _turned(one: FormGuess, channel: int) -> FormGuess:
    """The form with mode and channel exchanged, where only so the owner's channel can be."""
    at, other = one.roles["channel"], one.roles.get("mode", -1)
    cells = one.record.cells[0]
    if other < 0 or not cells[at].text.isdigit() or not cells[other].text.isdigit():
        return one
    here, there = channel - int(cells[at].text), channel - int(cells[other].text)
    if here in _USUAL_SHIFTS or there not in _USUAL_SHIFTS:
        return one
    return _exchanged(one)


def _exchanged(one: FormGuess) -> FormGuess:
    at, other = one.roles["channel"], one.roles["mode"]
    roles = {**one.roles, "channel": other, "mode": at}
    fields = {name: codec for name, codec in one.fields.items() if name != "channel"}
    codes = {**one.codes, "mode": tuple(dict.fromkeys(one.record.column(at)))}
    channels = [int(text) for text in one.record.column(other)]
    codec, doubt = channel_codec(one.record, other, channels)
    doubts = {name: why for name, why in one.doubts.items() if name != "channel"}
    if codec:
        fields["channel"] = codec
    if doubt:
        doubts["channel"] = doubt
    return one._replace(
        roles=roles,
        fields=fields,
        codes=codes,
        doubts=doubts,
        line=line_form(one.record, roles, fields),
    )


def _by_words(one: FormGuess, told: Told) -> FormGuess:
    """A form with the words of its fields that the owner explained."""
    fields = {name: dict(codec) for name, codec in one.fields.items()}
    codes = dict(one.codes)
    for field, name in one.sets.items():
        texts = one.record.column(one.roles[field]) if field in one.roles else []
        if name == "port.N.functions":
            codec, left = function_codec(texts, told.words.get(name, {}))
        elif name == "failsafe.channel.N" and field in codes:
            words = told.words.get(name, {})
            table = {**fields.get(field, {}).get("values", {})}
            table.update({word: text for text, word in words.items() if text in texts})
            codec = {"values": table} if words else {}
            left = tuple(text for text in codes[field] if text not in words)
        elif name == "port.N.baud" and field in codes:
            words = told.words.get(name, {})
            codec = {"values": {word: text for text, word in words.items()}} if words else {}
            left = tuple(text for text in codes[field] if text not in words)
        else:
            continue
        if codec:
            fields[field] = codec
        if left:
            codes[field] = left
        else:
            codes.pop(field, None)
        if name == "port.N.baud" and not codec:
            one = without(one, field)
            fields = {**fields, field: one.fields[field]}
    explained = bool(one.codes) and not codes
    confidence = max(one.confidence, 0.9) if explained else one.confidence
    return one._replace(fields=fields, codes=codes, confidence=confidence)


def told_lines(
    told: Told, slots: Sequence[Slot], habits: Habits, rows: Sequence[Row], done: set[str]
) -> tuple[dict[str, Pair], set[str]]:
    named: dict[str, Pair] = {}
    without: set[str] = set()
    for name, text in told.lines.items():
        if name not in SETTINGS:
            continue
        if text.lower() in NONE:
            without.add(name)
            continue
        if name in done:
            continue
        slot = find_slot(name, text, slots, rows)
        if slot is None and rows_named(text, rows):
            without.add(name)  # a line that nothing here can read
            continue
        if slot is None:
            from cfglint.errors import Problem

            raise Problem(
                f"`{text}` is no line of the samples that sets something",
                instead="write a line's number, the name that stands in it, or `none`",
            )
        named[name] = _forced(name, slot, habits)
    return named, without


def _forced(name: str, slot: Slot, habits: Habits) -> Pair:
    """A pair that the owner named, whatever its values look like."""
    words = (
        fit(BY_SETTING[name], slot.words)
        if name in BY_SETTING
        else fit(BY_SETTING["log.on"], slot.words)
    )
    one = pair_of(name, slot, habits, words)
    if one is not None:
        return one._replace(score=1.0)
    return Pair(
        name, slot, 1.0, words, (ValueFit({}, 0.1, opaque=tuple(dict.fromkeys(slot.written))),)
    )


def find_slot(name: str, text: str, slots: Sequence[Slot], rows: Sequence[Row]) -> Slot | None:
    """The slot that an answer names for a setting: by line number, ``file:number`` or name."""
    places = {(row.file, row.number) for row in rows_named(text, rows)}
    bare = text.strip().strip("`\"'")
    fitting = [slot for slot in slots if slot.family == (".N" in name)]
    for slot in fitting:
        if any((row.file, row.number) in places for row in slot.rows):
            return slot
    for slot in fitting:
        if bare in (slot.name, *(row.name for row in slot.rows)):
            return slot
    return None
