"""Tries every single change of the sound demo craft in every bundled dialect.

    python -m benchmarks.faults                      # all of it; some minutes
    python -m benchmarks.faults --craft avocet --dialect plain --show

Prints for each rule how many of the changes that it is meant to catch it caught, and how many
harmless ones it found fault with.  Exit code 0 if everything was caught and nothing harmless
was, else 1.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from itertools import product

from benchmarks.faults.cards import without_card_oracle
from benchmarks.faults.matrix import Rate, Result, changes, rates, try_change
from benchmarks.faults.settings import without_oracle
from benchmarks.faults.setups import SOUND, VERSIONS, base


def tried_of(pair: tuple[str, str]) -> tuple[Counter[Result], list[Rate], list[str]]:
    """One craft in one dialect: results, rates, and what went wrong in words."""
    setup = base(*pair)
    tried = [try_change(setup, change) for change in changes(setup)]
    wrong = [str(one) for one in tried if one.result in ("missed", "false alarm")]
    return Counter(one.result for one in tried), rates(tried), wrong


def main(args: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", action="append", choices=SOUND)
    parser.add_argument("--dialect", action="append", choices=[*VERSIONS])
    parser.add_argument("--show", action="store_true", help="print each miss and false alarm")
    chosen = parser.parse_args(args)
    pairs = list(product(chosen.craft or SOUND, chosen.dialect or VERSIONS))
    results, wrong = Counter[Result](), list[str]()
    meant, caught, alarms = Counter[str](), Counter[str](), Counter[str]()
    with ProcessPoolExecutor() as pool:
        for counted, found, words in pool.map(tried_of, pairs):
            results.update(counted)
            wrong += words
            for rate in found:
                meant[rate.rule] += rate.meant
                caught[rate.rule] += rate.caught
                alarms[rate.rule] += rate.alarms
    print(f"{'rule':<44}{'meant':>7}{'caught':>8}{'rate':>7}{'alarms':>8}")
    for rule in sorted({*meant, *caught, *alarms}):
        share = f"{100 * caught[rule] / meant[rule]:.0f} %" if meant[rule] else "–"
        print(f"{rule:<44}{meant[rule]:>7}{caught[rule]:>8}{share:>7}{alarms[rule]:>8}")
    faults = results["caught"] + results["by another"] + results["missed"]
    harmless = results["quiet"] + results["false alarm"]
    print(
        f"{faults} faults: {results['caught']} caught by a rule that means to, "
        f"{results['by another']} by another, {results['missed']} missed"
    )
    print(f"{harmless} harmless changes: {results['false alarm']} false alarms")
    print(f"{results['not writable']} changes that a dialect cannot write")
    blind = [*without_oracle(), *(f"card {name}" for name in without_card_oracle())]
    if blind:
        print(f"nothing says what is a fault in {', '.join(blind)}")
    if chosen.show:
        print(*wrong, sep="\n")
    return 1 if results["missed"] or results["false alarm"] or blind else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
