"""Lines of several fields: ranges of modes, ends of channels, ports, loss, links."""

from __future__ import annotations

from typing import Any

import pytest

from cfglint.teach.cells import Cell, cells_of

from .samples import REST, asked, craft_of, guess, ranges, read, taught, unread, values

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


# ---------------------------------------------------------------- cells


def texts(line: str) -> list[str]:
    return [cell.text for cell in cells_of(line) if cell.field]


def test_a_line_falls_into_cells() -> None:
    assert cells_of("sluice arm:5") == [
        Cell("sluice", True),
        Cell(" ", False),
        Cell("arm", True),
        Cell(":", False),
        Cell("5", True),
    ]
    assert texts("port_2_use = gps") == ["port_", "2", "_use", "gps"]
    assert texts("ch5 1790..2150") == ["ch", "5", "1790", "2150"]
    assert texts("range -100 -60 0.5") == ["range", "-100", "-60", "0.5"]
    assert texts('"sluice" "two words" 3') == ["sluice", '"two words"', "3"]
    # A list is one thing, a dash alone is nothing; words that mean something keep their digits.
    assert texts("port 1 gps+telemetry -") == ["port", "1", "gps+telemetry", "-"]
    assert texts("port 1 gps, sluice") == ["port", "1", "gps", "sluice"]
    assert texts("out dshot600") == ["out", "dshot600"]
    assert texts("") == []


# ---------------------------------------------------------------- ranges


#: A comment that says in what the ends of ranges are written.
STEPS = "# ends in steps of 10 us from 760"


@pytest.mark.parametrize(
    "rows",
    [
        ("range arm ch5 1790 2150", "range level ch6 820 1270", "range beeper ch7 1270 2150"),
        (
            "arm on channel 5: 1790-2150",
            "level on channel 6: 820-1270",
            "beep on channel 7: 1270-2150",
        ),
        ("range_arm = 5 1790 2150", "range_level = 6 820 1270", "range_beeper = 7 1270 2150"),
        ("when arm aux1 1790-2150", "when level aux2 820-1270", "when beeper aux3 1270-2150"),
        ("when arm aux0 1790-2150", "when level aux1 820-1270", "when beeper aux2 1270-2150"),
        ("when arm ch 4 1790-2150", "when level ch 5 820-1270", "when beeper ch 6 1270-2150"),
        ("when 1790-2150 on 0 arm", "when 820-1270 on 1 level", "when 1270-2150 on 2 beeper"),
        ("switch beeper 7 1270 2150", "switch arm 5 1790 2150", "switch level 6 820 1270"),
        (STEPS, "range arm ch5 103 139", "range level ch6 6 51", "range beeper ch7 51 139"),
        ("range arm ch5 17900 21500", "range level ch6 8200 12700", "range beeper ch7 12700 21500"),
        ("range 820 1270 level 6", "range 1790 2150 arm 5", "range 1270 2150 beeper 7"),
        ("range 1 arm ch5 1790 2150", "range 2 level ch6 820 1270", "range 3 beeper ch7 1270 2150"),
    ],
)
def test_ranges_of_modes(rows: tuple[str, ...]) -> None:
    text = with_rows(*rows)
    assert set(ranges(taught(text), text)) == {ARM, LEVEL, BEACON}
    assert left(text) == []


def test_a_range_that_leaves_nothing_open_is_sure() -> None:
    assert sureness(
        with_rows("range arm channel 5 1790 2150", "range level channel 6 820 1270")
    ) == {True}


@pytest.mark.parametrize(
    "rows",
    [
        ("when arm aux1 1790-2150", "when level aux2 820-1270"),  # counted after the sticks?
        ("switch arm 7 1790 2150", "switch level 6 820 1270"),  # from 1?
        ("range arm ch5 103 139", "range level ch6 6 51"),  # steps of what?
        ("range arm ch5 60 100", "range level ch6 -100 -60"),
    ],
)
def test_what_is_only_likely_is_marked_and_asked(rows: tuple[str, ...]) -> None:
    text = with_rows(*rows)
    assert sureness(text) == {False}
    question = asked(taught(text), "range")
    assert question is not None
    assert question.shown[0].text == rows[0]


