"""What a written number may be, and how well written values fit a setting."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import SETTINGS
from cfglint.teach.fits import (
    Habits,
    habits_of,
    loss_word,
    unquoted,
    value_fits,
)
from cfglint.teach.numbers import BAUDS, SENSES, Reading, baud_readings, numbers, readings

HABITS = Habits("yes", "no", (("yes", "no"),), ",")


def said(codec: dict[str, Any], number: float) -> float:
    """What a codec makes of a number, as a dialect file's keys say it."""
    if "over" in codec:
        return float(codec["over"] / number)
    return float(codec.get("offset", 0) + number * codec.get("scale", 1))


def first(setting: str, *written: str, unit: str = "") -> Reading:
    return readings(setting, written, unit)[0]


# ---------------------------------------------------------------- readings


@pytest.mark.parametrize(
    ("setting", "written", "unit", "neutral"),
    [
        ("battery.full_v", "4.2", "", 4.2),
        ("battery.full_v", "42", "", 4.2),
        ("battery.full_v", "420", "", 4.2),
        ("battery.full_v", "4200", "", 4.2),
        ("battery.full_v", "4200", "mv", 4.2),
        ("battery.empty_v", "330", "hundredths", 3.3),
        ("loop.rate_hz", "6250", "hz", 6250),
        ("loop.rate_hz", "5", "khz", 5000),
        ("loop.rate_hz", "160", "us", 6250),
        ("loop.rate_hz", "250", "period", 4000),
        ("failsafe.delay_s", "0.5", "s", 0.5),
        ("failsafe.delay_s", "500", "ms", 0.5),
        ("failsafe.delay_s", "5", "tenths", 0.5),
        ("failsafe.throttle_us", "25", "percent", 1250),
        ("failsafe.throttle_us", "1250", "us", 1250),
        ("motor.idle_percent", "6.2", "percent", 6.2),
        ("motor.idle_percent", "620", "", 6.2),
        ("motor.pulse_max_us", "20000", "", 2000),
        ("video.frequency_mhz", "5.8", "ghz", 5800),
        ("video.frequency_mhz", "5800", "mhz", 5800),
        ("motor.poles", "14", "", 14),
    ],
)
def test_a_number_is_read_in_the_unit_that_makes_sense(
    setting: str, written: str, unit: str, neutral: float
) -> None:
    assert said(first(setting, written, unit=unit).codec, float(written)) == pytest.approx(neutral)


def test_a_note_says_the_unit() -> None:
    assert first("battery.full_v", "420").note == "written in hundredths"
    assert first("loop.rate_hz", "125", unit="us").note == "written as a period in µs"
    assert first("battery.full_v", "4.2").note == ""


def test_a_number_in_the_unit_of_its_name_is_surer() -> None:
    plain = first("failsafe.delay_s", "500").fit
    assert first("failsafe.delay_s", "500", unit="ms").fit > plain
    other = next(r for r in readings("failsafe.delay_s", ["5"], "ms") if r.codec == {"scale": 0.1})
    assert other.fit < 0.3
    # An `s` at the end of another name may be a plural's.
    assert first("motor.poles", "14", unit="s").fit == first("motor.poles", "14").fit


def test_who_writes_a_point_has_no_need_of_a_smaller_unit() -> None:
    whole = next(r for r in readings("failsafe.delay_s", ["5"]) if r.codec == {"scale": 0.1})
    point = next(r for r in readings("failsafe.delay_s", ["5.0"]) if r.codec == {"scale": 0.1})
    assert point.fit < whole.fit
    khz = next(r for r in readings("loop.rate_hz", ["8.0"]) if r.codec == {"scale": 1000})
    assert khz.fit > 0.8


def test_periods_are_whole_microseconds() -> None:
    over = [r for r in readings("loop.rate_hz", ["312.5"]) if "over" in r.codec]
    even = [r for r in readings("loop.rate_hz", ["312"]) if "over" in r.codec]
    assert over
    assert even
    # 0 µs is no period.
    assert not any("over" in r.codec for r in readings("loop.rate_hz", ["0"]))


def test_what_is_no_number_has_no_reading() -> None:
    assert readings("battery.full_v", ["4.2", "none"]) == []
    assert readings("battery.full_v", []) == []
    assert readings("craft.name", ["4"]) == []
    assert readings("battery.full_v", ["9000000"]) == []
    assert numbers(["1", ' "2.5" ', "-3"]) == [1, 2.5, -3]
    assert numbers(["1e3"]) is None


