"""Fingerprints stay put, tell findings apart, and the line hash is the published one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.prints import BASE, BLOCK, LineHashes, Prints, fingerprint, fold

WORDS = st.text(min_size=1, max_size=30)


def hashes(text: str, encoding: str = "utf-8") -> list[str]:
    found = LineHashes(text, encoding)
    count = text.replace("\r\n", "\n").replace("\r", "\n").count("\n") + 1
    return [found.of(line) for line in range(1, count + 1)]


# Source: the CodeQL Action's own tests of its hash, src/fingerprints.test.ts; values from memory.
PUBLISHED = [
    ("", ["c129715d7a2bc9a3:1"]),
    (
        " a\nb\n  \t\tc\n d",
        ["271789c17abda88f:1", "54703d4cd895b18:1", "180aee12dab6264:1", "a23a3dc5e078b07b:1"],
    ),
    (
        " hello; \t\nworld!!!\n\n\n  \t\tGreetings\n End",
        [
            "8b7cf3e952e7aeb2:1",
            "b1ae1287ec4718d9:1",
            "bff680108adb0fcc:1",
            "c6805c5e1288b612:1",
            "b86d3392aea1be30:1",
            "e6ceba753e1a442:1",
        ],
    ),
    (
        " hello; \t\nworld!!!\n\n\n  \t\tGreetings\n End\n",
        [
            "e9496ae3ebfced30:1",
            "fb7c023a8b9ccb3f:1",
            "ce8ba1a563dcdaca:1",
            "e20e36e16fcb0cc8:1",
            "b3edc88f2938467e:1",
            "c8e28b0b4002a3a0:1",
            "c129715d7a2bc9a3:1",
        ],
    ),
]


@pytest.mark.parametrize(("text", "expected"), PUBLISHED)
@pytest.mark.parametrize("ending", ["\n", "\r", "\r\n"])
def test_line_hashes_are_the_published_ones(text: str, expected: list[str], ending: str) -> None:
    assert hashes(text.replace("\n", ending)) == expected


def rolled(text: str) -> list[str]:
    """The same hash the long way round: a rolling window, one unit at a time.

    Written from the description of the algorithm, not from cfglint: push units through a ring
    of 100, and when a line's first unit comes round again the sum is that line's hash.
    """
    out: list[str] = []
    raw = text.encode("utf-16-le")
    units = [int.from_bytes(raw[at : at + 2], "little") for at in range(0, len(raw), 2)]
    ring, marks = [0] * 100, [False] * 100
    at, total, starts, after_cr = 0, 0, True, False
    counts: dict[int, int] = {}
    top = pow(37, 100, 2**64)

    def give() -> None:
        if marks[at]:
            counts[total] = counts.get(total, 0) + 1
            out.append(f"{total:x}:{counts[total]}")
            marks[at] = False

    def push(unit: int) -> None:
        nonlocal at, total
        total = (total * 37 + unit - top * ring[at]) % 2**64
        ring[at] = unit
        at = (at + 1) % 100

    for unit in [*units, 65535]:
        if unit in (32, 9) or (after_cr and unit == 10):
            after_cr = False
            continue
        after_cr = unit == 13
        kept = 10 if unit == 13 else unit
        give()
        marks[at] = starts
        starts = kept == 10
        push(kept)
    for _ in range(100):
        give()
        push(0)
    return out


LINES = st.lists(
    st.one_of(
        st.sampled_from(["let motor-idle be 6.7", "", "\t", "  save", "𝔸 non-BMP", "é"]),
        st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r\n"), max_size=40),
    ),
    max_size=12,
)


@given(LINES, st.lists(st.sampled_from(["\n", "\r", "\r\n", "\r \n"]), min_size=12, max_size=12))
def test_line_hashes_equal_a_rolling_window(lines: list[str], endings: list[str]) -> None:
    text = "".join(line + ending for line, ending in zip(lines, endings, strict=False))
    assert hashes(text) == rolled(text)


def test_equal_lines_are_numbered() -> None:
    text = "save\n" * 60
    found = hashes(text)
    assert len(set(found)) == len(found)
    assert [row.split(":")[1] for row in found[:3]] == ["1", "2", "3"]
    assert found[0].split(":")[0] == found[1].split(":")[0]
    assert (BLOCK, BASE) == (100, 37)


def test_hashes_may_be_asked_for_in_any_order() -> None:
    text = "save\n" * 4
    found = LineHashes(text)
    assert [found.of(line) for line in (3, 1, 2)] == [hashes(text)[at] for at in (2, 0, 1)]


def test_a_line_past_the_end_counts_as_the_last() -> None:
    found = LineHashes("save\nsave")
    assert found.of(9) == found.of(2)
    assert found.of(0) == found.of(1)


def test_bytes_that_are_no_utf8_count_as_a_reader_of_utf8_sees_them() -> None:
    data = b'let craft-name be "Gr\xfcnschenkel"\nsave'
    seen = hashes(data.decode("utf-8", "replace"))
    assert hashes(data.decode("latin-1"), "latin-1") == seen
    assert hashes(data.decode("utf-8", "surrogateescape")) == seen
    assert hashes("a\ud800b") == hashes("a?b")


def test_a_line_put_in_above_moves_no_line_hash() -> None:
    tail = "let motor-signal be brushed\n" + "save\n" * 40
    before, after = LineHashes(tail), LineHashes("let keep-log be yes\n" + tail)
    assert before.of(1) == after.of(2)


# ---------------------------------------------------------------- our own


@given(WORDS, WORDS, WORDS, st.integers(0, 9))
def test_a_print_is_32_hexadecimal_digits(rule: str, file: str, line: str, nth: int) -> None:
    made = fingerprint(rule, file, line, nth)
    assert len(made) == 32
    assert int(made, 16) >= 0


def test_every_part_counts_and_parts_do_not_run_together() -> None:
    made = {
        fingerprint("a/b", "c", "d", 0),
        fingerprint("a/x", "c", "d", 0),
        fingerprint("a/b", "x", "d", 0),
        fingerprint("a/b", "c", "x", 0),
        fingerprint("a/b", "c", "d", 1),
        fingerprint("a/b", "c0", "d", 1),
        fingerprint("a/b", "c", "1 d", 0),
        fingerprint("a/bc", "", "d", 0),
    }
    assert len(made) == 8


@pytest.mark.parametrize("line", ["a b", " a b", "a  b\t", "\ta \t b "])
def test_white_space_only_parts_words(line: str) -> None:
    assert fold(line) == "a b"
    assert fingerprint("r/x", "f", line, 0) == fingerprint("r/x", "f", "a b", 0)
    assert fingerprint("r/x", "f", "ab", 0) != fingerprint("r/x", "f", "a b", 0)


@given(st.lists(st.sampled_from(["save", "let a be 1", "-- note"]), max_size=8), st.integers(0, 8))
def test_unrelated_lines_move_nothing(lines: list[str], place: int) -> None:
    def told(rows: list[str]) -> list[str]:
        prints = Prints()
        return [prints.of("r/x", "f", row) for row in rows if row.startswith("let")]

    more = [*lines[:place], "-- something else", *lines[place:]]
    assert told(more) == told(lines)
    assert len(set(told(lines))) == len(told(lines))


def test_a_text_that_is_no_unicode_still_has_a_print() -> None:
    assert fingerprint("r/x", "f", "\udcff", 0) != fingerprint("r/x", "f", "\udcfe", 0)
