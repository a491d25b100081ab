"""Rule files as pytest sees them: a file, in it its rules, in each its page and its examples."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.errors import Problem
from cfglint.kit.examples import check_example, check_rule, expected_and_found
from cfglint.rulefiles import is_rule_file, rules_of_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.rule import Example, Rule


class Wrong(Exception):  # noqa: N818  (shown as its text, never as a traceback)
    """What is wrong with a rule or an example, ready to be shown."""


def ask(config: pytest.Config, named: Sequence[str], listed: Sequence[Path]) -> None:
    """Test the rules of these paths too.  Raises pytest.UsageError for one that is not there."""
    paths = [config.invocation_params.dir / name for name in named] + list(listed)
    for path in paths:
        if not path.exists():
            raise pytest.UsageError(
                f"there is no folder or file of rules {path} (--cfglint-rules, cfglint_rules)"
            )
    config.pluginmanager.register(Collector([path.resolve() for path in paths]), "cfglint-collect")
    if config.args_source is not pytest.Config.ArgsSource.ARGS:
        # What pytest would look through by itself (testpaths, the current folder) need not
        # hold these; one that it does is still collected once.
        config.args += [str(path) for path in paths]


class Collector:
    """Finds the rule files among what pytest looks at."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self.paths = paths
        #: Ids and former ids, with the rule and the file they belong to.
        self.names: dict[str, tuple[str, Path]] = {}
        self._builtin: tuple[Rule, ...] | None = None

    def pytest_collect_file(self, file_path: Path, parent: pytest.Collector) -> RuleFile | None:
        path = file_path.resolve()
        if path not in self.paths and not (
            is_rule_file(path.name) and any(folder == path.parent for folder in self.paths)
        ):
            return None
        made: RuleFile = RuleFile.from_parent(parent, path=file_path, home=self)
        return made

    def builtin(self) -> tuple[Rule, ...]:
        """The rules that come with cfglint."""
        if self._builtin is None:
            from cfglint.plugins import BUILTIN, Entry, load_rules

            self._builtin = load_rules([Entry("builtin", BUILTIN, "cfglint-craft")]).rules
        return self._builtin

    def doubled(self, rule: Rule, path: Path) -> Iterator[str]:
        """Names of the rule that another one, of any file or built in, already has."""
        for name in (rule.id, *rule.aliases):
            for other in self.builtin():
                if name in (other.id, *other.aliases) and not _same_file(rule, other):
                    yield f"{name}: a built-in rule is called so; choose another name"
            owner = self.names.setdefault(name, (rule.id, path))
            if owner != (rule.id, path):
                yield f"{name}: {owner[0]} in {owner[1].name} is called so too; rename one"


def _same_file(rule: Rule, other: Rule) -> bool:
    """Whether two rules stand in one file, as when the built-in ones are tested themselves."""
    file = _file_of(rule)
    return file is not None and file == _file_of(other)


def _file_of(rule: Rule) -> str | None:
    """The file of a rule's function; None for one that was not made by ``def``."""
    code = getattr(rule.check, "__code__", None)
    return None if code is None else str(code.co_filename)


class RuleFile(pytest.File):
    """One file of rules."""

    def __init__(self, *, home: Collector, **more: Any) -> None:
        super().__init__(**more)
        self.home = home

    def collect(self) -> Iterable[RuleNode]:
        try:
            rules = rules_of_file(str(self.path))
        except Problem as problem:
            raise self.CollectError(str(problem)) from None
        return [RuleNode.from_parent(self, name=rule.id, rule=rule) for rule in rules]


class RuleNode(pytest.Collector):
    """One rule of a file."""

    def __init__(self, *, rule: Rule, **more: Any) -> None:
        super().__init__(**more)
        self.rule = rule

    def collect(self) -> Iterator[RuleItem]:
        file = self.getparent(RuleFile)
        assert file is not None
        yield PageItem.from_parent(self, name="page", rule=self.rule, home=file.home)
        for number, example in enumerate(self.rule.examples, 1):
            yield ExampleItem.from_parent(
                self,
                name=f"{example.kind}-{number}",
                rule=self.rule,
                home=file.home,
                example=example,
            )


class RuleItem(pytest.Item):
    """One test of a rule."""

    def __init__(self, *, rule: Rule, home: Collector, **more: Any) -> None:
        super().__init__(**more)
        self.rule = rule
        self.home = home

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        if isinstance(excinfo.value, Wrong):
            return str(excinfo.value)
        return super().repr_failure(excinfo, style)

    def reportinfo(self) -> tuple[Path, int | None, str]:
        line = None
        if _file_of(self.rule) == str(self.path):
            line = self.rule.check.__code__.co_firstlineno - 1
        return self.path, line, f"{self.rule.id} {self.name}"


class PageItem(RuleItem):
    """Title, reason, source, the kinds of example, a name of its own; no crash for want of a
    fact.
    """

    def runtest(self) -> None:
        complaints = [*self.home.doubled(self.rule, self.path), *check_rule(self.rule)]
        if complaints:
            raise Wrong("\n".join(complaints))


class ExampleItem(RuleItem):
    """One example."""

    def __init__(self, *, example: Example, **more: Any) -> None:
        super().__init__(**more)
        self.example = example

    def runtest(self) -> None:
        others = [other for other in self.home.builtin() if other.id != self.rule.id]
        complaints = check_example(self.rule, self.example, others)
        if complaints:
            shown = expected_and_found(self.rule, self.example)
            raise Wrong("\n".join([*complaints, *([shown] if shown else [])]))
