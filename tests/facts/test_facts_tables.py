"""What holds for every table: each row says where it is from; importing costs next to nothing."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from cfglint.facts.cells import CELLS
from cfglint.facts.links import LINKS
from cfglint.facts.modes import CONFLICTS
from cfglint.facts.signals import SIGNALS
from cfglint.facts.sources import SOURCES, cite
from cfglint.facts.table import MARKS, row_of
from cfglint.plugins import load_rules
from cfglint.rule import rule

if TYPE_CHECKING:
    from cfglint.craft import Craft
    from cfglint.rule import Finding, Options

ROWS = [*SIGNALS.values(), *LINKS.values(), *CELLS.values(), *CONFLICTS]
PARTS = [
    part
    for row in LINKS.values()
    for part in (row.usual, row.scaling, row.channels)
    if part is not None
]
ROOT = Path(__file__).parents[2]
TEXTS = {
    path: path.read_text(encoding="utf-8")
    for folder in ("cfglint", "rules")
    for path in sorted((ROOT / folder).rglob("*.py"))
    if path.name != "sources.py"
}


def keys_in(text: str) -> list[str]:
    """The keys in braces, those that are no source included."""
    return re.findall(r"\{([a-z0-9-]+)\}", text)


#: What stands in the place of a published source.
UNSOURCED = ("common practice", "from memory", "by arithmetic")


@pytest.mark.parametrize("row", [*ROWS, *PARTS])
def test_every_row_says_where_it_is_from(row: object) -> None:
    source, mark = getattr(row, "source", ""), getattr(row, "mark", "")
    assert mark in MARKS
    # The mark is the weakest standing that the source text speaks of.
    spoken = [standing for standing in MARKS[1:] if standing in source]
    assert mark == (spoken[-1] if spoken else "published")
    assert keys_in(source) or spoken
    assert set(keys_in(source)) <= SOURCES.keys()


# ---------------------------------------------------------------- sources


def test_every_source_is_used() -> None:
    used = {key for text in TEXTS.values() for key in keys_in(text)}
    assert SOURCES.keys() - used == set()


def test_a_source_is_named_in_its_table_only() -> None:
    for path, text in TEXTS.items():
        for key, source in SOURCES.items():
            assert source.title not in text, f"{path.name} names {key}"


def test_every_rule_has_a_source_or_says_that_it_has_none() -> None:
    rules = load_rules().rules
    assert len(rules) > 50
    for item in rules:
        assert keys_in(item.source) == [], item.id  # a key that is no source is left as it is
        cited = any(str(source) in item.source for source in SOURCES.values())
        assert cited or any(words in item.source for words in UNSOURCED), item.id


def test_a_text_is_cited_and_anyone_elses_braces_are_left_alone() -> None:
    assert cite("frame: {crsf}, 0x16; {our own} {book}") == (
        "frame: CRSF Protocol Specification (V3; published), 0x16; {our own} {book}"
    )
    assert str(SOURCES["interfacing"]).endswith(" (Rev G, 2019; published)")
    assert "withdrawn" in str(SOURCES["bmfa-failsafe"])

    @rule("tide/x", grade="fix", title="x", why="x", source="{srxl2} and the {club} handbook")
    def of_a_club(craft: Craft, options: Options) -> tuple[Finding, ...]:
        return ()

    assert of_a_club.source == f"{SOURCES['srxl2']} and the {{club}} handbook"


def test_a_row_is_found_or_its_absence_explained() -> None:
    assert row_of({"a": 1, "b": 2}, "b", "letter") == 2
    with pytest.raises(ValueError, match=r"^no letter is called 'c'; known: a, b$"):
        row_of({"a": 1, "b": 2}, "c", "letter")


@pytest.mark.parametrize("module", ["signals", "links", "cells", "modes", "versions", "sources"])
def test_a_table_is_light_to_import(module: str) -> None:
    """In a fresh interpreter no table brings in another one or anything slow."""
    program = (
        "import sys, typing, re, math\n"
        "before = set(sys.modules)\n"
        f"import cfglint.facts.{module}\n"
        "print(*sorted(set(sys.modules) - before))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60
    )
    ours = ("", ".record", ".facts", ".facts.table", f".facts.{module}")
    allowed = {f"cfglint{name}" for name in ours}
    assert set(done.stdout.split()) <= allowed
