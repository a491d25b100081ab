"""Measures how well a changes table is drafted from dumps before and after an update.

    python benchmarks/teach_update.py                       # 200 seeds of the half held back
    python benchmarks/teach_update.py --words open --failures
    python benchmarks/teach_update.py --words open --show 17

Every seed invents a dialect (``benchmarks/invent``) and one craft's dumps at two versions between
which a few names, a scale and perhaps a default changed.  The draft is made with the *true*
dialect of the version before, without its changes, so that this part is measured alone.  Values
of names without a neutral meaning are drawn anew in the later dump: only words and places tell
which of these was renamed.

The invented updates only add a word to a name and take nothing away, so more is done to each pair
here: lines are taken out of the later dump (removed names) and of the earlier one (new names), and,
with ``--harder``, more names are changed: a word replaced by another of the same sense, shortened,
moved, or taken out.

With ``--drafted`` the dialect is the one that teaching drafts from the earlier dump, as `cfglint
teach --before --after` does without a dialect: what is then missing is mostly what no draft maps.

What counts is what both dumps show: a rename of which neither dump has a line is nobody's to find.
Exit code 0 if every target is met, else 1.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from random import Random
from typing import NamedTuple

from invent import Half, Invented, invent
from invent.model import Line

from cfglint.dialect import Dialect, load_dialect
from cfglint.dump.source import Source
from cfglint.teach.updates import changes_between
from cfglint.teach.updates_model import Changes

#: Renames found at least, and rows wrong at most, in percent.
RECALL, WRONG = 85.0, 2.0
#: Rows that a generator of updates never makes are wrong wherever they are drafted.
KINDS = ("rename", "rescale", "remove", "default", "words", "modes", "boards", "moved")
#: Words for words, of everyday English; none of them is taken from the tables of teaching.
SWAPS = {
    "limit": "cap", "max": "upper", "min": "lower", "rate": "hz", "speed": "pace",
    "cutoff": "edge", "divider": "ratio", "throttle": "gas", "receiver": "rx", "motor": "mot",
    "motors": "mot", "battery": "batt", "position": "pos", "place": "spot", "warn": "warning",
    "altitude": "height", "alt": "height", "filter": "lowpass", "action": "behaviour",
    "channel": "chan", "deadband": "dead_zone", "brightness": "bright", "angle": "tilt",
    "tilt": "angle", "scale": "factor", "factor": "scale", "beep": "buzz", "signal": "sig",
}  # fmt: skip


class Truth(NamedTuple):
    """What the two dumps show of the update."""

    renames: Mapping[str, str]
    rescaled: frozenset[str]
    removed: frozenset[str]
    new: frozenset[str]
    moved: frozenset[str]


class Result(NamedTuple):
    """One seed: by kind, what was there, found, drafted and drafted wrongly; what went wrong."""

    seed: int
    there: Counter[str]
    found: Counter[str]
    drafted: Counter[str]
    wrong: Counter[str]
    hinted: Counter[str]
    failures: tuple[str, ...]


def names_in(lines: Sequence[Line]) -> Counter[str]:
    return Counter(line.name for line in lines if line.name)


def recast(name: str, style: str, rng: Random) -> str:
    """Another name for the same thing, "" where this way of renaming has none."""
    camel = name.isalnum() and not name.isupper() and not name.islower()
    parts = re.findall(r"[A-Z]?[a-z]+|[0-9]+|[A-Z]+(?![a-z])", name) if camel else []
    divided = re.split(r"([._:\-])", name)
    words = parts or divided[::2]
    joint = "" if camel else divided[1] if len(divided) > 1 else "_"
    upper = name.isupper()
    if style == "swap":
        spots = [at for at, word in enumerate(words) if word.lower() in SWAPS]
        if not spots:
            return ""
        at = rng.choice(spots)
        word = SWAPS[words[at].lower()].replace("_", joint)
        words[at] = word.upper() if upper else word.title() if words[at].istitle() else word
    elif style == "shorten":
        spots = [at for at, word in enumerate(words) if len(word) >= 6 and word.isalpha()]
        if not spots:
            return ""
        at = rng.choice(spots)
        words[at] = words[at][:4] if rng.random() < 0.5 else bones(words[at])
    elif style == "move" and len(words) >= 3:
        words = [*words[1:], words[0]]
    elif style == "drop" and len(words) >= 3:
        words.pop(rng.randrange(1, len(words)))
    else:
        return ""
    if camel and name[0].islower():
        words[0] = words[0][0].lower() + words[0][1:]
    return joint.join(word[0].upper() + word[1:] if camel and at else word
                      for at, word in enumerate(words))  # fmt: skip


def bones(word: str) -> str:
    return word[0] + "".join(char for char in word[1:] if char.lower() not in "aeiouy")


def update(one: Invented, *, harder: bool) -> tuple[Source, Source, Truth, str]:
    """The two dumps, what they show, and the true dialect of the first, without the changes."""
    rng = Random(f"update {one.half} {one.seed} {harder}")
    before, after = list(one.before.lines), list(one.after.lines)
    olds, news = names_in(before), names_in(after)
    kept = _kept(one.toml)
    full = one.before.extent == "full"
    back = {new: old for old, new in one.renames.items()}
    common = [
        name for name in kept
        if olds[name] == news[name] == 1 and name not in one.renames and name not in back
        and not re.search(r"\d", name)
    ]  # fmt: skip
    rng.shuffle(common)
    removed = {common.pop() for _ in range(min(2, len(common))) if full}
    fresh = {common.pop() for _ in range(min(2, len(common)))}
    renames = dict(one.renames)
    after = [line for line in after if line.name not in removed]
    before = [line for line in before if line.name not in fresh]
    if harder:
        settings = [
            name for name, count in olds.items()
            if count == news[name] == 1 and name not in {*renames, *back, *kept, *fresh, *removed}
            and not re.search(r"\d", name)
            and any(line.name == name and line.sets for line in before)
        ]  # fmt: skip
        rng.shuffle(settings)
        taken = {*olds, *news}
        more = 0
        for name in [*common[:12], *settings[:8]]:
            style = rng.choice(("swap", "swap", "shorten", "move", "drop"))
            new = recast(name, style, rng)
            if not new or new in taken or more >= 6:
                continue
            spot = next((at for at, line in enumerate(after) if line.name == name), -1)
            whole = rf"(?<![\w.\-]){re.escape(name)}(?![\w.\-])"
            if spot < 0 or not re.search(whole, after[spot].text):
                continue
            taken.add(new)
            more += 1
            renames[name] = new
            after[spot] = after[spot]._replace(
                text=after[spot].text.replace(name, new, 1), name=new
            )
    olds, news = names_in(before), names_in(after)
    shown = {a: b for a, b in renames.items() if olds[a] and news[b]}
    truth = Truth(
        shown,
        frozenset(
            name for name in one.rescaled
            if any(name in line.sets for line in before)
            and any(name in line.sets for line in after) and _told(one, name)
        ),
        frozenset(removed),
        frozenset(fresh) | {new for old, new in renames.items() if not olds[old]},
        frozenset(one.moved),
    )  # fmt: skip
    toml = one.toml.partition("[[changes]]")[0]
    return _source("before.txt", before), _source("after.txt", after), truth, _without(toml, fresh)


def _told(one: Invented, name: str) -> bool:
    """Whether the two dumps write a setting's value differently: 0 is 0 in every unit."""
    return one.before.written.get(name) != one.after.written.get(name)


