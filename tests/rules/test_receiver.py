"""Receiver rules against truth tables and arithmetic worked out afresh.

The examples beside the rules are run by test_examples.py; here are the properties.
"""

from __future__ import annotations

from itertools import permutations, product
from typing import TYPE_CHECKING, Any, Literal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cfglint.craft import Traits
from cfglint.kit import build_craft
from cfglint.rule import Options, judge
from cfglint_rules.receiver import inversion, port, speed, wires
from cfglint_rules.receiver.link import link_differs_from_card
from cfglint_rules.receiver.order import channel_order_differs

if TYPE_CHECKING:
    from cfglint.craft import Craft
    from cfglint.rule import Outcome, Rule


def said(rule: Rule, craft: Craft) -> Outcome:
    return judge(rule, craft, Options({}))


def lacks(outcome: Outcome) -> set[str]:
    return {lack.fact for lack in outcome.lacks}


# ---------------------------------------------------------------- ports

FUNCTIONS = st.frozensets(st.sampled_from(["receiver", "telemetry", "gps"]), max_size=2)


@given(st.dictionaries(st.integers(1, 6), FUNCTIONS, min_size=1))
def test_none_one_or_more_than_one_port(ports: dict[int, frozenset[str]]) -> None:
    craft = build_craft(
        {"receiver.link": "crsf"} | {f"port.{n}.functions": words for n, words in ports.items()}
    )
    carriers = [number for number, words in ports.items() if "receiver" in words]
    assert said(port.none_set, craft).state == ("holds" if carriers else "broken")
    claims = said(port.claimed_by_two_ports, craft)
    assert len(claims.findings) == max(0, len(carriers) - 1)
    assert (claims.state == "not for this craft") == (not carriers)
    shared = said(port.port_shared, craft)
    both = [words for words in ports.values() if {"receiver", "gps"} <= words]
    assert len(shared.findings) == len(both)


@given(st.frozensets(st.integers(1, 5), min_size=1), st.integers(1, 6))
def test_the_setting_must_name_a_port_that_carries_it(carriers: frozenset[int], named: int) -> None:
    settings: dict[str, Any] = {f"port.{n}.functions": frozenset({"receiver"}) for n in carriers}
    craft = build_craft(settings | {"receiver.port": named})
    outcome = said(port.port_setting_disagrees, craft)
    assert outcome.state == ("holds" if named in carriers else "broken")


def test_more_than_two_claims_keep_the_soldered_port() -> None:
    settings = {f"port.{n}.functions": frozenset({"receiver"}) for n in (1, 2, 3)}
    craft = build_craft(settings, card={"receiver.port": 2})
    outcome = said(port.claimed_by_two_ports, craft)
    found = [finding.span for finding in outcome.findings]
    assert found == [craft.get(f"port.{n}.functions").span for n in (1, 3)]
    assert all("1, 2 and 3 all claim" in finding.message for finding in outcome.findings)


def test_a_port_whose_functions_nobody_gives_may_be_the_one() -> None:
    craft = build_craft({"port.1.functions": frozenset({"gps"}), "port.2.baud": 100_000.0})
    for rule in (port.none_set, port.claimed_by_two_ports, port.port_shared):
        assert lacks(said(rule, craft)) == {"port.2.functions"}


def test_a_receiver_named_by_its_port_setting_alone() -> None:
    craft = build_craft(
        {"receiver.link": "sbus", "receiver.port": 2, "receiver.inverted": False},
        card={"receiver.port": 3, "receiver.pad": "as-link", "port.2.inverter": "fixed"},
    )
    assert said(port.none_set, craft).state == "holds"
    assert said(port.claimed_by_two_ports, craft).state == "holds"
    assert said(port.wired_to_another_port, craft).state == "broken"
    assert said(inversion.inversion_not_normal, craft).state == "holds"


