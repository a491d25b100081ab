"""What two written values of one setting tell: another scale, another word, or another value."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import setting, show_number
from cfglint.dialect.encode import close
from cfglint.dialect.mapping import codec_of
from cfglint.dialect.values import PERIODS, UNITS, Bad, Codec, decode, key, numeral, unquote
from cfglint.teach.meanings import TABLES, YES_NO, best, squeeze
from cfglint.teach.numbers import SENSES
from cfglint.teach.words import split
from cfglint.tomlwrite import value as toml

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from cfglint.craft.settings import Setting

#: Factors tried beside those that the setting's usual units are apart.
_TENS = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001)
#: Words less likely than this to follow one another mean something else.
_UNLIKE = 0.4
#: Percent of a pulse's usual way, 1000 to 2000 µs: scale and offset (common practice).
_OF_FULL = (10, 1000)
#: Units as names spell them out, beside those that values carry.
_IN_NAMES = {
    "permille": "‰", "milli": "ms", "millis": "ms", "mvolt": "mv", "mvolts": "mv", "micros": "µs",
    "hertz": "hz", "kilohertz": "khz", "deci": "ds", "centivolt": "cv", "centivolts": "cv",
}  # fmt: skip


class Both(NamedTuple):
    """A value of one craft before and after, as written; ``was`` is its neutral value."""

    was: Any
    before: str
    after: str


class Patch(NamedTuple):
    """Keys that make an entry read the later values, how likely they are meant, and why."""

    keys: Mapping[str, Any]
    confidence: float
    reason: str
    rival: str = ""
    named: bool = False


def read(codec: Codec, row: Setting, written: str) -> Any:
    """The neutral value of a written one, None where it has none."""
    try:
        return decode(codec, row, written)
    except Bad:
        return None


def with_keys(
    raw: Mapping[str, Any], keys: Mapping[str, Any], marks: Mapping[str, Any], row: Setting
) -> Codec:
    """The codec of an entry with some of its keys changed, as a patch would leave it."""
    from cfglint.dialect.versions import merged, without_empty

    return codec_of(without_empty(merged(raw, keys)), marks, row)


# ------------------------------------------------------------------ numbers


def unit_in(name: str, row: Setting) -> str:
    """The unit that a name ends with, ``""`` where it names none."""
    words = [word.lower() for word in split(name.replace("#", " "))]
    last = words[-1] if words else ""
    last = _IN_NAMES.get(last, last)
    periods = PERIODS if row.unit == "Hz" else {}
    return last if last in UNITS.get(row.unit, {}) or last in periods else ""


def of_unit(unit: str, row: Setting, raw: Mapping[str, Any]) -> dict[str, Any]:
    """The keys of an entry whose numbers are in a unit."""
    if row.unit == "Hz" and unit in PERIODS:
        return {"over": int(PERIODS[unit])}
    scale = UNITS[row.unit][unit]
    name = "step" if "step" in raw else "scale"
    keys = {name: int(scale) if scale == int(scale) else scale}
    keys.update({one: 0 for one in ("offset", "over") if raw.get(one)})
    return {**keys, "unit": row.unit} if "unit" in raw else keys


def rescaled(
    name: str,
    raw: Mapping[str, Any],
    marks: Mapping[str, Any],
    pairs: Sequence[Both],
    named: tuple[str, str] = ("", ""),
    true: float | None = None,
) -> Patch | None:
    """Another way to write a number, by which the later values are what they were before.

    ``raw`` is the dialect's entry, ``named`` the names before and after (a unit in the new one
    says how its numbers are written, whatever the values), ``true`` what a person says that the
    first later value is.  None where no other way is needed, or none is found.
    """
    row = setting(name)
    codec = codec_of(raw, marks, row)
    told = [one for one in pairs if one.was and numeral(one.after, codec) is not None]
    if row.kind not in ("number", "count") or codec.words or not told or codec.given:
        return None
    later = [read(codec, row, one.after) for one in told]
    if true is not None:
        return _as_told(raw, marks, row, told, true, later)
    unit, stands = unit_in(named[1], row), "its name ends in"
    if unit == unit_in(named[0], row):
        beside = [
            (numeral(text, codec) or (0, ""))[1].lower() for text in (told[0].before, told[0].after)
        ]
        unit, stands = beside[1] * (beside[0] != beside[1]), "behind it stands"
        known = UNITS.get(row.unit, {}).keys() | (PERIODS.keys() if row.unit == "Hz" else set())
        # A unit behind the number is read by itself, unless the entry has a scale of its own.
        unit = unit if unit in known and codec.scaled else ""
    if unit:
        keys = of_unit(unit, row, raw)
        changed = with_keys(raw, keys, marks, row)
        again = [read(changed, row, one.after) for one in told]
        if changed == codec or any(value is None for value in again):
            return None
        equal = all(close(value, one.was) for value, one in zip(again, told, strict=True))
        reason = f"{stands} `{unit}`, so {told[0].after} is {_shown(again[0], row)}"
        reason += " as it was" if equal else f", where {_shown(told[0].was, row)} was"
        return Patch(keys, 0.96 if equal else 0.8, reason, named=True)
    if all(new is not None and close(new, one.was) for new, one in zip(later, told, strict=True)):
        return None
    found = _found(raw, marks, row, told, _ways(name, raw, codec))
    if found:
        return _judged(name, row, told, later, found)
    # A step that nobody would have thought of but for this one value is only offered.
    found = _found(raw, marks, row, told, _by_ratio(raw, codec, told[0]))
    if not found:
        return None
    patch = _judged(name, row, told, later, found)
    return patch._replace(confidence=min(patch.confidence, 0.6))


def _found(
    raw: Mapping[str, Any], marks: Mapping[str, Any], row: Setting, told: Sequence[Both],
    ways: Iterable[dict[str, Any]],
) -> list[tuple[float, dict[str, Any], bool]]:  # fmt: skip
    """Ways that explain the later values: how many of them, the keys, whether to the digit."""
    found: list[tuple[float, dict[str, Any], bool]] = []
    codec = codec_of(raw, marks, row)
    for keys in ways:
        changed = with_keys(raw, keys, marks, row)
        both = [(read(changed, row, one.after), one) for one in told]
        near = [new is not None and rounded(new, one, codec, changed) for new, one in both]
        if all(new is not None and close(new, one.was) for new, one in both):
            found.append((1.0, keys, True))
        elif all(near):
            found.append((0.9, keys, False))
        elif len(told) >= 3 and sum(near) >= 0.7 * len(told):
            found.append((0.7 + 0.2 * sum(near) / len(told), keys, False))
    return sorted(found, key=lambda one: -one[0])


def _judged(
    name: str,
    row: Setting,
    told: Sequence[Both],
    later: Sequence[Any],
    found: Sequence[tuple[float, dict[str, Any], bool]],
) -> Patch:
    """The likeliest way, by how odd the later values would be without it."""
    share, keys, exact = found[0]
    confidence, says = _doubt(name, told, later)
    distinct = len({one.before for one in told})
    if distinct >= 2:
        confidence = max(confidence, 0.9)
    reason = (
        f"written {told[0].after} instead of {told[0].before}, {says}; with "
        f"{_keys(keys)} it is {_shown(told[0].was, row)} again"
    )
    if not exact:
        confidence, reason = confidence - 0.12, f"{reason}, but for rounding"
    if distinct >= 2:
        reason += f"; so with {distinct} different values"
    rival = _keys(found[1][1]) if len(found) > 1 and found[1][0] >= share else ""
    if rival:
        confidence = min(confidence, 0.6)
    return Patch(keys, round(confidence * min(1.0, share + 0.1), 2), reason, rival)


def _as_told(
    raw: Mapping[str, Any], marks: Mapping[str, Any], row: Setting, told: Sequence[Both],
    true: float, later: Sequence[Any],
) -> Patch | None:  # fmt: skip
    """The way to write numbers by which the first later value is the true one."""
    if later[0] is not None and close(later[0], true):
        return Patch({}, 1.0, "its numbers are written as before")
    codec = codec_of(raw, marks, row)
    for keys in [*_ways(row.name, raw, codec), *_by_ratio(raw, codec, told[0]._replace(was=true))]:
        value = read(with_keys(raw, keys, marks, row), row, told[0].after)
        if value is not None and close(float(value), float(true)):
            return Patch(keys, 1.0, f"{told[0].after} is {_shown(true, row)}")
    return None


def _shown(value: Any, row: Setting) -> str:
    return f"{show_number(float(value))}{' ' + row.unit if row.unit else ''}"


def _keys(keys: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} = {toml(item)}" for name, item in keys.items())


def _ways(name: str, raw: Mapping[str, Any], codec: Codec) -> Iterator[dict[str, Any]]:
    """Keys of other ways to write a setting's numbers."""
    step = "step" if "step" in raw else "scale"
    sense = SENSES.get(name)
    factors = [factor for _, factor in sense.scales] if sense is not None else []
    factors += [1.0] if codec.over else [float(codec.scale) * ten for ten in _TENS]
    seen: set[float] = set()
    for factor in factors:
        neat = float(f"{factor:.9g}")
        if neat in seen or (neat == float(codec.scale) and not codec.over and not codec.offset):
            continue
        seen.add(neat)
        keys: dict[str, Any] = {step: int(neat) if neat == int(neat) else neat}
        if codec.over:
            yield {"over": 0, **keys}
            continue
        if codec.offset:
            yield {**keys, "offset": 0}
        if neat != float(codec.scale):
            yield keys
    if setting(name).unit == "µs" and (codec.scale, codec.offset) != _OF_FULL:
        yield {step: _OF_FULL[0], "offset": _OF_FULL[1]}
    if sense is not None and sense.over and sense.over != codec.over:
        yield {"over": int(sense.over)}


