"""What the owner says, in the draft; and what is still asked."""

from __future__ import annotations

from typing import Any

import pytest

from cfglint.dialect import read_craft
from cfglint.errors import Problem
from cfglint.teach import teach

from .samples import USUAL, asked, craft_of, guess, line, read, source, taught, values

TEXT = (
    USUAL
    + """\
esc_protocol = 6
hum = 250
pace = 6
cell_full = 42
cell_low = 35
spin = 5
out_of_air = 2
diary = 1
nick = Avocet
ear = 3
ear_turned = normal
plug1_task = 3
plug2_task = 4
plug3_task = 0
"""
)


def told(**answers: str) -> dict[str, Any]:
    """What a draft reads after answers; keys are a kind and a setting, `__` for the dot."""
    named = {key.replace("___", " ").replace("__", "."): text for key, text in answers.items()}
    return read(TEXT, named)


def problem(identity: str, text: str) -> str:
    with pytest.raises(Problem) as caught:
        taught(TEXT, {identity: text})
    assert caught.value.instead
    return str(caught.value)


# ---------------------------------------------------------------- lines


def test_a_line_is_named_by_number_name_or_text() -> None:
    for answer in (line(TEXT, "hum"), "hum", "`hum`", "hum = 250"):
        said = read(TEXT, {"line loop.rate_hz": answer})
        assert said["loop.rate_hz"] in (4000, 250)
    draft = taught(TEXT, {"line loop.rate_hz": "hum"})
    found = guess(draft, "loop.rate_hz")
    assert found is not None
    assert found.confidence == 1
    assert "named by the owner" in found.reason


def test_of_several_samples_a_line_is_named_with_its_file() -> None:
    files = [source(TEXT, "a.txt"), source(TEXT.replace("hum", "purr"), "b.txt")]
    draft = teach(files, {"line loop.rate_hz": f"b.txt:{line(TEXT, 'hum')}"})
    assert read_craft(files[1], draft.dialect).get("loop.rate_hz").known
    assert not read_craft(files[0], draft.dialect).get("loop.rate_hz").known


def test_no_line_sets_it() -> None:
    assert "battery.full_v" in read(TEXT)
    draft = taught(TEXT, {"line battery.full_v": "none"})
    assert "battery.full_v" not in values(draft, TEXT)
    assert asked(draft, "line battery.full_v") is None


def test_a_line_that_is_none() -> None:
    assert "is no line of the samples" in problem("line loop.rate_hz", "sandpiper")
    assert "is no line of the samples" in problem("line loop.rate_hz", "900")
    # A single line sets no setting that is numbered.
    text = f"{TEXT}\nwhistle\n"
    assert "loop.rate_hz" not in read(text, {"line loop.rate_hz": line(text, "whistle")})
    # A setting that there is not is nothing to name a line for.
    assert read(TEXT, {"line sandpiper": "hum"}) == read(TEXT)


def test_a_line_of_a_form_that_sets_something_else() -> None:
    """Lines taken for ports, of which one is something else: then none of them are."""
    text = USUAL + "port 1 receiver 115200\nport 2 gps 57600\nrx_port = 1\n"
    assert read(text)["port.1.baud"] == 115200
    said = read(text, {"line video.frequency_mhz": line(text, "port 2")})
    assert not any(name.startswith("port.") for name in said)
    same = read(text, {"line port.N.baud": line(text, "port 2")})
    assert same["port.1.baud"] == 115200


def test_a_name_for_words_that_nobody_knows() -> None:
    draft = taught(TEXT, {"line failsafe.action": "nick"})
    assert "failsafe.action" not in values(draft, TEXT)  # what it says nobody knows yet
    assert asked(draft, "value failsafe.action") is not None
    both = {"line failsafe.action": "nick", "value failsafe.action": "stop"}
    assert read(TEXT, both)["failsafe.action"] == "stop"


def test_a_number_that_cannot_be_meant_is_not_read() -> None:
    draft = taught(TEXT, {"line battery.cells": "hum"})
    assert values(draft, TEXT, sure=True).get("battery.cells") is None


def test_families_are_named_by_one_of_their_lines() -> None:
    answers = {
        "line port.N.functions": "plug1_task",
        "words port.N.functions": "3 = receiver, 4 = gps, 0 = nothing",
    }
    said = read(TEXT, answers)
    assert said["port.1.functions"] == frozenset({"receiver"})
    assert said["port.2.functions"] == frozenset({"gps"})
    assert said["port.3.functions"] == frozenset()


