"""Which port the receiver is on, and what is known of its link."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft, Port
from cfglint.facts.links import LINKS
from cfglint.rule import Related

if TYPE_CHECKING:
    from cfglint.craft import Craft, Value


def carriers_of(craft: Craft) -> list[Port]:
    """The ports that carry the receiver, as far as their functions are known."""
    return [
        port
        for port in craft.ports()
        if port.functions.known and "receiver" in port.functions.value
    ]


def listening(craft: Craft) -> list[Port]:
    """The port whose line settings count: the one that carries the receiver.

    Where several claim it, only the one that it is soldered to counts, if the card says so.
    """
    carriers = carriers_of(craft)
    if len(carriers) < 2:
        return carriers
    soldered = craft.maybe_card("receiver.port").value
    return [port for port in carriers if port.number == soldered]


def no_line_setting(craft: Craft, name: str) -> Missing:
    """What is missing where no line setting counts: the setting, or which port is the right one."""
    if carriers_of(craft) and not listening(craft):
        return Missing("receiver.port", "card", "more than one port claims the receiver")
    return Missing(name, "dump")


def all_ports_known(craft: Craft) -> None:
    """Raise Missing unless the functions of every port, and of one at least, are known."""
    ports = craft.ports()
    if not ports:
        raise Missing("port.N.functions", "dump")
    for port in ports:
        if not port.functions.known:
            raise Missing(port.functions.name, "dump")


def receiver_port(craft: Craft) -> Port:
    """The one port that the receiver is on, by the port's functions or by ``receiver.port``."""
    carriers = carriers_of(craft)
    if len(carriers) == 1:
        return carriers[0]
    if carriers:
        raise NotForThisCraft("more than one port claims the receiver")
    named = craft.get("receiver.port")
    if named.known and not craft.get(f"port.{named.value}.functions").known:
        at = f"port.{named.value}"
        rest = (craft.get(f"{at}.{name}") for name in ("baud", "inverted", "half_duplex"))
        return Port(named.value, named._replace(name=f"{at}.functions"), *rest)
    all_ports_known(craft)
    raise NotForThisCraft("no port carries the receiver")


def serial_link(craft: Craft) -> Value:
    """The link, if its wire has one idle level by which to judge."""
    link = craft.need("receiver.link")
    if LINKS[wired_link(craft, link)].idle_inverted is None:
        raise NotForThisCraft(f"{link} may idle either way up")
    return link


def wired_link(craft: Craft, link: Value) -> str:
    """The link's id; CRSF that shares one wire goes by the name of its one-wire kind."""
    shared = any(
        flag.value
        for flag in (
            craft.get("receiver.half_duplex"),
            *(port.half_duplex for port in listening(craft)),
        )
    )
    one_wire = f"{link.value}-one-wire"
    return one_wire if shared and one_wire in LINKS else str(link.value)


def bauds_of(craft: Craft) -> list[Value]:
    """The line speeds configured for the receiver: its own, and its port's."""
    every = [craft.get("receiver.baud"), *(port.baud for port in listening(craft))]
    return [baud for baud in every if baud.known]


def beside_value(value: Value, message: str) -> tuple[Related, ...]:
    return (Related(value.span, message),) if value.span else ()
