"""The words that invented firmware authors choose from, in two halves that share little.

Each idea of the trade has words that no author could avoid (in both halves) and words of the
halves' own: an author of the half ``open`` writes ``lo`` where one of ``held`` writes
``bottom``.  A word may hold several parts, divided by blanks; names join them in their own way.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

Half = Literal["open", "held"]


class Idea(NamedTuple):
    """Words for one idea: those of both halves, and each half's own."""

    both: tuple[str, ...]
    open: tuple[str, ...]
    held: tuple[str, ...]

    def words(self, half: Half) -> tuple[str, ...]:
        return self.both + (self.open if half == "open" else self.held)


def one_idea(both: str, opened: str, held: str) -> Idea:
    return Idea(
        *(tuple(w.strip() for w in t.split(",") if w.strip()) for t in (both, opened, held))
    )


IDEAS: dict[str, Idea] = {
    # what is spoken of
    "motor": one_idea("motor", "mot, motors", "mtr, drive"),
    "esc": one_idea("esc", "escs", "speed ctl"),
    "receiver": one_idea("receiver, rx", "recv, radio", "rcvr, rc link"),
    "channel": one_idea("channel, ch", "chan", "chn, axis"),
    "stick": one_idea("stick", "sticks", "rc, stk"),
    "failsafe": one_idea("failsafe", "fs, lost link", "fsafe, signal loss, link loss"),
    "battery": one_idea("battery", "batt, pack", "bat, lipo"),
    "cell": one_idea("cell", "cel, per cell", "vcell, one cell"),
    "port": one_idea("port, uart", "serial port, com", "ser, tty"),
    "video": one_idea("video", "vid tx, video tx", "vid, picture tx"),
    "selfright": one_idea("turtle", "flip over, self right", "upright, roll back"),
    "log": one_idea("log", "logger, recorder", "flight log, datalog"),
    "loop": one_idea("loop", "control loop, main loop", "cycle, ctrl loop"),
    "throttle": one_idea("throttle", "thr", "thrtl, gas"),
    "lostgas": one_idea("throttle level", "thr, throttle setting", "gas, thrtl, hover throttle"),
    "pulse": one_idea("pulse", "pulse width, pls", "pw, servo pulse"),
    # what is said of it
    "signal": one_idea("protocol", "proto, signal", "output type, sig, talk"),
    "linkkind": one_idea("protocol, type", "proto, kind", "mode, format, link"),
    "twoway": one_idea("bidirectional", "both ways, two way, rpm reply", "answers, talkback"),
    "idle": one_idea("idle", "idle speed, spin", "idling, min spin, idle drive"),
    "still": one_idea("stop", "off, standstill", "disarmed, zero, halt"),
    "low": one_idea("min", "low, lo", "lowest, least, minimum"),
    "mid": one_idea("mid, center", "centre, neutral", "middle, ctr, rest"),
    "high": one_idea("max", "high, hi", "highest, most, maximum"),
    "rate": one_idea("rate", "freq, update rate", "frequency, speed, refresh"),
    "poles": one_idea("magnets", "pole count, magnet poles", "magnet count, npoles, bell magnets"),
    "port_of": one_idea("port, uart", "on port, serial", "socket, port no"),
    "baud": one_idea("baud", "baud rate, bitrate", "bps, line speed, speed"),
    "inverted": one_idea("inverted, invert", "inv, inversion", "flip, upside down, inverse"),
    "oneline": one_idea("half duplex", "one wire, halfdup", "single wire, hdx, shared wire"),
    "order": one_idea("order", "ordering, stick map", "sequence, layout, assignment"),
    "lowmark": one_idea("low", "low limit, min", "lo mark, lowest, low threshold"),
    "highmark": one_idea("high", "high limit, max", "hi mark, highest, high threshold"),
    "dead": one_idea("deadband", "dead zone, dband", "dead, slack, dead band"),
    "action": one_idea("action", "behaviour, does", "act, response, reaction"),
    "wait": one_idea("timeout", "wait, after", "grace, hold off, guard time"),
    "chemistry": one_idea("chemistry, type", "chem, kind", "cell type, material"),
    "count": one_idea("cell count", "cells, cells in series", "num cells, ncells, series"),
    "full": one_idea("full, max", "charged, high", "top, fully charged, maximum"),
    "warn": one_idea("warn, warning", "alert, low", "caution, alarm, warn at"),
    "empty": one_idea("empty, min", "critical, flat", "land now, cutoff, dead"),
    "function": one_idea("function", "use, job", "role, purpose, carries, func"),
    "frequency": one_idea("frequency", "mhz, tx freq", "carrier, rf freq"),
    "power": one_idea("output power", "pwr, milliwatts", "tx power, strength, rf power"),
    "drive": one_idea("power", "strength, pwr", "force, drive, output"),
    "on": one_idea("enabled", "on, enable", "active, keep, armed logging"),
    "name": one_idea("name, callsign", "model name", "called, craft label"),
}

