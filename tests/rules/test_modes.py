"""Mode rules against the library `portion` and against sweeping every microsecond.

The sweep knows nothing of intervals: it asks, for one pulse after another, which ranges hold,
and joins them as the model's own description says.  Range ends are whole microseconds, so half
microseconds in between stand for everything between two of them.
The examples beside the rules are run by test_examples.py.
"""

from __future__ import annotations

from functools import reduce
from itertools import product
from typing import TYPE_CHECKING, Any, Literal

import portion  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfglint.craft import Card, Craft, Missing, ModeLink, ModeRange, SwitchCard, Traits
from cfglint.facts.links import LINKS
from cfglint.facts.modes import CONFLICTS, Conflict
from cfglint.kit import build_craft
from cfglint.span import on_line
from cfglint_rules._reach import always, decide, meet, views, within
from cfglint_rules.modes import arming, conflicts, edges, lasting, ranges, self_right

from .crafts import changed, lacks, read, said

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Ends = Literal["half-open", "closed"]
Pair = tuple[int, int]

ENDS = st.sampled_from(["half-open", "closed"])


def rising(low: int, high: int) -> st.SearchStrategy[Pair]:
    bound = st.integers(low, high)
    return st.tuples(bound, bound).filter(lambda pair: pair[0] < pair[1])


def craft_of(
    rows: Iterable[tuple[str, int, float, float]],
    ends: Ends | None = "half-open",
    card: Mapping[str, Any] | None = None,
    settings: Mapping[str, Any] | None = None,
) -> Craft:
    return build_craft(settings, ranges=list(rows), card=card, traits=Traits(range_ends=ends))


def receiver(travel: Pair) -> dict[str, Any]:
    return {"receiver.low_us": float(travel[0]), "receiver.high_us": float(travel[1])}


# ---------------------------------------------------------------- arm and self-right, one channel

PAIRS = st.lists(rising(825, 2129), min_size=1, max_size=3)


def expected(arm: set[Any] | Any, turn: Any, empty: Any) -> tuple[str, str | None, str]:
    """Verdicts of the two rules (the first one's grade too) from any kind of set."""
    if empty in (arm, turn):
        return "not for this craft", None, "not for this craft"
    if arm & turn == empty:
        return "not for this craft", None, "broken"
    # On one channel two modes that meet are never apart.
    return "broken", ("ground" if arm & turn == arm else "fix"), "holds"


def outcomes(craft: Craft) -> tuple[str, str | None, str]:
    rule = self_right.arm_and_self_right_meet
    first = said(rule, craft)
    grade = (first.findings[0].grade or rule.grade) if first.findings else None
    return first.state, grade, said(self_right.self_right_never_armed, craft).state


def one_channel(arms: list[Pair], turns: list[Pair], ends: Ends, travel: Pair) -> Craft:
    rows = [("arm", 5, *pair) for pair in arms] + [("self-right", 5, *pair) for pair in turns]
    return craft_of(rows, ends, receiver(travel))


@given(PAIRS, PAIRS, ENDS, rising(950, 2050))
def test_arm_and_self_right_against_portion(
    arms: list[Pair], turns: list[Pair], ends: Ends, travel: Pair
) -> None:
    make = portion.closedopen if ends == "half-open" else portion.closed
    reach = portion.closed(*travel)

    def held(pairs: list[Pair]) -> portion.Interval:
        return reduce(lambda all_, one: all_ | one, (make(*pair) for pair in pairs)) & reach

    craft = one_channel(arms, turns, ends, travel)
    assert outcomes(craft) == expected(held(arms), held(turns), portion.empty())
    on_for_good = reach in held(arms)
    armed = [f for f in said(lasting.always_on, craft).findings if f.message.startswith("arm ")]
    assert bool(armed) is on_for_good
    assert all(finding.grade == "ground" for finding in armed)


