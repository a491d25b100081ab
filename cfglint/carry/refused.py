"""Reading the log of a restore: which lines were refused, why, and what to enter instead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cfglint.carry.changes import Fate, between
from cfglint.carry.side import Side, read_side
from cfglint.dialect.model import first_word
from cfglint.dialect.reading import Reader
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.dump.statements import Statement
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
    text = statement.text[statement.start : statement.end]
    name = statement.name or text.split(maxsplit=1)[0]
    at = statement.name_at - statement.start if statement.name else 0

    def with_name(new: str) -> str:
        return text[:at] + new + text[at + len(name) :]

    if name in fate.removed:
        return "removed", fate.removed[name], ""
    if name in fate.renamed:
        new = fate.renamed[name]
        return "renamed", f"`{name}` is called `{new}` in this firmware", with_name(new)
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
        return "renamed", f"`{name}` is another version's name for `{here}`", with_name(here)
    word = side.tables.fold(first_word(text))
    shapes = [form.line for form in side.tables.forms_by_head.get(word, ()) if word]
    if shapes:
        told = " or ".join(f"`{line}`" for line in shapes)
        return "wrong form", f"such a line is written {told}", ""
    from cfglint.near import nearest

    close = nearest(name, side.tables.known_names())
    if close and close != name:
        return "misspelt", f"there is no `{name}`; the nearest is `{close}`", with_name(close)
    return "unclear", f"the dialect file does not know `{name}` either", ""


def _read_alone(statement: Statement, side: Side) -> Reader:
    """Read one line by itself, in its section, as if the controller had taken it."""
    from cfglint.dump.source import Source

    alone = Reader(Source.from_text(side.craft.file, ""), side.dialect)
    alone.tables = side.tables
    section = side.sections[statement.line]
    alone.sections = section.split("/") if section else []
    alone._enter()
    alone._take(statement)
    return alone
