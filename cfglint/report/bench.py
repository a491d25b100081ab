"""The bench sheet: what only hands and eyes can check, for one craft.

Every item rests on what the dump and the card say; where they say nothing the item tells what to
find out.  The cautions are common practice and give way to local rules and makers' instructions.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.model import EVERYTHING
from cfglint.craft.settings import MODES
from cfglint.report.blocks import Item, Lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.craft.card import SwitchCard
    from cfglint.report.blocks import Block

#: What is seen on the bench when the link is lost, for each declared action.
ON_LOSS = {
    "stop": "the motors stop at once",
    "descend": "the throttle goes to its descent value and the craft keeps level",
    "return-home": "the craft turns for home (on the bench: the mode comes on)",
    "hold-last": "nothing changes: do not fly like this",
    "none": "nothing is set: do not fly like this",
}


#: What the sheet speaks of: of other settings it does not matter here that a line is missing.
_ABOUT = (
    "craft.", "receiver.", "stick.", "board.", "frame.", "output.", "propellers.", "motor.signal",
    "failsafe.", "self-right.", "range", "link", EVERYTHING,
)  # fmt: skip
_STICKS = range(1, 5)
#: So many things that were not read stand on the sheet one by one.
_MOST_UNREAD = 20


class Part(NamedTuple):
    """A heading of the sheet and the items below it, in the order of work."""

    title: str
    items: tuple[str, ...]


def sheet(craft: Craft) -> list[Part]:
    """The parts of a craft's bench sheet, in the order of work."""
    parts = [
        *([Part("Not read, so not on this sheet", unread)] if (unread := _unread(craft)) else ()),
        Part("Before power", _before(craft)),
        Part("First power-up", _first(craft)),
        Part("Receiver", _receiver(craft)),
        Part("Board, moved by hand, propellers still off", _board(craft)),
        Part("Motors, propellers still off", _motors(craft)),
        Part("Switches", _switches(craft)),
        Part("Lost link, propellers still off", _loss(craft)),
    ]
    if craft.ranges_of("self-right"):
        parts.append(Part("Self-right", _self_right(craft)))
    parts.append(Part("Last, outdoors", _outdoors()))
    return parts


def _unread(craft: Craft) -> tuple[str, ...]:
    texts = list(
        dict.fromkeys(
            row.text
            for row in craft.unread
            if row.span is not None or any(_asked(name, craft) for name in row.names)
        )
    )
    items = [f"To be found out: {text}." for text in texts[:_MOST_UNREAD]]
    if len(texts) > _MOST_UNREAD:
        items.append(f"And {len(texts) - _MOST_UNREAD} more, which `cfglint lint` tells.")
    return tuple(items)


def _asked(name: str, craft: Craft) -> bool:
    """Whether the sheet asks for a setting, or a row of them, of which a line is missing."""
    channel = re.fullmatch(r"failsafe\.channel\.(\d+)", name)
    if channel is not None:
        return int(channel[1]) in {*_STICKS, *(row.channel for row in craft.mode_ranges)}
    return name.startswith(_ABOUT)


def _before(craft: Craft) -> tuple[str, ...]:
    cells = craft.maybe_card("battery.cells")
    pack = f"a pack of {cells}" if cells.known else "the pack that it is meant for"
    items = [
        "Propellers are off. They stay off until this sheet says otherwise.",
        f"The battery is {pack}, undamaged; a damaged or swollen one is neither charged nor flown.",
        "Wiring is looked over: no bare strands, nothing loose, nothing that a motor can catch.",
    ]
    if craft.lines:
        items.append("This dump is kept, as it is, from before any change.")
    return tuple(items)


def _first(craft: Craft) -> tuple[str, ...]:
    board = craft.get("craft.board")
    firmware = craft.get("craft.firmware")
    named = f"{board} with firmware {firmware}" if board.known and firmware.known else "what it is"
    return (
        "After any change of wiring or firmware the first power comes through a current limiter.",
        f"The controller says that it is {named}.",
        "Nothing gets warm, no motor twitches, the ESCs sound as they should.",
    )


