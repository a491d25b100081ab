"""Writing the files of a plan: each whole or not at all, and never over what is there."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple

from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence


class Planned(NamedTuple):
    """A file that a hangar should have: its path from the root, with slashes, and its bytes.

    ``origin`` is the file it is a copy of, if it is one; ``runs`` is for scripts.
    """

    path: str
    data: bytes
    origin: str = ""
    runs: bool = False


class Fate(NamedTuple):
    """What became of a planned file: made, or left because it was there (``differs``: with
    other bytes).
    """

    file: Planned
    made: bool
    differs: bool = False


def look(root: str, folders: Iterable[str], files: Sequence[Planned]) -> list[Fate]:
    """What would become of each file.

    Raises Problem, before anything is written, for what stands in the way: a file where a folder
    must be, a folder or a link to nowhere where a file must be, a link that leads out of the root.
    """
    for folder in (*folders, *(os.path.dirname(one.path) for one in files)):
        _check_folder(root, folder)
    return [_fate(root, one) for one in files]


def write(
    root: str, folders: Iterable[str], files: Iterable[Planned], made: Callable[[Fate], None]
) -> None:
    """Make the folders and those files that are not there; ``made`` is told of each file.

    Raises Problem where one cannot be written.  What was made before that stays.
    """
    for folder in ("", *folders):
        _make_folder(root, folder)
    for one in files:
        _make_folder(root, os.path.dirname(one.path))
        written = _write(os.path.join(root, one.path), one)
        made(Fate(one, True) if written else _fate(root, one))


def read_there(root: str, path: str) -> bytes | None:
    """The bytes of a file of the hangar, None if there is none that can be read."""
    try:
        with open(os.path.join(root, path), "rb") as stream:
            return stream.read()
    except OSError:
        return None


def _fate(root: str, one: Planned) -> Fate:
    path = os.path.join(root, one.path)
    if not os.path.lexists(path):
        return Fate(one, True)
    if not os.path.isfile(path):
        what = "a folder" if os.path.isdir(path) else "a link to nowhere"
        if os.path.exists(path) and not os.path.isdir(path):
            what = "no ordinary file"
        raise Problem(
            f"{what} stands where a file must be, and nothing was written",
            file=_shown(root, one.path),
            instead="move it away, or choose another folder",
        )
    return Fate(one, False, bool(one.origin) and read_there(root, one.path) != one.data)


def _check_folder(root: str, folder: str) -> None:
    path = root
    for part in ("", *folder.split("/")):
        path = os.path.join(path, part) if part else path
        if not os.path.lexists(path):
            return
        if not os.path.isdir(path):
            what = "a link to nowhere" if os.path.islink(path) else "a file"
            what = "a file" if os.path.exists(path) else what
            raise Problem(
                f"{what} stands where a folder must be, and nothing was written",
                file=os.path.relpath(path),
                instead="move it away, or choose another folder",
            )
        if os.path.commonpath([os.path.realpath(root), os.path.realpath(path)]) != (
            os.path.realpath(root)
        ):
            raise Problem(
                f"this is a link to `{os.path.realpath(path)}`, outside the hangar, where nothing "
                "is ever written",
                file=os.path.relpath(path),
                instead="put a folder there instead of the link",
            )


def _make_folder(root: str, folder: str) -> None:
    path = os.path.join(root, folder) if folder else root
    try:
        os.makedirs(path, exist_ok=True)
    except OSError as wrong:
        raise _unwritten(os.path.relpath(path), wrong) from None


def _write(path: str, one: Planned) -> bool:
    """Write a file; whether it was not there before."""
    from cfglint.cli.whole import write_whole

    try:
        return write_whole(path, one.data, over=False, runs=one.runs)
    except OSError as wrong:
        raise _unwritten(os.path.relpath(path), wrong) from None


def _shown(root: str, path: str) -> str:
    return os.path.relpath(os.path.join(root, path))


def _unwritten(path: str, wrong: OSError) -> Problem:
    return Problem(
        f"cannot be written: {wrong.strerror or wrong}",
        file=path,
        instead="put that right and run the same once more: what is made stays, the rest is added",
    )
