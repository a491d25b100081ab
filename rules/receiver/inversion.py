"""The signal comes out the right way up."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft import Missing, NotForThisCraft, Port
from cfglint.facts.links import LINKS
from cfglint.rule import Finding, Put, bad, good, not_for, rule, unknown

from ._wiring import beside_value, receiver_port, serial_link

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options


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
    link, port = serial_link(craft), receiver_port(craft)
    turns = turns_of(craft, link, port)
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
            *beside_value(link, f"idles {idle}"),
            *beside_value(craft.maybe_card("receiver.pad"), "the pad in use"),
            *beside_value(inverter, f"the inverter on {where}"),
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
    link, port = serial_link(craft), receiver_port(craft)
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
    turns = turns_of(craft, link, port)
    if turns.inverted:
        raise NotForThisCraft("receiver/inversion-not-normal has said that nothing is heard")
    what = "a fixed inverter" if inverter.value == "fixed" else "no inverter"
    yield Finding(
        craft.place(flag),
        f"the inversion flag is yes, but port {port.number} has {what}: the flag does nothing "
        "here, and would do harm on another port",
        f"set {flag.name} to no",
        beside_value(inverter, f"the inverter on port {port.number}"),
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


def turns_of(craft: Craft, link: Value, port: Port) -> _Turns:
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
