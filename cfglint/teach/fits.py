"""How well written values fit a neutral setting, and by which codec they would be read."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import setting
from cfglint.teach.meanings import FLAG_WORDS, YES_NO, best, in_style, is_nothing, squeeze
from cfglint.teach.numbers import BAUDS, baud_readings, numbers, readings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

_ORDER = re.compile(r"[AETR]{4}", re.I)
_PORT_WORD = re.compile(r"(?P<word>[A-Za-z_#\-]*[A-Za-z_#\-])(?P<number>[0-9]{1,2})")


class ValueFit(NamedTuple):
    """One way to read a slot's values as a setting.

    ``specific`` says how far such values are seen for nothing else (0 to 1); ``opaque`` are
    written words whose meaning nothing here tells; ``doubt`` are those that are only guessed.
    """

    codec: dict[str, Any]
    fit: float
    note: str = ""
    specific: float = 0.0
    opaque: tuple[str, ...] = ()
    doubt: tuple[str, ...] = ()


class Habits(NamedTuple):
    """What a dump does throughout: how it says yes and no, and what divides a list."""

    yes: str
    no: str
    pairs: tuple[tuple[str, str], ...]
    divider: str


def unquoted(text: str) -> str:
    text = text.strip()
    if len(text) >= 2 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1]
    return text


def habits_of(values: Iterable[str], divider: str) -> Habits:
    """The pairs of words for yes and no that a dump uses, most used first."""
    seen = Counter(unquoted(value) for value in values)
    pairs: Counter[tuple[str, str]] = Counter()
    for yes, no in YES_NO:
        for spell in (str, str.upper, str.capitalize):
            pair = (spell(yes), spell(no))
            hits = seen[pair[0]] + seen[pair[1]]
            both = bool(seen[pair[0]]) and bool(seen[pair[1]])
            if pair[0].isdigit():
                hits = hits // 4  # 0 and 1 are numbers as well
            if hits and pair not in pairs:
                pairs[pair] = hits * (2 if both else 1)
    order = tuple(pair for pair, _ in pairs.most_common())
    first = order[0] if order else ("yes", "no")
    return Habits(first[0], first[1], order, divider)


def value_fits(name: str, written: Sequence[str], unit: str, habits: Habits) -> list[ValueFit]:
    """The ways to read written values as a setting, most plausible first; empty for none."""
    row = setting(name)
    bare = [unquoted(text) for text in written]
    bare = [text for text in bare if text] or [""]
    if name == "receiver.port":
        return _port(bare)
    if name in ("receiver.baud", "port.N.baud"):
        return _baud(bare)
    if name == "receiver.channel_order":
        return _order(bare)
    if name == "failsafe.channel.N":
        return _loss(bare)
    if name == "battery.cells":
        return _cells(bare)
    if row.kind == "flag":
        return _flag_words(name, bare) or _flag(bare, habits)
    if row.kind == "word":
        return _word(name, bare)
    if row.kind == "words":
        return _words(name, bare, habits)
    if row.kind == "text":
        return _text(written)
    # Hardly anything else is written in numbers like these.
    special = 0.6 if name == "video.frequency_mhz" and _in_band(bare) else 0.0
    return [ValueFit(one.codec, one.fit, one.note, special) for one in readings(name, bare, unit)]


def _in_band(bare: Sequence[str]) -> bool:
    """Whether all are MHz of the band that video senders use most (common practice)."""
    return all(text.isdigit() and 5600 <= int(text) <= 5950 for text in bare)


def flag_words(name: str, texts: Sequence[str]) -> tuple[str, str] | None:
    """The words for yes and no by which a wire's flag is written, spelled as it is; None if not."""
    lower = {text.lower() for text in texts}
    for yes, no in FLAG_WORDS.get(name.rpartition(".")[2], ()):
        if lower <= {yes, no}:
            spell = spelling(texts)
            return spell(yes), spell(no)
    return None


def spelling(texts: Sequence[str]) -> Callable[[str], str]:
    """How words are spelled as those seen: in capitals, with one, or small."""
    if all(text.isupper() for text in texts if text.isalpha()):
        return str.upper
    return str.capitalize if texts[0][:1].isupper() else str


