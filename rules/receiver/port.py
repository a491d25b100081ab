"""A receiver is set, on one port and the right one, with nothing else on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft, Port, listed
from cfglint.facts.links import LINKS, link_baud_within
from cfglint.facts.wiring import soldered
from cfglint.rule import Finding, Put, bad, good, not_for, rule, unknown

from ._wiring import all_ports_known, beside_value, carriers_of, receiver_port

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options


@rule(
    "receiver/none-set",
    grade="ground",
    title="No receiver is set",
    why="""
    Without a port that carries the receiver the controller hears nobody: the craft does not arm
    or, worse, does what its failsafe says from the first second.  A controller often comes back
    so from a reset or an update.
    """,
    source="common practice",
    examples=(
        good(
            """
            let receiver-link be sbus
            port 1 carries telemetry
            port 2 carries receiver
            """
        ),
        # Some firmware names the port by itself; whether the two agree is another rule.
        good(
            """
            let receiver-link be sbus
            let receiver-port be 2
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no port receiver
            port 1 carries telemetry
            port 2 carries nothing
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let receiver-link be sbus
                                 ^^^^ sbus no port
            """
        ),
        unknown("let receiver-link be sbus", missing="port.N.functions"),
        unknown("port 2 carries receiver", missing="receiver.link"),
        not_for("let receiver-link be ppm"),
    ),
)
def none_set(craft: Craft, options: Options) -> Iterator[Finding]:
    """Some port must carry the receiver, and a link must be named."""
    link = craft.get("receiver.link")
    if link.value == "ppm":
        raise NotForThisCraft("a pulse train comes in on a pin of its own, not on a port")
    if carriers_of(craft) or craft.get("receiver.port").known:
        craft.need("receiver.link")
        return
    all_ports_known(craft)
    fitted = craft.maybe_card("receiver.port")
    yield Finding(
        craft.place(link),
        f"the receiver's link is {link}, but no port carries the receiver: the controller hears "
        "nobody"
        if link.known
        else "no port carries the receiver and no link is set: the controller hears nobody",
        f"set port {fitted.value} to carry the receiver"
        if fitted.known
        else "put the receiver on the port that it is soldered to",
        edits=_put_on(craft, fitted),
    )


def _put_on(craft: Craft, fitted: Value) -> tuple[Put, ...]:
    """The receiver on the port that it is soldered to, if nothing else is there, with its speed."""
    link, there = craft.get("receiver.link"), craft.get(f"port.{fitted.value}.functions")
    if not (fitted.known and link.known and there.known) or there.value - {"telemetry"}:
        return ()
    puts = [Put(there.name, frozenset({"receiver", *there.value}))]
    baud, bauds = craft.get(f"port.{fitted.value}.baud"), LINKS[link.value].bauds
    if baud.known and bauds and link_baud_within(link.value, baud.value) != "good":
        puts.append(Put(baud.name, float(bauds[0])))
    return tuple(puts)


@rule(
    "receiver/claimed-by-two-ports",
    grade="ground",
    title="More than one port claims the receiver",
    why="""
    There is one receiver.  Where two ports claim it, the controller listens to whichever it comes
    to first, or to neither, and an update can change which.
    """,
    source="common practice",
    examples=(
        good(
            """
            port 1 carries telemetry
            port 2 carries receiver
            """
        ),
        good("let receiver-port be 2"),
        bad(
            """
            port 1 carries receiver
            port 2 carries gps
            port 3 carries receiver,telemetry
                           ^^^^^^^^^^^^^^^^^^ ports 1 and 3
            """
        ),
        bad(
            """
            port 1 carries receiver
                           ^^^^^^^^ ports 1 and 3
            port 3 carries receiver
            """,
            card="""
            [receiver]
            port = 3
            """,
        ),
        unknown("let receiver-link be sbus", missing="port.N.functions"),
        not_for(
            """
            port 1 carries telemetry
            port 2 carries nothing
            """
        ),
    ),
)
def claimed_by_two_ports(craft: Craft, options: Options) -> Iterator[Finding]:
    """At most one port may carry the receiver; the one it is soldered to is the one to keep."""
    carriers = carriers_of(craft)
    if len(carriers) < 2:
        if not carriers and craft.get("receiver.port").known:
            return
        all_ports_known(craft)
        if not carriers:
            raise NotForThisCraft("no port carries the receiver")
        return
    fitted = craft.maybe_card("receiver.port").value
    keep = next((port for port in carriers if port.number == fitted), carriers[0])
    numbers = listed([str(port.number) for port in carriers])
    for port in carriers:
        if port is not keep:
            yield Finding(
                craft.place(port.functions),
                f"ports {numbers} all claim the receiver: the controller may listen to the wrong "
                "one or to neither"
                if len(carriers) > 2
                else f"ports {numbers} both claim the receiver: the controller may listen to the "
                "wrong one or to neither",
                "take it off every port but the one that it is soldered to",
                beside_value(keep.functions, f"port {keep.number} claims it too"),
                edits=(Put(port.functions.name, port.functions.value - {"receiver"}),)
                if keep.number == fitted
                else (),
            )


@rule(
    "receiver/port-shared",
    grade="ground",
    title="The receiver shares its port with something else",
    why="""
    A port has one line speed, one sense and one set of wires, and the receiver's link prescribes
    them all.  Whatever else is put on that port either drives the receiver out or never works.
    Telemetry alone may share it, where the link carries both directions; beside a one-way link it
    must at least put up with the receiver's line settings.
    """,
    source="common practice",
    examples=(
        good("port 2 carries receiver"),
        good(
            """
            let receiver-link be crsf
            port 2 carries receiver,telemetry
            """
        ),
        bad(
            """
            port 2 carries receiver,gps
                           ^^^^^^^^^^^^ port 2 gps
            """
        ),
        bad(
            """
            let receiver-link be crsf
            port 2 carries receiver,telemetry,log
                           ^^^^^^^^^^^^^^^^^^^^^^ log
            """
        ),
        bad(
            """
            let receiver-link be sbus
            port 2 carries receiver,telemetry
                           ^^^^^^^^^^^^^^^^^^ sbus one way telemetry
            """
        ),
        unknown("port 2 carries receiver,telemetry", missing="receiver.link"),
        unknown("let receiver-link be sbus", missing="port.N.functions"),
        not_for("port 2 carries gps"),
    ),
)
def port_shared(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Nothing but telemetry on the receiver's port, and that only on a two-way link."""
    carriers = carriers_of(craft)
    if not carriers:
        all_ports_known(craft)
        raise NotForThisCraft("no port carries the receiver")
    for port in carriers:
        others = sorted(port.functions.value - {"receiver", "telemetry"})
        if others:
            yield Finding(
                craft.place(port.functions),
                f"port {port.number} carries {listed(others)} beside the receiver: one of them "
                "drives the other out",
                f"put {listed(others)} on another port",
            )
        elif "telemetry" in port.functions.value:
            link = craft.get("receiver.link")
            if not link.known:
                yield Missing("receiver.link", "dump")
            elif LINKS[link.value].wires == "one way":
                yield Finding(
                    craft.place(port.functions),
                    f"{link} is one way, yet port {port.number} carries telemetry as well: "
                    "telemetry is held to the receiver's line settings and may not work",
                    "put telemetry on another port, unless it is known to work so",
                    beside_value(link, "the receiver's link"),
                    grade="advise",
                )


