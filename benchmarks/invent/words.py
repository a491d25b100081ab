"""The words that invented firmware authors choose from, in two halves.

Every row is ``both / open / held``: words that no author of the trade could do without, and what
only authors of one half write.  Choices are divided by commas; a choice may be several words,
which names join in their own way.
"""

from __future__ import annotations

from typing import Literal

Half = Literal["open", "held"]


def choices(row: str, half: Half) -> list[str]:
    """What an author of a half may write."""
    both, opened, held = row.split(" / ")
    own = opened if half == "open" else held
    return [word.strip() for part in (both, own) for word in part.split(",") if word.strip()]


#: What is spoken of: titles of sections, and the beginning of a name that stands alone.
SUBJECTS = {
    "craft": "craft / model, aircraft / airframe, machine",
    "motor": "motor / esc, motors / drive, propulsion",
    "loop": "loop / control loop, main loop / control cycle, flight loop",
    "receiver": "receiver / rx, radio / rc input, radio link",
    "stick": "stick / sticks, stick marks / levers, transmitter sticks",
    "loss": "lost link / link loss, radio silence / signal loss, no signal",
    "battery": "battery / pack, batt / power pack, accumulator",
    "video": "video / video sender, camera link / picture sender, video out",
    "turtle": "turtle / flip over, roll upright / rolling back, self righting",
    "log": "flight log / recorder, logger / logbook, data log",
}

#: Each neutral setting: its subject, and what is said of it.
SETTINGS = {
    "craft.name": ("craft", " / called, callsign / nickname, painted name"),
    "craft.board": ("craft", "board / controller, hardware / flight board, main board"),
    "craft.firmware": ("craft", "firmware / version, software / firmware version, release"),
    "motor.signal": ("motor", "signal / protocol, signal type / speaks, signalling"),
    "motor.two_way": ("motor", " / two way, reports back, talks back / bidirectional, answers"),
    "motor.idle_percent": (
        "motor",
        " / idle drive, idle level, least drive / idle share, slowest spin, minimum drive",
    ),
    "motor.pulse_stop_us": ("motor", " / stop pulse, pulse at rest / standstill pulse, off pulse"),
    "motor.pulse_min_us": ("motor", " / lowest pulse, pulse low / bottom pulse, smallest pulse"),
    "motor.pulse_max_us": ("motor", " / highest pulse, pulse high / top pulse, largest pulse"),
    "motor.rate_hz": ("motor", " / command rate, refresh rate / update frequency, send rate"),
    "motor.poles": ("motor", " / magnets, bell magnets / magnet count, magnets per bell"),
    "loop.rate_hz": ("loop", "rate / frequency, runs / pace, turns"),
    "receiver.link": ("receiver", "protocol / kind, speaks / language, format"),
    "receiver.port": ("receiver", "port / plugged into, wired to / socket, connector"),
    "receiver.baud": ("receiver", "baud / speed, bit rate / line speed, wire speed"),
    "receiver.inverted": ("receiver", "inverted / flipped signal, invert / inversion, upside down"),
    "receiver.half_duplex": ("receiver", " / one wire, shared wire / single wire, half duplex"),
    "receiver.channel_order": (
        "receiver",
        " / channel order, order / channel sequence, lever order",
    ),
    "stick.low_us": ("stick", " / low mark, low below / bottom threshold, counts as low"),
    "stick.high_us": ("stick", " / high mark, high above / top threshold, counts as high"),
    "stick.centre_us": ("stick", "centre / middle, rest / neutral, resting point"),
    "stick.dead_band_us": ("stick", "dead band / dead zone / slack, play"),
    "failsafe.action": ("loss", "action / what to do, then / reaction, response"),
    "failsafe.delay_s": ("loss", " / wait, act after, grace time / timeout, patience"),
    "failsafe.throttle_us": (
        "loss",
        " / descent throttle, sinking throttle / throttle coming down, landing throttle",
    ),
    "battery.chemistry": ("battery", "chemistry / type, cell kind / cell chemistry, material"),
    "battery.cells": ("battery", "cells / cell count, in series / number of cells, series cells"),
    "battery.full_v": ("battery", " / full cell, cell full / charged cell, cell charged"),
    "battery.warn_v": ("battery", " / warn cell, cell warning / cell alarm, alert per cell"),
    "battery.empty_v": ("battery", " / empty cell, cell empty / flat cell, cell flat"),
    "video.frequency_mhz": ("video", "frequency / carrier / radio frequency, sends on"),
    "video.power_mw": ("video", "power / output, output power / transmit power, strength"),
    "self-right.power_percent": ("turtle", "power / drive, motor power / force, thrust"),
    "log.on": ("log", " / on, enabled, keep / recording, running"),
}
#: The loop said by its period.
PERIOD = " / period, cycle time / duration, time per turn"

