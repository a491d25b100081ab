"""Rows cut into cells, and the columns that rows of one shape share.

Words that all rows of a family have are keys; the cells behind a key are its columns, and cells
without a key count from the left.  A comment above with as many names as there are columns names
them.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row
    from cfglint.teach.families import Line

_CELL = re.compile(
    r"\"[^\"]*\"|(?<![\w.])[+\-\u2212]?\d[\d.]*(?=\s*(?:\.\.|to\b|[\-–~]\d))(?<!\.)"
    r"|[^\s,;=<>()\[\]{}|│:\"]+(?:[|][^\s,;=<>()\[\]{}|│:\"]+)*"
)
_SPAN = re.compile(r"(\d+)(\.\.+|[\-–~/])(\d+)")
FIGURE = re.compile(r"[+\-\u2212]?\d+(?:[.,]\d+)?")
#: In so many rows of a family a word stands that is a key.
_KEYS = 0.8
#: So few rows that begin with one word may be of a family whose rows begin with different ones.
_SINGLE = 2
#: A family has at least so many rows.
LEAST = 3


class Cell(NamedTuple):
    start: int
    end: int
    text: str


class Grid(NamedTuple):
    """Rows of one shape: for each its cells by column; ``names`` are what columns are called."""

    rows: tuple[tuple[Line, dict[str, Cell]], ...]
    names: dict[str, str]
    #: Whether every row that begins so has these columns.
    whole: bool = True

    def column(self, name: str) -> list[str]:
        return [cells[name].text for _, cells in self.rows if name in cells]


def cells_of(text: str, counted: frozenset[str] = frozenset()) -> list[Cell]:
    """The cells of a row; two numbers that a mark joins are two, and so is a word with a number."""
    out: list[Cell] = []
    for match in _CELL.finditer(text):
        token = match.group()
        joined = _SPAN.fullmatch(token)
        if joined is not None:
            out.append(Cell(match.start(), match.start() + joined.end(1), joined[1]))
            out.append(Cell(match.start() + joined.start(3), match.end(), joined[3]))
        elif re.search(r"\w", token) or token in ("-", "--", "."):
            out += _letters_and_number(token, match.start(), counted)
    return out


_LED = re.compile(r"([^\W\d_]{1,8})[_\-.]?(\d{1,2})")


def _counted(group: Sequence[Line]) -> frozenset[str]:
    """Words that stand right before a number in most rows of a family, as `s4` does."""
    counts: Counter[str] = Counter()
    for line in group:
        found = (_LED.fullmatch(cell.text) for cell in cells_of(line.text))
        counts.update({led[1].lower() for led in found if led is not None})
    return frozenset(word for word, count in counts.items() if count >= _KEYS * len(group))


def _letters_and_number(token: str, at: int, counted: frozenset[str]) -> list[Cell]:
    """`s4` counts as a word and its number, `1200us` as a number."""
    led = _LED.fullmatch(token)
    if led is not None and led[1].lower() in counted:
        return [Cell(at, at + led.end(1), led[1]), Cell(at + led.start(2), at + led.end(), led[2])]
    united = re.fullmatch(r"(\d+(?:[.,]\d+)?)(?:us|µs|%)", token)
    if united is not None:
        return [Cell(at, at + united.end(1), united[1])]
    return [Cell(at, at + len(token), token)]


def _keys_of(rows: Sequence[list[Cell]]) -> set[str]:
    """Words that (nearly) all rows have, each at the head or before cells that vary."""
    counts = Counter(
        word
        for row in rows
        for word in {cell.text.lower() for cell in row}
        if re.search(r"[^\W\d_]", word) and not re.match(r"[\d\"]", word)
    )
    common = {word for word, count in counts.items() if count >= _KEYS * len(rows)}
    usual = sorted(len(row) for row in rows)[len(rows) // 2]
    # Where a row that lacks a word is as long as others, another value stands in its place.
    common = {
        word
        for word in common
        if all(len(row) < usual or _at(row, word) < len(row) for row in rows)
    }
    follows: dict[str, set[str]] = defaultdict(set)
    for row in rows:
        for one, two in itertools.pairwise([cell.text.lower() for cell in row]):
            follows[one].add(two)
    out: set[str] = set()
    for word in sorted(common, key=lambda one: min(_at(row, one) for row in rows)):
        # What follows a key and is not always the same is that key's value.
        if not any(word in follows[key] and len(follows[key]) > 1 for key in out):
            out.add(word)
    return out


def _at(row: Sequence[Cell], word: str) -> int:
    return next((n for n, cell in enumerate(row) if cell.text.lower() == word), len(row) + 9)


def _columns(row: Sequence[Cell], keys: set[str], text: str) -> dict[str, Cell]:
    """A row's cells by the key before them and their number behind it; runs of words are one."""
    out: dict[str, Cell] = {}
    key, count = "", 0
    before: Cell | None = None
    for cell in row:
        if cell.text.lower() in keys:
            key, count, before = cell.text.lower(), 0, None
            continue
        if (
            before is not None
            and re.match(r"[^\W\d_]", cell.text)
            and re.search(r"[^\W\d_]$", before.text)
            and re.fullmatch(r" ", text[before.end : cell.start])
        ):
            joined = Cell(before.start, cell.end, text[before.start : cell.end])
            out[f"{key}/{count - 1}"] = before = joined
            continue
        out[f"{key}/{count}"] = before = cell
        count += 1
    return out


