"""What a dump's own comments say of its numbers: `uses: 1 receiver, 2 telemetry, 4 gps`."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.teach.fits import known_baud
from cfglint.teach.meanings import TABLES, best, is_nothing
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.teach.lines import Row

_WORD = r"\d?[A-Za-z][\w\-/+]*(?: [A-Za-z][\w\-]*){0,2}"
_PAIR = re.compile(
    rf"(?<![\w.])(\d{{1,6}})(?:\s*(?:=|:|->|is|-|\)|for|means)\s*|\s+)({_WORD})(?=\s*(?:[,;|/.)\]]|$|\d|and\b|or\b))"
)
_TURNED = re.compile(
    rf"({_WORD})\s*(?:=|:|->|is|\()\s*(\d{{1,6}})\)?(?=\s*(?:[,;|/.)\]]|$|and\b|or\b))"
)
_SPEEDS = re.compile(
    r"(?<![\w.])(\d{1,2})\s*(?:=|:|->|is|-|\))?\s*(\d{4,7})(?=\s*(?:[,;|/.)\]]|$))"
)

#: `steps of 12 from 776`, `776 + 12 x n`: the step and where it starts, in µs.
_STEPS = re.compile(
    r"(?i)\bsteps?\b[^\d.;]{0,12}(?P<step>\d{1,3}(?:\.\d+)?)\s*(?:us|µs|microseconds)?[ ,;]+"
    r"(?:from|above|starting at|start at|on top of|over|counted from)\s+(?P<offset>\d{3,4})\b"
    r"|(?<![\d.])(?P<offset2>\d{3,4})\s*\+\s*(?P<step2>\d{1,3}(?:\.\d+)?)\s*[x*×·]"
)

#: What ends a comment that is written around.
_CLOSER = re.compile(r"\s*(?:\*\)|\*/|-->)\s*$")

#: What a comment's other words say a table is about.
_ABOUT = {
    "motor.signal": {"signal", "motor", "esc", "output"},
    "receiver.link": {"link", "receiver"},
    "failsafe.action": {"failsafe", "action"},
    "battery.chemistry": {"chemistry", "battery", "cell"},
    "port.N.functions": {"functions", "port"},
    "mode": {"range", "aux"},
}


def legends(rows: Sequence[Row]) -> dict[str, dict[str, str]]:
    """Subject (a setting's name, or ``mode``) → written number → neutral word, as comments say."""
    found: dict[str, dict[str, str]] = {}
    scores: dict[str, float] = {}
    for text in _comments(rows):
        pairs = _PAIR.findall(text)
        turned = [(number, word) for word, number in _TURNED.findall(text)]
        pairs = max(pairs, turned, key=len)
        if len(pairs) >= 2:
            subject, score, table = _subject(text, pairs)
            if subject and score > scores.get(subject, 0.0):
                found[subject], scores[subject] = table, score
        speeds = [(code, baud) for code, baud in _SPEEDS.findall(text) if known_baud(baud)]
        if len(speeds) >= 2 and len(speeds) > scores.get("baud", 0):
            found["port.N.baud"] = dict(speeds)
            found["receiver.baud"] = dict(speeds)
            scores["baud"] = len(speeds)
    return found


def steps(rows: Iterable[Row]) -> tuple[float, float] | None:
    """The offset and step of pulses, in µs, as the one comment that speaks of steps says."""
    found = {
        (float(match["offset"] or match["offset2"]), float(match["step"] or match["step2"]))
        for text in _comments(rows)
        for match in _STEPS.finditer(text)
    }
    return found.pop() if len(found) == 1 else None


def _comments(rows: Iterable[Row]) -> list[str]:
    """Comments, those that stand together joined as well: a legend may go over several lines."""
    out: list[str] = []
    run: list[str] = []
    last = ("", -2)
    for row in rows:
        if row.kind != "comment":
            continue
        if (row.file, row.number - 1) != last and run:
            out.append(" , ".join(run))
            run = []
        text = _CLOSER.sub("", row.value)
        run.append(text)
        out.append(text)
        last = (row.file, row.number)
    if len(run) > 1:
        out.append(" , ".join(run))
    return list(dict.fromkeys(out))


def _subject(text: str, pairs: Sequence[tuple[str, str]]) -> tuple[str, float, dict[str, str]]:
    """The table that a comment's pairs speak of, how well, and the pairs understood."""
    words = {word for _, words in pairs for word in split(words)}
    about = {
        idea for word in split(text) if word not in words for idea, w in ideas(word) if w >= 0.8
    }
    results: list[tuple[float, str, dict[str, str]]] = []
    for subject in TABLES:
        if subject == "join":
            continue
        table: dict[str, str] = {}
        good = 0.0
        for number, word in pairs:
            if subject == "port.N.functions" and is_nothing(word):
                table[number] = "nothing"
                good += 0.5
                continue
            meant, weight = best(subject, word)
            if weight < 0.55:
                meant, weight = best(subject, word.split(" ")[0])
            if weight >= 0.55:
                good += weight
            # A word that means more than one thing is better asked about.
            if weight >= 0.78 and meant not in table.values():
                table[number] = meant
        share = good / len(pairs)
        if share >= 0.5 and len(table) >= 2:
            hint = 0.3 if about & _ABOUT[subject] else 0.0
            results.append((share + hint + 0.02 * len(table), subject, table))
    if not results:
        return "", 0.0, {}
    results.sort(key=lambda row: -row[0])
    score, subject, table = results[0]
    return subject, score + 0.05 * len(table), table
