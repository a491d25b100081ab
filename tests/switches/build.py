"""Craft made by hand, for tests of the switch engine: no dump, no dialect, no card file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft import Card, Craft, ModeLink, ModeRange, SwitchCard, Traits, Value
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

FILE, CARD_FILE = "craft.dump", "craft.card.toml"
TRAITS = Traits("half-open", "absolute", False, True)
Join = Literal["any", "all"]


def at(line: int, file: str = FILE) -> Span:
    return on_line(file, line, 0, 10)


def row(mode: str, channel: int, low: float, high: float, join: Join = "any") -> ModeRange:
    span = at(1)
    return ModeRange(mode, channel, low, high, join, span, span, span, span)


def link(mode: str, follows: str, join: Join = "any") -> ModeLink:
    return ModeLink(mode, follows, join, at(1))


def switch(
    name: str,
    channel: int,
    positions: Iterable[float],
    *,
    names: Iterable[str] = (),
    jitter: float = 0.0,
    momentary: bool = False,
) -> SwitchCard:
    span = at(channel, CARD_FILE)
    pulses = tuple(positions)
    return SwitchCard(
        name, channel, pulses, tuple(names), jitter, momentary, span, span, (span,) * len(pulses)
    )


def card(*switches: SwitchCard, **values: Any) -> Card:
    """A card; ``receiver__link="crsf"`` gives the field ``receiver.link``."""
    return Card(
        CARD_FILE, {name.replace("__", "."): value for name, value in values.items()}, switches
    )


def craft(
    ranges: Iterable[ModeRange] = (),
    links: Iterable[ModeLink] = (),
    *,
    card: Card | None = None,
    values: Mapping[str, Any] | None = None,
    traits: Traits = TRAITS,
) -> Craft:
    """A craft with ranges on lines 2, 3, … and links after them, each with its own span."""
    rows = [
        item._replace(
            span=on_line(FILE, line, 0, 40),
            channel_span=on_line(FILE, line, 22, 23),
            low_span=on_line(FILE, line, 27, 31),
            high_span=on_line(FILE, line, 33, 37),
        )
        for line, item in enumerate(ranges, 2)
    ]
    follows = [
        item._replace(span=on_line(FILE, line, 0, 30))
        for line, item in enumerate(links, 2 + len(rows))
    ]
    line = 2 + len(rows) + len(follows)
    settings: dict[str, Value] = {}
    for number, (name, value) in enumerate((values or {}).items()):
        place = on_line(FILE, line + number, 4, 12)
        settings[name] = Value(name, value, "set", place, place, str(value))
    return Craft(
        file=FILE,
        name="Avocet",
        dialect="plain",
        extent="full",
        whole=on_line(FILE, 1, 0, 20),
        values=settings,
        mode_ranges=tuple(rows),
        mode_links=tuple(follows),
        traits=traits,
        card=card,
        lines=line + len(settings),
    )


#: Arm on a two-position switch, self-level on a three-position one, self-right and a beacon on
#: switches of their own: what a sound small craft looks like.
SOUND_RANGES = (
    row("arm", 5, 1672, 2083),
    row("self-level", 6, 1285, 2194),
    row("self-right", 7, 1722, 2236),
    row("beacon", 8, 1608, 2142),
)
SOUND_SWITCHES = (
    switch("K1", 5, (1000, 2000), names=("up", "down"), jitter=4),
    switch("K4", 6, (1000, 1500, 2000), names=("up", "middle", "down"), jitter=4),
    switch("K2", 7, (1000, 2000), names=("up", "down"), jitter=4),
    switch("K7", 8, (1000, 2000), names=("up", "down"), jitter=4),
)
SOUND_VALUES = {
    "receiver.link": "crsf",
    "failsafe.action": "stop",
    "receiver.channel_order": "AETR",
}


def sound(
    ranges: Iterable[ModeRange] = SOUND_RANGES,
    links: Iterable[ModeLink] = (),
    switches: Iterable[SwitchCard] | None = SOUND_SWITCHES,
    traits: Traits = TRAITS,
    **values: Any,
) -> Craft:
    """The sound craft, with other ranges, links, switches or values where given."""
    given = {name.replace("__", "."): value for name, value in values.items()}
    return craft(
        ranges,
        links,
        card=None if switches is None else card(*switches, receiver__on_loss="silent"),
        values={**SOUND_VALUES, **given},
        traits=traits,
    )
