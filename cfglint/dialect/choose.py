"""Which dialect reads a dump: the one it asks for, that recognises it, or understands it best."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.dialect.identify import LONGEST, LOOK_AT, directive, identify
from cfglint.dialect.reading import Reader
from cfglint.errors import EXIT_UNREAD, Problem

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source

#: Uses of a line that say nothing for or against a dialect.
_NO_SIGN = ("comment", "title", "ignored", "identity", "echo", "refusal", "refused")


def understood(dialect: Dialect, source: Source) -> float:
    """The share of a dump's first lines (not comments) that a dialect has a meaning for."""
    lines = [line for line in source.lines[: 2 * LOOK_AT] if len(line) <= LONGEST]
    reader = Reader(source.from_text(source.file, "\n".join(lines)), dialect)
    reader.read()
    counted = [use for use in reader.uses.values() if use not in _NO_SIGN]
    known = [use for use in counted if use not in ("stray", "unreadable", "misread")]
    return len(known) / len(counted) if counted else 0.0


def choose(source: Source, dialects: Mapping[str, Dialect], sample: str = "") -> Dialect:
    """The dialect of a dump: the one that it asks for, else the one that recognises it.

    A dialect recognises a dump whose identity line it can read; where none or several do, the
    one that understands clearly the most of the dump's lines is taken.  Raises Problem,
    with the candidates named, when that is not clear; where ``sample``, the dump's path, is said,
    also with the command that drafts a dialect from it.
    """
    asked = directive(source)
    if asked is not None:
        name, span = asked
        if name in dialects:
            return dialects[name]
        from cfglint.near import suggestion

        raise Problem(
            f"the dump asks for the dialect `{name}`, which is not here",
            span=span,
            instead=suggestion(name, dialects),
        )
    marked = [one for one in dialects.values() if identify(one, source).line is not None]
    if len(marked) == 1:
        return marked[0]
    pool = marked or list(dialects.values())
    scores = sorted(
        ((understood(one, source), one.id, one) for one in pool),
        reverse=True,
        key=lambda row: (row[0], row[1]),
    )
    best = scores[0] if scores else (0.0, "", None)
    if best[2] is None or best[0] < 0.5:
        raise Problem(
            "no dialect recognises this file as a dump",
            file=source.file,
            instead=_teach(sample) + f"known dialects: {', '.join(dialects)}; name one with "
            "--dialect, in cfglint.toml, or in a comment `cfglint: dialect NAME`",
            exit=EXIT_UNREAD,
        )
    rivals = [row for row in scores if row[0] >= best[0] * 0.8]
    if len(rivals) > 1:
        raise Problem(
            f"several dialects could have written this dump: {', '.join(r[1] for r in rivals)}",
            file=source.file,
            instead="name one with --dialect, in cfglint.toml, or in a comment "
            "`cfglint: dialect NAME`",
        )
    return best[2]


def _teach(sample: str) -> str:
    """How a dialect is had for a dump that none reads, ``""`` if it is in no file."""
    if not sample:
        return ""
    from shlex import quote

    # A name that begins like an option must not be taken for one.
    path = f"./{sample}" if sample.startswith("-") and sample != "-" else sample
    return f"if it is one, `cfglint teach {quote(path)} -o mine.toml` drafts a dialect for it; "
