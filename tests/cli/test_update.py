"""``compare``, ``carry`` and ``refused`` from the command line."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from markdown_it import MarkdownIt

from cfglint.cli import history
from cfglint.plugins import Host, Loaded, Plug
from cfglint.rule import Finding, rule

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from .conftest import Call

OLD = """\
-- board SLATE, firmware 7.9, full listing
let name-given be "Avocet"
let motor-signal be dshot300
let lost-link-action be stop
let lost-link-wait be 0.8
let gyro-slow be 3
stow
"""
NEW = """\
-- board SLATEX, firmware 7.10, full listing
let name-given be "Avocet"
let motor-signal be brushed
let lost-link-action be stop
let loss-wait be 0.8
stow
"""


@pytest.fixture
def pair(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in, with two dumps of one craft."""
    (tmp_path / "old.txt").write_text(OLD, encoding="utf-8")
    (tmp_path / "new.txt").write_text(NEW, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    return tmp_path


def checked(text: str, files: dict[str, str]) -> dict[str, Any]:
    """A SARIF log, held to the standard as the report's own tests do."""
    from ..report.sarif_checks import trouble
    from ..report.test_sarif import invalid

    log: dict[str, Any] = json.loads(text)
    assert invalid(log) == []
    assert trouble(log, files) == []
    run: dict[str, Any] = log["runs"][0]
    return run


# ---------------------------------------------------------------- compare


def test_compare(call: Call, pair: Path) -> None:
    done = call("compare", "old.txt", "new.txt")
    assert done.code == 1
    assert done.err == ""
    assert (
        done.out
        == """\
Avocet ── plain, firmware 7.9 → 7.10 ───────────────────────────────────────────
 before   old.txt
  after   new.txt
 update   The inversion flag now means: other than usual for this link.

 GROUND   back at default: motor.signal  new.txt:3:1
    was   dshot300 (line 3)
    now   brushed (line 3)
    why   With the wrong signal some motors may spin and one not.
  enter   let motor-signal be dshot300

 ADVISE   lost: gyro-slow  old.txt:6:1
    was   let gyro-slow be 3 (line 6)
    now   not set
    why   The filter went; nothing to enter.

Nothing to do ──────────────────────────────────────────────────────────────────
      1   changed: craft.firmware: 7.9 → 7.10 (the update itself)
      1   renamed: craft.board: SLATE → SLATEX (the board goes by a new name;
          look for updates under it)
      5   renamed: failsafe.delay_s: 0.8 s (`lost-link-wait` is `loss-wait` now;
          nothing to do)

To put it right, enter ─────────────────────────────────────────────────────────
let motor-signal be dshot300
stow

5 differences: 1 ground (do not fly), 1 advise (worth a look), 3 with nothing to
do; 3 the same
"""
    )


def test_compare_the_same(call: Call, pair: Path) -> None:
    done = call("compare", "old.txt", "old.txt", "--all")
    assert done.code == 0
    assert "no difference in meaning; 8 the same" in done.out
    assert "motor.signal: dshot300 (the same meaning)" in done.out
    assert "the same meaning" not in call("compare", "old.txt", "old.txt").out


def test_compare_as_json(call: Call, pair: Path) -> None:
    done = call("compare", "old.txt", "new.txt", "--as", "json")
    found = json.loads(done.out)
    assert done.code == 1
    assert found["before"]["firmware"] == "7.9"
    assert found["same"] == 3
    row = found["differences"][0]
    assert (row["kind"], row["name"], row["grade"], row["enter"]) == (
        "back at default", "motor.signal", "ground", "let motor-signal be dshot300",
    )  # fmt: skip
    assert row["after"] == {
        "file": "new.txt",
        "line": 3,
        "column": 1,
        "end_line": 3,
        "end_column": 28,
    }
    every = json.loads(call("compare", "old.txt", "new.txt", "--as", "json", "--all").out)
    assert len(every["differences"]) == len(found["differences"]) + found["same"]


def apply_fixes(run: dict[str, Any], text: str) -> str:
    """A dump with the fixes of a log applied, last first; as the standard tells (3.55 to 3.57)."""
    changes = []
    for result in run["results"]:
        for fix in result.get("fixes", []):
            for change in fix["artifactChanges"]:
                changes += change["replacements"]
    lines = text.split("\n")
    changes = [json.loads(one) for one in dict.fromkeys(json.dumps(one) for one in changes)]
    for change in sorted(changes, key=lambda one: -one["deletedRegion"]["startLine"]):
        region = change["deletedRegion"]
        row = region["startLine"] - 1
        start, end = region["startColumn"] - 1, region["endColumn"] - 1
        lines[row] = lines[row][:start] + change["insertedContent"]["text"] + lines[row][end:]
    return "\n".join(lines)


@pytest.mark.parametrize("end", ["stow\n", "", "-- end"])
def test_compare_as_sarif_and_the_fixes_put_it_right(call: Call, pair: Path, end: str) -> None:
    new = NEW.replace("stow\n", end).replace("let lost-link-action be stop\n", "")
    new = new if end else new.rstrip("\n")
    (pair / "new.txt").write_text(new, encoding="utf-8")
    done = call("compare", "old.txt", "new.txt", "--as", "sarif")
    run = checked(done.out, {"old.txt": OLD, "new.txt": new})
    failed = [row for row in run["results"] if row["kind"] == "fail"]
    assert [row["ruleId"] for row in failed] == [
        "update/lost", "update/lost", "update/back-at-default",
    ]  # fmt: skip
    assert run["invocations"][0]["exitCode"] == done.code == 1
    (pair / "new.txt").write_text(apply_fixes(run, new), encoding="utf-8")
    again = call("compare", "old.txt", "new.txt")
    assert again.code == 0, again.out


def test_compare_as_markdown(call: Call, pair: Path) -> None:
    """Reference: markdown-it (CommonMark and GFM tables)."""
    nasty = "let gyro-a be `x` | <b> [a](b) *c* @all ``` \n"
    (pair / "new.txt").write_text(NEW.replace("stow\n", nasty), encoding="utf-8")
    done = call("compare", "old.txt", "new.txt", "--as", "markdown", "--all")
    tokens = MarkdownIt("commonmark").enable("table").parse(done.out)
    inline = [token for token in tokens if token.type == "inline"]
    kinds = {child.type for token in inline for child in token.children or []}
    assert kinds <= {"text", "code_inline", "strong_open", "strong_close", "softbreak"}
    rows = [token for token in tokens if token.type == "tr_open"]
    cells = [token for token in tokens if token.type in ("td_open", "th_open")]
    assert len(cells) == 5 * len(rows)
    assert [token.content for token in tokens if token.type == "fence"] == [
        "let motor-signal be dshot300\nstow\n"
    ]
    assert "@all" in "".join(
        child.content for token in inline for child in token.children or []
        if child.type == "code_inline"
    )  # fmt: skip
    assert "seems to be" not in done.out


def test_compare_says_what_is_odd(call: Call, pair: Path) -> None:
    (pair / "cut.txt").write_text(OLD[:60], encoding="utf-8")
    for form in ("text", "markdown", "json"):
        done = call("compare", "new.txt", "cut.txt", "--as", form)
        flat = " ".join(done.out.replace(">", "").replace("\\", "").split())
        assert "if that is not meant, swap the two" in flat
        assert "cut.txt seems to be cut off" in flat


def test_compare_different_craft(call: Call, pair: Path) -> None:
    (pair / "other.txt").write_text(NEW.replace("Avocet", "Dunlin"), encoding="utf-8")
    done = call("compare", "old.txt", "other.txt")
    assert done.code == 2
    assert "other.txt:2:19: these dumps are of different craft: one is of Avocet" in done.err
    assert "--different-craft" in done.err
    assert call("compare", "old.txt", "other.txt", "--different-craft").code == 1


def test_compare_wrong_use(call: Call, pair: Path) -> None:
    for words, says in (
        (("old.txt",), "two dumps are needed to compare, and there is one named"),
        (("old.txt", "new.txt", "old.txt"), "there are 3 named"),
        (("old.txt", "new.txt", "--at", "HEAD"), "with --at one file is named"),
        (("old.txt", "none.txt"), "none.txt: this file is not there"),
        (("old.txt", "."), "this is a folder"),
    ):
        done = call("compare", *words)
        assert done.code in (2, 3)
        assert says in done.err
        assert done.out == ""


@pytest.mark.parametrize("version", ["9.9", "next"])
def test_a_version_that_nobody_covers(call: Call, pair: Path, version: str) -> None:
    (pair / "new.txt").write_text(NEW.replace("7.10", version), encoding="utf-8")
    for words in (
        ("compare", "old.txt", "new.txt"),
        ("carry", "new.txt", "--to", "7.10"),
        ("refused", "new.txt"),
    ):
        done = call(*words)
        assert done.code == 2
        assert done.out == ""
        assert done.err.startswith("cfglint: new.txt:1:27: the ")
        assert version in done.err
        assert "it covers >=7.9,<8" in done.err


def test_compare_dialects(call: Call, pair: Path) -> None:
    (pair / "b.txt").write_text("drive {\n  talk: digital-300\n}\n", encoding="utf-8")
    done = call("compare", "old.txt", "b.txt", "--before-dialect", "plain", "--dialect", "blocks")
    assert "plain 7.9 → blocks ?" in done.out
    assert "changed: motor.signal" not in done.out


def test_nothing_in_a_dump_steers_the_terminal(call: Call, pair: Path) -> None:
    evil = NEW + "let gyro-a be \x1b[31m\u202e\n".replace("\x1b", "\u009b")
    (pair / "new.txt").write_text(evil, encoding="utf-8")
    for form in ("text", "markdown", "json", "sarif"):
        out = call("compare", "old.txt", "new.txt", "--as", form).out
        assert "\u009b" not in out
        assert "\u202e" not in out


# ---------------------------------------------------------------- history


@pytest.fixture
def repository(pair: Path) -> Path:
    """The same, with the old dump committed as craft.txt and the new one on top of it."""
    home = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull, **os.environ}

    def git(*words: str) -> None:
        subprocess.run(["git", *words], check=True, capture_output=True, env=home)

    (pair / "sub").mkdir()
    (pair / "sub" / "craft.txt").write_text(OLD, encoding="utf-8")
    git("init", "-q", "-b", "main")
    git("add", "sub")
    who = ("-c", "user.name=Club", "-c", "user.email=club@example.org")
    git(*who, "commit", "-q", "-m", "Before the update")
    (pair / "sub" / "craft.txt").write_text(NEW, encoding="utf-8")
    return pair


