"""Measures what teaching comes to on invented dialects, without answers and with a few.

    python benchmarks/teach.py                        # 200 seeds of the half that is held back
    python benchmarks/teach.py --words open --by-setting
    python benchmarks/teach.py --words open --show 17   # one dialect, its draft, what went wrong
    python benchmarks/teach.py --words open --forget 0.25 --failures   # a quarter of its words gone

Every seed invents a dialect (``benchmarks/invent``), teaches from its one or two sample dumps,
and judges the draft on these and on two dumps of other craft.  First without any answer; then
in a dialogue in which the first open question is put, again and again, to an owner who answers
truthfully (a question that the owner cannot answer counts as asked).  What counts are the
settings and mode ranges that the built-in rules ask for; what is right, wrong and missing is
said in ``invent/verdicts.py``.

Some dialects write numbers for words, and where no comment explains them nobody can know their
meaning without asking.  Such settings are counted, and the figures without them stand beside.

Exit code 0 if every target is met, else 1.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import statistics
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable
from typing import Any, NamedTuple

from forget import forget
from invent import Half, Invented, Oracle, invent
from invent.needs import needed_settings
from invent.verdicts import Verdict, judge, read

from cfglint.dialect import Dialect, load_dialect
from cfglint.dump.source import Source
from cfglint.errors import Problem, Problems

#: Most questions that a person is asked.
QUESTIONS = 8
#: Right at least and wrong without a mark at most, in percent: without answers, with them.
TARGETS = {"no answers": (80.0, 2.0), "dialogue": (97.0, 0.0)}


class Result(NamedTuple):
    """What one seed came to; ``trouble`` is how teaching failed, if it did."""

    seed: int
    plain: tuple[Verdict, ...]
    asked: tuple[Verdict, ...]
    answers: int
    questions: int
    seconds: float
    reading: float
    trouble: str


def sources(one: Invented) -> list[Source]:
    return [Source.from_text(dump.file, dump.text) for dump in one.samples]


def loaded(text: str) -> Dialect:
    """A draft as its reader gets it: from the text of its file, checked."""
    return load_dialect("draft.toml", text.encode())


def dialogue(one: Invented) -> tuple[Any, dict[str, str], int]:
    """A draft after at most QUESTIONS questions, the answers given, how many were asked."""
    from cfglint.teach import teach

    owner = Oracle(one)
    answers: dict[str, str] = {}
    silent: set[str] = set()
    draft = teach(sources(one))
    for asked in range(QUESTIONS):
        open_ones = [one for one in draft.questions if one.id not in {*answers, *silent}]
        if not open_ones:
            return draft, answers, asked
        answer = owner.answer(open_ones[0])
        if answer is None:
            silent.add(open_ones[0].id)
            continue
        answers[open_ones[0].id] = answer
        draft = teach(sources(one), answers)
    return draft, answers, QUESTIONS


def measure(task: tuple[int, Half, frozenset[str], float]) -> Result:
    """One seed, measured.  Never raises: a failure of teaching is a result."""
    from cfglint.teach import teach

    seed, half, needed, share_forgotten = task
    forget(seed, share_forgotten)
    one = invent(seed, half)
    truth = loaded(one.toml)
    read(one.samples[0], truth)  # the scanner is made at first use
    start = time.perf_counter()
    for dump in one.samples:
        read(dump, truth)
    reading = time.perf_counter() - start
    nothing = tuple(judge(one, truth, None, needed))
    plain = asked = nothing
    answers: dict[str, str] = {}
    seconds, questions = 0.0, 0
    try:
        start = time.perf_counter()
        draft = teach(sources(one))
        seconds = time.perf_counter() - start
        plain = tuple(judge(one, truth, loaded(draft.text), needed))
        draft, answers, questions = dialogue(one)
        asked = tuple(judge(one, truth, loaded(draft.text), needed))
        trouble = ""
    except (Problem, Problems) as problem:
        trouble = f"the draft cannot be used: {problem}"
    except Exception as wrong:
        trouble = f"{type(wrong).__name__}: {wrong}"
    return Result(seed, plain, asked, len(answers), questions, seconds, reading, trouble)


# ---------------------------------------------------------------- figures


class Share(NamedTuple):
    """Counts of one column, and their percentages."""

    total: int
    right: int
    wrong: int
    marked: int
    missing: int

    def percent(self, what: str) -> float:
        count: int = getattr(self, what)
        return 100 * count / self.total if self.total else 0.0


def share(verdicts: Iterable[Verdict], *, opaque: bool = True) -> Share:
    """The counts of verdicts, with or without what is written in unexplained codes."""
    rows = Counter(one.state for one in verdicts if opaque or not one.opaque)
    return Share(sum(rows.values()), rows["right"], rows["wrong"], rows["marked"], rows["missing"])


def table(rows: list[tuple[str, Share]]) -> None:
    print(f"{'':34}{'needed':>8}{'right':>9}{'wrong,':>11}{'wrong,':>9}{'missing':>9}")
    print(f"{'':34}{'':>8}{'':>9}{'unmarked':>11}{'marked':>9}")
    for what, one in rows:
        cells = "".join(
            f"{one.percent(key):>{width}.1f} %"
            for key, width in (("right", 7), ("wrong", 9), ("marked", 7), ("missing", 7))
        )
        print(f"{what:34}{one.total:>8}{cells}")


def report(results: list[Result], half: str, *, by_setting: bool) -> bool:
    """Print the figures; whether every target is met."""
    plain = [verdict for result in results for verdict in result.plain]
    asked = [verdict for result in results for verdict in result.asked]
    codes = sum(verdict.opaque for verdict in plain)
    print(f"{len(results)} invented dialects of the half `{half}`\n")
    rows = [
        ("no answers, all", share(plain)),
        ("no answers, without unknowable *", share(plain, opaque=False)),
        (f"at most {QUESTIONS} questions, all", share(asked)),
        (f"at most {QUESTIONS} q., without unknowable *", share(asked, opaque=False)),
    ]
    table(rows)
    print(f"\n* {codes} settings and modes are written in code numbers that no comment explains")
    count = [result.answers for result in results]
    put = [result.questions for result in results]
    print(
        f"answers used: mean {statistics.mean(count):.1f}, max {max(count)}; "
        f"questions put: mean {statistics.mean(put):.1f}, max {max(put)}"
    )
    ratios = [one.seconds / one.reading for one in results if one.seconds]
    if ratios:
        print(
            f"time of a draft: {statistics.median(ratios):.1f} times that of reading its samples "
            f"with the true dialect (median; {statistics.median(o.seconds for o in results):.3f} s)"
        )
    failed = [result for result in results if result.trouble]
    if failed:
        print(f"teaching failed on {len(failed)} dialects (what it did not give is missing)")
        for trouble, number in Counter(
            result.trouble.splitlines()[0][:110] for result in failed
        ).most_common(5 if half == "open" else 0):
            print(f"  {number} × {trouble}")
    if by_setting:
        _by_setting(results)
    met = _targets(rows[1][1], rows[0][1], rows[2][1])
    return met and not failed


def _targets(knowable: Share, plain: Share, asked: Share) -> bool:
    """Print the targets, whether met.  What is right without answers is judged by what is
    knowable; what is wrong always by everything.
    """
    right, wrong = TARGETS["no answers"]
    later, never = TARGETS["dialogue"]
    lines = [
        (f"no answers: right, of the knowable ≥ {right:g} %", knowable.percent("right") >= right),
        (f"no answers: wrong and unmarked ≤ {wrong:g} %", plain.percent("wrong") <= wrong),
        (f"at most {QUESTIONS} questions: right ≥ {later:g} %", asked.percent("right") >= later),
        (f"at most {QUESTIONS} questions: wrong and unmarked = 0", asked.wrong <= never),
    ]
    print()
    for text, met in lines:
        print(f"{'met   ' if met else 'MISSED'}  {text}")
    return all(met for _, met in lines)


def _by_setting(results: list[Result]) -> None:
    for what, key in (("no answers", "plain"), ("dialogue", "asked")):
        items: dict[str, list[Verdict]] = {}
        for result in results:
            for verdict in getattr(result, key):
                items.setdefault(verdict.item, []).append(verdict)
        rows = [(item, share(verdicts)) for item, verdicts in items.items()]
        rows.sort(key=lambda row: (row[1].percent("right"), row[0]))
        print(f"\nby setting, {what}")
        table(rows)


# ---------------------------------------------------------------- one seed shown


def show(seed: int, needed: frozenset[str], *, whole: bool) -> None:
    """One dialect of the open half: its dump, the draft, and what went wrong."""
    from cfglint.teach import teach

    one = invent(seed, "open")
    truth = loaded(one.toml)
    for dump in one.samples if whole else one.samples[:1]:
        print(f"---- {dump.file}")
        print(dump.text)
    print("---- true dialect\n" + one.toml)
    try:
        draft = teach(sources(one))
        print("---- draft\n" + draft.text)
        _show_verdicts("no answers", judge(one, truth, loaded(draft.text), needed))
        owner = Oracle(one)
        for question in draft.questions:
            print(f"  ? {question.id}: {question.text!r} → {owner.answer(question)!r}")
        draft, answers, asked = dialogue(one)
        print(f"---- dialogue: {asked} questions")
        for name, answer in answers.items():
            print(f"  {name} = {answer}")
        _show_verdicts("dialogue", judge(one, truth, loaded(draft.text), needed))
    except Exception:
        traceback.print_exc()


def _show_verdicts(what: str, verdicts: list[Verdict]) -> None:
    print(f"---- {what}: what is not right")
    for verdict in verdicts:
        if verdict.state != "right":
            code = " (unexplained code)" if verdict.opaque else ""
            print(f"  {verdict.state:8} {verdict.item}{code}: {verdict.why}")


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=200, metavar="N", help="how many dialects")
    parser.add_argument("--first", type=int, default=0, metavar="SEED", help="the first seed")
    parser.add_argument("--words", choices=("open", "held"), default="held")
    parser.add_argument("--by-setting", action="store_true")
    parser.add_argument("--forget", type=float, default=0.0, metavar="SHARE", help="of its words")
    parser.add_argument("--show", type=int, metavar="SEED", help="one dialect of the open half")
    parser.add_argument("--failures", action="store_true", help="list them (open half only)")
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    if given.words == "held" and (given.failures or given.show is not None):
        parser.error("of the held half only totals are reported: say --words open")
    needed = needed_settings()
    if given.show is not None:
        show(given.show, needed, whole=True)
        return 0
    seeds = range(given.first, given.first + given.seeds)
    tasks = [(seed, given.words, needed, given.forget) for seed in seeds]
    with tempfile.TemporaryDirectory() as folder:
        # Scanners of dialects that nobody will read again are not left in the user's cache.
        os.environ["CFGLINT_CACHE"] = folder
        with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
            results = sorted(pool.imap_unordered(measure, tasks, chunksize=4))
    if given.failures:
        for result in results:
            for what, verdicts in (("no answers", result.plain), ("dialogue", result.asked)):
                for verdict in verdicts:
                    if verdict.state != "right":
                        print(
                            f"{result.seed} {what}: {verdict.state} {verdict.item}"
                            f"{' (code)' if verdict.opaque else ''}: {verdict.why}"
                        )
            if result.trouble:
                print(f"{result.seed} TROUBLE {result.trouble}")
    return 0 if report(results, given.words, by_setting=given.by_setting) else 1


if __name__ == "__main__":
    sys.exit(main())
