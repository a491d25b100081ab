"""``cfglint rules``."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from cfglint import plugins
from cfglint.errors import Problem
from cfglint.plugins import Loaded, load_rules
from cfglint.report.rule_states import RuleHere, as_here, file_of
from cfglint.report.rule_table import table
from cfglint.report.screen import write
from cfglint.rule import Option
from cfglint.runner.config import parse_config

from .conftest import Call

CONFIG = """\
[rules]
"motor/left-on-default-signal" = "off"
"modes/near-a-range-edge" = { grade = "advise", margin_us = 30 }
"""
MARSH = """\
[[rule]]
id = "tide/idle-too-high"
grade = "fix"
title = "It idles too fast"
why = "It may creep."
source = "common practice"
setting = "motor.idle_percent"
at_most = 10
[[rule.example]]
kind = "good"
dump = "let least-spin be 5.6"
[[rule.example]]
kind = "bad"
dump = \"\"\"
let least-spin be 15
                  ^^ 15
\"\"\"
"""
CODE = """\
from cfglint.rule import rule
cfglint_api = (1, 1)

@rule("tide/no-float", grade="fix", title="No float", why="It sinks.", source="common practice")
def no_float(craft, options):
    return ()
"""


@pytest.fixture
def hangar(tmp_path: Path) -> Path:
    home = tmp_path / "club"
    home.mkdir()
    (home / "cfglint.toml").write_text(CONFIG, encoding="utf-8")
    return home


def test_every_rule_once_below_where_it_comes_from(call: Call) -> None:
    code, out, err = call("rules")
    assert (code, err) == (0, "")
    rules = load_rules().rules
    lines = out.splitlines()
    said = [tuple(line.split()) for line in lines if line.startswith("  ") and line[2] != " "]
    assert said == [(rule.grade, rule.id) for rule in rules]
    heads = [line for line in lines if line and line[0] != " "]
    assert heads[0] == "builtin: cfglint_rules.dump"
    assert heads[-1] == f"{len(rules)} rules, 0 off here"
    assert len(set(heads)) == len(heads)
    text = " ".join(out.split())
    for rule in rules:
        assert " ".join(rule.title.split()) in text
        assert all(f"{option.name} = " in text for option in rule.options)


@pytest.mark.parametrize("columns", [60, 80, 100])
def test_no_wider_than_the_terminal(
    call: Call, monkeypatch: pytest.MonkeyPatch, hangar: Path, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    out = call("rules", "--here", hangar).out
    assert max(map(len, out.splitlines())) <= columns


def test_what_a_hangar_says(call: Call, hangar: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(hangar)
    monkeypatch.setenv("COLUMNS", "100")
    code, out, err = call("rules", "--here", hangar)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    at = lines.index("  off     motor/left-on-default-signal")
    assert lines[at + 2].strip() == "off here, ground elsewhere: cfglint.toml:2:34"
    at = lines.index("  advise  modes/near-a-range-edge")
    assert lines[at + 2].strip() == "advise here, fix elsewhere: cfglint.toml:3:39"
    assert lines[at + 3].strip().startswith("margin_us = 30 (22 elsewhere; cfglint.toml:3:61): ")
    assert lines[-1].endswith(" rules, 1 off here")
    monkeypatch.chdir(hangar)
    assert call("rules").out == out
    assert call("rules", "--here", hangar / "cfglint.toml").out == out


def test_json(call: Call, hangar: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(hangar)
    code, out, err = call("rules", "--as", "json", "--here", hangar)
    assert (code, err) == (0, "")
    assert out.isascii()
    rows = {row["id"]: row for row in json.loads(out)}
    assert list(rows) == [rule.id for rule in load_rules().rules]
    assert {row["pack"] for row in rows.values()} == {"builtin"}
    assert all(row["why"] and row["source"] for row in rows.values())
    assert rows["dump/set-twice"]["here"] == {"on": True, "grade": "fix", "set_at": None}
    assert rows["dump/set-twice"]["file"] == "cfglint_rules.dump"
    off = rows["motor/left-on-default-signal"]
    assert off["here"] == {"on": False, "grade": None, "set_at": "cfglint.toml:2:34"}
    assert off["grade"] == "ground"
    (option,) = rows["modes/near-a-range-edge"]["options"]
    assert (option["name"], option["value"], option["set_at"]) == (
        "margin_us", 30, "cfglint.toml:3:61",
    )  # fmt: skip
    assert option["default"] == 22


def test_mistakes_are_told_and_the_rest_is_listed(
    call: Call, hangar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(hangar)
    (hangar / "cfglint.toml").write_text(
        '[rules]\n"motor/left-on-default-sgnal" = "off"\n"dump/set-twice" = { margin = 1 }\n'
    )
    code, out, err = call("rules", "--here", hangar)
    assert code == 2
    assert "0 off here" in out
    assert err.splitlines()[0] == (
        "cfglint: cfglint.toml:2:1: there is no rule `motor/left-on-default-sgnal`; did you mean "
        "`motor/left-on-default-signal`?"
    )
    assert "the rule `dump/set-twice` has no option `margin`" in err
    (hangar / "cfglint.toml").write_text("[rls]")
    code, out, err = call("rules", "--here", hangar)
    assert (code, "`rls` means nothing" in err) == (2, True)
    assert "dump/set-twice" in out


@pytest.mark.parametrize("here", ["nowhere", "."])
def test_no_hangar(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, here: str) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = call("rules", "--here", here)
    assert (code, out) == (2, "")
    assert err == f"cfglint: --here: there is no hangar at `{here}`; look at the path\n"


def test_rules_of_ones_own_name_their_files(
    call: Call, hangar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (hangar / "cfglint.toml").write_text('[hangar]\nrule_files = "marsh.toml"\n')
    (hangar / "marsh.toml").write_text(MARSH, encoding="utf-8")
    (hangar / "own").mkdir()
    (hangar / "own/tide.py").write_text(CODE, encoding="utf-8")
    monkeypatch.chdir(hangar)
    code, out, err = call("rules", "--rules", "own")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    for head, row in (
        ("hangar: marsh.toml", "  fix     tide/idle-too-high"),
        ("own: own/tide.py", "  fix     tide/no-float"),
    ):
        assert lines[lines.index(head) + 1] == row


def test_other_packs_are_named_and_broken_ones_told(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = load_rules().rules[0]._replace(pack="club", title="A \x1b[31mtitle")
    broken = Problem("rule pack `x` cannot be loaded")
    monkeypatch.setattr(plugins, "load_rules", lambda: Loaded((first,), (broken,)))
    code, out, err = call("rules")
    assert code == 2
    assert out == (
        f"club: cfglint_rules.dump\n  {first.grade:<6}  {first.id}\n"
        "          A \\x1b[31mtitle\n\n1 rule, 0 off here\n"
    )
    assert err == "cfglint: rule pack `x` cannot be loaded\n"
    monkeypatch.setattr(plugins, "load_rules", lambda: Loaded((), (broken,)))
    assert call("rules").out == ""


def printed(rows: list[RuleHere]) -> str:
    out = io.StringIO()
    write(table(rows), out, 80, colour=False)
    return out.getvalue()


def test_options_of_all_kinds_and_a_former_name() -> None:
    options = (
        Option("strict", True, "whether"),
        Option("share", 0.5, "how much"),
        Option("words", ["a", "b"], "which"),
        Option("none", [], "which not"),
    )
    rule = load_rules().rules[0]._replace(options=options, aliases=("old/name",))
    config = parse_config("cfglint.toml", "/c", b'[rules]\n"old/name" = { share = 1 }')
    rows, problems = as_here([rule], config)
    assert problems == []
    text = " ".join(printed(rows).split())
    assert (
        "strict = true: whether share = 1 (0.5 elsewhere; /c/cfglint.toml:2:24): how much" in text
    )
    assert "words = a, b: which none = none: which not" in text


def test_a_rule_without_a_module() -> None:
    class Check:
        __module__ = ""

        def __call__(self, craft: object, options: object) -> tuple[()]:
            return ()

    rule = load_rules().rules[0]._replace(check=Check(), pack="club")
    assert file_of(rule) == ""
    rows, _ = as_here([rule], None)
    assert printed(rows).startswith("club\n")
