"""Scanners kept in the user's own cache folder, so that Lark is needed once a dialect.

Nothing is read from a checked repository.  A cache that cannot be read or written is as good as
none.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cfglint.dump.grammar import Spec


def folder() -> str:
    """``$CFGLINT_CACHE``, else ``cfglint`` in the user's cache folder."""
    own = os.environ.get("CFGLINT_CACHE")
    if own:
        return own
    base = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    return os.path.join(base, "cfglint")


def read(key: str) -> Spec | None:
    """The scanner kept under a key, or None where none, or none of any use, is kept."""
    import json
    import re

    from cfglint.dump.grammar import TERMINALS, master

    try:
        with open(os.path.join(folder(), f"scanner-{key}.json"), encoding="utf-8") as file:
            rows = json.load(file)
        spec = tuple((str(name), str(pattern)) for name, pattern in rows)
        re.compile(master(spec))
    except (OSError, ValueError, TypeError, RecursionError, OverflowError, re.error):
        return None
    return spec if sorted(name for name, _ in spec) == sorted(TERMINALS) else None


def write(key: str, spec: Spec) -> None:
    """Keep a scanner; written to one side first, so that no run sees half of it."""
    import contextlib
    import json

    path = os.path.join(folder(), f"scanner-{key}.json")
    with contextlib.suppress(OSError):
        os.makedirs(folder(), exist_ok=True)
        aside = f"{path}.{os.getpid()}"
        try:
            with open(aside, "w", encoding="utf-8") as file:
                json.dump(spec, file)
            os.replace(aside, path)
        except OSError:
            os.remove(aside)
