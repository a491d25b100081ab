"""A dozen seeds of the benchmark, without answers: most is right, and next to nothing wrong.

The whole of it is ``python benchmarks/teach.py``; of the half that is held back only totals are
looked at.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[2] / "benchmarks"))

from invent import invent
from invent.needs import needed_settings
from invent.verdicts import judge

import teach as bench
from cfglint.teach import teach

SEEDS = range(300, 312)


def test_totals_of_the_held_half() -> None:
    needed = needed_settings()
    counts: Counter[str] = Counter()
    for seed in SEEDS:
        one = invent(seed, "held")
        draft = teach(bench.sources(one))
        truth = bench.loaded(one.toml)
        counts.update(row.state for row in judge(one, truth, bench.loaded(draft.text), needed))
    total = sum(counts.values())
    assert total > 300
    assert counts["right"] >= 0.80 * total, counts
    assert counts["wrong"] <= 0.02 * total, counts
