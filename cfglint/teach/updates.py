"""From two dumps of the same craft, before and after an update: a draft of what it changed.

Nothing is guessed silently.  A row of the table is what both dumps together leave little doubt
of; everything else is a comment beside it.  Then both dumps are read with the rows in place, and
what is still not the same is named.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.craft.model import show
from cfglint.craft.settings import SETTINGS, family, setting
from cfglint.errors import Problem
from cfglint.teach import tables as toml
from cfglint.teach.updates_lines import Name, Names, families, home, names_of
from cfglint.teach.updates_model import Changes, Row
from cfglint.teach.updates_modes import modes_renamed, unread_forms
from cfglint.teach.updates_names import SURE, Pair, Places, likeness, renames
from cfglint.teach.updates_proof import proved, with_row
from cfglint.teach.updates_text import block
from cfglint.teach.updates_values import Both, Patch, close, read, rescaled, reworded, yes_and_no

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Dialect, Entry
    from cfglint.dump.source import Source
    from cfglint.teach.updates_lines import Key

#: A dump of which the dialect knows less is not of that dialect.
_LEAST_READ = 0.5
_WHY_GONE = "not in the dump after; look up what took its place"


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
    return _Drafter(before, after, dialect, name, at).changes()


class _Drafter:
    def __init__(
        self,
        before: Sequence[Source],
        after: Sequence[Source],
        dialect: Dialect,
        name: str,
        at: str,
    ) -> None:
        from cfglint.carry.side import read_side

        self.dialect, self.name = dialect, name
        if not before or not after:
            which = "before" if not before else "after"
            raise Problem(
                f"no dump of {which} the update is given",
                instead=f"name one with --{which} FILE",
            )
        olds = [read_side(source, dialect) for source in before]
        news = [read_side(source, dialect, version=at) for source in after]
        self.olds, self.news = _paired(olds, news)
        self.since = next((side.version for side in self.olds if side.version), "")
        self.at = at or next((side.version for side in self.news if side.version), "")
        self._check_versions()
        self._check_read()
        self.raw = self._raw()
        self.tables = dialect.at(self.at)
        self.full = all(side.craft.extent == "full" for side in (*self.olds, *self.news))
        self.rows: list[Row] = []
        self.notes: list[str] = []
        self.old = self._translated(names_of(self.olds))
        self.new = names_of(self.news)
        self.pairs: list[Pair] = []
        self.moved: dict[str, str] = {}
        #: Entries as they are by the rows so far: setting → keys changed.
        self.patches: dict[str, dict[str, Any]] = defaultdict(dict)

    # -- what must hold ----------------------------------------------------------------------

    def _check_versions(self) -> None:
        from cfglint.facts.versions import compare

        first, last = self.olds[0].craft.file, self.news[0].craft.file
        if not self.at:
            raise Problem(
                "the dump does not say its firmware version, and a change needs the version that "
                "it came with",
                file=last,
                instead="say it with --at VERSION",
            )
        for file, version in ((last, self.at), (first, self.since)):
            try:
                if version:
                    compare(version, version, self.dialect.order)
            except ValueError as bad:
                raise Problem(str(bad), file=file, instead="say it with --at VERSION") from None
        if not self.since:
            return
        order = compare(self.since, self.at, self.dialect.order)
        if order == 0:
            raise Problem(
                f"both dumps are of version {self.at}, so no update lies between them",
                file=last,
                instead="name a dump of the later firmware with --after, or say --at VERSION if "
                "the dump is wrong about its version",
            )
        if order > 0:
            raise Problem(
                f"the dump after is of version {self.at}, the dump before of the later "
                f"{self.since}",
                file=last,
                instead="swap --before and --after",
            )

    def _check_read(self) -> None:
        for side in self.olds:
            uses = [use for _, use in side.uses]
            told = [use for use in uses if use not in ("comment", "section", "identity", "ignored")]
            bad = [use for use in told if use in ("stray", "unreadable", "misread")]
            if not told or len(bad) > (1 - _LEAST_READ) * len(told):
                raise Problem(
                    f"the dialect {self.name} does not read this dump: it knows "
                    f"{len(told) - len(bad)} of {len(told)} lines",
                    file=side.craft.file,
                    instead="give the dialect of the firmware before the update, or teach one "
                    "from this dump first",
                )

    def _raw(self) -> dict[str, Any]:
        from cfglint.dialect.resolve import raw_at

        return raw_at(self.dialect, self.at)

    def _translated(self, names: Names) -> Names:
        """Names of before as the dialect's own changes up to ``at`` already call them."""
        from cfglint.carry.changes import between

        fate = between(self.dialect, self.since, self.at)
        if not fate.renamed and not fate.removed:
            return names
        fold = self.tables.fold
        renamed = {fold(old): new for old, new in fate.renamed.items()}
        gone = {fold(old) for old in fate.removed}
        found: dict[Key, Name] = {}
        for key, one in names.by_key.items():
            if key[1] in gone:
                continue
            shown = renamed.get(key[1], one.shown)
            now = key[0], fold(shown)
            found[now] = one._replace(key=now, shown=shown)
        return Names(found, names.sections, tuple(found))

    # -- the whole ---------------------------------------------------------------------------

    def changes(self) -> Changes:
        self._boards()
        self._sections()
        self._names()
        self._values()
        self._defaults()
        self._inversion()
        self.rows += modes_renamed(self.olds, self.news)
        forms = unread_forms(self.olds, self.news)
        if forms:
            self.notes.append(forms)
        rows, made, unfit = with_row(self.dialect, self.at, _once(self.rows))
        self.notes += unfit
        rows, differs, equal = proved(rows, made, self.olds, self.news, self.at)
        unread = _unread(self.news), _unread_by(made, self.news, self.at)
        versions = self._versions()
        joins = any(row["at"] == self.at for row in self.dialect.data.get("changes", []))
        if not self.full:
            self.notes.append(
                "these are dumps of what differs from the defaults: a name that is missing from "
                "one may be at its default there, so nothing is taken for removed"
            )
        text = block(self.at, self.since, rows, differs, self.notes, versions, joins=joins)
        return Changes(
            text,
            self.at,
            self.since,
            tuple(rows),
            tuple(differs),
            equal,
            unread,
            versions,
            tuple(self.notes),
            made,
            joins,
        )

    # -- who they are ------------------------------------------------------------------------

    def _boards(self) -> None:
        seen: dict[str, set[str]] = defaultdict(set)
        for old, new in zip(self.olds, self.news, strict=True):
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
                else ("the dumps name two boards: another name for one, or another board")
            )
            if len(all_now) > 1:
                confidence, reason = 0.2, f"it becomes {' and '.join(sorted(all_now))}"
            if was.lower() == now.lower():
                continue
            self.rows.append(Row("boards", was, now, confidence, reason, confidence >= SURE))

    def _versions(self) -> str:
        from cfglint.facts.versions import VersionRange

        said = str(self.dialect.data["dialect"].get("versions", ""))
        if not said or VersionRange.parse(said).contains(self.at, self.dialect.order):
            return ""
        lower = [part.strip() for part in said.split(",") if part.strip()[:1] == ">"]
        first = lower[0] if lower else f">={self.since}" if self.since else ""
        return ",".join(filter(None, [first, f"<={self.at}"]))

    # -- names -------------------------------------------------------------------------------

    def _sections(self) -> None:
        """Sections that went, and those that have their names now."""
        inside: dict[str, set[str]] = defaultdict(set)
        outside: dict[str, set[str]] = defaultdict(set)
        for names, found in ((self.old, inside), (self.new, outside)):
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
        old, new = self.old.by_key, self.new.by_key
        gone = [one for key, one in old.items() if key not in new]
        come = [one for key, one in new.items() if key not in old and not one.known]
        places = Places(self.old, self.new)
        kept_gone = [one for one in gone if not one.removed or one.setting or not self.full]
        wanted = [*come, *families(come)]
        found = renames(kept_gone, wanted, places, self._judge, self.moved)
        used: set[Key] = set()
        members = {key: stem for one in found for key, stem in _members(one.new, come)}
        for pair in found:
            # A family takes its members with it; a member that is told apart leaves the family.
            if pair.new.key in used or (pair.new.key in members and pair.confidence < SURE):
                continue
            self.pairs.append(pair)
            used.add(pair.new.key)
            used.update(key for key, _ in _members(pair.new, come))
        for pair in self.pairs:
            self._rename(pair)
        done = {pair.old.key for pair in self.pairs}
        fresh = [one for one in come if one.key not in used]
        self._gone([one for one in gone if one.key not in done], fresh, places)
        self._come(fresh)

    def _rename(self, pair: Pair) -> None:
        old, new = pair.old, pair.new
        sure, reason = pair.sure, pair.reason
        changed = old.within != new.within
        if old.shown == new.shown and not old.setting:
            return  # another section is nothing to a name without a meaning
        shared = [
            row.setting for row in self.tables.entries
            if self.tables.fold(row.name) == old.name and row.setting != old.setting
        ]  # fmt: skip
        if not old.setting and (shared or not self._in_dialect(old)):
            why = (
                "the dialect has this name for something else"
                if shared
                else ("the dialect does not know the old name")
            )
            self._add("rename", old.shown, new.shown, pair, False, f"{reason}; {why}")
            return
        if old.setting and (changed or shared):
            keys: dict[str, Any] = {} if old.name == new.name else {"name": new.shown}
            if changed:
                keys["within"] = self._within(old, new)
            if "within" in keys and not keys["within"]:
                sure, reason = False, f"{reason}; the section's form is yours to write"
            if sure:
                self.patches[old.setting].update(keys)
            row = Row(
                "moved", old.setting, toml.value(keys), pair.confidence, reason, sure,
                pair.rival, keys, old.setting,
            )  # fmt: skip
            self.rows.append(row)
            return
        self._add("rename", old.shown, new.shown, pair, sure, reason)
        if sure and not old.setting and not self._exactly_kept(old) and not self._kept(new.name):
            self.rows.append(
                Row("kept", new.shown, "", pair.confidence, f"`{old.shown}` is called so now", True)
            )

    def _add(self, kind: Any, name: str, now: str, pair: Pair, drafted: bool, reason: str) -> None:
        self.rows.append(
            Row(kind, name, now, pair.confidence, reason, drafted, pair.rival,
                setting=pair.old.setting)
        )  # fmt: skip

    def _within(self, old: Name, new: Name) -> str:
        """The form of a setting's new section, "" where it cannot be told."""
        form = str(self.raw["settings"][old.setting].get("within", ""))
        paths = self.new.sections.get(new.within, ())
        if not paths:
            return ""
        if "{" not in form:
            return paths[0]
        field = form[form.index("{") : form.index("}") + 1]
        return new.within.replace("#", field) if new.within.count("#") == 1 else ""

    def _in_dialect(self, one: Name) -> bool:
        return one.known or self._kept(one.name)

    def _exactly_kept(self, one: Name) -> bool:
        return one.name in {self.tables.fold(name) for name in self.tables.kept}

    def _kept(self, name: str) -> bool:
        from cfglint.dialect.model import like

        fold = self.tables.fold
        return any(like(fold(name), fold(known)) for known in self.tables.kept)

    def _judge(self, old: Name, new: Name) -> tuple[float, str]:
        """What the values of a new name say of it being a setting that is known."""
        both = self._both(old, new)
        if not both:
            return 0.0, ""
        entry = self.tables.by_setting[old.setting]
        row = setting(old.setting)
        values = [read(entry.codec, row, one.after, flag=new.flag) for one in both]
        if all(close(now, one.was) for now, one in zip(values, both, strict=True)):
            common = all(one.after.lower() in ("0", "1", "on", "off", "yes", "no") for one in both)
            return (0.4 if common or row.kind == "flag" else 1.0), "the same value"
        raw = self.raw["settings"][old.setting]
        scale = rescaled(old.setting, raw, entry.codec, both) if not new.flag else None
        if scale is not None and scale.confidence >= SURE:
            return 0.7, "the same value in another unit"
        if all(now is not None for now in values):
            return 0.1, ""
        patch = reworded(old.setting, entry.codec, both, entry.codec.values)
        if patch is not None and patch.confidence >= SURE:
            return 0.5, "a word that may mean the same"
        return -1.0, f"its value is none that {old.setting} may have"

    def _both(self, old: Name, new: Name) -> list[Both]:
        """What is written before and after for a setting, craft by craft, member by member."""
        from cfglint.craft.settings import family as family_of

        entry = self._before_entry(old)
        if entry is None:
            return []
        later = {
            (craft, self._number(entry, member) if not new.setting else member): text
            for (craft, member), text in new.written.items()
        }
        found = []
        for place, text in old.written.items():
            was = read(entry.codec, setting(family_of(old.setting)), text, flag=old.flag)
            if place in later and was is not None:
                found.append(Both(was, text, later[place]))
        return found

    def _before_entry(self, one: Name) -> Entry | None:
        return self.olds[0].tables.by_setting.get(one.setting) if one.setting else None

    @staticmethod
    def _number(entry: Entry, written: str) -> str:
        """A family's member as the craft counts it."""
        from cfglint.dialect.codec import Bad, decode
        from cfglint.dialect.model import NUMBER

        if not written or ".N" not in entry.setting:
            return "" if ".N" not in entry.setting else written
        try:
            return str(decode(entry.number, NUMBER, written))
        except Bad:
            return written

    # -- names that went or came -----------------------------------------------------------------

    def _gone(self, gone: Sequence[Name], fresh: Sequence[Name], places: Places) -> None:
        from cfglint.carry.side import cut_off

        cut = next((why for side in self.news if (why := cut_off(side))), "")
        share = len(gone) / max(1, len(self.old.by_key))
        still = {family_like(one.name) for one in self.new.by_key.values()}
        if cut:
            self.notes.append(
                f"the dump after seems to be cut off ({cut}), so nothing is taken for removed"
            )
        if share > 0.4:
            self.notes.append(
                f"{len(gone)} of {len(self.old.by_key)} names are gone, which is more than an "
                "update does: are both dumps of the same firmware?"
            )
        for one in gone:
            if not self.full or one.removed:
                self._gone_quietly(one)
                continue
            others = [
                row for row in self.tables.entries
                if self.tables.fold(row.name) == one.name and row.setting != one.setting
            ]  # fmt: skip
            elsewhere = any(key[1] == one.name for key in self.new.by_key) or bool(others)
            confidence, reason = 0.85, "it stands in no dump after"
            if len(self.news) > 1:
                confidence, reason = 0.93, f"it stands in none of {len(self.news)} dumps after"
            if family_like(one.name) in still and "#" in family_like(one.name):
                confidence, reason = 0.55, "others of its kind are there: perhaps not shown here"
            if elsewhere:
                confidence, reason = 0.5, "something else has the same name, and would go with it"
            if not self._in_dialect(one):
                confidence, reason = 0.5, "the dialect does not know the name, so nothing to do"
            rival = next(
                (new.shown for new in fresh
                 if places.share(one.key, new.key) == 1 and likeness(one.name, new.name) >= 0.4),
                "",
            )  # fmt: skip
            if rival:
                confidence = min(confidence, 0.6)
                reason = f"{reason}, yet a new name stands in its place: `{rival}`"
            if cut or share > 0.4:
                confidence = min(confidence, 0.4)
            self.rows.append(
                Row("remove", one.shown, _WHY_GONE, confidence, reason, confidence >= SURE,
                    f"renamed to {rival}" if rival else "", setting=one.setting)
            )  # fmt: skip

    def _gone_quietly(self, one: Name) -> None:
        """A name that is not in a dump of changes any more: at its default now, perhaps gone."""
        if one.setting:
            return  # what may be said of it is said with the defaults
        self.rows.append(
            Row("remove", one.shown, _WHY_GONE, 0.25, "not in the dump after: at its default "
                "now, renamed or gone", False)
        )  # fmt: skip

    def _come(self, come: Sequence[Name]) -> None:
        from cfglint.teach.updates_new import meanings

        taken = {row.setting for row in self.tables.entries if row.name}
        taken |= {name for form in self.tables.forms for name in form.sets.values()}
        removed = {row.setting for row in self.rows if row.kind == "remove" and row.drafted}
        free = [name for name in SETTINGS if name not in taken or name in removed]
        found = meanings(come, free, [side.source for side in self.news], self.new)
        for one in come:
            meant = found.get(one.key)
            if meant is not None:
                name, keys, confidence, reason = meant
                row = Row("setting", name, one.shown, confidence, reason, True, keys=keys,
                          setting=name)  # fmt: skip
                self.rows.append(row)
                self.patches[name] = dict(keys)
            elif not self._kept(one.name):
                reason = "a new name without a meaning that is known here"
                self.rows.append(Row("kept", one.shown, "", 0.9, reason, True))

    # -- values ------------------------------------------------------------------------------

    def _matched(self) -> Iterator[tuple[Name, Name, Pair | None]]:
        """Names of known settings with what they are after the update, surely."""
        by_old = {pair.old.key: pair for pair in self.pairs if pair.sure}
        for key, old in self.old.by_key.items():
            if not old.setting or old.setting not in self.tables.by_setting:
                continue
            pair = by_old.get(key)
            new = pair.new if pair is not None else self.new.by_key.get(key)
            if new is not None:
                yield old, new, pair

    def _values(self) -> None:
        flags: list[tuple[str, Both]] = []
        for old, new, _ in self._matched():
            entry = self.tables.by_setting[old.setting]
            both = self._both(old, new)
            kind = setting(old.setting).kind
            if not both or new.flag:
                continue
            if kind == "flag":
                flags += [(old.setting, one) for one in both]
                continue
            raw = self.raw["settings"][old.setting]
            patch = rescaled(old.setting, raw, entry.codec, both)
            if patch is not None:
                if "decimals" in raw and "decimals" not in patch.keys:
                    places = max(len(one.after.partition(".")[2]) for one in both)
                    patch = patch._replace(keys={**patch.keys, "decimals": places})
                self._patch("rescale", old.setting, patch)
                continue
            words = reworded(old.setting, entry.codec, both, entry.codec.values)
            if words is not None:
                self._patch("words", old.setting, words)
        self._flags(flags)

    def _flags(self, flags: Sequence[tuple[str, Both]]) -> None:
        entries = self.tables.by_setting
        if not flags:
            return
        patch = yes_and_no(entries[flags[0][0]].codec, [one for _, one in flags])
        if patch is None:
            return
        for entry in self.tables.entries:
            if setting(entry.setting).kind == "flag" and not entry.flag and entry.name:
                self._patch("words", entry.setting, patch)

    def _patch(self, kind: Any, name: str, patch: Patch) -> None:
        drafted = patch.confidence >= SURE
        if drafted:
            self.patches[name].update(patch.keys)
        self.rows.append(
            Row(kind, name, toml.value(dict(patch.keys)), patch.confidence, patch.reason, drafted,
                patch.rival, patch.keys, name)
        )  # fmt: skip

    # -- defaults ----------------------------------------------------------------------------

    def _now(self, name: str) -> Entry:
        """A setting's entry by the rows so far."""
        from cfglint.dialect.resolve import codec

        entry = self.tables.by_setting[name]
        raw = {**self.raw["settings"][name], **self.patches.get(name, {})}
        values = {**self.raw["settings"][name].get("values", {}), **raw.get("values", {})}
        raw = {**raw, "values": values} if values else raw
        shape = self.dialect.data["shape"]
        return entry._replace(codec=codec(raw, shape, ignore_case=self.dialect.ignore_case))

    def _differing(self) -> Iterator[tuple[Name, Pair | None, list[tuple[Any, Any]]]]:
        """Known settings whose values differ, with (was, now) of each craft and member."""
        for old, new, pair in self._matched():
            entry = self._now(old.setting)
            row = setting(old.setting)
            values = [
                (one.was, read(entry.codec, row, one.after, flag=new.flag))
                for one in self._both(old, new)
            ]
            if any(now is not None and not close(was, now) for was, now in values):
                yield old, pair, [(was, now) for was, now in values if now is not None]

    def _defaults(self) -> None:
        differing = list(self._differing())
        reset = [
            old.setting
            for old, _, values in differing
            if self.tables.by_setting[old.setting].default is not None
            and all(close(now, self.tables.by_setting[old.setting].default) for _, now in values)
        ]
        for old, pair, values in differing:
            default = self.tables.by_setting[old.setting].default
            now = values[0][1]
            if old.setting in reset or default is None or ".N" in old.setting:
                continue
            agree = len(values) > 1 and all(close(one, now) for _, one in values)
            agree = agree and not any(close(was, now) for was, _ in values)
            confidence, reason = 0.3, "the value differs: set by hand, or a new default; nobody "
            reason += "can tell from two dumps"
            if pair is not None:
                confidence = 0.55
                reason = "the setting has a new name, so its old value was lost, and what stands "
                reason += "there now is neither that nor the old default"
                if reset:
                    confidence = 0.75
                    reason += f"; {reset[0]} went back to its default as well"
            if agree:
                confidence += 0.2 if pair is not None else 0.45
                reason = f"{len(values)} craft have it now, and none had it before"
            self._default(old.setting, now, confidence, reason, default)
        if not self.full:
            self._defaults_of_changes()

    def _default(self, name: str, now: Any, confidence: float, reason: str, was: Any) -> None:
        value = sorted(now) if isinstance(now, frozenset) else now
        if isinstance(value, float) and value == int(value):
            value = int(value)
        text = f"{reason} (the default was {show(name, was)})"
        self._patch("default", name, Patch({"default": value}, round(confidence, 2), text))

    def _defaults_of_changes(self) -> None:
        """In dumps of changes a line stands where its value is no default: what that tells."""
        renamed = {pair.old.setting for pair in self.pairs}
        for entry in self.tables.entries:
            name, default = entry.setting, entry.default
            if default is None or ".N" in name or name in renamed:
                continue
            shown_at_old: list[str] = []
            hidden: list[Any] = []
            for old, new in zip(self.olds, self.news, strict=True):
                if old.craft.extent != "changes" or new.craft.extent != "changes":
                    continue
                first, second = old.craft.get(name), new.craft.get(name)
                if first.origin == "default" and second.origin == "set":
                    now = read(self._now(name).codec, setting(name), second.written,
                               flag=entry.flag) if not entry.flag else second.value  # fmt: skip
                    if now is not None and close(now, default):
                        shown_at_old.append(new.craft.name or new.craft.file)
                elif (
                    first.origin == "set"
                    and second.origin == "default"
                    and not close(first.value, default)
                ):
                    hidden.append(first.value)
            same = len({show(name, one) for one in hidden}) == 1
            if shown_at_old and same:
                self._default(
                    name, hidden[0], 0.85,
                    "the old default stands in the dump after, and the value offered here went "
                    "out of another", default,
                )  # fmt: skip
            elif shown_at_old:
                self.rows.append(
                    Row("question", name, "", 0.8,
                        f"{show(name, default)} stands in the dump after, where it did not "
                        "before: it is no longer the default; look up the new one",
                        False, setting=name)
                )  # fmt: skip
            elif same:
                confidence = 0.3 if len(hidden) == 1 else 0.6
                self._default(
                    name, hidden[0], confidence,
                    "its line went: the default became what was set, or the value went back to "
                    "the default; nobody can tell from two dumps", default,
                )  # fmt: skip

    # -- what only a person can settle ---------------------------------------------------------

    def _inversion(self) -> None:
        """Whether a flag still means the same cannot be seen in a dump: never guessed."""
        for name in ("receiver.inverted", "port.N.inverted"):
            flipped = kept = 0
            for old, new in zip(self.olds, self.news, strict=True):
                first, second = old.craft.get("receiver.link"), new.craft.get("receiver.link")
                if not first.known or first.value != second.value:
                    continue
                for member, value in old.craft.values.items():
                    later = new.craft.get(member)
                    if family(member) == name and value.origin == later.origin == "set":
                        flipped += value.value != later.value
                        kept += value.value == later.value
            if flipped:
                reason = (
                    "the flag was flipped while the link stayed: set by hand, or the flag means "
                    "something else now (traits.inversion); look at the receiver at the bench"
                )
            elif kept and name == "receiver.inverted":
                reason = (
                    "the flag is written as before; whether it still means the same "
                    "(traits.inversion) no dump can tell: read the makers' notes"
                )
            else:
                continue
            self.rows.append(
                Row("question", name, "", 0.5 if flipped else 0.2, reason, False, setting=name)
            )


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