@rule(
    "receiver/port-setting-disagrees",
    grade="ground",
    title="The receiver's port setting names another port",
    why="""
    Where the firmware has a setting for the receiver's port as well as a function on the port
    itself, both must name the same one, or the controller listens where nothing is wired.
    """,
    source="common practice",
    examples=(
        good(
            """
            let receiver-port be 2
            port 2 carries receiver
            """
        ),
        bad(
            """
            let receiver-port be 1
                                 ^ port 1 port 2
            port 1 carries telemetry
            port 2 carries receiver
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let receiver-port be 3
                                 ^ port 3 does not carry
            """
        ),
        unknown(
            """
            let receiver-port be 2
            port 1 carries telemetry
            """,
            missing="port.2.functions",
        ),
        unknown("port 2 carries receiver", missing="receiver.port"),
        not_for(
            """
            -- board SLATE, firmware 7.9, changes only
            port 2 carries receiver
            """
        ),
    ),
)
def port_setting_disagrees(craft: Craft, options: Options) -> Iterator[Finding]:
    """``receiver.port`` must be a port that carries the receiver."""
    named = craft.get("receiver.port")
    if not named.known and craft.extent == "full" and "receiver.port" not in craft.unmapped:
        raise Missing("receiver.port", "dump")
    if not named.known:
        raise NotForThisCraft("no setting names the receiver's port; its functions alone do")
    carriers = carriers_of(craft)
    if any(port.number == named.value for port in carriers):
        return
    if carriers:
        numbers = listed([f"port {port.number}" for port in carriers])
        yield Finding(
            craft.place(named),
            f"the receiver's port is set to port {named.value}, but {numbers} carries it: the "
            "controller listens where nothing is wired",
            "make both name the port that the receiver is soldered to",
            beside_value(carriers[0].functions, "carries the receiver"),
            edits=_named_as_soldered(craft, carriers),
        )
        return
    functions = craft.need(f"port.{named.value}.functions")
    yield Finding(
        craft.place(named),
        f"the receiver's port is set to port {named.value}, but port {named.value} does not carry "
        f"the receiver ({functions}): the controller hears nobody",
        f"set port {named.value} to carry the receiver, if that is where it is soldered",
        beside_value(functions, f"what port {named.value} carries"),
        choices=(Put(functions.name, functions.value & {"telemetry"} | {"receiver"}),),
    )


