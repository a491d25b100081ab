"""Small dialects invented in a test, and what dumps in them come to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.dialect import load_dialect, read_craft
from cfglint.dialect.reading import Reader
from cfglint.dialect.writing import Writer
from cfglint.dump.source import Source

if TYPE_CHECKING:
    from cfglint.craft.model import Craft
    from cfglint.dialect import Dialect


def make(text: str, *, marks: str = "", head: str = "") -> Dialect:
    """A checked dialect from what follows its ``[dialect]`` and ``[marks]`` tables."""
    if "assign" not in marks:
        marks += '\nassign = "let {name} be {value}"'
    whole = f'[dialect]\nid = "own"\n{head}\n[marks]\n{marks}\n{text}\n'
    return load_dialect("own.toml", whole.encode())


def read(dialect: Dialect, text: str, **more: Any) -> Craft:
    return read_craft(Source.from_text("x.txt", text), dialect, **more)


def clean(dialect: Dialect, text: str, **more: Any) -> Craft:
    """The craft of a dump of which every line must have been understood."""
    craft = read(dialect, text, **more)
    assert craft.strays == craft.misread == craft.unreadable == craft.refusals == ()
    return craft


def values(craft: Craft) -> dict[str, Any]:
    """What lines of the dump say."""
    return {name: value.value for name, value in craft.values.items() if value.origin == "set"}


def uses(dialect: Dialect, text: str) -> list[str]:
    """What became of each line that is not blank."""
    reader = Reader(Source.from_text("x.txt", text), dialect)
    reader.craft()
    return [reader.uses[row.line] for row in reader.rows]


def again(craft: Craft, dialect: Dialect, version: str = "") -> Craft:
    """A craft written in a dialect and read again, with nothing left out."""
    written = Writer(craft, dialect, version).written()
    assert written.unwritten == ()
    return clean(dialect, "\n".join(written.lines))
