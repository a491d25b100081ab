"""From rows to the craft: each value by the words around it."""

from __future__ import annotations

from bisect import bisect_left
from itertools import chain
from typing import TYPE_CHECKING, Any

from cfglint.craft.model import Misread, ModeLink, ModeRange, Repeat, Stray, Value
from cfglint.craft.settings import setting
from cfglint.dialect.address import address, said
from cfglint.dialect.mapping import COUNTING, Entry, Map
from cfglint.dialect.phrases import Coded, Extents, Hit, boundary, longer_name, unfinished, weightiest
from cfglint.dialect.tables import Header, Tables, cells_of
from cfglint.dialect.values import Bad, Codec, decode, key
from cfglint.dump.atoms import coded, cut
from cfglint.dump.cells import divide, divider, single
from cfglint.dump.layout import Row, Title, rows
from cfglint.record import NamedTuple
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.dialect.address import Address, Segment
    from cfglint.dump.atoms import Atom
    from cfglint.dump.layout import Marks
    from cfglint.dump.source import Source

#: Of a longer row no more atoms are looked at: no line of a dump has as many.
MOST_ATOMS = 600


class Tail(NamedTuple):
    """What is left of an entry's address under certain titles, and what the titles said.

    ``owner`` is the place, among the titles, of the one that the last step found.
    """

    entry: Entry
    rest: tuple[Segment, ...]
    bound: Mapping[str, str]
    weight: int
    owner: int


class Context(NamedTuple):
    """The entries that can stand under certain titles, by what their lines begin with."""

    phrases: dict[str, list[Tail]]
    lines: dict[str, list[Tail]]
    tables: list[Tail]

    @classmethod
    def of(cls, tails: Iterable[Tail]) -> Context:
        made = cls({}, {}, [])
        for tail in tails:
            head = tail.rest[0].head if tail.rest else ""
            if tail.entry.way == "table":
                made.tables.append(tail)
            elif tail.entry.way == "template" or not tail.rest:
                made.lines.setdefault(head, []).append(tail)
            else:
                made.phrases.setdefault(head, []).append(tail)
        return made


class Place(NamedTuple):
    """Where a value stands: its line and characters (from 0)."""

    line: int
    start: int
    end: int


