"""Reading by a map: what addresses find, and that no text whatever makes reading fail."""

from __future__ import annotations

import time
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source

from . import judging

NAMES = judging.names()
TEXTS = {
    name: [dump.read_text(encoding="utf-8") for dump in judging.truths(name)] for name in NAMES
}
MAPS = {}


def parsed(name: str) -> tuple[Any, Any]:
    if name not in MAPS:
        text = (judging.DIALECTS / f"{name}.toml").read_text(encoding="utf-8")
        data = tomllib.loads(text)
        MAPS[name] = map_of(data), marks(data)
    return MAPS[name]


def read(text: str, dialect: str) -> MapReader:
    data = tomllib.loads(dialect)
    reader = MapReader(Source.from_text("x", text), map_of(data), marks(data))
    reader.read()
    return reader


def values(text: str, dialect: str) -> dict[str, Any]:
    return {name: value.value for name, value in read(text, dialect).values.items()}


def test_a_longer_name_is_another() -> None:
    dialect = '[map]\n"motor.idle_percent" = "idle"\n"motor.poles" = "magnets"'
    assert values("idle = 4\nidle-boost = 7\nidle boost = 9\nfast idle = 8", dialect) == {
        "motor.idle_percent": 4
    }
    assert values("idle 4 magnets 14", dialect) == {"motor.idle_percent": 4, "motor.poles": 14}
    assert values("magnets: 14, idle: 4", dialect) == {"motor.idle_percent": 4, "motor.poles": 14}


def test_an_address_that_fits_two_places_names_both() -> None:
    reader = read("[a]\nidle 4\n[b]\nidle 5\n", '[map]\n"motor.idle_percent" = "idle"')
    ((address, one, other),) = reader.ambiguous
    assert (address, one.line, other.line) == ("idle", 2, 4)
    reader = read("[a]\nidle 4\n[b]\nidle 5\n", '[map]\n"motor.idle_percent" = "b > idle"')
    assert reader.ambiguous == []
    assert reader.values["motor.idle_percent"].value == 5


def test_a_setting_said_twice_in_one_place_is_a_repeat() -> None:
    reader = read("idle 4\nidle 5\n", '[map]\n"motor.idle_percent" = "idle"')
    assert reader.ambiguous == []
    ((one, other),) = reader.repeats
    assert (one.value, other.value) == (4, 5)


def test_titles_are_steps_and_may_say_a_number() -> None:
    dialect = '[map]\n"port.N.baud" = "port N > speed"\n"receiver.baud" = "radio > speed"'
    text = "port 1 {\n speed 9600\n}\nport 2 {\n speed 19200\n}\nradio {\n speed 57600\n}"
    assert values(text, dialect) == {
        "port.1.baud": 9600, "port.2.baud": 19200, "receiver.baud": 57600,
    }  # fmt: skip
    assert values("port 1 speed 9600\nport 2 speed 19200", dialect) == {
        "port.1.baud": 9600, "port.2.baud": 19200,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("us    c1    c2\nleast 1001  1002", "c{N}"),
        ("| us | c1 | c2 |\n|----|----|----|\n| least | 1001 | 1002 |", "c{N}"),
        ("us;c1;c2\nleast;1001;1002", "c{N}"),
    ],
)
def test_a_table_with_one_column_for_each_channel(text: str, column: str) -> None:
    dialect = f'[map]\n"channel.N.low_us" = {{ at = "least", column = "{column}" }}'
    assert values(text, dialect) == {"channel.1.low_us": 1001, "channel.2.low_us": 1002}


def test_a_table_with_one_line_for_each_port() -> None:
    dialect = """
[marks]
yes = "+"
no = "-"
[[rows]]
at = "{N}"
columns = { N = "plug", use = "carries", baud = "baud", flip = "flip" }
sets = { use = "port.N.functions", baud = "port.N.baud", flip = "port.N.inverted" }
fields.use.words = { gps = "satellites", receiver = "the receiver" }
"""
    text = (
        "plug  carries       baud   flip\n"
        "1     satellites    9600    +\n"
        "2     the receiver  115200  -"
    )
    assert values(text, dialect) == {
        "port.1.functions": {"gps"}, "port.1.baud": 9600, "port.1.inverted": True,
        "port.2.functions": {"receiver"}, "port.2.baud": 115200, "port.2.inverted": False,
    }  # fmt: skip


