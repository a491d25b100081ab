"""Atoms: the words, numbers, quoted texts and marks that one line is cut into.

The grammar is ``grammars/atoms.lark``, the same for every dialect.  As for whole lines, the
pattern used at run time is derived from Lark's own terminals and shipped; tests hold the two to
the same atoms.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Literal, NamedTuple

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


@cache
def _texts() -> re.Pattern[str]:
    """The same without groups: all it says is where one atom ends and the next begins."""
    return re.compile(re.sub(r"\(\?P<[A-Z]+>", "(?:", _pattern().pattern))


#: What kind of atom a text is (blanks: none), which the text alone decides; dumps repeat theirs.
_KNOWN: dict[str, Kind | None] = {}
#: Texts beyond these are not kept.
_MOST_KNOWN, _LONGEST_KNOWN = 20_000, 40


def _kind(text: str) -> Kind | None:
    match = _pattern().fullmatch(text)
    found = _KINDS.get(match.lastgroup) if match is not None else "mark"
    if len(text) <= _LONGEST_KNOWN:
        if len(_KNOWN) >= _MOST_KNOWN:
            _KNOWN.clear()
        _KNOWN[text] = found
    return found


def cut(text: str, start: int = 0, end: int | None = None) -> list[Atom]:
    """The atoms of a line's characters from ``start`` to ``end``; blanks make none."""
    # A dump has thousands of atoms, so they are made without the constructor's own call.
    new, known = tuple.__new__, _KNOWN
    found: list[Atom] = []
    at = start
    for one in _texts().findall(text, start, len(text) if end is None else end):
        kind = known[one] if one in known else _kind(one)
        stop = at + len(one)
        if kind is not None:
            found.append(new(Atom, (kind, one, at, stop)))
        at = stop
    return found


#: The code of a text, in lower case.
_CODES: dict[str, str] = {}


def _code(kind: Kind, text: str, exact: bool) -> str:
    code = text if exact else text.lower()
    if GLUED in code or END in code:
        code = code.translate(_ENDS)
    code = _LETTER[kind] + code
    if not exact and len(text) <= _LONGEST_KNOWN:
        if len(_CODES) >= _MOST_KNOWN:
            _CODES.clear()
        _CODES[text] = code
    return code


def codes(
    atoms: Sequence[Atom], exact: bool = False
) -> tuple[str, list[int], list[str], list[int]]:
    """The text that patterns are matched against, where each atom begins in it, the codes of the
    atoms that are no marks, and their numbers among all.

    An atom is a letter for its kind, its text (in lower case, unless capitals count), and an end.
    """
    starts, at, before = [0], 0, -1
    code = ""
    plain: list[str] = []
    places: list[int] = []
    known = {} if exact else _CODES
    for place, (kind, text, start, stop) in enumerate(atoms):
        part = known.get(text) or _code(kind, text, exact)
        if kind != "mark":
            plain.append(part)
            places.append(place)
        if place:
            code += GLUED if start == before else END
        code += part
        at += len(part) + 1
        starts.append(at)
        before = stop
    return (code + END if code else code), starts, plain, places


def coded(atoms: Sequence[Atom], exact: bool = False) -> tuple[str, list[int]]:
    """The text that patterns are matched against, and where each atom begins in it."""
    return codes(atoms, exact)[:2]
