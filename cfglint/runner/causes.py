"""One cause, one finding: what goes away with the cure of another finding is put down to it.

Nobody has to say which rules hang together: the graver finding's cure is tried on the craft, and
the other rules that were broken are asked again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.foreign import is_foreign
from cfglint.rule import GRADES, judge

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.craft import Craft
    from cfglint.finding import Finding, Outcome
    from cfglint.runner.select import Chosen


class Judged(NamedTuple):
    """What a rule said of a craft."""

    chosen: Chosen
    outcome: Outcome


class _One(NamedTuple):
    judged: Judged
    finding: Finding


def with_causes(craft: Craft, judged: Sequence[Judged]) -> list[Outcome]:
    """The outcomes, with the cause of each finding that has one.

    A cause is never of a milder grade than what follows from it, and follows from nothing itself.
    """
    broken = [one for one in judged if one.outcome.findings]
    ones = {finding.print: _One(row, finding) for row in broken for finding in row.outcome.findings}
    causes = [one for one in ones.values() if one.finding.edits]
    if len(broken) < 2 or not causes:
        return [one.outcome for one in judged]
    cured = {one.finding.print: set(_cured(craft, one, broken)) for one in causes}
    rank = {name: GRADES.index(one.finding.grade) for name, one in ones.items()}
    follows: dict[str, str] = {}
    taken: set[str] = set()
    for cause in sorted(
        cured, key=lambda one: (rank[one], -len(cured[one]), ones[one].finding.span.line)
    ):
        if cause in follows:
            continue
        for other in cured[cause]:
            if other not in follows and other not in taken and rank[cause] <= rank[other]:
                follows[other] = cause
                taken.add(cause)
    return [
        one.outcome._replace(
            findings=tuple(
                finding._replace(cause=follows.get(finding.print, ""))
                for finding in one.outcome.findings
            )
        )
        for one in judged
    ]


def _cured(craft: Craft, cause: _One, broken: Sequence[Judged]) -> Iterator[str]:
    """The fingerprints of other rules' findings that are gone once a finding is cured."""
    from cfglint.cure import changed

    better = changed(craft, cause.finding.edits)
    for other in broken:
        if other is cause.judged or is_foreign(other.chosen.rule):
            continue  # a rule of others is asked once, in a process of its own
        try:
            outcome = judge(other.chosen.rule, better, other.chosen.options)
        except Exception:  # a rule's own mistake: what it found before stands as it is
            continue
        if outcome.lacks and not other.outcome.lacks:
            continue  # it cannot tell any more: that is no cure
        left = {finding.message for finding in outcome.findings}
        if len(outcome.findings) < len(other.outcome.findings):
            yield from (one.print for one in other.outcome.findings if one.message not in left)
