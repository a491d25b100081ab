"""The table of neutral settings: the words in which every dialect is understood.

Documentation, type checks and "did you mean" are all derived from this one table.  A name
with ``N`` in it is a family: ``channel.N.low_us`` stands for ``channel.1.low_us`` and so on.
"""

from __future__ import annotations

from typing import NamedTuple

#: What kinds a setting's value can be: Python ``str`` for word and text, ``frozenset[str]``
#: for words, ``bool`` for flag, ``int`` for count, ``float`` for number.
WORD, WORDS, FLAG, COUNT, NUMBER, TEXT = "word", "words", "flag", "count", "number", "text"


class Setting(NamedTuple):
    """One neutral setting.

    ``least`` and ``most`` bound what can be meant at all (inclusive, in ``unit``), not what is
    wise: rules judge that.
    """

    name: str
    kind: str
    unit: str
    words: tuple[str, ...]
    least: float | None
    most: float | None
    about: str
    #: Of a text: the only words that it can be, beside numbers; empty for any text.
    texts: tuple[str, ...] = ()


MODES: dict[str, str] = {
    "arm": "motors may turn",
    "arm-permit": "a second switch that must be on before arm takes effect",
    "self-right": "roll an inverted craft back over by reversing motors (turtle mode)",
    "self-level": "craft levels itself when sticks are let go",
    "idle-authority": "stabilising stays alive at zero throttle",
    "beacon": "sound to find a craft in the grass",
    "motor-stop": "motors stand still while throttle is at its lowest",
    "return-home": "craft flies back to where it was armed",
    "hold-height": "craft keeps its height",
    "hold-position": "craft keeps its place",
    "log": "flight log is written",
    "lights": "lights are on",
    "video-power": "video sender is on",
    "lost-link": "failsafe is played as if the link were lost",
}

SIGNALS = (
    "brushed",
    "dshot150",
    "dshot300",
    "dshot600",
    "dshot1200",
    "multishot",
    "oneshot42",
    "oneshot125",
    "servo-pwm",
)
LINKS = ("sbus", "crsf", "crsf-one-wire", "ibus", "dsm", "srxl2", "sumd", "fport", "ppm")
FAILSAFE_ACTIONS = ("stop", "descend", "return-home", "hold-last", "none")
CHEMISTRIES = ("lipo", "lihv", "li-ion", "life")
PORT_FUNCTIONS = (
    "receiver",
    "telemetry",
    "esc-telemetry",
    "gps",
    "video-control",
    "camera-control",
    "log",
    "console",
    "lights",
    "rangefinder",
)
#: How the arms stand and what is on each: across corners (`x`) or one arm ahead (`plus`); `y6` has
#: two motors on each of three arms, `x8` two on each of four.
FRAMES = ("tri", "quad-x", "quad-plus", "hex-x", "hex-plus", "y6", "octo-x", "octo-plus", "x8")
#: Where a motor sits, by the next point of eight round the craft, its nose ahead; where two share
#: an arm, which of them.
PLACES = (
    "front",
    "front-right",
    "right",
    "rear-right",
    "rear",
    "rear-left",
    "left",
    "front-left",
    "front-right-upper",
    "front-right-lower",
    "rear-right-upper",
    "rear-right-lower",
    "rear-left-upper",
    "rear-left-lower",
    "front-left-upper",
    "front-left-lower",
    "rear-upper",
    "rear-lower",
)
#: How the front pair of propellers turns: where the blades are foremost they move towards the
#: craft's middle line, or away from it.  Inwards the one at the left turns clockwise, from above.
FRONT_PAIRS = ("inwards", "outwards")
TURNS = ("clockwise", "counter-clockwise")


def _word(name: str, words: tuple[str, ...], about: str) -> Setting:
    return Setting(name, WORD, "", words, None, None, about)


def _words(name: str, words: tuple[str, ...], about: str) -> Setting:
    return Setting(name, WORDS, "", words, None, None, about)


def _flag(name: str, about: str) -> Setting:
    return Setting(name, FLAG, "", (), None, None, about)


def _count(name: str, unit: str, least: float, most: float, about: str) -> Setting:
    return Setting(name, COUNT, unit, (), least, most, about)


def _number(name: str, unit: str, least: float, most: float, about: str) -> Setting:
    return Setting(name, NUMBER, unit, (), least, most, about)


def _text(name: str, about: str, texts: tuple[str, ...] = ()) -> Setting:
    return Setting(name, TEXT, "", (), None, None, about, texts)


