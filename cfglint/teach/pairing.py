"""Which setting each address may set: its words, its values, and what legends explain of them."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import setting
from cfglint.dialect.values import UNITS
from cfglint.teach import match, names
from cfglint.teach.codes import (
    Legend,
    bit_numbers,
    either_way,
    figure,
    is_hex,
    legend,
    written_code,
)
from cfglint.teach.entries import Entry, uncounted
from cfglint.teach.families import (
    clean,
)
from cfglint.teach.fits import Habits, ValueFit
from cfglint.teach.numbers import SENSES
from cfglint.teach.readings import Reading, is_unit, number, readings_of
from cfglint.teach.roles import coded
from cfglint.teach.sense import (
    english,
    phrase,
    said_of,
)
from cfglint.teach.words import ideas, split, unit_of

if TYPE_CHECKING:
    from collections.abc import Sequence


_IDENTITY = (
    names._profile(
        "craft.board",
        "board",
        "board name:0.6 kind:0.6 craft:0.5",
        also="craft name",
        shares=(1.7, 0.3),
    ),
    names._profile(
        "craft.firmware",
        "version",
        "version board:0.5 craft:0.5 count:0.5",
        also="craft board count loop name",
        shares=(1.7, 0.3),
    ),
)


PROFILES = (*names.PROFILES, *_IDENTITY)


class Slot(NamedTuple):
    """An address and all that is written at it; ``numbers`` are those that count a family."""

    key: tuple[str, str]
    words: names.Words
    entries: tuple[Entry, ...]
    numbers: tuple[int, ...]
    flag: bool = False

    @property
    def written(self) -> list[str]:
        return [entry.value for entry in self.entries]

    @property
    def family(self) -> bool:
        return bool(self.numbers)


def slot_of(pair: match.Pair) -> Slot:
    """A pair's slot, which is one of ours."""
    return pair.slot  # type: ignore[return-value]


def _skeletons(entry: Entry) -> list[tuple[tuple[str, str], int]]:
    """The address of an entry with one of its numbers taken out, for each of them."""
    path = "\n".join(entry.titles)
    out = []
    for found in re.finditer(r"(?<!\d)(?<!\d\.)\d{1,2}(?!\d|\.\d)", entry.name):
        name = f"{entry.name[: found.start()]}\0{entry.name[found.end() :]}"
        out.append(((path, name), int(found.group())))
    for found in re.finditer(r"(?<![\d.])\d{1,2}(?![\d.])", path):
        out.append(  # noqa: PERF401
            ((f"{path[: found.start()]}\0{path[found.end() :]}", entry.name), int(found.group()))
        )
    return out


def slots_of(entries: Sequence[Entry]) -> list[Slot]:
    """Entries of one address together; those that differ in a number alone are a family."""
    families: dict[tuple[str, str], list[tuple[Entry, int]]] = defaultdict(list)
    single: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        for key, count in _skeletons(entry):
            families[key].append((entry, count))
        single["\n".join(entry.titles), clean(entry.name).lower()].append(entry)
    out = [Slot(key, _slot_words(every[0]), tuple(every), ()) for key, every in single.items()]
    for key, members in families.items():
        if len({count for _, count in members}) >= 2 or _counts(members[0][0].name):
            entry = members[0][0]._replace(
                titles=tuple(key[0].split("\n")) if key[0] else (), name=key[1]
            )
            out.append(
                Slot(
                    key,
                    _slot_words(entry),
                    tuple(e for e, _ in members),
                    tuple(n for _, n in members),
                )
            )
    return out


def _counts(name: str) -> bool:
    return bool(re.match(r"(?i)(ch|channel|port|uart|serial)\W?\d", name))


