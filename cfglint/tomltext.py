"""TOML with positions: values by the standard library, spans by a small scanner of our own.

Most files are never pointed at, so the scanner runs only when the first span is asked for.  It
reads documents that ``tomllib`` has accepted; it need not (and does not) find mistakes.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.errors import Problem
from cfglint.span import Span

if TYPE_CHECKING:
    import re
    from collections.abc import Iterator

#: One step down a document: a key, or the number (from 0) of an item of an array.
Step = str | int
Path = tuple[Step, ...]


#: No key has more parts; a smaller number is none: dividing by it leaves the numbers there are.
MOST_PARTS, LEAST = 60, 1e-300


class Place(NamedTuple):
    """Offsets into the text: of a key (or item), and of its value."""

    key: tuple[int, int]
    value: tuple[int, int]


class Document:
    """A TOML file: its values as ``tomllib`` gives them, and where each stands.

    ``data`` holds the values.  Paths are keys and, for items of arrays and arrays of tables,
    numbers from 0: ``where("switch", 0, "channel")``.
    """

    __slots__ = ("_ends", "_places", "_text", "data", "file")

    def __init__(self, file: str, text: str, data: dict[str, Any]) -> None:
        self.file = file
        self.data = data
        self._text = text
        self._places: dict[Path, Place] | None = None
        self._ends: list[int] = []

    def where(self, *path: Step) -> Span:
        """The span of a key: its own name alone, quotes included, without the dots around it.

        For an item of an array it is the item, for one table of an array of tables the name in
        its header.  A path that is not in the file gives its nearest ancestor that is; the
        empty path gives the file's first line.
        """
        place, found = self._find(path)
        return self._span(place.key) if found else self._span(place.value)

    def where_value(self, *path: Step) -> Span:
        """The span of a value; of a table with a header, the header with its brackets."""
        return self._span(self._find(path)[0].value)

    def where_said(self, *path: Step) -> Span | None:
        """The span of a value, None for a path that is not in the file."""
        place, found = self._find(path)
        return self._span(place.value) if found else None

    def has(self, *path: Step) -> bool:
        """Whether the file itself holds this path."""
        return self._find(path)[1]

    def line(self, number: int) -> str:
        """A line of the file (from 1) without its ending, ``""`` past the end."""
        lines = self._text.split("\n")
        return lines[number - 1] if 0 < number <= len(lines) else ""

    def paths(self) -> Iterator[Path]:
        """Every path of the document, in no promised order."""
        return iter(self._located())

    def _find(self, path: Path) -> tuple[Place, bool]:
        places = self._located()
        for length in range(len(path), 0, -1):
            place = places.get(path[:length])
            if place is not None:
                return place, length == len(path)
        end = self._text.find("\n")
        whole = (0, len(self._text) if end < 0 else end)
        return Place(whole, whole), not path

    def _located(self) -> dict[Path, Place]:
        if self._places is None:
            from contextlib import suppress

            scanner = _Scanner(self._text)
            # Nested hundreds deep: what lies deeper is placed at its nearest ancestor.
            with suppress(RecursionError):
                scanner.run()
            self._places = scanner.places
            self._ends = list(accumulate(len(line) + 1 for line in self._text.split("\n")))
        return self._places

    def _span(self, stretch: tuple[int, int]) -> Span:
        ends, (start, stop) = self._ends, stretch
        row = bisect_right(ends, start)
        last = row if stop < ends[row] else bisect_right(ends, stop)
        return Span(
            self.file,
            row + 1,
            start - (ends[row - 1] if row else 0) + 1,
            last + 1,
            stop - (ends[last - 1] if last else 0) + 1,
        )


def load(file: str, data: bytes) -> Document:
    """Read TOML.  ``file`` is the name that spans carry.

    A byte order mark is allowed, line endings may be LF or CRLF.  Raises Problem with file,
    line and column for bytes that are no UTF-8 and for text that is no TOML.
    """
    import tomllib

    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        # The reported offset does not count a mark that was skipped; decode again without.
        offset = bad.start + (3 if data.startswith(b"\xef\xbb\xbf") else 0)
        before = data[:offset].decode("utf-8-sig", "replace")
        span = _point(file, before.count("\n") + 1, len(before) - before.rfind("\n"))
        raise Problem(
            f"byte 0x{data[offset]:02x} is not UTF-8 text",
            span=span,
            instead="save the file as UTF-8",
        ) from None
    text = text.replace("\r\n", "\n")
    _check_key(file, text)
    try:
        values = tomllib.loads(text, parse_float=_number)
    except RecursionError:
        raise Problem(
            "brackets are nested too deeply to be read", file=file, instead="nest fewer levels"
        ) from None
    except ValueError as bad:
        message, place = _explain(bad, file, text)
        raise Problem(
            f"this is not TOML: {message}",
            span=place,
            file=file,
            instead="put this place right; nothing of the file was used",
        ) from None
    document = Document(file, text, values)
    _check_numbers(document, text)
    return document


def _check_key(file: str, text: str) -> None:
    """Raises Problem for a key of so many parts that reading it would take all memory."""
    import re

    part = r"""(?:"[^"\n]*"|'[^'\n]*'|[^\s.=\[\]"',{}]+)[ \t]*\.[ \t]*"""
    found = re.search(rf"(?:^|[\[{{,])[ \t]*+(?:{part}){{{MOST_PARTS}}}", text, re.M)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        raise Problem(
            f"a key of more than {MOST_PARTS} parts is not read",
            span=_point(file, line, 1),
            instead="nest fewer levels; nothing of the file was used",
        )


