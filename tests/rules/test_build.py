"""How the craft is built: turns against an outside reference, and every single thing that is off.

Outside: the rotation matrices of pymavlink ({mavlink}), made from roll, pitch and yaw in the order
that aircraft use.
"""

from __future__ import annotations

from math import acos, degrees, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import PLACES
from cfglint.facts.frames import FRAME_PLACES, turn_of
from cfglint.kit import build_craft
from cfglint_rules import build

from .crafts import lacks, said

AXES = ("roll", "pitch", "yaw")
angles = st.tuples(*[st.integers(-24, 24).map(lambda n: 15.0 * n)] * 3)


def turned(told: tuple[float, ...], real: tuple[float, ...]):  # type: ignore[no-untyped-def]
    return build_craft(
        {f"board.{axis}_deg": angle for axis, angle in zip(AXES, told, strict=True)},
        card={f"board.{axis}_deg": angle for axis, angle in zip(AXES, real, strict=True)},
    )


@given(angles, angles)
def test_a_turn_is_the_same_as_its_matrix_says(
    told: tuple[float, ...], real: tuple[float, ...]
) -> None:
    rotmat = pytest.importorskip("pymavlink.rotmat")

    def matrix(turn: tuple[float, ...]):  # type: ignore[no-untyped-def]
        found = rotmat.Matrix3()
        found.from_euler(*map(radians, turn))
        return found

    both = matrix(told).transposed() * matrix(real)
    trace = both.a.x + both.b.y + both.c.z
    apart = degrees(acos(max(-1.0, min(1.0, (trace - 1) / 2))))
    outcome = said(build.board_turned, turned(told, real))
    assert (outcome.state == "holds") is (apart <= 3)
    assert outcome.state in ("holds", "broken")


@given(angles, st.integers(-2, 2), st.sampled_from(AXES))
def test_whole_turns_do_not_count(told: tuple[float, ...], turns: int, axis: str) -> None:
    real = tuple(angle + 360 * turns * (axis == one) for one, angle in zip(AXES, told, strict=True))
    assert said(build.board_turned, turned(told, real)).state == "holds"


@given(angles, angles, st.sampled_from(["told", "real"]), st.sampled_from(AXES))
def test_an_angle_that_nobody_says_never_makes_it_hold(
    told: tuple[float, ...], real: tuple[float, ...], side: str, axis: str
) -> None:
    whole = said(build.board_turned, turned(told, real))
    values = {f"board.{one}_deg": a for one, a in zip(AXES, told, strict=True)}
    card = {f"board.{one}_deg": a for one, a in zip(AXES, real, strict=True)}
    del (values if side == "told" else card)[f"board.{axis}_deg"]
    less = said(build.board_turned, build_craft(values, card=card))
    assert less.state in ("unknown", "broken")
    assert whole.state == "broken" or less.state == "unknown"


# ---------------------------------------------------------------- motors

QUAD = FRAME_PLACES["quad-x"]


@given(st.permutations(QUAD), st.permutations(QUAD))
def test_outputs_come_in_the_order_of_the_wires(told: list[str], real: list[str]) -> None:
    craft = build_craft(
        {f"output.{n}.place": place for n, place in enumerate(told, 1)},
        card={f"motor.{n}.place": place for n, place in enumerate(real, 1)},
    )
    outcome = said(build.motor_order, craft)
    assert (outcome.state == "holds") is (told == real)
    off = sum(one != other for one, other in zip(told, real, strict=True))
    assert len(outcome.findings) == off


@given(st.integers(1, 4), st.sampled_from(["output", "motor"]))
def test_a_motor_that_nobody_speaks_of_is_asked_for(number: int, side: str) -> None:
    values = {f"output.{n}.place": place for n, place in enumerate(QUAD, 1)}
    card = {f"motor.{n}.place": place for n, place in enumerate(QUAD, 1)}
    card["airframe.motors"] = 4  # type: ignore[assignment]
    del (values if side == "output" else card)[f"{side}.{number}.place"]
    outcome = said(build.motor_order, build_craft(values, card=card))
    assert lacks(outcome) == [f"{side}.{number}.place"]


@given(
    st.sampled_from(["quad-x", "hex-x", "x8"]),
    st.sampled_from(["inwards", "outwards"]),
    st.sampled_from(["inwards", "outwards"]),
    st.integers(0, 8),
)
def test_propellers_turn_as_the_card_has_them(frame: str, told: str, real: str, wrong: int) -> None:
    card: dict[str, object] = {"airframe.frame": frame, "airframe.front_pair": real}
    for number, place in enumerate(FRAME_PLACES[frame], 1):
        way = turn_of(frame, real, place)
        if number == wrong:
            way = "clockwise" if way == "counter-clockwise" else "counter-clockwise"
        card |= {f"motor.{number}.place": place, f"motor.{number}.turns": way}
    outcome = said(build.propellers_turn, build_craft({"propellers.front_pair": told}, card=card))
    off = told != real or 1 <= wrong <= len(FRAME_PLACES[frame])
    assert (outcome.state == "broken") is off
    assert len(outcome.findings) <= 1


def test_places_are_told_apart() -> None:
    assert len(set(PLACES)) == len(PLACES)
