"""Written words and what they mean: signal names, link names, modes, yes and no.

A table row lists phrases by which the trade says one neutral word.  A written word is compared
with them whatever its letter case, its separators and the order of its parts.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.settings import (
    CHEMISTRIES,
    FAILSAFE_ACTIONS,
    FRAMES,
    FRONT_PAIRS,
    LINKS,
    MODES,
    PLACES,
    PORT_FUNCTIONS,
    SIGNALS,
)
from cfglint.teach.words import TRADE_FUNCTIONS, TRADE_MODES

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Neutral word → phrases, divided by commas.  The neutral word itself always counts.  What
#: people say for more than one thing has a question mark, and is never sure.
_SIGNALS = {
    "brushed": (
        "brush, dc, duty?, duty cycle?, plain duty?, brushed motor, raw duty?, brushed pwm?, "
        "brush motor, brushes, raw?, duty only?, brushed dc, coreless?, direct duty?, dc motor"
    ),
    "servo-pwm": (
        "pwm?, servo?, standard pwm?, std pwm?, analog?, analog pwm?, normal pwm?, classic "
        "pwm?, pwm servo?, standard?, pwm std?, servo pulse?, rc pwm?, slow pwm?, plain pwm?, "
        "esc pwm?, 1 2ms, pulse?, ppm?, plain?, old?, basic pwm?, pulse width?, normal?, "
        "analogue?, analogue pwm?, regular?, legacy?, traditional?, servo signal?, slow?, std?, "
        "hobby pwm?, rc servo?"
    ),
    "oneshot125": "pulse 125, one shot 125, os 125, one 125, 1 shot 125, shot 125, one shot?",
    "oneshot42": "pulse 42, one shot 42, os 42, one 42, 1 shot 42, shot 42",
    "multishot": "multi shot, multi?, ms shot, mshot, multi pulse?",
    "dshot150": (
        "digital 150, ds 150, d 150, dig 150, digi 150, digital shot 150, d shot 150, dsh 150, "
        "dst 150, dgt 150"
    ),
    "dshot300": (
        "digital 300, ds 300, d 300, dig 300, digi 300, digital shot 300, d shot 300, dsh 300, "
        "dst 300, dgt 300"
    ),
    "dshot600": (
        "digital 600, ds 600, d 600, dig 600, digi 600, digital shot 600, d shot 600, dsh 600, "
        "dst 600, dgt 600"
    ),
    "dshot1200": (
        "digital 1200, ds 1200, d 1200, dig 1200, digi 1200, digital shot 1200, d shot 1200, "
        "dsh 1200, dst 1200, dgt 1200"
    ),
}
_LINKS = {
    "sbus": "s bus, sbus 1, serial bus",
    "crsf": (
        "crsf two wire, crsf 2, crsf 2 wire, crsf full, crsf duplex, crsf full duplex, crsf "
        "uart, crsf both, crsf 2w, two wire crsf, crsf tw, crsf serial, duplex crsf, crsf bidi, "
        "crsf normal, crsf rx"
    ),
    "crsf-one-wire": (
        "crsf 1, crsf half, crsf one, crsf 1 wire, crsf single, crsf single wire, crsf half "
        "duplex, crsf shared, crsf 1w, crsf hd, crsf ow, crsf one line, one wire crsf, half "
        "crsf, crsf sw, crsf mono, crsf hdx, crsf halfdup, single crsf, crsf onewire, crsf "
        "bidir one, crsf s, half duplex crsf, crsf simplex, crsf joined"
    ),
    "ibus": "i bus",
    "dsm": "dsm 2, dsm x, dsm serial, dsm satellite, dsm sat",
    "srxl2": "srxl, srxl v 2, srx l 2",
    "sumd": "sum d",
    "fport": "f port, fport 2, fport 1",
    "ppm": (
        "cppm, ppm sum?, sum?, pulse train?, sum ppm, ppm train?, sum signal, pulse sum?, sum "
        "pulse, pwm sum?, summed, pulse position, train?, cppm sum?, ppm in"
    ),
}
_ACTIONS = {
    "stop": (
        "cut, stop motors, cut motors, motors off?, kill, disarm, fall?, motors stop, halt?, "
        "cut out, motor cut, motor stop, motor off?, switch off?, kill motors, cut power, shut "
        "down?, cut off?, power off?, fall down?, let fall?, stop all, dead stick, off?, motors "
        "dead?, zero?, disengage, shutoff, motors cut, ditch?, plummet, release?, stop now, "
        "dead?, disarm now, cut all, halt motors, no power, unarm, end?"
    ),
    "descend": (
        "land, sink, go down?, auto land, landing, down?, descent, controlled descent, let "
        "down?, come down?, settle?, set down?, soft land, glide down?, slow down?, lower?, "
        "sink slowly, ease down?, land now, land here, float down?, ease?, slow sink, gentle "
        "down?, lower down?, touch down?, down slowly, soft landing, auto landing, land slowly, "
        "parachute, go low, drift down?, controlled landing, gentle landing"
    ),
    "return-home": (
        "return, home, come back?, go home, fly home, return home, rth, back home, come home, "
        "fly back?, return to home, go back?, home return, head home, recall, retrieve, base, "
        "to base, return to base, fly to home, homing, come?, back?, rtb, backtrack, retreat, "
        "turn back?, to home, home in, launch point"
    ),
    "hold-last": (
        "hold, keep, last, freeze, hold last, keep last, last values, as before, keep values, "
        "carry on, hold values, stay?, continue?, last known, keep going, hold on, latch?, "
        "repeat last, keep flying, fly on, as was, same?, unchanged, sustain, last input, last "
        "stick, last command, hold inputs, frozen, repeat, keep on, maintain, stay put, hold "
        "state, last state, keep state, as is, hold all"
    ),
    "none": (
        "nothing, no action, do nothing, ignore, never, unset, not set, disabled, no, none set, "
        "inactive, nil, nop, noop, unused, blank?, empty, absent, undefined, nought, null, na, "
        "no reaction, pass?, skip?, unconfigured, missing, nowt"
    ),
}
_CHEMISTRIES = {
    "lipo": (
        "li po, polymer, lithium polymer, lpo, li polymer, lp, poly?, pouch?, polymer cell, "
        "normal lipo, lipo 42, soft pouch?, std lipo, lithium poly?"
    ),
    "lihv": (
        "li hv, lipo hv, hv, high voltage, hv lipo, polymer high?, lipo high?, high volt, lhv, "
        "high?, high lipo, hi volt, lipo 435, 435, lipo plus"
    ),
    "li-ion": (
        "lion, ion, lithium ion, liion, li io, cylinder, round?, lion 18650, 18650, 21700, "
        "round cell, nmc, ion cells"
    ),
    "life": (
        "life po 4, iron, lfp, lithium iron, fe, life po, iron phosphate, ferro, fe po, "
        "ferrous, phosphate"
    ),
}
_FUNCTIONS = {
    "receiver": (
        "rx, rc rx, rx rc, rcv, recv, radio, rc, rcvr, rc in, rx in, remote, receiver in, radio "
        "in, control link, rec, radio link, uplink, control?, pilot?, handset, sticks?, control "
        "in, stick in, commands?, command in, pilot link, rc link, rc serial, rc receiver, rx "
        "link, steering?, radio rx, recvr, control receiver, controls?"
    ),
    "telemetry": (
        "tlm, telem, tele, downlink, telemetry out, radio telemetry, tlm out, back link, "
        "report?, ground link, reporting, status out, status?, back channel, sensors?, telem "
        "out, sensor out, tele metry, rx telemetry, rc telemetry, radio report?, ground "
        "report?, telemetry link"
    ),
    "esc-telemetry": (
        "esc tlm, esc telem, esc tele, motor telemetry, esc feedback, esc report?, esc data?, "
        "motor tlm, esc wire, esc in, esc reply, esc, escs, esc link, esc serial, motor "
        "feedback, motor data?, motor report?, speed report?, rpm?, esc back, esc return, esc "
        "status?, esc rpm?, esc readback, speed controller, motor sensor, esc info?"
    ),
    "gps": (
        "gnss, satellite navigation, satellite nav, satellite positioning, position receiver, "
        "gps receiver, gnss receiver, sat nav?, satellites, position?, sat?, nav sat, nav?, "
        "navigation, location?, fix?, globe, gnss in, positioning, gps in, sat receiver, sats"
    ),
    "video-control": (
        "video, vtx control?, video sender?, vid, video tx, vtx ctl, vid ctl, video ctl, "
        "picture sender?, video ctrl, vtx ctrl, video link, vid tx, vtx serial, sender?, video "
        "remote, tx control?, picture control?, video tuner, sender control?, vtx link, vid "
        "sender?, video transmitter, vtx remote, video manage, video command, vid control?, "
        "sender ctl"
    ),
    "camera-control": (
        "camera, cam, cam control?, cam ctl, camera ctl, lens, cam ctrl, camera ctrl, camera "
        "menu, camera remote, cam menu, cam remote, camera link, cam link, camera command, "
        "shutter?, optics?"
    ),
    "log": (
        "logger, logging, flight log, recorder, diary, journal, log out, flight recorder, "
        "data?, data log, trace, history?, log serial, recorder out, rec, flight data?, "
        "logbook, archive, memo?"
    ),
    "console": (
        "computer console, serial console, cli, host?, set up, config, shell, terminal, term, "
        "con?, pc?, computer, usb, command line?, bench, debug console, monitor, tty, "
        "configure, cmd, control panel, prompt, text?, maintenance, service?, admin?, desk?, "
        "workshop?, cmd line, repl, debug?, tools?, tool?, interactive, dialogue, keyboard?, "
        "laptop?, settings?, user?, tuning, commands line?"
    ),
    "lights": (
        "led, leds, lamps, lamp, light, strip, led strip, lamp control?, rgb, lighting, pixels, "
        "illumination, glow, lamps out, light strip, led out, strip leds, lamp strip, beams, "
        "strobe"
    ),
    "rangefinder": (
        "range finder, sonar, lidar, distance, range?, ground sensor, tof, height sensor, "
        "altimeter, ultrasonic, radar, laser, echo, echo sounder, ground distance, depth?, "
        "proximity, ranger, ranging, distance sensor, altitude sensor, sounder, ground ranger, "
        "lidar range?"
    ),
}
_MODES = {
    "arm": (
        "motors live, arm motors, live, motors on, armed mode, motor arm, arm switch, ready?, "
        "motors armed, enable motors, engage?, go?, hot?, ignition, spin up, run?, start "
        "motors, active?, power up, enable?, launch ready?, motors go?, fly?"
    ),
    "arm-permit": (
        "permit, arm permit, arm allow, allow arm, arm enable?, safety?, unlock?, arm unlock?, "
        "arm ready?, arm guard?, cover open, arm safety?, arm release, permit arm, may arm, arm "
        "ok, arm gate, arm consent, safe switch, safety off, arm key?, interlock, clearance, "
        "unlatch, double switch, second switch, safety catch, arm lock, lock off, allow, okay, "
        "cover?, safety cover?, guard?, safe?, safety switch, arming allowed, may fly?"
    ),
    "self-right": (
        "somersault, flip over, turn over, roll over, roll back?, self righting, righting, un flip, right "
        "itself, upright, flip, tortoise, overturn, flip back?, back on feet, uncapsize, right "
        "up, belly up, flip upright, turn upright, roll upright, get up, recover?, recovery, "
        "tumble, belly, backflip, tip over, unturn, flip mode, tip back?, back up, wrong way "
        "up, inverted recover?, uprighter, crash recover?, roll?"
    ),
    "self-level": (
        "level, auto level, stabilise, stabilize, attitude, levelling, leveling, stab, self "
        "level, level mode, self leveling, stable?, balance, levelled, bubble, keep level?, "
        "flat?, easy?, steady?, leveller, hands off, auto stab, upright, self stab, attitude "
        "hold, calm?, hover aid, horizontal, plumb, even?, stay level"
    ),
    "idle-authority": (
        "firm idle, idle control, zero throttle authority, idle stab, idle authority, full "
        "authority, keep authority, idle stabilise, always stabilise, idle hold, active idle, "
        "zero throttle stab, air authority, idle firm, low throttle authority, sustain, hang?, "
        "stay alive?, full control, keep control, always on, mix at idle, control at idle, idle "
        "gain, idle power, keep stab, stab at zero, floating?, never limp, alive?, alive idle, "
        "zero stab, no cut?, stabilise at zero throttle, control at zero throttle, grip at zero "
        "throttle, stab at zero throttle, alive at zero, live at zero, stabilised at zero"
    ),
    "beacon": (
        "shout, shouting, calling, beep, finder, chirp, sound?, lost model, locator, alarm, "
        "lost alarm, buzz, siren, find?, horn, lost beeper, locate, squeal, call out, finder "
        "tone?, whistle, bleep, search, sos, call?, squeak, sounder, noise, cry, ring?, seeker, "
        "bell, wail, ping, peep, tracker, find tone?, hoot, sound on, tone?, find craft, find "
        "model, where am i, audible"
    ),
    "motor-stop": (
        "motors stop, stop motors, motor off, rest motors, no idle, motors rest?, idle off, "
        "idle stop, stop at idle, stand still?, stop low, motor halt?, motors off, still?, no "
        "spin, throttle cut?, cut?, halt?, freeze motors, spin stop, props stop, prop stop, "
        "zero spin, rotor stop, rotors off, motor rest?, stop props, motors halt?, no spin at "
        "idle, engine stop, spin off, stop spin, rest?, throttle off"
    ),
    "return-home": (
        "return, home, come back?, go home, fly home, come home, back home, homing, return to "
        "home, homeward, fly back?, go back?, retour, recall, retrieve, back?, launch point?, "
        "return to start?, bring back?, go to start?, return to base?, base?, go base?, "
        "homecoming, backtrack"
    ),
    "hold-height": (
        "height hold, hold altitude, altitude hold, keep height, height, altitude, alt, keep "
        "altitude, height keep, level height, z hold, fix height, lock height, height lock, "
        "stay high, alti hold, elevation hold, stay height, vertical hold, ceiling?, level "
        "hold?, height fix, elevation, fixed height, same height, stay at height, vert hold, "
        "keep level height, hgt hold, height stay?, float?"
    ),
    "hold-position": (
        "parking, position hold, hold place, keep place, keep position, position, pos, stay?, place "
        "hold, hover?, gps hold, hold point?, station keep, fix position, xy hold, lock "
        "position, stay put, hold spot, anchor, park, hold here?, stop here?, location?, "
        "point?, pin?, steady?, freeze?, freeze place, stay here?, location hold, hold "
        "location?, still?, stop and stay?, keep spot, gps stay?, position lock, locked?, "
        "parked?, halt here?, fixed point?, stand?, sit?, hold still?, nail"
    ),
    "log": (
        "logger, logging, flight log, recorder, record, diary, log on, recording, write log, "
        "keep log, journal, rec, data log, trace, history?, write?, data?, capture, save "
        "flight, memo, flight data?, record flight, recorder on, write diary, logbook, archive"
    ),
    "lights": (
        "led, leds, lamps, lamp, light, lights on, lamps on, lighting, nav lights, strip, glow, "
        "strobe, illumination, beam, torch, headlight, headlights, flash, shine, light up, "
        "landing light, position lights, illuminate, bright"
    ),
    "video-power": (
        "video, video on, picture?, video sender?, vid power, vid, camera power, image, vid on, "
        "video tx, picture on, tv, transmit, broadcast, feed, live view?, stream, cam?, "
        "camera?, vid sender on, eye?, visual, video tx on, goggles, view?, picture power, "
        "image on, cam power, camera on, sender?, sender on, video supply, vid tx, screen feed"
    ),
    "lost-link": (
        "fail safe?, link lost, signal lost, loss, silence, lost signal, lost, link loss, "
        "signal loss, fs, no link, test loss, lost link test, play loss, no signal, force "
        "failsafe, radio loss, rx lost, rx loss, drill?, simulate, panic?, emergency, dropout, "
        "link cut?, fake loss, no radio, radio off, loss test, link fail?, signal gone, link "
        "gone, link down, signal drop, simulate loss, outage, blackout, fail?, bail out, "
        "disconnect"
    ),
}
_JOINS = {
    "any": "or, either, one of, one, any one, alone, or else, any of",
    "all": "and, both, every, all of, together, also, must, only",
}

#: Pairs of words by which a flag is set and cleared.
#: The same in other languages; only whole values are compared with them.
FOREIGN_YES_NO: tuple[tuple[str, str], ...] = tuple(
    tuple(pair.split("/"))  # type: ignore[misc]
    for pair in (
        "✓/✗ oui/non ja/nein si/no sí/no sì/no sim/não ja/nee ja/nej ano/ne tak/nie ein/aus an/aus "
        "aktiv/inaktiv marche/arrêt actif/inactif activé/désactivé encendido/apagado activo/inactivo "
        "activado/desactivado attivo/inattivo acceso/spento ligado/desligado ativo/inativo aan/uit "
        "på/av till/från zapnuto/vypnuto zap/vyp włączone/wyłączone wł/wył"
    ).split()
)
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
    ("set", "clr"),
    ("high", "low"),
    ("in", "out"),
    ("used", "unused"),
    ("with", "without"),
    ("do", "dont"),
    ("+", "-"),
    ("set", "unset"),
    ("aye", "nay"),
    ("engaged", "free"),
    ("inverted", "normal"),
    ("turned", "straight"),
    ("flipped", "straight"),
    ("inverted", "straight"),
    ("inv", "norm"),
    ("flipped", "plain"),
    ("x", "-"),
    ("ja", "nein"),
    ("sim", "nao"),
)

#: Words that say of a wire what a flag says elsewhere: yes and no.
FLAG_WORDS: dict[str, tuple[tuple[str, str], ...]] = {
    "inverted": (
        ("inverted", "normal"), ("inverted", "straight"), ("inverted", "plain"),
        ("invert", "normal"), ("inv", "normal"), ("inv", "nor"), ("inv", "norm"),
        ("inverted", "direct"), ("inverted", "noninverted"), ("inverted", "upright"),
        ("flipped", "normal"), ("flipped", "straight"), ("flipped", "upright"),
        ("flip", "normal"), ("reversed", "normal"), ("reverse", "normal"), ("rev", "norm"),
        ("reversed", "straight"), ("reverse", "forward"), ("turned", "straight"),
        ("negative", "positive"), ("neg", "pos"), ("inverted", "standard"),
        ("inverse", "normal"), ("inv", "std"), ("inverted", "not-inverted"),
    ),
    "half_duplex": (
        ("half", "full"), ("half-duplex", "full-duplex"), ("halfduplex", "fullduplex"),
        ("one", "two"), ("one-wire", "two-wire"), ("onewire", "twowire"), ("single", "dual"),
        ("single", "double"), ("shared", "separate"), ("single", "pair"), ("hd", "fd"),
        ("one_wire", "two_wire"), ("1wire", "2wire"), ("1-wire", "2-wire"),
        ("joined", "apart"), ("simplex", "duplex"), ("hdx", "fdx"),
    ),
}  # fmt: skip

for _table, _trade in ((_MODES, TRADE_MODES), (_FUNCTIONS, TRADE_FUNCTIONS)):
    for _word, _more in _trade.items():
        _table[_word] += f", {_more}"

_FRAMES = {
    "tri": "tricopter, y3, three",
    "quad-x": "x4, x four, four x, quadcopter x, quad?, quadcopter?, x?",
    "quad-plus": "quad +, quadcopter plus, plus?",
    "hex-x": "x6, x six, six x, hexa x, hexacopter x, hexa?, hexacopter?",
    "hex-plus": "hexa plus, hexacopter plus",
    "y6": "y 6",
    "octo-x": "octa x, octocopter x, octo?, octocopter?, octo flat x",
    "octo-plus": "octa plus, octocopter plus, octo flat plus",
    "x8": "x 8, octo quad?, coaxial quad?",
}
_FRONT_PAIRS = {
    "inwards": "inward, in?, props in",
    "outwards": "outward, out?, props out",
}
_ENDS = {"front": ("fore", "fwd"), "rear": ("back", "aft")}


def _said_of_place(place: str) -> str:
    """`rear-left`: back left, aft left, and `rl` or `bl`, which may be something else."""
    end, *more = place.split("-")
    phrases = [" ".join((one, *more)) for one in _ENDS.get(end, ())]
    if len(more) == 1 and end in _ENDS:
        phrases += [f"{letter}{more[0][0]}?" for letter in {"rear": "rb"}.get(end, "f")]
    return ", ".join(phrases or [place.replace("-", " ")])


_PLACES = {place: _said_of_place(place) for place in PLACES}

TABLES: dict[str, tuple[tuple[str, ...], dict[str, str]]] = {
    "motor.signal": (SIGNALS, _SIGNALS),
    "receiver.link": (LINKS, _LINKS),
    "failsafe.action": (FAILSAFE_ACTIONS, _ACTIONS),
    "battery.chemistry": (CHEMISTRIES, _CHEMISTRIES),
    "port.N.functions": (PORT_FUNCTIONS, _FUNCTIONS),
    "mode": (tuple(MODES), _MODES),
    "join": (("any", "all"), _JOINS),
    "frame.kind": (FRAMES, _FRAMES),
    "propellers.front_pair": (FRONT_PAIRS, _FRONT_PAIRS),
    "output.N.place": (PLACES, _PLACES),
}

#: Words for "no function at all", "an empty list".
NOTHING = frozenset(
    "none nothing off empty nil null free unused idle no void blank na n/a - -- spare".split()
)

_DIGITS = re.compile(r"\d+")
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
def _phrases(table: str) -> tuple[tuple[str, tuple[str, ...], str, float], ...]:
    """Every phrase of a table: the neutral word, its words, it squeezed, and how sure it is."""
    words, rows = TABLES[table]
    out = []
    for word in words:
        for phrase in (word, *rows[word].split(",")):
            sure = 0.72 if phrase.strip().endswith("?") else 1.0
            out.append((word, _words(phrase), squeeze(phrase), sure))
    return tuple(out)


@lru_cache(maxsize=16)
def _index(table: str) -> tuple[dict[str, list[int]], dict[str, list[int]]]:
    """The places of phrases by first letter, and by each word: others are like no written word."""
    by_letter: dict[str, list[int]] = {}
    by_word: dict[str, list[int]] = {}
    for at, (_, phrase, whole, _) in enumerate(_phrases(table)):
        by_letter.setdefault(whole[0], []).append(at)
        for word in phrase:
            by_word.setdefault(word, []).append(at)
    return by_letter, by_word


@lru_cache(maxsize=8192)
def meant(table: str, written: str) -> tuple[Meant, ...]:
    """What a written word may mean in a table, likeliest first; empty if nobody could tell."""
    small = squeeze(written)
    # A sign alone, or a number by itself, is no word.
    if not small or small.isdigit() or (table == "mode" and small in _BETWEEN):
        return ()
    parts = _words(written)
    found: dict[str, float] = {}
    every, by_letter, by_word = _phrases(table), *_index(table)
    near = set(by_letter.get(small[0], ()))
    near.update(at for part in parts for at in by_word.get(part, ()))
    for at in sorted(near):
        word, phrase, whole, sure = every[at]
        weight = sure * _likeness(small, parts, whole, phrase)
        if weight > found.get(word, 0.0):
            found[word] = weight
    cut = _apart(table, parts)
    for word, first, second in _pair_rows(table):
        # Each of two words one of a group: `keep` and `place`, in either order.
        used = [(a, b) for a in cut for b in cut if a != b and a in first and b in second]
        if not used:
            continue
        noise = [part for part in cut if part not in (*used[0], *_NOISE)]
        weight = max(0.86 - 0.25 * len(noise), 0.0)
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
    if _DIGITS.findall(small) != _DIGITS.findall(whole):
        return 0.0  # `one shot` is not `one shot 42`
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


#: Words that say a neutral word together, one of each group, in any order.
_PAIRS: dict[str, dict[str, tuple[str, str]]] = {
    "mode": {
        "hold-height": (
            "hold keep lock stay fix fixed freeze maintain same const constant hld held steady",
            "height alt altitude elevation baro vertical vert hgt alti z level",
        ),
        "hold-position": (
            "hold keep lock stay fix fixed freeze maintain same hld held steady",
            "position pos place spot point location gps xy station here posn loc",
        ),
        "return-home": (
            "return go fly come back rtn ret get bring head turn to",
            "home base start launch back origin takeoff",
        ),
        "motor-stop": (
            "stop halt rest still cut off kill no zero stand hold stopped quiet calm",
            "motor motors mot mtr rotor rotors prop props engine engines spin idle throttle thr mots low lowest",
        ),
        "lost-link": (
            "lost loss no dead fail failed gone drop cut force fake test simulate missing lose sim play rehearse try",
            "link signal rx radio receiver rc sig control failsafe fs contact recv loss lost drill",
        ),
        "self-right": (
            "flip roll turn right tip get self unflip crash inverted upside",
            "over back up right upright around righting recover recovery flip",
        ),
        "idle-authority": (
            "idle zero low full keep always active firm air stay",
            "authority control stab stabilise stabilize stabilised stabilized stabilisation throttle thr idle mix alive auth gain grip firm lively live awake",
        ),
        "self-level": (
            "self auto keep stay hold wings",
            "level levelling leveling stab stabilise stabilize balance angle lvl flat",
        ),
        "arm-permit": (
            "pre permit allow may can safe safety ok release unlock allowed gate key catch",
            "arm arming armed motors switch engage go key",
        ),
        "beacon": (
            "lost find finder finding grass model craft search locate locator",
            "beep beeper buzzer tone sound alarm model craft me beacon chime whistle",
        ),
        "video-power": (
            "video vtx vid fpv picture camera cam image tv feed",
            "power pwr on tx sender enable out transmit transmitter supply active air up",
        ),
        "lights": ("led leds lamp lamps light lights nav strip", "on power enable strip show"),
        "log": (
            "log logger recorder record data flight rec",
            "on enable log recorder rec start write",
        ),
    },
    "failsafe.action": {
        "stop": (
            "stop cut kill halt off shut switch turn",
            "motor motors power props engines drive drives rotors all out down",
        ),
        "descend": (
            "land descend sink slow auto go come controlled soft gentle",
            "down land now slowly descent landing",
        ),
        "return-home": ("return go fly come back to", "home base start launch"),
        "hold-last": (
            "hold keep freeze repeat",
            "last values output outputs old state channels inputs",
        ),
    },
    "port.N.functions": {
        "esc-telemetry": (
            "esc escs motor motors",
            "tlm telem telemetry tele sensor data feedback report rpm info status",
        ),
        "video-control": (
            "video vtx vid picture sender",
            "control ctl ctrl remote link command tx serial",
        ),
        "camera-control": ("camera cam", "control ctl ctrl remote link command menu"),
        "receiver": ("rx rc recv receiver radio serial", "rx rc in serial input receiver link"),
        "rangefinder": ("range distance height ground", "finder sensor meter sonar laser"),
        "log": ("flight data log", "log recorder rec out"),
        "lights": ("led lamp light", "strip control ctl out leds"),
    },
}


#: Words that stand between others, and mean nothing by themselves.
_BETWEEN = frozenset(
    "over under from to at in between while above below up down with and the of by for is be "
    "until through within beyond past".split()
)


@lru_cache(maxsize=8)
def _pair_rows(table: str) -> tuple[tuple[str, frozenset[str], frozenset[str]], ...]:
    rows = _PAIRS.get(table, {})
    return tuple(
        (word, frozenset(a.split()), frozenset(b.split())) for word, (a, b) in rows.items()
    )


@lru_cache(maxsize=8)
def _vocabulary(table: str) -> frozenset[str]:
    """Every word of a table's phrases and pairs, for glued words."""
    found = {part for _, phrase, _, _ in _phrases(table) for part in phrase if len(part) >= 2}
    for _, first, second in _pair_rows(table):
        found |= {part for part in first | second if len(part) >= 2}
    return frozenset(found | _NOISE)


