"""Whether samples are dumps of one firmware at all, and what was seen of them."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.dump.source import Source
from cfglint.errors import EXIT_UNREAD, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.openings import Draft

#: Fewer lines than this tell nothing by what they have in common.
FEWEST_LINES = 8
#: So much of a sample is read; a dump is far shorter.
MOST_LINES = 4000
#: Two files, or parts of one, whose kinds of lines are less alike than this, and whose words are
#: less the same, may be of two firmwares, and are if each plainly says so many settings.
ALIKE, SHARED, SAID = 0.1, 0.5, 8


def dumps(sources: Sequence[Source]) -> tuple[list[Source], list[str]]:
    """The samples, each cut to its first dump, and what there is to say of them.

    Raises Problem for what is no dump, or holds those of two firmwares.
    """
    notes: list[str] = []
    for source in sources:
        _is_dump(source)
    found = [_first_dump(source, notes) for source in sources]
    for source in found:
        _one_firmware(source)
    for other in found[1:]:
        if _strange(found[0].lines, other.lines) and _both(found[0].lines, other.lines):
            raise _two(other, f"its lines are written in another way than those of {found[0].file}")
    return found, notes


def _is_dump(source: Source) -> None:
    sample = source.text[:200_000]
    if not sample.strip():
        raise _no_dump(source, "is empty")
    odd = sum((ord(c) < 32 and c not in "\t\n\r\x0c\x1b") or c in "\x7f\ufffd" for c in sample)
    if odd > 0.01 * len(sample) or "\0" in sample:
        raise _no_dump(
            source,
            f"holds {odd} characters that no text has in its first {len(sample)}: it is a "
            "binary file",
        )
    lines = [line for line in source.lines if line.strip()]
    if len(lines) < FEWEST_LINES:
        several = f"lines with something on {'them' if len(lines) != 1 else 'it'}"
        raise _no_dump(
            source,
            f"has {len(lines)} {several if len(lines) != 1 else several.replace('lines', 'line')}; "
            f"what lines have in common shows from {FEWEST_LINES} on",
        )
    some = lines[:500]
    digits = sum(re.search(r"\d", line) is not None for line in some)
    long = sum(len(line.split()) > 9 for line in some)
    if long > 0.5 * len(some) and digits < 0.4 * len(some):
        raise _no_dump(
            source,
            f"reads like prose: {long} of its first {len(some)} lines have ten words or more",
        )


def _no_dump(source: Source, why: str) -> Problem:
    return Problem(
        f"this is no dump to learn from: it {why}",
        file=source.file,
        instead="give a text dump of all settings, as the controller's command line prints it",
        exit=EXIT_UNREAD,
    )


def _first_dump(source: Source, notes: list[str]) -> Source:
    """The first of several dumps that stand one after the other in a file; else the file itself.

    A dump begins as the first one does, whatever the numbers in that line.
    """
    filled = [at for at, line in enumerate(source.lines) if line.strip()]
    head = _without_numbers(source.lines[filled[0]])
    if len(re.findall(r"[^\W\d_]{2,}", head)) < 2:
        return source
    starts = [at for at in filled if _without_numbers(source.lines[at]) == head]
    gaps = [after - before for before, after in pairwise(starts)]
    if not gaps or min(gaps) < FEWEST_LINES:
        return source
    notes.append(
        f"{source.file} holds {len(starts)} dumps one after the other; the first was read, up to "
        f"line {starts[1]}. Give the others as files of their own."
    )
    return Source(source.file, "\n".join(source.lines[: starts[1]]) + "\n", source.encoding)


def _without_numbers(line: str) -> str:
    return re.sub(r"\d+", "#", " ".join(line.split()))


# -- two firmwares in one file -----------------------------------------------------------------


def _one_firmware(source: Source) -> None:
    """Raise Problem for a file with the dumps of two firmwares, one after the other."""
    cut = _seam(source)
    if cut and _both(source.lines[:cut], source.lines[cut:]):
        raise _two(
            source, f"lines up to {cut} are written in one way, from {cut + 1} on in another"
        )


def _strange(one: Sequence[str], two: Sequence[str]) -> bool:
    """Whether two files have neither their kinds of lines nor half of their words in common."""
    words = [set(re.findall(r"[^\W\d_]{3,}", "\n".join(lines).lower())) for lines in (one, two)]
    shared = len(words[0] & words[1]) / (min(map(len, words)) or 1)
    return shared < SHARED and _alike(_kinds(one), _kinds(two)) < ALIKE


def _two(source: Source, why: str) -> Problem:
    return Problem(
        f"this cannot be learned as one: {why}, and in either way settings enough are said for a "
        "dump of its own: two different firmwares",
        file=source.file,
        instead="give the dumps of one firmware only, each in a file of its own",
        exit=EXIT_UNREAD,
    )


def _both(*parts: Sequence[str]) -> bool:
    """Whether each part by itself plainly says settings enough."""
    from cfglint.teach.taught import teach

    drafts = (teach([Source.from_text("part", "\n".join(part))], "part") for part in parts)
    return all(len(_sure(draft)) >= SAID for draft in drafts)


def _sure(draft: Draft) -> set[str]:
    return {
        name
        for name, entry in draft.data["map"].items()
        if isinstance(entry, str) or entry.get("sure", True)
    }


def _seam(source: Source) -> int:
    """The line after which all are of another kind than before; 0 where there is none."""
    kinds = [(at, _kind(line)) for at, line in enumerate(source.lines) if line.strip()]
    after, before = Counter(kind for _, kind in kinds), Counter[str]()
    best, found = ALIKE, 0
    for done, (at, kind) in enumerate(kinds):
        left = len(kinds) - done
        if min(done, left) >= FEWEST_LINES and (alike := _alike(before, after)) < ALIKE:
            # Of cuts that are about as good the one nearest to the middle.
            score = alike - 0.2 * min(done, left) / len(kinds)
            if score < best:
                best, found = score, at
        before[kind] += 1
        after[kind] -= 1
    return found


def _alike(one: Counter[str], two: Counter[str]) -> float:
    """How much of two parts is of the same kinds of lines: 0 nothing, 1 all."""
    here, there = one.total() or 1, two.total() or 1
    return sum(min(n / here, two[kind] / there) for kind, n in one.items())


def _kinds(lines: Sequence[str]) -> Counter[str]:
    return Counter(_kind(line) for line in lines if line.strip())


def _kind(line: str) -> str:
    """How a line is written: its marks, and whether it is set in."""
    blank = " " if line[:1] in " \t" else ""
    return blank + re.sub(r"[\w.,\-]+(?: [\w.,\-]+)*", "w", " ".join(line.split()))[:40]