def _source(file: str, lines: Sequence[Line]) -> Source:
    return Source.from_text(file, "\n".join(line.text for line in lines) + "\n")


def _kept(toml: str) -> list[str]:
    import tomllib

    return list(tomllib.loads(toml).get("kept", {}).get("names", []))


def _without(toml: str, names: set[str]) -> str:
    """The dialect as somebody has it who has seen nothing but the dump before."""
    import json

    for name in names:
        text = json.dumps(name)
        toml = toml.replace(f"{text}, " if f"{text}, " in toml else f", {text}", "", 1)
    return toml


def judge(one: Invented, truth: Truth, made: Changes, dialect: Dialect) -> Result:
    """What a draft found, and what it has wrong."""
    there: Counter[str] = Counter(
        rename=len(truth.renames), rescale=len(truth.rescaled), remove=len(truth.removed)
    )
    found: Counter[str] = Counter()
    drafted: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    hinted: Counter[str] = Counter()
    failures = []
    settings = dialect.data.get("settings", {})
    met: set[tuple[str, str]] = set()
    fold = str.lower if dialect.ignore_case else str
    renames = {fold(old): fold(new) for old, new in truth.renames.items()}
    for row in made.rows:
        kind, name, now = row.kind, row.name, row.now
        if kind == "moved" and set(row.keys) == {"name"}:
            kind, name, now = "rename", settings[row.setting].get("name", ""), row.keys["name"]
        if kind not in KINDS:
            continue
        if kind == "rename":
            right = renames.get(fold(name)) == fold(now)
        elif kind == "rescale":
            right = row.name in truth.rescaled and "both dumps say the same" in row.proof
            right = right or (row.name in truth.rescaled and not row.drafted)
        elif kind == "remove":
            right = name in truth.removed
        else:
            right = kind == "default" and name in truth.moved
        if not row.drafted:
            hinted[kind] += right
            continue
        drafted[kind] += 1
        if right:
            found[kind] += (kind, name) not in met
            met.add((kind, name))
        else:
            wrong[kind] += 1
            failures.append(f"wrong {kind}: {name} → {now} ({row.confidence:.2f}: {row.reason})")
    for kind, names in (
        ("rename", truth.renames), ("rescale", truth.rescaled), ("remove", truth.removed),
    ):  # fmt: skip
        for name in names:
            if not any(k == kind and fold(n) == fold(name) for k, n in met):
                now = truth.renames.get(name, "") if kind == "rename" else ""
                tips = [
                    f"{row.confidence:.2f} {row.kind} {row.now}: {row.reason}"
                    for row in made.rows if name in (row.name, row.setting)
                ]  # fmt: skip
                failures.append(f"missed {kind}: {name} {now} [{'; '.join(tips)}]")
    return Result(one.seed, there, found, drafted, wrong, hinted, tuple(failures))


