"""What a person points at becomes mappings: each address is tried on all samples.

A *fact* is one setting as it truly is, at a line of a sample.  Of all ways to say where it stands
the one is taken that reads every fact, reads most in the other samples, and nothing twice.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import family, setting
from cfglint.dialect.mapfile import map_of
from cfglint.dialect.mapfile import marks as marks_of
from cfglint.dialect.reader import MapReader
from cfglint.dump.layout import rows as rows_of
from cfglint.teach.encoding import codecs, known_words, same, sensible
from cfglint.teach.families import Expect, Item
from cfglint.teach.pointing import Pointed, Way, ways

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.craft.model import Value
    from cfglint.dump.atoms import Atom
    from cfglint.dump.layout import Row
    from cfglint.dump.source import Source

#: Ways are drawn from so many facts of a family; so many are tried.
MOST_FACTS, MOST_WAYS = 6, 160
#: No small craft has more serial ports or channels (common practice, and then some).
MOST_PORTS, MOST_CHANNELS = 14, 24


class Fact(NamedTuple):
    """A setting as it truly is, at a line of a sample; ``text`` is what is written there."""

    sample: int
    line: int
    name: str
    text: str
    value: Any

    @property
    def family(self) -> str:
        return re.sub(r"(?<=\.)\d+(?=\.|$)", "N", self.name)

    @property
    def number(self) -> int:
        found = re.search(r"\.(\d+)(?=\.|$)", self.name)
        return int(found[1]) if found else 0


class Bench:
    """The samples' rows, read again and again with mappings that are tried."""

    def __init__(self, sources: Sequence[Source], marks: Mapping[str, Any]) -> None:
        self.sources = sources
        self.marks = dict(marks)
        self.layout = marks_of({"marks": marks})
        self.rows: list[list[Row]] = [list(rows_of(source, self.layout)) for source in sources]

        self._words = [
            {a.text.lower() for row in rows for a in (*row.atoms, *_over(row))}
            for rows in self.rows
        ]

    def foreign(self, address: str) -> int:
        """How many words of an address not every sample has."""
        words = re.sub(r"\{\w+\}|[*>]", " ", address).lower().split()
        return sum(any(word not in every for every in self._words) for word in words)

    def read(self, data: Mapping[str, Any], only: Iterable[int] = ()) -> dict[int, MapReader]:
        """The samples, or some of them, as these tables read them."""
        compiled = map_of({"marks": self.marks, **data})
        out = {}
        for sample in only or range(len(self.sources)):
            reader = MapReader(self.sources[sample], compiled, self.layout, self.rows[sample])
            reader.read()
            out[sample] = reader
        return out


def _over(row: Row) -> list[Atom]:
    return [atom for title in row.titles for atom in title.atoms]


def standing(bench: Bench, fact: Fact) -> list[Pointed]:
    """Where a fact's text stands in its line."""
    out = []
    for at, row in enumerate(bench.rows[fact.sample] if fact.sample < len(bench.rows) else ()):
        lines = {row.line, *(line for _, line, _ in row.joins)}
        if fact.line not in lines or not row.atoms or not fact.text:
            continue
        out += [
            Pointed(row, at, match.start(), match.end(), fact.number)
            for match in re.finditer(re.escape(fact.text), row.text)
            if row.place(match.start(), match.end())[0] == fact.line
        ]
    # Whole words before parts of words; values stand behind their names.
    return sorted(out, key=lambda one: (not _whole(one), -one.start))


def _whole(one: Pointed) -> bool:
    text = one.row.text
    before, after = text[one.start - 1 : one.start], text[one.end : one.end + 1]
    return not (before.isalnum() and text[one.start].isalnum()) and not (
        after.isalnum() and text[one.end - 1].isalnum()
    )


class Trial(NamedTuple):
    """What a way reads: the facts that are right, those that are not, all values, what is odd."""

    way: Way
    keys: dict[str, Any]
    right: frozenset[Fact]
    wrong: int
    values: tuple[tuple[int, str, int, str], ...]
    unknown: tuple[str, ...]
    odd: int
    #: How many members sets have.
    many: int = 0

    @property
    def rank(self) -> tuple[float, ...]:
        return (
            len(self.right) - 2 * self.wrong,
            -self.odd,
            len(self.values) + self.many + 0.9 * min(len(self.unknown), 4),
        )


def entry(name: str, way: Way, keys: Mapping[str, Any]) -> dict[str, Any]:
    """A mapping's tables from the way to its place and the keys of its values."""
    count = {"N": way.counts} if way.counts else {}
    if not way.rows:
        return {"map": {name: {**way.keys, **count, **keys}}}
    fields = {**({"value": dict(keys)} if keys else {}), **count}
    row = {**way.keys, "sets": {"value": name}, **({"fields": fields} if fields else {})}
    return {"rows": [row]}


