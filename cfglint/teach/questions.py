"""What is worth asking the owner, most consequential first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.craft.settings import SETTINGS, setting
from cfglint.teach.answers import Told
from cfglint.teach.meanings import best
from cfglint.teach.model import Question, Shown
from cfglint.teach.told import range_open

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.forms import FormGuess
    from cfglint.teach.lines import Row
    from cfglint.teach.mapping import Mapped
    from cfglint.teach.understand import Understanding

#: How much a setting matters, 0 to 100: what the rules that ask for it would ground a craft for.
WEIGHT: dict[str, float] = {
    "motor.signal": 100, "failsafe.action": 96, "mode": 95, "range": 92, "receiver.link": 90,
    "receiver.port": 86, "receiver.inverted": 84, "port.N.functions": 88, "loop.rate_hz": 60,
    "motor.two_way": 55, "motor.idle_percent": 36, "failsafe.delay_s": 62,
    "failsafe.throttle_us": 38, "failsafe.channel.N": 45, "motor.pulse_min_us": 52,
    "motor.pulse_max_us": 50, "motor.pulse_stop_us": 44, "receiver.half_duplex": 56,
    "receiver.baud": 40, "port.N.baud": 38, "port.N.inverted": 36, "port.N.half_duplex": 36,
    "battery.cells": 42, "battery.full_v": 48, "battery.warn_v": 50, "battery.empty_v": 52,
    "battery.chemistry": 46, "stick.low_us": 47, "stick.high_us": 46, "stick.centre_us": 34,
    "stick.dead_band_us": 32, "receiver.channel_order": 30, "channel.N.low_us": 44,
    "channel.N.mid_us": 40, "channel.N.high_us": 44, "self-right.power_percent": 26,
    "motor.rate_hz": 30, "motor.poles": 18, "video.frequency_mhz": 8, "video.power_mw": 8,
    "log.on": 6, "craft.name": 4,
}  # fmt: skip

#: A setting that nothing was found for is asked for only if it matters at least so much; or if
#: some line might set it, so much.
_MISSED, _LIKELY = 40, 6

#: Below this a line is so unlike a setting that it is only asked about because it may matter.
_WORTH_ASKING = 0.5


def questions_of(made: Understanding, told: Told) -> tuple[Question, ...]:
    """The open questions, most consequential first."""
    out: list[Question] = []
    mapped = {one.setting: one for one in made.mapped}
    by_form = {name for form in made.forms for name in form.sets.values()}
    digital = _digital(made)
    for one in mapped.values():
        if digital and one.setting == "motor.rate_hz" and one.confidence < _WORTH_ASKING:
            continue  # a digital signal goes out with each loop
        question = _about(one, made, told)
        if question is not None:
            out.append(question)
    for name in SETTINGS:
        if name in mapped or name in by_form or name in told.lines or name in told.values:
            continue
        if digital and name == "motor.rate_hz":
            continue
        if WEIGHT.get(name, 0) >= _LIKELY:
            question = _missing(name, made)
            twin = name.replace("receiver.", "port.N.")
            if twin != name and (twin in mapped or twin in by_form) and not _resembled(name, made):
                continue  # the receiver's port says it
            if question.shown or WEIGHT[name] >= _MISSED:
                out.append(question)
    ranged = False
    for form in made.forms:
        found = _of_form(form, told, ranged=ranged)
        ranged = ranged or any(question.id == "range" for question in found)
        out.extend(found)
    modes = _of_modes(made, told)
    if modes is not None:
        out.append(modes)
    out.sort(key=lambda q: (-q.weight, q.id))
    return tuple(out)


def _digital(made: Understanding) -> bool:
    """Whether all that is known of the samples' motor signals is that they are digital."""
    one = next((one for one in made.mapped if one.setting == "motor.signal"), None)
    if one is None:
        return False
    back = {text: word for word, text in one.codec.get("values", {}).items()}
    words = {back.get(text) or best("motor.signal", text)[0] for text in one.slot.written}
    return all(word.startswith("dshot") for word in words)


def shown(row: Row) -> Shown:
    return Shown(row.file, row.number, row.text, row.name)


def _by_word(
    rows: Sequence[Row], written: Sequence[str], words: Sequence[str]
) -> tuple[Shown, ...]:
    """A line for each word, in the words' order: where it stands first."""
    out: dict[tuple[str, int], Shown] = {}
    for word in words:
        pattern = re.compile(rf"(?<![\w.]){re.escape(word)}(?![\w.])")
        for row, text in zip(rows, written, strict=True):
            bit = word.isdigit() and text.isdigit() and int(text) & int(word) == int(word)
            if text == word or bit or pattern.search(text):
                out.setdefault((row.file, row.number), shown(row))
                break
    return tuple(out.values()) or tuple(shown(row) for row in rows[:8])


