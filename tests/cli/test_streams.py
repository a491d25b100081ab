"""Text goes out whatever it goes to: any encoding, any width, closed, full, or gone."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from shutil import copytree

import pytest

from cfglint.cli import main

FLEET = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh"
DUMP, OTHER = "dumps/grünschenkel.dump.txt", "dumps/avocet.dump.txt"
NAME = "Grünschenkel – 雷鳥 \U0001f6e9 µ"
ENCODINGS = ("cp1252", "latin-1", "ascii", "utf-8")

COMMANDS = [
    ["--help"], ["--version"], ["lint", "--help"], ["carry", "--help"],
    ["lint"], ["lint", "-q"], ["lint", "--as", "sarif"], ["lint", "--explain-config"],
    ["lint", "--show-accepted", "--colour", "always"], ["lint", "nowhere-ü"],
    *(["carry", DUMP, "--to", "plain", "--as", form]
      for form in ("text", "json", "sarif", "markdown")),
    *(["compare", OTHER, DUMP, "--different-craft", "--as", form]
      for form in ("text", "json", "sarif", "markdown")),
    ["show", DUMP], ["show", DUMP, "--tree"], ["show", DUMP, "--as", "json"],
    *(["switches", DUMP, "--as", form] for form in ("text", "svg", "json")),
    ["bench", DUMP], ["refused", DUMP], ["teach", DUMP], ["teach", DUMP, "--as", "json"],
    ["dialect", "coverage", "plain", DUMP], ["dialect", "coverage", "plain", DUMP, "--as", "json"],
    ["dialect", "check", "plain"], ["dialect", "test", "plain", DUMP],
    ["rules"], ["rules", "--as", "json"], ["why", "--all"], ["why", "--all", "--as", "markdown"],
    ["why", "motor/left-on-default-signal"], ["accept", "--prune"],
    ["start", "rule", "tide/new", "--in", "k"], ["start", "rule"],
]  # fmt: skip


@pytest.fixture
def fleet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo fleet, with a craft whose names are beyond most encodings."""
    root = tmp_path / "m"
    copytree(FLEET, root)
    monkeypatch.chdir(root)
    text = Path(OTHER).read_text()
    Path(DUMP).write_text(text.replace("Avocet", NAME) + f"\nlet {NAME} be {NAME}\n")
    monkeypatch.setenv("COLUMNS", "90")
    return root


class Stream(io.TextIOWrapper):
    """A strict stream of one encoding."""

    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, errors="strict", newline="\n")

    def data(self) -> bytes:
        self.flush()
        found: bytes = self.buffer.getvalue()  # type: ignore[attr-defined]
        return found


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_no_encoding_fails(fleet: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]) -> None:
    codes = set()
    for encoding in ENCODINGS:
        if words[:2] == ["start", "rule"] and len(words) > 2:
            words = [*words[:-1], f"k-{encoding}"]
        out, told = Stream(encoding), Stream(encoding)
        monkeypatch.setattr(sys, "stdout", out)
        monkeypatch.setattr(sys, "stderr", told)
        codes.add(main(words))
        text, said = out.data().decode(encoding), told.data().decode(encoding)
        monkeypatch.undo()
        monkeypatch.chdir(fleet)
        assert "itself failed" not in said
        assert "Traceback" not in said
        if "json" in words or "sarif" in words:
            json.loads(text)
    assert len(codes) == 1


@pytest.mark.parametrize("columns", ["1", "5", "20", "0", "-3", "x", "²", "9" * 5000])
def test_no_width_fails(
    fleet: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for words in COMMANDS:
        if words[0] not in ("lint", "carry", "compare", "bench", "switches", "--help", "why"):
            continue
        main(words)
        assert "itself failed" not in capsys.readouterr().err, words


def sh(fleet: Path, line: str) -> tuple[int, str, str]:
    done = subprocess.run(
        ["sh", "-c", line.replace("cfglint", f"{sys.executable} -m cfglint")],
        cwd=fleet, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    assert "itself failed" not in done.stderr
    return done.returncode, done.stdout, done.stderr


SOME = ["--help", "--version", "lint", "lint --help", "lint --as sarif", "why --all",
        f"switches {OTHER}", f"carry {OTHER} --to plain", f"show {OTHER}", "rules --as json",
        f"teach {OTHER}"]  # fmt: skip


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
@pytest.mark.parametrize("words", SOME)
def test_a_full_device(fleet: Path, words: str) -> None:
    code, out, told = sh(fleet, f"cfglint {words} > /dev/full")
    assert (code, out) == (2, "")
    assert "the report cannot be written: No space left on device" in told


@pytest.mark.parametrize("words", SOME)
def test_streams_that_are_closed(fleet: Path, words: str) -> None:
    code, out, told = sh(fleet, f"cfglint {words} >&-")
    assert (code, out) == (2, "")
    assert "there is no standard output to write the report to" in told
    plain = sh(fleet, f"cfglint {words}")
    assert sh(fleet, f"cfglint {words} <&-")[:2] == plain[:2]
    assert sh(fleet, f"cfglint {words} 2>&-")[:2] == plain[:2]
    assert sh(fleet, f"cfglint {words} | head -c 1")[1] == plain[1][:1]


def test_standard_input_that_is_closed(fleet: Path) -> None:
    code, _, told = sh(fleet, "cfglint lint - <&-")
    assert code == 3
    assert "standard input cannot be read" in told


def test_rules_of_others_where_all_streams_are_closed(fleet: Path) -> None:
    """Pipes to another process must not take the place of a stream that is closed."""
    whole = sh(fleet, "cfglint lint --rules rules --sarif a.json")
    assert sh(fleet, "cfglint lint --rules rules --sarif b.json <&- >&- 2>&-")[0] == 2
    assert (fleet / "a.json").read_text() == (fleet / "b.json").read_text()
    assert whole[0] == 1
