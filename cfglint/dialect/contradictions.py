"""Contradictions in a dialect file: what is well-formed and cannot be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.dialect.address import address
from cfglint.dialect.load import load_dialect
from cfglint.dialect.mapfile import start
from cfglint.dialect.mapping import words_of
from cfglint.dialect.values import key
from cfglint.dialect.versions import applied
from cfglint.errors import Problem, Problems

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.dialect.model import Dialect
    from cfglint.span import Span
    from cfglint.tomltext import Document, Path


def examine(file: str, data: bytes) -> list[Problem]:
    """All that ``dialect check`` says of a file: mistakes, else contradictions."""
    try:
        dialect = load_dialect(file, data)
    except Problems as several:
        return list(several.each)
    except Problem as single:
        return [single]
    return contradictions(dialect)


def contradictions(dialect: Dialect) -> list[Problem]:
    """Rename cycles, names renamed or removed twice, versions that overlap or are not covered,
    words that cannot be written back, addresses used for two things, and what can never be read;
    each with its place.
    """
    found = [*_renames(dialect.document), *_versions(dialect), *_stages(dialect)]
    # A contradiction of the first version is one of every later version too.
    once: dict[str, Problem] = {}
    for problem in found:
        once.setdefault(problem.message, problem)
    return sorted(once.values(), key=lambda one: one.span[1:3] if one.span is not None else (0, 0))


# ---------------------------------------------------------------- names


def _renames(document: Document) -> Iterator[Problem]:
    """Follow every name through the changes; ``now`` maps what it was at first to what it is."""
    now: dict[str, str] = {}
    gone: dict[str, str] = {}
    for index, row in enumerate(document.data.get("changes", [])):
        renames: dict[str, str] = row.get("rename", {})
        removes: dict[str, str] = row.get("remove", {})
        # All renames of one change happen at once, so two names may be exchanged.
        before = {last: first for first, last in now.items()}
        for old, new in renames.items():
            span = document.where("changes", index, "rename", old)
            first = before.get(old, old)
            if old == new:
                yield Problem(f"`{old}` is renamed to itself", span=span)
            elif new == first:
                yield Problem(
                    f"renames go round in a circle: `{first}` ends as `{new}` again",
                    span=span,
                    instead="take out the rename that did not happen",
                )
            if old in gone:
                yield Problem(
                    f"`{old}` is renamed at {row['at']} but was removed at {gone[old]}", span=span
                )
            twin = before.get(new)
            if twin is not None and new not in renames and new not in removes and new != old:
                yield Problem(
                    f"`{old}` and `{twin}` both become `{new}`",
                    span=span,
                    instead="one of them must be removed, or get another name",
                )
            now[first] = new
        yield from _merged(document, index, renames)
        for name in removes:
            span = document.where("changes", index, "remove", name)
            if name in renames:
                yield Problem(f"`{name}` is both renamed and removed at {row['at']}", span=span)
            elif name in gone:
                yield Problem(
                    f"`{name}` is removed at {row['at']} but was removed at {gone[name]}", span=span
                )
            gone[name] = row["at"]


def _merged(document: Document, index: int, renames: dict[str, str]) -> Iterator[Problem]:
    seen: dict[str, str] = {}
    for old, new in renames.items():
        if new in seen:
            yield Problem(
                f"`{seen[new]}` and `{old}` both become `{new}`",
                span=document.where("changes", index, "rename", old),
                instead="one of them must be removed, or get another name",
            )
        seen[new] = old


# ---------------------------------------------------------------- versions


def _versions(dialect: Dialect) -> Iterator[Problem]:
    from cfglint.facts.versions import VersionRange, compare

    document = dialect.document
    rows = dialect.data.get("changes", [])
    text = dialect.data["dialect"].get("versions", "")
    if not text:
        return
    span = document.where_value("dialect", "versions")
    try:
        covered = VersionRange.parse(text)
        outside = [
            index
            for index, row in enumerate(rows)
            if not covered.contains(row["at"], dialect.order)
        ]
    except ValueError as error:
        yield Problem(str(error), span=span)
        return
    lows = [one.version for one in covered.clauses if one.operator in (">=", ">")]
    highs = [one.version for one in covered.clauses if one.operator in ("<", "<=")]
    if any(compare(low, high, dialect.order) > 0 for low in lows for high in highs):
        yield Problem(
            f"no version keeps to `{text}`", span=span, instead="write for instance `>=7.0,<8`"
        )
        return
    for index, row in enumerate(dialect.data.get("examples", [])):
        if "firmware" in row and not covered.contains(row["firmware"], dialect.order):
            yield Problem(
                f"example {index + 1} is of firmware {row['firmware']}, outside the versions "
                f"covered, {text}",
                span=document.where_value("examples", index, "firmware"),
                instead="widen `versions`, or take the example out",
            )
    for index in outside:
        yield Problem(
            f"the change at {rows[index]['at']} is outside the versions covered, {text}",
            span=document.where_value("changes", index, "at"),
            instead="widen `versions`, or take the change out",
        )


# ---------------------------------------------------------------- each version's tables


def _stages(dialect: Dialect) -> Iterator[Problem]:
    """What the tables of the first version, and those after each change, contradict."""
    raw = start(dialect.data)
    yield from _stage(dialect, raw, -1)
    for index, change in enumerate(dialect.data.get("changes", [])):
        raw = applied(raw, change)
        yield from _stage(dialect, raw, index)


def _stage(dialect: Dialect, raw: dict[str, Any], index: int) -> Iterator[Problem]:
    yield from _alike(dialect, raw["modes"], [("modes",)], index)
    for name, entry in raw["map"].items():
        for kind in ("words", "bits"):
            yield from _alike(dialect, entry.get(kind, {}), [("map", name, kind)], index)
    for row in raw["rows"]:
        for field, codec in row.get("fields", {}).items():
            for kind in ("words", "bits"):
                paths = _row_paths(dialect, row, (field, kind))
                yield from _alike(dialect, codec.get(kind, {}), paths, index)
    yield from _addresses(dialect, raw, index)
    yield from _kept(dialect, raw)


def _row_paths(dialect: Dialect, row: dict[str, Any], rest: tuple[str, str]) -> list[Path]:
    """Where a row's field may stand: in the file's own list or in that of a change."""
    data = dialect.data
    return [
        (*head, number, "fields", *rest)
        for head, rows in (
            (("rows",), data.get("rows", [])),
            *(
                (("changes", at, "rows"), one.get("rows", []))
                for at, one in enumerate(data.get("changes", []))
            ),
        )
        for number, one in enumerate(rows)
        if one.get("fields") == row.get("fields") and rest[0] in one.get("fields", {})
    ]


def _alike(
    dialect: Dialect, table: dict[str, Any], paths: list[Path], index: int
) -> Iterator[Problem]:
    """Two meanings that are written alike: what is written could not be read back."""
    seen: dict[str, str] = {}
    for neutral, written in table.items():
        for text in words_of(written):
            if text and seen.get(key(text), neutral) != neutral:
                yield Problem(
                    f"`{seen[key(text)]}` and `{neutral}` are both written `{text}`",
                    span=_place(dialect.document, paths, neutral, index),
                    instead="one written word can be read back as one meaning only",
                )
            seen[key(text)] = neutral


def _place(document: Document, paths: list[Path], name: str, index: int) -> Span:
    """The latest place that gives a table its key, up to a change; there is one."""
    places = [("changes", at, *path) for at in range(index, -1, -1) for path in paths]
    path = next(
        (path for path in (*places, *paths) if name in _table(document.data, path)), ("map",)
    )
    return document.where(*path, name)


def _table(data: Any, path: Path) -> Any:
    for part in path:
        if isinstance(data, list):
            data = data[int(part)]
        else:
            data = data.get(part, {}) if isinstance(data, dict) else {}
    return data if isinstance(data, dict) else {}


def _addresses(dialect: Dialect, raw: dict[str, Any], index: int) -> Iterator[Problem]:
    """Two settings at one address: every line of it would set both, or neither could be told."""
    seen: dict[Any, str] = {}
    for name, row in raw["map"].items():
        for text in words_of(row.get("at", ())):
            if "{value}" in text:
                continue  # several settings may be written as one number of a line
            where = (
                tuple(part.pieces for part in address(text).segments),
                row.get("column", ""),
                row.get("bit"),
            )
            other = seen.setdefault(where, name)
            if other != name:
                yield Problem(
                    f"`{text}` stands for both `{other}` and `{name}`",
                    span=_place(dialect.document, [("map",)], name, index),
                    instead="give one of them another address: more words, or a title before it",
                )


def _kept(dialect: Dialect, raw: dict[str, Any]) -> Iterator[Problem]:
    """What is said to have no neutral meaning and is mapped: the map is what counts."""
    mapped = {text.lower() for row in raw["map"].values() for text in words_of(row.get("at", ()))}
    for number, text in enumerate(dialect.data.get("kept", {}).get("at", [])):
        if text.lower() in mapped:
            yield Problem(
                f"`{text}` is kept without a meaning and mapped as well",
                span=dialect.document.where_value("kept", "at", number),
                instead="take it out of one of the two",
            )
