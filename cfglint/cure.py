"""The cure of a finding: what a rule asks for in neutral words, as lines of the dump at hand.

A setting that a line says is changed in that line, anything else is written as a new one where
lines of its kind stand.  The dump is then read again: a cure counts only if it says what was asked
for and changes nothing else.  Nothing here touches a file.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.model import Value, show
from cfglint.craft.settings import family, setting, show_number
from cfglint.dialect.edit import changed_lines, edit_of, edits_of_range
from cfglint.dialect.encode import close, raw_of
from cfglint.dialect.reading import Reader
from cfglint.dialect.values import Bad, decode
from cfglint.dialect.writing import Line, Writer, title_code
from cfglint.dump.source import Source
from cfglint.near import common_ends
from cfglint.rule import Drop, Edit, Move, Put
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.craft.model import Craft, ModeLink, ModeRange
    from cfglint.dialect.edit import Edit as Change
    from cfglint.dialect.model import Dialect
    from cfglint.dump.layout import Row

    Edits = Sequence[Put | Move | Drop]


class Step(NamedTuple):
    """One line of a cure: what to enter (``""``: nothing, the line goes) and where.

    ``line`` is the line of the dump that it stands for, 0 where it is new; a new one goes below
    line ``after``, ``under`` a title.
    """

    text: str
    line: int
    after: int = 0
    under: str = ""

    def where(self) -> str:
        """Where it goes, in words."""
        if self.line:
            return f"in place of line {self.line}" if self.text else f"take out line {self.line}"
        title = f", under `{self.under}`" if self.under else ""
        return (f"new, below line {self.after}" if self.after else "new, at the top") + title


class Cure(NamedTuple):
    """Lines that cure a finding, as a reader is told and as edits of the file's characters.

    ``asks`` is the same in neutral words; ``unwritten`` says why there are no lines.  Where no line
    of the dump is asked for, ``by`` says what cures it: a look and the ``card``, or the ``hand``.
    """

    steps: tuple[Step, ...] = ()
    edits: tuple[Edit, ...] = ()
    asks: tuple[str, ...] = ()
    unwritten: str = ""
    by: Literal["", "card", "hand"] = ""


def changed(craft: Craft, edits: Edits) -> Craft:
    """The craft as it would be with the edits made: values and ranges only, no lines."""
    values = dict(craft.values)
    ranges: list[ModeRange] = list(craft.mode_ranges)
    links = craft.mode_links
    for one in edits:
        if isinstance(one, Put):
            old = values.get(one.name)
            values[one.name] = (
                old._replace(value=one.value, origin="set")
                if old is not None
                else Value(one.name, one.value, "set")
            )
        elif isinstance(one, Move):
            ranges = [
                row._replace(low_us=one.low_us, high_us=one.high_us)
                if row[:-1] == one.row[:-1]
                else row
                for row in ranges
            ]
        else:
            gone = one.span
            ranges = [row for row in ranges if not _inside(row.span, gone)]
            links = tuple(link for link in links if not _inside(link.span, gone))
            for name, value in craft.values.items():
                if value.line_span is not None and _inside(value.line_span, gone):
                    values.pop(name, None)
    return craft.changed(values=values, mode_ranges=tuple(ranges), mode_links=links)


def cure(reader: Reader, craft: Craft, edits: Edits) -> Cure:
    """The lines for neutral edits; ``craft`` is what the reader made of the dump."""
    asks = tuple(_asked(one) for one in edits)
    try:
        return _Maker(reader, craft).make(edits)._replace(asks=asks)
    except Bad as bad:
        return Cure(asks=asks, unwritten=str(bad.valid))


def cure_of_fix(fix: Sequence[Edit], lines: Sequence[str]) -> Cure:
    """The same for a cure that a rule gives in characters; ``lines`` are those of the file."""
    texts: dict[int, str] = {}
    for edit in sorted(fix, key=lambda one: one.span, reverse=True):
        span = edit.span
        if span.line != span.end_line or "\n" in edit.text or span.line > len(lines):
            return Cure(edits=tuple(fix))
        text = texts.get(span.line, lines[span.line - 1])
        texts[span.line] = text[: span.column - 1] + edit.text + text[span.end_column - 1 :]
    steps = tuple(Step(text.strip(), number) for number, text in sorted(texts.items()))
    return Cure(steps, tuple(fix))


def _asked(one: Put | Move | Drop) -> str:
    if isinstance(one, Put):
        return f"{one.name} = {show(one.name, one.value)}"
    if isinstance(one, Move):
        row = one.row
        return f"{row.mode} on channel {row.channel}: {one.low_us:g} to {one.high_us:g}"
    return f"without line {one.span.line}"


class _New(NamedTuple):
    """New lines below a line of the dump, with all titles they need."""

    after: int
    texts: tuple[str, ...]
    under: str = ""


#: What there must not be more of when the lines are changed.
_ODD = ("strays", "misread", "unreadable", "refusals", "repeats")


def _modes(ranges: Iterable[ModeRange], links: Iterable[ModeLink]) -> list[Any]:
    """What ranges and links say, in any order of lines."""
    return sorted((*row[:5],) for row in ranges) + sorted((*link[:3],) for link in links)


class _Maker:
    def __init__(self, reader: Reader, craft: Craft) -> None:
        self.reader = reader
        self.craft = craft
        self.dialect: Dialect = reader.dialect
        self.lines = reader.source.lines

    def make(self, edits: Edits) -> Cure:
        puts = {one.name: self._settled(one) for one in edits if isinstance(one, Put)}
        characters, lacking = self._in_place(puts)
        for one in edits:
            if isinstance(one, Move):
                rows = [row[:-1] for row in self.craft.mode_ranges]
                number = rows.index(one.row[:-1])
                old = self.craft.mode_ranges[number]
                row = old._replace(low_us=one.low_us, high_us=one.high_us)
                characters += edits_of_range(self.reader, number, row)
        replaced: dict[int, str | None] = dict(changed_lines(self.reader, characters))
        for one in edits:
            if isinstance(one, Drop):
                for number in range(one.span.line, one.span.end_line + 1):
                    replaced[number] = None
        if not lacking:
            self._prove(replaced, [], edits, puts)
            return self._cure(replaced, [])
        return self._with_new(replaced, lacking, edits, puts)

    # -- what stands there ---------------------------------------------------------------------

    def _settled(self, put: Put) -> Any:
        """The value itself, or the nearest that the dialect can write."""
        row = setting(put.name)
        read = self.reader.reads.get(put.name)
        ways = (
            [(self.reader.codec(read), read.entry.row_of(read.field))]
            if read is not None
            else [
                (entry.codecs[field], row)
                for entry, field in self.reader.tables.entries_of(family(put.name))
            ]
        )
        if not ways:
            raise Bad(f"the dialect `{self.dialect.id}` has no line for {put.name}")
        codec, row = ways[0]
        if put.least is None and put.most is None:
            return put.value
        least = put.value if put.least is None else put.least
        most = put.value if put.most is None else put.most
        coded = [float(name) for name in codec.words if re.fullmatch(r"[0-9.]+", name)]
        found = [(0, abs(one - put.value), one) for one in coded if least <= one <= most]
        raw = raw_of(codec, row, float(put.value))
        for places in range(1 if codec.base == 16 else 4) if not found else ():
            for step in (-1, 0, 1):
                text = show_number(round(round(raw, places) + step * 10**-places, places))
                try:
                    value = decode(codec, row, text)
                except Bad:
                    continue
                if isinstance(value, int | float) and least <= value <= most:
                    found.append((places, abs(value - put.value), float(value)))
            if found:
                break
        if not found:
            raise Bad(
                f"the dialect `{self.dialect.id}` has no number for {put.name} from "
                f"{least:g} to {most:g}"
            )
        return min(found)[2]

    def _in_place(self, puts: dict[str, Any]) -> tuple[list[Change], list[str]]:
        """The characters to change, and the settings that no line says (so)."""
        characters: list[Change] = []
        lacking: list[str] = []
        for name, value in puts.items():
            try:
                characters.append(edit_of(self.reader, name, value))
            except Bad:
                lacking.append(name)
        return characters, lacking

    # -- what does not -------------------------------------------------------------------------

    def _with_new(
        self,
        replaced: dict[int, str | None],
        lacking: list[str],
        edits: Edits,
        puts: dict[str, Any],
    ) -> Cure:
        writer = self._writer(puts, lacking)
        written = writer.written()
        said = {name for part in written.parts for name in part.says}
        for name in lacking:
            if name not in said:
                self._unwritten(name, puts[name], writer.reasons)
        new: list[list[_New]] = []
        for part in written.parts:
            old = self._line_of(part)
            if old is not None:
                start = len(old.text[: old.start])
                replaced[old.line] = old.text[:start] + part.text
            else:
                new.append(list(self._places(part, writer)))
        refused = Bad("no line of it says this")
        # Of the places that a new line could stand in, the first at which it is read as it should.
        for depth in range(max((len(places) for places in new), default=1)):
            chosen = [places[min(depth, len(places) - 1)] for places in new]
            try:
                self._prove(replaced, chosen, edits, puts)
            except Bad as wrong:
                refused = wrong
                continue
            return self._cure(replaced, chosen)
        raise refused

    def _unwritten(self, name: str, value: Any, reasons: dict[str, str]) -> None:
        reason = reasons.get(name) or "no line of it says this"
        raise Bad(
            f"the dialect `{self.dialect.id}` cannot say {name} = {show(name, value)}: {reason}"
        )

    def _writer(self, puts: dict[str, Any], lacking: list[str]) -> Writer:
        values = dict(self.craft.values)
        for name, value in puts.items():
            values[name] = Value(name, value, "set")
        for name in list(values):
            # What the dump's own line says is kept if the line is written anew.
            if values[name].origin == "default":
                values[name] = values[name]._replace(origin="set")
        craft = self.craft.changed(values=values, mode_ranges=(), mode_links=())
        profile = self.reader.profile_in_use
        writer = Writer(craft, self.dialect, self.reader.tables.version, profile, like=self.reader)
        writer.todo = {name: values[name] for name in lacking}
        return writer

    def _line_of(self, part: Line) -> Row | None:
        """The one line of the dump that says nothing but what a new line says as well."""
        lines = {
            read.row.line: read.row
            for name in part.says
            if (read := self.reader.reads.get(name)) is not None
        }
        if len(lines) != 1 or "\n" in part.text:
            return None
        row = next(iter(lines.values()))
        says = {name for name, read in self.reader.reads.items() if read.row.line == row.line}
        return row if says <= set(part.says) and row.text == self.lines[row.line - 1] else None

    def _places(self, part: Line, writer: Writer) -> Iterator[_New]:
        """Where a new line could stand, the best place first."""
        codes = tuple(title_code(title) for title in part.section)
        rows = [
            row
            for row in self.reader.rows
            if not row.comment
            and self.reader.uses.get(row.line) in ("used", "kept")
            and self._titles(row) == codes
        ]
        texts = tuple(part.text.split("\n"))
        under = " / ".join(part.section)
        beginning = part.says[0].rpartition(".")[0]
        kinds = dict.fromkeys((beginning, beginning.partition(".")[0]))
        likes = [
            [row for row in rows if any(name.startswith(f"{kind}.") for name in self._says(row))]
            for kind in kinds
            if kind
        ]
        for alike in (*likes, rows):
            if alike:
                row = alike[-1]
                lead = row.text[: row.start] if row.text == self.lines[row.line - 1] else ""
                yield _New(row.line, tuple(lead + text for text in texts), under)
        whole = tuple(writer.put_together([part]))
        yield _New(self._end(), whole, "" if not rows else under)

    def _titles(self, row: Row) -> tuple[str, ...]:
        """The titles over a row; comments that look like some are none to write under."""
        return tuple(
            title_code(self.reader.title_text(one)) for one in row.titles if one.style != "comment"
        )

    def _says(self, row: Row) -> Iterator[str]:
        return (name for name, read in self.reader.reads.items() if read.row.line == row.line)

    def _end(self) -> int:
        """The last line below which more can stand: above the saving line, if there is one."""
        save = title_code(self.dialect.mark("save") or "")
        for row in self.reader.rows if save else ():
            if title_code(row.text[row.start :]) == save:
                return row.line - 1
        filled = [number for number, line in enumerate(self.lines, 1) if line.strip()]
        return max(filled, default=0)

    # -- proof ---------------------------------------------------------------------------------

    def _text(self, replaced: dict[int, str | None], new: Iterable[_New]) -> str:
        out: list[str] = []
        below: dict[int, list[str]] = {}
        for one in new:
            below.setdefault(one.after, []).extend(one.texts)
        out += below.get(0, [])
        for number, line in enumerate(self.lines, 1):
            text = replaced.get(number, line)
            if text is not None:
                out.append(text)
            out += below.get(number, [])
        return "\n".join(out) + "\n"

    def _prove(
        self,
        replaced: dict[int, str | None],
        new: Sequence[_New],
        edits: Edits,
        puts: dict[str, Any],
    ) -> None:
        """Raise Bad unless the changed dump says what is asked for and else the same as before."""
        old = self.craft
        got, modes, odd = self._said_by(self._text(replaced, new))
        for name, value in puts.items():
            if name not in got or not close(got[name], value):
                raise Bad(f"the line for {name} would be read as something else")
        wanted = changed(old, edits)
        for name in old.values.keys() | got.keys():
            gone = name in old.values and name not in wanted.values
            if name not in puts and not gone and old.get(name).value != got.get(name):
                raise Bad(f"the line would change {name} as well")
        if modes != _modes(wanted.mode_ranges, wanted.mode_links):
            raise Bad("the line would change another mode as well")
        if any(odd[kind] > len(getattr(old, kind)) for kind in _ODD):
            raise Bad("the line would not be understood where it stands")

    def _said_by(self, text: str) -> tuple[dict[str, Any], list[Any], dict[str, int]]:
        """What a changed dump says: values, modes, and how much of each kind is odd.

        Several findings may ask for one cure, so it is kept with the dump.
        """
        proofs = self.reader.source.noted.setdefault(_Maker, {})
        name = (text, self.craft.extent)
        if name not in proofs:
            old = self.reader
            source = Source(old.file, text, old.source.encoding)
            reader = Reader(source, self.dialect, name=old.craft_name, extent=self.craft.extent)
            reader.read()
            proofs[name] = (
                {name: one.value for name, one in reader.values.items()},
                _modes(reader.ranges, reader.links),
                {kind: len(getattr(reader, kind)) for kind in _ODD},
            )
        found: tuple[dict[str, Any], list[Any], dict[str, int]] = proofs[name]
        return found

    # -- as it is told -------------------------------------------------------------------------

    def _cure(self, replaced: dict[int, str | None], new: Sequence[_New]) -> Cure:
        steps: list[Step] = []
        edits: list[Edit] = []
        file = self.reader.file
        for number, text in sorted(replaced.items()):
            line = self.lines[number - 1]
            if text is None:
                steps.append(Step("", number))
                edits.append(self._without(number))
            elif text != line:
                steps.append(Step(text.strip(), number))
                edits.append(_difference(file, number, line, text))
        newline = "\r\n" if "\r\n" in self.reader.source.text else "\n"
        for one in new:
            steps += [Step(text.strip(), 0, one.after, one.under) for text in one.texts]
            if one.after:
                end = len(self.lines[one.after - 1]) + 1
                at = Span(file, one.after, end, one.after, end)
                edits.append(Edit(at, "".join(newline + text for text in one.texts)))
            else:
                top = Span(file, 1, 1, 1, 1)
                edits.append(Edit(top, "".join(text + newline for text in one.texts)))
        if not edits:
            raise Bad("the dump says so already")
        return Cure(tuple(steps), tuple(edits))

    def _without(self, number: int) -> Edit:
        file = self.reader.file
        if number < len(self.lines):
            return Edit(Span(file, number, 1, number + 1, 1), "")
        if number == 1:
            return Edit(Span(file, 1, 1, 1, len(self.lines[0]) + 1), "")
        before = len(self.lines[number - 2]) + 1
        return Edit(Span(file, number - 1, before, number, len(self.lines[-1]) + 1), "")


def _difference(file: str, number: int, old: str, new: str) -> Edit:
    """The characters in which two lines differ."""
    start, end = common_ends(old, new)
    at = Span(file, number, start + 1, number, len(old) - end + 1)
    return Edit(at, new[start : len(new) - end])


def _inside(span: Span, other: Span) -> bool:
    return span.file == other.file and other.line <= span.line <= other.end_line
