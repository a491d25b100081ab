"""Patterns mean the same to every Python from 3.11 on."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted(
    path
    for folder in ("cfglint", "rules", "grammars")
    for path in (ROOT / folder).rglob("*")
    if path.suffix in (".py", ".lark", ".toml") and path.name != "parsed.py"
)
#: A group, or a counted repeat of one, that is repeated and gives nothing back.
FINAL_REPEAT = re.compile(r"\)(?:[*+?]|\{\{?[0-9,]+\}\}?)\+")


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_group_is_repeated_possessively(path: Path) -> None:
    """Before Python 3.11.5 such a repeat ends in the midst of an item that fits only in part
    (``(?:[.][0-9]++)*+`` takes the first point of ``1740..2150``), from memory; ``(?>…)`` is sound.
    """
    found = [
        line for line in path.read_text(encoding="utf-8").splitlines() if FINAL_REPEAT.search(line)
    ]
    assert found == []
