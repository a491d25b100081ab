"""What is understood by the company it keeps: heads of columns, titles, what is left over."""

from __future__ import annotations

import pytest

from cfglint.errors import Problem
from cfglint.teach.cells import cells_of
from cfglint.teach.headers import header_of
from cfglint.teach.legends import legends
from cfglint.teach.lines import Row
from cfglint.teach.words import ideas, split

from .samples import REST, USUAL, asked, craft_of, guess, ranges, read, taught, unread, values

HEAD = "# reed control 2.1 board RC-4\n"


def full(*rows: str) -> str:
    """A listing as long as a full one, with some rows."""
    return HEAD + USUAL + "\n".join(rows) + "\n" + REST


# ---------------------------------------------------------------- heads of columns


@pytest.mark.parametrize(
    ("line", "comment", "heads"),
    [
        (
            "u 1 gps 57600 0",
            "u n use baud inv",
            {2: "number", 4: "functions", 6: "baud", 8: "invert"},
        ),
        (
            "u 1 gps 57600 0",
            "n use baud inv",
            {2: "number", 4: "functions", 6: "baud", 8: "invert"},
        ),
        ("u 1 gps 57600 0", "u n use baud inv: 1 is turned", {6: "baud", 8: "invert"}),
        ("u 1 gps 57600 0", "the reeds are high this year", {}),
        ("u 1 gps 57600 0", "", {}),
        ("u 1", "u n", {}),
        ("c ch5 988 2012", "c channel low high", {4: "channel", 6: "low", 8: "high"}),
    ],
)
def test_a_comment_names_the_columns_beneath(
    line: str, comment: str, heads: dict[int, str]
) -> None:
    found = header_of(cells_of(line), [comment])
    assert bool(found) == bool(heads)
    assert all(idea in found[at] for at, idea in heads.items())


def test_the_nearest_comment_that_names_the_columns_does() -> None:
    found = header_of(cells_of("u 1 gps 57600"), ["as flown in May", "u port use speed"])
    assert "port" in found[2]
    assert "baud" in found[6]


def test_headed_ports_have_their_flags() -> None:
    text = full(
        "# u n fn baud inv 1w   fn bits: 1 rx, 2 telemetry, 4 gps",
        "u 0 1 100000 1 0", "u 1 2 57600 0 1", "u 2 6 57600 0 0",
    )  # fmt: skip
    said = read(text)
    assert said["port.1.functions"] == frozenset({"receiver"})
    assert said["port.3.functions"] == frozenset({"telemetry", "gps"})
    assert (said["port.1.inverted"], said["port.2.inverted"]) == (True, False)
    assert (said["port.1.half_duplex"], said["port.2.half_duplex"]) == (False, True)


def test_headed_channels_say_what_they_do_on_loss() -> None:
    rows = [f"c {n} 988 1500 2012 {'hold' if n else 'drop'}" for n in range(4)]
    text = full("# c ch lo mid hi loss", *rows)
    said = values(taught(text), text, sure=True)
    assert said["failsafe.channel.1"] == "drop"
    assert said["failsafe.channel.4"] == "hold"
    assert said["channel.4.high_us"] == 2012


def test_a_last_word_without_a_head_is_marked() -> None:
    rows = [f"axis {n} 988 1500 2012 {'hold' if n > 1 else '1000'}" for n in range(1, 6)]
    text = full(*rows)
    draft = taught(text)
    assert "failsafe.channel.2" in values(draft, text, sure=False)
    assert "channel.2.low_us" in values(draft, text, sure=True)


# ---------------------------------------------------------------- tables


def test_a_table_of_uses_and_speeds_is_one_of_ports() -> None:
    said = read(full("hook 1 gps 57600", "hook 2 rx 100000", "hook 3 telemetry 115200"))
    assert said["port.2.functions"] == frozenset({"receiver"})
    assert said["port.3.baud"] == 115200


