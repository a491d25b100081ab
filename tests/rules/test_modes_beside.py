"""A range out of reach points at that end of the receiver which it lies beyond."""

from __future__ import annotations

import pytest

from cfglint.craft.cards import read_card
from cfglint.dialect import bundled, read_craft
from cfglint.dump.source import Source
from cfglint.rule import Options, judge
from cfglint_rules.modes import ranges

CARD = b"""\
[receiver]
link = "crsf"
low_us = 1000
high_us = 2000
"""


@pytest.mark.parametrize(
    ("low", "high", "line"), [(2040, 2122, 4), (910, 960, 3)], ids=["above", "below"]
)
def test_the_card_is_shown_where_it_says_so(low: int, high: int, line: int) -> None:
    dump = f"use log while channel 7 in {low}..{high}\n"
    craft = read_craft(
        Source.from_text("a.dump.txt", dump), bundled("plain"), card=read_card("a.toml", CARD)
    )
    (found,) = judge(ranges.unreachable_range, craft, Options({})).findings
    assert [(one.span.file, one.span.line) for one in found.related] == [("a.toml", line)]


def test_without_ends_on_the_card_the_link_is_shown() -> None:
    dump = "let receiver-link be crsf\nuse log while channel 7 in 2150..2200\n"
    craft = read_craft(Source.from_text("a.dump.txt", dump), bundled("plain"))
    (found,) = judge(ranges.unreachable_range, craft, Options({})).findings
    assert [(one.span.file, one.span.line) for one in found.related] == [("a.dump.txt", 1)]