def test_a_header_whose_words_are_parted_over_two_lines() -> None:
    dialect = """
[[rows]]
at = "{N}"
columns = { N = "Nr", low = "low end", high = "high end" }
sets = { low = "channel.N.low_us", high = "channel.N.high_us" }
"""
    for text in (
        "Nr   low    high\n     end    end\n1    1001   2001",
        "| Nr | low | high |\n|    | end | end |\n|----|-----|-----|\n| 1 | 1001 | 2001 |",
    ):
        assert values(text, dialect) == {"channel.1.low_us": 1001, "channel.1.high_us": 2001}


def test_a_head_that_stands_over_two_columns_is_refused_with_both() -> None:
    dialect = """
[[rows]]
at = "{N}"
columns = { N = "Nr", low = "low" }
sets = { low = "channel.N.low_us" }
"""
    reader = read("Nr   low    low\n1    1001   1002\n2    1001   1002", dialect)
    ((_, one, other),) = reader.ambiguous
    assert (one.line, one.start, other.line, other.start) == (1, 5, 1, 12)


def test_a_title_may_carry_a_value() -> None:
    dialect = """
[map]
"port.N.baud" = "port N > speed"
"port.N.functions" = { at = "port N", words = { gps = "satellites" } }
"""
    for text in ("port 2: satellites\n  speed 9600", "port 2 satellites {\nspeed 9600\n}"):
        dialect = dialect.replace('"port N > speed"', '"port N * > speed"')
        assert values(text, dialect) == {"port.2.functions": {"gps"}, "port.2.baud": 9600}


def test_tags() -> None:
    dialect = '[map]\n"craft.name" = "craft > name"\n"motor.idle_percent" = "motor > idle"'
    text = "<craft>\n<name>Old Heron</name>\n<motor>\n<idle>4</idle>\n</motor>\n</craft>"
    assert values(text, dialect) == {"craft.name": "Old Heron", "motor.idle_percent": 4}


RANGES = """
[modes]
arm = "go"
beacon = "whistle"
own = ["camera"]
"""


@pytest.mark.parametrize(
    ("row", "text", "ends"),
    [
        ('at = "{mode}: ch{channel} {low}-{high}"', "go: ch5 1200-1450", (1200, 1450)),
        ('at = "{mode}: ch{channel} {centre} ± {half}"', "go: ch5 1300±100", (1200, 1400)),
        ('at = "{mode}: ch{channel} {centre} wide {width}"', "go: ch5 1300 wide 100", (1250, 1350)),
        ('at = "{mode}: ch{channel} {low} + {width}"', "go: ch5 1200 + 90", (1200, 1290)),
        (
            'at = "{mode}: ch{channel} {low}..{high}"\nscale = 5\noffset = 1500',
            "go: ch5 -40..+20",
            (1300, 1600),
        ),
        (
            'at = "{mode}: ch{channel} [{bar}]"\n'
            'fields.bar = { filled = "#", empty = ".", offset = 860, scale = 90 }',
            "go: ch5 [..###.....]",
            (1040, 1310),
        ),
    ],
)
def test_ways_to_write_a_range(row: str, text: str, ends: tuple[float, float]) -> None:
    (found,) = read(text, f'{RANGES}[[rows]]\nmakes = "range"\n{row}').ranges
    assert (found.mode, found.channel, found.low_us, found.high_us) == ("arm", 5, *ends)


def test_a_range_over_several_lines_and_a_mode_of_the_firmwares_own() -> None:
    dialect = f"""{RANGES}
[[rows]]
at = "switch N"
parts = {{ mode = "does", channel = "on", low = "from", high = "to" }}
makes = "range"
"""
    text = "".join(
        f"switch {number} does {mode}\nswitch {number} on 7\nswitch {number} from 1100\n"
        f"switch {number} to 1300\n"
        for number, mode in ((1, "go"), (2, "camera"), (3, "whistle"))
    )
    assert [one.mode for one in read(text, dialect).ranges] == ["arm", "beacon"]


