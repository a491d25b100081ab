"""The fleet: what is sound in one craft and a trap among several.

Two craft that answer to one name or send video on one frequency; an arm switch that is not where
the pilot's fingers look for it; firmware that the club no longer flies.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft import Missing, NotForThisCraft
from cfglint.craft.fleet import NAMED, index, named, usual
from cfglint.facts.versions import compare, order_key
from cfglint.rule import Finding, Option, Related, bad, fleet_rule, good, not_for, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, ModeRange
    from cfglint.rule import Options

NAME, FREQUENCY, FIRMWARE = "craft.name", "video.frequency_mhz", "craft.firmware"

#: Half-way along a channel: a range above it is high, one below it low.
MIDDLE_US = 1500


# ---------------------------------------------------------------- names and frequencies


@fleet_rule(
    "fleet/two-of-one-name",
    grade="fix",
    title="Two craft with the same name",
    why="""
    A log, a label on a battery or a note on the board that says only the name may be about
    either craft, and a dump copied from one craft to another for a start keeps the old name.
    """,
    source="common practice",
    asks=(NAME,),
    examples=(
        good('let name-given be "Avocet"', beside=('let name-given be "Bittern"',)),
        bad(
            """
            let name-given be "Avocet"
                              ^^^^^^^^ Avocet
            """,
            beside=('let name-given be "avocet"',),
        ),
        not_for('let name-given be "Avocet"'),
    ),
)
def two_of_one_name(craft: Craft, options: Options) -> Iterator[Finding]:
    _need_others(craft)
    mine = craft.get(NAME)
    twins = index(craft, _name).others_of(_name(craft))
    if twins:
        who = f"{len(twins)} other craft of the fleet are"
        if len(twins) == 1:
            who = "another craft of the fleet is"
        yield Finding(
            craft.place(mine),
            f"{who} called {craft.name} too: what is noted of one may be read as the other's",
            "give each craft a name of its own, in its dump and on its card",
            tuple(
                Related(other.place(other.get(NAME)), "the other one") for other in twins[:NAMED]
            ),
        )


def _name(craft: Craft) -> str:
    return " ".join(craft.name.split()).casefold()


@fleet_rule(
    "fleet/one-video-frequency",
    grade="fix",
    title="Two video senders on one frequency",
    why="""
    A second sender that is switched on beside the landing ground takes the picture from whoever
    is in the air on that frequency, without a warning.
    """,
    source="common practice",
    asks=(FREQUENCY,),
    options=(
        Option(
            "mhz",
            5.0,
            "how many MHz apart two frequencies must be",
            least=0.0,
            most=200.0,
        ),
    ),
    examples=(
        good("let video-mhz be 5800", beside=("let video-mhz be 5840",)),
        bad(
            """
            let video-mhz be 5800
                             ^^^^ 5800 5803
            """,
            beside=("let video-mhz be 5803",),
        ),
        bad(
            """
            let video-mhz be 5800
                             ^^^^ 5820
            """,
            beside=("let video-mhz be 5820", "let video-mhz be 5900"),
            options={"mhz": 25.0},
        ),
        unknown("let bell-magnet be 12", missing=FREQUENCY, beside=("let video-mhz be 5803",)),
        not_for("let video-mhz be 5800"),
        not_for("let video-mhz be 0", beside=("let video-mhz be 0",)),
    ),
)
def one_video_frequency(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    _need_others(craft)
    mine = craft.need(FREQUENCY)
    if not mine.value:
        raise NotForThisCraft("it sends no video")
    fleet = index(craft, _frequency)
    if fleet.silent:
        yield Missing(FREQUENCY, "dump", f"of {named(fleet.silent)}")
    close = fleet.others_between(mine.value - options.mhz, mine.value + options.mhz)
    if close:
        near = [(other, other.get(FREQUENCY)) for other in close[:NAMED]]
        told = ", ".join(f"{other.name} ({value})" for other, value in near)
        told += f" and {len(close) - NAMED} more" if close[NAMED:] else ""
        yield Finding(
            craft.place(mine),
            f"the video sender is on {mine}, as good as that of {told}: whoever is switched on "
            "second takes the other's picture",
            f"choose a video.frequency_mhz that is {options.mhz:g} MHz and more from the others",
            tuple(
                Related(other.place(value), f"the frequency of {other.name}")
                for other, value in near
            ),
        )


def _frequency(craft: Craft) -> float | None:
    mhz = craft.get(FREQUENCY).value
    if mhz == 0:
        raise NotForThisCraft("it sends no video")
    return float(mhz) if mhz is not None else None


# ---------------------------------------------------------------- the arm switch


@fleet_rule(
    "fleet/arm-the-odd-one-out",
    grade="fix",
    title="Arm switch unlike the rest of the fleet",
    why="""
    Fingers learn where the arm switch is and which way is off.  On the one craft where it is
    another switch, or goes the other way, the hand that means to stop the motors does not.
    """,
    source="common practice",
    asks=("mode.arm",),
    examples=(
        good(
            "use arm while channel 5 in 1677..2123",
            beside=(
                "use arm while channel 5 in 1604..2123",
                "use arm while channel 5 in 1783..2199",
                "use arm while channel 6 in 1783..2199",
            ),
        ),
        bad(
            """
            use arm while channel 6 in 1618..2205
                                  ^ channel 6 channel 5
            """,
            beside=(
                "use arm while channel 5 in 1618..2205",
                "use arm while channel 5 in 1618..2205",
            ),
        ),
        bad(
            """
            use arm while channel 5 in 742..1314
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ low high
            """,
            beside=(
                "use arm while channel 5 in 1628..2108",
                "use arm while channel 5 in 1628..2108",
            ),
        ),
        not_for("use beacon while channel 7 in 1669..2190"),
        not_for(
            "use arm while channel 5 in 1694..2232",
            beside=("use arm while channel 6 in 1694..2232",),
        ),
    ),
)
def arm_the_odd_one_out(craft: Craft, options: Options) -> Iterator[Finding]:
    channels, ways = _arm(craft)
    common = usual(craft, "mode.arm", _arm)
    if common.value == (channels, ways):
        return
    usual_channels, usual_ways = common.value
    row = craft.ranges_of("arm")[0]
    related = common.crafts[0]
    beside = (Related(related.ranges_of("arm")[0].span, f"as {related.name} has it"),)
    if channels != usual_channels:
        yield Finding(
            row.channel_span,
            f"arm is on channel {_listed(channels)}, on channel {_listed(usual_channels)} in "
            f"{common.names()}: a hand that is used to those reaches for the wrong switch",
            f"put arm on channel {_listed(usual_channels)}, or tell every pilot",
            beside,
        )
    else:
        yield Finding(
            row.span,
            f"arm is on where its channel is {_listed(ways)}{_position(craft, row)}, in "
            f"{common.names()} where it is {_listed(usual_ways)}"
            f"{_position(related, related.ranges_of('arm')[0])}: the move that stops those starts "
            "this one",
            "turn the range over, or tell every pilot",
            beside,
        )


def _arm(craft: Craft) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """The channels that arm is on, and whether they are then high or low.

    Which way a switch then points is the transmitter's affair, and the card's.
    """
    rows = craft.ranges_of("arm")
    if not rows:
        raise NotForThisCraft("no switch arms it")
    if len(rows) == 1:  # as nearly always; a fleet of hundreds asks this very often
        row = rows[0]
        return (row.channel,), ("high" if row.low_us + row.high_us >= 2 * MIDDLE_US else "low",)
    ways = {"high" if row.low_us + row.high_us >= 2 * MIDDLE_US else "low" for row in rows}
    return tuple(sorted({row.channel for row in rows})), tuple(sorted(ways))


def _position(craft: Craft, row: ModeRange) -> str:
    """What the card calls the switch's positions in a range, in brackets; "" where it does not."""
    names = [
        f"{name} of {switch.name}"
        for switch in getattr(craft, "switches", ())
        if switch.channel == row.channel
        for name, pulse in zip(switch.names, switch.positions, strict=False)
        if row.low_us <= pulse <= row.high_us
    ]
    return f" ({', '.join(names)})" if names else ""


