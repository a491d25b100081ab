"""Channels that are only on or off: 17 and 18 of SBUS and FPort ({sbus}, {fport})."""

from __future__ import annotations

import pytest

from cfglint.switches.asking import Setup
from cfglint.switches.properties import answers

from .build import card, craft, row, switch


def said(low: float, high: float, channel: int, *, link: str = "sbus", on_card: bool = True):  # type: ignore[no-untyped-def]
    """What is broken about lights on a range, with a switch of three positions on the channel."""
    three = [switch("K7", channel, (1080, 1510, 1920))] if on_card else []
    made = craft([row("lights", channel, low, high)], card=card(*three, receiver__link=link))
    return {one.question: one.words for one in answers(Setup(made)) if one.state == "broken"}


@pytest.mark.parametrize("link", ["sbus", "fport"])
@pytest.mark.parametrize("channel", [17, 18])
def test_nothing_comes_between_the_two_values(link: str, channel: int) -> None:
    assert "never comes on" in said(1350, 1660, channel, link=link)["never-on"]
    assert "never-on" not in said(1350, 1660, 16, link=link)
    # At either end the range is entered, whatever the card's switch sends.
    assert "never-on" not in said(1790, 2120, channel, link=link)
    assert "never-on" not in said(870, 1210, channel, link=link)


def test_without_a_card_two_positions_are_assumed_and_no_third() -> None:
    setup = Setup(craft([row("lights", 17, 1350, 1660)], card=card(receiver__link="sbus")))
    for assume in ("two", "three", "free"):
        made = setup.switch(17, assume)
        assert [place.band.low for place in made.places] == [987.5, 2011.875]
    assert len(setup.switch(16, "three").places) == 3


def test_positions_that_arrive_alike_are_told() -> None:
    words = said(1790, 2120, 17)["not-sent"]
    assert words == (
        "K7 middle and high arrive alike on channel 17, which is only on or off: the controller "
        "cannot tell them apart"
    )
    assert "not-sent" not in said(1790, 2120, 16)
