"""Markdown: the parts that pages are made of, and reports for people as such a page.

GitHub-flavoured tables (GFM 0.29, 4.10).  Fences of code spans and code blocks are longer than any
run of backticks within (CommonMark 0.31, 4.5 and 6.1), so that nothing in a dump can turn into a
link, a mention or a heading.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.report.blocks import Item, Lines
from cfglint.report.plain import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.report.blocks import Block


def page(blocks: Iterable[Block]) -> str:
    """Items and lines as a page: a bold item is a heading (the first one that of the page), one
    behind a mark belongs to a list.
    """
    out: list[str] = []
    for one in blocks:
        if isinstance(one, Lines):
            out += ["", *block(one.text)]
        elif isinstance(one, Item):
            if one.style == "bold":
                out += ["", f"{'##' if out else '#'} {words(one.text)}", ""]
            elif mark := one.mark.strip():
                out.append(f"- {mark.removeprefix('-')} ".rstrip() + f" {words(one.text)}")
            else:
                out += [words(one.text), ""]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(out)).strip("\n") + "\n"


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    out = [f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}"]
    # In a table a bar ends the cell, even within a code span.
    out += [f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in row)} |" for row in rows]
    return [*out, ""]


def words(text: str) -> str:
    """Text of ours that may quote a dump, as Markdown: nothing in it is markup but code spans."""
    parts = re.split(r"`([^`]*)`", visible(text))
    return "".join(
        code(part) if number % 2 else re.sub(r"([\\`*_{}\[\]<>#|@~])", r"\\\1", part)
        for number, part in enumerate(parts)
    )


def code(text: str) -> str:
    """Text as a code span, ``""`` for none."""
    shown = visible(text.replace("\t", " "))
    if not shown:
        return ""
    fence = "`" * (_longest(shown) + 1)
    pad = " " if shown[0] == "`" or shown[-1] == "`" else ""
    return f"{fence}{pad}{shown}{pad}{fence}"


def block(text: str) -> list[str]:
    """Lines as a code block."""
    shown = [visible(line.replace("\t", " ")) for line in text.split("\n")]
    fence = "`" * max(3, _longest("\n".join(shown)) + 1)
    return [f"{fence}text", *shown, fence, ""]


def _longest(text: str) -> int:
    return max((len(run) for run in re.findall(r"`+", text)), default=0)
