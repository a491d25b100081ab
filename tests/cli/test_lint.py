"""``cfglint lint``: reports, exit codes, and the list of bad inputs."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cfglint.craft import Craft
from cfglint.plugins import Loaded, load_rules
from cfglint.rule import Finding, Options, rule

from .conftest import DUMP, Call

#: Nothing to find in this one, as far as its lines go.
CLEAN = ("--only", "dump")
BROKEN = DUMP.replace("dshot300", "brushed")


def sarif(text: str) -> dict[str, Any]:
    (run,) = json.loads(text)["runs"]
    assert isinstance(run, dict)
    return run


# ------------------------------------------------------------------ exit codes


def test_all_clear(call: Call, dump: Path) -> None:
    code, out, err = call("lint", dump, *CLEAN)
    assert (code, err) == (0, "")
    assert "1 craft" in out


def test_findings_and_the_floor(call: Call, dump: Path) -> None:
    dump.write_text(BROKEN, encoding="utf-8")
    only = ("--only", "motor/left-on-default-signal")
    code, out, err = call("lint", dump, *only)
    assert (code, err) == (1, "")
    assert "avocet.dump.txt:3:21" in out
    dump.write_text(DUMP + "let wallpaper-hue be 7\n", encoding="utf-8")
    assert call("lint", dump, *CLEAN).code == 1
    assert call("lint", dump, *CLEAN, "--floor", "fix").code == 0


def test_wrong_configuration_stops_the_run(
    call: Call, dump: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cfglint.toml").write_text("[lint]\nflor = 'fix'\n[rls]\n", encoding="utf-8")
    code, out, err = call("lint", dump)
    assert (code, out) == (2, "")
    assert err == (
        "cfglint: cfglint.toml:2:1: `flor` means nothing in `lint`; did you mean `floor`?\n"
        "cfglint: cfglint.toml:3:2: `rls` means nothing here; did you mean `rules`?\n"
    )


def test_a_mistyped_rule(call: Call, dump: Path) -> None:
    code, out, err = call("lint", dump, "--only", "motor/left-on-defualt-signal")
    assert (code, out) == (2, "")
    assert err.endswith("did you mean `motor/left-on-default-signal`?\n")


def test_nothing_to_check(call: Call, tmp_path: Path) -> None:
    code, out, _ = call("lint", tmp_path)
    assert code == 4
    assert "nothing to check" in out


def test_the_highest_number_wins(call: Call, dump: Path, tmp_path: Path) -> None:
    dump.write_text(BROKEN, encoding="utf-8")
    assert call("lint", dump).code == 1
    assert call("lint", dump, tmp_path / "gone").code == 2
    (tmp_path / "empty.dump.txt").touch()
    assert call("lint", tmp_path, tmp_path / "gone").code == 3


# ------------------------------------------------------------------ reports


def test_sarif_to_standard_output_and_troubles_to_standard_error(
    call: Call, dump: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty.dump.txt").touch()
    code, out, err = call("lint", tmp_path, "--as", "sarif", *CLEAN)
    assert code == 3
    run = sarif(out)
    assert {one["kind"] for one in run["results"]} == {"pass", "fail", "open", "notApplicable"}
    assert err == "cfglint: empty.dump.txt: this file is empty; make the dump again; " + (
        "nothing was recorded\n"
    )


def test_sarif_beside_the_text(call: Call, dump: Path, tmp_path: Path) -> None:
    path = tmp_path / "out.sarif"
    code, out, err = call("lint", dump, "--sarif", path, *CLEAN)
    assert (code, err) == (0, "")
    assert "1 craft" in out
    assert len(sarif(path.read_text(encoding="utf-8"))["results"]) == 11
    assert path.read_text(encoding="utf-8") == call("lint", dump, "--as", "sarif", *CLEAN).out


def test_the_hosted_profile_starts_at_the_repository(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / ".git").mkdir()
    hangar = tmp_path / "fleet/hangar"
    (hangar / "dumps").mkdir(parents=True)
    (hangar / "cfglint.toml").write_text("[[dumps]]\nfiles = 'dumps/*'\n", encoding="utf-8")
    (hangar / "dumps/a.dump.txt").write_text(BROKEN, encoding="utf-8")
    only = ("--as", "sarif", "--only", "motor/left-on-default-signal")

    def uri(*words: str | Path) -> str:
        (result,) = sarif(call("lint", *words, *only).out)["results"]
        found: str = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        return found

    assert uri(hangar, "--profile", "hosted") == "fleet/hangar/dumps/a.dump.txt"
    assert uri(hangar, "--profile", "full") == "dumps/a.dump.txt"
    (tmp_path / ".git").rename(hangar / ".git")
    assert uri(hangar, "--profile", "hosted") == "dumps/a.dump.txt"
    (hangar / ".git").rmdir()
    assert uri(hangar, "--profile", "hosted") == "dumps/a.dump.txt"


def test_a_file_that_cannot_be_written(call: Call, dump: Path, tmp_path: Path) -> None:
    code, out, err = call("lint", dump, "--sarif", tmp_path / "gone/out.sarif", *CLEAN)
    assert code == 2
    assert "1 craft" in out
    assert err.startswith(f"cfglint: {tmp_path}/gone/out.sarif: cannot be written: No such file")


def test_colour_width_and_quiet(call: Call, dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(dump.parent)
    dump.write_text(BROKEN, encoding="utf-8")
    only = ("--only", "motor/left-on-default-signal")
    assert "\x1b[" not in call("lint", dump, *only, "--colour", "never").out
    assert "\x1b[" in call("lint", dump, *only, "--color", "always").out
    for width in (50, 90):
        heading = call("lint", dump, *only, "--width", str(width)).out.splitlines()[0]
        assert width - 2 <= len(heading) <= width
    assert len(call("lint", dump, *only, "--quiet").out.splitlines()) == 2


def test_a_hangar_by_its_configuration(call: Call, dump: Path, tmp_path: Path) -> None:
    (tmp_path / "club.toml").write_text("[[dumps]]\nfiles = '*.dump.txt'\n", encoding="utf-8")
    code, out, _ = call("lint", "--config", tmp_path / "club.toml", *CLEAN)
    assert code == 0
    assert "1 craft" in out


# ------------------------------------------------------------------ a rule that crashes


@rule("tide/crashes", grade="fix", title="t", why="w", source="common practice")
def crashes(craft: Craft, options: Options) -> Iterator[Finding]:
    yield from [Finding(craft.whole, "m")] * 0
    raise ZeroDivisionError("first\nsecond")


def test_a_crashing_rule(call: Call, dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(dump.parent)
    rules = (crashes, *load_rules().rules)
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded(rules, ()))
    code, out, err = call("lint", dump)
    assert code == 3
    assert "Traceback" not in out + err
    assert "ZeroDivisionError: first second" in out
    code, out, err = call("lint", dump, "--as", "sarif")
    assert code == 3
    assert len(sarif(out)["invocations"][0]["toolExecutionNotifications"]) == 1
    assert err.startswith("cfglint: avocet.dump.txt: tide/crashes: this rule crashed")
    assert err.count("\n") == 1
    assert "test_lint.py" in call("lint", dump, "--debug").out
    monkeypatch.setenv("CFGLINT_DEBUG", "1")
    assert "test_lint.py" in call("lint", dump).out


# ------------------------------------------------------------------ bad input


def bad_line(folder: Path) -> None:
    (folder / "b.dump.txt").write_bytes(DUMP.encode() + b"\0\0\x01garbled\0\n")


def bad_binary(folder: Path) -> None:
    (folder / "b.dump.txt").write_bytes(bytes(range(256)) * 4 + b"\0" * 1024)


def bad_folder(folder: Path) -> None:
    (folder / "b.dump.txt").mkdir()


def bad_link(folder: Path) -> None:
    (folder / "b.dump.txt").symlink_to("gone.txt")


def bad_loop(folder: Path) -> None:
    (folder / "b.dump.txt").symlink_to("b.dump.txt")


def bad_pipe(folder: Path) -> None:
    os.mkfifo(folder / "b.dump.txt")


def bad_escapes(folder: Path) -> None:
    text = DUMP + "let \x1b]0;owned\x07wallpaper-hue be \x1b[2J\x1b[31m7\u202e\x9b1m\n"
    (folder / "b.dump.txt").write_text(text, encoding="utf-8")


def bad_card(folder: Path) -> None:
    (folder / "cfglint.toml").write_text(
        "[[dumps]]\nfiles = '*.dump.txt'\ncard = '{stem}.toml'\n", encoding="utf-8"
    )
    (folder / "b.dump.txt").write_text(DUMP, encoding="utf-8")
    (folder / "b.toml").write_text("[airframe]\nmotors = 'four'\n", encoding="utf-8")


def bad_dialect(folder: Path) -> None:
    (folder / "cfglint.toml").write_text(
        "[dialects]\nown = 'own.toml'\n[[dumps]]\nfiles = 'b.*'\ndialect = 'own'\n"
        "[[dumps]]\nfiles = '*.txt'\n",
        encoding="utf-8",
    )
    (folder / "b.dump.txt").write_text(DUMP, encoding="utf-8")
    (folder / "own.toml").write_text(
        "[dialect]\nid = 'own'\nschema = 1\ntitel = 'x'\n"
        "[marks]\nassign = 'let {name} be {value}'\n",
        encoding="utf-8",
    )


@pytest.mark.parametrize(
    ("make", "code", "words"),
    [
        (bad_line, 1, "b.dump.txt:6:1"),
        (bad_binary, 3, "this file is no text: it is full of NUL bytes"),
        (bad_folder, 3, "this is a folder that is named like a file"),
        (bad_link, 3, "this is a link to `gone.txt`, which is not there"),
        (bad_loop, 3, "cannot be read: Too many levels of symbolic links"),
        (bad_pipe, 3, "this is no ordinary file"),
        (bad_escapes, 1, "7\\u202e"),
        (bad_card, 2, "b.toml:2:10"),
        (bad_dialect, 2, "own.toml:4:1"),
    ],
)
def test_bad_input(
    call: Call, dump: Path, tmp_path: Path, make: Any, code: int, words: str
) -> None:
    make(tmp_path)
    ended, out, err = call("lint", tmp_path, *CLEAN, "--width", "120", "--colour", "never")
    assert ended == code
    assert words in out
    assert "Traceback" not in out + err
    # The other file was checked all the same.
    assert f"{2 if code == 1 else 1} craft" in out
    # Nothing of a file reaches the terminal but what is plainly seen.
    assert all(char.isprintable() or char == "\n" for char in out)
    ended, out, err = call("lint", tmp_path, *CLEAN, "--as", "sarif")
    assert ended == code
    files = {one["location"]["uri"] for one in sarif(out)["artifacts"]}
    assert "avocet.dump.txt" in files


def test_an_unreadable_file(
    call: Call, dump: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "b.dump.txt"
    other.write_text(DUMP, encoding="utf-8")
    other.chmod(0)
    if os.geteuid() == 0:  # who may read everything
        real = open

        def refuse(path: Any, *rest: Any, **named: Any) -> Any:
            if str(path) == str(other):
                raise PermissionError(13, "Permission denied")
            return real(path, *rest, **named)

        monkeypatch.setattr("builtins.open", refuse)
    code, out, _ = call("lint", tmp_path, *CLEAN)
    assert code == 3
    assert "cannot be read: Permission denied" in out
    assert "1 craft" in out


def test_a_line_of_ten_megabytes(call: Call, dump: Path, tmp_path: Path) -> None:
    (tmp_path / "b.dump.txt").write_bytes(b"let motor-signal be " + b"dshot300 " * 1_200_000)
    start = time.perf_counter()
    code, out, _ = call("lint", tmp_path)
    assert time.perf_counter() - start < 15
    assert code == 3
    assert "no dialect recognises this file as a dump" in out
    (tmp_path / "b.dump.txt").write_bytes(DUMP.encode() + b"let a be " + b"x" * 10_000_000 + b"\n")
    start = time.perf_counter()
    code, out, _ = call("lint", tmp_path, *CLEAN)
    assert time.perf_counter() - start < 15
    assert code == 1
    assert "b.dump.txt:6:1" in out
    assert "2 crafts" in out
    assert len(out) < 20_000
    code, out, _ = call("lint", tmp_path, *CLEAN, "--as", "sarif")
    assert code == 1
    assert len(out) < 1_000_000


def long_dump(tmp_path: Path, lines: int) -> Path:
    path = tmp_path / "b.dump.txt"
    path.write_text(DUMP + "let least-spin be 6.1\n" * lines + "5 x\n" * 200, encoding="utf-8")
    return path


#: For processes of their own, where nobody counts which lines of cfglint are run.
ASIDE = dict.fromkeys(("COVERAGE_PROCESS_START", "COVERAGE_PROCESS_CONFIG"), "")


@pytest.mark.skipif(
    os.environ.get("CFGLINT_PROFILE") != "long", reason="a minute long; CFGLINT_PROFILE=long"
)
def test_a_million_lines(spawn: Call, tmp_path: Path) -> None:
    path = long_dump(tmp_path, 999_795)
    assert path.read_text(encoding="utf-8").count("\n") == 1_000_000
    code, out, err = spawn("lint", path, "--as", "sarif", most=600, **ASIDE)
    assert (code, err) == (1, "")
    unread = [one for one in sarif(out)["results"] if one["ruleId"] == "dump/unreadable-line"]
    assert len(unread) == 101


def test_a_hundred_thousand_lines_take_no_longer_each(spawn: Call, tmp_path: Path) -> None:
    """A line of many costs about what a line of few does, in time of the processor's."""

    def seconds(lines: int) -> float:
        before = os.times().children_user
        code, out, err = spawn("lint", long_dump(tmp_path, lines), "--as", "sarif", **ASIDE)
        spent = os.times().children_user - before
        assert (code, err) == (1, "")
        unread = [one for one in sarif(out)["results"] if one["ruleId"] == "dump/unreadable-line"]
        # A hundred are shown, and one tells of the rest.
        assert len(unread) == 101
        return spent

    seconds(1)  # what is made once and kept for later runs
    start = seconds(1)
    few, many = seconds(10_000) - start, seconds(100_000) - start
    assert few > 0
    assert many / 100_000 <= 3 * few / 10_000
