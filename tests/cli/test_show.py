"""``cfglint show``: what a dump is read as, for people and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

import cfglint.report
from cfglint.cli import main
from cfglint.dialect.reading import Reader
from cfglint.runner.one import read_one

FLEET = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh" / "dumps"
SCHEMA = json.loads(
    (Path(cfglint.report.__path__[0]) / "show.schema.json").read_text(encoding="utf-8")
)
DUMPS = sorted(FLEET.glob("*.dump.txt"))


@pytest.mark.parametrize("path", DUMPS, ids=lambda path: path.name.split(".")[0])
def test_json_is_the_craft_and_fits_its_schema(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["show", str(path), "--as", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, SCHEMA)
    one = read_one(str(path))
    craft = Reader(one.source, one.dialect, name=one.name, extent=one.extent).craft()
    assert {row["name"] for row in found["settings"]} == set(craft.values)
    for row in found["settings"]:
        if row["origin"] == "set":
            line = one.source.lines[row["line"] - 1]
            assert line[row["column"] - 1 : row["end_column"] - 1] == row["written"]
    assert len(found["ranges"]) == len(craft.mode_ranges)
    assert len(found["links"]) == len(craft.mode_links)
    assert {row["number"] for row in found["ports"]} == set(craft.numbered("port"))


def test_lines_that_were_not_read_say_why(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    dump = tmp_path / "own.txt"
    dump.write_text(
        "let motr-signal be dshot300\nlet bell-magnet be many\n>>>>>>> theirs\n"
        "let keep-log be yes\n!! not taken: no room\n"
    )
    assert main(["show", str(dump), "--dialect", "plain", "--as", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    rows = {row["line"]: row for row in found["not_read"]}
    assert "motor-signal" in rows[1]["why"]
    assert "`many`" in rows[2]["why"]
    assert rows[4]["why"] == "the controller refused it: no room"
    assert main(["show", str(dump), "--dialect", "plain"]) == 0
    page = capsys.readouterr().out
    assert "not read, line 1: `let motr-signal be dshot300`" in page


def test_the_tree_needs_no_dialect(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    dump = tmp_path / "own.txt"
    dump.write_text("engine {\n  poles: 14\n}\n")
    assert main(["show", str(dump), "--tree"]) == 0
    page = capsys.readouterr().out
    assert page.split() == ["1", "engine", "|", "'{", "engine", "2", "poles", "|", "':", "|", "#14"]
    assert main(["show", str(dump), "--tree", "--as", "json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    assert rows[1]["titles"] == [{"text": "engine", "line": 1, "style": "bracket"}]
    assert rows[1]["atoms"][-1] == {"kind": "number", "text": "14", "column": 10}


def test_a_dump_that_no_dialect_reads(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    dump = tmp_path / "own.txt"
    dump.write_text("engine {\n  poles: 14\n}\n")
    assert main(["show", str(dump)]) == 3
    assert "no dialect recognises this file" in capsys.readouterr().err
