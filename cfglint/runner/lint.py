"""The run of ``cfglint lint``: discover, select, check every dump, and put it together."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple, cast

from cfglint.apart import SECONDS
from cfglint.errors import Problem, raise_all
from cfglint.prints import of_file
from cfglint.results import Run, Trouble
from cfglint.runner.check import Checked, Checker, as_troubles, is_path
from cfglint.runner.discover import discover
from cfglint.runner.fleet import check_fleet, divide
from cfglint.runner.here import Here
from cfglint.runner.own_rules import rules_of_run
from cfglint.runner.select import select

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from cfglint.results import Aside, CraftLine, Found
    from cfglint.rule import Grade
    from cfglint.runner.accept import Accept
    from cfglint.runner.config import Config
    from cfglint.runner.discover import Dump, Finds

    #: Told how many files were checked, of how many, and which is next.
    Tell = Callable[[int, int, str], object]

#: From this many files on, a second process saves more than it costs to start.
POOL_FROM = 33


class Request(NamedTuple):
    """What is asked of a run; empty texts where the hangar or the dumps decide.

    ``dialect`` is a name or the path of a dialect file, ``only`` and ``without`` are rules or
    concerns, ``processes`` how many to use (0: as many as pay), ``hashes`` asks for the line
    hashes that SARIF carries, ``debug`` for whole tracebacks of crashed rules.  ``today`` is the
    date (``2026-11-25``) that accepts are held against, if not the day of the run.  ``rules`` are
    files and folders of rules, whose Python is run.  ``stdin_name`` is the file that standard
    input counts as, if a path is ``-``.  ``tell`` is called before each file is checked, with how
    many were, how many there are, and its name.  ``seconds`` is how long a rule of others may
    take on one craft.
    """

    paths: Sequence[str] = ()
    config: str = ""
    dialect: str = ""
    card: str = ""
    only: Sequence[str] = ()
    without: Sequence[str] = ()
    floor: str = ""
    hashes: bool = False
    debug: bool = False
    processes: int = 0
    today: str = ""
    rules: Sequence[str] = ()
    stdin_name: str = ""
    tell: Tell | None = None
    seconds: float = SECONDS


def lint(request: Request) -> Run:
    """Check what the request names.

    Raises Problem(s) for wrong use and wrong configuration, before anything is checked; they name
    files from the current folder.  Everything that is wrong with single files is in the run's
    troubles, which name them from its root.
    """
    paths = request.paths or ([os.path.dirname(request.config) or "."] if request.config else ["."])
    found = discover(paths, request.config, request.stdin_name)
    try:
        return _lint(request, paths, found)
    except Problem as problem:
        raise Here(found.root).problem(problem) from None


def _lint(request: Request, paths: Sequence[str], found: Finds) -> Run:
    _check_named(request, found.config)
    loaded = rules_of_run(found.config, request.rules)
    chosen = select(loaded.rules, found.config, request.only, request.without)
    if chosen.problems:
        # A rule may seem not to be there because its pack did not load.
        raise_all([*loaded.problems, *chosen.problems])
    own, fleet_rules = divide(chosen.rules)
    checker = Checker(
        found.root,
        found.config,
        own,
        dialect=request.dialect,
        card=request.card,
        hashes=request.hashes,
        debug=request.debug,
        seconds=request.seconds,
    )
    checker.load_named()
    accepts = _accepts(found.config)
    checker.accepted_settings = tuple({one.setting for one in accepts if one.setting})
    others: list[CraftLine] = []
    if fleet_rules or accepts:
        checked, others = check_fleet(
            checker,
            found,
            fleet_rules,
            lambda dumps: _check_all(checker, dumps, request.processes, request.tell),
        )
    else:
        checked = _check_all(checker, found.dumps, request.processes, request.tell)
    troubles = list(found.troubles)
    for problem in loaded.problems:
        troubles += as_troubles(problem)
    troubles += _gather(found.root, found.dumps, checked)
    aside: tuple[Aside, ...] = ()
    if request.floor or found.config is not None:
        from cfglint.runner.aside import of_run

        aside = tuple(of_run(loaded.rules, chosen.rules, found.config, request.floor))
    floor = request.floor or (found.config.floor if found.config is not None else "") or "advise"
    run = Run(
        found.root,
        tuple(one.rule for one in chosen.rules),
        tuple(one.craft for one in checked if one.craft is not None),
        tuple(verdict for one in checked for verdict in one.verdicts),
        tuple(troubles),
        cast("Grade", floor),
        tuple(dict.fromkeys((*aside, *(row for one in checked for row in one.aside)))),
    )
    crafts = (*run.crafts, *others)
    accepts = (*(note for one in checked for note in one.accepts), *accepts)
    if accepts:
        from cfglint.runner.accept_run import with_accepts

        whole = found.root in map(os.path.abspath, paths) and all(one.craft for one in checked)
        run = with_accepts(
            run, accepts, loaded.rules, checked, whole=whole, crafts=crafts, now=request.today
        )
    alike = _alike(crafts)
    return told_apart(run, alike) if alike else run


def _alike(crafts: Sequence[CraftLine]) -> set[str]:
    """The dumps whose fingerprints are made with what those of another are made with."""
    homes: dict[str, list[str]] = {}
    for one in crafts:
        homes.setdefault(one.home, []).append(one.file)
    return {file for files in homes.values() if len(files) > 1 for file in files}


def told_apart(run: Run, files: Collection[str]) -> Run:
    """The run, in which the fingerprints of these dumps hold in each dump only: a copy of a dump
    beside it must not pass for it.
    """

    def apart(found: Found) -> Found:
        cause = found.cause and of_file(found.cause, found.file)
        return found._replace(print=of_file(found.print, found.file), cause=cause)

    return run._replace(
        verdicts=tuple(
            one._replace(found=tuple(map(apart, one.found))) if one.file in files else one
            for one in run.verdicts
        )
    )


def _accepts(config: Config | None) -> tuple[Accept, ...]:
    """The accepts in the hangar's files, if it has any."""
    from cfglint.runner.config import ACCEPTED

    if config is None or not (
        "accept" in config.document.data or os.path.lexists(os.path.join(config.root, ACCEPTED))
    ):
        return ()
    from cfglint.runner.accept_file import read_accepts

    return read_accepts(config)


