"""Whether a sample is a dump at all, and what was seen of it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.errors import EXIT_UNREAD, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.source import Source

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
            1
            for c in sample
            if ord(c) < 32 and c not in "\t\n\r\x0c\x1b" or c == "\x7f" or c == "\ufffd"
        )
        if odd > 0.01 * len(sample) or "\0" in sample:
            raise _no_dump(
                source,
                f"holds {odd} characters that no text has in its first {len(sample)}: it is a binary file",
            )
        lines = [line for line in source.lines if line.strip()]
        if len(lines) < FEWEST_LINES:
            raise _no_dump(
                source,
                f"has {len(lines)} line{'s' if len(lines) != 1 else ''} with something on "
                f"{'them' if len(lines) != 1 else 'it'}; what lines have in common shows from {FEWEST_LINES} on",
            )
        if len(lines) > MOST_LINES:
            notes.append(
                f"{source.file} has {len(lines)} lines; only the first {MOST_LINES} were read, far more than a dump has."
            )
        words = re.findall(r"[^\W\d_]{2,}", sample)
        digits = sum(1 for line in lines[:500] if re.search(r"\d", line))
        long_lines = sum(1 for line in lines[:500] if len(line.split()) > 9)
        if long_lines > 0.5 * len(lines[:500]) and digits < 0.4 * len(lines[:500]) and words:
            raise _no_dump(
                source,
                f"reads like prose: {long_lines} of its first {len(lines[:500])} lines have ten words or more",
            )
    return notes


def _no_dump(source: Source, why: str) -> Problem:
    return Problem(
        f"this is no dump to learn from: it {why}",
        file=source.file,
        instead="give a text dump of all settings, as the controller's command line prints it",
        exit=EXIT_UNREAD,
    )
