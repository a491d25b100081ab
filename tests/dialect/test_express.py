"""What a dialect file can say without Python, each with a small invented dialect."""

from __future__ import annotations

import pytest

from cfglint.craft.model import Craft, ModeLink, ModeRange
from cfglint.dialect.writing import write_lines

from .invented import again, clean, make, read, uses, values

RATE = '[map]\n"loop.rate_hz" = { at = "let rate be" }\n"motor.poles" = { at = "let poles be" }\n'


@pytest.mark.parametrize(
    ("assign", "line", "written"),
    [
        ("{name} = {value}", "rate  =  4000", "rate = 4000"),
        ("{name}={value}", "rate=4000", "rate=4000"),
        ("put {name} {value}", "put rate\t4000", "put rate 4000"),
        ("{name}:{value}", "rate:4000", "rate:4000"),
        ("{name} -> {value}", "rate -> 4000", "rate -> 4000"),
        ("@{name}[{value}]", "@rate[4000]", "@rate[4000]"),
        ("{value} is the {name}", "4000 is the rate", "4000 is the rate"),
    ],
)
def test_assignments_with_any_verb_and_separator(assign: str, line: str, written: str) -> None:
    dialect = make(RATE, marks=f'assign = "{assign}"')
    craft = clean(dialect, line)
    assert values(craft) == {"loop.rate_hz": 4000.0}
    span = craft.values["loop.rate_hz"].span
    assert span is not None
    assert line[span.column - 1 : span.end_column - 1] == "4000"
    assert write_lines(craft, dialect, "").lines == (written,)
    assert values(again(craft, dialect)) == values(craft)


def test_several_ways_to_assign() -> None:
    dialect = make(RATE, marks='assign = ["{name} = {value}", "put {name} {value}"]')
    assert values(clean(dialect, "rate = 4000\nput poles 12")) == {
        "loop.rate_hz": 4000.0,
        "motor.poles": 12,
    }


POSITIONS = """
[[rows]]
id = "channel"
at = "ch{N} {low} {mid} {high} {spare}"
sets = { low = "channel.N.low_us", mid = "channel.N.mid_us", high = "channel.N.high_us" }
fields = { spare = { none = "0" }, N = { first = 0 } }
[[rows]]
at = "{action} after {wait} s"
sets = { action = "failsafe.action", wait = "failsafe.delay_s" }
[[rows]]
at = "R{baud}"
sets = { baud = "receiver.baud" }
"""


def test_positions_with_typed_fields() -> None:
    dialect = make(POSITIONS)
    craft = clean(dialect, "ch0 1000 1500 2000 7\nch15 990 1500.5 2010 x\nstop after 0.5 s\nR9600")
    assert values(craft) == {
        "channel.1.low_us": 1000.0, "channel.1.mid_us": 1500.0, "channel.1.high_us": 2000.0,
        "channel.16.low_us": 990.0, "channel.16.mid_us": 1500.5, "channel.16.high_us": 2010.0,
        "failsafe.action": "stop", "failsafe.delay_s": 0.5, "receiver.baud": 9600.0,
    }  # fmt: skip
    assert write_lines(craft, dialect, "").lines == (
        "ch0 1000 1500 2000 0",
        "ch15 990 1500.5 2010 0",
        "stop after 0.5 s",
        "R9600",
    )
    bad = read(dialect, "ch-1 1000 1500 2000 0\nch0 1000 wide 9000 0\nstp after 1 s")
    assert [(one.name, one.span.column, one.written) for one in bad.misread] == [
        ("the number", 3, "-1"),
        ("channel.1.mid_us", 10, "wide"),
        ("channel.1.high_us", 15, "9000"),
        ("failsafe.action", 1, "stp"),
    ]
    assert "stop" in bad.misread[3].valid
    assert bad.misread[3].nearest == "stop"
    # What was right on a line with a mistake counts.
    assert values(bad) == {"channel.1.low_us": 1000.0, "failsafe.delay_s": 1.0}


def test_a_field_without_a_meaning_and_without_a_text_cannot_be_written() -> None:
    dialect = make(POSITIONS.replace('spare = { none = "0" }, ', ""))
    craft = clean(dialect, "ch0 1000 1500 2000 7")
    assert write_lines(craft, dialect, "") == (
        (), ("channel.1.high_us", "channel.1.low_us", "channel.1.mid_us"), (), (),
    )  # fmt: skip