@pytest.mark.parametrize("form", ["port[{}].{}={}", "ser.{}.{}: {}", "uart {} {} {}"])
def test_numbered_lines_are_told_by_the_word_that_comes_again(form: str) -> None:
    rows = [form.format(n, "use", use) for n, use in ((1, "gps"), (2, "rx"), (3, "video"))]
    rows += [form.format(n, "speed", baud) for n, baud in ((1, 57600), (2, 100000), (3, 9600))]
    said = read(full(*(f"jot reed_{n} = {n}" for n in "abcdefgh"), *rows))
    assert said["port.2.functions"] == frozenset({"receiver"})
    assert said["port.3.baud"] == 9600


@pytest.mark.parametrize(
    ("duplex", "expected"), [(("FULL", "HALF"), (False, True)), (("two", "one"), (False, True))]
)
def test_wires_are_told_by_words_of_their_own(
    duplex: tuple[str, str], expected: tuple[bool, bool]
) -> None:
    rows = [
        f"PORT {n} USE={use} BAUD=57600 POL={pol} DUPLEX={wires}"
        for n, use, pol, wires in (
            (1, "GPS", "NORMAL", duplex[0]),
            (2, "RX", "INVERTED", duplex[1]),
            (3, "TLM", "NORMAL", duplex[0]),
        )
    ]
    said = read(full(*rows))
    assert (said["port.1.half_duplex"], said["port.2.half_duplex"]) == expected
    assert (said["port.1.inverted"], said["port.2.inverted"]) == (False, True)


def test_a_receivers_wire_is_told_by_words_of_its_own() -> None:
    said = read(full("rx_link = sbus", "rx_polarity = inverted", "rx_duplex = half"))
    assert said["receiver.inverted"] is True
    assert said["receiver.half_duplex"] is True


@pytest.mark.parametrize("word", ["true", "false", "off"])
def test_a_plain_flag_is_no_word_of_a_wire(word: str) -> None:
    said = read(full("rx_link = sbus", f"rx_inverted = {word}", "gps_on = true", "led_on = false"))
    assert said.get("receiver.inverted") in (None, word == "true")


def test_a_list_with_a_word_that_nobody_knows_is_no_table_of_its_own() -> None:
    uses = ("telemetry", "rx", "gps", "zorker + console")
    text = full(*(f"plug{n}_use = {use}" for n, use in enumerate(uses, 1)))
    question = asked(taught(text), "words port.N.functions")
    assert question is not None
    assert question.words == ("zorker",)
    said = read(text, {"words port.N.functions": "zorker = video-control"})
    assert said["port.4.functions"] == frozenset({"video-control", "console"})
    assert said["port.1.functions"] == frozenset({"telemetry"})


SWITCHES = [("arm", 5, 1810, 2170), ("level", 6, 830, 1240), ("beeper", 7, 1810, 2170)]


def test_a_word_that_nobody_knows_stands_among_modes() -> None:
    rows = [f"{mode} = ch{ch}:{low}-{high}" for mode, ch, low, high in SWITCHES]
    text = full(*rows, "zorkish = ch6:1240-2170")
    draft = taught(text)
    question = asked(draft, "words mode")
    assert question is not None
    assert "zorkish" in question.words
    later = taught(text, {"words mode": "zorkish = idle-authority"})
    assert ("idle-authority", 6, 1240, 2170) in ranges(later, text)


def test_a_mode_that_ends_in_a_digit_stands_among_others() -> None:
    rows = [f"m {mode} {ch} {low} {high}" for mode, ch, low, high in SWITCHES]
    text = full(*rows, "m keep0 6 1240 2170")
    told = taught(
        text, {"words mode": "keep0 = idle-authority", "range": "channel 5, 1810 to 2170"}
    )
    assert ("idle-authority", 6, 1240, 2170) in ranges(told, text)
    assert unread(craft_of(told, text)) == []


