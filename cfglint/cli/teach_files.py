"""The files of teaching: samples, and the drafted dialect.

A drafted file ends with a seal: a comment with a digest of all that stands above it.  As long as
the seal fits nobody has changed the file, and it may be drafted anew.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Literal

from cfglint.errors import EXIT_UNREAD, Problem, raise_all

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.dump.source import Source

SEAL = "# As it was drafted; once anything above is changed, it is not drafted over: "
#: Bytes of a sample beyond this are not looked at: no dump is near so long.
MOST_BYTES = 500_000

# ---------------------------------------------------------------- samples


def read_samples(paths: Iterable[str], stdin_name: str = "") -> tuple[list[Source], list[str]]:
    """The samples, each once, and what is to be said of them; ``-`` is standard input, told as
    ``stdin_name`` if that is said.

    Raises Problem(s) with exit code 3 for what cannot be read or is no text.
    """
    found: dict[str, Source] = {}
    notes: list[str] = []
    wrong: list[Problem] = []
    for path in paths:
        try:
            source = _sample(path, notes, stdin_name)
        except Problem as one:
            wrong.append(one)
            continue
        found.setdefault(os.path.realpath(path), source)
    raise_all(wrong)
    return list(found.values()), notes


def _sample(path: str, notes: list[str], stdin_name: str) -> Source:
    from cfglint.dump.source import Source
    from cfglint.runner.config import find_root
    from cfglint.runner.craft_reader import as_source
    from cfglint.runner.reading import STDIN, read_bytes, standard_input
    from cfglint.teach.sniff import MOST_LINES

    if path == "-":
        path = stdin_name or STDIN
        data = standard_input(path)
    elif os.path.isdir(path):
        raise Problem(
            "this is a folder, and was not searched for dumps",
            file=path,
            instead=f"name the dumps in it, as in `{os.path.join(path, '*.txt')}`",
            exit=EXIT_UNREAD,
        )
    else:
        root = find_root(os.path.dirname(path) or ".")
        data = read_bytes(path, path, within=root)
    whole = len(data)
    if whole > MOST_BYTES and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        # Not through the middle of a character; and a line that is longer is none of a dump.
        data = data[:MOST_BYTES].rpartition(b"\n")[0] or data[:MOST_BYTES]
    source = as_source(data, path)
    if source.encoding == "latin-1":
        _check_latin(source)
        notes.append(f"{path} is no UTF-8 text; it was read as Latin-1, as a lint reads it.")
    if len(data) == whole and len(source.lines) <= MOST_LINES:
        return source
    size = f"{whole / 1e6:.1f} MB" if len(data) < whole else f"{len(source.lines)} lines"
    short = Source(path, "\n".join([*source.lines[:MOST_LINES], ""]), source.encoding)
    notes.append(
        f"{path} has {size}, far more than a dump; only its first {len(short.lines)} lines were "
        "looked at."
    )
    return short


def _check_latin(source: Source) -> None:
    """Raises Problem for bytes that are neither UTF-8 nor likely to be Latin-1."""
    text = source.text
    codes = sum("\x7f" <= char < "\xa0" for char in text)
    high = sum(char >= "\xa0" for char in text)
    if codes or high > 0.2 * len(text):
        what = "control codes" if codes else "letters beyond ASCII"
        raise Problem(
            f"this is no UTF-8 text, and as Latin-1 it holds {codes or high} {what}, so nothing "
            "can be learnt from it",
            file=source.file,
            instead="give a text dump, saved as UTF-8",
            exit=EXIT_UNREAD,
        )


# ---------------------------------------------------------------- the drafted dialect


def sealed(text: str) -> bytes:
    """A drafted dialect file as it is written: the draft and its seal."""
    return f"{text}\n{SEAL}{_digest(text)}\n".encode()


def _digest(text: str) -> str:
    from hashlib import sha256

    return sha256(text.rstrip("\n").encode("utf-8")).hexdigest()[:16]


def state(path: str) -> Literal["absent", "draft", "changed", "foreign"]:
    """What stands at a path: nothing, an untouched draft, a changed one, or anything else.

    Raises Problem for what is no file or cannot be read.
    """
    if not os.path.lexists(path):
        return "absent"
    if os.path.isdir(path):
        raise Problem("this is a folder", file=path, instead="name a file: `-o mine.toml`")
    from cfglint.runner.reading import read_bytes

    try:
        data = read_bytes(path, path)
    except Problem as wrong:
        raise Problem(wrong.message, file=path, instead=wrong.instead) from None
    # Line endings may have been changed by version control; that is no change.
    text = data.decode("utf-8", "replace").replace("\r\n", "\n")
    body, mark, seal = text.rpartition(f"\n{SEAL}")
    if not mark:
        return "foreign"
    return "draft" if seal.rstrip("\n") == _digest(body) else "changed"


def check_output(path: str, *, replace: bool, whole: bool = True) -> None:
    """Raises Problem if a draft cannot be written there, or would go over a person's work.

    ``whole`` is False for a draft that lacks the changes of an update, which a draft that is
    there may have.
    """
    folder = os.path.dirname(path) or "."
    if not os.path.isdir(folder):
        raise Problem(
            f"there is no folder `{folder}` to write this file into",
            file=path,
            instead="make it, or name another file",
        )
    found = state(path)
    if found == "absent" or replace:
        return
    if found == "changed":
        why = "this draft was changed after it was made"
    elif found == "foreign":
        why = "this file was not drafted by `cfglint teach`"
    elif not whole and _has_changes(path):
        why = "this draft holds the changes of an update too (`--before`, `--after`)"
    else:
        return
    raise Problem(
        f"{why}, and is not written over",
        file=path,
        instead="name another file with -o and bring over what you want of it; or, to lose what "
        "stands there, add --replace",
    )


def _has_changes(path: str) -> bool:
    from cfglint.runner.reading import read_bytes

    return b"\n[[changes]]" in read_bytes(path, path)


def write_draft(path: str, data: bytes) -> None:
    """Write a file of teaching.  Raises Problem."""
    from cfglint.cli.whole import unwritten, write_whole

    try:
        write_whole(path, data)
    except OSError as wrong:
        instead = "look at the folder's permissions, or name another file with -o"
        raise unwritten(path, wrong, instead) from None
