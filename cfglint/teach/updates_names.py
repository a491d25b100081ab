"""Which new name an old one has become: by words, values, place and meaning together."""

from __future__ import annotations

import re
from collections import defaultdict
from difflib import SequenceMatcher
from functools import lru_cache
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.teach.meanings import squeeze
from cfglint.teach.names import BY_SETTING, Words, fit
from cfglint.teach.words import ideas, is_filler, split

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from cfglint.teach.updates_lines import Key, Name, Names

#: From here on a rename is drafted as a row; below, as a comment.
SURE = 0.7
#: Below this two names have nothing to do with each other.
LEAST = 0.4

#: More pairs than this are not looked at one by one.
_MANY = 60_000
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
#: Values that many names have: being the same says little.
_COMMON = frozenset(("0", "1", "2", "on", "off", "yes", "no", "true", "false", "none"))


class Pair(NamedTuple):
    """An old name and a new one, how likely they are the same thing, and why.

    ``rival`` is the next likeliest new name, ``""`` for none that comes near.
    """

    old: Name
    new: Name
    confidence: float
    reason: str
    rival: str = ""

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
    if len(short) >= 3 and short[0] == long[0]:
        bones = long[0] + re.sub(r"[aeiouy]", "", long[1:])
        if short == bones:
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
    mine, theirs = _words(one), _words(other)
    numbers = [word for word in mine if word.isdigit()], [w for w in theirs if w.isdigit()]
    met, _, _ = _matched(mine, theirs)
    sizes = [sum(map(_weight, words)) for words in (mine, theirs)]
    if not all(sizes):
        return 0.0
    dice, held = 2 * met / sum(sizes), min(1.0, met / min(sizes))
    whole = 0.6 * dice + 0.4 * held
    short, long = sorted((squeeze(one), squeeze(other)), key=len)
    if len(short) >= 4 and short == long[0] + re.sub(r"[aeiouy]", "", long[1:]):
        whole = max(whole, 0.85)
    if len(short) >= 5 and (long.startswith(short) or long.endswith(short)):
        whole = max(whole, 0.5 + 0.5 * len(short) / len(long))  # words that nothing divides
    # Members of a family differ in nothing but the number.
    return whole * (1.0 if sorted(numbers[0]) == sorted(numbers[1]) else 0.3)


def _matched(
    mine: Sequence[str], theirs: Sequence[str]
) -> tuple[float, tuple[str, ...], tuple[str, ...]]:
    """How much of two names' words goes together, and the words of each that stand for others."""
    rest = list(theirs)
    met = 0.0
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


def _words(name: str) -> tuple[str, ...]:
    return split(name.replace("{N}", " "))


def kind_of(written: str) -> str:
    """What a value looks like: ``number``, ``word``, ``quoted`` or a list of so many."""
    bare = written.strip()
    if bare[:1] in "\"'":
        return "quoted"
    if _NUMBER.fullmatch(bare):
        return "number"
    parts = [part for part in re.split(r"[\s,/|;:]+", bare) if part]
    return f"list {len(parts)}" if len(parts) > 1 else "word"


class Places:
    """Where names stand among those that both versions have, and the words these are made of."""

    def __init__(self, before: Names, after: Names) -> None:
        common = before.by_key.keys() & after.by_key.keys()
        #: How many of the values without a neutral meaning are the same in both, 0 to 1.
        self.steady = _steady(before, after, common)
        self.alive = {word for _, name in common for word in _words(name)}
        self.old = self._around(before.order, common)
        self.new = self._around(after.order, common)

    @staticmethod
    def _around(order: Sequence[Key], common: Iterable[Key]) -> dict[Key, tuple[Key, Key]]:
        """Key → the names before and after it in its section that both versions have."""
        both = set(common)
        edge = ("", "")
        ahead: dict[Key, Key] = {}
        last: dict[str, Key] = {}
        for key in order:
            ahead[key] = last.get(key[0], edge)
            if key in both:
                last[key[0]] = key
        last.clear()
        found: dict[Key, tuple[Key, Key]] = {}
        for key in reversed(order):
            found[key] = ahead[key], last.get(key[0], edge)
            if key in both:
                last[key[0]] = key
        return found

    def against(self, old: str, new: str) -> float:
        """How far the words of two names speak against their being one: 0 to 1.

        Where a word stands for another, and names that did not change still have both, the two
        mean different things: `gain-p` is not `gain-d`.
        """
        _, gone, come = _matched(_words(old), _words(new))
        lost = [word for word in gone if word in self.alive]
        won = [word for word in come if word in self.alive]
        if lost and won:
            return 1.0
        return 0.4 if (won and not gone) or (lost and not come) else 0.0

    def apart(self, old: str, new: str) -> bool:
        """Whether one name may stand beside the other: it has other words, not only more."""
        _, gone, come = _matched(_words(old), _words(new))
        return bool(gone) or any(word in self.alive for word in come)

    def share(self, old: Key, new: Key) -> float:
        """1 where both neighbours are the same, 0.5 where one is."""
        mine, theirs = self.old.get(old), self.new.get(new)
        if mine is None or theirs is None or old[0] != new[0]:
            return 0.0
        return (int(mine[0] == theirs[0]) + int(mine[1] == theirs[1])) / 2


