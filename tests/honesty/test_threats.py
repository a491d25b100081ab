"""The threat model in README.md names a test that is there behind each of its lines."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parents[1]


def test_every_threat_has_its_test() -> None:
    text = (TESTS / "honesty" / "README.md").read_text(encoding="utf-8")
    part = text.partition("# What may go wrong")[2].partition("\n## ")[0]
    rows = [line.split("|") for line in part.split("\n") if line.startswith("| ")][1:]
    assert len(rows) >= 10
    for _, threat, _, tests, _ in rows:
        file = ""
        for name in re.findall(r"`([^`]+)`", tests):
            where, _, function = name.partition("::")
            file = where or file
            code = (TESTS / file).read_text(encoding="utf-8")
            assert f"\ndef {function}(" in code if function else "\ndef test_" in code, threat
        assert file, threat
