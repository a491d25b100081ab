"""Two dumps that differ in one setting, changed on purpose: its address and words."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.settings import SETTINGS, family
from cfglint.near import common_ends

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dump.source import Source


class Changed(NamedTuple):
    """Where two dumps differ: the line of either, and what stands there in each."""

    line: int
    other: int
    before: str
    after: str


class Unclear(Exception):  # noqa: N818  (it is told to the person, who takes two other dumps)
    """Two dumps that do not differ in one value; the text says how."""


def difference(before: Source, after: Source) -> Changed:
    """The one piece of one line in which two dumps differ; Unclear where it is not one."""
    lines = SequenceMatcher(None, before.lines, after.lines, autojunk=False)
    blocks = [block for block in lines.get_opcodes() if block[0] != "equal"]
    if not blocks:
        raise Unclear(f"{before.file} and {after.file} are the same")
    places = ", ".join(str(block[1] + 1) for block in blocks[:5])
    _, first, last, begin, end = blocks[0]
    if len(blocks) > 1 or last - first != 1 or end - begin != 1:
        raise Unclear(
            f"{before.file} and {after.file} differ in more than one line (from lines {places}); "
            "change one setting, save, and take both dumps anew"
        )
    one, other = before.lines[first], after.lines[begin]
    start, stop = common_ends(one, other)
    # A value is as long as its word or number, though a part of it stays.
    while start and (one[start - 1].isalnum() or one[start - 1] in "._-"):
        start -= 1
    while stop and (one[-stop].isalnum() or one[-stop] in "._-"):
        stop -= 1
    return Changed(
        first + 1,
        begin + 1,
        one[start : len(one) - stop].strip(),
        other[start : len(other) - stop].strip(),
    )


def changed_answers(
    name: str, before: Source, after: Source, values: tuple[str, str]
) -> dict[str, str]:
    """Answers to the sheet that two dumps give: the setting was one value, and then the other.

    The two dumps are the first and the second sample.
    """
    if family(name) not in SETTINGS:
        raise Unclear(f"{name} is no setting")
    found = difference(before, after)
    answers = {f"find {name}": f"{found.line}: {found.before} => {values[0]}"}
    if SETTINGS[family(name)].kind in ("word", "flag", "words"):
        answers[f"word {family(name)} {found.after}"] = values[1]
        answers[f"word {family(name)} {found.before}"] = values[0]
    return answers


#: What a card says of a craft that its dumps say as well.
ON_CARD = (
    "motor.signal",
    "motor.poles",
    "receiver.link",
    "receiver.port",
    "receiver.channel_order",
    "battery.cells",
    "battery.chemistry",
)


def card_answers(card: Mapping[str, str]) -> dict[str, str]:
    """Answers to the sheet that a card of the first sample's craft gives, by setting."""
    return {f"value {name}": said for name, said in card.items() if name in ON_CARD}
