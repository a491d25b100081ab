"""Teaching: from samples to a dialect of marks and map that reads them, each mapping proven.

Rows are families where their fields fit one, else entries of a name and a value; what every name
means is decided at once; what comes out is read back over all samples before it is written, and
a mapping that does not read its own values takes another form or is left out.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import SETTINGS, setting
from cfglint.dialect.mapping import codec_of
from cfglint.dialect.mapping import marks_of as compiled_marks
from cfglint.dialect.values import Bad, decode
from cfglint.dump.layout import rows as rows_of
from cfglint.record import NamedTuple
from cfglint.teach import match, names, sheet, switches, tomlform
from cfglint.teach.codes import Legend, bare_hex, bit_numbers, figure, is_hex, legend, legends_of, written_code
from cfglint.teach.entries import Entry, entries_of, named_flags, titles_of
from cfglint.teach.families import Expect, Item, channel_rows, clean, lines_of, loss_rows, port_rows, template, titled
from cfglint.teach.fits import Habits, ValueFit, habits_of
from cfglint.teach.parts import record_items
from cfglint.teach.proof import prove, read
from cfglint.teach.readings import Reading, loss_meaning, number, readings_of
from cfglint.teach.sense import LANGUAGES, best, dictionary, english, language_of, legend_of, phrase, understood
from cfglint.teach.sheet import NOTHING, Answers, Question
from cfglint.teach.tables import table_entries, table_items
from cfglint.teach.textmarks import marks_of
from cfglint.teach.words import ideas, split, unit_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.dump.layout import Row
    from cfglint.dump.source import Source

#: So often a draft is made anew without the families that could not be read.
TRIES = 2
#: Confidence of a name, and of the way to read its values, from which a mapping is not marked.
SURE, SURE_CODEC = 0.66, 0.75
#: How much of a name must speak of the setting, and of nothing else, for that.
CLEAR = 0.66

_IDENTITY = (
    names._profile("craft.board", "board", "board name:0.6 kind:0.6 craft:0.5", also="craft name", shares=(1.7, 0.3)),
    names._profile("craft.firmware", "version", "version board:0.5 craft:0.5 count:0.5", also="craft board count loop name", shares=(1.7, 0.3)),
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


class Draft(NamedTuple):
    """A dialect file's text, its tables, and what was left out with why.

    ``failed`` are families that could not be read in this try, ``left`` those left out before.
    """

    text: str
    data: dict[str, Any]
    dropped: tuple[str, ...]
    failed: frozenset[str] = frozenset()
    left: frozenset[str] = frozenset()
    #: Settings whose answers contradict the samples, and all that is open.
    reopened: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()


def _skeletons(entry: Entry) -> list[tuple[tuple[str, str], int]]:
    """The address of an entry with one of its numbers taken out, for each of them."""
    path = "\n".join(entry.titles)
    out = []
    for found in re.finditer(r"(?<!\d)(?<!\d\.)\d{1,2}(?!\d|\.\d)", entry.name):
        name = f"{entry.name[: found.start()]}\0{entry.name[found.end() :]}"
        out.append(((path, name), int(found.group())))
    for found in re.finditer(r"(?<![\d.])\d{1,2}(?![\d.])", path):
        out.append(((f"{path[: found.start()]}\0{path[found.end() :]}", entry.name), int(found.group())))
    return out


def slots_of(entries: Sequence[Entry]) -> list[Slot]:
    """Entries of one address together; those that differ in a number alone are a family."""
    families: dict[tuple[str, str], list[tuple[Entry, int]]] = defaultdict(list)
    single: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        for key, count in _skeletons(entry):
            families[key].append((entry, count))
        single["\n".join(entry.titles), clean(entry.name).lower()].append(entry)
    out = [
        Slot(key, _slot_words(every[0]), tuple(every), ())
        for key, every in single.items()
    ]
    for key, members in families.items():
        if len({count for _, count in members}) >= 2 or _counts(members[0][0].name):
            entry = members[0][0]._replace(titles=tuple(key[0].split("\n")) if key[0] else (), name=key[1])
            out.append(Slot(key, _slot_words(entry), tuple(e for e, _ in members), tuple(n for _, n in members)))
    return out


def _counts(name: str) -> bool:
    return bool(re.match(r"(?i)(ch|channel|port|uart|serial)\W?\d", name))


def _slot_words(entry: Entry) -> names.Words:
    def parts(text: str) -> tuple[str, ...]:
        return tuple(word for word in split(english(text.replace("\0", " "))) if not word.isdigit())

    if entry.note.startswith("\1"):
        section = tuple(word for title in entry.titles[-2:] for word in parts(title))
        return names.Words(parts(entry.name) + parts(entry.note) + parts_unit(entry.note), section[:6])
    if entry.note and (len(entry.name.strip()) <= 3 or not any(ideas(word) for word in parts(entry.name))):
        # A name that is a code says nothing; the note behind the value is the name.
        section = tuple(word for title in entry.titles[-2:] for word in parts(title))
        return names.Words(parts(re.split(r"[:(]|(?<!\d)[ ]?/ ?\d", entry.note)[0]) + parts_unit(entry.note), section[:6])
    section = tuple(word for title in entry.titles[-2:] for word in parts(title))
    heading = parts(entry.heading) if entry.heading and len(entry.heading.split()) <= 4 else ()
    return names.Words(parts(entry.name), section[:6], heading)


def parts_unit(note: str) -> tuple[str, ...]:
    """The unit that a note names behind its words: `1/1000 of full` is per mille."""
    return ("permille",) if "1/1000" in note else ("hundredths",) if "1/100 " in note else ("tenths",) if re.search(r"1/10 |tenths", note) else ()


def coded_slots(slots: Sequence[Slot], legends: Sequence[Legend], bare: bool) -> list[tuple[Slot, Legend | None, int, bool]]:
    """Slots with what explains their codes: the legend, the bit for a flag (-1: none), and hex."""
    out: list[tuple[Slot, Legend | None, int, bool]] = []
    for slot in slots:
        hexed = is_hex(slot.written, bare)
        entry = slot.entries[0]
        own = legend(entry.note) or next((one for one in legends if _labelled(one, entry)), None)
        if own is not None and own.bits and all(re.fullmatch(r"\w+", text) for text in slot.written):
            for bit, said in bit_numbers(own, 16 if hexed else 10).items():
                words = tuple(word for word in split(english(said)) if not word.isdigit())
                part = slot._replace(key=(slot.key[0], f"{slot.key[1]}\1{bit}"), words=names.Words(words, (*slot.words.own, *slot.words.section)[:6]))
                out.append((part, own, bit, hexed))
        elif own is not None or hexed:
            out.append((slot, own, -1, hexed))
        else:
            out.append((slot, None, -1, False))
    return out


def _labelled(one: Legend, entry: Entry) -> bool:
    """Whether a row names a legend by its label, as `code 1` does."""
    if not one.label:
        return False
    pattern = rf"(?<![^\W_]){re.escape(one.label)}(?![^\W_])"
    named = re.search(pattern, entry.name) and re.search(r"(?i)(?<![^\W_])(?:id|code|no|nr|kind|type)(?![^\W_])", entry.name)
    return bool(named) or (not entry.column and re.search(pattern, entry.row.text) is not None)


def _coded(name: str, slot: Slot, one: Legend | None, bit: int, hexed: bool, unit: str, habits: Habits) -> list[Reading]:
    """Readings of codes by their legend, of bits, and of hexadecimal numbers."""
    row = setting(name)
    base = {"base": 16} if hexed else {}
    if bit >= 0:
        return [Reading({**base, "bit": bit}, 0.9, 0.2)] if row.kind == "flag" else []
    if one is not None and row.kind in ("word", "number") and not one.bits:
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
            return [Reading({"words": words}, 0.9, 0.6 if row.kind == "word" else 0.0, tuple(unsure))]
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
            readings = readings_of(name, [str(figure(text) * factor) for text in slot.written], "", habits, False)
            base = {"base": 16, "scale": factor}
        if name == "receiver.port" and re.search(r"(?i)\b0+h? is the first|first is 0|from (?:0|zero)\b", note):
            base = {"base": 16, "first": 0}
        return [reading._replace(keys={**reading.keys, **base}) for reading in readings if "words" not in reading.keys]
    return []


def _flag_slot(every: Sequence[Entry]) -> Slot:
    return Slot((every[0].titles[-1] if every[0].titles else "", f"\2{every[0].name}"), _slot_words(every[0]), tuple(every), (), True)


def pairs_of(
    slots: Sequence[Slot], habits: Habits, comma: bool, legends: Sequence[Legend] = (), bare: bool = False
) -> list[match.Pair]:
    """Every setting with every slot that may set it."""
    out = []
    for slot, own, bit, hexed in coded_slots(slots, legends, bare):
        unit = _unit(slot.words.own)
        for profile in PROFILES:
            if slot.flag and setting(profile.setting).kind != "flag":
                continue
            if match.family_setting(profile.setting) != slot.family:
                continue
            named = names.fit(profile, slot.words)
            if named.score < 0.05 and profile.setting not in _TELLING:
                continue
            if hexed or own is not None:
                readings = _coded(profile.setting, slot, own, bit, hexed, unit, habits)
                readings = readings or ([] if hexed or bit >= 0 else readings_of(profile.setting, slot.written, unit, habits, comma))
            else:
                readings = readings_of(profile.setting, slot.written, unit, habits, comma)
            if not readings:
                continue
            pair = _pair(profile.setting, slot, named, readings, unit)
            if pair.score >= match.FAINT:
                out.append(pair)
    out.sort(key=lambda pair: (-pair.score, pair.setting, pair.slot.key))
    return out


#: Settings whose values are hardly seen for anything else, whatever their names.
_TELLING = frozenset(("motor.signal", "receiver.link", "battery.chemistry", "receiver.channel_order", "video.frequency_mhz", "video.power_mw"))


def _unit(words: Sequence[str]) -> str:
    """The unit that a name says: `centi volt` is one as much as `cv`."""
    for small, unit in (("centi", "hundredths"), ("deci", "tenths")):
        if small in words:
            return unit
    if "milli" in words:
        after = [*words, ""][list(words).index("milli") + 1]
        return {"volt": "mv", "volts": "mv", "watt": "mw", "watts": "mw"}.get(after, "ms" if after.startswith("sec") else "")
    return unit_of(tuple(words))


def _pair(name: str, slot: Slot, named: names.Fit, readings: Sequence[Reading], unit: str) -> match.Pair:
    fits = tuple(
        ValueFit({**one.keys, "\0": one.guessed}, one.fit, one.note, one.specific, one.opaque, one.unsure)
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


def _single(choice: match.Choice, habits: Habits, comma: bool, port_base: int) -> Item:
    pair = choice.pair
    slot: Slot = pair.slot  # type: ignore[assignment]
    first = pair.fits[0]
    keys = {key: value for key, value in first.codec.items() if key != "\0"}
    if slot.flag:
        return _named(choice, keys)
    name = pair.setting
    zero = any(re.search(r"(?<!\d)0$", text) for text in slot.written)
    if name == "receiver.port" and port_base == 0 and not zero and not re.search(r"[A-Za-z]$", slot.written[0]):
        # Ports are counted from 0 where they are listed, and so here.
        if "words" in keys:
            keys["words"] = {str(int(count) + 1): text for count, text in keys["words"].items()}
        else:
            keys["first"] = 0
    if setting(name).kind == "flag" and keys.get("words") == {"yes": habits.yes, "no": habits.no}:
        del keys["words"]
    clear = choice.pair.name.precision >= CLEAR or choice.told
    sure = clear and choice.confidence >= SURE and choice.codec_confidence >= SURE_CODEC and not first.codec.get("\0")
    if not sure:
        keys["sure"] = False
    elif first.doubt:
        keys["unsure"] = list(first.doubt)
    if slot.family:
        base = 0 if 0 in slot.numbers else 1
        if base == 0:
            keys["N"] = {"first": 0}
    entry = slot.entries[0]
    called = clean_n(slot.key[1].replace("\0", " N ")) if slot.family else clean(entry.name)
    path = slot.key[0].replace("\0", " N ").split("\n") if slot.key[0] else []
    counted = [step for step in path if " N " in step]
    forms = []
    texts = titled(path, called)
    if counted:
        last = max(at for at, step in enumerate(path) if " N " in step)
        texts = (" > ".join([*(clean_n(step) for step in path[last:]), called]), *texts[1:])
    if len(texts) > 1 and any(word not in slot.words.own for word in pair.name.words):
        # The title is half of the name: without it the words would say too little.
        texts = (texts[1], texts[0], *texts[2:])
    if entry.column:
        forms = [{"at": clean(entry.titles[-1]), "column": clean(entry.column), **keys}]
        texts = ()
    for text in texts:
        forms.append(text if not keys else {"at": text, **keys})
    hexed = keys.get("base") == 16
    whole = [template(*_with_value(one, "" if hexed else setting(name).kind)) for one in slot.entries]
    if slot.family and not counted:
        at = list(dict.fromkeys(_counted(one, slot.key[1], setting(name).kind) for one in slot.entries))
        forms += [{"at": at[0] if len(at) == 1 else at, **keys}] if len(at) <= 3 else []
    if not slot.family and not entry.column and len(set(whole)) <= 3:
        for depth in range(len(texts)):
            at = [titled(path, one)[depth] for one in dict.fromkeys(whole)]
            forms.append({"at": at[0] if len(at) == 1 else at, **keys})
    reason = f"{first.note + '; ' if first.note else ''}{_examples(slot)}"
    return Item(name, name, tuple(f if isinstance(f, dict) else {"at": f} for f in forms), _expects(slot, name, comma, hexed), reason)


def _told(
    slots: Sequence[Slot], every: Sequence[tuple[int, Row]], answers: Answers, habits: Habits, comma: bool
) -> tuple[dict[str, match.Pair], list[str]]:
    """Pairs that a person named by the place in the first sample; settings whose place is none."""
    out: dict[str, match.Pair] = {}
    wrong = []
    for name, (line, text, value) in answers.places.items():
        if name not in SETTINGS:
            continue
        slot = next((one for one in slots if not one.family and any(e.sample == 0 and e.row.line == line and e.value.strip("\"'«»") == text for e in one.entries)), None)
        slot = slot or _found_at(every, line, text)
        if slot is None:
            wrong.append(name)
            continue
        readings = readings_of(name, slot.written, _unit(slot.words.own), habits, comma) or [Reading({}, 0.5)]
        if value:
            # What is written there is a code: its meaning is known of one sample.
            keys = sheet.fitted(name, {k: v for k, v in readings[0].keys.items()}, slot.written, value, comma)
            if keys is None:
                wrong.append(name)
                continue
            readings = [Reading(keys, 1.0)]
        pair = _pair(name, slot, names.Fit(1.0, 1.0, 1.0, ()), readings, "")
        out[name] = pair._replace(fits=(pair.fits[0]._replace(opaque=()),))
    return out, wrong


def _found_at(every: Sequence[tuple[int, Row]], line: int, text: str) -> Slot | None:
    """An address for a text at a line, by the words before it in all samples."""
    row = next((row for sample, row in every if sample == 0 and row.line == line and text in row.text), None)
    if row is None or not row.atoms:
        return None
    at = row.text.index(text)
    before = row.text[row.atoms[0].start : at]
    after = row.text[at + len(text) :].split()[:1]
    out = []
    for sample, other in every:
        if other.comment or not other.atoms:
            continue
        begin = other.atoms[0].start
        if other.text[begin:].startswith(before) and (before.strip() or (sample == 0 and other.line == line)):
            start = begin + len(before)
            stop = len(other.text.rstrip())
            if after:
                found = other.text.find(after[0], start)
                stop = found if found > start else stop
            if sample == 0 and other.line == line:
                stop = start + len(text)
            out.append(Entry(sample, other, titles_of(other)[0], "", before.strip(), other.text[start:stop].strip(" ,;"), start, start + len(other.text[start:stop].rstrip(" ,;")), False, False))
    return Slot(("", clean(before).lower() or f"line {line}"), names.Words(tuple(split(before))), tuple(out), ()) if out else None


def _agrees(pair: match.Pair, said: str, marks: dict[str, Any]) -> bool:
    """Whether a slot's first value in the first sample is read as the answer says."""
    slot: Slot = pair.slot  # type: ignore[assignment]
    if slot.family or slot.entries[0].sample != 0:
        return False
    row = setting(pair.setting)
    keys = {key: value for key, value in pair.fits[0].codec.items() if key != "\0"}
    one = number(slot.written[0], marks.get("decimal") == ",") if row.kind in ("number", "count") and "base" not in keys else None
    try:
        value = decode(codec_of(keys, marks, row), row, one.text if one is not None else slot.written[0])
    except Bad:
        return False
    if isinstance(value, bool):
        return said.lower() == ("yes" if value else "no")
    wanted = number(said, False)
    if isinstance(value, int | float):
        return wanted is not None and abs(value - wanted.value) <= 1e-3 * max(1.0, abs(wanted.value))
    return str(value).lower() == said.lower()


