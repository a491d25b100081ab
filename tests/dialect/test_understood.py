"""Whatever a bundled dialect writes it understands whole, and it survives a round trip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.dialect import bundled
from cfglint.dialect.roundtrip import round_trip
from cfglint.dialect.writing import Writer
from cfglint.dump.source import Source
from cfglint.runner.coverage import coverage, grouped
from cfglint.runner.one import One

from .test_round_trip import NEWLINES, VERSIONS, crafts

if TYPE_CHECKING:
    from cfglint.dialect import Dialect


def one_of(dialect: Dialect, text: str) -> One:
    return One(
        Source.from_text("x.txt", text), dialect, None, "", None, None, (), lambda _: dialect
    )


@pytest.mark.parametrize(("name", "version"), VERSIONS[::2])
@settings(max_examples=4)
@given(data=st.data())
def test_nothing_is_lost(name: str, version: str, data: st.DataObject) -> None:
    craft = data.draw(crafts(name, version))
    dialect = bundled(name)
    written = Writer(craft, dialect, version).written()
    text = data.draw(st.sampled_from(NEWLINES)).join(written.lines)
    trip = round_trip(Source.from_text("x.txt", text), dialect)
    assert trip.lost == ()
    assert trip.settings == len(craft.values) - 2  # board and firmware only say who it is
    assert (trip.ranges, trip.links) == (len(craft.mode_ranges), len(craft.mode_links))


@pytest.mark.parametrize(("name", "version"), VERSIONS[::2])
@settings(max_examples=2)  # every rule is judged each time
@given(data=st.data())
def test_everything_is_understood(name: str, version: str, data: st.DataObject) -> None:
    dialect = bundled(name)
    written = Writer(data.draw(crafts(name, version)), dialect, version).written()
    found = coverage(f"{name}.toml", dialect, [one_of(dialect, "\n".join(written.lines))])
    assert found.lines == ()
    assert (found.percent(), found.exit_code()) == (100.0, 0)
    assert found.crashed == ()
    (tally,) = found.dumps
    # A line that only closes a bracket is none of its own.
    own = [line for line in written.lines if line.strip() not in ("}", ")")]
    assert tally.understood == len(own)
    assert (tally.half, tally.unknown, tally.aside) == (0, 0, 0)


@pytest.mark.parametrize(("name", "version"), VERSIONS[::2])
@settings(max_examples=2)
@given(data=st.data())
def test_what_is_strange_is_told_and_nothing_else(
    name: str, version: str, data: st.DataObject
) -> None:
    """Strange lines among the others: each is told of once, in one group, where it stands."""
    dialect = bundled(name)
    lines = list(Writer(data.draw(crafts(name, version)), dialect, version).written().lines)
    strange = data.draw(st.lists(st.from_regex(r"\x07[a-z]{0,8}", fullmatch=True), max_size=5))
    for line in strange:
        lines.insert(data.draw(st.integers(0, len(lines))), line)
    found = coverage(f"{name}.toml", dialect, [one_of(dialect, "\n".join(lines))])
    assert [lines[one.span.line - 1] for one in found.lines] == [
        line for line in lines if line[:1] == "\x07"
    ]
    grouped_lines = [one for group in grouped(found.lines) for one in group.lines]
    assert sorted(grouped_lines) == sorted(found.lines)
    assert found.exit_code() == bool(strange)
