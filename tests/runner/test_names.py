"""Stems and patterns.  Reference for the plain parts: ``fnmatch`` of the standard library."""

from __future__ import annotations

import fnmatch
import time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cfglint.runner.names import compiled, is_dump_name, is_wild, stem


@pytest.mark.parametrize(
    ("file", "found"),
    [
        ("dumps/avocet.dump.txt", "avocet"),
        ("AVOCET.DUMP.TXT", "AVOCET"),
        ("avocet.dump", "avocet"),
        ("a.b/avocet.txt", "avocet"),
        ("avocet.2026.dump.txt", "avocet.2026"),
        ("avocet", "avocet"),
        (".dump.txt", ".dump"),
        (".dump", ".dump"),
    ],
)
def test_stem(file: str, found: str) -> None:
    assert stem(file) == found


def test_dump_names() -> None:
    assert is_dump_name("a.dump.txt")
    assert is_dump_name("A.DUMP")
    assert not is_dump_name("a.txt")
    assert not is_dump_name(".hidden.dump")


@pytest.mark.parametrize(
    ("pattern", "fits", "fits_not"),
    [
        ("dumps/*.txt", ["dumps/a.txt", "dumps/.txt"], ["dumps/b/a.txt", "dumps/a.txtx", "a.txt"]),
        ("**/*.txt", ["a.txt", "b/a.txt", "b/c/a.txt"], ["a.txs"]),
        ("dumps/**", ["dumps/a", "dumps/b/c.txt"], ["dumps", "dumps/"]),
        ("a/**/b.txt", ["a/b.txt", "a/x/b.txt", "a/x/y/b.txt"], ["a/xb.txt"]),
        ("./a/?.txt", ["a/b.txt"], ["a/.b.txt", "a//.txt"]),
        ("[a-c]x[!d].txt", ["axe.txt", "bx-.txt"], ["axd.txt", "dxe.txt", "ax/.txt"]),
        ("[]].txt", ["].txt"], ["[.txt"]),
        ("[!]].txt", ["a.txt"], ["].txt"]),
        ("[^a].txt", ["^.txt", "a.txt"], ["b.txt"]),
        ("a+(b).txt", ["a+(b).txt"], ["aab.txt"]),
        ("*a*b*", ["ab", "xaybz", "aab"], ["ba"]),
        ("*", ["a\nb"], ["a/b"]),
    ],
)
def test_patterns(pattern: str, fits: list[str], fits_not: list[str]) -> None:
    for name in fits:
        assert compiled(pattern).fullmatch(name), name
    for name in fits_not:
        assert not compiled(pattern).fullmatch(name), name


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("a**.txt", "must stand alone"),
        ("a/[bc", "is not closed"),
        ("[]", "is not closed"),
        ("[z-a]", "runs backwards"),
    ],
)
def test_what_is_no_pattern(pattern: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        compiled(pattern)


def test_wild() -> None:
    assert [is_wild(part) for part in ("a", "a*", "?", "[a]")] == [False, True, True, True]


@given(st.text("ab*?.", max_size=8), st.text("ab.", max_size=10))
@example("*a*ab", "aab")
@example("*ab*b", "abab")
def test_within_one_name_as_fnmatch(pattern: str, name: str) -> None:
    if "**" in pattern or pattern in ("", "."):
        return
    assert bool(compiled(pattern).fullmatch(name)) == fnmatch.fnmatchcase(name, pattern)


def test_no_pattern_takes_long() -> None:
    start = time.perf_counter()
    assert not compiled("*a" * 30 + "b").fullmatch("a" * 250)
    assert time.perf_counter() - start < 1
