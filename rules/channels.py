"""Channels: from the stick's travel over the link to what the craft takes it for.

First whether the numbers are in order at all, then whether the calibrated ends fit what comes in,
then whether the sticks reach the thresholds by which they count as low or high, and last whether
they rest where the craft thinks they do.

Channels 1 to 4 carry the sticks.  Their travel is the card's (`transmitter.low_us`, `.high_us`)
or, failing that, what the link ordinarily sends.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.links import NOMINAL_CENTRE_US
from cfglint.rule import Finding, Option, Put, Related, bad, good, not_for, rule, unknown
from cfglint.switches.positions import STICKS, calibration_of, wire_of

from ._reach import beside, throttle_of, travel_of, us

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options
    from cfglint.span import Span
    from cfglint.switches.intervals import Number

_STICKS = range(1, STICKS + 1)


# ---------------------------------------------------------------- numbers in order


@rule(
    "channels/ends-out-of-order",
    grade="fix",
    title="Low, middle and high in the wrong order",
    why="""
    A channel is stretched from its low end over the middle to its high end.  Out of order, it runs
    backwards or jumps; the same goes for the points at which a stick counts as low, at rest, high.
    On a stick's channel that is no matter of comfort: a throttle that runs backwards is open when
    it is closed, and a craft that is steered backwards turns over.
    """,
    source="by arithmetic",
    examples=(
        good("channel 1 spans 1000 1500 2000"),
        good(
            """
            let stick-low be 1072
            let stick-rest be 1496
            let stick-high be 1928
            """
        ),
        bad(
            """
            channel 1 spans 1000 1500 2000
            channel 3 spans 2000 1500 1000
                                      ^^^^ channel 3 2000 1500 1000 backwards stick
            """
        ),
        bad(
            """
            channel 6 spans 2010 1490 1005
                                      ^^^^ channel 6 2010 1490 1005 backwards
            """
        ),
        bad(
            """
            channel 2 spans 1000 2010 2000
                                 ^^^^ channel 2 2010 2000
            """
        ),
        bad(
            """
            let stick-low be 1935
            let stick-rest be 1510
            let stick-high be 1085
                              ^^^^ 1935 1510 1085
            """
        ),
        unknown(
            """
            let stick-low be 1064
            let stick-high be 1941
            """,
            missing="stick.centre_us",
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def ends_out_of_order(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Low < middle < high, for every channel that is calibrated and for the sticks' thresholds."""
    threes = [
        (
            f"channel {number}" + (", which carries a stick," if number in _STICKS else ""),
            _three(craft, f"channel.{number}", ("low_us", "mid_us", "high_us")),
            number in _STICKS,
        )
        for number in craft.numbered("channel")
    ]
    threes.append(("a stick", _three(craft, "stick", ("low_us", "centre_us", "high_us")), False))
    threes = [row for row in threes if any(value.known for value in row[1])]
    if not threes:
        raise NotForThisCraft("neither channels nor sticks have ends set")
    for what, values, steers in threes:
        yield from (Missing(value.name, "dump") for value in values if not value.known)
        known = [value for value in values if value.known]
        if all(a.value < b.value for a, b in pairwise(known)):
            continue
        numbers = ", ".join(f"{value.value:g}" for value in known)
        backwards = all(a.value > b.value for a, b in pairwise(known))
        yield Finding(
            craft.place(_culprit(known)),
            f"{what} has its ends at {numbers} µs, which do not rise: it "
            + ("runs backwards" if backwards else "jumps where it should glide"),
            "write them in rising order; to turn a channel round, reverse it in the transmitter",
            grade="ground" if steers else None,
            edits=() if backwards else _risen(craft, known),
        )


def _risen(craft: Craft, known: list[Value]) -> tuple[Put, ...]:
    """The one end that is out of order as most channels have it, if the three then rise."""
    wrong = _culprit(known)
    kind, _, end = wrong.name.rpartition(".")
    others = [craft.get(f"channel.{number}.{end}") for number in craft.numbered("channel")]
    usual = Counter(one.value for one in others if one.known and one is not wrong).most_common(1)
    if not kind.startswith("channel.") or not usual or usual[0][1] * 2 < len(others):
        return ()
    new = [usual[0][0] if value is wrong else value.value for value in known]
    rising = all(low < high for low, high in pairwise(new))
    return (Put(wrong.name, usual[0][0]),) if rising else ()


