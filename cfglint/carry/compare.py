"""Comparing two dumps by meaning: what an update lost, changed or put back.

Every line of both dumps is accounted for: it is in an entry, or in one whose kind is ``same``
(the same meaning, wherever it stands and however it is written), which is not shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.carry.changes import Fate, between
from cfglint.carry.meaning import consequence, flag_for, is_switch_mode, same, wire_inverted
from cfglint.craft.model import Craft, ModeLink, ModeRange, Value, show
from cfglint.dialect.reading import Reader
from cfglint.dialect.writing import Writer

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.dump.statements import Statement
    from cfglint.rule import Grade
    from cfglint.span import Span

Kind = Literal[
    "lost",
    "back at default",
    "default changed",
    "sense changed",
    "changed",
    "refused",
    "added",
    "not understood",
    "renamed",
    "rescaled",
    "same",
]
KINDS: tuple[Kind, ...] = (
    "lost",
    "back at default",
    "default changed",
    "sense changed",
    "changed",
    "refused",
    "added",
    "not understood",
    "renamed",
    "rescaled",
    "same",
)


class Entry(NamedTuple):
    """One thing that is, or is not, as it was.

    ``was`` and ``now`` are values as a person reads them; ``before`` and ``after`` where they
    stand (None where nothing stands); ``enter`` the line(s) that put it right ("" if nothing
    is to be entered).  ``grade`` is None for what needs no attention.
    """

    kind: Kind
    name: str
    was: str
    now: str
    before: Span | None
    after: Span | None
    grade: Grade | None
    meaning: str
    enter: str = ""


class Side(NamedTuple):
    """One of the two dumps, read."""

    source: Source
    dialect: Dialect
    craft: Craft
    version: str
    uses: tuple[tuple[Statement, str], ...]


class Comparison(NamedTuple):
    """Both sides and every entry, the gravest first."""

    before: Side
    after: Side
    entries: tuple[Entry, ...]
    fate: Fate

    def shown(self) -> tuple[Entry, ...]:
        """The entries that a person should see."""
        return tuple(entry for entry in self.entries if entry.kind != "same")


def read_side(source: Source, dialect: Dialect, name: str = "") -> Side:
    """Read one dump with everything that comparing needs."""
    uses: list[tuple[Statement, str]] = []
    reader = Reader(
        source, dialect, name=name, witness=lambda statement, use: uses.append((statement, use))
    )
    craft = reader.craft()
    uses.sort(key=lambda row: row[0].line)
    return Side(source, dialect, craft, reader.tables.version, tuple(uses))


def compare(before: Side, after: Side) -> Comparison:
    """Compare two dumps by what they mean."""
    return _Comparer(before, after).compare()


class _Comparer:
    def __init__(self, before: Side, after: Side) -> None:
        self.before = before
        self.after = after
        self.entries: list[Entry] = []
        self.one_dialect = before.dialect.id == after.dialect.id
        self.fate = (
            between(before.dialect, before.version, after.version)
            if self.one_dialect
            else Fate({}, {}, {}, ())
        )
        self._enter: dict[str, str] | None = None
        self._names: dict[int, dict[int, str]] = {}

    def compare(self) -> Comparison:
        old, new = self.before.craft, self.after.craft
        for name in dict.fromkeys([*old.values, *new.values]):
            self._setting(name, old.get(name), new.get(name))
        self._modes(old, new)
        self._kept()
        self._refusals()
        self._notes()
        worst = {"ground": 0, "fix": 1, "advise": 2, None: 3}
        order = sorted(
            self.entries,
            key=lambda entry: (worst[entry.grade], KINDS.index(entry.kind), _line(entry)),
        )
        return Comparison(self.before, self.after, tuple(order), self.fate)

    def _add(
        self,
        kind: Kind,
        name: str,
        was: str,
        now: str,
        before: Span | None,
        after: Span | None,
        *,
        grade: Grade | None,
        meaning: str,
        enter: str = "",
    ) -> None:
        self.entries.append(Entry(kind, name, was, now, before, after, grade, meaning, enter))

    # -- settings ----------------------------------------------------------------------------

    def _setting(self, name: str, old: Value, new: Value) -> None:
        grade, clause = consequence(name)
        was, now = show(name, old.value), show(name, new.value)
        spans = (old.line_span, new.line_span)
        if name == "receiver.inverted" and self._inversion(old, new):
            return
        if name in ("craft.board", "craft.firmware") and old.known and new.known:
            self._identity(name, old, new)
            return
        if not old.known:
            if new.origin == "set":
                self._add("added", name, was, now, *spans, grade=_milder(grade), meaning=clause)
            return
        enter = self._line_for(name)
        if not new.known:
            if old.origin == "default":
                return
            self._add("lost", name, was, now, *spans, grade=grade, meaning=clause, enter=enter)
            return
        if same(old, new):
            self._same_value(name, old, new)
            return
        default = self._default(name)
        if old.origin == "default" and new.origin == "default":
            kind: Kind = "default changed"
        elif new.origin == "default" or (default is not None and default == new.value):
            kind = "back at default"
        else:
            kind = "changed"
        self._add(kind, name, was, now, *spans, grade=grade, meaning=clause, enter=enter)

    def _same_value(self, name: str, old: Value, new: Value) -> None:
        spans = (old.line_span, new.line_span)
        text = show(name, new.value)
        kind: Kind = "same"
        meaning = "the same meaning"
        if self.one_dialect and old.origin == new.origin == "set":
            first = self._called(self.before, old)
            second = self._called(self.after, new)
            if first != second:
                kind, meaning = "renamed", f"`{first}` is `{second}` now; nothing to do"
            elif old.written != new.written and isinstance(new.value, int | float):
                kind = "rescaled"
                meaning = f"written {new.written} instead of {old.written}; nothing to do"
        self._add(kind, name, text, text, *spans, grade=None, meaning=meaning)

    def _called(self, side: Side, value: Value) -> str:
        """The dialect's name in the line that a value came from."""
        if value.line_span is None:
            return ""
        names = self._names.get(id(side))
        if names is None:
            names = {statement.line: statement.name for statement, _use in side.uses}
            self._names[id(side)] = names
        return names.get(value.line_span.line, "")

    def _identity(self, name: str, old: Value, new: Value) -> None:
        spans = (old.span, new.span)
        was, now = str(old.value), str(new.value)
        if was == now:
            self._add("same", name, was, now, *spans, grade=None, meaning="the same")
        elif name == "craft.firmware":
            self._add("changed", name, was, now, *spans, grade=None, meaning="the update itself")
        elif self.fate.boards.get(was) == now:
            self._add(
                "renamed", name, was, now, *spans, grade=None,
                meaning="the board goes by a new name; look for updates under it",
            )  # fmt: skip
        else:
            self._add(
                "changed", name, was, now, *spans, grade="fix",
                meaning="another board: pins and ports may differ",
            )  # fmt: skip

    def _inversion(self, old: Value, new: Value) -> bool:
        """Compare what the flags say of the wire, when the two firmwares' senses may differ."""
        before, after = self.before.craft, self.after.craft
        if before.traits.inversion == after.traits.inversion or not (old.known and new.known):
            return False
        first = wire_inverted(before, bool(old.value))
        link_of = after if after.get("receiver.link").known else before
        second = (
            wire_inverted(after, bool(new.value))
            if link_of is after
            else _told(before, after.traits.inversion, bool(new.value))
        )
        was, now = show(old.name, old.value), show(new.name, new.value)
        sense = f"{before.traits.inversion or '?'} before, {after.traits.inversion or '?'} now"
        spans = (old.line_span, new.line_span)
        if first is None or second is None:
            self._add(
                "not understood", old.name, was, now, *spans, grade="ground",
                meaning=f"the flag's sense ({sense}) or the link is not known, so the receiver "
                "may be dead: look at its bars at the bench",
            )  # fmt: skip
        elif first == second:
            self._add(
                "rescaled" if was != now else "same", old.name, was, now, *spans, grade=None,
                meaning=f"the flag is {sense}; it says the same of the wire",
            )  # fmt: skip
        else:
            wanted = flag_for(link_of, after.traits.inversion, first)
            right = bool(wanted)
            self._add(
                "sense changed", old.name, was, now, *spans, grade="ground",
                meaning=f"the flag is {sense}: with the same word the receiver is dead",
                enter=self._line_of(Value(old.name, right, "set")),
            )  # fmt: skip
        return True

    def _default(self, name: str) -> Any:
        from cfglint.craft.settings import family

        entry = self.after.dialect.at(self.after.version).by_setting.get(family(name))
        return entry.default if entry is not None else None

    # -- lines to enter ------------------------------------------------------------------------

    def _line_for(self, name: str) -> str:
        """The line(s) that give the after side the before side's value of a setting."""
        if self._enter is None:
            old, new = self.before.craft, self.after.craft
            values = {
                key: value._replace(origin="set")
                for key, value in {**new.values, **old.values}.items()
                if not key.startswith("craft.")
            }
            inverted = old.values.get("receiver.inverted")
            if inverted is not None:
                wire = wire_inverted(old, bool(inverted.value))
                flag = None if wire is None else flag_for(old, new.traits.inversion, wire)
                if flag is None:
                    values.pop("receiver.inverted", None)
                else:
                    values["receiver.inverted"] = inverted._replace(value=flag, origin="set")
            self._enter = self._lines(values, old.mode_ranges, old.mode_links)
        return self._enter.get(name, "")

    def _line_of(self, value: Value) -> str:
        return self._lines({value.name: value}, (), ()).get(value.name, "")

    def _lines(
        self,
        values: dict[str, Value],
        ranges: tuple[ModeRange, ...],
        links: tuple[ModeLink, ...],
    ) -> dict[str, str]:
        new = self.after.craft
        craft = Craft(
            file=new.file,
            name=new.name,
            dialect=new.dialect,
            extent="changes",
            whole=new.whole,
            values=values,
            mode_ranges=ranges,
            mode_links=links,
            traits=new.traits,
        )
        writer = Writer(craft, self.after.dialect, self.after.version)
        parts = writer.written().parts
        return {
            name: "\n".join(writer.put_together([part])) for part in parts for name in part.says
        }

    # -- modes -------------------------------------------------------------------------------

    def _modes(self, old: Craft, new: Craft) -> None:
        for mode in dict.fromkeys([row.mode for row in (*old.mode_ranges, *new.mode_ranges)]):
            self._mode(mode, old, new)
        links = [(link.mode, link.follows, link.join) for link in new.mode_links]
        for number, link in enumerate(old.mode_links):
            key = (link.mode, link.follows, link.join)
            text = f"along with {link.follows}"
            if key in links:
                other = new.mode_links[links.index(key)]
                self._add(
                    "same", f"mode {link.mode}", text, text, link.span, other.span,
                    grade=None, meaning="the same",
                )  # fmt: skip
                continue
            self._line_for("")
            self._add(
                "lost", f"mode {link.mode}", text, "not set", link.span, None,
                grade=_mode_grade(link.mode), meaning=consequence("mode")[1],
                enter=(self._enter or {}).get(f"link {number}", ""),
            )  # fmt: skip
        had = [(link.mode, link.follows, link.join) for link in old.mode_links]
        for link in new.mode_links:
            if (link.mode, link.follows, link.join) not in had:
                self._add(
                    "added", f"mode {link.mode}", "not set", f"along with {link.follows}",
                    None, link.span, grade=_mode_grade(link.mode),
                    meaning=consequence("mode")[1],
                )  # fmt: skip

    def _mode(self, mode: str, old: Craft, new: Craft) -> None:
        name, clause, grade = f"mode {mode}", consequence("mode")[1], _mode_grade(mode)
        left = list(new.ranges_of(mode))
        gone: list[tuple[int, ModeRange]] = []
        ends = old.traits.range_ends == new.traits.range_ends
        for number, row in enumerate(old.mode_ranges):
            if row.mode != mode:
                continue
            twin = next((other for other in left if _key(other) == _key(row)), None)
            if twin is None:
                gone.append((number, row))
                continue
            left.remove(twin)
            text = _range_text(row)
            self._add(
                "same", name, text, text, row.span, twin.span, grade=None,
                meaning="the same" if ends else "the same but for whether the end belongs to it",
            )  # fmt: skip
        for number, row in gone:
            self._line_for("")
            enter = (self._enter or {}).get(f"range {number}", "")
            other = next((one for one in left if one.channel == row.channel), None) or (
                left[0] if left else None
            )
            if other is not None:
                left.remove(other)
            self._add(
                "changed" if other is not None else "lost", name, _range_text(row),
                _range_text(other) if other is not None else "not set", row.span,
                other.span if other is not None else None, grade=grade, meaning=clause,
                enter=enter,
            )  # fmt: skip
        for row in left:
            self._add(
                "added", name, "not set", _range_text(row), None, row.span, grade=grade,
                meaning=clause,
            )  # fmt: skip

    # -- lines without a neutral meaning ---------------------------------------------------------

    def _kept(self) -> None:
        """Lines that are known by name only, and lines that are not known at all."""
        uses = ("kept", "stray", "misread", "unreadable", "ignored")
        old = [row for row in self.before.uses if row[1] in uses]
        new = [row for row in self.after.uses if row[1] in uses]
        left = list(new)
        for statement, use in old:
            name, text = _name_of(statement), _text(statement)
            called = self.fate.renamed.get(name, name)
            twin = next((row for row in left if _text(row[0]) == text), None) or next(
                (row for row in left if _name_of(row[0]) == called and row[1] == use == "kept"),
                None,
            )
            span = statement.span(self.before.craft.file)
            if twin is not None:
                left.remove(twin)
                self._pair(statement, twin[0], name, called)
                continue
            if use == "ignored":
                self._add("same", name, text, "", span, None, grade=None, meaning="a command")
                continue
            why = self.fate.removed.get(name, "")
            meaning = why or "whether it was wanted cannot be told here"
            enter = text if use == "kept" and self.one_dialect and not why else ""
            if called != name:
                enter = enter.replace(name, called, 1)
            self._add(
                "lost", name, text, "not set", span, None, grade="advise", meaning=meaning,
                enter=enter,
            )  # fmt: skip
        for statement, use in left:
            span = statement.span(self.after.craft.file)
            kind: Kind = "added" if use in ("kept", "ignored") else "not understood"
            grade: Grade | None = {"ignored": None, "kept": "advise"}.get(use, "fix")
            if use == "ignored":
                kind = "same"
            self._add(
                kind, _name_of(statement), "not set", _text(statement), None, span,
                grade=grade, meaning="whether it was wanted cannot be told here",
            )  # fmt: skip

    def _pair(self, old: Statement, new: Statement, name: str, called: str) -> None:
        spans = (old.span(self.before.craft.file), new.span(self.after.craft.file))
        first, second = _text(old), _text(new)
        if first == second:
            self._add("same", name, first, second, *spans, grade=None, meaning="the same")
        elif first.replace(name, called, 1) == second:
            self._add(
                "renamed", called, first, second, *spans, grade=None,
                meaning=f"`{name}` is `{called}` now; nothing to do",
            )  # fmt: skip
        else:
            self._add(
                "changed", called, first, second, *spans, grade="advise",
                meaning="it has no meaning that cfglint knows; look it up",
                enter=first.replace(name, called, 1),
            )  # fmt: skip

    def _refusals(self) -> None:
        for refusal in self.after.craft.refusals:
            self._add(
                "refused", refusal.cause_text or "a line", refusal.cause_text,
                refusal.reason or "refused", None, refusal.cause or refusal.span, grade="fix",
                meaning="the controller did not take this line",
            )  # fmt: skip

    def _notes(self) -> None:
        """Account for lines that set nothing, and for settings a later line overrode."""
        covered = {
            (span.file, line)
            for entry in self.entries
            for span in (entry.before, entry.after)
            if span is not None
            for line in range(span.line, span.end_line + 1)
        }
        for side, first in ((self.before, True), (self.after, False)):
            for statement, use in side.uses:
                span = statement.span(side.craft.file)
                if (span.file, span.line) in covered:
                    continue
                text = _text(statement)
                quiet = use in ("comment", "section", "identity", "refusal")
                self._add(
                    "same" if quiet else "changed", _name_of(statement) or use,
                    text if first else "", "" if first else text,
                    span if first else None, None if first else span,
                    grade=None, meaning="no setting" if quiet else "a later line says otherwise",
                )  # fmt: skip