def _slot_words(entry: Entry) -> names.Words:
    def parts(text: str) -> tuple[str, ...]:
        return tuple(word for word in split(english(text.replace("\0", " "))) if not word.isdigit())

    if entry.note.startswith("\1"):
        section = tuple(word for title in entry.titles[-2:] for word in parts(title))
        return names.Words(
            parts(entry.name) + parts(entry.note) + parts_unit(entry.note), section[:6]
        )
    if entry.note and (
        len(entry.name.strip()) <= 3 or not any(ideas(word) for word in parts(entry.name))
    ):
        # A name that is a code says nothing; the note behind the value is the name.
        section = tuple(word for title in entry.titles[-2:] for word in parts(title))
        return names.Words(
            parts(re.split(r"[:(]|(?<!\d)[ ]?/ ?\d", entry.note)[0]) + parts_unit(entry.note),
            section[:6],
        )
    section = tuple(word for title in entry.titles[-2:] for word in parts(title))
    heading = parts(entry.heading) if entry.heading and len(entry.heading.split()) <= 4 else ()
    # In a sentence what is counted stands behind its number: `has 14 magnets`.
    behind = re.match(r"[+\-]?\d[\d.,]*[ ]+([^\W\d_][^\d,;(]*)", entry.value)
    tail = (
        parts(behind[1])[:4]
        if behind and entry.row.text.rstrip().endswith(".") and not is_unit(behind[1].split()[0])
        else ()
    )
    return names.Words(parts(entry.name) + tail, section[:6], heading)


def parts_unit(note: str) -> tuple[str, ...]:
    """The unit that a note names behind its words: `1/1000 of full` is per mille."""
    return (
        ("permille",)
        if "1/1000" in note
        else ("hundredths",)
        if "1/100 " in note
        else ("tenths",)
        if re.search(r"1/10 |tenths", note)
        else ()
    )


def coded_slots(
    slots: Sequence[Slot], legends: Sequence[Legend], bare: bool
) -> list[tuple[Slot, Legend | None, int, bool]]:
    """Slots with what explains their codes: the legend, the bit for a flag (-1: none), and hex."""
    out: list[tuple[Slot, Legend | None, int, bool]] = []
    for slot in slots:
        hexed = is_hex(slot.written, bare)
        entry = slot.entries[0]
        entry = entry._replace(name=slot.key[1]) if slot.family else entry
        own = (
            legend(entry.note)
            or _in_name(entry)
            or next((one for one in legends if _labelled(one, entry)), None)
        )
        if (
            own is not None
            and own.bits
            and all(re.fullmatch(r"\w+", text) for text in slot.written)
        ):
            for bit, said in bit_numbers(own, 16 if hexed else 10).items():
                words = tuple(word for word in split(english(said)) if not word.isdigit())
                part = slot._replace(
                    key=(slot.key[0], f"{slot.key[1]}\1{bit}"),
                    words=names.Words(words, (*slot.words.own, *slot.words.section)[:6]),
                )
                out.append((part, own, bit, hexed))
            if coded(_FUNCTIONS, slot.written, own.label, [own]) is not None:
                out.append((slot, own, -1, hexed))
        elif own is not None or hexed:
            out.append((slot, own, -1, hexed))
        else:
            out.append((slot, None, -1, False))
    return out


def _in_name(entry: Entry) -> Legend | None:
    """The legend that a name is where its note says that the value is bits."""
    if not re.search(r"(?i)(?<![^\W_])bits?(?![^\W_])", entry.note):
        return None
    found = legend(f"bits: {entry.name}")
    return found._replace(bits=True) if found is not None else None


_FACTOR = re.compile(r"\x01(?:.*[ ])?(?P<n>\d+(?:[.,]\d+)?)[ ]?(?P<unit>[%‰]|[^\W\d_]+)")

_TIMES = re.compile(r"\x01?[x×*][ ]?(?P<n>\d+(?:[.,]\d+)?)[ ]?(?P<unit>[%‰]|[^\W\d_]+)?(?=$|[ ,;])")
_OWN_UNIT = re.compile(r"(?<![\w.,])(?P<n>\d+(?:[.,]\d+)?)[ ]?(?P<unit>[%‰]|[^\W\d_]+)")


def given_scale(name: str, entry: Entry) -> float:
    """What one of a written number is in the setting's unit, where a table says so; else 0.

    A column of units says `0.1 %`, or one of factors `0.1` and the next `%`; a note says `x10 ms`,
    or a unit of the firmware's own, which a comment explains.
    """
    note = entry.note.strip()
    found = _FACTOR.fullmatch(note)
    if found is None and (times := _TIMES.match(note)) is not None:
        if not times["unit"]:
            return float(times["n"].replace(",", "."))
        found = times
    if found is None:
        own = said_of(re.split(r"[,;: ]", note.strip("\1 "))[0])
        found = next((match for said in own if (match := _OWN_UNIT.search(said))), None)
    if found is None:
        return 0
    unit = UNITS.get(setting(name).unit, {}).get(found["unit"].lower(), 0)
    return round(float(found["n"].replace(",", ".")) * unit, 9)


