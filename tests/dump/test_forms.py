"""Line forms and the patterns made from them."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dump.forms import Piece, field_names, fill, head, mistake, pattern, pieces


def test_pieces() -> None:
    assert pieces("port {N}  to {x}..{y}") == (
        Piece("text", "port"), Piece("gap", " "), Piece("field", "N"), Piece("gap", "  "),
        Piece("text", "to"), Piece("gap", " "), Piece("field", "x"), Piece("text", ".."),
        Piece("field", "y"),
    )  # fmt: skip
    assert pieces("{title} {") == (Piece("field", "title"), Piece("gap", " "), Piece("text", "{"))
    assert pieces("a{b c}") == (
        Piece("text", "a"), Piece("text", "{"), Piece("text", "b"), Piece("gap", " "),
        Piece("text", "c}"),
    )  # fmt: skip
    assert field_names("{b}:{a}") == ("b", "a")
    assert (head("ch{N} x"), head("{N} x"), head("")) == ("ch", "", "")


@pytest.mark.parametrize(
    ("form", "line", "fields"),
    [
        ("{name} = {value}", "a  =\tb c", {"name": "a", "value": "b c"}),
        ("{name}={value}", "a=b", {"name": "a", "value": "b"}),
        ("{name}:{value}", '"x:y":1', {"name": '"x:y"', "value": "1"}),
        ("{name}:{value}", '"x"y:1', {"name": '"x"y', "value": "1"}),
        ("put {name} {value}", 'put "a b" "c \\" d"', {"name": '"a b"', "value": '"c \\" d"'}),
        ("{title} {", "when  armed {", {"title": "when  armed "}),
        ("[{title}]", "[motor part]", {"title": "motor part"}),
        ("bank {title} ", "bank two words", {"title": "two words"}),
        ("{title} of it", "this part of it", {"title": "this part "}),
        ("no {name}", "no x", {"name": "x"}),
        ("no {name}", "no  ", None),
        ("{a}..{b}", "1..2", {"a": "1", "b": "2"}),
        ("{a}..{b}", "1.5..2.5", {"a": "1.5", "b": "2.5"}),
        ("a b", "a b", {}),
        ("a b", "ab", None),
        ("x.y", "xzy", None),
    ],
)
def test_pattern(form: str, line: str, fields: dict[str, str] | None) -> None:
    match = re.fullmatch(pattern(form), line)
    assert (match.groupdict() if match else None) == fields
    unnamed = re.fullmatch(pattern(form, named=False), line)
    assert (unnamed is None) == (fields is None)
    assert unnamed is None or unnamed.groupdict() == {}
    if match:
        assert set(re.compile(pattern(form, "p0_")).groupindex) == {f"p0_{f}" for f in fields or {}}


def test_a_title_runs_to_the_next_literal_and_no_further() -> None:
    match = re.match(pattern("{title} {"), "a { b {")
    assert match is not None
    assert match["title"] == "a "
    # A title with only a blank after it takes the rest of the line.
    assert re.fullmatch(pattern("{title} {name}"), "a b") is None


@given(st.lists(st.text("abc:=.019-", min_size=1, max_size=8), min_size=3, max_size=3))
def test_fill_is_undone_by_the_pattern(words: list[str]) -> None:
    form = "port {N} takes {a} , {b}"
    values = dict(zip(("N", "a", "b"), words, strict=True))
    match = re.fullmatch(pattern(form), fill(form, values))
    assert match is not None
    assert match.groupdict() == values


@pytest.mark.parametrize(
    ("form", "wrong"),
    [
        ("let {name} be {value}", ""),
        ("", "empty"),
        ("  ", "empty"),
        ("{a} {a}", "{a} twice"),
        ("{a}{b}", "nothing between {a} and {b}"),
    ],
)
def test_mistakes_of_forms(form: str, wrong: str) -> None:
    assert wrong in mistake(form)
    assert bool(mistake(form)) == bool(wrong)
