"""Exact sets of numbers made of intervals, with ends that belong to them or do not.

A set is kept as a rising list of *cuts*.  The cut ``(v, 0)`` lies just before the number v,
``(v, 1)`` just after it, so that every interval, whatever its ends, runs from one cut to
another and all set algebra is one merge of two sorted lists.  Nothing is rounded: ints, floats
and fractions compare with each other exactly.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from fractions import Fraction

    Number = float | Fraction  # an int counts as a float
    Cut = tuple[Number, int]

Ends = Literal["closed", "half-open", "open", "high-only"]

#: Which ends belong to an interval: (the low one, the high one).
_ENDS: dict[str, tuple[bool, bool]] = {
    "closed": (True, True),
    "half-open": (True, False),
    "open": (False, False),
    "high-only": (False, True),
}


class Piece(NamedTuple):
    """One unbroken interval; ``low_in`` and ``high_in`` say whether its ends belong to it."""

    low: Number
    high: Number
    low_in: bool
    high_in: bool

    def __str__(self) -> str:
        if self.low == self.high:
            return f"{float(self.low):g}"
        left = "[" if self.low_in else "("
        right = "]" if self.high_in else ")"
        return f"{left}{float(self.low):g}, {float(self.high):g}{right}"


class Intervals:
    """An unchanging set of numbers; equal sets compare equal and hash alike.

    Make one with :func:`between`, :func:`point` or :func:`union`; combine with ``|``, ``&``,
    ``-`` and ``^``; ask ``x in s``, ``s <= t`` (part of), ``bool(s)``; go through its pieces
    by iteration, lowest first.
    """

    __slots__ = ("_cuts",)

    def __init__(self, cuts: tuple[Cut, ...] = ()) -> None:
        # Trusted: rising strictly and even in number.  Outsiders use between() and union().
        self._cuts = cuts

    @property
    def cuts(self) -> tuple[Cut, ...]:
        """The rising cuts: pieces begin at the first, third … and end at the second, fourth …"""
        return self._cuts

    @property
    def is_empty(self) -> bool:
        return not self._cuts

    def __bool__(self) -> bool:
        return bool(self._cuts)

    @property
    def low(self) -> Number:
        """The lowest end (belonging to the set or not).  Raises ValueError when empty."""
        if not self._cuts:
            raise ValueError("an empty set has no low end")
        return self._cuts[0][0]

    @property
    def high(self) -> Number:
        """The highest end (belonging to the set or not).  Raises ValueError when empty."""
        if not self._cuts:
            raise ValueError("an empty set has no high end")
        return self._cuts[-1][0]

    def __iter__(self) -> Iterator[Piece]:
        cuts = self._cuts
        for index in range(0, len(cuts), 2):
            (low, after), (high, past) = cuts[index], cuts[index + 1]
            yield Piece(low, high, not after, bool(past))

    def __len__(self) -> int:
        """How many unbroken pieces the set has."""
        return len(self._cuts) // 2

    def __contains__(self, number: Number) -> bool:
        from bisect import bisect_right

        # The number itself lies between its two cuts, so only the first can be at or below it.
        return bisect_right(self._cuts, (number, 0)) % 2 == 1

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Intervals) and self._cuts == other._cuts

    def __hash__(self) -> int:
        return hash(self._cuts)

    def __or__(self, other: Intervals) -> Intervals:
        if not self._cuts or not other._cuts:
            return self if self._cuts else other
        return _merge(self, other, lambda a, b: a or b)

    def __and__(self, other: Intervals) -> Intervals:
        if _apart(self._cuts, other._cuts):
            return EMPTY
        return _merge(self, other, lambda a, b: a and b)

    def __sub__(self, other: Intervals) -> Intervals:
        if _apart(self._cuts, other._cuts):
            return self
        return _merge(self, other, lambda a, b: a and not b)

    def __xor__(self, other: Intervals) -> Intervals:
        return _merge(self, other, lambda a, b: a != b)

    def __le__(self, other: Intervals) -> bool:
        return (self - other).is_empty

    def __ge__(self, other: Intervals) -> bool:
        return (other - self).is_empty

    def complement(self, span: Intervals) -> Intervals:
        """What of ``span`` is not in this set."""
        return span - self

    def overlaps(self, other: Intervals) -> bool:
        return not (self & other).is_empty

    @property
    def edges(self) -> tuple[Number, ...]:
        """Where the set begins or ends, rising, each number once."""
        return tuple(dict.fromkeys(value for value, _ in self._cuts))

    def distance(self, number: Number) -> Number | None:
        """How far a number lies from the nearest edge, from inside or outside; None if empty."""
        best: Number | None = None
        for edge in self.edges:
            gap: Number = number - edge if number > edge else edge - number
            if best is None or gap < best:
                best = gap
        return best

    def mapped(self, rising: Callable[[Number], Number]) -> Intervals:
        """The set's image under a function that rises strictly and without a jump."""
        return Intervals(tuple((rising(value), side) for value, side in self._cuts))

    def __str__(self) -> str:
        return " ∪ ".join(str(piece) for piece in self) or "nothing"

    def __repr__(self) -> str:
        return f"<Intervals {self}>"


def _apart(first: tuple[Cut, ...], second: tuple[Cut, ...]) -> bool:
    """Whether two sets have nothing in common because one ends before the other begins."""
    return not first or not second or first[-1] <= second[0] or second[-1] <= first[0]


def _merge(one: Intervals, two: Intervals, keep: Callable[[bool, bool], bool]) -> Intervals:
    """Walk both lists of cuts at once; put a cut wherever ``keep`` changes its mind."""
    first, second = one._cuts, two._cuts
    cuts: list[Cut] = []
    i = j = 0
    inside = False
    while i < len(first) or j < len(second):
        if j == len(second) or (i < len(first) and first[i] < second[j]):
            cut = first[i]
            i += 1
        else:
            cut = second[j]
            if i < len(first) and first[i] == cut:
                i += 1
            j += 1
        if keep(i % 2 == 1, j % 2 == 1) is not inside:
            inside = not inside
            cuts.append(cut)
    return Intervals(tuple(cuts))


EMPTY = Intervals()


def between(low: Number, high: Number, ends: Ends = "closed") -> Intervals:
    """The numbers from ``low`` to ``high``.

    ``ends`` says which ends belong: ``closed`` both, ``half-open`` the low one, ``high-only``
    the high one, ``open`` neither.  Ends the wrong way round hold nothing.  Raises ValueError
    for a number that is not one (NaN).
    """
    # Only NaN differs from itself.
    if not (low == low and high == high):
        raise ValueError("an interval cannot end at a number that is not one")
    # Fractions compare with whole numbers far sooner than with floats.
    low, high = (int(end) if end % 1 == 0 else end for end in (low, high))
    low_in, high_in = _ENDS[ends]
    start, stop = (low, 0 if low_in else 1), (high, 1 if high_in else 0)
    return Intervals((start, stop)) if start < stop else EMPTY


def point(number: Number) -> Intervals:
    """The set of one number."""
    return between(number, number)


def union(sets: Iterable[Intervals]) -> Intervals:
    """All the numbers that are in any of the sets."""
    whole = EMPTY
    for item in sets:
        whole = whole | item
    return whole