def test_no_card_on_which_to_look_up_where_to_solder() -> None:
    craft = build_craft({"port.1.functions": frozenset[str]()}, card={"receiver.port": 1})
    (finding,) = said(port.none_set, craft).findings
    assert finding.instead == "set port 1 to carry the receiver"


# ---------------------------------------------------------------- inversion

#: Idle level on the wire: SBUS and FPort low ({sbus}, {fport}), CRSF on two wires high ({crsf}),
#: SRXL2 high ({srxl2}), others high (from memory).
IDLES_LOW = {
    "sbus": True,
    "fport": True,
    "crsf": False,
    "srxl2": False,
    "ibus": False,
    "dsm": False,
    "sumd": False,
}
PADS = ("as-link", "un-inverted")
INVERTERS = ("none", "fixed", "switchable")
SENSES = ("absolute", "relative")
Sense = Literal["absolute", "relative"]


def turns(
    link: str, pad: str, inverter: str, flag: bool, sense: str, port_flag: bool = False
) -> bool:
    """Whether the signal comes out inverted: turns counted one by one, odd or even."""
    count = 0
    if IDLES_LOW[link]:
        count += 1
        if pad == "un-inverted":
            count += 1
    if inverter == "fixed":
        count += 1
    if inverter == "switchable":
        asked = int(flag) + int(port_flag)
        if sense == "relative":
            asked += IDLES_LOW[link]
        count += asked % 2
    return count % 2 == 1


def wired(
    link: str,
    pad: str | None,
    inverter: str | None,
    flag: bool | None,
    sense: Any,
    port_flag: bool | None = None,
) -> Craft:
    settings: dict[str, Any] = {"receiver.link": link, "port.2.functions": frozenset({"receiver"})}
    card: dict[str, Any] = {}
    for facts, name, value in (
        (settings, "receiver.inverted", flag),
        (settings, "port.2.inverted", port_flag),
        (card, "receiver.pad", pad),
        (card, "port.2.inverter", inverter),
    ):
        if value is not None:
            facts[name] = value
    return build_craft(settings, card=card, traits=Traits(inversion=sense))


def test_the_whole_truth_table() -> None:
    rows = list(product(IDLES_LOW, PADS, INVERTERS, (False, True), SENSES, (False, True)))
    assert len(rows) == 7 * 2 * 3 * 2 * 2 * 2
    for row in rows:
        outcome = said(inversion.inversion_not_normal, wired(*row))
        assert outcome.state == ("broken" if turns(*row) else "holds"), row


def test_what_is_unknown_matters_only_where_it_can_change_the_answer() -> None:
    """Every subset of unknown facts, each against all the ways to fill it in."""
    facts = ("receiver.pad", "port.2.inverter", "receiver.inverted", "traits.inversion")
    every = (PADS, INVERTERS, (False, True), SENSES)
    seen = set()
    for link in ("sbus", "crsf"):
        for row in product(*((None, *values) for values in every)):
            fills = [(value,) if value is not None else all_ for value, all_ in zip(row, every)]  # noqa: B905
            answers = {turns(link, *filled) for filled in product(*fills)}
            craft = wired(link, *row)
            outcome = said(inversion.inversion_not_normal, craft)
            if len(answers) == 2:
                assert outcome.state == "unknown", row
                named = {fact for fact, value in zip(facts, row, strict=True) if value is None}
                assert lacks(outcome) <= named, row
                assert lacks(outcome), row
            else:
                assert outcome.state == ("broken" if answers == {True} else "holds"), row
            seen.add(outcome.state)
    assert seen == {"holds", "broken", "unknown"}


