"""How a report for people is laid out: a narrow column of labels, and what they label.

Nothing from a dump, a file name or a message reaches the terminal but through
:mod:`cfglint.report.plain`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.report.excerpt import rows, show_line
from cfglint.report.plain import visible

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from typing import TextIO

    from cfglint.results import Excerpt
    from cfglint.rule import Grade
    from cfglint.span import Span

#: Cells of the label column, and of the gap between it and the rest.
LABELS, GAP = 7, 3
#: Narrower than this nothing is laid out, however narrow the terminal.
LEAST_WIDTH = 40
#: Prose is not set wider than this, however wide the terminal.
MOST_PROSE = 100

#: What each grade asks of the pilot.
ASKS: dict[Grade, str] = {
    "ground": "do not fly",
    "fix": "before next flight",
    "advise": "worth a look",
}
GRADE_STYLE = {
    "ground": ("bold white on red", "bold red"),
    "fix": ("bold white on magenta", "bold magenta"),
    "advise": ("bold black on cyan", "bold cyan"),
}

# A line to be written: stretches of text, each with a style ("" for none).
Stretch = tuple[str, str]
Line = list[Stretch]


class Page(NamedTuple):
    """What the layout needs to know of the paper it is written on."""

    width: int
    encoding: str
    measure: Callable[[str], int]

    @property
    def room(self) -> int:
        """Cells to the right of the label column."""
        return self.width - LABELS - GAP

    @property
    def prose(self) -> int:
        return min(self.room, MOST_PROSE)

    def plain(self, text: str) -> str:
        return visible(text, self.encoding)

    def drawn(self, char: str, instead: str) -> str:
        """A character of our own layout, or ``instead`` where the encoding lacks it."""
        return char if visible(char, self.encoding) == char else instead


def page_of(file: TextIO, width: int | None) -> Page:
    """The paper a report goes to; ``width`` None asks ``COLUMNS``, the terminal, else takes 80."""
    from rich.cells import cell_len

    encoding = getattr(file, "encoding", None) or "utf-8"
    return Page(max(LEAST_WIDTH, width or terminal_width(file)), encoding, cell_len)


def write_lines(lines: Iterable[Line], file: TextIO, colour: bool | None) -> None:
    """Write lines to ``file``; ``colour`` None asks the environment and the terminal."""
    if wants_colour(file) if colour is None else colour:
        write_coloured(lines, file)
    else:
        for line in lines:
            file.write("".join(text for text, _ in line).rstrip(" ") + "\n")


def terminal_width(file: TextIO) -> int:
    import os

    columns = os.environ.get("COLUMNS", "")
    if columns.isascii() and columns.isdigit() and int(columns[:6]):
        return int(columns[:6])
    try:
        return os.get_terminal_size(file.fileno()).columns or 80
    except (AttributeError, OSError, ValueError):
        return 80


def is_terminal(file: TextIO) -> bool:
    try:
        return file.isatty()
    except (AttributeError, ValueError):
        return False


def wants_colour(file: TextIO) -> bool:
    import os

    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return is_terminal(file) and os.environ.get("TERM", "") not in ("dumb", "unknown")


def write_coloured(lines: Iterable[Line], file: TextIO) -> None:
    from rich.color import ColorSystem
    from rich.style import Style

    styles: dict[str, Style] = {}
    for line in lines:
        out = ""
        for text, name in line:
            style = styles.get(name)
            if style is None:
                style = styles[name] = Style.parse(name) if name else Style.null()
            out += style.render(text, color_system=ColorSystem.STANDARD)
        file.write(out + "\n")


def heading(parts: list[str], page: Page) -> Iterator[Line]:
    """Parts joined by a bar that runs on to the right edge; what does not fit begins anew."""
    bar = page.drawn("─", "-")
    line: Line = [(page.plain(parts[0]), "bold")]
    used = page.measure(line[0][0])
    for part in map(page.plain, parts[1:]):
        if used + 4 + page.measure(part) > page.width:
            yield line
            line, used = [], -1
        line += [(f"{' ' if line else ''}{bar * 2} ", "dim"), (part, "")]
        used += 4 + page.measure(part)
    yield [*line, (" " + bar * (page.width - used - 1), "dim")]


def header(label: Stretch, title: Stretch, span: Span | None, page: Page) -> Iterator[Line]:
    place = "" if span is None else page.plain(str(span))
    first: Line = [*labelled(label[0], page, label[1]), title]
    if place and page.measure(title[0]) + 2 + page.measure(place) > page.room:
        yield first
        yield [*labelled("", page), (place, "")]
    else:
        yield [*first, (f"  {place}" if place else "", "")]


def labelled(word: str, page: Page, style: str = "dim") -> Line:
    blank = " " * max(0, LABELS - page.measure(word))
    return [(blank, ""), (word, style), (" " * GAP, "")]


def excerpt_lines(excerpt: Excerpt, span: Span, style: str, page: Page) -> Iterator[Line]:
    bar = page.drawn("│", "|")
    for row in rows(excerpt, span, width=page.room, measure=page.measure, encoding=page.encoding):
        number = str(row.number) if row.number else ""
        yield [(f"{number:>{LABELS}} {bar} ", "dim"), (row.text, "" if row.number else "dim")]
        if row.carets:
            at = len(row.carets) - len(row.carets.lstrip(" "))
            yield [
                (f"{'':>{LABELS}} {bar} ", "dim"),
                (" " * at, ""),
                (row.carets[at:], style),
            ]


def prose(label: str, text: str, page: Page, start: str = "") -> Iterator[Line]:
    """``text`` wrapped; where it begins with ``start``, that is kept in one piece."""
    for place, line in enumerate(wrap(text, page, start)):
        yield [*labelled(label if place == 0 else "", page), (line, "")]


def last_lines(text: str, page: Page) -> Iterator[Line]:
    """What a report comes to, over the page's whole width."""
    for line in wrap(text, page._replace(width=page.width + LABELS + GAP)):
        yield [(line, "bold")]


def verbatim(text: str, page: Page) -> Iterator[Line]:
    for line in text.rstrip("\n").split("\n"):
        shown = show_line(line, 0, 0, width=page.room, measure=page.measure, encoding=page.encoding)
        yield [*labelled("", page), (shown.text, "")]


def wrap(text: str, page: Page, start: str = "") -> list[str]:
    """``text`` as lines that fit; a word too long for a line of its own is broken."""
    words = [page.plain(word) for word in text.replace("\n", " ").replace("\t", " ").split(" ")]
    lines: list[str] = []
    line = ""
    for word in filter(None, words):
        rest = word
        joined = f"{line} {rest}" if line else rest
        if page.measure(joined) <= page.prose:
            line = joined
            continue
        if line:
            lines.append(line)
        while page.measure(rest) > page.prose and rest != start:
            part = fitting(rest, page)
            lines.append(part)
            rest = rest[len(part) :]
        line = rest
    return [*lines, line] if line else lines


def fitting(word: str, page: Page) -> str:
    """As much of the beginning of ``word`` as fits on a line."""
    place = used = 0
    while place < len(word) and used + page.measure(word[place]) <= page.prose:
        used += page.measure(word[place])
        place += 1
    return word[:place]


def count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
