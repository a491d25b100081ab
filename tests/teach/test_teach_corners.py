"""Corners of teaching that a dump seldom has, each as its owner would meet it."""

from __future__ import annotations

import pytest

from cfglint.teach import teach

from .samples import REST, asked, craft_of, guess, ranges, read, source, taught, values

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


def with_rows(*rows: str) -> str:
    return PLAIN + "\n".join(rows) + "\n" + REST


def listing(form: str) -> str:
    rows = (row.split(" = ") for row in PLAIN.splitlines())
    return "".join(form.format(name=name, value=value) + "\n" for name, value in rows)


# ---------------------------------------------------------------- shapes


@pytest.mark.parametrize(
    "form",
    [
        "item key={name}: {value}",
        "enter {name} {value}",
        "@{name} = {value}",
        "! {name} = {value}",
        "~{name}~{value}",
    ],
)
def test_odd_forms(form: str) -> None:
    said = read(listing(form) + "@loose\n@tight\n@new\n")
    assert said["motor.signal"] == "dshot600"
    assert said["receiver.link"] == "sbus"


@pytest.mark.parametrize("form", ["{name}({value}", "[{name} {value}]", "{name}) {value}"])
def test_forms_of_nobody_do_no_harm(form: str) -> None:
    said = read(listing(form))
    assert said.get("receiver.link", "sbus") == "sbus"


@pytest.mark.parametrize("mark", ["---", "//-", "##", "--=", "!!"])
def test_comments_with_a_longer_mark(mark: str) -> None:
    text = f"{mark} all of it\n{PLAIN}{mark} the last of it\n{mark} and the end\n"
    assert read(text)["receiver.link"] == "sbus"


def test_marks_that_come_again_and_again_are_no_titles() -> None:
    text = (
        PLAIN.replace("reed", "@wait\nreed").replace("sluice", "@wait\nsluice") + "@wait\n@wait\n"
    )
    assert not taught(text).dialect.data["shape"].get("open")
    assert read(text)["receiver.link"] == "sbus"


def test_numbered_steps_do_no_harm() -> None:
    text = PLAIN + "".join(f"step: {n} of the way\n" for n in range(9))
    assert read(text)["receiver.link"] == "sbus"


@pytest.mark.parametrize("prompt", ["reed:", "fen~", "@>", "mud$"])
def test_prompts_of_names_and_marks(prompt: str) -> None:
    text = "".join(f"{prompt} jot {row}\n" for row in PLAIN.splitlines()) + f"{prompt} keep\n"
    assert read(text)["receiver.link"] == "sbus"


# ---------------------------------------------------------------- identity


def test_the_word_before_a_board_is_not_the_board() -> None:
    text = "# TARGET BOARD EMBER firmware 4.2\n" + PLAIN
    assert read(text)["craft.board"] == "EMBER"


def test_a_flag_is_no_version() -> None:
    text = "enable 4.2\nenable log_on\ndisable tint\n" + PLAIN
    assert "craft.firmware" not in read(text)


# ---------------------------------------------------------------- ranges


def test_two_kinds_of_ranges_are_explained_by_one() -> None:
    text = with_rows(
        "range arm ch5 41 71",
        "range level ch6 4 23",
        "range beeper ch7 23 71",
        "also lights ch8 4 23",
        "also log ch9 41 71",
    )
    draft = taught(text, {"range": "channel 5, 1720 to 2110"})
    assert {row[0]: row[1:] for row in ranges(draft, text)}["log"] == (9, 1720, 2110)
    moved = taught(text, {"range": "channel 6, 1800 to 2200"})
    assert {row[0]: row[1] for row in ranges(moved, text)}["log"] == 10


def test_an_unused_range_says_nothing_of_its_units() -> None:
    text = with_rows(
        "when arm aux1 890-890", "when level aux2 890-1330", "when beeper aux3 1330-2110"
    )
    draft = taught(text, {"range": "channel 5, 890 to 890"})
    assert ("self-level", 6, 890, 1330) in ranges(draft, text)


