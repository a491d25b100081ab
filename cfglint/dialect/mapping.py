"""A dialect's map, compiled for one firmware version: what each address means.

An *entry* says what the values at one address are.  There are four ways to stand at an address:
``phrase`` (the value follows the words), ``template`` (fields among the words of one line),
``table`` (cells under a header's words) and ``each`` (values in a row, counted by place).
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from cfglint.craft.settings import MODES, SETTINGS, Setting, setting
from cfglint.dialect.address import (
    ANY,
    GAP,
    MARKS,
    MOST_ANY,
    VARYING,
    Address,
    Segment,
    address,
    final,
    free,
    index,
    numeric,
    once,
    regex,
    said,
    segment,
    settled,
    vocabulary,
)
from cfglint.dialect.lines import pattern
from cfglint.dialect.values import PERIODS, UNITS, Codec, key
from cfglint.dump.atoms import END, GLUED, cut
from cfglint.dump.layout import Marks

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

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
    at: Address
    sets: Mapping[str, str]
    codecs: Mapping[str, Codec]
    place: tuple[str | int, ...]
    makes: Makes = "settings"
    columns: Mapping[str, Segment] = {}
    item: Segment | None = None
    join: Literal["any", "all"] = "any"
    all_where: re.Pattern[str] | None = None
    gives: Mapping[str, Any] = {}
    header: Segment | None = None
    part: bool = False
    skip_empty: bool = False
    exact: bool = False
    sure: bool = True
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

    def pattern(self, field: str, known: bool = False, after: str = "") -> str:
        """The pattern of a field's atoms; of words only those that are ``known``, if there are.

        What ends before a word ``after`` it, which is part of none of its words, need not be
        compared with these: that would read the same, and takes long to compile.
        """
        codec = self.codecs.get(field, _PLAIN)
        row = self.row_of(field)
        if field in COUNTING:
            words = [word for one in codec.words.values() for word in one]
            if codec.base == 16 and not words:
                return numeric(base=16)
            return index(words, self.exact)
        if field == "bar":
            return f"(?>(?:m[{re.escape(codec.filled)}{re.escape(codec.none[0])}].)+)"
        words = self.written(field)
        number = numeric(
            comma=codec.comma, thousands=codec.thousands, base=codec.base, units=_units(row.unit)
        )
        if codec.bits or codec.bit is not None:
            return number
        if row.kind in ("number", "count"):
            named = vocabulary(words, self.exact)
            return f"(?:{named}|{number})" if named else number
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
        if after and not any(_holds(word, after) for word in words):
            words = []
        return free(words, self.exact, MOST_OF_A_LIST if row.kind == "words" else 12)

    def letters(self, text: str) -> re.Pattern[str]:
        """The pattern, over a line's own characters, of a template in ``characters``."""
        bits = []
        for match in _SPELLED.finditer(text):
            field, blank, quoted, other = match.groups()
            if field:
                pattern = self._spelled(field)
                pattern = f"(?P<{field}>{pattern})" if field != "_" else f"(?:{pattern})"
                bits.append(("field", pattern))
            elif blank:
                bits.append(("mark", r"[ \t]+"))
            elif other == "*":
                bits.append(("any", ".*?"))
            else:
                bits.append(("mark", re.escape(quoted or other)))
        flags = re.RegexFlag(0) if self.exact else re.IGNORECASE
        return re.compile(once(rf"[ \t]*{settled(bits, '')}[ \t]*"), flags)

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
            for word in sorted(words, key=lambda one: (-len(one), one))
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
    words = "|".join(
        sorted({one for one in named if one.isalpha()}, key=lambda one: (-len(one), one))
    )
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


