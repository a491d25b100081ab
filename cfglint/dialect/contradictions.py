"""Contradictions in a dialect file: what is well-formed and cannot be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.dialect.load import load_dialect
from cfglint.dialect.reach import not_read_back, unreached
from cfglint.dialect.resolve import apply, start
from cfglint.errors import Problem, Problems

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.dialect.model import Dialect
    from cfglint.span import Span
    from cfglint.tomltext import Document, Path


def examine(file: str, data: bytes, *, folder: str = "") -> list[Problem]:
    """All that ``dialect check`` says of a file: mistakes, else contradictions."""
    try:
        dialect = load_dialect(file, data, folder=folder, trust_grammar=True)
        dialect.scanner  # noqa: B018  (a grammar that Lark refuses shows here)
    except Problems as several:
        return list(several.each)
    except Problem as single:
        return [single]
    return contradictions(dialect)


def contradictions(dialect: Dialect) -> list[Problem]:
    """Rename cycles, names renamed or removed twice, versions that overlap or are not covered,
    value maps that cannot be written back, names used for two things, and whatever can never be
    read; each with its place.
    """
    found = [*_renames(dialect.document), *_versions(dialect), *_stages(dialect)]
    versions = ["", *(row["at"] for row in dialect.data.get("changes", []))]
    found += [problem for version in versions for problem in unreached(dialect, version)]
    if not found:
        found += [problem for version in versions for problem in not_read_back(dialect, version)]
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
        apply(raw, change)
        yield from _stage(dialect, raw, index)


def _stage(dialect: Dialect, raw: dict[str, Any], index: int) -> Iterator[Problem]:
    yield from _alike(dialect, raw["modes"], [("modes",)], index)
    for name, entry in raw["settings"].items():
        for key in ("values", "mask"):
            yield from _alike(dialect, entry.get(key, {}), [("settings", name, key)], index)
    for form in raw["forms"]:
        for field, codec in form.get("fields", {}).items():
            for key in ("values", "mask"):
                paths = _form_paths(dialect, form, (field, key))
                yield from _alike(dialect, codec.get(key, {}), paths, index)
    yield from _names(dialect, raw, index)


def _form_paths(dialect: Dialect, form: dict[str, Any], rest: tuple[str, str]) -> list[Path]:
    """Where a form's field may stand: in the file's own list or in that of a change."""
    data = dialect.data
    return [
        (*head, number, "fields", *rest)
        for head, rows in (
            (("forms",), data.get("forms", [])),
            *(
                (("changes", at, "forms"), row.get("forms", []))
                for at, row in enumerate(data.get("changes", []))
            ),
        )
        for number, one in enumerate(rows)
        if one["line"] == form["line"] and rest[0] in one.get("fields", {})
    ]


def _alike(
    dialect: Dialect, table: dict[str, Any], paths: list[Path], index: int
) -> Iterator[Problem]:
    """Two meanings that are written alike: what is written could not be read back."""
    seen: dict[str, str] = {}
    for neutral, written in table.items():
        text = str(written)
        key = text.lower() if dialect.ignore_case else text
        if text and key in seen:
            yield Problem(
                f"`{seen[key]}` and `{neutral}` are both written `{text}`",
                span=_place(dialect.document, paths, neutral, index),
                instead="one written word can be read back as one meaning only",
            )
        seen[key] = neutral


def _place(document: Document, paths: list[Path], key: str, index: int) -> Span:
    """The latest place that gives a table its key, up to a change; there is one."""
    places = [("changes", at, *path) for at in range(index, -1, -1) for path in paths]
    path = next(path for path in (*places, *paths) if key in _table(document.data, path))
    return document.where(*path, key)


def _table(data: Any, path: Path) -> Any:
    for part in path:
        data = data[int(part)] if isinstance(data, list) else data.get(part, {})
    return data


def _names(dialect: Dialect, raw: dict[str, Any], index: int) -> Iterator[Problem]:
    """Two settings under one name in one section."""
    seen: dict[tuple[str, str], str] = {}
    for setting, row in raw["settings"].items():
        if "name" not in row:
            continue
        name = row["name"].lower() if dialect.ignore_case else row["name"]
        key = (row.get("within", ""), name)
        if key in seen:
            yield Problem(
                f"`{row['name']}` stands for both `{seen[key]}` and `{setting}`",
                span=_place(dialect.document, [("settings",)], setting, index),
                instead="give one of them another name, or another section",
            )
        seen[key] = setting
