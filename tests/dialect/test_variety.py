"""What the bundled dialects and the demo fleet write is drawn anew in each place.

A program's set of defaults, code numbers, bits, steps and versions is part of its interface. Ours
are invented, and nothing shows it better than that no two agree: whoever takes numbers from memory
takes the same ones twice. So each set is derived from the files and compared with every other one.
What physics or the whole trade settles may be shared, and is listed here with its reason.
"""

from __future__ import annotations

import re
import tomllib
from itertools import combinations, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft.settings import setting
from cfglint.dialect import bundled, read_craft
from cfglint.dialect.load import bundled_names
from cfglint.dump.source import Source

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parents[2]
NAMES = bundled_names()
FILES = {
    name: tomllib.loads((ROOT / "grammars" / f"{name}.toml").read_text(encoding="utf-8"))
    for name in NAMES
}
PAIRS = list(combinations(NAMES, 2))
DUMPS = sorted((ROOT / "fixtures" / "saltmarsh" / "dumps").glob("*.dump.txt"))
MARKS = {"--": "plain", "; ": "terse", "//": "blocks", "% ": "terse"}

#: Defaults that may be the same everywhere.
SHARED = {
    "stick.centre_us": "the middle of a servo pulse, the trade's since analogue days",
    "channel.N.mid_us": "the same middle",
    "battery.full_v": "a LiPo cell charged full, by its chemistry",
    "battery.cells": "nobody has said: the controller counts them",
    "battery.chemistry": "what most small craft fly on",
    "motor.signal": "brushed, the dangerous default that the demo is about",
    "receiver.channel_order": "the order that is usual in handsets of several makers",
    "failsafe.action": "nothing is set until somebody sets it",
    "port.N.functions": "an unused port carries nothing",
    "board.roll_deg": "nobody has said: the board lies as the frame does",
    "board.pitch_deg": "the same",
    "board.yaw_deg": "the same",
    "frame.kind": "what most small craft are",
    "frame.motors": "as many as that has",
    "propellers.front_pair": "there are two ways only",
}


def defaults(name: str) -> Iterator[tuple[str, int | float]]:
    """Every number that holds when no line says, from the first version and from each change."""
    tables = [FILES[name]["map"], *(row.get("map", {}) for row in changes(name))]
    for table in tables:
        for key, entry in table.items():
            default = entry.get("default") if isinstance(entry, dict) else None
            if isinstance(default, int | float) and not isinstance(default, bool):
                yield key, default


def changes(name: str) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = FILES[name].get("changes", [])
    return rows