#: What heads groups of rows and their columns.
LABELS = {
    "port": "port, uart / serial port / socket, connector",
    "use": "function / use, job / role, carries",
    "baud": "baud / speed, bit rate / line speed, rate",
    "inverted": "inverted / invert, flipped / inversion, upside down",
    "half": " / one wire, shared wire / single wire, half duplex",
    "channel": "channel / ch, chan / chnl, lane",
    "low": " / low, from, min / lowest, begins, bottom",  # in step with "high"
    "mid": " / mid, middle, centre / neutral, rest, centred",
    "high": " / high, to, max / highest, ends, top",
    "half width": " / half width, plus minus / reach, either side",
    "span": " / between, range, window / zone, spread, band",
    "mode": "mode / does, switches on / job, effect",
    "join": " / join, combine / with others, logic",
    "follows": " / along with, with / follows, pulled by",
    "after": "on lost link / at loss, when lost / without signal, on silence",
    "range": " / range, switch range / condition, trigger",
    "ports": "ports / serial ports, uarts / sockets, connectors",
    "ends": " / channel ends, endpoints / stick travel, channel limits",
    "ranges": " / modes, switches / switch jobs, what switches do",
    "links": " / mode links, linked modes / followers, modes that follow",
    "losses": " / channels at loss, lost channels / channels without signal, silent channels",
}

MODES = {
    "arm": "arm / armed, motors live / arming, motors may turn",
    "arm-permit": " / arm permit, arm enable / arming gate, arm release",
    "self-right": "turtle / flip over, self right / roll back over, upright",
    "self-level": "self level / level, levelled / auto level, stay level",
    "idle-authority": " / zero throttle hold, live idle / idle grip, steady at idle",
    "beacon": " / beacon, finder tone / lost model tone, find me",
    "motor-stop": " / stop motors, motors hold still / motors rest, props still at low throttle",
    "return-home": "return home / fly home / come back, go home",
    "hold-height": " / hold height, height hold / keep height, altitude lock",
    "hold-position": " / hold position, position hold / keep place, stay put",
    "log": " / log, record flight / logbook, write log",
    "lights": "lights / lamps, light strip / lanterns, lamps lit",
    "video-power": " / video on, video sender / picture on, transmit video",
    "lost-link": " / lost link test, try lost link / failsafe test, play link loss",
}

FUNCTIONS = {
    "receiver": "receiver / rx, radio / rc input, rc receiver",
    "telemetry": "telemetry / telem / downlink, telemetry out",
    "esc-telemetry": "esc telemetry / esc report, esc data / motor data, esc sensor",
    "gps": "gps / gnss / satnav, gps receiver",
    "video-control": "video control / vtx, video sender / video tx control, picture sender",
    "camera-control": "camera control / camera, cam / camera remote, lens control",
    "log": "log / flight log, logger / logbook, recorder",
    "console": "console / command line, terminal / shell, setup",
    "lights": "lights / lamps, light strip / lanterns, led strip",
    "rangefinder": "rangefinder / distance sensor, sonar / ground distance, lidar",
}

#: What stands for a word of a neutral setting.
VALUES = {
    "motor.signal": {
        "brushed": "brushed / brush / brushed motors",
        "servo-pwm": " / pwm, servo pwm / servo pulses, plain pwm",
        "oneshot125": "oneshot 125 / one shot 125 / os 125",
        "oneshot42": "oneshot 42 / one shot 42 / os 42",
        "multishot": "multishot / multi shot / multiple shot",
        "dshot150": "dshot 150 / d shot 150 / ds 150",
        "dshot300": "dshot 300 / d shot 300 / ds 300",
        "dshot600": "dshot 600 / d shot 600 / ds 600",
        "dshot1200": "dshot 1200 / d shot 1200 / ds 1200",
    },
    "receiver.link": {
        "sbus": "sbus / s bus / s.bus",
        "crsf": "crsf / crsf link / crsf serial",
        "crsf-one-wire": " / crsf one wire, crsf half duplex / crsf single wire, one wire crsf",
        "ibus": "ibus / i bus / i.bus",
        "dsm": "dsm / dsmx, dsm satellite / satellite dsm",
        "srxl2": "srxl2 / srxl 2 / srxl v2",
        "sumd": "sumd / sumd / sum d",
        "fport": "fport / f port / f.port",
        "ppm": "ppm / ppm sum / cppm",
    },
    "failsafe.action": {
        "stop": " / stop, stop motors, cut / motors off, shut down, quit",
        "descend": " / descend, sink, settle / come down, go down slowly",
        "return-home": "return home / fly home / come back, go home",
        "hold-last": " / hold, hold last, keep / freeze, carry on",
        "none": "none / nothing / ignore, do nothing",
    },
    "battery.chemistry": {
        "lipo": "lipo / li po / lithium polymer",
        "lihv": "lihv / li hv / high voltage lipo",
        "li-ion": "li-ion / liion / lithium ion",
        "life": "life / lifepo4 / lithium iron",
    },
    "failsafe.channel": {
        "hold": " / hold, keep, last / freeze, stay, as it was",
        "drop": " / drop, off, silent / no pulse, mute, nothing",
    },
    "join": {"any": "or / any, either / alone, one suffices", "all": "and / all, both / needed"},
}
NOTHING = "none / free, -, unused / empty, spare, nothing"
#: Yes and no; whether any may be told from other values is the reader's to see.
FLAGS = "yes:no / on:off, true:false, 1:0, +:- / enabled:disabled, y:n, T:F, active:inactive"

