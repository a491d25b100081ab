"""Comparing: one difference at a time."""

from __future__ import annotations

import pytest

from cfglint.carry.compare import Comparison, Entry, compare, differing_craft, swapped
from cfglint.carry.meaning import consequence, flag_for, wire_inverted
from cfglint.carry.side import Side, read_side
from cfglint.dialect import Dialect, bundled, load_dialect
from cfglint.dump.source import Source

OLD = "-- board SLATE, firmware 7.9, full listing\n"
NEW = "-- board SLATEX, firmware 7.10, full listing\n"


def side(text: str, dialect: str | Dialect = "plain", file: str = "x.txt") -> Side:
    known = bundled(dialect) if isinstance(dialect, str) else dialect
    return read_side(Source.from_text(file, text), known)


def compared(before: str, after: str, dialect: str | Dialect = "plain") -> Comparison:
    return compare(side(before, dialect, "before.txt"), side(after, dialect, "after.txt"))


def only(before: str, after: str, *, old: str = OLD, new: str = OLD) -> Entry:
    """The one difference that is shown, but for those of the identity line."""
    shown = [
        entry
        for entry in compared(old + before, new + after).shown()
        if not entry.name.startswith("craft.")
    ]
    assert len(shown) == 1, shown
    return shown[0]


@pytest.mark.parametrize(
    ("before", "after", "kind", "grade", "enter"),
    [
        ("let motor-signal be dshot300", "", "lost", "ground", "let motor-signal be dshot300"),
        (
            "let motor-signal be dshot300",
            "let motor-signal be dshot600",
            "changed",
            "ground",
            "let motor-signal be dshot300",
        ),
        (
            "let motor-signal be dshot300",
            "let motor-signal be brushed",
            "back at default",
            "ground",
            "let motor-signal be dshot300",
        ),
        ("", "let motor-signal be dshot300", "added", "fix", ""),
        ("", "let cell-count be 4", "added", "advise", ""),
        (
            "use arm while channel 5 in 1735..2160",
            "",
            "lost",
            "ground",
            "use arm while channel 5 in 1735..2160",
        ),
        (
            "use arm while channel 5 in 1735..2160",
            "use arm while channel 6 in 1735..2160",
            "changed",
            "ground",
            "use arm while channel 5 in 1735..2160",
        ),
        (
            "use arm while channel 5 in 1735..2160",
            "use arm only while channel 5 in 1735..2160",
            "changed",
            "ground",
            "use arm while channel 5 in 1735..2160",
        ),
        ("", "use arm while channel 5 in 1735..2160", "added", "ground", ""),
        ("use arm along with log", "", "lost", "ground", "use arm along with log"),
        ("", "use arm along with log", "added", "ground", ""),
        ("let gyro-mood be 3", "", "lost", "advise", "let gyro-mood be 3"),
        ("let gyro-mood be 3", "let gyro-mood be 4", "changed", "advise", "let gyro-mood be 3"),
        ("", "let gyro-mood be 3", "added", "advise", ""),
        ("let strange be 3", "", "lost", "advise", ""),
        ("", "let strange be 3", "not understood", "fix", ""),
        ("", "(unreadable)", "not understood", "fix", ""),
        ("let cell-warn be 3.5", "let cell-warn be 3.7", "changed", "fix", "let cell-warn be 3.5"),
        (
            "channel 1 spans 990 1500 2010",
            "channel 1 spans 990 1500 2000",
            "back at default",
            "fix",
            "channel 1 spans 990 1500 2010",
        ),
    ],
)
def test_one_difference(before: str, after: str, kind: str, grade: str, enter: str) -> None:
    found = only(before + "\n", after + "\n")
    assert (found.kind, found.grade, found.enter) == (kind, grade, enter)
    assert found.enter == found.line
    assert (found.before is None) == (not before)
    assert (found.after is None) == (not after)


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [
        ("let lost-link-wait be 1", "let loss-wait be 1", "renamed"),
        ("let gyro-calm be 1", "let gyro-quiet be 1", "renamed"),
        ("let cell-warn be 3.5", "let cell-warn be 3500", "rescaled"),
        (
            "let receiver-link be sbus\nlet receiver-flip be yes",
            "let receiver-link be sbus\nlet receiver-flip be no",
            "rescaled",
        ),
    ],
)
def test_nothing_to_do(before: str, after: str, kind: str) -> None:
    found = only(before + "\n", after + "\n", new=NEW)
    assert (found.kind, found.grade, found.enter) == (kind, None, "")


