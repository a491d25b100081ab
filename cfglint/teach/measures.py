"""Numbers in a firmware's own measure: hexadecimal, halves of a microsecond, percent, steps.

What a step is, or which pulse is 0 %, stands anywhere in a text: a comment, a title, a line at the
foot of a table.  A measure that a text tells and that makes pulses of every number is taken.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.codes import figure, is_hex

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_PLAIN = re.compile(r"([+\-\u2212]?\d+(?:[.,]\d+)?)[ ]?(?:%|us|µs|μs)?")
#: Rows that may say what a step, a percent or a unit of the firmware's own is.
_SAYS = re.compile(
    r"(?i)(?<![^\W\d_])(?:steps?|ticks?|counts?|units?|each|every|per ?cent|pct|percentages?|half"
    r"|halves|tenths?|nanoseconds?|ns|scale|raw|throw|travel|resolution|zero)(?![^\W\d_])"
    r"|(?<!\d)0 ?%|[+\-]?100 ?%|0[.,]\d+ ?(?:us|µs)"
)
_HALVES = re.compile(
    r"(?i)(?:half|halves)[ \-]+(?:of )?(?:an? )?(?:us|µs|micro)"
    r"|(?<![\d.,])(?:0[.,]5|1/2|½) ?(?:us|µs|micro)"
    r"|2 (?:ticks|counts|steps|units) (?:per|to|a|an|make|=) ?(?:the |an? )?(?:us|µs|micro)"
)
_TENTHS = re.compile(
    r"(?i)tenths?[ \-]+(?:of )?(?:an? )?(?:us|µs|micro)|(?<![\d.,])0[.,]1 ?(?:us|µs|micro)"
)
_NANOS = re.compile(r"(?i)nanoseconds?|(?<![^\W_])ns(?![^\W_])")
_SIGN = r"(?:%|pct|percent|per cent)"
#: Which pulse is 0 % and how far 100 % goes, the percent first or the pulse.
_ZERO = (
    re.compile(rf"(?i)(?<![\d.,+\-])0 ?{_SIGN}[^\d]{{0,16}}(\d{{4}})"),
    re.compile(rf"(?i)(\d{{4}}) ?(?:us|µs)?[^\d]{{0,12}}(?<![\d.,])0 ?{_SIGN}"),
)
_FULL = (
    re.compile(rf"(?i)100 ?{_SIGN}[^\d]{{0,20}}(\d{{3,4}})"),
    re.compile(rf"(?i)(\d{{3,4}}) ?(?:us|µs)?[^\d]{{0,12}}100 ?{_SIGN}"),
)
#: What pulses of sticks and switches can be, in µs (common practice).
LEAST, MOST = 600.0, 2400.0


class Measure(NamedTuple):
    """A pulse is ``offset + scale × number``, in µs; ``told`` where a text says so.

    ``plain``: it says it outright, which pulse is 0 % and which is 100 %.
    """

    offset: float
    scale: float
    told: bool
    plain: bool = False

    def keys(self, half: bool = False) -> dict[str, Any]:
        """The keys of a field's codec; half a width has no offset."""
        out: dict[str, Any] = {}
        if self.offset and not half:
            out["offset"] = whole(self.offset)
        if self.scale != 1:
            out["scale"] = whole(self.scale)
        return out


class Numbers(NamedTuple):
    """A column's numbers and the base that they are written in."""

    values: tuple[float, ...]
    base: int

    def keys(self) -> dict[str, Any]:
        return {"base": 16} if self.base == 16 else {}


PLAIN = Measure(0, 1, told=True)


def whole(value: float) -> float:
    value = round(value, 9)
    return int(value) if value == int(value) else value


