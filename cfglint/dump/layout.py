"""Layout: which titles stand over each line of a dump, whatever firmware wrote it.

A *row* is one line's atoms.  Its *titles* are the lines that enclose it, outermost first: by
indentation, by a bracket that is still open, as a drawn tree, under an underlined or decorated
heading, in an INI section, under a heading that the dialect describes.  A line that is a title
stays a row as well: what it is, is for the dialect's map to say.  Comments are titles too, the
weakest: a dump's ``-- receiver`` often is all that tells two lines of one name apart.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from itertools import pairwise
from operator import is_not
from typing import TYPE_CHECKING, NamedTuple

from cfglint.dump.atoms import Atom, coded, cut
from cfglint.dump.source import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.dump.source import Source

#: A dump's line is far shorter; a longer one is a file that is no dump, and not worth cutting.
LONGEST_LINE = 65_536
#: A heading is no longer than this.
LONGEST_HEADING = 400
#: Deeper nesting than this is no dump's; what is deeper counts as this deep.
DEEPEST = 40

_OPEN, _CLOSE = "{[(", "}])"
_PAIR = dict(zip(_CLOSE, _OPEN, strict=True))
_DRAWN = "│├└┌┬╰╭─━┃┣┗|`+\\"
_GLYPHS = re.compile(r"[ \t│├└┌┬╰╭─━┃┣┗|`+\\]*(?:[─━├└┣┗╰╭`+][─━-]*+)(?![0-9])[ \t]*")
_RULES = "-=~_*#.─═━^"
_RULE = re.compile(rf"[ \t]*([{_RULES}])\1{{2,}}[ \t]*")
_DECORATED = re.compile(
    r"[ \t]*([=~*#\-+<>_:.─═━■▌|/]{1,})[ \t]*(?=\S)(.*?\S)[ \t]*([=~*#\-+<>_:.─═━■▌|/]*)[ \t]*"
)
_CLOSING_TAG = re.compile(r"[ \t]*+</[^<>]*+>[ \t]*+")
_BRACKETED = re.compile(
    r"[ \t]*(\[+|<|\(|«)[ \t]*([^\]\[<>()=\x22]*?[^\s\x22])[ \t]*(\]+|>|\)|»)[ \t]*[:]?[ \t]*"
)


class Marks(NamedTuple):
    """What a dialect states of its firmware's text; reading never infers it.

    ``comment``: what begins a comment (and with ``note``, what begins a note behind a value);
    ``prompt``: what a terminal prints before a line; ``title`` and ``end``: headings and what
    ends them, as line patterns; ``outline``: lines are numbered ``2.1``, which says how deep
    they stand; ``join``: a line that ends so goes on in the next; ``tick`` and ``box``: what
    stands before the choice that is taken, and before each that is not; ``capitals``: names may
    differ in letter case alone; ``plain_quotes``: quotes are spelling, as brackets are; ``fill``:
    the mark of a line to write on in a form, a blank otherwise; ``wrapped``: sentences go on over
    lines, and each is a row; ``braces``: the brackets that nest wherever they stand in a line;
    ``turned``: what stands between a value and the name behind it; ``passed``: what columns are
    called that say nothing of the craft, as its defaults; ``ditto``: what stands in a column for
    what the one before it says.
    """

    comment: tuple[str, ...] = ()
    prompt: tuple[str, ...] = ()
    note: tuple[str, ...] = ()
    title: tuple[re.Pattern[str], ...] = ()
    end: tuple[re.Pattern[str], ...] = ()
    outline: bool = False
    join: str = ""
    tick: str = ""
    box: str = ""
    capitals: bool = False
    plain_quotes: bool = False
    fill: str = ""
    wrapped: bool = False
    braces: str = ""
    turned: str = ""
    passed: tuple[str, ...] = ()
    ditto: str = ""


#: Where each part of a text of several lines begins, its line, and the column there.
Joins = tuple[tuple[int, int, int], ...]


class Title(NamedTuple):
    """One heading as it stands: its atoms, the line it is on, what made it a title."""

    atoms: tuple[Atom, ...]
    code: str
    line: int
    style: str


class Row(NamedTuple):
    """One line: its atoms (without prompt and comment), the titles over it, outermost first.

    ``note`` is where a note or comment behind the values begins, else the line's end.
    ``comment`` says that the whole line is one; its atoms are then those of its text.  Where the
    row is no whole line, ``joins`` has for each part of ``text`` where it begins, its line, and the
    column there; a ``heading`` is known as a title by its form.
    """

    line: int
    text: str
    atoms: list[Atom]
    titles: tuple[Title, ...]
    comment: bool
    start: int
    note: int
    joins: Joins = ()
    heading: bool = False

    def place(self, start: int, end: int) -> tuple[int, int, int]:
        """The line and characters, as they stand in the file, of a piece of the row's text.

        Of a piece that goes on in the next line only what stands in the first.
        """
        behind = len(self.text)
        for at, line, column in reversed(self.joins):
            if start >= at:
                if end > behind:
                    end = len(self.text[:behind].rstrip(" \t"))
                return line, start - at + column, end - at + column
            behind = at
        return self.line, start, end


class _Line(NamedTuple):
    number: int
    text: str
    start: int
    end: int
    comment: bool
    note: int
    depth: int
    blank: bool


class _Open(NamedTuple):
    """A title that is still open: by ``depth`` of indentation, by bracket, or as a heading."""

    title: Title
    style: str
    depth: int
    bracket: str


def _begins(text: str, at: int, marks: Iterable[str]) -> str:
    """The mark that a text begins with at a place; one that is a word ends where the word does."""
    for mark in marks:
        if text.startswith(mark, at):
            after = text[at + len(mark) : at + len(mark) + 1]
            if not (mark[-1:].isalnum() and after.isalnum()):
                return mark
    return ""


@cache
def _notes(marks: tuple[str, ...]) -> re.Pattern[str]:
    """Quoted texts, and what begins a comment or note behind values: after a blank."""
    words = "|".join(
        re.escape(mark) + (r"(?![^\W_])" if mark[-1:].isalnum() else "")
        for mark in sorted(marks, key=len, reverse=True)
    )
    return re.compile(rf'"[^"]*+"|(?<=[ \t])(?P<mark>{words})')


def _note(text: str, start: int, marks: Marks) -> int:
    """Where a comment or note behind values begins: after a blank, and not in quotes."""
    every = (*marks.comment, *marks.note)
    for mark in every:
        if mark and mark in text:
            break
    else:
        return len(text)
    for match in _notes(tuple(filter(None, every))).finditer(text, start):
        if match["mark"] is not None and match.start() > start:
            return match.start()
    return len(text)


def _measure(text: str, written: str, number: int, marks: Marks) -> _Line:
    """Where a line's own text starts and ends, and how deep it stands.

    ``written`` is the text as it is in the file: where the colours of a terminal are not blanks.
    """
    end = len(text.rstrip(" \t"))
    indented = start = len(text) - len(text.lstrip(" \t"))
    behind, ended = start, True
    while marks.prompt and (mark := _begins(text, start, marks.prompt)):
        behind, ended = start + len(mark), mark[-1] == " "
        start = behind + len(text[behind:end]) - len(text[behind:end].lstrip(" \t"))
    if start >= end:
        return _Line(number, text, end, end, comment=False, note=end, depth=0, blank=True)
    if text.startswith(marks.comment, start) and (mark := _begins(text, start, marks.comment)):
        depth = len(shown(written[:start]))
        return _Line(number, text, start + len(mark), end, True, end, depth, False)
    note = _note(text, start, marks)
    glyphs = _GLYPHS.match(text, 0) if text[start] in _DRAWN else None
    if glyphs is not None and start < glyphs.end() < end:
        start = glyphs.end()
        lead = shown(written[:start])
    elif start == indented and not written[:start].strip(" "):
        lead = written[:start]
    else:
        # Neither a prompt nor the blank that ends it is indentation: a line that was typed stands
        # no deeper than one that was not.
        typed = shown(written[behind:start])
        lead = shown(written[:indented]) + (typed if ended else typed.removeprefix(" "))
        lead = lead.expandtabs(4)
    last = len(text[:note].rstrip(" \t"))
    return _Line(number, text, start, last, False, note, len(lead), False)


class _Stack:
    """The open titles while a dump is gone through."""

    def __init__(self) -> None:
        self.open: list[_Open] = []
        self.styles: list[str] = []
        self.comment: Title | None = None
        self._latest: tuple[Title, ...] = ()
        #: Whether `<name>` is ended by a line `</name>`, and so may hold others.
        self.tags = False

    def titles(self) -> tuple[Title, ...]:
        found = [one.title for one in self.open]
        if self.comment is not None:
            found.append(self.comment)
        # Rows under the same titles share them.
        if len(found) != len(self._latest) or any(map(is_not, found, self._latest)):
            self._latest = tuple(found)
        return self._latest

    def push(self, title: Title, style: str, depth: int = 0, bracket: str = "") -> None:
        if len(self.open) < DEEPEST:
            self.open.append(_Open(title, style, depth, bracket))

    def to_depth(self, depth: int) -> None:
        """Close what indentation opened and a line of this depth no longer stands in."""
        while self.open and self.open[-1].style == "indent" and self.open[-1].depth >= depth:
            self.open.pop()

    def heading(self, title: Title, style: str) -> None:
        """A flat heading ends those of its own style and of the styles that came up inside it."""
        if style in self.styles:
            del self.styles[self.styles.index(style) + 1 :]
        else:
            self.styles.append(style)
        keep = set(self.styles[:-1])
        while self.open and not (self.open[-1].style == "flat" and self.open[-1].bracket in keep):
            if self.open[-1].style == "bracket":
                break
            self.open.pop()
        self.push(title, "flat", bracket=style)

    def close(self, bracket: str) -> bool:
        """A closing bracket ends the nearest title that its partner opened."""
        for at in range(len(self.open) - 1, -1, -1):
            if self.open[at].style == "bracket" and self.open[at].bracket == _PAIR[bracket]:
                del self.open[at:]
                return True
        return False

    def end(self) -> None:
        """An end line closes the nearest title that a heading opened."""
        while self.open and self.open[-1].style == "indent":
            self.open.pop()
        if self.open:
            self.open.pop()


def _title(atoms: Sequence[Atom], line: int, style: str, marks: Marks) -> Title:
    kept = list(atoms)
    while kept and kept[-1].kind == "mark":
        kept.pop()
    while kept and kept[0].kind == "mark":
        kept.pop(0)
    return Title(tuple(kept), coded(kept, marks.capitals)[0], line, style)


def _heading(one: _Line, after: _Line | None, marks: Marks) -> tuple[int, int, str] | None:
    """Start, end and style of a heading on a line of its own, or None."""
    text = one.text
    if len(text) > LONGEST_HEADING:
        return None
    for number, pattern in enumerate(marks.title):
        match = pattern.fullmatch(text, one.start, one.end)
        if match is not None:
            return match.start("title"), match.end("title"), f"title{number}"
    if one.comment:
        return None
    if after is not None and not after.comment and not after.blank:
        rule = _RULE.fullmatch(after.text) if after.text.strip(" \t")[:1] in _RULES else None
        if rule is not None and not _RULE.fullmatch(text):
            return one.start, one.end, f"under{rule[1]}"
    if text[one.start].isalnum():
        return None
    match = _BRACKETED.fullmatch(text, one.start, one.end)
    if match is not None:
        deeper = match[2].count(".") + match[2].count("/")
        return match.start(2), match.end(2), f"{match[1]}{deeper or ''}"
    match = _DECORATED.fullmatch(text, one.start, one.end)
    if match is not None and (len(match[1]) > 1 or match[1] == "#") and match[1].strip("-+") != "":
        return (
            match.start(2),
            match.end(2),
            match[1][0] * (len(match[1]) if match[1][0] in "#=" else 1),
        )
    if match is not None and len(match[1]) > 1 and match[3] and match[1][-1] == match[3][0]:
        return match.start(2), match.end(2), match[1][0]
    return None


_OUTLINE = re.compile(
    r"[ \t]*+(?P<label>[0-9]{1,3}(?>(?:\.[0-9]{1,3})*)|[A-Za-z]|[ivxl]{2,6}|[IVXL]{2,6})"
    r"(?P<close>[.):])?[ \t]++(?=\S)"
)


def _kind(label: str, before: str) -> str:
    """What counts in an outline: figures with so many points, letters, roman numbers."""
    if label[0].isdigit():
        return f"figures {label.count('.')}"
    case = "capital" if label.isupper() else "small"
    # One letter may be either: `i` behind `h` is a letter, else the first roman number.
    follows = len(before) == 1 and before.isalpha() and ord(label[0]) == ord(before) + 1
    roman = len(label) > 1 or (label.lower() in "ivx" and not follows)
    return f"{case} {'roman' if roman else 'letter'}"


def _outlined(lines: list[_Line]) -> list[_Line]:
    """Lines without the numbers of their outline, each as deep as its number says.

    A number of a kind that is new stands under the line before it; one of a known kind ends all
    that came up under it.
    """
    found: list[_Line] = []
    kinds: list[str] = []
    last: dict[str, str] = {}
    for one in lines:
        match = None if one.blank or one.comment else _OUTLINE.match(one.text, one.start, one.end)
        label = match["label"] if match is not None else ""
        # A letter alone is a word, unless something ends it.
        if match is None or not (label[0].isdigit() or match["close"] or len(label) > 1):
            found.append(one if one.blank else one._replace(depth=one.depth + 2 * len(kinds)))
            continue
        case = "capital" if label.isupper() else "small"
        kind = _kind(label, last.get(case, ""))
        last[case] = label
        if kind in kinds:
            del kinds[kinds.index(kind) + 1 :]
        else:
            kinds.append(kind)
        found.append(one._replace(start=match.end(), depth=2 * len(kinds)))
    return found


def _spelling(text: str, marks: Marks) -> str:
    """A line whose quotes and lines to write on are blanks, where the dialect says so."""
    for mark in ('"' if marks.plain_quotes else "", marks.fill):
        if mark:
            text = text.replace(mark, " ")
    return text


def _joined(source: Source, marks: Marks) -> Iterator[tuple[int, str, Joins]]:
    """Each line with those that it goes on in: its number, the text, where each part begins."""
    if marks.wrapped:
        yield from _sentences(source, marks)
        return
    if marks.braces:
        yield from _braced(source, marks)
        return
    lines = source.lines
    at = 0
    while at < len(lines):
        number, text = at + 1, lines[at]
        joins: list[tuple[int, int, int]] = []
        if len(text) > LONGEST_LINE:
            text = ""
        text = _spelling(text, marks)
        while marks.join and at + 1 < len(lines) and text.rstrip(" \t").endswith(marks.join):
            following = _spelling(lines[at + 1], marks)
            head = text.rstrip(" \t").removesuffix(marks.join).rstrip(" \t") + " "
            more = following.lstrip(" \t")
            if len(head) + len(more) > LONGEST_LINE:
                break
            joins.append((len(head), at + 2, len(lines[at + 1]) - len(more)))
            text = head + more
            at += 1
        yield _named_first(number, text, tuple(joins), marks)
        at += 1


def _named_first(number: int, text: str, joins: Joins, marks: Marks) -> tuple[int, str, Joins]:
    """A line with its name before its value, where the dialect writes them the other way round."""
    begin = len(text) - len(text.lstrip(" \t"))
    at = text.find(marks.turned, begin + 1) if marks.turned and not joins else -1
    if at < 0 or _begins(text, begin, marks.comment):
        return number, text, joins
    value, name = text[:at].strip(" \t"), text[at + len(marks.turned) :].strip(" \t")
    if not name or not text[at - 1].isspace():
        return number, text, joins
    start = text.index(name, at + len(marks.turned))
    head = f"{name} = "
    return number, head + value, ((0, number, start), (len(head), number, begin))


_CELL = re.compile(r"[^\s|│]+(?: [^\s|│]+)*")


def cells_of(text: str) -> list[tuple[int, int]]:
    """Where the cells of a line stand, which two blanks or a ruled line divide."""
    return [match.span() for match in _CELL.finditer(text)]


def column_of(cell: tuple[int, int], heads: Sequence[tuple[int, int]]) -> int:
    """The column that a cell stands in: the one whose head is nearest to it, or over it."""
    return max(
        range(len(heads)),
        key=lambda at: (
            min(cell[1], heads[at][1]) - max(cell[0], heads[at][0]),
            -abs(cell[0] - heads[at][0]),
        ),
    )


def _columned(
    lines: Iterable[tuple[int, str, Joins]], marks: Marks
) -> Iterator[tuple[int, str, Joins]]:
    """Lines of tables without the columns that are passed over; one cell alone ends a table."""
    heads: list[tuple[int, int]] = []
    passed: set[int] = set()
    begun = False
    parts: Joins
    for number, text, joined in lines:
        cells = cells_of(text) if marks.passed and not joined else []
        names = [text[start:end] for start, end in cells]
        if not cells:
            yield number, text, joined
        elif set(marks.passed) <= set(names):
            heads, begun = cells, True
            passed = {at for at, name in enumerate(names) if name in marks.passed}
            yield number, text, joined
        elif len(cells) == 1:
            heads, begun = heads if begun and _RULE.fullmatch(text) else [], False
            yield number, text, joined
        elif heads:
            places = [column_of(cell, heads) for cell in cells]
            same = {places[at - 1] for at, name in enumerate(names) if at and name == marks.ditto}
            out, parts = "", ()
            for (start, end), place, name in zip(cells, places, names, strict=True):
                if (place not in passed or place in same) and name != marks.ditto:
                    parts = (*parts, (len(out), number, start))
                    out += f"{text[start:end]}  "
            yield number, out.rstrip(), parts
        else:
            yield number, text, joined


@cache
def _brace(opening: str) -> re.Pattern[str]:
    """Quoted texts, and brackets outside of them."""
    closing = "".join(_CLOSE[_OPEN.index(one)] for one in opening if one in _OPEN)
    return re.compile(rf'"[^"]*+"|(?P<brace>[{re.escape(opening + closing)}])')


#: What a bracket that nests holds: a name, and something behind it.
_NAMED = re.compile(r"[ \t]*[^\W\d_][\w\-]*[ \t:=]+[^\s,|].*")


def _nesting(line: str, begin: int, end: int, opening: str) -> list[re.Match[str]]:
    """The brackets of a line that nest: not those around a number or a list in one line."""
    found = [one for one in _brace(opening).finditer(line, begin, end) if one["brace"]]
    lists: set[int] = set()
    open_: list[re.Match[str]] = []
    for one in found:
        if one["brace"] in _OPEN:
            open_.append(one)
        elif open_ and _PAIR[one["brace"]] == open_[-1]["brace"]:
            first = open_.pop()
            held = _NAMED.fullmatch(line, first.end(), one.start())
            if first["brace"] != "{" and (held is None or "," in held.group()):
                lists |= {first.start(), one.start()}
    return [one for one in found if one.start() not in lists]


def _braced(source: Source, marks: Marks) -> Iterator[tuple[int, str, Joins]]:
    """Each line cut at its brackets, as if what they enclose stood on lines of its own."""
    for number, whole in enumerate(source.lines, 1):
        line = _spelling(whole, marks) if len(whole) <= LONGEST_LINE else ""
        begin = len(line) - len(line.lstrip(" \t"))
        pieces = [] if _begins(line, begin, marks.comment) else list(_pieces(line, begin, marks))
        if len(pieces) < 2:
            yield number, line, ()
            continue
        for start, end in pieces:
            text = line[start:end].rstrip(" \t;,")
            lead = len(text) - len(text.lstrip(" \t;,"))
            if text[lead:]:
                yield number, text[lead:], ((0, number, start + lead),)


def _pieces(line: str, begin: int, marks: Marks) -> Iterator[tuple[int, int]]:
    """Where a line's pieces stand, without a note behind them."""
    note = _note(line, begin, marks)
    at = begin
    for match in _nesting(line, begin, note, marks.braces):
        if match["brace"] in _CLOSE:
            yield from _alike(line, at, match.start())
            yield match.start(), match.end()
        else:
            # What opens is a title of its own, apart from what stands before it.
            before = line.rfind(";", at, match.start()) + 1 or at
            yield from _alike(line, at, before)
            yield before, match.end()
        at = match.end()
    yield from _alike(line, at, note)


