"""Rows under a list of what their cells are: `ports (number, job, baud)`.

The list stands in the title, in a comment above, or in the note behind the first row.  Such rows
are a table whose header is no line of its own: their cells count by their place.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dump.cells import Cell, divide, divider, single
from cfglint.teach.entries import Entry, titles_of
from cfglint.teach.families import template
from cfglint.teach.sense import english
from cfglint.teach.tables import Table
from cfglint.teach.words import ideas_of, split

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.dump.layout import Row

#: A list has at least so many names, each of at most so many words.
LEAST, WORDS = 3, 3
#: So many cells may stand before those that a list names: an address, and what counts the row.
LEADS = 2
_DIVIDERS = tuple(re.compile(rf"[ \t]*{mark}[ \t]*") for mark in (",", "/", "·", "⋯", "…", r"\|"))
_LEAD = re.compile(r"(?P<word>[^\W\d_]*(?:[.\-_#][^\W\d_]*)?[.\-_#]?)(?P<count>\d{1,2}|[A-Z])")
_ADDRESS = re.compile(r"(?:0x|\$|&)?[0-9A-Fa-f]{2,8}h?:?")
#: A cell that holds several: two numbers, or a name and a value.
_SEVERAL = re.compile(r"(?<!\S)\S*\d\S* \S*\d|\w[:=][ \t]*\w")
_UNIT = re.compile(r"(?i)(?:in )?(?:us|µs|μs|hex|decimal)")


#: What a cell may be called: words, and at most what its numbers are multiplied by.
_NAME = re.compile(r"(?:[^\W\d_][^\d=<>\[\]{}]*|1[ -]?w[^\d=]*)(?:[x×*/]? ?10+[^\d=]*)?")


class Block(NamedTuple):
    """Rows of as many cells under one list of names."""

    sample: int
    path: tuple[str, ...]
    names: tuple[str, ...]
    rows: tuple[tuple[Row, tuple[Cell, ...]], ...]
    #: How many cells stand before those that the list names.
    leads: int

    def lines(self) -> set[tuple[int, int]]:
        return {(self.sample, row.line) for row, _ in self.rows}


def names_of(text: str) -> Iterator[tuple[str, ...]]:
    """The lists of names that a text may hold: in brackets, behind a colon, or all of it."""
    bare = text.strip(" \t#;~!*/=-|>'\"%")
    inside = [bare[m.start() + 1 : m.end() - 1] for m in re.finditer(r"\([^()]*\)", bare)]
    flat = re.sub(r"\([^()]*\)", lambda m: m.group().replace(",", " "), bare)
    behind = [flat[m.end() :] for m in re.finditer(r"[:;(][ \t]+|[ \t]{2,}[;(*]*", flat)]
    for part in (*inside, *behind, flat, re.sub(r"^[^,]* (?=[^ ,]+,)", "", flat)):
        every = max((mark.split(part) for mark in _DIVIDERS), key=len)
        pieces = [re.sub(r":.*|\([^()]*\)", "", one).strip(" \t()*.") for one in every]
        while len(pieces) > LEAST and _UNIT.fullmatch(pieces[-1]):
            pieces.pop()
        if len(pieces) < LEAST:
            pieces = re.split(r"[ \t]{2,}", part.strip(" \t()*")) if part is flat else []
        if (
            len(pieces) >= LEAST
            and all(len(piece.split()) <= WORDS and _NAME.fullmatch(piece) for piece in pieces)
            and sum(bool(ideas_of(split(english(piece)))) for piece in pieces) >= 0.5 * len(pieces)
        ):
            yield tuple(pieces)


def _cells(row: Row) -> list[list[Cell]]:
    """The ways to divide a row."""
    start, end = row.atoms[0].start, min(row.atoms[-1].end, row.note)
    mark = divider(row.text, start, end)
    if mark:
        return [divide(row.text, start, end, mark)]
    return [divide(row.text, start, end, ""), single(row.text, start, end)]


def blocks_of(rows: Sequence[tuple[int, Row]]) -> list[Block]:
    """Rows of all samples whose cells a list names."""
    titles = {(sample, title.line) for sample, row in rows for title in row.titles}
    texts = {
        (sample, row.line): row.text
        for sample, row in rows
        if row.comment or row.heading or (sample, row.line) in titles
    }
    runs: dict[tuple[int, int], list[Row]] = defaultdict(list)
    last: tuple[int, int, tuple[str, ...]] | None = None
    head = (0, 0)
    for sample, row in rows:
        if (sample, row.line) in texts or not any(atom.kind != "mark" for atom in row.atoms):
            last = None
            continue
        path = titles_of(row)[0]
        if last is None or last[0] != sample or row.line > last[1] + 1 or last[2] != path:
            head = (sample, row.line)
        runs[head].append(row)
        last = (sample, row.line, path)
    out = []
    for (sample, line), run in runs.items():
        above = [run[0].titles[-1].line] if run[0].titles else []
        said = [texts[sample, at] for at in (*above, line - 1, line - 2) if (sample, at) in texts]
        said += [row.text[row.note :] for row in run]
        if len(run) == 1:
            said = [text[text.index("(") :] for text in said if "(" in text]
        lists = list(dict.fromkeys(names for text in said for names in names_of(text)))
        block = max(
            (one for names in lists if (one := _block(sample, run, names)) is not None),
            key=lambda one: (len(one.rows), len(one.names)),
            default=None,
        )
        if block is not None:
            out.append(block)
    return out


def _block(sample: int, run: Sequence[Row], names: tuple[str, ...]) -> Block | None:
    """The rows of a run that have a cell for each name, and what counts them before."""
    groups: dict[tuple[int, str], list[tuple[Row, tuple[Cell, ...]]]] = defaultdict(list)
    for row in run:
        for cells in _cells(row):
            leads = len(cells) - len(names)
            texts = [row.text[cell.start : cell.end] for cell in cells]
            if not 0 <= leads <= LEADS or any(_SEVERAL.search(one) for one in texts):
                continue
            kept, word = list(cells), ""
            if leads:
                at = cells[leads - 1]
                found = _LEAD.fullmatch(texts[leads - 1].rstrip(":"))
                if found is None or (leads > 1 and not _ADDRESS.fullmatch(texts[0])):
                    continue
                word = found["word"].lower()
                kept[leads - 1] = Cell(at.start + found.start("count"), at.start + found.end())
            groups[leads, word].append((row, tuple(kept)))
            break
    if not groups:
        return None
    (leads, _), rows = max(groups.items(), key=lambda one: len(one[1]))
    if len(rows) < max(2, 0.4 * len(run)) and not (len(run) == len(rows) == 1 and not leads):
        return None
    return Block(sample, titles_of(run[0])[0], names, tuple(rows), leads)


def listed_tables(blocks: Sequence[Block]) -> list[Table]:
    """Blocks of several rows as tables whose header is no line."""
    return [
        Table(
            one.sample,
            one.path,
            (*[""] * one.leads, *one.names),
            one.rows,
            labels=tuple("" for _ in one.rows),
            above=one.path,
            listed=True,
        )
        for one in blocks
        if len(one.rows) > 1
    ]


def listed_entries(blocks: Sequence[Block]) -> list[Entry]:
    """What the cells of a single row are called by the list above it."""
    out = []
    for one in blocks:
        if len(one.rows) > 1 or not one.path:
            continue
        row, cells = one.rows[0]
        text = row.text[row.start : row.note]
        for at, (name, cell) in enumerate(zip(one.names, cells, strict=True)):
            spans = [
                (other.start - row.start, other.end - row.start, "value" if n == at else "_")
                for n, other in enumerate(cells)
            ]
            written = row.text[cell.start : cell.end]
            out.append(
                Entry(
                    one.sample, row, one.path, "", name, written, cell.start, cell.end,
                    False, True, form=template(text, spans),
                )
            )  # fmt: skip
    return out


__all__ = ["blocks_of", "listed_entries", "listed_tables"]
