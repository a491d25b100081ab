"""Codes and bits that samples explain: ``code 1: 2 OneShot42, 4 DShot1200``, ``bits: 0 inverted``.

A legend stands in a comment, in a title, or in the note behind the value itself.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

_CODE = re.compile(
    r"(?:bits?[ ])?(?P<code>0x[0-9A-Fa-f]+|[0-9A-F]{1,4}h?|[0-9]{1,3})[ \t]*(?:[=:→][ \t]*|[ \t]+(?:is[ ]|-[ ])?)(?P<said>(?!\d+$)[^\d\s,;].*|\d+ .*|\d{2,})",  # noqa: E501
    re.I,
)
_BITS = re.compile(r"(?i)\b(?:bits?|flags?|add up|sum of|mask)\b")


class Legend(NamedTuple):
    """What codes mean; ``label`` is what the legend is called, ``bits`` whether they are bits.

    ``numbered``: each says that it is a bit's number, as `b1` does, and so none is a mask.
    """

    label: str
    bits: bool
    codes: Mapping[str, str]
    numbered: bool = False


class Hex(NamedTuple):
    """How a sample writes numbers that are hexadecimal: what ends them, and their width."""

    suffix: str


_HEX = re.compile(r"0[xX][0-9A-Fa-f]+|\$[0-9A-Fa-f]+|[0-9A-F]{1,8}h|[0-9A-F]{2,8}")


def is_hex(texts: Sequence[str], bare: bool) -> bool:
    """Whether texts are hexadecimal numbers: by a mark, or where the dump writes such words."""
    if not texts or not all(_HEX.fullmatch(text) for text in texts):
        return False
    marked = all(
        text[:2] in ("0x", "0X") or text[:1] == "$" or text.endswith("h") for text in texts
    )
    return marked or (
        bare and all(len(text) == len(texts[0]) and len(text) in (2, 4, 8) for text in texts)
    )


def figure(text: str) -> int:
    """A hexadecimal number's value."""
    bare = text.strip().removesuffix("h").lstrip("$")
    return int(bare.removeprefix("0x").removeprefix("0X"), 16)


def bare_hex(lines: Iterable[str]) -> bool:
    """Whether a dump writes plain words of hexadecimal digits, as many do with a letter in them."""
    found = [word for line in lines for word in re.findall(r"(?<![\w.])[0-9A-F]{4}(?![\w.])", line)]
    mixed = [word for word in found if re.search(r"\d", word) and re.search(r"[A-F]", word)]
    led = [word for word in found if word.startswith("0")]
    return len(mixed) >= 4 and len(led) >= 4


def legend(text: str, label: str = "") -> Legend | None:
    """The legend that a text is, with at least two codes; None where it is none."""
    head, mark, rest = text.partition(":")
    if mark and not _CODE.fullmatch(head.strip()) and len(head.split()) <= 7:
        label, text = f"{label} {head}".strip(), rest
    led = re.match(r"([^\W\d_][\w ]*?)[ \t]{2,}(?=\d)", text.strip())
    if led is not None and not label:
        label, text = led[1], text.strip()[led.end() :]
    codes: dict[str, str] = {}
    for piece in re.split(r"[,;]|\((?=bit)|\)", text):
        match = _CODE.fullmatch(piece.strip())
        if match is not None:
            codes[match["code"]] = match["said"].strip()
    if len(codes) < (1 if re.match(r"(?i)bit ", text.strip()) else 2):
        return None
    return Legend(label, bool(_BITS.search(label) or _BITS.search(text)), codes)


_PIECE = re.compile(
    r"(?P<bit>b(?:it )?)?(?P<code>(?(bit)\d{1,2}|(?:0[xX])?[0-9A-F]{1,4}))[ \t]+(?P<said>[^\W\d].*)"
)
#: What a legend may end with: what is no code is a number.
_ELSE = re.compile(
    r"(?i)(?:or )?(?:else|otherwise|any(?:thing)? (?:else|other)|a (?:number|pulse))\b"
)
#: So many codes with their meanings, side by side, are a legend whatever stands before them.
_SIDE_BY_SIDE = 3


def listed(text: str) -> tuple[str, bool, dict[str, str], bool] | None:
    """A label and codes side by side, `SIG  01 DShot300  02 brushed`, or codes that go on so.

    The last says whether each is called a bit.
    """
    pieces = [
        one.strip() for one in re.split(r"[ \t]{2,}|[,;:](?:[ \t]+|$)", text.strip()) if one.strip()
    ]
    if len(pieces) > 2 and (_ELSE.match(pieces[-1]) or pieces[-1].startswith("(")):
        pieces.pop()
    found = [_PIECE.fullmatch(one) for one in pieces]
    first = next((at for at, one in enumerate(found) if one is not None), None)
    if first is None or first > 2 or not all(found[first:]):
        return None
    codes = {one["code"]: one["said"].strip() for one in found[first:] if one is not None}
    # What stands far before the codes is no part of their label.
    label = " ".join(pieces[:first])
    label = pieces[first - 1] if len(label.split()) > 4 else label
    called = [bool(one["bit"]) for one in found[first:] if one is not None]
    bits = bool(_BITS.search(label)) or any(called)
    return (label, bits, codes, all(called)) if label or len(codes) >= _SIDE_BY_SIDE - 1 else None


