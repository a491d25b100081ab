"""What the owner answers, understood or turned down with what to write instead."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cfglint.craft.settings import MODES, SETTINGS, SIGNALS
from cfglint.errors import Problem
from cfglint.teach.answers import neutral_value, understand


def clear(problem: Problem) -> None:
    """It says what is wrong and what to do."""
    assert problem.message
    assert problem.instead


def problem(identity: str, text: str) -> str:
    with pytest.raises(Problem) as caught:
        understand({identity: text})
    assert caught.value.instead
    return str(caught.value)


def test_answers_are_sorted_by_what_they_are_about() -> None:
    told = understand(
        {
            "line motor.signal": " 14 ",
            "value loop.rate_hz": "6400",
            "words mode": "0 = arm, 6 = self-right",
            "range": "channel 5, 1740 to 2160",
            "line log.on": "",
            "value log.on": "?",
        }
    )
    assert told.lines == {"motor.signal": "14"}
    assert told.values == {"loop.rate_hz": "6400"}
    assert told.words == {"mode": {"0": "arm", "6": "self-right"}}
    assert told.range == (5, 1740, 2160)


def test_an_answer_to_nothing_that_was_asked() -> None:
    assert "there is no question `reed`" in problem("reed", "1")
    assert understand({"reed": "?"}).lines == {}


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("5 1740-2160", (5, 1740, 2160)),
        ("Channel 12: from 987.5 .. 2012.5 µs", (12, 987.5, 2012.5)),
        ("ch 7, 870, 1290us", (7, 870, 1290)),
        ("6, 1290–1740", (6, 1290, 1740)),
        ("none", None),
        ("No Line", None),
        ("?", None),
    ],
)
def test_ranges(text: str, meant: Any) -> None:
    assert understand({"range": text}).range == meant


def test_no_range() -> None:
    assert "is no range" in problem("range", "whenever the tide is in")
    assert "channel 9, 1760 to 2140" in problem("range", "about 1740 to 2160")


def test_a_range_without_its_channel() -> None:
    assert "is no range" in problem("range", "1740 to 2160")


def test_words_are_pairs() -> None:
    told = understand({"words mode": '"3" = arm; 4=turtle\n5 = ?, 6 = unknown,, 7 ='})
    assert told.words["mode"] == {"3": "arm", "4": "self-right"}
    ports = understand({"words port.N.functions": "0 = nothing, 1 = receiver"})
    assert ports.words["port.N.functions"] == {"0": "nothing", "1": "receiver"}
    bauds = understand({"words port.N.baud": "4 = 115200"})
    assert bauds.words["port.N.baud"] == {"4": "115200"}


def test_words_that_are_none() -> None:
    assert "pairs" in problem("words mode", "arm")
    text = problem("words mode", "3 = paddling")
    assert "is no mode" in text
    assert "arm" in text
    assert "is no value of motor.signal" in problem("words motor.signal", "3 = dshot870")


@pytest.mark.parametrize(
    ("name", "text", "meant"),
    [
        ("log.on", "Yes", True),
        ("log.on", "0", False),
        ("loop.rate_hz", "6400 Hz", 6400),
        ("failsafe.delay_s", "0.5", 0.5),
        ("battery.cells", "4", 4),
        ("motor.signal", "DSHOT600", "dshot600"),
        ("motor.signal", "digital 300", "dshot300"),
        ("port.N.functions", "gps, telemetry", frozenset({"gps", "telemetry"})),
        ("port.N.functions", "nothing", frozenset()),
        ("craft.name", '"Avocet"', "Avocet"),
        ("receiver.channel_order", "AETR", "AETR"),
        ("failsafe.action", "unknown", ""),
    ],
)
def test_values_in_neutral_words(name: str, text: str, meant: Any) -> None:
    assert neutral_value(name, text) == meant


@pytest.mark.parametrize(
    ("name", "text", "say"),
    [
        ("log.on", "sometimes", "yes or no"),
        ("loop.rate_hz", "fast", "a number in Hz"),
        ("battery.cells", "many", "a number"),
        ("battery.full_v", "42", "0 to 6 V"),
        ("motor.poles", "0", "2 to 60"),
        ("motor.signal", "morse", "dshot600"),
        ("port.N.functions", "gps, morse", "morse"),
    ],
)
def test_values_that_cannot_be(name: str, text: str, say: str) -> None:
    with pytest.raises(Problem) as caught:
        neutral_value(name, text)
    assert say in str(caught.value)


kinds = st.sampled_from(["line", "value", "words", "range", "reed", ""])
subjects = st.sampled_from(["", "mode", "range", "reed", *SETTINGS])
texts = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        ["none", "nothing", "0 = arm", "5", "a.txt:5", "yes", "channel 5, 870 to 1290"]
    ),
    st.lists(st.sampled_from([*SIGNALS, *MODES]), max_size=3).map(", ".join),
)


@given(
    st.dictionaries(st.builds("{} {}".format, kinds, subjects).map(str.strip), texts, max_size=4)
)
@example({"words mode": "=arm"})
def test_any_answers_at_all(answers: dict[str, str]) -> None:
    try:
        told = understand(answers)
    except Problem as wrong:
        clear(wrong)
        return
    assert set(told.words.get("mode", {}).values()) <= set(MODES)


@given(st.sampled_from(sorted(SETTINGS)), texts)
def test_any_value_at_all(name: str, text: str) -> None:
    try:
        meant = neutral_value(name, text)
    except Problem as wrong:
        clear(wrong)
        return
    kind = SETTINGS[name].kind
    assert isinstance(meant, {"flag": bool, "words": frozenset}.get(kind, (float, str)))
