"""Entries: each name of a sample with the value that stands behind it, whatever divides them.

Where no mark tells the name from the value, the leading words are the name, up to a number, a
quoted text, a word that is known as a value, or the place where samples begin to differ.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, NamedTuple

from cfglint.teach.meanings import YES_NO
from cfglint.teach.sense import best, english

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.dump.layout import Row

_SPLIT = re.compile(
    r"[ \t\xa0]{2,}|\t|[ \t]*[;│┃|][ \t]*|[ \t]+·[ \t]+|[ \t]*(?:\.{3,}|…|·{3,})[ \t]*"
)
_LEADER = re.compile(r"[ \t]*(?:\.{3,}|…|·{3,})[ \t]*")
#: What stands between a name and its value, the surest first.
_BETWEEN = re.compile(
    r"[ \t]*(?:=>|->|:=|→|⇒|▸|»(?=\s)|=)[ \t]*|[ \t]+>[ \t]+|[ \t]*:(?![/\d])[ \t]*|(?<=\D):(?=\d)|(?<=\w):[ \t]+(?=\d)"  # noqa: E501
)
#: A mark between a name and its value where columns are aligned: blanks stand before it.
_LEADS = re.compile(r"(?:=>|->|:=|→|⇒|▸|=|:|>)(?=[ \t])")
#: A name with a sign that says whether it is on: `inv-`.
_SIGNED = re.compile(r"([^\W\d_][\w\-]*?)([+\-])")
#: What counts the lines of a form: `B.4`.
#: What counts a row, or says where in a memory it stands.
_COUNT = re.compile(r"[A-Z]\.?\d{1,2}(?:\.\d{1,2})?[.)]?|(?:0x)?\d[0-9A-F]{3}:?")
_CALL = re.compile(r"([^\W\d_][\w.\-]*(?: [\w.\-]+)*)\(([^()]*)\)[ \t]*;?")
_MORE = re.compile(r"([^\W\d_]{2,}(?:[ \-][^\W\d_]+)*)[ ]([+\-]?\d[\d.,]*[ ]?[^\W\d_]{0,4}%?)")
_TOKEN = re.compile(r"\"[^\"]*\"|«[^»]*»|»[^«]*«|\S+")
_NUMBER = re.compile(
    r"[0-9A-F]{1,8}h|[+\-\u2212±]?[.,]?\d[\d.,'\u202f\xa0]*[^\s\d]{0,8}|0[xX][0-9A-Fa-f]+h?"
)
_FLAGS = frozenset(word for pair in YES_NO for word in pair if not word.isdigit()) - {
    "in",
    "do",
    "with",
    "set",
    "high",
    "low",
    "out",
    "used",
    "t",
    "f",
    "x",
}
_VALUE_TABLES = (
    "motor.signal",
    "receiver.link",
    "failsafe.action",
    "battery.chemistry",
    "port.N.functions",
)


class Entry(NamedTuple):
    """One name and its value; ``start`` to ``end`` are the value's characters in its line.

    ``alone`` says that nothing else stands in its line, ``sure`` that a mark divides the two.
    """

    sample: int
    row: Row
    titles: tuple[str, ...]
    heading: str
    name: str
    value: str
    start: int
    end: int
    alone: bool
    sure: bool
    note: str = ""
    #: What stands over it, for a value in a table of one row.
    column: str = ""
    #: Its whole row with the value in its place, where the name is no part of the row.
    form: str = ""


class Chunk(NamedTuple):
    """A piece of a row; ``leader``: dots lead to it, ``closed``: the next piece is another's."""

    text: str
    start: int
    leader: bool
    closed: bool


_SENTENCE = re.compile(r"[^\W\d_]\S* (?:[^.]|\.(?=\S))*\w\.")


def text_of(row: Row) -> tuple[str, int]:
    """A row's own text, without marks around, and where it begins."""
    if not row.atoms:
        return "", row.start
    start = row.atoms[0].start
    text = row.text[start : min(row.note, row.atoms[-1].end)]
    bare = text.rstrip(" \t,;│|")
    if _SENTENCE.fullmatch(bare):
        bare = bare[:-1]  # the full stop of a sentence
    lead = (
        len(bare) - len(bare.lstrip("│├└─╰╭┌┐┘|>▸•*·-–— \t"))
        if not re.match(r"[-+]?\d", bare)
        else 0
    )
    closers = {"[": "]", "{": "}", "(": ")", "<": ">"}
    whole = bare[lead:]
    if len(whole) > 2 and closers.get(whole[0]) == whole[-1] and whole.count(whole[0]) == 1:
        # A row in brackets: they are none of its words.
        inner = whole[1:-1]
        return inner.strip(), start + lead + 1 + len(inner) - len(inner.lstrip())
    return bare[lead:], start + lead