_LETTER = re.compile(r"([A-Za-z])[ \t]+([^\W\d].*)")


def lettered(text: str) -> dict[str, str]:
    """Letters and what each stands for, side by side: `a brushed ; b pwm`; empty for anything else."""  # noqa: E501
    found = [_LETTER.fullmatch(one.strip()) for one in re.split(r"[;,|]", text) if one.strip()]
    codes = {one[1]: one[2].strip() for one in found if one is not None}
    return codes if len(codes) == len(found) >= _SIDE_BY_SIDE else {}


def titled_legends(rows: Iterable[tuple[str, str]]) -> list[Legend]:
    """The legends of rows of letters, each called what its title says."""
    out: dict[str, dict[str, str]] = {}
    for title, text in rows:
        if title and (codes := lettered(text)):
            out.setdefault(title, {}).update(codes)
    return [Legend(label, bits=False, codes=codes) for label, codes in out.items()]


def legends_of(texts: Iterable[str]) -> list[Legend]:
    """The legends of comments and titles; one line may hold several, or go on with one."""
    out: list[Legend] = []
    for text in texts:
        side = listed(text.strip(" \t~#;!/-*(){}<>"))
        if side is not None and not side[0] and out and len(side[2]) >= 1:
            out[-1] = out[-1]._replace(codes={**out[-1].codes, **side[2]})
            continue
        if side is not None and side[0] and len(side[2]) >= _SIDE_BY_SIDE - side[1]:
            out.append(Legend(re.sub(r"(?i)[ ]bits?$", "", side[0]), *side[1:]))
            continue
        parts = re.split(r"[ \t]{3,}", text.strip(" \t~#;!/-*(){}<>"))
        if (
            len(parts) == 2
            and not re.search(r"\d", parts[0])
            and (led := legend(parts[1], parts[0]))
        ):
            out.append(led)
            continue
        bracketed = re.findall(r"([^\W\d_]+)[ \t]+\((bits? \d[^()]*)\)", text)
        out += [led for label, codes in bracketed if (led := legend(codes, label)) is not None]
        for part in re.split(r"[ \t]{3,}", text.strip(" \t~#;!/-*(){}<>")):
            found = legend(part)
            if found is not None:
                out.append(found)
    return out


#: `SEL: list M`: what a column holds is explained under another name.
_REFERS = re.compile(
    r"(?i)(?<!\w)(?P<name>[^\W\d_][\w.]*)(?::|(?::|,)? (?:is|are|by|in|of|see|as in)) (?:the )?"
    r"(?P<label>(?:list|table|key|code|legend|codes|bits)[ \t]+[^\W_]{1,3})(?![\w])"
)


def referred(legends: Sequence[Legend], texts: Iterable[str]) -> list[Legend]:
    """The legends that texts say explain something of another name, under that name."""
    names = {one.label.split()[-1].lower(): one for one in legends if one.label}
    return [
        names[last]._replace(label=found["name"])
        for text in texts
        for found in _REFERS.finditer(text)
        if (last := found["label"].split()[-1].lower()) in names
    ]


def bit_numbers(one: Legend, base: int) -> dict[int, str]:
    """Bit number → meaning; codes that are all powers of two are masks unless 0 is among them."""
    values = {
        int(code.removesuffix("h").removeprefix("0x"), base): said
        for code, said in one.codes.items()
        if _digits(code, base)
    }
    masks = not one.numbered and all(value and value & (value - 1) == 0 for value in values)
    if masks:
        return {value.bit_length() - 1: said for value, said in values.items()}
    return {value: said for value, said in values.items() if value < 32}


def either_way(one: Legend) -> bool:
    """Whether codes may be numbers of bits as well as masks: `1 inverted, 2 one wire`."""
    return not one.numbered and {code.lstrip("0") for code in one.codes} <= {"1", "2"}


def _digits(code: str, base: int) -> bool:
    return bool(re.fullmatch(r"(?:0x)?[0-9A-Fa-f]+h?" if base == 16 else r"\d+", code))


def written_code(code: str, like: str) -> str:
    """A legend's code as the samples write it: as wide, with the same mark."""
    if re.fullmatch(r"[A-Za-z]", like):
        return code
    suffix = "h" if like.endswith("h") else ""
    prefix = like[:2] if like[:2] in ("0x", "0X") else ""
    plain = like.isdigit() and not like.startswith("0")
    width = 0 if plain else len(like.removesuffix("h")) - len(prefix)
    return f"{prefix}{code.removesuffix('h').removeprefix('0x').rjust(width, '0')}{suffix}"
