"""How ports' functions are written: words, code numbers, or sums of bits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.teach.fits import Habits, unquoted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def function_codec(
    texts: Sequence[str], words: Mapping[str, str]
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """How port functions are written, and the written words that nobody explained."""
    habits = Habits("yes", "no", (), ",")
    empty = next((text for text, word in words.items() if word == "nothing"), "")
    words = {text: word for text, word in words.items() if word != "nothing"}
    codec, left = _function_codec(texts, words, habits)
    if empty and "mask" not in codec:
        codec["none"] = empty
        left = tuple(text for text in left if text != empty)
    return codec, left


def _function_codec(
    texts: Sequence[str], words: Mapping[str, str], habits: Habits
) -> tuple[dict[str, Any], tuple[str, ...]]:
    from cfglint.teach.fits import value_fits

    bare = [unquoted(text) for text in texts]
    if all(text.isdigit() for text in bare):
        numbers = sorted({int(text) for text in bare if int(text)})
        single = {1 << bit for value in numbers for bit in range(63) if value >> bit & 1}
        mask = looks_masked(numbers) or _bits(words)
        if mask:
            bits = {
                word: int(text).bit_length() - 1
                for text, word in words.items()
                if text.isdigit() and int(text) and int(text) & (int(text) - 1) == 0
            }
            left = tuple(str(one) for one in sorted(single) if str(one) not in words)
            return ({"mask": bits} if bits else {}), left
        table = {word: text for text, word in words.items()}
        left = tuple(str(one) for one in numbers if str(one) not in words)
        codec: dict[str, Any] = {"values": table} if table else {}
        if codec and "0" in bare and "0" not in words:
            codec["none"] = "0"
        return codec, left
    found = value_fits("port.N.functions", bare, "", habits)
    if not found:
        return {}, tuple(dict.fromkeys(bare))
    codec = dict(found[0].codec)
    if words:
        table = dict(codec.get("values", {}))
        for text, word in words.items():
            table = {k: v for k, v in table.items() if v != text}
            table[word] = text
        codec["values"] = table
    left = tuple(text for text in found[0].opaque if text not in words)
    return codec, left


def _bits(words: Mapping[str, str]) -> bool:
    """Whether explained numbers are bits: 1, 2, 4 and no 3."""
    codes = [int(text) for text in words if text.isdigit() and int(text)]
    return len(codes) >= 3 and max(codes) >= 4 and all(code & (code - 1) == 0 for code in codes)


def looks_masked(numbers: Sequence[int]) -> bool:
    """Whether numbers are sums of bits rather than codes counted up."""
    if not numbers:
        return True
    powers = sum(value & (value - 1) == 0 for value in numbers)
    return max(numbers) > 20 or powers == len(numbers)
