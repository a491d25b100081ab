"""Line hashes are numbered by occurrence: compared with counting every line, in any order."""

from __future__ import annotations

import hashlib
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint import prints
from cfglint.prints import LineHashes, sha256_hex

LINES = st.lists(st.sampled_from(["a", "b", "a a", "", "aa", "x" * 120, "x" * 121, "\uffff"]))


@given(LINES, st.data())
def test_numbers_count_equal_lines_before(lines: list[str], data: st.DataObject) -> None:
    hashes = LineHashes("\n".join(lines))
    text = "\n".join(lines).replace(" ", "") + "\uffff"
    starts = [0] + [at + 1 for at, char in enumerate(text) if char == "\n"]
    blocks = [text[start : start + 100] for start in starts]
    asked = data.draw(st.lists(st.integers(1, len(blocks))))
    for line in asked:
        number = int(hashes.of(line).partition(":")[2])
        assert number == blocks[:line].count(blocks[line - 1])


@pytest.mark.parametrize("missing", [(), ("_sha2",), ("_sha2", "_sha256")])
def test_digests_are_those_of_hashlib(
    missing: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in missing:
        monkeypatch.setitem(sys.modules, name, None)
    prints._sha256.cache_clear()
    assert sha256_hex(b"abc") == hashlib.sha256(b"abc").hexdigest()
    prints._sha256.cache_clear()
