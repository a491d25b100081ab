"""A cure in neutral words becomes lines of the dump at hand, and changes nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import SETTINGS, setting
from cfglint.cure import changed, cure
from cfglint.dialect.encode import close
from cfglint.dialect.load import bundled
from cfglint.dialect.reading import Reader
from cfglint.dump.source import Source
from cfglint.finding import Cure
from cfglint.report.patch import with_edits
from cfglint.report.sarif import cure_of
from cfglint.rule import Drop, Move, Put, Respell

from .seeded import Bench

if TYPE_CHECKING:
    from cfglint.craft import Craft


def made(dialect: str, text: str, *edits: Put | Move | Drop | Respell) -> Cure:
    reader = Reader(Source.from_text("one.txt", text), bundled(dialect))
    return cure(reader, reader.craft(), edits)


def told(one: Cure) -> list[tuple[str, str]]:
    return [(step.text, step.where()) for step in one.steps]


def read(dialect: str, text: str) -> Craft:
    return Reader(Source.from_text("one.txt", text), bundled(dialect)).craft()


HEAD = "-- board SLATE, firmware 7.9, changes only\n"


def test_in_place_of_the_line_that_says_it() -> None:
    one = made("plain", HEAD + "let motor-signal be brushed\n", Put("motor.signal", "dshot300"))
    assert told(one) == [("let motor-signal be dshot300", "in place of line 2")]
    assert one.asks == ("motor.signal = dshot300",)


def test_with_the_scale_of_the_dialect() -> None:
    """7.10 of this dialect writes cells in thousandths of a volt."""
    text = "-- board SLATE, firmware 7.10, changes only\nlet cell-warn be 3300\n"
    one = made("plain", text, Put("battery.warn_v", 3.5))
    assert told(one) == [("let cell-warn be 3500", "in place of line 2")]


def test_with_its_code() -> None:
    bench = Bench("curlew")
    reader = Reader(bench.source, bench.dialect)
    one = cure(reader, reader.craft(), (Put("motor.signal", "dshot600"),))
    assert one.steps[0].text.startswith("vl:11:")
    changed_to = Reader(
        Source.from_text("x", with_edits(bench.source.text, one.edits)), bench.dialect
    )
    assert changed_to.craft().get("motor.signal").value == "dshot600"


def test_a_new_line_goes_below_its_like() -> None:
    text = HEAD + "let receiver-link be sbus\nlet loop-rate be 4000\nstow\n"
    one = made("plain", text, Put("receiver.inverted", True))
    assert told(one) == [("let receiver-flip be yes", "new, below line 2")]
    assert with_edits(text, one.edits).split("\n")[2] == "let receiver-flip be yes"


def test_a_new_line_goes_above_the_one_that_saves() -> None:
    text = HEAD + "let loop-rate be 4000\nstow\n"
    one = made("plain", text, Put("battery.cells", 4))
    assert with_edits(text, one.edits).split("\n")[-2:] == ["stow", ""]


def test_a_line_that_says_less_is_written_anew() -> None:
    """No second line for the same port: which of the two counts would be anyone's guess."""
    text = HEAD + "port 2 carries receiver\n"
    one = made("plain", text, Put("port.2.baud", 100000.0))
    assert told(one) == [("port 2 carries receiver at 100000", "in place of line 2")]


def test_under_its_title() -> None:
    bench = Bench("egret")
    reader = Reader(bench.source, bench.dialect)
    one = cure(reader, reader.craft(), (Put("motor.rate_hz", 703.0),))
    assert one.steps[0].under
    assert "under" in one.steps[0].where()


def test_the_nearest_number_that_can_be_written() -> None:
    """In a firmware that counts the time of a loop a limit in hertz is none that can be typed."""
    bench = Bench("curlew")
    reader = Reader(bench.source, bench.dialect)
    one = cure(reader, reader.craft(), (Put("loop.rate_hz", 6849.0, 6000, 6849),))
    text = with_edits(bench.source.text, one.edits)
    rate = Reader(Source.from_text("x", text), bench.dialect).craft().get("loop.rate_hz").value
    assert 6000 <= rate <= 6849
    assert "." not in one.steps[0].text


def test_what_the_dialect_cannot_say_is_said_so() -> None:
    one = made("plain", HEAD + "let loop-rate be 4000\n", Put("battery.cells", 2.5))
    assert not one.steps
    assert not one.edits
    assert "battery.cells" in one.unwritten


def test_a_range_moved_and_a_line_taken_out() -> None:
    text = HEAD + "use arm while channel 5 in 2135..1765\nuse log along with arm\n"
    row, link = read("plain", text).mode_ranges[0], read("plain", text).mode_links[0]
    one = made("plain", text, Move(row, 1765, 2135), Drop(link.span))
    assert told(one) == [
        ("use arm while channel 5 in 1765..2135", "in place of line 2"),
        ("", "take out line 3"),
    ]
    after = read("plain", with_edits(text, one.edits))
    assert (after.mode_ranges[0].low_us, after.mode_ranges[0].high_us) == (1765, 2135)
    assert not after.mode_links


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_however_lines_end(ending: str) -> None:
    text = ending.join([HEAD.strip(), "let loop-rate be 4000", "let motor-signal be brushed"])
    one = made("plain", text, Put("motor.signal", "dshot150"), Put("motor.poles", 14))
    after = read("plain", with_edits(text, one.edits))
    assert after.get("motor.signal").value == "dshot150"
    assert after.get("motor.poles").value == 14
    assert after.get("loop.rate_hz").value == 4000


