"""Rows of ports, mode ranges and links in layouts of many kinds: each word is what it can be."""

from __future__ import annotations

import pytest

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach.taught import teach

PORTS = (
    (1, "console", 115200, False, False),
    (2, "gps", 57600, True, False),
    (3, "rx", 416666, False, True),
    (4, "vtx", 9600, True, True),
)
LAYOUTS = (
    "port {n}: {use} {baud} {inv} {half}",
    "uart.{n} {baud}, {use}, {half}, {inv}",
    "SERIAL {n} use={use} baud={baud} inverted={yn} {half}",
    "socket[{n}] {half} {inv} {use} @ {baud}",
    "jack #{n} -> {use} at {baud} baud, {inv}, {half}",
    "line_{n} {use} / {kilo}k / {inv} / {half}",
)


def read(text: str) -> MapReader:
    source = Source("a.txt", text, "utf-8")
    draft = teach([source], "rows")
    reader = MapReader(source, map_of(draft.data), marks(draft.data))
    reader.read()
    return reader


@pytest.mark.parametrize("layout", LAYOUTS)
def test_words_of_a_port_stand_in_any_order(layout: str) -> None:
    text = "\n".join(
        layout.format(
            n=n,
            use=use,
            baud=baud,
            kilo=f"{baud / 1000:g}",
            inv="flipped" if inverted else "straight",
            half="one-wire" if half else "two-wire",
            yn="yes" if inverted else "no",
        )
        for n, use, baud, inverted, half in PORTS
    )
    values = read(text).values
    functions = {1: "console", 2: "gps", 3: "receiver", 4: "video-control"}
    for n, _, baud, inverted, half in PORTS:
        assert values[f"port.{n}.functions"].value == frozenset({functions[n]})
        assert values[f"port.{n}.baud"].value == baud
        assert values[f"port.{n}.inverted"].value is inverted
        assert values[f"port.{n}.half_duplex"].value is half


RANGES = "when ch5 1712-2108 -> armed\nwhen ch6 1316-1644 -> level\nwhen ch9 1705-2120 -> turtle\n"


@pytest.mark.parametrize(
    ("row", "link"),
    [
        ("when turtle -> beeper", ("beacon", "self-right")),
        ("beeper follows turtle", ("beacon", "self-right")),
        ("tie beeper turtle", ("beacon", "self-right")),
        ("turtle brings beeper", ("beacon", "self-right")),
    ],
)
def test_what_stands_between_two_modes_says_which_follows(row: str, link: tuple[str, str]) -> None:
    found = read(RANGES + row)
    assert [(one.mode, one.follows) for one in found.links] == [link]
    assert {one.mode for one in found.ranges} == {"arm", "self-level", "self-right"}


def test_channels_that_are_counted_from_0_are_so_in_ranges_too() -> None:
    ends = "\n".join(f"input.{n} {990 + n},{1490 + n},{1990 + n}" for n in range(5))
    rows = "act arm input 4 1712 2108\nact level input 6 1316 1644\nact turtle input 7 1705 2120"
    found = read(f"{ends}\n{rows}")
    assert {one.channel for one in found.ranges} == {5, 7, 8}
    assert found.values["channel.1.low_us"].value == 990


def test_a_row_that_says_that_nothing_stands_at_a_port_is_no_other_value() -> None:
    text = "port 1 console 115200\nport 2 none 57600\nport 3 gps 38400"
    values = read(text).values
    assert values["port.2.functions"].value == frozenset()
    assert values["port.2.baud"].value == 57600
