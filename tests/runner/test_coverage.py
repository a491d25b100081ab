"""What a dialect understands of dumps, and what its gaps leave unknown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import cfglint_grammars
from cfglint.craft.settings import MODES, SETTINGS
from cfglint.dialect import load_dialect
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.plugins import Loaded
from cfglint.rule import Finding, bad, good, rule
from cfglint.runner.config import read_config
from cfglint.runner.coverage import Coverage, Gap, coverage, grouped
from cfglint.runner.one import One, read_one

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.dialect import Dialect

SHAPE = """\
[dialect]
id = "reed"
[marks]
assign = "put {name} {value}"
removal = "drop {name}"
yes = "with"
no = "without"
save = "stow"
comment = "#"
refusal = "no: {reason}"
"""
BLOCKS = SHAPE + 'open = "{title} {"\nclose = "}"\n'


def one_of(dialect: Dialect, text: str, file: str = "x.txt", **more: Any) -> One:
    made = One(Source.from_text(file, text), dialect, None, "", None, None, (), lambda _: dialect)
    return made._replace(**more)


def cover(text: str, *dumps: str, shape: str = SHAPE) -> Coverage:
    dialect = load_dialect("reed.toml", f"{shape}{text}".encode())
    return coverage("reed.toml", dialect, [one_of(dialect, dump) for dump in dumps])


def lines(text: str, dump: str, shape: str = SHAPE) -> list[tuple[str, int, int, str, str, str]]:
    """State, line, column, text, name and reason of what is not understood."""
    found = cover(text, dump, shape=shape)
    rows = [(one.state, *one.span[1:3], one.text, one.name, one.why) for one in found.lines]
    total = sum(found.count(state) for state in ("understood", "half", "unknown", "aside"))
    # A line that only closes a bracket is none of its own.
    assert total == len([line for line in dump.split("\n") if line.strip() not in ("", "}")])
    return rows


SETTINGS_TEXT = """
[map]
"motor.poles" = { at = "put magnets" }
"motor.signal" = { at = "put talk", words = { dshot300 = 36, dshot600 = 29 } }
"log.on" = { at = "{value} log" }
[modes]
arm = "go"
[[rows]]
at = "{mode} on {channel} {low}-{high}"
makes = "range"
[[rows]]
at = "port {N} carries {what}"
sets = { what = "port.N.functions" }
[kept]
at = ["put lamp *"]
"""


# ---------------------------------------------------------------- lines


def test_all_is_understood() -> None:
    dump = "# hello\nput magnets 12\nwith log\ngo on 5 1650-2045\nport 1 carries gps\n"
    dump += "put lamp-a 3\nstow\ndrop magnets\nput talk 36\nno: locked\n"
    found = cover(SETTINGS_TEXT, dump)
    assert found.lines == ()
    (tally,) = found.dumps
    # A comment, a kept and an ignored line, a refused line and its refusal are passed over.
    assert (tally.understood, tally.half, tally.unknown, tally.aside) == (5, 0, 0, 5)
    assert found.percent() == 100
    assert found.exit_code() == 0


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("put osd 1", ("unknown", 1, 5, "osd", "the dialect has no meaning for it")),
        (
            "  put magnet 1",
            ("unknown", 1, 7, "magnet",
             "the dialect has no meaning for it; the nearest it has is `magnets`"),
        ),
        ("\x07", ("unknown", 1, 1, "",
                  "it holds control characters, so the file is damaged or no dump")),
        ("put talk 5", ("half", 1, 10, "motor.signal", "`5` may be 36, 29")),
        ("beep on 5 1-2", ("half", 1, 1, "range", "`beep` may be go")),
        ("with magnets", ("half", 1, 1, "with",
                          "`magnets` has a meaning in lines of another form")),
        ("port 1 holds gps", ("half", 1, 1, "port",
                              "it begins like `port {N} carries {what}` and does not fit it")),
    ],
)  # fmt: skip
def test_a_line_that_is_not(line: str, row: tuple[str, int, int, str, str]) -> None:
    ((state, number, column, text, name, why),) = lines(SETTINGS_TEXT, line)
    assert (state, number, column, name, why) == row
    assert text == line.strip()


def test_a_name_of_another_version() -> None:
    text = SETTINGS_TEXT + '[identity]\nlines = ["# reed {firmware}"]\n'
    text += '[[changes]]\nat = "2.0"\nrename = { magnets = "poles" }\n'
    (row,) = lines(text, "# reed 2.1\nput magnets 12\nput poles 12")
    assert row[0] == "half"
    assert row[5] == "firmware 2.1 calls it `poles`"
    (row,) = lines(text, "put poles 12")
    assert row[5] == "firmware of this dump calls it `magnets`"


SECTIONS = """
[map]
"motor.poles" = { at = "drive > put magnets" }
"motor.idle_percent" = { at = "drive > more > put idle" }
"port.N.baud" = { at = "ports > put baud-N" }
"stick.low_us" = { at = "put low" }
[kept]
at = ["put lamp"]
"""


def test_sections() -> None:
    dump = """\