def _flag_words(name: str, bare: Sequence[str]) -> list[ValueFit]:
    pair = flag_words(name, bare)
    return [ValueFit({"yes": pair[0], "no": pair[1]}, 0.95, specific=0.3)] if pair else []


def _flag(bare: Sequence[str], habits: Habits) -> list[ValueFit]:
    words = set(bare)
    if words <= {"on", "off"} and not habits.pairs:
        return [ValueFit({}, 0.9)]
    for pair in (*habits.pairs, *YES_NO):
        if words <= set(pair):
            codec: dict[str, Any] = {}
            if pair != (habits.yes, habits.no):
                codec = {"yes": pair[0], "no": pair[1]}
            fit = 0.9 if not pair[0].isdigit() else 0.8
            return [ValueFit(codec, fit, specific=0.1 if fit > 0.85 else 0.0)]
    lower = {word.lower() for word in words}
    for yes, no in YES_NO:
        if lower <= {yes, no}:
            spell = spelling(bare)
            return [ValueFit({"yes": spell(yes), "no": spell(no)}, 0.85)]
    return []


#: How far the words of a setting are heard nowhere else.
_SPECIFIC = {
    "motor.signal": 0.8,
    "receiver.link": 0.85,
    "battery.chemistry": 0.75,
    "failsafe.action": 0.25,
    "port.N.functions": 0.4,
}


def _word(name: str, bare: Sequence[str]) -> list[ValueFit]:
    distinct = list(dict.fromkeys(bare))
    if all(re.fullmatch(r"\d{1,2}", text) for text in distinct):
        # Codes: which is which nobody can tell from here.
        return [ValueFit({}, 0.5, "a number for a word", opaque=tuple(distinct))]
    found: dict[str, str] = {}
    weights = []
    opaque, doubt = [], []
    for text in distinct:
        word, weight = best(name, text)
        if not word and text.isdigit():
            opaque.append(text)
            continue
        if weight < 0.5 or word in found:
            opaque.append(text)
            weights.append(0.0)
            continue
        found[word] = text
        weights.append(weight)
        if weight < 0.78 or (name == "motor.signal" and not _plain_signal(word, text)):
            doubt.append(text)
    if not found:
        letters = all(re.fullmatch(r"[A-Za-z][\w\- ]{0,20}", text) for text in distinct)
        return [ValueFit({}, 0.22 if letters else 0.05, "words of its own", opaque=tuple(distinct))]
    fit = sum(weights) / max(1, len(weights))
    values = {**found, **in_style(name, found)}
    if all(word == text for word, text in values.items()):
        values = {}
    codec = {"values": values} if values else {}
    said = ", ".join(f"{text} is {word}" if text != word else text for word, text in found.items())
    return [ValueFit(codec, fit, said, _SPECIFIC[name] * fit, tuple(opaque), tuple(doubt))]


def _plain_signal(word: str, text: str) -> bool:
    """Whether a signal is written by its own name, or by a digital one's rate.

    What else people call a signal they call another one as well, and the wrong one can spin
    motors that nobody armed.
    """
    if squeeze(text) == squeeze(word):
        return True
    rate = re.search(r"\d{2,4}", word)
    return rate is not None and re.findall(r"\d+", text)[-1:] == [rate.group()]


def _words(name: str, bare: Sequence[str], habits: Habits) -> list[ValueFit]:
    if all(text.isdigit() for text in bare):
        bits = sorted({bit for text in bare for bit in range(63) if int(text) >> bit & 1})
        # Sums of bits, or plain codes: seen by whether there are sums.
        return [ValueFit({}, 0.5, "numbers for words", opaque=tuple(str(1 << bit) for bit in bits))]
    divider = _divider(name, bare) or habits.divider
    found: dict[str, str] = {}
    weights, opaque, doubt = [], [], []
    nothing = ""
    for text in bare:
        for piece in [text] if is_nothing(text) else re.split(_cut(divider), text):
            part = piece.strip()
            if not part:
                continue
            if is_nothing(part):
                nothing = part
                continue
            word, weight = best(name, part)
            if weight < 0.5 or (word in found and found[word] != part):
                opaque.append(part)
                weights.append(0.0)
                continue
            found[word] = part
            weights.append(weight)
            if weight < 0.78:
                doubt.append(part)
    if not found:
        return []
    codec: dict[str, Any] = {}
    values = {**found, **in_style(name, found)}
    if any(word != text for word, text in values.items()):
        codec["values"] = values
    if divider != habits.divider:
        codec["list"] = divider
    if nothing:
        codec["none"] = nothing
    fit = sum(weights) / max(1, len(weights))
    return [
        ValueFit(
            codec,
            fit,
            "",
            _SPECIFIC[name] * fit,
            tuple(dict.fromkeys(opaque)),
            tuple(dict.fromkeys(doubt)),
        )
    ]


