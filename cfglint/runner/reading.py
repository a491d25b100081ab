"""Reading files that anything may be wrong with."""

from __future__ import annotations

import os
import stat
import sys
from functools import lru_cache

from cfglint.errors import EXIT_UNREAD, Problem

#: No dump comes near; reading on would only fill the memory.  In bytes.
LARGEST = 256 * 1024 * 1024

#: How standard input is named in messages, if nobody says otherwise.
STDIN = "(standard input)"

#: How packed files begin, each by its own published format, and what unpacks it.
PACKED: tuple[tuple[bytes | tuple[bytes, ...], str, str], ...] = (
    (b"\x1f\x8b", "gzip", "gunzip"),  # RFC 1952, 2.3.1
    (b"PK\x03\x04", "ZIP", "unzip"),  # APPNOTE.TXT 4.3.7
    (b"PK\x05\x06", "ZIP", "unzip"),  # an empty one: 4.3.16
    (b"\xfd7zXZ\x00", "xz", "unxz"),  # The .xz File Format, 2.1.1.1
    (b"\x28\xb5\x2f\xfd", "Zstandard", "unzstd"),  # RFC 8878, 3.1.1
    # Its block size and its first block's mark: `BZh` alone might begin a text.  From memory.
    (tuple(b"BZh%d1AY&SY" % size for size in range(1, 10)), "bzip2", "bunzip2"),
)


def read_bytes(path: str, file: str, *, pipes: bool = False, within: str = "") -> bytes:
    """The bytes of a file; ``file`` is how messages name it.

    Raises Problem (exit code 3) for what is no ordinary file, cannot be read or is far too
    large.  ``pipes`` allows a named pipe, which is for files named by a person only: reading
    one may wait for ever.  ``within`` is the hangar that names the file: see check_within.
    """
    if within:
        check_within(within, path, file)
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
        with open(path, "rb", opener=_at_once if stat.S_ISREG(kind) else None) as stream:
            if stat.S_ISREG(kind):
                _still_there(stream.fileno(), path, file, within)
            data = stream.read(LARGEST + 1)
    except OSError as wrong:
        raise _cannot(file, wrong) from None
    if len(data) > LARGEST:
        raise _too_large(file)
    return data


def _at_once(path: str, flags: int) -> int:
    """Open what was a file a moment ago: if a pipe stands there now, opening it must not wait."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _still_there(number: int, path: str, file: str, within: str) -> None:
    """Raises Problem unless what was opened is what stands there, within the hangar.

    The path was looked at before; since then a link or a pipe may have come in its place.
    """
    real = os.path.realpath(path) if within else path
    if within:
        check_within(within, path, file)
    now = os.fstat(number)
    if not (stat.S_ISREG(now.st_mode) and os.path.samestat(now, os.stat(real))):
        raise _problem(file, "this file was replaced while it was read", "run the same once more")


def check_within(root: str, path: str, file: str) -> None:
    """Raises Problem (exit code 3) for what lies in a folder by its name and outside it in truth.

    Reports quote lines of what they speak of, so a link in a repository that somebody else wrote
    would publish any file that can be read here.  A path outside the folder by its very name was
    named by a person, and is theirs to name.
    """
    whole = os.path.abspath(path)
    if _inside(whole, root) and not _inside(os.path.realpath(whole), _real(root)):
        raise _problem(
            file,
            "this leads out of the hangar by a link, and nothing outside is read",
            "put the file itself there, or name the one outside on the command line",
        )


def _inside(path: str, root: str) -> bool:
    return path == root or path.startswith(root if root.endswith(os.sep) else root + os.sep)


@lru_cache(maxsize=16)
def _real(root: str) -> str:
    return os.path.realpath(root)


def standard_input(file: str = STDIN) -> bytes:
    """All of standard input.  Raises Problem if there is none."""
    try:
        data = sys.stdin.buffer.read(LARGEST + 1)
    except (AttributeError, OSError, ValueError):  # started without one
        raise _problem(file, "standard input cannot be read", "name a file") from None
    if len(data) > LARGEST:
        raise _too_large(file)
    return data


def refuse_packed(data: bytes, file: str) -> None:
    """Raises Problem for a packed file, which is not unpacked here: what is checked must be what
    somebody sees.
    """
    for begins, kind, command in PACKED:
        if data.startswith(begins):
            raise _problem(
                file,
                f"this file is packed ({kind})",
                f"unpack it first (`{command}`), and name the dump itself",
            )


def _too_large(file: str) -> Problem:
    return _problem(
        file,
        f"this file is larger than {LARGEST // 1024 // 1024} MB, which no dump is",
        "name the dump itself",
    )


def _cannot(file: str, wrong: OSError) -> Problem:
    return _problem(
        file, f"cannot be read: {wrong.strerror or wrong}", "look at the file's permissions"
    )


def _problem(file: str, message: str, instead: str) -> Problem:
    return Problem(message, file=file, instead=instead, exit=EXIT_UNREAD)
