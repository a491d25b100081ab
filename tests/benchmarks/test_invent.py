"""The invented dialects that teaching is measured by: what their truth says stands in the dumps."""

from __future__ import annotations

import json
import re
import sys
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.craft.settings import MODES, SETTINGS, family

if TYPE_CHECKING:
    from collections.abc import Iterator

sys.path.append(str(Path(__file__).resolve().parents[2]))

from benchmarks.invent import FAMILIES, Half, Invented, invent, update, words
from benchmarks.invent.__main__ import main
from benchmarks.invent.craft import TAKEN, draw_craft
from benchmarks.invent.rows import LAYOUTS

HALVES: tuple[Half, ...] = ("open", "held")
KNOWN = Path(__file__).resolve().parents[1] / "reading" / "blind" / "settings.txt"
#: What one of a written unit is in the neutral one; a period is told by its setting.
WORTH = {
    "": 1, "us": 1, "µs": 1, "usec": 1, "ms": 1000, "%": 1, "pct": 1, "permille": 0.1, "‰": 0.1,
    "Hz": 1, "hertz": 1, "per second": 1, "kHz": 1000, "s": 1, "sec": 1, "cs": 0.01, "V": 1,
    "volts": 1, "mV": 0.001, "millivolts": 0.001, "MHz": 1, "GHz": 1000, "mW": 1, "W": 1000,
    "baud": 1, "Bd": 1, "bps": 1, "kbit/s": 1000,
}  # fmt: skip


invented = cache(invent)


def made(count: int) -> Iterator[Invented]:
    for half in HALVES:
        for seed in range(count * len(FAMILIES[half])):
            yield invented(seed, half)


def dumps(one: Invented) -> Iterator[tuple[list[str], dict[str, Any]]]:
    for file, facts in json.loads(one.files["truth.json"])["dumps"].items():
        yield one.files[file].split("\n"), facts


def test_every_text_of_the_truth_stands_in_its_line() -> None:
    count = 0
    for one in made(6):
        for lines, facts in dumps(one):
            for name, fact in facts["settings"].items():
                assert fact["text"] in lines[fact["line"] - 1], (one.name, name)
                assert family(name) in SETTINGS
                count += 1
            for row in facts["ranges"]:
                mode = one.author.word("mode", row["mode"])
                assert mode in lines[row["line"] - 1], (one.name, row)
                assert row["mode"] in MODES
                assert 700 < row["low_us"] < row["high_us"] < 2300
            for row in facts["links"]:
                near = "".join(lines[row["line"] - 1 : row["line"] + 2])
                assert one.author.word("mode", row["follows"]) in near, one.name
            assert 40 < len(lines) < 420, one.name
            assert len(facts["ranges"]) >= 4
    assert count > 15000


def number_in(text: str) -> float:
    return float(re.match(r"-?[0-9]+([.,][0-9]+)?", text)[0].replace(",", "."))  # type: ignore[index]


def test_values_are_what_the_texts_come_to() -> None:
    seen = set()
    for one in made(6):
        author = one.author
        flags = {author.yes: True, author.no: False}
        for lines, facts in dumps(one):
            for name, fact in facts["settings"].items():
                kind, value, text = SETTINGS[family(name)].kind, fact["value"], fact["text"]
                if name in author.units and kind in ("number", "count") and name != "receiver.port":
                    unit = author.units[name]
                    shown = " ".join(lines[max(0, fact["line"] - 3) : fact["line"]])
                    if unit.name and unit.name not in shown and author.place == "none":
                        assert unit.plain or name in one.truth["cannot_tell"]
                    worth, number = WORTH[unit.name], number_in(text)
                    worth = 0.001 if (unit.name, name) == ("ms", "failsafe.delay_s") else worth
                    took = 1e6 / number if unit.per else worth * number
                    assert took == pytest.approx(value, abs=1e-6), (one.name, name, text)
                    seen.add(unit.name)
                elif kind == "flag" and text in flags:
                    assert flags[text] is value, (one.name, name)
                elif re.match(r"(failsafe\.)?channel", name) and isinstance(value, int):
                    assert int(text) == value
                elif name == "receiver.port" and isinstance(author.port_base, int):
                    assert int(text) + 1 - author.port_base == value
    assert len(seen) > 20


def test_range_ends_are_what_their_scale_makes_of_them() -> None:
    kinds = set()
    for one in made(6):
        author = one.author
        craft = draw_craft(Random(one.name), author.half, author.ports, author.channels)
        kind, base, size, said = author.measure
        for row in author._ranges(craft).rows:
            found = {field.key: field.value for field in row}
            numbers = [
                number_in(part)
                for key in ("low", "mid", "high", "half width", "span") if key in found
                for part in re.findall(r"(?<![0-9])-?[0-9]+",
                                       "".join(map(str, found[key])).replace("-", " -")
                                       if kind == "percent" else
                                       "".join(map(str, found[key])).replace("-", " "))
            ]  # fmt: skip
            fact = found["mode"][0].facts[0][1]  # type: ignore[union-attr]
            if kind == "centre":
                ends = [numbers[0] - numbers[1], numbers[0] + numbers[1]]
            else:
                ends = [base + size * number for number in numbers]
            assert [round(end) for end in ends] == [fact["low_us"], fact["high_us"]], one.name
        if kind in ("step", "percent"):
            assert (base, size) != (900, 25)
            if not FAMILIES[author.half][one.family].silent:
                assert any(said in one.files[file] for file in one.files)
        kinds.add(kind)
    assert kinds == {"us", "step", "percent", "centre"}