def _cut(divider: str) -> str:
    return re.escape(divider.strip()) if divider.strip() else r"\s+"


def _divider(name: str, bare: Sequence[str]) -> str:
    """What divides the words of a list: the mark between most words that are understood.

    Where none stands between two such, one beside a word that is.
    """
    marks: Counter[str] = Counter()
    beside: Counter[str] = Counter()
    for text in bare:
        for mark in (",", "/", "+", "|", ";", "&", ":", " "):
            parts = [part.strip() for part in re.split(_cut(mark), text)]
            weights = [best(name, part)[1] for part in parts]
            if len(parts) > 1 and all(weight >= 0.5 for weight in weights):
                marks[mark] += 1
            elif len(parts) > 1 and mark not in ": " and max(weights) >= 0.9:
                beside[mark] += all(re.fullmatch(r"[A-Za-z][\w\-]*", part) for part in parts)
    likeliest = (marks or beside).most_common(1)
    return likeliest[0][0] if likeliest and likeliest[0][1] else ""


def _text(written: Sequence[str]) -> list[ValueFit]:
    quoted = all(text.strip()[:1] == '"' for text in written)
    bare = [unquoted(text) for text in written]
    if any(re.fullmatch(r"[+-]?[\d.]+", text) for text in bare):
        return [ValueFit({}, 0.15)]
    named = all(re.search(r"[A-Za-z]{2,}", text) for text in bare)
    flag = all(any(text.lower() in pair for pair in YES_NO) for text in bare)
    if any(text.startswith('"') and text.rstrip()[-1:] != '"' for text in written):
        return [ValueFit({}, 0.3)]  # more than a text
    fit = 0.2 if flag else 0.4 if not named else 0.95 if quoted else 0.88
    return [ValueFit({"quoted": True} if quoted else {}, fit)]


def _order(bare: Sequence[str]) -> list[ValueFit]:
    distinct = list(dict.fromkeys(bare))
    if all(_ORDER.fullmatch(text) and len(set(text.upper())) == 4 for text in distinct):
        values = {text.upper(): text for text in distinct if text.upper() != text}
        if values:
            from itertools import permutations

            small = distinct[0].islower()
            for letters in permutations("AETR"):
                word = "".join(letters)
                values.setdefault(word, word.lower() if small else word)
        return [
            ValueFit({"values": values} if values else {}, 1.0, "the four sticks' letters", 0.8)
        ]
    if all(re.fullmatch(r"\d{1,4}", text) for text in distinct):
        return [ValueFit({}, 0.35, "a number for an order", opaque=tuple(distinct))]
    return []


def _port(bare: Sequence[str]) -> list[ValueFit]:
    values = numbers(bare)
    if values is not None:
        if all(0 <= one <= 20 and one == int(one) for one in values):
            return [ValueFit({"base": 0} if 0 in values else {}, 0.85)]
        return []
    if all(re.fullmatch(r"[A-Z]|[a-z]", text) for text in bare):
        first_letter = ord("A" if bare[0].isupper() else "a")
        letters = {str(n + 1): chr(first_letter + n) for n in range(26)}
        return [ValueFit({"values": letters}, 0.8)]
    matches = [_PORT_WORD.fullmatch(text) for text in bare]
    if all(matches):
        first = matches[0]
        assert first is not None
        word = first["word"]
        from cfglint.teach.words import ideas, split

        near = any(idea in ("port", "receiver") for part in split(word) for idea, _ in ideas(part))
        base = 0 if any(m and m["number"] == "0" for m in matches) else 1
        table = {str(n + 1 - base): f"{word}{n}" for n in range(base, base + 10)}
        return [ValueFit({"values": table}, 0.9 if near else 0.4, "", 0.3 if near else 0.0)]
    return []