@pytest.mark.parametrize("grammar", ["plain", "terse", "blocks"])
@pytest.mark.parametrize("line", ["#{baud}", "{baud} baud", "*rx {baud}", "rx/{baud}", "RX {baud}"])
@pytest.mark.parametrize("case", ["exact", "any"])
def test_lines_may_begin_with_anything(grammar: str, line: str, case: str) -> None:
    dialect = make(
        f"""
        [[changes]]
        at = "2"
        [[changes.rows]]
        at = "{line}"
        sets = {{ baud = "receiver.baud" }}
        [identity]
        lines = ["rev: {{firmware}}"]
        [ignored]
        lines = ["/store *", "=", "$ x"]
        """,
        
        marks=f'case = "{case}"\nprompt = "%"\ncomment = ";"',
    )
    text = "rev: 2\n" + line.replace("{baud}", "9600") + "\n/store it\n=\n$ x"
    if case == "any":
        text = text.replace("RX", "rx").replace("$ x", "$ X")
    assert values(clean(dialect, text)) == {"craft.firmware": "2", "receiver.baud": 9600.0}
    assert uses(dialect, text)[1:] == ["setting", "ignored", "ignored", "ignored"]


def test_numbers_for_words() -> None:
    dialect = make(
        """
        [map]
        "motor.signal" = { at = "let s be", words = { dshot300 = 3, dshot600 = 9, brushed = 5 } }
        "battery.cells" = { at = "let c be", words = { 0 = "auto", 4 = "four" } }
        "motor.rate_hz" = { at = "let r be", words = { 450 = "a" }, scale = 10 }
        "failsafe.channel.N" = { at = "let f{N} be", words = { hold = "q", drop = "v" } }
        """
    )
    text = "let s be 9\nlet c be four\nlet r be a\nlet f3 be q\nlet f4 be 1200"
    craft = clean(dialect, text)
    assert values(craft) == {
        "motor.signal": "dshot600", "battery.cells": 4, "motor.rate_hz": 450.0,
        "failsafe.channel.3": "hold", "failsafe.channel.4": "1200",
    }  # fmt: skip
    assert values(again(craft, dialect)) == values(craft)
    assert values(clean(dialect, "let r be 20")) == {"motor.rate_hz": 200.0}
    bad = read(dialect, "let s be 8\nlet c be 4\nlet r be b")
    assert [one.valid for one in bad.misread] == ["3, 9, 5", "auto (0), four (4)", "a number"]
    other = Craft(
        file="", name="", dialect="", extent="full", whole=craft.whole,
        values={
            name: craft.values["motor.signal"]._replace(name=name, value=value)
            for name, value in {"motor.signal": "multishot", "battery.cells": 3}.items()
        },
    )  # fmt: skip
    assert write_lines(other, dialect, "").unwritten == ("battery.cells", "motor.signal")


def test_bit_masks() -> None:
    dialect = make(
        """
        [[rows]]
        at = "port {N} does {what}"
        sets = { what = "port.N.functions" }
        fields = { what = { bits = { receiver = 5, gps = 1, log = 3 } } }
        """
    )
    craft = clean(dialect, "port 1 does 34\nport 2 does 0\nport 3 does 8")
    assert values(craft) == {
        "port.1.functions": frozenset({"receiver", "gps"}),
        "port.2.functions": frozenset(),
        "port.3.functions": frozenset({"log"}),
    }
    assert values(again(craft, dialect)) == values(craft)
    for wrong in ("1", "-1", "x", "2.0", "٣", "9" * 30, "9" * 20_000):
        (bad,) = read(dialect, f"port 1 does {wrong}").misread
        assert bad.valid == "a sum of 32 (receiver), 2 (gps), 8 (log)"
    whole = craft.values["port.1.functions"]._replace(value=frozenset({"console"}))
    craft.values["port.1.functions"] = whole  # type: ignore[index]
    assert write_lines(craft, dialect, "").unwritten == ("port.1.functions",)