_ROWS = (
    _text("craft.name", "what the craft is called"),
    _text("craft.board", "the controller board's target name"),
    _text("craft.firmware", "the controller firmware's version"),
    _word("motor.signal", SIGNALS, "signal from the controller to the ESCs"),
    _flag("motor.two_way", "ESCs answer with motor speed on the signal wire"),
    _number("motor.idle_percent", "%", 0, 100, "least drive of an armed motor"),
    _number("motor.pulse_stop_us", "µs", 0, 3000, "pulse that keeps a motor still"),
    _number("motor.pulse_min_us", "µs", 0, 3000, "pulse of the lowest throttle"),
    _number("motor.pulse_max_us", "µs", 0, 3000, "pulse of full throttle"),
    _number("motor.rate_hz", "Hz", 1, 100_000, "commands a second when not tied to the loop"),
    _count("motor.poles", "poles", 2, 60, "magnets in one motor's bell, for speed from telemetry"),
    _number("loop.rate_hz", "Hz", 1, 64_000, "control loops a second"),
    _word("receiver.link", LINKS, "how the receiver speaks to the controller"),
    _count("receiver.port", "port", 1, 99, "port the receiver is wired to"),
    _number("receiver.baud", "baud", 1, 10_000_000, "line speed of the receiver's port"),
    _flag("receiver.inverted", "the inversion flag, as configured (see the dialect's sense)"),
    _flag("receiver.half_duplex", "receiver and controller share one wire"),
    _text("receiver.channel_order", "order of the four sticks, e.g. AETR"),
    _number("channel.N.low_us", "µs", 0, 3000, "pulse taken for the channel's low end"),
    _number("channel.N.mid_us", "µs", 0, 3000, "pulse taken for the channel's centre"),
    _number("channel.N.high_us", "µs", 0, 3000, "pulse taken for the channel's high end"),
    _number("stick.low_us", "µs", 0, 3000, "below this a stick counts as low"),
    _number("stick.high_us", "µs", 0, 3000, "above this a stick counts as high"),
    _number("stick.centre_us", "µs", 0, 3000, "where a stick rests"),
    _number("stick.dead_band_us", "µs", 0, 500, "how far from centre still counts as centre"),
    _word("failsafe.action", FAILSAFE_ACTIONS, "what the craft does when the link is lost"),
    _number("failsafe.delay_s", "s", 0, 300, "time from losing the link to acting"),
    _number("failsafe.throttle_us", "µs", 0, 3000, "throttle during a failsafe descent"),
    _text(
        "failsafe.channel.N",
        "what a channel is set to on lost link: `hold`, `drop`, or a pulse in µs",
        ("hold", "drop"),
    ),
    _word("battery.chemistry", CHEMISTRIES, "what the cells are made of"),
    _count("battery.cells", "cells", 0, 14, "cells in series; 0 = counted at power-up"),
    _number("battery.full_v", "V", 0, 6, "one full cell"),
    _number("battery.warn_v", "V", 0, 6, "one cell at the first warning"),
    _number("battery.empty_v", "V", 0, 6, "one empty cell"),
    _words("port.N.functions", PORT_FUNCTIONS, "what a port carries"),
    _number("port.N.baud", "baud", 1, 10_000_000, "line speed of a port"),
    _flag("port.N.inverted", "the port's own inversion, apart from the receiver's flag"),
    _flag("port.N.half_duplex", "the port sends and receives on one wire"),
    _number("video.frequency_mhz", "MHz", 0, 7000, "video sender's frequency"),
    _number("video.power_mw", "mW", 0, 10_000, "video sender's power"),
    _number("self-right.power_percent", "%", 0, 100, "drive of the reversed motors"),
    _flag("log.on", "a flight log is kept"),
    _number("board.roll_deg", "deg", -360, 360, "how far the board is rolled against the frame"),
    _number("board.pitch_deg", "deg", -360, 360, "how far the board is pitched against the frame"),
    _number("board.yaw_deg", "deg", -360, 360, "how far the board is turned against the frame"),
    _word("frame.kind", FRAMES, "how the arms stand and how many motors are on them"),
    _count("frame.motors", "motors", 1, 16, "motors that the controller drives"),
    _word("output.N.place", PLACES, "which motor a motor output drives, by where it sits"),
    _word("propellers.front_pair", FRONT_PAIRS, "how the front pair of propellers turns"),
    _flag("sensor.accelerometer", "the accelerometer is used: what is level"),
    _flag("sensor.barometer", "the barometer is used: how high the craft is"),
    _flag("home.needs_fix", "arming waits until satellites have told where home is"),
)

SETTINGS: dict[str, Setting] = {row.name: row for row in _ROWS}


#: Names as the table has them, for "did you mean".
FAMILIES_BY_NAME = tuple(SETTINGS)


def family(name: str) -> str:
    """The table's name for a setting: ``channel.3.low_us`` → ``channel.N.low_us``."""
    return ".".join("N" if part.isdigit() else part for part in name.split("."))


def setting(name: str) -> Setting:
    """The row of a setting, given its own name or its family's.

    Raises KeyError for a name that the table does not have.
    """
    return SETTINGS[name] if name in SETTINGS else SETTINGS[family(name)]


def show_number(value: float) -> str:
    """A number as it is written in lines: no exponent, no needless zeros."""
    return str(int(value)) if value == int(value) else f"{value:.9f}".rstrip("0").rstrip(".")
