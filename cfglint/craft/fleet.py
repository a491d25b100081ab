"""What fleet rules see: craft cut down to the facts that are compared, and what is usual.

A fleet's craft are read in different processes, so only the little that some rule asks for is
handed over.  A craft that was cut down refuses every other question: an answer of "nobody says"
would be untrue.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, overload

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

    Tell = Callable[[Craft], Hashable | None]
    Watch = Callable[[Craft, dict[str, None]], Craft]

#: Before a mode's name in what a fleet rule asks.
MODE = "mode."
#: Always known: findings are told in the words of the craft's own version.
FIRMWARE = "craft.firmware"
#: No message names more craft than this; the rest are counted.
NAMED = 5


class FleetCraft(Craft):
    """A craft that knows only what was asked for; ``asks`` are the settings and modes.

    Of its card it has the ``switches``, if it was asked for a mode.  Raises LookupError for a
    question that is not among ``asks``.
    """

    __slots__ = ("asks", "switches")

    asks: tuple[str, ...]
    switches: tuple[SwitchCard, ...]

    def __init__(self, craft: Craft, asks: tuple[str, ...], others: Sequence[Craft]) -> None:
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
    if not craft.others:
        return FleetCraft(craft, asks, ())
    # The others' own others are the same fleet again.
    return among(Fleet([FleetCraft(one, asks, ()) for one in (craft, *craft.others)]), 0, asks)


def among(fleet: Fleet, at: int, asks: tuple[str, ...]) -> Craft:
    """One craft of a fleet that was cut down, with all the others beside it."""
    return FleetCraft(fleet.crafts[at], asks, Others(fleet, at))


def _about(row: Unread, asks: tuple[str, ...], modes: bool) -> bool:
    """Whether what was not read may be something that is asked for."""
    return any(
        name == EVERYTHING
        or (modes and name in ("range", "link"))
        or (name != FIRMWARE and _asked(name, asks))
        for name in row.names
    )


def _called(craft: Craft) -> str:
    return craft.name or craft.file


def _asked(name: str, asks: tuple[str, ...]) -> bool:
    return name == FIRMWARE or name in asks or family(name) in asks


def _refuse(name: str) -> NoReturn:
    raise LookupError(f"this fleet rule asks for `{name}`, which its `asks` does not list")


# ------------------------------------------------------------------ all the others


class Fleet:
    """Craft that were cut down alike, and what was worked out of all of them once."""

    __slots__ = ("answers", "crafts", "unsure")

    def __init__(self, crafts: Sequence[Craft]) -> None:
        self.crafts = crafts
        self.unsure: bool = any(craft.unsure for craft in crafts)
        #: What each question came to that was put to every craft.
        self.answers: dict[Tell, _Answers] = {}


class _Some(Sequence["Craft"]):
    """Craft of a fleet by their places in it, each made ready only when it is looked at."""

    fleet: Fleet

    def __init__(self, others: Others, places: Sequence[int]) -> None:
        self.fleet = others.fleet
        self.ready = others.ready
        self.places = places

    def __len__(self) -> int:
        return len(self.places)

    @overload
    def __getitem__(self, at: int) -> Craft: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Craft]: ...
    def __getitem__(self, at: int | slice) -> Craft | Sequence[Craft]:
        if isinstance(at, slice):
            return tuple(self.ready(self.fleet.crafts[place]) for place in self.places[at])
        return self.ready(self.fleet.crafts[self.places[at]])


class _Places(Sequence[int]):
    """All places of a fleet but one."""

    def __init__(self, size: int, at: int) -> None:
        self.size = size
        self.at = at

    def __len__(self) -> int:
        return self.size - 1

    @overload
    def __getitem__(self, at: int) -> int: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[int]: ...
    def __getitem__(self, at: int | slice) -> int | Sequence[int]:
        if isinstance(at, slice):
            return [self[one] for one in range(*at.indices(len(self)))]
        one = range(self.size - 1)[at]
        return one if one < self.at else one + 1


class Others(_Some):
    """A craft's ``others``: the fleet but for the craft itself, which stands ``at`` a place of it.

    All craft of a fleet share it, so that a fleet of thousands is not copied thousands of times.
    """

    def __init__(
        self,
        fleet: Fleet,
        at: int,
        watch: Watch = lambda craft, seen: craft,
        seen: dict[str, None] | None = None,
    ) -> None:
        self.fleet = fleet
        self.at = at
        self.places = _Places(len(fleet.crafts), at)
        #: What of unconfirmed mappings was looked at, where that is watched.
        self.watch = watch
        self.seen = seen

    def ready(self, craft: Craft) -> Craft:
        return craft if self.seen is None else self.watch(craft, self.seen)

    @property
    def unsure(self) -> bool:
        return self.fleet.unsure

    def watched(self, watch: Watch, seen: dict[str, None]) -> Others:
        """The same craft, of which ``watch`` notes in ``seen`` what is looked at."""
        return Others(self.fleet, self.at, watch, seen)


class _Answers:
    """What all craft of a fleet say to one question."""

    def __init__(self, fleet: Fleet, tell: Tell, watch: Watch) -> None:
        self.groups: dict[Hashable, list[int]] = {}
        self.silent: list[int] = []
        #: What was noted, of which craft: at most five for each name, and how many there are.
        self.noted: dict[str, list[int]] = {}
        for at, craft in enumerate(fleet.crafts):
            seen: dict[str, None] = {}
            try:
                value = tell(watch(craft, seen))
            except NotForThisCraft:
                continue
            finally:
                for name in seen:
                    self.noted.setdefault(name.removesuffix(f" of {_called(craft)}"), []).append(at)
            if value is None:
                self.silent.append(at)
            else:
                self.groups.setdefault(value, []).append(at)
        self.count = sum(map(len, self.groups.values())) + len(self.silent)
        self.most = max(self.groups, key=lambda value: len(self.groups[value]), default=None)
        self._sorted: list[Any] | None = None

    def between(self, least: Any, most: Any) -> list[int]:
        from bisect import bisect_left, bisect_right

        if self._sorted is None:
            self._sorted = sorted(self.groups)
        found = self._sorted[bisect_left(self._sorted, least) : bisect_right(self._sorted, most)]
        return sorted(at for value in found for at in self.groups[value])


class Index:
    """What the craft of a fleet say to one question: who says what, and of whom nobody says."""

    def __init__(self, others: Others, tell: Tell) -> None:
        self.all = others
        fleet = others.fleet
        found = fleet.answers.get(tell)
        if found is None:
            found = fleet.answers[tell] = _Answers(fleet, tell, others.watch)
        self.answers = found
        if others.seen is not None:
            for name, places in found.noted.items():
                rest = [at for at in places[: NAMED + 1] if at != others.at][:NAMED]
                names = [_called(fleet.crafts[at]) for at in rest]
                more = len(places) - (others.at in places[: NAMED + 1]) - len(rest)
                names += [f"{more} more"] if more > 0 else []
                others.seen.update(dict.fromkeys(f"{name} of {one}" for one in names))

    def others_of(self, value: Hashable) -> Sequence[Craft]:
        """The other craft that say so."""
        return self._but_itself(self.answers.groups.get(value, []))

    def others_between(self, least: Any, most: Any) -> Sequence[Craft]:
        """The other craft that say something from ``least`` to ``most``."""
        return self._but_itself(self.answers.between(least, most))

    @property
    def silent(self) -> Sequence[Craft]:
        """The other craft of which nobody says."""
        return self._but_itself(self.answers.silent)

    def _but_itself(self, places: list[int]) -> Sequence[Craft]:
        from bisect import bisect_left

        at = bisect_left(places, self.all.at)
        if at < len(places) and places[at] == self.all.at:
            places = places[:at] + places[at + 1 :]
        return _Some(self.all, places)


def index(craft: Craft, tell: Tell) -> Index:
    """What every craft of the fleet says, the craft itself counted in; worked out once for all.

    ``tell`` gives what is asked of one craft: None where nobody says; it raises NotForThisCraft
    for one that does not count.  It must be the same function each time, not one made anew.
    """
    others = craft.others
    if not isinstance(others, Others):
        others = Others(Fleet((craft, *others)), 0)
    return Index(others, tell)


# ------------------------------------------------------------------ names, and what is usual


def named(crafts: Sequence[Craft], most: int = NAMED) -> str:
    """``Avocet, Bittern and 3 more``."""
    names = [craft.name for craft in crafts[:most]]
    if len(crafts) > most:
        names.append(f"{len(crafts) - most} more")
    return " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)


class Usual(NamedTuple):
    """What more than half of a fleet have, and the craft that have it."""

    value: Any
    crafts: Sequence[Craft]

    def names(self, most: int = 4) -> str:
        """``Avocet, Bittern and 3 more``."""
        return named(self.crafts, most)


def usual(craft: Craft, fact: str, tell: Tell) -> Usual:
    """What is usual in the fleet of a craft, the craft itself counted in.

    ``tell`` is that of :func:`index`.  Raises NotForThisCraft where fewer than three count or no
    value is that of more than half; Missing (of ``fact``) where the craft itself does not say, or
    so many others do not that they could tip the balance.
    """
    if tell(craft) is None:
        raise Missing(fact, "dump")
    found = index(craft, tell)
    answers = found.answers
    if answers.count < 3:
        raise NotForThisCraft("fewer than three craft to compare")
    places = answers.groups[answers.most]
    if len(places) * 2 > answers.count:
        return Usual(answers.most, _Some(found.all, places))
    if (len(places) + len(answers.silent)) * 2 > answers.count:
        raise Missing(fact, "dump", f"of {named(found.silent)}")
    raise NotForThisCraft("no more than half of the fleet agree")
