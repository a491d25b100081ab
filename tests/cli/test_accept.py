"""``cfglint accept``, and accepted findings in reports."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from cfglint.runner.accept_rules import RULES

from .conftest import Call, Ended
from .test_imports import imported

FAULTY = """\
-- board SLATE, firmware 7.9, full listing
let name-given be "Avocet"
let motor-signal be brushed
let least-spin be 5.3
let least-spin be 5.6
"""
CONFIG = '[[dumps]]\nfiles = "*.dump.txt"\ndialect = "plain"\n'
DECISION = ("--reason", "as found", "--by", "Ines")
LATER = ("--until", "2027-03-31")


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("accept", "accept_run"):
        monkeypatch.setattr(f"cfglint.runner.{module}.today", lambda: "2026-11-25")


@pytest.fixture
def hangar(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cfglint.toml").write_text(CONFIG, encoding="utf-8")
    (tmp_path / "avocet.dump.txt").write_text(FAULTY, encoding="utf-8")
    return tmp_path


def test_all_now_then_nothing_counts_then_prune(hangar: Path, call: Call) -> None:
    found = json.loads(call("lint", hangar, "--as", "sarif", "--profile", "hosted").out)
    count = len(found["runs"][0]["results"])
    assert count > 3
    done = call("accept", hangar, "--all-now", *DECISION, *LATER)
    assert done == Ended(0, f"accepted.toml: {count} findings accepted until 2027-03-31\n", "")
    text = (hangar / "accepted.toml").read_text(encoding="utf-8")
    assert text.startswith("# Findings that were accepted all at once")
    assert text.count("[[accept]]") == count

    after = call("lint", hangar, "--show-accepted")
    assert after.code == 0
    assert f"{count} accepted" in after.out
    assert "as found (Ines, until 2027-03-31)" in after.out
    assert "as found" not in call("lint", hangar).out
    assert call("accept", hangar, "--all-now", *DECISION).out == "nothing to accept\n"

    # An unrelated edit moves nothing; a new fault counts; one put right goes stale loudly.
    dump = hangar / "avocet.dump.txt"
    dump.write_text(FAULTY.replace("let motor-signal", "\n-- new\nlet motor-signal"))
    assert call("lint", hangar).code == 0
    dump.write_text(FAULTY + "let least-spin be 5.7\n", encoding="utf-8")
    assert call("lint", hangar).code == 1
    done = call("accept", hangar, "--all-now", "--only", "dump", *DECISION)
    assert done.out == "accepted.toml: 1 finding accepted\n"
    assert call("lint", hangar).code == 0
    dump.write_text(FAULTY, encoding="utf-8")
    stale = call("lint", hangar)
    assert stale.code == 1
    assert "accept/matches-nothing  accepted.toml:" in stale.out
    done = call("accept", hangar, "--prune")
    assert done.code == 0
    assert done.out == (
        "accepted.toml: taken out: dump/set-twice of avocet.dump.txt\n"
        f"accepted.toml: 1 taken out, {count} kept\n"
    )
    assert (hangar / "accepted.toml").read_text(encoding="utf-8") == text
    assert call("lint", hangar).code == 0


def test_what_is_past_its_date_is_pruned(
    hangar: Path, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("accept", hangar, "--all-now", *DECISION, *LATER)
    for module in ("accept", "accept_run"):
        monkeypatch.setattr(f"cfglint.runner.{module}.today", lambda: "2027-04-01")
    assert "accept/out-of-date" in call("lint", hangar).out
    assert call("accept", hangar, "--prune").out.endswith(" taken out, 0 kept\n")
    assert "accept/" not in call("lint", hangar).out


def test_prune_tells_what_stands_elsewhere(hangar: Path, call: Call) -> None:
    note = "-- cfglint: accept motor/never because x, by I\n"
    note += "-- cfglint: accept dump/set-twice because x, by I\n"
    (hangar / "avocet.dump.txt").write_text(FAULTY.replace("let name", note + "let name"))
    done = call("accept", hangar / "avocet.dump.txt", "--prune")
    assert done.out == (
        "avocet.dump.txt:3:4: this accept fits no finding; take it out by hand\n"
        "there is no accepted.toml, so nothing to prune there\n"
    )


def test_what_is_never_accepted(hangar: Path, call: Call) -> None:
    note = "-- cfglint: accept motor/never because x, by I\n"
    (hangar / "avocet.dump.txt").write_text(FAULTY + "5 hm\n" + note, encoding="utf-8")
    done = call("accept", hangar, "--all-now", *DECISION, *LATER)
    assert done.out.startswith(
        "left as it is: avocet.dump.txt:6:1: dump/unreadable-line\n"
        "left as it is: avocet.dump.txt:7:4: accept/unknown-rule\n"
    )
    assert call("lint", hangar).code == 1


def test_ground_needs_a_date(hangar: Path, call: Call) -> None:
    done = call("accept", hangar, "--all-now", *DECISION)
    assert done.code == 2
    assert "of grade `ground`, and such are accepted up to a date only" in done.err
    assert not (hangar / "accepted.toml").exists()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "say what to do; give `--all-now` or `--prune`"),
        (("--all-now", "--prune"), "say what to do"),
        (("--prune", "--by", "Ines"), "`--prune` goes with paths and --config alone"),
        (("--all-now",), "`--reason` is not given"),
        (("--all-now", "--reason", "x", "--by", " "), "`--by` is not given"),
        (("--all-now", "--reason", "\u200b", "--by", "x"), "`--reason` is not given"),
        (("--all-now", *DECISION, "--until", "soon"), "--until: `soon` is no date"),
        (("--all-now", *DECISION, "--until", "2026-11-24"), "--until: 2026-11-24 is past"),
    ],
)
def test_wrong_use(hangar: Path, call: Call, words: tuple[str, ...], message: str) -> None:
    done = call("accept", hangar, *words)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("cfglint: " + message)


def test_no_hangar(dump: Path, call: Call, hangar: Path) -> None:
    (hangar / "cfglint.toml").unlink()
    done = call("accept", dump, "--all-now", *DECISION)
    assert done.code == 2
    assert "there is no hangar at" in done.err


def test_troubles_are_told(hangar: Path, call: Call) -> None:
    (hangar / "egret.dump.txt").write_bytes(b"")
    done = call("accept", hangar, "--all-now", *DECISION, *LATER)
    assert done.code == 3
    assert "findings accepted" in done.out
    assert "egret.dump.txt: this file is empty" in done.err


def test_in_sarif(hangar: Path, call: Call) -> None:
    rule = "dump/set-twice"
    note = f"-- cfglint: accept {rule} because x, by Ines, until 2027-01-01\n"
    (hangar / "avocet.dump.txt").write_text(
        FAULTY.replace("let least-spin be 5.6", note + "let least-spin be 5.6")
    )
    log = json.loads(call("lint", hangar, "--as", "sarif", "--only", rule).out)
    (result,) = log["runs"][0]["results"]
    (suppression,) = result["suppressions"]
    assert suppression["kind"] == "inSource"
    assert suppression["justification"] == "x"
    assert suppression["properties"] == {"by": "Ines", "until": "2027-01-01"}
    (hangar / "avocet.dump.txt").write_text(FAULTY, encoding="utf-8")
    call("accept", hangar, "--all-now", *DECISION, *LATER)
    log = json.loads(call("lint", hangar, "--as", "sarif", "--only", rule).out)
    (result,) = log["runs"][0]["results"]
    assert result["suppressions"][0]["kind"] == "external"


def test_the_engines_rules_have_pages(call: Call) -> None:
    for rule in RULES:
        done = call("why", rule.id)
        assert (done.code, done.err) == (0, "")
        assert done.out.startswith(rule.id)
    assert call("why", "accept/nothing").code == 2


def test_what_a_fleet_rule_finds(root: Path, tmp_path: Path, call: Call) -> None:
    home = tmp_path / "club"
    shutil.copytree(root / "fixtures/saltmarsh", home)
    log = json.loads(call("lint", home, "--as", "sarif", "--only", "fleet").out)
    found = [row for row in log["runs"][0]["results"] if row["kind"] == "fail"]
    if not found:  # make one: a craft that differs in what all others agree on
        dump = home / "dumps/avocet.dump.txt"
        text = dump.read_text(encoding="utf-8")
        dump.write_text(text.replace("channel 5 in", "channel 9 in", 1), encoding="utf-8")
        log = json.loads(call("lint", home, "--as", "sarif", "--only", "fleet").out)
        found = [row for row in log["runs"][0]["results"] if row["kind"] == "fail"]
    assert found
    done = call("accept", home, "--all-now", "--only", "fleet", *DECISION, *LATER)
    assert done.code == 0
    assert f"{len(found)} finding" in done.out
    done = call("lint", home, "--only", "fleet")
    assert (done.code, "accept/" in done.out) == (0, False)


def test_nothing_is_imported_without_an_accept(hangar: Path) -> None:
    modules = imported("lint", hangar / "avocet.dump.txt", "--as", "sarif", "--floor", "ground")
    assert not [name for name in modules if "accept" in name]
