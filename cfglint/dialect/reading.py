"""A dump's craft: what the map reads of it, and everything around the values.

Around the values are who the dump says it is, refused lines, profiles, removals, defaults, and
what was not understood.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

from cfglint.craft.model import Craft, Listing, Refusal, Stray, Unreadable, Value
from cfglint.craft.settings import family
from cfglint.dialect.address import ANY, GAP, address, free, regex, segment
from cfglint.dialect.identify import identify
from cfglint.dialect.index import Kept
from cfglint.dialect.lines import pattern
from cfglint.dialect.mapping import COUNTING, Map, words_of
from cfglint.dialect.model import Dialect, Tables
from cfglint.dialect.reader import MapReader, Origin, Read
from cfglint.dialect.unread import unread
from cfglint.dialect.values import Bad, Codec, decode, unquote
from cfglint.dump.atoms import coded, codes, cut
from cfglint.dump.layout import LONGEST_LINE, Row, Title, conflict_marks, rows
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from cfglint.craft.card import Card
    from cfglint.dialect.index import Context, Tail
    from cfglint.dialect.mapping import Entry
    from cfglint.dialect.phrases import Hit
    from cfglint.dump.source import Source

Extent = Literal["full", "changes"]
_QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'")
_DAMAGED = "it holds control characters, so the file is damaged or no dump"
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
#: Names further off than a page of strange lines are not compared one by one.
_MOST_NEAREST = 200


def read_craft(
    source: Source,
    dialect: Dialect,
    card: Card | None = None,
    name: str = "",
    extent: Extent | None = None,
    *,
    whole: bool = False,
) -> Craft:
    """The craft that a dump describes.  Never fails: what is not understood is in the craft.

    ``name`` and ``extent`` hold when the dump does not say them itself.  Of a ``whole`` file,
    which is no excerpt, it is unknown what a full listing should have and has not.
    """
    return Reader(source, dialect, card=card, name=name, extent=extent, whole=whole).craft()


class Reader(MapReader):
    """Reads one dump.  ``uses`` tells of each line what became of it:

    ``used`` (a value, range or link), ``removal``, ``title``, ``identity``, ``comment``,
    ``ignored``, ``kept``, ``echo``, ``refused`` and ``refusal``, ``misread``, ``stray``,
    ``unreadable``.
    ``version`` is the firmware's where the dump does not say it.
    """

    def __init__(
        self,
        source: Source,
        dialect: Dialect,
        *,
        card: Card | None = None,
        name: str = "",
        extent: Extent | None = None,
        version: str = "",
        whole: bool = False,
    ) -> None:
        self.dialect = dialect
        self.whole = whole
        self.card = card
        self.craft_name = name
        self.identity = identify(dialect, source)
        lines = list(rows(source, dialect.marks))
        named = self.identity.said.get("firmware")
        self.said_version = named[0] if named else _said_version(source, dialect, lines)
        self.tables: Tables = dialect.at(self.said_version or version)
        super().__init__(source, self.tables.map, dialect.marks, lines)
        self.extent: Extent = extent or self._extent()
        self.refusals: list[Refusal] = []
        self.unreadable: list[Unreadable] = []
        self.profiles: dict[str, dict[str, Value]] = {}
        self.profile_in_use = ""
        self.undecided: set[str] = set()
        self.profile_lines: dict[int, str] = {}
        self.removals: dict[int, str] = {}
        #: By line, the settings that it said, whether or not it has the last word; and the modes
        #: that a line took back.
        self.told: dict[int, list[str]] = {}
        self.taken_back: dict[int, int] = {}
        self.join_lines: dict[int, str] = {}
        self._titles_in: dict[str, dict[str, Origin]] = {}
        # How each value, range and link was read: name, or number, → what was read.
        self.reads: dict[str, Read] = {}
        self._current: Read | None = None
        self.range_reads: list[Mapping[str, Read]] = []
        self.link_reads: list[Mapping[str, Read]] = []
        # Lines of which it is known what they are before they are read.
        self._settled: dict[int, str] = {}
        self._nearest: dict[str, str] = {}
        self._loosened: dict[tuple[str, int, str], re.Pattern[str]] = {}
        self._assign = [pattern(one) for one in words_of(self.tables.marks.get("assign", ()))]
        self._closed = bool(dialect.mark("close"))
        self._in_use = segment(self.tables.profiles.get("in_use", ""), self.map.exact)

    # -- the whole ---------------------------------------------------------------------------

    def read(self) -> None:
        """Read every line, and fill in what holds without one."""
        self._read_identity()
        self._read_echoes()
        self._read_refusals()
        self._read_unreadable()
        self._settled = dict(self.uses)
        super().read()
        self.unreadable.sort(key=lambda one: one.span)
        self._choose_profile()
        if self.extent == "changes":
            self._fill_defaults()

    def craft(self) -> Craft:
        """Read every line and make the craft."""
        self.read()
        every = (
            one for values in (self.values, *self.profiles.values()) for one in values.values()
        )
        unsure = {family(value.name) for value in every if not value.sure}
        outside = self.dialect.outside(self.said_version)
        return Craft(
            file=self.file,
            name=self._craft_name(),
            dialect=self.dialect.id,
            extent=self.extent,
            whole=self._first_line(),
            values=self.values,
            mode_ranges=tuple(self.ranges),
            mode_links=tuple(self.links),
            traits=self.tables.traits,
            repeats=tuple(self.repeats),
            strays=tuple(self.strays),
            misread=tuple(self.misread),
            refusals=tuple(self.refusals),
            unreadable=tuple(self.unreadable),
            card=self.card,
            lines=len(self.source.lines),
            unsure=self.tables.unsure | unsure if unsure else self.tables.unsure,
            unmapped=self.tables.unmapped,
            unread=tuple(unread(self, outside)),
            outside=outside,
            drawn=tuple(
                dict.fromkeys(
                    one for one in self.drawn if self.uses.get(one.span.line) in ("misread", "kept")
                )
            ),
            listing=self._listing(),
        )

    def _listing(self) -> Listing:
        """How whole the dump is: what saves, how many there are of things, what is left open."""
        save = str(self.tables.marks.get("save", ""))
        wanted = " ".join(save.lower().split())
        saves = [
            row.line
            for row in self.rows
            if wanted and " ".join(row.text[row.start : row.note].lower().split()) == wanted
        ]
        last = max(saves, default=0)
        told = {one for one, use in self.uses.items() if use in ("used", "removal", "kept")}
        after = [row for row in self.rows if row.line in told and row.line > last] if saves else []
        return Listing(
            named=self.identity.line is not None,
            save=save,
            saved=bool(saves),
            unsaved=self._span(after[0]) if after else None,
            counts=self.tables.counts(),
            unclosed=tuple(self._unclosed()),
        )

    def _unclosed(self) -> list[Span]:
        """The lines that open a section, by the dialect's own marks, and are never closed."""
        opener = str(self.tables.marks.get("open", "")).strip()[-1:]
        closer = str(self.tables.marks.get("close", "")).strip()
        still: list[Span] = []
        if not (opener and closer) or opener.isalnum() or opener == closer:
            return still
        by_line = {row.line: row for row in self.rows}
        for number, text in enumerate(self.source.lines, 1):
            row = by_line.get(number)
            if (row is not None and row.comment) or (opener not in text and closer not in text):
                continue
            end = row.note if row is not None and not row.joins else len(text)
            for mark in _QUOTED.sub("", text[:end]):
                if mark == opener:
                    start = len(text) - len(text.lstrip())
                    still.append(on_line(self.file, number, start, len(text.rstrip())))
                elif mark == closer and still:
                    still.pop()
        return still

    def _extent(self) -> Extent:
        named = self.identity.said.get("extent")
        words = self.dialect.data.get("identity", {})
        if named is not None:
            for one in ("changes", "full"):
                if named[0].lower() == str(words.get(one, "")).lower():
                    return one
        own: Extent = self.dialect.data["dialect"].get("extent", "full")
        return own

    def _read_identity(self) -> None:
        for number in self.identity.numbers:
            self.uses[number] = "identity"
        for field in ("board", "firmware", "name"):
            if field in self.identity.said:
                text, span = self.identity.said[field]
                name = f"craft.{field}"
                sure = name not in self.tables.unsure
                self.values[name] = Value(name, text, "set", span, self.identity.line, text, sure)

    def _read_echoes(self) -> None:
        """Find the lines of a pasted log that stand there twice: as typed, and as echoed.

        In a log some lines follow a prompt.  A run without one that the next lines with one
        repeat, or that repeats the line before it, is the same lines again.
        """
        shown = [row for row in self.rows if not row.comment and row.atoms]
        said = [row.text[row.start : row.note].strip() for row in shown]
        typed = [
            any(row.text[: row.start].strip().endswith(mark) for mark in self.marks.prompt if mark)
            for row in shown
        ]
        if not any(typed):
            return
        for at in range(len(shown)):
            if typed[at]:
                after = at + 1
                if after < len(shown) and not typed[after] and said[after] == said[at]:
                    self.uses[shown[after].line] = "echo"
                continue
            if at + 1 < len(shown) and typed[at + 1]:
                first = at
                while first > 0 and not typed[first - 1]:
                    first -= 1
                entered = [
                    one for one, by in zip(said[at + 1 :], typed[at + 1 :], strict=True) if by
                ]
                for start in range(first, at + 1):
                    if said[start : at + 1] == entered[: at + 1 - start]:
                        self.uses.update((one.line, "echo") for one in shown[start : at + 1])
                        break

    def _read_refusals(self) -> None:
        """Find the lines that the controller did not take: they have no effect."""
        patterns = [pattern(one) for one in words_of(self.tables.marks.get("refusal", ()))]
        waiting: Row | None = None
        cause: Row | None = None
        for row in self.rows if patterns else ():
            match = _fits(patterns, row) if len(row.text) <= LONGEST_LINE else None
            if match is None:
                if not row.comment and self.uses.get(row.line) != "echo":
                    waiting = row
                continue
            if waiting is not None:
                self.uses[waiting.line] = "refused"
            cause, waiting = waiting or cause, None
            self.uses[row.line] = "refusal"
            end = len(row.text.rstrip(" \t"))
            first = len(row.text[: match.end()]) - len(row.text[match.start() :].lstrip(" \t"))
            span = self._span(cause) if cause is not None else None
            self.refusals.append(
                Refusal(
                    on_line(self.file, row.line, first, end),
                    match.groupdict().get("reason") or "",
                    span,
                    self.source.slice(span) if span is not None else "",
                )
            )

    def _craft_name(self) -> str:
        named = self.values.get("craft.name")
        return str(named.value) if named is not None and named.value else self.craft_name

    def _first_line(self) -> Span:
        if self.identity.line is not None:
            return self.identity.line
        for number, line in enumerate(self.source.lines, 1):
            if line.strip() and len(line) <= LONGEST_LINE:
                start = len(line) - len(line.lstrip())
                return on_line(self.file, number, start, len(line.rstrip()))
        return Span(self.file, 1, 1, 1, 1)

    def _choose_profile(self) -> None:
        if not self.profiles:
            return
        first = str(self.tables.profiles.get("first", 1))
        chosen = self.profiles.get(self.profile_in_use or first, {})
        self.undecided = set() if self.profile_in_use else self._differing()
        for name, value in chosen.items():
            self.values[name] = value

    def _differing(self) -> set[str]:
        """What the profiles of a full listing, which does not say which is in use, differ in."""
        if self.extent != "full" or len(self.profiles) < 2:
            return set()
        found = [
            {name: value.value for name, value in one.items()} for one in self.profiles.values()
        ]
        return {
            name for one in found for name in one if any(o.get(name, o) != one[name] for o in found)
        }

    def _fill_defaults(self) -> None:
        """Take every default that no line says otherwise."""
        for name, whole, default in self.tables.defaults():
            if name not in self.values and not self._said_nothing(name):
                sure = self._trusts(whole, default.value) and default.sure
                self.values[name] = Value(name, default.value, "default", sure=sure)

    def _said_nothing(self, name: str) -> bool:
        """Whether a line is about a setting, but what it says was not understood, or is nothing."""
        return name in self.blank or any(slip.name == name for slip in self.misread)

    def _trusts(self, whole: str, value: object) -> bool:
        return all(
            entry.sure and entry.codecs[field].trusts(value)
            for entry, field in self.tables.entries_of(whole)
        )

    # -- one line ----------------------------------------------------------------------------

    def _row(self, at: int, row: Row) -> str:
        known = self._settled.get(row.line)
        if known is not None:
            return known
        use = self._removal(row) or self._profile(row) or super()._row(at, row)
        if use == "title" and _CONTROL.search(row.text) is not None:
            return self._unreadable(row, _DAMAGED)
        if use == "title" and not (
            self._is_title(at, row) or self._is_heading(row) or self.speaks_of(row)
        ):
            # It looks like a heading; with nothing under it nobody can tell that it is one.
            use = "stray"
            self.strays.append(self._stray(row))
        if use in ("kept", "stray") and self._is_heading(row):
            if use == "stray":
                self.strays.pop()
            return "title"
        if use == "stray" and self._template_but_one(row):
            self.strays.pop()
            return "misread"
        if use == "stray":
            why = self._why_not(row)
            if why:
                self.strays.pop()
                return self._unreadable(row, why)
        if use == "stray":
            self.strays[-1] = self._stray(row)
        if use == "used" and self.misread and self.misread[-1].line_span.line == row.line:
            return "misread"
        return use

    def _is_title(self, at: int, row: Row) -> bool:
        """Whether rows stand under a line; where sections are closed, indentation is no title."""
        following = self.rows[at + 1] if at + 1 < len(self.rows) else None
        return following is not None and any(
            title.line == row.line and not (self._closed and title.style == "indent")
            for title in following.titles
        )

    def _is_heading(self, row: Row) -> bool:
        """Whether a line opens a section, even if nothing stands in it."""
        if row.atoms[-1].kind == "mark" and row.atoms[-1].text in "{[(":
            return True
        return _fits(self.marks.title, row) is not None

    def _template_but_one(self, row: Row) -> bool:
        """Whether a line is one of the dialect's but for one field, which is then misread."""
        one = self._coded(row)
        context = self._context(row.titles)
        for tail in (*self._base.lines.at(one.plain, 0), *context.lines.at(one.plain, 0)):
            fields = [name for part in tail.rest for name in part.fields]
            for field in fields if len(fields) > 1 and tail.entry.way == "template" else ():
                match = None if field in COUNTING else self._loose(tail, field).fullmatch(one.code)
                if match is None:
                    continue
                self._failed = []
                said_here, places = self._matched(match, one, characters=False)
                bound = {**tail.bound, **said_here}
                if self._take(tail.entry, bound, places, row, self._owner(tail, row)):
                    return True
                if self._failed:
                    self.misread.append(self._failed[0])
                    return True
        return False

    def _loose(self, tail: Tail, field: str) -> re.Pattern[str]:
        """The pattern of a whole line in which one field may be anything."""
        name = (tail.entry.id, len(tail.rest), field)
        if name not in self._loosened:

            def pattern(one: str, known: bool = False, after: str = "") -> str:
                return free(()) if one == field else tail.entry.pattern(one, known, after)

            parts = [GAP + regex(part, pattern) for part in tail.rest]
            self._loosened[name] = re.compile(f"{ANY}{{0,60}}?".join(parts) + f"{GAP[:-1]}+")
        return self._loosened[name]

    def _why_not(self, row: Row) -> str:
        """Why a line without a meaning cannot be one of the dialect's at all; ``""`` if it can."""
        if _CONTROL.search(row.text) is not None:
            return _DAMAGED
        first = next(atom for atom in row.atoms if atom.kind != "mark")
        if first.kind != "word" and self.tables.words_first:
            return f"no line of the dialect `{self.dialect.id}` begins with no word"
        return ""

    def _read_unreadable(self) -> None:
        """Find the lines that are no dump's, whatever the dialect."""
        conflict = conflict_marks(self.source)
        for row in self.rows:
            size = len(row.text)
            if size > LONGEST_LINE:
                why = f"it is {size:,} characters long; no line of a dump is over {LONGEST_LINE:,}"
            elif row.line in conflict:
                why = "it marks where two versions of the file were not put together"
            elif _CONTROL.search(row.text) and all(one.kind == "mark" for one in row.atoms):
                why = _DAMAGED
            else:
                continue
            self.uses[row.line] = self._unreadable(row, why)

    def _unreadable(self, row: Row, why: str) -> str:
        text = row.text
        start, end = len(text) - len(text.lstrip(" \t")), len(text.rstrip(" \t"))
        self.unreadable.append(Unreadable(on_line(self.file, row.line, start, end), why))
        return "unreadable"

    def _profile(self, row: Row) -> str:
        """Note which profile is in use, where a line says it."""
        if not self._in_use.pieces:
            return ""
        one = self._coded(row)
        lead = self._in_use.lead
        if tuple(one.plain[: len(lead)]) != lead:
            return ""
        match = self.patterns.compiled(None, self._in_use).match(one.code)
        if match is None or match.end() not in one.starts:
            return ""
        rest = row.atoms[one.starts.index(match.end()) :]
        words = [atom for atom in rest if atom.kind != "mark"]
        if not words:
            return ""
        self.profile_in_use = unquote(row.text[words[0].start : words[-1].end])
        self.profile_lines[row.line] = self.profile_in_use
        return "used"

    def _set(self, read: Read) -> bool:
        """Take a value; one whose address names a profile belongs to that profile only."""
        profile = read.bound.get("P")
        if profile is None:
            self._current = read
            return super()._set(read)
        self._current = None
        values, origins = self.values, self._origins
        self.values = self.profiles.setdefault(profile, {})
        self._origins = self._titles_in.setdefault(profile, {})
        try:
            return super()._set(read)
        finally:
            self.values, self._origins = values, origins

    def _keep(self, value: Value) -> None:
        super()._keep(value)
        if value.line_span is not None:
            self.told.setdefault(value.line_span.line, []).append(value.name)
        read = self._current
        if read is not None and value.span is not None and self._at(read.place) == value.span:
            self.reads[value.name] = read

    def _unfinished(self, row: Row, hit: Hit) -> bool:
        """A name that ``assign`` shows to end here is not only the beginning of a longer one."""
        end = row.atoms[hit.stop - 1].end
        for form in self._assign:
            match = form.fullmatch(row.text, row.start, row.note)
            between = row.text[end : match.start("value")] if match is not None else "."
            if match is not None and match.start("value") >= end and not _has_word(between):
                return False
        return super()._unfinished(row, hit)

    def _record(self, entry: Entry, reads: Mapping[str, Read], row: Row) -> str:
        counts = len(self.ranges), len(self.links)
        use = super()._record(entry, reads, row)
        if entry.makes == "join" and use and "mode" in reads:
            self.join_lines[row.line] = reads["mode"].value
        for made, before, kept in (
            (len(self.ranges), counts[0], self.range_reads),
            (len(self.links), counts[1], self.link_reads),
        ):
            # One line may make several ranges: those of a drawn bar.
            kept.extend(dict(reads) for _ in range(made - before))
        return use

    # -- removals ----------------------------------------------------------------------------

    def _removed(self, row: Row, context: Context) -> bool:
        return False  # see _removal

    def _removal(self, row: Row) -> str:
        """A line that takes a value back (the dialect's default holds again), or a mode."""
        pattern = self.map.removal
        match = pattern.fullmatch(row.text, row.start) if pattern is not None else None
        if match is None:
            return ""
        start, end = match.span("name")
        code, _, plain, _ = codes(cut(row.text, start, end), self.map.exact)
        span = on_line(self.file, row.line, start, end)
        for tail, bound in self._named(row, code, plain):
            name = self._name(tail.entry, "value", bound)
            if name:
                store = self.values
                if "P" in bound:
                    store = self.profiles.setdefault(bound["P"], {})
                self._take_back(name, store, span, row)
                self.removals[row.line] = name
                return "removal"
        mode = self._mode(match["name"])
        if mode:
            gone = [one.span.line for one in self.ranges if one.mode == mode]
            gone += [link.span.line for link in self.links if link.mode == mode]
            self.taken_back.update(dict.fromkeys(gone, row.line))
            self._take_back_mode(mode)
            self.removals[row.line] = f"mode {mode}"
            return "removal"
        for at in self.map.kept:
            part = self.tables.bare_step(at.segments[-1])
            if part.pieces and self.patterns.compiled(None, part).match(code):
                return "kept"
        return ""

    def _named(
        self, row: Row, code: str, plain: list[str]
    ) -> Iterator[tuple[Tail, dict[str, str]]]:
        """The entries that are called so under a row's titles, with what their address says."""
        contexts = (self._context(row.titles), self._base)
        kinds = [kind for one in contexts for kind in (one.phrases, one.lines)]
        found = []
        for tail in (tail for kind in kinds for tail in kind.every()):
            fields = set(tail.entry.at.fields) - {"N", "P", "value"}
            if len(tail.rest) == 1 and tail.entry.makes == "settings" and not fields:
                part = self.tables.bare_step(tail.rest[0])
                more = self.patterns.named(tail.entry, part, code, plain) if part.pieces else None
                if more is not None:
                    found.append((tail, {**tail.bound, **more}))
        yield from sorted(found, key=lambda one: -one[0].weight)

    def _take_back(self, name: str, store: dict[str, Value], span: Span, row: Row) -> None:
        store.pop(name, None)
        whole = family(name)
        default = self.map.defaults.get(whole if whole in self.map.defaults else name)
        if default is not None:
            sure = default.sure and self._trusts(whole, default.value)
            store[name] = Value(name, default.value, "default", span, self._span(row), "", sure)

    def _take_back_mode(self, mode: str) -> None:
        ranges, links = list(self.ranges), list(self.links)
        self.ranges = [one for one in ranges if one.mode != mode]
        self.links = [one for one in links if one.mode != mode]
        for modes, kept in (
            ([one.mode for one in ranges], self.range_reads),
            ([one.mode for one in links], self.link_reads),
        ):
            pairs = zip(modes, list(kept), strict=True)
            kept[:] = [reads for its_mode, reads in pairs if its_mode != mode]

    def _mode(self, word: str) -> str:
        for entry in self.map.entries:
            if entry.makes == "range":
                try:
                    return str(decode(entry.codecs["mode"], entry.row_of("mode"), word) or "")
                except Bad:
                    return ""
        return ""

    def is_given(self, line: int) -> bool:
        """Whether a line gives a number that others are made with."""
        return line in self._giving

    def is_ignored(self, row: Row) -> bool:
        """Whether a line is one that the dialect passes over."""
        return bool(self._ignored.fits(self._coded(row)))

    def passes_over(self, text: str, row: Row) -> bool:
        """Whether one of the dialect's texts for lines to pass over fits a line."""
        return Kept(self.patterns, [address(text, self.map.exact)]).fits(self._coded(row))

    def swallowed(self) -> Iterator[tuple[Row, MapReader]]:
        """Each line that the dialect passes over, with a reader that has read it by itself."""
        for row in self.rows:
            if self.uses.get(row.line) == "ignored" and self.is_ignored(row):
                alone = MapReader(self.source, self.map, self.marks, [row])
                alone._ignored = Kept(self.patterns, [])
                alone.read()
                yield row, alone

    def header_lines(self, entry: Entry) -> list[int]:
        """The lines that were taken for headers of an entry's table."""
        known = self._tables._known.items()
        return [one.line for (name, _), one in known if name == entry.id and one is not None]

    def codec(self, read: Read) -> Codec:
        """How a value that was read is written, with the numbers that the dump itself gives."""
        return self._codec(read.entry, read.field)

    def span_of(self, row: Row) -> Span:
        """A line's own characters."""
        return self._span(row)

    def gives_value(self, row: Row) -> bool:
        """Whether a line is of the form in which the dialect gives a value to a name."""
        return any(one.fullmatch(row.text, row.start, row.note) for one in self._assign)

    def below(self, row: Row) -> Iterator[Entry]:
        """The entries that can stand under a row's titles, apart from those that can anywhere."""
        if not row.titles:
            return
        context = self._context(row.titles)
        for tail in (*context.phrases.every(), *context.lines.every(), *context.tables):
            if tail.owner >= 0:
                yield tail.entry

    def title_text(self, title: Title) -> str:
        """A title as the dump writes it."""
        if not title.atoms:  # a bracket that opens by itself
            return ""
        line = self.source.lines[title.line - 1]
        return line[title.atoms[0].start : title.atoms[-1].end] if title.atoms else ""

    def speaks_of(self, row: Row) -> bool:
        """Whether some address has a step that is a title over a row, or that the row would be."""
        atoms = tuple(atom for atom in row.atoms if atom.kind != "mark")
        own = Title(atoms, coded(atoms, self.map.exact)[0], row.line, "")
        titles = [title for title in row.titles if title.style != "comment"]
        return any(self._index.says(title) for title in (*titles, own))

    # -- how the dump is written -------------------------------------------------------------

    def habit(self) -> str:
        """How most of the dump's lines give a value to a name, as ``assign`` would say it."""
        found: dict[str, int] = {}
        for read in self.reads.values():
            steps = read.entry.at.segments[-1:]
            if read.entry.way != "phrase" or not steps:
                continue
            row = read.row
            code, starts = coded(row.atoms, self.map.exact)
            match = self.patterns.compiled(read.entry, steps[0]).search(code)
            if match is None or read.place.line != row.line:
                continue
            first = next(at for at, start in enumerate(starts) if start >= match.start())
            last = next(at for at, start in enumerate(starts) if start >= match.end()) - 1
            while first < last and row.atoms[first].kind == "mark":
                first += 1
            end = row.atoms[last].end
            if end <= read.place.start and first == 0:
                form = "{name}" + row.text[end : read.place.start] + "{value}"
                form += row.text[read.place.end : row.note].rstrip(" \t")
                form = re.sub(r"[ \t]{2,}", "  ", form)
                found[form] = found.get(form, 0) + 1
        return max(found, key=lambda form: found[form]) if found else ""

    # -- what was not understood -------------------------------------------------------------

    def name_of(self, row: Row) -> tuple[str, int, int]:
        """What a line is about: the name that it gives a value to, or its first word."""
        return self.name_in(row.text, row.start, row.note)

    def name_in(self, text: str, start: int, end: int) -> tuple[str, int, int]:
        """The name in some characters of a line, and where it stands (from 0)."""
        for form in (*self._assign, *((self.map.removal,) if self.map.removal else ())):
            match = form.fullmatch(text, start, end)
            if match is not None:
                return match["name"], *match.span("name")
        own = text[start:end]
        start += len(own) - len(own.lstrip(" \t"))
        stop = start + len((own.split() or [""])[0])
        word = text[start:stop].rstrip(":=,;")
        return (word, start, start + len(word)) if word else (text[start:stop], start, stop)

    def _stray(self, row: Row) -> Stray:
        name, start, end = self.name_of(row)
        if name not in self._nearest and len(self._nearest) < _MOST_NEAREST and len(name) <= 100:
            from cfglint.near import nearest

            self._nearest[name] = self.called_here(name) or nearest(name, self.tables.known_names())
        span = on_line(self.file, row.line, start, end)
        lacks = ""
        if len(self.strays) <= _MOST_NEAREST and len(row.text) <= LONGEST_LINE:
            from cfglint.dialect.short import what_lacks

            lacks = what_lacks(self.source.slice(self._span(row)), self.map.entries)
        return Stray(self._span(row), span, name, self._nearest.get(name, ""), lacks)

    def called_here(self, name: str) -> str:
        """What this version calls a name that another version has; "" where none has it."""
        pairs = [
            pair
            for change in self.dialect.data.get("changes", [])
            for pair in change.get("rename", {}).items()
        ]
        names = [(self.tables.bare(old), self.tables.bare(new)) for old, new in pairs]
        words = [name]
        for word in words:  # grows: a name may have changed more than once
            for old, new in names:
                for one, other in ((old, new), (new, old)):
                    if one.lower() == word.lower() and other not in words:
                        words.append(other)
        return next((word for word in words[1:] if self.tables.has_name(word)), "")