def tried(
    bench: Bench,
    name: str,
    way: Way,
    keys: dict[str, Any],
    facts: Sequence[Fact],
    only: Iterable[int] = (),
) -> Trial:
    """A way, tried on samples."""
    right, wrong, odd, more = set(), 0, 0, 0
    values, unknown = [], []
    try:
        readers = bench.read(entry(name, way, keys), only)
    except (re.error, RecursionError, KeyError, ValueError):
        return Trial(way, keys, frozenset(), 99, (), (), 99)
    first = min((fact.sample for fact in facts), default=0)
    for sample, reader in readers.items():
        if ".N" not in name:
            odd += max(0, len(reader.values) + len(reader.misread) - 1)
            # Who points at a later sample says that those before it have none.
            odd += sample < first and len(reader.values)
        for one in reader.values.values():
            odd += not sensible(name, one.value)
            odd += _negated(bench, sample, one)
            number = Fact(0, 0, one.name, "", None).number
            odd += number > (MOST_PORTS if name.startswith("port") else MOST_CHANNELS)
            if one.span is not None:
                more += len(one.value) if isinstance(one.value, frozenset) else 0
                values.append((sample, one.name, one.span.line, one.written))
        odd += 2 * len(reader.ambiguous) + 2 * len(reader.repeats)
        for missed in reader.misread:
            worded = setting(name).kind not in ("number", "count")
            if len(missed.written) > 60 or not (worded or name == "battery.cells"):
                odd += 1
            else:
                unknown.append(missed.written)
        for fact in facts:
            if fact.sample != sample:
                continue
            got = reader.values.get(fact.name)
            if got is None:
                continue
            if same(got.value, fact.value) and got.span is not None and got.span.line == fact.line:
                right.add(fact)
            else:
                wrong += 1
    unknown_ = tuple(dict.fromkeys(unknown))
    return Trial(way, keys, frozenset(right), wrong, tuple(values), unknown_, odd, more)


#: What makes a word mean its contrary, before or behind it.
_NEGATED = re.compile(
    r"(?i)(?:^|\W)(?:not?|never|nicht|kein\w*|pas|sans|non?|niet|geen|ne)(?=\W|$)"
)


def _negated(bench: Bench, sample: int, one: Value) -> bool:
    """Whether the words of a flag leave out a `not` that stands beside them."""
    if setting(family(one.name)).kind != "flag" or one.span is None or len(one.written) < 3:
        return False
    line = bench.sources[sample].lines[one.span.line - 1]
    near = (
        line[: one.span.column - 1].split(" ")[-2:-1],
        line[one.span.end_column - 1 :].split()[:1],
    )
    return any(_NEGATED.search(word) is not None for words in near for word in words)


def learned(
    bench: Bench, name: str, facts: Sequence[Fact], words: Mapping[str, str]
) -> tuple[list[Item], list[Fact]]:
    """The mapping of a setting or family that reads what was pointed at, and what it does not."""
    pairs = [(fact.text, fact.value) for fact in facts]
    keyed = codecs(name, pairs, words, bench.marks)
    if not keyed and len(facts) > 2:
        # One of them may be wrong: most agree.
        for left in range(len(facts)):
            rest = [pair for at, pair in enumerate(pairs) if at != left]
            keyed = codecs(name, rest, words, bench.marks)
            if keyed:
                break
    candidates = _candidates(bench, facts)
    if not keyed or not candidates:
        return [], list(facts)
    samples = sorted({fact.sample for fact in facts})
    best: list[Trial] = []
    for keys in keyed[:4]:
        first = [tried(bench, name, way, keys, facts, samples) for way in candidates]
        first = [one for one in first if one.right]
        if not first:
            continue
        most = max(len(one.right) - 2 * one.wrong for one in first)
        close = [one for one in first if len(one.right) - 2 * one.wrong == most][:24]
        best += [tried(bench, name, one.way, keys, facts) for one in close]
        if (
            best
            and setting(name).kind != "words"
            and max(one.rank[0] for one in best) == len(facts)
        ):
            break
    if not best or (top := max(best, key=lambda one: one.rank)).rank[0] <= 0:
        return [], list(facts)
    more = _beside(bench, name, facts, top, candidates)
    item = _item(bench, name, top, more)
    if not more:
        item = item._replace(forms=_as_good(name, item, top, best))
    right = set(top.right).union(*(one.right for one in more))
    return [item], [fact for fact in facts if fact not in right]