def test_no_dialect_looks_like_one_program() -> None:
    for one in made(6):
        author = one.author
        assert author.mark != "#"
        assert author.done not in ("save", "exit")
        for lines, facts in dumps(one):
            for line in lines:
                assert not re.match(r"\s*set\s", line), line
                assert not line.startswith("#"), line
                assert not re.fullmatch(r"\s*(save|all|diff|dump)( all)?\s*", line), line
                # A word, and nothing but short numbers behind it.
                assert not re.fullmatch(r"[a-z]+( -?[0-9]+){5,}", line), line
                assert not re.search(r"\S+ / \S+.*(19|20)[0-9]{2}", line), line
            for row in facts["ranges"]:
                assert not TAKEN & {row["low_us"], row["high_us"]}
        for row in author._ranges(
            draw_craft(Random(1), author.half, author.ports, author.channels)
        ).rows:
            keys = [field.key for field in row]
            assert "range,mode,channel,low,high" not in ",".join(keys)
            assert "mode,channel,low,high" not in ",".join(keys)
        codes = author.codes.get("motor.signal")
        if codes:
            digital = [codes[f"dshot{rate}"] for rate in (150, 300, 600, 1200)]
            assert {b - a for a, b in pairwise(digital)} != {1}


def test_steps_and_code_numbers_are_drawn_anew_each_time() -> None:
    measures = {one.author.measure[1:3] for one in made(6)} - {(0, 1)}
    orders = {tuple(codes.values()) for one in made(6) for codes in one.author.codes.values()}
    assert len(measures) > 30
    assert len(orders) > 30
    assert len({one.author.version for one in made(4)}) > 60


def test_the_same_seed_is_the_same_bytes_and_another_is_another() -> None:
    assert invent(5, "open").files == invent(5, "open").files
    assert update(5, "held").files == update(5, "held").files
    texts = {invent(seed, half).files["a.dump.txt"] for seed in range(20) for half in HALVES}
    assert len(texts) == 40


def test_families_and_layouts_are_held_apart() -> None:
    assert not set(FAMILIES["open"]) & set(FAMILIES["held"])
    for half in HALVES:
        assert {one.kind for one in FAMILIES[half].values()} == {"ordinary", "varied", "unusual"}
        assert {invent(seed, half).family for seed in range(30)} == set(FAMILIES[half])
    used = {half: {one.__name__ for some in LAYOUTS[half].values() for one in some}
            for half in HALVES}  # fmt: skip
    # A row as a phrase is in both, in other words.
    assert used["open"] & used["held"] == {"spoken"}


def tables() -> Iterator[tuple[str, dict[str, str]]]:
    yield "labels", words.LABELS
    yield "modes", words.MODES
    yield "functions", words.FUNCTIONS
    yield "subjects", words.SUBJECTS
    yield "settings", {key: row for key, (_, row) in words.SETTINGS.items()}
    yield from words.VALUES.items()


def test_the_halves_share_only_what_is_in_both() -> None:
    own = shared = 0
    for name, table in tables():
        for key, row in table.items():
            # The three parts keep their blanks: an empty one is written as nothing.
            both, opened, held = ([w.strip() for w in part.split(",") if w.strip()]
                                  for part in row.split(" / "))  # fmt: skip
            assert opened, (name, key)
            assert held, (name, key)
            own += len(set(opened) ^ set(held)) - 2 * len(set(opened) & set(held))
            shared += len(both)
    assert own > 4 * shared


def test_no_word_of_an_author_stands_for_two_things() -> None:
    for one in made(6):
        for key, table in one.author.words.items():
            written = [one.author.word(key, neutral) for neutral in table]
            assert len(set(written)) == len(written), (one.name, key, written)


def test_every_neutral_setting_and_word_can_be_written() -> None:
    # Like the blind dialects, invented ones know the settings there were when they were written.
    known = KNOWN.read_text(encoding="utf-8").splitlines()
    single = {name for name in known if name in SETTINGS and ".N" not in name}
    assert len(single) > 30
    assert set(words.SETTINGS) == set(words.SENTENCES) == single
    assert set(words.MODES) == set(MODES)
    assert set(words.FUNCTIONS) == set(SETTINGS["port.N.functions"].words)
    for setting, table in words.VALUES.items():
        if setting in SETTINGS and SETTINGS[setting].words:
            assert set(table) == set(SETTINGS[setting].words)


def test_an_update_is_the_same_craft_with_other_names_and_units() -> None:
    renamed = 0
    for half in HALVES:
        for seed in range(26):
            one = update(seed, half)
            truth = json.loads(one.files["truth.json"])
            before, after = (truth["dumps"][f"{side}.dump.txt"] for side in ("before", "after"))
            changes = truth["update"]
            assert set(before["settings"]) - set(after["settings"]) == set(changes["removed"])
            assert before["ranges"]
            for name, fact in after["settings"].items():
                if name not in ("craft.firmware", *changes["rescaled"]):
                    assert fact["value"] == before["settings"][name]["value"], name
                elif name != "craft.firmware":
                    assert fact["value"] == pytest.approx(before["settings"][name]["value"], 0.01)
            for old, new in changes["renamed"].values():
                assert old != new
                renamed += 1
    assert renamed > 100


def test_the_command_writes_folders(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    ask = ["invent", "--seed", "3", "--count", "2", "--half", "held", "--out", str(tmp_path)]
    monkeypatch.setattr(sys, "argv", ask)
    main()
    assert "2 in" in capsys.readouterr().out
    for seed in (3, 4):
        for name, content in invent(seed, "held").files.items():
            assert (tmp_path / f"held-{seed}" / name).read_text(encoding="utf-8") == content
