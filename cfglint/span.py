"""Places in text: the one way cfglint says where something stands."""

from __future__ import annotations

from typing import NamedTuple


class Span(NamedTuple):
    """A stretch of one file.

    Lines and columns count from 1; columns count code points of the decoded text; the end
    column is the first column *after* the stretch.  A span never holds a line's own ending.
    """

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


def on_line(file: str, line: int, start: int, end: int) -> Span:
    """The span of characters ``start`` to ``end`` (from 0, end exclusive) of one line."""
    return Span(file, line, start + 1, line, end + 1)


def cover(first: Span, last: Span) -> Span:
    """The stretch from the start of ``first`` to the end of ``last`` (same file)."""
    return Span(first.file, first.line, first.column, last.end_line, last.end_column)


class Excerpt(NamedTuple):
    """Lines of a file as they stand there, without their endings, from line ``first`` on."""

    first: int
    lines: tuple[str, ...]