@pytest.mark.parametrize(("base", "first", "told", "meant"), [
    (0, 1, "4", 5), (1, 1, "5", 5), (0, 5, "0", 5), (10, 1, "14", 5),
])  # fmt: skip
def test_where_channels_count_from(base: int, first: int, told: str, meant: int) -> None:
    dialect = make(
        f"""
        [[rows]]
        at = "mode {{mode}} ch {{channel}} {{low}} {{high}}"
        makes = "range"
        fields = {{ channel = {{ first = {base}, first = {first} }} }}
        [map]
        "receiver.port" = {{ at = "let rx be", first = {base}, first = {first} }}
        "channel.N.mid_us" = {{ at = "let c{N} be", number_base = {base}, number_first = {first} }}
        """
    )
    text = f"mode arm ch {told} 1765 2165\nlet rx be {told}\nlet c{told} be 1500"
    craft = clean(dialect, text)
    assert craft.mode_ranges[0].channel == meant
    assert values(craft) == {"receiver.port": meant, f"channel.{meant}.mid_us": 1500.0}
    assert set(write_lines(craft, dialect, "").lines) == set(text.split("\n"))
    if base == first:
        low = read(dialect, "let c0 be 1500\nlet rx be 0\nmode arm ch 0 1 2")
        assert [one.name for one in low.misread] == ["channel.N.mid_us", "receiver.port", "range"]


def test_scale_and_offset() -> None:
    dialect = make(
        """
        [map]
        "motor.idle_percent" = { at = "let idle be", scale = 0.04 }
        "loop.rate_hz" = { at = "let period be", over = 2400000 }
        "stick.low_us" = { at = "let low be", offset = 805, step = 40, decimals = 0 }
        "failsafe.channel.N" = { at = "let f{N} be", offset = 805, step = 40 }
        [[rows]]
        at = "mode {mode} {channel} {low} {high}"
        makes = "range"
        fields = { low = { offset = 805, step = 40 }, high = { offset = 805, step = 40 } }
        """
    )
    text = "let idle be 155\nlet period be 600\nlet low be 7\nlet f2 be 5\nmode arm 5 24 34"
    craft = clean(dialect, text)
    assert values(craft) == {
        "motor.idle_percent": 6.2, "loop.rate_hz": 4000.0, "stick.low_us": 1085.0,
        "failsafe.channel.2": "1005",
    }  # fmt: skip
    assert craft.mode_ranges[0][1:4] == (5, 1765.0, 2165.0)
    assert set(write_lines(craft, dialect, "").lines) == set(text.split("\n"))
    (zero,) = read(dialect, "let period be 0").misread
    assert zero.valid == "a number other than 0"
    # A value between two steps is not quietly written as another one.
    craft.values["stick.low_us"] = craft.values["stick.low_us"]._replace(value=1095.0)  # type: ignore[index]
    assert write_lines(craft, dialect, "").unwritten == ("stick.low_us",)


@pytest.mark.parametrize(
    ("divider", "line", "written"),
    [
        (",", "port 1: gps, log", "gps,log"),
        (", ", "port 1: gps,log", "gps, log"),
        (" ", "port 1: gps   log", "gps log"),
        ("/", "port 1: log/gps", "gps/log"),
        (" + ", "port 1: gps + log", "gps + log"),
    ],
)
def test_lists(divider: str, line: str, written: str) -> None:
    dialect = make(
        '[[rows]]\nat = "port {N}: {what}"\nsets = { what = "port.N.functions" }',
        marks=f'list = "{divider}"\nnone = "off"',
    )
    craft = clean(dialect, line + "\nport 2: off")
    assert values(craft) == {
        "port.1.functions": frozenset({"gps", "log"}),
        "port.2.functions": frozenset(),
    }
    assert write_lines(craft, dialect, "").lines == (f"port 1: {written}", "port 2: off")
    (bad,) = read(dialect, f"port 1: gps{divider}lgo").misread
    assert bad.nearest == "log"


def test_quoted_texts() -> None:
    dialect = make('[map]\n"craft.name" = { at = "let name be" }\n"motor.poles" = { at = "let p be" }')
    for written, meant in (
        ('"Little Egret"', "Little Egret"),
        ("Egret", "Egret"),
        ("Little Egret", "Little Egret"),
        (r'"a \"b\" \\ c"', r'a "b" \ c'),
        ('"', '"'),
        ('""', ""),
    ):
        craft = clean(dialect, f"let name be {written}\nlet p be 14")
        assert craft.values["craft.name"].value == meant
        assert values(again(craft, dialect)) == values(craft)
    quoted = make('[map]\n"craft.name" = { at = "let name be", quoted = true }')
    craft = clean(quoted, "let name be Egret")
    assert write_lines(craft, quoted, "").lines == ('let name be "Egret"',)


