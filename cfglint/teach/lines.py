"""Lines of samples, and what the shape makes of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.dump.source import Source


RowKind = Literal[
    "assignment", "comment", "section", "section_end", "removal", "on", "off", "command", "refusal"
]


class Line(NamedTuple):
    """A line with something on it: which sample, number from 1, text without blanks around."""

    file: str
    number: int
    text: str


class Row(NamedTuple):
    """A line as the shape understands it.

    ``name`` and ``value`` are an assignment's; a section's title, a flag's or removal's name is
    in ``name``.  ``sections`` are the titles it stands in, ``heading`` the comment above.
    """

    kind: RowKind
    file: str
    number: int
    text: str
    name: str = ""
    value: str = ""
    sections: tuple[str, ...] = ()
    heading: str = ""


def lines_of(sources: Iterable[Source], most: int = 4000) -> list[Line]:
    """The lines with something on them, the first ``most`` of each sample."""
    out = []
    for source in sources:
        kept = 0
        for number, text in enumerate(source.lines, 1):
            bare = text.strip(" \t\ufeff\x0c")
            if bare and len(bare) <= 1000:
                out.append(Line(source.file, number, bare))
                kept += 1
                if kept >= most:
                    break
    return out
