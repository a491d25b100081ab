"""README's chapter on starting a hangar is what cfglint really does."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pytest

    from .conftest import Call

BLOCK = re.compile(r"```console\n\$ (cfglint (?:[^\n]*\\\n)*[^\n]*)\n(.*?)```", re.DOTALL)
#: Stands for lines that are left out.
GAP = "⋮\n"


def test_the_chapter(
    call: Call, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    section = text.partition("\n## Start a hangar\n")[2].partition("\n## ")[0]
    (tmp_path / "fixtures").symlink_to(root / "fixtures")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    blocks = BLOCK.findall(section)
    assert len(blocks) == 2
    codes = []
    for command, output in blocks:
        done = call(*command.replace("\\\n", " ").split()[1:])
        assert done.err == ""
        codes.append(done.code)
        first, *parts = output.split(GAP)
        assert done.out.startswith(first), command
        at = len(first)
        for part in parts:
            found = done.out.find(part, at)
            assert found >= 0, part
            at = found + len(part)
        assert parts[-1:] == [""] or at == len(done.out)
    assert codes == [0, 0]
    (card,) = re.findall(r"```toml\n(.*?)```", section, re.DOTALL)
    assert card in Path("marsh/cards/bittern.toml").read_text(encoding="utf-8")
