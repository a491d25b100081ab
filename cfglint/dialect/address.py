"""Addresses: the words around a value that say which one it is.

``Drive > Least``: under the title *Drive*, behind the word *Least*.  ``N`` stands for a number
that counts (a channel, a port), ``{name}`` for a field, ``*`` for anything, ``motor*`` for a word
that begins so.  Only words and numbers are compared: blanks, joints and marks are spelling, and
so is letter case.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from operator import add
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dump.atoms import END, GLUED, cut

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

#: An atom's text, and its end, as patterns see them (see :func:`cfglint.dump.atoms.coded`): both
#: ends are blanks to a pattern, and no literal is followed by another one.
TEXT, STOP = f"[^{GLUED}{END}]*+", r"\s"
#: Any marks between two atoms; a mark is one character.
GAP = "(?:m..)*?"
ANY = f"(?:{TEXT}.)"
#: An atom that is no mark.
PLAIN = f"[wnq]{TEXT}."
#: How many atoms ``*`` may pass over: more is no line of a dump, and would take long to try.
MOST_ANY = 60
#: So many fields are tried in every length; of more, each ends where what is behind it first fits.
MOST_TRIED = 3
_PIECE = re.compile(r"\{([A-Za-z_]*)\}|(\*)(?!')|(?<![A-Z0-9])(N)(?![^\W_])|(?<![^\W_])'([^\w\s])'")
_NAMED = re.compile(r"\(\?P<(\w+)>")
_GLYPHS = "_-./"
#: Any joints, and the letters and ends of their codes.
JOINTS = f"[-m_./{GLUED}{END}]*+"
#: Pieces that are not looked up among the words of a line.
VARYING = ("field", "any", "begins", "mark")


class Segment(NamedTuple):
    """One step of an address: literal atoms and fields, in order.

    ``pieces`` are ``("word", "idle")``, ``("number", "12")``, ``("field", "low")``, ``("any", "")``
    and ``("begins", "motor")``; ``("mark", "*")``, written ``'*'``, is a mark that must stand.
    ``text`` is how it is written in the dialect file.
    """

    pieces: tuple[tuple[str, str], ...]
    text: str = ""

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(text for kind, text in self.pieces if kind == "field")

    @property
    def weight(self) -> int:
        """How much of it is literal: of two addresses that fit, the heavier counts."""
        return sum(kind not in ("field", "any") for kind, _ in self.pieces)

    @property
    def lead(self) -> tuple[str, ...]:
        """The codes, without their ends, of the words and numbers that it begins with."""
        found = []
        for kind, text in self.pieces:
            if kind in VARYING:
                break
            found.append(f"{kind[0]}{text}")
        return tuple(found)

    @property
    def literal(self) -> bool:
        """Whether nothing in it varies."""
        return _literals(self.pieces)


@cache
def _literals(pieces: tuple[tuple[str, str], ...]) -> bool:
    return all(kind not in VARYING for kind, _ in pieces)


class Address(NamedTuple):
    """A whole address; ``text`` is how it is written in the dialect file."""

    text: str
    segments: tuple[Segment, ...]

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(field for segment in self.segments for field in segment.fields)


def segment(text: str, exact: bool = False) -> Segment:
    """A segment from its text."""
    pieces: list[tuple[str, str]] = []
    at = 0
    for match in _PIECE.finditer(text):
        pieces += _literal(text[at : match.start()], exact)
        if match[4]:
            pieces.append(("mark", match[4]))
        elif not match[2]:
            pieces.append(("field", match[1] or match[3] or "_"))
        elif (
            text[match.start() - 1 : match.start()].isalnum()
            and pieces
            and pieces[-1][0] in ("word", "number")
        ):
            pieces[-1] = ("begins", f"{pieces[-1][0][0]}{pieces[-1][1]}")
        else:
            pieces.append(("any", ""))
        at = match.end()
    return Segment((*pieces, *_literal(text[at:], exact)), text.strip())


def _literal(text: str, exact: bool) -> list[tuple[str, str]]:
    return [
        (atom.kind, atom.text if exact else atom.text.lower())
        for atom in cut(text)
        if atom.kind in ("word", "number", "quoted")
    ]


def address(text: str, exact: bool = False) -> Address:
    """An address from its text; a step is marked by ``>`` between blanks."""
    parts = re.split(r"[ \t]+>[ \t]+", text.strip())
    return Address(text, tuple(segment(part, exact) for part in parts))


def regex(part: Segment, field: Callable[[str, bool, str], str]) -> str:
    """The pattern of a segment; ``field`` gives the pattern of each field's atoms.

    Behind ``*`` a field must be known by itself (``True``), or it would begin anywhere.  It is
    told the word that stands behind it, if one does.

    The group ``_run`` is empty and stands where the words behind the last ``*`` begin.
    """
    bits: list[str] = []
    last = max((at for at, (kind, _) in enumerate(part.pieces) if kind == "any"), default=-1)
    for at, (kind, text) in enumerate(part.pieces):
        if kind == "field":
            after, word = part.pieces[at + 1] if at + 1 < len(part.pieces) else ("", "")
            known = at > 0 and part.pieces[at - 1][0] == "any"
            pattern = field(text, known, word if after == "word" else "")
            bits.append(f"(?P<{text}>{pattern})" if text != "_" else pattern)
        elif kind == "any":
            # At the end it takes what is left, whatever follows.
            end = at == len(part.pieces) - 1
            bits.append(f"{ANY}*+" if end else f"{ANY}{{0,{MOST_ANY}}}?")
        elif kind == "begins":
            bits.append(re.escape(text) + TEXT + STOP)
        else:
            bits.append(re.escape(f"{kind[0]}{text}") + STOP)
        if at == last and at < len(part.pieces) - 1:
            bits[-1] += "(?P<_run>)"
    kinds = [kind for kind, _ in part.pieces]
    return once(settled(list(zip(kinds, bits, strict=True)), GAP))


def settled(bits: Sequence[tuple[str, str]], between: str) -> str:
    """The pattern of pieces, each with its kind, in time that grows with a line's length.

    What stands before another ``*`` is final once it fits: what could be found otherwise is found
    all the same.  Of more than a few fields each is final once what is behind it and the field
    after that fit, or a line would be tried in as many ways as it can be shared out among them.
    """
    parts = []
    for run in _runs(bits, "any"):
        many = sum(kind == "field" for kind, _ in run) > MOST_TRIED
        inner = _runs(run, "field") if many else [run]
        after = [f"(?={between}{_NAMED.sub('(?:', one[0][1])})" for one in inner[1:]]
        texts = [between.join(text for _, text in one) for one in inner]
        parts.append(final([*map(add, texts, after), texts[-1]], between))
    return final(parts, between)


def final(parts: Sequence[str], between: str) -> str:
    """Patterns one after another, of which only the last is tried in more than one way."""
    return between.join([*(f"(?>{one})" for one in parts[:-1]), *parts[-1:]])


def _runs(bits: Sequence[tuple[str, str]], kind: str) -> list[list[tuple[str, str]]]:
    """Pieces in runs, each of which but the first begins with one of a kind."""
    found: list[list[tuple[str, str]]] = [[]]
    for one in bits:
        if one[0] == kind and found[-1]:
            found.append([])
        found[-1].append(one)
    return found


def once(pattern: str) -> str:
    """A pattern in which only the first group of a name has it: `N` may stand twice."""
    seen: set[str] = set()

    def named(match: re.Match[str]) -> str:
        first = match[1] not in seen
        seen.add(match[1])
        return match[0] if first else "(?:"

    return _NAMED.sub(named, pattern)


def vocabulary(words: Iterable[str], exact: bool = False) -> str:
    """The pattern of written words, the longest first; joints in them are spelling."""
    return _vocabulary(tuple(words), exact)


@lru_cache(maxsize=1024)
def _vocabulary(words: tuple[str, ...], exact: bool) -> str:
    found = {}
    for word in words:
        atoms = cut(word)
        plain = [atom for atom in atoms if atom.kind != "mark"]
        bits: list[str] = []
        joined = False
        for atom in atoms:
            if plain and atom.kind == "mark" and atom.text in _GLYPHS:
                joined = True
                continue
            loose = ""
            if bits or joined:
                # Before a word a class will do, which is made and tried sooner.
                loose = JOINTS if atom.kind != "mark" else "(?:m[-_./].)*+"
            text = re.escape(atom.text if exact else atom.text.lower())
            bits.append(f"{loose}{atom.kind[0]}{text}{STOP}")
        if bits:
            found["".join(bits)] = len(word)
    return "|".join(sorted(found, key=lambda one: -found[one]))


def free(words: Iterable[str], exact: bool = False, most: int = 12) -> str:
    """The pattern of a field that holds words: those known, else as few atoms as will do.

    It begins and ends with a word, and has no more than ``most`` atoms in between.
    """
    known = vocabulary(words, exact)
    loose = f"{PLAIN}(?:{ANY}{{0,{most}}}?{PLAIN})??"
    return f"(?:{known}|{loose})" if known else loose


def index(letters: Iterable[str], exact: bool = False) -> str:
    """The pattern of a counting field: a number, or the words that stand for one."""
    known = vocabulary(letters, exact)
    return f"(?:{known})" if known else f"n0*[0-9]{{1,2}}{STOP}"


def numeric(*, comma: bool = False, thousands: str = "", base: int = 10, units: str = "") -> str:
    """The pattern of a field that holds a number, with its sign and its unit."""
    # A sign is the number's own where nothing touches it; what stands between two is a mark.
    sign = f"(?:m[$#]{STOP})?"
    if base == 16:
        # Letters and digits are atoms of their own.
        part = "[nw](?:0[xX])?[0-9A-Fa-f]*[Hh]?"
        return f"{sign}{part}(?:{GLUED}{part}){{0,8}}+{STOP}"
    mark = re.escape("," if comma else ".")
    body = f"n{TEXT}(?:{GLUED}m{mark}{GLUED}n[0-9]++)?"
    if thousands.isspace():
        body = f"(?:n[+\\-\u2212]?[0-9]{{1,3}}(?:{END}n[0-9]{{3}})++|n[^{GLUED}{END}]++)"
        body += f"(?:{GLUED}m{mark}{GLUED}n[0-9]++)?"
    elif thousands:
        grouped = f"(?:{GLUED}m{re.escape(thousands)}{GLUED}n[0-9]{{3}})*+"
        body = f"n[^{GLUED}{END}]++{grouped}(?:{GLUED}m{mark}{GLUED}n[0-9]++)?"
    return f"{sign}{body}{STOP}(?:{units}{STOP})?" if units else f"{sign}{body}{STOP}"


def said(match: re.Match[str]) -> dict[str, str]:
    """What the fields of a match say: atoms as they touched or not, joints as blanks."""
    found = {}
    for name, text in match.groupdict().items():
        if text and name != "_run":
            atoms = re.split(f"([{GLUED}{END}])", text)
            bits = [
                atom[1:] + ("" if end == GLUED else " ")
                for atom, end in zip(atoms[::2], atoms[1::2], strict=False)
            ]
            found[name] = "".join(bits).strip()
    return found
