"""Writing: reports to standard output or a file, complaints to standard error."""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False  # as in cfglint.cli
if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterable
    from typing import TextIO

    from cfglint.errors import Problem
    from cfglint.report.blocks import Block
    from cfglint.results import Trouble

#: Wrong use or configuration; something could not be read or failed (see cfglint.errors).
EXIT_USE, EXIT_UNREAD = 2, 3


def complain(message: str, *, prog: str = "cfglint") -> None:
    """One line on standard error.  Nothing in it can steer the terminal."""
    from cfglint.report.plain import visible

    stream = sys.stderr
    if stream is None:  # started without one
        return
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        stream.write(visible(f"{prog}: {message}", encoding) + "\n")
        stream.flush()
    except (OSError, ValueError):
        pass  # nobody listens


def complain_of(problem: Problem) -> None:
    """Each of a problem's parts on its own line."""
    from cfglint.errors import Problems

    for one in problem.each if isinstance(problem, Problems) else (problem,):
        complain(str(one))


def complain_of_troubles(troubles: Iterable[Trouble]) -> None:
    """Troubles of a run whose report goes to another program."""
    for trouble in troubles:
        place = str(trouble.span) if trouble.span is not None else trouble.file
        parts = [part for part in (place, trouble.rule, trouble.message) if part]
        text = ": ".join(parts)
        detail = trouble.detail.rstrip("\n").rpartition("\n")[2]
        text += f" ({detail})" if detail else ""
        complain(f"{text}; {trouble.instead}" if trouble.instead else text)


def failed(wrong: Exception) -> int:
    """The exit code for what stopped a command, after saying what it was."""
    from cfglint.errors import Problem

    if isinstance(wrong, Problem):
        complain_of(wrong)
        return wrong.exit
    if os.environ.get("CFGLINT_DEBUG"):
        import traceback

        traceback.print_exception(wrong)
    from cfglint.apart import last_line

    complain(
        f"cfglint itself failed: {last_line(wrong)}; report it, with what CFGLINT_DEBUG=1 shows"
    )
    return EXIT_UNREAD


def to_stdout(write: Callable[[TextIO], object]) -> int:
    """Let ``write`` write to standard output.  0, or 2 if that cannot be written to.

    A reader that has seen enough (``| head``) is no error.
    """
    stream = sys.stdout
    if stream is None:
        complain("there is no standard output to write the report to")
        return EXIT_USE
    try:
        write(stream)
        stream.flush()
    except BrokenPipeError:
        _give_up(stream)
    except OSError as wrong:
        complain(f"the report cannot be written: {wrong.strerror or wrong}")
        _give_up(stream)
        return EXIT_USE
    return 0


def to_screen(options: Namespace, blocks: Iterable[Block]) -> int:
    """Print a report for people as the options for its page say; as :func:`to_stdout`."""
    from cfglint.report.screen import write

    colour = colour_of(options)
    return to_stdout(lambda stream: write(blocks, stream, options.width, colour))


def colour_of(options: Namespace) -> bool | None:
    """Whether a page for people is coloured; None leaves it to the environment and the terminal."""
    return {"always": True, "never": False}.get(options.colour)


def _give_up(stream: TextIO) -> None:
    """Keep Python from trying once more, with a traceback, when it ends."""
    try:
        number = stream.fileno()
    except (OSError, ValueError):
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, number)
    os.close(nowhere)
