"""Which new name an old one has become: by words, values, place and meaning together."""

from __future__ import annotations

import re
from collections import defaultdict
from difflib import SequenceMatcher
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from cfglint.teach.meanings import squeeze
from cfglint.teach.names import BY_SETTING, Words, fit
from cfglint.teach.updates_model import SURE
from cfglint.teach.words import ideas, is_filler, split

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cfglint.teach.updates_read import Key, Name, Names

#: Below this two names have nothing to do with each other.
LEAST = 0.4
#: More pairs than this are not looked at one by one.
_MANY = 60_000
#: More words than this are a sentence.
_LONGEST = 6
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?[^\W\d]{0,4}")
#: Values that many names have: being the same says little.
_COMMON = frozenset(("0", "1", "2", "on", "off", "yes", "no", "true", "false", "none"))


class Pair(NamedTuple):
    """An old name and a new one, how likely they are the same thing, why, and the runner-up."""

    old: Name
    new: Name
    confidence: float
    reason: str
    rival: str = ""
    answered: bool = False

    @property
    def sure(self) -> bool:
        return self.confidence >= SURE


@lru_cache(maxsize=65536)
def _alike(one: str, other: str) -> float:
    """How far two words say the same (0 to 1)."""
    if one == other:
        return 1.0
    if one.isdigit() or other.isdigit():
        return 0.0
    short, long = sorted((one, other), key=len)
    if len(short) >= 3 and long.startswith(short):
        return 0.85
    if len(short) >= 3 and short == long[0] + re.sub(r"[aeiouy]", "", long[1:]):
        return 0.85
    if _speaks_of(one) & _speaks_of(other):
        return 0.7
    return 0.5 if len(short) >= 4 and SequenceMatcher(None, one, other).ratio() > 0.78 else 0.0


def _speaks_of(word: str) -> set[str]:
    # What is no setting's (x-…) is sorted too roughly to tell two names apart.
    return {idea for idea, weight in ideas(word) if weight >= 0.8 and idea[:2] != "x-"}


def _weight(word: str) -> float:
    return 0.5 if is_filler(word) and not word.isdigit() else 1.0


@lru_cache(maxsize=65536)
def likeness(one: str, other: str) -> float:
    """How far two names are made of the same words (0 to 1), whatever joins them."""
    mine, theirs = split(one.replace("#", " ")), split(other.replace("#", " "))
    met, _, _ = _matched(mine, theirs)
    sizes = [sum(map(_weight, words)) for words in (mine, theirs)]
    if not all(sizes):
        return 0.0
    whole = 0.6 * (2 * met / sum(sizes)) + 0.4 * min(1.0, met / min(sizes))
    short, long = sorted((squeeze(one), squeeze(other)), key=len)
    if len(short) >= 4 and short == long[0] + re.sub(r"[aeiouy]", "", long[1:]):
        whole = max(whole, 0.85)
    if len(short) >= 5 and (long.startswith(short) or long.endswith(short)):
        whole = max(whole, 0.5 + 0.5 * len(short) / len(long))  # words that nothing divides
    # Members of a family differ in nothing but the number.
    numbers = [sorted(word for word in words if word.isdigit()) for words in (mine, theirs)]
    return whole * (1.0 if numbers[0] == numbers[1] else 0.3)


def _matched(
    mine: Sequence[str], theirs: Sequence[str]
) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    """How much of two names' words goes together, and the words of each that stand for others."""
    rest, met = list(theirs), 0.0
    left: list[str] = []
    for word in sorted(mine, key=lambda word: word not in theirs):
        best = max(rest, key=lambda other: _alike(word, other), default="")
        share = _alike(word, best) if best else 0.0
        if share:
            met += share * (_weight(word) + _weight(best)) / 2
            rest.remove(best)
        if share < 0.8:
            left.append(word)
    return met, tuple(left), tuple(word for word in theirs if word not in mine)


