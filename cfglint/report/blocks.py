"""What reports for people are made of: blocks that say what stands there, not how it is laid out.

A report is a sequence of blocks; None is an empty line.  :mod:`cfglint.report.screen` sets them
on a page of some width.  Texts stand as they are: whoever prints them makes them safe.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from cfglint.rule import Grade
    from cfglint.span import Excerpt, Span

#: What each grade asks of the pilot.
ASKS: dict[Grade, str] = {
    "ground": "do not fly",
    "fix": "before next flight",
    "advise": "worth a look",
}
#: How the word for each grade is coloured, and the carets under what is found.
GRADE_STYLE = {
    "ground": ("bold white on red", "bold red"),
    "fix": ("bold white on magenta", "bold magenta"),
    "advise": ("bold black on cyan", "bold cyan"),
}


class Heading(NamedTuple):
    """The head of a section, in parts that are divided by a bar."""

    parts: tuple[str, ...]


class Title(NamedTuple):
    """What a finding or the like is called, behind a label, with its place."""

    label: str
    text: str
    span: Span | None = None
    label_style: str = "dim"
    style: str = "bold"


class Prose(NamedTuple):
    """Words behind a label, wrapped.

    Where they begin with ``start``, that stays in one piece.  Of more than ``most`` lines the
    first whole sentences are shown, and ``more`` says where the rest is; 0 shows all.
    """

    label: str
    text: str
    start: str = ""
    label_style: str = "dim"
    most: int = 0
    more: str = ""


class Said(NamedTuple):
    """What is said of a line of a file, and beside it the line."""

    label: str
    text: str
    line: str


class Item(NamedTuple):
    """Words behind a mark at the left edge, hanging below themselves."""

    mark: str
    text: str
    style: str = ""


class Quote(NamedTuple):
    """Lines of a file, with carets under a stretch of them."""

    excerpt: Excerpt
    span: Span
    style: str


class Lines(NamedTuple):
    """Lines as they stand behind a label, None being the left edge.

    They are cut to the page, but where they are there to be copied.
    """

    label: str | None
    text: str
    copy: bool = False
    style: str = ""


class Columns(NamedTuple):
    """Rows of cells in columns; the last one takes the room that is left."""

    rows: tuple[tuple[str, ...], ...]


class Counts(NamedTuple):
    """What it all comes to, from the left edge and if possible on one line; ``aside`` before it
    where they do not fit together.
    """

    text: str
    aside: str = ""
    style: str = "bold"


Block = Heading | Title | Prose | Said | Item | Quote | Lines | Columns | Counts | None


def count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
