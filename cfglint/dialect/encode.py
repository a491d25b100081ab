"""One value from the craft's words to the dump's: what :mod:`cfglint.dialect.values` undoes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import show_number
from cfglint.dialect.values import (
    PERIODS,
    SIGNS,
    UNITS,
    Bad,
    Codec,
    decode,
    key,
    numeral,
    quote,
    unquote,
)

if TYPE_CHECKING:
    from cfglint.craft.settings import Setting

#: A number as it stands: sign, digits, what follows them.
_SPELLED = re.compile(
    rf"(?P<sign>[{SIGNS}]?)(?P<digits>[0-9]*)"
    r"(?P<point>[.,])?(?P<rest>(?<=[.,])[0-9]+)?(?P<unit>[ \t]*(?:[^\W\d_]|[%‰/µ]).*)?"
)
_HEX = re.compile(r"(0[xX]|[$#]|)([0-9A-Fa-f]+)([hH]?)")
_HEX_SIGN = re.compile(r"0[xX]|\$")


def close(one: Any, other: Any) -> bool:
    """Whether two values are the same, as near as firmware stores them."""
    if isinstance(one, float) and isinstance(other, int | float):
        return abs(one - other) <= 1e-6 * max(1.0, abs(one), abs(other))
    return bool(one == other)


def encode(codec: Codec, row: Setting, value: Any) -> str:
    """The written form of a neutral value.  Raises Bad where the dialect has none for it."""
    kind = row.kind
    if kind == "flag":
        if codec.bit is not None:
            raise Bad("it is one bit of a number that says more, so only a dump's line can say it")
        word = "yes" if value else "no"
        if word not in codec.words:
            raise Bad(f"no word for {word}")
        return codec.words[word][0]
    if kind == "word":
        return _word(codec, value)
    if kind == "words":
        return _list(codec, row, value)
    if kind == "text":
        return _text(codec, row, value)
    coded = codec.words.get(show_number(value))
    if coded is not None:
        return coded[0]
    if codec.words and codec.scale == 1 and not codec.offset and not codec.over:
        raise Bad(f"no code for {show_number(value)}")
    return _number(codec, row, value)


def _word(codec: Codec, word: str) -> str:
    if not codec.words:
        return word
    if word not in codec.words:
        raise Bad(f"no word for {word}")
    return codec.words[word][0]


def _list(codec: Codec, row: Setting, value: frozenset[str]) -> str:
    if codec.places:
        raise Bad("it is marks at places, so only a dump's line can say it")
    if codec.bits:
        lacking = sorted(set(value) - set(codec.bits))
        if lacking:
            raise Bad(f"no bit for {', '.join(lacking)}")
        total = sum(1 << codec.bits[word] for word in value)
        return f"{total:X}" if codec.base == 16 else str(total)
    if not value:
        if not codec.none:
            raise Bad("no word for nothing")
        return codec.none[0]
    # A divider that is a word stands between blanks.
    plain = codec.divider.strip()
    between = f" {plain} " if plain.isalnum() else codec.divider
    return between.join(_word(codec, word) for word in row.words if word in value)


def _text(codec: Codec, row: Setting, value: str) -> str:
    if row.name == "receiver.channel_order" and codec.words:
        return "".join(codec.words.get(letter, (letter,))[0] for letter in value[:4]) + value[4:]
    if value in codec.words:
        return codec.words[value][0]
    found = numeral(value, Codec()) if row.texts or codec.scale != 1 or codec.offset else None
    if found is not None and (codec.scale != 1 or codec.offset or codec.base != 10):
        return _number(codec, row._replace(kind="number", least=0, most=1e9), found[0])
    plain = value and value[0] not in "\"'" and not re.search(r"[ \t,;|#]", value)
    return value if plain and not codec.quoted else quote(value)


def _raw(codec: Codec, row: Setting, value: float, unit: str, *, attached: bool) -> float:
    """The written number of a neutral one, in a unit that stands beside it or that is usual."""
    over, scale = codec.over, codec.scale
    if unit and not (attached and (scale != 1 or over)):
        known = UNITS.get(row.unit, {})
        if row.unit == "Hz" and unit.lower() in PERIODS:
            over = PERIODS[unit.lower()] * (over or 1)
        elif unit.lower() in known:
            scale *= known[unit.lower()]
    if over:
        if value == 0:
            raise Bad("no number for 0")
        return over / value * (scale / codec.scale)
    raw = (value - codec.offset) / scale
    return raw if codec.first is None else raw - 1 + codec.first


def _number(codec: Codec, row: Setting, value: float) -> str:
    """The shortest text that is read back as this value."""
    raw = _raw(codec, row, float(value), codec.unit, attached=False)
    if row.kind == "count" and raw < 0:
        raise Bad(f"no number for {show_number(value)}: counting starts after it")
    places = range(10) if codec.decimals is None else (codec.decimals,)
    if codec.base == 16:
        places = range(1)
    for digits in places:
        rounded = round(raw, digits)
        text = f"{int(rounded):X}" if codec.base == 16 else show_number(rounded)
        text = text.replace(".", ",") if codec.comma else text
        if _means(codec, row, text, value):
            return text
    # Writing the nearest one would silently set something else.
    raise Bad(f"no exact number for {show_number(value)}")


def _means(codec: Codec, row: Setting, text: str, value: Any) -> bool:
    """Whether a text is read back as a value: to nine digits, which is what reading keeps."""
    try:
        read = decode(codec, row, text)
    except Bad:
        return False
    if isinstance(read, int | float) and isinstance(value, int | float):
        return abs(read - value) <= 1e-9 * max(1.0, abs(value))
    return bool(read == value)


def raw_of(codec: Codec, row: Setting, value: float) -> float:
    """The number to write for a value, not rounded to one that can be written."""
    return _raw(codec, row, value, codec.unit, attached=False)


# ---------------------------------------------------------------- as it was spelled


def respell(old: str, codec: Codec, row: Setting, value: Any) -> str:
    """A value written as another one was: its quotes, hexadecimal width, decimal mark, unit.

    Raises Bad where the dialect has no text for it.
    """
    if codec.bit is not None:
        found = numeral(old, codec)
        if found is None:
            raise Bad("a number")
        bits = int(found[0]) & ~(1 << codec.bit) | (int(value) << codec.bit)
        return _like(old, codec, float(bits))
    if codec.bits:
        lacking = sorted(set(value) - set(codec.bits))
        if lacking:
            raise Bad(f"no bit for {', '.join(lacking)}")
        return _like(old, codec, float(sum(1 << codec.bits[word] for word in value)))
    if isinstance(value, int | float) and not isinstance(value, bool):
        text = _number_like(old, codec, row, value)
        if text and _means(codec, row, text, value):
            return text
    if row.name == "receiver.channel_order":
        text = _order_like(old, codec, row, value)
    else:
        text = _alias(old, codec, row, value) or encode(codec, row, value)
    inner = unquote(old)
    if old[:1] in ("'", '"') and len(old) > 1 and old[-1] == old[0] and text[:1] != old[0]:
        text = quote(text) if old[0] == '"' and inner != old else f"{old[0]}{text}{old[0]}"
    gap = re.search(f"{re.escape(codec.divider.strip() or ',')}([ \\t]+)", old)
    if row.kind == "words" and gap is not None and codec.divider.strip():
        text = text.replace(codec.divider, codec.divider.strip() + gap[1])
    if not _means(codec, row, text, value):
        raise Bad(f"no text for it that is read back as {value}")
    return text


def _order_like(old: str, codec: Codec, row: Setting, value: str) -> str:
    """The order of the sticks in the words, and with the joints, of another."""
    parts = list(re.finditer(r"[^\W\d_]+", old))
    letters = decode(codec, row, old)
    if not len(parts) == len(value) == len(letters):
        return encode(codec, row, value)
    named = dict(zip(letters, (part[0] for part in parts), strict=True))
    text = old
    for part, letter in reversed(list(zip(parts, value, strict=True))):
        text = text[: part.start()] + named.get(letter, letter) + text[part.end() :]
    return text


def _alias(old: str, codec: Codec, row: Setting, value: Any) -> str:
    """Of several words for one thing the one in the same place as the old word's."""
    name = ("yes" if value else "no") if row.kind == "flag" else value
    if not isinstance(name, str):
        return ""
    words = codec.words.get(name, ())
    for others in codec.words.values():
        for place, word in enumerate(others):
            if key(word) == key(unquote(old)) and place < len(words):
                chosen = words[place]
                if old.isupper() and not chosen.isupper() and word.upper() == old != word:
                    return chosen.upper()
                return chosen
    return ""


