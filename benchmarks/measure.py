"""Measures how quick cfglint is, as ratios to a bare interpreter measured at the same time.

    python benchmarks/measure.py --fresh            # in an environment made for it (needs pip)
    python benchmarks/measure.py --python PYTHON    # in one that has cfglint and yamllint

Milliseconds differ from machine to machine and from minute to minute, so every figure is the
median of ratios *within* a round: each round runs every command once, a bare ``python -c pass``
among them.  An editable install loads an import hook at every start of Python, a bare one too,
which flatters the ratios: use ``--fresh`` for figures to quote.

Exit code 0 if every target is met, else 1.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
LINES = 1200


class Figure(NamedTuple):
    """One measured figure against its target (the most it may be; None: only shown)."""

    what: str
    value: float
    unit: str
    target: float | None

    @property
    def met(self) -> bool:
        return self.target is None or self.value <= self.target


# ------------------------------------------------------------------ data


def dump_lines(count: int) -> list[str]:
    """A dump of the demo fleet, filled up with settings that a real one is full of."""
    dump = ROOT / "fixtures" / "saltmarsh" / "dumps" / "avocet.dump.txt"
    lines = dump.read_text(encoding="utf-8").splitlines()
    stems = ("gyro-hush", "hold-firmness", "stick-feel", "lamp", "buzzer-tone")
    for number in range(count - len(lines)):
        stem = stems[number % len(stems)]
        lines.insert(-1, f"let {stem}-{number} be {number * 37 % 2000} {number % 61}")
    return lines[:count]


def as_yaml(lines: list[str]) -> str:
    """The same data as YAML, line by line: a key for each name, a list for several values,
    comments as comments.
    """
    out = ["---"]
    seen: set[str] = set()
    for number, line in enumerate(lines):
        if line.startswith("--") or not line.strip():
            out.append(f"#{line[2:]}".rstrip() if line.strip() else "")
            continue
        match = re.fullmatch(r"let (\S+) be (.*)", line)
        name, text = match.groups() if match else (f"{line.split()[0]}-{number}", line)
        if name in seen:
            name = f"{name}-{number}"
        seen.add(name)
        values = [text] if text.startswith('"') else re.split(r"[ ,]|\.\.", text)
        out.append(f"{name}: {values[0]}" if len(values) == 1 else f"{name}: [{', '.join(values)}]")
    return "\n".join(out) + "\n"


# ------------------------------------------------------------------ measuring


def environment() -> dict[str, str]:
    """Ours, without what would keep byte code from being written or change the report."""
    drop = ("PYTHONDONTWRITEBYTECODE", "PYTHONPATH", "CFGLINT_DEBUG", "FORCE_COLOR")
    return {name: value for name, value in os.environ.items() if name not in drop}


def run(command: list[str], folder: Path, *, cpu: bool) -> tuple[float, int]:
    """Seconds and exit code of one command; its output is thrown away."""
    start = time.perf_counter()
    process = subprocess.Popen(
        command,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=folder,
        env=environment(),
    )
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    return used.ru_utime + used.ru_stime if cpu else wall, process.returncode


def rounds(
    commands: dict[str, list[str]], folder: Path, count: int, *, cpu: bool
) -> dict[str, list[float]]:
    """Seconds of each command in each round, after one round that is not counted."""
    times: dict[str, list[float]] = {name: [] for name in commands}
    for number in range(count + 1):
        for name, command in commands.items():
            seconds, code = run(command, folder, cpu=cpu)
            if code > 1:
                raise SystemExit(f"{name} ended with exit code {code}: {' '.join(command)}")
            if number:
                times[name].append(seconds)
    return times


def ratio(times: dict[str, list[float]], over: str, under: str) -> float:
    pairs = zip(times[over], times[under], strict=True)
    return statistics.median(one / other for one, other in pairs)


PEAK = """
import json, resource, subprocess, sys, time
start = time.perf_counter()
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
seconds = time.perf_counter() - start
used = resource.getrusage(resource.RUSAGE_CHILDREN)
cpu = used.ru_utime + used.ru_stime
print(json.dumps([seconds, cpu, used.ru_maxrss / 1024, done.returncode]))
"""


def heavy(command: list[str], folder: Path, *, cpu: bool) -> tuple[float, float]:
    """Seconds and megabytes at the peak of one command (best of three, by time)."""
    best = (float("inf"), 0.0)
    for _ in range(3):
        done = subprocess.run(
            [sys.executable, "-c", PEAK, *command],
            capture_output=True,
            cwd=folder,
            env=environment(),
            check=True,
        )
        wall, used, peak, code = json.loads(done.stdout)
        if code > 1:
            raise SystemExit(f"exit code {code}: {' '.join(command)}")
        best = min(best, (used if cpu else wall, peak))
    return best


def start_up(python: str, folder: Path, count: int, *, cpu: bool) -> list[Figure]:
    """Cold starts: of help, of the version, of one dump and of the demo fleet."""
    scripts = Path(python).parent
    cfglint = str(scripts / "cfglint")
    lines = dump_lines(LINES)
    (folder / "one.dump.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "one.yaml").write_text(as_yaml(lines), encoding="utf-8")
    (folder / ".yamllint").write_text("extends: default\n", encoding="utf-8")
    commands = {
        "pass": [python, "-c", "pass"],
        "version": [cfglint, "--version"],
        "help": [cfglint, "--help"],
        "sarif": [cfglint, "lint", "one.dump.txt", "--as", "sarif"],
        "text": [cfglint, "lint", "one.dump.txt"],
        "fleet": [cfglint, "lint", str(ROOT / "fixtures" / "saltmarsh"), "--as", "sarif"],
    }
    yamllint = scripts / "yamllint"
    if yamllint.exists():
        commands["yamllint"] = [str(yamllint), "one.yaml"]
    times = rounds(commands, folder, count, cpu=cpu)
    bare = "× python -c pass"
    figures = [
        Figure("cfglint --version", ratio(times, "version", "pass"), bare, 2),
        Figure("cfglint --help", ratio(times, "help", "pass"), bare, 2),
        Figure(f"{LINES:,} lines, all rules, SARIF", ratio(times, "sarif", "pass"), bare, 7),
        Figure(f"{LINES:,} lines, all rules, text", ratio(times, "text", "pass"), bare, None),
        Figure("demo fleet, 8 dumps, SARIF", ratio(times, "fleet", "pass"), bare, None),
    ]
    if "yamllint" in commands:
        against = ratio(times, "sarif", "yamllint")
        figures.append(Figure("the same data, SARIF", against, "× yamllint", 0.35))
    else:
        print("yamllint is not installed here: not compared", file=sys.stderr)
    return figures


def size(python: str, folder: Path, *, cpu: bool) -> list[Figure]:
    """Growth with the number of lines, and one line of ten megabytes."""
    cfglint = str(Path(python).parent / "cfglint")
    seconds: dict[int, float] = {}
    peaks: dict[int, float] = {}
    for count in (100_000, 1_000_000):
        path = folder / f"{count}.dump.txt"
        path.write_text("\n".join(dump_lines(count)) + "\n", encoding="utf-8")
        seconds[count], peaks[count] = heavy(
            [cfglint, "lint", path.name, "--as", "sarif"], folder, cpu=cpu
        )
        path.unlink()
    lines = dump_lines(LINES)
    lines.insert(-1, "let lamp-hue be " + "x" * 10_000_000)
    (folder / "wide.dump.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    wide, peak = heavy([cfglint, "lint", "wide.dump.txt", "--as", "sarif"], folder, cpu=cpu)
    growth = seconds[1_000_000] / seconds[100_000]
    return [
        Figure("a million lines against a hundred thousand", growth, "× the time", 12),
        Figure("a million lines, a second's worth", 1e3 / seconds[1_000_000], "thousand lines",
               None),
        Figure("a million lines, memory", peaks[1_000_000] / 1e3, "KB a line", None),
        Figure("a line of 10 MB", wide, "s", 1),
        Figure("a line of 10 MB, memory", peak, "MB", 150),
    ]  # fmt: skip


def fresh(folder: Path) -> str:
    """A Python of its own with cfglint, installed from a copy of the checkout, and yamllint."""
    copy = folder / "checkout"
    skip = shutil.ignore_patterns(".git", "build", "dist", "*.egg-info", "__pycache__", ".*_cache")
    shutil.copytree(ROOT, copy, ignore=skip)
    subprocess.run([sys.executable, "-m", "venv", str(folder / "venv")], check=True)
    python = str(folder / "venv" / "bin" / "python")
    subprocess.run([python, "-m", "pip", "install", "-q", str(copy), "yamllint"], check=True)
    return python


def table(figures: list[Figure]) -> str:
    widest = max(len(figure.what) for figure in figures)
    lines = []
    for figure in figures:
        end = ""
        if figure.target is not None:
            end = f"  at most {figure.target:g}: {'met' if figure.met else 'MISSED'}"
        lines.append(f"{figure.what:<{widest}}  {figure.value:8.2f} {figure.unit:<16}{end}")
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--python", default=sys.executable, help="the interpreter to measure")
    parser.add_argument("--fresh", action="store_true", help="make an environment for it")
    parser.add_argument("--rounds", type=int, default=15, help="how often each command is run")
    parser.add_argument("--quick", action="store_true", help="start-up only")
    parser.add_argument("--cpu", action="store_true", help="processor time: for a busy machine")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        python = fresh(folder) if options.fresh else options.python
        figures = start_up(python, folder, options.rounds, cpu=options.cpu)
        if not options.quick:
            figures += size(python, folder, cpu=options.cpu)
    print(table(figures))
    return 0 if all(figure.met for figure in figures) else 1


if __name__ == "__main__":
    sys.exit(main())
