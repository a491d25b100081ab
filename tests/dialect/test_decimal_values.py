"""A scaled number is read as the decimal that is written, not as a neighbour of it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import setting
from cfglint.dialect.codec import Codec, decode


@pytest.mark.parametrize(
    ("scale", "written", "value"), [(0.001, "300", 0.3), (0.1, "3", 0.3), (1, "0.3", 0.3)]
)
def test_three_tenths_are_three_tenths(scale: float, written: str, value: float) -> None:
    assert decode(Codec(scale=scale), setting("failsafe.delay_s"), written) == value


@given(st.integers(0, 6000))
def test_millivolts_are_read_as_volts_of_three_places(millivolts: int) -> None:
    # float() of the decimal's own text is the nearest double to it (IEEE 754).
    text = f"{millivolts // 1000}.{millivolts % 1000:03d}"
    assert decode(Codec(scale=0.001), setting("battery.full_v"), str(millivolts)) == float(text)
    assert decode(Codec(), setting("battery.full_v"), text) == float(text)
