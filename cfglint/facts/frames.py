"""How multirotors are built: motors on each kind of frame, where they sit, which way they turn.

All of it is common practice; the words are defined in :mod:`cfglint.craft.settings`, whose table
lists them too (facts import no craft, so a test holds the two together).

Propellers that turn in pairs of opposite ways cancel their torque: round a frame with one motor an
arm the ways alternate, and where two share an arm the lower one turns against the upper.
"""

from __future__ import annotations

from typing import Literal

Turn = Literal["clockwise", "counter-clockwise"]

_X_ARMS = ("front-right", "rear-right", "rear-left", "front-left")
_ROUND = ("front", "front-right", "right", "rear-right", "rear", "rear-left", "left", "front-left")

#: Places of motors by kind of frame, clockwise from the nose as seen from above.
#: Of a frame with eight arms, none ahead, the arm just left of the nose is called `front`, and so
#: on round.
FRAME_PLACES: dict[str, tuple[str, ...]] = {
    "tri": ("front-right", "rear", "front-left"),
    "quad-x": _X_ARMS,
    "quad-plus": ("front", "right", "rear", "left"),
    "hex-x": ("front-right", "right", "rear-right", "rear-left", "left", "front-left"),
    "hex-plus": ("front", "front-right", "rear-right", "rear", "rear-left", "front-left"),
    "y6": tuple(
        f"{arm}-{level}"
        for arm in ("front-right", "rear", "front-left")
        for level in ("upper", "lower")
    ),
    "octo-x": _ROUND,
    "octo-plus": _ROUND,
    "x8": tuple(f"{arm}-{level}" for arm in _X_ARMS for level in ("upper", "lower")),
}

#: Frames with a front pair of which the rest follows by turns alternating round the craft.
_ALTERNATING = ("quad-x", "hex-x", "x8")


def turn_of(frame: str, front_pair: str, place: str) -> Turn | None:
    """Which way a motor turns, from above; None where the frame does not settle it.

    ``front_pair`` is `inwards` (the one at the front left turns clockwise) or `outwards`.
    """
    places = FRAME_PLACES[frame]
    if frame not in _ALTERNATING or place not in places:
        return None
    arm = place.removesuffix("-upper").removesuffix("-lower")
    arms = list(dict.fromkeys(one.removesuffix("-upper").removesuffix("-lower") for one in places))
    # Counted from the front left one, which is the last of them.
    against = (len(arms) - 1 - arms.index(arm)) % 2 == 1
    against ^= place.endswith("-lower")
    against ^= front_pair == "outwards"
    return "counter-clockwise" if against else "clockwise"
