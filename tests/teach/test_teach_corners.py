"""Corners of teaching that a dump seldom has, each as its owner would meet it."""

from __future__ import annotations

import pytest

from .samples import REST, craft_of, ranges, read, taught, values

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


@pytest.mark.parametrize("form", ["{name}({value}", "[{name} {value}]", "{name}) {value}"])
def test_forms_of_nobody_do_no_harm(form: str) -> None:
    said = read(listing(form))
    assert said.get("receiver.link", "sbus") == "sbus"


@pytest.mark.parametrize("mark", ["---", "//-", "##", "--=", "!!"])
def test_comments_with_a_longer_mark(mark: str) -> None:
    text = f"{mark} all of it\n{PLAIN}{mark} the last of it\n{mark} and the end\n"
    assert read(text)["receiver.link"] == "sbus"


def test_numbered_steps_do_no_harm() -> None:
    text = PLAIN + "".join(f"step: {n} of the way\n" for n in range(9))
    assert read(text)["receiver.link"] == "sbus"


# ---------------------------------------------------------------- identity


def test_the_word_before_a_board_is_not_the_board() -> None:
    text = "# TARGET BOARD EMBER firmware 9.7\n" + PLAIN
    assert read(text)["craft.board"] == "EMBER"


# ---------------------------------------------------------------- ranges


def test_rows_that_are_hardly_ranges() -> None:
    text = with_rows("curve 0 10 20 7", "curve 1 30 40 7", "curve 2 60 90 7")
    assert ranges(taught(text), text) == []


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


# ---------------------------------------------------------------- values


def test_empty_ports_alone() -> None:
    text = with_rows("port 1 0 115200", "port 2 0 57600", "port 3 0 9600")
    said = read(text)
    assert said.get("port.1.functions", frozenset()) == frozenset()


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
