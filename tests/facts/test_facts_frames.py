"""Frames: the table of places against that of the settings, and ways of turning that cancel out.

Outside: {mavlink}, MAV_TYPE (pymavlink's copy), for how many motors each kind has.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from cfglint.craft.settings import FRAMES, FRONT_PAIRS, PLACES, PORT_FUNCTIONS
from cfglint.facts.frames import FRAME_PLACES, turn_of
from cfglint.facts.wiring import PHRASES, WIRES, soldered

ALTERNATING = [frame for frame in FRAMES if turn_of(frame, "inwards", FRAME_PLACES[frame][0])]


def test_the_tables_speak_of_the_same() -> None:
    assert tuple(FRAME_PLACES) == FRAMES
    assert {place for places in FRAME_PLACES.values() for place in places} == set(PLACES)
    assert all(len(set(places)) == len(places) for places in FRAME_PLACES.values())
    assert set(PHRASES) == set(WIRES) == set(PORT_FUNCTIONS)


def test_kinds_have_as_many_motors_as_their_names_say() -> None:
    common = pytest.importorskip("pymavlink.dialects.v20.common")
    kinds = {row.name for row in common.enums["MAV_TYPE"].values()}
    for start, name, motors in (
        ("tri", "TRICOPTER", 3), ("quad", "QUADROTOR", 4), ("hex", "HEXAROTOR", 6),
        ("octo", "OCTOROTOR", 8),
    ):  # fmt: skip
        assert f"MAV_TYPE_{name}" in kinds
        own = [frame for frame in FRAMES if frame.startswith(start)]
        assert own
        assert {len(FRAME_PLACES[frame]) for frame in own} == {motors}


def test_frames_with_a_front_pair() -> None:
    assert ALTERNATING == ["quad-x", "hex-x", "x8"]


@pytest.mark.parametrize("frame", ALTERNATING)
@pytest.mark.parametrize("pair", FRONT_PAIRS)
def test_torque_cancels(frame: str, pair: str) -> None:
    ways = [turn_of(frame, pair, place) for place in FRAME_PLACES[frame]]
    assert ways.count("clockwise") == ways.count("counter-clockwise") == len(ways) // 2
    # Neighbours turn against each other: round the frame, and on one arm.
    rows = [ways] if frame != "x8" else [ways[0::2], ways[1::2]]
    assert all(a != b for row in rows for a, b in pairwise([*row, row[0]]))
    other = next(one for one in FRONT_PAIRS if one != pair)
    assert all(turn_of(frame, other, place) != turn_of(frame, pair, place)
               for place in FRAME_PLACES[frame])  # fmt: skip


def test_inwards_is_clockwise_at_the_front_left() -> None:
    """Clockwise from above, the foremost blade moves to the right: from the left, inwards."""
    assert turn_of("quad-x", "inwards", "front-left") == "clockwise"
    assert turn_of("x8", "inwards", "front-left-upper") == "clockwise"
    assert turn_of("x8", "inwards", "front-left-lower") == "counter-clockwise"


@pytest.mark.parametrize(
    ("said", "functions"),
    [
        ("receiver, plain pad", {"receiver"}),
        ("receiver on the board", {"receiver"}),
        ("satellite receiver", {"gps"}),
        ("GPS + receiver telemetry", {"gps", "receiver", "telemetry"}),
        ("ESC telemetry wire", {"esc-telemetry"}),
        ("esc-telemetry", {"esc-telemetry"}),
        ("telemetry radio", {"telemetry"}),
        ("video sender", {"video-control"}),
        ("rangefinder below", {"rangefinder"}),
        ("log recorder", {"log"}),
        ("bench console", {"console"}),
        ("lamp string", {"lights"}),
        ("nothing", set()),
        ("not used", set()),
    ],
)
def test_what_people_say_is_soldered(said: str, functions: set[str]) -> None:
    assert soldered(said) == functions


@pytest.mark.parametrize("function", PORT_FUNCTIONS)
def test_a_functions_own_name_is_understood(function: str) -> None:
    assert soldered(function) == {function}


@pytest.mark.parametrize("said", ["the white plug", "see drawing 7", "receivership"])
def test_what_says_nothing(said: str) -> None:
    assert soldered(said) is None
