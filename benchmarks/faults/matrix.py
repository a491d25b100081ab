"""Trying changes: what the rules say after each, beside what they said before."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Literal, NamedTuple

from benchmarks.faults.cards import card_changes
from benchmarks.faults.modes import mode_changes
from benchmarks.faults.settings import setting_changes
from benchmarks.faults.setups import judged, rules

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from benchmarks.faults.setups import Change, Setup

Result = Literal["caught", "by another", "missed", "quiet", "false alarm", "not writable"]


class Tried(NamedTuple):
    """What came of one change, and which rules were broken and which unknown after it."""

    setup: Setup
    change: Change
    result: Result
    broken: tuple[str, ...]
    unknown: tuple[str, ...]

    def __str__(self) -> str:
        where = f"{self.setup.craft} in {self.setup.dialect}"
        said = ", ".join(self.broken) or "nothing"
        return f"{self.result}: {where}: {self.change.title}: broken {said}"


def changes(setup: Setup) -> Iterator[Change]:
    """Every single change of a craft, faults and harmless ones."""
    yield from setting_changes(setup)
    yield from card_changes(setup)
    yield from mode_changes(setup)


def try_change(setup: Setup, change: Change) -> Tried:
    """Make a change in a copy of a sound craft, write its dump, read and judge it."""
    changed = setup.copy()
    change.make(changed)
    dump, unwritten = changed.dump()
    craft = changed.read(change.edit(dump))
    said = all(_alike(craft.get(name).value, wanted) for name, wanted in change.says)
    lost = len(craft.mode_ranges) < len(changed.ranges) or len(craft.mode_links) < len(
        changed.links
    )
    if unwritten or not said or (lost and change.what in ("range", "link")):
        return Tried(setup, change, "not writable", (), ())
    outcomes = judged(craft, change.options)
    broken = tuple(name for name, one in outcomes.items() if one.state == "broken")
    unknown = tuple(name for name, one in outcomes.items() if one.state == "unknown")
    result: Result
    if not change.meant:
        result = "false alarm" if broken else "quiet"
    elif ("*" in change.meant and broken) or {*change.meant} & {*broken}:
        named = {*change.meant} - {"*"}
        result = "caught" if not named or named & {*broken} else "by another"
    else:
        result = "by another" if {*change.also} & {*broken} else "missed"
    return Tried(setup, change, result, broken, unknown)


def _alike(got: object, wanted: object) -> bool:
    """Whether a value survived being written: figures may be rounded a little."""
    if isinstance(got, bool) or isinstance(wanted, bool):
        return got is wanted
    if isinstance(got, int | float) and isinstance(wanted, int | float):
        return abs(got - wanted) <= 0.02 * max(abs(wanted), 0.5)
    return got == wanted


class Rate(NamedTuple):
    """One rule: changes that it is meant to catch, those it caught, and false alarms of it."""

    rule: str
    meant: int
    caught: int
    alarms: int


def rates(tried: Iterable[Tried]) -> list[Rate]:
    """Catch rate and false alarms, rule by rule.

    A change that several rules mean to catch counts for those that did, or for the first.
    """
    meant, caught, alarms = Counter[str](), Counter[str](), Counter[str]()
    for one in tried:
        if one.result == "false alarm":
            alarms.update(one.broken)
        named = [rule for rule in one.change.meant if rule != "*"]
        if one.result in ("quiet", "false alarm", "not writable") or not named:
            continue
        by = [rule for rule in named if rule in one.broken]
        meant.update(by or named[:1])
        caught.update(by)
    return [Rate(rule.id, meant[rule.id], caught[rule.id], alarms[rule.id]) for rule, _ in rules()]
