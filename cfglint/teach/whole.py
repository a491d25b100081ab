"""A dialect file from samples, as it can be used: drafted, filled up, and loaded as anyone's is.

What the samples hold and nobody knows a meaning for is listed as kept, so that no line of a
sample counts as a slip of the pen.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft.settings import family
from cfglint.dialect.contradictions import examine
from cfglint.dialect.load import load_dialect
from cfglint.dialect.reading import Reader
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.teach import sniff, tomlform
from cfglint.teach.entries import entries_of
from cfglint.teach.families import clean
from cfglint.teach.sheet import answers_of
from cfglint.teach.taught import teach

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.teach.openings import Draft
    from cfglint.teach.sheet import Question

HEAD = """\
# Drafted from {samples}.
# `sure = false`, and words in `unsure`, mark a guess; take the mark out where you confirm it.
"""
KEPT = "what stands in the samples without a meaning that is known here; look it over"
#: So many mappings that are not sound are taken out of a draft; with more it is no good.
MOST_UNSOUND = 20
#: What does less harm may be answered in the sheet, but is not open.
MINOR = 0.3
#: From so many names on that begin alike, what they begin with stands for them all.
MANY = 3


class Whole(NamedTuple):
    """The file's text, the dialect it is, and the draft behind it.

    ``questions`` are the sheet's, those with an answer too; ``open`` are those without, what can
    do most harm first.  ``samples`` is what was read of each.
    """

    text: str
    dialect: Dialect
    draft: Draft
    questions: tuple[Question, ...]
    open: tuple[Question, ...]
    samples: tuple[Source, ...]
    notes: tuple[str, ...]


def whole(
    sources: Sequence[Source],
    name: str,
    language: str = "",
    answers: Mapping[str, str] | None = None,
) -> Whole:
    """The dialect file of samples and of a sheet's answers.

    Raises Problem for samples that are no dumps of one firmware.
    """
    answers = answers or {}
    samples, notes = sniff.dumps(sources)
    draft = teach(samples, name, language, answers_of(answers))
    head = HEAD.format(samples=", ".join(_clean(one.file) for one in samples))
    text, left_out = _sound(f"{head}\n{draft.text}")
    dialect = _loaded(name, text)
    readers = [_read(source, dialect) for source in samples]
    # What holds no word would keep every line.
    kept = [one for one in _kept(readers, dialect) if re.search(r"[^\W_]", one)]
    text += "\n".join(["", *tomlform.comment(KEPT), *tomlform.table("kept", {"at": kept})])
    text += "\nsure = false\n"
    dialect = _loaded(name, text)
    # What a line at the beginning says is not asked for.
    said = set.intersection(*(set(one.values) for one in readers))
    asked = [one for one in draft.questions if one.kind != "find" or one.subject not in said]
    told = {_asks(key) for key in answers}
    left = [one for one in asked if one.key not in told or _again(one, draft)]
    left = [one for one in left if one.harm >= MINOR]
    left.sort(key=lambda one: -one.harm)
    return Whole(
        text, dialect, draft, tuple(asked), tuple(left), tuple(samples), (*notes, *left_out)
    )


def _sound(text: str) -> tuple[str, list[str]]:
    """A draft without what is no sound dialect file or contradicts the rest, and what that was."""
    notes = []
    for _ in range(MOST_UNSOUND):
        wrong = next((one for one in examine("draft", text.encode()) if one.span), None)
        fewer = _without(text, wrong.span.line) if wrong and wrong.span else ""
        if wrong is None or not fewer:
            break
        text = fewer
        notes.append(f"left out of the draft: {wrong.message}")
    return text, notes


def _without(text: str, number: int) -> str:
    """A draft's text without the mapping or the family of rows at a line; ``""`` if none is."""
    lines = text.split("\n")
    start = end = number - 1
    header = next(lines[at] for at in range(start, -1, -1) if re.match(r"\[|$", lines[at]))
    if header == "[[rows]]":
        start = next(at for at in range(start, -1, -1) if lines[at] == header)
        end = next(at for at in range(end, len(lines)) if not lines[at]) - 1
    elif header != "[map]" or lines[start] == header:
        return ""
    start -= lines[start - 1].startswith("#")
    return "\n".join([*lines[:start], *lines[end + 1 :]])


def _read(source: Source, dialect: Dialect) -> Reader:
    reader = Reader(source, dialect)
    reader.craft()
    return reader


def _asks(key: str) -> str:
    """The question that an answer is to: of what is counted one answer will do."""
    kind, _, rest = key.partition(" ")
    return f"{kind} {family(rest)}" if kind in ("value", "find") else key


def _again(one: Question, draft: Draft) -> bool:
    return {one.subject, f"{one.table} {one.subject}"} & set(draft.reopened) != set()


def _clean(text: str) -> str:
    """Text that cannot end a comment."""
    return "".join(char if char.isprintable() else " " for char in text)


def _loaded(name: str, text: str) -> Dialect:
    try:
        return load_dialect(f"{name}.toml", text.encode())
    except Problem as wrong:
        # The draft itself: nothing that a person could put right there.
        raise Problem(
            f"what was drafted is no sound dialect file: {wrong.message}",
            instead="nothing was written; this is a fault in cfglint, please report it",
            exit=EXIT_UNREAD,
        ) from None


def _kept(readers: Sequence[Reader], dialect: Dialect) -> Iterable[str]:
    """Addresses of the samples' lines without a meaning, by their names."""
    rows = [(sample, row) for sample, one in enumerate(readers) for row in one.rows if row.atoms]
    lone = {(sample, one.span.line) for sample, r in enumerate(readers) for one in r.strays}
    taken = {_first(clean(row.text)) for sample, row in rows if (sample, row.line) not in lone}
    groups: dict[str, list[str]] = defaultdict(list)
    for entry in entries_of(rows):
        if (entry.sample, entry.row.line) not in lone:
            continue
        name = clean(entry.name)
        if not name or name.lower() in taken:
            # A word that other lines begin with, too, says nothing alone.
            name = " ".join(clean(entry.row.text).split()[:2])
        if name and not name[0].isdigit() and name not in groups[_first(name)]:
            groups[_first(name)].append(name)
    mapped = {
        at.lower()
        for one in dialect.data.get("map", {}).values()
        for at in _texts(one if isinstance(one, str) else one["at"])
    }
    every = sum(map(len, groups.values()))
    for first, names in groups.items():
        # A word that most lines begin with says nothing.
        many = MANY <= len(names) <= 0.3 * every and first not in taken
        yield from (
            [f"{first} *"] if many else [one for one in names if one.lower() not in mapped | taken]
        )


def _texts(at: str | list[str]) -> list[str]:
    return [at] if isinstance(at, str) else at


def _first(name: str) -> str:
    return re.split(r"[\W_]+", name.lower(), maxsplit=1)[0]
