"""The trade's words: what the parts of a setting's name speak of.

A name falls into words (:func:`split`), a word stands for *ideas* (:func:`ideas`), and a setting
is known by the ideas that its name puts together (:mod:`cfglint.teach.names`).  Words are the
trade's at large and plain English; abbreviations are understood by how they are made rather
than listed, but for those that leave no trace of the word.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Idea → the words of plain English that speak of it.  A word may speak of several; `lost+link`
#: is two words that say it together, apart or joined.
_PLAIN: dict[str, str] = {
    # what it is about
    "motor": (
        "motor mot mtr rotor propulsion drive thruster engine propeller prop spinner motoren "
        "moteur mots mtrs lift blade blades fan airscrew propulsor propellor powertrain thrusters "
        "rotors props"
    ),
    "esc": (
        "regulator stage driver bridge regler sc power+stage speed+controller speed+ctrl speed+ctl "
        "speed+controllers"
    ),
    "output": "output out outputs outs actuator actuators outp outlet actuation",
    "loop": (
        "stabilisation stabilization lp brain cpu loop cycle control scheduler task turn tick "
        "main core flight stabiliser stabilizer regulation inner cyc sched kernel controller"
    ),
    "receiver": (
        "receiver rcv rcvr recv rec radio remote uplink rcver receptor antenna rxer handset rxs"
    ),
    "port": (
        "device connected via port pt serial ser socket line plug connector com tty bus wire pad "
        "usart sio jack header interface iface intf ports sock hole outlet bay"
    ),
    "channel": "channel chan chn axis chnl lane track chnnl chans channels",
    "aux": "",
    "stick": (
        "stick sticks command cmd gimbal input rc pilot lever thumb hand joystick inputs steering "
        "commands ctl ctrl control tx transmitter handle tiller paddle knob rod"
    ),
    "descend": "descend descent descending sink sinking lowering landing",
    "failsafe": (
        "silent lost loss silence missing fallback dropout outage dead gone safe emergency "
        "blackout stale disconnect disconnected breakdown failing fsafe lost+link link+loss "
        "signal+loss no+link rx+loss no+signal rx+lost link+down signal+lost lost+signal "
        "lost+control link+gone rc+loss radio+loss no+rc rc+gone"
    ),
    "battery": (
        "battery batt bat cel cels pack accu accumulator cell cells voltage volt power supply "
        "juice energy akku tank fuel source batteries packs mains"
    ),
    "cell": "cell cells cel cels per+cell",
    "video": (
        "telly video vid picture camera image tv broadcast feed stream visual eye live imaging "
        "video+sender vid+tx video+tx picture+sender"
    ),
    "sender": "sender transmitter emitter txer transmit broadcaster",
    "self-right": (
        "somersault rollover rollback righting unflip upright flip crash capsize overturn turnover "
        "uprighting recover recovery tumble belly backflip tip unturn tortoise uncapsize "
        "self+right self+righting flip+over get+up right+side right+up"
    ),
    "log": (
        "log logging logger recorder record recording diary trace journal history memo datalog "
        "logbook archive flight+log flight+recorder blackbox black+box recorder+on"
    ),
    "craft": (
        "callsign nickname hostname device craft model aircraft vehicle airframe quad copter "
        "multirotor machine ship drone frame unit bird plane airplane flyer flier hull airship "
        "aeroplane rig build"
    ),
    # what of it
    "signal": (
        "signal protocol proto prot speech talk language speak waveform modulation signalling "
        "signaling encoding dialect format coding wave comms mod interface standard std transport "
        "framing command"
    ),
    "kind": (
        "type kind mode sort variant system family class style category make form choice variety"
    ),
    "link": (
        "link protocol proto prot signal talk speech language speak bus connection "
        "format encoding system standard interface transport comms coding framing medium carrier"
    ),
    "name": (
        "hostname nm name named title label callsign tag called id nickname handle alias nick"
    ),
    "two-way": (
        "reporting report reports spokenback talks replying answering twoway bidi bothways duplex "
        "reply answer answers feedback rpm return respond response replies backtalk echo tacho "
        "readback talkback listen revs twosided backward bidirectionally back tachometer "
        "speed+reply speed+report speed+sense rpm+report rev+count return+path back+channel"
    ),
    "one-wire": (
        "1w wires half 1wire shared single duplex hd hdx simplex half+duplex one+wire single+wire "
        "shared+wire one+line one+wired one+pin single+pin common+wire same+wire one+cable "
        "half+dup single+line"
    ),
    "invert": (
        "turn invert inverted inversion inv flip flipped turned negate negated reverse reversed "
        "polarity inverse upside neg opposite backwards swapped mirrored complement contrary "
        "invertd upside+down"
    ),
    "idle": (
        "rest resting tick idle idling spin spinning tickover ticking creep standby floor base "
        "baseline windmill purr underspeed slowest empty+run"
    ),
    "pulse": "pulse pulsewidth pw width endpoint duty pls plse impulse tick length",
    "throttle": "sink settle landing descent glide thrtl gas thrust collective accelerator thrttl gas+stick",
    "stop": (
        "cutoff motionless nought stationary stop stopped still off zero rest halt standstill "
        "stand cut kill hold shutoff silent null none quiet parked dormant asleep calm idle+off"
    ),
    "low": (
        "minimal below beneath slowest crawl lowermost creep bottommost low lo lower lowest min "
        "minimum least bottom start begin floor from small smallest mn under lows nadir lwr "
        "little"
    ),
    "mid": (
        "mid middle centre center neutral ctr cent mitte half median midpoint rest trim zero "
        "resting mean cntr ctre midst mdl neut home"
    ),
    "high": (
        "maximal above fastest roof flatout uppermost brim high hi upper highest max maximum most "
        "top end full ceiling upto ceil big biggest mx peak hgh hgst tip"
    ),
    "rate": (
        "cycle tick rate hz freq frequency khz speed period interval time cadence pace rhythm "
        "refresh update tempo turns sampling sample beat repetition repeat frequencies updates "
        "clock pps fps cycles hertz kilohertz"
    ),
    "per-second": "hz khz",
    "frequency": "freq frequency mhz ghz",
    "baud": (
        "baud bps speed bitrate bd speeds line+speed data+rate line+rate transfer+rate "
        "symbol+rate baud+rate"
    ),
    "poles": "bell bells mag mags pole poles magnet magnets pole+pairs pole+count",
    "count": (
        "count number num no n qty series s amount many total quantity nr nb size stack string "
        "row cnt how numbers pieces elements element blocks serial stacked inline units parallel "
        "in+series in+row"
    ),
    "order": (
        "order map mapping layout assignment sequence arrangement sort ordering permutation "
        "arrange arranged roster lineup mapped channel+map"
    ),
    "dead-band": (
        "db lazy numb sloppiness deadband dband dzone dead deadzone band slack tolerance play "
        "zone window slop ignore gap quiet insensitivity insensitive leeway backlash neutral+zone "
        "null+zone null+band silent+zone"
    ),
    "action": (
        "then action act do does doing behaviour behavior mode response reaction react policy "
        "plan what drop task method strategy type kind step routine answer measure handling "
        "handler remedy effect result outcome manoeuvre maneuver fate decision reply course "
        "behave move procedure fallback recovery emergency escape"
    ),
    "delay": (
        "detect detection waiting dly delay wait time timeout after hold holdoff guard pause "
        "grace latency period seconds until timer duration secs sec patience dwell lag before "
        "linger interval waits stall hold+time"
    ),
    "chemistry": (
        "chemistry chem kind type sort tech technology composition make material recipe cell+type "
        "cell+kind cell+tech"
    ),
    "full": (
        "brimming brimful full charged max maximum high top fresh upper hi ceiling most brim "
        "filled complete loaded peak crest topped+up full+charge"
    ),
    "warn": (
        "lo nagging tired warn warning alert caution alarm notice low reserve first soft amber "
        "yellow early attention remind beware nag hint heads orange first+alarm"
    ),
    "empty": (
        "empty crit critical min minimum land landing cutoff flat end depleted lowest last floor "
        "least dead stop cut final bottom hard red exhausted spent drained finish dry done rock "
        "reddest vacant discharge discharged dying"
    ),
    "functions": (
        "fn occupation roles hosts runs feeds talks serves speaks bound function functions func "
        "use usage role carry carries job duty purpose service task load mode assignment for does "
        "protocol payload app device attached peripheral owner assigned wired peer client gadget "
        "consumer occupant occupied hooked tenant user content talks+to"
    ),
    "number": "number num no nr index idx id which n select pin on at",
    "power": (
        "pw shove thrust vigour vigor might push power pwr strength drive percent pct level "
        "effort mw milliwatt output intensity throttle force watts wattage milliwatts boost "
        "energy juice muscle oomph gain"
    ),
    "on": (
        "on enable enabled active use keep run en start allow recording running wanted logged "
        "state activated armed yesno"
    ),
    "profile": "profile bank set slot preset prof scheme setup persona group recipe page",
    "in-use": (
        "use using active current selected select choice chosen now default index number actual"
    ),
    "percent": "percent pct perc promille permille",
    "version": (
        "version firmware release build fw rev revision ver sw software edition issue codebase "
        "level build+no"
    ),
    "board": (
        "board target hardware hw unit controller mcu platform device pcb mainboard brd circuit "
        "chip motherboard autopilot model+no"
    ),
    "range": (
        "selector selectors selection engage triggers range rng rg md when while use mode modes "
        "condition cond switch sw activate span window activation region zone trigger position "
        "pos toggle flick flip band"
    ),
    # what it is not about: other things that a controller has settings for
    "x-filter": (
        "filter flt filt sieve lowpass notch lpf hpf cutoff smoothing biquad dynamic harmonic q quality debounce "
        "median average averaging"
    ),
    "x-gain": (
        "gain p i d pid kp ki kd feedforward curve attenuation boost integral derivative "
        "proportional stiffness damping windup feel calm firmness"
    ),
    "x-gyro": (
        "gyro accel acc imu gyr accelerometer vibration calibration calib align alignment mag "
        "compass baro barometer altimeter sonar rangefinder pitot airspeed flow lidar"
    ),
    "x-gps": (
        "gps gnss satellite sats waypoint mission position altitude height climb descent homing "
        "home geofence fence navigation nav rescue glonass sbas speed+limit"
    ),
    "x-osd": (
        "screen overlay display font menu element hud artificial units splash contrast brightness "
        "ntsc pal dashboard"
    ),
    "x-light": "led leds lamp lamps light lights strip colour color hue blink strobe glow ring",
    "x-beep": (
        "beep beeper buzzer buzz tone chirp volume sound melody tune loudness speaker siren horn"
    ),
    "x-servo": "servo servos tilt gimbal pan tray flap retract aileron elevator shutter",
    "x-current": (
        "current amps amp ampere mah capacity meter shunt sag divider consumption adc resistor "
        "ratio wh energy scale offset"
    ),
    "x-telemetry": "tele sensor sensors downlink report reporting stream",
    "x-yaw": "yaw roll pitch axis tail heading",
    "x-arm": "gesture",
    "x-other": (
        "rating resistance inertia spool spinup reacquire rearm smooth interpolation resample "
        "debug trace stats statistics temperature temp fan flash sdcard card storage usb sleep "
        "password lock mixer mix wind thermal heater clock date utc zone dst language lens zoom "
        "joystick spectator lap timer race quality crc checksum spare reserved reserve unused "
        "stage step steps threshold thresholds debounce hysteresis margin jitter noise average "
        "avg bias trim trims offset offsets boosted cap slew ramp acceleration accelerate takeoff "
        "launch hover curve linear linearisation sag compensation cal kill"
    ),
    # how the craft is built
    "turned": "align alignment orientation orientated mounted mounting rotation rotated turned",
    "roll-turn": "roll",
    "pitch-turn": "pitch",
    "yaw-turn": "yaw heading",
    "frame": "frame airframe mixer arms",
    "propeller": "propeller propellers propellor prop props blades",
    "way-round": "direction sense rotation turn turns spin way",
    "accelerometer": "accelerometer accel acc gravity",
    "barometer": "barometer baro",
    "place": "place position seat sits corner",
    "fix": "fix fixes",
    "needs": "need needs needed require required requires await awaits",
}

#: The trade's own words, mark `trade`: no plain English, but spoken by pilots of several
#: unrelated firmwares and in the documents of open standards; common practice.
TRADE: dict[str, str] = {
    "motor": "dshot oneshot multishot brushless bldc",
    "esc": "esc escs",
    "loop": "pid gyro",
    "receiver": "sbus crsf ibus sumd srxl fport ppm dsm rx rc",
    "port": "uart uarts",
    "channel": "ch",
    "aux": "aux auxiliary",
    "failsafe": "failsafe fs",
    "battery": "lipo",
    "video": "vtx fpv",
    "sender": "tx",
    "self-right": "turtle",
    "two-way": "bidir bidirectional erpm telemetry",
    "throttle": "throttle thr",
    "stop": "disarm disarmed unarmed",
    "board": "fc",
    "x-gain": "expo rates ff",
    "x-osd": "osd",
    "x-telemetry": "telemetry tlm",
    "x-arm": "arm arming armed",
    "x-other": "rssi lq kv pit vario",
}

#: What the trade calls modes, each heard of several unrelated firmwares: mode → phrases as in
#: :mod:`cfglint.teach.meanings`.
TRADE_MODES: dict[str, str] = {
    "arm": "armed, arming",
    "arm-permit": "pre arm",
    "self-right": "turtle, turtle mode",
    "self-level": "angle?",
    "beacon": "beeper, buzzer, find me",
    "return-home": "rth, rtb",
    "lost-link": "failsafe, fs",
    "video-power": "vtx, vtx power, fpv",
}

#: The same of what ports carry.
TRADE_FUNCTIONS: dict[str, str] = {"video-control": "vtx", "telemetry": "tlm", "receiver": "rx, rc"}

#: Idea → all the words that speak of it.
IDEAS: dict[str, str] = {
    idea: f"{words} {TRADE[idea]}" if idea in TRADE else words for idea, words in _PLAIN.items()
}

#: Words that say a unit or nothing at all: they neither make nor mar a name.
FILLERS = frozenset(
    "pairs pair us usec micros microseconds ms msec millis s sec secs second seconds ds cs hz khz mhz ghz "
    "v volt volts mv millivolt cv dv pct percent permille promille mw cfg config conf setting "
    "settings set value val param parameter the of to a an in for per is be at by and pwm as "
    "default with my its their has each any it x10 x100 x1000 tenth tenths hundredth "
    "hundredths x v10 v100 level point data info mas ma general basic base "
    "while when this these those has have it sits stands there are was if then at "
    "so no all only also that which was will let put must can may our my we you your "
    "limit limits lim threshold thresh "
    "micro milli centi deci raw user rules rule".split()
)

#: Units that a name may end in: word → unit.
UNITS: dict[str, str] = {
    **dict.fromkeys(("us", "usec", "micros", "microseconds", "microsec"), "us"),
    **dict.fromkeys(("ms", "msec", "millis", "milliseconds", "millisec"), "ms"),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("ds", "tenth", "tenths", "x10", "decisec", "deciseconds", "dsec"), "tenths"),
    **dict.fromkeys(("cs", "hundredth", "hundredths", "x100", "centi", "centisec"), "hundredths"),
    **dict.fromkeys(("hz", "hertz", "persec"), "hz"),
    **dict.fromkeys(("khz", "kilohertz"), "khz"),
    "mhz": "mhz",
    "ghz": "ghz",
    **dict.fromkeys(("v", "volt", "volts"), "v"),
    **dict.fromkeys(("mv", "millivolt", "millivolts"), "mv"),
    **dict.fromkeys(("cv", "centivolt", "v100", "centivolts"), "hundredths"),
    **dict.fromkeys(("dv", "decivolt", "v10", "decivolts"), "tenths"),
    **dict.fromkeys(("pct", "percent", "perc", "prct"), "percent"),
    **dict.fromkeys(("permille", "promille", "permil", "ppt"), "permille"),
    **dict.fromkeys(("mw", "milliwatt", "milliwatts"), "mw"),
    **dict.fromkeys(("pairs", "polepairs"), "pairs"),
    **dict.fromkeys(("deg", "degs", "degree", "degrees"), "deg"),
    **dict.fromkeys(("period", "interval"), "period"),
}

_BY_WORD: dict[str, frozenset[str]] = {}
for _idea, _words in IDEAS.items():
    for _word in _words.replace("+", "").split():
        _BY_WORD[_word] = _BY_WORD.get(_word, frozenset()) | {_idea}

#: Long enough to be told apart when they stand glued together, or when they are abbreviated.
_GLUE = {word for word in _BY_WORD if len(word) >= 2} | {w for w in FILLERS if len(w) >= 2}
#: Words of ours with an ending; a listed word is the better find.
_ENDED = {word + "s" for word in _GLUE if len(word) >= 3 and not word.endswith("s")}
_ENDED |= {word + "ing" for word in _GLUE if len(word) >= 4 and not word.endswith(("s", "ing"))}
_ENDED -= _GLUE
_LONG = [word for word in _BY_WORD if len(word) >= 5]
_FOUR = [word for word in _BY_WORD if len(word) == 4]

_PARTS = re.compile(
    # Units first: their capitals begin no word.
    r"(?:MHz|kHz|GHz|mAh|mV|mW|mA|dV|cV)(?![A-Za-z])|"
    r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+|[^\W\d_]+"
)


@lru_cache(maxsize=8192)
def split(name: str) -> tuple[str, ...]:
    """The words and numbers of a name, in small letters: ``motorPulse_min2`` → motor pulse min 2."""
    apart: list[str] = []
    for part in _PARTS.findall(name):
        word = part.lower()
        if word.isdigit() or known(word):
            apart.append(word)
        else:
            apart.extend(_unglue(word) or [word])
    out: list[str] = []
    for word in apart:
        # Two words that are one of ours together: `lost link`, `half duplex`.
        if out and out[-1] + word in _BY_WORD:
            out[-1] += word
        else:
            out.append(word)
    return tuple(out)


@lru_cache(maxsize=8192)
def known(word: str) -> bool:
    """Whether a word is one of ours, as it stands or without a plural's s."""
    return word in _BY_WORD or word in FILLERS or (word[:-1] in _BY_WORD and word.endswith("s"))


