"""The drafted block of ``[[changes]]`` as text: rows with their reasons, the rest as comments."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint import tomlwrite as toml
from cfglint.teach.updates_proof import change_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.updates_model import Differs, Row

#: At most so many doubtful rows of a kind, and so many values that differ, are written out.
_MOST = 40


def block(
    at: str,
    since: str,
    rows: Sequence[Row],
    differs: Sequence[Differs],
    notes: Sequence[str],
    versions: str,
    *,
    joins: bool,
) -> str:
    """The text of the block; it holds comments alone where no row is likely enough."""
    told = f"from {since} to {at}" if since else f"up to {at}"
    out = toml.comment(
        f"What changed {told}, drafted from dumps before and after. The number before each "
        "reason says how likely the row is (1 is certain, which nothing here is): look at every "
        "one of them."
    )
    for note in notes:
        out += toml.comment(f"Note: {note}.")
    if versions:
        out += toml.comment(f"In [dialect] write: versions = {toml.text(versions)}")
    if joins:
        out += toml.comment(
            f"This file has a row of {at} already: put what stands here into that one."
        )
    drafted = [row for row in rows if row.drafted]
    if drafted:
        out += _table(at, drafted)
    out += _doubtful([row for row in rows if not row.drafted])
    out += _differing(differs)
    return "\n".join(out) + "\n"


def _table(at: str, rows: Sequence[Row]) -> list[str]:
    change = change_of(at, rows)
    out = ["", "[[changes]]", f"at = {toml.text(at)}"]
    out += ['# about = "what a person should know of this update, in a sentence"']
    kept = [row for row in rows if row.kind == "kept"]
    if kept:
        out += toml.comment("New names without a meaning that is known here.")
        out.append(f"kept = {toml.value(change['kept'])}")
    for kind in ("rename", "remove", "boards", "modes"):
        mine = [row for row in rows if row.kind == kind]
        if not mine:
            continue
        out += ["", f"[changes.{kind}]"]
        for row in mine:
            out += _reason(row)
            now = change[kind][row.name]
            out.append(f"{toml.key(row.name)} = {toml.value(now)}")
    entries = change.get("settings", {})
    if entries:
        out += ["", "[changes.settings]"]
        for name, keys in entries.items():
            for row in rows:
                if row.setting == name and row.keys:
                    out += _reason(row)
            out.append(f"{toml.key(name)} = {toml.value(keys)}")
    return out


def _reason(row: Row) -> list[str]:
    words = f"{row.confidence:.2f}: {row.reason}"
    words += f"; {row.proof}" if row.proof else ""
    out = toml.comment(words)
    if row.rival:
        out += toml.comment(f"or: {row.rival}")
    return out


def _doubtful(rows: Sequence[Row]) -> list[str]:
    """What is not likely enough, as comments that can be made rows by hand."""
    out: list[str] = []
    asked = [row for row in rows if row.kind == "question"]
    rest = sorted((row for row in rows if row.kind != "question"), key=lambda r: -r.confidence)
    if rest:
        out += ["", *toml.comment("Not likely enough for rows:")]
    for row in rest[:_MOST]:
        out += ["#", *_reason(row)]
        out += _comment(_as_row(row))
    out += _left_out(len(rest))
    if asked:
        out += ["", *toml.comment("Only you can tell:")]
        for row in asked:
            out += toml.comment(f"{row.name}: {row.reason}.")
    return out


def _as_row(row: Row) -> str:
    if row.kind in ("rename", "remove", "boards", "modes"):
        return f"{row.kind}: {toml.key(row.name)} = {toml.value(row.now or row.reason)}"
    return f"settings: {toml.key(row.setting)} = {toml.value(dict(row.keys))}"


def _comment(line: str) -> list[str]:
    """A line of TOML behind a comment mark, on one line, so that it can be taken out of it."""
    return [f"# {line}"]


def _differing(differs: Sequence[Differs]) -> list[str]:
    if not differs:
        return []
    words = (
        "With these rows the dumps still differ in (set by hand, lost, or a new default; nobody "
        "can tell from two dumps):"
    )
    out = ["", *toml.comment(words)]
    out += [
        line
        for one in differs[:_MOST]
        for line in toml.comment(f"  {one.kind}: {one.name}: {one.was} → {one.now}", width=400)
    ]
    return out + _left_out(len(differs))


def _left_out(number: int) -> list[str]:
    return toml.comment(f"… and {number - _MOST} more") if number > _MOST else []
