"""Single changes of hardware cards, generated from the table of a card's fields.

A fault is a card that no longer fits the dump.  A field without a function here joins by itself
where a setting says the same of the controller; a new one is tried by its rule's examples at first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from benchmarks.faults.settings import loaded, receiver_port, twin
from benchmarks.faults.setups import Change, Makers, rules, seen, sent
from cfglint.craft.card import FIELDS
from cfglint.craft.cards import read_card
from cfglint.craft.settings import CHEMISTRIES, LINKS, SETTINGS, family
from cfglint.facts.wiring import SATELLITE, SATELLITE_LINKS, soldered
from cfglint.kit.examples import CARD, parse_example

if TYPE_CHECKING:
    from collections.abc import Iterator

    from benchmarks.faults.setups import Setup

#: Fields by which no single craft can be wrong.
FREE = {
    "airframe.propellers": "for the bench sheet",
    "airframe.motors": "for the bench sheet, unless a setting says the same",
    "motor.N.turns": "for the bench sheet, beside the place",
}
MAKERS = Makers()
of = MAKERS.of


def tell(field: str, fact: Any, *meant: str, also: tuple[str, ...] = ()) -> Change:
    """A field of the card gets a value."""
    title = f"the card says {field} = {fact}"
    return Change(
        f"card {family(field)}", title, lambda setup: setup.tell(field, fact), meant, also
    )


def card_changes(setup: Setup) -> Iterator[Change]:
    """Every change of a card's field, faults and harmless ones."""
    if "craft" in setup.card:
        yield tell("craft", "Quillback", "dump/name-unlike-card")
        yield tell("craft", setup.craft.lower())
    for field in FIELDS:
        maker = MAKERS.get(field)
        if maker is not None:
            yield from maker(setup)
        elif (name := _twin(field)) is not None:
            yield from _unlike_dump(setup, field, name)
    yield from _switches(setup)


def without_card_oracle() -> list[str]:
    """Fields of which nothing here says what is a fault; there must be none."""
    return [
        field
        for field in FIELDS
        if field not in MAKERS and field not in FREE and _twin(field) is None
        if field not in _marked()
    ]


def _marked() -> set[str]:
    """Fields whose value some rule's own bad example marks as wrong, and so tries."""
    found: set[str] = set()
    for rule, _ in rules():
        for example in rule.examples:
            if example.kind == "bad" and example.card:
                case = parse_example(example)
                lines = {mark.span.line for mark in case.marks if mark.span.file == CARD}
                card = read_card(CARD, case.card.encode())
                for name in card.values:
                    span = card.get(name).span
                    if span is not None and span.line in lines:
                        found.add(family(name))
    return found


def _twin(field: str) -> str | None:
    return next((name for name in SETTINGS if twin(name) == field), None)


def _unlike_dump(setup: Setup, field: str, name: str) -> Iterator[Change]:
    row = FIELDS[field]
    fields = [field]
    if "N" in field.split("."):
        head = field.split(".", maxsplit=1)[0]
        fields = [field.replace("N", number) for number in setup.card.get(head, {})]
    for one in fields:
        now = setup.fact(one)
        number = next((part for part in one.split(".") if part.isdigit()), "")
        if now is None or setup.get(name.replace("N", number)) is None:
            continue
        values: list[Any] = [word for word in row.words if word != now]
        if row.kind == "flag":
            values = [not now]
        elif row.kind == "count":
            values = [now + 1]
        elif row.kind == "number":
            values = [now + 30]
        for value in values:
            yield tell(one, value, "*")


# ---------------------------------------------------------------- airframe, ESCs


@of("airframe.kind")
def _kind(setup: Setup) -> Iterator[Change]:
    action, now = setup.get("failsafe.action"), setup.fact("airframe.kind")
    able = {"stop": 0, "descend": 1, "return-home": 2}[action]
    for rank, word in enumerate(("unstabilised", "stabilised", "programmable")):
        if word == now:
            continue
        if rank < able:
            yield tell("airframe.kind", word, "failsafe/beyond-the-airframe")
        elif action != "stop":
            yield tell("airframe.kind", word)


