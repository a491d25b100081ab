"""Order of firmware versions: in dotted parts (7.9 < 7.10) or as a decimal (3.58 < 3.6).

Which one holds is a fact about the maker, never to be guessed from the text: the same two
versions can come out either way round.

* ``dotted``: whole numbers between dots, compared part by part; 8, 8.0 and 8.0.0 are equal.
  A suffix makes it a version *before* that number: 8.0-rc1 < 8.0.  Words known: dev, alpha or
  a, beta or b, rc, c, pre or preview, in that order, upper or lower case, a number after them
  or not.  A build mark after ``+`` is left out of account.  Sources: {semver} §§10-11 and
  {pep-440}.  Where the two disagree (a suffix that begins with a number; ``dev`` after another
  word) the version is refused; words known to neither are refused as well.  Two exceptions,
  both as {pep-440} has them: ``dev`` comes first, where the alphabet of {semver} puts it between
  beta and rc; rc2 comes before rc10, where {semver} asks for rc.2 and rc.10 to see numbers in
  them.
* ``decimal``: one number with at most one dot, compared as such: 3.60 is 3.6.
  Source: {perl}.

A leading ``v`` is left out of account in both, and so is another short word that stands before the
number of every version (``H2031.6``), unless it is one of the words of a suffix; versions with
different words before them are not compared.
"""

from __future__ import annotations

import re
from typing import Literal, NamedTuple, cast

Order = Literal["dotted", "decimal"]
Operator = Literal[">=", "<=", ">", "<", "==", "!="]

#: Sorts versions of one order: the number's parts, 0 before a release or 1 for it, the suffix.
#: Keys of different orders must not be compared with each other.
Key = tuple[tuple[int, ...], int, tuple[tuple[int, int], ...]]

_RANKS = {
    "dev": 0,
    "alpha": 1,
    "a": 1,
    "beta": 2,
    "b": 2,
    "rc": 3,
    "c": 3,
    "pre": 3,
    "preview": 3,
}
_LONGEST = 64

#: The orders there are.
ORDERS: tuple[Order, ...] = ("dotted", "decimal")

# Compiled at first use (re keeps them); [0-9], because \d takes any script's digits; possessive
# where a greedy repeat of repeats could try every way of cutting the text up.
_BEFORE = r"(?:(?P<before>[A-Za-z]{1,8})[-_ ]?)?"
_DECIMAL = rf"{_BEFORE}([0-9]+)(?:\.([0-9]+))?"
_DOTTED = rf"{_BEFORE}([0-9]+(?:\.[0-9]+)*)((?:[-._]?[0-9A-Za-z]++)*+)(?:\+[0-9A-Za-z.-]+)?"
_PIECE = r"[0-9]+|[A-Za-z]+"
_CLAUSE = r"\s*(>=|<=|==|!=|>|<|=)?\s*([^\s<>=!,]+)\s*"


def order_key(text: str, order: Order) -> Key:
    """A key that sorts versions of one order; equal keys mean equal versions.

    Raises ValueError, naming the version and what is wrong with it, for text that cannot be
    placed in ``order``, and for an order that is neither ``dotted`` nor ``decimal``.
    """
    if order not in ORDERS:
        raise ValueError(f"version order {order!r} is neither 'dotted' nor 'decimal'")
    trimmed = text.strip()
    if len(trimmed) > _LONGEST:
        raise ValueError(f"version {trimmed[:20]!r}… is longer than {_LONGEST} characters")
    if order == "decimal":
        return _decimal_key(trimmed)
    return _dotted_key(trimmed)


def _before(text: str) -> str | None:
    """The word before a version's number, ``""`` for none or ``v``; None for one of a suffix."""
    found = re.match(_BEFORE, text)
    word = ((found and found["before"]) or "").lower()
    return None if word in _RANKS else "" if word == "v" else word


def _decimal_key(text: str) -> Key:
    found = re.fullmatch(_DECIMAL, text)
    if found is None or _before(text) is None:
        hint = "; with more than one dot it may be in dotted order" if text.count(".") > 1 else ""
        raise ValueError(
            f"version {text!r} cannot be ordered as a decimal: "
            f"expected one number such as 3.6{hint}"
        )
    whole, fraction = found[2], (found[3] or "").rstrip("0")
    # Digits after the point compare one by one, so that 6,7 comes before 7.
    return (int(whole), *map(int, fraction)), 1, ()


