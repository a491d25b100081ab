"""Drawn bars: a mode's ranges as marks in a row, on a scale that notes or a ruler tell."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.families import Expect, Item
from cfglint.teach.saying import saying

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row

#: A bar is so many marks of two kinds.
_LEAST = 20


class Bar(NamedTuple):
    """A row with a bar: where it stands, its channel, the mode's words, what stands behind."""

    sample: int
    row: Row
    span: tuple[int, int]
    channel: tuple[int, int]
    mode: tuple[int, int]
    token: tuple[int, int]


class Drawn(NamedTuple):
    items: list[Item]
    taken: set[tuple[int, int]]
    modes: dict[str, tuple[str, bool]]


def _span(text: str) -> tuple[int, int] | None:
    """The longest run of two kinds of marks in a line."""
    best = (0, 0)
    for match in re.finditer(r"\S+", text):
        run = match.group()
        inner = run.strip("|▕▏[]<>")
        at = match.start() + run.find(inner) if inner else 0
        digits = re.match(r"\d+\|", run)
        if digits:
            inner = run[digits.end() :].strip("|▕▏[]<>")
            at = match.start() + run.find(inner, digits.end())
        if len(inner) >= _LEAST and 2 <= len(set(inner)) <= 2 and len(inner) > best[1] - best[0]:
            best = (at, at + len(inner))
    return best if best[1] else None


def _parts(sample: int, row: Row) -> Bar | None:
    """A row's bar with its channel and mode."""
    text = row.text
    span = _span(text)
    if span is None:
        return None
    numbers = [
        m for m in re.finditer(r"(?<![\w.])\d{1,2}(?![\w.])", text)
        if (m.end() <= span[0] or m.start() >= span[1]) and 1 <= int(m.group()) <= 32
    ]  # fmt: skip
    if len(numbers) != 1:
        return None
    channel = numbers[0].span()
    options = []
    for start, end in ((0, channel[0]), (channel[1], span[0]), (span[1], len(text))):
        piece = text[start:end]
        for match in re.finditer(r"[^\W\d_][^\W\d_]*(?:[ \-'][^\W\d_]+)*|…[^|]*", piece):
            words = match.group()
            if re.fullmatch(r"(?i)ch|chan|channel|kanal|aux|sw|switch|lever", words):
                continue
            options.append((len(words), start + match.start(), start + match.end()))
    token = re.search(r"(?<!\S)[^\w\s|.▏▕]{1,2}(?!\S)|(?<!\S)[A-Z&](?!\S)", _masked(text, span))
    mode = max(options, default=(0, 0, 0))[1:]
    if mode[1] - mode[0] < 2:
        mode = (0, 0)
    place = token.span() if token and not (mode[0] <= token.start() < mode[1]) else (0, 0)
    return Bar(sample, row, span, channel, mode, place)


def _masked(text: str, span: tuple[int, int]) -> str:
    return f"{text[: span[0] - 1]} {' ' * (span[1] - span[0])} {text[span[1] + 1 :]}"


class Scale(NamedTuple):
    offset: float
    step: float
    points: bool


def _scale(notes: Sequence[str], length: int) -> Scale | None:
    """From what and in what steps marks count, as one or two lines beside each other say it."""
    found: list[tuple[int, float, float, str]] = []
    for at in range(len(notes)):
        text = " ".join(notes[at : at + 2])
        bare = re.sub(r"(?<=\d)[ ,](?=\d{3}(?!\d))", "", text)
        values = [float(one) for one in re.findall(r"(?<![\w.])\d+(?:\.\d+)?(?![\w]|\.\d)", bare)]
        if not re.search(r"(?i)\b(?:µs|us|microseconds|wide|apart|step|cell|mark)", text):
            continue
        for offset in values:
            for step in values:
                end = offset + length * step
                if 500 <= offset <= 1150 and 4 <= step <= 90 and 1950 <= end <= 2500:
                    exact = end in values or end - step in values
                    weight = 2 * exact + _told(text, offset, step) - (step == length)
                    found.append((weight, offset, step, text))
    if not found:
        return None
    _, offset, step, text = max(found)
    points = re.search(r"(?i)\b(?:apart|station|point|post)", text) and not re.search(
        r"(?i)\b(?:wide|begins|ends where)", text
    )
    return Scale(offset, step, bool(points))


