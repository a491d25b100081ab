"""``cfglint rules``."""

from __future__ import annotations

import json

import pytest

from cfglint import plugins
from cfglint.errors import Problem
from cfglint.plugins import Loaded, load_rules

from .conftest import Call


def test_a_line_for_each_rule(call: Call) -> None:
    code, out, err = call("rules")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    rules = load_rules().rules
    assert len(lines) == len(rules)
    for line, rule in zip(lines, rules, strict=True):
        assert line.split()[:2] == [rule.id, rule.grade]
        assert line.endswith(rule.title)


def test_json(call: Call) -> None:
    code, out, err = call("rules", "--as", "json")
    assert (code, err) == (0, "")
    assert out.isascii()
    rows = json.loads(out)
    rules = load_rules().rules
    assert [row["id"] for row in rows] == [rule.id for rule in rules]
    assert {row["pack"] for row in rows} == {"builtin"}
    options = {row["id"]: [one["name"] for one in row["options"]] for row in rows}
    assert options["modes/near-a-range-edge"] == ["margin_us"]
    assert all(row["why"] and row["source"] for row in rows)


def test_other_packs_are_named_and_broken_ones_told(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = load_rules().rules[0]._replace(pack="club", title="A \x1b[31mtitle")
    broken = Problem("rule pack `x` cannot be loaded")
    monkeypatch.setattr(plugins, "load_rules", lambda: Loaded((first,), (broken,)))
    code, out, err = call("rules")
    assert code == 2
    assert out == f"{first.id}  {first.grade:<6}  A \\x1b[31mtitle  (club)\n"
    assert err == "cfglint: rule pack `x` cannot be loaded\n"
    monkeypatch.setattr(plugins, "load_rules", lambda: Loaded((), (broken,)))
    assert call("rules").out == ""
