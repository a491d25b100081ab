"""Slips of a rule's author and of a hangar's cost what they are in, and nothing else."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from cfglint.cli import main

if TYPE_CHECKING:
    from pathlib import Path

DUMP = """\
-- board SLATEX, firmware 7.10, changes only
let name-given be "Avocet"
let motor-signal be dshot300
"""
RULE = """\
from cfglint.rule import Drop, Finding, Put, Span, rule


@rule(id="own/odd", title="Odd", grade="fix", why="It is odd.", source="common practice")
def odd(craft, options):
    yield Finding(craft.place(craft.need("motor.signal")), "odd", "look", edits=({edit},))
"""


@pytest.mark.parametrize(
    "edit",
    [
        'Put("no.such", 1)',
        'Put("motor.poles", "many")',
        'Put("motor.poles", float("nan"))',
        'Put("motor.poles", 10**400)',
        "Drop(Span(craft.file, 99999, 1, 99999, 2))",
    ],
)
def test_an_edit_that_cannot_be_made_costs_no_finding(
    edit: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "x.txt").write_text(DUMP, encoding="utf-8")
    (tmp_path / "own.py").write_text(RULE.format(edit=edit), encoding="utf-8")
    code = main(["lint", "x.txt", "--rules", "own.py"])
    said = capsys.readouterr()
    assert code in (1, 3), said.err
    assert "1 craft," in said.out
    assert "cfglint itself failed" not in said.out + said.err


@pytest.mark.parametrize("linked", [False, True])
def test_a_report_is_written_over_a_report_only(
    linked: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "x.txt").write_text(DUMP, encoding="utf-8")
    name = "x.txt"
    if linked:
        name = "out.sarif"
        (tmp_path / name).symlink_to("x.txt")
    assert main(["lint", "x.txt", "--sarif", name]) == 2
    assert main(["switches", "x.txt", "-o", name]) != 0
    assert (tmp_path / "x.txt").read_text(encoding="utf-8") == DUMP
    for _ in "ab":
        assert main(["lint", "x.txt", "--sarif", "new.sarif"]) == 1
    assert (tmp_path / "new.sarif").read_text(encoding="utf-8").startswith("{")


def test_a_configuration_that_is_a_pipe_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "x.txt").write_text(DUMP, encoding="utf-8")
    os.mkfifo(tmp_path / "cfglint.toml")
    assert main(["lint", "x.txt"]) == 3
    assert "pipe" in capsys.readouterr().err
