"""Motors: the signal that drives the ESCs, what they can do with it, and how fast it goes.

In the order in which one would ask at the bench: is there a signal that the ESCs understand, do
they answer, can they reverse, is there time for a command in every control loop, and do the ends
of the pulse agree.
"""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft, listed
from cfglint.facts.signals import SIGNALS, command_time_us, highest_rate_hz
from cfglint.rule import Finding, Option, Put, Related, bad, good, not_for, rule, unknown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, ModeLink, ModeRange, Value
    from cfglint.facts.versions import Order
    from cfglint.rule import Grade, Options
    from cfglint.span import Span

OWN_RATE = "motor.rate_hz"
#: Full throttle that ends further below what the ESCs have learned lacks so much of the thrust
#: that nothing is left to hold the craft level with (common practice).
FAR_SHORT_US = 200

# ---------------------------------------------------------------- the signal itself


@rule(
    "motor/left-on-default-signal",
    grade="ground",
    title="Motor signal left on brushed",
    why="""
    Many controllers wake up from a reset or an update with the output for brushed motors: raw
    duty, straight to a transistor.  An ESC cannot read that.  As a rule some motors spin and
    others stand still, at a drive that nobody asked for.  Only a craft whose card names brushed
    among `esc.signals` is meant to be so.
    """,
    source="common practice",
    examples=(
        good("let motor-signal be dshot300"),
        good(
            "let motor-signal be brushed",
            card="""
            [esc]
            signals = ["brushed"]
            """,
        ),
        good(
            """
            -- board SLATE, firmware 7.9, changes only
            let motor-signal be oneshot42
            """
        ),
        bad(
            """
            let motor-signal be brushed
                                ^^^^^^^ brushed default ESC
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no line sets brushed
            let loop-rate be 2700
            """
        ),
        bad(
            """
            let motor-signal be brushed
                                ^^^^^^^ brushed
            """,
            card="""
            [esc]
            signals = ["dshot300", "dshot600"]
            """,
        ),
        unknown("let loop-rate be 2600", missing="motor.signal"),
    ),
)
def left_on_default_signal(craft: Craft, options: Options) -> Iterator[Finding]:
    """Brushed is a finding unless the card says that it is meant; no card is no excuse."""
    signal = craft.need("motor.signal")
    if signal.value != "brushed":
        return
    spoken = craft.maybe_card("esc.signals")
    if spoken.known and "brushed" in spoken.value:
        return
    if signal.origin == "default":
        what = "no line sets the motor signal, so it is brushed by default"
    else:
        what = "the motor signal is brushed, as controllers often default to"
    known = _fitting(craft, spoken.value) if spoken.known else []
    yield Finding(
        craft.place(signal),
        f"{what}: an ESC cannot read that, and a motor may stand still or spin unasked",
        f"set motor.signal to {listed(known, 'or')}, which the card's ESCs understand"
        if known
        else "look up which signals your ESCs understand, write them in the card (signals under "
        '[esc]; ["brushed"] if the motors are brushed), and set motor.signal to one of them',
        _beside(spoken, "signals that the ESCs understand"),
        edits=_put_signal(craft, known),
        by="hand" if known else "card",
    )


@rule(
    "motor/signal-esc-does-not-speak",
    grade="ground",
    title="A motor signal that the ESCs do not understand",
    why="""
    An ESC that gets a signal it does not know ignores it or reads something else into it.  Seldom
    do all motors fail alike: typically some spin and one does not, which on a craft with its
    propellers on is found out the hard way.  One digital signal is not as good as another: an ESC
    set to one speed may ignore the next.
    """,
    source="common practice; each digital speed has its own timing: {digital-example}",
    examples=(
        good(
            "let motor-signal be dshot300",
            card="""
            [esc]
            signals = ["dshot300", "dshot600"]
            """,
        ),
        good(
            "let motor-signal be servo-pwm",
            card="""
            [esc]
            signals = ["servo-pwm"]
            """,
        ),
        bad(
            """
            let motor-signal be dshot600
                                ^^^^^^^^ dshot600 dshot300 digital
            """,
            card="""
            [esc]
            signals = ["dshot150", "dshot300"]
            """,
        ),
        bad(
            """
            let motor-signal be multishot
                                ^^^^^^^^^ multishot servo-pwm
            """,
            card="""
            [esc]
            signals = ["servo-pwm", "oneshot125"]
            """,
        ),
        bad(
            """
            let motor-signal be dshot300
                                ^^^^^^^^ dshot300 brushed
            """,
            card="""
            [esc]
            signals = ["brushed"]
            """,
        ),
        unknown("let motor-signal be dshot300", missing="esc.signals"),
        unknown(
            "let loop-rate be 5100",
            missing="motor.signal",
            card="""
            [esc]
            signals = ["dshot300"]
            """,
        ),
        not_for(
            "let motor-signal be brushed",
            card="""
            [esc]
            signals = ["dshot300"]
            """,
        ),
    ),
)
def signal_esc_does_not_speak(craft: Craft, options: Options) -> Iterator[Finding]:
    """The configured signal must be one of the card's ``esc.signals``."""
    signal = craft.need("motor.signal")
    if signal.value == "brushed":
        raise NotForThisCraft("a brushed output is what motor/left-on-default-signal looks at")
    spoken = craft.from_card("esc.signals")
    if signal.value in spoken.value:
        return
    known = _fitting(craft, spoken.value) or _in_order(spoken.value)
    both_digital = _digital(signal) and any(SIGNALS[word].digital for word in known)
    yield Finding(
        craft.place(signal),
        f"the motor signal is {signal}, but the ESCs understand "
        f"{listed(_in_order(spoken.value), 'or')}: "
        + (
            "another digital speed is ignored, and motors may stand still"
            if both_digital
            else "some motors may spin and others stand still"
        ),
        f"set motor.signal to {listed(known, 'or')}",
        _beside(spoken, "signals that the ESCs understand"),
        edits=_put_signal(craft, known),
    )