def _answered(item: Item, choice: match.Choice, answers: Answers, comma: bool) -> tuple[Item, list[str]]:
    """A mapping with what was answered of it; its name if the answer contradicts the samples."""
    name = item.name
    said = answers.values.get(name, sheet.OK if choice.told and name in answers.places else "")
    if choice.told and name in answers.values:
        said = sheet.OK
    if not said or said == sheet.NONE:
        return item, []
    slot: Slot = choice.pair.slot  # type: ignore[assignment]
    forms = []
    for form in item.forms:
        keys = {key: value for key, value in form.items() if key not in ("at", "column", "N")}
        kept = {key: value for key, value in form.items() if key in ("at", "column", "N")}
        made = {k: v for k, v in keys.items() if k not in ("sure", "unsure")} if said == sheet.OK else sheet.fitted(name, keys, slot.written, said, comma)
        if made is None:
            return item, [name]
        forms.append({**kept, **made})
    return item._replace(forms=tuple(forms), reason=f"{item.reason}; told"), []


#: Settings that a person is asked to find where nothing was found, and what harm a gap does.
_WANTED = {name: 0.5 for name in SETTINGS if ".N" not in name} | {
    "motor.signal": 1.0, "receiver.link": 0.9, "failsafe.action": 0.9, "battery.cells": 0.7, "battery.empty_v": 0.7,
}


