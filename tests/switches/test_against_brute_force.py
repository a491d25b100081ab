"""The engine against sweeping every tick and walking every state with networkx."""

from __future__ import annotations

from copy import copy
from typing import TYPE_CHECKING

from hypothesis import given, settings

from cfglint.switches import properties
from cfglint.switches.asking import Question, Setup, settle
from cfglint.switches.flight import (
    ARMS_BY_ITSELF,
    CANNOT_FLY,
    CANNOT_RIGHT_ITSELF,
    FLICK_ENTERS_SELF_RIGHT,
    FLICK_STOPS_MOTORS,
    recovery,
)
from cfglint.switches.loss import LOST_LINK

from .brute import Brute
from .random_craft import crafts

if TYPE_CHECKING:
    from cfglint.craft import Craft

# At least 200 in an ordinary run; the long profile's own number (2000) stands above it.
CASES = max(200, settings().max_examples)


def broken(setup: Setup, question: Question) -> set[str]:
    answers = settle(setup, question)
    assert all(answer.state != "unknown" for answer in answers), answers
    return {answer.subject for answer in answers if answer.state == "broken"}


def check_witnesses(brute: Brute, setup: Setup, question: Question) -> None:
    """Every path must be walkable in the brute graph: same switches, names and outcomes."""
    names = [
        {place.name: index for index, place in enumerate(switch.places)}
        for switch in map(setup.switch, [s.channel for s in brute.switches], ["two"] * 9)
    ]
    numbers = {switch.name: index for index, switch in enumerate(brute.switches)}
    for answer in settle(setup, question):
        if not answer.steps or answer.steps[0].kind != "power-up":
            continue
        # Switches that the question does not hang on may stand anywhere.
        wanted = dict(pair.rsplit(" ", 1) for pair in answer.steps[0].to.split(", ") if pair)
        nodes = {
            (combo, False)
            for combo in brute.combos
            if all(
                combo[numbers[name]].position == names[numbers[name]][place]
                for name, place in wanted.items()
            )
        }
        assert nodes
        for step in answer.steps[1:]:
            index = numbers[step.switch]
            nodes = {
                to
                for node in nodes
                if node in brute.graph
                for to in brute.graph.successors(node)
                if brute.graph.edges[node, to]["switch"] == index
                and brute.graph.edges[node, to]["kind"] == step.kind
                and to[0][index].position == names[index][step.to]
                and to[1] == step.armed
                and all(brute.on(to[0], mode) for mode in step.modes)
            }
            assert nodes, (answer, step)


@settings(max_examples=CASES)
@given(crafts())
def test_the_graph_answers_as_brute_force_does(made: Craft) -> None:
    setup, brute = Setup(made), Brute(made)
    view = setup.view(setup.logic().ends, "two", brute.permit)
    if setup.sets_up("arm"):
        spared = view.arm_channels()
        assert broken(setup, FLICK_STOPS_MOTORS) == brute.flick_stops_motors(spared)
        assert broken(setup, FLICK_ENTERS_SELF_RIGHT) == brute.flick_enters_self_right()
        assert broken(setup, ARMS_BY_ITSELF) == brute.arms_by_itself()
        assert broken(setup, LOST_LINK) == brute.lost_link()
        for question in (FLICK_STOPS_MOTORS, FLICK_ENTERS_SELF_RIGHT, ARMS_BY_ITSELF, LOST_LINK):
            check_witnesses(brute, setup, question)
        core = {"arm", "self-right", "lost-link"} | ({"arm-permit"} if brute.permit else set())
        way = Brute(copy(made), core).recovery()
        assert bool(broken(setup, CANNOT_FLY)) == (way == "no flying")
        if way != "no flying" and setup.sets_up("self-right"):
            assert bool(broken(setup, CANNOT_RIGHT_ITSELF)) == (way == "stuck")
            steps = recovery(view).steps
            assert len(steps) == (0 if way == "stuck" else way)
        elif setup.sets_up("self-right"):
            assert recovery(view).reason == "cannot-fly"
    for mode in setup.logic().modes:
        on = [brute.on(combo, mode) for combo in brute.combos]
        assert bool(broken(setup, properties.never_on(mode))) == (not any(on))
        assert bool(broken(setup, properties.never_off(mode))) == all(on)
        met = any(brute.on(combo, mode) and brute.on(combo, "arm") for combo in brute.combos)
        assert bool(broken(setup, properties.meet(mode, "arm"))) == met
    chattering = set()
    for number, switch in enumerate(properties.card_switches(setup)):
        places = [place.name for place in switch.places]
        for subject in broken(setup, properties.chatter(switch)):
            chattering.add(f"{number} {places.index(subject.removeprefix(switch.name + ' '))}")
    assert chattering == brute.chattering()
