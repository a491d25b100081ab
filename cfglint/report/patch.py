"""All cures of a run as one patch, in the form that `git apply` and `patch -p1` take.

The form is that of POSIX.1-2017, `diff -u`; names and the mark for a missing last line ending are
as Git writes them.  Nothing is changed here: whoever reads the patch applies it, or does not.
"""

from __future__ import annotations

import os
from difflib import unified_diff
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dump.source import decode
from cfglint.rule import GRADES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from cfglint.results import Found, Run
    from cfglint.rule import Edit


class Patch(NamedTuple):
    """The patch; ``left_out`` tells, one clause each, of cures that it does not hold."""

    data: bytes
    cures: int
    left_out: tuple[str, ...]


def patch_of(
    run: Run, read: Callable[[str], bytes], named: Callable[[str], str] = lambda file: file
) -> Patch:
    """The cures of a run's findings, the gravest first where two want the same characters.

    ``read`` gives a file's bytes by its name in the run, ``named`` the name that it has where the
    patch is to be applied.
    """
    by_file: dict[str, list[Edit]] = {}
    left_out: list[str] = []
    asked: dict[tuple[str, str], str] = {}
    cures = 0
    for found in sorted(_open(run), key=lambda one: GRADES.index(one.grade)):
        settings = {(found.file, ask.split(" = ")[0]): ask for ask in _asks(found) if " = " in ask}
        wrong = ""
        if any(asked.get(name, ask) != ask for name, ask in settings.items()):
            wrong = "another cure sets the same otherwise"
        new = [edit for edit in found.fix if edit not in by_file.get(edit.span.file, ())]
        if any(_meet(edit, by_file.get(edit.span.file, ())) for edit in new):
            wrong = wrong or "another cure changes the same characters"
        if wrong:
            place = f"{named(found.span.file)}:{found.span.line}"
            left_out.append(f"{place}: {found.rule}: {wrong}; apply this patch, then ask again")
            continue
        asked.update(settings)
        cures += 1
        for edit in new:
            by_file.setdefault(edit.span.file, []).append(edit)
    parts = []
    for file, edits in sorted(by_file.items()):
        data = read(file)
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            left_out.append(f"{named(file)}: a patch cannot be made of a file in UTF-16")
            continue
        parts.append(_diff(named(file), data, edits))
    return Patch(b"".join(parts), cures, tuple(left_out))


def _open(run: Run) -> Iterable[Found]:
    held = run.held_back()
    return (one for one in run.found if one.fix and one.accepted is None and one.cause not in held)


def _asks(found: Found) -> Sequence[str]:
    return found.cure.asks if found.cure is not None else ()


def _meet(edit: Edit, others: Iterable[Edit]) -> bool:
    """Whether an edit shares characters with others, or stands where one of them is taken out."""
    start, end = edit.span[1:3], edit.span[3:5]
    for other in others:
        first, last = other.span[1:3], other.span[3:5]
        if start < last and first < end:
            return True
        if (start == end or first == last) and (first < start < last or start < first < end):
            return True
    return False


def _diff(name: str, data: bytes, edits: Sequence[Edit]) -> bytes:
    text, encoding = decode(data)
    mark = data[:3] if data.startswith(b"\xef\xbb\xbf") else b""
    new = mark + with_edits(text, edits).encode(encoding, "surrogateescape")
    # Lines as Git has them: up to a line feed, whatever else is in them.
    old_lines, new_lines = (
        [line + "\n" for line in each.decode("latin-1").split("\n")] for each in (data, new)
    )
    for lines in (old_lines, new_lines):
        if lines[-1] == "\n":
            lines.pop()
        else:
            lines[-1] = lines[-1][:-1] + "\n\\ No newline at end of file\n"
    rows = list(unified_diff(old_lines, new_lines, "", ""))[2:]
    if not rows:
        return b""
    old, after = (_quoted(f"{side}/{name}") for side in "ab")
    return f"--- {old}\n+++ {after}\n".encode() + "".join(rows).encode("latin-1")


def with_edits(text: str, edits: Sequence[Edit]) -> str:
    """A text with edits made; those at one place in the order in which they are given."""
    starts = _starts(text)

    def at(line: int, column: int) -> int:
        return (starts[line - 1] if line <= len(starts) else len(text)) + column - 1

    rows = [
        (at(edit.span.line, edit.span.column), at(edit.span.end_line, edit.span.end_column), n)
        for n, edit in enumerate(edits)
    ]
    for start, end, number in sorted(rows, reverse=True):
        text = text[:start] + edits[number].text + text[end:]
    return text


def _starts(text: str) -> list[int]:
    """Where each line begins in a text, which may end its lines in any way."""
    starts, at = [0], 0
    while at < len(text):
        if text[at] == "\n" or (text[at] == "\r" and text[at + 1 : at + 2] != "\n"):
            starts.append(at + 1)
        at += 1
    return starts


def _quoted(name: str) -> str:
    """A name as Git writes it: in quotes, with octal bytes, where it is not plain."""
    name = name.replace(os.sep, "/")
    data = name.encode("utf-8", "surrogateescape")
    if all(0x20 < byte < 0x7F and byte not in b'"\\' for byte in data):
        return name
    inner = "".join(
        chr(byte) if 0x20 <= byte < 0x7F and byte not in b'"\\' else f"\\{byte:03o}"
        for byte in data
    )
    return f'"{inner}"'
