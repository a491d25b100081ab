"""From two dumps of the same craft, before and after an update: a draft of what it changed.

Nothing is guessed silently.  A row of the table is what both dumps together leave little doubt
of; everything else is a comment beside it, and a question.  A row that changes a value which a
rule of grade ``ground`` may look at is never live without an answer.  Then both dumps are read
with the rows in place, and what is still not the same is named.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint import tomlwrite as toml
from cfglint.carry.meaning import consequence
from cfglint.craft.model import show
from cfglint.craft.settings import MODES, family, setting
from cfglint.dialect.encode import close
from cfglint.dialect.lines import find, replaced
from cfglint.errors import Problem
from cfglint.teach.updates_came import (
    boards,
    defaults,
    inversion,
    left_over,
    lines,
    modes,
    ranges_of,
    taken_up,
    went,
)  # fmt: skip
from cfglint.teach.updates_model import READING, SURE, Changes, Kind, Row
from cfglint.teach.updates_pairs import Pair, Pairer
from cfglint.teach.updates_proof import proved, with_rows
from cfglint.teach.updates_read import Forms, Key, Name, families, members
from cfglint.teach.updates_text import block, open_questions
from cfglint.teach.updates_values import (
    Both,
    Patch,
    changed_now,
    read,
    rescaled,
    reworded,
    rounded,
    strange_now,
    with_keys,
    yes_and_no,
)  # fmt: skip

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.mapping import Entry
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source

#: A dump of which the dialect knows less is not of that dialect.
_LEAST_READ = 0.5
#: Settings that no rule of grade ``ground`` looks at.
_HARMLESS = ("craft.", "log.", "video.", "motor.poles")


def changes_between(
    before: Sequence[Source],
    after: Sequence[Source],
    dialect: Dialect,
    *,
    name: str,
    at: str = "",
    answers: Mapping[str, str] | None = None,
) -> Changes:
    """The draft of a ``[[changes]]`` row from dumps of the same craft before and after an update.

    ``dialect`` reads the dumps before; ``name`` is how messages call it (its file).  Of several
    craft the dumps are given in the same order on both sides (or name their craft).  ``at`` is
    the first version that has the changes; where it is ``""`` the dumps after have to say.
    ``answers`` are those of the sheet, by the questions of an earlier draft.  Raises Problem where
    versions are missing or the wrong way round, and for dumps that the dialect does not read.
    """
    return Drafter(before, after, dialect, name, at, answers or {}).changes()


class Drafter:
    """Both sides, read by the dialect as it is, and what was found so far.

    ``tables`` and ``raw`` are the dialect's of the version after; ``full`` says that every dump
    holds all settings, so that a missing name is a fact.
    """

    def __init__(
        self, before: Sequence[Source], after: Sequence[Source], dialect: Dialect, name: str,
        at: str, answers: Mapping[str, str],
    ) -> None:  # fmt: skip
        from cfglint.carry.changes import between
        from cfglint.carry.side import read_side
        from cfglint.dialect.versions import plain_at

        self.dialect, self.name, self.answers = dialect, name, answers
        if not before or not after:
            which = "before" if not before else "after"
            raise Problem(
                f"no dump of {which} the update is given", instead=f"name one with --{which} FILE"
            )
        self.olds, self.news = _paired(
            [read_side(source, dialect) for source in before],
            [read_side(source, dialect, version=at) for source in after],
        )
        self.since = next((side.version for side in self.olds if side.version), "")
        self.at = at or next((side.version for side in self.news if side.version), "")
        _check_versions(self)
        _check_read(self.olds, name)
        self.tables, self.raw = dialect.at(self.at), plain_at(dialect, self.at)
        self.marks = dialect.data.get("marks", {})
        self.full = all(side.craft.extent == "full" for side in (*self.olds, *self.news))
        self.fate = between(dialect, self.since, self.at)
        self.rows: list[Row] = []
        self.notes: list[str] = []
        self.reopened: list[str] = []
        self.pairs: list[Pair] = []
        forms = Forms(self.olds)
        self.old, self.new = forms.names_of(self.olds), forms.names_of(self.news)
        #: Addresses that lines of the dumps after are still read by.
        self.alive = {read.entry.at.text for side in self.news
                      for reads in every_read(side)
                      for read in reads.values()}  # fmt: skip
        self.alive_kept = {one.key[1] for one in self.new.by_key.values() if one.use == "kept"}

    def changes(self) -> Changes:
        boards(self)
        self._names()
        self._values()
        defaults(self)
        inversion(self)
        modes(self)
        lines(self)
        rows, made, unfit = with_rows(self, _once(self.rows))
        self.notes += unfit
        rows = self._withheld(rows, made)
        rows, made, _ = with_rows(self, rows)
        left_over(self, made.sides)
        rows, differs, equal = proved(self, rows, made)
        unread = _unread(self.news), _unread(made.sides)
        if not self.full:
            self.notes.append(
                "these are dumps of what differs from the defaults: a name that is missing from "
                "one may be at its default there, so nothing is taken for removed"
            )
        versions = self._versions()
        joins = any(row["at"] == self.at for row in self.dialect.data.get("changes", []))
        text = block(self.at, self.since, rows, differs, self.notes, versions, joins=joins)
        return Changes(
            text, self.at, self.since, tuple(rows), tuple(differs), equal, unread, versions,
            tuple(self.notes), made.dialect, joins, open_questions(rows, self.reopened),
            tuple(self.reopened),
        )  # fmt: skip

    def add(self, row: Row) -> None:
        self.rows.append(row)

    def answer(self, ask: str) -> str:
        """What was answered to a question, ``""`` if nothing was."""
        return self.answers.get(ask, "")

    # -- names -------------------------------------------------------------------------------

    def _names(self) -> None:
        old, new = self.old.by_key, self.new.by_key
        read_after = {name for one in new.values() if one.use == "used" for name in one.settings}
        # What a line takes back is at its default, not gone.
        read_after |= {family(name) for side in self.news for name in side.reader.removals.values()}
        gone = [one for key, one in old.items()
                if key not in new and not self.fate.removed_in(one.name)
                and not (one.settings and read_after.issuperset(one.settings))
                and not ((now := self.fate.renamed_in(one.name)) and any(
                    other.name == now[2] for other in new.values()))]  # fmt: skip
        come = [one for key, one in new.items() if key not in old and one.use != "used"]
        pairer = Pairer(self.old, self.new, self._judge)
        told, forced = self._told(gone, come)
        found = [*forced, *pairer.pairs(
            [one for one in gone if one.key not in told],
            [one for one in (*come, *families(come)) if one.key not in {p.new.key for p in forced}],
        )]  # fmt: skip
        used: set[Key] = set()
        in_family = {key for one in found if "#" in one.new.name for key in members(one.new, come)}
        for pair in found:
            # A family takes its members with it; a member that is told apart leaves the family.
            if pair.new.key in used or (pair.new.key in in_family and not pair.sure):
                continue
            self.pairs.append(pair)
            used.update((pair.new.key, *members(pair.new, come)))
        done = {pair.old.key for pair in self.pairs}
        left = [one for one in gone if one.key not in done]
        fresh = [one for one in come if one.key not in used]
        # Where many went and as many came, it is because dumps show only what is no default.
        few = max(4, 0.04 * len(old))
        self.all_named = self.full and min(len(left), len(fresh)) < few
        if not self.all_named:
            # Either name may only be hidden in the other dump.
            self.pairs = [
                pair._replace(
                    confidence=min(pair.confidence, 0.6),
                    reason=f"{pair.reason}; yet both may be names of their own",
                )
                if not pair.old.setting and not pair.answered
                and pairer.apart(pair.old.name, pair.new.name)
                else pair
                for pair in self.pairs
            ]  # fmt: skip
        self.fates = {pair.old.key: self._fate(pair) for pair in self.pairs
                      if pair.old.entry and self.tables.entries_of(pair.old.setting)}  # fmt: skip
        for pair in self.pairs:
            self._rename(pair)
        went(self, left, fresh, pairer, {key for key, now in told.items() if now == "-"})
        taken_up(self, fresh)

    def _told(
        self, gone: Sequence[Name], come: Sequence[Name]
    ) -> tuple[dict[Key, str], list[Pair]]:
        """Names whose fate was answered, and the pairs that answers make."""
        told: dict[Key, str] = {}
        forced: list[Pair] = []
        for old in gone:
            now = self.answer(f"name {shown(old)}")
            if now == "-":
                told[old.key] = now
            elif now:
                twin = next(
                    (one for one in (*come, *families(come)) if now in (shown(one), one.name)), None
                )
                if twin is None:
                    self.reopened.append(f"name {shown(old)}")
                    continue
                told[old.key] = now
                forced.append(Pair(old, twin, 1.0, "as you say", answered=True))
        return told, forced

    def _judge(self, old: Name, new: Name) -> tuple[float, str]:
        """What the values of a new name say of it being a setting that is known."""
        both, how = self.both(old, new), self.how(old)
        if not both or how is None:
            return 0.0, ""
        entry, field, raw = how
        row, codec = setting(old.setting), entry.codecs[field]
        values = [read(codec, row, one.after) for one in both]
        if all(close(now, one.was) for now, one in zip(values, both, strict=True)):
            common = all(one.after.lower() in ("0", "1", "on", "off", "yes", "no") for one in both)
            return (0.4 if common or row.kind == "flag" else 1.0), "the same value"
        scale = rescaled(old.setting, raw, self.marks, both, (old.name, new.name))
        if scale is not None and scale.confidence >= SURE:
            same = not scale.named or scale.confidence > 0.9
            return (0.7, "the same value in another unit") if same else (0.1, scale.reason)
        if all(now is not None for now in values):
            return 0.1, ""
        patch = reworded(old.setting, codec, both, {})
        if patch is not None and patch.confidence >= SURE:
            return 0.5, "a word that may mean the same"
        return -1.0, f"its value is none that {old.setting} may have"

    def how(self, old: Name) -> tuple[Entry, str, Mapping[str, Any]] | None:
        """How a name's setting is read in the version after: entry, field, the file's own keys."""
        if len(old.settings) != 1:
            return None
        every = self.tables.entries_of(old.setting)
        if not every or old.entry is None:
            return None
        entry, field = next(
            (one for one in every if one[0].at.text == old.entry[0].at.text), every[0]
        )
        if entry.place[0] == "rows":
            raw: Mapping[str, Any] = (
                self.raw["rows"][entry.place[1]].get("fields", {}).get(field, {})
            )
        else:
            raw = self.raw["map"].get(old.setting, {})
        return entry, field, raw

    @staticmethod
    def both(old: Name, new: Name) -> list[Both]:
        """What is written before and after for a setting, craft by craft, member by member."""
        return [Both(value, old.written[at], new.written[at])
                for at, value in old.values.items()
                if at in new.written and len(old.settings) == 1]  # fmt: skip

    def _rename(self, pair: Pair) -> None:
        old, new = pair.old, pair.new
        ask = f"name {shown(old)}"
        if not old.setting:
            self._rename_kept(pair, ask)
            return
        if old.key not in self.fates:
            return
        entry, at, renames = self.fates[old.key]
        reason = pair.reason

        def row(kind: Kind, name: str, now: str, why: str, live: bool, keys: Any = None) -> None:
            sure = pair.confidence if live or not pair.sure or keys else min(pair.confidence, 0.6)
            self.add(Row(kind, name, now, sure, why, live, keys or {}, old.setting, pair.rival,
                         ask, pair.answered))  # fmt: skip

        if at == entry.at.text:
            if old.key[1] == new.key[1] and not any(
                find(at, one.strip("# ")) for one in old.titles
            ):
                return  # titles that the address does not name are nothing to it
            row("rename", shown(old), shown(new), f"{reason}; the address is yours to write", False)
            return
        if len(renames) == 1 and not self._clash(entry, renames[0]):
            row("rename", *renames[0], reason, pair.sure)
            return
        live = pair.sure and entry.place[0] == "map"
        if pair.sure and not live:
            reason += "; the address stands in [[rows]] and is yours to write"
        row("at", old.setting, toml.value({"at": at}), reason, live, {"at": at})

    def _fate(self, pair: Pair) -> tuple[Entry, str, list[tuple[str, str]]]:
        """An entry, the address that it would have now, and the words that differ in it."""
        old, new = pair.old, pair.new
        assert old.entry is not None
        every = [one for one, _ in self.tables.entries_of(old.setting)]
        entry = next((one for one in every if one.at.text == old.entry[0].at.text), every[0])
        swaps = [(old.name, new.name)] if old.key[1] != new.key[1] else []
        if len(old.titles) == len(new.titles):
            swaps += [(a, b) for a, b in zip(old.titles, new.titles, strict=True) if a != b]
        at, renames = entry.at.text, []
        for one, other in swaps:
            made = swapped(at, one, other)
            if made is not None:
                at, words = made
                renames.append(words)
        return entry, at, renames

    def _clash(self, own: Entry, words: tuple[str, str]) -> bool:
        """Whether a rename would change an address that is still read, or becomes another."""
        if "{" in words[0]:
            return True
        fates = {entry.at.text: renames for entry, _, renames in self.fates.values()}
        texts = [one.at.text for one in self.tables.map.entries]
        texts += [one.text for one in self.tables.map.kept if not one.text.endswith("*")]
        return any(
            text != own.at.text and find(text, words[0])
            and (text in self.alive or (text in fates and fates[text] != [words]))
            for text in texts
        )  # fmt: skip

    def _rename_kept(self, pair: Pair, ask: str) -> None:
        old, new = pair.old, pair.new
        if old.key[1] == new.key[1]:
            return  # another section is nothing to a name without a meaning
        shared = [one for one in self.tables.map.entries if find(one.at.text, old.name)]
        if old.use != "kept" or shared:
            why = ("the dialect has this name for something else" if shared
                   else "the dialect does not know the old name")  # fmt: skip
            reason = f"{pair.reason}; {why}"
            self.add(Row("rename", old.name, new.name, pair.confidence, reason, False, {}, "",
                         pair.rival))  # fmt: skip
            return
        self.add(Row("rename", old.name, new.name, pair.confidence, pair.reason, pair.sure, {}, "",
                     pair.rival, ask, pair.answered))  # fmt: skip
        exactly = any(find(text, old.name) for text in self.raw["kept"] if "*" not in text)
        if pair.sure and not exactly and new.use != "kept":
            text = f"{new.lead} {new.name}".strip()
            self.add(Row("kept", text, "", pair.confidence, f"`{old.name}` is called so now", True))

    # -- values ------------------------------------------------------------------------------

    def matched(self) -> Iterator[tuple[Name, Name, Pair | None]]:
        """Names of known settings with what they are after the update, surely."""
        by_old = {pair.old.key: pair for pair in self.pairs if pair.sure}
        by_setting = {one.settings: one for one in self.new.by_key.values() if one.use == "used"}
        for key, old in self.old.by_key.items():
            pair = by_old.get(key)
            new = pair.new if pair else self.new.by_key.get(key) or by_setting.get(old.settings)
            if new is not None and old.settings and self.how(old) is not None:
                yield old, new, pair

    def _values(self) -> None:
        flags: list[tuple[str, Any, Both]] = []
        #: Entries as they are by the rows so far: setting → keys changed.
        self.patches: dict[str, dict[str, Any]] = defaultdict(dict)
        for old, new, pair in list(self.matched()):
            how, both = self.how(old), self.both(old, new)
            if how is None or not both:
                continue
            entry, field, raw = how
            name, codec = old.setting, entry.codecs[field]
            if setting(name).kind == "flag":
                if codec.bit is None and codec.named is None:
                    flags += [(name, codec, one) for one in both]
                continue
            ask = f"value {name}"
            said = self.answer(ask)
            true = _figure(said)
            patch = rescaled(name, raw, self.marks, both, (old.name, new.name), true)
            if said and (true is None or patch is None):
                self.reopened.append(ask)
                patch = rescaled(name, raw, self.marks, both, (old.name, new.name))
            if patch is not None:
                if "decimals" in raw and "decimals" not in patch.keys and patch.keys:
                    places = max(len(one.after.partition(".")[2]) for one in both)
                    patch = patch._replace(keys={**patch.keys, "decimals": places})
                answered = bool(said) and ask not in self.reopened
                answered |= patch.named and pair is not None and pair.answered
                self.patch("rescale", name, patch, ask, answered, entry.place[0] == "map")
                continue
            why = ""
            if strange_now(name, codec, both):
                why = "no craft has such a value: whether the name still means the same is open"
            elif (
                not said
                and consequence(name)[0] == "ground"
                and changed_now(
                    name,
                    codec,
                    both,
                    default.value if (default := self.tables.map.defaults.get(name)) else None,
                )
            ):
                why = f"it was {both[0].before} and is {both[0].after}: "
                why += "set by hand, or written otherwise"
            if why and name in self.raw["map"]:
                self.add(Row("doubt", name, "", 0.9, why, True, {"sure": False}, name, "", ask))
            told = {key.split(" ", 2)[2]: word for key, word in self.answers.items()
                    if key.startswith(f"word {name} ")}  # fmt: skip
            words = reworded(name, codec, both, told)
            if words is not None:
                strange = next(
                    (one.after for one in both if read(codec, setting(name), one.after) is None),
                    both[0].after,
                )
                self.patch(
                    "words",
                    name,
                    words,
                    f"word {name} {strange}",
                    bool(told),
                    entry.place[0] == "map",
                )
        flagged = yes_and_no([(codec, one) for _, codec, one in flags])
        strange_flags = {name for name, codec, one in flags
                         if read(codec, setting(name), one.after) is None}  # fmt: skip
        for name in sorted(strange_flags) if flagged is not None else ():
            assert flagged is not None
            self.patch("words", name, flagged, f"word {name}", False, name in self.raw["map"])

    def patch(
        self, kind: Any, name: str, patch: Patch, ask: str, answered: bool, fits: bool = True
    ) -> None:
        """A row of keys of a setting's entry."""
        live = patch.confidence >= SURE and fits
        reason = (
            patch.reason if fits else f"{patch.reason}; its entry is in [[rows]]: yours to write"
        )
        if not patch.keys:
            return
        if live:
            self.patches[name].update(patch.keys)
        self.add(Row(kind, name, toml.value(dict(patch.keys)), patch.confidence, reason, live,
                     patch.keys, name, patch.rival, ask, answered))  # fmt: skip
        if kind == "rescale" and not live and name in self.raw["map"]:
            why = "whether its numbers are written as before is open"
            self.add(Row("doubt", name, "", 0.9, why, True, {"sure": False}, name))

    def now(self, old: Name) -> Any:
        """How a setting's values are read by the rows so far."""
        how = self.how(old)
        assert how is not None
        keys = self.patches.get(old.setting, {})
        return (
            with_keys(how[2], keys, self.marks, setting(old.setting))
            if keys
            else how[0].codecs[how[1]]
        )

    # -- what must not be live ---------------------------------------------------------------

    def _withheld(self, rows: Sequence[Row], made: Any) -> list[Row]:
        """The rows, those that change a value that matters left to a person's answer."""
        changed: dict[str, str] = {}
        for old, new in zip(self.olds, made.sides, strict=True):
            for name, read_ in old.reader.reads.items():
                first, second = old.craft.get(name), new.craft.get(name)
                later = new.reader.reads.get(name)
                if name.startswith(_HARMLESS) or later is None or close(first.value, second.value):
                    continue
                one = Both(first.value, read_.written, later.written)
                codecs = old.reader.codec(read_), new.reader.codec(later)
                if (isinstance(first.value, int | float) and not isinstance(first.value, bool)
                        and first.value and rounded(second.value, one, *codecs)):  # fmt: skip
                    continue
                changed[family(name)] = f"{show(name, first.value)} → {show(name, second.value)}"
            for mode in MODES:
                before, after = ranges_of(old.craft, mode), ranges_of(new.craft, mode)
                if (
                    before
                    and after
                    and before != after
                    and not ranges_of(self.news[self.olds.index(old)].craft, mode)
                ):
                    changed["range"] = f"{mode} has other ranges"
        out = []
        for row in rows:
            differs = next((changed[one] for one in self._about(row) if one in changed), "")
            if row.live and not row.answered and row.kind in READING and differs:
                why = f"with it the value differs, {differs}, so it waits for your answer"
                ask = row.ask or f"value {row.setting}"
                out.append(row._replace(live=False, reason=f"{row.reason}; {why}", ask=ask))
            else:
                out.append(row)
        return out

    def _about(self, row: Row) -> set[str]:
        """The settings whose reading a row changes, ``range`` for mode ranges and links."""
        if row.kind != "rename":
            return {row.setting}
        every = [one for one in self.tables.map.entries if find(one.at.text, row.name)]
        named = {name for one in every for name in one.sets.values()}
        return {*named, row.setting, *("range" for one in every if one.makes != "settings")}

    def _versions(self) -> str:
        from cfglint.facts.versions import VersionRange

        said = str(self.dialect.data["dialect"].get("versions", ""))
        if not said or VersionRange.parse(said).contains(self.at, self.dialect.order):
            return ""
        lower = [part.strip() for part in said.split(",") if part.strip()[:1] == ">"]
        first = lower[0] if lower else f">={self.since}" if self.since else ""
        return ",".join(filter(None, [first, f"<={self.at}"]))


