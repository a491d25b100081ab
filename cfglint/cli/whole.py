"""Writing files: each whole or not at all, whatever happens meanwhile.

A file is written under a hidden name beside the one it is to have, brought to the disk, and only
then given its name.  So a full disk, an interrupt or the end of the process leaves what was there.
"""

from __future__ import annotations

import os
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.errors import Problem

#: So many bytes tell one kind of report from anything else.
_ALIKE = 5
#: So many seconds a run waits for another that writes the same.
_PATIENCE = 60
#: What to do about a file that cannot be written.
INSTEAD = "name another file or look at the folder's permissions, and whether its disk is full"


def write_whole(path: str, data: bytes, *, over: bool = True, runs: bool = False) -> bool:
    """Write a file; False if it was left as it is, being there and not to be written over.

    ``over``: what is there is replaced (a link stays one, and keeps its permissions).  ``runs`` is
    for scripts.  What is no ordinary file (a terminal, a pipe) is simply written to.  Raises
    OSError; then nothing has changed.
    """
    if over and os.path.exists(path) and not _ordinary(path):
        with open(path, "wb") as stream:
            stream.write(data)
        return True
    if not over and os.path.lexists(path):
        return False
    target = os.path.realpath(path) if over else path
    draft, number = _draft(target, 0o777 if runs else 0o666)
    try:
        with open(number, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if not over:
            return _named(draft, target)
        if os.path.exists(target):
            os.chmod(draft, os.stat(target).st_mode & 0o777)
        os.replace(draft, target)
        return True
    finally:
        try:
            os.unlink(draft)
        except OSError:
            pass  # it has its name already


def write_report(path: str, text: str) -> None:
    """As write_text, but what is there is replaced only if it begins as the report does: a dump
    named by mistake, or a link to another file laid under the report's name, stays.
    """
    data = text.encode("utf-8", "surrogatepass")
    try:
        if os.path.exists(path) and _ordinary(path):
            with open(path, "rb") as stream:
                before = stream.read(_ALIKE)
            if before and before != data[:_ALIKE]:
                from cfglint.errors import Problem

                raise Problem(
                    "there is a file of this name that is no such report",
                    file=path,
                    instead="name another file, or delete that one",
                )
    except OSError as wrong:
        raise unwritten(path, wrong) from None
    write_text(path, text)


def write_text(path: str, text: str, *, over: bool = True, instead: str = INSTEAD) -> bool:
    """As write_whole, in UTF-8; half characters go out as they came.  Raises Problem."""
    try:
        return write_whole(path, text.encode("utf-8", "surrogatepass"), over=over)
    except OSError as wrong:
        raise unwritten(path, wrong, instead) from None


@contextmanager
def alone(folder: str) -> Iterator[None]:
    """While this lasts, no other run is in here for the same folder.

    For what reads a file and writes it anew.  The system lets go when a process ends, however it
    ends.  Raises Problem if another run does not come to its end.  Where folders cannot be locked
    (Windows, some network drives), nothing is.
    """
    try:
        import fcntl

        number = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        if not _locked(number, fcntl.LOCK_EX | fcntl.LOCK_NB):
            from cfglint.errors import Problem

            raise Problem(
                f"another run has been at work on this for {_PATIENCE} s",
                file=folder,
                instead="wait for its end, or end it; nothing was written",
            )
        yield
    finally:
        # Said, not left to the closing: whatever was started meanwhile may hold it open too.
        with suppress(OSError):
            fcntl.flock(number, fcntl.LOCK_UN)
        os.close(number)


def _locked(number: int, how: int) -> bool:
    import fcntl
    import time

    end = time.monotonic() + _PATIENCE
    while True:
        try:
            fcntl.flock(number, how)
            return True
        except BlockingIOError:
            if time.monotonic() > end:
                return False
            time.sleep(0.05)
        except OSError:  # not on this file system
            return True


def unwritten(path: str, wrong: OSError, instead: str = INSTEAD) -> Problem:
    from cfglint.errors import Problem

    return Problem(
        f"cannot be written: {wrong.strerror or wrong}",
        file=path,
        instead=instead,
    )


def _ordinary(path: str) -> bool:
    """Whether a file can be replaced by another of its name."""
    import stat

    # Standard output by name may lead to an ordinary file, which the shell has opened already.
    real = os.path.realpath(path)
    return stat.S_ISREG(os.stat(path).st_mode) and not any(
        name.startswith(("/dev/", "/proc/")) for name in (os.path.abspath(path), real)
    )


def _draft(target: str, mode: int) -> tuple[str, int]:
    """A new hidden file beside another: its path and number."""
    folder, name = os.path.split(target)
    for turn in range(100):
        draft = os.path.join(folder, f".{name[:60]}.{os.getpid()}-{turn}.new")
        try:
            return draft, os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        except FileExistsError:  # of a run that was killed
            continue
    raise FileExistsError(17, "its folder is full of drafts of it")


def _named(draft: str, path: str) -> bool:
    """Give a file its name, unless something has it.

    A second name for a file (a hard link) fails where there is anything, so nothing is written
    over, not even what came there a moment ago.
    """
    try:
        os.link(draft, path)
    except FileExistsError:
        return False
    except OSError:
        # A file system without hard links: hold the name with an empty file, then put ours there.
        try:
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
        except FileExistsError:
            return False
        try:
            os.replace(draft, path)
        except OSError:
            os.unlink(path)
            raise
    return True
