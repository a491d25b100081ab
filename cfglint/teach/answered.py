"""What answers of the sheet do: places, values and words, where the samples agree with them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import SETTINGS, setting
from cfglint.dialect.mapping import codec_of
from cfglint.dialect.values import Bad, decode
from cfglint.teach import match, names, sheet
from cfglint.teach.encoding import fitted
from cfglint.teach.entries import Entry, titles_of
from cfglint.teach.families import (
    Item,
    clean,
)
from cfglint.teach.fits import Habits
from cfglint.teach.readings import Reading, loss_meaning, number, readings_of
from cfglint.teach.sense import (
    best,
)
from cfglint.teach.sheet import Answers, Question
from cfglint.teach.words import split

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row
from cfglint.teach.openings import Draft
from cfglint.teach.pairing import Slot, paired, slot_of, unit_said


def told_pairs(
    slots: Sequence[Slot],
    every: Sequence[tuple[int, Row]],
    answers: Answers,
    habits: Habits,
    comma: bool,
) -> tuple[dict[str, match.Pair], list[str]]:
    """Pairs that a person named by the place in the first sample; settings whose place is none."""
    out: dict[str, match.Pair] = {}
    wrong = []
    for name, (sample, line, text, value) in answers.places.items():
        if name not in SETTINGS or sample:
            continue
        slot = next(
            (
                one
                for one in slots
                if not one.family
                and any(
                    e.sample == 0 and e.row.line == line and e.value.strip("\"'«»") == text
                    for e in one.entries
                )
            ),
            None,
        )
        slot = slot or _found_at(every, line, text)
        if slot is None:
            wrong.append(name)
            continue
        readings = readings_of(name, slot.written, unit_said(slot.words.own), habits, comma) or [
            Reading({}, 0.5)
        ]
        if value:
            # What is written there is a code: its meaning is known of one sample.
            keys = fitted(name, dict(readings[0].keys.items()), slot.written, value, comma)
            if keys is None:
                wrong.append(name)
                continue
            readings = [Reading(keys, 1.0)]
        pair = paired(name, slot, names.Fit(1.0, 1.0, 1.0, ()), readings, "")
        out[name] = pair._replace(fits=(pair.fits[0]._replace(opaque=()),))
    return out, wrong


def _found_at(every: Sequence[tuple[int, Row]], line: int, text: str) -> Slot | None:
    """An address for a text at a line, by the words before it in all samples."""
    row = next(
        (row for sample, row in every if sample == 0 and row.line == line and text in row.text),
        None,
    )
    if row is None or not row.atoms:
        return None
    at = row.text.index(text)
    before = row.text[row.atoms[0].start : at]
    after = row.text[at + len(text) :].split()[:1]
    out = []
    twins = {
        (sample, other.line)
        for sample, other in every
        if not other.comment and other.atoms and _behind(other, before) is not None
    }
    rest = _behind(row, before)
    same = {
        (sample, other.line)
        for sample, other in every
        if (sample, other.line) in twins and _behind(other, before) == rest
    }
    # Where several lines begin alike, what stands behind the value tells them apart.
    alone = same if len({line for sample, line in twins if sample == 0}) > 1 else twins
    for sample, other in every:
        if other.comment or not other.atoms or (sample, other.line) not in alone:
            continue
        begin = other.atoms[0].start
        if other.text[begin:].startswith(before) and (
            before.strip() or (sample == 0 and other.line == line)
        ):
            start = begin + len(before)
            stop = len(other.text.rstrip())
            if after:
                found = other.text.find(after[0], start)
                stop = found if found > start else stop
            if sample == 0 and other.line == line:
                stop = start + len(text)
            out.append(
                Entry(
                    sample,
                    other,
                    titles_of(other)[0],
                    "",
                    before.strip(),
                    other.text[start:stop].strip(" ,;"),
                    start,
                    start + len(other.text[start:stop].rstrip(" ,;")),
                    False,
                    False,
                )
            )
    return (
        Slot(
            ("", clean(before).lower() or f"line {line}"),
            names.Words(tuple(split(before))),
            tuple(out),
            (),
        )
        if out
        else None
    )


def _behind(row: Row, before: str) -> list[str] | None:
    """The words behind the value of a row that begins so, numbers as none; None if it does not."""
    text = row.text[row.atoms[0].start :]
    if not text.startswith(before):
        return None
    return [word for word in text[len(before) :].split()[1:] if not word[:1].isdigit()]


def agrees(pair: match.Pair, said: str, marks: dict[str, Any]) -> bool:
    """Whether a slot's first value in the first sample is read as the answer says."""
    slot = slot_of(pair)
    if slot.family or slot.entries[0].sample != 0:
        return False
    row = setting(pair.setting)
    keys = {key: value for key, value in pair.fits[0].codec.items() if key != "\0"}
    one = (
        number(slot.written[0], marks.get("decimal") == ",")
        if row.kind in ("number", "count") and "base" not in keys
        else None
    )
    try:
        value = decode(
            codec_of(keys, marks, row), row, one.text if one is not None else slot.written[0]
        )
    except Bad:
        return False
    if isinstance(value, bool):
        return said.lower() == ("yes" if value else "no")
    wanted = number(said, False)
    if isinstance(value, int | float):
        return wanted is not None and abs(value - wanted.value) <= 1e-3 * max(
            1.0, abs(wanted.value)
        )
    return str(value).lower() == said.lower()


