"""A few lines of a file with carets under the text that is meant, to fit a given width.

Alignment is by terminal cells, not characters: tabs, wide and combining characters and visible
escapes all take the room they take.  A line that is too long shows the part around the carets.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.report.plain import pieces

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.span import Excerpt, Span

#: Tab stops stand this many cells apart.
TAB = 4
#: More lines than this are shown as their first HEAD and last TAIL.
MOST_LINES, HEAD, TAIL = 8, 4, 2


class Shown(NamedTuple):
    """One line as shown: ``text``, and carets under ``length`` cells from cell ``at`` on."""

    text: str
    at: int
    length: int


class Row(NamedTuple):
    """One row of an excerpt: ``number`` is the line's (0: lines left out), ``carets`` is the
    row of carets below it, empty if the line is not marked.
    """

    number: int
    text: str
    carets: str


def show_line(
    line: str,
    start: int,
    end: int,
    *,
    width: int,
    measure: Callable[[str], int],
    encoding: str = "utf-8",
) -> Shown:
    """``line`` in at most ``width`` cells, with its characters ``start`` to ``end`` marked.

    ``start`` and ``end`` count from 0, the end is exclusive; an empty stretch, and one past
    the line's end, gets one caret.  ``measure`` gives a text's width in cells.
    """
    start = min(max(start, 0), len(line))
    end = min(max(end, start), len(line))
    # Of a line of megabytes only the neighbourhood is looked at.
    low = max(0, start - 2 * width) if len(line) > 8 * width else 0
    high = min(len(line), start + 4 * width) if len(line) > 8 * width else len(line)
    text, cells = _lay_out(line[low:high], measure, encoding)
    first, last = start - low, min(end, high) - low
    more_left, more_right = low > 0, high < len(line)
    if sum(cells) > width or more_left or more_right:
        dots = "".join(pieces("…", encoding))
        room = max(1, width - 2 * measure(dots))
        before, marked, after = sum(cells[:first]), sum(cells[first:last]), sum(cells[last:])
        if marked < room:
            lead = max((room - marked) // 2, room - marked - after)
        else:
            lead = room // 4
        left = _back(cells, first, min(lead, before))
        right = _on(cells, left, room)
        more_left, more_right = more_left or left > 0, more_right or right < len(cells)
        shown = text[left:right]
        at = sum(cells[left:first]) + (measure(dots) if more_left else 0)
        length = sum(cells[first : min(last, right)])
        whole = (dots if more_left else "") + "".join(shown) + (dots if more_right else "")
        return Shown(whole, at, max(1, length))
    return Shown("".join(text), sum(cells[:first]), max(1, sum(cells[first:last])))


def rows(
    excerpt: Excerpt,
    span: Span | None,
    *,
    width: int,
    measure: Callable[[str], int],
    encoding: str = "utf-8",
) -> Iterator[Row]:
    """The rows of an excerpt, with carets under ``span`` (None: none)."""
    count = len(excerpt.lines)
    for place, line in enumerate(excerpt.lines):
        if count > MOST_LINES and HEAD <= place < count - TAIL:
            if place == HEAD:
                yield Row(0, f"({count - HEAD - TAIL} more lines)", "")
            continue
        number = excerpt.first + place
        start, end = _marked(number, line, span)
        shown = show_line(
            line, start, max(end, start), width=width, measure=measure, encoding=encoding
        )
        carets = "" if end < start else " " * shown.at + "^" * shown.length
        yield Row(number, shown.text.rstrip(), carets)


def _marked(number: int, line: str, span: Span | None) -> tuple[int, int]:
    """What part of line ``number`` lies in ``span``, from 0; the end before the start: none."""
    if span is None or not span.line <= number <= span.end_line:
        return 0, -1
    if number == span.line:
        start = span.column - 1
    else:
        start = len(line) - len(line.lstrip())
    end = span.end_column - 1 if number == span.end_line else len(line.rstrip())
    if number != span.line and end <= start:
        return 0, -1
    return start, max(start, end)


def _lay_out(
    text: str, measure: Callable[[str], int], encoding: str
) -> tuple[list[str], list[int]]:
    """Pieces of ``text`` with tabs expanded, and the width of each in cells."""
    shown = pieces(text, encoding)
    cells = [1 if piece.isascii() and len(piece) == 1 else measure(piece) for piece in shown]
    if "\t" in text:
        at = 0
        for place, char in enumerate(text):
            if char == "\t":
                cells[place] = TAB - at % TAB
                shown[place] = " " * cells[place]
            at += cells[place]
    return shown, cells


def _back(cells: list[int], wanted: int, room: int) -> int:
    """The first piece of those before ``wanted`` that fit into ``room`` cells."""
    place = wanted
    while place > 0 and room - cells[place - 1] >= 0:
        place -= 1
        room -= cells[place]
    while place < wanted and cells[place] == 0:  # a mark without the letter that it stands on
        place += 1
    return place


def _on(cells: list[int], place: int, room: int) -> int:
    """The piece after the last of those from ``place`` on that fit into ``room`` cells."""
    while place < len(cells) and room - cells[place] >= 0:
        room -= cells[place]
        place += 1
    return place
