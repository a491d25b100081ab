"""A dialect in memory: as its file says, and resolved for one firmware version."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft.model import Traits
from cfglint.craft.settings import MODES, Setting
from cfglint.dialect.codec import Codec
from cfglint.dump.forms import field_names, head, pattern, pieces
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from cfglint.dump.statements import Scanner
    from cfglint.tomltext import Document

CHANNEL = Setting("channel", "count", "", (), 1, 32, "a receiver channel")
PULSE = Setting("pulse", "number", "µs", (), 0, 3000, "a pulse")
MODE = Setting("mode", "word", "", tuple(MODES), None, None, "a mode")
JOIN = Setting("join", "word", "", ("any", "all"), None, None, "how ranges combine")
NUMBER = Setting("number", "count", "", (), 1, 99, "which one of several")

#: What the fields of a range or link form mean, by their names.
ROLES = {
    "mode": MODE,
    "follows": MODE,
    "channel": CHANNEL,
    "low": PULSE,
    "high": PULSE,
    "join": JOIN,
    "N": NUMBER,
}


class Entry(NamedTuple):
    """One setting that is written ``name = value`` (or as a flag that stands or not)."""

    setting: str
    name: str
    codec: Codec
    within: str = ""
    flag: bool = False
    sure: bool = True
    many: int = 0
    default: Any = None
    number: Codec = Codec()


class Form(NamedTuple):
    """A line with several fields; ``makes`` is ``settings``, ``range`` or ``link``.

    ``spare`` is what is written in fields that have no meaning here.
    """

    id: str
    line: str
    makes: Literal["settings", "range", "link"]
    within: str
    sets: Mapping[str, str]
    codecs: Mapping[str, Codec]
    join: Literal["any", "all"]
    skip_empty: bool
    sure: bool
    spare: Mapping[str, str]

    def fields(self) -> tuple[str, ...]:
        return field_names(self.line)


class Tables:
    """A dialect resolved for one firmware version: what reading and writing work from.

    ``unsure`` names what the file marks unconfirmed, ``unmapped`` what it has no line for (see
    :class:`cfglint.craft.Craft`).
    """

    __slots__ = (
        "_cache",
        "by_setting",
        "case",
        "deepest",
        "entries",
        "families",
        "forms",
        "forms_by_head",
        "ignored",
        "kept",
        "names",
        "profiles",
        "traits",
        "unmapped",
        "unsure",
        "version",
        "withins",
    )

    def __init__(
        self,
        version: str,
        entries: list[Entry],
        forms: list[Form],
        kept: list[str],
        ignored: list[str],
        traits: Traits,
        profiles: Mapping[str, Any],
        *,
        ignore_case: bool,
        unsure: frozenset[str] = frozenset(),
        unmapped: frozenset[str] = frozenset(),
    ) -> None:
        self.version = version
        self.unsure = unsure
        self.unmapped = unmapped
        self.case = ignore_case
        self.entries = entries
        self.by_setting = {entry.setting: entry for entry in entries}
        self.forms = forms
        self.kept = kept
        self.ignored = ignored
        self.traits = traits
        self.profiles = profiles
        self.names: dict[tuple[str, str], Entry] = {}
        self.families: list[tuple[str, re.Pattern[str], Entry]] = []
        flags = re.IGNORECASE if ignore_case else 0
        for entry in entries:
            if not entry.name:
                continue  # forms write it; the entry says what holds without one
            if "{" in entry.name:
                self.families.append((entry.within, re.compile(pattern(entry.name), flags), entry))
            else:
                self.names[entry.within, self.fold(entry.name)] = entry
        self.forms_by_head: dict[str, list[Form]] = {}
        for form in forms:
            self.forms_by_head.setdefault(self.fold(_key(form.line)), []).append(form)
        withins = [entry.within for entry in entries] + [form.within for form in forms]
        withins.append(str(profiles.get("within", "")))
        self.withins = tuple(dict.fromkeys(text for text in withins if text))
        self.deepest = max((text.count("/") + 1 for text in self.withins), default=1)
        self._cache: dict[str, re.Pattern[str]] = {}

    def fold(self, name: str) -> str:
        """A name as it is looked up."""
        return name.lower() if self.case else name

    def compiled(self, form: str) -> re.Pattern[str]:
        """The pattern of a form, made when first asked for: most forms of a dialect never are."""
        found = self._cache.get(form)
        if found is None:
            flags = re.IGNORECASE if self.case else 0
            found = self._cache[form] = re.compile(pattern(form) + r"[ \t]*+", flags)
        return found

    def defaults(self) -> Iterator[tuple[str, Entry]]:
        """Every setting whose default is known, families member by member, with its entry."""
        for entry in self.entries:
            if entry.default is None:
                continue
            if ".N" not in entry.setting:
                yield entry.setting, entry
            for number in range(1, entry.many + 1):
                yield entry.setting.replace("N", str(number), 1), entry

    def known_names(self) -> list[str]:
        """Every name that a line may begin with or assign, for "did you mean"."""
        words = [entry.name for entry in self.entries if entry.name and "{" not in entry.name]
        words += [name for name in self.kept if "*" not in name]
        words += [word for form in self.forms if (word := head(form.line))]
        return list(dict.fromkeys(words))


def first_word(text: str) -> str:
    """The letters, digits and dashes a line begins with: how its forms are found quickly."""
    match = re.match(r"[A-Za-z0-9_-]*+", text)
    return match.group() if match else ""


def _key(form: str) -> str:
    """The first word of every line of a form; ``""`` where a field may go on with it."""
    start = head(form)
    word = first_word(start)
    grows = word == start and "field" in [piece.kind for piece in pieces(form)[1:2]]
    return "" if grows else word


def like(text: str, known: str) -> bool:
    """Whether a text is a known one, in which a final ``*`` stands for anything."""
    return text.startswith(known[:-1]) if known.endswith("*") else text == known


class Dialect:
    """A dialect file, checked.  ``at`` resolves it for a firmware version.

    ``grammar`` is its composed grammar or what composes it; ``key`` the name under which the
    scanner of a bundled one is shipped, so that the grammar itself is not needed.
    """

    __slots__ = (
        "_grammar",
        "_key",
        "_scanner",
        "_tables",
        "data",
        "document",
        "file",
        "id",
        "order",
    )

    def __init__(self, document: Document, grammar: str | Callable[[], str], key: str = "") -> None:
        self.document = document
        self.data: dict[str, Any] = document.data
        self.file = document.file
        self._grammar = grammar
        self._key = key
        self.id: str = self.data["dialect"]["id"]
        self.order: Literal["dotted", "decimal"] = self.data["dialect"].get(
            "version_order", "dotted"
        )
        self._scanner: Scanner | None = None
        self._tables: dict[str, Tables] = {}

    @property
    def grammar(self) -> str:
        """The composed grammar."""
        if not isinstance(self._grammar, str):
            self._grammar = self._grammar()
        return self._grammar

    @property
    def ignore_case(self) -> bool:
        return bool(self.data["shape"].get("case", "exact") == "any")

    @property
    def scanner(self) -> Scanner:
        """The scanner of the dialect's lines, made when first asked for."""
        if self._scanner is None:
            from cfglint.dump.grammar import scanner_spec, shipped
            from cfglint.dump.statements import Scanner

            spec = shipped(self._key) if self._key else None
            self._scanner = Scanner(spec or scanner_spec(self.grammar, self.file))
        return self._scanner

    def at(self, version: str) -> Tables:
        """The tables for a firmware version; ``""`` means the version is not known.

        With an unknown version, traits that differ between versions are not said.
        """
        found = self._tables.get(version)
        if found is None:
            from cfglint.dialect.resolve import resolve

            found = self._tables[version] = resolve(self, version)
        return found
