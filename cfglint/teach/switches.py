"""Mode ranges and links of samples: rows with a channel and two ends, and what a mode is called.

An *item* is a channel with two ends, or with a centre and half a width; a row may have several.
What stands before the items or behind them, but for words that all the rows share, is the mode.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.dump.atoms import cut
from cfglint.teach.families import Expect, Item, Line, _rows_item, clean, figures, template
from cfglint.teach.measures import Measure, Numbers, likeliest, measures_of
from cfglint.teach.readings import number
from cfglint.teach.sense import best, english, meant, phrase
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.teach.entries import Entry

_N = r"[+\-\u2212]?\d+(?:[.,]\d+)?"
_ITEM = re.compile(
    rf"(?<![\w.,])(?P<prefix>[^\W\d_]{{0,8}}[ .#:]?)(?P<channel>\d{{1,2}})(?![\d.]\d|[.)][ ])(?P<gap>(?=\D)[^\d\w]{{0,12}}?(?:[^\W\d_]{{1,8}}[^\d\w]{{1,6}}?)??)(?<![\d.])"  # noqa: E501
    rf"(?P<low>{_N})(?P<sep>[^\d]{{1,14}}?)(?P<high>{_N})(?![\d.])(?P<unit>[ ]?(?:us|µs|%))?"
)
_HALF = re.compile(r"±|\+/?-|give or take|\+-")
#: Words that say of several ranges that all of them are needed, or any one.
_ALL = re.compile(r"(?i)(?:^|\W)(and|both|all|und|alle|et|with|&)(?:\W|$)")
_EVERY = re.compile(r"(?i)all|both|every|and|jointly|together")
_ANY = re.compile(r"(?i)(?:^|\W)(or|either|any|oder|ou|one)(?:\W|$)|\|")


#: Words before a channel's number, which count channels as they are.
_CHANNEL_WORDS = frozenset("ch chan channel chn kanal canal voie rc k c".split())


class Found(NamedTuple):
    """One row of ranges: its items as they stand, what is before the first and behind the last."""

    line: Line
    items: tuple[re.Match[str], ...]
    before: str
    after: str


class Ranges(NamedTuple):
    items: list[Item]
    taken: set[tuple[int, int]]
    modes: list[str]


#: Letters that notes say are channels: letter → channel.
_LETTERED = re.compile(
    r"(?<![\w])(?P<letter>[A-Za-z])(?:[ ](?:is|=|means))?[ ](?:channel|ch)[ ]?(?P<channel>\d{1,2})(?!\d)"  # noqa: E501
)


def lettered(notes: Sequence[str]) -> dict[str, int]:
    """The channels that letters stand for, from the first to the last that a note names."""
    for text in notes:
        pairs = [(match["letter"], int(match["channel"])) for match in _LETTERED.finditer(text)]
        ends = (
            re.search(r"(?<!\w)([A-Za-z]),? (?:channel|ch) ?(\d{1,2})", text[text.rfind("to ") :])
            if pairs
            else None
        )
        if ends is not None:
            pairs.append((ends[1], int(ends[2])))
        if len(pairs) >= 2 and len({ord(letter) - channel for letter, channel in pairs}) == 1:
            first, last = min(pairs), max(pairs)
            return {
                chr(code): first[1] + code - ord(first[0])
                for code in range(ord(first[0]), ord(last[0]) + 1)
            }
    return {}


def _found(line: Line, letters: dict[str, int]) -> Found | None:
    pattern = _ITEM
    if letters:
        pattern = re.compile(
            _ITEM.pattern.replace(
                r"(?P<channel>\d{1,2})", f"(?P<channel>(?<![^\\W_])[{''.join(letters)}](?!\\w))"
            )
        )
    items = [
        match
        for match in pattern.finditer(line.text)
        if 1 <= _channel(match, letters) <= 32 and not re.search(r"[^\W\d_]{9,}", match["gap"])
    ]
    if not items:
        return None
    first = items[0]
    return Found(
        line, tuple(items), line.text[: first.start("channel")], line.text[items[-1].end() :]
    )


def _channel(item: re.Match[str], letters: dict[str, int]) -> int:
    return letters.get(item["channel"], 0) if letters else int(item["channel"])


@lru_cache(maxsize=8192)
def _words(text: str) -> Sequence[str]:
    return tuple(atom.text.lower() for atom in cut(text) if atom.kind != "mark")


def _shared(rows: Sequence[Sequence[str]], back: bool) -> int:
    """How many words all rows share at their beginning or end."""
    if len(rows) < 2:
        return 0
    turned = [row[::-1] if back else row for row in rows]
    count = 0
    for words in zip(*turned, strict=False):
        if len(set(words)) > 1:
            break
        count += 1
    return count


def _middle(text: str, front: int, behind: int) -> tuple[int, int]:
    """The characters of a text without its first and last so many words."""
    atoms = [atom for atom in cut(text) if atom.kind != "mark"]
    kept = atoms[front : len(atoms) - behind] if behind else atoms[front:]
    return (kept[0].start, kept[-1].end) if kept else (0, 0)


def _skeleton(found: Found) -> tuple[str, str, str]:
    one = found.items[0]
    path = "/".join(re.sub(r"\d+", "#", part) for part in found.line.path[-1:])
    return path, clean(one["gap"]), "±" if _HALF.search(one["sep"]) else "-"


def range_rows(
    lines: Sequence[Line], entries: Sequence[Entry], comma: bool, notes: Sequence[str]
) -> Ranges:
    """All the families of range rows that there are, with the modes they name."""
    letters = lettered(notes)
    groups: Any = defaultdict(list)
    for line in lines:
        found = _found(line, letters)
        if found is not None:
            groups[_skeleton(found)].append(found)
    groups = _by_head(groups)
    out = Ranges([], set(), [])
    _channel_first(lines, entries, comma, notes, out)
    for group in sorted(groups.values(), key=len, reverse=True):
        group = [one for one in group if (one.line.sample, one.line.row.line) not in out.taken]  # noqa: PLW2901
        if not group:
            continue
        _family(group, entries, comma, notes, out, letters)
    return out


_LISTED = re.compile(
    rf"(?P<mode>[^\W\d_][^\d\[\](){{}}]*?)[ \t]*[\[(:]?[ \t]*(?P<low>{_N})(?P<sep>[^\d\w]{{1,8}}?|[ ](?:bis|to|à|a)[ ])(?P<high>{_N})[ ]?(?:us|µs|%)?[\])]?"  # noqa: E501
)


def _channel_first(
    lines: Sequence[Line], entries: Sequence[Entry], comma: bool, notes: Sequence[str], out: Ranges
) -> None:
    """Rows with a channel and then, once or more, a mode with its two ends."""
    groups: dict[str, list[tuple[Line, re.Match[str], list[re.Match[str]]]]] = defaultdict(list)
    for line in lines:
        head = re.match(r"([^\W\d_]+)[ .#\-]?(\d{1,2})(?!\d)\W*", line.text)
        if head is None or not 1 <= int(head[2]) <= 32:
            continue
        items = list(_LISTED.finditer(line.text, head.end()))
        if items:
            groups[head[1].lower()].append((line, head, items))
    for group in groups.values():
        texts = {_bare(item["mode"]) for *_, items in group for item in items}
        if (
            len(group) < 2
            or len(texts) < 2
            or sum(best("mode", text)[1] >= 0.5 for text in texts) < 0.4 * len(texts)
        ):
            continue
        found = [Found(line, tuple(items), "", "") for line, _, items in group]
        scale = _scale(found, entries, comma, notes)
        if scale is None or scale[2] != "ends":
            continue
        expects = [
            Expect(line.sample, "range", line.row.line, item.group())
            for line, _, items in group
            for item in items
        ]
        more: dict[str, Any] = {"makes": "range", "each": "{mode} {low} {high}"}
        if not scale[1]:
            more["sure"] = False
        head = group[0][1]
        out.items.append(
            _rows_item(
                f"ranges{len(out.items)}",
                group[0][0].path,
                [f"{clean(head[1])} {{channel}}"],
                {},
                scale[0],
                expects,
                f"{len(group)} rows with a channel and then modes with their ends",
                **more,
            )
        )
        out.taken.update((line.sample, line.row.line) for line, *_ in group)
        out.modes.extend(sorted(texts - set(out.modes)))


def _bare(text: str) -> str:
    return text.strip(" \t→>-:=,;")


def _head(found: Found) -> str:
    """The first word of a row that is no number."""
    return next((word for word in _words(found.before) if not word.isdigit()), "")


def _by_head(groups: dict[tuple[str, str, str], list[Found]]) -> dict[tuple[str, ...], list[Found]]:
    """Rows that begin with one word several times are a family of their own."""
    out: dict[tuple[str, ...], list[Found]] = defaultdict(list)
    for key, group in groups.items():
        heads = Counter(_head(one) for one in group)
        for one in group:
            head = _head(one)
            out[
                (
                    *key,
                    head
                    if heads[head] > 2
                    and heads[head] >= 0.2 * len(group)
                    and not best("mode", head)[1] >= 0.9
                    else "",
                )
            ].append(one)
    return out


def _family(
    group: list[Found],
    entries: Sequence[Entry],
    comma: bool,
    notes: Sequence[str],
    out: Ranges,
    letters: dict[str, int],
) -> None:
    befores, afters = [_words(one.before) for one in group], [_words(one.after) for one in group]
    numbered = all(row and row[0].isdigit() for row in befores)
    if numbered:
        befores = [row[1:] for row in befores]
    front, behind = _shared(befores, False), _shared(befores, True)
    if len(set(map(tuple, befores))) == 1 and any(afters):
        side = "after"
    else:
        side = "before"
        shortest = min(len(row) for row in befores)
        if front + behind > shortest:
            behind = min(behind, shortest)
            front = max(0, shortest - behind)
    named: list[tuple[Found, int, int, str]] = []
    for one in group:
        if side == "before":
            start, end = _middle(one.before, front + numbered, behind)
            at = 0
        else:
            start, end = _middle(one.after, 0, 0)
            at = one.items[-1].end()
        text = one.line.text[at + start : at + end]
        # What stands behind a mark between name and value is no part of the mode's name.
        if (marked := re.match(r"(.*?[^\W_])[ \t]*(?:[=(]|:(?=[ \t]))", text)) is not None:
            text, end = marked[1], start + marked.end(1)
        if text:
            named.append((one, at + start, at + end, text))
    texts = {text for *_, text in named}
    known = [text for text in texts if best("mode", text)[1] >= 0.5]
    if not known or len(known) < 0.3 * len(texts) or len(named) < 0.7 * len(group):
        return
    scale = _scale(group, entries, comma, notes)
    counts = [
        [_channel(one.items[0], letters) for one in group if one.line.sample == sample]
        for sample in {one.line.sample for one in group}
    ]
    if scale is None or all(count == list(range(1, len(count) + 1)) for count in counts):
        return  # lines that are numbered, not channels
    fields, sure, kind = scale
    if letters:
        fields = {
            **fields,
            "channel": {"words": {str(channel): letter for letter, channel in letters.items()}},
        }
    first = 0 if letters else first_said(group[0].items[0]["prefix"], notes)
    if first:
        fields = {**fields, "channel": {"first": first}}
    elif any(one < 5 for count in counts for one in count):
        # A stick turns nothing on: switches are counted from the channel behind the sticks, or
        # from 0 where the least is channel 4.
        sure = False
        least = min(one for count in counts for one in count)
        if group[0].items[0]["prefix"].strip(" .#:").lower() not in _CHANNEL_WORDS:
            fields = {**fields, "channel": {"first": 0 if least == 4 else least - 4}}
    item = _item(named, side, fields, kind, len(out.items), group, sure)
    if item is None:
        return
    out.items.append(item)
    out.taken.update((one.line.sample, one.line.row.line) for one, *_ in named)
    for *_, text in named:
        if text not in out.modes:
            out.modes.append(text)


def first_said(prefix: str, notes: Sequence[str]) -> int:
    """What switches are counted from where a note says so (`sw0 = channel 5`), 0 for no word of it."""  # noqa: E501
    word = prefix.strip(" .#:").lower()
    for text in notes if word else ():
        behind = re.search(
            rf"(?i)(?<!\w){re.escape(word)}[ ]?(\d+)\s*(?:=|is|means)\s*(?:the )?first .*"
            r"(?:after|behind) the sticks",
            text,
        )
        if behind is not None:
            return int(behind[1]) - 4
        found = re.search(
            rf"(?i)(?<!\w){re.escape(word)}[ ]?(\d+)\s*(?:=|is|means)\s*(?:channel|ch)[ ]?(\d+)",
            text,
        )
        if found is not None and found[1] != found[2]:
            return int(found[1]) + 1 - int(found[2])
    return 0


def _scale(
    group: Sequence[Found], entries: Sequence[Entry], comma: bool, notes: Sequence[str]
) -> tuple[dict[str, Any], bool, str] | None:
    """How ends are written: in µs, as a centre and half a width, in percent or steps of something."""  # noqa: E501

    def value(text: str) -> float:
        return float(text.replace("\u2212", "-").replace(",", "."))

    pairs = [(value(item["low"]), value(item["high"])) for one in group for item in one.items]
    if all("±" in item["sep"] or _HALF.search(item["sep"]) for one in group for item in one.items):
        if all(700 <= a <= 2300 and 5 <= b <= 800 for a, b in pairs):
            return {}, True, "half"
        measure = _measured(pairs, notes, comma, half=True)
        if measure is None:
            return None
        return {"centre": measure.keys(), "half": measure.keys(half=True)}, False, "half"
    if all(650 <= a < b <= 2350 for a, b in pairs):
        return {}, True, "ends"
    if all(700 <= a <= 2300 and 5 <= b <= 800 for a, b in pairs):
        return {}, False, "half"
    if not all(a < b for a, b in pairs):
        return None
    # Of several that fit, the one by which ends reach furthest: switches use all of their travel.
    if (measure := _measured(pairs, notes, comma, half=False)) is not None:
        return {"low": measure.keys(), "high": measure.keys()}, False, "ends"
    named = _named_steps(group, entries, comma)
    if named is not None:
        codec = {"offset": named[0], "scale": named[1]}
        return {"low": codec, "high": codec}, False, "ends"
    return None


def _measured(
    pairs: Sequence[tuple[float, float]], notes: Sequence[str], comma: bool, *, half: bool
) -> Measure | None:
    """The measure that notes tell and by which all pairs are ranges."""
    low, high = (Numbers(tuple(one), 10) for one in zip(*pairs, strict=True))
    return likeliest(low, high, measures_of(tuple(notes), comma)[1:], half=half)


def _named_steps(
    group: Sequence[Found], entries: Sequence[Entry], comma: bool
) -> tuple[str, str] | None:
    """The names of two entries that say in each dump what ends are counted from and in."""
    gap = set(_words(group[0].items[0].groupdict().get("gap", "")))
    values: dict[str, list[float]] = defaultdict(list)
    for entry in entries if gap else ():
        if gap & set(_words(entry.name)) and (one := number(entry.value, comma)) is not None:
            values[clean(entry.name)].append(one.value)
    starts = [name for name, every in values.items() if all(600 <= one <= 1600 for one in every)]
    steps = [name for name, every in values.items() if all(0 < one <= 60 for one in every)]
    return (starts[0], steps[0]) if len(starts) == len(steps) == 1 else None


def _item(
    named: Sequence[tuple[Found, int, int, str]],
    side: str,
    fields: dict[str, Any],
    kind: str,
    count: int,
    group: Sequence[Found],
    sure: bool,
) -> Item | None:
    ends = ("low", "high") if kind == "ends" else ("centre", "half")
    if kind == "half" and fields:
        return None
    several = any(len(one.items) > 1 for one, *_ in named)
    expects = [
        Expect(one.line.sample, "range", one.line.row.line, item.group())
        for one, *_ in named
        for item in one.items
    ]
    more: dict[str, Any] = {"makes": "range"}
    if not sure:
        more["sure"] = False
    if several:
        if side == "after":
            return None
        joined = _all_where([one.line.text for one, *_ in named if len(one.items) > 1])
        if joined:
            more["all_where"] = joined
        texts, wheres = Counter[str](), Counter[str]()
        for one, start, end, _ in named:
            head = template(
                one.line.text[: one.items[0].start("channel")],
                [(start, end, "mode"), *_counter(one.line.text, start)],
            )
            texts[head[: head.index("{mode}") + 6]] += 1
            for item in one.items:
                wheres[_each(item, ends)] += 1
        more["each"] = wheres.most_common(1)[0][0]
        at = list(texts)
    else:
        at = []
        for one, start, end, _ in named:
            item = one.items[0]
            spans = [
                (start, end, "mode"),
                (item.start("channel"), item.end("channel"), "channel"),
                (item.start("low"), item.end("low"), ends[0]),
                (item.start("high"), item.end("high"), ends[1]),
            ]
            spans += _counter(one.line.text, min(start, item.start("channel")))
            joined_at = _join_of(one) if side == "before" else None
            if joined_at is not None:
                spans.append(joined_at)
            at.append(template(one.line.text, spans))
        if any(one.line.text[one.items[-1].end() :].strip().endswith("&") for one, *_ in named):
            more["all_where"] = "&"
        if any("{join}" in text for text in at):
            words: dict[str, str] = {}
            for one, *_ in named:
                spot = _join_of(one)
                if spot is not None:
                    text = one.line.text[spot[0] : spot[1]]
                    words["all" if _EVERY.match(text) else "any"] = text
            fields = {**fields, "join": {"words": words}}
    reason = f"{len(named)} rows with a mode, a channel and " + (
        "two ends" if kind == "ends" else "a centre and half a width"
    )
    return _rows_item(f"ranges{count}", group[0].line.path, at, {}, fields, expects, reason, **more)


def _counter(text: str, before: int) -> list[tuple[int, int, str]]:
    """The number that counts a row, where it begins with one."""
    found = re.match(r"\W*(\d{1,4})(?!\w|\.\d)", text)
    return (
        [(found.start(1), found.end(1), "_")]
        if found is not None and found.end(1) <= before
        else []
    )


def _each(item: re.Match[str], ends: tuple[str, str]) -> str:
    text = item.group()
    base = item.start()
    prefix = item["prefix"].strip(" .#:")
    spans = [
        (item.start("channel") - base, item.end("channel") - base, "channel"),
        (item.start("low") - base, item.end("low") - base, ends[0]),
        (item.start("high") - base, item.end("high") - base, ends[1]),
    ]
    made = template(text[: item.end("high") - base], spans)
    return made if prefix else made[made.index("{") :]


def _all_where(texts: Sequence[str]) -> str:
    """What stands in rows whose ranges all are needed, and in no other."""
    marks = Counter(match[1] for text in texts if (match := _ALL.search(text)))
    for mark, _ in marks.most_common():
        return (
            mark
            if not mark.isalpha()
            else f" {mark} "
            if any(f" {mark} " in text for text in texts)
            else mark
        )
    return ""


def _join_of(found: Found) -> tuple[int, int, str] | None:
    """Where a row says behind its one item whether all or any ranges of its mode are needed."""
    at = found.items[-1].end()
    match = re.search(
        r"(?i)(?<!\w)(all ?of|any ?of|one ?of|all|any|both|either|every|one|jointly|together"
        r"|(?:and|or)(?=\W*$))(?!\w)",
        found.line.text[at:],
    )
    return (at + match.start(), at + match.end(), "join") if match is not None else None


# -- modes by number ---------------------------------------------------------------------------


class Coded(NamedTuple):
    items: list[Item]
    taken: set[tuple[int, int]]
    words: dict[str, str]


def coded_ranges(lines: Sequence[Line], count: int) -> Coded:
    """Rows of numbers alone, one of which is the mode's: what it means stands in their notes."""
    out = Coded([], set(), {})
    groups: dict[tuple[str, str, int], list[tuple[Line, list[Any]]]] = defaultdict(list)
    for line in lines:
        found = figures(line.text)
        head = _words(line.text)[0] if _words(line.text) else ""
        if 4 <= len(found) <= 6 and line.row.note < len(line.row.text):
            groups["/".join(line.path), re.sub(r"\d+", "", head)[:2], len(found)].append(
                (line, found)
            )
    for group in groups.values():
        roles = (
            _columns([[one.value for one in found] for _, found in group])
            if len(group) >= 3
            else {}
        )
        if not roles:
            continue
        votes: dict[str, Counter[str]] = defaultdict(Counter)
        for line, found in group:
            word, weight = phrase(
                "mode",
                english(re.sub(r"\(.*?\)", "", line.row.text[line.row.note :]).strip(" |~#;/")),
            )
            if weight >= 0.5:
                votes[found[roles["mode"]].text][word] += 1
        if len(votes) < 0.4 * len({found[roles["mode"]].text for _, found in group}):
            continue
        out.words.update({text: tally.most_common(1)[0][0] for text, tally in votes.items()})
        hexed = group[0][1][-1].hexed
        at, expects = [], []
        for line, found in group:
            spans = [(found[place].start, found[place].end, role) for role, place in roles.items()]
            spans += [
                (one.start, one.end, "_")
                for place, one in enumerate(found)
                if place not in roles.values()
            ]
            at.append(template(line.text, spans))
            expects.append(Expect(line.sample, "range", line.row.line, line.text))
            out.taken.add((line.sample, line.row.line))
        fields: dict[str, Any] = (
            {role: {"base": 16} for role in (*roles, "_") if role != "mode"} if hexed else {}
        )
        out.items.append(
            _rows_item(
                f"coded{count + len(out.items)}",
                group[0][0].path,
                at,
                {},
                fields,
                expects,
                "rows of numbers, a mode's among them",
                makes="range",
                sure=False,
            )
        )
    return out


