"""What is advised works: each cure of each seeded fault is applied, and the dump checked again.

A sample, spread over all settings; `benchmarks/cures.py` goes through every fault.
"""

from __future__ import annotations

import pytest

from .seeded import SECOND, Bench, complaints

#: One fault of so many is tried here.
STEP = 24


@pytest.mark.parametrize("craft", ["avocet", "curlew", "egret"])
def test_advice_cures_and_harms_nothing(craft: str) -> None:
    """One craft for each dialect."""
    bench = Bench(craft)
    faults = list(bench.faults())[::STEP]
    assert len(faults) > 10
    found = 0
    for fault in faults:
        assert list(complaints(bench, fault)) == []
        found += sum(len(one.found) for one in bench.check(fault.text).verdicts)
    assert found > len(faults) // 3  # many of them are faults indeed


@pytest.mark.parametrize("craft", ["bittern", "curlew", "plover"])
def test_advice_where_the_card_says_otherwise(craft: str) -> None:
    bench = Bench(craft)
    faults = list(bench.card_faults())[::STEP]
    assert len(faults) > 5
    for fault in faults:
        assert list(complaints(bench, fault)) == []


@pytest.mark.parametrize(
    ("craft", "what"),
    [
        # What the sticks become on a lost link goes where the sticks go.
        ("egret", "the card says transmitter.channel_order = TAER"),
        ("godwit", "the card says transmitter.channel_order = AETR"),
        # A line of two flags for one wire, and of a speed that is too slow for two ways.
        ("curlew", "the card says receiver.link = crsf-one-wire"),
        # A position that wanders beyond its edge, and one that leaves no room for any.
        ("egret", "K1 wanders far"),
        ("curlew", "right front wanders far"),
        # A card that has the receiver in two places, and a link of little travel.
        ("plover", "the card says receiver.port = 4"),
        ("curlew", "the card says receiver.low_us = 1350"),
    ],
)
def test_what_a_cure_once_brought_with_it(craft: str, what: str) -> None:
    bench = Bench(craft)
    (fault,) = (one for one in bench.card_faults() if one.what == what)
    assert any(verdict.found for verdict in bench.check(fault.text, fault.card).verdicts)
    assert list(complaints(bench, fault)) == []


def test_a_second_thing_wrong_is_no_fault_of_the_cure() -> None:
    """And only what is listed as such: the measure can fail."""
    bench = Bench("bittern")
    fault = next(one for one in bench.card_faults() if one.what.endswith("receiver.link = sbus"))
    assert list(complaints(bench, fault)) == []
    kept = SECOND.pop(("receiver/link-differs-from-card", "receiver/port-shared"))
    try:
        (told,) = complaints(bench, fault)
    finally:
        SECOND["receiver/link-differs-from-card", "receiver/port-shared"] = kept
    assert kept[0] in told


@pytest.mark.parametrize("craft", ["avocet", "curlew", "egret"])
def test_the_craft_is_sound_to_begin_with(craft: str) -> None:
    bench = Bench(craft)
    checked = bench.check(bench.source.text)
    assert not any(verdict.found for verdict in checked.verdicts)
