"""Single changes of settings, generated from the table of settings.

Each family has its function here, which says by the card, by physics and by the other settings
which values are faults and which are not.  One without a function joins by itself where the card
has a field of the same kind to compare it with: every other value is then a fault.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from benchmarks.faults.setups import Change, Makers, rules
from cfglint.craft.card import FIELDS
from cfglint.craft.settings import SETTINGS, family
from cfglint.facts.cells import CELLS
from cfglint.facts.links import LINKS
from cfglint.facts.signals import SIGNALS, highest_rate_hz

if TYPE_CHECKING:
    from collections.abc import Iterator

    from benchmarks.faults.setups import Setup

#: Settings of which, in one craft alone, any value may be right.
FREE = {
    "craft.board": "a name",
    "video.frequency_mhz": "compared within a fleet",
    "video.power_mw": "any that the law allows",
    "log.on": "either is right",
}
MAKERS = Makers()
of = MAKERS.of


def put(name: str, value: Any, *meant: str, also: tuple[str, ...] = ()) -> Change:
    """A setting gets a value."""

    def make(setup: Setup) -> None:
        setup.values[name] = value

    shown = ", ".join(sorted(value)) if isinstance(value, frozenset) else value
    title = f"{name} becomes {shown}"
    return Change(family(name), title, make, meant, also, ((name, value),))


def loaded(rule: str) -> bool:
    return any(one.id == rule for one, _ in rules())


def setting_changes(setup: Setup) -> Iterator[Change]:
    """Every change of a setting of this craft, faults and harmless ones."""
    for name in SETTINGS:
        maker = MAKERS.get(name)
        if maker is not None:
            yield from maker(setup)
        elif name in FREE:
            yield from _any(setup, name)
        elif (field := twin(name)) is not None:
            yield from _unlike_card(setup, name, field)


def without_oracle() -> list[str]:
    """Settings of which nothing here says what is a fault; there must be none."""
    return [n for n in SETTINGS if n not in MAKERS and n not in FREE and twin(n) is None]


#: Rules that compare what a dump says with a field of the card of the same name.
_BUILT: dict[str, tuple[str, ...]] = {
    **{f"board.{axis}_deg": ("build/board-turned",) for axis in ("roll", "pitch", "yaw")},
    "output.N.place": ("build/motor-order",),
    "propellers.front_pair": ("build/propellers-turn",),
    "frame.motors": ("build/number-of-motors",),
}


def twin(name: str) -> str | None:
    """The field of the card that says of the hardware what a setting says of the controller."""
    row, last = SETTINGS[name], name.rpartition(".")[2]
    for field in FIELDS.values():
        alike = field.name.rpartition(".")[2] == last and (".N." in field.name) == (".N." in name)
        if alike and (field.kind, field.words) == (row.kind, row.words):
            return field.name
    return None


def members(setup: Setup, name: str) -> list[str]:
    """The settings of a family that this craft has."""
    if "N" not in name.split("."):
        return [name] if setup.get(name) is not None else []
    return [name.replace("N", str(number)) for number in setup.numbers(name)]


def others(name: str, value: Any) -> list[Any]:
    """Other values of a setting's kind, those at the ends of what can be meant among them."""
    row = SETTINGS[family(name)]
    if row.kind == "word":
        return [word for word in row.words if word != value]
    if row.kind == "flag":
        return [not value]
    if row.kind in ("count", "number"):
        least, most = row.least or 0, row.most or 0
        step = 1 if row.kind == "count" else (most - least) / 8
        kind = int if row.kind == "count" else float
        near = {value + step, value - step, least, most}
        if row.unit == "deg":  # a whole turn is none
            near = {one for one in near if (one - value) % 360}
        return [kind(one) for one in sorted(near) if least <= one <= most and one != value]
    return []


def _any(setup: Setup, name: str) -> Iterator[Change]:
    for one in members(setup, name):
        if SETTINGS[name].kind == "flag":
            yield put(one, not setup.get(one))
        elif SETTINGS[name].kind in ("count", "number"):
            yield put(one, setup.get(one) + 7.0)


def _unlike_card(setup: Setup, name: str, field: str) -> Iterator[Change]:
    for one in members(setup, name):
        number = next((part for part in one.split(".") if part.isdigit()), "")
        if setup.fact(field.replace("N", number)) is None:
            continue
        for value in others(one, setup.get(one)):
            yield put(one, value, *_BUILT.get(family(one), ()), "*")


# ---------------------------------------------------------------- the craft and its motors