_PAIRED = re.compile(
    r"[\"']?[^\W\d_][\w \-.]*[\"']?[ \t]*(?::(?!/)|=)[ \t]*(?:\"[^\"]*\"|\[[^\]]*\]|[^,\[\]\"]+)"
)
_OBJECT = re.compile(r"([^\W\d_][\w \-]*?)[ \t:=]*[{(\[][ \t]*(.+?)[ \t]*[})\]]+[,;]?")


#: Names each with their values without a blank between: `link=sbus port=2`.
_TIGHT = r"[\w.\-]*[^\W_](?:\[\w*\])?[=:](?:\"[^\"]*\"|(?!/)[^\s=:\"]+)"
_TIGHTS = rf"{_TIGHT}(?:[ \t]*[,;]?[ \t]+{_TIGHT})+[,;]?"
#: What stands before them is a title of theirs.
_LED = re.compile(rf"([^\W\d_][\w \-]*?)[ \t:]+({_TIGHTS})")


#: A number with what is stuck to it, as a value in a row of several.
_VALUED = re.compile(r"[±+\-]?\d[\d.,]*(?:[^\W\d_]{1,3}|%)?")


def _chain(text: str) -> list[tuple[int, int]]:
    """Names each with a number or an answer, nothing between: `full 4.2 V warn 3.5 V`."""
    tokens = list(re.finditer(r"\S+", text))
    if not 4 <= len(tokens) <= 16 or re.search(r"[,;:=|]|  ", text):
        return []
    found: list[tuple[int, int]] = []
    names: list[re.Match[str]] = []
    numbers = 0
    for at, token in enumerate(tokens):
        number = bool(_VALUED.fullmatch(token.group()))
        if number or (names and token.group().lower() in _FLAGS):
            if not names or len(names) > 3 or _counts(names[-1].group()):
                return []
            found.append((names[0].start(), token.end()))
            names, numbers = [], numbers + number
        elif at and not names and found[-1][1] == tokens[at - 1].end() and _unit(token.group()):
            found[-1] = (found[-1][0], token.end())
        elif re.match(r"[^\W\d_]", token.group()):
            names.append(token)
        else:
            return []
    return found if len(found) > 1 and numbers and not names else []


def _pairs(text: str) -> list[tuple[int, int]]:
    """The pairs that a text is made of, `kind: lipo, count: 4`; empty where it is not."""
    if re.fullmatch(_TIGHTS, text):
        return [match.span() for match in re.finditer(_TIGHT, text)]
    if chain := _chain(text):
        return chain
    found, at = [], 0
    while at < len(text):
        match = _PAIRED.match(text, at)
        if match is None:
            return []
        found.append((match.start(), match.end()))
        gap = re.match(r"[ \t]*[,;]?[ \t]*", text[match.end() :])
        at = match.end() + (gap.end() if gap else 0)
    return found if len(found) > 1 else []


def chunks(row: Row, inner: tuple[str, int] | None = None) -> list[Chunk]:
    text, start = inner or text_of(row)
    if pairs := _pairs(text):
        return [Chunk(text[a:b].strip(), start + a, leader=False, closed=True) for a, b in pairs]
    out, at, leader = [], 0, False
    for match in _SPLIT.finditer(text):
        if match.start() == 0 or _quoted(text, match.start()):
            continue
        if _LEADS.match(text, match.end()):
            continue  # blanks before the mark between a name and its value
        closed = match.group().strip() in (";", "·")
        out.append(Chunk(text[at : match.start()].strip(), start + at, leader, closed))
        leader = bool(_LEADER.fullmatch(match.group()))
        at = match.end()
    out.append(Chunk(text[at:].strip(), start + at, leader, closed=True))
    return [part for chunk in out if chunk.text for part in _by_comma(chunk)]