def _said_version(source: Source, dialect: Dialect, lines: list[Row]) -> str:
    """The firmware's version where the map, not an identity line, says where it stands."""
    found = dialect.at("")
    entries = [entry for entry, _ in found.entries_of("craft.firmware")]
    if not entries:
        return ""
    own = Map(entries, found.map.patterns)
    reader = MapReader(source, own, dialect.marks, lines)
    reader.read()
    value = reader.values.get("craft.firmware")
    return str(value.value) if value is not None else ""


def _fits(forms: Iterable[re.Pattern[str]], row: Row) -> re.Match[str] | None:
    """The first form that a row is, with what stands before its values or without."""
    start = len(row.text) - len(row.text.lstrip(" \t"))
    for form in forms:
        match = form.fullmatch(row.text, start)
        if match is None and row.start != start:
            match = form.fullmatch(row.text, row.start)
        if match is not None:
            return match
    return None


def _has_word(text: str) -> bool:
    return any(char.isalnum() for char in text)


def uses(source: Source, dialect: Dialect) -> Iterator[tuple[Row, str]]:
    """Each line of a dump that is not blank, with the use that was made of it."""
    reader = Reader(source, dialect)
    reader.read()
    for row in reader.rows:
        yield row, reader.uses.get(row.line, "comment")


__all__ = ["Extent", "Reader", "read_craft", "uses"]
