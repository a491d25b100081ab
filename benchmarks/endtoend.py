"""Measures a whole way with dialects that nobody has described: taught, linted, carried.

    python benchmarks/endtoend.py FOLDER ...

A dialect is taught from all of its dumps and one sheet filled in truthfully (see ``blind.py``).
Then, for every dump:

- *sound*: the rules' findings by the draft, against those by the truth; one that only the draft
  brings is false, one that only the truth brings is missed;
- *faults*: six values are changed in the text, each to one by which a rule is newly broken in
  truth; the draft must read the changed text to the same rule;
- *carried*: an update renames what a value stands behind; the dump is carried, pasted back, and
  read with the new version: nothing may be another than before.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, NamedTuple

sys.path.insert(0, str(Path(__file__).parent))

import blind
from edits import with_lines

from cfglint.carry.carry import carry, paste
from cfglint.carry.side import read_side
from cfglint.craft import Craft, ModeRange, Traits
from cfglint.dialect.edit import edited
from cfglint.dialect.load import load_dialect
from cfglint.dialect.model import Dialect
from cfglint.dialect.reading import Reader
from cfglint.dialect.values import Bad
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.facts.versions import compare
from cfglint.kit import build_craft
from cfglint.plugins import load_rules
from cfglint.rule import Options, judge

#: Rules about the text itself, of which a truth has none.
ABOUT_TEXT = ("dump/",)
#: Faults: a setting, and values tried until one breaks a rule that held.
FAULTS: tuple[tuple[str, tuple[Any, ...]], ...] = (
    ("motor.signal", ("brushed", "dshot1200", "servo-pwm")),
    ("failsafe.action", ("hold-last", "none")),
    ("failsafe.delay_s", (21.5, 37.0)),
    ("receiver.link", ("ibus", "sumd", "crsf")),
    ("battery.empty_v", (4.15, 2.2)),
    ("battery.warn_v", (3.02, 4.4)),
    ("receiver.port", (5, 7, 2)),
    ("stick.dead_band_us", (260, 190)),
    ("motor.two_way", (True, False)),
    ("stick.low_us", (1620, 880)),
    ("battery.cells", (9, 1)),
    ("motor.idle_percent", (41.0, 0.0)),
    ("channel.1.low_us", (1540, 1720)),
    ("loop.rate_hz", (310, 21000)),
)
MOST = 6
#: What went wrong, with ``--why`` (of open dialects only).
why: list[str] = []


class Tally(NamedTuple):
    """What one dialect came to, in counts."""

    agreed: int
    false: int
    missed: int
    faults: int
    found: int
    carried: int
    whole: int


def findings(craft: Craft) -> dict[str, str]:
    """The state of every rule, but for those about the text."""
    loaded = load_rules()
    out = {}
    for one in loaded.rules:
        if not one.id.startswith(ABOUT_TEXT):
            options = Options({option.name: option.default for option in one.options})
            out[one.id] = judge(one, craft, options).state
    return out


def card_of(facts: dict[str, Any]) -> dict[str, Any]:
    """A card that agrees with the truth, as somebody writes it who built the craft so."""
    value = lambda name: facts[name]["value"] if name in facts else None  # noqa: E731
    card = {
        "airframe.motors": 4,
        "airframe.kind": "programmable",
        "esc.signals": frozenset([value("motor.signal")] if value("motor.signal") else ()),
        "esc.two_way": value("motor.two_way"),
        "receiver.link": value("receiver.link"),
        "receiver.port": value("receiver.port"),
        "battery.cells": value("battery.cells") or None,
        "battery.chemistry": value("battery.chemistry"),
    }
    return {name: what for name, what in card.items() if what}


def true_craft(said: dict[str, Any], changed: dict[str, Any], traits: Traits) -> Craft:
    """The craft that a dump means, with some values changed."""
    settings = {
        name: frozenset(value) if isinstance(value, list) else value
        for name, value in {
            **{name: fact["value"] for name, fact in said["settings"].items()},
            **changed,
        }.items()
    }
    craft = build_craft(
        settings,
        card=card_of(said["settings"]),
        links=[(one["mode"], one["follows"]) for one in said.get("links", [])],
        ranges=[(r["mode"], r["channel"], r["low_us"], r["high_us"]) for r in said["ranges"]],
        traits=traits,
    )
    ranges = tuple(
        ModeRange(*row[:4], one.get("join", "any"), *row[5:])
        for row, one in zip(craft.mode_ranges, said["ranges"], strict=True)
    )
    return craft.changed(mode_ranges=ranges)


def drafted(source: Source, dialect: Dialect, said: dict[str, Any]) -> tuple[Craft, Reader]:
    card = build_craft({}, card=card_of(said["settings"])).card
    reader = Reader(source, dialect, card=card)
    return reader.craft(), reader


def measure(folder: Path) -> Tally:
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    names = sorted(truth["dumps"])
    given = blind.sources(folder, names)
    text, _ = blind.answered(truth, given, folder)
    dialect = load_dialect(f"{folder.name}.toml", text.encode())
    total = [0] * len(Tally._fields)
    for source in given:
        said = truth["dumps"][source.file]
        for place, count in enumerate(_one(source, dialect, said, text)):
            total[place] += count
    return Tally(*total)


def _one(source: Source, dialect: Dialect, said: dict[str, Any], text: str) -> Tally:
    craft, reader = drafted(source, dialect, said)
    true = findings(true_craft(said, {}, craft.traits))
    got = findings(craft)
    broken = {one for one, state in true.items() if state == "broken"}
    told = {one for one, state in got.items() if state == "broken"}
    faults, found = _faults(source, dialect, said, reader, broken, told)
    whole = _carried(source, dialect, text)
    return Tally(
        len(broken & told),
        len(told - broken),
        len(broken - told),
        faults,
        found,
        0 if whole is None else 1,
        int(bool(whole)),
    )


def _faults(
    source: Source,
    dialect: Dialect,
    said: dict[str, Any],
    reader: Reader,
    broken: set[str],
    told: set[str],
) -> tuple[int, int]:
    """How many faults were put in, and how many of them were found by the meant rule."""
    put = found = 0
    for name, values in FAULTS:
        if put == MOST:
            break
        if name not in said["settings"]:
            continue
        for value in values:
            states = findings(true_craft(said, {name: value}, reader.craft().traits))
            meant = {one for one, state in states.items() if state == "broken"} - broken
            if not meant:
                continue
            try:
                lines = edited(reader, name, value)
                put += 1
            except Bad as wrong:
                if str(wrong).startswith(("no word", "no code")):
                    continue  # what no sample says nobody can type in yet
                # Not read, or not writable: a fault that is not found.
                put += 1
                why.append(f"{name} = {value}: {wrong}")
                break
            changed = Source.from_text(source.file, with_lines(reader, lines))
            now = findings(drafted(changed, dialect, said)[0])
            if meant & {one for one, state in now.items() if state == "broken"} - told:
                found += 1
            else:
                why.append(f"{name} = {value}: {', '.join(f'{m} {now[m]}' for m in meant)}")
            break
    return put, found


def _carried(source: Source, dialect: Dialect, text: str) -> bool | None:
    """Whether a carry to an update that renames a name loses nothing; None without such a name."""
    version = Reader(source, dialect).craft().get("craft.firmware").value or "1"
    try:
        compare(version, f"{version}.1", "dotted")
    except ValueError:
        return None
    for name, entry in dialect.data["map"].items():
        at = entry if isinstance(entry, str) else entry.get("at", "")
        word = at.rpartition(" > ")[2] if isinstance(at, str) else ""
        if not word.isidentifier() or name.startswith("craft.") or text.count(word) > 2:
            continue
        later = f"{version}.1"
        row = (
            f'\n[[changes]]\nat = "{later}"\nabout = "renamed"\nrename = {{ {word} = "{word}x" }}\n'
        )
        try:
            new = load_dialect("new.toml", (text + row).encode())
            side = read_side(source, new, version=version)
            moved = carry(side, new, later)
            pasted = Source.from_text(source.file, paste(moved))
            after = Reader(pasted, new, version=later).craft()
        except Problem as wrong:
            why.append(f"carry: {wrong.message}")
            continue
        before = side.craft
        same = all(
            name in ("craft.firmware", "craft.board") or after.get(name).value == one.value
            for name, one in before.values.items()
        )
        ranges = [row[:5] for row in before.mode_ranges] == [row[:5] for row in after.mode_ranges]
        return bool(same and ranges) or not moved.complete
    return None


def main() -> int:
    every = []
    for folder in blind.dialects([one for one in sys.argv[1:] if one != "--why"]):
        try:
            one = measure(folder)
        except Problem as wrong:
            print(f"{folder.name:12} the draft does not load: {wrong.message}")
            continue
        every.append(one)
        print(f"{folder.name:12} {_shown(one)}")
        if "--why" in sys.argv:
            print(*(f"    {line}" for line in why), sep="\n")
        why.clear()
    if every:
        print(f"{'all':12} {_shown(Tally(*map(sum, zip(*every, strict=True))))}")
    return 0


def _shown(one: Tally) -> str:
    return (
        f"findings agree {one.agreed}, false {one.false}, missed {one.missed}; "
        f"faults {one.found} of {one.faults}; carried {one.whole} of {one.carried}"
    )


if __name__ == "__main__":
    sys.exit(main())