_COUNTS = re.compile(r"[ \t]*([^\W\d_]*)[ \t]?\d{1,2}(?![\w.,%])")


def _alike(line: str, start: int, end: int) -> list[tuple[int, int]]:
    """A piece's parts where each is counted in the same way: `ch 1 ...; ch 2 ...`."""
    if not line[start:end].strip(" \t;,"):
        return []
    ends = [start + match.end() for match in re.finditer(";", line[start:end])]
    parts = [(a, b) for a, b in pairwise([start, *ends, end]) if line[a:b].strip(" \t;")]
    heads = [match[1] if (match := _COUNTS.match(line, a, b)) else None for a, b in parts]
    return parts if None not in heads and len(set(heads)) == 1 else [(start, end)]


#: Where a sentence ends and another begins.
_SENTENCE = re.compile(r"(?<=[.!?:])[ \t]+(?=[^\W\d_a-z])")


def _sentences(source: Source, marks: Marks) -> Iterator[tuple[int, str, Joins]]:
    """Each sentence of a text that is wrapped to a width; a blank line ends one as well.

    So does the number of an outline, where the next line begins with one.
    """
    text, parts = "", list[tuple[int, int, int]]()
    for number, line in enumerate([*source.lines, ""], 1):
        plain = _spelling(line, marks).strip(" \t")
        numbered = marks.outline and _OUTLINE.match(plain) is not None
        if not plain or numbered or len(text) + len(plain) >= LONGEST_LINE:
            yield from _parted(text, parts)
            text, parts = "", []
        if len(plain) >= LONGEST_LINE:
            yield number, "", ()
        elif plain:
            text += " " if text else ""
            parts.append((len(text), number, len(line) - len(line.lstrip(" \t"))))
            text += plain