def test_codes_known_beforehand_exchange_columns() -> None:
    rows = (
        "range 1 21 1720 2110",
        "range 2 25 890 1330",
        "range 3 29 1330 2110",
        "range 3 31 1330 1720",
    )
    text = with_rows(*rows)
    words = {"words mode": "21 = arm, 25 = self-level, 29 = beacon, 31 = lights"}
    assert [row[:2] for row in ranges(taught(text, words), text)] == [
        ("arm", 5),
        ("self-level", 6),
        ("beacon", 7),
        ("lights", 7),
    ]


def test_an_owners_channel_that_fits_as_it_is() -> None:
    rows = (
        "range 12 1 1720 2110",
        "range 3 2 890 1330",
        "range 16 3 1330 2110",
        "range 9 3 1330 1720",
    )
    text = with_rows(*rows)
    answers = {"range": "channel 5, 1720 to 2110", "words mode": "12 = arm, 3 = none, 16 = beacon"}
    assert ranges(taught(text, answers), text) == [
        ("arm", 5, 1720, 2110),
        ("beacon", 7, 1330, 2110),
    ]


def test_rows_that_are_hardly_ranges() -> None:
    text = with_rows("curve 0 10 20 7", "curve 1 30 40 7", "curve 2 60 90 7")
    assert ranges(taught(text), text) == []


def test_the_surer_of_two_words_for_a_mode() -> None:
    text = with_rows(
        "range arm ch5 1720 2110", "range beac ch6 890 1330", "range beacon ch7 1330 2110"
    )
    draft = taught(text)
    assert ("beacon", 7, 1330, 2110) in ranges(draft, text)
    assert ("beacon", 6, 890, 1330) not in ranges(draft, text)
    question = asked(draft, "words mode")
    assert question is not None
    assert "beac" in question.words


def test_channels_counted_from_0_elsewhere_make_a_range_doubtful() -> None:
    rows = [f"ch{n}_{end} = {us}" for n in range(4) for end, us in (("min", 1000), ("max", 2000))]
    text = with_rows(*rows, "range arm ch5 1720 2110", "range level ch6 890 1330")
    draft = taught(text)
    assert [row[1] for row in ranges(draft, text)] == [6, 7]
    assert not any(row.sure for row in craft_of(draft, text).mode_ranges)


def test_modes_numbered_by_their_sections() -> None:
    rows = []
    for mode, channel, ends in ((1, 5, "1720 2110"), (4, 6, "890 1330"), (6, 7, "1330 2110")):
        rows += [f"mode {mode} {{", f"  channel {channel} {ends}", "}"]
    text = with_rows(*rows)
    draft = taught(text, {"words mode": "1 = arm, 4 = self-level, 6 = beacon"})
    assert ranges(draft, text)[0] == ("arm", 5, 1720, 2110)


# ---------------------------------------------------------------- counting


def test_ports_from_2_are_settled_by_others_from_1() -> None:
    ports = ("port 2 receiver 115200", "port 3 telemetry 57600", "port 4 gps 9600")
    text = with_rows(*ports, *(f"serial{n}_invert = no" for n in (1, 2, 3)))
    craft = craft_of(taught(text), text)
    assert craft.get("port.2.functions").sure


def test_lettered_ports_keep_their_letters() -> None:
    ports = ("port A receiver 115200", "port B telemetry 57600", "port C gps 9600")
    text = with_rows(*ports, *(f"serial{n}_invert = no" for n in (0, 1, 2)))
    said = read(text)
    assert said["port.1.functions"] == frozenset({"receiver"})


def test_channels_from_further_on_are_taken_as_counted_from_1() -> None:
    rows = [f"ch{n}_{end} = {us}" for n in (2, 3, 4) for end, us in (("min", 1000), ("max", 2000))]
    draft = taught(with_rows(*rows))
    found = guess(draft, "channel.N.low_us")
    assert found is not None
    assert "counted from 1" in found.reason
    assert values(draft, with_rows(*rows))["channel.2.low_us"] == 1000


