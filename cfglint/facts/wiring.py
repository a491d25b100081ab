"""What is said to be soldered to a port, in people's words, and what its wires are used for.

All of it is common practice.  Names of functions are those of the settings table.
"""

from __future__ import annotations

import re

#: Function of a port → phrases by which people name what is soldered to one that carries it.  Of
#: phrases that overlap the longer one is meant: a satellite receiver is no radio receiver.
PHRASES: dict[str, tuple[str, ...]] = {
    "receiver": ("receiver", "radio receiver", "rx", "control link", "radio link"),
    "telemetry": ("telemetry", "telemetry radio", "telemetry sender", "modem"),
    "esc-telemetry": ("esc telemetry", "esc", "escs", "motor telemetry", "telemetry of the escs"),
    "gps": ("gps", "gnss", "satellite receiver", "satellite navigation", "satellites", "sat nav"),
    "video-control": ("video sender", "video transmitter", "video control", "video", "vtx"),
    "camera-control": ("camera", "camera control"),
    "log": ("log", "recorder", "log recorder", "flight recorder", "logger", "data logger"),
    "console": ("console", "bench console", "computer", "terminal", "usb"),
    "lights": ("lamp", "lamps", "lamp string", "light", "lights", "led", "leds", "led strip"),
    "rangefinder": ("rangefinder", "range finder", "lidar", "sonar", "height finder"),
}
NOTHING = ("nothing", "none", "no wire", "empty", "free", "unused", "not used", "bare pads")
#: What may also be a second receiver of the radio link, where that has such.
SATELLITE = "satellite receiver"
SATELLITE_LINKS = ("dsm", "srxl2")

_FUNCTION_OF = {phrase: function for function, all_ in PHRASES.items() for phrase in all_}
_WORDS = re.compile(
    r"\b(?:"
    + "|".join(sorted(map(re.escape, (*_FUNCTION_OF, *NOTHING)), key=len, reverse=True))
    + r")\b"
)

#: Which wire of a port each function needs: what it hears, what it sends, or both.
WIRES: dict[str, frozenset[str]] = {
    "receiver": frozenset({"hears"}),
    "telemetry": frozenset({"sends"}),
    "esc-telemetry": frozenset({"hears"}),
    "gps": frozenset({"hears", "sends"}),
    "video-control": frozenset({"hears", "sends"}),
    "camera-control": frozenset({"sends"}),
    "log": frozenset({"sends"}),
    "console": frozenset({"hears", "sends"}),
    "lights": frozenset({"sends"}),
    "rangefinder": frozenset({"hears"}),
}

#: Line speed that ESCs send their telemetry at: common practice, one speed for all of them.
ESC_TELEMETRY_BAUD = 115_200
#: Speeds that satellite receivers offer: 4800 and 38 400 are those of NMEA 0183 and its high-speed
#: form (from memory), the others common practice.
GPS_BAUDS = (4_800, 9_600, 19_200, 38_400, 57_600, 115_200, 230_400, 460_800, 921_600)
#: Slower than this a recorder loses lines of a log: common practice.
LOG_BAUD = 115_200


def soldered(said: str) -> frozenset[str] | None:
    """The functions of what is said to be soldered to a port: empty for nothing.

    None where no word of it is known.  `receiver, plain pad` → receiver.
    """
    plain = re.sub(r"[-_/]+", " ", said.lower())
    found = _WORDS.findall(plain)
    if not found:
        return None
    return frozenset(_FUNCTION_OF[phrase] for phrase in found if phrase in _FUNCTION_OF)
