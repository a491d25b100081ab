"""What happened to names between two versions of one dialect: renamed, removed, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.dialect.lines import find, replaced
from cfglint.dialect.versions import changes_until

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dialect.model import Dialect


class Fate(NamedTuple):
    """Names of a dialect from one version to a later one.

    ``renamed`` maps old name → new name (chains followed), ``removed`` name → why, ``boards``
    old board → new board.  ``about`` are the changes' own words.
    """

    renamed: Mapping[str, str]
    removed: Mapping[str, str]
    boards: Mapping[str, str]
    about: tuple[str, ...]

    def renamed_in(self, text: str) -> tuple[str, str, str] | None:
        """Of a line that holds a renamed name: the old name, the new one, the line with it."""
        for old, new in self.renamed.items():
            first, second = _last(old), _last(new)
            if find(text, first) is not None:
                return first, second, replaced(text, first, second)
        return None

    def removed_in(self, text: str) -> str:
        """Why a name that a line holds was removed; ``""`` where it holds none."""
        return next((why for name, why in self.removed.items() if find(text, _last(name))), "")


def between(dialect: Dialect, old: str, new: str) -> Fate:
    """The fate of names from one version to another.

    Going back to an earlier version, renames are turned round and nothing counts as removed.
    """
    seen_old = changes_until(dialect, old)
    seen_new = changes_until(dialect, new)
    back = len(seen_new) < len(seen_old)
    rows = seen_old[len(seen_new) :] if back else seen_new[len(seen_old) :]
    renamed: dict[str, str] = {}
    removed: dict[str, str] = {}
    boards: dict[str, str] = {}
    for row in rows:
        for first, second in row.get("rename", {}).items():
            _follow(renamed, first, second)
        removed |= {
            next((old_ for old_, now in renamed.items() if now == name), name): why
            for name, why in row.get("remove", {}).items()
        }
        for first, second in row.get("boards", {}).items():
            _follow(boards, first, second)
    if back:
        renamed = {second: first for first, second in renamed.items()}
        boards = {second: first for first, second in boards.items()}
        removed = {}
    about = tuple(row["about"] for row in rows if row.get("about"))
    return Fate(renamed, removed, boards, about)


def _follow(chain: dict[str, str], first: str, second: str) -> None:
    """Add a rename; a name renamed before keeps its first name as the key."""
    origin = next((old for old, now in chain.items() if now == first), first)
    chain[origin] = second


def _last(address: str) -> str:
    """The last step of an address: what of it stands in the line itself."""
    return address.rsplit(" > ", 1)[-1]
