"""The short page of a rule: the first example of each kind, and where the rest are."""

from __future__ import annotations

import pytest

from cfglint.report.page import page
from cfglint.rule import bad, good, rule, unknown

EXAMPLES = (
    good("let a be 1"),
    bad("let a be 2\n         ^ two"),
    good("let a be 3"),
    unknown("let b be 1", missing="a"),
    bad("let a be 4\n         ^ four"),
)


@pytest.mark.parametrize("markdown", [True, False])
def test_first_of_each_kind(markdown: bool) -> None:
    item = rule(
        "tide/float-fitted", grade="fix", title="t", why="w", source="s", examples=EXAMPLES
    )(lambda craft, options: ())
    text = page(item, markdown=markdown, brief=True)
    assert [line.strip() for line in text.splitlines() if "be" in line] == [
        "let a be 1",
        "let a be 2",
        "let b be 1",
    ]
    tick = "`" if markdown else ""
    assert f"All examples: {tick}cfglint why tide/float-fitted{tick}." in text
    whole = page(item, markdown=markdown)
    assert "let a be 4" in whole
    assert "All examples" not in whole
    few = item._replace(examples=EXAMPLES[:2])
    assert page(few, markdown=markdown, brief=True) == page(few, markdown=markdown)
