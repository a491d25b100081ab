"""The state graph: every combination of positions, armed or not; every edge one flick.

A state graph is built for the modes that a question asks about and holds only what those modes
can tell apart: neighbouring positions of a switch that show them the same face are one *run*,
and switches that they do not hang on are left out.  That loses nothing (two states merged this
way answer every such question alike), and it is why eight switches do not cost 3⁸ states.

The rules of the game:

- A flick takes one switch to any of its other positions; a *notch* only to the next one, as a
  switch thrown end to end passes its middle.  What must never happen is asked of flicks, what a
  pilot must be able to do is asked of notches.
- A position that straddles the edge of a range shows several faces and wanders between them
  without being touched (*chatter*).
- Power-up is disarmed, with the switches anywhere.  Arming happens when arm turns from off to
  on as seen from the transmitter, with the throttle low (which a pilot can always see to) and,
  where it is needed, the arming permit on; refused once, it needs arm off again.  Disarming
  happens as soon as arm is off.  Common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.switches.modes import Stretch

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.switches.modes import Cone, Logic
    from cfglint.switches.positions import Switch, Wire

#: More states than this are not gone through; what hangs on them is then unknown, and says so.
MOST_STATES = 100_000

Move = Literal["flick", "chatter"]


class TooMany(Exception):  # noqa: N818  (an answer of the graph, not a fault)
    """A question hangs on more combinations of positions than can be gone through."""

    def __init__(self, count: int, channels: tuple[int, ...]) -> None:
        super().__init__(count)
        self.count = count
        self.channels = channels

    def __str__(self) -> str:
        listed = ", ".join(str(channel) for channel in self.channels)
        return (
            f"channels {listed} hang together and have {self.count:,} states, more than the "
            f"{MOST_STATES:,} that are gone through one by one"
        )


class Run(NamedTuple):
    """Neighbouring positions that cannot be told apart; ``faces`` has several where it
    chatters.  ``names`` are their names in order.
    """

    names: tuple[str, ...]
    faces: tuple[int, ...]

    @property
    def steady(self) -> bool:
        return len(self.faces) == 1


class Dial(NamedTuple):
    """One switch as the graph sees it: runs in the order in which it is flicked.

    ``spots`` are (run, face) pairs: what the dial can show.
    """

    switch: Switch
    runs: tuple[Run, ...]
    spots: tuple[tuple[int, int], ...]

    def place(self, run: int, coming_from: int | None = None) -> str:
        """The name of the run's position that is reached first when coming from another run."""
        names = self.runs[run].names
        return names[-1] if coming_from is not None and coming_from > run else names[0]


def dial(logic: Logic, switch: Switch, wire: Wire, ranges: int) -> Dial:
    """A switch's runs, told apart by the ranges whose bits are set in ``ranges``."""
    strip = logic.strip(switch.channel)
    shown: list[tuple[str, tuple[int, ...]]] = []
    if not wire.carries(switch.channel):
        shown.append(("not carried by the link", (0,)))
    elif switch.kind == "free":
        stretches: list[Stretch] = []
        for part in strip.walk(wire.everything()):
            face = part.face & ranges
            low = stretches.pop().low if stretches and stretches[-1].face == face else part.low
            stretches.append(Stretch(face, low, part.high))
        shown = [(f"{part.low:.0f}–{part.high:.0f} µs", (part.face,)) for part in stretches]
    else:
        for place in switch.places:
            faces = tuple(dict.fromkeys(part.face & ranges for part in strip.walk(place.band)))
            shown.append((place.name, faces))
    runs: list[Run] = []
    for name, faces in shown:
        if runs and set(runs[-1].faces) == set(faces):
            runs[-1] = Run((*runs[-1].names, name), runs[-1].faces)
        else:
            runs.append(Run((name,), faces))
    spots = tuple((index, face) for index, run in enumerate(runs) for face in run.faces)
    return Dial(switch, tuple(runs), spots)


#: Names of positions that follow a verb as they are: "flick K1 down".
_WAYS = {"up", "down", "left", "right", "in", "out", "forward", "back", "on", "off"}


def toward(name: str) -> str:
    """A position as the goal of a flick: ``down``, ``to middle``."""
    return name if name.lower() in _WAYS else f"to {name}"


