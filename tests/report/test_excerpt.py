"""Carets stand under the text that is meant, in terminal cells, whatever the line holds."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from rich.cells import cell_len

from cfglint.report.excerpt import HEAD, MOST_LINES, TAB, TAIL, Row, rows, show_line
from cfglint.report.plain import visible
from cfglint.span import Excerpt, Span

LINE = st.text(
    st.one_of(
        st.characters(),
        st.sampled_from("\t\x1b\u0301\u0308鷸鴴🐦𝔸\u202e\u200d\ufe0f é"),
    ),
    max_size=60,
)


def show(line: str, start: int, end: int, width: int = 4000) -> tuple[str, int, int]:
    return show_line(line, start, end, width=width, measure=cell_len)


@given(LINE, st.data())
def test_the_caret_stands_at_the_width_of_what_is_before_it(line: str, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(line)))
    end = data.draw(st.integers(start, len(line)))
    text, at, length = show(line, start, end)
    before, marked = text_cells(line, start), text_cells(line, end)
    assert at == before
    assert length == max(1, marked - before)
    assert cell_len(text) == text_cells(line, len(line))


def text_cells(line: str, count: int) -> int:
    """Cells of the first ``count`` characters of ``line`` as shown: the oracle.

    The whole line is made visible with each tab standing out, then measured part by part by
    rich, tabs filling up to the next stop.
    """
    cells = 0
    parts = line[:count].split("\t")
    for place, part in enumerate(parts):
        cells += cell_len(visible(part))
        if place < len(parts) - 1:
            cells += TAB - cells % TAB
    return cells


@given(LINE, st.data(), st.integers(30, 50))
def test_a_long_line_shows_the_part_that_is_meant(
    line: str, data: st.DataObject, width: int
) -> None:
    line = line * 8
    start = data.draw(st.integers(0, len(line)))
    end = data.draw(st.integers(start, min(len(line), start + 10)))
    text, at, length = show(line, start, end, width)
    assert cell_len(text) <= width
    assert at + length <= width + 1
    whole, _, _ = show(line, start, end)
    if text != whole:
        assert text.startswith("…") or text.endswith("…")
        inner = text.removeprefix("…").removesuffix("…")
        assert inner in whole


@given(st.integers(0, 5000), st.integers(1, 30))
def test_what_is_marked_is_the_text_meant(start: int, length: int) -> None:
    line = "".join(f"{number:04d} " for number in range(1100))
    assume(start + length <= len(line))
    text, at, count = show(line, start, start + length, 70)
    assert text[at : at + count] == line[start : start + length]


def test_a_mark_longer_than_the_window_begins_in_it() -> None:
    line = "let name-given be " + "x" * 500
    text, at, count = show(line, 18, 518, 40)
    assert text[at] == "x"
    assert text.startswith("…")
    assert text.endswith("…")
    assert at + count == len(text) - 1


def test_megabytes_are_not_walked_through() -> None:
    line = "a" * 3_000_000 + "HERE" + "b" * 3_000_000
    text, at, count = show(line, 3_000_000, 3_000_004, 60)
    assert text[at : at + count] == "HERE"
    assert len(text) == 60


def test_marks_are_not_cut_from_their_letter() -> None:
    line = "e\u0301" * 100
    text, at, _ = show(line, 120, 122, 40)
    assert text.startswith("…e\u0301")
    assert cell_len(text[: text.index("…", 1)]) == 39
    assert at == 1 + (38 - 1) // 2


@pytest.mark.parametrize(
    ("line", "start", "end", "expected"),
    [
        ("let a be 1", 9, 10, ("let a be 1", 9, 1)),
        ("let a be 1", 10, 10, ("let a be 1", 10, 1)),
        ("let a be 1", 99, 120, ("let a be 1", 10, 1)),
        ("let a be 1", -3, -9, ("let a be 1", 0, 1)),
        ("\tlet", 1, 4, ("    let", 4, 3)),
        ("ab\tlet", 3, 6, ("ab  let", 4, 3)),
        ("鷸 be", 2, 4, ("鷸 be", 3, 2)),
        ("\x1b[0m be", 5, 7, ("\\x1b[0m be", 8, 2)),
        ("", 0, 0, ("", 0, 1)),
    ],
)
def test_where_carets_stand(
    line: str, start: int, end: int, expected: tuple[str, int, int]
) -> None:
    assert show(line, start, end) == expected


def told(excerpt: Excerpt, span: Span | None, width: int = 40) -> list[Row]:
    return list(rows(excerpt, span, width=width, measure=cell_len))


def test_rows_of_a_stretch_over_lines() -> None:
    excerpt = Excerpt(3, ("before", "motor {", "", "   idle 5  ", "}", "after"))
    assert told(excerpt, Span("f", 4, 7, 7, 2)) == [
        Row(3, "before", ""),
        Row(4, "motor {", "      ^"),
        Row(5, "", ""),
        Row(6, "   idle 5", "   ^^^^^^"),
        Row(7, "}", "^"),
        Row(8, "after", ""),
    ]


def test_a_stretch_that_ends_before_a_lines_first_character() -> None:
    excerpt = Excerpt(1, ("stow", "end"))
    assert told(excerpt, Span("f", 1, 1, 2, 1)) == [Row(1, "stow", "^^^^"), Row(2, "end", "")]


def test_no_stretch_no_carets() -> None:
    assert told(Excerpt(1, ("stow",)), None) == [Row(1, "stow", "")]
    assert told(Excerpt(1, ()), Span("f", 1, 1, 1, 2)) == []


def test_many_lines_are_left_out_aloud() -> None:
    lines = tuple(f"line {number}" for number in range(1, MOST_LINES + 4))
    got = told(Excerpt(1, lines), Span("f", 1, 1, len(lines), 3))
    assert [row.number for row in got] == [1, 2, 3, 4, 0, len(lines) - 1, len(lines)]
    assert got[HEAD].text == f"({len(lines) - HEAD - TAIL} more lines)"


def test_a_plain_encoding() -> None:
    line = "x" * 100
    shown = show_line(line, 50, 52, width=40, measure=cell_len, encoding="ascii")
    assert shown.text.startswith("...x")
    assert shown.text.endswith("x...")
    assert shown.at == 3 + (40 - 6 - 2) // 2