class Patterns:
    """The patterns of entries, each made when first asked for.

    The maps of a dialect's versions share most of their entries, and with them these.
    """

    def __init__(self, exact: bool) -> None:
        self.exact = exact
        #: What written values were found to mean, and counting numbers: by entry, field and text.
        self.decoded: dict[tuple[str, str, str], Any] = {}
        self.counted: dict[tuple[str, str, str], int | None] = {}
        self._sources: dict[tuple[str, Segment], str] = {}
        self._wholes: dict[tuple[str, int], re.Pattern[str]] = {}
        self._words: dict[tuple[str, str], Words] = {}
        self._needs: dict[tuple[str, int], frozenset[str]] = {}

    def source(self, entry: Entry | None, part: Segment) -> str:
        """The pattern of a segment of an entry."""
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
        return _compiled(f"{self.source(entry, part)}{MARKS}")

    def named(
        self, entry: Entry, part: Segment, code: str, plain: Sequence[str]
    ) -> dict[str, str] | None:
        """What a title, or a name, says of a step's fields; None if it is not that step.

        Patterns are slow to make, so words are compared first.
        """
        lead = part.lead
        if lead != tuple(plain[: len(lead)]) or (part.literal and len(lead) != len(plain)):
            return None
        if part.literal:
            return {}
        match = self.title(entry, part).fullmatch(code)
        return said(match) if match is not None else None

    def whole(self, entry: Entry, parts: Sequence[Segment]) -> re.Pattern[str]:
        """The pattern of a whole line that these last steps of an address describe."""
        name = (entry.id, len(parts))
        found = self._wholes.get(name)
        if found is None:
            steps = [self.source(entry, part) for part in parts]
            pattern = once(final(steps, f"{ANY}{{0,{MOST_ANY}}}?"))
            found = self._wholes[name] = re.compile(f"{pattern}{MARKS}")
        return found

    def needs(self, entry: Entry, parts: Sequence[Segment]) -> frozenset[str]:
        """The words without which no line is one that these last steps describe."""
        name = (entry.id, len(parts))
        found = self._needs.get(name)
        if found is None:
            pieces = [piece for part in parts for piece in part.pieces if piece[0] not in VARYING]
            found = frozenset(f"{kind[0]}{text}" for kind, text in pieces)
            self._needs[name] = found
        return found

    def characters(self, entry: Entry, part: Segment) -> re.Pattern[str]:
        """The pattern of a line's own characters."""
        name = (f"{entry.id} ", len(part.text))
        if name not in self._wholes:
            self._wholes[name] = entry.letters(part.text)
        return self._wholes[name]

    def words(self, entry: Entry, field: str) -> Words:
        """The known words of a field."""
        name = (entry.id, field)
        if name not in self._words:
            codec, row = entry.codecs[field], entry.row_of(field)
            mark = codec.divider.strip() if row.kind == "words" else None
            self._words[name] = Words(entry.written(field), mark, self.exact)
        return self._words[name]


class Words:
    """The words that a value can be, and of a set of them lists with a ``mark`` between."""

    def __init__(self, words: Sequence[str], mark: str | None, exact: bool) -> None:
        self._words = words
        self._mark = mark
        self._exact = exact
        self._pattern: re.Pattern[str] | None = None
        #: As they are compared, unless letter case counts.
        self.keys = frozenset() if exact else frozenset(map(key, words))
        # What each may begin with; one that begins with a joint may do so with others as well.
        heads = {atoms[0] for word in words if (atoms := cut(word))}
        self._joint = any(one.kind == "mark" for one in heads)
        self._heads = {f"{one.kind[0]}{one.text if exact else one.text.lower()}" for one in heads}

    def match(self, code: str, start: int, stop: int) -> int:
        """Where the words end that stand at a place of a coded row; -1 where none does."""
        end = code.find(END, start, stop)
        glued = code.find(GLUED, start, end)
        head = code[start : glued if glued >= 0 else end]
        if not self._joint and head not in self._heads:
            return -1
        if self._pattern is None:
            known = vocabulary(self._words, self._exact)
            pattern = f"(?:{known})"
            if self._mark is not None:
                mark = vocabulary([self._mark], self._exact) or GAP
                pattern = f"{pattern}(?>(?:{mark}{pattern})*)"
            self._pattern = _compiled(pattern)
        match = self._pattern.match(code, start, stop)
        return match.end() if match is not None else -1


class Map:
    """A dialect's map for one firmware version."""

    def __init__(
        self,
        entries: Sequence[Entry],
        patterns: Patterns,
        *,
        defaults: Mapping[str, Default] = {},
        kept: Sequence[Address] = (),
        ignored: Sequence[Address] = (),
        removal: re.Pattern[str] | None = None,
    ) -> None:
        self.entries = entries
        self.patterns = patterns
        self.exact = patterns.exact
        self.defaults = defaults
        self.kept = kept
        self.ignored = ignored
        self.removal = removal
        self.index: Any = None


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


def _holds(text: str, word: str) -> bool:
    """Whether a text has a word, or is more than the few words that any field can hold."""
    parts = text.replace("-", " ").replace("_", " ").split(" ")
    plain = text.isdecimal() or (len(parts) < 7 and all(map(str.isalpha, parts)))
    return not plain or word.lower() in text.lower()


def _kept_field(text: str, _known: bool, _after: str) -> str:
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


def marks_of(raw: Mapping[str, Any]) -> Marks:
    """What the text is like, from ``[marks]``."""
    return Marks(
        comment=words_of(raw.get("comment", ())),
        prompt=words_of(raw.get("prompt", ())),
        note=words_of(raw.get("note", ())),
        title=tuple(pattern(one, loose=True) for one in words_of(raw.get("title", ()))),
        end=tuple(pattern(one, loose=True) for one in words_of(raw.get("end", ()))),
        outline=raw.get("outline", False),
        tick=raw.get("tick", ""),
        box=raw.get("box", ""),
        capitals=raw.get("capitals", False),
        plain_quotes=raw.get("quotes") == "spelling",
        fill=raw.get("fill", ""),
        wrapped=raw.get("wrapped", False),
        braces=raw.get("braces", ""),
        turned=raw.get("turned", ""),
        passed=words_of(raw.get("passed", ())),
        ditto=raw.get("ditto", ""),
        join=raw.get("join", ""),
    )