def _dotted_key(text: str) -> Key:
    found = re.fullmatch(_DOTTED, text)
    if found is None or _before(text) is None:
        raise ValueError(
            f"version {text!r} cannot be ordered in dotted parts: "
            f"expected numbers between dots such as 7.10 or 8.0-rc1"
        )
    parts = [int(part) for part in found[2].split(".")]
    while len(parts) > 1 and parts[-1] == 0:
        parts.pop()
    suffix = _suffix_key(found[2], found[3], text)
    return tuple(parts), 0 if suffix else 1, suffix


def _suffix_key(release: str, suffix: str, text: str) -> tuple[tuple[int, int], ...]:
    """Numbers before words, words by rank, fewer pieces first ({semver} §11.4)."""
    key: list[tuple[int, int]] = []
    for piece in re.findall(_PIECE, suffix):
        word = piece.lower()
        if piece.isdigit():
            if not key:
                raise ValueError(
                    f"version {text!r} cannot be ordered: a suffix that begins with a number "
                    f"means earlier to some and later to others"
                )
            key.append((0, int(piece)))
        elif word not in _RANKS:
            raise ValueError(
                f"version {text!r} cannot be ordered: nothing says whether {piece!r} comes "
                f"before or after {release}; known: {', '.join(_RANKS)}"
            )
        elif word == "dev" and key:
            raise ValueError(
                f"version {text!r} cannot be ordered: 'dev' after another word means earlier "
                f"to some and later to others"
            )
        else:
            key.append((1, _RANKS[word]))
    return tuple(key)


def compare(a: str, b: str, order: Order) -> int:
    """-1 where ``a`` is earlier than ``b``, 0 where they are equal, 1 where it is later.

    Raises ValueError as :func:`order_key` does.
    """
    first, second = order_key(a, order), order_key(b, order)
    if (one := _before(a.strip())) != (other := _before(b.strip())) and one and other:
        raise ValueError(f"versions {a!r} and {b!r} cannot be compared: {one!r} is not {other!r}")
    return (first > second) - (first < second)


class Clause(NamedTuple):
    """One bound of a range: ``>=`` and ``7.0``."""

    operator: Operator
    version: str


class VersionRange(NamedTuple):
    """Bounds that must all hold, such as ``>=7.0,<8``.  Make one with :meth:`parse`."""

    clauses: tuple[Clause, ...]

    @classmethod
    def parse(cls, text: str) -> VersionRange:
        """Read bounds between commas: ``>=``, ``<=``, ``>``, ``<``, ``==`` (or ``=``), ``!=``
        before a version; a version alone means exactly that one.

        Raises ValueError for text that is not so written.
        """
        clauses: list[Clause] = []
        for part in text.split(","):
            found = re.fullmatch(_CLAUSE, part)
            if found is None:
                raise ValueError(
                    f"version range {text!r}: {part.strip()!r} is no bound; "
                    f"write for instance >=7.0,<8"
                )
            sign, version = found[1], found[2]
            # What can be ordered as a decimal can be ordered in dotted parts too.
            order_key(version, "dotted")
            operator = "==" if sign in (None, "=") else sign
            clauses.append(Clause(cast("Operator", operator), version))
        return cls(tuple(clauses))

    def contains(self, version: str, order: Order) -> bool:
        """Whether ``version`` keeps to every bound.

        As in {pep-440}, ``<8`` leaves out 8.0-rc1: it is earlier than 8, yet it is no 7 either.
        Name a version with a suffix in the bound (``<8.0-rc2``) to take such ones in.
        Raises ValueError as :func:`order_key` does.
        """
        key = order_key(version, order)
        return all(_keeps(key, clause, order) for clause in self.clauses)

    def __str__(self) -> str:
        return ",".join(f"{clause.operator}{clause.version}" for clause in self.clauses)


def _keeps(key: Key, clause: Clause, order: Order) -> bool:
    bound = order_key(clause.version, order)
    match clause.operator:
        case ">=":
            return key >= bound
        case "<=":
            return key <= bound
        case ">":
            return key > bound
        case "<":
            before_that_release = key[0] == bound[0] and bound[1] == 1
            return key < bound and not before_that_release
        case "==":
            return key == bound
    return key != bound