@given(PAIRS, PAIRS, ENDS, rising(950, 2050))
def test_arm_and_self_right_against_every_microsecond(
    arms: list[Pair], turns: list[Pair], ends: Ends, travel: Pair
) -> None:
    def held(pairs: list[Pair]) -> frozenset[float]:
        return frozenset(
            half / 2
            for half in range(2 * travel[0], 2 * travel[1] + 1)
            if any(low <= half / 2 < high or (ends == "closed" and half / 2 == high)
                   for low, high in pairs)
        )  # fmt: skip

    craft = one_channel(arms, turns, ends, travel)
    assert outcomes(craft) == expected(held(arms), held(turns), frozenset())


@pytest.mark.parametrize(("ends", "meets"), [("half-open", False), ("closed", True), (None, None)])
def test_ranges_that_touch_meet_only_where_the_high_end_belongs(
    ends: Ends | None, meets: bool | None
) -> None:
    # Both readings of [1369, 1713] and [1713, 2123] as by portion 2.6: {1713} closed, else empty.
    closed = portion.closed(1369, 1713) & portion.closed(1713, 2123)
    half_open = portion.closedopen(1369, 1713) & portion.closedopen(1713, 2123)
    assert (closed, half_open) == (portion.singleton(1713), portion.empty())
    rows = [("arm", 5, 1369, 1713), ("self-right", 5, 1713, 2123)]
    craft = craft_of(rows, ends, receiver((988, 2012)))
    outcome = said(self_right.self_right_never_armed, craft)
    if meets is None:
        assert lacks(outcome) == ["traits.range_ends"]
    else:
        assert outcome.state == ("holds" if meets else "broken")


# ---------------------------------------------------------------- formulas over several channels

NAMES = ("arm", "self-right", "beacon")
#: Ends are tenths of the scale, so pulses at every half tenth stand for all there are.
TENTHS = list(range(840, 2041, 100))
SWEEP = list(range(840, 2041, 50))


def some_rows() -> st.SearchStrategy[list[tuple[str, int, int, int, str]]]:
    row = st.tuples(
        st.sampled_from(NAMES),
        st.sampled_from([5, 6]),
        st.sampled_from(TENTHS),
        st.sampled_from(TENTHS),
        st.sampled_from(["any", "all"]),
    ).filter(lambda row: row[2] <= row[3])
    return st.lists(row, min_size=1, max_size=7)


def some_links() -> st.SearchStrategy[list[tuple[str, str, str]]]:
    name = st.sampled_from(NAMES)
    return st.lists(st.tuples(name, name, st.sampled_from(["any", "all"])), max_size=4)


def joined(
    rows: list[tuple[str, int, int, int, str]],
    links: list[tuple[str, str, str]],
    ends: Ends,
) -> Craft:
    span = on_line("craft.txt", 1, 0, 1)
    craft = craft_of([], ends, receiver((840, 2040)))
    return changed(
        craft,
        mode_ranges=tuple(
            ModeRange(mode, channel, low, high, join, span, span, span, span)  # type: ignore[arg-type]
            for mode, channel, low, high, join in rows
        ),
        mode_links=tuple(ModeLink(one, two, join, span) for one, two, join in links),  # type: ignore[arg-type]
    )


def on_at(craft: Craft, ends: Ends, pulses: dict[int, int]) -> set[str]:
    """The modes that are on, by the description of the model: links are followed until quiet."""
    on: set[str] = set()
    while True:
        now: set[str] = set()
        for mode in NAMES:
            any_of: list[bool] = []
            all_of: list[bool] = []
            for row in craft.mode_ranges:
                if row.mode == mode:
                    pulse = pulses[row.channel]
                    holds = row.low_us <= pulse < row.high_us
                    holds = holds or (ends == "closed" and row.low_us <= pulse == row.high_us)
                    (any_of if row.join == "any" else all_of).append(holds)
            for link in craft.mode_links:
                if link.mode == mode:
                    (any_of if link.join == "any" else all_of).append(link.follows in on)
            if any(any_of) or (all_of and all(all_of)):
                now.add(mode)
        if now == on:
            return on
        on = now