PROFILES = """
[profiles]
within = "bank {P}"
in_use = "bank-in-use"
first = 1
[map]
"motor.idle_percent" = { at = "bank {P} > let idle be", default = 4.0 }
"stick.low_us" = { at = "bank {P} > let low be" }
"motor.poles" = { at = "let poles be" }
"""


def test_names_repeated_in_numbered_profiles() -> None:
    dialect = make(PROFILES, marks='open = "[{title}]"\nremoval = "no {name}"')
    text = (
        "let poles be 14\n[bank 1]\nlet idle be 5\nlet low be 1075\n[bank  2]\nlet idle be 6\n"
        "let poles be 12\n[bank 1]\nlet idle be 5.3\n"
    )
    craft = read(dialect, text)
    assert values(craft) == {"motor.poles": 12, "motor.idle_percent": 5.3, "stick.low_us": 1075.0}
    # The same name in another profile is no repeat; the same one again is.
    assert [(r.earlier.value, r.later.value) for r in craft.repeats] == [(14, 12), (5.0, 5.3)]
    second = clean(dialect, text + "let bank-in-use be 2\n")
    assert values(second) == {"motor.poles": 12, "motor.idle_percent": 6.0}
    third = clean(dialect, 'let bank-in-use be "3"\n' + text)
    assert values(third) == {"motor.poles": 12}
    # A value outside its section means nothing.
    assert [one.name for one in read(dialect, "let idle be 5").strays] == ["idle"]
    # One taken back is taken back in its own profile.
    gone = clean(dialect, text + "[bank 2]\nno idle\n")
    assert values(gone)["motor.idle_percent"] == 5.3
    gone = clean(dialect, text + "[bank 1]\nno idle\nno low\n")
    assert gone.values["motor.idle_percent"].origin == "default"
    assert "stick.low_us" not in gone.values
    assert write_lines(craft, dialect, "").lines == (
        "let poles be 12", "[bank 1]", "let idle be 5.3", "let low be 1075",
    )  # fmt: skip
    assert values(again(craft, dialect)) == values(craft)


SECTIONS = """
[map]
"motor.idle_percent" = { at = "motor > let low be" }
"stick.low_us" = { at = "radio > sticks > let low be" }
"channel.N.low_us" = { at = "axis N > let low be" }
"motor.poles" = { at = "let low be" }
[modes]
arm = "ready"
[[rows]]
within = "when {mode}"
at = "{channel} in {low}..{high}"
makes = "range"
[[rows]]
within = "axis {N}"
at = "ends {mid} {high}"
sets = { mid = "channel.N.mid_us", high = "channel.N.high_us" }
"""


def test_names_repeated_in_nested_sections() -> None:
    dialect = make(
        SECTIONS,
        marks='assign = "{name} = {value}"\nopen = "{title} {"\nclose = "}"',
        grammar="blocks",
    )
    text = """
    low = 12
    motor {
      low = 5
    }
    radio {
      sticks {
        low = 1075
      }
    }
    axis 3 {
      low = 990
      ends 1500 2010
    }
    when ready {
      5 in 1765..2165
    }
    """
    craft = clean(dialect, text)
    assert values(craft) == {
        "motor.poles": 12, "motor.idle_percent": 5.0, "stick.low_us": 1075.0,
        "channel.3.low_us": 990.0, "channel.3.mid_us": 1500.0, "channel.3.high_us": 2010.0,
    }  # fmt: skip
    assert [row[:5] for row in craft.mode_ranges] == [("arm", 5, 1765.0, 2165.0, "any")]
    assert values(again(craft, dialect)) == values(craft)
    # In a section of which the dialect knows nothing, names mean nothing.
    lost = read(
        dialect, "other {\nlow = 3\n}\nmotor {\nsub {\nlow = 4\n}\n}\nwhen ready {\na {\n}\n}"
    )
    assert values(lost) == {}
    assert [one.span.line for one in lost.strays] == [2, 6]
    # A section's end too many does no harm.
    assert values(clean(dialect, "}\n}\nlow = 3")) == {"motor.poles": 3}
    nested = read(dialect, "when ready {\nmore {\n5 in 1765..2165\n}\n}")
    assert (nested.mode_ranges, len(nested.strays)) == ((), 1)
    bad = read(dialect, "axis x {\nlow = 990\nends 1 2\n}\nwhen reddy {\n5 in 1..2\n}")
    assert [(one.name, one.valid) for one in bad.misread] == [
        ("channel.N.low_us", "a number"),
        ("the number", "a number"),
        ("range", "ready"),
    ]
    assert bad.misread[2].nearest == "ready"


