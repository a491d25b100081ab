"""A whole run: every file stands for itself, whatever is wrong with another."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cfglint.craft import Craft, Missing, NotForThisCraft
from cfglint.errors import Problem
from cfglint.plugins import Loaded
from cfglint.results import Run
from cfglint.rule import Edit, Finding, Options, Related, Rule, rule
from cfglint.runner import lint as runner
from cfglint.runner.lint import Request, lint
from cfglint.span import Span

from .conftest import CARD, CONFIG, DUMP, Write


def made(name: str, *found: Any, error: Exception | None = None) -> Rule:
    """A rule that yields these things, or raises; functions are asked with the craft."""

    @rule(name, grade="fix", title="t", why="w", source="common practice")
    def check(craft: Craft, options: Options) -> Iterator[Any]:
        for item in found:
            yield item(craft) if callable(item) and not isinstance(item, type) else item
        if error is not None:
            raise error

    return check


@pytest.fixture
def rules(monkeypatch: pytest.MonkeyPatch) -> list[Rule]:
    """The rules of the next run, in place of those installed."""
    wanted: list[Rule] = []
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded(tuple(wanted), ()))
    return wanted


def told(run: Run) -> list[tuple[str, int, str, str]]:
    return [(one.kind, one.exit, one.file, one.message) for one in run.troubles]


def on_signal(craft: Craft) -> Finding:
    return Finding(craft.place(craft.need("motor.signal")), "wrong signal", "set it")


# ------------------------------------------------------------------ what a run holds


def test_one_outcome_for_every_rule_and_craft(hangar: Path, rules: list[Rule]) -> None:
    rules += [
        made("a/holds"),
        made("a/broken", on_signal),
        made("a/unknown", error=Missing("esc.two_way", "card")),
        made("a/not-for", error=NotForThisCraft("no")),
        made("a/partly", on_signal, error=Missing("esc.two_way", "card")),
    ]
    run = lint(Request([str(hangar)]))
    assert run.root == str(hangar)
    assert [(one.file, one.name, one.dialect, one.firmware, one.lines, one.card)
            for one in run.crafts] == [
        ("dumps/avocet.dump.txt", "Avocet", "plain", "7.9", 5, "cards/avocet.toml"),
        ("dumps/bittern.dump.txt", "Bittern", "plain", "7.9", 5, ""),
    ]  # fmt: skip
    states = ["holds", "broken", "unknown", "not for this craft", "broken"]
    assert [one.state for one in run.outcomes] == states * 2
    assert [one.rule for one in run.outcomes] == [one.id for one in rules] * 2
    assert run.outcomes[3].reason == "no"
    assert run.outcomes[4].lacks[0].fact == "esc.two_way"
    assert not run.troubles
    (found,) = run.outcomes[1].findings
    assert found.span == Span("dumps/avocet.dump.txt", 3, 21, 3, 29)
    assert found.excerpt == (3, ("let motor-signal be dshot300",))
    assert (found.grade, found.message, found.instead) == ("fix", "wrong signal", "set it")
    assert (len(found.print), found.line_hash) == (32, "")
    assert run.exit_code() == 1


def test_the_floor(hangar: Path, write: Write, rules: list[Rule]) -> None:
    rules.append(made("a/broken", on_signal))
    assert lint(Request([str(hangar)])).floor == "advise"
    assert lint(Request([str(hangar)], floor="ground")).exit_code() == 0
    write({"cfglint.toml": CONFIG + "[lint]\nfloor = 'ground'\n"})
    assert lint(Request([str(hangar)])).exit_code() == 0
    assert lint(Request([str(hangar)], floor="fix")).exit_code() == 1


def test_grades_of_the_hangar_go_before_all(hangar: Path, write: Write, rules: list[Rule]) -> None:
    rules.append(made("a/broken", lambda craft: on_signal(craft)._replace(grade="advise")))
    (found, _) = lint(Request([str(hangar)])).findings
    assert found.grade == "advise"
    write({"cfglint.toml": CONFIG + "[rules]\n'a/broken' = 'ground'\n"})
    run = lint(Request([str(hangar)]))
    assert run.findings[0].grade == "ground"
    assert run.rules[0].grade == "ground"


def test_findings_in_a_card(hangar: Path, write: Write, rules: list[Rule]) -> None:
    def on_card(craft: Craft) -> Finding:
        place = craft.need("motor.signal").span
        assert place is not None
        return Finding(
            craft.place(craft.from_card("esc.signals")), "m", related=(Related(place, "here"),)
        )

    rules.append(made("a/broken", on_card))
    config = CONFIG.replace("{stem}", "avocet")
    write({"cfglint.toml": config, "cards/avocet.toml": b"\xef\xbb\xbf" + CARD.encode()})
    run = lint(Request([str(hangar)], hashes=True))
    first, second = run.findings
    assert first.span == second.span == Span("cards/avocet.toml", 3, 11, 3, 35)
    assert (first.file, second.file) == ("dumps/avocet.dump.txt", "dumps/bittern.dump.txt")
    assert first.excerpt.lines == ('signals = ["dshot300", "dshot600"]',)
    assert first.related[0].excerpt == (3, ("let motor-signal be dshot300",))
    # One card, two craft: two findings with names of their own.
    assert first.print != second.print
    assert first.line_hash == second.line_hash != ""
    assert all(outcome.line_hash for outcome in run.outcomes)


def test_fingerprints_stay_when_lines_move(hangar: Path, write: Write, rules: list[Rule]) -> None:
    rules.append(made("a/broken", on_signal, on_signal))
    before = lint(Request([str(hangar / "dumps/avocet.dump.txt")])).findings
    lines = DUMP.splitlines(keepends=True)
    write({"dumps/avocet.dump.txt": "".join([lines[0], "-- a note\n", *lines[1:]])})
    after = lint(Request([str(hangar / "dumps/avocet.dump.txt")])).findings
    assert [one.print for one in before] == [one.print for one in after]
    assert len({one.print for one in before}) == 2
    assert before[0].span.line + 1 == after[0].span.line


def test_long_stretches_are_cut(hangar: Path, rules: list[Rule]) -> None:
    rules.append(made("a/broken", Finding(Span("dumps/avocet.dump.txt", 1, 1, 5, 2), "all of it")))
    run = lint(Request([str(hangar / "dumps/avocet.dump.txt")], hashes=True))
    assert [(found.excerpt.first, len(found.excerpt.lines)) for found in run.findings] == [(1, 5)]


def test_places_that_are_in_no_file_at_hand(hangar: Path, rules: list[Rule]) -> None:
    elsewhere = Span("elsewhere.txt", 7, 1, 7, 2), Span("dumps/avocet.dump.txt", 900, 1, 999, 2)
    for number, span in enumerate(elsewhere):
        rules.append(made(f"a/broken-{number}", Finding(span, "not here")))
    run = lint(Request([str(hangar / "dumps/avocet.dump.txt")]))
    assert not run.findings
    assert [row.rule for row in run.troubles] == ["a/broken-0", "a/broken-1"]
    assert run.exit_code() == 3


def test_names_of_craft(hangar: Path, write: Write, rules: list[Rule]) -> None:
    anonymous = DUMP.replace('let name-given be "Avocet"\n', "")
    write({"dumps/avocet.dump.txt": anonymous, "dumps/bittern.dump.txt": anonymous})
    rules.append(made("a/holds"))
    run = lint(Request([str(hangar)]))
    assert [craft.name for craft in run.crafts] == ["Avocet", "bittern"]
    write({"cfglint.toml": CONFIG + "craft = 'club {stem}'\n"})
    run = lint(Request([str(hangar)]))
    assert [craft.name for craft in run.crafts] == ["club avocet", "club bittern"]


def test_extent_of_the_entry(hangar: Path, write: Write, rules: list[Rule]) -> None:
    rules.append(
        made("a/idle", lambda craft: Finding(craft.whole, craft.get("motor.idle_percent").origin))
    )
    write({"dumps/avocet.dump.txt": DUMP.partition("\n")[2]})
    path = str(hangar / "dumps/avocet.dump.txt")
    assert lint(Request([path])).findings[0].message == "missing"
    write({"cfglint.toml": CONFIG + "extent = 'changes'\n"})
    assert lint(Request([path])).findings[0].message == "default"


# ------------------------------------------------------------------ rules that fail


@pytest.mark.parametrize(
    ("bad", "detail"),
    [
        (made("a/bad", error=ZeroDivisionError("division by zero")), "ZeroDivisionError: division"),
        (made("a/bad", "text"), "TypeError: the rule yielded str instead of a Finding"),
        (made("a/bad", Finding(None, "m")), "TypeError: the rule gave NoneType instead of a Span"),  # type: ignore[arg-type]
        (
            made("a/bad", Finding(Span("x", 0, 1, 1, 1), "m")),
            "ValueError: the rule gave a span that cannot be",
        ),
        (
            made("a/bad", Finding(Span("x", 1, 1, 1, 1), "")),
            "TypeError: the rule gave a finding without a message",
        ),
        (
            made("a/bad", Finding(Span("x", 1, 1, 1, 1), "m", grade="bad")),  # type: ignore[arg-type]
            "ValueError: the rule gave the grade 'bad', which is none",
        ),
        (
            made(
                "a/bad",
                Finding(Span("x", 1, 1, 1, 1), "m", fix=(Edit(None, ""),)),  # type: ignore[arg-type]
            ),
            "TypeError: the rule gave NoneType instead of a Span",
        ),
        (made("a/bad", error=RecursionError()), "RecursionError"),
    ],
)
def test_a_crashing_rule_stops_no_other(
    hangar: Path, rules: list[Rule], bad: Rule, detail: str
) -> None:
    rules += [made("a/before"), bad, made("a/broken", on_signal)]
    run = lint(Request([str(hangar)]))
    assert [one.rule for one in run.outcomes] == ["a/before", "a/broken"] * 2
    assert [(one.kind, one.exit, one.rule) for one in run.troubles] == [("crash", 3, "a/bad")] * 2
    assert run.troubles[0].detail.startswith(detail)
    assert "\n" not in run.troubles[0].detail
    assert run.exit_code() == 3


def test_whole_tracebacks_on_request(hangar: Path, rules: list[Rule]) -> None:
    rules.append(made("a/bad", error=ZeroDivisionError("division by zero")))
    run = lint(Request([str(hangar)], debug=True))
    detail = run.troubles[0].detail
    assert detail.startswith("Traceback")
    assert detail.endswith("ZeroDivisionError: division by zero\n")


def test_a_failure_of_our_own(
    hangar: Path, rules: list[Rule], monkeypatch: pytest.MonkeyPatch
) -> None:
    from cfglint.dialect.reading import Reader

    real = Reader.craft

    def fail(reader: Reader) -> Craft:
        if reader.file.endswith("avocet.dump.txt"):
            raise KeyError("x")
        return real(reader)

    monkeypatch.setattr(Reader, "craft", fail)
    rules.append(made("a/holds"))
    run = lint(Request([str(hangar)]))
    assert [craft.name for craft in run.crafts] == ["Bittern"]
    ((kind, code, file, message),) = told(run)
    assert (kind, code, file) == ("crash", 3, "dumps/avocet.dump.txt")
    assert message == "cfglint itself failed on this file, which was not checked"
    assert run.troubles[0].detail == "KeyError: 'x'"


def test_a_broken_pack_is_told_and_the_rest_runs(
    hangar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = Problem("rule pack `club` cannot be loaded")
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded((made("a/holds"),), (broken,)))
    run = lint(Request([str(hangar)]))
    assert told(run) == [("config", 2, "", "rule pack `club` cannot be loaded")]
    assert len(run.outcomes) == 2
    # A rule of that pack is not known then: both are said.
    with pytest.raises(Problem) as caught:
        lint(Request([str(hangar)], only=["club/rule"]))
    assert "cannot be loaded" in str(caught.value)
    assert "--only: there is no rule `club/rule`" in str(caught.value)


# ------------------------------------------------------------------ files that fail


def test_bad_files_stop_no_other(hangar: Path, write: Write, rules: list[Rule]) -> None:
    write(
        {
            "dumps/a-empty.dump.txt": b" \r\n\n",
            "dumps/b-binary.dump.txt": b"\x7f\0\0\0" * 500,
            "dumps/c-utf16.dump.txt": DUMP.encode("utf-16-le"),
        }
    )
    (hangar / "dumps/d-folder.dump.txt").mkdir()
    (hangar / "dumps/e-link.dump.txt").symlink_to("gone")
    rules.append(made("a/holds"))
    run = lint(Request([str(hangar)]))
    assert [(file[6:], code, kind) for kind, code, file, _ in told(run)] == [
        ("a-empty.dump.txt", 3, "file"),
        ("b-binary.dump.txt", 3, "file"),
        ("c-utf16.dump.txt", 3, "file"),
        ("d-folder.dump.txt", 3, "file"),
        ("e-link.dump.txt", 3, "file"),
    ]
    assert [message for _, _, _, message in told(run)] == [
        "this file is empty",
        "this file is no text: it is full of NUL bytes",
        "this file is no text: it is full of NUL bytes",
        "this is a folder that is named like a file",
        "this is a link to `gone`, which is not there",
    ]
    assert [craft.name for craft in run.crafts] == ["Avocet", "Bittern"]
    assert run.exit_code() == 3


def test_a_few_nul_bytes_are_lines_for_the_rules(hangar: Path, write: Write) -> None:
    write({"dumps/avocet.dump.txt": DUMP + "\0\0 garbled \0\n"})
    run = lint(Request([str(hangar / "dumps/avocet.dump.txt")], only=["dump/unreadable-line"]))
    assert not run.troubles
    (found,) = run.findings
    assert (found.rule, found.span.line) == ("dump/unreadable-line", 6)


def test_utf16_with_its_mark_is_read(hangar: Path, write: Write, rules: list[Rule]) -> None:
    write({"dumps/avocet.dump.txt": DUMP.encode("utf-16")})
    rules.append(made("a/broken", on_signal))
    run = lint(Request([str(hangar / "dumps/avocet.dump.txt")], hashes=True))
    assert run.findings[0].excerpt.lines == ("let motor-signal be dshot300",)


def test_a_wrong_card_is_told_once_with_the_craft_it_stops(
    hangar: Path, write: Write, rules: list[Rule], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(hangar)
    rules.append(made("a/holds"))
    write(
        {
            "cfglint.toml": "[[dumps]]\nfiles = 'dumps/*'\ncard = 'cards/shared.toml'\n",
            "cards/shared.toml": "[esc]\ntwo_way = 'yes'\nsignal = 3\n",
            "loose/curlew.dump.txt": DUMP,
        }
    )
    for number in range(6):
        write({f"dumps/x{number}.dump.txt": DUMP})
    run = lint(Request([str(hangar / "dumps"), str(hangar / "loose/curlew.dump.txt")]))
    assert [craft.file for craft in run.crafts] == ["loose/curlew.dump.txt"]
    first, second = run.troubles
    assert first.message == (
        "`esc.two_way` must be `true` or `false`, not the text `yes` (so not checked: "
        "dumps/avocet.dump.txt, dumps/bittern.dump.txt, dumps/x0.dump.txt, dumps/x1.dump.txt, "
        "dumps/x2.dump.txt and 3 more)"
    )
    assert (first.span, second.span) == (
        Span("cards/shared.toml", 2, 11, 2, 16),
        Span("cards/shared.toml", 3, 1, 3, 7),
    )
    assert run.exit_code() == 2


def test_a_card_that_is_named_must_be_there(
    hangar: Path, write: Write, rules: list[Rule], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(hangar)
    rules.append(made("a/holds"))
    write({"cfglint.toml": CONFIG.replace("{stem}", "avocett")})
    run = lint(Request([str(hangar)]))
    ((kind, code, file, message),) = told(run)
    assert (kind, code, file) == ("file", 3, "cards/avocett.toml")
    assert message.startswith("this file is not there (so not checked: dumps/avocet.dump.txt, ")


def test_an_empty_card_is_no_card_that_says_nothing(hangar: Path, write: Write) -> None:
    """What an editor leaves behind on a full disk must not turn findings into unknown."""
    config = '[[dumps]]\nfiles = "dumps/*"\ncard = "cards/{stem}.toml"\n'
    write({"cfglint.toml": config, "cards/avocet.toml": "\n \n"})
    run = lint(Request([str(hangar)]))
    assert [(one.file, one.exit) for one in run.troubles] == [("cards/avocet.toml", 3)]
    assert "this file is empty" in run.troubles[0].message
    assert not [one for one in run.crafts if one.card == "cards/avocet.toml"]


def test_a_dialect_with_a_mistake(hangar: Path, write: Write, root: Path) -> None:
    plain = (root / "grammars/plain.toml").read_text(encoding="utf-8")
    write(
        {
            "cfglint.toml": "[dialects]\nours = 'dialects/ours.toml'\nbad = 'dialects/bad.toml'\n"
            "[[dumps]]\nfiles = 'dumps/a*'\ndialect = 'bad'\n"
            "[[dumps]]\nfiles = 'dumps/b*'\ndialect = 'ours'\n",
            "dialects/ours.toml": plain.replace('id = "plain"', 'id = "ours"'),
            "dialects/bad.toml": plain.replace("removal =", "removl ="),
        }
    )
    run = lint(Request([str(hangar)], only=["dump"]))
    assert [(craft.name, craft.dialect) for craft in run.crafts] == [("Bittern", "ours")]
    assert {(one.kind, one.exit, one.file) for one in run.troubles} == {
        ("config", 2, "dialects/bad.toml")
    }
    text = " ".join(one.message + one.instead for one in run.troubles)
    assert "`removl`" in text
    assert "did you mean `removal`?" in text
    assert "dumps/avocet.dump.txt" in text


# ------------------------------------------------------------------ which dialect


def test_the_dump_says_its_dialect(write: Write) -> None:
    root = write(
        {
            "asks.dump.txt": "-- cfglint: dialect plain\nlet motor-signal be dshot300\n",
            "asks-wrong.dump.txt": "-- cfglint: dialect plian\nlet motor-signal be dshot300\n",
            "known.dump.txt": DUMP,
            "strange.dump.txt": "dear diary,\ntoday we flew.\n",
        }
    )
    run = lint(Request([str(root)], only=["dump"]))
    assert [(craft.file, craft.dialect) for craft in run.crafts] == [
        ("asks.dump.txt", "plain"),
        ("known.dump.txt", "plain"),
    ]
    wrong, strange = run.troubles
    assert (wrong.exit, wrong.span) == (2, Span("asks-wrong.dump.txt", 1, 21, 1, 26))
    assert "did you mean `plain`?" in wrong.instead
    assert (strange.exit, strange.kind, strange.file) == (3, "file", "strange.dump.txt")
    assert strange.message == "no dialect recognises this file as a dump"


def test_the_hangar_goes_before_the_dump_and_the_command_line_before_both(
    hangar: Path, write: Write
) -> None:
    write({"dumps/avocet.dump.txt": DUMP.replace("\n", "\n-- cfglint: dialect terse\n", 1)})
    path = str(hangar / "dumps/avocet.dump.txt")
    assert lint(Request([path], only=["dump"])).crafts[0].dialect == "plain"
    run = lint(Request([path], dialect="blocks", only=["dump"]))
    assert run.crafts[0].dialect == "blocks"


def test_named_on_the_command_line(
    hangar: Path, write: Write, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = str(hangar / "dumps/bittern.dump.txt")
    plain = (root / "grammars/plain.toml").read_text(encoding="utf-8")
    write({"mine.toml": plain.replace('id = "plain"', 'id = "mine"'), "other.toml": CARD})
    run = lint(
        Request([path], dialect=str(hangar / "mine.toml"), card=str(hangar / "other.toml"),
                only=["dump"])
    )  # fmt: skip
    assert (run.crafts[0].dialect, run.crafts[0].card) == ("mine", "other.toml")
    outside = hangar.parent / f"{hangar.name}-outside.toml"
    outside.write_text(CARD)
    assert lint(Request([path], card=str(outside), only=["dump"])).crafts[0].card == str(outside)
    for request, words in (
        (Request([path], dialect="plian"), "--dialect: there is no dialect `plian`; did you mean"),
        (
            Request([path], dialect="gyrate"),
            "it may be `plain`, `terse`, `blocks`, `nested` or `tables`",
        ),
        (Request([path], dialect="gone.toml"), "--dialect: there is no file `gone.toml`"),
        (Request([path], card="gone.toml"), "--card: there is no file `gone.toml`"),
    ):
        with pytest.raises(Problem) as caught:
            lint(request)
        assert words in str(caught.value)
        assert caught.value.exit == 2
    write({"other.toml": "[esc]\ntwo_way = 3\n"})
    with pytest.raises(Problem, match=r"other.toml:2:11: `esc.two_way` must be"):
        lint(Request([path], card=str(hangar / "other.toml")))


# ------------------------------------------------------------------ paths and processes


def test_paths_left_out(hangar: Path, monkeypatch: pytest.MonkeyPatch, rules: list[Rule]) -> None:
    rules.append(made("a/holds"))
    monkeypatch.chdir(hangar)
    assert len(lint(Request()).crafts) == 2
    monkeypatch.chdir(hangar.parent)
    assert len(lint(Request(config=f"{hangar.name}/cfglint.toml")).crafts) == 2
    monkeypatch.chdir(hangar)
    assert len(lint(Request(config="cfglint.toml")).crafts) == 2


def fleet(write: Write, count: int) -> Path:
    write({"cfglint.toml": CONFIG})
    for number in range(count):
        write({f"dumps/c{number:03}.dump.txt": DUMP.replace("Avocet", f"Craft {number}")})
    return write({"dumps/c007.dump.txt": b"", "dumps/c011.dump.txt": b"\0" * 99})


def test_several_processes_find_the_same(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    root = fleet(write, 40)
    one = lint(Request([str(root)], processes=1, hashes=True))
    two = lint(Request([str(root)], processes=2, hashes=True))
    assert one == two
    assert len(two.crafts) == 38
    monkeypatch.setattr(runner, "_processors", lambda: 2)
    assert lint(Request([str(root)], hashes=True)) == one


def test_few_files_need_no_second_process(
    hangar: Path, monkeypatch: pytest.MonkeyPatch, rules: list[Rule]
) -> None:
    import sys

    rules.append(made("a/holds"))
    monkeypatch.setitem(sys.modules, "cfglint.runner.pool", None)
    assert len(lint(Request([str(hangar)])).crafts) == 2


def test_processors_where_affinity_is_not_known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert runner._processors() == 1


def test_the_collector_is_left_as_it_was(hangar: Path, rules: list[Rule]) -> None:
    import gc

    rules.append(made("a/holds"))
    assert gc.isenabled()
    lint(Request([str(hangar)]))
    assert gc.isenabled()
    gc.disable()
    try:
        lint(Request([str(hangar)], processes=2))
        assert not gc.isenabled()
    finally:
        gc.enable()
