"""A dozen seeds of the benchmark, without answers: most is right, and next to nothing wrong.

The whole of it is ``python benchmarks/teach.py``; of the half that is held back only totals are
looked at.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[2] / "benchmarks"))

from forget import forget
from invent import invent
from invent.needs import needed_settings
from invent.verdicts import judge

import teach as bench
from cfglint.teach import meanings, teach, words

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


def test_words_are_forgotten_and_given_back() -> None:
    before = words.ideas("failsafe"), meanings.best("mode", "armed"), words.split("motor_protocol")
    forget(1, 1.0)
    assert words.ideas("failsafe") == ()
    assert words.split("motorprotocol") == ("motorprotocol",)
    forget(1, 0.5)
    some = len(words._BY_WORD)
    forget(2, 0.5)
    assert some > 0
    forget(0, 0)
    assert some < len(words._BY_WORD)
    after = words.ideas("failsafe"), meanings.best("mode", "armed"), words.split("motor_protocol")
    assert before == after
