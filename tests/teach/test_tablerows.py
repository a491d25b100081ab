"""Tables and braces in shapes of our own: what they say is read back from the text itself."""

from __future__ import annotations

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach.measures import Measure, Numbers, likeliest, measures_of, numbers_of
from cfglint.teach.taught import teach


def read(text: str) -> MapReader:
    """A text as the draft reads it that is made from it."""
    source = Source.from_bytes("a.dump.txt", text.encode())
    data = teach([source], "tern").data
    reader = MapReader(source, map_of(data), marks(data))
    reader.read()
    return reader


def test_a_column_is_decimal_or_hexadecimal_by_how_it_is_written() -> None:
    assert numbers_of(["1013", "1507"], comma=False, bare=False) == [Numbers((1013, 1507), 10)]
    assert numbers_of(["0x03F5", "0x05E3"], comma=False, bare=False) == [Numbers((1013, 1507), 16)]
    assert numbers_of(["03F5", "05E3"], comma=False, bare=True)[0].base == 16
    assert numbers_of(["1,5"], comma=False, bare=False) == []


def test_a_measure_is_told_by_steps_by_percent_or_by_a_unit() -> None:
    assert Measure(731, 7, told=True) in measures_of(("a step is 7 us, step 0 is 731 us",), False)
    percent = measures_of(("0 % is 1487 us, 100 % is 1987 us",), False)
    assert Measure(1487, 5, told=True, plain=True) in percent
    assert Measure(0, 0.5, told=True) in measures_of(("pulses in half a microsecond",), False)


def test_numbers_that_are_pulses_as_they_stand_are_no_steps() -> None:
    low, high = Numbers((847.0, 1711.0), 10), Numbers((1293.0, 2119.0), 10)
    found = likeliest(low, high, measures_of(("a step is 2 us, step 0 is 700 us",), False))
    assert found == Measure(0, 1, told=True)


HALVES = """\
lanes, pulses in half a microsecond
lane  low     mid     high    gone
----  ------  ------  ------  ------
1     0x07D9  0x0BB4  0x0F93  0xEEEE
2     0x07E1  0x0BBA  0x0F8D  0xEEEE
3     0x07D1  0x0BB0  0x0F97  0xDDDD
4     0x07CB  0x0BB6  0x0F9B  0x0731
gone: 0xEEEE keep last, 0xDDDD no pulse, else the pulse

plugs
plug  does    speed  wire
----  ------  -----  ----
1     0x0002   1152  -
2     0x0005    384  T
3     0x0008    576  -
does: 0001 receiver  0002 console  0004 telemetry  0008 gps
"""


def test_a_table_in_halves_and_one_with_masks_explained_at_its_foot() -> None:
    values = read(HALVES).values
    assert values["channel.1.low_us"].value == 0x07D9 / 2
    assert values["channel.4.high_us"].value == 0x0F9B / 2
    assert not values["channel.1.low_us"].sure
    assert values["failsafe.channel.1"].value == "hold"
    assert values["failsafe.channel.3"].value == "drop"
    assert values["failsafe.channel.4"].value == "920.5"
    assert values["port.2.functions"].value == frozenset({"receiver", "telemetry"})
    assert values["port.1.baud"].value == 115200


MIDDLES = """\
| mode       | lever | middle ± half width | joined |
|------------|-------|---------------------|--------|
| arm        | 5     | 1913 ± 187          | -      |
| self level | 6     | 1021 ± 211          | or     |
| self level | 7     | 1493 ± 83           | or     |
| beeper     | 8     | 1979 ± 107          | -      |
"""


def test_a_cell_with_a_middle_and_half_a_width_is_two_values() -> None:
    ranges = read(MIDDLES).ranges
    assert [(r.mode, r.channel, r.low_us, r.high_us) for r in ranges] == [
        ("arm", 5, 1726, 2100),
        ("self-level", 6, 810, 1232),
        ("self-level", 7, 1410, 1576),
        ("beacon", 8, 1872, 2086),
    ]


NESTED = """\
tern {
  pack { cells 4; kind lipo; full 4.17 V; warning 3.49 V }
  radio { link crsf; sticks { low 1067 us; high 1913 us } }
  ends { ch 1 1013/1497/1987; ch 2 1009/1503/1991; ch 3 1021/1499/1983 }
  video { frequency 5733 MHz; power 170 mW }
}
"""


def test_what_stands_in_braces_on_one_line_stands_under_their_title() -> None:
    values = read(NESTED).values
    assert values["battery.cells"].value == 4
    assert values["battery.warn_v"].value == 3.49
    assert values["receiver.link"].value == "crsf"
    assert values["stick.high_us"].value == 1913
    assert values["channel.2.mid_us"].value == 1503
    assert values["video.power_mw"].value == 170


def test_a_header_ends_where_another_table_begins() -> None:
    values = read(HALVES).values
    assert "channel.5.low_us" not in values
    assert {name for name in values if name.startswith("channel.")} == {
        f"channel.{n}.{end}_us" for n in (1, 2, 3, 4) for end in ("low", "mid", "high")
    }
