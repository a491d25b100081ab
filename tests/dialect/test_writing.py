"""What a form of a dialect file reads, it writes; what cannot be written is named, and why."""

from __future__ import annotations

from typing import Any

import pytest

from cfglint.craft.model import ModeRange
from cfglint.dialect.roundtrip import Trip, round_trip
from cfglint.dialect.writing import Writer, spell, write_lines
from cfglint.dump.source import Source

from .invented import again, clean, make, read, uses, values

ENDS = {f"channel.{n}.{end}_us": 985.0 + 5 * n for n in (1, 2) for end in ("low", "high")}


def row(at: str, more: str) -> str:
    return f'[modes]\narm = 6\nbeacon = 19\n[[rows]]\nat = "{at}"\n{more}\n'


@pytest.mark.parametrize(
    ("assign", "line", "written"),
    [
        ("{name} = {value}", "rate  =  4000", "rate = 4000"),
        ("{name}={value}", "rate=4000", "rate=4000"),
        ("put {name} {value}", "put rate\t4000", "put rate 4000"),
        ("{name} -> {value}", "rate -> 4000", "rate -> 4000"),
        ("@{name}[{value}]", "@rate[4000]", "@rate[4000]"),
    ],
)
def test_a_value_behind_its_words(assign: str, line: str, written: str) -> None:
    address = "put rate" if assign.startswith("put") else "rate"
    dialect = make(f'[map]\n"loop.rate_hz" = "{address}"', marks=f'assign = "{assign}"')
    craft = clean(dialect, line)
    assert values(craft) == {"loop.rate_hz": 4000.0}
    assert write_lines(craft, dialect, "").lines == (written,)
    assert values(again(craft, dialect)) == values(craft)


def test_items_of_several_settings_are_left_unwritten_with_the_reason() -> None:
    sets = 'sets = { low = "channel.N.low_us", high = "channel.N.high_us" }'
    dialect = make(row("let travel be", f'each = "{{N}} {{low}} {{high}}"\n{sets}'))
    craft = clean(dialect, "let travel be 1 985 2010; 2 990 2015")
    written = Writer(craft, dialect, "")
    assert set(written.written().unwritten) >= set(values(craft)) > set()
    assert "several items" in written.reasons["channel.1.low_us"]


@pytest.mark.parametrize(
    ("text", "dump", "said"),
    [
        (  # one value for each number
            '[map]\n"channel.N.mid_us" = { at = "let centres be", each = true }',
            "let centres be 1500  1510  1490",
            {"channel.1.mid_us": 1500.0, "channel.2.mid_us": 1510.0, "channel.3.mid_us": 1490.0},
        ),
        (  # fields of a line
            row("R{baud}", 'sets = { baud = "receiver.baud" }\ncharacters = true'),
            "R9600",
            {"receiver.baud": 9600.0},
        ),
        (
            row("port {N} does {what}", 'sets = { what = "port.N.functions" }\n'
                "[rows.fields]\nN = { first = 0 }\n"
                "what = { bits = { receiver = 5, gps = 7, log = 3 } }"),
            "port 0 does 160\nport 3 does 8",
            {"port.1.functions": frozenset({"receiver", "gps"}),
             "port.4.functions": frozenset({"log"})},
        ),
        (  # a flag by words of its own
            '[map]\n"log.on" = { at = "{value} diary", words = { yes = "with", no = "without" } }',
            "without diary",
            {"log.on": False},
        ),
        (  # an upright table
            row("ends", 'sets = { low = "channel.N.low_us", high = "channel.N.high_us" }\n'
                'columns = { N = "no", low = "least", high = "most" }'),
            "[ends]\nno  least  most\n1   990    990\n2   995    995",
            ENDS,
        ),
        (  # a turned table
            '[map]\n"channel.N.low_us" = { at = "ends > least", column = "in{N}" }\n'
            '"channel.N.high_us" = { at = "ends > most", column = "in{N}" }',
            "[ends]\n-      in1  in2\nleast  990  995\nmost   990  995",
            ENDS,
        ),
    ],
)  # fmt: skip
def test_settings(text: str, dump: str, said: dict[str, Any]) -> None:
    dialect = make(text, marks='open = "[{title}]"')
    craft = clean(dialect, dump)
    assert values(craft) == said
    assert write_lines(craft, dialect, "").lines == tuple(dump.split("\n"))


