"""The dialogue of ``cfglint teach --ask``."""

from __future__ import annotations

import io
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from cfglint.cli.teach_ask import meanings, pairs, written
from cfglint.craft.settings import SETTINGS

from .conftest import ASKED, SAMPLE, question, shown

if TYPE_CHECKING:
    from .conftest import Call, Ended, Engine

ASK = ("reed.txt", "-o", "mine.toml", "--ask")


def kept() -> dict[str, str]:
    path = Path("mine.answers.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))["answers"] if path.exists() else {}


def put(ended: Ended) -> list[str]:
    """What was asked about, in order."""
    rows = [line for line in ended.out.split("\n") if line.startswith("Question ")]
    return [line.split(" ── ")[1].rstrip(" ─") for line in rows]


def only(engine: Engine, *identities: str) -> None:
    engine.asks = [one for one in ASKED if one.id in identities]


def last(engine: Engine) -> dict[str, str]:
    """The answers of the last draft; after it one is made by none, to see what nothing asks for."""
    assert engine.drafted[-1] == {}
    return engine.drafted[-2]


# ------------------------------------------------------------------ the whole


def test_everything_is_asked_once_and_kept(call: Call, engine: Engine) -> None:
    hears = "\n\nself-right\nchannel 5, 1760 to 2130\nstop\nnone\n\nno\nAvocet\ny\nlights\n"
    ended = call(*ASK, hears=hears)
    assert put(ended) == [
        "motor.signal",
        "modes",
        "a mode's range",
        "failsafe.action",
        "battery.empty_v",
        "battery.full_v",
        "log.on",
        "craft.name",
        "port.N.functions",
    ]
    assert kept() == {
        "line motor.signal": "talk",
        "words mode": "go = arm, flip = self-right",
        "range": "channel 5, 1760 to 2130",
        "value failsafe.action": "stop",
        "line battery.empty_v": "none",
        "value battery.full_v": "4.2",
        "value log.on": "no",
        "value craft.name": "Avocet",
        "words port.N.functions": "8 = lights",
    }
    assert "1 smaller question is left; go on? [y/N]\n> \n" in ended.out
    assert "Done: 9 answers are saved in mine.answers.toml.\n" in ended.out
    assert "  noted   motor.signal is `talk`\n" in ended.out
    assert "  noted   no line sets battery.empty_v\n" in ended.out
    assert (ended.code, ended.err) == (0, "")


def test_what_is_shown(call: Call, engine: Engine) -> None:
    only(engine, "line motor.signal")
    out = call(*ASK).out
    assert out.startswith(
        "1 question is open, the weightiest first. Enter takes what is proposed, or\n"
    )
    assert (
        "\n"
        "Question 1 ── motor.signal ── 1 open ───────────────────────────────────────────\n"
        "          About motor.signal?\n"
        "     in   reed.txt\n"
        "a)    2 │ put talk 14\n"
        "b)    3 │ put chat 1\n"
        "  guess   a: by its name (0.60)\n"
        "  write   a letter, a line's number, the name in a line, or `none` if no line\n"
        "          sets it\n"
        "  Enter   a\n"
        "\n"
        "> \n"
    ) in out
    assert max(map(len, out.split("\n"))) <= 80


def test_words_are_asked_one_after_another(call: Call, engine: Engine) -> None:
    only(engine, "words mode")
    out = call(*ASK, hears="gyrate\narm\nback\n\nself-right\n").out
    assert out.count("What does `go` mean? (1 of 2)\n  Enter   arm\n") == 3
    assert out.count("What does `flip` mean? (2 of 2)\n") == 2
    assert "    but   `gyrate` is no mode; it may be `arm`, `arm-permit`," in out
    assert kept() == {"words mode": "go = arm, flip = self-right"}


def test_several_words_at_once(call: Call, engine: Engine) -> None:
    only(engine, "words mode")
    out = call(*ASK, hears="swim = arm\nflip = self-right, go = ?\n").out
    assert "`swim` is not asked for; it may be `go` or `flip`" in out
    assert kept() == {"words mode": "flip = self-right, go = ?"}


def test_one_of_several_words_at_once_and_then_the_other(call: Call, engine: Engine) -> None:
    only(engine, "words mode")
    call(*ASK, hears="flip = self-right\n")
    assert kept() == {"words mode": "flip = self-right"}


def test_an_answer_that_no_draft_can_be_made_by(call: Call, engine: Engine) -> None:
    only(engine, "words mode")
    engine.breaks = "go = arm, flip = lights"
    out = call(*ASK, hears="arm\nlights\narm\nlog\n").out
    assert "what was drafted is no sound dialect file: no; give another answer, or none" in (
        " ".join(out.split())
    )
    assert kept() == {"words mode": "go = arm, flip = log"}


def test_wrong_answers_are_explained_and_asked_again(call: Call, engine: Engine) -> None:
    only(engine, "line motor.signal", "range", "value battery.full_v")
    hears = "nowhere\n99\n4\nreed.txt:0\nb)\nchannel five\nchannel 6, 860 to 1250\nlow\n4.2\n"
    ended = call(*ASK, hears=hears)
    for text in (
        "    but   `nowhere` is no line; write another\n",
        "    but   reed.txt has no line 99, it has 11; write the number of a line that is\n",
        "    but   line 4 of reed.txt is empty; write another number\n",
        "    but   reed.txt has no line 0, it has 11;",
        "    but   `channel five` is no range;",
        "    but   `low` is no voltage; write a number\n",
    ):
        assert text in ended.out
    assert kept() == {
        "line motor.signal": "chat",
        "range": "channel 6, 860 to 1250",
        "value battery.full_v": "4.2",
    }
    assert len(put(ended)) == 3


# ------------------------------------------------------------------ lines


@pytest.mark.parametrize(
    ("hears", "answer"),
    [
        ("a", "talk"),
        ("B", "chat"),
        ("2", "talk"),
        ("7", "reed.txt:7"),
        ("reed.txt:3", "chat"),
        ("low.volts", "low.volts"),
        ("other.txt:3", "other.txt:3"),
        ("c", "c"),
        ("none", "none"),
    ],
)
def test_ways_to_name_a_line(call: Call, engine: Engine, hears: str, answer: str) -> None:
    only(engine, "line motor.signal")
    call(*ASK, hears=f"{hears}\n")
    assert kept() == {"line motor.signal": answer}
    assert last(engine) == {"line motor.signal": answer}


def test_a_name_that_several_lines_have_is_kept_as_a_number(call: Call, engine: Engine) -> None:
    Path("reed.txt").write_text(f"{SAMPLE}put talk 9\n", encoding="utf-8")
    only(engine, "line motor.signal")
    call(*ASK, hears="a\n")
    assert kept() == {"line motor.signal": "reed.txt:2"}
    assert "# put talk 14" in Path("mine.answers.toml").read_text(encoding="utf-8")


def test_a_line_that_nothing_could_be_read_from(call: Call, engine: Engine) -> None:
    engine.asks = [question("line battery.warn_v", 60)]
    out = call(*ASK, hears="7\n").out
    assert "No line was found that looks like it.\n" in out
    assert "no way was found to read battery.warn_v from that line" in " ".join(out.split())


def test_a_value_that_is_not_sure_yet(call: Call, engine: Engine) -> None:
    engine.asks = [question("line battery.full_v", 60, shown(5, "full"), guess="elsewhere")]
    out = call(*ASK, hears="a\n").out
    assert "  Enter   elsewhere\n" in out
    assert "battery.full_v is `full`, what it says is not sure yet\n" in out


def test_several_samples(call: Call, engine: Engine) -> None:
    Path("more").mkdir()
    Path("more/rush.txt").write_text(SAMPLE, encoding="utf-8")
    rows = (shown(2, "talk"), shown(3, "chat", "more/rush.txt"))
    engine.asks = [question("line motor.signal", 100, *rows, guess="reed.txt:2")]
    ask = ("reed.txt", "more/rush.txt", *ASK[1:])
    out = call(*ask, hears="3\nrush.txt:7\n").out
    assert "     in   reed.txt\na)    2 │ put talk 14\n     in   more/rush.txt\nb)    3 │" in out
    assert "there are 2 samples; write `reed.txt:3`\n" in out
    assert "a letter, FILE:NUMBER, the name in a line" in out
    assert kept() == {"line motor.signal": "rush.txt:7"}
    assert last(engine) == {"line motor.signal": "more/rush.txt:7"}


def test_samples_of_one_name(call: Call, engine: Engine) -> None:
    Path("more").mkdir()
    Path("more/reed.txt").write_text(SAMPLE, encoding="utf-8")
    only(engine, "line motor.signal")
    ask = ("more/reed.txt", "./reed.txt", *ASK[1:])
    call(*ask, hears="reed.txt:7\n")
    assert kept() == {"line motor.signal": "reed.txt:7"}
    call("more/reed.txt", "reed.txt", "-o", "b.toml", "--ask", hears="more/reed.txt:7\n")
    text = Path("b.answers.toml").read_text(encoding="utf-8")
    assert '"line motor.signal" = "more/reed.txt:7"' in text


def test_what_is_hardly_a_guess_is_not_had_by_pressing_a_key(call: Call, engine: Engine) -> None:
    only(engine, "line motor.signal")
    engine.likely = 0.49
    ended = call(*ASK, hears="\n")
    assert "  guess   a: by its name (0.49)\n" in ended.out
    assert "  Enter " not in ended.out
    assert kept() == {}
    call(*ASK, hears="a\n")
    assert kept() == {"line motor.signal": "talk"}


# ------------------------------------------------------------------ values


def test_what_the_draft_reads_is_proposed(call: Call, engine: Engine) -> None:
    only(engine, "value battery.full_v", "value log.on", "value craft.name")
    out = call(*ASK, hears="\n\n\n").out
    assert "  Enter   4.2\n" in out
    assert "  Enter   yes\n" in out
    assert "  Enter   Avocet\n" in out
    assert kept() == {
        "value battery.full_v": "4.2",
        "value log.on": "yes",
        "value craft.name": "Avocet",
    }


def test_lists_and_nothing_are_proposed(call: Call, engine: Engine) -> None:
    text = f"{SAMPLE}port1 receiver\nput port1 gps\nput port2\nput keep 0\n"
    Path("reed.txt").write_text(text, encoding="utf-8")
    rows = dict(enumerate(text.split("\n"), 1))
    engine.asks = [
        question("value port.N.functions", 9, shown(2)._replace(line=13, text=rows[13])),
        question("value port.N.baud", 8, shown(2)._replace(line=13, text=rows[13])),
        question("value log.on", 7, shown(2)._replace(file="gone.txt")),
        question("value craft.name", 6),
    ]
    ended = call(*ASK, hears="\n" * 4)
    assert "  Enter   gps\n" in ended.out
    assert ended.out.count("  Enter ") == 1
    assert kept() == {"value port.N.functions": "gps"}


def test_stop_is_an_answer_where_it_is_an_action(call: Call, engine: Engine) -> None:
    only(engine, "value failsafe.action", "line battery.empty_v")
    out = call(*ASK, hears="?\nquit\n").out
    assert "here `stop` is an answer, and `quit` ends" in " ".join(out.split())
    assert "not here   the line does not set it at all\n" in out
    assert kept() == {}
    call(*ASK, hears="none\nstop\n")
    assert kept() == {"value failsafe.action": "no action"}


# ------------------------------------------------------------------ ways out


def test_left_and_not_known(call: Call, engine: Engine) -> None:
    only(engine, "range", "line battery.empty_v", "words port.N.functions")
    ended = call(*ASK, hears="\n-\n-\n")
    assert "   left   for another time\n" in ended.out
    assert "  noted   not known; it stays open\n" in ended.out
    assert kept() == {"line battery.empty_v": "?", "words port.N.functions": "?"}
    assert ended.code == 1
    # What was left is asked again, what is not known is not.
    assert put(call(*ASK)) == ["a mode's range"]
    assert put(call(*ASK, "--again", hears="\n\n\n")) == [
        "a mode's range",
        "battery.empty_v",
        "port.N.functions",
    ]
    call(*ASK, hears="none\n")
    out = call(*ASK).out
    assert out.startswith("There is nothing to ask; --again asks what was not known.\n")


def test_nothing_to_ask(call: Call, engine: Engine) -> None:
    engine.asks = []
    assert call(*ASK).out.startswith("There is nothing to ask.\n")
    assert not Path("mine.answers.toml").exists()


def test_words_that_are_left(call: Call, engine: Engine) -> None:
    only(engine, "words port.N.functions")
    out = call(*ASK, hears="\n").out
    assert "   left   for another time\n" in out
    assert kept() == {}


def test_back(call: Call, engine: Engine) -> None:
    only(engine, "line motor.signal", "words mode", "line battery.empty_v")
    hears = "back\nb\nback\na\narm\n-\nback\n\n\nnone\n"
    ended = call(*ASK, hears=hears)
    assert "          this is the first question\n" in ended.out
    assert put(ended) == [
        "motor.signal",
        "motor.signal",
        "modes",
        "motor.signal",
        "modes",
        "battery.empty_v",
        "modes",
        "battery.empty_v",
    ]
    assert kept() == {
        "line motor.signal": "talk",
        "words mode": "go = arm, flip = ?",
        "line battery.empty_v": "none",
    }
    assert "  Enter   chat\n" in ended.out


def test_an_answer_taken_back_to_not_known_is_drafted_without(call: Call, engine: Engine) -> None:
    only(engine, "line motor.signal", "line battery.empty_v")
    call(*ASK, hears="a\nback\n-\n")
    assert kept() == {"line motor.signal": "?"}
    assert engine.drafted[-2:] == [{}, {}]


@pytest.mark.parametrize("end", ["stop\n", "quit\n", ""])
def test_stopping_keeps_what_was_said(call: Call, engine: Engine, end: str) -> None:
    ended = call(*ASK, hears=f"b\narm\n{end}")
    assert "Stopped: 2 answers are saved in mine.answers.toml, and the same command" in ended.out
    assert kept() == {"line motor.signal": "chat", "words mode": "go = arm"}
    assert (ended.code, ended.err) == (1, "")
    assert Path("mine.toml").exists()
    # It goes on with the other word, and keeps the first.
    ended = call(*ASK, hears="log\nstop\n")
    assert put(ended)[0] == "modes"
    assert "What does `flip` mean?\n" in ended.out
    assert kept()["words mode"] == "go = arm, flip = log"


def test_words_not_known_are_asked_again_on_request(call: Call, engine: Engine) -> None:
    only(engine, "words mode")
    call(*ASK, hears="arm\n-\n")
    assert kept() == {"words mode": "go = arm, flip = ?"}
    assert put(call(*ASK)) == []
    assert put(call(*ASK, "--again", hears="log\n")) == ["modes"]
    assert kept() == {"words mode": "go = arm, flip = log"}


def test_ctrl_c(call: Call, engine: Engine) -> None:
    class Stopped(io.StringIO):
        def readline(self, size: int | None = -1) -> str:  # type: ignore[override]
            line = super().readline()
            if not line:
                raise KeyboardInterrupt
            return line

    ended = call(*ASK, hears=Stopped("b\n"))
    assert (ended.code, ended.err) == (130, "cfglint: stopped\n")
    assert "Stopped: 1 answer is saved in mine.answers.toml, and the same" in ended.out
    assert kept() == {"line motor.signal": "chat"}
    assert not Path("mine.toml").exists()


def test_nobody_to_ask(call: Call, engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", None)
    assert call(*ASK, hears=None) == (
        2,
        "",
        "cfglint: there is nobody to ask: standard input or output is closed; leave --ask out\n",
    )


def test_most(call: Call, engine: Engine) -> None:
    ended = call(*ASK, "--most", "2", hears="\n\n\nn\n")
    assert len(put(ended)) == 2
    assert "7 smaller questions are left; go on? [y/N]" in ended.out
    assert "Done: 2 answers are saved" in ended.out
    ended = call("reed.txt", "-o", "b.toml", "--ask", "--most", "2", hears="\n\n\nyes\n\n\n")
    assert len(put(ended)) == 4


def test_given_answers_are_not_asked(call: Call, engine: Engine) -> None:
    Path("club.toml").write_text(
        '[answers]\n"line motor.signal" = "chat"\n"words mode" = "go = arm"\n', encoding="utf-8"
    )
    ended = call(*ASK, "--answers", "club.toml", hears="stop\n")
    assert put(ended) == ["a mode's range"]
    assert kept() == {}


def test_not_known_counts_less_than_an_answer(call: Call, engine: Engine) -> None:
    """Also where the file that is given is the one that is kept."""
    only(engine, "line motor.signal")
    call(*ASK, hears="-\n")
    again = ("--answers", "mine.answers.toml", "--again")
    Path("club.toml").write_text('[answers]\n"line motor.signal" = "?"\n', encoding="utf-8")
    assert put(call(*ASK, "--answers", "club.toml")) == []
    assert put(call(*ASK, *again, hears="a\n")) == ["motor.signal"]
    assert kept() == {"line motor.signal": "talk"}
    assert call(*ASK, "--answers", "club.toml").out.startswith("There is nothing to ask.\n")
    assert last(engine) == {"line motor.signal": "talk"}


# ------------------------------------------------------------------ help


@pytest.mark.parametrize("one", ASKED, ids=lambda one: one.id)
def test_help(call: Call, engine: Engine, one: object) -> None:
    engine.asks = [one]  # type: ignore[list-item]
    out = call(*ASK, hears="?\nquit\n").out
    assert "      -   not known; it is not asked again unless with --again\n" in out
    assert max(map(len, out.split("\n"))) <= 80
    assert kept() == {}


def test_help_says_what_words_mean(call: Call, engine: Engine) -> None:
    only(engine, "words mode")
    out = " ".join(call(*ASK, hears="?\n").out.split())
    assert "self-right: roll an inverted craft back over by reversing motors" in out
    assert "several at once, with commas between: `go = …` and `flip = …`" in out


def test_a_word_may_stand_for_nothing(call: Call, engine: Engine) -> None:
    only(engine, "words port.N.functions")
    out = call(*ASK, hears="?\nnothing\n").out
    assert "lights, rangefinder, nothing\n" in out
    assert kept() == {"words port.N.functions": "8 = nothing"}


def test_help_says_bounds(call: Call, engine: Engine) -> None:
    only(engine, "value battery.full_v")
    assert "about   battery.full_v: one full cell, 0 to 6 V\n" in call(*ASK, hears="?\n").out


@pytest.mark.parametrize("name", ["mode", *SETTINGS])
def test_every_word_has_a_meaning(name: str) -> None:
    rows = list(meanings(name))
    assert all(meaning for _, meaning in rows)
    if name != "mode":
        words = [word for word, _ in rows if word != "nothing"]
        assert tuple(words) == SETTINGS[name].words + SETTINGS[name].texts


def test_pairs() -> None:
    assert pairs('0 = arm, "6"=; x\nlog = ?') == {"0": "arm", "6": "?", "log": "?"}
    assert written({"0": "arm", "6": "?"}) == "0 = arm, 6 = ?"
