"""Single settings told in sentences: the values in each, and which setting each is of.

The address of such a value is what stands before it in its sentence; what it means is said by the
words near it, by the sentence, by those before in its paragraph, and by the words behind it.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import setting
from cfglint.teach import names
from cfglint.teach.clauses import ENTRY_NUMBER, INDEX, Sentence, cardinal, index_of, sentence_of
from cfglint.teach.entries import Entry
from cfglint.teach.families import Expect, Item, clean, template
from cfglint.teach.pairing import Slot, paired, slot_of
from cfglint.teach.readings import Reading, readings_of
from cfglint.teach.saying import SAID, saying, told_by
from cfglint.teach.sense import best

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.teach import match
    from cfglint.teach.fits import Habits

_WORD_NUMBER = re.compile(rf"(?i)(?<![\w-])(?:twenty-(?:two|four|six|eight)|{INDEX})(?![\w-])")
#: A count that is made when the pack is plugged in.
_COUNTED = re.compile(
    r"(?i)(?:(?:shall|will|are|is|be|to) )*(?:count|measur|determin|found)\w* [^,;.]*(?:plug|power|connect|start|attach)\w*[^,;.]*"  # noqa: E501
)
_UNIT = re.compile(
    r" ?(?:%|µs|us|MHz|kHz|Hz|mW|V|v|s|ms|seconds?|volts?|baud|milliwatts?|microseconds|megahertz|hertz|milliseconds)(?![\w/])"  # noqa: E501
)
_WORDED = ("motor.signal", "receiver.link", "battery.chemistry")
_ORDER = re.compile(
    r"(?<!\w)(?:[AETR]{4}|(?:(?:aileron|elevator|throttle|rudder|roll|pitch|yaw)s?\b,? ?(?:and )?){4})(?!\w)"  # noqa: E501
)


def _values(one: Sentence) -> Iterator[tuple[int, int, str]]:
    """The values of a sentence: numbers in figures or words, the trade's words, orders of sticks."""  # noqa: E501
    found: list[tuple[int, int, str]] = []
    for match in _ORDER.finditer(one.text):
        end = match.start() + len(match.group().rstrip(" ,"))
        if len(set(re.findall(r"\w+", match.group().upper()))) in (1, 4, 5):
            found.append((match.start(), end, "order"))
    found += _worded(one.text)
    if counted := _COUNTED.search(one.text):
        found.append((*counted.span(), "counted"))
    for match in ENTRY_NUMBER.finditer(one.text):
        unit = _UNIT.match(one.text, match.end())
        found.append((match.start(), unit.end() if unit else match.end(), "number"))
    for match in _WORD_NUMBER.finditer(one.text):
        if not match.group().isdigit():
            found.append((match.start(), match.end(), "word"))
    end = 0
    for start, stop, kind in sorted(found, key=lambda row: (row[0], -row[1])):
        if start >= end:
            yield start, stop, kind
            end = stop


def _worded(text: str) -> list[tuple[int, int, str]]:
    """Where the trade's words for signals, links and chemistries stand."""
    tokens = list(re.finditer(r"[^\s,;:()]+", text))
    found: list[tuple[int, int, str]] = []
    for many in (5, 4, 3, 2, 1):
        for at in range(len(tokens) - many + 1):
            run = tokens[at : at + many]
            start, end = run[0].start(), run[-1].end()
            phrase = text[start:end]
            if re.search(r"[,;:()]", phrase) or any(a < end and start < b for a, b, _ in found):
                continue
            for table in _WORDED:
                least = (
                    0.8 if table == "battery.chemistry" and "lithium" in phrase.lower() else 0.95
                )
                if best(table, phrase)[1] >= least and (many > 1 or re.search(r"[A-Z0-9]", phrase)):
                    found.append((start, end, table))
                    break
    return found


def _near(text: str, start: int) -> int:
    """Where the clause begins that a value stands in."""
    cuts = [match.end() for match in re.finditer(r"[,;:] |\(| (?:and|or|but) ", text[:start])]
    return cuts[-1] if cuts else 0


