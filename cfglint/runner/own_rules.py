"""Rules besides the installed ones: the hangar's own files, and folders named on purpose.

Files of TOML run no code, so a hangar may name them.  Python is run only where whoever starts the
run says so, by ``--rules`` or in ``CFGLINT_RULES``; a repository that is checked cannot.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.errors import Problem, Problems
from cfglint.plugins import Loaded

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from cfglint.rule import Rule
    from cfglint.runner.config import Config

#: Names paths of rules for every run, divided as in ``PATH``.
VARIABLE = "CFGLINT_RULES"


def with_own_rules(loaded: Loaded, config: Config | None, paths: Sequence[str] = ()) -> Loaded:
    """The installed rules, those of the hangar's files, and those of ``paths`` and
    :data:`VARIABLE`.

    What is wrong with a file is in ``problems``, where it is named from the hangar's root or by
    its whole path; the others still count.
    """
    named = [*paths, *filter(None, os.environ.get(VARIABLE, "").split(os.pathsep))]
    if not named and (config is None or not config.rule_files):
        return loaded
    rules = list(loaded.rules)
    names = {name: rule.pack for rule in rules for name in (rule.id, *rule.aliases)}
    problems = list(loaded.problems)
    seen: set[str] = set()
    for path, shown, load in _files(config, named, problems):
        whole = os.path.realpath(path)
        if whole in seen:
            continue  # named by the hangar and by the command line
        seen.add(whole)
        try:
            found = load()
        except Problem as problem:
            problems += problem.each if isinstance(problem, Problems) else [problem]
            continue
        for rule in found:
            twice = next((name for name in (rule.id, *rule.aliases) if name in names), "")
            if twice:
                problems.append(
                    Problem(
                        f"two rules are called `{twice}`: one of `{names[twice]}`, one of this "
                        "file; only the first was used",
                        file=shown,
                        instead="give this one another name",
                    )
                )
                continue
            names.update(dict.fromkeys((rule.id, *rule.aliases), shown))
            rules.append(rule)
    return Loaded(tuple(rules), tuple(problems))


def _files(
    config: Config | None, named: Iterable[str], problems: list[Problem]
) -> Iterator[tuple[str, str, Callable[[], tuple[Rule, ...]]]]:
    """Every file of rules: its path, how it is shown, and what loads it."""
    if config is not None:
        yield from _of_hangar(config, problems)
    for path in named:
        from cfglint.rulefiles import rule_files, rules_of_file

        # Whole paths, since names of the hangar's files start elsewhere than those typed.
        whole = os.path.abspath(path)
        try:
            files = rule_files(whole)
        except Problem as problem:
            problems.append(problem)
            continue
        if not files:
            problems.append(
                Problem(
                    "no file of rules is in this folder", file=whole, instead="look at the path"
                )
            )
        for file in files:
            yield file, file, lambda file=file: rules_of_file(file)  # type: ignore[misc]


def _of_hangar(
    config: Config, problems: list[Problem]
) -> Iterator[tuple[str, str, Callable[[], tuple[Rule, ...]]]]:
    from cfglint.runner.discover import fitting

    for at, pattern in enumerate(config.rule_files):
        files = fitting(config, pattern)
        if not files:
            path = ("hangar", "rule_files")
            one = isinstance(config.document.data["hangar"]["rule_files"], str)
            problems.append(
                Problem(
                    f"`{pattern}` fits no file of rules",
                    span=config.where(*path) if one else config.where(*path, at),
                    instead="look at the folder's name, or take the pattern out",
                )
            )
        for path_ in files:
            shown = os.path.relpath(path_, config.root).replace(os.sep, "/")
            yield path_, shown, lambda path_=path_, shown=shown: _toml(path_, shown, config.root)  # type: ignore[misc]


def _toml(path: str, shown: str, root: str) -> tuple[Rule, ...]:
    from cfglint.runner.reading import check_within
    from cfglint.toml_rules import rules_of_file

    check_within(root, path, shown)
    return tuple(rule._replace(pack="hangar") for rule in rules_of_file(path, shown))
