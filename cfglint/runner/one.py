"""One dump by itself, read as a run would read it: for commands that do not lint."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple

from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.runner.check import Checker, as_source
from cfglint.runner.here import Here, from_here
from cfglint.runner.reading import check_within, read_bytes

if TYPE_CHECKING:
    from collections.abc import Callable

    from cfglint.craft.card import Card
    from cfglint.dialect.model import Dialect
    from cfglint.dialect.reading import Extent
    from cfglint.dump.source import Source
    from cfglint.runner.config import Config


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
    stdin_name: str = "",
    teach: bool = True,
) -> One:
    """Read one dump, as its hangar says; ``-`` is standard input, which counts as the file
    ``stdin_name`` if that is said.

    ``data`` are its bytes where they do not come from ``path`` itself, ``file`` is how it is
    then named.  ``teach`` is whether a dialect could be drafted from what none reads.  Raises
    Problem for what cannot be read; files are named from the current folder.
    """
    from cfglint.dialect.load import bundled_names
    from cfglint.runner.config import own_dialects
    from cfglint.runner.discover import discover

    named = file or (path if path == "-" else from_here(path))
    if path == "-":
        found = discover(["-"], config, stdin_name)
        data = found.dumps[0].data
        named = Here(found.root).file(found.dumps[0].file)
    elif data is None and os.path.isdir(path):
        raise Problem("this is a folder", file=named, instead="name one dump", exit=EXIT_UNREAD)
    else:
        if data is None:
            data = read_bytes(path, named, pipes=True)
        # Of a file that only history has, there is the folder at most.
        found = discover([path] if os.path.isfile(path) else [], config)
        if found.config is not None and os.path.lexists(path):
            check_within(found.root, path, named)
    assert data is not None
    place = found.dumps[0].file if found.dumps else named
    entry = found.dumps[0].entry if found.dumps else None
    checker = Checker(found.root, found.config, (), dialect=dialect, card=card)
    source = as_source(data, named)
    here = Here(found.root)
    try:
        chosen = checker.choose(entry, source, path if teach and not file else "")
        owner = checker.card_of(entry, place)
    except Problem as problem:
        # What is wrong with the dump itself is told by its name already.
        raise problem if problem.file == named else here.problem(problem) from None
    name = entry.craft_of(place) if entry is not None else ""
    if not name and owner is not None:
        name = str(owner.values.get("craft", ""))
    own = own_dialects(found.config)

    def load(wanted: str) -> Dialect:
        return Checker(found.root, found.config, (), dialect=wanted).choose(None, source)

    extent: Extent | None = (entry.extent if entry is not None else "") or None  # type: ignore[assignment]
    return One(source, chosen, owner, name, extent, found.config, (*own, *bundled_names()), load)
