"""From the craft back to lines: what reading undoes.

A line is written from its address as the dialect file spells it, in the way that reading takes it:
the value behind the words, fields among the words of a line, cells under a header, several values
or items in a row, or parts of a record in lines of their own.  Whatever is written is read again
before it is given out.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.model import ModeLink
from cfglint.craft.settings import SETTINGS, family, setting
from cfglint.dialect.encode import close, encode
from cfglint.dialect.lines import fields as fields_of
from cfglint.dialect.lines import fill, words
from cfglint.dialect.mapping import Entry
from cfglint.dialect.model import Dialect, Tables, number_in
from cfglint.dialect.values import Bad

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.craft.model import Craft, ModeRange, Value
    from cfglint.dialect.reading import Reader

#: What varies in an address's text: a field, anything, or a counting number.
_VARIES = re.compile(r"\{([A-Za-z_]*)\}|(\*)|(?<![^\W_])(N)(?![^\W_])")
_NAME = re.compile(r"[a-z-]+(?:\.[a-z0-9_]+)+")
GAP = "…"


class Line(NamedTuple):
    """A line, the titles it belongs under, and what it says.

    ``says`` are neutral settings' names; for a mode range or link ``range 3`` or ``link 0``,
    with its number in the craft.  ``head`` is a line that must stand above it: a table's header.
    """

    section: tuple[str, ...]
    text: str
    says: tuple[str, ...] = ()
    head: str = ""


class Written(NamedTuple):
    """What a craft comes to in a dialect's words.

    ``lines`` is the whole text, sections put together; ``parts`` the same lines one by one;
    ``unwritten`` names what the dialect cannot say.
    """

    lines: tuple[str, ...]
    unwritten: tuple[str, ...]
    top: tuple[str, ...] = ()
    parts: tuple[Line, ...] = ()


def write_lines(craft: Craft, dialect: Dialect, version: str) -> Written:
    """The lines of a dialect's version for everything that is set in a craft.

    Only values of origin ``set`` are written: defaults hold by themselves.
    """
    return Writer(craft, dialect, version).written()


class Writer:
    """Writes one craft; ``profile`` is the numbered profile that its values go into ("": the
    dialect's first).  ``like`` is a dump whose titles and habits are kept.
    """

    def __init__(
        self,
        craft: Craft,
        dialect: Dialect,
        version: str,
        profile: str = "",
        like: Reader | None = None,
    ) -> None:
        self.craft = craft
        self.dialect = dialect
        self.version = version
        self.tables: Tables = dialect.at(version)
        self.profile = profile or str(self.tables.profiles.get("first", 1))
        self.titles = Titles(dialect, like)
        self.todo: dict[str, Value] = {
            name: value for name, value in craft.values.items() if value.origin == "set"
        }
        self.ranges = dict(enumerate(craft.mode_ranges))
        self.links = dict(enumerate(craft.mode_links))
        self.lines: list[Line] = []
        self.unwritten: list[str] = []
        self.reasons: dict[str, str] = {}
        # How many ranges or links of each kind are written: the number of the next one's slot.
        self.slots: dict[tuple[Any, ...], int] = {}

    # -- the whole ---------------------------------------------------------------------------

    def written(self) -> Written:
        """All lines, sections put together, and what could not be written."""
        top = self._identity()
        for entries in _grouped(self.tables.map.entries):
            first = entries[0]
            if first.makes != "settings":
                continue
            if first.way == "table":
                self._table(entries)
            elif first.way == "each":
                self._each(first)
            else:
                self._settings(first)
        for entries in _grouped(self.tables.map.entries):
            if entries[0].makes != "settings":
                self._modes(entries)
        self.unwritten += sorted(self.todo)
        self.unwritten += [
            f"range of {row.mode} on channel {row.channel}" for row in self.ranges.values()
        ]
        self.unwritten += [f"link of {row.mode} to {row.follows}" for row in self.links.values()]
        self._prove(top)
        lines = (*top, *self.put_together(self.lines))
        return Written(lines, tuple(self.unwritten), tuple(top), tuple(self.lines))

    def _identity(self) -> list[str]:
        identity = self.dialect.data.get("identity", {})
        said = {"extent": str(identity.get(self.craft.extent, ""))}
        for field in ("board", "firmware", "name"):
            value = self.todo.get(f"craft.{field}")
            if value is not None:
                said[field] = str(value.value)
        if self.version:
            # What the lines mean depends on it, so it is said even where the craft does not.
            said["firmware"] = self.version
        out: list[str] = []
        told: set[str] = set()
        for form in identity.get("lines", []):
            names = fields_of(form)
            # Several lines where each says something more; of ways to say the same, the first.
            if all(said.get(field) for field in names) and not told.issuperset(names):
                out.append(fill(form, said))
                told.update(names)
        for field in told:
            self.todo.pop(f"craft.{field}", None)
        return out

    def put_together(self, lines: Sequence[Line]) -> list[str]:
        """The text of lines: those of no section first, then section by section."""
        sections: dict[tuple[str, ...], list[Line]] = {(): []}
        named: dict[tuple[str, ...], tuple[str, ...]] = {(): ()}
        for line in lines:
            name = tuple(title_code(title) for title in line.section)
            named.setdefault(name, line.section)
            sections.setdefault(name, []).append(line)
        out: list[str] = []
        for name, inner in sections.items():
            texts: list[str] = []
            head = ""
            for line in sorted(inner, key=lambda one: [row.head for row in inner].index(one.head)):
                if line.head and line.head != head:
                    texts += line.head.split("\n")
                head = line.head
                texts += line.text.split("\n")
            out += self.titles.around(named[name], texts)
        return out

    def _prove(self, top: Sequence[str]) -> None:
        """Read what is written: a line that is not read as what it says is none."""
        from cfglint.dialect.reading import Reader
        from cfglint.dump.source import Source

        text = "\n".join((*top, *self.put_together(self.lines)))
        reader = Reader(Source.from_text("written", text), self.dialect, version=self.version)
        craft = reader.craft()
        got: dict[str, Any] = {name: one.value for name, one in craft.values.items()}
        got.update(reader.profiles.get(self.profile, {}).items())
        ranges = [one[:5] for one in craft.mode_ranges]
        links = [one[:3] for one in craft.mode_links]
        for line in list(self.lines):
            wrong = [name for name in line.says if not self._holds(name, got, ranges, links)]
            if wrong:
                self.lines.remove(line)
                for name in line.says:
                    self.reasons.setdefault(name, f"`{line.text}` would be read as something else")
                    self.unwritten.append(self._call(name))

    def _holds(
        self, name: str, got: Mapping[str, Any], ranges: list[Any], links: list[Any]
    ) -> bool:
        kind, _, number = name.partition(" ")
        if number:
            rows = self.craft.mode_ranges if kind == "range" else self.craft.mode_links
            own = rows[int(number)][: 5 if kind == "range" else 3]
            others = ranges if kind == "range" else links
            return any(all(map(close, own, other)) for other in others)
        value = got.get(name)
        return close(getattr(value, "value", value), self.craft.get(name).value)

    def _call(self, name: str) -> str:
        kind, _, number = name.partition(" ")
        if not number:
            return name
        row: Any = (self.craft.mode_ranges if kind == "range" else self.craft.mode_links)[
            int(number)
        ]
        return (
            f"range of {row.mode} on channel {row.channel}"
            if kind == "range"
            else f"link of {row.mode} to {row.follows}"
        )

    # -- settings ----------------------------------------------------------------------------

    def _members(self, entry: Entry) -> list[str]:
        """The numbers of the members that an entry could write, ``""`` where it counts nothing."""
        wanted = entry.sets.values()
        if not any(".N" in name for name in wanted):
            return [""]
        found = {
            number for name in wanted for known in self.todo if (number := number_in(name, known))
        }
        return sorted(found, key=int)

    def _settings(self, entry: Entry) -> None:
        for number in self._members(entry):
            found = self._fields(entry, number)
            if found is None:
                continue
            names, fields = found
            line = self.titles.line(self.tables, entry, fields)
            if line is None:
                self._why(names, "its address does not say how the whole line is written")
                continue
            self._add(line._replace(says=tuple(names)))

    def _add(self, line: Line) -> None:
        self.lines.append(line)
        for name in line.says:
            self.todo.pop(name, None)

    def _fields(self, entry: Entry, number: str) -> tuple[list[str], dict[str, str]] | None:
        """The settings that one line says and its fields' texts, or None where it cannot be."""
        names = {
            field: name.replace("N", number, 1) if number else name
            for field, name in entry.sets.items()
        }
        # A line of several fields needs them all: what is not set is said as it holds.
        known = {name: self.craft.get(name) for name in names.values()}
        if not any(name in self.todo for name in known):
            return None
        if not all(value.known for value in known.values()):
            lacking = ", ".join(f"`{n}`" for n, value in known.items() if not value.known)
            self._why(known, f"its line says {lacking} as well, and nobody says what that is")
            return None
        fields = {"P": self.profile}
        try:
            if number:
                fields["N"] = encode(entry.codecs["N"], entry.row_of("N"), int(number))
            for field, name in names.items():
                fields[field] = encode(entry.codecs[field], setting(name), known[name].value)
        except Bad as bad:
            self._why(known, bad.valid)
            return None
        return list(known), fields

    def _why(self, names: Iterable[str], reason: str) -> None:
        """Note why settings could not be written, in case no other line says them."""
        for name in names:
            self.reasons.setdefault(name, reason)

    def _each(self, entry: Entry) -> None:
        """A line with one value for each number, from the first until nobody says what it is."""
        if "value" not in entry.sets:
            names = [name for name in self.todo if family(name) in entry.sets.values()]
            self._why(names, "its line holds several items, which only a dump's line can say")
            return
        whole = entry.sets["value"]
        known = {int(n): name for name in self.craft.values if (n := number_in(whole, name))}
        if not any(name in self.todo for name in known.values()):
            return
        texts: list[str] = []
        try:
            for number in range(1, max(known) + 1):
                value = self.craft.get(known.get(number, ""))
                if not value.known:
                    self._why(known.values(), f"nobody says what it is for number {number}")
                    break
                texts.append(encode(entry.codecs["value"], setting(whole), value.value))
        except Bad as bad:
            self._why(known.values(), bad.valid)
            return
        line = self.titles.line(self.tables, entry, {"value": "  ".join(texts), "P": self.profile})
        if line is not None and texts:
            self._add(line._replace(says=tuple(known[n + 1] for n in range(len(texts)))))

    def _table(self, entries: Sequence[Entry]) -> None:
        """A table's header and its rows, aligned."""
        turned = [entry for entry in entries if "N" in _column_fields(entry)]
        rows: list[tuple[list[str], tuple[str, ...], tuple[str, ...]]] = []
        heads: list[str] = []
        if turned:
            heads, rows = self._turned(turned)
        for entry in entries:
            if entry in turned:
                continue
            labels = {field: _spell(_column(entry, field), {}) for field in entry.columns}
            own_number = "N" in entry.columns
            corner = [] if own_number else [_corner(entry)]
            heads = [*corner, *map(str, labels.values())]
            for number in self._members(entry):
                found = self._fields(entry, number)
                if found is None:
                    continue
                names, fields = found
                first = [] if own_number else [self.titles.label(entry, fields) or ""]
                cells = [*first, *(fields.get(field, "") for field in labels)]
                rows.append(
                    (cells, tuple(names), self.titles.above(entry, fields, table=not first))
                )
        if rows and all(all(cells) for cells, *_ in rows):
            self._lay_out(heads, rows)
        elif rows:
            self._why([name for _, names, _ in rows for name in names], "a cell would be empty")

    def _turned(
        self, entries: Sequence[Entry]
    ) -> tuple[list[str], list[tuple[list[str], tuple[str, ...], tuple[str, ...]]]]:
        """A table with one line for a setting and a column for each number."""
        numbers = sorted({int(n) for entry in entries for n in self._members(entry) if n})
        heads: list[str] = []
        rows = []
        for entry in entries:
            name = next(iter(entry.sets.values()))
            names = [name.replace("N", str(number), 1) for number in numbers]
            if not any(one in self.todo for one in names):
                continue
            try:
                heads = [_corner(entry)]
                for number in numbers:
                    count = encode(entry.codecs["N"], entry.row_of("N"), number)
                    heads.append(_spell(_column(entry, "value"), {"N": count}) or "")
                values = [self.craft.get(one) for one in names]
                spare = entry.codecs["value"].none[:1]
                said = [one.known and (one.origin == "set" or not spare) for one in values]
                cells = [
                    encode(entry.codecs["value"], setting(name), one.value)
                    if own
                    else spare[0]
                    if spare
                    else ""
                    for one, own in zip(values, said, strict=True)
                ]
            except Bad as bad:
                self._why(names, bad.valid)
                continue
            label = self.titles.label(entry, {"P": self.profile}) or ""
            says = tuple(one for one, own in zip(names, said, strict=True) if own)
            above = self.titles.above(entry, {"P": self.profile}, table=False)
            rows.append(([label, *cells], says, above))
        return heads, rows

    def _lay_out(
        self,
        heads: list[str],
        rows: list[tuple[list[str], tuple[str, ...], tuple[str, ...]]],
    ) -> None:
        between = self.dialect.mark("cells") or "  "
        lines = [heads, *(cells for cells, *_ in rows)]
        widths = [max(len(line[place]) for line in lines) for place in range(len(heads))]

        def drawn(cells: list[str]) -> str:
            padded = [cell.ljust(width) for cell, width in zip(cells, widths, strict=True)]
            return between.join(padded).rstrip()

        for cells, says, section in rows:
            self._add(Line(section, drawn(cells), says, drawn(heads)))

    # -- modes -------------------------------------------------------------------------------

    def _modes(self, entries: Sequence[Entry]) -> None:
        first = entries[0]
        rows: dict[int, Any] = dict(self.ranges if first.makes == "range" else self.links)
        if first.item is not None:
            self._items(first, rows)
            return
        if first.way == "table":
            self._mode_table(first, rows)
            return
        for number, row in rows.items():
            fields = self._mode_fields(first, row)
            if fields is None:
                continue
            slot = (first.place, self.slots.get((first.place,), 0) + 1)
            fields["N"] = str(slot[1])
            if "N" in first.codecs:
                try:
                    fields["N"] = encode(first.codecs["N"], first.row_of("N"), slot[1])
                except Bad:
                    continue
            says = (f"{first.makes} {number}",)
            if self._mode_lines(entries, fields, says):
                self.slots[(first.place,)] = slot[1]
                (self.ranges if first.makes == "range" else self.links).pop(number)

    def _mode_lines(
        self, entries: Sequence[Entry], fields: dict[str, str], says: tuple[str, ...]
    ) -> bool:
        """Write the line, table line or parts of one range or link."""
        lines: list[Line] = []
        for entry in entries:
            field = entry.sets.get("value", "value") if entry.way == "phrase" else ""
            if field and field not in fields:
                return False
            own = {**fields, "value": fields[field]} if field else fields
            line = self.titles.line(self.tables, entry, own)
            if line is None:
                return False
            if not any(title_code(one.text) == title_code(line.text) for one in lines):
                lines.append(line)
        text = "\n".join(line.text for line in lines)
        self.lines.append(Line(lines[0].section, text, says))
        return True

    def _mode_table(self, entry: Entry, rows: Mapping[int, ModeRange | ModeLink]) -> None:
        """Ranges or links as the lines of one table."""
        heads = [_spell(_column(entry, field), {}) or "" for field in entry.columns]
        cells: list[tuple[list[str], tuple[str, ...], tuple[str, ...]]] = []
        for number, row in rows.items():
            fields = self._mode_fields(entry, row)
            if fields is None:
                continue
            fields["N"] = str(len(cells) + 1)
            texts = [fields.get(field, "") for field in entry.columns]
            if all(texts):
                above = self.titles.above(entry, fields, table=True)
                cells.append((texts, (f"{entry.makes} {number}",), above))
                (self.ranges if entry.makes == "range" else self.links).pop(number)
        if cells:
            self._lay_out(heads, cells)

    def _mode_fields(self, entry: Entry, row: ModeRange | ModeLink) -> dict[str, str] | None:
        """The texts of a range's or link's fields; None where an entry cannot say it."""
        values: dict[str, Any] = {"mode": row.mode, "join": row.join}
        if isinstance(row, ModeLink):
            values["follows"] = row.follows
        else:
            values.update(channel=row.channel, low=row.low_us, high=row.high_us)
            values["width"] = row.high_us - row.low_us
            values["half"] = values["width"] / 2
            values["centre"] = row.low_us + values["half"]
        own = {*entry.at.fields, *entry.columns, *(entry.item.fields if entry.item else ())}
        if (
            "join" not in own
            and entry.way != "phrase"
            and entry.join != row.join
            and not entry.all_where
        ):
            return None
        fields = {"P": self.profile}
        for field, value in values.items():
            if field in entry.codecs:
                try:
                    fields[field] = encode(entry.codecs[field], entry.row_of(field), value)
                except Bad as bad:
                    if field in own:
                        self._why([f"{entry.makes} of {row.mode}"], bad.valid)
                        return None
        return fields

    def _items(self, entry: Entry, rows: Mapping[int, ModeRange]) -> None:
        """All ranges of one mode in one line."""
        assert entry.item is not None
        by_mode: dict[tuple[str, str], list[int]] = {}
        for number, row in rows.items():
            by_mode.setdefault((row.mode, row.join), []).append(number)
        for (_, join), numbers in by_mode.items():
            items, fields = [], None
            for number in numbers:
                fields = self._mode_fields(entry, rows[number])
                text = _spell(entry.item.text, fields) if fields is not None else None
                items.append(text or "")
            where = self.tables.raw["rows"][entry.place[1]].get("all_where", "")
            both = f" {where} " if join == "all" and where else "  "
            if fields is None or not all(items) or (join == "all" and len(items) < 2):
                continue
            line = self.titles.line(self.tables, entry, {**fields, "value": both.join(items)})
            if line is not None:
                self.lines.append(line._replace(says=tuple(f"range {n}" for n in numbers)))
                for number in numbers:
                    self.ranges.pop(number)


class Titles:
    """How titles and lines are written: as the dialect says, else as a dump does it."""

    def __init__(self, dialect: Dialect, like: Reader | None = None) -> None:
        self.open = dialect.mark("open")
        self.closing = dialect.mark("close")
        self.flat = dialect.mark("title")
        self.assign = ""
        if not dialect.mark("assign") and like is not None:
            self.assign = like.habit()
        self.raw: dict[str, str] = {}
        if like is not None and not self.open:
            for row in like.rows:
                for title in row.titles:
                    text = like.source.lines[title.line - 1].strip()
                    self.raw.setdefault(title_code(like.title_text(title)), text)

    def around(self, section: tuple[str, ...], inner: list[str]) -> list[str]:
        """Lines with their titles."""
        if not section:
            return inner
        form = self.open or self.flat
        opening = [
            fill(form, {"title": title}) if form else self.raw.get(title_code(title), title)
            for title in section
        ]
        # Titles that stand by themselves need no indentation; others do where none is closed.
        nested = bool(self.closing) or (
            not self.flat and re.fullmatch(r"[^\W_].*?:?", opening[-1]) is not None
        )
        out = ["  " * (depth if nested else 0) + title for depth, title in enumerate(opening)]
        out += ["  " * (len(section) if nested else 0) + line for line in inner]
        if self.closing:
            out += ["  " * depth + self.closing for depth in reversed(range(len(section)))]
        return out

    def can_write(self, section: tuple[str, ...]) -> bool:
        return bool(self.open or self.flat) or all(
            title_code(title) in self.raw for title in section
        )

    def above(self, entry: Entry, fields: Mapping[str, str], *, table: bool) -> tuple[str, ...]:
        """The titles of an entry's lines; a table's line need not begin with words."""
        steps = entry.at.text.split(" > ")
        steps = steps[:-1] if not table else [one for one in steps if one.strip() != "{N}"]
        return tuple(_spell(step.strip(), fields) or step.strip() for step in steps)

    def label(self, entry: Entry, fields: Mapping[str, str]) -> str | None:
        """The words that an entry's line begins with."""
        return _spell(entry.at.text.rsplit(" > ", 1)[-1].strip(), fields)

    def line(self, tables: Tables, entry: Entry, fields: Mapping[str, str]) -> Line | None:
        """One line of an entry, without what it says; None where its text cannot be told."""
        steps = [step.strip() for step in entry.at.text.split(" > ")]
        section = self.above(entry, fields, table=False)
        if any(step is None for step in (_spell(one, fields) for one in steps[:-1])):
            return None
        if not self.can_write(section):
            # No title can be written: the whole address may stand in one line.
            section, steps = (), [" ".join(steps)]
        if entry.way == "template":
            text = _spell(steps[-1], fields)
        else:
            name = _spell(tables.bare(steps[-1]), fields)
            form = self.assign or tables.assign_for(steps[-1])
            text = fill(form, {"name": name, "value": fields["value"]}) if name else None
        return Line(section, text) if text is not None else None


def _spell(text: str, fields: Mapping[str, str]) -> str | None:
    """An address's text with its fields filled in; None where it may be anything."""
    lacking = False

    def put(match: re.Match[str]) -> str:
        nonlocal lacking
        found = fields.get(match[1] or match[3] or "")
        lacking = lacking or found is None
        return found or ""

    made = _VARIES.sub(put, text)
    return None if lacking else made


def title_code(text: str) -> str:
    """A text as titles are compared: words only."""
    return " ".join(words(text))


def _column(entry: Entry, field: str) -> str:
    return entry.columns[field].text if field in entry.columns else ""


def _corner(entry: Entry) -> str:
    """What stands in a header over the names of a table's lines."""
    return entry.header.text if entry.header is not None else "-"


def _column_fields(entry: Entry) -> tuple[str, ...]:
    return tuple(field for part in entry.columns.values() for field in part.fields)


def _grouped(entries: Iterable[Entry]) -> Iterator[list[Entry]]:
    """Entries that are written together: rows of several fields first, then the map, in order.

    The parts of a record and the lines of one turned table belong together.
    """
    groups: dict[Any, list[Entry]] = {}
    for entry in entries:
        key: Any = (entry.place, entry.at.text)
        if entry.makes != "settings" and entry.way == "phrase":
            key = entry.place
        elif entry.way == "table" and "N" in _column_fields(entry):
            key = ("table", entry.at.text.rpartition(" > ")[0])
        groups.setdefault(key, []).append(entry)
    yield from sorted(groups.values(), key=lambda one: one[0].place[:1] != ("rows",))


# ---------------------------------------------------------------- telling which line


def settings_in(text: str) -> list[str]:
    """The neutral settings that a text speaks of, in order, each once."""
    return [name for name in dict.fromkeys(_NAME.findall(text)) if family(name) in SETTINGS]


def spell(dialect: Dialect, version: str, name: str) -> str:
    """The line that sets a neutral setting, with ``…`` for its value; "" if there is none.

    A line under titles is followed by ``in`` and these.
    """
    tables = dialect.at(version)
    titles = Titles(dialect)
    for entry, field in tables.entries_of(family(name)):
        number = number_in(entry.sets[field], name)
        fields = dict.fromkeys((*entry.codecs, "P"), GAP)
        try:
            if number:
                fields["N"] = encode(entry.codecs["N"], entry.row_of("N"), int(number))
        except Bad:
            continue
        if entry.way == "table":
            label = titles.label(entry, fields) or ""
            head = _spell(_column(entry, field), fields) or ""
            above = titles.above(entry, fields, table="N" in entry.columns)
            text = " ".join(part for part in (label, GAP, f"under {head}") if part)
            return f"{text} in {' / '.join(above)}" if above else text
        if (
            entry.way == "template"
            and entry.row_of("value").kind == "flag"
            and len(entry.sets) == 1
        ):
            known = entry.codecs["value"].words
            both = (
                titles.line(tables, entry, {**fields, "value": known[one][0]})
                for one in ("yes", "no")
            )
            shown = [line for line in both if line is not None]
            text, line = " or ".join(one.text for one in shown), next(iter(shown), None)
        else:
            line = titles.line(tables, entry, fields)
            text = line.text if line is not None else ""
        if line is not None:
            return f"{text} in {' / '.join(line.section)}" if line.section else text
    return ""
