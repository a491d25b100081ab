"""Values: one written value becomes a neutral one, or says what would have been understood."""

from __future__ import annotations

import math
from typing import Any

import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cfglint.craft.settings import SETTINGS, setting
from cfglint.dialect.mapping import codec_of
from cfglint.dialect.values import PERIODS, UNITS, Bad, decode, number_at, numeral


def value(name: str, written: str, marks: dict[str, Any] | None = None, **entry: Any) -> Any:
    """The neutral value of a written one, by the keys of an entry in a dialect's file."""
    row = setting(name)
    return decode(codec_of(entry, marks or {}, row), row, written)


@pytest.mark.parametrize(
    ("name", "written", "marks", "entry", "neutral"),
    [
        ("motor.idle_percent", "4.2", {}, {}, 4.2),
        ("motor.idle_percent", "4,2", {"decimal": ","}, {}, 4.2),
        ("motor.idle_percent", "45", {}, {"scale": 0.1}, 4.5),
        ("motor.idle_percent", "45 permille", {}, {}, 4.5),
        ("motor.idle_percent", "7,4 %", {"decimal": ","}, {}, 7.4),
        ("motor.pulse_stop_us", "1 078 µs", {"thousands": " "}, {}, 1078),
        ("motor.pulse_stop_us", "1,078", {"thousands": ","}, {}, 1078),
        ("motor.pulse_stop_us", "03DF", {"base": 16}, {}, 991),
        ("motor.pulse_stop_us", "045Bh", {"base": 16}, {}, 1115),
        ("motor.pulse_stop_us", "0x3DF", {}, {}, 991),
        ("motor.pulse_stop_us", "$3DF", {}, {}, 991),
        ("motor.pulse_stop_us", "1.021ms", {}, {}, 1021),
        ("channel.N.low_us", "-62", {}, {"offset": 1500, "scale": 8}, 1004),
        ("channel.N.low_us", "\u221262", {}, {"offset": 1500, "scale": 8}, 1004),
        *(
            ("channel.N.low_us", f"{sign}62", {}, {"offset": 1500, "scale": 8}, 1004)
            for sign in "\u2010\u2011\u2012\u2013\ufe63\uff0d"
        ),
        ("loop.rate_hz", "160us", {}, {}, 6250),
        ("loop.rate_hz", "0,25 ms", {"decimal": ","}, {}, 4000),
        ("loop.rate_hz", "160", {}, {"over": 1_000_000}, 6250),
        ("loop.rate_hz", "4.9 kHz", {}, {}, 4900),
        ("receiver.baud", "115,2 kBd", {"decimal": ","}, {}, 115_200),
        ("port.N.baud", "2400", {"base": 16}, {"scale": 100}, 921_600),
        ("port.N.baud", "7h", {}, {"words": {"57600": "7h"}}, 57_600),
        ("failsafe.delay_s", "1397 ms", {}, {}, 1.397),
        ("video.frequency_mhz", "5.782 GHz", {}, {}, 5782),
        ("receiver.port", "C", {}, {"words": {"3": "C"}}, 3),
        ("receiver.port", "2", {}, {"first": 0}, 3),
        ("battery.cells", "auto", {}, {"words": {"0": "auto"}}, 0),
        ("battery.cells", "4", {}, {"words": {"0": "auto"}}, 4),
        ("receiver.inverted", "turned", {}, {"words": {"yes": "turned", "no": "straight"}}, True),
        ("receiver.inverted", "000A", {"base": 16}, {"bit": 3}, True),
        ("receiver.inverted", "000A", {"base": 16}, {"bit": 2}, False),
        (
            "port.N.functions",
            "nothing",
            {"none": "nothing"},
            {"words": {"gps": "gps"}},
            frozenset(),
        ),
        ("port.N.functions", "12", {}, {"bits": {"gps": 3, "receiver": 2}}, {"gps", "receiver"}),
        ("failsafe.channel.N", "1021 µs", {}, {"words": {"hold": "keep"}}, "1021"),
        ("failsafe.channel.N", "keep", {}, {"words": {"hold": "keep"}}, "hold"),
        ("failsafe.channel.N", "FFFFh", {"base": 16}, {"words": {"hold": "FFFFh"}}, "hold"),
        ("failsafe.channel.N", "–", {"none": "–"}, {"words": {"hold": "keep"}}, None),
        ("receiver.channel_order", "roll, pitch, throttle, yaw", {}, {}, "AETR"),
        ("receiver.channel_order", "TAER/K1/K2", {}, {}, "TAER/K1/K2"),
        ("craft.name", '"Old \\"Hen\\""', {}, {}, 'Old "Hen"'),
    ],
)
def test_a_written_value(
    name: str, written: str, marks: dict[str, Any], entry: dict[str, Any], neutral: Any
) -> None:
    assert value(name, written, marks, **entry) == (
        pytest.approx(neutral) if isinstance(neutral, float | int) else neutral
    )


