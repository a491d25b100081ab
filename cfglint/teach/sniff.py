"""Whether a sample is a dump at all, and what was seen of it."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.dump.source import Source
from cfglint.errors import EXIT_UNREAD, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row
    from cfglint.teach.shape import Shape

#: Fewer lines than this tell nothing by what they have in common.
FEWEST_LINES = 8
#: So much of a sample is read; a dump is far shorter.
MOST_LINES = 4000


def sniff(sources: Sequence[Source]) -> list[str]:
    """What there is to say of samples before they are read.  Raises Problem for no dump."""
    notes: list[str] = []
    for source in sources:
        text = source.text
        sample = text[:200_000]
        if not sample.strip():
            raise _no_dump(source, "is empty")
        odd = sum(
            1 for c in sample if (ord(c) < 32 and c not in "\t\n\r\x0c\x1b") or c in "\x7f\ufffd"
        )
        if odd > 0.01 * len(sample) or "\0" in sample:
            raise _no_dump(
                source,
                f"holds {odd} characters that no text has in its first {len(sample)}: it is a "
                "binary file",
            )
        lines = [line for line in source.lines if line.strip()]
        if len(lines) < FEWEST_LINES:
            raise _no_dump(
                source,
                f"has {len(lines)} line{'s' if len(lines) != 1 else ''} with something on "
                f"{'them' if len(lines) != 1 else 'it'}; what lines have in common shows from "
                f"{FEWEST_LINES} on",
            )
        if len(lines) > MOST_LINES:
            notes.append(
                f"{source.file} has {len(lines)} lines; only the first {MOST_LINES} were read, "
                "far more than a dump has."
            )
        words = re.findall(r"[^\W\d_]{2,}", sample)
        digits = sum(1 for line in lines[:500] if re.search(r"\d", line))
        long_lines = sum(1 for line in lines[:500] if len(line.split()) > 9)
        if long_lines > 0.5 * len(lines[:500]) and digits < 0.4 * len(lines[:500]) and words:
            raise _no_dump(
                source,
                f"reads like prose: {long_lines} of its first {len(lines[:500])} lines have ten "
                "words or more",
            )
    return notes


def one_dump(source: Source, notes: list[str]) -> Source:
    """The first of several dumps that stand one after the other in a file; else the file itself.

    A dump begins as the first one does, whatever the numbers in that line.
    """
    filled = [number for number, line in enumerate(source.lines) if line.strip()]
    head = _without_numbers(source.lines[filled[0]])
    if len(re.findall(r"[A-Za-z]{2,}", head)) < 2:
        return source
    starts = [number for number in filled if _without_numbers(source.lines[number]) == head]
    gaps = [b - a for a, b in pairwise(starts)]
    if not gaps or min(gaps) < FEWEST_LINES:
        return source
    notes.append(
        f"{source.file} holds {len(starts)} dumps one after the other; the first was read, up to "
        f"line {starts[1]}. Give the others as files of their own."
    )
    return Source(source.file, "\n".join(source.lines[: starts[1]]) + "\n", source.encoding)


def _without_numbers(line: str) -> str:
    return re.sub(r"\d+", "#", " ".join(line.split()))


def one_firmware(shape: Shape, sources: Sequence[Source]) -> None:
    """Raise Problem where samples were written by two firmwares: in one file, or one each."""
    from cfglint.teach.lines import Line
    from cfglint.teach.templates import Assigner, best_template

    for source in sources:
        mine = [row for row in shape.rows if row.file == source.file and row.kind != "comment"]
        rest = [row for row in mine if row.kind == "command"]
        if len(rest) < 12 or len(rest) < 0.25 * len(mine):
            continue
        other = best_template([Line(row.file, row.number, row.text) for row in rest])
        if other is None or not shape.assign:
            continue
        # Two dumps stand one after the other; lines of a second kind are strewn about.
        read = [row.number for row in mine if row.kind == "assignment"]
        numbers = [row.number for row in rest]
        if read and _strewn(numbers, read) > 0.15:
            continue
        # Tables of ranges and channels are no second dump: that would set the same things anew.
        reader = Assigner(other)
        anew = [(row, found[0]) for row in rest if (found := reader.read(row.text)) is not None]
        if _settings([row._replace(name=name) for row, name in anew]) < 6:
            continue
        first, last = sorted(numbers)[len(numbers) // 10], numbers[-1]
        form = f"{other.prefix}NAME{other.separator}VALUE{other.suffix}"
        main = (
            shape.assign[0].replace("{name}", "NAME").replace("{value}", "VALUE")
            if shape.assign
            else "the rest"
        )
        what = (
            f"lines like `{main}` and, from line {first} to {last}, lines like `{form}`: two "
            "different firmwares"
            if read
            else f"lines like `{form}`, the others lines like `{main}`: two different firmwares"
        )
        raise Problem(
            f"this cannot be learned as one: it has {what}",
            file=source.file,
            instead="give the dumps of one firmware only, each in a file of its own",
            exit=EXIT_UNREAD,
        )


def _settings(rows: Sequence[Row]) -> int:
    """How many settings the names of rows speak of plainly."""
    from cfglint.teach.names import PROFILES, Words, fit
    from cfglint.teach.words import split

    found = set()
    for row in rows:
        words = Words(split(row.name), split(" ".join(row.sections)))
        found |= {profile.setting for profile in PROFILES if fit(profile, words).score >= 0.75}
    return len(found)


def _strewn(some: Sequence[int], others: Sequence[int]) -> float:
    """How far two kinds of lines are mixed: 0 where all of one stand before all of the other."""
    total = len(some) + len(others)
    best = total
    for cut in {*some, *others}:
        wrong = sum(one >= cut for one in some) + sum(one < cut for one in others)
        best = min(best, wrong, total - wrong)
    return best / total


def _no_dump(source: Source, why: str) -> Problem:
    return Problem(
        f"this is no dump to learn from: it {why}",
        file=source.file,
        instead="give a text dump of all settings, as the controller's command line prints it",
        exit=EXIT_UNREAD,
    )
