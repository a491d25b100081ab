"""The plug-in for pytest, run by pytest's own `pytester` on rules in a folder of their own."""

from __future__ import annotations

import subprocess
import sys
from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

# Loaded here once: what a run inside this one imports is forgotten with it.
import cfglint.kit.collect
from cfglint.plugins import load_rules
from cfglint.rulefiles import rules_of_file

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Write = Callable[..., None]

pytest_plugins = ["pytester"]

assert load_rules().rules

HEAD = """
from cfglint.craft import NotForThisCraft
from cfglint.rule import Edit, Finding, Option, bad, good, not_for, rule, unknown
from cfglint.span import Span

"""

IDLE = '''
@rule(
    "tide/idle-high",
    grade="fix",
    title="Idle too high",
    why="It creeps.",
    source="common practice",
    examples=(
        good("let least-spin be 4.7"),
        bad(
            """
            let least-spin be 50
                              ^^ 50% high
            """
        ),
        unknown("let motor-signal be dshot300", missing="motor.idle_percent"),
        not_for("let motor-signal be oneshot125"),
    ),
)
def idle_high(craft, options):
    if craft.get("motor.signal").value == "oneshot125":
        raise NotForThisCraft("no idle")
    idle = craft.need("motor.idle_percent")
    if idle.value > 10:
        yield Finding(craft.place(idle), f"idle {idle} is too high")
'''


@pytest.fixture
def write(pytester: pytest.Pytester) -> Write:
    """Write a rule file of this text into ``club-rules/``."""
    folder = pytester.path / "club-rules"
    folder.mkdir()

    def put(text: str, name: str = "tide.py") -> None:
        (folder / name).write_text(HEAD + dedent(text), encoding="utf-8")

    return put


ASKED = ("--cfglint-rules", "club-rules")


def lines(pytester: pytest.Pytester, *words: str) -> list[str]:
    return pytester.runpytest_inprocess(*words).outlines


# ---------------------------------------------------------------- what is collected, and when


def test_nothing_for_those_who_did_not_ask(pytester: pytest.Pytester, write: Write) -> None:
    write(IDLE)
    pytester.runpytest_inprocess().assert_outcomes()
    # Warnings of pytest's own may stand in place of "no tests ran".
    last = lines(pytester, "club-rules")[-1]
    assert not any(word in last for word in ("passed", "failed", "error"))


