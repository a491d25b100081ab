"""What a drafted dialect is worth: each setting of a seed right, wrong or missing.

An *item* is one setting (a family counts once, for all its members) or one mode.  It is

- ``right`` if the drafted dialect gives the truth for it in every dump, those of other craft
  included, and never another value;
- ``wrong`` if any dump reads another value, ``marked`` if all such values are marked unsure;
- ``missing`` otherwise.

What nobody could know is not held against a draft: a setting that no sample has a line for, a
word or code number that neither stands in a sample nor in a comment of one, and a mode that no
sample has may be missing.  Reading one of them as something else is wrong all the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import isclose
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.settings import family
from cfglint.dialect import read_craft
from cfglint.dump.source import Source
from invent.model import Dump, Invented, Range

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    from cfglint.craft.model import Craft
    from cfglint.dialect import Dialect

State = Literal["right", "wrong", "marked", "missing"]


class Verdict(NamedTuple):
    """One item: ``opaque`` if it is written in code numbers that nothing in the samples tells.

    ``why`` is the first thing that was not right.
    """

    item: str
    state: State
    opaque: bool
    why: str = ""


class Known(NamedTuple):
    """What the samples show: families with a line, written words by family, joins."""

    families: frozenset[str]
    words: dict[str, frozenset[str]]
    opaque: frozenset[str]
    joins: frozenset[str]


def read(dump: Dump, dialect: Dialect) -> Craft:
    return read_craft(Source.from_text(dump.file, dump.text), dialect)


def known(one: Invented) -> Known:
    """What can be known from a seed's samples."""
    words: dict[str, set[str]] = {}
    joins = {row[4] for dump in one.samples for row in dump.ranges}
    for dump in one.samples:
        for name, written in dump.written.items():
            words.setdefault(family(name), set()).add(written)
        for line in dump.lines:
            if line.mode_word:
                words.setdefault("mode", set()).add(line.mode_word)
    told = {key for key in one.hinted if key in words}
    for key in told:
        words[key] |= set(one.meanings.get(key, {}))
        if key in one.masks:
            words[key].add(str(sum(1 << bit for bit in one.masks[key].values())))
    return Known(
        frozenset(family(name) for dump in one.samples for name in dump.values),
        {key: frozenset(rows) for key, rows in words.items()},
        one.codes - told,
        frozenset(joins),
    )


def _could_know(one: Invented, sure: Known, member: str, written: str) -> bool:
    """Whether a written word of a member can be understood by anyone with the samples."""
    key = family(member)
    seen = sure.words.get(key, frozenset())
    if key not in one.codes:
        if key not in one.meanings:
            return True
        parts = {part for text in seen for part in re.split(r"[^\w-]+", text)}
        return written in seen or set(re.split(r"[^\w-]+", written)) <= parts
    if key in one.masks:
        bits = 0
        for text in seen:
            bits |= int(text)
        return int(written) & ~bits == 0
    return written in seen


def same(one: Any, other: Any) -> bool:
    """Whether two neutral values are the same, rounding of scales aside."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return isclose(one, other, rel_tol=1e-7, abs_tol=1e-7)
    return bool(one == other)


class _Tally:
    """Collects what each item came to over all dumps."""

    def __init__(self) -> None:
        self.worst: dict[str, State] = {}
        self.why: dict[str, str] = {}

    def add(self, item: str, state: State, why: str = "") -> None:
        rank = ("right", "missing", "marked", "wrong")
        if rank.index(state) > rank.index(self.worst.get(item, "right")):
            self.why[item] = why
            self.worst[item] = state
        self.worst.setdefault(item, state)


def judge(
    one: Invented, truth: Dialect, draft: Dialect | None, needed: AbstractSet[str]
) -> list[Verdict]:
    """A verdict for every needed setting and mode of a seed; ``draft`` None knows nothing."""
    sure = known(one)
    tally = _Tally()
    for dump in (*one.samples, *one.unseen):
        crafts = (read(dump, truth), read(dump, draft) if draft else None)
        _settings(one, sure, dump, crafts, needed, tally)
        if "mode ranges" in needed:
            _modes(one, sure, dump, crafts[1], tally)
    return [
        Verdict(
            item,
            state,
            ("mode" if item.startswith("mode ") else item) in sure.opaque,
            tally.why.get(item, ""),
        )
        for item, state in sorted(tally.worst.items())
    ]


def _settings(
    one: Invented,
    sure: Known,
    dump: Dump,
    crafts: tuple[Craft, Craft | None],
    needed: AbstractSet[str],
    tally: _Tally,
) -> None:
    truth, drafted = crafts
    got = drafted.values if drafted is not None else {}
    for member, value in dump.values.items():
        item = family(member)
        if item not in needed or item not in sure.families:
            continue
        found = got.get(member)
        if found is None:
            if _could_know(one, sure, member, dump.written.get(member, "")):
                tally.add(item, "missing", f"{dump.file}: {member} is {value!r}, not read")
        elif same(found.value, value):
            tally.add(item, "right")
        else:
            why = f"{dump.file}: {member} is {value!r}, read as {found.value!r}"
            tally.add(item, "wrong" if found.sure else "marked", why)
    for member, found in got.items():
        item = family(member)
        if item not in needed or (member in dump.values and item in sure.families):
            continue
        default = truth.get(member)
        real = dump.values.get(member, default.value if default.known else None)
        if real is None or not same(real, found.value):
            why = f"{dump.file}: {member} is {real!r}, read as {found.value!r}"
            tally.add(item, "wrong" if found.sure else "marked", why)


def _rows(craft: Craft | None) -> Iterator[tuple[Range, bool]]:
    for row in craft.mode_ranges if craft is not None else ():
        mark = bool(getattr(row, "sure", True))
        yield (row.mode, row.channel, row.low_us, row.high_us, row.join), mark


def _modes(one: Invented, sure: Known, dump: Dump, drafted: Craft | None, tally: _Tally) -> None:
    got: dict[str, list[tuple[Range, bool]]] = {}
    for row, mark in _rows(drafted):
        got.setdefault(row[0], []).append((row, mark))
    wanted: dict[str, list[Range]] = {}
    for row in dump.ranges:
        wanted.setdefault(row[0], []).append(row)
    words = {neutral: written for written, neutral in one.meanings["mode"].items()}
    for mode in sorted({*got, *wanted}):
        item = f"mode {mode}"
        true, found = wanted.get(mode, []), got.get(mode, [])
        if not found:
            unseen = words[mode] not in sure.words.get("mode", frozenset())
            if unseen:
                continue
            if {row[4] for row in true} <= sure.joins:
                tally.add(item, "missing", f"{dump.file}: {true} not read")
        elif _alike(true, [row for row, _ in found]):
            tally.add(item, "right")
        elif {row[4] for row in true} <= sure.joins:
            fits = [row for row, _ in found if any(_alike([row], [one]) for one in true)]
            why = f"{dump.file}: {true} read as {[row for row, _ in found]}"
            if len(fits) == len(found):
                tally.add(item, "missing", why)
            else:
                marked = all(not mark for row, mark in found if row not in fits)
                tally.add(item, "marked" if marked else "wrong", why)


def _alike(true: list[Range], found: list[Range]) -> bool:
    """Whether ranges are the same; how one range alone is joined makes no difference."""
    if len(true) != len(found):
        return False
    joined = len(true) > 1
    pairs = zip(sorted(true), sorted(found), strict=True)
    return all(
        one[:2] == other[:2]
        and abs(one[2] - other[2]) < 0.01
        and abs(one[3] - other[3]) < 0.01
        and (not joined or one[4] == other[4])
        for one, other in pairs
    )