def test_ranges_are_joined_where_a_line_says_so() -> None:
    dialect = f"""{RANGES}
[[rows]]
at = "{{mode}} ch{{channel}} {{low}} {{high}} *"
makes = "range"
all_where = "and"
[[rows]]
at = "every window of {{mode}}"
makes = "join"
join = "all"
"""
    text = "go ch5 1200 1300 and\nwhistle ch6 1200 1300 bandwidth\nwhistle ch7 1200 1300"
    assert [one.join for one in read(text, dialect).ranges] == ["all", "any", "any"]
    found = read(f"{text}\nevery window of whistle", dialect).ranges
    assert [one.join for one in found] == ["all", "all", "all"]


def test_numbers_that_the_dump_gives_are_used() -> None:
    dialect = f"""{RANGES}
[given]
start = "steps begin at"
[[rows]]
at = "{{mode}} ch{{channel}} {{low}} {{high}}"
makes = "range"
scale = 10
offset = "start"
"""
    (found,) = read("go ch5 1 20\nsteps begin at 870", dialect).ranges
    assert (found.low_us, found.high_us) == (880, 1070)
    # Without them nothing is guessed.
    assert read("go ch5 1 20", dialect).ranges == []
    assert read("go ch5 1 20", dialect).misread != []


def test_a_given_number_may_be_named_by_its_address() -> None:
    dialect = f"""{RANGES}
[[rows]]
at = "{{mode}} ch{{channel}} {{low}} {{high}}"
makes = "range"
scale = "one step is"
offset = 840
"""
    (found,) = read("one step is 20 us\ngo ch5 1 20", dialect).ranges
    assert (found.low_us, found.high_us) == (860, 1240)


def test_quotes_may_be_spelling() -> None:
    dialect = """
[marks]
quotes = "spelling"
[map]
"motor.idle_percent" = "motor > idle"
"craft.name" = "name"
"""
    text = '{\n "name": "Old Heron",\n "motor": {\n  "idle": 4.5\n }\n}'
    assert values(text, dialect) == {"motor.idle_percent": 4.5, "craft.name": "Old Heron"}


def test_an_unused_slot_is_no_range() -> None:
    dialect = f"""{RANGES}
[[rows]]
at = "{{mode}} ch{{channel}} {{low}} {{high}}"
makes = "range"
skip_empty = true
"""
    assert read("go ch5 900 900", dialect).ranges == []
    assert len(read("go ch5 900 990", dialect).ranges) == 1


def test_what_a_line_says_by_being_there() -> None:
    dialect = """
[map]
"port.N.inverted" = { at = "port N * upside down", named = true }
[[rows]]
at = "stay as they were"
each = "{N}"
gives = { "failsafe.channel.N" = "hold" }
"""
    assert values("port 2: gps, upside down\nstay as they were: 1, 4", dialect) == {
        "port.2.inverted": True, "failsafe.channel.1": "hold", "failsafe.channel.4": "hold",
    }  # fmt: skip


def test_a_value_that_means_nothing_is_told_with_its_place() -> None:
    reader = read("idle = lots\nmagnets = 14", '[map]\n"motor.idle_percent" = "idle"')
    (found,) = reader.misread
    assert (found.name, found.span.line, found.span.column, found.written) == (
        "motor.idle_percent", 1, 8, "lots",
    )  # fmt: skip
    assert reader.uses == {1: "misread", 2: "stray"}


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(NAMES), st.text(max_size=300))
def test_any_text_is_read_without_an_error(name: str, text: str) -> None:
    reader = MapReader(Source.from_text("x", text), *parsed(name))
    reader.read()
    blank = {number for number, line in enumerate(reader.source.lines, 1) if not line.strip(" \t")}
    assert set(range(1, len(reader.source.lines) + 1)) - blank >= set(reader.uses)


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_a_dump_that_was_cut_and_mixed_is_read_without_an_error(data: st.DataObject) -> None:
    lines = [
        line
        for name in data.draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=2))
        for line in TEXTS[name][0].splitlines()
    ]
    few = data.draw(st.lists(st.sampled_from(lines), min_size=1, max_size=25))
    cut = [line[data.draw(st.integers(0, 3)) : data.draw(st.integers(5, 90))] for line in few]
    reader = MapReader(
        Source.from_text("x", "\n".join(cut)), *parsed(data.draw(st.sampled_from(NAMES)))
    )
    reader.read()
    for value in reader.values.values():
        assert value.span is not None
        assert reader.source.slice(value.span) == value.written


