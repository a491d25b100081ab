"""What a setting means, apart from how firmware says it: for comparing and for carrying."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cfglint.craft.model import Craft, Value
    from cfglint.rule import Grade

#: What losing a setting costs, by the beginning of its name; the first that fits counts.
CONSEQUENCES: tuple[tuple[str, Grade, str], ...] = (
    ("motor.signal", "ground", "with the wrong signal some motors may spin and one not"),
    ("motor.two_way", "fix", "the controller no longer hears motor speeds, or waits for them"),
    ("motor.pulse_", "fix", "pulse ends no longer match what the ESCs are calibrated to"),
    ("board.", "ground", "gyro and frame no longer agree: the craft flips over on take-off"),
    ("frame.", "ground", "the wrong motors are driven: the craft flips over on take-off"),
    (
        "output.",
        "ground",
        "another motor is driven than is meant: the craft flips over on take-off",
    ),
    ("propellers.", "ground", "the craft spins up or flips over on take-off"),
    ("sensor.", "fix", "modes that keep level, height or place have less to go by"),
    ("home.", "fix", "home may be unknown when the craft is to fly there"),
    ("motor.", "fix", "the motors answer other than before"),
    ("loop.", "fix", "loop and motor signal may no longer fit together"),
    ("receiver.channel_order", "ground", "the sticks move other axes than before"),
    ("receiver.", "ground", "the receiver may be dead or misread"),
    ("failsafe.", "ground", "on a lost link the craft may fly on"),
    ("port.", "fix", "what is wired to the port may be dead"),
    ("channel.", "fix", "sticks and switches are measured other than before"),
    ("stick.", "fix", "arming and disarming by stick may fail"),
    ("battery.", "fix", "warnings come too early or too late"),
    ("video.", "fix", "the picture may be on another frequency, or in someone else's"),
    ("self-right.", "fix", "rolling back over pulls harder or weaker than before"),
    ("craft.board", "advise", "the board goes by another name"),
    ("craft.", "advise", "it names the craft"),
    ("mode", "ground", "a switch no longer does what the pilot's hands expect"),
)


def consequence(name: str) -> tuple[Grade, str]:
    """Grade and clause for a setting that is not as it was; ``mode …`` for mode ranges."""
    for start, grade, clause in CONSEQUENCES:
        if name.startswith(start):
            return grade, clause
    return "advise", "it has no meaning that cfglint knows; look it up"


def wire_inverted(craft: Craft, flag: bool) -> bool | None:
    """What an inversion flag says of the wire: True, inverted; None when nobody can tell.

    An absolute flag says it itself; a relative one says "other than usual for this link".
    """
    from cfglint.facts.links import LINKS

    sense = craft.traits.inversion
    if sense == "absolute":
        return flag
    link = craft.get("receiver.link")
    if sense is None or not link.known:
        return None
    usual = LINKS[link.value].idle_inverted
    return None if usual is None else usual != flag


def flag_for(craft: Craft, sense: str | None, inverted: bool) -> bool | None:
    """The flag of another sense for a wire that is (or is not) inverted; None if unknown."""
    from cfglint.facts.links import LINKS

    if sense == "absolute":
        return inverted
    link = craft.get("receiver.link")
    if sense is None or not link.known:
        return None
    usual = LINKS[link.value].idle_inverted
    return None if usual is None else usual != inverted


def same(one: Value, other: Value) -> bool:
    """Whether two values mean the same, as near as firmware stores them."""
    first, second = one.value, other.value
    if isinstance(first, int | float) and isinstance(second, int | float):
        return abs(first - second) <= 1e-6 * max(1.0, abs(first), abs(second))
    return bool(first == second)