@given(some_rows(), some_links(), ENDS)
def test_formulas_against_every_pair_of_pulses(
    rows: list[tuple[str, int, int, int, str]], links: list[tuple[str, str, str]], ends: Ends
) -> None:
    craft = joined(rows, links, ends)
    states = [on_at(craft, ends, {5: five, 6: six}) for five, six in product(SWEEP, SWEEP)]
    (view,) = views(craft)
    for one in NAMES:
        assert bool(view.on(one)) is any(one in state for state in states)
        assert always(view.on(one), view) is all(one in state for state in states)
        for two in NAMES:
            assert meet(view.on(one), view.on(two)) is any({one, two} <= state for state in states)
            assert within(view.on(one), view.on(two), view) is all(
                two in state for state in states if one in state
            )


def test_a_ring_of_links_switches_nothing_on_and_ends() -> None:
    craft = build_craft(
        ranges=[("arm", 5, 1740, 2224)],
        links=[("beacon", "log"), ("log", "lights"), ("lights", "beacon"), ("log", "log")],
        traits=Traits(range_ends="half-open"),
    )
    outcome = said(lasting.never_on, craft)
    assert sorted(f.message.split()[0] for f in outcome.findings) == ["beacon", "lights", "log"]
    assert all("never on" in finding.message for finding in outcome.findings)


def test_every_mode_following_every_other_is_no_more_work_than_that() -> None:
    names = [*lasting.LASTING, "self-level", "log", "lights", "video-power"]
    craft = build_craft(
        ranges=[("arm", 5, 1707, 2122)],
        links=[(one, two) for one in names for two in names],
        traits=Traits(range_ends="half-open"),
    )
    assert said(lasting.never_on, craft).state == "holds"


def test_too_many_joined_ranges_are_unknown_not_guessed() -> None:
    span = on_line("craft.txt", 1, 0, 1)
    hundred = [(870 + 11 * step, 874 + 11 * step) for step in range(100)]
    rows = [("arm", 5, *pair) for pair in hundred] + [("beacon", 6, *pair) for pair in hundred]
    craft = changed(
        craft_of(rows),
        mode_links=(ModeLink("log", "arm", "all", span), ModeLink("log", "beacon", "all", span)),
    )
    assert lacks(said(lasting.never_on, craft)) == ["mode ranges"]
    several = tuple(ModeLink("log", f"m{number}", "any", span) for number in range(30))
    ranges = tuple(
        ModeRange(f"m{number}", 7, low, high, "any", span, span, span, span)
        for number in range(30)
        for low, high in [(870 + 11 * step, 874 + number / 9 + 11 * step) for step in range(90)]
    )
    craft = changed(craft_of([]), mode_links=several, mode_ranges=ranges)
    assert "mode ranges" in lacks(said(lasting.never_on, craft))


# ---------------------------------------------------------------- what is not known


def test_an_answer_counts_only_when_it_holds_for_every_assumption() -> None:
    # Overlap within what any link brings, beyond what any brings, and in between.
    for low, state in ((1800, "broken"), (1950, "unknown"), (2050, "unknown")):
        rows = [("self-right", 6, 1226, 2155), ("return-home", 6, low, 2155)]
        assert said(conflicts.conflicting_modes_meet, craft_of(rows)).state == state
    rows = [("self-right", 6, 1226, 1645), ("return-home", 6, 1645, 2155)]
    assert said(conflicts.conflicting_modes_meet, craft_of(rows)).state == "holds"


def test_decide_names_the_fact_on_which_the_answer_hangs() -> None:
    craft = craft_of([("arm", 5, 1710, 1810)], None)
    with pytest.raises(Missing) as found:
        decide(craft, lambda view: view.ends)
    assert found.value.fact == "traits.range_ends"
    with pytest.raises(Missing) as found:
        decide(craft, lambda view: float(view.reach(5).high))
    assert found.value.fact == "receiver.link"
    assert decide(craft, lambda view: 1750 in view.of(craft.mode_ranges[0])) is True


