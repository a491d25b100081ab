"""One dump by itself, read as a run would read it: for commands that do not lint."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.record import NamedTuple
from cfglint.runner.check import Checker, as_source
from cfglint.runner.reading import read_bytes

if TYPE_CHECKING:
    from collections.abc import Callable

    from cfglint.craft.card import Card
    from cfglint.dialect.model import Dialect
    from cfglint.dialect.reading import Extent
    from cfglint.dump.source import Source
    from cfglint.runner.config import Config

#: How standard input is named in messages.
STDIN = "(standard input)"


class One(NamedTuple):
    """One dump: its text, dialect and card; ``name`` and ``extent`` hold where it says none.

    ``dialects`` are the names that ``load`` knows (it takes the path of a file as well).
    """

    source: Source
    dialect: Dialect
    card: Card | None
    name: str
    extent: Extent | None
    config: Config | None
    dialects: tuple[str, ...]
    load: Callable[[str], Dialect]


def read_one(
    path: str,
    *,
    data: bytes | None = None,
    file: str = "",
    dialect: str = "",
    card: str = "",
    config: str = "",
) -> One:
    """Read one dump, as its hangar says; ``-`` is standard input.

    ``data`` are its bytes where they do not come from ``path`` itself, ``file`` is how it is
    then named.  Raises Problem for what cannot be read.
    """
    from cfglint.dialect.load import bundled_names
    from cfglint.runner.discover import discover

    if path == "-":
        data, file, path = sys.stdin.buffer.read(), STDIN, "."
    named = file or path
    if data is None and os.path.isdir(path):
        raise Problem("this is a folder", file=named, instead="name one dump", exit=EXIT_UNREAD)
    if data is None:
        data = read_bytes(path, named, pipes=True)
    # The hangar is that of the file's folder; a file that only history has is not there itself.
    found = discover([path] if os.path.isfile(path) else [], config)
    entry = found.dumps[0].entry if found.dumps and os.path.isfile(path) else None
    place = found.dumps[0].file if found.dumps else named
    checker = Checker(found.root, found.config, (), dialect=dialect, card=card)
    source = as_source(data, named)
    chosen = checker.choose(entry, source)
    owner = checker.card_of(entry, place)
    name = entry.craft_of(place) if entry is not None else ""
    if not name and owner is not None:
        name = str(owner.values.get("craft", ""))
    own = found.config.dialects if found.config is not None else {}

    def load(wanted: str) -> Dialect:
        return Checker(found.root, found.config, (), dialect=wanted).choose(None, source)

    extent: Extent | None = (entry.extent if entry is not None else "") or None  # type: ignore[assignment]
    return One(source, chosen, owner, name, extent, found.config, (*own, *bundled_names()), load)
