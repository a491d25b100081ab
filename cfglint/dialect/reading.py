"""From statements to the craft: each line's meaning by the dialect's tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft.model import (
    Craft,
    Misread,
    ModeLink,
    ModeRange,
    Refusal,
    Repeat,
    Stray,
    Unreadable,
    Value,
)
from cfglint.craft.settings import family, setting
from cfglint.dialect.codec import Bad, decode, unquote
from cfglint.dialect.identify import identify
from cfglint.dialect.model import ROLES, Dialect, Entry, Form, first_word, like
from cfglint.dump.statements import LONGEST_LINE, Statement
from cfglint.span import Span, on_line

if TYPE_CHECKING:
    import re
    from collections.abc import Callable, Iterator

    from cfglint.craft.card import Card
    from cfglint.dump.source import Source

Extent = Literal["full", "changes"]


def read_craft(
    source: Source,
    dialect: Dialect,
    card: Card | None = None,
    name: str = "",
    extent: Extent | None = None,
) -> Craft:
    """The craft that a dump describes.  Never fails: what is not understood is in the craft.

    ``name`` and ``extent`` hold when the dump does not say them itself.
    """
    return Reader(source, dialect, card=card, name=name, extent=extent).craft()


class Reader:
    """Reads one dump.  ``witness`` is told what use was made of each statement."""

    def __init__(
        self,
        source: Source,
        dialect: Dialect,
        *,
        card: Card | None = None,
        name: str = "",
        extent: Extent | None = None,
        witness: Callable[[Statement, str], None] | None = None,
    ) -> None:
        self.source = source
        self.file = source.file
        self.dialect = dialect
        self.card = card
        self.name = name
        self.identity = identify(dialect, source)
        firmware = self.identity.said.get("firmware")
        self.tables = dialect.at(firmware[0] if firmware else "")
        self.extent = extent or self._extent()
        self.witness = witness
        self.values: dict[str, Value] = {}
        self.ranges: list[ModeRange] = []
        self.links: list[ModeLink] = []
        self.repeats: list[Repeat] = []
        self.strays: list[Stray] = []
        self.misread: list[Misread] = []
        self.refusals: list[Refusal] = []
        self.unreadable: list[Unreadable] = []
        self.sections: list[str] = []
        # Sections that entries and forms speak of, as far as the open ones match them.
        self.inside: dict[str, dict[str, str]] = {"": {}}
        self.profiles: dict[str, dict[str, Value]] = {}
        self.profile_in_use = ""
        # What is unconfirmed, and single words of values as they are met.
        self.doubts: set[str] = set()
        self._names: dict[tuple[str, str], tuple[Entry, dict[str, str]] | None] = {}
        self._nearest: dict[str, str] = {}
        self._known: list[str] | None = None

    # -- the whole ---------------------------------------------------------------------------

    def craft(self) -> Craft:
        """Read every line and make the craft."""
        self._read_identity()
        waiting: Statement | None = None
        cause: Statement | None = None
        for statement in self.dialect.scanner.statements(self.source):
            kind = statement.kind
            if kind == "refusal":
                # A line that the controller did not take has no effect.
                if waiting is not None:
                    self._use(waiting, "refused")
                cause, waiting = waiting or cause, None
                self._refused(statement, cause)
                continue
            if kind == "comment":
                self._use(
                    statement,
                    "identity" if statement.line in self.identity.numbers else "comment",
                )
                continue
            if waiting is not None:
                self._take(waiting)
            waiting = statement
        if waiting is not None:
            self._take(waiting)
        self._choose_profile()
        if self.extent == "changes":
            self._fill_defaults()
        return Craft(
            file=self.file,
            name=self._craft_name(),
            dialect=self.dialect.id,
            extent=self.extent,
            whole=self._whole(),
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
            unsure=self.tables.unsure | self.doubts if self.doubts else self.tables.unsure,
            unmapped=self.tables.unmapped,
        )

    def _use(self, statement: Statement, use: str) -> None:
        if self.witness is not None:
            self.witness(statement, use)

    def _extent(self) -> Extent:
        said = self.identity.said.get("extent")
        words = self.dialect.data.get("identity", {})
        if said is not None:
            fold = self.tables.fold
            if fold(said[0]) == fold(words.get("changes", "")):
                return "changes"
            if fold(said[0]) == fold(words.get("full", "")):
                return "full"
        own: Extent = self.dialect.data["dialect"].get("extent", "full")
        return own

    def _read_identity(self) -> None:
        for field in ("board", "firmware", "name"):
            if field in self.identity.said:
                text, span = self.identity.said[field]
                name = f"craft.{field}"
                sure = name not in self.tables.unsure
                self.values[name] = Value(name, text, "set", span, self.identity.line, text, sure)

    def _craft_name(self) -> str:
        said = self.values.get("craft.name")
        return str(said.value) if said is not None and said.value else self.name

    def _whole(self) -> Span:
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
        for name, value in chosen.items():
            self.values[name] = value

    def _fill_defaults(self) -> None:
        for name, entry in self.tables.defaults():
            if name not in self.values:
                sure = entry.codec.trusts(entry.default)
                self.values[name] = Value(name, entry.default, "default", sure=sure)
                if not sure:
                    self.doubts.add(entry.setting)

    # -- one statement -----------------------------------------------------------------------

    def _take(self, statement: Statement) -> None:
        kind = statement.kind
        if kind == "unreadable":
            self._unreadable(statement)
        elif kind == "section":
            if self._flat():
                self.sections.clear()
            self.sections.append(" ".join(statement.name.split()))
            self._enter()
            self._use(statement, "section")
        elif kind == "section_end":
            if self.sections:
                self.sections.pop()
            self._enter()
            self._use(statement, "section")
        elif statement.line in self.identity.numbers:
            self._use(statement, "identity")
        elif kind == "removal":
            self._removal(statement)
        elif kind in ("switched_on", "switched_off"):
            self._flag(statement)
        elif kind == "assignment":
            self._assignment(statement)
        elif not self._by_form(statement):
            self._stray(statement)

    def _flat(self) -> bool:
        # A shape whose sections never end has them one after the other, not nested.
        return not self.dialect.data["shape"].get("close")

    def _enter(self) -> None:
        # Deeper than any section spoken of, nothing is: no need to put the path together.
        deep = len(self.sections) > self.tables.deepest
        path = "…" if deep else "/".join(self.sections)
        # A section that never ends cannot be left, so what belongs in none may follow it.
        self.inside = {"": {}} if self._flat() or not path else {}
        if path:
            for within in self.tables.withins:
                match = self.tables.compiled(within).fullmatch(path)
                if match is not None and within.count("/") == path.count("/"):
                    self.inside[within] = match.groupdict()

    def _find(self, name: str) -> tuple[Entry, dict[str, str]] | None:
        """The entry for a name in the open sections, innermost meaning first."""
        tables = self.tables
        folded = tables.fold(name)
        for within in reversed(self.inside):
            entry = tables.names.get((within, folded))
            if entry is not None:
                return entry, {}
            key = (within, folded)
            if key not in self._names:
                self._names[key] = None
                for home, compiled, one in tables.families:
                    match = compiled.fullmatch(name) if home == within else None
                    # A family's members are numbered: `ch{N}` is no name for `chirp`.
                    if match is not None and match.groupdict().get("N", "0").isdigit():
                        self._names[key] = (one, match.groupdict())
                        break
            family = self._names[key]
            if family is not None:
                return family
        return None

    def _assignment(self, statement: Statement) -> None:
        name = statement.name
        found = self._find(name)
        if found is None:
            if self._says_profile(statement):
                self._use(statement, "setting")
            elif self._kept(name):
                self._use(statement, "kept")
            elif not self._by_form(statement):
                self._stray(statement)
            return
        entry, captured = found
        target = self._target(entry, captured)
        if target is None:
            self._bad(
                statement, entry.setting, statement.name_span(self.file), name, Bad("a number")
            )
            return
        try:
            value = decode(entry.codec, setting(entry.setting), statement.value)
        except Bad as bad:
            self._bad(statement, target, statement.value_span(self.file), statement.value, bad)
            return
        self._set(
            Value(
                target,
                value,
                "set",
                statement.value_span(self.file),
                statement.span(self.file),
                statement.value,
                entry.codec.trusts(value),
            ),
            entry.within,
        )
        self._use(statement, "setting")

    def _says_profile(self, statement: Statement) -> bool:
        """Whether a statement says which profile is in use; if so, note which."""
        fold = self.tables.fold
        if fold(statement.name) != fold(str(self.tables.profiles.get("in_use", ""))):
            return False
        self.profile_in_use = unquote(statement.value)
        return True

    def _target(self, entry: Entry, captured: dict[str, str]) -> str | None:
        """The neutral name that an entry speaks of, its number filled in."""
        if ".N" not in entry.setting:
            return entry.setting
        written = captured.get("N") or self.inside.get(entry.within, {}).get("N", "")
        try:
            number = decode(entry.number, ROLES["N"], written)
        except Bad:
            return None
        return entry.setting.replace("N", str(number), 1)

    def _flag(self, statement: Statement) -> None:
        found = self._find(statement.name)
        if found is None or not found[0].flag:
            if self._kept(statement.name):
                self._use(statement, "kept")
            else:
                self._stray(statement)
            return
        entry, captured = found
        target = self._target(entry, captured)
        if target is None:
            self._stray(statement)
            return
        span = statement.name_span(self.file)
        value = bool(statement.kind == "switched_on")
        line = statement.span(self.file)
        self._set(Value(target, value, "set", span, line, statement.name, entry.sure), entry.within)
        self._use(statement, "setting")

    def _removal(self, statement: Statement) -> None:
        """A line that takes a value back: the dialect's default holds again."""
        found = self._find(statement.name)
        if found is not None:
            target = self._target(*found)
            if target is not None:
                store = self._store(found[0].within)
                store.pop(target, None)
                if found[0].default is not None:
                    span = statement.name_span(self.file)
                    line = statement.span(self.file)
                    default, sure = found[0].default, found[0].codec.trusts(found[0].default)
                    store[target] = Value(target, default, "default", span, line, "", sure)
                    if not sure:
                        self.doubts.add(found[0].setting)
                self._use(statement, "setting")
                return
        mode = self._mode_word(statement.name)
        if mode is not None:
            self.ranges = [row for row in self.ranges if row.mode != mode]
            self.links = [row for row in self.links if row.mode != mode]
            self._use(statement, "range")
        elif self._kept(statement.name):
            self._use(statement, "kept")
        else:
            self._stray(statement)

    def _mode_word(self, word: str) -> str | None:
        for form in self.tables.forms:
            if form.makes == "range":
                try:
                    return str(decode(form.codecs["mode"], ROLES["mode"], word))
                except Bad:
                    return None
        return None

    def _by_form(self, statement: Statement) -> bool:
        """Read a statement by the dialect's line forms; False when none fits."""
        tables = self.tables
        text, start, end = statement.text, statement.start, statement.end
        word = tables.fold(first_word(text[start : start + 200]))
        by_head = tables.forms_by_head
        for form in (*by_head.get(word, ()), *(by_head.get("", ()) if word else ())):
            if form.within not in self.inside:
                continue
            match = tables.compiled(form.line).fullmatch(text, start, end)
            if match is not None:
                self._apply(form, match, statement)
                return True
        if self._kept(word) or self._kept(text[start:end]):
            self._use(statement, "kept")
            return True
        for line in tables.ignored:
            if like(tables.fold(text[start:end]), tables.fold(line)):
                self._use(statement, "ignored")
                return True
        return False

    def _apply(self, form: Form, match: re.Match[str], statement: Statement) -> None:
        fields = {**self.inside[form.within], **match.groupdict()}
        spans = {
            name: on_line(self.file, statement.line, match.start(name), match.end(name))
            for name in match.groupdict()
        }
        line = statement.span(self.file)
        if form.makes == "settings":
            self._apply_settings(form, fields, spans, statement)
            return
        if form.skip_empty and self._empty(form, fields):
            # An unused slot may name any mode, or none that there is.
            self._use(statement, "ignored")
            return
        read: dict[str, Any] = {}
        for field, written in fields.items():
            role = ROLES.get(field)
            if role is None:
                continue
            try:
                read[field] = decode(form.codecs[field], role, written)
            except Bad as bad:
                self._bad(statement, form.makes, spans.get(field, line), written, bad)
                return
        join = read.get("join", form.join)
        codecs = form.codecs
        sure = form.sure and all(codecs[field].trusts(value) for field, value in read.items())
        if form.makes == "link":
            self.links.append(ModeLink(read["mode"], read["follows"], join, line, sure))
        else:
            self.ranges.append(
                ModeRange(
                    read["mode"],
                    read["channel"],
                    read["low"],
                    read["high"],
                    join,
                    line,
                    spans.get("channel", line),
                    spans.get("low", line),
                    spans.get("high", line),
                    sure,
                )
            )
        self._use(statement, form.makes)

    def _empty(self, form: Form, fields: dict[str, str]) -> bool:
        """Whether a range ends where it starts, or before; False where that cannot be read."""
        try:
            low, high = (
                decode(form.codecs[name], ROLES[name], fields[name]) for name in ("low", "high")
            )
        except Bad:
            return False
        return bool(low >= high)

    def _apply_settings(
        self, form: Form, fields: dict[str, str], spans: dict[str, Span], statement: Statement
    ) -> None:
        line = statement.span(self.file)
        number, doubtless = "", form.sure
        if "N" in fields:
            doubtless = doubtless and form.codecs["N"].sure
            try:
                number = str(decode(form.codecs["N"], ROLES["N"], fields["N"]))
            except Bad as bad:
                self._bad(statement, "the number", spans.get("N", line), fields["N"], bad)
                return
        use = "setting"
        for field, name in form.sets.items():
            target = name.replace("N", number, 1) if ".N" in name else name
            written, span = fields[field], spans.get(field, line)
            try:
                value = decode(form.codecs[field], setting(name), written)
            except Bad as bad:
                self._note_bad(statement, target, span, written, bad)
                use = "misread"
                continue
            sure = doubtless and form.codecs[field].trusts(value)
            self._set(Value(target, value, "set", span, line, written, sure), form.within)
        self._use(statement, use)

    def _set(self, value: Value, within: str) -> None:
        store = self._store(within)
        before = store.get(value.name)
        if before is not None and before.origin == "set" and before.value != value.value:
            self.repeats.append(Repeat(before, value))
        store[value.name] = value
        if not value.sure:
            self.doubts.add(family(value.name))

    def _store(self, within: str) -> dict[str, Value]:
        """Where the values of a section go: to its profile, if it is one."""
        if not within or within != self.tables.profiles.get("within"):
            return self.values
        return self.profiles.setdefault(self.inside[within].get("P", ""), {})

    # -- what was not understood --------------------------------------------------------------

    def _kept(self, name: str) -> bool:
        folded = self.tables.fold(name)
        return any(like(folded, self.tables.fold(known)) for known in self.tables.kept)

    def _note_bad(
        self, statement: Statement, name: str, span: Span, written: str, bad: Bad
    ) -> None:
        line = statement.span(self.file)
        self.misread.append(Misread(name, span, line, written, bad.valid, bad.nearest))

    def _bad(self, statement: Statement, name: str, span: Span, written: str, bad: Bad) -> None:
        self._note_bad(statement, name, span, written, bad)
        self._use(statement, "misread")

    def _stray(self, statement: Statement) -> None:
        name = statement.name
        span = statement.name_span(self.file)
        if not name:
            text = statement.text[statement.start : statement.end]
            name = text.split()[0] if text.split() else text
            end = statement.start + len(name)
            span = on_line(self.file, statement.line, statement.start, end)
        if name not in self._nearest:
            if self._known is None:
                self._known = self.tables.known_names()
            # A file of a million strange lines must not be compared name by name.
            if len(self._nearest) < 200 and len(name) <= 100:
                from cfglint.near import nearest

                self._nearest[name] = self.called_here(name) or nearest(name, self._known)
        found = self._nearest.get(name, "")
        self.strays.append(Stray(statement.span(self.file), span, name, found))
        self._use(statement, "stray")

    def called_here(self, name: str) -> str:
        """What this version calls a name that another version has; "" where none has it."""
        fold = self.tables.fold
        pairs = [
            pair
            for change in self.dialect.data.get("changes", [])
            for pair in change.get("rename", {}).items()
        ]
        words = [name]
        for word in words:  # grows: a name may have changed more than once
            for old, new in pairs:
                for one, other in ((old, new), (new, old)):
                    if fold(one) == fold(word) and other not in words:
                        words.append(other)
        return next((word for word in words[1:] if self._find(word) or self._kept(word)), "")

    def _unreadable(self, statement: Statement) -> None:
        size = len(statement.text)
        if size > LONGEST_LINE:
            why = f"it is {size:,} characters long; no line of a dump is over {LONGEST_LINE:,}"
        elif any((char < " " and char != "\t") or char == "\x7f" for char in statement.text):
            why = "it holds control characters, so the file is damaged or no dump"
        else:
            why = f"it is no statement of the shape `{self.dialect.data['shape']['grammar']}`"
        self.unreadable.append(Unreadable(statement.span(self.file), why))
        self._use(statement, "unreadable")

    def _refused(self, statement: Statement, cause: Statement | None) -> None:
        span = cause.span(self.file) if cause is not None else None
        text = cause.text[cause.start : cause.end] if cause is not None else ""
        self.refusals.append(Refusal(statement.span(self.file), statement.value, span, text))
        self._use(statement, "refusal")


def uses(source: Source, dialect: Dialect) -> Iterator[tuple[Statement, str]]:
    """Each statement of a dump with the use that was made of it, in the dump's order."""
    found: list[tuple[Statement, str]] = []
    Reader(source, dialect, witness=lambda statement, use: found.append((statement, use))).craft()
    yield from sorted(found, key=lambda row: row[0].line)