def every_read(side: Side) -> list[Mapping[str, Any]]:
    """What was read of a dump: settings, ranges, links."""
    return [side.reader.reads, *side.reader.range_reads, *side.reader.link_reads]


def shown(one: Name) -> str:
    """A name as questions call it: with the titles over it."""
    return " > ".join((*one.titles, one.name)).replace("#", "N")


def swapped(at: str, old: str, new: str) -> tuple[str, tuple[str, str]] | None:
    """An address with some of its words swapped, and the words; None where it lacks them.

    ``#`` stands for a number that counts, which the address writes ``N`` or ``{N}``.
    """
    was, now = old.replace("#", "N"), new.replace("#", "N")
    if new.count("#") > 1:
        return None
    if find(at, was) is not None:
        return replaced(at, was, now), (was, now)
    if old.count("#") != 1 or new.count("#") != 1:
        return None
    apart = [
        (one, other)
        for one, other in zip(old.split("#"), new.split("#"), strict=True)
        if one != other
    ]
    if len(apart) == 1:
        was, now = (re.sub(r"^\W+|[\W_]+$", "", one) for one in apart[0])
        if was and now and find(at, was) is not None:
            return replaced(at, was, now), (was, now)
    was, now = old.replace("#", "{N}"), new.replace("#", "{N}")
    place = at.lower().find(was.lower())
    return (at[:place] + now + at[place + len(was) :], (was, now)) if place >= 0 else None