def _columns(rows: Sequence[Sequence[float]]) -> dict[str, int]:
    """Which number of each row is the channel, which are the ends, and which is the mode's."""
    roles: dict[str, int] = {}
    pulses = []
    for place, values in enumerate(zip(*rows, strict=True)):
        if all(650 <= value <= 2350 for value in values):
            pulses.append(place)
        elif all(4 <= value <= 18 for value in values) and max(values) >= 5:
            roles.setdefault("channel", place)
        elif all(20 <= value <= 800 for value in values):
            roles["half"] = place
        elif all(0 <= value <= 64 for value in values) and len(set(values)) > 1:
            roles["mode"] = place
    if len(pulses) == 2 and all(row[pulses[0]] < row[pulses[1]] for row in rows):
        roles["low"], roles["high"] = pulses
        roles.pop("half", None)
    elif len(pulses) == 1 and "half" in roles:
        roles["centre"] = pulses[0]
    else:
        return {}
    return roles if {"mode", "channel"} <= set(roles) else {}


# -- links -------------------------------------------------------------------------------------

_TO_SECOND = frozenset(
    "if to follow follows with when while during pendant along by mit zusammen "
    "whenever after comes goes like rides tied same copies mirrors shares uses joins bound "
    "accompanies alongside whilst once si cuando".split()
)
_FOLLOWS = frozenset("follow follows tie link bind join pair couple".split())
#: Words between two modes of which the second is on along with the first.
_BRINGS = frozenset("brings starts triggers turns also makes wakes drags pulls calls sets".split())
_ARROW = re.compile(r"=>|⇒|->|→|▸")


