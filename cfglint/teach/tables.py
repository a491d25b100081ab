"""Tables of samples: a header and the rows under it, upright or turned.

Columns are what their values can be, helped by the words over them: three columns of pulses that
are ordered alike in every row are a channel's ends, whatever the header calls them.
"""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dump.cells import Cell, divide, divider, single, under, unnamed
from cfglint.teach.codes import listed
from cfglint.teach.entries import Entry, titles_of
from cfglint.teach.sense import english

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.dump.layout import Row


class Table(NamedTuple):
    """One table: the texts of its header's cells, and each row with the cells under them."""

    sample: int
    path: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[Row, tuple[Cell | None, ...]], ...]
    header: int = 0
    #: What each row begins with: its first cell, or what stands before the header's first.
    labels: tuple[str, ...] = ()
    #: The texts right above the header.
    above: tuple[str, ...] = ()
    #: Whether the heads are no line of their own, so that cells count by their place.
    listed: bool = False

    def text(self, at: int, column: int) -> str:
        row, cells = self.rows[at]
        cell = cells[column]
        return row.text[cell.start : cell.end] if cell is not None else ""

    def column(self, column: int) -> list[str]:
        return [self.text(at, column) for at in range(len(self.rows))]


COUNTED = re.compile(
    r"(?P<word>[^\W\d_]*)[ \-_.#]{0,2}(?P<number>\d{1,2}|(?<![^\W_])[A-Z])(?![^\W_])"
)


def count_of(text: str) -> int:
    """The number that a header's number or letter says."""
    return int(text) if text.isdigit() else ord(text) - 64


_NAMED = re.compile(r"\s*[^\W\d_][\w. ]*:(?:\s|$)")


def _bounds(row: Row, mark: str) -> tuple[int, int]:
    start = row.atoms[0].start
    head = row.text[:start].rstrip()
    if mark and head.endswith(mark):
        start = len(head) - 1
    return start, row.atoms[-1].end


class _Heads(NamedTuple):
    """A header: what divides it, its cells, and their texts."""

    mark: str
    cells: list[Cell]
    texts: tuple[str, ...]


def _ways(row: Row) -> list[_Heads]:
    """A row's cells by the ways to divide it."""
    start, end = row.atoms[0].start, row.atoms[-1].end
    mark = divider(row.text, start, end)
    if mark in (",", ";"):
        mark = ""
    if mark:
        start, end = _bounds(row, mark)
    ways = [divide(row.text, start, end, mark)]
    if not mark:
        ways.append(single(row.text, start, end))
    return [_Heads(mark, one, tuple(row.text[c.start : c.end] for c in one)) for one in ways]


def _heads(row: Row) -> list[_Heads]:
    """A row's cells as a header: words, or numbers that count."""
    return [one for one in _ways(row) if len(one.cells) >= 3 and _heading(one.texts)]


#: A unit under the words of a header is no longer.
_UNIT = 10


def _under(heads: Sequence[_Heads], row: Row, below: Row) -> list[_Heads]:
    """A header with the units that stand under its words on the next line."""
    lower = _ways(below)[0]
    if below.line != row.line + 1 or _counts(lower.texts):
        return []
    if any(len(text) > _UNIT or re.search(r"\d{2}", text) for text in lower.texts):
        return []
    out = []
    for one in heads:
        if one.mark:
            cells = lower.cells if len(lower.cells) == len(one.cells) else []
        else:
            cells = [cell or Cell(0, 0) for cell in under(one.cells, lower.cells)]
        texts = [below.text[cell.start : cell.end] for cell in cells]
        # What a row is called stands in its first cell: a line without one is no row.
        if one.mark == lower.mark and texts and not texts[0] and any(texts):
            both = (f"{a} {b}".strip() for a, b in zip(one.texts, texts, strict=True))
            out.append(_Heads(one.mark, one.cells, tuple(both)))
    return out


#: What a head says of its numbers: `x100 baud`, `(us)`.
_FACTOR = re.compile(r"\([^()]*\)|(?<!\w)[x×*/] ?10+(?!\d)")


def _heading(texts: Sequence[str]) -> bool:
    if _counts(texts):
        return True
    bare = [_FACTOR.sub("", text) for text in texts]
    wordy = sum(
        1
        for text, said in zip(texts, bare, strict=True)
        if re.search(r"[^\W\d_]", text) and not re.search(r"\d{2}|[^\W\d_]\d$", said)
    )
    plain = all(
        len(text) < 30
        and not re.search(r"[:=](?!\w)|\W[:=]|,$", text)
        and text.count("(") == text.count(")")
        for text in texts
    )
    return wordy == len(texts) and plain


def _counts(texts: Sequence[str]) -> bool:
    """Whether a row counts columns: `c1 c2 c3`."""
    found = [match for text in texts if (match := COUNTED.fullmatch(text))]
    counts = [count_of(match["number"]) for match in found]
    return len(found) >= 3 and counts == sorted(set(counts)) and counts[-1] < 2 * len(counts) + 4


