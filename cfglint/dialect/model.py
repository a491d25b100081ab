"""A dialect in memory: as its file says, and resolved for one firmware version."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft.model import Traits
from cfglint.craft.settings import MODES, SETTINGS
from cfglint.dialect.address import Segment, segment
from cfglint.dialect.lines import fields, find, words
from cfglint.dialect.mapping import Compiler, Map, marks_of, words_of
from cfglint.dialect.versions import orderable, plain_at
from cfglint.dump.atoms import codes, cut

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from cfglint.dialect.mapping import Default, Entry
    from cfglint.dump.layout import Marks
    from cfglint.tomltext import Document

#: How a value is given where a dialect file does not say: behind its words.
ASSIGN = "{name} {value}"
_TRAITS = (
    "range_ends",
    "inversion",
    "arm_needs_permit",
    "arm_needs_low_throttle",
    "arm_by_sticks",
)


class Tables:
    """A dialect resolved for one firmware version: what reading and writing work from.

    ``raw`` are its plain tables.  ``unsure`` names what the file marks unconfirmed, ``unmapped``
    what it has no line for (see :class:`cfglint.craft.Craft`).
    """

    __slots__ = (
        "_called",
        "_names",
        "_verbs",
        "map",
        "marks",
        "profiles",
        "raw",
        "traits",
        "unmapped",
        "unsure",
        "version",
        "words_first",
    )

    def __init__(self, dialect: Dialect, version: str) -> None:
        self.version = version
        self.marks: Mapping[str, Any] = dialect.data.get("marks", {})
        self.raw = plain_at(dialect, version)
        self.map: Map = dialect.compiler.map(self.raw)
        self.profiles: Mapping[str, Any] = self.raw["profiles"]
        said = self.raw["traits"]
        changed = {key for row in dialect.data.get("changes", []) for key in row.get("traits", {})}
        if changed and not orderable(dialect, version):
            # Without a version nobody can say which side of a change the craft is on.
            said = {key: value for key, value in said.items() if key not in changed}
        self.traits = Traits(
            **{name: said.get(name) for name in _TRAITS}, version_order=dialect.order
        )
        self.unsure = _unsure(dialect.data, self.raw, self.map, said)
        self.unmapped = _unmapped(self.map)
        last = [entry.at.segments[-1] for entry in self.map.entries]
        # Whether every line of the dialect begins with a word.
        self.words_first = all(part.lead and part.lead[0].startswith("w") for part in last)
        first, _, rest = self.assign.partition("{name}")
        texts = first, rest.partition("{value}")[0]
        #: The words that ``assign`` puts before a name, and those behind it.
        self._verbs = [segment(text, self.map.exact).pieces for text in texts]
        self._names: tuple[str, ...] | None = None
        self._called: list[tuple[Entry, Segment]] | None = None

    def defaults(self) -> Iterator[tuple[str, str, Default]]:
        """Every setting whose default is known, families member by member: name, family, value."""
        for name, default in self.map.defaults.items():
            if ".N" not in name:
                yield name, name, default
            for number in range(1, default.many + 1):
                yield name.replace("N", str(number), 1), name, default

    def counts(self) -> dict[str, int]:
        """How many there are of each family: ``channel.N.low_us`` → 16, as far as is said."""
        defaults = self.map.defaults.items()
        return {name: default.many for name, default in defaults if ".N" in name}

    def entries_of(self, family: str) -> tuple[tuple[Entry, str], ...]:
        """The entries that set a setting (or family), each with the field that does."""
        return tuple(
            (entry, field)
            for entry in self.map.entries
            if entry.makes == "settings"
            for field, name in entry.sets.items()
            if name == family
        )

    def how(self, family: str) -> tuple[Entry, ...]:
        """All that says how a setting is written, to compare with another version's."""
        return tuple(entry._replace(id="", place=()) for entry, _ in self.entries_of(family))

    def meanings(self) -> dict[str, Any]:
        """How the values of each setting, and of ``range`` and ``link``, are written; no names."""
        found: dict[str, Any] = {}
        for entry in self.map.entries:
            codecs = {
                field: one._replace(sure=True, unsure=frozenset())
                for field, one in entry.codecs.items()
            }
            if entry.makes == "settings":
                for field, name in entry.sets.items():
                    found.setdefault(name, []).append(
                        (field in codecs and codecs[field], codecs.get("N"))
                    )
                for name, value in entry.gives.items():
                    found.setdefault(name, []).append(value)
            elif entry.makes != "given":
                for name in ("range", "link"):
                    found.setdefault(name, []).append(codecs)
        return found

    def knows(self, family: str) -> bool:
        """Whether the dialect says anything of a setting: a line, or what holds without one."""
        return family in self.map.defaults or bool(self.entries_of(family))

    # -- names -------------------------------------------------------------------------------

    @property
    def assign(self) -> str:
        return str(words_of(self.marks.get("assign", ASSIGN))[0])

    def assign_for(self, step: str) -> str:
        """How a value is given to what a step of an address names: ``assign``, unless that has
        words of its own which the step lacks.
        """
        verbs = any(char.isalnum() for char in re.sub(r"\{[a-z]+\}", "", self.assign))
        return ASSIGN if verbs and self.bare(step) == step.strip() else self.assign

    def called(self, entry: Entry) -> str:
        """What the firmware calls what an entry sets: its address's last step, verbs apart."""
        return self.bare(entry.at.text.rsplit(" > ", 1)[-1])

    def bare(self, step: str) -> str:
        """A step of an address without the words that ``assign`` puts around every name."""
        first, _, rest = self.assign.partition("{name}")
        step = step.replace("{value}", "").strip(" \t")
        before, after = words(first), words(rest.partition("{value}")[0])
        own = [atom for atom in cut(step) if atom.kind != "mark"]
        if before and len(before) < len(own) and words(step)[: len(before)] == before:
            step = step[own[len(before)].start :]
            own = [atom for atom in cut(step) if atom.kind != "mark"]
        if after and len(after) < len(own) and words(step)[-len(after) :] == after:
            step = step[: own[-len(after) - 1].end]
        return step.strip(" \t:=")

    def bare_step(self, part: Segment) -> Segment:
        """The same of a step that is taken apart; its value is left out as well."""
        pieces = tuple(piece for piece in part.pieces if piece != ("field", "value"))
        before, after = self._verbs
        if before and len(pieces) > len(before) and pieces[: len(before)] == before:
            pieces = pieces[len(before) :]
        if after and len(pieces) > len(after) and pieces[-len(after) :] == after:
            pieces = pieces[: -len(after)]
        return Segment(pieces)

    def entries_called(self, name: str) -> list[Entry]:
        """The entries whose address ends in a name, whatever titles stand before it."""
        if self._called is None:
            last = ((entry, entry.at.segments[-1]) for entry in self.map.entries)
            self._called = [
                (entry, self.bare_step(part))
                for entry, part in last
                if entry.makes == "settings" and set(part.fields) <= {"N", "P", "value"}
            ]
        code, _, plain, _ = codes(cut(name), self.map.exact)
        patterns = self.map.patterns
        return [
            entry
            for entry, part in self._called
            if part.pieces and patterns.named(entry, part, code, plain) is not None
        ]

    def known_names(self) -> tuple[str, ...]:
        """Every name that a line may give a value to or begin with, for "did you mean"."""
        if self._names is None:
            found = [self.called(entry) for entry in self.map.entries if entry.way != "template"]
            found += [self.bare(at.text.rsplit(" > ", 1)[-1]) for at in self.map.kept]
            found += [entry.at.text.rsplit(" > ", 1)[-1].partition("{")[0].split(" ")[0]
                      for entry in self.map.entries if entry.way == "template"]  # fmt: skip
            self._names = tuple(
                dict.fromkeys(
                    name for name in found if name and "{" not in name and "*" not in name
                )
            )
        return self._names

    def has_name(self, name: str) -> bool:
        """Whether some address, or what is kept, holds a name."""
        texts = [entry.at.text for entry in self.map.entries] + [at.text for at in self.map.kept]
        return any(find(text, name) for text in texts)