@pytest.mark.parametrize("mode", lasting.LASTING)
def test_always_on_is_unknown_without_a_link_and_decided_with_one(mode: str) -> None:
    wide = craft_of([(mode, 5, 950, 2050)])
    assert lacks(said(lasting.always_on, wide)) == ["receiver.link"]
    linked = craft_of([(mode, 5, 950, 2050)], settings={"receiver.link": "sbus"})
    (finding,) = said(lasting.always_on, linked).findings
    assert finding.grade == lasting.LASTING[mode].grade
    narrow = craft_of([(mode, 5, 1377, 1792)])
    assert said(lasting.always_on, narrow).state == "holds"


@pytest.mark.parametrize(
    "mode", ["self-level", "idle-authority", "motor-stop", "log", "lights", "video-power"]
)
def test_modes_that_are_often_left_on_may_be(mode: str) -> None:
    craft = craft_of([(mode, 5, 763, 2086)], settings={"receiver.link": "sbus"})
    assert said(lasting.always_on, craft).state == "holds"


def test_always_on_over_two_channels() -> None:
    rows = [
        ("beacon", 5, 775, 1500),
        ("beacon", 6, 775, 2181),
    ]
    (finding,) = said(
        lasting.always_on, craft_of(rows, settings={"receiver.link": "crsf"})
    ).findings
    assert "together" in finding.message


# ---------------------------------------------------------------- arm


def test_firmware_that_arms_by_sticks_needs_no_range() -> None:
    craft = build_craft(ranges=[("beacon", 7, 1729, 2156)], traits=Traits(arm_by_sticks=True))
    assert said(arming.arm_missing, craft).state == "not for this craft"
    for trait in (None, False):
        craft = build_craft(traits=Traits(arm_by_sticks=trait))
        outcome = said(arming.arm_missing, craft)
        assert outcome.state == "broken"
        assert arming.arm_missing.grade == "ground"
        assert outcome.findings[0].span == craft.whole


@pytest.mark.parametrize(
    ("needs", "state"), [(True, "broken"), (False, "holds"), (None, "unknown")]
)
def test_a_permit_that_is_not_there_matters_where_it_is_needed(
    needs: bool | None, state: str
) -> None:
    craft = build_craft(
        ranges=[("arm", 5, 1745, 2055)], traits=Traits("half-open", arm_needs_permit=needs)
    )
    outcome = said(arming.permit_missing, craft)
    assert outcome.state == state
    if needs is None:
        assert lacks(outcome) == ["traits.arm_needs_permit"]


def test_rules_about_pairs_leave_a_mode_that_is_never_on_to_its_own_rule() -> None:
    rows = [("arm", 5, 2064, 1728), ("self-right", 6, 1728, 2064), ("arm-permit", 7, 1728, 2064)]
    craft = craft_of(rows)
    for rule in (
        self_right.arm_and_self_right_meet,
        self_right.self_right_never_armed,
        arming.permit_missing,
    ):
        assert said(rule, craft).state == "not for this craft"
    assert said(ranges.empty_range, craft).state == "broken"
    assert said(lasting.never_on, craft).state == "holds"


def test_arm_and_self_right_on_two_switches_may_meet() -> None:
    rows = [("arm", 5, 1718, 2108), ("self-right", 6, 1718, 2108)]
    assert outcomes(craft_of(rows)) == ("holds", None, "holds")


@pytest.mark.parametrize(
    ("ends", "state"), [("half-open", "broken"), ("closed", "holds"), (None, "broken")]
)
def test_a_range_of_one_value(ends: Ends | None, state: str) -> None:
    outcome = said(ranges.empty_range, craft_of([("beacon", 5, 1500, 1500)], ends))
    assert outcome.state == state


# ---------------------------------------------------------------- out of reach