def _parted(text: str, parts: Sequence[tuple[int, int, int]]) -> Iterator[tuple[int, str, Joins]]:
    """The sentences of a paragraph; ``parts`` says where its lines begin."""
    ends = [0, *(match.end() for match in _SENTENCE.finditer(text)), len(text)]
    for start, end in pairwise(ends):
        if start < end:
            joins = tuple(
                (max(at - start, 0), line, column + max(start - at, 0))
                for place, (at, line, column) in enumerate(parts)
                if at < end and (place + 1 == len(parts) or parts[place + 1][0] > start)
            )
            yield joins[0][1], text[start:end].rstrip().removesuffix("."), joins


#: What version control writes into a file that two people changed.
_CONFLICT = re.compile(r"([<=>|])\1{6}(?: |$)")


def conflict_marks(source: Source) -> set[int]:
    """The lines where version control marks that two versions of a file were not put together.

    A row of equal signs by itself may well underline a title.
    """
    found: set[int] = set()
    inside = False
    for number, text in enumerate(source.lines if "<<<<<<<" in source.text else (), 1):
        mark = _CONFLICT.match(text)
        if mark is not None and (inside or mark[1] == "<"):
            inside = mark[1] != ">"
            found.add(number)
    return found


def rows(source: Source, marks: Marks) -> Iterator[Row]:
    """The rows of a dump, in order: one for each line that is not blank."""
    conflict = conflict_marks(source)
    lines = []
    joins: list[Joins] = []
    for number, text, joined in _columned(_joined(source, marks), marks):
        one = _measure(text, source.written.get(number, text), number, marks)
        if number in conflict:
            one = one._replace(blank=True)
        if marks.braces and not one.blank:
            one = one._replace(depth=0)
        lines.append(one)
        joins.append(joined)
    if marks.outline:
        lines = _outlined(lines)
    stack = _Stack()
    stack.tags = any(_CLOSING_TAG.fullmatch(one.text) for one in lines)
    following: list[_Line | None] = [None] * len(lines)
    nearest: _Line | None = None
    for at in range(len(lines) - 1, -1, -1):
        following[at] = nearest
        nearest = nearest if lines[at].blank else lines[at]
    for one, after, joined in zip(lines, following, joins, strict=True):
        if one.blank:
            whole = source.lines[one.number - 1]
            if one.number in conflict or len(whole) > LONGEST_LINE:
                yield Row(one.number, whole, [], (), False, 0, 0)
            continue
        row = _row(one, after, stack, marks)
        if row is not None:
            yield row._replace(joins=joined) if joined else row


