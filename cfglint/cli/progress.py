"""What a long run is at, on standard error: in a terminal only, and not before a second is over.

Whatever is slow tells what it has done (:class:`AtWork` is called); rich is imported once there is
something to show.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from threading import Timer
    from types import TracebackType

    from rich.progress import Progress, TaskID

#: Seconds that a run may take before it says what it is at.
PATIENCE = 1.0
#: Seconds between two pictures of how far it is.
PAUSE = 0.1


def at_work(what: str, *, quiet: bool = False, timed: bool = False) -> AtWork:
    """What shows that a run is at work, to be entered; nothing is shown if ``quiet``.

    ``timed`` is for work that says nothing while it goes on: it shows when the time is over.  That
    takes a thread, so no process may be forked meanwhile.
    """
    return AtWork(what, shown=not quiet and _watched(), timed=timed)


def _watched() -> bool:
    """Whether standard error is a terminal that can be written over."""
    try:
        return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
    except (AttributeError, ValueError):  # started without one
        return False


class AtWork:
    """Called with how many were done, how many there are, and what comes next."""

    def __init__(self, what: str, *, shown: bool, timed: bool) -> None:
        self.what = what
        self.shown = shown
        self.timed = timed
        self.state = (0, 0, "")
        self._timer: Timer | None = None
        self._page: Progress | None = None
        self._task: TaskID | None = None

    def __enter__(self) -> AtWork:
        if self.shown:
            from time import monotonic

            self._clock = monotonic
            self._due = monotonic() + PATIENCE
            if self.timed:
                from threading import Timer

                self._timer = Timer(PATIENCE, self._start)
                self._timer.daemon = True
                self._timer.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        wrong: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer.join()
        if self._page is not None:
            self._page.stop()

    def __call__(self, done: int, total: int, name: str = "") -> None:
        if not self.shown:
            return
        self.state = (done, total, name)
        if self._page is not None:
            self._update()
        elif self._timer is None and self._clock() >= self._due:
            self._start()

    def _start(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TextColumn

        page = Progress(
            SpinnerColumn(),
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.fields[name]}", markup=False),
            console=Console(stderr=True),
            transient=True,
            # A thread of its own would be in the way of forking.
            auto_refresh=self.timed,
            # What the command itself prints goes where it always goes.
            redirect_stdout=False,
            redirect_stderr=False,
        )
        self._task = page.add_task(self.what, total=None, name="")
        self._page = page
        self._update()
        page.start()

    def _update(self) -> None:
        from cfglint.report.plain import visible

        done, total, name = self.state
        assert self._page is not None
        assert self._task is not None
        self._page.update(
            self._task, completed=done, total=total or None, name=visible(name), refresh=False
        )
        if not self.timed and self._clock() >= self._due:
            self._due = self._clock() + PAUSE
            self._page.refresh()
