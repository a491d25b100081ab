"""Rules on the dump itself: floods are cut short aloud, answers are paired with their cause.

The examples beside the rules are run by test_examples.py.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from cfglint_rules import dump

from .crafts import changed, read, said

if TYPE_CHECKING:
    from cfglint.rule import Rule

#: For each rule, lines that each break it once, after HEAD.
FLOODS = {
    "dump/unreadable-line": lambda number: f"<<<<<<< {number}",
    "dump/refused-line": lambda number: f"let bell-magnet be {number}\n!! not taken: no",
    "dump/value-not-understood": lambda number: f"let bell-magnet be no-{number}",
    "dump/unknown-setting": lambda number: f"let zz-{number} be 1",
    "dump/set-twice": lambda number: f"let motor-rate be {number + 1}",
}
HEAD = "-- board SLATE, firmware 7.9, full listing\nlet motor-rate be 9999"
RULES = {
    rule.id: rule
    for rule in (
        dump.unreadable_line,
        dump.refused_line,
        dump.value_not_understood,
        dump.unknown_setting,
        dump.set_twice,
    )
}


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
@pytest.mark.parametrize("count", [0, 1, 99, 100, 101, 250])
def test_a_flood_is_cut_short_but_never_silently(rule: Rule, count: int) -> None:
    lines = [FLOODS[rule.id](number) for number in range(count)]
    craft = read("\n".join([HEAD, *lines]))
    outcome = said(rule, craft)
    assert outcome.state == ("broken" if count else "holds")
    shown = min(count, 100)
    assert len(outcome.findings) == shown + (1 if count > 100 else 0)
    assert len({finding.span for finding in outcome.findings[:shown]}) == shown
    if count > 100:
        last = outcome.findings[-1]
        assert last.span == craft.whole
        assert last.message.startswith(f"{count - 100} more ")
        assert "plain" in last.message
        assert "not shown" in last.message


def test_an_unreadable_line_is_to_be_fixed_and_says_why() -> None:
    assert dump.unreadable_line.grade == "fix"
    (finding,) = said(dump.unreadable_line, read("let cell-count be 4\n\x01\x02\n")).findings
    assert (finding.span.line, finding.span.column) == (2, 1)
    assert "control characters" in finding.message


def test_a_refusal_points_at_its_line_and_shows_the_answer_beside() -> None:
    craft = read(
        """
        >> let cell-count be 4
        >> let motor-rate be 440
        !! not taken: not while armed
        """
    )
    (finding,) = said(dump.refused_line, craft).findings
    assert (finding.span.line, finding.span.column, finding.span.end_column) == (2, 4, 25)
    assert "`let motor-rate be 440`" in finding.message
    assert "not while armed" in finding.message
    assert [related.span.line for related in finding.related] == [3]
    # What was refused has no effect.
    assert not craft.get("motor.rate_hz").known


def test_two_answers_to_one_line_are_one_finding() -> None:
    craft = read("let motor-rate be 390\n!! not taken: no such word\n!! not taken: see help\n")
    (finding,) = said(dump.refused_line, craft).findings
    assert "no such word; see help" in finding.message
    assert [related.span.line for related in finding.related] == [2, 3]


def test_a_refusal_that_gives_no_reason_is_told_without_one() -> None:
    craft = read(">> let motor-rate be 420\n!! not taken: no\n")
    refusals = tuple(refusal._replace(reason="") for refusal in craft.refusals)
    (finding,) = said(dump.refused_line, changed(craft, refusals=refusals)).findings
    assert "it said" not in finding.message


def test_a_value_lists_what_is_valid_and_the_nearest() -> None:
    (finding,) = said(dump.value_not_understood, read("let receiver-link be sbuss")).findings
    for word in ("sbuss", "receiver.link", "sbus", "crsf", "ppm"):
        assert word in finding.message
    assert "`sbus`" in finding.instead
    (odd,) = read("let receiver-link be sbuss").misread
    craft = changed(read(""), misread=(odd._replace(valid="", nearest=""),))
    (finding,) = said(dump.value_not_understood, craft).findings
    assert "it can be" not in finding.message
    assert finding.instead == "write one that is"


def test_only_a_near_name_must_be_put_right() -> None:
    craft = read("let cel-count be 4\nlet wallpaper-hue be 7\n")
    near, far = said(dump.unknown_setting, craft).findings
    assert (near.grade, far.grade) == ("fix", None)
    assert "`cell-count`" in near.instead
    assert dump.unknown_setting.grade == "advise"


def test_said_twice_shows_the_first_place_and_the_value_that_counts() -> None:
    craft = read("let cell-count be 4\n\nlet cell-count be 3\n")
    (finding,) = said(dump.set_twice, craft).findings
    assert finding.span.line == 3
    assert "line 1" in finding.message
    assert [related.span.line for related in finding.related] == [1]
    assert craft.get("battery.cells").value == 3
    # An earlier value that stands nowhere is told without a place.
    (pair,) = craft.repeats
    loose = pair._replace(earlier=pair.earlier._replace(span=None))
    (finding,) = said(dump.set_twice, changed(craft, repeats=(loose,))).findings
    assert finding.related == ()
    assert "line" not in finding.message.split(":")[0]


def test_all_of_them_hold_on_an_empty_dump() -> None:
    for rule in RULES.values():
        assert said(rule, read("")).state == "holds"
