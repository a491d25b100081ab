"""Work in a process of its own, so that whatever it does to that process does nothing to this one.

For code that is not ours (rules of others), and for several processors.  A child tells what each
job came to through a pipe of its own; one that ends, hangs, forks or writes to standard output is
found out, told of, and followed by a fresh one for what is left.  A child never outlives its
parent: the system ends it when the other end of its life line is closed, however that came about.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence
    from typing import NoReturn

#: Seconds that one job may take.
SECONDS = 20.0
#: A child may need this much more memory than there was when it began, in bytes.
MOST_MEMORY = 2 * 1024**3
#: What one job may tell, in bytes.
MOST_TOLD = 64 * 1024**2
#: Longer words of an exception, and of its traceback, are cut, in characters.
MOST_WORDS, MOST_DETAIL = 500, 50_000

#: Our own ends of all children's pipes, which a new child must not keep open.
_ENDS: set[int] = set()


class Fault(NamedTuple):
    """What a job did instead of coming to an end: in one clause, and with a traceback."""

    text: str
    detail: str = ""


class Stopped(KeyboardInterrupt):
    """Interrupted, with what was running."""


def last_line(wrong: BaseException) -> str:
    """What a traceback would end with, on one line.  Never raises, whatever the exception does."""
    try:
        text = " ".join(str(wrong).split())
    except BaseException:
        text = "its text cannot be had"
    if len(text) > MOST_WORDS:
        text = text[:MOST_WORDS] + " …"
    name = type.__getattribute__(type(wrong), "__name__")
    return f"{name}: {text}" if text else str(name)


def whole_trace(wrong: BaseException) -> str:
    """The traceback of an exception, as far as there is one."""
    from traceback import format_exception

    try:
        return "".join(format_exception(wrong))
    except BaseException:  # of one that cannot be told
        return last_line(wrong)


# ------------------------------------------------------------------ one child


class Child:
    """A forked process: its number, and the pipe that it tells through.

    ``work`` is called in it with the pipe's other end; the child ends when that returns.
    ``grouped``: the child and all that it starts can be ended together, and an interrupt from the
    terminal reaches none of them.
    """

    __slots__ = ("grouped", "life", "number", "pipe")

    def __init__(self, work: Callable[[int], object], *, grouped: bool) -> None:
        self.pipe, told = open_pipe()
        line, self.life = open_pipe()
        self.grouped = grouped
        self.number = os.fork()
        if not self.number:
            _be_child(work, told, line, (self.pipe, self.life), grouped)
        os.close(told)
        os.close(line)
        _ENDS.update((self.pipe, self.life))

    def end(self) -> int:
        """End it, whatever it is at; gives the status that it ended with."""
        import signal

        status = 0
        if self.number:
            over, status = os.waitpid(self.number, os.WNOHANG)
            for kill in (self._kill_group, os.kill):
                try:
                    kill(self.number, signal.SIGKILL)
                except OSError:  # it is gone, or has no group of its own yet
                    pass
                if over:
                    break
            if not over:
                os.waitpid(self.number, 0)
            self._close()
        return status

    def _close(self) -> None:
        self.number = 0
        for end in (self.pipe, self.life):
            os.close(end)
            _ENDS.discard(end)

    def _kill_group(self, number: int, signal: int) -> None:
        if self.grouped:
            os.killpg(number, signal)

    def ended(self) -> str:
        """How it ended, in words, once its pipe is at its end."""
        import signal
        from time import sleep

        # Its pipe may be closed a moment before it is gone.
        over, status = 0, 0
        for _ in range(50):
            over, status = os.waitpid(self.number, os.WNOHANG)
            if over:
                break
            sleep(0.01)
        if not over:
            return "it closed what it tells through"
        if self.grouped:
            try:
                os.killpg(self.number, signal.SIGKILL)
            except OSError:
                pass
        self._close()
        if os.WIFSIGNALED(status):
            which = os.WTERMSIG(status)
            names = {one.value: one.name for one in signal.Signals}
            return f"it was ended by {names.get(which, f'signal {which}')}"
        return f"it ended the program (exit code {os.WEXITSTATUS(status)})"


def _be_child(
    work: Callable[[int], object], told: int, line: int, ours: tuple[int, int], grouped: bool
) -> NoReturn:
    code = 70
    try:
        for end in (*ours, *_ENDS):
            try:
                os.close(end)
            except OSError:
                pass
        _ENDS.clear()
        if grouped:
            os.setpgid(0, 0)
            _close_others(told, line)
        _live_by(line, grouped)
        work(told)
        code = 0
    except BaseException:
        pass
    finally:
        os._exit(code)


def _close_others(*kept: int) -> None:
    """Close whatever else was open: what the parent tells its own parent through, or writes."""
    import resource

    last = 2
    most = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    most = min(most, 1 << 20) if most > 0 else 1 << 20
    for number in (*sorted(kept), most):
        os.closerange(last + 1, number)
        last = number


def _live_by(line: int, grouped: bool) -> None:
    """End with the parent: the system sends SIGIO, which ends a process that does not handle it,
    when the last other end of the line is closed.
    """
    import signal

    try:
        import fcntl

        signal.signal(signal.SIGIO, signal.SIG_DFL)
        fcntl.fcntl(line, fcntl.F_SETOWN, -os.getpgrp() if grouped else os.getpid())
        fcntl.fcntl(line, fcntl.F_SETFL, fcntl.fcntl(line, fcntl.F_GETFL) | os.O_ASYNC)
    except (ImportError, AttributeError, OSError):  # not on every system
        return
    import select

    # The parent may have been gone before that was arranged.
    if select.select([line], [], [], 0)[0]:
        os._exit(70)


def open_pipe() -> tuple[int, int]:
    """Both ends of a pipe, neither in the place of a standard stream that was closed."""
    ends = list(os.pipe())
    low = []
    for at, end in enumerate(ends):
        while ends[at] <= 2:
            low.append(ends[at])
            ends[at] = os.dup(end)
    for end in low:
        os.close(end)
    return ends[0], ends[1]


def write_frame(pipe: int, data: bytes) -> None:
    rest = memoryview(len(data).to_bytes(8, "big") + data)
    while rest:
        rest = rest[os.write(pipe, rest) :]


def read_frame(pipe: int, seconds: float | None = None, most: int = 0) -> bytes | None:
    """What a child told next; None where it tells no more.  Raises TimeoutError, and ValueError
    for what no child of ours would tell.
    """
    from time import monotonic

    until = None if seconds is None else monotonic() + seconds
    head = _read(pipe, 8, until)
    if head is None:
        return None
    size = int.from_bytes(head, "big")
    if most and size > most:
        raise ValueError("it told more than can be taken")
    return _read(pipe, size, until)


def _read(pipe: int, size: int, until: float | None) -> bytes | None:
    import select
    from time import monotonic

    parts: list[bytes] = []
    while size:
        if until is not None:
            ready, _, _ = select.select([pipe], [], [], max(0.0, until - monotonic()))
            if not ready:
                raise TimeoutError
        part = os.read(pipe, min(size, 1 << 20))
        if not part:
            return None
        parts.append(part)
        size -= len(part)
    return b"".join(parts)


# ------------------------------------------------------------------ jobs that may do anything


def apart(
    jobs: Sequence[Callable[[], Any]], seconds: float = SECONDS
) -> Generator[Any, None, None]:
    """What each job gives, in order: what it returns, as JSON has it, or a Fault.

    A child does one job after the other; after a fault a fresh one goes on.  Where no process can
    be forked the jobs are done here, and only what they raise is kept from doing harm.
    """
    if not hasattr(os, "fork"):  # pragma: no cover  (not on this system)
        for job in jobs:
            try:
                yield job()
            except BaseException as wrong:
                yield Fault(last_line(wrong), whole_trace(wrong))
        return
    at = 0
    while at < len(jobs):
        rest = jobs[at:]
        child = Child(lambda pipe, rest=rest: _do(rest, pipe, seconds), grouped=True)  # type: ignore[misc]
        try:
            for _ in rest:
                told = _told(child, seconds)
                at += 1
                yield told
                if isinstance(told, Fault):
                    break
        finally:
            child.end()


def _told(child: Child, seconds: float) -> Any:
    import json

    try:
        data = read_frame(child.pipe, seconds, MOST_TOLD)
        if data is None:
            return Fault(child.ended())
        kind, value = json.loads(data)
        if kind != "fault":
            return value
        text, detail = map(str, value)
        return Fault(text[:MOST_DETAIL], detail[:MOST_DETAIL])
    except TimeoutError:
        return Fault(f"it had not come to an end after {seconds:g} s")
    except (ValueError, TypeError, RecursionError) as wrong:
        return Fault(last_line(wrong))


def _do(jobs: Sequence[Callable[[], Any]], pipe: int, seconds: float) -> None:
    """What a child does: each job, told of at once, up to the first that is at fault."""
    import json
    import signal

    mine = os.getpid()
    forked: list[int] = []
    os.register_at_fork(after_in_parent=lambda: forked.append(1))
    _take_memory()
    paper = _Paper()
    # Should the parent be gone, the system ends what does not end by itself.
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    for job in jobs:
        signal.setitimer(signal.ITIMER_REAL, seconds + 2)
        try:
            told = ["value", job()]
            text = json.dumps(told)
        except BaseException as wrong:
            told = ["fault", [last_line(wrong), whole_trace(wrong)]]
            text = json.dumps(told)
        if os.getpid() != mine:
            os._exit(0)  # a copy that the job made of us
        harm = paper.harm() or ("it started another process" if forked else "")
        if harm and told[0] != "fault":
            text = json.dumps(["fault", [harm, harm]])
        signal.setitimer(signal.ITIMER_REAL, 0)  # the parent may be long in taking it
        write_frame(pipe, text.encode("ascii"))
        if harm or told[0] == "fault":
            return


def _take_memory() -> None:
    try:
        import resource

        with open("/proc/self/statm", "rb") as file:
            now = int(file.read().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (now + MOST_MEMORY, resource.RLIM_INFINITY))
    except (ImportError, OSError, ValueError):  # not on every system
        pass


class _Paper:
    """Standard input and output of a child: nothing to read, and a sheet that must stay blank."""

    def __init__(self) -> None:
        import sys
        from io import TextIOWrapper

        nothing = os.open(os.devnull, os.O_RDWR)
        os.dup2(nothing, 0)
        try:
            sheet = os.memfd_create("paper")
        except (AttributeError, OSError):  # not on every system
            sheet = os.dup(nothing)
        os.dup2(sheet, 1)
        for number in (nothing, sheet):
            if number > 2:
                os.close(number)
        sys.stdin = sys.__stdin__ = open(0, encoding="utf-8", closefd=False)  # type: ignore[misc]  # noqa: SIM115
        self.stream = TextIOWrapper(
            open(1, "wb", buffering=0, closefd=False),  # noqa: SIM115
            encoding="utf-8",
            errors="backslashreplace",
            write_through=True,
        )
        sys.stdout = sys.__stdout__ = self.stream  # type: ignore[misc]
        self.place = self._place()

    def _place(self) -> tuple[int, int]:
        state = os.fstat(1)
        return state.st_dev, state.st_ino

    def harm(self) -> str:
        """What was done to standard output, ``""`` if nothing was."""
        import sys

        try:
            if self.place != self._place() or self.stream.closed or sys.stdout is not self.stream:
                return "it closed standard output, or put another in its place"
            size = os.fstat(1).st_size
        except OSError:
            return "it closed standard output"
        if not size:
            return ""
        begins = os.pread(1, 200, 0).decode("utf-8", "replace").strip().split("\n")[0][:60]
        return f"it wrote to standard output, where only the report goes: `{begins}`"