def _questions(
    draft: Draft, proven: Sequence[tuple[Item, dict[str, Any]]], slots: Sequence[Slot], items: Sequence[Item],
    pairs: Sequence[match.Pair], reopened: Sequence[str], first: Sequence[Source],
) -> list[Question]:
    """All that is open: words that are guessed or unknown, mappings that are guesses, gaps."""
    out: list[Question] = []
    modes = draft.data.get("modes", {})
    for word in modes.get("unsure", ()):
        for text in [modes[word]] if isinstance(modes.get(word), str) else modes.get(word, ()):
            out.append(Question("word", "mode", text, f"mode `{text}`: perhaps {word}", 2.0))
    out += [Question("word", "mode", text, f"mode `{text}`: not known", 2.2) for text in modes.get("own", ())]
    for item, form in proven:
        for field, codec in form.get("fields", {}).items():
            table = form.get("sets", {}).get(field, "")
            for word in codec.get("unsure", ()):
                every = codec["words"].get(word, ())
                for text in [every] if isinstance(every, str) else every:
                    if table in sheet.TABLES:
                        out.append(Question("word", table, text, f"{table}: `{text}`, perhaps {word}", 1.5))
        if item.name and item.name in sheet.TABLES and form.get("unsure") and form.get("sure", True):
            for word in form["unsure"]:
                every = form["words"].get(word, ())
                out += [Question("word", item.name, text, f"{item.name}: `{text}`, perhaps {word}", 1.5) for text in ([every] if isinstance(every, str) else every)]
        if item.name and ".N" not in item.name and (form.get("sure") is False or item.name in reopened):
            seen = "; ".join(f"line {one.line}: {one.written}" for one in item.expects[:3])
            about = f"{item.name}, {setting(item.name).about}{_in_unit(item.name)}: read from {form['at'] if isinstance(form['at'], str) else form['at'][0]!r} ({seen})"
            out.append(Question("value", "", item.name, about, 1.0 + _WANTED.get(item.name, 0)))
    shown = {one.span.line: f"{one.mode} on channel {one.channel}, {one.low_us:g} to {one.high_us:g} µs, {one.join}" for one in read(first, draft.data)[0].ranges} if first else {}
    for item, form in proven:
        if not item.name and form.get("sure") is False:
            line = next((one.line for one in item.expects if one.sample == 0 and one.line in shown), 0)
            if line:
                out.append(Question("rows", "", item.id, f"rows such as line {line}, {first[0].lines[line - 1].strip()[:60]}: {shown[line]}", 2.1))
    for text in _unread_functions(draft, slots, items):
        out.append(Question("word", "port.N.functions", text, f"what port carries `{text}`", 1.6))
    have = {item.name for item, _ in proven}
    for name, harm in _WANTED.items():
        if name not in have:
            likely = next((pair for pair in pairs if pair.setting == name and pair.score >= 0.2), None)
            hint = f"; perhaps line {likely.slot.entries[0].row.line}: {likely.slot.entries[0].row.text.strip()[:60]}" if likely else ""  # type: ignore[attr-defined]
            out.append(Question("find", "", name, f"{name}, {setting(name).about}{_in_unit(name)}: not found{hint}", harm))
    return out


