"""What a column says of a port's wire: its speed, whether it is inverted, whether one serves both ways."""  # noqa: E501

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.teach.codes import bit_numbers, is_hex, written_code
from cfglint.teach.families import _flag_of
from cfglint.teach.meanings import FOREIGN_YES_NO, YES_NO
from cfglint.teach.measures import numbers_of
from cfglint.teach.numbers import BAUDS
from cfglint.teach.ports import side_of
from cfglint.teach.readings import number, read_numbers
from cfglint.teach.sense import english, said_of
from cfglint.teach.words import split

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.teach.codes import Legend

SETS = {"inverted": "port.N.inverted", "half": "port.N.half_duplex"}
_HUNDREDS = re.compile(r"(?i)[x×*/] ?100(?!\d)|hundreds?|100 ?(?:bd|baud|bit)")
_THOUSANDS = re.compile(r"(?i)[x×*/] ?1000(?!\d)|thousands?|kbaud|kbd|kbit")


def speeds(
    texts: Sequence[str], head: str, above: Sequence[str], comma: bool, bare: bool
) -> tuple[dict[str, Any], float] | None:
    """How a column of speeds is written, and how surely it is one."""
    none = sorted({text for text in texts if not re.search(r"\w", text)})
    keys: dict[str, Any] = {"none": none if len(none) > 1 else none[0]} if none else {}
    texts = [text for text in texts if re.search(r"\d|[A-F]{2}", text)]
    named = bool(re.search(r"(?i)baud|speed|bd|bps", f"{head} {english(head)}"))
    if not texts:
        return None
    factor = next(
        (
            scale
            for text in (head, *above)
            for pattern, scale in ((_HUNDREDS, 100), (_THOUSANDS, 1000))
            if pattern.search(text) and (text is head or re.search(r"(?i)baud|speed|bd", text))
        ),
        0,
    )
    for way in numbers_of(texts, comma, bare):
        values = [value for value in way.values if value]
        for scale in (factor,) if factor else (1, 100, 1000):
            hits = sum(any(abs(v * scale - b) <= 0.012 * b for b in BAUDS) for v in values)
            if values and hits >= (0.6 if named else 0.9) * len(values):
                scaled = {"scale": scale} if scale > 1 else {}
                return {**keys, **way.keys(), **scaled}, hits / len(values) + named
    if all(number(text, comma) for text in texts):
        found = read_numbers("port.N.baud", texts, "", None, comma)
        if found and found[0].fit > 0.5:
            return {**keys, **found[0].keys}, found[0].fit / 2 + named
    return None


def coded_speeds(
    texts: Sequence[str], head: str, legends: Sequence[Legend]
) -> tuple[dict[str, Any], float] | None:
    """How a column of codes for speeds is written, where a legend explains them."""
    kept = [text for text in dict.fromkeys(texts) if re.search(r"\w", text)]
    none = [text for text in dict.fromkeys(texts) if text not in kept]
    for legend in legends:
        words = {}
        for code, said in legend.codes.items():
            found = re.match(r"(\d+(?:[.,]\d+)?) ?(k?)", said.replace(" ", ""))
            speed = float(found[1].replace(",", ".")) * (1000 if found[2] else 1) if found else 0
            if any(abs(speed - one) <= 0.012 * one for one in BAUDS) and kept:
                words[f"{speed:.0f}"] = written_code(code, kept[0])
        if len(words) >= 2 and set(kept) <= set(words.values()):
            named = bool(set(split(head)) & set(split(legend.label)))
            used = {speed: code for speed, code in words.items() if code in kept}
            more = {"none": none if len(none) > 1 else none[0]} if none else {}
            return {"words": used, **more}, 0.5 + named
    return None


