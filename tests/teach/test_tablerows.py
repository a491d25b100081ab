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


UNITS = """\
+------+------------+---------+---------+
| Plug | Does       | Speed   | Flipped |
|      |            | kBd     | Y/N     |
+======+============+=========+=========+
| A    | receiver   |   115.2 | Y       |
| B    | gps        |    57.6 | N       |
| C    | telemetry  |    19.2 | N       |
+------+------------+---------+---------+
"""


def test_units_under_the_words_of_a_header_are_part_of_it() -> None:
    values = read(UNITS).values
    assert values["port.2.functions"].value == frozenset({"gps"})
    assert values["port.3.baud"].value == 19200
    assert values["port.1.inverted"].value is True


LETTERED = """\
lever  low   middle  high
A      1013  1497    1991
B      1009  1503    1987
E      1017  1501    1983
F      1021  1499    1979

switched    lever  from  till  joined
arm         E      1713  2089  either
self level  F       811  1197  each
self level  E      1303  1601  each
beeper      F      1807  2111  either
"""


def test_channels_may_have_letters_and_a_word_nobody_knows_joins_what_the_other_does_not() -> None:
    reader = read(LETTERED)
    assert reader.values["channel.6.low_us"].value == 1021
    assert [(r.mode, r.channel, r.low_us, r.join) for r in reader.ranges] == [
        ("arm", 5, 1713, "any"),
        ("self-level", 6, 811, "all"),
        ("self-level", 5, 1303, "all"),
        ("beacon", 6, 1807, "any"),
    ]
    assert not reader.ranges[1].sure


OFF = """\
; what channels are off by from 1000 / 1500 / 2000 us
  channel  low  middle  high
  1        -27      -3   +19
  2        -13      +4   -11
  3         +8      +9    +2
"""


def test_columns_may_hold_what_pulses_are_off_by() -> None:
    values = read(OFF).values
    assert values["channel.1.low_us"].value == 973
    assert values["channel.2.mid_us"].value == 1504
    assert values["channel.3.high_us"].value == 2002
    assert not values["channel.1.low_us"].sure


LISTED = """\
-- battery (chemistry, cells, full V, empty V) --
LiPo  4  4.17  3.31

-- plugs (number, job, baud, inverted) --
1  gps        57600   N
2  receiver   115200  Y
3  free       9600    N

-- modes (name, channel, low, high) --
arm       5  1711  2087
beeper    7  1313  1609
lights    8   807  1193
"""


def test_a_list_in_a_title_says_what_cells_are() -> None:
    reader = read(LISTED)
    assert reader.values["battery.cells"].value == 4
    assert reader.values["port.2.functions"].value == frozenset({"receiver"})
    assert reader.values["port.1.baud"].value == 57600
    assert [(r.mode, r.channel, r.low_us) for r in reader.ranges] == [
        ("arm", 5, 1711),
        ("beacon", 7, 1313),
        ("lights", 8, 807),
    ]


SQUARE = """\
craft [
  name Dunlin
]
radio [
  link crsf
  sticks [ low 1067 us high 1913 us ]
]
plugs [
  plug 1 [ use gps baud 57600 inverted no ]
  plug 2 [ use receiver baud 115200 inverted yes ]
]
cell [ full 4.17 V warn 3.49 V empty 3.23 V ]
modes [
  mode arm [ ch 5 range (1711 2087) ]
  mode beeper [ ch 7 range (1313 1609) ]
  mode lights [ ch 8 range (807 1193) ]
]
"""


def test_other_brackets_nest_as_braces_do_but_for_those_around_a_list() -> None:
    reader = read(SQUARE)
    assert reader.values["stick.high_us"].value == 1913
    assert reader.values["port.2.functions"].value == frozenset({"receiver"})
    assert reader.values["port.1.baud"].value == 57600
    assert reader.values["battery.warn_v"].value == 3.49
    assert [(r.mode, r.channel, r.high_us) for r in reader.ranges] == [
        ("arm", 5, 2087),
        ("beacon", 7, 1609),
        ("lights", 8, 1193),
    ]
