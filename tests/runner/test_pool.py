"""Runs in several processes: interrupted, killed in part, killed as a whole."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from cfglint.results import Run
from cfglint.runner.craft_reader import CraftReader
from cfglint.runner.discover import Dump
from cfglint.runner.lint import Request, lint

from .conftest import CONFIG, DUMP, Write

RULE = """\
from cfglint.rule import rule
import os, time

@rule("own/slow", grade="fix", title="t", why="w", source="common practice")
def slow(craft, options):
    time.sleep({seconds})
    return ()
"""
#: A run in two processes, told to end as the command line does.
CODE = """\
import signal, sys
# Whoever runs the tests in the background may ignore interrupts, and so would this process.
signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)
from cfglint.runner import lint
lint._processors = lambda: 2
from cfglint.cli import main
sys.exit(main(["lint", "--rules", "rules.py", "--rule-time", "100"]))
"""
COUNT = 40


@pytest.fixture
def fleet(write: Write) -> Path:
    write({"cfglint.toml": CONFIG})
    return write(
        {f"dumps/c{at:03}.dump.txt": DUMP.replace("Avocet", f"Craft {at}") for at in range(COUNT)}
    )


def below(number: int) -> list[int]:
    """All processes that a process started, and those that they did."""
    children = Path(f"/proc/{number}/task/{number}/children")
    if not children.exists():
        pytest.skip("the system does not tell who started whom")
    found = [int(word) for word in children.read_text().split()]
    return [*found, *(one for child in found for one in below(child))]


def alive(numbers: list[int]) -> list[int]:
    def lives(number: int) -> bool:
        try:
            state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
        except (FileNotFoundError, ProcessLookupError):
            return False
        return state not in "ZX"

    return [number for number in numbers if lives(number)]


def all_gone(numbers: list[int], seconds: float = 5.0) -> bool:
    until = time.monotonic() + seconds
    while alive(numbers) and time.monotonic() < until:
        time.sleep(0.05)
    return not alive(numbers)


@pytest.fixture
def slow(fleet: Path) -> Iterator[tuple[subprocess.Popen[str], list[int]]]:
    """A run that is at work in two processes, each with one for a rule of others."""
    (fleet / "rules.py").write_text(RULE.format(seconds=30))
    with subprocess.Popen(
        [sys.executable, "-c", CODE], cwd=fleet, stdout=-1, stderr=-1, text=True,
        start_new_session=True,
    ) as run:  # fmt: skip
        for _ in range(400):
            time.sleep(0.05)
            if len(below(run.pid)) >= 4:
                break
        numbers = below(run.pid)
        assert len(numbers) == 4
        yield run, numbers
        if run.poll() is None:
            run.kill()


@pytest.mark.parametrize("everyone", [False, True])
def test_an_interrupt_ends_all_at_once(
    slow: tuple[subprocess.Popen[str], list[int]], everyone: bool
) -> None:
    """From the terminal it reaches every process; by ``kill`` only one."""
    run, numbers = slow
    begun = time.monotonic()
    if everyone:
        os.killpg(run.pid, signal.SIGINT)
    else:
        run.send_signal(signal.SIGINT)
    out, told = run.communicate(timeout=20)
    assert time.monotonic() - begun < 5
    assert (run.returncode, out) == (130, "")
    assert told == "cfglint: stopped while checking dumps/c000.dump.txt, dumps/c001.dump.txt\n"
    assert all_gone(numbers)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP])
def test_no_worker_outlives_the_run(
    slow: tuple[subprocess.Popen[str], list[int]], how: signal.Signals
) -> None:
    run, numbers = slow
    run.send_signal(how)
    run.wait(timeout=20)
    assert all_gone(numbers)


@pytest.mark.parametrize("processes", [2, 3])
def test_a_killed_worker_costs_its_file_only(
    fleet: Path, monkeypatch: pytest.MonkeyPatch, processes: int
) -> None:
    """It is told, the run ends with 3, and everything else is what it is without."""
    whole = lint(Request([str(fleet)], hashes=True))
    victims = {f"dumps/c{at:03}.dump.txt" for at in (0, 7, 8, 9, COUNT - 1)}
    mine = os.getpid()
    real = CraftReader.source

    def dying(self: CraftReader, dump: Dump) -> object:
        if dump.file in victims and os.getpid() != mine:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(self, dump)

    monkeypatch.setattr(CraftReader, "source", dying)
    run = lint(Request([str(fleet)], processes=processes, hashes=True))
    assert {one.file for one in run.troubles} == victims
    assert all("was ended by SIGKILL" in one.message for one in run.troubles)
    assert {(one.kind, one.exit) for one in run.troubles} == {("file", 3)}
    assert run.exit_code() == 3
    assert without(run, victims) == without(whole, victims)
    assert {one.file for one in run.crafts} == {one.file for one in whole.crafts} - victims


def without(run: Run, files: set[str]) -> list[object]:
    """Outcomes of single craft: rules of the fleet may well say something else."""
    rules = {one.id for one in run.rules if not one.asks}
    return [one for one in run.outcomes if one.file not in files and one.rule in rules]


def test_every_worker_is_killed_again_and_again(
    fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = os.getpid()

    def dying(self: CraftReader, dump: Dump) -> object:
        assert os.getpid() != mine
        os._exit(0)

    monkeypatch.setattr(CraftReader, "source", dying)
    run = lint(Request([str(fleet)], processes=2))
    assert (len(run.troubles), len(run.crafts), run.exit_code()) == (COUNT, 0, 3)


def test_more_files_than_a_pipe_holds_numbers(fleet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from cfglint.runner import pool

    one = lint(Request([str(fleet)], processes=1, hashes=True))
    monkeypatch.setattr(pool, "MOST_WAITING", 3)
    seen: list[int] = []
    tell = lambda done, total, name: seen.append(done)  # noqa: E731
    assert lint(Request([str(fleet)], processes=2, hashes=True, tell=tell)) == one
    assert len(seen) == COUNT
    assert seen == sorted(seen)


def test_nothing_is_left_open(fleet: Path) -> None:
    if not Path("/proc/self/fd").exists():
        pytest.skip("the system does not tell what is open")
    lint(Request([str(fleet)], processes=2))
    before = sorted(os.listdir("/proc/self/fd"))
    (fleet / "rules.py").write_text(RULE.format(seconds=0))
    lint(Request([str(fleet)], processes=2, rules=[str(fleet / "rules.py")]))
    assert sorted(os.listdir("/proc/self/fd")) == before
