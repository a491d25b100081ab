"""Tables in a dump: which line is the header over a line, and which cells stand under it."""

from __future__ import annotations

from bisect import bisect_left
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dialect.address import said
from cfglint.dump.atoms import coded, cut
from cfglint.dump.cells import Cell, divide, divider, single, under, unnamed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.dialect.mapping import Entry, Patterns
    from cfglint.dump.layout import Row

#: How far above a table's line its header may stand.
HEADER_WITHIN = 80


class Header(NamedTuple):
    """A header line: what divides it, its cells, and the entry's field over each of them.

    ``columns`` maps a cell's number to the field and to what its words say (``c{N}``); ``doubled``
    are heads that stand over two columns, so that nobody knows which is meant.
    """

    line: int
    mark: str
    cells: list[Cell]
    columns: Mapping[int, tuple[str, Mapping[str, str]]]
    doubled: tuple[tuple[str, Cell, Cell], ...] = ()


#: One way to divide a line that may be a header: the mark, the cells, their codes, and whether
#: they must be the columns' words to the letter.
Division = tuple[str, list[Cell], list[str], bool]


class Tables:
    """Finds headers, each looked at once."""

    def __init__(self, rows: Sequence[Row], patterns: Patterns) -> None:
        self.rows = rows
        self.patterns = patterns
        self.headers: set[int] = set()
        self._known: dict[tuple[str, int], Header | None] = {}
        self._cells: dict[int, list[Division]] = {}
        self._where: dict[str, set[int]] = {}
        self._may_head: dict[str, list[int]] = {}
        self._ruled: list[int] | None = None

    def header(self, entry: Entry, at: int) -> Header | None:
        """The nearest line above row ``at`` that has all the words of an entry's columns."""
        row = self.rows[at]
        heads = self._heads(entry)
        place = bisect_left(heads, at)
        if not place or heads[place - 1] < at - HEADER_WITHIN:
            return None
        top = max((title.line for title in row.titles if title.style != "comment"), default=0)
        for number in range(place - 1, -1, -1):
            before = heads[number]
            if self.rows[before].line < top or before <= at - HEADER_WITHIN:
                break
            found = self._header(entry, before)
            if found is not None and self._between(before, at):
                break
            if found is not None:
                self.headers.add(found.line)
                return found
        return None

    def _between(self, before: int, at: int) -> bool:
        """Whether another table begins between a header and a line: words over a rule."""
        if self._ruled is None:
            self._ruled = [
                place
                for place, row in enumerate(self.rows)
                if self._over_rule(place, row) or self._begins(place, row)
            ]
        place = bisect_left(self._ruled, before + 2)
        return place < len(self._ruled) and self._ruled[place] < at

    def _over_rule(self, place: int, row: Row) -> bool:
        if place + 1 >= len(self.rows) or not row.atoms or row.comment:
            return False
        rule = self.rows[place + 1]
        if rule.line != row.line + 1 or any(atom.kind != "mark" for atom in rule.atoms):
            return False
        return bool(rule.text.strip()) and _worded(row) > 1

    def _begins(self, place: int, row: Row) -> bool:
        """Whether a table begins here: words in columns, the first or second line of a block."""
        if not row.atoms or row.comment or not 0 < place < len(self.rows) - 1:
            return False
        two = self.rows[max(0, place - 2)].line, self.rows[place - 1].line
        first = row.line - two[1] > 1
        second = row.line - two[1] == 1 < two[1] - two[0] and _worded(self.rows[place - 1]) == 1
        below = self.rows[place + 1]
        return (
            (first or second)
            and below.line == row.line + 1
            and any(atom.kind == "number" for atom in below.atoms)
            and _worded(row) > 2
        )

    def _heads(self, entry: Entry) -> list[int]:
        """The rows that, with the one above, have the first words of all of an entry's columns."""
        found = self._may_head.get(entry.id)
        if found is None:
            if not self._where:
                self._find_words()
            rows: set[int] | None = None
            for part in (*entry.columns.values(), *((entry.header,) if entry.header else ())):
                if part.lead:
                    where = self._where.get(part.lead[0], set())
                    where = where | {at + 1 for at in where}
                    rows = where if rows is None else rows & where
            found = sorted(range(len(self.rows)) if rows is None else rows)
            if found and found[-1] == len(self.rows):
                found.pop()
            self._may_head[entry.id] = found
        return found

    def _find_words(self) -> None:
        """Where each word and number stands."""
        exact = self.patterns.exact
        for at, row in enumerate(self.rows):
            for kind, text, _, _ in row.atoms:
                if kind != "mark":
                    word = f"{kind[0]}{text if exact else text.lower()}"
                    self._where.setdefault(word, set()).add(at)

    def _header(self, entry: Entry, at: int) -> Header | None:
        name = (entry.id, at)
        if name not in self._known:
            self._known[name] = self._look(entry, at)
        return self._known[name]

    def _look(self, entry: Entry, at: int) -> Header | None:
        row = self.rows[at]
        if not row.atoms:
            return None
        if entry.header is not None:
            begins = self.patterns.compiled(entry, entry.header)
            if begins.match(coded(row.atoms, self.patterns.exact)[0]) is None:
                return None
        if at not in self._cells:
            self._cells[at] = _divisions(row, self.patterns.exact)
            if at and self.rows[at - 1].line == row.line - 1:
                self._cells[at] += _over(self.rows[at - 1], row, self.patterns.exact)
        for mark, cells, codes, strict in self._cells[at]:
            columns: dict[int, tuple[str, Mapping[str, str]]] = {}
            doubled = []
            for field, part in entry.columns.items():
                pattern = self.patterns.compiled(entry, part)
                hits = [
                    (place, match)
                    for place, code in enumerate(codes)
                    if place not in columns and (match := pattern.match(code)) is not None
                ]
                exact = [hit for hit in hits if hit[1].end() == len(hit[1].string)]
                # Of two lines each must say a part: else it is a header and the line under it.
                exact = exact or ([] if strict else hits)
                if not exact:
                    break
                if len(exact) > 1 and not part.fields:
                    first, second = (cells[place] for place, _ in exact[:2])
                    doubled.append((field, first, second))
                for place, match in exact if part.fields else exact[:1]:
                    columns[place] = (field, said(match))
            else:
                return Header(row.line, mark, cells, columns, tuple(doubled))
        return None


