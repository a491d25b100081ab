"""The same questions answered the long way, sharing no code with the engine.

Every tick of the link is tried against every position (tick arithmetic: {crsf}, frame 0x16: µs = (t
− 992) · 5/8 + 1500), or every quarter of a microsecond where no link is known; every value against
every range by plain comparison; then every combination of all switches, armed or not, becomes a
node of a networkx graph.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import product
from typing import TYPE_CHECKING, Any, NamedTuple

import networkx as nx

if TYPE_CHECKING:
    from cfglint.craft import Craft, ModeRange, SwitchCard

LOWEST, HIGHEST = 0, 1984  # ticks of the published table


def us(tick: int) -> Fraction:
    return Fraction(tick - 992) * Fraction(5, 8) + 1500


@cache
def ticks_of(position: float, jitter: float) -> list[int]:
    """Every tick that some pulse within the jitter is rounded to, found by trying them all."""
    low, high = Fraction(position) - Fraction(jitter), Fraction(position) + Fraction(jitter)
    low, high = (min(max(end, us(LOWEST)), us(HIGHEST)) for end in (low, high))
    half = Fraction(5, 16)
    return [
        tick
        for tick in range(LOWEST, HIGHEST + 1)
        # Halves go upward: a tick takes [its µs − half a step, its µs + half a step).
        if us(tick) - half <= high and low < us(tick) + half
    ]


def values_of(craft: Craft, switch: SwitchCard, position: float) -> list[Fraction]:
    if craft.get("receiver.link").value == "crsf":
        return [us(tick) for tick in ticks_of(position, switch.jitter_us)]
    # Whole quarters: positions, jitters and edges of these tests all lie on them; eighths in
    # between stand for the open stretches.
    low, high = (Fraction(position) + sign * Fraction(switch.jitter_us) for sign in (-1, 1))
    count = int((high - low) * 8)
    return [low + Fraction(number, 8) for number in range(count + 1)]


def calibrated(craft: Craft, channel: int, value: Fraction) -> Fraction:
    low, mid, high = (
        Fraction(craft.get(f"channel.{channel}.{end}_us").value or nominal)
        for end, nominal in (("low", 1000), ("mid", 1500), ("high", 2000))
    )
    if value < mid:
        return 1500 - 500 * (mid - value) / (mid - low)
    return 1500 + 500 * (value - mid) / (high - mid)


def inside(craft: Craft, row: ModeRange, value: Fraction) -> bool:
    if craft.traits.range_ends == "closed":
        return Fraction(row.low_us) <= value <= Fraction(row.high_us)
    return Fraction(row.low_us) <= value < Fraction(row.high_us)


def modes_on(craft: Craft, held: set[int]) -> frozenset[str]:
    """The modes on, given the ranges (by number) that hold; links by repeating until still."""
    on: set[str] = set()
    while True:
        before = set(on)
        names = {row.mode for row in craft.mode_ranges} | {row.mode for row in craft.mode_links}
        for mode in names:
            every: list[bool] = []
            some: list[bool] = []
            for number, row in enumerate(craft.mode_ranges):
                if row.mode == mode:
                    (every if row.join == "all" else some).append(number in held)
            for link in craft.mode_links:
                if link.mode == mode:
                    (every if link.join == "all" else some).append(link.follows in before)
            if any(some) or (every and all(every)):
                on.add(mode)
        if on == before:
            return frozenset(on)


class Spot(NamedTuple):
    """One switch at one position, showing one set of ranges."""

    position: int
    held: frozenset[int]


Node = tuple[tuple[Spot, ...], bool]


class Brute:
    """All states of a craft whose every channel has a card switch.

    ``only``: look at these modes alone, and what they follow; what other modes do (chatter, say)
    is then no matter.
    """

    def __init__(self, craft: Craft, only: set[str] | None = None) -> None:
        if only is not None:
            wanted = set(only)
            while led := {row.follows for row in craft.mode_links if row.mode in wanted} - wanted:
                wanted |= led
            craft = craft.changed(
                mode_ranges=tuple(row for row in craft.mode_ranges if row.mode in wanted),
                mode_links=tuple(row for row in craft.mode_links if row.mode in wanted),
            )
        self.craft = craft
        assert craft.card is not None
        self.switches = craft.card.switches
        self.spots = [self._spots(switch) for switch in self.switches]
        self.combos = list(product(*self.spots))
        self._modes = {
            combo: modes_on(craft, set().union(*(spot.held for spot in combo)))
            for combo in self.combos
        }
        needs = craft.traits.arm_needs_permit and any(
            row.mode == "arm-permit"
            for row in (*craft.mode_ranges, *craft.mode_links)  # type: ignore[attr-defined]
        )
        self.permit = bool(needs)
        self.graph = self._graph()

    def _spots(self, switch: SwitchCard) -> list[Spot]:
        found: list[Spot] = []
        for index, position in enumerate(switch.positions):
            for value in values_of(self.craft, switch, position):
                seen = calibrated(self.craft, switch.channel, value)
                held = frozenset(
                    self._first_alike(row, number)
                    for number, row in enumerate(self.craft.mode_ranges)
                    if row.channel == switch.channel and inside(self.craft, row, seen)
                )
                found.append(Spot(index, held))
        return list(dict.fromkeys(found))

    def _first_alike(self, row: ModeRange, number: int) -> int:
        """Of ranges that do as well as each other (one mode, one channel, any), the first."""
        if row.join == "all":
            return number
        return next(
            at
            for at, other in enumerate(self.craft.mode_ranges)
            if (other.mode, other.channel, other.join) == (row.mode, row.channel, "any")
        )

    def on(self, combo: tuple[Spot, ...], mode: str) -> bool:
        return mode in self._modes[combo]

    def _steps(self, combo: tuple[Spot, ...]) -> Any:
        for index, spots in enumerate(self.spots):
            for spot in spots:
                if spot != combo[index]:
                    kind = "chatter" if spot.position == combo[index].position else "flick"
                    yield (*combo[:index], spot, *combo[index + 1 :]), index, kind

    def arms(self, one: tuple[Spot, ...], two: tuple[Spot, ...]) -> bool:
        return (
            not self.on(one, "arm")
            and self.on(two, "arm")
            and (not self.permit or self.on(two, "arm-permit"))
        )

    def _graph(self) -> Any:
        graph = nx.DiGraph()
        graph.add_node("power")
        for combo in self.combos:
            graph.add_edge("power", (combo, False))
            for other, index, kind in self._steps(combo):
                to = (other, self.arms(combo, other))
                graph.add_edge((combo, False), to, switch=index, kind=kind)
                stays = (other, self.on(other, "arm"))
                if self.on(combo, "arm"):
                    graph.add_edge((combo, True), stays, switch=index, kind=kind)
        return graph

    def armed(self) -> list[Node]:
        reached = nx.descendants(self.graph, "power")
        return [node for node in reached if node[1]]

    def flying(self) -> list[Node]:
        return [
            node
            for node in self.armed()
            if not self.on(node[0], "self-right") and not self.on(node[0], "lost-link")
        ]

    def flick_stops_motors(self, spared: set[int]) -> set[str]:
        """Names of switches (channels in ``spared`` left out) of which a flick stops motors."""
        stop = self.craft.get("failsafe.action").value == "stop"
        found = set()
        for node in self.flying():
            for to in self.graph.successors(node):
                edge = self.graph.edges[node, to]
                switch = self.switches[edge["switch"]]
                if edge["kind"] != "flick" or switch.channel in spared:
                    continue
                if not to[1] or (stop and self.on(to[0], "lost-link")):
                    found.add(switch.name)
        return found

    def flick_enters_self_right(self) -> set[str]:
        found = set()
        for node in self.flying():
            for to in self.graph.successors(node):
                edge = self.graph.edges[node, to]
                switch = self.switches[edge["switch"]]
                others = {
                    row.mode for row in self.craft.mode_ranges if row.channel == switch.channel
                } - {"self-right", "beacon", "arm-permit"}
                if edge["kind"] == "flick" and others and to[1] and self.on(to[0], "self-right"):
                    found.add(switch.name)
        return found

    def arms_by_itself(self) -> set[str]:
        found = set()
        for combo in self.combos:
            for other, index, kind in self._steps(combo):
                if kind == "chatter" and self.arms(combo, other):
                    found.add(self.switches[index].name)
        return found

    def chattering(self) -> set[str]:
        """``switch position`` of every position that turns any mode on or off by jitter."""
        found = set()
        for combo in self.combos:
            for other, index, kind in self._steps(combo):
                if kind == "chatter" and self._modes[combo] != self._modes[other]:
                    found.add(f"{index} {combo[index].position}")
        return found

    # ------------------------------------------------------------ the way back into the air

    def _steady(self, index: int, position: int) -> bool:
        return sum(spot.position == position for spot in self.spots[index]) == 1

    def notches(self, combo: tuple[Spot, ...]) -> Any:
        """The next steady position either way, one switch at a time."""
        for index, spots in enumerate(self.spots):
            here = combo[index].position
            for way in (-1, 1):
                position = here + way
                while 0 <= position < len(self.switches[index].positions):
                    if self._steady(index, position):
                        (spot,) = (one for one in spots if one.position == position)
                        yield (*combo[:index], spot, *combo[index + 1 :])
                        break
                    position += way

    def recovery(self) -> int | str:
        """How many notches the shortest recovery takes; else ``no flying`` or ``stuck``."""
        steady = [
            combo
            for combo in self.combos
            if all(self._steady(index, spot.position) for index, spot in enumerate(combo))
        ]
        sure = nx.DiGraph()
        for combo in steady:
            for other in self.notches(combo):
                sure.add_edge((combo, False), (other, self.arms(combo, other)))
                if self.on(combo, "arm"):
                    sure.add_edge((combo, True), (other, self.on(other, "arm")))
        sure.add_nodes_from((combo, False) for combo in steady)
        starts = {combo for combo in steady if (combo, True) in sure}
        power = [(combo, False) for combo in steady]
        sure.add_edges_from(("power", node) for node in power)
        sure.add_node("power")
        reached = nx.descendants(sure, "power")
        starts = {
            combo
            for combo in starts
            if (combo, True) in reached
            and not self.on(combo, "self-right")
            and not self.on(combo, "lost-link")
        }
        if not starts:
            return "no flying"
        way = nx.DiGraph()
        for combo in steady:
            for other in self.notches(combo):
                arms, stays = self.arms(combo, other), self.on(other, "arm")
                right = self.on(other, "self-right")
                plain = not right and not self.on(other, "lost-link")
                if combo in starts and (not stays or plain):
                    way.add_edge((0, combo), (0 if stays else 1, other))
                if not arms:
                    way.add_edge((1, combo), (1, other))
                    way.add_edge((3, combo), (3, other))
                if arms and right:
                    way.add_edge((1, combo), (2, other))
                if arms and plain:
                    way.add_edge((3, combo), "end")
                if self.on(combo, "arm") and self.on(combo, "self-right"):
                    if not stays:
                        way.add_edge((2, combo), (3, other))
                    elif right:
                        way.add_edge((2, combo), (2, other))
        way.add_node("end")
        lengths = nx.single_source_shortest_path_length(way.reverse(copy=False), "end")
        if any((0, combo) not in lengths for combo in starts):
            return "stuck"
        return min(lengths[0, combo] for combo in starts)

    # ------------------------------------------------------------ lost link

    def lost_link(self) -> set[str]:
        """``arms``, ``self-right``, ``stays-armed``: what can go wrong; every channel is set."""
        found = set()
        action = self.craft.get("failsafe.action").value
        for combo in self.combos:
            after = self._after(combo)
            ready = "arm" in after and (not self.permit or "arm-permit" in after)
            if not self.on(combo, "arm") and ready:
                found.add("arms")
        for combo, _ in self.armed():
            after = self._after(combo)
            if "arm" in after:
                if action in ("none", "hold-last"):
                    found.add("stays-armed")
                if "self-right" in after and not self.on(combo, "self-right"):
                    found.add("self-right")
        return found

    def _after(self, combo: tuple[Spot, ...]) -> frozenset[str]:
        held: set[int] = set()
        for switch, spot in zip(self.switches, combo, strict=True):
            put = self.craft.get(f"failsafe.channel.{switch.channel}").value
            if put == "hold":
                held |= spot.held
            elif put != "drop":
                held |= {
                    number
                    for number, row in enumerate(self.craft.mode_ranges)
                    if row.channel == switch.channel and inside(self.craft, row, Fraction(put))
                }
        return modes_on(self.craft, held)
