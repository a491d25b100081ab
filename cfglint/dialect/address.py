"""Addresses: the words around a value that say which one it is.

``Drive > Least``: under the title *Drive*, behind the word *Least*.  ``N`` stands for a number
that counts (a channel, a port), ``{name}`` for a field, ``*`` for anything.  Only words and
numbers are compared: blanks, joints and marks are spelling, and so is letter case.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

from cfglint.dump.atoms import END, cut
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

#: Any marks between two atoms.
GAP = f"(?:m[^{END}]*{END})*?"
_ANY = f"(?:[wnqm][^{END}]*{END})"
#: A number as a field: a sign, decimal point or comma, thousands, and a unit at most.
NUMERIC = (
    f"(?:m[+\\-\u2212$]{END})?n[^{END}]+{END}(?:m,{END}n[^{END}]+{END})?"
    f"(?:(?:m[%‰]|w(?:us|µs|μs|ms|s|hz|khz|mhz|ghz|v|mv|cv|dv|mw|w|baud|bd|percent|k)){END})?"
)
#: A number in hexadecimal digits: letters and digits are atoms of their own.
HEX = f"[nw][^{END}]+{END}(?:[nw][^{END}]+{END}){{0,7}}"
_PIECE = re.compile(r"\{([A-Za-z_]*)\}|(\*)|(?<![^\W_])(N)(?![^\W_])")


class Segment(NamedTuple):
    """One step of an address: literal atoms and fields, in order.

    ``pieces`` are ``("word", "idle")``, ``("number", "12")``, ``("field", "low")`` and
    ``("any", "")``; ``text`` is how it is written in the dialect file.
    """

    pieces: tuple[tuple[str, str], ...]
    text: str = ""

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(text for kind, text in self.pieces if kind == "field")

    @property
    def weight(self) -> int:
        """How much of it is literal: of two addresses that fit, the heavier counts."""
        return sum(kind in ("word", "number") for kind, _ in self.pieces)


class Address(NamedTuple):
    """A whole address; ``text`` is how it is written in the dialect file."""

    text: str
    segments: tuple[Segment, ...]

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(field for segment in self.segments for field in segment.fields)


def segment(text: str) -> Segment:
    """A segment from its text."""
    pieces: list[tuple[str, str]] = []
    at = 0
    for match in _PIECE.finditer(text):
        pieces += _literal(text[at : match.start()])
        if match[2]:
            pieces.append(("any", ""))
        else:
            pieces.append(("field", match[1] or match[3] or "_"))
        at = match.end()
    return Segment((*pieces, *_literal(text[at:])), text.strip())


def _literal(text: str) -> list[tuple[str, str]]:
    return [
        (atom.kind, atom.text.lower()) for atom in cut(text) if atom.kind in ("word", "number", "quoted")
    ]


def address(text: str) -> Address:
    """An address from its text; a step is marked by ``>`` between blanks."""
    return Address(text, tuple(segment(part) for part in re.split(r"[ \t]+>[ \t]+", text.strip())))


Style = Literal["number", "any", "index"]


def regex(part: Segment, field: Callable[[str], str]) -> str:
    """The pattern of a segment; ``field`` gives the pattern of each field's atoms."""
    bits = []
    for kind, text in part.pieces:
        if kind == "field":
            bits.append(f"(?P<{text}>{field(text)})" if text != "_" else field(text))
        elif kind == "any":
            bits.append(f"{_ANY}*?")
        else:
            bits.append(re.escape(f"{kind[0]}{text}") + END)
    return GAP.join(bits)


def vocabulary(words: Iterable[str]) -> str:
    """The pattern of written words, the longest first."""
    coded = sorted({"".join(atom.code for atom in cut(word)) for word in words}, key=len, reverse=True)
    return "|".join(re.escape(one) for one in coded if one)


def free(words: Iterable[str], most: int = 12) -> str:
    """The pattern of a field that holds words: those known, else as few atoms as will do.

    ``most`` is how many atoms it may have between its first and its last one.
    """
    known = vocabulary(words)
    # Words that are nothing but a mark may stand alone; others begin and end with a word.
    loose = f"[wnq][^{END}]*{END}(?:{_ANY}{{0,{most}}}?[wnq][^{END}]*{END})??"
    return f"(?:{known}|{loose})" if known else loose


def index(names: Mapping[str, int]) -> str:
    """The pattern of a counting field: a number, or the letters that stand for one."""
    letters = vocabulary(names)
    return f"(?:{letters})" if letters else f"n[0-9]+{END}"
