"""``cfglint why``."""

from __future__ import annotations

import pytest

from cfglint import plugins
from cfglint.errors import Problem
from cfglint.plugins import Loaded, load_rules
from cfglint.rule import Rule

from .conftest import Call

RULES = load_rules().rules


@pytest.mark.parametrize("item", RULES, ids=lambda item: item.id)
def test_every_rule_has_a_page_no_wider_than_the_terminal(
    call: Call, item: Rule, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    code, out, err = call("why", item.id)
    assert (code, err) == (0, "")
    lines = out.split("\n")
    assert lines[0] == item.id
    assert f"Grade: {item.grade}." in lines
    # Examples stand as they are; everything else is set within the terminal.
    assert all(len(line) < 80 for line in lines if not line.startswith("    "))
    for example in item.examples:
        for line in example.dump.strip("\n").split("\n"):
            assert line.strip() in out


def test_markdown(call: Call) -> None:
    code, out, err = call("why", "modes/near-a-range-edge", "--as", "markdown")
    assert (code, err) == (0, "")
    assert out.startswith("# A switch position close to a range's edge\n\n")
    assert "- option `margin_us` (default `25.0`): " in out
    assert "## Broken\n\n    " in out
    assert out.endswith("Rule: `modes/near-a-range-edge`\n")


def test_a_mistyped_name(call: Call) -> None:
    code, out, err = call("why", "motor/left-on-default-signl")
    assert (code, out) == (2, "")
    assert "there is no rule `motor/left-on-default-signl`" in err
    assert "did you mean `motor/left-on-default-signal`?" in err
    code, _, err = call("why", "zzzz")
    assert code == 2
    assert "`cfglint rules` lists them" in err


def test_a_broken_pack_is_told_and_the_page_still_shown(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = Problem("the pack `reeds` cannot be loaded", exit=3)
    monkeypatch.setattr(plugins, "load_rules", lambda: Loaded(RULES, (wrong,)))
    code, out, err = call("why", RULES[0].id)
    assert code == 3
    assert out.startswith(RULES[0].id)
    assert "the pack `reeds` cannot be loaded" in err
