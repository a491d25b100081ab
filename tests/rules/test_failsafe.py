"""Failsafe rules against the published advice and every order of the sticks.

Sources: {bmfa-failsafe} (throttle closed or idle on loss or corruption of signal, though it does
not suit every multirotor); {bmfa-rotorcraft} (unstabilised: idle or closed; stabilised: hover,
then a controlled descent; programmable: loiter, return, descend).
The examples beside the rules are run by test_examples.py.
"""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft.settings import FAILSAFE_ACTIONS
from cfglint.kit import build_craft
from cfglint_rules import failsafe

from .crafts import lacks, read, said

ORDERS = ["".join(order) for order in permutations("AETR")]
#: What each kind of craft can do by itself ({bmfa-rotorcraft}).
ABLE = {
    "unstabilised": {"stop"},
    "stabilised": {"stop", "descend"},
    "programmable": {"stop", "descend", "return-home"},
}


@pytest.mark.parametrize("kind", ABLE)
@pytest.mark.parametrize("action", ["stop", "descend", "return-home"])
def test_what_a_craft_can_do_depends_on_its_kind(kind: str, action: str) -> None:
    craft = build_craft({"failsafe.action": action}, card={"airframe.kind": kind})
    outcome = said(failsafe.beyond_the_airframe, craft)
    assert (outcome.state == "holds") is (action in ABLE[kind])
    assert failsafe.beyond_the_airframe.grade == "ground"


def test_stopping_is_within_reach_whatever_the_craft() -> None:
    craft = build_craft({"failsafe.action": "stop"})
    assert said(failsafe.beyond_the_airframe, craft).state == "holds"


@pytest.mark.parametrize("kind", ABLE)
def test_what_is_advised_suits_the_kind_of_craft(kind: str) -> None:
    craft = build_craft({"failsafe.action": "none"}, card={"airframe.kind": kind})
    (finding,) = said(failsafe.never_set, craft).findings
    advised = finding.instead.removeprefix("set failsafe.action to ").partition(":")[0]
    assert set(advised.split(" or ")) == ABLE[kind]


def test_nothing_is_advised_for_a_craft_of_unknown_kind_but_to_say_it() -> None:
    (finding,) = said(failsafe.never_set, build_craft({"failsafe.action": "none"})).findings
    assert "write its kind in the card" in finding.instead


@pytest.mark.parametrize("kind", [None, *ABLE])
@pytest.mark.parametrize("action", ["stop", "none"])
def test_an_open_throttle_hangs_on_the_kind_unless_it_is_to_stop(
    kind: str | None, action: str
) -> None:
    craft = build_craft(
        {
            "failsafe.action": action,
            "failsafe.channel.3": "1460",
            "receiver.channel_order": "AETR",
            "stick.low_us": 1090.0,
        },
        card={"airframe.kind": kind} if kind else {},
    )
    outcome = said(failsafe.throttle_stays_open, craft)
    if action == "stop" or kind == "unstabilised":
        assert outcome.state == "broken"
    elif kind is None:
        assert lacks(outcome) == ["airframe.kind"]
    else:
        assert lacks(outcome) == ["airframe.hover_us"]


@pytest.mark.parametrize("action", FAILSAFE_ACTIONS)
def test_every_action_gets_one_verdict_from_each_rule(action: str) -> None:
    craft = build_craft({"failsafe.action": action, "failsafe.delay_s": 0.9})
    never = said(failsafe.never_set, craft).state
    holds = said(failsafe.holds_last_values, craft).state
    assert never == ("broken" if action == "none" else "holds")
    assert holds == ("broken" if action == "hold-last" else "holds")
    wanted = build_craft({"failsafe.action": action}, card={"failsafe.wanted": "stop"})
    state = said(failsafe.not_what_is_wanted, wanted).state
    assert state == {"stop": "holds", "descend": "broken", "return-home": "broken"}.get(
        action, "not for this craft"
    )


@pytest.mark.parametrize("order", ORDERS)
def test_the_throttle_is_found_by_the_order_of_the_sticks(order: str) -> None:
    throttle = order.index("T") + 1
    for source in ("dump", "card"):
        for channel in (1, 2, 3, 4):
            settings = {"failsafe.action": "stop", f"failsafe.channel.{channel}": "hold"}
            card = None
            if source == "dump":
                settings["receiver.channel_order"] = order
            else:
                card = {"transmitter.channel_order": order}
            outcome = said(failsafe.holds_last_values, build_craft(settings, card=card))
            assert outcome.state == ("broken" if channel == throttle else "holds")
            for finding in outcome.findings:
                assert f"channel {throttle} (throttle)" in finding.message


