"""The rules that a command without dumps speaks of: installed, the hangar's, and named ones."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.plugins import Loaded
    from cfglint.runner.config import Config


def rules_here(paths: Sequence[str]) -> Loaded:
    """All rules, and what is wrong with any: those of the hangar that the current folder is in,
    and of the files and folders in ``paths``, besides those installed.
    """
    return hangar_at("", paths)[0]


def hangar_at(here: str, paths: Sequence[str]) -> tuple[Loaded, Config | None]:
    """As :func:`rules_here`, for the hangar that ``here`` is in (``""``: the current folder), and
    that hangar's configuration.  Raises Problem if ``here`` is said and in none.
    """
    if not here and not paths and not os.environ.get("CFGLINT_RULES") and not _in_hangar():
        from cfglint.plugins import load_rules

        return load_rules(), None  # and nothing else need be imported
    from cfglint.errors import Problem
    from cfglint.runner.config import find_root, own_config
    from cfglint.runner.here import Here
    from cfglint.runner.own_rules import rules_of_run

    folder = here if not here or os.path.isdir(here) else os.path.dirname(here)
    root, config, problems = find_root(folder), None, list[Problem]()
    if here and not (root and os.path.lexists(here)):
        raise Problem(f"--here: there is no hangar at `{here}`", instead="look at the path")
    try:
        config = own_config(root) if root else None
    except Problem as problem:
        problems.append(problem)
    both = rules_of_run(config, paths)
    problems += map(Here(root or os.getcwd()).problem, both.problems)
    return both._replace(problems=tuple(problems)), config


def _in_hangar() -> bool:
    folder = os.getcwd()
    while not os.path.lexists(os.path.join(folder, "cfglint.toml")):
        above = os.path.dirname(folder)
        if above == folder:
            return False
        folder = above
    return True
