"""The path of a switch position: transmitter, link, channel calibration.

A position is sent as a pulse that wanders by its jitter.  The link holds the pulse within its
ends and rounds it to its steps; what arrives is a :class:`Band`.  The craft's channel
calibration then stretches it (:class:`Calibration`), and mode ranges look at the result.
Nothing here walks over microseconds: a band is two ends and a step.
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, floor
from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.facts.links import LINKS, NOMINAL_CENTRE_US, NOMINAL_HIGH_US, NOMINAL_LOW_US
from cfglint.switches.intervals import Intervals, between

if TYPE_CHECKING:
    from cfglint.craft import Craft, SwitchCard
    from cfglint.span import Span
    from cfglint.switches.intervals import Number

Assume = Literal["two", "three", "free"]

#: Pulses that can be meant at all (the bounds of the settings table).
LEAST_US, MOST_US = 0.0, 3000.0
#: Channels 1 to 4 are the sticks, whatever their order: they take any value, and no switch is
#: looked for on them.  Common practice.
STICKS = 4

#: Exact, for calibrations that do not come out even.
_CENTRE = 1500


class Band(NamedTuple):
    """The values, µs, that one position can arrive as.

    ``step`` above 0: the values ``offset + n · step`` from ``low`` to ``high``, both of which
    are such values.  ``step`` 0: every value from ``low`` to ``high``.
    """

    low: float
    high: float
    offset: float = 0.0
    step: float = 0.0

    def hull(self) -> Intervals:
        return between(self.low, self.high)

    def after(self, value: Number, past: int) -> float | None:
        """The band's first value at or (``past`` = 1) after ``value``; None when all are below.

        For a band without steps the answer is ``value`` itself, the lower limit of what follows.
        """
        if value > self.high or (past and value == self.high):
            return None
        if value < self.low:
            return self.low
        if not self.step:
            return float(value)
        tick = floor((float(value) - self.offset) / self.step) - 1
        # The division may be a hair off; values of ticks are exact, so settle it with them.
        while (at := self.offset + tick * self.step) < value or (past and at == value):
            tick += 1
        return at if at <= self.high else None


class Wire(NamedTuple):
    """What the receiver's link lets through.

    ``lowest`` and ``highest`` bound what can arrive at all; ``usual_low``, ``usual_high`` are
    the ends of an ordinary switch.  ``step`` 0: steps unknown, pulses pass as they are.
    ``rounding`` ``nearest``, or ``either`` where the link's way of rounding is unknown: then a
    pulse between two steps may arrive as either.  ``channels``: as many as there may be, None
    where nobody says.  ``on_off``: channels that are only on or off.
    """

    link: str
    title: str
    lowest: float
    highest: float
    usual_low: float
    usual_high: float
    offset: float = 0.0
    step: float = 0.0
    rounding: Literal["nearest", "either"] = "either"
    channels: int | None = None
    on_off: tuple[int, ...] = ()

    def carries(self, channel: int) -> bool:
        """Whether the link has such a channel at all."""
        return self.channels is None or channel <= self.channels

    def carry(self, low: float, high: float, channel: int = 0) -> Band:
        """How the pulses from ``low`` to ``high`` arrive: clipped, then on the link's steps.

        An on/off channel has two values, taken to be the ends of the usual travel; a pulse from
        the centre on is taken for on.  Common practice.
        """
        if channel in self.on_off:
            off, on = self.usual_low, self.usual_high
            start, stop = (on if pulse >= NOMINAL_CENTRE_US else off for pulse in (low, high))
            return Band(start, stop, off, on - off)
        low = min(max(low, self.lowest), self.highest)
        high = min(max(high, self.lowest), self.highest)
        if not self.step:
            return Band(low, high)
        first, last = (low - self.offset) / self.step, (high - self.offset) / self.step
        if self.rounding == "nearest":
            ticks = floor(first + 0.5), floor(last + 0.5)
        else:
            ticks = floor(first), ceil(last)
        # A clipped end that is no step of its own (a card may say so) rounds inward.
        bottom, top = (
            ceil((self.lowest - self.offset) / self.step),
            floor((self.highest - self.offset) / self.step),
        )
        start, stop = (min(max(tick, bottom), top) for tick in ticks)
        return Band(
            self.offset + start * self.step,
            self.offset + stop * self.step,
            self.offset,
            self.step,
        )

    def everything(self) -> Band:
        """Every value that the link can deliver."""
        return self.carry(self.lowest, self.highest)


def wire_of(craft: Craft) -> Wire:
    """The link's facts, narrowed by the card's ``receiver.low_us`` and ``.high_us``.

    The card's link counts before the dump's: it is the receiver that sends.  Without either,
    pulses are taken to pass as they are, and the ends to be nominal.
    """
    link = craft.maybe_card("receiver.link").value or craft.get("receiver.link").value
    row = LINKS.get(link or "")
    lowest, highest = LEAST_US, MOST_US
    usual = NOMINAL_LOW_US, NOMINAL_HIGH_US
    offset = step = 0.0
    rounding: Literal["nearest", "either"] = "either"
    if row is not None:
        lowest = lowest if row.lowest_us is None else row.lowest_us
        highest = highest if row.highest_us is None else row.highest_us
        if row.usual is not None:
            usual = row.usual.low_us, row.usual.high_us
        if row.scaling is not None:
            offset, step = row.scaling.offset_us, row.scaling.step_us
            rounding = row.scaling.rounding or "either"
    low = craft.maybe_card("receiver.low_us").value
    high = craft.maybe_card("receiver.high_us").value
    if low is not None:
        lowest, usual = float(low), (float(low), usual[1])
    if high is not None:
        highest, usual = float(high), (usual[0], float(high))
    if lowest > highest:
        lowest = highest = (lowest + highest) / 2
    return Wire(
        row.id if row is not None else "",
        row.title if row is not None else "",
        lowest,
        highest,
        min(max(usual[0], lowest), highest),
        min(max(usual[1], lowest), highest),
        offset,
        step,
        rounding,
        row.channels.most if row is not None else None,
        row.channels.on_off if row is not None else (),
    )


class Calibration(NamedTuple):
    """The pulses taken for a channel's low end, centre and high end.

    They become 1000, 1500 and 2000 µs; between them, and on beyond the ends, the channel runs
    in straight lines.
    """

    low: float = NOMINAL_LOW_US
    mid: float = NOMINAL_CENTRE_US
    high: float = NOMINAL_HIGH_US

    @property
    def plain(self) -> bool:
        return self == (NOMINAL_LOW_US, NOMINAL_CENTRE_US, NOMINAL_HIGH_US)

    @property
    def possible(self) -> bool:
        return self.low < self.mid < self.high

    def seen(self, arriving: Number) -> Number:
        """What mode ranges see when ``arriving`` comes in, exactly."""
        return arriving if self.plain else _seen(self, arriving)

    def arriving(self, seen: Number) -> Number:
        """The pulse that is seen as ``seen``: the other way round, exactly."""
        return seen if self.plain else _arriving(self, seen)


# The same few pulses are asked for again and again, and fractions are slow.
@lru_cache(maxsize=4096)
def _seen(one: Calibration, arriving: Number) -> Number:
    from fractions import Fraction

    x, mid = Fraction(arriving), Fraction(one.mid)
    end, nominal = (one.low, -500) if x < mid else (one.high, 500)
    return _CENTRE + (x - mid) * nominal / (Fraction(end) - mid)


@lru_cache(maxsize=4096)
def _arriving(one: Calibration, seen: Number) -> Number:
    from fractions import Fraction

    x, mid = Fraction(seen) - _CENTRE, Fraction(one.mid)
    end, nominal = (one.low, -500) if x < 0 else (one.high, 500)
    return mid + x * (Fraction(end) - mid) / nominal


def calibration_of(craft: Craft, channel: int) -> Calibration:
    """A channel's calibration; what the dump does not say is nominal (not calibrated)."""
    ends = [craft.get(f"channel.{channel}.{end}_us").value for end in ("low", "mid", "high")]
    plain = Calibration()
    return Calibration(
        *(given if given is not None else usual for given, usual in zip(ends, plain, strict=True))
    )