# ---------------------------------------------------------------- values


@pytest.mark.parametrize(
    ("setting", "name", "answer", "meant"),
    [
        ("loop.rate_hz", "hum", "4000", 4000),
        ("loop.rate_hz", "pace", "6000", 6000),
        ("loop.rate_hz", "hum", "500", 500),
        ("battery.full_v", "cell_full", "4.2", 4.2),
        ("motor.idle_percent", "spin", "5", 5),
        ("motor.idle_percent", "spin", "0.5", 0.5),
        ("motor.idle_percent", "spin", "2.5", 2.5),
        ("motor.signal", "esc_protocol", "dshot300", "dshot300"),
        ("failsafe.action", "out_of_air", "land", "descend"),
        ("log.on", "diary", "yes", True),
        ("log.on", "diary", "no", False),
        ("craft.name", "nick", "Avocet", "Avocet"),
        ("craft.name", "nick", "Marsh Avocet", "Marsh Avocet"),
        ("receiver.port", "ear", "3", 3),
        ("receiver.port", "ear", "4", 4),
        ("receiver.port", "ear", "1", 1),
        ("receiver.inverted", "ear_turned", "no", False),
        ("receiver.inverted", "ear_turned", "yes", True),
        ("receiver.inverted", "nick", "yes", True),
        ("battery.cells", "pace", "6", 6),
        ("battery.cells", "pace", "4", 4),
        ("motor.poles", "pace", "14", 14),
        ("receiver.baud", "ear", "115200", 115200),
        ("video.power_mw", "spin", "200", 200),
        ("video.frequency_mhz", "spin", "5800", 5800),
        ("loop.rate_hz", "nick", "6000", 6000),
    ],
)
def test_one_value_explained(setting: str, name: str, answer: str, meant: Any) -> None:
    said = read(TEXT, {f"line {setting}": name, f"value {setting}": answer})
    assert said[setting] == meant


def test_the_same_unit_holds_for_another_craft() -> None:
    draft = taught(TEXT, {"line loop.rate_hz": "hum", "value loop.rate_hz": "4000"})
    other = TEXT.replace("hum = 250", "hum = 160")
    assert values(draft, other)["loop.rate_hz"] == 6250
    turned = taught(TEXT, {"line receiver.inverted": "ear_turned", "value receiver.inverted": "no"})
    other = TEXT.replace("ear_turned = normal", "ear_turned = inverted")
    assert values(turned, other)["receiver.inverted"] is True


def test_an_answer_that_fits_two_units_leaves_it_open() -> None:
    text = USUAL + "loop_rate = 1000\n"
    draft = taught(text, {"value loop.rate_hz": "1000"})
    assert values(draft, text)["loop.rate_hz"] == 1000
    assert values(draft, text, sure=True).get("loop.rate_hz") is None


def test_a_line_that_does_not_set_it_at_all() -> None:
    draft = taught(TEXT, {"value battery.full_v": "none"})
    assert "battery.full_v" not in values(draft, TEXT)


@pytest.mark.parametrize(
    ("setting", "answer", "say"),
    [
        ("battery.full_v", "brimming", "a number in V"),
        ("motor.signal", "morse", "dshot600"),
        ("log.on", "sometimes", "yes or no"),
    ],
)
def test_a_value_that_cannot_be_meant(setting: str, answer: str, say: str) -> None:
    with pytest.raises(Problem) as caught:
        taught(
            USUAL + "cell_full = 42\nesc_protocol = 6\nlog_on = 1\n", {f"value {setting}": answer}
        )
    assert say in str(caught.value)


def test_not_known_is_no_answer() -> None:
    for answer in ("?", "unknown", ""):
        draft = taught(TEXT, {"value motor.signal": answer})
        assert "motor.signal" not in values(draft, TEXT)


def test_words_explained() -> None:
    assert read(TEXT, {"words motor.signal": "6 = dshot300"})["motor.signal"] == "dshot300"
    text = USUAL + "failsafe_action = wheesh\n"
    assert read(text, {"words failsafe.action": "wheesh = hold"})["failsafe.action"] == "hold-last"
    text = USUAL + "port1_use = rx\nport2_use = wheesh\nport3_use = none\n"
    draft = taught(text)
    question = asked(draft, "words port.N.functions")
    assert question is not None
    assert question.words == ("wheesh",)
    words = {"words port.N.functions": "wheesh = camera-control"}
    assert read(text, words)["port.2.functions"] == frozenset({"camera-control"})


