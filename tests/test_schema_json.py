"""The published JSON Schema of ``cfglint.toml``, held to the shape and to jsonschema."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from cfglint import schema_json
from cfglint.errors import Problem
from cfglint.runner.config import parse_config
from cfglint.schema import flag, many, number, table, text, whole

from .runner.texts import FULL

ACCEPTED = """\
[[accept]]
rule = "modes/near-a-range-edge"
craft = "Avocet"
reason = "the switch has a detent there"
by = "Ines"
until = 2027-03-31
"""

#: Wrong, and the schema can tell.
WRONG = [
    "[hangr]",
    "[hangar]\nnam = 'x'",
    "[hangar]\nname = ' '",
    "[hangar]\nname = 3",
    "[hangar]\nrule_files = 'rules/tide.py'",
    "[dumps]\nfiles = 'x'",
    "[[dumps]]\ndialect = 'plain'",
    "[[dumps]]\nfiles = 3",
    "[[dumps]]\nfiles = []",
    "[[dumps]]\nfiles = ['a', '']",
    "[[dumps]]\nfiles = 'x'\nextent = 'ful'",
    "[rules]\n'a/b' = 'on'",
    "[rules]\n'a/b' = 3",
    "[rules]\n'a/b' = { grade = 'no' }",
    "[lint]\nfloor = 'fxi'",
    "[lint]\nflor = 'fix'",
    "[dialects]\nmine = 3",
    "[[accept]]\nrule = 'a/b'",
    "[[accept]]\ncraft = 'A'",
    "[[accept]]\nrule = 'a/b'\ncraft = 'A'\nuntl = 'x'",
    "[[accept]]\nrule = 'a/b'\ncraft = 'A'\nuntil = 'soon'",
]
#: Wrong, and only cfglint can tell.
BEYOND = [
    "[[dumps]]\nfiles = '../x'",
    "[[dumps]]\nfiles = 'a**'",
    "[[dumps]]\nfiles = 'x'\ncard = 'cards/{name}.toml'",
    "[[dumps]]\nfiles = 'x'\ndialect = 'plian'",
    "[[accept]]\nrule = 'a/b'\ncraft = 'A'\nsetting = 'motor.signl'",
    "[[accept]]\nrule = 'a/b'\ncraft = 'A'\nuntil = '2027-02-30'",
]


@pytest.fixture(scope="module")
def published() -> Draft7Validator:
    schema = json.loads(Path(schema_json.FILE).read_text(encoding="utf-8"))
    Draft7Validator.check_schema(schema)
    return Draft7Validator(schema)


def as_json(toml: str) -> Any:
    """A TOML document as an editor's checker sees it: dates as texts."""
    return json.loads(json.dumps(tomllib.loads(toml), default=str))


def test_it_is_current() -> None:
    written = Path(schema_json.FILE).read_text(encoding="utf-8")
    assert written == schema_json.text(), "run python -m cfglint.schema_json"


def test_writing_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schema_json, "FILE", str(tmp_path / "x.json"))
    schema_json.main()
    assert (tmp_path / "x.json").read_text(encoding="utf-8") == schema_json.text()


def test_what_is_right(published: Draft7Validator, root: Path) -> None:
    fixture = (root / "fixtures/saltmarsh/cfglint.toml").read_text(encoding="utf-8")
    for toml in (FULL + ACCEPTED, fixture, ""):
        assert parse_config("cfglint.toml", "/club", toml.encode())
        assert list(published.iter_errors(as_json(toml))) == []


@pytest.mark.parametrize("toml", WRONG)
def test_what_is_wrong(published: Draft7Validator, toml: str) -> None:
    with pytest.raises(Problem):
        parse_config("cfglint.toml", "/club", toml.encode())
    assert list(published.iter_errors(as_json(toml)))


@pytest.mark.parametrize("toml", BEYOND)
def test_what_only_cfglint_can_tell(published: Draft7Validator, toml: str) -> None:
    with pytest.raises(Problem):
        parse_config("cfglint.toml", "/club", toml.encode())
    assert list(published.iter_errors(as_json(toml))) == []


def test_every_kind_of_shape() -> None:
    shape = table(
        {
            "on": flag("whether"),
            "margin": number(least=0, most=2.5),
            "count": whole(least=1),
            "words": many(text(), most=2),
        }
    )
    validator = Draft7Validator(schema_json.as_json_schema(shape))
    assert validator.is_valid({"on": True, "margin": 2.5, "count": 1, "words": ["a", "b"]})
    for wrong in (
        {"on": 1},
        {"margin": 3},
        {"margin": -1},
        {"count": 0},
        {"count": 1.5},
        {"words": ["a", "b", "c"]},
        {"words": [1]},
    ):
        assert not validator.is_valid(wrong)