def _by_comma(chunk: Chunk) -> list[Chunk]:
    """`Then sink, after 3 s`: what stands behind the comma is another name and value."""
    match = re.fullmatch(
        r"([^\d,:=]*[^\W\d_][ ]+[^\d,:=]+),[ ]+([^\W\d_][^,:=\d]*[ ]\d.*)", chunk.text
    )
    if match is None or chunk.leader:
        return [chunk]
    return [
        Chunk(match[1].strip(), chunk.start, chunk.leader, closed=True),
        Chunk(match[2], chunk.start + match.start(2), leader=False, closed=chunk.closed),
    ]


def _quoted(text: str, at: int) -> bool:
    return text.count('"', 0, at) % 2 == 1


def titles_of(row: Row) -> tuple[tuple[str, ...], str]:
    """The titles over a row as texts, outermost first, and the comment above it."""
    path, heading = [], ""
    for title in row.titles:
        words = " ".join(atom.text for atom in title.atoms if atom.kind != "mark")
        if title.style == "comment":
            heading = words
        elif words:
            path.append(words)
    return tuple(path), heading


def steady(rows: Sequence[tuple[int, Row]]) -> list[tuple[int, Row]]:
    """Rows without titles that differ from sample to sample over the same rows: `of 3 May`."""
    where: dict[str, set[int]] = defaultdict(set)
    under: dict[str, set[str]] = defaultdict(set)
    for sample, row in rows:
        head = " ".join(atom.text for atom in row.atoms[:2])
        for title in row.titles:
            where[title.code].add(sample)
            under[title.code].add(head)
    loose = {
        one
        for one, heads in under.items()
        for other, theirs in under.items()
        if not where[one] & where[other] and len(heads & theirs) >= max(3, 0.4 * len(heads))
    }
    return [
        (sample, row._replace(titles=tuple(t for t in row.titles if t.code not in loose)))
        for sample, row in rows
    ]


def known_value(text: str) -> bool:
    """Whether a text is the trade's word for something that is set."""
    bare = english(text.strip(" \"'«»")).lower()
    if bare in _FLAGS or bare in ("✓", "✗", "[x]", "[ ]"):
        return True
    return any(best(table, bare)[1] >= 0.9 for table in _VALUE_TABLES[:4])


class Heads:
    """The beginnings of chunks that share their titles and first word, over all samples.

    ``long`` counts of how many words names are, where a number shows their end.
    """

    def __init__(self) -> None:
        self.long: dict[str, Counter[int]] = defaultdict(Counter)
        self.seen: dict[tuple[str, str], list[tuple[str, ...]]] = defaultdict(list)

    def note(self, under: str, tokens: Sequence[str]) -> None:
        number_at = next((n for n, token in enumerate(tokens) if n and _NUMBER.fullmatch(token)), 0)
        if number_at:
            self.long[""][number_at] += 1
        if tokens:
            self.seen[under, tokens[0].lower()].append(tuple(tokens))

    def usual(self) -> int:
        """Of how many words almost every name is, 0 where they differ."""
        counts = self.long[""]
        many, count = counts.most_common(1)[0] if counts else (0, 0)
        return many if count >= 0.75 * sum(counts.values()) and count >= 8 else 0

    def shared(self, under: str, tokens: Sequence[str]) -> int:
        """How many leading tokens another chunk shares with this one before they differ."""
        longest = 0
        for other in self.seen.get((under, tokens[0].lower()), ()):
            same = 0
            for mine, theirs in zip(tokens, other, strict=False):
                if mine.lower() != theirs.lower():
                    break
                same += 1
            if same < len(tokens) and same < len(other):
                longest = max(longest, same)
        return longest


def _under(row: Row) -> str:
    return "/".join(re.sub(r"\d+", "#", one) for one in titles_of(row)[0])


def heads_of(rows: Sequence[tuple[int, Row]]) -> Heads:
    heads = Heads()
    for _, row in rows:
        if not row.comment and row.atoms:
            for chunk in chunks(row):
                heads.note(_under(row), [m.group() for m in _TOKEN.finditer(chunk.text)])
    return heads


def _counts(word: str) -> bool:
    from cfglint.teach.words import ideas, split

    return any(
        idea in ("channel", "port", "aux")
        for part in split(english(word))
        for idea, sure in ideas(part)
        if sure >= 0.9
    )


def _unit(text: str) -> bool:
    from cfglint.teach.readings import is_unit

    return is_unit(text)


