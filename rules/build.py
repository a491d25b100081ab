"""How the craft is built: the board in the frame, the frame, its motors, its propellers.

A controller has to be told all of it, and an update or a reset puts it back without a word.  The
card holds what is really there; where the two differ the controller works against itself, and the
craft flips over on take-off.  None of it shows before the propellers are on, so each is tried by
hand at the bench, propellers off: `cfglint bench` says how.
"""

from __future__ import annotations

from math import acos, cos, degrees, radians, sin
from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.facts.frames import FRAME_PLACES, turn_of
from cfglint.rule import Finding, Option, Put, Related, bad, good, not_for, rule, unknown

from ._reach import beside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options

_FLIPS = "it flips over on take-off"

# ---------------------------------------------------------------- the board


@rule(
    "build/board-turned",
    grade="ground",
    title="The board is not turned as the controller believes",
    why="""
    Gyro and accelerometer are on the board.  If it lies in the frame otherwise than the controller
    is told, every correction goes the wrong way: the craft flips over on take-off.  When the
    craft is turned by hand, propellers off, what the controller shows has to move the same way.
    """,
    source="common practice",
    options=(Option("slack_deg", 3.0, "how far the two may differ (degrees)", least=0, most=20),),
    examples=(
        good(
            """
            let board-roll be 0
            let board-pitch be 0
            let board-turn be 270
            """,
            card="""
            [board]
            roll_deg = 0
            pitch_deg = 0
            yaw_deg = -90
            """,
        ),
        # The same turn said in two ways: upside down over the nose, or over the side and about.
        good(
            """
            let board-roll be 180
            let board-pitch be 0
            let board-turn be 180
            """,
            card="""
            [board]
            roll_deg = 0
            pitch_deg = 180
            yaw_deg = 0
            """,
        ),
        bad(
            """
            let board-roll be 0
            let board-pitch be 0
            let board-turn be 45
                              ^^ 45 -45 yaw
            """,
            card="""
            [board]
            roll_deg = 0
            pitch_deg = 0
            yaw_deg = -45
            """,
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ roll 180
            let motor-signal be dshot300
            """,
            card="""
            [board]
            roll_deg = 180
            pitch_deg = 0
            yaw_deg = 0
            """,
        ),
        unknown(
            """
            let board-roll be 0
            let board-pitch be 0
            let board-turn be 45
            """,
            missing="board.yaw_deg",
            card="""
            [board]
            roll_deg = 0
            pitch_deg = 0
            """,
        ),
        unknown(
            "let board-turn be 45",
            missing="board.roll_deg",
            card="""
            [board]
            roll_deg = 0
            pitch_deg = 0
            yaw_deg = 45
            """,
        ),
    ),
)
def board_turned(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """The three angles are the card's, or others that say the same turn."""
    told = {axis: craft.get(f"board.{axis}_deg") for axis in _AXES}
    real = {axis: craft.maybe_card(f"board.{axis}_deg") for axis in _AXES}
    for axis in _AXES:
        if not told[axis].known:
            yield Missing(told[axis].name, "dump")
        if not real[axis].known:
            yield Missing(real[axis].name, "card")
    both = [axis for axis in _AXES if told[axis].known and real[axis].known]
    if len(both) == len(_AXES):
        turns = (tuple(float(side[axis].value) for axis in _AXES) for side in (told, real))
        if _between(*turns) <= options.slack_deg:
            return
    else:
        # The other set of angles for a turn has each of them half a turn on, pitch mirrored; where
        # the nose points straight up or down there are more.
        pitch = told["pitch"] if told["pitch"].known else real["pitch"]
        if not pitch.known or min(_apart(pitch.value, up) for up in (90, 270)) <= options.slack_deg:
            return
        both = [
            axis
            for axis in both
            if _apart(told[axis].value, _other(axis, real[axis].value)) > options.slack_deg
        ]
    for axis in both:
        if _apart(told[axis].value, real[axis].value) > options.slack_deg:
            yield Finding(
                craft.place(told[axis]),
                f"the controller takes its board to be turned by {told[axis].value:g} degrees in "
                f"{axis}, but the card has it turned by {real[axis].value:g}: {_FLIPS}",
                f"set {told[axis].name} to {real[axis].value:g}, then turn the craft by hand, "
                "propellers off, and see that what is shown moves the same way",
                beside(real[axis], "how the board is turned"),
                edits=(Put(told[axis].name, float(real[axis].value)),),
            )


_AXES = ("roll", "pitch", "yaw")


def _apart(one: float, two: float) -> float:
    """How far two angles are apart, degrees."""
    return abs((one - two + 180) % 360 - 180)


def _other(axis: str, angle: float) -> float:
    return 180 - angle if axis == "pitch" else angle + 180


def _between(one: tuple[float, ...], two: tuple[float, ...]) -> float:
    """By how far a board turned in one way has to be turned to lie in another, degrees.

    Angles are taken in the order that aircraft use: yaw, then pitch, then roll.
    """
    first, second = _axes_of(*one), _axes_of(*two)
    trace = sum(a * b for row, other in zip(first, second, strict=True)
                for a, b in zip(row, other, strict=True))  # fmt: skip
    return degrees(acos(max(-1.0, min(1.0, (trace - 1) / 2))))


def _axes_of(roll: float, pitch: float, yaw: float) -> tuple[tuple[float, ...], ...]:
    (sr, cr), (sp, cp), (sy, cy) = ((sin(radians(a)), cos(radians(a))) for a in (roll, pitch, yaw))
    return (
        (cp * cy, sr * sp * cy - cr * sy, cr * sp * cy + sr * sy),
        (cp * sy, sr * sp * sy + cr * cy, cr * sp * sy - sr * cy),
        (-sp, sr * cp, cr * cp),
    )


# ---------------------------------------------------------------- the frame


@rule(
    "build/another-frame",
    grade="ground",
    title="Another kind of frame than the craft has",
    why="""
    From the kind of frame the controller knows which motors lift which side.  With another kind set
    it speeds up the wrong ones to keep level: the craft flips over on take-off, or never leaves the
    ground.
    """,
    source="common practice",
    examples=(
        good(
            "let frame-shape be hex-x",
            card="""
            [airframe]
            frame = "hex-x"
            """,
        ),
        bad(
            """
            let frame-shape be quad-plus
                               ^^^^^^^^^ quad-plus quad-x
            """,
            card="""
            [airframe]
            frame = "quad-x"
            """,
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ quad-x hex-x
            let motor-signal be dshot300
            """,
            card="""
            [airframe]
            frame = "hex-x"
            """,
        ),
        unknown("let frame-shape be hex-x", missing="airframe.frame"),
        unknown(
            "let motor-signal be dshot300",
            missing="frame.kind",
            card="""
            [airframe]
            frame = "hex-x"
            """,
        ),
    ),
)
def another_frame(craft: Craft, options: Options) -> Iterator[Finding]:
    """``frame.kind`` is the card's ``airframe.frame``."""
    told, real = craft.need("frame.kind"), craft.from_card("airframe.frame")
    if told.value != real.value:
        yield Finding(
            craft.place(told),
            f"the controller takes the frame to be {told}, but the card has a {real.value}: "
            f"{_FLIPS}",
            f"set frame.kind to {real.value}, then try each motor by hand, propellers off",
            beside(real, "the frame that it has"),
            edits=(Put("frame.kind", real.value),) if _agrees(craft, real) else (),
        )


def _agrees(craft: Craft, kind: Value) -> bool:
    """Whether the card's number of motors is that of its frame: else it is the card that is off."""
    motors = craft.maybe_card("airframe.motors")
    return not motors.known or motors.value == len(FRAME_PLACES[kind.value])


@rule(
    "build/number-of-motors",
    grade="ground",
    title="More or fewer motors than the craft has",
    why="""
    A motor that the controller does not know of stands still while the others take off; one that is
    not there is missing on the side that it should lift.  The kind of frame settles how many there
    are, too.
    """,
    source="common practice",
    examples=(
        good(
            """
            let frame-shape be quad-x
            let frame-motors be 4
            """,
            card="""
            [airframe]
            motors = 4
            """,
        ),
        bad(
            """
            let frame-shape be hex-x
            let frame-motors be 4
                                ^ 4 6
            """,
            card="""
            [airframe]
            motors = 6
            """,
        ),
        bad(
            """
            let frame-shape be octo-x
                               ^^^^^^ octo-x 8 6
            let frame-motors be 6
            """,
            card="""
            [airframe]
            motors = 6
            """,
        ),
        unknown(
            """
            let frame-shape be quad-x
            let frame-motors be 4
            """,
            missing="airframe.motors",
        ),
        unknown(
            "let frame-shape be quad-x",
            missing="frame.motors",
            card="""
            [airframe]
            motors = 4
            """,
        ),
    ),
)
def number_of_motors(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """``frame.motors``, and those of ``frame.kind``, are as many as the card's."""
    told, kind, real = (
        craft.get("frame.motors"),
        craft.get("frame.kind"),
        craft.from_card("airframe.motors"),
    )
    for value, count in (
        (told, told.value),
        (kind, len(FRAME_PLACES[kind.value]) if kind.known else None),
    ):
        if not value.known:
            yield Missing(value.name, "dump")
        elif count != real.value:
            # A kind that differs from the card's is told by another rule.
            if value is kind and craft.maybe_card("airframe.frame").value not in (None, kind.value):
                continue
            has = f"a frame of kind {kind} has" if value is kind else "the controller drives"
            yield Finding(
                craft.place(value),
                f"{has} {count} motors, but the craft has {real.value}: one stands still, or is "
                "missing where it should lift",
                f"set {value.name} to what fits {real.value} motors, or put airframe.motors in "
                "the card right",
                beside(real, "how many it has"),
                edits=(Put(value.name, real.value),) if value is told else (),
            )


# ---------------------------------------------------------------- motors


@rule(
    "build/motor-order",
    grade="ground",
    title="An output drives another motor than the one on its wire",
    why="""
    To keep level the controller speeds up the motor at the side that sinks.  If the outputs come
    in another order it speeds up one that is somewhere else, and the craft flips over on
    take-off.  Run one by one, propellers off, each motor has to be the one that is named.
    """,
    source="common practice",
    examples=(
        good(
            """
            output 1 drives rear-left
            output 2 drives front-right
            """,
            card="""
            [motor.1]
            place = "rear-left"
            [motor.2]
            place = "front-right"
            """,
        ),
        bad(
            """
            output 1 drives front-left
                            ^^^^^^^^^^ output 1 front-left rear-left
            output 2 drives front-right
            """,
            card="""
            [motor.1]
            place = "rear-left"
            [motor.2]
            place = "front-right"
            """,
        ),
        bad(
            """
            output 1 drives rear-left
            output 2 drives rear-left
                            ^^^^^^^^^ output 2 rear-left output 1
            """,
            card="""
            [motor.1]
            place = "rear-left"
            """,
        ),
        unknown(
            """
            output 1 drives front-left
            output 2 drives front-right
            """,
            missing="motor.1.place",
            card="""
            [motor.2]
            place = "front-right"
            """,
        ),
        unknown(
            "output 1 drives front-left",
            missing="output.2.place",
            card="""
            [airframe]
            motors = 2
            [motor.1]
            place = "front-left"
            [motor.2]
            place = "front-right"
            """,
        ),
        unknown("let motor-signal be dshot300", missing="output.N.place"),
    ),
)
def motor_order(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Each output's place is that of the card's motor of that number, and no place comes twice."""
    told = {number: craft.get(f"output.{number}.place") for number in craft.numbered("output")}
    if not any(value.known for value in told.values()):
        raise Missing("output.N.place", "dump")
    real = {number: craft.maybe_card(f"motor.{number}.place") for number in _motors(craft)}
    # Places are mostly swapped: each cure by itself would only make two outputs drive one motor.
    edits = tuple(
        Put(f"output.{number}.place", at.value)
        for number, at in real.items()
        if number in told and at.known and told[number].known and told[number].value != at.value
    )
    places = [at.value for at in real.values() if at.known]
    if len(set(places)) < len(places):
        edits = ()  # the card has two motors in one place
    first: dict[str, int] = {}
    for number in sorted({*told, *real}):
        value, at = told.get(number), craft.maybe_card(f"motor.{number}.place")
        if value is None or not value.known:
            yield Missing(f"output.{number}.place", "dump")
            continue
        other = first.setdefault(value.value, number)
        if other != number:
            yield Finding(
                craft.place(value),
                f"output {number} drives the motor at {value}, and so does output {other}: one "
                f"motor is driven for another's place, and {_FLIPS}",
                "give each output the place of the motor on its wire",
                beside(told[other], f"output {other}"),
                edits=edits,
            )
        elif not at.known:
            yield Missing(f"motor.{number}.place", "card")
        elif at.value != value.value:
            yield Finding(
                craft.place(value),
                f"output {number} is to drive the motor at {value}, but the one on its wire sits "
                f"at {at.value}: {_FLIPS}",
                f"set output.{number}.place to {at.value}, then run each motor by itself, "
                "propellers off",
                beside(at, "where that motor sits"),
                edits=edits,
            )


def _motors(craft: Craft) -> list[int]:
    """The numbers of motors that the card speaks of, one by one or by how many there are."""
    fields = craft.card.values if craft.card is not None else {}
    count = craft.maybe_card("airframe.motors")
    named = {int(name.split(".")[1]) for name in fields if name.startswith("motor.")}
    return sorted(named | (set(range(1, count.value + 1)) if count.known else set()))


# ---------------------------------------------------------------- propellers


@rule(
    "build/propellers-turn",
    grade="ground",
    title="Propellers turn the other way round than the controller believes",
    why="""
    A multirotor turns its nose by speeding up the motors of one way round and slowing the others.
    Told the wrong way round, the controller turns the craft further wherever it should hold it: it
    spins up on its axis at take-off.  A motor that turns the other way than the card has it, or a
    propeller upside down on it, drives the craft into the ground.
    """,
    source="common practice",
    examples=(
        good(
            """
            let frame-shape be quad-x
            let front-propellers be inwards
            """,
            card="""
            [airframe]
            front_pair = "inwards"
            [motor.1]
            place = "front-left"
            turns = "clockwise"
            """,
        ),
        bad(
            """
            let frame-shape be quad-x
            let front-propellers be outwards
                                    ^^^^^^^^ outwards inwards
            """,
            card="""
            [airframe]
            front_pair = "inwards"
            """,
        ),
        bad(
            """
            let frame-shape be quad-x
            let front-propellers be inwards
                                    ^^^^^^^ motor 3 rear-left clockwise
            """,
            card="""
            [airframe]
            front_pair = "inwards"
            [motor.3]
            place = "rear-left"
            turns = "clockwise"
            """,
        ),
        unknown(
            """
            let frame-shape be quad-x
            let front-propellers be inwards
            """,
            missing="airframe.front_pair",
        ),
        unknown(
            "let frame-shape be quad-x",
            missing="propellers.front_pair",
            card="""
            [airframe]
            front_pair = "inwards"
            """,
        ),
        not_for(
            """
            let frame-shape be quad-plus
            let front-propellers be inwards
            """
        ),
    ),
)
def propellers_turn(craft: Craft, options: Options) -> Iterator[Finding]:
    """``propellers.front_pair`` is the card's, and the card's motors turn as follows from it."""
    kind = craft.maybe_card("airframe.frame")
    kind = kind if kind.known else craft.get("frame.kind")
    if kind.known and not any(turn_of(kind.value, "inwards", one) for one in _places(kind)):
        raise NotForThisCraft(f"{kind.value} has no front pair by which the rest turns")
    told, real = craft.need("propellers.front_pair"), craft.from_card("airframe.front_pair")
    if told.value != real.value:
        yield Finding(
            craft.place(told),
            f"the controller takes the front propellers to turn {told}, but the card has them turn "
            f"{real.value}: the craft spins up at take-off",
            f"set propellers.front_pair to {real.value}, then see each motor turn, propellers off",
            beside(real, "how they turn"),
            edits=()
            if any(_turns_otherwise(craft, kind, real, number) for number in _motors(craft))
            else (Put("propellers.front_pair", real.value),),
        )
        return
    for number in _motors(craft):
        place = craft.maybe_card(f"motor.{number}.place")
        turns = craft.maybe_card(f"motor.{number}.turns")
        if not place.known or not turns.known:
            continue
        if not kind.known:
            raise Missing("frame.kind", "dump")
        follows = turn_of(kind.value, told.value, place.value)
        if follows not in (None, turns.value):
            yield Finding(
                craft.place(told),
                f"motor {number} ({place.value}) turns {turns.value}, but where the front "
                f"propellers turn {told} the one there turns {follows}: the craft spins or flips",
                f"turn motor {number} the other way round, with the propeller for it, or put "
                f"motor.{number}.turns in the card right",
                (Related(turns.span, "how it turns"),) if turns.span is not None else (),
            )


def _turns_otherwise(craft: Craft, kind: Value, pair: Value, number: int) -> bool:
    """Whether the card has a motor turn otherwise than follows from its own front pair."""
    place, turns = (craft.maybe_card(f"motor.{number}.{what}") for what in ("place", "turns"))
    if not (place.known and turns.known and kind.known):
        return False
    return turn_of(kind.value, pair.value, place.value) not in (None, turns.value)


def _places(kind: Value) -> tuple[str, ...]:
    return FRAME_PLACES[kind.value]