def test_no_fact_is_asked_for_in_vain() -> None:
    """Learning a fact that is not named never settles the answer; learning all named ones does."""
    facts = ("receiver.pad", "port.2.inverter", "receiver.inverted", "traits.inversion")
    every = (PADS, INVERTERS, (False, True), SENSES)
    for link in ("sbus", "crsf"):
        for row in product(*((None, *values) for values in every)):
            outcome = said(inversion.inversion_not_normal, wired(link, *row))
            if outcome.state != "unknown":
                continue
            named = lacks(outcome)
            told = [
                values if fact in named else (value,)
                for fact, value, values in zip(facts, row, every, strict=True)
            ]
            for filled in product(*told):
                state = said(inversion.inversion_not_normal, wired(link, *filled)).state
                assert state in ("holds", "broken"), (row, filled)


@pytest.mark.parametrize("sense", SENSES)
@pytest.mark.parametrize("link", sorted(IDLES_LOW))
def test_a_port_whose_own_flag_is_the_only_one(link: str, sense: Sense) -> None:
    for flag in (False, True):
        craft = wired(link, "as-link", "switchable", None, sense, flag)
        # Where the dialect has both, nobody knows what the other one says.
        both = said(inversion.inversion_not_normal, craft)
        assert [lack.fact for lack in both.lacks] == ["receiver.inverted"]
        craft = craft.changed(unmapped=frozenset({"receiver.inverted"}))
        outcome = said(inversion.inversion_not_normal, craft)
        inverted = turns(link, "as-link", "switchable", flag, sense)
        assert outcome.state == ("broken" if inverted else "holds")
        for finding in outcome.findings:
            assert finding.span == craft.get("port.2.inverted").span
            assert "port.2.inverted" in finding.instead


@given(
    st.sampled_from(sorted(IDLES_LOW)),
    st.sampled_from(PADS),
    st.booleans(),
    st.sampled_from(SENSES),
    st.sampled_from([None, False, True]),
)
def test_changing_the_flag_as_advised_settles_it(
    link: str, pad: str, flag: bool, sense: Sense, port_flag: bool | None
) -> None:
    outcome = said(
        inversion.inversion_not_normal, wired(link, pad, "switchable", flag, sense, port_flag)
    )
    for finding in outcome.findings:
        # Of two flags the port's own is the odd one.
        if port_flag:
            assert finding.instead == "set port.2.inverted to no"
            assert "port.2.inverted" in finding.message
            after = wired(link, pad, "switchable", flag, sense, False)
        else:
            assert finding.instead == f"set receiver.inverted to {'no' if flag else 'yes'}"
            after = wired(link, pad, "switchable", not flag, sense, port_flag)
        assert said(inversion.inversion_not_normal, after).state == "holds"


def test_the_flag_is_useless_exactly_where_changing_it_changes_nothing() -> None:
    for row in product(IDLES_LOW, PADS, INVERTERS, SENSES):
        link, pad, inverter, sense = row
        craft = wired(link, pad, inverter, True, sense)
        outcome = said(inversion.inversion_flag_cannot_act, craft)
        acts = turns(link, pad, inverter, True, sense) != turns(link, pad, inverter, False, sense)
        dead = turns(link, pad, inverter, True, sense)
        expected = "holds" if acts else "not for this craft" if dead else "broken"
        assert outcome.state == expected, row
        off = said(inversion.inversion_flag_cannot_act, wired(link, pad, inverter, False, sense))
        assert off.state == "holds"


def test_a_useless_flag_is_named_even_where_the_sum_is_unknown() -> None:
    craft = wired("sbus", None, "none", True, None)
    assert said(inversion.inversion_not_normal, craft).state == "unknown"
    assert said(inversion.inversion_flag_cannot_act, craft).state == "broken"


@pytest.mark.parametrize("link", ["crsf-one-wire", "ppm"])
def test_links_that_may_idle_either_way(link: str) -> None:
    """{crsf}: on one wire inverted or not; PPM: common practice."""
    craft = wired(link, "as-link", "none", True, "absolute")
    for rule in (inversion.inversion_not_normal, inversion.inversion_flag_cannot_act):
        assert said(rule, craft).state == "not for this craft"


# ---------------------------------------------------------------- speed