@of("airframe.frame")
def _frame(setup: Setup) -> Iterator[Change]:
    if setup.get("frame.kind") is None:
        return
    for word in SETTINGS["frame.kind"].words:
        if word != setup.fact("airframe.frame"):
            yield tell("airframe.frame", word, "build/another-frame", "*")


@of("airframe.hover_us")
def _hover(setup: Setup) -> Iterator[Change]:
    if setup.get("failsafe.action") == "descend" and setup.fact("airframe.hover_us"):
        low = setup.get("failsafe.throttle_us") - 60
        yield tell("airframe.hover_us", low, "failsafe/descent-throttle-off")


@of("esc.signals")
def _signals(setup: Setup) -> Iterator[Change]:
    now = setup.get("motor.signal")
    left = [word for word in ("servo-pwm", "multishot", "dshot1200") if word != now]
    rule = "motor/signal-esc-does-not-speak"
    if now == "brushed":
        rule = "motor/left-on-default-signal"
    yield tell("esc.signals", left, rule)
    yield tell("esc.signals", [*left, now])


@of("esc.two_way")
def _two_way(setup: Setup) -> Iterator[Change]:
    if setup.get("motor.two_way"):
        yield tell("esc.two_way", False, "motor/two-way-unanswered")
    else:
        yield tell("esc.two_way", True)


@of("esc.reverses")
def _reverses(setup: Setup) -> Iterator[Change]:
    if setup.channels_of("self-right"):
        yield tell("esc.reverses", False, "motor/self-right-esc-cannot-reverse")
    else:
        yield tell("esc.reverses", not setup.fact("esc.reverses"))


_OLD = "motor/self-right-firmware-too-old"


@of("esc.firmware")
def _firmware(setup: Setup) -> Iterator[Change]:
    needs = setup.channels_of("self-right") and setup.fact("esc.reverses_from")
    for version in ("0.9", "1.1"):
        yield tell("esc.firmware", version, *([_OLD] if needs else []))
    yield tell("esc.firmware", "9.1")


@of("esc.reverses_from")
def _from(setup: Setup) -> Iterator[Change]:
    if setup.channels_of("self-right") and setup.fact("esc.reverses_from"):
        yield tell("esc.reverses_from", "9.1", _OLD)
        yield tell("esc.reverses_from", "1.1")


@of("esc.firmware_order")
def _firmware_order(setup: Setup) -> Iterator[Change]:
    if setup.channels_of("self-right") and setup.fact("esc.firmware") == "3.6":
        yield tell("esc.firmware_order", "dotted", _OLD)


_ENDS = "motor/pulse-ends-off-calibration"


@of("esc.pulse_min_us")
def _begins(setup: Setup) -> Iterator[Change]:
    begins = setup.fact("esc.pulse_min_us")
    if begins is not None:
        low = setup.get("motor.pulse_min_us")
        yield tell("esc.pulse_min_us", setup.get("motor.pulse_stop_us") - 60, _ENDS)
        yield tell("esc.pulse_min_us", low + 60, _ENDS)
        yield tell("esc.pulse_min_us", begins - 4)


@of("esc.pulse_max_us")
def _ends(setup: Setup) -> Iterator[Change]:
    if setup.fact("esc.pulse_max_us") is not None:
        high = setup.get("motor.pulse_max_us")
        yield tell("esc.pulse_max_us", high - 60, _ENDS)
        yield tell("esc.pulse_max_us", high + 140, _ENDS)
        yield tell("esc.pulse_max_us", high + 4)


_ALIKE = "motor/escs-not-alike"


@of("motor.N.esc_firmware")
def _own_firmware(setup: Setup) -> Iterator[Change]:
    if setup.get("motor.signal") != "brushed":
        yield tell("motor.2.esc_firmware", "8.3", _ALIKE)
        yield tell("motor.2.esc_firmware", setup.fact("esc.firmware"))


@of("motor.N.esc_signals")
def _own_signals(setup: Setup) -> Iterator[Change]:
    now = setup.get("motor.signal")
    if now != "brushed":
        rest = [word for word in ("multishot", "dshot1200") if word != now]
        yield tell("motor.3.esc_signals", rest, "motor/signal-esc-does-not-speak")
        yield tell("motor.3.esc_signals", [*rest, now], _ALIKE)
        yield tell("motor.3.esc_signals", setup.fact("esc.signals"))