def flags(
    texts: Sequence[str], head: str, legends: Sequence[Legend], bare: bool
) -> Iterator[tuple[str, dict[str, Any]]]:
    """The flags of a wire that a column says, with how they are written."""
    flag = _flag_of(head) or _flag_of(english(head))
    distinct = list(dict.fromkeys(texts))
    if flag and len({text.lower() for text in texts}) <= 3:
        written, unsure = _sides(flag, distinct)
        if written:
            none = sorted({text for text in texts if re.fullmatch(r"[.…—–]+|\.+", text)})
            none = [one for one in none if one not in written.values()]
            more: dict[str, Any] = {"unsure": unsure} if unsure else {}
            if none:
                more["none"] = none if len(none) > 1 else none[0]
            yield SETS[flag], {"words": written, **more}
        return
    numbered = all(re.fullmatch(r"[0-9A-F]{1,4}|0x[0-9A-Fa-f]+", text) for text in distinct)
    for legend in legends if numbered else ():
        if not set(split(legend.label)) >= set(split(head)):
            continue
        hexed = is_hex(distinct, bare)
        for bit, said in bit_numbers(legend, 16 if hexed else 10).items():
            if meant := _flag_of(said):
                yield SETS[meant], {"bit": bit, **({"base": 16} if hexed else {})}
        return
    yield from _together(distinct)


def _together(texts: Sequence[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """A column of words or letters for both flags: `H`, `IH`, `-`."""
    if len(texts) > 6:
        return
    sides: dict[str, dict[str, list[str]]] = {one: {"yes": [], "no": []} for one in SETS}
    known = 0
    for text in texts:
        said = _said(text)
        plain = not re.search(r"\w", text) or bool(
            set(english(text).lower().split()) & {"plain", "normal", "usual", "none", "standard"}
        )
        if not said and not plain:
            return
        known += bool(said)
        for flag, words in sides.items():
            words["yes" if flag in said else "no"].append(text)
    if not known:
        return
    for flag, words in sides.items():
        kept = {
            side: every[0] if len(every) == 1 else every for side, every in words.items() if every
        }
        if words["yes"]:
            yield SETS[flag], {"words": kept, "unsure": ["no"]}
        else:
            yield SETS[flag], {"words": kept, "sure": False}


def _said(text: str) -> set[str]:
    """The flags that a text says are set, by its words, or by its letters and their legend."""
    out = set()
    for part in re.split(r"[,;+/]|[ ]{2,}", text):
        for phrase in (part.strip(), english(part.strip()), *said_of(part.strip())):
            flag = next((one for one in SETS if side_of(one, phrase.lower()) == "yes"), "")
            flag = flag or _flag_of(phrase)
            if flag:
                out.add(flag)
    if not out and re.fullmatch(r"[A-Za-z]{1,3}", text):
        for letter in text:
            out |= {meant for said in said_of(letter) if (meant := _flag_of(english(said)))}
    return out


_USUAL = {
    "inverted": frozenset(
        "free normal upright straight plain no off false 0 n nein non no".split()
    ),
    "half": frozenset(
        "free full twin two 2 no off false 0 n full both separate double pair nein non".split()
    ),
}


def _sides(flag: str, texts: Sequence[str]) -> tuple[dict[str, str], list[str]]:
    low = {text.lower() for text in texts} - {".", "…", "—", "–"}
    pairs = (*YES_NO, *FOREIGN_YES_NO)
    for yes, no in pairs:
        if low <= {yes, no}:
            return {
                "yes": next((t for t in texts if t.lower() == yes), yes),
                "no": next((t for t in texts if t.lower() == no), no),
            }, []
    said = {text: english(text).lower() for text in texts if re.search(r"\w", text)}
    for yes, no in pairs:
        if said and set(said.values()) <= {yes, no}:
            back = {word: text for text, word in said.items()}
            return {s: back[w] for s, w in (("yes", yes), ("no", no)) if w in back}, []
    words: dict[str, str] = {}
    unsure: list[str] = []
    for text in dict.fromkeys(one for one in texts if re.search(r"\w", one)):
        spoken = f"{text} {english(text)}".lower().replace("-", " ")
        usual = bool(set(spoken.split()) & _USUAL[flag])
        side = "no" if usual else "yes"
        known = usual or _flag_of(text) == flag or side_of(flag, text.lower())
        if side in words or not (known or any(spoken.startswith(yes) for yes, _ in pairs)):
            unsure.append(side)
        words.setdefault(side, text)
    return words, unsure


__all__ = ["flags", "speeds"]
