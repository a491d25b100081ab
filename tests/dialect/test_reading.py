"""Any text at all is read: nothing is lost, nothing fails, nothing is slow."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.dialect import bundled, read_craft
from cfglint.dialect.load import bundled_names
from cfglint.dialect.reading import Reader
from cfglint.dialect.reading import uses as uses_of
from cfglint.dump.source import Source

from .invented import clean, make, read, uses, values

each = pytest.mark.parametrize("name", bundled_names())

#: Parts of lines that the bundled dialects know, to be put together wrongly.
PARTS = (
    "let ",
    "motor-signal",
    " be ",
    "dshot600",
    "use arm",
    " while channel ",
    "5",
    " in ",
    "1785",
    "..",
    "2185",
    "port 2 carries ",
    "receiver,gps",
    " at ",
    "forget ",
    "channel 3 spans 1 2 3",
    "-- board T, firmware 7.10, full listing",
    "on loss channel 3 becomes hold",
    "!! not taken: x",
    "vl:",
    "11",
    ":",
    "6",
    "pf:1",
    "md:58:9:2:5:46",
    "ch:0:1000:1500:2000",
    "90",
    "pt:1:5:3",
    "? no",
    "; unit M rev 2.65 whole",
    "drive {",
    "}",
    "when armed {",
    "channel 5 from 1785 to 2185",
    "talk: ",
    "digital-600",
    "with reply",
    "without ",
    "- ",
    "axis 3 {",
    "low: 1000",
    "together with chirp",
    "// unit H build 6.3 as changes",
    "^ no",
    ">>",
    "%",
    "~>",
    '"',
    "\\",
    " ",
    "\t",
    "\x00",
    "µ",
    "-",
    "99999999999999999999999999999999999999999999999",
    "1e5",
    "nan",
    "stow",
    "cfglint: dialect terse",
)
dumps = st.lists(st.lists(st.sampled_from(PARTS), max_size=6).map("".join), max_size=14).map(
    "\n".join
)


@each
@given(text=dumps)
def test_every_statement_has_one_use(name: str, text: str) -> None:
    source = Source.from_text("x.txt", text)
    reader = Reader(source, bundled(name))
    craft = reader.craft()
    assert reader.uses.keys() == {row.line for row in reader.rows} | reader.identity.numbers
    for value in craft.values.values():
        if value.span is not None and value.origin == "set":
            assert source.slice(value.span).strip('"') in (value.written.strip('"'), value.written)
            assert value.line_span is not None
            assert value.line_span.line == value.span.line
    for span in (
        craft.whole,
        *(one.span for one in craft.strays + craft.misread + craft.unreadable + craft.refusals),
        *(one.name_span for one in craft.strays),
        *(one.channel_span for one in craft.mode_ranges),
    ):
        assert source.slice(span) or not text.strip()


@each
@given(before=dumps, after=dumps, junk=st.sampled_from(["\x00", "?!", "§ 7", "{{", "::"]))
def test_a_line_nobody_can_read_costs_no_other(
    name: str, before: str, after: str, junk: str
) -> None:
    plain = read_craft(Source.from_text("x.txt", f"{before}\n{after}"), bundled(name))
    mixed = read_craft(Source.from_text("x.txt", f"{before}\n{junk}\n{after}"), bundled(name))
    refused = any(one.cause_text == junk for one in mixed.refusals)
    if not refused:
        assert {n: v.value for n, v in plain.values.items()} == {
            n: v.value for n, v in mixed.values.items()
        }
        assert [row[:5] for row in plain.mode_ranges] == [row[:5] for row in mixed.mode_ranges]
        assert len(mixed.unreadable) + len(mixed.strays) >= len(plain.unreadable) + len(
            plain.strays
        )


TRAPS = {
    "range": "use " + "a" * 30_000 + " while channel " + "." * 30_000,
    "range of quotes": "use " + '"' * 30_000 + " while channel 5 in " + '"' * 30_000,
    "dots": "use arm while channel 5 in " + "." * 60_000,
    "record": "md:" + "3:" * 30_000,
    "number": "vl:13:" + "9" * 60_000,
    "number with points": "vl:13:" + "9." * 30_000,
    "mask": "pt:1:" + "9" * 60_000 + ":3",
    "list": "port 1 carries " + "gps," * 15_000,
    "name": "let " + "a" * 60_000 + " be x",
    "dashes": "-" * 60_000,
    "title": "a " * 30_000 + "{",
    "identity": "-- board " + " " * 60_000 + ", firmware",
    "directive": "cfglint:" + " " * 60_000 + "dialect",
}


@each
@pytest.mark.parametrize("trap", TRAPS)
def test_no_line_is_slow(name: str, trap: str) -> None:
    source = Source.from_text("x.txt", TRAPS[trap] + "\n" + TRAPS[trap][:900])
    read_craft(source, bundled(name))
    start = time.process_time()
    read_craft(source, bundled(name))
    assert time.process_time() - start < 0.5


def test_sections_without_end_are_not_slow() -> None:
    text = "a {\n" * 30_000
    start = time.process_time()
    craft = read_craft(Source.from_text("x.txt", text), bundled("blocks"))
    assert time.process_time() - start < 3
    assert craft.lines == 30_000
    assert values(clean(bundled("blocks"), "x {\ny {\nz {\n}\n}\n}\ndrive {\nmagnets: 12\n}")) == {
        "motor.poles": 12
    }


def test_many_strange_names_are_not_all_compared() -> None:
    text = "\n".join(f"let motor-rat{number} be 1" for number in range(300))
    craft = read(bundled("plain"), text)
    assert len(craft.strays) == 300
    assert craft.strays[0].nearest == "motor-rate"
    assert craft.strays[299].nearest == ""
    assert read(bundled("plain"), "let " + "motor-rate" * 20 + " be 1").strays[0].nearest == ""


def test_why_a_line_is_unreadable() -> None:
    craft = read(bundled("plain"), "\x00\n5 ?\nsay\x7f\n" + "a" * 70_000)
    assert [one.why.split(",")[0] for one in craft.unreadable] == [
        "it holds control characters",
        "no line of the dialect `plain` begins with no word",
        "it holds control characters",
        "it is 70",
    ]


def test_profiles_of_a_bundled_dialect() -> None:
    text = "pf:1\nvl:13:250\npf:2\nvl:13:300\n"
    terse = bundled("terse")
    assert values(clean(terse, text)) == {"motor.idle_percent": 5.0}
    assert values(clean(terse, text + "vl:95:2")) == {"motor.idle_percent": 6.0}


def test_uses_in_the_order_of_the_dump() -> None:
    source = Source.from_text("x.txt", "let bell-magnet be 14\n-- x\nlet y be 1")
    found = [(one.line, use) for one, use in uses_of(source, bundled("plain"))]
    assert found == [(1, "used"), (2, "comment"), (3, "stray")]


def test_a_line_that_a_form_and_an_assignment_fit() -> None:
    dialect = make(
        '[[rows]]\nat = "let rx be {baud}"\nsets = { baud = "receiver.baud" }\n'
        '[kept]\nat = ["let hum be"]'
    )
    assert uses(dialect, "let rx be 9600\nlet hum be 1\nlet tx be 1") == [
        "used", "kept", "stray",
    ]  # fmt: skip


def test_one_member_of_a_family_may_have_a_name_of_its_own() -> None:
    dialect = make(
        '[map]\n"channel.3.low_us" = { at = "let throttle-low be" }\n'
        '"channel.N.low_us" = { at = "let low-N be" }\n"port.N.baud" = { at = "let baud-N be" }'
    )
    craft = clean(dialect, "let throttle-low be 990\nlet low-4 be 1000\nlet baud-2 be 9600")
    assert values(craft) == {
        "channel.3.low_us": 990.0, "channel.4.low_us": 1000.0, "port.2.baud": 9600.0,
    }  # fmt: skip


def test_a_removal_of_no_number() -> None:
    assert [one.name for one in read(bundled("plain"), "forget port-x-flip").strays] == [
        "port-x-flip"
    ]
    assert uses(bundled("plain"), "let port-3-flip be yes\nforget port-3-flip") == [
        "used",
        "removal",
    ]
