"""From rows to the craft: each value by the words around it."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.model import Misread, ModeLink, ModeRange, Repeat, Stray, Value
from cfglint.craft.settings import setting
from cfglint.dialect.address import address, said
from cfglint.dialect.index import Coded, Context, Index, Kept, Tail, code_row
from cfglint.dialect.mapping import COUNTING, Entry, Map
from cfglint.dialect.phrases import Extents, Hit, boundary, longer_name, unfinished, weightiest
from cfglint.dialect.tables import Header, Tables, cells_of
from cfglint.dialect.values import Bad, Codec, decode, key
from cfglint.dump.atoms import cut
from cfglint.dump.cells import Cell, divide, divider, single
from cfglint.dump.layout import Row, Title, rows
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.dump.layout import Marks
    from cfglint.dump.source import Source


#: A record whose parts stand apart: its entry, its title's or line's number, where its object
#: begins, and the numbers that its address says.
Whose = tuple[tuple[str | int, ...], int, int, tuple[tuple[str, str], ...]]
#: No dump has so many different titles; those of a map are forgotten beyond.
MOST_CONTEXTS = 2000
#: A line that a template in characters may fit is no longer.
LONGEST_SPELLED = 300
#: Of so many written values a map remembers what they mean.
MOST_DECODED = 20_000

#: The titles over a value, what stands before its address in the row, and its entry.
Origin = tuple[tuple["Title", ...], str, str]


class Place(NamedTuple):
    """Where a value stands: its line and characters (from 0); its ``text``, if it is wrapped."""

    line: int
    start: int
    end: int
    text: str = ""


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
        self.patterns = dialect_map.patterns
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
        self._giving: set[int] = set()
        self._tables = Tables(self.rows, self.patterns)
        self._extents = Extents(self.patterns)
        if dialect_map.index is None:
            dialect_map.index = (
                Index(self.patterns, [one for one in dialect_map.entries if one.makes != "given"]),
                Index(self.patterns, [one for one in dialect_map.entries if one.makes == "given"]),
                Kept(self.patterns, dialect_map.kept),
                Kept(self.patterns, dialect_map.ignored),
            )
        self._index, self._numbers, self._kept, self._ignored = dialect_map.index
        self._base: Context = self._index.base
        self._spanned: tuple[Row, Span] | None = None
        self._latest_coded: tuple[Row, Coded] | None = None
        self._latest: tuple[tuple[Title, ...], Context] | None = None
        #: A map is used for many dumps, and their titles are much the same.
        self._contexts: dict[tuple[tuple[bool, str], ...], Context] = self._index.contexts
        self._records: dict[Whose, dict[str, Read]] = {}
        #: Records of which a part could not be read, or says nothing that the craft knows.
        self._silent: set[Whose] = set()
        #: Where the parts of what was made stand, and what lacks a part.
        self._made: set[Place] = set()
        self._lacking: list[tuple[Read, set[str]]] = []
        self._origins: dict[str, Origin] = {}
        self._joins: dict[str, Literal["any", "all"]] = {}
        self._failed: list[Misread] = []
        #: Settings whose line says a word of the firmware's own, or that nothing is set (True).
        self.blank: dict[str, tuple[Misread, bool]] = {}
        #: Ranges of modes that have no meaning here: by the firmware's own word, or behind a ``?``.
        self.drawn: list[ModeRange] = []
        #: The modes of numbered lines, and the links that name their line by its number.
        self._labels: dict[int, str] = {}
        self._following: list[tuple[str, Literal["any", "all"], Read, bool]] = []

    # -- titles ------------------------------------------------------------------------------

    def _context(self, titles: tuple[Title, ...]) -> Context:
        """What can stand under certain titles, beside what can stand anywhere."""
        if self._latest is not None and titles is self._latest[0]:
            return self._latest[1]
        name = tuple([(title.style == "comment", title.code) for title in titles])
        found = self._contexts.get(name)
        if found is None:
            says = []
            for title, kind in zip(titles, name, strict=True):
                if kind not in self._index.said:
                    self._index.said[kind] = self._index.says(title)
                says.append(self._index.said[kind])
            if len(self._contexts) > MOST_CONTEXTS:
                self._contexts.clear()
                self._index.said.clear()
            found = self._contexts[name] = self._index.under(says)
        self._latest = titles, found
        return found

    # -- the whole ---------------------------------------------------------------------------

    def read(self) -> None:
        """Read every row."""
        if any(entry.makes == "given" for entry in self.map.entries):
            self._read_given()
        for at, row in enumerate(self.rows):
            if row.comment:
                self.uses.setdefault(row.line, "comment")
            elif not (row.atoms and row.atoms[0].kind != "mark") and all(
                atom.kind == "mark" for atom in row.atoms
            ):
                long = not row.atoms and bool(row.text.strip())
                self.uses.setdefault(row.line, "unreadable" if long else "comment")
            else:
                self._use(row.line, self._row(at, row))
        self._close_records()
        # Only the lines under it show that a line is a header.
        headers = self._tables.headers
        self.strays = [one for one in self.strays if one.span.line not in headers]
        self.uses.update((line, "title") for line in headers if self.uses.get(line) == "stray")
        self.ranges = [
            one._replace(join=self._joins[one.mode]) if one.mode in self._joins else one
            for one in self.ranges
        ]

    def _use(self, line: int, use: str) -> None:
        """Note what became of a line; of several sentences in it the worst counts."""
        before = self.uses.get(line)
        if before is None:
            self.uses[line] = use
            return
        worst = (one for one in ("unreadable", "misread", "stray") if one in (before, use))
        self.uses[line] = next(worst, "used" if before == "used" else use)

    def _coded(self, row: Row) -> Coded:
        """A row as it is matched; the same row is asked for several times on end."""
        if self._latest_coded is None or self._latest_coded[0] is not row:
            self._latest_coded = row, code_row(row, self.map.exact)
        return self._latest_coded[1]

    def _read_given(self) -> None:
        """Numbers that others are made with, wherever they stand."""
        index, self._index = self._index, self._numbers
        self._contexts = self._numbers.contexts
        self._base = self._index.base
        for row in self.rows:
            if not row.comment and row.atoms:
                one = self._coded(row)
                context = self._context(row.titles)
                if self._template(one, context) or self._phrases(one, context):
                    self._giving.add(row.line)
        self._index, self._base = index, index.base
        self._contexts = index.contexts
        self._latest = None
        self.misread.clear()

    def _row(self, at: int, row: Row) -> str:
        one = self._coded(row)
        if self.map.ignored and self._ignored.fits(one):
            return "ignored"
        context = self._context(row.titles)
        if self._removed(row, context):
            return "removal"
        self._failed = []
        found = self._template(one, context)
        found = self._phrases(one, context, whole=bool(found)) or found
        # A heading between the lines of a table is none of them.
        if (self._base.tables or context.tables) and not row.heading:
            found = self._table(at, one, context) or found
        if found or row.line in self._giving:
            return found or "used"
        if self._failed:
            self.misread.append(self._failed[0])
            return "misread"
        if self._kept.fits(one):
            return "kept"
        if row.heading or self._is_title(at, row):
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
        if self._spanned is None or self._spanned[0] is not row:
            place = self._place(row, row.atoms[0].start, row.atoms[-1].end)
            self._spanned = row, self._at(place)
        return self._spanned[1]

    def _place(self, row: Row, start: int, end: int) -> Place:
        if not row.joins:
            return Place(row.line, start, end)
        place = Place(*row.place(start, end))
        if place.end - place.start < end - start:
            return place._replace(text=row.text[start:end])
        return place

    def _text_at(self, place: Place) -> str:
        return self.source.lines[place.line - 1][place.start : place.end]

    def _at(self, place: Place) -> Span:
        return on_line(self.file, place.line, place.start, place.end)

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
        base, below = self._base.lines, context.lines
        tails = [*base.at(one.plain, 0), *base.free, *below.at(one.plain, 0), *below.free]
        fits: list[tuple[Tail, re.Match[str] | None]] = []
        words = set(one.plain) if tails else set()
        for tail in tails:
            if tail.entry.way == "each":
                fits.append((tail, None))
            elif not (tail.entry.characters or words.issuperset(self._needs(tail))):
                continue
            elif (match := self._whole(tail, one)) is not None:
                fits.append((tail, match))
        if not fits:
            return ""
        if len(fits) > 1:
            fits.sort(key=lambda fit: -fit[0].weight)
        use, heaviest, owner = "", 0, -1
        done: set[str] = set()
        read: dict[tuple[str | int, ...], str] = {}
        for tail, match in fits:
            # Of several ways to write one entry only the first is read.
            if read.get(tail.entry.place, tail.entry.at.text) != tail.entry.at.text:
                continue
            # Two settings may be written as one number, or each have its template of the row;
            # what is under a nearer title is not said of one further out.
            sets = set(tail.entry.sets.values()) if tail.entry.makes == "settings" else {""}
            apart = "" not in sets | done and not sets & done and tail.owner == owner
            if use and tail.weight != heaviest and not apart:
                continue
            failed = len(self._failed)
            if match is None:
                found = self._each(tail.entry, tail.bound, one.row, one.row.atoms[0].start)
            else:
                bound, places = self._matched(match, one, tail.entry.characters)
                bound = {**tail.bound, **bound}
                found = self._take(tail.entry, bound, places, one.row, self._owner(tail, one.row))
            if not found and match is not None:
                # What is nothing but a value may be another line that is kept.
                if not any(part.weight for part in tail.rest) and self._kept.fits(one):
                    del self._failed[failed:]
            elif found:
                owner = owner if use else tail.owner
                use, heaviest = use or found, max(heaviest, tail.weight)
                done |= sets
                read.setdefault(tail.entry.place, tail.entry.at.text)
        return use

    def _needs(self, tail: Tail) -> frozenset[str]:
        return self.patterns.needs(tail.entry, tail.rest)

    def _whole(self, tail: Tail, one: Coded) -> re.Match[str] | None:
        """A whole line that is as a template says, by its atoms or by its characters."""
        if not tail.entry.characters:
            return self.patterns.whole(tail.entry, tail.rest).fullmatch(one.code)
        row = one.row
        if len(tail.rest) != 1 or row.note - row.start > LONGEST_SPELLED:
            return None
        pattern = self.patterns.characters(tail.entry, tail.rest[0])
        return pattern.fullmatch(row.text, row.start, row.note)

    def _matched(
        self, match: re.Match[str], one: Coded, characters: bool
    ) -> tuple[dict[str, str], list[tuple[str, Place]]]:
        """The text of each field of a match, and where it stands."""
        row, starts = one.row, one.starts
        bound, places = {}, []
        for name in _named(match):
            start, end = match.span(name)
            if not characters:
                start = row.atoms[bisect_left(starts, start)].start
                end = row.atoms[bisect_left(starts, end) - 1].end
            bound[name] = row.text[start:end]
            places.append((name, self._place(row, start, end)))
        return bound, places

    def _owner(self, tail: Tail, row: Row) -> Title | None:
        return row.titles[tail.owner] if tail.owner >= 0 else None

    # -- words and the value behind them -----------------------------------------------------

    def _hits(self, one: Coded, context: Context, first: bool = False) -> list[Hit]:
        """Where the words of addresses stand in a row; or only those that its ``first`` begins."""
        found: list[Hit] = []
        plain = one.plain
        for phrases in (self._base.phrases, context.phrases):
            sizes = phrases.sizes
            places = [at for at, word in enumerate(plain) if word in sizes] if sizes else []
            for start in places if not first else [at for at in places if not at]:
                for tail in phrases.at(plain, start):
                    self._tail_hits(tail, one, start, found)
            if plain:
                # An address that begins with a field can only be told at the row's start.
                for tail in phrases.free:
                    self._tail_hits(tail, one, 0, found)
        return found

    def _tail_hits(self, tail: Tail, one: Coded, start: int, found: list[Hit]) -> None:
        """Where what is left of an address stands, if its first words stand at a place."""
        steps = len(tail.rest)
        if steps == 1:
            self._hit(tail, tail.bound, one, one.places[start], start, 0, found)
        elif start == 0 and steps == 2:
            self._headed(tail, one, found)

    def _hit(
        self,
        tail: Tail,
        bound: Mapping[str, str],
        one: Coded,
        first: int,
        start: int,
        step: int,
        found: list[Hit],
    ) -> None:
        """Note the words of one step at a place of the row, if they stand there."""
        part = tail.rest[step]
        at = one.places[start]
        row = one.row
        owner = row.titles[tail.owner] if tail.owner >= 0 else None
        if part.literal:
            size = len(part.pieces)
            if not step or part.lead == tuple(one.plain[start : start + size]):
                stop = one.places[start + size - 1] + 1
                found.append(Hit(tail.entry, bound, tail.weight, owner, first, at, stop))
            return
        match = self.patterns.compiled(tail.entry, part).match(one.code, one.starts[at])
        if match is None:
            return
        more = said(match)
        run = at
        if "_run" in match.re.groupindex:
            run = bisect_left(one.starts, match.start("_run"))
            while row.atoms[run].kind == "mark":
                run += 1
        stop = bisect_left(one.starts, match.end())
        bound = {**bound, **more} if more else bound
        found.append(Hit(tail.entry, bound, tail.weight, owner, first, run, stop))

    def _headed(self, tail: Tail, one: Coded, found: list[Hit]) -> None:
        """Words behind a head at the row's start: ``port 3`` and then ``speed``."""
        at = one.places[0]
        head = self.patterns.compiled(tail.entry, tail.rest[0]).match(one.code, one.starts[at])
        if head is None:
            return
        bound = {**tail.bound, **said(head)}
        behind = bisect_left(one.starts, head.end())
        for start, place in enumerate(one.places):
            if place >= behind:
                self._hit(tail, bound, one, at, start, 1, found)

    def _phrases(self, one: Coded, context: Context, whole: bool = False) -> str:
        """Values that follow their words, as many as the row has.

        Of a line that a ``whole`` template has read, only what begins as the line does.
        """
        row = one.row
        hits = [hit for hit in self._hits(one, context, whole) if not longer_name(row, hit)]
        if whole:
            hits = [hit for hit in hits if hit.run > hit.start]
        if not hits:
            return ""
        if len(hits) > 1:
            hits = sorted(weightiest(hits), key=lambda hit: (hit.run, -hit.stop))
        use, free_from, covered = "", 0, 0
        for number, hit in enumerate(hits):
            if hit.run < covered and not (number and hits[number - 1].run == hit.run):
                continue
            if hit.run < free_from or not boundary(row, hit, free_from):
                continue
            # Words at the end of a line, with nothing behind them, are a value rather than a name.
            later = [
                other.run
                for other in hits[number + 1 :]
                if boundary(row, other, hit.stop)
                and (other.stop < len(row.atoms) or _names_itself(other.entry))
            ]
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
        use = self._take(
            entry, hit.bound, [("value", self._place(row, start, end))], row, hit.title, before
        )
        if not (good and use):
            return -1
        at = hit.stop
        while at < len(row.atoms) and row.atoms[at].start < end:
            at += 1
        return at

    def _unfinished(self, row: Row, hit: Hit) -> bool:
        """Whether the words before a value that cannot be read are only part of a name."""
        return unfinished(row, hit)

    def _each(self, entry: Entry, bound: Mapping[str, str], row: Row, first: int) -> str:
        """Values in a row, counted by their place; or items that repeat."""
        end = row.atoms[-1].end
        use = ""
        if entry.item is not None:
            atoms = [atom for atom in row.atoms if atom.start >= first]
            one = self._coded(row._replace(atoms=atoms))
            pattern = self.patterns.compiled(entry, entry.item)
            at = 0
            while (
                match := pattern.search(one.code, at)
            ) is not None and match.end() > match.start():
                more, places = self._matched(match, one, characters=False)
                use = self._take(entry, {**bound, **more}, places, row) or use
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
        seen: set[tuple[str, str]] = set()
        for tail in (*self._base.tables, *context.tables):
            bound = dict(tail.bound)
            if tail.rest:
                match = self.patterns.compiled(tail.entry, tail.rest[0]).match(one.code)
                if match is None:
                    continue
                bound.update(said(match))
            header = self._tables.header(tail.entry, at)
            # `*` fits a line by itself and once more below a title.
            name = (tail.entry.id, str(sorted(bound.items())))
            if header is not None and name not in seen:
                seen.add(name)
                use = self._cells(tail.entry, bound, header, one.row) or use
        return use

    def _cells(self, entry: Entry, bound: dict[str, str], header: Header, row: Row) -> str:
        cells = cells_of(row, header)
        for _, first, second in header.doubled:
            found = (Place(header.line, *first), Place(header.line, *second))
            if (entry.at.text, *found) not in self.ambiguous:
                self.ambiguous.append((entry.at.text, *found))
        values: dict[str, Place] = {}
        whole = dict(bound)
        use = ""
        forms: list[tuple[Cell, Mapping[str, str]]] = []
        for place, (field, words) in header.columns.items():
            cell = cells[place] if place < len(cells) else None
            if cell is None or cell.start >= cell.end:
                continue
            where = self._place(row, cell.start, cell.end)
            if not field:
                forms.append((cell, words))
            elif words:
                use = self._take(entry, {**bound, **words}, [(field, where)], row) or use
            else:
                values[field] = where
                whole[field] = row.text[cell.start : cell.end]
        for cell, words in forms:
            use = self._form(entry, {**whole, **words}, cell, list(values.items()), row) or use
        if not values or forms:
            return use
        return self._take(entry, whole, list(values.items()), row) or use

    def _form(
        self,
        entry: Entry,
        bound: Mapping[str, str],
        cell: Cell,
        beside: list[tuple[str, Place]],
        row: Row,
    ) -> str:
        """A cell of several parts, with what its line says beside; one of another form is empty."""
        assert entry.item is not None
        one = self._coded(row._replace(atoms=cut(row.text, cell.start, cell.end)))
        match = self.patterns.compiled(entry, entry.item).fullmatch(one.code)
        if match is None:
            return ""
        more, places = self._matched(match, one, characters=False)
        return self._take(entry, {**bound, **more}, [*places, *beside], row)

    # -- taking ------------------------------------------------------------------------------

    def _codec(self, entry: Entry, field: str, beside: Mapping[str, Read] = {}) -> Codec:
        """A field's codec, with the numbers that the dump itself gives, or fields ``beside``."""
        codec = entry.codecs[field]
        if codec.given:
            found = {
                name: beside[one].value if one in beside else self.given.get(one)
                for name, one in codec.given
            }
            if any(value is None for value in found.values()):
                raise Bad(f"a number, after {', '.join(one for _, one in codec.given)}")
            codec = codec._replace(
                given=(),
                scale=found.get("scale") or codec.scale,
                offset=found.get("offset") or codec.offset,
            )
        return codec

    def _decode(self, entry: Entry, field: str, text: str, beside: Mapping[str, Read]) -> Any:
        """The value of a written one; a map's dumps write the same again and again."""
        if entry.codecs[field].given:
            codec = self._codec(entry, field, beside)
            return decode(codec, entry.row_of(field), text)
        known = self.patterns.decoded
        name = (entry.id, field, text)
        if name not in known:
            if len(known) >= MOST_DECODED:
                known.clear()
            known[name] = decode(entry.codecs[field], entry.row_of(field), text)
        return known[name]

    def _number(self, entry: Entry, field: str, text: str) -> int | None:
        """A counting field's number, from 1 as the craft counts."""
        known = self.patterns.counted
        name = (entry.id, field, text)
        if name not in known:
            if len(known) >= MOST_DECODED:
                known.clear()
            known[name] = self._count(entry, field, text)
        return known[name]

    def _count(self, entry: Entry, field: str, text: str) -> int | None:
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
        own = ""
        parts = entry.makes not in ("settings", "given")
        # What another is reckoned from is read first.
        if len(fields) > 1 and any(_given(entry, field) for field, _ in fields):
            fields = sorted(fields, key=lambda one: bool(_given(entry, one[0])))
        for field, place in fields:
            if field in ("N", "P") or field not in (entry.codecs if parts else entry.sets):
                continue
            written = self._text_at(place)
            try:
                value = self._decode(entry, field, place.text or written, reads)
            except Bad as bad:
                name = entry.makes if parts else self._name(entry, field, bound)
                if name:
                    failed.append(
                        Misread(
                            name, self._at(place), self._span(row), written, bad.valid, bad.nearest
                        )
                    )
                if parts and field == "mode" and not entry.part:
                    own = f"? {written}"
                    continue
                if parts or len(fields) < 2 or not name:
                    self._failed += failed
                    if entry.part:
                        self._silence(entry, field, place, bound, row, title)
                    return ""
                continue
            if value is None:
                if entry.part:
                    self._silence(entry, field, place, bound, row, title)
                if parts and field == "mode" and not entry.part and not own:
                    own = written
                    continue
                if parts:
                    return "kept"
                self._blank(entry, field, bound, place, row)
                continue
            reads[field] = Read(entry, field, value, written, place, bound, row, before)
        if parts:
            use, own = self._from_titles(entry, bound, reads, row, own)
            if own:
                self._draw(entry, reads, row, own)
                self._failed += failed
                return "" if failed else use
            if use:
                return use
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
        self,
        entry: Entry,
        bound: Mapping[str, str],
        reads: dict[str, Read],
        row: Row,
        own: str,
    ) -> tuple[str, str]:
        """Parts that titles or header cells say; what use the line has where one means nothing.

        Beside it the ``own`` word of a mode without a meaning.
        """
        for field, text in bound.items():
            if (
                field in reads
                or field in ("N", "P")
                or field not in entry.codecs
                or field == "value"
                or (own and field == "mode")
            ):
                continue
            place = Place(row.line, row.start, row.start)
            try:
                value = decode(self._codec(entry, field), entry.row_of(field), text)
            except Bad as bad:
                where = self._said_at(row, text)
                slip = Misread(entry.makes, *where, text, bad.valid, bad.nearest)
                if slip not in self.misread:
                    self.misread.append(slip)
                own = own or (f"? {text}" if field == "mode" else "")
                if not own:
                    return "misread", ""
                continue
            if value is None:
                own = own or (text if field == "mode" else "")
                if not own:
                    return "kept", ""
                continue
            reads[field] = Read(entry, field, value, text, place, bound, row, "")
        return ("misread" if own.startswith("? ") else "kept") if own else "", own

    def _said_at(self, row: Row, text: str) -> tuple[Span, Span]:
        """Where a title over a row says a text, and that title; the row where none does."""
        for title in reversed(row.titles):
            line = self.source.lines[title.line - 1]
            at = line.find(text, title.atoms[0].start) if title.atoms else -1
            if at >= 0:
                whole = on_line(self.file, title.line, title.atoms[0].start, title.atoms[-1].end)
                return on_line(self.file, title.line, at, at + len(text)), whole
        return self._span(row), self._span(row)

    def _blank(
        self, entry: Entry, field: str, bound: Mapping[str, str], place: Place, row: Row
    ) -> None:
        """Note a setting that a line says nothing is set for, or a word of the firmware's own."""
        name, written = self._name(entry, field, bound), self._text_at(place)
        if name and "P" not in bound:
            own = key(written) in entry.codecs[field].own
            where = Misread(name, self._at(place), self._span(row), written, "", "")
            self.values.pop(name, None)
            self.blank[name] = where, not own

    def _draw(self, entry: Entry, reads: Mapping[str, Read], row: Row, own: str) -> None:
        """Keep the range of a mode without a meaning here, to be shown by its own word."""
        ends = self._ends(entry, reads) if "channel" in reads else []
        for low, high, low_at, high_at in ends:
            if low < high or not entry.skip_empty:
                spans = self._span(row), self._at(reads["channel"].place)
                at = self._at(low_at), self._at(high_at)
                channel = reads["channel"].value
                self.drawn.append(ModeRange(own, channel, low, high, entry.join, *spans, *at, True))

    def _give(
        self,
        entry: Entry,
        bound: Mapping[str, str],
        fields: Sequence[tuple[str, Place]],
        row: Row,
    ) -> str:
        """Set what a line says by being there."""
        place = fields[0][1] if fields else self._place(row, row.start, row.note)
        written = self._text_at(place)
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
        origin = (read.row.titles, read.before, read.entry.id)
        known = self.values.get(name)
        if known is not None and known.span is not None:
            one = Place(known.span.line, known.span.column - 1, known.span.end_column - 1)
            other = self._origins.get(name)
            # Two places that one address fits, though other words stand around them.
            if one != read.place and other is not None and _apart(other, origin):
                self.ambiguous.append((read.entry.at.text, one, read.place))
        self._origins[name] = origin
        self._keep(value)
        return True

    def _keep(self, value: Value) -> None:
        before = self.values.get(value.name)
        if before is not None and before.origin == "set" and before.value != value.value:
            self.repeats.append(Repeat(before, value))
        if self.blank:
            self.blank.pop(value.name, None)
        self.values[value.name] = value

    # -- mode ranges and links ---------------------------------------------------------------

    def _part(self, entry: Entry, reads: dict[str, Read], title: Title | None, row: Row) -> str:
        """One part of a range or link whose parts stand apart, in several lines or one object."""
        name = self._whose(entry, next(iter(reads.values())), title, row)
        record = self._records.setdefault(name, {})
        field = entry.sets["value"]
        if field in record:
            self._records.pop(name)
            self._close(name, record)
            record = self._records.setdefault(name, {})
        for one in reads.values():
            record[field if one.field == "value" else one.field] = one
        return "used"

    def _silence(
        self,
        entry: Entry,
        field: str,
        place: Place,
        bound: Mapping[str, str],
        row: Row,
        title: Title | None,
    ) -> None:
        """Note that of a record nothing is to be made, and nothing to be told of it."""
        read = Read(entry, field, None, "", place, bound, row, "")
        name = self._whose(entry, read, title, row)
        if entry.sets["value"] in self._records.get(name, {}):
            self._close(name, self._records.pop(name))
        self._silent.add(name)
        self._records.setdefault(name, {})[entry.sets["value"]] = read

    def _whose(self, entry: Entry, read: Read, title: Title | None, row: Row) -> Whose:
        """To which record a part belongs: its object's, its number's, or its title's."""
        bound = tuple(sorted((at, text) for at, text in read.bound.items() if at in ("N", "P")))
        group = -1 if row.joins else _object(row, read.place.start)
        if group >= 0:
            return entry.place, row.line, group, bound
        return entry.place, title.line if title is not None else 0 if bound else row.line, -1, bound

    def _close(self, name: Whose, record: Mapping[str, Read]) -> None:
        """Make a range or link of its parts."""
        first = record.get("mode") or next(iter(record.values()))
        if name in self._silent:
            self._silent.discard(name)
        elif self._record(first.entry, record, first.row):
            self._made.update(read.place for read in record.values())
        else:
            self._lacking.append((first, set(record)))

    def _tell_lacking(self) -> None:
        """Tell which parts of a record are missing, unless it made one of another kind."""
        for first, found in self._lacking:
            if first.place in self._made:
                continue
            parts = ("mode", "follows") if first.entry.makes == "link" else ("mode", "channel")
            missing = [part for part in parts if part not in found] or ["both ends"]
            wanted = f"beside it {' and '.join(missing)}"
            at, span = self._at(first.place), self._span(first.row)
            self.misread.append(Misread(first.entry.makes, at, span, first.written, wanted, ""))
            self._use(first.row.line, "misread")

    def _close_records(self) -> None:
        for name, record in self._records.items():
            self._close(name, record)
        self._records.clear()
        self._tell_lacking()
        for mode, join, read, sure in self._following:
            span = self._span(read.row)
            if read.value in self._labels:
                self.links.append(ModeLink(mode, self._labels[read.value], join, span, sure))
            else:
                self._use(read.row.line, "misread")
                numbers = "the number of a line that says when a mode is on"
                self.misread.append(
                    Misread("link", self._at(read.place), span, read.written, numbers, "")
                )

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
        if "row" in reads:
            self._following.append((mode, join, reads["row"], sure))
            return "used"
        if entry.makes == "link" or ("follows" in reads and "channel" not in reads):
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
        label = next(iter(reads.values())).bound.get("P", "")
        if label.isdigit():
            self._labels[int(label)] = mode
        for low, high, low_at, high_at in ends:
            self.ranges.append(
                ModeRange(
                    mode,
                    channel.value,
                    low,
                    high,
                    join,
                    self._span(row),
                    self._at(channel.place),
                    self._at(low_at),
                    self._at(high_at),
                    sure,
                )
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
            last = at - 1 if codec.points else at
            low, high = (codec.offset + codec.scale * one for one in (start, last))
            found.append((low, high, where, where))
            start = -1
    return found


def _object(row: Row, column: int) -> int:
    """Where the object in braces begins that a place stands in, if its line closes it; else -1."""
    opened: list[int] = []
    for atom in row.atoms:
        if atom.kind != "mark":
            continue
        if atom.text == "{":
            opened.append(atom.start)
        elif atom.text == "}" and opened:
            start = opened.pop()
            if not opened and start < column < atom.start:
                return start
    return -1


def _apart(one: Origin, other: Origin) -> bool:
    """Whether one entry was read at two places that other words stand around."""
    return one[2] == other[2] and (one[1] != other[1] or _codes(one[0]) != _codes(other[0]))


def _codes(titles: Iterable[Title]) -> list[str]:
    return [title.code for title in titles if title.style != "comment"]


def _given(entry: Entry, field: str) -> tuple[tuple[str, str], ...]:
    return entry.codecs[field].given if field in entry.codecs else ()


def _names_itself(entry: Entry) -> bool:
    """Whether an address's own words are its value."""
    return "value" in entry.codecs and entry.codecs["value"].named is not None


def _named(match: Any) -> list[str]:
    return [name for name, text in match.groupdict().items() if text and name != "_run"]


__all__ = ["COUNTING", "MapReader", "Place", "Read", "address", "key", "setting"]