def split_chunk(text: str, under: str, heads: Heads, last: bool) -> tuple[int, int, bool] | None:
    """Where a chunk's name ends and its value begins, and whether a mark says so."""
    for match in _BETWEEN.finditer(text):
        if (
            match.start()
            and not _quoted(text, match.start())
            and re.search(r"[^\W\d_]", text[: match.start()])
        ):
            more = _MORE.fullmatch(text, match.end())
            if more is not None and not known_value(more[1]):
                # `each cell: full 4.20 V`
                return more.end(1), more.start(2), True
            return match.start(), match.end(), True
    tokens = list(_TOKEN.finditer(text))
    if len(tokens) < 2:
        return None
    for place, token in enumerate(tokens[1:], 1):
        if not any(re.search(r"[^\W\d_]{2}", one.group()) for one in tokens[:place]):
            continue
        if (
            re.fullmatch(r"\d{1,2}", token.group())
            and place + 1 < len(tokens)
            and _counts(tokens[place - 1].group())
            and not _unit(tokens[place + 1].group())
        ):
            continue  # the number of a channel or a port belongs to the name
        if _NUMBER.fullmatch(token.group()) or token.group()[:1] in '"«»':
            return tokens[place - 1].end(), token.start(), False
        if known_value(text[token.start() :]):
            return tokens[place - 1].end(), token.start(), False
    if not last:
        return None
    place = heads.usual() if heads.usual() < len(tokens) else 0
    place = place or heads.shared(under, [token.group() for token in tokens])
    if place == 0:
        place = next((n for n, token in enumerate(tokens) if n and known_value(token.group())), 0)
    if place == 0 and len(tokens) <= 3:
        place = len(tokens) - 1
    return (tokens[place - 1].end(), tokens[place].start(), False) if place else None


def entries_of(rows: Sequence[tuple[int, Row]]) -> list[Entry]:
    """The entries of all rows of all samples."""
    heads = heads_of(rows)
    verbs = _verbs(rows)
    return [
        entry
        for sample, row in rows
        if not row.comment and row.atoms
        for entry in (
            _celled(sample, row, verbs)
            if verbs is not None and _CELLS.fullmatch(row.text.strip())
            else _of(sample, row, heads)
        )
    ]


#: A row of cells with nothing but commas or semicolons between them.
_CELLS = re.compile(r"[^,;\s\"]+(?:[,;](?:\"[^\"]*\"|[^,;\"]*))+")
#: In so many of all rows cells stand where a dump is a sheet of cells.
_SHEET = 0.6


def _verbs(rows: Sequence[tuple[int, Row]]) -> frozenset[str] | None:
    """The first cells that many rows share, where a dump is a sheet of cells; None where not."""
    texts = [row.text.strip() for _, row in rows if not row.comment and row.atoms]
    celled = [
        text for text in texts if _CELLS.fullmatch(text) and len(re.findall("[,;]", text)) > 1
    ]
    if len(celled) < _SHEET * len(texts) or len(celled) < 10:
        return None
    firsts = Counter(re.split("[,;]", text)[0] for text in celled)
    return frozenset(one for one, count in firsts.items() if count >= 3)


def _celled(sample: int, row: Row, verbs: frozenset[str]) -> Iterator[Entry]:
    """The entry of a row of cells: what it is for, its name, its value, its unit."""
    cells = list(re.finditer(r"\"[^\"]*\"|[^,;\"]+", row.text))
    named = 1 if cells and cells[0].group().strip() in verbs else 0
    if len(cells) < named + 2 or not re.search(r"[^\W\d_]", cells[named].group()):
        return
    value = cells[named + 1]
    name = " ".join(cell.group().strip() for cell in cells[: named + 1])
    unit = cells[named + 2].group().strip() if len(cells) > named + 2 else ""
    path, heading = titles_of(row)
    note = f"\1{unit}" if _unit(unit) else ""
    text = value.group()
    yield Entry(
        sample, row, path, heading, name, text, value.start(), value.end(), True, True, note
    )


_LISTED = re.compile(r"[ \t]*/[ \t]*")


def _other_word(whole: str, first: str) -> bool:
    """Whether a phrase means something else than its first word: `CRSF on one wire`."""
    for table in _VALUE_TABLES[:2]:
        word, weight = best(table, english(whole))
        if weight >= 0.6 and word != best(table, first)[0]:
            return True
    return False