def _three(craft: Craft, prefix: str, ends: tuple[str, ...]) -> list[Value]:
    return [craft.get(f"{prefix}.{end}") for end in ends]


def _culprit(known: list[Value]) -> Value:
    """The value to point at: one that somebody wrote and without which the others would rise."""
    for value in known:
        rest = [other.value for other in known if other is not value]
        if value.span is not None and rest == sorted(set(rest)):
            return value
    return next((value for value in reversed(known) if value.span is not None), known[-1])


def _put_centre(craft: Craft, numbers: list[int], pulse: float) -> tuple[Put, ...]:
    """The middle of the channels, or of all sticks, at what a stick let go sends; nothing where
    that lies near an end.
    """
    if abs(pulse - NOMINAL_CENTRE_US) > 2 * _LEAST_HALF_US:
        return ()
    middles = [craft.get(f"channel.{number}.mid_us") for number in numbers]
    wrong = [one for one in middles if one.known and abs(one.value - pulse) > _SAME_US]
    if wrong:
        return tuple(Put(one.name, pulse, pulse - _SAME_US, pulse + _SAME_US) for one in wrong)
    comes = float(_seen(craft, numbers[0], pulse))
    return (Put("stick.centre_us", comes, comes - _SAME_US, comes + _SAME_US),)


#: Half a channel's way, at the least: what does not leave that is no end (common practice).
_LEAST_HALF_US = 100
#: Pulses that are the same, as near as they are measured (common practice).
_SAME_US = 2


# ---------------------------------------------------------------- calibrated ends and travel


class Reach(NamedTuple):
    """How far a channel's pulses go, µs, in words too; ``beside`` is where that is said."""

    low: float
    high: float
    said: str
    beside: tuple[Related, ...]


