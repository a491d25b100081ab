"""Rules besides the installed ones: the hangar's own files, and folders named on purpose.

Files of TOML run no code, so a hangar may name them.  Python is run only where whoever starts the
run says so, by ``--rules`` or in ``CFGLINT_RULES``; a repository that is checked cannot.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint import plugins
from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cfglint.plugins import Loaded, Plug
    from cfglint.runner.config import Config

#: Names paths of rules for every run, divided as in ``PATH``.
VARIABLE = "CFGLINT_RULES"


def rules_of_run(config: Config | None, paths: Sequence[str] = ()) -> Loaded:
    """The rules of all plug-ins: the installed ones, the hangar's files, and those of ``paths`` and
    :data:`VARIABLE`.

    What is wrong with a file is in ``problems``, where it is named from the hangar's root or by
    its whole path; the others still count.
    """
    named = [*paths, *filter(None, os.environ.get(VARIABLE, "").split(os.pathsep))]
    if not named and (config is None or not config.rule_files):
        return plugins.load_rules()
    problems: list[Problem] = []
    own: dict[str, Plug] = {}
    if config is not None:
        for plug in _of_hangar(config, problems.append):
            own.setdefault(plug.name, plug)
    for path in named:
        for plug in _named(path, problems.append):
            own.setdefault(plug.name, plug)
    loaded = plugins.load_rules(own=own.values())
    return loaded._replace(problems=(*problems, *loaded.problems))


def _named(path: str, tell: Callable[[Problem], None]) -> Iterator[Plug]:
    from cfglint.rulefiles import plug_of, rule_files

    # Whole paths, since names of the hangar's files start elsewhere than those typed.
    whole = os.path.abspath(path)
    try:
        files = rule_files(whole)
    except Problem as problem:
        tell(problem)
        return
    if not files:
        tell(Problem("no file of rules is in this folder", file=whole, instead="look at the path"))
    yield from map(plug_of, files)


def _of_hangar(config: Config, tell: Callable[[Problem], None]) -> Iterator[Plug]:
    from cfglint.rulefiles import plug_of
    from cfglint.runner.discover import fitting
    from cfglint.runner.reading import check_within

    for at, pattern in enumerate(config.rule_files):
        files = fitting(config, pattern)
        if not files:
            path = ("hangar", "rule_files")
            one = isinstance(config.document.data["hangar"]["rule_files"], str)
            tell(
                Problem(
                    f"`{pattern}` fits no file of rules",
                    span=config.where(*path) if one else config.where(*path, at),
                    instead="look at the folder's name, or take the pattern out",
                )
            )
        for file in files:
            shown = os.path.relpath(file, config.root).replace(os.sep, "/")
            try:
                check_within(config.root, file, shown)
            except Problem as problem:
                tell(problem)
            else:
                yield plug_of(file, shown, "hangar")
