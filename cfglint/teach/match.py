"""Which slot sets which neutral setting: all of them at once, each with how sure."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.settings import SETTINGS
from cfglint.teach.fits import Habits, ValueFit, value_fits
from cfglint.teach.names import PROFILES, Fit, Learned, fit
from cfglint.teach.words import unit_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.teach.slots import Slot


class Pair(NamedTuple):
    """A setting and a slot that may set it; ``fits`` are the ways to read its values."""

    setting: str
    slot: Slot
    score: float
    name: Fit
    fits: tuple[ValueFit, ...]


class Choice(NamedTuple):
    """The slot chosen for a setting.

    ``confidence`` is that of the slot, ``codec_confidence`` that of the way to read it.
    ``rival`` is the next best slot, if one comes near; ``told`` whether the owner said so.
    """

    pair: Pair
    confidence: float
    codec_confidence: float
    rival: Pair | None
    told: bool = False


#: Below this a pair is not worth a thought.
LEAST = 0.28
#: Below this it is not even worth showing.
FAINT = 0.14


def family_setting(name: str) -> bool:
    return ".N" in name


def pairs_of(slots: Sequence[Slot], habits: Habits, learned: Learned | None = None) -> list[Pair]:
    """Every pair of a setting and a slot that may go together, best first."""
    out: list[Pair] = []
    for slot in slots:
        for profile in PROFILES:
            row = SETTINGS[profile.setting]
            if family_setting(profile.setting) != slot.family:
                continue
            if slot.flag and row.kind != "flag":
                continue
            one = pair_of(profile.setting, slot, habits, fit(profile, slot.words, learned))
            if one is not None and one.score >= FAINT:
                out.append(one)
    out.sort(key=lambda pair: (-pair.score, pair.setting, pair.slot.key))
    return out


def pair_of(setting: str, slot: Slot, habits: Habits, name: Fit) -> Pair | None:
    """One pair, scored; None where the values cannot be meant."""
    unit = unit_of(slot.words.own) or unit_of(slot.words.section)
    fits = value_fits(setting, slot.written, unit, habits)
    if not fits:
        return None
    value = fits[0]
    n = name.score
    if unit and value.fit >= 0.99 and name.recall >= 0.9:
        n += (1 - n) * 0.3  # a unit that fits says what a strange word beside it does not
    score = n * (0.45 + 0.55 * value.fit)
    if value.specific:
        pull = value.specific * min(1.0, 0.35 + 1.3 * n)
        score = 1 - (1 - score) * (1 - pull)
    return Pair(setting, slot, min(score, 0.99), name, tuple(fits))


def choose(
    pairs: Sequence[Pair],
    told: Mapping[str, Pair] | None = None,
    barred: Iterable[tuple[str, tuple[str, str]]] = (),
    without: Iterable[str] = (),
) -> dict[str, Choice]:
    """One slot for each setting that has a worthy one, and no slot twice.

    ``told`` are pairs that the owner named, ``barred`` pairs (setting, slot key) that are not,
    ``without`` settings that nothing sets.
    """
    told = dict(told or {})
    no = set(barred)
    none = set(without) | set(told)
    taken = {pair.slot.key for pair in told.values()}
    free = [
        pair
        for pair in pairs
        if pair.score >= LEAST
        and pair.setting not in none
        and pair.slot.key not in taken
        and (pair.setting, pair.slot.key) not in no
    ]
    solved = _solve(free)
    by_setting: dict[str, list[Pair]] = defaultdict(list)
    by_slot: dict[tuple[str, str], list[Pair]] = defaultdict(list)
    for pair in free:
        by_setting[pair.setting].append(pair)
        by_slot[pair.slot.key].append(pair)
    holder = {pair.slot.key: pair for pair in solved}
    mine = {pair.setting: pair for pair in solved}
    out: dict[str, Choice] = {}
    for pair in solved:
        rivals = []
        for other in by_setting[pair.setting]:
            if other.slot.key == pair.slot.key:
                continue
            held = holder.get(other.slot.key)
            # One that surely sets something else is hardly a rival.
            weight = other.score * (0.55 if held is not None and held.score > other.score else 1.0)
            rivals.append((weight, other))
        for other in by_slot[pair.slot.key]:
            if other.setting == pair.setting:
                continue
            found = mine.get(other.setting)
            weight = other.score * (
                0.55 if found is not None and found.score > other.score else 1.0
            )
            rivals.append((weight, other))
        rivals.sort(key=lambda row: -row[0])
        near = rivals[0][0] if rivals else 0.0
        confidence = pair.score * (0.72 + 0.28 * min(1.0, max(0.0, (pair.score - near)) / 0.35))
        rival = next(
            (
                other
                for w, other in rivals
                if other.setting == pair.setting and w >= 0.5 * pair.score
            ),
            None,
        )
        out[pair.setting] = Choice(pair, confidence, _codec_confidence(pair), rival)
    for setting, pair in told.items():
        out[setting] = Choice(pair, 1.0, _codec_confidence(pair), None, True)
    return out


def _codec_confidence(pair: Pair) -> float:
    """How sure the first way to read the values is, beside the second."""
    first = pair.fits[0]
    if first.opaque:
        return 0.2
    if len(pair.fits) == 1:
        return 0.98 if not first.doubt else 0.7
    return first.fit / (first.fit + pair.fits[1].fit)


def _solve(pairs: Sequence[Pair]) -> list[Pair]:
    """The pairs that together score best, no setting and no slot twice (Kuhn–Munkres)."""
    settings = list(dict.fromkeys(pair.setting for pair in pairs))
    slots = list(dict.fromkeys(pair.slot.key for pair in pairs))
    if not settings:
        return []
    worth = {(pair.setting, pair.slot.key): pair for pair in pairs}
    n, m = len(settings), len(slots) + len(settings)

    def cost(i: int, j: int) -> float:
        if j >= len(slots):
            return 0.0
        pair = worth.get((settings[i], slots[j]))
        # Squared, so that one good pair is worth more than two poor ones.
        return -(pair.score**2 - LEAST**2) if pair is not None else 1e3

    infinity = float("inf")
    u, v = [0.0] * (n + 1), [0.0] * (m + 1)
    match, way = [0] * (m + 1), [0] * (m + 1)
    for i in range(1, n + 1):
        match[0] = i
        j0 = 0
        least = [infinity] * (m + 1)
        used = [False] * (m + 1)
        while True:
            used[j0] = True
            i0, delta, j1 = match[j0], infinity, 0
            for j in range(1, m + 1):
                if used[j]:
                    continue
                now = cost(i0 - 1, j - 1) - u[i0] - v[j]
                if now < least[j]:
                    least[j], way[j] = now, j0
                if least[j] < delta:
                    delta, j1 = least[j], j
            for j in range(m + 1):
                if used[j]:
                    u[match[j]] += delta
                    v[j] -= delta
                else:
                    least[j] -= delta
            j0 = j1
            if match[j0] == 0:
                break
        while j0:
            j1 = way[j0]
            match[j0] = match[j1]
            j0 = j1
    return [
        worth[settings[match[j] - 1], slots[j - 1]] for j in range(1, len(slots) + 1) if match[j]
    ]
