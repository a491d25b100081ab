"""The club's own dumps, taught as if nobody had described them.

What the bundled dialects read is the truth here: a draft made from a dump alone must read the
same, or say that it is not sure.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft.settings import family
from cfglint.dialect import bundled, read_craft
from cfglint.dump.source import Source
from cfglint.teach.whole import whole

from .blind import blind

if TYPE_CHECKING:
    from cfglint.craft.model import Craft

MARSH = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh"
KINDS = {"-- ": "plain", "; u": "terse", "// ": "blocks"}
DUMPS = {
    path.name.removesuffix(".dump.txt"): path
    for folder in ("dumps", "updates")
    for path in sorted((MARSH / folder).glob("*.dump.txt"))
}
KIND_OF = {name: KINDS[path.read_text(encoding="utf-8")[:3]] for name, path in DUMPS.items()}
WORDED = [name for name, kind in KIND_OF.items() if kind != "terse"]
NUMBERED = [name for name, kind in KIND_OF.items() if kind == "terse"]


def both(name: str) -> tuple[Craft, Craft]:
    """The craft as it truly is, and as a draft from its dump alone has it."""
    source = Source.from_bytes(name, DUMPS[name].read_bytes())
    draft = whole([source], "mine").dialect
    return read_craft(source, bundled(KIND_OF[name])), read_craft(source, draft)


def said(craft: Craft) -> dict[str, Any]:
    return {name: value for name, value in craft.values.items() if value.origin == "set"}


def wrong(true: Craft, got: Craft) -> dict[str, tuple[Any, Any]]:
    """What is read without a mark and is not so."""
    truth = said(true)
    return {
        key: (value.value, truth[key].value)
        for key, value in said(got).items()
        if value.sure and key in truth and not blind.same(key, value.value, truth[key].value)
    }


def test_all_three_shapes_are_there() -> None:
    assert set(KIND_OF.values()) == set(KINDS.values())
    assert len(DUMPS) == 10


@pytest.mark.parametrize("name", WORDED)
def test_what_is_drafted_and_unmarked_is_right(name: str) -> None:
    true, got = both(name)
    assert wrong(true, got) == {}
    # Names that were mistyped, or are older than the firmware, set nothing; Dunlin has such, and
    # a gain at idle there that is taken for the idle itself.
    more = {family(key) for key, value in said(got).items() if value.sure and key not in said(true)}
    assert more <= ({"failsafe.delay_s", "motor.idle_percent"} if name == "dunlin" else set())
    # How the craft is built stands in words of the dialect's own that no list could hold.
    asked = {key: value for key, value in said(true).items() if family(key) in blind.KNOWN}
    right = [
        key
        for key, value in asked.items()
        if key in got.values and blind.same(key, got.values[key].value, value.value)
    ]
    assert len(right) >= 0.8 * len(asked)
    assert not got.unreadable


@pytest.mark.parametrize("name", WORDED)
def test_unmarked_modes_are_right(name: str) -> None:
    true, got = both(name)
    rows = {row.span.line: row for row in true.mode_ranges}
    for row in got.mode_ranges:
        assert not row.sure or row[:5] == rows[row.span.line][:5]


@pytest.mark.parametrize("name", NUMBERED)
def test_names_that_are_numbers_tell_nothing_and_it_says_so(name: str) -> None:
    """Numbers for names: which is which cannot be seen, and nothing is made up."""
    true, got = both(name)
    assert wrong(true, got) == {}
    assert "motor.signal" not in {key for key, value in got.values.items() if value.sure}
    assert not [row for row in got.mode_ranges if row.sure]
