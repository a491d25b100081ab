"""From rows to the craft: each value by the words around it."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft.model import Misread, ModeLink, ModeRange, Repeat, Stray, Value
from cfglint.craft.settings import setting
from cfglint.dialect.address import GAP, Segment, address
from cfglint.dialect.mapping import COUNTING, Entry, Map
from cfglint.dialect.values import Bad, decode, key
from cfglint.dump.atoms import END, coded, cut
from cfglint.dump.cells import Cell, divide, divider, single, under
from cfglint.dump.layout import Row, Title, rows
from cfglint.record import NamedTuple
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from cfglint.dump.layout import Marks
    from cfglint.dump.source import Source

#: How far above a table's line its header may stand.
HEADER_WITHIN = 80

_LEAD = re.compile(r"(?:[\s:=|>~…·•,;]|\.{2,}|->|=>|-(?![0-9.]))+")
_TAIL = re.compile(r"[\s,;|│]+$")
_BREAK = re.compile(r"[ \t\xa0]{2,}|\t|[ \t]*[|│;]|[ \t]+[(\[{<#*]|[ \t]*,(?=[ \t])|[ \t]+[-–—][ \t]")


class Tail(NamedTuple):
    """What is left of an entry's address under certain titles, and what the titles said."""

    entry: Entry
    rest: tuple[Segment, ...]
    bound: Mapping[str, str]
    weight: int
    title: Title | None


class Context(NamedTuple):
    """The entries that can stand under certain titles, by what their lines begin with."""

    phrases: Mapping[str, list[Tail]]
    loose: list[Tail]
    lines: Mapping[str, list[Tail]]
    free: list[Tail]
    tables: list[Tail]


class Place(NamedTuple):
    """Where a value stands: its line and characters (from 0)."""

    line: int
    start: int
    end: int


class Read(NamedTuple):
    """One value as read: the entry's field, the neutral value, what the address said."""

    entry: Entry
    field: str
    value: Any
    written: str
    place: Place
    bound: Mapping[str, str]
    row: Row


