"""Carrying a setup to another firmware version or dialect, without losing a line.

Conservation: every statement of the input is in exactly one bucket, and the counts add up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.carry.changes import Fate, between
from cfglint.carry.meaning import flag_for, wire_inverted
from cfglint.craft.model import Craft, Value
from cfglint.dialect.reading import Reader
from cfglint.dialect.writing import Line, Writer

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.dialect.model import Dialect, Tables
    from cfglint.dump.source import Source
    from cfglint.dump.statements import Statement

Bucket = Literal[
    "as it is",
    "new name",
    "rescaled",
    "default says so",
    "removed",
    "by hand",
    "unreadable",
    "no setting",
]
BUCKETS: tuple[Bucket, ...] = (
    "as it is",
    "new name",
    "rescaled",
    "default says so",
    "removed",
    "by hand",
    "unreadable",
    "no setting",
)

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


class Carried(NamedTuple):
    """One statement of the input and what became of it.

    ``lines`` are what stands for it in the output; ``note`` says why it is in its bucket or
    what to do by hand.
    """

    statement: Statement
    bucket: Bucket
    lines: tuple[str, ...]
    note: str


class Carry(NamedTuple):
    """The whole: ``lines`` is the paste-ready output, ``moved`` has a row a statement.

    ``stated`` are settings that no line of the input spoke of, since the old default was right;
    the target's is another, so the output says them.
    """

    craft: Craft
    moved: tuple[Carried, ...]
    lines: tuple[str, ...]
    fate: Fate
    stated: tuple[str, ...] = ()

    def counts(self) -> dict[Bucket, int]:
        """How many statements are in each bucket; they add up to the input's."""
        found: dict[Bucket, int] = dict.fromkeys(BUCKETS, 0)
        for row in self.moved:
            found[row.bucket] += 1
        return found

    def by_hand(self) -> tuple[Carried, ...]:
        """The hand list."""
        return tuple(row for row in self.moved if row.bucket in ("by hand", "unreadable"))


def carry(source: Source, dialect: Dialect, target: Dialect, version: str) -> Carry:
    """Carry the setup of a dump to ``version`` of ``target``."""
    return _Carrier(source, dialect, target, version).carry()