def _derived(name: str, value: str, at: int, sure: bool) -> Iterator[tuple[str, str, int, bool]]:
    """An entry and what else stands in its value: lists beside lists of names, pairs of their own."""  # noqa: E501
    names, values = _LISTED.split(name), list(re.finditer(r"[^/]+", value))
    if len(names) > 1 and len(names) == len(values):
        head = re.split(r"[,:]", names[0])
        common = head[0] if len(head) > 1 else ""
        for one, part in zip([head[-1], *names[1:]], values, strict=True):
            lead = len(part.group()) - len(part.group().lstrip())
            yield f"{common} {one}".strip(), part.group().strip(), at + part.start() + lead, sure
        return
    parts = list(re.finditer(r"(?:[^,]|,(?=\d))+", value))
    later = [part for part in parts[1:] if re.match(r"\s*[^\W\d_][^\d]*\s[±+\-]?\d", part.group())]
    first = parts[0].group().rstrip() if later and parts else value
    known = re.match(r"\S+", first)
    if (
        known is not None
        and known.end() < len(first)
        and any(best(t, known.group())[1] >= 0.95 for t in _VALUE_TABLES[:2])
        and not known_value(first)
        and not _other_word(first, known.group())
    ):
        yield name, known.group(), at, sure
        tail = re.match(r"\s*(.*?)\s+(\S+)$", first[known.end() :])
        if tail is not None:
            yield f"{name} {tail[1]}", tail[2], at + known.end() + tail.start(2), False
    else:
        yield name, first, at, sure
    for part in later:
        cut = split_chunk(part.group().strip(), "", Heads(), True)
        if cut is not None:
            lead = len(part.group()) - len(part.group().lstrip())
            yield (
                part.group().strip()[: cut[0]],
                part.group().strip()[cut[1] :],
                at + part.start() + lead + cut[1],
                False,
            )
    both = re.match(r"([\d.,  ]*\d)\s*(?:[^\W\d_]*)\s*(?:±|\+/-|, give or take)\s*(?=\d)", first)
    if both is not None:
        # A middle and how far from it: `1505 ± 17`.
        yield f"{name} dead band", first[both.end() :], at + both.end(), False


_FIGURES = re.compile(r"[+\-]?\d[\d.,]*|[0-9A-F]{1,8}h|0[xX][0-9A-Fa-f]+")


def _noted(found: tuple[str, str, int, bool], note: str) -> list[tuple[str, int, str]]:
    """Several numbers whose names stand in the note behind them: `stick low below, high above, us`."""  # noqa: E501
    head, mark, rest = note.partition(":")
    pieces = [piece.strip() for piece in (rest if mark else note).split(",") if piece.strip()]
    unit = [piece for piece in pieces if re.fullmatch(r"(?i)us|µs|ms|hz|v|mv|%|percent", piece)]
    pieces = [piece for piece in pieces if piece not in unit]
    ways = (r"\S+(?<![,;])", r"[^\s,;/|]+")
    every = [[(m.group(), m.start()) for m in re.finditer(way, found[1])] for way in ways]
    tokens = next((one for one in every if len(one) == len(pieces)), [])
    if len(tokens) < 2 or not all(_FIGURES.fullmatch(text) for text, _ in tokens):
        return []
    first = pieces[0].split()
    common = head if mark else " ".join(first[:1]) if len(first) > 1 else ""
    return [
        (
            text,
            found[2] + at,
            f"\1{common if mark or place else ''} {piece} {' '.join(unit)}".strip(),
        )
        for place, ((text, at), piece) in enumerate(zip(tokens, pieces, strict=True))
    ]


def _piecewise(
    parts: Sequence[Chunk], row: Row, heads: Heads
) -> tuple[list[tuple[str, str, int, bool]], str]:
    """The names and values that the pieces of a row are, and a unit that stands between them."""
    found: list[tuple[str, str, int, bool]] = []
    pending = unit = ""
    for place, chunk in enumerate(parts):
        if place == 0 and len(parts) > 2 and _COUNT.fullmatch(chunk.text):
            continue  # the number of a line in a form
        if found and not pending and _unit(chunk.text):
            continue  # the unit of the value before: `full  4.13  V   empty  3.27  V`
        if pending and len(parts) > place + 1 and re.fullmatch(r"[\[(][^\])]*[\])]", chunk.text):
            # A unit between a name and its value: `idle [%] 5`.
            unit = chunk.text.strip("[]()- ")
            continue
        if chunk.text.endswith("{"):
            continue  # a title
        if (signed := _SIGNED.fullmatch(chunk.text)) is not None and len(parts) > 1:
            at = chunk.start + signed.start(2)
            found.append((signed[1], signed[2], at, True))
            continue
        last = chunk.closed
        cut = None
        leads = place + 1 < len(parts) and parts[place + 1].leader
        if not (pending and chunk.leader) and not leads:
            cut = split_chunk(chunk.text, _under(row), heads, last)
        if pending and cut is not None and not cut[2]:
            cut = None
        if cut is not None:
            value = chunk.text[cut[1] :]
            if value:
                found.append((chunk.text[: cut[0]], value, chunk.start + cut[1], cut[2]))
                pending = ""
            else:
                pending = chunk.text[: cut[0]]
        elif pending and not (row.text.lstrip()[:1] in "|│" and len(parts) > 2):
            found.append((pending, chunk.text, chunk.start, True))
            pending = ""
        elif re.search(r"[^\W\d_]", chunk.text) and not chunk.text.startswith("("):
            pending = chunk.text
        if chunk.closed:
            pending = ""
    return found, unit


