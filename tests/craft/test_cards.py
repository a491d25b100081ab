"""Hardware cards: typed values, located lazily, every mistake named where it stands."""

from __future__ import annotations

from typing import Any

import pytest

from cfglint.craft import Missing
from cfglint.craft.card import FIELDS
from cfglint.craft.cards import read_card
from cfglint.errors import Problem, Problems
from cfglint.span import Span

CARD = """\
craft = "Avocet"
[airframe]
motors = 4
kind = "stabilised"
[esc]
signals = ["dshot600", "dshot300"]
two_way = true
firmware = "3.60"
firmware_order = "decimal"
pulse_min_us = 1000
pulse_max_us = 2000
[receiver]
link = "sbus"
port = 2
rate_hz = 71.5
low_us = 988
high_us = 2012
[transmitter]
channel_order = "AETR"
low_us = 988
centre_us = 1500
high_us = 2012
jitter_us = 0.5
[port.2]
inverter = "switchable"
wired = "receiver"
[port.11]
wired = "lamp"
[[switch]]
name = "K1"
names = ["up", "down"]
channel = 5
positions_us = [1000, 2000.5]
jitter_us = 4
[[switch]]
name = "K4"
channel = 6
positions_us = [
  1000,
  1500,
  2000,
]
momentary = true
"""


def mistakes(text: str) -> list[str]:
    with pytest.raises(Problem) as caught:
        read_card("cards/avocet.toml", text.encode())
    error = caught.value
    return [str(one) for one in (error.each if isinstance(error, Problems) else (error,))]


def test_values_are_typed() -> None:
    card = read_card("cards/avocet.toml", CARD.encode())
    assert card.file == "cards/avocet.toml"
    assert card.values == {
        "craft": "Avocet",
        "airframe.motors": 4,
        "airframe.kind": "stabilised",
        "esc.signals": frozenset({"dshot300", "dshot600"}),
        "esc.two_way": True,
        "esc.firmware": "3.60",
        "esc.firmware_order": "decimal",
        "esc.pulse_min_us": 1000.0,
        "esc.pulse_max_us": 2000.0,
        "receiver.link": "sbus",
        "receiver.port": 2,
        "receiver.rate_hz": 71.5,
        "receiver.low_us": 988.0,
        "receiver.high_us": 2012.0,
        "transmitter.channel_order": "AETR",
        "transmitter.low_us": 988.0,
        "transmitter.centre_us": 1500.0,
        "transmitter.high_us": 2012.0,
        "transmitter.jitter_us": 0.5,
        "port.2.inverter": "switchable",
        "port.2.wired": "receiver",
        "port.11.wired": "lamp",
    }
    assert type(card.values["esc.pulse_min_us"]) is float


def test_values_carry_spans() -> None:
    card = read_card("c.toml", CARD.encode())
    found = card.need("port.2.inverter")
    assert (found.value, found.origin) == ("switchable", "set")
    assert found.span == Span("c.toml", 25, 12, 25, 24)
    assert card.get("esc.reverses").origin == "missing"
    with pytest.raises(Missing, match=r"`esc.reverses` in the hardware card"):
        card.need("esc.reverses")
    assert card.locate is not None
    assert card.locate("esc.reverses") is None


def test_spans_are_looked_for_only_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    from cfglint import tomltext

    def never(self: object) -> None:
        raise AssertionError("scanned without need")

    monkeypatch.setattr(tomltext._Scanner, "run", never)
    card = read_card("c.toml", CARD.partition("[[switch]]")[0].encode())
    assert card.values["airframe.motors"] == 4
    with pytest.raises(AssertionError, match="without need"):
        card.need("airframe.motors")


def test_switches() -> None:
    first, second = read_card("c.toml", CARD.encode()).switches
    assert first[:6] == ("K1", 5, (1000.0, 2000.5), ("up", "down"), 4.0, False)
    assert first.span == Span("c.toml", 29, 1, 29, 11)
    assert first.channel_span == Span("c.toml", 32, 11, 32, 12)
    assert first.position_spans[1] == Span("c.toml", 33, 23, 33, 29)
    assert second[:6] == ("K4", 6, (1000.0, 1500.0, 2000.0), (), 0.0, True)
    assert [span.line for span in second.position_spans] == [39, 40, 41]


def test_an_empty_card_says_nothing() -> None:
    card = read_card("c.toml", b"")
    assert (card.values, card.switches) == ({}, ())


@pytest.mark.parametrize("name", FIELDS)
def test_every_field_is_taken_and_its_type_checked(name: str) -> None:
    field = FIELDS[name]
    head, _, key = name.replace("N", "3").rpartition(".")
    right: dict[str, Any] = {
        "word": f'"{field.words[-1]}"' if field.words else "",
        "words": str(list(field.words)),
        "flag": "true",
        "count": "3",
        "number": "500" if field.unit == "µs" else "1.5",
        "text": '"AETR"',
    }
    value = read_card("c.toml", f"[{head}]\n{key} = {right[field.kind]}".encode()).values
    assert list(value) == [name.replace("N", "3")]
    wrong = "3" if field.kind not in ("count", "number") else '"3"'
    (message,) = mistakes(f"[{head}]\n{key} = {wrong}")
    assert message.startswith(f"cards/avocet.toml:2:{len(key) + 4}: `{head}.{key}` must be ")