def test_compare_at(call: Call, repository: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done = call("compare", "--at", "HEAD", "sub/craft.txt")
    assert done.code == 1
    assert "before   HEAD:sub/craft.txt" in done.out
    assert "back at default: motor.signal  sub/craft.txt:3:1" in done.out
    sarif = call("compare", "--at", "HEAD", "sub/craft.txt", "--as", "sarif")
    checked(sarif.out, {"sub/craft.txt": NEW, "HEAD:sub/craft.txt": OLD})
    monkeypatch.chdir(repository / "sub")
    assert call("compare", "--at", "main", "craft.txt").code == 1


def test_compare_at_what_is_not_there(
    call: Call, repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for words, code, says in (
        (("nowhere", "sub/craft.txt"), 2, "the repository has no revision `nowhere`"),
        (("--output=x", "sub/craft.txt"), 2, "no revision"),
        (("", "sub/craft.txt"), 2, "no revision"),
        (("HEAD", "old.txt"), 3, "this file was not there at `HEAD`"),
        (("HEAD", "none/craft.txt"), 3, "there is no such folder"),
    ):
        done = call("compare", f"--at={words[0]}", words[1])
        assert done.code == code
        assert says in done.err
    assert not (repository / "x").exists()
    monkeypatch.setenv("PATH", "")
    assert "Git, which is not installed" in call("compare", "--at", "HEAD", "sub/craft.txt").err


def test_compare_at_outside_a_repository(call: Call, pair: Path) -> None:
    done = call("compare", "--at", "HEAD", "old.txt")
    assert done.code == 2
    assert "not in a Git repository" in done.err


def test_git_that_hangs(call: Call, pair: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def hang(*_: object, **__: object) -> None:
        raise subprocess.TimeoutExpired("git", history.PATIENCE)

    monkeypatch.setattr(subprocess, "run", hang)
    assert "Git could not be run" in call("compare", "--at", "HEAD", "old.txt").err


# ---------------------------------------------------------------- carry


def test_carry(call: Call, pair: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded((), ()))
    done = call("carry", "old.txt", "--to", "7.10", "--batch", "3")
    assert done.code == 0
    assert (
        done.out
        == """\
Avocet ── old.txt ── plain 7.9 → plain 7.10 ────────────────────────────────────
 update   The inversion flag now means: other than usual for this link.
      4   carried as it is
      2   carried under a new name
      1   left out, since the target no longer has it
      7   statements in all

Changed on the way ─────────────────────────────────────────────────────────────
      1   -- board SLATE, firmware 7.9, full listing → -- board SLATEX, firmware
          7.10, changes only: the board is called SLATEX now
      5   let lost-link-wait be 0.8 → let loss-wait be 0.8: `lost-link-wait` is
          `loss-wait` now
      6   let gyro-slow be 3: the filter went; nothing to enter

To paste ── into a controller that is at its defaults ──────────────────────────
-- batch 1 of 2
-- board SLATEX, firmware 7.10, changes only
let name-given be "Avocet"
let motor-signal be dshot300

-- batch 2 of 2
let lost-link-action be stop
let loss-wait be 0.8
stow

7 statements → 6 lines; nothing to do by hand; no rule newly broken
"""
    )


HAND = OLD.replace("stow", "let motr be 3\nlet receiver-flip be yes\nchannel 3 spans 990 x 2010")


def test_carry_with_a_hand_list(call: Call, pair: Path) -> None:
    text = HAND.replace("full listing", "changes only").replace("let receiver-flip be yes\n", "")
    (pair / "old.txt").write_text(text.rstrip("\n"), encoding="utf-8")
    done = call("carry", "old.txt", "--to", "7.10")
    flat = " ".join(done.out.split())
    assert done.code == 1
    assert "By hand" in flat
    assert "let motr be 3: its meaning is not known here" in flat
    assert "default receiver.inverted, no until now by default: whether the flag says" in flat
    assert "Said for the first time ── the target's default is another ─" in flat
    assert "motor.idle_percent" in flat
    assert "The dump seems to be cut off" in flat
    assert "3 things to do by hand" in flat
    found = json.loads(call("carry", "old.txt", "--to", "7.10", "--as", "json").out)
    assert found["statements"] == sum(found["counts"].values()) == len(found["moved"])
    assert [row["name"] for row in found["unsaid"]] == ["receiver.inverted"]
    assert "default" in call("carry", "old.txt", "--to", "7.10", "--as", "markdown").out
    log = checked(
        call("carry", "old.txt", "--to", "7.10", "--as", "sarif").out,
        {"old.txt": text.rstrip("\n")},
    )
    assert [row["ruleId"] for row in log["results"] if row["kind"] == "fail"] == [
        "carry/by-hand", "carry/by-hand", "carry/unsaid-default",
    ]  # fmt: skip


def test_carry_to_a_file(call: Call, pair: Path) -> None:
    done = call("carry", "old.txt", "--to", "7.10", "-o", "out.txt")
    assert done.code == 0
    assert "written   out.txt" in done.out
    assert "To paste" not in done.out
    text = (pair / "out.txt").read_text(encoding="utf-8")
    assert text.endswith("let loss-wait be 0.8\nstow\n")
    done = call("carry", "old.txt", "--to", "7.9", "-o", "out.txt")
    assert done.code == 2
    assert "out.txt: this file is there already and was left as it is" in done.err
    assert (pair / "out.txt").read_text(encoding="utf-8") == text
    assert call("carry", "old.txt", "--to", "7.9", "-o", "out.txt", "--force").code == 0
    assert (pair / "out.txt").read_text(encoding="utf-8") != text
    assert "cannot be written" in call("carry", "old.txt", "--to", "7.9", "-o", "no/out").err
    before = (pair / "old.txt").read_bytes()
    (pair / "link.txt").symlink_to("old.txt")
    for same in ("old.txt", "./old.txt", "link.txt"):
        done = call("carry", "old.txt", "--to", "7.9", "-o", same, "--force")
        assert done.code == 2
        assert "this is the dump that is carried" in done.err
        assert (pair / "old.txt").read_bytes() == before


def test_carry_reads_back_as_the_same_craft(call: Call, pair: Path) -> None:
    call("carry", "old.txt", "--to", "blocks", "-o", "out.txt")
    done = call("compare", "old.txt", "out.txt", "--as", "json")
    graded = [
        row for row in json.loads(done.out)["differences"] if row["grade"] in ("ground", "fix")
    ]
    assert graded == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--to", "9"), "says nothing of version 9; its file covers >=7.9,<8"),
        (("--to", "plane"), "did you mean `plain`?"),
        (("--to", "7.10", "--from", "x"), "cannot be placed"),
        (("--to", "7.10", "--batch", "0"), "is no number of lines"),
        ((), "--to"),
    ],
)
def test_carry_wrong_use(call: Call, pair: Path, words: tuple[str, ...], says: str) -> None:
    done = call("carry", "old.txt", *words)
    assert done.code == 2
    assert says in done.err


def test_carry_a_dump_without_a_version(call: Call, pair: Path) -> None:
    (pair / "old.txt").write_text(OLD.partition("\n")[2], encoding="utf-8")
    done = call("carry", "old.txt", "--to", "7.10")
    assert done.code == 2
    assert "does not say its firmware version" in done.err
    done = call("carry", "old.txt", "--to", "7.10", "--from", "7.9")
    assert done.code == 0
    assert "Not clean" not in done.out


def with_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    @rule("own/hears", grade="ground", title="Old board", why="w", source="common practice")
    def hears(craft, options):  # type: ignore[no-untyped-def]
        if craft.need("craft.firmware").value == "7.10":
            yield Finding(craft.whole, "deaf on 7.10", instead="stay on 7.9")

    @rule("own/crash", grade="fix", title="t", why="w", source="common practice")
    def crash(craft, options):  # type: ignore[no-untyped-def]
        raise RuntimeError("oh")

    def load(own: Iterable[Plug] = ()) -> Loaded:
        return Loaded((hears, crash), Host(()).rules(own).problems)

    monkeypatch.setattr("cfglint.plugins.load_rules", load)


def test_a_carry_that_breaks_a_rule_is_not_called_clean(
    call: Call, pair: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_rules(monkeypatch)
    done = call("carry", "old.txt", "--to", "7.10")
    assert done.code == 3
    assert "Not clean ── rules that held before and do not hold now" in done.out
    assert " GROUND   own/hears" in done.out
    assert "instead   stay on 7.9" in done.out
    assert "crashed   own/crash failed" in done.out
    assert "1 rule newly broken" in done.out
    found = json.loads(call("carry", "old.txt", "--to", "7.10", "--as", "json").out)
    assert found["newly_broken"][0]["rule"] == "own/hears"
    assert found["crashed"] == ["own/crash"]
    text = call("carry", "old.txt", "--to", "7.10", "--as", "markdown").out
    assert "- not clean: **ground** `own/hears`: deaf on 7.10 stay on 7.9" in text
    assert "`own/crash` failed" in text
    log = checked(call("carry", "old.txt", "--to", "7.10", "--as", "sarif").out, {"old.txt": OLD})
    assert [row["ruleId"] for row in log["results"] if row["kind"] == "fail"] == ["own/hears"]
    assert call("carry", "old.txt", "--to", "7.9").code == 3


def test_carry_uses_the_hangar(call: Call, root: Path, tmp_path: Path) -> None:
    """Bittern's card and dialect come from the hangar; its firmware stays."""
    path = root / "fixtures" / "saltmarsh" / "dumps" / "bittern.dump.txt"
    done = call("carry", path, "--to", "7.10", "--as", "json")
    found = json.loads(done.out)
    assert found["newly_broken"] == []
    assert found["from"]["craft"] == "Bittern"


def test_carry_with_rules_of_ones_own(
    call: Call, pair: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_rules(monkeypatch)
    (pair / "broken.toml").write_text("[[", encoding="utf-8")
    done = call("carry", "old.txt", "--to", "7.9", "--rules", "broken.toml")
    assert done.code == 3
    assert "broken.toml:1:" in done.err
    assert "To paste" in done.out
    (pair / "cfglint.toml").write_text("[rules]\n'own/nothing' = 'off'\n", encoding="utf-8")
    done = call("carry", "old.txt", "--to", "7.9")
    assert done.code == 2
    assert "own/nothing" in done.err


def test_one_note_for_many_lines(call: Call, pair: Path) -> None:
    (pair / "old.txt").write_text(OLD + "let gyro-a be 1\nlet gyro-b be 2\n", encoding="utf-8")
    done = call("carry", "old.txt", "--to", "blocks")
    assert (
        """
      6   let gyro-slow be 3
      8   let gyro-a be 1
      9   let gyro-b be 2
    why   It has no neutral meaning, so only the firmware's makers can say.
"""
        in done.out
    )


def test_carry_names_the_craft_by_its_card(call: Call, pair: Path) -> None:
    (pair / "old.txt").write_text(OLD.replace('let name-given be "Avocet"\n', ""), "utf-8")
    (pair / "card.toml").write_text('craft = "Avocet"\n', encoding="utf-8")
    done = call("carry", "old.txt", "--to", "7.10", "--card", "card.toml")
    assert done.out.startswith("Avocet ── old.txt")


def test_markdown_of_a_carry_with_nothing_to_tell(call: Call, pair: Path) -> None:
    done = call("carry", "new.txt", "--to", "7.10", "--as", "markdown")
    assert "Changed on the way" not in done.out
    assert "By hand" not in done.out
    assert done.code == 0
    done = call("compare", "new.txt", "new.txt", "--as", "markdown")
    assert done.out == (
        "## Avocet: plain, firmware 7.10\n\nno difference in meaning; 7 the same.\n"
    )
    (pair / "more.txt").write_text(NEW + "let bell-magnet be 12\n", encoding="utf-8")
    done = call("compare", "new.txt", "more.txt", "--as", "markdown")
    assert "To put it right" not in done.out
    assert "Nothing to do" not in done.out


def test_what_is_nothing_but_half_a_character(call: Call, pair: Path) -> None:
    """A dump in UTF-16 may hold half a pair; it goes out as it came."""
    text = OLD.replace("let gyro-slow be 3", "let gyro-mood be \ud800")
    (pair / "old.txt").write_bytes(b"\xff\xfe" + text.encode("utf-16-le", "surrogatepass"))
    for form in ("text", "json", "markdown", "sarif"):
        assert call("carry", "old.txt", "--to", "7.10", "--as", form).code == 0
        assert call("compare", "old.txt", "new.txt", "--as", form).code == 1
    assert call("carry", "old.txt", "--to", "7.10", "-o", "out.txt").code == 0
    assert b"gyro-mood be \xed\xa0\x80\n" in (pair / "out.txt").read_bytes()


# ---------------------------------------------------------------- refused

LOG = """\
-- board SLATEX, firmware 7.10, full listing
>> let lost-link-wait be 0.8
!! not taken: no such word
>> let motor-signal be dshot900
!! not taken: cannot be
"""


def test_refused(call: Call, pair: Path) -> None:
    (pair / "log.txt").write_text(LOG, encoding="utf-8")
    done = call("refused", "log.txt")
    assert done.code == 1
    assert (
        done.out
        == """\
log.txt ── 2 refused lines ─────────────────────────────────────────────────────
    FIX   refused: renamed  log.txt:2:4
   line   let lost-link-wait be 0.8
   said   no such word
    why   `lost-link-wait` is called `loss-wait` in this firmware.
  enter   let loss-wait be 0.8

    FIX   refused: out of range  log.txt:4:4
   line   let motor-signal be dshot900
   said   cannot be
    why   `dshot900` cannot be here; what can: brushed, dshot150, dshot300,
          dshot600, dshot1200, multishot, oneshot42, oneshot125, servo-pwm.

2 lines refused; what to enter is known for 1
"""
    )
    found = json.loads(call("refused", "log.txt", "--as", "json").out)
    assert [row["why"] for row in found["refused"]] == [
        "renamed", "out of range",
    ]  # fmt: skip
    text = call("refused", "log.txt", "--as", "markdown").out
    assert "| 2 | `let lost-link-wait be 0.8` | renamed |" in text
    run = checked(call("refused", "log.txt", "--as", "sarif").out, {"log.txt": LOG})
    assert "let loss-wait be 0.8" in apply_fixes(run, LOG)


def test_nothing_refused_and_a_log_from_standard_input(
    call: Call, pair: Path, spawn: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    done = call("refused", "new.txt")
    assert (done.code, done.out.splitlines()[-1]) == (0, "no line was refused")
    assert call("refused", "new.txt", "--as", "markdown").out.endswith("no line was refused.\n")

    class Input:
        class buffer:  # noqa: N801
            @staticmethod
            def read(size: int = -1) -> bytes:
                return b"!! not taken: why\nlet lost-link-wait be 1\n!! not taken: no\n"

    monkeypatch.setattr("sys.stdin", Input)
    done = call("refused", "-", "--dialect", "plain", "--to", "7.10")
    assert done.code == 1
    assert "(standard input) ── 2 refused lines" in done.out
    assert "line   (none)" in done.out
    assert "`loss-wait`" in done.out
    done = call("refused", "-", "--dialect", "plain", "--as", "sarif")
    assert done.code == 1
    assert json.loads(done.out)["runs"][0]["results"][0]["kind"] == "fail"
