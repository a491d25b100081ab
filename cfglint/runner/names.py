"""Names of dump files: their stems, and patterns for them."""

from __future__ import annotations

import re
from functools import lru_cache

#: What a dump is called where no ``cfglint.toml`` says otherwise.
SUFFIXES = (".dump.txt", ".dump")

#: What the names of packed files end in.
PACKED_SUFFIXES = (".gz", ".zip", ".bz2", ".xz", ".zst")


def is_dump_name(name: str) -> bool:
    """Whether a file is taken for a dump by its name alone."""
    return name.lower().endswith(SUFFIXES) and not name.startswith(".")


def unpacked(name: str) -> str:
    """What a file would be called once it is unpacked; empty for one that is not packed."""
    for suffix in PACKED_SUFFIXES:
        if name.lower().endswith(suffix):
            return name[: -len(suffix)]
    return ""


def stem(file: str) -> str:
    """A dump's name without folders and suffix: ``avocet`` of ``dumps/avocet.dump.txt``."""
    name = file.replace("\\", "/").rpartition("/")[2]
    for suffix in SUFFIXES:
        if name.lower().endswith(suffix) and len(name) > len(suffix):
            return name[: -len(suffix)]
    head, dot, _ = name.rpartition(".")
    return head if dot and head else name


def is_wild(part: str) -> bool:
    """Whether one part of a pattern is more than a plain name."""
    return any(char in part for char in "*?[")


@lru_cache(maxsize=256)
def compiled(pattern: str) -> re.Pattern[str]:
    """A pattern for paths as a regular expression to be matched in full.

    ``*`` and ``?`` stay within one name, ``[abc]`` and ``[!abc]`` are one character, ``**``
    alone between slashes is any number of folders.  Raises ValueError for other uses of ``**``
    for an open ``[`` and for a range that runs backwards.
    """
    parts = [part for part in pattern.strip("/").split("/") if part not in ("", ".")]
    #: What stands between two `**`, each a row of patterns for one name.
    blocks: list[list[str]] = [[]]
    for part in parts:
        if part == "**":
            blocks.append([])
        elif "**" in part:
            raise ValueError("`**` must stand alone between slashes")
        else:
            blocks[-1].append(_part(part))
    first, *more = ["/".join(block) for block in blocks]
    found = [first]
    if more:
        found = [f"{first}/"] if first else []
        # As with stars within a name: a block between two is looked for once, from the left.
        found += [f"(?>(?:[^/]+/)*?{block}/)" for block in more[:-1] if block]
        found.append(f"(?:[^/]+/)*{more[-1]}" if more[-1] else "(?>(?:[^/]+/)*)[^/]+")
    try:
        return re.compile("".join(found), re.DOTALL)
    except re.error:
        raise ValueError("a range in `[…]` runs backwards") from None


def _part(part: str) -> str:
    """One part of a pattern.  What stands between two stars is looked for once, from the left,
    and not again, so that no pattern takes long on any name.
    """
    pieces = [""]
    at = 0
    while at < len(part):
        char = part[at]
        at += 1
        if char == "*":
            pieces.append("")
        elif char == "?":
            pieces[-1] += "[^/]"
        elif char == "[":
            end = part.find("]", at + (part[at : at + 1] == "!") + 1)
            if end < 0:
                raise ValueError("`[` is not closed")
            inner = part[at:end]
            turned = inner.startswith("!")
            # Ranges keep their dash; everything else is taken as it stands.
            body = re.escape(inner[turned:]).replace("\\-", "-")
            pieces[-1] += f"[{'^/' if turned else ''}{body}]"
            at = end + 1
        else:
            pieces[-1] += re.escape(char)
    if len(pieces) == 1:
        return pieces[0]
    between = "".join(f"(?>[^/]*?{piece})" for piece in pieces[1:-1] if piece)
    return f"{pieces[0]}{between}[^/]*{pieces[-1]}"
