"""Watching what a rule looks at in a craft of which not everything is sure, or was read.

Imported only for a craft whose dialect marks mappings unconfirmed, or of which something was not
read.  A watched craft answers as the craft itself does and notes the unconfirmed names that were
asked for, and what was not read and may be about what was asked for.  Each rule gets one of its
own, so that what helpers keep for a craft is never shared between rules and hides nothing from
the second.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from cfglint.craft.fleet import Others
from cfglint.craft.model import EVERYTHING, ModeLink, ModeRange, Port, Traits, Value, unwatched
from cfglint.craft.settings import family

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from cfglint.craft.model import Craft, Unread

    Note = Callable[[str], None]
    Look = Callable[[str, bool], None]

#: Before what is no setting, among unconfirmed names.
MODE, TRAIT = "mode ", "trait "


def watched(craft: Craft, seen: dict[str, None], unread: dict[Unread, None] | None = None) -> Craft:
    """A craft that answers alike and notes in ``seen`` the unconfirmed names that it is asked for.

    Names are those of ``craft.unsure``; of the fleet's other craft ``motor.signal of Bittern``.
    In ``unread`` is noted what of ``craft.unread`` may be about what is asked for.
    """
    others = craft.others
    if isinstance(others, Others):
        others = others.watched(watched_other, seen)
    else:
        others = tuple(watched_other(one, seen) for one in others)
    return _watch(craft, seen, "", unread).changed(others=others)


def watched_other(craft: Craft, seen: dict[str, None]) -> Craft:
    """Another craft of the fleet, of which it is noted in ``seen`` what is looked at."""
    return _watch(craft, seen, f" of {craft.name or craft.file}") if craft.unsure else craft


def _watch(
    craft: Craft, seen: dict[str, None], of: str, unread: dict[Unread, None] | None = None
) -> Craft:
    unsure = craft.unsure
    about: dict[str, list[Unread]] = {}
    for one in craft.unread if unread is not None else ():
        for name in one.names:
            about.setdefault(name, []).append(one)

    def note(name: str) -> None:
        if name in unsure:
            seen[name + of] = None

    def look(name: str, silent: bool) -> None:
        """Note what was not read and may be about a name; ``silent``: no line is about it."""
        for key in (name, family(name), EVERYTHING):
            for one in about.get(key, ()):
                if unread is not None and (silent or not one.guessed):
                    unread[one] = None

    traits = _Traits(*craft.traits)
    traits.note = note
    traits.look = look
    ranges: Iterable[ModeRange] = craft.mode_ranges
    links: Iterable[ModeLink] = craft.mode_links
    modes = [name for name in unsure if name.startswith(MODE)]
    if modes:
        ranges = [_with(_Range(*row), note) for row in ranges]
        links = [_with(_Link(*link), note) for link in links]
    # No range at all: any word that is not confirmed might be the reason.
    absent = modes if not craft.mode_ranges else []
    misread = [family(row.name) for row in craft.misread]
    doubted = [
        family(value.name)
        for row in craft.repeats
        for value in (row.earlier, row.later)
        if not value.sure
    ]
    return craft.changed(
        values=_Values(craft.values, unsure, note, about, look),
        traits=traits,
        mode_ranges=_Rows(ranges, craft.mode_ranges, ("range", *absent), note, look),
        mode_links=_Rows(links, craft.mode_links, ("link",), note, look),
        misread=_Rows(craft.misread, craft.misread, misread, note),
        repeats=_Rows(craft.repeats, craft.repeats, doubted, note),
    )


class _Values(Mapping[str, Value]):
    """Settings by name; an absent one counts as looked at, too."""

    def __init__(
        self,
        inner: Mapping[str, Value],
        unsure: frozenset[str],
        note: Note,
        about: Iterable[str] = (),
        look: Look | None = None,
    ) -> None:
        self.unwatched = inner
        self.unsure = unsure
        self.note = note
        self.about = about
        self.look = look if about else None

    def __getitem__(self, name: str) -> Value:
        found = self.unwatched.get(name)
        if found is None or not found.sure:
            self.note(family(name))
        if self.look is not None and not name.startswith("craft."):
            self.look(name, found is None or found.origin != "set")
        return self.unwatched[name]

    def look_from(self, start: str) -> None:
        """Look at all that was not read and may be about names that begin so."""
        for name in self.about if self.look is not None else ():
            if self.look is not None and (name.startswith(start) or name == EVERYTHING):
                self.look(name, True)

    def __contains__(self, name: object) -> bool:
        return self.get(str(name)) is not None

    def __iter__(self) -> Iterator[str]:
        # Which names there are says of each whether a line was read as it.
        for name in self.unsure:
            if "." in name:
                self.note(name)
        self.look_from("")
        return iter(self.unwatched)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class _Traits(Traits):
    """Traits that note which of them is read."""

    note: Note | None
    look: Look | None

    def __getattribute__(self, name: str) -> Any:
        if name in Traits._fields:
            _noted(self, TRAIT + name)
            look = vars(self).get("look")
            if look is not None and name != "version_order":
                look(TRAIT + name, False)
        return super().__getattribute__(name)

    def __iter__(self) -> Iterator[Any]:
        return iter([getattr(self, name) for name in self._fields])

    def __getitem__(self, at: Any) -> Any:
        return tuple(iter(self))[at]


class _Port(Port):
    """A port that looks at a setting only when it is asked for it."""

    get: Callable[[str], Value]

    def __getattribute__(self, name: str) -> Any:
        if name in _OF_PORT:
            return self.get(f"port.{self.number}.{name}")
        return super().__getattribute__(name)

    def __iter__(self) -> Iterator[Any]:
        return iter([getattr(self, name) for name in self._fields])

    def __getitem__(self, at: Any) -> Any:
        return tuple(iter(self))[at]


_OF_PORT = frozenset(Port._fields) - {"number"}


def watched_port(craft: Craft, number: int) -> Port:
    """One port of a watched craft."""
    blank = Value("", None, "missing")
    port = _Port(number, blank, blank, blank, blank)
    port.get = craft.get
    return port


def look_at_numbers(craft: Craft, start: str, names: list[str]) -> None:
    """Look at what says which of several (ports, channels) there are.

    ``names`` are the settings there are that begin with ``start``.  One that is confirmed is
    enough for its number; where there is none at all, any mapping may be the reason.
    """
    values = unwatched(craft.values)
    sure = {name[len(start) :].split(".")[0] for name in names if values[name].sure}
    looked = [name for name in names if name[len(start) :].split(".")[0] not in sure]
    look_from = getattr(craft.values, "look_from", None)
    if look_from is not None:
        look_from(start)
    for name in looked if names else craft.unsure:
        if name.startswith(start):
            craft.values.get(name)


class _Rows(tuple[Any, ...]):
    """Ranges, links and the like; ``unwatched`` are they as they are."""

    unwatched: tuple[Any, ...]
    names: tuple[str, ...]
    note: Note
    at: Look | None

    def __new__(
        cls,
        rows: Iterable[Any],
        unwatched: tuple[Any, ...],
        names: Iterable[str],
        note: Note,
        at: Look | None = None,
    ) -> _Rows:
        made = super().__new__(cls, rows)
        made.unwatched = unwatched
        made.names = tuple(dict.fromkeys(names))
        made.note = note
        made.at = at
        return made

    def look(self) -> None:
        for name in self.names:
            self.note(name)
        if self.at is not None:
            self.at(self.names[0], True)

    def __iter__(self) -> Iterator[Any]:
        self.look()
        return super().__iter__()

    def __len__(self) -> int:
        self.look()
        return super().__len__()

    def __getitem__(self, at: Any) -> Any:
        self.look()
        return super().__getitem__(at)

    def __add__(self, other: Any) -> Any:
        return (*self, *other)


class _Mode(str):
    """A mode's name: to compare it with another one uses that other one and, if it is the same,
    the row that it stands in.
    """

    note: Note

    def __eq__(self, other: object) -> bool:
        same = str.__eq__(self, other)
        self.note(f"{MODE}{other}")
        return same

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        self.note(MODE + str.__str__(self))
        return str.__hash__(self)

    def __str__(self) -> str:
        self.note(MODE + str.__str__(self))
        return str.__str__(self)

    def __format__(self, how: str) -> str:
        return format(str(self), how)

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        # A finding may hold it, and findings go from process to process.
        return str, (str(self),)


def _fields(row: object) -> tuple[str, ...]:
    found: tuple[str, ...] = type(row)._fields  # type: ignore[attr-defined]
    return found


class _Watched:
    """A row of modes that notes its mode where more than the mode is looked at."""

    note: Note | None

    def __getattribute__(self, name: str) -> Any:
        found = super().__getattribute__(name)
        return _field(self, name, found) if name in _fields(self) else found

    def __iter__(self) -> Iterator[Any]:
        return iter([getattr(self, name) for name in _fields(self)])

    def __getitem__(self, at: Any) -> Any:
        return tuple(iter(self))[at]


class _Range(_Watched, ModeRange):
    """A mode range that is watched."""


class _Link(_Watched, ModeLink):
    """A mode link that is watched."""


def _with(row: Any, note: Note) -> Any:
    row.note = note
    return row


def _noted(row: Any, name: str) -> None:
    note = vars(row).get("note")
    if note is not None:  # a copy made by a rule has none, and was noted when it was made
        note(name)


def _field(row: Any, name: str, value: Any) -> Any:
    note = vars(row).get("note")
    if note is None:
        return value
    if name in ("mode", "follows"):
        return _with(_Mode(value), note)
    for at in (0, 1) if isinstance(row, ModeLink) else (0,):
        note(f"{MODE}{tuple.__getitem__(row, at)}")
    return value
