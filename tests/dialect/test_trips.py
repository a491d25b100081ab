"""Round trips: what a dump says and does not survive being written back is named, and why."""

from __future__ import annotations

import pytest

from cfglint.dialect.roundtrip import Trip, lost_of, round_trip
from cfglint.dump.source import Source

from .invented import make, read


def trip(dialect: str, dump: str, *, shape: str = "", grammar: str = "plain") -> Trip:
    shape = shape or 'assign = "put {name} {value}"\ncomment = "#"'
    return round_trip(Source.from_text("x.txt", dump), make(dialect, shape=shape, grammar=grammar))


def lost(dialect: str, dump: str, **more: str) -> list[tuple[str, ...]]:
    """What is lost: what, value, line written, what that is read as, why; spans checked apart."""
    found = trip(dialect, dump, **more).lost
    assert all(one.span.file == "x.txt" for one in found)
    return [(one.what, one.value, one.written, one.got, one.why) for one in found]


def entry(name: str, keys: str) -> str:
    return f'[map]\n"{name}" = {{ at = "let a be", {keys} }}\n'


def test_nothing_lost() -> None:
    found = trip(entry("motor.poles", "sure = false"), "put a 12")
    assert found == Trip("x.txt", 1, 0, 0, ())


def test_more_decimals_are_needed() -> None:
    assert lost(entry("battery.full_v", "decimals = 1"), "put a 4.25") == [
        (
            "battery.full_v", "4.25 V", "", "",
            "it needs more digits after the point than `decimals = 1` writes",
        )
    ]  # fmt: skip


def test_where_it_stands() -> None:
    found = trip(entry("battery.full_v", "decimals = 1"), "\n  put a 4.25")
    assert found.lost[0].span[1:] == (2, 3, 2, 13)


def test_an_empty_list_without_a_word() -> None:
    # Read by a form, whose field may be a pair of quotes.
    found = lost('[map]\n"port.1.functions" = { at = "let p be" }\n', 'put p ""', shape=SHAPE_NONE)
    assert found == [
        ("port.1.functions", "nothing", "", "", "an empty list has no word here: give `none`")
    ]


SHAPE_NONE = 'assign = "put {name} {value}"\nnone = ""'


def test_a_flag_that_cannot_be_cleared() -> None:
    text = '[map]\n"log.on" = { at = "let a be", yes = "1", no = "" }\n'
    assert lost(text, 'put a ""') == [
        ("log.on", "no", "", "", "no line clears it: give `flag_off` in [marks]")
    ]


def test_a_line_with_a_field_of_no_meaning() -> None:
    form = '[[rows]]\nat = "baud {x} of {rest}"\nsets = { x = "receiver.baud" }\n'
    why = "its line has a field that nothing fills in: give it a setting or `none`"
    assert lost(form, "baud 9600 of 3") == [("receiver.baud", "9600 baud", "", "", why)]
    assert lost(form + 'fields = { rest = { none = "0" } }', "baud 9600 of 3") == []


def test_who_a_craft_is() -> None:
    """A line that names the craft counts for no setting, and is not held against a dialect that
    cannot write all of it; but one that is written must be read as what it says.
    """
    identity = '[identity]\nlines = ["# {board} by {name}", "# {board}"]\n'
    assert trip(identity, "# R2 by Tern") == Trip("x.txt", 0, 0, 0, ())
    identity = '[identity]\nlines = ["# at {day} {board}"]\n'
    assert trip(identity, "# at noon R2").lost == ()
    identity = '[identity]\nlines = ["# board {board}", "# firmware {firmware}", "# {board}"]\n'
    assert trip(identity, "# board R2\n# firmware 2.1").lost == ()
    # Whoever is called `R2 by` is not, after that.
    craft = read(make('[map]\n"craft.name" = { at = "let a be" }'), 'let a be "x by y"')
    (found,) = lost_of(craft, make('[identity]\nlines = ["{board} by {name}", "{name}"]'), "")
    assert (found.what, found.written, found.got) == ("craft.name", "x by y", "y")


def test_a_name_that_a_setting_says() -> None:
    text = '[map]\n"craft.name" = { at = "let a be" }'
    assert trip(text, "put a Tern") == Trip("x.txt", 1, 0, 0, ())


def test_what_is_read_back_as_another_value() -> None:
    text = '[map]\n"log.on" = { at = "let a be", yes = "1", no = ["1", "0"] }\n'
    assert lost(text, "put a 0") == [
        ("log.on", "no", "put a 1", "yes", "it is read back as another value")
    ]


SHAPE = 'assign = "put {name} {value}"\ncomment = "#"\nrefusal = "no: {reason}"'


@pytest.mark.parametrize(
    ("text", "line", "why"),
    [
        (
            '[[rows]]\nat = "#{n} poles"\nsets = { n = "motor.poles" }',
            "#12 poles",
            "that line is read as a comment",
        ),
        (
            '[[rows]]\nat = "no: {n}"\nsets = { n = "motor.poles" }',
            "no: 12",
            "that line is read as a refusal",
        ),
        (
            '[map]\n"motor.poles" = { at = "let p be" }\n[identity]\nlines = ["put p {board}"]',
            "put p 12",
            "that line is read as one that names the craft",
        ),
        (
            '[map]\n"motor.poles" = { at = "let p q be" }\n[kept]\nat = ["let p be"]',
            "put p q 12",
            "that line is kept without a meaning, by [kept]",
        ),
        (
            '[map]\n"motor.poles" = { at = "let p q be" }',
            "put p q 12",
            "the dialect has no meaning for that line",
        ),
        (
            '[map]\n"motor.poles" = { at = "let p q be" }\n"log.on" = { at = "let p be" }',
            "put p q 12",
            "what stands for its value there cannot be read (it may be yes or no)",
        ),
    ],
)
def test_what_is_read_back_as_something_else(text: str, line: str, why: str) -> None:
    """The craft comes from a dialect that can say it."""
    craft = read(make('[map]\n"motor.poles" = { at = "let a be" }', shape=SHAPE), "put a 12")
    (found,) = lost_of(craft, make(text, shape=SHAPE), "")
    assert (found.what, found.value, found.written, found.got) == (
        "motor.poles", "12 poles", line, "",
    )  # fmt: skip
    assert found.why == why