@pytest.mark.parametrize("name", NAMES)
def test_long_lines_and_long_dumps_take_no_longer_than_their_length(name: str) -> None:
    first = TEXTS[name][0]
    lines = first.splitlines()
    long = [max(lines, key=len) * 600, " ".join(lines)[:60_000], first.replace("\n", " ") * 4]
    before = time.process_time()
    for text in (*long, first * 8):
        reader = MapReader(Source.from_text("x", text), *parsed(name))
        reader.read()
    assert time.process_time() - before < 4


PARTED = f"""{RANGES}
[[rows]]
at = "switches"
parts = {{ mode = "does", channel = "on", low = "from", high = "to" }}
makes = "range"
"""


@pytest.mark.parametrize(
    "text",
    [
        "switches [\n{does: go, on: 5, from: 1100, to: 1300}\n"
        "{on: 6, does: whistle, from: 1200, to: 1400}\n]",
        "switches [ {does: go, on: 5, from: 1100, to: 1300},"
        " {on: 6, from: 1200, to: 1400, does: whistle} ]",
        "switches: {does: go, on: 5, from: 1100, to: 1300}, {does: camera, on: 7, from: 900,"
        " to: 1000}, {to: 1400, from: 1200, does: whistle, on: 6}",
    ],
)
def test_an_object_on_one_line_is_a_record(text: str) -> None:
    found = read(text, PARTED)
    assert [(one.mode, one.channel, one.low_us) for one in found.ranges] == [
        ("arm", 5, 1100),
        ("beacon", 6, 1200),
    ]
    assert found.misread == []


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("{does: go, from: 1100, to: 1300}", "channel"),
        ("{on: 5, from: 1100, to: 1300}", "mode"),
        ("{does: go, on: 5, from: 1100}", "both ends"),
    ],
)
def test_a_record_that_lacks_a_part_says_so(text: str, missing: str) -> None:
    found = read(f"switches [\n{text}\n{{does: whistle, on: 6, from: 1200, to: 1400}}\n]", PARTED)
    assert [one.mode for one in found.ranges] == ["beacon"]
    ((line, valid),) = ((one.span.line, one.valid) for one in found.misread)
    assert line == 2
    assert missing in valid
    assert found.uses[2] == "misread"


def test_a_sentence_may_go_on_in_the_next_line() -> None:
    dialect = (
        '[marks]\nwrapped = true\n[map]\n"motor.idle_percent" = "least drive is"\n'
        '"failsafe.action" = { at = "When lost it", words = { return-home = "flies home" } }'
    )
    text = "It hums. The least\ndrive is 4.5 percent. When lost it flies\nhome. It is blue."
    found = read(text.replace("The least", "Its least"), dialect.replace('"least', '"Its least'))
    got = {name: (one.value, one.span.line) for name, one in found.values.items() if one.span}
    assert got == {"motor.idle_percent": (4.5, 2), "failsafe.action": ("return-home", 2)}
    assert [one.name for one in found.strays] == ["It hums", "It is blue"]


def test_a_template_in_characters_divides_words() -> None:
    dialect = """[[rows]]
at = "drive {signal}.{idle}.{poles}"
characters = true
sets = { signal = "motor.signal", idle = "motor.idle_percent", poles = "motor.poles" }
fields.signal.words = { brushed = "q", dshot300 = "qz" }
fields.idle.scale = 0.1
"""
    assert values("drive QZ.084.14", dialect) == {
        "motor.signal": "dshot300",
        "motor.idle_percent": 8.4,
        "motor.poles": 14,
    }
    assert values("drive qz.84,14", dialect) == {}


def test_a_cell_may_have_several_parts() -> None:
    dialect = f"""{RANGES}
[[rows]]
at = "{{mode}}"
columns = {{ "{{low}}-{{high}}" = "ch {{channel}}", join = "join" }}
makes = "range"
fields.join.words = {{ any = "or", all = "and" }}
"""
    text = "what      ch 5       ch 6      join\ngo        1100-1300  900-1000  and\n"
    found = read(f"{text}whistle   .          1200-1300 or", dialect).ranges
    assert [(one.mode, one.channel, one.low_us, one.join) for one in found] == [
        ("arm", 5, 1100, "all"),
        ("arm", 6, 900, "all"),
        ("beacon", 6, 1200, "any"),
    ]