def measure(task: tuple[int, Half, bool, bool]) -> Result:
    seed, half, harder, drafted = task
    one = invent(seed, half)
    before, after, truth, toml = update(one, harder=harder)
    empty: Counter[str] = Counter()
    there: Counter[str] = Counter(
        rename=len(truth.renames), rescale=len(truth.rescaled), remove=len(truth.removed)
    )
    try:
        if drafted:
            from cfglint.teach import teach

            toml = teach([before]).text
        dialect = load_dialect("true.toml", toml.encode())
        made = changes_between([before], [after], dialect, name="true.toml")
        load_dialect("with.toml", f"{toml}\n{made.text}".encode())
    except Exception as wrong:  # whatever fails is a result
        trouble = f"no draft: {type(wrong).__name__}: {wrong}"
        return Result(seed, there, empty, empty, empty, empty, (trouble,))
    return judge(one, truth, made, dialect)


def report(results: Sequence[Result], half: str) -> bool:
    none: Counter[str] = Counter()
    there, found, drafted, wrong, hinted = (
        sum((getattr(one, key) for one in results), none) for key in Result._fields[1:6]
    )
    print(f"{len(results)} invented updates of the half `{half}`\n")
    print(f"{'':12}{'there':>8}{'found':>8}{'recall':>10}{'rows':>8}{'wrong':>8}{'precision':>12}"
          f"{'as comment':>12}")  # fmt: skip
    for kind in KINDS:
        if not there[kind] and not drafted[kind]:
            continue
        recall = f"{100 * found[kind] / there[kind]:.1f} %" if there[kind] else "–"
        right = drafted[kind] - wrong[kind]
        precision = f"{100 * right / drafted[kind]:.1f} %" if drafted[kind] else "–"
        print(
            f"{kind:12}{there[kind]:>8}{found[kind]:>8}{recall:>10}{drafted[kind]:>8}"
            f"{wrong[kind]:>8}{precision:>12}{hinted[kind]:>12}"
        )
    rows = sum(drafted.values())
    bad = 100 * sum(wrong.values()) / rows if rows else 0.0
    share = 100 * found["rename"] / there["rename"] if there["rename"] else 0.0
    failed = sum(any(text.startswith("no draft") for text in one.failures) for one in results)
    print(f"\nrows wrong: {sum(wrong.values())} of {rows} ({bad:.1f} %); no draft: {failed}\n")
    met = True
    for text, good in (
        (f"renames found ≥ {RECALL:g} %", share >= RECALL),
        (f"rows wrong ≤ {WRONG:g} %", bad <= WRONG),
        ("a draft for every pair, and its text loads", not failed),
    ):
        print(f"{'met   ' if good else 'MISSED'}  {text}")
        met = met and good
    return met


def show(seed: int, *, harder: bool) -> None:
    """One update of the open half: both dumps, the draft, what went wrong."""
    import difflib

    one = invent(seed, "open")
    before, after, truth, toml = update(one, harder=harder)
    print("\n".join(difflib.unified_diff(before.lines, after.lines, lineterm="", n=1)))
    print(truth)
    dialect = load_dialect("true.toml", toml.encode())
    made = changes_between([before], [after], dialect, name="true.toml")
    print(made.text)
    print(*judge(one, truth, made, dialect).failures, sep="\n")


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=200, metavar="N", help="how many updates")
    parser.add_argument("--first", type=int, default=0, metavar="SEED", help="the first seed")
    parser.add_argument("--words", choices=("open", "held"), default="held")
    parser.add_argument("--harder", action="store_true", help="change more names, and more of them")
    parser.add_argument("--drafted", action="store_true", help="by a drafted dialect, not the true")
    parser.add_argument("--show", type=int, metavar="SEED", help="one update of the open half")
    parser.add_argument("--failures", action="store_true", help="list them (open half only)")
    parser.add_argument("--processes", type=int, default=1)
    given = parser.parse_args()
    if given.words == "held" and (given.failures or given.show is not None):
        parser.error("of the held half only totals are reported: say --words open")
    tasks = [
        (seed, given.words, given.harder, given.drafted)
        for seed in range(given.first, given.first + given.seeds)
    ]
    with tempfile.TemporaryDirectory() as folder:
        # Scanners of dialects that nobody will read again are not left in the user's cache.
        os.environ["CFGLINT_CACHE"] = folder
        if given.show is not None:
            show(given.show, harder=given.harder)
            return 0
        with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
            results = sorted(pool.imap_unordered(measure, tasks, chunksize=4))
    if given.failures:
        for result in results:
            for text in result.failures:
                print(f"{result.seed} {text}")
    return 0 if report(results, given.words) else 1


if __name__ == "__main__":
    sys.exit(main())