def _by_factor(name: str, slot: Slot, hexed: bool) -> list[Reading]:
    """The reading of numbers whose factor a table gives; empty where it gives none."""
    scale = given_scale(name, slot.entries[0])
    if not scale:
        return []
    texts = slot.written
    values = [
        float(figure(text)) if hexed else one.value if (one := number(text, True)) else -1.0
        for text in texts
    ]
    sense = SENSES.get(name)
    row = setting(name)
    low, high = sense.wide if sense is not None else (row.least or 0, row.most or 0)
    if not all(low - 1e-9 <= value * scale <= high + 1e-9 for value in values):
        return []
    keys: dict[str, Any] = {"base": 16} if hexed else {}
    if scale != 1:
        keys["scale"] = int(scale) if scale == int(scale) else scale
    return [Reading(keys, 1.0, 0.15)]


_FUNCTIONS = "port.N.functions"
#: What stands for a number in the label of a legend.
_NUMBERED = re.compile(r"(?<=[^\W\d_])[xnN#?*](?=[._\-])|(?<=[._\- ])[xnN#?*](?![^\W_])")


def _labelled(one: Legend, entry: Entry) -> bool:
    """Whether a row names a legend by its label, as `code 1` does."""
    if not one.label:
        return False
    label, name = split(one.label), split(entry.name)
    # `Px.USE` is what every `P3.USE` is.
    if "\0" in entry.name and _NUMBERED.sub("\0", one.label) == entry.name:
        return True
    if label and name[-len(label) :] == label and entry.value.strip("\"'") in one.codes:
        return True
    if entry.titles and label == split(entry.titles[-1]) and entry.value in one.codes:
        return all(re.fullmatch(r"[A-Za-z]", code) for code in one.codes)
    if one.label not in entry.name and one.label not in entry.row.text:
        return False
    pattern = rf"(?<![^\W_]){re.escape(one.label)}(?![^\W_])"
    named = re.search(pattern, entry.name) and re.search(
        r"(?i)(?<![^\W_])(?:id|code|no|nr|kind|type)(?![^\W_])", entry.name
    )
    return bool(named) or (not entry.column and re.search(pattern, entry.row.text) is not None)


def _coded(
    name: str, slot: Slot, one: Legend | None, bit: int, hexed: bool, unit: str, habits: Habits
) -> list[Reading]:
    """Readings of codes by their legend, of bits, and of hexadecimal numbers."""
    row = setting(name)
    base = {"base": 16} if hexed else {}
    if bit >= 0:
        doubt = {"\0": True} if one is not None and either_way(one) else {}
        return [Reading({**base, "bit": bit, **doubt}, 0.9, 0.2)] if row.kind == "flag" else []
    if one is not None and one.bits:
        known = coded(name, slot.written, one.label, [one]) if name == _FUNCTIONS else None
        return [Reading(known.keys, 0.9, 0.4, known.unsure)] if known is not None else []
    if one is not None and row.kind in ("word", "number"):
        words: dict[str, Any] = {}
        unsure = []
        for code, said in one.codes.items():
            if row.kind == "word":
                word, weight = phrase(name, english(said))
                if word and weight >= 0.5:
                    words[word] = written_code(code, slot.written[0])
                    if weight < 0.85:
                        unsure.append(word)
            elif (figure_ := number(said, False)) is not None:
                words[f"{figure_.value:g}"] = written_code(code, slot.written[0])
        if len(words) >= 2:
            return [
                Reading({"words": words}, 0.9, 0.6 if row.kind == "word" else 0.0, tuple(unsure))
            ]
        if row.kind == "word":
            return []
    if hexed and row.kind in ("number", "count"):
        texts = [str(figure(text)) for text in slot.written]
        readings = readings_of(name, texts, unit, habits, False)
        note = slot.entries[0].note
        times = re.search(r"(?<!\d)[ ]/ ?([0-9A-F]+h|\d+)", note)
        if times is not None:
            # `loops a second / 7Dh`: so many of the unit is one.
            factor = figure(times[1]) if times[1].endswith("h") else int(times[1])
            readings = readings_of(
                name, [str(figure(text) * factor) for text in slot.written], "", habits, False
            )
            base = {"base": 16, "scale": factor}
        if name == "receiver.port" and re.search(
            r"(?i)\b0+h? is the first|first is 0|from (?:0|zero)\b", note
        ):
            base = {"base": 16, "first": 0}
        return [
            reading._replace(keys={**reading.keys, **base})
            for reading in readings
            if "words" not in reading.keys
        ]
    return []


