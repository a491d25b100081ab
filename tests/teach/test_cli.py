"""``cfglint teach`` from the command line, but for its sheet."""

from __future__ import annotations

import errno
import json
import os
import re
import shutil
import time
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.cli import main
from cfglint.cli.teach_files import SEAL, read_samples, sealed, state, write_draft
from cfglint.dialect import load_dialect
from cfglint.errors import Problem
from cfglint.report.teach import CAUTION

from .conftest import SAMPLE

if TYPE_CHECKING:
    from .conftest import Call

HERE = Path(__file__).resolve().parent
BAD = HERE / "bad"
OUT = ("reed.txt", "-o", "mine.toml")


# ------------------------------------------------------------------ what is told


def test_the_report(call: Call, reed: Path) -> None:
    (reed / "reed.txt").write_text(SAMPLE + "port 1 gps 9600\nport 2 8 odd\n", encoding="utf-8")
    ended = call(*OUT)
    assert (ended.code, ended.err) == (1, "")
    head, _, rest = ended.out.partition("Next ──")
    assert head == (
        "mine.toml ── drafted ── 1 sample ───────────────────────────────────────────────\n"
        " sample   reed.txt: 21 lines, 17 read, 3 mode ranges\n"
        "   sure   battery.full_v, battery.warn_v, channel.N.high_us, channel.N.low_us,\n"
        "          channel.N.mid_us, craft.board, craft.firmware, motor.poles,\n"
        "          motor.signal, port.N.baud, port.N.functions, receiver.link,\n"
        "          receiver.port\n"
        "missing   battery.cells\n"
        "\n"
        "Unsure ── 4 mappings ───────────────────────────────────────────────────────────\n"
        "      5   failsafe.action descend              │ put lost descend\n"
        "     10   battery.empty_v 3.31 V               │ put pack.low 3.31\n"
        "      4   motor.idle_percent 4.7%              │ put idle 47\n"
        "     18   mode arm `go`                        │ mode go on ch5 from 1762 to 2…\n"
        "\n"
        "Not understood ── 3 names and 1 line more ──────────────────────────────────────\n"
        "   kept   put nick, put tint, put peep: what has a meaning is to be mapped\n"
        "     22   `8` is not understood                │ port 2 8 odd\n"
        "\n"
    )
    told = " ".join(rest.split())
    assert re.search(r"1. mine.sheet.txt asks \d+ things in \d+ lines, what matters most", told)
    assert "and `cfglint teach reed.txt -o mine.toml` once more. Or let it ask you" in told
    assert "`cfglint dialect check mine.toml reed.txt` looks for contradictions" in told
    assert CAUTION in told
    assert re.search(
        r"\n13 sure, 4 unsure, 1 missing that matters; \d+ questions open\n$", ended.out
    )
    load_dialect("mine.toml", Path("mine.toml").read_bytes())


def test_colour_and_width(call: Call, reed: Path) -> None:
    plain = call(*OUT, "--width", "120")
    assert max(map(len, plain.out.split("\n"))) == 120
    coloured = call(*OUT, "--colour", "always")
    assert "\x1b[1m" in coloured.out
    assert "\x1b" not in plain.out
    narrow = call(*OUT, "--width", "60")
    assert max(map(len, narrow.out.split("\n"))) <= 60


def test_several_samples_and_lines_that_are_not_read(call: Call, reed: Path) -> None:
    more = "".join(f"put rx.link noise{n}\n" for n in range(9))
    Path("rush.txt").write_text(SAMPLE + more, encoding="utf-8")
    ended = call("reed.txt", "rush.txt", "./reed.txt", "-o", "mine.toml", "--name", "reed-bank")
    assert "mine.toml ── drafted ── 2 samples ─" in ended.out
    assert load_dialect("mine.toml", Path("mine.toml").read_bytes()).id == "reed-bank"
    assert "-o mine.toml --name reed-bank` once more" in " ".join(ended.out.split())


def test_little_that_is_recognised(call: Call, reed: Path) -> None:
    Path("reed.txt").write_text("".join(f"zwal{n} = {n}\n" for n in range(20)), encoding="utf-8")
    ended = call(*OUT)
    assert ended.code == 1
    assert "Little was recognised:" in ended.out
    assert "mode ranges" in ended.out.partition("missing")[2]


