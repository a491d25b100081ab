"""Comparing two dumps by meaning: what an update lost, changed or put back.

Every line of both dumps is accounted for: it is in an entry, or in one whose kind is ``same``
(the same meaning, wherever it stands and however it is written), which is not shown.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.carry.changes import Fate, between
from cfglint.carry.meaning import consequence, flag_for, same, wire_inverted
from cfglint.carry.side import Idle, Side, bare, cut_off, raw_of, text_of
from cfglint.craft.model import Craft, ModeLink, ModeRange, Value, show
from cfglint.dialect.edit import edited
from cfglint.dialect.values import Bad
from cfglint.dialect.writing import Line, Writer

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.carry.side import Statement
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


_UNTOLD = "whether it was wanted cannot be told here"


class Entry(NamedTuple):
    """One thing that is, or is not, as it was.

    ``was`` and ``now`` are values as a person reads them; ``before`` and ``after`` where they
    stand (None where nothing stands); ``enter`` the line(s) that put it right ("" if nothing
    is to be entered), sections and all, ``line`` the last of them by itself.  ``grade`` is None
    for what needs no attention.
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
    line: str = ""


class Comparison(NamedTuple):
    """Both sides and every entry, the gravest first."""

    before: Side
    after: Side
    entries: tuple[Entry, ...]
    fate: Fate

    def notes(self) -> tuple[str, ...]:
        """What should be known before reading on: dumps swapped, or cut off."""
        found = []
        if swapped(self.before, self.after):
            found.append(
                f"the first dump is of the later firmware ({self.before.version}, then "
                f"{self.after.version}); if that is not meant, swap the two"
            )
        for side in (self.before, self.after):
            why = cut_off(side)
            if why:
                found.append(
                    f"the dump {side.craft.file} seems to be cut off: {why}; what should follow "
                    "is missing from this comparison"
                )
        return tuple(found)

    def exit_code(self) -> int:
        """1 if anything needs putting right."""
        return int(any(entry.grade in ("ground", "fix") for entry in self.entries))

    def shown(self) -> tuple[Entry, ...]:
        """The entries that a person should see."""
        return tuple(entry for entry in self.entries if entry.kind != "same")


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
        self._writer: Writer | None = None
        self._enter: dict[str, tuple[str, str]] = {}

    def compare(self) -> Comparison:
        old, new = self.before.craft, self.after.craft
        for name in dict.fromkeys([*old.values, *new.values]):
            self._setting(name, old.get(name), new.get(name))
        self._modes(old, new)
        self._idle()
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
        enter: tuple[str, str] = ("", ""),
    ) -> None:
        self.entries.append(Entry(kind, name, was, now, before, after, grade, meaning, *enter))

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
        read = side.reader.reads.get(value.name)
        return side.tables.called(read.entry) if read is not None else ""

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
            self._add(
                "sense changed", old.name, was, now, *spans, grade="ground",
                meaning=f"the flag is {sense}: with the same word the receiver is dead",
                enter=self._line_for(old.name),
            )  # fmt: skip
        return True

    def _default(self, name: str) -> Any:
        from cfglint.craft.settings import family

        found = self.after.tables.map.defaults.get(family(name))
        return found.value if found is not None else None

    # -- lines to enter ------------------------------------------------------------------------

    def _line_for(self, name: str) -> tuple[str, str]:
        """The line that gives the after side the before side's value of a setting (or its
        ``range 3`` or ``link 0``): with the section around it, and by itself.
        """
        writer = self._writer or self._written()
        wanted = writer.craft.values.get(name)
        if wanted is not None:
            try:
                lines = edited(self.after.reader, name, wanted.value)
            except Bad:
                pass
            else:
                line = next(iter(lines))
                statement = next(one for one, _ in self.after.uses if one.line == line)
                text = lines[line][statement.start :].rstrip()
                part = Line(self.after.sections[line], text, (name,), self._head(name, line))
                return "\n".join(writer.put_together([part])), text
        return self._enter.get(name, ("", ""))

    def _head(self, name: str, line: int) -> str:
        """The header over a line of a table of the after side."""
        read = self.after.reader.reads[name]
        heads = self.after.reader.header_lines(read.entry)
        above = max((head for head in heads if head < line), default=0)
        return self.after.source.lines[above - 1].strip() if above else ""

    def _written(self) -> Writer:
        """The writer of all that the before side says, in the after side's words."""
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
        craft = Craft(
            file=new.file,
            name=new.name,
            dialect=new.dialect,
            extent="changes",
            whole=new.whole,
            values=values,
            mode_ranges=old.mode_ranges,
            mode_links=old.mode_links,
            traits=new.traits,
        )
        after = self.after
        writer = Writer(craft, after.dialect, after.version, after.profile, like=after.reader)
        for part in writer.written().parts:
            both = "\n".join(writer.put_together([part])), part.text
            self._enter.update(dict.fromkeys(part.says, both))
        self._writer = writer
        return writer

    # -- modes -------------------------------------------------------------------------------

    def _modes(self, old: Craft, new: Craft) -> None:
        had = _by_mode(old.mode_ranges)
        has = _by_mode(new.mode_ranges)
        for mode in dict.fromkeys([*had, *has]):
            self._mode(mode, had.get(mode, []), has.get(mode, []))
        grade, clause = consequence("mode")
        left: dict[tuple[str, str, str], list[ModeLink]] = {}
        for link in new.mode_links:
            left.setdefault((link.mode, link.follows, link.join), []).append(link)
        for number, link in enumerate(old.mode_links):
            name, text = f"mode {link.mode}", f"along with {link.follows}"
            twins = left.get((link.mode, link.follows, link.join))
            if twins:
                self._add(
                    "same", name, text, text, link.span, twins.pop(0).span,
                    grade=None, meaning="the same",
                )  # fmt: skip
                continue
            self._add(
                "lost", name, text, "not set", link.span, None,
                grade=grade, meaning=clause, enter=self._line_for(f"link {number}"),
            )  # fmt: skip
        for rows in left.values():
            for link in rows:
                self._add(
                    "added", f"mode {link.mode}", "not set", f"along with {link.follows}",
                    None, link.span, grade=grade, meaning=clause,
                )  # fmt: skip

    def _mode(
        self, mode: str, old: list[tuple[int, ModeRange]], new: list[tuple[int, ModeRange]]
    ) -> None:
        name, (grade, clause) = f"mode {mode}", consequence("mode")
        ends = self.before.craft.traits.range_ends == self.after.craft.traits.range_ends
        twins: dict[tuple[int, float, float, str], list[ModeRange]] = {}
        for _number, row in new:
            twins.setdefault(_key(row), []).append(row)
        gone: list[tuple[int, ModeRange]] = []
        for number, row in old:
            same_rows = twins.get(_key(row))
            if not same_rows:
                gone.append((number, row))
                continue
            text = _range_text(row)
            self._add(
                "same", name, text, text, row.span, same_rows.pop(0).span, grade=None,
                meaning="the same" if ends else "the same but for whether the end belongs to it",
            )  # fmt: skip
        left: dict[int, list[ModeRange]] = {}
        for rows in twins.values():
            for row in rows:
                left.setdefault(row.channel, []).append(row)
        for number, row in gone:
            # What replaced it: a range on the same channel, else any.
            rows = left.get(row.channel) or next((some for some in left.values() if some), [])
            other = rows.pop(0) if rows else None
            self._add(
                "changed" if other is not None else "lost", name, _range_text(row),
                _range_text(other) if other is not None else "not set", row.span,
                other.span if other is not None else None, grade=grade, meaning=clause,
                enter=self._line_for(f"range {number}"),
            )  # fmt: skip
        for rows in left.values():
            for row in rows:
                self._add(
                    "added", name, "not set", _range_text(row), None, row.span, grade=grade,
                    meaning=clause,
                )  # fmt: skip

    # -- profiles not in use ---------------------------------------------------------------------

    def _idle(self) -> None:
        """Values in profiles that are not in use: a press of a switch may bring them up."""
        old = {(row.profile, row.value.name): row for row in self.before.idle}
        new = {(row.profile, row.value.name): row for row in self.after.idle}
        for key in dict.fromkeys([*old, *new]):
            self._idle_value(old.get(key), new.get(key))

    def _idle_value(self, old: Idle | None, new: Idle | None) -> None:
        some = old or new
        assert some is not None
        name = f"{some.value.name} (profile {some.profile})"
        was = show(some.value.name, old.value.value) if old is not None else "not set"
        now = show(some.value.name, new.value.value) if new is not None else "not set"
        kind: Kind = "changed"
        if old is None or new is None:
            kind = "added" if old is None else "lost"
        elif same(old.value, new.value):
            kind = "same"
        self._add(
            kind, name, was, now,
            old.value.line_span if old is not None else None,
            new.value.line_span if new is not None else None,
            grade=None if kind == "same" else "advise",
            meaning="it counts once that profile is in use",
        )  # fmt: skip

    # -- lines without a neutral meaning ---------------------------------------------------------

    def _kept(self) -> None:
        """Lines that are known by name only, and lines that are not known at all."""
        uses = ("kept", "stray", "misread", "unreadable", "ignored")
        new = [row for row in self.after.uses if row[1] in uses]
        by_text: dict[tuple[tuple[str, ...], str], deque[Statement]] = {}
        by_name: dict[tuple[tuple[str, ...], str], deque[Statement]] = {}
        for statement, use in new:
            section = self.after.sections.get(statement.line, ())
            by_text.setdefault((section, text_of(statement)), deque()).append(statement)
            if use == "kept":
                by_name.setdefault((section, statement.name), deque()).append(statement)
        paired: set[int] = set()

        def take(rows: deque[Statement] | None) -> Statement | None:
            while rows:
                twin = rows.popleft()
                if twin.line not in paired:
                    paired.add(twin.line)
                    return twin
            return None

        unpaired: list[tuple[Statement, str]] = []
        for statement, use in self.before.uses:
            if use not in uses:
                continue
            key = self.before.sections.get(statement.line, ()), text_of(statement)
            twin = take(by_text.get(key))
            if twin is None:
                unpaired.append((statement, use))
            else:
                self._pair(statement, twin, statement.name, statement.name, raw_of(statement))
        for statement, use in unpaired:
            name = statement.name
            renamed = self.fate.renamed_in(raw_of(statement)) if self.one_dialect else None
            line = renamed[2] if renamed else raw_of(statement)
            called = self.after.name_in(line) if renamed else name
            key = self.before.sections.get(statement.line, ()), called
            twin = take(by_name.get(key)) if use == "kept" else None
            if twin is None:
                self._gone(statement, use, name, line)
            else:
                self._pair(statement, twin, name, called, line)
        for statement, use in new:
            if statement.line not in paired:
                self._new(statement, use)

    def _gone(self, statement: Statement, use: str, name: str, line: str) -> None:
        text, span = text_of(statement), statement.span(self.before.craft.file)
        if use == "ignored":
            self._add("same", name, text, "", span, None, grade=None, meaning="a command")
            return
        why = self.fate.removed_in(raw_of(statement))
        if use != "kept" or not self.one_dialect or why:
            line = ""
        self._add(
            "lost", name, text, "not set", span, None, grade="advise",
            meaning=why or _UNTOLD,
            enter=(line, line),
        )  # fmt: skip

    def _new(self, statement: Statement, use: str) -> None:
        kind: Kind = "added" if use == "kept" else "not understood"
        grade: Grade | None = {"ignored": None, "kept": "advise"}.get(use, "fix")
        self._add(
            "same" if use == "ignored" else kind, statement.name, "not set",
            text_of(statement), None, statement.span(self.after.craft.file), grade=grade,
            meaning="a command" if use == "ignored" else _UNTOLD,
        )  # fmt: skip

    def _pair(self, old: Statement, new: Statement, name: str, called: str, wanted: str) -> None:
        spans = (old.span(self.before.craft.file), new.span(self.after.craft.file))
        first, second = text_of(old), text_of(new)
        if first == second:
            self._add("same", name, first, second, *spans, grade=None, meaning="the same")
        elif bare(wanted) == second:
            self._add(
                "renamed", called, first, second, *spans, grade=None,
                meaning=f"`{name}` is `{called}` now; nothing to do",
            )  # fmt: skip
        else:
            self._add(
                "changed", called, first, second, *spans, grade="advise",
                meaning="it has no meaning that cfglint knows; look it up",
                enter=(wanted, wanted),
            )  # fmt: skip

    def _refusals(self) -> None:
        from cfglint.carry.refused import refused

        if not self.after.craft.refusals:
            return
        for row in refused(self.after.source, self.after.dialect, self.after.version):
            self._add(
                "refused", row.text or "a line", row.text, row.said or "refused", None,
                row.cause or row.span, grade="fix",
                meaning=f"the controller did not take this line: {row.meaning}",
                enter=(row.enter, row.enter),
            )  # fmt: skip

    def _notes(self) -> None:
        """Account for lines that set nothing, and for those that a later line overrode."""
        # Told apart by side, not by file: a file may be compared with itself.
        old = {entry.before.line for entry in self.entries if entry.before is not None}
        new = {entry.after.line for entry in self.entries if entry.after is not None}
        quiet = {
            "comment": "no setting",
            "title": "no setting",
            "identity": "no setting",
            "refusal": "no setting",
            "echo": "no setting",
            "ignored": "no setting",
            "refused": "the controller did not take it",
        }
        for side, first in ((self.before, True), (self.after, False)):
            for statement, use in side.uses:
                span = statement.span(side.craft.file)
                if span.line not in (old if first else new):
                    text = text_of(statement)
                    self._add(
                        "same", statement.name, text if first else "", "" if first else text,
                        span if first else None, None if first else span, grade=None,
                        meaning=quiet.get(use) or side.overridden(span.line) or "it sets nothing",
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


def _by_mode(rows: Iterable[ModeRange]) -> dict[str, list[tuple[int, ModeRange]]]:
    found: dict[str, list[tuple[int, ModeRange]]] = {}
    for number, row in enumerate(rows):
        found.setdefault(row.mode, []).append((number, row))
    return found


def _milder(grade: Grade) -> Grade:
    """The grade of something new: it may well be meant, but should be looked at."""
    return "fix" if grade == "ground" else "advise"


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
