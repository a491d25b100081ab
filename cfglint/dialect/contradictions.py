"""Contradictions in a dialect file: what is well-formed and cannot be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.dialect.load import load_dialect
from cfglint.dialect.resolve import raw_at
from cfglint.errors import Problem

if TYPE_CHECKING:
    from cfglint.dialect.model import Dialect
    from cfglint.span import Span
    from cfglint.tomltext import Document


def contradictions(dialect: Dialect) -> list[Problem]:
    """Rename cycles, names renamed twice or after removal, versions out of the range covered,
    value maps that cannot be written back, and names used for two things; each with its place.
    """
    document = dialect.document
    found = _renames(document)
    found += _versions(dialect)
    found += _values(document)
    for version in ["", *(row["at"] for row in dialect.data.get("changes", []))]:
        found += _names(dialect, version, found)
    return found


def _renames(document: Document) -> list[Problem]:
    found: list[Problem] = []
    now: dict[str, str] = {}
    gone: dict[str, str] = {}
    for index, row in enumerate(document.data.get("changes", [])):
        renames: dict[str, str] = row.get("rename", {})
        for old, new in renames.items():
            span = document.where("changes", index, "rename", old)
            if old == new:
                found.append(Problem(f"`{old}` is renamed to itself", span=span))
            elif new in now.values() and new not in renames:
                found.append(Problem(f"two names become `{new}`", span=span))
            if old in gone:
                found.append(
                    Problem(
                        f"`{old}` is renamed at {row['at']} but was removed at {gone[old]}",
                        span=span,
                    )
                )
            origin = next((first for first, last in now.items() if last == old), old)
            if new == origin:
                found.append(
                    Problem(
                        f"renames go round in a circle: `{origin}` ends as `{new}` again",
                        span=span,
                        instead="take out the rename that did not happen",
                    )
                )
            now[origin] = new
        if len(set(renames.values())) < len(renames):
            span = document.where("changes", index, "rename")
            found.append(Problem("two names are renamed to the same one", span=span))
        for name in row.get("remove", {}):
            if name in renames:
                span = document.where("changes", index, "remove", name)
                found.append(
                    Problem(f"`{name}` is both renamed and removed at {row['at']}", span=span)
                )
            gone[name] = row["at"]
    return found


def _versions(dialect: Dialect) -> list[Problem]:
    from cfglint.facts.versions import VersionRange

    text = dialect.data["dialect"].get("versions", "")
    if not text:
        return []
    document = dialect.document
    try:
        covered = VersionRange.parse(text)
        return [
            Problem(
                f"the change at {row['at']} is outside the versions covered, {text}",
                span=document.where_value("changes", index, "at"),
                instead="widen `versions`, or take the change out",
            )
            for index, row in enumerate(dialect.data.get("changes", []))
            if not covered.contains(row["at"], dialect.order)
        ]
    except ValueError as error:
        return [Problem(str(error), span=document.where_value("dialect", "versions"))]


def _values(document: Document) -> list[Problem]:
    found: list[Problem] = []

    def check(table: dict[str, Any], path: tuple[str | int, ...]) -> None:
        seen: dict[str, str] = {}
        for neutral, written in table.items():
            text = str(written)
            if text and text in seen:
                found.append(
                    Problem(
                        f"`{seen[text]}` and `{neutral}` are both written `{text}`",
                        span=document.where(*path, neutral),
                        instead="one written word can be read back as one meaning only",
                    )
                )
            seen[text] = neutral

    data = document.data
    check(data.get("modes", {}), ("modes",))
    for name, entry in data.get("settings", {}).items():
        check(entry.get("values", {}), ("settings", name, "values"))
        check(entry.get("mask", {}), ("settings", name, "mask"))
        if entry.get("scale", entry.get("step", 1)) == 0:
            found.append(Problem(f"`{name}` has scale 0", span=document.where("settings", name)))
    for index, form in enumerate(data.get("forms", [])):
        for field, codec in form.get("fields", {}).items():
            path = ("forms", index, "fields", field)
            check(codec.get("values", {}), (*path, "values"))
            check(codec.get("mask", {}), (*path, "mask"))
    return found


def _names(dialect: Dialect, version: str, known: list[Problem]) -> list[Problem]:
    """Two settings under one name in one section, for a version."""
    seen: dict[tuple[str, str], str] = {}
    found: list[Problem] = []
    said = {problem.message for problem in known}
    for setting, row in raw_at(dialect, version)["settings"].items():
        if "name" not in row:
            continue
        key = (row.get("within", ""), row["name"])
        if key in seen:
            at = f" from {version} on" if version else ""
            message = f"`{key[1]}` stands for both `{seen[key]}` and `{setting}`{at}"
            if message not in said:
                found.append(Problem(message, span=_place(dialect.document, setting)))
        seen[key] = setting
    return found


def _place(document: Document, setting: str) -> Span:
    return document.where("settings", setting)


def examine(file: str, data: bytes, *, folder: str = "") -> list[Problem]:
    """All that ``dialect check`` says of a file: mistakes, else contradictions."""
    from cfglint.errors import Problem as One
    from cfglint.errors import Problems

    try:
        dialect = load_dialect(file, data, folder=folder, trust_grammar=True)
        dialect.scanner  # noqa: B018  (a grammar that Lark refuses shows here)
    except Problems as several:
        return list(several.each)
    except One as single:
        return [single]
    return contradictions(dialect)
