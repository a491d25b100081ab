"""Written words and what they mean: signal names, link names, modes, yes and no.

A table row lists phrases by which the trade says one neutral word.  A written word is compared
with them whatever its letter case, its separators and the order of its parts.
"""

from __future__ import annotations

import re
from functools import lru_cache

from cfglint.craft.settings import (
    CHEMISTRIES,
    FAILSAFE_ACTIONS,
    LINKS,
    MODES,
    PORT_FUNCTIONS,
    SIGNALS,
)
from cfglint.record import NamedTuple

#: Neutral word → phrases, divided by commas.  The neutral word itself always counts.
_SIGNALS = {
    "brushed": "brush, dc, duty, duty cycle, plain duty, brushed motor, raw duty, brushed pwm",
    "servo-pwm": "pwm, servo, standard pwm, std pwm, analog, analog pwm, normal pwm, classic pwm, "
    "pwm servo, standard, pwm std, servo pulse, rc pwm, slow pwm, plain pwm, esc pwm, pwm50, 1 2ms",
    "oneshot125": "one shot 125, os 125, one 125, 1 shot 125, shot 125, oneshot, one shot",
    "oneshot42": "one shot 42, os 42, one 42, 1 shot 42, shot 42",
    "multishot": "multi shot, multi, ms shot, mshot, multi pulse",
    "dshot150": "digital 150, ds 150, d 150, dig 150, digi 150, digital shot 150, d shot 150, "
    "dsh 150, dst 150, dgt 150, digitalshot150",
    "dshot300": "digital 300, ds 300, d 300, dig 300, digi 300, digital shot 300, d shot 300, "
    "dsh 300, dst 300, dgt 300, digitalshot300",
    "dshot600": "digital 600, ds 600, d 600, dig 600, digi 600, digital shot 600, d shot 600, "
    "dsh 600, dst 600, dgt 600, digitalshot600",
    "dshot1200": "digital 1200, ds 1200, d 1200, dig 1200, digi 1200, digital shot 1200, "
    "d shot 1200, dsh 1200, dst 1200, dgt 1200, digitalshot1200",
}
_LINKS = {
    "sbus": "s bus, sbus 1, serial bus",
    "crsf": "crsf two wire, crsf 2, crsf 2 wire, crsf full, crsf duplex, crsf full duplex, crsf uart",
    "crsf-one-wire": "crsf 1, crsf half, crsf one, crsf 1 wire, crsf single, crsf single wire, "
    "crsf half duplex, crsf shared, crsf 1w, crsf hd, crsf ow, crsf one line, crsf oneline, "
    "one wire crsf, half crsf",
    "ibus": "i bus",
    "dsm": "dsm 2, dsm x, dsmx, dsm serial, dsm satellite, dsm sat",
    "srxl2": "srxl, srxl v 2, srx l 2",
    "sumd": "sum d",
    "fport": "f port, fport 2, fport 1",
    "ppm": "cppm, ppm sum, sum, pulse train, sum ppm, ppm train, pulsetrain, sum signal, pulse sum",
}
_ACTIONS = {
    "stop": "drop, cut, stop motors, cut motors, motors off, kill, disarm, fall, motors stop, "
    "halt, cut out, motor cut, motor stop, motor off, switch off, kill motors, cut power, shut down, "
    "shutdown, cutoff, cut off, drop out, power off, fall down, let fall, stop all, motorstop",
    "descend": "land, sink, go down, auto land, landing, down, descent, controlled descent, "
    "let down, come down, settle, set down, soft land, glide down, slow down, lower, autoland, "
    "sink slowly, ease down, land now, land here",
    "return-home": "return, home, come back, go home, fly home, return home, rth, back home, "
    "come home, fly back, return to home, go back, home return, head home",
    "hold-last": "hold, keep, last, freeze, hold last, keep last, last values, as before, "
    "keep values, carry on, hold values, stay, continue, last known, keep going, hold on, latch, "
    "repeat last, keep flying, fly on, as was",
    "none": "nothing, no action, do nothing, ignore, never, unset, not set, disabled, no, "
    "none set, inactive, nil, nop, noop, unused",
}
_CHEMISTRIES = {
    "lipo": "li po, polymer, lithium polymer, lpo, li polymer, lp",
    "lihv": "li hv, lipo hv, hv, high voltage, hv lipo, polymer high, lipo high, high volt, lhv, "
    "lipohv, hvlipo",
    "li-ion": "lion, ion, lithium ion, liion, li io",
    "life": "life po 4, lifepo4, iron, lfp, lithium iron, fe, lifepo, iron phosphate, life po",
}
_FUNCTIONS = {
    "receiver": "rx, rc rx, rx rc, serial receiver, rcv, recv, radio, rc, rcvr, rc in, rx in, remote, receiver in, radio in, "
    "rx serial, serial rx, control link, rec, radio link, uplink",
    "telemetry": "tlm, telem, tele, downlink, telemetry out, radio telemetry, tlm out, back link",
    "esc-telemetry": "esc tlm, esc telem, esc tele, esc sensor, motor telemetry, esc feedback, "
    "esc report, esc data, motor tlm, esc wire, esc in, esc reply, esctlm",
    "gps": "gnss, sat nav, satellites, position, sat, satnav, navsat",
    "video-control": "vtx, video, vtx control, video sender, vid, video tx, vtx ctl, vid ctl, "
    "video ctl, picture sender, video ctrl, vtx ctrl, videosender, video link, vidtx",
    "camera-control": "camera, cam, cam control, cam ctl, camera ctl, lens, cam ctrl, camera ctrl",
    "log": "logger, logging, flight log, recorder, diary, blackbox, black box, journal, log out, "
    "flight recorder",
    "console": "cli, host, setup, config, shell, terminal, term, con, pc, computer, usb, command "
    "line, bench, debug console, monitor, tty, configure, cmd, control panel, prompt",
    "lights": "led, leds, lamps, lamp, light, strip, led strip, lamp control, rgb, lighting",
    "rangefinder": "range finder, sonar, lidar, distance, range, ground sensor, tof, height "
    "sensor, altimeter",
}
_MODES = {
    "arm": "armed, arming, motors live, arm motors, live, motors on, armed mode, motor arm, "
    "arm switch, ready, motors armed, enable motors, engage",
    "arm-permit": "permit, arm permit, arm allow, allow arm, pre arm, prearm, arm enable, "
    "safety, unlock, arm unlock, arm ready, arm guard, cover open, arm safety, arm release, "
    "permit arm, may arm, arm ok, arm gate, arm consent, safe switch, safety off, arm key",
    "self-right": "turtle, flip over, turn over, roll over, roll back, self righting, righting, "
    "unflip, turtle mode, right itself, upright, rollback, crash flip, flip, tortoise, "
    "overturn, flip back, back on feet, uncapsize, rollover, turnover, rightup, belly up, "
    "flip upright, turn upright, right up, roll upright, get up, selfrighting",
    "self-level": "level, angle, auto level, stabilise, stabilize, attitude, levelling, leveling, "
    "stab, selflevel, level mode, autolevel, self leveling, stable, balance, levelled, bubble, "
    "keep level, flat",
    "idle-authority": "airmode, air, air mode, firm idle, idle control, zero throttle authority, "
    "idle stab, idle authority, full authority, keep authority, idle stabilise, always stabilise, "
    "idle hold, active idle, zero throttle stab, air authority, idle firm, low throttle authority",
    "beacon": "beep, beeper, buzzer, finder, find me, chirp, sound, lost model, locator, alarm, "
    "beep on, lost alarm, buzz, siren, find, horn, lost beeper, locate, findme, squeal, call out, "
    "finder tone, whistle, bleep",
    "motor-stop": "motors stop, stop motors, motor off, rest motors, no idle, motors rest, "
    "idle off, idle stop, stop at idle, stand still, stop low, motor halt, motors off, still",
    "return-home": "return, home, come back, rth, go home, fly home, come home, back home, "
    "homing, return to home, gohome, homeward, fly back, go back, retour",
    "hold-height": "height hold, hold altitude, altitude hold, alt hold, keep height, height, "
    "altitude, alt, hold alt, keep altitude, height keep, level height, baro hold, z hold, "
    "fix height, lock height, alt lock, height lock, stay high, alti hold, elevation hold",
    "hold-position": "position hold, pos hold, hold pos, hold place, keep place, keep position, "
    "position, pos, stay, place hold, hover, keep pos, gps hold, hold point, station keep, "
    "fix position, xy hold, lock position, stay put, pos lock, hold spot, anchor, park, hold here",
    "log": "logger, logging, flight log, recorder, record, diary, blackbox, black box, log on, "
    "recording, write log, keep log, journal, rec, data log, trace",
    "lights": "led, leds, lamps, lamp, light, led on, lights on, lamps on, lighting, nav lights, "
    "strip, glow",
    "video-power": "video, vtx power, vtx, video on, picture, video sender, vid power, vtx on, "
    "vid, camera power, image, vid on, video tx, picture on, vtx pwr, fpv, fpv power, vpower",
    "lost-link": "failsafe, fail safe, link lost, signal lost, loss, silence, lost signal, lost, "
    "link loss, signal loss, fs, no link, test loss, lost link test, play loss, no signal, "
    "force failsafe, radio loss, rx lost, rx loss",
}
_JOINS = {
    "any": "or, either, one of, one, alone, or else, any of",
    "all": "and, both, every, all of, together, also, must, only",
}