def _apart(table: str, parts: tuple[str, ...]) -> tuple[str, ...]:
    """The parts with glued ones (`keepheight`) cut into words of the table."""
    out: list[str] = []
    for part in parts:
        words = _vocabulary(table)
        if part in words or len(part) < 5:
            out.append(part)
            continue
        for cut in range(2, len(part) - 1):
            if part[:cut] in words and part[cut:] in words:
                out += [part[:cut], part[cut:]]
                break
        else:
            out.append(part)
    return tuple(out)


_NOISE = frozenset(
    "at while mode switch sw fn mod the is on a to state flag function craft model".split()
)


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
    for word, text in _trade_spelled(table, list(seen.values())).items():
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


#: Words that are the trade's own names of a thing, as it writes them: they mean nothing else.
_TRADE = {
    "motor.signal": (
        "DShot150 DShot300 DShot600 DShot1200 OneShot125 OneShot42 MultiShot",
        "dshot150 dshot300 dshot600 dshot1200 oneshot125 oneshot42 multishot",
    ),
    "receiver.link": (
        "SBUS CRSF iBUS DSM SRXL2 SUMD FPort PPM",
        "sbus crsf ibus dsm srxl2 sumd fport ppm",
    ),
    "battery.chemistry": ("LiPo LiHV Li-Ion LiFe", "lipo lihv li-ion life"),
}


