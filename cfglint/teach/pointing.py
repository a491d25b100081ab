"""Addresses by example: where a person points at a value, the ways to say where it stands.

From the row, its titles and the header above come candidates, the closest to the row first: the
words before the value, the whole line with the value in it, the column it stands in, its place
among cells.  Which of them holds is for trials on all samples to say.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.dump.atoms import cut
from cfglint.dump.cells import divide, divider, single, under
from cfglint.teach.families import clean
from cfglint.teach.readings import is_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.dump.atoms import Atom
    from cfglint.dump.cells import Cell
    from cfglint.dump.layout import Row

#: A header stands no further above its table's rows, and of that many lines.
HEADER_ABOVE = 24
#: Channels of the sticks, which come first (common practice).
STICKS = 4
_CARDINAL = "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen".split()  # noqa: E501
_ORDINAL = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth fourteenth fifteenth sixteenth".split()  # noqa: E501
_ROMAN = "i ii iii iv v vi vii viii ix x xi xii xiii xiv xv xvi".split()
_LETTERS = [chr(ord("a") + at) for at in range(26)]


class Pointed(NamedTuple):
    """One value that a person points at: its characters in a row, the number that counts it."""

    row: Row
    at: int
    start: int
    end: int
    number: int = 0


class Way(NamedTuple):
    """One way to say where a value stands: keys of an entry, and of its counting field.

    ``rows`` says that it is an entry of ``[[rows]]`` with the field ``value``.
    """

    keys: dict[str, Any]
    counts: dict[str, Any]
    rows: bool = False

    @property
    def name(self) -> str:
        return repr((sorted(self.keys.items(), key=str), sorted(self.counts.items(), key=str)))


def counted(text: str, number: int) -> dict[str, Any] | None:
    """How a word or number counts: the keys of a counting field; None where it does not."""
    if text.isdecimal():
        if int(text) == number:
            return {}
        return {"first": 0} if int(text) == number - 1 else None
    low = text.lower()
    for names in (_CARDINAL, _ORDINAL, _ROMAN, _LETTERS):
        if number <= len(names) and low == names[number - 1]:
            shown = [one.upper() if text.isupper() else one for one in names]
            return {"words": {str(at + 1): one for at, one in enumerate(shown[:16])}}
    behind = number - STICKS
    if 0 < behind <= 12 and low == _LETTERS[behind - 1]:
        # Channels behind those of the sticks may be counted by themselves.
        every = [one.upper() if text.isupper() else one for one in _LETTERS[:12]]
        return {"words": {str(at + 1 + STICKS): one for at, one in enumerate(every)}}
    if number <= 26 and len(text) == 2 and text[1].lower() == _LETTERS[number - 1]:
        same = [one.upper() if text[1].isupper() else one for one in _LETTERS[:16]]
        return {"words": {str(at + 1): text[0] + one for at, one in enumerate(same)}}
    return None


class _Count(NamedTuple):
    """Where the number that counts stands: in a title (its place) or in the row (``-1``)."""

    title: int
    start: int
    end: int
    keys: dict[str, Any]


def _counts(one: Pointed) -> Iterator[_Count]:
    """Where a row or its titles say the number, the nearest before the value first."""
    if not one.number:
        yield _Count(-1, -1, -1, {})
        return
    found = []
    for atom in one.row.atoms:
        if atom.kind != "mark" and (atom.end <= one.start or atom.start >= one.end):
            keys = counted(atom.text, one.number)
            if keys is not None:
                near = one.start - atom.end if atom.end <= one.start else 500 + atom.start
                found.append((len(keys) * 100 + near, _Count(-1, atom.start, atom.end, keys)))
    yield from (count for _, count in sorted(found, key=lambda pair: pair[0])[:4])
    for place in range(len(one.row.titles) - 1, -1, -1):
        title = one.row.titles[place]
        if title.style == "comment":
            continue
        for atom in title.atoms:
            keys = counted(atom.text, one.number) if atom.kind != "mark" else None
            if keys is not None:
                yield _Count(place, atom.start, atom.end, keys)


def token(atom: Atom) -> str:
    """An atom as a literal of an address."""
    return clean(atom.text)


def tokens_of(atoms: Sequence[Atom], fields: Sequence[tuple[int, int, str]]) -> list[str]:
    """Atoms as pieces of an address, with fields in place of those that they cover."""
    out: list[str] = []
    done = set()
    for atom in atoms:
        field = next((f for f in fields if f[0] < atom.end and atom.start < f[1]), None)
        if field is not None:
            if field not in done:
                done.add(field)
                out.append(field[2])
        elif atom.kind != "mark" and token(atom):
            out.append(token(atom))
    return out


def stars(tokens: Sequence[str], words: bool = False) -> list[str]:
    """Tokens with anything in place of numbers (and of ``words``), runs of those as one."""
    out: list[str] = []
    for one in tokens:
        loose = one != "*" and not one.startswith("{") and (words or bool(re.search(r"\d", one)))
        piece = "*" if loose else one
        if piece != "*" or out[-1:] != ["*"]:
            out.append(piece)
    return out


def titles(row: Row, count: _Count | None) -> list[str]:
    """The titles over a row as the first steps of an address, those to try first first."""
    steps: list[str] = []
    needed = -1
    for place, title in enumerate(row.titles):
        if title.style == "comment":
            continue
        fields = []
        if count is not None and count.title == place:
            fields, needed = [(count.start, count.end, "{N}")], len(steps)
        text = " ".join(tokens_of(title.atoms, fields))
        if text and title.line != row.line:
            steps.append(text)
        elif needed == len(steps):
            needed = -1
    out = []
    if needed >= 0:
        out = [" > ".join(steps[needed:]), " > ".join(steps), steps[needed]]
        # What else such a title says may be another from number to number.
        head, _, tail = steps[needed].partition("{N}")
        if tail.strip():
            loose = [*steps[:needed], head + "{N} *", *steps[needed + 1 :]]
            out += [" > ".join(loose[needed:]), " > ".join(loose), loose[needed]]
    elif count is None or count.title < 0:
        out = ["", *(steps[-1:]), " > ".join(steps), *steps[:-1]]
    return [f"{one} > " if one else "" for one in dict.fromkeys(out)]


def ways(one: Pointed, rows: Sequence[Row]) -> list[Way]:
    """All ways to say where a value stands, those closest to its row first."""
    out: dict[str, Way] = {}
    for count in _counts(one):
        for way in (
            *_phrases(one, count),
            *_columns(one, count, rows),
            *_lines(one, count),
            *_items(one, count),
            *_cells(one, count),
        ):
            out.setdefault(way.name, way)
    for way in _places(one, rows):
        out.setdefault(way.name, way)
    return list(out.values())


def _around(one: Pointed, count: _Count) -> tuple[list[str], list[str]]:
    """The tokens before and behind the value in its row."""
    fields = [(count.start, count.end, "{N}")] if count.title < 0 <= count.start else []
    before = [atom for atom in one.row.atoms if atom.end <= one.start]
    after = [atom for atom in one.row.atoms if atom.start >= one.end]
    behind = tokens_of(after, fields)
    if behind and (is_unit(behind[0]) and one.row.text[one.end - 1].isdigit()):
        behind = behind[1:]
    return tokens_of(before, fields), behind


def _phrases(one: Pointed, count: _Count) -> Iterator[Way]:
    """The words before the value, all of them or the last."""
    before, _ = _around(one, count)
    if not before:
        return
    tails = [before]
    if any(re.search(r"\d", part) for part in before[:-1]):
        tails.append(stars(before))
        last = max(at for at, part in enumerate(before) if re.search(r"\d", part))
        if last + 1 < len(before):
            tails.append(before[last + 1 :])
    tails += [before[-many:] for many in (4, 3, 2, 1) if many < len(before)]
    if len(before) > 2:
        tails.append([before[0], "*", before[-1]])
        tails.append([*before[:2], "*", before[-1]])
    for tail in tails:
        if (count.start >= 0 and count.title < 0) and "{N}" not in tail:
            continue
        if tail[0] == "*" or not re.search(r"[^\W\d]", re.sub(r"\{N\}", "", " ".join(tail))):
            continue
        for title in titles(one.row, count):
            yield Way({"at": title + " ".join(tail)}, count.keys)


def _lines(one: Pointed, count: _Count) -> Iterator[Way]:
    """The whole line with the value in it."""
    before, after = _around(one, count)
    forms = [
        [*before, "{value}", *after],
        [*before, "{value}", "*"],
        [*stars(before), "{value}", *stars(after)],
        [*stars(before), "{value}", "*"],
        [*stars(before), "{value}", *after[:1], "*"],
        [*before[:1], "*", *before[-1:], "{value}", *after[:1], "*"],
        ["*", *before[-2:], "{value}", *after[:2], "*"],
    ]
    if before and re.search(r"\d", before[0]):
        # A line's own number says nothing.
        forms += [["*", *form[1:]] for form in forms[:4] if form[0] == before[0]]
    for form in forms if before or after or count.title >= 0 else ():
        for title in titles(one.row, count):
            if count.start >= 0 and count.title < 0 and "{N}" not in form:
                continue
            yield Way({"at": title + " ".join(once(form))}, count.keys)


def once(form: Sequence[str]) -> list[str]:
    out: list[str] = []
    for part in form:
        if part != "*" or out[-1:] != ["*"]:
            out.append(part)
    return out


def _divided(row: Row, mark: str | None = None) -> tuple[str, list[Cell]]:
    """A row's cells, by its mark or by wide gaps."""
    start, end = row.atoms[0].start, min(row.note, row.atoms[-1].end)
    if mark is None:
        mark = divider(row.text, start, end)
    head = row.text[:start].rstrip()
    outer = len(head) - 1 if mark.strip() and head.endswith(mark) else start
    return mark, divide(row.text, outer, end, mark)