#: Pairs of words by which a flag is set and cleared.
YES_NO: tuple[tuple[str, str], ...] = (
    ("yes", "no"),
    ("on", "off"),
    ("true", "false"),
    ("1", "0"),
    ("enabled", "disabled"),
    ("enable", "disable"),
    ("y", "n"),
    ("t", "f"),
    ("active", "inactive"),
    ("set", "clear"),
    ("high", "low"),
    ("in", "out"),
    ("used", "unused"),
    ("with", "without"),
    ("do", "dont"),
    ("+", "-"),
    ("set", "unset"),
    ("aye", "nay"),
    ("inverted", "normal"),
    ("x", "-"),
    ("ja", "nein"),
    ("sim", "nao"),
)

TABLES: dict[str, tuple[tuple[str, ...], dict[str, str]]] = {
    "motor.signal": (SIGNALS, _SIGNALS),
    "receiver.link": (LINKS, _LINKS),
    "failsafe.action": (FAILSAFE_ACTIONS, _ACTIONS),
    "battery.chemistry": (CHEMISTRIES, _CHEMISTRIES),
    "port.N.functions": (PORT_FUNCTIONS, _FUNCTIONS),
    "mode": (tuple(MODES), _MODES),
    "join": (("any", "all"), _JOINS),
}

