"""A dialect's map, compiled for one firmware version: what each address means.

An *entry* says what the values at one address are.  There are four ways to stand at an address:
``phrase`` (the value follows the words), ``template`` (fields among the words of one line),
``table`` (cells under a header's words) and ``each`` (values in a row, counted by place).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft.settings import MODES, SETTINGS, Setting, setting
from cfglint.dialect.address import (
    GAP,
    HEX,
    NUMERIC,
    Address,
    Segment,
    address,
    free,
    index,
    regex,
    segment,
)
from cfglint.dialect.values import Codec, key
from cfglint.dump.layout import Marks
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

#: A list of every function that a port can have has no more atoms than this.
MOST_OF_A_LIST = 60

Way = Literal["phrase", "template", "table", "each"]
Makes = Literal["settings", "range", "link"]

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
}
#: Fields that count, and so may be letters.
COUNTING = ("N", "P", "channel")


class Entry(NamedTuple):
    """One entry of the map.

    ``sets`` maps fields to neutral settings (``value`` for a phrase's); for mode ranges and links
    (``makes``) the fields are those of :data:`PARTS`.  ``columns`` maps fields to what stands in
    the header over them.  ``place`` is where the entry stands in the dialect file.
    With ``skip_empty`` a range that ends where it starts is an unused slot.
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
    all_where: str
    skip_empty: bool
    sure: bool
    place: tuple[str | int, ...]

    def row_of(self, field: str) -> Setting:
        """The neutral description of a field's values."""
        if self.makes != "settings":
            return PARTS.get(self.sets.get(field, field), _COUNT)
        return setting(self.sets[field]) if field in self.sets else _COUNT

    def pattern(self, field: str) -> str:
        """The pattern of a field's atoms."""
        codec = self.codecs.get(field, _PLAIN)
        if field in COUNTING:
            return index({word: 1 for one in codec.words.values() for word in one})
        row = self.row_of(field)
        written = [word for one in codec.words.values() for word in one]
        if codec.bits or codec.bit is not None or (row.kind in ("number", "count") and not written):
            return NUMERIC if codec.base == 10 else HEX
        if row.texts:
            return f"(?:{free(written or row.texts)}|{NUMERIC})"
        words = written or list(row.words)
        most = MOST_OF_A_LIST if row.kind == "words" else 12
        return free([*words, *codec.none, *codec.own], most)


_PLAIN = Codec()
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
    ) -> None:
        self.version = version
        self.entries = entries
        self.defaults = defaults
        self.kept = kept
        self.ignored = ignored
        self.removal = removal
        self.profiles = profiles
        self.traits = said
        self._compiled: dict[tuple[str, Segment], re.Pattern[str]] = {}

    def compiled(self, entry: Entry | None, part: Segment) -> re.Pattern[str]:
        """The pattern of a segment of an entry, made when first asked for."""
        name = (entry.id if entry else "", part)
        found = self._compiled.get(name)
        if found is None:
            field = entry.pattern if entry else (lambda text: index({}) if text in COUNTING else free(()))
            found = self._compiled[name] = re.compile(GAP + regex(part, field))
        return found


def words_of(raw: Any) -> tuple[str, ...]:
    """One text or a list of them."""
    return (str(raw),) if isinstance(raw, str | int | float) else tuple(str(one) for one in raw)