def test_the_plug_in_is_light_until_it_is_asked() -> None:
    code = (
        "import sys, cfglint.kit.pytest_plugin; "
        "print(sorted(name for name in sys.modules if name.startswith(('cfglint', 'lark'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.strip() == "['cfglint', 'cfglint.kit', 'cfglint.kit.pytest_plugin']"


def test_one_test_an_example_and_one_a_page(pytester: pytest.Pytester, write: Write) -> None:
    write(IDLE)
    run = pytester.runpytest_inprocess(*ASKED, "-v")
    run.assert_outcomes(passed=5)
    for name in ("page", "good-1", "bad-2", "unknown-3", "not-for-4"):
        run.stdout.fnmatch_lines([f"club-rules/tide.py::tide/idle-high::{name} PASSED*"])


def test_by_configuration_wherever_pytest_is_started(
    pytester: pytest.Pytester, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(IDLE)
    pytester.makeini("[pytest]\ncfglint_rules = club-rules\ntestpaths = tests")
    pytester.mkdir("tests").joinpath("test_own.py").write_text("def test_own(): pass\n")
    pytester.runpytest_inprocess().assert_outcomes(passed=6)
    pytester.runpytest_inprocess("tests").assert_outcomes(passed=1)
    pytester.runpytest_inprocess("club-rules").assert_outcomes(passed=5)
    pytester.runpytest_inprocess("club-rules/tide.py::tide/idle-high::bad-2").assert_outcomes(
        passed=1
    )
    pytester.runpytest_inprocess("-k", "unknown").assert_outcomes(passed=1, deselected=5)
    monkeypatch.chdir(pytester.path / "tests")
    pytester.runpytest_inprocess("../club-rules").assert_outcomes(passed=5)


def test_a_folder_that_is_walked_anyway_counts_once(
    pytester: pytest.Pytester, write: Write
) -> None:
    write(IDLE)
    pytester.runpytest_inprocess(*ASKED).assert_outcomes(passed=5)
    pytester.runpytest_inprocess(*ASKED, *ASKED, ".").assert_outcomes(passed=5)


def test_the_built_in_rules_are_collected_like_any_other(
    pytester: pytest.Pytester, root: Path
) -> None:
    file = root / "rules" / "battery.py"
    items = sum(1 + len(item.examples) for item in rules_of_file(str(file)))
    run = pytester.runpytest_inprocess("--cfglint-rules", str(file))
    run.assert_outcomes(passed=items)


def test_one_file_alone(pytester: pytest.Pytester, write: Write) -> None:
    write(IDLE)
    write(IDLE.replace("idle-high", "idle-low"), "other.py")
    run = pytester.runpytest_inprocess("--cfglint-rules", "club-rules/tide.py")
    run.assert_outcomes(passed=5)


def test_helpers_tests_and_folders_below_are_no_rules(
    pytester: pytest.Pytester, write: Write
) -> None:
    write(IDLE.replace("idle.value > 10", "_limits.high(idle)") + "\nfrom . import _limits\n")
    write("def high(idle): return idle.value > 10", "_limits.py")
    write("def test_more(): pass", "test_more.py")
    write("", "conftest.py")
    (pytester.path / "club-rules" / "below").mkdir()
    write("raise RuntimeError", "below/tide.py")
    pytester.runpytest_inprocess(*ASKED).assert_outcomes(passed=6)


def test_a_path_that_is_not_there(pytester: pytest.Pytester) -> None:
    run = pytester.runpytest_inprocess("--cfglint-rules", "nowhere")
    assert run.ret == pytest.ExitCode.USAGE_ERROR
    run.stderr.fnmatch_lines(["ERROR: there is no folder or file of rules *nowhere (*"])


# ---------------------------------------------------------------- files that are wrong


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x = 1", "no rule is in this file; put `@rule(…)` above its function"),
        ("def (", "tide.py:6:5: this is no Python: "),
        ("import nowhere_at_all", "cannot be loaded: ModuleNotFoundError: No module named"),
        (IDLE + IDLE, "`idle_high` stands here and on line "),
        (
            IDLE + IDLE.replace("def idle_high", "def other"),
            "two rules are called `tide/idle-high`",
        ),
        (
            IDLE + "\ndef forgotten(craft, options):\n    return ()\n",
            "`forgotten` takes a craft and options but is no rule, so it is never asked",
        ),
        (IDLE + "\ncfglint_api = 2\n", "this cfglint has 1; upgrade cfglint"),
    ],
)
def test_a_file_that_cannot_be(
    pytester: pytest.Pytester, write: Write, text: str, says: str
) -> None:
    write(text)
    run = pytester.runpytest_inprocess(*ASKED)
    run.assert_outcomes(errors=1)
    assert says in run.stdout.str()
    assert "Traceback" not in run.stdout.str()


def test_names_that_are_taken(pytester: pytest.Pytester, write: Write) -> None:
    write(IDLE)
    write(IDLE.replace("tide/idle-high", "motor/left-on-default-signal"), "built.py")
    alias = '"tide/idle", aliases=("tide/idle-high",)'
    write(IDLE.replace('"tide/idle-high"', alias), "zulu.py")
    run = pytester.runpytest_inprocess(*ASKED)
    run.assert_outcomes(passed=13, failed=2)
    run.stdout.fnmatch_lines(
        [
            "motor/left-on-default-signal: a built-in rule is called so; choose another name",
            "tide/idle-high: tide/idle-high in tide.py is called so too; rename one",
        ]
    )


# ---------------------------------------------------------------- rules that are wrong


def rule(body: str, *examples: str, before: str = "") -> str:
    """A rule of these examples and this body."""
    listed = "".join(f"        {example},\n" for example in examples)
    return (
        f'{before}\n@rule("tide/tried", grade="fix", title="t", why="w", '
        f'source="common practice",\n    examples=(\n{listed}    ))\n'
        "def tried(craft, options):\n"
    ) + "".join(f"    {line}\n" for line in dedent(body).strip("\n").split("\n"))


BODY = """
idle = craft.need("motor.idle_percent")
if idle.value > 10:
    yield Finding(craft.place(idle), f"idle {idle} is too high")
"""
GOOD = 'good("let least-spin be 5")'
BAD = 'bad("let least-spin be 50\\n                  ^^ 50% high")'
UNKNOWN = 'unknown("stow", missing="motor.idle_percent")'


def fixing(edits: str) -> str:
    return BODY.replace('too high")', f'too high", fix=({edits}))')


