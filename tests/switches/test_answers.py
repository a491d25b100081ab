"""What the graph answers on craft made for one thing each, what is assumed, and what is not
known.  Whether the answers are right is for the oracles; here stands how they are said.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft import Traits
from cfglint.facts.modes import CONFLICTS
from cfglint.near import listed
from cfglint.switches import flight, loss, properties
from cfglint.switches.asking import Answer, Question, Setup, settle, setup_of
from cfglint.switches.properties import answers

from .build import SOUND_RANGES, SOUND_SWITCHES, card, craft, link, row, sound, switch

if TYPE_CHECKING:
    from cfglint.craft import Craft

K1 = switch("K1", 5, (1000, 2000), names=("up", "down"), jitter=4)
K4 = switch("K4", 6, (1000, 1500, 2000), names=("up", "middle", "down"), jitter=4)
K2 = switch("K2", 7, (1000, 2000), names=("up", "down"), jitter=4)
ARM = row("arm", 5, 1687, 2228)


def ask(made: Craft, question: Question) -> Answer:
    (answer,) = settle(Setup(made), question)
    return answer


def test_a_sound_craft_has_nothing_broken_and_nothing_unknown() -> None:
    assert {answer.state for answer in answers(Setup(sound()))} == {"holds"}
    # A permit, a link and another order of the arm switch change nothing about that.
    more = sound(
        [*SOUND_RANGES, row("arm-permit", 9, 1787, 2213)],
        [link("log", "arm")],
        [*SOUND_SWITCHES, switch("K3", 9, (2000, 1000), momentary=True)],
        Traits("half-open", "absolute", True, True),
    )
    assert {answer.state for answer in answers(Setup(more))} == {"holds"}


def test_the_recovery_is_what_an_instructor_would_say() -> None:
    setup = Setup(sound())
    steps = flight.recovery(setup.view("half-open", "two", False)).steps
    assert [f"{step.words()}: {step.outcome()}" for step in steps] == [
        "Flick K1 up: disarmed",
        "Flick K2 down: self-right comes on",
        "With the throttle low, flick K1 down: armed with the motors reversed",
        "Flick K1 up: disarmed",
        "Flick K2 up: self-right goes off",
        "With the throttle low, flick K1 down: armed",
    ]


def test_a_permit_is_part_of_the_way_where_it_is_needed() -> None:
    ranges = [*SOUND_RANGES, row("arm-permit", 9, 1642, 2243)]
    on_card = [*SOUND_SWITCHES, switch("K3", 9, (1000, 2000))]
    needs = Traits("half-open", "absolute", True, True)
    (answer,) = settle(Setup(sound(ranges, (), on_card, needs)), flight.CANNOT_RIGHT_ITSELF)
    assert answer.state == "holds"
    never = [*SOUND_RANGES, row("arm-permit", 5, 794, 1357)]
    answer = ask(sound(never, (), on_card, needs), flight.CANNOT_FLY)
    assert answer.reasons == ("permit-never",)
    assert ask(sound(never, (), on_card), flight.CANNOT_FLY).state == "holds"


def test_arming_without_its_permit_is_refused() -> None:
    needs = Traits("half-open", "absolute", True, True)
    made = sound(
        [ARM, row("arm-permit", 6, 1770, 2178), row("lost-link", 7, 1770, 2178)],
        (),
        [K1, K4, K2],
        needs,
    )
    answer = ask(made, flight.FLICK_STOPS_MOTORS)
    assert answer.subject == "K2"
    assert [step.words() for step in answer.steps] == [
        "Power up with K1 up, K4 down, K2 up",
        "With the throttle low, flick K1 down",
        "Flick K2 down",
    ]


# ---------------------------------------------------------------- what is broken, in words


def test_a_flick_that_stops_the_motors() -> None:
    made = sound(
        [
            row("arm", 5, 1727, 2055, "all"),
            row("arm", 6, 874, 1727, "all"),
            row("self-level", 6, 1, 2),
        ],
        switches=[K1, K4],
    )
    answer = ask(made, flight.FLICK_STOPS_MOTORS)
    assert answer.words == (
        "in normal flight with K1 down, one flick of K4 from up to down turns arm off, and the "
        "motors stop"
    )
    assert answer.path() == [
        "1. Power up with K1 up, K4 up.",
        "2. With the throttle low, flick K1 down: armed.",
        "3. Flick K4 down: disarmed.",
    ]
    assert answer.spans == (made.mode_ranges[1].span,)
    assert answer.channels == (6,)


@pytest.mark.parametrize(
    ("action", "state"), [("stop", "broken"), ("descend", "holds"), (None, "unknown")]
)
def test_playing_a_lost_link_stops_the_motors_where_that_is_the_action(
    action: str | None, state: str
) -> None:
    made = craft(
        [ARM, row("lost-link", 7, 1638, 2131)],
        card=card(K1, K2),
        values={"failsafe.action": action} if action else {},
    )
    answer = ask(made, flight.FLICK_STOPS_MOTORS)
    assert answer.state == state
    if state == "unknown":
        assert answer.lacks[0].fact == "failsafe.action"
    if state == "broken":
        assert "plays a lost link, whose action is stop" in answer.words


def test_two_switches_for_arm_alone_are_both_arm_switches() -> None:
    both = [row("arm", 5, 1692, 2191, "all"), row("arm", 7, 1692, 2191, "all")]
    assert ask(sound(both, switches=[K1, K2]), flight.FLICK_STOPS_MOTORS).state == "holds"
    shared = [*both, row("lights", 7, 805, 1374)]
    assert ask(sound(shared, switches=[K1, K2]), flight.FLICK_STOPS_MOTORS).subject == "K2"
    # With arm only following another mode, the switch of that mode is the arm switch.
    led = sound([row("log", 5, 1692, 2191)], [link("arm", "log")], [K1])
    assert ask(led, flight.FLICK_STOPS_MOTORS).state == "holds"


def test_self_right_on_a_switch_in_use_in_flight() -> None:
    ranges = [ARM, row("self-level", 6, 1321, 1631), row("self-right", 6, 1631, 2121)]
    answer = ask(sound(ranges, switches=[K1, K4]), flight.FLICK_ENTERS_SELF_RIGHT)
    assert "one flick of K4 from up to down brings self-right on" in answer.words
    assert "also works self-level" in answer.words
    harmless = [ARM, row("beacon", 6, 1321, 2121), row("self-right", 6, 1631, 2121)]
    assert ask(sound(harmless, switches=[K1, K4]), flight.FLICK_ENTERS_SELF_RIGHT).state == "holds"


def test_an_arm_position_on_an_edge() -> None:
    made = sound([row("arm", 5, 1718, 2002)], switches=[K1])
    answer = ask(made, flight.ARMS_BY_ITSELF)
    assert answer.words == (
        "powered up with K1 down, the craft arms by itself when the throttle is low: K1 down lies "
        "on an edge of arm and wanders across it by its own jitter"
    )
    assert answer.path()[1] == "2. K1 stays at down and wanders by its own jitter: armed."
    assert ask(made, flight.CANNOT_FLY).reasons == ("chatter",)
    chatter = ask(made, properties.chatter(properties.card_switches(Setup(made))[0]))
    assert chatter.words == (
        "K1 down arrives as 1995.62 to 2004.38 µs and straddles an edge of arm, which flickers on "
        "and off by itself"
    )


def test_chatter_without_consequence_is_none() -> None:
    # The edge is crossed, but arm needs a second range that no switch ever enters.
    ranges = [row("arm", 5, 1697, 2002, "all"), row("arm", 6, 1, 2, "all"), row("log", 6, 1, 2)]
    made = sound(ranges, switches=[K1, K4])
    (on_sa, _) = properties.card_switches(Setup(made))
    assert ask(made, properties.chatter(on_sa)).state == "holds"


@pytest.mark.parametrize(
    ("ranges", "links", "reason"),
    [
        ([row("arm", 5, 1400, 1500)], [], "never-on"),
        ([row("arm", 5, 837, 2184)], [], "never-off"),
        ([ARM], [link("self-right", "arm")], "self-right-always"),
        ([ARM], [link("lost-link", "arm")], "no-way"),
        ([], [link("arm", "beacon")], "never-on"),
    ],
)
def test_why_a_craft_cannot_be_flown(ranges: Any, links: Any, reason: str) -> None:
    made = sound(ranges, links, [K1])
    answer = ask(made, flight.CANNOT_FLY)
    assert answer.reasons == (reason,)
    assert answer.words.startswith("this craft can never be flown: ")
    assert answer.spans
    if made.mode_links and reason == "self-right-always":
        assert ask(made, flight.CANNOT_RIGHT_ITSELF).reasons == ("cannot-fly",)


def arm_at(low: float, high: float) -> Any:
    return row("arm", 5, low, high)


def right_at(low: float, high: float) -> Any:
    return row("self-right", 5, low, high)


THREE = switch("K1", 5, (1000, 1500, 2000), names=("up", "middle", "down"))


@pytest.mark.parametrize(
    ("ranges", "switches", "reason"),
    [
        ([ARM, row("self-right", 7, 1400, 1500)], [K1, K2], "never-on"),
        ([ARM, row("self-right", 5, 860, 1270)], [K1], "never-together"),
        ([row("arm", 5, 1340, 2133), row("self-right", 5, 1780, 2133)], [THREE], "only-armed"),
        # One switch: self-right, nothing, arm, both.  Reversing is only reached from flying.
        (
            [arm_at(1290, 1640), right_at(870, 1010), right_at(1490, 1640)],
            [switch("K1", 5, (950, 1150, 1350, 1550))],
            "no-way-back",
        ),
        # The same with nothing and arm again at the far end: only from there is there a way.
        (
            [
                arm_at(1270, 1660),
                arm_at(1880, 2010),
                right_at(890, 1020),
                right_at(1480, 1660),
            ],
            [switch("K1", 5, (950, 1150, 1350, 1550, 1750, 1950))],
            "not-from-all",
        ),
        # The permit is off wherever self-right is on.
        (
            [ARM, row("self-right", 7, 1760, 2190), row("arm-permit", 7, 840, 1310)],
            [K1, K2],
            "no-way-in",
        ),
    ],
)
def test_why_a_craft_cannot_right_itself(ranges: Any, switches: Any, reason: str) -> None:
    needs = Traits("half-open", "absolute", True, True)
    answer = ask(sound(ranges, (), switches, needs), flight.CANNOT_RIGHT_ITSELF)
    assert answer.reasons == (reason,), answer.words
    assert "cannot be righted by any sequence of flicks from flying" in answer.words


# ---------------------------------------------------------------- lost link


def lost(action: str | None, ranges: Any = (ARM,), **channels: str) -> list[Answer]:
    values = {"failsafe.action": action} if action else {}
    values |= {f"failsafe.channel.{name[2:]}": value for name, value in channels.items()}
    made = craft(ranges, card=card(K1, K2), values=values)
    return settle(Setup(made), loss.LOST_LINK)


def test_lost_link() -> None:
    assert [row_.state for row_ in lost("stop")] == ["holds"]
    assert [row_.subject for row_ in lost("hold-last")] == ["stays-armed"]
    assert [row_.subject for row_ in lost("none", ch5="hold")] == ["stays-armed"]
    assert [row_.state for row_ in lost("none", ch5="1000")] == ["holds"]
    assert [row_.state for row_ in lost("none", ch5="drop")] == ["holds"]
    (silent,) = lost("none")
    assert (silent.state, silent.lacks[0].fact) == ("unknown", "failsafe.channel.5")
    (nothing,) = lost(None)
    assert (nothing.state, nothing.lacks[0].fact) == ("unknown", "failsafe.action")
    (odd,) = lost("none", ch5="a word")
    assert odd.lacks[0].fact == "failsafe.channel.5"
    arms, stays = lost("none", ch5="2000")
    assert arms.words.startswith("disarmed with K1 up, losing the link turns arm on")
    assert "leaves the craft armed" in stays.words


def test_lost_link_and_self_right() -> None:
    both = [ARM, row("self-right", 7, 1649, 2070)]
    (turned,) = lost("stop", both, ch5="hold", ch7="2000")
    assert turned.subject == "self-right"
    assert turned.words.startswith("in flight with K1 down, K2 up, losing the link turns")
    (unknown,) = lost("stop", both, ch7="2000")
    assert (unknown.state, unknown.lacks[0].fact) == ("unknown", "failsafe.channel.5")
    assert [row_.state for row_ in lost("stop", both, ch5="1000", ch7="2000")] == ["holds"]
    assert [row_.state for row_ in lost("stop", both, ch5="hold", ch7="drop")] == ["holds"]


def test_lost_link_may_arm_by_a_channel_that_is_held() -> None:
    both = [row("arm", 5, 1675, 2076, "all"), row("arm", 7, 1675, 2076, "all")]
    (unknown,) = lost("stop", both, ch7="2000")
    assert (unknown.subject, unknown.lacks[0].fact) == ("arms", "failsafe.channel.5")
    (held,) = lost("stop", both, ch5="hold", ch7="2000")
    assert (held.state, held.subject) == ("broken", "arms")


def test_a_receiver_that_hides_the_loss() -> None:
    def habit(**fields: Any) -> Answer:
        made = craft([ARM], card=card(K1, **fields), values={"failsafe.action": "stop"})
        return ask(made, loss.RECEIVER_HIDES_LOSS)

    assert habit(receiver__on_loss="silent").state == "holds"
    assert "repeats its last frame" in habit(receiver__on_loss="hold").words
    assert habit(receiver__on_loss="set-values").lacks[0].fact == "receiver.on_loss"
    assert habit().lacks[0].fact == "receiver.on_loss"
    never = craft([row("arm", 5, 1, 2)], card=card(K1, receiver__on_loss="hold"))
    assert ask(never, loss.RECEIVER_HIDES_LOSS).state == "holds"


# ---------------------------------------------------------------- one mode, one switch


def test_modes_that_never_come_on_say_why() -> None:
    def why(ranges: Any, links: Any = (), switches: Any = (K1, K4)) -> str:
        return ask(sound(ranges, links, switches), properties.never_on("log")).words

    assert why([row("log", 5, 1400, 1600)]) == (
        "log never comes on: K1 sends 1000 and 2000 µs, and none of that lies in its range"
    )
    assert "no combination" in why([row("log", 5, 1749, 2065, "all"), row("log", 6, 1, 2, "all")])
    assert "follows nothing" in why([ARM], [link("log", "lights")])
    assert "nothing that channel 3 can bring" in why([row("log", 3, 2150, 2200)])
    assert "nothing that channel 9 can bring" not in why([row("log", 5, 1, 2)])


def test_a_mode_that_is_always_on() -> None:
    made = sound([row("log", 6, 952, 2208)])
    assert "in every position" in ask(made, properties.never_off("log")).words
    assert ask(made, properties.never_off("arm")).state == "holds"


def test_modes_that_meet_are_told_with_the_state() -> None:
    made = sound([row("self-right", 5, 1712, 2188), row("return-home", 6, 1712, 2188)])
    answer = ask(made, properties.meet("self-right", "return-home"))
    assert answer.words == "self-right and return-home are on together with K1 down, K4 down"


def test_every_pair_that_makes_no_sense_is_asked_about() -> None:
    modes = dict.fromkeys(mode for pair in CONFLICTS for mode in (pair.one, pair.two))
    made = sound([row(mode, 6, 1765, 2220) for mode in modes])
    asked = {one.modes for one in properties.questions(Setup(made)) if one.name == "meet"}
    assert asked == {(pair.one, pair.two) for pair in CONFLICTS if pair.senseless}


@pytest.mark.parametrize(
    ("ranges", "words"),
    [
        (
            [row("self-level", 6, 887, 1341), row("self-level", 6, 1768, 2168)],
            "self-level is on at both ends of K4 and off at its middle (middle)",
        ),
        (
            [
                *(row("self-level", 6, low, low + 400) for low in (887, 1768)),
                *(row("lights", 6, low, low + 400) for low in (887, 1768)),
            ],
            "self-level and lights are on at both ends of K4",
        ),
        (
            [row("beacon", 6, 887, 1510), row("lights", 6, 1490, 2168)],
            "the middle of K4 (middle) turns on both beacon, which belongs to up, and lights",
        ),
        (
            [row("self-level", 6, 887, 1341), row("return-home", 6, 1768, 2168)],
            "turns nothing on, between self-level at up and return-home at down",
        ),
    ],
)
def test_middles_that_surprise(ranges: Any, words: str) -> None:
    made = sound(ranges)
    answer = ask(made, properties.middle(properties.card_switches(Setup(made))[1]))
    assert words in answer.words
    assert answer.spans


@pytest.mark.parametrize(
    "ranges",
    [
        [row("self-level", 6, 1282, 2157)],
        [row("self-level", 6, 906, 1282), row("hold-height", 6, 1282, 2157)],
        [row("beacon", 6, 906, 1282), row("lights", 6, 1621, 2157)],
        # Both reach across the middle on purpose: their ends lie half-way between positions.
        [row("self-level", 6, 905, 1740), row("idle-authority", 6, 1262, 2150)],
        # A middle that chatters is told elsewhere.
        [row("self-level", 6, 906, 1500), row("self-level", 6, 1621, 2157)],
    ],
)
def test_middles_that_do_not(ranges: Any) -> None:
    made = sound(ranges)
    question = properties.middle(properties.card_switches(Setup(made))[1])
    assert ask(made, question).state == "holds"


# ---------------------------------------------------------------- what is not known


def test_without_a_card_what_must_not_happen_may_be_known_and_what_must_be_possible_is_not() -> (
    None
):
    setup = Setup(sound(switches=None))
    states = {(row_.question, row_.state) for row_ in answers(setup)}
    assert ("flick-stops-motors", "holds") in states
    assert ("flick-enters-self-right", "holds") in states
    for question in ("cannot-fly", "cannot-right-itself", "never-on"):
        assert (question, "unknown") in states
    assert "broken" not in {state for _, state in states}


def test_what_is_broken_whatever_is_assumed_is_broken_and_says_so() -> None:
    made = sound([ARM, row("lost-link", 6, 1630, 2098)], switches=[K1])
    answer = ask(made, flight.FLICK_STOPS_MOTORS)
    assert answer.state == "broken"
    assert answer.assumed == (
        "assuming a switch of two or three positions on channel 6, which the card does not describe"
    )
    none = sound([ARM, row("lost-link", 6, 1630, 2098)], switches=None)
    assert "switches of two or three positions on channels 5 and 6" in (
        ask(none, flight.FLICK_STOPS_MOTORS).assumed
    )


def test_what_hangs_on_the_number_of_positions_is_unknown() -> None:
    made = sound([ARM, row("lost-link", 6, 1400, 1600)], switches=[K1])
    answer = ask(made, flight.FLICK_STOPS_MOTORS)
    assert (answer.state, [lack.fact for lack in answer.lacks]) == (
        "unknown",
        ["switch on channel 6"],
    )


def test_range_ends_that_the_dialect_does_not_state() -> None:
    unsaid = Traits(None, "absolute", False, True)
    apart = switch("K1", 5, (1000, 2000))
    for high, state in ((2000, "unknown"), (2083, "holds"), (1900, "broken")):
        made = sound([row("arm", 5, 1755, high)], (), [apart], unsaid)
        answer = ask(made, properties.never_on("arm"))
        assert answer.state == state
        if state == "unknown":
            assert answer.lacks[0].fact == "traits.range_ends"


def test_a_permit_that_the_dialect_does_not_speak_of() -> None:
    unsaid = Traits("half-open", "absolute", None, True)
    never = [ARM, row("arm-permit", 5, 877, 1375)]
    answer = ask(sound(never, (), [K1], unsaid), flight.CANNOT_FLY)
    assert [lack.fact for lack in answer.lacks] == ["traits.arm_needs_permit"]
    assert ask(sound([ARM], (), [K1], unsaid), flight.CANNOT_FLY).state == "holds"


def test_an_impossible_calibration_is_named() -> None:
    made = sound([ARM], channel__5__mid_us=990)
    answer = ask(made, flight.CANNOT_FLY)
    assert (answer.state, answer.lacks[0].fact) == ("unknown", "channel.5.mid_us")


def test_a_switch_that_only_a_permit_nobody_asks_for_needs() -> None:
    ranges = [*SOUND_RANGES, row("arm-permit", 9, 1732, 2113)]
    assert ask(sound(ranges), flight.CANNOT_FLY).state == "holds"


def test_one_setup_serves_all_rules_of_a_craft() -> None:
    made = sound()
    assert setup_of(made) is setup_of(made)
    assert setup_of(made) is not setup_of(sound())


def test_sticks_take_any_value_and_need_no_card() -> None:
    made = sound([row("arm", 3, 1640, 2095), row("lights", 3, 1214, 1400)], switches=())
    setup = Setup(made)
    assert setup.described(3)
    (dial,) = setup.view("half-open", "two", False).graph(("arm",)).dials
    assert [run.names[0] for run in dial.runs] == ["880–1639 µs", "1640–2094 µs", "2095–2120 µs"]
    assert ask(made, flight.CANNOT_FLY).state == "holds"


def test_lists_in_sentences() -> None:
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"]) == "a, b and c"
