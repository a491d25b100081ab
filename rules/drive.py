"""Drive: how hard motors are driven at the least, how often they are told, and how they count.

The signal itself is looked at in ``motor``; here are the numbers beside it.  All of them have
bounds by common practice, which a club may set otherwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.signals import SIGNALS, highest_rate_hz
from cfglint.rule import Finding, Option, Put, Related, bad, good, not_for, rule, unknown

from ._reach import beside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, ModeLink, ModeRange, Value
    from cfglint.rule import Grade, Options


# ---------------------------------------------------------------- the least drive


@rule(
    "motor/idle-out-of-bounds",
    grade="fix",
    title="Idle too low or too high",
    why="""
    Idle is what an armed motor gets at zero throttle.  Too little, and a motor stops in the air
    when the throttle is closed and the craft tumbles; too much, and it comes down only slowly,
    hops on landing or, with enough of it, leaves the ground the moment it is armed.  With a pulse
    signal the lowest throttle does the same, reckoned from where the ESCs' throttle begins.
    """,
    source="common practice",
    options=(
        Option("least_percent", 2.5, "least idle that keeps motors turning (%)", 0, 100),
        Option("most_percent", 13.0, "most idle that is still sensible (%)", 0, 100),
        Option("lifts_percent", 24.0, "idle from which a light craft may take off (%)", 0, 100),
    ),
    examples=(
        good(
            """
            let motor-signal be dshot300
            let least-spin be 5.2
            """
        ),
        good(
            """
            let motor-signal be oneshot125
            let least-spin be 5.2
            let pulse-low be 1098
            """,
            card="""
            [esc]
            pulse_min_us = 1040
            pulse_max_us = 1960
            """,
        ),
        bad(
            """
            let motor-signal be dshot300
            let least-spin be 0.8
                              ^^^ 0.8 stop
            """
        ),
        bad(
            """
            let motor-signal be dshot300
            let least-spin be 17
                              ^^ 17 hops
            """
        ),
        bad(
            """
            let motor-signal be dshot300
            let least-spin be 37
                              ^^ 37 armed
            """
        ),
        bad(
            """
            let motor-signal be oneshot125
            let least-spin be 5.2
            let pulse-low be 1310
                             ^^^^ 1310 1040 29.3% armed
            """,
            card="""
            [esc]
            pulse_min_us = 1040
            pulse_max_us = 1960
            """,
        ),
        unknown("let motor-signal be dshot300", missing="motor.idle_percent"),
        unknown("let least-spin be 5.2", missing="motor.signal"),
        unknown(
            """
            let motor-signal be oneshot125
            let least-spin be 5.2
            let pulse-low be 1098
            """,
            card="""
            [esc]
            pulse_min_us = 1040
            """,
            missing="esc.pulse_max_us",
        ),
    ),
)
def idle_out_of_bounds(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Idle, and with pulses the lowest throttle above the ESCs' own, within bounds."""
    idle = craft.get("motor.idle_percent")
    if not idle.known:
        yield Missing("motor.idle_percent", "dump")
    elif (said := _idle(idle.value, options)) is not None:
        yield Finding(
            craft.place(idle),
            f"an armed motor idles at {idle}: {said[0]}",
            f"set {idle.name} to {_between(options.least_percent, options.most_percent)} %, and "
            "try it out with propellers off",
            grade=said[1],
            edits=_nearer_end(idle, options.least_percent, options.most_percent),
        )
    signal = craft.need("motor.signal")
    if SIGNALS[signal.value].pulse_low_us is None:
        return
    low = craft.need("motor.pulse_min_us")
    begins, ends = craft.from_card("esc.pulse_min_us"), craft.from_card("esc.pulse_max_us")
    share = 100 * (low.value - begins.value) / (ends.value - begins.value)
    said = _idle(share, options)
    # Below where the throttle begins: motor/pulse-ends-off-calibration says so.
    if said is not None and share > options.most_percent:
        yield Finding(
            craft.place(low),
            f"the lowest throttle is {low} and the ESCs' throttle begins at {begins.value:g} µs, "
            f"so an armed motor idles at {share:.1f}%: {said[0]}",
            f"set {low.name} a little above {begins.value:g} µs",
            beside(begins, "where the ESCs' throttle begins"),
            grade=said[1],
        )


