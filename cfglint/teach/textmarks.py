"""The marks of a firmware's text, from samples: comments, notes, decimal sign, yes and no."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from cfglint.dump.layout import cells_of, column_of
from cfglint.dump.source import Source
from cfglint.teach.clauses import is_sentence
from cfglint.teach.numerals import number_marks
from cfglint.teach.sense import english

if TYPE_CHECKING:
    from collections.abc import Sequence

_PREFIX = re.compile(
    r"[ \t]*([^\w\s\"'<>\[\](){}$@&=+.,│├└─┌┐┘▏▕╷«»…\-|]{1,3}|--|\||#>|'(?=[ \t])|rem\b"
    r"|\"rem\",|rem,)(?=[\s\w\-\"]|$)",
    re.I,
)
#: A line that ends as it begins is a heading, a border or a row of a table.
_DECOR = re.compile(r"[ \t]*([^\w\s])\1*[ \t].*\1[ \t]*")
_NOTE = re.compile(r"\S[ \t]+(?:([|¦])[ \t]+(?=[^\W\d])|(~|--)[ \t]+(?=\w))")


#: What often begins comments, wherever the first of them stands.
_USUAL = ("#", "//", ";", "--", "!", "%", ";;", "~", "rem")
_WHOLE = (("(*", "*)"), ("/*", "*/"), ("<!--", "-->"), ("{", "}"), ("(", ")"))


def _enclosed(lines: Sequence[str]) -> list[str]:
    """Brackets that hold whole lines of prose and begin no other line."""
    found: list[str] = []
    for mark, end in _WHOLE:
        if any(other.startswith(mark) for other in found):
            continue
        begun = [line.strip() for line in lines if line.strip().startswith(mark)]
        whole = [line for line in begun if line.endswith(end) and len(line.split()) >= 3]
        if (
            begun
            and len(begun) <= 0.25 * len(lines)
            and len(whole) >= 0.6 * len(begun)
            and len(whole) >= 2
        ):
            found.append(mark)
    return found


def comment_marks(sources: Sequence[Source]) -> list[str]:
    """What begins comments: a mark before few of the lines, of which the first or last is one."""
    lines = [line for source in sources for line in source.lines if line.strip()]
    seen: Counter[str] = Counter()
    decorated: Counter[str] = Counter()
    edges: Counter[str] = Counter()
    for source in sources:
        own = [line for line in source.lines if line.strip()]
        for place, line in enumerate(own):
            match = _PREFIX.match(line)
            if match is None:
                continue
            mark = match[1]
            if line[match.end() : match.end() + 1] == mark[-1]:
                continue  # a rule
            seen[mark] += 1
            decorated[mark] += bool(_DECOR.fullmatch(line))
            edges[mark] += place == 0 or place == len(own) - 1
    found: list[str] = []
    for mark, count in seen.most_common():
        if count > 0.3 * len(lines) or decorated[mark] > 0.5 * count:
            continue
        if edges[mark] or (count >= 2 and mark.lower() in _USUAL):
            found.append(mark)
    found += [mark for mark in _enclosed(lines) if mark not in found]
    return [
        mark
        for mark in found
        if not any(mark != other and mark.startswith(other) for other in found)
    ]


def note_marks(sources: Sequence[Source], comments: Sequence[str]) -> list[str]:
    """What begins notes behind values, where it is not what begins comments."""
    lines = [line for source in sources for line in source.lines if line.strip()]
    hits: Counter[str] = Counter()
    for line in lines:
        match = _NOTE.search(line)
        mark = (match[1] or match[2]) if match is not None else ""
        if mark and line.count(mark) == 1 and mark not in comments:
            hits[mark] += 1
    return [mark for mark, count in hits.items() if count >= 0.25 * len(lines)]


_LABEL = re.compile(r"[ \t]*(\d{1,2})\.(\d{1,2})[.)]?[ \t]+(?=[\"“]?[^\W\d_])")
#: So many of the lines begin with an outline's numbers, and so many go on in the next.
_LABELLED, _WRAPPED = 0.4, 0.1


def prose_marks(sources: Sequence[Source]) -> dict[str, Any]:
    """The marks of a text in sentences: clauses with numbers, sentences that go on over lines."""
    out: dict[str, Any] = {}
    lines = [line for source in sources for line in source.lines if line.strip()]
    labels = [match for line in lines if (match := _LABEL.match(line)) is not None]
    steps = sum(
        (int(b[1]), int(b[2])) in ((int(a[1]), int(a[2]) + 1), (int(a[1]) + 1, 1))
        for a, b in pairwise(labels)
    )
    if len(labels) >= _LABELLED * len(lines) and steps >= 0.7 * (len(labels) - 1):
        out["outline"] = True
    bare = [line[match.end() :] if (match := _LABEL.match(line)) else line for line in lines]
    if sum(is_sentence(line.strip().rstrip(".;,:")) for line in bare) < 0.6 * len(lines):
        return out
    goes_on = sum(
        bool(a.strip())
        and a.strip()[-1] not in ".:;!?"
        and bool(re.match(r"[ \t]*(?:[a-z]|\d+[.\d]* [a-z])", b))
        and _LABEL.match(b) is None
        for source in sources
        for a, b in pairwise(source.lines)
    )
    # Where sentences go on over lines, they end somewhere too.
    ends = sum(bool(re.search(r"[.;!](?:[ \t]|$)", line)) for line in bare)
    if goes_on >= _WRAPPED * len(lines) and ends >= 0.5 * goes_on:
        out["wrapped"] = True
    return out


#: How choices are ticked, and how they are not.
_TICKS = (
    ("[x]", "[ ]"), ("[X]", "[ ]"), ("(o)", "( )"), ("(x)", "( )"), ("(X)", "( )"), ("(*)", "( )"),
    ("(•)", "( )"), ("[*]", "[ ]"), ("☑", "☐"), ("☒", "☐"),
)  # fmt: skip


def form_marks(lines: Sequence[str]) -> dict[str, Any]:
    """The marks of a form: lines to write on, and choices of which one is ticked."""
    out: dict[str, Any] = {}
    blanks = [line for line in lines if re.search(r"(?<!\w)__", line)]
    if len(blanks) >= 3 and any(re.search(r"_{2,}[^\s_][^_]*_{2,}", line) for line in blanks):
        out["fill"] = "_"
    counts = {
        (tick, box): sum(line.count(tick) == 1 and line.count(box) >= 1 for line in lines)
        if any(tick in line for line in lines)
        else 0
        for tick, box in _TICKS
    }
    tick, box = max(counts, key=lambda pair: counts[pair])
    choices = sum(line.count(tick) + line.count(box) >= 2 for line in lines)
    if counts[tick, box] and choices >= 3:
        out["tick"], out["box"] = tick, box
    return out


#: What may stand between a value and its name, two blanks for any gap.
_TURNED = ("|", "¦", "<-", "<=", "=", ":", "--", "~", "·", ">", ";", "//", "#", "  ")
_FIGURE = re.compile(r"\W{0,3}\d")
_COUNTED = re.compile(r"\d{1,2}(?:\.\d{1,2})*[.)]?")


def turned(sources: Sequence[Source], comments: Sequence[str]) -> str:
    """What stands between a value and the name behind it, where most lines are so; else ``""``.

    Many of the left sides then begin with a figure, and hardly any of the right ones.
    """
    lines = [line.strip() for source in sources for line in source.lines if line.strip()]
    lines = [line for line in lines if not line.startswith(tuple(comments))]
    for mark in _TURNED:
        sides = [tuple(part.strip() for part in line.split(mark, 1)) for line in lines]
        pairs = [side for side in sides if len(side) == 2 and all(side)]
        if len(pairs) < max(15, 0.5 * len(lines)):
            continue
        left = sum(bool(_FIGURE.match(value)) for value, _ in pairs)
        named = sum(bool(re.match(r"[^\W\d_]{2}", name)) for _, name in pairs)
        # Numbers of an outline count lines, and what has a gap in it is a row of cells.
        counts = sum(bool(_COUNTED.fullmatch(v) or re.search(r"\w  +\w", v)) for v, _ in pairs)
        if left >= 0.4 * len(pairs) and named >= 0.9 * len(pairs) and counts < 0.4 * len(pairs):
            return mark
    return ""


#: What a column of defaults is called, and how one says the same as another.
_DEFAULTS = frozenset(
    "default defaults standard std factory preset stock initial delivered shipped normal original "
    "usual base".split()
)
_DITTOS = ('"', "''", "〃", "ditto", "do.", "idem", "same", "=", "^")


def passed(sources: Sequence[Source]) -> dict[str, Any]:
    """Columns of tables that say nothing of the craft: defaults beside its values, line numbers."""
    names: list[str] = []
    dittos: Counter[str] = Counter()
    for source in sources:
        for at, line in enumerate(source.lines):
            heads = cells_of(line)
            texts = [line[start:end] for start, end in heads]
            words = [set(re.findall(r"[a-z]+", english(text).lower())) for text in texts]
            usual = [place for place, one in enumerate(words) if one & _DEFAULTS and place]
            if len(heads) < 3 or len(usual) != 1 or any(re.search(r"\d", one) for one in texts):
                continue
            columns: list[list[str]] = [[] for _ in heads]
            for row in source.lines[at + 1 : at + 20]:
                cells = cells_of(row)
                for cell in cells if len(cells) > 2 else ():
                    columns[column_of(cell, heads)].append(row[cell[0] : cell[1]])
            values = next((one for place, one in enumerate(columns) if place > usual[0]), [])
            if len(values) < 3 or len(columns[0]) < 3:
                continue
            dittos.update(text for text in values if text in _DITTOS)
            names.append(texts[usual[0]])
            if all(re.fullmatch(r"[\d.]+[.)]?", one) for one in columns[0]) and usual[0] > 1:
                names.append(texts[0])
    out: dict[str, Any] = {}
    if len(names) >= 2 and len(set(names)) <= 2:
        out["passed"] = list(dict.fromkeys(names))
        if dittos:
            out["ditto"] = dittos.most_common(1)[0][0]
    return out


def title_patterns(sources: Sequence[Source], comments: Sequence[str]) -> list[str]:
    """Headings that begin with one word: `TABLE craft`, each behind a blank line."""
    counts: Counter[str] = Counter()
    others: Counter[str] = Counter()
    for source in sources:
        before = ""
        for whole in source.lines:
            note = min(
                (at for mark in comments if (at := whole.find(f" {mark}")) > 0), default=None
            )
            line = whole[:note]
            words = line.split()
            if words and re.fullmatch(r"[.@%:!]?[^\W\d_]{3,}", words[0]):
                heading = not before.strip() and line[:1].strip() and 2 <= len(words) <= 4
                plain = re.fullmatch(r"[^\d:=,;|]+", line) is not None
                (counts if heading and plain else others)[words[0]] += 1
            before = line
    return [
        f"{word} {{title}}" for word, count in counts.items() if count >= 4 and not others[word]
    ]


#: What a terminal prints before a line, and in so many of a sample's lines.
_PROMPT = re.compile(r"[ \t]*([\w@~/.\-\[\]()]*[^\W\d_][\w@~/.\-\[\]()]*[ ]?[>$#%])(?=[ \t])")
_PROMPTED = 0.6


def prompts(sources: Sequence[Source]) -> list[str]:
    """What stands before nearly all lines of a sample, as a terminal prints it."""
    found: list[str] = []
    for source in sources:
        lines = [line for line in source.lines if line.strip()]
        counts = Counter(match[1] for line in lines if (match := _PROMPT.match(line)))
        found += [mark for mark, count in counts.items() if count >= _PROMPTED * len(lines)]
    return list(dict.fromkeys(found))


def _unprompted(source: Source, marks: Sequence[str]) -> Source:
    """A sample without what a terminal prints before its lines."""
    lines = []
    for line in source.lines:
        mark = next((one for one in marks if line.lstrip().startswith(one)), "")
        lines.append(line.lstrip()[len(mark) :].lstrip() if mark else line)
    return Source(source.file, "\n".join(lines), source.encoding)


#: Braces that hold two things or more on one line, in so many of all lines.
_NESTED = re.compile(r"[^\W\d_][\w\-]*[ \t]*\{[ \t]*[^\s{}\":=][^{}:=]*[;{][^{}]*\S")
_MANY = 0.08
#: So many blocks over lines, and in one, show that a bracket nests.
_BLOCKS = 3
#: A note behind braces.
_BEHIND = re.compile(r"[{}][ \t]+(--|//|#|~)[ \t]+\w")


def _nested(lines: Sequence[str]) -> str:
    """The brackets that nest: they hold several things in a line, and others over lines."""
    if sum(bool(_NESTED.search(line)) for line in lines) >= _MANY * len(lines):
        return "{"
    out = ""
    for opening, closing in ("[]", "()"):
        opened = sum(line.rstrip().endswith(opening) for line in lines)
        closed = sum(line.strip(" \t,;])}") == "" and closing in line for line in lines)
        within = re.compile(
            rf"[^\W\d_][\w\-]*(?: \d+)?[ \t]*\{opening}[ \t]*[^\W\d_][\w\-]*[ \t:=]+[^\s,]"
        )
        if min(opened, closed, sum(bool(within.search(line)) for line in lines)) >= _BLOCKS:
            out += opening
    return out


def marks_of(sources: Sequence[Source]) -> dict[str, Any]:
    """The ``[marks]`` of a dialect, as far as the text alone shows them."""
    out: dict[str, Any] = {}
    if terminal := prompts(sources):
        out["prompt"] = terminal if len(terminal) > 1 else terminal[0]
        sources = [_unprompted(source, terminal) for source in sources]
    comments = comment_marks(sources)
    notes = note_marks(sources, comments)
    if comments:
        out["comment"] = comments
    out.update(passed(sources))
    if between := turned(sources, comments):
        out["turned"] = between
        notes = [one for one in notes if one != between]
    if notes:
        out["note"] = notes
    titles = title_patterns(sources, comments)
    if titles:
        out["title"] = titles if len(titles) > 1 else titles[0]
    lines = [line for source in sources for line in source.lines if line.strip()]
    quoted = sum(bool(re.search(r"\"[+\-]?\d[^\"]*\"", line)) for line in lines)
    if quoted >= 0.25 * len(lines):
        out["quotes"] = "spelling"  # numbers stand in quotes as well
    out.update(number_marks(lines))
    out.update(prose_marks(sources))
    out.update(form_marks(lines))
    if nested := _nested(lines):
        out["braces"] = nested
        behind = [match[1] for line in lines if (match := _BEHIND.search(line))]
        notes = [one for one in dict.fromkeys(behind) if behind.count(one) > 1]
        notes = [one for one in notes if one not in comments]
        if notes and "note" not in out:
            out["note"] = notes
    return out
