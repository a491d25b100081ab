"""The reference of dialect files is whole and up to date, and its examples are right."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from cfglint.dialect import load_dialect
from cfglint.dialect.reference import EXAMPLES, PARTS, keys_of, page

from .invented import again, clean, values

if TYPE_CHECKING:
    from pathlib import Path

CASES = [
    pytest.param(heading, path, key, id=f"{heading} {key}")
    for heading, path, _ in PARTS
    for key in keys_of(heading, path)
]
#: What the examples of changes speak of.
BEFORE = '[kept]\nat = ["old words"]\n'


def test_it_is_up_to_date(root: Path) -> None:
    there = (root / "grammars" / "REFERENCE.md").read_text(encoding="utf-8")
    assert there == page(), "run `python tests/pages.py`"


def test_there_is_an_example_of_every_key_and_no_other() -> None:
    for heading, path, _ in PARTS:
        assert EXAMPLES[heading].keys() == keys_of(heading, path).keys()


@pytest.mark.parametrize(("heading", "path", "key"), CASES)
def test_every_example_is_read(heading: str, path: tuple[str, ...], key: str) -> None:
    example = EXAMPLES[heading][key]
    assert key in example
    table = heading if heading.startswith("[") else "[map]"
    text = f"{table}\n{example}\n"
    if heading == "[dialect]":
        text = text if key == "id" else f'[dialect]\nid = "reed"\n{example}\n'
    else:
        text = '[dialect]\nid = "reed"\n' + text
    if heading == "[[changes]]":
        text = '[dialect]\nid = "reed"\n' + BEFORE + text.partition("\n")[2].partition("\n")[2]
    dialect = load_dialect("reed.toml", text.encode())
    for version in ("", "4.2", "9"):
        dialect.at(version)


def section(root: Path) -> str:
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.split("## How to add a dialect\n")[1].split("\n## ")[0]


def test_the_example(root: Path) -> None:
    example = re.findall(r"```toml\n(.*?)```", section(root), re.DOTALL)[0]
    dialect = load_dialect("reed.toml", example.encode())
    text = "# reed R2 2.1\nput poles 12\nput talk 27\narm on ch25 68-96"
    craft = clean(dialect, text)
    assert values(craft) == {
        "craft.board": "R2",
        "craft.firmware": "2.1",
        "motor.poles": 12,
        "motor.signal": "dshot600",
    }
    assert craft.mode_ranges[0][:4] == ("arm", 5, 1750.0, 2170.0)
    assert values(again(craft, dialect, "2.1")) == values(craft)
