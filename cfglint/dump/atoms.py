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
_KINDS: dict[str | None, Kind] = {
    "WORD": "word",
    "NUMBER": "number",
    "QUOTED": "quoted",
    "MARK": "mark",
}
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
    return [
        Atom(_KINDS[match.lastgroup], match[0], *match.span())
        for match in _pattern().finditer(text, start, len(text) if end is None else end)
        if match.lastgroup != "BLANK"
    ]


def coded(atoms: Sequence[Atom], exact: bool = False) -> tuple[str, list[int]]:
    """The text that patterns are matched against, and where each atom begins in it.

    An atom is a letter for its kind, its text (in lower case, unless capitals count), and an end.
    """
    starts, at, code, before = [], 0, "", -1
    parts: list[str] = []
    for kind, text, start, stop in atoms:
        if parts:
            parts.append(GLUED if start == before else END)
        part = _LETTER[kind] + (text if exact else text.lower())
        if GLUED in part or END in part:
            part = part.translate(_ENDS)
        starts.append(at)
        parts.append(part)
        at += len(part) + 1
        before = stop
    starts.append(at)
    code = "".join(parts)
    return (code + END if parts else code), starts
