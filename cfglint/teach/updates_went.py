"""Names that went with an update, and names that came."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft.settings import SETTINGS
from cfglint.teach.updates_lines import home
from cfglint.teach.updates_model import Row
from cfglint.teach.updates_names import SURE, likeness
from cfglint.teach.updates_new import meanings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.updates_ground import Ground
    from cfglint.teach.updates_lines import Name
    from cfglint.teach.updates_names import Places

#: Names gone *and* as many new ones: more than an update does, unless the dumps hold only changes.
_FEW, _SHARE = 4, 0.04
_WHY_GONE = "not in the dump after; look up what took its place"


def all_named(g: Ground, gone: Sequence[Name], fresh: Sequence[Name]) -> bool:
    """Whether the dumps seem to hold every name, so that a missing one is a fact.

    A dialect may not say which dumps do.  Where many names went and as many others came, it is
    because they are shown only where they differ from a default.
    """
    few = max(_FEW, _SHARE * len(g.old.by_key))
    return g.full and min(len(gone), len(fresh)) < few


def went(g: Ground, gone: Sequence[Name], fresh: Sequence[Name], places: Places) -> None:
    """Rows for names that went and became no other: removed, where every dump holds all names.

    ``fresh`` are the new names that no old one became.
    """
    from cfglint.carry.side import cut_off

    cut = next((why for side in g.news if (why := cut_off(side))), "")
    share = len(gone) / max(1, len(g.old.by_key))
    still = {home(one.name) for one in g.new.by_key.values()}
    if cut:
        g.notes.append(
            f"the dump after seems to be cut off ({cut}), so nothing is taken for removed"
        )
    if share > 0.4:
        g.notes.append(
            f"{len(gone)} of {len(g.old.by_key)} names are gone, which is more than an "
            "update does: are both dumps of the same firmware?"
        )
    if g.full and not all_named(g, gone, fresh):
        g.notes.append(
            f"{len(gone)} names are gone and {len(fresh)} are new, as in dumps that hold only what "
            "differs from the defaults; so nothing is taken for removed"
        )
    for one in gone:
        if one.removed or not all_named(g, gone, fresh):
            _gone_quietly(g, one)
            continue
        elsewhere = any(key[1] == one.name for key in g.new.by_key)
        if elsewhere and not one.setting:
            continue  # in another section, which is nothing to a name without a meaning
        others = [
            row for row in g.tables.entries
            if g.tables.fold(row.name) == one.name and row.setting != one.setting
        ]  # fmt: skip
        confidence, reason = 0.85, "it stands in no dump after"
        if len(g.news) > 1:
            confidence, reason = 0.93, f"it stands in none of {len(g.news)} dumps after"
        if home(one.name) in still and "#" in home(one.name):
            confidence, reason = 0.55, "others of its kind are there: perhaps not shown here"
        if elsewhere or others:
            confidence, reason = 0.5, "something else has the same name, and would go with it"
        if not g.in_dialect(one):
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
        g.rows.append(
            Row("remove", one.shown, _WHY_GONE, confidence, reason, confidence >= SURE,
                f"renamed to {rival}" if rival else "", setting=one.setting)
        )  # fmt: skip


def _gone_quietly(g: Ground, one: Name) -> None:
    """A name that is not in a dump of changes any more: at its default now, perhaps gone."""
    if one.setting:
        return  # what may be said of it is said with the defaults
    g.rows.append(
        Row("remove", one.shown, _WHY_GONE, 0.25, "not in the dump after: at its default "
            "now, renamed or gone", False)
    )  # fmt: skip


def taken_up(g: Ground, come: Sequence[Name]) -> None:
    """Rows for new names: a setting that had none, marked unconfirmed, or a name to keep."""
    taken = {row.setting for row in g.tables.entries if row.name}
    taken |= {name for form in g.tables.forms for name in form.sets.values()}
    removed = {row.setting for row in g.rows if row.kind == "remove" and row.drafted}
    free = [name for name in SETTINGS if name not in taken or name in removed]
    found = meanings(come, free, [side.source for side in g.news], g.new)
    for one in come:
        meant = found.get(one.key)
        if meant is not None:
            name, keys, confidence, reason = meant
            row = Row("setting", name, one.shown, confidence, reason, True, keys=keys,
                      setting=name)  # fmt: skip
            g.rows.append(row)
            g.patches[name] = dict(keys)
        elif not g.kept(one.name):
            reason = "a new name without a meaning that is known here"
            g.rows.append(Row("kept", one.shown, "", 0.9, reason, True))
