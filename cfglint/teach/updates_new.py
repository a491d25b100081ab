"""New names that may be a neutral setting which had no line of its own before the update."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import SETTINGS
from cfglint.teach.fits import habits_of
from cfglint.teach.match import pair_of
from cfglint.teach.names import PROFILES, Words, fit
from cfglint.teach.slots import Slot
from cfglint.teach.words import split

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.source import Source
    from cfglint.teach.updates_lines import Key, Name, Names

#: Below this a new name is only kept.
WORTH = 0.6
#: How far the likeliest meaning must be ahead of the next.
_AHEAD = 0.12


def meanings(
    come: Sequence[Name], free: Sequence[str], sources: Sequence[Source], names: Names
) -> dict[Key, tuple[str, dict[str, Any], float, str]]:
    """New names with the setting that each may set, the entry for it, how likely, and why.

    ``free`` are the settings that nothing sets.  Every entry is marked ``sure = false``: what a
    new name does nobody has confirmed.
    """
    written = [text for one in names.by_key.values() for text in one.written.values()]
    habits = habits_of(written, ",")
    rows: list[tuple[float, str, Name, dict[str, Any]]] = []
    for one in come:
        if not one.written or "#" in one.within or one.flag:
            continue
        values = tuple(one.written.values())
        words = Words(
            tuple(word for word in split(one.shown) if not word.isdigit()),
            tuple(word for word in split(one.within) if not word.isdigit()),
        )
        slot = Slot(one.shown, one.within, False, words, (), form=one.shown, values=values)
        for profile in PROFILES:
            name = profile.setting
            if name not in free or ".N" in name or name not in SETTINGS:
                continue
            pair = pair_of(name, slot, habits, fit(profile, words))
            if pair is not None and pair.score >= 0.4 and not pair.fits[0].opaque:
                rows.append((pair.score, name, one, dict(pair.fits[0].codec)))
    rows.sort(key=lambda row: -row[0])
    out: dict[Key, tuple[str, dict[str, Any], float, str]] = {}
    settled: set[str] = set()
    for score, name, one, codec in rows:
        rivals = [
            other
            for other, setting, another, _ in rows
            if (another.key == one.key) != (setting == name)
        ]
        clear = score - max(rivals, default=0.0) >= _AHEAD
        if score < WORTH or not clear or one.key in out or name in settled:
            continue
        settled.add(name)
        home = {"within": names.sections[one.within][0]} if one.within else {}
        keys = {"name": one.shown, **home, **codec, "sure": False}
        out[one.key] = name, keys, round(score, 2), f"`{one.shown}` is new, and speaks of it"
    return out