#: So many rows of ranges begin with one word where it is theirs.
_THEIRS = 3


def homes(lines: Iterable[Line]) -> set[str]:
    """Where ranges stand: the titles over them, and the word that several of them begin with."""
    lines = list(lines)
    heads = Counter(_words(line.text)[0] for line in lines if _words(line.text))
    found = {f"under {'/'.join(line.path)}" for line in lines if line.path}
    return found | {head for head, count in heads.items() if count >= min(_THEIRS, len(lines))}


def join_rows(lines: Sequence[Line], modes: Sequence[str], near: set[str]) -> Ranges:
    """Rows that say of a mode whether all of its ranges are needed or any one."""
    out = Ranges([], set(), [])
    groups: dict[str, list[tuple[Line, str]]] = defaultdict(list)
    for line in lines:
        spans = list(_mode_spans(line.text, modes, False))
        if len(spans) != 1:
            continue
        rest = [
            a
            for a in cut(line.text)
            if a.kind == "word" and not spans[0][0] <= a.start < spans[0][1]
        ]
        joins = [a for a in rest if best("join", a.text)[1] >= 0.9]
        if len(joins) != 1 or len(rest) > 5 or re.search(r"\d", line.text):
            continue
        of_ranges = any(
            idea == "range" for a in rest for word in split(a.text) for idea, _ in ideas(word)
        )
        if not (near & homes([line]) or of_ranges):
            continue
        at = template(line.text, [(*spans[0], "mode"), (joins[0].start, joins[0].end, "join")])
        groups[at].append((line, joins[0].text))
    for at, found in groups.items():
        words = {best("join", text)[0]: text for _, text in found}
        expects = [Expect(line.sample, "join", line.row.line, text) for line, text in found]
        out.items.append(
            _rows_item(
                f"joins{len(out.items)}",
                found[0][0].path,
                [at],
                {},
                {"join": {"words": words}},
                expects,
                "rows that say whether all ranges of a mode are needed",
                makes="join",
            )
        )
        out.taken.update((line.sample, line.row.line) for line, _ in found)
    return out