def _like(old: str, codec: Codec, number: float) -> str:
    """A whole number in the digits of another: hexadecimal with its prefix and width."""
    old = old.strip()
    match = _HEX.fullmatch(old) if codec.base == 16 or _HEX_SIGN.match(old) else None
    if match is not None:
        text = f"{int(number):x}".rjust(len(match[2]), "0")
        upper = match[2] == match[2].upper()
        return match[1] + (text.upper() if upper else text) + match[3]
    spelled = _SPELLED.fullmatch(old)
    unit = (spelled["unit"] or "") if spelled is not None else ""
    return (f"{int(number):X}" if codec.base == 16 else show_number(number)) + unit


def _number_like(old: str, codec: Codec, row: Setting, value: float) -> str:
    if show_number(value) in codec.words:
        return ""
    if codec.base == 16 or _HEX_SIGN.match(old.strip()):
        raw = _raw(codec, row, float(value), codec.unit, attached=False)
        return _like(old, codec, round(raw)) if abs(raw - round(raw)) < 1e-6 else ""
    match = _SPELLED.fullmatch(old.strip())
    if match is None or not (match["digits"] or match["rest"]):
        return ""
    unit = (match["unit"] or "").strip()
    raw = _raw(codec, row, float(value), unit or codec.unit, attached=bool(unit))
    # As short as says the same: values are kept to nine digits.
    close_to = 1e-8 * max(1.0, abs(raw))
    digits = next((n for n in range(9) if abs(round(raw, n) - raw) <= close_to), 9)
    text = show_number(round(raw, digits))
    places = len(match["rest"] or "")
    whole, _, part = text.partition(".")
    if places:
        part = part.ljust(places, "0")
    if len(match["digits"]) > 1 and match["digits"][0] == "0" and not places:
        whole = whole.rjust(len(match["digits"]), "0")
    sign = match["sign"] if match["sign"] == "+" and not whole.startswith("-") else ""
    point = match["point"] or ("," if codec.comma else ".")
    return sign + whole + (point + part if part else "") + (match["unit"] or "")
