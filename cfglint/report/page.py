"""A rule's page: why, grade, options, examples, source; the one text for help and for reports."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from cfglint.report.blocks import Item, Lines
from cfglint.report.sarif_parts import clean, one_line, sentence

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.report.blocks import Block
    from cfglint.rule import Example, Rule

HEADINGS = {
    "good": "Holds",
    "bad": "Broken",
    "unknown": "Unknown without {missing}",
    "not-for": "Not for this craft",
}


def blocks(item: Rule) -> Iterator[Block]:
    """The page of a rule for the screen, its name on top."""
    yield Item("", item.id + "".join(f" (formerly {name})" for name in item.aliases), "bold")
    for part in page(item, markdown=False).split("\n\n"):
        yield None
        for line in part.split("\n"):
            if line.startswith("    "):  # an example, with carets below what they mark
                yield Lines(None, line, copy=True)
            else:
                mark = "- " if line.startswith("- ") else ""
                yield Item(mark, line.removeprefix(mark))


def page(item: Rule, *, markdown: bool, brief: bool = False) -> str:
    """The page of a rule as plain text or Markdown.

    ``brief`` leaves out all but the first example of each kind, and says where the rest are.
    """
    tick = "`" if markdown else ""
    title = f"# {one_line(item.title)}" if markdown else sentence(item.title)
    parts = [title, sentence(item.why), f"Grade: {item.grade}."]
    if item.options:
        parts.append(
            "\n".join(
                f"- option {tick}{option.name}{tick} (default {tick}{option.default}{tick}): "
                f"{sentence(option.about)}"
                for option in item.options
            )
        )
    examples = item.examples
    if brief:
        kinds = {example.kind: example for example in reversed(examples)}
        examples = tuple(example for example in examples if kinds[example.kind] is example)
    for example in examples:
        parts.append(f"## {_heading(example)}" if markdown else f"{_heading(example)}:")
        parts.append(_indented(example.dump))
        if example.card:
            parts += ["With this hardware card:", _indented(example.card)]
        for other in example.beside:
            parts += ["And this craft beside it:", _indented(other)]
    if len(examples) < len(item.examples):
        parts.append(f"All examples: {tick}cfglint why {item.id}{tick}.")
    return "\n\n".join([*parts, f"Source: {sentence(item.source)}"])


def _heading(example: Example) -> str:
    return HEADINGS[example.kind].format(missing=example.missing)


@lru_cache(maxsize=4096)
def _indented(text: str) -> str:
    """``text`` without the margin that its lines share, set in by four blanks.

    By hand: a log tells the pages of all rules, and textwrap takes several times as long.
    """
    lines = [line if line.strip() else "" for line in clean(text).split("\n")]
    leads = [line[: len(line) - len(line.lstrip(" \t"))] for line in lines if line]
    margin = 0
    if leads:
        first, last = min(leads), max(leads)
        while margin < len(first) and first[margin] == last[margin]:
            margin += 1
    shown = (f"    {line[margin:]}" if line else "" for line in lines)
    return "\n".join(shown).strip("\n")