#: Bauds, and data and parity bits.  {crsf}, {srxl2}, {sbus}, {interfacing}, {fport}; iBUS common
#: practice.
BAUDS = {
    "sbus": ([100_000], 9),
    "crsf": ([416_666], 8),
    "crsf-one-wire": ([400_000, 115_200, 1_000_000, 2_000_000], 8),
    "ibus": ([115_200], 8),
    "dsm": ([115_200], 8),
    "srxl2": ([115_200, 400_000], 8),
    "fport": ([115_200], 8),
}
#: Bauds that are met though the description of the link lacks them.  Common practice.
MET = {"sbus": 200_000, "crsf-one-wire": 416_666, "dsm": 125_000}
#: {usart}: recommended, then at the limit, per cent.
TOLERANCE = {8: (-2.0, 2.0, -4.64, 4.58), 9: (-1.5, 1.5, -4.19, 4.14)}


def baud_grade(link: str, baud: float) -> str | None:
    bauds, bits = BAUDS[link]
    good_low, good_high, low, high = TOLERANCE[bits]
    # The port listens: the error is that of the sender against it.
    off = [(sender / baud - 1) * 100 for sender in bauds]
    besides = (MET[link] / baud - 1) * 100 if link in MET else 99
    # A hair beside an edge would test floating point, not the rule.
    assume(
        all(abs(per_cent - edge) > 1e-6 for per_cent in [*off, besides] for edge in TOLERANCE[bits])
    )
    if any(good_low <= per_cent <= good_high for per_cent in off):
        return None
    if good_low <= besides <= good_high:
        return "advise"
    return "fix" if any(low <= per_cent <= high for per_cent in off) else "ground"


@given(st.sampled_from(sorted(BAUDS)), st.integers(0, 3), st.floats(-6, 6))
def test_baud_against_the_published_tolerance(link: str, which: int, per_cent: float) -> None:
    bauds = BAUDS[link][0]
    baud = bauds[which % len(bauds)] * (1 + per_cent / 100)
    craft = build_craft({"receiver.link": link, "receiver.baud": baud})
    outcome = said(speed.baud_off_the_link, craft)
    grades = [finding.grade for finding in outcome.findings]
    grade = baud_grade(link, baud)
    assert grades == ([grade] if grade else [])


@pytest.mark.parametrize(
    ("link", "baud", "grade"),
    [
        ("crsf", 420_000, None),  # +0.80 %
        ("crsf-one-wire", 420_000, "advise"),  # no speed of its specification, but met
        ("crsf", 436_800, "fix"),  # the sender is 4.61 % slow, within the limit
        ("sbus", 115_200, "ground"),
        ("sbus", 200_000, "advise"),
        ("ibus", 125_000, "ground"),
        ("dsm", 125_000, "advise"),
    ],
)
def test_bauds_that_people_mix_up(link: str, baud: float, grade: str | None) -> None:
    craft = build_craft({"receiver.link": link, "receiver.baud": baud})
    outcome = said(speed.baud_off_the_link, craft)
    assert [finding.grade for finding in outcome.findings] == ([grade] if grade else [])


def test_the_setting_and_the_port_are_both_looked_at() -> None:
    craft = build_craft(
        {
            "receiver.link": "sbus",
            "receiver.baud": 100_000.0,
            "port.2.functions": frozenset({"receiver"}),
            "port.2.baud": 9600.0,
            "port.3.functions": frozenset({"gps"}),
            "port.3.baud": 9600.0,
        }
    )
    (finding,) = said(speed.baud_off_the_link, craft).findings
    assert finding.span == craft.get("port.2.baud").span