#: For each neutral setting, phrases of ideas; ``N`` is the number of one of a family.
PHRASES: dict[str, tuple[tuple[str, ...], ...]] = {
    "craft.name": (("name",),),
    "motor.signal": (("motor", "signal"), ("esc", "signal"), ("motor", "esc", "signal")),
    "motor.two_way": (("motor", "twoway"), ("esc", "twoway")),
    "motor.idle_percent": (("motor", "idle"), ("idle", "throttle"), ("motor", "throttle", "idle")),
    "motor.pulse_stop_us": (("motor", "still"), ("motor", "pulse", "still"), ("esc", "still")),
    "motor.pulse_min_us": (("motor", "low"), ("motor", "pulse", "low"), ("esc", "low")),
    "motor.pulse_max_us": (("motor", "high"), ("motor", "pulse", "high"), ("esc", "high")),
    "motor.rate_hz": (("motor", "rate"), ("esc", "rate")),
    "motor.poles": (("motor", "poles"),),
    "loop.rate_hz": (("loop", "rate"),),
    "receiver.link": (("receiver", "linkkind"),),
    "receiver.port": (("receiver", "port_of"),),
    "receiver.baud": (("receiver", "baud"),),
    "receiver.inverted": (("receiver", "inverted"),),
    "receiver.half_duplex": (("receiver", "oneline"),),
    "receiver.channel_order": (("channel", "order"), ("receiver", "order"), ("stick", "order")),
    "channel.N.low_us": (("channel", "N", "low"),),
    "channel.N.mid_us": (("channel", "N", "mid"),),
    "channel.N.high_us": (("channel", "N", "high"),),
    "stick.low_us": (("stick", "lowmark"),),
    "stick.high_us": (("stick", "highmark"),),
    "stick.centre_us": (("stick", "mid"),),
    "stick.dead_band_us": (("stick", "dead"),),
    "failsafe.action": (("failsafe", "action"),),
    "failsafe.delay_s": (("failsafe", "wait"),),
    "failsafe.throttle_us": (("failsafe", "lostgas"),),
    "failsafe.channel.N": (("failsafe", "channel", "N"),),
    "battery.chemistry": (("battery", "chemistry"), ("cell", "chemistry")),
    "battery.cells": (("battery", "count"),),
    "battery.full_v": (("battery", "full"), ("battery", "cell", "full"), ("cell", "full")),
    "battery.warn_v": (("battery", "warn"), ("battery", "cell", "warn"), ("cell", "warn")),
    "battery.empty_v": (("battery", "empty"), ("battery", "cell", "empty"), ("cell", "empty")),
    "port.N.functions": (("port", "N", "function"),),
    "port.N.baud": (("port", "N", "baud"),),
    "port.N.inverted": (("port", "N", "inverted"),),
    "port.N.half_duplex": (("port", "N", "oneline"),),
    "video.frequency_mhz": (("video", "frequency"),),
    "video.power_mw": (("video", "power"),),
    "self-right.power_percent": (("selfright", "drive"),),
    "log.on": (("log", "on"),),
}

UNITS: dict[str, Idea] = {
    "us": one_idea("us", "usec", "micros"),
    "ms": one_idea("ms", "msec", "millis"),
    "ds": one_idea("", "ds", "tenths"),
    "s": one_idea("", "s, sec", "secs, seconds"),
    "hz": one_idea("hz", "", ""),
    "khz": one_idea("khz", "", ""),
    "pct": one_idea("", "pct", "percent"),
    "permille": one_idea("permille", "pm", "per1000"),
    "x100": one_idea("", "x100", "hundredths"),
    "v": one_idea("v", "volt", "volts"),
    "mv": one_idea("mv", "", "millivolt"),
    "cv": one_idea("", "cv", "v100"),
    "dv": one_idea("", "v10", "dv"),
    "mhz": one_idea("mhz", "", ""),
    "mw": one_idea("mw", "", ""),
    "period": one_idea("", "period us", "interval us"),
}

VERBS = one_idea("set", "let, put, def", "cfg, assign, param, give")
RECORDS: dict[str, Idea] = {
    "channel": one_idea("channel, ch", "chan, span", "axis, travel"),
    "port": one_idea("port, uart", "com, serport", "socket, tty"),
    "range": one_idea("mode", "when, switch, use", "range, act, active"),
    "link": one_idea("link", "follow, joined", "with, tied"),
    "loss": one_idea("", "onloss, fsch", "lostch, fschan"),
}

