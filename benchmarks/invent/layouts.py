"""Lines for what there are several of: channels, ports, mode ranges, links; drawn at random."""

from __future__ import annotations

import re
from collections.abc import Iterator
from random import Random
from typing import NamedTuple

from cfglint.dump.forms import pattern
from invent.model import Item, Record, Spell
from invent.names import Author
from invent.shapes import Shape
from invent.spells import Speller, counting, draw_ends, number
from invent.words import RECORDS, VALUES, Half

CHANNEL = ("channel.N.low_us", "channel.N.mid_us", "channel.N.high_us")


def fill_name(assign: str, name: str, value: str) -> str:
    """An assignment's form with its name and value filled in."""
    return assign.replace("{name}", name).replace("{value}", value)


class Families(NamedTuple):
    """How members of families are written: as items of their own or in records.

    ``heads`` are the records' first words.
    """

    items: tuple[Item, ...]
    records: tuple[Record, ...]
    modes: Spell
    heads: tuple[str, ...]
    has_join: bool
    has_links: bool

    def has(self, setting: str) -> bool:
        return any(item.setting == setting for item in self.items) or any(
            setting in record.sets.values() for record in self.records
        )

    def could_be(self, name: str) -> bool:
        """Whether a name could be taken for that of a family's member."""
        return any(
            "{N}" in item.name and re.fullmatch(pattern(item.name), name) for item in self.items
        )

    def coded(self) -> Iterator[tuple[str, Spell]]:
        """Families' settings with how they are written."""
        for item in self.items:
            yield item.setting, item.spell
        for record in self.records:
            for field, setting in record.sets.items():
                yield setting, record.fields[field]