def numbers_of(texts: Sequence[str], comma: bool, bare: bool) -> list[Numbers]:
    """The ways to read a column as numbers: decimal, and hexadecimal where it may be."""
    if not texts:
        return []
    out = []
    found = [_PLAIN.fullmatch(text.strip()) for text in texts]
    if all(found) and (comma or not any("," in text for text in texts)):
        values = tuple(
            float(m[1].replace("\u2212", "-").replace(",", ".")) for m in found if m is not None
        )
        out.append(Numbers(values, 10))
    led = any(len(text) > 1 and text.startswith("0") for text in texts)
    if is_hex(texts, bare) and (not out or bare):
        hexed = Numbers(tuple(float(figure(text)) for text in texts), 16)
        out = [hexed, *out] if led else [*out, hexed]
    return out


def saying(texts: Iterable[str]) -> list[str]:
    """The texts that may tell a measure."""
    return list(dict.fromkeys(text for text in texts if _SAYS.search(text)))


@lru_cache(maxsize=8)
def measures_of(notes: tuple[str, ...], comma: bool) -> Sequence[Measure]:
    """The measures that texts tell, the plain one first."""
    out = [PLAIN]
    for text in notes:
        if _HALVES.search(text):
            out.append(Measure(0, 0.5, told=True))
        if _TENTHS.search(text):
            out.append(Measure(0, 0.1, told=True))
        if _NANOS.search(text):
            out.append(Measure(0, 0.001, told=True))
        values = _figures(text, comma)
        out += _percents(text)
        out += [
            Measure(offset, step, told=True)
            for offset in values
            for step in values
            if 600 <= offset <= 1600 and 0 < step <= 60
        ]
        out += [Measure(0, step, told=True) for step in values if step in (2, 4, 5, 8, 10, 20)]
    return list(dict.fromkeys(out))


def _percents(text: str) -> list[Measure]:
    """`0 % is 1500, 100 % is 2012` and `0% 1500us ; 100% 700us either way`."""
    out: list[Measure] = []
    for zero, full in zip(_ZERO, _FULL, strict=True):
        first, last = zero.search(text), full.search(text)
        if first is not None and last is not None and not out:
            begin, end = float(first[1]), float(last[1])
            span = end - begin if end > begin else end
            out += (
                [Measure(begin, span / 100, told=True, plain=True)] if 100 <= span <= 2000 else []
            )
    return out


def _figures(text: str, comma: bool) -> list[float]:
    bare = re.sub(r"(?<=\d)[ \u202f\xa0](?=\d{3}(?!\d))", "", text)
    pattern = r"(?<![\w.,])\d+(?:[.,]\d+)?" if comma else r"(?<![\w.])\d+(?:\.\d+)?"
    return [float(one.replace(",", ".")) for one in re.findall(pattern, bare)]


def pulses(numbers: Numbers, measure: Measure) -> list[float]:
    return [round(measure.offset + measure.scale * value, 6) for value in numbers.values]


def likeliest(
    low: Numbers, high: Numbers, measures: Sequence[Measure], *, half: bool = False
) -> Measure | None:
    """The measure by which all pairs are ends of a range (or a centre and half a width).

    Numbers that are pulses as they stand are; of several measures that fit, the one by which ends
    reach furthest: switches use all of their travel.
    """
    fitting: list[tuple[float, Measure]] = []
    for one in measures:
        firsts = pulses(low, one)
        seconds = [one.scale * value for value in high.values] if half else pulses(high, one)
        if half:
            ends = [(a - b, a + b) for a, b in zip(firsts, seconds, strict=True)]
            good = all(5 <= b <= 900 for b in seconds) and all(700 <= a <= 2300 for a in firsts)
        else:
            ends = list(zip(firsts, seconds, strict=True))
            good = all(a < b for a, b in ends)
        if good and all(LEAST - 100 * half <= a < b <= MOST + 100 * half for a, b in ends):
            reach = max(b for _, b in ends) - min(a for a, _ in ends)
            fitting.append((reach, one))
    if not fitting:
        return None
    if fitting[0][1] == PLAIN and fitting[0][0] > 300:
        return PLAIN
    return max(fitting, key=lambda each: (each[1].plain, each[0]))[1]


__all__ = [
    "PLAIN",
    "Measure",
    "Numbers",
    "likeliest",
    "measures_of",
    "numbers_of",
    "pulses",
    "saying",
]