#: Words for the values of enumerations; a dialect spells them in its own style.
VALUES: dict[str, dict[str, Idea]] = {
    "motor.signal": {
        "brushed": one_idea("brushed", "dc", "brush, duty"),
        "servo-pwm": one_idea("pwm", "standard", "servo, analog"),
        "oneshot125": one_idea("oneshot 125", "os 125", "one shot 125, 1shot125"),
        "oneshot42": one_idea("oneshot 42", "os 42", "one shot 42, 1shot42"),
        "multishot": one_idea("multishot", "multi", "multi shot, mshot"),
        "dshot150": one_idea("dshot 150", "ds 150", "digital shot 150, d150"),
        "dshot300": one_idea("dshot 300", "ds 300", "digital shot 300, d300"),
        "dshot600": one_idea("dshot 600", "ds 600", "digital shot 600, d600"),
        "dshot1200": one_idea("dshot 1200", "ds 1200", "digital shot 1200, d1200"),
    },
    "receiver.link": {
        "sbus": one_idea("sbus", "", "s bus"),
        "crsf": one_idea("crsf", "", "crsf 2wire"),
        "crsf-one-wire": one_idea("", "crsf one wire, crsf half", "crsf single, crsf 1w"),
        "ibus": one_idea("ibus", "", "i bus"),
        "dsm": one_idea("dsm", "dsmx", "dsm serial"),
        "srxl2": one_idea("srxl2", "", ""),
        "sumd": one_idea("sumd", "", ""),
        "fport": one_idea("fport", "", "f port"),
        "ppm": one_idea("ppm", "sum ppm", "cppm, ppm sum"),
    },
    "failsafe.action": {
        "stop": one_idea("stop", "cut, kill motors", "motors off, disarm"),
        "descend": one_idea("land", "descend", "landing, sink, come down"),
        "return-home": one_idea("return home", "rth, home", "go home, return, back home"),
        "hold-last": one_idea("hold", "hold last, freeze", "keep last, last values"),
        "none": one_idea("none", "nothing", "ignore, no action"),
    },
    "battery.chemistry": {
        "lipo": one_idea("lipo", "", "li po"),
        "lihv": one_idea("lihv", "lipo hv", "hv, li hv"),
        "li-ion": one_idea("liion", "ion", "li ion"),
        "life": one_idea("life", "lifepo4", "li fe, lifepo"),
    },
    "port.N.functions": {
        "receiver": one_idea("receiver, rx", "rc rx", "recv, rcvr"),
        "telemetry": one_idea("telemetry", "telem", "tlm, tele"),
        "esc-telemetry": one_idea("esc telemetry", "esc telem", "esc tlm, esc data"),
        "gps": one_idea("gps", "", "gnss"),
        "video-control": one_idea("", "video ctl, video command", "video tx, video control"),
        "camera-control": one_idea("camera", "cam ctl", "cam, camera control"),
        "log": one_idea("log", "logger", "datalog, flight log"),
        "console": one_idea("console", "cli, config", "terminal, shell"),
        "lights": one_idea("lights", "leds", "lamps, led strip"),
        "rangefinder": one_idea("rangefinder", "sonar", "lidar, range finder"),
    },
    "mode": {
        "arm": one_idea("arm", "armed", "arming"),
        "arm-permit": one_idea("", "pre arm, arm permit", "arm guard, arm safety"),
        "self-right": one_idea("turtle", "flip over, self right", "upright, roll over"),
        "self-level": one_idea("level", "self level, angle", "auto level, stabilise"),
        "idle-authority": one_idea("zero throttle hold", "stay firm", "idle authority, air"),
        "beacon": one_idea("beeper", "beacon, buzzer", "finder, lost beep"),
        "motor-stop": one_idea("motor stop", "stop motors", "motors off, mot stop"),
        "return-home": one_idea("return home", "rth, go home", "home, come home"),
        "hold-height": one_idea("altitude hold", "keep altitude", "height hold, lock height"),
        "hold-position": one_idea("position hold", "keep place", "lock position, hold place"),
        "log": one_idea("log", "logging, recorder", "flight log, datalog"),
        "lights": one_idea("lights", "leds", "lamps, strip"),
        "video-power": one_idea("", "video on, vid power", "picture on, video power"),
        "lost-link": one_idea("failsafe", "force failsafe, lost link", "fs test, link loss"),
    },
    "failsafe.channel.N": {
        "hold": one_idea("hold", "", "keep"),
        "drop": one_idea("", "none, cut", "off, nothing"),
    },
    "join": {"any": one_idea("or", "any", "either"), "all": one_idea("and", "all", "both")},
}

#: Section titles (in a dialect that has sections) by what the ideas' settings begin with.
TITLES: dict[str, Idea] = {
    "craft": one_idea("craft", "general", "model, misc"),
    "motor": one_idea("motor", "motors, outputs", "drive, mtr"),
    "loop": one_idea("loop", "control", "ctrl, core"),
    "receiver": one_idea("receiver, rx", "radio, recv", "rcvr, rc input"),
    "stick": one_idea("sticks", "rc", "stick, controls"),
    "failsafe": one_idea("failsafe", "lost link, fs", "signal loss, fsafe"),
    "battery": one_idea("battery", "batt, pack", "bat, power"),
    "video": one_idea("video", "video tx", "vid, picture"),
    "self-right": one_idea("turtle", "flip over", "upright"),
    "log": one_idea("log", "recorder", "datalog"),
    "channel": one_idea("channel, ch", "chan", "axis"),
    "port": one_idea("port, uart", "com, serial port", "socket, tty"),
    "mode": one_idea("mode", "switch", "function"),
    "cell": one_idea("cell", "per cell", "limits, cells"),
    "pulse": one_idea("pulse", "pulses", "pwm, widths"),
    "profile": one_idea("profile", "set", "bank, tune"),
}


def choices(half: Half, idea: str) -> tuple[str, ...]:
    """The words of one idea in one half."""
    return IDEAS[idea].words(half)
