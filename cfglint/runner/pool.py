"""Checking many files in several processes.

Forked, so that rules, dialects and cards need not be loaded again; only flat records come back.
Imported only when it pays.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.apart import Child, Stopped, open_pipe, read_frame, write_frame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.runner.check import Checked, Checker
    from cfglint.runner.discover import Dump
    from cfglint.runner.lint import Tell

#: The numbers of so many files fit a pipe, four bytes each, on every system that has one.
MOST_WAITING = 1000


def check_in_parallel(
    checker: Checker, dumps: Sequence[Dump], processes: int, tell: Tell | None = None
) -> list[Checked]:
    """What each dump came to, in the order of ``dumps``; ``tell`` as in Request.

    Should a worker be killed (by the system, for want of memory, say), the file that it was at is
    told to be unread, and another takes its place.  Raises Stopped when interrupted.
    """
    import gc

    collecting = gc.isenabled()
    gc.disable()
    gc.freeze()  # what is there already is not looked through (and so not copied) in workers
    pool = _Pool(checker, dumps, tell)
    try:
        return pool.run(processes)
    except KeyboardInterrupt:
        files = sorted(dumps[at].file for at in pool.doing.values() if at is not None)
        raise Stopped("while checking " + ", ".join(files)) from None
    finally:
        pool.end()
        gc.unfreeze()
        if collecting:
            gc.enable()


class _Pool:
    def __init__(self, checker: Checker, dumps: Sequence[Dump], tell: Tell | None) -> None:
        self.checker = checker
        self.dumps = dumps
        self.tell = tell
        self.found: dict[int, Checked] = {}
        #: Which file each worker is at.
        self.doing: dict[Child, int | None] = {}
        self.waiting = list(range(len(dumps)))[::-1]
        self.todo, self.give = open_pipe()

    def run(self, processes: int) -> list[Checked]:
        import pickle
        from select import select

        self._hand_out()
        for _ in range(processes):
            self._start()
        while self.doing:
            workers = {child.pipe: child for child in self.doing}
            for pipe in select(list(workers), [], [])[0]:
                child = workers[pipe]
                data = read_frame(pipe)
                if data is None:
                    self._ended(child)
                elif len(data) == 4:
                    self.doing[child] = at = int.from_bytes(data, "big")
                    if self.tell is not None:
                        self.tell(len(self.found), len(self.dumps), self.dumps[at].file)
                else:
                    at = self.doing[child] or 0
                    self.doing[child] = None
                    self.found[at] = pickle.loads(data)
                    self._hand_out(1)
        # A worker may be killed just after it took a number and before it told so.
        return [
            self.found.get(at) or _unread(dump.file, "it did not say how")
            for at, dump in enumerate(self.dumps)
        ]

    def _hand_out(self, count: int = MOST_WAITING) -> None:
        """Write numbers of files for workers to take; when there are none left, say so."""
        while count and self.waiting:
            os.write(self.give, self.waiting.pop().to_bytes(4, "big"))
            count -= 1
        if not self.waiting and self.give >= 0:
            os.close(self.give)
            self.give = -1

    def _start(self) -> None:
        child = Child(self._work, grouped=False)
        self.doing[child] = None

    def _ended(self, child: Child) -> None:
        at = self.doing.pop(child)
        how = child.ended()
        if at is not None:
            self.found[at] = _unread(self.dumps[at].file, how)
            self._hand_out(1)
            self._start()

    def _work(self, told: int) -> None:
        """What a worker does: one file after the other, until none is left."""
        import pickle
        import signal

        # An interrupt from the terminal reaches all; whoever started the workers ends them.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        if self.give >= 0:
            os.close(self.give)
        while number := os.read(self.todo, 4):
            write_frame(told, number)
            checked = self.checker.check(self.dumps[int.from_bytes(number, "big")])
            write_frame(told, pickle.dumps(checked, pickle.HIGHEST_PROTOCOL))

    def end(self) -> None:
        for child in self.doing:
            child.end()
        for pipe in (self.todo, self.give):
            if pipe >= 0:
                os.close(pipe)


def _unread(file: str, how: str) -> Checked:
    from cfglint.errors import EXIT_UNREAD
    from cfglint.results import Trouble
    from cfglint.runner.check import Checked

    trouble = Trouble(
        "file",
        f"this file was not checked: the process that was at it came to an early end ({how})",
        "check it by itself, where there is more memory",
        EXIT_UNREAD,
        file,
    )
    return Checked(None, (), (trouble,))
