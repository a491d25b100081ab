"""``cfglint teach --before … --after …`` from the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

import pytest

from cfglint.dialect import Dialect, load_dialect
from cfglint.dialect.load import bundled_bytes
from cfglint.dump.source import Source
from cfglint.report.teach_update import CAUTION

from .conftest import Call
from .test_updates import NEW, OLD, REED, SAME, UPDATES

BEFORE = OLD + SAME + "pin magnets = 12\npin gyro_band = 120\npin loss_wait = 0.2\n"
AFTER = NEW + SAME + "pin magnets_main = 12\npin loss_wait = 2\npin quiver = 3\n"
PAIR = ("--before", "old.txt", "--after", "new.txt")
OWN = (*PAIR, "--dialect", "own.toml")


@pytest.fixture
def pair(reed: Path) -> Path:
    """Two dumps and the dialect of the first, in the current folder."""
    (reed / "old.txt").write_text(BEFORE, encoding="utf-8")
    (reed / "new.txt").write_text(AFTER, encoding="utf-8")
    (reed / "own.toml").write_text(REED, encoding="utf-8")
    return reed


def test_the_block_is_printed_to_be_pasted(call: Call, pair: Path) -> None:
    ended = call(*OWN)
    assert ended.code == 1
    assert (pair / "own.toml").read_text() == REED, "a person's file is never changed"
    pasted = load_dialect("own.toml", f"{REED}\n{ended.out}".encode())
    (row,) = pasted.data["changes"]
    assert row["rename"] == {"magnets": "magnets_main"}
    assert row["kept"] == ["pin quiver"]
    assert row["map"] == {"failsafe.delay_s": {"sure": False}}
    assert '# map: "failsafe.delay_s" = { scale = 0.1 }' in ended.out
    assert ended.err == (
        "cfglint: 4 rows drafted, 1 not live, 1 question for you, 3 differences left\n"
    )


def test_a_new_file_is_written(call: Call, pair: Path) -> None:
    ended = call(*OWN, "-o", "new.toml")
    assert (ended.code, ended.err) == (1, "")
    assert (pair / "own.toml").read_text() == REED
    text = (pair / "new.toml").read_text()
    assert text.startswith(REED.rstrip())
    assert load_dialect("new.toml", text.encode()).data["changes"][0]["at"] == "2.1"
    again = call(*OWN, "-o", "new.toml")
    assert again == ended, "an untouched draft may be drafted anew"


def test_the_report(call: Call, pair: Path) -> None:
    ended = call(*OWN, "-o", "new.toml")
    assert ended.out.startswith(
        "new.toml: what changed from 2.0 to 2.1\ndialect: own.toml\n\n# What changed from 2.0"
    )
    assert "0 lines of the dumps after without a meaning, 2 without the rows\n" in ended.out
    assert "#   changed: failsafe.delay_s: 0.2 s → 2 s\n" in ended.out
    assert "Yours to answer (with --sheet FILE):\n  value failsafe.delay_s: " in ended.out
    assert " ".join(CAUTION.split()[:5]) in ended.out
    assert ended.out.endswith(
        "4 rows drafted, 1 not live, 1 question for you, 3 differences left\n"
    )
    assert max(map(len, ended.out.splitlines())) <= 100


def test_the_demos_pair_covers_more_versions_then(call: Call, pair: Path) -> None:
    for name in ("old", "new"):
        word = "before" if name == "old" else "after"
        data = (UPDATES / f"egret-{word}.dump.txt").read_bytes()
        (pair / f"{name}.txt").write_bytes(data)
    text = bundled_bytes("blocks").decode().partition("[[changes]]")[0].replace('<6.4"', '<6"')
    (pair / "own.toml").write_text(text, encoding="utf-8")
    assert call(*OWN, "-o", "new.toml").code == 1
    assert 'versions = ">=5.6,<=6.3"' in (pair / "new.toml").read_text()


def test_one_sheet_asks_and_takes_answers(call: Call, pair: Path) -> None:
    first = call(*OWN, "-o", "new.toml", "--sheet", "open.txt")
    sheet = (pair / "open.txt").read_text()
    assert "Yours to answer (in open.txt):" in first.out
    assert sheet.endswith("value failsafe.delay_s =\n")
    (pair / "open.txt").write_text(f"{sheet.rstrip()} 0.2 s\n", encoding="utf-8")
    second = call(*OWN, "-o", "new.toml", "--sheet", "open.txt")
    (row,) = load_dialect("new.toml", (pair / "new.toml").read_bytes()).data["changes"]
    assert row["map"] == {"failsafe.delay_s": {"scale": 0.1}}
    assert "0 questions for you" in second.out
    assert "value failsafe.delay_s = 0.2 s" in (pair / "open.txt").read_text(), "it is kept"
    assert call(*OWN, "-o", "new.toml", "--sheet", "open.txt") == second
    (pair / "open.txt").write_text("# well\nwhat is this?\n", encoding="utf-8")
    wrong = call(*OWN, "-o", "new.toml", "--sheet", "open.txt")
    assert (wrong.code, wrong.out) == (2, "")
    assert wrong.err.startswith("cfglint: open.txt:2:1: `what is this?` is no question")


def test_nothing_changed(call: Call, pair: Path) -> None:
    (pair / "new.txt").write_text(BEFORE.replace("2.0", "2.1"), encoding="utf-8")
    ended = call(*OWN, "-o", "new.toml")
    assert ended.code == 0
    assert "0 rows drafted" in ended.out
    assert "without a meaning" not in ended.out


def test_json(call: Call, pair: Path) -> None:
    ended = call(*OWN, "--as", "json")
    told = json.loads(ended.out)
    assert (ended.code, ended.err, told["at"], told["dialect"]) == (1, "", "2.1", "own.toml")
    assert list(told["open"]) == ["value failsafe.delay_s"]
    assert [row["now"] for row in told["rows"] if row["kind"] == "rename"] == ["magnets_main"]
    assert told["unread"] == {"without": 2, "with": 0}
    places = [one["after"] or one["before"] for one in told["differs"]]
    assert {"file": "new.txt", "line": 7, "column": 1} in places


# ------------------------------------------------------------------ without a dialect


def test_the_dialect_is_drafted_too(
    call: Call, pair: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Drafted(NamedTuple):
        text: str
        dialect: Dialect

    def whole(sources: list[Source], name: str) -> Drafted:
        return Drafted(REED, load_dialect("the draft", REED.encode()))

    monkeypatch.setattr("cfglint.teach.whole.whole", whole)
    ended = call(*PAIR, "-o", "mine.toml")
    assert ended.code == 1
    assert "dialect: drafted from the dumps before\n" in ended.out
    made = load_dialect("mine.toml", (pair / "mine.toml").read_bytes())
    (row,) = made.data["changes"]
    assert row["rename"] == {"magnets": "magnets_main"}
    printed = call(*PAIR)
    assert printed.code == 1
    assert load_dialect("mine.toml", printed.out.encode()).data["changes"] == [row]


# ------------------------------------------------------------------ wrong use


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--before", "old.txt"), "no dump from after the update is named; write"),
        (("--after", "new.txt"), "no dump from before the update is named; write"),
        (("--dialect", "own.toml"), "no dump from before the update is named; write"),
        (("old.txt", *PAIR), "`old.txt` is a sample, and an update has dumps before and after"),
        ((*PAIR, "--ask", "-o", "mine.toml"), "--ask is for a dialect, not for an update"),
        ((*OWN, "--name", "x"), "--name is for a dialect that is drafted"),
        ((*OWN, "--card", "x"), "--card is for a dialect, not for an update"),
        ((*OWN, "-o", "own.toml"), "own.toml: this file is yours, and is never written over"),
        ((*OWN, "--at", "1.0"), "new.txt: the dump after is of version 1.0, the dump before"),
        ((*PAIR, "--dialect", "own"), "own: "),
    ],
)
def test_wrong_use(call: Call, pair: Path, words: tuple[str, ...], said: str) -> None:
    ended = call(*words)
    assert (ended.code in (2, 3), ended.out) == (True, "")
    assert ended.err.startswith(f"cfglint: {said}"), ended.err
    assert len(ended.err.splitlines()) == 1
    assert (pair / "own.toml").read_text() == REED


def test_a_file_that_has_these_changes_is_not_added_to(call: Call, pair: Path) -> None:
    more = f'{REED}\n[[changes]]\nat = "2.1"\nkept = ["a"]\n'
    (pair / "own.toml").write_text(more, encoding="utf-8")
    ended = call(*OWN, "-o", "new.toml")
    assert ended.code == 2
    assert "has changes of 2.1 already" in ended.err
    assert not (pair / "new.toml").exists()
    printed = call(*OWN)
    assert "has a row of 2.1 already" in printed.out


def test_what_is_odd_about_a_dump_is_said(call: Call, pair: Path) -> None:
    (pair / "new.txt").write_bytes(AFTER.replace("Teal", "Gr\xe4tz").encode("latin-1"))
    ended = call(*OWN)
    assert ended.err.startswith("cfglint: new.txt is no UTF-8 text")


def test_a_bundled_dialect_has_its_changes(call: Call, pair: Path) -> None:
    before, after = (UPDATES / f"egret-{name}.dump.txt" for name in ("before", "after"))
    ended = call("--before", before, "--after", after, "--dialect", "blocks")
    assert "[[changes]]" not in ended.out, "the bundled table tells all there is"
    assert ended.code == 1


def test_dumps_of_several_crafts(call: Call, pair: Path) -> None:
    for name, text in (("old", BEFORE), ("new", AFTER)):
        other = text.replace("Teal", "Coot").replace("wait = 0.2", "wait = 0.3")
        (pair / f"{name}-2.txt").write_text(other.replace("wait = 2", "wait = 3"), encoding="utf-8")
    both = ("--before", "old.txt", "old-2.txt", "--after", "new-2.txt", "new.txt")
    ended = call(*both, "--dialect", "own.toml", "--as", "json")
    rows = {(row["kind"], row["name"]): row for row in json.loads(ended.out)["rows"]}
    assert rows["rescale", "failsafe.delay_s"]["live"], "two values settle what one leaves open"
    ended = call(*both[:-1], "--dialect", "own.toml")
    assert ended.code == 1, "paired by the craft's name"
