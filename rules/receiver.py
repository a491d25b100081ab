"""The receiver: whether there is one, where it is wired, and whether the two ends agree.

In the order in which one would ask at the bench: is a receiver set, on one port and the right one,
with nothing else on it; is it the link that is fitted; does its signal come out the right way up,
at the right speed, on the right number of wires, often enough; and is the first stick the first.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft import Missing, NotForThisCraft, Port
from cfglint.facts.links import (
    LINKS,
    frame_time_us,
    link_baud_within,
    one_wire_ceiling_hz,
    reply_time_us,
)
from cfglint.facts.wiring import soldered
from cfglint.rule import Drop, Finding, Put, Related, bad, good, not_for, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Grade, Options

# ---------------------------------------------------------------- a receiver, on one port


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
    if _carriers(craft) or craft.get("receiver.port").known:
        craft.need("receiver.link")
        return
    _all_ports_known(craft)
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
    carriers = _carriers(craft)
    if len(carriers) < 2:
        if not carriers and craft.get("receiver.port").known:
            return
        _all_ports_known(craft)
        if not carriers:
            raise NotForThisCraft("no port carries the receiver")
        return
    fitted = craft.maybe_card("receiver.port").value
    keep = next((port for port in carriers if port.number == fitted), carriers[0])
    numbers = _and([str(port.number) for port in carriers])
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
                _beside(keep.functions, f"port {keep.number} claims it too"),
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
    carriers = _carriers(craft)
    if not carriers:
        _all_ports_known(craft)
        raise NotForThisCraft("no port carries the receiver")
    for port in carriers:
        others = sorted(port.functions.value - {"receiver", "telemetry"})
        if others:
            yield Finding(
                craft.place(port.functions),
                f"port {port.number} carries {_and(others)} beside the receiver: one of them "
                "drives the other out",
                f"put {_and(others)} on another port",
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
                    _beside(link, "the receiver's link"),
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
    carriers = _carriers(craft)
    if any(port.number == named.value for port in carriers):
        return
    if carriers:
        numbers = _and([f"port {port.number}" for port in carriers])
        yield Finding(
            craft.place(named),
            f"the receiver's port is set to port {named.value}, but {numbers} carries it: the "
            "controller listens where nothing is wired",
            "make both name the port that the receiver is soldered to",
            _beside(carriers[0].functions, "carries the receiver"),
            edits=_named_as_soldered(craft, carriers),
        )
        return
    functions = craft.need(f"port.{named.value}.functions")
    yield Finding(
        craft.place(named),
        f"the receiver's port is set to port {named.value}, but port {named.value} does not carry "
        f"the receiver ({functions}): the controller hears nobody",
        f"set port {named.value} to carry the receiver, if that is where it is soldered",
        _beside(functions, f"what port {named.value} carries"),
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
    port = _port(craft)
    fitted = craft.from_card("receiver.port")
    if fitted.value == port.number:
        return
    yield Finding(
        fitted.span or craft.place(port.functions),
        f"the receiver is soldered to port {fitted.value}, but the controller listens on port "
        f"{port.number}: it hears nobody",
        f"set port {fitted.value} to carry the receiver, or put the card right",
        _beside(port.functions, "where the controller listens") if fitted.span else (),
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


# ---------------------------------------------------------------- the link


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
        _beside(fitted, "the link that the receiver speaks"),
        edits=_for_link(craft, fitted),
    )


def _for_link(craft: Craft, fitted: Value) -> tuple[Put, ...]:
    """The link, and what else the line needs for it: a link alone with another's speed is deaf."""
    row, rate = LINKS[fitted.value], craft.maybe_card("receiver.rate_hz").value
    puts: list[Put] = [Put("receiver.link", fitted.value.removesuffix("-one-wire"))]

    def serves(baud: float) -> bool:
        fits = link_baud_within(fitted.value, baud) == "good"
        return fits and (rate is None or _period_needed(fitted.value, baud).us <= 1e6 / rate)

    puts += [
        Put(baud.name, float(row.bauds[0]))
        for baud in _bauds(craft)
        if row.bauds and baud.value != row.bauds[0] and not serves(baud.value)
    ]
    flags = [craft.get("receiver.half_duplex"), *(port.half_duplex for port in _listening(craft))]
    known = [flag for flag in flags if flag.known]
    one_wire = row.wires == "half duplex"
    # Of two flags that disagree nobody knows which counts.
    agreed = row.wires_too is not None and any(flag.value for flag in known) == one_wire
    if fitted.value != "ppm" and not agreed:
        puts += [Put(flag.name, one_wire) for flag in known if flag.value != one_wire]
    try:
        port = _port(craft)
    except (Missing, NotForThisCraft):
        return tuple(puts)
    if row.idle_inverted is not None:
        turns = _turns(craft, fitted, port)
        switchable = craft.maybe_card(f"port.{port.number}.inverter").value == "switchable"
        if turns.inverted and switchable and not turns.lacks:
            puts.append(Put(turns.flag.name, not turns.flag.value))
    return tuple(puts)


