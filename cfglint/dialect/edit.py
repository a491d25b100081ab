"""Changing one value of a dump where it stands, and nothing else.

Only the value's own characters are replaced: padding, quotes, hexadecimal width, decimal mark and
unit stay as they are.  Numbers that count (a channel's, a port's) are part of an address and are
never changed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.dialect.encode import respell
from cfglint.dialect.values import Bad

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from cfglint.craft.model import ModeRange
    from cfglint.dialect.reader import Read
    from cfglint.dialect.reading import Reader

Edit = tuple[int, int, int, str]


def edited(reader: Reader, name: str, value: Any) -> dict[int, str]:
    """The lines of a dump, by number, that give a setting another value.

    Raises Bad where no line of the dump says the setting, or none can say that value.
    """
    return changed_lines(reader, [edit_of(reader, name, value)])


def edit_of(reader: Reader, name: str, value: Any) -> Edit:
    """The characters to change: line, first and last column (from 0), and what to put there."""
    read = reader.reads.get(name)
    if read is None or reader.values[name].line_span is None:
        raise Bad("a line that says it, and the dump has none")
    for other in reader.reads.values():
        # Values of the same line that are written as a distance from this one.
        given = [name for _, name in other.entry.codecs[other.field].given]
        if other.row.line == read.row.line and read.field in given:
            raise Bad("a value that no other on its line is counted from")
    return _edit(reader, read, value)


def edits_of_range(reader: Reader, number: int, row: ModeRange) -> list[Edit]:
    """The characters to change to give a mode range, by its number in the craft, other ends.

    Raises Bad where the dump's way of writing ranges cannot say them.
    """
    reads, old = reader.range_reads[number], reader.ranges[number]
    if (row.mode, row.channel, row.join) != (old.mode, old.channel, old.join):
        raise Bad("a range of the same mode and channel")
    width = row.high_us - row.low_us
    wanted = {
        "low": row.low_us,
        "high": row.high_us,
        "width": width,
        "half": width / 2,
        "centre": row.low_us + width / 2,
    }
    fields = {field: read for field, read in reads.items() if field in wanted}
    if len(fields) < 2:
        raise Bad("ends that are written as numbers")
    return [_edit(reader, read, wanted[field]) for field, read in fields.items()]


def with_lines(reader: Reader, lines: Mapping[int, str]) -> str:
    """The whole text of a dump with some of its lines replaced; line ends stay as they are."""
    parts = re.split(r"(\r\n|\r|\n)", reader.source.text)
    for number, text in lines.items():
        parts[2 * (number - 1)] = text
    return "".join(parts)


def _edit(reader: Reader, read: Read, value: Any) -> Edit:
    codec, row, place = reader.codec(read), read.entry.row_of(read.field), read.place
    if reader.source.lines[place.line - 1][place.start : place.end] != read.written:
        raise Bad("a line that says it itself, not a title")
    return place.line, place.start, place.end, respell(read.written, codec, row, value)


def changed_lines(reader: Reader, edits: Iterable[Edit]) -> dict[int, str]:
    """The lines of a dump, by number, with some of their characters changed."""
    found: dict[int, str] = {}
    for line, start, end, new in sorted(edits, reverse=True):
        text = found.get(line, reader.source.lines[line - 1])
        found[line] = padded(text, start, end, new)
    return found


def padded(text: str, start: int, end: int, new: str) -> str:
    """A line with some of its characters replaced; in a column the rest stays where it is."""
    longer = len(new) - (end - start)
    before = len(text[:start]) - len(text[:start].rstrip(" "))
    after = len(text[end:]) - len(text[end:].lstrip(" "))
    behind = text[end + after : end + after + 1]
    if longer and after > max(longer, 0) + (0 if behind in "|│┃¦" and behind else 1) and behind:
        return (
            text[:start] + new + text[end + longer :]
            if longer > 0
            else (text[:start] + new + " " * -longer + text[end:])
        )
    if longer and before > max(longer, 0) + 1 and text[:start].strip():
        cut = start - longer if longer > 0 else start
        return text[:cut] + " " * max(-longer, 0) + new + text[end:]
    return text[:start] + new + text[end:]
