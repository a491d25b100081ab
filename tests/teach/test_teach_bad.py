"""What nothing can be learned from, and what little: a clear Problem, or an honest note."""

from __future__ import annotations

from pathlib import Path

import pytest

from cfglint.dump.source import Source
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.teach import teach
from cfglint.teach.sniff import FEWEST_LINES, MOST_LINES

from .samples import USUAL, asked, craft_of, read, source, taught, values

BAD = Path(__file__).resolve().parent / "bad"


def load(name: str) -> Source:
    return Source.from_bytes(name, (BAD / name).read_bytes())


def problem(*sources: Source) -> str:
    with pytest.raises(Problem) as caught:
        teach(sources)
    assert caught.value.exit == EXIT_UNREAD
    assert caught.value.instead
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("prose.txt", "reads like prose"),
        ("noise.bin", "it is a binary file"),
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
    text = problem(load("mixed.txt"))
    assert "STOW NAME = VALUE;" in text
    assert "from line " in text


def test_words_of_another_language() -> None:
    """Next to nothing is understood: that much is said, and nothing is made up."""
    sample = load("german.txt")
    draft = teach([sample])
    craft = craft_of(draft, sample.text, sample.file)
    sure = {name: value.value for name, value in craft.values.items() if value.sure}
    assert sure.get("craft.firmware", "2.8") == "2.8"
    named = {name for name in sure if not name.startswith("channel.")}
    assert len(named) < 8
    assert not craft.mode_ranges
    assert any("range of a mode" in note for note in draft.notes)
    assert asked(draft, "line motor.signal") is not None
    assert not craft.unreadable
    assert not craft.strays


def test_emptiness() -> None:
    assert "is empty" in problem(source(""))
    assert "is empty" in problem(source(" \n\t\n"))
    assert "has 1 line with something on it" in problem(source("a = 1\n"))


def test_a_file_with_nothing_that_text_has() -> None:
    assert "binary" in problem(source(USUAL + "\0"))
    assert "binary" in problem(source("\x01\x02\x03\x04" * 30 + USUAL))
    # A few marks of a terminal are no reason.
    assert read("\x1b[0m\n\x0c" + USUAL + "rx_link = sbus\n")["receiver.link"] == "sbus"


def test_a_long_file_is_read_as_far_as_a_dump_goes() -> None:
    text = "rx_link = sbus\n" + "".join(f"reed{n}_tint = {n}\n" for n in range(MOST_LINES + 5))
    draft = taught(text)
    assert any(f"has {MOST_LINES + 6} lines" in note for note in draft.notes)
    assert values(draft, text)["receiver.link"] == "sbus"


def test_lines_that_have_nothing_in_common() -> None:
    text = "\n".join(("reed", "two rushes", "a b c", "!", "7", "tern?", "no", "x y", "(z)"))
    draft = taught(text)
    assert values(draft, text) == {}
    assert any("board" in note for note in draft.notes)


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
put log.on yes
put loop.hz 8000
put tint 4
put sedge 9
"""
EQUALS = """\
// other R3 4.0
motor_signal = dshot600
receiver_link = crsf
receiver_port = 3
receiver_baud = 115200
failsafe_action = stop
failsafe_delay = 5
battery_cells = 6
battery_warn = 3.5
logging = on
loop_rate = 4000
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
    assert "two different firmwares" in problem(source(PUT.format("R2") + EQUALS + EQUALS.upper()))
    text = problem(source(PUT.format("R2") * 2, "a.txt"), source(EQUALS, "b.txt"))
    assert text.startswith(("a.txt: ", "b.txt: "))
    assert "two different firmwares" in text


def test_a_table_is_no_second_firmware() -> None:
    rows = "".join(f"channel {n} 1000 1500 2000\nport {n} gps 9600\n" for n in range(1, 12))
    text = PUT.format("R2") + rows
    assert read(text)["channel.3.mid_us"] == 1500


def test_few_lines_of_another_kind_are_none() -> None:
    assert FEWEST_LINES == 8
    text = PUT.format("R2") + "shade = 4\nrush = 9\nmud = 4\n"
    assert read(text)["receiver.link"] == "sbus"
