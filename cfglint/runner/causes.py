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
    from cfglint.results import Found, Verdict
    from cfglint.rule import Finding, Outcome
    from cfglint.runner.select import Chosen


class Judged(NamedTuple):
    """What a rule said of a craft, and the record of it."""

    chosen: Chosen
    outcome: Outcome
    verdict: Verdict


class _One(NamedTuple):
    judged: Judged
    finding: Finding
    found: Found


def with_causes(craft: Craft, judged: Sequence[Judged]) -> list[Verdict]:
    """The verdicts, with the cause of each finding that has one.

    A cause is never of a milder grade than what follows from it, and follows from nothing itself.
    """
    broken = [one for one in judged if one.verdict.found]
    ones = [one for row in broken for one in _pairs(row)]
    causes = [one for one in ones if one.finding.edits]
    if len(broken) < 2 or not causes:
        return [one.verdict for one in judged]
    cured = {one.found.print: set(_cured(craft, one, broken)) for one in causes}
    by_print = {one.found.print: one for one in ones}
    rank = {one.found.print: GRADES.index(one.found.grade) for one in ones}
    follows: dict[str, str] = {}
    taken: set[str] = set()
    for cause in sorted(
        cured, key=lambda one: (rank[one], -len(cured[one]), -_grave(by_print[one]))
    ):
        if cause in follows:
            continue
        for other in cured[cause]:
            if other not in follows and other not in taken and rank[cause] <= rank[other]:
                follows[other] = cause
                taken.add(cause)
    return [
        one.verdict._replace(
            found=tuple(
                found._replace(cause=follows.get(found.print, "")) for found in one.verdict.found
            )
        )
        if one.verdict.found
        else one.verdict
        for one in judged
    ]


def _grave(one: _One) -> int:
    return -one.found.span.line


def _pairs(judged: Judged) -> Iterator[_One]:
    findings = sorted(judged.outcome.findings, key=lambda one: (one.span, one.message))
    for finding, found in zip(findings, judged.verdict.found, strict=True):
        yield _One(judged, finding, found)


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
            yield from (one.print for one in other.verdict.found if one.message not in left)
