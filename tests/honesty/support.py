"""Reading the demo fleet with something taken out, and what all rules say of it."""

from __future__ import annotations

import re
import sys
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from cfglint.craft.cards import read_card
from cfglint.dialect import Dialect, bundled, load_dialect, read_craft
from cfglint.dialect.choose import choose
from cfglint.dialect.load import bundled_names
from cfglint.dump.source import Source
from cfglint.plugins import BUILTIN, Entry, load_rules
from cfglint.rule import FleetRule, Options, judge

if TYPE_CHECKING:
    from cfglint.craft import Craft
    from cfglint.rule import Outcome

ROOT = Path(__file__).resolve().parents[2]
FLEET = ROOT / "fixtures" / "saltmarsh"
CRAFTS = tuple(sorted(path.name.partition(".")[0] for path in (FLEET / "dumps").iterdir()))
RULES = tuple(
    one
    for one in load_rules([Entry("builtin", BUILTIN, "cfglint-craft")]).rules
    if not isinstance(one, FleetRule)
)


#: Craft of the fleet written in the dialects that none of them speaks: ``egret/tables``.
ABROAD = ("curlew/nested", "godwit/nested", "egret/tables", "bittern/tables")

sys.path.append(str(ROOT))


@lru_cache
def dump_of(name: str) -> str:
    craft, _, dialect = name.partition("/")
    if dialect:
        from benchmarks.faults import base

        return base(craft, dialect).dump()[0]
    return (FLEET / "dumps" / f"{name}.dump.txt").read_text(encoding="utf-8")


@lru_cache
def card_of(name: str) -> str:
    craft, _, dialect = name.partition("/")
    if dialect:
        from benchmarks.faults import base

        return base(craft, dialect).card_text()
    return (FLEET / "cards" / f"{name}.toml").read_text(encoding="utf-8")


@lru_cache
def dialect_of(name: str) -> Dialect:
    every = {one: bundled(one) for one in bundled_names()}
    return choose(Source.from_text("x.txt", dump_of(name)), every)


def read(dump: str, card: str, dialect: Dialect) -> Craft:
    hardware = read_card("card.toml", card.encode()) if card else None
    return read_craft(Source.from_text("dump.txt", dump), dialect, hardware, "X", whole=True)


def said(craft: Craft) -> dict[str, Outcome]:
    """The outcome of every rule that asks about one craft."""
    return {
        one.id: judge(one, craft, Options({row.name: row.default for row in one.options}))
        for one in RULES
    }


@lru_cache
def said_whole(name: str) -> dict[str, Outcome]:
    return said(read(dump_of(name), card_of(name), dialect_of(name)))


@lru_cache
def extent(name: str) -> str:
    return read(dump_of(name), card_of(name), dialect_of(name)).extent


@lru_cache
def grammar(name: str) -> tuple[str, ...]:
    """The lines of a bundled dialect file, without its examples."""
    text = (ROOT / "grammars" / f"{name}.toml").read_text(encoding="utf-8")
    return tuple(text.split("[[examples]]")[0].split("\n"))


@lru_cache
def dialect_rows(name: str) -> tuple[tuple[int, int], ...]:
    """First and last line (from 0, the end left out) of each row of a dialect file: an entry of
    its map, a mode, a trait, a form of lines.
    """
    lines = grammar(name)
    heads = [at for at, line in enumerate(lines) if line.startswith("[")]
    found = []
    for at, head in enumerate(heads):
        table = lines[head].strip("[] ")
        end = heads[at + 1] if at + 1 < len(heads) else len(lines)
        if table in ("map", "modes", "traits"):
            found += [
                (one, one + 1) for one in range(head, end) if re.match(r'["a-z][^=#]*=', lines[one])
            ]
        elif table == "rows" or table.startswith("map."):
            if end < len(lines) and lines[end].startswith("[rows.fields]"):
                end = heads[at + 2] if at + 2 < len(heads) else len(lines)
            found.append((head, end))
    return tuple(found)


def without_rows(name: str, start: int, end: int) -> Dialect:
    lines = grammar(name)
    return load_dialect("other.toml", "\n".join((*lines[:start], *lines[end:])).encode())