drive {
  put magnets 12
  more {
    put idle 5
  }
}
osd {
  put left 1
  put magnets 12
  put baud-2 9600
  put low 3
}
lights {
  put lamp 3
}
deep {
  inner {
    put lamp 3
  }
}
empty {
}
more {
}
"""
    assert [(one[0], one[1], one[4], one[5]) for one in lines(SECTIONS, dump, BLOCKS)] == [
        ("unknown", 8, "left", "it stands in `osd`, of which the dialect is silent"),
        ("half", 9, "magnets", "this name has a meaning only under `drive`"),
        ("half", 10, "baud-2", "this name has a meaning only under `ports`"),
        ("half", 21, "empty {", "the dialect speaks of no such section"),
    ]
    # `low` stands under no title in the dialect, so it is read wherever it stands.


def test_a_name_in_its_section_and_in_the_wrong_form() -> None:
    ((state, _, _, _, _, why),) = lines(SECTIONS, "drive {\nwith magnets\n}", BLOCKS)
    assert (state, why) == ("half", "`magnets` has a meaning only under `drive`")


def test_a_family_in_the_wrong_section_of_an_unknown_name() -> None:
    rows = lines(SECTIONS, "ports {\nput baud-2 9600\nput baud-x 1\nput osd 1\n}", BLOCKS)
    # A family's members are numbered, so `baud-x` is none.
    assert [(row[0], row[4]) for row in rows] == [("unknown", "baud-x"), ("unknown", "osd")]


def test_a_name_that_belongs_in_a_section() -> None:
    ((state, _, _, _, _, why),) = lines(SECTIONS, "put magnets 12", BLOCKS)
    assert (state, why) == ("half", "this name has a meaning only under `drive`")


# ---------------------------------------------------------------- groups


def test_groups() -> None:
    dump = "".join(f"put filter-{name} 1\n" for name in "abc") + "put osd1 1\nput osd2 2\n"
    dump += (
        "put filter-magnets 1\nput 201 1\nput 202 1\nput talk 5\nput talk 7\nput talk 8\nput z 1\n"
    )
    found = grouped(cover(SETTINGS_TEXT, dump).lines)
    assert [(one.state, one.label, len(one.lines), one.why) for one in found] == [
        ("unknown", "filter-*", 4, "the dialect has no meaning for it"),
        ("unknown", "osd*", 2, "the dialect has no meaning for it"),
        ("unknown", "numbers for names", 2, "the dialect has no meaning for it"),
        ("unknown", "z", 1, "the dialect has no meaning for it"),
        (
            "half", "motor.signal", 3,
            "`5` may be 36, 29; `7` may be 36, 29; and 1 such reasons more",
        ),
    ]  # fmt: skip


def test_nothing_is_in_two_groups_or_in_none() -> None:
    dump = "put a-b 1\nput a-c 1\n\x07\nput talk 5\nput q 1\nput a 1\n"
    found = cover(SETTINGS_TEXT, dump)
    inside = [line for group in grouped(found.lines) for line in group.lines]
    assert sorted(inside) == sorted(found.lines)


# ---------------------------------------------------------------- gaps


def gap(found: Coverage, name: str) -> Gap | None:
    return next((one for one in found.gaps if one.name == name), None)


def fleet(root: Path, name: str, *without: str) -> Coverage:
    """What is understood of the fleet's dumps of a dialect that lacks some of its lines."""
    text = cfglint_grammars.read(f"{name}.toml").decode().partition("[[examples]]")[0]
    kept = [line for line in text.split("\n") if not any(word in line for word in without)]
    dialect = load_dialect(f"{name}.toml", "\n".join(kept).encode())
    dumps = sorted((root / "fixtures" / "saltmarsh" / "dumps").iterdir())
    ones = [one for one in (read_one(str(path)) for path in dumps) if one.dialect.id == name]
    return coverage(f"{name}.toml", dialect, ones)


@pytest.mark.parametrize("name", ["plain", "terse", "blocks"])
def test_the_bundled_dialects_lack_nothing_that_matters(root: Path, name: str) -> None:
    found = fleet(root, name)
    assert [one.name for one in found.gaps if one.unknown or one.asked] == []
    assert found.crashed == ()
    assert found.judged > 60


