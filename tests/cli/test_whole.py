"""Files are written whole or not at all: on a full disk, and with the end at every step."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from shutil import copytree

import pytest

from cfglint.cli import whole
from cfglint.cli.whole import write_whole
from cfglint.errors import Problem

FLEET = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh"
ACCEPTS = ["accept", "--all-now", "--reason", "known", "--by", "Ines", "--until", "2999-12-31"]

#: Ends the process at the N-th call of what a file is written by, and counts them.
KILLED = """\
import os, sys, builtins
from cfglint.cli.whole import write_whole
left = int(sys.argv[2])
def ending(real):
    def call(*words, **more):
        global left
        left -= 1
        if left < 0:
            os._exit(9)
        return real(*words, **more)
    return call
for name in ("open", "fsync", "chmod", "link", "replace", "unlink", "fdopen"):
    setattr(os, name, ending(getattr(os, name)))
class Stream:
    def __init__(self, real): self.real = real
    def __enter__(self): return self
    def __exit__(self, *_): self.real.close()
    def write(self, data):
        for at in range(0, len(data), 1000):
            ending(self.real.write)(data[at:at + 1000])
            self.real.flush()
    def flush(self): self.real.flush()
    def fileno(self): return self.real.fileno()
real_open = builtins.open
builtins.open = lambda *words, **more: Stream(real_open(*words, **more))
write_whole(sys.argv[1], b"new " * 1000, over=sys.argv[3] == "over")
"""


@pytest.mark.parametrize("over", ["over", "new"])
def test_the_end_of_the_process_at_every_step(tmp_path: Path, over: str) -> None:
    """Killed wherever it may be, the file is the old one or the new one."""
    old, new = b"old " * 2000, b"new " * 1000
    met = set()
    for step in range(40):
        path = tmp_path / f"a{step}"
        if over == "over":
            path.write_bytes(old)
        done = subprocess.run(
            [sys.executable, "-c", KILLED, str(path), str(step), over], check=False
        )
        there = path.read_bytes() if path.exists() else b""
        assert there in (old if over == "over" else b"", new)
        met.add((done.returncode, there == new))
        if not done.returncode:
            break
    assert met == {(9, False), (9, True), (0, True)}
    assert (0, True) in met


def test_a_draft_of_a_killed_run_is_not_in_the_way(tmp_path: Path) -> None:
    for turn in range(3):
        (tmp_path / f".a.{os.getpid()}-{turn}.new").write_bytes(b"half")
    write_whole(str(tmp_path / "a"), b"new")
    assert (tmp_path / "a").read_bytes() == b"new"
    assert len(list(tmp_path.iterdir())) == 4


def test_permissions_and_links_stay(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    (tmp_path / "a").chmod(0o640)
    (tmp_path / "b").symlink_to("a")
    write_whole(str(tmp_path / "b"), b"new")
    assert (tmp_path / "b").is_symlink()
    assert (tmp_path / "a").read_bytes() == b"new"
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o640


def test_what_is_no_ordinary_file_is_written_to(tmp_path: Path) -> None:
    write_whole(os.devnull, b"x")
    assert not Path(os.devnull).is_file()
    code = "from cfglint.cli.whole import write_whole; write_whole('/dev/stdout', b'x' * 9)"
    with (tmp_path / "out").open("wb") as stream:
        subprocess.run([sys.executable, "-c", code], stdout=stream, check=True)
    assert (tmp_path / "out").read_bytes() == b"x" * 9


# ------------------------------------------------------------------ every command that writes


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    copytree(FLEET, tmp_path / "m")
    return tmp_path / "m"


def run(fleet: Path, *words: str, most: int = 0) -> subprocess.CompletedProcess[str]:
    """Run a command that may write no more than ``most`` bytes into a file (0: any number)."""
    limit = f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, ({most}, {most}));"
    code = f"{limit if most else ''}import sys; from cfglint.cli import main; sys.exit(main())"
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=fleet, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def files(root: Path) -> Iterator[Path]:
    return (path for path in root.rglob("*") if path.is_file() and path.suffix != ".pyc")


DUMP = "dumps/avocet.dump.txt"
OLD = b"# something that somebody made\n" * 400


@pytest.mark.parametrize(
    ("words", "path"),
    [
        (ACCEPTS, "accepted.toml"),
        (["lint", "--sarif", "log.sarif"], "log.sarif"),
        (["carry", DUMP, "--to", "plain", "-o", "new.txt", "--force"], "new.txt"),
        (["carry", DUMP, "--to", "plain", "-o", "new.txt"], "new.txt"),
        (["switches", DUMP, "-o", "a.svg", "--as", "svg"], "a.svg"),
        (["teach", DUMP, "-o", "mine.toml"], "mine.toml"),
        (["teach", DUMP, "-o", "mine.toml", "--replace"], "mine.toml"),
        (["start", "rule", "tide/no-such", "--in", "club"], "club/tide_no_such.py"),
        (["start", "demo", "demo"], "demo/cfglint.toml"),
        (["start", "hangar", "../h", "--dump", DUMP], "../h/dumps/avocet.dump.txt"),
    ],
)
def test_a_full_disk_costs_nothing(fleet: Path, words: list[str], path: str) -> None:
    target = Path(os.path.normpath(fleet / path))
    made = any(word in words for word in ("--force", "--replace", "--sarif", "switches"))
    if made:
        # Over a report only one of its kind is written.
        target.write_bytes({".sarif": b'{"$schema', ".svg": b"<svg "}.get(target.suffix, b"") + OLD)
    before = {one: one.read_bytes() for one in files(fleet.parent)}
    done = run(fleet, *words, most=300)
    assert done.returncode == 2, done
    assert "cannot be written: File too large" in done.stderr
    after = {one: one.read_bytes() for one in files(fleet.parent)}
    assert {one: after[one] for one in before} == before
    # Whatever was made before that is whole, and no draft is left.
    run(fleet, *words)
    whole = {one: one.read_bytes() for one in files(fleet.parent)}
    assert {one: data for one, data in after.items() if one not in before}.items() <= whole.items()
    assert not [one for one in after if one.name.endswith(".new")]
    assert whole[target] != before.get(target)


def test_pruning_on_a_full_disk_loses_no_accept(fleet: Path) -> None:
    assert run(fleet, *ACCEPTS).returncode == 0
    path = fleet / "accepted.toml"
    path.write_text(path.read_text().replace("2999-12-31", "2020-01-01", 1))
    before = path.read_bytes()
    done = run(fleet, "accept", "--prune", most=300)
    assert done.returncode == 2
    assert path.read_bytes() == before
    assert run(fleet, "accept", "--prune").returncode == 0
    assert 0 < len(path.read_bytes()) < len(before)


def test_accepts_written_at_once_are_all_there(fleet: Path) -> None:
    concerns = ("failsafe", "receiver", "motor", "dump", "modes")
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "cfglint", *ACCEPTS, "--only", concern, str(fleet)],
            stdout=subprocess.PIPE,
            text=True,
        )
        for concern in concerns
    ]
    said = [one.communicate()[0] for one in runs]
    assert [one.returncode for one in runs] == [0] * len(runs)
    told = sum(int(line.split(": ")[1].split(" ")[0]) for line in said)
    assert (fleet / "accepted.toml").read_text().count("[[accept]]") == told > 10


def test_a_run_that_does_not_end_is_not_waited_for_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(whole, "_PATIENCE", 0.1)
    folder = str(tmp_path)
    refused = pytest.raises(Problem, match="another run")
    with whole.alone(folder), refused, whole.alone(folder):
        pytest.fail("it was let in")
    with whole.alone(str(tmp_path)), whole.alone(str(tmp_path / "not there")):
        pass