def _figure(said: str) -> float | None:
    match = re.match(r"[+-]?\d+(?:\.\d+)?", said.strip())
    return float(match[0]) if match is not None else None


def _once(rows: Sequence[Row]) -> list[Row]:
    """The rows, no name of one table twice: one address may lose several settings."""
    seen: dict[tuple[str, str], Row] = {}
    out = []
    for row in sorted(rows, key=lambda row: not row.live):
        key = row.kind, row.name
        if row.kind in ("rename", "remove", "boards", "modes", "kept"):
            if key in seen:
                if row.live and row.now != seen[key].now:
                    out.append(row._replace(live=False, reason=f"{row.reason}; it has a row"))
                continue
            seen[key] = row
        out.append(row)
    return out


def _unread(sides: Sequence[Side]) -> int:
    return sum(use in ("stray", "unreadable", "misread") for side in sides for _, use in side.uses)


def _check_versions(g: Drafter) -> None:
    from cfglint.facts.versions import compare

    first, last = g.olds[0].craft.file, g.news[0].craft.file
    if not g.at:
        raise Problem(
            "the dump does not say its firmware version, and a change needs the version that "
            "it came with",
            file=last,
            instead="say it with --at VERSION",
        )
    for file, version in ((last, g.at), (first, g.since)):
        try:
            if version:
                compare(version, version, g.dialect.order)
        except ValueError as bad:
            raise Problem(str(bad), file=file, instead="say it with --at VERSION") from None
    order = compare(g.since, g.at, g.dialect.order) if g.since else -1
    if order == 0:
        raise Problem(
            f"both dumps are of version {g.at}, so no update lies between them",
            file=last,
            instead="name a dump of the later firmware with --after, or say --at VERSION if "
            "the dump is wrong about its version",
        )
    if order > 0:
        raise Problem(
            f"the dump after is of version {g.at}, the dump before of the later {g.since}",
            file=last,
            instead="swap --before and --after",
        )


