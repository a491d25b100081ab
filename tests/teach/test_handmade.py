"""Dialects that were written by hand: nothing wrong without a mark, and most right.

Those in ``handmade/held`` nobody has looked at who changed teaching: only totals are.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from .blind import blind

HERE = Path(__file__).resolve().parent / "handmade"
#: Settings, ranges and links that are right without a mark at least, a little under what is
#: measured, of how many; and how many are wrong without a mark at most.
MEASURED = {
    ("open", "b"): (2485, 3135, 0),
    ("open", "c"): (2860, 3135, 1),
    ("held", "b"): (1750, 2140, 23),
    ("held", "c"): (1920, 2140, 25),
}


@pytest.mark.parametrize("half", ["open", "held"])
def test_most_is_right_and_answers_help(half: str) -> None:
    tallies: dict[str, Counter[str]] = {"b": Counter(), "c": Counter()}
    for folder in blind.dialects([str(HERE / half)]):
        for run, (fields, _, _) in blind.measure(folder, "bc").items():
            tallies[run].update(field.verdict for field in fields)
    for run, tally in tallies.items():
        right, of, wrong = MEASURED[half, run]
        assert right <= tally["right"] <= of, tally
        assert tally["wrong"] <= wrong, tally
    assert tallies["c"]["right"] > tallies["b"]["right"]
