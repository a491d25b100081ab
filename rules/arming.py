"""The arm switch: what kind of switch it is, and what else hangs on it.

One switch stops the motors, and a hand finds it without a look.  These rules ask whether that
hand can stop them by mistake, start them by mistake, or do something else besides.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.rule import Drop, Finding, Related, bad, good, not_for, rule, unknown
from cfglint.switches.intervals import union
from cfglint.switches.positions import STICKS, calibration_of

from ._reach import bound, decide, meet, seen, switches_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, ModeLink, ModeRange
    from cfglint.rule import Grade, Options
    from cfglint.switches.intervals import Intervals
    from cfglint.switches.positions import Place, Switch

    from ._reach import View

#: Modes that a pilot changes in flight, or that change how the craft flies.
IN_FLIGHT = (
    "self-level",
    "idle-authority",
    "hold-height",
    "hold-position",
    "return-home",
    "motor-stop",
)
#: Of these, what does harm even where it is on as long as the craft is armed, and how.
NEVER_WITH_ARM: dict[str, tuple[str, Grade]] = {
    "return-home": ("armed, the craft sets off for home by itself", "ground"),
    "motor-stop": (
        "armed, it is on, and motors stand still in the air when the throttle is closed",
        "fix",
    ),
}


# ---------------------------------------------------------------- the kind of switch


@rule(
    "switches/arm-springs-back",
    grade="ground",
    title="Arm on a switch that springs back",
    why="""
    A momentary switch is in its first position whenever nobody holds it.  Arm on the other one
    lasts as long as a finger does: let go in the air, the craft falls.
    """,
    source="common practice",
    examples=(
        good(
            "use arm while channel 5 in 1712..2144",
            card="""
            [[switch]]
            name = "K6"
            channel = 5
            positions_us = [1000, 2000]
            """,
        ),
        bad(
            """
            use arm while channel 5 in 1712..2144
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K6 springs back
            """,
            card="""
            [[switch]]
            name = "K6"
            channel = 5
            positions_us = [1000, 2000]
            momentary = true
            """,
        ),
        unknown("use arm while channel 5 in 1712..2144", missing="switch on channel 5"),
        not_for("use self-level while channel 6 in 1290..2044"),
    ),
)
def arm_springs_back(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No switch that arm hangs on springs back to where it is off."""
    for row, switch, on in _arm_switches(craft):
        if isinstance(switch, Missing):
            yield switch
        elif switch.momentary and not on[0]:
            yield Finding(
                row.span,
                f"arm is on {switch.name}, which springs back to {switch.places[0].name}, where "
                "it is off: let go in the air, the motors stop",
                "put arm on a switch that stays where it is put",
                _at(switch),
            )


