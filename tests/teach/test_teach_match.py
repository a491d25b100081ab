"""Names and settings brought together, all at once."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import SETTINGS
from cfglint.teach.fits import Habits, ValueFit
from cfglint.teach.lines import Row
from cfglint.teach.match import FAINT, LEAST, Pair, _solve, choose, pairs_of
from cfglint.teach.names import Fit, Words
from cfglint.teach.slots import Slot
from cfglint.teach.words import split

if TYPE_CHECKING:
    from collections.abc import Sequence

HABITS = Habits("yes", "no", (("yes", "no"),), ",")
NO_NAME = Fit(0.0, 0.0, 0.0, ())


def slot(name: str, *written: str, flag: bool = False) -> Slot:
    rows = tuple(
        Row("on" if flag else "assignment", "a.txt", n, f"{name} = {text}", name, text)
        for n, text in enumerate(written, 1)
    )
    return Slot(name, "", flag, Words(split(name)), rows)


def pair(setting: str, name: str, score: float, *fits: ValueFit) -> Pair:
    return Pair(setting, slot(name, "1"), score, NO_NAME, fits or (ValueFit({}, 0.9),))


def worth(pairs: Sequence[Pair]) -> float:
    return sum(one.score**2 - LEAST**2 for one in pairs)


def best_by_trying_all(pairs: Sequence[Pair]) -> float:
    """The most that a choice can be worth: each setting none of its pairs or one of them."""
    settings = sorted({one.setting for one in pairs})
    choices = [[None, *(one for one in pairs if one.setting == name)] for name in settings]
    most = 0.0
    for chosen in product(*choices):
        taken = [one for one in chosen if one is not None]
        if len({one.slot.key for one in taken}) == len(taken):
            most = max(most, worth(taken))
    return most


scores = st.floats(LEAST, 0.99)
tables = st.dictionaries(
    st.tuples(st.sampled_from(list(SETTINGS)[:5]), st.sampled_from("abcde")), scores, max_size=14
).map(lambda table: [pair(setting, name, score) for (setting, name), score in table.items()])


@given(tables)
def test_no_other_choice_is_worth_more(pairs: list[Pair]) -> None:
    """Against trying every choice there is (an assignment problem small enough for it)."""
    found = _solve(pairs)
    assert all(one in pairs for one in found)
    assert len({one.setting for one in found}) == len(found)
    assert len({one.slot.key for one in found}) == len(found)
    assert worth(found) == pytest.approx(best_by_trying_all(pairs))


def test_one_name_for_two_settings_goes_where_it_is_missed_most() -> None:
    pairs = [
        pair("battery.full_v", "top", 0.9),
        pair("battery.warn_v", "top", 0.85),
        pair("battery.full_v", "brim", 0.8),
    ]
    chosen = choose(pairs)
    assert chosen["battery.full_v"].pair.slot.name == "brim"
    assert chosen["battery.warn_v"].pair.slot.name == "top"
    assert chosen["battery.full_v"].rival is pairs[0]
    assert chosen["battery.warn_v"].rival is None


def test_a_close_rival_makes_less_sure() -> None:
    alone = choose([pair("log.on", "a", 0.8)])["log.on"]
    near = choose([pair("log.on", "a", 0.8), pair("log.on", "b", 0.78)])["log.on"]
    far = choose([pair("log.on", "a", 0.8), pair("log.on", "b", 0.3)])["log.on"]
    assert alone.confidence == pytest.approx(0.8)
    assert alone.confidence >= far.confidence > near.confidence
    assert near.rival is not None
    assert far.rival is None


def test_what_the_owner_named_is_settled_and_taken() -> None:
    pairs = [pair("log.on", "a", 0.9), pair("motor.poles", "a", 0.5), pair("log.on", "b", 0.4)]
    named = pair("log.on", "b", 1.0)
    chosen = choose(pairs, {"log.on": named})
    assert chosen["log.on"].told
    assert chosen["log.on"].confidence == 1
    assert chosen["log.on"].pair.slot.name == "b"
    assert chosen["motor.poles"].pair.slot.name == "a"
    assert choose(pairs, None, [("log.on", ("", "a"))])["log.on"].pair.slot.name == "b"
    assert "log.on" not in choose(pairs, None, (), ["log.on"])
    assert choose([]) == {}


def test_two_ways_to_read_a_value_leave_doubt() -> None:
    one = choose([pair("failsafe.delay_s", "a", 0.9, ValueFit({}, 0.6), ValueFit({}, 0.6))])
    assert one["failsafe.delay_s"].codec_confidence == pytest.approx(0.5)
    codes = choose([pair("motor.signal", "a", 0.9, ValueFit({}, 0.5, opaque=("6",)))])
    assert codes["motor.signal"].codec_confidence < 0.5
    guessed = choose([pair("motor.signal", "a", 0.9, ValueFit({}, 0.5, doubt=("dsh",)))])
    assert 0.5 < guessed["motor.signal"].codec_confidence < 0.98


def test_pairs_are_what_can_be_meant() -> None:
    slots = [
        slot("esc_protocol", "dshot600"),
        slot("log_on", "yes"),
        slot("battery_cells", "900"),
        slot("diary", "on", flag=True),
        Slot("ch{N}_low", "", False, Words(("ch", "low")), slot("ch1_low", "1000").rows, (1,)),
    ]
    found = {(one.setting, one.slot.name) for one in pairs_of(slots, HABITS)}
    assert ("motor.signal", "esc_protocol") in found
    assert ("log.on", "log_on") in found
    assert ("log.on", "diary") in found
    assert ("channel.N.low_us", "ch{N}_low") in found
    assert ("battery.cells", "battery_cells") not in found  # no pack has 900
    assert not any(setting == "motor.signal" and name == "diary" for setting, name in found)
    every = pairs_of(slots, HABITS)
    assert [one.score for one in every] == sorted((one.score for one in every), reverse=True)
    assert all(FAINT <= one.score <= 0.99 for one in every)
