"""The parts of sentences: rows that are prose, counting words, wires, and modes in their words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from cfglint.teach.saying import saying

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row

_CARDINALS = (
    "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
    "sixteen seventeen eighteen nineteen twenty"
).split()
_ORDINALS = (
    "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split()
)
#: What counts a noun: figures, or words.
INDEX = rf"(?:\d{{1,2}}|{'|'.join(_ORDINALS)}|{'|'.join(reversed(_CARDINALS))})"
#: A number in a sentence; thousands may be divided.
ENTRY_NUMBER = re.compile(
    r"(?<![\w.,])[+\-\u2212]?(?:\d{1,3}(?:[,' ]\d{3})+(?!\d)|\d+(?:\.\d+)?)(?![\w]|[.,]\d)"
)


def cardinal(text: str) -> int:
    """The number that a word says, 0 where it says none."""
    word = text.lower()
    if word.startswith("twenty-"):
        return 20 + cardinal(word.removeprefix("twenty-"))
    return _CARDINALS.index(word) + 1 if word in _CARDINALS else 0


def index_of(text: str, ordinal: bool) -> int:
    """The number that counts a noun, in figures or words; 0 where it does not."""
    word = text.lower()
    if ordinal:
        return _ORDINALS.index(word) + 1 if word in _ORDINALS else 0
    return int(word) if word.isdigit() and int(word) <= 24 else cardinal(word)


class Sentence(NamedTuple):
    """A row that is prose: its text, where that begins in the row, and what it stands under."""

    sample: int
    row: Row
    text: str
    start: int
    about: tuple[str, ...]


def sentence_of(sample: int, row: Row) -> Sentence:
    """A row as a sentence."""
    start = row.atoms[0].start
    text = row.text[start : min(row.note, row.atoms[-1].end)].rstrip(" .;")
    return Sentence(sample, row, text, start, ())


#: A row of so many words, without gaps, rules, boxes and the like, is a sentence.
_WORDS = 4
_SMALL = frozenset(
    "the a an is are it its of to in and at with no on as each be i my for from one when while "
    "every has have holds by per never not any all there they their this that".split()
)
_GAPS = re.compile(r"[ \t]{3,}| ; |\.{3,}|…|_{2,}|[│|▕▏├└▸⇒=<>\[\]{}]|->|--")
#: Such a share of all rows is prose where a dump is told in sentences.
_TOLD = 0.5


def is_sentence(text: str) -> bool:
    words = re.findall(r"[^\W\d_]+", text)
    letters = sum(map(len, words))
    return (
        len(words) >= _WORDS
        and letters >= 0.55 * len(text.replace(" ", ""))
        and _GAPS.search(text) is None
        and not _SMALL.isdisjoint(word.lower() for word in words)
        and not re.match(r"[^\W\d_]+(?:[_.][^\W_]+)+ ", text)
    )


def loose_sentences(every: Sequence[tuple[int, Row]]) -> list[Sentence]:
    """The sentences that stand between rows of other kinds; none where hardly any does."""
    out = []
    for sample, row in every:
        if row.comment or row.heading or not row.atoms:
            continue
        one = sentence_of(sample, row)
        if (
            is_sentence(one.text)
            and re.search(r"[.;:]\s*$", row.text)
            and len(one.text.split()) >= 5
        ):
            out.append(one)
    return out if len(out) >= 3 * len({one.sample for one in out}) else []


#: What a heading in prose begins with.
_HEADS = re.compile(r"(?i)(?:of|as for|about|concerning|on|article [\divxl]+\W*of) [^\d]{3,50}$")


def sentences_of(every: Sequence[tuple[int, Row]]) -> list[Sentence]:
    """The sentences of all rows, none where most rows are something else."""
    out = []
    plain = 0
    about: tuple[str, ...] = ()
    long = last = 0
    for sample, row in every:
        if row.comment or not row.atoms:
            continue
        one = sentence_of(sample, row)
        text = one.text
        if row.line > last + 1 or row.line < last:
            about = ()  # another paragraph
        last = row.joins[-1][1] if row.joins else row.line
        if row.heading or _HEADS.match(text):
            about = tuple(re.findall(r"[^\W\d_]{3,}", text))[:6]
        if is_sentence(text):
            out.append(one._replace(about=about))
            long += len(text.split()) >= 7
        elif not row.heading:
            plain += 1
    told = len(out) >= _TOLD * (len(out) + plain) and long >= 0.5 * len(out)
    return out if told else []


def stretch_end(text: str, start: int, stop: int) -> int:
    """Where the words about a counted noun end, before what leads to the next."""
    piece = text[start:stop]
    cut = re.search(r"[,;]? (?:and|but|or|the)[ ,]*$|[,;.][ ]*$|[,;]? (?:and|but) the[ ]*$", piece)
    end = start + cut.start() if cut else start + len(piece.rstrip(" ,;."))
    return end


_HALF = re.compile(
    r"(?i)\b(?:one|single|same|shared?|common) (?:single )?(?:wire|line|pin|cable)\b|\bsharing\b|\bshares\b"  # noqa: E501
)
_FULL = re.compile(
    r"(?i)\b(?:two|separate|both) (?:wires|lines)\b|\bwire (?:for )?each (?:way|direction)\b"
)
_TURNED = re.compile(r"(?i)\binvert|\bupside|\bturned over|\bflipped|\breversed|\bnegated")
_NOT = re.compile(r"(?i)\b(?:not|no|never|un)\b|right way up|upright")


def wired(text: str, start: int) -> list[tuple[str, bool, int, int]]:
    """What a sentence says behind a place of a port's wires and of its signal, and where."""
    out = []
    for match in re.finditer(r"(?:[^,; ]+ ?)+", text[start:]):
        for part in re.finditer(r"(?:(?! and ).)+", match.group()):
            phrase = re.sub(r"^(?:[ ]*(?:and|on|is|with|over|but|its|the)[ ]+)+", "", part.group())
            begin = start + match.start() + part.end() - len(phrase)
            phrase = phrase.rstrip()
            if re.search(r"\d{3}", phrase):
                continue
            half, full = _HALF.search(phrase), _FULL.search(phrase)
            if half or full:
                on = half is not None and not _NOT.search(phrase)
                out.append(("half", on, begin, begin + len(phrase)))
            elif _TURNED.search(phrase) or "right way up" in phrase:
                out.append(("inverted", not _NOT.search(phrase), begin, begin + len(phrase)))
    return list({flag: row for row in out for flag in row[:1]}.values())