def _body(
    real: Sequence[tuple[int, Row]],
    at: int,
    headed: _Heads,
    rules: set[tuple[int, int]],
) -> list[tuple[Row, tuple[Cell | None, ...]]]:
    """The rows under a header."""
    sample, row = real[at]
    mark, heads, texts = headed
    body: list[tuple[Row, tuple[Cell | None, ...]]] = []
    line = row.line
    # A row of words over a rule heads the table, and so does one that counts, whatever follows.
    ruled = (mark and (sample, line + 1) in rules) or _counts([text for text in texts if text])
    deep = len(titles_of(row)[0])
    if at + 1 < len(real) and row.start > real[at + 1][1].start:
        deep = 0  # a header further in than its rows stands under the line above it
    for other, below in real[at + 1 :]:
        if (
            other != sample
            or below.line > line + 1 + ((sample, line + 1) in rules)
            or len(titles_of(below)[0]) < deep
        ):
            break
        if not mark and below.text.lstrip()[:1] in ("|", "│"):
            break  # a table that only begins here
        if not body and any(_counts(one.texts) for one in _heads(below)):
            break  # a title over a header
        if (
            body
            and (listed(below.text) or _NAMED.match(below.text))
            and not _NAMED.match(body[-1][0].text)
        ):
            break  # a line that explains the table
        cells = _cells(below, mark, heads)
        if cells is None or not (ruled or _alike(below, cells, heads)):
            break
        if ruled and not mark and sum(cell is not None for cell in cells) < 0.6 * len(heads):
            break
        if len(cells) > len(heads) + 1:
            break
        body.append((below, tuple(cells[: len(heads)])))
        line = below.line
    return body


def _cells(row: Row, mark: str, heads: list[Cell]) -> list[Cell | None] | None:
    """A row's cells under a header, as the reader finds them; None for a row of another kind."""
    text = row.text
    start, end = row.atoms[0].start, row.atoms[-1].end
    if mark:
        if mark not in text[start:end]:
            return None
        start, end = _bounds(row, mark)
        cells: list[Cell | None] = list(divide(text, start, end, mark))
        cells = [cell if cell is not None and cell.start < cell.end else None for cell in cells]
        return cells + [None] * (len(heads) - len(cells)) if len(cells) >= 2 else None
    loose, tight = divide(text, start, end, ""), single(text, start, end)
    if len(loose) == len(heads):
        return list(loose)
    if len(tight) == len(heads):
        return list(tight)
    if len(loose) < 2:
        return None
    return under(heads, unnamed(heads, loose))


def _label(row: Row, cells: Sequence[Cell | None], heads: _Heads) -> str:
    """What a row begins with: what stands before its first cell, else that cell."""
    first = next((cell for cell in cells if cell is not None), None)
    start = row.atoms[0].start
    if first is None:
        return ""
    if (
        COUNTED.fullmatch(row.text[heads.cells[0].start : heads.cells[0].end])
        or first.start > start + 1
    ):
        before = row.text[start : first.start].strip(" \t|│")
        if before:
            return before
    return row.text[first.start : first.end]


def tables_of(rows: Sequence[tuple[int, Row]]) -> list[Table]:
    """The tables of all samples."""
    out: list[Table] = []
    real = [
        (s, row)
        for s, row in rows
        if row.atoms and not row.comment and any(a.kind != "mark" for a in row.atoms)
    ]
    rules = {(s, row.line) for s, row in rows if all(atom.kind == "mark" for atom in row.atoms)}
    at = 0
    while at < len(real):
        sample, row = real[at]
        found = _heads(row)
        if (
            found
            and at + 1 < len(real)
            and (parted := _under(found, *(r for _, r in real[at : at + 2])))
        ):
            found, at = parted, at + 1
            row = real[at][1]
        ways = [(way, _body(real, at, way, rules)) for way in found]
        # Of two ways to divide a header the one by which most rows have as many cells.
        headed, body = max(ways, key=lambda one: _even(*one), default=(None, []))
        if headed is not None and (
            len(body) >= 2
            or (len(body) == 1 and headed[0] and (sample, body[0][0].line - 1) in rules)
        ):
            labels = tuple(_label(below, cells, headed) for below, cells in body)
            above = tuple(
                one.text for other, one in rows if other == sample and 0 < row.line - one.line <= 2
            )
            path = titles_of(row)[0]
            if row.start > body[0][0].start:
                path = titles_of(body[0][0])[0]
            out.append(Table(sample, path, headed.texts, tuple(body), row.line, labels, above))
            at += len(body)
        at += 1
    return out


