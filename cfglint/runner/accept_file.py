"""Accepts in files of the hangar: ``[[accept]]`` of ``cfglint.toml`` and of ``accepted.toml``.

::

    [[accept]]
    rule = "modes/near-a-range-edge"
    craft = "Avocet"                    # or file = "dumps/avocet.dump.txt", or both
    line = "use arm while channel 5 in 1745..2125"   # or setting = "motor.idle_percent"
    reason = "the switch has a detent there"
    by = "Ines"
    until = 2027-03-31                  # a `ground` finding needs it

Without ``line``, ``setting`` and ``print`` (a finding's fingerprint) it reaches the whole craft.
``cfglint.toml`` is written by hand, ``accepted.toml`` beside it by ``cfglint accept``, which
knows findings by their fingerprints.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from cfglint.errors import raise_all
from cfglint.runner.accept import Accept
from cfglint.runner.config import ACCEPTED

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.results import Found
    from cfglint.runner.config import Config
    from cfglint.tomltext import Document

HEAD = """\
# Findings that were accepted all at once: written by `cfglint accept`, each known by its
# fingerprint. Take a block out when its finding is put right, or run `cfglint accept --prune`.
"""


def read_accepts(config: Config) -> tuple[Accept, ...]:
    """The accepts of a hangar's files.  Raises Problem(s) for what is wrong with accepted.toml."""
    found = _accepts(config.document)
    document = read_recorded(config.root)
    return (*found, *(_accepts(document) if document is not None else ()))


def read_recorded(root: str) -> Document | None:
    """The ``accepted.toml`` of a hangar, None without one.  Raises Problem(s)."""
    from cfglint.runner.config import accept_shape
    from cfglint.runner.reading import read_bytes
    from cfglint.schema import check_table, many, table
    from cfglint.tomltext import load

    path = os.path.join(root, ACCEPTED)
    if not os.path.lexists(path):
        return None
    document = load(ACCEPTED, read_bytes(path, ACCEPTED, within=root))
    raise_all(check_table(document, (), table({"accept": many(accept_shape())})))
    return document


def _accepts(document: Document) -> list[Accept]:
    rows: Iterable[dict[str, Any]] = document.data.get("accept", ())
    accepts = []
    for at, row in enumerate(rows):
        said = {key: str(value) for key, value in row.items()}
        span = document.where_value("accept", at)
        accepts.append(
            Accept(
                said["rule"],
                said.get("reason", ""),
                said.get("by", ""),
                said.get("until", ""),
                span,
                document.line(span.line),
                file=said.get("file", ""),
                craft=said.get("craft", ""),
                line=said.get("line", ""),
                setting=said.get("setting", ""),
                print=said.get("print", ""),
            )
        )
    return accepts


# ---------------------------------------------------------------- writing


def block(found: Found, reason: str, by: str, until: str) -> str:
    """One finding as an ``[[accept]]`` block."""
    rows = {
        "rule": found.rule,
        "craft": found.craft,
        "file": found.file,
        "print": found.print,
        "reason": reason,
        "by": by,
    }
    from cfglint.tomlwrite import lines as written

    lines = written(rows)
    lines += [f"until = {until}"] if until else []
    message = "".join(char if char.isprintable() else "?" for char in found.message)
    return "\n".join(["", "[[accept]]", f"# line {found.span.line}: {message}", *lines, ""])


def without(text: str, document: Document, indices: Sequence[int]) -> str:
    """The text of an ``accepted.toml`` without some of its blocks (numbers from 0).

    A block goes from its header to before the next, with the comments below the header.
    """
    lines = text.split("\n")
    count = len(document.data.get("accept", ()))
    starts = [document.where_value("accept", at).line - 1 for at in range(count)]
    ends = [*starts[1:], len(lines)]
    gone = {row for at in indices for row in range(starts[at], ends[at])}
    kept = [line for row, line in enumerate(lines) if row not in gone]
    return "\n".join(kept).rstrip("\n") + "\n"
