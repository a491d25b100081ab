"""Where the person stands, what is typed from habit, and what comes from standard input."""

from __future__ import annotations

import bz2
import gzip
import io
import json
import lzma
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from cfglint.runner.here import Here, from_here

from .conftest import COMMANDS, DUMP, Call

#: A setting in it is wrong.
WRONG = DUMP.replace("dshot300", "brushed")
ONLY = ("--only", "motor/left-on-default-signal")
RULE = "motor/left-on-default-signal"
#: A dump that no bundled dialect reads.
STRANGE = Path(__file__).parents[2] / "fixtures" / "newcomer" / "turnstone.dump.txt"


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A hangar ``club`` in the current folder, with one dump that is wrong."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "club/dumps").mkdir(parents=True)
    (tmp_path / "club/cfglint.toml").write_text(
        "[[dumps]]\nfiles = 'dumps/*.dump.txt'\n", encoding="utf-8"
    )
    (tmp_path / "club/dumps/avocet.dump.txt").write_text(WRONG, encoding="utf-8")
    return tmp_path / "club"


def given(monkeypatch: pytest.MonkeyPatch, data: bytes) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(data), encoding="utf-8"))


# ------------------------------------------------------------------ where the person stands


@pytest.mark.parametrize(
    ("stand", "path", "told"),
    [
        (".", "club", "club/dumps/avocet.dump.txt"),
        (".", "./club/dumps", "club/dumps/avocet.dump.txt"),
        ("club", ".", "dumps/avocet.dump.txt"),
        ("club/dumps", "avocet.dump.txt", "avocet.dump.txt"),
        ("club/dumps", "..", "avocet.dump.txt"),
        ("elsewhere", "../club", "../club/dumps/avocet.dump.txt"),
    ],
)
def test_places_can_be_opened_from_there(
    call: Call, club: Path, monkeypatch: pytest.MonkeyPatch, stand: str, path: str, told: str
) -> None:
    Path("elsewhere").mkdir()
    monkeypatch.chdir(stand)
    quiet = call("lint", path, *ONLY, "--quiet")
    assert quiet.code == 1
    assert quiet.out.startswith(f"{told}:3:21: ground {RULE}: ")
    assert Path(quiet.out.partition(":")[0]).is_file()
    full = call("lint", path, *ONLY, "--width", "100").out
    assert f"Avocet ── {told} ── plain" in full
    assert f" {told}:3:21\n" in full
    # SARIF keeps its base, the hangar's root.
    log = json.loads(call("lint", path, *ONLY, "--as", "sarif").out)
    (result,) = log["runs"][0]["results"]
    artifact = result["locations"][0]["physicalLocation"]["artifactLocation"]
    assert artifact["uri"] == "dumps/avocet.dump.txt"


def test_the_configuration_too(call: Call, club: Path) -> None:
    assert 'configuration = "club/cfglint.toml"' in call("lint", "club", "--explain-config").out


def test_troubles_too(call: Call, club: Path) -> None:
    (club / "dumps/empty.dump.txt").touch()
    assert "club/dumps/empty.dump.txt: this file is empty" in call("lint", "club", "--quiet").out
    err = call("lint", "club", "--as", "sarif").err
    assert err.startswith("cfglint: club/dumps/empty.dump.txt: this file is empty")
    (club / "cfglint.toml").write_text("[lint]\nflor = 'fix'\n", encoding="utf-8")
    for command in ("lint club", "bench club/dumps/avocet.dump.txt"):
        assert call(*command.split()).err.startswith("cfglint: club/cfglint.toml:2:1: `flor`")


def test_a_wrong_card_of_one_dump(call: Call, club: Path) -> None:
    with (club / "cfglint.toml").open("a", encoding="utf-8") as stream:
        stream.write("card = 'card.toml'\n")
    (club / "card.toml").write_text("[esc]\ntwo_way = 3\n", encoding="utf-8")
    done = call("bench", "club/dumps/avocet.dump.txt")
    assert done.code == 2
    assert done.err.startswith("cfglint: club/card.toml:2:11: ")


def test_whole_where_that_is_shorter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    deep = tmp_path / "a/b/c/d/e/f/g/h/i/j/k/l/m/n/o/p/q/r/s/t/u/v"
    deep.mkdir(parents=True)
    monkeypatch.chdir(deep)
    assert from_here("x") == "x"
    assert from_here(str(deep.parent / "x")) == "../x"
    assert from_here("/x") == "/x"
    assert Here("/").file("(standard input)") == "(standard input)"


# ------------------------------------------------------------------ standard input