@pytest.mark.parametrize(
    ("name", "written", "entry"),
    [
        ("motor.idle_percent", "4,2", {}),  # nothing says what a comma is
        ("motor.idle_percent", "4 V", {}),  # a unit that it cannot have
        ("motor.idle_percent", "400", {}),
        ("motor.poles", "12.5", {}),
        ("port.N.baud", "9", {"words": {"57600": "7", "9600": "2"}}),  # a code that is not listed
        ("receiver.inverted", "maybe", {}),
        ("receiver.link", "carrier pigeon", {}),
        ("port.N.functions", "9", {"bits": {"gps": 7}}),
        ("port.N.functions", "gps, lasers", {}),
        ("failsafe.channel.N", "7", {"words": {"hold": "1", "drop": "2"}}),
        ("failsafe.channel.N", "40000", {}),
        ("receiver.channel_order", "AETX", {}),
        ("receiver.channel_order", "AETR sticks", {}),
        ("loop.rate_hz", "0", {"over": 1_000_000}),
        ("motor.pulse_stop_us", "9" * 400, {}),
    ],
)
def test_what_means_nothing_says_what_would(name: str, written: str, entry: dict[str, Any]) -> None:
    with pytest.raises(Bad) as bad:
        value(name, written, **entry)
    assert bad.value.valid


#: What units are called in a reference library, where it has them.
REGISTRY = pint.UnitRegistry()
REFERENCE = {
    "µs": "microsecond", "s": "second", "Hz": "hertz", "MHz": "megahertz", "V": "volt",
    "mW": "milliwatt",
}  # fmt: skip
SAME = {"us": "µs", "μs": "µs", "usec": "µs", "msec": "ms", "sec": "s", "secs": "s", "ds": "0.1 s",
        "cs": "0.01 s",
        "khz": "kHz", "mhz": "MHz", "ghz": "GHz", "hz": "Hz", "mv": "mV",
        "cv": "0.01 V",
        "dv": "0.1 V", "v": "V", "mw": "mW", "w": "W", "volts": "volt", "millivolt": "mV",
        "milliwatt": "mW", "milliseconds": "ms", "microseconds": "µs", "min": "minute"}  # fmt: skip


@pytest.mark.parametrize(
    ("neutral", "unit"),
    [
        (neutral, unit)
        for neutral in REFERENCE
        for unit in UNITS[neutral]
        if unit in SAME or unit in ("ms", "s", "ns", "volt", "second", "seconds")
    ],
)
def test_units_are_as_large_as_a_reference_library_has_them(neutral: str, unit: str) -> None:
    # Reference: pint's registry of units.
    one = REGISTRY(SAME.get(unit, unit))
    quantity = REGISTRY.Quantity(1, one) if isinstance(one, str) else one
    assert quantity.to(REFERENCE[neutral]).magnitude == pytest.approx(UNITS[neutral][unit])


@pytest.mark.parametrize("unit", sorted(PERIODS))
def test_periods_are_reciprocals(unit: str) -> None:
    quantity = REGISTRY(SAME.get(unit, unit))
    assert (1 / quantity).to("hertz").magnitude == pytest.approx(PERIODS[unit])


@given(st.integers(0, 99_999), st.integers(0, 3), st.sampled_from(["", "-", "\u2212"]))
def test_a_number_is_read_alike_whatever_its_decimal_sign(
    whole: int, places: int, sign: str
) -> None:
    number = whole / 10**places
    row = setting("motor.idle_percent")
    for marks, mark in (({}, "."), ({"decimal": ","}, ",")):
        written = sign + f"{number:.{places}f}".replace(".", mark)
        found = numeral(written, codec_of({}, marks, row))
        assert found is not None
        assert math.isclose(found[0], -number if sign else number)


@given(st.integers(0, 0xFFFFFF), st.sampled_from(["{:X}", "{:04x}", "0x{:X}", "{:05X}h"]))
def test_hexadecimal_numbers(number: int, form: str) -> None:
    found = numeral(form.format(number), codec_of({"base": 16}, {}, setting("motor.poles")))
    assert found == (number, "")


@given(st.text(max_size=24), st.sampled_from(sorted(SETTINGS)), st.sampled_from(["", ",", " "]))
def test_any_text_is_read_or_refused(written: str, name: str, mark: str) -> None:
    assume("\n" not in written)
    marks = {"decimal": ","} if mark == "," else {"thousands": mark}
    codec = codec_of({}, marks, setting(name))
    try:
        found = decode(codec, setting(name), written)
    except Bad:
        return
    assert not isinstance(found, float) or math.isfinite(found)


@given(st.text(alphabet="0123456789., %µsmkHzV-", max_size=30), st.sampled_from(sorted(SETTINGS)))
def test_a_number_that_is_found_in_a_line_can_be_read(line: str, name: str) -> None:
    row = setting(name)
    assume(row.kind == "number")
    codec = codec_of({}, {}, row)
    for start in range(len(line)):
        end = number_at(codec, row, line, start, len(line))
        assert end == -1 or start < end <= len(line)
        if end > 0:
            found = numeral(line[start:end], codec)
            assert found is not None
            assert not found[1] or found[1].lower() in UNITS[row.unit] or found[1] in PERIODS
