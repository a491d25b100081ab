"""How long reading takes: ``python benchmarks/reading.py``.

Reads every dialect's first dump of ``tests/reading`` with its own file, once as it stands (a
hundred lines or so) and once repeated to four thousand lines, and prints milliseconds of processor
time: for the map, for a first reading (patterns are made when they are first asked for), for a
later one, and for the long dump; then how many times as long as cutting the same lines into atoms
a later reading takes, which no change of machine moves.
"""

from __future__ import annotations

import sys
import time
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "reading")]

import judging  # noqa: E402

from cfglint.dialect.mapfile import map_of, marks  # noqa: E402
from cfglint.dialect.reader import MapReader  # noqa: E402
from cfglint.dump.atoms import cut  # noqa: E402
from cfglint.dump.source import Source  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import Callable

LINES = 4000


def best(job: Callable[[], object], times: int) -> float:
    """Milliseconds of processor time of the quickest of several runs."""
    found = []
    for _ in range(times):
        before = time.process_time()
        job()
        found.append(time.process_time() - before)
    return min(found) * 1000


def measure(name: str) -> list[float]:
    """Lines; then milliseconds: map, first and later reading, long dump, atoms alone."""
    data = tomllib.loads((judging.DIALECTS / f"{name}.toml").read_text(encoding="utf-8"))
    text = next(iter(judging.truths(name))).read_text(encoding="utf-8")
    source = Source.from_text(name, text)
    long = Source.from_text(name, text * (LINES // len(source.lines) + 1))
    made = map_of(data)

    def read(what: Source) -> None:
        MapReader(what, made, marks(data)).read()

    return [
        len(source.lines),
        best(lambda: map_of(data), 3),
        best(lambda: read(source), 1),
        best(lambda: read(source), 7),
        best(lambda: read(long), 1),
        best(lambda: [cut(line) for line in source.lines], 7),
    ]


def main(names: list[str]) -> None:
    """Print a line for each dialect and their sum."""
    print(f"{'':12}{'lines':>6}{'map':>8}{'first':>8}{'later':>8}{LINES:>8}{'/ atoms':>9}")
    sums = [0.0] * 6
    for name in names or judging.names():
        row = measure(name)
        sums = [one + other for one, other in zip(sums, row, strict=True)]
        show(name, row)
    show("all", sums)


def show(name: str, row: list[float]) -> None:
    """One line of the table."""
    lines, made, first, later, long, atoms = row
    print(
        f"{name:12}{lines:6.0f}{made:8.1f}{first:8.1f}{later:8.1f}{long:8.0f}{later / atoms:9.1f}"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