class Step(NamedTuple):
    """One thing a pilot does (or that happens), and what comes of it.

    ``to`` is the position's name; ``modes`` the modes that are on afterwards, of those the
    question asks about; ``armed`` whether the motors may turn afterwards.  ``hand``: what the
    pilot's does, by the kind of switch.
    """

    kind: Literal["power-up", "flick", "chatter"]
    switch: str
    start: str
    to: str
    was_armed: bool
    armed: bool
    before: tuple[str, ...]
    modes: tuple[str, ...]
    hand: Literal["flick", "hold", "let go"] = "flick"

    def words(self) -> str:
        """The step as an instructor would say it, without what comes of it."""
        if self.kind == "power-up":
            return f"Power up with {self.to}" if self.to else "Power up"
        if self.kind == "chatter":
            return f"{self.switch} stays at {self.to} and wanders by its own jitter"
        low = "With the throttle low, " if self.armed and not self.was_armed else ""
        if self.hand == "let go":
            text = f"{low}let {self.switch} go"
        else:
            text = f"{low}{self.hand} {self.switch} {toward(self.to)}"
        return text[0].upper() + text[1:]

    def outcome(self) -> str:
        """What comes of the step, in a few words; empty when nothing does."""
        before, after = set(self.before), set(self.modes)
        parts = []
        if self.armed != self.was_armed:
            reversed_ = " with the motors reversed" if "self-right" in after else ""
            parts.append(f"armed{reversed_}" if self.armed else "disarmed")
        came = [mode for mode in self.modes if mode not in before and mode != "arm"]
        went = [mode for mode in self.before if mode not in after and mode != "arm"]
        if came:
            parts.append(f"{' and '.join(came)} {'come' if len(came) > 1 else 'comes'} on")
        if went:
            parts.append(f"{' and '.join(went)} {'go' if len(went) > 1 else 'goes'} off")
        if "arm" in after and "arm" not in before and not self.armed:
            parts.append("arming is refused")
        return ", ".join(parts)


class Graph:
    """The states that some modes can tell apart.

    A state's *place* is an int that counts through the product of the dials' spots (the last
    dial counts fastest); with ``armed`` it is a state.  ``modes[place]`` are the modes on.
    """

    __slots__ = ("cone", "dials", "logic", "modes", "places", "strides")

    def __init__(
        self, logic: Logic, cone: Cone, dials: Iterable[Dial], most: int = MOST_STATES
    ) -> None:
        """Raises TooMany when places, armed or not, are more than ``most``."""
        self.logic = logic
        self.cone = cone
        self.dials = tuple(dials)
        count = 1
        strides: list[int] = []
        for item in reversed(self.dials):
            strides.append(count)
            count *= len(item.spots)
        if 2 * count > most:
            raise TooMany(2 * count, tuple(item.switch.channel for item in self.dials))
        self.places = count
        self.strides = tuple(reversed(strides))
        faces = [0]
        for item in self.dials:
            shown = [face for _, face in item.spots]
            faces = [face | other for face in faces for other in shown]
        on, mine = logic.on, cone.modes
        self.modes = [on(face) & mine for face in faces]

    def spots(self, place: int) -> list[int]:
        """The spot that every dial is at."""
        return [
            place // stride % len(item.spots)
            for item, stride in zip(self.dials, self.strides, strict=True)
        ]

    def runs(self, place: int) -> list[int]:
        return [
            item.spots[spot][0] for item, spot in zip(self.dials, self.spots(place), strict=True)
        ]

    def face(self, place: int) -> int:
        face = 0
        for item, spot in zip(self.dials, self.spots(place), strict=True):
            face |= item.spots[spot][1]
        return face

    def steady(self, place: int) -> bool:
        """Whether no switch chatters here."""
        return all(
            item.runs[run].steady for item, run in zip(self.dials, self.runs(place), strict=True)
        )

    def moves(self, place: int) -> Iterator[tuple[int, int, Move]]:
        """All (place, dial, move) that one flick or some chatter leads to."""
        for index, (item, stride) in enumerate(zip(self.dials, self.strides, strict=True)):
            spots = item.spots
            spot = place // stride % len(spots)
            run = spots[spot][0]
            base = place - spot * stride
            for other, (other_run, _) in enumerate(spots):
                if other == spot:
                    continue
                if other_run == run:
                    yield base + other * stride, index, "chatter"
                else:
                    yield base + other * stride, index, "flick"

    def sure_moves(self, place: int) -> Iterator[tuple[int, int, Move]]:
        """All that one notch leads to; positions that chatter are passed over."""
        for index, (item, stride) in enumerate(zip(self.dials, self.strides, strict=True)):
            spot = place // stride % len(item.spots)
            run = item.spots[spot][0]
            base = place - spot * stride
            steady = [
                other for other, (number, _) in enumerate(item.spots) if item.runs[number].steady
            ]
            below = [other for other in steady if item.spots[other][0] < run]
            above = [other for other in steady if item.spots[other][0] > run]
            for other in (*below[-1:], *above[:1]):
                yield base + other * stride, index, "flick"

    def where(self, place: int) -> list[tuple[Dial, str]]:
        """Every dial and the name of the first position that shows what it shows here."""
        return [
            (item, item.place(run)) for item, run in zip(self.dials, self.runs(place), strict=True)
        ]

    def words(self, place: int) -> str:
        """Where the switches are: ``K1 down, K4 up``."""
        return ", ".join(f"{item.switch.name} {name}" for item, name in self.where(place))


