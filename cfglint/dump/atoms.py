"""Atoms: the words, numbers, quoted texts and marks that one line is cut into.

The grammar is ``grammars/atoms.lark``, the same for every dialect.  As for whole lines, the
pattern used at run time is derived from Lark's own terminals and shipped; tests hold the two to
the same atoms.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Literal

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

Kind = Literal["word", "number", "quoted", "mark"]

#: Ends each atom in the text that patterns are matched against; no dump's line can hold it, since
#: it is taken out of the atoms' own text.
END = "\x1e"
_LETTER = {"word": "w", "number": "n", "quoted": "q", "mark": "m"}


class Atom(NamedTuple):
    """One atom; ``start`` and ``end`` count characters of its line from 0, end exclusive."""

    kind: Kind
    text: str
    start: int
    end: int

    @property
    def code(self) -> str:
        """The atom as patterns see it: a letter for its kind, its text in lower case, an end."""
        return f"{_LETTER[self.kind]}{self.text.lower().replace(END, ' ')}{END}"


@cache
def _pattern() -> re.Pattern[str]:
    from cfglint.dump.grammar import master
    from cfglint_grammars.scanners import ATOMS

    return re.compile(master(ATOMS))


def cut(text: str, start: int = 0, end: int | None = None) -> list[Atom]:
    """The atoms of a line's characters from ``start`` to ``end``; blanks make none."""
    found = []
    for match in _pattern().finditer(text, start, len(text) if end is None else end):
        kind = match.lastgroup
        if kind != "BLANK":
            assert kind is not None
            found.append(Atom(kind.lower(), match.group(), match.start(), match.end()))  # type: ignore[arg-type]
    return found


def coded(atoms: Sequence[Atom]) -> tuple[str, list[int]]:
    """The text that patterns are matched against, and where each atom begins in it."""
    starts, at, parts = [], 0, []
    for atom in atoms:
        starts.append(at)
        part = atom.code
        parts.append(part)
        at += len(part)
    starts.append(at)
    return "".join(parts), starts
