"""What holds for every table: each row says where it is from; importing costs next to nothing."""

from __future__ import annotations

import subprocess
import sys

import pytest

from cfglint.facts.cells import CELLS
from cfglint.facts.links import LINKS
from cfglint.facts.modes import CONFLICTS
from cfglint.facts.signals import SIGNALS
from cfglint.facts.table import MARKS, row_of

ROWS = [*SIGNALS.values(), *LINKS.values(), *CELLS.values(), *CONFLICTS]
PARTS = [part for row in LINKS.values() for part in (row.usual, row.scaling) if part is not None]


@pytest.mark.parametrize("row", [*ROWS, *PARTS])
def test_every_row_says_where_it_is_from(row: object) -> None:
    source, mark = getattr(row, "source", ""), getattr(row, "mark", "")
    assert mark in MARKS
    # The mark is the weakest standing that the source text speaks of.
    spoken = [standing for standing in MARKS[1:] if standing in source]
    assert mark == (spoken[-1] if spoken else "published")
    assert source.strip()


def test_a_row_is_found_or_its_absence_explained() -> None:
    assert row_of({"a": 1, "b": 2}, "b", "letter") == 2
    with pytest.raises(ValueError, match=r"^no letter is called 'c'; known: a, b$"):
        row_of({"a": 1, "b": 2}, "c", "letter")


@pytest.mark.parametrize("module", ["signals", "links", "cells", "modes", "versions"])
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