class _Maker:
    def __init__(
        self,
        rng: Random,
        half: Half,
        shape: Shape,
        author: Author,
        speller: Speller,
        titles: dict[str, str],
        taken: set[tuple[str, str]],
    ) -> None:
        self.rng, self.half, self.shape = rng, half, shape
        self.author, self.speller, self.titles, self.taken = author, speller, titles, taken
        self.items: list[Item] = []
        self.records: list[Record] = []
        self.heads: list[str] = []
        self.end = ";" if shape.assign.endswith(";") else ""
        self.sectioned = shape.sections != "none"
        # One character between fields for all records of a dialect.
        glyphs = [one for one in (" ", " ", " ", " ", ",", ":", "/") if one != shape.divider]
        self.glyph = rng.choice(glyphs)

    def head(self, kind: str) -> str:
        """A first word for records that nothing else is called."""
        words = list(RECORDS[kind].words(self.half))
        self.rng.shuffle(words)
        names = {name for _, name in self.taken} | {
            form.split()[0]
            for form in (self.shape.flag_on, self.shape.flag_off, self.shape.unset)
            if " " in form
        }
        for word in [*words, *(f"{word}rec" for word in words)]:
            if word not in names and word not in self.heads:
                self.heads.append(word)
                return word
        raise RuntimeError(f"no free word for {kind} records")

    def fields(self, head: str, *fields: str) -> str:
        return self.glyph.join([head, *fields]) + self.end

    def listed(self, name: str, *fields: str) -> str:
        """An assignment of several fields."""
        banned = set(self.shape.banned) | {self.shape.divider}
        seps = [one for one in (",", ",", ":", "/", "|") if one not in banned]
        if not self.shape.ends and self.shape.divider != " ":
            seps.append(" ")
        value = self.rng.choice(seps).join(fields)
        return fill_name(self.shape.assign, name, value)

    def family(self, setting: str, spell: Spell, counter: Spell, within: str = "") -> None:
        """An item for a family; in a section of its own the number stands in the title."""
        if within:
            drop = "channel" if setting.startswith(("channel", "failsafe")) else "port"
            words = self.author.phrase(setting, without=drop)
            name = self.author.style.join([word for word in words if word != "{N}"])
        else:
            name = self.author.name(setting, spell.unit)
            tries = 0
            while any(("", name) == one for one in self.taken) or name == "{N}":
                tries += 1
                fresh = Author(self.rng, self.half, self.author.style)
                name = fresh.name(setting, spell.unit)
        self.taken.add((within, name))
        flag = spell.kind == "flag" and bool(self.shape.flag_on)
        self.items.append(Item(setting, name, spell, within, flag, None, counter))

    # -- each kind ---------------------------------------------------------------------------

    def kinds(self, *weights: tuple[str, int]) -> str:
        rows = [row for row in weights if row[0] != "section" or self.sectioned]
        return self.rng.choices([kind for kind, _ in rows], weights=[w for _, w in rows])[0]

    def channels(self) -> None:
        kind = self.kinds(("record", 36), ("single", 20), ("list", 14), ("section", 12), ("", 18))
        counter = counting(self.speller.channel_base)
        spell = number(self.speller.scales["pulse"])
        mid = self.rng.random() < 0.85
        if kind in ("record", "list"):
            names = ["low", "mid", "high"] if mid else ["low", "high"]
            sets = {field: f"channel.N.{field}_us" for field in names}
            fields = {"N": counter, **dict.fromkeys(names, spell)}
            marks = [f"{{{field}}}" for field in names]
            if kind == "list":
                name = self.author.style.join([self.author.word("channel"), "{N}"])
                if ("", name) in self.taken:
                    name = self.author.style.join(["ends", "{N}"])
                self.taken.add(("", name))
                line = self.listed(name, *marks)
            else:
                head = self.head("channel")
                forms = [self.fields(head, "{N}", *marks)] * 3
                forms.append(f"{head}{{N}} {' '.join(marks)}{self.end}")
                forms.append(f"{head} {{N}} {'..'.join(marks)}{self.end}")
                line = self.rng.choice(forms)
            self.records.append(Record("channel", line, "settings", fields, sets))
        elif kind:
            within = f"{self.titles['channel']} {{N}}" if kind == "section" else ""
            for setting in CHANNEL if mid else (CHANNEL[0], CHANNEL[2]):
                self.family(setting, spell, counter, within)
        self._lost_channels(kind)

    def _lost_channels(self, channels: str) -> None:
        kind = self.rng.choice(("record", "single", "", ""))
        counter = counting(self.speller.channel_base)
        spell = self.speller.of("failsafe.channel.N")
        if kind == "record":
            line = self.fields(self.head("loss"), "{N}", "{value}")
            sets = {"value": "failsafe.channel.N"}
            fields = {"N": counter, "value": spell}
            self.records.append(Record("loss", line, "settings", fields, sets))
        elif kind:
            within = f"{self.titles['channel']} {{N}}" if channels == "section" else ""
            self.family("failsafe.channel.N", spell, counter, within)

    def ports(self) -> None:
        kind = self.kinds(("record", 38), ("single", 30), ("list", 10), ("section", 16), ("", 6))
        counter = counting(self.speller.number_base)
        if kind in ("record", "list"):
            functions = self.speller.functions(ends=False)
            fields = {"N": counter, "functions": functions, "baud": self.speller.line_speed()}
            sets = {"functions": "port.N.functions", "baud": "port.N.baud"}
            if kind == "list":
                name = self.author.style.join([self.author.word("port"), "{N}"])
                if ("", name) in self.taken:
                    name = self.author.style.join(["plug", "{N}"])
                self.taken.add(("", name))
                line = self.listed(name, "{functions}", "{baud}")
            else:
                head = self.head("port")
                marks = ["{functions}", "{baud}"]
                if self.rng.random() < 0.2:
                    marks.append("{inverted}")
                    fields["inverted"] = self.speller.flag()
                    sets["inverted"] = "port.N.inverted"
                forms = [self.fields(head, "{N}", *marks)] * 3
                if len(marks) == 2:
                    forms.append(f"{head} {{N}} {{functions}} @ {{baud}}{self.end}")
                    forms.append(f"{head}{{N}} {{baud}} {{functions}}{self.end}")
                line = self.rng.choice(forms)
            self.records.append(Record("port", line, "settings", fields, sets))
        elif kind:
            within = f"{self.titles['port']} {{N}}" if kind == "section" else ""
            self.family("port.N.functions", self.speller.of("port.N.functions"), counter, within)
            self.family("port.N.baud", self.speller.line_speed(), counter, within)
            if self.rng.random() < 0.3:
                self.family("port.N.inverted", self.speller.flag(), counter, within)
            if self.rng.random() < 0.3:
                self.family("port.N.half_duplex", self.speller.flag(), counter, within)

    def ranges(self) -> tuple[Spell, bool, bool]:
        coded = self.rng.random() < max(self.speller.numbers, 0.12)
        modes = self.speller.enumeration("mode", coded=coded)
        kind = self.kinds(("record", 58), ("list", 30), ("section", 12))
        ends = number(draw_ends(self.rng))
        channel = self.rng.choices(
            (counting(1), counting(0), counting(1, 5)), weights=(60, 20, 20)
        )[0]
        fields = {"channel": channel, "low": ends, "high": ends}
        joined = self.rng.choice(("field", "form", "", "", ""))
        if kind == "record":
            fields["mode"] = modes
            self._range_records(fields, joined)
        elif kind == "list":
            fields["mode"] = modes
            joined = "" if joined == "field" else joined
            self._range_lists(fields, joined)
        else:
            title = f"{self.titles['mode']} {{mode}}"
            fields["mode"] = modes
            head = self.head("range")
            marks = self.rng.choice(_IN_MODE)
            line = self.fields(head, *marks)
            self.records.append(Record("range", line, "range", fields, within=title))
            if joined:
                joined = "form"
                line = self.fields(f"and{head}", *marks)
                self.records.append(
                    Record("range-all", line, "range", fields, within=title, join="all")
                )
        links = self.rng.random() < 0.3
        if links:
            both = {"mode": modes, "follows": modes}
            line = self.fields(self.head("link"), "{mode}", "{follows}")
            self.records.append(Record("link", line, "link", both))
        return modes, bool(joined), links

    def _range_records(self, fields: dict[str, Spell], joined: str) -> None:
        head = self.head("range")
        marks = list(self.rng.choice(_ORDERS))
        counted = self.rng.random() < 0.12
        if counted:
            marks.insert(self.rng.randrange(len(marks) - 2), "{N}")
            fields["N"] = counting(1)
        if joined == "field":
            marks.insert(self.rng.choice((0, len(marks))), "{join}")
            fields["join"] = self.speller.enumeration("join", coded=False)
        forms = [self.fields(head, *marks)] * 3
        if not counted and joined != "field":
            channel = fields["channel"]
            if channel.base == channel.first == 1:
                between = "{low} to {high}"
                forms.append(f"{head} {{mode}} on ch{{channel}} {between}{self.end}")
                forms.append(f"{head} ch{{channel}} {between} is {{mode}}{self.end}")
            forms.append(f"{head} {{low}}..{{high}} {{channel}} {{mode}}{self.end}")
        line = self.rng.choice(forms)
        self.records.append(Record("range", line, "range", fields))
        if joined == "form":
            other = line.replace(head, f"{head}{self.rng.choice(('all', 'and'))}", 1)
            self.heads.append(other.split("{")[0].strip(" ,:/"))
            self.records.append(Record("range-all", other, "range", fields, join="all"))

    def _range_lists(self, fields: dict[str, Spell], joined: str) -> None:
        style = self.author.style
        joint = style.sep or next(one for one in ("_", ".", "-") if one not in self.shape.banned)
        stem = self.head("range")
        line = self.listed(f"{stem}{joint}{{mode}}", *self.rng.choice(_IN_MODE))
        self.records.append(Record("range", line, "range", fields))
        if joined:
            other = line.replace(f"{stem}{joint}{{mode}}", f"{stem}all{joint}{{mode}}")
            self.records.append(Record("range-all", other, "range", fields, join="all"))


