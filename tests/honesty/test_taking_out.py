"""Taking out any one fact never turns broken or unknown into holds.

A fact is a line of a full listing, a field of the card, or a row of the dialect file.  What a rule
finds fault with in a line goes with that line if it is one that need not be there: a mode's range
or link.  What is told of the lines themselves (`dump/…`) goes with them, too.

The fleet's craft are tried in their own dialects and, written anew, in those that none speaks.
Of all facts one in so many is tried each time, spread over every craft and dialect; with
`CFGLINT_PROFILE=long` every single one.
"""

from __future__ import annotations

import os
from functools import lru_cache
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.dialect.load import bundled_names
from cfglint.errors import Problem

from .support import (
    ABROAD,
    CRAFTS,
    card_of,
    dialect_of,
    dialect_rows,
    dump_of,
    extent,
    grammar,
    read,
    said,
    said_whole,
    without_rows,
)

if TYPE_CHECKING:
    from cfglint.rule import Outcome

BAD, GOOD = ("broken", "unknown"), ("holds", "not for this craft")
LONG = os.environ.get("CFGLINT_PROFILE") == "long"
#: One fact in so many is tried; all of them in the long profile.
STRIDE = 1 if LONG else 9
sample = settings(max_examples=25, deadline=None)


def reassured(name: str, after: dict[str, Outcome], line: int = 0) -> list[str]:
    """The rules that are content now and were not; but for findings in a row that may be absent."""
    found = []
    for rule, was in said_whole(name).items():
        now = after[rule]
        if rule.startswith("dump/") or was.state not in BAD or now.state not in GOOD:
            continue
        places = [
            span for one in was.findings for span in (one.span, *(r.span for r in one.related))
        ]
        own = line and optional(name, line)
        if not (own and any(p.file == "dump.txt" and p.line == line for p in places)):
            found.append(f"{rule}: {was.state} -> {now.state} {now.reason}")
    return found


@lru_cache
def optional_lines(name: str) -> frozenset[int]:
    craft = read(dump_of(name), card_of(name), dialect_of(name))
    return frozenset(row.span.line for row in (*craft.mode_ranges, *craft.mode_links))


def optional(name: str, line: int) -> bool:
    return line in optional_lines(name)


def lines_of(name: str) -> list[int]:
    return [at for at, line in enumerate(dump_of(name).split("\n"), 1) if line.strip()]


def fields_of(name: str) -> list[int]:
    return [at for at, line in enumerate(card_of(name).split("\n"), 1) if "=" in line]


def left_out(text: str, line: int) -> str:
    lines = text.split("\n")
    return "\n".join((*lines[: line - 1], *lines[line:]))


EVERY = (*CRAFTS, *ABROAD)
LISTED = [name for name in EVERY if extent(name) == "full"]
LINES = [(name, line) for name in LISTED for line in lines_of(name)]
FIELDS = [(name, line) for name in CRAFTS for line in fields_of(name)]
ROWS = [(name, row) for name in EVERY for row in dialect_rows(dialect_of(name).id)]


def without_line(name: str, line: int) -> None:
    craft = read(left_out(dump_of(name), line), card_of(name), dialect_of(name))
    assert not reassured(name, said(craft), line)


def without_field(name: str, line: int) -> None:
    try:
        craft = read(dump_of(name), left_out(card_of(name), line), dialect_of(name))
    except Problem:  # a card that may not lack it is refused
        return
    assert not reassured(name, said(craft))


def without_row(name: str, row: tuple[int, int]) -> None:
    dialect = dialect_of(name).id
    try:
        lesser = without_rows(dialect, *row)
    except Problem:
        return
    craft = read(dump_of(name), card_of(name), lesser)
    assert not reassured(name, said(craft)), grammar(dialect)[row[0]]


def test_there_is_something_to_take_out() -> None:
    assert {dialect_of(name).id for name in LISTED} == {*bundled_names()}
    assert any(one.state in BAD for name in LISTED for one in said_whole(name).values())
    assert min(len(LINES), len(FIELDS), len(ROWS)) > 200


@pytest.mark.parametrize("name", LISTED)
def test_a_line_of_a_full_listing(name: str) -> None:
    for owner, line in LINES[LISTED.index(name) % STRIDE :: STRIDE]:
        if owner == name:
            without_line(name, line)


@pytest.mark.parametrize("name", CRAFTS)
def test_a_field_of_the_card(name: str) -> None:
    for owner, line in FIELDS[CRAFTS.index(name) % STRIDE :: STRIDE]:
        if owner == name:
            without_field(name, line)


@pytest.mark.parametrize("name", EVERY)
def test_a_row_of_the_dialect_file(name: str) -> None:
    for owner, row in ROWS[EVERY.index(name) % STRIDE :: STRIDE]:
        if owner == name:
            without_row(name, row)


@sample
@given(st.sampled_from(LINES), st.data())
def test_two_lines_say_no_more_than_one(one: tuple[str, int], data: st.DataObject) -> None:
    """From what one missing line makes unknown, a second one missing makes nothing hold."""
    name, line = one
    first = left_out(dump_of(name), line)
    second = data.draw(st.sampled_from([at for at in lines_of(name) if at < line] or [line]))
    before = said(read(first, card_of(name), dialect_of(name)))
    after = said(read(left_out(first, second), card_of(name), dialect_of(name)))
    for rule, was in before.items():
        if was.state == "unknown" and not rule.startswith("dump/") and not optional(name, second):
            assert after[rule].state not in GOOD, (rule, line, second, after[rule].reason)


@pytest.mark.parametrize("name", [name for name in ABROAD if name.endswith("/tables")])
@pytest.mark.parametrize("text", ["== modes ==", "socket | 1"])
def test_a_title_over_all_modes_and_a_port_that_no_default_has(name: str, text: str) -> None:
    lines = [at for at, line in enumerate(dump_of(name).split("\n"), 1) if line == text]
    for line in lines:
        without_line(name, line)
    assert lines or text != "== modes =="