SWITCH = '[[switch]]\nname = "K1"\nchannel = 5\npositions_us = [1000, 2000]\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[airframe]\nmotors = 0", "2:10: `airframe.motors` is `0` (how many motors"),
        ('[esc]\nsignal = "x"', "2:1: `signal` means nothing in `esc`; did you mean `signals`?"),
        ('[esc]\nsignals = ["dshot30"]', "2:12: `dshot30` is no word for `esc.signals[1]`"),
        ("[esc]\nsignals = []", "2:11: `esc.signals` has 0 items"),
        (
            "[esc]\nfirmware = 3.60",
            "2:12: `esc.firmware` must be a text, not `3.6`; "
            "write the ESC firmware's version in quotes",
        ),
        ("[esc]\nfirmware = ' '", "2:12: `esc.firmware` is blank"),
        ("[recievers]\n", "1:2: `recievers` means nothing here; did you mean `receiver`?"),
        (
            "[transmitter]\nchannel_order = 'AERR'",
            "2:17: `transmitter.channel_order` is `AERR`, which must hold A (roll)",
        ),
        ("[transmitter]\njitter_us = -1", "2:13: `transmitter.jitter_us` is `-1`"),
        ("[transmitter]\nlow_us = 400", "2:10: `transmitter.low_us` is `400`"),
        ("[receiver]\nrate_hz = 0", "2:11: `receiver.rate_hz` is `0`"),
        ("[port.0]\n", "1:7: `0` is no port's number; ports are counted from 1"),
        ("[port.two]\n", "1:7: `two` is no port's number"),
        ("[port.02]\n", "1:7: `02` is no port's number"),
        ("[port.2]\ninverter = 'maybe'", "2:12: `maybe` is no word for `port.2.inverter`"),
        (
            "[receiver]\nlow_us = 2012\nhigh_us = 988",
            "2:10: `receiver.low_us` is 2012 µs, not below `receiver.high_us` at 988 µs",
        ),
        (SWITCH.replace('"K1"', '""'), "2:8: `switch[1].name` is blank"),
        (SWITCH + "names = ['up']", "1:1: `switch[1]` names 1 of its 2 positions"),
        (SWITCH + "names = ['up', 'up']", "5:9: `switch[1].names` holds `up` twice"),
        (SWITCH + "jitter_us = -4", "5:13: `switch[1].jitter_us` is `-4`"),
        (SWITCH.replace("2000", "2501"), "4:23: `switch[1].positions_us[2]` is `2501`"),
        (SWITCH.replace("2000", "499"), "4:23: `switch[1].positions_us[2]` is `499`"),
        (SWITCH.replace("2000", "1000"), "4:16: `switch[1].positions_us` holds `1000` twice"),
        (SWITCH.replace(", 2000", ""), "4:16: `switch[1].positions_us` has 1 item"),
        (SWITCH.replace("channel = 5", ""), "1:1: the table `switch[1]` lacks `channel`"),
        (SWITCH.replace("= 5", "= 0"), "3:11: `switch[1].channel` is `0`"),
        (
            SWITCH + SWITCH.replace("K1", "K4"),
            "7:11: switches `K1` (line 3) and `K4` are both on channel 5",
        ),
        (
            SWITCH + SWITCH.replace("= 5", "= 6"),
            "6:8: two switches are called `K1` (the other on line 1)",
        ),
        ('[switch]\nname = "K1"', "1:1: `switch` must be a list of tables, not a table"),
        ("craft = ''", "1:9: `craft` is blank"),
        ("craft = [", "1:10: this is not TOML"),
    ],
)
def test_one_mistake(text: str, message: str) -> None:
    (found,) = mistakes(text)
    assert found.startswith("cards/avocet.toml:" + message)


def test_sticks_out_of_order_are_said_once_a_pair() -> None:
    found = mistakes("[transmitter]\nlow_us = 2000\ncentre_us = 1500\nhigh_us = 1000")
    assert [line.split(" at ")[0].split(": ")[1] for line in found] == [
        "`transmitter.low_us` is 2000 µs, not below `transmitter.centre_us`",
        "`transmitter.centre_us` is 1500 µs, not below `transmitter.high_us`",
    ]
    (found_pair,) = mistakes("[transmitter]\nlow_us = 2000\nhigh_us = 1000")
    assert "not below `transmitter.high_us` at 1000 µs" in found_pair


def test_all_mistakes_at_once_in_order_of_lines() -> None:
    found = mistakes("[esc]\ntwo_way = 1\nx = 2\n[airframe]\nmotors = 'four'\n" + SWITCH * 2)
    assert [line.split(":")[1] for line in found] == ["2", "3", "5"]
    found = mistakes(SWITCH * 2)
    assert [line.split(":")[1] for line in found] == ["6", "7"]
