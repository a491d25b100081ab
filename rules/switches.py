"""Switches: what a flick can do, told by the graph of all the states that they can be in.

Rules about single ranges and single channels stand in ``modes``; here is what only the whole can
show: what one flick does in flight, whether the craft can be flown and righted at all, what a lost
link makes of every state.  Each finding tells the path to it, flick by flick.

Where the card describes no switch on a channel, a switch of two positions, one of three and any
value at all are tried; only what is the same for all of them is said, with what was assumed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.rule import Finding, Related, bad, good, not_for, rule, unknown
from cfglint.switches import flight, loss, properties
from cfglint.switches.asking import settle, setup_of

from ._reach import channels_behind

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Options
    from cfglint.span import Span
    from cfglint.switches.asking import Answer, Question, Setup

#: Columns of a picture in a finding; the report indents it.
_WIDE = 70


def _setup(craft: Craft, *modes: str) -> Setup:
    """The craft's switches; raises NotForThisCraft unless something is set for all the modes."""
    setup = setup_of(craft)
    for mode in modes:
        if not setup.sets_up(mode):
            raise NotForThisCraft(f"{mode} is on no switch")
    return setup


def _said(
    craft: Craft, setup: Setup, answers: Iterable[Answer], *, skip: frozenset[str] = frozenset()
) -> Iterator[Finding | Missing]:
    """Findings for what is broken, gaps for what is unknown; ``skip`` leaves subjects out."""
    for answer in answers:
        if answer.subject in skip:
            continue
        if answer.state == "broken":
            yield _finding(craft, setup, answer)
        elif answer.state == "unknown":
            yield from answer.lacks


def _finding(craft: Craft, setup: Setup, answer: Answer) -> Finding:
    assumed = f" ({answer.assumed})" if answer.assumed else ""
    spans = answer.spans or (craft.whole,)
    return Finding(
        spans[0],
        f"{answer.words}{assumed}",
        answer.instead,
        _related(spans),
        picture=_picture(setup, answer),
    )


def _related(spans: tuple[Span, ...]) -> tuple[Related, ...]:
    return tuple(Related(span, "this plays into it") for span in spans[1:4] if span != spans[0])


def _picture(setup: Setup, answer: Answer) -> str:
    """The lane of the switch it is about, when it is one, and the path below it."""
    # Only findings need to draw.
    from cfglint.switches.picture import lane_lines
    from cfglint.switches.scene import lane_of

    lines: list[str] = []
    if len(answer.channels) == 1:
        lines = lane_lines(lane_of(setup, answer.channels[0]), width=_WIDE)
    steps = answer.path() if len(answer.steps) > 1 else []
    joint = [""] if lines and steps else []
    return "\n".join(line.rstrip() for line in (*lines, *joint, *steps))


def _ask(craft: Craft, question: Question, *modes: str) -> Iterator[Finding | Missing]:
    setup = _setup(craft, *modes)
    return _said(craft, setup, settle(setup, question))


_CARD_K1 = """
            [[switch]]
            name = "K1"
            names = ["up", "down"]
            channel = 5
            positions_us = [1000, 2000]
            jitter_us = 4
"""
_CARD_K4 = """
            [[switch]]
            name = "K4"
            names = ["up", "middle", "down"]
            channel = 6
            positions_us = [1000, 1500, 2000]
            jitter_us = 4
"""


# ---------------------------------------------------------------- what a flick does in flight


