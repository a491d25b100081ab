"""Pages about one craft caution where they rest on guesses, and only there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from .test_imports import imported

if TYPE_CHECKING:
    from pathlib import Path

    from .conftest import Call

REED = """\
[dialect]
id = "reed"
[marks]
assign = "put {name} {value}"
[map]
"motor.signal" = { at = "put mot_out", words = { dshot600 = 6 }, sure = false }
"log.on" = { at = "put box", sure = false }
[modes]
arm = 4
[[rows]]
at = "{mode} on ch{channel} {low}-{high}"
makes = "range"
sure = false
"""
DUMP = "put mot_out 6\nput box yes\n4 on ch5 1705-2135\n"


@pytest.fixture
def reed(tmp_path: Path) -> tuple[Path, Path]:
    (tmp_path / "reed.toml").write_text(REED)
    (tmp_path / "avocet.txt").write_text(DUMP)
    return tmp_path / "avocet.txt", tmp_path / "reed.toml"


@pytest.mark.parametrize(
    ("words", "mappings"),
    [
        (("bench",), "motor.signal (`mot_out`, line 1), range"),
        (("bench", "--as", "markdown"), "motor.signal (`mot_out`, line 1), range"),
        (("switches",), "range"),
        (("switches", "--as", "svg"), "range"),
        (("switches", "--as", "json"), "range"),
    ],
)
def test_one_caution(
    call: Call, reed: tuple[Path, Path], words: tuple[str, ...], mappings: str
) -> None:
    """The log is a guess, too, but neither page speaks of it."""
    dump, dialect = reed
    code, out, err = call(words[0], dump, *words[1:], "--dialect", dialect)
    assert (code, err) == (0, "")
    flat = " ".join(out.replace("</text>", " ").split())
    assert "rests on unconfirmed mappings: " in flat
    if "svg" not in words:  # its lines are elements
        assert f"Caution: this page rests on unconfirmed mappings: {mappings} (" in flat
    assert "log.on" not in flat
    dialect.write_text(REED.replace("sure = false\n", "").replace(", sure = false", ""))
    assert "confirm" not in call(words[0], dump, *words[1:], "--dialect", dialect).out


def test_a_page_that_rests_on_none_of_the_guesses(call: Call, reed: tuple[Path, Path]) -> None:
    dump, dialect = reed
    dialect.write_text(REED.replace(" }, sure = false", " }").replace('"\nsure = false', '"'))
    assert "confirm" not in call("bench", dump, "--dialect", dialect).out
    assert "confirm" not in call("switches", dump, "--dialect", dialect).out


def test_nothing_is_imported_for_it_without_marks(dump: Path, reed: tuple[Path, Path]) -> None:
    # Of a full listing that lacks lines, not everything is known either.
    dump.write_text(dump.read_text(encoding="utf-8").replace("full listing", "changes only"))
    own = {"cfglint.craft.unsure", "cfglint.dialect.unsure", "cfglint.report.unsure"}
    for words in (("lint",), ("lint", "--as", "sarif"), ("bench",)):
        assert not imported(words[0], dump, *words[1:]) & own
    draft, dialect = reed
    assert own <= imported("lint", draft, "--dialect", dialect)
