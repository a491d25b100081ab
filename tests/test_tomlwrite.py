"""TOML as it is written, read again by Python's own reader."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from cfglint.tomlwrite import comment, key, lines, text, value

# TOML holds Unicode scalar values: no lone surrogates (TOML v1.0.0, "String").
texts = st.text(st.characters(codec="utf-8"))
scalars = st.one_of(
    texts, st.booleans(), st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False)
)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(texts, inner, max_size=4)),
    max_leaves=12,
)


@given(texts)
def test_any_text_comes_back(written: str) -> None:
    assert tomllib.loads(f"it = {text(written)}") == {"it": written}


@given(st.dictionaries(texts, values, max_size=5))
def test_any_table_comes_back(table: dict[str, Any]) -> None:
    assert tomllib.loads("\n".join(lines(table))) == table


@given(texts)
def test_any_key_comes_back(name: str) -> None:
    assert tomllib.loads(f"{key(name)} = 1") == {name: 1}


def test_what_a_person_reads_stays_plain() -> None:
    assert key("least-spin_1") == "least-spin_1"
    assert key("motor.idle") == '"motor.idle"'
    assert text('a "b" \\ µ\t\n') == '"a \\"b\\" \\\\ µ\\t\\n"'
    assert value(True) == "true"
    assert value({}) == "{}"
    assert value(["a", 1, 0.5]) == '["a", 1, 0.5]'


def test_half_a_character_is_written_as_a_question_mark() -> None:
    assert text("a\ud800b") == '"a?b"'


@given(st.text())
def test_no_comment_ends_before_its_line(words: str) -> None:
    made = comment(words)
    assert tomllib.loads("\n".join(made)) == {}
    assert all(line.startswith("# ") or line == "#" for line in made)
    assert made


def test_a_long_comment_is_wrapped() -> None:
    made = comment("reed " * 60, 40)
    assert len(made) > 5
    assert all(len(line) <= 42 for line in made)
    assert comment("") == ["# "]
