"""``cfglint bench``: the sheet for what only hands can check."""

from __future__ import annotations

from pathlib import Path

import pytest

from cfglint.dialect import bundled, read_craft
from cfglint.dump.source import Source
from cfglint.report.bench import ON_LOSS, sheet

from .conftest import Call

FLEET = Path(__file__).parents[2] / "fixtures" / "saltmarsh"
CRAFT = sorted(path.name for path in (FLEET / "dumps").iterdir())


@pytest.mark.parametrize("name", CRAFT)
@pytest.mark.parametrize("width", [80, 120])
def test_every_craft_has_a_sheet(call: Call, name: str, width: int) -> None:
    code, out, err = call("bench", FLEET / "dumps" / name, "--width", str(width))
    assert (code, err) == (0, "")
    assert all(len(line) <= width for line in out.split("\n"))
    # The cautions of the trade (common practice), whatever the craft.
    flat = " ".join(out.split())
    for caution in (
        "Propellers are off",
        "current limiter",
        "the transmitter is switched off",
        "people are behind it",
        "Local aviation rules",
    ):
        assert caution in flat


def test_what_is_known_is_filled_in(call: Call) -> None:
    out = " ".join(call("bench", FLEET / "dumps" / "avocet.dump.txt").out.split())
    assert "SLATE with firmware 7.9" in out
    assert "(sbus on port 2)" in out
    assert out.count(" alone, at the least drive") == 4
    assert "K7 (channel 8) up: nothing; down: self-right, beacon (with self-right)." in out
    assert "the motors stop at once" in out
    assert "Self-right [ ]" in out


def read(text: str) -> str:
    craft = read_craft(Source.from_text("a", text), bundled("plain"), None, "Avocet")
    return " ".join(item for part in sheet(craft) for item in part.items)


def test_what_is_not_known_is_to_be_found_out() -> None:
    told = read("")
    assert "do not fly before it is set" in told
    assert "Each motor alone, in order" in told
    assert "The motor signal is not told by the dump" in told
    assert "what it is" in told
    assert "blips" not in told
    told = read("use self-right while channel 6 in 1690..2090\n")
    assert "The switch of self-right" in told
    assert "Look at every blade afterwards" in told


@pytest.mark.parametrize("action", list(ON_LOSS))
def test_what_is_to_be_seen_on_a_lost_link(action: str) -> None:
    told = read(f"let lost-link-action be {action}\nlet lost-link-wait be 0.7\n")
    assert ON_LOSS[action] in told
    assert ("about 0.7 s after" in told) == (action not in ("none", "hold-last"))


def test_a_closed_range_holds_its_end(call: Call, tmp_path: Path) -> None:
    (tmp_path / "card.toml").write_text(
        'craft = "Godwit"\n[airframe]\npropellers = "enclosed"\n[[switch]]\nname = "K1"\n'
        "channel = 5\npositions_us = [1000, 2168]\n"
    )
    dump = tmp_path / "godwit.dump.txt"
    dump.write_text("; unit TUFF rev 2.57 whole\nmd:128:176:2:5:72\nmd:128:176:5:5:46\nml:96:72\n")
    out = call("bench", dump, "--card", tmp_path / "card.toml").out
    flat = " ".join(out.split())
    assert (
        "position 2: self-right, arm (if its other switches allow), beacon (with self-right)."
        in flat
    )
    assert "Enclosed propellers stand it better" in out


def test_markdown(call: Call) -> None:
    out = call("bench", FLEET / "dumps" / "lapwing.dump.txt", "--as", "markdown").out
    assert out.startswith("# Bench sheet: Lapwing\n\n## Before power\n\n- [ ] Propellers are off")


def test_no_such_dump(call: Call, tmp_path: Path) -> None:
    code, out, err = call("bench", tmp_path / "none.dump.txt")
    assert (code, out) == (2, "") or (code, out) == (3, "")
    assert "none.dump.txt" in err
