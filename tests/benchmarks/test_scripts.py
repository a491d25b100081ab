"""The scripts that measure are not run by tests, but each of them can be."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SCRIPTS = sorted((Path(__file__).resolve().parents[2] / "benchmarks").glob("*.py"))
IMPORT = "import sys; sys.path.insert(0, sys.argv[1]); import {name}"


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_it_imports_what_there_is(path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", IMPORT.format(name=path.stem), str(path.parent)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, "")
