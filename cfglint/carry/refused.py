"""Reading the log of a restore: which lines were refused, why, and what to enter instead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cfglint.carry.changes import Fate, between
from cfglint.dialect.codec import Bad, decode
from cfglint.dialect.reading import Reader
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.dump.statements import Statement
    from cfglint.span import Span

Why = Literal["renamed", "removed", "out of range", "misspelt", "readable", "no line", "unclear"]


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
    reader = Reader(source, dialect)
    if version and not reader.tables.version:
        reader.tables = dialect.at(version)
    craft = reader.craft()
    if not craft.refusals:
        return ()
    statements = {row.line: row for row in dialect.scanner.statements(source)}
    fate = between(dialect, "", reader.tables.version)
    found = []
    for refusal in craft.refusals:
        statement = statements.get(refusal.cause.line) if refusal.cause is not None else None
        if statement is None:
            found.append(
                Refused(
                    refusal.span,
                    refusal.reason,
                    None,
                    "",
                    "no line",
                    "no line stands before it; the log may have lost some",
                    "",
                )
            )
            continue
        why, meaning, enter = _judge(statement, reader, fate)
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


def _judge(statement: Statement, reader: Reader, fate: Fate) -> tuple[Why, str, str]:
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
    value = _value_trouble(statement, reader)
    if value is not None:
        bad, written = value
        # The nearest word is no line to paste: a motor signal one letter off is another signal.
        return "out of range", f"`{written}` cannot be here; what can: {bad.valid}", ""
    known = _known(statement, reader)
    if known:
        return (
            "readable",
            "the dialect knows this line and its value; the controller may lack the hardware, or "
            "the dialect file another version's change",
            "",
        )
    from cfglint.near import nearest

    close = nearest(name, reader.tables.known_names())
    if close and close != name:
        return "misspelt", f"there is no `{name}`; the nearest is `{close}`", with_name(close)
    return "unclear", f"the dialect file does not know `{name}` either", ""


def _value_trouble(statement: Statement, reader: Reader) -> tuple[Bad, str] | None:
    """The value of the line that cannot be, by the dialect's tables."""
    from cfglint.craft.settings import setting

    entry = reader.tables.names.get(("", reader.tables.fold(statement.name)))
    if entry is None:
        entries = (
            one
            for (_within, name), one in reader.tables.names.items()
            if name == reader.tables.fold(statement.name)
        )
        entry = next(entries, None)
    if entry is not None and statement.kind == "assignment":
        try:
            decode(entry.codec, setting(entry.setting), statement.value)
        except Bad as bad:
            return bad, statement.value
        return None
    again = _read_alone(statement, reader)
    if again.misread:
        row = again.misread[0]
        return Bad(row.valid, row.nearest), row.written
    return None


def _known(statement: Statement, reader: Reader) -> bool:
    again = _read_alone(statement, reader)
    return not again.strays and not again.misread and not again.unreadable


def _read_alone(statement: Statement, reader: Reader) -> Reader:
    """Read one line by itself, as if the controller had taken it."""
    from cfglint.dump.source import Source

    alone = Reader(Source.from_text(reader.file, ""), reader.dialect)
    alone.tables = reader.tables
    alone._take(statement)
    return alone