@of("motor.N.esc_two_way")
def _own_two_way(setup: Setup) -> Iterator[Change]:
    if setup.get("motor.signal") == "brushed":
        return
    now = setup.fact("esc.two_way")
    meant = (_ALIKE, "motor/two-way-unanswered") if setup.get("motor.two_way") else (_ALIKE,)
    yield tell("motor.1.esc_two_way", not now, *meant)
    yield tell("motor.1.esc_two_way", now)


@of("motor.N.esc_reverses")
def _own_reverses(setup: Setup) -> Iterator[Change]:
    if setup.get("motor.signal") != "brushed":
        now = setup.fact("esc.reverses")
        yield tell("motor.4.esc_reverses", not now, _ALIKE, "motor/self-right-esc-cannot-reverse")
        yield tell("motor.4.esc_reverses", now)


# ---------------------------------------------------------------- receiver, transmitter


@of("receiver.link")
def _link(setup: Setup) -> Iterator[Change]:
    bare = str(setup.get("receiver.link")).removesuffix("-one-wire")
    for word in LINKS:
        if word.removesuffix("-one-wire") != bare:
            yield tell("receiver.link", word, "receiver/link-differs-from-card")


@of("receiver.port")
def _port(setup: Setup) -> Iterator[Change]:
    for port in (1, 2, 4):
        if port != receiver_port(setup):
            yield tell("receiver.port", port, "receiver/wired-to-another-port")


@of("receiver.rate_hz")
def _rate(setup: Setup) -> Iterator[Change]:
    yield tell("receiver.rate_hz", 4000, "receiver/frames-outlast-rate")
    yield tell("receiver.rate_hz", setup.fact("receiver.rate_hz") - 10)


@of("receiver.pad")
def _pad(setup: Setup) -> Iterator[Change]:
    # Where a link may be either way round, what the pad does cannot be told.
    if setup.get("receiver.link") in ("sbus", "fport"):
        rules = ("receiver/inversion-not-normal", "receiver/inversion-flag-cannot-act")
        yield tell("receiver.pad", "un-inverted", *rules)


@of("receiver.low_us")
def _low(setup: Setup) -> Iterator[Change]:
    yield tell("receiver.low_us", 1350, "*")
    yield tell("receiver.low_us", setup.fact("receiver.low_us") - 2)


@of("receiver.high_us")
def _high(setup: Setup) -> Iterator[Change]:
    yield tell("receiver.high_us", 1650, "*")
    yield tell("receiver.high_us", setup.fact("receiver.high_us") + 2)


@of("receiver.on_loss")
def _on_loss(setup: Setup) -> Iterator[Change]:
    yield tell("receiver.on_loss", "hold", "failsafe/receiver-hides-the-loss")
    if loaded("failsafe/sticks-off-centre"):
        yield tell("receiver.on_loss", "set-values", "failsafe/receiver-hides-the-loss", "*")


@of("transmitter.channel_order")
def _order(setup: Setup) -> Iterator[Change]:
    for order in ("TAER", "AETR", "EATR"):
        if order != setup.fact("transmitter.channel_order"):
            yield tell("transmitter.channel_order", order, "receiver/channel-order-differs")


_REACH = "channels/stick-threshold-out-of-reach"


@of("transmitter.low_us")
def _sends_low(setup: Setup) -> Iterator[Change]:
    now = setup.fact("transmitter.low_us")
    yield tell("transmitter.low_us", now + 160, _REACH, "channels/end-out-of-reach")
    yield tell("transmitter.low_us", now + 4)


@of("transmitter.high_us")
def _sends_high(setup: Setup) -> Iterator[Change]:
    now = setup.fact("transmitter.high_us")
    yield tell("transmitter.high_us", now - 160, _REACH, "channels/end-out-of-reach")
    yield tell("transmitter.high_us", now - 4)


@of("transmitter.centre_us")
def _sends_centre(setup: Setup) -> Iterator[Change]:
    now = setup.fact("transmitter.centre_us")
    for off in (40, -90):
        yield tell("transmitter.centre_us", now + off, "channels/stick-off-centre")
    yield tell("transmitter.centre_us", now + 1)


@of("transmitter.jitter_us")
def _wanders(setup: Setup) -> Iterator[Change]:
    yield tell("transmitter.jitter_us", 60, "channels/stick-off-centre")
    yield tell("transmitter.jitter_us", 1)