@pytest.mark.parametrize(
    "link",
    [row.id for row in LINKS.values() if row.scaling and row.scaling.lowest_tick is not None],
)
@given(pair=rising(800, 2300), ends=ENDS)
def test_unreachable_against_every_tick_of_the_link(link: str, pair: Pair, ends: Ends) -> None:
    row = LINKS[link]
    scale = row.scaling
    assert scale is not None
    assert scale.lowest_tick is not None
    assert scale.highest_tick is not None
    low, high = pair
    # {crsf}, frame 0x16: µs = (t − 992) · 5/8 + 1500; the others likewise.
    entered = any(
        low <= scale.offset_us + tick * scale.step_us < high
        or (ends == "closed" and scale.offset_us + tick * scale.step_us == high)
        for tick in range(scale.lowest_tick, scale.highest_tick + 1)
    )
    craft = craft_of([("beacon", 6, low, high)], ends, settings={"receiver.link": link})
    outcome = said(ranges.unreachable_range, craft)
    never = [f for f in outcome.findings if "never entered" in f.message]
    assert bool(never) is not entered
    assert all(finding.grade is None for finding in never)
    assert row.usual is not None
    usual_low, usual_high = row.usual.low_us, row.usual.high_us
    usually = low <= usual_high and (high > usual_low or (ends == "closed" and high == usual_low))
    assert (outcome.state == "holds") is (entered and usually)


@pytest.mark.parametrize("link", LINKS)
@pytest.mark.parametrize("channel", [5, 8, 9, 12, 13, 14, 15, 16, 17, 18, 19, 21, 32])
def test_a_range_beyond_the_channels_of_the_link(link: str, channel: int) -> None:
    craft = craft_of([("beacon", channel, 1760, 2140)], settings={"receiver.link": link})
    outcome = said(ranges.unreachable_range, craft)
    carried = LINKS[link].channels
    assert (outcome.state == "broken") is (channel > carried.sure)
    for finding in outcome.findings:
        # Only a published maximum makes this certain.
        sure = carried.mark == "published" and not carried.may_carry(channel)
        assert finding.grade == (None if sure else "advise")
        assert ("is never entered" in finding.message) is sure
    # Whatever the link, a mode that nothing reaches is not always on and meets nothing.
    assert said(lasting.always_on, craft).state in ("holds", "not for this craft")


@pytest.mark.parametrize("link", ["sbus", "fport"])
@pytest.mark.parametrize("channel", [16, 17, 18])
@given(pair=rising(800, 2300), ends=ENDS)
def test_an_on_off_channel_has_two_values_and_nothing_between(
    link: str, channel: int, pair: Pair, ends: Ends
) -> None:
    """{sbus} and {fport}: 17 and 18 are on or off; the µs of either are common practice."""
    low, high = pair
    craft = craft_of([("beacon", channel, low, high)], ends, settings={"receiver.link": link})
    outcome = said(ranges.unreachable_range, craft)

    def holds(value: float) -> bool:
        return low <= value < high or (ends == "closed" and value == high)

    if channel == 16:
        assert (outcome.state == "holds") is any(map(holds, ticks_of(link)))
        return
    assert (outcome.state == "holds") is (holds(987.5) or holds(2011.875))
    never = [finding for finding in outcome.findings if finding.grade is None]
    between = low > 1000 and (high < 2000 or (high == 2000 and ends == "half-open"))
    if between:
        assert never
        assert "only on or off" in never[0].message


def ticks_of(link: str) -> list[float]:
    """Every value, µs, of the usual travel of an 11-bit link."""
    scale = LINKS[link].scaling
    assert scale is not None
    return [scale.offset_us + tick * scale.step_us for tick in range(172, 1812)]


def test_the_ends_of_the_range_matter_where_it_touches_the_travel() -> None:
    rows = [("beacon", 6, 800, 962)]
    travel = receiver((962, 2220))
    for ends, state in (("half-open", "broken"), ("closed", "holds"), (None, "unknown")):
        outcome = said(ranges.unreachable_range, craft_of(rows, ends, travel))  # type: ignore[arg-type]
        assert outcome.state == state


