"""One wire or two."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft, listed
from cfglint.facts.links import LINKS, link_baud_within
from cfglint.rule import Finding, Put, bad, good, not_for, rule, unknown

from ._wiring import bauds_of, beside_value, listening, no_line_setting

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Grade, Options


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
    flags += [port.half_duplex for port in listening(craft)]
    known = [flag for flag in flags if flag.known]
    if not known:
        raise no_line_setting(craft, "receiver.half_duplex")
    on = [flag for flag in known if flag.value]
    wires = LINKS[link.value].wires
    if on and wires == "half duplex":
        off = [flag for flag in known if not flag.value]
        if off and LINKS[link.value].wires_too is None:
            told = f"{listed([flag.name for flag in on])} is yes: which of them counts is not known"
            raise Missing(off[0].name, "dump", told)
        return
    if bool(on) == (wires == "half duplex"):
        return
    if on and not fitted.known and f"{link.value}-one-wire" in LINKS:
        raise Missing("receiver.link", "card", f"{link} is used on two wires and on one")
    grade: Grade | None = None
    if on:
        message = (
            f"{listed([flag.name for flag in on])} is yes, one wire both ways, but {link} is "
            f"{wires}: the controller listens on the pin that it sends from"
        )
        instead = f"set {listed([flag.name for flag in on])} to no"
        edits = tuple(Put(flag.name, False) for flag in on)
        # On two wires the link may be of another speed.
        edits += tuple(
            Put(baud.name, float(LINKS[link.value].bauds[0]))
            for baud in bauds_of(craft)
            if link_baud_within(link.value, baud.value) != "good"
        )
    else:
        told = listed([flag.name for flag in known])
        message = (
            f"{link} goes both ways on one wire, but {told} is no: "
            "the controller listens on a pin where nothing is soldered"
        )
        instead = f"set {listed([flag.name for flag in known])} to yes"
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
        beside_value(link, "the receiver's link"),
        grade,
        edits=edits,
    )
