"""What can hurt grounds the craft, and messages name the value that is at fault."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from cfglint.runner.lint import Request, lint

MARSH = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh"

#: What is changed in Avocet's dump; the rule, grade, and text that its finding points at; words.
FAULTS = [
    pytest.param(
        ("channel 3 spans 1000 1500 2000", "channel 3 spans 2000 1500 1000"),
        ("channels/ends-out-of-order", "ground", "1000"),
        "backwards",
        id="throttle-backwards",
    ),
    pytest.param(
        ("channel 1 spans 1000 1500 2000", "channel 1 spans 1000 1700 2000"),
        ("channels/stick-off-centre", "ground", "1700"),
        "1700",
        id="centre-far-off",
    ),
    pytest.param(
        ("use arm while channel 5 in", "use arm while channel 3 in"),
        ("modes/range-on-a-stick", "ground", ""),
        "channel 3",
        id="throttle-stick-arms",
    ),
    pytest.param(
        ("let cell-count be 4", "let cell-count be 3"),
        ("battery/other-cell-count-on-board", "ground", "3"),
        "3 cells",
        id="cells-counted-wrong",
    ),
    pytest.param(
        ("let port-2-flip be no", "let port-2-flip be yes"),
        ("receiver/inversion-not-normal", "ground", "yes"),
        "port.2.inverted, yes,",
        id="the-port-s-own-flag",
    ),
    pytest.param(
        ("let receiver-flip be yes", "let receiver-flip be no"),
        ("receiver/inversion-not-normal", "ground", "no"),
        "the inversion flag, no,",
        id="the-receiver-s-flag",
    ),
    pytest.param(
        ("channel 3 spans 1000 1500 2000", "channel 3 spans 1000 1500"),
        ("dump/unknown-setting", "fix", "channel 3 spans 1000 1500"),
        "breaks off: it lacks channel.3.high_us",
        id="a-truncated-line",
    ),
    pytest.param(
        ("use arm while channel 5 in 1740..2150", "use arm while channel 5 in 850..1260"),
        ("fleet/arm-the-odd-one-out", "fix", ""),
        "where its channel is low (up of K5), in Bittern, Curlew, Dunlin, Egret and 3 more where "
        "it is high (down of K5)",
        id="high-is-called-high",
    ),
]


@pytest.mark.parametrize(("edit", "found", "words"), FAULTS)
def test_a_fault_by_its_grade_and_its_name(
    edit: tuple[str, str], found: tuple[str, str, str], words: str, tmp_path: Path
) -> None:
    root = tmp_path / "marsh"
    shutil.copytree(MARSH, root)
    path = root / "dumps" / "avocet.dump.txt"
    text = path.read_text("utf-8")
    assert text.count(edit[0]) == 1
    path.write_text(text.replace(*edit), "utf-8")
    rule, grade, pointed = found
    run = lint(Request([str(path)]))
    (one,) = (row for row in run.findings if row.rule == rule and row.craft == "Avocet")
    assert one.grade == grade
    assert words in one.message
    line = path.read_text("utf-8").splitlines()[one.span.line - 1]
    assert line == edit[1] or line.startswith(edit[1])
    if pointed:
        assert line[one.span.column - 1 : one.span.end_column - 1] == pointed
