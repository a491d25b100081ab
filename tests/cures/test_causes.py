"""One cause, one finding: what goes away with the cure of another is held back, and counted."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

from cfglint.finding import Accepted
from cfglint.report.sarif import write_sarif
from cfglint.report.terminal import write_text
from cfglint.results import Run
from cfglint.rule import GRADES

from .seeded import HANGAR, Bench

if TYPE_CHECKING:
    from cfglint.finding import Finding


def run_of(*changes: tuple[str, str]) -> Run:
    bench = Bench("avocet")
    text = bench.source.text
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    checked = bench.check(text)
    assert checked.craft is not None
    rules = tuple(one.rule for one in bench.checker.rules)
    return Run(str(HANGAR), rules, (checked.craft,), checked.outcomes, ())


LINK = ("let receiver-link be sbus", "let receiver-link be crsf")


def written(run: Run, **options: bool) -> str:
    out = io.StringIO()
    write_text(run, file=out, width=100, colour=False, **options)
    return out.getvalue()


def by_rule(run: Run) -> dict[str, Finding]:
    return {one.rule: one for one in run.findings}


def test_what_follows_from_the_wrong_link() -> None:
    run = run_of(LINK)
    found = by_rule(run)
    cause = found["receiver/link-differs-from-card"]
    assert not cause.cause
    for rule in ("receiver/inversion-not-normal", "receiver/baud-off-the-link"):
        assert found[rule].cause == cause.print
    text = written(run)
    assert "more follow from this" in text
    assert " receiver/baud-off-the-link  " not in text  # no finding of its own
    assert " receiver/baud-off-the-link  " in written(run, everything=True)


def test_what_does_not_follow_stays() -> None:
    """A speed that is wrong for the right link too is a second cause."""
    run = run_of(LINK, ("let receiver-baud be 100000", "let receiver-baud be 57600"))
    own = [
        one
        for one in run.findings
        if one.rule == "receiver/baud-off-the-link" and "57600" in one.message
    ]
    # It goes with the cure, which sets the speed as well: a link with another's speed is deaf.
    assert all(one.cause for one in own)
    other = run_of(LINK, ("let motor-signal be dshot300", "let motor-signal be brushed"))
    causes = {one.rule for one in other.findings if not one.cause}
    assert causes == {"receiver/link-differs-from-card", "motor/left-on-default-signal"}


def test_a_cause_is_never_the_milder_one() -> None:
    bench = Bench("avocet")
    for fault in list(bench.faults())[::16]:
        found = [one for outcome in bench.check(fault.text).outcomes for one in outcome.findings]
        by_print = {one.print: one for one in found}
        for one in found:
            if one.cause:
                cause = by_print[one.cause]
                assert not cause.cause
                assert GRADES.index(cause.grade) <= GRADES.index(one.grade)


def test_of_an_accepted_cause_nothing_is_held_back() -> None:
    run = run_of(LINK)
    accepted = Accepted("trial", "M. Reed", "", None)
    outcomes = tuple(
        one._replace(findings=tuple(each._replace(accepted=accepted) for each in one.findings))
        if one.rule == "receiver/link-differs-from-card"
        else one
        for one in run.outcomes
    )
    run = run._replace(outcomes=outcomes)
    assert run.held_back() == {}
    assert " receiver/baud-off-the-link  " in written(run)


def test_they_count_all_the_same() -> None:
    run = run_of(LINK)
    assert run.exit_code() == 1
    assert f"{len({one.rule for one in run.findings})} broken" in written(run)


def test_sarif_tells_both_ways() -> None:
    run = run_of(LINK)
    results = json.loads(write_sarif(run))["runs"][0]["results"]
    cause = next(one for one in results if one["ruleId"] == "receiver/link-differs-from-card")
    more = {one["ruleId"] for one in cause["properties"]["more"]}
    assert "receiver/baud-off-the-link" in more
    assert "follow from this" in cause["message"]["text"]
    after = [one for one in results if "followsFrom" in one["properties"]]
    assert {one["ruleId"] for one in after} == more
    own = cause["partialFingerprints"]["cfglint/v1"]
    assert {one["properties"]["followsFrom"] for one in after} == {own}
    hosted = json.loads(write_sarif(run, profile="hosted"))["runs"][0]["results"]
    assert not any("followsFrom" in one["properties"] for one in hosted)
