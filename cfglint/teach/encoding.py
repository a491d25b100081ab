"""How values are written, from written texts and what they truly mean."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import Setting, setting
from cfglint.dialect.mapping import codec_of
from cfglint.dialect.values import Bad, decode, numeral, split_list
from cfglint.teach.numbers import SENSES
from cfglint.teach.readings import loss_meaning
from cfglint.teach.readings import number as measured
from cfglint.teach.sense import best, is_nothing
from cfglint.teach.sheet import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

#: What a person writes of a flag.
FLAGS = {"yes": True, "no": False, "true": True, "false": False, "on": True, "off": False}
#: What divides a list, the surest first.
_DIVIDERS = ("+", ",", "&", "/", "|", ";", " and ", " und ", " et ", " y ", " en ", " ")


def meant(name: str, said: str) -> Any:
    """What an answer says a setting is, as the craft holds it; None where it cannot be that."""
    row = setting(name)
    said = said.strip()
    if row.kind == "flag":
        return FLAGS.get(said.lower())
    if row.kind == "words":
        words = [word for word in re.split(r"[ ,+]+", said.lower()) if word]
        return frozenset(words) if set(words) <= set(row.words) else None
    if row.kind == "word":
        return said.lower() if said.lower() in row.words else None
    if row.kind == "text":
        return said
    try:
        value = float(said)
    except ValueError:
        return None
    assert row.least is not None
    assert row.most is not None
    if not row.least <= value <= row.most:
        return None
    return int(value) if row.kind == "count" and value == int(value) else value


def same(got: Any, true: Any) -> bool:
    """Whether a value that was read is the one that is meant; numbers within their rounding."""
    if isinstance(got, bool) or isinstance(true, bool):
        return got is true
    if isinstance(got, int | float) and isinstance(true, int | float):
        return abs(got - true) <= max(1e-6, abs(true) * 2e-3)
    try:
        return abs(float(got) - float(true)) < 0.51
    except (TypeError, ValueError):
        return bool(got == true or str(got).lower() == str(true).lower())


def reads(
    keys: Mapping[str, Any], marks: Mapping[str, Any], name: str, text: str, true: Any
) -> bool:
    """Whether an entry's keys read a text as its true value."""
    row = setting(name)
    try:
        return same(decode(codec_of(keys, marks, row), row, text), true)
    except Bad:
        return False


def codecs(
    name: str,
    pairs: Sequence[tuple[str, Any]],
    words: Mapping[str, str],
    marks: Mapping[str, Any],
) -> list[dict[str, Any]]:
    """Keys of an entry that read every text as what it truly is, the plainest first.

    ``words`` are further written words of the setting and what they mean.
    """
    row = setting(name)
    found = []
    for keys in _tries(row, pairs, words, marks):
        if keys not in found and all(reads(keys, marks, name, *pair) for pair in pairs):
            found.append(keys)
    return found


def fitted(
    name: str, keys: Mapping[str, Any], written: Sequence[str], said: str, comma: bool
) -> dict[str, Any] | None:
    """An entry's keys so that the first written text is what was said; None if that cannot be.

    It cannot be where the trade's words or a unit say something else, nor where another text would
    then be a value that the setting never has.
    """
    row, first = setting(name), written[0]
    true = meant(name, said.removesuffix("!"))
    if true is None:
        return None
    old = {key: value for key, value in keys.items() if key not in ("sure", "unsure")}
    if row.kind == "flag" and "bit" in old:
        return old
    if row.kind == "text":
        return old if first.strip("\"'«»") == said else None
    if row.kind == "word" and not said.endswith("!"):
        meaning, weight = best(name, first)
        if weight >= 0.9 and meaning != true:
            return None
    marks = {"decimal": ","} if comma else {}
    based = {key: old.pop(key) for key in ("base",) if key in old}
    one = measured(first, comma) if row.kind in ("number", "count") and not based else None
    if one is not None and one.unit:
        return None
    for key in ("scale", "over", "offset", "first"):
        old.pop(key, None)
    for made in codecs(name, [(one.text if one else first, true)], {}, {**marks, **based}):
        if "words" in made and row.kind in ("number", "count") and one is not None:
            continue  # a number is no word for another
        new = {**old, **based, **made}
        if "words" in made and "words" in old:
            new["words"] = _told(old["words"], made["words"], first)
        if all(_plausible(row, new, marks, text) for text in written[1:]):
            return new
    return None


