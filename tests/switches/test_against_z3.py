"""The same reachability questions put to z3, on random craft: identical answers.

z3 knows nothing of intervals, faces or merged states: it gets whole-number ticks ({crsf}, frame
0x16), the calibration as linear inequalities, mode formulas and the arming rules, unrolled flick by
flick. A path that the engine found must be possible within its own length; where the engine found
none, there must be none within ``DEPTH`` flicks.
"""

from __future__ import annotations

from fractions import Fraction
from math import floor
from typing import TYPE_CHECKING, Any

import z3
from hypothesis import given, settings

from cfglint.switches import properties
from cfglint.switches.asking import Question, Setup, settle
from cfglint.switches.flight import (
    ARMS_BY_ITSELF,
    CANNOT_FLY,
    FLICK_ENTERS_SELF_RIGHT,
    FLICK_STOPS_MOTORS,
    recovery,
)

from .brute import Brute
from .random_craft import crafts

if TYPE_CHECKING:
    from cfglint.craft import Craft, ModeRange
    from cfglint.switches.asking import Answer

CASES = max(200, settings().max_examples)
DEPTH = 4


def tick(pulse: Fraction) -> int:
    clipped = min(max(pulse, Fraction(880)), Fraction(2120))
    return floor((clipped - 880) * Fraction(8, 5) + Fraction(1, 2))


class Unrolled:
    """A craft over ``depth`` flicks after power-up, as constraints."""

    def __init__(self, craft: Craft, depth: int) -> None:
        self.craft = craft
        assert craft.card is not None
        self.switches = craft.card.switches
        self.solver = z3.SolverFor("QF_LIA")
        self.places = [self._state(at) for at in range(depth + 1)]
        self.modes = [self._modes(at) for at in range(depth + 1)]
        self.armed = [z3.Bool(f"armed{at}") for at in range(depth + 1)]
        self.moved = [z3.Int(f"moved{at}") for at in range(depth)]
        self.depth = depth
        self.permit = craft.traits.arm_needs_permit and any(
            item.mode == "arm-permit"
            for rows in (craft.mode_ranges, craft.mode_links)
            for item in rows
        )
        self.solver.add(z3.Not(self.armed[0]))
        for at in range(depth):
            self._flick(at)

    def _state(self, at: int) -> list[tuple[Any, Any]]:
        found = []
        for number, switch in enumerate(self.switches):
            place, value = z3.Int(f"place{number}.{at}"), z3.Int(f"tick{number}.{at}")
            jitter = Fraction(switch.jitter_us)
            self.solver.add(
                z3.Or(
                    *(
                        z3.And(
                            place == index,
                            value >= tick(Fraction(pulse) - jitter),
                            value <= tick(Fraction(pulse) + jitter),
                        )
                        for index, pulse in enumerate(switch.positions)
                    )
                )
            )
            found.append((place, value))
        return found

    def _held(self, row: ModeRange, at: int) -> Any:
        for number, switch in enumerate(self.switches):
            if switch.channel == row.channel:
                value = self.places[at][number][1]
        low, mid, high = (
            int(self.craft.get(f"channel.{row.channel}.{end}_us").value or nominal)
            for end, nominal in (("low", 1000), ("mid", 1500), ("high", 2000))
        )
        eight = 7040 + 5 * value  # eight times the arriving µs

        def seen_from(edge: float, strict: bool) -> Any:
            below = 8 * 1500 * (mid - low) - 500 * (8 * mid - eight), 8 * int(edge) * (mid - low)
            above = 8 * 1500 * (high - mid) + 500 * (eight - 8 * mid), 8 * int(edge) * (high - mid)
            pairs = [(a > b) if strict else (a >= b) for a, b in (below, above)]
            return z3.If(eight < 8 * mid, pairs[0], pairs[1])

        closed = self.craft.traits.range_ends == "closed"
        return z3.And(seen_from(row.low_us, False), z3.Not(seen_from(row.high_us, closed)))

    def _modes(self, at: int) -> dict[str, Any]:
        craft = self.craft
        names = {row.mode for row in craft.mode_ranges}
        names |= {name for row in craft.mode_links for name in (row.mode, row.follows)}
        held = [self._held(row, at) for row in craft.mode_ranges]
        on: dict[str, Any] = dict.fromkeys(sorted(names), z3.BoolVal(False))
        for _ in names if craft.mode_links else ("once",):
            following = {}
            for mode in on:
                terms: dict[str, list[Any]] = {"all": [], "any": []}
                for row, holds in zip(craft.mode_ranges, held, strict=True):
                    if row.mode == mode:
                        terms[row.join].append(holds)
                for link in craft.mode_links:
                    if link.mode == mode:
                        terms[link.join].append(on[link.follows])
                every = z3.And(*terms["all"]) if terms["all"] else z3.BoolVal(False)
                following[mode] = z3.Or(every, *terms["any"])
            on = following
        return on

    def on(self, mode: str, at: int) -> Any:
        return self.modes[at].get(mode, z3.BoolVal(False))

    def _flick(self, at: int) -> None:
        self.solver.add(self.moved[at] >= -1, self.moved[at] < len(self.switches))
        for number, (here, there) in enumerate(
            zip(self.places[at], self.places[at + 1], strict=True)
        ):
            same = z3.And(here[0] == there[0], here[1] == there[1])
            self.solver.add(z3.Or(self.moved[at] == number, same))
        arm, arms_next = self.on("arm", at), self.on("arm", at + 1)
        permit = self.on("arm-permit", at + 1) if self.permit else z3.BoolVal(True)
        comes = z3.And(z3.Not(arm), arms_next, permit)
        self.solver.add(self.armed[at + 1] == z3.If(self.armed[at], arms_next, comes))

    def flying(self, at: int) -> Any:
        return z3.And(
            self.armed[at], z3.Not(self.on("self-right", at)), z3.Not(self.on("lost-link", at))
        )

    def last_flick(self, number: int) -> Any:
        at = self.depth - 1
        here, there = self.places[at][number][0], self.places[at + 1][number][0]
        return z3.And(self.moved[at] == number, here != there, self.flying(at))

    def possible(self, *what: Any) -> bool:
        found = self.solver.check(*what)
        assert found != z3.unknown
        return bool(found == z3.sat)


