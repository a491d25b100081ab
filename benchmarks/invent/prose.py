"""Comments: remarks that say nothing, and hints that explain code numbers."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from invent.model import Spell
from invent.words import VALUES

if TYPE_CHECKING:
    from invent.plan import Plan

_REMARKS = (
    "saved after the spring overhaul, new props since",
    "checked on the bench with props off",
    "do not edit by hand unless you know what it does",
    "values in this part were tuned in calm weather",
    "see the club's notebook for the reasons",
    "third set of arms, second stack",
    "all angles in degrees",
    "lines below are written by the controller",
)


def remarks(rng: Random, count: int) -> list[str]:
    """Sentences without meaning for any setting."""
    return rng.sample(_REMARKS, count)


def dated(rng: Random) -> str:
    """A line that says when a dump was made, or of which build it is."""
    day = f"2026-{rng.randint(1, 11):02}-{rng.randint(1, 28):02}"
    return rng.choice(
        (
            f"made {day} {rng.randint(8, 19)}:{rng.randint(10, 59)}",
            f"taken {day}",
            f"{day} {rng.getrandbits(28):07x}",
            f"sum {rng.getrandbits(32):08x}",
        )
    )


_UNITS = {
    "cv": "voltages in hundredths of a volt",
    "dv": "voltages in tenths of a volt",
    "mv": "voltages in millivolts",
    "ms": "times in milliseconds",
    "ds": "times in tenths of a second",
    "permille": "idle in tenths of a percent",
    "x100": "idle in hundredths of a percent",
    "khz": "rates in kHz",
    "period": "loop as a period in microseconds",
}


def units(plan: Plan) -> list[str]:
    """Remarks on the units that values are in, where the author cares to say."""
    used = dict.fromkeys(item.spell.unit for item in plan.items)
    return [_UNITS[unit] for unit in used if unit in _UNITS]


def steps(plan: Plan, spell: Spell) -> str:
    """A comment that says in what steps the ends of ranges are written."""
    rng = Random(f"steps {plan.half} {plan.seed}")
    said = rng.choice(
        (
            f"ends in steps of {spell.scale:g} us from {spell.offset:g}",
            f"ends are {spell.offset:g} + {spell.scale:g} x n us",
            f"a step is {spell.scale:g} us, counted from {spell.offset:g}",
        )
    )
    return f"{plan.shape.comment.strip()} {said}"


def hint(plan: Plan, setting: str, spell: Spell) -> str:
    """A comment that says what the code numbers of a setting mean."""
    rng = Random(f"hint {plan.half} {plan.seed} {setting}")
    joint = rng.choice((" = ", "=", ": ", " "))
    mark = plan.shape.comment.strip()
    if spell.mask:
        pairs = [(str(1 << bit), word) for word, bit in spell.mask.items()]
    else:
        pairs = [(code, word) for word, code in spell.words.items()]
    ideas = VALUES.get(setting, {})
    shown = []
    for code, word in pairs:
        said = rng.choice(ideas[word].words(plan.half)) if word in ideas else word
        shown.append(f"{code}{joint}{said.replace(' ', plan.spelled.sep or '-')}")
    last = setting.rpartition(".")[2].replace("_", " ")
    lead = {"mode": "modes", "port.N.functions": "uses"}.get(setting, last)
    return f"{mark} {lead}{rng.choice((': ', ' - ', ' '))}{', '.join(shown)}"
