"""What a dialect's file reads in its dumps, against the truth that was written with the dumps.

``python tests/reading/judging.py NAME ...`` prints what differs, dialect by dialect.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from cfglint.dialect.mapfile import map_of, marks
from cfglint.dialect.reader import MapReader
from cfglint.dump.source import Source

HERE = Path(__file__).resolve().parent
DIALECTS = HERE / "dialects"
BLIND = HERE / "blind" / "open"
SEEN = HERE / "blind" / "seen"
HANDMADE = HERE.parent / "teach" / "handmade" / "open"
#: What may become of a line of which a dialect's file says all that a person could.
SETTLED = {"used", "kept", "comment", "title", "ignored", "removal"}


def read(dialect: Path, dump: Path) -> MapReader:
    """A dump read by a dialect's file."""
    data = tomllib.loads(dialect.read_text(encoding="utf-8"))
    reader = MapReader(Source.from_bytes(dump.name, dump.read_bytes()), map_of(data), marks(data))
    reader.read()
    return reader


def _plain(value: Any) -> Any:
    return sorted(value) if isinstance(value, frozenset | list) else value


def same(one: Any, other: Any) -> bool:
    """Whether a value that was read is the true one; numbers may differ by what rounding does."""
    one, other = _plain(one), _plain(other)
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    try:
        return abs(float(one) - float(other)) <= 1e-6 * max(1.0, abs(float(other)))
    except (TypeError, ValueError):
        return bool(str(one).upper() == str(other).upper())


def _wrongs(reader: MapReader, truth: dict[str, Any]) -> list[str]:
    found = []
    lines = reader.source.lines
    for name, true in truth["settings"].items():
        # Lines that identify a craft and its firmware are comments to the reader.
        if name.startswith("craft.") and reader.uses.get(true["line"]) == "comment":
            continue
        got = reader.values.get(name)
        at = f"{true['line']}: {name} is {true['value']!r}"
        if got is None:
            found.append(f"{at}, missing: {lines[true['line'] - 1]}")
        elif not same(got.value, true["value"]):
            found.append(f"{at}, read as {got.value!r}: {lines[true['line'] - 1]}")
        elif got.span is not None and got.span.line != true["line"]:
            found.append(f"{at}, read on line {got.span.line}")
    for name, got in reader.values.items():
        # A port with a function of the firmware's own has none of those that a truth may name.
        if name not in truth["settings"] and got.span is not None and got.value != frozenset():
            line = got.span.line
            found.append(f"{line}: {name} read as {got.value!r}, too much: {lines[line - 1]}")
    return found


def _counted(rows: Any) -> Counter[Any]:
    return Counter((row[0], row[1], *(round(end, 3) for end in row[2:4]), row[4]) for row in rows)


def judge(reader: MapReader, truth: dict[str, Any]) -> list[str]:
    """Everything that differs from the truth, and every line that nothing is known of."""
    found = _wrongs(reader, truth)
    got = _counted((r.mode, r.channel, r.low_us, r.high_us, r.join) for r in reader.ranges)
    true = _counted(
        (r["mode"], r["channel"], r["low_us"], r["high_us"], r.get("join", "any"))
        for r in truth["ranges"]
    )
    found += [f"range missing: {one}" for one in (true - got).elements()]
    found += [f"range too much: {one}" for one in (got - true).elements()]
    linked = Counter((one.mode, one.follows) for one in reader.links)
    links = Counter((one["mode"], one["follows"]) for one in truth.get("links", []))
    found += [f"link missing: {one}" for one in (links - linked).elements()]
    found += [f"link too much: {one}" for one in (linked - links).elements()]
    found += [f"{one.span.line}: {one.name} misread: {one.written!r}" for one in reader.misread]
    found += [f"{one}: ambiguous" for one in reader.ambiguous]
    found += [
        f"{line}: {use}: {reader.source.lines[line - 1]}"
        for line, use in sorted(reader.uses.items())
        if use not in SETTLED
    ]
    return found


def names() -> list[str]:
    """Every dialect that there is a file and a truth for."""
    return sorted(path.stem for path in DIALECTS.glob("*.toml"))


def truths(name: str) -> dict[Path, dict[str, Any]]:
    """The truth of a dialect, dump by dump."""
    folder = next(one / name for one in (BLIND, SEEN, HANDMADE) if (one / name).is_dir())
    file = folder / "truth.json"
    loaded = json.loads(file.read_text(encoding="utf-8"))["dumps"]
    return {folder / dump: truth for dump, truth in loaded.items()}


def main(chosen: list[str]) -> int:
    """Print what differs."""
    worst = 0
    for name in chosen or names():
        dialect = DIALECTS / f"{name}.toml"
        bad = []
        whole = 0
        for dump, truth in truths(name).items():
            whole += sum(len(truth.get(what, ())) for what in ("settings", "ranges", "links"))
            bad += [f"  {dump.name} {one}" for one in judge(read(dialect, dump), truth)]
        size = len(dialect.read_text(encoding="utf-8").splitlines())
        print(f"{name}: {size} lines, {whole} facts, {len(bad)} differ", *bad, sep="\n")
        worst = max(worst, len(bad))
    return min(worst, 1)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