def test_a_changed_and_renamed_line_is_entered_under_its_new_name() -> None:
    found = only("let gyro-calm be 1\n", "let gyro-quiet be 2\n", new=NEW)
    assert (found.kind, found.enter) == ("changed", "let gyro-quiet be 1")
    found = only("let gyro-calm be 1\n", "", new=NEW)
    assert (found.kind, found.enter) == ("lost", "let gyro-quiet be 1")
    found = only("let gyro-slow be 1\n", "", new=NEW)
    assert (found.kind, found.enter, found.meaning) == (
        "lost", "", "the filter went; nothing to enter",
    )  # fmt: skip


def test_blanks_in_quotes_count() -> None:
    found = only('let gyro-mood be "a  b"\n', 'let gyro-mood be "a b"\n')
    assert (found.kind, found.enter) == ("changed", 'let gyro-mood be "a  b"')
    found = only('let gyro-mood be "a  b"\n', "")
    assert (found.kind, found.enter) == ("lost", 'let gyro-mood be "a  b"')
    assert compared(OLD + "let  gyro-mood be 1\n", OLD + "let gyro-mood  be 1\n").shown() == ()


def test_the_sense_of_the_flag() -> None:
    lines = "let receiver-link be sbus\nlet receiver-flip be yes\n"
    found = only(lines, lines, new=NEW)
    assert (found.kind, found.grade, found.enter) == (
        "sense changed", "ground", "let receiver-flip be no",
    )  # fmt: skip
    # The link may be said on one side only.
    found = compared(OLD + lines, NEW + "let receiver-flip be yes\n").entries[0]
    assert (found.kind, found.name) == ("lost", "receiver.link")
    flag = "let receiver-flip be yes\n"
    found = only(flag, flag, new=NEW)
    assert (found.kind, found.grade) == ("not understood", "ground")
    unknown = compared("let receiver-flip be no\n", "let receiver-flip be yes\n")
    assert [entry.kind for entry in unknown.shown()] == ["changed"]
    # A version on the later side only.
    found = only(lines, lines, new="")
    assert (found.kind, found.grade) == ("not understood", "ground")


def test_a_lost_flag_is_entered_in_the_later_sense() -> None:
    lines = "let receiver-link be sbus\nlet receiver-flip be no\n"
    found = only(lines, "let receiver-link be sbus\n", new=NEW)
    assert (found.kind, found.enter) == ("lost", "let receiver-flip be yes")
    found = only("let receiver-flip be no\n", "", new=NEW)
    assert (found.kind, found.enter) == ("lost", "")


def test_boards() -> None:
    kinds = {entry.name: (entry.kind, entry.grade) for entry in compared(OLD, NEW).shown()}
    assert kinds == {"craft.board": ("renamed", None), "craft.firmware": ("changed", None)}
    other = compared(OLD, OLD.replace("SLATE", "JASPER"))
    assert [(entry.kind, entry.grade) for entry in other.shown()] == [("changed", "fix")]


def test_defaults() -> None:
    old = OLD.replace("full listing", "changes only")
    new = NEW.replace("full listing", "changes only")
    kinds = [(entry.kind, entry.name, entry.after) for entry in compared(old, new).shown()][:2]
    assert kinds == [
        ("not understood", "receiver.inverted", None),
        ("default changed", "motor.idle_percent", None),
    ]
    lines = "let receiver-link be ibus\n"
    found = [
        entry for entry in compared(old + lines, new + lines).shown()
        if not entry.name.startswith("craft.")
    ][0:1][0]  # fmt: skip
    assert (found.kind, found.name, found.was, found.now, found.enter) == (
        "default changed", "motor.idle_percent", "4.6%", "5.2%", "let least-spin be 4.6",
    )  # fmt: skip
    found = only("let bell-magnet be 12\n", "", old=old, new=old)
    assert (found.kind, found.after) == ("back at default", None)
    # A default of which the later side says nothing is nobody's loss.
    assert compared(old, OLD).shown() == ()


def test_profiles_not_in_use() -> None:
    head = "; unit COCKLE rev 2.57 whole\n"
    old = head + "pf:1\nvl:13:225\npf:2\nvl:13:310\nvl:62:84\n"
    for new, kind, grade in (
        (old.replace("310", "345"), "changed", "advise"),
        (old.replace("vl:13:310\n", ""), "lost", "advise"),
    ):
        found = compared(old, new, "terse").shown()
        assert [(entry.kind, entry.grade) for entry in found] == [(kind, grade)]
        assert found[0].name == "motor.idle_percent (profile 2)"
        back = compared(new, old, "terse").shown()
        assert [entry.kind for entry in back] == ["changed" if kind == "changed" else "added"]


