"""What two written values of one setting tell: another scale, another word, or another value."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import Setting, setting, show_number
from cfglint.dialect.codec import Bad, Codec, decode, unquote
from cfglint.record import NamedTuple
from cfglint.teach.meanings import TABLES, YES_NO, best, squeeze
from cfglint.teach.numbers import SENSES, numbers
from cfglint.tomlwrite import value as toml

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.teach.numbers import Sense

#: Factors tried beside those that the setting's usual units are apart.
_TENS = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001)


#: Words less likely than this to follow one another mean something else.
_UNLIKE = 0.4
#: Percent of a pulse's usual way, 1000 to 2000 µs: scale and offset (common practice).
_OF_FULL = (10, 1000)


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


def close(one: Any, other: Any) -> bool:
    """Whether two neutral values are the same, as near as firmware stores them."""
    if isinstance(one, bool) or isinstance(other, bool):
        return bool(one == other)
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) <= 1e-6 * max(1.0, abs(one), abs(other))
    return bool(one == other)


def read(codec: Codec, row: Setting, written: str, *, flag: bool = False) -> Any:
    """The neutral value of a written one, None where it has none."""
    if flag:
        return {"on": True, "off": False}.get(written)
    try:
        return decode(codec, row, written)
    except Bad:
        return None


# ------------------------------------------------------------------ numbers


def rescaled(
    name: str, raw: Mapping[str, Any], codec: Codec, pairs: Sequence[Both]
) -> Patch | None:
    """Another way to write a number, by which the later values are what they were before.

    ``raw`` is the dialect's entry, ``codec`` how it reads.  None where every later value is what
    it was, or where no other way explains them.
    """
    row = setting(name)
    if row.kind not in ("number", "count") or codec.values or not pairs:
        return None
    told = [one for one in pairs if numbers([unquote(one.after)]) and one.was]
    if len(told) < len([one for one in pairs if one.was]) or not told:
        return None
    later = [read(codec, row, one.after) for one in told]
    if all(new is not None and close(new, one.was) for new, one in zip(later, told, strict=True)):
        return None
    found: list[tuple[float, dict[str, Any], bool]] = []
    for keys in _ways(name, raw, codec):
        changed = _with(codec, keys)
        again = [read(changed, row, one.after) for one in told]
        same = [n is not None and close(n, o.was) for n, o in zip(again, told, strict=True)]
        near = [
            n is not None and _rounded(n, o, codec, changed)
            for n, o in zip(again, told, strict=True)
        ]
        if all(same):
            found.append((1.0, keys, True))
        elif all(near):
            found.append((0.9, keys, False))
        elif len(told) >= 3 and sum(near) >= 0.7 * len(told):
            found.append((0.7 + 0.2 * sum(near) / len(told), keys, False))
    if not found:
        return None
    found.sort(key=lambda one: -one[0])
    share, keys, exact = found[0]
    doubt = _doubt(name, told, later)
    distinct = len({one.before for one in told})
    confidence = {"cannot": 0.96, "never": 0.94, "odd": 0.82, "": 0.5}[doubt]
    if distinct >= 2:
        confidence = max(confidence, 0.9)
    if not exact:
        confidence -= 0.12
    first = told[0]
    shown = show_number(float(first.was))
    unit = f" {row.unit}" if row.unit else ""
    says = {
        "cannot": "which it cannot be as it was written before",
        "never": "which no craft has as it was written before",
        "odd": "which is odd as it was written before",
        "": "though it may be another value, set by hand",
    }[doubt]
    reason = (
        f"written {first.after} instead of {first.before}, {says}; with {_told(keys)} it is "
        f"{shown}{unit} {'again' if exact else 'again, but for rounding'}"
    )
    if distinct >= 2:
        reason += f"; so with {distinct} different values"
    rival = _told(found[1][1]) if len(found) > 1 and found[1][0] >= share else ""
    if rival:
        confidence = min(confidence, 0.6)
    return Patch(keys, round(confidence * min(1.0, share + 0.1), 2), reason, rival)


def _told(keys: Mapping[str, Any]) -> str:
    return ", ".join(f"{key} = {toml(item)}" for key, item in keys.items())


def _ways(name: str, raw: Mapping[str, Any], codec: Codec) -> Iterator[dict[str, Any]]:
    """Keys of other ways to write a setting's numbers."""
    key = "step" if "step" in raw else "scale"
    sense: Sense | None = SENSES.get(name)
    factors = [factor for _, factor in sense.scales] if sense is not None else []
    if codec.over:
        factors += [1.0]
    else:
        factors += [float(codec.scale) * ten for ten in _TENS]
    seen: set[float] = set()
    for factor in factors:
        neat = float(f"{factor:.9g}")
        if neat in seen or (neat == float(codec.scale) and not codec.over and not codec.offset):
            continue
        seen.add(neat)
        keys: dict[str, Any] = {key: int(neat) if neat == int(neat) else neat}
        if codec.over:
            yield {"over": 0, **keys}
            continue
        if codec.offset:
            yield {**keys, "offset": 0}
        if neat != float(codec.scale):
            yield keys
    if setting(name).unit == "µs" and (codec.scale, codec.offset) != _OF_FULL:
        yield {key: int(_OF_FULL[0]), "offset": int(_OF_FULL[1])}
    if sense is not None and sense.over and sense.over != codec.over:
        yield {"over": int(sense.over)}


