"""Families of rows by what their columns can be, and sheets that ask several things in a line."""

from __future__ import annotations

import pytest

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach import sheet
from cfglint.teach.sheet import Question
from cfglint.teach.taught import teach

RANGES = (("arm", 5, 1710, 2090), ("beacon", 7, 1320, 1660), ("self-level", 6, 930, 1280))
#: The same three ranges in rows of any order, with and without words for the columns.
LAYOUTS = (
    "m {low} {high} {channel} {mode}",
    "use,{mode},{channel},{low},{high},us",
    "Sel[{n}] := (Ch:={channel}, Lo:={low}, Hi:={high}, Does:={mode});",
    "{mode} is on while channel {channel} lies between {low} and {high}.",
)


def read(text: str) -> MapReader:
    source = Source("a.txt", text)
    draft = teach([source], "mine")
    reader = MapReader(source, map_of(draft.data), marks(draft.data))
    reader.read()
    return reader


@pytest.mark.parametrize("layout", LAYOUTS)
def test_ranges_stand_in_any_order(layout: str) -> None:
    rows = [
        layout.format(n=n, mode=mode, channel=channel, low=low, high=high)
        for n, (mode, channel, low, high) in enumerate(RANGES)
    ]
    found = {
        (one.mode, one.channel, one.low_us, one.high_us) for one in read("\n".join(rows)).ranges
    }
    assert found == set(RANGES)


def test_a_mode_may_be_the_title_of_its_ranges() -> None:
    text = "\n".join(
        f"begin {mode}\n  channel {channel} over {low} under {high}\nend"
        for mode, channel, low, high in RANGES
    )
    found = {(one.mode, one.channel, one.low_us, one.high_us) for one in read(text).ranges}
    assert found == set(RANGES)


def test_a_comment_names_the_columns_and_a_legend_explains_their_bits() -> None:
    text = (
        "; u n fn baud inv 1w   fn bits: 4 vtx, 16 rx, 32 gps, 256 console\n"
        "u 0 16 115200 1 0\nu 1 32 57600 0 0\nu 2 4 9600 0 1\nu 3 256 230400 0 0\n"
    )
    values = read(text).values
    assert values["port.1.functions"].value == frozenset({"receiver"})
    assert values["port.3.functions"].value == frozenset({"video-control"})
    assert values["port.1.inverted"].value is True
    assert values["port.3.half_duplex"].value is True


def test_a_line_of_the_sheet_asks_all_words_of_a_table() -> None:
    questions = [
        Question("word", "mode", "GO", "mode `GO`: not known", 2.0),
        Question("word", "mode", "a, b", "mode `a, b`: not known", 2.0),
        Question("value", "", "motor.poles", "poles", 1.0),
    ]
    assert [group.key for group in sheet.grouped(questions)] == ["words mode", "value motor.poles"]
    filled = {"word mode GO": "arm", "word mode a, b": "lights", "value motor.poles": "14"}
    found, wrong = sheet.parse(sheet.text(questions, filled))
    assert found == filled
    assert not wrong


def test_a_piece_without_its_mark_is_said() -> None:
    _, wrong = sheet.parse("words mode = GO arm, LV = self-level\n")
    assert [at for at, _ in wrong] == [1]


def test_settled_answers_stay_in_the_sheet() -> None:
    found, _ = sheet.parse(sheet.text([], {"word mode GO": "arm"}))
    assert found == {"word mode GO": "arm"}