class Dialect:
    """A dialect file, checked.  ``at`` resolves it for a firmware version."""

    __slots__ = (
        "_marks", "_shifting", "_tables", "compiler", "data", "document", "file", "id", "order",
        "stages",
    )  # fmt: skip

    def __init__(self, document: Document) -> None:
        self.document = document
        self.data: dict[str, Any] = document.data
        self.file = document.file
        self.id: str = self.data["dialect"]["id"]
        self.order: Literal["dotted", "decimal"] = self.data["dialect"].get(
            "version_order", "dotted"
        )
        self.compiler = Compiler(self.data.get("marks", {}))
        self._tables: dict[str, Tables] = {}
        self._shifting: tuple[frozenset[str], frozenset[str]] | None = None
        self._marks: Marks | None = None
        #: The plain tables that changes led to so far, by the versions of these.
        self.stages: dict[tuple[str, ...], dict[str, Any]] = {}

    @property
    def marks(self) -> Marks:
        """What the text of its dumps is like."""
        if self._marks is None:
            self._marks = marks_of(self.data.get("marks", {}))
        return self._marks

    def mark(self, name: str) -> str:
        """A mark by its name; of several the first, ``""`` where the file gives none."""
        return next(iter(words_of(self.data.get("marks", {}).get(name, ()))), "")

    def outside(self, version: str) -> str:
        """The versions that the file describes where this is none of them, else ``""``."""
        described = str(self.data["dialect"].get("versions", ""))
        if not described or not version or not orderable(self, version):
            return ""
        from cfglint.facts.versions import VersionRange

        inside = VersionRange.parse(described).contains(version, self.order)
        return "" if inside else described

    def shifting(self) -> tuple[frozenset[str], frozenset[str]]:
        """What means one thing or another by the version: settings, ``range``, ``link``.

        First that of which lines do, then that of which only the default does.  What merely has
        another name is not among it: where it stands, it says which is meant.
        """
        if self._shifting is None:
            versions = ("", *(str(row["at"]) for row in self.data.get("changes", [])))
            every = [self.at(version) for version in versions]
            lines = _differing([one.meanings() for one in every])
            defaults = _differing(
                [{k: v.value for k, v in one.map.defaults.items()} for one in every]
            )
            self._shifting = lines, defaults - lines
        return self._shifting

    def at(self, version: str) -> Tables:
        """The tables for a firmware version; ``""`` means the version is not known.

        With an unknown version, traits that differ between versions are not said.
        """
        found = self._tables.get(version)
        if found is None:
            found = self._tables[version] = Tables(self, version)
        return found


