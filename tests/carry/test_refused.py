"""Refused lines: each with its cause, the reason and the cure."""

from __future__ import annotations

import pytest

from cfglint.carry.refused import refused
from cfglint.dialect import bundled
from cfglint.dump.source import Source

NEW = "-- board SLATEX, firmware 7.10, full listing\n"


def one(
    line: str, dialect: str = "plain", head: str = NEW, no: str = "!! not taken: no"
) -> tuple[str, str, str]:
    (row,) = refused(Source.from_text("log.txt", f"{head}{line}\n{no}\n"), bundled(dialect))
    assert row.text == line.removeprefix(">> ")
    assert row.said == "no"
    return row.why, row.meaning, row.enter


@pytest.mark.parametrize(
    ("line", "why", "says", "enter"),
    [
        ("let lost-link-wait be 1", "renamed", "called `loss-wait`", "let loss-wait be 1"),
        (">> let lost-link-wait be 1", "renamed", "called `loss-wait`", "let loss-wait be 1"),
        ("let gyro-calm be 1", "renamed", "`gyro-quiet`", "let gyro-quiet be 1"),
        ("let gyro-slow be 1", "removed", "the filter went; nothing to enter", ""),
        ("let motor-signal be dshot900", "out of range", "what can: brushed", ""),
        ("let least-spin be 900", "out of range", "0 to 100 %", ""),
        ("channel 3 spans 1000 x 2000", "out of range", "`x` cannot be here", ""),
        ("let motr-signal be dshot300", "misspelt", "`motor-signal`",
         "let motor-signal be dshot300"),
        ("let motor-signal be dshot300", "readable", "may lack the hardware", ""),
        ("let zzzzzzzz be 1", "unclear", "does not know `zzzzzzzz` either", ""),
        ("zzzzzzzz", "unclear", "does not know `zzzzzzzz` either", ""),
        ("channel 3 spans 1000", "wrong form", "`channel {N} spans {low} {mid} {high}`", ""),
        ("port 3 moves", "wrong form", "` or `port {N} carries {functions}`", ""),
    ],
)  # fmt: skip
def test_reasons(line: str, why: str, says: str, enter: str) -> None:
    found = one(line)
    assert (found[0], found[2]) == (why, enter)
    assert says in found[1]


def test_a_newer_name_on_an_older_firmware() -> None:
    old = "-- board SLATE, firmware 7.9, full listing\n"
    why, says, enter = one("let loss-wait be 0.5", head=old)
    assert (why, enter) == ("renamed", "let lost-link-wait be 0.5")
    assert "another version's name for `lost-link-wait`" in says


@pytest.mark.parametrize(
    ("section", "line", "why"),
    [
        ("drive", "talk: nonsense", "out of range"),
        ("drive", "talk: digital-300", "readable"),
        ("drive", "talk: sbus", "out of range"),
        ("radio", "talk: sbus", "readable"),
        ("radio", "talk: digital-300", "out of range"),
        ("pack", "talk: sbus", "unclear"),
        ("axis 3", "low: 990", "readable"),
        ("drive", "rollovr: 40", "misspelt"),
    ],
)
def test_values_in_sections(section: str, line: str, why: str) -> None:
    text = f"{section} {{\n{line}\n^ no\n}}\n"
    rows = refused(Source.from_text("log.txt", text), bundled("blocks"))
    assert [row.why for row in rows] == [why]


def test_a_log_without_refusals_and_one_that_lost_its_lines() -> None:
    assert (
        refused(Source.from_text("log.txt", NEW + "let bell-magnet be 12\n"), bundled("plain"))
        == ()
    )
    (row,) = refused(Source.from_text("log.txt", "!! not taken: no\n"), bundled("plain"))
    assert (row.why, row.cause, row.text, row.enter) == ("no line", None, "", "")
    assert row.span.line == 1


def test_two_refusals_of_one_line() -> None:
    text = NEW + "let gyro-calm be 1\n!! not taken: no\n!! not taken: really\n"
    rows = refused(Source.from_text("log.txt", text), bundled("plain"))
    assert [(row.cause.line if row.cause else 0, row.said) for row in rows] == [
        (2, "no"), (2, "really"),
    ]  # fmt: skip


def test_the_version_may_be_given() -> None:
    source = Source.from_text("log.txt", "let lost-link-wait be 1\n!! not taken: no\n")
    assert refused(source, bundled("plain"))[0].why == "readable"
    assert refused(source, bundled("plain"), "7.10")[0].why == "renamed"


def test_what_to_enter_is_taken() -> None:
    """Every line to enter is one that the dialect reads."""
    from cfglint.dialect import read_craft

    for line in ("let lost-link-wait be 1", "let motr-signal be dshot300", "let gyro-calm be 1"):
        text = NEW + one(line)[2] + "\n"
        craft = read_craft(Source.from_text("x.txt", text), bundled("plain"))
        assert craft.strays == craft.misread == ()