#: Units of a quantity: name, what one is worth, digits behind the point.  ``per`` in front: the
#: value goes into what follows.  ``?`` behind: nobody could tell it if it were not said.
UNITS = {
    "us": " / us 1 0, us 1 0, ms 1000 3 / µs 1 0, usec 1 0",
    "%": " / % 1 1, permille .1 0 ? / pct 1 1, ‰ .1 0 ?",
    "Hz": " / Hz 1 0, kHz 1000 3 ? / hertz 1 0, per-second 1 0",
    "loop": " / Hz 1 0, kHz 1000 3 ?, per:us 1000000 0 ? / hertz 1 0, per:µs 1000000 0 ?",
    "s": " / s 1 1, ms .001 0 / sec 1 1, cs .01 0 ?",
    "V": " / V 1 2, mV .001 0 / volts 1 2, millivolts .001 0",
    "MHz": "MHz 1 0 / MHz 1 0 / GHz 1000 3",
    "mW": "mW 1 0 / mW 1 0 / W 1000 3",
    "baud": " / baud 1 0, Bd 1 0 / bps 1 0, kbit/s 1000 1",
    "": " /  1 0 /  1 0",
}
QUANTITY = {
    "loop.rate_hz": "loop", "motor.rate_hz": "Hz", "motor.idle_percent": "%",
    "self-right.power_percent": "%", "failsafe.delay_s": "s", "battery.full_v": "V",
    "battery.warn_v": "V", "battery.empty_v": "V", "video.frequency_mhz": "MHz",
    "video.power_mw": "mW", "receiver.baud": "baud", "motor.poles": "", "battery.cells": "",
}  # fmt: skip

COMMENTS = " / ;, //, --, ! / %%, rem, ~, ::"
VERBS = " / keep:at, mark:as, hold:to / give:the value, make:equal, want:to be"
BRACKETS = " / [ ], [[ ]], < > / === ===, ( ), -- --"
BLOCKS = " / begin:end, open:close / enter:leave, start:finish"
DONE = " / store, keep it, end of setup / write, that is all, finished"
PROMPTS = " / > list, ? setup / fc$ print, ready) tell"
NOTES = (
    " / new props on Tuesday, spare airframe, left rear arm was replaced, tuned in still air,"
    " do not lend, carries the small camera / flown by the ferry crowd, second build, check the"
    " lamp wire, for the night survey, borrowed receiver, heavy tail"
)
REMARKS = (
    " / checked twice, was lower before the crash, as on the other one, do not touch, see logbook"
    " / measured, by ear, from the maker's sheet, changed in spring, ask before changing"
)
BOARDS = " / reedling, marl, osprey, sedge, tidewrack / flint, harrow, quern, saltern, withy"
CALLED = (
    " / Avocet, Bittern, Curlew, Grey Plover, Old Dunlin, Egret / Lapwing, Godwit, Little Tern,"
    " Whimbrel, Two Knots, Sanderling"
)