#: Dumps of one craft repeat their lines, and a changed dump is read again to prove a cure.
_cut = lru_cache(4096)(cut)
_SAYS = re.compile(r"[^\W_]|[()\[\]{}]")


def _atoms(text: str, start: int, end: int, marks: Marks) -> list[Atom]:
    """The atoms of a line's values, without choices that are not taken."""
    # Of a line that is nothing but a rule one mark will do.
    atoms = list(_cut(text, start, end if _SAYS.search(text, start, end) else start + 1))
    if not marks.tick or not (marks.tick in text or (marks.box and marks.box in text)):
        return atoms
    # What is left out: each tick, and each box with the choice behind it.
    pattern = "|".join(re.escape(mark) for mark in (marks.tick, marks.box) if mark)
    chosen, at = [], 0
    for match in re.finditer(
        rf"(?P<box>{pattern})(?P<choice>(?:(?!{pattern}|[ \t]{{2}}).)*)", text
    ):
        last = match.end() if match["box"] == marks.box else match.end("box")
        while at < len(atoms) and atoms[at].start < match.start():
            chosen.append(atoms[at])
            at += 1
        while at < len(atoms) and atoms[at].start < last:
            at += 1
    return [*chosen, *atoms[at:]]


def _row(one: _Line, following: _Line | None, stack: _Stack, marks: Marks) -> Row | None:
    """One line's row, if it has any; what it opens and closes is noted in the stack."""
    ends = marks.end and any(
        pattern.fullmatch(one.text, one.start, one.end) for pattern in marks.end
    )
    if ends or (stack.tags and _CLOSING_TAG.fullmatch(one.text)):
        row = Row(one.number, one.text, [], stack.titles(), True, one.start, one.end)
        stack.comment = None
        stack.end()
        return row
    heading = _heading(one, following, marks)
    if heading is not None:
        start, end, style = heading
        inside = cut(one.text, start, end)
        title = _title(inside, one.number, style, marks)
        stack.comment = None
        nested = (marks.end and style.startswith("title")) or (stack.tags and style[0] == "<")
        if title.code and nested:
            # What is ended by a line of its own may stand one within another.
            stack.push(title, "flat", bracket=style)
        elif title.code:
            stack.heading(title, style)
        above = stack.titles()[: -1 if title.code else None]
        return Row(one.number, one.text, inside, above, one.comment, start, end, (), True)
    atoms = _atoms(one.text, one.start, one.end, marks)
    if one.comment:
        title = _title(atoms, one.number, "comment", marks)
        row = Row(one.number, one.text, atoms, stack.titles(), True, one.start, one.end)
        if title.code:
            stack.comment = title
        return row
    stack.to_depth(one.depth)
    if _A_BRACKET.search(one.text, one.start, one.note):
        return _brackets(one, atoms, following, stack, marks)
    if not atoms:
        return None
    row = Row(one.number, one.text, atoms, stack.titles(), False, one.start, one.note)
    _indent(one, atoms, following, stack, marks)
    return row


