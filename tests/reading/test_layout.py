"""Layout: which titles stand over each line, whatever made them titles."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dialect.mapping import marks_of
from cfglint.dump.layout import Marks, Row, rows
from cfglint.dump.source import Source

PIECES = st.sampled_from(
    ["motor {", "}", "[port 3]", "== radio ==", "begin x", "end", "# note", "  deep 4", "\tdeeper",
     "├─ leaf 1", "│  └─ twig", "────", "1.2 three", "(", ")", "a < b", ">", "", "[x] yes  [ ] no",
     "name \\", "more", "\x1b[31mred\x1b[0m 3", '"open', "| a | b |", "x" * 200]
)  # fmt: skip
TEXTS = st.one_of(st.lists(PIECES, max_size=30).map("\n".join), st.text(max_size=200))
MARKS = marks_of(
    {
        "comment": "#",
        "prompt": ">",
        "note": "(",
        "title": ["begin {title}", "{title}::"],
        "end": "end",
        "outline": True,
        "join": "\\",
        "tick": "[x]",
        "box": "[ ]",
    }
)


def read(text: str, marks: Marks | None = None) -> list[Row]:
    return list(rows(Source.from_text("x", text), marks or Marks()))


def over(row: Row) -> list[str]:
    """The words of the titles over a row."""
    return [" ".join(atom.text for atom in title.atoms) for title in row.titles]


def at(text: str, words: str, **marks: object) -> list[str]:
    """The titles over the line that holds certain words."""
    return next(over(row) for row in read(text, marks_of(marks)) if words in row.text)


def test_indentation() -> None:
    text = "motor\n  idle 4\n  pulse\n    low 1000\nradio\n  kind sbus\n"
    assert at(text, "low") == ["motor", "pulse"]
    assert at(text, "kind") == ["radio"]


def test_tabs_are_as_deep_as_the_blanks_they_stand_for() -> None:
    assert at("motor\n\tpulse\n\t\tlow 1\n", "low") == ["motor", "pulse"]


def test_brackets_of_any_kind_and_a_stray_one_costs_nothing() -> None:
    text = "motor {\n pulse (\n low 1\n )\n}\n}\nradio {\n kind 2\n}\n"
    assert at(text, "low") == ["motor", "pulse"]
    assert at(text, "kind") == ["radio"]


def test_a_drawn_tree() -> None:
    text = (
        "craft\n├─ motor\n│  ├─ idle ▸ 4\n│  └─ pulse\n│     └─ low ▸ 1000\n"
        "└─ radio\n   └─ kind ▸ 1\n"
    )
    assert at(text, "low")[-2:] == ["motor", "pulse"]
    assert at(text, "kind")[-1:] == ["radio"]


@pytest.mark.parametrize(
    "head", ["[radio]", "== radio ==", "### radio", "<radio>", "--- radio ---", "radio\n====="]
)
def test_headings(head: str) -> None:
    assert at(f"{head}\nkind sbus\n", "sbus") == ["radio"]


def test_headings_of_the_dialect_end_at_the_next_or_at_its_own_end() -> None:
    text = "SECTION motor\nidle 4\nSECTION radio\nkind 1\n"
    assert at(text, "kind", title="SECTION {title}") == ["radio"]
    text = "begin motor\nbegin pulse\nlow 1\nend\nidle 4\nend\nlast 2\n"
    assert at(text, "low", title="begin {title}", end="end") == ["motor", "pulse"]
    assert at(text, "idle", title="begin {title}", end="end") == ["motor"]
    assert at(text, "last", title="begin {title}", end="end") == []


def test_comments_are_titles_too_and_the_next_heading_ends_them() -> None:
    assert at("-- receiver\nkind 1\n", "kind", comment="--") == ["receiver"]
    assert at("-- receiver\n[motor]\nkind 1\n", "kind", comment="--") == ["motor"]


def test_outline_numbers_say_how_deep_a_line_stands() -> None:
    text = "1 motor\n1.1 pulse\n1.1.1 low 1000\n2 radio\n2.1 kind sbus\n"
    assert at(text, "low", outline=True) == ["motor", "pulse"]
    assert at(text, "kind", outline=True) == ["radio"]


@pytest.mark.parametrize(
    "text",
    [
        "1. motor\na) pulse\ni. low 1\nii. high 2\nb) drive\ni. least 3\n2. radio\na) kind sbus",
        "I. motor\nA. pulse\n1. low 1\n2. high 2\nB. drive\n1. least 3\nII. radio\nA. kind sbus",
    ],
)
def test_outlines_in_letters_and_roman_numbers(text: str) -> None:
    assert at(text, "low", outline=True) == ["motor", "pulse"]
    assert at(text, "high", outline=True) == ["motor", "pulse"]
    assert at(text, "least", outline=True) == ["motor", "drive"]
    assert at(text, "kind", outline=True) == ["radio"]


def test_tags_that_are_closed_may_hold_others() -> None:
    text = "<craft>\n<motor>\n<idle>4</idle>\n</motor>\n<radio>\nkind sbus\n</radio>\n</craft>"
    assert at(text, "idle") == ["craft", "motor"]
    assert at(text, "kind") == ["craft", "radio"]


def test_prompt_comment_and_note_are_no_values() -> None:
    row = read("ok> idle 4  (least)", marks_of({"prompt": "ok>", "note": "("}))[0]
    assert [atom.text for atom in row.atoms] == ["idle", "4"]
    row = read('name "a # b"  # c', marks_of({"comment": "#"}))[0]
    assert [atom.text for atom in row.atoms] == ["name", '"a # b"']


@pytest.mark.parametrize("before", ["ok> ", "ok>", "\x1b[32mok>\x1b[0m ", "ok> ok> ", " ok> "])
def test_a_prompt_is_no_indentation(before: str) -> None:
    """A log has what was typed and what was printed side by side, section and line alike."""
    lead = " " if before[0] == " " else ""
    text = f"{lead}idle 4\n{before}kind sbus\n{before}radio\n{before}  port 2\n{lead}magnets 14"
    marks = marks_of({"prompt": "ok>"})
    assert [over(row) for row in read(text, marks)] == [[], [], [], ["radio"], []]


def test_a_prompt_may_end_in_a_blank_of_its_own() -> None:
    marks = marks_of({"prompt": "ok> "})
    assert [over(row) for row in read("radio\nok>  port 2\nok> idle 4", marks)] == [
        [], ["radio"], []
    ]  # fmt: skip


def test_of_choices_only_the_ticked_one_is_there() -> None:
    marks = marks_of({"tick": "[x]", "box": "[ ]"})
    row = read("kind: [ ] SBUS one  [x] CRSF  [ ] iBUS", marks)[0]
    assert [atom.text for atom in row.atoms] == ["kind", ":", "CRSF"]


def test_joined_lines_are_one_row_and_each_atom_keeps_its_place() -> None:
    text = "range arm \\\n   channel 5\nidle 4"
    row, other = read(text, marks_of({"join": "\\"}))
    lines = text.split("\n")
    assert [atom.text for atom in row.atoms] == ["range", "arm", "channel", "5"]
    for atom in row.atoms:
        line, start, end = row.place(atom.start, atom.end)
        assert lines[line - 1][start:end] == atom.text
    assert other.line == 3


def test_colours_of_a_terminal_move_no_column() -> None:
    row = read("\x1b[1m  idle\x1b[0m = \x1b[32m4\x1b[0m")[0]
    assert [atom.text for atom in row.atoms] == ["idle", "=", "4"]
    assert [row.text[atom.start : atom.end] for atom in row.atoms] == ["idle", "=", "4"]
    assert at("motor\n  \x1b[1mpulse\x1b[0m\n    low 1\n", "low") == ["motor", "pulse"]


@given(TEXTS, st.sampled_from([Marks(), MARKS]))
def test_any_text_has_rows_whose_atoms_slice_back(text: str, marks: Marks) -> None:
    source = Source.from_text("x", text)
    last = 0
    for row in rows(source, marks):
        assert row.line > last
        last = row.line
        for atom in row.atoms:
            assert row.text[atom.start : atom.end] == atom.text
            line, start, end = row.place(atom.start, atom.end)
            assert source.lines[line - 1][start:end] == atom.text


@pytest.mark.parametrize(
    "text",
    [
        "{" * 60_000, "=" * 60_000, "= " * 30_000, "└" * 60_000, "[" * 60_000, "<a" * 30_000,
        "a\n" * 8_000, "\n".join(" " * depth + "a" for depth in range(600)), "1." * 30_000,
        "[ ]" * 20_000, "x\\\n" * 8_000, "# a\n" * 8_000, "{\n" * 8_000, "begin a\n" * 8_000,
    ],
)  # fmt: skip
def test_hostile_texts_take_no_longer_than_others(text: str) -> None:
    before = time.process_time()
    for _ in rows(Source.from_text("x", text), MARKS):
        pass
    assert time.process_time() - before < 3


def _texts(text: str, **marks: object) -> list[str]:
    return [
        " ".join(atom.text for atom in row.atoms if atom.kind != "mark")
        for row in rows(Source.from_text("a", text), Marks(**marks))  # type: ignore[arg-type]
    ]


def test_a_value_before_its_name() -> None:
    text = "  912 us | pulse at rest\n"
    assert _texts(text, turned="|") == ["pulse at rest 912 us"]
    row = next(iter(rows(Source.from_text("a", text), Marks(turned="|"))))
    at = row.text.index("912")
    assert row.place(at, at + 3) == (1, 2, 5)


def test_columns_that_are_passed_over() -> None:
    text = (
        "No.  Name        Usual  Now\n"
        "---------------------------\n"
        "10   least drive    35   59\n"
        '20   magnets        14    "\n'
        "\n"
        "Done\n"
        "10   least drive    35   59\n"
    )
    assert _texts(text, passed=("No.", "Usual"), ditto='"')[2:] == [
        "least drive 59",
        "magnets 14",
        "Done",
        "10 least drive 35 59",
    ]


def test_a_row_over_the_rule_that_ends_its_table_is_no_heading() -> None:
    rows_ = " 17   0x2C   slack\n 18   0x31   reach\n-----\n 19   0x05   rest\n"
    table = f"TAG    HELD   WHAT\n=====\n{rows_}"
    last = next(row for row in read(table) if row.text.startswith(" 19"))
    assert over(last) == ["TAG HELD WHAT"]
    assert over(read("Motors  1\n-----\nkind: brushed\n")[-1]) == ["Motors 1"]
