"""What a dialect file says for one firmware version: its tables with every change up to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from cfglint.dialect.lines import find, replaced
from cfglint.dialect.mapfile import start, whole
from cfglint.dialect.mapping import words_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Protocol

    class Versioned(Protocol):
        """What of a dialect counts here; ``stages`` are the plain tables made so far."""

        data: dict[str, Any]
        order: Literal["dotted", "decimal"]
        stages: dict[tuple[str, ...], dict[str, Any]]


def changes_until(dialect: Versioned, version: str) -> list[dict[str, Any]]:
    """The dialect's changes that a version has seen, oldest first.

    An unknown version has seen none: the tables are then those of the first version covered.
    A version that cannot be ordered counts as unknown.
    """
    rows: list[dict[str, Any]] = dialect.data.get("changes", [])
    if not rows or not orderable(dialect, version):
        return []
    from cfglint.facts.versions import compare

    return [row for row in rows if compare(row["at"], version, dialect.order) <= 0]


def orderable(dialect: Versioned, version: str) -> bool:
    """Whether a version is known and can be placed among the dialect's changes."""
    from cfglint.facts.versions import order_key

    try:
        order_key(version, dialect.order)
    except ValueError:
        return False
    return True


def plain_at(dialect: Versioned, version: str) -> dict[str, Any]:
    """The dialect's plain tables (map, rows, kept, modes, …) as a version has them.

    They are made once for each state of the dialect; what a change leaves alone is the same
    object in all of them.
    """
    stages = dialect.stages
    seen: tuple[str, ...] = ()
    if not stages:
        stages[seen] = start(dialect.data)
    for change in changes_until(dialect, version):
        before, seen = seen, (*seen, change["at"])
        if seen not in stages:
            stages[seen] = applied(stages[before], change)
    return stages[seen]


def applied(raw: Mapping[str, Any], change: Mapping[str, Any]) -> dict[str, Any]:
    """Plain tables after one ``[[changes]]`` row; those before stay as they are."""
    raw = {**raw, "map": dict(raw["map"])}
    # What goes by an old name is taken out first: the name may be another's afterwards.
    _remove(raw, change.get("remove", {}))
    _rename(raw, change.get("rename", {}))
    raw["kept"] = [*raw["kept"], *change.get("kept", [])]
    for name, patch in change.get("map", {}).items():
        raw["map"][name] = without_empty(merged(raw["map"].get(name, {}), whole(patch)))
    new = change.get("rows", [])
    drop = {*change.get("drop_rows", []), *(row["id"] for row in new if "id" in row)}
    raw["rows"] = [row for row in raw["rows"] if row.get("id") not in drop] + list(new)
    for table in ("traits", "modes"):
        patch = dict(change.get(table, {}))
        for key in ("unsure", "own"):
            if key in patch:
                raw[f"{key}_{table}"] = patch.pop(key)
        raw[table] = {**raw[table], **patch}
    raw["modes"] = {name: word for name, word in raw["modes"].items() if word != ""}
    return raw


def merged(said: Mapping[str, Any], patch: Mapping[str, Any]) -> dict[str, Any]:
    """What a patch says over what was said, table by table."""
    found = dict(said)
    for key, value in patch.items():
        both = isinstance(value, dict) and isinstance(found.get(key), dict)
        found[key] = merged(found[key], value) if both else value
    return found


def without_empty(row: dict[str, Any]) -> dict[str, Any]:
    """A row in which a written word ``""`` has taken a word away."""
    words = row.get("words", {})
    if all(word != "" for word in words.values()):
        return row
    return {**row, "words": {name: word for name, word in words.items() if word != ""}}


def _rename(raw: dict[str, Any], names: Mapping[str, str]) -> None:
    """Every address with its renamed words; all renames of one change happen at once."""

    def renamed(text: str) -> str:
        return next(
            (made for old, new in names.items() if (made := replaced(text, old, new)) != text), text
        )

    def every(texts: Any) -> Any:
        if isinstance(texts, dict):
            return {field: every(text) for field, text in texts.items()}
        return renamed(texts) if isinstance(texts, str) else [renamed(one) for one in texts]

    def row_of(row: dict[str, Any]) -> dict[str, Any]:
        kinds = {"at": str | list, "column": str | list, "each": str | list,
                 "parts": dict, "columns": dict}  # fmt: skip
        new = {
            key: made
            for key, kind in kinds.items()
            if isinstance(row.get(key), kind) and (made := every(row[key])) != row[key]
        }
        return {**row, **new} if new else row

    if names:
        raw["map"] = {name: row_of(row) for name, row in raw["map"].items()}
        raw["rows"] = [row_of(row) for row in raw["rows"]]
        raw["kept"] = [renamed(text) for text in raw["kept"]]


def _remove(raw: dict[str, Any], gone: Iterable[str]) -> None:
    """Take out every address that holds removed words, and what has none left."""

    def left(texts: Any) -> list[str]:
        return [text for text in words_of(texts) if not any(find(text, name) for name in gone)]

    if not gone:
        return
    for name, row in list(raw["map"].items()):
        if "at" in row and len(at := left(row["at"])) < len(words_of(row["at"])):
            raw["map"][name] = {**row, "at": at}
            if not at:
                del raw["map"][name]
    raw["rows"] = [row for row in raw["rows"] if left(row["at"])]
    raw["kept"] = left(raw["kept"])
