"""Whether the craft can be armed at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.rule import Example, Finding, Related, bad, good, not_for, rule, unknown

from .._reach import View, decide, meet
from ._places import has_range, picture_of, spot_of
from .lasting import can_be_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Options


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
    if has_range(craft, "arm"):
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
    if not has_range(craft, "arm"):
        raise NotForThisCraft("arm is on no switch")
    if not has_range(craft, "arm-permit"):
        if craft.trait("arm_needs_permit"):
            _can_be_said(craft, "arm-permit")
            yield Finding(
                craft.whole,
                "this firmware arms only while arm-permit is on, and no range turns it on: the arm "
                "switch does nothing",
                "give arm-permit a range on a switch of its own",
            )
        return
    if not can_be_on(craft, "arm") or not can_be_on(craft, "arm-permit"):
        raise NotForThisCraft("one of the two can never be on; other rules say why")

    def meeting(view: View) -> bool:
        return meet(view.on("arm"), view.on("arm-permit"))

    if not decide(craft, meeting):
        yield Finding(
            spot_of(craft, "arm-permit"),
            "arm-permit is never on where arm is: the arm switch does nothing",
            "let the ranges overlap, or put arm-permit on a switch of its own",
            (Related(spot_of(craft, "arm"), "arm is here"),),
            picture=picture_of(craft, ("arm", "arm-permit")),
        )