@of("craft.firmware")
def _firmware(setup: Setup) -> Iterator[Change]:
    # What every line means hangs on it, so only what is not described is a change by itself.
    for version in ("0.1", "88.3"):

        def dated(text: str, version: str = version) -> str:
            return text.replace(setup.version, version, 1)

        yield Change(
            "craft.firmware",
            f"the firmware is {version}",
            meant=("dump/firmware-not-described",),
            says=(("craft.firmware", version),),
            edit=dated,
        )
    floor = "fleet/firmware-below-floor"
    for least, meant in (("88.3", (floor,)), (setup.version, ())):
        yield Change(
            "craft.firmware",
            f"the club flies nothing older than {least}",
            meant=meant,
            options=((floor, "floors", [f"{setup.dialect} {least}"]),),
        )


@of("craft.name")
def _name(setup: Setup) -> Iterator[Change]:
    yield put("craft.name", "Quillback", "dump/name-unlike-card")
    yield put("craft.name", setup.craft.upper())


def _pulses(setup: Setup) -> bool:
    return SIGNALS[setup.get("motor.signal")].pulse_low_us is not None


def _own_rate(setup: Setup) -> float:
    return float(setup.get("motor.rate_hz") or setup.get("loop.rate_hz"))


@of("motor.signal")
def _signal(setup: Setup) -> Iterator[Change]:
    known, now = set(setup.fact("esc.signals")), setup.get("motor.signal")
    for word in SIGNALS:
        if word == now:
            continue
        if word not in known:
            rule = (
                "motor/left-on-default-signal"
                if word == "brushed"
                else "motor/signal-esc-does-not-speak"
            )
            yield put("motor.signal", word, rule)
            continue
        digital, two_way = SIGNALS[word].digital, bool(setup.get("motor.two_way"))
        if SIGNALS[word].pulse_low_us is not None and setup.fact("esc.pulse_min_us") is None:
            continue
        meant = []
        if _own_rate(setup) > (highest_rate_hz(word) or 1e9):
            meant.append("motor/command-outlasts-loop")
        elif two_way and digital and _own_rate(setup) > (highest_rate_hz(word, True) or 0):
            meant.append("motor/two-way-outlasts-loop")
        if two_way and not digital:
            meant.append("motor/two-way-unanswered")
        if setup.channels_of("self-right") and not digital:
            meant.append("motor/self-right-needs-digital")
        yield put("motor.signal", word, *meant)


@of("motor.two_way")
def _two_way(setup: Setup) -> Iterator[Change]:
    signal = SIGNALS[setup.get("motor.signal")]
    if setup.get("motor.two_way"):
        yield put("motor.two_way", False)
    elif not setup.fact("esc.two_way") or not signal.digital:
        yield put("motor.two_way", True, "motor/two-way-unanswered")


@of("motor.idle_percent")
def _idle(setup: Setup) -> Iterator[Change]:
    for percent in (0.0, 1.0, 18.0, 40.0):
        yield put("motor.idle_percent", percent, "motor/idle-out-of-bounds")
    for percent in (4.0, 8.0):
        yield put("motor.idle_percent", percent)


_ENDS = "motor/pulse-ends-off-calibration"
_ORDER = "motor/pulse-points-out-of-order"


@of("motor.pulse_stop_us")
def _stop(setup: Setup) -> Iterator[Change]:
    name, low = "motor.pulse_stop_us", setup.get("motor.pulse_min_us")
    if not _pulses(setup):
        yield put(name, low + 40)
        return
    begins = setup.fact("esc.pulse_min_us")
    yield put(name, begins + 40, _ENDS, _ORDER)
    yield put(name, begins - 400, _ENDS)
    yield put(name, low + 100, _ORDER, _ENDS)
    yield put(name, begins - 30)


@of("motor.pulse_min_us")
def _low(setup: Setup) -> Iterator[Change]:
    name = "motor.pulse_min_us"
    if not _pulses(setup):
        yield put(name, setup.get(name) + 5)
        return
    begins, ends = setup.fact("esc.pulse_min_us"), setup.fact("esc.pulse_max_us")
    yield put(name, begins - 30.0, _ENDS, _ORDER)
    yield put(name, begins + round((ends - begins) * 0.35), "motor/idle-out-of-bounds")
    yield put(name, ends + 10.0, _ORDER)
    yield put(name, setup.get(name) + 5)


