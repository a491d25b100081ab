"""Layout: which titles stand over each line of a dump, whatever firmware wrote it.

A *row* is one line's atoms.  Its *titles* are the lines that enclose it, outermost first: by
indentation, by a bracket that is still open, as a drawn tree, under an underlined or decorated
heading, in an INI section, under a heading that the dialect describes.  A line that is a title
stays a row as well: what it is, is for the dialect's map to say.  Comments are titles too, the
weakest: a dump's ``-- receiver`` often is all that tells two lines of one name apart.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.dump.atoms import Atom, coded, cut
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.dump.source import Source

#: A dump's line is far shorter; a longer one is a file that is no dump, and not worth cutting.
LONGEST_LINE = 65_536
#: Deeper nesting than this is no dump's; what is deeper counts as this deep.
DEEPEST = 40

_OPEN, _CLOSE = "{[(", "}])"
_PAIR = dict(zip(_CLOSE, _OPEN, strict=True))
_GLYPHS = re.compile(r"[ \t│├└┌┬╰╭─━┃┣┗|`+\\]*(?:[─━├└┣┗╰╭`+][─━-]*)[ \t]*")
_RULE = re.compile(r"[ \t]*([-=~_*#.─═━^])\1{2,}[ \t]*")
_DECORATED = re.compile(r"[ \t]*([=~*#\-+<>_:.─═━■▌|/]{1,})[ \t]*(?=\S)(.*?\S)[ \t]*([=~*#\-+<>_:.─═━■▌|/]*)[ \t]*")
_BRACKETED = re.compile(r"[ \t]*(\[+|<|\(|«)[ \t]*([^\]\[<>()=\x22]*?[^\s\x22])[ \t]*(\]+|>|\)|»)[ \t]*[:]?[ \t]*")


class Marks(NamedTuple):
    """What a dialect states of its firmware's text; reading never infers it.

    ``comment``: what begins a comment (and with ``note``, what begins a note behind a value);
    ``prompt``: what a terminal prints before a line; ``title`` and ``end``: headings and what
    ends them, as line patterns; ``outline``: lines are numbered ``2.1``, which says how deep
    they stand; ``join``: a line that ends so goes on in the next.
    """

    comment: tuple[str, ...] = ()
    prompt: tuple[str, ...] = ()
    note: tuple[str, ...] = ()
    title: tuple[re.Pattern[str], ...] = ()
    end: tuple[re.Pattern[str], ...] = ()
    outline: bool = False
    join: str = ""
    #: Quotes are spelling, as brackets are: what stands in them is cut like all else.
    plain_quotes: bool = False


class Title(NamedTuple):
    """One heading as it stands: its atoms, the line it is on, what made it a title."""

    atoms: tuple[Atom, ...]
    code: str
    line: int
    style: str


class Row(NamedTuple):
    """One line: its atoms (without prompt and comment), the titles over it, outermost first.

    ``note`` is where a note or comment behind the values begins, else the line's end.
    ``comment`` says that the whole line is one; its atoms are then those of its text.
    """

    line: int
    text: str
    atoms: list[Atom]
    titles: tuple[Title, ...]
    comment: bool
    start: int
    note: int

    @property
    def code(self) -> tuple[str, list[int]]:
        return coded(self.atoms)


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


def _note(text: str, start: int, marks: Marks) -> int:
    """Where a comment or note behind values begins: after a blank, and not in quotes."""
    end = len(text)
    quote = ""
    for at in range(start, end):
        letter = text[at]
        if quote:
            quote = "" if letter == quote else quote
        elif letter == '"':
            quote = letter if text.find(letter, at + 1) > 0 else ""
        elif at > start and text[at - 1] in " \t" and letter not in " \t":
            if _begins(text, at, marks.comment) or _begins(text, at, marks.note):
                return at
    return end


def _measure(text: str, number: int, marks: Marks) -> _Line:
    """Where a line's own text starts and ends, and how deep it stands."""
    end = len(text.rstrip(" \t"))
    start = len(text) - len(text.lstrip(" \t"))
    while mark := _begins(text, start, marks.prompt):
        start += len(mark)
        start += len(text[start:end]) - len(text[start:end].lstrip(" \t"))
    if start >= end:
        return _Line(number, text, end, end, comment=False, note=end, depth=0, blank=True)
    mark = _begins(text, start, marks.comment)
    if mark:
        return _Line(number, text, start + len(mark), end, True, end, start, False)
    note = _note(text, start, marks)
    glyphs = _GLYPHS.match(text, 0)
    depth = start
    if glyphs is not None and glyphs.end() > start and glyphs.end() < end:
        start = depth = glyphs.end()
    else:
        depth = len(text[:depth].expandtabs(4))
    return _Line(number, text, start, len(text[:note].rstrip(" \t")), False, note, depth, False)


class _Stack:
    """The open titles while a dump is gone through."""

    def __init__(self) -> None:
        self.open: list[_Open] = []
        self.styles: list[str] = []
        self.comment: Title | None = None

    def titles(self) -> tuple[Title, ...]:
        found = tuple(one.title for one in self.open)
        return (*found, self.comment) if self.comment is not None else found

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