def _in_unit(name: str) -> str:
    row = setting(name)
    return f" ({', '.join(row.words)})" if row.words else f" in {row.unit}" if row.unit else ""


def _unread_functions(draft: Draft, slots: Sequence[Slot], items: Sequence[Item]) -> list[str]:
    """Words of ports that nobody understood."""
    out: list[str] = []
    for item in items:
        codec = item.forms[0].get("fields", {}).get("functions") or (item.forms[0] if item.name == "port.N.functions" else None)
        if codec is None:
            continue
        known = {text for every in codec.get("words", {}).values() for text in ([every] if isinstance(every, str) else every)}
        none = codec.get("none", ())
        known |= {none} if isinstance(none, str) else set(none)
        for one in item.expects:
            if one.name.endswith(".functions"):
                parts = one.written.split(codec.get("list", ",")) if one.written not in known else []
                out += [part.strip() for part in parts if part.strip() and part.strip() not in known and part.strip() not in out]
    return out


def _named(choice: match.Choice, keys: dict[str, Any]) -> Item:
    """A flag that is set by being named: its rows are nothing but its words."""
    slot: Slot = choice.pair.slot  # type: ignore[assignment]
    words = {entry.value: clean(entry.row.text[entry.start : entry.end]) for entry in slot.entries}
    form: dict[str, Any] = {"at": "{value}", "words": words}
    if choice.confidence < SURE:
        form["sure"] = False
    title = clean(slot.entries[0].titles[-1]) if slot.entries[0].titles else ""
    forms = [{**form, "at": f"{title} > {{value}}"}, form] if title else [form]
    expects = tuple(Expect(one.sample, choice.pair.setting, one.row.line, words[one.value]) for one in slot.entries)
    return Item(choice.pair.setting, choice.pair.setting, tuple(forms), expects, "a flag that is set by being named")


