"""What a draft of a changes table comes to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dialect.model import Dialect
    from cfglint.span import Span

#: ``rename``, ``remove``, ``boards``, ``modes`` and ``traits`` are rows of these tables, ``kept``
#: a new address without a meaning, ``setting`` a new one that may have one; ``at``, ``rescale``,
#: ``words``, ``default`` and ``doubt`` (its scale may be another) are keys of a setting's entry.
Kind = Literal[
    "rename", "remove", "boards", "modes", "traits", "kept",
    "at", "rescale", "words", "default", "setting", "doubt",
]  # fmt: skip
#: Kinds that change how the lines of a setting are read.
READING = ("rename", "at", "rescale", "words", "setting", "default")
#: From here on a row is live; below, it is a comment and a question.
SURE = 0.7


class Row(NamedTuple):
    """One change, how likely it is (0 to 1), and why.

    ``name`` is the old name, or the neutral setting or mode; ``now`` the new name, or keys as
    TOML.  ``live`` says that it stands in the table; the others are comments beside it.  ``keys``
    are what a setting's entry gets, ``rival`` the runner-up, ``ask`` the question of the sheet
    that settles it.  ``proof`` is what reading both dumps with the rows in place says of it.
    """

    kind: Kind
    name: str
    now: str
    confidence: float
    reason: str
    live: bool
    keys: Mapping[str, Any] = {}
    setting: str = ""
    rival: str = ""
    ask: str = ""
    answered: bool = False
    proof: str = ""


class Differs(NamedTuple):
    """What is not the same before and after, with the rows in place (kinds of a comparison)."""

    kind: str
    name: str
    was: str
    now: str
    before: Span | None
    after: Span | None


class Changes(NamedTuple):
    """A drafted row of ``[[changes]]``.

    ``text`` is the TOML block, comments and all; ``at`` the version it holds from, ``since`` that
    of the dumps before (``""`` where they do not say).  ``dialect`` is the dialect with the rows
    in place, ``differs`` what two dumps then still do not have in common, ``equal`` how many
    lines and settings they do, ``unread`` how many lines after the update had no meaning without
    the rows and how many have none with them.  ``versions`` is the wider range that the dialect
    needs (``""`` where it needs none).  ``joins`` says that the file has a row of this version
    already, into which the block belongs.  ``open`` are the questions left, each with what it is
    about; ``reopened`` those whose answer the dumps contradict.
    """

    text: str
    at: str
    since: str
    rows: tuple[Row, ...]
    differs: tuple[Differs, ...]
    equal: int
    unread: tuple[int, int]
    versions: str
    notes: tuple[str, ...]
    dialect: Dialect
    joins: bool
    open: Mapping[str, str]
    reopened: tuple[str, ...]

    def live(self, kind: Kind) -> dict[str, str]:
        """Name → what it is now, of the rows of a kind that stand in the table."""
        return {row.name: row.now for row in self.rows if row.kind == kind and row.live}