# ---------------------------------------------------------------- which way up


@rule(
    "receiver/inversion-not-normal",
    grade="ground",
    title="The receiver's signal comes out upside down",
    why="""
    A serial input wants a wire that idles high.  Inversion is a sum of turns: the link may idle
    low; the receiver's pad may have turned that already; an inverter in the port's hardware turns
    it always, or when the controller says so; and the configured flag is what says so.  An even
    number of turns and the controller hears the receiver, an odd number and it is dead.

    The flag has two senses.  In some firmware it is absolute: yes means that this wire is
    inverted.  In other firmware it is relative: yes means the opposite of what is usual for this
    link.  A new version can swap the sense, and then a receiver that died in an update comes back
    when the flag is changed.
    """,
    source="common practice; CRSF is not inverted: {crsf}; SRXL2 idles high: {srxl2}; SBUS and "
    "FPort idle low: {sbus}, {fport}",
    examples=(
        # Turned by the link, turned back by the port, because the absolute flag says so.
        good(
            """
            -- board SLATE, firmware 7.9, full listing
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "switchable"
            """,
        ),
        # The same wires where the flag is relative: usual for this link is a turn.
        good(
            """
            -- board SLATE, firmware 7.10, full listing
            let receiver-link be sbus
            let receiver-flip be no
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "switchable"
            """,
        ),
        good(
            """
            let receiver-link be sbus
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "un-inverted"
            [port.2]
            inverter = "none"
            """,
        ),
        good(
            """
            let receiver-link be sbus
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "fixed"
            """,
        ),
        # A link that idles high: both senses mean the same, and the pad has nothing to turn.
        good(
            """
            let receiver-link be crsf
            let receiver-flip be no
            port 2 carries receiver
            """,
            card="""
            [port.2]
            inverter = "switchable"
            """,
        ),
        # After an update: the flag that was right while it was absolute.
        bad(
            """
            -- board SLATE, firmware 7.10, full listing
            let receiver-link be sbus
            let receiver-flip be yes
                                 ^^^ sbus inverted flag
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "switchable"
            """,
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
            let receiver-link be crsf
            let receiver-flip be yes
                                 ^^^ crsf inverted flag
            port 2 carries receiver
            """,
            card="""
            [port.2]
            inverter = "switchable"
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
                           ^^^^^^^^ port 2 no inverter
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "none"
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            port 2 carries receiver
                           ^^^^^^^^ port 2 fixed inverter
            """,
            card="""
            [receiver]
            pad = "un-inverted"
            [port.2]
            inverter = "fixed"
            """,
        ),
        # The port's own flag counts as one more turn.
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            let port-2-flip be yes
                               ^^^ sbus port.2.inverted once more
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "switchable"
            """,
        ),
        unknown(
            """
            -- board SLATE, firmware 7.9, full listing
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            """,
            missing="port.2.inverter",
            card="""
            [receiver]
            pad = "as-link"
            """,
        ),
        unknown(
            """
            let receiver-link be sbus
            port 2 carries receiver
            """,
            missing="receiver.pad",
            card="""
            [port.2]
            inverter = "none"
            """,
        ),
        unknown(
            """
            let receiver-link be crsf
            port 2 carries receiver
            """,
            missing="receiver.inverted",
            card="""
            [port.2]
            inverter = "switchable"
            """,
        ),
        # Without a firmware version nobody knows which sense the flag has.
        unknown(
            """
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            """,
            missing="traits.inversion",
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "switchable"
            """,
        ),
        not_for(
            """
            let receiver-link be crsf-one-wire
            let receiver-flip be yes
            port 2 carries receiver
            """
        ),
        not_for("let receiver-link be ppm"),
    ),
)
def inversion_not_normal(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """The sum of turns must be even.

    Unknown terms are tried both ways: they are missed only where the answer hangs on them.
    """
    link, port = _serial_link(craft), _port(craft)
    turns = _turns(craft, link, port)
    if turns.lacks:
        yield from turns.lacks
        return
    if not turns.inverted:
        return
    where = f"port {port.number}"
    flag, inverter = turns.flag, craft.maybe_card(f"port.{port.number}.inverter")
    idle = "inverted" if LINKS[link.value].idle_inverted else "normal"
    place = craft.place(port.functions)
    edits: tuple[Put, ...] = ()
    own = port.inverted
    if inverter.value == "switchable" and own.name != flag.name and own.value:
        # Both flags are there: the port's own is the odd one.
        place = own.span or place
        act = f"and {own.name}, yes, turns it once more than {flag.name} ({flag}) asks for"
        instead = f"set {own.name} to no"
        edits = (Put(own.name, False),)
    elif inverter.value == "switchable":
        place = flag.span or place
        act = f"and the inversion flag, {flag}{turns.meaning or ','} {turns.act}"
        instead = f"set {flag.name} to {'no' if flag.value else 'yes'}"
        edits = (Put(flag.name, not flag.value),)
    elif inverter.value == "none":
        act = f"and {where} has no inverter, so that no flag can act"
        instead = "use the receiver's un-inverted pad, or a port with an inverter"
    elif LINKS[link.value].idle_inverted:
        act = f"the pad has turned it already, yet {where} has a fixed inverter"
        instead = "use the receiver's pad that carries the link as it is, or another port"
    else:
        act = f"yet {where} has a fixed inverter"
        instead = "use a port without a fixed inverter"
    yield Finding(
        place,
        f"the receiver's signal comes out inverted: {link} idles {idle}, {act}; no frame of it "
        "is understood",
        instead,
        (
            *_beside(link, f"idles {idle}"),
            *_beside(craft.maybe_card("receiver.pad"), "the pad in use"),
            *_beside(inverter, f"the inverter on {where}"),
        ),
        picture=turns.picture,
        edits=edits,
    )


@rule(
    "receiver/inversion-flag-cannot-act",
    grade="advise",
    title="Inversion flag without an inverter to act on",
    why="""
    The flag acts through an inverter that the controller can switch.  On a port without one, or
    with one that is always in the way, a flag set to yes does nothing, until the receiver is moved
    to another port or the setup to another board; then it kills the receiver.
    """,
    source="common practice",
    examples=(
        good(
            """
            let receiver-link be crsf
            let receiver-flip be no
            port 2 carries receiver
            """
        ),
        good(
            """
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            """,
            card="""
            [port.2]
            inverter = "switchable"
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            let receiver-flip be yes
                                 ^^^ port 2 inverter flag
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "un-inverted"
            [port.2]
            inverter = "none"
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            let receiver-flip be yes
                                 ^^^ port 2 fixed
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "fixed"
            """,
        ),
        unknown(
            """
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            """,
            missing="port.2.inverter",
        ),
        unknown(
            """
            let receiver-link be sbus
            port 2 carries receiver
            """,
            missing="receiver.inverted",
        ),
        # The receiver is dead in any case, and receiver/inversion-not-normal says so.
        not_for(
            """
            let receiver-link be sbus
            let receiver-flip be yes
            port 2 carries receiver
            """,
            card="""
            [receiver]
            pad = "as-link"
            [port.2]
            inverter = "none"
            """,
        ),
    ),
)
def inversion_flag_cannot_act(craft: Craft, options: Options) -> Iterator[Finding]:
    """A flag set to yes needs a switchable inverter."""
    link, port = _serial_link(craft), _port(craft)
    flag = _flag(craft, port)
    if not flag.known:
        raise Missing(flag.name, "dump")
    # The port's own flag, where there is one besides, has the same inverter to act on.
    on = [one for one in (flag, port.inverted) if one.value]
    if not on:
        return
    flag = on[0]
    inverter = craft.from_card(f"port.{port.number}.inverter")
    if inverter.value == "switchable":
        return
    turns = _turns(craft, link, port)
    if turns.inverted:
        raise NotForThisCraft("receiver/inversion-not-normal has said that nothing is heard")
    what = "a fixed inverter" if inverter.value == "fixed" else "no inverter"
    yield Finding(
        craft.place(flag),
        f"the inversion flag is yes, but port {port.number} has {what}: the flag does nothing "
        "here, and would do harm on another port",
        f"set {flag.name} to no",
        _beside(inverter, f"the inverter on port {port.number}"),
        edits=(Put(flag.name, False),),
    )


class _Turns(NamedTuple):
    """What the sum of turns comes to, or the facts that it hangs on."""

    inverted: bool
    lacks: tuple[Missing, ...]
    flag: Value
    meaning: str = ""
    act: str = ""
    picture: str = ""


def _turns(craft: Craft, link: Value, port: Port) -> _Turns:
    """Link ⊕ pad ⊕ inverter on the port, the switchable kind as the flags ask."""
    idle_inverted = bool(LINKS[link.value].idle_inverted)
    flag = _flag(craft, port)
    # Where both flags exist the port's own comes on top.
    extra = flag.name != port.inverted.name and bool(port.inverted.value)
    pad = craft.maybe_card("receiver.pad")
    inverter = craft.maybe_card(f"port.{port.number}.inverter")
    sense = craft.traits.inversion

    def relative(sense: Any) -> bool:
        # What is usual for a link that idles high is no turn, and the two senses are one.
        return bool(sense == "relative" and idle_inverted)

    def inverted(pad: Any, inverter: Any, flag: Any, sense: Any) -> bool:
        wire = idle_inverted and pad == "as-link"
        asked = flag ^ relative(sense) ^ extra
        turn = inverter == "fixed" or (inverter == "switchable" and asked)
        return bool(wire ^ turn)

    terms = (
        (pad.value, ("as-link", "un-inverted"), Missing("receiver.pad", "card")),
        (
            inverter.value,
            ("none", "fixed", "switchable"),
            Missing(inverter.name, "card", "none, fixed or switchable"),
        ),
        (flag.value, (False, True), Missing(flag.name, "dump")),
        (
            sense,
            ("absolute", "relative"),
            Missing("traits.inversion", "dialect", "and the firmware's version in the dump"),
        ),
    )
    choices = [told if value is None else (value,) for value, told, _ in terms]
    results = {combo: inverted(*combo) for combo in product(*choices)}
    lacks = tuple(
        lack
        for at, (value, _, lack) in enumerate(terms)
        if value is None and _hangs_on(results, at)
    )
    if lacks:
        return _Turns(False, lacks, flag)
    by_port = {"none": "no turn", "fixed": "a turn, always"}
    act = meaning = ""
    if inverter.value == "switchable":
        asked = inverted("un-inverted", "switchable", flag.value, sense)
        act = "turns it over" if asked else "does not turn it"
        meaning = ", which here means other than usual," if flag.value and relative(sense) else ""
        both = " and the port's own" if extra else ""
        by_port["switchable"] = f"flag {flag}{both}: {'a turn' if asked else 'no turn'}"
    outcome = next(iter(results.values()))
    rows = (
        (f"link {link}", "idles low: a turn" if idle_inverted else "idles high: no turn"),
        ("pad", "turned back to normal" if pad.value == "un-inverted" else "as the link"),
        (f"port {port.number}, inverter {inverter}", by_port.get(str(inverter.value), "?")),
        ("comes out", "inverted" if outcome else "normal"),
    )
    wide = max(len(head) for head, _ in rows)
    picture = "\n".join(f"{head.ljust(wide)}  {tail}" for head, tail in rows)
    return _Turns(outcome, (), flag, meaning, act, picture)


def _hangs_on(results: dict[tuple[Any, ...], bool], at: int) -> bool:
    """Whether some pair of cases that differ only in term ``at`` come out differently."""
    rest: dict[tuple[Any, ...], bool] = {}
    return any(
        rest.setdefault((*combo[:at], *combo[at + 1 :]), outcome) != outcome
        for combo, outcome in results.items()
    )


def _flag(craft: Craft, port: Port) -> Value:
    """The receiver's inversion flag; the port's, where the dialect has only that one.

    Where it has both, and only the port's is set, nobody knows what the receiver's own does.
    """
    flag = craft.get("receiver.inverted")
    return port.inverted if not flag.known and flag.name in craft.unmapped else flag


# ---------------------------------------------------------------- speed and time on the wire


@rule(
    "receiver/baud-off-the-link",
    grade="ground",
    title="Line speed that the link does not use",
    why="""
    A serial input finds the bits of a byte by the clock.  Two per cent off is safe, near five the
    last bits are read wrongly, and beyond that no frame survives.  Near the limit it works on the
    bench and fails in the cold.  Some receivers run at a speed that the description of their link
    does not have; there the rule merely asks whether yours is one of them.
    """,
    source="tolerance: {usart}; speeds: {crsf}, {srxl2}, {interfacing}, {fport}, {sbus}; those of "
    "other links, and those that are met besides: common practice",
    examples=(
        good(
            """
            let receiver-link be sbus
            port 2 carries receiver at 100000
            """
        ),
        good(
            """
            let receiver-link be crsf
            let receiver-baud be 420000
            """
        ),
        good(
            """
            let receiver-link be srxl2
            let receiver-baud be 400000
            """
        ),
        bad(
            """
            let receiver-link be sbus
            port 2 carries receiver at 115200
                                       ^^^^^^ 115200 sbus 100000
            """
        ),
        bad(
            """
            let receiver-link be crsf
            let receiver-baud be 400000
                                 ^^^^^^ 400000 crsf 416666
            """
        ),
        # On one wire the same link runs at 400 000 by its specification; others are met.
        bad(
            """
            let receiver-link be crsf
            let receiver-one-wire be yes
            let receiver-baud be 420000
                                 ^^^^^^ 420000 crsf-one-wire 400000 met
            """
        ),
        bad(
            """
            let receiver-link be sbus
            port 3 carries receiver at 200000
                                       ^^^^^^ 200000 sbus met
            """
        ),
        unknown("let receiver-link be sbus", missing="receiver.baud"),
        unknown("let receiver-baud be 100000", missing="receiver.link"),
        not_for("let receiver-link be ppm"),
    ),
)
def baud_off_the_link(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every baud that is configured must lie within tolerance of one that the link uses."""
    word = craft.need("receiver.link")
    link = _wired_link(craft, word)
    if not LINKS[link].bauds:
        raise NotForThisCraft("a pulse train has no line speed")
    bauds = _bauds(craft)
    if not bauds:
        raise _no_line_setting(craft, "receiver.baud")
    uses = _either([str(baud) for baud in LINKS[link].bauds])
    for baud in bauds:
        verdict = link_baud_within(link, baud.value)
        if verdict == "good":
            continue
        grade: Grade = "fix" if verdict == "limit" else "ground"
        what = "that works only with luck" if verdict == "limit" else "no frame is understood"
        instead = f"set {baud.name} to {uses}"
        if link_baud_within(link, baud.value, met=True) == "good":
            grade = "advise"
            what = "receivers that run so are met, but of any other no frame is understood"
            instead += ", unless the receiver's instructions name this speed"
        yield Finding(
            craft.place(baud),
            f"{baud.name} puts the receiver's line at {baud.value:.0f} baud, but {link} uses "
            f"{uses}: {what}",
            instead,
            _beside(word, "the receiver's link"),
            grade,
            edits=() if grade == "advise" else (Put(baud.name, float(LINKS[link].bauds[0])),),
        )


@rule(
    "receiver/frames-outlast-rate",
    grade="fix",
    title="Frames take longer than the receiver's rate allows",
    why="""
    A frame takes its time on the wire: bytes × bits per byte ÷ baud.  If the next one is due
    before this one is over, frames are dropped or the rate falls behind what the transmitter
    promises.  Where both sides take turns on one wire, the answer of the other side counts too.
    Where a frame grows with its channels, sixteen are taken, and the rule merely advises.
    """,
    source="frames: {crsf}, {srxl2}, {sbus}, {interfacing}, {fport}; those of other links: common "
    "practice; length of an answer on SRXL2: from memory",
    examples=(
        good(
            """
            let receiver-link be crsf
            let receiver-baud be 420000
            """,
            card="""
            [receiver]
            rate_hz = 500
            """,
        ),
        good(
            "let receiver-link be sbus",
            card="""
            [receiver]
            rate_hz = 142
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            port 2 carries receiver at 100000
            """,
            card="""
            [receiver]
            rate_hz = 500
                      ^^^ 500 2000 sbus 3000
            """,
        ),
        bad(
            """
            let receiver-link be crsf-one-wire
            let receiver-baud be 400000
            """,
            card="""
            [receiver]
            rate_hz = 500
                      ^^^ 500 crsf-one-wire each side
            """,
        ),
        # The frame alone would fit in 5650 µs; with the answer it does not.
        bad(
            """
            let receiver-link be srxl2
            let receiver-baud be 115200
            """,
            card="""
            [receiver]
            rate_hz = 177
                      ^^^ 177 srxl2 16 channels 3993 answer 1910 5903
            """,
        ),
        good(
            """
            let receiver-link be srxl2
            let receiver-baud be 115200
            """,
            card="""
            [receiver]
            rate_hz = 91
            """,
        ),
        # One link, two speeds: fast enough at one of them only.
        unknown(
            "let receiver-link be srxl2",
            missing="receiver.baud",
            card="""
            [receiver]
            rate_hz = 177
            """,
        ),
        unknown("let receiver-link be sbus", missing="receiver.rate_hz"),
        unknown(
            "let receiver-baud be 100000",
            missing="receiver.link",
            card="""
            [receiver]
            rate_hz = 50
            """,
        ),
        not_for(
            "let receiver-link be ppm",
            card="""
            [receiver]
            rate_hz = 44
            """,
        ),
    ),
)
def frames_outlast_rate(craft: Craft, options: Options) -> Iterator[Finding]:
    """A frame at the port's baud, and its answer, must fit in the period of the card's rate."""
    word = craft.need("receiver.link")
    link = _wired_link(craft, word)
    row = LINKS[link]
    if row.frame_bytes is None:
        raise NotForThisCraft("in a pulse train the frame is the period")
    rate = craft.from_card("receiver.rate_hz")
    # A baud that the link does not use is another rule's matter; its own speeds are taken then.
    set_bauds = [baud for baud in _bauds(craft) if _heard(link, baud.value)]
    bauds = [baud.value for baud in set_bauds] or list(row.bauds)
    period_us = 1e6 / rate.value
    needs = [_period_needed(link, baud) for baud in bauds]
    if max(needs).us <= period_us:
        return
    if min(needs).us <= period_us and not set_bauds:
        raise Missing("receiver.baud", "dump", f"{link} is used at more than one speed")
    baud, need = max(zip(bauds, needs, strict=True), key=lambda pair: pair[1])
    grows = row.bytes_a_channel > 0
    yield Finding(
        rate.span or craft.place(word),
        f"{rate.value:g} frames a second leave {period_us:.4g} µs each, but on {link} at "
        f"{baud:.0f} baud {need.what}: "
        + ("only shorter frames fit" if grows else "frames are dropped or come late"),
        f"set the receiver to the next slower rate that it offers, at most {int(1e6 / need.us)} "
        "frames a second, or use a faster link",
        (
            *(_beside(word, "the receiver's link") if rate.span else ()),
            *(related for value in set_bauds for related in _beside(value, "its line speed")),
        ),
        "advise" if grows else None,
    )


def _heard(link: str, baud: float) -> bool:
    """Whether a port at this speed understands a sender on the link, if only with luck."""
    usual, met = link_baud_within(link, baud), link_baud_within(link, baud, met=True)
    return usual != "fails" or met == "good"


class _Need(NamedTuple):
    """The time that a frame takes with all that belongs to it, and words for that."""

    us: float
    what: str


def _period_needed(link: str, baud: float) -> _Need:
    if link == "crsf-one-wire":
        us = 1e6 / one_wire_ceiling_hz(baud)
        return _Need(us, f"one longest frame from each side takes {us:.4g} µs")
    row = LINKS[link]
    frame_us, reply_us = frame_time_us(link, int(baud)), reply_time_us(link, int(baud))
    assert frame_us is not None  # pulse trains have been sent away
    frame = f"a frame of {row.channels_a_frame} channels" if row.bytes_a_channel else "a frame"
    if not reply_us:
        return _Need(frame_us, f"{frame} takes {frame_us:.4g} µs")
    us = frame_us + reply_us
    return _Need(
        us,
        f"{frame} takes {frame_us:.4g} µs and the answer {reply_us:.4g} µs, together {us:.4g} µs",
    )


# ---------------------------------------------------------------- one wire or two


@rule(
    "receiver/half-duplex-mismatch",
    grade="ground",
    title="One wire where the link has two, or two where it has one",
    why="""
    A half-duplex link sends and receives on one wire, and the port has to be told so; otherwise
    the controller listens on a pin where nothing is soldered.  The other way round it listens on
    the pin that it should send from, and hears nobody either.  Where a link may be wired both ways
    the rule merely asks which way yours is.
    """,
    source="{crsf}, {srxl2}, {fport}; wires of other links: common practice and from memory",
    examples=(
        good(
            """
            let receiver-link be srxl2
            let receiver-one-wire be yes
            """
        ),
        good(
            """
            let receiver-link be fport
            let receiver-one-wire be no
            port 2 carries receiver
            let port-2-one-wire be yes
            """
        ),
        good(
            """
            let receiver-link be sbus
            let receiver-one-wire be no
            """
        ),
        bad(
            """
            let receiver-link be srxl2
            let receiver-one-wire be no
                                     ^^ srxl2 one wire
            """
        ),
        bad(
            """
            let receiver-link be crsf
            let receiver-one-wire be no
                                     ^^ crsf-one-wire one wire
            """,
            card="""
            [receiver]
            link = "crsf-one-wire"
            """,
        ),
        # No line sets it at all: point at the link, which is there.
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let receiver-link be srxl2
                                 ^^^^^ srxl2 one wire
            port 2 carries receiver
            """
        ),
        # This one may be wired either way.
        bad(
            """
            let receiver-link be fport
            let receiver-one-wire be no
                                     ^^ fport one wire two
            """
        ),
        bad(
            """
            let receiver-link be ibus
            let receiver-one-wire be yes
                                     ^^^ ibus one way
            """
        ),
        bad(
            """
            let receiver-link be crsf
            port 2 carries receiver
            let port-2-one-wire be yes
                                   ^^^ crsf full duplex
            """,
            card="""
            [receiver]
            link = "crsf"
            """,
        ),
        unknown("let receiver-link be srxl2", missing="receiver.half_duplex"),
        unknown("let receiver-one-wire be yes", missing="receiver.link"),
        # Of two flags that disagree one may be the one that counts.
        unknown(
            """
            let receiver-link be srxl2
            let receiver-one-wire be no
            port 2 carries receiver
            let port-2-one-wire be yes
            """,
            missing="receiver.half_duplex",
        ),
        # A dump may write one-wire CRSF as CRSF with the flag; only the card can tell.
        unknown(
            """
            let receiver-link be crsf
            let receiver-one-wire be yes
            """,
            missing="receiver.link",
        ),
        not_for("let receiver-link be ppm"),
    ),
)
def half_duplex_mismatch(craft: Craft, options: Options) -> Iterator[Finding]:
    """The half-duplex setting must be what the link needs."""
    set_link = link = craft.need("receiver.link")
    if link.value == "ppm":
        raise NotForThisCraft("a pulse train does not go through a serial port")
    fitted = craft.maybe_card("receiver.link")
    # The card knows the wires; where it names another link altogether, that is another rule's.
    if fitted.known and fitted.value in (link.value, f"{link.value}-one-wire"):
        link = fitted
    flags = [craft.get("receiver.half_duplex")]
    flags += [port.half_duplex for port in _listening(craft)]
    known = [flag for flag in flags if flag.known]
    if not known:
        raise _no_line_setting(craft, "receiver.half_duplex")
    on = [flag for flag in known if flag.value]
    wires = LINKS[link.value].wires
    if on and wires == "half duplex":
        off = [flag for flag in known if not flag.value]
        if off and LINKS[link.value].wires_too is None:
            told = f"{_and([flag.name for flag in on])} is yes: which of them counts is not known"
            raise Missing(off[0].name, "dump", told)
        return
    if bool(on) == (wires == "half duplex"):
        return
    if on and not fitted.known and f"{link.value}-one-wire" in LINKS:
        raise Missing("receiver.link", "card", f"{link} is used on two wires and on one")
    grade: Grade | None = None
    if on:
        message = (
            f"{_and([flag.name for flag in on])} is yes, one wire both ways, but {link} is "
            f"{wires}: the controller listens on the pin that it sends from"
        )
        instead = f"set {_and([flag.name for flag in on])} to no"
        edits = tuple(Put(flag.name, False) for flag in on)
        # On two wires the link may be of another speed.
        edits += tuple(
            Put(baud.name, float(LINKS[link.value].bauds[0]))
            for baud in _bauds(craft)
            if link_baud_within(link.value, baud.value) != "good"
        )
    else:
        message = (
            f"{link} goes both ways on one wire, but {_and([flag.name for flag in known])} is no: "
            "the controller listens on a pin where nothing is soldered"
        )
        instead = f"set {_and([flag.name for flag in known])} to yes"
        edits = tuple(Put(flag.name, True) for flag in known)
        if LINKS[link.value].wires_too is not None:
            message += ", unless it is wired on two, which this link allows"
            instead += ", if one wire goes to the receiver"
            edits = ()
            grade = "advise"
    yield Finding(
        (on or known)[0].span or craft.place(set_link),
        message,
        instead,
        _beside(link, "the receiver's link"),
        grade,
        edits=edits,
    )


# ---------------------------------------------------------------- which stick is which


@rule(
    "receiver/channel-order-differs",
    grade="ground",
    title="Sticks in another order than the transmitter's",
    why="""
    The four sticks go out in an order: A for roll, E for pitch, T for throttle, R for yaw.  If the
    controller expects another one, the throttle is on some other stick, and a stick let go to its
    centre may be half throttle.
    """,
    source="common practice",
    examples=(
        good(
            "let stick-order be AETR",
            card="""
            [transmitter]
            channel_order = "AETR"
            """,
        ),
        good(
            "let stick-order be TAER/K1/K2",
            card="""
            [transmitter]
            channel_order = "TAER"
            """,
        ),
        bad(
            """
            let stick-order be TAER
                               ^^^^ TAER AETR throttle
            """,
            card="""
            [transmitter]
            channel_order = "AETR"
            """,
        ),
        bad(
            """
            let stick-order be AETT
                               ^^^^ AETT once
            """
        ),
        bad(
            """
            let stick-order be AETR
                               ^^^^ AETR RETA throttle stays
            """,
            card="""
            [transmitter]
            channel_order = "RETA"
            """,
        ),
        unknown("let stick-order be AETR", missing="transmitter.channel_order"),
        unknown(
            "let receiver-link be sbus",
            missing="receiver.channel_order",
            card="""
            [transmitter]
            channel_order = "AETR"
            """,
        ),
    ),
)
def channel_order_differs(craft: Craft, options: Options) -> Iterator[Finding]:
    """The first four letters of both orders must be the same four sticks in the same places."""
    order = craft.need("receiver.channel_order")
    if not _four(order):
        yield Finding(
            craft.place(order),
            f"{str(order) or 'nothing'} is no order of the four sticks: A, E, T and R must each "
            "stand in it once",
            "write the order that the transmitter sends, AETR for instance",
            edits=_put_order(craft, order, craft.maybe_card("transmitter.channel_order")),
        )
        return
    sent = craft.from_card("transmitter.channel_order")
    if _four(order) == _four(sent):
        return
    stick = _STICKS[_four(sent)[_four(order).index("T")]]
    moves = (
        "the throttle stays in its place but other sticks change theirs"
        if stick == "throttle"
        else f"the {stick} stick moves the throttle"
    )
    yield Finding(
        craft.place(order),
        f"the controller takes the sticks for {order}, but the transmitter sends {sent}: {moves}",
        f"set receiver.channel_order to {_four(sent)}, and let what the sticks become on a lost "
        "link move with them",
        _beside(sent, "the order that is sent"),
        edits=_put_order(craft, order, sent),
    )


def _put_order(craft: Craft, order: Value, sent: Value) -> tuple[Put | Drop, ...]:
    """The order that is sent, before what else the dump's own has after its first four letters.

    What a stick's channel becomes on a lost link goes where the stick goes: else a value that was
    meant for another stick is put in on the throttle.
    """
    four, own = _four(sent), _four(order)
    if not four or not own:
        return (Put(order.name, four),) if four else ()
    edits: list[Put | Drop] = [Put(order.name, four + str(order.value)[4:])]
    for place, letter in enumerate(four, 1):
        was = craft.get(f"failsafe.channel.{own.index(letter) + 1}")
        now = craft.get(f"failsafe.channel.{place}")
        if was.known and was.value != now.value:
            edits.append(Put(now.name, was.value))
        elif now.known and not was.known:
            if now.line_span is None or _said_besides(craft, now):
                return ()
            edits.append(Drop(now.line_span))
    return tuple(edits)


def _said_besides(craft: Craft, value: Value) -> bool:
    """Whether a value's line says another as well."""
    every = craft.values.values()
    return any(one.line_span == value.line_span and one.name != value.name for one in every)


_STICKS = {"A": "roll", "E": "pitch", "T": "throttle", "R": "yaw"}


def _four(order: Value) -> str:
    """The sticks' letters in capitals, such as AETR; empty where they are not each there once."""
    letters = "".join(letter for letter in str(order.value).upper() if letter.isalpha())[:4]
    return letters if sorted(letters) == sorted(_STICKS) else ""


# ---------------------------------------------------------------- shared by the rules above


def _carriers(craft: Craft) -> list[Port]:
    """The ports that carry the receiver, as far as their functions are known."""
    return [
        port
        for port in craft.ports()
        if port.functions.known and "receiver" in port.functions.value
    ]


def _listening(craft: Craft) -> list[Port]:
    """The port whose line settings count: the one that carries the receiver.

    Where several claim it, only the one that it is soldered to counts, if the card says so.
    """
    carriers = _carriers(craft)
    if len(carriers) < 2:
        return carriers
    soldered = craft.maybe_card("receiver.port").value
    return [port for port in carriers if port.number == soldered]


def _no_line_setting(craft: Craft, name: str) -> Missing:
    """What is missing where no line setting counts: the setting, or which port is the right one."""
    if _carriers(craft) and not _listening(craft):
        return Missing("receiver.port", "card", "more than one port claims the receiver")
    return Missing(name, "dump")


def _all_ports_known(craft: Craft) -> None:
    """Raise Missing unless the functions of every port, and of one at least, are known."""
    ports = craft.ports()
    if not ports:
        raise Missing("port.N.functions", "dump")
    for port in ports:
        if not port.functions.known:
            raise Missing(port.functions.name, "dump")


def _port(craft: Craft) -> Port:
    """The one port that the receiver is on, by the port's functions or by ``receiver.port``."""
    carriers = _carriers(craft)
    if len(carriers) == 1:
        return carriers[0]
    if carriers:
        raise NotForThisCraft("more than one port claims the receiver")
    named = craft.get("receiver.port")
    if named.known and not craft.get(f"port.{named.value}.functions").known:
        at = f"port.{named.value}"
        rest = (craft.get(f"{at}.{name}") for name in ("baud", "inverted", "half_duplex"))
        return Port(named.value, named._replace(name=f"{at}.functions"), *rest)
    _all_ports_known(craft)
    raise NotForThisCraft("no port carries the receiver")


def _serial_link(craft: Craft) -> Value:
    """The link, if its wire has one idle level by which to judge."""
    link = craft.need("receiver.link")
    if LINKS[_wired_link(craft, link)].idle_inverted is None:
        raise NotForThisCraft(f"{link} may idle either way up")
    return link


def _wired_link(craft: Craft, link: Value) -> str:
    """The link's id; CRSF that shares one wire goes by the name of its one-wire kind."""
    shared = any(
        flag.value
        for flag in (
            craft.get("receiver.half_duplex"),
            *(port.half_duplex for port in _listening(craft)),
        )
    )
    one_wire = f"{link.value}-one-wire"
    return one_wire if shared and one_wire in LINKS else str(link.value)


def _bauds(craft: Craft) -> list[Value]:
    """The line speeds configured for the receiver: its own, and its port's."""
    every = [craft.get("receiver.baud"), *(port.baud for port in _listening(craft))]
    return [baud for baud in every if baud.known]


def _and(words: list[str]) -> str:
    return " and ".join((", ".join(words[:-1]), words[-1]) if len(words) > 1 else words)


def _either(words: list[str]) -> str:
    return " or ".join((", ".join(words[:-1]), words[-1]) if len(words) > 1 else words)


def _beside(value: Value, message: str) -> tuple[Related, ...]:
    return (Related(value.span, message),) if value.span else ()