@rule(
    "switches/arm-in-the-middle",
    grade="fix",
    title="Arm in the middle of a switch",
    why="""
    A hand that disarms pushes the switch to its end without a look.  The middle is found only by
    feel: flicked too far the craft disarms in the air, and flicked back it arms on the way.
    Where arm is on in the middle and at one end, half a flick arms (grade `advise`).
    """,
    source="common practice",
    examples=(
        good(
            "use arm while channel 6 in 1718..2155",
            card="""
            [[switch]]
            name = "K4"
            names = ["up", "middle", "down"]
            channel = 6
            positions_us = [1000, 1500, 2000]
            """,
        ),
        bad(
            """
            use arm while channel 6 in 1305..1695
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K4 middle neither end
            """,
            card="""
            [[switch]]
            name = "K4"
            names = ["up", "middle", "down"]
            channel = 6
            positions_us = [1000, 1500, 2000]
            """,
        ),
        bad(
            """
            use arm while channel 6 in 1305..2120
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K4 middle half a flick
            """,
            card="""
            [[switch]]
            name = "K4"
            names = ["up", "middle", "down"]
            channel = 6
            positions_us = [1000, 1500, 2000]
            """,
        ),
        unknown("use arm while channel 6 in 1305..1695", missing="switch on channel 6"),
        not_for("use self-level while channel 6 in 1290..2044"),
    ),
)
def arm_in_the_middle(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Where a switch has more than two positions, arm is on at an end only."""
    for row, switch, on in _arm_switches(craft):
        if isinstance(switch, Missing):
            yield switch
            continue
        between = [place.name for place, lit in _between(switch, on) if lit]
        if not between:
            continue
        ends = on[0] or on[-1]
        yield Finding(
            row.span,
            f"arm is on at {' and '.join(between)} of {switch.name}"
            + (
                ", not at its end only: half a flick arms the craft"
                if ends
                else " and at neither end: a flick too far disarms in the air, and the way back "
                "arms"
            ),
            "put arm at one end of a switch of two positions",
            _at(switch),
            grade="advise" if ends else None,
        )


def _between(switch: Switch, on: tuple[bool, ...]) -> list[tuple[Place, bool]]:
    """The positions that lie between a switch's ends, by their pulses."""
    rows = sorted(zip(switch.places, on, strict=True), key=lambda row: row[0].sent_us)
    return rows[1:-1]


def _at(switch: Switch) -> tuple[Related, ...]:
    return (Related(switch.span, "the switch"),) if switch.span is not None else ()


def _arm_switches(
    craft: Craft,
) -> Iterator[tuple[ModeRange, Switch | Missing, tuple[bool, ...]]]:
    """Each channel that arm hangs on: its first range, its switch, and where the ranges hold.

    Sticks are left to modes/range-on-a-stick.  Positions on the edge of a range count as on.
    """
    rows = _arm_rows(craft)
    if not rows:
        raise NotForThisCraft("arm has no range")
    for channel in sorted({row.channel for row in rows} - {*range(1, STICKS + 1)}):
        here = [row for row in rows if row.channel == channel]
        switches = switches_of(craft).get(channel)
        if not switches:
            yield here[0], Missing(f"switch on channel {channel}", "card"), ()
            continue
        for switch in switches:
            on = tuple(_holds(craft, here, place) for place in switch.places)
            yield here[0], switch, on


def _holds(craft: Craft, rows: Iterable[ModeRange], place: Place) -> bool:
    """Whether any of the ranges can hold what a position brings."""
    rows = tuple(rows)

    def inside(view: View) -> bool:
        values = seen(calibration_of(craft, rows[0].channel), place.band.hull())
        return any(values & view.of(row) for row in rows)

    return decide(craft, inside)


def _arm_rows(craft: Craft) -> list[ModeRange]:
    """The ranges of arm and of every mode that it follows."""
    wanted = ["arm"]
    for each in wanted:
        wanted += [
            link.follows
            for link in craft.mode_links
            if link.mode == each and link.follows not in wanted
        ]
    return [row for mode in wanted for row in craft.ranges_of(mode)]


# ---------------------------------------------------------------- what else is on it


@rule(
    "switches/arm-switch-shared",
    grade="ground",
    title="A flight mode on the arm switch",
    why="""
    A pilot works flight modes in the air without a thought.  On the arm switch, one flick too far
    for a mode stops the motors.  A mode that is on as long as the craft is armed does no harm,
    since nobody flicks for it; but return-home would set off as soon as the craft is armed, and
    motor-stop would stand motors still in the air (grade `fix`).
    """,
    source="common practice",
    examples=(
        good(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1708..2131
            use self-level while channel 6 in 1290..2044
            """
        ),
        # On as long as the craft is armed.
        good(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1708..2131
            use self-level while channel 5 in 1303..2131
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 6 in 1308..2131
            use self-level while channel 6 in 1688..2131
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ self-level channel 6 arm
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1708..2131
            use return-home while channel 5 in 1708..2131
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ return-home home by itself
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1708..2131
            use props-rest along with arm
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ motor-stop stand still
            """
        ),
        unknown(
            """
            use arm while channel 5 in 1708..2131
            use self-level while channel 5 in 1708..1960
            """,
            missing="receiver.link",
        ),
        not_for("use self-level while channel 6 in 1290..2044"),
    ),
)
def arm_switch_shared(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """On arm's channels a mode of flight is on wherever arm is, or is not there."""
    arm = _arm_rows(craft)
    if not arm:
        raise NotForThisCraft("arm has no range")
    channels = {row.channel for row in arm if row.mode == "arm"} or {row.channel for row in arm}
    links = [row for row in craft.mode_links if row.follows == "arm"]
    for mode in IN_FLIGHT:
        harm = NEVER_WITH_ARM.get(mode)
        rows = [row for row in craft.ranges_of(mode) if row.channel in channels]
        if harm is not None:
            found: list[ModeRange | ModeLink] = [*rows]
            found += [link for link in links if link.mode == mode]
            if found:
                yield _shared_with_arm(found[0], mode, *harm, arm[0])
            continue
        for channel in sorted({row.channel for row in rows}):
            here = [row for row in rows if row.channel == channel]
            over = [row for row in arm if row.channel == channel]
            try:
                covered = decide(craft, partial(_covers, over, here))
            except Missing as gap:
                yield gap
                continue
            if not covered:
                what = "a flick for it stops the motors, or one to disarm changes how it flies"
                yield _shared_with_arm(here[0], mode, what, None, over[0])


def _shared_with_arm(
    row: ModeRange | ModeLink, mode: str, harm: str, grade: Grade | None, arm: ModeRange
) -> Finding:
    where = f"on channel {arm.channel}, the arm switch's"
    return Finding(
        row.span,
        f"{mode} is {where}: {harm}",
        f"put {mode} on a switch of its own",
        (Related(arm.span, "arm is here"),) if arm.span != row.span else (),
        grade,
    )


def _covers(arm: list[ModeRange], mode: list[ModeRange], view: View) -> bool:
    """Whether all that arms, of what can come on the channel, has the mode on too."""
    reach = view.reach(arm[0].channel)
    return _area(view, arm) & reach <= _area(view, mode)


def _area(view: View, rows: list[ModeRange]) -> Intervals:
    return union(view.of(row) for row in rows)


@rule(
    "modes/permit-comes-with-arm",
    grade="fix",
    title="One flick gives the permit and arms",
    why="""
    The permit is a second step, so that no single flick starts the motors.  On arm's own switch,
    or following arm, it is given by the very flick that arms, and there might as well be none.
    """,
    source="common practice",
    examples=(
        good(
            """
            let receiver-link be sbus
            use arm-permit while channel 10 in 1720..2140
            use arm while channel 5 in 1720..2140
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm-permit while channel 5 in 1340..2140
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ permit channel 5 flick
            use arm while channel 5 in 1720..2140
            """
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1720..2140
            use arm-permit along with arm
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ permit channel 5 flick
            """
        ),
        unknown(
            """
            use arm-permit while channel 5 in 1960..2140
            use arm while channel 5 in 1960..2140
            """,
            missing="receiver.link",
        ),
        not_for("use arm while channel 5 in 1720..2140"),
    ),
)
def permit_comes_with_arm(craft: Craft, options: Options) -> Iterator[Finding]:
    """No flick of one switch turns on arm and its permit both."""
    rows: tuple[ModeRange | ModeLink, ...] = (*craft.mode_ranges, *craft.mode_links)
    permit = next((row for row in rows if row.mode == "arm-permit"), None)
    arm = next((row for row in rows if row.mode == "arm"), None)
    if permit is None or arm is None:
        raise NotForThisCraft("arm and its permit are not both set up")
    channels = decide(craft, _one_switch)
    if channels:
        yield Finding(
            permit.span,
            f"the permit and arm both hang on channel {channels[0]} alone: one flick gives the "
            "permit and starts the motors",
            "put the permit on a switch of its own",
            (Related(arm.span, "arm is here"),),
        )


def _one_switch(view: View) -> tuple[int, ...]:
    """The one channel on which arm and permit hang, if they do and meet; else nothing."""
    arm, permit = view.on("arm"), view.on("arm-permit")
    for one in arm:
        for two in permit:
            channels = bound(one, view)
            if len(channels) == 1 and channels == bound(two, view) and meet([one], [two]):
                return tuple(channels)
    return ()


# ---------------------------------------------------------------- links


#: A mode that the controller turns on by itself, so that one may follow it without a switch.
BY_ITSELF = "lost-link"


@rule(
    "modes/link-leads-nowhere",
    grade="fix",
    title="A mode that follows one without a switch",
    why="""
    A mode may follow another and then needs no range.  If that other one has none either, or two
    follow each other in a ring, or one follows itself, nothing ever turns them on.  The failsafe
    comes on by itself, so it may be followed all the same.
    """,
    source="by arithmetic",
    examples=(
        good(
            """
            use self-right while channel 8 in 1735..2140
            use beacon along with self-right
            """
        ),
        good("use beacon along with lost-link"),
        bad(
            """
            use arm while channel 5 in 1735..2140
            use beacon along with self-right
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ beacon self-right no range
            """
        ),
        bad(
            """
            use beacon while channel 7 in 1735..2140
            use beacon along with beacon
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^ beacon itself
            """
        ),
        bad(
            """
            use beacon along with lights
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^ beacon lights no range
            use lights along with beacon
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^ lights beacon no range
            """
        ),
        not_for("use arm while channel 5 in 1735..2140"),
    ),
)
def link_leads_nowhere(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Each link's other mode is turned on by a range, if need be over further links."""
    if not craft.mode_links:
        raise NotForThisCraft("no mode follows another")
    for link in craft.mode_links:
        if link.follows == link.mode:
            yield Finding(
                link.span,
                f"{link.mode} follows itself: that turns nothing on",
                "name the mode that it is meant to follow, or delete the line",
                choices=(Drop(link.span),),
            )
            continue
        reached = _followed(craft, link.follows)
        if any(row.mode in reached for row in craft.mode_ranges) or BY_ITSELF in reached:
            continue
        if "arm" in reached and craft.traits.arm_by_sticks is not False:
            if craft.traits.arm_by_sticks is None and not craft.ranges_of("arm"):
                yield Missing("traits.arm_by_sticks", "dialect", "arm has no range")
            continue
        lost = [f"mode {mode}" for mode in reached if f"mode {mode}" in craft.unmapped]
        if lost or "range" in craft.unmapped:
            fact = f"modes.{lost[0].partition(' ')[2]}" if lost else "rows.range"
            yield Missing(fact, "dialect", "a range may be there and not be understood")
            continue
        unread = craft.unread_modes()
        if unread:
            yield Missing(unread[0].fact, unread[0].where, unread[0].text)
        else:
            yield _leads_nowhere(link)


def _leads_nowhere(link: ModeLink) -> Finding:
    return Finding(
        link.span,
        f"{link.mode} follows {link.follows}, which no range turns on: the link does nothing",
        f"give {link.follows} a range on a switch, or {link.mode} one of its own",
    )


def _followed(craft: Craft, mode: str) -> list[str]:
    """A mode and all that it follows."""
    found = [mode]
    for each in found:
        found += [
            link.follows
            for link in craft.mode_links
            if link.mode == each and link.follows not in found
        ]
    return found