class Read(NamedTuple):
    """One value as read: the entry's field, the neutral value, what the address said.

    ``before`` is the code of what stands in the row before the address.
    """

    entry: Entry
    field: str
    value: Any
    written: str
    place: Place
    bound: Mapping[str, str]
    row: Row
    before: str


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
        self.ambiguous: list[tuple[str, Place, Place]] = []
        self.given: dict[str, float] = {}
        self._tables = Tables(self.rows, dialect_map)
        self._extents = Extents(dialect_map)
        self._base = Context.of(
            Tail(entry, entry.at.segments, {}, _rank(entry, 0, 0), -1) for entry in dialect_map.entries
        )
        self._deep = [
            entry
            for entry in dialect_map.entries
            if len(entry.at.segments) > 1 or _may_be_bare(entry)
        ]
        self._contexts: dict[tuple[str, ...], Context] = {}
        self._said: dict[tuple[str, str], dict[str, str] | None] = {}
        self._records: dict[tuple[Any, ...], dict[str, Read]] = {}
        self._origins: dict[str, tuple[tuple[str, ...], str, str]] = {}
        self._joins: dict[str, str] = {}
        self._failed: list[Misread] = []

    # -- titles ------------------------------------------------------------------------------

    def _title_says(self, entry: Entry, part: Segment, title: Title) -> dict[str, str] | None:
        """What a title binds where it is this segment; None where it is not.

        A comment is prose: it may hold a number that counts, but no other field.
        """
        code = title.code
        if title.style == "comment" and any(field not in COUNTING for field in part.fields):
            return None
        name = (self.map.source(entry, part), code)
        if name not in self._said:
            match = self.map.title(entry, part).fullmatch(code)
            self._said[name] = said(match) if match is not None else None
        return self._said[name]

    def _tails(self, entry: Entry, titles: Sequence[Title]) -> Iterator[Tail]:
        """Every way in which titles can stand for the first steps of an entry's address."""
        parts = entry.at.segments
        most = len(parts) if _may_be_bare(entry) else len(parts) - 1
        for count in range(most, 0, -1):
            bound: dict[str, str] = {}
            at, owner = len(titles), -1
            for part in reversed(parts[:count]):
                for at in range(at - 1, -1, -1):
                    found = self._title_says(entry, part, titles[at])
                    if found is not None:
                        bound = {**found, **bound}
                        owner = at if owner < 0 else owner
                        break
                else:
                    break
            else:
                yield Tail(entry, parts[count:], bound, _rank(entry, count, owner + 1), owner)

    def _context(self, titles: tuple[Title, ...]) -> Context:
        """What can stand under certain titles, beside what can stand anywhere."""
        name = tuple(f"{title.style == 'comment'}{title.code}" for title in titles)
        found = self._contexts.get(name)
        if found is None:
            tails = chain.from_iterable(self._tails(entry, titles) for entry in self._deep)
            found = self._contexts[name] = Context.of(tails)
        return found

    # -- the whole ---------------------------------------------------------------------------

    def read(self) -> None:
        """Read every row."""
        if any(entry.makes == "given" for entry in self.map.entries):
            self._read_given()
        for at, row in enumerate(self.rows):
            if row.comment:
                self.uses.setdefault(row.line, "comment")
            elif all(atom.kind == "mark" for atom in row.atoms):
                long = not row.atoms and bool(row.text.strip())
                self.uses.setdefault(row.line, "unreadable" if long else "comment")
            else:
                self.uses[row.line] = self._row(at, row)
        self._close_records()
        # Only the lines under it show that a line is a header.
        headers = self._tables.headers
        self.strays = [one for one in self.strays if one.span.line not in headers]
        self.uses.update((line, "title") for line in headers if self.uses.get(line) == "stray")
        self.ranges = [
            one._replace(join=self._joins[one.mode]) if one.mode in self._joins else one
            for one in self.ranges
        ]

    def _coded(self, row: Row) -> Coded:
        atoms = row.atoms[:MOST_ATOMS]
        code, starts = coded(atoms, self.map.exact)
        return Coded(row._replace(atoms=atoms), code, starts)

    def _head(self, atom: Atom) -> str:
        return f"{atom.kind[0]}{atom.text if self.map.exact else atom.text.lower()}"

    def _read_given(self) -> None:
        """Numbers that others are made with, wherever they stand."""
        entries = [entry for entry in self.map.entries if entry.makes == "given"]
        base, deep = self._base, self._deep
        self._base = Context.of(Tail(one, one.at.segments, {}, _weight(one), -1) for one in entries)
        self._deep = [one for one in entries if len(one.at.segments) > 1]
        for row in self.rows:
            if not row.comment and row.atoms:
                one = self._coded(row)
                context = self._context(row.titles)
                _ = self._template(one, context) or self._phrases(one, context)
        self._base, self._deep = base, deep
        self._contexts.clear()
        self.misread.clear()

    def _row(self, at: int, row: Row) -> str:
        one = self._coded(row)
        if any(self._fits(part, one) for part in self.map.ignored):
            return "ignored"
        context = self._context(row.titles)
        if self._removed(row, context):
            return "removal"
        self._failed = []
        found = self._template(one, context)
        found = self._phrases(one, context, whole=bool(found)) or found
        found = self._table(at, one, context) or found
        if found:
            return found
        if self._failed:
            self.misread.append(self._failed[0])
            return "misread"
        if any(self._fits(part, one) for part in self.map.kept):
            return "kept"
        if self._is_title(at, row):
            return "title"
        self.strays.append(Stray(self._span(row), self._span(row), row.text.strip()[:80], ""))
        return "stray"

    def _is_title(self, at: int, row: Row) -> bool:
        """Whether rows further down stand under this one."""
        following = self.rows[at + 1] if at + 1 < len(self.rows) else None
        return following is not None and any(title.line == row.line for title in following.titles)

    def _span(self, row: Row) -> Span:
        if not row.atoms:
            return on_line(self.file, row.line, 0, len(row.text))
        return self._at(self._place(row, row.atoms[0].start, row.atoms[-1].end))

    def _place(self, row: Row, start: int, end: int) -> Place:
        return Place(*row.place(start, end))

    def _at(self, place: Place) -> Span:
        return on_line(self.file, place.line, place.start, place.end)

    def _fits(self, part: Address, one: Coded) -> bool:
        """Whether an address without a value, as those of what is kept, fits a row."""
        titles = [title.code for title in one.row.titles]
        for step in part.segments[:-1]:
            pattern = self.map.compiled(None, step)
            while titles and pattern.fullmatch(titles[0]) is None:
                titles.pop(0)
            if not titles:
                return False
            titles.pop(0)
        return self.map.compiled(None, part.segments[-1]).match(one.code) is not None

    def _removed(self, row: Row, context: Context) -> bool:
        pattern = self.map.removal
        match = pattern.fullmatch(row.text, row.start) if pattern is not None else None
        if match is None:
            return False
        atoms = cut(row.text, match.start("name"), match.end("name"))
        for hit in self._hits(self._coded(row._replace(atoms=atoms)), context):
            self.values.pop(self._name(hit.entry, "value", hit.bound), None)
        return True

    # -- whole lines -------------------------------------------------------------------------

    def _template(self, one: Coded, context: Context) -> str:
        """A line whose fields stand among its words."""
        atoms = one.row.atoms
        first = next((atom for atom in atoms if atom.kind != "mark"), atoms[0])
        head = self._head(first)
        tails = [
            tail
            for lines in (self._base.lines, context.lines)
            for name in (head, "")
            for tail in lines.get(name, ())
        ]
        fits = []
        for tail in tails:
            if tail.entry.way == "each":
                fits.append((tail, None))
            elif (match := self.map.whole(tail.entry, tail.rest).fullmatch(one.code)) is not None:
                fits.append((tail, match))
        fits.sort(key=lambda fit: -fit[0].weight)
        use, heaviest = "", 0
        read: dict[tuple[str | int, ...], str] = {}
        for tail, match in fits:
            # Of several ways to write one entry only the first is read.
            if read.get(tail.entry.place, tail.entry.at.text) != tail.entry.at.text:
                continue
            # Two settings may be written as one number: both addresses are then alike.
            if use and tail.weight != heaviest:
                break
            if match is None:
                found = self._each(tail.entry, tail.bound, one.row, one.row.atoms[0].start)
            else:
                bound = {**tail.bound, **self._fields(match, one)}
                places = [(name, self._group(match, name, one)) for name in _named(match)]
                found = self._take(tail.entry, bound, places, one.row, self._owner(tail, one.row))
            if found:
                use, heaviest = use or found, tail.weight
                read.setdefault(tail.entry.place, tail.entry.at.text)
        return use

    def _owner(self, tail: Tail, row: Row) -> Title | None:
        return row.titles[tail.owner] if tail.owner >= 0 else None

    def _group(self, match: Any, name: str, one: Coded) -> Place:
        first, last = (bisect_left(one.starts, match.start(name)), bisect_left(one.starts, match.end(name)))
        return self._place(one.row, one.row.atoms[first].start, one.row.atoms[last - 1].end)

    def _fields(self, match: Any, one: Coded) -> dict[str, str]:
        """The text of each field of a match, as it stands in the line."""
        found = {}
        for name in _named(match):
            first, last = (bisect_left(one.starts, match.start(name)), bisect_left(one.starts, match.end(name)))
            found[name] = one.row.text[one.row.atoms[first].start : one.row.atoms[last - 1].end]
        return found

    # -- words and the value behind them -----------------------------------------------------

    def _hits(self, one: Coded, context: Context) -> Iterator[Hit]:
        """Where the words of addresses stand in a row."""
        atoms = one.row.atoms
        leading = True
        for at, atom in enumerate(atoms):
            if atom.kind == "mark":
                continue
            head = self._head(atom)
            for phrases in (self._base.phrases, context.phrases):
                for tail in (*phrases.get(head, ()), *phrases.get("", ())):
                    if len(tail.rest) == 1:
                        yield from self._hit(tail, tail.bound, one, at, at, 0)
                    elif leading and len(tail.rest) == 2:
                        yield from self._headed(tail, one, at)
            leading = False

    def _hit(
        self, tail: Tail, bound: Mapping[str, str], one: Coded, start: int, at: int, step: int
    ) -> Iterator[Hit]:
        match = self.map.compiled(tail.entry, tail.rest[step]).match(one.code, one.starts[at])
        if match is None:
            return
        more = said(match)
        run = at
        if "_run" in match.re.groupindex:
            run = bisect_left(one.starts, match.start("_run"))
            while one.row.atoms[run].kind == "mark":
                run += 1
        stop = bisect_left(one.starts, match.end())
        yield Hit(
            tail.entry, {**bound, **more} if more else bound, tail.weight,
            self._owner(tail, one.row), start, run, stop,
        )  # fmt: skip

    def _headed(self, tail: Tail, one: Coded, at: int) -> Iterator[Hit]:
        """Words behind a head at the row's start: ``port 3`` and then ``speed``."""
        head = self.map.compiled(tail.entry, tail.rest[0]).match(one.code, one.starts[at])
        if head is None:
            return
        bound = {**tail.bound, **said(head)}
        for place in range(bisect_left(one.starts, head.end()), len(one.row.atoms)):
            if one.row.atoms[place].kind != "mark":
                yield from self._hit(tail, bound, one, at, place, 1)

    def _phrases(self, one: Coded, context: Context, whole: bool = False) -> str:
        """Values that follow their words, as many as the row has.

        Of a line that a ``whole`` template has read, only what begins as the line does.
        """
        row = one.row
        hits = [hit for hit in self._hits(one, context) if not longer_name(row, hit)]
        if whole:
            first = next((at for at, atom in enumerate(row.atoms) if atom.kind != "mark"), 0)
            hits = [hit for hit in hits if hit.start == first and hit.run > first]
        hits = sorted(weightiest(hits), key=lambda hit: (hit.run, -hit.stop))
        use, free_from, covered = "", 0, 0
        for number, hit in enumerate(hits):
            if hit.run < covered and not (number and hits[number - 1].run == hit.run):
                continue
            if hit.run < free_from or not boundary(row, hit, free_from):
                continue
            later = [other.run for other in hits[number + 1 :] if boundary(row, other, hit.stop)]
            end = self._value(one, hit, later)
            if end < 0:
                continue
            use = "used"
            covered = max(covered, hit.stop)
            same = number + 1 < len(hits) and hits[number + 1].stop == hit.stop
            free_from = free_from if same else end
        return use

    def _value(self, one: Coded, hit: Hit, later: Sequence[int]) -> int:
        """Read what follows an address; the atom behind it, or -1 where nothing is there."""
        row, entry = one.row, hit.entry
        if entry.way == "each":
            if hit.stop >= len(row.atoms):
                return -1
            self._each(entry, hit.bound, row, row.atoms[hit.stop].start)
            return len(row.atoms)
        found = self._extents.find(entry, one, hit, later)
        if found is None:
            return -1
        start, end, good = found
        if not good and self._unfinished(row, hit):
            return -1
        before = one.code[: one.starts[hit.start]]
        use = self._take(entry, hit.bound, [("value", self._place(row, start, end))], row, hit.title, before)
        return bisect_left([atom.start for atom in row.atoms], end) if good and use else -1

    def _unfinished(self, row: Row, hit: Hit) -> bool:
        """Whether the words before a value that cannot be read are only part of a name."""
        return unfinished(row, hit)

    def _each(self, entry: Entry, bound: Mapping[str, str], row: Row, first: int) -> str:
        """Values in a row, counted by their place; or items that repeat."""
        end = row.atoms[-1].end
        use = ""
        if entry.item is not None:
            atoms = [atom for atom in row.atoms if atom.start >= first]
            one = Coded(row._replace(atoms=atoms), *coded(atoms, self.map.exact))
            pattern = self.map.compiled(entry, entry.item)
            at = 0
            while (match := pattern.search(one.code, at)) is not None and match.end() > match.start():
                places = [(name, self._group(match, name, one)) for name in _named(match)]
                use = self._take(entry, {**bound, **self._fields(match, one)}, places, row) or use
                at = match.end()
            return use
        mark = divider(row.text, first, end)
        cells = divide(row.text, first, end, mark) if mark else single(row.text, first, end)
        base = entry.codecs["N"].first
        for number, cell in enumerate(cells, 1 if base is None else base):
            if cell.start < cell.end:
                place = self._place(row, cell.start, cell.end)
                use = self._take(entry, {**bound, "N": str(number)}, [("value", place)], row) or use
        return use

    # -- tables ------------------------------------------------------------------------------

    def _table(self, at: int, one: Coded, context: Context) -> str:
        use = ""
        for tail in (*self._base.tables, *context.tables):
            bound = dict(tail.bound)
            if len(tail.rest) > 1:
                continue
            if tail.rest:
                match = self.map.compiled(tail.entry, tail.rest[0]).match(one.code)
                if match is None:
                    continue
                bound.update(said(match))
            header = self._tables.header(tail.entry, at)
            if header is not None:
                use = self._cells(tail.entry, bound, header, one.row) or use
        return use

    def _cells(self, entry: Entry, bound: dict[str, str], header: Header, row: Row) -> str:
        cells = cells_of(row, header)
        values: dict[str, Place] = {}
        whole = dict(bound)
        use = ""
        for place, (field, words) in header.columns.items():
            cell = cells[place] if place < len(cells) else None
            if cell is None or cell.start >= cell.end:
                continue
            where = self._place(row, cell.start, cell.end)
            if words:
                use = self._take(entry, {**bound, **words}, [(field, where)], row) or use
            else:
                values[field] = where
                whole[field] = row.text[cell.start : cell.end]
        if not values:
            return use
        return self._take(entry, whole, list(values.items()), row) or use

    # -- taking ------------------------------------------------------------------------------

    def _codec(self, entry: Entry, field: str) -> Codec:
        """A field's codec, with the numbers that the dump itself gives."""
        codec = entry.codecs[field]
        if codec.given:
            found = {name: self.given.get(one) for name, one in codec.given}
            if any(value is None for value in found.values()):
                raise Bad(f"a number, after {', '.join(one for _, one in codec.given)}")
            codec = codec._replace(given=(), **found)
        return codec

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
        return self._numbered(entry, entry.sets.get(field, field), bound)

    def _numbered(self, entry: Entry, name: str, bound: Mapping[str, str]) -> str:
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
        before: str = "",
    ) -> str:
        """Take the values of one entry from a row: what use was made of it."""
        reads: dict[str, Read] = {}
        failed: list[Misread] = []
        parts = entry.makes not in ("settings", "given")
        for field, place in fields:
            if field in ("N", "P") or field not in (entry.codecs if parts else entry.sets):
                continue
            written = self.source.lines[place.line - 1][place.start : place.end]
            try:
                value = decode(self._codec(entry, field), entry.row_of(field), written)
            except Bad as bad:
                name = entry.makes if parts else self._name(entry, field, bound)
                if name:
                    failed.append(
                        Misread(name, self._at(place), self._span(row), written, bad.valid, bad.nearest)
                    )
                if parts or len(fields) < 2 or not name:
                    self._failed += failed
                    return ""
                continue
            if value is None:
                if parts:
                    return "kept"
                continue
            reads[field] = Read(entry, field, value, written, place, bound, row, before)
        if parts and not self._from_titles(entry, bound, reads, row):
            return "kept"
        if failed and not reads:
            self._failed += failed
            return ""
        self.misread += failed
        if entry.gives:
            return self._give(entry, bound, fields, row)
        if entry.makes == "given":
            self.given.update((entry.sets[field], read.value) for field, read in reads.items())
            return "used"
        if entry.makes == "settings":
            made = [self._set(read) for read in reads.values()]
            return "used" if any(made) or not reads else ""
        if entry.part:
            return self._part(entry, reads, title, row)
        return self._record(entry, reads, row)

    def _from_titles(
        self, entry: Entry, bound: Mapping[str, str], reads: dict[str, Read], row: Row
    ) -> bool:
        """Parts that titles or header cells say; False where the firmware's own is said."""
        for field, text in bound.items():
            if field in reads or field in ("N", "P") or field not in entry.codecs or field == "value":
                continue
            try:
                value = decode(self._codec(entry, field), entry.row_of(field), text)
            except Bad:
                return False
            if value is None:
                return False
            place = Place(row.line, row.start, row.start)
            reads[field] = Read(entry, field, value, text, place, bound, row, "")
        return True

    def _give(
        self,
        entry: Entry,
        bound: Mapping[str, str],
        fields: Sequence[tuple[str, Place]],
        row: Row,
    ) -> str:
        """Set what a line says by being there."""
        place = fields[0][1] if fields else self._place(row, row.start, row.note)
        written = self.source.lines[place.line - 1][place.start : place.end]
        use = ""
        for family, value in entry.gives.items():
            name = self._numbered(entry, family, bound)
            if name:
                span = self._at(place)
                self._keep(Value(name, value, "set", span, self._span(row), written, entry.sure))
                use = "used"
        return use

    def _set(self, read: Read) -> bool:
        name = self._name(read.entry, read.field, read.bound)
        if not name:
            return False
        sure = read.entry.sure and read.entry.codecs[read.field].trusts(read.value)
        if ".N" in read.entry.sets[read.field] and "N" in read.entry.codecs:
            sure = sure and read.entry.codecs["N"].sure
        value = Value(
            name, read.value, "set", self._at(read.place), self._span(read.row), read.written, sure
        )
        titles = tuple(title.code for title in read.row.titles if title.style != "comment")
        origin = (titles, read.before, read.entry.id)
        known = self.values.get(name)
        if known is not None and known.span is not None:
            one = Place(known.span.line, known.span.column - 1, known.span.end_column - 1)
            other = self._origins.get(name)
            # Two places that one address fits, though other words stand around them.
            if one != read.place and other is not None and other[2] == origin[2] and other != origin:
                self.ambiguous.append((read.entry.at.text, one, read.place))
        self._origins[name] = origin
        self._keep(value)
        return True

    def _keep(self, value: Value) -> None:
        before = self.values.get(value.name)
        if before is not None and before.origin == "set" and before.value != value.value:
            self.repeats.append(Repeat(before, value))
        self.values[value.name] = value

    # -- mode ranges and links ---------------------------------------------------------------

    def _part(self, entry: Entry, reads: dict[str, Read], title: Title | None, row: Row) -> str:
        """One part of a range or link whose parts stand in several lines."""
        bound = {
            name: text
            for one in reads.values()
            for name, text in one.bound.items()
            if name in ("N", "P")
        }
        whose = title.line if title is not None else 0 if bound else row.line
        name = (entry.place, whose, tuple(sorted(bound.items())))
        record = self._records.setdefault(name, {})
        field = entry.sets["value"]
        if field in record:
            self._records.pop(name)
            self._close(record)
            record = self._records.setdefault(name, {})
        for one in reads.values():
            record[field if one.field == "value" else one.field] = one
        return "used"

    def _close(self, record: Mapping[str, Read]) -> None:
        first = record.get("mode") or next(iter(record.values()))
        self._record(first.entry, record, first.row)

    def _close_records(self) -> None:
        for record in self._records.values():
            self._close(record)
        self._records.clear()

    def _record(self, entry: Entry, reads: Mapping[str, Read], row: Row) -> str:
        """A mode range or link from its fields; ``""`` where one is missing."""
        mode = reads["mode"].value if "mode" in reads else self._mode_before(entry)
        if not mode:
            return ""
        sure = entry.sure and all(
            one.entry.codecs.get(one.field, one.entry.codecs["mode"]).trusts(one.value)
            for one in reads.values()
        )
        join = reads["join"].value if "join" in reads else entry.join
        if entry.all_where is not None and entry.all_where.search(row.text):
            join = "all"
        if entry.makes == "join":
            self._joins[mode] = join
            return "used"
        if entry.makes == "link":
            if "follows" not in reads:
                return ""
            self.links.append(ModeLink(mode, reads["follows"].value, join, self._span(row), sure))
            return "used"
        if "channel" not in reads:
            return ""
        ends = self._ends(entry, reads)
        if not ends:
            return ""
        if entry.skip_empty:
            ends = [one for one in ends if one[0] < one[1]]
            if not ends:
                return "ignored"
        if "mode" not in reads and join == "all":
            self._joins[mode] = join
        channel = reads["channel"]
        for low, high, low_at, high_at in ends:
            self.ranges.append(
                ModeRange(
                    mode, channel.value, low, high, join, self._span(row),
                    self._at(channel.place), self._at(low_at), self._at(high_at), sure,
                )  # fmt: skip
            )
        return "used"

    def _mode_before(self, entry: Entry) -> str:
        """The mode of the range above, for a line that goes on with it."""
        whole = entry.way == "template" and "mode" not in entry.at.fields and not entry.part
        if entry.makes != "range" or not whole or not self.ranges:
            return ""
        return self.ranges[-1].mode

    def _ends(
        self, entry: Entry, reads: Mapping[str, Read]
    ) -> list[tuple[float, float, Place, Place]]:
        """The ends of a range, or of several that one bar shows, and where they stand."""
        if "bar" in reads:
            return _stretches(reads["bar"], self._codec(entry, "bar"))
        value = {name: one.value for name, one in reads.items()}
        place = {name: one.place for name, one in reads.items()}
        if "low" in reads and "high" in reads:
            return [(value["low"], value["high"], place["low"], place["high"])]
        if "low" in reads and "width" in reads:
            high = round(value["low"] + value["width"], 6)
            return [(value["low"], high, place["low"], place["width"])]
        if "centre" in reads and ("half" in reads or "width" in reads):
            half = value["half"] if "half" in reads else value["width"] / 2
            low, high = round(value["centre"] - half, 6), round(value["centre"] + half, 6)
            return [(low, high, place["centre"], place["half" if "half" in reads else "width"])]
        return []