def test_what_cannot_be_told_of_one_range_does_not_keep_the_others_from_being_judged() -> None:
    rows = [("beacon", 14, 1756, 2110), ("log", 6, 800, 958), ("lights", 7, 1804, 2096)]
    outcome = said(ranges.unreachable_range, craft_of(rows, None, receiver((958, 2110))))
    assert (outcome.state, lacks(outcome)) == ("unknown", ["receiver.link", "traits.range_ends"])
    rows.append(("self-level", 8, 2150, 2200))
    outcome = said(ranges.unreachable_range, craft_of(rows, None, receiver((958, 2110))))
    assert [finding.message.split()[3] for finding in outcome.findings] == ["self-level"]
    # An empty range is another rule's finding.
    assert said(ranges.unreachable_range, craft_of([("log", 6, 2000, 1900)])).state == "holds"


def test_the_calibration_is_between_the_link_and_the_range() -> None:
    # Calibrated to 1102-1500-1898, what arrives as 1898 is seen as 2000.
    ends = {"channel.6.low_us": 1102.0, "channel.6.mid_us": 1500.0, "channel.6.high_us": 1898.0}
    rows = [("beacon", 6, 1950, 2097)]
    plain = craft_of(rows, settings={"receiver.link": "dsm"})
    assert [f.grade for f in said(ranges.unreachable_range, plain).findings] == ["advise"]
    calibrated = craft_of(rows, settings={"receiver.link": "dsm", **ends})
    assert said(ranges.unreachable_range, calibrated).state == "holds"
    # Ends out of order are another rule's finding, and are passed over here.
    ends["channel.6.mid_us"] = 900.0
    upset = craft_of(rows, settings={"receiver.link": "dsm", **ends})
    assert [f.grade for f in said(ranges.unreachable_range, upset).findings] == ["advise"]


def test_a_link_whose_ends_no_source_gives_is_taken_by_its_usual_travel() -> None:
    def grades(low: int, high: int) -> list[str | None]:
        craft = craft_of([("beacon", 6, low, high)], settings={"receiver.link": "ibus"})
        return [finding.grade for finding in said(ranges.unreachable_range, craft).findings]

    assert grades(1900, 2085) == []
    assert grades(2050, 2085) == ["advise"]


# ---------------------------------------------------------------- conflicts


@pytest.mark.parametrize("pair", CONFLICTS, ids=lambda pair: f"{pair.one}-{pair.two}")
def test_each_conflict_shows_on_one_switch_and_not_on_two(pair: Conflict) -> None:
    together = craft_of([(pair.one, 6, 1374, 2107), (pair.two, 6, 1685, 2107)])
    (finding,) = said(conflicts.conflicting_modes_meet, together).findings
    assert finding.grade == ("fix" if pair.senseless else "advise")
    assert pair.reason in finding.message
    assert "channel 6 brings 1685 to 2107 µs" in finding.message
    assert "=" in finding.picture
    apart = craft_of([(pair.one, 6, 1685, 2107), (pair.two, 7, 1685, 2107)])
    assert said(conflicts.conflicting_modes_meet, apart).state == "holds"


def test_a_third_switch_does_not_keep_two_modes_apart_that_share_one() -> None:
    craft = read(
        """
        use self-right only while channel 6 in 1687..2230
        use self-right only while channel 7 in 1687..2230
        use return-home while channel 6 in 1687..2230
        """
    )
    (finding,) = said(conflicts.conflicting_modes_meet, craft).findings
    assert "channel 6 brings" in finding.message
    assert "channel 7 brings" in finding.message
    free = read(
        """
        use self-right only while channel 6 in 1687..2230
        use self-right only while channel 7 in 1687..2230
        use return-home only while channel 6 in 1687..2230
        use return-home only while channel 8 in 1687..2230
        """
    )
    assert said(conflicts.conflicting_modes_meet, free).state == "holds"


def test_two_modes_that_are_both_always_on_conflict_all_the_time() -> None:
    rows = [("motor-stop", 6, 919, 2237), ("idle-authority", 7, 919, 2237)]
    craft = craft_of(rows, settings={"receiver.link": "sbus"})
    (finding,) = said(conflicts.conflicting_modes_meet, craft).findings
    assert "all the time" in finding.message


