"""What nothing can be learned from, and what little: a clear Problem, or an honest draft."""

from __future__ import annotations

from pathlib import Path

import pytest

from cfglint.dump.source import Source
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.teach.sniff import FEWEST_LINES
from cfglint.teach.whole import whole

from .samples import USUAL, craft_of, read, source, taught, values

BAD = Path(__file__).resolve().parent / "bad"


def load(name: str) -> Source:
    return Source.from_bytes(name, (BAD / name).read_bytes())


def problem(*sources: Source) -> str:
    with pytest.raises(Problem) as caught:
        whole(sources, "mine")
    assert caught.value.exit == EXIT_UNREAD
    assert caught.value.instead
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("prose.txt", "reads like prose"),
        ("three-lines.txt", "has 3 lines with something on them"),
        ("mixed.txt", "two different firmwares"),
    ],
)
def test_what_is_no_dump(name: str, why: str) -> None:
    text = problem(load(name))
    assert text.startswith(f"{name}: ")
    assert why in text
    assert "give" in text


def test_both_firmwares_are_told_by_their_lines() -> None:
    assert "lines up to 55 are written in one way, from 56 on in another" in problem(
        load("mixed.txt")
    )


def test_words_of_another_language_are_understood() -> None:
    sample = load("german.txt")
    made = whole([sample], "mine")
    found = craft_of(made, sample.text, sample.file)
    assert found.values["motor.idle_percent"].value == 6.3
    assert not found.unreadable
    plain = whole([sample], "mine", "en")
    assert len(craft_of(plain, sample.text, sample.file).values) < len(found.values)


def test_two_languages_in_one_dump_do_no_harm() -> None:
    text = "rx_link = sbus\nReglersprache = dshot600\nmagnets = 14\nLeerlauf = 6\n" + USUAL
    said = values(taught(text), text, sure=True)
    assert said["receiver.link"] == "sbus"
    assert said.get("motor.signal", "dshot600") == "dshot600"


@pytest.mark.parametrize("cut", [0.3, 0.6, 0.95])
def test_a_dump_that_is_cut_off_is_read_as_far_as_it_goes(cut: float) -> None:
    whole_text = (BAD.parents[2] / "fixtures/newcomer/turnstone.dump.txt").read_text("utf-8")
    text = whole_text[: int(cut * len(whole_text))]
    said, full = values(taught(text), text, sure=True), values(taught(whole_text), whole_text)
    # What stands in the last line may be half a word.
    last = craft_of(taught(text), text).values
    lines = len(text.splitlines())
    got = {name: value for name, value in said.items() if last[name].span.line < lines}  # type: ignore[union-attr]
    assert len(got) > 5
    assert got.items() <= full.items()


def test_emptiness() -> None:
    assert "is empty" in problem(source(""))
    assert "is empty" in problem(source(" \n\t\n"))
    assert "has 1 line with something on it" in problem(source("a = 1\n"))


def test_a_file_with_nothing_that_text_has() -> None:
    assert "binary" in problem(source(USUAL + "\0"))
    assert "binary" in problem(source("\x01\x02\x03\x04" * 30 + USUAL))
    # A few marks of a terminal are no reason.
    assert read("\x1b[0m\n\x0c" + USUAL + "rx_link = sbus\n")["receiver.link"] == "sbus"


def test_lines_that_have_nothing_in_common() -> None:
    text = "\n".join(("reed", "two rushes", "a b c", "!", "7", "tern?", "no", "x y", "(z)"))
    assert values(taught(text), text) == {}


# ---------------------------------------------------------------- several dumps


PUT = """\
# reed {} 2.1 all of it
put esc.protocol dshot600
put rx.link sbus
put rx.port 2
put rx.invert on
put failsafe.action land
put failsafe.delay 0.5
put battery.cells 4
put battery.full 4.2
put battery.warn 3.6
put battery.empty 3.3
put log.on yes
put loop.hz 4000
put magnets 14
put tint 4
put sedge 9
"""
EQUALS = """\
// other R3 4.0
motor_signal = dshot600
motor_poles = 12
receiver_link = crsf
receiver_port = 3
receiver_baud = 115200
failsafe_action = stop
failsafe_pause = 5
battery_cells = 6
battery_warn = 3.5
battery_full = 4.2
battery_empty = 3.3
logging = on
loop_rate_hz = 4000
shade = 4
rush = 9
"""


def test_two_dumps_one_after_the_other() -> None:
    one, two = PUT.format("R2"), PUT.format("R2").replace("sbus", "crsf")
    draft = taught(one + two)
    assert any("holds 2 dumps" in note for note in draft.notes)
    assert values(draft, one)["receiver.link"] == "sbus"
    assert values(draft, two).get("receiver.link", "crsf") == "crsf"


def test_two_firmwares_in_one_file_and_in_two() -> None:
    assert "two different firmwares" in problem(source(PUT.format("R2") + EQUALS))
    text = problem(source(PUT.format("R2"), "a.txt"), source(EQUALS, "b.txt"))
    assert text.startswith("b.txt: ")
    assert "its lines are written in another way than those of a.txt" in text


def test_a_table_is_no_second_firmware() -> None:
    rows = "".join(f"channel {n} 1000 1500 2000\nport {n} gps 9600\n" for n in range(1, 12))
    text = PUT.format("R2") + rows
    assert read(text)["channel.3.mid_us"] == 1500


def test_few_lines_of_another_kind_are_none() -> None:
    assert FEWEST_LINES == 8
    text = PUT.format("R2") + "shade = 4\nrush = 9\nmud = 4\n"
    assert read(text)["receiver.link"] == "sbus"