REMOVALS = """
[map]
"motor.poles" = { at = "let poles be", default = 14 }
"motor.rate_hz" = { at = "let rate be" }
"port.N.inverted" = { at = "{value} flip-{N}" }
"log.on" = { at = "{value} diary", default = true }
[[rows]]
at = "on {mode} {channel} {low} {high}"
makes = "range"
[[rows]]
at = "tie {mode} {follows}"
makes = "link"
[kept]
at = ["let feel *"]
"""


@pytest.mark.parametrize("form", ["-{name}", "- {name}", "{name} off", "no {name}"])
def test_removals(form: str) -> None:
    dialect = make(
        REMOVALS, marks=f'removal = "{form}"\nflag_on = "yes {{name}}"\nflag_off = "not {{name}}"'
    )
    lines = [form.replace("{name}", name) for name in ("poles", "rate", "arm", "feel-x", "flop")]
    before = (
        "let poles be 12\nlet rate be 430\non arm 5 1 2\non beacon 5 1 2\n"
        "tie arm beacon\ntie log arm"
    )
    craft = read(dialect, "\n".join([before, *lines]))
    poles = craft.values["motor.poles"]
    assert (poles.value, poles.origin, poles.written) == (14, "default", "")
    assert poles.line_span is not None
    assert poles.line_span.line == 7
    assert "motor.rate_hz" not in craft.values
    assert [row.mode for row in craft.mode_ranges] == ["beacon"]
    assert [row.mode for row in craft.mode_links] == ["log"]
    assert [one.name for one in craft.strays] == ["flop"]
    assert uses(dialect, "\n".join(lines)) == ["setting", "setting", "range", "kept", "stray"]


def test_flags_that_a_line_only_names() -> None:
    dialect = make(REMOVALS, marks='flag_on = "yes {name}"\nflag_off = "not {name}"')
    craft = clean(dialect, "yes flip-2\nnot flip-3\nnot diary")
    assert values(craft) == {"port.2.inverted": True, "port.3.inverted": False, "log.on": False}
    assert values(again(craft, dialect)) == values(craft)
    odd = read(dialect, "yes poles\nyes nothing\nyes flip-x\nyes feel-it\nlet diary be no")
    assert [one.name for one in odd.strays] == ["poles", "nothing", "flip-x"]
    assert values(odd) == {"log.on": False}
    # Without a form for a cleared flag there is no line for one.
    half = make(REMOVALS, marks='flag_on = "yes {name}"')
    assert write_lines(craft, half, "").unwritten == ("log.on", "port.3.inverted")


def test_a_dialect_without_ranges_knows_no_mode_to_remove() -> None:
    dialect = make(RATE, marks='removal = "no {name}"')
    assert [one.name for one in read(dialect, "no arm").strays] == ["arm"]


@pytest.mark.parametrize(
    ("prompt", "comment"), [("$", "#"), ("own>", "rem"), (">", ";"), ("-", "--"), ("/", "//")]
)
def test_comment_and_prompt_marks(prompt: str, comment: str) -> None:
    dialect = make(RATE, marks=f'prompt = "{prompt}"\ncomment = ["{comment}", "note:"]')
    text = (
        f"{comment} let rate be 1\n{prompt} let rate be 2\n {prompt}{comment} x\n"
        f"{prompt}\nnote: x\n{comment}\n{prompt}let poles be 14"
    )
    craft = clean(dialect, text)
    assert values(craft) == {"loop.rate_hz": 2.0, "motor.poles": 14}
    assert uses(dialect, text) == [
        "comment", "setting", "comment", "comment", "comment", "setting",
    ]  # fmt: skip