def clause_entries(sentences: Sequence[Sentence]) -> list[tuple[Entry, str, str, str, str]]:
    """Each value with its kind, the words near it, those around it, and those behind it."""
    out = []
    before = ""
    last = (-1, -9)
    for one in sentences:
        follows = last[0] == one.sample and one.row.line <= last[1] + 1
        last = (one.sample, one.row.joins[-1][1] if one.row.joins else one.row.line)
        values = list(_values(one))
        for place, (start, end, kind) in enumerate(values):
            begin = _near(one.text, start)
            floor = values[place - 1][1] if place else 0
            if len(re.findall(r"[^\W\d_]+", one.text[begin:start])) < 2:
                begin = _near(one.text, max(begin - 2, 0))
            begin = max(begin, floor)
            whole = 0 if place == 0 else begin
            name = one.text[whole:start].strip(" ,;:(")
            stop = re.compile(r"[,;]|$").search(one.text, end)
            behind = one.text[end : stop.start() if stop else len(one.text)]
            unit = _UNIT.search(one.text[start:end]) if kind == "number" else None
            entry = Entry(
                one.sample, one.row, (), "", name, one.text[start:end],
                one.start + start, one.start + end, len(values) == 1, False,
            )  # fmt: skip
            around = " ".join([*one.about, before if follows and not one.about else "", one.text])
            tail = f"{unit.group() if unit else ''}{behind}"
            more = "" if unit and kind == "number" else behind
            out.append((entry, kind, f"{one.text[begin:start]} {more[:24]}", around, tail))
        before = one.text
    return out


