"""The one file of answers: the sheet, filled in with an editor or by ``--ask``."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from cfglint.cli.teach_sheet import of_change
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.teach.sheet import parse
from cfglint.teach.whole import whole

from .conftest import SAMPLE

if TYPE_CHECKING:
    from .conftest import Call, Ended

OUT = ("reed.txt", "-o", "mine.toml")
ASK = (*OUT, "--ask")
SHEET = Path("mine.sheet.txt")


def kept() -> dict[str, str]:
    answers, wrong = parse(SHEET.read_text(encoding="utf-8")) if SHEET.exists() else ({}, [])
    assert not wrong
    return answers


def fill(key: str, answer: str) -> None:
    text = SHEET.read_text(encoding="utf-8")
    assert text.count(f"\n{key} =\n") == 1
    SHEET.write_text(text.replace(f"\n{key} =\n", f"\n{key} = {answer}\n"), encoding="utf-8")


def hears(*ends: str, text: str = SAMPLE, **said: str) -> str:
    """What is typed: lines for some settings or words, Enter for what is asked before them."""
    asked = [
        one.subject.replace(".", "_")
        for one in whole([Source.from_text("reed.txt", text)], "mine").open
    ]
    last = max(asked.index(name) for name in said)
    lines = [said.get(name, "") for name in asked[: last + 1]]
    return "".join(f"{line}\n" for line in (*lines, *ends))


def put(ended: Ended) -> list[str]:
    """What was asked about, in order."""
    rows = [line for line in ended.out.split("\n") if " open ──" in line]
    return [line.split(" ── ")[0] for line in rows]


# ------------------------------------------------------------------ with an editor


def test_the_sheet_is_filled_in_and_the_command_given_once_more(call: Call, reed: Path) -> None:
    call(*OUT)
    assert kept() == {}
    fill("word mode go", "arm")
    fill("values several", "motor.idle_percent = 4.7")
    fill("finds battery", "battery.cells = -")
    ended = call(*OUT)
    assert (ended.code, ended.err) == (1, "")
    assert "answers   3 answers from mine.sheet.txt\n" in ended.out
    assert "Unsure ── 2 mappings" in ended.out
    draft = Path("mine.toml").read_text(encoding="utf-8")
    assert '"motor.idle_percent" = { at = "put idle", scale = 0.1 }' in draft
    assert "unsure = " not in draft
    assert {"word mode go": "arm", "value motor.idle_percent": "4.7"}.items() <= kept().items()
    assert call(*OUT).out == ended.out, "and the same again"


def test_a_place_gives_a_mapping(call: Call, reed: Path) -> None:
    call(*OUT)
    fill("finds several", "craft.name = 2: Avocet")
    ended = call(*OUT)
    assert "craft.name" in ended.out.partition("sure")[2].partition("Unsure")[0]
    assert '"craft.name" = "put nick"' in Path("mine.toml").read_text(encoding="utf-8")


def test_everything_answered_ends_with_0(call: Call, reed: Path) -> None:
    known = {"word": "arm", "value": "ok", "find": "-", "rows": "ok"}
    source = [Source.from_text("reed.txt", SAMPLE)]
    answers: dict[str, str] = {}
    while left := whole(source, "mine", answers=answers).open:
        answers |= {one.key: known[one.kind] for one in left if one.key not in answers}
        assert len(answers) < 99, left
    SHEET.write_text("".join(f"{key} = {said}\n" for key, said in answers.items()), "utf-8")
    ended = call(*OUT)
    assert ended.code == 0, ended.out
    assert "Unsure" not in ended.out
    assert "--ask" not in ended.out
    assert ended.out.endswith("; no questions open\n")
    assert call(*ASK).out.startswith("There is nothing to ask.\n")


def test_a_sheet_of_ones_own_and_one_without_a_draft(call: Call, reed: Path) -> None:
    ended = call(*OUT, "--sheet", "club.txt")
    assert Path("club.txt").exists()
    assert not SHEET.exists()
    assert "-o mine.toml --sheet club.txt` once more" in " ".join(ended.out.split())
    Path("club.txt").unlink()
    assert call("reed.txt", "--sheet", "club.txt").code == 1
    assert Path("club.txt").read_text(encoding="utf-8").startswith("# What the samples")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("word mode go = armm\n", ":1:16: `armm` is not a word for mode; did you mean `arm`?"),
        ("\nvalue log.on = perhaps\n", ":2:16: `perhaps` is neither yes nor no; write `yes`"),
        ("value motor.poles = many\n", ":1:21: `many` is no number; write one, in poles"),
        ("value motor.signal = dshot30\n", ":1:22: `dshot30` is not a word for motor.signal"),
        ("value motor.pole = 3\n", ":1:20: there is no setting `motor.pole`; did you mean `mo"),
        ("find log.on = yes\n", ":1:15: `yes` names no place; write a line's number and the"),
        ("find log.on = 4: yes\n", ":1:15: line 4 of reed.txt does not hold `yes`; there stands"),
        ("find log.on = 99: yes\n", ":1:15: line 99 of reed.txt does not hold `yes`; there stands"),
        ("what is it\n", ":1:1: `what is it` is no question of a sheet; write answers behind the"),
        ("words mode = go\n", ":1:1: `words mode = go` is no question of a sheet"),
    ],
)
def test_wrong_answers_have_places(call: Call, reed: Path, text: str, message: str) -> None:
    SHEET.write_text(text, encoding="utf-8")
    ended = call(*OUT)
    assert (ended.code, ended.out) == (2, "")
    assert f"cfglint: mine.sheet.txt{message}" in ended.err
    assert ended.err.count("\n") == 1
    assert SHEET.read_text(encoding="utf-8") == text
    assert not Path("mine.toml").exists()


def test_each_wrong_answer_is_told(call: Call, reed: Path) -> None:
    SHEET.write_text("words mode = go = armm, flip = lights\nvalue motor.poles = x\n", "utf-8")
    ended = call(*OUT)
    assert [line.split(":")[2:4] for line in ended.err.splitlines()] == [["1", "19"], ["2", "21"]]


def test_what_is_no_sheet_is_not_written_over(call: Call, reed: Path) -> None:
    for data in (b"# my notes\n", SAMPLE.encode(), "für".encode("latin-1"), b"\0\0"):
        SHEET.write_bytes(data)
        ended = call(*OUT)
        assert (ended.code, ended.out) == (2, "")
        assert ended.err.startswith("cfglint: mine.sheet.txt:")
        assert SHEET.read_bytes() == data


def test_an_answer_that_contradicts_is_asked_again(call: Call, reed: Path) -> None:
    call(*OUT)
    fill("values several", "motor.idle_percent = 31.337")
    ended = call(*OUT)
    assert "motor.idle_percent: what was answered contradicts the samples" in ended.out
    assert "motor.idle_percent 4.7%" in ended.out.partition("Unsure")[2]
    assert ended.code == 1


# ------------------------------------------------------------------ asked one by one


def test_each_answer_is_kept_at_once(call: Call, reed: Path) -> None:
    typed = hears("stop", go="arm", battery_empty_v="?\nnonsense\n3.31")
    ended = call(*ASK, hears=typed)
    assert (ended.code, ended.err) == (1, "")
    assert " questions are open. Enter leaves one for another time, `?`" in ended.out
    order = [one.subject for one in whole([Source.from_text("reed.txt", SAMPLE)], "mine").open]
    assert [name.strip("`") for name in put(ended)][:2] == order[:2], "what does most harm first"
    assert "  noted   arm\n" in ended.out
    assert "  write   the true value, in V, `ok` if it is read rightly, or `-` if no line" in (
        ended.out
    )
    assert "    but   `nonsense` is no number; write one, in V\n" in ended.out
    assert kept() == {"word mode go": "arm", "value battery.empty_v": "3.31"}
    told = " ".join(ended.out.split())
    assert "2 answers are kept in mine.sheet.txt; the same command goes on from there." in told
    assert max(map(len, ended.out.split("\n"))) <= 80
    again = call(*ASK, hears="stop\n")
    assert "`go`" not in put(again)


def test_what_contradicts_the_samples_is_not_kept(call: Call, reed: Path) -> None:
    ended = call(*ASK, hears=hears("stop", motor_idle_percent="31.337\n4.7"))
    assert "`31.337` contradicts the samples" in ended.out
    assert kept() == {"value motor.idle_percent": "4.7"}


def test_what_is_left_is_not_asked_twice(call: Call, reed: Path) -> None:
    ended = call(*ASK, hears="\n" * 90)
    assert len(put(ended)) == len(set(put(ended))) > 20
    assert kept() == {}
    assert "0 answers are kept in mine.sheet.txt" in ended.out


class Stops(io.StringIO):
    """Breaks off where nothing more is typed."""

    def readline(self, size: int | None = -1) -> str:  # type: ignore[override]
        line = super().readline()
        if not line:
            raise KeyboardInterrupt
        return line


def test_breaking_off_keeps_what_was_said(call: Call, reed: Path) -> None:
    ended = call(*ASK, hears=Stops(hears(go="arm")))
    assert (ended.code, ended.err) == (130, "cfglint: stopped\n")
    assert "1 answer is kept in mine.sheet.txt" in ended.out
    assert kept() == {"word mode go": "arm"}
    assert call(*OUT).code == 1
    assert 'arm = "go"' in Path("mine.toml").read_text(encoding="utf-8")


def test_the_draft_is_looked_at_again_after_the_dialogue(call: Call, reed: Path) -> None:
    class Meanwhile(io.StringIO):
        def readline(self, size: int | None = -1) -> str:  # type: ignore[override]
            Path("mine.toml").write_text("# by hand\n", encoding="utf-8")
            return super().readline()

    ended = call(*ASK, hears=Meanwhile(hears("stop", go="arm")))
    assert ended.code == 2
    assert "was not drafted by `cfglint teach`" in ended.err
    assert Path("mine.toml").read_text(encoding="utf-8") == "# by hand\n"
    assert kept() == {"word mode go": "arm"}


def test_in_a_process_of_its_own(reed: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "cfglint", "teach", *ASK],
        input=hears(go="arm").encode(),
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "COLUMNS": "80"},
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr) == (1, b"")
    assert b"1 answer is kept in mine.sheet.txt" in done.stdout
    assert done.stdout.isascii()


# ------------------------------------------------------------------ from a card, from a change


def test_a_card_settles_what_it_says(call: Call, reed: Path) -> None:
    Path("reed.txt").write_text(SAMPLE + "put pack.count 4\n", encoding="utf-8")
    Path("card.toml").write_text(
        '[esc]\nsignals = ["dshot600"]\n[receiver]\nlink = "sbus"\n[battery]\ncells = 4\n',
        encoding="utf-8",
    )
    ended = call(*OUT, "--card", "card.toml")
    assert "battery.cells" in ended.out.partition("sure")[2].partition("Unsure")[0]
    assert not any("battery.cells" in key for key in kept()), "the card is no part of the sheet"
    assert "--card card.toml` once more" in " ".join(ended.out.split())


def test_two_dumps_with_one_change_show_where_it_stands(call: Call, reed: Path) -> None:
    Path("reed.txt").write_text(SAMPLE.replace("peep 7", "peep 4"), encoding="utf-8")
    Path("tern.txt").write_text(SAMPLE.replace("peep 7", "peep 6"), encoding="utf-8")
    changed = ("--changed", "battery.cells", "reed.txt", "tern.txt")
    ended = call(*OUT, *changed)
    assert ended.err == ""
    assert "put peep" in tomllib.loads(Path("mine.toml").read_text("utf-8"))["map"]["battery.cells"]
    assert call(*changed, "-o", "mine.toml").code == 1, "its dumps are samples enough"


@pytest.mark.parametrize(
    ("before", "after", "place"),
    [
        ("put peep 7", "put peep 9", "1: 7"),
        ("wait: 0,5 s then", "wait: 0,7 s then", "1: 0,5"),
        ('nick = "Reed Hen"', 'nick = "Tern Hen"', "1: Reed"),
        ("a=4;", "a=5;", "1: 4"),
        ("lost none", "lost none at all", "1: none"),
        ("x: up to 9 m", "x: 9 m", "1: up to 9"),
    ],
)
def test_what_differs_in_a_line(before: str, after: str, place: str) -> None:
    one, two = (Source.from_text(name, text) for name, text in (("a", before), ("b", after)))
    assert of_change("failsafe.delay_s", one, two) == {"find failsafe.delay_s": place}


def test_more_than_one_difference(reed: Path) -> None:
    one, two = Source.from_text("a", "x 1\ny 2\nz 3\n"), Source.from_text("b", "x 1\ny 3\nz 4\n")
    with pytest.raises(Problem, match=r"2 lines differ from b \(2, 3\)"):
        of_change("failsafe.delay_s", one, two)
