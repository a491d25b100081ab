"""Whatever a dump, a file or a command line holds: no exception, a documented exit code, valid
output, one outcome for each rule, and places that are where they say.

``corpus`` holds, each as small as it could be made, all cases that ever did not.  A short run
tries those and a few hundred at random; with ``CFGLINT_PROFILE=long`` it is a million dumps and
fifty thousand command lines, which can be stopped and taken up again (``CFGLINT_FUZZ=FILE`` is
where it keeps how far it came; ``python -m json.tool FILE`` shows it).
"""

from __future__ import annotations

import gc
import json
import os
import traceback
from pathlib import Path
from random import Random
from shutil import rmtree
from time import time
from typing import Any

import pytest

from .making import CommandCase, DumpCase, command_case, dump_case
from .trying import Runs, TooLong, try_command, try_dump, within

LONG = os.environ.get("CFGLINT_PROFILE") == "long"
CORPUS = sorted((Path(__file__).parent / "corpus").glob("*.json"))
DUMPS, COMMANDS = 1_000_000, 50_000
#: One dump in so many also goes through all of ``lint`` and its reports.
RUN_EACH = 100
#: One command line after so many dumps.
EACH = DUMPS // COMMANDS


class Fuzz:
    """Tries cases by number, and takes down what does not hold: once for each place."""

    def __init__(self, folder: Path, record: Path | None = None) -> None:
        self.folder = folder
        self.runs = Runs(folder)
        self.record = record
        self.state: dict[str, Any] = {
            "dumps": 0, "runs": 0, "commands": 0, "seconds": 0.0, "codes": {}, "found": {},
        }  # fmt: skip
        if record is not None and record.exists():
            self.state = json.loads(record.read_text())
        self.since = time()

    def guarded(self, kind: str, number: int, call: Any) -> None:
        try:
            with within():
                call()
        except (Exception, TooLong, SystemExit) as wrong:
            frames = traceback.extract_tb(wrong.__traceback__)
            own = [one for one in frames if "/fuzz/" in one.filename or "cfglint" in one.filename]
            at = (own or frames)[-1]
            key = f"{type(wrong).__name__} {Path(at.filename).name}:{at.lineno}"
            found = self.state["found"].setdefault(key, {"times": 0, "first": []})
            found["times"] += 1
            if len(found["first"]) < 5:
                text = "".join(traceback.format_exception(wrong))[-3000:]
                found["first"].append({"kind": kind, "number": number, "text": text})
                self.save()

    def dump(self, number: int) -> None:
        random = Random(f"try {number}")
        case = dump_case(number)
        self.guarded("dump", number, lambda: try_dump(case, random))
        if number % RUN_EACH == 0:
            self.guarded("run", number, lambda: self.runs.try_run(case, random))
            self.state["runs"] += 1
        self.state["dumps"] = number + 1

    def command(self, number: int) -> None:
        case = command_case(number)
        place = self.folder / "hangar"
        rmtree(place, ignore_errors=True)
        place.mkdir()
        codes = self.state["codes"]

        def call() -> None:
            code = str(try_command(case, place, Random(f"try {number}")))
            codes[code] = codes.get(code, 0) + 1

        self.guarded("command", number, call)
        self.state["commands"] = number + 1

    def save(self) -> None:
        now = time()
        self.state["seconds"] += now - self.since
        self.since = now
        if self.record is not None:
            draft = self.record.with_suffix(".new")
            draft.write_text(json.dumps(self.state, indent=1))
            draft.replace(self.record)

    def all(self, dumps: int, commands: int) -> None:
        each = dumps // commands
        while self.state["dumps"] < dumps:
            number = self.state["dumps"]
            if number % each == 0 and self.state["commands"] == number // each:
                self.command(number // each)
            self.dump(number)
            if number % 1000 == 999:
                gc.collect()
                self.save()


def test_some(tmp_path: Path) -> None:
    fuzz = Fuzz(tmp_path)
    fuzz.all(600, 60)
    assert fuzz.state["found"] == {}
    assert set(fuzz.state["codes"]) >= {"0", "1", "2", "3"}


@pytest.mark.skipif(not LONG, reason="takes hours; CFGLINT_PROFILE=long tries a million")
def test_a_million(tmp_path: Path) -> None:
    record = os.environ.get("CFGLINT_FUZZ", "")
    fuzz = Fuzz(tmp_path, Path(record) if record else None)
    fuzz.all(DUMPS, COMMANDS)
    fuzz.save()
    assert fuzz.state["found"] == {}


@pytest.mark.parametrize("file", CORPUS, ids=lambda file: file.stem)
def test_what_was_found(file: Path, tmp_path: Path) -> None:
    """Texts of the corpus are bytes, one a character (Latin-1)."""
    said = json.loads(file.read_text(encoding="utf-8"))
    with within():
        if "words" in said:
            files = {path: text.encode("latin-1") for path, text in said["files"].items()}
            stdin = said.get("stdin", "").encode("latin-1")
            case = CommandCase(tuple(said["words"]), files, stdin, said.get("encoding", "utf-8"))
            try_command(case, tmp_path, Random(0))
        else:
            dump = DumpCase(said["dump"].encode("latin-1"), said["dialect"], said.get("card", ""))
            try_dump(dump, Random(0), every=True)
            Runs(tmp_path).try_run(dump, Random(0))
