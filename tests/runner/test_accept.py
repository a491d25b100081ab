"""Accepting: what an accept reaches, and what is told of one that is not sound."""

from __future__ import annotations

from pathlib import Path

import pytest

from cfglint.dialect import bundled
from cfglint.dump.source import Source
from cfglint.errors import Problem, Problems
from cfglint.finding import Finding
from cfglint.results import Run
from cfglint.runner.accept import day, today
from cfglint.runner.accept_file import read_recorded, without
from cfglint.runner.accept_notes import notes
from cfglint.runner.accept_rules import RULES
from cfglint.runner.config import parse_config
from cfglint.runner.lint import Request, lint
from cfglint.tomlwrite import text as quoted

from .conftest import CARD, CONFIG, DUMP, Write

TODAY = "2026-11-25"
SOUND = "because it flies well, by Ines, until 2027-03-31"
SIGNAL = "motor/left-on-default-signal"
#: Ground (the signal) and two of grade fix on equal lines further down.
FAULTY = """\
-- board SLATE, firmware 7.9, changes only
let name-given be "Avocet"
let motor-signal be brushed
let loop-rate be 4000
let least-spin be 5.9
let least-spin be 5.6
let least-spin be 5.9
stow
"""


def checked(root: Path, *only: str, **more: str) -> Run:
    return lint(Request([str(root)], only=only, today=TODAY, **more))  # type: ignore[arg-type]


def noted(note: str, dump: str = FAULTY, before: str = "let motor-signal") -> str:
    return dump.replace(before, f"-- cfglint: {note}\n{before}", 1)


def at(found: list[Finding]) -> list[tuple[str, int, bool]]:
    return [(one.rule, one.span.line, one.accepted is not None) for one in found]


@pytest.fixture
def faulty(write: Write) -> Path:
    return write(
        {
            "cfglint.toml": CONFIG,
            "dumps/avocet.dump.txt": FAULTY,
            "dumps/bittern.dump.txt": FAULTY.replace("Avocet", "Bittern"),
            "cards/avocet.toml": CARD,
            "cards/bittern.toml": CARD.replace("Avocet", "Bittern"),
        }
    )


def with_note(faulty: Path, note: str, before: str = "let motor-signal") -> None:
    path = faulty / "dumps/avocet.dump.txt"
    path.write_text(noted(note, before=before), encoding="utf-8")


def with_entry(faulty: Path, *lines: str, name: str = "cfglint.toml") -> None:
    path = faulty / name
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    path.write_text("\n".join([before, "[[accept]]", *lines, ""]), encoding="utf-8")


DECIDED = ("reason = 'it flies well'", "by = 'Ines'", "until = 2027-03-31")


# ---------------------------------------------------------------- in the dump


def test_a_note_reaches_the_next_line_of_its_dump(faulty: Path) -> None:
    with_note(faulty, f"accept {SIGNAL} {SOUND}")
    run = checked(faulty, SIGNAL)
    assert [(one.file, one.accepted is not None) for one in run.findings] == [
        ("dumps/avocet.dump.txt", True),
        ("dumps/bittern.dump.txt", False),
    ]
    accepted = run.findings[0].accepted
    assert accepted is not None
    assert accepted[:3] == ("it flies well", "Ines", "2027-03-31")
    assert str(accepted.span) == "dumps/avocet.dump.txt:3:4"
    assert [rule.id for rule in run.rules] == [SIGNAL]
    assert run.exit_code() == 1


def test_not_the_line_after_the_next(faulty: Path) -> None:
    with_note(faulty, f"accept dump/set-twice {SOUND}", "let least-spin be 5.6")
    assert at(checked(faulty, "dump/set-twice").findings)[:2] == [
        ("dump/set-twice", 7, True),
        ("dump/set-twice", 8, False),
    ]