@given(
    st.sampled_from(sorted(SENSES)),
    st.lists(st.integers(0, 60000).map(str), min_size=1, max_size=4),
    st.sampled_from(["", "us", "ms", "s", "hz", "percent", "mv", "tenths", "period"]),
)
def test_every_reading_is_something_that_can_be_meant(
    setting: str, written: list[str], unit: str
) -> None:
    found = readings(setting, written, unit)
    row = SETTINGS[setting]
    assert row.least is not None
    assert row.most is not None
    for one in found:
        assert 0 <= one.fit <= 1
        assert all(row.least <= said(one.codec, float(text)) <= row.most for text in written)
    assert [one.fit for one in found] == sorted((one.fit for one in found), reverse=True)


# Rates that UARTs are set to everywhere (common practice).
@pytest.mark.parametrize("baud", [9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600])
def test_line_speeds_in_use(baud: int) -> None:
    assert baud in BAUDS
    assert baud_readings([str(baud)])[0].codec == {}
    assert baud_readings([str(baud // 100)])[0].codec == {"scale": 100}


def test_line_speeds_in_hundreds_and_thousands() -> None:
    assert baud_readings(["1152", "96"])[0].codec == {"scale": 100}
    assert baud_readings(["115", "250"])[0].codec == {"scale": 1000}
    assert baud_readings(["115", "250"])[0].fit < baud_readings(["250", "400"])[0].fit
    assert baud_readings([]) == []
    assert baud_readings(["x"]) == []
    assert baud_readings(["77"])[0].codec == {"scale": 1000}
    assert baud_readings(["3"]) == []


# ---------------------------------------------------------------- habits


def test_a_dumps_yes_and_no_are_those_it_uses_most() -> None:
    habits = habits_of(["ON", "OFF", "ON", "1", "0", "1", "0"], ",")
    assert (habits.yes, habits.no) == ("ON", "OFF")
    assert ("1", "0") not in habits.pairs[:1]
    assert habits_of(['"true"', "false"], ",").pairs[0] == ("true", "false")
    silent = habits_of(["12", "reed"], "/")
    assert (silent.yes, silent.no, silent.pairs, silent.divider) == ("yes", "no", (), "/")


def test_quotes_are_taken_off_in_pairs() -> None:
    assert unquoted(' "a b" ') == "a b"
    assert unquoted("'a'") == "a"
    assert unquoted('"a') == '"a'
    assert unquoted('"') == '"'


# ---------------------------------------------------------------- values


def fits(setting: str, *written: str, unit: str = "", habits: Habits = HABITS) -> Any:
    found = value_fits(setting, written, unit, habits)
    return found[0] if found else None


def test_flags() -> None:
    assert fits("log.on", "yes").codec == {}
    assert fits("log.on", "on", "off").codec == {"yes": "on", "no": "off"}
    assert fits("log.on", "1").codec == {"yes": "1", "no": "0"}
    assert fits("log.on", "1").fit < fits("log.on", "on").fit
    assert fits("log.on", "ENABLED", "DISABLED").codec == {"yes": "ENABLED", "no": "DISABLED"}
    assert fits("log.on", "Enabled").codec == {"yes": "Enabled", "no": "Disabled"}
    assert fits("log.on", "eNabled").codec == {"yes": "enabled", "no": "disabled"}
    assert fits("log.on", "perhaps") is None
    # A flag that is set by naming it: `on` and `off` are not its words.
    bare = Habits("yes", "no", (), ",")
    assert fits("log.on", "on", "off", habits=bare).codec == {}


def test_words() -> None:
    one = fits("motor.signal", "DSHOT600")
    assert one.codec["values"]["dshot300"] == "DSHOT300"
    assert one.note == "DSHOT600 is dshot600"
    assert fits("motor.signal", "multishot").codec == {}
    assert fits("motor.signal", "7").opaque == ("7",)
    assert fits("motor.signal", "7").codec == {}
    assert fits("motor.signal", "wheesh").opaque == ("wheesh",)
    assert fits("motor.signal", "***").fit < fits("motor.signal", "wheesh").fit
    mixed = fits("failsafe.action", "land", "wheesh", "122")
    assert mixed.codec["values"]["descend"] == "land"
    assert mixed.opaque == ("wheesh", "122")
    # Two words for one: which is which nobody can tell.
    assert fits("failsafe.action", "land", "sink").opaque == ("sink",)
    assert fits("failsafe.action", "lan").doubt == ("lan",)


def test_lists_of_words() -> None:
    one = fits("port.N.functions", "gps+telemetry", "none", "receiver")
    assert one.codec == {"list": "+", "none": "none"}
    assert fits("port.N.functions", "gps,rx").codec["values"]["receiver"] == "rx"
    assert fits("port.N.functions", "gps wheesh") is not None
    assert fits("port.N.functions", "gps,wheesh,").opaque == ("wheesh",)
    assert fits("port.N.functions", "gps telemetry").codec["list"] == " "
    assert fits("port.N.functions", "wheesh") is None
    assert fits("port.N.functions", "5", "2").opaque == ("1", "2", "4")
    assert fits("port.N.functions", "satel").doubt == ("satel",)


def test_texts() -> None:
    assert fits("craft.name", '"Avocet"').codec == {"quoted": True}
    assert fits("craft.name", "Avocet").codec == {}
    assert fits("craft.name", "12").fit < 0.2
    assert (
        fits("craft.name", "on").fit < fits("craft.name", "?").fit < fits("craft.name", "Reed").fit
    )


def test_stick_orders() -> None:
    assert fits("receiver.channel_order", "AETR").codec == {}
    one = fits("receiver.channel_order", "aetr")
    assert one.codec["values"]["TAER"] == "taer"
    assert len(one.codec["values"]) == len(list(permutations("AETR")))
    assert fits("receiver.channel_order", "AETR9") is None
    assert fits("receiver.channel_order", "3").opaque == ("3",)
    assert fits("receiver.channel_order", "AAAA") is None


def test_ports() -> None:
    assert fits("receiver.port", "2").codec == {}
    assert fits("receiver.port", "0").codec == {"base": 0}
    assert fits("receiver.port", "115200") is None
    assert fits("receiver.port", "1.5") is None
    assert fits("receiver.port", "B").codec["values"]["2"] == "B"
    assert fits("receiver.port", "b").codec["values"]["1"] == "a"
    assert fits("receiver.port", "uart3").codec["values"]["3"] == "uart3"
    assert fits("receiver.port", "uart0").codec["values"]["1"] == "uart0"
    assert fits("receiver.port", "reed3").fit < fits("receiver.port", "uart3").fit
    assert fits("receiver.port", "here and there") is None


def test_line_speeds() -> None:
    assert fits("receiver.baud", "115200").codec == {}
    assert fits("port.N.baud", "1152", "0").codec == {"scale": 100}
    assert fits("port.N.baud", "4", "5").opaque == ("4", "5")
    assert fits("port.N.baud", "77777").fit < 0.3
    assert fits("port.N.baud", "500") is None or fits("port.N.baud", "500").codec
    assert fits("port.N.baud", "333.5") is None
    assert fits("port.N.baud", "fast") is None


def test_channels_on_loss() -> None:
    assert fits("failsafe.channel.N", "hold", "1500").codec == {}
    assert fits("failsafe.channel.N", "keep", "off").codec == {
        "values": {"hold": "keep", "drop": "off"}
    }
    assert fits("failsafe.channel.N", "wheesh") is None
    assert loss_word("-keep_") == "hold"
    assert loss_word("") == ""


def test_cells() -> None:
    assert fits("battery.cells", "4").codec == {}
    assert fits("battery.cells", "40") is None
    assert fits("battery.cells", "4S").codec["values"]["6"] == "6S"
    assert fits("battery.cells", "auto", "4").codec["values"]["0"] == "auto"
    assert fits("battery.cells", "4-cell").codec["values"]["6"] == "6-cell"
    assert fits("battery.cells", "flint").fit < fits("battery.cells", "4-cell").fit
    # One word that nobody knows may say that they are counted; a yes or no says nothing.
    assert fits("battery.cells", "some", "4").doubt == ("some",)
    assert fits("battery.cells", "yes") is None
    assert fits("battery.cells", "some", "other") is None


def test_numbers_as_well() -> None:
    assert fits("battery.full_v", "420").codec == {"scale": 0.01}
    assert fits("battery.full_v", "") is None


@given(st.sampled_from(sorted(SETTINGS)), st.lists(st.text(max_size=12), min_size=1, max_size=4))
def test_any_values_at_all(setting: str, written: list[str]) -> None:
    for one in value_fits(setting, written, "", HABITS):
        assert 0 <= one.fit <= 1
        assert 0 <= one.specific <= 1
