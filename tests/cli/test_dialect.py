"""``cfglint dialect check``, ``coverage`` and ``test`` from the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from .conftest import Call

#: A dialect with a little of everything, and an example.
REED = """\
[dialect]
id = "reed"

[marks]
comment = "#"
assign = "put {name} {value}"

[identity]
lines = ["# reed {board} {firmware}"]

[map]
"motor.poles" = { at = "put magnets" }
"motor.signal" = { at = "put talk", words = { dshot300 = 42, dshot600 = 23 } }
"battery.full_v" = { at = "put full", decimals = 1 }

[modes]
arm = "go"

[[rows]]
at = "{mode} on ch{channel} {low}-{high}"
makes = "range"

[kept]
at = ["put lamp *"]

[[examples]]
lines = "put talk 23"
sets = { "motor.signal" = "dshot600" }
"""
DUMP = """\
# reed R2 2.1
put magnets 14
put talk 23
put full 4.2
put lamp-a 3
go on ch5 1680-2075
"""


@pytest.fixture
def reed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with ``reed.toml`` and ``reed.txt``, which it understands."""
    (tmp_path / "reed.toml").write_text(REED, encoding="utf-8")
    (tmp_path / "reed.txt").write_text(DUMP, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    return tmp_path


def more(folder: Path, name: str, text: str) -> None:
    path = folder / name
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


# ---------------------------------------------------------------- wrong use


def test_wrong_use(call: Call, reed: Path) -> None:
    done = call("dialect", "chek", "reed.toml")
    assert done.code == 2
    assert "did you mean `check`?" in done.err
    done = call("dialect", "coverage", "reed.toml")
    assert (done.code, done.err) == (
        2,
        "cfglint: no dump is named; write `cfglint dialect coverage reed.toml DUMP`\n",
    )
    done = call("dialect", "test", "reed.toml", "reed.txt")
    assert (done.code, done.err) == (
        2,
        "cfglint: `reed.txt` is one word too many: examples stand in the dialect file; "
        "`cfglint dialect check FILE DUMP` looks at dumps\n",
    )
    for what in ("check", "test"):
        done = call("dialect", what, "reed.toml", "--as", "markdown")
        assert (done.code, done.out) == (2, "")
        assert f"`dialect {what}` has no markdown; write `--as text` or `json`" in done.err


@pytest.mark.parametrize("what", ["check", "coverage", "test"])
def test_a_dialect_file_that_is_not_there(call: Call, reed: Path, what: str) -> None:
    dumps = ("reed.txt",) if what == "coverage" else ()
    done = call("dialect", what, "none.toml", *dumps)
    assert (done.code, done.out) == (3, "")
    assert done.err == "cfglint: none.toml: this file is not there; look at its name\n"


@pytest.mark.parametrize("what", ["coverage", "test"])
def test_a_dialect_file_with_mistakes(call: Call, reed: Path, what: str) -> None:
    dumps = ("reed.txt",) if what == "coverage" else ()
    (reed / "reed.toml").write_text("[[", encoding="utf-8")
    done = call("dialect", what, "reed.toml", *dumps)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("cfglint: reed.toml:1:3: this is not TOML: ")
    (reed / "reed.toml").write_text(REED.replace("dshot600 = 23", "dshot601 = 23"), "utf-8")
    done = call("dialect", what, "reed.toml", *dumps)
    assert done.code == 2
    assert "`dshot601` is no neutral value of `motor.signal`; did you mean" in done.err


@pytest.mark.parametrize("what", ["check", "coverage"])
def test_dumps_that_cannot_be_read(call: Call, reed: Path, what: str) -> None:
    (reed / "binary.txt").write_bytes(b"ab\0\0\0\0")
    (reed / "empty.txt").write_bytes(b"\n")
    names = ("none.txt", "binary.txt", "empty.txt", ".", "reed.txt")
    done = call("dialect", what, "reed.toml", *names)
    assert done.code == 3
    assert done.err.splitlines() == [
        "cfglint: none.txt: this file is not there; look at its name",
        "cfglint: binary.txt: this file is no text: it is full of NUL bytes; make the dump again "
        "as plain text (UTF-16 needs its byte order mark)",
        "cfglint: empty.txt: this file is empty; make the dump again; nothing was recorded",
        "cfglint: .: this is a folder; name one dump",
    ]
    assert "reed" in done.out  # the one that can be read is told of all the same
    done = call("dialect", what, "reed.toml", "none.txt")
    assert done.code == 3


# ---------------------------------------------------------------- check


def test_check(call: Call, reed: Path) -> None:
    done = call("dialect", "check", "reed.toml", "reed.txt")
    assert (done.code, done.err) == (0, "")
    assert done.out == (
        "reed.toml: no contradictions\n"
        "1 dump and 1 example written back and read again\n"
        "4 settings, 1 range, 0 links; nothing lost\n"
    )


def test_check_without_anything_to_write(call: Call, reed: Path) -> None:
    (reed / "reed.toml").write_text(REED.partition("[[examples]]")[0], encoding="utf-8")
    done = call("dialect", "check", "reed.toml")
    assert (done.code, done.out) == (0, "reed.toml: no contradictions\n")


def test_check_finds_what_is_lost(call: Call, reed: Path) -> None:
    more(reed, "reed.txt", "put full 4.25\n")
    done = call("dialect", "check", "reed.toml", "reed.txt")
    assert done.code == 1
    assert done.out == (
        "reed.toml: no contradictions\n"
        "reed.txt:7:1: battery.full_v, 4.25 V, does not survive: not written; no exact "
        "number for 4.25\n"
        "1 dump and 1 example written back and read again\n"
        "4 settings, 1 range, 0 links; 1 lost\n"
    )
    found = json.loads(call("dialect", "check", "reed.toml", "reed.txt", "--as", "json").out)
    assert found["problems"] == []
    (lost,) = found["round_trips"][0]["lost"]
    assert (lost["what"], lost["value"], lost["span"]["line"]) == ("battery.full_v", "4.25 V", 7)
    assert found["round_trips"][1]["example"] == "example 1"


def test_check_finds_contradictions(call: Call, reed: Path) -> None:
    text = REED.replace("dshot600 = 23", "dshot600 = 42")
    (reed / "reed.toml").write_text(text, encoding="utf-8")
    done = call("dialect", "check", "reed.toml")
    assert done.code == 2
    lines = done.out.splitlines()
    assert lines[0] == (
        "reed.toml:13:62: `dshot300` and `dshot600` are both written `42`; one written word can be "
        "read back as one meaning only"
    )
    assert lines[1] == "reed.toml: 1 contradiction"
    found = json.loads(call("dialect", "check", "reed.toml", "--as", "json").out)
    assert found["problems"][0]["at"]["file"] == "reed.toml"


def test_check_of_a_file_with_mistakes(call: Call, reed: Path) -> None:
    (reed / "reed.toml").write_text(REED.replace("words", "wrods"), encoding="utf-8")
    done = call("dialect", "check", "reed.toml", "reed.txt")
    assert done.code == 2
    assert "did you mean `words`?" in done.out
    assert done.out.endswith("reed.toml: 1 contradiction\n")


@pytest.mark.parametrize("name", ["plain", "terse", "blocks", "nested", "tables"])
def test_bundled_dialects_by_name(call: Call, reed: Path, name: str) -> None:
    done = call("dialect", "check", name)
    assert done.code == 0
    assert done.out.startswith(f"{name}: no contradictions\n")
    assert done.out.endswith("; nothing lost\n")
    done = call("dialect", "test", name)
    assert done.code == 0
    assert done.out.endswith(", 0 fail\n")


# ---------------------------------------------------------------- test


def test_test(call: Call, reed: Path) -> None:
    done = call("dialect", "test", "reed.toml")
    assert (done.code, done.out, done.err) == (0, "1 example, 1 passes, 0 fail\n", "")
    more(reed, "reed.toml", '\n[[examples]]\nlines = "put magnets 12"\n')
    done = call("dialect", "test", "reed.toml")
    assert (done.code, done.out) == (
        1,
        "reed.toml:30:3: example 2: reading sets motor.poles to `12 poles`, which the example does "
        "not list\n"
        "2 examples, 1 passes, 1 fails\n",
    )
    found = json.loads(call("dialect", "test", "reed.toml", "--as", "json").out)
    assert [one["passes"] for one in found["examples"]] == [True, False]
    assert found["examples"][1]["failures"][0]["got"] == "12 poles"
    assert found["examples"][1]["at"]["line"] == 30


def test_test_without_examples(call: Call, reed: Path) -> None:
    (reed / "reed.toml").write_text(REED.partition("[[examples]]")[0], encoding="utf-8")
    done = call("dialect", "test", "reed.toml")
    assert (done.code, done.out) == (4, "")
    assert done.err == (
        "cfglint: reed.toml: this dialect file has no examples; write what a line means, for "
        'instance `[[examples]]` with `lines = "put magnets …"` and '
        '`sets = { "motor.poles" = … }`\n'
    )


# ---------------------------------------------------------------- coverage


def test_coverage(call: Call, reed: Path) -> None:
    done = call("dialect", "coverage", "reed.toml", "reed.txt")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith(
        "reed.toml ── dialect reed ── 1 dump ────────────────────────────────────────────\n"
        "   dump   reed.txt (firmware 2.1): 5 understood, 0 half understood, 0 unknown, 1\n"
        "          passed over\n"
    )
    assert "UNKNOWN" not in done.out
    assert "100 % understood: 5 of 5 lines that mean something; 0 half understood" in done.out


def test_coverage_of_what_is_not_understood(call: Call, reed: Path) -> None:
    more(reed, "reed.txt", "".join(f"put osd-{number} {number}\n" for number in range(5)))
    more(reed, "reed.txt", "put talk 5\n\x07\nstop on ch6 1000-1310\n")
    done = call("dialect", "coverage", "reed.toml", "reed.txt")
    assert done.code == 1
    assert (
        "UNKNOWN   osd-* ×5\n"
        "     in   reed.txt\n"
        "    7:5   put osd-0 0\n"
        "    8:5   put osd-1 1\n"
        "    9:5   put osd-2 2\n"
        "          and 2 more (--all)\n"
        "    why   the dialect has no meaning for it\n"
    ) in done.out
    assert "   13:1   \\x07\n" in done.out
    assert "   HALF   motor.signal\n     in   reed.txt\n  12:10   put talk 5\n" in done.out
    assert "   HALF   range\n" in done.out
    assert "put osd-4 4" not in done.out
    whole = call("dialect", "coverage", "reed.toml", "reed.txt", "--all").out
    assert "put osd-4 4" in whole
    assert "more (--all)" not in whole
    found = json.loads(call("dialect", "coverage", "reed.toml", "reed.txt", "--as", "json").out)
    assert found["counts"] == {"understood": 5, "half": 2, "unknown": 6, "aside": 1}
    assert found["percent"] == 38.4
    assert len(found["lines"]) == 8
    assert found["lines"][0]["at"]["column"] == 5
    page = call("dialect", "coverage", "reed.toml", "reed.txt", "--as", "markdown")
    assert page.code == 1
    assert "| unknown | `osd-*` ×5 | `reed.txt:7:5` `put osd-0 0`<br>" in page.out
    everything = call("dialect", "coverage", "reed.toml", "reed.txt", "--as", "markdown", "--all")
    assert "`put osd-4 4`" in everything.out


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_coverage_of_many_kinds(call: Call, reed: Path, form: str) -> None:
    names = "abcdefghijklmnopqrstuvwxyz"
    more(reed, "reed.txt", "".join(f"put {name}{name} 1\n" for name in names))
    done = call("dialect", "coverage", "reed.toml", "reed.txt", "--as", form)
    assert "6 lines of 6 other kinds" in done.out
    assert "put zz 1" not in done.out
    assert (
        "put zz 1"
        in call("dialect", "coverage", "reed.toml", "reed.txt", "--as", form, "--all").out
    )


def test_coverage_of_the_fleet(call: Call, root: Path) -> None:
    dump = root / "fixtures" / "saltmarsh" / "dumps" / "dunlin.dump.txt"
    done = call("dialect", "coverage", "plain", dump)
    assert done.code == 1
    assert "(Dunlin, firmware 7.10): 92" in " ".join(done.out.split())
    assert "firmware 7.10 calls it `loss-wait`" in done.out
    assert "1 fact that rules miss is mapped, and a dump does not say" in " ".join(done.out.split())


def test_rules_that_do_not_load_are_told_of(
    call: Call, reed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (reed / "rules.toml").write_text("[[", encoding="utf-8")
    monkeypatch.setenv("CFGLINT_RULES", "rules.toml")
    done = call("dialect", "coverage", "reed.toml", "reed.txt")
    assert done.code == 2
    assert done.err.startswith("cfglint: rules.toml:1:3: this is not TOML")
    assert "100 % understood" in done.out


@pytest.mark.parametrize("width", [80, 120])
def test_lines_fit(call: Call, reed: Path, width: int) -> None:
    more(reed, "reed.txt", f"put osd {'x' * 300}\nput talk 5\n")
    done = call("dialect", "coverage", "reed.toml", "reed.txt", "--width", str(width))
    assert max(map(len, done.out.splitlines())) <= width
    assert "motor.signal" in done.out


def test_nothing_in_a_dump_steers_the_terminal(call: Call, reed: Path) -> None:
    more(reed, "reed.txt", "put osd \u202e\x9b\n")
    for form in ("text", "markdown", "json"):
        out = call("dialect", "coverage", "reed.toml", "reed.txt", "--as", form).out
        assert "\u202e" not in out
        assert "\x9b" not in out


def test_colour(call: Call, reed: Path) -> None:
    more(reed, "reed.txt", "put osd 1\n")
    assert "\x1b[" in call("dialect", "coverage", "reed.toml", "reed.txt", "--colour", "always").out


def test_a_dialect_that_there_is_not(call: Call, reed: Path) -> None:
    done = call("dialect", "coverage", "plian", "reed.txt")
    assert (done.code, done.out) == (2, "")
    assert done.err == (
        "cfglint: there is no dialect `plian`, and no file of that name; did you mean `plain`?\n"
    )
