"""All that is made out of samples and answers: what each line sets, and how sure that is."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.craft.settings import SETTINGS
from cfglint.record import NamedTuple
from cfglint.teach.answers import Told
from cfglint.teach.fits import Habits, habits_of, unquoted
from cfglint.teach.forms import FormGuess
from cfglint.teach.guesses import form_guesses
from cfglint.teach.learned import by_answers, by_company, by_elimination, by_modes
from cfglint.teach.match import Choice, Pair, choose, pairs_of
from cfglint.teach.meanings import best, in_style
from cfglint.teach.slots import Slot, line_slots, section_forms, slots_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row
    from cfglint.teach.shape import Shape
from cfglint.teach.counting import bases_of, counted_alike, receivers_of
from cfglint.teach.mapping import Mapped, mapped_of
from cfglint.teach.told import accepted_forms, released_forms, told_lines

#: Below this a mapping is not even drafted, but only asked about.
WORTH = 0.34


#: Hardly any full dump has fewer lines that set something; common practice.  A shorter one may be
#: one of changes that does not say so.
_FULL = 80


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
    shape: Shape,
    rows: Sequence[Row],
    told: Told,
    *,
    partial: bool = False,
    named: bool = False,
) -> Understanding:
    """Forms first, since their lines are plain by their columns; names for the rest.

    ``partial`` says that samples list what differs from default only, ``named`` that the lines
    of their identity say the craft's name.
    """
    forms = accepted_forms(released_forms(form_guesses(rows), told, rows), told)
    used = {(row.file, row.number) for form in forms for row in form.record.rows}
    rest = [row for row in rows if (row.file, row.number) not in used]
    values = [row.value for row in rest if row.kind == "assignment"]
    habits = habits_of(values, _divider(rest))
    slots = [*slots_of(rest), *line_slots(rest, section_forms(rest))]
    done = {name for form in forms for name in form.sets.values() if form.confidence >= 0.5}
    by_owner, without = told_lines(told, slots, habits, rows, done)
    if named and "craft.name" not in by_owner:
        without.add("craft.name")
    modes, unsure_modes, codes = _modes(forms, told)
    company, answered = by_company(slots, habits), by_answers(by_owner)
    learned = {**company, **by_modes(modes, unsure_modes), **answered}
    pairs = [pair for pair in pairs_of(slots, habits, learned) if pair.setting not in done]
    choices = choose(pairs, by_owner, (), without | done)
    more = by_elimination(
        slots,
        [choice.pair.slot.key for choice in choices.values()],
        [name for name in SETTINGS if name not in {*choices, *without, *done}],
        habits,
        learned,
    )
    if more:
        found = [slot for slot in slots if more.keys() & set(slot.words.own)]
        again = pairs_of(found, habits, {**learned, **more})
        keys = {slot.key for slot in found}
        pairs = [pair for pair in pairs if pair.slot.key not in keys]
        pairs = [*pairs, *(pair for pair in again if pair.setting not in done)]
        pairs.sort(key=lambda pair: (-pair.score, pair.setting, pair.slot.key))
        choices = choose(pairs, by_owner, (), without | done)
    _put_in_order(choices)
    _one_a_line(choices)
    lengths = Counter(
        row.file for row in rows if row.kind in ("assignment", "command", "on", "off")
    )
    short = all(count < _FULL for count in lengths.values())
    bases = bases_of(forms, choices, partial=partial or short)
    if told.range is None:
        forms = [counted_alike(form, bases) for form in forms]
    else:
        forms = [form if form.makes == "range" else counted_alike(form, bases) for form in forms]
    guessed = frozenset((*company, *more)) - answered.keys()
    receivers = receivers_of(forms, choices, bases)
    mapped = []
    for name in sorted(choices, key=list(SETTINGS).index):
        one = mapped_of(name, choices[name], told, habits, bases, receivers, guessed)
        if one is not None:
            mapped.append(one)
    mapped = _agree(mapped)
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


def _modes(
    forms: Sequence[FormGuess], told: Told
) -> tuple[dict[str, str], tuple[str, ...], tuple[str, ...]]:
    from cfglint.teach.ranges import titled

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
                written.setdefault(titled(row, form.within), len(written))
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
    unsure = tuple(word for word, weight in weights.items() if weight < 0.9)
    # A word that is named in an answer though no line has it is still worth keeping.
    for text, word in said.items():
        table.setdefault(word, text)
    for word, text in in_style("mode", table).items():
        table.setdefault(word, text)
    return table, unsure, tuple(dict.fromkeys(codes))