def _candidates(bench: Bench, facts: Sequence[Fact]) -> list[Way]:
    """Ways to where facts stand, those that several of them share first."""
    votes: dict[str, list[Way]] = defaultdict(list)
    step = max(1, len(facts) // MOST_FACTS)
    for fact in facts[::step]:
        every: dict[str, Way] = {}
        for one in standing(bench, fact)[:3]:
            for way in ways(one, bench.rows[fact.sample]):
                every.setdefault(way.name, way)
        for name, way in every.items():
            votes[name].append(way)

    def order(found: list[Way]) -> tuple[int, int]:
        return -len(found), bench.foreign(str(found[0].keys["at"]))

    return [found[0] for found in sorted(votes.values(), key=order)[:MOST_WAYS]]


def _beside(
    bench: Bench, name: str, facts: Sequence[Fact], top: Trial, candidates: Sequence[Way]
) -> list[Trial]:
    """Further ways for facts that the best one does not read, where they fit in one entry."""
    out: list[Trial] = []
    left = set(facts) - top.right
    same_keys = {key: value for key, value in top.way.keys.items() if key != "at"}
    for way in candidates if left else ():
        others = {key: value for key, value in way.keys.items() if key != "at"}
        if others != same_keys or way.counts != top.way.counts or way.rows != top.way.rows:
            continue
        one = tried(bench, name, way, top.keys, facts)
        if one.right & left and not one.wrong and not one.odd:
            out.append(one)
            left -= one.right
        if not left or len(out) > 5:
            break
    return out


def _item(bench: Bench, name: str, top: Trial, more: Sequence[Trial]) -> Item:
    """The mapping as an item to prove, with words of the other samples as far as they are known."""
    keys = dict(top.keys)
    found = known_words(name, _texts(top, more))
    if setting(name).kind == "flag":
        found = _other_side(keys, _texts(top, more))
    if name == "battery.cells":
        found = {text: ("0", 0.9 if _AUTO.search(text) else 0.6) for text in _texts(top, more)}
        keys = {**keys, "words": keys.get("words", {})} if found else keys
    if found and ("words" in keys or setting(name).kind in ("word", "words")):
        keys = _widened(keys, found)
    at = list(dict.fromkeys(one.way.keys["at"] for one in (top, *more)))
    way = top.way._replace(keys={**top.way.keys, "at": at if len(at) > 1 else at[0]})
    last = tried(bench, name, way, keys, list(top.right))
    expects = tuple(Expect(sample, one, line, text) for sample, one, line, text in last.values)
    table = entry(name, way, keys)
    form = table["map"][name] if "map" in table else table["rows"][0]
    return Item(
        f"told {name}", "" if way.rows else name, (form,), expects, "as a person pointed at it"
    )


def _as_good(
    name: str, item: Item, top: Trial, tried_: Sequence[Trial]
) -> tuple[dict[str, Any], ...]:
    """Further forms that read the same: among other mappings one may be read and another not."""
    forms = [item.forms[0]]
    kinds = {True: 0, False: 0}
    for one in sorted(tried_, key=lambda one: one.rank, reverse=True):
        kind = "{value}" in str(one.way.keys["at"])
        same_ = (one.right, one.wrong, one.odd, set(one.values)) == (
            top.right,
            top.wrong,
            top.odd,
            set(top.values),
        )
        if not same_ or one.way.rows != top.way.rows or kinds[kind] > 3:
            continue
        kinds[kind] += 1
        rest = {k: v for k, v in forms[0].items() if k not in (*top.way.keys, "N")}
        if one.way.rows:
            fields = {k: v for k, v in forms[0].get("fields", {}).items() if k != "N"}
            fields |= {"N": one.way.counts} if one.way.counts else {}
            made = {**one.way.keys, "sets": {"value": name}}
            made |= {"fields": fields} if fields else {}
        else:
            made = {**one.way.keys, **({"N": one.way.counts} if one.way.counts else {}), **rest}
        if made not in forms:
            forms.append(made)
    return tuple(forms)


#: What a firmware says that counts cells itself.
_AUTO = re.compile(r"(?i)auto|count|detect|measure|guess|zähl|compt|cont|tel")


def _texts(top: Trial, more: Sequence[Trial]) -> list[str]:
    """What the ways meet and cannot read."""
    return list(dict.fromkeys(text for one in (top, *more) for text in one.unknown))


def _other_side(keys: Mapping[str, Any], texts: Sequence[str]) -> dict[str, tuple[str, float]]:
    """What else stands where a flag is: if it is one text, the other side."""
    sides = set(keys.get("words", {}))
    other = dict.fromkeys(texts)
    if len(sides) != 1 or len(other) != 1:
        return {}
    return {next(iter(other)): ("no" if sides == {"yes"} else "yes", 0.95)}


def _widened(keys: Mapping[str, Any], found: Mapping[str, tuple[str, float]]) -> dict[str, Any]:
    """Keys with further words, of which those that are not sure are marked."""
    table = {word: [t] if isinstance(t, str) else list(t) for word, t in keys["words"].items()}
    none = keys.get("none", [])
    none = [none] if isinstance(none, str) else list(none)
    unsure = []
    for text, (word, weight) in found.items():
        if word == "-":
            none.append(text)
            continue
        if weight < 0.85 and word not in table:
            unsure.append(word)
        if text not in table.setdefault(word, []):
            table[word].append(text)
    out = {**keys, "words": {w: t[0] if len(t) == 1 else t for w, t in table.items()}}
    if none:
        out["none"] = none
    if unsure:
        out["unsure"] = unsure
    return out