def clean_n(step: str) -> str:
    return " N ".join(clean(part) for part in step.split(" N ")).strip()


def _with_value(entry: Entry, kind: str) -> tuple[str, list[tuple[int, int, str]]]:
    atoms = entry.row.atoms
    start, end = atoms[0].start, min(entry.row.note, atoms[-1].end)
    one = number(entry.value, True) if kind in ("number", "count") else None
    stop = entry.start + len(one.text) if one is not None else entry.end
    # Other values in the row are not its words.
    text, fields = entry.row.text[start:end], [(entry.start - start, stop - start, "value")]
    for found in re.finditer(r"(?<![\w.,])[+\-\u2212]?\d{1,3}(?: \d{3})+(?!\d)|(?<!\w)[0-9A-F]{1,8}h(?!\w)|(?<![\w.,])[+\-\u2212]?\d[\d.,]*(?![\w])", text):
        if found.start() >= stop - start or (found.end() <= entry.start - start and found.start() > 0):
            fields.append((found.start(), found.end(), "_"))
    return text, fields


def _counted(entry: Entry, key: str, kind: str) -> str:
    """A family's row as a template with its number and its value."""
    text, fields = _with_value(entry, kind)
    number_at = re.search(re.escape(key.split("\0")[0].strip()) + r"\W*(\d{1,2})", text)
    if number_at is None:
        return template(text, fields)
    others = [one for one in fields if one[1] <= number_at.start(1) or one[0] >= number_at.end(1)]
    return template(text, [(number_at.start(1), number_at.end(1), "N"), *others])