@pytest.mark.parametrize(
    ("rows", "answer", "meant"),
    [
        (
            ("range arm ch5 60 100", "range level ch6 -100 -60"),
            "channel 5, 1800 to 2000",
            LEVEL[:2],
        ),
        (
            ("switch arm 7 1790 2150", "switch level 6 820 1270"),
            "channel 8, 1790 to 2150",
            ("self-level", 7),
        ),
        (
            ("when arm aux2 1790-2150", "when level aux3 820-1270"),
            "channel 2, 1790 to 2150",
            ("self-level", 3),
        ),
        (
            ("when arm aux1 1790-2150", "when level aux2 820-1270"),
            "channel 5, 1790 to 2150",
            LEVEL[:2],
        ),
        (
            ("when 1790-2150 on 0 arm", "when 820-1270 on 1 level"),
            "channel 1, 1790 to 2150",
            ("self-level", 2),
        ),
        (
            ("when 1790-2150 on 0 arm", "when 820-1270 on 1 level"),
            "channel 7, 1790 to 2150",
            ("self-level", 8),
        ),
    ],
)
def test_one_range_explained_explains_the_others(
    rows: tuple[str, ...], answer: str, meant: tuple[str, int]
) -> None:
    text = with_rows(*rows)
    draft = taught(text, {"range": answer})
    found = ranges(draft, text)
    channel, low, high = int(answer[8]), float(answer[11:15]), float(answer[19:])
    assert found[0] == ("arm", channel, low, high)
    assert found[1][:2] == meant
    assert asked(draft, "range") is None
    assert {row.sure for row in craft_of(draft, text).mode_ranges} == {True}


def test_steps_explained() -> None:
    text = with_rows("range arm ch5 10 18", "range level ch6 2 8", "range beeper ch7 8 18")
    draft = taught(text, {"range": "channel 5, 1500 to 1900"})
    assert ranges(draft, text)[1][2:] == (1100, 1400)


def test_no_range_explains_nothing() -> None:
    text = with_rows("range arm ch5 60 100", "range level ch6 -100 -60")
    assert ranges(taught(text, {"range": "none"}), text) == ranges(taught(text), text)


NUMBERED = (
    "range 31 5 1790 2150",
    "range 18 6 820 1270",
    "range 44 7 1270 2150",
    "range 27 7 1270 1790",
)


def test_numbers_for_modes_are_asked_for() -> None:
    text = with_rows(*NUMBERED)
    draft = taught(text)
    assert ranges(draft, text) == []
    question = asked(draft, "words mode")
    assert question is not None
    assert question.words == ("31", "18", "44", "27")
    told = taught(text, {"words mode": "31 = arm, 18 = self-level, 44 = beacon"})
    assert ranges(told, text) == [ARM, LEVEL, BEACON]


def test_codes_tell_the_column_of_modes() -> None:
    """The channel stands first here: the modes' numbers, once known, say so."""
    rows = (
        "range 1 21 1790 2150",
        "range 2 35 820 1270",
        "range 3 46 1270 2150",
        "range 3 51 1270 1790",
    )
    text = with_rows(*rows)
    words = {"words mode": "21 = arm, 35 = self-level, 46 = beacon, 51 = lights"}
    assert ranges(taught(text, words), text)[:3] == [ARM, LEVEL, BEACON]


def test_the_owners_channel_tells_the_column_of_modes() -> None:
    rows = ("range 20 8 1790 2150", "range 21 3 820 1270", "range 22 9 1270 2150")
    text = with_rows(*rows)
    told = taught(text, {"range": "channel 20, 1790 to 2150", "words mode": "8 = arm"})
    assert ranges(told, text) == [("arm", 20, 1790, 2150)]


def test_how_several_ranges_go_together() -> None:
    text = with_rows(
        "range arm ch5 1790 2150 or", "range arm ch6 820 1270 and", "range beeper ch7 1270 2150 or"
    )
    craft = craft_of(taught(text), text)
    assert [row.join for row in craft.mode_ranges] == ["any", "all", "any"]
    text = with_rows(
        "range arm ch5 1790 2150",
        "range level ch6 820 1270",
        "and arm ch8 1270 2150",
        "and level ch9 1270 2150",
    )
    craft = craft_of(taught(text), text)
    assert [row.join for row in craft.mode_ranges] == ["any", "any", "all", "all"]


