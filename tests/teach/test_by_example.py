"""Teaching by example: what a person points at is read, and an answer never harms."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cfglint.dump.source import Source
from cfglint.teach import changed, sheet
from cfglint.teach.encoding import codecs, same
from cfglint.teach.proof import read
from cfglint.teach.taught import teach

#: Saltmarsh Survey Club: words that nobody could guess.
FIRST = """\
Plover sheet, keel 7.3
zurl kk3 puls
grund 52
harken aan ; twist uit
gat 1 doet praatlijn snel 9600
gat 2 doet oor snel 115200
hendel 6 van 1310 tot 1790 dan klapwiek
hendel 7 van 1612 tot 2044 dan vlakhand
"""
SECOND = (
    FIRST.replace("kk3", "kk8")
    .replace("grund 52", "grund 61")
    .replace("2 doet oor snel 115200", "3 doet oor snel 57600")
    .replace("1310 tot 1790", "1204 tot 1688")
)
TRUE = {
    "find motor.signal": "2: kk3 => dshot300",
    "word motor.signal kk8": "dshot600",
    "find motor.idle_percent": "3: 52 => 5.2",
    "find port.1.functions": "5: praatlijn => console",
    "find port.2.functions": "6: oor => receiver",
    "find port.1.baud": "5: 9600",
    "rows range": "7: arm 6 1310 1790; 8: self-level 7 1612 2044",
}


def _sources() -> list[Source]:
    return [
        Source.from_bytes("one.txt", FIRST.encode()),
        Source.from_bytes("two.txt", SECOND.encode()),
    ]


def _values(answers: dict[str, str]) -> list[dict[str, object]]:
    draft = teach(_sources(), "plover", answers=sheet.answers_of(answers))
    out = []
    for reader in read(_sources(), draft.data):
        found: dict[str, object] = {name: one.value for name, one in reader.values.items()}
        found.update({f"{r.mode} {r.channel}": (r.low_us, r.high_us) for r in reader.ranges})
        out.append(found)
    return out


def test_what_is_pointed_at_is_read_in_every_sample() -> None:
    one, two = _values(TRUE)
    assert one["motor.signal"] == "dshot300"
    assert two["motor.signal"] == "dshot600"
    assert (one["motor.idle_percent"], two["motor.idle_percent"]) == (5.2, 6.1)
    assert one["port.2.functions"] == two["port.3.functions"] == frozenset({"receiver"})
    assert two["port.3.baud"] == 57600
    assert (one["arm 6"], two["arm 6"]) == ((1310, 1790), (1204, 1688))
    assert two["self-level 7"] == (1612, 2044)


def _right(answers: dict[str, str]) -> int:
    whole = _values(TRUE)
    mine = _values(answers)
    return sum(
        one.get(name) == value
        for one, true in zip(mine, whole, strict=True)
        for name, value in true.items()
    )


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.sampled_from(sorted(TRUE)), unique=True))
def test_true_answers_never_lower_what_is_right(keys: list[str]) -> None:
    fewer = {key: TRUE[key] for key in keys[1:]}
    assert _right({key: TRUE[key] for key in keys}) >= _right(fewer)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(sorted(TRUE)), st.text(max_size=30))
def test_any_text_as_an_answer_is_taken_or_asked_again(key: str, text: str) -> None:
    found, _ = sheet.parse(f"{key} = {text}")
    teach(_sources(), "plover", answers=sheet.answers_of({**found, key: text}))


def test_an_answer_at_the_wrong_line_is_asked_again() -> None:
    answers = sheet.answers_of({"find motor.idle_percent": "4: 52 => 5.2"})
    assert "motor.idle_percent" in teach(_sources(), "plover", answers=answers).reopened


def test_the_sheet_with_examples_reads_back() -> None:
    draft = teach(_sources(), "plover")
    text = sheet.text(draft.questions, TRUE)
    found, wrong = sheet.parse(text)
    assert (found, wrong) == (TRUE, [])


def test_short_names_stand_for_settings_of_the_line() -> None:
    found, _ = sheet.parse("finds port = 2.functions = 6: oor => receiver, 2.baud = 6: 115200")
    assert found == {
        "find port.2.functions": "6: oor => receiver",
        "find port.2.baud": "6: 115200",
    }


def test_two_dumps_that_differ_in_one_setting_tell_its_words() -> None:
    one = Source.from_bytes("one.txt", FIRST.encode())
    two = Source.from_bytes("two.txt", FIRST.replace("kk3", "kk8").encode())
    draft = teach([one, two], "plover", changed=("motor.signal", "dshot300", "dshot600"))
    values = [reader.values["motor.signal"] for reader in read([one, two], draft.data)]
    assert [(value.value, value.sure) for value in values] == [
        ("dshot300", True),
        ("dshot600", True),
    ]


def test_dumps_that_differ_in_more_are_refused() -> None:
    with pytest.raises(changed.Unclear, match="more than one line"):
        changed.difference(*_sources())


@pytest.mark.parametrize(
    ("name", "pairs", "keys"),
    [
        ("battery.full_v", [("4.21", 4.21)], {}),
        ("battery.full_v", [("421", 4.21)], {"scale": 0.01}),
        ("loop.rate_hz", [("250", 4000.0)], {"over": 1000000}),
        ("receiver.port", [("1", 2)], {"first": 0}),
        ("motor.pulse_min_us", [("0x0419", 1049.0)], {"base": 16}),
    ],
)
def test_how_values_are_written_is_found_from_one(
    name: str, pairs: list[tuple[str, object]], keys: dict[str, object]
) -> None:
    assert codecs(name, pairs, {}, {})[0] == keys


def test_numbers_are_the_same_within_their_rounding() -> None:
    assert same(4000.0, 3999.0)
    assert not same(True, 1)
