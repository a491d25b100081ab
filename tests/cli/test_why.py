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
    assert all(len(line) <= 80 for line in lines if not line.startswith("    "))
    for example in item.examples:
        for line in example.dump.strip("\n").split("\n"):
            assert line.strip() in out


def test_markdown(call: Call) -> None:
    code, out, err = call("why", "modes/near-a-range-edge", "--as", "markdown")
    assert (code, err) == (0, "")
    assert out.startswith("# A switch position close to a range's edge\n\n")
    assert "- option `margin_us` (default `22.0`): " in out
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


# ------------------------------------------------------------------ all of them


def test_all_as_markdown(call: Call) -> None:
    code, out, err = call("why", "--all", "--as", "markdown")
    assert (code, err) == (0, "")
    lines = out.split("\n")
    assert [line for line in lines if line.startswith("# ")] == ["# The rules"]
    for item in RULES:
        assert sum(line.startswith(f"| `{item.id}` | {item.grade} | ") for line in lines) == 1
        assert f"Rule: `{item.id}`" in out
    titles = [line for line in lines if line.startswith("## ")]
    assert len(titles) == len(RULES)
    examples = sum(len(item.examples) for item in RULES)
    assert sum(line.startswith("### ") for line in lines) == examples


def test_all_as_text(call: Call) -> None:
    code, out, err = call("why", "--all")
    assert (code, err) == (0, "")
    pages = out.split("\n" + "-" * 40 + "\n\n")
    assert [page.partition("\n")[0] for page in pages] == [item.id for item in RULES]
    assert pages[1] == call("why", RULES[1].id).out.rstrip("\n") + "\n"


def test_one_rule_or_all(call: Call) -> None:
    for words in ((), ("--all", RULES[0].id)):
        code, out, err = call("why", *words)
        assert (code, out) == (2, "")
        assert err.startswith("cfglint: write a rule's name or --all, one of the two; ")


def test_former_names(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    moved = RULES[0]._replace(aliases=("dump/garbled",), title="A | B")
    monkeypatch.setattr(plugins, "load_rules", lambda: Loaded((moved, *RULES[1:]), ()))
    code, out, _ = call("why", "dump/garbled")
    assert code == 0
    assert out.startswith(f"{moved.id} (formerly dump/garbled)\n")
    assert call("why", "dump/garbled", "--as", "markdown").out.endswith(
        f"Rule: `{moved.id}`, formerly `dump/garbled`\n"
    )
    assert "did you mean `dump/garbled`?" in call("why", "dump/garbld").err
    assert f"| `{moved.id}` | {moved.grade} | A &#124; B |" in call(
        "why", "--all", "--as", "markdown"
    ).out  # fmt: skip