def _check_numbers(document: Document, text: str) -> None:
    """Raises Problem for a whole number that cannot be counted with: TOML (1.0.0, Integer)
    promises 64 bits.
    """
    import re

    if re.search(r"[0-9a-fA-F_]{16}", text) is None:
        return
    rest: list[tuple[Path, Any]] = [((), document.data)]
    while rest:
        path, value = rest.pop()
        if isinstance(value, dict):
            rest += [((*path, key), item) for key, item in value.items()]
        elif isinstance(value, list):
            rest += [((*path, at), item) for at, item in enumerate(value)]
        elif isinstance(value, int) and not -(1 << 63) <= value < 1 << 63:
            raise Problem(
                "this whole number is too large to be counted with",
                span=document.where_value(*path),
                instead="write a smaller one; nothing of the file was used",
            )


def _number(text: str) -> float:
    """A number with a fraction.  What is smaller than can be counted with is nothing."""
    found = float(text)
    return 0.0 if abs(found) < LEAST else found


def _point(file: str, line: int, column: int) -> Span:
    return Span(file, line, column, line, column + 1)


def _explain(bad: ValueError, file: str, text: str) -> tuple[str, Span | None]:
    """What ``tomllib`` found, without its own place, and that place (None if not known)."""
    import re

    found = re.search(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", str(bad), re.S)
    if "integer string conversion" in str(bad):
        return "a whole number in it has thousands of digits", None
    if found is None:
        return str(bad), None
    message = found[1][:1].lower() + found[1][1:]
    lines = text.split("\n")
    if found[2] is None:
        while len(lines) > 1 and not lines[-1]:
            lines.pop()
        return f"{message}, and here the file ends", _point(file, len(lines), len(lines[-1]) + 1)
    line, column = int(found[2]), int(found[3])
    twice = re.fullmatch(r"cannot declare \((.*)\) twice", message)
    if twice is not None:
        names = ".".join(re.findall(r"['\"]([^'\"]*)['\"]", twice[1]))
        message = f"the table `{names}` is declared twice"
    if twice is not None or message.startswith("cannot"):
        # Noticed only after the line has been read: the whole line is meant.
        row = lines[line - 1]
        start = len(row) - len(row.lstrip())
        return message, Span(file, line, start + 1, line, max(len(row.rstrip()), start) + 1)
    return message, _point(file, line, column)


# Scalars end where an array, an inline table or a line goes on; a date may hold one blank.
_GAP = r"(?:[ \t\n]|#[^\n]*)*+"
_BLANK = r"[ \t]*+"
_PART = r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+'"""
_VALUE = (
    r'''"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*+"{3,5}'''
    r"""|'{3}(?:[^']|'{1,2}(?!'))*+'{3,5}"""
    r'''|"(?:[^"\\\n]|\\.)*+"'''
    r"""|'[^'\n]*+'"""
    r"""|[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[Tt ][0-9]{2}:[^\s,\]}#]*)?"""
    r"""|[^\s,\]}#]++"""
)


class _Scanner:
    """Finds where keys and values stand in a document that is known to be TOML."""

    def __init__(self, text: str) -> None:
        import re

        self.text = text
        self.places: dict[Path, Place] = {}
        #: Number of the newest table of each array of tables.
        self.newest: dict[Path, int] = {}
        self.gap = re.compile(_GAP)
        self.blank = re.compile(_BLANK)
        self.part = re.compile(_PART)
        self.value = re.compile(_VALUE)

    def run(self) -> None:
        at = self.skip(0)
        table: Path = ()
        while at < len(self.text):
            if self.text[at] == "[":
                table, at = self.header(at)
            else:
                at = self.pair(table, at)
            at = self.skip(at)

    def skip(self, at: int) -> int:
        """Over blanks, line ends and comments."""
        return _end(self.gap, self.text, at)

    def header(self, start: int) -> tuple[Path, int]:
        """``[a.b]`` or ``[[a.b]]``: the path of the table it opens, and where it ends."""
        many = self.text.startswith("[[", start)
        parts, at = self.key(start + 1 + many)
        end = self.text.index("]", at) + 1 + many
        path: Path = ()
        for number, (name, stretch) in enumerate(parts):
            path += (name,)
            place = Place(stretch, (start, end))
            last = number == len(parts) - 1
            if last and not many:
                self.places[path] = place
                break
            self.places.setdefault(path, place)
            if last:
                self.newest[path] = self.newest.get(path, -1) + 1
            if path in self.newest:
                path += (self.newest[path],)
                self.places.setdefault(path, place)
        return path, end

    def pair(self, table: Path, at: int) -> int:
        """``key = value`` of a table or an inline table; gives the offset after it."""
        parts, at = self.key(at)
        path = table + tuple(name for name, _ in parts)
        for length in range(1, len(parts)):
            stretch = parts[length - 1][1]
            self.places.setdefault(path[: len(table) + length], Place(stretch, stretch))
        at = _end(self.blank, self.text, self.text.index("=", at) + 1)
        end = self.below(path, at)
        self.places[path] = Place(parts[-1][1], (at, end))
        return end

    def key(self, at: int) -> tuple[list[tuple[str, tuple[int, int]]], int]:
        """A key in its parts, each with its stretch, and the offset after it."""
        parts: list[tuple[str, tuple[int, int]]] = []
        while True:
            at = _end(self.blank, self.text, at)
            end = _end(self.part, self.text, at)
            parts.append((_unquoted(self.text[at:end]), (at, end)))
            at = _end(self.blank, self.text, end)
            if not self.text.startswith(".", at):
                return parts, at
            at += 1

    def below(self, path: Path, at: int) -> int:
        """Record what a value holds and give the offset after it."""
        opening = self.text[at]
        if opening not in "[{":
            return _end(self.value, self.text, at)
        closing = "]" if opening == "[" else "}"
        at, number = self.skip(at + 1), 0
        while self.text[at] != closing:
            if opening == "{":
                at = self.pair(path, at)
            else:
                end = self.below((*path, number), at)
                self.places[(*path, number)] = Place((at, end), (at, end))
                at, number = end, number + 1
            at = self.skip(at)
            if self.text[at] == ",":
                at = self.skip(at + 1)
        return at + 1


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    found = pattern.match(text, at)
    # Every pattern but that of a key's part matches the empty text, and keys have been checked.
    assert found is not None
    return found.end()


def _unquoted(raw: str) -> str:
    if raw[0] == "'":
        return raw[1:-1]
    if raw[0] != '"':
        return raw
    if "\\" not in raw:
        return raw[1:-1]
    import tomllib

    text: str = tomllib.loads(f"k = {raw}")["k"]
    return text