def _head(one: Pointed, cells: Sequence[Cell]) -> str:
    """What a row's first cell says, unless the value stands in it."""
    if not cells or cells[0].end > one.start:
        return ""
    return one.row.text[cells[0].start : cells[0].end]


def _columns(one: Pointed, count: _Count, rows: Sequence[Row]) -> Iterator[Way]:
    """The column that the value stands in, by the words of a header above."""
    for head, text, label in _heads(one, rows):
        fields = []
        column = text
        if one.number:
            # Either the row is counted, or the columns are.
            for atom in cut(text):
                keys = counted(atom.text, one.number) if atom.kind != "mark" else None
                if keys is not None and label:
                    column = " ".join(tokens_of(cut(text), [(atom.start, atom.end, "{N}")]))
                    for title in titles(one.row, None):
                        yield Way({"at": title + clean(label), "column": column}, keys)
                        yield Way(
                            {"at": title + clean(label), "column": column, "header": head}, keys
                        )
            if count.start < 0:
                continue
            fields = [(count.start, count.end, "{N}")] if count.title < 0 else []
        column = " ".join(tokens_of(cut(text), []))
        if not column or (one.number and not fields and count.title < 0):
            continue
        first = [atom for atom in one.row.atoms if atom.end <= one.start]
        lead = " ".join(tokens_of(first, fields)) if fields else clean(label)
        if fields:
            parts = lead.split()
            lead = " ".join(parts[: parts.index("{N}") + 1]) if "{N}" in parts else ""
        for title in titles(one.row, count) if lead else ():
            yield Way({"at": title + lead, "column": column}, count.keys)
            yield Way({"at": title + lead, "column": column, "header": head}, count.keys)


