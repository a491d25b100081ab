"""Round trips: what a dump says, written back in its dialect and read again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.model import show
from cfglint.dialect.codec import Bad, encode
from cfglint.dialect.examples import show_link, show_range
from cfglint.dialect.model import ROLES
from cfglint.dialect.reading import Reader
from cfglint.dialect.writing import Writer, number_in
from cfglint.dump.source import Source
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from cfglint.craft.model import Craft, ModeLink, ModeRange, Value
    from cfglint.dialect.codec import Codec
    from cfglint.dialect.model import Dialect, Form, Tables
    from cfglint.dialect.reading import Extent
    from cfglint.dialect.writing import Written
    from cfglint.dump.statements import Statement
    from cfglint.span import Span

#: What became of a line that was written and is not read as what it says.
_READ_AS = {
    "comment": "that line is read as a comment",
    "identity": "that line is read as one that names the craft",
    "ignored": "that line is one to pass over, by [ignored] or because its range is empty",
    "kept": "that line is kept without a meaning, by [kept]",
    "refusal": "that line is read as a refusal",
    "refused": "the line after it is read as its refusal",
    "section": "that line is read as a section mark",
    "stray": "the dialect has no meaning for that line",
    "unreadable": "that line is no statement of the dialect's shape",
}


#: Who a craft is.  Lines of [identity] that say it may say more, such as the day of a build, and
#: then cannot be written; nobody enters them either.
_NAMES = ("craft.board", "craft.firmware", "craft.name")


class Lost(NamedTuple):
    """Something that did not survive being written and read again.

    ``what`` is a neutral setting, ``range`` or ``link``; ``value`` what was read at ``span``,
    ``written`` the line that it came to (``""``: none), ``got`` what that is read as (``""``:
    nothing).
    """

    what: str
    span: Span
    value: str
    written: str
    got: str
    why: str


class Trip(NamedTuple):
    """One dump, there and back: how much was written, and what did not survive.

    ``where`` tells several dumps of one file apart (``example 3``).
    """

    file: str
    settings: int
    ranges: int
    links: int
    lost: tuple[Lost, ...]
    where: str = ""


class Reading(NamedTuple):
    """A dump read: its reader, the craft, and the use made of each line, by number.

    ``titles`` are those of the sections it opens.
    """

    reader: Reader
    craft: Craft
    uses: Mapping[int, tuple[Statement, str]]
    titles: frozenset[str]


def read_with(
    source: Source, dialect: Dialect, *, version: str | None = None, extent: Extent | None = None
) -> Reading:
    """Read a dump; ``version`` is the one whose tables apply, if not the dump's own."""
    uses: dict[int, tuple[Statement, str]] = {}
    titles: set[str] = set()

    def witness(statement: Statement, use: str) -> None:
        uses[statement.line] = (statement, use)
        if statement.kind == "section":
            titles.add(reader.tables.fold(reader.sections[-1]))

    reader = Reader(source, dialect, extent=extent, witness=witness)
    if version is not None:
        reader.tables = dialect.at(version)
    craft = reader.craft()
    return Reading(reader, craft, uses, frozenset(titles))


def round_trip(
    source: Source,
    dialect: Dialect,
    *,
    version: str | None = None,
    extent: Extent | None = None,
    where: str = "",
) -> Trip:
    """Read a dump, write back all that its lines say, read that, and compare.

    Profiles that are not in use are written too, each for itself.
    """
    first = read_with(source, dialect, version=version, extent=extent)
    reader, craft = first.reader, first.craft
    version = reader.tables.version
    lost = list(lost_of(craft, dialect, version))
    settings = _count(craft, reader.tables)
    in_use = reader.profile_in_use or str(reader.tables.profiles.get("first", 1))
    for number, values in reader.profiles.items():
        if number != in_use:
            # A profile by itself: what it has in common with all others has been written above.
            alone = _with(craft, values)
            settings += _count(alone, reader.tables)
            lost += lost_of(alone, dialect, version, number)
    lost.sort(key=lambda row: row.span[1:3])
    ranges, links = len(craft.mode_ranges), len(craft.mode_links)
    return Trip(source.file, settings, ranges, links, tuple(lost), where)


def _count(craft: Craft, tables: Tables) -> int:
    return sum(
        value.origin == "set" and (name not in _NAMES or _codec_of(tables, name) is not None)
        for name, value in craft.values.items()
    )


def _with(craft: Craft, values: Mapping[str, Value]) -> Craft:
    from cfglint.craft.model import Craft

    return Craft(
        file=craft.file,
        name="",
        dialect=craft.dialect,
        extent=craft.extent,
        whole=craft.whole,
        values=values,
        traits=craft.traits,
    )


def lost_of(craft: Craft, dialect: Dialect, version: str, profile: str = "") -> Iterator[Lost]:
    """What a craft loses by being written in a version of a dialect and read again."""
    writer = Writer(craft, dialect, version, profile)
    written = writer.written()
    text = "\n".join(written.lines)
    back = read_with(
        Source.from_text(craft.file, text), dialect, version=version, extent=craft.extent
    )
    values = back.reader.profiles.get(profile, {}) if profile else back.craft.values
    compared = _Compared(craft, writer, written, back)
    for name, value in craft.values.items():
        if value.origin == "set" and not (name in _NAMES and compared.only_identity(name)):
            yield from compared.setting(value, values.get(name))
    if not profile:
        yield from compared.ranges()
        yield from compared.links()