def _expects(slot: Slot, name: str, comma: bool, hexed: bool = False) -> tuple[Expect, ...]:
    out = []
    base = 0 if 0 in slot.numbers else 1
    for place, entry in enumerate(slot.entries):
        one = number(entry.value, comma) if not hexed and setting(name).kind in ("number", "count") else None
        full = name.replace(".N", f".{slot.numbers[place] + 1 - base}") if slot.family else name
        out.append(Expect(entry.sample, full, entry.row.line, one.text if one is not None else entry.value))
    return tuple(out)


def _examples(slot: Slot) -> str:
    seen = list(dict.fromkeys(slot.written))
    return "seen: " + ", ".join(seen[:4])


def teach(sources: Sequence[Source], name: str, language: str = "", answers: Answers = NOTHING) -> Draft:
    """The draft of a dialect from samples of one firmware; the language is found if not said."""
    texts = [line for source in sources for line in source.lines]
    language = language or language_of(texts)
    marks = marks_of(sources)
    comments = [line for line in texts if line.strip().startswith(tuple(marks.get("comment", ("\0",))))]
    words = dictionary(language) if language in LANGUAGES else {}
    wrong: list[str] = []
    if answers.words:
        with understood(words, legend_of(comments)):
            plain = _draft(sources, name, marks, frozenset(), NOTHING)
            answers, wrong = _believed(answers, plain)
    with understood(words, legend_of(comments), answers.words):
        draft = _draft(sources, name, marks, frozenset(), answers)
        for _ in range(TRIES):
            if not draft.failed:
                break
            # Rows of a family that cannot be read are looked at once more, as anything else.
            draft = _draft(sources, name, marks, draft.failed | draft.left, answers)
        again = [_again(key, plain) for key in wrong]
        return draft._replace(reopened=(*draft.reopened, *wrong), questions=(*again, *(one for one in draft.questions if one.key not in {q.key for q in again})))


