"""Judging a carried setup: rules that the original kept and the carried one breaks."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.apart import Fault
from cfglint.foreign import ask_all

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.craft.model import Craft
    from cfglint.rule import Finding, Options, Outcome, Rule, State


class Relapse(NamedTuple):
    """A rule that the carried craft breaks and the original did not; ``was`` is what it was."""

    rule: Rule
    was: State
    findings: tuple[Finding, ...]


class Crash(NamedTuple):
    """A rule that failed on one of the two craft, so that nothing is known of it."""

    rule: Rule
    wrong: Fault


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
    asked = list(rules)
    broken: list[tuple[Rule, Options, Outcome]] = []
    for (rule, options), now in zip(
        asked, ask_all([(rule, after, options) for rule, options in asked]), strict=True
    ):
        if isinstance(now, Fault):
            crashes.append(Crash(rule, now))
        elif now.state == "broken":
            broken.append((rule, options, now))
    earlier = ask_all([(rule, before, options) for rule, options, _ in broken])
    for (rule, _, now), was in zip(broken, earlier, strict=True):
        if isinstance(was, Fault):
            crashes.append(Crash(rule, was))
        elif was.state == "unknown":
            revealed.append(Relapse(rule, was.state, now.findings))
        elif was.state != "broken":
            relapses.append(Relapse(rule, was.state, now.findings))
    return Judged(len(asked), tuple(relapses), tuple(crashes), tuple(revealed))
