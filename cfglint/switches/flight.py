"""What flicks do in flight: stopping the motors, self-right, and the way back into the air."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft import Missing
from cfglint.switches.asking import CORE, Answer, Question, words_list
from cfglint.switches.states import Walk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.span import Span
    from cfglint.switches.asking import View
    from cfglint.switches.states import Arming, Graph, Step

#: Reasons that single ranges explain as well.
SAID_BY_RANGES = frozenset(
    {"never-on", "never-off", "self-right-always", "permit-never", "never-together"}
)
#: Modes that share a switch with self-right without a pilot reaching for them in flight.
NOT_IN_FLIGHT = {"self-right", "beacon", "arm-permit"}


def _turned(
    view: View, graph: Graph, place: int, to: int, channel: int, modes: tuple[str, ...]
) -> list[Span]:
    """The ranges on a channel, of those that some modes hang on, that a flick turns on or off."""
    mine = view.logic.cone(modes).ranges & view.logic.bits_of(channel)
    bits = (graph.face(place) ^ graph.face(to)) & mine
    return [row.span for row in view.logic.rows(bits)]


def _flying(found: Arming) -> list[int]:
    """The places where the craft flies normally, nearest to power-up first."""
    logic, modes = found.graph.logic, found.graph.modes
    other = logic.bit("self-right") | logic.bit("lost-link")
    return [place for place in found.armed if not modes[place] & other]


def _one_flick(walk: Walk) -> str:
    """The last step of a walk, for a sentence, with where the other switches are."""
    step = walk.steps[-1]
    index = [item.switch.name for item in walk.graph.dials].index(step.switch)
    others = walk.words(index)
    where = f" with {others}" if others else ""
    return f"in normal flight{where}, one flick of {step.switch} from {step.start} to {step.to}"


# ---------------------------------------------------------------- what must not happen


def _flick_stops_motors(view: View) -> Iterator[Answer]:
    found = view.arming()
    graph, logic = found.graph, view.logic
    action = view.setup.craft.get("failsafe.action")
    lost = logic.bit("lost-link")
    spared = view.arm_channels()
    seen: set[str] = set()
    for place in _flying(found):
        for to, index, move in graph.moves(place):
            item = graph.dials[index]
            channel = item.switch.channel
            if move == "chatter" or channel in spared or item.switch.name in seen:
                continue
            plays = bool(graph.modes[to] & lost)
            stops = not graph.modes[to] & found.arm
            if not stops and not plays:
                continue
            name = item.switch.name
            if not stops and action.value != "stop":
                if not action.known:
                    lack = Missing("failsafe.action", "dump", f"{name} plays a lost link")
                    words = f"it cannot be told without {lack}"
                    yield Answer("flick-stops-motors", name, "unknown", words, lacks=(lack,))
                    seen.add(name)
                continue
            seen.add(name)
            walk = found.walk(place).go(to, index, move, not stops)
            what = "turns arm off" if stops else "plays a lost link, whose action is stop"
            yield Answer(
                "flick-stops-motors",
                name,
                "broken",
                f"{_one_flick(walk)} {what}, and the motors stop",
                f"let nothing on channel {channel} decide whether the craft is armed",
                tuple(walk.steps),
                tuple(_turned(view, graph, place, to, channel, ("arm", "lost-link"))),
                (channel,),
            )


def _flick_enters_self_right(view: View) -> Iterator[Answer]:
    found = view.arming()
    graph, right = found.graph, view.logic.bit("self-right")
    seen: set[int] = set()
    for place in _flying(found):
        for to, index, move in graph.moves(place):
            item = graph.dials[index]
            channel = item.switch.channel
            if move == "chatter" or channel in seen:
                continue
            if not graph.modes[to] & right or not graph.modes[to] & found.arm:
                continue
            others = [mode for mode in view.carried(channel) if mode not in NOT_IN_FLIGHT]
            if not others:
                continue
            seen.add(channel)
            walk = found.walk(place).go(to, index, move, True)
            beside = [row.span for row in view.logic.rows_on(channel) if row.mode in others]
            turned = _turned(view, graph, place, to, channel, ("self-right",))
            yield Answer(
                "flick-enters-self-right",
                item.switch.name,
                "broken",
                f"{_one_flick(walk)} brings self-right on; that switch also works "
                f"{words_list(others)}, so a pilot reaches for it in the air, and the motors "
                "reverse",
                "put self-right on a switch that carries nothing else",
                tuple(walk.steps),
                tuple(dict.fromkeys((*turned, *beside))),
                (channel,),
            )


def _arms_by_itself(view: View) -> Iterator[Answer]:
    found = view.arming()
    graph = found.graph
    seen: set[str] = set()
    for place in range(graph.places):
        if graph.modes[place] & found.arm:
            continue
        for to, index, move in graph.moves(place):
            if move != "chatter" or not found.arms(place, to):
                continue
            item = graph.dials[index]
            name = item.switch.name
            if name in seen:
                continue
            seen.add(name)
            walk = Walk(graph, place)
            where, position = walk.words(), walk.names[index]
            walk.go(to, index, move, True)
            yield Answer(
                "arms-by-itself",
                name,
                "broken",
                f"powered up with {where}, the craft arms by itself when the throttle "
                f"is low: {name} {position} lies on an edge of arm and wanders across it by its "
                "own jitter",
                "move the edge of the range away from every position of the switch",
                tuple(walk.steps),
                tuple(_turned(view, graph, place, to, item.switch.channel, ("arm",))),
                (item.switch.channel,),
            )


# ---------------------------------------------------------------- what must be possible


def _cannot_fly(view: View) -> Iterator[Answer]:
    found = view.arming(surely=True)
    graph, modes = found.graph, found.graph.modes
    if _flying(found):
        return
    on = [place for place in range(graph.places) if modes[place] & found.arm]
    right = view.logic.bit("self-right")
    if not on:
        reason, why, instead = (
            "never-on",
            "no position of any switch turns arm on",
            "give arm a range that a position of its switch falls in",
        )
    elif len(on) == graph.places:
        reason, why, instead = (
            "never-off",
            "arm is on in every position, and arming needs to see it off first",
            "give arm a range that a position of its switch falls outside of",
        )
    elif found.armed and all(modes[place] & right for place in found.armed):
        reason, why, instead = (
            "self-right-always",
            "wherever the craft can be armed, self-right is on as well",
            "give self-right a switch, or a position, where arm can be on without it",
        )
    elif found.permit and not any(
        modes[place] & found.permit and modes[place] & found.arm for place in on
    ):
        reason, why, instead = (
            "permit-never",
            "arm-permit is never on together with arm",
            "give arm-permit a range that can be on while arm comes on",
        )
    elif _flying(view.arming()):
        reason, why, instead = (
            "chatter",
            "it can only be armed in a position that lies on an edge of a range and wanders "
            "across it",
            "move the edges of the ranges away from every position",
        )
    else:
        reason, why, instead = (
            "no-way",
            "no sequence of flicks ends armed, with self-right off and no lost link played",
            "look at the table of states (cfglint switches) and part the ranges that meet",
        )
    spans = [row.span for row in view.setup.craft.ranges_of("arm")]
    yield Answer(
        "cannot-fly",
        "arm",
        "broken",
        f"this craft can never be flown: {why}",
        instead,
        (),
        tuple(spans or [row.span for row in view.setup.craft.mode_links if row.mode == "arm"]),
        graph.cone.channels,
        reasons=(reason,),
    )


class Recovery(NamedTuple):
    """The way from flying, over self-right, back into the air; one that a pilot can rely on.

    ``steps`` is empty where there is none; ``why`` then says why not.
    """

    start: int
    steps: tuple[Step, ...]
    why: str = ""
    reason: str = ""


#: The stages of a recovery: flying, disarmed, righting, disarmed again, flying again.
_FLY, _DOWN, _RIGHT, _UP, _AGAIN = range(5)


#: A stage, and the place that the switches are in.
_At = tuple[int, int]


def recovery(view: View) -> Recovery:
    """A shortest recovery from any state of normal flight, if there is one from every such."""
    found = view.arming(surely=True)
    graph, modes = found.graph, found.graph.modes
    starts = _flying(found)
    if not starts:
        return Recovery(0, (), "the craft cannot be flown in the first place", "cannot-fly")
    ways = _ways_back(found, starts)
    stuck = [place for place in starts if (_FLY, place) not in ways]
    if stuck:
        reason, why = _no_recovery(found, {stage for stage, _ in ways})
        return Recovery(stuck[0], (), why, reason)

    def length(place: int) -> int:
        at, steps = (_FLY, place), 0
        while at in ways:
            at, steps = ways[at][:2], steps + 1
        return steps

    start = min(starts, key=lambda place: (length(place), modes[place].bit_count(), place))
    walk = Walk(graph, start, armed=True)
    at = (_FLY, start)
    while at in ways:
        later, to, index = ways[at]
        walk.go(to, index, "flick", later in (_FLY, _RIGHT, _AGAIN))
        at = (later, to)
    return Recovery(start, tuple(walk.steps))


def _ways_back(found: Arming, starts: list[int]) -> dict[_At, tuple[int, int, int]]:
    """From each stage and place on the way: the next stage, its place, and the switch flicked.

    Looked for backwards from flying again: sure moves go both ways between steady places.
    """
    graph, modes, arm = found.graph, found.graph.modes, found.arm
    right, lost = graph.logic.bit("self-right"), graph.logic.bit("lost-link")

    def allowed(now: int, place: int) -> bool:
        """Whether the switches may stand so at a stage."""
        if now == _FLY:
            armed = modes[place] & arm and place in found.armed
            return bool(armed) and not modes[place] & (right | lost)
        if now == _RIGHT:
            return bool(modes[place] & arm and modes[place] & right)
        return True

    def stage(now: int, place: int, to: int) -> int | None:
        """The stage after a notch, None where it leads off the way."""
        on, reverses = modes[to] & arm, modes[to] & right
        if now == _FLY:
            return _DOWN if not on else None if reverses or modes[to] & lost else _FLY
        if now == _RIGHT:
            return _UP if not on else _RIGHT if reverses else None
        if not found.arms(place, to):
            return now
        if now == _DOWN:
            return _RIGHT if reverses else None
        return _AGAIN if not reverses and not modes[to] & lost else None

    ways: dict[_At, tuple[int, int, int]] = {}
    queue = deque((_AGAIN, place) for place in starts)
    while queue:
        later, to = queue.popleft()
        for place, index, _ in graph.sure_moves(to):
            for now in (later, later - 1):
                if not _FLY <= now < _AGAIN or (now, place) in ways or not allowed(now, place):
                    continue
                if stage(now, place, to) == later:
                    ways[now, place] = (later, to, index)
                    queue.append((now, place))
    return ways


def _no_recovery(found: Arming, stages: set[int]) -> tuple[str, str]:
    """Why there is no way back into the air, in a word and in words, from the stages that it has.

    Stages are those from which flying again can be reached.
    """
    graph, arm, right = found.graph, found.arm, found.graph.logic.bit("self-right")
    steady = [graph.modes[place] for place in range(graph.places) if graph.steady(place)]
    if not any(on & right for on in steady):
        return "never-on", "no position of any switch turns self-right on"
    if not any(on & right and on & arm for on in steady):
        why = "self-right and arm are never on together, so the motors never reverse"
        return "never-together", why
    if not any(on & right and not on & arm for on in steady):
        why = "self-right is never on while disarmed, so it cannot be chosen before arming"
        return "only-armed", why
    if _DOWN in stages:
        why = "the switches cannot be brought to where it is used without arming on the way"
        return "not-from-all", why
    if _RIGHT in stages:
        why = "the craft cannot be armed with self-right on without flying off first"
        return "no-way-in", why
    return "no-way-back", "once it has been used, it cannot be put away and the craft armed again"


def _cannot_right_itself(view: View) -> Iterator[Answer]:
    found = recovery(view)
    if found.steps:
        return
    rows = view.setup.craft.ranges_of("self-right")
    links = [row.span for row in view.setup.craft.mode_links if row.mode == "self-right"]
    graph = view.core()
    start = f" from flying ({graph.words(found.start)})" if found.reason != "cannot-fly" else ""
    yield Answer(
        "cannot-right-itself",
        "self-right",
        "broken",
        f"an upturned craft cannot be righted by any sequence of flicks{start}: {found.why}",
        "a pilot must be able to disarm, choose self-right, arm, disarm, put self-right away and "
        "arm again; a switch of its own for self-right allows that",
        (),
        tuple([row.span for row in rows] or links),
        graph.cone.channels,
        reasons=(found.reason,),
    )


FLICK_STOPS_MOTORS = Question("flick-stops-motors", CORE, _flick_stops_motors, permit=True)
FLICK_ENTERS_SELF_RIGHT = Question(
    "flick-enters-self-right", CORE, _flick_enters_self_right, permit=True
)
ARMS_BY_ITSELF = Question("arms-by-itself", CORE, _arms_by_itself, permit=True)
CANNOT_FLY = Question("cannot-fly", CORE, _cannot_fly, permit=True, needs_switches=True)
CANNOT_RIGHT_ITSELF = Question(
    "cannot-right-itself", CORE, _cannot_right_itself, permit=True, needs_switches=True
)