RANGES = (
    ("arm", 5, 1735.0, 2145.0, "any"),
    ("beacon", 7, 1235.0, 1735.0, "any"),
)
SPAN = 'makes = "range"\n'
COLUMNS = '{ mode = "mode", channel = "lever", low = "from", high = "till" }'


@pytest.mark.parametrize(
    ("text", "dump"),
    [
        (
            row("{mode} by {channel}, {low} up to {high}", SPAN),
            "6 by 5, 1735 up to 2145\n19 by 7, 1235 up to 1735",
        ),
        (
            row("{mode} by {channel}, {low} for {width}", SPAN),
            "6 by 5, 1735 for 410\n19 by 7, 1235 for 500",
        ),
        (
            row("{mode} by {channel}, {centre} give {half}", SPAN),
            "6 by 5, 1940 give 205\n19 by 7, 1485 give 250",
        ),
        (
            row("slot {N} {mode} {channel} {low}~{high}",
                SPAN + "fields = { N = { first = 31 } }"),
            "slot 31 6 5 1735~2145\nslot 32 19 7 1235~1735",
        ),
        (
            row("switches > {mode} > lane {channel}, {low} to {high}", SPAN),
            "switches (\n6 (\nlane 5, 1735 to 2145\n)\n)\n"
            "switches (\n19 (\nlane 7, 1235 to 1735\n)\n)",
        ),
        (
            row("modes", SPAN + f"columns = {COLUMNS}"),
            "modes (\nmode  lever  from  till\n6     5      1735  2145\n19    7      1235  1735\n)",
        ),
        (
            row("range {N}", SPAN + f"parts = {COLUMNS}"),
            "range 1 mode 6\nrange 1 lever 5\nrange 1 from 1735\nrange 1 till 2145\n"
            "range 2 mode 19\nrange 2 lever 7\nrange 2 from 1235\nrange 2 till 1735",
        ),
        (
            row("on {mode}", SPAN + 'each = "c{channel} {low}..{high}"'),
            "on 6 c5 1735..2145\non 19 c7 1235..1735",
        ),
    ],
)  # fmt: skip
def test_ranges(text: str, dump: str) -> None:
    marks = 'open = "{title} ("\nclose = ")"\nassign = "{name} {value}"'
    dialect = make(text, marks=marks)
    craft = clean(dialect, dump)
    assert tuple(one[:5] for one in craft.mode_ranges) == RANGES
    found = again(craft, dialect)
    assert tuple(one[:5] for one in found.mode_ranges) == RANGES
    # Written once more, the same lines come out.
    assert write_lines(found, dialect, "").lines == write_lines(craft, dialect, "").lines


def test_an_unused_slot_is_passed_over_and_slots_are_numbered_anew() -> None:
    text = row("slot {N} {mode} {channel} {low}~{high}", SPAN + "skip_empty = true")
    dialect = make(text)
    dump = "slot 1 6 5 1735~2145\nslot 2 6 9 845~845\nslot 3 19 7 1235~1735"
    assert uses(dialect, dump) == ["used", "ignored", "used"]
    assert write_lines(clean(dialect, dump), dialect, "").lines == (
        "slot 1 6 5 1735~2145", "slot 2 19 7 1235~1735",
    )  # fmt: skip


def test_numbers_repeated_in_profiles() -> None:
    dialect = make(
        '[profiles]\nin_use = "let bank-in-use be"\nfirst = 1\n'
        '[map]\n"motor.idle_percent" = { at = "bank {P} > let idle be", default = 4.4 }\n'
        '"stick.low_us" = "bank {P} > let low be"\n"motor.poles" = "let poles be"\n',
        marks='title = "[{title}]"\nremoval = "no {name}"',
    )
    text = (
        "let poles be 18\n[bank 1]\nlet idle be 5\nlet low be 1075\n[bank 2]\nlet idle be 6\n"
        "[bank 1]\nlet idle be 5.3\n"
    )
    craft = read(dialect, text)
    assert values(craft) == {"motor.poles": 18, "motor.idle_percent": 5.3, "stick.low_us": 1075.0}
    # The same name in another profile is no repeat; the same one again is.
    assert [(one.earlier.value, one.later.value) for one in craft.repeats] == [(5.0, 5.3)]
    second = clean(dialect, "let bank-in-use be 2\n" + text)
    assert values(second) == {"motor.poles": 18, "motor.idle_percent": 6.0}
    # One taken back is taken back in its own profile.
    gone = read(dialect, text + "[bank 2]\nno idle\n")
    assert values(gone)["motor.idle_percent"] == 5.3
    gone = read(dialect, text + "no idle\nno low\n")
    assert gone.values["motor.idle_percent"].origin == "default"
    assert "stick.low_us" not in gone.values
    assert write_lines(craft, dialect, "").lines == (
        "let poles be 18", "[bank 1]", "let idle be 5.3", "let low be 1075",
    )  # fmt: skip
    assert values(again(craft, dialect)) == values(craft)


