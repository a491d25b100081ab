"""Each range by itself: empty, on a stick, out of reach."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.links import LINKS
from cfglint.rule import Finding, Move, Related, bad, good, not_for, rule, unknown
from cfglint.switches.intervals import between
from cfglint.switches.positions import STICKS, calibration_of

from .._reach import (
    LEAST,
    beside,
    comes,
    link_of,
    on_off,
    seen,
    switches_of,
    travel_of,
    us,
    usually,
)
from ._places import ends_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, ModeRange, Value
    from cfglint.facts.links import Channels, Link
    from cfglint.rule import Options
    from cfglint.switches.intervals import Intervals
    from cfglint.switches.positions import Switch

    from .._reach import Travel


@rule(
    "modes/empty-range",
    grade="fix",
    title="A range that holds nothing",
    why="""
    With its low end at or above its high end a range holds no value, and its mode is never on by
    it.  A slip in a digit, or ends the wrong way round, are typical.
    """,
    source="by arithmetic",
    examples=(
        good("use arm while channel 5 in 1704..2089"),
        bad(
            """
            use arm while channel 5 in 2145..1628
                                       ^^^^^^^^^^ wrong way round
            """
        ),
        bad(
            """
            use self-right while channel 6 in 1653..1653
                                              ^^^^^^^^^^ self-right nothing
            """
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def empty_range(craft: Craft, options: Options) -> Iterator[Finding]:
    """Low end below high end; equal ends hold a value only where the high end surely belongs."""
    for row in rows_of(craft):
        if row.low_us > row.high_us:
            yield Finding(
                ends_of(row),
                f"the range of {row.mode} has its ends the wrong way round ({row.low_us:g} to "
                f"{row.high_us:g}): it holds nothing, so the mode is never on by it",
                f"write {row.high_us:g} to {row.low_us:g}, if that is the position that is meant",
                edits=(Move(row, row.high_us, row.low_us),),
            )
        elif row.low_us == row.high_us and craft.traits.range_ends != "closed":
            half = craft.traits.range_ends == "half-open"
            yield Finding(
                ends_of(row),
                f"the range of {row.mode} begins and ends at {row.low_us:g}: it holds "
                + (
                    "nothing, as its high end does not belong to it"
                    if half
                    else "one value at most"
                )
                + ", so the mode is never on by it",
                "widen it to take in the switch position that is meant",
            )


def rows_of(craft: Craft) -> tuple[ModeRange, ...]:
    if not craft.mode_ranges:
        raise NotForThisCraft("no mode is on a switch")
    return craft.mode_ranges


@rule(
    "modes/range-on-a-stick",
    grade="fix",
    title="A mode on a stick's channel",
    why="""
    Channels 1 to 4 carry the sticks.  A mode bound to one comes and goes with every movement of
    the stick.  Arm there starts the motors with the stick, and drops out in mid-air with it.
    """,
    source="common practice",
    examples=(
        good("use arm while channel 5 in 1661..2097"),
        bad(
            """
            use arm while channel 3 in 1753..2078
                                  ^ arm channel 3 stick
            """
        ),
        bad(
            """
            use arm while channel 5 in 1685..2090
            use beacon while channel 4 in 929..1100
                                     ^ beacon channel 4
            """
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def range_on_a_stick(craft: Craft, options: Options) -> Iterator[Finding]:
    """Ranges are on channel 5 or above."""
    for row in rows_of(craft):
        if row.channel <= STICKS:
            arms = row.mode == "arm"
            yield Finding(
                row.channel_span,
                f"{row.mode} is on channel {row.channel}, which carries a stick: it comes and goes "
                "as the stick is moved" + (", and the motors start and stop with it" * arms),
                "put it on a channel with a switch, 5 or above",
                grade="ground" if arms else None,
            )


@rule(
    "modes/unreachable-range",
    grade="fix",
    title="A range that nothing can enter",
    why="""
    A range above the highest or below the lowest value that the link can send is never entered,
    nor is one on a channel that the link does not carry, nor one that no position of the switch
    falls into.  Some channels are only on or off: of these nothing between the ends comes.
    Ranges just beyond the ordinary travel are entered only if somebody has widened it in the
    transmitter, and channels beyond the usual ones only reach a controller by an extension of the
    link; of these the rule merely advises.
    """,
    source="channels: {sbus}, {fport}, {srxl2}, {interfacing}, {crsf}; travel: {crsf-wiki}, "
    "{interfacing}; other links: common practice and from memory; the rest by arithmetic",
    examples=(
        good(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1730..2160
            """
        ),
        good("use arm while channel 5 in 1690..2180"),
        # Channels 17 and 18 are carried, as on or off.
        good(
            """
            let receiver-link be sbus
            use lights while channel 17 in 1820..2120
            """
        ),
        bad(
            """
            let receiver-link be crsf
            use arm while channel 5 in 2150..2300
                                       ^^^^^^^^^^ arm 2120 never
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use lights while channel 17 in 1340..1660
                                           ^^^^^^^^^^ lights channel 17 on or off
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use lights while channel 19 in 1760..2140
                                     ^^ SBUS 18 channel 19 never
            """
        ),
        # No maximum is published, so this is only worth a look.
        bad(
            """
            let receiver-link be ibus
            use lights while channel 15 in 1760..2140
                                     ^^ iBUS 14 channel 15 extension
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use beacon while channel 6 in 2040..2130
                                          ^^^^^^^^^^ beacon 2011.88 ordinary
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use self-right while channel 6 in 1360..1640
                                              ^^^^^^^^^^ K4 position self-right
            """,
            card="""
            [[switch]]
            name = "K4"
            channel = 6
            positions_us = [1000, 2000]
            """,
        ),
        bad(
            """
            use arm while channel 5 in 1960..2140
                                       ^^^^^^^^^^ arm 1904 never
            """,
            card="""
            [receiver]
            low_us = 1096
            high_us = 1904
            """,
        ),
        unknown("use arm while channel 5 in 1960..2140", missing="receiver.link"),
        unknown("use lights while channel 11 in 1760..2140", missing="receiver.link"),
        not_for("let receiver-link be sbus"),
    ),
)
def unreachable_range(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Each range that is not empty holds something that can come on its channel."""
    link, said = link_of(craft)
    travel, switches = travel_of(craft), switches_of(craft)
    for row in rows_of(craft):
        closed = craft.traits.range_ends == "closed"
        if row.low_us > row.high_us or (row.low_us == row.high_us and not closed):
            continue  # modes/empty-range says so
        if link is None and row.channel > _FEWEST_CHANNELS:
            yield Missing("receiver.link", "dump", "how many channels it carries")
            continue
        if link is not None and row.channel > link.channels.sure:
            yield _beyond_channels(row, link, said)
            continue
        here = switches.get(row.channel, [])
        try:
            found = _out_of_reach(craft, row, travel) or _no_position(craft, row, here)
        except Missing as gap:
            yield gap
        else:
            if found is not None:
                yield found


_DECIDES = "this decides what can come"
#: No link carries fewer channels than this.
_FEWEST_CHANNELS = min(row.channels.sure for row in LINKS.values())


def _beyond_channels(row: ModeRange, link: Link, said: Value) -> Finding:
    """A finding for a channel that the link does not carry, or only by an extension."""
    carried = link.channels
    never = not carried.may_carry(row.channel)
    sure = never and carried.mark == "published"
    head = f"{row.mode} is on channel {row.channel}, but {link.title} carries {carried.sure}"
    return Finding(
        row.channel_span,
        f"{head} channels: the range is never entered"
        if sure
        else f"{head} channels, {_more(carried)}: the range may never be entered",
        f"put it on a channel from {STICKS + 1} to {carried.sure} that has a switch"
        + ("" if sure else ", or see that the receiver sends this one"),
        beside(said, _DECIDES),
        None if sure else "advise",
    )


def _more(carried: Channels) -> str:
    most = "more" if carried.most is None else f"up to {carried.most}"
    return f"{most} only by an extension"


def _out_of_reach(craft: Craft, row: ModeRange, travel: Travel) -> Finding | None:
    """A finding when a range lies beyond what can come, or beyond what ordinarily does."""
    calibration = calibration_of(craft, row.channel)
    widest = comes(craft, row.channel)
    if not _touches(craft, row, widest):
        return Finding(
            ends_of(row),
            f"the range of {row.mode} on channel {row.channel} lies beyond what can come there: "
            + (
                "this channel is only on or off, so it is never entered"
                if on_off(travel, row.channel)
                else f"{travel.said} sends {from_to(widest)}, so it is never entered"
            ),
            "move the range to where the switch's position is",
            beside(_nearer_end(craft, row, travel), _DECIDES),
        )
    ordinary = usually(travel, row.channel)
    if ordinary is None:
        if not _touches(craft, row, seen(calibration, LEAST)):
            raise Missing("receiver.link", "dump", "how far its channels travel")
        return None
    usual = seen(calibration, ordinary)
    if _touches(craft, row, usual):
        return None
    return Finding(
        ends_of(row),
        f"the range of {row.mode} on channel {row.channel} lies beyond the ordinary travel: "
        + (
            f"this channel is only on or off, commonly taken for {us(usual.low)} and "
            f"{us(usual.high)} µs"
            if on_off(travel, row.channel)
            else f"{travel.said} sends {from_to(usual)} unless the transmitter's travel was widened"
        ),
        "move the range to where the switch's position is",
        beside(_nearer_end(craft, row, travel), _DECIDES),
        "advise",
    )


def _nearer_end(craft: Craft, row: ModeRange, travel: Travel) -> Value:
    """The card's end of the receiver on the range's side; else where the travel was said."""
    end = craft.maybe_card(f"receiver.{'high' if row.low_us >= 1500 else 'low'}_us")
    return end if end.known else travel.value


def _no_position(craft: Craft, row: ModeRange, here: list[Switch]) -> Finding | None:
    """A finding when the card's switch has no position in a range."""
    if not here:
        return None
    calibration = calibration_of(craft, row.channel)
    places = [place for switch in here for place in switch.places]
    if any(_touches(craft, row, seen(calibration, place.band.hull())) for place in places):
        return None
    names = " and ".join(switch.name for switch in here)
    pulses = ", ".join(f"{place.sent_us:g}" for place in places)
    return Finding(
        ends_of(row),
        f"no position of {names} on channel {row.channel} falls into the range of {row.mode}: its "
        f"positions are {pulses} µs, so the mode cannot be selected",
        "move the range to where the switch's position is, or correct the card",
        tuple(Related(switch.span, "the switch") for switch in here if switch.span is not None),
        choices=_at_positions(craft, row, here),
    )


#: Ends of ranges that any dialect can write, µs.
_WRITTEN = (800, 2200)


def _at_positions(craft: Craft, row: ModeRange, here: list[Switch]) -> tuple[Move, ...]:
    """The range round each position of a switch, as far as midway to the next."""
    if len(here) != 1:
        return ()
    calibration = calibration_of(craft, row.channel)
    bands = sorted(
        (float(band.low), float(band.high))
        for place in here[0].places
        if (band := seen(calibration, place.band.hull()))
    )
    gaps = [(one[1] + other[0]) / 2 for one, other in pairwise(bands)]
    ends = [bands[0][0] - 100, *gaps, bands[-1][1] + 100] if bands else []
    if bands and not _WRITTEN[0] <= ends[0] <= ends[-1] <= _WRITTEN[1]:
        return ()  # channels so far off their calibration are another rule's, and come first
    whole = [float(5 * round(end / 5)) for end in ends]
    return tuple(Move(row, low, high) for low, high in pairwise(whole) if low < high)


def _touches(craft: Craft, row: ModeRange, brings: Intervals) -> bool:
    """Whether a range holds any of the values; Missing when only its high end would."""
    ends = craft.traits.range_ends
    if ends is not None:
        return between(row.low_us, row.high_us, ends).overlaps(brings)
    surely = between(row.low_us, row.high_us, "half-open").overlaps(brings)
    if surely is not between(row.low_us, row.high_us, "closed").overlaps(brings):
        raise Missing("traits.range_ends", "dialect")
    return surely


def from_to(values: Intervals) -> str:
    return f"{us(values.low)} to {us(values.high)} µs"