class Pairer:
    """Pairs the names of two sides.

    ``judge`` says what the values of a setting that is known tell, from −1 (it cannot be) to 1
    (the same, and a rare one), and in words.
    """

    def __init__(
        self, before: Names, after: Names, judge: Callable[[Name, Name], tuple[float, str]]
    ) -> None:
        self.judge = judge
        common = before.by_key.keys() & after.by_key.keys()
        told = [(old.written[at], new.written[at])
                for key in common
                if not (old := before.by_key[key]).setting and (new := after.by_key[key])
                for at in old.written if at in new.written]  # fmt: skip
        #: How many of the values without a neutral meaning are the same in both, 0 to 1.
        self.steady = sum(a == b for a, b in told) / len(told) if len(told) >= 8 else 0.5
        self.alive = {word for _, name in common for word in split(name)}
        self.around = [_around(names.order, common) for names in (before, after)]

    def pairs(self, gone: Sequence[Name], new: Sequence[Name]) -> list[Pair]:
        """The likeliest pairs of old and new names, no name twice, likeliest first."""
        rows = [(score, old, name, reason) for old, name in self._candidates(gone, new)
                for score, reason in [self._score(old, name)] if score >= LEAST]  # fmt: skip
        rows.sort(key=lambda row: (-row[0], row[1].at, row[2].at))
        taken: dict[Key, float] = {}
        held: dict[Key, float] = {}
        solved = []
        for row in rows:
            score, old, name, _ = row
            if old.key not in taken and name.key not in held:
                taken[old.key] = held[name.key] = score
                solved.append(row)
        by_old: dict[Key, list[tuple[float, Name]]] = defaultdict(list)
        by_new: dict[Key, list[tuple[float, Name]]] = defaultdict(list)
        for score, old, name, _ in rows:
            # A name that surely belongs to another is hardly a rival.
            by_old[old.key].append((score * (0.55 if held.get(name.key, 0) > score else 1), name))
            by_new[name.key].append((score * (0.55 if taken.get(old.key, 0) > score else 1), old))
        out = []
        for score, old, name, reason in solved:
            others = [row for row in by_old[old.key] if row[1].key != name.key]
            rivals = others + [row for row in by_new[name.key] if row[1].key != old.key]
            near = max((weight for weight, _ in rivals), default=0.0)
            second = max(others, key=lambda row: row[0], default=None)
            margin = min(1.0, max(0.0, score - near) / 0.25)
            sure = min(0.98, score + 0.15 * margin) if margin >= 0.3 else min(score, 0.6)
            rival = second[1].name if second is not None and second[0] >= 0.6 * score else ""
            out.append(Pair(old, name, round(sure, 2), reason, rival))
        return _as_families(out)

    def _candidates(self, gone: Sequence[Name], new: Sequence[Name]) -> Iterator[tuple[Name, Name]]:
        """Pairs worth a look: where there are very many, only those with a word in common."""
        words = {one.key: set(split(one.name)) for one in (*gone, *new)}
        many = len(gone) * len(new) > _MANY
        for old in gone:
            for name in new:
                if ("#" in old.name) == ("#" in name.name) and (
                    not many or words[old.key] & words[name.key]
                ):
                    yield old, name

    def against(self, old: str, new: str) -> float:
        """How far the words of two names speak against their being one: 0 to 1.

        Where a word stands for another, and names that did not change still have both, the two
        mean different things: `gain-p` is not `gain-d`.
        """
        _, gone, come = _matched(split(old), split(new))
        lost = [word for word in gone if word in self.alive]
        won = [word for word in come if word in self.alive]
        if lost and won:
            return 1.0
        return 0.4 if (won and not gone) or (lost and not come) else 0.0

    def apart(self, old: str, new: str) -> bool:
        """Whether one name may stand beside the other: it has other words, not only more."""
        _, gone, come = _matched(split(old), split(new))
        return bool(gone) or any(word in self.alive for word in come)

    def place(self, old: Key, new: Key) -> float:
        """1 where both neighbours are the same, 0.5 where one is."""
        mine, theirs = self.around[0].get(old), self.around[1].get(new)
        if mine is None or theirs is None or old[0] != new[0]:
            return 0.0
        return (int(mine[0] == theirs[0]) + int(mine[1] == theirs[1])) / 2

    def _score(self, old: Name, new: Name) -> tuple[float, str]:
        words = likeness(old.name, new.name)
        if not old.setting and 0.7 * words + 0.3 < LEAST:
            return 0.0, ""  # whatever else speaks for it
        place = self.place(old.key, new.key)
        value, said = self.judge(old, new) if old.setting else self._values(old, new)
        meaning = self._meaning(old, new)
        score = 0.7 * words + 0.15 * place + 0.15 * value
        if value >= 0:
            score = max(score, 0.45 * words + 0.35 * meaning + 0.15 * place + 0.2 * value)
        else:
            score += 0.15 * value
        if words < 0.7 and not old.setting and not said.startswith("the same"):
            # A word for a word, and no value to go by: as likely two things that are kin.
            score = min(score, 0.5)
        if place == 1 and said == "the same value":
            # A rare value that stands between the same lines under another name.
            score = max(score, 0.72 if value == 1 else 0.5)
        score -= (0.15 if place == 1 == value else 0.35) * self.against(old.name, new.name)
        if max(len(old.name.split()), len(new.name.split())) > _LONGEST:
            score = min(score, 0.5)  # a sentence, which is no name
        if old.key[0] != new.key[0]:
            score -= (
                0.2 if likeness(old.key[0], new.key[0]) < 0.5 and old.key[1] != new.key[1] else 0.05
            )
        why = [f"words {words:.0%} alike"]
        why += ["between the same lines"] if place == 1 else ["beside the same line"] * (place > 0)
        why += [said] if said else []
        if meaning >= 0.75:
            why.append(f"the new name speaks of {old.setting}")
        return score, ", ".join(why)

    @staticmethod
    def _meaning(old: Name, new: Name) -> float:
        """How well the new name fits the setting that the old one sets."""
        profile = BY_SETTING.get(old.setting)
        if profile is None:
            return 0.0
        own = tuple(word for word in split(new.name.replace("#", " ")) if not word.isdigit())
        above = tuple(word for word in split(new.key[0].replace("#", " ")) if not word.isdigit())
        return fit(profile, Words(own, above)).score

    def _values(self, old: Name, new: Name) -> tuple[float, str]:
        """What is written says of two names without a neutral meaning.

        Where hardly any value changed, another value speaks against the two being one.
        """
        both = [(text, new.written[at]) for at, text in old.written.items() if at in new.written]
        if not both:
            return 0.0, ""
        if any(kind_of(a) != kind_of(b) for a, b in both):
            return -1.0, "values of another kind"
        same = [a for a, b in both if a == b]
        if len(same) == len(both):
            rare = any(text.lower() not in _COMMON for text in same)
            return (1.0 if rare else 0.4), "the same value"
        return (-0.5, "another value, where few changed") if self.steady > 0.8 else (0.0, "")