def _idle(percent: float, options: Options) -> tuple[str, Grade] | None:
    if percent < options.least_percent:
        return "it may stop in the air when the throttle is closed", "fix"
    if percent >= options.lifts_percent:
        return "the craft may leave the ground the moment it is armed", "ground"
    if percent > options.most_percent:
        return "the craft hops on landing and comes down only slowly", "fix"
    return None


def _between(least: float, most: float) -> str:
    return f"between {least:g} and {most:g}"


# ---------------------------------------------------------------- how often


@rule(
    "motor/loop-rate-out-of-bounds",
    grade="fix",
    title="A control loop too slow to fly by, or faster than any",
    why="""
    The loop measures how the craft turns and corrects it.  A small craft turns over in a fraction
    of a second: with too few corrections it swings up, and below a hundred a second or so it
    cannot be held at all.  A figure beyond what gyroscopes deliver is a slip of the pen or of a
    unit, and the controller runs at some other rate.
    """,
    source="common practice",
    options=(
        Option("least_hz", 340, "fewest loops a second to fly by", 1, 64_000),
        Option("most_hz", 33_000, "most loops a second that make sense", 1, 64_000),
        Option("hopeless_hz", 120, "fewer loops a second than this cannot hold it", 1, 64_000),
    ),
    examples=(
        good("let loop-rate be 2600"),
        bad(
            """
            let loop-rate be 230
                             ^^^ 230 swings
            """
        ),
        bad(
            """
            let loop-rate be 74
                             ^^ 74 held
            """
        ),
        bad(
            """
            let loop-rate be 52000
                             ^^^^^ 52000 gyroscope
            """
        ),
        unknown("let motor-signal be dshot300", missing="loop.rate_hz"),
    ),
)
def loop_rate_out_of_bounds(craft: Craft, options: Options) -> Iterator[Finding]:
    """The loop's rate is one that a multirotor can be flown by."""
    rate = craft.need("loop.rate_hz")
    grade: Grade = "fix"
    if rate.value > options.most_hz:
        what = "no gyroscope delivers so many, so the controller runs at some other rate"
    elif rate.value < options.hopeless_hz:
        what, grade = "with so few the craft cannot be held at all", "ground"
    elif rate.value < options.least_hz:
        what = "with so few corrections the craft swings up"
    else:
        return
    yield Finding(
        craft.place(rate),
        f"the control loop runs {rate.value:g} times a second: {what}",
        f"set {rate.name} to {_between(options.least_hz, options.most_hz)} Hz, one of the rates "
        "that the controller offers",
        grade=grade,
    )


@rule(
    "motor/commands-too-seldom",
    grade="fix",
    title="Motor commands sent too seldom",
    why="""
    Pulses may go out at a rate of their own, slower than the loop.  Servos are content with a
    pulse every 20 ms; a motor that holds a craft level is not: between two commands it has turned
    further than the next can mend, and an ESC that waits too long takes the signal for lost.
    """,
    source="common practice",
    options=(Option("least_hz", 180, "fewest commands a second", 1, 100_000),),
    examples=(
        good(
            """
            let motor-signal be servo-pwm
            let motor-rate be 390
            """
        ),
        bad(
            """
            let motor-signal be servo-pwm
            let motor-rate be 55
                              ^^ 55 servo
            """
        ),
        unknown("let motor-rate be 55", missing="motor.signal"),
        not_for(
            """
            let motor-signal be brushed
            let motor-rate be 55
            """
        ),
        not_for(
            """
            let motor-signal be dshot300
            let motor-rate be 55
            """
        ),
        not_for("let motor-signal be servo-pwm"),
    ),
)
def commands_too_seldom(craft: Craft, options: Options) -> Iterator[Finding]:
    """A rate of commands of its own is not below the least."""
    signal = craft.need("motor.signal")
    if SIGNALS[signal.value].pulse_low_us is None:
        raise NotForThisCraft(f"only pulses go out at a rate of their own, and this is {signal}")
    own = craft.get("motor.rate_hz")
    if not own.known:
        if own.name in craft.unmapped:
            raise Missing(own.name, "dialect", "commands may go out at a rate of their own")
        raise NotForThisCraft("motor commands are tied to the loop")
    if own.value < options.least_hz:
        yield Finding(
            craft.place(own),
            f"motors are told only {own.value:g} times a second, as servos are: the craft cannot "
            "be held level, and an ESC may take the signal for lost",
            f"set {own.name} to {options.least_hz:g} Hz or more, as far as {signal} carries it",
            (Related(signal.span, "the motor signal"),) if signal.span else (),
            edits=_often_enough(own, signal, options.least_hz),
        )