def test_over_blanks_other_notes_and_refusals(faulty: Path) -> None:
    note = f"accept motor/idle-too-low {SOUND}\n\n-- a note\n!! not taken: no\n-- cfglint: "
    with_note(faulty, note + f"accept {SIGNAL} {SOUND}")
    run = checked(faulty, SIGNAL)
    assert at(run.findings)[0] == (SIGNAL, 8, True)


def test_a_note_for_the_whole_craft(faulty: Path) -> None:
    with_note(faulty, f"accept-craft dump/set-twice {SOUND}")
    found = checked(faulty, "dump/set-twice").findings
    assert [one.accepted is not None for one in found] == [True, True, False, False]


def test_what_a_note_says() -> None:
    def said(line: str) -> list[tuple[str, ...]]:
        source = Source.from_text("a.txt", line + "\nstow\n")
        return [tuple(one[:4]) for one in notes(source, bundled("plain"))]

    assert said("-- cfglint: accept a/b because x, y, by Ines, until 2027-01-01") == [
        ("a/b", "x, y", "Ines", "2027-01-01")
    ]
    assert said("-- cfglint:accept a/b because x, until 2027-01-01, by Ines Ora.") == [
        ("a/b", "x", "Ines Ora", "2027-01-01")
    ]
    assert said("-- cfglint: accept a/b because x, by and large, by Ines") == [
        ("a/b", "x, by and large", "Ines", "")
    ]
    assert said("-- cfglint: accept a/b") == [("a/b", "", "", "")]
    assert said("-- cfglint: accept a/b, by Ines") == [("a/b", "", "Ines", "")]
    assert said("-- cfglint: accept a/b by Ines") == [("a/b", "", "Ines", "")]
    assert said("-- cfglint: accept a/b for fun, by Ines") == [("a/b", "", "Ines", "")]
    assert said("-- cfglint: accept") == [("", "", "", "")]
    assert said("-- cfglint: accepted a/b because x") == []
    assert said("-- cfglint: dialect plain, accept it") == []
    assert said('let name-given be "cfglint: accept a/b because x, by Ines"') == []
    assert said("-- cfglint: accept a/b because " + "x" * 2000) == []


def test_a_note_before_nothing(faulty: Path) -> None:
    path = faulty / "dumps/avocet.dump.txt"
    path.write_text(FAULTY + f"-- cfglint: accept {SIGNAL} {SOUND}\n", encoding="utf-8")
    (told,) = [one for one in checked(faulty, SIGNAL).findings if one.rule.startswith("accept/")]
    assert "at the end of the file, where no line follows" in told.message


# ---------------------------------------------------------------- in the hangar's files


@pytest.mark.parametrize(
    ("where", "lines"),
    [
        (("craft = 'Avocet'",), [6, 7]),
        (("file = 'dumps/avocet.dump.txt'",), [6, 7]),
        (("file = 'dumps/avocet.dump.txt'", "craft = 'Bittern'"), []),
        (("craft = 'Avocet'", "line = 'let  least-spin be 5.6'"), [6]),
        (("craft = 'Avocet'", "setting = 'motor.idle_percent'"), [7]),
        (("craft = 'Avocet'", "setting = 'motor.signal'"), []),
        (("craft = 'Avocet'", "print = '0'"), []),
    ],
)
@pytest.mark.parametrize("name", ["cfglint.toml", "accepted.toml"])
def test_what_an_entry_reaches(
    faulty: Path, where: tuple[str, ...], lines: list[int], name: str
) -> None:
    with_entry(faulty, "rule = 'dump/set-twice'", *where, *DECIDED, name=name)
    run = checked(faulty, "dump/set-twice")
    accepted = [one for one in run.findings if one.accepted is not None]
    assert [one.span.line for one in accepted] == lines
    assert {one.file for one in accepted} <= {"dumps/avocet.dump.txt"}
    told = [one for one in run.findings if one.rule == "accept/matches-nothing"]
    assert len(told) == (not lines)
    assert all(one.span.file == name and one.craft == "" for one in told)


