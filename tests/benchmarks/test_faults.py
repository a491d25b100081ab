"""Seeded faults: every change that a rule means to catch is caught, and no harmless one is found.

Here each craft is tried in one dialect, with every sixth change; ``python -m benchmarks.faults``
tries all of them in every dialect.
"""

from __future__ import annotations

import sys
from functools import cache
from itertools import cycle
from pathlib import Path

import pytest

from cfglint.craft.card import FIELDS
from cfglint.craft.settings import SETTINGS

sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.faults import SOUND, base, changes, judged, rates, try_change, without_oracle
from benchmarks.faults.__main__ import main
from benchmarks.faults.cards import FREE as FREE_FIELDS
from benchmarks.faults.cards import without_card_oracle
from benchmarks.faults.matrix import Tried
from benchmarks.faults.settings import FREE, put
from benchmarks.faults.setups import VERSIONS, rules

#: Each sound craft in one dialect, so that every dialect has at least one.
PAIRS = list(zip(SOUND, cycle(VERSIONS), strict=False))
#: One in so many changes is tried here.
STRIDE = 6


@cache
def tried(name: str, dialect: str) -> list[Tried]:
    setup = base(name, dialect)
    every = list(changes(setup))
    start = PAIRS.index((name, dialect)) % STRIDE
    return [try_change(setup, change) for change in every[start::STRIDE]]


def test_every_setting_and_every_field_says_what_is_a_fault_in_it() -> None:
    """A new row of either table joins by itself, or has to be told of."""
    assert without_oracle() == []
    assert without_card_oracle() == []
    assert set(FREE) <= set(SETTINGS)
    assert {field for field in FREE_FIELDS if field in FIELDS}


@pytest.mark.parametrize("dialect", VERSIONS)
@pytest.mark.parametrize("name", SOUND)
def test_each_sound_craft_is_sound_in_every_dialect(name: str, dialect: str) -> None:
    setup = base(name, dialect)
    dump, unwritten = setup.dump()
    assert not unwritten
    outcomes = judged(setup.read(dump))
    assert {rule for rule, one in outcomes.items() if one.state == "broken"} == set()


@pytest.mark.parametrize(("name", "dialect"), PAIRS)
def test_faults_are_caught_and_harmless_changes_are_not(name: str, dialect: str) -> None:
    found = tried(name, dialect)
    assert [str(one) for one in found if one.result in ("missed", "false alarm")] == []
    results = {one.result for one in found}
    assert {"caught", "quiet"} <= results


def test_what_cannot_be_written_is_not_much() -> None:
    every = [one for pair in PAIRS for one in tried(*pair)]
    assert sum(one.result == "not writable" for one in every) < len(every) / 50


def test_every_rule_is_meant_by_some_change() -> None:
    """Every rule about single craft has a change that it is meant to catch."""
    meant = set()
    for name in SOUND:
        for dialect in ("plain", "terse"):
            for change in changes(base(name, dialect)):
                meant |= set(change.meant)
    names = {rule.id for rule, _ in rules()}
    # Some need what no sound craft here has (two faults at once, a dump of another version, an
    # option of a club's own), or are new: they have their examples.
    assert len(names - meant) * 10 <= len(names), sorted(names - meant)
    assert meant - names <= {"*", *_not_yet()}


def _not_yet() -> set[str]:
    """Rules that changes may name though they are not there: they count as caught by others."""
    return {name for name in ("ports/cannot-share",) if name not in {r.id for r, _ in rules()}}


def test_a_fault_that_no_rule_sees_would_be_told() -> None:
    """The measure itself: a change that is said to be a fault and is none is missed."""
    setup = base("avocet", "plain")
    missed = try_change(setup, put("motor.poles", 12, "motor/odd-poles"))
    alarm = try_change(setup, put("motor.poles", 13))
    other = try_change(setup, put("motor.poles", 13, "dump/set-twice", also=("motor/odd-poles",)))
    assert [one.result for one in (missed, alarm, other)] == ["missed", "false alarm", "by another"]
    figures = {rate.rule: rate[1:] for rate in rates([missed, alarm, other])}
    assert figures["motor/odd-poles"] == (1, 0, 1)
    assert figures["dump/set-twice"] == (1, 0, 0)


def test_the_printed_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--craft", "plover", "--dialect", "blocks"]) == 0
    out = capsys.readouterr().out
    assert "missed" in out
    assert " 0 false alarms" in out
    assert "motor/left-on-default-signal" in out
