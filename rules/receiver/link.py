"""The link that is set is the one that is fitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.links import LINKS, link_baud_within
from cfglint.rule import Finding, Put, bad, good, rule, unknown

from ._wiring import bauds_of, beside_value, listening, receiver_port
from .inversion import turns_of
from .speed import period_needed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options


@rule(
    "receiver/link-differs-from-card",
    grade="ground",
    title="Another link than the receiver speaks",
    why="""
    Links differ in speed, sense, frame and wires: a controller set to one hears nothing of
    another.
    """,
    source="common practice",
    examples=(
        good(
            "let receiver-link be sbus",
            card="""
            [receiver]
            link = "sbus"
            """,
        ),
        # The same link on one wire: a matter of the half-duplex setting, see there.
        good(
            "let receiver-link be crsf",
            card="""
            [receiver]
            link = "crsf-one-wire"
            """,
        ),
        bad(
            """
            let receiver-link be ibus
                                 ^^^^ ibus sbus
            """,
            card="""
            [receiver]
            link = "sbus"
            """,
        ),
        bad(
            """
            let receiver-link be crsf-one-wire
                                 ^^^^^^^^^^^^^ crsf-one-wire crsf
            """,
            card="""
            [receiver]
            link = "crsf"
            """,
        ),
        unknown("let receiver-link be sbus", missing="receiver.link"),
        unknown(
            "port 2 carries receiver",
            missing="receiver.link",
            card="""
            [receiver]
            link = "sbus"
            """,
        ),
    ),
)
def link_differs_from_card(craft: Craft, options: Options) -> Iterator[Finding]:
    """The configured link must be the card's."""
    link = craft.need("receiver.link")
    fitted = craft.from_card("receiver.link")
    if fitted.value in (link.value, f"{link.value}-one-wire"):
        return
    yield Finding(
        craft.place(link),
        f"the receiver's link is set to {link}, but the receiver speaks {fitted}: no frame of it "
        "is understood",
        f"set receiver.link to {fitted}, or put the card right",
        beside_value(fitted, "the link that the receiver speaks"),
        edits=_for_link(craft, fitted),
    )


def _for_link(craft: Craft, fitted: Value) -> tuple[Put, ...]:
    """The link, and what else the line needs for it: a link alone with another's speed is deaf."""
    row, rate = LINKS[fitted.value], craft.maybe_card("receiver.rate_hz").value
    puts: list[Put] = [Put("receiver.link", fitted.value.removesuffix("-one-wire"))]

    def serves(baud: float) -> bool:
        fits = link_baud_within(fitted.value, baud) == "good"
        return fits and (rate is None or period_needed(fitted.value, baud).us <= 1e6 / rate)

    puts += [
        Put(baud.name, float(row.bauds[0]))
        for baud in bauds_of(craft)
        if row.bauds and baud.value != row.bauds[0] and not serves(baud.value)
    ]
    flags = [craft.get("receiver.half_duplex"), *(port.half_duplex for port in listening(craft))]
    known = [flag for flag in flags if flag.known]
    one_wire = row.wires == "half duplex"
    # Of two flags that disagree nobody knows which counts.
    agreed = row.wires_too is not None and any(flag.value for flag in known) == one_wire
    if fitted.value != "ppm" and not agreed:
        puts += [Put(flag.name, one_wire) for flag in known if flag.value != one_wire]
    try:
        port = receiver_port(craft)
    except (Missing, NotForThisCraft):
        return tuple(puts)
    if row.idle_inverted is not None:
        turns = turns_of(craft, fitted, port)
        switchable = craft.maybe_card(f"port.{port.number}.inverter").value == "switchable"
        if turns.inverted and switchable and not turns.lacks:
            puts.append(Put(turns.flag.name, not turns.flag.value))
    return tuple(puts)