@rule(
    "channels/end-out-of-reach",
    grade="fix",
    title="A calibrated end that never arrives",
    why="""
    A channel whose calibrated end lies beyond what the stick and the link can send never comes to
    that end: throttle does not close, or full deflection is never had.  Links differ: what is full
    travel on one is 1102 to 1898 µs on another.
    """,
    source="travel of the link: {interfacing}, {crsf-wiki}, other links common practice; "
    "allowance: 3 % of a nominal travel of 1000 µs",
    options=(Option("slack_us", 30.0, "how far an end may be missed (µs)", least=0, most=500),),
    examples=(
        good(
            """
            let receiver-link be sbus
            channel 3 spans 1000 1500 2000
            """
        ),
        bad(
            """
            let receiver-link be dsm
            channel 3 spans 1000 1500 1890
                            ^^^^ channel 3 1000 1102
            """
        ),
        bad(
            """
            let receiver-link be sbus
            channel 1 spans 1000 1500 2000
                                      ^^^^ channel 1 2000 1907 transmitter
            """,
            card="""
            [transmitter]
            low_us = 1000
            high_us = 1907
            """,
        ),
        bad(
            """
            let receiver-link be crsf
            channel 6 spans 800 1500 2000
                            ^^^ channel 6 800 880
            """
        ),
        good(
            """
            let receiver-link be dsm
            channel 3 spans 1000 1500 1890
            """,
            options={"slack_us": 110.0},
        ),
        unknown("channel 3 spans 1000 1500 2000", missing="receiver.link"),
        not_for("let receiver-link be sbus"),
    ),
)
def end_out_of_reach(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Each calibrated end lies within what can come on the channel, or just beyond."""
    slack = options.slack_us
    rows: list[tuple[Value, int, str, Reach]] = []
    for number, low, high, reach in _calibrated(craft):
        if isinstance(reach, Missing):
            yield reach
            continue
        if low.value < reach.low - slack:
            rows.append((low, number, f"the lowest that comes is {us(reach.low)} µs", reach))
        if high.value > reach.high + slack:
            rows.append((high, number, f"the highest that comes is {us(reach.high)} µs", reach))
    for value, numbers, what, reach in _merged(rows):
        end = value.name.rpartition(".")[2].removesuffix("_us")
        yield Finding(
            craft.place(value),
            f"{_channels(numbers)} has its {end} end at {value}, but {what} ({reach.said}): that "
            "end is never reached",
            f"set that end to {us(getattr(reach, end))} µs, or widen the transmitter's travel",
            reach.beside,
            edits=_put_end(craft, numbers, end, getattr(reach, end), min(slack, 20)),
        )


def _put_end(
    craft: Craft, numbers: list[int], end: str, pulse: float, slack: float
) -> tuple[Put, ...]:
    """The end of channels at what comes, or about that; nothing where that is no end at all."""
    pulse = float(pulse)
    for number in numbers:
        middle = craft.get(f"channel.{number}.mid_us").value or NOMINAL_CENTRE_US
        if (middle - pulse if end == "low" else pulse - middle) < _LEAST_HALF_US:
            return ()
    return tuple(
        Put(f"channel.{number}.{end}_us", pulse, pulse - slack, pulse + slack) for number in numbers
    )


@rule(
    "channels/travel-cut-off",
    grade="advise",
    title="Stick travel beyond the calibrated end",
    why="""
    What the stick sends beyond a calibrated end is cut off: the last part of its way does nothing,
    and the rest is the more sensitive for it.
    """,
    source="travel of the link: {interfacing}, {crsf-wiki}, other links common practice; "
    "allowance: 7 % of the 500 µs from the centre to an end",
    options=(
        Option("slack_us", 35.0, "how much travel may be lost at an end (µs)", least=0, most=500),
    ),
    examples=(
        good(
            """
            let receiver-link be sbus
            channel 3 spans 1000 1500 2000
            """
        ),
        bad(
            """
            let receiver-link be sbus
            channel 3 spans 1093 1500 2000
                            ^^^^ channel 3 1093 987.5 105.5
            """
        ),
        bad(
            """
            let receiver-link be sbus
            channel 1 spans 1000 1500 1907
                                      ^^^^ channel 1 1907 2000 93
            """,
            card="""
            [transmitter]
            low_us = 1000
            high_us = 2000
            """,
        ),
        unknown("channel 3 spans 1000 1500 2000", missing="receiver.link"),
        not_for("let receiver-link be sbus"),
        not_for(
            """
            let receiver-link be sbus
            channel 6 spans 1093 1500 1907
            """
        ),
    ),
)
def travel_cut_off(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No stick sends more than ``slack_us`` beyond its channel's calibrated ends."""
    slack = options.slack_us
    rows: list[tuple[Value, int, str, Reach]] = []
    sticks = [row for row in _calibrated(craft) if row[0] in _STICKS]
    if not sticks:
        raise NotForThisCraft("no stick's channel has ends set")
    for number, low, high, reach in sticks:
        if isinstance(reach, Missing):
            yield reach
            continue
        if low.value > reach.low + slack:
            lost = f"comes down to {us(reach.low)} µs", low.value - reach.low
            rows.append((low, number, f"{lost[0]}, so {us(lost[1])} µs", reach))
        if high.value < reach.high - slack:
            lost = f"comes up to {us(reach.high)} µs", reach.high - high.value
            rows.append((high, number, f"{lost[0]}, so {us(lost[1])} µs", reach))
    for value, numbers, what, reach in _merged(rows):
        end = value.name.rpartition(".")[2].removesuffix("_us")
        yield Finding(
            craft.place(value),
            f"{_channels(numbers)} has its {end} end at {value}, but the stick {what} of its way "
            f"do nothing ({reach.said})",
            f"set that end to {us(getattr(reach, end))} µs, which comes",
            reach.beside,
            edits=_put_end(craft, numbers, end, getattr(reach, end), min(slack, 20)),
        )


def _calibrated(craft: Craft) -> Iterator[tuple[int, Value, Value, Reach | Missing]]:
    """Channels with both ends in order, and how far their pulses go.

    Of channels beyond the sticks only those that a line calibrates: what they carry are switches,
    so all that counts is whether the link can send it at all.
    """
    numbers = craft.numbered("channel")
    if not numbers:
        raise NotForThisCraft("no channel has ends set")
    travel = travel_of(craft)
    for number in numbers:
        low, high = craft.get(f"channel.{number}.low_us"), craft.get(f"channel.{number}.high_us")
        if not (low.known and high.known) or low.value >= high.value:
            continue  # channels/ends-out-of-order says so
        if number in _STICKS:
            yield number, low, high, _stick_reach(craft)
        elif (
            "set" in (low.origin, high.origin)
            and travel.lowest is not None
            and travel.highest is not None
        ):
            said = f"{travel.said} sends no more"
            source = beside(travel.value, "this decides what can come")
            yield number, low, high, Reach(travel.lowest, travel.highest, said, source)


def _stick_reach(craft: Craft) -> Reach | Missing:
    """How far the sticks' pulses go when they arrive: the card's travel, else the link's usual."""
    travel, wire = travel_of(craft), wire_of(craft)
    low, high = craft.maybe_card("transmitter.low_us"), craft.maybe_card("transmitter.high_us")
    if low.known and high.known:
        return Reach(
            wire.carry(low.value, low.value).low,
            wire.carry(high.value, high.value).high,
            "the transmitter's travel",
            beside(low, "the stick's low end") + beside(high, "the stick's high end"),
        )
    if travel.usual_low is None or travel.usual_high is None:
        return Missing("receiver.link", "dump", "how far its channels travel")
    return Reach(
        travel.usual_low,
        travel.usual_high,
        f"{travel.said} with ordinary settings",
        beside(travel.value, "this decides what comes"),
    )


def _merged(
    rows: Iterable[tuple[Value, int, str, Reach]],
) -> Iterator[tuple[Value, list[int], str, Reach]]:
    """Rows about defaults, which stand nowhere, taken together where they say the same."""
    groups: dict[tuple[object, str], tuple[Value, list[int], str, Reach]] = {}
    for value, number, what, reach in rows:
        key = (value.span or (value.name.rpartition(".")[2], value.value), what)
        groups.setdefault(key, (value, [], what, reach))[1].append(number)
    yield from groups.values()


def _channels(numbers: list[int]) -> str:
    """``channel 3``, or ``each of channels 1, 2 and 4``."""
    if len(numbers) == 1:
        return f"channel {numbers[0]}"
    most = ", ".join(map(str, numbers[:-1]))
    return f"each of channels {most} and {numbers[-1]}"


# ---------------------------------------------------------------- thresholds of the sticks


@rule(
    "channels/stick-threshold-out-of-reach",
    grade="fix",
    title="A stick that never counts as low or high",
    why="""
    Arming, disarming and much else wait for a stick to be low or high.  If its pulse does not get
    past the threshold, the craft does not arm or, worse, does not disarm by the sticks.
    """,
    source="common practice; travel of the link: {interfacing}, {crsf-wiki}",
    examples=(
        good(
            """
            let receiver-link be sbus
            let stick-low be 1038
            let stick-high be 1946
            """,
            card="""
            [transmitter]
            low_us = 1000
            high_us = 2000
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            let stick-low be 1057
                             ^^^^ 1057 1080 low
            let stick-high be 1918
            """,
            card="""
            [transmitter]
            low_us = 1080
            high_us = 2000
            """,
        ),
        bad(
            """
            let receiver-link be dsm
            let stick-low be 1091
                             ^^^^ 1091 1102 ordinary
            let stick-high be 1932
                              ^^^^ 1932 1898 ordinary
            """
        ),
        good(
            """
            let receiver-link be dsm
            channel 1 spans 1102 1500 1898
            channel 2 spans 1102 1500 1898
            channel 3 spans 1102 1500 1898
            channel 4 spans 1102 1500 1898
            let stick-low be 1066
            let stick-high be 1954
            """,
            card="""
            [transmitter]
            low_us = 1102
            high_us = 1898
            """,
        ),
        unknown(
            """
            let receiver-link be sbus
            let stick-low be 1078
            let stick-high be 1923
            """,
            missing="transmitter.low_us",
        ),
        unknown(
            "let stick-high be 1937",
            card="""
            [transmitter]
            low_us = 1000
            high_us = 2000
            """,
            missing="stick.low_us",
        ),
    ),
)
def stick_threshold_out_of_reach(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Every stick gets below ``stick.low_us`` and above ``stick.high_us``."""
    for end in ("low", "high"):
        threshold = craft.get(f"stick.{end}_us")
        if not threshold.known:
            yield Missing(threshold.name, "dump")
            continue
        sent = craft.maybe_card(f"transmitter.{end}_us")
        pulse, said = _furthest(craft, end)
        # The furthest that any of the sticks' channels fails to come, as the craft sees it.
        short = {
            number: arrives
            for number in _STICKS
            if pulse is not None
            and not _past(end, arrives := _seen(craft, number, pulse), threshold.value)
        }
        if short:
            worst = max(short.values()) if end == "low" else min(short.values())
            better = float(worst) + (25 if end == "low" else -25)
            where = "" if len(short) == STICKS else f" on {_channels([*short])}"
            side = "below" if end == "low" else "above"
            yield Finding(
                craft.place(threshold),
                f"a stick counts as {end} {side} {threshold}, but none{where} comes {side} "
                f"{us(worst)} µs ({said}): arming or disarming by the sticks fails",
                f"calibrate the channel, widen the transmitter's travel, or set {threshold.name} "
                f"to {better:.0f}",
                beside(sent, f"the stick's {end} end"),
                edits=(Put(threshold.name, float(round(better)), better - 10, better + 10),)
                if (better < NOMINAL_CENTRE_US - _LEAST_HALF_US) == (end == "low")
                and abs(better - NOMINAL_CENTRE_US) > _LEAST_HALF_US
                else (),
            )
        elif not sent.known:
            yield Missing(f"transmitter.{end}_us", "card")


def _furthest(craft: Craft, end: str) -> tuple[float | None, str]:
    """The furthest pulse of a stick as it arrives, before calibration, and who says so."""
    sent = craft.maybe_card(f"transmitter.{end}_us")
    if sent.known:
        band = wire_of(craft).carry(sent.value, sent.value)
        return (band.low if end == "low" else band.high), "the transmitter's travel"
    travel = travel_of(craft)
    usual = travel.usual_low if end == "low" else travel.usual_high
    return usual, f"{travel.said} with ordinary settings"


def _past(end: str, arrives: Number, threshold: float) -> bool:
    return arrives < threshold if end == "low" else arrives > threshold


def _seen(craft: Craft, number: int, pulse: float) -> Number:
    """An arriving pulse as the craft sees it on a channel."""
    calibration = calibration_of(craft, number)
    return calibration.seen(pulse) if calibration.possible else pulse


# ---------------------------------------------------------------- sticks at rest

#: A wider dead band is felt: common practice.
WIDEST_US = 45.0


@rule(
    "channels/dead-band-too-wide",
    grade="fix",
    title="A dead band that swallows the stick",
    why="""
    Within the dead band a stick does nothing.  It is there for the few microseconds by which a
    stick let go misses its centre; a wide one swallows small corrections, and the craft answers
    all at once when the stick leaves it.
    """,
    source="common practice",
    options=(
        Option("most_us", WIDEST_US, "widest dead band to each side (µs)", least=0, most=500),
    ),
    examples=(
        good("let stick-slack be 12"),
        bad(
            """
            let stick-slack be 74
                               ^^ 74 swallowed
            """
        ),
        unknown("let stick-rest be 1500", missing="stick.dead_band_us"),
    ),
)
def dead_band_too_wide(craft: Craft, options: Options) -> Iterator[Finding]:
    """The dead band is no wider than a stick's miss of its centre can be."""
    band = craft.need("stick.dead_band_us")
    if band.value > options.most_us:
        yield Finding(
            craft.place(band),
            f"the dead band is {band} to each side of the centre: small corrections are "
            "swallowed, and the craft answers all at once beyond it",
            f"set {band.name} to {options.most_us:g} or less, and trim the transmitter's centre",
            edits=(Put(band.name, float(options.most_us), 0.7 * options.most_us, options.most_us),),
        )


@rule(
    "channels/stick-off-centre",
    grade="fix",
    title="A stick that does not rest at the centre",
    why="""
    A stick let go sends its centre.  If that lies outside the dead band around what the craft
    takes for the centre, the craft turns slowly all the time, and drifts off when hands are off.
    Far off, it leans over as it takes off.  Throttle, which is not let go, is left out.
    """,
    source="common practice",
    options=(
        Option("far_us", 55.0, "how far off the centre makes it lean over (µs)", least=0, most=500),
    ),
    examples=(
        good(
            """
            let stick-order be AETR
            let stick-rest be 1500
            let stick-slack be 7
            """,
            card="""
            [transmitter]
            centre_us = 1504
            jitter_us = 2
            """,
        ),
        bad(
            """
            let stick-order be AETR
            let stick-rest be 1500
                              ^^^^ 1500 1512 9 channels 1, 2 4
            let stick-slack be 9
            """,
            card="""
            [transmitter]
            centre_us = 1512
            jitter_us = 2
            """,
        ),
        bad(
            """
            let stick-order be AETR
            channel 1 spans 1000 1520 2000
                                 ^^^^ channel 1 1500
            channel 2 spans 1000 1500 2000
            channel 3 spans 1000 1540 2000
            let stick-rest be 1500
            let stick-slack be 6
            """,
            card="""
            [transmitter]
            centre_us = 1500
            jitter_us = 1
            """,
        ),
        bad(
            """
            let stick-order be AETR
            let stick-rest be 1500
                              ^^^^ wanders
            let stick-slack be 9
            """,
            card="""
            [transmitter]
            centre_us = 1505
            jitter_us = 5
            """,
        ),
        bad(
            """
            let stick-order be AETR
            let stick-rest be 1610
                              ^^^^ 1500 110 leans
            let stick-slack be 9
            """,
            card="""
            [transmitter]
            centre_us = 1500
            jitter_us = 2
            """,
        ),
        unknown(
            """
            let stick-order be AETR
            let stick-rest be 1500
            let stick-slack be 5
            """,
            missing="transmitter.centre_us",
        ),
        unknown(
            "let stick-rest be 1500",
            card="""
            [transmitter]
            centre_us = 1500
            """,
            missing="stick.dead_band_us",
        ),
        unknown(
            """
            channel 1 spans 1000 1520 2000
            let stick-rest be 1500
            let stick-slack be 7
            """,
            card="""
            [transmitter]
            centre_us = 1500
            """,
            missing="receiver.channel_order",
        ),
    ),
)
def stick_off_centre(craft: Craft, options: Options) -> Iterator[Finding]:
    """What a stick let go sends lies within the dead band around the centre, wandering included."""
    sent = craft.from_card("transmitter.centre_us")
    band = craft.need("stick.dead_band_us")
    centre = craft.need("stick.centre_us")
    jitter = craft.maybe_card("transmitter.jitter_us")
    wanders = jitter.value if jitter.known else 0.0
    pulse = wire_of(craft).carry(sent.value, sent.value).low
    off = {
        number: abs(float(_seen(craft, number, pulse)) - centre.value)
        for number in _STICKS
        if abs(float(_seen(craft, number, pulse)) - centre.value) + wanders > band.value
    }
    throttle = throttle_of(craft)
    if throttle is not None:
        off.pop(throttle, None)
    elif len(off) == 1:
        raise Missing("receiver.channel_order", "dump", "whether this is the throttle's channel")
    if not off and not jitter.known:
        raise Missing(jitter.name, "card", "how far a stick let go wanders")
    groups: dict[Span, list[int]] = {}
    for number in off:
        middle = craft.get(f"channel.{number}.mid_us")
        # A middle that is right leaves the centre that all sticks share.
        own = middle.span is not None and abs(middle.value - float(pulse)) > _SAME_US
        at = middle if own else centre
        groups.setdefault(craft.place(at), []).append(number)
    for span, numbers in groups.items():
        most = max(off[number] for number in numbers)
        if most > band.value:
            what = f"that is up to {us(most)} µs off, beyond the dead band of {band}"
        else:
            what = (
                f"it wanders by {wanders:g} µs, which with {us(most)} µs off goes beyond the dead "
                f"band of {band}"
            )
        yield Finding(
            span,
            f"a stick let go sends {us(sent.value)} µs, but {_channels(numbers)} takes "
            f"{_rest(craft, numbers[0], centre)} for the centre; {what}, so the craft "
            + ("leans over as it takes off" if most > options.far_us else "drifts by itself"),
            "set the channel's middle, or stick.centre_us, to what the stick sends"
            + (
                f"; or widen stick.dead_band_us, to {WIDEST_US:g} µs at most"
                if most + wanders <= WIDEST_US
                else ""
            ),
            beside(sent, "the stick's centre"),
            grade="ground" if most > options.far_us else None,
            edits=_put_centre(craft, numbers, float(pulse)) if most > band.value else (),
        )


def _rest(craft: Craft, number: int, centre: Value) -> str:
    """The arriving pulse that the craft takes for a channel's centre."""
    calibration = calibration_of(craft, number)
    at = calibration.arriving(centre.value) if calibration.possible else centre.value
    return f"{us(at)} µs"
