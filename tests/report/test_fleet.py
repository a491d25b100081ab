"""Both reports of the demo fleet, as a person or a program gets them."""

from __future__ import annotations

import io
import json
import re
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pytest

from cfglint.prints import LineHashes
from cfglint.report.sarif import write_sarif
from cfglint.report.terminal import write_text
from cfglint.runner.lint import Request, lint

from .sarif_checks import trouble
from .test_sarif import PROFILES, invalid

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.report.sarif import Profile
    from cfglint.results import Run


@pytest.fixture(scope="module")
def hangar(root: Path) -> Path:
    return root / "fixtures" / "saltmarsh"


@pytest.fixture(scope="module")
def fleet(hangar: Path) -> Run:
    return lint(Request((str(hangar),), hashes=True))


def texts(hangar: Path) -> dict[str, str]:
    return {
        path.relative_to(hangar).as_posix(): path.read_bytes().decode("utf-8")
        for path in hangar.rglob("*")
        if path.is_file()
    }


@pytest.mark.parametrize("profile", PROFILES)
def test_the_fleets_log_is_valid_and_right(hangar: Path, fleet: Run, profile: Profile) -> None:
    log: dict[str, Any] = json.loads(write_sarif(fleet, profile=profile, prefix="in/here"))
    assert invalid(log) == []
    prefix, files = "in/here/", texts(hangar)
    assert trouble(log, {prefix + name: text for name, text in files.items()}) == []
    (run,) = log["runs"]
    failed = [result for result in run["results"] if result["kind"] == "fail"]
    assert failed
    for result in failed:
        place = result["locations"][0]["physicalLocation"]
        name = unquote(place["artifactLocation"]["uri"]).removeprefix(prefix)
        assert result["partialFingerprints"]["primaryLocationLineHash"] == LineHashes(
            files[name]
        ).of(place["region"]["startLine"])


@pytest.mark.parametrize("width", [80, 120])
def test_the_fleets_page(hangar: Path, fleet: Run, width: int) -> None:
    out = io.StringIO()
    write_text(fleet, file=out, width=width, colour=False)
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    files = texts(hangar)
    seen = 0
    place = re.compile(r"(?:GROUND|FIX|ADVISE|see) +(?:\S+  )?(\S+?):(\d+):(\d+)(?:$|:)")
    for number, line in enumerate(lines):
        if (found := place.search(line)) is None:
            continue
        name, row, column = found[1], int(found[2]), int(found[3])
        source = files[name].split("\n")[row - 1]
        shown, carets = lines[number + 1][10:], lines[number + 2][10:]
        if name and lines[number + 1].split("│")[0].strip() == str(row):
            # Plain ASCII without tabs: what is shown is what stands there.
            assert shown == source.rstrip()
            assert carets.index("^") == column - 1
            seen += 1
    assert seen > 20
    assert re.fullmatch(
        r"8 crafts, \d+ rules, \d+ holds, \d+ broken, \d+ unknown, 0 accepted"
        r"( \(\d+ not for this craft\))?",
        lines[-1],
    )