def codecs(name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Each table that says how one value is written, with what it is about."""
    yield from ((key, row) for key, row in FILES[name]["map"].items() if isinstance(row, dict))
    for row in FILES[name]["rows"]:
        for field, codec in row.get("fields", {}).items():
            what = f"{row['makes']} {field}" if "makes" in row else f"number of {row['at']}"
            yield row.get("sets", {}).get(field, what), codec


def codes(name: str) -> dict[str, dict[str, int]]:
    """Neutral words that are written as numbers, by what they are words of."""
    found = {}
    for what, codec in codecs(name):
        for kind in ("words", "bits"):
            numbers = {word: code for word, code in codec.get(kind, {}).items()
                       if isinstance(code, int)}  # fmt: skip
            if numbers:
                found[f"{what} {kind}"] = numbers
    modes = {word: code for word, code in FILES[name]["modes"].items() if isinstance(code, int)}
    return found | ({"modes": modes} if modes else {})


def test_there_is_something_to_compare() -> None:
    assert len(NAMES) == 5
    assert all(len(list(defaults(name))) > 15 for name in NAMES)
    assert sum(len(each) for name in NAMES for each in codes(name).values()) > 40
    assert len(DUMPS) == 8


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_no_default_is_in_two_dialects(one: str, other: str) -> None:
    shared = set(defaults(one)) & set(defaults(other))
    assert {row for row in shared if row[0] not in SHARED} == set()


def test_no_default_is_shared_without_need() -> None:
    """A reason in the list above that no two dialects need any more is to be taken out."""
    said: dict[str, list[object]] = {}
    for name in NAMES:
        for key, entry in FILES[name]["map"].items():
            if isinstance(entry, dict) and "default" in entry:
                said.setdefault(key, []).append(entry["default"])
    repeated = {key for key, all_ in said.items() if any(a == b for a, b in combinations(all_, 2))}
    flags = {key for key in repeated if setting(key.replace(".N.", ".1.")).kind == "flag"}
    assert repeated - flags == set(SHARED)


@pytest.mark.parametrize("name", NAMES)
def test_code_numbers_are_in_no_order(name: str) -> None:
    """Neither counted up in the order of our own tables, nor a run of neighbours."""
    for what, numbers in codes(name).items():
        drawn = list(numbers.values())
        if len(drawn) < 3:
            continue
        assert drawn != sorted(drawn), what
        steps = sorted(drawn)
        neighbours = sum(b - a == 1 for a, b in pairwise(steps))
        # Few bits leave little room between them.
        assert neighbours <= len(drawn) // (2 if "bits" in what else 4), what


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_no_code_number_is_in_two_dialects(one: str, other: str) -> None:
    here, there = codes(one), codes(other)
    shared = {
        (what, word)
        for what in here.keys() & there.keys()
        for word, code in here[what].items()
        if there[what].get(word) == code
    }
    assert shared == set()


def steps(name: str) -> set[tuple[float, float]]:
    """Offset and step of values that are counted in steps from somewhere."""
    return {
        (codec.get("offset", 0), codec.get("step", codec.get("scale", 1)))
        for _, codec in codecs(name)
        if codec.get("offset")
    }


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_no_step_is_in_two_dialects(one: str, other: str) -> None:
    assert steps(one) & steps(other) == set()


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_no_version_is_in_two_dialects(one: str, other: str) -> None:
    def versions(name: str) -> set[str]:
        bounds = re.findall(r">=([\d.]+)", FILES[name]["dialect"]["versions"])
        return {*bounds, *(row["at"] for row in changes(name))}

    assert versions(one) & versions(other) == set()


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_no_word_of_a_board_is_in_two_dialects(one: str, other: str) -> None:
    def boards(name: str) -> set[str]:
        return {word for row in changes(name) for pair in row.get("boards", {}).items()
                for word in pair}  # fmt: skip

    assert boards(one) & boards(other) == set()


def ends(path: Path) -> set[float]:
    """The ends of all ranges of a dump, in µs, whatever they are written in."""
    text = path.read_text(encoding="utf-8")
    craft = read_craft(Source.from_text(path.name, text), bundled(MARKS[text[:2]]))
    assert craft.mode_ranges, path
    return {edge for row in craft.mode_ranges for edge in (row.low_us, row.high_us)}


@pytest.mark.parametrize(
    ("one", "other"), list(combinations(DUMPS, 2)), ids=lambda path: path.name.split(".")[0]
)
def test_ends_of_ranges_are_each_crafts_own(one: Path, other: Path) -> None:
    """One end may meet another craft's by chance; two are a set that was copied."""
    assert len(ends(one) & ends(other)) < 2


@pytest.mark.parametrize("path", DUMPS, ids=lambda path: path.name.split(".")[0])
def test_ranges_are_not_all_as_far_from_the_middle(path: Path) -> None:
    """Low, middle and high of one width each, in round hundreds, are nobody's own drawing."""
    assert sum(edge % 100 == 0 for edge in ends(path)) <= 1


def test_the_newcomer_writes_its_own() -> None:
    text = (ROOT / "fixtures" / "newcomer" / "turnstone.dump.txt").read_text(encoding="utf-8")
    rows = re.findall(r"^mode (\d+) on ch\d+ from (\d+) to (\d+)$", text, re.MULTILINE)
    assert len(rows) == len(re.findall(r"^mode\b", text, re.MULTILINE))
    own = {float(edge) for _, *edges in rows for edge in edges}
    assert len(own) > 3
    assert all(len(own & ends(path)) < 2 for path in DUMPS)
    numbers = {int(number) for number, *_ in rows}
    assert all(numbers != set(codes(name).get("modes", {}).values()) for name in NAMES)