def _listed(items: tuple[Any, ...]) -> str:
    return " and ".join(str(item) for item in items)


def _need_others(craft: Craft) -> None:
    if not craft.others:
        raise NotForThisCraft("it is the fleet's only craft")


# ---------------------------------------------------------------- firmware


def _floors(value: Any) -> str:
    """What is wrong with the option ``floors``."""
    for item in value:
        dialect, _, version = item.partition(" ") if isinstance(item, str) else ("", "", "")
        try:
            order_key(version.strip(), "dotted")
        except ValueError:
            return f"holds `{item}`, which is no dialect and version"
        if not dialect:
            return f"holds `{item}`, which names no dialect"
    return ""


@rule(
    "fleet/firmware-below-floor",
    grade="fix",
    title="Firmware older than the club flies",
    why="""
    A club that has settled on a version knows its faults and its defaults; on a craft left behind
    the same words can mean something else, and mended faults are still there.
    """,
    source="common practice",
    options=(
        Option(
            "floors",
            [],
            'a list of dialects with the oldest version flown, as in `["plain 7.10"]`',
            check=_floors,
        ),
    ),
    examples=(
        good(
            "-- board SLATE, firmware 7.10, full listing",
            options={"floors": ["terse 2.57", "plain 7.10"]},
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
                                     ^^^ 7.9 7.10
            """,
            options={"floors": ["plain 7.10"]},
        ),
        unknown("let bell-magnet be 18", missing=FIRMWARE, options={"floors": ["plain 7.10"]}),
        not_for("-- board SLATE, firmware 7.9, full listing"),
    ),
)
def firmware_below_floor(craft: Craft, options: Options) -> Iterator[Finding]:
    floors = dict(item.split(None, 1) for item in options.floors)
    floor = floors.get(craft.dialect)
    if floor is None:
        raise NotForThisCraft(f"no floor is set for {craft.dialect}")
    mine = craft.need(FIRMWARE)
    try:
        older = compare(mine.value, floor, craft.traits.version_order) < 0
    except ValueError:
        raise Missing(FIRMWARE, "dump", f"`{mine.value}` is no version to compare") from None
    if older:
        yield Finding(
            craft.place(mine),
            f"firmware {mine.value} is older than {floor}, the oldest that the club flies: its "
            "defaults and faults are others",
            f"update to {floor} or later as the maker says, and compare the dumps of before and "
            "after",
        )
