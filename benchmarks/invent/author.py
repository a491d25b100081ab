"""One invented firmware author: how names, numbers, flags and words are written."""

from __future__ import annotations

import re
from copy import copy
from itertools import pairwise
from random import Random
from typing import Any, NamedTuple

from . import words as stock
from .craft import TAKEN, Craft, Range
from .page import Mark, Text, text
from .words import FUNCTIONS, LABELS, MODES, QUANTITY, SETTINGS, UNITS, VALUES, Half, choices

#: Joint and case of names.
STYLES = {
    "open": (("_", "lower"), ("-", "lower"), (".", "lower"), ("", "camel"), (" ", "title")),
    "held": (("_", "upper"), (" ", "lower"), ("", "pascal"), (" ", "first"), ("/", "lower")),
}
ASSIGN = {"open": (": ", " = ", " : ", "leader"), "held": (" := ", " -> ", "=", "columns")}
#: Where a unit stands.
PLACES = {"open": ("stuck", "blank", "name", "none"), "held": ("blank", "note", "stuck", "none")}
MEASURES = {"open": ("us", "us", "step"), "held": ("us", "percent", "centre")}
SPANS = {"open": ("..", "-", " to "), "held": ("…", "–", " up to ", "~")}


class Unit(NamedTuple):
    """``value = size × number``, or ``size / number`` if it is a period."""

    name: str
    size: float
    digits: int
    per: bool
    plain: bool

    def number(self, value: float) -> str:
        return f"{self.size / value if self.per else value / self.size:.{self.digits}f}"

    def value(self, number: str) -> float:
        exact = self.size / float(number) if self.per else self.size * float(number)
        return round(exact, 6)


def units(quantity: str, half: Half) -> list[Unit]:
    found = []
    for row in choices(UNITS[quantity], half) or ["1 0"]:
        parts = row.split(" ")
        plain = "?" not in parts
        *name, size, digits = [part for part in parts if part != "?"]
        per, _, word = "".join(name).rpartition(":")
        found.append(Unit(word.replace("-", " "), float(size), int(digits), per == "per", plain))
    return found


def quantity(key: str) -> str:
    return QUANTITY.get(key, "us" if key.endswith("_us") else "")


class Measure(NamedTuple):
    """How range ends are counted: ``µs = base + size × number``."""

    kind: str
    base: int
    size: float
    said: str


class Entry(NamedTuple):
    """One value with its words; ``unit`` is what its table's column or a note may say."""

    key: str
    subject: str
    label: str
    value: Text
    unit: str = ""
    note: str = ""


class Field(NamedTuple):
    key: str
    label: str
    value: Text


class Group(NamedTuple):
    """Rows that are alike: ports, channel ends, ranges ..."""

    kind: str
    title: str
    rows: list[list[Field]]
    note: str = ""


class Section(NamedTuple):
    title: str
    entries: list[Entry]
    groups: list[Group]
    place: int = 0