def _about(one: Mapped, made: Understanding, told: Told) -> Question | None:
    name = one.setting
    weight = WEIGHT.get(name, 10)
    row = setting(name)
    first = one.slot.rows[0]
    asked = f"value {name}"
    if one.opaque and row.kind in ("word", "words", "number"):
        # The mapping is plain, its words are not.
        if row.kind == "words" or len(one.opaque) > 1:
            asked = f"words {name}"
            if name in told.words:
                return None
            return Question(
                asked, "words", name,
                f"What do these words of `{one.slot.name}` ({row.about}) mean?",
                _by_word(one.slot.rows, one.slot.written, one.opaque), one.opaque, "", weight,
            )  # fmt: skip
        if name in told.values:
            return None
        return Question(
            asked, "value", name, f"What does this line set {_say(name)} to?",
            (shown(first),), (), "", weight,
        )  # fmt: skip
    if one.unsure and name not in told.words and name not in told.values:
        # Words that mean more than one thing elsewhere.
        words = tuple(one.codec["values"][word] for word in one.unsure)
        guess = ", ".join(f"{text} = {word}" for text, word in zip(words, one.unsure, strict=True))
        return Question(
            f"words {name}", "words", name,
            f"What do these words of `{one.slot.name}` ({row.about}) mean?",
            _by_word(one.slot.rows, one.slot.written, words), words, guess, weight * 0.75,
        )  # fmt: skip
    if one.told and not one.open_codec:
        return None
    if one.confidence < 0.62:
        if name in told.lines:
            return None
        others = [
            pair.slot
            for pair in made.pairs
            if pair.setting == name and pair.slot.key != one.slot.key
        ]
        lines = [shown(first), *(shown(slot.rows[0]) for slot in others[:5])]
        return Question(
            f"line {name}", "line", name, f"Which line sets {_say(name)}?", tuple(lines), (),
            str(first.number), weight * (1.0 if one.confidence < 0.5 else 0.9),
        )  # fmt: skip
    if not one.sure:
        if name in told.values:
            return None
        return Question(
            asked, "value", name, f"What does this line set {_say(name)} to?", (shown(first),), (),
            "", weight * 0.3,
        )  # fmt: skip
    return None


def _say(name: str) -> str:
    row = setting(name)
    unit = f", in {row.unit}" if row.unit not in ("", "port", "cells", "poles") else ""
    return f"{name} ({row.about}{unit})"


def _resembled(name: str, made: Understanding) -> bool:
    """Whether a line that sets nothing else surely looks like a setting's."""
    taken = {one.slot.key for one in made.mapped if one.confidence >= 0.7}
    return any(
        pair.setting == name and pair.score >= 0.28 and pair.slot.key not in taken
        for pair in made.pairs
    )


def _missing(name: str, made: Understanding) -> Question:
    taken = {one.slot.key for one in made.mapped if one.confidence >= 0.7}
    others = [
        pair.slot for pair in made.pairs if pair.setting == name and pair.slot.key not in taken
    ]
    best = max(
        (pair.score for pair in made.pairs if pair.setting == name and pair.slot.key not in taken),
        default=0.0,
    )
    lines = tuple(shown(slot.rows[0]) for slot in others[:6])
    # What nothing resembles is most likely not there at all.
    return Question(
        f"line {name}", "line", name, f"Which line sets {_say(name)}?", lines, (), "",
        WEIGHT.get(name, 0) * (0.8 if best >= 0.28 else 0.55 if lines else 0.1),
    )  # fmt: skip


def _of_form(form: FormGuess, told: Told, *, ranged: bool) -> list[Question]:
    out: list[Question] = []
    if form.makes == "range" and told.range is None and not ranged and range_open(form):
        row = form.record.rows[0]
        out.append(
            Question(
                "range",
                "range",
                "range",
                "On which channel, and between which pulses, is the mode of this line on?",
                (shown(row),),
                (),
                "",
                WEIGHT["range"] * (1.0 if "low" in form.doubts else 0.9),
            )
        )
    for field, codes in form.codes.items():
        # A speed in code numbers is not set until somebody has explained them.
        name = form.sets.get(field, "port.N.baud" if field == "baud" else "")
        if not name or name in told.words:
            continue
        out.append(
            Question(
                f"words {name}",
                "words",
                name,
                f"What do these words ({setting(name).about}) mean?",
                _by_word(form.record.rows, form.record.column(form.roles[field]), codes),
                codes,
                "",
                WEIGHT.get(name, 10),
            )
        )
    return out


def _of_modes(made: Understanding, told: Told) -> Question | None:
    doubtful = [made.modes[word] for word in made.unsure_modes]
    words = tuple(dict.fromkeys([*made.mode_codes, *doubtful]))
    said = told.words.get("mode", {})
    words = tuple(word for word in words if word not in said)
    if not words or "mode" in told.words:
        return None
    rows = [
        row for form in made.forms if form.makes in ("range", "link") for row in form.record.rows
    ]
    guess = ", ".join(f"{text} = {best('mode', text)[0]}" for text in doubtful)
    return Question(
        "words mode", "words", "mode", "Which modes are these?",
        _by_word(rows, [row.text for row in rows], words), words, guess, WEIGHT["mode"],
    )  # fmt: skip