def default_of(name: str, written: Any) -> Any:
    """A default as the craft holds it, from the neutral value in the dialect file."""
    kind = setting(name).kind
    if kind == "words":
        return frozenset(written)
    return float(written) if kind == "number" else str(written) if kind == "text" else written


class Compiler:
    """Makes the maps of a dialect's versions; what versions have in common is made once."""

    def __init__(self, marks: Mapping[str, Any]) -> None:
        self.marks = marks
        self.exact: bool = marks.get("capitals", False)
        self.patterns = Patterns(self.exact)
        self._addresses: dict[str, Address] = {}
        self._plain: dict[bool, Codec] = {}
        self._modes: tuple[Any, Codec] | None = None
        # The entries of a table of the file, which is kept so that its number stays its own.
        self._made: dict[tuple[str | int, ...], tuple[Any, Any, list[Entry]]] = {}
        self._ids: set[str] = set()

    def map(self, raw: Mapping[str, Any]) -> Map:
        """The map of a version's plain tables (see :mod:`cfglint.dialect.mapfile`)."""
        modes = {"words": raw["modes"], "unsure": raw["unsure_modes"], "own": raw["own_modes"]}
        entries: list[Entry] = []
        for name, row in raw["map"].items():
            entries += self._entries(("map", name), row, None)
        for number, row in enumerate(raw["rows"]):
            entries += self._entries(("rows", number), row, modes)
        entries += self._given(raw)
        marks = self.marks
        removal = marks.get("removal")
        passed = (*words_of(marks.get("ignored", ())), *words_of(marks.get("save", ())))
        return Map(
            entries,
            self.patterns,
            defaults={
                name: Default(
                    default_of(name, row["default"]), row.get("count", 0), row.get("sure", True)
                )
                for name, row in raw["map"].items()
                if "default" in row
            },
            kept=[self.address(text) for text in raw["kept"]],
            ignored=[self.address(text) for text in passed],
            removal=pattern(removal, loose=True) if removal else None,
        )

    def address(self, text: str) -> Address:
        """An address, made once."""
        found = self._addresses.get(text)
        if found is None:
            found = self._addresses[text] = address(text, self.exact)
        return found

    def codec(self, raw: Mapping[str, Any], row: Setting) -> Codec:
        """The codec of a field; most say nothing, and have the dialect's own habits."""
        if not _OF_A_CODEC.isdisjoint(raw):
            return codec_of(raw, self.marks, row)
        flag = row.kind == "flag"
        if flag not in self._plain:
            self._plain[flag] = codec_of({}, self.marks, row)
        return self._plain[flag]

    def _entries(
        self, place: tuple[str | int, ...], row: Mapping[str, Any], modes: Any
    ) -> list[Entry]:
        key = (*place, id(row))
        made = self._made.get(key)
        if made is None or made[1] != modes:
            every = list(
                self._mapped(place, row) if modes is None else self._rows(place, row, modes)
            )
            made = self._made[key] = (row, modes, every)
        return made[2]

    def _entry(
        self,
        name: str,
        way: Way,
        text: str,
        sets: Mapping[str, str],
        codecs: Mapping[str, Codec],
        place: tuple[str | int, ...],
        **more: Any,
    ) -> Entry:
        # Another version may have another entry of this name, and its own patterns.
        while name in self._ids:
            name += "'"
        self._ids.add(name)
        at = self.address(text)
        return Entry(name, way, at, sets, codecs, place, exact=self.exact, **more)

    def _mapped(self, place: tuple[str | int, ...], row: Mapping[str, Any]) -> Iterator[Entry]:
        """The entries of one line of ``[map]``: one for each address."""
        name = str(place[1])
        codecs = {
            "value": self.codec(row, setting(name)),
            "N": self.codec(row.get("N", _NOTHING), _COUNT),
        }
        more: dict[str, Any] = {}
        way: Way = "each" if row.get("each") else "phrase"
        if "column" in row:
            way, more["columns"] = "table", {"value": segment(row["column"], self.exact)}
            if row.get("header"):
                more["header"] = segment(row["header"], self.exact)
        for text in words_of(row.get("at", ())):
            its = "template" if way == "phrase" and _VALUE in text else way
            sets = {"value": name}
            yield self._entry(
                f"{name}@{text}", its, text, sets, codecs, place, sure=row.get("sure", True), **more
            )

    def _given(self, raw: Mapping[str, Any]) -> Iterator[Entry]:
        """The numbers of the dump that others are made with; one may be named by its address."""
        given = dict(raw["given"])
        for row in (*raw["map"].values(), *raw["rows"]):
            for part in (row, *row.get("fields", {}).values()):
                for one in (part.get("scale"), part.get("step"), part.get("offset")):
                    # One that is a field of the same row is no address.
                    if isinstance(one, str) and one not in {*row.get("sets", ()), *PARTS}:
                        given.setdefault(one, {"at": one})
        for name, row in given.items():
            codecs = {"value": self.codec(row, _GIVEN)}
            for text in words_of(row.get("at", ())):
                yield self._entry(
                    f"given.{name}@{text}",
                    "template" if _VALUE in text else "phrase",
                    text,
                    {"value": name},
                    codecs,
                    ("given", name),
                    makes="given",
                )

    def _codecs(self, row: Mapping[str, Any], modes: Mapping[str, Any]) -> dict[str, Codec]:
        """How each field of a row is written, and every part that a range could have."""
        sets, fields = row.get("sets", {}), row.get("fields", {})
        # What a row says of its numbers holds for all of its fields.
        common = {name: row[name] for name in ("base", "scale", "offset", "unit") if name in row}
        if self._modes is None or self._modes[0] != modes:
            self._modes = modes, self.codec(modes, _MODE)
        codecs = {}
        for field in {*sets, *PARTS, "N", "P", *fields}:
            described = setting(sets[field]) if field in sets else PARTS.get(field, _COUNT)
            given = {**common, **fields.get(field, {})}
            if field in COUNTING or described.kind not in ("number", "text"):
                given.pop("scale", None)
                given.pop("offset", None)
            if field == "bar":
                given = {"none": given.get("empty", "."), **given}
            elif field in ("mode", "follows") and "words" not in given:
                if not given:
                    codecs[field] = self._modes[1]
                    continue
                given = {**modes, **given}
            codecs[field] = self.codec(given, described)
        return codecs

    def _rows(
        self, place: tuple[str | int, ...], row: Mapping[str, Any], modes: Mapping[str, Any]
    ) -> Iterator[Entry]:
        """The entries of one ``[[rows]]``: a template, a table, a list of items, or named parts."""
        sets, codecs, exact = row.get("sets", {}), self._codecs(row, modes), self.exact
        where = row.get("all_where", "")
        common = {
            "makes": row.get("makes", "settings"),
            "join": row.get("join", "any"),
            "skip_empty": row.get("skip_empty", False),
            "characters": row.get("characters", False),
            "sure": row.get("sure", True),
            "all_where": _standing(where) if where else None,
            "gives": {name: default_of(name, one) for name, one in row.get("gives", {}).items()},
        }

        def made(what: str, text: str, way: Way, **more: Any) -> Entry:
            name = f"rows{place[1]}.{what}@{text}"
            return self._entry(name, way, text, sets, codecs, place, **common, **more)

        for text in words_of(row["at"]):
            if "columns" in row:
                # A cell of several parts is named by their form: `{low}-{high}`.
                form = next((field for field in row["columns"] if "{" in field), None)
                columns = {
                    "" if field == form else field: segment(head, exact)
                    for field, head in row["columns"].items()
                }
                head = segment(row["header"], exact) if "header" in row else None
                item = segment(form, exact) if form is not None else None
                yield made("table", text, "table", columns=columns, header=head, item=item)
            elif "each" in row:
                for one in words_of(row["each"]):
                    yield made(f"each {one}", text, "each", item=segment(one, exact))
            elif "parts" in row:
                part = common["makes"] != "settings"
                for field, phrase in row["parts"].items():
                    for one in words_of(phrase):
                        at = f"{text} > {one}" if one else text
                        way: Way = "template" if _VALUE in at else "phrase"
                        yield made(field, at, way, part=part)._replace(
                            sets={"value": sets.get(field, field)},
                            codecs={**codecs, "value": codecs[field]},
                        )
            else:
                yield made("line", text, "template")


_NOTHING: Mapping[str, Any] = {}
_VALUE = "{value}"
#: The keys of a table that say how a field's values are written.
_OF_A_CODEC = {
    "words", "step", "scale", "offset", "over", "first", "bits", "bit", "own", "none", "list",
    "base", "unit", "decimals", "quoted", "named", "filled", "points", "places", "sure", "unsure",
}  # fmt: skip


def _standing(text: str) -> re.Pattern[str]:
    """The pattern of a text as it stands in a line, not in the midst of a word."""
    begin = r"(?<![^\W_])" if text[:1].isalnum() else ""
    end = r"(?![^\W_])" if text[-1:].isalnum() else ""
    return re.compile(begin + re.escape(text) + end)


__all__ = ["PARTS", "SETTINGS", "Compiler", "Default", "Entry", "Map", "marks_of"]
