"""What to do is told in the dump's own words where the finding does not show them."""

from __future__ import annotations

from pathlib import Path

from cfglint.cli import main


def lint(tmp_path: Path, text: str, capsys: object) -> str:
    dump = tmp_path / "avocet.dump.txt"
    dump.write_text(text)
    main(["lint", str(dump), "--only", "failsafe/never-set", "--width", "200"])
    return " ".join(capsys.readouterr().out.split())  # type: ignore[attr-defined]


def test_an_absent_line_is_told_in_the_dialect(tmp_path: Path, capsys: object) -> None:
    out = lint(tmp_path, "-- board SLATE, firmware 7.9, full listing\nstow\n", capsys)
    assert "here, failsafe.action is written `let lost-link-action be …`" in out
    out = lint(tmp_path, "; unit SEDGE rev 2.57 whole\nvl:11:19\n", capsys)
    assert "here, failsafe.action is written `vl:50:…`" in out


def test_a_line_that_is_shown_is_not_told_again(tmp_path: Path, capsys: object) -> None:
    text = "-- board SLATE, firmware 7.9, full listing\nlet lost-link-action be none\n"
    out = lint(tmp_path, text, capsys)
    assert "failsafe/never-set" in out
    assert "is written" not in out
