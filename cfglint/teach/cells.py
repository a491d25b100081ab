"""A line cut into cells: words and numbers apart from the marks between them."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.teach.meanings import best
from cfglint.teach.words import ideas, ideas_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


class Cell(NamedTuple):
    """A piece of a line: ``text`` and whether it is a field that can vary (else literal)."""

    text: str
    field: bool


def _lists(text: str) -> str:
    """The text with the words of function lists joined, so that a list is one cell."""

    def join(match: re.Match[str]) -> str:
        mark = match["mark"]
        parts = match.group().split(mark)
        good = [best("port.N.functions", part)[1] >= 0.7 for part in parts]
        out = [parts[0]]
        for before, now, part in zip(good, good[1:], parts[1:], strict=False):
            out.append((mark.translate(_JOINED) if before and now else mark) + part)
        return "".join(out)

    text = _LIST.sub(join, text)
    # Blanks divide a list only where a line is about ports; elsewhere they divide fields.
    if "port" in ideas_of(re.findall(r"[A-Za-z]+", text)[:4]):
        text = _SPACED.sub(join, text)
    return text


_SPACED = re.compile(
    r"(?<![\w.\-])[A-Za-z][\w\-]*(?P<mark> )[A-Za-z][\w\-]*(?:(?P=mark)[A-Za-z][\w\-]*)*"
)


def _lone(match: re.Match[str]) -> bool:
    """Whether a dash stands where a field would: it says that there is nothing."""
    text = match.string
    before, after = text[match.start() - 1 : match.start()], text[match.end() : match.end() + 1]
    return (
        before in " \t:/,|=" and bool(before) and after in ("", " ", "\t", "/", ",", "|", ";", ":")
    )


_LIST = re.compile(
    r"(?<![\w.])[A-Za-z][\w\-]*(?P<mark>[,/+|&;] ?)[A-Za-z][\w\-]*(?:(?P=mark)[A-Za-z][\w\-]*)*"
)


_MARKS = ",/+|&;"


#: Private characters that stand for a list's divider while a line is cut.
_JOINED = {ord(mark): chr(0xE000 + at) for at, mark in enumerate(_MARKS + " ")}


_BACK = {0xE000 + at: mark for at, mark in enumerate(_MARKS + " ")}


def cells_of(text: str) -> list[Cell]:
    """A line's cells: words and numbers apart from the marks between them."""
    out: list[Cell] = []
    for match in re.finditer(
        r"\"[^\"]*\"|(?<=[\s:/,|=])-(?=[\s/,|;:]|$)|[A-Za-z_\ue000-\uf000][\w\ue000-\uf000]*(?:[.-][A-Za-z][\w\ue000-\uf000]*)*|"
        r"(?:(?<![\w.])|(?<=\.\.))-?\d+(?:\.\d+)?(?![\w.]*[A-Za-z])|\d+(?:\.\d+)?|\w+|\s+|[^\w\s]",
        _lists(text),
    ):
        piece = match.group().translate(_BACK)
        if piece.isspace():
            out.append(Cell(" ", False))
        elif piece[0] == '"' and not any(cell.field for cell in out) and re.search(r"\w", piece):
            # A name in quotes is a name all the same.
            out += [Cell('"', False), *_pieces(piece.strip('"')), Cell('"', False)]
        elif re.fullmatch(r'"[A-Za-z][\w.\-]*"', piece):
            out += [Cell('"', False), Cell(piece[1:-1], True), Cell('"', False)]
        elif re.match(r"[\w\"]|-?\d", piece) or (piece == "-" and _lone(match)):
            out.extend(_pieces(piece))
        else:
            out.append(Cell(piece, False))
    # Marks that stand together are one.
    merged: list[Cell] = []
    for cell in out:
        if merged and not cell.field and not merged[-1].field:
            merged[-1] = Cell(merged[-1].text + cell.text, False)
        else:
            merged.append(cell)
    return merged


def _pieces(piece: str) -> list[Cell]:
    """A word cut where its parts may vary apart: ``range.arm``, ``ch5``, ``port_2_use``."""
    if piece[:1] == '"' or re.fullmatch(r"-?\d+(?:\.\d+)?", piece):
        return [Cell(piece, True)]
    # Words that mean something as they stand keep their digits.
    for table in ("mode", "port.N.functions", "receiver.link", "motor.signal"):
        if best(table, piece)[1] >= 0.9:
            return [Cell(piece, True)]
    match = re.fullmatch(r"([A-Za-z_][A-Za-z_.\-]*?)(\d+)([A-Za-z_.\-]*)", piece)
    if match:
        before, number, after = match.groups()
        out = [Cell(before, True), Cell("", False), Cell(number, True)]
        if after:
            out += [Cell("", False), Cell(after, True)]
        return out
    return [Cell(piece, True)]