def _told(words: Mapping[str, Any], made: Mapping[str, Any], text: str) -> dict[str, Any]:
    """Words of an entry with what was told of one text, which is then no other's."""
    (word,) = (one for one, every in made.items() if every == text)
    other = next((one for one, every in words.items() if every == text and one != word), "")
    out = {one: every for one, every in words.items() if one not in (word, other)}
    if other and word in words and set(made) <= {"yes", "no"}:
        out[other] = words[word]  # both sides of a flag were taken for each other
    return {**{one: every for one, every in made.items() if one not in out}, **out, word: text}


def _plausible(row: Setting, keys: Mapping[str, Any], marks: Mapping[str, Any], text: str) -> bool:
    """Whether a text, where it is a number, is read as one that the setting may have."""
    if row.kind not in ("number", "count"):
        return True
    one = measured(text, "decimal" in marks)
    try:
        value = decode(codec_of(keys, marks, row), row, one.text if one else text)
    except Bad:
        return True
    return sensible(row.name, value)


def _tries(
    row: Setting,
    pairs: Sequence[tuple[str, Any]],
    words: Mapping[str, str],
    marks: Mapping[str, Any],
) -> Iterator[dict[str, Any]]:
    if row.kind == "words":
        yield from _lists(pairs, words)
    elif row.kind == "flag":
        yield from _flags(pairs, words)
    elif row.kind == "word" or row.texts:
        yield from _worded(row, pairs, words)
        if row.texts:
            yield from _numbers(row, pairs, words, marks)
    elif row.kind == "text":
        yield {}
        yield from _sticks(pairs)
    else:
        yield from _numbers(row, pairs, words, marks)


