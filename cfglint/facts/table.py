"""What every table of facts shares: the standing of a fact, and looking a row up by its id."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    from collections.abc import Mapping

#: The standing of a fact.  ``published``: the source named says so.  ``common practice``: what
#: the trade does, no single source.  ``from memory``: check it before relying on it; a rule
#: that rests on it should advise, not ground.
Mark = Literal["published", "common practice", "from memory"]

#: Strongest first.
MARKS: tuple[Mark, ...] = ("published", "common practice", "from memory")

Row = TypeVar("Row")


def row_of(table: Mapping[str, Row], row_id: str, what: str) -> Row:
    """The row called ``row_id``; ``what`` names the kind of row in the message.

    Raises ValueError, listing the ids there are, for one that is not in the table.
    """
    try:
        return table[row_id]
    except KeyError:
        raise ValueError(f"no {what} is called {row_id!r}; known: {', '.join(table)}") from None