# ---------------------------------------------------------------- answers on the signal wire


@rule(
    "motor/two-way-unanswered",
    grade="ground",
    title="Two-way signal asked of ESCs that cannot answer",
    why="""
    In a two-way signal the ESC reports the motor's speed on the signal wire.  It needs a digital
    signal.  It also turns the signal upside down, so an ESC that does not know it does not merely
    keep quiet: it may not understand the throttle either.  That an ESC speaks digital does not
    mean that it answers, so the card says so separately.
    """,
    source="speaking digital is not answering, and the answering line is inverted: "
    "{digital-libraries}; what an ESC then makes of the throttle: common practice",
    examples=(
        good(
            """
            let motor-signal be dshot600
            let motor-answers be yes
            """,
            card="""
            [esc]
            two_way = true
            """,
        ),
        good(
            """
            let motor-signal be oneshot125
            let motor-answers be no
            """
        ),
        bad(
            """
            let motor-signal be dshot600
            let motor-answers be yes
                                 ^^^ two-way ESCs
            """,
            card="""
            [esc]
            two_way = false
            """,
        ),
        bad(
            """
            let motor-signal be oneshot125
            let motor-answers be yes
                                 ^^^ two-way oneshot125 digital
            """
        ),
        unknown(
            """
            let motor-signal be dshot600
            let motor-answers be yes
            """,
            missing="esc.two_way",
        ),
        unknown("let motor-signal be dshot600", missing="motor.two_way"),
        unknown("let motor-answers be yes", missing="motor.signal"),
    ),
)
def two_way_unanswered(craft: Craft, options: Options) -> Iterator[Finding]:
    """Two-way needs a digital signal and ESCs that answer."""
    two_way = craft.need("motor.two_way")
    if not two_way.value:
        return
    signal = craft.need("motor.signal")
    if not _digital(signal):
        yield Finding(
            craft.place(two_way),
            f"a two-way signal is asked for, but {signal} is not digital and carries no answer: "
            "whatever relies on motor speed gets none",
            "set motor.two_way to no, or use a digital signal",
            _beside(signal, "the motor signal"),
            grade="fix",
            edits=(Put("motor.two_way", False),),
        )
        return
    answers = craft.from_card("esc.two_way")
    if not answers.value:
        yield Finding(
            craft.place(two_way),
            "a two-way signal is asked for, but the ESCs cannot answer it: its level is turned "
            "over, so they may not understand the throttle either",
            "set motor.two_way to no",
            _beside(answers, "the ESCs cannot answer"),
            edits=(Put("motor.two_way", False),),
        )


# ---------------------------------------------------------------- reversing, for self-right


@rule(
    "motor/self-right-needs-digital",
    grade="fix",
    title="Self-right without a digital signal",
    why="""
    Rolling an inverted craft back over means turning motors backwards on demand.  That is a
    command, and only digital signals carry commands: on pulses or brushed duty the switch does
    nothing, or drives the craft into the ground the usual way round.
    """,
    source="common practice",
    examples=(
        good(
            """
            let motor-signal be dshot300
            use self-right while channel 7 in 1720..2130
            """
        ),
        good(
            """
            let motor-signal be dshot150
            use beacon while channel 6 in 1680..2080
            use self-right along with beacon
            """
        ),
        bad(
            """
            let motor-signal be oneshot125
                                ^^^^^^^^^^ self-right oneshot125 digital
            use self-right while channel 7 in 1755..2090
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            use self-right while channel 7 in 1810..2200
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ self-right brushed
            """
        ),
        unknown("use self-right while channel 7 in 1640..2050", missing="motor.signal"),
        not_for("let motor-signal be oneshot125"),
    ),
)
def self_right_needs_digital(craft: Craft, options: Options) -> Iterator[Finding]:
    """A craft with a self-right mode must have a digital motor signal."""
    switch = _self_right(craft)
    signal = craft.need("motor.signal")
    if _digital(signal):
        return
    spoken = craft.maybe_card("esc.signals")
    digital = [word for word in spoken.value or () if SIGNALS[word].digital]
    yield Finding(
        signal.span or switch,
        f"self-right is on a switch, but the motor signal is {signal}: only a digital signal "
        "carries the command to reverse",
        "use a digital signal that the ESCs understand, or take self-right off its switch",
        (Related(switch, "self-right is set here"),) if signal.span else (),
        edits=_put_signal(craft, _fitting(craft, digital)),
    )


