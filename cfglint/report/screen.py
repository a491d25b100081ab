"""Blocks on a page for people, printed by rich.

Everything hangs on one edge: labels, line numbers and grade words stand right-aligned in a
narrow column, what they label stands to the right of it.  Nothing from a dump, a file name or a
message reaches the terminal but through :mod:`cfglint.report.plain`.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from cfglint.report.blocks import Columns, Counts, Heading, Item, Lines, Prose, Quote, Said, Title
from cfglint.report.excerpt import rows, show_line
from cfglint.report.plain import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from typing import TextIO

    from cfglint.report.blocks import Block

#: Cells of the label column, and of the gap between it and the rest.
LABELS, GAP = 7, 3
#: Narrower than this nothing is laid out, however narrow the terminal.
LEAST_WIDTH = 40
#: What is said of a line takes so many cells before the line, which has at least so many.
SAID, LEAST_QUOTED = 36, 16
#: Prose is not set wider than this, however wide the terminal.
MOST_PROSE = 100


def write(
    blocks: Iterable[Block],
    file: TextIO,
    width: int | None = None,
    colour: bool | None = None,
) -> None:
    """Write blocks to ``file``.

    ``width`` is in terminal cells; None asks ``COLUMNS``, then the terminal, else takes 80.
    ``colour`` None colours a terminal unless ``NO_COLOR`` is set or ``TERM`` is ``dumb``, and
    anything else only if ``FORCE_COLOR`` is set.
    """
    coloured = wants_colour(file) if colour is None else colour
    page = Page(file, max(LEAST_WIDTH, width or terminal_width(file)), coloured)
    with page.console.capture() as told:
        for block in blocks:
            page.show(block)
    # By this file's own `write`, not rich's, which ends the program where nobody reads on.
    file.write(re.sub(r" +$", "", told.get(), flags=re.MULTILINE))


def terminal_width(file: TextIO) -> int:
    columns = os.environ.get("COLUMNS", "")
    if columns.isascii() and columns.isdigit() and int(columns[:6]):
        return int(columns[:6])
    try:
        return os.get_terminal_size(file.fileno()).columns or 80
    except (AttributeError, OSError, ValueError):
        return 80


def wants_colour(file: TextIO) -> bool:
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    try:
        return file.isatty() and os.environ.get("TERM", "") not in ("dumb", "unknown")
    except (AttributeError, ValueError):
        return False


class Page:
    """The paper that blocks are set on."""

    def __init__(self, file: TextIO, width: int, colour: bool) -> None:
        self.encoding = getattr(file, "encoding", None) or "utf-8"
        self.width = width
        self.room = width - LABELS - GAP
        self.console = Console(
            width=width,
            color_system="standard" if colour else None,
            force_terminal=colour,
            no_color=not colour,
            legacy_windows=False,
            highlight=False,
            markup=False,
            emoji=False,
            _environ={},
        )

    def show(self, block: Block) -> None:
        shown: Any = Text() if block is None else getattr(self, type(block).__name__.lower())(block)
        for line in [shown] if isinstance(shown, Text) else shown:
            self.console.print(line, soft_wrap=isinstance(line, Text))

    def plain(self, text: str) -> str:
        return visible(text, self.encoding)

    def drawn(self, char: str, instead: str) -> str:
        """A character of our own layout, or ``instead`` where the encoding lacks it."""
        return char if self.plain(char) == char else instead

    def wrapped(self, text: str, width: int, start: str = "") -> list[Text]:
        """``text`` in lines; ``start`` and what is behind it begin lines if it is too wide."""
        words = [self.plain(word) for word in re.split("[ \n\t]+", text) if word]
        if start and words and words[0] == self.plain(start) and Text(words[0]).cell_len > width:
            return [Text(words[0]), *self.wrapped(" ".join(words[1:]), width)]
        return [*Text(" ".join(words)).wrap(self.console, width, overflow="fold")] if words else []

    def labelled(self, label: str, body: Text, style: str = "dim") -> Text:
        blank = " " * (LABELS - Text(label).cell_len)
        return Text.assemble(blank, (label, style), " " * GAP, body)

    # ------------------------------------------------------------ one method a block

    def heading(self, block: Heading) -> Iterator[Text]:
        """Parts that do not fit begin a line of their own; the last bar runs to the edge."""
        bar = self.drawn("─", "-")
        first, *others = map(self.plain, block.parts)
        line = Text.assemble((first, "bold"))
        for part in map(Text, others):
            if line.cell_len + 4 + part.cell_len > self.width:
                yield line
                line = Text()
            line = Text.assemble(line, (f"{' ' if line else ''}{bar * 2} ", "dim"), part)
        rest = max(0, self.width - line.cell_len - 1)
        yield Text.assemble(line, (" " + bar * rest, "dim"))

    def title(self, block: Title) -> Iterator[Text]:
        text = Text(self.plain(block.text), block.style)
        place = Text("" if block.span is None else self.plain(str(block.span)))
        if place and text.cell_len + 2 + place.cell_len > self.room:
            yield self.labelled(block.label, text, block.label_style)
            yield self.labelled("", place)
        else:
            line = Text.assemble(text, "  " if place else "", place)
            yield self.labelled(block.label, line, block.label_style)

    def prose(self, block: Prose) -> Iterator[Text]:
        room = min(self.room, MOST_PROSE)
        lines = self.wrapped(block.text, room, block.start)
        more = ""
        if block.most and len(lines) > block.most:
            told, *others = re.split(r"(?<=[.!?])\s+", block.text.strip())
            for sentence in others:
                if len(self.wrapped(f"{told} {sentence}", room)) >= block.most:
                    break
                told = f"{told} {sentence}"
            lines, more = self.wrapped(told, room), block.more
        for at, line in enumerate([*lines, *self.wrapped(more, room)]):
            yield self.labelled("" if at else block.label, line, block.label_style)

    def said(self, block: Said) -> Iterator[Text]:
        text, bar = Text(self.plain(block.text), "bold"), self.drawn("│", "|")
        text.pad_right(max(0, SAID - text.cell_len))
        room = self.room - text.cell_len - 3
        if room < LEAST_QUOTED:
            yield self.labelled(block.label, Text(self.plain(block.text), "bold"))
            text, room = Text(), self.room - 3
        quoted = Text.assemble(text, (f" {bar} ", "dim"), self.cut(block.line, room))
        yield self.labelled("" if not text else block.label, quoted)

    def item(self, block: Item) -> Iterator[Text]:
        mark, edge = Text(self.plain(block.mark)), Text(self.plain(block.mark)).cell_len
        for line in self.wrapped(block.text, min(self.width - edge, MOST_PROSE)):
            line.stylize(block.style)
            yield Text.assemble(mark, line)
            mark = Text(" " * edge)

    def quote(self, block: Quote) -> Iterator[Text]:
        bar = self.drawn("│", "|")
        for row in rows(
            block.excerpt,
            block.span,
            width=self.room,
            measure=lambda text: Text(text).cell_len,
            encoding=self.encoding,
        ):
            number = str(row.number) if row.number else ""
            edge = (f"{number:>{LABELS}} {bar} ", "dim")
            yield Text.assemble(edge, (row.text, "" if row.number else "dim"))
            if row.carets:
                yield Text.assemble((f"{'':>{LABELS}} {bar} ", "dim"), (row.carets, block.style))

    def lines(self, block: Lines) -> Iterator[Text]:
        label = block.label
        for line in block.text.rstrip("\n").split("\n"):
            text = self.plain(line) if block.copy else self.cut(line, self.room)
            body = Text(text, block.style)
            yield body if label is None else self.labelled(label, body)
            label = None if label is None else ""

    def cut(self, text: str, width: int) -> str:
        return show_line(
            text, 0, 0, width=width, measure=lambda one: Text(one).cell_len, encoding=self.encoding
        ).text

    def columns(self, block: Columns) -> Iterator[Text | Table]:
        cells = [[Text(self.plain(cell)) for cell in row] for row in block.rows]
        wide = [max(cell.cell_len for cell in column) + 2 for column in zip(*cells, strict=True)]
        if sum(wide[:-1]) + LEAST_QUOTED > self.width:  # no room for columns
            for row in block.rows:
                yield from self.item(Item("  ", " ".join(row)))
            return
        table = Table.grid(padding=(0, 2))
        for at in range(len(wide)):
            table.add_column(overflow="fold", no_wrap=at + 1 < len(wide))
        for texts in cells:
            table.add_row(*texts)
        yield table

    def counts(self, block: Counts) -> Iterator[Text]:
        text, aside = self.plain(block.text), self.plain(block.aside)
        whole = f"{text} {aside}".rstrip()
        if aside and Text(whole).cell_len > self.width:
            yield Text(aside)
            whole = text
        # Prose that is wider than reads well is wrapped; counts are, only where they do not fit.
        fits = Text(whole).cell_len <= self.width
        for line in self.wrapped(whole, self.width if fits else min(self.width, MOST_PROSE)):
            line.stylize(block.style)
            yield line
