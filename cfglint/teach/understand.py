"""All that is made out of samples and answers: what each line sets, and how sure that is."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import SETTINGS, setting
from cfglint.record import NamedTuple
from cfglint.teach.answers import NONE, Told, neutral_value
from cfglint.teach.fits import Habits, ValueFit, habits_of, unquoted
from cfglint.teach.learned import by_answers, by_company
from cfglint.teach.match import Choice, Pair, choose, pair_of, pairs_of
from cfglint.teach.meanings import best, in_style
from cfglint.teach.names import BY_SETTING, fit
from cfglint.teach.numbers import readings
from cfglint.teach.records import (
    FormGuess,
    channel_codec,
    form_guesses,
    line_form,
    number_of,
    without,
)
from cfglint.teach.slots import Slot, line_slots, section_forms, slots_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.teach.shape import Row, Shape

#: From here on a mapping is left unmarked.
SURE = 0.80
#: Below this a mapping is not even drafted, but only asked about.
WORTH = 0.34
#: How sure a way to read numbers has to be.
CODEC_SURE = 0.66


class Mapped(NamedTuple):
    """One setting and the slot that sets it, ready to be written down.

    ``codec`` are the keys of its entry; ``unsure`` words that are only guessed; ``opaque``
    written words that nobody explained; ``open_codec`` whether its unit is in doubt.
    """

    setting: str
    slot: Slot
    codec: dict[str, Any]
    confidence: float
    sure: bool
    reason: str
    rival: str
    told: bool
    opaque: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
    open_codec: bool = False


class Understanding(NamedTuple):
    """What samples and answers come to.

    ``modes`` is neutral mode → written word, ``unsure_modes`` those only guessed and ``codes``
    written mode words without a meaning.
    """

    shape: Shape
    habits: Habits
    slots: tuple[Slot, ...]
    mapped: tuple[Mapped, ...]
    forms: tuple[FormGuess, ...]
    modes: dict[str, str]
    unsure_modes: tuple[str, ...]
    mode_codes: tuple[str, ...]
    pairs: tuple[Pair, ...]
    bases: dict[str, int]


def understand_rows(
    shape: Shape, rows: Sequence[Row], told: Told, *, partial: bool = False
) -> Understanding:
    """Forms first, since their lines are plain by their columns; names for the rest.

    ``partial`` says that samples list what differs from default only.
    """
    forms = _accepted(_released(form_guesses(rows), told, rows), told)
    used = {(row.file, row.number) for form in forms for row in form.record.rows}
    rest = [row for row in rows if (row.file, row.number) not in used]
    values = [row.value for row in rest if row.kind == "assignment"]
    habits = habits_of(values, _divider(rest))
    slots = [*slots_of(rest), *line_slots(rest, section_forms(rest))]
    done = {name for form in forms for name in form.sets.values() if form.confidence >= 0.5}
    named, without = _told_lines(told, slots, habits, rows, done)
    learned = {**by_company(slots, habits), **by_answers(named)}
    pairs = [pair for pair in pairs_of(slots, habits, learned) if pair.setting not in done]
    choices = choose(pairs, named, (), without | done)
    _put_in_order(choices)
    _one_a_line(choices)
    bases = _bases(forms, choices, partial=partial)
    if told.range is None:
        forms = [_counted_alike(form, bases) for form in forms]
    else:
        forms = [form if form.makes == "range" else _counted_alike(form, bases) for form in forms]
    receivers = _receivers(forms, choices, bases)
    mapped = []
    for name in sorted(choices, key=list(SETTINGS).index):
        one = _mapped(name, choices[name], told, habits, bases, receivers)
        if one is not None:
            mapped.append(one)
    mapped = _agree(mapped)
    modes, unsure_modes, codes = _modes(forms, told)
    return Understanding(
        shape,
        habits,
        tuple(slots),
        tuple(mapped),
        tuple(forms),
        modes,
        unsure_modes,
        codes,
        tuple(pairs),
        bases,
    )


def _divider(rows: Sequence[Row]) -> str:
    """What divides the words of a list in assigned values."""
    marks: Counter[str] = Counter()
    for row in rows:
        if row.kind == "assignment":
            match = re.fullmatch(r"[A-Za-z][\w\-]*(?:\s*([,/|+;&])\s*[A-Za-z][\w\-]*)+", row.value)
            if match:
                marks[match[1]] += 1
    return marks.most_common(1)[0][0] if marks else ","


# ------------------------------------------------------------------ forms


def _accepted(guesses: Sequence[FormGuess], told: Told) -> list[FormGuess]:
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


def _released(guesses: Sequence[FormGuess], told: Told, rows: Sequence[Row]) -> list[FormGuess]:
    """The forms without those of which the owner said that a line sets something else."""
    named: dict[tuple[str, int], str] = {}
    for name, text in told.lines.items():
        for row in _rows_named(text, rows):
            named[row.file, row.number] = name
    out = []
    for one in guesses:
        said = {
            named[place] for row in one.record.rows if (place := (row.file, row.number)) in named
        }
        if not said or said & set(one.sets.values()):
            out.append(one)
    return out


def _rows_named(text: str, rows: Iterable[Row]) -> list[Row]:
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
            ends["offset"] = _tidy(offset)
        if abs(step - 1) > 1e-9:
            ends["step"] = _tidy(step)
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

    return _exchanged(one) if share(at) > share(other) else one


def range_open(one: FormGuess) -> bool:
    """Whether a range's form is worth asking about; the first such one is."""
    return bool(one.doubts.keys() & {"channel", "low"}) or one.confidence < 0.8