def _by_ratio(raw: Mapping[str, Any], codec: Codec, one: Both) -> Iterator[dict[str, Any]]:
    """The scale by which one later value is what it was, if it is one that people count in."""
    found = numeral(one.after, codec)
    if found is None or not found[0] or codec.over or codec.first is not None:
        return
    scale = float(f"{(float(one.was) - codec.offset) / found[0]:.6g}")
    if scale and f"{abs(scale):.5e}"[:7] in ("1.00000", "2.00000", "2.50000", "5.00000"):
        yield {"step" if "step" in raw else "scale": int(scale) if scale == int(scale) else scale}


def _grid(codec: Codec, written: str) -> float:
    """The step in which a value written so can be told apart."""
    digits = re.match(r"[^.,]*[.,](\d+)", unquote(written))
    return (
        0.0 if codec.over else abs(float(codec.scale)) * 10.0 ** -len(digits[1] if digits else "")
    )


def rounded(new: Any, one: Both, old: Codec, changed: Codec) -> bool:
    """Whether a value is what it was, but for rounding to the coarser of two steps."""
    # Half a step of a coarse unit must not make any two values alike.
    step = min(max(_grid(old, one.before), _grid(changed, one.after)), 0.05 * abs(float(one.was)))
    return abs(float(new) - float(one.was)) <= 0.5 * step + 1e-9


