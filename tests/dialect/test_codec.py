"""Single values: what is a number, and both ways for all kinds."""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cfglint.craft.settings import SETTINGS, Setting, setting
from cfglint.dialect.codec import Bad, Codec, decode, encode, quote, unquote

POLES, RATE = setting("motor.poles"), setting("loop.rate_hz")
ANY = Setting("any", "number", "", (), -1e30, 1e30, "")


@pytest.mark.parametrize(
    "written",
    [
        "1e5", "1E5", "nan", "NaN", "inf", "-inf", "infinity", "١٢٣", "¹²", "４", "1_000", "1,5",
        "0x10", "", "+", "-", ".", "--5", "+-5", "5-", "1.2.3", "1 0", " 5", "5 ", "½", "on",
        "9" * 41,        "9" * 5000, "0." + "0" * 5000 + "1", "\x005",
    ],
    ids=range(30),
)  # fmt: skip
@pytest.mark.parametrize("codec", [Codec(), Codec(scale=0.01), Codec(over=1e6), Codec(base=0)])
def test_no_number(written: str, codec: Codec) -> None:
    for row in (POLES, RATE, ANY):
        with pytest.raises(Bad) as caught:
            decode(codec, row, written)
        assert caught.value.valid == "a number"


@pytest.mark.parametrize(
    ("written", "value"),
    [("5", 5), ("+5", 5), ("-5", -5), ("05", 5), ("5.", 5), (".5", 0.5), ("-0.25", -0.25),
     ('"7"', 7), ("9" * 20, 1e20)],
)  # fmt: skip
def test_numbers(written: str, value: float) -> None:
    assert decode(Codec(), ANY, written) == value


@pytest.mark.parametrize(
    ("row", "written", "valid"),
    [
        (POLES, "1", "2 to 60 poles"),
        (POLES, "61", "2 to 60 poles"),
        (POLES, "14.5", "a whole number, 2 to 60 poles"),
        (POLES, "9" * 40, "2 to 60 poles"),
        (RATE, "0", "1 to 64000 Hz"),
        (RATE, "-8000", "1 to 64000 Hz"),
        (setting("battery.cells"), "15", "0 to 14 cells"),
    ],
)
def test_numbers_that_cannot_be_meant(row: Setting, written: str, valid: str) -> None:
    with pytest.raises(Bad) as caught:
        decode(Codec(), row, written)
    assert caught.value.valid == valid


@given(st.text(max_size=30))
def test_quotes_come_off_as_they_went_on(text: str) -> None:
    assert unquote(quote(text)) == text


@given(st.text(st.characters(exclude_characters="\r\n"), max_size=30))
def test_a_text_is_written_so_that_it_can_be_read(text: str) -> None:
    row = setting("craft.name")
    for codec in (Codec(), Codec(quoted=True)):
        assert decode(codec, row, encode(codec, row, text)) == text


@given(st.text(max_size=20))
def test_nothing_but_bad_comes_of_any_text(written: str) -> None:
    codecs = (
        Codec(), Codec(scale=3, offset=2), Codec(over=5), Codec(ignore_case=True, divider=" "),
        Codec(mask={"gps": 2}), Codec(values={"1": "x"}, back={"x": "1"}),
    )  # fmt: skip
    for row in SETTINGS.values():
        for codec in codecs:
            with suppress(Bad):
                decode(codec, row, written)


@given(
    value=st.integers(0, 300_000).map(lambda n: n / 100),
    scale=st.sampled_from([1, 0.1, 0.01, 0.001, 25, 2.5, 1000]),
    offset=st.sampled_from([0, 870, -1]),
    base=st.integers(0, 3),
)
def test_scaled_numbers_both_ways(value: float, scale: float, offset: float, base: int) -> None:
    codec = Codec(scale=scale, offset=offset, base=base)
    back = decode(codec, ANY, encode(codec, ANY, value))
    assert math.isclose(back, value, rel_tol=1e-9, abs_tol=1e-6)


@given(st.integers(1, 64_000))
def test_rates_as_periods_both_ways(rate: int) -> None:
    codec = Codec(over=1_000_000)
    assert decode(codec, RATE, encode(codec, RATE, float(rate))) == rate


@given(st.integers(16, 1_000_000))
def test_periods_as_rates_both_ways(period: int) -> None:
    codec = Codec(over=1_000_000)
    assert encode(codec, RATE, decode(codec, RATE, str(period))) == str(period)


@given(value=st.floats(-1e6, 1e6), decimals=st.integers(0, 3))
def test_digits_are_never_quietly_dropped(value: float, decimals: int) -> None:
    codec = Codec(decimals=decimals)
    assume(abs(value) > 1e-3)
    try:
        written = encode(codec, ANY, value)
    except Bad:
        assert abs(round(value, decimals) - value) > 1e-7
    else:
        assert math.isclose(decode(codec, ANY, written), value, rel_tol=1e-6, abs_tol=1e-5)
        assert len(written.partition(".")[2]) <= decimals


@pytest.mark.parametrize(
    ("codec", "name", "value"),
    [
        (Codec(over=1e6), "failsafe.delay_s", 0.0),
        (Codec(scale=2), "failsafe.channel.3", "hold"),
        (Codec(scale=2), "failsafe.channel.3", "nan"),
        (Codec(scale=2), "failsafe.channel.3", "1e999"),
        (Codec(mask={"gps": 1}), "port.1.functions", frozenset({"log"})),
        (Codec(values={"sbus": "1"}), "receiver.link", "crsf"),
        (Codec(values={"4": "x"}), "battery.cells", 5),
    ],
)
def test_what_has_no_word(codec: Codec, name: str, value: object) -> None:
    with pytest.raises(Bad):
        encode(codec, setting(name), value)


def test_two_words_for_one_bit() -> None:
    codec = Codec(mask={"gps": 1, "log": 1})
    assert decode(codec, setting("port.N.functions"), "2") == frozenset({"gps", "log"})


@pytest.mark.parametrize("rate", [123456.789123, 7e9])
def test_a_rate_that_no_period_of_nine_decimals_gives(rate: float) -> None:
    with pytest.raises(Bad, match="no exact number"):
        encode(Codec(over=1.0), ANY, rate)


def test_numbers_that_are_coded_or_scaled() -> None:
    codec = Codec(values={"460": "a"}, back={"a": "460"}, scale=10)
    assert [encode(codec, ANY, value) for value in (460.0, 490.0)] == ["a", "49"]
