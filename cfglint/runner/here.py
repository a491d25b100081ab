"""Names of files as they are told: from where the person stands, so that they can be opened.

Within a run a file is named from the hangar's root: fingerprints, accepts and SARIF must not
depend on where somebody stands.  What is printed for people is turned by :class:`Here` last of all.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, overload

from cfglint.errors import Problem, Problems
from cfglint.runner.reading import STDIN

if TYPE_CHECKING:
    from cfglint.finding import Finding, Outcome
    from cfglint.results import CraftLine, Run, Trouble
    from cfglint.span import Span


def from_here(path: str) -> str:
    """A path as it is told: from the current folder, or whole if that is shorter outside it."""
    whole = os.path.abspath(path)
    try:
        near = os.path.relpath(whole)
    except ValueError:  # on another drive
        near = whole
    outside = near.split(os.sep, 1)[0] == os.pardir
    return (whole if outside and len(whole) < len(near) else near).replace(os.sep, "/")


class Here:
    """Turns names that start at a hangar's root (or whole paths) into such as are told."""

    def __init__(self, root: str) -> None:
        self.root = root
        self._made: dict[str, str] = {"": "", STDIN: STDIN}

    def file(self, name: str) -> str:
        """A file's name."""
        made = self._made.get(name)
        if made is None:
            made = self._made[name] = from_here(os.path.join(self.root, name))
        return made

    @overload
    def span(self, span: Span) -> Span: ...
    @overload
    def span(self, span: None) -> None: ...
    def span(self, span: Span | None) -> Span | None:
        """A place."""
        return None if span is None else span._replace(file=self.file(span.file))

    def problem(self, problem: Problem) -> Problem:
        """A problem, each of its parts."""
        if isinstance(problem, Problems):
            return Problems([self.problem(one) for one in problem.each])
        return Problem(
            problem.message,
            span=self.span(problem.span),
            file=self.file(problem.file),
            instead=problem.instead,
            exit=problem.exit,
        )

    def run(self, run: Run) -> Run:
        """All that a report for people tells of a run; not for fingerprints, nor for SARIF."""
        return run._replace(
            crafts=tuple(map(self._craft, run.crafts)),
            outcomes=tuple(map(self._outcome, run.outcomes)),
            troubles=tuple(map(self._trouble, run.troubles)),
            aside=tuple(one._replace(span=self.span(one.span)) for one in run.aside),
        )

    def mark(self, mark: str) -> str:
        """A place that is text already: ``file:line:column``, or a file alone."""
        parts = mark.rsplit(":", 2)
        if len(parts) == 3 and parts[1].isdigit() and parts[2].isdigit():
            return f"{self.file(parts[0])}:{parts[1]}:{parts[2]}"
        return self.file(mark)

    def _craft(self, craft: CraftLine) -> CraftLine:
        unsure = craft.unsure
        if unsure:
            from cfglint.dialect.load import bundled_names

            # A bundled dialect is in no folder of anybody's.
            if craft.dialect not in bundled_names():
                unsure = tuple(one._replace(mark=self.mark(one.mark)) for one in unsure)
        return craft._replace(file=self.file(craft.file), card=self.file(craft.card), unsure=unsure)

    def _outcome(self, outcome: Outcome) -> Outcome:
        lacks = outcome.lacks
        if lacks:
            lacks = tuple(
                one._replace(text=one.text.replace(f"`{one.fact}`", f"`{self.file(one.fact)}`"))
                if one.where == "dump" and f"`{one.fact}`, which" in one.text
                else one
                for one in lacks
            )
        return outcome._replace(
            file=self.file(outcome.file),
            findings=tuple(map(self._finding, outcome.findings)),
            lacks=lacks,
            whole=self.span(outcome.whole),
        )

    def _finding(self, found: Finding) -> Finding:
        related = tuple(one._replace(span=self.span(one.span)) for one in found.related)
        return found._replace(
            file=self.file(found.file), span=self.span(found.span), related=related
        )

    def _trouble(self, trouble: Trouble) -> Trouble:
        return trouble._replace(file=self.file(trouble.file), span=self.span(trouble.span))
