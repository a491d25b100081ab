"""Did you mean: the nearest of some words to a mistyped one."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Longer "words" are no typing mistake (a line of a binary file, say) and are not compared.
LONGEST = 80
#: Shorter words resemble others by chance.
LEAST_SLIPPED = 5


def _plain(word: str) -> str:
    return word.casefold().replace("_", "-").replace(" ", "-")


def nearest(word: str, candidates: Iterable[str]) -> str:
    """The candidate most like ``word``, or ``""`` if none is close.

    Letter case and ``-`` against ``_`` count for nothing.  Of two equally close candidates the
    one that comes first wins, so the answer does not depend on anything but the arguments.
    """
    if not word or len(word) > LONGEST:
        return ""
    by_plain: dict[str, str] = {}
    for candidate in candidates:
        by_plain.setdefault(_plain(candidate), candidate)
    sought = _plain(word)
    if sought in by_plain:
        return by_plain[sought]
    # Slow to import, and most runs have nothing mistyped.
    from difflib import SequenceMatcher

    matcher = SequenceMatcher()
    matcher.set_seq2(sought)
    best, score = "", 0.6
    for plain, candidate in by_plain.items():
        matcher.set_seq1(plain)
        if (
            matcher.real_quick_ratio() > score
            and matcher.quick_ratio() > score
            and (ratio := matcher.ratio()) > score
        ):
            best, score = candidate, ratio
    return best


def slip_of(word: str, candidates: Iterable[str]) -> str:
    """The one candidate that ``word`` is a slip away from; ``""`` for none or several.

    One character too many, too few or another, or two in the wrong order, in a word of some length.
    A digit is never taken for a slip: one name with another number is another name.
    """
    if not LEAST_SLIPPED <= len(word) <= LONGEST:
        return ""
    found = {one for one in candidates if _one_slip(_plain(word), _plain(one))}
    return found.pop() if len(found) == 1 else ""


def _one_slip(one: str, other: str) -> bool:
    start, end = common_ends(one, other)
    left, right = one[start : len(one) - end], other[start : len(other) - end]
    if any(char.isdigit() for char in left + right):
        return False
    return max(len(left), len(right)) < 2 or (len(left) == 2 and left == right[::-1])


def suggestion(word: str, candidates: Iterable[str], *, most: int = 12) -> str:
    """What to do about a mistyped word, in one clause.

    ``did you mean `sbus`?`` if one is close, else the list of what may stand there if that is
    short, else ``""``.
    """
    pool = list(candidates)
    close = nearest(word, pool)
    if close:
        return f"did you mean `{close}`?"
    if pool and len(pool) <= most:
        return "it may be " + listing(pool)
    return ""


def listing(words: Iterable[str], joint: str = "or") -> str:
    """Words as a person lists them: `` `a`, `b` or `c` ``."""
    return listed([f"`{word}`" for word in words], joint)


def listed(words: Iterable[object], joint: str = "and") -> str:
    """Words in a sentence: ``arm``, ``arm and beacon``, ``arm, beacon and lights``."""
    *first, last = [str(word) for word in words] or [""]
    return f"{', '.join(first)} {joint} {last}" if first else last


def common_ends(one: str, other: str) -> tuple[int, int]:
    """How many characters two texts share at their beginning, and at the end of what is left."""
    most = min(len(one), len(other))
    start = next((at for at in range(most) if one[at] != other[at]), most)
    left = most - start
    return start, next((at for at in range(left) if one[-1 - at] != other[-1 - at]), left)