def _doubt(name: str, told: Sequence[Both], later: Sequence[Any]) -> tuple[float, str]:
    """How odd the later values are in the earlier scale: how likely another is, and in words."""
    if any(new is None for new in later):
        return 0.96, "which it cannot be as it was written before"
    open_ = 0.5, "though it may be another value, set by hand"
    sense = SENSES.get(name)
    if sense is None:
        ratios = [abs(float(new)) / abs(float(o.was)) for new, o in zip(later, told, strict=True)]
        far = all(ratio >= 90 or ratio <= 1 / 90 for ratio in ratios)
        return (0.82, "which is far from what it was") if far else open_
    low, high = sense.wide[0] - 1e-9, sense.wide[1] + 1e-9
    if all(low <= float(one.was) <= high for one in told) and not all(
        low <= float(new) <= high for new in later
    ):
        return 0.94, "which no craft has as it was written before"
    return open_


def strange_now(name: str, codec: Codec, pairs: Sequence[Both]) -> bool:
    """Whether a number is now what no craft has, and was not so before."""
    sense, row = SENSES.get(name), setting(name)
    if sense is None or row.kind not in ("number", "count"):
        return False
    low, high = sense.wide[0] - 1e-9, sense.wide[1] + 1e-9
    later = [read(codec, row, one.after) for one in pairs]
    return all(low <= float(one.was) <= high for one in pairs) and any(
        value is not None and not low <= float(value) <= high for value in later
    )


def changed_now(name: str, codec: Codec, pairs: Sequence[Both], default: Any) -> bool:
    """Whether a number is another now, rounding and the default that is known apart."""
    row = setting(name)
    return row.kind == "number" and any(
        (value := read(codec, row, one.after)) is not None
        and not rounded(value, one, codec, codec) and not close(value, default)
        for one in pairs
    )  # fmt: skip


