"""Where a value that follows its words begins and ends in a line."""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dialect.values import Bad, decode, key, number_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.dialect.index import Coded
    from cfglint.dialect.mapping import Entry, Patterns, Words
    from cfglint.dump.layout import Row, Title

_LEAD = re.compile(r"(?:[\s:=|>~…·•,;▸→⇒)\]}]|\.{2,}|->|=>|-(?![0-9.]))+")
_TAIL = re.compile(r"[\s,;|│]+$")
_BREAK = re.compile(
    r"[ \t\xa0]{2,}|\t|[ \t]*[|│;]|[ \t]+[(\[{<#*·•]|[ \t]*,(?=[ \t])|[ \t]+[-–—][ \t]"
    r"|[ \t]+(?=[^\s=]+=[^\s=])"
)
_LIST = re.compile(r"[,;]")
_GAPS = re.compile(r"[ \t\xa0]{2,}|</|\t|[ \t]*[|│;]|[ \t]+[·•][ \t]|[ \t]+(?=[^\s=]+=[^\s=])")
_PARTNERS = {"(": ")", "[": "]", "{": "}", "<": ">", "«": "»", "»": "«", "“": "”", "„": "“”"}
_JOINTS = "-_./"
#: What stands between a name and its value.
_SIGNS = "=:▸→⇒"


class Hit(NamedTuple):
    """Words of an address as they stand in a row.

    ``start`` is the first atom, ``run`` the first behind the last ``*``, ``stop`` the atom behind
    the last; ``bound`` is what titles and words said.
    """

    entry: Entry
    bound: Mapping[str, str]
    weight: int
    title: Title | None
    start: int
    run: int
    stop: int


def boundary(row: Row, hit: Hit, free_from: int) -> bool:
    """Whether an address can begin at an atom: not in the midst of other words."""
    if hit.run > hit.start or hit.start in (0, free_from):
        return True
    before, atom = row.atoms[hit.start - 1], row.atoms[hit.start]
    if all(one.kind == "mark" for one in row.atoms[free_from : hit.start]):
        return True
    gap = row.text[before.end : atom.start]
    if gap and re.match(r"=[^\s=]", row.text[row.atoms[hit.stop - 1].end :]):
        return True  # one of several pairs: `kind=lipo cells=4`
    if before.kind == "mark":
        # A joint that touches both makes one name of them.
        return not (before.text in _JOINTS and not gap and _touches(row, hit.start - 1))
    return before.kind in ("number", "quoted") or len(gap) >= 2 or "\t" in gap


def _touches(row: Row, place: int) -> bool:
    """Whether an atom touches the one before it."""
    return place > 0 and row.atoms[place - 1].end == row.atoms[place].start


def longer_name(row: Row, hit: Hit) -> bool:
    """Whether the words are only the beginning of a longer name: ``low`` in ``low-battery``."""
    after = row.atoms[hit.stop : hit.stop + 2]
    if not after:
        return False
    if after[0].kind == "mark" and after[0].text in _JOINTS and _touches(row, hit.stop):
        return len(after) > 1 and after[1].kind == "word" and _touches(row, hit.stop + 1)
    return (
        after[0].kind == "word"
        and _touches(row, hit.stop)
        and row.atoms[hit.stop - 1].kind == "word"
    )


def unfinished(row: Row, hit: Hit, signed: bool = False) -> bool:
    """Whether other words follow before the sign that a value comes: ``low battery = 3``.

    Unless it must be ``signed``, a line without any such sign is unfinished as well.
    """
    after = row.atoms[hit.stop :]
    if not after or after[0].kind != "word":
        return False
    gap = row.text[row.atoms[hit.stop - 1].end : after[0].start]
    sure = any(atom.kind == "mark" and atom.text in _SIGNS for atom in after)
    before = any(atom.kind == "mark" and atom.text in _SIGNS for atom in row.atoms[: hit.stop])
    return (
        len(gap) < 2 and not before and (sure or not signed)
        if signed
        else len(gap) < 2 and (sure or not before)
    )


