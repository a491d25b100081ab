"""Invented dialects, with dumps and the truth about them, to measure teaching by.

    python -m benchmarks.invent --seed 7 --half open --out FOLDER
    python -m benchmarks.invent --seed 7 --count 40 --half held --out FOLDER
    python -m benchmarks.invent --seed 7 --half open --update --out FOLDER

Every seed gives another dialect that no product has, in the form of a blind one: dumps and a
``truth.json``.  A dialect belongs to a family of layouts.  The words and the families are in two
halves: ``open`` is for development, its dialects and failures may be looked at.  Of ``held`` only
totals are ever looked at, so that neither its words nor its layouts are what teaching was made
from.  The word lists were written without a look at those in ``cfglint/teach``, and are not to be
read while writing these.

An update is one craft before and after a new version, with what became different.
"""

from __future__ import annotations

import json
from random import Random
from typing import Any, NamedTuple

from .author import Author
from .craft import Craft, draw_craft
from .frames import FAMILIES, Family, layout_of
from .page import Page
from .words import Half

__all__ = ["FAMILIES", "Half", "Invented", "invent", "update"]


class Invented(NamedTuple):
    """One dialect: its files by name, its author."""

    name: str
    family: str
    files: dict[str, str]
    truth: dict[str, Any]
    author: Author


def _author(seed: int, half: Half, family: str) -> tuple[Author, str, Family]:
    rng = Random(f"author {half} {seed}")
    family = family or list(FAMILIES[half])[seed % len(FAMILIES[half])]
    kind = FAMILIES[half][family]
    notes = not kind.nested and not kind.silent
    prose = family in ("prose", "letter")
    return Author(rng, half, kind.kind, prose=prose, notes=notes), family, kind


def _dump(author: Author, family: Family, craft: Craft, rng: Random, *, brief: bool) -> Page:
    page = Page()
    if author.pasted and not family.silent:
        page.add(author.prompt)
    if not family.silent:
        for note in author.notes(rng):
            page.add(author.comment(note))
        if author.port_base != 1:
            page.add(author.comment(f"{author.heads['ports']} count from {author.port_base}"))
        if brief:
            page.add(author.comment("what stands as it was delivered is left out"))
    family.write(page, author, author.sections(craft, rng, brief=brief))
    if not family.silent:
        page.add(author.done)
    return page


def _truth(author: Author, name: str, family: Family, pages: dict[str, Page]) -> dict[str, Any]:
    layouts = [] if family.nested else [
        f"{kind}: {layout_of(author, kind).__name__}" for kind in ("port", "end", "range", "loss")
    ]  # fmt: skip
    return {
        "kind": family.kind,
        "language": "en",
        "structures": [name, *layouts],
        "range_ends": "closed",
        "manual": "\n".join(author.manual()),
        "dumps": {file: page.truth() for file, page in pages.items()},
        "cannot_tell": author.cannot,
    }


def _made(seed: int, name: str, author: Author, truth: dict[str, Any],
          pages: dict[str, Page]) -> Invented:  # fmt: skip
    files = {file: page.dump() for file, page in pages.items()}
    files["truth.json"] = json.dumps(truth, indent=1, ensure_ascii=False) + "\n"
    return Invented(f"{author.half}-{seed}", name, files, truth, author)


def invent(seed: int, half: Half = "open", family: str = "") -> Invented:
    """The dialect of a seed; always the same for the same seed, half and family."""
    author, name, frame = _author(seed, half, family)
    rng = Random(f"dumps {half} {seed}")
    pages = {}
    for file in ("a.dump.txt", "b.dump.txt"):
        craft = draw_craft(rng, half, author.ports, author.channels)
        brief = author.brief and file.startswith("b")
        pages[file] = _dump(author, frame, craft, rng, brief=brief)
    return _made(seed, name, author, _truth(author, name, frame, pages), pages)


def update(seed: int, half: Half = "open", family: str = "") -> Invented:
    """One craft before and after an update; ``update`` in the truth says what is different."""
    author, name, frame = _author(seed, half, family)
    rng = Random(f"update {half} {seed}")
    craft = draw_craft(rng, half, author.ports, author.channels)
    pages = {"before.dump.txt": _dump(author, frame, craft, Random(seed), brief=False)}
    later, changes = author.later(rng)
    pages["after.dump.txt"] = _dump(later, frame, craft, Random(seed), brief=False)
    author.cannot = {**author.cannot, **later.cannot}
    truth = _truth(author, name, frame, pages)
    return _made(seed, name, author, {**truth, "update": changes}, pages)