def family_like(name: str) -> str:
    """A name with its numbers taken out."""
    return home(name)


def _members(one: Name, come: Iterable[Name]) -> Iterator[tuple[Key, str]]:
    """The single new names that a new family is made of."""
    if "{N}" not in one.name:
        return
    head, _, tail = one.name.partition("{N}")
    for other in come:
        middle = other.name.removeprefix(head).removesuffix(tail)
        if other.within == one.within and middle.isdigit() and head + middle + tail == other.name:
            yield other.key, one.name


def _paired(olds: list[Side], news: list[Side]) -> tuple[list[Side], list[Side]]:
    """The sides, each with that of the same craft: by name where all have one, else in order."""
    if len(olds) != len(news):
        names = {side.craft.name: side for side in news if side.craft.name}
        both = [(old, names[old.craft.name]) for old in olds if old.craft.name in names]
        if not both:
            raise Problem(
                f"{len(olds)} dumps before and {len(news)} after cannot be paired",
                file=news[0].craft.file,
                instead="give as many --after as --before, craft by craft in the same order",
            )
        return [old for old, _ in both], [new for _, new in both]
    by_name = {side.craft.name: side for side in news}
    named = {side.craft.name for side in olds}
    if "" not in named and len(named) == len(olds) and by_name.keys() == named:
        return olds, [by_name[side.craft.name] for side in olds]
    return olds, news


_UNREAD = ("stray", "unreadable", "misread")


def _unread(sides: Iterable[Side]) -> int:
    return sum(use in _UNREAD for side in sides for _, use in side.uses)


def _unread_by(dialect: Dialect, sides: Iterable[Side], at: str) -> int:
    from cfglint.carry.side import read_side

    return _unread(read_side(side.source, dialect, version=at) for side in sides)