def _receiver(craft: Craft) -> tuple[str, ...]:
    link, port = craft.get("receiver.link"), craft.get("receiver.port")
    where = f" ({link} on port {port.value})" if link.known and port.known else ""
    items = [f"What the controller shows of a channel follows its stick{where}; else it is dead."]
    order = craft.get("receiver.channel_order")
    if order.known:
        items.append(f"Each stick moves its own channel, the right way; the order is {order}.")
    low, high = craft.get("stick.low_us"), craft.get("stick.high_us")
    if low.known and high.known:
        items.append(f"Every stick reaches below {low} and above {high}.")
    rest, slack = craft.get("stick.centre_us"), craft.get("stick.dead_band_us")
    if rest.known and slack.known:
        items.append(f"Sticks let go rest within {slack} of {rest}.")
    return tuple(items)


def _board(craft: Craft) -> tuple[str, ...]:
    """What is moved by hand to see that the controller knows how it lies in the frame."""
    told = _told("dump", *(craft.get(f"board.{axis}_deg") for axis in _AXES))
    real = _told("card", *(craft.maybe_card(f"board.{axis}_deg") for axis in _AXES))
    return (
        f"The board is turned in the frame as the controller is told: {told}; {real}.",
        "Lifted by hand, nose down: what the controller shows goes nose down.",
        "Right side down: what it shows goes right side down.",
        "Turned to the right on the spot, as seen from above: what it shows turns to the right.",
        "Stood level again: it shows level.",
    )


_AXES = ("roll", "pitch", "yaw")


def _told(where: str, *angles: Value) -> str:
    if not any(angle.known for angle in angles):
        return f"the {where} does not say"
    said = (
        f"{axis} {angle.value:g}" if angle.known else f"{axis} not told"
        for axis, angle in zip(_AXES, angles, strict=True)
    )
    return f"{', '.join(said)} degrees by the {where}"


def _motors(craft: Craft) -> tuple[str, ...]:
    signal, number = craft.get("motor.signal"), craft.maybe_card("airframe.motors")
    if not number.known:
        number = craft.get("frame.motors")
    if number.known:
        items = [_motor(craft, one) for one in range(1, int(number.value) + 1)]
    else:
        items = ["Each motor alone, in order, at the least drive: it turns; note its way round."]
    if signal.value != "brushed":
        items += _escs(craft)
    told = f"set to {signal}" if signal.known else "not told by the dump"
    items.append(
        f"All motors turned, none by itself. The motor signal is {told}; with a wrong one it is "
        "usual that some turn and one does not."
    )
    items.append(
        "At the least drive, tipped by hand: the motors at the side that is down speed up, those "
        "at the other slow down. If not, the order of the motors or the board is wrong."
    )
    return tuple(items)


def _escs(craft: Craft) -> list[str]:
    """Each ESC is read out by itself: nothing else tells one that was replaced."""
    card = craft.card
    said = {} if card is None else card.escs("esc.firmware")
    usual = said.get(None)
    number = craft.maybe_card("airframe.motors")
    motors = range(1, int(number.value) + 1) if number.known else sorted(filter(None, said))
    blanks = []
    for motor in motors:
        own = said.get(motor)
        meant = f" (by the card {own})" if own is not None and own.known else ""
        blanks.append(f"motor {motor}{meant} ________")
    meant = f" (by the card {usual})" if usual is not None and usual.known else ""
    each = f": {', '.join(blanks)}" if blanks else ""
    return [f"Each ESC is read out by itself, its firmware{meant} and way of turning{each}."]


def _motor(craft: Craft, one: int) -> str:
    """Which motor has to turn, and which way: what the card says, else what follows."""
    alone = f"Motor {one} alone, at the least drive"
    place = craft.maybe_card(f"motor.{one}.place")
    if not place.known:
        place = craft.get(f"output.{one}.place")
    way = _way(craft, one, place)
    where = f"the one at the {place.value.replace('-', ' ')} turns" if place.known else "it turns"
    if way:
        return f"{alone}: {where}, smoothly, {way} as seen from above. Seen: ________"
    return f"{alone}: {where}, smoothly. Way round: ________"


def _way(craft: Craft, one: int, place: Value) -> str:
    from cfglint.facts.frames import turn_of

    turns = craft.maybe_card(f"motor.{one}.turns")
    if turns.known:
        return str(turns.value)
    frame, pair = craft.maybe_card("airframe.frame"), craft.maybe_card("airframe.front_pair")
    frame = frame if frame.known else craft.get("frame.kind")
    pair = pair if pair.known else craft.get("propellers.front_pair")
    if not (frame.known and pair.known and place.known):
        return ""
    return turn_of(frame.value, pair.value, place.value) or ""