VERSIONS = """
[identity]
lines = ["-- rev {firmware}"]
[traits]
inversion = "absolute"
range_ends = "closed"
[map]
"motor.poles" = { at = "let poles be", default = 18 }
"battery.full_v" = { at = "let full be", default = 4.2 }
"log.on" = "let diary be"
"motor.signal" = { at = "let talk be", words = { dshot300 = "d3", multishot = "m" } }
[kept]
at = ["let hum *", "let hiss"]
[[rows]]
id = "rx"
at = "rx {baud}"
sets = { baud = "receiver.baud" }
[[changes]]
at = "2.9"
rename = { poles = "magnets" }
remove = { diary = "kept elsewhere" }
[changes.map]
"motor.poles" = { default = 16 }
"battery.full_v" = { scale = 0.01 }
"motor.signal" = { words = { multishot = "", dshot600 = "d6" } }
[[changes]]
at = "2.10"
traits = { inversion = "relative" }
drop_rows = ["rx"]
"""


def test_what_changes_with_versions() -> None:
    dialect = make(VERSIONS, head='version_order = "dotted"', marks='comment = "--"')
    old = clean(
        dialect,
        "-- rev 2.8\nlet poles be 12\nlet full be 4.2\nlet diary be yes\nlet talk be m\nrx 9600",
    )
    assert values(old) == {
        "craft.firmware": "2.8", "motor.poles": 12, "battery.full_v": 4.2, "log.on": True,
        "motor.signal": "multishot", "receiver.baud": 9600.0,
    }  # fmt: skip
    new = clean(dialect, "-- rev 2.9.1\nlet magnets be 12\nlet full be 420\nlet talk be d6")
    assert values(new) == {
        "craft.firmware": "2.9.1", "motor.poles": 12, "battery.full_v": 4.2,
        "motor.signal": "dshot600",
    }  # fmt: skip
    late = read(dialect, "-- rev 2.10\nrx 9600\nlet diary be no\nlet talk be m")
    assert [one.span.line for one in late.strays] == [2, 3]
    assert [one.valid for one in late.misread] == ["d3, d6"]
    for version, poles, inversion in (
        ("2.8", 18, "absolute"), ("2.9", 16, "absolute"), ("2.10", 16, "relative"),
        ("10", 16, "relative"), ("", 18, None), ("strange", 18, None),
    ):  # fmt: skip
        tables = dialect.at(version)
        assert {name: one.value for name, _, one in tables.defaults()}["motor.poles"] == poles
        assert tables.traits.inversion == inversion
        assert tables.traits.range_ends == "closed"
    written = write_lines(old, dialect, "2.10")
    assert written.lines == ("-- rev 2.10", "let magnets be 12", "let full be 420")
    assert written.unwritten == ("log.on", "motor.signal", "receiver.baud")


# ---------------------------------------------------------------- what is lost on the way


def trip(text: str, dump: str, marks: str = "") -> Trip:
    return round_trip(Source.from_text("x.txt", dump), make(text, marks=marks))


def lost(text: str, dump: str, marks: str = "") -> list[tuple[str, str, str]]:
    """What is lost, its value, why."""
    return [(one.what, one.value, one.why) for one in trip(text, dump, marks).lost]


def test_nothing_is_lost() -> None:
    assert trip('[map]\n"motor.poles" = "let a be"', "let a be 18") == Trip("x.txt", 1, 0, 0, ())