def _heads(one: Pointed, rows: Sequence[Row]) -> Iterator[tuple[str, str, str]]:
    """Lines above that may be a header: their first words, what stands over the value, the
    row's own first cell."""
    for at in range(one.at - 1, max(-1, one.at - HEADER_ABOVE), -1):
        head = rows[at]
        words = [atom for atom in head.atoms if atom.kind != "mark"]
        if len(words) < 2 or head.line >= one.row.line or _figures(head) > _figures(one.row):
            continue
        start, end = head.atoms[0].start, head.atoms[-1].end
        mark = divider(head.text, start, end)
        if mark not in (own := _divided(one.row)[0], "") and own:
            continue
        _, over = _divided(head, mark)
        _, cells = _divided(one.row, mark)
        found: list[Cell | None] = (
            list(cells) if mark or len(cells) == len(over) else under(over, cells)
        )
        ways_ = [(over, found)]
        if not mark:
            tight, close = (
                single(head.text, start, end),
                single(one.row.text, one.row.atoms[0].start, one.row.atoms[-1].end),
            )
            if len(tight) == len(close):
                ways_.append((tight, list(close)))
        for heads, below in ways_:
            said = [re.search(r"\w", head.text[cell.start : cell.end]) for cell in heads]
            if (len(heads) == 2 and mark.strip(_BARS)) or (len(heads) == 3 and not said[1]):
                continue  # a name and its value
            for above, cell in zip(heads, below, strict=False):
                if cell is not None and cell.start <= one.start and one.end <= cell.end:
                    text = head.text[above.start : above.end]
                    first = " ".join(tokens_of(words[:2], []))
                    if _names(text, one.number):
                        yield first, text, _head(one, [c for c in below if c is not None])


