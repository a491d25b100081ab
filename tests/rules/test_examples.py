"""Every example of every built-in rule, loaded, read and judged as a run would."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import cfglint_rules
from cfglint.kit import check_example, check_rule
from cfglint.plugins import BUILTIN, Entry, load_rules

if TYPE_CHECKING:
    from cfglint.rule import Example, Rule

LOADED = load_rules([Entry("builtin", BUILTIN, "cfglint-craft")])
EXAMPLES = [
    pytest.param(rule, example, id=f"{rule.id}-{number}-{example.kind}")
    for rule in LOADED.rules
    for number, example in enumerate(rule.examples, 1)
]


@pytest.mark.parametrize(("rule", "example"), EXAMPLES)
def test_example(rule: Rule, example: Example) -> None:
    others = [other for other in LOADED.rules if other.id != rule.id]
    complaints = check_example(rule, example, others)
    assert not complaints, "\n" + "\n".join(complaints)


@pytest.mark.parametrize("rule", LOADED.rules, ids=lambda rule: rule.id)
def test_page(rule: Rule) -> None:
    """Title, reason, source, and an example of each kind that the rule can come to."""
    assert check_rule(rule) == []


@pytest.mark.parametrize("rule", LOADED.rules, ids=lambda rule: rule.id)
def test_source_says_how_far_it_can_be_trusted(rule: Rule) -> None:
    marks = ("published", "common practice", "from memory", "by arithmetic")
    assert any(mark in rule.source for mark in marks)
    # A fact from memory alone may advise, never ground a craft.
    if rule.source == "from memory":
        assert rule.grade == "advise"


def test_the_pack_loads_whole() -> None:
    assert LOADED.problems == ()
    assert {rule.pack for rule in LOADED.rules} == {"builtin"}
    assert len({rule.id for rule in LOADED.rules}) == len(LOADED.rules)


def test_every_module_of_rules_is_listed() -> None:
    folder = Path(cfglint_rules.__file__).parent
    files = [path.relative_to(folder) for path in folder.rglob("*.py") if path.name[0] != "_"]
    there = {".".join(path.with_suffix("").parts) for path in files}
    assert there == set(cfglint_rules.MODULES)
    assert all(cfglint_rules.rules_of(module) for module in cfglint_rules.MODULES)


def test_importing_the_pack_imports_no_rule() -> None:
    code = (
        "import sys, cfglint_rules; "
        "print(sorted(name for name in sys.modules if name.startswith('cfglint')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stderr == ""
    assert done.stdout.strip() == "['cfglint_rules']"


def test_loading_the_rules_imports_nothing_heavy() -> None:
    code = (
        "import sys, cfglint_rules; cfglint_rules.cfglint_rules(); "
        "print(sorted({'lark', 'rich', 'json', 'tomllib', 'dataclasses'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stderr == ""
    assert done.stdout.strip() == "[]"
