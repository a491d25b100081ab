"""For rules about channels and modes: what a channel can bring, and when a mode is on.

A mode's condition is a list of *boxes*: in each, some channels are bound to a set of values, and
the mode is on where any box holds.  Boxes make every question that rules ask ("can both be on",
"is one on wherever the other is", "can it be switched off") one of exact set arithmetic.

What a channel can bring is, from the surest source down: the positions of the card's switch on
it, the card's ends of the receiver, the usual travel of the link.  Where no source says, or where
the firmware's range ends are unknown, a question is put under each assumption; only an answer
that is the same under all of them counts (:func:`decide`).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeVar

from cfglint.craft import Missing, unwatched
from cfglint.facts.links import LINKS, NOMINAL_HIGH_US, NOMINAL_LOW_US
from cfglint.rule import Related
from cfglint.switches.intervals import Intervals, between, union
from cfglint.switches.positions import calibration_of, claims, from_card, wire_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from cfglint.craft import Craft, ModeRange, Value
    from cfglint.facts.links import Channels, Link
    from cfglint.switches.intervals import Number
    from cfglint.switches.positions import Calibration, Switch

    Answer = TypeVar("Answer")
    Ends = Literal["half-open", "closed"]
    Box = dict[int, Intervals]

#: Any value at all, and the least that an unknown link is taken to bring: no link's usual travel
#: is narrower (SUMD, DSM and SRXL2 come close).
ANYTHING = between(0, 3000)
LEAST = between(1102, 1898)
#: Channels that are only on or off with some link: of these not even that comes for sure.
_SOMETIMES_ON_OFF = {channel for row in LINKS.values() for channel in row.channels.on_off}
#: More boxes than this for one mode are not worked out.
MOST_BOXES = 2000


# ---------------------------------------------------------------- what a channel can bring


class Travel(NamedTuple):
    """The ends, µs, of what arrives on a channel before calibration; None where unknown.

    ``lowest`` and ``highest`` bound what can come at all, ``usual_low`` and ``usual_high`` what
    does with ordinary settings.  ``channels``: how many the link carries, None where the link is
    not known.  ``said`` names the source for a message, ``value`` is where it was said.
    """

    lowest: float | None
    highest: float | None
    usual_low: float | None
    usual_high: float | None
    channels: Channels | None
    said: str
    value: Value


def link_of(craft: Craft) -> tuple[Link | None, Value]:
    """The receiver's link; the card, being about the receiver itself, counts before the dump."""
    value = craft.maybe_card("receiver.link")
    if not value.known:
        value = craft.get("receiver.link")
    return (LINKS[value.value] if value.known else None), value


@lru_cache(maxsize=2)
def travel_of(craft: Craft) -> Travel:
    """What arrives from this craft's receiver: the card's ends of it, else the link's."""
    row, value = link_of(craft)
    low, high = craft.maybe_card("receiver.low_us"), craft.maybe_card("receiver.high_us")
    usual = row.usual if row is not None else None
    said = row.title if row is not None else "the link"
    if low.known or high.known:
        said, value = "the card's receiver", low if low.known else high
    return Travel(
        low.value if low.known else row.lowest_us if row is not None else None,
        high.value if high.known else row.highest_us if row is not None else None,
        low.value if low.known else usual.low_us if usual is not None else None,
        high.value if high.known else usual.high_us if usual is not None else None,
        row.channels if row is not None else None,
        said,
        value,
    )


def throttle_of(craft: Craft) -> int | None:
    """Which channel, from 1, carries the throttle: the dump's order, else the card's, else None."""
    order = craft.get("receiver.channel_order")
    if not order.known:
        order = craft.maybe_card("transmitter.channel_order")
    place = str(order.value).upper().find("T") if order.known else -1
    return place + 1 if place >= 0 else None


def channels_behind(craft: Craft, *modes: str) -> set[int]:
    """The channels that switch any of the modes, or a mode that one of them goes along with."""
    found = {*modes}
    while more := {row.follows for row in craft.mode_links if row.mode in found} - found:
        found |= more
    return {row.channel for row in craft.mode_ranges if row.mode in found}


def us(number: Number) -> str:
    """A pulse in µs as text, never rounded past what a reader can check: 2011.875 as 2011.88."""
    return f"{float(number):.2f}".rstrip("0").rstrip(".")


def beside(value: Value, message: str) -> tuple[Related, ...]:
    """The place of a value as a related one, if it stands anywhere."""
    return (Related(value.span, message),) if value.span is not None else ()


