"""What an update changed, as drafted from two dumps: the block, and what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.span import Span
    from cfglint.teach.updates_model import Changes

CAUTION = (
    "Two dumps show what is written, not what the makers meant. Read their notes on the update, "
    "and look over every row before anybody carries a setup by it; then check the craft at the "
    "bench, without propellers. Local rules and the maker's instructions come first."
)


class Updated(NamedTuple):
    """All that there is to tell.  ``output`` and ``sheet`` are files that were written, ``""`` for
    none; ``dialect`` is the file that the changes belong into, ``""`` where it was drafted from the
    dumps before.
    """

    output: str
    dialect: str
    sheet: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    changes: Changes
    notes: tuple[str, ...]


def summary(found: Updated) -> str:
    """The last line, in numbers."""
    rows, changes = found.changes.rows, found.changes
    live = sum(row.live for row in rows)
    asked, left = _many(len(changes.open), "question"), _many(len(changes.differs), "difference")
    return (
        f"{_many(live, 'row')} drafted, {len(rows) - live} not live, {asked} for you, {left} left"
    )


def _many(number: int, one: str) -> str:
    return f"{number} {one}{'' if number == 1 else 's'}"


def updated_text(found: Updated) -> str:
    """The block, what is open, and what to do now."""
    return "\n".join(_text(found)) + "\n"


def _text(found: Updated) -> Iterator[str]:
    from shlex import quote
    from textwrap import wrap

    changes = found.changes
    yield f"{found.output}: what changed from {changes.since or '?'} to {changes.at}"
    yield f"dialect: {found.dialect or 'drafted from the dumps before'}"
    yield from (f"note: {note}" for note in found.notes)
    yield ""
    yield changes.text
    first, last = changes.unread
    if first or last:
        what = "of the dumps after without a meaning"
        yield f"{_many(last, 'line')} {what}, {first} without the rows"
    yield f"{changes.equal} settings and lines are the same in both dumps, read with these rows"
    if changes.open:
        yield ""
        yield f"Yours to answer ({f'in {found.sheet}' if found.sheet else 'with --sheet FILE'}):"
        for ask, about in changes.open.items():
            yield from wrap(f"{ask}: {about}", 98, initial_indent="  ", subsequent_indent="    ")
    file, dumps = quote(found.output), " ".join(map(quote, (*found.before, *found.after)))
    yield ""
    yield f"Next: look over [[changes]] at the end of {found.output}, then"
    yield f"  cfglint dialect check {file} {dumps}"
    yield f"  cfglint compare --dialect {file} {quote(found.before[0])} {quote(found.after[0])}"
    yield ""
    yield from wrap(CAUTION, 98)
    yield summary(found)


def updated_json(found: Updated) -> str:
    """All of it, the block's text too."""
    import json

    changes = found.changes
    rows: dict[str, Any] = {
        **{
            name: getattr(found, name) for name in ("output", "dialect", "sheet", "before", "after")
        },
        **{
            name: getattr(changes, name)
            for name in ("since", "at", "versions", "equal", "text", "open")
        },
        "rows": [row._asdict() for row in changes.rows],
        "differs": [
            {**one._asdict(), "before": _place(one.before), "after": _place(one.after)}
            for one in changes.differs
        ],
        "unread": {"without": changes.unread[0], "with": changes.unread[1]},
        "notes": (*found.notes, *changes.notes),
    }
    return json.dumps(rows, indent=2) + "\n"


def _place(span: Span | None) -> dict[str, Any] | None:
    return None if span is None else {"file": span.file, "line": span.line, "column": span.column}
