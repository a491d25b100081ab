"""What fleet rules see: craft cut down to the facts that are compared, and what is usual.

A fleet's craft are read in different processes, so only the little that some rule asks for is
handed over.  A craft that was cut down refuses every other question: an answer of "nobody says"
would be untrue.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.model import (
    EVERYTHING,
    Craft,
    Missing,
    ModeRange,
    NotForThisCraft,
    Value,
)
from cfglint.craft.settings import family

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable
    from typing import NoReturn

    from cfglint.craft.card import SwitchCard
    from cfglint.craft.model import ModeLink, Unread

#: Before a mode's name in what a fleet rule asks.
MODE = "mode."
#: Always known: findings are told in the words of the craft's own version.
FIRMWARE = "craft.firmware"


class FleetCraft(Craft):
    """A craft that knows only what was asked for; ``asks`` are the settings and modes.

    Of its card it has the ``switches``, if it was asked for a mode.  Raises LookupError for a
    question that is not among ``asks``.
    """

    __slots__ = ("asks", "switches")

    asks: tuple[str, ...]
    switches: tuple[SwitchCard, ...]

    def __init__(self, craft: Craft, asks: tuple[str, ...], others: tuple[Craft, ...]) -> None:
        modes = {ask[len(MODE) :] for ask in asks if ask.startswith(MODE)}
        links: tuple[ModeLink, ...] = tuple(row for row in craft.mode_links if row.mode in modes)
        super().__init__(
            file=craft.file,
            name=craft.name,
            dialect=craft.dialect,
            extent=craft.extent,
            whole=craft.whole,
            values={name: value for name, value in craft.values.items() if _asked(name, asks)},
            mode_ranges=tuple(row for row in craft.mode_ranges if row.mode in modes),
            mode_links=links,
            traits=craft.traits,
            lines=craft.lines,
            others=others,
            unsure=craft.unsure,
            unmapped=craft.unmapped,
            unread=tuple(row for row in craft.unread if _about(row, asks, bool(modes))),
            outside=craft.outside,
        )
        object.__setattr__(self, "asks", asks)
        cards: tuple[SwitchCard, ...] = craft.card.switches if craft.card is not None else ()
        shown = getattr(craft, "switches", cards) if modes else ()
        object.__setattr__(self, "switches", shown)

    def get(self, name: str) -> Value:
        if not _asked(name, self.asks):
            _refuse(name)
        return super().get(name)

    def need(self, name: str) -> Value:
        if not _asked(name, self.asks):
            _refuse(name)
        return super().need(name)

    def ranges_of(self, mode: str) -> tuple[ModeRange, ...]:
        if MODE + mode not in self.asks:
            _refuse(MODE + mode)
        return tuple([row for row in self.mode_ranges if row.mode == mode])

    def from_card(self, field: str) -> Value:
        raise LookupError(f"a fleet rule cannot ask for `{field}`: it is shown no cards")

    def maybe_card(self, field: str) -> Value:
        return self.from_card(field)


def lean(craft: Craft, asks: tuple[str, ...]) -> Craft:
    """The craft and its ``others``, cut down to what ``asks`` lists."""
    if isinstance(craft, FleetCraft) and craft.asks == asks:
        return craft
    # The others' own others are the same fleet again.
    return FleetCraft(craft, asks, tuple(FleetCraft(other, asks, ()) for other in craft.others))


def among(rows: list[Craft], at: int, asks: tuple[str, ...]) -> Craft:
    """One craft of a fleet that was cut down, with all the others beside it."""
    return FleetCraft(rows[at], asks, (*rows[:at], *rows[at + 1 :]))


def _about(row: Unread, asks: tuple[str, ...], modes: bool) -> bool:
    """Whether what was not read may be something that is asked for."""
    return any(
        name == EVERYTHING
        or (modes and name in ("range", "link"))
        or (name != FIRMWARE and _asked(name, asks))
        for name in row.names
    )


def _asked(name: str, asks: tuple[str, ...]) -> bool:
    return name == FIRMWARE or name in asks or family(name) in asks


def _refuse(name: str) -> NoReturn:
    raise LookupError(f"this fleet rule asks for `{name}`, which its `asks` does not list")


class Usual(NamedTuple):
    """What more than half of a fleet have, and the craft that have it."""

    value: Any
    crafts: tuple[Craft, ...]

    def names(self, most: int = 4) -> str:
        """``Avocet, Bittern and 3 more``."""
        names = [craft.name for craft in self.crafts]
        if len(names) > most:
            names[most:] = [f"{len(names) - most} more"]
        return " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)


def usual(craft: Craft, fact: str, tell: Callable[[Craft], Hashable | None]) -> Usual:
    """What is usual in the fleet of a craft, the craft itself counted in.

    ``tell`` gives what is compared: None where nobody says; it raises NotForThisCraft for a
    craft that does not count.  Raises NotForThisCraft where fewer than three count or no value
    is that of more than half; Missing (of ``fact``) where the craft itself does not say, or so
    many others do not that they could tip the balance.
    """
    mine = tell(craft)
    if mine is None:
        raise Missing(fact, "dump")
    told: dict[Hashable, list[Craft]] = {}
    silent: list[str] = []
    for other in (craft, *craft.others):
        try:
            value = mine if other is craft else tell(other)
        except NotForThisCraft:
            continue
        if value is None:
            silent.append(other.name)
        else:
            told.setdefault(value, []).append(other)
    count = sum(map(len, told.values())) + len(silent)
    if count < 3:
        raise NotForThisCraft("fewer than three craft to compare")
    value, crafts = max(told.items(), key=lambda row: len(row[1]))
    if len(crafts) * 2 > count:
        return Usual(value, tuple(crafts))
    if (len(crafts) + len(silent)) * 2 > count:
        raise Missing(fact, "dump", f"of {', '.join(silent[:5])}")
    raise NotForThisCraft("no more than half of the fleet agree")