def test_the_rule_that_the_wrong_ones_are_made_of(pytester: pytest.Pytester, write: Write) -> None:
    write(rule(BODY, GOOD, BAD, UNKNOWN))
    pytester.runpytest_inprocess(*ASKED).assert_outcomes(passed=4)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        # The findings of a bad example are exactly those that are marked.
        (rule("return ()", GOOD, BAD), ["example.txt:1:19: marked, but nothing was found"]),
        (
            rule(BODY + "    yield Finding(craft.whole, 'and more')", GOOD, BAD, UNKNOWN),
            ["example.txt:1:1: found, but not marked: and more"],
        ),
        (
            rule(BODY.replace("too high", "too low"), GOOD, BAD, UNKNOWN),
            ["the message lacks `high`: idle 50% is too low"],
        ),
        (
            rule(BODY.replace("craft.place(idle)", "idle.line_span"), GOOD, BAD, UNKNOWN),
            [
                "expected (broken):\n"
                "    let least-spin be 50\n"
                "                      ^^ 50% high\n"
                "found (broken):\n"
                "    let least-spin be 50\n"
                "    ^^^^^^^^^^^^^^^^^^^^ idle 50% is too high\n"
            ],
        ),
        # Examples that test nothing.
        (rule(BODY, GOOD, BAD, UNKNOWN, GOOD), ["tide/tried: examples 1 and 4 are the same"]),
        (rule(BODY, GOOD, BAD, UNKNOWN, "good('')"), ["the example is empty"]),
        (rule(BODY, GOOD, UNKNOWN, "bad('save')"), ["must mark what is wrong with carets"]),
        (rule(BODY, GOOD, BAD), ["no unknown example, though `motor.idle_percent` can be missing"]),
        # Rules that crash, in an example or for want of a fact that all examples have.
        (
            rule("return [][0]", GOOD, BAD),
            ["tried crashed: IndexError: list index out of range", "of the rule: return [][0]"],
        ),
        (
            rule(BODY.replace("need", "get"), GOOD, BAD),
            ["crashes on an example without `motor.idle_percent`: TypeError"],
        ),
        (rule("pass", GOOD, BAD), ["not iterable (a rule yields its findings, or returns a list)"]),
        (rule("yield 'high'", GOOD, BAD), ["yields 'high', which is no Finding"]),
        # Nothing may be kept or changed.
        (
            rule(
                "seen.append(1)\nyield Finding(craft.whole, f'{len(seen)}')",
                "bad('save\\n^^^^')",
                "good('save')",
                before="seen = []",
            ),
            ["says something else when it is asked a second time"],
        ),
        (
            rule(
                'craft.values.pop("motor.idle_percent", None)\nreturn ()', GOOD, "bad('save\\n^')"
            ),
            ["the values of a craft cannot be changed"],
        ),
        # Other rules have to get along with what readers will copy.
        (
            rule("return ()", 'good("let motor-signal be brushed")'),
            ["a good example, yet motor/left-on-default-signal finds: the motor signal is brushed"],
        ),
        # Fixes.
        (
            rule(fixing('Edit(craft.place(idle), "20"),'), GOOD, BAD, UNKNOWN),
            ["the fix does not cure the finding: idle 50% is too high"],
        ),
        (
            rule(fixing('Edit(idle.line_span, ""),'), GOOD, BAD, UNKNOWN),
            ["after the fix tide/tried misses `motor.idle_percent` in the dump"],
        ),
        (
            rule(
                fixing('Edit(craft.place(idle), "5\\nlet motor-signal be brushed"),'),
                GOOD,
                BAD,
                UNKNOWN,
            ),
            ["after the fix motor/left-on-default-signal finds: the motor signal is brushed"],
        ),
        (
            rule(
                fixing('Edit(craft.place(idle), "5"), Edit(idle.line_span, "stow"),'),
                GOOD,
                BAD,
                UNKNOWN,
            ),
            ["the fix cannot be applied: two edits of one fix overlap"],
        ),
        (
            rule(fixing("Edit(Span('other', 1, 1, 1, 1), ''),"), GOOD, BAD, UNKNOWN),
            ["other:1:1: no such place in the example"],
        ),
        (
            rule(
                fixing('Edit(craft.place(idle), "7"),') + "elif idle.value == 7:\n    1 / 0",
                GOOD,
                BAD,
                UNKNOWN,
            ),
            ["after the fix tide/tried crashes: ZeroDivisionError"],
        ),
    ],
)  # fmt: skip
def test_a_rule_that_is_wrong(
    pytester: pytest.Pytester, write: Write, text: str, says: list[str]
) -> None:
    write(text)
    run = pytester.runpytest_inprocess(*ASKED)
    assert run.ret == pytest.ExitCode.TESTS_FAILED
    shown = run.stdout.str()
    assert all(words in shown for words in says), shown
    assert "Traceback" not in shown