#: Whole sentences for values, of either half; ``{yes|no}`` is a flag.
SENTENCES = {
    "craft.name": "This craft answers to {}. / They call me {}.",
    "craft.board": "It is built on a {}. / I am carried by a {} board.",
    "craft.firmware": "It runs release {}. / My firmware is {}.",
    "motor.signal": "The ESCs are told by {}. / I talk to my ESCs in {}.",
    "motor.two_way": "The ESCs {report|do not report} their speed on the signal wire."
    " / My ESCs {answer|stay mute} on the signal wire.",
    "motor.idle_percent": "An armed motor gets no less than {} of full drive."
    " / I never spin an armed motor with less than {}.",
    "motor.pulse_stop_us": "A pulse of {} keeps a motor still. / Motors rest at a pulse of {}.",
    "motor.pulse_min_us": "The lowest throttle is a pulse of {}. / Zero throttle is sent as {}.",
    "motor.pulse_max_us": "Full throttle is a pulse of {}. / All I can give is a pulse of {}.",
    "motor.rate_hz": "Commands go to the motors at {}. / I command the motors at {}.",
    "motor.poles": "There are {} magnets in a bell. / Each bell of mine hides {} magnets.",
    "loop.rate_hz": "The control loop runs at {}. / I think at a pace of {}.",
    "receiver.link": "The receiver speaks {}. / I am spoken to in {}.",
    "receiver.port": "The receiver is wired to port {}. / I listen on port {}.",
    "receiver.baud": "Its line runs at {}. / What I hear comes at {}.",
    "receiver.inverted": "Its signal is {inverted|not inverted}. / I get it {inverted|upright}.",
    "receiver.half_duplex": "It {shares|does not share} one wire with the board."
    " / We {take turns on one wire|have a wire each}.",
    "receiver.channel_order": "The sticks come as {}. / Stick channels reach me as {}.",
    "stick.low_us": "A stick below {} counts as low. / Under {} I call a stick low.",
    "stick.high_us": "A stick above {} counts as high. / Over {} I call a stick high.",
    "stick.centre_us": "A stick rests at {}. / Left alone, sticks stand at {}.",
    "stick.dead_band_us": "Within {} of that it counts as centred. / I overlook {} around there.",
    "failsafe.action": "When the link is lost the order is: {}. / If I lose you I do this: {}.",
    "failsafe.delay_s": "That is done after {}. / Before that I wait {}.",
    "failsafe.throttle_us": "A descent is flown with {} of throttle pulse."
    " / Coming down I keep throttle at {}.",
    "battery.chemistry": "The cells are {}. / I feed on {} cells.",
    "battery.cells": "There are {} of them in series. / I carry {} in a row.",
    "battery.full_v": "A full cell has {}. / I call a cell full at {}.",
    "battery.warn_v": "The first warning comes at {} a cell. / I start to worry at {} a cell.",
    "battery.empty_v": "A cell is empty at {}. / I am starving at {} a cell.",
    "video.frequency_mhz": "Video goes out on {}. / My picture travels on {}.",
    "video.power_mw": "Its power is {}. / I shout it with {}.",
    "self-right.power_percent": "Reversed motors get {} of drive. / I roll over with {}.",
    "log.on": "A flight log is {kept|not kept}. / I {write|do not write} a diary.",
}

#: Things that no neutral setting covers: subject and what is said of it, with a kind of value.
EXTRAS = {
    "open": {
        "handling": "roll grip f, pitch grip f, yaw grip f, roll calm n, pitch calm n, yaw calm n,"
        " steepest lean deg, punch guard %, settle time ms, spin brake flag",
        "smoothing": "first cut Hz, second cut Hz, hum notch Hz, notch depth dB, follow hum flag,"
        " delay ms, share %",
        "feel": "roll turn deg, pitch turn deg, yaw turn deg, softness %, edge softness %",
        "lamp": "count n, brightness %, colour colour, blink at warning flag, front n",
        "sound": "tone Hz, loudness %, greeting flag, key clicks flag",
        "screen": "rows n, columns n, show clock flag, show volts flag, corner place, dimming %",
        "homing": "height m, speed m, satellites n, turn radius m, land at home flag",
        "sensor": "offset x f, offset y f, offset z f, warm up ms, range g n, rotated deg",
        "camera": "tilt deg, shutter ms, wide view flag, remote key place",
        "task": "housekeeping Hz, lamp task Hz, sensor task Hz, spare share %",
    },
    "held": {
        "attitude": "roll firmness f, pitch firmness f, yaw firmness f, roll memory n,"
        " pitch memory n, yaw memory n, bank limit deg, gust relief %, recovery ms, soft flag",
        "sieve": "lower edge Hz, upper edge Hz, whistle trap Hz, trap width Hz, tracks rpm flag,"
        " lag ms, mix %",
        "response": "roll swiftness deg, pitch swiftness deg, bow %, dull zone n",
        "strip": "pixels n, glow %, hue colour, flash when flat flag, tail pixels n",
        "buzzer": "pitch Hz, volume %, boot song flag, nag pause ms",
        "overlay": "lines n, width n, timer shown flag, volts shown flag, anchor place, contrast %",
        "way back": "climb to m, cruise m, needs satellites n, circle m, descend there flag",
        "gyro": "bias x f, bias y f, bias z f, settling ms, full scale n, mounting deg",
        "lens": "angle deg, exposure ms, mirror flag, button place",
        "schedule": "slow jobs Hz, strip job Hz, gyro job Hz, reserve %",
    },
}
