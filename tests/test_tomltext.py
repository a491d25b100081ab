"""TOML with positions: values must be the standard library's, spans must slice back.

Reference: ``tomllib`` of the standard library reads the same text, and TOML 1.0.0 (toml.io)
is where the shapes come from.
"""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.errors import Problem
from cfglint.span import Span
from cfglint.tomltext import Document, load

SAMPLE = """\
# a hangar's file
craft = "Avocet"   # its name
esc.signals = ["dshot300",
  'dshot600', # the usual
]
"quoted \\u00e9" . 'lit.eral' = 1979-05-27 07:32:00Z

[ airframe ]
motors = 4
size = { long = 0.4, wide.left = [1, 2], }  # not in TOML 1.0: see below
""".replace(", }", " }")

MORE = '''\
[[switch]]
name = "K1"
positions_us = [1000, 2000]
[[switch]]
name = "K4"
[switch.led]
on = true
[[switch.spring]]
[[switch.spring]]
note = """
two ""quotes"" and a \\"
end"""""
raw = \'\'\'it''s\'\'\'
[port.2]
inverter = "none"
[port.2.deep.er]
'''


def cut(doc: Document, text: str, span: Span) -> str:
    lines = text.split("\n")
    if span.line == span.end_line:
        return lines[span.line - 1][span.column - 1 : span.end_column - 1]
    parts = [lines[span.line - 1][span.column - 1 :], *lines[span.line : span.end_line - 1]]
    return "\n".join([*parts, lines[span.end_line - 1][: span.end_column - 1]])


def test_keys_and_values_slice_back() -> None:
    doc = load("a.toml", SAMPLE.encode())
    seen = {
        path: (cut(doc, SAMPLE, doc.where(*path)), cut(doc, SAMPLE, doc.where_value(*path)))
        for path in doc.paths()
    }
    assert seen == {
        ("craft",): ("craft", '"Avocet"'),
        ("esc",): ("esc", "esc"),
        ("esc", "signals"): ("signals", "[\"dshot300\",\n  'dshot600', # the usual\n]"),
        ("esc", "signals", 0): ('"dshot300"', '"dshot300"'),
        ("esc", "signals", 1): ("'dshot600'", "'dshot600'"),
        ("quoted é",): ('"quoted \\u00e9"', '"quoted \\u00e9"'),
        ("quoted é", "lit.eral"): ("'lit.eral'", "1979-05-27 07:32:00Z"),
        ("airframe",): ("airframe", "[ airframe ]"),
        ("airframe", "motors"): ("motors", "4"),
        ("airframe", "size"): ("size", "{ long = 0.4, wide.left = [1, 2] }"),
        ("airframe", "size", "long"): ("long", "0.4"),
        ("airframe", "size", "wide"): ("wide", "wide"),
        ("airframe", "size", "wide", "left"): ("left", "[1, 2]"),
        ("airframe", "size", "wide", "left", 0): ("1", "1"),
        ("airframe", "size", "wide", "left", 1): ("2", "2"),
    }
    assert doc.where("craft") == Span("a.toml", 2, 1, 2, 6)


def test_arrays_of_tables() -> None:
    doc = load("a.toml", MORE.encode())

    def both(*path: Any) -> tuple[int, str, str]:
        span = doc.where(*path)
        return span.line, cut(doc, MORE, span), cut(doc, MORE, doc.where_value(*path))

    assert both("switch") == (1, "switch", "[[switch]]")
    assert both("switch", 0) == (1, "switch", "[[switch]]")
    assert both("switch", 1) == (4, "switch", "[[switch]]")
    assert both("switch", 1, "name") == (5, "name", '"K4"')
    assert both("switch", 1, "led", "on") == (7, "on", "true")
    assert both("switch", 1, "spring", 1) == (9, "spring", "[[switch.spring]]")
    note = both("switch", 1, "spring", 1, "note")
    assert note == (10, "note", '"""\ntwo ""quotes"" and a \\"\nend"""""')
    assert both("switch", 1, "spring", 1, "raw") == (13, "raw", "'''it''s'''")
    assert both("port") == (14, "port", "[port.2]")
    assert both("port", "2", "inverter") == (15, "inverter", '"none"')
    assert both("port", "2", "deep") == (16, "deep", "[port.2.deep.er]")
    assert doc.data["switch"][1]["spring"][1]["note"].endswith('end""')


def test_absent_paths_give_the_nearest_ancestor() -> None:
    doc = load("a.toml", SAMPLE.encode())
    assert doc.where("airframe", "kind") == doc.where_value("airframe")
    assert doc.where_value("airframe", "kind", 3) == doc.where_value("airframe")
    assert doc.where("nowhere") == doc.where() == doc.where_value() == Span("a.toml", 1, 1, 1, 18)
    assert doc.has("airframe", "motors")
    assert not doc.has("airframe", "kind")
    assert doc.has()


def test_a_later_header_is_the_place_of_a_table() -> None:
    doc = load("a.toml", b"[a.b]\nc = 1\n[a]\nd = 2\n")
    assert doc.where_value("a").line == 3
    assert doc.where_value("a", "b").line == 1


def test_byte_order_mark_and_crlf_do_not_move_columns() -> None:
    plain = load("a.toml", SAMPLE.encode())
    other = load("a.toml", b"\xef\xbb\xbf" + SAMPLE.replace("\n", "\r\n").encode())
    assert other.data == plain.data
    assert all(other.where(*path) == plain.where(*path) for path in plain.paths())


def test_empty_file() -> None:
    doc = load("a.toml", b"")
    assert doc.data == {}
    assert doc.where("any") == Span("a.toml", 1, 1, 1, 1)


