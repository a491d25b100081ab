"""``rules/REFERENCE.md`` is what the rules say of themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.why import reference
from cfglint.plugins import BUILTIN, Entry, load_rules

if TYPE_CHECKING:
    from pathlib import Path


def test_the_reference_is_current(root: Path) -> None:
    rules = load_rules([Entry("builtin", BUILTIN, "cfglint-craft")]).rules
    written = (root / "rules" / "REFERENCE.md").read_text(encoding="utf-8")
    assert written == reference(rules), "write it anew: python tests/pages.py"
