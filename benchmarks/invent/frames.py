"""Layouts of single values, a whole family of dialects each; rows stand between in their own."""

from __future__ import annotations

import re
from collections.abc import Callable
from random import Random
from typing import NamedTuple

from . import trees
from .author import Author, Entry, Section
from .page import Mark, Page, Text, joined, pad, plain, text
from .rows import LAYOUTS, Layout, table
from .words import SENTENCES

Write = Callable[[Page, Author, list[Section]], None]


def flat(write: Callable[[Page, Author, Section], None]) -> Write:
    """A family by how it writes one section; rows, each kind in a layout of its own, follow."""

    def written(page: Page, a: Author, sections: list[Section]) -> None:
        for section in sections:
            write(page, a, section)
            for group in section.groups:
                if group.note:
                    page.add(a.comment(group.note))
                layout_of(a, group.kind)(page, a, group)
            page.add("")

    return written


def layout_of(a: Author, kind: str) -> Layout:
    return Random(f"{a.board} {kind}").choice(LAYOUTS[a.half][a.kind])


def noted(page: Page, a: Author, entry: Entry) -> Text:
    """A comment behind a line, or above it where it is long."""
    if len(entry.note) > 40:
        page.add(a.comment(entry.note))
        return []
    return text("   ", a.comment(entry.note)) if entry.note else []


def assigned(a: Author, name: str, value: Text) -> Text:
    if a.assign == "leader":
        return text(name, " ", "." * max(3, 36 - len(name)), " ", value)
    if a.assign == "columns":
        return text(pad([name], 36), " ", value)
    return text(name, a.assign, value)


# ------------------------------------------------------------------ open


def pairs(page: Page, a: Author, section: Section) -> None:
    """A name and a value a line, in paragraphs."""
    for entry in section.entries:
        end = noted(page, a, entry)
        page.add(assigned(a, a.name(entry.subject, entry.label), entry.value), end)


def statements(page: Page, a: Author, section: Section) -> None:
    """Lines that read as a phrase with a verb."""
    verb, joint = a.verb
    page.add(a.comment(section.title))
    for entry in section.entries:
        end = noted(page, a, entry)
        name = f"{entry.subject} {entry.label}".replace(" ", "-")
        page.add(verb, " ", name, " ", joint, " ", entry.value, end)


def headed(page: Page, a: Author, section: Section) -> None:
    """Sections with a head in brackets."""
    page.add(a.bracket[0], "" if len(a.bracket[0]) == 1 else " ", section.title,
             "" if len(a.bracket[0]) == 1 else " ", a.bracket[-1])  # fmt: skip
    for entry in section.entries:
        end = noted(page, a, entry)
        page.add(assigned(a, a.name(entry.label), entry.value), end)


def several(page: Page, a: Author, section: Section) -> None:
    """Several pairs a line behind their subject."""
    for at in range(0, len(section.entries), 3):
        some = section.entries[at : at + 3]
        for entry in some:
            if entry.note:
                page.add(a.comment(f"{entry.label}: {entry.note}"))
        said = [text(a.name(entry.label), "=", entry.value) for entry in some]
        page.add(a.name(section.title), ": ", joined(said, "  "))


def registers(page: Page, a: Author, section: Section) -> None:
    """Addresses with a value, and a note that is the name."""
    address = Random(a.board).randrange(0x1200, 0x8F00) + 96 * section.place
    page.add(a.comment(f"---- {section.title}"))
    for entry in section.entries:
        address += 3
        unit = f", {entry.note}" if entry.note else ""
        page.add(pad(text(f"@{address:04X} ", entry.value), 24), " ",
                 a.comment(f"{entry.subject} {entry.label}{unit}"))  # fmt: skip


def ruled(page: Page, a: Author, section: Section) -> None:
    """A drawn table of names, values and notes for each section."""
    page.add(section.title.upper())
    cells: list[list[Text]] = [[["what"], ["is"], ["note"]]]
    cells += [[[entry.label], entry.value, [entry.note]] for entry in section.entries]
    if section.entries:
        table(page, cells, ruled=True)


def banks(page: Page, a: Author, section: Section) -> None:
    """Sections that are there twice, with the one in use named."""
    chosen = Random(a.board).choice((1, 2))
    if not section.place:
        page.add(a.comment("of every bank only the one in use counts"))
        page.add(a.name("bank", "in use"), ": ", str(chosen))
    twice = section.title in (a.subjects["battery"], a.subjects["stick"])
    for bank in (1, 2) if twice else (chosen,):
        page.add(f"[{section.title} / bank {bank}]" if twice else f"[{section.title}]")
        for entry in section.entries:
            end = noted(page, a, entry)
            value = entry.value if bank == chosen else text(_other(plain(entry.value)))
            page.add(a.name(entry.label), ": ", value, end)


def _other(written: str) -> str:
    """What an idle bank holds: the number a little off, a word as it is."""
    spare = Random(written)
    digit = written[2:3]
    if digit.isdigit():
        return f"{written[:2]}{(int(digit) + spare.randrange(1, 4)) % 10}{written[3:]}"
    return written


def sentence(a: Author, entry: Entry) -> Text:
    """A value in a sentence of its own, or a plain one for what no setting covers."""
    if not entry.key:
        return text(f"The {entry.label} of the {entry.subject} is ", entry.value, ".")
    said = SENTENCES[entry.key].split(" / ")[a.half == "held"]
    before, asked, after = re.split(r"\{(.*?)\}", said)
    value = entry.value
    if asked and isinstance(value[0], Mark):
        yes, no = asked.split("|")
        value = [value[0]._replace(text=yes if value[0].facts[0][1] else no)]
    return text(before, value, after)


