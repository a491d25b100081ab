"""What a hangar makes of the rules: which are off, which have another grade or other options."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.errors import Problem
    from cfglint.rule import Rule
    from cfglint.runner.config import Config

#: How modules of files that somebody names are called (see cfglint.rulefiles).
_OWN = "cfglint_folder_"


class RuleHere(NamedTuple):
    """A rule as a hangar has it.

    ``grade`` is ``off`` or the grade that counts; ``values`` are those of all its options;
    ``places`` say by which line (``file:line:column``) ``grade`` or an option was set.
    ``file`` is where the rule comes from: a module, or a file of the hangar.
    """

    rule: Rule
    grade: str
    values: Mapping[str, Any]
    places: Mapping[str, str]
    file: str


def as_here(rules: Sequence[Rule], config: Config | None) -> tuple[list[RuleHere], list[Problem]]:
    """Every rule as it is here, and what is wrong with ``[rules]``."""
    settings: dict[str, tuple[str, dict[str, Any]]] = {}
    problems: list[Problem] = []
    places: dict[str, dict[str, str]] = {}
    if config is not None:
        from cfglint.runner.here import Here
        from cfglint.runner.select import settings_of

        wrong = settings_of(rules, config, settings)
        here = Here(config.root)
        problems += map(here.problem, wrong)
        ids = {name: rule.id for rule in rules for name in (rule.id, *rule.aliases)}
        for name, said in config.rules.items():
            keys: Sequence[str] = list(said) if isinstance(said, dict) else ()
            found = {key: str(here.span(config.where("rules", name, key))) for key in keys}
            found = found or {"grade": str(here.span(config.where("rules", name)))}
            places.setdefault(ids.get(name, name), found)
    rows = []
    for rule in rules:
        grade, values = settings.get(rule.id, ("", {}))
        every = {option.name: option.default for option in rule.options} | values
        rows.append(
            RuleHere(rule, grade or rule.grade, every, places.get(rule.id, {}), file_of(rule))
        )
    return rows, problems


def file_of(rule: Rule) -> str:
    """Where a rule stands: its file, or the module of its function if that is installed."""
    check: Any = rule.check
    # A rule of TOML is no function; what it says knows its file.
    file = getattr(getattr(check, "says", None), "file", "")
    module = str(getattr(check, "__module__", "") or "")
    if not file and module.startswith(_OWN):
        file = getattr(getattr(check, "__code__", None), "co_filename", "")
        file = os.path.relpath(file) if file else ""
    return file or module
