"""Every seeded fault of the sound demo craft: is each advice a cure, and how many have a line?

    python benchmarks/cures.py [CRAFT ...]

Prints what is wrong with any advice, and for each rule how many findings had lines, could not be
written, were for the hand, or were put down to another cause.  Exit code 1 if any advice failed.
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import chain
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "cures"))

from seeded import Bench, complaints


def main(crafts: list[str]) -> int:
    wrong = tried = 0
    counts: dict[str, Counter[str]] = {}
    for craft in crafts:
        bench = Bench(craft)
        for fault in chain(bench.faults(), bench.card_faults()):
            for text in complaints(bench, fault):
                wrong += 1
                print(text)
            tried += 1
            for verdict in bench.check(fault.text, fault.card).verdicts:
                for one in verdict.found:
                    assert one.cure is not None
                    kind = "lines" if one.fix else one.cure.by or "not written"
                    row = counts.setdefault(one.rule, Counter())
                    row[kind] += 1
                    row["follow"] += bool(one.cause)
    for rule, row in sorted(counts.items()):
        print(f"{rule:40}", *(f"{number} {kind}" for kind, number in sorted(row.items())))
    print(f"{tried} faults, {wrong} pieces of advice failed")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(
        main(sys.argv[1:] or ["avocet", "bittern", "curlew", "egret", "godwit", "plover"])
    )