def _baud(bare: Sequence[str]) -> list[ValueFit]:
    values = numbers(bare)
    if values is None:
        return []
    bare = [text.strip("\"'") for text in bare]
    found = [
        ValueFit(one.codec, one.fit, one.note, 0.35 if not one.codec else 0.1)
        for one in baud_readings([text for text in bare if float(text) != 0] or ["0"])
    ]
    if found:
        return found
    if all(0 <= one <= 20 and one == int(one) for one in values):
        return [ValueFit({}, 0.4, "a number for a speed", opaque=tuple(dict.fromkeys(bare)))]
    return [ValueFit({}, 0.25)] if all(one >= 1000 for one in values) else []


def _loss(bare: Sequence[str]) -> list[ValueFit]:
    found: dict[str, str] = {}
    strange: list[str] = []
    pulses = 0
    for text in dict.fromkeys(bare):
        if re.fullmatch(r"\d{3,4}", text) and 700 <= int(text) <= 2300:
            pulses += 1
        elif loss_word(text):
            found[loss_word(text)] = text
        elif re.fullmatch(r"[A-Za-z][\w\-]*", text):
            strange.append(text)
        else:
            return []
    if not strange:
        values = found if any(word != text for word, text in found.items()) else {}
        return [ValueFit({"values": values} if values else {}, 0.85, "", 0.1)]
    if len(strange) > 2 or not (pulses or found):
        return []
    # Pulses beside words that nobody knows: they are known by their place.
    return [ValueFit({"values": found} if found else {}, 0.7, "", 0.0, tuple(strange))]


#: Words of what a channel does on loss: it keeps its last pulse, or gives none.
_HOLDS = frozenset(
    "hold keep last held freeze as-was latch stay same keep-last hold-last frozen retain "
    "previous prev unchanged as-is asis repeat lastvalue last-value last_value keep_last "
    "hold_last maintain sustain kept".split()
)
_DROPS = frozenset(
    "drop none off x nopulse no-pulse cut gone stop silent nil quiet mute nothing release "
    "released free absent missing no-signal nosignal no_signal no_pulse disconnect silence "
    "empty null void blank dropped".split()
)


def loss_word(text: str) -> str:
    """``hold`` or ``drop`` for a word of what a channel does on loss, ``""`` for neither."""
    small = text.lower().strip("-_ ")
    return "hold" if small in _HOLDS else "drop" if small in _DROPS else ""


def _cells(bare: Sequence[str]) -> list[ValueFit]:
    auto = [text for text in bare if not text.isdigit()]
    rest = [text for text in bare if text.isdigit()]
    if any(int(text) > 14 for text in rest):
        return []
    if not auto:
        return [ValueFit({}, 0.85)]
    packs = [re.fullmatch(r"([A-Za-z_\-]*)(\d{1,2})([A-Za-z_\-]*)", text) for text in auto]
    around = {(m[1], m[3]) for m in packs if m}
    if all(packs) and not rest and len(around) == 1:
        before, after = around.pop()
        table = {str(n): f"{before}{n}{after}" for n in range(1, 15)}
        plain = (before + after).lower() in ("s", "cell", "cells", "-cell", "-cells", "c")
        return [ValueFit({"values": table}, 0.9 if plain else 0.6, "", 0.4 if plain else 0.0)]
    words = sorted(set(auto))
    if len(words) == 1 and words[0].isalpha() and words[0].lower() not in _EITHER:
        # The one word among numbers says that cells are counted at power-up.
        table = {"0": words[0], **{str(n): str(n) for n in range(1, 15)}}
        sure = words[0].lower() in _COUNTED
        return [
            ValueFit(
                {"values": table}, 0.85 if sure else 0.5, "", 0.0, (), () if sure else tuple(words)
            )
        ]
    return []


_EITHER = frozenset(word for pair in YES_NO for word in pair)
_COUNTED = frozenset("auto detect count automatic any autodetect measure sense guess find".split())


def known_baud(text: str) -> bool:
    return text.isdigit() and int(text) in BAUDS
