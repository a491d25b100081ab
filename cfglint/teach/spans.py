"""Mode ranges and links by example: which characters of a line say channel, ends and mode.

How ends are written (as they are, in steps, as a centre and half of its width) is solved from all
examples together; what differs from mode to mode in the rest of the lines is the mode's word.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.encoding import plain
from cfglint.teach.families import clean
from cfglint.teach.pointing import counted
from cfglint.teach.sheet import Shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.dump.layout import Row
    from cfglint.teach.examples import Bench

#: The parts that two numbers of a line can be.
KINDS = (("low", "high"), ("centre", "half"), ("centre", "width"), ("low", "width"))
_NUMBER = re.compile(r"(?:(?<![\w)])[-+\u2212])?\d+(?:[.,]\d+)?")
_GROUPED = re.compile(r"(?:(?<![\w)])[-+\u2212])?\d{1,3}(?:[ ,.'\u202f\xa0]\d{3})+(?!\d)")
_HEXED = re.compile(r"(?i)(?<!\w)(?:0x|\$)?[0-9a-f]+h?(?!\w)")


class Figure(NamedTuple):
    """A number of a row; in a drawn bar a stretch's end."""

    start: int
    end: int
    value: float


class Ends(NamedTuple):
    """How the two ends are written: their parts, and the measure of their numbers."""

    parts: tuple[str, str]
    scale: float
    offset: float

    @property
    def cost(self) -> tuple[bool, bool, int]:
        return (self.scale != 1, self.offset != 0, KINDS.index(self.parts))


class Laid(NamedTuple):
    """An example with its fields' characters in its row; ``title`` is one that says the channel."""

    shown: Shown
    row: Row
    fields: tuple[tuple[int, int, str], ...]
    counts: dict[str, Any]
    title: int = -1


def figures(row: Row, marks: Mapping[str, Any]) -> list[Figure]:
    """The numbers of a row."""
    if not row.atoms:
        return []
    start, end = row.atoms[0].start, max(row.note, row.atoms[-1].end)
    if marks.get("base") == 16:
        found = [m for m in _HEXED.finditer(row.text, start, end) if re.search(r"\d", m[0])]
        return [
            Figure(m.start(), m.end(), float(int(re.sub(r"(?i)0x|\$|h$", "", m[0]), 16)))
            for m in found
        ]
    out = []
    at = start
    while (match := _NUMBER.search(row.text, at, end)) is not None:
        grouped = _GROUPED.match(row.text, match.start(), end)
        if grouped and marks.get("thousands", "\0") in grouped[0]:
            value = float(re.sub(r"[^\d-]", "", grouped[0].replace("\u2212", "-")))
            out.append(Figure(grouped.start(), grouped.end(), value))
            at = grouped.end()
            continue
        text = match[0].replace("\u2212", "-").replace(",", ".")
        out.append(Figure(match.start(), match.end(), float(text)))
        at = match.end()
    return out


def _solved(one: Shown, first: float, second: float) -> Iterator[Ends]:
    """How two numbers could be the ends."""
    width = one.high - one.low
    for parts in KINDS:
        size = second - first if parts == ("low", "high") else second
        whole = width / 2 if parts[1] == "half" else width
        if not size or whole / size <= 0:
            continue
        scale = whole / size
        near = round(scale) if scale >= 0.9 else round(scale, 2)
        for step in {scale, near}:
            if step <= 0 or abs(step - scale) > 0.02 * scale:
                continue
            start = (one.low + one.high) / 2 if parts[0] == "centre" else one.low
            offset = start - step * first
            for base in {round(offset), round(offset, 1)}:
                yield Ends(parts, plain(float(f"{step:.6g}")), plain(base))


def _ends(ends: Ends, first: float, second: float) -> tuple[float, float]:
    """What two numbers mean."""
    start = ends.offset + ends.scale * first
    if ends.parts == ("low", "high"):
        return start, ends.offset + ends.scale * second
    size = ends.scale * second
    if ends.parts[0] == "low":
        return start, start + size
    half = size if ends.parts[1] == "half" else size / 2
    return start - half, start + half


def _fits(one: Shown, ends: Ends, first: Figure, second: Figure) -> bool:
    low, high = _ends(ends, first.value, second.value)
    return abs(low - one.low) <= 1.01 and abs(high - one.high) <= 1.01