#: What divides the columns of tables, where other marks stand between a name and its value.
_BARS = " \t|│┃║¦;,"


def _figures(row: Row) -> int:
    return sum(atom.kind == "number" for atom in row.atoms)


def _names(text: str, number: int) -> bool:
    """Whether a cell may be the head of a column: words, or what counts."""
    words = [atom for atom in cut(text) if atom.kind != "mark"]
    if number and any(counted(atom.text, number) is not None for atom in words):
        return True
    return any(atom.kind == "word" for atom in words) and not any(
        len(atom.text) > 2 or "0" in atom.text for atom in words if atom.kind == "number"
    )


def _items(one: Pointed, count: _Count) -> Iterator[Way]:
    """One of several items in a row that are alike: the item's form, repeated."""
    if count.start < 0 or count.title >= 0:
        return
    low, high = min(count.start, one.start), max(count.end, one.end)
    text = one.row.text
    for mark in (";", ",", "|", "/", "  ", " "):
        begin = text.rfind(mark, 0, low)
        begin = begin + len(mark) if begin >= one.row.atoms[0].start else one.row.atoms[0].start
        stop = text.find(mark, high)
        stop = stop if 0 <= stop < one.row.note else one.row.note
        if mark in text[low:high].strip() and mark.strip():
            continue
        inside = [a for a in one.row.atoms if begin <= a.start and a.end <= stop]
        fields = [(count.start, count.end, "{N}"), (one.start, one.end, "{value}")]
        form = [
            "{_}" if not part.startswith("{") and re.search(r"\d", part) else part
            for part in tokens_of(inside, fields)
        ]
        lead = [a for a in one.row.atoms if a.end <= begin and a.kind != "mark"]
        heads = [""] if not lead else [token(lead[0]), *([""] if titles(one.row, None)[1:] else [])]
        for title in titles(one.row, None):
            for head in heads:
                at = (title + head).removesuffix(" > ")
                if at:
                    yield Way({"at": at, "each": " ".join(form)}, count.keys, rows=True)


def _cells(one: Pointed, count: _Count) -> Iterator[Way]:
    """The value's place among the cells of its row, the others of which may hold anything."""
    fields = [(one.start, one.end, "{value}")]
    if one.number and count.title < 0:
        fields.append((count.start, count.end, "{N}"))
    form = [
        part if part.startswith("{") else "{_}" if at or re.search(r"\d", part) else part
        for at, part in enumerate(tokens_of(one.row.atoms, fields))
    ]
    # What has several words is one cell.
    _, cells = _divided(one.row)
    if len(cells) > 2:
        form = []
        for cell in cells:
            inside = [a for a in one.row.atoms if cell.start <= a.start and a.end <= cell.end]
            held = [f for f in fields if cell.start <= f[0] and f[1] <= cell.end]
            form += tokens_of(inside, fields) if held else ["{_}"] if inside else []
    if len(form) > 1 and not all(part == "{_}" for part in form if part != "{value}"):
        for title in titles(one.row, count):
            yield Way({"at": title + " ".join(form)}, count.keys)


def _places(one: Pointed, rows: Sequence[Row]) -> Iterator[Way]:
    """A row of values that are counted by their place."""
    if not one.number:
        return
    _, cells = _divided(one.row)
    tight = single(one.row.text, one.row.atoms[0].start, one.row.atoms[-1].end)
    for every in (cells, tight):
        mine = next((at for at, c in enumerate(every) if c.start <= one.start < c.end), -1)
        first = mine - one.number + 1
        if first < 0 or mine < 0:
            continue
        lead = [a for a in one.row.atoms if a.end <= every[first].start and a.kind != "mark"]
        for title in titles(one.row, None):
            at = (title + " ".join(token(a) for a in lead)).removesuffix(" > ")
            if at:
                yield Way({"at": at, "each": True}, {})
