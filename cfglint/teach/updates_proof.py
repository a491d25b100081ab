"""Proving a draft: the dialect with its rows in place reads both dumps, and they are compared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import family
from cfglint.teach.updates_model import Differs, Row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Dialect
    from cfglint.teach.updates import Drafter

#: Kinds of entries of a comparison that say that something is as it was.
_EQUAL = ("same", "renamed", "rescaled")


class Made(NamedTuple):
    """The dialect with rows in place, and the dumps after as it reads them."""

    dialect: Dialect
    sides: Sequence[Side]


def change_of(at: str, rows: Sequence[Row]) -> dict[str, Any]:
    """The row of ``[[changes]]`` that the live rows make."""
    change: dict[str, Any] = {"at": at}
    for row in rows:
        if not row.live:
            continue
        if row.kind in ("rename", "remove", "boards", "modes", "traits"):
            change.setdefault(row.kind, {})[row.name] = row.now
        elif row.kind == "kept":
            change.setdefault("kept", []).append(row.name)
        else:
            entry = change.setdefault("map", {}).setdefault(row.setting, {})
            for key, item in row.keys.items():
                entry[key] = {**entry.get(key, {}), **item} if isinstance(item, dict) else item
    return change


def with_rows(g: Drafter, rows: Sequence[Row]) -> tuple[list[Row], Made, list[str]]:
    """The rows, and the dialect with those that are live in place.

    A row that makes the dialect file wrong (two settings would have one name, say) becomes a
    comment, the least likely first, and a note says why.
    """
    from cfglint.carry.side import read_side
    from cfglint.dialect.checks import mistakes

    kept = list(rows)
    notes: list[str] = []
    before = {str(one) for one in mistakes(g.dialect.document)}
    while True:
        dialect = dialect_with(g.dialect, change_of(g.at, kept))
        wrong = [one for one in mistakes(dialect.document) if str(one) not in before]
        live = [row for row in kept if row.live]
        if not wrong or not live:
            sides = [read_side(side.source, dialect, version=g.at, extent=side.craft.extent)
                     for side in g.news]  # fmt: skip
            return kept, Made(dialect, sides), notes
        message = wrong[0].message
        blamed = [row for row in live if f"`{row.name}`" in message or f"`{row.now}`" in message]
        weakest = min(blamed or live, key=lambda row: row.confidence)
        reason = f"{weakest.reason}; {message}"
        kept[kept.index(weakest)] = weakest._replace(live=False, reason=reason)
        notes.append(f"`{weakest.name}` is left to you: {message}")


def dialect_with(dialect: Dialect, change: dict[str, Any]) -> Dialect:
    """A dialect with one more row of changes, joined to one of the same version."""
    from cfglint.dialect.model import Dialect as Made_
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
    return Made_(Document(dialect.file, "", data))


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


def proved(g: Drafter, rows: Sequence[Row], made: Made) -> tuple[list[Row], list[Differs], int]:
    """The rows with what reading says of each; what still differs, and how much is the same."""
    from cfglint.carry.compare import compare
    from cfglint.carry.side import read_side

    differs: list[Differs] = []
    equal = 0
    told: dict[str, Differs] = {}
    same: set[str] = set()
    for old, after in zip(g.olds, made.sides, strict=True):
        before = read_side(old.source, made.dialect, extent=old.craft.extent)
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
    if not row.live or row.kind not in ("rename", "at", "rescale", "words", "modes"):
        return row
    about = f"mode {row.name}" if row.kind == "modes" else row.setting or row.now
    if about in told:
        one = told[about]
        return row._replace(proof=f"with it the value differs: {one.was} → {one.now}")
    return row._replace(proof="with it both dumps say the same") if about in same else row
