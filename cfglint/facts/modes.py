"""Modes that contradict each other: which pairs, why, and where that is from."""

from __future__ import annotations

from typing import NamedTuple

from cfglint.facts.table import Mark


class Conflict(NamedTuple):
    """Two modes that should not be on at once, and why.

    ``senseless``: they make no sense together, whatever else is set; otherwise they do only as
    long as the throttle is up.
    """

    one: str
    two: str
    senseless: bool
    reason: str
    source: str
    mark: Mark


def _never(one: str, two: str, reason: str) -> Conflict:
    return Conflict(one, two, True, reason, "common practice", "common practice")


def _drops(two: str) -> Conflict:
    reason = "with the throttle at its lowest the motors may stand still where they should carry it"
    return Conflict("motor-stop", two, False, reason, "common practice", "common practice")


_REVERSED = "a craft cannot steer itself with reversed motors"

CONFLICTS = (
    _never("self-right", "return-home", _REVERSED),
    _never("self-right", "hold-position", _REVERSED),
    _never("self-right", "hold-height", _REVERSED),
    _never("self-right", "lost-link", "a failsafe cannot be flown with reversed motors"),
    _never(
        "motor-stop",
        "idle-authority",
        "at zero throttle one stands the motors still and the other keeps them stabilising",
    ),
    _drops("hold-height"),
    _drops("hold-position"),
    _drops("return-home"),
)
