"""Dialects that were written by hand: nothing wrong without a mark, and most right.

Those in ``handmade/held`` nobody has looked at who changed teaching.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pytest

from cfglint.dialect.contradictions import contradictions
from cfglint.teach import teach

from .handmade.judge import HELD, MOST, OPEN, folders, judge, taught, truth_of

if TYPE_CHECKING:
    from pathlib import Path

    from .handmade.judge import Judgement

FOLDERS = {folder.name: folder for half in (OPEN, HELD) for folder in folders(half)}

#: Dialects of which something is wrong without a mark; none is to stay here.
WRONG = ()
#: Settings and modes together that are right at least, a little under what is measured, of
#: samples of two crafts each.
FLOOR = {OPEN: {0: 750, MOST: 790}, HELD: {0: 550, MOST: 565}}


@pytest.fixture(scope="module")
def judged() -> dict[int, dict[str, list[Judgement]]]:
    found: dict[int, dict[str, list[Judgement]]] = {}
    for most in (0, MOST):
        for name, folder in FOLDERS.items():
            made = taught(truth_of(folder), most, both=True)
            assert len(made.asked) <= most
            found.setdefault(most, {})[name] = judge(made.draft, folder)
    return found


@pytest.mark.parametrize("most", [0, MOST])
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=pytest.mark.xfail(reason="not yet")) if name in WRONG else name
        for name in FOLDERS
    ],
)
def test_nothing_is_wrong_without_a_mark(
    judged: dict[int, dict[str, list[Judgement]]], name: str, most: int
) -> None:
    wrong = [row for row in judged[most][name] if row.verdict == "wrong"]
    assert wrong == []


@pytest.mark.parametrize("name", FOLDERS)
def test_no_draft_contradicts_itself(name: str) -> None:
    """What ``cfglint dialect check`` would say of a draft: nothing."""
    for source in truth_of(FOLDERS[name]).sources:
        assert [str(one) for one in contradictions(teach([source]).dialect)] == []


@pytest.mark.parametrize("most", [0, MOST])
def test_most_is_right(judged: dict[int, dict[str, list[Judgement]]], most: int) -> None:
    counts = Counter(row.verdict for rows in judged[most].values() for row in rows)
    assert counts["right"] >= FLOOR[most], counts
    assert counts["marked"] <= 0.05 * sum(counts.values()), counts


def test_answers_help(judged: dict[int, dict[str, list[Judgement]]]) -> None:
    def right(most: int) -> int:
        return sum(row.verdict == "right" for rows in judged[most].values() for row in rows)

    assert right(MOST) > right(0)
