"""Flying over water that comes and goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.signals import SIGNALS
from cfglint.rule import Edit, Finding, Option, Related, bad, good, not_for, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Options


@rule(
    "tide/idle-too-high",
    grade="fix",
    title="Idle too high for the raft",
    why="""
    A craft that idles fast slides off the wet raft before it takes off.
    """,
    source="common practice",
    options=(
        Option("most_percent", 8.0, "highest idle, % of full throttle", least=0.0, most=100.0),
        Option("place", "raft", "where the craft takes off"),
    ),
    confidence="likely",
    aliases=("tide/high-idle",),
    examples=(
        good("let motor-idle be 5.2"),
        good("let motor-idle be 12", options={"most_percent": 15.0}),
        bad(
            """
            let motor-signal be dshot300
            let motor-idle be 12
                              ^^ 12% 8% raft
            """
        ),
        bad(
            """
            let motor-idle be 12
                              ^^ mud
            """,
            options={"place": "mud"},
        ),
        unknown("let motor-signal be dshot300", missing="motor.idle_percent"),
    ),
)
def idle_too_high(craft: Craft, options: Options) -> Iterator[Finding]:
    idle = craft.need("motor.idle_percent")
    if idle.value <= options.most_percent:
        return
    signal = craft.get("motor.signal")
    related = ()
    if signal.known and signal.span is not None and signal.value in SIGNALS:
        related = (Related(signal.span, f"the signal is {signal}"),)
    fix = ()
    if idle.origin == "set" and idle.span is not None:
        fix = (Edit(idle.span, f"{options.most_percent:g}"),)
    yield Finding(
        craft.place(idle),
        f"idle is {idle}, above {options.most_percent:g}%: the craft slides off the "
        f"{options.place}",
        instead=f"set motor.idle_percent to {options.most_percent:g} or less",
        related=related,
        fix=fix,
        picture="slides ->",
    )


@rule(
    "tide/no-beacon",
    grade="advise",
    title="Nothing to find the craft by",
    why="What falls into the reeds is found by its sound or not at all.",
    source="common practice",
    examples=(
        good("use beacon while channel 6 in 1655..2095"),
        good("use beacon along with lost-link"),
        bad(
            """
            use log while channel 6 in 1655..2095
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ beacon
            """,
            card="""
            [airframe]
            kind = "stabilised"
            """,
        ),
        unknown("use log while channel 6 in 1655..2095", missing="airframe.kind"),
        not_for(
            "use log while channel 6 in 1655..2095",
            card="""
            [airframe]
            kind = "unstabilised"
            """,
        ),
    ),
)
def no_beacon(craft: Craft, options: Options) -> Iterator[Finding]:
    if craft.ranges_of("beacon") or any(link.mode == "beacon" for link in craft.mode_links):
        return
    kind = craft.from_card("airframe.kind")
    if kind.value == "unstabilised":
        raise NotForThisCraft("it never flies out of sight")
    yield Finding(craft.whole, "no switch sounds the beacon", grade="fix")


@rule(
    "tide/link-off-its-port",
    grade="ground",
    title="A receiver's port that is not the one in the card",
    why="The salt has eaten port 1 on every board of ours.",
    source="common practice",
    aliases=("tide/port-one", "tide/salted-port"),
    examples=(
        good("port 2 carries receiver"),
        bad(
            """
            port 1 carries receiver
                           ^^^^^^^^ port 1
            """
        ),
        unknown("let motor-idle be 5", missing="port.N.functions"),
    ),
)
def link_off_its_port(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    ports = craft.ports()
    if not ports:
        yield Missing("port.N.functions", "dump", "no port is mentioned")
    for port in ports:
        if port.number == 1 and port.functions.known and "receiver" in port.functions.value:
            yield Finding(craft.place(port.functions), "the receiver is on port 1")
