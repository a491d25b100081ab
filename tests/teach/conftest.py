"""Running ``cfglint teach`` in this process."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from cfglint.cli import main


class Ended(NamedTuple):
    code: int
    out: str
    err: str


Call = Callable[..., Ended]

#: A craft of a firmware of our own; every figure is drawn.
SAMPLE = """\
# reed 2.1 on board OSIER-3
put nick Avocet
put talk dshot600
put idle 47
put lost descend
put magnets 14

put pack.full 4.17
put pack.warn 3.56
put pack.low 3.31
put rx.link sbus
put rx.port 2
put tint amber
put peep 7
chan 1 1011 1502 1987
chan 2 1009 1498 1991
chan 3 1004 1501 1996
mode go on ch5 from 1762 to 2131
mode level on ch6 from 854 to 1317
mode flip on ch7 from 1742 to 2119
"""


@pytest.fixture
def reed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder, the current one, with the sample ``reed.txt``."""
    (tmp_path / "reed.txt").write_text(SAMPLE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Run ``cfglint teach WORD…``; ``hears`` is what comes from standard input."""

    def run(*words: str | Path, hears: Any = "") -> Ended:
        stream = io.StringIO(hears) if isinstance(hears, str) else hears
        monkeypatch.setattr("sys.stdin", stream)
        code = main(["teach", *map(str, words)])
        return Ended(code, *capsys.readouterr())

    return run