def test_without_an_output(call: Call, reed: Path) -> None:
    ended = call("reed.txt")
    assert tomllib.loads(ended.out)["dialect"]["id"] == "mine"
    assert ended.err.endswith(" questions open; with `-o mine.toml` all of it is told\n")
    assert ended.code == 1
    assert os.listdir() == ["reed.txt"]


def test_standard_input(call: Call, reed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Bytes:
        buffer = __import__("io").BytesIO(SAMPLE.encode())

    ended = call("-", "--stdin-filename", "club.txt", hears=Bytes())
    assert ended.code == 1
    assert ended.out.startswith("# Drafted from club.txt.\n")


def test_json(call: Call, reed: Path) -> None:
    ended = call(*OUT, "--as", "json")
    found = json.loads(ended.out)
    assert (found["output"], found["sheet"]) == ("mine.toml", "mine.sheet.txt")
    assert found["samples"] == [{"file": "reed.txt", "lines": 19, "read": 16, "ranges": 3}]
    assert "motor.signal" in found["sure"]
    assert found["missing"] == ["battery.cells"]
    assert found["kept"] == ["put nick", "put tint", "put peep"]
    (idle,) = (one for one in found["unsure"] if one["setting"] == "motor.idle_percent")
    assert (idle["value"], idle["line"], idle["text"]) == ("4.7%", 4, "put idle 47")
    assert idle["mark"].startswith("mine.toml:")
    assert "word mode go" in [one["key"] for one in found["questions"]]
    assert sealed(found["text"]) == Path("mine.toml").read_bytes()
    assert json.loads(call("reed.txt", "--as", "json").out)["output"] == ""


# ------------------------------------------------------------------ what is written


def test_a_draft_is_drafted_over(call: Call, reed: Path) -> None:
    call(*OUT)
    first = Path("mine.toml").read_bytes()
    os.chmod("mine.toml", 0o640)
    assert call(*OUT).code == 1
    assert Path("mine.toml").read_bytes() == first
    assert os.stat("mine.toml").st_mode & 0o777 == 0o640
    # Version control may change its line ends.
    Path("mine.toml").write_bytes(first.replace(b"\n", b"\r\n"))
    assert call(*OUT).code == 1
    assert not [name for name in os.listdir() if name.endswith(".new")]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("changed", "this draft was changed after it was made"),
        ("more", "this draft was changed after it was made"),
        ('[dialect]\nid = "mine"\n', "this file was not drafted by `cfglint teach`"),
        ("", "this file was not drafted by `cfglint teach`"),
    ],
)
def test_what_a_person_wrote_is_not_written_over(
    call: Call, reed: Path, text: str, why: str
) -> None:
    call(*OUT)
    path = Path("mine.toml")
    drafted = path.read_text(encoding="utf-8")
    text = {"changed": drafted.replace("0.1", "0.2"), "more": f"{drafted}# mine\n"}.get(text, text)
    path.write_text(text, encoding="utf-8")
    ended = call(*OUT)
    assert ended == (
        2,
        "",
        f"cfglint: mine.toml: {why}, and is not written over; name another file with -o and bring "
        "over what you want of it; or, to lose what stands there, add --replace\n",
    )
    assert path.read_text(encoding="utf-8") == text
    assert call(*OUT, "--ask").code == 2
    assert call(*OUT, "--replace").code == 1
    assert path.read_text(encoding="utf-8") == drafted