def test_echoes_and_refusals_of_a_pasted_log() -> None:
    dialect = make(
        RATE + '[ignored]\nlines = ["got *", "store"]\n',
        marks='prompt = "$"\nrefusal = ["ERR {reason}", "what?"]',
    )
    text = (
        "$ let rate be 4000\ngot 4000\n$ let rate be 9000000\nERR too fast\n"
        "$ let poles be 12\n-- a note\n\nwhat?\nERR and again\n$ store\n"
    )
    craft = read(dialect, text)
    # A refused line has no effect; one that came through has.
    assert values(craft) == {"loop.rate_hz": 4000.0}
    assert [(one.reason, one.cause_text) for one in craft.refusals] == [
        ("too fast", "let rate be 9000000"),
        ("", "let poles be 12"),
        ("and again", "let poles be 12"),
    ]
    assert [one.cause.line for one in craft.refusals if one.cause] == [3, 5, 5]
    assert (craft.misread, craft.repeats, craft.strays) == ((), (), ())
    assert uses(dialect, text) == [
        "setting", "ignored", "refused", "refusal", "refused", "comment", "refusal", "refusal",
        "ignored",
    ]  # fmt: skip
    (first,) = read(dialect, "ERR at once").refusals
    assert (first.cause, first.cause_text) == (None, "")


IDENTITY = """
[identity]
lines = ["board {board} runs {firmware} ({extent})", "this is {name}"]
full = "all of it"
changes = "news"
[map]
"motor.poles" = { at = "let poles be", default = 14 }
"log.on" = { at = "let diary be", default = false, sure = false }
"channel.N.low_us" = { default = 1000, count = 2 }
"""


def test_identity_lines() -> None:
    dialect = make(IDENTITY, marks='case = "any"')
    text = '\nlet poles be 12\nBoard SLATE runs 4.9 (NEWS)\nthis is "Little Egret" \n'
    craft = clean(dialect, text)
    assert values(craft) == {
        "motor.poles": 12, "craft.board": "SLATE", "craft.firmware": "4.9",
        "craft.name": "Little Egret",
    }  # fmt: skip
    assert (craft.name, craft.extent) == ("Little Egret", "changes")
    assert str(craft.whole) == "x.txt:3:1"
    assert craft.whole.end_column == 28
    assert craft.values["craft.firmware"].span == (("x.txt", 3, 18, 3, 21))
    assert uses(dialect, text) == ["setting", "identity", "identity"]
    for said, extent in (("news", "changes"), ("all", "full"), ("ALL OF IT", "full")):
        found = read(dialect, text.replace("NEWS", said))
        # A field in the middle of a line holds no blanks.
        assert found.extent == extent
    nobody = read(dialect, "\n  let poles be 12 ", name="Egret", extent="changes")
    assert (nobody.name, nobody.extent, str(nobody.whole)) == ("Egret", "changes", "x.txt:2:3")
    assert nobody.whole.end_column == 18
    empty = read(dialect, "\n \n")
    assert str(empty.whole) == "x.txt:1:1"
    # Not in the middle of a file, nor on a line of a book.
    late = read(dialect, "\n" * 300 + "board SLATE runs 4.9 (news)")
    assert "craft.board" not in late.values
    long = read(dialect, "board SLATE runs 4.9 (" + "x" * 2000 + ")")
    assert "craft.board" not in long.values


def test_what_holds_without_a_line() -> None:
    dialect = make(IDENTITY)
    full = read(dialect, "let poles be 12", extent="full")
    assert set(full.values) == {"motor.poles"}
    changes = read(dialect, "let poles be 12", extent="changes")
    assert {name: (v.value, v.origin, v.sure) for name, v in changes.values.items()} == {
        "motor.poles": (12, "set", True),
        "log.on": (False, "default", False),
        "channel.1.low_us": (1000.0, "default", True),
        "channel.2.low_us": (1000.0, "default", True),
    }
    # What the dialect itself says holds where the dump does not.
    own = make(IDENTITY, head='extent = "changes"')
    assert read(own, "save").extent == "changes"
    assert write_lines(changes, dialect, "").lines == ("let poles be 12",)


@pytest.mark.parametrize("ends", ["half-open", "closed"])
def test_how_ranges_end(ends: str) -> None:
    assert make(f'[traits]\nrange_ends = "{ends}"').at("").traits.range_ends == ends
    assert make("").at("").traits.range_ends is None


RANGES = """
[modes]
arm = 4
beacon = 7
[[rows]]
id = "slot"
at = "slot {N} {low} {high} {join} {channel} {mode}"
makes = "range"
skip_empty = true
fields = { N = { first = 31 }, join = { words = { any = "or", all = "and" } } }
[[rows]]
at = "tie {mode} {follows}"
makes = "link"
[[rows]]
at = "chain {mode} {follows} {why}"
makes = "link"
join = "all"
"""