#: How much of a name must speak of a setting for a value alone to bear it out.
NAMED = 0.35
#: Steps in which numbers are usually written.
_STEPS = (1, 2, 5, 10, 100, 1000, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.001)


def answered(
    item: Item, choice: match.Choice, answers: Answers, comma: bool
) -> tuple[Item, list[str]]:
    """A mapping with what was answered of it; its name if the answer contradicts the samples."""
    name = item.name
    said = answers.values.get(name, sheet.OK if choice.told and name in answers.places else "")
    if choice.told and name in answers.values:
        said = sheet.OK
    if not said or said == sheet.NONE:
        return item, []
    slot = slot_of(choice.pair)
    if said != sheet.OK and slot.entries[0].sample:
        return item, []  # a value is the first sample's
    # A value may be met by chance: where it stands the name must say, or a person.
    valued = answers.values.get(name, sheet.OK) != sheet.OK
    weak = name not in answers.places and valued and choice.pair.name.score < NAMED
    forms = []
    for form in item.forms:
        keys = {key: value for key, value in form.items() if key not in ("at", "column", "N")}
        kept = {key: value for key, value in form.items() if key in ("at", "column", "N")}
        made = (
            {k: v for k, v in keys.items() if k not in ("sure", "unsure")}
            if said == sheet.OK
            else fitted(name, keys, slot.written, said, comma)
        )
        if made is None:
            return item, [name]
        worded = valued and setting(name).kind in ("number", "count") and "words" in made
        if weak or worded or (said != sheet.OK and made.get("scale", 1) not in _STEPS):
            made["sure"] = False  # nothing contradicts it, but hardly anybody counts so
        forms.append({**kept, **made})
    return item._replace(forms=tuple(forms), reason=f"{item.reason}; told"), []


def believed(answers: Answers, plain: Draft) -> tuple[Answers, list[str]]:
    """Answers without words that contradict what is sure, and the subjects of those."""
    modes = plain.data.get("modes", {})
    words, wrong = {}, []
    for (table, text), said in answers.words.items():
        if table not in sheet.TABLES:
            words[table, text] = said.removesuffix("!").strip()
            continue
        meaning, weight = loss_meaning(text) if table == "failsafe.channel.N" else best(table, text)
        sure = said.endswith("!")
        word = said.removesuffix("!").strip()
        held = modes.get(word) if table == "mode" and word not in modes.get("unsure", ()) else None
        taken = held is not None and text not in ([held] if isinstance(held, str) else held)
        if not sure and word != meaning and ((weight >= 0.5 and word != sheet.NONE) or taken):
            wrong.append(f"{table} {text}")
        else:
            words[table, text] = word
    return answers._replace(words=words), wrong


def asked_again(subject: str, plain: Draft) -> Question:
    """The question of a word whose answer contradicts what is sure."""
    table, _, text = subject.partition(" ")
    old = next(
        (
            one
            for one in plain.questions
            if one.kind == "word" and one.table == table and one.subject == text
        ),
        None,
    )
    about = old.about if old is not None else f"{table}: `{text}`"
    return Question(
        "word",
        table,
        text,
        f"{about}; the answer contradicts what else is sure, `!` behind it says that it is so",
        2.5,
    )
