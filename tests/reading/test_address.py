"""Addresses: words, counting numbers, fields and gaps, found in a row of atoms."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dialect.address import (
    GAP,
    address,
    free,
    index,
    numeric,
    regex,
    said,
    segment,
    vocabulary,
)
from cfglint.dump.atoms import coded, cut

WORDS = st.lists(
    st.text(alphabet="abcdeé", min_size=1, max_size=6), min_size=1, max_size=4, unique=True
)


def found(part: str, line: str, *, whole: bool = False) -> dict[str, str] | None:
    """What the fields of a step say where it stands at the start of a line; None where not."""
    fields = {"N": index(()), "number": numeric(), "hex": numeric(base=16)}
    pattern = re.compile(GAP + regex(segment(part), lambda name, *_: fields.get(name, free(()))))
    code = coded(cut(line))[0]
    match = pattern.fullmatch(code) if whole else pattern.match(code)
    return None if match is None else said(match)


@pytest.mark.parametrize(
    ("part", "line"),
    [
        ("idle share", "idle share = 4"),
        ("idle share", "Idle-Share: 4"),
        ("idle share", "idle_share 4"),
        ("idle share", "(idle) share"),
        ("esc.idle", "esc idle"),
        ("12 drive", "| 12 | drive"),
        ("gyro*", "gyroscope 3"),
        ("a * d", "a b c d"),
        ("a * d", "a d"),
        ("a *", "a"),
        ("a *", "a 1 2 3"),
    ],
)
def test_blanks_joints_marks_and_letter_case_are_spelling(part: str, line: str) -> None:
    assert found(part, line) is not None


@pytest.mark.parametrize(
    ("part", "line"),
    [
        ("idle", "idles"),
        ("idle share", "idle 3 share"),
        ("12", "121"),
        ("gyro*", "a gyro"),
        ("N", "x"),
    ],
)
def test_words_and_numbers_are_whole(part: str, line: str) -> None:
    assert found(part, line) is None


@pytest.mark.parametrize(
    ("part", "line", "fields"),
    [
        ("port N", "port 12 carries", {"N": "12"}),
        ("ch{N}.low", "ch7.low", {"N": "7"}),
        ("chN low", "ch7 low", {"N": "7"}),
        ("{a} to {b}", "one two to three", {"a": "one two", "b": "three"}),
        ("at {number} now", "at 4.5 % now", {"number": "4.5"}),
        ("r {hex} h", "r 0DC0 h", {"hex": "0dc0"}),
        ("r {hex}", "r 045Bh", {"hex": "045bh"}),
    ],
)
def test_fields(part: str, line: str, fields: dict[str, str]) -> None:
    assert found(part, line) == fields


def test_n_is_a_number_only_where_it_stands_alone() -> None:
    assert segment("ON").fields == ()
    assert segment("Nose").fields == ()
    assert segment("port N").fields == ("N",)
    assert segment("chN").fields == ("N",)


def test_steps_are_parted_by_a_sign_between_blanks() -> None:
    assert [part.lead for part in address("Drive > Least > {value}").segments] == [
        ("wdrive",),
        ("wleast",),
        (),
    ]
    assert len(address("a>b").segments) == 1


def test_capitals_count_where_the_dialect_says_so() -> None:
    assert segment("FA", exact=True).lead == ("wFA",)
    assert segment("FA").lead == ("wfa",)


def test_the_longest_of_the_known_words_is_taken() -> None:
    pattern = re.compile(vocabulary(["esc", "esc telemetry", "gps"]))
    code, starts = coded(cut("esc-telemetry gps"))
    match = pattern.match(code)
    assert match is not None
    assert match.end() == starts[3]


@given(WORDS, st.sampled_from([" ", "-", "_", ".", " / ", "  "]))
def test_an_address_fits_its_own_words_however_they_are_joined(
    words: list[str], joint: str
) -> None:
    line = joint.join(words)
    assert found(" ".join(words), line) == {}
    assert found(" ".join(words), line.upper()) == {}
    assert found(" ".join(words), "x " + line) is None


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_address_and_any_line_can_be_compared(part: str, line: str) -> None:
    steps = address(part).segments
    for step in steps:
        if len(set(step.fields)) == len(step.fields):
            pattern = regex(step, lambda name, *_: free(()))
            re.compile(pattern).match(coded(cut(line))[0])
