"""Formulas of modes: any and all, links in chains and rings, and what a cone takes in."""

from __future__ import annotations

import pytest

from cfglint.craft import ModeRange
from cfglint.switches.modes import Formula, Logic

from .build import craft, link, row


def names(logic: Logic, *ranges: int) -> set[str]:
    """The modes on while the ranges of these numbers hold."""
    face = 0
    for number in ranges:
        item = logic.ranges[number]
        face |= logic.seen_face(item.channel, (item.low_us + item.high_us) / 2)
    return set(logic.names(logic.on(face)))


def test_any_needs_one_and_all_needs_every_one() -> None:
    logic = Logic(
        craft(
            [
                row("arm", 5, 1784, 2061, "all"),
                row("arm", 6, 1784, 2061, "all"),
                row("arm", 7, 1784, 2061),
                row("lights", 8, 1784, 2061),
            ]
        ),
        "half-open",
    )
    assert names(logic) == set()
    assert names(logic, 0) == set()
    assert names(logic, 0, 1) == {"arm"}
    assert names(logic, 2) == {"arm"}
    assert names(logic, 3) == {"lights"}
    assert not Formula().holds(0, 0)


def test_ranges_of_one_mode_on_one_channel_cannot_be_told_apart() -> None:
    logic = Logic(
        craft([row("lights", 5, 809, 1315), row("lights", 5, 1315, 1658), row("log", 5, 809, 990)]),
        "half-open",
    )
    strip = logic.strip(5)
    assert strip.face(1000) == strip.face(1315) == strip.face(1500)
    assert len(strip.cuts) == 3
    # Both ranges are named where the bit that they share is set.
    assert [item.low_us for item in logic.rows(strip.face(1000))] == [809, 1315]
    # Ranges joined with `all` are each needed, so they stay apart.
    every = Logic(
        craft([row("arm", 5, 809, 1315, "all"), row("arm", 5, 1200, 1658, "all")]), "half-open"
    )
    assert len(every.strip(5).cuts) == 4
    assert names(every, 0) == set()
    assert set(every.names(every.on(every.strip(5).face(1250)))) == {"arm"}


def test_links_are_followed_to_the_end_and_rings_stay_off() -> None:
    chain = [link("beacon", "lights"), link("lights", "log"), link("log", "lost-link")]
    logic = Logic(craft([row("lost-link", 5, 1687, 2149)], chain), "half-open")
    assert names(logic, 0) == {"lost-link", "log", "lights", "beacon"}
    ring = [link("beacon", "lights"), link("lights", "beacon"), link("log", "log", "all")]
    assert names(Logic(craft([row("arm", 5, 1687, 2149)], ring), "half-open"), 0) == {"arm"}
    # Entered from outside, a ring is on as a whole.
    entered = Logic(craft([row("lights", 5, 1687, 2149)], ring), "half-open")
    assert names(entered, 0) == {"lights", "beacon"}


def test_a_link_joined_with_all_is_one_of_the_conditions() -> None:
    logic = Logic(
        craft(
            [row("arm", 5, 1646, 2199, "all"), row("arm-permit", 6, 1646, 2199)],
            [link("arm", "arm-permit", "all")],
        ),
        "half-open",
    )
    assert names(logic, 0) == set()
    assert names(logic, 1) == {"arm-permit"}
    assert names(logic, 0, 1) == {"arm", "arm-permit"}


def test_a_cone_takes_in_all_that_a_mode_hangs_on_and_no_more() -> None:
    logic = Logic(
        craft(
            [row("lost-link", 9, 1706, 2138), row("log", 5, 1706, 2138), row("lights", 6, 1, 2)],
            [link("arm", "log"), link("log", "lost-link"), link("lost-link", "log")],
        ),
        "half-open",
    )
    cone = logic.cone(("arm",))
    assert cone.channels == (5, 9)
    assert set(logic.names(cone.modes)) == {"arm", "log", "lost-link"}
    assert logic.cone(("lights",)).channels == (6,)
    assert logic.cone(("nothing of the kind",)).channels == ()
    assert logic.bit("nothing of the kind") == 0
    assert logic.channels() == [5, 6, 9]


def test_modes_of_no_table_come_last() -> None:
    odd: ModeRange = row("zither", 5, 1, 2)
    assert Logic(craft([odd, row("arm", 5, 1, 2)]), "half-open").modes == ("arm", "zither")


@pytest.mark.parametrize(("ends", "on"), [("half-open", False), ("closed", True)])
def test_the_high_end_belongs_or_not(ends: str, on: bool) -> None:
    logic = Logic(craft([row("arm", 5, 1697, 2000)]), ends)  # type: ignore[arg-type]
    assert bool(logic.seen_face(5, 2000)) is on
    assert bool(logic.strip(5).face(2000)) is on
    assert logic.seen_face(6, 2000) == 0
