"""From the craft back to lines: what reading undoes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.craft.settings import setting
from cfglint.dialect.codec import Bad, encode
from cfglint.dialect.model import ROLES, Dialect, Entry, Form, Tables
from cfglint.dump.forms import field_names, fill
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.craft.model import Craft, ModeLink, ModeRange, Value


class Line(NamedTuple):
    """A line, the section it belongs in (titles joined by ``/``), and what it says.

    ``says`` are neutral settings' names; for a mode range or link ``range 3`` or ``link 0``,
    with its number in the craft.
    """

    section: str
    text: str
    says: tuple[str, ...] = ()


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
    dialect's first).
    """

    def __init__(self, craft: Craft, dialect: Dialect, version: str, profile: str = "") -> None:
        self.craft = craft
        self.profile = profile
        self.dialect = dialect
        self.version = version
        self.tables: Tables = dialect.at(version)
        self.shape = dialect.data["shape"]
        self.todo: dict[str, Value] = {
            name: value for name, value in craft.values.items() if value.origin == "set"
        }
        self.lines: list[Line] = []
        self.unwritten: list[str] = []
        self.reasons: dict[str, str] = {}
        # How many ranges or links of each form are written: the number of the next one's slot.
        self.slots: dict[str, int] = {}

    def written(self) -> Written:
        """All lines, sections put together, and what could not be written."""
        top = self._identity()
        for form in self.tables.forms:
            if form.makes == "settings":
                self._settings_form(form)
        for entry in self.tables.entries:
            self._entry(entry)
        for number, row in enumerate(self.craft.mode_ranges):
            self._range(row, number)
        for number, link in enumerate(self.craft.mode_links):
            self._link(link, number)
        self.unwritten += sorted(self.todo)
        return Written(
            (*top, *self.put_together(self.lines)),
            tuple(self.unwritten),
            tuple(top),
            tuple(self.lines),
        )

    def _form(self, key: str) -> str:
        value = self.shape.get(key, "")
        return str(value if isinstance(value, str) else value[0] if value else "")

    def _identity(self) -> list[str]:
        words = self.dialect.data.get("identity", {})
        said = {"extent": words.get(self.craft.extent, "")}
        for field in ("board", "firmware", "name"):
            value = self.todo.get(f"craft.{field}")
            if value is not None:
                said[field] = str(value.value)
        if self.version:
            # What the lines mean depends on it, so it is said even where the craft does not.
            said["firmware"] = self.version
        out: list[str] = []
        told: set[str] = set()
        for form in words.get("lines", []):
            fields = field_names(form)
            # Several lines where each says something more; of ways to say the same, the first.
            if all(said.get(field) for field in fields) and not told.issuperset(fields):
                out.append(fill(form, said))
                told.update(fields)
        for field in told:
            self.todo.pop(f"craft.{field}", None)
        return out

    def put_together(self, lines: Sequence[Line]) -> list[str]:
        """The text of lines: those of no section first, then section by section."""
        opened, closed = self._form("open"), self._form("close")
        by_section: dict[str, list[str]] = {"": []}
        for line in lines:
            by_section.setdefault(line.section, []).append(line.text)
        out = by_section.pop("")
        for section, inner in by_section.items():
            path = section.split("/") if closed else [section]
            for depth, title in enumerate(path):
                out.append("  " * depth + fill(opened, {"title": title}))
            out += ["  " * len(path) + text if closed else text for text in inner]
            if closed:
                out += ["  " * depth + closed for depth in reversed(range(len(path)))]
        return out

    def _section(self, within: str, fields: dict[str, str]) -> str:
        if within and within == self.tables.profiles.get("within"):
            first = str(self.tables.profiles.get("first", 1))
            fields = {**fields, "P": self.profile or first}
        return fill(within, fields)

    # -- values ------------------------------------------------------------------------------

    def _settings_form(self, form: Form) -> None:
        wanted = dict(form.sets)
        numbers: list[str] = [""]
        if any(".N" in name for name in wanted.values()):
            numbers = sorted(
                {
                    found
                    for name in wanted.values()
                    for known in self.todo
                    if (found := number_in(name, known))
                },
                key=int,
            )
        for number in numbers:
            names = {field: name.replace("N", number, 1) for field, name in wanted.items()}
            if not number:
                names = wanted
            # A line of several fields needs them all: what is not set is said as it holds.
            known = {name: self.craft.get(name) for name in names.values()}
            if not any(name in self.todo for name in known):
                continue
            if not all(value.known for value in known.values()):
                lacking = ", ".join(f"`{n}`" for n, value in known.items() if not value.known)
                self._why(known, f"its line says {lacking} as well, and nobody says what that is")
                continue
            try:
                fields = {
                    field: encode(form.codecs[field], setting(name), known[name].value)
                    for field, name in names.items()
                }
                if number:
                    fields["N"] = encode(form.codecs["N"], ROLES["N"], int(number))
            except Bad as bad:
                self._why(known, bad.valid)
                continue
            if "" in fields.values() or not _fill_up(form, fields):
                continue
            self.lines.append(
                Line(
                    self._section(form.within, fields),
                    fill(form.line, fields),
                    tuple(names.values()),
                )
            )
            for name in names.values():
                self.todo.pop(name, None)

    def _entry(self, entry: Entry) -> None:
        if not entry.name:
            return
        names = [entry.setting]
        if ".N" in entry.setting:
            names = [name for name in self.todo if number_in(entry.setting, name)]
        for name in names:
            value = self.todo.get(name)
            if value is None:
                continue
            try:
                fields = {}
                if number := number_in(entry.setting, name):
                    fields["N"] = encode(entry.number, ROLES["N"], int(number))
                written = fill(entry.name, fields)
                if entry.flag:
                    form = self._form("flag_on" if value.value else "flag_off")
                    text = fill(form, {"name": written}) if form else ""
                else:
                    told = encode(entry.codec, setting(name), value.value)
                    form = self._form("assign")
                    text = fill(form, {"name": written, "value": told}) if told else ""
            except Bad as bad:
                self._why([name], bad.valid)
                continue
            if text:
                self.lines.append(Line(self._section(entry.within, fields), text, (name,)))
                del self.todo[name]

    def _why(self, names: Iterable[str], reason: str) -> None:
        """Note why settings could not be written, in case no other line says them."""
        for name in names:
            self.reasons.setdefault(name, reason)

    # -- modes -------------------------------------------------------------------------------

    def _range(self, row: ModeRange, number: int) -> None:
        values = {
            "mode": row.mode,
            "channel": row.channel,
            "low": row.low_us,
            "high": row.high_us,
            "join": row.join,
        }
        for form in self.tables.forms:
            fits = form.makes == "range" and ("join" in form.fields() or form.join == row.join)
            if fits and self._mode_line(form, values, f"range {number}"):
                return
        self.unwritten.append(f"range of {row.mode} on channel {row.channel}")

    def _link(self, link: ModeLink, number: int) -> None:
        values = {"mode": link.mode, "follows": link.follows, "join": link.join}
        for form in self.tables.forms:
            fits = form.makes == "link" and ("join" in form.fields() or form.join == link.join)
            if fits and self._mode_line(form, values, f"link {number}"):
                return
        self.unwritten.append(f"link of {link.mode} to {link.follows}")

    def _mode_line(self, form: Form, values: Mapping[str, object], says: str) -> bool:
        try:
            fields = {
                name: encode(form.codecs[name], ROLES[name], values[name])
                for name in form.codecs
                if name in values
            }
            slot = self.slots.get(form.id, 0) + 1
            if "N" in form.codecs:
                fields["N"] = encode(form.codecs["N"], ROLES["N"], slot)
        except Bad:
            return False
        if not _fill_up(form, fields):
            return False
        self.slots[form.id] = slot
        section = self._section(form.within, fields)
        self.lines.append(Line(section, fill(form.line, fields), (says,)))
        return True


def _fill_up(form: Form, fields: dict[str, str]) -> bool:
    """Give fields without a meaning what their ``none`` says; whether no field lacks a text."""
    for name in form.codecs:
        if name not in fields and name != "P":
            if not form.spare.get(name):
                return False
            fields[name] = form.spare[name]
    return True


def number_in(family: str, name: str) -> str:
    """The number of a family's member: ``3`` for ``channel.N.low_us``, ``channel.3.low_us``."""
    if ".N" not in family:
        return ""
    match = re.fullmatch(re.escape(family).replace("N", r"(\d+)", 1), name)
    return match[1] if match is not None else ""