def test_a_picture_is_drawn_to_scale() -> None:
    rows = [("arm", 5, 1500, 2230), ("self-right", 5, 1324, 1696)]
    (finding,) = said(self_right.arm_and_self_right_meet, craft_of(rows)).findings
    head, *lines = finding.picture.split("\n")
    for number in ("800", "1500", "2200"):
        # The last number ends where it belongs, so that it stays within the width.
        column = head.index(number) + (3 if number == "2200" else 0)
        pulse = int(number)
        for line, (_, _, low, high) in zip(lines, rows, strict=True):
            assert (line[column] == "=") is (low <= pulse < high)
    assert [line.split()[0] for line in lines] == ["arm", "self-right"]


# ---------------------------------------------------------------- near an edge


def with_switch(
    rows: Iterable[tuple[str, int, float, float]],
    positions: tuple[float, ...],
    jitter: float,
    ends: Ends | None = "half-open",
    values: Mapping[str, Any] | None = None,
) -> Craft:
    span = on_line("card.toml", 1, 0, 1)
    switch = SwitchCard("K1", 5, positions, (), jitter, False, span, span, (span,) * len(positions))
    card = Card("card.toml", dict(values or {}), (switch,))
    return changed(craft_of(rows, ends), card=card)


@given(
    pair=rising(880, 2130),
    position=st.integers(880, 2130),
    jitter=st.integers(0, 40),
    margin=st.integers(0, 60),
    ends=ENDS,
)
def test_edges_against_every_pulse_that_a_position_may_send(
    pair: Pair, position: int, jitter: int, margin: int, ends: Ends
) -> None:
    low, high = pair
    travel = (850, 2150)

    def states(first: float, last: float, *, ends_belong: bool) -> set[bool]:
        pulses = [half / 2 for half in range(int(2 * first), int(2 * last) + 1)]
        if not ends_belong:
            pulses = pulses[1:-1]
        return {
            low <= pulse < high or (ends == "closed" and pulse == high)
            for pulse in pulses
            if travel[0] <= pulse <= travel[1]
        }

    first, last = position - jitter, position + jitter
    first, last = max(first, travel[0]), min(last, travel[1])
    chatters = len(states(first, last, ends_belong=True)) == 2
    close = len(states(first - margin, last + margin, ends_belong=False)) == 2
    values = {"receiver.low_us": float(travel[0]), "receiver.high_us": float(travel[1])}
    craft = with_switch([("arm", 5, low, high)], (float(position),), jitter, ends, values)
    outcome = said(edges.near_a_range_edge, craft, margin_us=margin)
    grades = [finding.grade for finding in outcome.findings]
    assert grades == (["ground"] if chatters else ["fix"] if close else [])


@pytest.mark.parametrize(
    ("mode", "grades"), [("arm", ("ground", "fix")), ("log", ("fix", "advise"))]
)
def test_how_grave_an_edge_is_depends_on_the_mode(mode: str, grades: tuple[str, str]) -> None:
    for high, grade in ((2002, grades[0]), (2020, grades[1])):
        craft = with_switch([(mode, 5, 1765, high)], (1000.0, 2000.0), 4)
        (finding,) = said(edges.near_a_range_edge, craft).findings
        assert finding.grade == grade


@pytest.mark.parametrize(
    ("low", "high", "advice"),
    [
        (1480, 2120, "about 1250, midway"),  # below the middle: between low and middle
        (1515, 2080, "about 1750, midway"),  # above it: between middle and high
        (1325, 2010, "about 2105, well past"),
        (990, 1275, "about 895, well past"),
    ],
)
def test_the_advice_puts_the_edge_where_it_is_safe(low: int, high: int, advice: str) -> None:
    craft = with_switch([("log", 5, low, high)], (1000.0, 1500.0, 2000.0), 5)
    (finding,) = said(edges.near_a_range_edge, craft).findings
    assert advice in finding.instead
    moved = int(advice.split()[1].rstrip(","))
    better = (low, moved) if high == 2010 else (moved, high)
    craft = with_switch([("log", 5, *better)], (1000.0, 1500.0, 2000.0), 5)
    assert said(edges.near_a_range_edge, craft).state == "holds"


