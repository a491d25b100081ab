"""Lines of several fields: ranges of modes, ends of channels, ports, loss, links."""

from __future__ import annotations

from typing import Any

import pytest

from .samples import REST, craft_of, ranges, read, taught, unread, values

PLAIN = """\
esc.protocol = dshot600
loop.rate.hz = 4000
rx.link = sbus
reed.height = 9
tide.table = 118
sluice.gap = 4
marsh.tint = green
tern.count = 12
"""
ARM = ("arm", 5, 1790, 2150)
LEVEL = ("self-level", 6, 820, 1270)
BEACON = ("beacon", 7, 1270, 2150)


def with_rows(*rows: str) -> str:
    return PLAIN + "\n".join(rows) + "\n" + REST


def sureness(text: str) -> set[bool]:
    return {row.sure for row in craft_of(taught(text), text).mode_ranges}


def left(text: str, answers: dict[str, str] | None = None) -> list[int]:
    return unread(craft_of(taught(text, answers), text))


# ---------------------------------------------------------------- ranges


def test_a_range_that_leaves_nothing_open_is_sure() -> None:
    assert sureness(
        with_rows("range arm channel 5 1790 2150", "range level channel 6 820 1270")
    ) == {True}


NUMBERED = (
    "range 31 5 1790 2150",
    "range 18 6 820 1270",
    "range 44 7 1270 2150",
    "range 27 7 1270 1790",
)


def test_two_words_for_one_mode() -> None:
    text = with_rows(
        "range arm ch5 1790 2150", "range lampz ch6 820 1270", "range lights ch7 1270 2150"
    )
    assert ("lights", 7, 1270, 2150) in ranges(taught(text), text)


def test_lines_that_only_look_like_ranges() -> None:
    # A curve's points, the ends of channels: no mode is on by them.
    for rows in (
        ("curve 0 10 20", "curve 1 30 40", "curve 2 60 90"),
        ("channel 1 1000 2000", "channel 2 1000 2000", "channel 3 1000 2000"),
        ("servo 1 2 2150 820", "servo 2 3 2000 1000"),
    ):
        text = with_rows(*rows)
        assert ranges(taught(text), text) == []


def test_a_mode_does_not_follow_itself() -> None:
    text = with_rows("range arm ch5 1790 2150", "also lights lights", "also log log")
    assert craft_of(taught(text), text).mode_links == ()


@pytest.mark.parametrize("title", ["when {}", "mode {}"])
def test_ranges_in_sections_titled_by_modes(title: str) -> None:
    rows = []
    for mode, channel, ends in (
        ("arm", 5, "1790 2150"),
        ("level", 6, "820 1270"),
        ("beeper", 7, "1270 2150"),
    ):
        rows += [title.format(mode) + " {", f"  channel {channel} {ends}", "}"]
    text = with_rows(*rows)
    assert set(ranges(taught(text), text)) == {ARM, LEVEL, BEACON}
    assert not any(name.startswith("channel.") for name in read(text))


# ---------------------------------------------------------------- channels


def channels(text: str) -> dict[int, list[float]]:
    found: dict[int, list[float]] = {}
    for name, value in sorted(read(text).items()):
        if name.startswith("channel."):
            found.setdefault(int(name.split(".")[1]), []).append(value)
    return {number: sorted(ends) for number, ends in found.items()}


@pytest.mark.parametrize(
    ("form", "first"),
    [
        ("channel {} 1000 1500 2000", 1),
        ("channel {} 1000 1500 2000", 0),
        ("ch{}: 1000 / 1500 / 2000", 1),
        ("scale {} = 1500 1000 2000", 1),
        ("stick {} from 1000 to 2000", 1),
        ("trim {} 1000 1500 2000", 1),
    ],
)
def test_ends_of_channels(form: str, first: int) -> None:
    text = with_rows(*(form.format(n) for n in range(first, first + 6)))
    ends = [1000, 2000] if "1500" not in form else [1000, 1500, 2000]
    assert channels(text) == dict.fromkeys(range(1, 7), ends)
    assert left(text) == []


