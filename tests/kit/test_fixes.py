"""Applying a fix is replacing stretches of text, however its lines end."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dump.source import Source
from cfglint.kit.examples import CARD, DUMP, ExampleError, apply_fix
from cfglint.rule import Edit, Finding
from cfglint.span import Span, on_line

LINES = st.lists(st.text(st.sampled_from("ab é🪶\t"), max_size=6), min_size=1, max_size=5)
ENDINGS = st.sampled_from(["\n", "\r\n", "\r"])


def sources(text: str) -> dict[str, Source]:
    return {DUMP: Source.from_text(DUMP, text), CARD: Source.from_text(CARD, "")}


@given(LINES, ENDINGS, st.data())
def test_as_if_the_lines_were_joined_afterwards(
    lines: list[str], ending: str, data: st.DataObject
) -> None:
    """Edits of single lines, any number of them, in any order."""
    edits: list[Edit] = []
    changed = []
    for number, line in enumerate(lines, 1):
        ends = data.draw(
            st.lists(st.integers(0, len(line)), max_size=4, unique=True).map(
                lambda cuts: sorted(cuts)[: len(cuts) // 2 * 2]
            )
        )
        pieces, at = [], 0
        for start, end in zip(ends[::2], ends[1::2], strict=True):
            text = data.draw(st.sampled_from(["", "new", "two\nlines"]))
            edits.append(Edit(on_line(DUMP, number, start, end), text))
            pieces += [line[at:start], text]
            at = end
        changed.append("".join([*pieces, line[at:]]))
    finding = Finding(on_line(DUMP, 1, 0, 0), "m", fix=tuple(data.draw(st.permutations(edits))))
    after = apply_fix(finding, sources(ending.join(lines)))
    assert after == {DUMP: ending.join(changed), CARD: ""}


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_over_several_lines(ending: str) -> None:
    text = ending.join(["one", "two", "three"])
    finding = Finding(Span(DUMP, 1, 1, 1, 1), "m", fix=(Edit(Span(DUMP, 1, 3, 3, 2), "-"),))
    assert apply_fix(finding, sources(text))[DUMP] == "on-hree"


def test_two_that_overlap() -> None:
    fix = (Edit(on_line(DUMP, 1, 1, 3), "x"), Edit(on_line(DUMP, 1, 2, 4), "y"))
    with pytest.raises(ExampleError, match="two edits of one fix overlap"):
        apply_fix(Finding(on_line(DUMP, 1, 0, 1), "m", fix=fix), sources("abcdef"))
    fix = (Edit(on_line(DUMP, 1, 3, 3), "y"), Edit(on_line(DUMP, 1, 1, 3), "x"))
    assert apply_fix(Finding(on_line(DUMP, 1, 0, 1), "m", fix=fix), sources("abcdef"))[DUMP] == (
        "axydef"
    )
