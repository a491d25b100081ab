"""How well a name fits a neutral setting."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from cfglint.teach.words import ideas, is_filler

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


class Profile(NamedTuple):
    """The ideas that a setting's name puts together.

    Each of the two ``groups`` (idea → weight), what it is about and what of it, has to be met by a
    word for the name to fit whole;
    ``shares`` is how much each group counts.  ``also`` are ideas that may stand in the name
    without meaning anything else.
    """

    setting: str
    groups: tuple[Mapping[str, float], ...]
    shares: tuple[float, ...]
    also: frozenset[str]


def _group(text: str) -> dict[str, float]:
    """``motor esc output:0.7`` → idea → weight."""
    out = {}
    for part in text.split():
        idea, _, weight = part.partition(":")
        out[idea] = float(weight or 1)
    return out


def _profile(setting: str, *groups: str, also: str = "", shares: Sequence[float] = ()) -> Profile:
    return Profile(
        setting,
        tuple(_group(group) for group in groups),
        tuple(shares) or (1.0,) * len(groups),
        frozenset(also.split()),
    )


_MOTOR = "motor esc output:0.75"
_PULSED = "motor esc output:0.75 throttle:0.85 pulse:0.9"

PROFILES: tuple[Profile, ...] = (
    _profile("craft.name", "craft", "name craft:0.6", also="", shares=(0.5, 1.5)),
    _profile("motor.signal", _MOTOR, "signal kind:0.75", also="motor esc output pulse"),
    _profile(
        "motor.two_way",
        _MOTOR + " signal:0.8",
        "two-way",
        also="motor esc output signal rate x-telemetry on",
        shares=(0.8, 1.2),
    ),
    _profile(
        "motor.idle_percent",
        _MOTOR + " throttle:0.9",
        "idle",
        also="motor esc output throttle low power percent rate",
        shares=(0.8, 1.2),
    ),
    _profile(
        "motor.pulse_stop_us", _PULSED, "stop idle:0.3", also="motor esc output throttle pulse"
    ),
    _profile("motor.pulse_min_us", _PULSED, "low", also="motor esc output throttle pulse range"),
    _profile(
        "motor.pulse_max_us", _PULSED, "high full:0.9", also="motor esc output throttle pulse range"
    ),
    _profile(
        "motor.rate_hz",
        _MOTOR + " signal:0.6 pulse:0.6",
        "rate per-second:0.6",
        also="motor esc output signal pulse",
    ),
    _profile("motor.poles", "motor esc:0.7", "poles", also="motor count", shares=(0.4, 1.6)),
    _profile("loop.rate_hz", "loop", "rate per-second:0.7", also="loop"),
    _profile(
        "receiver.link",
        "receiver",
        "link signal kind:0.75",
        also="receiver port link signal",
    ),
    _profile("receiver.port", "receiver", "port", also="receiver port number link"),
    _profile("receiver.baud", "receiver", "baud", also="receiver port link"),
    _profile(
        "receiver.inverted",
        "receiver",
        "invert",
        also="receiver port link signal on",
        shares=(0.9, 1.1),
    ),
    _profile(
        "receiver.half_duplex",
        "receiver",
        "one-wire two-way:0.5",
        also="receiver port link signal on",
        shares=(0.9, 1.1),
    ),
    _profile(
        "receiver.channel_order",
        "receiver:0.9 channel stick",
        "order",
        also="receiver channel stick",
        shares=(0.8, 1.2),
    ),
    _profile("channel.N.low_us", "channel", "low", also="receiver channel stick pulse range"),
    _profile("channel.N.mid_us", "channel", "mid", also="receiver channel stick pulse range"),
    _profile("channel.N.high_us", "channel", "high", also="receiver channel stick pulse range"),
    _profile("stick.low_us", "stick receiver:0.6", "low", also="stick pulse range receiver"),
    _profile("stick.high_us", "stick receiver:0.6", "high", also="stick pulse range receiver"),
    _profile(
        "stick.centre_us", "stick receiver:0.7", "mid", also="stick pulse range receiver channel"
    ),
    _profile(
        "stick.dead_band_us",
        "stick receiver:0.8 channel:0.6",
        "dead-band",
        also="stick receiver mid channel",
        shares=(0.8, 1.2),
    ),
    _profile("failsafe.action", "failsafe", "action kind:0.8", also="failsafe receiver link on"),
    _profile("failsafe.delay_s", "failsafe", "delay", also="failsafe receiver link"),
    _profile(
        "failsafe.throttle_us",
        "failsafe descend:0.8",
        "throttle",
        also="failsafe receiver pulse motor link power output",
    ),
    _profile(
        "failsafe.channel.N",
        "failsafe",
        "channel stick:0.85",
        also="failsafe receiver action pulse link throttle",
    ),
    _profile("battery.chemistry", "battery cell", "chemistry kind:0.8", also="battery cell"),
    _profile("battery.cells", "battery cell", "count cell:0.8", also="battery cell"),
    _profile("battery.full_v", "battery cell", "full", also="battery cell power"),
    _profile("battery.warn_v", "battery cell", "warn", also="battery cell power"),
    _profile("battery.empty_v", "battery cell", "empty low:0.7", also="battery cell power"),
    _profile("port.N.functions", "port", "functions", also="port"),
    _profile("port.N.baud", "port", "baud", also="port"),
    _profile("port.N.inverted", "port", "invert", also="port on signal"),
    _profile("port.N.half_duplex", "port", "one-wire two-way:0.5", also="port on"),
    _profile(
        "video.frequency_mhz", "video", "frequency rate:0.6", also="video sender channel output"
    ),
    _profile("video.power_mw", "video", "power", also="video sender output"),
    _profile(
        "self-right.power_percent",
        "self-right invert:0.7",
        "power throttle:0.8 percent:0.7",
        also="self-right motor percent mode",
    ),
    _profile("log.on", "log", "on", also="log", shares=(1.4, 0.6)),
    *(
        _profile(
            f"board.{axis}_deg",
            "board:0.9 turned",
            # A board that is turned, and nothing more, is turned flat on its place.
            f"{axis}-turn" + (" turned:0.8" if axis == "yaw" else ""),
            also="board turned x-gyro",
        )
        for axis in ("roll", "pitch", "yaw")
    ),
    _profile("frame.kind", "frame", "kind order:0.6", also="frame craft motor"),
    _profile("frame.motors", "motor", "count", also="frame craft", shares=(0.9, 1.1)),
    _profile("output.N.place", "output", "place", also="motor output"),
    _profile("propellers.front_pair", "propeller", "way-round", also="motor"),
    _profile("sensor.accelerometer", "accelerometer", "on", also="x-gyro", shares=(1.3, 0.7)),
    _profile("sensor.barometer", "barometer", "on", also="x-gyro", shares=(1.3, 0.7)),
    _profile("home.needs_fix", "fix", "needs", also="x-gps x-arm", shares=(1.0, 1.0)),
)

BY_SETTING = {profile.setting: profile for profile in PROFILES}


class Words(NamedTuple):
    """The words that a name is made of, and those around it.

    ``own`` are the name's, ``section`` those of the section it stands in, ``heading`` those of
    the comment above.
    """

    own: tuple[str, ...]
    section: tuple[str, ...] = ()
    heading: tuple[str, ...] = ()


#: How much a word counts that stands beside the name.
_SECTION, _HEADING = 0.92, 0.6


class Fit(NamedTuple):
    """How well words fit a profile: the whole, how much of it is met, and the words that did."""

    score: float
    recall: float
    precision: float
    words: tuple[str, ...]


#: Words of this dump alone → ideas, as :func:`cfglint.teach.words.ideas` gives them.
Learned = Mapping[str, tuple[tuple[str, float], ...]]


def fit(profile: Profile, words: Words, learned: Learned | None = None) -> Fit:
    """How well a name fits a setting, 0 to 1.

    ``recall`` is how much of what the setting asks for is there, ``precision`` how much of the
    name is accounted for.  ``learned`` are words whose meaning this dump has shown.
    """
    known = learned or {}
    best, by, taken = _assigned(profile, words, known)
    recall = sum(b * s for b, s in zip(best, profile.shares, strict=True)) / sum(profile.shares)
    allowed = {idea for group in profile.groups for idea in group} | profile.also
    good = bad = 0.0
    for at, word in enumerate(words.own):
        kinds = _ideas(word, known)
        if at in taken or any(idea in allowed for idea, _ in kinds):
            good += 1
        elif is_filler(word):
            continue
        elif len(word) <= 1:
            bad += 0.3
        else:
            # A word that nobody knows tells less against a name than one of another subject.
            other = any(idea.startswith("x-") for idea, _ in kinds)
            bad += 1.0 if other else 0.9 if kinds else 0.75
    for word in words.section:
        kinds = _ideas(word, known)
        if kinds and not is_filler(word) and not any(idea in allowed for idea, _ in kinds):
            bad += 0.5 if any(idea.startswith("x-") for idea, _ in kinds) else 0.25
    precision = good / (good + bad) if good else 0.0 if bad else 1.0
    score = recall**1.2 * precision**1.3
    return Fit(score, recall, precision, tuple(dict.fromkeys(word for word in by if word)))


#: Words that say all of a setting's name by themselves.
_WHOLE = frozenset(("callsign", "hostname", "nickname"))
#: How much a word counts for the second of two things.
_TWICE = 0.45


def _assigned(
    profile: Profile, words: Words, known: Learned
) -> tuple[list[float], list[str], set[int]]:
    """The words that meet a profile's groups together best: weights, words, and their places."""
    every = list(_all(words))
    weights = [
        [
            max((sure * group[i] for i, sure in _ideas(word, known) if i in group), default=0.0)
            * place
            for word, place in every
        ]
        for group in profile.groups
    ]
    first, second = ([*row, 0.0] for row in weights)  # place -1: by no word
    share = profile.shares

    def second_of(a: int, b: int) -> float:
        # One word for two things says less.
        return second[b] * (_TWICE if a == b >= 0 and every[a][0] not in _WHOLE else 1.0)

    places = range(-1, len(every))
    worth = [
        (first[a] * share[0] + second_of(a, b) * share[1], a, b)
        for a in places
        if first[a] or a < 0
        for b in places
        if second[b] or b < 0
    ]
    _, a, b = max(worth)
    by = [every[at][0] if at >= 0 else "" for at in (a, b)]
    return [first[a], second_of(a, b)], by, {at for at in (a, b) if at >= 0}


def _ideas(word: str, learned: Learned) -> tuple[tuple[str, float], ...]:
    return (*ideas(word), *learned[word]) if word in learned else ideas(word)


def _all(words: Words) -> Iterable[tuple[str, float]]:
    for word in words.own:
        yield word, 1.0
    for word in words.section:
        yield word, _SECTION
    for word in words.heading:
        yield word, _HEADING