#: Words for "no function at all", "an empty list".
NOTHING = frozenset(
    "none nothing off empty nil null free unused idle no void blank na n/a - -- spare".split()
)

_RUN = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+")


class Meant(NamedTuple):
    """A neutral word that a written one may mean, and how surely (0 to 1)."""

    word: str
    weight: float


def squeeze(text: str) -> str:
    """Letters and digits alone, small."""
    return re.sub(r"[\W_]+", "", text).lower()


def _words(text: str) -> tuple[str, ...]:
    return tuple(part.lower() for part in _RUN.findall(text))


@lru_cache(maxsize=16)
def _phrases(table: str) -> tuple[tuple[str, tuple[str, ...], str], ...]:
    """Every phrase of a table: the neutral word, the phrase's words, and it squeezed."""
    words, rows = TABLES[table]
    out = []
    for word in words:
        for phrase in (word, *rows[word].split(",")):
            out.append((word, _words(phrase), squeeze(phrase)))
    return tuple(out)


@lru_cache(maxsize=8192)
def meant(table: str, written: str) -> tuple[Meant, ...]:
    """What a written word may mean in a table, likeliest first; empty if nobody could tell."""
    small = squeeze(written)
    # A sign alone, or a number by itself, is no word.
    if not small or small.isdigit():
        return ()
    parts = _words(written)
    found: dict[str, float] = {}
    for word, phrase, whole in _phrases(table):
        weight = _likeness(small, parts, whole, phrase)
        if weight > found.get(word, 0.0):
            found[word] = weight
    rows = [Meant(word, weight) for word, weight in found.items()]
    rows.sort(key=lambda row: -row.weight)
    return tuple(rows)


