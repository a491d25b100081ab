"""A dialect's map, compiled for one firmware version: what each address means.

An *entry* says what the values at one address are.  There are four ways to stand at an address:
``phrase`` (the value follows the words), ``template`` (fields among the words of one line),
``table`` (cells under a header's words) and ``each`` (values in a row, counted by place).
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft.settings import MODES, SETTINGS, Setting, setting
from cfglint.dialect.address import (
    ANY,
    GAP,
    MOST_ANY,
    Address,
    Segment,
    address,
    free,
    index,
    numeric,
    once,
    regex,
    segment,
    vocabulary,
)
from cfglint.dialect.values import PERIODS, UNITS, Codec, key
from cfglint.dump.layout import Marks
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

#: A list of every function that a port can have has no more atoms than this.
MOST_OF_A_LIST = 60

Way = Literal["phrase", "template", "table", "each"]
#: ``join`` says how a mode's ranges are joined, ``given`` gives a number that others are made with.
Makes = Literal["settings", "range", "link", "join", "given"]

#: What a field of a mode range or link is, as a setting would be described.
_MODE = Setting("mode", "word", "", tuple(MODES), None, None, "a mode")
_PULSE = Setting("pulse", "number", "µs", (), 0, 3000, "a pulse")
PARTS: dict[str, Setting] = {
    "mode": _MODE,
    "follows": _MODE,
    "channel": Setting("channel", "count", "", (), 1, 99, "a channel"),
    "low": _PULSE,
    "high": _PULSE,
    "centre": _PULSE,
    "half": _PULSE,
    "width": _PULSE,
    "join": Setting("join", "word", "", ("any", "all"), None, None, "any or all"),
    "row": Setting("row", "count", "", (), 0, 9999, "the number of the line with the other mode"),
    "bar": Setting("bar", "text", "", (), None, None, "a range drawn as a bar"),
}
_GIVEN = Setting("given", "number", "", (), -1e9, 1e9, "a number that others are made with")
#: Fields that count, and so may be letters.
COUNTING = ("N", "P", "channel")


class Entry(NamedTuple):
    """One entry of the map.

    ``sets`` maps fields to neutral settings (``value`` for a phrase's); for mode ranges and links
    (``makes``) the fields are those of :data:`PARTS`.  ``columns`` maps fields to what stands in
    the header over them, and ``header`` what the header's line begins with.  ``gives`` are settings
    that a line says by being there; a ``part`` is one of a range or link over several lines.
    With ``skip_empty`` a range that ends where it starts is an unused slot.  Of a template in
    ``characters`` every mark counts, and a field may begin or end in the midst of a word.
    ``place`` is where the entry stands in the dialect file.
    """

    id: str
    way: Way
    makes: Makes
    at: Address
    sets: Mapping[str, str]
    codecs: Mapping[str, Codec]
    columns: Mapping[str, Segment]
    item: Segment | None
    join: Literal["any", "all"]
    all_where: re.Pattern[str] | None
    gives: Mapping[str, Any]
    header: Segment | None
    part: bool
    skip_empty: bool
    exact: bool
    sure: bool
    place: tuple[str | int, ...]
    characters: bool = False

    def row_of(self, field: str) -> Setting:
        """The neutral description of a field's values."""
        if self.makes == "given":
            return _GIVEN
        if field in COUNTING[:2]:
            return _COUNT
        if self.makes != "settings":
            return PARTS.get(self.sets.get(field, field), _OTHER)
        return setting(self.sets[field]) if field in self.sets else _OTHER

    def written(self, field: str) -> list[str]:
        """The words that a field's values can be written in, as far as they are known."""
        codec = self.codecs.get(field, _PLAIN)
        words = [word for one in codec.words.values() for word in one]
        row = self.row_of(field)
        known = words or [*row.words, *row.texts]
        return [*known, *codec.none, *codec.own]

    def pattern(self, field: str, known: bool = False) -> str:
        """The pattern of a field's atoms; of words only those that are ``known``, if there are."""
        codec = self.codecs.get(field, _PLAIN)
        row = self.row_of(field)
        if field in COUNTING:
            words = [word for one in codec.words.values() for word in one]
            if codec.base == 16 and not words:
                return numeric(base=16)
            return index(words, self.exact)
        if field == "bar":
            return f"(?:m[{re.escape(codec.filled)}{re.escape(codec.none[0])}][\x1d\x1e])++"
        words = self.written(field)
        number = numeric(
            comma=codec.comma, thousands=codec.thousands, base=codec.base, units=_units(row.unit)
        )
        if codec.bits or codec.bit is not None:
            return number
        if row.kind in ("number", "count"):
            return (
                f"(?:{vocabulary(words, self.exact)}|{number})"
                if vocabulary(words, self.exact)
                else number
            )
        named = vocabulary(words, self.exact)
        if known and named:
            return f"(?:{named}|{number})" if row.texts else f"(?:{named})"
        if row.texts:
            return f"(?:{named}|{number}|{free(())})" if named else f"(?:{number}|{free(())})"
        beside = len(self.at.fields) > 1 and len(codec.words) == 1
        if row.kind == "flag" and named and (beside or not self.at.segments[-1].weight):
            # A row that is nothing but the flag's own words, or one that names it among others:
            # where `one wire` stands, `inverted` does not.
            return f"(?:{named})"
        return free(words, self.exact, MOST_OF_A_LIST if row.kind == "words" else 12)

    def letters(self, text: str) -> re.Pattern[str]:
        """The pattern, over a line's own characters, of a template in ``characters``."""
        bits = []
        for match in _SPELLED.finditer(text):
            field, blank, quoted, other = match.groups()
            if field:
                pattern = self._spelled(field)
                bits.append(f"(?P<{field}>{pattern})" if field != "_" else f"(?:{pattern})")
            elif blank:
                bits.append(r"[ \t]+")
            else:
                bits.append(".*?" if other == "*" else re.escape(quoted or other))
        flags = re.RegexFlag(0) if self.exact else re.IGNORECASE
        return re.compile(once(r"[ \t]*" + "".join(bits) + r"[ \t]*"), flags)

    def _spelled(self, field: str) -> str:
        """The characters that a field may have."""
        codec, row = self.codecs.get(field, _PLAIN), self.row_of(field)
        if codec.places:
            return rf"\S+(?:[ \t]+\S+){{{len(codec.places) - 1}}}"
        if field == "bar":
            return f"[{re.escape(codec.filled + codec.none[0])}]+"
        counts = field in COUNTING or row.kind in ("number", "count") or bool(codec.bits)
        words = [word for one in codec.words.values() for word in one] if counts else []
        words = words or ([] if counts else self.written(field))
        known = "|".join(
            r"[ \t]+".join(re.escape(part) for part in word.split())
            for word in sorted(words, key=len, reverse=True)
        )
        number = "[0-9A-Fa-f]+" if codec.base == 16 else "[+\\-\u2212]?[0-9]+(?:[.,][0-9]+)?"
        if counts or row.texts or codec.bit is not None:
            return f"{known}|{number}" if known else number
        if known and row.kind == "words":
            mark = rf"[ \t]*{re.escape(codec.divider.strip())}[ \t]*"
            return f"(?:{known})(?:{mark}(?:{known}))*"
        return known or r"\S(?:.*?\S)?"


#: What a template in characters is made of: a field, blanks, a mark in quotes, any other sign.
_SPELLED = re.compile(r"\{([A-Za-z_]+)\}|([ \t]+)|'([^\w\s])'|(.)")


@cache
def _units(unit: str) -> str:
    """The pattern of a unit behind a number."""
    named = {*UNITS.get(unit, ())} | (set(PERIODS) if unit == "Hz" else set())
    words = "|".join(sorted({one for one in named if one.isalpha()}, key=len, reverse=True))
    return f"(?:m[%‰]|w(?:{words}))" if words else "m[%‰]"


_PLAIN = Codec()
#: A field that nothing is made of.
_OTHER = Setting("other", "text", "", (), None, None, "anything")
_COUNT = Setting("N", "count", "", (), 0, 9999, "a number that counts")


class Default(NamedTuple):
    """What holds when no line says: a value, and how many members a family has."""

    value: Any
    many: int
    sure: bool


class Map:
    """A dialect's map for one firmware version (``""``: not known)."""

    def __init__(
        self,
        *,
        version: str,
        entries: list[Entry],
        defaults: Mapping[str, Default],
        kept: list[Address],
        ignored: list[Address],
        removal: re.Pattern[str] | None,
        profiles: Mapping[str, Any],
        said: Mapping[str, Any],
        exact: bool = False,
    ) -> None:
        self.version = version
        self.entries = entries
        self.defaults = defaults
        self.kept = kept
        self.ignored = ignored
        self.removal = removal
        self.profiles = profiles
        self.traits = said
        self.exact = exact
        self.index: Any = None
        #: What written values were found to mean, and counting numbers: by entry, field and text.
        self.decoded: dict[tuple[str, str, str], Any] = {}
        self.counted: dict[tuple[str, str, str], int | None] = {}
        self._sources: dict[tuple[str, Segment], str] = {}
        self._wholes: dict[tuple[str, int], re.Pattern[str]] = {}
        self._words: dict[tuple[str, str], re.Pattern[str] | None] = {}

    def source(self, entry: Entry | None, part: Segment) -> str:
        """The pattern of a segment of an entry, made when first asked for."""
        name = (entry.id if entry else "", part)
        found = self._sources.get(name)
        if found is None:
            field = entry.pattern if entry else _kept_field
            found = self._sources[name] = GAP + regex(part, field)
        return found

    def compiled(self, entry: Entry | None, part: Segment) -> re.Pattern[str]:
        """The compiled pattern of a segment of an entry."""
        return _compiled(self.source(entry, part))

    def title(self, entry: Entry | None, part: Segment) -> re.Pattern[str]:
        """The pattern of a title that is a step of an address."""
        return _compiled(f"{self.source(entry, part)}{GAP[:-1]}+")

    def whole(self, entry: Entry, parts: Sequence[Segment]) -> re.Pattern[str]:
        """The pattern of a whole line that these last steps of an address describe."""
        name = (entry.id, len(parts))
        found = self._wholes.get(name)
        if found is None:
            between = f"{ANY}{{0,{MOST_ANY}}}?"
            pattern = once(between.join(self.source(entry, part) for part in parts))
            found = self._wholes[name] = re.compile(f"{pattern}{GAP[:-1]}+")
        return found

    def characters(self, entry: Entry, part: Segment) -> re.Pattern[str]:
        """The pattern of a line's own characters, made when first asked for."""
        name = (f"{entry.id} ", len(part.text))
        if name not in self._wholes:
            self._wholes[name] = entry.letters(part.text)
        return self._wholes[name]

    def words(self, entry: Entry, field: str) -> re.Pattern[str] | None:
        """The pattern of a field's known words; of a set, a list of them."""
        name = (entry.id, field)
        if name not in self._words:
            known = vocabulary(entry.written(field), self.exact)
            pattern = f"(?:{known})"
            row, codec = entry.row_of(field), entry.codecs[field]
            if known and row.kind == "words":
                mark = vocabulary([codec.divider.strip()], self.exact) or GAP
                pattern = f"{pattern}(?:{mark}{pattern})*+"
            self._words[name] = _compiled(pattern) if known else None
        return self._words[name]


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


def _kept_field(text: str, _known: bool) -> str:
    return index(()) if text in COUNTING else free(())


def words_of(raw: Any) -> tuple[str, ...]:
    """One text or a list of them."""
    return (str(raw),) if isinstance(raw, str | int | float) else tuple(str(one) for one in raw)


def codec_of(raw: Mapping[str, Any], marks: Mapping[str, Any], row: Setting) -> Codec:
    """A codec from an entry's keys, over the dialect's own habits."""
    words = {str(name): words_of(text) for name, text in raw.get("words", {}).items()}
    if row.kind == "flag" and not words:
        words = {"yes": words_of(marks.get("yes", "yes")), "no": words_of(marks.get("no", "no"))}
    step, offset = raw.get("step", raw.get("scale", 1)), raw.get("offset", 0)
    given = [
        (name, one) for name, one in (("scale", step), ("offset", offset)) if isinstance(one, str)
    ]
    return Codec(
        words=words,
        back={key(one): name for name, every in words.items() for one in every},
        scale=1 if isinstance(step, str) else step,
        offset=0 if isinstance(offset, str) else offset,
        over=raw.get("over", 0),
        first=raw.get("first"),
        bits=raw.get("bits", {}),
        bit=raw.get("bit"),
        own=frozenset(key(one) for one in words_of(raw.get("own", ()))),
        empty=frozenset(key(one) for one in words_of(raw.get("none", marks.get("none", ())))),
        divider=raw.get("list", marks.get("list", ",")),
        none=words_of(raw.get("none", marks.get("none", ()))),
        base=raw.get("base", marks.get("base", 10)),
        comma=marks.get("decimal", ".") == ",",
        thousands=marks.get("thousands", ""),
        unit=raw.get("unit", ""),
        decimals=raw.get("decimals"),
        quoted=raw.get("quoted", False),
        named=raw.get("named"),
        filled=raw.get("filled", ""),
        points=raw.get("points", False),
        places=words_of(raw.get("places", ())),
        given=tuple(given),
        sure=raw.get("sure", True),
        unsure=frozenset(raw.get("unsure", ())),
    )


def line_pattern(text: str, field: str = "title") -> re.Pattern[str]:
    """A pattern over a line's own characters, from ``begin {title}``: blanks are loose."""
    parts = re.split(r"\{([a-z_]+)\}", text)
    bits = []
    for place, part in enumerate(parts):
        if place % 2:
            bits.append(f"(?P<{part}>\\S|\\S.*?\\S)")
            continue
        words = re.split(r"[ \t]+", part)
        bits.append(r"[ \t]+".join(re.escape(word) for word in words))
        # A word ends where a blank says so (`V {title}` is no `VIDEO`); a mark needs none.
        if len(words) > 1 and not words[-1] and not words[-2][-1:].isalnum():
            bits[-1] = bits[-1].removesuffix("+") + "*"
    return re.compile(r"[ \t]*" + "".join(bits) + r"[ \t]*")


def marks_of(raw: Mapping[str, Any]) -> Marks:
    """What the text is like, from ``[marks]``."""
    return Marks(
        comment=words_of(raw.get("comment", ())),
        prompt=words_of(raw.get("prompt", ())),
        note=words_of(raw.get("note", ())),
        title=tuple(line_pattern(one) for one in words_of(raw.get("title", ()))),
        end=tuple(line_pattern(one) for one in words_of(raw.get("end", ()))),
        outline=raw.get("outline", False),
        tick=raw.get("tick", ""),
        box=raw.get("box", ""),
        capitals=raw.get("capitals", False),
        plain_quotes=raw.get("quotes") == "spelling",
        fill=raw.get("fill", ""),
        wrapped=raw.get("wrapped", False),
        braces=raw.get("braces", False),
        join=raw.get("join", ""),
    )


def default_of(name: str, written: Any) -> Any:
    """A default as the craft holds it, from the neutral value in the dialect file."""
    kind = setting(name).kind
    if kind == "words":
        return frozenset(written)
    return float(written) if kind == "number" else str(written) if kind == "text" else written


def _entries(raw: Mapping[str, Any], marks: Mapping[str, Any]) -> Iterable[Entry]:
    modes = {"words": raw["modes"], "unsure": raw["unsure_modes"], "own": raw["own_modes"]}
    for name, row in raw["map"].items():
        yield from _map_entries(name, {"at": row} if isinstance(row, str) else row, marks)
    for number, row in enumerate(raw["rows"]):
        yield from _Rows(row, number, marks, modes).entries()
    exact = marks.get("capitals", False)
    given = dict(raw.get("given", {}))
    # A scale or offset may also be named by its address itself.
    for row in (*raw["map"].values(), *raw["rows"]):
        if not isinstance(row, str):
            # One that is a field of the same row is no address.
            known = {*given, *row.get("sets", {}), *PARTS}
            for part in (row, *row.get("fields", {}).values()):
                named = (part.get(what) for what in ("scale", "step", "offset"))
                given.update(
                    (one, one) for one in named if isinstance(one, str) and one not in known
                )
    for name, one in given.items():
        row = {"at": one} if isinstance(one, str) else one
        for text in words_of(row.get("at", ())):
            at = address(text, exact)
            way: Way = "template" if "value" in at.fields else "phrase"
            codecs = {"value": codec_of(row, marks, _GIVEN)}
            yield _entry(f"given.{name}@{text}", way, at, {"value": name}, codecs, ("given", name))


def _entry(
    name: str,
    way: Way,
    at: Address,
    sets: Mapping[str, str],
    codecs: Mapping[str, Codec],
    place: tuple[str | int, ...],
    sure: bool = True,
) -> Entry:
    return Entry(
        id=name, way=way, makes="given" if place[0] == "given" else "settings", at=at, sets=sets,
        codecs=codecs, columns={}, item=None, join="any", all_where=None, gives={},
        header=None, part=False, skip_empty=False, exact=False, sure=sure,
        place=place,
    )  # fmt: skip


def _map_entries(name: str, row: Mapping[str, Any], marks: Mapping[str, Any]) -> Iterable[Entry]:
    """The entries of one line of ``[map]``: one for each address."""
    codecs = {"value": codec_of(row, marks, setting(name))}
    codecs["N"] = codec_of(row.get("N", {}), marks, _COUNT)
    exact = marks.get("capitals", False)
    for text in words_of(row.get("at", ())):
        at = address(text, exact)
        way: Way = "phrase"
        if "column" in row:
            way = "table"
        elif row.get("each"):
            way = "each"
        elif "value" in at.fields:
            way = "template"
        made = _entry(
            f"{name}@{text}", way, at, {"value": name}, codecs, ("map", name), row.get("sure", True)
        )
        made = made._replace(exact=exact)
        if way == "table":
            columns, header = {"value": segment(row["column"], exact)}, row.get("header")
            made = made._replace(columns=columns, header=segment(header, exact) if header else None)
        yield made


class _Rows:
    """The entries of one ``[[rows]]``: a template, a table, a list of items, or named parts."""

    def __init__(
        self,
        row: Mapping[str, Any],
        number: int,
        marks: Mapping[str, Any],
        modes: Mapping[str, Any],
    ) -> None:
        self.row = row
        self.exact = marks.get("capitals", False)
        self.number = number
        self.sets = row.get("sets", {})
        self.codecs = {}
        fields = row.get("fields", {})
        # What a row says of its numbers holds for all of its fields.
        common = {name: row[name] for name in ("base", "scale", "offset", "unit") if name in row}
        for field in {*self.sets, *PARTS, "N", "P", *fields}:
            named = self.sets.get(field)
            described = setting(named) if named else PARTS.get(field, _COUNT)
            given = {**common, **fields.get(field, {})}
            if field in ("mode", "follows") and "words" not in given:
                given = {**modes, **given}
            if field == "bar":
                given = {"none": given.get("empty", "."), **given}
            if field in COUNTING or described.kind not in ("number", "text"):
                given = {
                    name: one for name, one in given.items() if name not in ("scale", "offset")
                }
            self.codecs[field] = codec_of(given, marks, described)

    def make(self, what: str, text: str, way: Way, **more: Any) -> Entry:
        """One entry at an address."""
        row = self.row
        where = row.get("all_where", "")
        whole = {
            "columns": {},
            "item": None,
            "makes": row.get("makes", "settings"),
            "join": row.get("join", "any"),
            "skip_empty": row.get("skip_empty", False),
            "characters": row.get("characters", False),
            "all_where": _standing(where) if where else None,
            "gives": {
                name: default_of(name, value) for name, value in row.get("gives", {}).items()
            },
        }
        place = ("rows", self.number)
        name = f"rows{self.number}.{what}@{text}"
        made = _entry(
            name,
            way,
            address(text, self.exact),
            self.sets,
            self.codecs,
            place,
            row.get("sure", True),
        )
        return made._replace(exact=self.exact, **{**whole, **more})

    def entries(self) -> Iterable[Entry]:
        """Every entry of the row."""
        row = self.row
        for text in words_of(row["at"]):
            if "columns" in row:
                # A cell of several parts is named by their form: `{low}-{high}`.
                form = next((field for field in row["columns"] if "{" in field), None)
                columns = {
                    "" if field == form else field: segment(head, self.exact)
                    for field, head in row["columns"].items()
                }
                yield self.make(
                    "table", text, "table", columns=columns,
                    header=segment(row["header"], self.exact) if "header" in row else None,
                    item=segment(form, self.exact) if form is not None else None,
                )  # fmt: skip
            elif "each" in row:
                for one in words_of(row["each"]):
                    yield self.make(f"each {one}", text, "each", item=segment(one, self.exact))
            elif "parts" in row:
                yield from self._parts(text, row["parts"])
            else:
                yield self.make("line", text, "template")

    def _parts(self, text: str, parts: Mapping[str, Any]) -> Iterable[Entry]:
        row = self.row
        for field, phrase in parts.items():
            for one in words_of(phrase):
                at = f"{text} > {one}" if one else text
                sets = {"value": self.sets.get(field, field)}
                codecs = {**self.codecs, "value": self.codecs[field]}
                way: Way = "template" if "value" in address(at).fields else "phrase"
                part = row.get("makes", "settings") != "settings"
                yield self.make(field, at, way, sets=sets, codecs=codecs, part=part)


def _standing(text: str) -> re.Pattern[str]:
    """The pattern of a text as it stands in a line, not in the midst of a word."""
    begin = r"(?<![^\W_])" if text[:1].isalnum() else ""
    end = r"(?![^\W_])" if text[-1:].isalnum() else ""
    return re.compile(begin + re.escape(text) + end)


def compile_map(raw: Mapping[str, Any], marks: Mapping[str, Any], version: str) -> Map:
    """The map of a dialect file's plain tables (see :mod:`cfglint.dialect.mapfile`)."""
    defaults = {}
    for name, row in raw["map"].items():
        if not isinstance(row, str) and "default" in row:
            defaults[name] = Default(
                default_of(name, row["default"]), row.get("count", 0), row.get("sure", True)
            )
    removal = marks.get("removal")
    exact = marks.get("capitals", False)
    return Map(
        version=version,
        entries=list(_entries(raw, marks)),
        defaults=defaults,
        kept=[address(text, exact) for text in raw["kept"]],
        ignored=[
            address(text, exact)
            for text in (*words_of(marks.get("ignored", ())), *words_of(marks.get("save", ())))
        ],
        removal=line_pattern(removal) if removal else None,
        profiles=raw["profiles"],
        said=raw["traits"],
        exact=exact,
    )


__all__ = ["PARTS", "SETTINGS", "Default", "Entry", "Map", "compile_map", "marks_of"]
