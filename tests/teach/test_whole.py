"""A drafted file is one that can be used: sound, free of contradictions, each guess marked."""

from __future__ import annotations

from pathlib import Path

import pytest

from cfglint.dialect import read_craft
from cfglint.dialect.contradictions import examine
from cfglint.dump.source import Source
from cfglint.teach.whole import _sound, whole

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = [
    folder
    for half in (ROOT / "tests/reading/blind/open", ROOT / "tests/teach/handmade/open")
    for folder in sorted(half.iterdir())
    if folder.is_dir()
]


@pytest.mark.parametrize("folder", FOLDERS, ids=[folder.name for folder in FOLDERS])
def test_what_is_drafted_passes_the_check(folder: Path) -> None:
    """What ``cfglint dialect check`` would say of it: nothing."""
    sources = [
        Source.from_bytes(path.name, path.read_bytes())
        for path in sorted(folder.glob("*.dump.txt"))
    ]
    made = whole(sources, "mine")
    assert [str(one) for one in examine("mine.toml", made.text.encode())] == []
    for source in sources:
        assert read_craft(source, made.dialect).dialect == "mine"
    lines = made.text.split("\n")
    for at, line in enumerate(lines):
        if line.startswith(('"craft.', '"motor.', '"battery.', "[[rows]]")):
            assert lines[at - 1].startswith("# "), f"no reason above {line}"
    assert len(lines) < 260, "short enough to be looked over"
    assert made.open == tuple(sorted(made.open, key=lambda one: -one.harm))


def test_what_is_not_sound_is_left_out_and_said() -> None:
    text = """\
[dialect]
id = "mine"

[map]
# one
"motor.poles" = "magnets"
# two
"port.N.baud" = "speed"
# three
"receiver.port" = "magnets"

# four
[[rows]]
at = [
  "lane {X} {low}",
]
sets = { low = "channel.N.low_us" }

[kept]
at = []
sure = false
"""
    sound, notes = _sound(text)
    assert examine("mine.toml", sound.encode()) == []
    assert '"motor.poles" = "magnets"' in sound
    assert len(notes) == 3
    for gone in ("# two", "port.N.baud", "# three", "receiver.port", "# four", "lane"):
        assert gone not in sound
    assert all(note.startswith("left out of the draft: ") for note in notes)


def test_what_cannot_be_left_out_stays() -> None:
    text = '[dialect]\nid = "mine"\nodd = 3\n'
    assert _sound(text) == (text, [])