def _table(pairs: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """Neutral words with all that is written for each."""
    table: dict[str, list[str]] = {}
    for written, word in pairs:
        if written not in table.setdefault(word, []):
            table[word].append(written)
    return {word: every[0] if len(every) == 1 else every for word, every in table.items()}


def _worded(
    row: Setting, pairs: Sequence[tuple[str, Any]], words: Mapping[str, str]
) -> Iterator[dict[str, Any]]:
    said = [(text, str(true)) for text, true in pairs if not row.texts or str(true) in row.texts]
    more = [(text, word) for text, word in words.items() if word in (row.words or row.texts)]
    none = [text for text, word in words.items() if word == "-"]
    table = _table([*said, *more])
    keys: dict[str, Any] = {"words": table} if table else {}
    if none:
        keys["none"] = none
    yield keys


def _flags(pairs: Sequence[tuple[str, Any]], words: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    said = [(text, "yes" if true else "no") for text, true in pairs]
    more = [(text, "yes" if FLAGS[word] else "no") for text, word in words.items() if word in FLAGS]
    sides = {side for _, side in said}
    if all(re.fullmatch(r"(?i)(?:0x|\$)?[0-9a-f]+h?", text) for text, _ in pairs) and any(
        text.lower() not in ("0", "1", "f", "y", "n", "t") for text, _ in pairs
    ):
        # Which bit it is, the values of many lines say; of one it would be a guess.
        bits = [
            bit
            for bit in range(16)
            if all((_int(text) >> bit & 1) == bool(true) for text, true in pairs)
        ]
        if len(bits) == 1:
            yield {"bit": bits[0], **_based(pairs)}
        elif len(bits) > 1 and len(sides) == 2:
            yield {"bit": bits[0], "sure": False, **_based(pairs)}
        if any(len(text) > 1 for text, _ in pairs):
            # Several flags may be bits of one number: what else it can be is not known.
            yield {"words": _table([*said, *more]), "sure": False}
            return
    for text, side in said:
        other = _other(text)
        if other and not {other.lower()} & {one.lower() for one, _ in (*said, *more)}:
            more.append((other, "no" if side == "yes" else "yes"))
            break
    yield {"words": _table([*said, *more])}


#: Words that are each other's contrary wherever a flag is written.
_PAIRED = "yes no|on off|true false|t f|y n|1 0|+ -|enabled disabled|enable disable|active inactive|ja nein|ja nee|ano ne|tak nie|sim não|da nu|kyllä ei|igen nem|oui non|sí no|si no|set clear|✓ ✗|[x] [ ]|high low|x ."  # noqa: E501


def _other(text: str) -> str:
    """The contrary of a flag's word, in the same letter case."""
    for pair in _PAIRED.split("|"):
        one, other = pair.split(" ", 1)
        if text.lower() in (one, other):
            found = other if text.lower() == one else one
            return found.upper() if text.isupper() else found
    return ""


def _int(text: str) -> int:
    bare = text.lower().removeprefix("$").removeprefix("0x").removesuffix("h")
    return int(bare, 16 if bare != text.lower() or re.search("[a-f]", bare) else 10)


def _based(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    hexed = any(re.search(r"[A-Fa-fhH]", text.replace("0x", "")) for text, _ in pairs)
    return {"base": 16} if hexed else {}


def _lists(pairs: Sequence[tuple[str, Any]], words: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    """Sets: what divides them, and what each part means, by which it stands beside."""
    none = [text for text, true in pairs if not true and text.strip()]
    none += [text for text, word in words.items() if word == "-" and text not in none]
    filled = [(text, true) for text, true in pairs if true]
    for divider in _DIVIDERS:
        table = _parted(filled, words, divider)
        if table is None:
            continue
        keys: dict[str, Any] = {"words": _table(table)}
        if none:
            keys["none"] = none if len(none) > 1 else none[0]
        if divider != ",":
            keys["list"] = divider
        yield keys
    whole = [(text, next(iter(true))) for text, true in filled if len(true) == 1]
    if whole and len(whole) < len(filled):
        yield {"words": _table(whole), **({"none": none} if none else {})}
    if all(re.fullmatch(r"(?i)(?:0x|\$)?[0-9a-f]+h?", text) for text, _ in pairs):
        bits = _bits(pairs)
        if bits:
            yield {"bits": bits, **_based(pairs)}


def _bits(pairs: Sequence[tuple[str, Any]]) -> dict[str, int]:
    """Which bit of a number each member of a set is, where the numbers leave but one."""
    found: dict[str, int] = {}
    left = {word for _, true in pairs for word in true}
    taken: set[int] = set()
    for _ in range(len(left)):
        for word in sorted(left):
            bits = [
                bit
                for bit in range(16)
                if bit not in taken
                and all((_int(text) >> bit & 1) == (word in true) for text, true in pairs)
            ]
            if len(bits) == 1:
                found[word] = bits[0]
                taken.add(bits[0])
                left.discard(word)
                break
    return found if not left else {}


def _parted(
    pairs: Sequence[tuple[str, Any]], words: Mapping[str, str], divider: str
) -> list[tuple[str, str]] | None:
    """What each part of lists means, so divided; None where parts and members do not agree."""
    table: dict[str, str] = {text: word for text, word in words.items() if word != "-"}
    rows = []
    for text, true in pairs:
        parts = [part.strip() for part in split_list(text, divider) if part.strip()]
        if len(true) > 1 and len(parts) != len(true):
            return None
        rows.append((parts if len(true) > 1 else [text.strip()], set(true)))
    for _ in range(4):
        for parts, true in rows:
            left = [part for part in parts if part not in table]
            open_ = true - {table[part] for part in parts if part in table}
            for part in list(left):
                likely = {word for word in open_ if best("port.N.functions", part)[0] == word}
                if len(open_) == 1 == len(left):
                    likely = set(open_)
                if len(likely) == 1:
                    word = likely.pop()
                    table[part] = word
                    open_.discard(word)
                    left.remove(part)
    for parts, true in rows:
        left = [part for part in parts if part not in table]
        others = sorted(true - {table[part] for part in parts if part in table})
        # Nothing tells which is which: they stand in the order of the alphabet.
        table.update(zip(left, others, strict=False))
    return list(table.items())


def _sticks(pairs: Sequence[tuple[str, Any]]) -> Iterator[dict[str, Any]]:
    """The sticks by words of the firmware's own."""
    own: dict[str, str] = {}
    for text, true in pairs:
        parts = re.findall(r"[^\W\d_]+", text)
        parts = list(parts[0]) if len(parts) == 1 else parts
        if len(parts) != len(str(true)):
            return
        own.update(zip(str(true), parts, strict=True))
    yield {"words": own}


def _numbers(
    row: Setting,
    pairs: Sequence[tuple[str, Any]],
    words: Mapping[str, str],
    marks: Mapping[str, Any],
) -> Iterator[dict[str, Any]]:
    """Scales of numbers, and words or codes that stand for some."""
    coded = [(text, _figure(true)) for text, true in pairs if not row.texts]
    worded = [(text, word) for text, word in words.items() if _is_number(word)]
    hexed = [bool(_HEX.fullmatch(text.strip())) for text, _ in pairs]
    surely = any(re.search(r"(?i)[a-fhx$]", text) for text, _ in pairs) and all(hexed)
    for base in (16,) if surely else (10, 16) if all(hexed) else (10,):
        codec = codec_of({"base": base}, marks, row)
        measured, table = [], list(worded)
        for text, true in pairs:
            found = numeral(text, codec)
            if found is not None and (not isinstance(true, str) or _is_number(true)):
                measured.append((found[0], float(true)))
            elif not row.texts and not text[:1].isdigit():
                table.append((text, _figure(true)))
        more: dict[str, Any] = {"base": 16} if base == 16 and marks.get("base") != 16 else {}
        also = _worded_of(row, pairs, words, table)
        for keys in _scales(row, measured):
            yield {**more, **keys, **also}
    if all(re.fullmatch(r"[^\W\d].*|\d+|[^\w\s]+", text) for text, _ in pairs) and coded:
        yield {"words": _table([*coded, *worded])}


#: What may be a hexadecimal number: marked as one, or padded with zeros.
_HEX = re.compile(r"(?i)(?:0x|\$)[0-9a-f]+|[0-9a-f]+h|0[0-9a-f]{2,}|[0-9]+[a-f][0-9a-f]*")


def _figure(value: Any) -> str:
    """A number as a neutral word of a table."""
    return str(plain(value)) if isinstance(value, int | float) else str(value)


def _worded_of(
    row: Setting,
    pairs: Sequence[tuple[str, Any]],
    words: Mapping[str, str],
    worded: Sequence[tuple[str, str]],
) -> dict[str, Any]:
    if row.texts:
        return next(_worded(row, pairs, words), {})
    return {"words": _table(worded)} if worded else {}


def _is_number(text: str) -> bool:
    return bool(re.fullmatch(r"-?\d+(\.\d+)?", text.strip()))


def _scales(row: Setting, measured: Sequence[tuple[float, float]]) -> Iterator[dict[str, Any]]:
    """Scale, offset or reciprocal that make the written numbers the true ones."""
    yield {}
    if not measured:
        return
    pairs = sorted(set(measured))
    if row.kind == "count" and all(true - one == pairs[0][1] - pairs[0][0] for one, true in pairs):
        yield {"first": int(1 + pairs[0][0] - pairs[0][1])}
    first, true = pairs[-1]
    if first and true:
        scale, over = true / first, true * first
        power = 10 ** round(math.log10(over)) if over > 0 else 0
        if decimal(scale):
            yield {"scale": plain(scale)}
        if row.unit == "Hz" and abs(over - power) <= 0.01 * power:
            yield {"over": power}
        if neat(scale) or len(pairs) > 1:
            yield {"scale": plain(scale)}
        if row.unit == "Hz" and len(pairs) > 1:
            yield {"over": round(over)}
    for (one, other), (more, another) in pairwise(pairs):
        if more == one:
            return
        slope = (another - other) / (more - one)
        offset = other - slope * one
        if slope and abs(offset - round(offset, 3)) < 1e-6 and len(pairs) > 2:
            keys: dict[str, Any] = {"offset": plain(offset)}
            yield {"scale": plain(slope), **keys} if slope != 1 else keys
    if row.unit == "µs" and first and abs(first) < 900 and (true - first) % 50 == 0:
        yield {"offset": plain(true - first)}


def plain(value: float) -> float:
    """A number as a person writes it."""
    value = float(f"{value:.9g}")
    return int(value) if value == int(value) else value


def decimal(scale: float) -> bool:
    """Whether a scale only moves the decimal point."""
    return any(abs(scale - 10.0**power) < 1e-6 * scale for power in range(-6, 7))


#: Steps in which numbers are usually written.
_STEPS = (2, 4, 5, 8, 20, 25, 40, 50, 125, 200, 250, 500)


def neat(scale: float) -> bool:
    """Whether numbers are usually written in such steps."""
    return any(abs(scale - one) < 1e-6 or abs(1 / scale - one) < 1e-6 for one in _STEPS)


def sensible(name: str, value: Any) -> bool:
    """Whether a number is one that the setting has in practice, give or take."""
    sense = SENSES.get(name)
    if sense is None or isinstance(value, bool) or not isinstance(value, int | float):
        return True
    low, high = sense.wide
    return bool(value == 0 or low * 0.5 <= value <= high * 1.5)


def known_words(name: str, texts: Sequence[str]) -> dict[str, tuple[str, float]]:
    """What written words of other samples mean, as far as the trade's words tell."""
    found: dict[str, tuple[str, float]] = {}
    if name not in TABLES:
        return found
    for text in texts:
        if setting(name).kind == "words" and is_nothing(text):
            found[text] = ("-", 1.0)
            continue
        if setting(name).kind == "words" and re.search(r"\w\s*[,+&/|;]\s*\w", text):
            continue  # several, of which one may be known
        loss = name == "failsafe.channel.N"
        word, weight = loss_meaning(text) if loss else best(name, text)
        if word and weight >= 0.5:
            found[text] = (word, weight)
    return found
