"""Nothing from a dump can steer a terminal, hide, or turn the reading direction."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from cfglint.report.plain import MOST_MARKS, escaped, pieces, visible

ANY = st.text(st.characters(categories=["L", "M", "N", "P", "S", "Z", "C"]))

# Source: Unicode Standard Annex 9, table 4 and section 2: the explicit formatting characters.
BIDI = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


@given(ANY)
def test_only_plainly_visible_characters_come_out(text: str) -> None:
    for char in visible(text):
        assert char == " " or unicodedata.category(char)[0] not in "CZ"


@given(ANY)
def test_one_piece_a_code_point_and_nothing_lost(text: str) -> None:
    shown = pieces(text)
    assert len(shown) == len(text)
    for char, piece in zip(text, shown, strict=True):
        assert piece in (char, escaped(char))
    assert "".join(shown) == visible(text)


@given(ANY)
def test_width_is_the_sum_of_the_pieces(text: str) -> None:
    assert cell_len(visible(text)) == sum(cell_len(piece) for piece in pieces(text))


@given(ANY)
def test_ascii_alone_when_the_output_holds_no_more(text: str) -> None:
    assert visible(text, "ascii").isascii()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("let motor-idle be 6.3", "let motor-idle be 6.3"),
        ("\x1b[2J\x07", "\\x1b[2J\\x07"),
        ("\x7f\x9b31m", "\\x7f\\u009b31m"),
        ("\udcff", "\\xff"),
        ("a\u00a0b\u3000c", "a\\u00a0b\\u3000c"),
        ("a\u200bb\ufeff", "a\\u200bb\\ufeff"),
        ("\u2028\u2029\x85", "\\u2028\\u2029\\u0085"),
        ("\U000e0041", "\\U000e0041"),
        ("❤\ufe0f", "❤\\ufe0f"),
        ("👩\u200d🚀", "👩\\u200d🚀"),
        ("a\nb\tc\r", "a\\x0ab\\x09c\\x0d"),
        ("µ·×–…", "µ·×–…"),
        ("Gru\u0308nschenkel 鷸 🐦 𝔸", "Gru\u0308nschenkel 鷸 🐦 𝔸"),
    ],
)
def test_what_is_shown(text: str, expected: str) -> None:
    assert visible(text) == expected


@pytest.mark.parametrize("char", BIDI)
def test_reading_direction_cannot_be_turned(char: str) -> None:
    assert visible(char) == f"\\u{ord(char):04x}"


def test_marks_need_a_letter_and_do_not_climb() -> None:
    assert visible("\u0301a") == "\\u0301a"
    assert visible("a" + "\u0301" * (MOST_MARKS + 1)) == "a" + "\u0301" * MOST_MARKS + "\\u0301"
    assert visible("\x1b\u0301") == "\\x1b\\u0301"


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_our_own_words_are_put_plainly(encoding: str) -> None:
    assert visible("1730 → 2110 ≥ 25", encoding) == "1730 -> 2110 >= 25"
    assert visible("鷸", encoding) == "\\u9df8"
    assert visible("µ", encoding) == ("u" if encoding == "ascii" else "µ")
