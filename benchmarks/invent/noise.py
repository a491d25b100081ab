"""Settings that mean nothing to the neutral craft, under names that sound as if they might."""

from __future__ import annotations

from random import Random
from typing import NamedTuple

from invent.names import Author
from invent.shapes import Shape
from invent.spells import Speller
from invent.words import IDEAS, Half, Idea, one_idea

EXTRA: dict[str, Idea] = {
    "beep": one_idea("beep", "buzz", "chirp, sounder"),
    "strength": one_idea("", "volume, loudness", "intensity, vol"),
    "kv": one_idea("kv rating", "", "winding kv"),
    "direction": one_idea("direction", "dir", "spin dir, turn"),
    "limit": one_idea("limit", "lim, cap", "ceiling, clamp"),
    "current": one_idea("current", "amps", "amp, cur"),
    "temp": one_idea("temp", "temperature", "heat, degc"),
    "telemetry": one_idea("telemetry", "telem", "tlm, downlink"),
    "smooth": one_idea("smoothing", "smooth", "soften, lag"),
    "rssi": one_idea("", "signal quality, rssi in", "lq, link strength"),
    "scale": one_idea("factor", "scaler", "ratio, mult"),
    "expo": one_idea("expo", "curve", "bend, softness"),
    "roll": one_idea("roll", "", "rol"),
    "pitch": one_idea("pitch", "", "pit"),
    "yaw": one_idea("yaw", "", ""),
    "gain": one_idea("gain", "pid", "tune, k"),
    "gyro": one_idea("gyro", "", "imu"),
    "accel": one_idea("acc", "accel", "accelerometer"),
    "filter": one_idea("filter", "low pass", "smoother, damper"),
    "cutoff": one_idea("cutoff", "corner", "edge, fc"),
    "osd": one_idea("hud", "screen", "overlay, display"),
    "gps": one_idea("gps", "", "gnss"),
    "lamp": one_idea("led", "leds", "lamp, strip"),
    "servo": one_idea("servo", "srv", "tilt"),
    "capacity": one_idea("mah", "rated mah", "size mah, charge"),
    "sag": one_idea("sag", "compensation", "droop, sag comp"),
    "band": one_idea("grid", "race grid", "band letter"),
    "unit": one_idea("unit system", "", "measures"),
    "bright": one_idea("brightness", "", "dim"),
    "colour": one_idea("colour", "color", "hue"),
    "sats": one_idea("sats", "min sats", "satellites"),
    "angle": one_idea("angle", "tilt limit", "lean"),
    "boost": one_idea("boost", "kick", "punch"),
    "position": one_idea("place", "position", "xy, spot"),
    "time": one_idea("time", "duration", "lasting"),
    "device": one_idea("device", "storage", "medium"),
    "divider": one_idea("divider", "div", "denom, ratio"),
    "speed": one_idea("speed", "velocity", "pace"),
    "height": one_idea("altitude", "alt", "height"),
}


class Kind(NamedTuple):
    """What a value looks like: a whole number in steps, a fraction, a flag or a word."""

    low: float = 0
    high: float = 0
    step: float = 1
    words: tuple[str, ...] = ()


FLAG = Kind()
PERCENT = Kind(0, 100, 5)
_WORDS = {
    "direction": Kind(words=("normal", "reversed")),
    "unit": Kind(words=("metric", "imperial")),
    "device": Kind(words=("flash", "card", "serial out")),
    "colour": Kind(words=("red", "green", "blue", "white", "amber")),
    "filter": Kind(words=("soft", "firm", "steep")),
}

