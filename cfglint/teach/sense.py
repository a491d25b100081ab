"""What words of a dump mean: in English, in the dump's own language, or by what its legends say.

A legend is a comment or title that explains codes: ``GO motors may turn``, ``K keeps``,
``2: CRSF``.  What a code stands for is looked up by the words behind it.
"""

from __future__ import annotations

import re
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach import meanings

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

LANGUAGES = {
    "cs": "czech.txt",
    "de": "german.txt",
    "es": "spanish.txt",
    "fr": "french.txt",
    "it": "italian.txt",
    "nl": "dutch.txt",
    "pl": "polish.txt",
    "pt": "portuguese.txt",
    "sv": "swedish.txt",
}
_WORD = re.compile(r"[^\W\d_]+")
#: So many different words of a language make a dump one of it.
_ENOUGH = 10


class Sense(NamedTuple):
    """Words of another language, and phrases by the codes that legends explain."""

    words: Mapping[str, str]
    legend: Mapping[str, Sequence[str]]
    #: What a person said of words: by table and text, `-` for none of the table's.
    told: Mapping[tuple[str, str], str]
    #: What texts were found to mean by all this: a sample writes the same again and again.
    known: dict[Any, Any]


_NOW: ContextVar[Sense] = ContextVar("sense", default=Sense({}, {}, {}, {}))  # noqa: B039
#: Of so many texts it is remembered what they mean.
MOST_KNOWN = 50_000
#: As sure as nothing but a person is.
TOLD = 1.1


@cache
def dictionary(language: str) -> dict[str, str]:
    """A language's words and phrases, in small letters, and what they are in English."""
    text = (Path(__file__).parent / LANGUAGES[language]).read_text(encoding="utf-8")
    rows = (line.partition(":") for line in text.splitlines() if line and not line.startswith("#"))
    return {foreign.strip(): english.strip() for foreign, _, english in rows}


def language_of(texts: Sequence[str]) -> str:
    """The language that a dump is in, ``""`` for English or one that is not known."""
    from cfglint.teach.words import known

    seen = {word.lower() for text in texts for word in _WORD.findall(text)}
    seen = {word for word in seen if not known(word)}
    counts = {
        one: len(seen & {word for phrase in dictionary(one) for word in phrase.split()})
        for one in LANGUAGES
    }
    best = max(counts, key=lambda one: counts[one])
    return best if counts[best] >= _ENOUGH else ""


_ENTRY = re.compile(
    r"(?P<code>[A-Z0-9][A-Za-z0-9]{0,3}|[=+×\-–*])[ \t]*(?:[:=][ \t]*|[ \t]+|(?<=[=×]))(?P<said>[^\W\d_].*)"  # noqa: E501
)


#: `adjourn: stays as it was`: a word of the firmware's and what it stands for.
_WORDED = re.compile(
    r"(?P<code>[^\W\d_][\w\-]{1,15})[ \t]*(?::[ \t]|=[ \t]*)[ \t]*(?P<said>[^\W\d_][^:=]*)"
)


#: `k keep, n none`: small letters, of which a legend explains several.
_SMALL = re.compile(r"[ \t]*(?P<code>[a-z])[ \t]+=?[ \t]*(?P<said>[a-z]+(?: [a-z]+)?)[ \t]*")


def legend_of(texts: Sequence[str]) -> dict[str, list[str]]:
    """What comments say of codes and words: each with the phrases behind it."""
    out: dict[str, list[str]] = {}
    for text in texts:
        for part in re.split(r"[ \t]{2,}|[,;|(){}]|\.(?:[ \t]|$)", text):
            bare = part.strip(" \t~#;!/*^-")
            match = _WORDED.fullmatch(bare)
            pieces = [bare] if match is not None else re.split(r":[ \t]", part)
            for piece in pieces:
                match = _WORDED.fullmatch(piece.strip()) or _ENTRY.fullmatch(piece.strip())
                if match is not None and len(match["said"].split()) <= 7:
                    out.setdefault(match["code"], []).append(match["said"].strip())
        small = [match for part in re.split(r"[,;:()]", text) if (match := _SMALL.fullmatch(part))]
        for match in small if len(small) > 1 else ():
            out.setdefault(match["code"], []).append(match["said"])
    return out


@contextmanager
def understood(
    words: Mapping[str, str],
    legend: Mapping[str, Sequence[str]],
    told: Mapping[tuple[str, str], str] | None = None,
) -> Iterator[None]:
    """While drafting, words are understood in this language and by this legend."""
    token = _NOW.set(Sense(words, legend, told or {}, {}))
    try:
        yield
    finally:
        _NOW.reset(token)


