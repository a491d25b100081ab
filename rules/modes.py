"""Modes: which switch turns what on, and what must or must not be on together.

First whether the craft can be armed at all; then each range by itself: is it empty, on a stick,
out of reach, can it be switched off, can it be switched on; then ranges against each other, arm
and self-right before all; last how near a switch comes to a range's edge.

What a channel can bring is taken from the card's switches, from the card's ends of the receiver
or from the usual travel of the link, in this order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.links import EDGE_MARGIN_SOURCE, EDGE_MARGIN_US, LINKS
from cfglint.facts.modes import CONFLICTS
from cfglint.rule import Example, Finding, Move, Option, Related, bad, good, not_for, rule, unknown
from cfglint.span import cover
from cfglint.switches.intervals import between, union
from cfglint.switches.positions import STICKS, calibration_of

from ._reach import (
    LEAST,
    View,
    always,
    beside,
    both,
    bound,
    comes,
    decide,
    link_of,
    meet,
    on_off,
    seen,
    switches_of,
    travel_of,
    us,
    usually,
    views,
    within,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, ModeRange, Value
    from cfglint.facts.links import Channels, Link
    from cfglint.facts.modes import Conflict
    from cfglint.rule import Grade, Options
    from cfglint.span import Span
    from cfglint.switches.intervals import Intervals, Number
    from cfglint.switches.positions import Place, Switch

    from ._reach import Box, Travel

# ---------------------------------------------------------------- can it be armed


@rule(
    "modes/arm-missing",
    grade="ground",
    title="No switch arms the craft",
    why="""
    Mode ranges are among the things most often lost when a setup is restored.  Without one for
    arm the craft does not arm or, on firmware that falls back on stick positions, arms and disarms
    where nobody expects it.  A pilot must have one switch that stops the motors.
    """,
    source="common practice",
    examples=(
        good("use arm while channel 5 in 1704..2089"),
        good(
            """
            use arm-permit while channel 6 in 1778..2116
            use arm along with arm-permit
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no range arm
            use self-level while channel 6 in 1696..2167
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no range arm
            let receiver-link be sbus
            """
        ),
        bad(
            """
            let receiver-link be sbus
            ^^^^^^^^^^^^^^^^^^^^^^^^^ arm arm-permit range
            use arm along with arm-permit
            """
        ),
    ),
)
def arm_missing(craft: Craft, options: Options) -> Iterator[Finding]:
    """Arm has a range, or follows a mode that has one; unless the firmware arms by sticks."""
    if _has_range(craft, "arm"):
        return
    if craft.traits.arm_by_sticks:
        raise NotForThisCraft("this firmware arms by stick positions when no switch does")
    _can_be_said(craft, "arm")
    led = [link.follows for link in craft.mode_links if link.mode == "arm"]
    also = f" (it follows {' and '.join(led)}, which has none either)" if led else ""
    yield Finding(
        craft.whole,
        f"no range turns arm on{also}: the craft does not arm, or arms in a way nobody set up, and "
        "no switch stops its motors",
        "give arm a range on a switch of its own, on channel 5 or above, away from where the "
        "switch rests",
    )


def _can_be_said(craft: Craft, mode: str) -> None:
    """Raise Missing where the dialect could not read the range that is looked for."""
    if not craft.unmapped.isdisjoint({"range", f"mode {mode}"}):
        hint = "without it a range may be there and not be understood"
        raise Missing(f"modes.{mode}", "dialect", hint)


def _has_range(craft: Craft, mode: str) -> bool:
    """Whether a mode or any that it follows has a range."""
    wanted = [mode]
    for each in wanted:
        wanted += [
            link.follows
            for link in craft.mode_links
            if link.mode == each and link.follows not in wanted
        ]
    return any(row.mode in wanted for row in craft.mode_ranges)


@rule(
    "modes/permit-missing",
    grade="fix",
    title="Nothing permits arming",
    why="""
    Some firmware wants a second mode, arm-permit, to be on before arm has any effect.  Without a
    range for it, or with one that is never on where arm is, the arm switch does nothing.
    """,
    source="common practice",
    examples=(
        good("use arm while channel 5 in 1661..2097"),
        good(
            """
            use arm while channel 5 in 1642..2075
            use arm-permit while channel 6 in 1642..2075
            """
        ),
        bad(
            """
            use arm while channel 5 in 1757..2172
            use arm-permit while channel 5 in 818..1249
                                              ^^^^^^^^^ arm-permit never arm
            """
        ),
        Example(
            "bad",
            """
            ; unit CHALK rev 2.57 all
            ^^^^^^^^^^^^^^^^^^^^^^^^^ arm-permit no range nothing
            md:123:174:2:5:46
            """,
            dialect="terse",
        ),
        unknown(
            """
            use arm while channel 5 in 1784..1950
            use arm-permit while channel 5 in 1120..1367
            use arm-permit while channel 5 in 1940..2144
            """,
            missing="receiver.link",
        ),
        not_for("use self-level while channel 6 in 1730..2127"),
    ),
)
def permit_missing(craft: Craft, options: Options) -> Iterator[Finding]:
    """Where arm needs a permit there is one, and both can be on at once."""
    if not _has_range(craft, "arm"):
        raise NotForThisCraft("arm is on no switch")
    if not _has_range(craft, "arm-permit"):
        if craft.trait("arm_needs_permit"):
            _can_be_said(craft, "arm-permit")
            yield Finding(
                craft.whole,
                "this firmware arms only while arm-permit is on, and no range turns it on: the arm "
                "switch does nothing",
                "give arm-permit a range on a switch of its own",
            )
        return
    if not _can(craft, "arm") or not _can(craft, "arm-permit"):
        raise NotForThisCraft("one of the two can never be on; other rules say why")

    def meeting(view: View) -> bool:
        return meet(view.on("arm"), view.on("arm-permit"))

    if not decide(craft, meeting):
        yield Finding(
            _spot(craft, "arm-permit"),
            "arm-permit is never on where arm is: the arm switch does nothing",
            "let the ranges overlap, or put arm-permit on a switch of its own",
            (Related(_spot(craft, "arm"), "arm is here"),),
            picture=_picture(craft, ("arm", "arm-permit")),
        )


# ---------------------------------------------------------------- each range by itself


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
    for row in _rows(craft):
        if row.low_us > row.high_us:
            yield Finding(
                _ends_of(row),
                f"the range of {row.mode} has its ends the wrong way round ({row.low_us:g} to "
                f"{row.high_us:g}): it holds nothing, so the mode is never on by it",
                f"write {row.high_us:g} to {row.low_us:g}, if that is the position that is meant",
                edits=(Move(row, row.high_us, row.low_us),),
            )
        elif row.low_us == row.high_us and craft.traits.range_ends != "closed":
            half = craft.traits.range_ends == "half-open"
            yield Finding(
                _ends_of(row),
                f"the range of {row.mode} begins and ends at {row.low_us:g}: it holds "
                + (
                    "nothing, as its high end does not belong to it"
                    if half
                    else "one value at most"
                )
                + ", so the mode is never on by it",
                "widen it to take in the switch position that is meant",
            )


def _rows(craft: Craft) -> tuple[ModeRange, ...]:
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
    for row in _rows(craft):
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
    for row in _rows(craft):
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
            _ends_of(row),
            f"the range of {row.mode} on channel {row.channel} lies beyond what can come there: "
            + (
                "this channel is only on or off, so it is never entered"
                if on_off(travel, row.channel)
                else f"{travel.said} sends {_from_to(widest)}, so it is never entered"
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
        _ends_of(row),
        f"the range of {row.mode} on channel {row.channel} lies beyond the ordinary travel: "
        + (
            f"this channel is only on or off, commonly taken for {us(usual.low)} and "
            f"{us(usual.high)} µs"
            if on_off(travel, row.channel)
            else f"{travel.said} sends {_from_to(usual)} unless the transmitter's travel was "
            "widened"
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
        _ends_of(row),
        f"no position of {names} on channel {row.channel} falls into the range of {row.mode}: its "
        f"positions are {pulses} µs, so the mode cannot be selected",
        "move the range to where the switch's position is, or correct the card",
        tuple(Related(switch.span, "the switch") for switch in here if switch.span is not None),
    )


def _touches(craft: Craft, row: ModeRange, brings: Intervals) -> bool:
    """Whether a range holds any of the values; Missing when only its high end would."""
    ends = craft.traits.range_ends
    if ends is not None:
        return between(row.low_us, row.high_us, ends).overlaps(brings)
    surely = between(row.low_us, row.high_us, "half-open").overlaps(brings)
    if surely is not between(row.low_us, row.high_us, "closed").overlaps(brings):
        raise Missing("traits.range_ends", "dialect")
    return surely


def _from_to(values: Intervals) -> str:
    return f"{us(values.low)} to {us(values.high)} µs"


# ---------------------------------------------------------------- can it be switched


class Lasting(NamedTuple):
    """A mode that must not be on all the time, how grave that is, and what it leads to."""

    grade: Grade
    harm: str


#: Modes missing here (self-level, idle-authority, motor-stop, log, lights, video-power) are often
#: left on for good, by a range that takes in everything.  Common practice.
LASTING: dict[str, Lasting] = {
    "arm": Lasting("ground", "the motors may turn from the moment the battery is connected"),
    "self-right": Lasting("ground", "the motors are reversed whenever they turn"),
    "return-home": Lasting("ground", "the craft sets off by itself as soon as it is armed"),
    "lost-link": Lasting("fix", "the failsafe is played all the time"),
    "arm-permit": Lasting("fix", "it guards nothing"),
    "hold-height": Lasting("advise", "the pilot cannot take over the height"),
    "hold-position": Lasting("advise", "the pilot cannot take over the place"),
    "beacon": Lasting("advise", "it sounds all the time and helps to find nothing"),
}


@rule(
    "modes/always-on",
    grade="fix",
    title="A mode that cannot be switched off",
    why="""
    A range that takes in all that the channel brings is on for good, with the transmitter's
    ordinary travel at least.  For some modes that is the usual way of keeping them on: self-level,
    idle-authority, motor-stop, log, lights and video-power may.  Arm may not: nothing would stop
    the motors.
    """,
    source="travel of the link: {crsf-wiki}, {interfacing}, other links common practice; which "
    "modes may be left on: common practice",
    examples=(
        good(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1695..2226
            use idle-authority while channel 5 in 895..2226
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 904..2137
                                       ^^^^^^^^^ arm motors 987.5
            """
        ),
        bad(
            """
            let receiver-link be crsf
            use self-right while channel 6 in 841..1500
                                              ^^^^^^^^^ self-right motors
            use self-right while channel 6 in 1500..2105
            """
        ),
        bad(
            """
            use beacon while channel 7 in 936..2063
                                          ^^^^^^^^^ beacon 1000 2000
            """,
            card="""
            [[switch]]
            name = "K2"
            channel = 7
            positions_us = [1000, 1500, 2000]
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            use idle-authority while channel 6 in 855..2083
            use return-home along with idle-authority
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ return-home
            """
        ),
        unknown("use arm while channel 5 in 1000..2010", missing="receiver.link"),
        not_for("let receiver-link be sbus"),
    ),
)
def always_on(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """The modes of LASTING are off somewhere in what their channels bring."""
    if not craft.mode_ranges:
        raise NotForThisCraft("no mode is on a switch")
    for mode, lasting in LASTING.items():
        if not _has_range(craft, mode):
            continue
        try:
            on = _always(craft, mode)
        except Missing as gap:
            yield gap
            continue
        if on:
            yield Finding(
                _spot(craft, mode),
                f"{mode} cannot be switched off: {_all_of(craft, mode)}, and {lasting.harm}",
                "narrow the range to the one switch position at which it is meant to be on",
                grade=lasting.grade,
            )


def _always(craft: Craft, mode: str) -> bool:
    """Whether a mode is on whatever comes."""
    return decide(craft, lambda view: always(view.on(mode), view))


def _all_of(craft: Craft, mode: str) -> str:
    rows = craft.ranges_of(mode)
    if not rows:
        return "what it follows is on whatever comes"
    if len({row.channel for row in rows}) > 1:
        return "its ranges together take in all that can come"
    reach = views(craft)[0].reach(rows[0].channel)
    which = "range takes" if len(rows) == 1 else "ranges take"
    return f"its {which} in all that can come on channel {rows[0].channel} ({_from_to(reach)})"


@rule(
    "modes/never-on",
    grade="fix",
    title="A mode whose conditions exclude each other",
    why="""
    Ranges that must all hold at once, but cannot, keep a mode off for good; so does following a
    mode that is never on.  The pilot flicks the switch and nothing happens.
    """,
    source="by arithmetic",
    examples=(
        good(
            """
            use self-right only while channel 6 in 1707..2082
            use self-right only while channel 7 in 1707..2082
            """
        ),
        good(
            """
            use beacon along with lost-link
            use lost-link while channel 8 in 1683..2112
            """
        ),
        bad(
            """
            use self-right only while channel 6 in 1638..2183
                                                   ^^^^^^^^^^ self-right at once
            use self-right only while channel 6 in 987..1371
            """
        ),
        bad(
            """
            use arm while channel 5 in 1782..2203
            use beacon along with lost-link
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ beacon lost-link never
            """
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def never_on(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Every mode with sound ranges or links can be on somewhere."""
    modes = dict.fromkeys(
        [row.mode for row in craft.mode_ranges] + [link.mode for link in craft.mode_links]
    )
    if not modes:
        raise NotForThisCraft("no mode is on a switch")
    for mode in modes:
        rows = craft.ranges_of(mode)
        try:
            # A range that is out of reach by itself is another rule's finding.
            if _can(craft, mode) or not all(_enters(craft, row) for row in rows):
                continue
        except Missing as gap:
            yield gap
            continue
        led = [link.follows for link in craft.mode_links if link.mode == mode]
        dead = [each for each in led if not _can(craft, each)]
        if dead:
            why = f"it follows {' and '.join(dead)}, which is never on"
            better = f"give {' and '.join(dead)} a range, or delete the line that follows it"
        else:
            why = "what it needs cannot hold at once"
            better = "let one range do, or put the ranges on different channels"
        first = _spot(craft, mode)
        others = [span for row in rows if (span := _ends_of(row)) != first]
        yield Finding(
            first,
            f"{mode} can never be on: {why}",
            better,
            tuple(Related(span, "must hold as well") for span in others),
        )


def _can(craft: Craft, mode: str) -> bool:
    """Whether a mode can be on at all."""
    return decide(craft, lambda view: bool(view.on(mode)))


def _enters(craft: Craft, row: ModeRange) -> bool:
    return decide(craft, lambda view: view.of(row).overlaps(view.reach(row.channel)))


# ---------------------------------------------------------------- arm and self-right


@rule(
    "modes/arm-and-self-right-meet",
    grade="fix",
    title="Arm and self-right are not apart",
    why="""
    To roll back over, the pilot disarms, selects self-right, arms, blips the roll stick, disarms,
    deselects and arms again.  That takes two switches.  If self-right is on wherever arm is, the
    craft can never fly: it must not be armed (grade `ground`).  If self-right comes only with arm,
    or on the same channel, one flick too far reverses the motors.
    """,
    source="common practice",
    examples=(
        good(
            """
            use arm while channel 5 in 1670..2111
            use self-right while channel 6 in 1670..2111
            """
        ),
        bad(
            """
            use arm while channel 5 in 1645..2124
            use self-right while channel 5 in 1645..2124
                                              ^^^^^^^^^^ wherever arm never fly
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1669..2097
            use self-right while channel 6 in 922..2097
                                              ^^^^^^^^^ wherever arm never fly
            """
        ),
        bad(
            """
            use arm while channel 5 in 1333..2171
            use self-right while channel 5 in 1763..2171
                                              ^^^^^^^^^^ self-right only arm
            """
        ),
        bad(
            """
            use arm while channel 5 in 1500..2136
            use self-right while channel 5 in 1283..1681
                                              ^^^^^^^^^^ channel 5
            """
        ),
        unknown(
            """
            use arm while channel 5 in 1723..1950
            use self-right while channel 5 in 1723..1920
            """,
            missing="receiver.link",
        ),
        not_for("use arm while channel 5 in 1757..2113"),
        not_for(
            """
            use arm while channel 5 in 1622..2141
            use self-right while channel 5 in 1255..1622
            """
        ),
    ),
)
def arm_and_self_right_meet(craft: Craft, options: Options) -> Iterator[Finding]:
    """Neither is on wherever the other is, and where both are no channel decides over both."""
    meeting, covered, needed = _arm_against_self_right(craft)
    if not meeting:
        raise NotForThisCraft("arm and self-right never meet; modes/self-right-never-armed says so")
    grade: Grade | None = None
    if covered:
        grade = "ground"
        what = (
            "self-right is on wherever arm is: the craft can never fly, and its motors are "
            "reversed as soon as they turn"
        )
    elif needed:
        what = (
            "self-right is on only where arm is: it cannot be selected before arming, and turning "
            "it on reverses running motors"
        )
    else:
        shared = decide(craft, lambda view: _shared(craft, view))
        if not shared:
            return
        what = (
            f"arm and self-right overlap on channel {' and '.join(map(str, shared))}: one flick "
            "too far reverses the motors"
        )
    yield Finding(
        _spot(craft, "self-right"),
        what,
        "put self-right on a switch of its own",
        (Related(_spot(craft, "arm"), "arm is here"),),
        grade,
        picture=_picture(craft, ("arm", "self-right")),
    )


def _shared(craft: Craft, view: View) -> tuple[int, ...]:
    """The channels that decide over arm and self-right both, where the two meet."""
    channels: set[int] = set()
    for arm in view.on("arm"):
        for turn in view.on("self-right"):
            if both(arm, turn) is not None:
                channels |= bound(arm, view) & bound(turn, view)
    return tuple(sorted(channels))


@rule(
    "modes/self-right-never-armed",
    grade="fix",
    title="Self-right is never on together with arm",
    why="""
    Self-right works only while the craft is armed.  If the two ranges cannot hold at once, the
    craft can never right itself and has to be walked to.
    """,
    source="common practice",
    examples=(
        good(
            """
            use arm while channel 5 in 1670..2111
            use self-right while channel 6 in 1670..2111
            """
        ),
        bad(
            """
            use arm while channel 5 in 1733..2203
            use self-right while channel 5 in 1307..1733
                                              ^^^^^^^^^^ never arm right itself
            """
        ),
        bad(
            """
            use arm only while channel 5 in 1729..2064
            use arm only while channel 6 in 952..1231
            use self-right while channel 6 in 1729..2064
                                              ^^^^^^^^^^ never arm
            """
        ),
        unknown(
            """
            use arm while channel 5 in 1305..1958
            use self-right while channel 5 in 1946..2218
            """,
            missing="receiver.link",
        ),
        not_for("use arm while channel 5 in 1685..2104"),
        not_for("use self-right while channel 6 in 1786..2093"),
    ),
)
def self_right_never_armed(craft: Craft, options: Options) -> Iterator[Finding]:
    """Arm and self-right can both be on."""
    if _arm_against_self_right(craft)[0]:
        return
    yield Finding(
        _spot(craft, "self-right"),
        "self-right is never on together with arm: the motors do not turn, and the craft can never "
        "right itself",
        "put self-right on a switch of its own",
        (Related(_spot(craft, "arm"), "arm is here"),),
        picture=_picture(craft, ("arm", "self-right")),
    )


def _arm_against_self_right(craft: Craft) -> tuple[bool, bool, bool]:
    """Can both be on; is self-right on wherever arm is; is arm on wherever self-right is."""
    if not _has_range(craft, "self-right"):
        raise NotForThisCraft("self-right is on no switch")
    if not _has_range(craft, "arm"):
        raise NotForThisCraft("arm is on no switch")
    if not _can(craft, "arm") or not _can(craft, "self-right"):
        raise NotForThisCraft("one of the two can never be on; other rules say why")

    def question(view: View) -> tuple[bool, bool, bool]:
        arm, turn = view.on("arm"), view.on("self-right")
        return meet(arm, turn), within(arm, turn, view), within(turn, arm, view)

    return decide(craft, question)


# ---------------------------------------------------------------- modes that must not meet


@rule(
    "modes/conflicting-modes-meet",
    grade="fix",
    title="Two modes that contradict each other come together",
    why="""
    Some modes make no sense at once, and which of them wins is up to the firmware.  The rule looks
    at what a switch does by itself: two ranges that overlap on one channel, or a mode that is on
    for good.  Two modes on two switches can be kept apart by the pilot.
    """,
    source="common practice",
    examples=(
        good(
            """
            use self-right while channel 6 in 1635..2188
            use return-home while channel 7 in 1635..2188
            """
        ),
        good(
            """
            use self-right while channel 6 in 1760..2060
            use hold-position while channel 6 in 978..1261
            """
        ),
        bad(
            """
            use self-right while channel 6 in 1362..2185
                                              ^^^^^^^^^^ self-right return-home reversed channel 6
            use return-home while channel 6 in 1793..2185
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use idle-authority while channel 7 in 1258..2141
            use props-rest while channel 8 in 927..2141
                                              ^^^^^^^^^ motor-stop idle-authority
            """
        ),
        bad(
            """
            use hold-position while channel 6 in 1671..2176
            use self-right along with hold-position
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ self-right hold-position
            """
        ),
        unknown(
            """
            use self-right while channel 6 in 1224..2127
            use return-home while channel 6 in 1953..2127
            """,
            missing="receiver.link",
        ),
        not_for("use arm while channel 5 in 1757..2113"),
    ),
)
def conflicting_modes_meet(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No pair of CONFLICTS is on together by one switch's doing."""
    pairs = [
        pair for pair in CONFLICTS if _has_range(craft, pair.one) and _has_range(craft, pair.two)
    ]
    if not pairs:
        raise NotForThisCraft("no two of its modes contradict each other")
    for pair in pairs:
        try:
            met = _surely_forced(craft, pair)
        except Missing as gap:
            yield gap
            continue
        if met is not None:
            yield Finding(
                _spot(craft, pair.one, met),
                f"{pair.one} and {pair.two} are on together{_where(met)}: {pair.reason}",
                "let the ranges not overlap, or put the two on different switches",
                (Related(_spot(craft, pair.two, met), f"{pair.two} is here"),),
                "fix" if pair.senseless else "advise",
                picture=_picture(craft, (pair.one, pair.two)),
            )


def _surely_forced(craft: Craft, pair: Conflict) -> Box | None:
    forced = decide(craft, lambda view: _forced(craft, pair, view) is not None)
    return _forced(craft, pair, views(craft)[-1]) if forced else None


def _forced(craft: Craft, pair: Conflict, view: View) -> Box | None:
    """Where both modes are on with no switch of one left to keep them apart."""
    for one in view.on(pair.one):
        for two in view.on(pair.two):
            met = both(one, two)
            if met is None:
                continue
            ones, twos = bound(one, view), bound(two, view)
            if ones <= twos or twos <= ones:
                return {channel: met[channel] for channel in sorted(ones | twos)}
    return None


def _where(met: Box) -> str:
    if not met:
        return " all the time"
    parts = [f"channel {channel} brings {_from_to(values)}" for channel, values in met.items()]
    return " while " + " and ".join(parts)


# ---------------------------------------------------------------- how near to an edge


@rule(
    "modes/near-a-range-edge",
    grade="fix",
    title="A switch position close to a range's edge",
    why="""
    A switch does not send the same pulse every time.  Where the edge of a range lies within that
    wandering, the mode chatters: arm would drop out in mid-air (grade `ground`).  Close by, it may
    after a change of temperature, trim or receiver (for arm `fix`, otherwise `advise`).
    """,
    source=EDGE_MARGIN_SOURCE,
    options=(
        Option(
            "margin_us", EDGE_MARGIN_US, "room wanted between a position and an edge (µs)", 0, 500
        ),
    ),
    examples=(
        good(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1756..2162
            """,
            card="""
            [[switch]]
            name = "K1"
            channel = 5
            positions_us = [1000, 2000]
            jitter_us = 4
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            use beacon while channel 7 in 1480..2205
                                          ^^^^ K2 middle beacon
            """,
            card="""
            [[switch]]
            name = "K2"
            channel = 7
            positions_us = [1000, 1500, 2000]
            jitter_us = 4
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1787..2002
                                             ^^^^ K1 high arm chatters
            """,
            card="""
            [[switch]]
            name = "K1"
            channel = 5
            positions_us = [1000, 2000]
            jitter_us = 4
            """,
        ),
        good(
            """
            let receiver-link be sbus
            use beacon while channel 7 in 1480..2052
            """,
            card="""
            [[switch]]
            name = "K2"
            channel = 7
            positions_us = [1000, 1500, 2000]
            jitter_us = 4
            """,
            options={"margin_us": 10.0},
        ),
        unknown(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1731..2175
            """,
            missing="switch on channel 5",
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def near_a_range_edge(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Every position of the card's switches, wandering and margin included, is in or out."""
    switches = switches_of(craft)
    lacking: set[int] = set()
    for rows in _groups(_rows(craft)):
        channel = rows[0].channel
        if channel <= STICKS:
            continue  # another rule's finding
        here = switches.get(channel, [])
        if not here:
            if channel not in lacking and not _never_turns(craft, rows):
                lacking.add(channel)
                yield Missing(f"switch on channel {channel}", "card")
            continue
        for switch in here:
            for place in switch.places:
                try:
                    found = _edge(craft, rows, switch, place, options.margin_us)
                except Missing as gap:
                    yield gap
                else:
                    if found is not None:
                        yield found


def _groups(rows: Iterable[ModeRange]) -> list[list[ModeRange]]:
    """Ranges whose common edges count: `any` ranges of one mode and channel go together."""
    groups: dict[tuple[str, int, int], list[ModeRange]] = {}
    for index, row in enumerate(rows):
        alone = 0 if row.join == "any" else index + 1
        groups.setdefault((row.mode, row.channel, alone), []).append(row)
    return list(groups.values())


def _never_turns(craft: Craft, rows: list[ModeRange]) -> bool:
    """Whether ranges surely take in all that comes, so that no edge is ever near."""
    channel = rows[0].channel
    return all(view.reach(channel) <= union(map(view.of, rows)) for view in views(craft))


def _edge(
    craft: Craft, rows: list[ModeRange], switch: Switch, place: Place, margin_us: float
) -> Finding | None:
    channel, mode = rows[0].channel, rows[0].mode
    calibration = calibration_of(craft, channel)
    wanders = seen(calibration, place.band.hull())
    low, high = wanders.low, wanders.high
    nears = between(float(low) - margin_us, float(high) + margin_us, "open") & comes(craft, channel)

    def crossing(view: View) -> tuple[bool, bool]:
        inside = union(map(view.of, rows))
        return (
            bool(wanders & inside) and bool(wanders - inside),
            bool(nears & inside) and bool(nears - inside),
        )

    chatters, close = decide(craft, crossing)
    if not chatters and not close:
        return None
    edges = [(row.low_us, row.low_span) for row in rows]
    edges += [(row.high_us, row.high_span) for row in rows]
    edge, span = min(edges, key=lambda one: max(float(low) - one[0], one[0] - float(high), 0.0))
    gap = max(float(low) - edge, edge - float(high), 0.0)
    at = f"{us(low)} to {us(high)} µs" if low != high else f"{us(low)} µs"
    head = (
        f"position {place.name} of {switch.name} comes in at {at}, and the edge of {mode} on "
        f"channel {channel} is at {edge:g}"
    )
    grade: Grade
    if chatters:
        grade = "ground" if mode == "arm" else "fix"
        what = f"{head}: within that wandering the mode chatters"
    else:
        grade = "fix" if mode == "arm" else "advise"
        what = (
            f"{head}: that leaves {us(gap)} µs, less than {margin_us:g}, before the mode chatters"
        )
    others = [seen(calibration, each.band.hull()) for each in switch.places]
    is_high = any(row.high_us == edge for row in rows)
    better, room = _better_edge(edge, is_high, low, high, others)
    own = next(row for row in rows if edge in (row.low_us, row.high_us))
    ends = (own.low_us, better) if own.high_us == edge else (better, own.high_us)
    clear = not any(each.low - margin_us < better < each.high + margin_us for each in others)
    if not clear:
        return Finding(
            span,
            what,
            f"the positions of {switch.name} lie too near each other for an edge between them: "
            "look after the switch, or spread its positions",
            (Related(place.span, "this position"),) if place.span is not None else (),
            grade,
        )
    return Finding(
        span,
        what,
        f"move the edge to about {better:g}, {room}",
        (Related(place.span, "this position"),) if place.span is not None else (),
        grade,
        edits=(Move(own, *ends),) if ends[0] < ends[1] else (),
    )


def _better_edge(
    edge: float, is_high: bool, low: Number, high: Number, others: list[Intervals]
) -> tuple[float, str]:
    """Where to put an edge: midway to the next position on its far side, else well away."""
    middle = (float(low) + float(high)) / 2
    if edge > high or (low <= edge and (edge > middle or (edge == middle and is_high))):
        beyond = [float(each.low) for each in others if each.low > high]
        better = (float(high) + min(beyond)) / 2 if beyond else float(high) + 100
    else:
        beyond = [float(each.high) for each in others if each.high < low]
        better = (float(low) + max(beyond)) / 2 if beyond else float(low) - 100
    room = "midway to the next position" if beyond else "well past the position"
    return float(5 * round(better / 5)), room


# ---------------------------------------------------------------- where things stand


def _ends_of(row: ModeRange) -> Span:
    """The two ends of a range as they stand in the dump, or its line when they stand apart."""
    low, high = row.low_span, row.high_span
    together = low.line == high.line and low.column <= high.column
    return cover(low, high) if together else row.span


def _spot(craft: Craft, mode: str, met: Box | None = None) -> Span:
    """Where a mode is turned on: a range (one that takes part in ``met``), else a link."""
    rows = craft.ranges_of(mode)
    if met:
        view = views(craft)[0]
        part = [r for r in rows if r.channel in met and view.of(r).overlaps(met[r.channel])]
        rows = tuple(part) or rows
    if rows:
        return _ends_of(rows[0])
    return next((link.span for link in craft.mode_links if link.mode == mode), craft.whole)


#: The scale of a picture: its first value and the step of one character, in µs.
_FROM_US, _STEP_US, _WIDE = 800, 28, 51


def _picture(craft: Craft, modes: tuple[str, ...]) -> str:
    """The ranges of some modes on the channels that they share, drawn to scale."""
    channels = [{row.channel for row in craft.ranges_of(mode)} for mode in modes]
    shared = sorted(set.intersection(*channels))
    view = views(craft)[0]
    lines: list[str] = []
    for channel in shared:
        lines.append(f"{f'channel {channel}':<16}{'800':<25}{'1500':<22}2200")
        for mode in modes:
            inside = union(view.of(r) for r in craft.ranges_of(mode) if r.channel == channel)
            marks = "".join(
                "=" if _FROM_US + step * _STEP_US in inside else "." for step in range(_WIDE)
            )
            lines.append(f"{mode:<16}{marks}")
    return "\n".join(lines)
