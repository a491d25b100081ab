"""Reading one dump: bytes → source → dialect → craft, with its card."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.runner.here import from_here
from cfglint.runner.names import stem
from cfglint.runner.reading import read_bytes, refuse_packed

if TYPE_CHECKING:
    from collections.abc import Callable

    from cfglint.craft import Card, Craft
    from cfglint.dialect import Dialect
    from cfglint.dialect.reading import Reader
    from cfglint.dump.source import Source
    from cfglint.runner.config import Config, Dumps
    from cfglint.runner.discover import Dump

_T = TypeVar("_T")


class ReadCraft(NamedTuple):
    """A craft, what read it, and the texts that it was read from, by file."""

    craft: Craft
    reader: Reader
    card_file: str
    texts: dict[str, Source]


def _once(held: dict[str, _T | Problem], name: str, read: Callable[[], _T]) -> _T:
    """What ``read`` gives, or raises, the first time that this name is asked for."""
    if name not in held:
        try:
            held[name] = read()
        except Problem as problem:
            held[name] = problem
    found = held[name]
    if isinstance(found, Problem):
        raise found
    return found


class CraftReader:
    """Reads dumps one by one; keeps dialects and cards, which many of them share.

    ``dialect`` and ``card`` are those named on the command line, for all dumps.
    """

    def __init__(
        self, root: str, config: Config | None, *, dialect: str = "", card: str = ""
    ) -> None:
        self.root = root
        self.config = config
        self.dialect = dialect
        self.card = card
        self._dialects: dict[str, Dialect | Problem] = {}
        self._cards: dict[str, tuple[Card, Source] | Problem] = {}

    def load_named(self) -> None:
        """Load what the command line names.  Raises Problem(s): it is wrong for every file."""
        if self.dialect:
            self._load_dialect(self.dialect)
        if self.card:
            self._load_card(*self._named_card())

    def read(self, dump: Dump, source: Source) -> ReadCraft:
        """The craft of a dump.  Raises Problem for what is wrong with its dialect or card."""
        from cfglint.dialect.reading import Reader

        entry = dump.entry
        sample = "-" if dump.data is not None else from_here(dump.path)
        dialect = self.choose(entry, source, sample)
        card, card_file, card_text = self._card(entry, dump.file)
        named = entry.craft_of(dump.file) if entry is not None else ""
        if not named and card is not None:
            named = str(card.values.get("craft", ""))
        extent: Any = (entry.extent if entry is not None else "") or None
        reader = Reader(
            source, dialect, card=card, name=named or stem(dump.file), extent=extent, whole=True
        )
        texts = {dump.file: source}
        if card_text is not None and card is not None:
            texts[card.file] = card_text
        return ReadCraft(reader.craft(), reader, card_file, texts)

    def source(self, dump: Dump) -> Source:
        data = dump.data
        if data is None:
            # Without a hangar a folder that was searched stands for one.
            within = self.root if self.config is not None else dump.below
            data = read_bytes(dump.path, dump.file, pipes=dump.named, within=within)
        return as_source(data, dump.file)

    def choose(self, entry: Dumps | None, source: Source, sample: str = "") -> Dialect:
        """The dialect: of the command line, the hangar, or the dump itself.

        ``sample`` is the dump's path from here: one that no dialect reads can be taught from it.
        """
        asked = self._asked(entry, source)
        if asked:
            return self._load_dialect(asked)
        from cfglint.dialect.choose import choose

        return choose(source, self._pool()[0], sample)

    def passed_over(self, entry: Dumps | None, source: Source) -> list[Problem]:
        """What is wrong with dialects that this dump might have been of; nothing where it is said
        which one it is of.
        """
        return [] if self._asked(entry, source) else self._pool()[1]

    def _asked(self, entry: Dumps | None, source: Source) -> str:
        """The dialect that is asked for, if it is one that there is."""
        asked = self.dialect or (entry.dialect if entry is not None else "")
        if asked:
            return asked
        from cfglint.dialect.identify import directive

        said = directive(source)
        return said[0] if said is not None and said[0] in self._names() else ""

    def _names(self) -> list[str]:
        from cfglint.dialect.load import bundled_names
        from cfglint.runner.config import own_dialects

        return [*own_dialects(self.config), *bundled_names()]

    def _pool(self) -> tuple[dict[str, Dialect], list[Problem]]:
        """All dialects there are, and what is wrong with those that cannot be loaded: a dump of
        another dialect need not wait for them to be put right.
        """
        pool: dict[str, Dialect] = {}
        wrong: list[Problem] = []
        for name in self._names():
            try:
                pool[name] = self._load_dialect(name)
            except Problem as problem:
                wrong.append(problem)
        return pool, wrong

    def _load_dialect(self, name: str) -> Dialect:
        """A dialect by name or, if it is named on the command line, by file."""
        return _once(self._dialects, name, lambda: self._read_dialect(name))

    def _read_dialect(self, name: str) -> Dialect:
        from cfglint.dialect.load import bundled, bundled_names, load_dialect
        from cfglint.runner.config import own_dialects

        own = {} if name in bundled_names() else own_dialects(self.config)
        if name in own:
            path = os.path.join(self.root, own[name])
            within = (
                "" if os.path.isabs(own[name]) else self.root
            )  # a pack lies where it is installed
            return load_dialect(own[name], read_bytes(path, own[name], within=within))
        if name == self.dialect and is_path(name):
            path = os.path.abspath(name)
            file = self._shown(path)
            return load_dialect(file, read_bytes(path, file))
        known = (*own, *bundled_names())
        if name not in known:
            from cfglint.near import suggestion

            raise Problem(
                f"there is no dialect `{name}`",
                instead=suggestion(name, known) or "name its file, as in `mine.toml`",
            )
        return bundled(name)

    def card_of(self, entry: Dumps | None, file: str) -> Card | None:
        """The card of a dump."""
        return self._card(entry, file)[0]

    def _card(self, entry: Dumps | None, dump: str) -> tuple[Card | None, str, Source | None]:
        """The card of a dump, its name and its text."""
        if self.card:
            path, file = self._named_card()
        else:
            template = entry.card if entry is not None else ""
            file = entry.card_of(dump) if entry is not None else ""
            path = os.path.join(self.root, file)
            # A template need not fit every craft; the rules say what they miss.
            if not file or ("{" in template and not os.path.lexists(path)):
                return None, "", None
        card, text = self._load_card(path, file, "" if self.card else self.root)
        return card, file, text

    def _named_card(self) -> tuple[str, str]:
        path = os.path.abspath(self.card)
        return path, self._shown(path)

    def _load_card(self, path: str, file: str, within: str = "") -> tuple[Card, Source]:
        return _once(self._cards, path, lambda: self._read_card(path, file, within))

    def _read_card(self, path: str, file: str, within: str) -> tuple[Card, Source]:
        from cfglint.craft.cards import read_card
        from cfglint.dump.source import Source

        data = read_bytes(path, file, within=within)
        # What an editor leaves behind on a full disk; it would pass for a card that says nothing.
        if not data.strip():
            raise Problem(
                "this file is empty",
                file=file,
                instead="fill it in again, or delete it",
                exit=EXIT_UNREAD,
            )
        card = read_card(file, data)
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        return card, Source.from_text(file, text)

    def _shown(self, path: str) -> str:
        start = self.root if self.root.endswith(os.sep) else self.root + os.sep
        return (path[len(start) :] if path.startswith(start) else path).replace(os.sep, "/")


def as_source(data: bytes, file: str) -> Source:
    """A dump's bytes as text.  Raises Problem (exit code 3) for what cannot be a dump."""
    from cfglint.dump.source import Source

    if not data.strip():
        raise Problem(
            "this file is empty",
            file=file,
            instead="make the dump again; nothing was recorded",
            exit=EXIT_UNREAD,
        )
    refuse_packed(data, file)
    # A few NULs are line noise, and the rules tell of the lines; many are another format.
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    if not marked and data.count(b"\0", 0, 8192) * 10 > min(len(data), 8192):
        raise Problem(
            "this file is no text: it is full of NUL bytes",
            file=file,
            instead="make the dump again as plain text (UTF-16 needs its byte order mark)",
            exit=EXIT_UNREAD,
        )
    return Source.from_bytes(file, data)


def is_path(dialect: str) -> bool:
    """Whether the word given for a dialect is a file rather than a name."""
    return dialect.endswith(".toml") or "/" in dialect or os.sep in dialect
