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
    from .handmade.judge import Judgement

FOLDERS = {folder.name: folder for half in (OPEN, HELD) for folder in folders(half)}

#: Dialogues about these would take as long as all others; `judge.py --open` has them.
STRANGE = ("csv", "numbers", "sentences", "wortfolge", "nested", "arrows", "upper")
#: Settings and modes together that are right at least, a little under what is measured, of
#: samples of two crafts each.
FLOOR = {"open": {0: 738, MOST: 515}, "held": {0: 527, MOST: 560}}
#: Held dialects of which something is wrong without a mark at most, of all twelve.
WRONG_AT_MOST = 3


@pytest.fixture(scope="module")
def judged() -> dict[int, dict[str, list[Judgement]]]:
    found: dict[int, dict[str, list[Judgement]]] = {0: {}, MOST: {}}
    for name, folder in FOLDERS.items():
        truth = truth_of(folder)
        found[0][name] = judge(teach(truth.sources), folder)
        if name not in STRANGE:
            made = taught(truth, MOST, both=True)
            assert len(made.asked) <= MOST
            found[MOST][name] = judge(made.draft, folder)
    return found


def of_half(drafts: dict[str, list[Judgement]], half: str) -> list[Judgement]:
    return [
        row for name, rows in drafts.items() if FOLDERS[name].parent.name == half for row in rows
    ]


@pytest.mark.parametrize("most", [0, MOST])
def test_nothing_is_wrong_without_a_mark(
    judged: dict[int, dict[str, list[Judgement]]], most: int
) -> None:
    wrong = [row for row in of_half(judged[most], "open") if row.verdict == "wrong"]
    assert wrong == []
    held = [row for row in of_half(judged[most], "held") if row.verdict == "wrong"]
    assert len(held) <= WRONG_AT_MOST


@pytest.mark.parametrize("name", FOLDERS)
def test_no_draft_contradicts_itself(name: str) -> None:
    """What ``cfglint dialect check`` would say of a draft: nothing."""
    draft = teach(truth_of(FOLDERS[name]).sources[:1])
    assert [str(one) for one in contradictions(draft.dialect)] == []


@pytest.mark.parametrize("most", [0, MOST])
@pytest.mark.parametrize("half", ["open", "held"])
def test_most_is_right(judged: dict[int, dict[str, list[Judgement]]], half: str, most: int) -> None:
    counts = Counter(row.verdict for row in of_half(judged[most], half))
    assert counts["right"] >= FLOOR[half][most], counts
    assert counts["marked"] <= 0.05 * sum(counts.values()), counts


def test_answers_help(judged: dict[int, dict[str, list[Judgement]]]) -> None:
    def right(most: int) -> int:
        return sum(row.verdict == "right" for name in judged[MOST] for row in judged[most][name])

    assert right(MOST) > right(0)
