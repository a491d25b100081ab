"""What a draft reads of samples that do not bear it out is a guess."""

from __future__ import annotations

import tomllib

import pytest

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach import doubts


def read(text: str, mapped: str) -> tuple[list[Source], list[MapReader]]:
    """Samples, parted by a line of dashes, as a dialect file's text reads them."""
    data = tomllib.loads(mapped)
    sources = [
        Source.from_text(f"{at}.txt", one) for at, one in enumerate(text.strip().split("\n----\n"))
    ]
    readers = []
    for source in sources:
        reader = MapReader(source, map_of(data), marks(data))
        reader.read()
        readers.append(reader)
    return sources, readers


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("0006 cells in series, 0 counts them\n----\n0003 cells in series, 0 counts them", True),
        # It changes: it is the value.
        ("0006 cells in series, 4 in use\n----\n0003 cells in series, 5 in use", False),
        # Nothing else in the line changes.
        ("0006 cells in series, 4 in use\n----\n0006 cells in series, 4 in use", False),
    ],
)
def test_a_number_amid_a_name(text: str, found: bool) -> None:
    at = "* cells in series {value} counts them" if "counts" in text else None
    at = at or "* cells in series {value} in use"
    sources, readers = read(text, f'[map]\n"battery.cells" = "{at}"\n')
    assert all("battery.cells" in one.values for one in readers)
    assert list(doubts._in_names(sources, readers)) == (["battery.cells"] if found else [])


@pytest.mark.parametrize(
    ("words", "found"),
    [
        # Only where arm stands twice: all of its rows may have to hold.
        (("both", "both", "lone"), True),
        (("lone", "lone", "lone"), False),
        # It stands beside a mode of one row as well: it says something else.
        (("both", "both", "both"), False),
    ],
)
def test_a_word_beside_modes_of_several_rows_only(words: tuple[str, str, str], found: bool) -> None:
    rows = ("arm 5 1210 1640", "arm 8 1330 1720", "log 6 1190 1580")
    text = "\n".join(f"{row} {word}" for row, word in zip(rows, words, strict=True))
    mapped = '[[rows]]\nat = "{mode} {channel} {low} {high} {_}"\nmakes = "range"\n'
    sources, readers = read(text, mapped + '[modes]\narm = "arm"\nlog = "log"\n')
    assert len(readers[0].ranges) == 3
    assert doubts._joined_rows(sources, readers, {}) is found