BENCHES = {name: Bench(name) for name in ("avocet", "curlew", "egret")}
READ = {}
for _name, _bench in BENCHES.items():
    _reader = Reader(_bench.source, _bench.dialect)
    READ[_name] = _reader, _reader.craft()


def _values(name: str) -> st.SearchStrategy[Any]:
    row = setting(name)
    if row.kind == "flag":
        return st.booleans()
    if row.kind == "word":
        return st.sampled_from(row.words)
    if row.kind == "words":
        return st.frozensets(st.sampled_from(row.words), max_size=2)
    if row.kind == "count":
        return st.integers(int(row.least or 0), int(row.most or 0))
    return st.integers(int(row.least or 0), int(row.most or 0)).map(float)


NAMES = sorted(
    name.replace("N", "2")
    for name, row in SETTINGS.items()
    if row.kind != "text" and not name.startswith("craft.")
)


@given(st.sampled_from(sorted(BENCHES)), st.sampled_from(NAMES), st.data())
def test_either_exactly_that_or_nothing(craft: str, name: str, data: st.DataObject) -> None:
    reader, before = READ[craft]
    value = data.draw(_values(name))
    one = cure(reader, before, (Put(name, value),))
    if one.unwritten:
        assert not one.edits
        return
    text = with_edits(reader.source.text, one.edits)
    after = Reader(Source.from_text(reader.file, text), reader.dialect).craft()
    for each in before.values.keys() | after.values.keys():
        want = value if each == name else before.get(each).value
        assert close(after.get(each).value, want)
    assert len(after.strays) + len(after.misread) == len(before.strays) + len(before.misread)


def test_the_craft_as_it_would_be() -> None:
    craft = read("plain", HEAD + "let loop-rate be 4000\nuse arm while channel 5 in 1765..2135\n")
    row = craft.mode_ranges[0]
    better = changed(craft, (Put("loop.rate_hz", 2000.0), Move(row, 1815, 2135)))
    assert better.get("loop.rate_hz").value == 2000
    assert better.mode_ranges[0].low_us == 1815
    assert craft.get("loop.rate_hz").value == 4000  # the one at hand stays as it is
    assert changed(craft, (Drop(row.span),)).mode_ranges == ()


def _strays(text: str) -> list[Cure]:
    """The cures of the names in a dump that are surely meant otherwise."""
    edits = [Respell(one.name_span, one.nearest) for one in read("plain", text).strays if one.meant]
    return [made("plain", text, one) for one in edits]


def test_a_slip_of_the_pen_has_its_line() -> None:
    (one,) = _strays(HEAD + "let motor-signol be dshot300\n")
    assert told(one) == [("let motor-signal be dshot300", "in place of line 2")]


def test_what_a_version_calls_otherwise_has_its_line() -> None:
    newer = "-- board SLATEX, firmware 7.10, changes only\n"
    (one,) = _strays(newer + "let lost-link-wait be 0.8\n")
    assert told(one) == [("let loss-wait be 0.8", "in place of line 2")]


@pytest.mark.parametrize(
    "lines",
    [
        "let motor-signol be sideways",  # no value of the setting
        "let motor-signol be dshot300\nlet motor-signal be dshot600",  # said already
    ],
)
def test_a_slip_that_is_none_has_no_line(lines: str) -> None:
    (one,) = _strays(HEAD + lines + "\n")
    assert not one.steps
    assert one.unwritten


def test_another_name_is_no_slip() -> None:
    assert not _strays(HEAD + "let wallpaper-hue be 7\n")


def test_lines_to_choose_among_are_shown_and_never_made() -> None:
    """Only a count tells how many magnets there are; what it may be is shown, not put in."""
    bench = Bench("egret")
    odd = bench.source.text.replace("magnets: 22", "magnets: 13")
    found = {one.rule: one for v in bench.check(odd).outcomes for one in v.findings}
    one = found["motor/odd-poles"]
    assert one.cure is not None
    assert [told(choice) for choice in one.cure.choices] == [
        [("magnets: 12", "in place of line 14")],
        [("magnets: 14", "in place of line 14")],
    ]
    assert (one.fix, one.cure.edits, one.cure.by) == ((), (), "hand")
    assert cure_of(one.cure)["choices"][0]["lines"][0]["text"] == "magnets: 12"


@pytest.mark.parametrize(
    ("craft", "old", "new", "line"),
    [
        ("egret", "turns: 4\n", "turns: 0.2\n", "turns: 0.4"),
        ("avocet", "let loop-rate be 4000", "let loop-rate be 48000", "let loop-rate be"),
    ],
)
def test_a_loop_is_told_to_count_as_the_dialect_does(
    craft: str, old: str, new: str, line: str
) -> None:
    bench = Bench(craft)
    assert old in bench.source.text
    text = bench.source.text.replace(old, new)
    found = [one for v in bench.check(text).outcomes for one in v.findings]
    (one,) = [one for one in found if one.rule == "motor/loop-rate-out-of-bounds"]
    assert one.cure is not None
    assert one.cure.steps[0].text.startswith(line)
