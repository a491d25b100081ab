"""Interval sets against `portion` (a general interval library) and against plain sweeping."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import portion
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.switches.intervals import EMPTY, Intervals, Piece, between, point, union

ENDS = ("closed", "half-open", "open", "high-only")
MAKERS = {
    "closed": portion.closed,
    "half-open": portion.closedopen,
    "open": portion.open,
    "high-only": portion.openclosed,
}
# Few distinct numbers, so that ends meet often; ints, floats and fractions mixed.
NUMBERS = st.one_of(
    st.integers(0, 6),
    st.sampled_from([0.5, 1.5, 987.5, 2.25]),
    st.builds(Fraction, st.integers(0, 12), st.sampled_from([2, 3])),
)
PAIRS = st.lists(st.tuples(NUMBERS, NUMBERS, st.sampled_from(ENDS)), max_size=6)


def ours(rows: list[tuple[Any, Any, Any]]) -> Intervals:
    return union(between(low, high, ends) for low, high, ends in rows)


def theirs(rows: list[tuple[Any, Any, str]]) -> Any:
    whole = portion.empty()
    for low, high, ends in rows:
        whole = whole | MAKERS[ends](low, high)
    return whole


def same(mine: Intervals, other: Any) -> bool:
    pieces = [
        Piece(part.lower, part.upper, part.left is portion.CLOSED, part.right is portion.CLOSED)
        for part in other
        if not part.empty
    ]
    return list(mine) == pieces


@given(PAIRS, PAIRS)
def test_algebra_agrees_with_portion(a: list[Any], b: list[Any]) -> None:
    one, two = ours(a), ours(b)
    p, q = theirs(a), theirs(b)
    assert same(one, p)
    assert same(one | two, p | q)
    assert same(one & two, p & q)
    assert same(one - two, p - q)
    assert same(one ^ two, (p - q) | (q - p))
    assert (one <= two) == (p in q if not p.empty else True)
    assert (one >= two) == (q in p if not q.empty else True)
    assert one.overlaps(two) == (not (p & q).empty)
    assert (one == two) == (p == q)
    assert one != "a set"


@given(PAIRS, NUMBERS)
def test_membership_and_distance(rows: list[Any], number: Any) -> None:
    mine, other = ours(rows), theirs(rows)
    assert (number in mine) == (number in other)
    assert mine.is_empty == other.empty == (not mine)
    ends = [end for part in other if not part.empty for end in (part.lower, part.upper)]
    assert mine.distance(number) == min((abs(number - end) for end in ends), default=None)
    assert list(mine.edges) == sorted(set(ends))
    assert len(mine) == len(ends) // 2


@given(PAIRS)
def test_equal_sets_hash_alike_and_keep_their_ends(rows: list[Any]) -> None:
    mine = ours(rows)
    again = ours(list(reversed(rows)))
    assert mine == again
    assert hash(mine) == hash(again)
    if mine:
        assert (mine.low, mine.high) == (theirs(rows).lower, theirs(rows).upper)


@given(PAIRS)
def test_a_rising_function_moves_the_ends_only(rows: list[Any]) -> None:
    mine = ours(rows)
    moved = mine.mapped(lambda x: 3 * Fraction(x) + 1)
    assert [piece.low_in for piece in moved] == [piece.low_in for piece in mine]
    assert moved.mapped(lambda x: (Fraction(x) - 1) / 3) == mine


def test_examples_worked_by_hand() -> None:
    assert between(774, 1290) & between(1250, 1743) == between(1250, 1290)
    assert between(1290, 1743) & between(1743, 2071) == point(1743)
    assert (between(1290, 1743, "half-open") & between(1743, 2071, "half-open")).is_empty
    rest = between(774, 2071) - (between(774, 1290) | between(1350, 1743))
    assert str(rest) == "(1290, 1350) ∪ (1743, 2071]"
    assert repr(point(1500)) == "<Intervals 1500>"
    assert str(EMPTY) == "nothing"
    assert between(1290, 774) == EMPTY
    assert between(5, 5, "half-open") == EMPTY


def test_what_has_no_answer_says_so() -> None:
    with pytest.raises(ValueError, match="no low end"):
        _ = EMPTY.low
    with pytest.raises(ValueError, match="no high end"):
        _ = EMPTY.high
    with pytest.raises(ValueError, match="not one"):
        between(float("nan"), 1)
