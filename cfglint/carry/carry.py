"""Carrying a setup to another firmware version or dialect, without losing a line.

Conservation: every statement of the input is in exactly one bucket, and the counts add up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.carry.changes import Fate, between
from cfglint.carry.meaning import flag_for, same, wire_inverted
from cfglint.carry.side import bare, raw_of, text_of
from cfglint.craft.model import Craft, Value, show
from cfglint.craft.settings import family
from cfglint.dialect.address import segment
from cfglint.dialect.writing import Line, Writer
from cfglint.dump.atoms import cut

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.carry.side import Side, Statement
    from cfglint.craft.model import ModeLink, ModeRange
    from cfglint.dialect.model import Dialect, Tables

Bucket = Literal[
    "as it is",
    "new name",
    "rescaled",
    "default says so",
    "removed",
    "overridden",
    "sets nothing",
    "by hand",
    "unreadable",
    "no setting",
]
#: Each bucket, and what it is to a person.
BUCKETS: dict[Bucket, str] = {
    "as it is": "carried as it is",
    "new name": "carried under a new name",
    "rescaled": "carried with its value written anew",
    "default says so": "left out, since the target's default says it already",
    "removed": "left out, since the target no longer has it",
    "overridden": "left out, since a later line of the dump says otherwise",
    "sets nothing": "left out, since it sets nothing",
    "by hand": "to be entered by hand",
    "unreadable": "not readable",
    "no setting": "no setting: a comment, section mark, identity or command",
}

#: The order in which a controller needs its lines, by the start of what they say.
ORDER = (
    ("craft.",),
    ("port.",),
    ("receiver.",),
    ("motor.", "loop."),
    ("channel.", "stick."),
    ("range", "link"),
    ("failsafe.",),
)

#: What identity lines say; a target may have no place for it, and nothing is lost then.
IDENTITY = ("craft.board", "craft.firmware")


class Carried(NamedTuple):
    """One statement of the input and what became of it.

    ``lines`` are what stands for it in the output; ``note`` says why it is in its bucket or
    what to do by hand.
    """

    statement: Statement
    bucket: Bucket
    lines: tuple[str, ...]
    note: str


class Unsaid(NamedTuple):
    """A setting that no line of the input speaks of and that may not hold in the target."""

    name: str
    value: str
    note: str


class Carry(NamedTuple):
    """The whole: ``lines`` is the paste-ready output, ``moved`` has a row a statement.

    ``stated`` are settings that no line of the input spoke of, since the old default was right;
    the target's is another, so the output says them.  ``unsaid`` are those for which it cannot.
    """

    side: Side
    target: Dialect
    version: str
    moved: tuple[Carried, ...]
    lines: tuple[str, ...]
    fate: Fate
    stated: tuple[str, ...] = ()
    unsaid: tuple[Unsaid, ...] = ()

    def counts(self) -> dict[Bucket, int]:
        """How many statements are in each bucket; they add up to the input's."""
        found: dict[Bucket, int] = dict.fromkeys(BUCKETS, 0)
        for row in self.moved:
            found[row.bucket] += 1
        return found

    def by_hand(self) -> tuple[Carried, ...]:
        """The hand list, as far as lines of the input are on it."""
        return tuple(row for row in self.moved if row.bucket in ("by hand", "unreadable"))

    @property
    def complete(self) -> bool:
        """Whether nothing is left to do by hand."""
        return not self.by_hand() and not self.unsaid


def carry(side: Side, target: Dialect, version: str) -> Carry:
    """Carry the setup of a dump to ``version`` of ``target``."""
    return _Carrier(side, target, version).carry()