def test_a_finding_in_the_card(faulty: Path) -> None:
    (faulty / "dumps/avocet.dump.txt").write_text(
        DUMP + "use self-right while channel 6 in 1710..2120\n", encoding="utf-8"
    )
    (faulty / "cards/avocet.toml").write_text(
        CARD + "firmware = '3.5'\nfirmware_order = 'decimal'\nreverses_from = '3.58'\n",
        encoding="utf-8",
    )
    rule = "motor/self-right-firmware-too-old"
    with_entry(faulty, f"rule = '{rule}'", "craft = 'Avocet'", "setting = 'esc.firmware'", *DECIDED)
    (found,) = checked(faulty, rule).findings
    assert (found.span.file, found.accepted is not None) == ("cards/avocet.toml", True)


def test_by_fingerprint_over_unrelated_edits(faulty: Path) -> None:
    prints = [one.print for one in checked(faulty, "dump/set-twice").findings]
    where = ("rule = 'dump/set-twice'", "file = 'dumps/avocet.dump.txt'")
    with_entry(faulty, *where, f"print = '{prints[1]}'", *DECIDED)
    path = faulty / "dumps/avocet.dump.txt"
    path.write_text(FAULTY.replace("let loop", "-- new\nlet bell-magnet be 14\nlet loop"))
    found = checked(faulty, "dump/set-twice").findings
    assert at(found)[:2] == [("dump/set-twice", 8, False), ("dump/set-twice", 9, True)]