def _often_enough(own: Value, signal: Value, least: float) -> tuple[Put, ...]:
    """The least rate that will do, if the signal carries it."""
    highest = highest_rate_hz(signal.value) or 0.0
    return (Put(own.name, float(least), least, highest),) if least <= highest else ()


# ---------------------------------------------------------------- self-right, poles


@rule(
    "motor/self-right-drive-out-of-bounds",
    grade="fix",
    title="Self-right with too little drive or too much",
    why="""
    A craft that lies on its back is levered over by two or three of its motors.  With too little
    drive they only stall against the grass and heat up; with nearly all of it the craft is flung
    at whoever stands by, blades break, and a blocked motor burns its ESC in seconds.
    """,
    source="common practice",
    options=(
        Option("least_percent", 14.0, "least drive that can turn it over (%)", 0, 100),
        Option("most_percent", 72.0, "most drive that is still safe (%)", 0, 100),
    ),
    examples=(
        good(
            """
            let roll-back-drive be 41
            use self-right while channel 8 in 1715..2140
            """
        ),
        bad(
            """
            let roll-back-drive be 3
                                   ^ 3 stall
            use self-right while channel 8 in 1715..2140
            """
        ),
        bad(
            """
            let roll-back-drive be 95
                                   ^^ 95 flung
            use self-right while channel 8 in 1715..2140
            """
        ),
        unknown("use self-right while channel 8 in 1715..2140", missing="self-right.power_percent"),
        not_for("let roll-back-drive be 3"),
    ),
)
def self_right_drive_out_of_bounds(craft: Craft, options: Options) -> Iterator[Finding]:
    """The drive of a self-right that is on a switch lies within bounds."""
    rows: tuple[ModeRange | ModeLink, ...] = (*craft.mode_ranges, *craft.mode_links)
    if not any(row.mode == "self-right" for row in rows):
        raise NotForThisCraft("self-right is on no switch")
    drive = craft.need("self-right.power_percent")
    if drive.value < options.least_percent:
        what = "motors stall and heat up, and the craft stays on its back"
    elif drive.value > options.most_percent:
        what = "the craft is flung about, blades break, and a blocked motor burns its ESC"
    else:
        return
    yield Finding(
        craft.place(drive),
        f"self-right drives the motors with {drive}: {what}",
        f"set {drive.name} to {_between(options.least_percent, options.most_percent)} %, and use "
        "it in brief blips",
        edits=_nearer_end(drive, options.least_percent, options.most_percent),
    )


def _nearer_end(value: Value, least: float, most: float) -> tuple[Put, ...]:
    """What is as little of a change as will do."""
    if least > most:
        return ()
    end = least if value.value < least else most
    return (Put(value.name, float(end), least, most),)


@rule(
    "motor/odd-poles",
    grade="fix",
    title="An odd number of magnets",
    why="""
    North and south alternate around a motor's bell, so the number of magnets is even.  With a
    wrong one every speed that the ESCs report is off in proportion, and filters that follow the
    motors' speed follow something else.
    """,
    source="by arithmetic: poles come in pairs",
    examples=(
        good(
            """
            let motor-signal be dshot300
            let bell-magnet be 22
            """
        ),
        bad(
            """
            let motor-signal be dshot300
            let bell-magnet be 13
                               ^^ 13 even
            """
        ),
        unknown("let motor-signal be dshot300", missing="motor.poles"),
        unknown("let bell-magnet be 13", missing="motor.signal"),
        not_for(
            """
            let motor-signal be brushed
            let bell-magnet be 13
            """
        ),
    ),
)
def odd_poles(craft: Craft, options: Options) -> Iterator[Finding]:
    """The number of magnets is even."""
    signal = craft.need("motor.signal")
    if signal.value == "brushed":
        raise NotForThisCraft("a brushed motor tells no speed")
    poles: Value = craft.need("motor.poles")
    if poles.value % 2:
        yield Finding(
            craft.place(poles),
            f"a motor's bell is said to have {poles.value} magnets, but they come in pairs, so "
            "their number is even: every speed reported is wrong",
            f"count the magnets in one bell and set {poles.name} to that",
        )