@pytest.mark.parametrize(
    "form",
    [
        "mode({!r}, {}, {}, {})",
        '{{"mode": "{}", "channel": {}, "from": {}, "to": {}}}',
        "use{} {} {} {}",
        "{} ch{} {}..{}",
    ],
)
def test_ranges_in_many_shapes(form: str) -> None:
    more = [*SWITCHES, ("turtle", 8, 1810, 2170), ("leds", 9, 1240, 2170)]
    text = full(*(form.format(*row).replace("'", '"') for row in more))
    told = taught(text, {"range": "channel 5, 1810 to 2170"})
    assert ("self-level", 6, 830, 1240) in ranges(told, text)
    assert len(ranges(told, text)) == 5


def test_percent_below_nought_keeps_its_sign() -> None:
    rows = ["mode arm ch5 50..100", "mode level ch6 -100..-45", "mode beeper ch7 40..100"]
    text = full(*rows)
    told = taught(text, {"range": "channel 5, 1750 to 2000"})
    assert ("self-level", 6, 1000, 1275) in ranges(told, text)


@pytest.mark.parametrize("head", ["when", "zork"])
@pytest.mark.parametrize(("opening", "closing"), [("[{} {}]", ""), ("begin {} {}", "end")])
def test_titles_that_differ_in_a_mode_are_a_table(head: str, opening: str, closing: str) -> None:
    rows = [
        row
        for mode, ch, low, high in SWITCHES
        for row in (opening.format(head, mode), f"on {ch} {low} {high}", closing)
        if row
    ]
    text = HEAD + USUAL + "\n".join(rows) + "\n"
    told = taught(text, {"range": "channel 5, 1810 to 2170"})
    assert ("self-level", 6, 830, 1240) in ranges(told, text)


def test_the_column_whose_numbers_are_explained_is_the_mode() -> None:
    codes = (("arm", 6), ("level", 2), ("beeper", 9), ("turtle", 3))
    legend = "# modes: " + ", ".join(f"{code} {mode}" for mode, code in codes)
    rows = [f"mode {n} {code} {5 + n} 1810 2170" for n, (_, code) in enumerate(codes)]
    text = full(legend, *rows)
    told = taught(text, {"range": "channel 5, 1810 to 2170"})
    found = {mode: channel for mode, channel, _, _ in ranges(told, text)}
    assert found == {"arm": 5, "self-level": 6, "beacon": 7, "self-right": 8}


def test_numbers_are_names_in_a_section_of_channels() -> None:
    rows = ["[channels]", *(f"{n} = 988/1500/2012" for n in range(1, 6)), "[signal lost channels]"]
    rows += [f"{n} = {'hold' if n > 1 else '1000'}" for n in range(1, 6)]
    said = read(HEAD + USUAL + REST + "\n".join(rows) + "\n")
    assert said["channel.3.mid_us"] == 1500
    assert said["failsafe.channel.1"] == "1000"
    assert said["failsafe.channel.2"] == "hold"


# ---------------------------------------------------------------- loss


def test_words_of_loss_that_nobody_knows_are_asked_for() -> None:
    rows = [f"loss {n} {('zilch', '1500', 'hold')[n % 3]}" for n in range(1, 7)]
    text = full(*rows)
    question = asked(taught(text), "words failsafe.channel.N")
    assert question is not None
    assert question.words == ("zilch",)
    assert "failsafe.channel.3" not in read(text)
    told = {"words failsafe.channel.N": "zilch = drop"}
    assert read(text, told)["failsafe.channel.3"] == "drop"
    assert (
        read(text, {"words failsafe.channel.N": "zilch = freeze"})["failsafe.channel.3"] == "hold"
    )
    with pytest.raises(Problem, match="no value of failsafe"):
        taught(text, {"words failsafe.channel.N": "zilch = zork"})


def test_words_of_loss_in_names_are_asked_for() -> None:
    rows = [f"fs_ch{n} = {('zilch', '1500', 'keep')[n % 3]}" for n in range(1, 7)]
    text = full(*rows)
    assert read(text)["failsafe.channel.2"] == "hold"
    assert "failsafe.channel.3" not in read(text)
    assert asked(taught(text), "words failsafe.channel.N") is not None