def test_by_fingerprint_after_the_rule_was_renamed(
    faulty: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cfglint.plugins import Loaded, load_rules

    old = checked(faulty, SIGNAL).findings[0]
    with_entry(faulty, f"rule = '{SIGNAL}'", f"file = '{old.file}'", f"print = '{old.print}'",
               *DECIDED)  # fmt: skip
    for names in (("motor/newer",), ("motor/newest", "motor/newer")):
        rules = [
            rule._replace(id=names[0], aliases=(SIGNAL, *names[1:])) if rule.id == SIGNAL else rule
            for rule in load_rules().rules
        ]
        loaded = Loaded(tuple(rules), ())
        monkeypatch.setattr("cfglint.plugins.load_rules", lambda loaded=loaded: loaded)
        found = checked(faulty, names[0]).findings[0]
        assert (found.print, found.accepted is not None) == (old.print, True)


# ---------------------------------------------------------------- what is wrong with accepts


def told(run: Run) -> list[str]:
    return [f"{one.rule}: {one.message}" for one in run.findings if one.rule.startswith("accept/")]


@pytest.mark.parametrize(
    ("note", "message"),
    [
        (f"accept {SIGNAL}, by Ines, until 2027-01-01", "without-reason: the accept of"),
        (f"accept {SIGNAL} because x, until 2027-01-01", "without-reason: the accept of"),
        (
            f"accept {SIGNAL} because \u200b, by Ines, until 2027-01-01",
            "without-reason: the accept",
        ),
        (
            f"accept {SIGNAL} because x, by \u2060, until 2027-01-01",
            "without-reason: the accept of",
        ),
        ("accept motor/left-on-default because x, by Ines", "unknown-rule: this accept is for"),
        ("accept because x, by Ines", "unknown-rule: this accept is for the rule `because`"),
        ("accept", "unknown-rule: this accept names no rule"),
        (f"accept dump/unreadable-line {SOUND}", "unknown-rule: `dump/unreadable-line` cannot be"),
        (f"accept accept/out-of-date {SOUND}", "unknown-rule: `accept/out-of-date` cannot be"),
        (f"accept {SIGNAL} because x, by Ines, until 2026-11-24", "out-of-date: the accept of"),
        (f"accept {SIGNAL} because x, by Ines, until 2026-13-01", "out-of-date: `2026-13-01` is"),
        (f"accept {SIGNAL} because x, by Ines, until 20270101", "out-of-date: `20270101` is no"),
        (f"accept {SIGNAL} because x, by Ines", f"out-of-date: `{SIGNAL}` is a `ground` finding"),
    ],
)
def test_an_accept_that_is_not_sound_accepts_nothing(faulty: Path, note: str, message: str) -> None:
    with_note(faulty, note)
    run = checked(faulty, SIGNAL)
    (text,) = told(run)
    assert text.startswith("accept/" + message)
    assert all(one.accepted is None for one in run.findings)
    own = run.findings[-1]
    assert (own.file, own.craft, own.span.line) == ("dumps/avocet.dump.txt", "Avocet", 3)
    assert own.excerpt.lines == (f"-- cfglint: {note}",)
    assert own.instead
    assert own.print
    assert {rule.id for rule in run.rules} == {SIGNAL, own.rule}
    assert run.exit_code() == 1


def test_today_is_still_in_time(faulty: Path) -> None:
    with_note(faulty, f"accept {SIGNAL} because x, by Ines, until {TODAY}")
    assert told(checked(faulty, SIGNAL)) == []


def test_an_entry_that_lacks_all(faulty: Path) -> None:
    with_entry(faulty, f"rule = '{SIGNAL}'", "craft = 'Avocet'")
    assert [text.partition("`")[0] for text in told(checked(faulty, SIGNAL))] == [
        "accept/without-reason: the accept of ",
        "accept/without-reason: the accept of ",
    ]


def test_matching_nothing(faulty: Path) -> None:
    with_note(faulty, f"accept {SIGNAL} {SOUND}", "let loop-rate")
    (text,) = told(checked(faulty, SIGNAL))
    assert text.startswith(f"accept/matches-nothing: `{SIGNAL}` finds nothing at the next line")
    with_note(faulty, f"accept-craft motor/command-outlasts-loop {SOUND}")
    (text,) = told(checked(faulty, "motor"))
    assert "finds nothing at what it is for" in text
    # A rule that this run leaves out finds nothing either, and that says nothing.
    assert told(checked(faulty, SIGNAL)) == []


def test_what_cannot_be_told_is_not_stale(faulty: Path) -> None:
    # Without the card the rule does not know.
    (faulty / "cards/avocet.toml").unlink()
    rule = "motor/signal-esc-does-not-speak"
    with_note(faulty, f"accept-craft {rule} {SOUND}")
    path = faulty / "dumps/avocet.dump.txt"
    path.write_text(path.read_text(encoding="utf-8").replace("brushed", "dshot300"))
    assert checked(faulty, rule).outcomes[0].state == "unknown"
    assert told(checked(faulty, rule)) == []


@pytest.mark.parametrize(
    ("where", "part", "whole"),
    [
        ("craft = 'Bittern'", 0, 0),
        ("craft = 'Egret'", 0, 1),
        ("file = 'dumps/egret.dump.txt'", 1, 1),
        ("file = 'dumps/bittern.dump.txt'", 0, 0),
        ("file = 'cards/avocet.toml'", 0, 1),
    ],
)
def test_a_craft_that_is_not_there(faulty: Path, where: str, part: int, whole: int) -> None:
    with_entry(faulty, f"rule = '{SIGNAL}'", where, *DECIDED)
    assert len(told(checked(faulty / "dumps/avocet.dump.txt", SIGNAL))) == part
    assert len(told(checked(faulty, SIGNAL))) == whole


def test_a_dump_that_cannot_be_read_leaves_it_open(faulty: Path) -> None:
    (faulty / "dumps/bittern.dump.txt").write_bytes(b"")
    with_entry(faulty, f"rule = '{SIGNAL}'", "craft = 'Bittern'", *DECIDED)
    run = checked(faulty, SIGNAL)
    assert told(run) == []
    assert run.exit_code() == 3


def test_two_for_one_finding(faulty: Path) -> None:
    with_note(faulty, f"accept {SIGNAL} {SOUND}\n-- cfglint: accept-craft {SIGNAL} {SOUND}")
    run = checked(faulty, SIGNAL)
    assert told(run) == []
    accepted = run.findings[0].accepted
    assert accepted is not None
    assert accepted.span is not None
    assert accepted.span.line == 3


def test_a_former_name_will_do(faulty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from cfglint.plugins import Loaded, load_rules

    rules = [
        rule._replace(aliases=("motor/brushed",)) if rule.id == SIGNAL else rule
        for rule in load_rules().rules
    ]
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded(tuple(rules), ()))
    with_note(faulty, f"accept motor/brushed {SOUND}")
    assert checked(faulty, SIGNAL).findings[0].accepted is not None


def test_the_day_of_the_run(faulty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_note(faulty, f"accept {SIGNAL} because x, by Ines, until 2001-01-01")
    assert len(told(lint(Request([str(faulty)], only=[SIGNAL])))) == 1
    monkeypatch.setattr("cfglint.runner.accept_run.today", lambda: "2000-12-31")
    assert told(lint(Request([str(faulty)], only=[SIGNAL]))) == []


def test_in_several_processes(faulty: Path) -> None:
    with_note(faulty, f"accept {SIGNAL} {SOUND}")
    one = lint(Request([str(faulty)], today=TODAY))
    two = lint(Request([str(faulty)], today=TODAY, processes=2))
    assert one.outcomes == two.outcomes


def test_dates() -> None:
    assert day(today()) == today()
    assert [day(text) for text in ("2027-02-29", "2028-02-29", "2027-W01-1", "")] == [
        "", "2028-02-29", "", "",
    ]  # fmt: skip


def test_the_pages_of_the_engines_rules() -> None:
    from cfglint.craft import Craft
    from cfglint.dialect import read_craft
    from cfglint.rule import Options, judge

    craft: Craft = read_craft(Source.from_text("a.txt", DUMP), bundled("plain"))
    for rule in RULES:
        outcome = judge(rule, craft, Options({}))
        assert (outcome.state, outcome.reason[:8]) == ("not for this craft", "it is ab")


# ---------------------------------------------------------------- the files themselves


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (["rule = 'a/b'"], "1:1: `accept[1]` says neither `craft` nor `file`; name one"),
        (["craft = 'A'"], "1:1: the table `accept[1]` lacks `rule`"),
        (["rule = 'a/b'", "craft = 'A'", "untl = 1"], "4:1: `untl` means nothing in `accept[1]`"),
        (["rule = 'a/b'", "craft = 'A'", "until = 'x'"], "4:9: `accept[1].until` is `x`, which is"),
        (
            ["rule = 'a/b'", "craft = 'A'", "setting = 'motor.signl'"],
            "4:11: `accept[1].setting` is `motor.signl`, which is no setting; did you mean "
            "`motor.signal`?",
        ),
        (["rule = 'a/b'", "file = '/a'"], "3:8: `accept[1].file` is `/a`, which leads out of"),
    ],
)
def test_mistakes(
    rows: list[str], message: str, faulty: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(faulty)
    text = "\n".join(["[[accept]]", *rows])
    with pytest.raises(Problem) as caught:
        parse_config("cfglint.toml", "/club", text.encode())
    assert not isinstance(caught.value, Problems)
    assert str(caught.value).startswith("cfglint.toml:" + message)
    (faulty / "accepted.toml").write_text(text, encoding="utf-8")
    with pytest.raises(Problem) as caught:
        checked(faulty)
    assert str(caught.value).startswith("accepted.toml:" + message)
    assert caught.value.exit == 2


def test_family_members_are_settings() -> None:
    text = "[[accept]]\nrule = 'a/b'\ncraft = 'A'\nsetting = 'channel.3.low_us'"
    assert parse_config("cfglint.toml", "/club", text.encode())


def test_texts_as_toml() -> None:
    import tomllib

    for text in ('a "b" \\ \n \x7f \x01', "Über 𝄞", "a\udc80"):
        assert tomllib.loads(f"k = {quoted(text)}")["k"] == text.replace("\udc80", "?")


def test_taking_blocks_out(tmp_path: Path) -> None:
    assert read_recorded(str(tmp_path)) is None
    blocks = [f"[[accept]]\n# n\nrule = 'a/{at}'\ncraft = 'A'\n" for at in range(3)]
    text = "# head\n\n" + "\n".join(blocks)
    (tmp_path / "accepted.toml").write_text(text, encoding="utf-8")
    document = read_recorded(str(tmp_path))
    assert document is not None
    assert without(text, document, [1]) == "# head\n\n" + "\n".join([blocks[0], blocks[2]])
    assert without(text, document, [0, 1, 2]) == "# head\n"


@pytest.mark.parametrize("scope", ["accept", "accept-craft"])
@pytest.mark.parametrize("before", range(2, 8))
def test_never_beyond_its_line_or_craft(faulty: Path, before: int, scope: str) -> None:
    """Wherever a note stands, it takes its own line's findings and no other, or its craft's."""
    path = faulty / "dumps/avocet.dump.txt"
    plain = [(one.file, one.rule, one.message) for one in checked(faulty).findings]
    lines = FAULTY.splitlines()
    rules = {one.rule for one in checked(faulty).findings}
    notes = [f"-- cfglint: {scope} {rule} {SOUND}" for rule in sorted(rules)]
    lines[before - 1 : before - 1] = notes
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    found = [one for one in checked(faulty).findings if not one.rule.startswith("accept/")]
    # The notes change no finding but by what is said of lines further down.
    assert [(one.file, one.rule) for one in found] == [row[:2] for row in plain]
    target = before + len(notes)
    for one in found:
        mine = one.file == "dumps/avocet.dump.txt"
        assert (one.accepted is not None) == (
            mine and (scope == "accept-craft" or one.span[:2] == (one.file, target))
        )


def test_readme_shows_what_works(root: Path) -> None:
    import re
    import tomllib

    page = (root / "README.md").read_text(encoding="utf-8")
    (note,) = re.findall(r"^-- cfglint: accept .*$", page, re.M)
    (accept,) = notes(Source.from_text("a.txt", note + "\nstow\n"), bundled("plain"))
    (block,) = re.findall(r"^\[\[accept\]\]\n.*?(?=^```)", page, re.M | re.S)
    assert parse_config("cfglint.toml", "/club", block.encode())
    (row,) = tomllib.loads(block)["accept"]
    assert accept[:4] == (row["rule"], row["reason"], row["by"], str(row["until"]))


@pytest.mark.parametrize(
    ("dialect", "text"),
    [
        ("plain", "-- cfglint: accept a/b because x, by Ines\nstow\n"),
        ("terse", "; cfglint: accept a/b because x, by Ines\nstow\n"),
        ("blocks", "// cfglint: accept a/b because x, by Ines\nmotors {\n"),
    ],
)
def test_in_every_bundled_dialect(dialect: str, text: str) -> None:
    (accept,) = notes(Source.from_text("a.txt", text), bundled(dialect))
    assert accept[:3] == ("a/b", "x", "Ines")
    assert accept.reach == 2


def test_one_word_about_one_accept(faulty: Path) -> None:
    """A dateless accept of two `ground` findings of one craft is told of once."""
    from cfglint.rule import Finding, rule

    @rule("two/grounds", grade="ground", title="t", why="w", source="common practice")
    def grounds(craft: object, options: object) -> list[Finding]:
        whole = craft.whole  # type: ignore[attr-defined]
        return [Finding(whole, "one"), Finding(whole, "two")]

    from cfglint.plugins import Loaded

    with_entry(faulty, "rule = 'two/grounds'", "craft = 'Avocet'", "reason = 'x'", "by = 'I'")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cfglint.plugins.load_rules", lambda: Loaded((grounds,), ()))
        run = checked(faulty)
    assert len(told(run)) == 1
    assert all(one.accepted is None for one in run.findings)
