"""Bytes to text to lines."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dump.source import Source, decode, split_lines
from cfglint.span import Span, on_line

from .texts import texts


@pytest.mark.parametrize(
    ("data", "text", "encoding"),
    [
        (b"", "", "utf-8"),
        (b"let a be 1\n", "let a be 1\n", "utf-8"),
        (b"\xef\xbb\xbflet", "let", "utf-8"),
        ("µ \U0001f681".encode(), "µ \U0001f681", "utf-8"),
        (b"\xff\xfe" + "µ\n\U0001f681".encode("utf-16-le"), "µ\n\U0001f681", "utf-16-le"),
        (b"\xfe\xff" + "µ\n\U0001f681".encode("utf-16-be"), "µ\n\U0001f681", "utf-16-be"),
        (b"\xff\xfea\x00b", "a\ufffd", "utf-16-le"),
        (b"\xfe\xff\x00ab", "a\ufffd", "utf-16-be"),
        # Half a surrogate pair is kept as it is.
        (b"\xff\xfe\x00\xd8", "\ud800", "utf-16-le"),
        # An octet that is no UTF-8 makes the whole text Latin-1 (ISO/IEC 8859-1).
        (b"\xb5s and \xc3\xa9", "µs and Ã©", "latin-1"),
        (b"a\x00b", "a\x00b", "utf-8"),
    ],
)
def test_decode(data: bytes, text: str, encoding: str) -> None:
    assert decode(data) == (text, encoding)
    source = Source.from_bytes("x.txt", data)
    assert (source.text, source.encoding, source.file) == (text, encoding, "x.txt")


@given(st.binary(max_size=60))
def test_decode_takes_anything(data: bytes) -> None:
    text, encoding = decode(data)
    if encoding == "latin-1":
        bare = data.removeprefix(b"\xef\xbb\xbf")
        assert text.encode("latin-1") == bare


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("", []),
        ("\n", [""]),
        ("a", ["a"]),
        ("a\n", ["a"]),
        ("a\n\n", ["a", ""]),
        ("a\r\nb\rc\nd", ["a", "b", "c", "d"]),
        ("\n\r", ["", ""]),
        ("a\tb\fc\vd", ["a\tb\fc\vd"]),
        ("a\u2028b\u2029c\x85d\x1ce", ["a\u2028b\u2029c\x85d\x1ce"]),
    ],
)
def test_split(text: str, lines: list[str]) -> None:
    assert split_lines(text) == lines


@given(texts())
def test_lines_are_the_text_without_its_endings(text: str) -> None:
    parts = re.split(r"\r\n|\r|\n", text)
    assert split_lines(text) == (parts[:-1] if parts[-1] == "" else parts)


def test_slice() -> None:
    source = Source.from_text("x.txt", "a\tb\U0001f681c\r\nsecond\rthird")
    assert source.slice(on_line("x.txt", 1, 3, 4)) == "\U0001f681"
    assert source.slice(Span("x.txt", 1, 3, 3, 3)) == "b\U0001f681c\nsecond\nth"
    assert source.slice(Span("x.txt", 9, 1, 9, 4)) == ""
    assert source.lines == ["a\tb\U0001f681c", "second", "third"]