def _stretches(read: Read, codec: Codec) -> list[tuple[float, float, Place, Place]]:
    """The stretches of a drawn bar that are on: each mark is one step of its scale."""
    found = []
    start = -1
    for at, mark in enumerate(f"{read.written} "):
        if mark == codec.filled and start < 0:
            start = at
        elif mark != codec.filled and start >= 0:
            place = read.place
            where = Place(place.line, place.start + start, place.start + at)
            low, high = (codec.offset + codec.scale * one for one in (start, at))
            found.append((low, high, where, where))
            start = -1
    return found


def _weight(entry: Entry) -> int:
    return sum(part.weight for part in entry.at.segments)


def _rank(entry: Entry, count: int, nearest: int) -> int:
    """Which of two addresses that fit is meant: the one with more words in the line itself, then
    the one whose title is nearer (its place among them, from 1), then the longer one.
    """
    own = sum(part.weight for part in entry.at.segments[count:])
    return (own * 64 + nearest) * 256 + min(4 * _weight(entry) + count, 255)


def _may_be_bare(entry: Entry) -> bool:
    """Whether titles alone may say where an entry stands: the cells of a table, the items."""
    return entry.way == "table" or (entry.way == "each" and entry.item is not None)


def _named(match: Any) -> list[str]:
    return [name for name, text in match.groupdict().items() if text and name != "_run"]


__all__ = ["COUNTING", "MapReader", "Place", "Read", "address", "key", "setting"]