def _even(way: _Heads, body: Sequence[tuple[Row, tuple[Cell | None, ...]]]) -> int:
    """How many rows by themselves have as many cells as a header divided so."""

    def cells(row: Row) -> set[int]:
        start, end = row.atoms[0].start, row.atoms[-1].end
        if way.mark:
            start, end = _bounds(row, way.mark)
            return {len(divide(row.text, start, end, way.mark))}
        return {len(divide(row.text, start, end, "")), len(single(row.text, start, end))}

    return sum(len(way.cells) in cells(row) for row, _ in body)


def _alike(row: Row, cells: Sequence[Cell | None], heads: Sequence[Cell]) -> bool:
    filled = [cell for cell in cells if cell is not None]
    if len(filled) < 2:
        return False
    texts = [row.text[cell.start : cell.end] for cell in filled]
    return any(re.search(r"\d|^[A-Z]$", text) for text in texts) or (
        len(row.text) > 0 and len(filled) == len(heads) and len(texts[0]) <= 2
    )


# -- tables of names and values ------------------------------------------------------------------

_FIGURE = re.compile(r"[+\-\u2212]?\d[\d.,]*|[0-9A-F]{2,8}h?|0[xX][0-9A-Fa-f]+")


def table_entries(rows: Sequence[tuple[int, Row]]) -> tuple[list[Entry], set[tuple[int, int]]]:
    """Entries of tables with a column of names and one of values; the unit's column is their note."""  # noqa: E501
    out: list[Entry] = []
    taken: set[tuple[int, int]] = set()
    rules = {(s, row.line) for s, row in rows if all(atom.kind == "mark" for atom in row.atoms)}
    for table in tables_of(rows):
        columns = [table.column(column) for column in range(len(table.heads))]
        if len(table.rows) == 1:
            out += _of_one_row(table, columns)
            if table.path:
                taken |= {(table.sample, table.rows[0][0].line), (table.sample, table.header)}
            continue
        name, value = _name_and_value(table, columns)
        if value < 0:
            continue
        rest = [c for c in range(len(columns)) if c not in (name, value, 0)]
        for at, (row, cells) in enumerate(table.rows):
            cell = cells[value]
            if cell is None or not columns[name][at]:
                continue
            note = " ".join(columns[c][at] for c in rest if columns[c][at])
            out.append(
                Entry(
                    table.sample,
                    row,
                    table.path,
                    "",
                    columns[name][at],
                    columns[value][at],
                    cell.start,
                    cell.end,
                    False,
                    True,
                    f"\1{note}",
                )
            )
            taken.add((table.sample, row.line))
            if (table.sample, table.header + 1) in rules:
                taken.add((table.sample, table.header))
    return out, taken


def _of_one_row(table: Table, columns: Sequence[Sequence[str]]) -> Iterator[Entry]:
    """Entries of a table of one row under a title: each head names what stands below it."""
    row, cells = table.rows[0]
    for column, head in enumerate(table.heads):
        cell = cells[column]
        if cell is not None and re.search(r"\w", head) and table.path:
            yield Entry(
                table.sample,
                row,
                table.path,
                "",
                head,
                columns[column][0],
                cell.start,
                cell.end,
                False,
                True,
                "",
                head,
            )


def _name_and_value(table: Table, columns: Sequence[Sequence[str]]) -> tuple[int, int]:
    """The column of names and the one of values; less than 0 where there are none."""
    count = len(table.rows)
    named = [
        c
        for c, texts in enumerate(columns)
        if _wordy(texts) >= 0.7 * count and len(set(texts)) >= 0.8 * count
    ]
    if count < 4 or not named:
        return -1, -1
    name = max(named, key=lambda c: sum(len(text) for text in columns[c]))
    valued = [
        c
        for c, texts in enumerate(columns)
        if c != name and sum(bool(_FIGURE.fullmatch(t)) for t in texts) >= 0.6 * count
    ]
    valued = [c for c in valued if not _running(columns[c])] or valued[-1:]
    # Where a header says which column holds the values, it may hold words as well.
    valued = [
        c for c in range(len(columns)) if c != name and _VALUED.fullmatch(english(table.heads[c]))
    ] or valued
    alike = {re.sub(r"[\d*\W]", "", table.heads[c]) for c in valued}
    if not valued or (len(valued) > 1 and len(alike) == 1):
        return -1, -1  # of several banks of values one is in use
    value = max(
        valued, key=lambda c: bool(re.search(r"(?i)value|word|now|set|wert", table.heads[c]))
    )
    return name, value


_VALUED = re.compile(r"(?i)values?|settings?|set to|content|wert|valeur")


def _wordy(texts: Sequence[str]) -> int:
    return sum(
        1 for text in texts if re.search(r"[^\W\d_]{3}", text) and not _FIGURE.fullmatch(text)
    )


def _running(texts: Sequence[str]) -> bool:
    """Whether a column only counts its rows."""
    try:
        figures = [int(text.removesuffix("h"), 16) for text in texts if text]
    except ValueError:
        return False
    return all(a < b for a, b in itertools.pairwise(figures))