def test_the_changes_of_an_update_are_not_lost(call: Call, reed: Path) -> None:
    changes = sealed('# x\n\n[[changes]]\nat = "2"\n')
    Path("mine.toml").write_bytes(changes)
    ended = call(*OUT)
    assert (ended.code, ended.out) == (2, "")
    assert "mine.toml: this draft holds the changes of an update too (`--before`" in ended.err
    assert Path("mine.toml").read_bytes() == changes
    assert call(*OUT, "--replace").code == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "no sample is named; write `cfglint teach DUMP -o mine.toml`"),
        (("reed.txt", "--ask"), "--ask needs a file to draft into"),
        (("reed.txt", "--replace"), "--replace is for a file that is written"),
        ((*OUT, "--ask", "--as", "json"), "--ask talks in text"),
        ((*OUT, "--language", "da"), "--language da: there is no list of its words; it may be en"),
        ((*OUT, "--sheet", "reed.txt"), "reed.txt: this file is no sheet; name another"),
        ((*OUT, "--sheet", "mine.toml"), "mine.toml: this file is no sheet; name another"),
        ((*OUT, "--card", "gone.toml"), "gone.toml: this file is not there"),
        (("reed.txt", "-o", "mine"), "-o mine: a dialect file's name ends in `.toml`"),
        (("reed.txt", "-o", ".toml"), "-o .toml: a dialect file's name ends in `.toml`"),
        (("reed.txt", "-o", "my own.toml"), "`my own` cannot be a dialect's name"),
        (("reed.txt", "-o", "plain.toml"), "`plain` is the name of a bundled dialect"),
        (("reed.txt", "--name", "a/b"), "--name: `a/b` cannot be a dialect's name"),
        (("reed.txt", "-o", "no/mine.toml"), "no/mine.toml: there is no folder `no`"),
        (("reed.txt", "-o", "box.toml"), "box.toml: this is a folder; name a file"),
        (("reed.txt", "-o", "lost.toml"), "lost.toml: this is a link to `nowhere`"),
        (("-", "-o", "reed.toml", "--ask"), "`-` is no sample with --ask"),
        ((*OUT, "--changed", "motor.pole", "reed.txt", "rush.txt"), "there is no setting `motor.p"),
        ((*OUT, "--changed", "motor.poles", "reed.txt", "rush.txt"), "no lines differ from rush"),
        ((*OUT, "--changed", "motor.poles", "reed.txt", "tern.txt"), "2 lines differ from tern.tx"),
    ],
)
def test_wrong_use(call: Call, reed: Path, words: tuple[str, ...], message: str) -> None:
    Path("box.toml").mkdir()
    Path("lost.toml").symlink_to("nowhere")
    Path("rush.txt").write_text(SAMPLE, encoding="utf-8")
    Path("tern.txt").write_text(
        SAMPLE.replace("magnets 14", "magnets 12").replace("amber", "red"), "utf-8"
    )
    ended = call(*words)
    assert (ended.code, ended.out) == (2, "")
    assert message in ended.err
    assert ended.err.count("\n") == 1


def test_a_file_that_cannot_be_written(
    call: Call, reed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "no space left")

    monkeypatch.setattr(os, "replace", full)
    ended = call(*OUT)
    assert ended.code == 2
    assert "mine.toml: cannot be written: no space left; look at the folder's" in ended.err
    assert os.listdir() == ["reed.txt"]
    monkeypatch.setattr(os, "fsync", full)
    monkeypatch.setattr(os, "unlink", full)
    with pytest.raises(Problem, match="no space left"):
        write_draft("a.toml", b"")


def test_a_link_stays_one(call: Call, reed: Path) -> None:
    Path("dialects").mkdir()
    Path("mine.toml").symlink_to("dialects/mine.toml")
    Path("dialects/mine.toml").write_bytes(sealed("# x\n"))
    assert call(*OUT).code == 1
    assert Path("mine.toml").is_symlink()
    assert state("dialects/mine.toml") == "draft"


def test_the_seal() -> None:
    data = sealed("# x\n")
    assert data.decode().startswith(f"# x\n\n{SEAL}")
    assert tomllib.loads(data.decode()) == {}


