"""Dialects finished by hand: each reads all dumps of its firmware to the truth.

The dumps of ``blind`` were written without sight of the reader; those of the hand-written dialects
have as their truth what an independent description of them read.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from . import judging

NAMES = judging.names()
#: A person finishes a dialect's file in an editor: it must stay one that can be looked over.
LONGEST = 120


def test_there_is_a_file_for_every_dialect_whose_truth_may_be_looked_at() -> None:
    blind = {path.name for path in judging.BLIND.iterdir()}
    seen = {path.name for path in judging.SEEN.iterdir()}
    must = blind | {path.name for path in judging.HANDMADE.iterdir()}
    assert must <= set(NAMES) <= must | seen
    assert len(NAMES) >= 30


@pytest.mark.parametrize("name", NAMES)
def test_every_setting_range_and_link_is_read_and_nothing_else(name: str) -> None:
    dialect = judging.DIALECTS / f"{name}.toml"
    for dump, truth in judging.truths(name).items():
        assert judging.judge(judging.read(dialect, dump), truth) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_value_stands_where_its_span_says(name: str) -> None:
    dialect = judging.DIALECTS / f"{name}.toml"
    for dump, truth in judging.truths(name).items():
        reader = judging.read(dialect, dump)
        for value in reader.values.values():
            assert value.span is not None
            assert reader.source.slice(value.span) == value.written
        for setting, true in truth["settings"].items():
            if setting in reader.values:
                written = reader.values[setting].written
                # What a line says by being there stands at the number that counts.
                if written == setting.rpartition(".")[2]:
                    continue
                # The truth names the shortest text; a unit or quotes may belong to the value.
                assert true["text"].strip("\"'") in written or written in true["text"]


@pytest.mark.parametrize(
    "path", sorted(judging.DIALECTS.glob("*.toml")), ids=lambda path: path.stem
)
def test_no_file_is_longer_than_a_person_can_look_over(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


def test_the_judge_tells_what_differs() -> None:
    name = NAMES[0]
    dump, truth = next(iter(judging.truths(name).items()))
    truth = json.loads(json.dumps(truth))
    setting = "motor.signal"
    truth["settings"][setting]["value"] = "something else"
    truth["ranges"].pop()
    found = judging.judge(judging.read(judging.DIALECTS / f"{name}.toml", dump), truth)
    assert len(found) == 2
    assert setting in found[0]
    assert "range too much" in found[1]