def _with(codec: Codec, keys: Mapping[str, Any]) -> Codec:
    return codec._replace(
        scale=keys.get("step", keys.get("scale", codec.scale)),
        offset=keys.get("offset", codec.offset),
        over=keys.get("over", codec.over),
    )


def _grid(codec: Codec, written: str) -> float:
    """The step in which a value written so can be told apart."""
    _, _, digits = unquote(written).partition(".")
    return 0.0 if codec.over else abs(float(codec.scale)) * 10.0 ** -len(digits)


def _rounded(new: float, one: Both, old: Codec, changed: Codec) -> bool:
    """Whether a value is what it was, but for rounding to the coarser of two steps."""
    step = max(_grid(old, one.before), _grid(changed, one.after))
    # Half a step of a coarse unit must not make any two values alike.
    step = min(step, 0.05 * abs(float(one.was)))
    return abs(new - float(one.was)) <= 0.5 * step + 1e-9


def _doubt(name: str, told: Sequence[Both], later: Sequence[Any]) -> str:
    """How odd the later values are in the earlier scale: ``cannot``, ``never``, ``odd``, ``""``."""
    if any(new is None for new in later):
        return "cannot"
    sense = SENSES.get(name)
    if sense is None:
        ratios = [abs(float(new)) / abs(float(o.was)) for new, o in zip(later, told, strict=True)]
        return "odd" if all(ratio >= 90 or ratio <= 1 / 90 for ratio in ratios) else ""

    def inside(value: float, bounds: tuple[float, float]) -> bool:
        return bounds[0] - 1e-9 <= value <= bounds[1] + 1e-9

    if not all(inside(float(o.was), sense.wide) for o in told):
        return ""
    if any(not inside(float(new), sense.wide) for new in later):
        return "never"
    leaps = [float(new) / float(o.was) for new, o in zip(later, told, strict=True) if o.was]
    return "odd" if any(not 0.2 < leap < 5 for leap in leaps) else ""


# ------------------------------------------------------------------ words


def reworded(name: str, codec: Codec, pairs: Sequence[Both]) -> Patch | None:
    """New words for values, where a later word means nothing in the dialect.

    Of lists a new word is told where only one of theirs is new.  A word that by itself means a
    value which had no word yet is taken for that, and marked unconfirmed.
    """
    row = setting(name)
    known = dict(codec.values) or {word: word for word in row.words}
    fresh: dict[str, tuple[str, float, str]] = {}
    others: set[str] = set()
    for one in pairs:
        for was, text in _new_words(row, codec, one, known):
            weight, why = _same_word(name, was, known.get(was, was), text)
            why = f"`{text}` stands where `{known.get(was, was)}` stood: {why}"
            means = was
            other = best(name, text)[0] if weight < _UNLIKE and name in TABLES else ""
            if other and other not in known:
                means, weight = other, 0.75
                why += ", which had no word yet; marked unconfirmed"
                others.add(other)
            if means in fresh and fresh[means][0] != text:
                return None
            fresh[means] = text, weight, why
    if not fresh or len({text for text, _, _ in fresh.values()}) < len(fresh):
        return None
    confidence = min(weight for _, weight, _ in fresh.values())
    values = {word: text for word, (text, _, _) in fresh.items()}
    keys: dict[str, Any] = {"values": values if codec.values else known | values}
    if others:
        keys["unsure"] = sorted({*codec.unsure, *others})
    reason = "; ".join(why for _, _, why in fresh.values())
    return Patch(keys, round(confidence, 2), reason)


def _new_words(
    row: Setting, codec: Codec, one: Both, known: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """Neutral word and the new written word that stands where its own stood."""
    if row.kind == "word":
        if read(codec, row, one.after) is None:
            yield str(one.was), unquote(one.after)
        return
    if row.kind != "words" or codec.mask or not isinstance(one.was, frozenset):
        return
    divider = codec.divider.strip() or None
    parts = [part.strip() for part in unquote(one.after).split(divider)]
    fold = str.lower if codec.ignore_case else str
    back = {fold(text): word for word, text in known.items()}
    strange = [part for part in parts if fold(part) not in back and part != codec.none]
    left = one.was - {back[fold(part)] for part in parts if fold(part) in back}
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


def yes_and_no(codec: Codec, pairs: Sequence[Both]) -> Patch | None:
    """New words for a flag's two values, from values that are neither of the old ones."""
    row = setting("receiver.inverted")
    strange = [one for one in pairs if read(codec, row, one.after) is None]
    if not strange:
        return None
    seen = {one.after: bool(one.was) for one in strange}
    if any(seen[one.after] != bool(one.was) for one in strange):
        return None
    for yes, no in YES_NO:
        for spell in (str, str.upper, str.capitalize):
            pair = {spell(yes): True, spell(no): False}
            if all(pair.get(text) == meant for text, meant in seen.items()):
                text = next(iter(seen))
                reason = f"`{text}` stands where `{strange[0].before}` stood"
                keys = {"yes": spell(yes), "no": spell(no)}
                return Patch(keys, 0.9 if len(seen) > 1 else 0.75, reason)
    return None
