"""Failsafe: what the craft does when it hears nothing more from the transmitter.

In the order in which it matters: is anything set at all, does anything hold the last values, does
the throttle close and do the sticks rest, can this craft do what is set, does it stay armed for it
and come down at a throttle that lets it, is it what its owner wants, and how soon.

Set or not, a failsafe is tested on the bench, propellers off, by switching the transmitter off.
Local aviation rules and the makers' instructions come first.
"""

from __future__ import annotations

from functools import partial
from math import isfinite
from typing import TYPE_CHECKING, Literal

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.links import NOMINAL_LOW_US
from cfglint.rule import Finding, Option, Put, Related, bad, good, not_for, rule, unknown

from ._reach import beside, channels_behind, decide, link_of, throttle_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options

    from ._reach import Box, View

ACTION = "failsafe.action"

#: What each action is called in a sentence.
_SAYS = {
    "stop": "stop the motors",
    "descend": "descend by itself",
    "return-home": "fly home by itself",
    "hold-last": "go on with the last values",
    "none": "do nothing",
}


# ---------------------------------------------------------------- is anything set


@rule(
    "failsafe/never-set",
    grade="ground",
    title="Nothing is set for a lost link",
    why="""
    A craft that does nothing about a lost link goes on flying with whatever it heard last, out of
    sight and out of hand, with its motors running where it comes down.  What is right hangs on the
    kind of craft: one that cannot steady itself should stop its motors; one that can may do better
    by coming down under control; one that can be programmed may return and land.
    """,
    source="a lost link must end in something safe, and what that is depends on the craft: "
    "{bmfa-failsafe}, {bmfa-rotorcraft}",
    examples=(
        good("let lost-link-action be stop"),
        good(
            """
            -- board SLATE, firmware 7.9, changes only
            let lost-link-action be descend
            """
        ),
        good(
            """
            let stick-order be AETR
            on loss channel 3 becomes 985
            """
        ),
        bad(
            """
            let lost-link-action be none
                                    ^^^^ lost link nothing
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, full listing
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no line lost link
            let motor-signal be dshot300
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no line default nothing
            let motor-signal be dshot300
            """
        ),
        bad(
            """
            let stick-order be AETR
            ^^^^^^^^^^^^^^^^^^^^^^^ no line
            on loss channel 5 becomes 1015
            """
        ),
        unknown("on loss channel 1 becomes hold", missing="receiver.channel_order"),
    ),
)
def never_set(craft: Craft, options: Options) -> Iterator[Finding]:
    """An action other than none, or, where no line names one, a value for the throttle."""
    action = craft.get(ACTION)
    if not action.known:
        if craft.extent != "full":
            raise Missing(ACTION, "dump", "the dialect does not say what holds without a line")
        if ACTION in craft.unmapped:
            raise Missing(ACTION, "dialect", "without it a line may be there and not be understood")
        if _on_loss(craft, _looked_at(craft)) and _on_loss(craft, [_throttle_channel(craft)]):
            return
        what = f"no line says what to do on a lost link ({ACTION})"
    elif action.value != "none":
        return
    elif action.origin == "default":
        what = "no line says what to do on a lost link, and the default is to do nothing"
    else:
        what = "on a lost link the craft is set to do nothing"
    yield Finding(
        craft.place(action),
        f"{what}: it would fly on out of hand with its motors running",
        _what_suits(craft),
        beside(craft.maybe_card("airframe.kind"), "the kind of airframe"),
        edits=_put_what_suits(craft),
        by=_settled_by(craft),
    )


def _what_suits(craft: Craft) -> str:
    """What to set on this kind of craft; where nobody says its kind, what to find out."""
    kind = craft.maybe_card("airframe.kind")
    if not kind.known:
        return (
            f"set {ACTION} to what this kind of craft can do, and write its kind in the card (kind "
            "under [airframe]): unstabilised stops, stabilised may descend, programmable may return"
        )
    suits = [action for action in _DOES if kind.value in _ABLE.get(action, (kind.value,))]
    return f"set {ACTION} to {' or '.join(suits)}: the card calls this craft {kind.value}"


def _put_what_suits(craft: Craft) -> tuple[Put, ...]:
    """What the card wants, if the craft can do it; else what it can do, if that is one thing."""
    kind = craft.maybe_card("airframe.kind")
    if not kind.known:
        return ()
    suits = [action for action in _DOES if kind.value in _ABLE.get(action, (kind.value,))]
    wanted = craft.maybe_card("failsafe.wanted").value
    chosen = suits if wanted is None else [wanted] if wanted in suits else []
    return _put_action(craft, chosen[0]) if len(chosen) == 1 else ()