def measured(
    examples: Sequence[tuple[Shown, Row]], marks: Mapping[str, Any]
) -> tuple[Ends | None, int]:
    """How the ends of most examples are written, and of how many."""
    rows = [(one, figures(row, marks)) for one, row in examples]
    found: Counter[Ends] = Counter()
    for one, every in rows:
        mine = {
            ends
            for at, first in enumerate(every)
            for second in every[at + 1 :]
            for ends in _solved(one, first.value, second.value)
        }
        found.update(mine)
    best: tuple[Ends | None, int] = (None, 0)
    for ends, _ in sorted(found.items(), key=lambda pair: (-pair[1], pair[0].cost))[:60]:
        many = sum(
            any(_fits(one, ends, a, b) for at, a in enumerate(every) for b in every[at + 1 :])
            for one, every in rows
        )
        if many > best[1] or (many == best[1] and best[0] and ends.cost < best[0].cost):
            best = ends, many
    # One example may be met by chance, unless its numbers are the ends themselves.
    if best[0] is not None and best[1] < 2 and (best[0].scale != 1 or best[0].offset):
        return None, 0
    return best


def laid(examples: Sequence[tuple[Shown, Row]], ends: Ends, marks: Mapping[str, Any]) -> list[Laid]:
    """Examples with their fields, the channel counted in the way that most of them allow."""
    ways: list[list[Laid]] = []
    for one, row in examples:
        every = figures(row, marks)
        pairs = [
            (a, b) for at, a in enumerate(every) for b in every[at + 1 :] if _fits(one, ends, a, b)
        ]
        if not pairs:
            ways.append([])
            continue
        a, b = min(pairs, key=lambda pair: pair[1].start - pair[0].end)
        fields = ((a.start, a.end, ends.parts[0]), (b.start, b.end, ends.parts[1]))
        ways.append(list(_channels(one, row, fields)))
    votes = Counter(
        key for every in ways for key in {repr((way.counts, way.title >= 0)) for way in every}
    )
    return [
        max(several, key=lambda way: votes[repr((way.counts, way.title >= 0))])
        for several in ways
        if several
    ]


def _channels(one: Shown, row: Row, fields: tuple[tuple[int, int, str], ...]) -> Iterator[Laid]:
    """Where the channel may stand: in the row before or behind the ends, or in a title."""
    first, last = fields[0][0], fields[-1][1]
    free = [
        atom
        for atom in row.atoms
        if atom.kind != "mark" and not any(f[0] < atom.end and atom.start < f[1] for f in fields)
    ]
    near = sorted(free, key=lambda a: first - a.end if a.end <= first else 500 + a.start - last)
    for atom in near:
        keys = counted(atom.text, one.channel)
        if keys is not None:
            yield Laid(one, row, ((atom.start, atom.end, "channel"), *fields), keys)
    for place in range(len(row.titles) - 1, -1, -1):
        for atom in row.titles[place].atoms:
            keys = counted(atom.text, one.channel) if atom.kind != "mark" else None
            if keys is not None:
                yield Laid(one, row, fields, keys, place)
    for atom in near:
        if atom.text.isdecimal() and len(atom.text) < 3:
            keys = {"first": 1 + int(atom.text) - one.channel}
            yield Laid(one, row, ((atom.start, atom.end, "channel"), *fields), keys)


#: In what steps lines are numbered (common practice).
_PACES = (1, 2, 5, 10, 20, 100)


# -- the mode's word ----------------------------------------------------------------------------


def rest(one: Laid) -> dict[int, list[tuple[int, int, str]]]:
    """The words and numbers of a row that are no field, by the field that they stand behind."""
    out: dict[int, list[tuple[int, int, str]]] = defaultdict(list)
    fields = sorted(one.fields)
    for atom in one.row.atoms:
        if atom.kind == "mark" or atom.start >= one.row.note > 0:
            continue
        if any(f[0] < atom.end and atom.start < f[1] for f in fields):
            continue
        behind = sum(f[1] <= atom.start for f in fields)
        out[behind].append((atom.start, atom.end, atom.text))
    return out


def modes_of(examples: Sequence[Laid]) -> dict[int, tuple[int, int]]:
    """The characters of each example's mode in its row, by the example's place."""
    gaps = [rest(one) for one in examples]
    running = _running(examples, gaps)
    bare = [
        {gap: [word for word in words if word[0] not in at] for gap, words in every.items()}
        for every, at in zip(gaps, running, strict=True)
    ]
    # A number that runs on from line to line counts them; it is the mode's where nothing else is.
    return (_modes_in(examples, bare) if any(running) else {}) or _modes_in(examples, gaps)