def test_ranges_that_follow_one_another_have_no_edge_between_them() -> None:
    rows = [("log", 5, 1259, 1500), ("log", 5, 1500, 2191)]
    assert said(edges.near_a_range_edge, with_switch(rows, (1000.0, 1500.0), 5)).state == "holds"
    only = with_switch(rows[1:], (1000.0, 1500.0), 5)
    assert said(edges.near_a_range_edge, only).state == "broken"


def test_two_switches_mixed_on_one_channel_count_together() -> None:
    craft = with_switch([("log", 5, 1695, 2127)], (1000.0, 1400.0), 0)
    assert craft.card is not None
    (first,) = craft.card.switches
    second = first._replace(name="K4", positions=(1710.0,), position_spans=())
    craft = changed(craft, card=Card("card.toml", {}, (first, second)))
    (finding,) = said(edges.near_a_range_edge, craft).findings
    assert "K4" in finding.message
    assert said(ranges.unreachable_range, craft).state == "holds"


def test_ends_that_are_not_known_leave_only_a_touching_position_unknown() -> None:
    craft = with_switch([("log", 5, 1785, 2000)], (1000.0, 2000.0), 0, None)
    assert said(edges.near_a_range_edge, craft).findings[0].grade == "advise"
    craft = with_switch([("log", 5, 1785, 1996)], (1000.0, 2000.0), 4, None)
    assert lacks(said(edges.near_a_range_edge, craft)) == ["traits.range_ends"]


def test_a_missing_switch_is_named_once_and_only_where_an_edge_could_be_near() -> None:
    rows = [
        ("arm", 5, 1643, 2185),
        ("log", 5, 1310, 1643),
        ("lights", 6, 904, 2185),
        ("beacon", 4, 1643, 2185),
    ]
    craft = craft_of(rows, settings={"receiver.link": "sbus"})
    assert lacks(said(edges.near_a_range_edge, craft)) == ["switch on channel 5"]


def test_a_position_outside_the_travel_is_judged_where_it_arrives() -> None:
    # {crsf}: nothing above 2120 µs is sent.
    craft = with_switch(
        [("log", 5, 1648, 2119)], (1000.0, 2400.0), 0, values={"receiver.link": "crsf"}
    )
    (finding,) = said(edges.near_a_range_edge, craft).findings
    assert "comes in at 2120 µs" in finding.message


# ---------------------------------------------------------------- where findings stand


def test_ends_that_stand_apart_are_marked_by_their_line() -> None:
    craft = read("use arm while channel 5 in 2084..1737")
    (row,) = craft.mode_ranges
    swapped = row._replace(low_span=row.high_span, high_span=row.low_span)
    craft = changed(craft, mode_ranges=(swapped,))
    (finding,) = said(ranges.empty_range, craft).findings
    assert finding.span == row.span


def test_rules_of_ranges_have_nothing_to_say_without_any() -> None:
    craft = build_craft({"receiver.link": "sbus"})
    for rule in (
        ranges.empty_range,
        ranges.range_on_a_stick,
        ranges.unreachable_range,
        lasting.always_on,
        lasting.never_on,
        edges.near_a_range_edge,
    ):
        assert said(rule, craft).state == "not for this craft"


def test_a_channel_that_may_be_on_off_is_not_taken_to_travel_while_the_link_is_unknown() -> None:
    """{sbus}: on 17 nothing comes between the ends, so both of these are never on together."""
    for channel, facts in ((6, []), (17, ["receiver.link"])):
        rows = [("motor-stop", channel, 1400, 1610), ("idle-authority", channel, 1390, 1620)]
        outcome = said(conflicts.conflicting_modes_meet, craft_of(rows))
        assert lacks(outcome) == facts
        assert (outcome.state == "broken") is (channel == 6)
