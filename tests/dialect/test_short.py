"""A line that breaks off is told as such, with what it lacks, in every dialect's own way."""

from __future__ import annotations

import pytest

from cfglint.dialect.load import bundled
from cfglint.dialect.reading import Reader
from cfglint.dump.source import Source


def lacks(dialect: str, line: str) -> list[str]:
    reader = Reader(Source.from_text("x", line + "\n"), bundled(dialect))
    return [stray.lacks for stray in reader.craft().strays]


@pytest.mark.parametrize(
    ("dialect", "line", "lacking"),
    [
        ("plain", "channel 3 spans 1000 1500", "channel.3.high_us"),
        ("plain", "channel 3 spans 1000", "channel.3.mid_us and channel.3.high_us"),
        ("plain", "use arm while channel 5 in 1705..", "its high end"),
        ("plain", "use arm while channel", "its channel, its low end and its high end"),
        ("plain", "let motor-signal be", "motor.signal"),
        ("plain", "port 2 carries", "port.2.functions"),
        ("plain", "output 2 drives", "output.2.place"),
        ("terse", "ch:3:990:1500", "channel.3.high_us"),
        ("terse", "vl:11", "motor.signal"),
        # The second port is number 12 here.
        ("terse", "pt:12:64", "port.2.baud"),
        ("blocks", "turns:", "loop.rate_hz"),
    ],
)
def test_what_a_line_lacks(dialect: str, line: str, lacking: str) -> None:
    assert lacks(dialect, line) == [lacking]


@pytest.mark.parametrize(
    "line", ["let motor-sgnal be dshot300", "quack", "channel three spans 1000", "let", "-- port 2"]
)
def test_what_goes_another_way_does_not_break_off(line: str) -> None:
    assert set(lacks("plain", line)) <= {""}


@pytest.mark.parametrize("dialect", ["plain", "terse", "blocks"])
def test_no_whole_line_lacks_anything(dialect: str) -> None:
    """Every line of the demo craft, and every one of its beginnings, comes to no crash."""
    from pathlib import Path

    name = {"plain": "avocet", "terse": "curlew", "blocks": "egret"}[dialect]
    folder = Path(__file__).parents[2] / "fixtures" / "saltmarsh" / "dumps"
    text = (folder / f"{name}.dump.txt").read_text()
    assert not any(lacks(dialect, text))
    for line in text.splitlines()[::9]:
        for end in range(1, len(line), 3):
            lacks(dialect, line[:end])
