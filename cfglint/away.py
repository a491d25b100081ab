"""Rules whose code is never loaded here: all that is here of them is their page.

A file or pack that offers rules and nothing else is loaded in a process of its own, which tells
the page of each.  Whoever asks such a rule has it loaded again in another process
(:mod:`cfglint.foreign`).  So what it does while it is loaded or asked reaches nothing of ours, nor
the rules of another file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.model import ModeRange
from cfglint.rule import (
    Drop,
    Edit,
    Example,
    Finding,
    FleetRule,
    Lack,
    Move,
    Option,
    Put,
    Related,
    Respell,
    Rule,
)
from cfglint.span import Excerpt, Span

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

#: What one process tells another, beside what JSON knows.
_KINDS: dict[str, Callable[..., Any]] = {
    kind.__name__: kind
    for kind in (
        *(Drop, Edit, Example, Excerpt, Finding, FleetRule, Lack, ModeRange, Move, Option, Put),
        *(Related, Respell, Rule, Span),
    )
}
_MANY: dict[str, Callable[..., Any]] = {"tuple": tuple, "list": list, "frozenset": frozenset}
#: What was loaded in this process, which is none of ours, by whose it is.
_LOADED: dict[str, Sequence[Any]] = {}


class Away:
    """Stands for a function that is not here: of a rule, of one of its options, of a report.

    ``home`` is whose it is, ``file`` where it stands; ``load`` gives all that is offered there, of
    which it is ``part`` of number ``at``, called ``name``.  To be called in a process of its own.
    """

    __slots__ = ("at", "file", "home", "load", "name", "part")

    def __init__(
        self,
        home: str,
        file: str,
        load: Callable[[], Sequence[Any]],
        at: int,
        name: str,
        part: str | int = "check",
    ) -> None:
        self.home = home
        self.file = file
        self.load = load
        self.at = at
        self.name = name
        self.part = part

    def __call__(self, *words: Any) -> Any:
        if self.home not in _LOADED:
            _LOADED[self.home] = self.load()
        there = _LOADED[self.home]
        item = there[self.at] if self.at < len(there) else None
        if item is None or (item.id if isinstance(item, Rule) else item.name) != self.name:
            raise ValueError("something else is offered whenever it is loaded")
        part = self.part
        call = item.options[part].check if isinstance(part, int) else getattr(item, part)
        return call(*words)

    def _key(self) -> tuple[Any, ...]:
        return self.home, self.at, self.name, self.part

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Away) and self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())


def flat(value: Any) -> Any:
    """A value as JSON has it.  Raises TypeError for what cannot be told to another process."""
    if value is None or isinstance(value, str | int | float):
        return value
    kind = type(value)
    name = kind.__name__
    if _KINDS.get(name) is kind:
        return [name, *map(flat, tuple.__iter__(value))]
    if isinstance(value, set | frozenset):
        return ["frozenset", *map(flat, value)]
    if kind in (tuple, list):
        return [name, *map(flat, value)]
    raise TypeError(f"{name} cannot be told")


def whole(told: Any) -> Any:
    """The value again, whose parts may be anything of the kinds that there are.  Raises TypeError,
    ValueError, LookupError or RecursionError for what was never one.
    """
    if not isinstance(told, list):
        return told
    name, *parts = told
    values = map(whole, parts)
    return _MANY[name](values) if name in _MANY else _KINDS[name](*values)


def page(item: Rule) -> Rule:
    """A rule without its functions."""
    options = (row._replace(check=bool(row.check)) for row in item.options)  # type: ignore[arg-type]
    return item._replace(check=None, options=tuple(options))  # type: ignore[arg-type]


def stand_in(told: Rule, home: str, file: str, load: Callable[[], Sequence[Rule]], at: int) -> Rule:
    """A rule of which there is only the page, to be looked at yet (``cfglint.rule.unsound``)."""
    options = (
        row._replace(check=Away(home, file, load, at, told.id, number) if row.check else None)
        for number, row in enumerate(told.options)
    )
    return told._replace(check=Away(home, file, load, at, told.id), options=tuple(options), pack="")