def test_a_number_for_how_they_go_together_is_marked() -> None:
    text = with_rows(
        "range arm ch5 1790 2150 0",
        "range level ch6 820 1270 1",
        "range beeper ch7 1270 2150 0",
        "range lights ch7 1270 1270 0",
    )
    craft = craft_of(taught(text), text)
    assert [row.join for row in craft.mode_ranges] == ["any", "all", "any"]  # an empty one is none
    assert {row.sure for row in craft.mode_ranges} == {False}


def test_a_mode_of_nobody_is_asked_for() -> None:
    text = with_rows(
        "range arm ch5 1790 2150", "range wheesh ch6 820 1270", "range beeper ch7 1270 2150"
    )
    draft = taught(text)
    assert [row[0] for row in ranges(draft, text)] == ["arm", "beacon"]
    question = asked(draft, "words mode")
    assert question is not None
    assert question.words == ("wheesh",)
    told = taught(text, {"words mode": "wheesh = lights"})
    assert [row[0] for row in ranges(told, text)] == ["arm", "lights", "beacon"]
    # What the owner says of a word that was understood otherwise holds.
    other = taught(text, {"words mode": "beeper = video-power, wheesh = beacon"})
    assert [row[0] for row in ranges(other, text)] == ["arm", "beacon", "video-power"]


def test_two_words_for_one_mode() -> None:
    text = with_rows(
        "range arm ch5 1790 2150", "range lampz ch6 820 1270", "range lights ch7 1270 2150"
    )
    assert ("lights", 7, 1270, 2150) in ranges(taught(text), text)


def test_a_guessed_mode_is_marked_and_proposed() -> None:
    text = with_rows(
        "range arm ch5 1790 2150", "range beac ch6 820 1270", "range lights ch7 1270 2150"
    )
    draft = taught(text)
    craft = craft_of(draft, text)
    assert {row.mode: row.sure for row in craft.mode_ranges}["beacon"] in (True, False)
    told = taught(text, {"words mode": "beac = beacon"})
    assert {row.mode: row.sure for row in craft_of(told, text).mode_ranges}["beacon"]


def test_lines_that_only_look_like_ranges() -> None:
    # A curve's points, the ends of channels: no mode is on by them.
    for rows in (
        ("curve 0 10 20", "curve 1 30 40", "curve 2 60 90"),
        ("channel 1 1000 2000", "channel 2 1000 2000", "channel 3 1000 2000"),
        ("servo 1 2 2150 820", "servo 2 3 2000 1000"),
    ):
        text = with_rows(*rows)
        assert ranges(taught(text), text) == []


def test_a_mode_that_follows_another() -> None:
    rows = (
        "range arm ch5 1790 2150",
        "range beeper ch7 1270 2150",
        "also lights arm",
        "also log beeper",
    )
    text = with_rows(*rows)
    craft = craft_of(taught(text), text)
    assert [tuple(link[:2]) for link in craft.mode_links] == [("lights", "arm"), ("log", "beacon")]


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


def test_ranges_in_sections_by_their_pulses() -> None:
    rows = []
    for mode, channel, ends in (
        ("arm", 5, "103 139"),
        ("level", 6, "6 51"),
        ("beeper", 7, "51 139"),
    ):
        rows += [f"when {mode} {{", f"  aux{channel - 4} {ends}", "}"]
    text = with_rows(STEPS, *rows)
    assert set(ranges(taught(text), text)) == {ARM, LEVEL, BEACON}


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


def test_ends_of_channels_in_numbered_sections() -> None:
    rows = [row for n in range(1, 5) for row in (f"channel {n} {{", " 1000 1500 2000", "}")]
    assert channels(with_rows(*rows)) == {key: [1000, 1500, 2000] for key in range(1, 5)}


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