def _trade_spelled(table: str, written: Sequence[str]) -> dict[str, str]:
    """The trade's own names, in letters as large as those of the words seen; none elsewhere."""
    if table not in _TRADE or not written:
        return {}
    names, words = (text.split() for text in _TRADE[table])
    letters = "".join(c for text in written for c in text if c.isalpha())
    if not letters:
        return {}  # code numbers
    if letters.isupper():
        names = [name.upper() for name in names]
    elif letters.islower():
        names = [name.lower() for name in names]
    return dict(zip(words, names, strict=True))


def _style(neutral: str, written: str):  # type: ignore[no-untyped-def]
    """How a written word is spelled from its neutral one; None where it is another word."""
    if squeeze(neutral) != squeeze(written):
        return None
    letters = [c for c in written if c.isalpha()]
    upper = all(c.isupper() for c in letters)
    title = not upper and not written.islower()
    join = next((c for c in written if not c.isalnum()), "-" if "-" not in neutral else "")

    def spell(word: str) -> str:
        parts = word.split("-")
        if upper:
            parts = [part.upper() for part in parts]
        elif title:
            parts = [part.capitalize() for part in parts]
        return join.join(parts)

    # `LiPo` has capitals of its own, which say nothing of other words.
    return spell if spell(neutral) == written or ("-" not in neutral and not title) else None
