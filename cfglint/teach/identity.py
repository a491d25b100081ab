"""The lines by which a dump names itself: board, firmware version, extent, craft."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row

_VERSION = re.compile(r"(?<![\w.])[vVrR]?(\d{1,3}(?:\.\d{1,4}){1,3})(?![\w.]*\d{5})(?![\d:]|\.\d)")
_DATE = re.compile(
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}|\d{1,2}:\d{2}(?::\d{2})?|"
    r"\b(?=[0-9a-f]*\d)(?=[0-9a-f]*[a-f])[0-9a-f]{6,40}\b|\b\d{6,}\b"
)
_MONTH = re.compile(
    r"(?i)\b(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\b|\b(?:19|20)\d\d\b"
)
_FULL = re.compile(r"(?i)\b(full|all|everything|complete|whole|entire|total)\b")
_CHANGES = re.compile(
    r"(?i)\b(diff|diffs|changes|changed|differences|delta|deltas|partial|nondefault)\b"
)
_WORDS_OF = {
    "firmware": (
        "version",
        "firmware",
        "release",
        "build",
        "fw",
        "rev",
        "revision",
        "ver",
        "software",
        "sw",
        "code",
    ),
    "board": (
        "board",
        "target",
        "hardware",
        "hw",
        "unit",
        "controller",
        "mcu",
        "platform",
        "device",
        "pcb",
    ),
    "name": ("name", "craft", "model", "pilot", "called", "aircraft", "named", "callsign"),
}


class Identity(NamedTuple):
    """Forms of identity lines, the words of a dump's extent, and what the samples say."""

    lines: tuple[str, ...]
    full: str
    changes: str
    said: dict[str, list[str]]
    numbers: frozenset[tuple[str, int]]
    reasons: tuple[str, ...]


def identity_of(rows: Sequence[Row]) -> Identity:
    """How the samples name themselves, by their first lines (up to 40 of each)."""
    forms: list[str] = []
    said: dict[str, list[str]] = {}
    numbers: set[tuple[str, int]] = set()
    words = {"full": "", "changes": ""}
    reasons: list[str] = []
    counts: Counter[str] = Counter()
    have: set[str] = set()
    named: set[str] = set()
    shared = Counter(row.text for row in rows)
    for row in rows:
        counts[row.file] += 1
        if counts[row.file] > 40 or row.kind in ("section", "section_end", "refusal"):
            continue
        if row.sections and row.kind == "assignment":
            continue
        found = _fields(row, shared)
        if found is None:
            continue
        form, values, extent = found
        new = set(values) - have
        if form not in forms:
            # Another sample may say it another way: with a date, say.
            other = "firmware" in values and row.file not in named
            if not (new or other) or len(forms) >= 5:
                continue
            forms.append(form)
            reasons.append(f"line {row.number} says {' and '.join(sorted(values))}")
            have |= set(values)
        numbers.add((row.file, row.number))
        if "firmware" in values:
            named.add(row.file)
        for field, text in values.items():
            said.setdefault(field, []).append(text)
        if extent:
            words[extent] = values.get("extent", "")
    return Identity(
        tuple(forms), words["full"], words["changes"], said, frozenset(numbers), tuple(reasons)
    )