class _Compared:
    """A craft, what it was written as, and what that was read as."""

    def __init__(self, craft: Craft, writer: Writer, written: Written, back: Reading) -> None:
        self.craft = craft
        self.writer = writer
        self.tables: Tables = writer.tables
        self.back = back
        self.line_of: dict[str, str] = {}
        for line in written.parts:
            for one in line.says:
                self.line_of.setdefault(one, line.text)
        for name in _NAMES:
            # Of the lines at the top nobody notes what they say.
            value = craft.values.get(name)
            if value is not None and name not in writer.todo and name not in self.line_of:
                texts = (line for line in written.top if str(value.value) in line)
                self.line_of[name] = next(texts, "")

    def use_of(self, line: str) -> str:
        """What use was made of a line when it was read again; the worst, if it is there twice."""
        wanted = " ".join(line.split())
        found = [
            use
            for statement, use in self.back.uses.values()
            if " ".join(statement.text[statement.start : statement.end].split()) == wanted
            or " ".join(statement.text.split()) == wanted
        ]
        return next((use for use in found if use in _READ_AS or use == "misread"), "")

    def why(self, line: str, got: str) -> str:
        """Why a line is not read as what it says."""
        use = self.use_of(line)
        if use == "misread":
            bad = self.back.craft.misread
            return "what stands for its value there cannot be read" + (
                f" (it may be {bad[0].valid})" if bad else ""
            )
        if use:
            return _READ_AS[use]
        return "it is read back as another value" if got else "reading that line does not set it"

    # -- settings ----------------------------------------------------------------------------

    def only_identity(self, name: str) -> bool:
        """Whether nothing but lines of [identity] says a name, and none could be written."""
        return not self.line_of.get(name) and _codec_of(self.tables, name) is None

    def setting(self, value: Value, again: Value | None) -> Iterator[Lost]:
        """What became of one setting, if it was lost."""
        name = value.name
        same = again is not None and again.origin == "set" and again.value == value.value
        if same:
            return
        line = self.line_of.get(name, "")
        got = again.value if again is not None and again.origin == "set" else None
        shown = "" if got is None else show(name, got)
        why = self.why(line, shown) if line else self.unwritten(value)
        yield Lost(
            name, value.line_span or self.craft.whole, show(name, value.value), line, shown, why
        )

    def unwritten(self, value: Value) -> str:
        """Why a setting is written by no line."""
        name = value.name
        reason = self.writer.reasons.get(name, "")
        codec = _codec_of(self.tables, name)
        if (
            reason.startswith("no exact number")
            and codec is not None
            and codec.decimals is not None
        ):
            return f"it needs more digits after the point than `decimals = {codec.decimals}` writes"
        if reason:
            return reason
        if codec is None:
            return "no line of the dialect's says it"
        if value.value is False:
            return "no line clears it: give `flag_off` in [shape]"
        if value.value == frozenset():
            return "an empty list has no word here: give `none`"
        return "its line has a field that nothing fills in: give it a setting or `none`"

    # -- modes -------------------------------------------------------------------------------

    def ranges(self) -> Iterator[Lost]:
        """Ranges that were not read again, and those that were never there."""
        again = list(self.back.craft.mode_ranges)
        missing: list[tuple[int, ModeRange]] = []
        for number, row in enumerate(self.craft.mode_ranges):
            twin = next((one for one in again if one[:5] == row[:5]), None)
            if twin is None:
                missing.append((number, row))
            else:
                again.remove(twin)
        for number, row in missing:
            line = self.line_of.get(f"range {number}", "")
            shown = ""
            if line:
                instead = next((one for one in again if self.text_of(one.span) == line), None)
                if instead is not None:
                    again.remove(instead)
                    shown = show_range(instead)
            why = self.why(line, shown) if line else self.no_range(row)
            yield Lost("range", row.span, show_range(row), line, shown, why)

    def links(self) -> Iterator[Lost]:
        again = [one[:3] for one in self.back.craft.mode_links]
        for number, row in enumerate(self.craft.mode_links):
            if row[:3] in again:
                again.remove(row[:3])
                continue
            line = self.line_of.get(f"link {number}", "")
            yield Lost("link", row.span, show_link(row), line, "", self.why(line, "") if line
                       else self.no_link(row))  # fmt: skip

    def text_of(self, span: Span) -> str:
        return self.back.reader.source.slice(span)

    def no_range(self, row: ModeRange) -> str:
        values = {
            "mode": row.mode, "channel": row.channel, "low": row.low_us, "high": row.high_us,
            "join": row.join,
        }  # fmt: skip
        return self.no_line("range", row.join, values)

    def no_link(self, row: ModeLink) -> str:
        return self.no_line("link", row.join, {"mode": row.mode, "follows": row.follows})

    def no_line(self, makes: str, join: str, values: Mapping[str, Any]) -> str:
        """Why no form can write a range or link."""
        forms: list[Form] = [
            form
            for form in self.tables.forms
            if form.makes == makes and ("join" in form.fields() or form.join == join)
        ]
        for form in forms:
            for name, codec in form.codecs.items():
                if name in values:
                    try:
                        encode(codec, ROLES[name], values[name])
                    except Bad as bad:
                        return f"{bad.valid} in `{form.line}`"
        if forms:
            return "its line has a field that nothing fills in: give it `none`"
        return f"no form of the dialect's makes a {makes} joined by {join}"


def _codec_of(tables: Tables, name: str) -> Codec | None:
    """How a setting is written: of its entry or of the form that sets it."""
    for entry in tables.entries:
        if entry.name and (entry.setting == name or number_in(entry.setting, name)):
            return entry.codec
    for form in tables.forms:
        for field, one in form.sets.items():
            if one == name or number_in(one, name):
                return form.codecs[field]
    return None