class Place(NamedTuple):
    """One position of one switch: what it is called, what is sent, how that arrives."""

    name: str
    sent_us: float
    jitter_us: float
    band: Band
    span: Span | None = None


class Switch(NamedTuple):
    """One channel's switch.

    ``kind``: ``card`` (the hardware card describes it), ``assumed`` (it does not; two or three
    positions over the whole travel are taken), ``free`` (a stick, or a switch about which
    nothing is assumed: any value the link delivers; it has no places).
    """

    name: str
    channel: int
    places: tuple[Place, ...]
    kind: Literal["card", "assumed", "free"]
    momentary: bool = False
    span: Span | None = None


def place_names(positions: tuple[float, ...]) -> tuple[str, ...]:
    """What positions are called when the card gives no names."""
    if len(positions) == 2 and positions[0] != positions[1]:
        low_first = positions[0] < positions[1]
        return ("low", "high") if low_first else ("high", "low")
    if len(positions) == 3:
        if positions[0] < positions[1] < positions[2]:
            return ("low", "middle", "high")
        if positions[0] > positions[1] > positions[2]:
            return ("high", "middle", "low")
    return tuple(f"position {number}" for number in range(1, len(positions) + 1))


def from_card(card: SwitchCard, wire: Wire) -> Switch:
    """A switch of the card, its positions followed through the link."""
    names = card.names if len(card.names) == len(card.positions) else place_names(card.positions)
    spans = card.position_spans
    places = tuple(
        Place(
            name,
            pulse,
            card.jitter_us,
            wire.carry(pulse - card.jitter_us, pulse + card.jitter_us, card.channel),
            spans[index] if index < len(spans) else card.span,
        )
        for index, (name, pulse) in enumerate(zip(names, card.positions, strict=True))
    )
    name = card.name or f"the switch on channel {card.channel}"
    return Switch(name, card.channel, places, "card", card.momentary, card.span)


def assumed(channel: int, wire: Wire, assume: Assume) -> Switch:
    """A switch that no card describes, with the positions that are assumed for it.

    On an on/off channel it has two, whatever is assumed.
    """
    name = f"channel {channel}"
    if channel in wire.on_off:
        assume = "two"
    if assume == "free":
        return Switch(name, channel, (), "free")
    low, high = wire.usual_low, wire.usual_high
    centre = NOMINAL_CENTRE_US if low < NOMINAL_CENTRE_US < high else (low + high) / 2
    pulses = (low, high) if assume == "two" else (low, centre, high)
    names = place_names(pulses)
    places = tuple(
        Place(name, pulse, 0.0, wire.carry(pulse, pulse, channel))
        for name, pulse in zip(names, pulses, strict=True)
    )
    return Switch(name, channel, places, "assumed")


def claims(craft: Craft) -> dict[int, list[SwitchCard]]:
    """The card's switches by channel, only those with any position."""
    found: dict[int, list[SwitchCard]] = {}
    for switch in craft.card.switches if craft.card is not None else ():
        if switch.positions:
            found.setdefault(switch.channel, []).append(switch)
    return found