def _around(order: Sequence[Key], common: set[Key]) -> dict[Key, tuple[Key, Key]]:
    """Key → the names before and after it under its titles that both versions have."""
    edge = ("", "")
    sides: list[dict[Key, Key]] = []
    for keys in (order, tuple(reversed(order))):
        last: dict[str, Key] = {}
        found: dict[Key, Key] = {}
        for key in keys:
            found[key] = last.get(key[0], edge)
            if key in common:
                last[key[0]] = key
        sides.append(found)
    return {key: (sides[0][key], sides[1][key]) for key in order}


def _as_families(pairs: list[Pair]) -> list[Pair]:
    """Members of a family that all went the same way are as sure as they are together."""
    ways: dict[tuple[str, str], list[Pair]] = defaultdict(list)
    for pair in pairs:
        ways[re.sub(r"\d+", "#", pair.old.name), re.sub(r"\d+", "#", pair.new.name)].append(pair)
    out = []
    for (stem, _), rows in ways.items():
        mean = sum(pair.confidence for pair in rows) / len(rows)
        for pair in rows:
            if len(rows) > 1 and "#" in stem:
                text = f"{pair.reason}; {len(rows)} names of this kind went the same way"
                out.append(pair._replace(confidence=round(min(0.98, mean + 0.05), 2), reason=text))
            else:
                out.append(pair)
    out.sort(key=lambda pair: (-pair.confidence, pair.old.at))
    return out


def kind_of(written: str) -> str:
    """What a value looks like: ``number``, ``word``, ``quoted`` or a list of so many."""
    bare = written.strip()
    if bare[:1] in "\"'":
        return "quoted"
    if _NUMBER.fullmatch(bare):
        return "number"
    parts = [part for part in re.split(r"[\s,/|;:]+", bare) if part]
    return f"list {len(parts)}" if len(parts) > 1 else "word"
