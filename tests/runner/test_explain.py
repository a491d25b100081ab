"""Where each value of a run comes from."""

from __future__ import annotations

import tomllib
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from cfglint.runner.config import parse_config, read_config
from cfglint.runner.explain import VARIABLES, explain, shown
from cfglint.runner.lint import Request

FULL = """\
[hangar]
name = "Saltmarsh Survey Club"
[[dumps]]
files = ["a.txt", "b.txt"]
[rules]
"motor/left-on-default-signal" = "off"
"modes/near-a-range-edge" = { grade = "advise", margin_us = 30 }
[lint]
floor = "fix"
[[accept]]
rule = "modes/near-a-range-edge"
craft = "Avocet"
"""


def rows(request: Request, text: str | None, **environment: str) -> dict[str, tuple[str, str]]:
    config = None if text is None else parse_config("cfglint.toml", "/club", text.encode())
    found = list(explain(request, config, environment))
    assert len({row.name for row in found}) == len(found)
    return {row.name: (row.value, row.origin) for row in found}


def test_all_defaults() -> None:
    found = rows(Request(), None)
    assert {origin for _, origin in found.values()} == {"default"}
    assert found["configuration"][0] == "none: no cfglint.toml here or above"
    assert found["paths"] == ('["."]', "default")
    assert found["lint.floor"] == ('"advise"', "default")
    assert set(VARIABLES) <= set(found)


def test_by_lines_of_the_file() -> None:
    found = rows(Request(), FULL)
    assert found["configuration"] == ('"/club/cfglint.toml"', "default")
    assert found["hangar.name"] == ('"Saltmarsh Survey Club"', "/club/cfglint.toml:2:8")
    assert found["dumps[1].files"] == ('["a.txt", "b.txt"]', "/club/cfglint.toml:4:9")
    assert found['rules."motor/left-on-default-signal"'] == ('"off"', "/club/cfglint.toml:6:34")
    assert found['rules."modes/near-a-range-edge".grade'] == ('"advise"', "/club/cfglint.toml:7:39")
    assert found['rules."modes/near-a-range-edge".margin_us'] == ("30", "/club/cfglint.toml:7:61")
    assert found["accept[1]"] == ('"modes/near-a-range-edge"', "/club/cfglint.toml:10:1")
    assert found["lint.floor"] == ('"fix"', "/club/cfglint.toml:9:9")
    assert found["accepted.toml"] == ("none", "default")


def test_by_the_command_line_and_the_environment(tmp_path: Path) -> None:
    request = Request(
        ["dumps"], "c.toml", dialect="plain", card="x.toml", only=["motor"], without=["dump"]
    )
    found = rows(request, "", NO_COLOR="1", COLUMNS="")
    assert found["paths"] == ('["dumps"]', "command line")
    assert found["configuration"][1] == "command line"
    assert found["only"] == ('["motor"]', "command line")
    assert found["without"] == ('["dump"]', "command line")
    assert found["dialect of all dumps"] == ('"plain"', "command line")
    assert found["card of all dumps"] == ('"x.toml"', "command line")
    assert found["NO_COLOR"] == ('"1"', "environment")
    assert found["COLUMNS"][1] == "default"
    (tmp_path / "accepted.toml").touch()
    (tmp_path / "cfglint.toml").touch()
    config = read_config(str(tmp_path / "cfglint.toml"))
    assert ("accepted.toml", "read", "default") in [tuple(row) for row in explain(request, config)]


def test_the_floor_of_the_command_line_comes_after_that_of_the_file() -> None:
    config = parse_config("cfglint.toml", "/club", FULL.encode())
    found = [tuple(row) for row in explain(Request(floor="ground"), config)]
    assert [row for row in found if row[0].startswith("lint.floor")] == [
        ("lint.floor", '"ground"', "command line")
    ]


PLAIN = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")))
VALUES = st.recursive(
    st.booleans() | st.integers() | PLAIN,
    lambda inner: st.lists(inner) | st.dictionaries(st.from_regex("[a-z]+", fullmatch=True), inner),
    max_leaves=8,
)


@given(VALUES)
def test_values_are_shown_as_toml(value: object) -> None:
    assert tomllib.loads(f"k = {shown(value)}")["k"] == value