class Author:
    """All that is the same in every dump of a dialect."""

    def __init__(self, rng: Random, half: Half, kind: str, *, prose: bool, notes: bool) -> None:
        self.rng, self.half, self.kind, self.prose = rng, half, kind, prose
        #: Settings that no dump tells, with the reason.
        self.cannot: dict[str, str] = {}
        easy = kind == "ordinary"
        self.ports, self.channels = rng.randrange(3, 7), rng.randrange(8, 13)
        self.style = rng.choice(STYLES[half])
        self.assign = rng.choice(ASSIGN[half])
        self.mark = self.pick(stock.COMMENTS)
        self.bracket = self.pick(stock.BRACKETS).split(" ")
        self.block = self.pick(stock.BLOCKS).split(":")
        self.verb = self.pick(stock.VERBS).split(":")
        self.done, self.prompt = self.pick(stock.DONE), self.pick(stock.PROMPTS)
        self.pasted = rng.random() < 0.25
        self.yes, self.no = self.pick(stock.FLAGS).split(":")
        self.word_style = rng.choice((("", "lower"), ("-", "lower"), ("_", "lower"), ("", "upper")))
        if half == "held":
            self.word_style = rng.choice((("_", "upper"), ("-", "title"), (".", "lower")))
        self.place = "blank" if prose else rng.choice(PLACES[half])
        if self.place == "note" and not notes:
            self.place = "blank"
        self.comma = not easy and rng.random() < 0.2
        self.glue = rng.choice("+/&") if half == "open" else rng.choice(("|", "+", " and "))
        self.subjects = {key: self.pick(row) for key, row in stock.SUBJECTS.items()}
        self.labels = {key: self.pick(row) for key, (_, row) in SETTINGS.items()}
        self.heads = {key: self.pick(row) for key, row in LABELS.items()}
        ends = rng.randrange(3)
        for key in ("low", "high"):
            self.heads[key] = choices(LABELS[key], half)[ends]
        drawn = {quantity: self._unit(quantity) for quantity in UNITS}
        self.units = {key: drawn[quantity(key)] for key in SETTINGS}
        if self.units["loop.rate_hz"].per:
            self.labels["loop.rate_hz"] = self.pick(stock.PERIOD)
        self.words = {
            key: {neutral: self.pick(row) for neutral, row in table.items()}
            for key, table in {**VALUES, "mode": MODES, "use": FUNCTIONS}.items()
        }
        #: Bits that stand for what a port carries, added up.
        self.bits: dict[str, int] = {}
        self.nothing = self.pick(stock.NOTHING)
        self.codes: dict[str, dict[str, int]] = {}
        if notes and not (easy or prose):
            for key in ("motor.signal", "receiver.link", "failsafe.action", "use"):
                if rng.random() < 0.2:
                    self.codes[key] = self._codes(key)
            if "use" in self.codes and rng.random() < 0.6:
                self.bits = dict(zip(FUNCTIONS, rng.sample(range(13), 10), strict=True))
                self.nothing = "0"
        self.used = [key for key in SETTINGS if rng.random() < 0.85 or key.startswith("craft.")]
        self.columns = [key for key in ("baud", "inverted", "half") if rng.random() < 0.75]
        self.has_joins = rng.random() < 0.4
        self.has_links = rng.random() < 0.6
        self.has_losses = rng.random() < 0.6
        self.port_base: int | str = rng.choice((0, 1, 1, "A"))
        self.ends_order = rng.choice((("low", "mid", "high"), ("mid", "low", "high"),
                                      ("low", "high", "mid")))  # fmt: skip
        self.range_lead = rng.choice(("mode", "mode", "number"))
        self.span = rng.choice((*SPANS[half], "", ""))
        self.measure = self._measure("us" if easy or self.prose else rng.choice(MEASURES[half]))
        stem = self.pick(stock.BOARDS)
        self.board = f"{stem}-{rng.choice('bdkmw')}{rng.randrange(3, 40)}"
        self.version = f"{rng.randrange(1, 30)}.{rng.randrange(2, 70)}"
        self.extras = {key: self._extras(row) for key, row in stock.EXTRAS[half].items()
                       if rng.random() < 0.8}  # fmt: skip
        self.remarks = rng.choice((0, 0, 0.05, 0.12)) if notes else 0
        self.brief = rng.random() < 0.25

    def pick(self, row: str) -> str:
        return self.rng.choice(choices(row, self.half))

    def _unit(self, quantity: str) -> Unit:
        found = units(quantity, self.half)
        if self.kind == "ordinary":
            found = [unit for unit in found if unit.plain and not unit.per]
        return self.rng.choice(found)

    def _codes(self, key: str) -> dict[str, int]:
        """Code numbers in no order that any program has."""
        words = list(self.words[key])
        while True:
            numbers = self.rng.sample(range(1, 30), len(words))
            steps = {b - a for a, b in pairwise(numbers)}
            if len(steps) > len(words) // 2:
                return dict(zip(words, numbers, strict=True))

    def _measure(self, kind: str) -> Measure:
        if kind == "step":
            step = self.rng.choice([n for n in range(7, 39) if n % 5])
            base = self.rng.randrange(703, 757)
            return Measure(kind, base, step, f"step 0 is {base} us, every step is {step} us more")
        if kind == "percent":
            size = self.rng.randrange(43, 79) / 10
            base = self.rng.randrange(1487, 1514)
            return Measure(kind, base, size, f"0 % is {base} us, every % is {size} us more")
        said = "centre and what is on either side of it, in us" if kind == "centre" else ""
        return Measure(kind, 0, 1, said)

    def _extras(self, row: str) -> list[str]:
        every = [one.strip() for one in row.split(",")]
        return self.rng.sample(every, self.rng.randrange(3, len(every) + 1))

    def later(self, rng: Random) -> tuple[Author, dict[str, Any]]:
        """The same author some versions on, and what became different."""
        new = copy(self)
        new.cannot = {}
        new.version = f"{int(self.version.split('.')[0]) + 1}.{rng.randrange(2, 70)}"
        new.labels, new.units = dict(self.labels), dict(self.units)
        plain = [
            key for key in self.used if not key.startswith("craft.") and not self.units[key].per
        ]
        rng.shuffle(plain)
        new.used = [key for key in self.used if key != plain[0]]
        spare = {key: [one for one in units(quantity(key), self.half)
                       if one.size != self.units[key].size and not one.per]
                 for key in plain[1:] if key in QUANTITY}  # fmt: skip
        rescaled = [key for key, found in spare.items() if found][:1]
        for key in rescaled:
            new.units[key] = rng.choice(spare[key])
        for key in () if self.prose else plain[1:6]:
            new.labels[key] = rng.choice(choices(SETTINGS[key][1], self.half))
        both = {key: [self.label(key), new.label(key)] for key in new.used}
        renamed = {key: pair for key, pair in both.items() if pair[0] != pair[1]}
        return new, {"renamed": renamed, "rescaled": rescaled, "removed": plain[:1]}

    # ------------------------------------------------------------------ spelling

    def name(self, *parts: str) -> str:
        """A name of several words, as this author joins and writes them."""
        joint, case = self.style
        return spelled(" ".join(part for part in parts if part), joint, case)

    def label(self, key: str) -> str:
        if self.place == "name" and self.units[key].name and not self.prose:
            word = self.units[key].name.replace("%", "percent")
            return f"{self.labels[key]} {word}"
        return self.labels[key]

    def word(self, key: str, neutral: str) -> str:
        """What stands for a neutral word, as a code number if this author has codes."""
        if key in self.codes:
            return str(self.codes[key][neutral])
        word = self.words[key][neutral]
        return word if self.prose else spelled(word, *self.word_style)

    def legend(self, key: str) -> str:
        codes = self.codes.get(key, {})
        if key == "use" and self.bits:
            codes = {word: 1 << bit for word, bit in self.bits.items()}
        rows = [f"{code} {self.words[key][word]}" for word, code in
                sorted(codes.items(), key=lambda pair: pair[1])]  # fmt: skip
        return ", ".join(rows)

    def comment(self, words: str) -> str:
        return f"{self.mark} {words}"

    def decimal(self, number: str) -> str:
        return number.replace(".", ",") if self.comma else number

    def port(self, number: int) -> str:
        if self.port_base == "A":
            return "ABCDEFG"[number - 1]
        return str(number - 1 + int(self.port_base))

    # ------------------------------------------------------------------ what a craft is set to

    def entry(self, key: str, value: Any) -> Entry:
        unit, number = self.units[key], ""
        if isinstance(value, bool):
            written = self.yes if value else self.no
        elif key in VALUES:
            written = self.word(key, value)
        elif key == "receiver.port":
            written = self.port(value)
        elif isinstance(value, str):
            written = value
        else:
            number = unit.number(value)
            value, written = unit.value(number), self.decimal(number)
            if unit.name and self.place == "stuck":
                written += unit.name
            if unit.name and self.place == "none" and (not unit.plain or unit.per):
                self.cannot[key] = f"{unit.name} is only in the manual"
        mark: Text = [Mark(written, ((key, value),))]
        if number and unit.name and self.place == "blank":
            mark = text(mark, " ", unit.name)
        note = self.legend(key)
        if number and unit.name and self.place == "note":
            note = f"in {unit.name}"
        subject = self.subjects[SETTINGS[key][0]]
        said = unit.name if number and self.place in ("column", "note") else ""
        return Entry(key, subject, self.label(key), mark, said, note)

    def extra(self, subject: str, row: str, rng: Random) -> Entry:
        *words, kind = row.split(" ")
        written = {
            "f": self.decimal(f"{rng.uniform(-9, 19):.2f}"),
            "n": str(rng.randrange(2, 64)),
            "flag": rng.choice((self.yes, self.no)),
            "colour": rng.choice(("green", "amber", "violet", "white")),
            "place": rng.choice(("left", "right", "upper", "lower")),
            "%": str(rng.randrange(4, 97)), "Hz": str(rng.randrange(43, 970)),
            "deg": str(rng.randrange(12, 890)), "ms": str(rng.randrange(7, 800)),
            "dB": str(rng.randrange(5, 40)), "m": str(rng.randrange(4, 90)),
        }[kind]  # fmt: skip
        unit = kind if kind in ("%", "Hz", "deg", "ms", "dB", "m") else ""
        if unit and self.place in ("stuck", "blank"):
            written += (" " if self.place == "blank" else "") + unit
        return Entry("", subject, " ".join(words), [written], unit)

    # ------------------------------------------------------------------ groups of rows

    def groups(self, craft: Craft) -> dict[str, list[Group]]:
        """The groups of rows by the subject that they follow."""
        found = {"receiver": [self._ends(craft)], "loop": [self._ports(craft)]}
        found["stick"] = [self._ranges(craft)]
        if self.has_links and craft.links:
            found["stick"].append(self._links(craft))
        if self.has_losses:
            found["loss"] = [self._losses(craft)]
        return found

    def _field(self, key: str, written: str, *facts: tuple[str, Any]) -> Field:
        return Field(key, self.heads[key], [Mark(written, facts)])

    def _ports(self, craft: Craft) -> Group:
        rows = []
        for number in range(1, craft.ports + 1):
            home = f"port.{number}."
            uses = craft.values[home + "functions"]
            words = self.glue.join(self.word("use", use) for use in uses) or self.nothing
            if self.bits:
                words = str(sum(1 << self.bits[use] for use in uses))
            row = [Field("port", self.heads["port"], [self.port(number)]),
                   self._field("use", words, (home + "functions", uses))]  # fmt: skip
            if "baud" in self.columns:
                baud = craft.values[home + "baud"]
                row.append(self._field("baud", str(baud), (home + "baud", baud)))
            for key, name in (("inverted", "inverted"), ("half", "half_duplex")):
                if key in self.columns:
                    flag = craft.values[home + name]
                    row.append(self._field(key, self.yes if flag else self.no, (home + name, flag)))
            rows.append(row)
        note = self.legend("use")
        if note:
            note = f"{self.heads['use']}{', the sum of' if self.bits else ''}: {note}"
        return Group("port", self.heads["ports"], rows, note)

    def _ends(self, craft: Craft) -> Group:
        rows = []
        for number in range(1, craft.channels + 1):
            row = [Field("channel", self.heads["channel"], [str(number)])]
            for key in self.ends_order:
                name = f"channel.{number}.{key}_us"
                row.append(self._field(key, str(craft.values[name]), (name, craft.values[name])))
            rows.append(row)
        return Group("end", self.heads["ends"], rows)

    def _losses(self, craft: Craft) -> Group:
        rows = []
        for number in range(1, craft.channels + 1):
            name = f"failsafe.channel.{number}"
            value = craft.values[name]
            written = str(value) if isinstance(value, int) else self.word("failsafe.channel", value)
            rows.append([Field("channel", self.heads["channel"], [str(number)]),
                         self._field("after", written, (name, value))])  # fmt: skip
        return Group("loss", self.heads["losses"], rows)

    def _links(self, craft: Craft) -> Group:
        rows = [
            [self._field("mode", self.word("mode", mode), ("link", {"mode": mode, "follows": to})),
             Field("follows", self.heads["follows"], [self.word("mode", to)])]
            for mode, to in craft.links
        ]  # fmt: skip
        return Group("link", self.heads["links"], rows)

    def _ends_of(self, one: Range) -> tuple[list[Field], int, int]:
        """A range's ends as they are written, and what they then come to."""
        kind, base, size, _ = self.measure
        if kind == "centre":
            half = (one.high - one.low) // 2
            centre = one.low + half
            half += bool(TAKEN & {centre - half, centre + half})
            pair, ends = (str(centre), str(half)), (centre - half, centre + half)
            keys, glue = ("mid", "half width"), self.span and "±"
        else:
            counts = [round((end - base) / size) for end in (one.low, one.high)]
            counts = [count + (round(base + size * count) in TAKEN) for count in counts]
            ends = (round(base + size * counts[0]), round(base + size * counts[1]))
            sign = "%" if kind == "percent" else ""
            pair = (f"{counts[0]}{sign}", f"{counts[1]}{sign}")
            keys, glue = ("low", "high"), self.span
            glue = " to " if kind == "percent" and glue in ("-", "–") else glue
        if glue:
            return [Field("span", self.heads["span"], text(pair[0], glue, pair[1]))], *ends
        return [Field(key, self.heads[key], [word])
                for key, word in zip(keys, pair, strict=True)], *ends  # fmt: skip

    def _ranges(self, craft: Craft) -> Group:
        rows = []
        ranges = craft.ranges
        if not self.has_joins:
            first = {one.mode: one for one in reversed(ranges)}
            ranges = [one._replace(join="any") for one in ranges if one is first[one.mode]]
        for number, one in enumerate(ranges, 1):
            ends, low, high = self._ends_of(one)
            fact = {"mode": one.mode, "channel": one.channel, "low_us": low, "high_us": high,
                    "join": one.join}  # fmt: skip
            mode = self._field("mode", self.word("mode", one.mode), ("range", fact))
            channel = Field("channel", self.heads["channel"], [str(one.channel)])
            row = [mode, channel, *ends]
            if self.range_lead == "number":
                # Not in the order in which a known program prints the same.
                row = [Field("range", self.heads["range"], [str(number)]), channel, *ends, mode]
            elif len(ends) == 2:
                row = [mode, *ends, channel]
            if self.has_joins:
                row.append(Field("join", self.heads["join"], [self.word("join", one.join)]))
            rows.append(row)
        said = f"{self.heads['ranges']}: {self.measure.said}" if self.measure.said else ""
        return Group("range", self.heads["ranges"], rows, said)

    def sections(self, craft: Craft, rng: Random, *, brief: bool) -> list[Section]:
        """Everything that a dump of this craft says, in this author's order."""
        craft.values["craft.board"], craft.values["craft.firmware"] = self.board, self.version
        groups = self.groups(craft)
        found = []
        for subject, title in self.subjects.items():
            entries = [
                self.entry(key, craft.values[key])
                for key in self.used
                if SETTINGS[key][0] == subject
                and not (brief and subject != "craft" and rng.random() < 0.25)
            ]
            found.append(Section(title, entries, []))
            found += [Section(group.title, [], [group]) for group in groups.get(subject, [])]
        order = Random(self.board)
        for subject, rows in self.extras.items():
            # Counted from the end, since a craft without links has a group less.
            place = len(found) - order.randrange(0, 11)
            entries = [self.extra(subject, row, rng) for row in rows]
            found.insert(place, Section(subject, entries, []))
        for section in found:
            for place, entry in enumerate(section.entries):
                if not entry.note and rng.random() < self.remarks:
                    section.entries[place] = entry._replace(
                        note=rng.choice(choices(stock.REMARKS, self.half))
                    )
        some = [one for one in found if one.entries or one.groups]
        return [one._replace(place=place) for place, one in enumerate(some)]

    def manual(self) -> list[str]:
        """What a maker's manual would say of every name."""
        said = []
        for key in self.used:
            unit = self.units[key]
            per = ", the time of one" if unit.per else ""
            unit_said = f" ({unit.name}{per})" if unit.name else ""
            said.append(f"{self.subjects[SETTINGS[key][0]]} {self.label(key)}: {key}{unit_said}.")
        for key, table in self.words.items():
            said += [f"{self.word(key, neutral)}: {neutral} ({key})." for neutral in table]
        said.append(f"{self.yes} is yes, {self.no} is no; first port: {self.port(1)}.")
        return [*said, self.measure.said] if self.measure.said else said

    def notes(self, rng: Random) -> list[str]:
        return rng.sample(choices(stock.NOTES, self.half), 2)


def spelled(words: str, joint: str, case: str) -> str:
    """Words joined in one style."""
    parts = words.split(" ")
    if case == "upper":
        parts = [part.upper() for part in parts]
    elif case in ("title", "camel", "pascal"):
        parts = [part[:1].upper() + part[1:] for part in parts]
        if case == "camel":
            parts[0] = parts[0][:1].lower() + parts[0][1:]
    elif case == "first":
        parts[0] = parts[0][:1].upper() + parts[0][1:]
    out = joint.join(parts)
    return re.sub(r"[-_](?=[-_])", "", out)