def test_a_port_that_wrongly_claims_the_receiver_is_not_blamed_for_its_speed_too() -> None:
    settings: dict[str, Any] = {"receiver.link": "sbus"}
    for number, baud in ((2, 100_000.0), (3, 9600.0)):
        settings[f"port.{number}.functions"] = frozenset({"receiver"})
        settings[f"port.{number}.baud"] = baud
    for card, state in (({"receiver.port": 2}, "holds"), ({"receiver.port": 3}, "broken")):
        assert said(speed.baud_off_the_link, build_craft(settings, card=card)).state == state
    for rule in (speed.baud_off_the_link, wires.half_duplex_mismatch):
        assert lacks(said(rule, build_craft(settings))) == {"receiver.port"}


# ---------------------------------------------------------------- time of a frame


def broken_at(link: str, baud: float, rate: float) -> Outcome:
    craft = build_craft(
        {"receiver.link": link, "receiver.baud": baud}, card={"receiver.rate_hz": rate}
    )
    return said(speed.frames_outlast_rate, craft)


#: Bytes and bits a byte on the wire.  {crsf}, frame 0x16; {srxl2}: 14 bytes and two for each of 16
#: channels, and an answer of 22 (from memory); {sbus}, {interfacing}; iBUS common practice.
FRAMES = {
    ("crsf", 416_666): 26 * 10,
    ("crsf", 420_000): 26 * 10,
    ("srxl2", 115_200): (46 + 22) * 10,
    ("srxl2", 400_000): (46 + 22) * 10,
    ("sbus", 100_000): 25 * 12,
    ("sbus", 200_000): 25 * 12,
    ("ibus", 115_200): 32 * 10,
    ("dsm", 115_200): 16 * 10,
}


@given(st.sampled_from(sorted(FRAMES)), st.integers(1, 2000))
def test_a_frame_fits_in_its_period_or_it_does_not(kind: tuple[str, int], rate: int) -> None:
    link, baud = kind
    outcome = broken_at(link, baud, rate)
    fits = FRAMES[kind] * rate <= baud
    assert outcome.state == ("holds" if fits else "broken")


@pytest.mark.parametrize(
    ("baud", "ceiling"), [(115_200, 90.0), (400_000, 312.5), (1_000_000, 781.25), (2e6, 1562.5)]
)
def test_ceilings_on_one_wire(baud: float, ceiling: float) -> None:
    """Derived from the {crsf}: 64 bytes from each side in a period."""
    assert broken_at("crsf-one-wire", baud, ceiling).state == "holds"
    assert broken_at("crsf-one-wire", baud, ceiling + 1).state == "broken"


def test_frame_and_answer_of_srxl2_are_both_named() -> None:
    """{srxl2}: 46 bytes are 3993 µs at 115 200; the answer of 22 bytes is from memory."""
    (finding,) = broken_at("srxl2", 115_200, 1e6 / 5500).findings
    assert finding.grade == "advise"
    for part in ("16 channels takes 3993 µs", "the answer 1910 µs", "together 5903 µs"):
        assert part in finding.message
    assert broken_at("srxl2", 400_000, 1e6 / 5500).state == "holds"


def test_a_baud_of_another_link_is_not_counted_twice() -> None:
    outcome = broken_at("sbus", 9600, 50)
    assert outcome.state == "holds"
    assert broken_at("sbus", 9600, 500).state == "broken"


def test_a_link_with_two_speeds_needs_to_be_told_which_only_where_they_differ() -> None:
    for rate, state in ((50, "holds"), (177, "unknown"), (700, "broken")):
        craft = build_craft({"receiver.link": "srxl2"}, card={"receiver.rate_hz": rate})
        assert said(speed.frames_outlast_rate, craft).state == state


@given(st.sampled_from(sorted(FRAMES)), st.integers(1, 2000))
def test_the_advised_rate_holds(kind: tuple[str, int], rate: int) -> None:
    for finding in broken_at(*kind, rate).findings:
        slower = int(finding.instead.split("at most ")[1].split(" ")[0])
        assert broken_at(*kind, slower).state == "holds"


# ---------------------------------------------------------------- wires

