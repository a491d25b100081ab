"""Cells: how a table's line is divided, and what stands under each head."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dump.cells import Cell, divide, divider, single, under


def texts(line: str, mark: str) -> list[str]:
    return [line[cell.start : cell.end] for cell in divide(line, 0, len(line), mark)]


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ("| a | b c |  |", ["a", "b c", ""]),
        ("a │ b │ c", ["a", "b", "c"]),
        ("a\tb\t\tc", ["a", "b", "", "c"]),
        ("a;b;c", ["a", "b", "c"]),
        ("one two   three", ["one two", "three"]),
    ],
)
def test_a_line_is_divided(line: str, cells: list[str]) -> None:
    assert texts(line, divider(line, 0, len(line))) == cells


def test_every_blank_divides_where_asked() -> None:
    line = "a b  c"
    assert [line[cell.start : cell.end] for cell in single(line, 0, len(line))] == ["a", "b", "c"]


def test_cells_stand_under_the_head_that_they_overlap_or_are_nearest_to() -> None:
    head = "port  carries    baud"
    line = "1     gps      115200"
    found = under(divide(head, 0, len(head), ""), divide(line, 0, len(line), ""))
    assert [line[cell.start : cell.end] if cell else None for cell in found] == [
        "1",
        "gps",
        "115200",
    ]
    line = "2                9600"
    found = under(divide(head, 0, len(head), ""), divide(line, 0, len(line), ""))
    assert [line[cell.start : cell.end] if cell else None for cell in found] == ["2", None, "9600"]


@given(st.text(alphabet="ab |;\t,│", max_size=60))
def test_cells_are_in_order_and_inside_the_line(line: str) -> None:
    mark = divider(line, 0, len(line))
    for cells in (divide(line, 0, len(line), mark), single(line, 0, len(line))):
        at = 0
        for cell in cells:
            assert at <= cell.start <= cell.end <= len(line)
            assert line[cell.start : cell.end] == line[cell.start : cell.end].strip(" \t\xa0")
            at = cell.end


@given(
    st.lists(st.integers(0, 40), min_size=1, max_size=6), st.lists(st.integers(0, 60), max_size=8)
)
def test_each_cell_is_put_under_one_head(heads: list[int], cells: list[int]) -> None:
    head = [Cell(at * 4, at * 4 + 3) for at in sorted(set(heads))]
    line = [Cell(at * 4, at * 4 + 2) for at in sorted(set(cells))]
    found = [cell for cell in under(head, line) if cell is not None]
    assert sum(
        one.start <= cell.start and cell.end <= one.end for cell in line for one in found
    ) >= len(line)