def flag_slot(every: Sequence[Entry]) -> Slot:
    """A flag that is named, or one of each section of several that are counted."""
    titles = [entry.titles[-1] if entry.titles else "" for entry in every]
    counts = [found[0] if (found := re.search(r"\d{1,2}", title)) else "" for title in titles]
    counted = len(set(counts)) > 1 and all(counts)
    return Slot(
        (uncounted(titles[0]) if counted else titles[0], f"\2{every[0].name}"),
        _slot_words(every[0]),
        tuple(every),
        tuple(int(one) for one in counts) if counted else (),
        True,
    )


def pairs_of(
    slots: Sequence[Slot],
    habits: Habits,
    comma: bool,
    legends: Sequence[Legend] = (),
    bare: bool = False,
) -> list[match.Pair]:
    """Every setting with every slot that may set it."""
    out = []
    for slot, own, bit, hexed in coded_slots(slots, legends, bare):
        unit = unit_said(slot.words.own)
        every = (*slot.words.own, *slot.words.section, *slot.words.heading)
        spoken = {idea for word in every for idea, _ in ideas(word)}
        for profile in PROFILES:
            if profile.setting not in _TELLING and all(
                spoken.isdisjoint(g) for g in profile.groups
            ):
                continue  # no word of it speaks of the setting
            if slot.flag and setting(profile.setting).kind != "flag":
                continue
            if profile.setting == "craft.firmware" and all(
                re.fullmatch(r"\W*\d+\W*", text) for text in slot.written
            ):
                continue  # a plain number is hardly a version
            if match.family_setting(profile.setting) != slot.family:
                continue
            named = names.fit(profile, slot.words)
            if named.score < 0.05 and profile.setting not in _TELLING:
                continue
            if setting(profile.setting).kind in ("number", "count") and (
                factored := _by_factor(profile.setting, slot, hexed)
            ):
                readings = factored
            elif hexed or own is not None:
                readings = _coded(profile.setting, slot, own, bit, hexed, unit, habits)
                readings = readings or (
                    []
                    if hexed or bit >= 0
                    else readings_of(profile.setting, slot.written, unit, habits, comma)
                )
            else:
                readings = readings_of(profile.setting, slot.written, unit, habits, comma)
            if not readings:
                continue
            pair = paired(profile.setting, slot, named, readings, unit)
            if pair.score >= match.FAINT:
                out.append(pair)
    out.sort(key=lambda pair: (-pair.score, pair.setting, pair.slot.key))
    return out


#: Settings whose values are hardly seen for anything else, whatever their names.
_TELLING = frozenset(
    (
        "motor.signal",
        "receiver.link",
        "battery.chemistry",
        "receiver.channel_order",
        "video.frequency_mhz",
        "video.power_mw",
    )
)


def unit_said(words: Sequence[str]) -> str:
    """The unit that a name says: `centi volt` is one as much as `cv`."""
    for small, unit in (("centi", "hundredths"), ("deci", "tenths")):
        if small in words:
            return unit
    if "milli" in words:
        after = [*words, ""][list(words).index("milli") + 1]
        return {"volt": "mv", "volts": "mv", "watt": "mw", "watts": "mw"}.get(
            after, "ms" if after.startswith("sec") else ""
        )
    return unit_of(tuple(words))


def paired(
    name: str, slot: Slot, named: names.Fit, readings: Sequence[Reading], unit: str
) -> match.Pair:
    fits = tuple(
        ValueFit(
            {**one.keys, "\0": one.guessed}, one.fit, one.note, one.specific, one.opaque, one.unsure
        )
        for one in readings
    )
    value = fits[0]
    n = named.score
    own = number(slot.written[0], True)
    if (unit or (own is not None and own.unit)) and value.fit >= 0.95 and named.recall >= 0.9:
        n += (1 - n) * 0.3
    score = n * (0.45 + 0.55 * value.fit)
    if value.specific:
        pull = value.specific * min(1.0, 0.35 + 1.3 * n)
        score = 1 - (1 - score) * (1 - pull)
    return match.Pair(name, slot, min(score, 0.99), named, fits)  # type: ignore[arg-type]