def broken(setup: Setup, question: Question) -> dict[str, Answer]:
    return {row.subject: row for row in settle(setup, question) if row.state == "broken"}


@settings(max_examples=CASES)
@given(crafts(link_known=True))
def test_z3_gives_the_same_answers(made: Craft) -> None:
    setup = Setup(made)
    state = Unrolled(made, 0)
    for mode in setup.logic().modes:
        assert bool(broken(setup, properties.never_on(mode))) != state.possible(state.on(mode, 0))
        never_off = bool(broken(setup, properties.never_off(mode)))
        assert never_off != state.possible(z3.Not(state.on(mode, 0)))
        if mode != "arm":
            both = state.possible(state.on(mode, 0), state.on("arm", 0))
            assert bool(broken(setup, properties.meet(mode, "arm"))) == both
    if not setup.sets_up("arm"):
        return

    stops, enters = broken(setup, FLICK_STOPS_MOTORS), broken(setup, FLICK_ENTERS_SELF_RIGHT)
    wander = broken(setup, ARMS_BY_ITSELF)
    lengths = [len(row.steps) - 1 for row in (*stops.values(), *enters.values())]
    whole = Unrolled(made, max(DEPTH, *lengths, 0))
    end = whole.depth
    view = setup.view(setup.logic().ends, "two", whole.permit)
    loss = made.get("failsafe.action").value == "stop"
    stopped = z3.Or(z3.Not(whole.armed[end]), whole.on("lost-link", end) if loss else False)
    righting = z3.And(whole.armed[end], whole.on("self-right", end))
    for number, switch in enumerate(whole.switches):
        flick = whole.last_flick(number)
        if switch.channel not in view.arm_channels():
            assert (switch.name in stops) == whole.possible(flick, stopped)
        carried = {row.mode for row in made.mode_ranges if row.channel == switch.channel}
        if carried - {"self-right", "beacon", "arm-permit"}:
            assert (switch.name in enters) == whole.possible(flick, righting)
        here, there = whole.places[0][number][0], whole.places[1][number][0]
        drift = z3.And(whole.moved[0] == number, here == there, whole.armed[1])
        assert (switch.name in wander) == whole.possible(drift)
    if not broken(setup, CANNOT_FLY):
        assert whole.possible(whole.flying(end))
        check_recovery(made, setup)


