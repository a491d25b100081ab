"""Writes invented dialects, each into a folder of its own."""

from __future__ import annotations

import argparse
from pathlib import Path

from . import FAMILIES, invent, update


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.invent", description=__doc__)
    parser.add_argument("--seed", type=int, default=0, help="the first seed")
    parser.add_argument("--count", type=int, default=1, help="how many seeds from there on")
    parser.add_argument("--half", choices=("open", "held"), default="open")
    parser.add_argument("--family", default="", help="one layout family for all")
    parser.add_argument("--update", action="store_true", help="one craft before and after")
    parser.add_argument("--out", type=Path, required=True, metavar="FOLDER")
    asked = parser.parse_args()
    if asked.family and asked.family not in FAMILIES[asked.half]:
        parser.error(f"families of this half: {', '.join(FAMILIES[asked.half])}")
    for seed in range(asked.seed, asked.seed + asked.count):
        made = (update if asked.update else invent)(seed, asked.half, asked.family)
        folder = asked.out / made.name
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in made.files.items():
            (folder / name).write_text(content, encoding="utf-8", newline="")
    print(f"{asked.count} in {asked.out}")


if __name__ == "__main__":
    main()