@of("motor.pulse_max_us")
def _high(setup: Setup) -> Iterator[Change]:
    name = "motor.pulse_max_us"
    if not _pulses(setup):
        yield put(name, setup.get(name) - 15)
        return
    ends = setup.fact("esc.pulse_max_us")
    yield put(name, ends + 60.0, _ENDS)
    yield put(name, ends - 200.0, _ENDS)
    yield put(name, setup.get("motor.pulse_min_us") - 20.0, _ORDER)
    yield put(name, ends - 10.0)


@of("motor.rate_hz")
def _rate(setup: Setup) -> Iterator[Change]:
    signal = setup.get("motor.signal")
    if not _pulses(setup):  # then commands go with the loop
        yield put("motor.rate_hz", 60.0)
        return
    highest = highest_rate_hz(signal) or 0.0
    yield put("motor.rate_hz", 45.0, "motor/commands-too-seldom")
    yield put("motor.rate_hz", 110.0, "motor/commands-too-seldom")
    if highest < 90_000:
        yield put("motor.rate_hz", float(round(highest * 1.1)), "motor/command-outlasts-loop")
    yield put("motor.rate_hz", float(round(min(highest * 0.8, 3000))))


@of("motor.poles")
def _poles(setup: Setup) -> Iterator[Change]:
    now = setup.get("motor.poles")
    if setup.get("motor.signal") == "brushed":
        yield put("motor.poles", 9)
        return
    yield put("motor.poles", now + 1, "motor/odd-poles")
    yield put("motor.poles", 7, "motor/odd-poles")
    yield put("motor.poles", now + 2)


@of("loop.rate_hz")
def _loop(setup: Setup) -> Iterator[Change]:
    rule = "motor/loop-rate-out-of-bounds"
    for rate in (50.0, 250.0, 40_000.0, 50_000.0):
        yield put("loop.rate_hz", rate, rule, "motor/command-outlasts-loop")
    highest = highest_rate_hz(setup.get("motor.signal"), bool(setup.get("motor.two_way")))
    if setup.get("motor.rate_hz") or not highest:
        highest = 1e9
    yield put("loop.rate_hz", min(2000.0, highest * 0.9))


@of("self-right.power_percent")
def _drive(setup: Setup) -> Iterator[Change]:
    used = setup.channels_of("self-right")
    rule = ("motor/self-right-drive-out-of-bounds",) if used else ()
    for percent in (0.0, 3.0, 100.0):
        yield put("self-right.power_percent", percent, *rule)
    yield put("self-right.power_percent", 40.0)


# ---------------------------------------------------------------- the receiver


@of("receiver.link")
def _link(setup: Setup) -> Iterator[Change]:
    # On one wire or two, it is the same link by either name as long as the flag says which.
    bare = str(setup.get("receiver.link")).removesuffix("-one-wire")
    for word in LINKS:
        if word.removesuffix("-one-wire") != bare:
            yield put("receiver.link", word, "receiver/link-differs-from-card")


def receiver_port(setup: Setup) -> int:
    return int(setup.get("receiver.port"))


@of("receiver.port")
def _port(setup: Setup) -> Iterator[Change]:
    here = receiver_port(setup)
    rule = ("receiver/wired-to-another-port", "receiver/port-setting-disagrees")
    for other in (1, 2, 5):
        if other != here:
            yield put("receiver.port", other, *rule)
    yield put("receiver.port", 9, "dump/beyond-the-count", *rule)


@of("receiver.baud")
def _baud(setup: Setup) -> Iterator[Change]:
    for baud in (9600.0, 57600.0):
        yield put("receiver.baud", baud, "receiver/baud-off-the-link")
    yield put("receiver.baud", float(round(setup.get("receiver.baud") * 1.004)))


_INVERSION = ("receiver/inversion-not-normal", "receiver/inversion-flag-cannot-act")


@of("receiver.inverted")
def _inverted(setup: Setup) -> Iterator[Change]:
    # A link that may be either way round cannot be upside down.
    if LINKS[setup.get("receiver.link")].idle_inverted is not None:
        yield put("receiver.inverted", not setup.get("receiver.inverted"), *_INVERSION)


@of("receiver.half_duplex")
def _half(setup: Setup) -> Iterator[Change]:
    name = "receiver.half_duplex"
    yield from _shared(setup, name, f"port.{receiver_port(setup)}.half_duplex")


def _shared(setup: Setup, name: str, other: str) -> Iterator[Change]:
    """One of the two flags for one wire; either of them is enough to say that there is one."""
    if setup.get(name) is not None and not (setup.get(name) and setup.get(other)):
        yield put(name, not setup.get(name), "receiver/half-duplex-mismatch")


