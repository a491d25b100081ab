"""Taking out any one fact never turns broken or unknown into holds.

A fact is a line of a full listing, a field of the card, or a row of the dialect file.  What a rule
finds fault with in a line goes with that line if it is one that need not be there: a mode's range
or link.  What is told of the lines themselves (`dump/…`) goes with them, too.

A sample is tried each time; with `CFGLINT_PROFILE=long` every single one.
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
    CARRIED,
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


LISTED = [name for name in (*CRAFTS, *CARRIED) if extent(name) == "full"]
LINES = [(name, line) for name in LISTED for line in lines_of(name)]
FIELDS = [(name, line) for name in CRAFTS for line in fields_of(name)]
ROWS = [(name, row) for name in (*CRAFTS, *CARRIED) for row in dialect_rows(dialect_of(name).id)]


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
    assert {dialect_of(name).id for name in LISTED} == set(bundled_names())
    assert any(one.state in BAD for name in LISTED for one in said_whole(name).values())
    assert min(len(LINES), len(FIELDS), len(ROWS)) > 200


@sample
@given(st.sampled_from(LINES))
def test_a_line_of_a_full_listing(one: tuple[str, int]) -> None:
    without_line(*one)


@sample
@given(st.sampled_from(FIELDS))
def test_a_field_of_the_card(one: tuple[str, int]) -> None:
    without_field(*one)


@sample
@given(st.sampled_from(ROWS))
def test_a_row_of_the_dialect_file(one: tuple[str, tuple[int, int]]) -> None:
    without_row(*one)


@pytest.mark.parametrize("name", ["dunlin in tables", "lapwing in tables"])
@pytest.mark.parametrize("text", ["== modes ==", "socket | 1"])
def test_a_title_over_all_modes_and_a_port_that_no_default_has(name: str, text: str) -> None:
    lines = [at for at, line in enumerate(dump_of(name).split("\n"), 1) if line == text]
    for line in lines:
        without_line(name, line)
    assert lines or text != "== modes =="


@pytest.mark.skipif(not LONG, reason="takes minutes; CFGLINT_PROFILE=long tries them")
@pytest.mark.parametrize("name", [*CRAFTS, *CARRIED])
def test_every_one(name: str) -> None:
    for owner, line in LINES:
        if owner == name:
            without_line(name, line)
    for owner, line in FIELDS:
        if owner == name:
            without_field(name, line)
    for owner, row in ROWS:
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