def _title(atoms: Sequence[Atom], line: int, style: str) -> Title:
    kept = list(atoms)
    while kept and kept[-1].kind == "mark":
        kept.pop()
    while kept and kept[0].kind == "mark":
        kept.pop(0)
    return Title(tuple(kept), coded(kept)[0], line, style)


def _heading(one: _Line, after: _Line | None, marks: Marks) -> tuple[int, int, str] | None:
    """Start, end and style of a heading on a line of its own, or None."""
    text = one.text
    for number, pattern in enumerate(marks.title):
        match = pattern.fullmatch(text, one.start, one.end)
        if match is not None:
            return match.start("title"), match.end("title"), f"title{number}"
    if one.comment:
        return None
    if after is not None and not after.comment and not after.blank:
        rule = _RULE.fullmatch(after.text)
        if rule is not None and not _RULE.fullmatch(text):
            return one.start, one.end, f"under{rule[1]}"
    match = _BRACKETED.fullmatch(text, one.start, one.end)
    if match is not None and not marks.plain_quotes:
        deeper = match[2].count(".") + match[2].count("/")
        return match.start(2), match.end(2), f"{match[1]}{deeper or ''}"
    match = _DECORATED.fullmatch(text, one.start, one.end)
    if match is not None and (len(match[1]) > 1 or match[1] == "#") and match[1].strip("-+") != "":
        return match.start(2), match.end(2), match[1][0] * (len(match[1]) if match[1][0] in "#=" else 1)
    if match is not None and len(match[1]) > 1 and match[3] and match[1][-1] == match[3][0]:
        return match.start(2), match.end(2), match[1][0]
    return None


_OUTLINE = re.compile(r"[ \t]*((?:[0-9]{1,3}|[A-Za-z]|[ivxIVX]{1,4})(?:\.(?:[0-9]{1,3}|[a-z]))*)[.)]?[ \t]+(?=\S)")


def rows(source: Source, marks: Marks) -> Iterator[Row]:
    """The rows of a dump, in order: one for each line that is not blank."""
    lines = [
        _measure(text if len(text) <= LONGEST_LINE else "", number, marks)
        for number, text in enumerate(
            (line.replace('"', " ") for line in source.lines) if marks.plain_quotes else source.lines, 1
        )
    ]
    stack = _Stack()
    for at, one in enumerate(lines):
        if one.blank:
            if one.text == "" and len(source.lines[at]) > LONGEST_LINE:
                yield Row(one.number, source.lines[at], [], (), False, 0, 0)
            continue
        following = next((other for other in lines[at + 1 :] if not other.blank), None)
        yield from _row(one, following, stack, marks)


def _row(one: _Line, following: _Line | None, stack: _Stack, marks: Marks) -> Iterator[Row]:
    """One line's row, and what it opens or closes on the way."""
    if any(pattern.fullmatch(one.text, one.start, one.end) for pattern in marks.end):
        yield Row(one.number, one.text, [], stack.titles(), True, one.start, one.end)
        stack.comment = None
        stack.end()
        return
    heading = _heading(one, following, marks)
    if heading is not None:
        start, end, style = heading
        title = _title(cut(one.text, start, end), one.number, style)
        stack.comment = None
        if title.code:
            stack.heading(title, style)
        yield Row(
            one.number, one.text, cut(one.text, start, end), stack.titles()[:-1], one.comment, start, end
        )
        return
    atoms = cut(one.text, one.start, one.end)
    if one.comment:
        title = _title(atoms, one.number, "comment")
        yield Row(one.number, one.text, atoms, stack.titles(), True, one.start, one.end)
        if title.code:
            stack.comment = title
        return
    start, depth = one.start, one.depth
    if marks.outline and (match := _OUTLINE.match(one.text, one.start, one.end)):
        start, depth = match.end(), 2 * match[1].count(".") + 2
        atoms = cut(one.text, start, one.end)
    stack.to_depth(depth)
    yield from _brackets(one, atoms, start, depth, following, stack, marks)


def _brackets(
    one: _Line,
    atoms: list[Atom],
    start: int,
    depth: int,
    following: _Line | None,
    stack: _Stack,
    marks: Marks,
) -> Iterator[Row]:
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
            if opened and opened[-1][1] == _PAIR[atom.text]:
                opened.pop()
            else:
                stray.append(atom.text)
    titles = stack.titles()
    if atoms:
        yield Row(one.number, one.text, atoms, titles, False, start, one.note)
    for bracket in stray:
        stack.close(bracket)
    if opened:
        from_place = 0
        for place, bracket in opened:
            title = _title(atoms[from_place:place], one.number, "bracket")
            stack.push(title, "bracket", depth, bracket)
            from_place = place + 1
        if stack.comment is not None:
            stack.comment = None
        return
    if following is None or following.comment or not atoms:
        return
    below = following.depth
    if marks.outline and (match := _OUTLINE.match(following.text, following.start, following.end)):
        below = 2 * match[1].count(".") + 2
    if below > depth and following.text[following.start : following.start + 1] not in _CLOSE:
        title = _title(atoms, one.number, "indent")
        if title.code:
            stack.push(title, "indent", depth)