def _running(
    examples: Sequence[Laid], gaps: Sequence[dict[int, list[tuple[int, int, str]]]]
) -> list[set[int]]:
    """Where numbers of examples stand that grow by one step from each line to the next."""
    out: list[set[int]] = [set() for _ in examples]
    places = {(one.shown.sample, one.row.line) for one in examples}
    if len(places) < 2:
        return out
    for gap in {gap for every in gaps for gap in every}:
        numbers = [
            [(start, int(text)) for start, _, text in every.get(gap, ()) if text.isdecimal()]
            for every in gaps
        ]
        for pace in _PACES:
            steps: dict[int, set[int]] = {}
            for one, mine in zip(examples, numbers, strict=True):
                base = {number - pace * one.row.line for _, number in mine}
                held = steps.get(one.shown.sample)
                steps[one.shown.sample] = base if held is None else held & base
            if all(steps.values()):
                for place, (one, mine) in enumerate(zip(examples, numbers, strict=True)):
                    step = steps[one.shown.sample]
                    out[place] |= {at for at, n in mine if n - pace * one.row.line in step}
    return out


def _modes_in(
    examples: Sequence[Laid], gaps: Sequence[dict[int, list[tuple[int, int, str]]]]
) -> dict[int, tuple[int, int]]:
    """The gap between fields whose words differ as the modes do, in each example."""
    best, score = -1, 0.0
    for gap in range(5):
        said = [tuple(text.lower() for _, _, text in every.get(gap, ())) for every in gaps]
        now = 0.0
        for at, one in enumerate(examples):
            for other in range(at + 1, len(examples)):
                alike = one.shown.mode == examples[other].shown.mode
                if alike:
                    now += 0.5 if said[at] == said[other] else -0.5
                else:
                    now += 1 if said[at] != said[other] and said[at] and said[other] else -1
        wordy = sum(any(re.search(r"[^\W\d]", w) for w in words) for words in said)
        now += 0.1 * wordy if now > 0 or len(examples) == 1 else 0
        if now > score:
            best, score = gap, now
    if best < 0:
        return {}
    return _trimmed(examples, [every.get(best, []) for every in gaps])


def _trimmed(
    examples: Sequence[Laid], words: Sequence[list[tuple[int, int, str]]]
) -> dict[int, tuple[int, int]]:
    """Words of a mode without those that lines of all modes have around it."""
    numbered = all(
        not any(re.search(r"[^\W\d]", text) for _, _, text in every) for every in words if every
    )
    out = {}
    lists = [[text.lower() for _, _, text in every] for every in words]
    filled = [every for every in lists if every]
    several = len({one.shown.mode for one in examples}) > 1
    lead, tail = 0, 0
    if several and len(filled) > 1:
        least = min(len(every) for every in filled)
        while lead < least - 1 and len({every[lead] for every in filled}) == 1:
            lead += 1
        while tail < least - 1 - lead and len({every[-1 - tail] for every in filled}) == 1:
            tail += 1
    joined = _join_words(examples, lists)
    for at, every in enumerate(words):
        mine = list(every[lead : len(every) - tail])
        if joined and examples[at].shown.join == "all":
            while len(mine) > 1 and mine[-1][2].lower() in joined:
                mine.pop()
            while len(mine) > 1 and mine[0][2].lower() in joined:
                mine.pop(0)
        while not numbered and len(mine) > 1 and mine[0][2].isdecimal():
            mine.pop(0)
        while not numbered and len(mine) > 1 and mine[-1][2].isdecimal():
            mine.pop()
        if numbered and len(mine) > 1:
            mine = mine[-1:]
        if mine:
            out[at] = (mine[0][0], mine[-1][1])
    return out


def _join_words(examples: Sequence[Laid], lists: Sequence[list[str]]) -> set[str]:
    """Words of lines that hold together, and of no others."""
    together = [
        set(every) for one, every in zip(examples, lists, strict=True) if one.shown.join == "all"
    ]
    others = [
        set(every) for one, every in zip(examples, lists, strict=True) if one.shown.join != "all"
    ]
    if len(together) < 2 or not others:
        return set()
    return set.intersection(*together) - {word for every in others for word in every}