_A_BRACKET = re.compile(r"[()\[\]{}]")


def _brackets(
    one: _Line, atoms: list[Atom], following: _Line | None, stack: _Stack, marks: Marks
) -> Row | None:
    """The row of a line with the brackets that it leaves open and those that it closes."""
    closing = []
    while atoms and atoms[0].text in _CLOSE and atoms[0].kind == "mark":
        closing.append(atoms.pop(0).text)
        while atoms and atoms[0].text in ",;":
            atoms.pop(0)
    for bracket in closing:
        stack.close(bracket)
    opened: list[tuple[int, str]] = []
    stray: list[str] = []
    for place, atom in enumerate(atoms):
        if atom.kind == "mark" and atom.text in _OPEN:
            opened.append((place, atom.text))
        elif atom.kind == "mark" and atom.text in _CLOSE:
            # `[900, 1200)` is a pair as well: an interval without its upper end.
            pair = (opened[-1][1] if opened else "", _PAIR[atom.text])
            if opened and (pair[0] == pair[1] or "{" not in pair):
                opened.pop()
            else:
                stray.append(atom.text)
    titles = stack.titles()
    row = None
    if atoms:
        row = Row(one.number, one.text, atoms, titles, False, one.start, one.note)
    for bracket in stray:
        stack.close(bracket)
    if opened:
        from_place = 0
        for place, bracket in opened:
            title = _title(atoms[from_place:place], one.number, "bracket", marks)
            stack.push(title, "bracket", one.depth, bracket)
            from_place = place + 1
        stack.comment = None
    else:
        _indent(one, atoms, following, stack, marks)
    return row


def _indent(
    one: _Line, atoms: list[Atom], following: _Line | None, stack: _Stack, marks: Marks
) -> None:
    """Open a title where the next line stands deeper.

    What stands further out than the bracket that it is in is out of place, and opens none.
    """
    if following is None or following.comment or not atoms:
        return
    if any(over.style == "bracket" and over.depth > one.depth for over in stack.open):
        return
    below = following.text[following.start : following.start + 1]
    if following.depth > one.depth and below not in _CLOSE:
        title = _title(atoms, one.number, "indent", marks)
        if title.code:
            stack.push(title, "indent", one.depth)