def link_rows(
    lines: Sequence[Line], taken: set[tuple[int, int]], modes: Sequence[str], near: set[str]
) -> Ranges:
    """Rows that name two modes and no ends: one is on along with the other."""
    out = Ranges([], set(), [])
    rows: list[tuple[Line, tuple[int, int], tuple[int, int], bool]] = []
    for line in lines:
        if (
            (line.sample, line.row.line) in taken
            or len(line.text) > 90
            or re.search(r"\d{3}", line.text)
        ):
            continue
        linked = _linked(line, modes, bool(near & homes([line])))
        if linked is not None:
            rows.append(linked)
    groups: dict[tuple[str, bool], list[Any]] = defaultdict(list)
    for line, mode, follows, sure in rows:
        at = template(
            line.text,
            [
                (*mode, "mode"),
                (*follows, "follows"),
                *_counter(line.text, min(mode[0], follows[0])),
            ],
        )
        groups[at, sure].append((line, mode, follows))
    for (at, sure), found in groups.items():
        expects = [Expect(line.sample, "link", line.row.line, line.text) for line, *_ in found]
        more: dict[str, Any] = {"makes": "link"}
        if not sure:
            more["sure"] = False
        out.items.append(
            _rows_item(
                f"links{len(out.items)}",
                found[0][0].path,
                [at],
                {},
                {},
                expects,
                "rows that name two modes",
                **more,
            )
        )
        for line, *spans in found:
            out.taken.add((line.sample, line.row.line))
            for start, end in spans:
                if line.text[start:end] not in out.modes:
                    out.modes.append(line.text[start:end])
    return out


