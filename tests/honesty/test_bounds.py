"""Whatever the size of a thing, a run ends soon, in little memory, and with one clear message."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import copytree

import pytest

from cfglint.runner.names import compiled
from cfglint.tomltext import Problem, load

from .support import FLEET, ROOT

DUMP, CARD = Path("dumps/avocet.dump.txt"), Path("cards/avocet.toml")
#: Bytes that a run may take, and seconds on a loaded machine.
MEMORY, SECONDS = 1_500_000_000, 180


@pytest.fixture
def fleet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    copytree(FLEET, tmp_path / "m")
    monkeypatch.chdir(tmp_path / "m")
    yield tmp_path / "m"
    monkeypatch.chdir(tmp_path)
    subprocess.run(["rm", "-rf", tmp_path / "m"], check=True)  # deeper than Python can


def run(*words: str | Path) -> tuple[int, str]:
    limit = f"import resource; resource.setrlimit(resource.RLIMIT_AS, ({MEMORY}, {MEMORY}));"
    done = subprocess.run(
        [sys.executable, "-c", f"{limit}import sys; from cfglint.cli import main; sys.exit(main())",
         *map(str, words)],
        capture_output=True, text=True, timeout=SECONDS, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert "itself failed" not in done.stderr + done.stdout
    return done.returncode, done.stdout + done.stderr


def add(path: str | Path, text: str) -> None:
    with open(path, "a", encoding="utf-8") as file:
        file.write(text)


# ------------------------------------------------------------------ patterns and folders


@pytest.mark.parametrize(
    "pattern", ["**/" * 200 + "x", "**/a/" * 60 + "x", "**/a/*a*/" * 40 + "x", "**/" * 99 + "**"]
)
def test_runs_of_stars_in_a_pattern(pattern: str) -> None:
    begun = time.monotonic()
    for name in ("a/" * 400 + "y", "a/" * 2000 + "x", "x"):
        compiled(pattern).fullmatch(name)
    assert time.monotonic() - begun < 5


@pytest.mark.parametrize(
    ("pattern", "name", "fits"),
    [
        ("**/a/**/b", "a/b", True), ("**/a/**/b", "x/a/y/z/b", True), ("**/a/**/b", "b", False),
        ("**/a/b/**/c", "a/a/b/c", True), ("**/a/a/**/a", "a/a", False), ("a/**", "a", False),
        ("**/a/a/**/a", "a/a/a", True), ("**/**/x", "x", True), ("a/**/**", "a/b", True),
        ("a/**/b/**/b", "a/b/b", True), ("**/a*/**/b", "ac/ad/b", True), ("**", "a/b", True),
    ],
)  # fmt: skip
def test_stars_mean_what_they_meant(pattern: str, name: str, fits: bool) -> None:
    assert bool(compiled(pattern).fullmatch(name)) is fits


def test_folders_deep_in_one_another(fleet: Path) -> None:
    at = os.open("dumps", os.O_RDONLY)
    for _ in range(1500):
        os.mkdir("d", dir_fd=at)
        below = os.open("d", os.O_RDONLY, dir_fd=at)
        os.close(at)
        at = below
    os.close(at)
    before = run("lint", "-q")
    add("cfglint.toml", '\n[[dumps]]\nfiles = "dumps/**/*.dump.txt"\n')
    assert run("lint", "-q") == before
    Path("cfglint.toml").unlink()
    code, _ = run("lint", "-q", ".")
    assert code == 1


# ------------------------------------------------------------------ keys and numbers


@pytest.mark.parametrize("form", ["{} = 1\n", "[{}]\nb = 1\n", "[[{}]]\n", "a = {{ {} = 1 }}\n"])
@pytest.mark.parametrize("part", ["a", '"a b"', "'a.b'"])
def test_keys_of_many_parts(form: str, part: str) -> None:
    with pytest.raises(Problem, match=r"x.toml:2:1: a key of more than 60 parts is not read"):
        load("x.toml", ("\n" + form.format(" . ".join([part] * 50_000))).encode())
    assert load("x.toml", form.format(".".join(f"{part}" for _ in range(50))).encode())


@pytest.mark.parametrize("digits", [19, 400, 5000])
@pytest.mark.parametrize(
    "path", ["cfglint.toml", CARD, "rules/marsh.toml", "accepted.toml", "mine.toml"]
)
def test_whole_numbers_of_many_digits(fleet: Path, path: str | Path, digits: int) -> None:
    Path("mine.toml").write_bytes((ROOT / "grammars" / "plain.toml").read_bytes())
    if path == "accepted.toml":
        Path(path).write_text('[[accept]]\nrule = "a/b"\nfile = "x"\nuntil = 3\n')
    text = Path(path).read_text()
    if path == "cfglint.toml":
        text += '\n[rules]\n"modes/near-a-range-edge" = { margin_us = 3 }\n'
    many, count = re.subn(r"= \d+(?=[\s,}])", "= " + "9" * digits, text)
    assert count
    Path(path).write_text(many)
    code, told = run("lint", *(["--dialect", path] if path == "mine.toml" else []))
    assert code in (2, 3)
    told = " ".join(told.split())
    assert ("too large to be counted with" if digits < 4300 else "thousands of digits") in told


def test_numbers_of_many_digits_in_a_dump(fleet: Path) -> None:
    for digits in (400, 5000):
        text = re.sub(r"\b\d+\b", "9" * digits, DUMP.read_text())
        DUMP.write_text(text)
        for words in (["lint", DUMP], ["show", DUMP], ["switches", DUMP], ["bench", DUMP],
                      ["compare", DUMP, DUMP], ["carry", DUMP, "--to", "plain"]):  # fmt: skip
            run(*words)


@pytest.mark.parametrize("scale", ["5e-324", "1e-310", "1e308", "-5e-324", "inf", "nan"])
def test_scales_at_the_end_of_what_is_a_number(fleet: Path, scale: str) -> None:
    text = (ROOT / "grammars" / "plain.toml").read_text()
    many, count = re.subn(r"scale = [\d.]+", f"scale = {scale}", text)
    assert count
    Path("mine.toml").write_text(many)
    for words in (["lint", DUMP], ["compare", DUMP, DUMP], ["show", DUMP]):
        run(*words, "--dialect", "mine.toml")
    run("carry", DUMP, "--to", "plain", "--dialect", "mine.toml")


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("cfglint.toml", []), (CARD, []), ("accepted.toml", []),
        ("rules/marsh.toml", ["--rules", "rules"]),
        ("mine.toml", ["--dialect", "mine.toml"]),
    ],
)  # fmt: skip
def test_toml_of_many_bytes(fleet: Path, path: str | Path, words: list[str]) -> None:
    add(path, "\n#" + "x" * (1 << 22))
    code, told = run("lint", *words)
    assert code in (2, 3)
    assert "this file is larger than 4 MB" in " ".join(told.split())
    assert str(path) in told


def test_a_configuration_without_end(fleet: Path) -> None:
    code, told = run("lint", "--config", "/dev/zero", ".")
    assert code in (2, 3)
    assert "this file is larger than 4 MB" in " ".join(told.split())


# ------------------------------------------------------------------ many of a kind


def channels() -> None:
    add(DUMP, "\n" + "".join(f"channel {i} spans 1000 1500 2000\n" for i in range(17, 200_017)))


def ports() -> None:
    add(CARD, "".join(f'\n[port.{i}]\ninverter = "none"' for i in range(10, 20_010)))


def ranges() -> None:
    rows = ((1 + i % 16, 900 + i % 500, 1500 + i % 600) for i in range(40_000))
    add(DUMP, "\n" + "".join(f"use lights while channel {c} in {a}..{b}\n" for c, a, b in rows))


def positions() -> None:
    many = ",".join(str(900 + i / 100) for i in range(100_000))
    add(CARD, f'\n[[switch]]\nname = "K"\nchannel = 12\npositions_us = [{many}]\n')


@pytest.mark.parametrize("many", [channels, ports, ranges, positions])
@pytest.mark.parametrize("command", ["lint", "switches", "bench"])
def test_many_of_a_kind(fleet: Path, many: Callable[[], None], command: str) -> None:
    many()
    code, _ = run(command, DUMP)
    assert code in ((0, 1, 3) if many in (channels, ranges) else (2,))


def test_cures_are_made_within_bounds(fleet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each is proven by reading the dump anew; beyond some lines a finding stands without one."""
    from cfglint.runner import records
    from cfglint.runner.lint import Request, lint

    monkeypatch.setattr(records, "MOST_READ", 0)
    run = lint(Request(["dumps/dunlin.dump.txt"], processes=1))
    cures = [one.cure for one in run.findings if one.cure is not None and one.cure.asks]
    untold = [one for one in run.findings if one.cure and "lint once more" in one.cure.unwritten]
    assert len(cures) == 1
    assert untold