def _unglue(word: str) -> list[str] | None:
    """Words that a glued one falls into, all of it, the fewest there are; None where none do.

    Short pieces count for more, so that long words win and chance finds of two letters lose.
    """
    if len(word) < 4 or len(word) > 40:
        return None
    size = len(word)
    best: list[tuple[float, list[str]] | None] = [None] * (size + 1)
    best[0] = (0.0, [])
    for start in range(size):
        here = best[start]
        if here is None:
            continue
        if start == size - 1 and word[start] in "vsn" and start >= 3:
            # A unit's letter at the end: `cellfullv`.
            cost = here[0] + 2.2
            rival = best[size]
            if rival is None or cost < rival[0]:
                best[size] = (cost, [*here[1], word[start]])
        for stop in range(start + 2, size + 1):
            piece = word[start:stop]
            if piece not in _GLUE and piece not in _ENDED:
                continue
            cost = here[0] + (1.0 if len(piece) >= 4 else 1.3 if len(piece) == 3 else 1.7)
            cost += 0.45 if piece in _ENDED else 0.0
            rival = best[stop]
            if rival is None or cost < rival[0]:
                best[stop] = (cost, [*here[1], piece])
    found = best[size]
    if found is None or len(found[1]) < 2:
        return None
    return found[1]


@lru_cache(maxsize=8192)
def ideas(word: str) -> tuple[tuple[str, float], ...]:
    """The ideas that a word stands for, each with how surely (0 to 1); empty for none of ours.

    A word that is not listed may be the beginning of one (``calib``), or one without most of its
    vowels (``rcvr``, ``thrtl``).
    """
    found: dict[str, float] = {}
    for form, weight in ((word, 1.0), (word[:-1] if word.endswith("s") else "", 0.95)):
        for idea in _BY_WORD.get(form, ()):
            found[idea] = max(found.get(idea, 0.0), weight)
    for form in () if found else _stems(word):
        for idea in _BY_WORD.get(form, ()):
            found[idea] = max(found.get(idea, 0.0), 0.85)
    if not found and len(word) >= 3 and not word.isdigit():
        shared: frozenset[str] | None = None
        for whole in _LONG:
            weight = _short_for(word, whole)
            if weight:
                shared = _BY_WORD[whole] if shared is None else shared & _BY_WORD[whole]
                for idea in _BY_WORD[whole]:
                    found[idea] = max(found.get(idea, 0.0), weight)
        if found and not shared:
            # Short for words that have nothing in common.
            found = {idea: 0.85 * weight for idea, weight in found.items()}
        for whole in _FOUR if not found and len(word) == 3 else ():
            if whole.startswith(word):
                for idea in _BY_WORD[whole]:
                    found[idea] = 0.8
    return tuple(sorted(found.items()))