def _told(craft: Craft, sense: str | None, flag: bool) -> bool | None:
    """What a flag of some sense says of the wire, on the link of a craft."""
    if sense is None:
        return None
    return wire_inverted(_with_sense(craft, sense), flag)


def _with_sense(craft: Craft, sense: str) -> Craft:
    from cfglint.craft.model import Traits

    return Craft(
        file=craft.file,
        name=craft.name,
        dialect=craft.dialect,
        extent=craft.extent,
        whole=craft.whole,
        values=craft.values,
        traits=Traits(inversion="absolute" if sense == "absolute" else "relative"),
    )


def _key(row: ModeRange) -> tuple[int, float, float, str]:
    return row.channel, row.low_us, row.high_us, row.join


def _range_text(row: ModeRange) -> str:
    joint = " (and)" if row.join == "all" else ""
    return f"channel {row.channel}, {row.low_us:g} to {row.high_us:g} µs{joint}"


def _text(statement: Statement) -> str:
    return " ".join(statement.text[statement.start : statement.end].split())


def _name_of(statement: Statement) -> str:
    return statement.name or _text(statement).split(" ", maxsplit=1)[0]


def _milder(grade: Grade) -> Grade:
    """The grade of something new: it may well be meant, but should be looked at."""
    return "fix" if grade == "ground" else "advise"


def _mode_grade(mode: str) -> Grade:
    return "ground" if is_switch_mode(mode) else "fix"


def _line(entry: Entry) -> int:
    span = entry.before or entry.after
    return span.line if span is not None else 0


def differing_craft(before: Side, after: Side) -> str:
    """Why two dumps look like two different craft, or ``""``."""
    old, new = before.craft, after.craft
    first, second = old.get("craft.name"), new.get("craft.name")
    if first.known and second.known and first.value != second.value:
        return f"one is of {first.value}, the other of {second.value}"
    return ""


def swapped(before: Side, after: Side) -> bool:
    """Whether the dump named first has the later firmware (same dialect only)."""
    from cfglint.facts.versions import compare as order

    if before.dialect.id != after.dialect.id or not before.version or not after.version:
        return False
    try:
        return order(before.version, after.version, before.dialect.order) > 0
    except ValueError:
        return False
