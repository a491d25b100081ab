"""What a draft of changes stands on: both sides read, their names, and what was found so far."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint import tomlwrite as toml
from cfglint.craft.settings import setting
from cfglint.errors import Problem
from cfglint.teach.updates_lines import Name, Names, names_of
from cfglint.teach.updates_model import Kind, Row
from cfglint.teach.updates_names import SURE, Pair
from cfglint.teach.updates_values import Both, Patch, close, read, rescaled, reworded

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.carry.side import Side
    from cfglint.dialect.model import Dialect, Entry
    from cfglint.dump.source import Source
    from cfglint.teach.updates_lines import Key

#: A dump of which the dialect knows less is not of that dialect.
_LEAST_READ = 0.5


class Ground:
    """Both sides, read by the dialect as it is; ``rows``, ``pairs``, ``patches`` and ``notes``
    are what was found so far.

    ``tables`` and ``raw`` are the dialect's of the version after; ``full`` says that every dump
    holds all settings, so that a missing name is a fact.  Raises Problem as
    :func:`cfglint.teach.updates.changes_between`.
    """

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
        #: Boards of which the dialect knows already that they are called otherwise.
        self.boards: Mapping[str, str] = {}
        self.old = self._translated(names_of(self.olds))
        self.new = names_of(self.news)
        self.pairs: list[Pair] = []
        #: Entries as they are by the rows so far: setting → keys changed.
        self.patches: dict[str, dict[str, Any]] = defaultdict(dict)

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
        self.boards = fate.boards
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

    def new_section(self, old: Name, new: Name) -> str:
        """The form of a setting's new section, "" where it cannot be told."""
        form = str(self.raw["settings"][old.setting].get("within", ""))
        paths = self.new.sections.get(new.within, ())
        if not paths:
            return ""
        if "{" not in form:
            return paths[0]
        field = form[form.index("{") : form.index("}") + 1]
        return new.within.replace("#", field) if new.within.count("#") == 1 else ""

    def in_dialect(self, one: Name) -> bool:
        return one.known or self.kept(one.name)

    def exactly_kept(self, one: Name) -> bool:
        return one.name in {self.tables.fold(name) for name in self.tables.kept}

    def kept(self, name: str) -> bool:
        from cfglint.dialect.model import like

        fold = self.tables.fold
        return any(like(fold(name), fold(known)) for known in self.tables.kept)

    def judge(self, old: Name, new: Name) -> tuple[float, str]:
        """What the values of a new name say of it being a setting that is known."""
        both = self.both(old, new)
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
        patch = reworded(old.setting, entry.codec, both)
        if patch is not None and patch.confidence >= SURE:
            return 0.5, "a word that may mean the same"
        return -1.0, f"its value is none that {old.setting} may have"

    def both(self, old: Name, new: Name) -> list[Both]:
        """What is written before and after for a setting, craft by craft, member by member."""
        entry = self.olds[0].tables.by_setting[old.setting]
        later = {
            (craft, member if new.setting else self._number(entry, member)): text
            for (craft, member), text in new.written.items()
        }
        found = []
        for place, text in old.written.items():
            was = read(entry.codec, setting(old.setting), text, flag=old.flag)
            if place in later and was is not None:
                found.append(Both(was, text, later[place]))
        return found

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

    def matched(self) -> Iterator[tuple[Name, Name, Pair | None]]:
        """Names of known settings with what they are after the update, surely."""
        by_old = {pair.old.key: pair for pair in self.pairs if pair.sure}
        for key, old in self.old.by_key.items():
            if not old.setting or old.setting not in self.tables.by_setting:
                continue
            pair = by_old.get(key)
            new = pair.new if pair is not None else self.new.by_key.get(key)
            if new is not None:
                yield old, new, pair

    def patch(self, kind: Kind, name: str, patch: Patch) -> None:
        drafted = patch.confidence >= SURE
        if drafted:
            self.patches[name].update(patch.keys)
        self.rows.append(
            Row(kind, name, toml.value(dict(patch.keys)), patch.confidence, patch.reason, drafted,
                patch.rival, patch.keys, name)
        )  # fmt: skip

    def now(self, name: str) -> Entry:
        """A setting's entry by the rows so far."""
        from cfglint.dialect.resolve import codec

        entry = self.tables.by_setting[name]
        raw = {**self.raw["settings"][name], **self.patches.get(name, {})}
        values = {**self.raw["settings"][name].get("values", {}), **raw.get("values", {})}
        raw = {**raw, "values": values} if values else raw
        shape = self.dialect.data["shape"]
        return entry._replace(codec=codec(raw, shape, ignore_case=self.dialect.ignore_case))


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