@pytest.mark.parametrize(
    "rows",
    [
        ("port 1 receiver 115200", "port 2 telemetry+gps 57600", "port 3 none 9600"),
        ("serial 0 = receiver, 115200", "serial 1 = telemetry/gps, 57600", "serial 2 = -, 9600"),
        ("port A receiver 115200", "port B telemetry+gps 57600", "port C none 9600"),
        ("port 1 115200 rx", "port 2 57600 tlm,gps", "port 3 9600 off"),
    ],
)
def test_ports(rows: tuple[str, ...]) -> None:
    assert ports(with_rows(*rows)) == THREE
    assert left(with_rows(*rows)) == []


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


def test_ports_counted_from_further_on_are_marked() -> None:
    text = with_rows("port 2 receiver 115200", "port 3 telemetry 57600", "port 4 gps 9600")
    craft = craft_of(taught(text), text)
    assert [port.number for port in craft.ports()] == [2, 3, 4]
    assert not any(port.functions.sure for port in craft.ports())
    found = guess(taught(text), "port.N.baud, port.N.functions")
    assert found is not None
    assert "counted from 1" in found.reason


def test_bits_for_functions_are_asked_for() -> None:
    text = with_rows("port 1 1 115200", "port 2 66 57600", "port 3 0 9600")
    draft = taught(text)
    question = asked(draft, "words port.N.functions")
    assert question is not None
    assert question.words == ("1", "2", "64")
    told = {"words port.N.functions": "1 = receiver, 2 = telemetry, 64 = gps"}
    assert ports(text, told) == THREE
    assert asked(taught(text, told), "words port.N.functions") is None
    some = asked(taught(text, {"words port.N.functions": "1 = receiver"}), "words port.N.functions")
    assert some is None  # one answer is the answer: what is left out stays unknown


def test_codes_for_functions_and_speeds() -> None:
    text = with_rows("port 1 3 7", "port 2 6 5", "port 3 9 5", "port 4 0 7")
    told = {
        "words port.N.functions": "3 = receiver, 6 = telemetry, 9 = gps",
        "words port.N.baud": "7 = 115200, 5 = 57600",
    }
    assert ports(text, told) == {
        1: (frozenset({"receiver"}), 115200),
        2: (frozenset({"telemetry"}), 57600),
        3: (frozenset({"gps"}), 57600),
        4: (frozenset(), 115200),
    }
    told["words port.N.functions"] += ", 0 = nothing"
    assert ports(text, told)[4] == (frozenset(), 115200)


def test_speeds_of_nobody_are_passed_over() -> None:
    text = with_rows("port 1 receiver 7", "port 2 telemetry 5", "port 3 gps 5")
    craft = craft_of(taught(text), text)
    assert all(not port.baud.known for port in craft.ports())
    assert [port.functions.value for port in craft.ports()] == [
        frozenset({"receiver"}),
        frozenset({"telemetry"}),
        frozenset({"gps"}),
    ]


def test_what_ports_are_not() -> None:
    text = with_rows("port 1 closed", "port 2 open")
    assert ports(text) == {}
    text = with_rows("port north receiver", "port south telemetry", "port north gps")
    assert ports(text) == {}


# ---------------------------------------------------------------- loss


@pytest.mark.parametrize(
    "rows",
    [
        ("failsafe 1 hold", "failsafe 2 hold", "failsafe 3 drop", "failsafe 4 1000"),
        ("lost 0 keep", "lost 1 keep", "lost 2 off", "lost 3 1000"),
        (
            "failsafe_ch1 = hold",
            "failsafe_ch2 = hold",
            "failsafe_ch3 = drop",
            "failsafe_ch4 = 1000",
        ),
        ("lost ch1: keep", "lost ch2: keep", "lost ch3: off", "lost ch4: 1000"),
    ],
)
def test_what_channels_do_on_a_lost_link(rows: tuple[str, ...]) -> None:
    said = read(with_rows(*rows))
    assert [said.get(f"failsafe.channel.{n}") for n in (1, 2, 3, 4)] == [
        "hold",
        "hold",
        "drop",
        "1000",
    ]


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


def test_speeds_of_nobody_are_asked_for() -> None:
    text = with_rows("port 1 receiver 7", "port 2 telemetry 5", "port 3 gps 5")
    assert asked(taught(text), "words port.N.baud") is not None