class Walk:
    """A path through a graph as steps, begun by powering up somewhere or, with ``armed``, in
    the middle of a flight.

    It keeps the names of the positions that the switches are really at: of several that cannot
    be told apart, the one that a flick reaches first.
    """

    __slots__ = ("armed", "graph", "names", "place", "steps")

    def __init__(self, graph: Graph, place: int, *, armed: bool = False) -> None:
        self.graph = graph
        self.place = place
        self.armed = armed
        self.names = [name for _, name in graph.where(place)]
        modes = tuple(graph.logic.names(graph.modes[place]))
        start = Step("power-up", "", "", self.words(), False, False, (), modes)
        self.steps: list[Step] = [] if armed else [start]

    def go(self, to: int, index: int, move: Move, armed: bool) -> Walk:
        graph = self.graph
        item = graph.dials[index]
        start, end = graph.runs(self.place)[index], graph.runs(to)[index]
        before = self.names[index]
        if move == "flick":
            self.names[index] = item.place(end, start)
        names = graph.logic.names
        self.steps.append(
            Step(
                move,
                item.switch.name,
                before,
                self.names[index],
                self.armed,
                armed,
                tuple(names(graph.modes[self.place])),
                tuple(names(graph.modes[to])),
                "flick" if not item.switch.momentary else "hold" if end else "let go",
            )
        )
        self.place, self.armed = to, armed
        return self

    def words(self, without: int | None = None) -> str:
        """Where the switches are, leaving out one dial: ``K1 down, K4 up``."""
        return ", ".join(
            f"{item.switch.name} {name}"
            for index, (item, name) in enumerate(zip(self.graph.dials, self.names, strict=True))
            if index != without
        )


class Arming(NamedTuple):
    """What the arming rules make of a graph.

    ``armed`` holds every place that can be reached armed, with how: the place before (armed
    or not), the dial moved, the move, and whether it was armed before.
    """

    graph: Graph
    arm: int
    permit: int
    armed: dict[int, tuple[int, int, Move, bool]]

    def arms(self, place: int, to: int) -> bool:
        """Whether going from a disarmed place to another one arms."""
        modes = self.graph.modes
        return (
            not modes[place] & self.arm
            and bool(modes[to] & self.arm)
            and modes[to] & self.permit == self.permit
        )

    def walk(self, place: int) -> Walk:
        """A shortest way from power-up to being armed at a place."""
        way: list[tuple[int, int, Move]] = []
        armed = True
        while armed:
            before, index, move, armed = self.armed[place]
            way.append((place, index, move))
            place = before
        walk = Walk(self.graph, place)
        for to, index, move in reversed(way):
            walk.go(to, index, move, True)
        return walk


def arming(graph: Graph, *, permit: bool, surely: bool = False) -> Arming:
    """Which places can be reached armed.

    ``permit``: whether arming needs arm-permit on.  ``surely``: only by notches between places
    where no switch chatters, which a pilot can rely on.
    """
    logic = graph.logic
    found = Arming(graph, logic.bit("arm"), logic.bit("arm-permit") if permit else 0, {})
    modes, arm = graph.modes, found.arm
    if not arm:
        return found
    moves = graph.sure_moves if surely else graph.moves
    queue: list[int] = []
    for place in range(graph.places):
        if not modes[place] & arm or modes[place] & found.permit != found.permit:
            continue
        if surely and not graph.steady(place):
            continue
        # A flick rather than chatter where both would do: the path reads better.
        options = [row for row in moves(place) if not modes[row[0]] & arm]
        if options:
            # Moves go both ways, so the neighbour that has arm off leads here.
            before, index, move = min(options, key=lambda row: row[2] == "chatter")
            found.armed[place] = (before, index, move, False)
            queue.append(place)
    for place in queue:
        for to, index, move in moves(place):
            if modes[to] & arm and to not in found.armed:
                found.armed[to] = (place, index, move, True)
                queue.append(to)
    return found
