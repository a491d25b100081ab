"""What an update changed, as drafted from two dumps: the block, and what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.report.blocks import Counts, Item, Lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.report.blocks import Block
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


def updated(found: Updated) -> Iterator[Block]:
    """The block of changes, what is open, and what to do now."""
    from shlex import quote

    changes = found.changes
    yield Item("", f"{found.output}: what changed from {changes.since or '?'} to {changes.at}")
    yield Item("", f"dialect: {found.dialect or 'drafted from the dumps before'}")
    yield from (Item("note: ", note) for note in found.notes)
    yield None
    yield Lines(None, changes.text, copy=True)
    yield None
    first, last = changes.unread
    if first or last:
        what = "of the dumps after without a meaning"
        yield Item("", f"{_many(last, 'line')} {what}, {first} without the rows")
    same = "settings and lines are the same in both dumps, read with these rows"
    yield Item("", f"{changes.equal} {same}")
    if changes.open:
        yield None
        where = f"in {found.sheet}" if found.sheet else "with --sheet FILE"
        yield Item("", f"Yours to answer ({where}):")
        yield from (Item("  ", f"{ask}: {about}") for ask, about in changes.open.items())
    file, dumps = quote(found.output), " ".join(map(quote, (*found.before, *found.after)))
    yield None
    yield Item("", f"Next: look over [[changes]] at the end of {found.output}, then")
    pair = f"{quote(found.before[0])} {quote(found.after[0])}"
    yield Lines(
        None,
        f"  cfglint dialect check {file} {dumps}\n  cfglint compare --dialect {file} {pair}",
        copy=True,
    )
    yield None
    yield Item("", CAUTION)
    yield Counts(summary(found))


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