def test_one_line_is_no_table_of_what_channels_do() -> None:
    said = read(full("loss_keep 30", *(f"rxlost {n} {'cut' if n else '1850'}" for n in range(5))))
    assert said["failsafe.channel.1"] == "1850"
    assert said["failsafe.channel.2"] == "drop"


# ---------------------------------------------------------------- identity


@pytest.mark.parametrize(
    ("head", "board", "firmware"),
    [
        ("hello from mudlark 3.2 on PUDDLES", "PUDDLES", "3.2"),
        ("# mudlark 0.9.4 on ml-7a", "ml-7a", "0.9.4"),
        ("mossy v0.31 brd mk2", "mk2", "0.31"),
        ('% quill firmware 0.9.14, board "QUILL-PICO"', "QUILL-PICO", "0.9.14"),
        ("[about]\ncraft=Shelduck\nboard=TL-A3\nversion=5.0.1", "TL-A3", "5.0.1"),
        (
            'controller {\nboard_name = "Chalk-Two"\nfirmware_version = v1.14\n}',
            "Chalk-Two",
            "1.14",
        ),
    ],
)
def test_a_title_says_what_it_does_not_name(head: str, board: str, firmware: str) -> None:
    rows = (
        f"{a}{b} = {3 + at}" for at, (a, b) in enumerate(zip("abcdefgh", "klmnopqr", strict=True))
    )
    said = read(f"{head}\n" + "\n".join(rows) + "\n")
    assert said["craft.board"] == board
    assert said["craft.firmware"] == firmware
    if "Shelduck" in head:
        assert said["craft.name"] == "Shelduck"


def test_what_the_title_calls_the_craft_is_not_asked_of_other_lines() -> None:
    text = "[ident]\ncallsign=Dunlin\nboard=TL-A3\nversion=5.0.1\n[air]\nairframe=QUAD-X\n" + REST
    draft = taught(text)
    assert read(text)["craft.name"] == "Dunlin"
    assert guess(draft, "craft.name") is None


# ---------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("name", "idea"),
    [
        ("waiting", "delay"),
        ("idling", "idle"),
        ("stopped", "stop"),
        ("dly", "delay"),
        ("typ", "kind"),
    ],
)
def test_words_of_ours_with_an_ending_or_without_letters(name: str, idea: str) -> None:
    assert idea in dict(ideas(name))


def test_units_are_no_words_of_their_own() -> None:
    assert split("CellFull_mV") == ("cell", "full", "mv")
    assert split("videoMHz") == ("video", "mhz")
    assert split("rateKHz")[0] == "rate"


def test_short_for_words_of_several_subjects_is_less_sure() -> None:
    # `batt` is a battery's whatever follows, `mini` may be anything small.
    assert all(weight < 0.85 for _, weight in ideas("regu"))


@pytest.mark.parametrize(
    ("row", "name", "value"),
    [
        ("motor_pole_pairs = 7", "motor.poles", 14),
        ("motor_idle = 0.062", "motor.idle_percent", 6.2),
        ("cfg_loop = 5k", "loop.rate_hz", 5000),
        ("turtle_power = 0.6", "self-right.power_percent", 60),
    ],
)
def test_numbers_that_are_written_another_way(row: str, name: str, value: float) -> None:
    assert read(full(row))[name] == pytest.approx(value)


def test_words_of_modes_speak_of_settings_as_well() -> None:
    rows = [f"switch {mode} ch{ch} {low} {high}" for mode, ch, low, high in SWITCHES]
    text = full(*rows, "switch rec ch8 1810 2170", "rec-on = yes", "gps-on = no")
    assert read(text)["log.on"] is True


def test_what_is_left_explains_a_strange_word_and_is_marked() -> None:
    text = full("cell_full = 42", "cell_zork = 35", "cell_empty = 33")
    draft = taught(text)
    assert values(draft, text, sure=False)["battery.warn_v"] == pytest.approx(3.5)
    # Of two strange words neither is explained.
    two = full("cell_full = 42", "cell_zork = 35", "cell_blurp = 36", "cell_empty = 33")
    assert "battery.warn_v" not in read(two)