def test_where_it_stands() -> None:
    found = trip('[map]\n"battery.full_v" = { at = "let a be", decimals = 1 }', "\n  let a be 4.25")
    assert found.lost[0].span[1:] == (2, 3, 2, 16)


@pytest.mark.parametrize(
    ("text", "dump", "told"),
    [
        (
            '[map]\n"battery.full_v" = { at = "let a be", decimals = 1 }',
            "let a be 4.25",
            ("battery.full_v", "4.25 V", "no exact number for 4.25"),
        ),
        (
            row("baud {x} of *", 'sets = { x = "receiver.baud" }'),
            "baud 9600 of 3",
            ("receiver.baud", "9600 baud",
             "its address does not say how the whole line is written"),
        ),
        (
            row("{mode} by {channel} {low} {high} *", SPAN),
            "6 by 5 1000 2000 x",
            ("range", "arm: channel 5, 1000 to 2000", "no line of the dialect says it"),
        ),
        (
            row("tie {mode} {follows} *", 'makes = "link"'),
            "tie 6 19 x",
            ("link", "arm along with beacon", "no line of the dialect says it"),
        ),
        (
            '[map]\n"channel.N.mid_us" = { at = "let centres be", each = true }\n'
            '"channel.4.mid_us" = "let fourth be"',
            "let centres be 1500 1510\nlet fourth be 1500",
            None,
        ),
        (
            '[map]\n"channel.N.mid_us" = { at = "let centres be", each = true }\n'
            '"channel.2.mid_us" = "let second be"',
            "let second be 1500",
            None,
        ),
        (
            '[map]\n"log.on" = { at = "let a be", words = { yes = "1", no = ["1x", "0"] } }',
            "let a be 0",
            None,
        ),
    ],
)  # fmt: skip
def test_what_is_lost_and_why(text: str, dump: str, told: tuple[str, str, str] | None) -> None:
    assert lost(text, dump) == ([told] if told else [])


def test_a_line_that_would_be_read_as_something_else_is_not_given_out() -> None:
    text = '[map]\n"motor.poles" = "p"\n'
    marks = 'assign = "# {name} {value}"\ncomment = "#"'
    craft = clean(make('[map]\n"motor.poles" = "let p be"'), "let p be 18")
    written = write_lines(craft, make(text, marks=marks), "")
    assert written.lines == ()
    assert written.unwritten == ("motor.poles",)


def test_what_a_target_has_no_word_for() -> None:
    words = '"motor.signal" = { at = "let s be", words = { dshot300 = 41, dshot600 = 7 } }\n'
    words += '"battery.cells" = { at = "let c be", words = { 4 = "four" } }\n'
    dialect = make(f"[map]\n{words}")
    craft = clean(
        make('[map]\n"motor.signal" = "let s be"\n"battery.cells" = "let c be"'),
        "let s be multishot\nlet c be 3",
    )
    assert write_lines(craft, dialect, "").unwritten == ("battery.cells", "motor.signal")
    strange = craft.whole
    row_of = ModeRange("log", 5, 1000.0, 2000.0, "any", strange, strange, strange, strange)
    craft = craft.changed(mode_ranges=(row_of,))
    dialect = make(row("{mode} by {channel} {low} {high}", SPAN))
    assert "range of log on channel 5" in write_lines(craft, dialect, "").unwritten


# ---------------------------------------------------------------- telling which line


@pytest.mark.parametrize(
    ("text", "name", "line"),
    [
        ('[map]\n"motor.poles" = "let a be"', "motor.poles", "let a be …"),
        ('[map]\n"motor.poles" = "drive > let a be"', "motor.poles", "let a be … in drive"),
        (
            '[map]\n"log.on" = { at = "{value} diary", words = { yes = "with", no = "without" } }',
            "log.on",
            "with diary or without diary",
        ),
        (
            '[map]\n"channel.N.low_us" = { at = "ends > least", column = "in{N}" }',
            "channel.3.low_us",
            "least … under in3 in ends",
        ),
        ('[map]\n"port.N.baud" = { at = "p N", N = { words = { 1 = "A" } } }', "port.2.baud", ""),
        ('[map]\n"motor.poles" = "let a be"', "log.on", ""),
    ],
)
def test_which_line_says_it(text: str, name: str, line: str) -> None:
    assert spell(make(text, marks='open = "[{title}]"'), "", name) == line