@of("receiver.channel_order")
def _order(setup: Setup) -> Iterator[Change]:
    for order in ("TAER", "RTEA", "AETR", "EATR"):
        if order != setup.get("receiver.channel_order"):
            yield put("receiver.channel_order", order, "receiver/channel-order-differs")


# ---------------------------------------------------------------- channels and sticks

_RISE = "channels/ends-out-of-order"


def _throttle(setup: Setup) -> int:
    return str(setup.get("receiver.channel_order")).index("T") + 1


@of("channel.N.low_us")
def _lows(setup: Setup) -> Iterator[Change]:
    for number in (1, _throttle(setup)):
        name = f"channel.{number}.low_us"
        now, mid = setup.get(name), setup.get(f"channel.{number}.mid_us")
        yield put(name, now + 150, "channels/travel-cut-off")
        yield put(name, now - 150, "channels/end-out-of-reach")
        yield put(name, mid + 100, _RISE)
        yield put(name, now + 6)


@of("channel.N.mid_us")
def _mids(setup: Setup) -> Iterator[Change]:
    for number in range(1, 5):
        name = f"channel.{number}.mid_us"
        now = setup.get(name)
        yield put(name, setup.get(f"channel.{number}.high_us") + 10, _RISE)
        if number != _throttle(setup):
            yield put(name, now + 40, "channels/stick-off-centre")
            yield put(name, now - 160, "channels/stick-off-centre")


@of("channel.N.high_us")
def _highs(setup: Setup) -> Iterator[Change]:
    for number in (2, _throttle(setup)):
        name = f"channel.{number}.high_us"
        now, mid = setup.get(name), setup.get(f"channel.{number}.mid_us")
        yield put(name, now - 150, "channels/travel-cut-off")
        yield put(name, now + 150, "channels/end-out-of-reach")
        yield put(name, mid - 100, _RISE)
        yield put(name, now - 6)


@of("stick.low_us")
def _stick_low(setup: Setup) -> Iterator[Change]:
    yield put("stick.low_us", 905.0, "channels/stick-threshold-out-of-reach")
    yield put("stick.low_us", 1620.0, _RISE)
    yield put("stick.low_us", setup.get("stick.low_us") + 8)


@of("stick.high_us")
def _stick_high(setup: Setup) -> Iterator[Change]:
    yield put("stick.high_us", 2105.0, "channels/stick-threshold-out-of-reach")
    yield put("stick.high_us", 1420.0, _RISE)
    yield put("stick.high_us", setup.get("stick.high_us") - 8)


@of("stick.centre_us")
def _centre(setup: Setup) -> Iterator[Change]:
    now = setup.get("stick.centre_us")
    for off in (30, -30, 180):
        yield put("stick.centre_us", now + off, "channels/stick-off-centre")


@of("stick.dead_band_us")
def _band(setup: Setup) -> Iterator[Change]:
    for wide in (90.0, 400.0):
        yield put("stick.dead_band_us", wide, "channels/dead-band-too-wide")
    if setup.fact("transmitter.jitter_us"):
        yield put("stick.dead_band_us", 0.0, "channels/stick-off-centre")
    yield put("stick.dead_band_us", 20.0)


# ---------------------------------------------------------------- a lost link


@of("failsafe.action")
def _action(setup: Setup) -> Iterator[Change]:
    kind, now = setup.fact("airframe.kind"), setup.get("failsafe.action")
    for word in SETTINGS["failsafe.action"].words:
        if word == now:
            continue
        if word == "none":
            yield put("failsafe.action", word, "failsafe/never-set")
        elif word == "hold-last":
            yield put("failsafe.action", word, "failsafe/holds-last-values")
        elif word == "return-home" and kind != "programmable":
            yield put("failsafe.action", word, "failsafe/beyond-the-airframe")
        else:
            yield put("failsafe.action", word, "failsafe/not-what-is-wanted")


@of("failsafe.delay_s")
def _delay(setup: Setup) -> Iterator[Change]:
    for wait in (9.0, 30.0):
        yield put("failsafe.delay_s", wait, "failsafe/acts-too-late")
    if loaded("failsafe/acts-on-a-gap"):
        yield put("failsafe.delay_s", 0.0, "failsafe/acts-on-a-gap")
    yield put("failsafe.delay_s", 1.0)