def _put_action(craft: Craft, action: str) -> tuple[Put, ...]:
    """The action, and what goes with it: one that needs its motors is no cure where channels are
    set to disarm, nor any other where arm's channel is held.
    """
    if action in _ABLE:
        arming = {row.channel for mode in _ARMING for row in craft.ranges_of(mode)}
        off = [on for on in _on_loss(craft, arming).values() if on.value != "hold"]
        return (Put(ACTION, action), *(Put(on.name, "hold") for on in off))
    arming = {row.channel for row in craft.ranges_of("arm")}
    held = {at: on for at, on in _on_loss(craft, arming).items() if on.value == "hold"}
    drops = [_off(craft, on, at) for at, on in held.items()]
    return (Put(ACTION, action), *(one for puts in drops for one in puts)) if all(drops) else ()


_ARMING = ("arm", "arm-permit")


def _can_do(craft: Craft, action: str) -> bool:
    kind = craft.maybe_card("airframe.kind").value
    return kind is None or kind in _ABLE.get(action, (kind,))


def _settled_by(craft: Craft) -> Literal["hand", "card"]:
    """What there is to do where no line is proposed."""
    return "hand" if craft.maybe_card("airframe.kind").known else "card"


#: What a craft can do on a lost link, and the kinds that can, where it is not every one.
_DOES = ("stop", "descend", "return-home")
_ABLE = {"descend": ("stabilised", "programmable"), "return-home": ("programmable",)}


# ---------------------------------------------------------------- old values held


