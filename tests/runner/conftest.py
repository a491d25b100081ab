"""A small invented hangar to run on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

CONFIG = """\
[hangar]
name = "Saltmarsh Survey Club"

[[dumps]]
files = "dumps/*.dump.txt"
dialect = "plain"
card = "cards/{stem}.toml"
"""

DUMP = """\
-- board SLATE, firmware 7.9, full listing
let name-given be "Avocet"
let motor-signal be dshot300
let motor-answers be no
let loop-rate be 4000
"""

CARD = """\
craft = "Avocet"
[esc]
signals = ["dshot300", "dshot600"]
"""

Write = Callable[[dict[str, str | bytes]], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write files below a fresh folder and give that folder."""

    def make(files: dict[str, str | bytes]) -> Path:
        for name, text in files.items():
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return tmp_path

    return make


@pytest.fixture
def hangar(write: Write) -> Path:
    """Two craft, of which one has a card."""
    return write(
        {
            "cfglint.toml": CONFIG,
            "dumps/avocet.dump.txt": DUMP,
            "dumps/bittern.dump.txt": DUMP.replace("Avocet", "Bittern"),
            "cards/avocet.toml": CARD,
        }
    )
