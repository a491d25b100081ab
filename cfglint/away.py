"""Rules whose code is never loaded here: all that is here of them is their page.

A file or pack that offers rules and nothing else is loaded in a process of its own, which tells
the page of each.  Whoever asks such a rule has it loaded again in another process
(:mod:`cfglint.foreign`).  So what it does while it is loaded or asked reaches nothing of ours, nor
the rules of another file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.errors import EXIT_UNREAD, EXIT_USE, Problem
from cfglint.rule import MOST_TEXT, Example, FleetRule, Option, Rule
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

#: What was loaded in this process, which is none of ours, by whose it is.
_LOADED: dict[str, Sequence[Rule]] = {}


class Away:
    """Stands for the function of a rule, or for the check of one of its options.

    ``home`` is whose it is, ``file`` where it stands; ``load`` gives all rules of that home, of
    which it is number ``at``.  To be called in a process of its own.
    """

    __slots__ = ("at", "file", "home", "id", "load", "option")

    def __init__(
        self,
        home: str,
        file: str,
        load: Callable[[], Sequence[Rule]],
        at: int,
        id: str,  # noqa: A002
        option: int = -1,
    ) -> None:
        self.home = home
        self.file = file
        self.load = load
        self.at = at
        self.id = id
        self.option = option

    def __call__(self, *words: Any) -> Any:
        if self.home not in _LOADED:
            _LOADED[self.home] = self.load()
        rules = _LOADED[self.home]
        if self.at >= len(rules) or rules[self.at].id != self.id:
            raise ValueError("its file offers other rules whenever it is loaded")
        rule = rules[self.at]
        check: Any = rule.check if self.option < 0 else rule.options[self.option].check
        return check(*words)

    def _key(self) -> tuple[str, int, str, int]:
        return self.home, self.at, self.id, self.option

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Away) and self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())


def flat_rule(item: Rule) -> list[Any]:
    """The page of a rule as JSON can hold it."""
    return [
        type(item) is FleetRule,
        item[:5],
        [[*option[:5], option.check is not None] for option in item.options],
        item.examples,
        item.confidence,
        item.aliases,
        item.asks,
    ]


def rule_of(flat: Any, home: str, file: str, load: Callable[[], Sequence[Rule]], at: int) -> Rule:
    """A rule of which only the page is here.  Raises TypeError or ValueError for what is no page;
    its parts are still to be looked at (``cfglint.rule.unsound``).
    """
    fleet, texts, options, examples, confidence, aliases, asks = flat
    name, grade, title, why, source = texts
    option: Any = Option
    example: Any = Example
    return (FleetRule if fleet is True else Rule)(
        name,
        grade,
        title,
        why,
        source,
        Away(home, file, load, at, str(name)),
        tuple(
            option(*row[:5], Away(home, file, load, at, str(name), number) if row[5] else None)
            for number, row in enumerate(options)
        ),
        tuple(
            example(*row[:4], tuple((key, value) for key, value in row[4]), row[5], tuple(row[6]))
            for row in examples
        ),
        confidence,
        tuple(aliases),
        "",
        tuple(asks),
    )


def flat_problem(problem: Problem) -> list[Any]:
    return [problem.message, problem.instead, problem.exit, problem.file, problem.span]


def problem_of(flat: Any) -> Problem:
    """A problem that was told in a process of its own.  Raises TypeError or ValueError."""
    message, instead, code, file, place = flat
    for text in (message, instead, file):
        if not isinstance(text, str) or len(text) > MOST_TEXT:
            raise TypeError("it told of no problem")
    if code not in (EXIT_USE, EXIT_UNREAD):
        raise ValueError("it told of an exit code that is none")
    if place is None:
        return Problem(message, instead=instead, exit=code, file=file)
    named, *numbers = place
    if not isinstance(named, str) or not all(type(one) is int for one in numbers):
        raise TypeError("it told of no place")
    return Problem(message, instead=instead, exit=code, span=Span(named, *numbers))
