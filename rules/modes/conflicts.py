"""Modes that must not meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.modes import CONFLICTS
from cfglint.rule import Finding, Related, bad, good, not_for, rule, unknown

from .._reach import View, both, bound, decide, views
from ._places import has_range, picture_of, spot_of
from .ranges import from_to

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.facts.modes import Conflict
    from cfglint.rule import Options

    from .._reach import Box


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
        pair for pair in CONFLICTS if has_range(craft, pair.one) and has_range(craft, pair.two)
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
                spot_of(craft, pair.one, met),
                f"{pair.one} and {pair.two} are on together{_where(met)}: {pair.reason}",
                "let the ranges not overlap, or put the two on different switches",
                (Related(spot_of(craft, pair.two, met), f"{pair.two} is here"),),
                "fix" if pair.senseless else "advise",
                picture=picture_of(craft, (pair.one, pair.two)),
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
    parts = [f"channel {channel} brings {from_to(values)}" for channel, values in met.items()]
    return " while " + " and ".join(parts)
