"""The graph of states: size, moves, limits, and how a step is worded."""

from __future__ import annotations

import time
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from cfglint.switches.asking import CORE, Setup, View, settle
from cfglint.switches.flight import FLICK_STOPS_MOTORS
from cfglint.switches.properties import answers
from cfglint.switches.scene import scene
from cfglint.switches.states import MOST_STATES, Graph, Step, TooMany, toward

from .build import card, craft, row, sound, switch

if TYPE_CHECKING:
    from cfglint.craft import Craft


def view(made: Craft) -> View:
    return Setup(made).view("half-open", "two", False)


def test_a_graph_holds_only_what_its_modes_can_tell_apart() -> None:
    seen = view(sound())
    core = seen.graph(CORE)
    # Arm and self-right on two switches of two positions; self-level and the beacon are left out.
    assert core.places == 4
    assert [len(item.runs) for item in core.dials] == [2, 2]
    level = seen.graph(("self-level",))
    assert [item.names for item in level.dials[0].runs] == [("up",), ("middle", "down")]
    assert seen.graph(CORE) is core


def test_a_hundred_positions_cost_no_more_than_what_they_show() -> None:
    positions = [1000 + 10 * number for number in range(100)]
    made = sound([row("arm", 5, 1770, 2110)], switches=[switch("S", 5, positions)])
    (dial,) = view(made).graph(("arm",)).dials
    assert [len(item.names) for item in dial.runs] == [77, 23]


def test_moves_change_one_dial_and_come_back() -> None:
    graph = view(sound()).graph(CORE)
    for place in range(graph.places):
        spots = zip(graph.spots(place), graph.strides, strict=True)
        assert sum(spot * stride for spot, stride in spots) == place
        for to, index, move in graph.moves(place):
            assert move == "flick"
            changed = [a != b for a, b in zip(graph.runs(place), graph.runs(to), strict=True)]
            assert changed == [at == index for at in range(len(graph.dials))]
            assert place in [back for back, _, _ in graph.moves(to)]


def many(count: int, join: str = "any") -> Craft:
    """``count`` switches of three positions, each position with a mode of its own."""
    modes = ("self-level", "lights", "beacon", "log", "video-power", "hold-height")
    ranges = []
    for number in range(count):
        mode = "arm" if join == "all" else modes[number % len(modes)]
        ranges.append(row(mode, 5 + number, 1637, 2074, join))  # type: ignore[arg-type]
    ranges.append(row("arm", 5, 784, 1315))
    switches = [
        switch(f"S{number}", 5 + number, (1000, 1500, 2000), jitter=4) for number in range(count)
    ]
    return craft(ranges, card=card(*switches), values={"failsafe.action": "stop"})


def test_thirty_switches_are_no_trouble() -> None:
    start = time.perf_counter()
    made = scene(many(30))
    assert time.perf_counter() - start < 20  # minutes or hours if any product were formed
    assert made.combinations == 3**30
    assert {row_.state for row_ in made.answers} <= {"holds", "broken", "unknown"}
    assert max(table.states for table in made.tables) <= 3**5


def test_thirty_switches_that_hang_together_are_refused_in_words() -> None:
    setup = Setup(many(30, "all"))
    (answer,) = settle(setup, FLICK_STOPS_MOTORS)
    assert answer.state == "unknown"
    assert "hang together and have 3,221,225,472 states" in answer.words
    assert "100,000" in answer.words
    assert answer.lacks
    made = scene(setup.craft)
    (table,) = made.tables
    assert "3,221,225,472" in table.trouble


def test_the_limit_is_one_number() -> None:
    dials = view(sound()).graph(CORE).dials
    logic = Setup(sound()).logic()
    assert Graph(logic, logic.cone(CORE), dials, most=8).places == 4
    with pytest.raises(TooMany, match="channels 5, 7 hang together and have 8 states"):
        Graph(logic, logic.cone(CORE), dials, most=7)
    assert MOST_STATES == 100_000


def test_no_switches_at_all() -> None:
    assert answers(Setup(craft())) == []
    made = sound(switches=())
    assert {row_.state for row_ in answers(Setup(made))} == {"holds", "unknown"}
    only_links = Setup(craft(card=card(switch("K1", 5, (1000, 2000)))))
    assert answers(only_links) == []
    assert only_links.view("half-open", "two", False).graph(("arm",)).places == 1