def _linked(
    line: Line, modes: Sequence[str], near: bool
) -> tuple[Line, tuple[int, int], tuple[int, int], bool] | None:
    """The two modes that a row names, the dependent one first, and whether a word says which."""
    text = line.text
    joined = {one.lower() for one in re.findall(r"[^\W\d_]+", text)} & (
        _FOLLOWS | _BRINGS | {"with", "along", "rides", "copies", "mirrors", "shares", "joins"}
    )
    told = bool(joined) and not re.search(r"\d", text) and len(text.split()) <= 6
    spans = _mode_spans(text, modes, near or told)
    if not near and not {text[a:b].lower() for a, b in spans} & {one.lower() for one in modes}:
        return None
    if len(spans) != 2:
        return None
    first, second = spans
    meant_by = [best("mode", text[start:end])[0] for start, end in spans]
    if meant_by[0] == meant_by[1] != "":
        return None  # a mode does not follow itself
    words = [atom for atom in cut(text) if atom.kind == "word"]
    rest = [a for a in words if not any(start <= a.start < end for start, end in spans)]
    if rest and rest[-1] is words[-1] and rest[-1].text.lower() in ("on", "off", "yes", "no"):
        return None
    between = text[first[1] : second[0]]
    joints = {a.text.lower() for a in rest if first[1] <= a.start < second[0]}
    if joints & _TO_SECOND or re.search(r":=|<-|←|<=", between):
        return line, first, second, True
    before = {a.text.lower() for a in rest if a.end <= first[0]}
    if before & _FOLLOWS:
        return line, first, second, True
    if before & _TO_SECOND or _ARROW.search(between):
        return line, second, first, True
    if _ARROW.search(text):
        return line, second, first, True
    if joints & _BRINGS:
        return line, second, first, False
    known = {text[start:end].lower() for start, end in spans} & {one.lower() for one in modes}
    if not re.search(r"\d", text) and known and len(rest) <= (2 if near else 1):
        return line, first, second, False
    return None


