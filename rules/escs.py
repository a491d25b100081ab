"""ESCs against each other: a craft flies on several, and takes them for one.

The card says of all of them at once what they can do (``[esc]``), and of one motor's where it
differs (``[motor.3]``, ``esc_firmware`` and the like).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.craft.card import OF_ONE_ESC
from cfglint.craft.model import show
from cfglint.rule import Finding, Related, bad, good, not_for, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options

#: What is told of each difference.
WHAT = {
    "esc.firmware": ("has firmware", "motors answer unlike to the same command"),
    "esc.signals": ("understands", "a signal that suits one leaves the other standing"),
    "esc.two_way": ("answers on the signal wire", "speeds come from some motors only"),
    "esc.reverses": ("reverses on command", "self-right turns motors against each other"),
}


@rule(
    "motor/escs-not-alike",
    grade="fix",
    title="ESCs that are not alike",
    why="""
    ESCs are replaced one at a time, from a box or a later batch.  Another firmware answers unlike
    to the same command, and what one can do another cannot: the craft pulls to one side, or one
    motor stands still while the others turn.  Only reading out each of them tells.
    """,
    source="common practice",
    examples=(
        good(
            "let motor-signal be dshot300",
            card="""
            [esc]
            firmware = "3.6"
            """,
        ),
        bad(
            "let motor-signal be dshot300",
            card="""
            [esc]
            firmware = "3.6"

            [motor.3]
            esc_firmware = "3.4"
                           ^^^^^ motor 3 3.4 3.6
            """,
        ),
        bad(
            "let motor-signal be dshot300",
            card="""
            [esc]
            firmware = "3.6"
            signals = ["dshot300", "dshot600"]

            [motor.2]
            esc_signals = ["dshot300"]
                          ^^^^^^^^^^^^ motor 2 dshot600
            """,
        ),
        bad(
            "let motor-signal be dshot300",
            card="""
            [airframe]
            motors = 2

            [motor.1]
            esc_firmware = "3.6"
            esc_reverses = true

            [motor.2]
            esc_firmware = "3.6"
            esc_reverses = false
                           ^^^^^ motor 2 no motor 1 yes
            """,
        ),
        unknown("let motor-signal be dshot300", missing="esc.firmware"),
        unknown(
            "let motor-signal be dshot300",
            missing="esc.firmware",
            card="""
            [airframe]
            motors = 4

            [motor.1]
            esc_firmware = "3.6"
            """,
        ),
        # The ESC of motor 4 is another one: what the others are says nothing of it.
        unknown(
            "let motor-signal be dshot300",
            missing="motor.4.esc_firmware",
            card="""
            [esc]
            firmware = "3.6"
            reverses = true

            [motor.4]
            esc_reverses = true
            """,
        ),
        unknown(
            "let loop-rate be 2500",
            missing="motor.signal",
            card="""
            [esc]
            firmware = "3.6"
            """,
        ),
        not_for("let motor-signal be brushed"),
    ),
)
def escs_not_alike(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Each motor's ESC has the firmware of the others, and can do what they can."""
    if craft.need("motor.signal").value == "brushed":
        raise NotForThisCraft("brushed motors have no ESCs")
    card = craft.card
    if card is None:
        raise Missing("esc.firmware", "card", "this craft has no card")
    every = {field: card.escs(field) for field in OF_ONE_ESC}
    single = sorted({motor for escs in every.values() for motor in escs if motor is not None})
    for field, escs in every.items():
        known = {motor: value for motor, value in escs.items() if value.known}
        # Where nothing is said of single ones, it is said of all alike, or not needed here.
        if len(known) < len(escs) and (len(escs) > 1 or field == "esc.firmware"):
            yield Missing(field, "card", "of every ESC, as read out from it")
        # An ESC of which anything is said by itself is not one of the others.
        for motor in single if None in known else ():
            if motor not in known:
                yield Missing(OF_ONE_ESC[field].replace("N", str(motor)), "card")
        if len(known) > 1:
            yield from _unlike(field, known)


def _unlike(field: str, known: dict[int | None, Value]) -> Iterator[Finding]:
    """A finding for each ESC that differs from what is said of the others, or of the first."""
    usual = None if None in known else min(motor for motor in known if motor is not None)
    rule_of = known[usual]
    whose = "the others" if usual is None else f"that of motor {usual}"
    what, harm = WHAT[field]
    for motor, value in known.items():
        if motor == usual or value.value == rule_of.value or value.span is None:
            continue
        yield Finding(
            value.span,
            f"the ESC of motor {motor} {what}: {show(field, value.value)}; {whose}: "
            f"{show(field, rule_of.value)}. {harm[0].upper()}{harm[1:]}",
            "fit ESCs of one kind and give all the same firmware, as their maker says; read out "
            "each one",
            (Related(rule_of.span, "said of the others here"),) if rule_of.span else (),
        )
