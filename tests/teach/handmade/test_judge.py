"""The held-out dialects are read whole by their true files, and the judge can tell."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from cfglint.craft.settings import family
from cfglint.dialect import load_dialect, read_craft
from cfglint.dump.source import Source
from cfglint.teach.model import Draft, Guess, Question, Shown

from .judge import (
    DUMPS,
    HELD,
    HERE,
    OPEN,
    Judgement,
    Truth,
    answer,
    folders,
    judge,
    judge_modes,
    judge_settings,
    left_over,
    main,
    same,
    taught,
    truth_of,
)

NAMES = [folder.name for folder in folders()]

#: What every dump of the set says something about, and whoever flies needs.
EXPECTED = (
    "craft.name",
    "craft.board",
    "craft.firmware",
    "motor.signal",
    "motor.idle_percent",
    "motor.poles",
    "loop.rate_hz",
    "receiver.link",
    "receiver.port",
    "receiver.inverted",
    "channel.N.low_us",
    "channel.N.high_us",
    "stick.low_us",
    "failsafe.action",
    "failsafe.delay_s",
    "battery.cells",
    "battery.empty_v",
    "port.N.functions",
    "port.N.baud",
    "video.frequency_mhz",
    "log.on",
)


def draft_of(name: str, old: str = "", new: str = "", guesses: tuple[Guess, ...] = ()) -> Draft:
    """The true dialect as a draft, with one text of its file replaced."""
    text = (OPEN / name / "truth.toml").read_text(encoding="utf-8")
    assert not old or text.count(old) == 1
    text = text.replace(old, new) if old else text
    return Draft(text, load_dialect("mine.toml", text.encode()), guesses, (), ())


def wrong(judged: list[Judgement]) -> dict[str, str]:
    return {row.subject: row.verdict for row in judged if row.verdict != "right"}


def question(kind: Any, setting: str, *shown: Shown, text: str = "", words: Any = ()) -> Question:
    return Question("q", kind, setting, text, shown, words)


def shown(truth: Truth, text: str, dump: int = 0) -> Shown:
    source = truth.sources[dump]
    lines = [line.strip() for line in source.lines]
    assert lines.count(text) == 1
    return Shown(source.file, lines.index(text) + 1, text)


def test_there_are_thirty() -> None:
    assert len(folders(OPEN)) == 18
    assert len(folders(HELD)) == 12


@pytest.mark.parametrize("folder", [*folders(OPEN), *folders(HELD)], ids=lambda path: path.name)
def test_the_true_file_reads_every_line(folder: Path) -> None:
    truth = truth_of(folder)
    for source, craft in zip(truth.sources, truth.crafts, strict=True):
        assert 80 <= len(source.lines) <= 250
        assert not (*craft.strays, *craft.misread, *craft.unreadable)
        assert not (*craft.refusals, *craft.repeats)
        assert len(set(EXPECTED) - {family(value) for value in craft.values}) <= 1
        assert craft.ranges_of("arm")
        assert len({row.mode for row in craft.mode_ranges}) >= 5
    assert left_over(truth.dialect, truth.sources) == 0
    assert truth.crafts[0].name != truth.crafts[1].name


@pytest.mark.parametrize("name", NAMES)
def test_the_two_craft_differ_in_much(name: str) -> None:
    one, other = truth_of(OPEN / name).crafts
    assert sum(one.get(key).value != other.get(key).value for key in one.values) >= 25


@pytest.mark.parametrize("name", NAMES)
def test_the_truth_is_judged_right(name: str) -> None:
    judged = judge(draft_of(name), OPEN / name)
    assert wrong(judged) == {}
    assert len(judged) > 35


def test_a_wrong_value_is_wrong() -> None:
    draft = draft_of("bench", '"esc.crawl"', '"esc.still"')
    # Two settings of one name: the later one is read, and the other is missing.
    assert wrong(judge(draft, OPEN / "bench")) == {
        "motor.pulse_stop_us": "missing",
        "motor.pulse_min_us": "wrong",
    }


def test_a_marked_wrong_value_is_marked() -> None:
    old = '"failsafe.throttle_us" = { name = "lost.glide_thr" }'
    new = '"failsafe.throttle_us" = { name = "calm.hum_lo", sure = false }'
    assert wrong(judge(draft_of("bench", old, new), OPEN / "bench")) == {
        "failsafe.throttle_us": "marked"
    }


def test_what_the_truth_does_not_set_is_wrong() -> None:
    draft = draft_of("bench", "[modes]", '"motor.rate_hz" = { name = "sat.fence_m" }\n[modes]')
    assert wrong(judge(draft, OPEN / "bench")) == {"motor.rate_hz": "wrong"}


def test_one_wrong_member_makes_a_family_wrong() -> None:
    old = '"port.N.baud" = { name = "plug{N}.baud" }'
    new = '"port.N.baud" = { name = "plug{N}.baud", number_base = 0 }'
    assert wrong(judge(draft_of("bench", old, new), OPEN / "bench")) == {"port.N.baud": "wrong"}


def test_a_word_that_the_sample_does_not_have_is_missing() -> None:
    draft = draft_of("bench", ', return-home = "home"', "")
    assert wrong(judge(draft, OPEN / "bench")) == {"failsafe.action": "missing"}
    truth = truth_of(OPEN / "bench")
    assert left_over(draft.dialect, truth.sources[:1]) == 0
    assert left_over(draft.dialect, truth.sources) == 1


def test_modes_are_judged_one_by_one() -> None:
    draft = draft_of("bench", 'beacon = "peeper"\n', "")
    assert wrong(judge(draft, OPEN / "bench")) == {"mode beacon": "missing"}
    swapped = draft_of("bench", 'arm = "arm"\nself-level = "level"', 'arm = "level"')
    assert wrong(judge(swapped, OPEN / "bench")) == {
        "mode arm": "wrong",
        "mode self-level": "missing",
    }


@pytest.mark.parametrize("doubt", ["mode arm", "range"])
def test_a_marked_mode_is_marked(doubt: str) -> None:
    guess = Guess(doubt, "level", 0.4, sure=False, reason="")
    draft = draft_of("bench", 'arm = "arm"\nself-level = "level"', 'arm = "level"', (guess,))
    assert wrong(judge(draft, OPEN / "bench"))["mode arm"] == "marked"


def test_a_mode_that_is_not_there_is_wrong() -> None:
    truth = truth_of(OPEN / "bench").crafts
    bare = truth[0]
    silent = read_craft(Source.from_text(bare.file, ""), truth_of(OPEN / "bench").dialect)
    assert {row.verdict for row in judge_modes([bare], [silent])} == {"wrong"}
    assert {row.verdict for row in judge_modes([silent], [bare])} == {"missing"}
    assert {row.verdict for row in judge_settings([silent], [bare])} == {"missing"}


def test_numbers_are_the_same_but_for_rounding() -> None:
    assert same(0.1 + 0.2, 0.3)
    assert not same(0.3, 0.31)
    assert not same(True, 1)
    assert same("a", "a")
    assert not same(frozenset({"gps"}), frozenset())


def test_lines_are_answered() -> None:
    truth = truth_of(OPEN / "bench")
    place = shown(truth, "esc.lingo = dshot600").line
    assert answer(question("line", "motor.signal"), truth) == str(place)
    assert answer(question("line", "motor.signal"), truth, several=True) == f"{DUMPS[0]}:{place}"
    assert answer(question("line", "motor.rate_hz"), truth) == "none"
    right = shown(truth, "ch3.lost = mute")
    offered = question("line", "failsafe.channel.N", shown(truth, "tilt.cam = 21"), right)
    assert answer(offered, truth) == str(right.line)
    arm = shown(truth, "sw.arm = ch5 1739..2116")
    assert answer(question("line", "mode arm"), truth) == str(arm.line)
    assert answer(question("line", "range"), truth) == str(arm.line)
    # Only the other craft has a way home, and its file was not among the samples.
    assert answer(question("line", "mode return-home"), truth) == "none"
    assert answer(question("line", "mode return-home"), truth, several=True) != "none"


@pytest.mark.parametrize(
    ("setting", "line", "said"),
    [
        ("motor.signal", "esc.lingo = dshot600", "dshot600"),
        ("failsafe.delay_s", "lost.grace = 1.8", "1.8"),
        ("loop.rate_hz", "brain.tick_us = 190", "5263.15789"),
        ("receiver.inverted", "rx.flip = on", "yes"),
        ("port.N.functions", "plug5.does = telly + console", "console, video-control"),
        ("port.N.functions", "plug4.does = nowt", "nothing"),
        ("failsafe.channel.N", "ch3.lost = mute", "drop"),
        ("motor.rate_hz", "esc.lingo = dshot600", "none"),
    ],
)
def test_values_are_answered(setting: str, line: str, said: str) -> None:
    truth = truth_of(OPEN / "bench")
    assert answer(question("value", setting, shown(truth, line)), truth) == said


def test_ranges_are_answered() -> None:
    truth = truth_of(OPEN / "numbers")
    asked = question("range", "range", shown(truth, "r 64 93 6 7"))
    assert answer(asked, truth) == "channel 7, 1731 to 2195"
    no_range = question("range", "range", shown(truth, "u 4 0 1152"))
    assert answer(no_range, truth) == "none"
    assert answer(question("range", "range"), truth) is None
    assert answer(question("range", "range", Shown("elsewhere.txt", 1, "")), truth) is None


@pytest.mark.parametrize(
    ("name", "setting", "words", "text", "said"),
    [
        ("numbers", "mode", ("41", "0", "29"), "", "41 = arm, 29 = self-right"),
        ("numbers", "motor.signal", ("17", "7"), "", "17 = dshot600"),
        ("numbers", "port.N.functions", ("5",), "Which bit means what?", "5 = receiver"),
        ("numbers", "port.N.functions", ("16",), "", "16 = video-control"),
        ("numbers", "motor.two_way", ("1", "0"), "", "1 = yes, 0 = no"),
        ("upper", "receiver.port", ("B",), "", "B = 2"),
        ("glued", "port.N.functions", ("off",), "", "off = nothing"),
        ("bench", "loop.rate_hz", ("190",), "", "190 = 5263.15789"),
        ("bench", "motor.signal", ("never",), "", None),
    ],
)
def test_words_are_answered(
    name: str, setting: str, words: tuple[str, ...], text: str, said: str | None
) -> None:
    truth = truth_of(OPEN / name)
    assert answer(question("words", setting, text=text, words=words), truth) == said


def test_answers_are_given_until_nothing_is_open() -> None:
    truth = truth_of(OPEN / "bench")
    line = shown(truth, "lost.grace = 1.8")
    open_ones = (
        Question("gone", "range", "range", "", ()),  # nobody could answer it
        *(Question(f"q{n}", "value", "failsafe.delay_s", "", (line,)) for n in range(5)),
    )
    calls: list[dict[str, str]] = []

    def teach(sources: list[Source], answers: dict[str, str]) -> Draft:
        assert [source.file for source in sources] == [DUMPS[0]]
        calls.append(answers)
        left = tuple(row for row in open_ones if row.id not in answers)
        return draft_of("bench")._replace(questions=left)

    assert [row.id for row, _ in taught(truth, 3, teach=teach).asked] == ["q0", "q1", "q2"]
    assert calls[-1] == {"q0": "1.8", "q1": "1.8", "q2": "1.8"}
    assert len(taught(truth, 8, teach=teach).asked) == 5
    assert taught(truth, 0, teach=teach).asked == ()


def test_the_table_says_when_there_is_nothing_to_judge(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def unbuilt(*_: object, **__: object) -> Draft:
        raise NotImplementedError

    monkeypatch.setattr("cfglint.teach.teach", unbuilt)
    assert main(["--open", "bench"]) == 1
    assert "nothing to judge" in capsys.readouterr().out


def test_the_table_goes_on_after_a_failure(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def half(sources: list[Source], answers: dict[str, str]) -> Draft:
        if "mudlark" in sources[0].text:
            raise ValueError("no")
        return draft_of("numbers", '"109"', '"110"')

    monkeypatch.setattr("cfglint.teach.teach", half)
    assert main(["--open", "bench", "numbers", "--detail"]) == 1
    told = capsys.readouterr().out
    assert "bench        no draft: ValueError: no" in told
    assert "wrong    self-right.power_percent: sample.dump.txt: " in told
    monkeypatch.setattr("cfglint.teach.teach", lambda *_: draft_of("numbers"))
    assert main(["--open", "numbers"]) == 0


def test_bad_samples_are_what_they_are_meant_to_be() -> None:
    bad = Path(HERE).parent / "bad"
    texts = {path.name: path.read_bytes() for path in bad.iterdir()}
    assert set(texts) == {
        "german.txt",
        "mixed.txt",
        "prose.txt",
        "noise.bin",
        "three-lines.txt",
    }
    assert texts["prose.txt"].count(b"\n") == 60
    assert texts["three-lines.txt"].count(b"\n") == 3
    assert texts["noise.bin"].count(0) > 100
    halves = [(OPEN / name / DUMPS[0]).read_text() for name in ("upper", "nested")]
    lines = texts["mixed.txt"].decode().splitlines()
    of_first = sum(line in halves[0].splitlines() for line in lines)
    of_second = sum(line in halves[1].splitlines() for line in lines)
    assert of_first > 50
    assert of_second > 100
    assert of_first + of_second >= len(lines)