def _worded(row: Row) -> int:
    """How many cells a line has whose words are no numbers; 0 for any other line."""
    words = [atom for atom in row.atoms if atom.kind != "mark"]
    if not words or any(atom.kind == "number" for atom in words):
        return 0
    text = row.text.strip()
    mark = divider(text, 0, len(text))
    return len(divide(text, 0, len(text), "" if mark in (",", ";") else mark))


def _whole(row: Row) -> tuple[int, int]:
    return row.atoms[0].start, row.atoms[-1].end


def _outer(text: str, start: int, mark: str) -> int:
    """Where a line's cells begin, with the empty one before its first mark."""
    head = text[:start].rstrip()
    return len(head) - 1 if mark.strip() and head.endswith(mark) else start


def _divisions(row: Row, exact: bool) -> list[Division]:
    """The ways to divide a line that may be a header: the mark, the cells, their codes."""
    text = row.text
    start, end = _whole(row)
    mark = divider(text, start, end)
    ways = []
    if mark:
        ways = [(mark, divide(text, _outer(text, start, mark), end, mark))]
    if mark in ("", ",", ";"):
        # A comma may be one in a head's words.
        ways += [("", divide(text, start, end, "")), ("", single(text, start, end))]
    return [
        (mark, cells, [coded(cut(text, cell.start, cell.end), exact)[0] for cell in cells], False)
        for mark, cells in ways
    ]


def _over(above: Row, row: Row, exact: bool) -> list[Division]:
    """A header whose words are parted over two lines: each cell with what stands over it."""
    if not above.atoms or all(atom.kind == "mark" for atom in above.atoms):
        return []
    found = []
    for (mark, upper, _, _), (other, lower, _, _) in product(
        _divisions(above, exact), _divisions(row, exact)
    ):
        if mark != other or (mark and len(upper) != len(lower)):
            continue
        # The fuller line says where the columns are.
        wide = lower if len(lower) > len(upper) else upper
        rows = [
            (one.text, list(cells) if mark or cells is wide else under(wide, cells))
            for one, cells in ((above, upper), (row, lower))
        ]
        codes = [
            "".join(
                coded(cut(text, cells[at].start, cells[at].end), exact)[0]  # type: ignore[union-attr]
                for text, cells in rows
                if cells[at] is not None
            )
            for at in range(len(wide))
        ]
        found.append((mark, wide, codes, True))
    return found


def cells_of(row: Row, header: Header) -> list[Cell | None]:
    """The cell of a line under each cell of its header."""
    text = row.text
    start, end = _whole(row)
    if header.mark:
        if header.mark not in text[start:end]:
            return []
        return list(divide(text, _outer(text, start, header.mark), end, header.mark))
    loose, tight = divide(text, start, end, ""), single(text, start, end)
    if len(loose) == len(header.cells):
        return list(loose)
    if len(tight) == len(header.cells):
        return list(tight)
    return under(header.cells, unnamed(header.cells, loose if len(loose) > 1 else tight))