def test_rules_that_miss_a_setting(root: Path) -> None:
    found = fleet(root, "plain", "motor-signal")
    missing = gap(found, "motor.signal")
    assert missing is not None
    assert found.gaps[0] is missing
    assert "motor/left-on-default-signal" in missing.unknown
    assert missing.weight >= 9
    # Worst first, and in no list twice.
    assert missing.unknown[0] != "motor/two-way-outlasts-loop"
    assert not set(missing.unknown) & set(missing.asked)


def test_rules_are_unknown_just_where_they_are_said_to_be(root: Path) -> None:
    """Reference: the same rules judged one by one, on dumps read by the dialect with its gap."""
    from cfglint.dialect import read_craft
    from cfglint.plugins import load_rules
    from cfglint.rule import FleetRule, Options, judge

    text = cfglint_grammars.read("plain.toml").decode().partition("[[examples]]")[0]
    text = "\n".join(line for line in text.split("\n") if "receiver-link" not in line)
    dialect = load_dialect("plain.toml", text.encode())
    path = root / "fixtures" / "saltmarsh" / "dumps" / "bittern.dump.txt"
    one = read_one(str(path))
    craft = read_craft(one.source, dialect, one.card, one.name, one.extent)
    expected = set()
    for item in load_rules().rules:
        if not isinstance(item, FleetRule):
            options = Options({option.name: option.default for option in item.options})
            outcome = judge(item, craft, options)
            if any(lack.fact == "receiver.link" and lack.where == "dump" for lack in outcome.lacks):
                expected.add(item.id)
    assert expected
    missing = gap(coverage("plain.toml", dialect, [one]), "receiver.link")
    assert missing is not None
    assert set(missing.unknown) == expected


def test_what_rules_never_get_to_ask(root: Path) -> None:
    """Without a link no rule asks for its baud; examples of those that stop there do."""
    found = fleet(root, "blocks", "radio", "receiver.link", "sumd =")
    baud = gap(found, "receiver.baud")
    assert baud is not None
    assert baud.unknown == ()
    assert "receiver/baud-off-the-link" in baud.asked


def test_modes_links_and_ranges(root: Path) -> None:
    found = fleet(root, "plain", "self-right = ", "range_ends")
    mode = gap(found, "mode self-right")
    assert mode is not None
    assert mode.asked
    assert mode.about == MODES["self-right"]
    trait = gap(found, "trait range_ends")
    assert trait is not None
    assert "high end" in trait.about
    bare = cover('[map]\n"motor.poles" = { at = "put magnets" }', "put magnets 12")
    names = [one.name for one in bare.gaps]
    assert {"range", "link"} <= set(names)
    assert "mode arm" not in names  # nothing says a mode at all: that is told once, as `range`
    assert "motor.poles" not in names
    assert {"craft.board", "craft.firmware"} <= set(names)
    # Everything there is, but for what is mapped.
    assert {one for one in names if "." in one} == set(SETTINGS) - {"motor.poles"}
    assert names.index("motor.signal") < names.index("video.power_mw")


def test_what_rules_miss_of_the_dialect() -> None:
    """A rule may miss the mapping itself: then what is absent is unknown."""
    bare = cover('[map]\n"motor.poles" = { at = "put magnets" }', "put magnets 12")
    ranges, action = gap(bare, "range"), gap(bare, "failsafe.action")
    assert ranges is not None
    assert action is not None
    assert "modes/arm-missing" in ranges.unknown
    assert "failsafe/never-set" in action.unknown
    form = '[modes]\nlog = "log"\n[[rows]]\nat = "{mode} on {channel} {low}-{high}"\n'
    form += 'makes = "range"\n'
    arm = gap(cover(form, "log on 5 1650-2045"), "mode arm")
    assert arm is not None
    assert arm.unknown == ("modes/arm-missing",)


def test_words_of_modes_may_be_the_neutral_ones() -> None:
    form = '[[rows]]\nat = "{mode} on {channel} {low}-{high}"\nmakes = "range"\n'
    assert [one.name for one in cover(form, "arm on 5 1-2").gaps if one.name[:5] == "mode "] == []


def test_gaps_of_one_version() -> None:
    text = """
    [identity]
    lines = ["# reed {firmware}"]
    [map]
    "motor.poles" = { at = "put magnets" }
    [[changes]]
    at = "2.0"
    remove = { magnets = "gone" }
    """
    found = cover(text, "# reed 1.0\nput magnets 12", "# reed 2.0")
    missing = gap(found, "motor.poles")
    assert missing is not None
    assert missing.at == ("2.0",)
    signal = gap(found, "motor.signal")
    assert signal is not None
    assert signal.at == ()
    assert [dump.firmware for dump in found.dumps] == ["1.0", "2.0"]


