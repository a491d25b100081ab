"""Reading the log of a restore: which lines were refused, why, and what to enter instead."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.carry.changes import Fate, between
from cfglint.carry.side import Side, Statement, raw_of, read_side
from cfglint.dialect.lines import replaced
from cfglint.dialect.reading import Reader
from cfglint.errors import EXIT_UNREAD, Problem

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.span import Span

Why = Literal[
    "renamed", "removed", "out of range", "misspelt", "wrong form", "readable", "no line", "unclear"
]


#: Words of refusals, in the languages that dialects are taught in.
_ANSWER = re.compile(
    r"\b(?:error|err|unknown|invalid|illegal|fail(?:ed|ure)?|refused?|reject(?:ed)?|denied|"
    r"no such|not (?:taken|found|known|allowed|valid|recogni[sz]ed)|cannot|can't|bad|wrong|"
    r"out of range|syntax|unexpected|missing|fehler|unbekannt|ung\u00fcltig|nicht|abgelehnt|"
    r"erreur|inconnue?|invalide|refus\u00e9e?|desconocid[oa]|inv\u00e1lid[oa]|rechazad[oa]|"
    r"fout|onbekend|ongeldig|geweigerd)\b",
    re.IGNORECASE,
)
#: How many such lines are shown, and how much of each.
_SHOWN, _MOST = 20, 80


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

    ``version`` is the firmware's where the log does not say it.  Raises Problem where the dialect
    does not say how a refusal looks.
    """
    side = read_side(source, dialect, version=version)
    if not dialect.mark("refusal"):
        raise _no_form(side)
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


def _no_form(side: Side) -> Problem:
    """That nobody can tell what was refused, with the lines that look like answers."""
    answers = [statement for statement, use in side.uses if _answers(raw_of(statement), use)]
    told = ", ".join(f"line {one.line} `{raw_of(one)[:_MOST]}`" for one in answers[:_SHOWN])
    if len(answers) > _SHOWN:
        told += f", and {len(answers) - _SHOWN} more"
    begins = Counter(raw_of(one).split()[0] for one in answers)
    usual = begins.most_common(1)[0][0] if begins else "no:"
    look = f"; what looks like answers: {told}" if told else "; no line looks like an answer"
    return Problem(
        f"the dialect `{side.dialect.id}` does not know how a refusal looks, so what was refused "
        f"here is unknown{look}",
        file=side.craft.file,
        instead=f"say it in `[marks]` of the dialect file, for instance "
        f'`refusal = "{usual} {{reason}}"`',
        exit=EXIT_UNREAD,
    )


def _answers(text: str, use: str) -> bool:
    """Whether a line looks like something that a controller says to a line it does not take."""
    if use not in ("stray", "unreadable", "misread", "comment", "title", "kept"):
        return False
    return bool(_ANSWER.search(text)) or (use != "comment" and text[0] in "!?^*")


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
