"""What teaching onto addresses makes of dialects that were written without sight of it."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from .blind import ROOT, blind

OPEN = ROOT / "tests" / "reading" / "blind" / "open"
FOLDERS = blind.dialects([str(OPEN)])


@pytest.mark.parametrize("folder", FOLDERS, ids=[folder.name for folder in FOLDERS])
def test_every_run_is_judged_and_hardly_anything_is_wrong_unmarked(folder: Path) -> None:
    for run, (fields, text, _) in blind.measure(folder, "bcde").items():
        tally = Counter(field.verdict for field in fields)
        assert set(tally) <= set(blind.VERDICTS)
        assert "[map]" in text
        # An answer that is wrong may be believed, and is in every fifth line of run (d).
        assert tally["wrong"] <= (12 if run == "d" else 5), (run, tally)


def test_of_ordinary_dialects_nearly_all_is_right() -> None:
    """A floor a little below what was measured when this was written (95.8 %)."""
    fields = [
        field
        for folder in FOLDERS
        if json.loads((folder / "truth.json").read_text(encoding="utf-8"))["kind"] == "ordinary"
        for field in blind.measure(folder, "b")["b"][0]
    ]
    assert len(fields) > 1500
    assert blind.share(fields)[1] >= 94
    assert not [field for field in fields if field.verdict == "wrong"]
