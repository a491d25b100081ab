"""Sentences: which of them tell of channels, ports, switches and modes, by the numbers in them.

A noun that is counted (`channel six`, `the third socket`) is what its numbers say it is: three
pulses behind it are a channel's ends, two a range, a line's speed makes it a port.  What is left of
such a sentence is the mode, the port's functions or what becomes of the channel.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.clauses import (
    ENTRY_NUMBER,
    INDEX,
    Sentence,
    index_of,
    moded,
    sentences_of,
    stretch_end,
    wired,
)
from cfglint.teach.families import Expect, Item, template
from cfglint.teach.numbers import BAUDS
from cfglint.teach.readings import loss_meaning
from cfglint.teach.saying import saying
from cfglint.teach.sense import best, english, is_nothing, phrase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row


class Counted(NamedTuple):
    """A noun with its number, and the numbers behind it up to the next such noun."""

    noun: str
    start: int
    end: int
    counter: tuple[int, int]
    number: int
    stop: int
    pulses: tuple[tuple[int, int], ...]
    speed: tuple[int, int] | None


class Told(NamedTuple):
    """What sentences tell, and which of them (by ``id`` of the row) are told."""

    items: list[Item]
    taken: set[int]
    #: What a mode is called, the mode, and whether that is sure.
    modes: dict[str, tuple[str, bool]]
    sentences: list[Sentence]


_AHEAD = re.compile(
    rf"(?i)(?<![\w-])(?P<noun>[^\W\d_]{{2,}})[ ]+(?P<index>{INDEX})(?![\w-]|[.,]\d)"
)
_BEHIND = re.compile(rf"(?i)(?<![\w-])(?P<index>{INDEX})[ ]+(?P<noun>[^\W\d_]{{2,}})(?![\w-])")
#: So many different numbers make a noun one that is counted.
_FAMILY = 3
#: The port that a sentence is about stands at its beginning.
_EARLY = 8


def _value(text: str) -> float:
    return float(re.sub(r"(?<=\d)[ ,'](?=\d{3}(?!\d))", "", text).replace(",", "."))


def _counted(one: Sentence, nouns: frozenset[tuple[str, bool]]) -> list[Counted]:
    """The counted nouns of a sentence with what stands behind each."""
    found = [
        (match["noun"].lower(), match.start(), match.end(), match.span("index"), match["index"])
        for pattern, ordinal in ((_AHEAD, False), (_BEHIND, True))
        for match in pattern.finditer(one.text)
        if (match["noun"].lower(), ordinal) in nouns and index_of(match["index"], ordinal)
    ]
    found.sort(key=lambda row: row[1])
    out = []
    for place, (noun, start, end, index, text) in enumerate(found):
        stop = found[place + 1][1] if place + 1 < len(found) else len(one.text)
        pulses, speed = [], None
        for match in ENTRY_NUMBER.finditer(one.text, end, stop):
            value = _value(match.group())
            if 650 <= value <= 2350 and value == int(value) and "." not in match.group():
                pulses.append(match.span())
            elif value in BAUDS or re.match(r" ?(?:baud|bd|bps)\b", one.text[match.end() :]):
                speed = match.span()
        number = index_of(text, True) or index_of(text, False)
        out.append(Counted(noun, start, end, index, number, stop, tuple(pulses), speed))
    return out


def _nouns(sentences: Sequence[Sentence]) -> frozenset[tuple[str, bool]]:
    """Nouns that are counted: by words behind them, or by ordinal words before them."""
    seen: dict[tuple[str, bool], set[int]] = defaultdict(set)
    for one in sentences:
        for pattern, ordinal in ((_AHEAD, False), (_BEHIND, True)):
            for match in pattern.finditer(one.text):
                number = index_of(match["index"], ordinal)
                if number:
                    seen[match["noun"].lower(), ordinal].add(number)
    small = {"than", "at", "of", "by", "and", "or", "is", "to", "for", "in", "with", "as", "after"}
    return frozenset(
        key for key, numbers in seen.items() if len(numbers) >= _FAMILY and key[0] not in small
    )


def _expect(one: Sentence, name: str, span: tuple[int, int]) -> Expect:
    """What must be read from a piece of a sentence: of one that goes on in the next line its first part."""  # noqa: E501
    line, start, end = one.row.place(one.start + span[0], one.start + span[1])
    return Expect(one.sample, name, line, one.text[span[0] : span[0] + end - start])


def _place(one: Sentence, span: tuple[int, int]) -> int:
    """The line that a piece of a sentence stands in."""
    return one.row.place(one.start + span[0], one.start + span[1])[0]


def _number_words(items: Sequence[tuple[Sentence, Counted]], name: str) -> dict[str, Any]:
    """How numbers that are words count."""
    words: dict[str, Any] = {}
    for one, counted in items:
        text = one.text[slice(*counted.counter)]
        if not text.isdigit():
            words[str(counted.number)] = text
    return {name: {"words": words}} if words else {}


def _rows(
    name: str, at: Sequence[str], expects: Sequence[Expect], reason: str, **more: Any
) -> Item:
    at = list(dict.fromkeys(at))
    form: dict[str, Any] = {"at": at[0] if len(at) == 1 else at}
    form.update({key: value for key, value in more.items() if value or value is False})
    return Item(name, "", (form,), tuple(expects), reason)


# -- channel ends ------------------------------------------------------------------------------


def _ends(rows: Sequence[tuple[Sentence, list[Counted]]], out: Told) -> None:
    """Sentences in which each channel has three pulses: the least is the low end."""
    names = ("low", "mid", "high")
    single: list[tuple[Sentence, list[Counted]]] = []
    several: list[tuple[Sentence, list[Counted]]] = []
    for one, items in rows:
        (single if len(items) == 1 else several).append((one, items))
    for group, each in ((single, False), (several, True)):
        at, parts, expects, held = [], [], [], []
        for one, items in group:
            for counted in items:
                ordered = sorted(counted.pulses, key=lambda span: _value(one.text[slice(*span)]))
                roles = dict(zip(names, ordered, strict=True))
                spans = [(*span, role) for role, span in roles.items()]
                spans.append((*counted.counter, "N"))
                held.append((one, counted))
                expects += [
                    _expect(one, f"channel.{counted.number}.{role}_us", span)
                    for role, span in roles.items()
                ]
                if not each:
                    at.append(template(one.text, spans))
                    continue
                last = max(end for _, end in counted.pulses)
                cut = one.text[counted.start : last]
                parts.append(
                    template(cut, [(a - counted.start, b - counted.start, r) for a, b, r in spans])
                )
            if each:
                at.append(template(one.text[: items[0].start], []) or "*")
            out.taken.add(id(one.row))
        if at:
            out.items.append(
                _rows(
                    f"prose-channels{len(out.items)}", at, expects,
                    f"{len(expects)} ends of channels told in sentences",
                    each=list(dict.fromkeys(parts)) if each else None,
                    sets={role: f"channel.N.{role}_us" for role in names},
                    fields=_number_words(held, "N"),
                )
            )  # fmt: skip


# -- lost link ---------------------------------------------------------------------------------


def _lost(rows: Sequence[tuple[Sentence, list[Counted]]], out: Told) -> None:
    """Sentences that say what becomes of channels: a pulse, or a phrase for hold or drop."""
    words: dict[str, list[str]] = defaultdict(list)
    expects: list[Expect] = []
    at: dict[bool, list[str]] = {True: [], False: []}
    parts: list[str] = []
    held = []
    for one, items in rows:
        several = len(items) > 1
        shared = _verbs(one, items)
        for counted, verb in zip(items, shared, strict=True):
            end = (
                counted.pulses[0][1]
                if counted.pulses
                else stretch_end(one.text, counted.end, counted.stop)
            )
            start = counted.pulses[0][0] if counted.pulses else verb
            text = one.text[start:end]
            if not counted.pulses:
                words[loss_meaning(one.text[counted.end : end])[0] or text].append(text)
            spans = [(*counted.counter, "N"), (start, end, "value")]
            cut = (counted.start, end) if several else (0, len(one.text))
            made = template(
                one.text[slice(*cut)], [(a - cut[0], b - cut[0], name) for a, b, name in spans]
            )
            (parts if several else at[False]).append(made)
            expects.append(_expect(one, f"failsafe.channel.{counted.number}", (start, end)))
            held.append((one, counted))
        if several:
            at[True].append(template(one.text[: items[0].start], []) or "*")
        out.taken.add(id(one.row))
    codec = _loss_words(words)
    for several, texts in at.items():
        own = [
            e for e, (o, _) in zip(expects, held, strict=True) if (len(_of(rows, o)) > 1) == several
        ]
        if texts:
            out.items.append(
                _rows(
                    f"prose-lost{len(out.items)}", sorted(set(texts), key=len, reverse=True), own,
                    "what becomes of channels, told in sentences",
                    each=sorted(set(parts), key=len, reverse=True) if several else None,
                    sets={"value": "failsafe.channel.N"},
                    fields={**_number_words(held, "N"), **({"value": codec} if codec else {})},
                )
            )  # fmt: skip


def _loss_words(words: dict[str, list[str]]) -> dict[str, Any]:
    """What phrases mean; where one of two is not understood it is the other, as a guess."""
    texts = {word: list(dict.fromkeys(t)) for word, t in words.items()}
    kept: dict[str, list[str]] = {
        word: texts.pop(word) for word in ("hold", "drop") if word in texts
    }
    codec: dict[str, Any] = {}
    missing = [word for word in ("hold", "drop") if word not in kept]
    if len(missing) == 1 and len(texts) == 1:
        kept[missing[0]] = next(iter(texts.values()))
        codec["unsure"] = missing
    if kept:
        codec["words"] = {word: t[0] if len(t) == 1 else t for word, t in kept.items()}
    return codec


def _of(rows: Sequence[tuple[Sentence, list[Counted]]], one: Sentence) -> list[Counted]:
    return next(items for other, items in rows if other is one)


_VERB = re.compile(
    r"(?i)[ ,]*(?:(?:is|are|shall|will|must|be|meanwhile|then|has|its?|been|gets|should|to)[ ]+)*"
)


def _verbs(one: Sentence, items: Sequence[Counted]) -> list[int]:
    """Where behind each channel the words begin that say what becomes of it."""
    return [match.end() if (match := _VERB.match(one.text, c.end)) else c.end for c in items]


# -- ports -------------------------------------------------------------------------------------


def _ports(rows: Sequence[tuple[Sentence, Counted]], out: Told) -> None:
    """Sentences that say what a port carries, how fast, and over which wires."""
    words: dict[str, list[str]] = defaultdict(list)
    none: list[str] = []
    made: list[tuple[str, list[Expect]]] = []
    unsure: list[str] = []
    sides: dict[str, dict[str, list[str]]] = defaultdict(dict)
    for one, counted in rows:
        begin = re.compile(
            r"(?i)[ ,:]*(?:[^\W\d_]+(?:s|ed)|is|are|let|to|by|with|for|set)(?:[ ]+(?:let|to|by|with|for|used|wired|given))*[ ]+"  # noqa: E501
        ).match(one.text, counted.end)
        start = begin.end() if begin else counted.end
        limit = counted.speed[0] if counted.speed else len(one.text)
        cut = re.search(
            r"[,;]? (?:at|with a speed of|running at|and idles at)?[ ]?$", one.text[start:limit]
        )
        end = start + cut.start() if counted.speed and cut else limit
        if not counted.speed:
            comma = re.search(r"[,;(]", one.text[start:end])
            end = start + comma.start() if comma else end
        carries = one.text[start:end].rstrip(" ,")
        comma = re.search(r", (?!and\b)|;", carries)
        carries = carries[: comma.start()] if comma else carries
        spans = [(*counted.counter, "N"), (start, start + len(carries), "functions")]
        port = f"port.{counted.number}"
        expects = [_expect(one, f"{port}.functions", (start, start + len(carries)))]
        for part in re.split(r",? and |, | plus ", carries):
            if is_nothing(part) or _IDLE.fullmatch(part):
                none.append(part)
                continue
            word, weight = _function(part)
            if weight >= 0.5 and part not in words[word]:
                words[word].append(part)
                if weight < 0.85:
                    unsure.append(word)
        if counted.speed:
            spans.append((*counted.speed, "baud"))
            expects.append(_expect(one, f"{port}.baud", counted.speed))
        for flag, value, start, end in wired(
            one.text, counted.speed[1] if counted.speed else spans[1][1]
        ):
            spans.append((start, end, flag))
            sides[flag].setdefault("yes" if value else "no", []).append(one.text[start:end])
            expects.append(_expect(one, f"{port}.{_FLAGS[flag]}", (start, end)))
        made.append((template(one.text, spans), expects))
        out.taken.add(id(one.row))
    functions: dict[str, Any] = {"words": _short(words), "list": "and"}
    if unsure:
        functions["unsure"] = list(dict.fromkeys(unsure))
    if none:
        functions["none"] = none[0] if len(set(none)) == 1 else list(dict.fromkeys(none))
    fields = {**_number_words(rows, "N"), "functions": functions}
    fields.update({flag: {"words": _short(texts)} for flag, texts in sides.items()})
    sets = {"functions": "port.N.functions", "baud": "port.N.baud"}
    sets.update({flag: f"port.N.{_FLAGS[flag]}" for flag in sides})
    if not words:
        return
    # Fields that a sentence lacks may be none of its entry's.
    groups: dict[tuple[str, ...], list[tuple[str, list[Expect]]]] = defaultdict(list)
    for at, own in made:
        groups[tuple(sorted(re.findall(r"\{(\w+)\}", at)))].append((at, own))
    for names, group in groups.items():
        out.items.append(
            _rows(
                f"prose-ports{len(out.items)}", [at for at, _ in group],
                [e for _, every in group for e in every if e.written not in none],
                "ports told in sentences",
                sets={field: name for field, name in sets.items() if field in names},
                fields={field: keys for field, keys in fields.items() if field in names},
            )
        )  # fmt: skip


_FLAGS = {"half": "half_duplex", "inverted": "inverted"}


def _short(words: dict[str, list[str]]) -> dict[str, Any]:
    """Lists of one word as that word, each word once."""
    return {
        word: every[0] if len(set(every)) == 1 else list(dict.fromkeys(every))
        for word, every in words.items()
    }


_IDLE = re.compile(r"(?i)nothing|empty|vacant|idle|unused|free")


def _function(text: str) -> tuple[str, float]:
    """What a port does, by a phrase with its articles and possessives."""
    bare = re.sub(r"(?i)^(?:the|its|a|an|their) |['’]s?\b|['’](?= )", "", text)
    whole = best("port.N.functions", english(bare))
    if whole[1] >= 0.6:
        return whole
    word, weight = phrase("port.N.functions", english(bare))
    # What a part of a phrase means the whole of it may not.
    return word, min(weight, 0.8) if len(bare.split()) > 2 else weight


# -- ranges ------------------------------------------------------------------------------------


def _ranges(rows: Sequence[tuple[Sentence, list[Counted]]], out: Told) -> None:
    """Sentences with a channel and two ends, and a mode before or behind them."""
    words = Counter[str]()
    made: dict[tuple[str, str], list[tuple[str, Expect]]] = defaultdict(list)
    held = []
    for one, items in rows:
        found = moded(one.text, items[0].start, items[-1].pulses[1][1])
        if found is None:
            continue
        start, end = found.span
        between = one.text[items[0].pulses[1][1] : items[-1].start] if len(items) > 1 else ""
        every = bool(re.search(r"(?i)\b(and|both|together|also)\b", between)) and not re.search(
            r"(?i)\bor\b", between
        )
        join = "all" if every or found.every else ""
        for counted in items:
            spans = [(start, end, "mode"), (*counted.counter, "channel")]
            spans += [
                (*span, role) for span, role in zip(counted.pulses, ("low", "high"), strict=False)
            ]
            for other in items:
                if other is not counted:
                    spans.append((*other.counter, "_"))
                    spans += [(*span, "_") for span in other.pulses[:2]]
            at = template(one.text, spans)
            if re.search(r"\d", re.sub(r"\{\w+\}", "", at)):
                continue
            line = _place(one, counted.counter)
            made[at, join].append((at, Expect(one.sample, "range", one.row.line, str(line))))
            held.append((one, counted))
        words[one.text[start:end]] += 1
        out.taken.add(id(one.row))
    _note_modes(list(words), out)
    fields = _number_words(held, "channel")
    for (at, join), group in made.items():
        out.items.append(
            _rows(
                f"prose-ranges{len(out.items)}", [at], [expect for _, expect in group],
                "sentences with a channel, two ends and a mode", makes="range", join=join, fields=fields,  # noqa: E501
                sure=_SURE.get(re.search(r"\bprovided\b|\bexcept\b|\bunless\b", at) is None),
            )
        )  # fmt: skip


#: A sentence with a condition of its own is not surely understood.
_SURE = {False: False}


# -- links -------------------------------------------------------------------------------------

_ALONG = re.compile(r"(?i)\b(?:whenever|along with|wherever|as long as|together with|while|when)\b")


def _links(sentences: Sequence[Sentence], out: Told) -> None:
    """Sentences without numbers that say of one mode that it is on along with another."""
    for one in sentences:
        if id(one.row) in out.taken or re.search(r"\d", one.text) or len(one.text) > 160:
            continue
        along = _ALONG.search(one.text)
        if along is None:
            continue
        if along.start() < 3:
            comma = one.text.find(", ", along.end())
            parts = [(comma + 2, len(one.text)), (along.end(), comma)] if comma > 0 else []
        else:
            parts = [(0, along.start()), (along.end(), len(one.text))]
        found = [_mode_in(one.text, span) for span in parts]
        if len(found) < 2 or None in found:
            continue
        mode, follows = found
        if mode is None or follows is None:
            continue
        texts = [one.text[slice(*span)] for span in (mode, follows)]
        if saying("mode", texts[0])[0] == saying("mode", texts[1])[0]:
            continue
        out.items.append(
            _rows(
                f"prose-links{len(out.items)}",
                [template(one.text, [(*mode, "mode"), (*follows, "follows")])],
                [Expect(one.sample, "link", one.row.line, one.text)],
                "a sentence that names two modes", makes="link", sure=None,
            )
        )  # fmt: skip
        _note_modes(texts, out)
        out.taken.add(id(one.row))


def _note_modes(texts: Sequence[str], out: Told) -> None:
    """Note what modes are called here, with what they mean."""
    for text in texts:
        word, weight = saying("mode", text)
        out.modes.setdefault(text, (word if weight >= 0.5 else "", weight >= 0.9))


def _mode_in(text: str, span: tuple[int, int]) -> tuple[int, int] | None:
    """The words of a clause that are a mode, without those around that only join clauses."""
    start, end = span
    lead = re.match(r"(?i)[ ,]*(?:(?:also|then|too)[ ]+)*", text[start:end])
    start += lead.end() if lead else 0
    tail = re.search(
        r"(?i)(?:[ ,]+(?:also|too|as well|likewise|given also))*[ ,]*$", text[start:end]
    )
    end = start + tail.start() if tail else end
    known = saying("mode", text[start:end])[1] >= 0.5
    return (start, end) if end > start and known else None


# -- all together ------------------------------------------------------------------------------


def prose_rows(every: Sequence[tuple[int, Row]]) -> Told:
    """The families that sentences tell, where a dump is told in sentences."""
    sentences = sentences_of(every)
    out = Told([], set(), {}, sentences)
    if not sentences:
        return out
    nouns = _nouns(sentences)
    by: dict[str, list[Any]] = defaultdict(list)
    channels = Counter[str]()
    idle: list[tuple[Sentence, list[Counted]]] = []
    for one in sentences:
        items = _counted(one, nouns)
        if not items:
            continue
        counts = {len(item.pulses) for item in items}
        if counts == {3}:
            by["ends"].append((one, items))
        elif counts == {2}:
            by["ranges"].append((one, items))
        elif items[0].speed is not None and not items[0].pulses and items[0].start < _EARLY:
            by["ports"].append((one, items[0]))
        else:
            idle.append((one, items))
            continue
        if counts <= {2, 3}:
            channels.update(item.noun for item in items)
    ports = {item.noun for _, item in by["ports"]} - set(channels)
    for one, items in idle:
        if items[0].noun in channels and _becomes(one, items):
            by["lost"].append((one, items))
        elif items[0].noun in ports and items[0].start < _EARLY and _carries(one, items[0]):
            by["ports"].append((one, items[0]))
    _ends(by["ends"], out)
    _ranges(by["ranges"], out)
    _ports(by["ports"], out)
    _lost(by["lost"], out)
    _links(sentences, out)
    return out


def _becomes(one: Sentence, items: Sequence[Counted]) -> bool:
    """Whether a sentence says of each channel a pulse or a few words, of which some are known."""
    texts = [one.text[item.end : item.stop] for item in items]
    return (
        all(len(item.pulses) <= 1 for item in items)
        and all(
            item.pulses or 0 < len(text.split()) <= 9
            for item, text in zip(items, texts, strict=True)
        )
        and (
            items[0].start < _EARLY
            or any(item.pulses for item in items)
            or any(loss_meaning(text.strip(" ,"))[0] for text in texts)
        )
    )


def _carries(one: Sentence, counted: Counted) -> bool:
    """Whether a sentence says of a port without a speed what it carries, or that it is empty."""
    rest = one.text[counted.end :]
    return bool(re.search(r"(?i)\b(nothing|empty|vacant|idle|unused|free)\b", rest)) or any(
        phrase("port.N.functions", english(part))[1] >= 0.5 for part in re.split(r",| and ", rest)
    )