@rule(
    "motor/self-right-esc-cannot-reverse",
    grade="fix",
    title="Self-right on ESCs that cannot reverse",
    why="""
    The ESC turns the motor backwards, the controller only asks.  Where it cannot, the switch does
    nothing at best; at worst motors push an inverted craft further into the ground, stall and
    overheat.
    """,
    source="common practice",
    examples=(
        good(
            "use self-right while channel 7 in 1765..2145",
            card="""
            [esc]
            reverses = true
            """,
        ),
        good(
            "use self-right while channel 7 in 1790..2220",
            card="""
            [esc]
            firmware = "3.6"
            reverses_from = "3.58"
            """,
        ),
        bad(
            "use self-right while channel 7 in 1665..2075",
            card="""
            [esc]
            reverses = false
                       ^^^^^ reverse self-right
            """,
        ),
        unknown("use self-right while channel 7 in 1745..2120", missing="esc.reverses"),
        not_for(
            "let motor-signal be dshot300",
            card="""
            [esc]
            reverses = false
            """,
        ),
    ),
)
def self_right_esc_cannot_reverse(craft: Craft, options: Options) -> Iterator[Finding]:
    """The card must not say that the ESCs cannot reverse; which firmware can is another rule."""
    switch = _self_right(craft)
    reverses = craft.maybe_card("esc.reverses")
    if reverses.known:
        if not reverses.value:
            yield Finding(
                reverses.span or switch,
                "the ESCs cannot reverse a motor, but self-right is on a switch: it cannot turn "
                "the craft over",
                "take self-right off its switch, or fit ESCs that reverse on command",
                (Related(switch, "self-right is set here"),) if reverses.span else (),
            )
    elif not craft.maybe_card("esc.reverses_from").known:
        craft.from_card("esc.reverses")