def english(text: str) -> str:
    """A text with the words of its language in English, the longest phrases first."""
    now = _NOW.get()
    if not now.words:
        return text
    if text not in now.known:
        now.known[text] = _english(now.words, text)
    found: str = now.known[text]
    return found


def _english(words: Mapping[str, str], text: str) -> str:
    parts = list(re.findall(r"[^\W_]+", text))
    out: list[str] = []
    at = 0
    while at < len(parts):
        for many in range(min(6, len(parts) - at), 0, -1):
            phrase = " ".join(parts[at : at + many]).lower()
            if phrase in words:
                out.append(words[phrase])
                at += many
                break
        else:
            out.append(_compound(words, parts[at].lower()) or parts[at])
            at += 1
    return " ".join(out)


#: What may join the parts of a compound, and end a word in another form of it.
_LINKS = ("", "s", "n", "en", "es", "e", "er")
#: So many letters two forms of a word have in common, or all but the last of a shorter one.
_ALIKE = 5


def _compound(words: Mapping[str, str], word: str) -> str:
    """What a word means that is several known ones together, or another form of one."""
    for at in range(len(word) - 3, 2, -1):
        tail = words.get(word[at:])
        for link in _LINKS if tail or len(word) - at > _ALIKE else ():
            head = words.get(word[: at - len(link)]) if word[:at].endswith(link) else None
            if (
                head is not None
                and at - len(link) > 2
                and (rest := tail or _compound(words, word[at:]))
            ):
                return f"{head} {rest}"
    forms = [
        (len(other), said)
        for other, said in words.items()
        if abs(len(other) - len(word)) <= 2
        and other[: (size := max(_ALIKE - (len(word) <= _ALIKE), min(len(word), len(other)) - 2))]
        == word[:size]
        and len(other) >= size
    ]
    return min(forms)[1] if len({said for _, said in forms}) == 1 else ""


def best(table: str, written: str) -> tuple[str, float]:
    """The neutral word that a written one means, and how surely."""
    now = _NOW.get()
    if (table, written) not in now.known:
        if len(now.known) >= MOST_KNOWN:
            now.known.clear()
        now.known[table, written] = _best(now, table, written)
    found: tuple[str, float] = now.known[table, written]
    return found


#: Marks of lists between words.
_LISTED = re.compile(r"\w\s*[,+&|;]\s*\w")


def _best(now: Sense, table: str, written: str) -> tuple[str, float]:
    told = now.told.get((table, written.strip()))
    if told is not None:
        return ("", 0.0) if told == "-" else (told, TOLD)
    word, weight = meanings.best(table, written)
    if table == "port.N.functions" and _LISTED.search(written):
        return word, min(weight, 0.6)  # several, of which one is known
    if weight >= 0.9:
        return word, weight
    if now.words and (other := english(written)) != written:
        found, sure = meanings.best(table, other)
        if sure > weight:
            word, weight = found, min(sure, 0.95)
    for said in now.legend.get(written.strip(), ()):
        found, sure = phrase(table, english(said))
        if sure > weight:
            word, weight = found, sure
    return word, weight


def meant(table: str, written: str) -> tuple[meanings.Meant, ...]:
    if (table, written.strip()) in _NOW.get().told:
        return ()
    found = meanings.meant(table, written)
    return found or meanings.meant(table, english(written))


def phrase(table: str, text: str) -> tuple[str, float]:
    """What a phrase means: all of it, or the part of it that means most."""
    word, weight = meanings.best(table, text)
    parts = [
        part
        for part in text.split()
        if part.lower() not in ("on", "a", "the", "in", "by", "of", "over", "via", "with", "plain")
    ]
    found, sure = meanings.best(table, " ".join(parts))
    if sure > weight:
        word, weight = found, sure
    if weight < 0.85 and len(parts) <= 8:
        for many in range(len(parts) - 1, 0, -1):
            for at in range(len(parts) - many + 1):
                found, sure = meanings.best(table, " ".join(parts[at : at + many]))
                if sure * 0.84 > weight and len(" ".join(parts[at : at + many])) > 2:
                    word, weight = found, sure * 0.84
    return word, weight


def said_of(code: str) -> Sequence[str]:
    """The phrases that legends give for a code."""
    return _NOW.get().legend.get(code.strip(), ())


def told(table: str, written: str) -> str:
    """What a person said of a word, ``""`` for nothing."""
    return _NOW.get().told.get((table, written.strip()), "")


def is_nothing(written: str) -> bool:
    return (
        meanings.is_nothing(written)
        or meanings.is_nothing(english(written))
        or written.lower() == "empty"
    )
