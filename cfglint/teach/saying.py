"""What clauses say in free words: of modes, of a lost link, and which setting a value is of.

A sentence is no name, so it is known by stems, here words of plain English, wherever in it they
stand.  Whatever is understood by them alone is a guess, to be confirmed.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from cfglint.teach.meanings import best as listed
from cfglint.teach.sense import best, english

#: How surely stems say a word: enough to read it, too little to leave it unmarked.
STEMMED = 0.7


def _table(*rows: tuple[str, str]) -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((word, re.compile(rf"(?i)\b(?:{stems})")) for word, stems in rows)


#: The first row that fits says the word: what is more special stands before what it holds.
_SAYINGS = {
    "mode": _table(
        ("lost-link", r"(?:pretend|feign|rehears|simulat|play)\w*|(?:link|signal|contact|radio)\b.{0,25}\b(?:lost|gone)|los[st]\w* .{0,20}\b(?:link|signal|contact)"),  # noqa: E501
        ("arm-permit", r"permit|permission|allow|(?:second|other|safety) (?:key|switch|lock)|(?:arming|motors) .{0,20}\bkey\b|guard|latch|unlock"),  # noqa: E501
        ("self-right", r"right\w* (?:it|him|her)?self|roll\w* .{0,15}\b(?:over|upright|back)|(?:tip|turn|flip|roll)\w* .{0,12}\b(?:over|back|upright)|overturn|upside|turtle|upright|from its back|on its feet"),  # noqa: E501
        ("motor-stop", r"(?:motor|prop|rotor)\w* .{0,15}\b(?:rest|stop|stand|still|halt)|(?:rest|stop|stand|still|halt)\w* .{0,20}\b(?:throttle|low|idle|bottom)"),  # noqa: E501
        ("idle-authority", r"(?:zero|no|idle|low\w*|least) throttle|at (?:zero|idle)\b|firm|steady|stabilis|alive|lively"),  # noqa: E501
        ("beacon", r"cry|cries|whistl|squeal|find|call|shout|sing|beep|chirp|horn|sound|tone|hoot|grass|peep|bleat"),  # noqa: E501
        ("return-home", r"home|return|(?:come|fl(?:y|ies)|go)\w* back|where it (?:was armed|started)"),  # noqa: E501
        ("hold-height", r"height|altitude|as high as|level of flight"),
        ("hold-position", r"place|position|spot|hover|stay put|where it is|anchor"),
        ("log", r"logg?|diary|record|journal"),
        ("lights", r"lamp|light|lantern|leds?\b|strip"),
        ("video-power", r"(?:video|picture|image)\b|sender"),
        ("self-level", r"level|horizon|even keel|flat\b|upright by itself"),
        ("arm", r"(?:motor|prop|rotor)\w* .{0,15}\b(?:turn|live|run|go|start|awake|hot|spin)|arm(?:ed|ing|s)?\b"),  # noqa: E501
    ),
    "failsafe.action": _table(
        ("stop", r"(?:stop|ceas|cut|kill|rest|halt|still|switch)\w* .{0,20}\b(?:motor|prop|drive|engine)|(?:motor|prop|engine)\w* .{0,14}\b(?:stop|off|rest|still|cut)|fall\b|stop\b"),  # noqa: E501
        ("return-home", r"home|return|back to\b|where it (?:was armed|started)"),
        ("descend", r"sink|descend|land\b|com\w+ down|settle|let .{0,10}down|ground"),
        ("hold-last", r"(?:hold|keep|carry|go|fly|persist|continu|follow)\w* .{0,25}\b(?:on|last|before|as|command|order)|hold\b|persist|last (?:command|order)"),  # noqa: E501
        ("none", r"nothing"),
    ),
}  # fmt: skip


def saying(table: str, text: str) -> tuple[str, float]:
    """What a phrase in free words means: as listed where that is sure, else by its stems."""
    words = english(text)
    known = best(table, text)
    if known[1] >= 0.9 or (len(words.split()) <= 2 and known[1] >= 0.5):
        return known
    found = next((word for word, stems in _SAYINGS[table] if stems.search(words)), "")
    if found:
        return found, 0.95 if listed(table, text)[0] == found and known[1] >= 0.5 else STEMMED
    return known


class Said(NamedTuple):
    """How a sentence tells a setting: words about the value, words of the matter, units behind."""

    setting: str
    what: re.Pattern[str]
    topic: re.Pattern[str]
    unit: re.Pattern[str] | None
    bars: re.Pattern[str] | None


def _said(setting: str, what: str, topic: str, unit: str = "", bars: str = "") -> Said:
    return Said(
        setting,
        re.compile(rf"(?i)\b(?:{what})"),
        re.compile(rf"(?i)\b(?:{topic})"),
        re.compile(rf"(?i)^[ ]?(?:{unit})") if unit else None,
        re.compile(rf"(?i)\b(?:{bars})") if bars else None,
    )


_STICK = r"sticks?\b|rests?\b"
_PULSE = r"motor|throttle|pulse|drive|esc"
_CELL = r"cells?\b|pack\b|batter|accumulator"
_OVER = (
    r"right\w* (?:it|him|her)?self|roll\w* .{0,16}\b(?:over|upright|back)|overturn|tip\w* .{0,6}\bover"  # noqa: E501
    r"|upright|flip|turn\w* .{0,10}\bover|off (?:the|its) back|turtle|somersault"
)
_LOST = r"link\b|lost|loss|losing|silence|silent|last word|contact|failsafe|signal"
_PERCENT = r"%|per ?cent|percent|hundredths|in a hundred"
_US = r"us\b|µs|microseconds|[,;.]|$|and\b|is\b|counts?\b"
SAID: tuple[Said, ...] = (
    _said("motor.idle_percent", r"never|less|least|minimum|idle|lowest|slowest", r"motor|drive|armed|throttle", _PERCENT),  # noqa: E501
    _said("motor.pulse_stop_us", r"still|stop|stand|rest|halt|quiet", _PULSE, _US, bars=r"stick"),
    _said("motor.pulse_min_us", r"low|slow|least|creep|minimum|bottom", _PULSE, _US, bars=r"stick|sink|descen|land"),  # noqa: E501
    _said("motor.pulse_max_us", r"full|max|flat out|most|top|high|fast", _PULSE, _US, bars=r"stick"),  # noqa: E501
    _said("motor.rate_hz", r"command|pulse|strokes|issue|signal|get", r"motor|esc|command|pulse|they", r"(?:commands |pulses |times )?(?:a|per|in every|every|each) second|Hz|hertz|pulses|commands", bars=r"loop|gyro"),  # noqa: E501
    _said("motor.poles", r"magnet|pole", r"magnet|pole|bell|motor", r"magnet|pole|[,;.]|$|in\b"),
    _said("loop.rate_hz", r"loop|think|round|cycle|control", r"loop|think|round|cycle|control|goes", r"(?:times|loops|rounds|turns) |Hz|hertz|kHz|kilohertz|a second|per second|$", bars=r"filter|smooth|gyro is|above|magnet"),  # noqa: E501
    _said("receiver.baud", r"at\b|pace|speed|rate", r"receiver|radio|it speaks", r"baud|bd\b|bits"),
    _said("receiver.port", r"port|socket|plug|sits|lot\b|wired|line|jack|inlet", r"receiver|radio|it speaks|plugged"),  # noqa: E501
    _said("receiver.channel_order", r"order|stick|arrive|come|channel", r"stick|order|channel"),
    _said("stick.low_us", r"low|down|under|below|beneath", _STICK, _US, bars=r"motor"),
    _said("stick.high_us", r"high|up\b|over|above|beyond", _STICK, _US, bars=r"motor"),
    _said("stick.centre_us", r"rest|middle|centre|center|stands|alone|neutral|idle", _STICK, _US, bars=r"motor"),  # noqa: E501
    _said("stick.dead_band_us", r"give or take|either side|departure|dead|slack|within|forgiv|wander|play|nothing|up to|ignored|disregard", _STICK, r"us\b|µs|microseconds|[,;.]|$|to |is\b|either", bars=r"motor"),  # noqa: E501
    _said("failsafe.delay_s", r"wait|after|for\b|lost|silen|longer", _LOST, r"s\b|sec|seconds|ms\b", bars=r"back|return\w* link|trust|smooth"),  # noqa: E501
    _said("failsafe.throttle_us", r"throttle|drive", r"sink|descen|land|down|lost|loss", _US),
    _said("battery.chemistry", r"pack|cell|make|lithium|batter|of", _CELL),
    _said("battery.cells", r"cells?|series|row|pack|count|of them", _CELL, r"cells?|in a row|in series|of them|\("),  # noqa: E501
    _said("battery.full_v", r"full|brim|charged|fresh", _CELL, r"v\b|volts?|[,;.]|$"),
    _said("battery.warn_v", r"warn|notice|complain|alarm|low\b|alert|worr", _CELL, r"v\b|volts?|[,;.]|$| and"),  # noqa: E501
    _said("battery.empty_v", r"empty|exhaust|spent|flat\b|done|drained|dry\b", _CELL, r"v\b|volts?|[,;.]|$"),  # noqa: E501
    _said("video.frequency_mhz", r"picture|video|broadcast|image|on\b|at\b", r"picture|video|image|sender", r"mhz|megahertz"),  # noqa: E501
    _said("video.power_mw", r"with|power|at\b|by\b", r"picture|video|image|sender", r"mw\b|milliwatts?"),  # noqa: E501
    _said("self-right.power_percent", r"revers|motor|drive|push|backward|run\b|get", _OVER, _PERCENT, bars=r"spent|armed motor"),  # noqa: E501
    _said("motor.signal", r"", r"esc|motor|speed controller|command|signal"),
    _said("receiver.link", r"", r"receiver|speak|radio|it talks|address"),
)  # fmt: skip
#: What the parts of the evidence count.
WHAT, TOPIC, UNIT = 0.45, 0.3, 0.25


def told_by(one: Said, near: str, around: str, behind: str | None, *, known: bool = True) -> float:
    """How well the words near a value, the sentence around it and what is behind tell a setting.

    ``known`` is false where nothing says a unit, which then tells nothing.
    """
    behind = behind or ""
    if one.bars is not None and one.bars.search(f"{near} {behind}"):
        return 0.0
    if known and one.unit is not None and not one.unit.search(behind):
        return 0.0
    loose = one.unit is not None and "$" in one.unit.pattern
    what, topic = one.what.search(near), one.topic.search(around)
    score = WHAT * bool(what) + TOPIC * bool(topic) + UNIT * known
    if not known:
        return score if what and topic else 0.0
    return score if what or (one.unit is not None and not loose and topic) else 0.0
