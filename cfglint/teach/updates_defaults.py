"""Values after an update: other scales and words, and what they tell of defaults and senses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.model import show
from cfglint.craft.settings import family, setting
from cfglint.teach.updates_model import Row
from cfglint.teach.updates_values import Both, Patch, close, read, rescaled, reworded, yes_and_no

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.teach.updates_ground import Ground
    from cfglint.teach.updates_lines import Name
    from cfglint.teach.updates_names import Pair


def values(g: Ground) -> None:
    flags: list[tuple[str, Both]] = []
    for old, new, _ in g.matched():
        entry = g.tables.by_setting[old.setting]
        both = g.both(old, new)
        kind = setting(old.setting).kind
        if not both or new.flag:
            continue
        if kind == "flag":
            flags += [(old.setting, one) for one in both]
            continue
        raw = g.raw["settings"][old.setting]
        patch = rescaled(old.setting, raw, entry.codec, both)
        if patch is not None:
            if "decimals" in raw and "decimals" not in patch.keys:
                places = max(len(one.after.partition(".")[2]) for one in both)
                patch = patch._replace(keys={**patch.keys, "decimals": places})
            g.patch("rescale", old.setting, patch)
            continue
        words = reworded(old.setting, entry.codec, both)
        if words is not None:
            g.patch("words", old.setting, words)
    _flags(g, flags)


def _flags(g: Ground, flags: Sequence[tuple[str, Both]]) -> None:
    entries = g.tables.by_setting
    if not flags:
        return
    patch = yes_and_no(entries[flags[0][0]].codec, [one for _, one in flags])
    if patch is None:
        return
    for entry in g.tables.entries:
        if setting(entry.setting).kind == "flag" and not entry.flag and entry.name:
            g.patch("words", entry.setting, patch)


def defaults(g: Ground) -> None:
    differing = list(_differing(g))
    reset = [
        old.setting
        for old, _, values in differing
        if g.tables.by_setting[old.setting].default is not None
        and all(close(now, g.tables.by_setting[old.setting].default) for _, now in values)
    ]
    asked = {row.name for row in g.rows if row.kind == "rescale" and not row.drafted}
    for old, pair, values in differing:
        if old.setting in asked:
            continue
        default = g.tables.by_setting[old.setting].default
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
        _default(g, old.setting, now, confidence, reason, default)
    if not g.full:
        _of_changes(g)


def _differing(g: Ground) -> Iterator[tuple[Name, Pair | None, list[tuple[Any, Any]]]]:
    """Known settings whose values differ, with (was, now) of each craft and member."""
    for old, new, pair in g.matched():
        entry = g.now(old.setting)
        row = setting(old.setting)
        values = [
            (one.was, read(entry.codec, row, one.after, flag=new.flag)) for one in g.both(old, new)
        ]
        if any(now is not None and not close(was, now) for was, now in values):
            yield old, pair, [(was, now) for was, now in values if now is not None]


def _default(g: Ground, name: str, now: Any, confidence: float, reason: str, was: Any) -> None:
    value = sorted(now) if isinstance(now, frozenset) else now
    if isinstance(value, float) and value == int(value):
        value = int(value)
    text = f"{reason} (the default was {show(name, was)})"
    g.patch("default", name, Patch({"default": value}, round(confidence, 2), text))


def _of_changes(g: Ground) -> None:
    """In dumps of changes a line stands where its value is no default: what that tells."""
    renamed = {pair.old.setting for pair in g.pairs}
    for entry in g.tables.entries:
        name, default = entry.setting, entry.default
        if default is None or ".N" in name or name in renamed:
            continue
        shown_at_old: list[str] = []
        hidden: list[Any] = []
        for old, new in zip(g.olds, g.news, strict=True):
            if old.craft.extent != "changes" or new.craft.extent != "changes":
                continue
            first, second = old.craft.get(name), new.craft.get(name)
            if first.origin == "default" and second.origin == "set":
                now = read(g.now(name).codec, setting(name), second.written,
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
            _default(g,
                name, hidden[0], 0.85,
                "the old default stands in the dump after, and the value offered here went "
                "out of another", default,
            )  # fmt: skip
        elif shown_at_old:
            g.rows.append(
                Row("question", name, "", 0.8,
                    f"{show(name, default)} stands in the dump after, where it did not "
                    "before: it is no longer the default; look up the new one",
                    False, setting=name)
            )  # fmt: skip
        elif same:
            confidence = 0.3 if len(hidden) == 1 else 0.6
            _default(g,
                name, hidden[0], confidence,
                "its line went: the default became what was set, or the value went back to "
                "the default; nobody can tell from two dumps", default,
            )  # fmt: skip


def inversion(g: Ground) -> None:
    """Whether a flag still means the same cannot be seen in a dump: never guessed."""
    for name in ("receiver.inverted", "port.N.inverted"):
        flipped = kept = 0
        for old, new in zip(g.olds, g.news, strict=True):
            first, second = old.craft.get("receiver.link"), new.craft.get("receiver.link")
            senses = old.craft.traits.inversion, new.craft.traits.inversion
            if not first.known or first.value != second.value or senses[0] != senses[1]:
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
        g.rows.append(
            Row("question", name, "", 0.5 if flipped else 0.2, reason, False, setting=name)
        )