@pytest.mark.parametrize(
    ("data", "place", "words"),
    [
        (b"a = 1\nb 2\n", (2, 3, 2, 4), "expected '='"),
        (b"a = [1,\n\n", (1, 8, 1, 9), "here the file ends"),
        (b"a = 1\n  a = 2 # again\n", (2, 3, 2, 16), "cannot overwrite a value"),
        (b"[a.b]\n[a.b]\n", (2, 1, 2, 6), "the table `a.b` is declared twice"),
        (b"a = 1\nb = '\xff'\n", (2, 6, 2, 7), "byte 0xff is not UTF-8"),
        (b"\xef\xbb\xbfb = '\xff'\n", (1, 6, 1, 7), "byte 0xff is not UTF-8"),
        (b"a = \x00\n", (1, 5, 1, 6), "invalid value"),
    ],
)
def test_broken_files(data: bytes, place: tuple[int, int, int, int], words: str) -> None:
    with pytest.raises(Problem) as caught:
        load("cards/avocet.toml", data)
    assert words in str(caught.value)
    assert caught.value.span == Span("cards/avocet.toml", *place)
    assert caught.value.exit == 2
    assert caught.value.instead


def test_what_has_no_place_still_names_the_file() -> None:
    with pytest.raises(Problem) as caught:
        load("a.toml", b"a = " + b"9" * 5000)
    assert str(caught.value).startswith("a.toml: this is not TOML")
    with pytest.raises(Problem, match="nested too deeply"):
        load("a.toml", b"a = " + b"[" * 5000)


def test_deep_nesting_that_is_still_read_gets_a_place() -> None:
    # tomllib reads a few hundred levels; where the scanner cannot follow, the ancestor serves.
    depth = 150
    doc = load("a.toml", b"a = " + b"[" * depth + b"]" * depth)
    assert doc.where("a", *[0] * (depth - 1)).line == 1


def test_scanner_that_runs_out_of_stack_falls_back(monkeypatch: pytest.MonkeyPatch) -> None:
    from cfglint import tomltext

    def overflow(self: object, path: object, at: int) -> int:
        raise RecursionError

    monkeypatch.setattr(tomltext._Scanner, "below", overflow)
    doc = load("a.toml", b"[t]\na = [1]\n")
    assert doc.where("t", "a", 0) == doc.where_value("t")


# ------------------------------------------------------------------ property: same key paths

KEYS = st.sampled_from(["a", "b-1", "0", '"q é"', '"t\\tab"', "'l.it'", '""', "c_c"])
SCALARS = st.sampled_from(
    [
        "1", "-0x1", "0xdead_beef", "1.5e3", "inf", "-nan", "true", "1979-05-27", "07:32:00",
        "1979-05-27 07:32:00", "1979-05-27T07:32:00.5-07:00", '"a # b ] }"', "'x\\'", '""', "''",
        '"""\n"" # \\" ] """', "'''\n'' ]'''", '"""a"""""', '"\\"\\\\"', "''''a'''''", '""""b"""',
    ]
)  # fmt: skip
GAPS = st.sampled_from(["", " ", "\n", " # note ] }\n", "\t\n\n  "])


@st.composite
def values(draw: st.DrawFn, depth: int = 2) -> str:
    choice = draw(st.integers(0, 4 if depth else 1))
    if choice <= 1:
        return draw(SCALARS)
    if choice == 2:
        items = draw(st.lists(values(depth - 1), max_size=3))
        gap = draw(GAPS)
        return "[" + gap + ("," + gap).join(items) + gap + "]"
    keys = draw(st.lists(KEYS, max_size=3, unique=True))
    pairs = ", ".join(f"{key} = {draw(values(depth - 1))}" for key in keys)
    return "{ " + pairs + " }"


@st.composite
def documents(draw: st.DrawFn) -> str:
    parts: list[str] = []
    for _ in range(draw(st.integers(0, 4))):
        kind = draw(st.sampled_from(["", "[{}]", "[[{}]]"]))
        name = draw(st.sampled_from([".", " . "])).join(
            draw(st.lists(KEYS, min_size=1, max_size=3))
        )
        if kind:
            parts.append(draw(st.sampled_from(["", "  "])) + kind.format(name))
        for _ in range(draw(st.integers(0, 3))):
            key = ".".join(draw(st.lists(KEYS, min_size=1, max_size=2)))
            parts.append(f"{key} = {draw(values())} # c = [")
        parts.append(draw(st.sampled_from(["", "# [x]"])))
    return "\n".join(parts)


def walk(value: Any, path: tuple[Any, ...] = ()) -> set[tuple[Any, ...]]:
    pairs: Any = (
        value.items() if isinstance(value, dict)
        else enumerate(value) if isinstance(value, list)
        else ()
    )  # fmt: skip
    found: set[tuple[Any, ...]] = {path} if path else set()
    for step, inner in pairs:
        found |= walk(inner, (*path, step))
    return found


@given(documents())
def test_same_paths_as_tomllib(text: str) -> None:
    try:
        expected = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(Problem):
            load("x.toml", text.encode())
        return
    doc = load("x.toml", text.encode())
    assert set(doc.paths()) == walk(doc.data) == walk(expected)
    for path in doc.paths():
        value: Any = doc.data
        for step in path:
            value = value[step]
        if isinstance(value, dict):
            continue
        raw = cut(doc, text, doc.where_value(*path))
        if not raw.startswith("[["):
            # Equal by representation, so that nan equals nan.
            assert repr(tomllib.loads(f"v = {raw}")["v"]) == repr(value)
        if isinstance(path[-1], str):
            key = cut(doc, text, doc.where(*path))
            assert list(tomllib.loads(f"{key} = 1")) == [path[-1]]