def _mode_spans(text: str, modes: Sequence[str], near: bool) -> list[tuple[int, int]]:
    """Where modes stand in a text: those known from ranges first, else what the trade calls one."""
    found: list[tuple[int, int]] = []

    def free(start: int, end: int) -> bool:
        return all(end <= a or start >= b for a, b in found)

    for mode in sorted(modes, key=len, reverse=True):
        for match in re.finditer(rf"(?<![^\W_]){re.escape(mode)}(?![^\W_])", text, re.I):
            if free(match.start(), match.end()):
                found.append((match.start(), match.end()))  # noqa: PERF401
    if len(found) < 2 and near:
        atoms = [a for a in cut(text) if a.kind == "word" and free(a.start, a.end)]
        runs: list[list[Any]] = []
        for atom in atoms:
            if runs and re.fullmatch(r"[ \-_.]?", text[runs[-1][-1].end : atom.start]):
                runs[-1].append(atom)
            else:
                runs.append([atom])
        options = [
            (best("mode", text[run[i].start : run[j].end])[1], j - i, run[i].start, run[j].end)
            for run in runs
            for i in range(len(run))
            for j in range(i, len(run))
        ]
        for weight, _, start, end in sorted(options, key=lambda one: (-one[0], -one[1])):
            if weight >= 0.6 and free(start, end) and len(found) < 2:
                found.append((start, end))
    return sorted(found)


