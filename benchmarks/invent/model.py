"""What an invented dialect comes to: mappings, lines with their meaning, dumps, the whole."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from invent.words import Half

#: Mode, channel, low, high, join: as the craft holds them.
Range = tuple[str, int, float, float, str]
Link = tuple[str, str, str]
Extent = Literal["full", "changes"]


class Truth(NamedTuple):
    """A craft's setup: neutral settings (members of families by number), ranges and links."""

    values: dict[str, Any]
    ranges: tuple[Range, ...]
    links: tuple[Link, ...]


class Spell(NamedTuple):
    """How one value is written; ``keys`` say it in a dialect file.

    ``words`` are neutral text → written; ``grid`` is the neutral step that can be written
    (0: any); ``opaque`` says that ``words`` or ``mask`` are code numbers; ``unit`` is the name
    of the written unit.
    """

    kind: Literal["words", "flag", "list", "mask", "number", "over", "text"]
    keys: Mapping[str, Any] = {}
    words: Mapping[str, str] = {}
    mask: Mapping[str, int] = {}
    scale: float = 1
    offset: float = 0
    base: int = 1
    first: int = 1
    over: float = 0
    grid: float = 0
    places: int = 0
    divider: str = ","
    none: str = ""
    quoted: bool = False
    opaque: bool = False
    unit: str = ""


class Item(NamedTuple):
    """A setting that has a name of its own; of a family, ``{N}`` is in ``name`` or ``within``."""

    setting: str
    name: str
    spell: Spell
    within: str = ""
    flag: bool = False
    default: Any = None
    number: Spell = Spell("number")


class Record(NamedTuple):
    """A line of several fields.  ``fields`` are spellings by field; ``sets`` as in a form."""

    id: str
    line: str
    makes: Literal["settings", "range", "link"]
    fields: Mapping[str, Spell]
    sets: Mapping[str, str] = {}
    within: str = ""
    join: str = "any"


class Line(NamedTuple):
    """A dump's line with what it means; ``written`` are the words its members are written in.

    ``aside`` is what it would set if its profile were in use.
    """

    text: str
    name: str = ""
    sets: Mapping[str, Any] = {}
    range: Range | None = None
    link: Link | None = None
    written: Mapping[str, str] = {}
    mode_word: str = ""
    aside: Mapping[str, Any] = {}


class Dump(NamedTuple):
    """One dump and the truth of it: exactly what its lines say, defaults apart."""

    file: str
    lines: tuple[Line, ...]
    extent: Extent
    values: Mapping[str, Any]
    ranges: tuple[Range, ...]
    links: tuple[Link, ...]
    written: Mapping[str, str]

    @property
    def text(self) -> str:
        return "\n".join(line.text for line in self.lines) + "\n"


class Invented(NamedTuple):
    """A dialect with its dumps.

    ``toml`` is its true dialect file.  ``samples`` are to be taught from, ``unseen`` are dumps
    of other craft for judging.  ``before`` and ``after`` are one craft at two versions, between
    which ``renames`` (old → new name), ``rescaled`` settings and ``moved`` defaults changed.
    ``codes`` are settings (families, or ``mode``) written in numbers; those in ``hinted`` are
    explained by a comment.  ``meanings`` are written → neutral words of every enumeration.
    """

    seed: int
    half: Half
    toml: str
    samples: tuple[Dump, ...]
    unseen: tuple[Dump, ...]
    before: Dump
    after: Dump
    renames: Mapping[str, str]
    rescaled: tuple[str, ...]
    moved: tuple[str, ...]
    codes: frozenset[str]
    hinted: frozenset[str]
    meanings: Mapping[str, Mapping[str, str]]
    masks: Mapping[str, Mapping[str, int]]
    nasty: bool
