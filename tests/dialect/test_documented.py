"""DEVELOPERS.md: its reference of dialect files is whole, its example right."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.dialect import load_dialect
from cfglint.dialect.checks import SHAPE
from cfglint.dump.grammar import TERMINALS

from .invented import again, clean, values

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from cfglint.schema import Shape


def section(root: Path) -> str:
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.split("## How to add a dialect\n")[1].split("\n## ")[0]


def keys(shape: Shape) -> Iterator[str]:
    for key, inner in (shape.keys or {}).items():
        yield key
        yield from keys(inner)
    for inner in (shape.item, shape.free, *shape.shapes):
        if inner is not None:
            yield from keys(inner)


def test_every_key_is_in_the_reference(root: Path) -> None:
    named = set(re.findall(r"`\[*([a-z_]+)\]*`", section(root)))
    assert sorted(set(keys(SHAPE)) - named) == []


def test_the_example(root: Path) -> None:
    example = re.findall(r"```toml\n(.*?)```", section(root), re.S)[0]
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


def test_groups_named_there_are_those_of_the_grammars(root: Path) -> None:
    from cfglint_grammars import read

    text = section(root)
    grammars = "".join(str(read(f"{name}.lark"), "utf-8") for name in ("plain", "blocks"))
    for group in ("at_assignment", "assign0_name", "assign0_value", "unset0_name"):
        assert f"`{group}`" in text
        assert f"(?P<{group}>" in grammars
    assert "COMMAND" in TERMINALS