# ---------------------------------------------------------------- values


def test_empty_ports_alone() -> None:
    text = with_rows("port 1 0 115200", "port 2 0 57600", "port 3 0 9600")
    said = read(text)
    assert said.get("port.1.functions", frozenset()) == frozenset()


def test_a_family_of_words_that_nobody_knows() -> None:
    text = with_rows("plug1_task = wheesh", "plug2_task = whoosh", "plug3_task = wheesh")
    answers = {"line port.N.functions": "plug1_task"}
    draft = taught(text, answers)
    question = asked(draft, "words port.N.functions")
    assert question is not None
    assert question.words == ("wheesh", "whoosh")
    answers["words port.N.functions"] = "wheesh = gps, whoosh = receiver"
    assert read(text, answers).get("port.1.functions", frozenset({"gps"})) == frozenset({"gps"})


def test_a_warning_and_empty_the_wrong_way_round() -> None:
    text = with_rows("cell_warn_volts = 3.2", "cell_empty_volts = 3.5")
    said = read(text)
    assert said["battery.empty_v"] < said["battery.warn_v"]


@pytest.mark.parametrize(
    ("setting", "name", "answer", "meant"),
    [
        ("loop.rate_hz", "tide.table", "118", 118),
        ("failsafe.delay_s", "reed.height", "9", 9),
        ("motor.pulse_stop_us", "sluice.gap", "0", None),
    ],
)
def test_numbers_that_nobody_would_expect(
    setting: str, name: str, answer: str, meant: float | None
) -> None:
    said = read(PLAIN, {f"line {setting}": name, f"value {setting}": answer})
    assert said.get(setting) == meant or meant is None


def test_two_samples_with_different_codes() -> None:
    one = PLAIN.replace("dshot600", "6")
    two = PLAIN.replace("dshot600", "7")
    files = [source(one, "a.txt"), source(two, "b.txt")]
    draft = teach(files, {"value motor.signal": "dshot600"})
    assert values(draft, one)["motor.signal"] == "dshot600"
    assert values(draft, two).get("motor.signal", "dshot1200") != "dshot600"
    assert asked(draft, "value motor.signal") is None


def test_a_word_for_yes_beside_one_for_something_else() -> None:
    one, two = PLAIN + "log_book = True\n", PLAIN + "log_book = wet\n"
    files = [source(one, "a.txt"), source(two, "b.txt")]
    draft = teach(files, {"line log.on": "log_book", "value log.on": "yes"})
    assert values(draft, one)["log.on"] is True


# ---------------------------------------------------------------- flags by forms and sentences


def test_flags_in_sections_where_any_line_is_a_name_and_a_value() -> None:
    text = (
        listing("{name} {value}")
        + "radio {\n enable invert\n enable half\n link crsf\n}\n"
        + "nest {\n enable tint\n disable log\n}\n"
    )
    draft = taught(text)
    assert values(draft, text)["receiver.link"] in ("sbus", "crsf")
    assert values(draft, text).get("receiver.inverted", True) is True


def test_a_flag_that_is_only_likely() -> None:
    text = listing("{name} {value}") + "enable turned\nenable rx_turn\ndisable esc_talk_back\n"
    draft = taught(text)
    sure = values(draft, text, sure=True)
    assert sure.get("receiver.inverted", True) is True


@pytest.mark.parametrize(
    "sentence",
    [
        "the failsafe lets it lan when the link is lost",
        "of the motor signal one says dsh600 {odd}",
        "{",
        "failsafe action is land or sink or drop",
    ],
)
def test_sentences_are_read_with_care(sentence: str) -> None:
    text = with_rows(sentence, "a b c")
    draft = taught(text)
    assert values(draft, text)["receiver.link"] == "sbus"


def test_values_that_are_more_than_one_word() -> None:
    text = with_rows("failsafe.wait = 0.5 s or so", "video.power = 25 mW 30 mW", "rx.port = port 2")
    craft = craft_of(taught(text), text)
    assert not craft.unreadable