def test_legends_are_read_to_the_end_of_a_comment() -> None:
    rows = [
        Row("comment", "a", 1, "", "", "Signal: 0 brushed, 1 pwm, 2 one shot 125, 3=1shot42 *)"),
        Row("comment", "a", 3, "", "", "modes: 3 stabilise at idle, 4 inverted recovery, 0 arm *)"),
    ]
    found = legends(rows)
    # `1shot42` begins with no code of its own.
    assert found["motor.signal"].get("1") in (None, "servo-pwm")
    assert found["mode"] == {"0": "arm", "3": "idle-authority", "4": "self-right"}


# ---------------------------------------------------------------- how sure


def test_ports_of_a_short_dump_may_begin_with_another() -> None:
    """A short dump may be one of changes: from where its ports are counted it does not show."""
    rows = ["port 1 gps 57600", "port 2 rx 100000", "port 3 telemetry 57600"]
    short = HEAD + USUAL + "\n".join(rows) + "\n"
    assert not craft_of(taught(short), short).get("port.1.functions").sure
    assert craft_of(taught(full(*rows)), full(*rows)).get("port.1.functions").sure


def test_ports_named_from_0_count_the_receivers_as_well() -> None:
    rows = [f"uart{n}_use = {use}" for n, use in enumerate(("console", "gps", "rx", "video"))]
    said = read(full(*rows, "rx_uart = uart2"))
    assert said["receiver.port"] == 3


def test_a_receivers_port_is_as_sure_as_its_counting() -> None:
    rows = ["uart2 = telemetry|57600", "uart3 = gps|9600", "uart5 = rx|100000"]
    text = full(*rows, "rx_port = 5")
    assert "receiver.port" in values(taught(text), text, sure=False)


def test_what_is_set_more_than_once_is_marked() -> None:
    text = full("motor_idle = 55", "motor_idle = 48")
    draft = taught(text)
    assert "motor.idle_percent" not in values(draft, text, sure=True)
    found = guess(draft, "motor.idle_percent")
    assert found is not None
    assert "set more than once" in found.reason


@pytest.mark.parametrize(
    ("written", "sure"), [("dshot600", True), ("DS-600", True), ("pwm", False), ("brush", False)]
)
def test_a_signal_is_sure_by_its_own_name_or_rate_alone(written: str, sure: bool) -> None:
    text = full(f"motor_signal = {written}")
    assert ("motor.signal" in values(taught(text), text, sure=True)) == sure


def test_a_mode_by_two_words_of_the_trade_is_confirmed() -> None:
    rows = [f"mode {mode} ch{ch} {low} {high}" for mode, ch, low, high in SWITCHES]
    draft = taught(full(*rows, "mode holdbaro ch8 1810 2170"))
    question = asked(draft, "words mode")
    assert question is not None
    assert question.guess == "holdbaro = hold-height"


@pytest.mark.parametrize(("signal", "asks"), [("dshot300", False), ("multishot", True)])
def test_a_digital_signals_rate_is_not_asked_for(signal: str, asks: bool) -> None:
    """A digital signal goes out with each loop; a pulse has a rate of its own (common practice)."""
    draft = taught(full(f"motor_signal = {signal}", "spool_time = 400"))
    assert bool(asked(draft, "line motor.rate_hz")) == asks


def test_what_the_receivers_port_says_is_not_asked_for() -> None:
    ports = ("port 1 gps 57600", "port 2 rx 100000", "port 3 telemetry 115200")
    assert asked(taught(full("rx_link = sbus")), "line receiver.baud") is not None
    assert asked(taught(full("rx_link = sbus", *ports)), "line receiver.baud") is None
    # A line that looks like it is shown all the same.
    text = full("rx_link = sbus", *ports, "rx_zork_baud = 100000")
    assert any(one.setting == "receiver.baud" for one in taught(text).questions)
