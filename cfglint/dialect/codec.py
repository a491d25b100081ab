"""One value, from the dialect's words to the craft's and back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import Setting, show_number
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping


class Bad(Exception):  # noqa: N818  (a value is bad; whoever catches it makes it a Misread)
    """A written value means nothing here: ``valid`` says what would, ``nearest`` the likeliest."""

    def __init__(self, valid: str, nearest: str = "") -> None:
        super().__init__(valid)
        self.valid = valid
        self.nearest = nearest


class Codec(NamedTuple):
    """How one field's values are written.

    ``values`` maps neutral words (or numbers, as text) to written ones.  Numbers otherwise are
    ``neutral = offset + scale × written``, or ``over ÷ written``, or, where counting starts
    elsewhere, ``written − base + first``.  Sets are a ``mask`` (word → bit number) or a list
    divided by ``divider``; ``none`` is how an empty one is written.  ``sure`` is False where the
    dialect file marks the whole mapping unconfirmed; ``unsure`` are neutral words whose written
    word is.
    """

    values: Mapping[str, str] = {}
    back: Mapping[str, str] = {}
    scale: float = 1
    offset: float = 0
    over: float = 0
    base: int = 1
    first: int = 1
    mask: Mapping[str, int] = {}
    divider: str = ","
    none: str = ""
    yes: tuple[str, ...] = ("yes",)
    no: tuple[str, ...] = ("no",)
    quoted: bool = False
    decimals: int | None = None
    ignore_case: bool = False
    sure: bool = True
    unsure: frozenset[str] = frozenset()

    def trusts(self, value: Any) -> bool:
        """Whether the mapping is confirmed for a neutral value that was read or is written."""
        if not self.unsure or not self.sure:
            return self.sure
        if isinstance(value, frozenset):
            return self.unsure.isdisjoint(value)
        plain = isinstance(value, bool) or not isinstance(value, int | float)
        return (str(value) if plain else show_number(value)) not in self.unsure


def unquote(written: str) -> str:
    """A quoted text without its quotes and escapes; any other text as it is."""
    if len(written) >= 2 and written[0] == written[-1] == '"':
        return written[1:-1].replace('\\"', '"').replace("\\\\", "\\")
    return written


def quote(text: str) -> str:
    """A text in quotes."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _nearest(word: str, words: Mapping[str, Any] | tuple[str, ...]) -> str:
    from cfglint.near import nearest

    return nearest(word, tuple(words))


def _number(codec: Codec, written: str) -> float:
    # float() takes blanks, underscores and words such as nan, which no dump means; and no
    # number of a dump has so many digits that a float or an int could not hold it.
    plain = written[1:] if written[:1] in ("+", "-") else written
    if len(plain) > 40 or not plain.isascii() or not plain.replace(".", "", 1).isdigit():
        raise Bad("a number")
    value = float(written)
    if codec.over:
        if value == 0:
            raise Bad("a number other than 0")
        # Nine digits: what a period in nine decimals says of a rate, and no more.
        return float(f"{codec.over / value:.9g}")
    # Rounded last: counting from elsewhere must not bring back what rounding took away.
    return round(codec.offset + codec.scale * value - codec.base + codec.first, 9)


def _word(codec: Codec, words: tuple[str, ...], written: str) -> str:
    if codec.back:
        found = codec.back.get(written)
        if found is None and codec.ignore_case:
            found = codec.back.get(written.lower())
        valid: Any = codec.back
    else:
        low = written.lower() if codec.ignore_case else written
        found = low if low in words or not words else None
        valid = words
    if found is None:
        raise Bad(", ".join(valid), _nearest(written, valid))
    return found