def _likeness(small: str, parts: tuple[str, ...], whole: str, phrase: tuple[str, ...]) -> float:
    if small == whole:
        return 1.0
    mine, theirs = set(parts), set(phrase)
    if mine == theirs:
        return 0.97
    # Noise words around the phrase: `mode-arm`, `armSwitch`.
    if theirs <= mine:
        noise = [part for part in mine - theirs if part not in _NOISE]
        return max(0.9 - 0.22 * len(noise), 0.0) * (0.75 + 0.25 * len(theirs) / len(mine))
    if small.endswith(("mode", "sw")) and small.removesuffix("mode").removesuffix("sw") == whole:
        return 0.93
    if len(small) >= 3 and whole.startswith(small):
        return 0.55 + 0.3 * len(small) / len(whole)
    if len(whole) >= 5 and small.startswith(whole):
        return 0.5 + 0.3 * len(whole) / len(small)
    if len(small) >= 3 and small[0] == whole[0]:
        bones = whole[0] + re.sub(r"[aeiouy]", "", whole[1:])
        if small == bones and len(bones) >= 3:
            return 0.8
    if len(parts) == len(phrase) >= 2 and all(
        len(a) >= 2 and b.startswith(a) for a, b in zip(parts, phrase, strict=True)
    ):
        return 0.8
    return 0.0


_NOISE = frozenset("mode switch sw fn mod the is on a to state flag function craft model".split())


def best(table: str, written: str) -> tuple[str, float]:
    """The neutral word that a written one most likely means, and how surely; ``("", 0)``.

    Two words that are both as likely make neither sure.
    """
    rows = meant(table, written)
    if not rows or rows[0].weight < 0.5:
        return "", 0.0
    rival = rows[1].weight if len(rows) > 1 else 0.0
    weight = rows[0].weight
    if rival > weight - 0.1:
        weight *= 0.5 + max(0.0, weight - rival)
    return rows[0].word, weight


def is_nothing(written: str) -> bool:
    """Whether a written word says that there is nothing."""
    return written.strip().lower() in NOTHING


def in_style(table: str, seen: dict[str, str]) -> dict[str, str]:
    """Written words for the rest of a table, spelled as those seen are.

    ``seen`` maps neutral words to written ones.  Where one of them is its neutral word but for
    letter case and separators (``DSHOT_600``), the others are spelled alike; a word like that
    can mean nothing else.  Gives only what is not seen yet.
    """
    words, _rows = TABLES[table]
    taken = {squeeze(text) for text in seen.values()}
    spelled: dict[str, str] = {}
    for neutral, written in seen.items():
        style = _style(neutral, written)
        if style is None:
            continue
        for word in words:
            text = style(word)
            if word not in seen and word not in spelled and squeeze(text) not in taken:
                spelled[word] = text
                taken.add(squeeze(text))
    # A digital signal's words differ in the number alone.
    for neutral, written in seen.items():
        number = re.search(r"(?<!\d)(150|300|600|1200)(?!\d)", written)
        if table == "motor.signal" and neutral.startswith("dshot") and number:
            for rate in ("150", "300", "600", "1200"):
                word = f"dshot{rate}"
                text = written[: number.start()] + rate + written[number.end() :]
                if word not in seen and (
                    word not in spelled or squeeze(spelled[word]) != squeeze(text)
                ):
                    spelled[word] = text
    return spelled


def _style(neutral: str, written: str):  # type: ignore[no-untyped-def]
    """How a written word is spelled from its neutral one; None where it is another word."""
    if squeeze(neutral) != squeeze(written):
        return None
    letters = [c for c in written if c.isalpha()]
    upper = all(c.isupper() for c in letters)
    title = not upper and written[:1].isupper()
    join = next((c for c in written if not c.isalnum()), "-" if "-" not in neutral else "")

    def spell(word: str) -> str:
        parts = word.split("-")
        if upper:
            parts = [part.upper() for part in parts]
        elif title:
            parts = [part.capitalize() for part in parts]
        return join.join(parts)

    return spell if spell(neutral) == written or "-" not in neutral else None