def test_a_fix_that_cures(pytester: pytest.Pytester, write: Write) -> None:
    two = 'bad("""\nlet least-spin be 50\n                  ^^\nlet loop-rate be 4000\n""")'
    edits = 'Edit(craft.place(idle), "5"), Edit(craft.place(idle)._replace(column=1, ' \
        'end_column=1), "let keep-log be yes\\n"),'  # fmt: skip
    write(rule(fixing(edits), GOOD, BAD, UNKNOWN, two))
    pytester.runpytest_inprocess(*ASKED).assert_outcomes(passed=5)


def test_a_built_in_rule_that_crashes_is_named(
    pytester: pytest.Pytester, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, *rest = load_rules().rules
    broken = first._replace(check=lambda craft, options: 1 / 0)  # type: ignore[arg-type,return-value]
    monkeypatch.setattr(cfglint.kit.collect.Collector, "builtin", lambda self: (broken, *rest))
    write(rule(BODY, GOOD, BAD, UNKNOWN))
    run = pytester.runpytest_inprocess(*ASKED)
    run.assert_outcomes(passed=1, failed=3)
    run.stdout.fnmatch_lines([f"{first.id} crashes on this example: ZeroDivisionError*"])


def test_a_mistake_of_the_kit_keeps_its_traceback(
    pytester: pytest.Pytester, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    def falls(rule: object) -> list[str]:
        raise KeyError("not a rule author's fault")

    monkeypatch.setattr(cfglint.kit.collect, "check_rule", falls)
    write(IDLE)
    run = pytester.runpytest_inprocess(*ASKED)
    run.assert_outcomes(passed=4, failed=1)
    run.stdout.fnmatch_lines(['*KeyError: "not a rule author\'s fault"'])


def test_how_the_text_is_stored_may_not_matter(pytester: pytest.Pytester, write: Write) -> None:
    # Says something from the third time on, which is when the line endings are others.
    body = "seen.append(1)\nif len(seen) > 2:\n    yield Finding(craft.whole, 'later')"
    write(rule(body, "good('save')", before="seen = []"))
    run = pytester.runpytest_inprocess(*ASKED, "-k", "good-1")
    run.assert_outcomes(failed=1, deselected=1)
    run.stdout.fnmatch_lines(["*^^^^ (with CRLF line endings)"])


TOML = """
[[rule]]
id = "tide/idle-low"
grade = "fix"
title = "t"
why = "w"
source = "common practice"
setting = "motor.idle_percent"
at_least = {least}
message = "idle is {{value}}"

[[rule.example]]
kind = "bad"
dump = '''
let least-spin be 3
                  ^ 3%
'''

[[rule.example]]
kind = "good"
dump = "let least-spin be 5"

[[rule.example]]
kind = "unknown"
dump = "stow"
missing = "motor.idle_percent"
"""


def test_rules_without_code(pytester: pytest.Pytester) -> None:
    file = pytester.mkdir("club-rules") / "tide.toml"
    file.write_text(TOML.format(least=4.5), encoding="utf-8")
    pytester.runpytest_inprocess(*ASKED).assert_outcomes(passed=4)
    file.write_text(TOML.format(least=2.5), encoding="utf-8")
    run = pytester.runpytest_inprocess(*ASKED)
    run.assert_outcomes(passed=3, failed=1)
    run.stdout.fnmatch_lines(["*tide/idle-low bad-1*", "should be `broken` but is `holds`"])
    file.write_text(TOML.format(least="'low'"), encoding="utf-8")
    pytester.runpytest_inprocess(*ASKED).assert_outcomes(errors=1)


FLEET = """
from cfglint.rule import fleet_rule

@fleet_rule(
    "tide/one-idle", grade="fix", title="t", why="w", source="common practice",
    asks=("motor.idle_percent",),
    examples=(
        good("let least-spin be 5", beside=("let least-spin be 5",)),
        bad("let least-spin be 5\\n                  ^", beside=("let least-spin be 6",)),
        bad("let least-spin be 5\\n    ^", beside=("let least-spin be 7",)),
    ),
)
def one_idle(craft, options):
    mine = craft.get("motor.idle_percent")
    for other in craft.others:
        if mine.known and other.get("motor.idle_percent").value != mine.value:
            yield Finding(craft.place(mine), "another idle than the rest")
"""


def test_rules_of_a_fleet(pytester: pytest.Pytester, write: Write) -> None:
    write(FLEET)
    run = pytester.runpytest_inprocess(*ASKED)
    run.assert_outcomes(passed=3, failed=1)
    run.stdout.fnmatch_lines(["  beside-1.txt:", "    let least-spin be 7"])
