"""The command line as a whole: help, version, wrong use, interruption, output that fails."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType

import pytest

from cfglint import __version__
from cfglint.cli import EXITS, main, output

from .conftest import COMMANDS, Call


def test_version(call: Call) -> None:
    for word in ("--version", "-V"):
        assert call(word) == (0, f"cfglint {__version__}\n", "")


def test_help_names_what_is_built_and_nothing_else(call: Call) -> None:
    for word in ("--help", "-h", "help"):
        code, out, err = call(word)
        assert (code, err) == (0, "")
        assert re.findall(r"^  ([a-z]+) ", out, re.M) == list(COMMANDS)
        assert EXITS in out
        assert out.isascii()
        assert max(map(len, out.splitlines())) <= 100


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_each_command(call: Call, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    code, narrow, err = call(name, "--help")
    assert (code, err) == (0, "")
    assert narrow.startswith(f"usage: cfglint {name} ")
    assert EXITS in narrow
    assert narrow.isascii()
    monkeypatch.delenv("COLUMNS")
    if name == "lint":  # one with many options
        assert call(name, "--help").out != narrow


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "cfglint: no command is given; `cfglint --help` shows what there is"),
        (["lnit"], "cfglint: there is no command `lnit`; did you mean `lint`? `cfglint --help`"),
        (["gyrate"], "cfglint: there is no command `gyrate`; `cfglint --help`"),
        (["--version", "x"], "cfglint: `--version` stands alone; `cfglint"),
        (["--quiet", "lint"], "cfglint: `--quiet` is no option that stands before the command;"),
        (["lint", "--flor", "fix"], "cfglint lint: there is no option `--flor`; did you mean "
         "`--floor`? `cfglint lint --help` shows what there is"),
        (["lint", "--gyrate=3"], "cfglint lint: there is no option `--gyrate`; `cfglint lint"),
        (["lint", "--floor", "fxi"], "cfglint lint: --floor: `fxi` cannot be; did you mean `fix`? "
         "it may be `ground`, `fix` or `advise`; `cfglint lint --help`"),
        (["lint", "--as", "html"], "cfglint lint: --as: `html` cannot be; it may be `text` or"),
        (["lint", "--floor"], "cfglint lint: --floor: expected one argument; `cfglint"),
        (["lint", "--width", "wide"], "cfglint lint: --width: `wide` is no width; write a whole"),
        (["lint", "--width", "0"], "cfglint lint: --width: `0` is no width"),
        (["rules", "motor"], "cfglint rules: `motor` is one word too many; `cfglint rules --help`"),
    ],
)  # fmt: skip
def test_wrong_use_is_one_line(call: Call, words: list[str], message: str) -> None:
    code, out, err = call(*words)
    assert (code, out) == (2, "")
    assert err.startswith(message)
    assert err.count("\n") == 1


def test_words_of_the_process(monkeypatch: pytest.MonkeyPatch, capsys: object) -> None:
    monkeypatch.setattr(sys, "argv", ["cfglint", "--version"])
    try:
        assert main() == 0
        # The process is taken to end here, so nothing is collected any more.
        assert not gc.isenabled()
    finally:
        gc.unfreeze()
        gc.enable()


def test_complaints_cannot_steer_the_terminal(call: Call) -> None:
    err = call("lint\x1b[2J\n\u202e").err
    assert err.startswith("cfglint: there is no command `lint\\x1b[2J\\x0a\\u202e`")


def test_nobody_to_complain_to(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)
    assert main(["lnit"]) == 2
    closed = io.StringIO()
    closed.close()
    monkeypatch.setattr(sys, "stderr", closed)
    assert main(["lnit"]) == 2


def test_no_standard_output(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    assert main(["--version"]) == 2


# ------------------------------------------------------------------ what stops a command


def command(monkeypatch: pytest.MonkeyPatch, wrong: BaseException) -> None:
    """Let ``cfglint rules`` fail."""
    module = ModuleType("cfglint.cli.rules")

    def run(options: object) -> int:
        raise wrong

    vars(module).update(ABOUT="", arguments=lambda parser: None, run=run)
    monkeypatch.setitem(sys.modules, "cfglint.cli.rules", module)


def test_interrupted(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    command(monkeypatch, KeyboardInterrupt())
    assert call("rules") == (130, "", "cfglint: stopped\n")


def test_a_failure_of_our_own(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    command(monkeypatch, KeyError("x\ny"))
    code, out, err = call("rules")
    assert (code, out) == (3, "")
    assert err.startswith("cfglint: cfglint itself failed: KeyError: 'x\\ny'; report it")
    assert err.count("\n") == 1
    monkeypatch.setenv("CFGLINT_DEBUG", "1")
    assert "Traceback" in call("rules").err


def test_exit_of_another_kind(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    command(monkeypatch, SystemExit(None))
    assert call("rules").code == 0


def test_interrupted_for_real(tmp_path: Path, dump: Path) -> None:
    # A pipe that nobody writes to keeps the run waiting until it is stopped.
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    # What a shell runs in its background ignores the signal, and so would whatever it starts.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    process = subprocess.Popen(
        [sys.executable, "-m", "cfglint", "lint", str(pipe)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    signal.signal(signal.SIGINT, before)
    # Opening for writing succeeds as soon as the run reads.
    deadline = time.monotonic() + 60
    writer = -1
    while writer < 0 and time.monotonic() < deadline:
        with contextlib.suppress(OSError):
            writer = os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    os.close(writer)
    assert (process.returncode, out, err) == (130, b"", b"cfglint: stopped\n")


# ------------------------------------------------------------------ output that fails


def test_a_reader_that_has_seen_enough(dump: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "cfglint", "lint", str(dump), "--as", "sarif"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    err = process.stderr.read()
    process.wait(timeout=60)
    assert (process.returncode, err) == (1, b"")


def test_a_full_disk(dump: Path) -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "cfglint", "rules"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
        )
    assert done.returncode == 2
    assert done.stderr == "cfglint: the report cannot be written: No space left on device\n"


def test_giving_up_on_what_is_no_file() -> None:
    output._give_up(io.StringIO())


def test_an_old_terminal(spawn: Call) -> None:
    code, out, err = spawn("rules", PYTHONUTF8="0", PYTHONIOENCODING="ascii", LC_ALL="C")
    assert (code, err) == (0, "")
    assert out.isascii()
    code, out, err = spawn("lint", "é", PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert code == 2
    assert "Traceback" not in err


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_told_how_its_page_is_laid_out(call: Call, command: str) -> None:
    told = call(command, "--help").out
    assert "--width COLUMNS" in told
    assert "--colour" in told