def _readings(
    name: str, entries: Sequence[Entry], kind: str, habits: Habits, comma: bool
) -> list[Reading]:
    texts = [entry.value for entry in entries]
    if (kind == "counted") and name == "battery.cells":
        return [Reading({"words": {"0": texts[0] if len(set(texts)) == 1 else texts}}, 0.9)]
    if kind == "word":
        if setting(name).kind != "count":
            return []
        count = index_of if name == "receiver.port" else lambda text, _: cardinal(text)
        numbers = {str(count(text, True) or cardinal(text)): text for text in texts}
        fits = all(
            (setting(name).least or 0) <= int(number) <= (setting(name).most or 99) and int(number)
            for number in numbers
        )
        return [Reading({"words": numbers}, 0.9)] if fits else []
    if kind in _WORDED:
        return readings_of(name, texts, "", habits, comma) if kind == name else []
    if (kind == "order") != (name == "receiver.channel_order"):
        return []
    if kind == "number" and setting(name).kind not in ("number", "count"):
        return []
    plain = [re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", text) for text in texts]
    if setting(name).unit == "%":
        # What stands behind is a percentage, in whatever words.
        plain = [text if "%" in text else f"{text} %" for text in plain]
    return readings_of(name, plain, "", habits, comma)


def spoken_pairs(
    sentences: Sequence[Sentence], habits: Habits, comma: bool
) -> tuple[list[Slot], list[match.Pair]]:
    """The addresses in sentences, and the settings that each may set."""
    groups: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for row in clause_entries(sentences):
        name = clean(row[0].name).lower()
        if not re.search(r"[^\W\d_]{2}", name):
            one = sentence_of(row[0].sample, row[0].row)
            name = _whole(one, (row[0].start - one.start, row[0].end - one.start))
        groups[name, row[1]].append(row)
    slots, pairs = [], []
    for (key, kind), rows in groups.items():
        entries = [row[0] for row in rows]
        words = tuple(re.findall(r"[a-z]+", rows[0][2].lower()))
        slot = Slot(("", f"{key}{_SPOKEN}{kind}"), names.Words(words), tuple(entries), ())
        slots.append(slot)
        for said in SAID:
            score = (
                0.9
                if kind == "counted" and said.setting == "battery.cells"
                else max(told_by(said, near, around, behind) for _, _, near, around, behind in rows)
            )
            if score < 0.5:
                continue
            readings = _readings(said.setting, entries, kind, habits, comma)
            if readings:
                fit = names.Fit(score, score, 0.5, words[:2])
                pairs.append(paired(said.setting, slot, fit, readings, ""))
    return slots, pairs


# -- flags, acts and names ---------------------------------------------------------------------

FLAGS = {
    "receiver.inverted": (r"invert|upside|right way up|turned over|flipped", r"signal|line\b|it\b|receiver", r"lot|socket|port|overturn|motor"),  # noqa: E501
    "receiver.half_duplex": (r"(?:one|single|same|shar\w+|two|each) (?:\w+ )?(?:wires?|way|direction)|wire for each|shar\w+ .{0,14}wire", r"receiver|it\b|parties|controller", r"lot|socket|port|escs?\b|motor|speed"),  # noqa: E501
    "motor.two_way": (r"(?:answer|report|reply|replies|talk|tell|speak|silent|come)\w* .{0,30}(?:speed|back)|speed .{0,20}(?:back|report)|keep silent|do(?:es)? not answer", r"esc|speed controller|motor|they", r"receiver"),  # noqa: E501
    "log.on": (r"(?:log|diary|record|journal)\b.{0,20}\b(?:kept|written|on|taken)|keep .{0,12}(?:log|diary|record)", r"log|diary|record|journal", r"while|whenever|socket|port"),  # noqa: E501
}  # fmt: skip
_NOT = re.compile(r"(?i)\b(?:not|no|never|nor|silent|right way up|without|nothing)\b")
_TWO = re.compile(r"(?i)\b(?:two wires|each (?:way|direction)|wire for each)")


def _clauses(text: str) -> list[tuple[int, int]]:
    """The clauses of a sentence: what stands between commas and conjunctions."""
    cuts = [0]
    for match in re.finditer(
        r"[,;:] (?:and )?|(?<!\bboth) and (?=(?:it|they|the|its|shall|both|report|answer|reply|tell|talk)\w* )",  # noqa: E501
        text,
    ):
        cuts += [match.start(), match.end()]
    cuts.append(len(text))
    return [(a, b) for a, b in zip(cuts[::2], cuts[1::2], strict=True) if b > a]


def spoken_item(choice: match.Choice, pairs: Sequence[match.Pair], held: set[Any]) -> Item:
    """A setting's entry from the sentences that tell it; always unconfirmed.

    A sentence that tells several settings is a template for each; where other samples tell the
    setting in other words, these are templates too.
    """
    pair = choice.pair
    slot = slot_of(pair)
    keys = {key: value for key, value in pair.fits[0].codec.items() if key != "\0"}
    keys["sure"] = False
    entries = list(slot.entries)
    for other in pairs:
        own = slot_of(other)
        if other.setting != pair.setting or own.key in held or _SPOKEN not in own.key[1]:
            continue
        if {entry.sample for entry in entries}.isdisjoint(entry.sample for entry in own.entries):
            codec = {k: v for k, v in other.fits[0].codec.items() if k not in ("\0", "words")}
            if codec == {k: v for k, v in keys.items() if k not in ("sure", "words")}:
                entries += own.entries
                words = {**other.fits[0].codec.get("words", {}), **keys.get("words", {})}
                keys.update({"words": words} if words else {})
                held.add(own.key)
    at, expects = [], []
    for entry in entries:
        one = sentence_of(entry.sample, entry.row)
        span = (entry.start - one.start, entry.end - one.start)
        at.append(_whole(one, span))
        expects.append(_expect(one, pair.setting, span))
    at = list(dict.fromkeys(at))
    forms = (
        {"at": at[0] if len(at) == 1 else at, **keys},
        {"at": clean(slot.entries[0].name), **keys},
    )
    seen = ", ".join(dict.fromkeys(slot.written))
    return Item(
        pair.setting, pair.setting, forms, tuple(expects), f"told in a sentence; seen: {seen}"
    )


def is_spoken(choice: match.Choice) -> bool:
    return _SPOKEN in choice.pair.slot.key[1]


#: What marks the address of a slot that is told in sentences.
_SPOKEN = "\3"


def _expect(one: Sentence, name: str, span: tuple[int, int]) -> Expect:
    """What must be read from a piece of a sentence: of one that goes on in the next line its first part."""  # noqa: E501
    line, start, end = one.row.place(one.start + span[0], one.start + span[1])
    return Expect(one.sample, name, line, one.text[span[0] : span[0] + end - start])


def _whole(one: Sentence, span: tuple[int, int], field: str = "value") -> str:
    """A sentence as a template with one field; its other numbers may be anything."""
    others = [
        (m.start(), m.end(), "_")
        for m in ENTRY_NUMBER.finditer(one.text)
        if m.end() <= span[0] or m.start() >= span[1]
    ]
    trade = [(a, b, "_") for a, b, _ in _worded(one.text) if b <= span[0] or a >= span[1]]
    held = [*others, *(t for t in trade if not any(a < t[1] and t[0] < b for a, b, _ in others))]
    return template(one.text, [(*span, field), *held])


def _item(name: str, found: Sequence[tuple[Sentence, tuple[int, int], str]], reason: str) -> Item:
    """A setting's entry by whole sentences, each clause a word of it; always unconfirmed."""
    words: dict[str, list[str]] = defaultdict(list)
    at, expects = [], []
    for one, span, word in found:
        text = one.text[slice(*span)]
        if word and text not in words[word]:
            words[word].append(text)
        at.append(_whole(one, span))
        expects.append(_expect(one, name, span))
    at = list(dict.fromkeys(at))
    form: dict[str, Any] = {"at": at[0] if len(at) == 1 else at}
    if words:
        form["words"] = {word: t[0] if len(t) == 1 else t for word, t in words.items()}
    form["sure"] = False
    return Item(name, name, (form,), tuple(expects), reason)


def spoken_flags(sentences: Sequence[Sentence]) -> list[Item]:
    """Flags that a clause says by its words, with `not` or the like where they are cleared."""
    out = []
    for name, (what, topic, bars) in FLAGS.items():
        found = []
        seen: set[int] = set()
        for one in sentences:
            about = " ".join([*one.about, one.text])
            if one.sample in seen or not re.search(rf"(?i)\b(?:{topic})", about):
                continue
            for start, end in _clauses(one.text):
                text = one.text[start:end]
                if not re.search(rf"(?i)\b(?:{what})", text) or re.search(
                    rf"(?i)\b(?:{bars})", f"{one.text[:14]} {text}"
                ):
                    continue
                if re.search(r"(?<!\w)\d{3}", text):
                    continue
                no = bool(_NOT.search(text)) or (
                    name == "receiver.half_duplex" and bool(_TWO.search(text))
                )
                found.append((one, (start, end), "no" if no else "yes"))
                seen.add(one.sample)
                break
        if found:
            out.append(_item(name, found, "a flag told by a clause"))
    return out


_ACT = re.compile(
    r"(?i)^(?:(?:and|then|the|a|this|craft|board|it|I|we|is|am|are|to|shall|will|must|should|be|me|meanwhile|let|at once)\b ?)*"  # noqa: E501
)


def spoken_action(sentences: Sequence[Sentence]) -> list[Item]:
    """What happens on a lost link: the clause of an act beside the time until then."""
    found = []
    seen: set[int] = set()
    for one in sentences:
        about = " ".join([*one.about, one.text])
        if one.sample in seen or not re.search(
            r"(?i)\blink\b|\blost\b|silence|\bloss\b|losing", about
        ):
            continue
        if not re.search(r"(?i)\d ?(?:s\b|sec|seconds)", one.text):
            continue
        spans = _acts(one.text)
        for start, end in spans:
            word, weight = saying("failsafe.action", one.text[start:end])
            if weight >= 0.5:
                found.append((one, (start, end), word))
                seen.add(one.sample)
                break
    return [_item("failsafe.action", found, "an act told in a sentence")] if found else []


def _acts(text: str) -> list[tuple[int, int]]:
    """Clauses behind the time that a sentence says, without the words that lead to their verb."""
    seconds = re.search(r"(?i)\d ?(?:s\b|sec\w*)", text)
    out = []
    cuts = [match.end() for match in re.finditer(r"[,;] |(?<=\w) and |\bcraft is to |\bI ", text)]
    for start in cuts:
        if seconds and start < seconds.end():
            continue
        end = next(
            (m.start() for m in re.finditer(r"[,;]| with the throttle| at \d", text[start:])), -1
        )
        stop = start + end if end >= 0 else len(text)
        lead = _ACT.match(text[start:stop])
        out.append((start + (lead.end() if lead else 0), stop))
    return [(a, b) for a, b in out if b - a > 3]


_TITLE = r"(?:\"[^\"]+\"|(?:[A-Z0-9][\w.'\-]*)(?: (?:[A-Z0-9][\w.'\-]*))*)"
_NAMES = {
    "craft.name": re.compile(
        rf"(?:(?:called|named|goes by|name of|name is|christened|hailed as|answers? to)(?: the name(?: of)?)? )(?P<v>{_TITLE})"  # noqa: E501
    ),
    "craft.board": re.compile(
        rf"(?i:board|controller|hardware)(?i: (?:is|of|it|sits|on|named|called|residing|upon))*(?i: (?:a|an|the))?(?i: (?:kind|make|sort|type))?(?i: of)? (?P<v>{_TITLE})"  # noqa: E501
        rf"|(?:from|on|upon|by) (?:a|an|the) (?P<w>{_TITLE}) board"
    ),
    "craft.firmware": re.compile(
        rf"(?i:firmware|program|programme|release|version|edition|software|issue)(?i: (?:is|on|it|of|bearing|runs|called|number))* (?P<v>{_TITLE})"  # noqa: E501
        r"|(?:This is|I am|Here is) (?P<w>[A-Z]\w+ v?\d[\w.]*)"
    ),
}


def spoken_names(sentences: Sequence[Sentence]) -> list[Item]:
    """What a craft is called, its board and its firmware, in the first sentences that say so."""
    out = []
    for name, pattern in _NAMES.items():
        found = []
        seen: set[int] = set()
        for one in sentences:
            match = pattern.search(one.text) if one.sample not in seen else None
            if match is None or one.row.line > 12:
                continue
            start, end = match.span(match.lastgroup or 0)
            if name == "craft.firmware":
                version = re.search(r"\bv?\d[\w.]*", one.text[start:end])
                if version is None:
                    continue
                if match.lastgroup == "w":
                    start = start + version.start()
            found.append((one, (start, end), ""))
            seen.add(one.sample)
        if found:
            out.append(_named(name, found))
    return out


def _named(name: str, found: Sequence[tuple[Sentence, tuple[int, int], str]]) -> Item:
    """An entry for a name by the words before it, where they say enough, else by its sentence."""
    at = []
    for one, span, _ in found:
        others = [
            m.span(m.lastgroup)
            for pattern in _NAMES.values()
            if (m := pattern.search(one.text)) is not None and m.lastgroup
        ]
        others += [m.span() for m in ENTRY_NUMBER.finditer(one.text)]
        spans = [(*span, "value")]
        for start, end in others:
            if all(end <= a or start >= b for a, b, _ in spans):
                spans.append((start, end, "_"))
        at.append(template(one.text, spans))
    at = list(dict.fromkeys(at))
    form = {"at": at[0] if len(at) == 1 else at, "sure": False}
    return _item(name, found, "a name told in a sentence")._replace(forms=(form,))


__all__ = ["spoken_action", "spoken_flags", "spoken_names", "spoken_pairs"]