def _stems(word: str) -> tuple[str, ...]:
    """What a word may be made of: ``waiting`` of wait, ``stopped`` of stop, ``idling`` of idle."""
    for ending in ("ing", "ed", "er", "est"):
        stem = word.removesuffix(ending)
        if stem != word and len(stem) >= 3:
            return (stem, f"{stem}e", stem[:-1] if stem[-1] == stem[-2] else "")
    return ()


def _short_for(word: str, whole: str) -> float:
    """How likely a word is short for another: 0 for not at all."""
    if len(word) >= len(whole):
        # A word of ours with an ending: `armed`, `inverting`.
        return (
            0.8 if len(whole) >= 5 and word.startswith(whole) and len(word) - len(whole) < 4 else 0
        )
    if whole.startswith(word):
        return 0.85
    if word[0] != whole[0] or len(word) < 3:
        return 0.0
    consonants = whole[0] + re.sub(r"[aeiouy]", "", whole[1:])
    if word in (consonants, whole[0] + re.sub(r"[aeiou]", "", whole[1:])):
        return 0.85
    bones = word[0] + re.sub(r"[aeiouy]", "", word[1:])
    rest = iter(consonants)
    if (
        len(bones) >= 3
        and all(letter in rest for letter in bones)
        and len(bones) >= 0.6 * len(consonants)
    ):
        return 0.7
    return 0.0


def unit_of(words: tuple[str, ...]) -> str:
    """The unit that a name says, ``""`` for none."""
    for word in reversed(words):
        if word in UNITS:
            return UNITS[word]
    # What a turn of the loop takes is a period: `turn time`, `lap_time`.
    if "time" in words and any(idea == "loop" for word in words for idea, _ in ideas(word)):
        return "period"
    return ""


def is_filler(word: str) -> bool:
    """Whether a word says nothing about what a setting is."""
    return word in FILLERS or word.isdigit()


def ideas_of(words: Iterable[str]) -> set[str]:
    """What words speak of plainly, together."""
    return {idea for word in words for part in split(word) for idea, w in ideas(part) if w >= 0.7}
