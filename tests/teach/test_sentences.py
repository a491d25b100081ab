"""Teaching from dumps that are told in sentences, or are forms that somebody filled in."""

from __future__ import annotations

import tomllib

import pytest

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source
from cfglint.teach.bars import bar_rows
from cfglint.teach.clauses import cardinal, index_of, is_sentence, wired
from cfglint.teach.saying import saying
from cfglint.teach.taught import teach

TOLD = """\
Hello from the mudflats. I answer to the name "Curlew Three" and sit on
a Driftwood Mini board, running software 3.17.

Port one serves the ground station at 57600 baud. Port two serves the
receiver at 420000 baud over a single wire. Port three serves GPS at
38400 baud. Port four serves nothing at all.

The radio talks CRSF and comes in on port two at 420000 baud. Its
signal is not inverted. Sticks arrive in the order AETR.
A stick below 1084 is down, and one above 1916 is up. A stick left
alone stands at 1503, and a wander of 7 is forgiven.
Channel one goes from 988 by way of 1502 to 2011.
Channel two goes from 992 by way of 1499 to 2007.
Channel three goes from 985 by way of 1504 to 2013.
Channel four goes from 991 by way of 1497 to 2004.

The propellers may spin as long as channel five is anywhere from 1710
to 2140. The craft keeps itself level as long as channel six is
anywhere from 815 to 1290, or channel seven is anywhere from 1830 to
2090. It heads for home as long as channel eight is anywhere from 1690
to 2120. It shouts so that it can be found whenever it heads for home.

If the link stays lost for 1.7 seconds, the craft shall sink to the ground.
Meanwhile channel one stays as it was, channel two falls silent,
channel three is set to 1037 and channel four stays as it was.

The ESCs are driven by DShot300 and report their speed back. A motor
that is armed never gets less than 5.3 percent. Every bell has twelve
magnets. The control loop runs 3800 times a second.
The pack is LiPo with four cells in series. A cell is full at 4.19
volts, starts to warn at 3.53 volts and is empty at 3.31 volts.
Pictures leave on 5771 MHz with 190 milliwatts. No flight log is kept.
"""

FORM = """\
SALTMARSH CRAFT CARD                                     filled in at the bench

A   THE CRAFT
    known as  [ Dunlin ]      board  [ Sluice Two ]      software  [ 6.02 ]
B   MOTORS
    talk to the motors by   [ ] brushed   [x] DShot600   [ ] OneShot125
    motors tell their speed back   [x] yes   [ ] no
    least drive once armed  [ 4.4 ] %      magnets in a bell  [ 14 ]
C   RADIO
    the radio speaks   [ ] SBUS   [x] CRSF   [ ] PPM
    signal upside down   [ ] yes   [x] no
    a stick is low under  [ 1092 ] us      a stick is high over  [ 1908 ] us
D   OUTLETS    rcv tel esc gps vid cam log con lmp rng     baud      inv   1 wire
  outlet 1      .   .   .   .   .   .   .   x   .   .      115200    [ ]   [ ]
  outlet 2      x   x   .   .   .   .   .   .   .   .      420000    [ ]   [x]
  outlet 3      .   .   .   x   .   .   .   .   .   .      38400     [x]   [ ]
E   SWITCHES: every cell is 36 us wide, the first begins at 780 us, 40 cells
  ch 5   motors may turn   |..........................############..|
  ch 6   keeps level       |...###########..........................|
  ch 7   flies home        |.............................#########..|
  ch 8   lamps lit         |....................################....|
F   LINK LOST
  channel 1    [x] stays as it was   [ ] no pulse   [ ] set to ______ us
  channel 2    [ ] stays as it was   [ ] no pulse   [x] set to __1213__ us
  channel 3    [ ] stays as it was   [x] no pulse   [ ] set to ______ us
"""


def read(text: str) -> MapReader:
    given = Source.from_bytes("a.dump.txt", text.encode())
    data = tomllib.loads(teach([given], "mine").text)
    reader = MapReader(given, map_of(data), marks(data))
    reader.read()
    return reader


@pytest.fixture(scope="module")
def told() -> MapReader:
    return read(TOLD)


@pytest.fixture(scope="module")
def form() -> MapReader:
    return read(FORM)