#: Orders of a range's fields, and of those where the mode stands in a title or a name.
_ORDERS = (
    ("{channel}", "{low}", "{high}", "{mode}"),
    ("{channel}", "{mode}", "{low}", "{high}"),
    ("{low}", "{high}", "{channel}", "{mode}"),
    ("{low}", "{high}", "{mode}", "{channel}"),
    ("{mode}", "{low}", "{high}", "{channel}"),
)
_IN_MODE = (("{channel}", "{low}", "{high}"), ("{low}", "{high}", "{channel}"))


def draw_families(
    rng: Random,
    half: Half,
    shape: Shape,
    author: Author,
    speller: Speller,
    titles: dict[str, str],
    taken: set[tuple[str, str]],
) -> Families:
    """Lines for channels, ports, ranges and links."""
    maker = _Maker(rng, half, shape, author, speller, titles, taken)
    maker.channels()
    maker.ports()
    modes, joined, links = maker.ranges()
    assert set(modes.words) == set(VALUES["mode"])
    records = maker.records
    if shape.sections != "none" and rng.random() < 0.5:
        homes = {"channel": "channel", "loss": "channel", "port": "port"}
        records = [
            record
            if record.within
            else record._replace(within=titles[homes.get(record.id, "mode")] + "s")
            for record in records
        ]
    return Families(tuple(maker.items), tuple(records), modes, tuple(maker.heads), joined, links)
