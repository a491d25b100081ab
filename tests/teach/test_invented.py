"""The invented dialects that teaching is measured by: each can be said in a dialect file."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft.settings import MODES, SETTINGS, family
from cfglint.dialect import load_dialect, read_craft
from cfglint.dump.source import Source
from cfglint.teach.model import Question, Shown

if TYPE_CHECKING:
    from invent import Dump, Invented

    from cfglint.craft.model import Craft
    from cfglint.dialect import Dialect

sys.path.append(str(Path(__file__).resolve().parents[2] / "benchmarks"))

from invent import Oracle, invent
from invent.needs import needed_settings
from invent.plan import draw_plan
from invent.words import IDEAS, PHRASES, VALUES

HALVES = ("open", "held")


def true_dialect(one: Invented) -> Dialect:
    return load_dialect(f"{one.seed}.toml", one.toml.encode())


def read(dump: Dump, dialect: Dialect) -> Craft:
    return read_craft(Source.from_text(dump.file, dump.text), dialect)


def said(craft: Craft) -> dict[str, Any]:
    return {name: value.value for name, value in craft.values.items() if value.origin == "set"}


@pytest.mark.parametrize("half", HALVES)
@pytest.mark.parametrize("seed", range(1000, 1020))
def test_the_true_dialect_reads_exactly_the_truth(seed: int, half: Any) -> None:
    one = invent(seed, half)
    dialect = true_dialect(one)
    for dump in (*one.samples, *one.unseen, one.before, one.after):
        craft = read(dump, dialect)
        assert said(craft) == dump.values
        assert craft.extent == dump.extent
        ranges = [(r.mode, r.channel, r.low_us, r.high_us, r.join) for r in craft.mode_ranges]
        assert ranges == list(dump.ranges)
        assert [tuple(link[:3]) for link in craft.mode_links] == list(dump.links)
        assert craft.strays == craft.misread == craft.unreadable == craft.repeats == ()
        assert 40 < len(dump.lines) < 600


@pytest.mark.parametrize("half", HALVES)
def test_an_update_changes_lines_and_not_the_craft(half: Any) -> None:
    for seed in range(1020, 1030):
        one = invent(seed, half)
        dialect = true_dialect(one)
        before, after = read(one.before, dialect), read(one.after, dialect)
        for name in before.values:
            if name != "craft.firmware":
                assert after.get(name).value == before.get(name).value or name in one.moved
        for old, new in one.renames.items():
            assert new not in {line.name for line in one.before.lines}
            assert old not in {line.name for line in one.after.lines}


def test_no_dialect_looks_like_one_program() -> None:
    # `set name = value`, `#` before comments, `save` at the end, dumps called all and diff: never
    # two of them in one dialect.
    told = dict.fromkeys(("set =", "#", "steps", "µs"), 0)
    for half in HALVES:
        for seed in range(400):
            plan = draw_plan(seed, half)
            shape = plan.shape
            signs = [
                shape.verb in ("set", "let", "put") and "=" in shape.assign,
                shape.comment == "#",
                shape.save == "save",
                "all" in (plan.identity.full, plan.identity.changes),
                "diff" in (plan.identity.full, plan.identity.changes),
            ]
            assert sum(signs) <= 1, (half, seed, shape.assign)
            told["set ="] += signs[0]
            told["#"] += signs[1]
            for record in plan.families.records:
                if record.makes == "range":
                    low = record.fields["low"]
                    told["steps" if low.unit == "step" else "µs"] += 1
                    assert "N" not in record.fields or record.fields["N"].base == 1
                    order = re.findall(r"\{(mode|channel|low|high)\}", record.line)
                    glyphs = re.findall(r"(.)\{(?:mode|channel|low|high)\}", record.line)
                    in_one = order == ["mode", "channel", "low", "high"] and len(set(glyphs)) == 1
                    assert not in_one, record.line
    assert all(count > 10 for count in told.values()), told


def test_steps_and_code_numbers_are_drawn_anew_each_time() -> None:
    steps: set[tuple[float, float]] = set()
    orders: set[tuple[str, ...]] = set()
    for half in HALVES:
        for seed in range(400):
            plan = draw_plan(seed, half)
            for record in plan.families.records:
                if record.makes == "range" and record.fields["low"].unit == "step":
                    steps.add((record.fields["low"].offset, record.fields["low"].scale))
            codes = next((i.spell for i in plan.items if i.setting == "motor.signal"), None)
            if codes is not None and codes.opaque:
                orders.add(tuple(codes.words.values()))
                digital = [int(codes.words[f"dshot{rate}"]) for rate in (150, 300, 600, 1200)]
                assert digital != list(range(digital[0], digital[0] + 4))
    assert len(steps) > 100
    assert len(orders) > 20


def test_the_same_seed_is_the_same_dialect_and_another_is_another() -> None:
    assert invent(5, "open") == invent(5, "open")
    assert len({invent(seed, "open").toml for seed in range(8)}) == 8
    assert invent(5, "open").toml != invent(5, "held").toml


def test_the_halves_share_only_what_is_in_both() -> None:
    ideas = [*IDEAS.values(), *(idea for table in VALUES.values() for idea in table.values())]
    for idea in ideas:
        assert not set(idea.open) & set(idea.held)
        assert not set(idea.both) & (set(idea.open) | set(idea.held))
        assert idea.words("open")
        assert idea.words("held")
    own = {(key, word) for key, idea in IDEAS.items() for word in (*idea.open, *idea.held)}
    shared = {(key, word) for key, idea in IDEAS.items() for word in idea.both}
    assert len(own) > 2 * len(shared)


def test_every_neutral_setting_and_word_can_be_written() -> None:
    identity = {"craft.board", "craft.firmware"}
    assert set(PHRASES) | identity == set(SETTINGS)
    assert set(VALUES["mode"]) == set(MODES)
    for setting, words in VALUES.items():
        if setting in SETTINGS and SETTINGS[setting].words:
            assert set(words) == set(SETTINGS[setting].words)


def test_what_rules_need_is_noted_while_they_judge() -> None:
    needed = needed_settings()
    assert {"motor.signal", "receiver.link", "port.N.functions", "mode ranges"} <= needed
    assert needed - {"mode ranges"} <= set(SETTINGS)


def ask(kind: Any, setting: str, *shown: Shown, words: tuple[str, ...] = ()) -> Question:
    return Question("q", kind, setting, "which bits?", shown, words)


def places(one: Invented) -> list[tuple[Shown, Any]]:
    return [
        (Shown(dump.file, number, line.text, line.name), line)
        for dump in one.samples
        for number, line in enumerate(dump.lines, 1)
    ]


def test_the_owner_answers_truthfully() -> None:
    counted = dict.fromkeys(("line", "value", "none", "range", "words", "bits", "silent"), 0)
    for seed in range(1000, 1030):
        one = invent(seed, "open")
        owner = Oracle(one)
        for shown, line in places(one):
            for name, value in line.sets.items():
                answer = owner.answer(ask("line", family(name), shown))
                file, _, number = ("" if answer is None else answer).rpartition(":")
                assert (file or shown.file, number) == (shown.file, str(shown.line))
                told = owner.answer(ask("value", family(name), shown))
                if isinstance(value, float | int) and not isinstance(value, bool):
                    assert told is not None
                    assert float(told) == pytest.approx(value)
                counted["value"] += 1
            counted["line"] += 1
            if line.range is None:
                assert owner.answer(ask("range", "range", shown)) is None
                counted["none"] += 1
                continue
            _, channel, low, high, _ = line.range
            told = owner.answer(ask("range", "range", shown))
            assert told == f"channel {channel}, {low:g} to {high:g}"
            word = line.mode_word
            told = owner.answer(ask("words", "mode", shown, words=(word, "no-such")))
            assert told == f"{word} = {line.range[0]}"
            counted["words"] += 1
            counted["range"] += 1
        assert owner.answer(ask("words", "motor.signal", words=("no-such",))) is None
        assert owner.answer(ask("line", "no.setting")) == "none"
        counted["silent"] += 1
        for setting, mask in one.masks.items():
            for word, bit in mask.items():
                told = owner.answer(ask("words", setting, words=(str(bit),)))
                assert told in (None, f"{bit} = {word}")
                counted["bits"] += told is not None
    assert all(counted.values()), counted