# ---------------------------------------------------------------- battery, failsafe, ports


@of("battery.chemistry")
def _chemistry(setup: Setup) -> Iterator[Change]:
    for word in CHEMISTRIES:
        if word != setup.get("battery.chemistry"):
            yield tell("battery.chemistry", word, "battery/other-chemistry-on-board")


@of("battery.cells")
def _cells(setup: Setup) -> Iterator[Change]:
    yield tell("battery.cells", setup.get("battery.cells") + 1, "battery/other-cell-count-on-board")


@of("failsafe.wanted")
def _wanted(setup: Setup) -> Iterator[Change]:
    for word in ("stop", "descend", "return-home"):
        if word != setup.get("failsafe.action"):
            yield tell("failsafe.wanted", word, "failsafe/not-what-is-wanted")


@of("port.N.inverter")
def _inverter(setup: Setup) -> Iterator[Change]:
    field = f"port.{receiver_port(setup)}.inverter"
    rules = ("receiver/inversion-not-normal", "receiver/inversion-flag-cannot-act")
    # Where nothing is to be turned over, a fixed inverter turns it all the same.
    turned = setup.get("receiver.link") in ("sbus", "fport") and setup.fact("receiver.pad") in (
        "as-link",
    )
    if setup.get("receiver.link") != "crsf-one-wire":
        yield tell(field, "none" if turned else "fixed", *rules)


@of("port.N.wired")
def _wired(setup: Setup) -> Iterator[Change]:
    for number in setup.card.get("port", {}) if loaded("ports/soldered-otherwise") else ():
        carried = setup.get(f"port.{number}.functions") or ()
        # Some links have a second receiver by that name, on the receiver's own port.
        second = "receiver" in carried and setup.get("receiver.link") in SATELLITE_LINKS
        for wired in ("satellite receiver", "ESC telemetry wire", "lamp string"):
            if second and wired == SATELLITE:
                yield tell(f"port.{number}.wired", wired)
            elif not (soldered(wired) or frozenset()) & {*carried}:
                yield tell(f"port.{number}.wired", wired, "ports/soldered-otherwise", "*")


# ---------------------------------------------------------------- switches


def _apart(setup: Setup, row: dict[str, Any]) -> float | None:
    """How far the nearest edge is from any of a switch's positions, µs."""
    low, high = min(row["positions_us"]), max(row["positions_us"])
    return min(
        (
            abs(edge - seen(setup, row["channel"], pulse))
            for range_ in setup.ranges
            if range_.channel == row["channel"]
            for edge in (range_.low, range_.high)
            if low + 60 < edge < high - 60
            for pulse in row["positions_us"]
        ),
        default=None,
    )


def _switches(setup: Setup) -> Iterator[Change]:
    """What is said of a switch: its channel, its positions, how far they wander."""
    for at, row in enumerate(setup.card.get("switch", ())):

        def change(title: str, key: str, fact: Any, *meant: str, at: int = at) -> Change:
            def make(setup: Setup) -> None:
                setup.card["switch"][at][key] = fact

            name = setup.card["switch"][at]["name"]
            return Change("card switch", f"{name} {title}", make, meant)

        arms = row["channel"] in setup.channels_of("arm")
        if arms:
            yield change("springs back", "momentary", True, "switches/arm-springs-back")
        yield change(
            "sends what no link carries",
            "positions_us",
            [*row["positions_us"][:-1], 2400],
            "switches/position-not-sent",
            "*",
        )
        spread = _apart(setup, row)
        if spread is not None and spread < 300:
            far = spread + 20
            yield change("wanders far", "jitter_us", far, "modes/near-a-range-edge", "*")
        yield change("wanders a little", "jitter_us", row["jitter_us"] + 1)
        edges = [
            edge
            for range_ in setup.ranges
            if range_.channel == row["channel"]
            for edge in (range_.low, range_.high)
            if 1150 < edge < 1850
        ]
        if edges and len(row["positions_us"]) == 3:
            low, _, high = row["positions_us"]
            moved = [low, round(sent(setup, row["channel"], edges[0])) + 3, high]
            yield change("stands on an edge", "positions_us", moved, "modes/near-a-range-edge", "*")