def test_lint_of_standard_input(call: Call, club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given(monkeypatch, WRONG.encode())
    done = call("lint", "-", *ONLY, "--quiet")
    assert done.code == 1
    assert done.out.startswith(f"(standard input):3:21: ground {RULE}: ")
    # As the file it is said to be, in place of what stands there.
    (club / "dumps/avocet.dump.txt").write_text(DUMP, encoding="utf-8")
    given(monkeypatch, b"\n" + WRONG.encode())
    name = "club/dumps/avocet.dump.txt"
    done = call("lint", "-", "--stdin-filename", name, *ONLY, "--quiet")
    assert done.out.startswith(f"{name}:4:21: ground {RULE}: ")
    assert "1 craft," in done.out
    given(monkeypatch, WRONG.encode())
    log = json.loads(call("lint", "-", "--stdin-filename", name, *ONLY, "--as", "sarif").out)
    (result,) = log["runs"][0]["results"]
    artifact = result["locations"][0]["physicalLocation"]["artifactLocation"]
    assert artifact["uri"] == "dumps/avocet.dump.txt"


@pytest.mark.parametrize(
    "command",
    [
        "compare - other.dump.txt",
        "compare other.dump.txt -",
        "carry - --to 7.10",
        "bench -",
        "show -",
        "show - --tree",
        "refused -",
        "dialect coverage plain -",
        "dialect check plain -",
    ],
)
def test_wherever_a_dump_is_taken(
    call: Call, club: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    Path("other.dump.txt").write_text(DUMP, encoding="utf-8")
    Path("same.dump.txt").write_text(WRONG, encoding="utf-8")
    usual = call(*command.replace(" -", " same.dump.txt", 1).split())
    assert usual.out
    given(monkeypatch, WRONG.encode())
    words = command.split()
    assert call(*words, "--stdin-filename", "same.dump.txt") == usual
    assert "--stdin-filename is for standard input" in (
        call(*command.replace(" -", " same.dump.txt", 1).split(), "--stdin-filename", "x").err
    )


def test_teaching_from_standard_input(
    call: Call, club: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given(monkeypatch, STRANGE.read_bytes())
    done = call("teach", "-", "-o", "mine.toml", "--stdin-filename", "t.txt")
    assert done.code == 1
    assert " sample   t.txt: " in done.out
    assert "--ask" in call("teach", "-", "-o", "mine.toml", "--ask").err


def test_the_same_twice_is_once(call: Call, club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given(monkeypatch, WRONG.encode())
    done = call("lint", "-", "-", *ONLY, "--quiet")
    assert (done.code, done.out.count(RULE)) == (1, 1)


def test_a_hangar_wants_files(call: Call, club: Path) -> None:
    done = call("start", "hangar", "new", "--no-ask", "--dump", "-")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("cfglint: --dump -: a dump's name is the craft's")
    assert not Path("new").exists()


def test_there_is_one_standard_input(call: Call, club: Path) -> None:
    for command in ("compare - -", "dialect coverage plain - -", "teach - - -o x.toml"):
        done = call(*command.split())
        assert (done.code, done.out) == (2, "")
        assert "there is one standard input" in done.err


# ------------------------------------------------------------------ what is no text


@pytest.mark.parametrize("command", ["lint {}", "bench {}", "teach {}", "compare {} {}"])
def test_packed_files_are_named_as_such(call: Call, club: Path, command: str) -> None:
    Path("a.gz").write_bytes(gzip.compress(DUMP.encode()))
    Path("a.bz2").write_bytes(bz2.compress(DUMP.encode(), 3))
    Path("a.xz").write_bytes(lzma.compress(DUMP.encode()))
    with zipfile.ZipFile("a.zip", "w") as packed:
        packed.writestr("a.txt", DUMP)
    kinds = {"a.gz": "gzip", "a.zip": "ZIP", "a.bz2": "bzip2", "a.xz": "xz"}
    for name, kind in kinds.items():
        done = call(*command.replace("{}", name).split())
        assert done.code == 3
        both = done.out + done.err
        assert f"this file is packed ({kind})" in both
        assert "unpack it first" in both
        assert "no dialect" not in both


def test_a_packed_dump_in_a_folder_is_passed_over_and_named(call: Call, club: Path) -> None:
    for name in ("old.dump.txt.gz", "older.dump.txt.zip", "notes.gz", "photo.zip"):
        (club / "dumps" / name).write_bytes(gzip.compress(b"x"))
    said = (
        "club/dumps/old.dump.txt.gz: this packed dump and 1 more were passed over; "
        "unpack what is to be checked\n"
    )
    for place in ("club", "club/dumps"):
        done = call("lint", place, *ONLY, "--quiet")
        assert done.code == 1
        assert done.out.splitlines(keepends=True)[1] == said
    assert "packed" not in call("lint", "club/dumps/avocet.dump.txt", *ONLY).out
    # A run does not fail for it, unless nothing else is there.
    (club / "dumps/avocet.dump.txt").write_text(DUMP, encoding="utf-8")
    assert call("lint", "club", *ONLY).code == 0
    (club / "cfglint.toml").unlink()
    assert said in call("lint", "club", *ONLY, "--quiet").out
    (club / "dumps/avocet.dump.txt").unlink()
    done = call("lint", "club", "--quiet")
    assert done.code == 4
    assert said in done.out
    log = json.loads(call("lint", "club", "--as", "sarif").out)
    assert "packed" in json.dumps(log["runs"][0]["results"])


# ------------------------------------------------------------------ what no dialect reads


@pytest.mark.parametrize(
    "command",
    ["lint {}", "lint -q {}", "bench {}", "switches {}", "compare {} {}", "carry {} --to plain"],
)
def test_the_command_that_teaches_it(call: Call, club: Path, command: str) -> None:
    Path("my dump.txt").write_bytes(STRANGE.read_bytes())
    done = call(*(word.replace("{}", "my dump.txt") for word in command.split()))
    assert done.code == 3
    both = " ".join((done.out + done.err).split())
    (teach,) = re.findall(r"`cfglint (teach [^`]*)`", both)
    assert teach == "teach 'my dump.txt' -o mine.toml"
    # … and that command is what it takes.
    assert call("teach", "my dump.txt", "-o", "mine.toml").code == 1
    assert call("bench", "my dump.txt", "--dialect", "mine.toml").code == 0


def test_a_hangars_dialects_for_dumps_outside_it(
    call: Call, club: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("loose").mkdir()
    Path("loose/t.dump.txt").write_bytes(STRANGE.read_bytes())
    assert call("teach", "loose/t.dump.txt", "-o", "club/mine.toml").code == 1
    with (club / "cfglint.toml").open("a", encoding="utf-8") as stream:
        stream.write("[dialects]\nmine = 'mine.toml'\n")
    assert call("lint", "loose", "--quiet").code == 3
    monkeypatch.chdir(club)
    for words in (["../loose"], ["../loose/t.dump.txt"], ["../loose", "--dialect", "mine"]):
        done = call("lint", *words, "--only", "dump/unreadable-line", "--quiet")
        assert (done.code, done.err) == (0, ""), words
        assert done.out.startswith("1 craft, ")
    for words in (["bench"], ["bench", "--dialect", "mine"]):
        assert call(*words, "../loose/t.dump.txt").code == 0
    assert call("dialect", "coverage", "mine", "../loose/t.dump.txt").out.startswith("mine.toml ")
    given(monkeypatch, STRANGE.read_bytes())
    assert call("bench", "-", "--dialect", "mine").code == 0
    given(monkeypatch, STRANGE.read_bytes())
    assert "it may be `mine`, `plain`" in call("bench", "-", "--dialect", "qqqq").err


# ------------------------------------------------------------------ habits


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("lint --format json", "`--format` is called `--as` here"),
        ("compare --format=json", "`--format` is called `--as` here"),
        ("lint --select motor", "`--select` is called `--only` here"),
        ("lint --ignore motor", "`--ignore` is called `--without` here"),
        ("lint --output-file x", "`--output-file` is called `--sarif` here, which writes SARIF"),
        ("carry --output-file x", "`--output-file` is called `--output` here"),
        ("compare --output-file x", "there is no option `--output-file`: write `> FILE`"),
        ("lint --fix", "there is no option `--fix`: nothing is changed for you"),
        ("bench --diff", "there is no option `--diff`: `cfglint compare BEFORE AFTER`"),
        ("lint --exit-zero", "`--exit-zero` is called `--floor` here, which says"),
        ("lint --statistics", "there is no option `--statistics`: the last line"),
        ("bench -q", "there is no option `-q`: write `> /dev/null`"),
        ("lint --strict", "`--strict` is called `--floor` here"),
        ("lint --check", "there is no option `--check`: no command changes a dump"),
        ("lint --list-rules", "there is no option `--list-rules`: `cfglint rules` lists them"),
        ("lint --exclude x", "there is no option `--exclude`: name the files"),
        ("dialect --watch", "there is no option `--watch`: each run is one check"),
        ("lint --version", "there is no option `--version`: `cfglint --version` tells it"),
    ],
)
def test_usual_options_are_answered_exactly(call: Call, words: str, told: str) -> None:
    command, *rest = words.split()
    operand = {"carry": ["x", "--to", "plain"], "compare": ["x", "y"]}.get(command, ["x"])
    done = call(command, *operand, *rest)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(f"cfglint {command}: {told}")
    assert "did you mean" not in done.err
    assert done.err.count("\n") == 1
    # What is named is really there.
    named = re.search(r"is called `(\S+)`", done.err)
    if named is not None:
        assert re.search(rf"(?<!\S){named[1]}\b", call(command, "--help").out)


@pytest.mark.parametrize("words", ["carry --format json x", "start --fix", "dialect --format=json"])
def test_habits_are_answered_before_what_is_missing(call: Call, words: str) -> None:
    done = call(*words.split())
    assert done.code == 2
    assert "`--format` is called `--as` here" in done.err or "`--fix`: nothing is" in done.err


def test_after_two_dashes_all_are_files(call: Call, club: Path) -> None:
    assert "there is no such file" in call("lint", "--", "--format").out


def test_dashes_make_no_option_like_another(call: Call) -> None:
    for option in ("--gyrate", "--depth", "--holp"):
        err = call("lint", option).err
        assert ("did you mean `--help`?" in err) == (option == "--holp")
        assert err.count("did you mean") == (option == "--holp")


def test_q_is_quiet(call: Call, club: Path) -> None:
    assert call("lint", "-q", *ONLY) == call("lint", "--quiet", *ONLY)


@pytest.mark.parametrize("columns", [60, 80, 120])
@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_fits_the_terminal(
    call: Call, monkeypatch: pytest.MonkeyPatch, command: str, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    out = call(*filter(None, [command]), "--help").out
    assert out
    assert max(map(len, out.splitlines())) <= columns


def test_narrow_help_says_all_that_wide_help_says(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    for command in COMMANDS:
        pages = []
        for columns in ("50", "200"):
            monkeypatch.setenv("COLUMNS", columns)
            out = call(command, "--help").out
            pages.append("".join(out.partition("\n\n")[2].split()))
        assert pages[0] == pages[1], command


# ------------------------------------------------------------------ what a long run is at

SLOW = """
import sys, time
import cfglint.cli.progress as progress
progress.PATIENCE = 0.1
from cfglint.runner.check import Checker
check = Checker.check
def slowly(self, dump):
    time.sleep(0.15)
    return check(self, dump)
Checker.check = slowly
import cfglint.teach.whole as teaching, cfglint.runner.coverage as coverage
teach, judge = teaching.whole, coverage._uses
def slow_teach(*words, **named):
    time.sleep(0.5)
    return teach(*words, **named)
def slow_read(*words):
    time.sleep(0.5)
    return judge(*words)
teaching.whole, coverage._uses = slow_teach, slow_read
from cfglint.cli import main
sys.exit(main(sys.argv[1:]))
"""


def on_terminal(folder: Path, *words: str, terminal: bool = True) -> tuple[str, str]:
    """Standard output (a file), and standard error, which is a terminal or a file."""
    import pty

    near, far = pty.openpty()
    env = {**os.environ, "TERM": "xterm", "COLUMNS": "80", "PYTHONUTF8": "1"}
    with (folder / "err").open("wb") as file, (folder / "out").open("wb") as out:
        child = subprocess.Popen(
            [sys.executable, "-c", SLOW, *words],
            cwd=folder,
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=far if terminal else file,
        )
        os.close(far)
        seen = b""
        while True:
            try:
                part = os.read(near, 65536)
            except OSError:  # how a terminal ends once nobody writes to it
                break
            if not part:
                break
            seen += part
        child.wait(timeout=60)
    os.close(near)
    said = seen if terminal else (folder / "err").read_bytes()
    return (folder / "out").read_text(encoding="utf-8"), said.decode("utf-8")


@pytest.mark.skipif(sys.platform == "win32", reason="it has no such terminals")
def test_a_long_run_says_what_it_is_at(club: Path) -> None:
    for number in range(4):
        (club / f"dumps/x{number}.dump.txt").write_text(DUMP, encoding="utf-8")
    usual, nothing = on_terminal(club, "lint", *ONLY, terminal=False)
    assert nothing == ""
    out, err = on_terminal(club, "lint", *ONLY)
    assert out == usual
    assert "checking dumps" in err
    assert re.search(r"[1-4]/5", err)
    assert "dumps/x2.dump.txt" in err
    # It is taken away again, and the cursor is shown.
    assert err.rstrip().endswith("\x1b[2K") or "\x1b[?25h" in err
    for words in (["--quiet"], ["--as", "sarif"]):
        assert on_terminal(club, "lint", *ONLY, *words)[1] == ""


@pytest.mark.skipif(sys.platform == "win32", reason="it has no such terminals")
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["teach", str(STRANGE)], "drafting a dialect"),
        (["dialect", "coverage", "plain", "dumps/avocet.dump.txt"], "looking what is understood"),
    ],
)
def test_what_says_nothing_meanwhile_shows_too(club: Path, words: list[str], told: str) -> None:
    usual, plain = on_terminal(club, *words, terminal=False)
    assert told not in plain
    out, err = on_terminal(club, *words)
    assert out == usual
    assert told in err
    assert told not in on_terminal(club, *words, "--as", "json")[1]