def prose(page: Page, a: Author, section: Section) -> None:
    """Sentences, two a line."""
    page.add(f"About the {section.title}." if a.half == "open" else f"{section.title.title()}.")
    said = [sentence(a, entry) for entry in section.entries]
    for at in range(0, len(said), 2):
        page.add(joined(said[at : at + 2], " "))


# ------------------------------------------------------------------ held


def underlined(page: Page, a: Author, section: Section) -> None:
    """Headings with a line below, and bullets."""
    page.add(section.title.title())
    page.add("~" * len(section.title))
    for entry in section.entries:
        end = noted(page, a, entry)
        page.add("* ", assigned(a, a.name(entry.label), entry.value), end)


def paths(page: Page, a: Author, section: Section) -> None:
    """Names as paths, an end mark behind every value."""
    for entry in section.entries:
        end = noted(page, a, entry)
        words = f"/{entry.subject}/{entry.label}".replace(" ", "_")
        page.add(words, " ", entry.value, ";", end)


def columned(page: Page, a: Author, section: Section) -> None:
    """Columns under a head: value, unit, name."""
    page.add(a.bracket[0], " ", section.title, " ", a.bracket[-1])
    for entry in section.entries:
        if entry.note and not entry.unit:
            page.add(a.comment(f"{entry.label}: {entry.note}"))
    cells: list[list[Text]] = [[["value"], ["unit"], ["item"]]]
    cells += [[e.value, [e.unit or "."], [e.label]] for e in section.entries]
    if section.entries:
        table(page, cells, ruled=False)


def across(page: Page, a: Author, section: Section) -> None:
    """Names side by side, their values below."""
    page.add(section.title.upper())
    for at in range(0, len(section.entries), 4):
        some = section.entries[at : at + 4]
        for entry in some:
            if entry.note:
                page.add(a.comment(f"{entry.label}: {entry.note}"))
        names: list[Text] = [[entry.label.replace(" ", "-")] for entry in some]
        table(page, [names, [entry.value for entry in some]], ruled=False)


def below(page: Page, a: Author, section: Section) -> None:
    """The value in the line below its name."""
    for entry in section.entries:
        note = f" ({entry.note})" if entry.note else ""
        page.add(f"{entry.subject}, {entry.label}{note}")
        page.add("      ", entry.value)


def coded(page: Page, a: Author, section: Section) -> None:
    """Short codes, and a legend above."""
    letters = [x + y for x in "BDFKMRTV" for y in "AEIOU"]
    Random(a.board).shuffle(letters)
    code = letters[section.place]
    for number, entry in enumerate(section.entries, 1):
        note = f" ({entry.note})" if entry.note else ""
        page.add(a.comment(f"{code}{number} = {entry.subject} {entry.label}{note}"))
    for number, entry in enumerate(section.entries, 1):
        page.add(f"{code}{number} ", entry.value)


def form(page: Page, a: Author, section: Section) -> None:
    """A page to tick and fill in."""
    page.add(f"== sheet {section.place + 1}: {section.title} ==")
    for entry in section.entries:
        said = plain(entry.value)
        if said in (a.yes, a.no):
            # The fact stands where the tick is.
            page.add("  ", pad([entry.label], 34), "[x] ", entry.value,
                     "  [ ] ", a.no if said == a.yes else a.yes)  # fmt: skip
        else:
            end = f"   ({entry.note})" if entry.note else ""
            line = "_" * max(3, 33 - len(entry.label))
            page.add("  ", entry.label, " ", line, " ", entry.value, end)


class Family(NamedTuple):
    """``nested`` families write rows themselves and have no notes; ``silent`` ones no comments."""

    kind: str
    write: Write
    nested: bool = False
    silent: bool = False


FAMILIES: dict[str, dict[str, Family]] = {
    "open": {
        "pairs": Family("ordinary", flat(pairs)),
        "statements": Family("ordinary", flat(statements)),
        "sections": Family("ordinary", flat(headed)),
        "blocks": Family("ordinary", trees.walked("blocks"), nested=True),
        "ruled table": Family("varied", flat(ruled)),
        "several a line": Family("varied", flat(several)),
        "registers": Family("varied", flat(registers)),
        "banks": Family("varied", flat(banks)),
        "braces": Family("varied", trees.walked("braces"), nested=True),
        "calls": Family("varied", trees.calls, nested=True, silent=True),
        "outline": Family("varied", trees.walked("outline"), nested=True),
        "prose": Family("unusual", flat(prose)),
        "drawn tree": Family("unusual", trees.drawn, nested=True, silent=True),
    },
    "held": {
        "bullets": Family("ordinary", flat(underlined)),
        "paths": Family("ordinary", flat(paths)),
        "dashes": Family("ordinary", trees.walked("dashes"), nested=True),
        "columns": Family("varied", flat(columned)),
        "across": Family("varied", flat(across)),
        "value below": Family("varied", flat(below)),
        "codes with a legend": Family("varied", flat(coded)),
        "objects": Family("varied", trees.objects, nested=True, silent=True),
        "tags": Family("varied", trees.tags, nested=True, silent=True),
        "lists": Family("varied", trees.lists, nested=True, silent=True),
        "form": Family("unusual", flat(form)),
        "letter": Family("unusual", flat(prose)),
        "numbered": Family("unusual", trees.numbered, nested=True, silent=True),
    },
}
