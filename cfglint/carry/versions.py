"""Where a carry goes to: a dialect and a version that its file covers."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Dialect


class Target(NamedTuple):
    """A dialect at one of its versions (``""`` for one that knows no versions)."""

    dialect: Dialect
    version: str

    def __str__(self) -> str:
        return f"{self.dialect.id} {self.version}".strip()


def target(text: str, own: Dialect, names: Sequence[str], load: Callable[[str], Dialect]) -> Target:
    """What ``--to`` means: ``7.10`` (of the dump's own dialect), ``plain`` (its newest version)
    or ``plain@7.10``.

    ``names`` are the dialects there are; a path of a dialect file is taken as well.  Raises
    Problem for a dialect that is not there and a version that its file does not cover.
    """
    name, at, version = text.partition("@")
    if text.endswith(".toml"):  # a path may hold anything
        name, at, version = text, "", ""
    if at or name in names or name.endswith(".toml"):
        dialect = own if name in ("", own.id) else load(name)
        return Target(dialect, described(dialect, version) if at else newest(dialect))
    if not any(char.isdigit() for char in text):
        from cfglint.near import suggestion

        raise Problem(
            f"--to: `{text}` is neither a version nor a dialect",
            instead=suggestion(text, names) or "write for instance `7.10`, `plain` or `plain@7.10`",
        )
    return Target(own, described(own, text))


def newest(dialect: Dialect) -> str:
    """The newest version that a dialect file speaks of by name: its last change, else the first
    version that it covers.
    """
    rows = dialect.data.get("changes", [])
    if rows:
        return str(rows[-1]["at"])
    from cfglint.facts.versions import VersionRange

    covered = VersionRange.parse(versions) if (versions := covers(dialect)) else None
    bounds = covered.clauses if covered is not None else ()
    return next((one.version for one in bounds if one.operator in (">=", "==")), "")


def covers(dialect: Dialect) -> str:
    """The versions that a dialect file says it covers, ``""`` if it does not say."""
    return str(dialect.data["dialect"].get("versions", ""))


def described(dialect: Dialect, version: str) -> str:
    """A version to write for: one that the dialect file says something of.

    Without ``versions`` in the file that is only what its changes name.  Raises Problem otherwise.
    """
    changes = [str(row["at"]) for row in dialect.data.get("changes", [])]
    if covers(dialect) or version in changes:
        return checked(dialect, version)
    named = f"; it speaks only of {', '.join(changes)}" if changes else ""
    raise Problem(
        f"the dialect `{dialect.id}` does not say which versions it describes, so how {version} "
        f"writes its lines is not known{named}",
        file=dialect.file,
        instead=f'write `versions` in its [dialect], as in `versions = ">={version}"`, once you '
        "know what changed up to then and it is in `[[changes]]`",
    )


def checked(dialect: Dialect, version: str) -> str:
    """The version, if the dialect file covers it; raises Problem otherwise."""
    from cfglint.facts.versions import VersionRange, order_key

    said = covers(dialect)
    try:
        order_key(version, dialect.order)
        fits = not said or VersionRange.parse(said).contains(version, dialect.order)
    except ValueError as wrong:
        raise Problem(
            f"the version `{version}` of the dialect `{dialect.id}` cannot be placed: {wrong}",
            instead=f"the dialect file covers {said}" if said else "",
        ) from None
    if not fits:
        raise Problem(
            f"the dialect `{dialect.id}` says nothing of version {version}",
            file=dialect.file,
            instead=f"its file covers {said}; name one of those, or widen the file with what "
            "changed",
        )
    return version


def covered_version(side: Side) -> None:
    """Raises Problem where a dump says a version that its dialect file does not cover: names,
    scales and senses may be others there.
    """
    if not side.version:
        return
    try:
        checked(side.dialect, side.version)
    except Problem as problem:
        said = side.craft.get("craft.firmware")
        raise Problem(
            problem.message,
            span=side.craft.place(said),
            instead="read the dump by a dialect file that covers it (--dialect), or widen this "
            f"one with what changed; it covers {covers(side.dialect)}",
        ) from None


def known_version(side: Side) -> None:
    """Raises Problem where a dump's own version must be known and is not."""
    covered_version(side)
    if not side.version and side.dialect.data.get("changes"):
        raise Problem(
            "the dump does not say its firmware version, and names and scales differ between "
            "versions",
            span=side.craft.whole,
            instead="make a dump with its first lines, or give the version with --from",
        )