def test_positions_that_jitter_into_each_other_do_not_hang() -> None:
    made = sound([row("arm", 5, 1705, 2066)], switches=[switch("S", 5, (1690, 1710), jitter=500)])
    (dial,) = view(made).graph(("arm",)).dials
    # They cannot be told apart: one run, which chatters.
    assert len(dial.runs) == 1
    assert not dial.runs[0].steady
    found = {row_.question: row_ for row_ in answers(Setup(made)) if row_.state == "broken"}
    assert "cannot tell them apart" in found["not-sent"].words
    assert "arms by itself" in found["arms-by-itself"].words


def test_a_position_beyond_the_link_is_clipped_and_told() -> None:
    made = sound([row("arm", 5, 1765, 2110)], switches=[switch("S", 5, (1000, 2400))])
    broken = {row_.question: row_.words for row_ in answers(Setup(made)) if row_.state == "broken"}
    assert "S high is 2400 µs by the card" in broken["not-sent"]
    assert "arrives as 2120 µs" in broken["not-sent"]
    assert "never comes on" in broken["never-on"]  # 2120 lies past the range


def test_two_cards_for_one_channel_count_as_none() -> None:
    made = sound(
        [row("arm", 5, 1748, 2063)],
        switches=[switch("S", 5, (1000, 2000)), switch("T", 5, (1000, 1900))],
    )
    setup = Setup(made)
    assert not setup.described(5)
    assert setup.switch(5, "two").kind == "assumed"
    lacks = [str(lack) for row_ in answers(setup) for lack in row_.lacks]
    assert "`switch on channel 5` in the hardware card" in lacks


def test_a_channel_that_the_link_does_not_carry_stays_off() -> None:
    made = sound(
        [row("arm", 19, 870, 2190)],
        switches=[switch("S", 19, (1000, 2000))],
        receiver__link="sbus",
    )
    setup = Setup(made)
    assert setup.described(19)
    broken = {row_.question: row_.words for row_ in answers(setup) if row_.state == "broken"}
    assert "link does not carry channel 19" in broken["never-on"]


def test_steps_are_worded_as_they_are_done() -> None:
    step = Step("flick", "K1", "up", "down", False, True, (), ("arm",))
    assert step.words() == "With the throttle low, flick K1 down"
    assert step.outcome() == "armed"
    held = step._replace(hand="hold", was_armed=True, armed=True)
    assert held.words() == "Hold K1 down"
    assert held._replace(hand="let go").words() == "Let K1 go"
    assert held.outcome() == ""
    refused = step._replace(armed=False)
    assert refused.words() == "Flick K1 down"
    assert refused.outcome() == "arming is refused"
    several = step._replace(
        armed=False, before=("log", "lights"), modes=("beacon", "self-level"), to="middle"
    )
    assert several.words() == "Flick K1 to middle"
    assert several.outcome() == "beacon and self-level come on, log and lights go off"
    one = several._replace(before=("log",), modes=())
    assert one.outcome() == "log goes off"
    assert step._replace(kind="power-up", to="").words() == "Power up"
    assert toward("Down") == "Down"


def test_a_switch_that_springs_back_is_held_and_let_go() -> None:
    made = sound(
        [row("arm", 5, 1751, 2065), row("self-right", 7, 1751, 2065)],
        switches=[switch("K1", 5, (1000, 2000)), switch("K6", 7, (1000, 2000), momentary=True)],
    )
    words = [step.words() for step in scene(made).recovery]
    assert words[1] == "Hold K6 to high"
    assert words[4] == "Let K6 go"


def test_a_walk_keeps_the_names_of_where_switches_really_are() -> None:
    made = sound(
        [row("arm", 5, 1708, 2092), row("arm", 6, 968, 1708, "all"), row("lights", 6, 1, 2)],
        switches=[
            switch("K1", 5, (1000, 2000), names=("up", "down")),
            switch("K4", 6, (1000, 1500, 2000), names=("up", "middle", "down")),
        ],
    )
    for answer in settle(Setup(made), FLICK_STOPS_MOTORS):
        for before, after in pairwise(answer.steps[1:]):
            if before.switch == after.switch:
                assert before.to == after.start