def grids(lines: Sequence[Line], rows: Sequence[tuple[int, Row]]) -> list[Grid]:
    """Rows under one title that begin with one word and have the same columns."""
    groups: dict[tuple[str, str], list[Line]] = defaultdict(list)
    for line in lines:
        found = cells_of(line.text)
        if not 2 <= len(found) <= 16:
            continue
        head = re.sub(r"\d.*", "", found[0].text.lower())
        path = "/".join(re.sub(r"\d+", "#", part) for part in line.path)
        groups[path, head].append(line)
    # Rows that begin each with another word are a family by the numbers behind it.
    for (path, _), group in list(groups.items()):
        for line in group if len(group) <= _SINGLE else ():
            texts = [cell.text.lower() for cell in cells_of(line.text)]
            spots = [n for n, text in enumerate(texts) if FIGURE.fullmatch(text)]
            if len(spots) >= 2:
                last = texts[max(1, spots[0] - 2) :]
                shape = " ".join("#" if FIGURE.fullmatch(text) else text for text in last)
                groups[path, f"\0{shape}"].append(line)
    out = []
    for group in groups.values():
        if len(group) < LEAST:
            continue
        counted = _counted(group)
        cut = [(line, cells_of(line.text, counted)) for line in group]
        keys = _keys_of([cells for _, cells in cut])
        made = [(line, _columns(cells, keys, line.text)) for line, cells in cut]
        shapes = Counter(tuple(cells) for _, cells in made)
        usual, count = shapes.most_common(1)[0]
        if len(usual) < 2 or count < 0.5 * len(made):
            continue
        kept = [(line, cells) for line, cells in made if set(usual) <= set(cells)]
        whole = all(set(cells) == set(usual) for _, cells in made)
        out.append(Grid(tuple(kept), _names(kept, usual, rows), whole))
    return out


def _names(
    kept: Sequence[tuple[Line, dict[str, Cell]]],
    usual: Sequence[str],
    rows: Sequence[tuple[int, Row]],
) -> dict[str, str]:
    """What columns are called: their key, or what a comment above the first row names them."""
    names = {column: column.split("/")[0] for column in usual}
    firsts: dict[int, int] = {}
    for line, _ in kept:
        firsts.setdefault(line.sample, line.row.line)
    many = len(usual)
    for sample, row in rows:
        first = firsts.get(sample)
        if first is None or not first - 6 <= row.line < first or not row.comment:
            continue
        bare = row.text.strip(' \t#;/*!~-"(){}<>').split("   ")[0]
        said = re.split(r":[ \t]", bare)[-1]
        for words in (
            [one for one in re.split(r"[\s|]+", said) if one],
            [one.strip() for one in re.split(r",", said)],
            [one for one in re.split(r"[\s|]+", bare) if one][1:],
        ):
            if len(words) == many and many > 1:
                return {
                    column: f"{names[column]} {word}".strip()
                    for column, word in zip(usual, words, strict=True)
                }
    return names


def shared_start(words: Sequence[str]) -> str:
    """The characters that all of the words begin with."""
    lead = ""
    for letters in zip(*words, strict=False):
        if len(set(letters)) > 1:
            break
        lead += letters[0]
    return lead