@rule(
    "switches/flick-stops-motors",
    grade="ground",
    title="A switch that is not the arm switch stops the motors",
    why="""
    A pilot in the air works every switch but one without a thought.  If one of them takes arm
    away, or plays a lost link whose action is to stop, the craft falls.  Switches that carry
    nothing but arm and its permit count as arm switches.
    """,
    source="common practice",
    examples=(
        good(
            """
            use arm while channel 5 in 1715..2130
            use self-level while channel 6 in 1339..2130
            """,
            card=_CARD_K1 + _CARD_K4,
        ),
        good(
            """
            use arm only while channel 5 in 1774..2096
            use arm only while channel 7 in 1774..2096
            """
        ),
        bad(
            """
            use arm only while channel 5 in 1618..2064
            use arm only while channel 6 in 956..1618
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K1 down K4 from up to down arm off
            use self-level while channel 6 in 1279..2064
            """,
            card=_CARD_K1 + _CARD_K4,
        ),
        bad(
            """
            use arm while channel 5 in 1720..2203
            use lost-link while channel 6 in 1720..2203
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ lost link stop assuming channel 6
            let lost-link-action be stop
            """
        ),
        unknown(
            """
            let lost-link-action be stop
            use arm while channel 5 in 1741..2144
            use lost-link while channel 6 in 1393..1607
            """,
            missing="switch on channel 6",
        ),
        unknown(
            """
            use arm while channel 5 in 1782..2205
            use lost-link while channel 6 in 1782..2205
            """,
            missing="failsafe.action",
        ),
        not_for("use self-level while channel 6 in 1285..2053"),
    ),
)
def flick_stops_motors(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No flick from any normal flight disarms, but one of an arm switch."""
    yield from _ask(craft, flight.FLICK_STOPS_MOTORS, "arm")


@rule(
    "switches/flick-enters-self-right",
    grade="ground",
    title="A switch in use in flight reverses the motors",
    why="""
    Self-right reverses motors.  On a switch of its own it is chosen on purpose; on one that also
    works something in flight, a flick for that throws the craft to the ground.  A beacon or an
    arming permit on the same switch does no harm: nobody reaches for them in the air.
    """,
    source="common practice",
    examples=(
        good(
            """
            use arm while channel 5 in 1706..2082
            use self-right while channel 6 in 1706..2082
            use beacon while channel 6 in 1369..2082
            """,
            card=_CARD_K1 + _CARD_K4,
        ),
        bad(
            """
            use arm while channel 5 in 1646..2202
            use self-level while channel 6 in 1271..1646
            use self-right while channel 6 in 1646..2202
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K4 self-level reverse K1 down
            """,
            card=_CARD_K1 + _CARD_K4,
        ),
        unknown(
            """
            use arm while channel 5 in 1626..2157
            use self-right while channel 6 in 1254..1626
            use lights while channel 6 in 844..1100
            """,
            missing="switch on channel 6",
        ),
        not_for("use arm while channel 5 in 1730..2143"),
    ),
)
def flick_enters_self_right(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No flick from normal flight turns self-right on, but one of a switch that is for it.

    Channels that carry arm are left to modes/arm-and-self-right-meet.
    """
    setup = _setup(craft, "arm", "self-right")
    arm = {row.channel for row in craft.ranges_of("arm")}
    for answer in settle(setup, flight.FLICK_ENTERS_SELF_RIGHT):
        if not arm & set(answer.channels):
            yield from _said(craft, setup, [answer])


@rule(
    "switches/arms-by-itself",
    grade="ground",
    title="Powered up, the craft arms with no hand on a switch",
    why="""
    Arming waits for arm to come on after it was off.  A position that lies on an edge of arm's
    range is now off and now on: the craft arms as it lies on the bench, with fingers in the
    propellers.
    """,
    source="common practice",
    examples=(
        good("use arm while channel 5 in 1736..2171", card=_CARD_K1),
        bad(
            """
            use arm while channel 5 in 1621..2002
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K1 down arms by itself jitter
            """,
            card=_CARD_K1,
        ),
        unknown("use arm while channel 5 in 1732..2083", missing="switch on channel 5"),
        not_for("use self-level while channel 6 in 1219..2071"),
    ),
)
def arms_by_itself(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """No position that a switch may stand in at power-up arms by its jitter alone."""
    setup = _setup(craft, "arm")
    yield from _said(craft, setup, settle(setup, flight.ARMS_BY_ITSELF))
    # Where jitter is unknown, nothing assumed can stand in for it.
    for channel in setup.logic().cone(("arm",)).channels:
        if not setup.described(channel):
            yield Missing(f"switch on channel {channel}", "card")


# ---------------------------------------------------------------- what must be possible


@rule(
    "switches/cannot-fly",
    grade="fix",
    title="No sequence of flicks ends in flight",
    why="""
    Arm can come on, and yet from power-up no sequence of flicks ends armed, with self-right off
    and no lost link played.  Ranges that take each other's place are easily overlooked one by one.
    """,
    source="common practice",
    examples=(
        good("use arm while channel 5 in 1743..2190", card=_CARD_K1),
        bad(
            """
            use arm while channel 5 in 1635..2168
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ never be flown
            use lost-link along with arm
            """,
            card=_CARD_K1,
        ),
        unknown(
            """
            use arm while channel 5 in 1360..2187
            use lost-link while channel 5 in 1739..2187
            """,
            missing="switch on channel 5",
        ),
        not_for("use self-level while channel 6 in 1237..2112"),
        not_for("use arm while channel 5 in 1733..1800", card=_CARD_K1),
    ),
)
def cannot_fly(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Some state of normal flight can be reached; what single ranges explain, others say."""
    setup = _setup(craft, "arm")
    for mode, question in (
        ("arm is never on", properties.never_on("arm")),
        ("arm is never off", properties.never_off("arm")),
    ):
        if settle(setup, question)[0].state == "broken":
            raise NotForThisCraft(f"{mode}; another rule says so")
    for answer in settle(setup, flight.CANNOT_FLY):
        if answer.state == "broken" and flight.SAID_BY_RANGES & set(answer.reasons):
            raise NotForThisCraft(f"{answer.words}; another rule says so")
        yield from _said(craft, setup, [answer])


@rule(
    "switches/cannot-right-itself",
    grade="fix",
    title="Self-right is set up, but no sequence of flicks uses it",
    why="""
    To roll back over, the pilot disarms, chooses self-right, arms, blips the roll stick, disarms,
    puts self-right away and arms again.  If the switches do not allow that order, the craft has to
    be walked to, or starts with its motors reversed.
    """,
    source="common practice",
    examples=(
        good(
            """
            use arm while channel 5 in 1627..2222
            use self-right while channel 6 in 1627..2222
            """,
            card=_CARD_K1 + _CARD_K4,
        ),
        bad(
            """
            use arm while channel 6 in 1279..2230
            use self-right while channel 6 in 1735..2230
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ K4 self-right never while disarmed
            """,
            card=_CARD_K4,
        ),
        unknown(
            """
            use arm while channel 5 in 1702..2069
            use self-right while channel 6 in 1702..2069
            """,
            missing="switch on channel 5",
            card=_CARD_K4,
        ),
        not_for("use arm while channel 5 in 1730..2143"),
        not_for(
            """
            use arm while channel 6 in 1687..2055
            use self-right while channel 6 in 832..1355
            """,
            card=_CARD_K4,
        ),
    ),
)
def cannot_right_itself(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """From all normal flight there is a way over self-right back into the air."""
    setup = _setup(craft, "arm", "self-right")
    if any(answer.state == "broken" for answer in settle(setup, flight.CANNOT_FLY)):
        raise NotForThisCraft("it cannot be flown in the first place; another rule says so")
    for answer in settle(setup, flight.CANNOT_RIGHT_ITSELF):
        if answer.state == "broken" and flight.SAID_BY_RANGES & set(answer.reasons):
            raise NotForThisCraft(f"{answer.words}; another rule says so")
        yield from _said(craft, setup, [answer])


# ---------------------------------------------------------------- a lost link


@rule(
    "switches/lost-link-turns-on",
    grade="ground",
    title="Losing the link turns something on",
    why="""
    On a lost link the controller puts its own values in the place of channels.  Mode ranges look
    at these like at any others: a value in arm's range may arm a craft that lies disarmed, one in
    self-right's range reverses the motors in flight, and where no action is set a value may leave
    the craft armed.
    """,
    source="common practice",
    examples=(
        good(
            """
            let lost-link-action be stop
            use arm while channel 5 in 1651..2118
            on loss channel 5 becomes 1000
            """,
            card=_CARD_K1,
        ),
        bad(
            """
            let lost-link-action be stop
            use arm while channel 5 in 1781..2049
            on loss channel 5 becomes 2000
                                      ^^^^ disarmed K1 up arm on
            """,
            card=_CARD_K1,
        ),
        bad(
            """
            let lost-link-action be descend
            use arm while channel 5 in 1701..2224
            use self-right while channel 6 in 1701..2224
            on loss channel 5 becomes hold
            on loss channel 6 becomes 2000
                                      ^^^^ K1 down K4 up self-right reverse
            """,
            card=_CARD_K1 + _CARD_K4,
        ),
        unknown(
            """
            let lost-link-action be descend
            use arm while channel 5 in 1646..2227
            use self-right while channel 6 in 1646..2227
            on loss channel 6 becomes 2000
            """,
            card=_CARD_K1 + _CARD_K4,
            missing="failsafe.channel.5",
        ),
        not_for("let lost-link-action be stop"),
        not_for(
            """
            let lost-link-action be stop
            use arm while channel 5 in 1731..2234
            """
        ),
    ),
)
def lost_link_turns_on(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """From every state a lost link ends disarmed or in the action that is set.

    What the action itself leaves undone, and receivers that hide the loss, are told by failsafe
    rules.
    """
    setup = _setup(craft, "arm")
    channels = channels_behind(craft, "arm", "arm-permit", "self-right")
    if not any(craft.get(f"failsafe.channel.{number}").known for number in sorted(channels)):
        raise NotForThisCraft("no channel of arm or self-right has a value of its own for it")
    # An action of `none` or `hold-last` is a finding of its own, whatever channels become.
    skip = frozenset({"stays-armed"} if craft.get("failsafe.action").known else ())
    yield from _said(craft, setup, settle(setup, loss.LOST_LINK), skip=skip)


# ---------------------------------------------------------------- one switch


@rule(
    "switches/middle-not-between",
    grade="advise",
    title="The middle of a switch does what neither end leads to expect",
    why="""
    A switch of three positions passes its middle on the way from end to end.  A mode that is on at
    both ends and off in between drops out on the way; two ranges that overlap turn both modes on
    there; and between two modes that keep the craft level, an empty middle leaves it to the sticks.
    """,
    source="common practice",
    examples=(
        good(
            """
            use self-level while channel 6 in 840..1337
            use hold-height while channel 6 in 1337..2188
            """,
            card=_CARD_K4,
        ),
        good(
            """
            use beacon while channel 6 in 863..1329
            use lights while channel 6 in 1705..2126
            """,
            card=_CARD_K4,
        ),
        bad(
            """
            use self-level while channel 6 in 833..1265
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ both ends K4 middle drops out
            use self-level while channel 6 in 1661..2105
            """,
            card=_CARD_K4,
        ),
        bad(
            """
            use beacon while channel 6 in 757..1603
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ middle K4 beacon up lights down
            use lights while channel 6 in 1397..2212
            """,
            card=_CARD_K4,
        ),
        bad(
            """
            use self-level while channel 6 in 817..1387
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ nothing on self-level return-home hand
            use return-home while channel 6 in 1673..2224
            """,
            card=_CARD_K4,
        ),
        unknown(
            """
            use self-level while channel 6 in 755..1328
            use self-level while channel 6 in 1715..2079
            """,
            missing="switch on channel 6",
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def middle_not_between(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """The middle of a switch of three positions keeps to what its ends do."""
    setup = setup_of(craft)
    if not craft.mode_ranges:
        raise NotForThisCraft("no mode has a range")
    for switch in properties.card_switches(setup):
        if len(switch.places) == 3 and setup.logic().bits_of(switch.channel):
            yield from _said(craft, setup, settle(setup, properties.middle(switch)))
    on = [row.channel for row in craft.mode_ranges]
    for channel in setup.logic().channels():
        # With one range there is nothing between two others.
        if on.count(channel) > 1 and not setup.described(channel):
            yield Missing(f"switch on channel {channel}", "card")


@rule(
    "switches/position-not-sent",
    grade="fix",
    title="The card's switch cannot be as it says",
    why="""
    A position beyond what the receiver can deliver arrives as something else, and two positions
    nearer to each other than their jitter arrive as the same: what is concluded from the card is
    then not what the craft does.
    """,
    source="travel of the link: {crsf-wiki}, {interfacing}, other links common practice; the rest "
    "by arithmetic",
    examples=(
        good("let receiver-link be crsf", card=_CARD_K1),
        bad(
            "let receiver-link be crsf",
            card="""
            [[switch]]
            name = "K1"
            channel = 5
            positions_us = [1000, 2200]
                                  ^^^^ K1 2200 2120
            """,
        ),
        bad(
            "let receiver-link be crsf",
            card="""
            [[switch]]
            name = "K4"
            channel = 6
            positions_us = [1400, 1500, 2000]
                            ^^^^ K4 low and middle tell apart
            jitter_us = 60
            """,
        ),
        unknown(
            "let bell-magnet be 12",
            card="""
            [[switch]]
            name = "K1"
            channel = 5
            positions_us = [1000, 2200]
            """,
            missing="receiver.link",
        ),
        not_for("let receiver-link be crsf"),
    ),
)
def position_not_sent(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Every position lies within what the receiver delivers, and apart from its neighbours."""
    setup = setup_of(craft)
    switches = properties.card_switches(setup)
    if not switches:
        raise NotForThisCraft("the card describes no switch")
    for switch in switches:
        yield from _said(craft, setup, properties.not_sent(setup, switch))
    wire = setup.wire
    if not wire.link and any(
        not 1000 <= place.sent_us <= 2000 for switch in switches for place in switch.places
    ):
        yield Missing("receiver.link", "dump")
