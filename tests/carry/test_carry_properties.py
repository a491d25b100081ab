"""Conservation: whatever is carried wherever, no line is lost and nothing means another thing."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pytest
from hypothesis import example, given

from cfglint.carry.carry import BUCKETS, Carry, batches, carry, paste
from cfglint.carry.compare import compare
from cfglint.carry.meaning import same, wire_inverted
from cfglint.carry.side import read_side
from cfglint.dialect import bundled
from cfglint.dump.source import Source

from .dumps import BOARDS, VERSIONS, Drawn, dumps, fleet, targets

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.craft import Craft, ModeRange


def carried(found: Carry, batch: int = 0) -> Craft:
    source = Source.from_text("carried.txt", paste(found, batch))
    return read_side(source, found.target, version=found.version, extent="changes").craft


def check(found: Carry, batch: int = 0) -> None:
    """All that must hold of any carry."""
    side = found.side
    lines = [number for number, text in enumerate(side.source.lines, 1) if text.strip()]
    assert [row.statement.line for row in found.moved] == lines
    counts = found.counts()
    assert set(counts) == set(BUCKETS)
    assert sum(counts.values()) == len(lines)
    out = {line.strip() for line in found.lines}
    for row in found.moved:
        assert {line.strip() for line in row.lines} <= out
        if row.bucket in ("as it is", "new name", "rescaled"):
            assert row.lines
        if row.bucket in ("removed", "by hand", "unreadable", "default says so"):
            assert row.note
    craft = carried(found, batch)
    assert craft.strays == craft.misread == craft.unreadable == craft.refusals == ()
    check_values(found, craft)
    check_modes(found, craft)


def hand_lines(found: Carry) -> set[int]:
    return {row.statement.line for row in found.moved
            if row.bucket in ("by hand", "unreadable", "removed")}  # fmt: skip


def check_values(found: Carry, craft: Craft) -> None:
    hand = hand_lines(found)
    unsaid = {row.name for row in found.unsaid}
    for name, value in found.side.craft.values.items():
        if name in unsaid or name in ("craft.board", "craft.firmware"):
            continue
        if value.line_span is not None and value.line_span.line in hand:
            continue
        now = craft.get(name)
        if not now.known:
            # Only a default that the target has no notion of may go without a word.
            assert value.origin == "default"
            assert value.line_span is None
            continue
        if name == "receiver.inverted":
            wire = wire_inverted(found.side.craft, bool(value.value))
            assert wire_inverted(craft, bool(now.value)) == wire
        else:
            assert same(now, value), name


def check_modes(found: Carry, craft: Craft) -> None:
    hand = hand_lines(found)

    def rows(ranges: tuple[ModeRange, ...], without: set[int]) -> Counter[tuple[object, ...]]:
        return Counter(
            (row.mode, row.channel, round(row.low_us, 6), round(row.high_us, 6), row.join)
            for row in ranges
            if row.span.line not in without
        )

    assert rows(craft.mode_ranges, set()) == rows(found.side.craft.mode_ranges, hand)
    old = Counter(
        (link.mode, link.follows)
        for link in found.side.craft.mode_links
        if link.span.line not in hand
    )
    assert Counter((link.mode, link.follows) for link in craft.mode_links) == old


@given(drawn=dumps(), to=targets())
def test_no_line_is_lost_and_all_means_the_same(drawn: Drawn, to: tuple[str, str]) -> None:
    check(carry(drawn.side(), bundled(to[0]), to[1]), batch=7)


@pytest.mark.parametrize(("dialect", "path"), fleet(), ids=lambda part: getattr(part, "name", part))
@pytest.mark.parametrize(
    "to",
    [
        *((name, at) for name, both in VERSIONS.items() for at in both),
        ("nested", "11"), ("nested", "12.1"), ("tables", "7.2"), ("tables", "7.4"),
    ],
)  # fmt: skip
def test_the_fleet(dialect: str, path: Path, to: tuple[str, str]) -> None:
    side = read_side(Source.from_bytes(path.name, path.read_bytes()), bundled(dialect))
    found = carry(side, bundled(to[0]), to[1])
    check(found)
    save = bundled(to[0]).mark("save")
    assert found.lines[-1] == save
    assert found.lines.count(save) == 1
    # And on from there: nothing that was carried is lost in the dialect's own next carry.
    there = read_side(
        Source.from_text("there.txt", paste(found)), bundled(to[0]), version=to[1],
        extent="changes",
    )  # fmt: skip
    check(carry(there, bundled(dialect), side.version))
    assert [one.kind for one in compare(there, there).shown()] == []


@given(drawn=dumps(), to=targets())
@example(
    # A line typed at a prompt stands under no other.
    Drawn("terse", "2.57", "pf:1\nmd:31:86:2:5:46\n% vl:200:8/33\npf:1"),
    ("terse", "2.57"),
)
@example(
    # Nor does one that is indented, where headings have a mark of their own.
    Drawn("terse", "2.57", "pf:1\nvl:95:2\n  vl:13:310\nmd:31:86:2:5:46\n  vl:200:8/33"),
    ("terse", "2.57"),
)
def test_a_second_carry_to_the_same_version_changes_nothing(
    drawn: Drawn, to: tuple[str, str]
) -> None:
    target = bundled(to[0])
    once = carry(drawn.side(), target, to[1])
    side = read_side(
        Source.from_text("once.txt", paste(once)), target, version=to[1], extent="changes"
    )
    twice = carry(side, target, to[1])
    check(twice)
    assert not [row for row in twice.moved if row.bucket in ("removed", "by hand", "unreadable")]
    assert Counter(twice.lines) == Counter(once.lines)


@given(drawn=dumps(), to=targets())
def test_batches_hold_every_line_once_and_no_more_than_asked(
    drawn: Drawn, to: tuple[str, str]
) -> None:
    found = carry(drawn.side(), bundled(to[0]), to[1])
    for size in (0, 1, 5, 1000):
        parts = batches(found.lines, size, found.target)
        assert [line for part in parts for line in part] == list(found.lines)
        assert all(len(part) <= size for part in parts) or not size


def test_there_are_boards_to_rename() -> None:
    for name, board in BOARDS.items():
        rows = bundled(name).data["changes"]
        assert any(board in row["boards"] for row in rows)