@of("failsafe.throttle_us")
def _descent(setup: Setup) -> Iterator[Change]:
    hover = setup.fact("airframe.hover_us")
    if hover is not None and setup.get("failsafe.action") == "descend":
        yield put("failsafe.throttle_us", hover + 120, "failsafe/descent-throttle-off")
        yield put("failsafe.throttle_us", 1010.0, "failsafe/descent-throttle-off")
    yield put("failsafe.throttle_us", setup.get("failsafe.throttle_us") + 5)


def _opens(setup: Setup, channel: int, mode: str) -> str:
    row = next(row for row in setup.ranges if (row.mode, row.channel) == (mode, channel))
    return str(round((row.low + row.high) / 2))


@of("failsafe.channel.N")
def _on_loss(setup: Setup) -> Iterator[Change]:
    throttle = f"failsafe.channel.{_throttle(setup)}"
    opened = ("failsafe/throttle-stays-open", "failsafe/holds-last-values")
    stops = setup.get("failsafe.action") == "stop"
    for value in ("1800", "hold") if stops or loaded("failsafe/sticks-off-centre") else ():
        yield put(throttle, value, *opened, "*")
    yield put(throttle, "1005")
    if loaded("failsafe/sticks-off-centre"):
        stick = next(number for number in range(1, 5) if number != _throttle(setup))
        yield put(f"failsafe.channel.{stick}", "1850", "failsafe/sticks-off-centre")
    # With the motors stopped, it makes no difference how they would turn; where arm takes a
    # permit, it hangs on that too.
    for mode in ("arm",) if stops else ("arm", "self-right"):
        if mode == "arm" and setup.channels_of("arm-permit"):
            continue
        for channel in setup.channels_of(mode):
            name = f"failsafe.channel.{channel}"
            yield put(name, _opens(setup, channel, mode), "switches/lost-link-turns-on", "*")
    for channel in setup.channels_of("lights"):
        yield put(f"failsafe.channel.{channel}", "1020")
    if not stops:
        for mode in ("arm", "arm-permit"):
            for channel in setup.channels_of(mode):
                for value in ("1010", "drop"):
                    name = f"failsafe.channel.{channel}"
                    yield put(name, value, "failsafe/disarms-before-acting")


# ---------------------------------------------------------------- the battery


@of("battery.chemistry")
def _chemistry(setup: Setup) -> Iterator[Change]:
    for word in CELLS:
        if word != setup.get("battery.chemistry"):
            yield put("battery.chemistry", word, "battery/other-chemistry-on-board")


@of("battery.cells")
def _cells(setup: Setup) -> Iterator[Change]:
    now = setup.fact("battery.cells")
    for count in (now - 1, now + 1):
        if count > 0:
            yield put("battery.cells", count, "battery/other-cell-count-on-board")
    yield put("battery.cells", 0, "battery/count-is-a-guess")


_FALL = "battery/voltages-out-of-order"
_KIND = "battery/beyond-the-chemistry"


@of("battery.full_v")
def _full(setup: Setup) -> Iterator[Change]:
    cell = CELLS[setup.get("battery.chemistry")]
    yield put("battery.full_v", round(cell.full_v + 0.3, 2), _KIND)
    yield put("battery.full_v", round(cell.nominal_v - 0.2, 2), _KIND, _FALL)
    yield put("battery.full_v", round(setup.get("battery.empty_v") - 0.1, 2), _FALL, _KIND)
    yield put("battery.full_v", round(cell.full_v - 0.05, 2))


@of("battery.warn_v")
def _warn(setup: Setup) -> Iterator[Change]:
    cell = CELLS[setup.get("battery.chemistry")]
    yield put("battery.warn_v", round(setup.get("battery.empty_v") - 0.1, 2), _FALL)
    yield put("battery.warn_v", round(cell.full_v - 0.1, 2), "battery/warns-too-early")
    yield put("battery.warn_v", round(cell.full_v + 0.1, 2), _FALL, "battery/warns-too-early")
    if cell.land_by_v is not None:
        late = round(cell.land_by_v - 0.1, 2)
        yield put("battery.warn_v", late, "battery/warns-too-late", _FALL)
        sound = round(max(cell.land_by_v, setup.get("battery.empty_v") + 0.05) + 0.05, 2)
        if sound < cell.nominal_v:
            yield put("battery.warn_v", sound)


