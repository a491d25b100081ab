"""How a text writes its numbers: which mark stands before decimals, which between thousands.

A mark that has another number of digits behind it than three is no mark of thousands; one that
never has may be.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.dump.source import Source

if TYPE_CHECKING:
    from collections.abc import Sequence

#: A number with one comma, apart from lists and from what goes on behind it.
_COMMA = re.compile(
    r"(?<![\w.,])[+\-\u2212]?\d+,\d{1,3}(?:(?![\w,.])|(?= ?(?:%|[A-Za-zµ°])))(?!,\d)"
)
_UNIT = re.compile(r"(?<![\w.,])\d+,\d{1,2} ?(?:%|[A-Za-zµ°])")
_POINT = re.compile(r"(?<![\w.,])[+\-\u2212]?\d+\.\d{1,3}(?![\w.])")
_COMMAS = re.compile(r"(?<![\w.,])\d+(?:,\d+)+(?![\w,]|\.\d)")
_COMMA_GROUPS = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+")
_POINT_GROUPS = re.compile(r"[+\-\u2212]?[1-9]\d{0,2}\.\d{3}")
#: A number with a blank before its last three digits, and a unit behind them.
_BLANK_GROUPS = re.compile(
    r"(?<![\w.,] )(?<![\w.,])\d{1,3} \d{3}(?: ?(?:µs|us|Hz|MHz|mAh|mV|baud\w*|Bd)\b|[ \t]{2,})"
)


def number_marks(lines: Sequence[str]) -> dict[str, str]:
    """What ``[marks]`` says of numbers: the decimal sign if it is a comma, and thousands."""
    out: dict[str, str] = {}
    all_points = [match for line in lines for match in _POINT.findall(line)]
    points = [one for one in all_points if not _POINT_GROUPS.fullmatch(one)]
    listed = [match for line in lines for match in _COMMAS.findall(line)]
    if (
        len(listed) >= 5
        and len(all_points) >= 3
        and all(_COMMA_GROUPS.fullmatch(one) for one in listed)
    ):
        return {"thousands": ","}
    commas = sum(len(_COMMA.findall(line)) for line in lines)
    if not any(_UNIT.search(line) for line in lines):
        points = all_points
    if commas >= 3 and commas > 2 * len(points):
        out["decimal"] = ","
        if len(all_points) - len(points) >= 3:
            out["thousands"] = "."
    if sum(bool(_BLANK_GROUPS.search(line)) for line in lines) >= 3:
        out.setdefault("thousands", " ")
    for mark in "_'":
        group = re.compile(rf"(?<![\w.,'])[1-9]\d{{0,2}}(?:{mark}\d{{3}})+(?![\w'])")
        if sum(bool(group.search(line)) for line in lines) >= 2:
            out.setdefault("thousands", mark)
    return out


def ungrouped(sources: Sequence[Source], marks: dict[str, Any]) -> Sequence[Source]:
    """Samples whose numbers have no marks between thousands; columns stay where they are."""
    mark = marks.get("thousands", " ")
    if mark == " ":
        return sources
    number = re.compile(rf"(?<![\w.,])\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+(?![\d{mark}])")
    out = []
    for source in sources:
        lines = [_padded(number, mark, line) for line in source.lines]
        plain = Source(source.file, "\n".join(lines), source.encoding)
        plain.written = source.written
        out.append(plain)
    return out


def _padded(number: re.Pattern[str], mark: str, line: str) -> str:
    """A line without marks of thousands; what is taken out is made up for by blanks in a gap."""
    out, at, short = "", 0, 0
    for match in number.finditer(line):
        out, short = _filled(out + line[at : match.start()], short)
        text = match.group().replace(mark, "")
        short += len(match.group()) - len(text)
        if out.endswith("  "):
            out, short = out + " " * short, 0
        out, at = out + text, match.end()
    return out + _filled(line[at:], short)[0]


def _filled(text: str, short: int) -> tuple[str, int]:
    """A piece of a line with so many blanks more in its first gap, if it has one."""
    gap = re.search(r"[ ]{2}", text) if short else None
    return (text[: gap.start()] + " " * short + text[gap.start() :], 0) if gap else (text, short)