def all_where(examples: Sequence[Laid], spans: Mapping[int, tuple[int, int]]) -> str:
    """What stands in every line whose ranges must hold together, and in no other."""
    together = [one.row for one in examples if one.shown.join == "all"]
    others = [one.row.text for one in examples if one.shown.join != "all"]
    first = next((at for at, one in enumerate(examples) if one.shown.join == "all"), -1)
    if first < 0:
        return ""
    start, end = spans.get(first, (0, 0))
    found = []
    for atom in examples[first].row.atoms:
        text = atom.text
        if (
            start <= atom.start < end
            or re.search(r"\d", text)
            or (len(text) < 2 and text.isalpha())
        ):
            continue
        shape = re.escape(text)
        pattern = re.compile(rf"(?<![^\W_]){shape}(?![^\W_])" if text.isalnum() else shape)
        if all(pattern.search(row.text) for row in together) and not any(
            pattern.search(other) for other in others
        ):
            found.append(text)
    # A word for `and` first; of others those that are least like a part of the mode's name.
    return min(found, key=lambda text: (text.lower() not in _TOGETHER, text.isalnum()), default="")


#: Words for `and` where two ranges must hold together.
_TOGETHER = frozenset("and all both every each & und alle et tous y ambos en beide a oba".split())


def perhaps_all(rows: Iterable[tuple[str, str]], examples: Sequence[Laid]) -> str:
    """A word for `and` in rows that are read alike, where no example has one."""
    known = {word.lower() for one in examples for word in re.findall(r"[^\W\d_]+|&", one.row.text)}
    for text, mode in rows:
        for match in re.finditer(r"[^\W\d_]+|&", text.replace(mode, " ")):
            if match[0].lower() in _TOGETHER and match[0].lower() not in known:
                return str(match[0])
    return ""


def bars(
    examples: Sequence[tuple[Shown, Row]],
) -> tuple[list[Laid], dict[str, Any]]:
    """Ranges drawn as bars: where each bar stands, and what its marks measure."""
    found: Counter[tuple[str, str, bool, float, float]] = Counter()
    places: list[list[tuple[int, int]]] = []
    for one, row in examples:
        mine = set()
        places.append([])
        for match in re.finditer(r"(\S)\1*(?!\1)(\S)(?:\1|\2)*", row.text):
            if len(match[0]) < 12:
                continue
            places[-1].append(match.span())
            for filled, empty in ((match[1], match[2]), (match[2], match[1])):
                for run in re.finditer(rf"{re.escape(filled)}+", match[0]):
                    for points in (False, True):
                        size = run.end() - run.start() - points
                        if size > 0:
                            scale = (one.high - one.low) / size
                            offset = one.low - scale * run.start()
                            if abs(scale - round(scale)) < 0.02:
                                mine.add((filled, empty, points, round(scale), round(offset)))
        found.update(mine)
    if not found or (best := found.most_common(1)[0])[1] < 2:
        return [], {}
    filled, empty, points, scale, offset = best[0]
    keys: dict[str, Any] = {"filled": filled, "empty": empty, "offset": offset, "scale": scale}
    ways: list[list[Laid]] = []
    for (one, row), every in zip(examples, places, strict=True):
        bar = next((span for span in every if filled in row.text[slice(*span)]), None)
        ways.append(list(_channels(one, row, ((*bar, "bar"),))) if bar else [])
    votes = Counter(key for several in ways for key in {repr(way.counts) for way in several})
    out = [max(several, key=lambda way: votes[repr(way.counts)]) for several in ways if several]
    return out, {**keys, "points": True} if points else keys


def written(
    bench: Bench, examples: Sequence[Laid], spans: Mapping[int, tuple[int, int]]
) -> dict[str, list[str]]:
    """The modes' words as they stand in the examples' lines."""
    out: dict[str, list[str]] = {}
    for at, (start, end) in spans.items():
        text = examples[at].row.text[start:end]
        mode = examples[at].shown.mode
        if text not in out.setdefault(mode, []):
            out[mode].append(text)
    return out


def title_words(one: Laid) -> str:
    """The nearest title with words of its own, which may be the mode."""
    for title in reversed(one.row.titles):
        text = " ".join(a.text for a in title.atoms if a.kind != "mark")
        if title.style != "comment" and re.search(r"[^\W\d]", text):
            return clean(text)
    return ""