def test_a_column_may_be_known_by_a_mark() -> None:
    dialect = '[map]\n"battery.cells" = { at = "cells", column = "bank {_} \'*\'" }'
    text = "what   bank 1  bank 2*  bank 3\ncells  3       4        6"
    assert values(text, dialect) == {"battery.cells": 4}


def test_a_link_may_name_the_other_line() -> None:
    dialect = f"""{RANGES}
[[rows]]
at = "{{P}}: {{mode}} ch{{channel}} {{low}} {{high}}"
makes = "range"
[[rows]]
at = "{{_}}: {{mode}} as {{row}}"
makes = "link"
"""
    found = read("1: whistle as 2\n2: go ch5 1200 1300\n3: whistle as 9", dialect)
    assert [(one.mode, one.follows) for one in found.links] == [("beacon", "arm")]
    assert [(one.span.line, one.written) for one in found.misread] == [(3, "9")]
    assert found.uses[3] == "misread"


def test_a_field_may_be_reckoned_from_another() -> None:
    dialect = """[[rows]]
at = "ch{N} {down} {mid} {up}"
sets = { down = "channel.N.low_us", mid = "channel.N.mid_us", up = "channel.N.high_us" }
fields.down.offset = "mid"
fields.up.offset = "mid"
"""
    got = values("ch5 -490 1500 +470", dialect)
    assert got == {"channel.5.low_us": 1010, "channel.5.mid_us": 1500, "channel.5.high_us": 1970}


def test_marks_at_places_make_a_set() -> None:
    dialect = """[[rows]]
at = "port {N} {use} {baud}"
characters = true
sets = { use = "port.N.functions", baud = "port.N.baud" }
fields.use = { none = ".", places = ["receiver", "gps", "log"] }
"""
    got = values("port 3   x  .  x  57600", dialect)
    assert got == {"port.3.functions": frozenset({"receiver", "log"}), "port.3.baud": 57600}


def test_the_letter_of_a_multiple_may_stand_for_the_sign() -> None:
    dialect = '[map]\n"loop.rate_hz" = "loop"\n"receiver.baud" = "speed"'
    assert values("loop 3k25/s\nspeed 115k2", dialect) == {
        "loop.rate_hz": 3250,
        "receiver.baud": 115200,
    }


def test_lines_to_write_on_are_blanks() -> None:
    dialect = '[marks]\nfill = "_"\n[map]\n"craft.name" = "Name"\n"motor.poles" = "Magnets"'
    assert values("Name ___Blue Mug___  Magnets __14__", dialect) == {
        "craft.name": "Blue Mug",
        "motor.poles": 14,
    }


def test_a_field_may_stand_twice() -> None:
    dialect = """[map]
"motor.poles" = "bell N N has"
[[rows]]
at = "ports > N > wire {N} carries {use}"
sets = { use = "port.N.functions" }
[kept]
at = ["roll N N *"]
"""
    found = read("ports\n  3\n    wire 3 carries gps\nbell 1 2 has 14\nroll 1 2 3", dialect)
    assert {name: one.value for name, one in found.values.items()} == {
        "port.3.functions": frozenset({"gps"}),
        "motor.poles": 14,
    }
    assert found.uses[5] == "kept"


@pytest.mark.parametrize("characters", [False, True])
@pytest.mark.parametrize("line", ["end " + "is at a " * 30 + "x", "end is at " + "a 7% # " * 40])
@pytest.mark.parametrize(
    "address",
    [
        "{_} " * 30 + "{value} " + "{_} " * 9 + "end",
        "* a " * 12 + "{value} end",
        "{_} is " * 8 + "{value} at {_} at {_} end",
        "* {_} a {_} at * {value} at {_} is * end",
    ],
)
def test_a_long_line_takes_no_longer_with_many_fields(
    address: str, line: str, characters: bool
) -> None:
    dialect = f'[map]\n"motor.idle_percent" = {{ at = "{address}", characters = {characters} }}'
    before = time.process_time()
    assert values(f"{line}\n" * 20, dialect.replace("True", "true").replace("False", "false")) == {}
    assert time.process_time() - before < 2