def test_ranges_in_numbered_slots_and_links() -> None:
    dialect = make(RANGES)
    text = (
        "slot 31 1765 2165 or 5 4\nslot 32 845 845 or 6 7\nslot 33 1235 1765 and 6 4\n"
        "tie 7 4\nchain 4 7 because"
    )
    craft = clean(dialect, text)
    span = craft.mode_ranges[0].span
    assert craft.mode_ranges[0] == ModeRange(
        "arm", 5, 1765.0, 2165.0, "any", span,
        span._replace(column=22, end_column=23),
        span._replace(column=9, end_column=13),
        span._replace(column=14, end_column=18),
    )  # fmt: skip
    assert [row[:5] for row in craft.mode_ranges] == [
        ("arm", 5, 1765.0, 2165.0, "any"), ("arm", 6, 1235.0, 1765.0, "all"),
    ]  # fmt: skip
    assert [row[:3] for row in craft.mode_links] == [
        ("beacon", "arm", "any"), ("arm", "beacon", "all"),
    ]  # fmt: skip
    assert uses(dialect, text) == ["range", "ignored", "range", "link", "link"]
    written = write_lines(craft, dialect, "")
    assert written.lines == (
        "slot 31 1765 2165 or 5 4", "slot 32 1235 1765 and 6 4", "tie 7 4",
    )  # fmt: skip
    assert written.unwritten == ("link of arm to beacon",)
    bad = read(
        dialect,
        "slot 31 1 2 or 5 3\nslot 31 1 2 or 33 4\nslot 31 x 2 or 5 4\nslot x 1 2 or 5 4",
    )
    assert [(one.name, one.written, one.span.column) for one in bad.misread] == [
        ("range", "3", 18), ("range", "33", 16), ("range", "x", 9), ("range", "x", 6),
    ]  # fmt: skip
    strange = Craft(
        file="", name="", dialect="", extent="full", whole=span, values={},
        mode_ranges=(craft.mode_ranges[0]._replace(mode="log"),),
        mode_links=(ModeLink("log", "arm", "any", span),),
    )  # fmt: skip
    assert write_lines(strange, dialect, "").unwritten == (
        "range of log on channel 5", "link of log to arm",
    )  # fmt: skip


VERSIONS = """
[identity]
lines = ["-- rev {firmware}"]
[traits]
inversion = "absolute"
range_ends = "closed"
[map]
"motor.poles" = { at = "let poles be", default = 12 }
"battery.full_v" = { at = "let full be", default = 4.2 }
"log.on" = { at = "let diary be" }
"motor.signal" = { at = "let talk be", words = { dshot300 = "d3", multishot = "m" } }
[kept]
at = ["let feel be", "let hum *", "let hiss be"]
[[rows]]
id = "tie"
at = "tie {mode} {follows}"
makes = "link"
[[rows]]
at = "rx {baud}"
sets = { baud = "receiver.baud" }
id = "rx"
[[changes]]
at = "2.9"
rename = { poles = "magnets", feel = "touch" }
remove = { diary = "kept elsewhere", hiss = "gone" }
kept = ["new-one"]
[changes.map]
"motor.poles" = { default = 14 }
"battery.full_v" = { scale = 0.01 }
"motor.signal" = { words = { multishot = "", dshot600 = "d6" } }
"motor.rate_hz" = { at = "let pace be" }
[changes.modes]
arm = "ready"
[[changes]]
at = "2.10"
traits = { inversion = "relative" }
drop_rows = ["rx"]
[[changes.rows]]
id = "tie"
at = "tie {mode} to {follows}"
makes = "link"
"""


