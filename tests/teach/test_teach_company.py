"""What is understood by the company it keeps: heads of columns, titles, what is left over."""

from __future__ import annotations

import pytest

from cfglint.teach.words import ideas, split

from .samples import REST, USUAL, read, taught, values

HEAD = "# reed control 2.1 board RC-4\n"


def full(*rows: str) -> str:
    """A listing as long as a full one, with some rows."""
    return HEAD + USUAL + "\n".join(rows) + "\n" + REST


# ---------------------------------------------------------------- heads of columns


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


# ---------------------------------------------------------------- tables


def test_a_table_of_uses_and_speeds_is_one_of_ports() -> None:
    said = read(full("hook 1 gps 57600", "hook 2 rx 100000", "hook 3 telemetry 115200"))
    assert said["port.2.functions"] == frozenset({"receiver"})
    assert said["port.3.baud"] == 115200


def test_a_receivers_wire_is_told_by_words_of_its_own() -> None:
    said = read(full("rx_link = sbus", "rx_polarity = inverted", "rx_duplex = half"))
    assert said["receiver.inverted"] is True
    assert said["receiver.half_duplex"] is True


@pytest.mark.parametrize("word", ["true", "false", "off"])
def test_a_plain_flag_is_no_word_of_a_wire(word: str) -> None:
    said = read(full("rx_link = sbus", f"rx_inverted = {word}", "gps_on = true", "led_on = false"))
    assert said.get("receiver.inverted") in (None, word == "true")


SWITCHES = [("arm", 5, 1810, 2170), ("level", 6, 830, 1240), ("beeper", 7, 1810, 2170)]


def test_numbers_are_names_in_a_section_of_channels() -> None:
    rows = ["[channels]", *(f"{n} = 988/1500/2012" for n in range(1, 6)), "[signal lost channels]"]
    rows += [f"{n} = {'hold' if n > 1 else '1000'}" for n in range(1, 6)]
    said = read(HEAD + USUAL + REST + "\n".join(rows) + "\n")
    assert said["channel.3.mid_us"] == 1500
    assert said["failsafe.channel.1"] == "1000"
    assert said["failsafe.channel.2"] == "hold"


# ---------------------------------------------------------------- loss


# ---------------------------------------------------------------- identity


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


# ---------------------------------------------------------------- how sure