def _believed(answers: Answers, plain: Draft) -> tuple[Answers, list[str]]:
    """Answers without words that contradict what is sure, and the subjects of those."""
    modes = plain.data.get("modes", {})
    words, wrong = {}, []
    for (table, text), word in answers.words.items():
        meaning, weight = loss_meaning(text) if table == "failsafe.channel.N" else best(table, text)
        sure = word.endswith("!")
        word = word.removesuffix("!").strip()
        held = modes.get(word) if table == "mode" and word not in modes.get("unsure", ()) else None
        taken = held is not None and text not in ([held] if isinstance(held, str) else held)
        if not sure and word != meaning and ((weight >= 0.5 and word != sheet.NONE) or taken):
            wrong.append(f"{table} {text}")
        else:
            words[table, text] = word
    return answers._replace(words=words), wrong


def _again(subject: str, plain: Draft) -> Question:
    """The question of a word whose answer contradicts what is sure."""
    table, _, text = subject.partition(" ")
    old = next((one for one in plain.questions if one.kind == "word" and one.table == table and one.subject == text), None)
    about = old.about if old is not None else f"{table}: `{text}`"
    return Question("word", table, text, f"{about}; the answer contradicts what else is sure, `!` behind it says that it is so", 2.5)


def _draft(sources: Sequence[Source], name: str, marks: dict[str, Any], left: frozenset[str], answers: Answers) -> Draft:
    comma = marks.get("decimal") == ","
    layout = compiled_marks(marks)
    every: list[tuple[int, Row]] = [
        (sample, row) for sample, source in enumerate(sources) for row in rows_of(source, layout)
    ]
    legends = legends_of([*_notes(every)])
    bare = bare_hex(line for source in sources for line in source.lines)
    marks = dict(marks)
    items, taken, modes = _families(every, comma, left)
    rest = [(sample, row) for sample, row in every if (sample, row.line) not in taken]
    listed, more = table_entries(rest)
    entries = [*listed, *entries_of([(sample, row) for sample, row in rest if (sample, row.line) not in more])]
    flags = named_flags(rest, entries)
    habits = habits_of([entry.value for entry in entries], ",")
    marks["yes"], marks["no"] = habits.yes, habits.no
    held = {one for item in items for one in (item.name, *item.forms[0].get("sets", {}).values()) if one}
    slots = [*slots_of(entries), *(_flag_slot(every) for every in flags)]
    told, reopened = _told(slots, every, answers, habits, comma)
    held |= answers.none | {name for name, said in answers.values.items() if said == sheet.NONE}
    pairs = pairs_of(slots, habits, comma, legends, bare)
    for pair in pairs:
        said = answers.values.get(pair.setting, "")
        if said not in ("", sheet.OK, sheet.NONE) and pair.setting not in told and _agrees(pair, said, marks):
            told[pair.setting] = pair
    families = match.choose([pair for pair in pairs if pair.slot.family], without=held)
    members = {id(entry) for choice in families.values() if choice.confidence >= 0.5 for entry in choice.pair.slot.entries}  # type: ignore[attr-defined]
    pairs = [pair for pair in pairs if pair.slot.family or not all(id(entry) in members for entry in pair.slot.entries)]  # type: ignore[attr-defined]
    chosen = match.choose(pairs, told, without=held - set(told))
    port_base = 0 if any(one.id.startswith("ports") and one.forms[0].get("fields", {}).get("N", {}).get("first") == 0 for one in items) else 1
    order = {one: place for place, one in enumerate(SETTINGS)}
    for choice in sorted(chosen.values(), key=lambda one: order.get(one.pair.setting, 99)):
        item, contradiction = _answered(_single(choice, habits, comma, port_base), choice, answers, comma)
        items.append(item)
        reopened += contradiction
    items = [one._replace(forms=tuple({k: v for k, v in form.items() if k != "sure"} for form in one.forms)) if one.id in answers.rows else one for one in items]
    data = {"dialect": {"id": name}, "marks": marks, "modes": modes}
    proven, dropped = prove(sources, data, items)
    kept = {item.id for item, _ in proven}
    tabled = {one.id for one in items if one.id == one.name and ("column" in one.forms[0])}
    failed = frozenset(_mark(one) for one in items if one.id not in kept and (not one.name or one.id in tabled))
    draft = _written(data, proven, dropped)._replace(failed=failed - left, left=left, reopened=tuple(reopened))
    return draft._replace(questions=tuple(_questions(draft, proven, slots, items, pairs, reopened, sources[:1])))


