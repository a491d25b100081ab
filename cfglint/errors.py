"""The one exception for everything a person can get wrong outside a dump."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.span import Span

#: Exit codes, as documented; when several apply the highest number wins.
EXIT_CLEAR, EXIT_FINDINGS, EXIT_USE, EXIT_UNREAD, EXIT_NOTHING = 0, 1, 2, 3, 4


class Problem(Exception):  # noqa: N818  (it is shown to a person, never a traceback)
    """Something a person must put right before cfglint can go on.

    ``span`` is where it stands (None when it stands in no file), ``message`` what is wrong,
    ``instead`` what to do, ``exit`` the exit code it leads to.
    """

    def __init__(
        self,
        message: str,
        *,
        span: Span | None = None,
        file: str = "",
        instead: str = "",
        exit: int = EXIT_USE,  # noqa: A002
    ) -> None:
        super().__init__(message)
        self.message = message
        self.span = span
        self.file = span.file if span is not None else file
        self.instead = instead
        self.exit = exit

    def __str__(self) -> str:
        place = str(self.span) if self.span is not None else self.file
        head = f"{place}: {self.message}" if place else self.message
        return f"{head}; {self.instead}" if self.instead else head


class Problems(Problem):
    """Several problems of one file at once, in the order of the file.

    It is a Problem itself (the first one, with all texts when shown), so that whoever handles
    one handles many; ``each`` holds them singly.
    """

    def __init__(self, each: Sequence[Problem]) -> None:
        first = each[0]
        super().__init__(
            first.message,
            span=first.span,
            file=first.file,
            instead=first.instead,
            exit=max(problem.exit for problem in each),
        )
        self.each = tuple(each)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.each)


def raise_all(problems: Iterable[Problem]) -> None:
    """Raise what there is: nothing, the one Problem, or all of them as Problems.

    Problems of one file are put in the order of its lines; those without a place come first.
    """
    each = sorted(problems, key=lambda one: one.span[1:3] if one.span is not None else (0, 0))
    if len(each) == 1:
        raise each[0]
    if each:
        raise Problems(each)