def _named_as_soldered(craft: Craft, carriers: list[Port]) -> tuple[Put, ...]:
    """The setting put to the one port that carries the receiver, if the card has it there."""
    fitted = craft.maybe_card("receiver.port")
    if len(carriers) == 1 and fitted.value == carriers[0].number:
        return (Put("receiver.port", fitted.value),)
    return ()


@rule(
    "receiver/wired-to-another-port",
    grade="ground",
    title="The receiver is soldered to another port",
    why="""
    The dump says where the controller listens, the card where the receiver is soldered.  If the
    two differ the controller hears nobody.
    """,
    source="common practice",
    examples=(
        good(
            "port 2 carries receiver",
            card="""
            [receiver]
            port = 2
            """,
        ),
        bad(
            "port 2 carries receiver",
            card="""
            [receiver]
            port = 3
                   ^ port 3 port 2
            """,
        ),
        unknown("port 2 carries receiver", missing="receiver.port"),
        unknown("let receiver-link be sbus", missing="port.N.functions"),
        not_for(
            """
            port 1 carries receiver
            port 2 carries receiver
            """
        ),
        not_for("port 1 carries gps"),
    ),
)
def wired_to_another_port(craft: Craft, options: Options) -> Iterator[Finding]:
    """The card's ``receiver.port`` must be the port that carries the receiver."""
    port = receiver_port(craft)
    fitted = craft.from_card("receiver.port")
    if fitted.value == port.number:
        return
    yield Finding(
        fitted.span or craft.place(port.functions),
        f"the receiver is soldered to port {fitted.value}, but the controller listens on port "
        f"{port.number}: it hears nobody",
        f"set port {fitted.value} to carry the receiver, or put the card right",
        beside_value(port.functions, "where the controller listens") if fitted.span else (),
        edits=() if _soldered_here(craft, port) else _moved(craft, port, fitted.value),
        by="card" if _soldered_here(craft, port) else "hand",
    )


def _soldered_here(craft: Craft, port: Port) -> bool:
    """Whether the card has the receiver soldered to this port, whatever its own field says."""
    wired = craft.maybe_card(f"port.{port.number}.wired")
    return wired.known and "receiver" in (soldered(wired.value) or ())


def _moved(craft: Craft, port: Port, to: int) -> tuple[Put, ...]:
    """The receiver put on another port with its line settings, if nothing else is there."""
    wired = craft.maybe_card(f"port.{to}.wired")
    # A satellite is a receiver to some links.
    if wired.known and "receiver" not in {*(soldered(wired.value) or ()), *wired.value.split()}:
        return ()  # the card has it in two places
    old, there = port.functions, craft.get(f"port.{to}.functions")
    if old.name not in craft.values or not there.known or there.value - {"telemetry"}:
        return ()
    moved = old.value & {"receiver", "telemetry"}
    puts = [Put(there.name, frozenset(moved)), Put(old.name, frozenset(old.value - moved))]
    for value in (port.baud, port.inverted, port.half_duplex):
        name = f"port.{to}.{value.name.rpartition('.')[2]}"
        if value.known and craft.get(name).value != value.value:
            puts.append(Put(name, value.value))
    if craft.get("receiver.port").known:
        puts.append(Put("receiver.port", to))
    return tuple(puts)