def _of(sample: int, row: Row, heads: Heads) -> Iterator[Entry]:
    if re.search(r"\[[ xX]\]", row.text):
        return  # boxes to tick: which of them is ticked is no value of a name
    path, heading = titles_of(row)
    found: list[tuple[str, str, int, bool]] = []
    text, start = text_of(row)
    unit = ""
    call = _CALL.fullmatch(text)
    if call is not None:
        counted = re.match(r"(\d{1,2})[ \t]*,[ \t]*(?=[^\W\d]|\d{3})", call[2])
        if counted is not None:
            # What is called with a number first is one of many: `LossChannel(3, keep)`.
            at = call.start(2) + counted.end()
            found.append((f"{call[1]} {counted[1]}", text[at : call.end(2)], start + at, True))
        else:
            found.append((call[1], call[2], start + call.start(2), True))
    else:
        inner = _OBJECT.fullmatch(text) or _LED.fullmatch(text)
        if (
            inner is not None
            and re.search(r"\w[\"']?[ \t]*[:=][ \t]*\S", inner[2])
            and not re.search(r"[{}]", inner[2])
        ):
            # An object on one line: its name is a title of what stands in it.
            path = (*path, inner[1].strip())
            parts = chunks(row, (inner[2], start + inner.start(2)))
        else:
            parts = chunks(row)
        found, unit = _piecewise(parts, row, heads)
    note = row.text[row.note :].strip(" |~#;/¦-")
    if call is None and unit:
        note = f"\1{unit}"
    found = [one for each in found for one in _derived(*each)]
    if note and len(found) == 1 and (parts_ := _noted(found[0], note)):
        for place, (value, at, said) in enumerate(parts_):
            yield Entry(
                sample,
                row,
                path,
                heading,
                f"{found[0][0].strip()} {place + 1}",
                value,
                at,
                at + len(value),
                False,
                False,
                said,
            )
        return
    for name, value, at, sure in found:
        yield Entry(
            sample,
            row,
            path,
            heading,
            name.strip(),
            value,
            at,
            at + len(value),
            len(found) == 1,
            sure,
            note,
        )


_OFF = re.compile(r"(?i)(?:no|not|without|disable|un|kein|keine|sans)[ \-_]+")


def uncounted(title: str) -> str:
    """A title without the number that counts it: `socket 2` is one of `socket \\0`."""
    return re.sub(r"(?<![\d.])\d{1,2}(?![\d.])", "\0", title, count=1)


def named_flags(rows: Sequence[tuple[int, Row]], entries: Sequence[Entry]) -> list[list[Entry]]:
    """Rows that are nothing but a name, or a name behind a word for no: flags set by being named."""  # noqa: E501
    taken = {(entry.sample, entry.row.line) for entry in entries}
    titles = {(sample, title.line) for sample, row in rows for title in row.titles}
    found: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for sample, row in rows:
        if row.comment or not row.atoms or (sample, row.line) in titles:
            continue
        text, start = text_of(row)
        off = _OFF.match(text)
        bare = text[off.end() :] if off else text
        if not re.fullmatch(r"[^\W\d_][\w\- ]{2,30}", bare) or len(bare.split()) > 3:
            continue
        if (sample, row.line) in taken and off is None:
            continue
        path, heading = titles_of(row)
        found[uncounted(path[-1]) if path else "", bare.lower()].append(
            Entry(
                sample,
                row,
                path,
                heading,
                bare,
                "no" if off else "yes",
                start,
                start + len(text),
                True,
                True,
            )
        )
    return list(found.values())
