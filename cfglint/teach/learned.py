"""Words that nobody listed, understood by the company they keep.

Where `hand_lo`, `hand_mid` and `hand_hi` stand for pulses that only sticks have, `hand` speaks of
sticks; and where the owner says that a line sets something, its unknown word speaks of that.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from cfglint.craft.settings import SETTINGS
from cfglint.teach.match import family_setting, pair_of
from cfglint.teach.names import BY_SETTING, PROFILES, fit
from cfglint.teach.words import ideas, is_filler, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.teach.fits import Habits
    from cfglint.teach.match import Pair
    from cfglint.teach.names import Learned, Profile
    from cfglint.teach.slots import Slot

#: What a name can be about; the other ideas say what of it.
_SUBJECTS = (
    "motor", "receiver", "stick", "failsafe", "battery", "video", "self-right", "loop", "port",
    "channel",
)  # fmt: skip
#: How much a word counts that only its company explains: too little to make a mapping sure.
_BY_COMPANY = 0.66
#: How much better an explanation has to be than none, and than the next.
_GAIN, _CLEAR = 0.8, 0.8


def unknown(word: str) -> bool:
    """Whether a word is none of ours, and long enough to be a word."""
    return len(word) >= 2 and not ideas(word) and not is_filler(word)


def by_company(slots: Sequence[Slot], habits: Habits) -> Learned:
    """Unknown words that several names share → the subject that explains these names best."""
    shared: dict[str, list[Slot]] = defaultdict(list)
    for slot in slots:
        if slot.form:
            continue
        for word in dict.fromkeys((*slot.words.own, *slot.words.section)):
            if unknown(word):
                shared[word].append(slot)
    out: dict[str, tuple[tuple[str, float], ...]] = {}
    for word, members in shared.items():
        if not 2 <= len(members) <= 24:
            continue
        base = sum(_best(slot, habits, PROFILES, {}) for slot in members)
        scores = []
        for subject in _SUBJECTS:
            profiles = [p for p in PROFILES if subject in p.groups[0]]
            learned = {word: ((subject, _BY_COMPANY),)}
            found: dict[str, float] = {}
            for slot in members:
                score, name = _best_named(slot, habits, profiles, learned)
                # Two names cannot set one thing.
                found[name] = max(found.get(name, 0.0), score)
            scores.append((sum(score for name, score in found.items() if name), subject))
        scores.sort(reverse=True)
        (first, subject), (second, _) = scores[0], scores[1]
        if first >= base + _GAIN and second <= _CLEAR * first:
            out[word] = ((subject, _BY_COMPANY),)
    return out


def _best(slot: Slot, habits: Habits, profiles: Sequence[Profile], learned: Learned) -> float:
    return _best_named(slot, habits, profiles, learned)[0]


def _best_named(
    slot: Slot, habits: Habits, profiles: Sequence[Profile], learned: Learned
) -> tuple[float, str]:
    """The score of the setting that fits a slot best, and its name; 0 and nothing below worth."""
    best, name = 0.0, ""
    for profile in profiles:
        if family_setting(profile.setting) != slot.family:
            continue
        if slot.flag and SETTINGS[profile.setting].kind != "flag":
            continue
        match = fit(profile, slot.words, learned)
        if match.score < 0.4:
            continue
        pair = pair_of(profile.setting, slot, habits, match)
        if pair is not None and pair.score > max(best, 0.45):
            best, name = pair.score, profile.setting
    return best, name


def by_answers(named: Mapping[str, Pair]) -> Learned:
    """Unknown words of lines that the owner named → the ideas that they must speak of."""
    out: dict[str, tuple[tuple[str, float], ...]] = {}
    for setting, pair in named.items():
        profile = BY_SETTING.get(setting)
        if profile is None or pair.slot.form:
            continue
        words = [word for word in pair.slot.words.own if unknown(word)]
        if len(words) != 1:
            continue
        met = fit(profile, pair.slot.words)
        lacking = [
            group
            for group in profile.groups
            if not any(
                idea in group
                for word in (*pair.slot.words.own, *pair.slot.words.section)
                for idea, _ in ideas(word)
            )
        ]
        if len(lacking) == 1 and met.recall < 1:
            out[words[0]] = tuple((idea, 1.0) for idea in list(lacking[0])[:1])
    return out


#: Settings whose values are like those of many others.
_WIDE = frozenset(("motor.rate_hz", "motor.poles", "receiver.port", "self-right.power_percent"))

#: Settings that what is said of them nearly tells, whatever the word for their subject.
_NARROW = frozenset(("craft.name", "failsafe.throttle_us", "stick.dead_band_us"))


def by_elimination(
    slots: Sequence[Slot],
    taken: Iterable[tuple[str, str]],
    open_settings: Iterable[str],
    habits: Habits,
    learned: Learned,
) -> Learned:
    """Unknown words → what they say, where the rest of a name is plain and nothing else is left.

    `cell-full 42`, `cell-zork 35`, `cell-empty 33`: of the settings of cells that no line was found
    for, the warning is the only one that 35 can be, and no other line can be it.
    ``taken`` are keys of slots that set something, ``open_settings`` those that nothing sets yet.
    """
    gone = set(taken)
    profiles = [
        BY_SETTING[name]
        for name in open_settings
        if name in BY_SETTING and SETTINGS[name].kind != "flag" and name not in _WIDE
    ]
    fits: dict[str, list[tuple[Slot, str, int]]] = defaultdict(list)
    for slot in slots:
        if slot.key in gone or slot.form or slot.flag:
            continue
        strange = [word for word in slot.words.own if unknown(word) and word not in learned]
        if len(strange) != 1:
            continue
        for profile in profiles:
            if family_setting(profile.setting) != slot.family:
                continue
            lacking = _lacking(profile, slot, habits)
            if lacking > 0 or (lacking == 0 and profile.setting in _NARROW):
                fits[profile.setting].append((slot, strange[0], lacking))
    choices = Counter(slot.key for found in fits.values() for slot, _, _ in found)
    out: dict[str, tuple[tuple[str, float], ...]] = {}
    for name, found in fits.items():
        slot, word, lacking = found[0]
        if len(found) == 1 and choices[slot.key] == 1:
            out[word] = ((next(iter(BY_SETTING[name].groups[lacking])), _BY_COMPANY),)
    return out


def _lacking(profile: Profile, slot: Slot, habits: Habits) -> int:
    """The one group of a profile that a name lacks, if its values could be the setting's; or -1."""
    words = (*slot.words.own, *slot.words.section)
    met = [
        any(group.get(idea, 0) * weight >= 0.75 for word in words for idea, weight in ideas(word))
        for group in profile.groups
    ]
    allowed = {idea for group in profile.groups for idea in group} | profile.also
    other = [
        word
        for word in slot.words.own
        if (kinds := ideas(word))
        and not is_filler(word)
        and not any(i in allowed for i, _ in kinds)
    ]
    if met.count(False) != 1 or other:
        return -1
    pair = pair_of(profile.setting, slot, habits, fit(profile, slot.words))
    good = pair is not None and pair.fits[0].fit >= 0.85 and not pair.fits[0].opaque
    return met.index(False) if good else -1


#: Modes whose words speak of settings as well: mode → idea.
_OF_MODES = {"log": "log", "self-right": "self-right"}


def by_modes(modes: Mapping[str, str], unsure: Iterable[str]) -> Learned:
    """Words of modes that are known → what they speak of in names: `rec` beside `rec-every`."""
    out: dict[str, tuple[tuple[str, float], ...]] = {}
    doubtful = set(unsure)
    for mode, idea in _OF_MODES.items():
        words = split(modes[mode]) if mode in modes and mode not in doubtful else ()
        if len(words) == 1 and idea not in dict(ideas(words[0])):
            out[words[0]] = ((idea, 0.9),)
    return out