# ------------------------------------------------------------------ samples that are none


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("prose.txt", "prose.txt: this is no dump to learn from: it reads like prose"),
        ("three-lines.txt", "three-lines.txt: this is no dump to learn from: it has 3 lines"),
        ("mixed.txt", "mixed.txt: this cannot be learned as one: lines up to 55 are written in"),
        ("noise.bin", "noise.bin: this file is no text: it is full of NUL bytes"),
        ("gone.txt", "gone.txt: this file is not there; look at its name"),
        ("", "bad: this is a folder, and was not searched for dumps; name the dumps in it"),
    ],
)
def test_bad_samples(call: Call, reed: Path, name: str, message: str) -> None:
    ended = call(str(BAD / name), "-o", "mine.toml")
    assert (ended.code, ended.out) == (3, "")
    assert message in ended.err
    assert ended.err.count("\n") == 1
    assert os.listdir() == ["reed.txt"]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "x.txt: this file is empty; make the dump again"),
        (b" \n\n", "x.txt: this file is empty; make the dump again"),
        (bytes(range(1, 256)) * 9, "x.txt: this is no UTF-8 text, and as Latin-1 it holds"),
        ("Салют, мир\n".encode("koi8-r") * 9, "letters beyond ASCII, so nothing can be learnt"),
        (b"x" * 10_000_000, "x.txt: this is no dump to learn from: it has 1 line"),
    ],
)
def test_bytes_that_are_no_dump(call: Call, reed: Path, data: bytes, message: str) -> None:
    Path("x.txt").write_bytes(data)
    ended = call("x.txt")
    assert (ended.code, ended.out) == (3, "")
    assert message in ended.err
    assert ended.err.count("\n") == 1


def test_all_bad_samples_are_named(call: Call, reed: Path) -> None:
    ended = call("gone.txt", "reed.txt", ".")
    assert (ended.code, ended.err.count("\n")) == (3, 2)


def test_latin_1_is_read_and_said(call: Call, reed: Path) -> None:
    Path("reed.txt").write_bytes(SAMPLE.encode() + "# für Größe\n".encode("latin-1"))
    out = " ".join(call(*OUT).out.split())
    assert "reed.txt is no UTF-8 text; it was read as Latin-1, as a lint reads it." in out


def test_long_files_are_not_read_to_the_end(call: Call, reed: Path) -> None:
    rest = "".join(f"put zwal{n % 97} {n}\n" for n in range(40_000))
    Path("long.txt").write_text(SAMPLE + rest, encoding="utf-8")
    assert Path("long.txt").stat().st_size > 500_000
    start = time.process_time()
    ended = call("long.txt", "-o", "mine.toml")
    assert time.process_time() - start < 60
    out = " ".join(ended.out.split())
    assert "far more than a dump; only its first 4000 lines were looked at." in out
    assert "motor.signal" in out
    Path("wide.txt").write_text(SAMPLE * 300, encoding="utf-16")
    sources, notes = read_samples(["wide.txt"])
    assert notes[0].startswith("wide.txt has 6000 lines, far more than a dump; only its first 4000")
    assert len(sources[0].lines) == 4000


def test_a_draft_that_is_no_dialect_is_our_fault(
    call: Call, reed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cfglint.teach import whole

    teach = whole.teach

    def broken(*words: Any) -> Any:
        draft = teach(*words)
        return draft._replace(text=draft.text.replace("[marks]", "[marks]\nodd = 3"))

    monkeypatch.setattr(whole, "teach", broken)
    ended = call(*OUT)
    assert (ended.code, ended.out) == (3, "")
    assert "what was drafted is no sound dialect file: " in ended.err
    assert "nothing was written; this is a fault in cfglint, please report it" in ended.err
    assert os.listdir() == ["reed.txt"]


# ------------------------------------------------------------------ from a sample to a lint


def test_what_is_told_as_next_steps_can_be_done(
    call: Call, reed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ended = call(*OUT)
    assert max(map(len, ended.out.split("\n"))) <= 80
    assert main(["dialect", "check", "mine.toml", "reed.txt"]) in (0, 1)
    assert main(["dialect", "coverage", "mine.toml", "reed.txt"]) in (0, 1)
    assert main(["lint", "--dialect", "mine.toml", "reed.txt"]) in (0, 1)
    assert "Traceback" not in capsys.readouterr().err


def test_a_hangars_draft_is_drafted_over(call: Call, reed: Path) -> None:
    shutil.copy(HERE / "handmade" / "open" / "bench" / "sample.dump.txt", "bench.dump.txt")
    assert main(["start", "hangar", "h", "--dump", "bench.dump.txt", "--no-ask"]) in (0, 1)
    assert state("h/dialects/mine.toml") == "draft"
    ended = call("h/dumps/bench.dump.txt", "--ask", "-o", "h/dialects/mine.toml", hears="-\nstop\n")
    assert (ended.code, ended.err) == (1, "")
    assert Path("h/dialects/mine.sheet.txt").exists()
    assert main(["lint", "h"]) in (0, 1)