def _told(text: str, offset: float, step: float) -> int:
    """How plainly a text says that one number is a step and another the first place."""
    width = rf"{step:g} ?(?:us|µs)?[^\d]{{0,12}}(?:apart|wide|long|each|steps?)|= ?{step:g}(?!\d)"
    begin = rf"(?:first|begins?|from|starts?)[^\d]{{0,24}}{offset:g}(?!\d)"
    return 3 * bool(re.search(width, text)) + 3 * bool(re.search(begin, text))


def _whole(value: float) -> float:
    return int(value) if value == int(value) else value


def _template(bar: Bar) -> str:
    """A row's own characters with its fields; without a mode it goes on with the one before."""
    text = bar.row.text
    spans = [(*bar.span, "bar"), (*bar.channel, "channel")]
    if bar.mode[1] and text[bar.mode[0]] != "…":
        spans.append((*bar.mode, "mode"))
    out, at = [], 0
    for start, end, field in sorted(spans):
        out.append(text[at:start].replace("*", "'*'"))
        out.append("{" + field + "}")
        at = end
    out.append(text[at:].replace("*", "'*'"))
    return re.sub(r"[ \t]+", " ", "".join(out)).strip()


def _joined(bars: Sequence[Bar]) -> str:
    """What stands in rows whose ranges all are needed: a sign that only rows of a mode that comes
    twice have, or words for it.
    """
    for bar in bars:
        text = bar.row.text[slice(*bar.mode)]
        if text.startswith("…") and re.search(r"(?i)only if|agrees too|also|and", text):
            return text.strip("… ").split(" this")[0]
    tokens = Counter(bar.row.text[slice(*bar.token)] for bar in bars if bar.token[1])
    for token in tokens:
        if token == "&" or re.search(r"\w|\*", token):
            return token
    return ""


def bar_rows(rows: Sequence[tuple[int, Row]]) -> Drawn:
    """The ranges that bars of one length draw, where something tells their scale."""
    out = Drawn([], set(), {})
    bars = [bar for s, r in rows if not r.comment and (bar := _parts(s, r)) is not None]
    lengths = Counter(bar.span[1] - bar.span[0] for bar in bars)
    if not lengths:
        return out
    length, count = lengths.most_common(1)[0]
    bars = [bar for bar in bars if bar.span[1] - bar.span[0] == length]
    drawn = {(bar.sample, bar.row.line) for bar in bars}
    notes = [r.text for s, r in rows if (s, r.line) not in drawn]
    scale = _scale(notes, length)
    if count < 4 or scale is None:
        return out
    marks = Counter("".join(bar.row.text[slice(*bar.span)] for bar in bars))
    edge = Counter(bar.row.text[bar.span[0]] for bar in bars).most_common(1)[0][0]
    filled = next((mark for mark, _ in marks.most_common()[::-1] if mark != edge), "")
    if len(marks) != 2:
        return out
    codec: dict[str, Any] = {
        "filled": filled, "empty": edge, "offset": _whole(scale.offset), "scale": _whole(scale.step),  # noqa: E501
    }  # fmt: skip
    if scale.points:
        codec["points"] = True
    join = _joined(bars)
    groups: dict[bool, list[Bar]] = defaultdict(list)
    for bar in bars:
        text = bar.row.text[slice(*bar.mode)]
        groups[bool(text) and not text.startswith("…")].append(bar)
    at = [_template(bar) for named in (True, False) for bar in groups[named]]
    expects = []
    for bar in bars:
        runs = len(re.findall(rf"{re.escape(filled)}+", bar.row.text[slice(*bar.span)]))
        expects += [Expect(bar.sample, "range", bar.row.line, "")] * runs
        text = bar.row.text[slice(*bar.mode)]
        if text and not text.startswith("…"):
            word, weight = saying("mode", text)
            out.modes.setdefault(text, (word if weight >= 0.5 else "", weight >= 0.9))
    at = list(dict.fromkeys(at))
    form: dict[str, Any] = {
        "at": at[0] if len(at) == 1 else at, "makes": "range", "characters": True,
        "fields": {"bar": codec}, "sure": False,
    }  # fmt: skip
    if join:
        form["all_where"] = join
    out.items.append(
        Item("bars", "", (form,), tuple(expects), f"{len(bars)} rows with a drawn bar")
    )
    out.taken.update(drawn)
    return out


__all__ = ["bar_rows"]
