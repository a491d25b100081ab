"""Accepts in a dump: comments that say what is accepted on the next line, or of the craft.

::

    -- cfglint: accept modes/near-a-range-edge because the switch clicks there, by Ines
    -- cfglint: accept-craft motor/idle-too-low because new props, by Ines, until 2027-03-31

``accept`` reaches the next line that is no comment and no refusal, ``accept-craft`` the whole
craft, its hardware card included.  The order of ``by`` and ``until`` is free.

Imported only for a dump that holds such a comment.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.runner.accept import Accept
from cfglint.span import Span

if TYPE_CHECKING:
    from cfglint.dialect import Dialect
    from cfglint.dump.source import Source

_NOTE = re.compile(r"cfglint:[ \t]*+accept(-craft)?(?![\w-])[ \t]*+([^ \t,]*)[ \t]*+(.*)")
_SAID = re.compile(r",[ \t]*+(by|until)(?![\w-])")
#: A longer line is no note that anybody wrote.
LONGEST = 2000


def notes(source: Source, dialect: Dialect) -> tuple[Accept, ...]:
    """The accepts that a dump's comments hold, in order."""
    from cfglint.dialect.reading import Reader

    found: list[Accept] = []
    waiting: list[Accept] = []
    reader = Reader(source, dialect)
    reader.craft()
    comments = {row.line for row in reader.rows if row.comment}
    for number, text in enumerate(source.lines, 1):
        marked = "cfglint:" in text and len(text) <= LONGEST
        if not marked and not waiting:
            continue
        if not text.strip() or reader.uses.get(number) == "refusal":
            continue
        if number not in comments:
            found += [accept._replace(reach=number) for accept in waiting]
            waiting = []
            continue
        match = _NOTE.search(text) if marked else None
        if match is not None:
            accept = _accept(source.file, number, text, match)
            (found if match[1] else waiting).append(accept)
    found += waiting
    return tuple(sorted(found, key=lambda accept: accept.span))


def _accept(file: str, number: int, text: str, match: re.Match[str]) -> Accept:
    rest = match[3].strip(" \t")
    said = {"by": "", "until": ""}
    # From the end, so that the reason may hold commas.
    rest = "," + rest if rest.startswith(("by ", "until ")) else rest
    for part in reversed(list(_SAID.finditer(rest))):
        if said[part[1]]:
            break
        said[part[1]] = rest[part.end() :].strip(" \t.")
        rest = rest[: part.start()].rstrip(" \t")
    word, _, reason = rest.partition(" ")
    if word != "because":
        reason = ""
    end = len(text.rstrip(" \t"))
    return Accept(
        match[2],
        reason.strip(" \t"),
        said["by"],
        said["until"],
        Span(file, number, match.start() + 1, number, end + 1),
        text,
        note=True,
        file=file,
        # Until the line that it is for has been met.
        reach=0 if match[1] else None,
    )
