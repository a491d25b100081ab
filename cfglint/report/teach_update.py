"""What an update changed, as drafted from dumps before and after it: rows, doubts, differences.

The text is in the layout of the report of a run (see :mod:`cfglint.report.terminal`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from typing import TextIO

    from cfglint.report.layout import Line, Page
    from cfglint.span import Span
    from cfglint.teach.updates_model import Changes, Row

#: So many doubtful rows and differing values are told one by one.
MOST = 12

CAUTION = (
    "Two dumps show what is written, not what the makers meant. Read their notes on the update, "
    "and look over every row before anybody carries a setup by it; then check the craft at the "
    "bench, without propellers. Local rules and the maker's instructions come first."
)
_SAYS = {
    "rename": "called otherwise",
    "moved": "called otherwise",
    "remove": "gone",
    "boards": "the board",
    "rescale": "written in another unit",
    "words": "another word",
    "default": "another default",
    "modes": "another word for the mode",
    "setting": "new, and may be a setting",
    "kept": "new, without a meaning",
}


class Updated(NamedTuple):
    """All that there is to tell.  ``output`` is the file that was written, ``""`` for none.

    ``dialect`` is the file that the changes belong into, ``""`` where it was ``drafted`` from
    the dumps before.
    """

    output: str
    dialect: str
    drafted: bool
    before: tuple[str, ...]
    after: tuple[str, ...]
    changes: Changes
    notes: tuple[str, ...]

    def exit_code(self) -> int:
        """1 where there is anything to look over, else 0."""
        from cfglint.errors import EXIT_CLEAR, EXIT_FINDINGS

        return EXIT_FINDINGS if self.changes.rows or self.changes.differs else EXIT_CLEAR


# ---------------------------------------------------------------- words for all forms


def summary(found: Updated) -> str:
    """The last line, in numbers."""
    rows = found.changes.rows
    sure = sum(row.drafted for row in rows)
    asked = sum(row.kind == "question" for row in rows)
    left = len(found.changes.differs)
    return (
        f"{_many(sure, 'row')} drafted, {len(rows) - sure - asked} too doubtful, "
        f"{_many(asked, 'question')} for you, {_many(left, 'difference')} left"
    )


def _many(number: int, one: str) -> str:
    return f"{number} {one}{'' if number == 1 else 's'}"


def said(row: Row) -> str:
    """A row in a few words: ``after-ms → wait-ms``."""
    if row.kind in ("rename", "boards", "modes"):
        return f"{row.name} → {row.now}"
    if row.kind in ("remove", "kept"):
        return row.name
    if row.kind == "setting":
        return f"{row.now} sets {row.name}"
    return f"{row.name}: {row.now}"


def steps(found: Updated) -> Iterator[str]:
    """What to do now, in order."""
    from shlex import quote

    file = quote(found.output)
    yield (
        f"Look over [[changes]] at the end of {found.output}: each row has its reason above it, "
        "and what was too doubtful stands there as comments."
    )
    dumps = " ".join(map(quote, (*found.before, *found.after)))
    yield f"`cfglint dialect check {file} {dumps}` looks for contradictions."
    yield (
        f"`cfglint compare --dialect {file} {quote(found.before[0])} {quote(found.after[0])}` "
        "shows what differs by meaning, and which lines put it right."
    )


# ---------------------------------------------------------------- text


def write_updated(
    found: Updated,
    *,
    file: TextIO,
    width: int | None = None,
    colour: bool | None = None,
) -> None:
    """Write what was drafted.

    ``width`` and ``colour`` are as in :func:`cfglint.report.terminal.write_text`.
    """
    from cfglint.report.layout import page_of, write_lines

    write_lines(_text(found, page_of(file, width)), file, colour)


def _text(found: Updated, page: Page) -> Iterator[Line]:
    from cfglint.report.layout import GAP, LABELS, heading, prose, wrap

    changes = found.changes
    arrow = page.drawn("→", "->")
    between = f"{changes.since or '?'} {arrow} {changes.at}"
    yield from heading([found.output, "what an update changed", between], page)
    for label, files in (("before", found.before), ("after", found.after)):
        for one in files:
            yield from prose(label, one, page)
    base = "drafted from the dumps before" if found.drafted else found.dialect
    yield from prose("dialect", base, page)
    if changes.versions:
        yield from prose("covers", f"versions {changes.versions} now", page)
    for note in (*found.notes, *changes.notes):
        yield from prose("note", _sentence(note), page)
    yield []
    rows = [row for row in changes.rows if row.drafted]
    doubts = [row for row in changes.rows if not row.drafted and row.kind != "question"]
    asked = [row for row in changes.rows if row.kind == "question"]
    yield from _rows("Rows", rows, len(rows), page)
    doubts.sort(key=lambda row: -row.confidence)
    yield from _rows("Too doubtful for rows", doubts, MOST, page)
    if asked:
        yield from heading(["Only you can tell"], page)
        for row in asked:
            yield from prose("?", f"{row.name}: {row.reason}", page)
        yield []
    yield from _proof(changes, page)
    yield from heading(["Next"], page)
    for at, step in enumerate(steps(found), 1):
        yield from prose(f"{at}.", step, page)
    yield []
    yield from prose("caution", CAUTION, page)
    yield []
    # Over the page's whole width, as nothing stands beside it.
    whole = page._replace(width=page.width + LABELS + GAP)
    yield from ([(line, "bold")] for line in wrap(summary(found), whole))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")


def _rows(title: str, rows: Sequence[Row], most: int, page: Page) -> Iterator[Line]:
    from cfglint.report.layout import heading, labelled, prose

    if not rows:
        return
    yield from heading([title, str(len(rows))], page)
    for row in rows[:most]:
        text = f"{said(row)} ({_SAYS[row.kind]})"
        yield from _bold(prose(f"{row.confidence:.2f}", text, page))
        why = row.reason + (f"; {row.proof}" if row.proof else "")
        why += f"; or else {row.rival}" if row.rival else ""
        if row.kind != "kept":
            yield from prose("", why, page)
    if len(rows) > most:
        yield [*labelled("", page), (f"and {len(rows) - most} more, in the file", "dim")]
    yield []


def _bold(lines: Iterator[Line]) -> Iterator[Line]:
    for line in lines:
        yield [*line[:-1], (line[-1][0], "bold")]


def _proof(changes: Changes, page: Page) -> Iterator[Line]:
    from cfglint.report.layout import heading, labelled, prose

    yield from heading(["Both dumps, read with these rows"], page)
    yield from prose("same", f"{changes.equal} settings and lines", page)
    first, last = changes.unread
    if first or last:
        text = (
            f"{_many(last, 'line')} of the dumps after without a meaning, {first} without the rows"
        )
        yield from prose("unread", text, page)
    for one in changes.differs[:MOST]:
        span = one.after or one.before
        place = f" ({span.file}:{span.line})" if span is not None else ""
        yield from prose("differs", f"{one.kind}: {one.name}: {one.was} → {one.now}{place}", page)
    if len(changes.differs) > MOST:
        text = f"and {len(changes.differs) - MOST} more, in the file"
        yield [*labelled("", page), (text, "dim")]
    if changes.differs:
        why = "set by hand, lost, or a new default: nobody can tell from two dumps"
        yield from prose("why", why, page)
    yield []


# ---------------------------------------------------------------- JSON


def updated_json(found: Updated) -> str:
    """All of it, the block's text too."""
    import json

    changes = found.changes
    rows: dict[str, Any] = {
        "output": found.output,
        "dialect": found.dialect,
        "drafted": found.drafted,
        "before": found.before,
        "after": found.after,
        "since": changes.since,
        "at": changes.at,
        "versions": changes.versions,
        "rows": [row._asdict() for row in changes.rows],
        "differs": [
            {**one._asdict(), "before": _place(one.before), "after": _place(one.after)}
            for one in changes.differs
        ],
        "equal": changes.equal,
        "unread": {"without": changes.unread[0], "with": changes.unread[1]},
        "notes": (*found.notes, *changes.notes),
        "text": changes.text,
    }
    return json.dumps(rows, indent=2) + "\n"


def _place(span: Span | None) -> dict[str, Any] | None:
    return None if span is None else {"file": span.file, "line": span.line, "column": span.column}
