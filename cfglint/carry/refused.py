"""Reading the log of a restore: which lines were refused, why, and what to enter instead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cfglint.carry.changes import Fate, between
from cfglint.carry.side import Side, Statement, raw_of, read_side
from cfglint.dialect.lines import replaced
from cfglint.dialect.reading import Reader
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.span import Span

Why = Literal[
    "renamed", "removed", "out of range", "misspelt", "wrong form", "readable", "no line", "unclear"
]


class Refused(NamedTuple):
    """One refusal.

    ``cause`` is the span of the refused line (None where the log shows none), ``said`` what the
    controller said; ``why`` names the kind of reason and ``meaning`` tells it; ``enter`` is the
    line to enter instead ("" where none can be named).
    """

    span: Span
    said: str
    cause: Span | None
    text: str
    why: Why
    meaning: str
    enter: str


def refused(source: Source, dialect: Dialect, version: str = "") -> tuple[Refused, ...]:
    """Every refusal of a pasted log with its cause and its cure.

    ``version`` is the firmware's where the log does not say it.
    """
    side = read_side(source, dialect, version=version)
    if not side.craft.refusals:
        return ()
    statements = {statement.line: statement for statement, _use in side.uses}
    fate = between(dialect, "", side.version)
    found = []
    for refusal in side.craft.refusals:
        statement = statements.get(refusal.cause.line) if refusal.cause is not None else None
        if statement is None:
            meaning = "no line stands before it; the log may have lost some"
            found.append(Refused(refusal.span, refusal.reason, None, "", "no line", meaning, ""))
            continue
        why, meaning, enter = _judge(statement, side, fate)
        found.append(
            Refused(
                refusal.span,
                refusal.reason,
                refusal.cause,
                refusal.cause_text,
                why,
                meaning,
                enter,
            )
        )
    return tuple(found)


def _judge(statement: Statement, side: Side, fate: Fate) -> tuple[Why, str, str]:
    text, name = raw_of(statement), statement.name
    why = fate.removed_in(text)
    if why:
        return "removed", why, ""
    renamed = fate.renamed_in(text)
    if renamed is not None:
        old, new, line = renamed
        return "renamed", f"`{old}` is called `{new}` in this firmware", line
    alone = _read_alone(statement, side)
    if alone.misread:
        # The nearest word is no line to paste: a motor signal one letter off is another signal.
        row = alone.misread[0]
        return "out of range", f"`{row.written}` cannot be here; what can: {row.valid}", ""
    if not alone.strays and not alone.unreadable:
        meaning = (
            "the dialect knows this line and its value; the controller may lack the hardware, or "
            "the dialect file another version's change"
        )
        return "readable", meaning, ""
    here = alone.called_here(name)
    if here:
        meaning = f"`{name}` is another version's name for `{here}`"
        return "renamed", meaning, replaced(text, name, here)
    shapes = [
        entry.at.text.rsplit(" > ", 1)[-1]
        for entry in side.tables.map.entries
        if entry.way == "template" and entry.at.segments[-1].pieces[0][1] == _first(name)
    ]
    if shapes:
        told = " or ".join(f"`{line}`" for line in dict.fromkeys(shapes))
        return "wrong form", f"such a line is written {told}", ""
    from cfglint.near import nearest

    close = nearest(name, side.tables.known_names())
    if close and close != name:
        meaning = f"there is no `{name}`; the nearest is `{close}`"
        return "misspelt", meaning, replaced(text, name, close)
    return "unclear", f"the dialect file does not know `{name}` either", ""


def _first(name: str) -> str:
    """The first word of a name, as addresses have it."""
    from cfglint.dump.atoms import cut

    return next((atom.text.lower() for atom in cut(name) if atom.kind != "mark"), "")


def _read_alone(statement: Statement, side: Side) -> Reader:
    """Read one line by itself, under its titles, as if the controller had taken it."""
    from cfglint.dump.source import Source

    alone = Reader(Source.from_text(side.craft.file, ""), side.dialect, version=side.version)
    alone.rows = [row for row in side.reader.rows if row.line == statement.line]
    alone.source = side.source
    alone.read()
    return alone
