"""Whether a mode can be switched on, and off."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft import Missing, NotForThisCraft
from cfglint.rule import Finding, Related, bad, good, not_for, rule, unknown

from .._reach import always, decide, views
from ._places import ends_of, has_range, spot_of
from .ranges import from_to

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, ModeRange
    from cfglint.rule import Grade, Options


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
        if not has_range(craft, mode):
            continue
        try:
            on = _always(craft, mode)
        except Missing as gap:
            yield gap
            continue
        if on:
            yield Finding(
                spot_of(craft, mode),
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
    return f"its {which} in all that can come on channel {rows[0].channel} ({from_to(reach)})"


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
            if can_be_on(craft, mode) or not all(_enters(craft, row) for row in rows):
                continue
        except Missing as gap:
            yield gap
            continue
        led = [link.follows for link in craft.mode_links if link.mode == mode]
        dead = [each for each in led if not can_be_on(craft, each)]
        if dead:
            why = f"it follows {' and '.join(dead)}, which is never on"
            better = f"give {' and '.join(dead)} a range, or delete the line that follows it"
        else:
            why = "what it needs cannot hold at once"
            better = "let one range do, or put the ranges on different channels"
        first = spot_of(craft, mode)
        others = [span for row in rows if (span := ends_of(row)) != first]
        yield Finding(
            first,
            f"{mode} can never be on: {why}",
            better,
            tuple(Related(span, "must hold as well") for span in others),
        )


def can_be_on(craft: Craft, mode: str) -> bool:
    """Whether a mode can be on at all."""
    return decide(craft, lambda view: bool(view.on(mode)))


def _enters(craft: Craft, row: ModeRange) -> bool:
    return decide(craft, lambda view: view.of(row).overlaps(view.reach(row.channel)))
