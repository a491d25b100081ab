"""Arm and self-right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import NotForThisCraft
from cfglint.rule import Finding, Related, bad, good, not_for, rule, unknown

from .._reach import View, both, bound, decide, meet, within
from ._places import has_range, picture_of, spot_of
from .lasting import can_be_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Grade, Options


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
        spot_of(craft, "self-right"),
        what,
        "put self-right on a switch of its own",
        (Related(spot_of(craft, "arm"), "arm is here"),),
        grade,
        picture=picture_of(craft, ("arm", "self-right")),
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
        spot_of(craft, "self-right"),
        "self-right is never on together with arm: the motors do not turn, and the craft can never "
        "right itself",
        "put self-right on a switch of its own",
        (Related(spot_of(craft, "arm"), "arm is here"),),
        picture=picture_of(craft, ("arm", "self-right")),
    )


def _arm_against_self_right(craft: Craft) -> tuple[bool, bool, bool]:
    """Can both be on; is self-right on wherever arm is; is arm on wherever self-right is."""
    if not has_range(craft, "self-right"):
        raise NotForThisCraft("self-right is on no switch")
    if not has_range(craft, "arm"):
        raise NotForThisCraft("arm is on no switch")
    if not can_be_on(craft, "arm") or not can_be_on(craft, "self-right"):
        raise NotForThisCraft("one of the two can never be on; other rules say why")

    def question(view: View) -> tuple[bool, bool, bool]:
        arm, turn = view.on("arm"), view.on("self-right")
        return meet(arm, turn), within(arm, turn, view), within(turn, arm, view)

    return decide(craft, question)