def _modes_at(craft: Craft, switch: SwitchCard, pulse: float) -> str:
    """Modes with a range of the switch's channel around a pulse, as a person reads them."""
    closed = craft.traits.range_ends == "closed"
    found = [
        f"{row.mode} (if its other switches allow)" if row.join == "all" else row.mode
        for row in (*craft.mode_ranges, *craft.drawn)
        if row.channel == switch.channel
        and row.low_us <= pulse
        and (pulse < row.high_us or (closed and pulse == row.high_us))
    ]
    found += [
        f"{link.mode} (with {link.follows})" for link in craft.mode_links if link.follows in found
    ]
    if not found:
        shown = {row.span.line for row in craft.drawn}
        lost = [
            row for row in craft.unread_modes() if row.span is None or row.span.line not in shown
        ]
        found = [f"? ({row.fact} was not understood)" for row in lost]
    return ", ".join(dict.fromkeys(found)) or "nothing"


def _switches(craft: Craft) -> tuple[str, ...]:
    switches = craft.card.switches if craft.card is not None else ()
    items = []
    for switch in switches:
        told = []
        for number, pulse in enumerate(switch.positions):
            name = switch.names[number] if number < len(switch.names) else f"position {number + 1}"
            told.append(f"{name}: {_modes_at(craft, switch, pulse)}")
        items.append(f"{switch.name} (channel {switch.channel}) {'; '.join(told)}.")
    if not switches:
        items = [
            f"The switch of {mode} ({MODES[mode]}) does what it should, and no other does."
            for mode in dict.fromkeys(row.mode for row in craft.mode_ranges)
        ]
    items.append("With the throttle up, or any switch on, power-up does not arm.")
    items.append("`cfglint switches` shows what every combination turns on.")
    return tuple(items)


def _loss(craft: Craft) -> tuple[str, ...]:
    action, delay = craft.get("failsafe.action"), craft.get("failsafe.delay_s")
    if not action.known:
        seen = "what happens is not told by the dump: do not fly before it is set"
    else:
        seen = ON_LOSS[action.value]
        if delay.known and action.value not in ("none", "hold-last"):
            seen += f", about {delay} after"
    return (
        "Armed, throttle a little up, nobody near: the transmitter is switched off.",
        f"To be seen: {seen}.",
        "The transmitter is switched on again: the motors do not start by themselves.",
    )


def _self_right(craft: Craft) -> tuple[str, ...]:
    enclosed = craft.maybe_card("airframe.propellers")
    blades = {
        "enclosed": "Enclosed propellers stand it better; look them over all the same.",
        "open": "Open propellers are nicked by it: look at every blade.",
    }.get(str(enclosed.value), "Look at every blade afterwards.")
    return (
        "Propellers off: with self-right on and armed, roll and pitch turn motors backwards.",
        "In the field in brief blips only; if nothing moves, stop and walk: stalled motors and "
        "ESCs overheat.",
        blades,
        "Parts and cameras come off in a crash: count them before flying on.",
        "Practised in line of sight, outdoors, over soft ground, before doing it by camera.",
    )


def _outdoors() -> tuple[str, ...]:
    return (
        "Only now propellers: the right way up, the right way round for the notes above.",
        "The craft is restrained or on clear ground; people are behind it.",
        "Local aviation rules and the makers' instructions come first.",
        "First flight low, near and in sight.",
    )


def blocks(craft: Craft, caution: str = "", file: str = "") -> Iterator[Block]:
    """The sheet with a box before each item; ``caution`` goes before all else, and the dump's
    ``file`` is named in the title.
    """
    yield Item("", f"Bench sheet: {craft.name}" + (f" ({file})" if file else ""), "bold")
    yield None
    if caution:
        yield Item("", caution)
        yield None
    for part in sheet(craft):
        yield Item("", part.title, "bold")
        yield from (Item("  [ ] ", item) for item in part.items)
        yield None
    yield Lines(None, "Date: ____________   Name: ________________________", copy=True)
