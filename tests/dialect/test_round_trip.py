"""What is written is read back: every setting, range and link of the bundled dialects."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.model import Craft, ModeLink, ModeRange, Value
from cfglint.craft.settings import setting
from cfglint.dialect import bundled, read_craft
from cfglint.dialect.load import bundled_names
from cfglint.dialect.writing import number_in, write_lines
from cfglint.dump.source import Source
from cfglint.span import Span

if TYPE_CHECKING:
    from cfglint.dialect.codec import Codec
    from cfglint.dialect.model import Tables

HERE = Span("x", 1, 1, 1, 1)
#: Every bundled dialect at a version before and after each of its changes.
VERSIONS = [
    (name, version)
    for name in bundled_names()
    for version in (
        {"plain": "4.9", "terse": "2.6", "blocks": "5.6"}[name],
        *(row["at"] for row in bundled(name).data["changes"]),
    )
]
NEWLINES = ("\n", "\r\n", "\r")


def neutral(name: str, codec: Codec) -> st.SearchStrategy[Any]:
    """Values of a setting that a codec has a text for."""
    row = setting(name)
    if name == "failsafe.channel.N":
        return st.sampled_from(["hold", "drop"]) | st.integers(800, 2200).map(str)
    if row.kind == "flag":
        return st.booleans()
    if row.kind == "text":
        return st.text(st.characters(exclude_characters="\r\n"), min_size=1, max_size=12)
    if row.kind == "word":
        return st.sampled_from([word for word in row.words if word in (codec.values or row.words)])
    if row.kind == "words":
        words = sorted(codec.mask or codec.values or row.words)
        return st.sets(st.sampled_from(words)).map(frozenset)
    if codec.values and not codec.over and codec.scale == 1:
        return st.sampled_from([float(value) for value in codec.values]).map(
            int if row.kind == "count" else float
        )
    assert row.least is not None
    assert row.most is not None
    least, most = int(row.least), int(row.most)
    if row.kind == "count" or codec.over:
        return st.integers(least, most).map(int if row.kind == "count" else float)
    return st.integers(least * 100, most * 100).map(lambda hundredths: hundredths / 100)


@st.composite
def written_values(draw: st.DrawFn, tables: Tables) -> dict[str, Any]:
    """Random values of settings that the tables can write."""
    values: dict[str, Any] = {}
    for entry in tables.entries:
        numbers = draw(st.sets(st.integers(1, 16), max_size=3)) if ".N" in entry.setting else {0}
        for number in numbers:
            if entry.name and draw(st.booleans()):
                name = entry.setting.replace("N", str(number), 1) if number else entry.setting
                values[name] = draw(neutral(entry.setting, entry.codec))
    for form in tables.forms:
        for number in draw(st.sets(st.integers(1, 16), max_size=3)) if form.sets else ():
            names = {f: name.replace("N", str(number), 1) for f, name in form.sets.items()}
            if not values.keys() & set(names.values()):
                for field, name in names.items():
                    values[name] = draw(neutral(form.sets[field], form.codecs[field]))
    return values


@st.composite
def crafts(draw: st.DrawFn, dialect: str, version: str) -> Craft:
    tables = bundled(dialect).at(version)
    values = draw(written_values(tables))
    values["craft.board"] = draw(st.from_regex(r"[A-Z][A-Z0-9]{1,7}", fullmatch=True))
    values["craft.firmware"] = version
    form = next(form for form in tables.forms if form.makes == "range")
    modes = sorted(form.codecs["mode"].values)
    mode, channel = st.sampled_from(modes), st.integers(5, 32)
    ends = st.sets(st.integers(0, 3000), min_size=2, max_size=2).map(sorted)
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
@given(data=st.data())
def test_round_trip(dialect: str, version: str, data: st.DataObject) -> None:
    craft = data.draw(crafts(dialect, version))
    written = write_lines(craft, bundled(dialect), version)
    assert written.unwritten == ()
    text = data.draw(st.sampled_from(NEWLINES)).join(written.lines)
    again = read_craft(Source.from_text("x.txt", text), bundled(dialect))
    assert (
        again.strays == again.misread == again.unreadable == again.refusals == again.repeats == ()
    )
    assert again.extent == craft.extent
    said = {name: value.value for name, value in again.values.items() if value.origin == "set"}
    assert said == {name: value.value for name, value in craft.values.items()}
    for name, value in said.items():
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
@given(data=st.data())
def test_what_was_read_is_written_alike(dialect: str, version: str, data: st.DataObject) -> None:
    first = write_lines(data.draw(crafts(dialect, version)), bundled(dialect), version).lines
    craft = read_craft(Source.from_text("x.txt", "\n".join(first)), bundled(dialect))
    # Ranges in numbered slots and sections settle at the first writing.
    second = write_lines(craft, bundled(dialect), version).lines
    assert sorted(first) == sorted(second)


@pytest.mark.parametrize(("dialect", "version"), VERSIONS)
def test_every_setting_that_a_dialect_has_can_be_written(dialect: str, version: str) -> None:
    tables = bundled(dialect).at(version)
    by_form = {name for form in tables.forms for name in form.sets.values()}
    for entry in tables.entries:
        assert entry.name or entry.setting in by_form, entry.setting


def test_numbers_of_families() -> None:
    assert number_in("channel.N.low_us", "channel.12.low_us") == "12"
    assert number_in("channel.N.low_us", "channel.12.mid_us") == ""
    assert number_in("motor.poles", "motor.poles") == ""
