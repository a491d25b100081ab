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

#: What ends an atom in the text that patterns are matched against: one that the next atom touches,
#: and any other.  No atom holds them, since they are taken out of its own text.
GLUED, END = "\x1d", "\x1e"
_LETTER = {"word": "w", "number": "n", "quoted": "q", "mark": "m"}
_ENDS = str.maketrans(GLUED + END, "  ")


class Atom(NamedTuple):
    """One atom; ``start`` and ``end`` count characters of its line from 0, end exclusive."""

    kind: Kind
    text: str
    start: int
    end: int


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


def coded(atoms: Sequence[Atom], exact: bool = False) -> tuple[str, list[int]]:
    """The text that patterns are matched against, and where each atom begins in it.

    An atom is a letter for its kind, its text (in lower case, unless capitals count), and an end.
    """
    starts, at, parts = [], 0, []
    last = len(atoms) - 1
    for number, (kind, text, _, stop) in enumerate(atoms):
        glued = number < last and atoms[number + 1].start == stop
        plain = text if exact else text.lower()
        part = f"{_LETTER[kind]}{plain.translate(_ENDS)}{GLUED if glued else END}"
        starts.append(at)
        parts.append(part)
        at += len(part)
    starts.append(at)
    return "".join(parts), starts
