"""Rules in TOML: what they come to on a craft, and what is said of a mistake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from cfglint.conditions import subject
from cfglint.craft import Traits
from cfglint.errors import EXIT_UNREAD, Problem, Problems
from cfglint.kit import check_example, check_rule
from cfglint.kit.build import build_craft
from cfglint.rule import FleetRule, Options, judge
from cfglint.toml_rules import rules_of_file, rules_of_text

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.rule import Outcome, Rule

HEAD = """\
[[rule]]
id = "tide/made"
grade = "fix"
title = "t"
why = "w"
source = "common practice"
"""


def read(text: str) -> Rule:
    (item,) = rules_of_text("rules/tide.toml", (HEAD + text).encode())
    return item


def asked(text: str, settings: dict[str, Any] | None = None, **more: Any) -> Outcome:
    return judge(read(text), build_craft(settings, **more), Options({}))


def states(text: str, **values: Any) -> list[str]:
    """What a rule about one setting comes to for several values of it."""
    ((name, each),) = values.items()
    name = name.replace("__", ".")
    return [asked(text, {name: value}).state for value in each]


def mistakes(text: str) -> list[str]:
    with pytest.raises(Problem) as caught:
        rules_of_text("rules/tide.toml", text.encode())
    wrong = caught.value
    return [str(one) for one in (wrong.each if isinstance(wrong, Problems) else [wrong])]


# ------------------------------------------------------------------ tests of a setting


@pytest.mark.parametrize(
    ("test", "values", "wanted"),
    [
        ("at_least = 4", [3.9, 4.0, 4.1], "bhh"),
        ("at_most = 4", [3.9, 4.0, 4.1], "hhb"),
        ("between = [4, 5]", [3.9, 4.0, 5.0, 5.1], "bhhb"),
        ("is = 4", [4.0, 5.0], "hb"),
        ("not = 4", [4.0, 5.0], "bh"),
        ("one_of = [4, 5.5]", [4.0, 5.0, 5.5], "hbh"),
        ("none_of = [4, 5.5]", [4.0, 5.0, 5.5], "bhb"),
        ("at_least = 4\nat_most = 5", [3.0, 4.5, 6.0], "bhb"),
    ],
)
def test_numbers(test: str, values: list[float], wanted: str) -> None:
    text = f'setting = "motor.idle_percent"\n{test}'
    assert "".join(state[0] for state in states(text, motor__idle_percent=values)) == wanted


@pytest.mark.parametrize(
    ("test", "wanted"),
    [
        ('is = ["gps", "receiver"]', "hbb"),
        ('is = "gps"', "bhb"),
        ('not = "gps"', "hbh"),
        ('holds = "gps"', "hhb"),
        ('one_of = ["receiver", "log"]', "hbb"),
        ('none_of = ["receiver", "log"]', "bhh"),
    ],
)
def test_lists_of_words(test: str, wanted: str) -> None:
    values = [frozenset({"receiver", "gps"}), frozenset({"gps"}), frozenset[str]()]
    text = f'setting = "port.2.functions"\n{test}'
    found = [asked(text, {"port.2.functions": value}).state[0] for value in values]
    assert "".join(found) == wanted


def test_words_flags_and_whole_numbers() -> None:
    assert states('setting = "motor.signal"\nis = "dshot300"', motor__signal=["dshot300"]) == [
        "holds"
    ]
    assert states('setting = "log.on"\nis = true', log__on=[True, False]) == ["holds", "broken"]
    assert states('setting = "motor.poles"\nis = 14', motor__poles=[14, 12]) == ["holds", "broken"]


def test_the_finding_says_what_the_author_wrote_and_else_something_fit() -> None:
    text = 'setting = "motor.idle_percent"\nat_least = 4.5\n'
    (plain,) = asked(text, {"motor.idle_percent": 3.0}).findings
    assert plain.message == "motor.idle_percent is 3% and must be 4.5% or more"
    more = 'message = "{craft}: {setting} {value}"\ninstead = "write {wanted}"'
    outcome = asked(text + more, {"motor.idle_percent": 3.0})
    (found,) = outcome.findings
    assert found.message == "Avocet: motor.idle_percent 3%"
    assert found.instead == "write 4.5% or more"
    assert found.span == build_craft({"motor.idle_percent": 3.0}).get("motor.idle_percent").span


@pytest.mark.parametrize(
    ("test", "told"),
    [
        ("is = 4", "4%"),
        ("not = 3", "anything but 3%"),
        ("one_of = [4, 5]", "`4%` or `5%`"),
        ("none_of = [3, 5]", "anything but `3%` or `5%`"),
        ("at_most = 2", "2% or less"),
        ("between = [4, 5]", "4% to 5%"),
    ],
)
def test_what_is_wanted_in_words(test: str, told: str) -> None:
    (found,) = asked(
        f'setting = "motor.idle_percent"\n{test}', {"motor.idle_percent": 3.0}
    ).findings
    assert found.message == f"motor.idle_percent is 3% and must be {told}"


def test_a_missing_fact_is_named_and_where_to_write_it() -> None:
    (lack,) = asked('setting = "motor.idle_percent"\nat_least = 4').lacks
    assert (lack.fact, lack.where) == ("motor.idle_percent", "dump")
    text = 'must = { "card.battery.cells" = 4 }'
    (lack,) = asked(text).lacks
    assert (lack.fact, lack.where) == ("battery.cells", "card")
    assert "no card" in lack.text
    (lack,) = asked(text, card={"esc.two_way": True}).lacks
    assert "no card" not in lack.text
    assert asked(text, card={"battery.cells": 4}).state == "holds"


def test_required_and_forbidden_lines() -> None:
    wanted = 'must = { "failsafe.delay_s" = { set = true } }'
    outcome = asked(wanted)
    assert outcome.state == "broken"
    assert outcome.findings[0].span == outcome.whole
    assert outcome.findings[0].message == "failsafe.delay_s is not set and must be set"
    assert asked(wanted, {"failsafe.delay_s": 1.0}).state == "holds"
    both = 'must = { "failsafe.delay_s" = { set = true, at_most = 1 } }'
    assert [asked(both, row).state for row in ({}, {"failsafe.delay_s": 2.0})] == ["broken"] * 2
    never = 'must = { "failsafe.delay_s" = { set = false } }'
    assert asked(never).state == "holds"
    assert asked(never, {"failsafe.delay_s": 1.0}).state == "broken"


def test_versions_are_compared_as_their_maker_counts() -> None:
    text = 'setting = "craft.firmware"\nat_least = "7.10"'
    assert states(text, craft__firmware=["7.9", "7.10"]) == ["broken", "holds"]
    decimal = Traits(version_order="decimal")
    assert asked(text, {"craft.firmware": "7.9"}, traits=decimal).state == "holds"
    assert states(text.replace("least", "most"), craft__firmware=["7.9", "7.11"]) == [
        "holds", "broken",
    ]  # fmt: skip
    between = 'setting = "craft.firmware"\nbetween = ["7.9", "7.10"]'
    assert states(between, craft__firmware=["7.8", "7.9", "7.11"]) == ["broken", "holds", "broken"]
    assert asked(text, {"craft.firmware": "of May"}).state == "unknown"
    esc = 'setting = "card.esc.firmware"\nat_least = "3.58"'
    card = {"esc.firmware": "3.6", "esc.firmware_order": "decimal"}
    assert asked(esc, card=card).state == "holds"
    assert asked(esc, card={**card, "esc.firmware_order": "dotted"}).state == "broken"
    assert asked(esc, card={"esc.firmware": "3.6"}).lacks[0].fact == "esc.firmware_order"
    assert asked(esc, card={**card, "esc.firmware": "odd"}).lacks[0].fact == "esc.firmware"


# ------------------------------------------------------------------ modes, when, must_not


def test_modes_and_their_channels() -> None:
    arm = [("arm", 5, 1775.0, 2190.0)]
    must = 'must = { "mode.arm" = "set" }'
    assert asked(must, ranges=arm).state == "holds"
    assert asked(must).findings[0].message == "mode.arm is absent and must be set"
    channel = 'must = { "mode.arm.channel" = 5 }'
    assert asked(channel, ranges=arm).state == "holds"
    assert asked(channel).state == "not for this craft"
    outcome = asked(channel, ranges=[*arm, ("arm", 6, 855.0, 1245.0)])
    assert outcome.findings[0].message == "mode.arm.channel is 6 and must be 5"


def test_when_says_which_craft_a_rule_is_for() -> None:
    text = 'when = { "motor.signal" = "dshot300" }\nsetting = "motor.poles"\nis = 14'
    outcome = asked(text, {"motor.signal": "brushed"})
    assert (outcome.state, outcome.reason) == ("not for this craft", "motor.signal is brushed")
    assert asked(text, {"motor.poles": 12}).lacks[0].fact == "motor.signal"
    assert asked(text, {"motor.signal": "dshot300", "motor.poles": 12}).state == "broken"
    two = 'when = { "motor.signal" = "dshot300", "log.on" = true }\nmust = { "motor.poles" = 14 }'
    # A condition that is not met settles it, whatever else is not known.
    assert asked(two, {"log.on": False}).state == "not for this craft"


def test_what_must_not_come_together() -> None:
    text = 'must_not = { "motor.two_way" = true, "loop.rate_hz" = { at_least = 5600 } }\n'
    both = {"motor.two_way": True, "loop.rate_hz": 5600.0}
    (found,) = asked(text, both).findings
    assert found.message == ("motor.two_way is yes and loop.rate_hz is 5600 Hz, which must not be")
    assert [row.message for row in found.related] == ["loop.rate_hz is 5600 Hz"]
    assert asked(text, {**both, "loop.rate_hz": 4000.0}).state == "holds"
    assert asked(text, {"loop.rate_hz": 5600.0}).lacks[0].fact == "motor.two_way"
    assert asked(text, {"loop.rate_hz": 4000.0}).state == "holds"


def test_every_broken_condition_is_found_beside_what_is_not_known() -> None:
    text = 'must = { "motor.poles" = 14, "log.on" = true, "motor.signal" = "dshot300" }'
    outcome = asked(text, {"motor.poles": 12, "motor.signal": "brushed"})
    assert len(outcome.findings) == 2
    assert [lack.fact for lack in outcome.lacks] == ["log.on"]


# ------------------------------------------------------------------ the fleet


def fleet(text: str, *crafts: dict[str, Any]) -> list[str]:
    """What a rule comes to for each craft of a fleet; ``ranges`` in a craft are its modes."""
    item = read(text)
    assert isinstance(item, FleetRule)
    made = [
        build_craft({k: v for k, v in one.items() if k != "ranges"}, ranges=one.get("ranges", ()))
        for one in crafts
    ]
    found = []
    for craft in made:
        others = tuple(other for other in made if other is not craft)
        outcome = judge(item, craft.changed(others=others), Options({}))
        found.append(outcome.findings[0].message if outcome.findings else outcome.state)
    return found


def test_a_setting_in_which_a_fleet_must_agree() -> None:
    text = 'agree = "motor.poles"\nmessage = "{value}, others {usual}"'
    assert fleet(text, *({"motor.poles": n} for n in (14, 14, 12))) == [
        "holds", "holds", "12 poles, others 14 poles",
    ]  # fmt: skip
    assert read(text).asks == ("motor.poles",)
    assert fleet(text, {"motor.poles": 14}, {}, {"motor.poles": 14}) == [
        "holds", "unknown", "holds",
    ]  # fmt: skip
    assert fleet(text, {"motor.poles": 14}, {"motor.poles": 12}) == ["not for this craft"] * 2
    # Half is not more than half, and one who does not say could tip it.
    four = [{"motor.poles": n} for n in (14, 14, 12, 12)]
    assert fleet(text, *four) == ["not for this craft"] * 4
    assert fleet(text, *four, {}) == ["unknown"] * 5


def test_modes_in_which_a_fleet_must_agree() -> None:
    def on(channel: int, mode: str = "arm") -> dict[str, Any]:
        return {"ranges": [(mode, channel, 1775.0, 2190.0)]}

    assert fleet('agree = "mode.arm.channel"', on(5), on(5), on(6), on(7, "log")) == [
        "holds",
        "holds",
        "mode.arm.channel is 6, in Avocet and Avocet it is 5",
        "not for this craft",
    ]
    whether = 'agree = "mode.beacon"'
    assert fleet(whether, on(5, "beacon"), on(6, "beacon"), on(5)) == [
        "holds", "holds", "mode.beacon is absent, in Avocet and Avocet it is set",
    ]  # fmt: skip
    assert read('agree = "mode.arm.channel"').asks == ("mode.arm",)


def test_when_chooses_among_a_fleet() -> None:
    text = 'when = { "motor.signal" = "dshot300" }\nagree = "motor.poles"'
    digital, brushed = {"motor.signal": "dshot300"}, {"motor.signal": "brushed"}
    crafts = [{**digital, "motor.poles": n} for n in (14, 14, 14, 12)]
    found = fleet(text, *crafts, {**brushed, "motor.poles": 12}, {"motor.poles": 12})
    assert found[:3] == ["holds"] * 3
    assert found[3].startswith("motor.poles is 12")
    assert found[4:] == ["not for this craft", "unknown"]


# ------------------------------------------------------------------ examples, as for any rule


def test_examples_are_checked_by_the_kit() -> None:
    item = read(
        'agree = "motor.poles"\n'
        '[[rule.example]]\nkind = "good"\ndump = "let bell-magnet be 14"\n'
        'beside = ["let bell-magnet be 14", "let bell-magnet be 14"]\n'
        '[[rule.example]]\nkind = "bad"\n'
        "dump = '''\nlet bell-magnet be 12\n                   ^^ 12 14\n'''\n"
        'beside = ["let bell-magnet be 14", "let bell-magnet be 14"]\n'
        '[[rule.example]]\nkind = "unknown"\nmissing = "motor.poles"\ndump = "let log be yes"\n'
    )
    assert check_rule(item) == []
    assert [check_example(item, example)[:1] for example in item.examples[:2]] == [[], []]


# ------------------------------------------------------------------ mistakes


@pytest.mark.parametrize(
    ("text", "place", "told"),
    [
        ("", "1:3", "demands nothing; write one of `setting`, `must`, `must_not` or `agree`"),
        ('setting = "motor.poles"', "7:11", "without a test"),
        ('setting = "motor.pols"\nis = 1', "7:11", "did you mean `motor.poles`"),
        ('setting = "mode.arn"\nis = 1', "7:11", "did you mean `arm`"),
        ('setting = "port.N.baud"\nis = 1', "7:11", "write a number for `N`"),
        ('setting = "card.esc.signal"\nis = 1', "7:11", "did you mean `card.esc.signals`"),
        ('setting = "motor.poles"\nis = "14"', "8:6", "is a number, not `14`"),
        ('setting = "motor.poles"\nis = nan', "8:6", "is a number"),
        ('setting = "log.on"\nis = "yes"', "8:6", "write `true` or `false`"),
        ('setting = "motor.signal"\nis = 3', "8:6", "write it in quotes"),
        ('setting = "motor.signal"\nis = "dshot30"', "8:6", "did you mean `dshot300`"),
        ('setting = "motor.signal"\nat_least = 3', "8:12", "is no number"),
        ('setting = "motor.signal"\nholds = "gps"', "8:9", "is no list"),
        ('setting = "motor.poles"\nbetween = [14, 12]', "8:11", "smaller number first"),
        ('setting = "motor.poles"\nat_lest = 3', "8:1", "did you mean `at_least`"),
        ('must = {}', "7:8", "`must` is empty"),
        ('must = { "motor.poles" = {} }', "7:26", "tests nothing"),
        ('must = { "motor.poles" = { at_least = "x" } }', "7:39", "is a number"),
        ('must = { "motor.poles" = "x" }', "7:26", "is a number"),
        ('must = { "mode.arm" = { set = true } }', "7:31", 'write `"mode.arm" = "set"`'),
        ('must = { "mode.arm" = 5 }', "7:23", "write it in quotes"),
        ('must = { "motor.poles" = 14 }\nat_least = 3', "8:1", "belongs to `setting`"),
        ('must = { "motor.poles" = 14 }\nagree = "log.on"', "8:1", "says both `must` and `agree`"),
        ('agree = "card.battery.cells"', "7:9", "a fleet is not compared by"),
        (
            'agree = "log.on"\nwhen = { "card.battery.cells" = 4 }', "8:10",
            "a fleet is not compared by",
        ),
        ('agree = "log.on"\nmessage = "{valu}"', "8:11", "did you mean `value`"),
        ('agree = "log.on"\nmessage = " "', "8:11", "is blank"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_place(text: str, place: str, told: str) -> None:
    found = mistakes(HEAD + text)
    assert any(one.startswith(f"rules/tide.toml:{place}: ") and told in one for one in found), found


def test_mistakes_of_the_file_as_a_whole() -> None:
    demand = 'agree = "log.on"\n'
    assert "no file" not in mistakes("rule = 3")[0]
    assert "two rules of this file are called `tide/made`" in mistakes((HEAD + demand) * 2)[0]
    (wrong,) = mistakes((HEAD + demand).replace("tide/made", "Tide made"))
    assert wrong.startswith("rules/tide.toml:2:6: ")
    assert "concern/what-is-wrong" in wrong
    # All mistakes at once, in the order of the file.
    assert len(mistakes((HEAD + 'setting = "motor.poles"\nis = "x"\n') * 2)) == 2
    (wrong,) = mistakes("[[rule]\n")
    assert wrong.startswith("rules/tide.toml:1:")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(Problem) as caught:
        rules_of_file(str(tmp_path / "none.toml"), "rules/none.toml")
    assert caught.value.exit == EXIT_UNREAD
    assert caught.value.file == "rules/none.toml"


def test_every_kind_of_subject() -> None:
    assert subject("channel.3.low_us").kind == "number"
    assert subject("card.port.2.inverter").words
    assert subject("mode.arm").words == ("set", "absent")
    assert subject("mode.arm.channel").kind == "count"
    with pytest.raises(ValueError, match="names no mode"):
        subject("mode.arm.channel.more")
