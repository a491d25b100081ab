"""README's story of an update is what cfglint really prints."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from .conftest import Call

BLOCK = re.compile(r"```console\n\$ (cfglint (?:[^\n]*\\\n)*[^\n]*)\n(.*?)```", re.DOTALL)


def test_the_story(call: Call, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    section = text.partition("\n## Across an update\n")[2].partition("\n## ")[0]
    blocks = BLOCK.findall(section)
    assert len(blocks) == 3
    (tmp_path / "fixtures").symlink_to(root / "fixtures")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    codes = []
    for command, output in blocks:
        words = command.replace("\\\n", " ").split()[1:]
        done = call(*words)
        assert done.out == output, command
        assert done.err == ""
        codes.append(done.code)
    assert codes == [1, 0, 0]


def test_what_the_fleets_page_promises(call: Call, root: Path) -> None:
    """The list in fixtures/saltmarsh/README.md of what the comparison has to show."""
    updates = root / "fixtures" / "saltmarsh" / "updates"
    done = call(
        "compare", updates / "egret-before.dump.txt", updates / "egret-after.dump.txt",
        "--width", "200",
    )  # fmt: skip
    for wanted in (
        "renamed: craft.board: KETTLE → KETTLES",
        "back at default: motor.signal",
        "lost: mode self-level",
        "lost: mode hold-height",
        "lost: mode idle-authority",
        "lost: mode log",
        "back at default: failsafe.action",
        "back at default: failsafe.delay_s",
        "sense changed: receiver.inverted",
        "back at default: board.yaw_deg",
        "back at default: propellers.front_pair",
        "renamed: calm-rate",
        "lost: lens",
    ):
        assert wanted in done.out