class Moded(NamedTuple):
    """Where a mode's words stand in a sentence, and whether all of its ranges are needed."""

    span: tuple[int, int]
    every: bool


_JOINING = r"(?:while|whenever|when|if|only|both|either|so long|as long|as|the|and|or|then|,|;|:|in|case|provided|that|on|is|which)"  # noqa: E501
_LEAD = re.compile(rf"(?i)[ ]*(?:{_JOINING}(?![\w])[ ]*)*")
_TAIL = re.compile(rf"(?i)(?:[ ]*(?<!\w){_JOINING})*[ ,]*$|[ ,]*$")
_EVERY = re.compile(
    r"(?i)\b(?:both|other|agrees?|together|all) .*\b(?:too|also|met|must|agrees?|hold)\b"
)


def moded(text: str, first: int, last: int) -> Moded | None:
    """The mode of a sentence whose ranges stand between two of its characters."""
    options = []
    apart = text.find(";", last)
    for start, end in ((last, apart if apart > 0 else len(text)), (0, first)):
        begin = start
        if start:
            unit = re.match(r"[ ]?(?:µs|us|microseconds)?[ ]*[,:]?", text[start:])
            begin += unit.end() if unit else 0
        lead = _LEAD.match(text[begin:end])
        begin += lead.end() if lead else 0
        tail = _TAIL.search(text[begin:end])
        stop = begin + tail.start() if tail else end
        every = False
        comma = re.search(r"[,;]", text[begin:stop])
        if comma and _EVERY.search(text[begin + comma.start() : stop]):
            every, stop = True, begin + comma.start()
        if stop - begin < 3:
            continue
        weight = saying("mode", text[begin:stop])[1]
        options.append((weight, stop - begin, begin, stop, every))
    if not options:
        return None
    _, _, begin, stop, every = max(options)
    return Moded((begin, stop), every)