#: {crsf}; {srxl2}; others from memory.
ONE_WIRE = {
    "sbus": False,
    "crsf": False,
    "crsf-one-wire": True,
    "ibus": False,
    "dsm": False,
    "srxl2": True,
    "sumd": False,
    "fport": True,
}


@pytest.mark.parametrize("link", sorted(ONE_WIRE))
@pytest.mark.parametrize("flag", [None, False, True])
@pytest.mark.parametrize("port_flag", [None, False, True])
def test_one_wire_where_the_link_has_one(
    link: str, flag: bool | None, port_flag: bool | None
) -> None:
    settings: dict[str, Any] = {"receiver.link": link, "port.2.functions": frozenset({"receiver"})}
    if flag is not None:
        settings["receiver.half_duplex"] = flag
    if port_flag is not None:
        settings["port.2.half_duplex"] = port_flag
    craft = build_craft(settings, card={"receiver.link": link})
    outcome = said(wires.half_duplex_mismatch, craft)
    if flag is None and port_flag is None:
        assert lacks(outcome) == {"receiver.half_duplex"}
    elif ONE_WIRE[link] and link != "fport" and {flag, port_flag} == {False, True}:
        # Which of the two the firmware heeds nobody says.
        assert lacks(outcome) == {"port.2.half_duplex" if flag else "receiver.half_duplex"}
    else:
        on = bool(flag or port_flag)
        assert outcome.state == ("holds" if on == ONE_WIRE[link] else "broken")
        # {fport}: separate wires are allowed.
        graded = [finding.grade for finding in outcome.findings]
        assert graded in ([], ["advise" if link == "fport" else None])


def test_crsf_with_the_flag_is_crsf_on_one_wire() -> None:
    settings = {"receiver.link": "crsf", "receiver.half_duplex": True}
    craft = build_craft(settings, card={"receiver.link": "crsf-one-wire"})
    assert said(wires.half_duplex_mismatch, craft).state == "holds"
    assert said(link_differs_from_card, craft).state == "holds"


def test_a_card_with_another_link_is_another_rules_matter() -> None:
    settings = {"receiver.link": "sbus", "receiver.half_duplex": False}
    craft = build_craft(settings, card={"receiver.link": "srxl2"})
    assert said(wires.half_duplex_mismatch, craft).state == "holds"
    assert said(link_differs_from_card, craft).state == "broken"


# ---------------------------------------------------------------- sticks

ORDERS = ["".join(letters) for letters in permutations("AETR")]
STICKS = {"roll": "A", "pitch": "E", "yaw": "R"}


@given(st.sampled_from(ORDERS), st.sampled_from(ORDERS))
def test_orders_agree_or_a_stick_is_named(order: str, sent: str) -> None:
    craft = build_craft({"receiver.channel_order": order}, card={"transmitter.channel_order": sent})
    outcome = said(channel_order_differs, craft)
    assert outcome.state == ("holds" if order == sent else "broken")
    for finding in outcome.findings:
        # The stick that is sent in the place where the controller looks for the throttle.
        there = sent[order.index("T")]
        moved = [name for name, letter in STICKS.items() if f"the {name} stick" in finding.message]
        assert [STICKS[name] for name in moved] == ([] if there == "T" else [there])


@pytest.mark.parametrize("order", ["AETR/K1", "aetr", "A-E-T-R", "A, E, T, R"])
def test_ways_to_write_the_same_order(order: str) -> None:
    craft = build_craft(
        {"receiver.channel_order": order}, card={"transmitter.channel_order": "AETR"}
    )
    assert said(channel_order_differs, craft).state == "holds"


@pytest.mark.parametrize("order", ["", "AET", "AEET", "XYZW", "5678"])
def test_what_is_no_order_at_all(order: str) -> None:
    craft = build_craft({"receiver.channel_order": order})
    (finding,) = said(channel_order_differs, craft).findings
    assert "must each stand in it once" in finding.message
