"""How drafts are judged: the true dialect is all right, nothing is all missing, and mistakes are
told from marked ones."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft.settings import SETTINGS
from cfglint.dialect import load_dialect
from cfglint.errors import Problem
from cfglint.teach.model import Draft, Question, Shown

if TYPE_CHECKING:
    from invent import Invented
    from invent.verdicts import Verdict

sys.path.append(str(Path(__file__).resolve().parents[2] / "benchmarks"))

from invent import invent
from invent.verdicts import judge

import teach as bench

EVERYTHING = frozenset({*SETTINGS, "mode ranges"})


def judged(one: Invented, text: str | None) -> dict[str, Verdict]:
    truth = load_dialect("true.toml", one.toml.encode())
    draft = None if text is None else load_dialect("draft.toml", text.encode())
    return {verdict.item: verdict for verdict in judge(one, truth, draft, EVERYTHING)}


@pytest.mark.parametrize("seed", range(1100, 1115))
@pytest.mark.parametrize("half", ["open", "held"])
def test_the_true_dialect_is_right_and_nothing_is_missing(seed: int, half: Any) -> None:
    one = invent(seed, half)
    best, none = judged(one, one.toml), judged(one, None)
    assert {verdict.state for verdict in best.values()} == {"right"}
    assert {verdict.state for verdict in none.values()} == {"missing"}
    # Of codes that no sample shows nothing is asked, but what is known of them is welcome.
    assert set(none) <= set(best)
    assert len(none) > 15


def seed_with(line: str, seeds: range = range(1200)) -> Invented:
    """The first invented dialect with a line in its file that begins so."""
    return next(
        one
        for one in (invent(seed, "open") for seed in seeds)
        if any(row.startswith(line) for row in one.toml.splitlines())
        and any("stick.high_us" in dump.values for dump in one.samples)
    )


def changed(one: Invented, start: str, more: str) -> str:
    """A dialect file in which the entry that begins so has more keys."""
    rows = [
        f"{row.removesuffix(' }')}, {more} }}" if row.startswith(start) else row
        for row in one.toml.splitlines()
    ]
    return "\n".join(rows)


def test_another_value_is_wrong_and_a_marked_one_marked() -> None:
    one = seed_with('"stick.high_us" = ')
    wrong = judged(one, changed(one, '"stick.high_us" = ', "scale = 0.5"))
    assert wrong["stick.high_us"].state == "wrong"
    assert "read as" in wrong["stick.high_us"].why
    marked = judged(one, changed(one, '"stick.high_us" = ', "scale = 0.5, sure = false"))
    assert marked["stick.high_us"].state == "marked"
    others = {item: verdict.state for item, verdict in wrong.items() if item != "stick.high_us"}
    assert set(others.values()) == {"right"}


def test_a_value_for_what_the_dialect_does_not_say_is_wrong() -> None:
    one = next(
        one
        for one in (invent(seed, "open") for seed in range(400))
        if '"motor.poles"' not in one.toml
        and "{extent}" not in one.toml
        and 'extent = "full"' in one.toml
    )
    text = one.toml.replace('extent = "full"', 'extent = "changes"', 1)
    assert "motor.poles" not in judged(one, text)
    text = text.replace("[settings]\n", '[settings]\n"motor.poles" = { default = 13 }\n')
    assert judged(one, text)["motor.poles"].state == "wrong"


def test_mode_ranges_are_judged_mode_by_mode() -> None:
    one = next(
        one
        for one in (invent(seed, "open") for seed in range(100))
        if "channel = { base = 0 }" in one.toml and "mode" not in one.codes
    )
    off = judged(one, one.toml.replace("channel = { base = 0 }", "channel = { base = 1 }"))
    modes = {item: verdict.state for item, verdict in off.items() if item.startswith("mode ")}
    assert modes
    assert set(modes.values()) == {"wrong"}
    rows = [row for row in one.toml.splitlines() if not row.startswith("arm = ")]
    assert judged(one, "\n".join(rows))["mode arm"].state == "missing"


def test_unexplained_codes_are_told_from_explained_ones() -> None:
    coded = [one for one in (invent(seed, "open") for seed in range(60)) if one.codes]
    opaque = hinted = 0
    for one in coded:
        for verdict in judged(one, None).values():
            key = "mode" if verdict.item.startswith("mode ") else verdict.item
            if key in one.codes:
                assert verdict.opaque != (key in one.hinted)
                opaque += verdict.opaque
                hinted += not verdict.opaque
            else:
                assert not verdict.opaque
    assert opaque
    assert hinted


# ---------------------------------------------------------------- the dialogue


def question(number: int, *shown: Shown) -> Question:
    return Question(f"q{number}", "range", "range", "what is this?", shown)


def test_a_dialogue_ends_after_eight_questions_and_counts_those_not_answered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one = invent(3, "open")
    at, line = next((n, row) for n, row in enumerate(one.samples[0].lines, 1) if row.range)
    good = Shown(one.samples[0].file, at, line.text)
    told: list[dict[str, str]] = []

    def teach(_: Any, answers: dict[str, str] | None = None) -> Draft:
        told.append(dict(answers or {}))
        rows = [question(n, good) if n % 2 else question(n) for n in range(limit)]
        return Draft(one.toml, None, (), tuple(rows), ())  # type: ignore[arg-type]

    monkeypatch.setattr("cfglint.teach.teach", teach)
    limit = 20
    _, answers, asked = bench.dialogue(one)
    assert asked == bench.QUESTIONS
    assert sorted(answers) == ["q1", "q3", "q5", "q7"]
    assert told[-1] == answers
    limit = 3
    _, answers, asked = bench.dialogue(one)
    assert (list(answers), asked) == (["q1"], 3)


def test_a_failure_of_teaching_is_a_result(monkeypatch: pytest.MonkeyPatch) -> None:
    def teach(*_: Any) -> Draft:
        raise Problem("no shape was found")

    monkeypatch.setattr("cfglint.teach.teach", teach)
    result = bench.measure((3, "open", EVERYTHING, 0.0))
    assert "no shape was found" in result.trouble
    assert {verdict.state for verdict in (*result.plain, *result.asked)} == {"missing"}


def test_targets_are_missed_and_met(capsys: pytest.CaptureFixture[str]) -> None:
    good = bench.Share(1000, 999, 0, 0, 1)
    poor = bench.Share(1000, 780, 25, 0, 195)
    assert bench._targets(good, good, good)
    assert not bench._targets(poor, good, good)
    assert not bench._targets(good, poor, good)
    assert not bench._targets(good, good, bench.Share(1000, 999, 1, 0, 0))
    assert "MISSED" in capsys.readouterr().out
