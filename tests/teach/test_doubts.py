"""What a draft reads of samples that do not bear it out is a guess."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach import doubts, wires
from cfglint.teach.sense import best
from cfglint.teach.sheet import NOTHING, answers_of

if TYPE_CHECKING:
    from cfglint.teach.sheet import Answers


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
    assert together(text, "{mode} {channel} {low} {high} {_}") == ({"arm"} if found else set())
    told = answers_of({"rows range": "1: arm 5 1210 1640; 2: arm 8 1330 1720"})
    assert not together(text, "{mode} {channel} {low} {high} {_}", told)


def together(text: str, at: str, answers: Answers = NOTHING) -> set[str]:
    mapped = f'[[rows]]\nat = "{at}"\nmakes = "range"\n[modes]\narm = "arm"\nlog = "log"\n'
    sources, readers = read(text, mapped)
    assert len(readers[0].ranges) == 3
    said = doubts._said(sources, readers, tomllib.loads(mapped) | {"marks": {}})
    return doubts._together(sources, readers, said, [], answers)


def test_a_line_of_a_mode_of_several_rows_that_nothing_reads() -> None:
    rows = "arm 5 1210 1640\narm 8 1330 1720\nlog 6 1190 1580\n"
    assert together(rows + "arm needs both", "{mode} {channel} {low} {high}") == {"arm"}
    assert not together(rows + "log needs both", "{mode} {channel} {low} {high}")


def test_modes_that_are_numbers_beside_words_that_change() -> None:
    mapped = '[[rows]]\nat = "{mode} {channel} {low} {high} *"\nmakes = "range"\n[modes]\n'
    mapped += 'arm = "20"\nlog = "30"\n'
    data = tomllib.loads(mapped) | {"marks": {}}
    for words, found in ((("go", "note"), {"arm", "log"}), (("us", "us"), set())):
        text = "20 5 1210 1640 {}\n30 6 1190 1580 {}".format(*words)
        assert doubts._misnamed(doubts._said(*read(text, mapped), data), []) == found


def test_a_list_of_which_one_word_is_known_is_not_all() -> None:
    assert best("port.N.functions", "RADIO+TELEMETRY")[1] < 0.85
    assert best("port.N.functions", "TELEMETRY")[1] >= 0.85


def test_a_word_for_a_wire_that_nobody_knows_is_a_guess() -> None:
    found = dict(wires.flags(["QVX", "QVX"], "inverted", (), False))
    assert found["port.N.inverted"]["unsure"] == ["yes"]
    found = dict(wires.flags(["upside down", "normal"], "inverted", (), False))
    assert "unsure" not in found["port.N.inverted"]


@pytest.mark.parametrize(
    ("at", "loose"),
    [
        ("I {_} {_} sit {value}", False),
        ("I {_} {_} {_} {value} {_} {_}", True),
        ("I {value}", False),
    ],
)
def test_an_address_of_anything_is_a_guess(at: str, loose: bool) -> None:
    assert doubts._loose({"at": at}) is loose


@pytest.mark.parametrize(
    ("text", "found"), [("volts |3|.|5|2|", True), ("volts |3| a cell", False)]
)
def test_one_figure_of_several_in_boxes(text: str, found: bool) -> None:
    sources, readers = read(text, '[map]\n"battery.warn_v" = "volts"\n')
    assert list(doubts._boxed(sources, readers)) == (["battery.warn_v"] if found else [])


def test_an_address_under_a_value_is_loose() -> None:
    assert doubts._loose({"at": "full 1943 > orders"})
    assert not doubts._loose({"at": "motors > full 1943"})