def _words(codec: Codec, row: Setting, written: str) -> frozenset[str]:
    if codec.mask:
        digits = written.isascii() and written.isdigit() and len(written) <= 40
        bits = int(written) if digits else -1
        named = {word for word, bit in codec.mask.items() if bits >> bit & 1}
        if bits != sum({1 << codec.mask[word] for word in named}):
            raise Bad("a sum of " + ", ".join(f"{1 << bit} ({w})" for w, bit in codec.mask.items()))
        return frozenset(named)
    none = codec.none.lower() if codec.ignore_case else codec.none
    if (written.lower() if codec.ignore_case else written) == none:
        return frozenset()
    # A divider of blanks is any run of them.
    parts = written.split(codec.divider.strip() or None)
    return frozenset(_word(codec, row.words, part.strip()) for part in parts)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def decode(codec: Codec, row: Setting, written: str) -> Any:
    """The neutral value of a written one.  Raises Bad."""
    written = unquote(written)
    kind = row.kind
    if kind == "word":
        return _word(codec, row.words, written)
    if kind == "words":
        return _words(codec, row, written)
    if kind == "flag":
        for words, meant in ((codec.yes, True), (codec.no, False)):
            if written in words or (codec.ignore_case and written.lower() in map(str.lower, words)):
                return meant
        raise Bad(f"{codec.yes[0]} or {codec.no[0]}", _nearest(written, (*codec.yes, *codec.no)))
    if kind == "text":
        if written in codec.back:
            return codec.back[written]
        if codec.scale != 1 or codec.offset:
            return show_number(_number(codec, written))
        if row.texts and written not in row.texts and not _is_number(written):
            words = tuple(codec.values.get(word, word) for word in row.texts)
            raise Bad(f"{', '.join(words)} or a number", _nearest(written, words))
        return written
    if codec.back:
        coded = codec.back.get(written)
        if coded is not None:
            return float(coded) if kind == "number" else int(coded)
        if codec.scale == 1 and not codec.offset and not codec.over:
            raise Bad(", ".join(f"{code} ({value})" for code, value in codec.back.items()))
    value = _number(codec, written)
    bounds = f"{row.least:g} to {row.most:g}{' ' + row.unit if row.unit else ''}"
    if kind == "count" and value != int(value):
        raise Bad(f"a whole number, {bounds}")
    assert row.least is not None
    assert row.most is not None
    if not row.least <= value <= row.most:
        raise Bad(bounds)
    return int(value) if kind == "count" else value


def _write_number(codec: Codec, value: float) -> str:
    if codec.over:
        if value == 0:
            raise Bad("no number for 0")
        raw = codec.over / value
        if codec.decimals is None:
            # The shortest text that is read back as this value.
            for digits in range(10):
                text = show_number(round(raw, digits))
                if text != "0" and _number(codec, text) == value:
                    return text
            raise Bad(f"no exact number for {show_number(value)}")
    else:
        raw = (value - codec.first + codec.base - codec.offset) / codec.scale
    if codec.decimals is None:
        return show_number(round(raw, 9))
    rounded = round(raw, codec.decimals)
    if abs(raw - rounded) > 1e-6 * max(1, abs(raw)):
        # Writing the nearest one would silently set something else.
        raise Bad(f"no exact number for {show_number(value)}")
    return show_number(rounded)


def encode(codec: Codec, row: Setting, value: Any) -> str:
    """The written form of a neutral value.  Raises Bad where the dialect has no word for it."""
    kind = row.kind
    if kind == "flag":
        return codec.yes[0] if value else codec.no[0]
    if kind == "words":
        if codec.mask:
            lacking = sorted(set(value) - set(codec.mask))
            if lacking:
                raise Bad(f"no bit for {', '.join(lacking)}")
            return str(sum({1 << codec.mask[word] for word in value}))
        if not value:
            return codec.none
        words = (word for word in row.words if word in value)
        return codec.divider.join(_encode_word(codec, word) for word in words)
    if kind == "word":
        return _encode_word(codec, value)
    if kind == "text":
        if value in codec.values:
            return codec.values[value]
        if codec.scale != 1 or codec.offset:
            return _write_number(codec, _number(Codec(), value))
        plain = value and value[0] != '"' and " " not in value and "\t" not in value
        return str(value) if plain and not codec.quoted else quote(value)
    if codec.values:
        coded = codec.values.get(show_number(value))
        if coded is not None:
            return coded
        if codec.scale == 1 and not codec.offset and not codec.over:
            raise Bad(f"no code for {show_number(value)}")
    text = _write_number(codec, value)
    if kind == "count" and text.startswith("-"):
        raise Bad(f"no number for {show_number(value)}: counting starts after it")
    return text


def _encode_word(codec: Codec, word: str) -> str:
    if codec.values:
        if word not in codec.values:
            raise Bad(f"no word for {word}")
        return codec.values[word]
    return word
