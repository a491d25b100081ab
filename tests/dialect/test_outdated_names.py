"""A name from another firmware version is answered with what this version calls it."""

from __future__ import annotations

import pytest

from cfglint.dialect import bundled, read_craft
from cfglint.dump.source import Source


@pytest.mark.parametrize(
    ("dialect", "text", "wanted"),
    [
        # An old name in a newer dump, though another name of that version looks more like it.
        (
            "plain",
            "-- board SLATEX, firmware 4.10, full listing\nlet lost-link-wait be 1\n",
            "loss-wait",
        ),
        # A new name in an older dump.
        (
            "plain",
            "-- board SLATE, firmware 4.9, full listing\nlet loss-wait be 1\n",
            "lost-link-wait",
        ),
        # Names that the dialect only keeps change as well.
        ("terse", "; unit COCKLEUP rev 2.65 whole\nvl:202:90\n", "232"),
        # Inside its section, and whatever the case of its letters.
        (
            "blocks",
            "// unit KETTLES build 6.3 as everything\nsilence {\n  After-Ms: 300\n}\n",
            "wait-ms",
        ),
        # A plain slip is answered with the nearest name, as ever.
        (
            "plain",
            "-- board SLATE, firmware 4.9, full listing\nlet lost-link-wiat be 1\n",
            "lost-link-wait",
        ),
    ],
)
def test_the_answer_is_what_this_version_calls_it(dialect: str, text: str, wanted: str) -> None:
    craft = read_craft(Source.from_text("a.dump.txt", text), bundled(dialect))
    assert [stray.nearest for stray in craft.strays] == [wanted]