def test_sentences_tell_families(told: MapReader) -> None:
    values = {name: value.value for name, value in told.values.items()}
    assert values["channel.3.low_us"] == 985
    assert values["channel.4.mid_us"] == 1497
    assert values["port.3.baud"] == 38400
    assert values["port.2.functions"] == frozenset({"receiver"})
    assert values["port.2.half_duplex"] is True
    assert values["failsafe.channel.1"] == "hold"
    assert values["failsafe.channel.2"] == "drop"
    assert values["failsafe.channel.3"] == "1037"


def test_sentences_tell_ranges_and_links(told: MapReader) -> None:
    ranges = {(one.mode, one.channel, one.low_us, one.high_us, one.join) for one in told.ranges}
    assert ranges == {
        ("arm", 5, 1710, 2140, "any"),
        ("self-level", 6, 815, 1290, "any"),
        ("self-level", 7, 1830, 2090, "any"),
        ("return-home", 8, 1690, 2120, "any"),
    }
    assert [(one.mode, one.follows) for one in told.links] == [("beacon", "return-home")]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("motor.idle_percent", 5.3),
        ("motor.poles", 12),
        ("motor.signal", "dshot300"),
        ("motor.two_way", True),
        ("loop.rate_hz", 3800),
        ("receiver.link", "crsf"),
        ("receiver.port", 2),
        ("receiver.inverted", False),
        ("receiver.channel_order", "AETR"),
        ("stick.low_us", 1084),
        ("stick.high_us", 1916),
        ("stick.centre_us", 1503),
        ("stick.dead_band_us", 7),
        ("failsafe.delay_s", 1.7),
        ("failsafe.action", "descend"),
        ("battery.cells", 4),
        ("battery.full_v", 4.19),
        ("battery.warn_v", 3.53),
        ("battery.empty_v", 3.31),
        ("video.frequency_mhz", 5771),
        ("video.power_mw", 190),
        ("log.on", False),
    ],
)
def test_a_sentence_tells_a_setting_which_is_unconfirmed(
    told: MapReader, name: str, value: object
) -> None:
    assert told.values[name].value == value
    assert not told.values[name].sure


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("motor.signal", "dshot600"),
        ("motor.two_way", True),
        ("motor.idle_percent", 4.4),
        ("motor.poles", 14),
        ("receiver.link", "crsf"),
        ("receiver.inverted", False),
        ("stick.low_us", 1092),
        ("stick.high_us", 1908),
        ("port.1.functions", frozenset({"console"})),
        ("port.2.functions", frozenset({"receiver", "telemetry"})),
        ("port.2.half_duplex", True),
        ("port.3.inverted", True),
        ("port.3.baud", 38400),
        ("failsafe.channel.1", "hold"),
        ("failsafe.channel.2", "1213"),
        ("failsafe.channel.3", "drop"),
    ],
)
def test_a_form_tells_a_setting(form: MapReader, name: str, value: object) -> None:
    assert form.values[name].value == value


def test_bars_are_ranges_on_the_scale_that_a_note_tells(form: MapReader) -> None:
    ranges = {(one.mode, one.channel, one.low_us, one.high_us) for one in form.ranges}
    assert ranges == {
        ("arm", 5, 780 + 26 * 36, 780 + 38 * 36),
        ("self-level", 6, 780 + 3 * 36, 780 + 14 * 36),
        ("return-home", 7, 780 + 29 * 36, 780 + 38 * 36),
        ("lights", 8, 780 + 20 * 36, 780 + 36 * 36),
    }


def test_bars_without_a_scale_are_not_read() -> None:
    assert not bar_rows([]).items


def test_rows_of_names_and_values_are_no_sentences() -> None:
    assert is_sentence("Each bell holds the fourteen magnets of the motor")
    assert not is_sentence("motor idle percent    4.5")
    assert not is_sentence("set the_motor = 4")


def test_words_that_count() -> None:
    assert index_of("third", True) == 3
    assert index_of("7", False) == 7
    assert index_of("seven", True) == 0
    assert cardinal("twenty-four") == 24


def test_wires_and_signals_of_a_port() -> None:
    found = wired("Port 2 serves the log, inverted and on a single wire", 21)
    assert {(flag, on) for flag, on, *_ in found} == {("inverted", True), ("half", True)}


@pytest.mark.parametrize(
    ("text", "mode"),
    [
        ("the motors are awake", "arm"),
        ("a craft on its back rights itself", "self-right"),
        ("motors stand still at low throttle", "motor-stop"),
        ("it holds its height", "hold-height"),
        ("losing the link is rehearsed", "lost-link"),
    ],
)
def test_modes_in_free_words(text: str, mode: str) -> None:
    assert saying("mode", text)[0] == mode