def _dropped(items: list[Item], taken: set[tuple[int, int]], left: frozenset[str]) -> tuple[list[Item], set[tuple[int, int]]]:
    """Families without those that could not be read, whose rows are free again."""
    free = {(one.sample, one.line) for item in items if _mark(item) in left for one in item.expects}
    return [item for item in items if _mark(item) not in left], taken - free


def _merged(items: Sequence[Item]) -> list[Item]:
    """Families whose templates another has already are one with it."""
    out: list[Item] = []
    for item in items:
        at = item.forms[0]["at"]
        own = {at} if isinstance(at, str) else set(at)
        for place, other in enumerate(out):
            held = other.forms[0]["at"]
            if own <= ({held} if isinstance(held, str) else set(held)) and item.forms[0].get("each") == other.forms[0].get("each"):
                out[place] = other._replace(expects=(*other.expects, *item.expects))
                break
        else:
            out.append(item)
    return out


def _mark(item: Item) -> str:
    """What a family is known by from one try to the next."""
    return f"{item.forms[0].get('makes', '')}{item.name}{item.forms[0]['at']}"


def _families(every: Sequence[tuple[int, Row]], comma: bool, skip: frozenset[str] = frozenset()) -> tuple[list[Item], set[tuple[int, int]], dict[str, Any]]:
    lines = lines_of(every)
    table = table_items(every, comma)
    items, taken = _dropped(table.items, set(table.taken), skip)

    def left() -> list[Any]:
        return [line for line in lines if (line.sample, line.row.line) not in taken]

    channels, more = _dropped(*channel_rows(left()), skip)
    items += channels
    taken |= more
    loss, more = _dropped(*loss_rows(left(), comma), skip)
    taken |= more
    ports, more = _dropped(*port_rows(left()), skip)
    taken |= more
    notes = _notes(every)
    entries = entries_of([(line.sample, line.row) for line in left()])
    ranges = switches.range_rows(left(), entries, comma, notes)
    ranges = ranges._replace(items=(kept := _dropped(ranges.items, ranges.taken, skip))[0], taken=kept[1])
    taken |= ranges.taken
    near = switches.homes(line for line in lines if (line.sample, line.row.line) in ranges.taken)
    coded = switches.coded_ranges(left(), len(ranges.items))
    ranges.items.extend(coded.items)
    ranges.taken.update(coded.taken)
    taken |= coded.taken
    links = switches.link_rows(left(), taken, ranges.modes, near)
    taken |= links.taken
    joins = switches.join_rows(left(), ranges.modes, near)
    taken |= joins.taken
    records, more, named = record_items(entries_of([(line.sample, line.row) for line in left()]), comma)
    taken |= more
    words, unsure, own = switches.words_of_modes(list(dict.fromkeys([*table.modes, *ranges.modes, *links.modes, *named])))
    modes: dict[str, Any] = dict(words)
    for written, word in coded.words.items():
        modes.setdefault(word, written)
        unsure.append(word)
    if unsure:
        modes["unsure"] = unsure
    if own:
        modes["own"] = own
    return [*items, *loss, *ports, *_merged(ranges.items), *links.items, *joins.items, *records], taken, modes


def _notes(every: Iterable[tuple[int, Row]]) -> list[str]:
    """Comments and titles, which may say how numbers are meant."""
    out = []
    for _, row in every:
        if row.comment or re.search(r"=.*=|:.*=|\d [^\W\d_][^,;]*[,;] ?\d+ [^\W\d_]", row.text):
            out.append(row.text)
    return list(dict.fromkeys(out))


def _written(data: dict[str, Any], items: Sequence[tuple[Item, dict[str, Any]]], dropped: Sequence[str]) -> Draft:
    whole = {**data, "map": {}, "rows": []}
    reasons = {}
    for item, form in items:
        if item.name:
            whole["map"][item.name] = form["at"] if set(form) == {"at"} and isinstance(form["at"], str) else form
            reasons[item.name] = item.reason
        else:
            reasons[f"rows{len(whole['rows'])}"] = item.reason
            whole["rows"].append(form)
    return Draft(tomlform.dialect(whole, reasons), whole, tuple(dropped))
