"""Faults and harmless edits that somebody wrote who had never seen a rule.

Each is one edit of a dump or card of the sound demo craft (``blind/cases.json``): a fault must be
found, or make a rule unknown that held; a harmless edit must bring no finding.
"""

from __future__ import annotations

import json
import shutil
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cfglint.runner.lint import Request, lint

HERE = Path(__file__).resolve().parent
MARSH = HERE.parents[1] / "fixtures" / "saltmarsh"
CASES: list[dict[str, Any]] = json.loads((HERE / "blind" / "cases.json").read_text("utf-8"))
#: What turned out to be none.
NO_FAULT = {
    32: "an edge above all that can come: the channel's calibration ends where the switch stands",
    101: "motor-stop only keeps motors still while the throttle is lowest; it is no switch-off",
    116: "a typographic minus is read as one: there are controllers that print it",
    119: "with the same loss the arm channel disarms, so that nothing turns to be reversed",
}


def outcomes(root: Path, craft: str) -> tuple[Counter[str], Counter[str]]:
    """How often each rule was broken, and which rules could not tell; a bad card is told too."""
    run = lint(Request([str(root / "dumps" / f"{craft}.dump.txt")]))
    unknown = Counter(one.rule for one in run.outcomes if one.state == "unknown")
    return Counter(one.rule for one in run.findings) + Counter(
        str(one) for one in run.troubles
    ), unknown


@cache
def sound(craft: str) -> tuple[Counter[str], Counter[str]]:
    return outcomes(MARSH, craft)


@pytest.mark.parametrize("case", CASES, ids=lambda one: str(one["id"]))
def test_what_somebody_else_thought_of(case: dict[str, Any], tmp_path: Path) -> None:
    root = tmp_path / "marsh"
    shutil.copytree(MARSH, root)
    path = root / case["file"]
    text = path.read_bytes().decode()
    for edit in case["edits"]:
        assert text.count(edit["find"]) == 1
        text = text.replace(edit["find"], edit["replace"])
    path.write_bytes(text.encode())
    craft = path.name.partition(".")[0]
    found, unknown = outcomes(root, craft)
    before, lacked = sound(craft)
    if case["kind"] == "harmless" or case["id"] in NO_FAULT:
        assert not found - before
    else:
        assert found - before or unknown - lacked, case["what"]