def _like_settled(one: FormGuess, settled: FormGuess) -> FormGuess:
    """A range's form that is written as another one of which the owner said what it means."""
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


def _tidy(value: float) -> int | float:
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded


def _by_words(one: FormGuess, told: Told) -> FormGuess:
    """A form with the words of its fields that the owner explained."""
    fields = {name: dict(codec) for name, codec in one.fields.items()}
    codes = dict(one.codes)
    for field, name in one.sets.items():
        texts = one.record.column(one.roles[field]) if field in one.roles else []
        if name == "port.N.functions":
            codec, left = function_codec(texts, told.words.get(name, {}))
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


def function_codec(
    texts: Sequence[str], words: Mapping[str, str]
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """How port functions are written, and the written words that nobody explained."""
    habits = Habits("yes", "no", (), ",")
    empty = next((text for text, word in words.items() if word == "nothing"), "")
    words = {text: word for text, word in words.items() if word != "nothing"}
    codec, left = _function_codec(texts, words, habits)
    if empty and "mask" not in codec:
        codec["none"] = empty
        left = tuple(text for text in left if text != empty)
    return codec, left


def _function_codec(
    texts: Sequence[str], words: Mapping[str, str], habits: Habits
) -> tuple[dict[str, Any], tuple[str, ...]]:
    from cfglint.teach.fits import value_fits

    bare = [unquoted(text) for text in texts]
    if all(text.isdigit() for text in bare):
        numbers = sorted({int(text) for text in bare if int(text)})
        single = {1 << bit for value in numbers for bit in range(63) if value >> bit & 1}
        mask = looks_masked(numbers)
        if mask:
            bits = {
                word: int(text).bit_length() - 1
                for text, word in words.items()
                if text.isdigit() and int(text) and int(text) & (int(text) - 1) == 0
            }
            left = tuple(str(one) for one in sorted(single) if str(one) not in words)
            return ({"mask": bits} if bits else {}), left
        table = {word: text for text, word in words.items()}
        left = tuple(str(one) for one in numbers if str(one) not in words)
        codec: dict[str, Any] = {"values": table} if table else {}
        if codec and "0" in bare and "0" not in words:
            codec["none"] = "0"
        return codec, left
    found = value_fits("port.N.functions", bare, "", habits)
    if not found:
        return {}, tuple(dict.fromkeys(bare))
    codec = dict(found[0].codec)
    if words:
        table = dict(codec.get("values", {}))
        for text, word in words.items():
            table = {k: v for k, v in table.items() if v != text}
            table[word] = text
        codec["values"] = table
    left = tuple(text for text in found[0].opaque if text not in words)
    return codec, left


def looks_masked(numbers: Sequence[int]) -> bool:
    """Whether numbers are sums of bits rather than codes counted up."""
    if not numbers:
        return True
    powers = sum(value & (value - 1) == 0 for value in numbers)
    return max(numbers) > 20 or powers == len(numbers)


# ------------------------------------------------------------------ what the owner said of names


def _told_lines(
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
        if slot is None and _rows_named(text, rows):
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
    places = {(row.file, row.number) for row in _rows_named(text, rows)}
    bare = text.strip().strip("`\"'")
    fitting = [slot for slot in slots if slot.family == (".N" in name)]
    for slot in fitting:
        if any((row.file, row.number) in places for row in slot.rows):
            return slot
    for slot in fitting:
        if bare in (slot.name, *(row.name for row in slot.rows)):
            return slot
    return None


# ------------------------------------------------------------------ consistency


_ORDERED = (
    ("battery.empty_v", "battery.warn_v", "battery.full_v"),
    ("motor.pulse_stop_us", "motor.pulse_min_us", "motor.pulse_max_us"),
    ("stick.low_us", "stick.centre_us", "stick.high_us"),
    ("channel.N.low_us", "channel.N.mid_us", "channel.N.high_us"),
)


def _first_number(pair: Pair) -> float | None:
    text = unquoted(pair.slot.written[0]) if pair.slot.written else ""
    return float(text) if re.fullmatch(r"-?\d+(?:\.\d+)?", text) else None


def _put_in_order(choices: dict[str, Choice]) -> None:
    """Exchange slots that stand the wrong way round: a warning below empty is none."""
    for names in _ORDERED:
        here = [name for name in names if name in choices]
        for low, high in pairwise(here):
            a, b = _first_number(choices[low].pair), _first_number(choices[high].pair)
            if a is None or b is None or a <= b:
                continue
            first, second = choices[low], choices[high]
            if first.told or second.told:
                continue
            choices[low] = first._replace(
                pair=second.pair._replace(setting=low),
                confidence=min(first.confidence, second.confidence) * 0.8,
            )
            choices[high] = second._replace(
                pair=first.pair._replace(setting=high),
                confidence=min(first.confidence, second.confidence) * 0.8,
            )


def _one_a_line(choices: dict[str, Choice]) -> None:
    """A line that is read whole sets one thing: of two readings of it the surer one stays."""
    holder: dict[tuple[str, int], str] = {}
    for name in sorted(choices, key=lambda one: (-choices[one].confidence, one)):
        rows = [(row.file, row.number) for row in choices[name].pair.slot.rows]
        if any(place in holder for place in rows):
            del choices[name]
            continue
        holder.update(dict.fromkeys(rows, name))


def _bases(
    forms: Sequence[FormGuess], choices: Mapping[str, Choice], *, partial: bool = False
) -> dict[str, int]:
    """From where ports and channels are counted, as their own lines show; without those, nothing.

    One line numbered 0 is enough: what is counted from 0 here is counted so throughout.  From 1
    it is counted where all of them are there; with one left out, the first may be as well.
    """
    seen: dict[str, list[set[int]]] = {}

    def see(setting: str, numbers: Iterable[int]) -> None:
        group = "port" if setting.startswith("port.") else "channel"
        seen.setdefault(group, []).append(set(numbers))

    for form in forms:
        names = [name for name in form.sets.values() if ".N" in name]
        if names and "{N}" in form.within:
            see(names[0], [number_of(row) for row in form.record.rows])
        elif names and "N" in form.roles:
            texts = form.record.column(form.roles["N"])
            # Letters and the like are counted as they say.
            see(names[0], [int(text) for text in texts if text.isdigit()] or [1])
    for name, choice in choices.items():
        if choice.pair.slot.numbers:
            see(name, choice.pair.slot.numbers)
    least: dict[str, int] = {}
    for group, sets in seen.items():
        every: set[int] = set().union(*sets)
        if 0 in every:
            least[group] = 0
        elif not partial and every == set(range(1, len(every) + 1)):
            least[group] = 1
    return least


def _counted_alike(one: FormGuess, bases: Mapping[str, int]) -> FormGuess:
    """A form whose numbers start where those of its kind do."""
    if one.makes == "range":
        return _range_counted(one, bases)
    group = "port" if any(name.startswith("port.") for name in one.sets.values()) else "channel"
    if bases.get(group) == 0 and any(".N" in name for name in one.sets.values()):
        fields = {**one.fields, "N": {**one.fields.get("N", {})}}
        if "values" not in fields["N"]:
            fields["N"]["base"] = 0
        doubts = {name: why for name, why in one.doubts.items() if name != "N"}
        return one._replace(fields=fields, doubts=doubts)
    if bases.get(group) == 1 and "N" in one.doubts:
        return one._replace(doubts={name: why for name, why in one.doubts.items() if name != "N"})
    if group not in bases and "N" in one.roles and "values" not in one.fields.get("N", {}):
        return one._replace(doubts={**one.doubts, "N": "taken as counted from 1"})
    return one


def _range_counted(one: FormGuess, bases: Mapping[str, int]) -> FormGuess:
    """A range's channel, numbered as channels are elsewhere in the dump."""
    if "channel" not in one.roles:
        return one
    texts = one.record.column(one.roles["channel"])
    if not all(text.isdigit() for text in texts):
        return one
    low = min(int(text) for text in texts)
    codec, doubts = one.fields.get("channel"), dict(one.doubts)
    fields = dict(one.fields)
    base = bases.get("channel", bases.get("port"))
    if codec is None and low >= 5:
        if base == 0:
            fields["channel"] = {"base": 0}
            doubts["channel"] = "counted from 0, as others are here"
    elif codec == {"first": 5} and base == 0:
        fields["channel"] = {"base": 0, "first": 5}
    return one._replace(fields=fields, doubts=doubts)


def _receivers(
    forms: Sequence[FormGuess], choices: Mapping[str, Choice], bases: Mapping[str, int]
) -> dict[str, frozenset[int]]:
    """By sample, the ports (counted from 1) that carry the receiver, as far as words say so."""
    seen: dict[str, set[int]] = {}
    shift = 1 - bases.get("port", 1)

    def see(row: Row, number: str, text: str) -> None:
        words = re.split(r"[^\w-]+", text)
        if number.isdigit() and any(best("port.N.functions", w)[0] == "receiver" for w in words):
            seen.setdefault(row.file, set()).add(int(number) + shift)

    for form in forms:
        if form.sets.get("functions") == "port.N.functions" and "N" in form.roles:
            columns = (form.record.column(form.roles[name]) for name in ("N", "functions"))
            for row, number, text in zip(form.record.rows, *columns, strict=True):
                see(row, number, text)
    choice = choices.get("port.N.functions")
    if choice is not None and choice.pair.slot.numbers:
        slot = choice.pair.slot
        for row, one, text in zip(slot.rows, slot.numbers, slot.written, strict=True):
            see(row, str(one), text)
    return {file: frozenset(ports) for file, ports in seen.items() if len(ports) == 1}


def _receiver_base(slot: Slot, receivers: Mapping[str, frozenset[int]]) -> int | None:
    """From where the receiver's port is counted, for it to be the port that carries one."""
    pairs = [
        (int(text), next(iter(receivers[row.file])))
        for row, text in zip(slot.rows, map(unquoted, slot.written), strict=True)
        if row.file in receivers and text.isdigit()
    ]
    for base in (1, 0):
        if pairs and all(written - base + 1 == port for written, port in pairs):
            return base
    return None


def _agree(mapped: list[Mapped]) -> list[Mapped]:
    """Doubts about a unit are settled by neighbours that are written alike."""
    volts = [
        one for one in mapped if one.setting.startswith("battery.") and one.setting.endswith("_v")
    ]
    scales = {one.codec.get("scale", 1) for one in volts if not one.open_codec}
    if len(scales) == 1:
        scale = next(iter(scales))
        mapped = [
            one._replace(open_codec=False)
            if one in volts and one.open_codec and one.codec.get("scale", 1) == scale
            else one
            for one in mapped
        ]
    return mapped


# ------------------------------------------------------------------ one mapping


def _mapped(
    name: str,
    choice: Choice,
    told: Told,
    habits: Habits,
    bases: Mapping[str, int],
    receivers: Mapping[str, frozenset[int]],
) -> Mapped | None:
    pair = choice.pair
    slot = pair.slot
    value = pair.fits[0]
    confidence = choice.confidence
    codec = dict(value.codec)
    opaque, doubt = value.opaque, value.doubt
    open_codec = setting(name).kind == "number" and choice.codec_confidence < CODEC_SURE
    told_value = told.values.get(name, "")
    notes = [_said(pair)]
    if told_value.lower() in NONE and told_value.lower() not in setting(name).words:
        return None
    if told_value:
        codec, note = codec_by_value(name, slot, told_value, codec, value, habits)
        open_codec = _still_open(name, slot, told_value)
        opaque = tuple(text for text in opaque if text != unquoted(slot.written[0]))
        confidence = max(confidence, 0.97)
        notes.append(note)
    words = told.words.get(name, {})
    if words:
        if name == "port.N.functions":
            codec, opaque = function_codec(slot.written, words)
        else:
            table = {k: v for k, v in codec.get("values", {}).items() if v not in words}
            table.update({word: text for text, word in words.items()})
            codec["values"] = table
            opaque = tuple(text for text in opaque if text not in words)
        doubt = tuple(text for text in doubt if text not in words)
        confidence = max(confidence, 0.97)
        notes.append("explained by the owner")
    if name == "receiver.port" and "values" not in codec and not told_value:
        carried = _receiver_base(slot, receivers)
        if carried is not None:
            codec.pop("base", None)
            if carried == 0:
                codec["base"] = 0
        elif receivers:
            confidence *= 0.8  # the port that it names carries no receiver
        elif bases.get("port") == 0:
            codec["base"] = 0
            confidence = min(confidence, SURE - 0.01)
        elif bases.get("port") == 1:
            codec.pop("base", None)
            confidence = min(confidence, SURE - 0.01)
        elif "base" not in codec:
            confidence *= 0.82
    if ".N" in name:
        group = "port" if name.startswith("port.") else "channel"
        if group not in bases:
            confidence = min(confidence * 0.85, SURE - 0.01)
            notes.append("taken as counted from 1")
    if name == "port.N.functions" and not words:
        codec, opaque = function_codec(slot.written, {})
    if value.note and not told_value:
        notes.append(value.note)
    if choice.told:
        notes.append("named by the owner")
    back = {text: word for word, text in codec.get("values", {}).items()}
    unsure = tuple(back[text] for text in doubt if text in back)
    kind = setting(name).kind
    if opaque and kind == "number" and not codec.get("values"):
        # Codes read as they stand would be numbers that they are not.
        confidence = min(confidence, 0.3)
    if opaque and kind in ("word", "words") and not codec.get("values") and not codec.get("mask"):
        # Nothing of it can be read yet: what it sets is known, what it says is not.
        notes.append("what its words mean nobody said yet")
    sure = confidence >= SURE and not open_codec
    rival = ""
    if choice.rival is not None:
        rival = f"`{choice.rival.slot.name}` ({choice.rival.score:.2f})"
    return Mapped(
        name, slot, codec, min(confidence, 1.0), sure, "; ".join(note for note in notes if note),
        rival, choice.told or bool(told_value), opaque, unsure, open_codec,
    )  # fmt: skip


def _said(pair: Pair) -> str:
    words = pair.name.words
    if not words:
        return "by its values"
    said = " and ".join(f"`{word}`" for word in words)
    return f"{said} in its name"


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
        return {"scale": _tidy(scale)}, note
    return codec, note


def _still_open(name: str, slot: Slot, answer: str) -> bool:
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


# ------------------------------------------------------------------ modes


def _modes(
    forms: Sequence[FormGuess], told: Told
) -> tuple[dict[str, str], tuple[str, ...], tuple[str, ...]]:
    from cfglint.teach.records import _titled

    written: dict[str, int] = {}
    for form in forms:
        if form.makes not in ("range", "link"):
            continue
        for field in ("mode", "follows"):
            if field in form.roles:
                for text in form.record.column(form.roles[field]):
                    written.setdefault(text, len(written))
        if "{mode}" in form.within:
            for row in form.record.rows:
                written.setdefault(_titled(row, form.within), len(written))
    said = told.words.get("mode", {})
    table: dict[str, str] = {}
    weights: dict[str, float] = {}
    codes: list[str] = []
    for text in written:
        if text in said:
            table[said[text]] = text
            weights[said[text]] = 1.0
    for text in written:
        if text in said:
            continue
        word, weight = best("mode", text)
        if not word or weight < 0.5 or weights.get(word, 0.0) >= weight:
            codes.append(text)
            continue
        if word in table:
            codes.append(table[word])
        table[word] = text
        weights[word] = weight
    unsure = tuple(word for word, weight in weights.items() if weight < 0.79)
    # A word that is named in an answer though no line has it is still worth keeping.
    for text, word in said.items():
        table.setdefault(word, text)
    for word, text in in_style("mode", table).items():
        table.setdefault(word, text)
    return table, unsure, tuple(dict.fromkeys(codes))