def renames(
    gone: Sequence[Name],
    new: Sequence[Name],
    places: Places,
    judge: Callable[[Name, Name], tuple[float, str]],
    moved: Mapping[str, str],
) -> list[Pair]:
    """The likeliest pairs of old and new names, no name twice, likeliest first.

    ``judge`` says what the values of a setting that is known tell, from −1 (it cannot be) to 1
    (the same, and a rare one), and in words; ``moved`` maps sections to what
    they are called now.
    """
    rows: list[tuple[float, Name, Name, str]] = []
    for old, name in _candidates(gone, new):
        score, reason = _score(old, name, places, judge, moved)
        if score >= LEAST:
            rows.append((score, old, name, reason))
    rows.sort(key=lambda row: (-row[0], row[1].at, row[2].at))
    taken: dict[Key, float] = {}
    held: dict[Key, float] = {}
    solved = []
    for row in rows:
        score, old, name, _ = row
        if old.key in taken or name.key in held:
            continue
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


def _candidates(gone: Sequence[Name], new: Sequence[Name]) -> Iterator[tuple[Name, Name]]:
    """Pairs worth a look.

    A name that is another one but for the marks between its words is looked at with that alone.
    Where there are very many names, only those that have a word in common are.
    """
    old_by, new_by = _by_letters(gone), _by_letters(new)
    twins = {
        key
        for key in old_by.keys() & new_by.keys()
        if len(old_by[key]) == len(new_by[key]) == 1
        and ("{N}" in old_by[key][0].name) == ("{N}" in new_by[key][0].name)
    }
    for key in twins:
        yield old_by[key][0], new_by[key][0]
    olds = [one for one in gone if squeeze(one.name) not in twins]
    news = [one for one in new if squeeze(one.name) not in twins]
    words = {one.key: set(_words(one.name)) for one in (*olds, *news)}
    many = len(olds) * len(news) > _MANY
    for old in olds:
        for name in news:
            if ("{N}" in old.name) == ("{N}" in name.name) and (
                not many or words[old.key] & words[name.key]
            ):
                yield old, name


def _by_letters(names: Sequence[Name]) -> dict[str, list[Name]]:
    found: dict[str, list[Name]] = defaultdict(list)
    for one in names:
        found[squeeze(one.name)].append(one)
    return found


def _as_families(pairs: list[Pair]) -> list[Pair]:
    """Members of a family that all went the same way are as sure as they are together."""
    ways: dict[tuple[str, str], list[Pair]] = defaultdict(list)
    for pair in pairs:
        ways[_stem(pair.old.name), _stem(pair.new.name)].append(pair)
    out = []
    for rows in ways.values():
        mean = sum(pair.confidence for pair in rows) / len(rows)
        for pair in rows:
            if len(rows) > 1 and "#" in _stem(pair.old.name):
                text = f"{pair.reason}; {len(rows)} names of this kind went the same way"
                out.append(pair._replace(confidence=round(min(0.98, mean + 0.05), 2), reason=text))
            else:
                out.append(pair)
    out.sort(key=lambda pair: (-pair.confidence, pair.old.at))
    return out


def _stem(name: str) -> str:
    return re.sub(r"\d+", "#", name)


def _score(
    old: Name,
    new: Name,
    places: Places,
    judge: Callable[[Name, Name], tuple[float, str]],
    moved: Mapping[str, str],
) -> tuple[float, str]:
    if old.flag != new.flag and old.written and new.written:
        return 0.0, ""
    words = likeness(old.name, new.name)
    if not old.setting and 0.7 * words + 0.3 < LEAST:
        return 0.0, ""  # whatever else speaks for it
    place = places.share(old.key, new.key)
    value, said = judge(old, new) if old.setting else _values(old, new, places.steady)
    score = 0.7 * words + 0.15 * place + 0.15 * value
    meaning = _meaning(old, new)
    if value >= 0:
        score = max(score, 0.45 * words + 0.35 * meaning + 0.15 * place + 0.2 * value)
    else:
        score += 0.15 * value
    if words < 0.7 and not old.setting and not said.startswith("the same"):
        # A word for a word, and no value to go by: as likely two things that are kin.
        score = min(score, 0.5)
    score -= 0.35 * places.against(old.name, new.name)
    if old.within != new.within and moved.get(old.within) != new.within:
        score -= 0.2
    why = [f"words {words:.0%} alike"]
    why += ["between the same lines"] if place == 1 else ["beside the same line"] * (place > 0)
    why += [said] if said else []
    if meaning >= 0.75:
        why.append(f"the new name speaks of {old.setting}")
    return score, ", ".join(why)


def _meaning(old: Name, new: Name) -> float:
    """How well the new name fits the setting that the old one sets."""
    profile = BY_SETTING.get(old.setting)
    if profile is None:
        return 0.0
    own = tuple(word for word in _words(new.name) if not word.isdigit())
    section = tuple(word for word in split(new.within) if not word.isdigit())
    return fit(profile, Words(own, section)).score


def _steady(before: Names, after: Names, common: Iterable[Key]) -> float:
    same = all_ = 0
    for key in common:
        old, new = before.by_key[key], after.by_key[key]
        if not old.setting and not old.flag:
            told = [at for at in old.written if at in new.written]
            all_ += len(told)
            same += sum(old.written[at] == new.written[at] for at in told)
    return same / all_ if all_ >= 8 else 0.5


def _values(old: Name, new: Name, steady: float) -> tuple[float, str]:
    """What is written says of two names without a neutral meaning.

    Where hardly any value changed, another value speaks against the two being one.
    """
    both = [(text, new.written[at]) for at, text in old.written.items() if at in new.written]
    if not both or old.flag:
        return 0.0, ""
    if any(kind_of(a) != kind_of(b) for a, b in both):
        return -1.0, "values of another kind"
    same = [a for a, b in both if a == b]
    if len(same) == len(both):
        rare = any(text.lower() not in _COMMON for text in same)
        return (1.0 if rare else 0.4), "the same value"
    return (-0.5, "another value, where few changed") if steady > 0.8 else (0.0, "")