class Extents:
    """Finds the value behind a hit."""

    def __init__(self, patterns: Patterns) -> None:
        self.patterns = patterns

    def find(
        self, entry: Entry, one: Coded, hit: Hit, later: Sequence[int]
    ) -> tuple[int, int, bool] | None:
        """Start and end of the value's characters, and whether it can be read; None for none."""
        row = one.row
        limit = len(row.atoms)
        if later:
            places = range(hit.stop, limit)
            value = next((at for at in places if row.atoms[at].kind != "mark"), 0)
            # A number where the value must be is the value, though an address may begin so.
            number = value and row.atoms[value].kind == "number"
            behind = [at for at in later if at >= hit.stop and not (number and at == value)]
            limit = min(behind, default=limit)
        codec = entry.codecs["value"]
        described = entry.row_of("value")
        if codec.named is not None:
            return row.atoms[hit.run].start, row.atoms[hit.stop - 1].end, True
        if hit.stop >= limit:
            return None
        if (
            described.kind == "text"
            and not described.texts
            and not described.name.endswith("order")
        ):
            return self._text(one, hit, limit)
        at = hit.stop
        words = self.patterns.words(entry, "value")
        while True:
            found = self._known(one, at, limit, words)
            if found is None and (
                described.kind not in ("flag", "word", "words")
                or codec.bits
                or codec.bit is not None
            ):
                found = self._number(entry, one, at, limit)
            if found is not None:
                if described.kind == "words" and self._goes_on(entry, one, found, limit):
                    break
                return *found, True
            if at >= limit - 1 or row.atoms[at].kind != "mark":
                break
            at += 1
        first = row.atoms[at].start
        end_all = row.atoms[limit - 1].end
        stops = {
            end_all,
            *(match.start() for match in _LIST.finditer(row.text, first + 1, end_all)),
        }
        stops |= {*(match.start() for match in _BREAK.finditer(row.text, first + 1, end_all))}
        for end in sorted((end for end in stops if end > first), reverse=True):
            written = _TAIL.sub("", row.text[first:end])
            if self._means(entry, written):
                return first, first + len(written), True
        # Never a part of it that could be read by itself: `4,35` is not 4.
        pieces = [_TAIL.sub("", row.text[first:end]) for end in sorted(stops) if end > first]
        odd = next((one for one in pieces if not self._means_number(entry, one)), pieces[-1])
        return first, first + len(odd), False

    def _means(self, entry: Entry, written: str) -> bool:
        codec, described = entry.codecs["value"], entry.row_of("value")
        if described.kind in ("number", "count") and not codec.back:
            return False
        try:
            decode(codec, described, written)
        except Bad:
            return False
        return True

    def _known(self, one: Coded, at: int, limit: int, words: Words) -> tuple[int, int] | None:
        """The known words that stand at an atom, whole."""
        row = one.row
        first, last = row.atoms[at], row.atoms[limit - 1]
        whole = "mark" not in (first.kind, last.kind)
        if whole and key(row.text[first.start : last.end]) in words.keys:
            end = limit
        else:
            stop = words.match(one.code, one.starts[at], one.starts[limit])
            if stop < 0:
                return None
            end = bisect_left(one.starts, stop)
        if end < len(row.atoms) and _touches(row, end):
            after = row.atoms[end]
            if after.kind != "mark":
                return None
            if after.text in _JOINTS and end + 1 < len(row.atoms) and _touches(row, end + 1):
                return None
        return row.atoms[at].start, row.atoms[end - 1].end

    def _number(self, entry: Entry, one: Coded, at: int, limit: int) -> tuple[int, int] | None:
        row = one.row
        start = row.atoms[at].start
        if row.atoms[at].kind == "quoted":
            return (
                (start, row.atoms[at].end)
                if self._means_number(entry, row.atoms[at].text)
                else None
            )
        if (
            at > 0
            and _touches(row, at)
            and row.atoms[at - 1].kind == "word"
            and row.atoms[at].kind == "word"
        ):
            return None
        end = number_at(
            entry.codecs["value"], entry.row_of("value"), row.text, start, row.atoms[limit - 1].end
        )
        return (start, end) if end > start else None

    def _means_number(self, entry: Entry, written: str) -> bool:
        try:
            decode(entry.codecs["value"], entry.row_of("value"), written)
        except Bad:
            return False
        return True

    def _goes_on(self, entry: Entry, one: Coded, found: tuple[int, int], limit: int) -> bool:
        """Whether a list goes on with a word that is not known."""
        row = one.row
        end = row.atoms[limit - 1].end
        rest = row.text[found[1] : end].lstrip(" \t")
        mark = entry.codecs["value"].divider.strip()
        if not mark or not rest.startswith(mark):
            return False
        # Behind a comma other things may follow than members of the list: `gps, 9600 baud`.
        behind = rest[len(mark) :].lstrip(" \t")[:1]
        return behind.isalpha() and mark not in ",;"

    def _text(self, one: Coded, hit: Hit, limit: int) -> tuple[int, int, bool] | None:
        """A text: in quotes or brackets, else up to a wide gap or the next words of an address."""
        row = one.row
        text, end = row.text, row.atoms[limit - 1].end
        begin = row.atoms[hit.stop - 1].end
        lead = _LEAD.match(text, begin, end)
        first = lead.end() if lead is not None else begin
        if first >= end:
            return None
        quoted = next((atom for atom in row.atoms[hit.stop : limit] if atom.start == first), None)
        if quoted is not None and quoted.kind == "quoted":
            return first, quoted.end, True
        ends = _PARTNERS.get(text[first : first + 1], "")
        close = next((at for at in range(first + 1, end) if text[at] in ends), 0)
        if close:
            inner = text[first + 1 : close]
            start = first + 1 + len(inner) - len(inner.lstrip())
            return start, start + len(inner.strip()), True
        gap = _GAPS.search(text, first + 1, end)
        written = _TAIL.sub("", text[first : gap.start() if gap is not None else end])
        return first, first + len(written), not unfinished(row, hit, signed=True)


def weightiest(hits: list[Hit]) -> Iterator[Hit]:
    """Of hits that end at one place the heaviest, and those as heavy with the same words."""
    best: dict[int, tuple[int, int]] = {}
    for hit in hits:
        rank = (hit.weight, -hit.run)
        if hit.stop not in best or rank > best[hit.stop]:
            best[hit.stop] = rank
    for hit in hits:
        if (hit.weight, -hit.run) == best[hit.stop]:
            yield hit
