"""Proving a draft: the dialect with its rows in place reads both dumps, and they are compared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import family
from cfglint.teach.updates_model import Differs, Row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Dialect

#: Kinds of entries of a comparison that say that something is as it was.
_EQUAL = ("same", "renamed", "rescaled")
_IN_ENTRY = ("moved", "rescale", "words", "default", "setting")


def change_of(at: str, rows: Sequence[Row]) -> dict[str, Any]:
    """The row of ``[[changes]]`` that the drafted rows make."""
    change: dict[str, Any] = {"at": at}
    for row in rows:
        if not row.drafted:
            continue
        if row.kind in ("rename", "remove", "boards", "modes"):
            change.setdefault(row.kind, {})[row.name] = row.now if row.now else row.reason
        elif row.kind == "kept":
            change.setdefault("kept", []).append(row.name)
        elif row.kind in _IN_ENTRY:
            entry = change.setdefault("settings", {}).setdefault(row.setting, {})
            for key, item in row.keys.items():
                if isinstance(item, dict):
                    entry[key] = {**entry.get(key, {}), **item}
                else:
                    entry[key] = item
    return change


def with_row(
    dialect: Dialect, at: str, rows: Sequence[Row]
) -> tuple[list[Row], Dialect, list[str]]:
    """The rows, and the dialect with those drafted in place.

    A row that makes the dialect file wrong (two settings would have one name, say) becomes a
    comment, the least likely first, and a note says why.
    """
    from cfglint.dialect.checks import mistakes

    kept = list(rows)
    notes: list[str] = []
    before = {str(one) for one in mistakes(dialect.document)}
    while True:
        change = change_of(at, kept)
        made = _dialect(dialect, change)
        wrong = [one for one in mistakes(made.document) if str(one) not in before]
        drafted = [row for row in kept if row.drafted]
        if not wrong or not drafted:
            return kept, made, notes
        weakest = _blamed(drafted, str(wrong[0])) or min(drafted, key=lambda row: row.confidence)
        kept[kept.index(weakest)] = weakest._replace(
            drafted=False, reason=f"{weakest.reason}; {wrong[0].message}"
        )
        notes.append(f"`{weakest.name}` is left to you: {wrong[0].message}")


def _blamed(rows: Sequence[Row], message: str) -> Row | None:
    """The least likely row that a message speaks of."""
    named = [row for row in rows if f"`{row.name}`" in message or f"`{row.now}`" in message]
    return min(named, key=lambda row: row.confidence, default=None)


def _dialect(dialect: Dialect, change: dict[str, Any]) -> Dialect:
    from cfglint.dialect.model import Dialect as Made
    from cfglint.facts.versions import compare
    from cfglint.tomltext import Document

    at = change["at"]
    rows: list[dict[str, Any]] = []
    joined = len(change) == 1  # nothing is changed
    for row in dialect.data.get("changes", []):
        order = compare(row["at"], at, dialect.order)
        if order >= 0 and not joined:
            rows.append(_joined(row, change) if order == 0 else change)
            joined = True
            if order == 0:
                continue
        rows.append(row)
    rows += [] if joined else [change]
    data = {**dialect.data, "changes": rows} if rows else dict(dialect.data)
    document = Document(dialect.file, "", data)
    return Made(document, dialect.grammar)


def _joined(row: dict[str, Any], change: dict[str, Any]) -> dict[str, Any]:
    """Two rows of one version as one."""
    out = dict(row)
    for key, item in change.items():
        if isinstance(item, dict) and isinstance(out.get(key), dict):
            out[key] = _joined(out[key], item)
        elif isinstance(item, list):
            out[key] = [*out.get(key, []), *item]
        else:
            out[key] = item
    return out


def proved(
    rows: Sequence[Row], dialect: Dialect, olds: Sequence[Side], news: Sequence[Side], at: str
) -> tuple[list[Row], list[Differs], int]:
    """The rows with what reading says of each; what still differs, and how much is the same."""
    from cfglint.carry.compare import compare
    from cfglint.carry.side import read_side

    differs: list[Differs] = []
    equal = 0
    told: dict[str, Differs] = {}
    same: set[str] = set()
    for old, new in zip(olds, news, strict=True):
        before = read_side(old.source, dialect, extent=old.craft.extent)
        after = read_side(new.source, dialect, version=at, extent=new.craft.extent)
        for entry in compare(before, after).entries:
            if entry.name == "craft.firmware":
                continue
            if entry.kind in _EQUAL:
                if entry.meaning not in ("no setting", "a command"):
                    equal += 1
                    same.add(family(entry.name))
                continue
            one = Differs(entry.kind, entry.name, entry.was, entry.now, entry.before, entry.after)
            differs.append(one)
            told.setdefault(family(entry.name), one)
    return [_with_proof(row, told, same) for row in rows], differs, equal


def _with_proof(row: Row, told: dict[str, Differs], same: set[str]) -> Row:
    if not row.drafted or row.kind in ("default", "remove", "kept", "setting", "boards"):
        return row
    about = family(row.setting) if row.setting else row.now
    about = f"mode {row.name}" if row.kind == "modes" else about
    if about in told:
        one = told[about]
        return row._replace(proof=f"with it the value differs: {one.was} → {one.now}")
    return row._replace(proof="with it both dumps say the same") if about in same else row