def head_fields(cells: Sequence[Cell]) -> list[int]:
    """Where a line's name may stand: its first field, or the one behind a verb."""
    return [at for at, cell in enumerate(cells) if cell.field][:2]


def count_numbers(cells: Sequence[Cell]) -> int:
    return sum(cell.field and cell.text.lstrip("-").replace(".", "").isdigit() for cell in cells)


def range_prefixes(lines: Iterable[Sequence[Cell]]) -> frozenset[str]:
    """What stands before the mode in names of lines with three numbers or more.

    Three lines have to begin so, and one of them go on with a mode that is known.
    """
    found: dict[str, set[str]] = defaultdict(set)
    glued: dict[str, set[str]] = defaultdict(set)
    for cells in lines:
        if count_numbers(cells) < 3:
            continue
        for at in head_fields(cells):
            text = cells[at].text
            match = re.match(r"([A-Za-z]+[_.\-])(.+)$", text)
            if match:
                found[match[1]].add(match[2])
            elif text.isalpha():
                # `usearm`: nothing but the other lines says where the mode begins.
                for cut in range(2, min(8, len(text) - 2)):
                    glued[text[:cut]].add(text[cut:])
    plain = {
        prefix: rests
        for prefix, rests in glued.items()
        if len(rests) >= 4
        and sum(best("mode", rest)[1] >= 0.9 for rest in rests) >= max(2, 0.4 * len(rests))
    }
    most = max((len(rests) for rests in plain.values()), default=0)
    longest = max((p for p, rests in plain.items() if len(rests) == most), key=len, default="")
    return frozenset(
        prefix
        for prefix, rests in found.items()
        if len(rests) >= 3 and any(best("mode", rest)[1] >= 0.9 for rest in rests)
    ) | ({longest} if longest else frozenset())


def mode_parts(cells: Sequence[Cell], prefixes: frozenset[str] = frozenset()) -> list[Cell]:
    """The cells with a mode's word in a longer name set apart: ``range_arm`` → range_, arm."""
    heads = head_fields(cells)
    for first in heads:
        text = cells[first].text
        prefix = next((one for one in prefixes if text.startswith(one) and text != one), "")
        if prefix and count_numbers(cells) >= 3:
            apart = [Cell(prefix, True), Cell("", False), Cell(text[len(prefix) :], True)]
            return [*cells[:first], *apart, *cells[first + 1 :]]
    for first in heads:
        made = _mode_split(cells, first)
        if made is not None:
            return made
    return list(cells)


def _mode_split(cells: Sequence[Cell], first: int) -> list[Cell] | None:
    text = cells[first].text
    if not re.search(r"[A-Za-z]", text) or not re.search(r"[_.\-]", text):
        return None
    head = re.match(r"([A-Za-z]+)([_.\-])(.+)$", text)
    if head and _is_range(head[1]) and best("mode", head[3])[1] >= 0.8:
        made = [Cell(head[1] + head[2], True), Cell("", False), Cell(head[3], True)]
        return [*cells[:first], *made, *cells[first + 1 :]]
    if best("mode", text)[1] >= 0.93:
        return None  # a mode's own name
    parts = re.split(r"([_.\-])", text)
    words = parts[::2]
    for size in range(len(words) - 1, 0, -1):
        for start in (len(words) - size, 0):
            inner = "".join(parts[2 * start : 2 * (start + size) - 1])
            outer = [w for at, w in enumerate(words) if not start <= at < start + size]
            if best("mode", inner)[1] < 0.8 or not all(about_ranges(w) for w in outer):
                continue
            before = "".join(parts[: 2 * start])
            after = "".join(parts[2 * (start + size) - 1 :])
            made = [Cell(before, True), Cell("", False)] if before else []
            made.append(Cell(inner, True))
            if after:
                made += [Cell("", False), Cell(after, True)]
            return [*cells[:first], *made, *cells[first + 1 :]]
    # A word of its own for a mode, behind one that says what the line is about.
    if count_numbers(cells) >= 3 and len(words) >= 2 and _is_range(words[0]) and "".join(parts[2:]):
        made = [Cell("".join(parts[:2]), True), Cell("", False), Cell("".join(parts[2:]), True)]
        return [*cells[:first], *made, *cells[first + 1 :]]
    return None


def _is_range(word: str) -> bool:
    return any(idea == "range" and weight >= 0.9 for idea, weight in ideas(word.lower()))


def about_ranges(word: str) -> bool:
    return any(idea in ("range", "kind", "channel", "aux", "on") for idea, _ in ideas(word.lower()))
