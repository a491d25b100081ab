"""Examples in a dialect file: lines, and the settings that they stand for.

``[[examples]]`` holds ``lines`` and what reading them sets, in neutral words; mode ranges and
links are texts: ``arm: channel 5, 1728 to 2157`` (joined by any; ``, all`` at the end otherwise)
and ``beacon along with lost-link``.  What becomes of them is in ``cfglint.dialect.trials``.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint import tomlwrite
from cfglint.craft.settings import MODES, setting, show_number
from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft.model import ModeLink, ModeRange, Value
    from cfglint.craft.settings import Setting
    from cfglint.tomltext import Document, Path

_RANGE = re.compile(
    r"\s*(?P<mode>\S+?)\s*:\s*channel\s+(?P<channel>\d{1,3})\s*,\s*(?P<low>\d{1,5}(?:\.\d{1,9})?)"
    r"\s+to\s+(?P<high>\d{1,5}(?:\.\d{1,9})?)\s*(?:,\s*(?P<join>any|all)\s*)?"
)
_LINK = re.compile(
    r"\s*(?P<mode>\S+)\s+along\s+with\s+(?P<follows>[^\s,]+)\s*(?:,\s*(?P<join>any|all)\s*)?"
)
RANGE_FORM = "arm: channel 5, 1728 to 2157"
LINK_FORM = "beacon along with lost-link"


class RangeText(NamedTuple):
    """A mode range as an example says it: mode, channel, ends in µs, ``any`` or ``all``."""

    mode: str
    channel: int
    low_us: float
    high_us: float
    join: str


class LinkText(NamedTuple):
    """A link between modes as an example says it."""

    mode: str
    follows: str
    join: str


def show_range(row: ModeRange | RangeText) -> str:
    """A mode range as an example writes it."""
    ends = f"{show_number(row.low_us)} to {show_number(row.high_us)}"
    return f"{row.mode}: channel {row.channel}, {ends}" + (", all" if row.join == "all" else "")


def show_link(row: ModeLink | LinkText) -> str:
    """A link as an example writes it."""
    return f"{row.mode} along with {row.follows}" + (", all" if row.join == "all" else "")


def parse_range(text: str) -> RangeText:
    """The range that a text says.  Raises ValueError with what is wrong, in a clause."""
    found = _RANGE.fullmatch(text)
    if found is None:
        raise ValueError(f"is no mode range; write it as `{RANGE_FORM}`")
    _check_mode(found["mode"])
    channel, low, high = int(found["channel"]), float(found["low"]), float(found["high"])
    if not 1 <= channel <= 32:
        raise ValueError(f"is about channel {channel}; channels are 1 to 32")
    if max(low, high) > 3000:
        raise ValueError(f"ends at {show_number(max(low, high))}; pulses are 0 to 3000 µs")
    return RangeText(found["mode"], channel, low, high, found["join"] or "any")


def parse_link(text: str) -> LinkText:
    """The link that a text says.  Raises ValueError with what is wrong, in a clause."""
    found = _LINK.fullmatch(text)
    if found is None:
        raise ValueError(f"is no link of modes; write it as `{LINK_FORM}`")
    _check_mode(found["mode"])
    _check_mode(found["follows"])
    return LinkText(found["mode"], found["follows"], found["join"] or "any")


def _check_mode(mode: str) -> None:
    if mode not in MODES:
        from cfglint.near import suggestion

        hint = suggestion(mode, MODES, most=len(MODES))
        raise ValueError(f"names `{mode}`, which is no mode; {hint}")


def not_a_range(text: str) -> str:
    """What is wrong with the text of a range, or ``""``."""
    return _wrong(parse_range, text)


def not_a_link(text: str) -> str:
    """What is wrong with the text of a link, or ``""``."""
    return _wrong(parse_link, text)


def _wrong(parse: Any, text: str) -> str:
    try:
        parse(text)
    except ValueError as error:
        return str(error)
    return ""


# ---------------------------------------------------------------- mistakes


def example_mistakes(document: Document) -> Iterator[Problem]:
    """What is wrong with the examples of a dialect file whose shape has been checked."""
    order = document.data["dialect"].get("version_order", "dotted")
    for index, row in enumerate(document.data.get("examples", [])):
        path: Path = ("examples", index)
        if not row["lines"].strip():
            yield Problem(
                f"example {index + 1} has no lines",
                span=document.where_value(*path, "lines"),
                instead="write the lines of a dump that it is about",
            )
        for name, value in row.get("sets", {}).items():
            wrong = not_a_value(name, value)
            if wrong:
                yield Problem(
                    f"`{tomlwrite.value(value)}` is no neutral value of `{name}`",
                    span=document.where_value(*path, "sets", name),
                    instead=wrong,
                )
        if row.get("writes") is True:
            yield Problem(
                f"`writes` of example {index + 1} must be a text or `false`",
                span=document.where_value(*path, "writes"),
                instead="leave it out where the same lines are written back",
            )
        if "firmware" in row:
            from cfglint.facts.versions import order_key

            try:
                order_key(row["firmware"], order)
            except ValueError as error:
                yield Problem(str(error), span=document.where_value(*path, "firmware"))


def not_a_value(name: str, value: Any) -> str:
    """What to write instead of a value that a neutral setting cannot have; ``""`` if it can.

    Values are as TOML has them: lists for words, whole numbers also where any number may stand.
    """
    row = setting(name)
    kinds: dict[str, tuple[type, ...]] = {
        "flag": (bool,),
        "count": (int,),
        "number": (int, float),
        "words": (list,),
    }
    right = isinstance(value, kinds.get(row.kind, (str,)))
    right = right and (row.kind == "flag" or not isinstance(value, bool))
    if right and row.words:
        words = value if isinstance(value, list) else [value]
        right = all(isinstance(word, str) and word in row.words for word in words)
    if right and row.least is not None and row.most is not None:
        right = row.least <= value <= row.most
    return "" if right else _wanted(row, value)


def _wanted(row: Setting, value: Any) -> str:
    if row.words:
        from cfglint.near import listing, nearest

        given = value if isinstance(value, list) else [value]
        slip = next((word for word in given if word not in row.words), "")
        close = nearest(slip, row.words) if isinstance(slip, str) else ""
        if close:
            return f"did you mean `{close}`?"
        start = "write a list of" if row.kind == "words" else "write"
        return f"{start} {listing(row.words)}"
    if row.kind == "flag":
        return "write true or false"
    if row.kind == "text":
        return "write a text in quotes"
    unit = f" {row.unit}" if row.unit else ""
    kind = "a whole number" if row.kind == "count" else "a number"
    return f"write {kind}, {row.least:g} to {row.most:g}{unit}"


def said(value: Value) -> bool:
    """Whether a line says a value: it sets it, or takes it back to what holds without one."""
    return value.origin == "set" or value.line_span is not None


def toml_value(name: str, value: Any) -> Any:
    """A craft's value as TOML has it: a list of words in the table's order, 4 rather than 4.0."""
    if isinstance(value, frozenset):
        return [word for word in setting(name).words if word in value]
    if isinstance(value, float) and value == int(value):
        return int(value)
    return value
