"""Ports: whether what is soldered to each is what it carries, alone, and at the right speed.

The dump says what a port carries, the card what is soldered to it.  Most of what concerns the
receiver's port is told by the rules of the receiver.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft, listed
from cfglint.facts.wiring import (
    ESC_TELEMETRY_BAUD,
    GPS_BAUDS,
    LOG_BAUD,
    SATELLITE,
    SATELLITE_LINKS,
    WIRES,
    soldered,
)
from cfglint.rule import Finding, Put, bad, good, not_for, rule, unknown

from ._reach import beside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Port, Value
    from cfglint.rule import Options


@rule(
    "ports/soldered-otherwise",
    grade="fix",
    title="What a port carries is not what is soldered to it",
    why="""
    A port that is set to carry one thing and has another soldered to it serves neither: the modes
    and the failsafe that count on it have nothing to go by, and nothing says so until they are
    needed.  An update that puts ports back to their defaults leaves a craft like that, and so does
    a dump of its sister.
    """,
    source="common practice",
    examples=(
        good(
            """
            port 2 carries gps
            port 3 carries receiver,telemetry
            port 4 carries nothing
            """,
            card="""
            [port.2]
            wired = "GPS on the mast"
            [port.3]
            wired = "receiver, both wires"
            [port.4]
            wired = "nothing"
            """,
        ),
        bad(
            """
            port 2 carries telemetry
                           ^^^^^^^^^ port 2 telemetry gps
            """,
            card="""
            [port.2]
            wired = "satellite receiver"
            """,
        ),
        bad(
            """
            port 1 carries gps
                           ^^^ port 1 gps nothing
            """,
            card="""
            [port.1]
            wired = "nothing"
            """,
        ),
        bad(
            """
            port 4 carries nothing
                           ^^^^^^^ port 4 rangefinder nothing
            """,
            card="""
            [port.4]
            wired = "rangefinder below"
            """,
        ),
        unknown("port 2 carries gps", missing="port.2.wired"),
        unknown(
            "port 2 carries gps",
            card="""
            [port.2]
            wired = "the white plug"
            """,
            missing="port.2.wired",
        ),
        unknown(
            "let motor-signal be dshot300",
            card="""
            [port.2]
            wired = "gps"
            """,
            missing="port.2.functions",
        ),
        not_for("port 5 carries nothing"),
    ),
)
def soldered_otherwise(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Each port's functions are those of what the card says is soldered to it."""
    told = False
    for number in _numbers(craft):
        carried, wired = craft.get(f"port.{number}.functions"), craft.maybe_card(_wired(number))
        if not carried.known:
            told = True
            yield Missing(carried.name, "dump")
        elif not wired.known:
            if carried.value:
                told = True
                yield Missing(_wired(number), "card")
        else:
            told = True
            yield from _compared(craft, number, carried, wired)
    if not told:
        raise NotForThisCraft("no port carries anything, and the card has nothing soldered to any")


def _numbers(craft: Craft) -> list[int]:
    """Ports that the dump speaks of, or to which the card has something soldered."""
    fields = craft.card.values if craft.card is not None else {}
    carded = {int(name.split(".")[1]) for name in fields if name.startswith("port.")}
    said = {number for number in carded if craft.maybe_card(_wired(number)).known}
    return sorted(said | set(craft.numbered("port")))


def _wired(number: int) -> str:
    return f"port.{number}.wired"


def _compared(
    craft: Craft, number: int, carried: Value, wired: Value
) -> Iterator[Finding | Missing]:
    there = soldered(wired.value)
    if there is None:
        hint = "name what is soldered by what the port carries, as `gps` or `receiver, plain pad`"
        yield Missing(_wired(number), "card", hint)
        return
    if SATELLITE in str(wired.value).lower() and "receiver" in carried.value:
        # Some links have second receivers that go by this name.
        link = craft.maybe_card("receiver.link")
        link = link if link.known else craft.get("receiver.link")
        if not link.known:
            yield Missing("receiver.link", "dump", "what a satellite receiver is hangs on it")
            return
        if link.value in SATELLITE_LINKS:
            there = frozenset({"receiver"})
    asked = carried.value
    if "receiver" in there:
        # Telemetry goes back on the receiver's own wires.
        asked = asked - {"telemetry"} if "telemetry" not in there else asked
    lacking, idle = asked - there, there - asked
    # Where the receiver is soldered another rule asks, of the card's own field for it.
    own = craft.maybe_card("receiver.port")
    if own.known:
        lacking = lacking - {"receiver"} if own.value != number else lacking
        idle = idle - {"receiver"} if own.value == number else idle
    if not lacking and not idle:
        return
    has = _and(there) if there else "nothing"
    what = f"port {number} carries {_and(carried.value) if carried.value else 'nothing'}"
    if lacking:
        message = f"{what}, but {has} is soldered to it: {_and(lacking)} cannot work there"
    else:
        message = f"{what}, but {has} is soldered to it: nothing listens to it"
    yield Finding(
        craft.place(carried),
        message,
        f"set port {number} to carry {_and(there)}, or put {_wired(number)} in the card right"
        if there
        else f"set port {number} to carry nothing, and the port that {_and(lacking)} is soldered "
        "to carry it, or put the card right",
        beside(wired, "what is soldered to it"),
        grade="ground" if "receiver" in lacking | idle else None,
        edits=_as_soldered(craft),
    )