class _Carrier:
    def __init__(self, side: Side, target: Dialect, version: str) -> None:
        self.side = side
        self.craft = side.craft
        self.target = target
        self.version = version
        self.old_tables: Tables = side.tables
        self.new_tables: Tables = target.at(version)
        self.same_dialect = side.dialect.id == target.id
        self.fate = (
            between(target, side.version, version) if self.same_dialect else Fate({}, {}, {}, ())
        )
        # Without a table of changes nobody can say what the update did to names and defaults.
        self.blind = (
            self.same_dialect and side.version != version and not target.data.get("changes")
        )
        self.notes: dict[str, str] = {}
        self.defaults: set[str] = set()
        self.turned: set[str] = set()
        self.stated: list[str] = []
        self.unsaid: list[Unsaid] = []
        self.lines_of: dict[str, Line] = {}
        self.reasons: dict[str, str] = {}
        self.idle = {
            row.value.line_span.line: row for row in side.idle if row.value.line_span is not None
        }

    def carry(self) -> Carry:
        wanted = self._wanted()
        profile = self.side.profile if self.same_dialect else ""
        like = self.side.reader if self.same_dialect else None
        writer = Writer(wanted, self.target, self.version, profile, like)
        written = writer.written()
        self.reasons = writer.reasons
        for part in written.parts:
            for name in part.says:
                self.lines_of[name] = part
        for name in (*IDENTITY, "craft.name"):
            if written.top and name not in self.lines_of and name not in writer.todo:
                text = str(wanted.get(name).value)
                top = next((line for line in written.top if text in line), written.top[0])
                self.lines_of[name] = Line((), top, (name,))
        for name in self.stated:
            if name not in self.lines_of:
                self._unsaid(name, self.craft.get(name))
        self.stated = [name for name in self.stated if name in self.lines_of]
        says = self._says()
        moved = []
        kept: list[Line] = []
        for statement, use in self.side.uses:
            row = self._place(statement, use, says.get(statement.line, ()))
            if use == "kept" or statement.line in self.idle or self._says_profile(statement):
                section = self.side.sections.get(statement.line, ())
                kept += [Line(section, line) for line in row.lines]
            moved.append(row)
        body = [*self._ordered(written.parts), *kept]
        lines = [*written.top, *writer.put_together(body)]
        save = self._save(self.target)
        if save:
            lines.append(save)
        return Carry(
            self.side,
            self.target,
            self.version,
            tuple(moved),
            tuple(lines),
            self.fate,
            tuple(self.stated),
            tuple(self.unsaid),
        )

    @staticmethod
    def _save(dialect: Dialect) -> str:
        return dialect.mark("save")

    # -- what the target should be told ---------------------------------------------------------

    def _wanted(self) -> Craft:
        """The craft in the target's terms: board renamed, flag turned, its own defaults known."""
        values: dict[str, Value] = {
            name: Value(name, default.value, "default")
            for name, _, default in self.new_tables.defaults()
        }
        for name, value in self.craft.values.items():
            changed = self._turned(name, value)
            default = values.get(name)
            known = self.new_tables.knows(family(name))
            if changed is None:
                if known and value.origin != "set" and value.line_span is None:
                    self._unsaid(name, value)
            elif default is not None and same(changed, default) and not self.blind:
                self.defaults.add(name)
            elif value.origin == "set":
                values[name] = changed
            elif self.blind:
                continue
            elif known or value.line_span is not None:
                # It held because no line said otherwise; the target's default is another.
                values[name] = changed._replace(origin="set")
                self.stated.append(name)
        return Craft(
            file=self.craft.file,
            name=self.craft.name,
            dialect=self.target.id,
            extent="changes",
            whole=self.craft.whole,
            values=values,
            mode_ranges=self.craft.mode_ranges,
            mode_links=self.craft.mode_links,
            traits=self.new_tables.traits,
        )

    def _unsaid(self, name: str, value: Value) -> None:
        note = self.notes.get(name) or self._cannot([name])
        self.unsaid.append(Unsaid(name, show(name, value.value), note))

    def _turned(self, name: str, value: Value) -> Value | None:
        if name == "craft.board" and value.value in self.fate.boards:
            self.notes[name] = f"the board is called {self.fate.boards[value.value]} now"
            return value._replace(value=self.fate.boards[value.value])
        if name != "receiver.inverted":
            return value
        old, new = self.craft.traits.inversion, self.new_tables.traits.inversion
        if old == new and old is not None:
            return value
        wire = wire_inverted(self.craft, bool(value.value))
        flag = None if wire is None else flag_for(self.craft, new, wire)
        if flag is None:
            self.notes[name] = (
                "whether the flag says how the wire is or how it differs from usual cannot be "
                "told here; try it at the bench, propellers off, and look at the receiver's bars"
            )
            return None
        if flag != value.value:
            self.notes[name] = (
                f"the flag is {new} in the target, so it must be turned to mean the same"
            )
            self.turned.add(name)
        return value._replace(value=flag)

    # -- what became of each statement ---------------------------------------------------------

    def _says(self) -> dict[int, tuple[str, ...]]:
        """Line number → what that line says (setting names, ranges, links)."""
        found: dict[int, list[str]] = {}
        for name, value in self.craft.values.items():
            if value.line_span is not None:
                found.setdefault(value.line_span.line, []).append(name)
        for number, row in enumerate(self.craft.mode_ranges):
            found.setdefault(row.span.line, []).append(f"range {number}")
        for number, link in enumerate(self.craft.mode_links):
            found.setdefault(link.span.line, []).append(f"link {number}")
        return {line: tuple(names) for line, names in found.items()}

    def _place(self, statement: Statement, use: str, names: Sequence[str]) -> Carried:
        if use == "unreadable":
            return Carried(statement, "unreadable", (), "look at it in the file; nothing was read")
        if use in ("comment", "title", "refusal"):
            return Carried(statement, "no setting", (), use)
        if use == "echo":
            return Carried(
                statement, "no setting", (), "the same line again, as a terminal echoes it"
            )
        if use == "ignored":
            return self._command(statement)
        if use == "refused":
            note = "the old controller refused it already; decide whether it is wanted"
            return Carried(statement, "by hand", (), note)
        if use == "kept":
            return self._kept(statement)
        if use == "stray":
            note = "its meaning is not known here; enter it if the new firmware still has it"
            return Carried(statement, "by hand", (), note)
        if use == "misread":
            lines = self._lines([name for name in names if name in self.lines_of])
            note = "its value means nothing here; look up what it should be"
            if lines:
                note = f"part of it means nothing here; carried without that part: {lines[0]}"
            return Carried(statement, "by hand", lines, note)
        if not names:
            return self._nameless(statement, use)
        return self._known(statement, use, names)

    def _command(self, statement: Statement) -> Carried:
        text, save = text_of(statement), self._save(self.target)
        if save and text.lower() == self._save(self.side.dialect).lower():
            if text == save:
                return Carried(statement, "as it is", (save,), "put last")
            return Carried(statement, "new name", (save,), "put last")
        row = next(one for one in self.side.reader.rows if one.line == statement.line)
        if self.side.reader.is_ignored(row):
            return Carried(statement, "no setting", (), "a command")
        return Carried(statement, "default says so", (), "an empty slot; the target's are empty")

    def _says_profile(self, statement: Statement) -> bool:
        return statement.line in self.side.reader.profile_lines

    def _nameless(self, statement: Statement, use: str) -> Carried:
        """A statement that was understood and says nothing of the craft as it is."""
        text = raw_of(statement)
        if use == "identity":
            return Carried(statement, "no setting", (), "identity")
        if self._says_profile(statement):
            said = self.side.reader.profile_lines[statement.line]
            if self.same_dialect and said == self.side.profile:
                return Carried(statement, "as it is", (text,), "")
            return Carried(
                statement, "no setting", (), "it says which profile is in use; that is carried"
            )
        idle = self.idle.get(statement.line)
        if idle is not None:
            if self._unchanged(idle.value.name):
                return Carried(statement, "as it is", (text,), "of a profile not in use")
            note = f"it is of profile {idle.profile}, which is not in use; enter it there if wanted"
            return Carried(statement, "by hand", (), note)
        if use == "removal" and not self.side.reader.removals[statement.line].startswith("mode "):
            again = self.craft.get(self.side.reader.removals[statement.line]).line_span
            if again is not None and again.line > statement.line:
                note = f"line {again.line} says otherwise"
                return Carried(statement, "overridden", (), note)
            note = "it takes a value back to the old default, which the dialect file does not say"
            return Carried(statement, "by hand", (), note)
        later = self.side.overridden(statement.line)
        if later:
            return Carried(statement, "overridden", (), later)
        own = self.side.owns(statement.line)
        if own:
            note = f"`{own}` is the firmware's own and has no neutral meaning"
            return Carried(statement, "by hand", (), note)
        modes = self.side.joins(statement.line)
        if modes:
            says = {
                f"range {at}" for at, row in enumerate(self.craft.mode_ranges) if row.mode in modes
            }
            lines = self._lines(name for name in sorted(says) if name in self.lines_of)
            if lines:
                note = "how ranges are joined is said in their own lines"
                return Carried(statement, "rescaled", lines, note)
        return Carried(statement, "sets nothing", (), self.side.why_nothing(statement.line))

    def _unchanged(self, name: str) -> bool:
        """Whether the target writes a setting just as the old firmware does."""
        if not self.same_dialect:
            return False
        old = self.old_tables.how(family(name))
        return bool(old) and old == self.new_tables.how(family(name))

    def _lines(self, names: Iterable[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self.lines_of[name].text for name in names))

    def _known(self, statement: Statement, use: str, names: Sequence[str]) -> Carried:
        if use == "identity":
            # A target without a place for board and version loses nothing by it.
            names = [name for name in names if name in self.lines_of or name not in IDENTITY]
        notes = [self.notes[name] for name in names if name in self.notes]
        notes += [note for name in names if (note := self._ends_note(name))]
        note = "; ".join(dict.fromkeys(notes))
        lacking = [name for name in names if name not in self.lines_of]
        left = [name for name in lacking if name not in self.defaults]
        lines = self._lines(name for name in names if name in self.lines_of)
        if left:
            return self._lost(statement, left, note, lines)
        if use == "identity":
            bucket: Bucket = "new name" if "craft.board" in self.notes else "no setting"
            return Carried(statement, bucket, lines, note or "identity")
        if len(lacking) == len(names):
            note = f"{note}; the target's default is that" if note else "the target's default"
            if all(self._sure(name) for name in names):
                return Carried(statement, "default says so", (), note)
            note = f"{note}, by a mapping that the dialect file marks unconfirmed"
            return Carried(statement, "by hand", (), note)
        text = text_of(statement)
        same = self.same_dialect and [bare(line) for line in lines] == [text]
        if not same and not all(self._sure(name) for name in names):
            note = f"carried as {lines[0]}, by a mapping that the dialect file marks unconfirmed"
            return Carried(statement, "by hand", lines, note)
        if any(name in self.turned for name in names):
            return Carried(statement, "rescaled", lines, note)
        if len(lines) == 1 and bare(lines[0]) == text:
            return Carried(statement, "as it is", lines, note)
        if use == "removal":
            return Carried(
                statement, "rescaled", lines,
                note or "the target's default is another, so the old one is said",
            )  # fmt: skip
        renamed = self._renamed(statement, names)
        if renamed or not self.same_dialect:
            joined = "; ".join(filter(None, (renamed, note)))
            return Carried(statement, "new name", lines, joined)
        return Carried(statement, "rescaled", lines, note or "the target writes it so")

    def _sure(self, name: str) -> bool:
        """Whether both dialect files are sure of a setting, range or link, or it need not be
        understood.
        """
        marked = self.new_tables.unsure
        kind, _, number = name.partition(" ")
        if number:
            rows: Sequence[ModeRange | ModeLink] = (
                self.craft.mode_ranges if kind == "range" else self.craft.mode_links
            )
            row = rows[int(number)]
            words = {kind, f"mode {row.mode}", f"mode {getattr(row, 'follows', row.mode)}"}
            return row.sure and marked.isdisjoint(words)
        senses = (self.craft.traits.inversion, self.new_tables.traits.inversion)
        if name == "receiver.inverted" and "trait inversion" in marked | self.craft.unsure:
            # Whether the flag had to be turned, too, is said by what is not confirmed.
            return self.same_dialect and senses[0] == senses[1]
        if self._unchanged(name):
            return True
        value, whole = self.craft.get(name), family(name)
        known = all(
            entry.codecs[field].trusts(value.value)
            for entry, field in self.new_tables.entries_of(whole)
        )
        return value.sure and whole not in marked and known

    def _ends_note(self, name: str) -> str:
        """What differs of a mode range whose firmware counts the upper end otherwise."""
        old, new = self.craft.traits.range_ends, self.new_tables.traits.range_ends
        if not name.startswith("range ") or old == new:
            return ""
        return "whether the upper end itself belongs to the range is not as before"

    def _renamed(self, statement: Statement, names: Sequence[str]) -> str:
        """In words, what the target calls these settings, if otherwise than before."""
        renamed = self.fate.renamed_in(raw_of(statement))
        if renamed is not None:
            return f"`{renamed[0]}` is `{renamed[1]}` now"
        for name in names if self.same_dialect else ():
            old, new = (
                [tables.called(entry) for entry, _ in tables.entries_of(family(name))]
                for tables in (self.old_tables, self.new_tables)
            )
            if old and new and old != new:
                return f"`{old[0]}` is `{new[0]}` now"
        return ""

    def _cannot(self, left: Iterable[str]) -> str:
        """Why the target has no line for some settings."""
        target = f"{self.target.id} {self.version}".strip()
        reason = next((self.reasons[name] for name in left if name in self.reasons), "")
        if reason:
            return f"it cannot be written for {target}: {reason}"
        return f"{target} has no line for it that this dialect file knows"

    def _lost(
        self, statement: Statement, left: Sequence[str], note: str, lines: tuple[str, ...]
    ) -> Carried:
        why = self.fate.removed_in(raw_of(statement))
        if why and not lines:
            return Carried(statement, "removed", (), why)
        return Carried(statement, "by hand", lines, note or self._cannot(left))

    def _kept(self, statement: Statement) -> Carried:
        """A line known by name only: nobody can say what it means, so only its name is changed."""
        text = raw_of(statement)
        if self.blind:
            note = "the dialect file has no table of changes, so nobody can say what it is now"
            return Carried(statement, "by hand", (), note)
        if not self.same_dialect:
            note = "it has no neutral meaning, so only the firmware's makers can say"
            return Carried(statement, "by hand", (), note)
        why = self.fate.removed_in(text)
        if why:
            return Carried(statement, "removed", (), why)
        renamed = self.fate.renamed_in(text)
        changed = renamed[2] if renamed is not None else text
        if not self._keeps(changed):
            return Carried(statement, "by hand", (), "the target does not know this name")
        if renamed is None:
            return Carried(statement, "as it is", (text,), "")
        note = f"`{renamed[0]}` is `{renamed[1]}` now"
        return Carried(statement, "new name", (changed,), note)

    def _keeps(self, text: str) -> bool:
        """Whether the target knows a line without a meaning, or the name that one takes back."""
        own = segment(self.new_tables.bare(self.side.name_in(text))).pieces
        whole = segment(text).pieces
        for at in self.new_tables.map.kept:
            last = at.segments[-1]
            for words in (last, segment(self.new_tables.bare(last.text))):
                pieces = [piece for piece in words.pieces if piece[0] != "any"]
                if pieces and (
                    list(whole[: len(pieces)]) == pieces or list(own[: len(pieces)]) == pieces
                ):
                    return True
        return False

    def _ordered(self, parts: Iterable[Line]) -> list[Line]:
        def rank(line: Line) -> int:
            for number, starts in enumerate(ORDER):
                if line.says and line.says[0].startswith(starts):
                    return number
            return len(ORDER)

        return sorted(parts, key=rank)