def test_lines_to_enter_go_into_the_profile_in_use() -> None:
    head = "; unit COCKLE rev 2.57 whole\nvl:95:2\n"
    found = compared(head + "pf:2\nvl:13:290\n", head + "pf:2\nvl:13:240\n", "terse").shown()
    assert [entry.enter for entry in found] == ["pf:2\nvl:13:290"]


def test_the_same_words_in_another_section_mean_another_thing() -> None:
    old = "// unit KETTLE build 5.6 as everything\na {\n  calm-x: 1\n}\nb {\n  calm-x: 2\n}\n"
    new = old.replace(": 1", ": 9").replace(": 2", ": 1").replace(": 9", ": 2")
    assert [entry.kind for entry in compared(old, new, "blocks").shown()] == ["changed"] * 2


def test_refusals() -> None:
    text = "let lost-link-wait be 1\n!! not taken: no such word\n"
    found = only("", text, new=NEW)
    assert (found.kind, found.grade, found.enter) == ("refused", "fix", "let loss-wait be 1")
    assert found.now == "no such word"
    found = only("", "!! not taken: why\n", old="", new="")
    assert (found.was, found.name, found.enter) == ("", "a line", "")
    # What was refused before set nothing then, and is no loss now.
    assert compared(OLD + "let bell-magnet be 12\n!! not taken: x\n", OLD).shown() == ()


def test_across_dialects() -> None:
    found = compare(
        side(OLD + "let motor-signal be dshot300\nlet gyro-calm be 1\n"),
        side("// unit SLATE build 6.3 as everything\ndrive {\n  talk: digital-600\n}\n", "blocks"),
    )
    assert [(entry.kind, entry.name, entry.enter) for entry in found.shown()] == [
        ("changed", "motor.signal", "drive {\n  talk: digital-300\n}"),
        ("lost", "gyro-calm", ""),
        ("changed", "craft.firmware", ""),
    ]
    assert not swapped(found.before, found.after)


def test_a_setting_that_only_one_dialect_knows_by_its_default() -> None:
    bare = load_dialect(
        "own.toml",
        b'[dialect]\nid = "own"\n[marks]\nassign = "{name} = {value}"\n'
        b'[map]\n"motor.poles" = { at = "poles" }\n',
    )
    found = compare(side(OLD + "let log be yes\nlet least-spin be 3\n"), side("poles = 3\n", bare))
    assert {entry.name for entry in found.shown()} >= {"motor.idle_percent", "motor.poles"}


def test_swapped_and_cut_off_and_different_craft() -> None:
    assert swapped(side(NEW), side(OLD))
    assert not swapped(side(OLD), side(NEW))
    assert not swapped(side(""), side(NEW))
    assert not swapped(side(NEW.replace("7.10", "new")), side(NEW))
    notes = compare(side(NEW, file="a.txt"), side(OLD + "let motor-po", file="b.txt")).notes()
    assert len(notes) == 2
    assert "swap the two" in notes[0]
    assert notes[1].startswith("the dump b.txt seems to be cut off")
    one, other = 'let name-given be "Avocet"\n', 'let name-given be "Dunlin"\n'
    assert differing_craft(side(one), side(other)) == "one is of Avocet, the other of Dunlin"
    assert differing_craft(side(one), side(one)) == ""
    assert differing_craft(side(one), side("")) == ""


def test_exit_codes() -> None:
    assert compared(OLD, OLD).exit_code() == 0
    assert compared(OLD, OLD + "let gyro-mood be 3\n").exit_code() == 0
    assert compared(OLD + "let bell-magnet be 12\n", OLD).exit_code() == 1


def test_what_each_setting_costs() -> None:
    """The grades that the issue of losing a line comes to: common practice."""
    for name in ("motor.signal", "receiver.inverted", "failsafe.action", "mode arm", "mode log"):
        assert consequence(name)[0] == "ground"
    for name in ("motor.two_way", "battery.warn_v", "port.1.baud", "loop.rate_hz"):
        assert consequence(name)[0] == "fix"
    assert consequence("log.on") == (
        "advise", "it has no meaning that cfglint knows; look it up",
    )  # fmt: skip


def test_flags_and_wires() -> None:
    """SBUS idles inverted: absolute yes is relative no."""
    sbus = side(OLD + "let receiver-link be sbus\n").craft
    assert wire_inverted(sbus, True) is True
    assert flag_for(sbus, "relative", inverted=True) is False
    assert flag_for(sbus, "absolute", inverted=True) is True
    assert flag_for(sbus, None, inverted=True) is None
    without = side(NEW).craft
    assert wire_inverted(without, True) is None
    assert flag_for(without, "relative", inverted=True) is None
