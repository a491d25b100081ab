"""Planning a hangar: from dumps, answers and what is there already to files with contents.

Nothing here writes.  What is there already is part of the question: a hangar that has its
``cfglint.toml`` keeps it, and is told which lines to add.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple

from cfglint.cli.start_files import Planned
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.runner.check import Checker, as_source
from cfglint.runner.here import from_here
from cfglint.runner.names import compiled, stem

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from cfglint.cli.start_card import Facts
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.runner.config import Config, Dumps
    from cfglint.teach.whole import Whole

    #: ``cfglint.teach.whole.whole``, or one that stands in for it.
    Teach = Callable[[Sequence[Source], str], Whole]

FOLDERS = ("dumps", "cards", "dialects", "rules")
PATTERN = "dumps/*.dump.txt"
#: What a drafted dialect is called unless somebody says.
DRAFTED = "mine"


class Sample(NamedTuple):
    """A dump: ``path`` in the hangar (from its root), its bytes, and the file that it is a copy
    of, ``""`` for one that is there.  ``own`` is whether it was named, so that what is wrong
    with it stops everything.  ``kept`` are other bytes that stand at its place already: they
    stay, and are what is checked.
    """

    path: str
    data: bytes
    origin: str = ""
    own: bool = True
    kept: bytes | None = None

    @property
    def craft(self) -> str:
        return stem(self.path)


class Given(NamedTuple):
    """A dialect file that was named: the name it goes by, its bytes, and where it came from."""

    name: str
    data: bytes
    origin: str
    dialect: Dialect


class Wish(NamedTuple):
    """What is asked for.  ``dialect`` is the name of a bundled dialect (or of the hangar's),
    ``given`` a file; ``teach`` is the name of one to be drafted.  ``inside`` is where the hangar
    lies in the repository around it, ``""`` at its top.
    """

    name: str
    dialect: str = ""
    given: Given | None = None
    teach: str = ""
    repo: str = ""
    hook: bool = True
    script: bool = True
    inside: str = ""


class Drafted(NamedTuple):
    """A dialect that was drafted: its path, how many questions are open, and the dumps that it
    was drafted from (paths).
    """

    path: str
    questions: int
    dumps: tuple[str, ...]


class Plan(NamedTuple):
    """What a hangar should have.

    ``lines`` are blocks that are to be added by hand to a file that is there, with what they are
    for.  ``gaps`` are the cards and how many of their lines are left out.  ``kept`` are files
    that are there and were not worked out anew.
    """

    files: tuple[Planned, ...]
    kept: tuple[str, ...]
    lines: tuple[tuple[str, str], ...]
    gaps: tuple[tuple[str, int], ...]
    draft: Drafted | None
    samples: tuple[Sample, ...]


class _Read(NamedTuple):
    """A sample and what reads it: ``dialect`` None where nothing does, ``name`` as it is to
    stand in ``cfglint.toml`` (``""``: recognised).
    """

    sample: Sample
    source: Source | None
    dialect: Dialect | None
    name: str


def given(path: str, data: bytes) -> Given:
    """A dialect file that the hangar is to have a copy of.  Raises Problem(s)."""
    from cfglint.dialect.load import bundled_names, load_dialect

    dialect = load_dialect(path, data)
    if dialect.id in bundled_names():
        raise Problem(
            f"`{dialect.id}` is the name of a bundled dialect",
            file=path,
            instead=f"say --dialect {dialect.id} to have that, or give this one another `id`",
        )
    return Given(dialect.id, data, path, dialect)


def place_of(origin: str, root: str, config: Config | None) -> str:
    """Where a dump that was named belongs in the hangar, from its root.

    One that is there already, under a name that counts as a dump's, stays where it is.  Raises
    Problem for a name that a dump of a hangar cannot have.
    """
    whole, top = os.path.realpath(origin), os.path.realpath(root)
    inside = os.path.relpath(whole, top).replace(os.sep, "/") if _below(whole, top) else ""
    if inside and (entry_of(config, inside) if config else compiled(PATTERN).fullmatch(inside)):
        return inside
    name = stem(os.path.basename(origin))
    if not name.isprintable() or name.startswith("."):
        raise Problem(
            "a dump of a hangar cannot be called so: its name begins with a dot, or holds what "
            "cannot be seen",
            file=origin,
            instead="give the file another name",
        )
    return f"dumps/{name}.dump.txt"


def _below(path: str, top: str) -> bool:
    return path.startswith(top if top.endswith(os.sep) else top + os.sep)


def entry_of(config: Config | None, file: str) -> Dumps | None:
    """The entry of ``[[dumps]]`` that a file falls to."""
    for entry in config.dumps if config is not None else ():
        if any(compiled(pattern).fullmatch(file) for pattern in entry.files):
            return entry
    return None


def card_of(config: Config | None, dump: str) -> str:
    """Where a dump's card belongs; as a new hangar has it where no entry names one."""
    entry = entry_of(config, dump)
    return (entry.card_of(dump) if entry is not None else "") or f"cards/{stem(dump)}.toml"


def plan(
    wish: Wish,
    samples: Sequence[Sample],
    facts: Mapping[str, Facts],
    *,
    root: str = "",
    config: Config | None = None,
    there: Callable[[str], bool] = lambda path: False,
    teach: Teach | None = None,
) -> Plan:
    """All files that the hangar should have, in the order in which they are to be made.

    ``facts`` are the answers by craft (see :attr:`Sample.craft`); ``there`` says whether a path
    is taken, so that nothing is worked out for a card that will not be written.  ``root`` is only
    read: the dialects that ``config`` names are below it.  Raises Problem(s).
    """
    from cfglint.cli.start_texts import hook_block
    from cfglint.cli.teach_files import sealed

    rows = [_read(wish, one, root, config) for one in samples]
    files = [Planned(one.path, one.data, one.origin) for one in samples]
    dialects: dict[str, str] = {}
    drafted: Drafted | None = None
    if wish.given is not None:
        path = f"dialects/{wish.given.name}.toml"
        files.append(Planned(path, wish.given.data, wish.given.origin))
        dialects[wish.given.name] = path
    unread = [
        row
        for row in rows
        if row.source is not None and row.dialect is None and (row.sample.own or config is None)
    ]
    if unread and teach is not None:
        name = wish.teach or DRAFTED
        path = f"dialects/{name}.toml"
        draft = teach([row.source for row in unread if row.source is not None], name)
        if not there(path):
            drafted = Drafted(path, len(draft.open), tuple(row.sample.path for row in unread))
        files.append(Planned(path, sealed(draft.text)))
        dialects[name] = path
        rows = [
            row._replace(dialect=draft.dialect, name=name) if row in unread else row for row in rows
        ]
    gaps: list[tuple[str, int]] = []
    kept: list[str] = []
    for row in rows:
        path = card_of(config, row.sample.path)
        if there(path):
            kept.append(path)
        elif path not in [one.path for one in files]:
            text, left = _card(row, facts)
            files.append(Planned(path, text.encode("utf-8")))
            gaps.append((path, left))
    lines: list[tuple[str, str]] = []
    if config is None:
        files.append(_config(wish, rows, dialects))
    else:
        kept.append(config.file)
        lines = _to_add(config, rows, dialects)
    files += _around(wish)
    if wish.hook and wish.inside:
        lines.append(
            (
                ".pre-commit-config.yaml at the top of the repository",
                hook_block(wish.repo, wish.inside),
            )
        )
    return Plan(
        tuple(files),
        tuple(dict.fromkeys(kept)),
        tuple(lines),
        tuple(gaps),
        drafted,
        tuple(samples),
    )


# ------------------------------------------------------------------ dialects


def _read(wish: Wish, sample: Sample, root: str, config: Config | None) -> _Read:
    """A sample with the dialect that reads it: asked for, the hangar's, or recognised."""
    try:
        counts = sample.data if sample.kept is None else sample.kept
        source = as_source(counts, sample.origin or sample.path)
    except Problem:
        if sample.own:
            raise
        return _Read(sample, None, None, "")
    entry = entry_of(config, sample.path)
    if entry is None or not entry.dialect:
        if wish.given is not None:
            return _Read(sample, source, wish.given.dialect, wish.given.name)
        if wish.teach and (config is None or wish.teach not in config.dialects):
            return _Read(sample, source, None, wish.teach)
    asked = "" if entry is not None and entry.dialect else wish.dialect or wish.teach
    checker = Checker(root, config, (), dialect=asked)
    try:
        return _Read(sample, source, checker.choose(entry, source), asked)
    except Problem as wrong:
        if not sample.own and wrong.exit != EXIT_UNREAD:
            return _Read(sample, None, None, "")  # the lint tells
        if checker.passed_over and sample.own:  # it might have been the one
            raise checker.passed_over[0] from None
        # Of all that can be wrong, only that nothing knows the dump is what teaching is for.
        if asked or (entry is not None and entry.dialect) or wrong.exit != EXIT_UNREAD:
            raise
        return _Read(sample, source, None, "")


def _card(row: _Read, facts: Mapping[str, Facts]) -> tuple[str, int]:
    """A card's text, and how many facts it leaves out."""
    from cfglint.cli.start_card import Facts, card_text, left_out, waits
    from cfglint.plugins import load_rules

    known = facts.get(row.sample.craft, Facts())
    waiting = None
    if row.source is not None and row.dialect is not None:
        waiting = waits(row.source, row.dialect, known, row.sample.craft, load_rules().rules)
    text = card_text(row.sample.craft, known, waiting)
    return text, len(left_out(known, waiting)) + (not known.switches and not _asks_switch(waiting))


def _asks_switch(waiting: Mapping[str, object] | None) -> bool:
    from cfglint.cli.start_card import SWITCH

    return any(one.startswith(SWITCH) for one in waiting or ())


# ------------------------------------------------------------------ cfglint.toml


def _config(wish: Wish, rows: Sequence[_Read], dialects: Mapping[str, str]) -> Planned:
    from cfglint.cli.start_texts import config

    return Planned("cfglint.toml", config(wish.name, dialects, _read_by(rows)).encode("utf-8"))


def _read_by(rows: Sequence[_Read]) -> dict[str, list[str]]:
    """The entries of a new ``cfglint.toml``: one for all dumps if one dialect reads them, else
    those that are read by name before the rest.
    """
    names = {row.name for row in rows}
    if len(names) <= 1:
        return {name: [PATTERN] for name in names or {""}}
    found: dict[str, list[str]] = {}
    for row in rows:
        name = row.name or (row.dialect.id if row.dialect is not None else "")
        if name:
            found.setdefault(name, []).append(literal(row.sample.path))
    return {**found, "": [PATTERN]}


def literal(path: str) -> str:
    """A pattern that fits this path only."""
    return "".join(f"[{char}]" if char in "*?[" else char for char in path)


def _to_add(
    config: Config, rows: Sequence[_Read], dialects: Mapping[str, str]
) -> list[tuple[str, str]]:
    """What a ``cfglint.toml`` that is there lacks: where it goes, and the lines."""
    from cfglint.cli.start_texts import entry, own
    from cfglint.tomlwrite import text as quoted

    file = from_here(os.path.join(config.root, config.file))
    found: list[tuple[str, str]] = []
    fresh = {name: path for name, path in dialects.items() if name not in config.dialects}
    if fresh and config.dialects:
        found.append((f"{file}, below [dialects]", own(fresh).partition("\n")[2]))
    elif fresh:
        found.append((file, own(fresh)))
    missed: dict[str, list[str]] = {}
    cardless: dict[int, Dumps] = {}
    for row in rows:
        fitting = entry_of(config, row.sample.path)
        if fitting is None:
            missed.setdefault(row.name, []).append(row.sample.path)
        elif not fitting.card:
            cardless[fitting.at] = fitting
    for name, paths in missed.items():
        plain = len(missed) == 1 and all(compiled(PATTERN).fullmatch(path) for path in paths)
        files = [PATTERN] if plain else [literal(path) for path in paths]
        found.append((file, entry(files, name)))
    for at, one in cardless.items():
        line = config.where("dumps", at, "files").line
        where = f"{file}, to the entry of {quoted(one.files[0])} (line {line})"
        found.append((where, 'card = "cards/{stem}.toml"\n'))
    return found


# ------------------------------------------------------------------ what stands around it


def _around(wish: Wish) -> list[Planned]:
    from cfglint.cli.start_texts import IGNORE, README, SCRIPT, pre_commit

    found = [Planned("README.md", README.format(name=wish.name).encode("utf-8"))]
    if wish.hook and not wish.inside:
        found.append(Planned(".pre-commit-config.yaml", pre_commit(wish.repo).encode("utf-8")))
    if wish.script:
        found.append(Planned(".ci/lint", SCRIPT.encode("utf-8"), runs=True))
        found.append(Planned(".gitignore", IGNORE.encode("utf-8")))
    return found