def _check_read(sides: Sequence[Side], name: str) -> None:
    for side in sides:
        told = [
            use for _, use in side.uses if use not in ("comment", "title", "identity", "ignored")
        ]
        bad = [use for use in told if use in ("stray", "unreadable", "misread")]
        if not told or len(bad) > (1 - _LEAST_READ) * len(told):
            raise Problem(
                f"the dialect {name} does not read this dump: it knows {len(told) - len(bad)} of "
                f"{len(told)} lines",
                file=side.craft.file,
                instead="give the dialect of the firmware before the update, or teach one "
                "from this dump first",
            )


def _paired(olds: list[Side], news: list[Side]) -> tuple[list[Side], list[Side]]:
    """The sides, each with that of the same craft: by name where all have one, else in order."""
    by_name = {side.craft.name: side for side in news if side.craft.name}
    both = [(old, by_name[old.craft.name]) for old in olds if old.craft.name in by_name]
    if len(olds) != len(news) and not both:
        raise Problem(
            f"{len(olds)} dumps before and {len(news)} after cannot be paired",
            file=news[0].craft.file,
            instead="give as many --after as --before, craft by craft in the same order",
        )
    alone = len({old.craft.name for old in olds}) == len(olds) and len(by_name) == len(news)
    if len(olds) != len(news) or (alone and len(both) == len(olds)):
        return [old for old, _ in both], [new for _, new in both]
    return olds, news


__all__ = ["Drafter", "changes_between", "shown", "swapped"]
