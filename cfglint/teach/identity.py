"""The lines by which a dump names itself: board, firmware version, extent, craft."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

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
        "edition",
        "issue",
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
        "brd",
        "mainboard",
        "autopilot",
        "fc",
    ),
    "name": ("name", "craft", "model", "pilot", "called", "aircraft", "named", "callsign"),
}


#: Sections that say what a craft is rather than how it is set.
_ABOUT = frozenset(
    "about identity info information header ident id system sys general craft meta build "
    "firmware device board version aircraft controller unit target export dump file product".split()
)
#: Words that may stand in a name beside the one that says what it is.
_BESIDE = frozenset("name id type model number no is fw firmware version ver".split())
#: So many lines at a dump's beginning are a title, whatever they look like.
_TITLE = 3


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
    for row in rows:
        counts[row.file] += 1
        if counts[row.file] > 40 or row.kind in ("section", "section_end", "refusal"):
            continue
        inside = bool(row.sections) and row.kind == "assignment"
        if inside and not _ABOUT & set(split(row.sections[-1])):
            continue
        found = _said_by_name(row) if inside else _fields(row, counts[row.file] <= _TITLE)
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


def _said_by_name(row: Row) -> tuple[str, dict[str, str], str] | None:
    """A line of a section about the craft: its name says what it is."""
    value = row.value.strip()
    bare = value.strip("\"'")
    words = set(split(row.name))
    for field in ("firmware", "board", "name"):
        mine = words & set(_WORDS_OF[field])
        # `name` may be the firmware's as well.
        if not bare or not mine or mine == {"name"} or words - mine - _BESIDE:
            continue
        if field == "firmware" and not _VERSION.fullmatch(bare):
            continue
        at = row.text.rindex(bare)
        first = at + (bare[:1] in "vVrR" if field == "firmware" else 0)
        form = re.sub(r"\s+", " ", f"{row.text[:first]}{{{field}}}{row.text[at + len(bare) :]}")
        return form, {field: row.text[first : at + len(bare)]}, ""
    return None


def _fields(row: Row, title: bool) -> tuple[str, dict[str, str], str] | None:
    """An identity line's form and what it says; None for a line that says nothing of the kind.

    ``title`` says that it is one of a dump's first lines, which need not name what they say.
    """
    text = row.text
    # `mossy v0.31 brd mk2` is no setting called mossy.
    title = title and (row.kind != "assignment" or len(text.split()) >= 3)
    if row.kind == "assignment" and not title:
        kinds = {idea for word in split(row.name) for idea, w in ideas(word) if w >= 0.9}
        if not kinds & {"version", "board"}:
            return None
    spots: list[_Spot] = []
    version = _version_in(row, title)
    if version is not None:
        spots.append((*version, "firmware"))
    board = _board_in(text, spots, title)
    if board is not None and _free(spots, board):
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
    if name is not None and row.kind != "assignment" and _free(spots, name):
        spots.append((*name, "name"))
    extent = ""
    for kind, pattern in (("full", _FULL), ("changes", _CHANGES)):
        match = pattern.search(text)
        if match and _free(spots, match.span()):
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
        if _free(spots, match.span()):
            other += 1
            spots.append((match.start(), match.end(), f"other{other}"))
    # A month's day, an hour: small numbers beside such parts vary as well.
    for match in re.finditer(r"(?<![\w.])\d+(?![\w.])", text) if other else ():
        if _free(spots, match.span()):
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


#: Where something stands in a line, from and to, and what it is.
_Spot = tuple[int, int, str]


def _free(spots: Sequence[_Spot], place: tuple[int, int]) -> bool:
    """Whether nothing that was found reaches into a place."""
    return not any(start < place[1] and place[0] < stop for start, stop, _ in spots)


def _version_in(row: Row, title: bool) -> tuple[int, int] | None:
    """Where a line says a version."""
    text, lower = row.text, row.text.lower()
    versions = list(_VERSION.finditer(text))
    if not versions:
        return None
    chosen = max(versions, key=lambda m: _near(lower, m.start(), _WORDS_OF["firmware"]))
    near = _near(lower, chosen.start(), _WORDS_OF["firmware"])
    if not near and row.kind not in ("assignment", "comment", "command"):
        return None
    # A number with a point in a sentence is no version, unless it is said to be one.
    length = len(text.split())
    named = title and length <= 12 and re.search(r"[A-Za-z]\s+$", text[: chosen.start()])
    short = row.kind == "comment" and length <= 8
    if not (near or chosen.group()[:1] in "vVrR" or short or named):
        return None
    rest = re.match(r"-\w+", text[chosen.end(1) :])  # `3.3-fen` is one word
    return chosen.start(1), chosen.end(1) + (rest.end() if rest else 0)


_NO_BOARD = ("This", "The", "For")


def _board_in(text: str, spots: Sequence[_Spot], title: bool) -> tuple[int, int] | None:
    """Where a line says a board: behind a word for one, before it, or beside a version."""
    words = _WORDS_OF["board"]
    # Where all is in capitals, only a number or a joint tells a name from a word.
    capital = r"[A-Z][A-Z0-9_]*\-[A-Z0-9_\-]+" if text.isupper() else r"[A-Z][A-Z0-9_\-]{2,}"
    board = _after(text, words, rf"[A-Za-z][\w\-]*\d[\w\-]*|{capital}", quoted=True)
    if board is not None:
        return board
    before = re.search(rf"\b([A-Z][\w\-]{{2,}})\s+(?:{'|'.join(words[:8])})\b", text)
    if before and before[1] not in _NO_BOARD:
        return before.span(1)
    on = re.search(
        r"\b(?:on|for|at)\s+\"?([A-Z][A-Z0-9_\-]{2,}|[A-Za-z]\w*[\w\-]*\d[\w\-]*)(?![\w:])", text
    )
    if on and spots and title:
        return on.span(1)
    named = [
        match.span()
        for match in re.finditer(r"\b[A-Z][A-Z0-9_\-]*\d[A-Z0-9_\-]*\b", text)
        if _free(spots, match.span())
    ]
    return named[0] if spots and len(named) == 1 else None


def _near(lower: str, at: int, words: Sequence[str]) -> int:
    """How close before a place one of the words stands: 0 for not at all."""
    before = re.findall(r"[a-z]+", lower[max(0, at - 40) : at])
    for back, word in enumerate(reversed(before[-3:])):
        if word in words:
            return 3 - back
    return 0


def _after(
    text: str, words: Sequence[str], what: str, *, quoted: bool = False
) -> tuple[int, int] | None:
    """The place of what follows one of the words, a mark or two between."""
    quote = '"?' if quoted else ""
    for match in re.finditer(
        rf"(?i:\b(?:{'|'.join(words)}))\b(?=\"?\s*(?:is\b|called\b|:|=|-|,)?\s*{quote}(?P<it>{what}))",
        text,
    ):
        if match["it"].lower().strip('"') not in {w for group in _WORDS_OF.values() for w in group}:
            return match.span("it")
    return None
