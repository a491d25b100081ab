"""The rules that a command without dumps speaks of: installed, the hangar's, and named ones."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.plugins import Loaded


def rules_here(paths: Sequence[str]) -> Loaded:
    """All rules, and what is wrong with any: those of the hangar that the current folder is in,
    and of the files and folders in ``paths``, besides those installed.
    """
    from cfglint.plugins import load_rules

    loaded = load_rules()
    if not paths and not os.environ.get("CFGLINT_RULES") and not _in_hangar():
        return loaded  # and nothing else need be imported
    from cfglint.errors import Problem
    from cfglint.runner.config import NAME, find_root, read_config
    from cfglint.runner.own_rules import with_own_rules

    root, config, problems = find_root("."), None, list(loaded.problems)
    try:
        config = read_config(os.path.join(root, NAME)) if root else None
    except Problem as problem:
        problems.append(problem)
    return with_own_rules(loaded._replace(problems=tuple(problems)), config, paths)


def _in_hangar() -> bool:
    folder = os.getcwd()
    while not os.path.lexists(os.path.join(folder, "cfglint.toml")):
        above = os.path.dirname(folder)
        if above == folder:
            return False
        folder = above
    return True
