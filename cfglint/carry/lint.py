"""Judging a carried setup: rules that the original kept and the carried one breaks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.rule import judge

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.craft.model import Craft
    from cfglint.rule import Finding, Options, Rule, State


class Relapse(NamedTuple):
    """A rule that the carried craft breaks and the original did not; ``was`` is what it was."""

    rule: Rule
    was: State
    findings: tuple[Finding, ...]


class Crash(NamedTuple):
    """A rule that failed on one of the two craft, so that nothing is known of it."""

    rule: Rule
    wrong: Exception


class Judged(NamedTuple):
    """What the rules say; ``asked`` is how many there were.

    ``relapses`` are rules that held (or had nothing to say) before; ``revealed`` those of which
    nothing was known, since the dump left a setting out that is now at a known default.
    """

    asked: int
    relapses: tuple[Relapse, ...]
    crashes: tuple[Crash, ...] = ()
    revealed: tuple[Relapse, ...] = ()


def judge_both(before: Craft, after: Craft, rules: Iterable[tuple[Rule, Options]]) -> Judged:
    """Put every rule to both craft.  A crashing rule is set aside and reported."""
    relapses: list[Relapse] = []
    revealed: list[Relapse] = []
    crashes: list[Crash] = []
    asked = 0
    for rule, options in rules:
        asked += 1
        try:
            now = judge(rule, after, options)
            if now.state != "broken":
                continue
            was = judge(rule, before, options)
        except Exception as wrong:
            crashes.append(Crash(rule, wrong))
            continue
        if was.state == "unknown":
            revealed.append(Relapse(rule, was.state, now.findings))
        elif was.state != "broken":
            relapses.append(Relapse(rule, was.state, now.findings))
    return Judged(asked, tuple(relapses), tuple(crashes), tuple(revealed))