def test_an_order_without_throttle_tells_nothing() -> None:
    craft = build_craft(
        {
            "failsafe.action": "stop",
            "failsafe.channel.3": "hold",
            "receiver.channel_order": "5678",
        }
    )
    assert lacks(said(failsafe.holds_last_values, craft)) == ["receiver.channel_order"]


def test_arm_held_is_found_without_knowing_the_throttle() -> None:
    craft = build_craft(
        {"failsafe.action": "stop", "failsafe.channel.5": "hold"},
        ranges=[("arm", 5, 1685, 2125)],
    )
    outcome = said(failsafe.holds_last_values, craft)
    assert outcome.state == "broken"
    assert lacks(outcome) == []
    assert failsafe.holds_last_values.grade == "ground"


def test_throttle_and_arm_on_one_channel_are_one_finding() -> None:
    craft = build_craft(
        {
            "failsafe.action": "stop",
            "failsafe.channel.3": "hold",
            "failsafe.channel.6": "hold",
            "receiver.channel_order": "AETR",
        },
        ranges=[("arm", 3, 1770, 2190)],
    )
    (finding,) = said(failsafe.holds_last_values, craft).findings
    assert "channel 3 (arm)" in finding.message


def test_never_set_depends_on_what_an_absent_line_means() -> None:
    rule = failsafe.never_set
    # All settings are listed, this one is not: nothing is set.
    assert said(rule, build_craft({"loop.rate_hz": 3400.0})).state == "broken"
    # Only changes are listed, and the dialect does not say what holds otherwise.
    craft = build_craft({"loop.rate_hz": 3400.0}, extent="changes")
    assert lacks(said(rule, craft)) == ["failsafe.action"]
    # The dialect says what holds otherwise.
    for default, state in (("none", "broken"), ("stop", "holds")):
        craft = build_craft(defaults={"failsafe.action": default}, extent="changes")
        outcome = said(rule, craft)
        assert outcome.state == state
        for finding in outcome.findings:
            assert finding.span == craft.whole
            assert "default" in finding.message


def test_values_for_other_channels_do_not_make_a_failsafe() -> None:
    settings = {"receiver.channel_order": "AETR", "failsafe.channel.5": "1015"}
    assert said(failsafe.never_set, build_craft(settings)).state == "broken"
    settings["failsafe.channel.3"] = "990"
    assert said(failsafe.never_set, build_craft(settings)).state == "holds"


@given(st.integers(870, 2140), st.integers(1010, 1190))
def test_throttle_is_closed_exactly_below_the_low_threshold(pulse: int, low: int) -> None:
    craft = build_craft(
        {
            "failsafe.action": "stop",
            "failsafe.channel.3": str(pulse),
            "receiver.channel_order": "AETR",
            "stick.low_us": float(low),
        }
    )
    outcome = said(failsafe.throttle_stays_open, craft)
    assert (outcome.state == "holds") is (pulse < low)


@pytest.mark.parametrize("written", ["hold", "drop", "nan", "inf", "high"])
def test_only_a_pulse_is_measured(written: str) -> None:
    craft = build_craft({"failsafe.channel.3": written, "receiver.channel_order": "AETR"})
    assert said(failsafe.throttle_stays_open, craft).state == "not for this craft"


def test_a_value_elsewhere_says_nothing_of_the_throttle() -> None:
    craft = build_craft({"failsafe.channel.5": "1500", "receiver.channel_order": "AETR"})
    assert said(failsafe.throttle_stays_open, craft).state == "not for this craft"


@given(st.integers(0, 3000), st.integers(0, 3000))
def test_the_wait_is_too_long_beyond_the_option(tenths: int, most: int) -> None:
    craft = build_craft({"failsafe.action": "stop", "failsafe.delay_s": tenths / 10})
    outcome = said(failsafe.acts_too_late, craft, longest_s=most / 10)
    assert (outcome.state == "holds") is (tenths <= most)


@pytest.mark.parametrize("on_loss", ["silent", "hold", "set-values"])
def test_a_receiver_must_not_hide_the_loss(on_loss: str) -> None:
    craft = build_craft({}, card={"receiver.on_loss": on_loss})
    outcome = said(failsafe.receiver_hides_the_loss, craft)
    assert outcome.state == ("holds" if on_loss == "silent" else "broken")


def test_findings_on_the_card_point_into_the_card() -> None:
    craft = read("let lost-link-action be stop", '[receiver]\non_loss = "hold"\n')
    (finding,) = said(failsafe.receiver_hides_the_loss, craft).findings
    assert (finding.span.file, finding.span.line) == ("card.toml", 2)