def _as_soldered(craft: Craft) -> tuple[Put, ...]:
    """Every port put to what the card has soldered to it: mostly two are swapped.

    Nothing where the receiver is moved by that: its line settings would have to go with it.
    """
    puts = []
    for number in _numbers(craft):
        carried, there = craft.get(f"port.{number}.functions"), None
        if craft.maybe_card(_wired(number)).known:
            there = soldered(craft.maybe_card(_wired(number)).value)
        if not carried.known or there is None or SATELLITE in str(there):
            continue
        kept = carried.value & {"telemetry"} if "receiver" in there & carried.value else frozenset()
        new = frozenset(there | kept)
        if new == carried.value:
            continue
        if "receiver" in new ^ carried.value:
            return ()
        puts.append(Put(carried.name, new))
        baud = craft.get(f"port.{number}.baud")
        right = ESC_TELEMETRY_BAUD if "esc-telemetry" in new else LOG_BAUD if "log" in new else 0
        if right and baud.known and baud.value != right:
            puts.append(Put(baud.name, float(right)))
    return tuple(puts)


@rule(
    "ports/cannot-share",
    grade="fix",
    title="Two functions on one port that cannot share it",
    why="""
    A port has one line speed and one wire each way.  Two things that are both heard, or both sent
    to, on one wire disturb each other; two that use one wire each still need the same speed and a
    firmware that allows it.  What shares the receiver's port is another rule's.
    """,
    source="common practice",
    examples=(
        good(
            """
            port 1 carries gps
            port 2 carries receiver,telemetry
            """
        ),
        bad(
            """
            port 3 carries gps,rangefinder
                           ^^^^^^^^^^^^^^^ port 3 gps rangefinder
            """
        ),
        bad(
            """
            port 4 carries esc-telemetry,log
                           ^^^^^^^^^^^^^^^^^ port 4 esc-telemetry log speed
            """
        ),
        unknown("let motor-signal be dshot300", missing="port.N.functions"),
        not_for("port 2 carries nothing"),
    ),
)
def cannot_share(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """A port without the receiver carries one function."""
    ports = _ports(craft)
    used = [port for port in ports if port.functions.value]
    yield from (Missing(port.functions.name, "dump") for port in ports if not port.functions.known)
    if not used and all(port.functions.known for port in ports):
        raise NotForThisCraft("no port carries anything")
    for port in used:
        carried = port.functions.value
        if len(carried) < 2 or "receiver" in carried:
            continue
        clash = any(WIRES[one] & WIRES[two] for one in carried for two in carried if one < two)
        yield Finding(
            craft.place(port.functions),
            f"port {port.number} carries {_and(carried)}: "
            + (
                "they use the same wire and disturb each other"
                if clash
                else "one wire each, but they have to be of the same line speed, and not every "
                "firmware allows it"
            ),
            "give each a port of its own",
            grade=None if clash else "advise",
        )


@rule(
    "ports/speed-off-the-function",
    grade="fix",
    title="A line speed at which what is on the port does not work",
    why="""
    ESCs send their telemetry at one speed, and a port that listens at another hears noise: no
    current, no temperature, and no warning from them.  A satellite receiver speaks at one of a few
    speeds; at any other, a mistyped one mostly, there is no position, and return-home has nowhere
    to go.  A recorder is written to as fast as the
    craft flies, and what a slow line cannot carry is missing in the log, often just what was
    looked for.
    """,
    source="speeds of satellite receivers: NMEA 0183, from memory, and common practice; the rest: "
    "common practice",
    examples=(
        good(
            """
            port 2 carries esc-telemetry at 115200
            port 3 carries log at 230400
            port 4 carries gps at 38400
            """
        ),
        bad(
            """
            port 2 carries esc-telemetry at 57600
                                            ^^^^^ port 2 57600 115200
            """
        ),
        bad(
            """
            port 3 carries log at 19200
                                  ^^^^^ port 3 19200 115200
            """
        ),
        bad(
            """
            port 4 carries gps at 3840
                                  ^^^^ port 4 3840 4800
            """
        ),
        unknown("port 2 carries esc-telemetry", missing="port.2.baud"),
        unknown("let motor-signal be dshot300", missing="port.N.functions"),
        not_for("port 2 carries telemetry at 57600"),
    ),
)
def speed_off_the_function(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """ESC telemetry at its one speed, GPS at a usual one, a log at least at :data:`LOG_BAUD`."""
    ports = _ports(craft)
    told = False
    for port in ports:
        if not port.functions.known:
            told = True
            yield Missing(port.functions.name, "dump")
            continue
        judged = port.functions.value & {"esc-telemetry", "gps", "log"}
        if not judged:
            continue
        told = True
        baud = port.baud
        if not baud.known:
            yield Missing(baud.name, "dump")
            continue
        alone = len(port.functions.value) == 1
        off = abs(baud.value - ESC_TELEMETRY_BAUD) > 0.02 * ESC_TELEMETRY_BAUD
        if "esc-telemetry" in judged and off:
            yield Finding(
                craft.place(baud),
                f"port {port.number} listens for the ESCs' telemetry at {baud}, but they send at "
                f"{ESC_TELEMETRY_BAUD}: nothing of it is understood",
                f"set port.{port.number}.baud to {ESC_TELEMETRY_BAUD}",
                edits=(Put(baud.name, float(ESC_TELEMETRY_BAUD)),) if alone else (),
            )
        near = min(GPS_BAUDS, key=lambda one: abs(one - baud.value))
        if "gps" in judged and abs(baud.value - near) > 0.02 * near:
            usual = ", ".join(map(str, GPS_BAUDS))
            yield Finding(
                craft.place(baud),
                f"port {port.number} listens to the satellite receiver at {baud}, a speed at which "
                f"none speaks ({usual} are usual): there is no position",
                f"set {baud.name} to what the satellite receiver is set to",
                choices=tuple(Put(baud.name, float(one)) for one in GPS_BAUDS) if alone else (),
            )
        if "log" in judged and baud.value < LOG_BAUD:
            yield Finding(
                craft.place(baud),
                f"port {port.number} carries the log at {baud}: below {LOG_BAUD} lines are lost",
                f"set port.{port.number}.baud to {LOG_BAUD} or to what the recorder asks for",
                grade="advise",
                edits=(Put(baud.name, float(LOG_BAUD)),) if alone else (),
            )
    if not told:
        raise NotForThisCraft("no port carries ESC telemetry, GPS or a log")


@rule(
    "ports/upside-down",
    grade="fix",
    title="A port is turned over for what idles the right way up",
    why="""
    Satellite receivers, ESCs, rangefinders, recorders and consoles speak plain serial, which idles
    high.  On a port that is inverted none of it is understood.  Telemetry is left out: some radios
    want theirs inverted; the receiver's own port is another rule's.
    """,
    source="common practice",
    examples=(
        good(
            """
            port 3 carries gps
            let port-3-flip be no
            """
        ),
        bad(
            """
            port 3 carries gps
            let port-3-flip be yes
                               ^^^ port 3 gps inverted
            """
        ),
        unknown("port 3 carries gps", missing="port.3.inverted"),
        unknown("let motor-signal be dshot300", missing="port.N.functions"),
        not_for(
            """
            port 3 carries telemetry
            let port-3-flip be yes
            """
        ),
    ),
)
def upside_down(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No port of plain serial is inverted."""
    told = False
    for port in _ports(craft):
        if not port.functions.known:
            told = True
            yield Missing(port.functions.name, "dump")
            continue
        plain = port.functions.value & _PLAIN
        if not plain or "receiver" in port.functions.value:
            continue
        told = True
        if not port.inverted.known:
            yield Missing(port.inverted.name, "dump")
        elif port.inverted.value:
            yield Finding(
                craft.place(port.inverted),
                f"port {port.number} is inverted, but {_and(plain)} on it idles high: nothing of "
                "it is understood",
                f"set {port.inverted.name} to no",
                beside(port.functions, "what it carries"),
                edits=(Put(port.inverted.name, False),),
            )
    if not told:
        raise NotForThisCraft("no port carries what always speaks plain serial")


#: What always speaks plain serial that idles high (common practice).
_PLAIN = frozenset({"gps", "esc-telemetry", "rangefinder", "log", "console"})


def _ports(craft: Craft) -> list[Port]:
    ports = craft.ports()
    if not ports:
        raise Missing("port.N.functions", "dump")
    return ports


def _and(words: frozenset[str]) -> str:
    return listed(sorted(words))
