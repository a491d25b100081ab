"""Reading files that anything may be wrong with."""

from __future__ import annotations

import os
import stat

from cfglint.errors import EXIT_UNREAD, Problem

#: No dump comes near; reading on would only fill the memory.  In bytes.
LARGEST = 256 * 1024 * 1024


def read_bytes(path: str, file: str, *, pipes: bool = False) -> bytes:
    """The bytes of a file; ``file`` is how messages name it.

    Raises Problem (exit code 3) for what is no ordinary file, cannot be read or is far too
    large.  ``pipes`` allows a named pipe, which is for files named by a person only: reading
    one may wait for ever.
    """
    try:
        kind = os.stat(path).st_mode
    except FileNotFoundError:
        if os.path.islink(path):
            target = os.readlink(path)
            raise _problem(
                file,
                f"this is a link to `{target}`, which is not there",
                "put the file there or delete the link",
            ) from None
        raise _problem(file, "this file is not there", "look at its name") from None
    except OSError as wrong:
        raise _cannot(file, wrong) from None
    if stat.S_ISDIR(kind):
        raise _problem(
            file, "this is a folder that is named like a file", "rename it, or name files in it"
        )
    if not (stat.S_ISREG(kind) or (pipes and stat.S_ISFIFO(kind))):
        raise _problem(file, "this is no ordinary file", "name a file that holds text")
    try:
        with open(path, "rb") as stream:
            data = stream.read(LARGEST + 1)
    except OSError as wrong:
        raise _cannot(file, wrong) from None
    if len(data) > LARGEST:
        raise _problem(
            file,
            f"this file is larger than {LARGEST // 1024 // 1024} MB, which no dump is",
            "name the dump itself",
        )
    return data


def _cannot(file: str, wrong: OSError) -> Problem:
    return _problem(
        file, f"cannot be read: {wrong.strerror or wrong}", "look at the file's permissions"
    )


def _problem(file: str, message: str, instead: str) -> Problem:
    return Problem(message, file=file, instead=instead, exit=EXIT_UNREAD)