def check_recovery(made: Craft, setup: Setup) -> None:
    """z3 finds a way as long as the engine's, and none that is shorter."""
    if not setup.logic().bit("self-right"):
        return
    permit = bool(made.traits.arm_needs_permit and setup.sets_up("arm-permit"))
    view = setup.view(setup.logic().ends, "two", permit)
    found = recovery(view)
    start = {item.switch.name: name for item, name in view.core().where(found.start)}
    length = len(found.steps)
    for depth in (length - 1, length) if length else (2 * DEPTH,):
        way = Unrolled(made, depth)
        conditions = _way(way, setup, start, permit)
        assert way.possible(*conditions) == (depth == length)


def _way(way: Unrolled, setup: Setup, start: dict[str, str], permit: bool) -> list[Any]:
    """A recovery over the whole depth: notches between steady places, stage after stage."""
    brute = Brute(_core_of(way.craft, permit))
    found: list[Any] = []
    steady: list[list[int]] = []
    for number, switch in enumerate(way.switches):
        here = [index for index in range(len(switch.positions)) if brute._steady(number, index)]
        steady.append(here)
        names = [place.name for place in setup.switch(switch.channel, "two").places]
        found += [
            z3.Or(*(way.places[at][number][0] == index for index in here))
            for at in range(way.depth + 1)
        ]
        if switch.name in start:
            # Neighbours that the core cannot tell apart carry one name; any of them will do.
            index = names.index(start[switch.name])
            held = [spot.held for spot in brute.spots[number] if spot.position == index]
            alike = _alike(brute, number, index, held)
            found.append(z3.Or(*(way.places[0][number][0] == index for index in alike)))
    stage = [z3.Int(f"stage{at}") for at in range(way.depth + 1)]
    found += [stage[0] == 0, stage[-1] == 4]
    for at in range(way.depth):
        for number, here in enumerate(steady):
            one, two = way.places[at][number][0], way.places[at + 1][number][0]
            # A run of positions alike counts as one notch.
            pairs = _notches(brute, number, here)
            found.append(
                z3.Or(
                    one == two,
                    *(z3.And(one == first, two == second) for first, second in pairs),
                )
            )
        arm, right = way.on("arm", at + 1), way.on("self-right", at + 1)
        plain = z3.And(z3.Not(right), z3.Not(way.on("lost-link", at + 1)))
        allowed = way.on("arm-permit", at + 1) if permit else z3.BoolVal(True)
        arms = z3.And(z3.Not(way.on("arm", at)), arm, allowed)
        now, then = stage[at], stage[at + 1]
        found.append(
            z3.Or(
                z3.And(now == 0, then == 0, arm, plain),
                z3.And(now == 0, then == 1, z3.Not(arm)),
                z3.And(now == 1, then == 1, z3.Not(arms)),
                z3.And(now == 1, then == 2, arms, right),
                z3.And(now == 2, then == 2, arm, right),
                z3.And(now == 2, then == 3, z3.Not(arm)),
                z3.And(now == 3, then == 3, z3.Not(arms)),
                z3.And(now == 3, then == 4, arms, plain),
            )
        )
    return found


def _core_of(craft: Craft, permit: bool) -> Craft:
    from copy import copy

    core = {"arm", "self-right", "lost-link"} | ({"arm-permit"} if permit else set())
    made = copy(craft)
    Brute(made, core)  # leaves only the core's ranges in the copy
    return made


def _alike(brute: Brute, number: int, index: int, held: list[Any]) -> list[int]:
    """The unbroken row of positions around one that show the same ranges."""
    shown = {
        place: [spot.held for spot in brute.spots[number] if spot.position == place]
        for place in range(len(brute.switches[number].positions))
    }
    low = high = index
    while low - 1 in shown and shown[low - 1] == held:
        low -= 1
    while high + 1 in shown and shown[high + 1] == held:
        high += 1
    return list(range(low, high + 1))


def _notches(brute: Brute, number: int, steady: list[int]) -> list[tuple[int, int]]:
    """Pairs of steady positions one notch apart, positions alike counting as one."""
    held = {
        place: [spot.held for spot in brute.spots[number] if spot.position == place]
        for place in steady
    }
    pairs = []
    for one in steady:
        alike = _alike(brute, number, one, held[one])
        above = [place for place in steady if place > alike[-1]]
        below = [place for place in steady if place < alike[0]]
        for edge in (above[:1], below[-1:]):
            for other in edge:
                pairs += [(one, two) for two in _alike(brute, number, other, held[other])]
    return pairs