def batches(lines: Sequence[str], size: int, dialect: Dialect | None = None) -> list[list[str]]:
    """Lines in batches for a slow serial line; ``size`` 0 means one batch.

    With a dialect no batch ends inside a section that must be closed, unless that section alone
    is longer than a batch.
    """
    if size <= 0:
        return [list(lines)]
    found: list[list[str]] = [[]]
    for group in _groups(lines, dialect):
        if found[-1] and len(found[-1]) + len(group) > size:
            found.append([])
        for line in group:
            if len(found[-1]) == size:
                found.append([])
            found[-1].append(line)
    return found


def _groups(lines: Sequence[str], dialect: Dialect | None) -> Iterable[list[str]]:
    if dialect is None or not dialect.mark("close"):
        yield from ([line] for line in lines)
        return
    depth = 0
    group: list[str] = []
    for line in lines:
        group.append(line)
        for atom in cut(line):
            if atom.kind == "mark":
                depth = max(0, depth + (atom.text in "{[(") - (atom.text in "}])"))
        if depth == 0:
            yield group
            group = []
    if group:
        yield group


def paste(found: Carry, size: int = 0) -> str:
    """The text to paste: the lines in batches, each begun by a comment that counts them."""
    parts = batches(found.lines, size, found.target)
    mark = found.target.mark("comment")
    out: list[str] = []
    for number, part in enumerate(parts, 1):
        if len(parts) > 1:
            out += [""] * (number > 1)
            if mark:
                out.append(f"{mark} batch {number} of {len(parts)}")
        out += part
    return "".join(line + "\n" for line in out)