# ------------------------------------------------------------------ words


def reworded(
    name: str, codec: Codec, pairs: Sequence[Both], told: Mapping[str, str]
) -> Patch | None:
    """New words for values, where a later word means nothing in the dialect.

    ``told`` is what a person says of written words.  Of lists a new word is told where only one
    of theirs is new.  A word that by itself means a value which had no word yet is taken for that,
    and marked unconfirmed.
    """
    row = setting(name)
    known = {word: every[0] for word, every in codec.words.items()} or {
        word: word for word in row.words
    }
    fresh: dict[str, tuple[str, float, str]] = {}
    others: set[str] = set()
    for one in pairs:
        for was, text in _new_words(row, codec, one, known):
            means, weight, why = was, *_same_word(name, was, known.get(was, was), text)
            why = f"`{text}` stands where `{known.get(was, was)}` stood: {why}"
            other = best(name, text)[0] if weight < _UNLIKE and name in TABLES else ""
            if other and other not in known:
                means, weight = other, 0.75
                why += ", which had no word yet; marked unconfirmed"
                others.add(other)
            if text in told:
                means, weight, why = told[text], 1.0, f"`{text}` means {told[text]}, as you say"
                others.discard(means)
            if means not in row.words or (means in fresh and fresh[means][0] != text):
                return None
            fresh[means] = text, weight, why
    if not fresh or len({text for text, _, _ in fresh.values()}) < len(fresh):
        return None
    values = {word: text for word, (text, _, _) in fresh.items()}
    keys: dict[str, Any] = {"words": values if codec.words else known | values}
    if others:
        keys["unsure"] = sorted({*codec.unsure, *others})
    confidence = min(weight for _, weight, _ in fresh.values())
    return Patch(keys, round(confidence, 2), "; ".join(why for _, _, why in fresh.values()))


def _new_words(
    row: Setting, codec: Codec, one: Both, known: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """Neutral word and the new written word that stands where its own stood."""
    if row.kind == "word":
        if read(codec, row, one.after) is None:
            yield str(one.was), one.after
        return
    if row.kind != "words" or codec.bits or not isinstance(one.was, frozenset):
        return
    parts = [part.strip() for part in one.after.split(codec.divider.strip() or None)]
    back = {key(text): word for word, text in known.items()}
    none = {key(text) for text in codec.none}
    strange = [part for part in parts if key(part) not in back and key(part) not in none]
    left = one.was - {back[key(part)] for part in parts if key(part) in back}
    if len(strange) == len(left) == 1:
        yield next(iter(left)), strange[0]


def _same_word(name: str, was: str, old: str, new: str) -> tuple[float, str]:
    """How likely a new written word is the old one's successor."""
    if squeeze(old) == squeeze(new) and squeeze(new):
        return 0.95, "the same but for signs and letter case"
    meant, weight = best(name, new) if name in TABLES else ("", 0.0)
    if meant == was:
        return max(0.75, min(0.95, weight)), f"it means {was} by its words"
    if meant and weight >= 0.75:
        return _UNLIKE / 2, f"by its words it means {meant}"
    digits = re.findall(r"\d+", old), re.findall(r"\d+", new)
    if digits[0] and digits[0] == digits[1]:
        return 0.78, "with the same number"
    if SequenceMatcher(None, squeeze(old), squeeze(new)).ratio() > 0.7:
        return 0.72, "a word much like it"
    return 0.45, "what else it may mean cannot be told"


def yes_and_no(pairs: Sequence[tuple[Codec, Both]]) -> Patch | None:
    """New words for a flag's two values, from values that are neither of the old ones."""
    row = setting("receiver.inverted")
    strange = [one for codec, one in pairs if read(codec, row, one.after) is None]
    seen = {one.after: bool(one.was) for one in strange}
    if not strange or any(seen[one.after] != bool(one.was) for one in strange):
        return None
    for yes, no in YES_NO:
        for spell in (str, str.upper, str.capitalize):
            meant = {spell(yes): True, spell(no): False}
            if all(meant.get(text) == value for text, value in seen.items()):
                reason = f"`{strange[0].after}` stands where `{strange[0].before}` stood"
                keys = {"words": {"yes": spell(yes), "no": spell(no)}}
                return Patch(keys, 0.9 if len(seen) > 1 else 0.75, reason)
    return None