def codec_of(raw: Mapping[str, Any], marks: Mapping[str, Any], row: Setting) -> Codec:
    """A codec from an entry's keys, over the dialect's own habits."""
    words = {str(name): words_of(text) for name, text in raw.get("words", {}).items()}
    if row.kind == "flag" and not words:
        words = {"yes": words_of(marks.get("yes", "yes")), "no": words_of(marks.get("no", "no"))}
    step = raw.get("step", raw.get("scale", 1))
    return Codec(
        words=words,
        back={key(one): name for name, every in words.items() for one in every},
        scale=step,
        offset=raw.get("offset", 0),
        over=raw.get("over", 0),
        first=raw.get("first"),
        bits=raw.get("bits", {}),
        bit=raw.get("bit"),
        own=frozenset(key(one) for one in words_of(raw.get("own", ()))),
        divider=raw.get("list", marks.get("list", ",")),
        none=words_of(raw.get("none", marks.get("none", ()))),
        base=raw.get("base", 10),
        comma=marks.get("decimal", ".") == ",",
        unit=raw.get("unit", ""),
        decimals=raw.get("decimals"),
        quoted=raw.get("quoted", False),
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
        else:
            bits.append(r"[ \t]+".join(re.escape(word) for word in re.split(r"[ \t]+", part)))
    return re.compile(r"[ \t]*" + "".join(bits).replace(r"[ \t]+(", r"[ \t]*(") + r"[ \t]*")


def marks_of(raw: Mapping[str, Any]) -> Marks:
    """What the text is like, from ``[marks]``."""
    return Marks(
        comment=words_of(raw.get("comment", ())),
        prompt=words_of(raw.get("prompt", ())),
        note=words_of(raw.get("note", ())),
        title=tuple(line_pattern(one) for one in words_of(raw.get("title", ()))),
        end=tuple(line_pattern(one) for one in words_of(raw.get("end", ()))),
        outline=raw.get("outline", False),
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
        row = {"at": row} if isinstance(row, str) else row
        for text in words_of(row.get("at", ())):
            at = address(text)
            way: Way = "phrase"
            columns = {}
            if "column" in row:
                way, columns = "table", {"value": segment(row["column"])}
            elif row.get("each"):
                way = "each"
            elif "value" in at.fields:
                way = "template"
            codecs = {"value": codec_of(row, marks, setting(name))}
            codecs["N"] = codec_of(row.get("N", {}), marks, _COUNT)
            yield Entry(
                id=f"{name}@{text}", way=way, makes="settings", at=at, sets={"value": name},
                codecs=codecs, columns=columns, item=None, join="any", all_where="", skip_empty=False,
                sure=row.get("sure", True), place=("map", name),
            )
    for number, row in enumerate(raw["rows"]):
        yield from _row_entries(row, number, marks, modes)


def _row_entries(
    row: Mapping[str, Any], number: int, marks: Mapping[str, Any], modes: Mapping[str, Any]
) -> Iterable[Entry]:
    """The entries of one ``[[rows]]``: a template, a table, a list of items, or named parts."""
    makes: Makes = row.get("makes", "settings")
    sets = row.get("sets", {})
    fields = row.get("fields", {})
    codecs = {}
    for field in {*sets, *PARTS, "N", "P", *fields}:
        described = setting(sets[field]) if field in sets else PARTS.get(field, _COUNT)
        given = fields.get(field, {})
        if field in ("mode", "follows") and "words" not in given:
            given = {**modes, **given}
        codecs[field] = codec_of(given, marks, described)
    def make(part: str, text: str, way: Way, **more: Any) -> Entry:
        whole = {"columns": {}, "item": None, **more}
        return Entry(
            id=f"rows{number}.{part}@{text}", way=way, makes=makes, at=address(text), sets=sets,
            codecs=codecs, join=row.get("join", "any"), all_where=row.get("all_where", ""),
            skip_empty=row.get("skip_empty", False), sure=row.get("sure", True),
            place=("rows", number), **whole,
        )

    for text in words_of(row["at"]):
        if "columns" in row:
            columns = {field: segment(head) for field, head in row["columns"].items()}
            yield make("table", text, "table", columns=columns)
        elif "each" in row:
            yield make("each", text, "each", item=segment(row["each"]))
        elif "parts" in row:
            for field, phrase in row["parts"].items():
                for one in words_of(phrase):
                    made = make(field, f"{text} > {one}", "phrase")
                    yield made._replace(sets={"value": sets[field]} if field in sets else {"value": field},
                                        codecs={**codecs, "value": codecs[field]},
                                        id=f"rows{number}.{field}@{one}")
        else:
            yield make("line", text, "template")


def compile_map(raw: Mapping[str, Any], marks: Mapping[str, Any], version: str) -> Map:
    """The map of a dialect file's plain tables (see :mod:`cfglint.dialect.mapfile`)."""
    defaults = {}
    for name, row in raw["map"].items():
        if not isinstance(row, str) and "default" in row:
            defaults[name] = Default(default_of(name, row["default"]), row.get("count", 0), row.get("sure", True))
    removal = marks.get("removal")
    return Map(
        version=version,
        entries=list(_entries(raw, marks)),
        defaults=defaults,
        kept=[address(text) for text in raw["kept"]],
        ignored=[address(text) for text in (*words_of(marks.get("ignored", ())), *words_of(marks.get("save", ())))],
        removal=line_pattern(removal) if removal else None,
        profiles=raw["profiles"],
        said=raw["traits"],
    )


__all__ = ["PARTS", "SETTINGS", "Default", "Entry", "Map", "compile_map", "marks_of"]