class _Carrier:
    def __init__(self, source: Source, dialect: Dialect, target: Dialect, version: str) -> None:
        self.source = source
        self.dialect = dialect
        self.target = target
        self.version = version
        self.uses: list[tuple[Statement, str]] = []
        reader = Reader(
            source, dialect, witness=lambda statement, use: self.uses.append((statement, use))
        )
        self.craft = reader.craft()
        self.old_tables: Tables = reader.tables
        self.new_tables: Tables = target.at(version)
        self.same_dialect = dialect.id == target.id
        self.fate = (
            between(dialect, reader.tables.version, version)
            if self.same_dialect
            else Fate({}, {}, {}, ())
        )
        self.notes: dict[str, str] = {}
        self.rescaled: set[str] = set()
        self.stated: list[str] = []

    def carry(self) -> Carry:
        wanted = self._wanted()
        writer = Writer(wanted, self.target, self.version)
        written = writer.written()
        lines_of: dict[str, Line] = {}
        for part in written.parts:
            for name in part.says:
                lines_of[name] = part
        for name in ("craft.board", "craft.firmware", "craft.name"):
            if written.top and name not in lines_of and name in wanted.values:
                lines_of[name] = Line("", written.top[0], (name,))
        says = self._says()
        moved = []
        kept: list[Line] = []
        for statement, use in sorted(self.uses, key=lambda row: row[0].line):
            row = self._place(statement, use, says.get(statement.line, ()), lines_of)
            if use == "kept" and row.bucket in ("as it is", "new name"):
                kept.append(Line(self._section_of(statement), row.lines[0]))
            moved.append(row)
        body = [*self._ordered(written.parts), *kept]
        lines = [*written.top, *writer.put_together(body)]
        lines += [row.lines[0] for row in moved if row.note == _LAST]
        return Carry(self.craft, tuple(moved), tuple(lines), self.fate, tuple(self.stated))

    # -- what the target should be told ---------------------------------------------------------

    def _wanted(self) -> Craft:
        """The craft in the target's terms: board renamed, flag turned, defaults left out."""
        values: dict[str, Value] = {}
        for name, value in self.craft.values.items():
            if value.origin != "set":
                self._old_default(name, value, values)
                continue
            changed = self._turned(name, value)
            if changed is None:
                continue
            if self._is_default(name, changed):
                self.notes[name] = "default"
                continue
            values[name] = changed
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

    def _old_default(self, name: str, value: Value, values: dict[str, Value]) -> None:
        """A value that held because no line said otherwise: said now, if the default changed."""
        entry = self.new_tables.by_setting.get(_family(name))
        changed = self._turned(name, value)
        if entry is None or changed is None or self._is_default(name, changed):
            return
        values[name] = changed._replace(origin="set")
        self.stated.append(name)

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
        self.notes[name] = f"the flag is {new} in the target, so it must be turned to mean the same"
        self.rescaled.add(name)
        return value._replace(value=flag)

    def _is_default(self, name: str, value: Value) -> bool:
        entry = self.new_tables.by_setting.get(_family(name))
        if entry is None or entry.default is None:
            return False
        if entry.many and not _number(name) <= entry.many:
            return False
        return bool(entry.default == value.value)

    # -- what became of each statement ---------------------------------------------------------

    def _says(self) -> dict[int, tuple[str, ...]]:
        """Line number → what that line says (setting names, ranges, links)."""
        found: dict[int, list[str]] = {}
        for name, value in self.craft.values.items():
            if value.line_span is not None and value.origin == "set":
                found.setdefault(value.line_span.line, []).append(name)
        for number, row in enumerate(self.craft.mode_ranges):
            found.setdefault(row.span.line, []).append(f"range {number}")
        for number, link in enumerate(self.craft.mode_links):
            found.setdefault(link.span.line, []).append(f"link {number}")
        return {line: tuple(names) for line, names in found.items()}

    def _place(
        self,
        statement: Statement,
        use: str,
        names: Sequence[str],
        lines_of: dict[str, Line],
    ) -> Carried:
        text = statement.text[statement.start : statement.end]
        if use == "unreadable":
            return Carried(statement, "unreadable", (), "look at it in the file; nothing was read")
        if use in ("comment", "section", "refusal"):
            return Carried(statement, "no setting", (), use)
        if use == "ignored":
            if self.same_dialect:
                return Carried(statement, "as it is", (text,), _LAST)
            return Carried(statement, "no setting", (), "a command of the old firmware")
        if use == "refused":
            note = "the old controller refused it already; decide whether it is wanted"
            return Carried(statement, "by hand", (), note)
        if use == "kept":
            return self._kept(statement, text)
        if use in ("stray", "misread"):
            note = "its meaning is not known here; enter it if the new firmware still has it"
            return Carried(statement, "by hand", (), note)
        return self._known(statement, text, use, names, lines_of)

    def _known(
        self,
        statement: Statement,
        text: str,
        use: str,
        names: Sequence[str],
        lines_of: dict[str, Line],
    ) -> Carried:
        if not names:
            if use == "identity":
                return Carried(statement, "no setting", (), "identity")
            removal = statement.kind == "removal"
            note = (
                "it takes a value back to the old default; see what the new default is"
                if removal
                else "a later line, or the profile in use, says otherwise"
            )
            return Carried(statement, "by hand", (), note)
        out = [lines_of[name] for name in names if name in lines_of]
        lacking = [name for name in names if name not in lines_of]
        defaults = [name for name in lacking if self.notes.get(name) == "default"]
        notes = "; ".join(
            dict.fromkeys(
                self.notes[name]
                for name in names
                if name in self.notes and self.notes[name] != "default"
            )
        )
        if len(defaults) == len(names):
            return Carried(statement, "default says so", (), "the new default is the same")
        if len(lacking) > len(defaults):
            left = [name for name in lacking if name not in defaults]
            return self._lost(statement, left, notes)
        texts = tuple(dict.fromkeys(line.text for line in out))
        if any(name in self.rescaled for name in names):
            return Carried(statement, "rescaled", texts, notes)
        if len(texts) == 1 and _bare(texts[0]) == _bare(text):
            return Carried(statement, "as it is", texts, notes)
        if self.same_dialect and self._same_names(statement, names):
            return Carried(statement, "rescaled", texts, notes or "the new firmware counts it so")
        return Carried(statement, "new name", texts, notes)

    def _same_names(self, statement: Statement, names: Sequence[str]) -> bool:
        """Whether the target calls these settings as the old version did."""
        if statement.name in self.fate.renamed:
            return False
        for name in names:
            old = self.old_tables.by_setting.get(_family(name))
            new = self.new_tables.by_setting.get(_family(name))
            if old is not None and new is not None and old.name != new.name:
                return False
        return not any(name.startswith("craft.") for name in names)

    def _lost(self, statement: Statement, left: Sequence[str], notes: str) -> Carried:
        why = self.fate.removed.get(statement.name, "")
        if why:
            return Carried(statement, "removed", (), why)
        if notes:
            return Carried(statement, "by hand", (), notes)
        what = ", ".join(f"`{name}`" for name in left)
        return Carried(
            statement, "by hand", (), f"the target has no line for {what} with this value"
        )

    def _kept(self, statement: Statement, text: str) -> Carried:
        name = statement.name or text.split(maxsplit=1)[0]
        if not self.same_dialect:
            note = "it has no neutral meaning, so only its own firmware's maker can say"
            return Carried(statement, "by hand", (), note)
        if name in self.fate.removed:
            return Carried(statement, "removed", (), self.fate.removed[name])
        if name in self.fate.renamed:
            start = statement.name_at - statement.start if statement.name else 0
            new = self.fate.renamed[name]
            changed = text[:start] + new + text[start + len(name) :]
            return Carried(statement, "new name", (changed,), f"`{name}` is `{new}` now")
        return Carried(statement, "as it is", (text,), "")

    def _section_of(self, statement: Statement) -> str:
        """The section a statement stands in, from the section marks before it."""
        path: list[str] = []
        flat = not self.dialect.data["shape"].get("close")
        for other, use in self.uses:
            if other.line >= statement.line:
                break
            if use == "section" and other.kind == "section":
                path = [] if flat else path
                path.append(" ".join(other.name.split()))
            elif use == "section" and path:
                path.pop()
        return "/".join(path)

    def _ordered(self, parts: Iterable[Line]) -> list[Line]:
        def rank(line: Line) -> int:
            for number, starts in enumerate(ORDER):
                if line.says and line.says[0].startswith(starts):
                    return number
            return len(ORDER)

        return sorted(parts, key=rank)


_LAST = "put last"


def _family(name: str) -> str:
    from cfglint.craft.settings import family

    return family(name)


def _number(name: str) -> int:
    return next((int(part) for part in name.split(".") if part.isdigit()), 0)


def _bare(text: str) -> str:
    return " ".join(text.split())


def batches(lines: Sequence[str], size: int) -> list[tuple[str, ...]]:
    """Lines in batches for a slow serial line; ``size`` 0 means one batch."""
    if size <= 0:
        return [tuple(lines)]
    return [tuple(lines[start : start + size]) for start in range(0, len(lines), size)]