def _check_named(request: Request, config: Config | None) -> None:
    """A dialect and a card named on the command line must be there before anything is read."""
    from cfglint.near import suggestion

    for option, path in (("--dialect", request.dialect), ("--card", request.card)):
        if option == "--card" or is_path(path):
            if path and not os.path.lexists(path):
                raise Problem(f"{option}: there is no file `{path}`", instead="look at the path")
        elif path:
            from cfglint.dialect.load import bundled_names
            from cfglint.runner.config import own_dialects

            known = [*own_dialects(config), *bundled_names()]
            if path not in known:
                raise Problem(
                    f"--dialect: there is no dialect `{path}`",
                    instead=suggestion(path, known) or "name its file, as in `mine.toml`",
                )


def _gather(root: str, dumps: Sequence[Dump], checked: Sequence[Checked]) -> list[Trouble]:
    """The troubles of all files; what is wrong with a shared card or dialect is told once, with
    the dumps that were not checked for it.
    """
    shared: dict[Trouble, list[str]] = {}
    for dump, one in zip(dumps, checked, strict=True):
        for trouble in one.troubles:
            shared.setdefault(trouble, [])
            if one.craft is None and trouble.file != dump.file:
                shared[trouble].append(dump.file)
    troubles: list[Trouble] = []
    for trouble, files in shared.items():
        if files:
            names = ", ".join(map(Here(root).file, files[:5]))
            names += f" and {len(files) - 5} more" if files[5:] else ""
            trouble = trouble._replace(message=f"{trouble.message} (so not checked: {names})")  # noqa: PLW2901
        troubles.append(trouble)
    return troubles


# ------------------------------------------------------------------ several files


def _check_all(
    checker: Checker, dumps: Sequence[Dump], processes: int, tell: Tell | None
) -> list[Checked]:
    if not processes:
        processes = _processors() if len(dumps) >= POOL_FROM else 1
    processes = min(processes, len(dumps))
    if processes > 1 and hasattr(os, "fork"):
        from cfglint.runner.pool import check_in_parallel

        return check_in_parallel(checker, dumps, processes, tell)
    import gc

    # Trees and records hold no cycles; looking for some takes longer the more there are.
    collecting = gc.isenabled()
    gc.disable()
    try:
        checked: list[Checked] = []
        for dump in dumps:
            if tell is not None:
                tell(len(checked), len(dumps), dump.file)
            checked.append(checker.check(dump))
        return checked
    finally:
        if collecting:
            gc.enable()


def _processors() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1