@of("battery.empty_v")
def _empty(setup: Setup) -> Iterator[Change]:
    cell = CELLS[setup.get("battery.chemistry")]
    yield put("battery.empty_v", round(cell.never_below_v - 0.3, 2), _KIND)
    yield put("battery.empty_v", round(setup.get("battery.warn_v") + 0.1, 2), _FALL)
    floor = cell.harm_from_v or cell.never_below_v
    yield put("battery.empty_v", round(floor + 0.1, 2))


# ---------------------------------------------------------------- ports


@of("port.N.functions")
def _functions(setup: Setup) -> Iterator[Change]:
    here = receiver_port(setup)
    mine = f"port.{here}.functions"
    claimed = ("receiver/claimed-by-two-ports",)
    yield put(
        mine,
        setup.get(mine) - {"receiver"},
        "receiver/none-set",
        "receiver/port-setting-disagrees",
        *claimed,
    )
    yield put(mine, setup.get(mine) | {"gps"}, "receiver/port-shared", "ports/cannot-share")
    for number in setup.numbers("port.N.functions"):
        name = f"port.{number}.functions"
        if number == here:
            continue
        yield put(name, frozenset({"receiver"}), *claimed, "receiver/port-setting-disagrees")
        home = setup.channels_of("return-home") or setup.get("failsafe.action") == "return-home"
        if setup.get(name) == {"gps"} and home:
            yield put(name, frozenset(), "sensors/no-gps", "*")
        if setup.get(name):
            other = "gps" if "gps" not in setup.get(name) else "rangefinder"
            yield put(name, setup.get(name) | {other}, "ports/cannot-share")
        if not loaded("ports/soldered-otherwise"):
            continue
        if len(setup.get(name)) == 1 and setup.fact(f"port.{number}.wired"):
            (function,) = setup.get(name)
            for other in ("gps", "esc-telemetry", "video-control"):
                if other != function:
                    yield put(name, frozenset({other}), "ports/soldered-otherwise")


@of("port.N.baud")
def _bauds(setup: Setup) -> Iterator[Change]:
    here = f"port.{receiver_port(setup)}.baud"
    for baud in (9600.0, 57600.0):
        if setup.get(here) is not None:
            yield put(here, baud, "receiver/baud-off-the-link", "*")
    for number in setup.numbers("port.N.functions"):
        name, carried = f"port.{number}.baud", setup.get(f"port.{number}.functions")
        if carried & {"esc-telemetry", "log"} and setup.get(name) is not None:
            yield put(name, 19200.0, "ports/speed-off-the-function")
            yield put(name, 115200.0)


@of("port.N.inverted")
def _flips(setup: Setup) -> Iterator[Change]:
    name = f"port.{receiver_port(setup)}.inverted"
    either = LINKS[setup.get("receiver.link")].idle_inverted is None
    if setup.get(name) is not None and not either:
        yield put(name, not setup.get(name), *_INVERSION)
    for number in setup.numbers("port.N.functions"):
        carried = setup.get(f"port.{number}.functions")
        if carried & {"gps", "esc-telemetry", "rangefinder", "log", "console"}:
            yield put(f"port.{number}.inverted", True, "ports/upside-down")


@of("port.N.half_duplex")
def _shared_wires(setup: Setup) -> Iterator[Change]:
    name = f"port.{receiver_port(setup)}.half_duplex"
    yield from _shared(setup, name, "receiver.half_duplex")


# ---------------------------------------------------------------- how it is built, its sensors


@of("frame.kind")
def _frame(setup: Setup) -> Iterator[Change]:
    if setup.get("frame.kind") is not None and setup.fact("airframe.frame") is not None:
        for word in SETTINGS["frame.kind"].words:
            if word != setup.get("frame.kind"):
                yield put("frame.kind", word, "build/another-frame", "build/number-of-motors")


def _sensor(name: str, rule: str, modes: tuple[str, ...], actions: tuple[str, ...]) -> None:
    def maker(setup: Setup) -> Iterator[Change]:
        if setup.get(name) is None:
            return
        needed = any(setup.channels_of(mode) for mode in modes)
        needed = needed or setup.get("failsafe.action") in actions
        yield put(name, False, *([rule] if needed else []))
        yield put(name, True)

    MAKERS[name] = maker


_sensor(
    "sensor.accelerometer",
    "sensors/no-accelerometer",
    ("self-level", "hold-position", "return-home"),
    ("descend", "return-home"),
)
_sensor(
    "sensor.barometer",
    "sensors/no-barometer",
    ("hold-height", "hold-position", "return-home"),
    ("return-home",),
)
_sensor("home.needs_fix", "sensors/home-unknown", ("return-home",), ("return-home",))