def test_profiles_that_are_not_in_use() -> None:
    text = """
    [map]
    "motor.idle_percent" = { at = "set {P} > let idle be", decimals = 0 }
    "motor.poles" = { at = "let poles be" }
    [profiles]
    within = "set {P}"
    in_use = "use"
    """
    shape = 'assign = "put {name} {value}"\nopen = "[{title}]"'
    dump = (
        "put poles 12\nput use 2\n[set 1]\nput idle 5.7\n[set 2]\nput idle 4\n[set 3]\nput idle 3"
    )
    found = trip(text, dump, shape=shape)
    assert found.settings == 4
    assert [(one.what, one.value, one.span.line) for one in found.lost] == [
        ("motor.idle_percent", "5.7%", 4)
    ]


# ---------------------------------------------------------------- ranges and links

MODES = '[modes]\narm = "go"\nbeacon = "beep"\n'
RANGE = '[[rows]]\nat = "{mode} on {channel} {low}-{high}"\nmakes = "range"\n'


def test_ranges_that_no_form_can_write() -> None:
    read_only = '[[rows]]\nat = "all {mode} on {channel} {low}-{high} {what}"\nmakes = "range"\n'
    read_only += 'join = "all"\n'
    assert lost(MODES + read_only, "all go on 5 1705-2095 now") == [
        (
            "range", "arm: channel 5, 1705 to 2095, all", "", "",
            "its line has a field that nothing fills in: give it `none`",
        )
    ]  # fmt: skip


def test_ranges_written_by_another_form() -> None:
    """The first form of the kind writes; what it has no word for is said."""
    steps = RANGE + "fields = { low = { step = 35, decimals = 0 } }\n"
    other = '[[rows]]\nat = "{mode} at {channel} {low}-{high}"\nmakes = "range"\n'
    assert lost(MODES + steps + other, "go at 5 1715-2095") == []
    assert lost(MODES + steps, "go on 5 49-2095") == []


def test_ranges_that_are_read_back_otherwise() -> None:
    text = MODES + RANGE + 'fields = { mode = { words = { arm = "go", log = "go" } } }\n'
    form = '[[rows]]\nat = "{mode} at {channel} {low}-{high}"\nmakes = "range"\n'
    assert lost(text + form, "go at 5 1705-2095") == [
        (
            "range", "arm: channel 5, 1705 to 2095", "go on 5 1705-2095",
            "log: channel 5, 1705 to 2095", "it is read back as another value",
        )
    ]  # fmt: skip


def test_links() -> None:
    link = '[[rows]]\nat = "{mode} with {follows}"\nmakes = "link"\n'
    found = trip(MODES + link, "beep with go")
    assert (found.links, found.lost) == (1, ())
    spare = '[[rows]]\nat = "{mode} with {follows} {what}"\nmakes = "link"\n'
    assert lost(MODES + spare, "beep with go now") == [
        (
            "link", "beacon along with arm", "", "",
            "its line has a field that nothing fills in: give it `none`",
        )
    ]  # fmt: skip
    again = link + 'fields = { follows = { words = { arm = "go", log = "go" } } }\n'
    other = '[[rows]]\nat = "{mode} by {follows}"\nmakes = "link"\n'
    assert lost(MODES + again + other, "beep by go") == [
        (
            "link", "beacon along with arm", "beep with go", "",
            "reading that line does not set it",
        )
    ]  # fmt: skip


def test_what_no_line_says_any_more() -> None:
    """A craft of one dialect, asked of what another writes."""
    whole = MODES + RANGE + '[map]\n"motor.poles" = { at = "let a be" }\n"log.on" = { at = "let b be" }'
    shape = 'assign = "put {name} {value}"'
    craft = read(make(whole, shape=shape), "put a 12\nput b no\ngo on 5 1-2\nbeep on 5 1-2")
    less = make('[modes]\narm = "go"\n' + RANGE, shape=shape)
    assert [(one.what, one.why) for one in lost_of(craft, less, "")] == [
        ("motor.poles", "no line of the dialect's says it"),
        ("log.on", "no line of the dialect's says it"),
        ("range", "no word for beacon in `{mode} on {channel} {low}-{high}`"),
    ]
    nothing = make("", shape=shape)
    assert [one.why for one in lost_of(craft, nothing, "")][2:] == [
        "no form of the dialect's makes a range joined by any"
    ] * 2


def test_a_value_without_a_written_word() -> None:
    craft = read(make('[map]\n"motor.signal" = { at = "let a be" }'), "let a be dshot600")
    text = '[[rows]]\nat = "{p} of {s}"\nsets = { p = "motor.poles", s = "motor.signal" }\n'
    (found,) = lost_of(craft, make(text), "")
    assert found.why == ("its line says `motor.poles` as well, and nobody says what that is")
    words = '[map]\n"motor.signal" = { at = "let a be", words = { dshot300 = 3 } }'
    (found,) = lost_of(craft, make(words), "")
    assert found.why == "no word for dshot600"
