"""Atoms: nothing of a line is lost, and Lark's own lexer cuts it alike."""

from __future__ import annotations

import time
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dump.atoms import END, GLUED, coded, cut
from cfglint_grammars import read

#: Lines of the pieces that dumps are made of, and of anything.
PIECES = st.sampled_from(
    ["motor", "idle", "0x1F", "4,20", "-3", "+45.5", "4.10.2", ".5", '"Old Heron"', "'x'", "=", ":",
     "->", "│", "├─", " ", "\t", "  ", "µs", "%", "_", "-", ".", "N", "é", "\u2212", "\xa0",
     "\x1b[32m", "[x]", "(", ")", "«", "»", "1e9", "٣"]
)  # fmt: skip
LINES = st.one_of(st.lists(PIECES, max_size=40).map("".join), st.text(max_size=80))


@cache
def lark_lexer() -> Any:
    from lark import Lark

    return Lark(read("atoms.lark").decode(), parser="lalr", lexer="basic")


@given(LINES)
def test_spans_slice_back_and_nothing_but_blanks_is_left_out(line: str) -> None:
    atoms = cut(line)
    assert [line[atom.start : atom.end] for atom in atoms] == [atom.text for atom in atoms]
    at, left = 0, []
    for atom in atoms:
        left.append(line[at : atom.start])
        at = atom.end
    rest = "".join([*left, line[at:]])
    assert "\x1b[" in rest or rest.strip(" \t\xa0") == ""


@given(LINES)
def test_larks_own_lexer_cuts_the_same_atoms(line: str) -> None:
    tokens = [token for token in lark_lexer().lex(line) if token.type != "BLANK"]
    assert [(token.type.lower(), str(token), token.start_pos) for token in tokens] == [
        (atom.kind, atom.text, atom.start) for atom in cut(line)
    ]


@given(LINES)
def test_the_coded_text_has_an_end_for_each_atom_and_tells_what_touches(line: str) -> None:
    atoms = cut(line)
    code, starts = coded(atoms)
    assert len(starts) == len(atoms) + 1
    assert starts[-1] == len(code)
    for number, atom in enumerate(atoms):
        piece = code[starts[number] : starts[number + 1]]
        touches = number + 1 < len(atoms) and atoms[number + 1].start == atom.end
        assert piece[0] == atom.kind[0]
        assert piece[-1] == (GLUED if touches else END)
        assert GLUED not in piece[:-1]
        assert END not in piece[:-1]


@pytest.mark.parametrize(
    ("line", "kinds"),
    [
        ("idle = 4.20 %", "w m n m"),
        ("low -3", "w n"),
        ("1774-1924", "n m n"),
        ("x=-3", "w m n"),
        ("0x1F", "n"),
        ("045Bh", "n w"),
        ('name "Old Heron"', "w q"),
        ("the craft's 'own' name", "w w m w q w"),
        ("motor_idle.share", "w m w m w"),
        ("17:30", "n m n"),
    ],
)
def test_what_lines_are_cut_into(line: str, kinds: str) -> None:
    assert " ".join(atom.kind[0] for atom in cut(line)) == kinds


@pytest.mark.parametrize(
    "line",
    ["a" * 65_000, '"' * 65_000, "-." * 32_500, "1." * 32_500, "'a" * 32_500, "\x1b[" * 32_500],
)
def test_a_row_of_65_000_characters_takes_milliseconds(line: str) -> None:
    cut("warm")
    before = time.process_time()
    cut(line)
    assert time.process_time() - before < 1
