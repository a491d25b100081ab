"""From two dumps of the same craft, before and after an update: a draft of what it changed.

Nothing is guessed silently.  A row of the table is what both dumps together leave little doubt
of; everything else is a comment beside it.  Then both dumps are read with the rows in place, and
what is still not the same is named.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint import tomlwrite as toml
from cfglint.teach.updates_defaults import defaults, inversion, values
from cfglint.teach.updates_ground import Ground
from cfglint.teach.updates_lines import Name, families
from cfglint.teach.updates_model import Changes, Kind, Row
from cfglint.teach.updates_modes import modes_renamed, unread_forms
from cfglint.teach.updates_names import SURE, Pair, Places, likeness, renames
from cfglint.teach.updates_proof import proved, with_row
from cfglint.teach.updates_text import block
from cfglint.teach.updates_went import all_named, taken_up, went

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.teach.updates_defaults import defaults, inversion, values
from cfglint.teach.updates_lines import Key


def changes_between(
    before: Sequence[Source],
    after: Sequence[Source],
    dialect: Dialect,
    *,
    name: str,
    at: str = "",
) -> Changes:
    """The draft of a ``[[changes]]`` row from dumps of the same craft before and after an update.

    ``dialect`` reads the dumps before; ``name`` is how messages call it (its file).  Of several
    craft the dumps are given in the same order on both sides (or name their craft).  ``at`` is
    the first version that has the changes; where it is ``""`` the dumps after have to say.
    Raises Problem where versions are missing or the wrong way round, and for dumps that the
    dialect does not read.
    """
    return _Drafter(Ground(before, after, dialect, name, at)).changes()


class _Drafter:
    def __init__(self, ground: Ground) -> None:
        self.g = ground
        #: Sections that are called otherwise now, old → new.
        self.moved: dict[str, str] = {}

    def changes(self) -> Changes:
        self._boards()
        self._sections()
        self._names()
        values(self.g)
        defaults(self.g)
        inversion(self.g)
        self.g.rows += modes_renamed(self.g.olds, self.g.news)
        forms = unread_forms(self.g.olds, self.g.news)
        if forms:
            self.g.notes.append(forms)
        rows, made, unfit = with_row(self.g.dialect, self.g.at, _once(self.g.rows))
        self.g.notes += unfit
        rows, differs, equal = proved(rows, made, self.g.olds, self.g.news, self.g.at)
        unread = _unread(self.g.news), _unread_by(made, self.g.news, self.g.at)
        versions = self._versions()
        joins = any(row["at"] == self.g.at for row in self.g.dialect.data.get("changes", []))
        if not self.g.full:
            self.g.notes.append(
                "these are dumps of what differs from the defaults: a name that is missing from "
                "one may be at its default there, so nothing is taken for removed"
            )
        text = block(self.g.at, self.g.since, rows, differs, self.g.notes, versions, joins=joins)
        return Changes(
            text,
            self.g.at,
            self.g.since,
            tuple(rows),
            tuple(differs),
            equal,
            unread,
            versions,
            tuple(self.g.notes),
            made,
            joins,
        )

    def _boards(self) -> None:
        seen: dict[str, set[str]] = defaultdict(set)
        for old, new in zip(self.g.olds, self.g.news, strict=True):
            first, second = old.craft.get("craft.board"), new.craft.get("craft.board")
            if first.known and second.known and first.value != second.value:
                seen[str(first.value)].add(str(second.value))
        for was, all_now in seen.items():
            now = sorted(all_now)[0]
            short, long = sorted((was.lower(), now.lower()), key=len)
            near = long.startswith(short) or likeness(was, now) >= 0.8
            confidence = 0.85 if near else 0.45
            reason = (
                "the board goes by a name much like the old one"
                if near
                else "the dumps name two boards: another name for one, or another board"
            )
            if len(all_now) > 1:
                confidence, reason = 0.2, f"it becomes {' and '.join(sorted(all_now))}"
            if was.lower() == now.lower() or self.g.boards.get(was) == now:
                continue
            self.g.rows.append(Row("boards", was, now, confidence, reason, confidence >= SURE))

    def _versions(self) -> str:
        from cfglint.facts.versions import VersionRange

        said = str(self.g.dialect.data["dialect"].get("versions", ""))
        if not said or VersionRange.parse(said).contains(self.g.at, self.g.dialect.order):
            return ""
        lower = [part.strip() for part in said.split(",") if part.strip()[:1] == ">"]
        first = lower[0] if lower else f">={self.g.since}" if self.g.since else ""
        return ",".join(filter(None, [first, f"<={self.g.at}"]))

    def _sections(self) -> None:
        """Sections that went, and those that have their names now."""
        inside: dict[str, set[str]] = defaultdict(set)
        outside: dict[str, set[str]] = defaultdict(set)
        for names, found in ((self.g.old, inside), (self.g.new, outside)):
            for within, name in names.by_key:
                found[within].add(name)
        gone = [one for one in inside if one not in outside and one]
        come = [one for one in outside if one not in inside and one]
        for was in gone:
            rated = sorted(
                ((len(inside[was] & outside[now]) / len(inside[was] | outside[now]), now)
                 for now in come),
                reverse=True,
            )  # fmt: skip
            if rated and rated[0][0] >= 0.5 and rated[0][1] not in self.moved.values():
                self.moved[was] = rated[0][1]

    def _names(self) -> None:
        old, new = self.g.old.by_key, self.g.new.by_key
        gone = [one for key, one in old.items() if key not in new]
        come = [one for key, one in new.items() if key not in old and not one.known]
        places = Places(self.g.old, self.g.new)
        kept_gone = [one for one in gone if not one.removed or one.setting or not self.g.full]
        wanted = [*come, *families(come)]
        found = renames(kept_gone, wanted, places, self.g.judge, self.moved)
        used: set[Key] = set()
        members = {key: stem for one in found for key, stem in _members(one.new, come)}
        for pair in found:
            # A family takes its members with it; a member that is told apart leaves the family.
            if pair.new.key in used or (pair.new.key in members and pair.confidence < SURE):
                continue
            self.g.pairs.append(pair)
            used.add(pair.new.key)
            used.update(key for key, _ in _members(pair.new, come))
        done = {pair.old.key for pair in self.g.pairs}
        left = [one for one in gone if one.key not in done]
        fresh = [one for one in come if one.key not in used]
        if not all_named(self.g, left, fresh):
            # Either name may only be hidden in the other dump.
            self.g.pairs = [
                pair._replace(
                    confidence=min(pair.confidence, 0.6),
                    reason=f"{pair.reason}; yet both may be names of their own",
                )
                if not pair.old.setting and places.apart(pair.old.name, pair.new.name)
                else pair
                for pair in self.g.pairs
            ]
        for pair in self.g.pairs:
            self._rename(pair)
        went(self.g, left, fresh, places)
        taken_up(self.g, fresh)

    def _rename(self, pair: Pair) -> None:
        old, new = pair.old, pair.new
        sure, reason = pair.sure, pair.reason
        changed = old.within != new.within
        if old.shown == new.shown and not old.setting:
            return  # another section is nothing to a name without a meaning
        shared = [
            row.setting for row in self.g.tables.entries
            if self.g.tables.fold(row.name) == old.name and row.setting != old.setting
        ]  # fmt: skip
        if not old.setting and (shared or not self.g.in_dialect(old)):
            why = (
                "the dialect has this name for something else"
                if shared
                else "the dialect does not know the old name"
            )
            self._add("rename", old.shown, new.shown, pair, False, f"{reason}; {why}")
            return
        if old.setting and (changed or shared):
            keys: dict[str, Any] = {} if old.name == new.name else {"name": new.shown}
            if changed:
                keys["within"] = self.g.new_section(old, new)
            if "within" in keys and not keys["within"]:
                sure, reason = False, f"{reason}; the section's form is yours to write"
            if sure:
                self.g.patches[old.setting].update(keys)
            row = Row(
                "moved", old.setting, toml.value(keys), pair.confidence, reason, sure,
                pair.rival, keys, old.setting,
            )  # fmt: skip
            self.g.rows.append(row)
            return
        self._add("rename", old.shown, new.shown, pair, sure, reason)
        if sure and not old.setting and not self.g.exactly_kept(old) and not self.g.kept(new.name):
            self.g.rows.append(
                Row("kept", new.shown, "", pair.confidence, f"`{old.shown}` is called so now", True)
            )

    def _add(self, kind: Kind, name: str, now: str, pair: Pair, drafted: bool, reason: str) -> None:
        self.g.rows.append(
            Row(kind, name, now, pair.confidence, reason, drafted, pair.rival,
                setting=pair.old.setting)
        )  # fmt: skip


def _once(rows: Iterable[Row]) -> list[Row]:
    """The rows, those of one table without a name twice: the same name in two sections."""
    seen: set[tuple[str, str]] = set()
    out = []
    for row in sorted(rows, key=lambda row: not row.drafted):
        key = row.kind, row.name
        if row.kind in ("rename", "remove", "boards", "modes", "kept"):
            if key in seen:
                if row.kind in ("rename", "modes") and row.drafted:
                    out.append(row._replace(drafted=False, reason=f"{row.reason}; it has a row"))
                continue
            seen.add(key)
        out.append(row)
    return out


def _members(one: Name, come: Iterable[Name]) -> Iterator[tuple[Key, str]]:
    """The single new names that a new family is made of."""
    if "{N}" not in one.name:
        return
    head, _, tail = one.name.partition("{N}")
    for other in come:
        middle = other.name.removeprefix(head).removesuffix(tail)
        if other.within == one.within and middle.isdigit() and head + middle + tail == other.name:
            yield other.key, one.name


_UNREAD = ("stray", "unreadable", "misread")


def _unread(sides: Iterable[Side]) -> int:
    return sum(use in _UNREAD for side in sides for _, use in side.uses)


def _unread_by(dialect: Dialect, sides: Iterable[Side], at: str) -> int:
    from cfglint.carry.side import read_side

    return _unread(read_side(side.source, dialect, version=at) for side in sides)