def _fields(row: Row, shared: Counter[str]) -> tuple[str, dict[str, str], str] | None:
    """An identity line's form and what it says; None for a line that says nothing of the kind."""
    text = row.text
    if row.kind == "assignment":
        kinds = {idea for word in split(row.name) for idea, w in ideas(word) if w >= 0.9}
        if not kinds & {"version", "board"}:
            return None
    spots: list[tuple[int, int, str]] = []
    lower = text.lower()
    versions = list(_VERSION.finditer(text))
    if versions:
        chosen = max(versions, key=lambda m: _near(lower, m.start(), _WORDS_OF["firmware"]))
        near = _near(lower, chosen.start(), _WORDS_OF["firmware"])
        if row.kind == "assignment" or near or row.kind in ("comment", "command"):
            # A number with a point in a sentence is no version, unless it is said to be one.
            short = row.kind == "comment" and len(text.split()) <= 8
            if near or chosen.group()[:1] in "vVrR" or short:
                spots.append((chosen.start(1), chosen.end(1), "firmware"))
    board = _after(text, _WORDS_OF["board"], r"[A-Za-z][\w\-]*\d[\w\-]*|[A-Z][A-Z0-9_\-]{2,}")
    if board is None:
        before = re.search(
            rf"\b([A-Z][\w\-]{{2,}})\s+(?:{'|'.join(_WORDS_OF['board'][:8])})\b", text
        )
        board = (
            before.span(1)
            if before and not before[1].islower() and before[1] not in ("This", "The", "For")
            else None
        )
    if board is None and spots:
        named = [
            m
            for m in re.finditer(r"\b[A-Z][A-Z0-9_\-]*\d[A-Z0-9_\-]*\b", text)
            if not any(a < m.end() and m.start() < b for a, b, _ in spots)
        ]
        board = named[0].span() if len(named) == 1 else None
    if board is not None and not any(a < board[1] and board[0] < b for a, b, _ in spots):
        spots.append((*board, "board"))
    if not spots and row.kind == "comment" and len(text.split()) <= 5:
        called = re.search(
            r"(?i)\b(?:craft|model|aircraft|name|called|craft name|callsign)\b\s*(?:is\b|:|=)\s*"
            r"(?P<it>\"[^\"]+\"|[A-Za-z][\w\-]*(?: [A-Z][\w\-]*)?)\s*$",
            text,
        )
        if called:
            form = re.sub(r"\s+", " ", text[: called.start("it")]) + "{name}"
            return form, {"name": called["it"].strip('"')}, ""
    if not spots:
        return None
    name = _after(text, _WORDS_OF["name"], r"\"[^\"]+\"|[A-Za-z][\w\-]*")
    if (
        name is not None
        and row.kind != "assignment"
        and not any(a < name[1] and name[0] < b for a, b, _ in spots)
    ):
        spots.append((*name, "name"))
    extent = ""
    for kind, pattern in (("full", _FULL), ("changes", _CHANGES)):
        match = pattern.search(text)
        if match and not any(a < match.end() and match.start() < b for a, b, _ in spots):
            start, stop = match.span()
            # At the end of the line the whole phrase says it: `changes only`.
            tail = text[stop:]
            if re.fullmatch(r"(?: [A-Za-z]+){1,2}", tail):
                stop = len(text)
            spots.append((start, stop, "extent"))
            extent = kind
            break
    other = 0
    for match in (*_DATE.finditer(text), *_MONTH.finditer(text)):
        if not any(a < match.end() and match.start() < b for a, b, _ in spots):
            other += 1
            spots.append((match.start(), match.end(), f"other{other}"))
    # A month's day, an hour: small numbers beside such parts vary as well.
    for match in re.finditer(r"(?<![\w.])\d+(?![\w.])", text) if other else ():
        if not any(a < match.end() and match.start() < b for a, b, _ in spots):
            other += 1
            spots.append((match.start(), match.end(), f"other{other}"))
    spots.sort()
    out, values, at = [], {}, 0
    previous_end = -1
    for start, stop, field in spots:
        if start == previous_end:
            return None
        out.append(text[at:start])
        out.append("{" + field + "}")
        values[field] = text[start:stop].strip('"')
        at = previous_end = stop
    out.append(text[at:])
    said = {k: v for k, v in values.items() if not k.startswith("other")}
    form = re.sub(r"\s+", " ", "".join(out))
    # From a date on, the rest of a line is written in more than one way.
    first = form.find("{other")
    if first >= 0 and not any("{" + field + "}" in form[first:] for field in said):
        form = form[:first] + "{rest}"
    return form, said, extent


def _near(lower: str, at: int, words: Sequence[str]) -> int:
    """How close before a place one of the words stands: 0 for not at all."""
    before = re.findall(r"[a-z]+", lower[max(0, at - 40) : at])
    for back, word in enumerate(reversed(before[-3:])):
        if word in words:
            return 3 - back
    return 0


def _after(text: str, words: Sequence[str], what: str) -> tuple[int, int] | None:
    """The place of what follows one of the words, a mark or two between."""
    for match in re.finditer(
        rf"(?i:\b(?:{'|'.join(words)}))\b\"?\s*(?:is\b|:|=|-)?\s*(?P<it>{what})", text
    ):
        if match["it"].lower().strip('"') not in {w for group in _WORDS_OF.values() for w in group}:
            return match.span("it")
    return None