@rule(
    "failsafe/holds-last-values",
    grade="ground",
    title="The last values are held on a lost link",
    why="""
    Holding the last values leaves throttle and arm where they were when the link broke: the
    motors go on at that speed, also on the ground among people.  Even where an action takes over
    later, nothing is gained by waiting for it with the throttle open.  Arm alone may be held, if
    the craft is to descend or fly home: it needs its motors for that.
    """,
    source="throttle closed or idle on loss of signal: {bmfa-failsafe}; arm: common practice",
    examples=(
        good("let lost-link-action be stop"),
        good(
            """
            let lost-link-action be stop
            let stick-order be AETR
            use arm while channel 5 in 1735..2165
            on loss channel 1 becomes hold
            on loss channel 3 becomes 1010
            on loss channel 5 becomes drop
            """
        ),
        bad(
            """
            let lost-link-action be hold-last
                                    ^^^^^^^^^ last values
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let stick-order be AETR
            on loss channel 3 becomes hold
                                      ^^^^ channel 3 throttle
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let stick-order be TAER
            use arm while channel 6 in 1678..2087
            on loss channel 1 becomes hold
                                      ^^^^ channel 1 throttle
            on loss channel 6 becomes hold
                                      ^^^^ channel 6 arm
            """
        ),
        unknown(
            """
            let lost-link-action be stop
            on loss channel 3 becomes hold
            """,
            missing="receiver.channel_order",
        ),
        good(
            """
            let lost-link-action be descend
            use arm while channel 5 in 1735..2165
            on loss channel 5 becomes hold
            """
        ),
        unknown("let stick-order be AETR", missing="failsafe.action"),
    ),
)
def holds_last_values(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Neither action nor throttle may hold, nor arm unless the craft is to fly on by itself."""
    action = craft.get(ACTION)
    arm = {row.channel: row.span for row in craft.ranges_of("arm")}
    throttle = throttle_of(craft)
    # Whose channel the throttle is matters only for what is held.
    channels = {*arm, throttle} if throttle is not None else {*arm, 1, 2, 3, 4}
    held = {on: row for on, row in _on_loss(craft, channels).items() if row.value == "hold"}
    if not action.known:
        yield Missing(ACTION, "dump")
    elif action.value == "hold-last":
        yield Finding(
            craft.place(action),
            "on a lost link the craft goes on with the last values: throttle and arm stay where "
            "they were, and the motors run",
            _what_suits(craft),
            edits=_put_what_suits(craft),
            by=_settled_by(craft),
        )
    if action.known and action.value not in _ABLE:
        for number in held.keys() & arm.keys():
            beside_it = (Related(arm[number], "arm is here"),)
            yield _held(craft, held.pop(number), number, "arm", beside_it)
    if held.keys() - arm.keys():
        throttle = _throttle_channel(craft)
    if throttle in held:
        yield _held(craft, held[throttle], throttle, "throttle", ())


def _held(
    craft: Craft, value: Value, number: int, part: str, beside: tuple[Related, ...]
) -> Finding:
    return Finding(
        craft.place(value),
        f"channel {number} ({part}) is held on a lost link: it stays where it was, and the motors "
        "run on until something else stops them",
        "give it the pulse that throttle closed has"
        if part == "throttle"
        else "give it a pulse at which arm is off, or `drop`",
        beside,
        edits=_closed(craft, value) if part == "throttle" else _off(craft, value, number),
    )


def _closed(craft: Craft, value: Value) -> tuple[Put, ...]:
    """The throttle's channel at what the card's stick sends at its low end, if that counts as low;
    without a card at the nominal low end.
    """
    sent, low = craft.maybe_card("transmitter.low_us"), craft.get("stick.low_us")
    pulse = sent.value if sent.known else NOMINAL_LOW_US
    if not low.known or pulse >= low.value:
        return ()
    return (Put(value.name, f"{pulse:.0f}"),)


def _off(craft: Craft, value: Value, number: int) -> tuple[Put, ...]:
    """Arm's channel at the nominal end at which it is off, well away from its ranges."""
    rows = [row for row in craft.ranges_of("arm") if row.channel == number]
    for pulse in (1000, 2000):
        if all(not row.low_us - 50 <= pulse <= row.high_us + 50 for row in rows):
            return (Put(value.name, str(pulse)),)
    return ()


@rule(
    "failsafe/receiver-hides-the-loss",
    grade="ground",
    title="The receiver holds the last values by itself",
    why="""
    A receiver that repeats the last frame when the radio link is lost gives the controller nothing
    to notice, and so does one that sends values of its own.  Whatever failsafe the controller has
    is then never played; what the craft does hangs on values that stand in no dump.  Some links
    carry a flag that tells of the loss all the same, if the receiver raises it and the controller
    looks at it.  Receivers can as a rule be set to fall silent instead.
    """,
    source="flags that tell of a loss: {sbus}, {fport}; the rest: common practice",
    examples=(
        good(
            "let lost-link-action be stop",
            card="""
            [receiver]
            on_loss = "silent"
            """,
        ),
        bad(
            "let lost-link-action be stop",
            card="""
            [receiver]
            on_loss = "hold"
                      ^^^^^^ receiver last values controller
            """,
        ),
        bad(
            """
            let lost-link-action be return-home
            let receiver-link be crsf
            """,
            card="""
            [receiver]
            on_loss = "set-values"
                      ^^^^^^^^^^^^ values of its own never
            """,
        ),
        bad(
            """
            let lost-link-action be stop
            let receiver-link be sbus
            """,
            card="""
            [receiver]
            on_loss = "set-values"
                      ^^^^^^^^^^^^ values of its own sbus flag
            """,
        ),
        unknown("let lost-link-action be stop", missing="receiver.on_loss"),
    ),
)
def receiver_hides_the_loss(craft: Craft, options: Options) -> Iterator[Finding]:
    """The card's ``receiver.on_loss`` must be silent; a flag on the link makes it milder."""
    habit = craft.from_card("receiver.on_loss")
    if habit.value == "set-values":
        link, _ = link_of(craft)
        flagged = link is not None and link.id in _FLAGGED
        yield Finding(
            craft.place(habit),
            "the receiver sends values of its own when the radio link is lost: "
            + (
                f"unless it raises the flag that {link.id} has for that, the controller never "
                "notices and its failsafe is never played"
                if link is not None and flagged
                else "the controller never notices, and its failsafe is never played"
            ),
            "set the receiver to fall silent on loss, then correct receiver.on_loss in the card",
            grade="fix" if flagged else "ground",
        )
    if habit.value == "hold":
        yield Finding(
            craft.place(habit),
            "the receiver repeats the last values when the radio link is lost: the controller "
            "never notices, its failsafe is never played, and the motors run on",
            "set the receiver to fall silent on loss, then correct receiver.on_loss in the card",
        )


#: Links whose frames carry a flag for a lost radio link.
_FLAGGED = ("sbus", "fport", "sumd")


@rule(
    "failsafe/throttle-stays-open",
    grade="ground",
    title="The throttle is not closed on a lost link",
    why="""
    A value set for the throttle that is not below the stick's low end keeps the motors driving.
    A craft that descends or returns by itself may need it, and so may one that steadies itself
    and is to sink under power; one that cannot would fly on out of hand.  Nobody needs it at or
    above the throttle at which the craft hovers: it would climb away.
    """,
    source="throttle closed or idle on loss of signal, but not for every multirotor: "
    "{bmfa-failsafe}, {bmfa-rotorcraft}",
    examples=(
        good(
            """
            let lost-link-action be stop
            let stick-order be AETR
            let stick-low be 1085
            on loss channel 3 becomes 995
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let stick-order be AETR
            let stick-low be 1120
            on loss channel 3 becomes 1390
                                      ^^^^ 1390 1120 throttle
            """
        ),
        bad(
            """
            let lost-link-action be none
            let stick-order be AETR
            let stick-low be 1091
            on loss channel 3 becomes 1091
                                      ^^^^ 1091 throttle
            """,
            card="""
            [airframe]
            kind = "unstabilised"
            """,
        ),
        bad(
            """
            let lost-link-action be descend
            let stick-order be AETR
            let stick-low be 1091
            on loss channel 3 becomes 1710
                                      ^^^^ 1710 hovers 1480 climb
            """,
            card="""
            [airframe]
            hover_us = 1480
            """,
        ),
        good(
            """
            let lost-link-action be descend
            let stick-order be AETR
            let stick-low be 1105
            on loss channel 3 becomes 1390
            """,
            card="""
            [airframe]
            hover_us = 1510
            """,
        ),
        unknown(
            """
            let lost-link-action be none
            let stick-order be AETR
            let stick-low be 1130
            on loss channel 3 becomes 1340
            """,
            missing="airframe.kind",
        ),
        unknown(
            """
            let lost-link-action be none
            let stick-order be AETR
            let stick-low be 1130
            on loss channel 3 becomes 1340
            """,
            card="""
            [airframe]
            kind = "stabilised"
            """,
            missing="airframe.hover_us",
        ),
        unknown(
            """
            let lost-link-action be stop
            let stick-order be AETR
            on loss channel 3 becomes 1005
            """,
            missing="stick.low_us",
        ),
        unknown("on loss channel 3 becomes 1020", missing="receiver.channel_order"),
        not_for("let lost-link-action be stop"),
        not_for(
            """
            let stick-order be AETR
            on loss channel 3 becomes hold
            """
        ),
    ),
)
def throttle_stays_open(craft: Craft, options: Options) -> Iterator[Finding]:
    """A pulse set for the throttle lies below ``stick.low_us``, or at least lets the craft sink."""
    action = craft.get(ACTION).value
    if throttle_of(craft) is None and not _on_loss(craft, _looked_at(craft)):
        raise NotForThisCraft("no channel has a value set for a lost link")
    throttle = _throttle_channel(craft)
    value = _on_loss(craft, [throttle]).get(throttle)
    pulse = None if value is None else _pulse(value)
    if value is None or pulse is None:
        raise NotForThisCraft("the throttle has no pulse set for a lost link")
    low = craft.need("stick.low_us")
    if pulse < low.value:
        return
    # Who wants the motors stopped does not want them driven; else it hangs on the craft.
    flies_on = action in _ABLE or (
        action != "stop" and craft.from_card("airframe.kind").value != "unstabilised"
    )
    if not flies_on:
        yield Finding(
            craft.place(value),
            f"channel {throttle} (throttle) becomes {pulse:g} µs on a lost link, but a stick is "
            f"low only below {low}: the motors are driven on with nobody at the sticks",
            "give it the pulse that throttle closed has",
            beside(low, "below this a stick is low"),
            edits=_closed(craft, value),
        )
        return
    hover = craft.from_card("airframe.hover_us")
    if pulse >= hover.value:
        yield Finding(
            craft.place(value),
            f"channel {throttle} (throttle) becomes {pulse:g} µs on a lost link, but the craft "
            f"hovers at {hover.value:g} µs: it may climb away with nobody at the sticks",
            "give it the pulse that throttle closed has, or take the line out",
            beside(hover, "throttle at which the craft hovers"),
            edits=_closed(craft, value),
        )


@rule(
    "failsafe/sticks-off-centre",
    grade="ground",
    title="A stick is held over on a lost link",
    why="""
    Values put in for roll, pitch and yaw on a lost link are flown like a pilot's.  One away from
    the centre tips the craft or spins it on its way down or home, and until the action begins; one
    held where it was does the same if the link was lost in a turn.  Where the action stops the
    motors at once, less comes of it.
    """,
    source="common practice",
    options=(
        Option(
            "slack_us", 30.0, "how far from the centre is still centred (µs)", least=0, most=200
        ),
    ),
    examples=(
        good(
            """
            let lost-link-action be descend
            let stick-order be AETR
            let stick-rest be 1500
            on loss channel 1 becomes 1500
            on loss channel 2 becomes 1512
            on loss channel 3 becomes 990
            """
        ),
        bad(
            """
            let lost-link-action be descend
            let stick-order be AETR
            let stick-rest be 1500
            on loss channel 2 becomes 1885
                                      ^^^^ channel 2 pitch 1885 1500
            """
        ),
        bad(
            """
            let lost-link-action be return-home
            let stick-order be TAER
            let stick-rest be 1500
            on loss channel 2 becomes hold
                                      ^^^^ channel 2 roll held
            """
        ),
        good(
            """
            let lost-link-action be stop
            let stick-order be AETR
            let stick-rest be 1500
            on loss channel 1 becomes hold
            """
        ),
        unknown("on loss channel 2 becomes 1885", missing="receiver.channel_order"),
        unknown(
            """
            let stick-order be AETR
            on loss channel 4 becomes 1510
            """,
            missing="stick.centre_us",
        ),
        not_for("let lost-link-action be descend"),
        not_for(
            """
            let stick-order be AETR
            on loss channel 3 becomes 1015
            """
        ),
    ),
)
def sticks_off_centre(craft: Craft, options: Options) -> Iterator[Finding]:
    """Pulses of roll, pitch and yaw lie within ``slack_us`` (or the dead band) of the centre."""
    action = craft.get(ACTION).value
    if throttle_of(craft) is None and not _on_loss(craft, _looked_at(craft)):
        raise NotForThisCraft("no channel has a value set for a lost link")
    sticks = {number: stick for number, stick in _stick_channels(craft).items() if stick != "T"}
    put = _on_loss(craft, sticks)
    if not put:
        raise NotForThisCraft("no stick but the throttle has a value set for a lost link")
    centre, slack = craft.need("stick.centre_us"), options.slack_us
    dead = craft.get("stick.dead_band_us")
    if dead.known:
        slack = max(slack, dead.value)
    for number, value in put.items():
        what = f"channel {number} ({_STICKS[sticks[number]]})"
        pulse = _pulse(value)
        if value.value == "hold":
            if action in _ABLE:
                yield Finding(
                    craft.place(value),
                    f"{what} is held on a lost link: a stick that was over stays over while the "
                    f"craft is to {_SAYS[action]}",
                    f"give it the pulse of a stick let go, {centre}",
                    grade="fix",
                    edits=(Put(value.name, f"{centre.value:.0f}"),),
                )
        elif pulse is not None and abs(pulse - centre.value) > slack:
            yield Finding(
                craft.place(value),
                f"channel {number} ({_STICKS[sticks[number]]}) becomes {pulse:g} µs on a lost "
                f"link, but a stick let go rests at {centre}: the craft is flown over to one side "
                "with nobody at the sticks",
                f"give it the pulse of a stick let go, {centre}",
                beside(centre, "where a stick rests"),
                edits=(Put(value.name, f"{centre.value:.0f}"),),
                grade="fix" if action == "stop" else "ground",
            )


_STICKS = {"A": "roll", "E": "pitch", "R": "yaw", "T": "throttle"}


def _stick_channels(craft: Craft) -> dict[int, str]:
    """Which stick each of the first channels is, as a letter of the channel order."""
    order = craft.get("receiver.channel_order")
    if not order.known:
        order = craft.maybe_card("transmitter.channel_order")
    if not order.known:
        raise Missing("receiver.channel_order", "dump")
    letters = enumerate(str(order.value).upper(), 1)
    return {number: letter for number, letter in letters if letter in _STICKS}


def _on_loss(craft: Craft, channels: Iterable[int]) -> dict[int, Value]:
    """What each of these channels is set to on a lost link, by its number."""
    values = {number: craft.get(f"failsafe.channel.{number}") for number in sorted({*channels})}
    return {number: value for number, value in values.items() if value.known}


def _looked_at(craft: Craft) -> set[int]:
    """The channels that do anything: sticks, which mostly are the first four, and switches."""
    throttle = throttle_of(craft)
    return {1, 2, 3, 4, throttle or 1, *(row.channel for row in craft.mode_ranges)}


def _pulse(value: Value) -> float | None:
    """A pulse in µs, None for ``hold``, ``drop`` and anything else that is none."""
    try:
        pulse = float(value.value)
    except ValueError:
        return None
    return pulse if isfinite(pulse) else None


def _throttle_channel(craft: Craft) -> int:
    throttle = throttle_of(craft)
    if throttle is None:
        raise Missing("receiver.channel_order", "dump")
    return throttle


# ---------------------------------------------------------------- can it, and should it


@rule(
    "failsafe/beyond-the-airframe",
    grade="ground",
    title="A failsafe that this craft cannot carry out",
    why="""
    To descend by itself a craft must at least keep itself level; to fly home it must know where it
    is.  One that cannot do what is set flies away or falls with its motors running.  Stopping is
    within reach of every craft, though not the best that every craft can do.
    """,
    source="{bmfa-rotorcraft}",
    examples=(
        good("let lost-link-action be stop"),
        good(
            "let lost-link-action be descend",
            card="""
            [airframe]
            kind = "stabilised"
            """,
        ),
        good(
            "let lost-link-action be return-home",
            card="""
            [airframe]
            kind = "programmable"
            """,
        ),
        bad(
            """
            let lost-link-action be descend
                                    ^^^^^^^ unstabilised
            """,
            card="""
            [airframe]
            kind = "unstabilised"
            """,
        ),
        bad(
            """
            let lost-link-action be return-home
                                    ^^^^^^^^^^^ stabilised programmable
            """,
            card="""
            [airframe]
            kind = "stabilised"
            """,
        ),
        unknown("let lost-link-action be descend", missing="airframe.kind"),
        unknown("let loop-rate be 2700", missing="failsafe.action"),
        not_for("let lost-link-action be none"),
    ),
)
def beyond_the_airframe(craft: Craft, options: Options) -> Iterator[Finding]:
    """Descending needs a craft that levels itself, returning one that can be programmed."""
    action = craft.need(ACTION)
    if action.value in ("none", "hold-last"):
        raise NotForThisCraft("no action is set that a craft could carry out")
    if action.value not in _ABLE:
        return
    kind = craft.from_card("airframe.kind")
    fit = _ABLE[action.value]
    if kind.value not in fit:
        yield Finding(
            craft.place(action),
            f"on a lost link the craft is to {_SAYS[action.value]}, but the card calls it "
            f"{kind.value} and this takes one that is {' or '.join(fit)}: it would fly out of hand "
            "with its motors running",
            _what_suits(craft),
            beside(kind, "the kind of airframe"),
            edits=_put_what_suits(craft),
        )


@rule(
    "failsafe/disarms-before-acting",
    grade="ground",
    title="A lost link switches arm off, and the craft is to fly on",
    why="""
    A craft that is to descend or fly home needs its motors.  A value put in for the channel of
    arm, or of the switch that permits it, at which it is off, or `drop`, disarms the craft the
    moment the link is lost: it falls from where it is, and the action never begins.
    """,
    source="common practice",
    examples=(
        good(
            """
            let lost-link-action be descend
            let receiver-link be sbus
            use arm while channel 5 in 1735..2165
            on loss channel 5 becomes hold
            """
        ),
        good(
            """
            let lost-link-action be stop
            use arm while channel 5 in 1765..2190
            on loss channel 5 becomes 1000
            """
        ),
        bad(
            """
            let lost-link-action be descend
            let receiver-link be sbus
            use arm while channel 5 in 1735..2165
            on loss channel 5 becomes 1000
                                      ^^^^ channel 5 1000 arm off falls
            """
        ),
        bad(
            """
            let lost-link-action be return-home
            let receiver-link be crsf
            use arm while channel 5 in 1692..2097
            use arm-permit while channel 8 in 1692..2097
            on loss channel 8 becomes drop
                                      ^^^^ channel 8 dropped arm-permit off
            """
        ),
        unknown(
            """
            use arm while channel 5 in 1735..2165
            on loss channel 5 becomes 1000
            """,
            missing="failsafe.action",
        ),
        not_for(
            """
            let lost-link-action be descend
            use arm while channel 5 in 1735..2165
            on loss channel 3 becomes 990
            """
        ),
        not_for(
            """
            let lost-link-action be none
            use arm while channel 5 in 1735..2165
            on loss channel 5 becomes 1000
            """
        ),
        # Stopping is right for it, whatever is set.
        not_for(
            """
            let lost-link-action be descend
            use arm while channel 5 in 1735..2165
            on loss channel 5 becomes 1000
            """,
            card="""
            [airframe]
            kind = "unstabilised"
            """,
        ),
    ),
)
def disarms_before_acting(craft: Craft, options: Options) -> Iterator[Finding]:
    """With the values put in on a lost link, arm and its permit can still be on."""
    switched = _on_loss(craft, channels_behind(craft, *_ARMING))
    put = {number: value for number, value in switched.items() if value.value != "hold"}
    if not switched:
        raise NotForThisCraft("no channel that arms has a value of its own for a lost link")
    action = craft.need(ACTION)
    if action.value == "stop":
        return
    if action.value not in _ABLE:
        raise NotForThisCraft("no action is set for which the craft must stay armed")
    kind = craft.maybe_card("airframe.kind").value
    if kind is not None and kind not in _ABLE[action.value]:
        raise NotForThisCraft("this craft cannot do what is set; another rule says so")
    for mode in ("arm", "arm-permit"):
        if not craft.ranges_of(mode):
            continue
        blames = decide(craft, partial(_switched_off, mode=mode, put=put))
        for number in sorted(blames):
            value = put[number]
            pulse = _pulse(value)
            said = "is dropped" if pulse is None else f"becomes {pulse:g} µs"
            yield Finding(
                craft.place(value),
                f"channel {number} {said} on a lost link, which switches {mode} off: the motors "
                f"stop and the craft falls, though it is to {_SAYS[action.value]}",
                f"let channel {number} hold what it had",
                (
                    *beside(action, "what the craft is to do"),
                    Related(craft.ranges_of(mode)[0].span, f"{mode} is here"),
                ),
                edits=(Put(value.name, "hold"),),
            )


def _switched_off(view: View, mode: str, put: dict[int, Value]) -> frozenset[int]:
    """The channels whose values on a lost link leave a mode nowhere to be on; none if it can be."""
    boxes = view.on(mode)
    blamed = [frozenset(c for c in box if c in put and not _stays(box, c, put[c])) for box in boxes]
    return frozenset[int]().union(*blamed) if all(blamed) else frozenset()


def _stays(box: Box, channel: int, value: Value) -> bool:
    # A value that is put in is not calibrated any more.
    pulse = _pulse(value)
    return pulse is not None and pulse in box[channel]


@rule(
    "failsafe/descent-throttle-off",
    grade="ground",
    title="A descent that climbs, or drops",
    why="""
    A craft that descends by itself is given one throttle for the whole way down.  At or above the
    throttle at which it hovers it does not come down, far below it falls; both hang on its weight
    and its propellers, and a value that suited the last craft, or a default, suits this one by
    chance only.  Thrust grows about with the square of the throttle's travel, so at seven tenths of
    it half of the weight is carried.
    """,
    source="a controlled descent: {bmfa-rotorcraft}; travel from 1000 µs: {mavlink}; shares: "
    "common practice",
    options=(
        Option(
            "least_share",
            0.6,
            "least part of the throttle's travel at hover that still lets it down gently",
            least=0,
            most=1,
        ),
    ),
    examples=(
        good(
            """
            let lost-link-action be descend
            let lost-link-throttle be 1385
            """,
            card="""
            [airframe]
            hover_us = 1458
            """,
        ),
        bad(
            """
            let lost-link-action be descend
            let lost-link-throttle be 1540
                                      ^^^^ 1540 1458 climb
            """,
            card="""
            [airframe]
            hover_us = 1458
            """,
        ),
        bad(
            """
            let lost-link-action be descend
            let lost-link-throttle be 1140
                                      ^^^^ 1140 1458 falls
            """,
            card="""
            [airframe]
            hover_us = 1458
            """,
        ),
        unknown(
            """
            let lost-link-action be descend
            let lost-link-throttle be 1385
            """,
            missing="airframe.hover_us",
        ),
        unknown(
            "let lost-link-action be descend",
            card="""
            [airframe]
            hover_us = 1458
            """,
            missing="failsafe.throttle_us",
        ),
        unknown("let lost-link-throttle be 1385", missing="failsafe.action"),
        not_for(
            """
            let lost-link-action be stop
            let lost-link-throttle be 1540
            """
        ),
        not_for(
            """
            let lost-link-action be descend
            let lost-link-throttle be 1540
            """,
            card="""
            [airframe]
            kind = "unstabilised"
            """,
        ),
    ),
)
def descent_throttle_off(craft: Craft, options: Options) -> Iterator[Finding]:
    """``failsafe.throttle_us`` lies below the card's hover throttle, but not far."""
    action = craft.need(ACTION)
    if action.value != "descend":
        raise NotForThisCraft("the craft is not to descend by itself")
    if craft.maybe_card("airframe.kind").value == "unstabilised":
        raise NotForThisCraft("a craft that cannot keep level cannot descend; another rule says so")
    throttle = craft.need("failsafe.throttle_us")
    hover = craft.from_card("airframe.hover_us")
    travel = hover.value - NOMINAL_LOW_US
    if travel <= 0:
        raise Missing("airframe.hover_us", "card", "no craft hovers with its throttle closed")
    share = (throttle.value - NOMINAL_LOW_US) / travel
    least = NOMINAL_LOW_US + options.least_share * travel
    if share >= 1:
        what = "it would climb away, or never come down"
    elif share < options.least_share:
        what = "it falls rather than sinks"
    else:
        return
    yield Finding(
        craft.place(throttle),
        f"on a lost link the craft is to descend at {throttle}, but it hovers at "
        f"{hover.value:g} µs: {what}",
        f"set failsafe.throttle_us between {least:.0f} µs and {hover.value:g} µs, near the middle, "
        "and try it low and near",
        beside(hover, "throttle at which the craft hovers"),
        edits=(
            Put(
                "failsafe.throttle_us", round((least + hover.value) / 2), least + 1, hover.value - 1
            ),
        ),
    )


@rule(
    "failsafe/not-what-is-wanted",
    grade="fix",
    title="Another failsafe than the card asks for",
    why="""
    The owner has written down what the craft must do on a lost link, with its field and its people
    in mind.  A craft that does something else surprises everyone at the worst moment.
    """,
    source="common practice",
    examples=(
        good(
            "let lost-link-action be stop",
            card="""
            [failsafe]
            wanted = "stop"
            """,
        ),
        bad(
            """
            let lost-link-action be descend
                                    ^^^^^^^ descend stop
            """,
            card="""
            [failsafe]
            wanted = "stop"
            """,
        ),
        bad(
            """
            let lost-link-wait be 0.8
            let lost-link-action be stop
                                    ^^^^ stop home
            """,
            card="""
            [failsafe]
            wanted = "return-home"
            """,
        ),
        unknown("let lost-link-action be stop", missing="failsafe.wanted"),
        unknown(
            "let loop-rate be 3300",
            card="""
            [failsafe]
            wanted = "stop"
            """,
            missing="failsafe.action",
        ),
        not_for("let lost-link-action be none"),
    ),
)
def not_what_is_wanted(craft: Craft, options: Options) -> Iterator[Finding]:
    """The action must be the card's ``failsafe.wanted``."""
    action = craft.need(ACTION)
    if action.value in ("none", "hold-last"):
        raise NotForThisCraft("no sound action is set; other failsafe rules say so")
    wanted = craft.from_card("failsafe.wanted")
    if action.value != wanted.value:
        yield Finding(
            craft.place(action),
            f"on a lost link the craft is to {_SAYS[action.value]}, but the card wants it to "
            f"{_SAYS[wanted.value]}: it would do what nobody on the field expects",
            f"set {ACTION} to {wanted.value}, or correct failsafe.wanted in the card",
            beside(wanted, "what the card wants"),
            edits=_put_action(craft, wanted.value) if _can_do(craft, wanted.value) else (),
        )


# ---------------------------------------------------------------- how soon


@rule(
    "failsafe/acts-too-late",
    grade="fix",
    title="The failsafe waits too long",
    why="""
    Until the wait is over the craft flies on by what it heard last.  A multirotor at 15 m/s is
    75 m further after five seconds.  A moment's wait, on the other hand, rides out short gaps in
    the link.
    """,
    source="common practice; a wait of 1 s is advised where frames just stop: {crsf}, "
    "{interfacing} §7.1",
    options=(
        Option("longest_s", 5.0, "longest wait that is still sensible (s)", least=0, most=300),
    ),
    examples=(
        good(
            """
            let lost-link-action be stop
            let lost-link-wait be 0.7
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let lost-link-wait be 17
                                  ^^ 17 5
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let lost-link-wait be 1.5
                                  ^^^ 1.5 1
            """,
            options={"longest_s": 1.0},
        ),
        unknown("let lost-link-action be stop", missing="failsafe.delay_s"),
        unknown("let lost-link-wait be 1.1", missing="failsafe.action"),
        not_for(
            """
            let lost-link-action be none
            let lost-link-wait be 14
            """
        ),
    ),
)
def acts_too_late(craft: Craft, options: Options) -> Iterator[Finding]:
    """The delay is at most ``longest_s``."""
    action = craft.need(ACTION)
    if action.value in ("none", "hold-last"):
        raise NotForThisCraft("no action is set that could come too late")
    delay = craft.need("failsafe.delay_s")
    if delay.value > options.longest_s:
        yield Finding(
            craft.place(delay),
            f"the craft waits {delay} after losing the link, longer than {options.longest_s:g} s: "
            "so long it flies on by what it heard last",
            f"set failsafe.delay_s to {options.longest_s:g} s or less, or raise the option "
            "longest_s with a reason",
            edits=(Put("failsafe.delay_s", min(1.0, options.longest_s), 0.25, options.longest_s),),
        )


@rule(
    "failsafe/acts-on-a-gap",
    grade="fix",
    title="The failsafe does not wait at all",
    why="""
    A radio link loses a frame now and then, behind a mast or in a turn.  A failsafe that acts at
    the first one that is missing stops or turns a craft that is well in hand.  A moment's wait
    rides such gaps out.
    """,
    source="common practice; a wait of 1 s is advised where frames just stop: {crsf}, "
    "{interfacing} §7.1",
    options=(Option("shortest_s", 0.1, "shortest wait that rides out a gap (s)", least=0, most=5),),
    examples=(
        good(
            """
            let lost-link-action be stop
            let lost-link-wait be 0.3
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let lost-link-wait be 0
                                  ^ 0 0.1
            """
        ),
        bad(
            """
            let lost-link-action be descend
            let lost-link-wait be 0.25
                                  ^^^^ 0.25 0.4
            """,
            options={"shortest_s": 0.4},
        ),
        unknown("let lost-link-action be stop", missing="failsafe.delay_s"),
        unknown("let lost-link-wait be 0", missing="failsafe.action"),
        not_for(
            """
            let lost-link-action be none
            let lost-link-wait be 0
            """
        ),
    ),
)
def acts_on_a_gap(craft: Craft, options: Options) -> Iterator[Finding]:
    """The delay is at least ``shortest_s``."""
    action = craft.need(ACTION)
    if action.value in ("none", "hold-last"):
        raise NotForThisCraft("no action is set that could come too early")
    delay = craft.need("failsafe.delay_s")
    if delay.value < options.shortest_s:
        yield Finding(
            craft.place(delay),
            f"the craft waits {delay} after losing the link, less than {options.shortest_s:g} s: a "
            f"frame that is missing makes it {_SAYS[action.value]}",
            "set failsafe.delay_s to half a second or so",
            edits=(
                Put(
                    "failsafe.delay_s",
                    max(0.5, options.shortest_s),
                    options.shortest_s,
                    max(0.9, options.shortest_s),
                ),
            ),
        )
