"""What is written is read back: every setting, range and link of the bundled dialects."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.craft.model import Craft, ModeLink, ModeRange, Value
from cfglint.craft.settings import setting
from cfglint.dialect import bundled, read_craft
from cfglint.dialect.encode import close
from cfglint.dialect.load import bundled_names
from cfglint.dialect.model import number_in
from cfglint.dialect.writing import Writer
from cfglint.dump.source import Source
from cfglint.span import Span

if TYPE_CHECKING:
    from cfglint.dialect.mapping import Entry
    from cfglint.dialect.model import Tables
    from cfglint.dialect.values import Codec

HERE = Span("x", 1, 1, 1, 1)
FIRST = {"plain": "7.9", "terse": "2.57", "blocks": "5.6", "nested": "11", "tables": "7.2"}
#: Every bundled dialect at a version before and after each of its changes.
VERSIONS = [
    (name, version)
    for name in bundled_names()
    for version in (FIRST[name], *(row["at"] for row in bundled(name).data["changes"]))
]
NEWLINES = ("\n", "\r\n", "\r")


def neutral(name: str, codec: Codec) -> st.SearchStrategy[Any]:
    """Values of a setting that a codec has a text for."""
    row = setting(name)
    if name == "failsafe.channel.N":
        return st.sampled_from(["hold", "drop"]) | st.integers(800, 2200).map(str)
    if name == "receiver.channel_order":
        return st.permutations("AETR").map("".join)
    if row.kind == "flag":
        return st.booleans()
    if row.kind == "text":
        plain = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"])
        return st.text(plain, min_size=1, max_size=12)
    if row.kind == "word":
        return st.sampled_from([word for word in row.words if word in (codec.words or row.words)])
    if row.kind == "words":
        words = sorted(codec.bits or codec.words or row.words)
        return st.sets(st.sampled_from(words), min_size=not codec.none).map(frozenset)
    if codec.words and not codec.scaled:
        return st.sampled_from([float(value) for value in codec.words]).map(
            int if row.kind == "count" else float
        )
    assert row.least is not None
    assert row.most is not None
    least, most = int(row.least), int(row.most)
    if row.kind == "count":
        return st.integers(max(least, codec.first or 0), most)
    step = codec.scale if not codec.over else 1
    if codec.over:
        # Rates whose period has a text of one decimal.
        return st.sampled_from([float(rate) for rate in (1000, 1600, 2000, 3200, 8000)])
    whole = int((most - least) / step)
    return st.integers(0, min(whole, 100_000)).map(lambda n: float(round(least + n * step, 9)))


def members(draw: st.DrawFn, entry: Entry) -> set[int]:
    counts = any(".N" in name for name in entry.sets.values())
    return draw(st.sets(st.integers(1, 16), max_size=3)) if counts else {0}


@st.composite
def written_values(draw: st.DrawFn, tables: Tables) -> dict[str, Any]:
    """Random values of settings that the tables can write."""
    values: dict[str, Any] = {}
    for entry in tables.map.entries:
        if entry.makes != "settings" or not draw(st.booleans()):
            continue
        for number in members(draw, entry):
            names = {f: name.replace("N", str(number), 1) if number else name
                     for f, name in entry.sets.items()}  # fmt: skip
            if not values.keys() & set(names.values()):
                for field, name in names.items():
                    values[name] = draw(neutral(entry.sets[field], entry.codecs[field]))
    return values


@st.composite
def crafts(draw: st.DrawFn, dialect: str, version: str) -> Craft:
    tables = bundled(dialect).at(version)
    values = draw(written_values(tables))
    values["craft.board"] = draw(st.from_regex(r"[A-Z][A-Z0-9]{1,7}", fullmatch=True))
    values["craft.firmware"] = version
    entry = next(entry for entry in tables.map.entries if entry.makes == "range")
    modes = sorted(entry.codecs["mode"].words)
    mode, channel = st.sampled_from(modes), st.integers(5, 32)
    low = entry.codecs["low"]
    step = st.integers(0, int((3000 - low.offset) / low.scale))
    ends = st.sets(step, min_size=2, max_size=2).map(
        lambda two: [low.offset + low.scale * one for one in sorted(two)]
    )
    return Craft(
        file="x",
        name="",
        dialect=dialect,
        extent=draw(st.sampled_from(["full", "changes"])),
        whole=HERE,
        values={name: Value(name, value, "set", HERE, HERE) for name, value in values.items()},
        mode_ranges=tuple(
            ModeRange(
                draw(mode), draw(channel), float(low), float(high),
                draw(st.sampled_from(["any", "all"])), HERE, HERE, HERE, HERE,
            )
            for low, high in draw(st.lists(ends, max_size=6))
        ),
        mode_links=tuple(
            ModeLink(draw(mode), draw(mode), "any", HERE)
            for _ in range(draw(st.integers(0, 3)))
        ),
    )  # fmt: skip


@pytest.mark.parametrize(("dialect", "version"), VERSIONS)
@settings(max_examples=25)
@given(data=st.data())
def test_round_trip(dialect: str, version: str, data: st.DataObject) -> None:
    craft = data.draw(crafts(dialect, version))
    written = Writer(craft, bundled(dialect), version).written()
    assert written.unwritten == ()
    text = data.draw(st.sampled_from(NEWLINES)).join(written.lines)
    again = read_craft(Source.from_text("x.txt", text), bundled(dialect))
    assert (
        again.strays == again.misread == again.unreadable == again.refusals == again.repeats == ()
    )
    assert again.extent == craft.extent
    said = {name: value.value for name, value in again.values.items() if value.origin == "set"}
    assert said.keys() == craft.values.keys()
    for name, value in said.items():
        assert close(value, craft.values[name].value), name
        # The same kind of value too: 14 poles and 5.0 % are not told apart by ==.
        assert type(value) is type(craft.values[name].value)
    # Lines stand together by section, so the order of ranges may differ; nothing depends on it.
    assert sorted(row[:5] for row in again.mode_ranges) == sorted(
        row[:5] for row in craft.mode_ranges
    )
    assert sorted(row[:3] for row in again.mode_links) == sorted(
        row[:3] for row in craft.mode_links
    )


@pytest.mark.parametrize(("dialect", "version"), VERSIONS)
@settings(max_examples=25)
@given(data=st.data())
def test_what_was_read_is_written_alike(dialect: str, version: str, data: st.DataObject) -> None:
    first = Writer(data.draw(crafts(dialect, version)), bundled(dialect), version).written().lines
    craft = read_craft(Source.from_text("x.txt", "\n".join(first)), bundled(dialect))
    # Ranges in numbered slots and sections settle at the first writing.
    second = Writer(craft, bundled(dialect), version).written().lines
    assert sorted(first) == sorted(second)


@pytest.mark.parametrize(("dialect", "version"), VERSIONS)
def test_every_setting_that_a_dialect_has_can_be_written(dialect: str, version: str) -> None:
    tables = bundled(dialect).at(version)
    for name in tables.map.defaults:
        assert tables.entries_of(name), name


def test_numbers_of_families() -> None:
    assert number_in("channel.N.low_us", "channel.12.low_us") == "12"
    assert number_in("channel.N.low_us", "channel.12.mid_us") == ""
    assert number_in("motor.poles", "motor.poles") == ""
