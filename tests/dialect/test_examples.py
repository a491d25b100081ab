"""Examples in dialect files: their own mistakes, making them, and trying them both ways.

TOML that is made is read back by ``tomllib`` of the standard library.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

import cfglint_grammars
from cfglint.dialect import load_dialect
from cfglint.dialect.examples import (
    LinkText,
    RangeText,
    not_a_link,
    not_a_range,
    not_a_value,
    parse_link,
    parse_range,
    show_link,
    show_range,
)
from cfglint.dialect.load import bundled_names
from cfglint.dialect.trials import sample_text, trips_of_examples, try_examples
from cfglint.errors import Problem, Problems
from cfglint.span import Span

from .invented import make

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.dialect import Dialect

HERE = Span("x", 1, 1, 1, 1)
SETTINGS = """
[map]
"motor.poles" = { at = "put magnets", default = 22 }
"motor.signal" = { at = "put talk", words = { dshot300 = 27, dshot600 = 11 } }
"loop.rate_hz" = { at = "put turn", over = 1000000 }
"battery.full_v" = { at = "put full", decimals = 1 }
"log.on" = { at = "put log" }
"port.N.functions" = { at = "put p{N}" }
[modes]
arm = "go"
beacon = "beep"
[[rows]]
at = "{mode} on {channel} {low}-{high}"
makes = "range"
[[rows]]
at = "{mode} with {follows}"
makes = "link"
[kept]
at = ["put lamp"]
"""


def reed(example: str, more: str = "") -> Dialect:
    marks = 'assign = "put {name} {value}"\nremoval = "drop {name}"\ncomment = "#"\n'
    marks += 'refusal = "no: {reason}"'
    return make(f"{SETTINGS}{more}\n[[examples]]\n{example}", marks=marks)


def failures(example: str, more: str = "") -> list[str]:
    return [one.text for tried in try_examples(reed(example, more)) for one in tried.failures]


# ---------------------------------------------------------------- texts of ranges and links


@given(
    st.sampled_from(["arm", "self-right", "lost-link"]),
    st.integers(1, 32),
    st.integers(0, 300_000),
    st.integers(0, 300_000),
    st.sampled_from(["any", "all"]),
)
def test_ranges_and_links_are_read_as_written(
    mode: str, channel: int, low: int, high: int, join: str
) -> None:
    row = RangeText(mode, channel, low / 100, high / 100, join)
    assert parse_range(show_range(row)) == row
    link = LinkText(mode, "beacon", join)
    assert parse_link(show_link(link)) == link


def test_how_they_are_written() -> None:
    row = parse_range(" arm :channel 5 , 1728 to  2157 , any ")
    assert show_range(row) == "arm: channel 5, 1728 to 2157"
    assert show_range(row._replace(join="all")) == "arm: channel 5, 1728 to 2157, all"
    assert show_link(parse_link("beacon  along with lost-link,all")) == (
        "beacon along with lost-link, all"
    )


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("arm on 5", "is no mode range; write it as `arm: channel 5, 1728 to 2157`"),
        ("ram: channel 5, 1 to 2", "names `ram`, which is no mode; did you mean `arm`?"),
        ("arm: channel 33, 1 to 2", "is about channel 33; channels are 1 to 32"),
        ("arm: channel 0, 1 to 2", "is about channel 0; channels are 1 to 32"),
        ("arm: channel 5, 1 to 3001", "ends at 3001; pulses are 0 to 3000 µs"),
    ],
)
def test_what_is_no_range(text: str, wrong: str) -> None:
    assert not_a_range(text) == wrong


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("beacon with arm", "is no link of modes; write it as `beacon along with lost-link`"),
        ("arm along with beacno", "names `beacno`, which is no mode; did you mean `beacon`?"),
        ("becon along with arm", "names `becon`, which is no mode; did you mean `beacon`?"),
    ],
)
def test_what_is_no_link(text: str, wrong: str) -> None:
    assert not_a_link(text) == wrong


# ---------------------------------------------------------------- mistakes


def mistakes(example: str) -> list[str]:
    with pytest.raises(Problem) as caught:
        reed(example)
    each = caught.value.each if isinstance(caught.value, Problems) else (caught.value,)
    return [str(one).partition(":")[2].partition(":")[2].partition(": ")[2] for one in each]


def test_mistakes_of_values() -> None:
    assert mistakes(
        'lines = " "\nwrites = true\nfirmware = "x y"\n'
        'sets = { "motor.signal" = "dshot3000", "motor.poles" = 14.5, "log.on" = 1, '
        '"port.1.functions" = ["recever"], "battery.full_v" = 9, "craft.name" = 1, '
        '"port.2.functions" = "gps", "failsafe.action" = 3, "motor.two_way" = "yes" }'
    ) == [
        "example 1 has no lines; write the lines of a dump that it is about",
        "`writes` of example 1 must be a text or `false`; "
        "leave it out where the same lines are written back",
        "version 'x y' cannot be ordered in dotted parts: expected numbers between dots such as "
        "7.10 or 8.0-rc1",
        '`"dshot3000"` is no neutral value of `motor.signal`; did you mean `dshot300`?',
        "`14.5` is no neutral value of `motor.poles`; write a whole number, 2 to 60 poles",
        "`1` is no neutral value of `log.on`; write true or false",
        '`["recever"]` is no neutral value of `port.1.functions`; did you mean `receiver`?',
        "`9` is no neutral value of `battery.full_v`; write a number, 0 to 6 V",
        "`1` is no neutral value of `craft.name`; write a text in quotes",
        '`"gps"` is no neutral value of `port.2.functions`; write a list of `receiver`, '
        "`telemetry`, `esc-telemetry`, `gps`, `video-control`, `camera-control`, `log`, "
        "`console`, `lights` or `rangefinder`",
        "`3` is no neutral value of `failsafe.action`; write `stop`, `descend`, `return-home`, "
        "`hold-last` or `none`",
        '`"yes"` is no neutral value of `motor.two_way`; write true or false',
    ]


def test_mistakes_of_shape() -> None:
    assert mistakes('line = "a"') == [
        "the table `examples[1]` lacks `lines` (lines of a dump); write `lines = …` with a text",
        "`line` means nothing in `examples[1]`; did you mean `lines`?",
    ]
    assert mistakes('lines = "a"\nsets = { "motor.sgnal" = 1 }') == [
        "`motor.sgnal` is no neutral setting; did you mean `motor.signal`?"
    ]
    assert mistakes('lines = "a"\nranges = ["ram: channel 5, 1 to 2"]\nlinks = ["x"]') == [
        "`examples[1].ranges[1]` names `ram`, which is no mode; did you mean `arm`?",
        "`examples[1].links[1]` is no link of modes; write it as `beacon along with lost-link`",
    ]
    assert mistakes('lines = "a"\nwrites = 3') == [
        "`examples[1].writes` must be a text or `true` or `false`, not `3`; "
        "write how it is written back; false if it is not"
    ]


def test_values_that_can_be() -> None:
    for name, value in (
        ("motor.signal", "dshot600"),
        ("motor.poles", 22),
        ("battery.full_v", 4),
        ("battery.full_v", 4.2),
        ("log.on", False),
        ("port.3.functions", []),
        ("craft.name", ""),
    ):
        assert not_a_value(name, value) == ""
    assert not_a_value("motor.poles", True) == "write a whole number, 2 to 60 poles"
    assert not_a_value("motor.rate_hz", "x") == "write a number, 1 to 100000 Hz"
    assert not_a_value("port.1.functions", [["gps"]]).startswith("write a list of `receiver`")


# ---------------------------------------------------------------- trying them


@pytest.mark.parametrize("name", bundled_names())
def test_examples_of_the_bundled_dialects(name: str) -> None:
    dialect = load_dialect(f"{name}.toml", cfglint_grammars.read(f"{name}.toml"))
    tried = try_examples(dialect)
    assert len(tried) >= 5
    assert [one.failures for one in tried if one.failures] == []
    trips = list(trips_of_examples(dialect))
    assert trips
    assert [trip.lost for trip in trips if trip.lost] == []


@pytest.mark.parametrize(
    "example",
    [
        'lines = "put  talk   11"\nsets = { "motor.signal" = "dshot600" }',
        # A period has no end of digits; whoever writes an example need not write them all.
        'lines = "put turn 313"\nsets = { "loop.rate_hz" = 3194.888 }\nwrites = false',
        'lines = "put magnets 12\\ndrop magnets"\nsets = { "motor.poles" = 22 }\nwrites = false',
        'lines = "# a comment\\nput lamp 5\\nput log yes"\nsets = { "log.on" = true }',
        'lines = "go on 5 1728-2157\\ngo on 6 1728-2157"\n'
        'ranges = ["arm: channel 6, 1728 to 2157", "arm: channel 5, 1728 to 2157"]',
        'lines = "put full 4.20"\nwrites = "put full 4.2"\nsets = { "battery.full_v" = 4.2 }',
        'lines = "beep with go"\nlinks = ["beacon along with arm"]',
        'lines = "put lamp 3"',
    ],
)
def test_examples_that_hold(example: str) -> None:
    assert failures(example) == []


@pytest.mark.parametrize(
    ("example", "wrong"),
    [
        (
            'lines = "put talk 11"\nsets = { "motor.signal" = "dshot300" }',
            ["reading sets motor.signal to `dshot600`; expected `dshot300`"],
        ),
        (
            'lines = "put talk 11"\nsets = { "motor.poles" = 12 }',
            [
                "reading does not set motor.poles; expected `12 poles`",
                "reading sets motor.signal to `dshot600`, which the example does not list",
            ],
        ),
        (
            'lines = "put talk 5\\nstray 1\\n\x07"',
            None,
        ),
        (
            'lines = "go on 5 1728-2157"\nranges = ["arm: channel 6, 1728 to 2157"]',
            [
                "reading makes the range `arm: channel 5, 1728 to 2157`; "
                "expected `arm: channel 6, 1728 to 2157`"
            ],
        ),
        (
            'lines = "beep with go\\nput log no"\nsets = { "log.on" = false }',
            [
                "reading makes the link `beacon along with arm`, which the example does not list",
            ],
        ),
        (
            'lines = "put log no"\nsets = { "log.on" = false }\nlinks = ["beacon along with arm"]',
            ["reading makes no link `beacon along with arm`"],
        ),
        (
            'lines = "put full 4.20"\nsets = { "battery.full_v" = 4.2 }',
            ["writing gives the line `put full 4.2`; expected `put full 4.20`"],
        ),
        (
            'lines = "put full 4.25"\nsets = { "battery.full_v" = 4.25 }',
            [
                "writing has no line for battery.full_v: no exact number for 4.25",
                "writing gives no line `put full 4.25`",
            ],
        ),
        (
            'lines = "put log yes"\nsets = { "log.on" = true }\nwrites = "put lamp 3"',
            [
                "writing gives the line `put log yes`, which is not expected; `writes` says how "
                "it is written back, or `writes = false`"
            ],
        ),
        (
            'lines = "put log yes\\nno: locked"',
            ["reading: the line `no: locked` is a refusal, by which the line before has no effect"],
        ),
        (
            'lines = "put talk 5"',
            [
                "reading: the line `put talk 5` has `5` for motor.signal, which may be 27, 11",
            ],
        ),
    ],
)
def test_examples_that_do_not(example: str, wrong: list[str] | None) -> None:
    if wrong is None:
        example = example.replace("\x07", "\\u0007")
        wrong = [
            "reading: the line `put talk 5` has `5` for motor.signal, which may be 27, 11",
            "reading: the line `stray 1` has no meaning in this dialect",
            "reading: the line `\x07` cannot be read",
        ]
    assert failures(example) == wrong


def test_sections_must_be_opened() -> None:
    marks = 'assign = "put {name} {value}"\nopen = "[{title}]"'
    text = '[map]\n"motor.poles" = { at = "motor > put magnets" }\n[[examples]]\n'
    example = 'lines = "[motor]\\nput magnets 12"\nsets = { "motor.poles" = 12 }\n'
    (tried,) = try_examples(make(text + example, marks=marks))
    assert tried.failures == ()
    (tried,) = try_examples(
        make(text + example + 'writes = "[engine]\\nput magnets 12"', marks=marks)
    )
    assert [one.text for one in tried.failures] == [
        "writing opens the section `motor`; expected `engine`",
    ]


def test_the_version_of_an_example() -> None:
    more = '[[changes]]\nat = "2.0"\n[changes.map]\n'
    more += '"motor.signal" = { words = { dshot300 = 4 } }'
    example = 'lines = "put talk 4"\nsets = { "motor.signal" = "dshot300" }'
    marks = 'assign = "put {name} {value}"'
    old = make(f"{SETTINGS}{more}\n[[examples]]\n{example}", marks=marks)
    assert [one.text for one in try_examples(old)[0].failures] == [
        "reading: the line `put talk 4` has `4` for motor.signal, which may be 27, 11",
        "reading does not set motor.signal; expected `dshot300`",
    ]
    new = make(f'{SETTINGS}{more}\n[[examples]]\nfirmware = "2.1"\n{example}', marks=marks)
    assert try_examples(new)[0].failures == ()
    assert [trip.lost for trip in trips_of_examples(new)] == [()]


def test_identity_counts_where_the_example_has_it() -> None:
    more = '[identity]\nlines = ["# reed {board} {firmware}"]'
    sets = '{ "craft.board" = "R2", "craft.firmware" = "2.1", "log.on" = true }'
    assert failures(f'lines = "# reed R2 2.1\\nput log yes"\nsets = {sets}', more) == []
    assert (
        failures('lines = "put log yes"\nsets = { "log.on" = true }\nfirmware = "2.1"', more) == []
    )
    # A line that names the firmware alone is written whether the example has it or not.
    more = '[identity]\nlines = ["# reed {firmware}"]'
    assert (
        failures('lines = "put log yes"\nsets = { "log.on" = true }\nfirmware = "2.1"', more) == []
    )


def test_a_sample_for_who_has_none() -> None:
    text = '[map]\n"motor.poles" = { at = "put magnets" }'
    assert sample_text(make(text)) == (
        '`[[examples]]` with `lines = "put magnets …"` and `sets = { "motor.poles" = … }`'
    )
    assert sample_text(make("")) == '`[[examples]]` with `lines = "…"` and `sets = { … }`'


def test_the_examples_of_the_guide(root: Path) -> None:
    import re

    guide = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```toml\n(.*?)```", guide.split("## How to add a dialect\n")[1], re.S)
    whole = blocks[0] + next(block for block in blocks if block.startswith("[[examples]]"))
    tried = try_examples(load_dialect("reed.toml", whole.encode()))
    assert len(tried) == 2
    assert [one.failures for one in tried] == [(), ()]
