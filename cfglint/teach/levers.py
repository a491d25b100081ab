"""Rows that say when a mode is on: a channel, two ends and a word, in whatever order they stand.

Two numbers of a row are pulses and so the ends, or one is a centre and another half of a width;
which of the others is the channel, and which words are the mode's, is decided over all rows.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.families import Expect, Item, Line, _rows_item, template
from cfglint.teach.sense import best, english
from cfglint.teach.switches import first_said
from cfglint.teach.words import ideas_of

if TYPE_CHECKING:
    from collections.abc import Sequence

_NUMBER = (
    r"(?P<word>[^\W\d_]{0,9}(?:(?<=[^\W\d_])[ .#:=_\-\[(]{1,2})?)(?<!\d)"
    r"(?P<n>(?<!\d[MARKS])\d{1,3}|(?<!\d\.)\d{4})(?!\d|[MARKS]\d{1,3}(?!\d))"
)
#: Numbers where a comma is a decimal sign, and where it only divides.
_NUMBERS = {
    True: re.compile(_NUMBER.replace("MARKS", ".,")),
    False: re.compile(_NUMBER.replace("MARKS", ".")),
}
_WORD = re.compile(r"[^\W\d_][\w'’]*(?:[\-_./][^\W_]\w*)*")
_HALF = re.compile(r"±|\+/?-|give or take|\+-")
_WIDTH = re.compile(r"(?i)(?<![^\W_])(?:half|width|span|either|each|reach|wide)(?![^\W_])")
#: Words that join a mode's ranges; a blank or mark divides them from its name.
_JOINS = {
    **dict.fromkeys(
        ("and", "all", "both", "every", "jointly", "together", "&", "und", "must"), "all"
    ),
    **dict.fromkeys(("or", "any", "either", "one", "alone", "oder"), "any"),
}
#: So few rows are no family.
LEAST = 3
#: No channel's number is above it.
MOST = 20


class Figure(NamedTuple):
    """One number of a row, with the word before it."""

    start: int
    end: int
    value: int
    word: str


class Lever(NamedTuple):
    """One row: its ends, the numbers that may be its channel, and its words."""

    line: Line
    kind: str  # "ends" or "half"
    first: Figure
    second: Figure
    others: tuple[Figure, ...]
    runs: tuple[tuple[int, int], ...]

    def text(self, run: tuple[int, int]) -> str:
        return self.line.text[run[0] : run[1]]


class Family(NamedTuple):
    item: Item
    lines: frozenset[tuple[int, int]]
    modes: tuple[str, ...]
    #: Whether the mode stands before what turns it on.
    leads: bool


def _figures(text: str, comma: bool = False) -> list[Figure]:
    return [
        Figure(m.start("n"), m.end("n"), int(m["n"]), m["word"].rstrip(" .#:=_-[(").lower())
        for m in _NUMBERS[comma].finditer(text)
    ]


def _lever(line: Line, comma: bool) -> Lever | None:
    if len(line.text) > 120:
        return None
    found = _figures(line.text, comma)
    pulses = [one for one in found if 650 <= one.value <= 2350]
    others = [one for one in found if one.value < 100]
    if _HALF.search(line.text) and len(pulses) > 1:
        return None  # several centres with half their widths
    if len(pulses) == 2 and pulses[0].value < pulses[1].value and others:
        kind, ends = "ends", pulses
    elif len(pulses) == 1 and others:
        halves = [one for one in found if 20 <= one.value < 650 and one.start > pulses[0].start]
        said = halves and (
            _HALF.search(line.text[pulses[0].end : halves[0].start])
            or _WIDTH.search(line.text[pulses[0].end : halves[0].start])
        )
        if not said or len(halves) != 1:
            return None
        kind, ends = "half", [pulses[0], halves[0]]
    else:
        return None
    if re.search(r"(?i)\d *(?:baud|bd|hz|m[vw])(?![^\W_])", line.text):
        return None
    others = [one for one in others if one not in ends]
    if not any(one.value <= MOST for one in others):
        return None
    return Lever(line, kind, ends[0], ends[1], tuple(others), tuple(_runs(line.text)))


def _runs(text: str) -> list[tuple[int, int]]:
    """Words with nothing but a blank between them, as far as no number touches them."""
    runs: list[tuple[int, int]] = []
    for match in _WORD.finditer(text):
        start, end = match.span()
        while end > start and text[end - 1].isdigit():
            end -= 1
        bare = text[start:end].rstrip("-_./")
        end = start + len(bare)
        if not bare or (end < match.end() and len(bare) <= 3):
            continue
        if runs and re.fullmatch(r"[ ]", text[runs[-1][1] : start]):
            runs[-1] = (runs[-1][0], end)
        else:
            runs.append((start, end))
    return runs


def _home(line: Line) -> tuple[str, ...]:
    return tuple(re.sub(r"\d+", "#", part) for part in line.path)


def _several(line: Line) -> bool:
    """Whether a row has several channels with their ends, and so is read another way."""
    found = _figures(line.text)
    pulses = sum(650 <= one.value <= 2350 for one in found)
    return pulses in (4, 6, 8) and sum(1 <= one.value <= 20 for one in found) == pulses / 2


def _groups(lines: Sequence[Line], comma: bool) -> list[list[Lever]]:
    """Rows under one title with the same numbers in the same order, by the word they begin with."""
    groups: dict[tuple[str, ...], list[Lever]] = defaultdict(list)
    for line in lines:
        lever = _lever(line, comma)
        if lever is not None:
            path = "/".join(re.sub(r"\d+", "#", part) for part in line.path)
            order = "".join(
                "o" if one in lever.others else "p"
                for one in sorted((*lever.others, lever.first, lever.second))
            )
            groups[path, lever.kind, order].append(lever)
    return [group for group in groups.values() if len(group) >= LEAST]


def _channel(group: Sequence[Lever]) -> int | None:
    """Which of the small numbers is the channel; None where none or several may be."""
    many = len(group[0].others)
    open_: list[tuple[float, int]] = []
    for place in range(many):
        figures = [lever.others[place] for lever in group]
        values = [one.value for one in figures]
        if max(values) > MOST:
            continue
        counts = any(ideas_of([one.word]) & {"channel", "aux", "range", "stick"} for one in figures)
        by_sample: dict[int, list[int]] = defaultdict(list)
        for lever in group:
            by_sample[lever.line.sample].append(lever.others[place].value)
        rising = all(
            every == list(range(every[0], every[0] + len(every))) for every in by_sample.values()
        )
        stepped = all(every == sorted(set(every)) for every in by_sample.values())
        worth = 2.0 * counts + (max(values) >= 4) + (len(set(values)) < len(values)) - 2.0 * rising
        if stepped and not counts and place < many - 1:
            worth -= 1
        open_.append((worth, place))
    open_.sort(reverse=True)
    if not open_ or open_[0][0] < 1 or (len(open_) > 1 and open_[1][0] == open_[0][0]):
        return None
    return open_[0][1]


def _keys(group: Sequence[Lever]) -> set[str]:
    """Words that nearly all rows share."""
    counts = Counter(
        word
        for lever in group
        for word in {w for run in lever.runs for w in lever.text(run).lower().split()}
    )
    return {
        word
        for word, count in counts.items()
        if count >= 0.8 * len(group) or (count >= 0.5 * len(group) and best("mode", word)[1] < 0.5)
    } - set(_JOINS)


def _cut(lever: Lever, run: tuple[int, int], keys: set[str]) -> tuple[int, int]:
    """A run without the keys around it, and without the word at its end that joins ranges."""
    words = [(m.start() + run[0], m.end() + run[0]) for m in re.finditer(r"\S+", lever.text(run))]
    if len(words) > 1 and lever.text(words[-1]).lower() in _JOINS:
        words.pop()
    while words and lever.text(words[0]).lower() in keys:
        words.pop(0)
    while words and lever.text(words[-1]).lower() in keys:
        words.pop()
    return (words[0][0], words[-1][1]) if words else (run[0], run[0])


_JOINED = re.compile(rf"(?i)(?<![a-z])((?:all|any|one) ?of|{'|'.join(_JOINS)})(?![a-z])")


def _join(lever: Lever, mode: tuple[int, int]) -> tuple[int, int] | None:
    """Where a row says behind its mode, apart from it, whether all ranges are needed or any."""
    last = max(one.end for one in (lever.first, lever.second, *lever.others))
    found = [
        match.span()
        for match in _JOINED.finditer(lever.line.text, last)
        if match.start() >= mode[1] or match.end() <= mode[0]
    ]
    if not found and mode[1] <= last:
        # In brackets behind a mode that leads: `armed (every lever)`.
        behind = re.match(r"[ \t]*[(\[][^)\]\d]*[)\]]", lever.line.text[mode[1] :])
        stop = mode[1] + behind.end() if behind is not None else mode[1]
        found = [one.span() for one in _JOINED.finditer(lever.line.text, mode[1], stop)]
    return found[-1] if found else None


def _place(lever: Lever, run: tuple[int, int], channel: int) -> str:
    figures = sorted((lever.first, lever.second, lever.others[channel]))
    return (
        "front" if run[1] <= figures[0].start else "back" if run[0] >= figures[-1].end else "midst"
    )


Runs = dict[int, tuple[int, int]]


def _modes(group: Sequence[Lever], channel: int, keys: set[str]) -> tuple[str, Runs]:
    """Where the modes stand, and by row which words they are."""
    by_place: dict[str, dict[int, list[tuple[int, int]]]] = defaultdict(lambda: defaultdict(list))
    for at, lever in enumerate(group):
        for run in lever.runs:
            kept = _cut(lever, run, keys)
            if kept[1] > kept[0] and lever.text(kept).lower() not in _JOINS:
                by_place[_place(lever, run, channel)][at].append(kept)
    likeliest, chosen, most = "", {}, 0.0
    for place, runs in by_place.items():
        picked = {
            at: max(
                every,
                key=lambda one: (best("mode", group[at].text(one))[1], one[1] - one[0]),
            )
            for at, every in runs.items()
        }
        worth = sum(best("mode", group[at].text(run))[1] for at, run in picked.items())
        if worth > most:
            likeliest, chosen, most = place, picked, worth
    if most < 0.35 * len(group) and (coded := _codes(group, channel)):
        return "midst", coded
    return likeliest, chosen


def _codes(group: Sequence[Lever], channel: int) -> Runs:
    """By row the number that a legend explains as a mode, in the same place everywhere."""
    rows = []
    for lever in group:
        used = {one.start for one in (lever.first, lever.second, lever.others[channel])}
        rows.append([one for one in _figures(lever.line.text) if one.start not in used])
    for column in zip(*rows, strict=False):
        texts = [
            lever.line.text[one.start : one.end] for lever, one in zip(group, column, strict=True)
        ]
        if all(best("mode", text)[1] >= 0.5 for text in texts) and len(set(texts)) > 1:
            return {at: (one.start, one.end) for at, one in enumerate(column)}
    return {}


def lever_rows(
    lines: Sequence[Line], zero: frozenset[str], notes: Sequence[str], comma: bool
) -> list[Family]:
    """The families of rows with a mode, a channel and two ends.

    ``zero`` are the words before channels that are counted from 0.
    """
    out: list[Family] = []
    several = {_home(line) for line in lines if _several(line)}
    for group in _groups(lines, comma):
        channel = _channel(group)
        if channel is None:
            continue
        place, modes = _modes(group, channel, _keys(group))
        if place == "front" and _home(group[0].line) in several:
            continue
        texts = {group[at].text(run) for at, run in modes.items()}
        known = [text for text in texts if best("mode", text)[1] >= 0.5]
        if (
            len(texts) < 2
            or len(known) < max(2, 0.35 * len(texts))
            or len(modes) < 0.8 * len(group)
        ):
            continue
        joins = {
            at: join for at, run in modes.items() if (join := _join(group[at], run)) is not None
        }
        counting = _counted([group[at].others[channel] for at in modes], zero, notes)
        out.append(_family(group, modes, joins, channel, place == "front", counting, len(out)))
    return out


def _counted(
    figures: Sequence[Figure], zero: frozenset[str], notes: Sequence[str]
) -> tuple[dict[str, Any], bool]:
    """What channels are counted from, and whether that is sure."""
    words = {one.word for one in figures}
    least = min(one.value for one in figures)
    for word in words:
        if said := first_said(word, notes):
            return {"first": said}, True
    if any(ideas_of([word]) & {"aux"} for word in words if word):
        return {"first": -3}, False  # those behind the four sticks
    if words & zero or (zero and least == 4):
        return {"first": 0}, True
    if least >= 5:
        return {}, True
    # A stick turns nothing on: what is counted are the switches, or channels from 0.
    if words & {"ch", "chan", "channel", "kanal", "canal", "voie"} and least > 0 and least != 4:
        return {}, False
    return {"first": 0 if least == 4 else least - 4}, False


def counted(
    values: Sequence[int], word: str, zero: frozenset[str], notes: Sequence[str]
) -> tuple[dict[str, Any], bool]:
    """What a column of channels is counted from, ``word`` before or above them; whether sure."""
    figures = [Figure(0, 0, value, word.strip().lower()) for value in values]
    counting, sure = _counted(figures, zero, notes)
    if zero and not counting:
        return {"first": 0}, False  # as the text counts channels elsewhere
    return counting, sure


def _family(
    group: Sequence[Lever],
    modes: Runs,
    joins: Runs,
    channel: int,
    leads: bool,
    counted: tuple[dict[str, Any], bool],
    count: int,
) -> Family:
    ends = ("low", "high") if group[0].kind == "ends" else ("centre", "half")
    at, expects, unread = [], [], 0
    words: dict[str, list[str]] = {}
    for place, run in modes.items():
        lever = group[place]
        figure = lever.others[channel]
        spans = [
            (*run, "mode"),
            (figure.start, figure.end, "channel"),
            (lever.first.start, lever.first.end, ends[0]),
            (lever.second.start, lever.second.end, ends[1]),
        ]
        rest = [one for one in lever.others if one is not figure and one.start != run[0]]
        spans += [(one.start, one.end, "_") for one in rest]
        if (join := joins.get(place)) is not None:
            spans.append((*join, "join"))
            said = re.sub(r"(?i) ?of$", "", lever.text(join)).lower()
            side = words.setdefault(_JOINS[said], [])
            side += [lever.text(join)] if lever.text(join) not in side else []
        others = _WORD.findall(f"{lever.line.text[: run[0]]} {lever.line.text[run[1] :]}")
        unread += join is None and any(best("join", english(w))[0] == "all" for w in others)
        at.append(template(lever.line.text, spans))
        expects.append(Expect(lever.line.sample, "range", lever.line.row.line, lever.text(run)))
    counting, sure = counted
    sure = sure and not unread  # a word for `and` that no field reads
    fields: dict[str, Any] = {"channel": counting} if counting else {}
    if words:
        fields["join"] = {
            "words": {side: every[0] if len(every) == 1 else every for side, every in words.items()}
        }
    rows = [group[place] for place in modes]
    # What stands before a row and may say that all of them are needed is not understood.
    heads = {
        lever.line.text[: min(lever.first.start, *run)]
        for lever, run in zip(rows, modes.values(), strict=True)
    }
    words_before = {word.lower() for head in heads for word in re.findall(r"[^\W\d_]+", head)}
    sure = sure and not any(_JOINS.get(english(one).lower()) == "all" for one in words_before)
    more: dict[str, Any] = {"makes": "range", **({} if sure else {"sure": False})}
    if any(lever.line.text.rstrip(" ])}").endswith("&") for lever in rows):
        more["all_where"] = "&"
    item = _rows_item(
        f"levers{count}", rows[0].line.path, at, {}, fields, expects,
        f"{len(modes)} rows with a mode, a channel and {' and '.join(ends)}", **more,
    )  # fmt: skip
    return Family(
        item,
        frozenset((lever.line.sample, lever.line.row.line) for lever in rows),
        tuple(dict.fromkeys(group[place].text(run) for place, run in modes.items())),
        leads,
    )


_COUNT = re.compile(r"([^\W\d_]+)[ .#:_\-\[(]{0,2}(\d{1,2})(?![\d]|\.\d)")


def counted_from_zero(lines: Sequence[Line]) -> frozenset[str]:
    """Words before channels that are counted from 0: rows with `input 0` and its three pulses."""
    seen: dict[str, set[int]] = defaultdict(set)
    for line in lines:
        match = _COUNT.search(line.text)
        pulses = [one for one in _figures(line.text) if 700 <= one.value <= 2300]
        if match is not None and len(pulses) == 3:
            seen[match[1].lower()].add(int(match[2]))
    return frozenset(word for word, found in seen.items() if {0, 1, 2} <= found)


__all__ = ["Family", "counted", "counted_from_zero", "lever_rows"]