def _differing(tables: list[dict[str, Any]]) -> frozenset[str]:
    """The keys that have more than one value in tables."""
    return frozenset(
        name
        for one, two in pairwise(tables)
        for name in one
        if name in two and one[name] != two[name]
    )


def number_in(family: str, name: str) -> str:
    """The number of a family's member: ``3`` for ``channel.N.low_us``, ``channel.3.low_us``."""
    if ".N" not in family:
        return ""
    start, _, end = family.partition("N")
    if not name.startswith(start) or not name.endswith(end) or len(name) < len(family):
        return ""
    number = name[len(start) : len(name) - len(end)]
    return number if number.isdigit() else ""


def _unmapped(found: Map) -> frozenset[str]:
    """What no line of a dump can say; what its identity says is left out."""
    made: set[str] = set()
    for entry in found.entries:
        if entry.makes == "settings":
            made.update(entry.sets.values())
            continue
        made.add(entry.makes)
        for field in ("mode", "follows"):
            # Without a table of words modes are written as they are called here.
            if field in entry.codecs:
                codec = entry.codecs[field]
                known = codec.words or (() if codec.own else MODES)
                made.update(f"mode {mode}" for mode in known)
    every = {name for name in SETTINGS if not name.startswith("craft.")}
    return frozenset({*every, *(f"mode {mode}" for mode in MODES), "range", "link"} - made)


def _unsure(
    data: Mapping[str, Any], raw: Mapping[str, Any], found: Map, traits: Mapping[str, Any]
) -> frozenset[str]:
    """What is marked unconfirmed, whatever a dump says; single words of values apart."""
    names = {name for name, row in raw["map"].items() if row.get("sure") is False}
    for entry in found.entries:
        doubtful = {field for field, one in entry.codecs.items() if not one.sure}
        if entry.makes != "settings":
            for field, one in entry.codecs.items():
                if field in ("mode", "follows"):
                    names.update(f"mode {mode}" for mode in one.unsure)
                elif one.unsure:
                    doubtful.add(field)
            names.update((entry.makes,) if not entry.sure or doubtful else ())
            continue
        every = not entry.sure or "N" in doubtful
        names.update(name for field, name in entry.sets.items() if every or field in doubtful)
    names.update(f"mode {mode}" for mode in raw["unsure_modes"])
    names.update(f"trait {name}" for name in raw["unsure_traits"] if name in traits)
    if not data.get("identity", {}).get("sure", True):
        names.update(("craft.board", "craft.firmware", "craft.name"))
    if not data.get("kept", {}).get("sure", True):
        names.add("kept")
    return frozenset(names)


__all__ = ["ASSIGN", "Dialect", "Tables", "fields", "number_in"]