#: Section title (or ``""`` for one of their own kind), ideas, value.
PHRASES: tuple[tuple[str, tuple[str, ...], Kind], ...] = (
    ("motor", ("motor", "beep", "strength"), Kind(0, 100, 10)),
    ("motor", ("motor", "kv"), Kind(1100, 2800, 50)),
    ("motor", ("motor", "direction"), _WORDS["direction"]),
    ("motor", ("motor", "limit"), Kind(60, 100, 5)),
    ("motor", ("esc", "current", "limit"), Kind(20, 80, 5)),
    ("motor", ("esc", "temp", "limit"), Kind(60, 120, 5)),
    ("motor", ("throttle", "boost", "=amount"), Kind(0, 20, 1)),
    ("motor", ("throttle", "limit", "=top"), Kind(70, 100, 5)),
    ("receiver", ("receiver", "telemetry", "rate"), Kind(1, 64, 1)),
    ("receiver", ("receiver", "smooth"), FLAG),
    ("receiver", ("receiver", "smooth", "cutoff"), Kind(20, 250, 5)),
    ("receiver", ("rssi", "channel", "=source"), Kind(0, 16, 1)),
    ("receiver", ("rssi", "scale"), Kind(30, 200, 5)),
    ("receiver", ("rssi", "warn"), Kind(10, 60, 5)),
    ("stick", ("stick", "expo"), PERCENT),
    ("stick", ("roll", "expo"), PERCENT),
    ("stick", ("pitch", "expo"), PERCENT),
    ("stick", ("yaw", "expo"), PERCENT),
    ("stick", ("throttle", "expo"), PERCENT),
    ("stick", ("stick", "smooth"), Kind(0, 250, 10)),
    ("failsafe", ("failsafe", "beep"), FLAG),
    ("failsafe", ("failsafe", "height"), Kind(10, 60, 5)),
    ("failsafe", ("failsafe", "speed"), Kind(50, 300, 25)),
    ("failsafe", ("failsafe", "angle"), Kind(10, 45, 5)),
    ("battery", ("battery", "capacity"), Kind(450, 6000, 50)),
    ("battery", ("battery", "current", "scale"), Kind(300, 1200, 10)),
    ("battery", ("battery", "scale"), Kind(700, 1400, 7)),
    ("battery", ("battery", "sag"), PERCENT),
    ("battery", ("battery", "beep"), FLAG),
    ("video", ("video", "band"), Kind(1, 5, 1)),
    ("video", ("video", "channel", "=pick"), Kind(1, 8, 1)),
    ("video", ("video", "beep"), FLAG),
    ("self-right", ("selfright", "expo"), PERCENT),
    ("self-right", ("selfright", "angle"), Kind(10, 80, 5)),
    ("log", ("log", "rate"), Kind(1, 8, 1)),
    ("log", ("log", "device"), _WORDS["device"]),
    ("loop", ("loop", "divider"), Kind(1, 8, 1)),
    ("", ("gyro", "filter"), _WORDS["filter"]),
    ("", ("gyro", "filter", "low"), Kind(60, 240, 3)),
    ("", ("gyro", "filter", "high"), Kind(260, 700, 7)),
    ("", ("gyro", "filter", "cutoff"), Kind(80, 500, 10)),
    ("", ("accel", "filter", "cutoff"), Kind(5, 50, 5)),
    ("", ("accel", "scale"), Kind(90, 110, 1)),
    ("", ("osd", "battery", "warn"), Kind(10, 40, 5)),
    ("", ("osd", "battery", "position"), Kind(0, 640, 1)),
    ("", ("osd", "rssi", "position"), Kind(0, 640, 1)),
    ("", ("osd", "throttle", "position"), Kind(0, 640, 1)),
    ("", ("osd", "unit"), _WORDS["unit"]),
    ("", ("osd", "height", "warn"), Kind(50, 400, 10)),
    ("", ("osd", "bright"), Kind(0, 100, 10)),
    ("", ("gps", "sats"), Kind(4, 12, 1)),
    ("", ("gps", "rate"), Kind(1, 18, 1)),
    ("", ("gps", "speed", "limit"), Kind(300, 2000, 50)),
    ("", ("gps", "height", "low"), Kind(10, 60, 5)),
    ("", ("lamp", "bright"), Kind(5, 100, 5)),
    ("", ("lamp", "colour"), _WORDS["colour"]),
    ("", ("lamp", "rate"), Kind(10, 100, 5)),
    ("", ("beep", "strength"), Kind(0, 100, 10)),
    ("", ("beep", "rate"), Kind(1000, 4000, 100)),
    ("", ("servo", "low"), Kind(820, 1140, 4)),
    ("", ("servo", "high"), Kind(1840, 2180, 4)),
    ("", ("servo", "mid"), Kind(1440, 1560, 4)),
    ("", ("servo", "rate"), Kind(50, 330, 10)),
    ("", ("roll", "angle", "limit"), Kind(30, 70, 5)),
    ("", ("pitch", "angle", "limit"), Kind(30, 70, 5)),
    *(
        ("", (axis, "gain", f"={term}"), Kind(5, 120, 1))
        for axis in ("roll", "pitch", "yaw")
        for term in ("p", "i", "d", "lead")
    ),
    *(
        ("", ("osd", f"={thing}"), FLAG)
        for thing in ("horizon", "timer", "clock", "north", "heading", "track", "sums")
    ),
    *(
        ("", ("lamp", f"=slot{place}"), Kind(0, 20, 1)) for place in range(1, 19)
    ),
    *(
        ("", ("servo", f"=mix{place}"), Kind(0, 100, 5)) for place in range(1, 9)
    ),
    *(
        ("", ("gyro", "filter", f"={tag}"), Kind(0, 500, 10))
        for tag in ("bend", "depth", "follow", "order", "x", "y", "z", "soft")
    ),
    *(
        ("", ("osd", f"=item{place}", "position"), Kind(0, 640, 1)) for place in range(1, 60)
    ),
)  # fmt: skip


class Noise(NamedTuple):
    """One meaningless setting: name, the section it stands in, what its values look like."""

    name: str
    title: str
    kind: Kind

    def written(self, rng: Random, shape: Shape, speller: Speller) -> str:
        """A plausible value."""
        if self.kind.words:
            word = speller.text(rng.choice(self.kind.words))
            return f'"{word}"' if speller.quotes else word
        if self.kind == FLAG:
            return rng.choice((shape.yes[0], shape.no[0]))
        steps = int((self.kind.high - self.kind.low) / self.kind.step)
        return str(int(self.kind.low + rng.randint(0, steps) * self.kind.step))


def draw_noise(
    rng: Random, author: Author, half: Half, count: int, taken: set[str], *, sections: bool
) -> list[Noise]:
    """``count`` meaningless settings (as many as there are names for), none of a taken name."""
    words: dict[str, str] = {}

    def word(idea: str) -> str:
        if idea.startswith("="):
            return idea[1:]
        if idea in IDEAS:
            return author.word(idea)
        if idea not in words:
            words[idea] = rng.choice(EXTRA[idea].words(half))
        return words[idea]

    plain = list(PHRASES[:-59])
    rng.shuffle(plain)
    found: list[Noise] = []
    for home, ideas, kind in [*plain, *PHRASES[-59:]]:
        if len(found) >= count:
            break
        title = home or (ideas[0] if sections else "")
        name = author.style.join([word(idea) for idea in ideas])
        if name not in taken:
            taken.add(name)
            found.append(Noise(name, title, kind))
    return found