def test_what_changes_with_versions() -> None:
    dialect = make(VERSIONS, head='version_order = "dotted"')
    old = clean(
        dialect,
        "-- rev 2.8\nlet poles be 12\nlet full be 4.2\nlet diary be yes\nlet talk be m\n"
        "let feel be 1\nlet hum-x be 2\nlet hiss be 1\ntie arm log\nrx 9600",
    )
    assert values(old) == {
        "craft.firmware": "2.8", "motor.poles": 12, "battery.full_v": 4.2, "log.on": True,
        "motor.signal": "multishot", "receiver.baud": 9600.0,
    }  # fmt: skip
    new = clean(
        dialect,
        "-- rev 2.9.1\nlet magnets be 12\nlet full be 420\nlet pace be 430\nlet talk be d6\n"
        "let touch be 1\nlet new-one be 1\nlet hum-x be 2\ntie ready ready",
    )
    assert values(new) == {
        "craft.firmware": "2.9.1", "motor.poles": 12, "battery.full_v": 4.2,
        "motor.signal": "dshot600", "motor.rate_hz": 430.0,
    }  # fmt: skip
    late = read(dialect, "-- rev 2.10\ntie ready to ready\nrx 9600\nlet diary be no\nlet talk be m")
    assert [one.name for one in late.strays] == ["rx", "diary"]
    assert [one.valid for one in late.misread] == ["d3, d6"]
    assert len(late.mode_links) == 1
    for version, poles, inversion in (
        ("2.8", 12, "absolute"), ("2.9", 14, "absolute"), ("2.10", 14, "relative"),
        ("10", 14, "relative"), ("", 12, None), ("strange", 12, None),
    ):  # fmt: skip
        tables = dialect.at(version)
        assert tables.by_setting["motor.poles"].default == poles
        assert tables.traits.inversion == inversion
        assert tables.traits.range_ends == "closed"
    assert dialect.at("2.9") is dialect.at("2.9")
    # In decimal order 2.10 is 2.1 and comes before.
    decimal = make(VERSIONS.replace('at = "2.10"', 'at = "2.95"'), head='version_order = "decimal"')
    assert decimal.at("2.10").by_setting["motor.poles"].default == 12
    assert decimal.at("2.10").traits.version_order == "decimal"
    # A version can be written that the craft does not name itself.
    assert write_lines(old, dialect, "2.10").lines[:2] == ("-- rev 2.10", "let magnets be 12")
    assert write_lines(old, dialect, "2.10").unwritten == (
        "link of arm to log", "log.on", "motor.signal", "receiver.baud",
    )  # fmt: skip


def test_a_dialect_whose_versions_are_alike_says_its_traits_without_one() -> None:
    dialect = make('[traits]\ninversion = "relative"\n[[changes]]\nat = "2"\nabout = "none"')
    assert dialect.at("").traits.inversion == "relative"


def test_unconfirmed_mappings_are_marked() -> None:
    dialect = make(
        '[map]\n"motor.poles" = { at = "let poles be", sure = false }\n'
        '[[rows]]\nat = "rx {baud}"\nsets = { baud = "receiver.baud" }\nsure = false'
    )
    craft = clean(dialect, "let poles be 12\nrx 9600")
    assert [value.sure for value in craft.values.values()] == [False, False]


def test_names_known_and_passed_over() -> None:
    dialect = make(
        RATE + '[kept]\nat = ["let hum *", "let Feel be"]\n[ignored]\nlines = ["store *", "Bye"]',
        marks='case = "any"',
    )
    text = (
        "let HUM-x be 1\nlet feel be 2\nhum-y 3\nfeel 7\nstore all\nSTORE it\nbye\nbye now\n"
        "LET RATE BE 9"
    )
    assert uses(dialect, text) == [
        "kept", "kept", "kept", "kept", "ignored", "ignored", "ignored", "stray", "setting",
    ]  # fmt: skip


def test_words_in_either_letter_case() -> None:
    dialect = make(
        """
        [map]
        "motor.signal" = { at = "let Talk be", words = { dshot300 = "Digi" } }
        "receiver.link" = { at = "let link be" }
        "log.on" = { at = "let diary be", yes = ["On", "1"], no = "Off" }
        "port.N.functions" = { at = "let P{N} be", none = "None" }
        """,
        marks='case = "any"',
    )
    craft = clean(dialect, "let talk be DIGI\nlet LINK be SBUS\nlet diary be ON\nlet p3 be NONE")
    assert values(craft) == {
        "motor.signal": "dshot300", "receiver.link": "sbus", "log.on": True,
        "port.3.functions": frozenset(),
    }  # fmt: skip
    assert write_lines(craft, dialect, "").lines == (
        "let Talk be Digi", "let link be sbus", "let diary be On", "let P3 be None",
    )  # fmt: skip
    exact = make('[map]\n"receiver.link" = { at = "let link be" }\n"log.on" = { at = "let d be" }')
    bad = read(exact, "let link be SBUS\nlet d be Yes\nlet Link be sbus")
    assert [(one.valid.split(",")[0], one.nearest) for one in bad.misread] == [
        ("sbus", "sbus"), ("yes or no", "yes"),
    ]  # fmt: skip
    assert [(one.name, one.nearest) for one in bad.strays] == [("Link", "link")]
