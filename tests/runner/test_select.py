"""Which rules a run applies, with which grades and options."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from cfglint.craft import Craft
from cfglint.rule import Finding, Option, Options, Rule, rule
from cfglint.runner.config import parse_config
from cfglint.runner.select import near, select


def make(name: str, *options: Option, aliases: tuple[str, ...] = ()) -> Rule:
    @rule(
        name,
        grade="fix",
        title="t",
        why="w",
        source="common practice",
        options=options,
        aliases=aliases,
    )
    def check(craft: Craft, options: Options) -> Iterator[Finding]:
        return iter(())

    return check


RULES = (
    make("tide/float-fitted", aliases=("tide/no-float",)),
    make(
        "tide/too-wet",
        Option("margin_us", 25.0, "how near is too near", 0, 500),
        Option("most", 3, "how many", least=1),
        Option("least", 3, "how few", most=9),
        Option("strict", False, "no mercy"),
        Option("word", "reed", "a word"),
        Option("names", ["a"], "names"),
        Option("pair", (1, 2), "two"),
    ),
    make("reeds/cut"),
)


def chosen(
    toml: str = "", *, only: tuple[str, ...] = (), without: tuple[str, ...] = ()
) -> list[str]:
    config = parse_config("cfglint.toml", "/club", toml.encode())
    selection = select(RULES, config, only, without)
    assert not selection.problems
    return [one.rule.id.partition("/")[2] for one in selection.rules]


def problems(
    toml: str = "", *, only: tuple[str, ...] = (), without: tuple[str, ...] = ()
) -> list[str]:
    config = parse_config("cfglint.toml", "/club", toml.encode())
    return [str(one) for one in select(RULES, config, only, without).problems]


def test_all_of_them() -> None:
    selection = select(RULES, None)
    assert [one.rule for one in selection.rules] == list(RULES)
    assert selection.rules[1].options.margin_us == 25.0
    assert selection.rules[1].options.strict is False


def test_only_and_without() -> None:
    assert chosen(only=("reeds/cut",)) == ["cut"]
    assert chosen(only=("tide/no-float",)) == ["float-fitted"]
    assert chosen(only=("tide",), without=("tide/too-wet",)) == ["float-fitted"]
    assert chosen(without=("tide",)) == ["cut"]
    assert chosen("[rules]\n'reeds/cut' = 'off'") == ["float-fitted", "too-wet"]
    # Asked for by name, a rule that the hangar switched off runs all the same.
    assert chosen("[rules]\n'reeds/cut' = 'off'", only=("reeds/cut",)) == ["cut"]


def test_grades_and_options_of_the_hangar() -> None:
    config = parse_config(
        "cfglint.toml",
        "/club",
        b"""
        [rules]
        "tide/no-float" = "ground"
        "tide/too-wet" = { margin_us = 30, most = 4, word = "sedge", strict = true, names = [] }
        "reeds/cut" = { grade = "off" }
        """,
    )
    first, second = select(RULES, config).rules
    assert (first.grade, first.rule.grade) == ("ground", "ground")
    assert (second.grade, second.rule.grade) == (None, "fix")
    assert second.options.margin_us == 30.0
    assert type(second.options.margin_us) is float
    assert (second.options.most, second.options.word) == (4, "sedge")
    assert (second.options.strict, second.options.names) == (True, [])
    assert second.options.least == 3


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            "'tide/float-fited' = 'off'",
            "2:1: there is no rule `tide/float-fited`; did you mean `tide/float-fitted`?",
        ),
        ("'reed/cut' = 'off'", "2:1: there is no rule `reed/cut`; did you mean `reeds/cut`?"),
        ("gyrate = 'off'", "2:1: there is no rule `gyrate`; `cfglint rules` lists them"),
        (
            "'tide/float-fitted' = 'off'\n'tide/no-float' = 'fix'",
            "3:1: `tide/no-float` and `tide/float-fitted` are the same rule, set twice",
        ),
        (
            "'tide/too-wet'.margin = 3",
            "2:16: the rule `tide/too-wet` has no option `margin`; did you mean `margin_us`?",
        ),
        (
            "'reeds/cut'.x = 3",
            "2:13: the rule `reeds/cut` has no option `x`; it may be `grade`",
        ),
        (
            "'tide/too-wet'.margin_us = 501",
            "2:28: the option `margin_us` is 501; it may be 0 to 500 (how near is too near)",
        ),
        ("'tide/too-wet'.most = 0", "2:23: the option `most` is 0; it may be 1 or more"),
        ("'tide/too-wet'.least = 10", "2:24: the option `least` is 10; it may be 9 at most"),
        (
            "'tide/too-wet'.margin_us = 'x'",
            "2:28: the option `margin_us` must be a number; write how near is too near",
        ),
        ("'tide/too-wet'.margin_us = nan", "2:28: the option `margin_us` must be a number"),
        ("'tide/too-wet'.margin_us = true", "2:28: the option `margin_us` must be a number"),
        ("'tide/too-wet'.most = 2.5", "2:23: the option `most` must be a whole number"),
        ("'tide/too-wet'.strict = 1", "2:25: the option `strict` must be `true` or `false`"),
        ("'tide/too-wet'.word = 1", "2:23: the option `word` must be a text"),
        ("'tide/too-wet'.names = 1", "2:24: the option `names` must be a list"),
        ("'tide/too-wet'.pair = 1", "2:23: the option `pair` must be like `(1, 2)`"),
    ],
)
def test_one_mistake(line: str, message: str) -> None:
    (found,) = problems(f"[rules]\n{line}")
    assert found.startswith("cfglint.toml:" + message)


def test_mistyped_on_the_command_line() -> None:
    assert problems(only=("tied/too-wet",), without=("x",)) == [
        "--only: there is no rule `tied/too-wet`; did you mean `tide/too-wet`?",
        "--without: there is no rule `x`; `cfglint rules` lists them",
    ]


def test_half_a_name_is_enough_to_be_understood() -> None:
    assert near(RULES, "too-wet") == "did you mean `tide/too-wet`?"
    assert near(RULES, "toowet") == "did you mean `tide/too-wet`?"


def test_nothing_left() -> None:
    (found,) = select(RULES, None, without=("tide", "reeds")).problems
    assert found.exit == 4
    assert str(found).startswith("no rule is left to apply")
    assert not select((), None).problems
