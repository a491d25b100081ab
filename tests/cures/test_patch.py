"""All cures as one patch, applied by Git itself.

The form of a patch: POSIX.1-2017, `diff -u` and `patch`; what Git adds to it is tried on Git.
"""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from cfglint.cli import main
from cfglint.report.patch import patch_of
from cfglint.rule import Edit
from cfglint.runner.lint import Request, lint
from cfglint.span import Span

from .seeded import HANGAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.results import Run

HEAD = "-- board SLATE, firmware 7.9, changes only"
BAD = [HEAD, "let motor-signal be oneshot125", "let motor-answers be yes", "let loop-rate be 300"]
GOOD = [HEAD, "let motor-signal be oneshot125", "let motor-answers be no", "let loop-rate be 300"]
ONLY = ("motor/two-way-unanswered",)


def patched(folder: Path, name: str, data: bytes) -> bytes:
    """A dump after `git apply` of its patch."""
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data)
    run = lint(Request((str(folder / name),), dialect="plain", only=ONLY))
    patch = patch_of(run, lambda file: (Path(run.root) / file).read_bytes(), lambda file: name)
    assert (folder / name).read_bytes() == data  # nothing is changed by asking
    done = subprocess.run(
        ["git", "-c", "core.autocrlf=false", "apply", "--whitespace=nowarn", "-"],
        input=patch.data,
        cwd=folder,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return (folder / name).read_bytes()


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("last", ["", "end"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_git_applies_it(tmp_path: Path, ending: str, last: str, mark: bytes) -> None:
    tail = ending if last else ""
    before, after = (mark + (ending.join(each) + tail).encode() for each in (BAD, GOOD))
    assert patched(tmp_path, "one.dump.txt", before) == after


@pytest.mark.parametrize("name", ["a b.dump.txt", 'q"uote.dump.txt', "ümlaut/tab\t.dump.txt"])
def test_whatever_the_file_is_called(tmp_path: Path, name: str) -> None:
    data = "\n".join(BAD).encode() + b"\n"
    assert patched(tmp_path, name, data) == "\n".join(GOOD).encode() + b"\n"


def test_bytes_that_are_no_utf_8_stay(tmp_path: Path) -> None:
    before, after = ("\n".join([*each, "-- \xb5s"]).encode("latin-1") for each in (BAD, GOOD))
    assert patched(tmp_path, "one.dump.txt", before) == after


def run_of(folder: Path, fixes: Sequence[tuple[Edit, ...]]) -> Run:
    (folder / "one.dump.txt").write_text("\n".join(BAD) + "\n")
    run = lint(Request((str(folder / "one.dump.txt"),), dialect="plain", only=ONLY))
    outcome = run.outcomes[0]
    found = tuple(outcome.findings[0]._replace(fix=fix, cure=None) for fix in fixes)
    return run._replace(outcomes=(outcome._replace(findings=found),))


def at(file: str, line: int, start: int, end: int) -> Span:
    return Span(file, line, start, line, end)


def test_of_two_that_want_the_same_characters_one_is_left_out(tmp_path: Path) -> None:
    file = "one.dump.txt"
    one, two = Edit(at(file, 3, 5, 8), "x"), Edit(at(file, 3, 7, 9), "y")
    patch = patch_of(run_of(tmp_path, [(one,), (two,), (one,)]), lambda f: BAD_BYTES)
    assert patch.cures == 2  # the same cure twice is one
    assert len(patch.left_out) == 1
    assert "the same characters" in patch.left_out[0]


BAD_BYTES = "\n".join(BAD).encode() + b"\n"


def test_the_command(
    tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "one.dump.txt").write_bytes(BAD_BYTES)
    monkeypatch.chdir(tmp_path)
    code = main(["lint", "--diff", "--dialect", "plain", *(f"--only={one}" for one in ONLY), "."])
    out, err = capfdbinary.readouterr()
    assert code == 1  # there are findings, as without it
    assert out.startswith(b"--- a/one.dump.txt\n+++ b/one.dump.txt\n@@ ")
    assert b"this patch cures 1 of 1 findings" in err
    assert (tmp_path / "one.dump.txt").read_bytes() == BAD_BYTES


def test_the_demo_fleet(tmp_path: Path) -> None:
    """All cures of all its faulty craft together: applied, nothing is worse than before."""
    run = lint(Request((str(HANGAR),)))
    patch = patch_of(run, lambda file: (HANGAR / file).read_bytes())
    subprocess.run(["cp", "-r", str(HANGAR), str(tmp_path / "hangar")], check=True)
    subprocess.run(["git", "apply", "-"], input=patch.data, cwd=tmp_path / "hangar", check=True)
    after = lint(Request((str(tmp_path / "hangar"),)))
    had = {(one.file, one.rule) for one in run.findings}
    assert {(one.file, one.rule) for one in after.findings} <= had
    assert len(after.findings) <= len(run.findings) - patch.cures


def test_sarif_carries_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "one.dump.txt"
    file.write_bytes(BAD_BYTES)
    main(["lint", "--as", "sarif", "--dialect", "plain", "--only", ONLY[0], str(file)])
    result = json.loads(capsys.readouterr().out)["runs"][0]["results"][0]
    change = result["fixes"][0]["artifactChanges"][0]["replacements"][0]
    assert change["deletedRegion"]["startLine"] == 3
    assert change["insertedContent"]["text"] == "no"
    assert result["properties"]["cure"] == {
        "lines": [{"text": "let motor-answers be no", "where": "in place of line 3"}],
        "sets": ["motor.two_way = no"],
    }