# ---------------------------------------------------------------- what belongs together


def test_a_warning_below_empty_is_none() -> None:
    text = USUAL + "cell_warn_volts = 3.2\ncell_alarm_volts = 3.5\ncell_max_volts = 4.2\n"
    said = read(text)
    if {"battery.warn_v", "battery.empty_v"} <= set(said):
        assert said["battery.empty_v"] < said["battery.warn_v"] < said["battery.full_v"]


def test_what_stands_the_wrong_way_round_is_exchanged_and_less_sure() -> None:
    text = USUAL + "stick_low = 1900\nstick_high = 1100\n"
    plain = guess(taught(USUAL + "stick_low = 1100\nstick_high = 1900\n"), "stick.low_us")
    said = read(text)
    assert not said or said["stick.low_us"] < said["stick.high_us"]
    assert plain is not None


def test_neighbours_that_are_written_alike_settle_a_unit() -> None:
    text = USUAL + "cell_full_mv = 4200\ncell_warn = 3500\ncell_empty = 3300\n"
    draft = taught(text)
    assert values(draft, text, sure=True)["battery.full_v"] == 4.2
    assert values(draft, text)["battery.warn_v"] == 3.5


@pytest.mark.parametrize(("first", "port"), [(0, 2), (1, 1)])
def test_ports_are_counted_alike_throughout(first: int, port: int) -> None:
    rows = "".join(f"serial{n}_use = gps\n" for n in range(first, first + 3))
    said = read(USUAL + rows + "rx_port = 1\n")
    assert said["receiver.port"] == port


def test_a_numbered_line_counts_as_its_kind_does() -> None:
    rows = "".join(f"ch{n}_min = 1000\nch{n}_max = 2000\n" for n in range(4))
    loss = "".join(f"failsafe {n} hold\n" for n in (1, 2, 3))
    said = read(USUAL + rows + loss)
    assert [n for n in range(1, 6) if f"failsafe.channel.{n}" in said] == [2, 3, 4]


def test_sentences_set_one_thing_each() -> None:
    text = (
        USUAL
        + """\
The motor signal is dshot600 for now
Wait 0.5 seconds after losing the link before failsafe acts
The receiver sits on port 2 all the while
"""
    )
    draft = taught(text)
    said = values(draft, text)
    assert said["motor.signal"] == "dshot600"
    assert said["receiver.port"] == 2
    rows = list(craft_of(draft, text).misread)
    assert not rows


def test_a_value_with_its_unit() -> None:
    text = USUAL + "failsafe delay = 0.5 s\nvideo power = 25 mW\nrx link = sbus now\n"
    said = read(text)
    assert said == {} or said.get("failsafe.delay_s", 0.5) == 0.5


# ---------------------------------------------------------------- questions


def test_what_matters_most_is_asked_first_and_with_its_lines() -> None:
    draft = taught(TEXT)
    weights = [question.weight for question in draft.questions]
    assert weights == sorted(weights, reverse=True)
    signal = asked(draft, "value motor.signal")
    assert signal is not None
    assert signal.shown[0].text == "esc_protocol = 6"
    assert signal.shown[0].name == "esc_protocol"
    assert "ESC" in signal.text


def test_an_answer_closes_its_question() -> None:
    answers: dict[str, str] = {}
    for _ in range(40):
        draft = taught(TEXT, answers)
        if not draft.questions:
            break
        first = draft.questions[0]
        assert first.id not in answers
        answers[first.id] = {"line": "none", "value": "none", "range": "none"}.get(
            first.kind, "0 = ?"
        )
    else:
        pytest.fail("the dialogue does not end")
    assert taught(TEXT, answers).text


def test_a_setting_that_may_be_in_two_lines_is_asked_about() -> None:
    text = USUAL + "motor_low = 1058\nmotor_min = 1046\n"
    draft = taught(text)
    question = asked(draft, "line motor.pulse_min_us")
    found = guess(draft, "motor.pulse_min_us")
    assert found is not None
    assert question is not None or not found.sure
    if question is not None:
        assert len(question.shown) >= 2


def test_a_draft_says_who_came_second() -> None:
    text = USUAL + "failsafe_pause = 0.5\nfailsafe_wait = 0.4\n"
    found = guess(taught(text), "failsafe.delay_s")
    assert found is not None
    assert found.rival
    assert f"Runner-up: {found.rival}" in taught(text).text
