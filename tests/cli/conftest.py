"""Running the command line: in this process, or (for what only shows there) in its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from cfglint.cli import main
from cfglint.cli.builtin import cfglint_commands

#: The names of the commands.
COMMANDS = [one.name for one in cfglint_commands()]

DUMP = """\
-- board SLATE, firmware 7.9, full listing
let name-given be "Avocet"
let motor-signal be dshot300
let lost-link-action be stop
stow
"""


class Ended(NamedTuple):
    code: int
    out: str
    err: str


Call = Callable[..., Ended]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run ``cfglint WORD…`` in this process."""

    def run(*words: str | Path) -> Ended:
        code = main([str(word) for word in words])
        return Ended(code, *capsys.readouterr())

    return run


@pytest.fixture
def spawn(tmp_path: Path) -> Call:
    """Run ``cfglint WORD…`` in a process of its own: ``flags`` for Python, ``most`` seconds."""

    def run(
        *words: str | Path, flags: tuple[str, ...] = (), most: float = 120, **env: str
    ) -> Ended:
        done = subprocess.run(
            [sys.executable, *flags, "-m", "cfglint", *map(str, words)],
            capture_output=True,
            text=True,
            encoding="utf-8",
            cwd=tmp_path,
            env={**os.environ, "PYTHONUTF8": "1", **env},
            timeout=most,
        )
        return Ended(done.returncode, done.stdout, done.stderr)

    return run


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    """One dump in a folder of its own."""
    path = tmp_path / "avocet.dump.txt"
    path.write_text(DUMP, encoding="utf-8")
    return path