@pytest.mark.parametrize("first", [0, 1])
def test_ends_of_channels_by_name(first: int) -> None:
    rows = [
        f"ch{n}_{end} = {pulse}"
        for n in range(first, first + 5)
        for end, pulse in (("min", 1000), ("mid", 1500), ("max", 2000))
    ]
    assert channels(with_rows(*rows)) == {key: [1000, 1500, 2000] for key in range(1, 6)}


@pytest.mark.parametrize(
    "rows",
    [
        ("channel 1 1400 2000", "channel 2 1400 2000", "channel 3 1400 2000"),  # no low ends
        ("channel 1 2000 1000", "channel 2 1000 2000", "channel 3 1000 2000"),  # neither is lower
        ("channel fast 1000 2000", "channel slow 1000 2000", "channel odd 1000 2000"),  # unnumbered
    ],
)
def test_pulses_that_are_no_ends_of_channels(rows: tuple[str, ...]) -> None:
    assert channels(with_rows(*rows)) == {}


# ---------------------------------------------------------------- ports


def ports(text: str, answers: dict[str, str] | None = None) -> dict[int, tuple[Any, Any]]:
    craft = craft_of(taught(text, answers), text)
    return {port.number: (port.functions.value, port.baud.value) for port in craft.ports()}


THREE = {
    1: (frozenset({"receiver"}), 115200),
    2: (frozenset({"telemetry", "gps"}), 57600),
    3: (frozenset(), 9600),
}


def test_ports_in_sections_and_by_name() -> None:
    rows, names = [], []
    for number, use, baud in (
        (1, "receiver", 115200),
        (2, "telemetry,gps", 57600),
        (3, "none", 9600),
    ):
        rows += [f"port {number} {{", f"  use = {use}", f"  baud = {baud}", "  invert = off", "}"]
        names += [f"port{number}_use = {use}", f"port{number}_baud = {baud}"]
    assert ports(with_rows(*rows)) == THREE
    # One member alone is of the family that its beginning is of.
    text = with_rows(*names, "port2_invert = yes", "port2_half = no")
    assert ports(text) == THREE
    assert read(text)["port.2.inverted"] is True
    assert read(text)["port.2.half_duplex"] is False


@pytest.mark.parametrize(("yes", "no"), [("yes", "no"), ("YES", "NO"), ("On", "Off")])
def test_a_ports_flag_is_taken_for_its_inversion_and_marked(yes: str, no: str) -> None:
    text = with_rows(
        f"port 1 receiver 115200 {no}", f"port 2 telemetry 57600 {no}", f"port 3 gps 9600 {yes}"
    )
    draft = taught(text)
    craft = craft_of(draft, text)
    assert [port.inverted.value for port in craft.ports()] == [False, False, True]
    assert not any(port.inverted.sure for port in craft.ports())
    assert all(port.functions.sure for port in craft.ports())


def test_what_ports_are_not() -> None:
    text = with_rows("port 1 closed", "port 2 open")
    assert ports(text) == {}
    text = with_rows("port north receiver", "port south telemetry", "port north gps")
    assert ports(text) == {}


# ---------------------------------------------------------------- loss


def test_loss_in_numbered_sections() -> None:
    rows = [row for n in (1, 2, 3) for row in (f"channel {n} {{", " lost keep", "}")]
    said = read(with_rows(*rows))
    assert [said.get(f"failsafe.channel.{n}") for n in (1, 2, 3)] == ["hold"] * 3


@pytest.mark.parametrize(
    "rows",
    [
        ("failsafe 1 perhaps", "failsafe 2 never"),
        ("failsafe 1 1000 2000", "failsafe 2 1000 2000"),
        ("failsafe soon hold", "failsafe late hold"),
    ],
)
def test_what_is_no_loss(rows: tuple[str, ...]) -> None:
    assert not any(name.startswith("failsafe.channel") for name in read(with_rows(*rows)))


# ---------------------------------------------------------------- not right yet


def test_functions_that_are_explained_are_sure() -> None:
    text = with_rows("port 1 1 115200", "port 2 66 57600", "port 3 0 9600")
    told = {"words port.N.functions": "1 = receiver, 2 = telemetry, 64 = gps"}
    assert all(port.functions.sure for port in craft_of(taught(text, told), text).ports())
    assert values(taught(text, told), text, sure=True)
