"""Dumps that were damaged on the way: what was not hurt is read as it was, and the rest is told.

Every bundled dialect, by the demo fleet carried to it.
"""

from __future__ import annotations

import time
from functools import cache
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.carry.carry import carry, paste
from cfglint.carry.side import cut_off, read_side
from cfglint.dialect import bundled
from cfglint.dialect.choose import choose
from cfglint.dialect.load import bundled_names
from cfglint.dialect.reading import Reader
from cfglint.dump.source import Source

FLEET = sorted(
    (Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh" / "dumps").glob("*.txt")
)
NAMES = bundled_names()
FIRST = {"plain": "7.9", "terse": "2.57", "blocks": "5.6", "nested": "11", "tables": "7.2"}
each = pytest.mark.parametrize("name", NAMES)
dump_of = st.sampled_from(range(len(FLEET)))


@cache
def text_in(name: str, number: int) -> str:
    """A dump of the fleet in the words of a dialect."""
    source = Source.from_bytes(FLEET[number].name, FLEET[number].read_bytes())
    pool = {one: bundled(one) for one in NAMES}
    side = read_side(source, choose(source, pool))
    return paste(carry(side, bundled(name), FIRST[name]))


def read(name: str, text: str | bytes) -> Reader:
    data = text.encode() if isinstance(text, str) else text
    reader = Reader(Source.from_bytes("x.txt", data), bundled(name))
    reader.craft()
    return reader


@cache
def whole(name: str, number: int) -> Reader:
    return read(name, text_in(name, number))


def said(reader: Reader) -> dict[str, object]:
    return {name: value.value for name, value in reader.values.items()}


def modes(reader: Reader) -> list[tuple[object, ...]]:
    return [*(row[:5] for row in reader.ranges), *(row[:3] for row in reader.links)]


def places(reader: Reader) -> dict[str, tuple[object, ...]]:
    return {
        name: (value.value, value.span, value.line_span, value.written)
        for name, value in reader.values.items()
    }


# ---------------------------------------------------------------- line ends and encodings


@each
@pytest.mark.parametrize("number", range(len(FLEET)))
def test_ends_and_encodings_change_neither_values_nor_places(name: str, number: int) -> None:
    text, usual = text_in(name, number), whole(name, number)
    assert not usual.strays
    assert not usual.misread
    for data in (
        text.replace("\n", "\r\n").encode(),
        text.replace("\n", "\r").encode(),
        text.rstrip("\n").encode(),
        b"\xef\xbb\xbf" + text.encode(),
        b"\xff\xfe" + text.replace("\n", "\r\n").encode("utf-16-le"),
        b"\xfe\xff" + text.encode("utf-16-be"),
        text.encode("latin-1"),
    ):
        found = read(name, data)
        assert places(found) == places(usual)
        assert found.ranges == usual.ranges
        assert found.links == usual.links


# ---------------------------------------------------------------- one line, one bracket


@each
@settings(max_examples=40)
@given(number=dump_of, data=st.data(), junk=st.sampled_from(["§ 7", "\x00\x01", "what? 3"]))
def test_a_line_put_in_anywhere_costs_no_other(
    name: str, number: int, data: st.DataObject, junk: str
) -> None:
    lines = text_in(name, number).split("\n")
    at = data.draw(st.integers(1, len(lines) - 1))
    found = read(name, "\n".join([*lines[:at], junk, *lines[at:]]))
    usual = whole(name, number)
    assert said(found) == said(usual)
    assert modes(found) == modes(usual)
    told = [one.span.line for one in (*found.strays, *found.unreadable)]
    assert told == [at + 1]


@each
@settings(max_examples=40)
@given(number=dump_of, data=st.data())
def test_marks_of_two_versions_not_put_together_cost_nothing(
    name: str, number: int, data: st.DataObject
) -> None:
    lines = text_in(name, number).split("\n")
    at = data.draw(st.integers(1, len(lines) - 2))
    end = data.draw(st.integers(at + 1, len(lines) - 1))
    both = ["<<<<<<< here", *lines[at:end], "=======", ">>>>>>> there"]
    found = read(name, "\n".join([*lines[:at], *both, *lines[end:]]))
    usual = whole(name, number)
    assert said(found) == said(usual)
    assert modes(found) == modes(usual)
    marks = [at + 1, at + 1 + (end - at) + 1, at + 1 + (end - at) + 2]
    assert [one.span.line for one in found.unreadable] == marks


@each
@settings(max_examples=40)
@given(number=dump_of, data=st.data())
def test_a_line_that_was_lost_costs_no_other(name: str, number: int, data: st.DataObject) -> None:
    lines = text_in(name, number).split("\n")
    usual = whole(name, number)
    spoken = sorted(
        row.line
        for row in usual.rows
        if usual.uses[row.line] == "used" and row.line not in usual.identity.numbers
    )
    at = data.draw(st.sampled_from(spoken))
    found = read(name, "\n".join([*lines[: at - 1], "", *lines[at:]]))
    gone = {one for one, value in usual.values.items() if value.span and value.span.line == at}
    before, after = said(usual), said(found)
    assert {one for one in before if after.get(one) != before[one]} <= gone
    assert not set(after) - set(before)
    left = [row for row in (*usual.ranges, *usual.links) if row.span.line != at]
    assert len(modes(found)) == len(left)


BRACKETED = ("blocks", "nested")


@pytest.mark.parametrize("name", BRACKETED)
@settings(max_examples=80)
@given(number=dump_of, data=st.data())
def test_a_bracket_that_was_lost_or_doubled_costs_no_value(
    name: str, number: int, data: st.DataObject
) -> None:
    text, usual = text_in(name, number), whole(name, number)
    marks = [at for at, mark in enumerate(text) if mark in "{}()"]
    at = data.draw(st.sampled_from(marks))
    new = data.draw(st.sampled_from(["", text[at] * 2]))
    found = read(name, text[:at] + new + text[at + 1 :])
    assert said(found) == said(usual)
    assert modes(found) == modes(usual)


@pytest.mark.parametrize("word", ["with", "without"])
def test_what_is_under_a_nearer_title_is_not_said_of_one_further_out(word: str) -> None:
    """The socket's bracket is missing: its flag of the same name must not be the radio's."""
    text = f"socket 1 {{\n  load: telemetry\nradio {{\n  {word} turned\n}}\n"
    values = read("blocks", text).values.values()
    assert [one.name for one in values if one.origin == "set"] == [
        "port.1.functions", "receiver.inverted",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text", "what"),
    [
        ("nested", "switches (\n  wobble (\n    lane 7, 1740 to 2150\n  )\n)", ("range", "wobble")),
        ("blocks", "when wobble {\n  together with chirp\n}", ("link", "wobble")),
        ("plain", "use wobble while channel 5 in 1740..2150", ("range", "wobble")),
    ],
)
def test_a_mode_that_there_is_not_is_told_wherever_it_stands(
    name: str, text: str, what: tuple[str, str]
) -> None:
    found = read(name, text)
    (wrong,) = found.misread
    assert (wrong.name, wrong.written) == what
    assert found.source.slice(wrong.span) in (what[1], f"when {what[1]}")
    assert modes(found) == []


@pytest.mark.parametrize(
    ("name", "text", "written"),
    [
        ("plain", "let cell-full be 4,35", "4,35"),
        ("terse", "vl:62:84,5", "84,5"),
        ("blocks", "pack {\n  full-mv: 4,350\n}", "4,350"),
    ],
)
def test_a_number_with_a_comma_is_never_half_read(name: str, text: str, written: str) -> None:
    found = read(name, text)
    assert "battery.full_v" not in {one for one, v in found.values.items() if v.origin == "set"}
    assert [(one.name, one.written) for one in found.misread] == [("battery.full_v", written)]


def test_a_decimal_comma_beside_a_list_comma() -> None:
    """Where both are commas, a number is no list and a list of words no number."""
    from .invented import make, uses, values

    dialect = make(
        '[map]\n"motor.idle_percent" = "let idle be"\n"battery.full_v" = "let full be"\n'
        '"port.N.functions" = "let port N be"\n',
        marks='decimal = ","\nlist = ","',
    )
    text = "let idle be 4,25\nlet port 2 be gps,log\nlet full be 4,2, let port 3 be receiver, gps"
    reader = Reader(Source.from_text("x.txt", text), dialect)
    assert values(reader.craft()) == {
        "motor.idle_percent": 4.25, "port.2.functions": frozenset({"gps", "log"}),
        "battery.full_v": 4.2, "port.3.functions": frozenset({"receiver", "gps"}),
    }  # fmt: skip
    assert uses(dialect, text) == ["used", "used", "used"]
    (bad,) = Reader(Source.from_text("x.txt", "let full be 4,2,1"), dialect).craft().misread
    assert bad.written == "4,2,1"


# ---------------------------------------------------------------- a dump that never ends


def test_strange_keys_without_end_are_told_and_each_takes_as_long_as_the_first() -> None:
    def timed(number: int) -> float:
        keys = "".join(f"  key{key}: {key}\n" for key in range(number))
        start = time.process_time()
        found = read("blocks", f"drive {{\n{keys}  magnets: 12\n}}\n")
        took = time.process_time() - start
        assert found.values["motor.poles"].value == 12
        assert len(found.strays) == number
        return took

    assert timed(50_000) < 25 * max(timed(5_000), 0.05)


def test_an_object_of_a_million_keys_in_one_line_is_told_at_once() -> None:
    keys = ",".join(f'"key{key}": {key}' for key in range(1_000_000))
    start = time.process_time()
    found = read("blocks", f"{{{keys}}}\ndrive {{\n  magnets: 12\n}}\n")
    assert time.process_time() - start < 3
    assert [one.span.line for one in found.unreadable] == [1]
    assert found.values["motor.poles"].value == 12


# ---------------------------------------------------------------- a dump that was cut


@each
@settings(max_examples=60)
@given(number=dump_of, data=st.data())
def test_a_dump_that_was_cut_says_what_it_said_until_then(
    name: str, number: int, data: st.DataObject
) -> None:
    text = text_in(name, number)
    start = len(text.split("\n", 1)[0]) + 1
    cut = text[: data.draw(st.integers(start, len(text)))]
    full, _, rest = cut.rpartition("\n")
    last = full.count("\n") + 2
    usual, found = whole(name, number), read(name, cut)
    for one, value in usual.values.items():
        if value.span is not None and value.span.line < last:
            assert found.values[one].value == value.value
    for one, value in found.values.items():
        # The last line may be half a number; nothing else is another value.
        if value.span is None or value.span.line < last:
            assert one in usual.values
    assert [row for row in found.ranges if row.span.line < last] == [
        row for row in usual.ranges if row.span.line < last
    ]
    if rest.strip():
        assert found.uses.get(last) or not any(row.line == last for row in found.rows)


@pytest.mark.parametrize("name", BRACKETED)
def test_a_dump_that_was_cut_in_a_bracket_is_told_of(name: str) -> None:
    text = text_in(name, 0)
    inside = text.index("\n", text.rindex("{" if name == "blocks" else "(")) + 1
    side = read_side(Source.from_text("x.txt", text[:inside]), bundled(name))
    assert "inside a section that is not closed" in cut_off(side)
    assert cut_off(read_side(Source.from_text("x.txt", text), bundled(name))) == ""


# ---------------------------------------------------------------- two firmwares in one file


@pytest.mark.parametrize(("name", "other"), list(permutations(NAMES, 2)))
@pytest.mark.parametrize("number", [0, 5])
def test_lines_of_another_firmware_are_told_one_by_one(name: str, other: str, number: int) -> None:
    first, second = text_in(name, number), text_in(other, 7 - number)
    found, usual = read(name, first + second), whole(name, number)
    from_there = first.count("\n") + 1
    # Where both firmwares use the same words, the two values are told with their places.
    for one, value in usual.values.items():
        if one not in found.values:
            # What cannot be read is not its default.
            assert one in {slip.name for slip in found.misread}
            continue
        later = found.values[one]
        if later.value != value.value:
            assert later.span is not None
            assert later.span.line >= from_there
            assert value.origin == "default" or one in {both.later.name for both in found.repeats}
    assert modes(found) == modes(usual)
    told = {one.span.line for one in (*found.strays, *found.unreadable)}
    told |= {one.line_span.line for one in found.misread}
    told |= {value.span.line for value in found.values.values() if value.span is not None}
    for row in found.rows:
        use = found.uses[row.line]
        if row.line >= from_there and use not in ("comment", "title", "ignored", "refusal", "kept"):
            assert row.line in told