@rule(
    "motor/self-right-firmware-too-old",
    grade="fix",
    title="ESC firmware too old to reverse",
    why="""
    Reversing on command came to ESCs with some firmware; an older one ignores the command.  Which
    one is the ESC maker's to say, and stands on the card: nothing is taken for granted here.  Mind
    how versions count: ESC firmware is often numbered as a decimal, where 3.6 is later than 3.58,
    while dotted parts count the other way, 7.9 before 7.10.  Taken the wrong way round, a sound
    ESC is sent for an update or an old one is let through, so the card names the order.
    """,
    source="common practice; dotted order: {semver} and {pep-440}; decimal order: {perl}",
    examples=(
        good(
            "use self-right while channel 7 in 1710..2060",
            card="""
            [esc]
            firmware = "3.6"
            firmware_order = "decimal"
            reverses_from = "3.58"
            """,
        ),
        good(
            "use self-right while channel 7 in 1720..2130",
            card="""
            [esc]
            firmware = "2.10"
            firmware_order = "dotted"
            reverses_from = "2.9"
            """,
        ),
        # Either order gives the same answer, so the card need not name one.
        good(
            "use self-right while channel 7 in 1680..2080",
            card="""
            [esc]
            firmware = "3.7"
            reverses_from = "3.6"
            """,
        ),
        # That it can be done says nothing of the firmware that is on them.
        unknown(
            "use self-right while channel 7 in 1755..2090",
            missing="esc.reverses_from",
            card="""
            [esc]
            reverses = true
            """,
        ),
        bad(
            "use self-right while channel 7 in 1810..2200",
            card="""
            [esc]
            firmware = "3.5"
                       ^^^^^ 3.5 3.58 decimal
            firmware_order = "decimal"
            reverses_from = "3.58"
            """,
        ),
        bad(
            "use self-right while channel 7 in 1640..2050",
            card="""
            [esc]
            firmware = "3.6"
                       ^^^^^ 3.6 3.58 dotted
            firmware_order = "dotted"
            reverses_from = "3.58"
            """,
        ),
        bad(
            "use self-right while channel 7 in 1765..2145",
            card="""
            [esc]
            firmware = "3.5"
                       ^^^^^ 3.5 3.58
            reverses_from = "3.58"
            """,
        ),
        unknown(
            "use self-right while channel 7 in 1790..2220",
            missing="esc.firmware_order",
            card="""
            [esc]
            firmware = "3.6"
            reverses_from = "3.58"
            """,
        ),
        unknown(
            "use self-right while channel 7 in 1665..2075",
            missing="esc.firmware",
            card="""
            [esc]
            firmware = "3.6.1"
            firmware_order = "decimal"
            reverses_from = "3.58"
            """,
        ),
        unknown(
            "use self-right while channel 7 in 1745..2120",
            missing="esc.reverses_from",
            card="""
            [esc]
            firmware = "3.6"
            firmware_order = "decimal"
            """,
        ),
        unknown(
            "use self-right while channel 7 in 1710..2060",
            missing="esc.firmware",
            card="""
            [esc]
            reverses_from = "3.58"
            """,
        ),
        not_for("let motor-signal be dshot300"),
        not_for(
            "use self-right while channel 7 in 1720..2130",
            card="""
            [esc]
            reverses = false
            """,
        ),
    ),
)
def self_right_firmware_too_old(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """``esc.firmware`` must not come before ``esc.reverses_from`` in the order of the card."""
    switch = _self_right(craft)
    reverses = craft.maybe_card("esc.reverses")
    if reverses.known and not reverses.value:
        raise NotForThisCraft("the card says that these ESCs cannot reverse at all")
    first = craft.maybe_card("esc.reverses_from")
    if not first.known:
        if reverses.known:
            hint = "that they reverse says nothing of the firmware on them; the ESC's maker knows"
            raise Missing("esc.reverses_from", "card", hint)
        raise Missing("esc.reverses_from", "card", "the ESC's maker knows")
    told = craft.maybe_card("esc.firmware_order")
    for motor, firmware in _firmwares(craft):
        if not firmware.known:
            yield Missing("esc.firmware", "card")
            continue
        try:
            older, order = _older(firmware.value, first.value, told.value)
        except Missing as gap:
            yield gap
            continue
        if older:
            whose = "" if motor is None else f" of motor {motor}"
            yield Finding(
                firmware.span or switch,
                f"ESC firmware {firmware}{whose} comes before {first}{order}, the first that "
                "reverses on command: self-right does nothing"
                + (", or turns the motors against each other" if whose else ""),
                f"update the ESCs to {first} or later as their maker says, or take self-right "
                "off its switch",
                (
                    *_beside(first, "the first that reverses"),
                    Related(switch, "self-right is set here"),
                ),
            )


def _firmwares(craft: Craft) -> list[tuple[int | None, Value]]:
    """The firmware of each motor's own ESC, and under None that of all the others."""
    if craft.card is None:
        return [(None, craft.maybe_card("esc.firmware"))]
    return list(craft.card.escs("esc.firmware").items())


def _older(firmware: str, first: str, told: Order | None) -> tuple[bool, str]:
    """Whether ``firmware`` comes before ``first``, and words for the order that says so.

    Where the card names no order, the answer stands if both orders give the same one.
    """
    from cfglint.facts.versions import compare

    orders: tuple[Order, ...] = (told,) if told is not None else ("dotted", "decimal")
    answers: dict[Order, bool] = {}
    lack: Missing | None = None
    for order in orders:
        unplaced = [
            Missing(field, "card", why)
            for field, why in (
                ("esc.firmware", _why_unplaced(firmware, order)),
                ("esc.reverses_from", _why_unplaced(first, order)),
            )
            if why
        ]
        if unplaced:
            lack = unplaced[0]
        else:
            answers[order] = compare(firmware, first, order) < 0
    if lack is not None and not answers:
        raise lack
    if len(set(answers.values())) > 1:
        raise Missing(
            "esc.firmware_order",
            "card",
            f"{firmware} is later than {first} in one order and earlier in the other",
        )
    words = f" in {next(iter(answers))} order" if len(answers) == 1 else " in either order"
    return next(iter(answers.values())), words


def _why_unplaced(version: str, order: Order) -> str:
    """What is wrong with a version that cannot be placed in an order; empty if it can."""
    from cfglint.facts.versions import order_key

    try:
        order_key(version, order)
    except ValueError as cannot:
        return str(cannot)
    return ""


# ---------------------------------------------------------------- time for a command


@rule(
    "motor/command-outlasts-loop",
    grade="fix",
    title="Motor commands take longer than a control loop",
    why="""
    Every round of the control loop ends in a command to each ESC, and it must be over before the
    next one begins.  Where it is not, commands are dropped or their rate is divided behind one's
    back, and the craft flies worse than its settings promise.  Pulse signals whose rate is set by
    itself (`motor.rate_hz`) are held against that rate instead.
    """,
    source="digital frame: {digital-example}, which leaves 50 µs between two; the least pause, two "
    "bits, and pulse lengths: common practice",
    examples=(
        good(
            """
            let motor-signal be dshot300
            let loop-rate be 6600
            """
        ),
        good(
            """
            let motor-signal be oneshot125
            let loop-rate be 1900
            """
        ),
        # Servo pulses with a rate of their own: the loop may be as fast as it likes.
        good(
            """
            let motor-signal be servo-pwm
            let motor-rate be 410
            let loop-rate be 3600
            """
        ),
        bad(
            """
            let motor-signal be oneshot125
            let loop-rate be 4700
                             ^^^^ 4700 oneshot125 250
            """
        ),
        bad(
            """
            let motor-signal be dshot150
            let loop-rate be 13000
                             ^^^^^ 13000 dshot150
            """
        ),
        bad(
            """
            let motor-signal be servo-pwm
            let motor-rate be 570
                              ^^^ 570 servo-pwm
            let loop-rate be 2900
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let motor-signal be servo-pwm
                                ^^^^^^^^^ servo-pwm control loops
            """
        ),
        unknown("let motor-signal be dshot300", missing="loop.rate_hz"),
        unknown("let loop-rate be 7100", missing="motor.signal"),
        not_for(
            """
            let motor-signal be brushed
            let loop-rate be 2200
            """
        ),
    ),
)
def command_outlasts_loop(craft: Craft, options: Options) -> Iterator[Finding]:
    """One command, with the gap after it, must fit in one period."""
    signal = craft.need("motor.signal")
    highest = highest_rate_hz(signal.value)
    time_us = command_time_us(signal.value)
    if highest is None or time_us is None:
        raise NotForThisCraft("a brushed output sends no separate commands")
    rate = craft.need("loop.rate_hz") if _digital(signal) else _own_rate(craft)
    if rate.value <= highest:
        return
    # What is proposed leaves room for the answers, where any are asked for.
    answers = _digital(signal) and bool(craft.get("motor.two_way").value)
    room = (highest_rate_hz(signal.value, two_way=True) if answers else None) or highest
    least_us = 1e6 / highest
    pause = f", {least_us:.4g} µs with the pause after it" if least_us - time_us > 0.1 else ""
    what = "control loops" if rate.name == "loop.rate_hz" else "commands"
    yield Finding(
        rate.span or craft.place(signal),
        f"{rate.value:g} {what} a second leave {1e6 / rate.value:.4g} µs each, but one {signal} "
        f"command takes {time_us:.4g} µs{pause}: commands are lost or thinned out",
        _slow_down(craft, rate, room, two_way=answers),
        _beside(signal, "the motor signal") if rate.span else (),
        edits=_put_rate(craft, rate, room),
    )


@rule(
    "motor/two-way-outlasts-loop",
    grade="advise",
    title="Two-way motor commands take longer than a control loop",
    why="""
    With a two-way signal each command is followed by a pause and the ESC's answer, which takes
    about as long again.  How fast the answer comes is not in any neutral source known to us, so
    this is a hint to look at, not a verdict: if speeds arrive and motors run smoothly, accept it.
    """,
    source="frame: {digital-example}; pause and bits of the answer: {digital-libraries}; its "
    "speed: from memory",
    confidence="hint",
    examples=(
        good(
            """
            let motor-signal be dshot300
            let motor-answers be yes
            let loop-rate be 3900
            """
        ),
        good(
            """
            let motor-signal be dshot600
            let motor-answers be yes
            let loop-rate be 7300
            """
        ),
        bad(
            """
            let motor-signal be dshot300
            let motor-answers be yes
            let loop-rate be 9200
                             ^^^^ 9200 dshot300 answer
            """
        ),
        unknown(
            """
            let motor-signal be dshot300
            let motor-answers be yes
            """,
            missing="loop.rate_hz",
        ),
        unknown("let motor-signal be dshot300", missing="motor.two_way"),
        unknown("let motor-answers be yes", missing="motor.signal"),
        not_for(
            """
            let motor-signal be dshot300
            let motor-answers be no
            let loop-rate be 9200
            """
        ),
        not_for(
            """
            let motor-signal be oneshot125
            let motor-answers be yes
            let loop-rate be 5800
            """
        ),
    ),
)
def two_way_outlasts_loop(craft: Craft, options: Options) -> Iterator[Finding]:
    """Command, pause and answer should fit in one period."""
    two_way = craft.need("motor.two_way")
    if not two_way.value:
        raise NotForThisCraft("the motor signal is one way")
    signal = craft.need("motor.signal")
    highest = highest_rate_hz(signal.value, two_way=True)
    time_us = command_time_us(signal.value, two_way=True)
    if highest is None or time_us is None:
        raise NotForThisCraft(f"{signal} carries no answers")
    rate = craft.need("loop.rate_hz")
    # Too fast even one way: that is certain, and motor/command-outlasts-loop says it.
    one_way = highest_rate_hz(signal.value)
    if rate.value <= highest or (one_way is not None and rate.value > one_way):
        return
    yield Finding(
        rate.span or craft.place(signal),
        f"{rate.value:g} control loops a second leave {1e6 / rate.value:.4g} µs each, but one "
        f"{signal} command and its answer take about {time_us:.3g} µs: answers may be lost",
        _slow_down(craft, rate, highest, two_way=True),
        (
            *(_beside(signal, "the motor signal") if rate.span else ()),
            *_beside(two_way, "answers are asked for"),
        ),
        edits=_put_rate(craft, rate, highest),
    )


def _own_rate(craft: Craft) -> Value:
    """How often pulses are sent: at a rate of their own if one is set, else once a loop."""
    own = craft.get("motor.rate_hz")
    return own if own.known else craft.need("loop.rate_hz")


def _slow_down(craft: Craft, rate: Value, highest: float, *, two_way: bool) -> str:
    spoken = craft.maybe_card("esc.signals")
    quick = [
        word
        for word in (_fitting(craft, spoken.value) if spoken.known else ())
        if (highest_rate_hz(word, two_way) or 0) >= rate.value
    ]
    put = _put_rate(craft, rate, highest)[0]
    slower = f"set {put.name} to at most {floor(highest)} Hz: "
    if put.name == rate.name:
        part = round(rate.value / put.value)
        slower += f"{put.value:g} Hz is one in {part} of what it is now"
    else:
        slower += "the loop may stay as fast as it is"
    faster = (
        f"; or use a faster signal that the ESCs understand: {listed(quick, 'or')}" if quick else ""
    )
    return slower + faster


def _put_rate(craft: Craft, rate: Value, highest: float) -> tuple[Put, ...]:
    """A whole part of the rate at hand: controllers count loops, so others may not be to be had.

    Pulses that go out once a loop get a rate of their own, if the firmware has one.
    """
    signal = craft.need("motor.signal")
    if rate.name == "loop.rate_hz" and not _digital(signal) and OWN_RATE not in craft.unmapped:
        return (Put(OWN_RATE, float(10 * floor(highest / 10)), 0.9 * highest, highest),)
    part = rate.value / ceil(float(rate.value) / highest - 1e-9)
    return (Put(rate.name, part, 0.9 * part, highest),)


def _fitting(craft: Craft, words: Iterable[str]) -> list[str]:
    """Those signals that get along with what else is set, the one to take first; failing that all.

    Where motors are to answer or to be reversed a signal must be digital; and a command must fit
    in the time that there is.
    """
    known = [word for word in _in_order(words) if word != "brushed"]
    two_way = bool(craft.get("motor.two_way").value)
    loop = craft.get("loop.rate_hz")
    rows: tuple[ModeRange | ModeLink, ...] = (*craft.mode_ranges, *craft.mode_links)
    turns = any(row.mode == "self-right" for row in rows)

    def fits(word: str) -> bool:
        digital = SIGNALS[word].digital
        own = loop if digital else craft.get(OWN_RATE)
        rate = own if own.known else loop
        fast = not rate.known or (highest_rate_hz(word, two_way and digital) or 0) >= rate.value
        return fast and (digital or not (two_way or turns))

    first = [word for word in known if fits(word)]
    first.sort(key=lambda word: not SIGNALS[word].digital)
    return first or known


def _put_signal(craft: Craft, words: list[str]) -> tuple[Put, ...]:
    """The first of the signals, and what has to change with it where none gets along."""
    if not words:
        return ()
    puts = [Put("motor.signal", words[0])]
    if not SIGNALS[words[0]].digital:
        rate, highest = _own_rate_or_none(craft), highest_rate_hz(words[0])
        if craft.get("motor.two_way").value:
            puts.append(Put("motor.two_way", False))
        if rate is not None and highest is not None and rate > highest:
            puts.append(Put(OWN_RATE, float(10 * floor(highest / 10)), 0.9 * highest, highest))
    return tuple(puts)


def _own_rate_or_none(craft: Craft) -> float | None:
    own, loop = craft.get(OWN_RATE), craft.get("loop.rate_hz")
    rate: float | None = (own if own.known else loop).value
    return rate


# ---------------------------------------------------------------- the ends of the pulse


@rule(
    "motor/pulse-points-out-of-order",
    grade="ground",
    title="Pulse end points out of order",
    why="""
    Pulse signals have three points: the pulse that keeps a motor still, the lowest throttle and
    full throttle, never falling.  With the still pulse above the lowest throttle a motor may turn
    while the craft is disarmed; with the lowest at or above the highest there is no throttle, or
    one that works backwards.
    """,
    source="common practice",
    examples=(
        good(
            """
            let motor-signal be oneshot125
            let pulse-still be 1035
            let pulse-low be 1117
            let pulse-high be 1955
            """
        ),
        good(
            """
            let motor-signal be servo-pwm
            let pulse-still be 1052
            let pulse-low be 1052
            let pulse-high be 1880
            """
        ),
        bad(
            """
            let motor-signal be oneshot125
            let pulse-still be 1118
                               ^^^^ 1118 1109 still
            let pulse-low be 1109
            let pulse-high be 1970
            """
        ),
        bad(
            """
            let motor-signal be multishot
            let pulse-still be 1064
            let pulse-low be 1915
                             ^^^^ 1915 throttle
            let pulse-high be 1915
            """
        ),
        # What is certain is said, even where another point is missing.
        bad(
            """
            let motor-signal be multishot
            let pulse-low be 1945
                             ^^^^ 1945 1123
            let pulse-high be 1123
            """
        ),
        unknown(
            """
            let motor-signal be oneshot125
            let pulse-low be 1118
            let pulse-high be 1975
            """,
            missing="motor.pulse_stop_us",
        ),
        unknown(
            """
            let motor-signal be oneshot125
            let pulse-still be 1009
            let pulse-low be 1061
            """,
            missing="motor.pulse_max_us",
        ),
        not_for(
            """
            let motor-signal be dshot300
            let pulse-still be 1158
            let pulse-low be 1144
            let pulse-high be 1905
            """
        ),
    ),
)
def pulse_points_out_of_order(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """stop ≤ min < max."""
    _pulses_only(craft)
    stop, low, high = (craft.get(f"motor.pulse_{end}_us") for end in ("stop", "min", "max"))
    for value in (stop, low, high):
        if not value.known:
            yield Missing(value.name, "dump")
    if stop.known and low.known and stop.value > low.value:
        yield Finding(
            craft.place(stop),
            f"the pulse that keeps a motor still, {stop}, lies above the lowest throttle, {low}: "
            "a motor may turn while disarmed",
            _in_turn(craft, low),
            _beside(low, "the lowest throttle"),
            edits=_still_at(craft, low),
        )
    if low.known and high.known and low.value >= high.value:
        yield Finding(
            low.span or craft.place(high),
            f"the lowest throttle, {low}, is not below full throttle, {high}: the throttle has no "
            "travel or works backwards",
            "set motor.pulse_min_us below motor.pulse_max_us; likely the two are swapped",
            _beside(high, "full throttle") if low.span else (),
            edits=_turned_over(craft, low, high, stop),
        )


#: Two points no further apart than this are the same one (µs).
_SAME_US = 10


def _turned_over(craft: Craft, low: Value, high: Value, stop: Value) -> tuple[Put, ...]:
    """The two ends the other way round; or, where the ESCs' range shows that only the lower one is
    wrong, that one where their throttle begins.  Nothing where the still pulse would lie above.
    """
    begins, ends = (craft.maybe_card(f"esc.pulse_{end}_us") for end in ("min", "max"))
    swapped = not ends.known or abs(low.value - ends.value) <= _SAME_US
    if not swapped and not begins.known:
        return ()
    new = high.value if swapped else float(begins.value)
    if low.value == high.value or not stop.known or stop.value > new or new > high.value:
        return ()
    lower = Put(low.name, new)
    return (lower, Put(high.name, low.value)) if swapped else (lower,)


@rule(
    "motor/pulse-ends-off-calibration",
    grade="fix",
    title="Pulse end points differ from the ESCs' calibration",
    why="""
    An ESC on pulses learns where throttle begins and ends when it is calibrated.  If the
    controller's points lie elsewhere, motors may turn when they should stand still, stop in the
    air at low throttle, or lack the top of their range just when the craft needs it to hold its
    attitude.  Digital signals need none of this.
    """,
    source="common practice",
    options=(
        Option("slack_us", 10, "how far two points may lie apart, µs", 0, 200),
        Option("short_us", 50, "how far full throttle may fall short, µs", 0, 500),
        Option("deep_us", 150, "how far the still pulse may lie below throttle, µs", 0, 1000),
    ),
    examples=(
        good(
            """
            let motor-signal be oneshot125
            let pulse-still be 1022
            let pulse-low be 1086
            let pulse-high be 1957
            """,
            card="""
            [esc]
            pulse_min_us = 1022
            pulse_max_us = 1957
            """,
        ),
        good(
            """
            let motor-signal be servo-pwm
            let pulse-still be 1052
            let pulse-low be 1141
            let pulse-high be 1847
            """,
            card="""
            [esc]
            pulse_min_us = 1047
            pulse_max_us = 1890
            """,
        ),
        bad(
            """
            let motor-signal be oneshot125
            let pulse-still be 1091
                               ^^^^ 1091 1031 still
            let pulse-low be 1103
            let pulse-high be 1935
            """,
            card="""
            [esc]
            pulse_min_us = 1031
            pulse_max_us = 1935
            """,
        ),
        bad(
            """
            let motor-signal be oneshot125
            let pulse-still be 720
                               ^^^ 720 1031 none
            let pulse-low be 1103
            let pulse-high be 1935
            """,
            card="""
            [esc]
            pulse_min_us = 1031
            pulse_max_us = 1935
            """,
        ),
        bad(
            """
            let motor-signal be oneshot125
            let pulse-still be 1066
            let pulse-low be 1155
                             ^^^^ 1155 1216 stop
            let pulse-high be 1965
                              ^^^^ 1965 1815 top
            """,
            card="""
            [esc]
            pulse_min_us = 1216
            pulse_max_us = 1815
            """,
        ),
        bad(
            """
            let motor-signal be oneshot125
            let pulse-still be 1014
            let pulse-low be 1089
            let pulse-high be 1775
                              ^^^^ 1775 1925 full
            """,
            card="""
            [esc]
            pulse_min_us = 1014
            pulse_max_us = 1925
            """,
        ),
        bad(
            """
            let motor-signal be oneshot125
            let pulse-still be 1038
            let pulse-low be 1092
            let pulse-high be 1940
                              ^^^^ 1940 1950
            """,
            card="""
            [esc]
            pulse_min_us = 1038
            pulse_max_us = 1950
            """,
            options={"slack_us": 0, "short_us": 0},
        ),
        unknown(
            """
            let motor-signal be oneshot125
            let pulse-still be 1055
            let pulse-low be 1147
            let pulse-high be 1895
            """,
            missing="esc.pulse_min_us",
        ),
        unknown(
            """
            let motor-signal be oneshot125
            let pulse-still be 1029
            let pulse-low be 1108
            """,
            missing="motor.pulse_max_us",
            card="""
            [esc]
            pulse_min_us = 1029
            pulse_max_us = 1920
            """,
        ),
        not_for(
            """
            let motor-signal be dshot300
            let pulse-high be 1830
            """,
            card="""
            [esc]
            pulse_max_us = 1980
            """,
        ),
    ),
)
def pulse_ends_off_calibration(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """stop ≤ the ESCs' lowest ≤ min, and max = the ESCs' highest, each within the slack.

    One lack or finding for each question, so that a card with one end still settles that end.
    """
    _pulses_only(craft)
    edits = _as_learned(craft, options)
    for name, field, judge in _ENDS:
        value, learned = craft.get(name), craft.maybe_card(field)
        if not value.known:
            yield Missing(name, "dump")
        if not learned.known:
            yield Missing(field, "card")
        if not (value.known and learned.known):
            continue
        said = judge(value.value - learned.value, options)
        if said is None:
            continue
        what, grade = said
        yield Finding(
            craft.place(value),
            what.format(value=value, learned=f"{learned.value:g} µs"),
            f"calibrate the ESCs again, propellers off, or set {name} to fit {learned.value:g} µs",
            _beside(learned, "what the ESCs are calibrated to"),
            grade,
            edits=edits,
        )


def _as_learned(craft: Craft, options: Options) -> tuple[Put, ...]:
    """Every end that is off at what the ESCs have learned: one alone may end up out of order."""
    return tuple(
        Put(name, float(learned.value))
        for name, field, judge in _ENDS
        if (value := craft.get(name)).known
        and (learned := craft.maybe_card(field)).known
        and judge(value.value - learned.value, options) is not None
    )


def _still(off: float, options: Options) -> tuple[str, Grade] | None:
    if off < -options.deep_us:
        return (
            "the pulse that keeps a motor still is {value}, but the ESCs' throttle begins at "
            "{learned}: so short a pulse may be taken for none, and the ESCs do not arm",
            "fix",
        )
    if off <= options.slack_us:
        return None
    return (
        "the pulse that keeps a motor still is {value}, but the ESCs' throttle begins at "
        "{learned}: a motor may turn while disarmed",
        "ground",
    )


def _lowest(off: float, options: Options) -> tuple[str, Grade] | None:
    if off >= -options.slack_us:
        return None
    return (
        "the lowest throttle is {value}, but the ESCs' throttle begins at {learned}: motors stop "
        "in the air when it is closed",
        "fix",
    )


def _highest(off: float, options: Options) -> tuple[str, Grade] | None:
    if off > options.slack_us:
        return (
            "full throttle is {value}, but the ESCs' throttle ends at {learned}: the top of the "
            "range does nothing",
            "fix",
        )
    if off < -options.short_us:
        return (
            "full throttle is {value}, but the ESCs' throttle ends at {learned}: full drive is "
            "never reached",
            "fix" if off < -FAR_SHORT_US else "advise",
        )
    return None


_ENDS = (
    ("motor.pulse_stop_us", "esc.pulse_min_us", _still),
    ("motor.pulse_min_us", "esc.pulse_min_us", _lowest),
    ("motor.pulse_max_us", "esc.pulse_max_us", _highest),
)


def _in_turn(craft: Craft, low: Value) -> str:
    learned = craft.maybe_card("esc.pulse_min_us")
    if learned.known and low.value < learned.value:
        return f"set {low.name} to {learned.value:g} µs, where the ESCs' throttle begins, or above"
    return f"set motor.pulse_stop_us to at most {low}"


def _still_at(craft: Craft, low: Value) -> tuple[Put, ...]:
    """The still pulse at the lowest throttle, or both at what the ESCs have learned.

    With a lowest throttle below that it is not the still pulse that is wrong.
    """
    learned = craft.maybe_card("esc.pulse_min_us")
    if not learned.known:
        return (Put("motor.pulse_stop_us", low.value),)
    puts = [
        Put(
            "motor.pulse_stop_us", min(float(learned.value), craft.get("motor.pulse_stop_us").value)
        )
    ]
    if low.value < learned.value:
        puts.append(Put(low.name, float(learned.value)))
    return tuple(one for one in puts if craft.get(one.name).value != one.value)


# ---------------------------------------------------------------- shared by the rules above


def _digital(signal: Value) -> bool:
    return SIGNALS[signal.value].digital


def _self_right(craft: Craft) -> Span:
    """Where self-right is put on a switch; not for a craft that does not use it."""
    rows: tuple[ModeRange | ModeLink, ...] = (*craft.mode_ranges, *craft.mode_links)
    # A link alone turns nothing on.
    wanted = ["self-right"]
    for mode in wanted:
        wanted += {link.follows for link in craft.mode_links if link.mode == mode} - {*wanted}
    for row in rows if any(row.mode in wanted for row in craft.mode_ranges) else ():
        if row.mode == "self-right":
            return row.span
    raise NotForThisCraft("self-right is on no switch")


def _pulses_only(craft: Craft) -> None:
    signal = craft.need("motor.signal")
    if SIGNALS[signal.value].pulse_low_us is None:
        raise NotForThisCraft(f"{signal} has no pulse lengths to calibrate")


def _in_order(words: Iterable[str]) -> list[str]:
    """Signals by how fast they are, slow ones first."""
    return sorted(words, key=lambda word: (highest_rate_hz(word) or 0, word))


def _beside(value: Value, message: str) -> tuple[Related, ...]:
    return (Related(value.span, message),) if value.span else ()