class MapReader:
    """Reads one dump by a map.  ``uses`` tells, line by line, what became of it."""

    def __init__(
        self, source: Source, dialect_map: Map, marks: Marks, lines: list[Row] | None = None
    ) -> None:
        self.source = source
        self.file = source.file
        self.map = dialect_map
        self.marks = marks
        self.rows = list(rows(source, marks)) if lines is None else lines
        self.uses: dict[int, str] = {}
        self.values: dict[str, Value] = {}
        self.ranges: list[ModeRange] = []
        self.links: list[ModeLink] = []
        self.repeats: list[Repeat] = []
        self.misread: list[Misread] = []
        self.strays: list[Stray] = []
        self._contexts: dict[tuple[str, ...], Context] = {}
        self._headers: dict[tuple[str, int], tuple[int, str, list[Cell], dict[int, tuple[str, dict[str, str]]]] | None] = {}
        self._records: dict[tuple[Any, ...], dict[str, Read]] = {}
        self._titles_of: dict[str, tuple[str, ...]] = {}
        self.ambiguous: list[tuple[str, Place, Place]] = []

    # -- titles ------------------------------------------------------------------------------

    def _title_says(self, entry: Entry, part: Segment, title: Title) -> dict[str, str] | None:
        """What a title binds where it is this segment; None where it is not."""
        match = self.map.compiled(entry, part).fullmatch(title.code)
        if match is None:
            pattern = re.compile(self.map.compiled(entry, part).pattern + GAP)
            match = pattern.fullmatch(title.code)
        if match is None:
            return None
        return _said(match)

    def _tails(self, entry: Entry, titles: Sequence[Title]) -> Iterator[Tail]:
        """Every way in which the titles can stand for the first steps of an entry's address."""
        parts = entry.at.segments
        most = len(parts) if entry.way == "table" else len(parts) - 1
        total = sum(part.weight for part in parts)
        for count in range(most, -1, -1):
            bound: dict[str, str] = {}
            at = len(titles)
            owner: Title | None = None
            nearest = 0
            for part in reversed(parts[:count]):
                for at in range(at - 1, -1, -1):
                    said = self._title_says(entry, part, titles[at])
                    if said is not None:
                        bound = {**said, **bound}
                        owner, nearest = (owner, nearest) if owner else (titles[at], at + 1)
                        break
                else:
                    break
            else:
                # The line's own words count most, then how near the title stands, then all words.
                own = sum(part.weight for part in parts[count:])
                weight = (own * 64 + nearest) * 256 + min(4 * total + count, 255)
                yield Tail(entry, parts[count:], bound, weight, owner)

    def _context(self, titles: tuple[Title, ...]) -> Context:
        name = tuple(f"{title.line}" if title.style != "comment" else f"c{title.line}" for title in titles)
        found = self._contexts.get(name)
        if found is not None:
            return found
        phrases: dict[str, list[Tail]] = {}
        lines: dict[str, list[Tail]] = {}
        loose: list[Tail] = []
        free: list[Tail] = []
        tables: list[Tail] = []
        for entry in self.map.entries:
            for tail in self._tails(entry, titles):
                if entry.way == "table":
                    tables.append(tail)
                    continue
                head = tail.rest[0].pieces[0] if tail.rest[0].pieces else ("any", "")
                literal = f"{head[0][0]}{head[1]}" if head[0] in ("word", "number") else ""
                if entry.way == "phrase" or entry.way == "each":
                    phrases.setdefault(literal, []).append(tail) if literal else loose.append(tail)
                else:
                    lines.setdefault(literal, []).append(tail) if literal else free.append(tail)
        made = self._contexts[name] = Context(phrases, loose, lines, free, tables)
        return made

    # -- the whole ---------------------------------------------------------------------------

    def read(self) -> None:
        """Read every row."""
        for at, row in enumerate(self.rows):
            if row.comment:
                self.uses.setdefault(row.line, "comment")
                continue
            if all(atom.kind == "mark" for atom in row.atoms):
                long = not row.atoms and bool(row.text.strip())
                self.uses.setdefault(row.line, "unreadable" if long else "comment")
                continue
            self.uses[row.line] = self._row(at, row)
        self._close_records()

    def _row(self, at: int, row: Row) -> str:
        context = self._context(row.titles)
        if any(self._fits(part, row) for part in self.map.ignored):
            return "ignored"
        if self._removed(row):
            return "removal"
        self._failed: list[Misread] = []
        found = self._template(row, context) or self._phrases(row, context) or self._table(at, row, context)
        if found:
            return found
        if self._failed:
            self.misread.append(self._failed[0])
            return "misread"
        if any(self._fits(part, row) for part in self.map.kept):
            return "kept"
        if self._is_title(at, row) or self._is_header(row):
            return "title"
        self.strays.append(Stray(self._span(row), self._span(row), row.text.strip()[:80], ""))
        return "stray"

    def _is_title(self, at: int, row: Row) -> bool:
        """Whether rows further down stand under this one."""
        following = self.rows[at + 1] if at + 1 < len(self.rows) else None
        return following is not None and any(title.line == row.line for title in following.titles)

    def _is_header(self, row: Row) -> bool:
        return any(found is not None and found[0] == row.line for found in self._headers.values())

    def _span(self, row: Row) -> Span:
        if not row.atoms:
            return on_line(self.file, row.line, 0, len(row.text))
        return on_line(self.file, row.line, row.atoms[0].start, row.atoms[-1].end)

    def _fits(self, part: Any, row: Row) -> bool:
        """Whether an address without a value, as those of what is kept, fits a row."""
        code, _ = row.code
        parts = part.segments
        titles = list(row.titles)
        for step in parts[:-1]:
            while titles and self.map.compiled(None, step).fullmatch(titles[0].code) is None:
                titles.pop(0)
            if not titles:
                return False
            titles.pop(0)
        pattern = self.map.compiled(None, parts[-1])
        match = pattern.match(code)
        return match is not None

    def _removed(self, row: Row) -> bool:
        pattern = self.map.removal
        match = pattern.fullmatch(row.text, row.start) if pattern is not None else None
        if match is None:
            return False
        atoms = cut(row.text, match.start("name"), match.end("name"))
        part = row._replace(atoms=atoms)
        for tail, _, _ in self._occurrences(part, self._context(row.titles)):
            name = self._name(tail.entry, "value", tail.bound)
            self.values.pop(name, None)
        return True

    # -- ways --------------------------------------------------------------------------------

    def _template(self, row: Row, context: Context) -> str:
        """A line whose fields stand among its words."""
        code, starts = row.code
        first = row.atoms[0] if row.atoms[0].kind != "mark" else next(
            (atom for atom in row.atoms if atom.kind != "mark"), row.atoms[0]
        )
        literal = f"{first.kind[0]}{first.text.lower()}"
        fits = [
            (tail, match)
            for tail in (*context.lines.get(literal, ()), *context.free)
            if (match := self._whole(tail).fullmatch(code)) is not None
        ]
        fits.sort(key=lambda one: -one[0].weight)
        use, heaviest = "", 0
        for tail, match in fits:
            # Two settings may be written as one number: both addresses are then alike.
            if not use or tail.weight == heaviest:
                found = self._fields(tail, match, row, starts)
                use, heaviest = (use or found), tail.weight if found else heaviest
        return use

    def _fields(self, tail: Tail, match: re.Match[str], row: Row, starts: list[int]) -> str:
        """The fields of a line that a template fits; ``""`` where one means nothing."""
        atoms = row.atoms
        fields = {
            name: _atom_range(starts, match.start(name), match.end(name))
            for name in match.groupdict()
            if match.group(name) is not None
        }
        bound = dict(tail.bound)
        reads = []
        for name, (first_at, last_at) in fields.items():
            text = row.text[atoms[first_at].start : atoms[last_at - 1].end]
            bound.setdefault(name, text)
        for name, (first_at, last_at) in fields.items():
            place = Place(row.line, atoms[first_at].start, atoms[last_at - 1].end)
            reads.append((name, place))
        return self._take(tail.entry, bound, reads, row)

    def _whole(self, tail: Tail) -> re.Pattern[str]:
        name = (tail.entry.id, Segment((("whole", str(len(tail.rest))),)))
        found = self.map._compiled.get(name)
        if found is None:
            bits = [self.map.compiled(tail.entry, part).pattern for part in tail.rest]
            found = re.compile("(?:[wnqm][^\x1e]*\x1e)*?".join(bits) + "(?:m[^\x1e]*\x1e)*")
            self.map._compiled[name] = found
        return found

    def _occurrences(self, row: Row, context: Context) -> Iterator[tuple[Tail, int, int]]:
        """Where phrases stand in a row: the tail, its first atom, the atom behind it."""
        code, starts = row.code
        atoms = row.atoms
        for at, atom in enumerate(atoms):
            if atom.kind == "mark":
                continue
            literal = f"{atom.kind[0]}{atom.text.lower()}"
            best: tuple[tuple[int, int], Tail, int] | None = None
            tails = [*context.phrases.get(literal, ()), *context.loose]
            for tail in tails:
                end = self._phrase_end(tail, code, starts, at)
                if end is None:
                    continue
                tail, stop = end
                rank = (tail.weight, stop)
                if best is None or rank > best[0]:
                    best = (rank, tail, stop)
                elif rank == best[0] and self._name(tail.entry, "value", tail.bound) != self._name(best[1].entry, "value", best[1].bound):
                    self.ambiguous.append((tail.entry.at.text, Place(row.line, atom.start, atom.end), Place(row.line, atom.start, atom.end)))
            if best is not None:
                yield best[1], at, best[2]
            if at == 0 or all(one.kind == "mark" for one in atoms[:at]):
                yield from self._headed(row, context, code, starts, at)

    def _phrase_end(self, tail: Tail, code: str, starts: list[int], at: int) -> tuple[Tail, int] | None:
        if len(tail.rest) != 1:
            return None
        match = self.map.compiled(tail.entry, tail.rest[0]).match(code, starts[at])
        if match is None:
            return None
        stop = bisect_left(starts, match.end())
        return self._binding(tail, match), stop

    def _binding(self, tail: Tail, match: re.Match[str]) -> Tail:
        said = _said(match)
        return tail._replace(bound={**tail.bound, **said}) if said else tail

    def _headed(
        self, row: Row, context: Context, code: str, starts: list[int], at: int
    ) -> Iterator[tuple[Tail, int, int]]:
        """Phrases behind a head at the row's start: ``port 3`` and then ``speed``."""
        atom = row.atoms[at]
        literal = f"{atom.kind[0]}{atom.text.lower()}"
        for tail in (*context.phrases.get(literal, ()), *context.loose):
            if len(tail.rest) != 2:
                continue
            head = self.map.compiled(tail.entry, tail.rest[0]).match(code, starts[at])
            if head is None:
                continue
            bound = self._binding(tail, head)
            for place in range(bisect_left(starts, head.end()), len(row.atoms)):
                if row.atoms[place].kind == "mark":
                    continue
                match = self.map.compiled(tail.entry, tail.rest[1]).match(code, starts[place])
                if match is not None:
                    yield self._binding(bound, match), place, bisect_left(starts, match.end())

    def _phrases(self, row: Row, context: Context) -> str:
        """Values that follow their words, as many as the row has."""
        found = sorted(self._occurrences(row, context), key=lambda one: (one[1], -one[0].weight))
        found = self._weightiest(found)
        use, free_from = "", 0
        for number, (tail, start, stop) in enumerate(found):
            if start < free_from or not self._boundary(row, start, free_from):
                continue
            later = [one[1] for one in found[number + 1 :] if one[1] >= stop]
            end = self._value(tail, row, start, stop, later)
            if end < 0:
                continue
            free_from = end
            use = "used"
        return use

    def _weightiest(self, found: list[tuple[Tail, int, int]]) -> list[tuple[Tail, int, int]]:
        best: dict[int, tuple[Tail, int, int]] = {}
        for one in found:
            held = best.get(one[1])
            if held is None or (one[0].weight, one[2]) > (held[0].weight, held[2]):
                best[one[1]] = one
        return [best[start] for start in sorted(best)]

    def _boundary(self, row: Row, start: int, free_from: int) -> bool:
        """Whether a phrase can begin at an atom: not in the midst of other words."""
        if start == free_from or start == 0:
            return True
        before, atom = row.atoms[start - 1], row.atoms[start]
        gap = row.text[before.end : atom.start]
        if all(one.kind == "mark" for one in row.atoms[free_from:start]):
            return True
        return before.kind in ("mark", "number", "quoted") or len(gap) >= 2 or "\t" in gap

    def _value(self, tail: Tail, row: Row, start: int, stop: int, later: list[int]) -> int:
        """Read what follows a phrase; the atom behind it, or -1 where the phrase was none."""
        atoms = row.atoms
        entry = tail.entry
        if stop >= len(atoms):
            return -1
        text = row.text
        begin = atoms[stop - 1].end
        lead = _LEAD.match(text, begin, row.note)
        first = lead.end() if lead is not None else begin
        if first < atoms[stop].start and text[first : atoms[stop].start].strip() == "":
            first = atoms[stop].start
        line_end = atoms[-1].end
        if entry.way == "each":
            return self._each(tail, row, first, line_end)
        described, codec = entry.row_of("value"), entry.codecs["value"]
        stops = [line_end, *(text_end for text_end in (atoms[at - 1].end for at in later))]
        stops += [match.start() for match in _BREAK.finditer(text, first + 1, line_end)]
        ordered = sorted({one for one in stops if one > first}, reverse=described.kind != "text" or bool(described.texts))
        if described.kind == "text" and not described.texts and text[first : first + 1] in "\"'":
            quoted = next((atom for atom in atoms[stop:] if atom.kind == "quoted"), None)
            ordered = [quoted.end, *ordered] if quoted is not None else ordered
        for end in ordered:
            written = _TAIL.sub("", text[first:end])
            try:
                decode(codec, described, written)
            except Bad:
                continue
            place = Place(row.line, first, first + len(written))
            self._take(entry, tail.bound, [("value", place)], row, tail.title)
            return bisect_left([atom.start for atom in atoms], first + len(written))
        if self._longer_name(row, start, stop):
            return -1
        end = min([one for one in stops if one > first], default=line_end)
        written = _TAIL.sub("", text[first:end])
        self._take(entry, tail.bound, [("value", Place(row.line, first, first + len(written)))], row, tail.title)
        return -1

    def _longer_name(self, row: Row, start: int, stop: int) -> bool:
        """Whether a phrase is only the beginning of a longer name: ``low`` in ``low battery = 3``."""
        after = row.atoms[stop:]
        if not after or after[0].kind != "word":
            return after[:1] != [] and after[0].text in "-_." and row.atoms[stop - 1].end == after[0].start
        gap = row.text[row.atoms[stop - 1].end : after[0].start]
        sure = any(atom.kind == "mark" and atom.text in "=:" for atom in after)
        before = any(atom.kind == "mark" and atom.text in "=:" for atom in row.atoms[:stop])
        return len(gap) < 2 and (sure or not before)

    def _each(self, tail: Tail, row: Row, first: int, end: int) -> int:
        """Values in a row, counted by their place; or items that repeat."""
        entry = tail.entry
        if entry.item is not None:
            atoms = cut(row.text, first, end)
            code, starts = coded(atoms)
            pattern = self.map.compiled(entry, entry.item)
            at = 0
            while (match := pattern.search(code, starts[at] if at < len(starts) else len(code))) is not None:
                reads = []
                bound = dict(tail.bound)
                for name in match.groupdict():
                    one, two = _atom_range(starts, match.start(name), match.end(name))
                    place = Place(row.line, atoms[one].start, atoms[two - 1].end)
                    reads.append((name, place))
                    bound[name] = row.text[place.start : place.end]
                self._take(entry, bound, reads, row)
                at = bisect_left(starts, match.end())
                if match.end() == match.start() or at >= len(atoms):
                    break
            return len(row.atoms)
        mark = divider(row.text, first, end)
        cells = divide(row.text, first, end, mark) if mark else single(row.text, first, end)
        base = entry.codecs["N"].first
        for number, cell in enumerate(cells, 1 if base is None else base):
            if cell.start < cell.end:
                self._take(entry, {**tail.bound, "N": str(number)}, [("value", Place(row.line, cell.start, cell.end))], row)
        return len(row.atoms)

    # -- tables ------------------------------------------------------------------------------

    def _table(self, at: int, row: Row, context: Context) -> str:
        use = ""
        code, starts = row.code
        for tail in context.tables:
            bound = dict(tail.bound)
            first = row.atoms[0].start
            if tail.rest:
                match = self.map.compiled(tail.entry, tail.rest[0]).match(code)
                if match is None or len(tail.rest) > 1:
                    continue
                bound.update(_said(match))
            header = self._header(tail.entry, at, row)
            if header is None or header[0] == row.line:
                continue
            use = self._cells(tail.entry, bound, header, row) or use
        return use

    def _header(self, entry: Entry, at: int, row: Row) -> Any:
        """The nearest line above that has all the words of an entry's columns."""
        top = max((title.line for title in row.titles if title.style != "comment"), default=0)
        name = (entry.id, top)
        found = self._headers.get(name)
        if found is not None and found[0] < row.line and not self._newer(entry, found[0], at):
            return found
        for before in range(at - 1, max(-1, at - HEADER_WITHIN), -1):
            other = self.rows[before]
            if other.line < top:
                break
            made = self._as_header(entry, other)
            if made is not None:
                self._headers[name] = (other.line, *made)
                return self._headers[name]
        return None

    def _newer(self, entry: Entry, line: int, at: int) -> bool:
        """Whether the line just above is a header itself, nearer than the one known."""
        return at > 0 and self.rows[at - 1].line > line and self._as_header(entry, self.rows[at - 1]) is not None

    def _as_header(self, entry: Entry, row: Row) -> Any:
        if not row.atoms:
            return None
        start, end = row.atoms[0].start, row.atoms[-1].end
        text = row.text
        mark = divider(text, start, end)
        if mark:
            head = text[: start].rstrip()
            start = len(head) - 1 if head.endswith(mark) else start
        for cells in [divide(text, start, end, mark)] + ([] if mark else [single(text, start, end)]):
            columns: dict[int, tuple[str, dict[str, str]]] = {}
            for field, part in entry.columns.items():
                pattern = self.map.compiled(entry, part)
                hits = [
                    (place, match)
                    for place, cell in enumerate(cells)
                    if place not in columns
                    and (match := pattern.match(coded(cut(text, cell.start, cell.end))[0])) is not None
                ]
                exact = [hit for hit in hits if hit[1].end() == len(hit[1].string)]
                many = bool(part.fields)
                for place, match in (exact or hits) if many else (exact or hits)[:1]:
                    columns[place] = (field, _said(match))
                if not hits:
                    break
            else:
                return mark, cells, columns
        return None

    def _cells(self, entry: Entry, bound: dict[str, str], header: Any, row: Row) -> str:
        _, mark, heads, columns = header
        text = row.text
        start, end = row.atoms[0].start, row.atoms[-1].end
        if mark:
            if mark not in text[start:end]:
                return ""
            head = text[:start].rstrip()
            start = len(head) - 1 if head.endswith(mark) else start
            cells: list[Cell | None] = list(divide(text, start, end, mark))
        else:
            loose, tight = divide(text, start, end, ""), single(text, start, end)
            if len(loose) == len(heads):
                cells = list(loose)
            elif len(tight) == len(heads):
                cells = list(tight)
            else:
                cells = under(heads, loose if len(loose) > 1 else tight)
        values: dict[str, Place] = {}
        use = ""
        for place, (field, said) in columns.items():
            cell = cells[place] if place < len(cells) else None
            if cell is None or cell.start >= cell.end:
                continue
            where = Place(row.line, cell.start, cell.end)
            if said:
                use = self._take(entry, {**bound, **said}, [(field, where)], row) or use
            else:
                values[field] = where
        if not values:
            return use
        whole = {**bound, **{name: text[one.start : one.end] for name, one in values.items()}}
        return self._take(entry, whole, list(values.items()), row) or use

    # -- taking ------------------------------------------------------------------------------

    def _number(self, entry: Entry, field: str, text: str) -> int | None:
        """A counting field's number, from 1 as the craft counts."""
        codec = entry.codecs.get(field)
        row = entry.row_of(field)
        if codec is None:
            return int(text) if text.isdigit() and len(text) < 9 else None
        try:
            return int(decode(codec, row._replace(kind="count", least=-9, most=9999), text))
        except (Bad, ValueError):
            return None

    def _name(self, entry: Entry, field: str, bound: Mapping[str, str]) -> str:
        """The setting that a field sets, its number filled in; ``""`` where it counts nothing."""
        name = entry.sets.get(field, field)
        if ".N" not in name:
            return name
        number = self._number(entry, "N", bound.get("N", ""))
        return name.replace(".N", f".{number}", 1) if number is not None and number > 0 else ""

    def _take(
        self,
        entry: Entry,
        bound: Mapping[str, str],
        fields: Sequence[tuple[str, Place]],
        row: Row,
        title: Title | None = None,
    ) -> str:
        """Take the values of one entry from a row: what use was made of it."""
        reads: dict[str, Read] = {}
        failed: list[Misread] = []
        for field, place in fields:
            if field not in entry.sets and entry.makes == "settings":
                continue
            if field in ("N", "P"):
                continue
            written = self.source.lines[place.line - 1][place.start : place.end]
            described, codec = entry.row_of(field), entry.codecs[field]
            try:
                value = decode(codec, described, written)
            except Bad as bad:
                name = self._name(entry, field, bound) if entry.makes == "settings" else entry.makes
                if name:
                    span = on_line(self.file, place.line, place.start, place.end)
                    failed.append(Misread(name, span, self._span(row), written, bad.valid, bad.nearest))
                if entry.makes != "settings" or len(fields) < 2 or not name:
                    self._failed += failed
                    return ""
                continue
            if value is None:
                if entry.makes != "settings":
                    return "kept"
                continue
            reads[field] = Read(entry, field, value, written, place, bound, row)
        for field, text in bound.items():
            if field not in reads and entry.makes != "settings" and field in entry.codecs and field not in ("N", "P"):
                try:
                    value = decode(entry.codecs[field], entry.row_of(field), text)
                except Bad:
                    return ""
                if value is None:
                    return "kept"
                reads[field] = Read(entry, field, value, text, Place(row.line, row.start, row.start), bound, row)
        if failed and not reads:
            self._failed += failed
            return ""
        self.misread += failed
        if entry.makes == "settings":
            made = [self._set(read) for read in reads.values()]
            return "used" if any(made) or not reads else ""
        if entry.way == "phrase":
            return self._part(entry, reads, title, row)
        return self._record(entry, reads, row)

    def _set(self, read: Read) -> bool:
        name = self._name(read.entry, read.field, read.bound)
        if not name:
            return False
        place = read.place
        value = Value(
            name, read.value, "set", on_line(self.file, place.line, place.start, place.end),
            self._span(read.row), read.written,
            read.entry.sure
            and read.entry.codecs[read.field].trusts(read.value)
            and (".N" not in read.entry.sets[read.field] or read.entry.codecs["N"].sure),
        )
        titles = tuple(title.code for title in read.row.titles if title.style != "comment")
        before = self.values.get(name)
        if before is not None:
            if self._titles_of.get(name) != titles and read.entry.at.segments and before.span is not None:
                self.ambiguous.append((read.entry.at.text, Place(before.span.line, before.span.column - 1, before.span.end_column - 1), place))
            if before.origin == "set" and before.value != value.value:
                self.repeats.append(Repeat(before, value))
        self._titles_of[name] = titles
        self.values[name] = value
        return True

    def _part(self, entry: Entry, reads: dict[str, Read], title: Title | None, row: Row) -> str:
        """One part of a range or link whose parts stand in several lines."""
        bound = next(iter(reads.values())).bound if reads else {}
        name = (entry.place, title.line if title is not None else row.line, tuple(sorted(bound.items())))
        record = self._records.setdefault(name, {})
        field = entry.sets["value"]
        if field in record:
            self._records.pop(name)
            self._record(record[field].entry, record, record[field].row)
            record = self._records.setdefault(name, {})
        for one in reads.values():
            record[entry.sets.get(one.field, one.field)] = one
        return "used"

    def _close_records(self) -> None:
        for record in list(self._records.values()):
            first = next(iter(record.values()))
            self._record(first.entry, record, first.row)
        self._records.clear()

    def _record(self, entry: Entry, reads: Mapping[str, Read], row: Row) -> str:
        """A mode range or link from its fields; ``""`` where one is missing."""
        def span(field: str) -> Span:
            place = reads[field].place if field in reads else Place(row.line, row.start, row.note)
            return on_line(self.file, place.line, place.start, place.end)

        mode = reads.get("mode")
        if mode is None:
            return ""
        sure = entry.sure and all(one.entry.codecs.get(one.field, entry.codecs["mode"]).trusts(one.value) for one in reads.values())
        if entry.makes == "link":
            if "follows" not in reads:
                return ""
            self.links.append(ModeLink(mode.value, reads["follows"].value, entry.join, self._span(row), sure))
            return "used"
        low, high = _ends(reads)
        if low is None or high is None or "channel" not in reads:
            return ""
        if entry.skip_empty and low >= high:
            return "ignored"
        join = reads["join"].value if "join" in reads else entry.join
        if entry.all_where and entry.all_where in row.text:
            join = "all"
        ends = ("low", "high") if "low" in reads else ("centre", "half" if "half" in reads else "width")
        self.ranges.append(
            ModeRange(mode.value, reads["channel"].value, low, high, join, self._span(row), span("channel"), span(ends[0]), span(ends[1]), sure)
        )
        return "used"


def _ends(reads: Mapping[str, Read]) -> tuple[float | None, float | None]:
    """The ends of a range, given as such or as a centre and half its width (or all of it)."""
    if "low" in reads and "high" in reads:
        return reads["low"].value, reads["high"].value
    if "low" in reads and "width" in reads:
        return reads["low"].value, round(reads["low"].value + reads["width"].value, 6)
    if "centre" in reads and ("half" in reads or "width" in reads):
        half = reads["half"].value if "half" in reads else reads["width"].value / 2
        return round(reads["centre"].value - half, 6), round(reads["centre"].value + half, 6)
    return None, None


def _atom_range(starts: Sequence[int], start: int, end: int) -> tuple[int, int]:
    return bisect_left(starts, start), bisect_left(starts, end)


def _said(match: re.Match[str]) -> dict[str, str]:
    """What the fields of a match say; joints between atoms are spelling and become blanks."""
    return {
        name: " ".join(atom[1:] for atom in text.split(END) if atom)
        for name, text in match.groupdict().items()
        if text is not None
    }


__all__ = ["COUNTING", "MapReader", "address", "key", "setting"]