def words_of_modes(texts: Sequence[str]) -> tuple[dict[str, str | list[str]], list[str], list[str]]:
    """``[modes]``: neutral → written, what of it is guessed, and words without a neutral meaning.

    What may mean two modes means the one that no other word here does, as a guess.
    """
    chosen: dict[str, list[tuple[float, str]]] = defaultdict(list)
    open_: list[str] = []
    for text in texts:
        word, weight = best("mode", text)
        if word and weight >= 0.5:
            chosen[word].append((weight, text))
        else:
            open_.append(text)
    words: dict[str, str | list[str]] = {}
    unsure: list[str] = []
    for word, rows in chosen.items():
        rows.sort(key=lambda row: -row[0])
        kept = [
            text
            for weight, text in rows
            if weight >= rows[0][0] - 0.05 or 0.9 <= weight >= rows[0][0] - 0.15
        ]
        open_ += [text for _, text in rows if text not in kept]
        words[word] = kept[0] if len(kept) == 1 else kept
        if rows[0][0] < 0.9 or (
            len(kept) > 1 and any(weight < 1.1 for weight, text in rows if text in kept)
        ):
            unsure.append(word)
    own: list[str] = []
    for text in open_:
        left = [one for one in meant("mode", text) if one.word not in words and one.weight >= 0.5]
        if left and (len(left) == 1 or left[0].weight > left[1].weight):
            words[left[0].word] = text
            unsure.append(left[0].word)
        else:
            own.append(text)
    return words, unsure, own
