"""The hardware card: what the dump cannot say, one typed field a row."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.model import Fixed, Missing, Value
from cfglint.craft.settings import (
    CHEMISTRIES,
    FRAMES,
    FRONT_PAIRS,
    LINKS,
    PLACES,
    SIGNALS,
    TURNS,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from cfglint.span import Span


class Field(NamedTuple):
    """One field of a card: ``kind`` as in the settings table, plus ``words`` for lists."""

    name: str
    kind: str
    unit: str
    words: tuple[str, ...]
    about: str


FIELDS: dict[str, Field] = {
    row.name: row
    for row in (
        Field("airframe.motors", "count", "motors", (), "how many motors the craft has"),
        Field(
            "airframe.kind",
            "word",
            "",
            ("unstabilised", "stabilised", "programmable"),
            "what it can do alone: nothing, keep level, or fly back",
        ),
        Field("airframe.propellers", "word", "", ("open", "enclosed"), "how the blades are kept"),
        Field("airframe.frame", "word", "", FRAMES, "how its arms stand and what is on them"),
        Field(
            "airframe.front_pair",
            "word",
            "",
            FRONT_PAIRS,
            "how the blades of the front pair move where they are foremost",
        ),
        Field("airframe.hover_us", "number", "µs", (), "throttle at which the laden craft hovers"),
        Field("board.roll_deg", "number", "deg", (), "how far its board is rolled in the frame"),
        Field("board.pitch_deg", "number", "deg", (), "how far its board is pitched in the frame"),
        Field("board.yaw_deg", "number", "deg", (), "how far its board is turned in the frame"),
        Field("motor.N.place", "word", "", PLACES, "where the motor on output N sits"),
        Field("motor.N.turns", "word", "", TURNS, "how it turns, seen from above"),
        Field("esc.signals", "words", "", SIGNALS, "motor signals that the ESCs understand"),
        Field("esc.two_way", "flag", "", (), "the ESCs can answer on the signal wire"),
        Field("esc.reverses", "flag", "", (), "the ESCs can reverse a motor on command"),
        Field("esc.firmware", "text", "", (), "the ESC firmware's version"),
        Field("esc.firmware_order", "word", "", ("dotted", "decimal"), "how its versions count"),
        Field("esc.reverses_from", "text", "", (), "first ESC firmware that reverses on command"),
        Field("esc.pulse_min_us", "number", "µs", (), "lowest pulse the ESCs are calibrated to"),
        Field("esc.pulse_max_us", "number", "µs", (), "highest pulse the ESCs are calibrated to"),
        Field("motor.N.esc_signals", "words", "", SIGNALS, "signals its own ESC understands"),
        Field("motor.N.esc_two_way", "flag", "", (), "its own ESC answers on the signal wire"),
        Field("motor.N.esc_reverses", "flag", "", (), "its own ESC reverses on command"),
        Field("motor.N.esc_firmware", "text", "", (), "its own ESC's firmware version"),
        Field("receiver.link", "word", "", LINKS, "link that the receiver speaks"),
        Field("receiver.port", "count", "port", (), "port the receiver is soldered to"),
        Field("receiver.rate_hz", "number", "Hz", (), "frames a second that the receiver sends"),
        Field(
            "receiver.pad",
            "word",
            "",
            ("as-link", "un-inverted"),
            "whether the pad in use carries the link as it is or already turned to normal",
        ),
        Field("receiver.low_us", "number", "µs", (), "lowest pulse the receiver sends"),
        Field("receiver.high_us", "number", "µs", (), "highest pulse the receiver sends"),
        Field(
            "receiver.on_loss",
            "word",
            "",
            ("silent", "hold", "set-values"),
            "what the receiver itself sends when the radio link is lost",
        ),
        Field("transmitter.channel_order", "text", "", (), "order of the sticks, e.g. AETR"),
        Field("transmitter.low_us", "number", "µs", (), "pulse of a stick held low"),
        Field("transmitter.high_us", "number", "µs", (), "pulse of a stick held high"),
        Field("transmitter.centre_us", "number", "µs", (), "pulse of a stick let go"),
        Field("transmitter.jitter_us", "number", "µs", (), "how far a still stick wanders"),
        Field("battery.chemistry", "word", "", CHEMISTRIES, "what the cells are made of"),
        Field("battery.cells", "count", "cells", (), "cells in series"),
        Field("failsafe.wanted", "word", "", ("stop", "descend", "return-home"), "what it must do"),
        Field("port.N.inverter", "word", "", ("none", "fixed", "switchable"), "inverter on a port"),
        Field("port.N.wired", "text", "", (), "what is soldered to a port"),
    )
}


#: What may be said of all ESCs, and of one motor's where that differs.
OF_ONE_ESC = {
    name.replace("motor.N.esc_", "esc."): name for name in FIELDS if name.startswith("motor.N.esc_")
}


class SwitchCard(NamedTuple):
    """One transmitter switch: its channel (from 1), its positions and how far they wander.

    ``positions`` are pulses in µs in the order in which the switch is flicked; ``names`` what
    the pilot calls them (``up``, ``middle``, ``down``).  ``momentary`` springs back to the
    first position.  Where the card does not say how far, ``jitter_us`` is 0 and
    ``jitter_said`` False.
    """

    name: str
    channel: int
    positions: tuple[float, ...]
    names: tuple[str, ...]
    jitter_us: float
    momentary: bool
    span: Span
    channel_span: Span
    position_spans: tuple[Span, ...]
    jitter_said: bool = True


class Card:
    """One craft's hardware, read from a card file.  Values carry spans into that file."""

    __slots__ = ("file", "locate", "switches", "values")

    file: str
    values: dict[str, Any]
    switches: tuple[SwitchCard, ...]
    locate: Callable[[str], Span | None] | None

    def __init__(
        self,
        file: str,
        values: dict[str, Any],
        switches: tuple[SwitchCard, ...] = (),
        locate: Callable[[str], Span | None] | None = None,
    ) -> None:
        put = object.__setattr__
        put(self, "file", file)
        put(self, "values", Fixed(values))
        put(self, "switches", switches)
        put(self, "locate", locate)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a card cannot be changed (`{name}`)")

    def __setstate__(self, state: tuple[Any, dict[str, Any]]) -> None:
        for name, value in state[1].items():
            object.__setattr__(self, name, value)

    def with_switches(self, switches: tuple[SwitchCard, ...]) -> Card:
        """The same card with other switches."""
        return Card(self.file, self.values, switches, self.locate)

    def get(self, field: str) -> Value:
        """A field; one of origin ``missing`` when the card does not say.

        What is said of ESCs is what holds for every one of them, those of single motors
        included: signals that all understand, a thing that all can do, one firmware.
        """
        if field in OF_ONE_ESC and any(name.startswith("motor.") for name in self.values):
            return self._of_every(field)
        return self._plain(field)

    def escs(self, field: str) -> dict[int | None, Value]:
        """What is said of the ESCs: by motor, and under None what is said of all the others.

        ``field`` is one of ``OF_ONE_ESC``.  None is left out where each motor's ESC has its own,
        and is of origin ``missing`` where nobody says anything of the others.
        """
        head, tail = OF_ONE_ESC[field].split("N", 1)
        own: dict[int | None, Value] = {}
        for name in sorted(self.values):
            number = name[len(head) : -len(tail)]
            if name.startswith(head) and name.endswith(tail) and number.isdigit():
                own[int(number)] = self._plain(name)
        motors = self.values.get("airframe.motors")
        if motors is None or not all(number in own for number in range(1, motors + 1)):
            own[None] = self._plain(field)
        return own

    def _plain(self, name: str) -> Value:
        if name not in self.values:
            return Value(name, None, "missing")
        # Spans are looked up only for what a finding speaks of: most cards are never pointed at.
        span = self.locate(name) if self.locate is not None else None
        return Value(name, self.values[name], "set", span, span, str(self.values[name]))

    def _of_every(self, field: str) -> Value:
        parts = list(self.escs(field).values())
        known = [part for part in parts if part.known]
        worst = next((part for part in known if part.value is False), None)
        if worst is not None:
            return worst._replace(name=field)
        if len(known) < len(parts) or not known:
            return Value(field, None, "missing")
        first, *others = known
        if isinstance(first.value, frozenset):
            common = first.value.intersection(*(part.value for part in others))
            least = min(known, key=lambda part: len(part.value))
            return least._replace(name=field, value=common)
        same = all(part.value == first.value for part in others)
        return first._replace(name=field) if same else Value(field, None, "missing")

    def need(self, field: str) -> Value:
        """A field; raises Missing when the card does not say."""
        found = self.get(field)
        if not found.known:
            raise Missing(field, "card")
        return found