class View:
    """One set of assumptions: which ends belong to a range, and what an unknown channel brings.

    ``told`` holds, seen after calibration, the channels about which something is known;
    ``other`` stands for the rest.
    """

    __slots__ = ("_on", "craft", "ends", "other", "told")

    def __init__(
        self, craft: Craft, ends: Ends, told: dict[int, Intervals], other: Intervals
    ) -> None:
        self.craft = craft
        self.ends: Ends = ends
        self.told = told
        self.other = other
        self._on: dict[str, list[Box]] = {}

    def reach(self, channel: int) -> Intervals:
        if channel in self.told:
            return self.told[channel]
        return Intervals() if channel in _SOMETIMES_ON_OFF and self.other == LEAST else self.other

    def of(self, row: ModeRange) -> Intervals:
        """The values, as seen, that a range holds."""
        return between(row.low_us, row.high_us, self.ends)

    def on(self, mode: str) -> list[Box]:
        """Where a mode is on, of all that can come; no box where it never is."""
        if mode not in self._on:
            self._on[mode] = boxes_of(self, mode)
        return self._on[mode]


def decide(craft: Craft, question: Callable[[View], Answer]) -> Answer:
    """The answer to a question about ranges that holds whatever is not known.

    That a set of values is empty, or part of another, holds for all smaller travels when it
    holds for the greatest; so trying the most and the least that an unknown channel may bring
    is enough.  Raises Missing, naming the fact, when the answer depends on it.
    """
    answers = [(view, question(view)) for view in views(craft)]
    first, answer = answers[0]
    for view, other in answers:
        if other != answer:
            if view.other != first.other:
                raise Missing("receiver.link", "dump", "how far its channels travel decides this")
            raise Missing("traits.range_ends", "dialect")
    return answer


@lru_cache(maxsize=2)
def views(craft: Craft) -> tuple[View, ...]:
    """Every set of assumptions that what is known leaves open; one when all is known."""
    told, blank = _told(craft)
    known = craft.traits.range_ends
    every: tuple[Ends, ...] = ("half-open", "closed") if known is None else (known,)
    others = (LEAST, ANYTHING) if blank else (LEAST,)
    return tuple(View(craft, ends, told, other) for ends in every for other in others)


def _told(craft: Craft) -> tuple[dict[int, Intervals], bool]:
    """What each channel with a range on it brings, and whether that is unknown for any."""
    travel, switches = travel_of(craft), switches_of(craft)
    told: dict[int, Intervals] = {}
    blank = False
    for channel in {row.channel for row in unwatched(craft.mode_ranges)}:
        brings = _brings(craft, channel, travel, switches.get(channel, ()))
        if brings is None:
            blank = True
        else:
            told[channel] = brings
    return told, blank


def _brings(
    craft: Craft, channel: int, travel: Travel, switches: Sequence[Switch]
) -> Intervals | None:
    """What arrives on a channel, as seen after calibration; None when nothing is known."""
    if travel.channels is not None and not travel.channels.may_carry(channel):
        return Intervals()
    calibration = calibration_of(craft, channel)
    if switches:
        bands = (place.band.hull() for switch in switches for place in switch.places)
        return seen(calibration, union(bands))
    usual = usually(travel, channel)
    return None if usual is None else seen(calibration, usual)


def usually(travel: Travel, channel: int) -> Intervals | None:
    """What arrives on a channel with ordinary settings; None when nothing is known."""
    low, high = travel.usual_low, travel.usual_high
    if low is None or high is None:
        return None
    return (
        union((between(low, low), between(high, high)))
        if on_off(travel, channel)
        else (between(low, high))
    )


def on_off(travel: Travel, channel: int) -> bool:
    """Whether a channel is only on or off."""
    return travel.channels is not None and channel in travel.channels.on_off


@lru_cache(maxsize=2)
def switches_of(craft: Craft) -> dict[int, list[Switch]]:
    """The card's switches by channel, their positions followed through the link."""
    wire = wire_of(craft)
    return {
        channel: [from_card(card, wire) for card in cards]
        for channel, cards in claims(craft).items()
    }


