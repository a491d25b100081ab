"""What of a dump was not read, or is not there though it should be, and what that may be about.

A line without a meaning may be anything; it counts as what its words make likely: the setting
whose name is nearest, the rows that begin as it does, what its title holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft.model import EVERYTHING, Unread
from cfglint.craft.settings import SETTINGS, counts, family
from cfglint.dialect.lines import words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.dialect.mapping import Entry
    from cfglint.dialect.reader import MapReader
    from cfglint.dialect.reading import Reader
    from cfglint.dump.layout import Row
    from cfglint.span import Span

#: What mode lines make.
MODES = frozenset({"range", "link"})
#: The words of a mode's range: mode, channel, and two ends.
_RANGE = 4
#: A line is quoted up to here.
_MOST = 60


def unread(reader: Reader, outside: str) -> Iterator[Unread]:
    """All that was not read of a dump which otherwise was; ``outside`` as in the craft."""
    if outside:
        text = f"what the firmware {reader.said_version} means by its lines, in the dialect file"
        yield Unread(
            frozenset({EVERYTHING}), "craft.firmware", "dialect", f"{text} (it describes {outside})"
        )
    if reader.whole:
        yield from _of_no_version(reader)
    for slip in reader.misread:
        names = frozenset({slip.name}) if "." in slip.name else MODES
        why = f"`{slip.written}` means nothing in the dialect `{reader.dialect.id}`"
        yield _line(reader, slip.line_span, names, why)
    for name, (slip, nothing) in reader.blank.items():
        if not nothing:
            why = f"`{slip.written}` is the firmware's own and has no neutral meaning"
            yield _line(reader, slip.line_span, frozenset({name}), why)
    rows = {row.line: row for row in reader.rows}
    titled = not (reader.ranges or reader.links) and any(
        one.makes in MODES and (len(one.at.segments) > 1 or one.header)
        for one in reader.map.entries
    )
    for stray in reader.strays:
        row = rows.get(stray.span.line)
        names = _about(reader, row, stray.nearest) if row is not None else frozenset()
        if row is not None and titled and _cells(row) >= _RANGE:
            # The title over all lines of modes may be lost.
            names |= MODES
        if names:
            yield _line(reader, stray.span, names, "it was not understood", guessed=True)
    # Where all lines have a meaning none of them can be what is not mapped.
    rowlike = any(not reader.gives_value(rows[one.span.line]) for one in reader.strays)
    for name in sorted(reader.tables.unmapped) if reader.strays else ():
        if "." in name or (name in MODES and rowlike):
            text = f"`{name}` in the dialect file: the dump has lines that mean nothing there"
            yield Unread(frozenset({name}), name, "dialect", text, guessed=True)
    for refusal in reader.refusals:
        row = rows.get(refusal.cause.line) if refusal.cause is not None else None
        if row is not None and refusal.cause is not None:
            # A refused range is not there; a refused value leaves what was there before.
            names = _about(reader, row, reader.name_of(row)[0]) - MODES
            if names:
                yield _line(reader, refusal.cause, names, "it was refused", guessed=True)
    for row, passed in reader.swallowed():
        names = _said(passed)
        if names:
            span = reader.span_of(row)
            yield _line(reader, span, names, "`ignored` passes it over")._replace(
                text=f"line {span.line} of {reader.file}, `{reader.source.slice(span)[:_MOST]}`",
                mark=_pattern(reader, row),
            )
    for bad in reader.unreadable:
        yield _line(reader, bad.span, frozenset({EVERYTHING}), bad.why, guessed=True)
    if reader.whole:
        yield from _cut_off(reader)
    for name in sorted(reader.undecided):
        text = f"which profile is in use, in the dump: `{name}` is not the same in all"
        yield Unread(frozenset({name}), "the profile in use", "dump", text)
    if reader.whole and reader.extent == "full":
        groups: dict[str, list[str]] = {}
        for name in _not_listed(reader):
            start, _, _ = name.rpartition(".")
            # What is told of one port is one line's matter, or may be.
            one = start.rpartition(".")[2].isdigit()
            groups.setdefault(start if one else name, []).append(name)
        for group in groups.values():
            told = " and ".join(f"`{name}`" for name in group)
            text = f"{told} in the dump, which has no such line though it is a full listing"
            yield Unread(frozenset(group), group[0], "dump", text)


def _cut_off(reader: Reader) -> Iterator[Unread]:
    """What may have stood behind the end of a dump that is not whole: all that no line says.

    Which settings a full listing lacks is known, but not how many lines of modes it had; what a
    dump of changes lacks may be as it is by default, or not.
    """
    listing = reader.listing()
    if listing.unclosed:
        span = listing.unclosed[-1]
        said = reader.source.slice(span)[:_MOST]
        why = f"the end of the dump: line {span.line}, `{said}`, opens what nothing closes"
    elif listing.named and listing.save and not listing.saved:
        why = f"the end of the dump: no line `{listing.save}` stands there, so it may be cut off"
    else:
        return
    names = MODES if reader.extent == "full" else frozenset({EVERYTHING})
    yield Unread(names, "the end of the dump", "dump", why, guessed=True)


def _line(
    reader: Reader, span: Span, names: frozenset[str], why: str, *, guessed: bool = False
) -> Unread:
    said = reader.source.slice(span)
    said = said if len(said) <= _MOST else f"{said[:_MOST]}…"
    return Unread(
        names, f"line {span.line}", "dump", f"line {span.line} of the dump, `{said}`: {why}", span,
        guessed,
    )  # fmt: skip


def _cells(row: Row) -> int:
    return sum(atom.kind != "mark" for atom in row.atoms)


def _said(reader: MapReader) -> frozenset[str]:
    """What a reader made of its lines."""
    return frozenset({*reader.values, *(MODES if reader.ranges or reader.links else ())})


def _pattern(reader: Reader, row: Row) -> Span:
    """Where the dialect file says to pass over a line."""
    marks = reader.dialect.data.get("marks", {})
    for key in ("ignored", "save"):
        said = marks.get(key, ())
        for at, text in enumerate([said] if isinstance(said, str) else said):
            if reader.passes_over(text, row):
                path = ("marks", key) if isinstance(said, str) else ("marks", key, at)
                return reader.dialect.document.where(*path)
    return reader.dialect.document.where("marks")


def _not_listed(reader: Reader) -> Iterator[str]:
    """The settings that have no line in a full listing, though the firmware has them.

    Of a family without a default there are as many as of anything else that counts the same: a
    port has a speed, as it has a function.  Where nothing says how many, the family is meant.
    """
    said = {*reader.values, *reader.blank, *(slip.name for slip in reader.misread)}
    named = {
        name
        for entry in reader.map.entries
        for field, name in entry.sets.items()
        if entry.gives or (field in entry.codecs and entry.codecs[field].named is not None)
    }
    always = {name: whole for name, whole, _ in reader.tables.defaults()}
    counted = {*always.values()}
    many = _many(reader, said)
    for entry in reader.map.entries:
        for name in entry.sets.values() if entry.makes == "settings" else ():
            if "N" not in name.split("."):
                if not name.startswith("craft."):
                    always[name] = name
            elif name not in counted:
                numbers = range(1, many.get(counts(name), 0) + 1)
                always |= {name.replace("N", str(at), 1): name for at in numbers} or {name: name}
    for name, whole in always.items():
        if name not in said and whole not in named and whole not in reader.tables.unmapped:
            yield name


def _many(reader: Reader, said: set[str]) -> dict[str, int]:
    """How many ports, channels and the like there are, by what the dialect or the dump says."""
    found: dict[str, int] = {}
    for whole, number in reader.tables.counts().items():
        found[counts(whole)] = max(number, found.get(counts(whole), 0))
    for name in said:
        whole = family(name)
        number = next((int(part) for part in name.split(".") if part.isdigit()), 0)
        if whole != name:
            found[counts(whole)] = max(number, found.get(counts(whole), 0))
    for row in SETTINGS.values():
        if row.counted in reader.values:
            number = int(reader.values[row.counted].value)
            found[counts(row.name)] = max(number, found.get(counts(row.name), 0))
    return found


def _of_no_version(reader: Reader) -> Iterator[Unread]:
    """What a dump means that does not say its version, if versions differ in it."""
    from cfglint.dialect.versions import orderable

    changes = reader.dialect.data.get("changes", [])
    if not changes or orderable(reader.dialect, reader.tables.version):
        return
    text = "`craft.firmware` in the dump (its lines mean one thing or another by the version)"
    for names, guessed in zip(reader.dialect.shifting(), (False, True), strict=True):
        if names:
            yield Unread(names, "craft.firmware", "dump", text, guessed=guessed)


def _about(reader: Reader, row: Row, nearest: str) -> frozenset[str]:
    """What a line without a meaning may be about: settings (or families), ranges, links."""
    found: set[str] = set()
    for entry in reader.tables.entries_called(nearest) if nearest else ():
        found |= _made(entry)
    own = tuple(atom.text.lower() for atom in row.atoms if atom.kind != "mark")
    for entry in reader.map.entries:
        if entry.way != "phrase" and _begins(entry, own):
            found |= _made(entry)
    for entry in reader.below(row):
        made = _made(entry)
        if made & MODES or any(".N." in name for name in made):
            found |= made
    return frozenset(found)


def _begins(entry: Entry, own: tuple[str, ...]) -> bool:
    """Whether a row begins with the words that a line of several fields begins with."""
    first = words(entry.at.text.rsplit(" > ", 1)[-1].partition("{")[0])
    return bool(first) and own[: len(first)] == first


def _made(entry: Entry) -> frozenset[str]:
    if entry.makes == "settings":
        return frozenset({*entry.sets.values(), *entry.gives})
    return MODES if entry.makes != "given" else frozenset()