def test_what_a_card_would_say_is_apart(root: Path) -> None:
    dumps = root / "fixtures" / "saltmarsh" / "dumps"
    one = read_one(str(dumps / "bittern.dump.txt"))
    whole = coverage("plain", one.dialect, [one])
    bare = coverage("plain", one.dialect, [one._replace(card=None)])
    assert one.card is not None
    assert not set(whole.wanting_card) & set(one.card.values)
    assert "esc.signals" not in whole.wanting_card
    assert "esc.signals" in bare.wanting_card
    assert [one.name for one in bare.gaps if one.unknown] == []


def test_what_a_dump_does_not_say(root: Path) -> None:
    found = fleet(root, "plain")
    assert found.unsaid == ("motor.idle_percent",)  # Dunlin's line has a slip in it


# ---------------------------------------------------------------- unconfirmed


def test_unconfirmed_mappings() -> None:
    text = """
[map]
"motor.poles" = { at = "put magnets", sure = false }
"motor.signal" = { at = "put talk", words = { dshot300 = 36, dshot600 = 29 } }
"""
    found = cover(text, "put magnets 12\nput talk 36", "put magnets 14")
    (doubt,) = found.doubts
    assert (doubt.name, doubt.written, doubt.lines) == ("motor.poles", "magnets", 2)
    assert doubt.mark == "reed.toml:13:39"
    assert cover(text.replace(", sure = false", ""), "put talk 36").doubts == ()


# ---------------------------------------------------------------- rules that go wrong


def with_rules(monkeypatch: pytest.MonkeyPatch, *rules: Any, problems: Any = ()) -> None:
    monkeypatch.setattr("cfglint.plugins.load_rules", lambda: Loaded(tuple(rules), tuple(problems)))


def make_rule(check: Any, examples: Any = (), name: str = "own/one") -> Any:
    return rule(name, grade="fix", title="t", why="w", source="common practice",
                examples=examples)(check)  # fmt: skip


def test_a_rule_that_crashes(monkeypatch: pytest.MonkeyPatch) -> None:
    def check(craft: Any, options: Any) -> Any:
        raise RuntimeError("never mind")

    with_rules(monkeypatch, make_rule(check))
    found = cover(SETTINGS_TEXT, "put magnets 12")
    assert found.crashed == ("own/one",)
    assert found.exit_code() == 3


def test_examples_that_cannot_be_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rule that stops at a missing fact, with examples of which only some get any further."""

    def check(craft: Any, options: Any) -> Any:
        craft.need("motor.two_way")
        poles = craft.need("stick.low_us")
        if poles.value == 999:
            raise RuntimeError("an example that crashes")
        yield Finding(craft.place(craft.need("stick.high_us")), "m")

    examples = (
        good("let motor-answers be yes", card="[["),
        good("let motor-answers be yes")._replace(dialect="none"),
        good("let motor-answers be yes\nlet stick-low be 999"),
        bad("let motor-answers be yes\nlet stick-low be 9\nlet stick-high be 9\n    ^^^^^^^^^^ m"),
    )
    with_rules(monkeypatch, make_rule(check, examples))
    found = cover(SETTINGS_TEXT, "put magnets 12")
    by_name = {one.name: one for one in found.gaps}
    assert by_name["motor.two_way"].unknown == ("own/one",)
    assert by_name["stick.low_us"].asked == ("own/one",)
    assert by_name["stick.high_us"].asked == ("own/one",)
    assert [one.name for one in found.gaps[:3]] == [
        "motor.two_way", "stick.low_us", "stick.high_us",
    ]  # fmt: skip
    assert by_name["stick.dead_band_us"].asked == ()


def test_wrong_rules_of_a_hangar(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "cfglint.toml").write_text("[rules]\n'own/nothing' = 'off'\n", encoding="utf-8")
    config = read_config(str(tmp_path / "cfglint.toml"))
    dialect = load_dialect("reed.toml", (SHAPE + SETTINGS_TEXT).encode())
    with pytest.raises(Problem, match="there is no rule `own/nothing`"):
        coverage("reed.toml", dialect, [one_of(dialect, "put magnets 1", config=config)])
    broken = Problem("a pack that did not load")

    def check(craft: Any, options: Any) -> Any:
        yield from ()

    with_rules(monkeypatch, make_rule(check), problems=[broken])
    found = coverage("reed.toml", dialect, [one_of(dialect, "put magnets 12")])
    assert [str(one) for one in found.unread] == [str(broken)]
    assert found.exit_code() == 2