def comes(craft: Craft, channel: int) -> Intervals:
    """All that can arrive on a channel by the widest settings, as seen after calibration.

    What a controller takes for on and off is not published, but neither lies between the nominal
    ends.
    """
    travel = travel_of(craft)
    lowest = ANYTHING.low if travel.lowest is None else travel.lowest
    highest = ANYTHING.high if travel.highest is None else travel.highest
    all_of_it = between(lowest, highest)
    if on_off(travel, channel):
        low, high = max(lowest, NOMINAL_LOW_US), min(highest, NOMINAL_HIGH_US)
        all_of_it = union((between(lowest, low), between(high, highest)))
    return seen(calibration_of(craft, channel), all_of_it)


def seen(calibration: Calibration, values: Intervals) -> Intervals:
    """Arriving values as mode ranges see them.

    A calibration that is impossible (its ends out of order) is passed over: another rule says so.
    """
    if calibration.plain or not calibration.possible:
        return values
    return values.mapped(calibration.seen)


# ---------------------------------------------------------------- when a mode is on


def boxes_of(view: View, mode: str) -> list[Box]:
    """Where a mode is on, worked out (:meth:`View.on` keeps it).

    A mode is on where all its ``all`` ranges and links hold, or any of its ``any`` ones does.
    Modes that follow each other in a ring do not switch themselves on.
    Raises Missing when there are too many to be worked out.
    """
    links = view.craft.mode_links
    wanted = [mode]
    for each in wanted:
        wanted += {row.follows for row in links if row.mode == each} - {*wanted}
    # Start with nothing on, and add what that switches on until nothing is added: with links
    # this comes to an end, as boxes are only ever made of the ranges there are.
    found: dict[str, list[Box]] = {each: [] for each in wanted}
    while True:
        following = {each: _one_step(view, each, found) for each in wanted}
        if all(len(following[each]) == len(found[each]) for each in wanted):
            return following[mode]
        found = following


def _one_step(view: View, mode: str, found: dict[str, list[Box]]) -> list[Box]:
    parts: list[tuple[str, list[Box]]] = []
    for row in view.craft.ranges_of(mode):
        inside = view.of(row) & view.reach(row.channel)
        parts.append((row.join, [{row.channel: inside}] if inside else []))
    parts += [(row.join, found[row.follows]) for row in view.craft.mode_links if row.mode == mode]
    boxes = [box for join, part in parts if join == "any" for box in part]
    every = [part for join, part in parts if join == "all"]
    if every:
        joined = every[0]
        for part in every[1:]:
            joined = _both(joined, part)
        boxes += joined
    distinct = {frozenset(box.items()): box for box in boxes}
    if len(distinct) > MOST_BOXES:
        raise _too_many()
    return list(distinct.values())


def _too_many() -> Missing:
    return Missing("mode ranges", "dump", "too many, joined in too many ways, to be worked out")


def both(one: Box, two: Box) -> Box | None:
    """Where two boxes hold at once; None where they never do."""
    met = dict(one)
    for channel, inside in two.items():
        common = met[channel] & inside if channel in met else inside
        if not common:
            return None
        met[channel] = common
    return met


def _both(one: list[Box], two: list[Box]) -> list[Box]:
    if len(one) * len(two) > MOST_BOXES:
        raise _too_many()
    return [met for a in one for b in two if (met := both(a, b)) is not None]


def meet(one: list[Box], two: list[Box]) -> bool:
    """Whether both conditions can hold at once."""
    return any(both(a, b) is not None for a in one for b in two)


def within(one: list[Box], two: list[Box], view: View) -> bool:
    """Whether the second condition holds wherever the first one does."""
    return not any(_rest(box, two, view) for box in one)


def always(boxes: list[Box], view: View) -> bool:
    """Whether the condition holds whatever comes."""
    return within([{}], boxes, view)


def _rest(box: Box, cuts: list[Box], view: View) -> list[Box]:
    """What of a box lies in none of ``cuts``, in pieces."""
    left = [box]
    for cut in cuts:
        left = [piece for part in left for piece in _minus(part, cut, view)]
    return left


def _minus(box: Box, cut: Box, view: View) -> list[Box]:
    if both(box, cut) is None:
        return [box]
    pieces: list[Box] = []
    inside = dict(box)
    for channel, values in cut.items():
        have = inside.get(channel, view.reach(channel))
        outside = have - values
        if outside:
            pieces.append({**inside, channel: outside})
        inside[channel] = have & values
    return pieces


def bound(box: Box, view: View) -> frozenset[int]:
    """The channels that a box really depends on: not those of which it takes all that comes."""
    return frozenset(
        channel for channel, values in box.items() if not view.reach(channel) <= values
    )
