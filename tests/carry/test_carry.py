"""Carrying: what becomes of single lines, and why."""

from __future__ import annotations

import pint
import pytest

from cfglint.carry.carry import Carry, batches, carry, paste
from cfglint.carry.lint import judge_both
from cfglint.carry.side import cut_off, read_side
from cfglint.carry.versions import known_version, newest, target
from cfglint.craft.settings import setting
from cfglint.dialect import Dialect, bundled, load_dialect, read_craft
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.rule import Finding, Options, rule

PLAIN = "-- board SLATE, firmware {}, {}\n"


def plain(
    lines: str, to: str = "plain@7.10", *, firmware: str = "7.9", extent: str = "full listing"
) -> Carry:
    name, _, version = to.partition("@")
    text = PLAIN.format(firmware, extent) + lines
    side = read_side(Source.from_text("x.txt", text), bundled("plain"))
    return carry(side, bundled(name), version)


def rows(found: Carry) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(row.statement.text, row.bucket, row.lines) for row in found.moved[1:]]


def note(found: Carry, text: str) -> str:
    return next(row.note for row in found.moved if row.statement.text == text)


@pytest.mark.parametrize(
    ("line", "bucket", "lines"),
    [
        ("let motor-signal be dshot300", "as it is", ("let motor-signal be dshot300",)),
        ("let  motor-signal  be  dshot300", "as it is", ("let motor-signal be dshot300",)),
        (">> let motor-signal be dshot300", "as it is", ("let motor-signal be dshot300",)),
        ("let lost-link-wait be 0.8", "new name", ("let loss-wait be 0.8",)),
        ("let gyro-calm be 3", "new name", ("let gyro-quiet be 3",)),
        ("let gyro-mood be 3", "as it is", ("let gyro-mood be 3",)),
        ("let cell-warn be 3.7", "rescaled", ("let cell-warn be 3700",)),
        ("let motor-signal be brushed", "default says so", ()),
        ("let least-spin be 6.1", "as it is", ("let least-spin be 6.1",)),
        ("let least-spin be 5.2", "default says so", ()),
        ("let gyro-slow be 3", "removed", ()),
        ("let motor-signal be dshot900", "by hand", ()),
        ("let motr-signal be dshot300", "by hand", ()),
        ("channel 3 spans 990 nine 2010", "by hand", ("channel 3 spans 990 1500 2010",)),
        ("(nobody can read this)", "by hand", ()),
        ("\x01 a damaged line", "unreadable", ()),
        ("-- a comment", "no setting", ()),
        ("list ports", "no setting", ()),
        ("stow", "as it is", ("stow",)),
        ("use arm along with beacon", "as it is", ("use arm along with beacon",)),
        ("forget least-spin", "rescaled", ("let least-spin be 4.6",)),
        ("forget motor-signal", "default says so", ()),
        ("forget receiver-port", "by hand", ()),
        ("forget arm", "sets nothing", ()),
    ],
)
def test_each_bucket(line: str, bucket: str, lines: tuple[str, ...]) -> None:
    found = plain(line + "\n")
    assert rows(found) == [(line, bucket, lines)]
    assert found.complete == (bucket not in ("by hand", "unreadable"))
    assert sum(found.counts().values()) == 2


def test_overridden_and_refused_lines() -> None:
    found = plain(
        "let motor-signal be dshot300\n"
        "let motor-signal be dshot600\n"
        "let bell-magnet be 12\n"
        "!! not taken: no such word\n"
    )
    assert [row[1] for row in rows(found)] == ["overridden", "as it is", "by hand", "no setting"]
    assert "refused" in note(found, "let bell-magnet be 12")
    assert "let bell-magnet be 12" not in found.lines


def test_identity() -> None:
    found = plain("")
    assert found.moved[0].bucket == "new name"
    assert found.lines == ("-- board SLATEX, firmware 7.10, changes only", "stow")
    assert found.moved[0].note == "the board is called SLATEX now"
    assert plain("", "plain@7.9").moved[0].bucket == "no setting"
    # Two lines of identity, of which the second is but the first again.
    again = plain(PLAIN.format("7.9", "full listing"))
    assert [row.bucket for row in again.moved] == ["new name", "no setting"]


def test_the_order_of_the_lines() -> None:
    found = plain(
        "stow\nlet keep-log be yes\nlet lost-link-action be stop\n"
        "use arm while channel 5 in 1770..2130\nchannel 1 spans 990 1500 2010\n"
        "let motor-signal be dshot300\nlet receiver-link be sbus\n"
        'port 2 carries receiver\nlet name-given be "Avocet"\nlet gyro-mood be 1\n'
    )
    assert found.lines == (
        "-- board SLATEX, firmware 7.10, changes only",
        'let name-given be "Avocet"',
        "port 2 carries receiver",
        "let receiver-link be sbus",
        "let motor-signal be dshot300",
        "channel 1 spans 990 1500 2010",
        "use arm while channel 5 in 1770..2130",
        "let lost-link-action be stop",
        "let keep-log be yes",
        "let gyro-mood be 1",
        "stow",
    )


def test_the_turned_flag() -> None:
    lines = "let receiver-link be sbus\nlet receiver-flip be no\n"
    found = plain(lines)
    assert rows(found)[1] == ("let receiver-flip be no", "rescaled", ("let receiver-flip be yes",))
    assert "turned" in note(found, "let receiver-flip be no")
    # An inverted wire is the usual one for SBUS, so the target's default is right.
    found = plain(lines.replace("flip be no", "flip be yes"))
    assert rows(found)[1][1:] == ("default says so", ())
    assert "turned" in note(found, "let receiver-flip be yes")
    # Without a link nobody can say what is usual.
    found = plain("let receiver-flip be yes\n")
    assert rows(found)[0][1:] == ("by hand", ())
    assert "bench" in note(found, "let receiver-flip be yes")


def test_a_flag_that_was_a_default() -> None:
    found = plain("let receiver-link be sbus\n", extent="changes only")
    assert found.stated == ("motor.idle_percent", "receiver.inverted")
    assert "let receiver-flip be yes" in found.lines
    assert "let least-spin be 4.6" in found.lines
    assert found.unsaid == ()
    found = plain("", extent="changes only")
    assert [row.name for row in found.unsaid] == ["receiver.inverted"]
    assert not found.complete


def test_a_default_that_the_target_cannot_say() -> None:
    own = load_dialect(
        "own.toml",
        b"""
[dialect]
id = "own"
extent = "changes"
[marks]
assign = "{name} = {value}"
[map]
"motor.signal" = { at = "signal", words = { dshot300 = 81 } }
""",
    )
    side = read_side(
        Source.from_text("x.txt", PLAIN.format("7.9", "changes only")), bundled("plain")
    )
    found = carry(side, own, "")
    assert [(row.name, row.value) for row in found.unsaid] == [("motor.signal", "brushed")]
    assert "no word for brushed" in found.unsaid[0].note
    # A dialect without identity lines loses none of the craft by it; nor one without `save`.
    assert found.moved[0].bucket == "no setting"
    assert found.lines == ()


def test_back_to_an_older_version() -> None:
    text = (
        "-- board SLATEX, firmware 7.10, full listing\nlet loss-wait be 0.8\n"
        "let gyro-quiet be 3\nlet cell-full be 4350\n"
    )
    side = read_side(Source.from_text("x.txt", text), bundled("plain"))
    assert carry(side, bundled("plain"), "7.9").lines == (
        "-- board SLATE, firmware 7.9, changes only",
        "let lost-link-wait be 0.8",
        "let cell-full be 4.35",
        "let gyro-calm be 3",
        "stow",
    )


def test_to_another_dialect() -> None:
    found = plain("let gyro-calm be 3\nlet receiver-link be sbus\nstow\n", "blocks@6.3")
    assert [row[1] for row in rows(found)] == ["by hand", "new name", "new name"]
    assert found.lines[-1] == "store"


def test_a_line_that_needs_more_than_is_known() -> None:
    found = plain("port 2 carries receiver\n", "terse@2.65")
    assert rows(found)[0][1:] == ("by hand", ())
    assert note(found, "port 2 carries receiver") == (
        "it cannot be written for terse 2.65: its line says `port.2.baud` as well, and nobody "
        "says what that is"
    )
    found = plain("port 2 carries receiver,rangefinder at 100000\n", "terse@2.65")
    assert note(found, "port 2 carries receiver,rangefinder at 100000").endswith(
        "no bit for rangefinder"
    )
    found = plain("use arm while channel 6 in 840..1200\n", "terse@2.65")
    assert rows(found)[0][1] == "new name"
    assert "upper end" in note(found, "use arm while channel 6 in 840..1200")


def test_profiles() -> None:
    text = "; unit COCKLE rev 2.57 whole\nvl:95:2\npf:1\nvl:13:225\npf:2\nvl:13:300\n"
    side = read_side(Source.from_text("x.txt", text), bundled("terse"))
    found = carry(side, bundled("terse"), "2.65")
    assert found.lines == (
        "; unit COCKLEUP rev 2.65 part", "vl:95:2", "pf:2", "vl:13:300", "pf:1", "vl:13:225",
        "wr:1",
    )  # fmt: skip
    assert found.complete
    other = carry(side, bundled("plain"), "7.10")
    assert [row.bucket for row in other.moved] == [
        "no setting", "no setting", "no setting", "by hand", "no setting", "new name",
    ]  # fmt: skip
    assert "let least-spin be 6" in other.lines
    assert "profile 1" in other.moved[3].note


def test_empty_slots() -> None:
    slots = (
        b'[modes]\narm = "arm"\n[[rows]]\nat = "{mode} by {channel} {low} {high}"\n'
        b'makes = "range"\nskip_empty = true\n'
    )
    own = load_dialect("own.toml", NO_TABLES + slots)
    text = "# board B version 1 full\narm by 5 1180 1180\narm by 6 1180 1420\n"
    found = carry(read_side(Source.from_text("x.txt", text), own), own, "2")
    assert [row.bucket for row in found.moved] == ["no setting", "default says so", "as it is"]
    assert found.lines == ("# board B version 2 changes", "arm by 6 1180 1420")


NO_TABLES = b"""
[dialect]
id = "own"
extent = "full"
[marks]
comment = "#"
assign = "{name} = {value}"
[identity]
lines = ["# board {board} version {firmware} {extent}"]
full = "full"
changes = "changes"
[map]
"motor.signal" = { at = "signal", default = "brushed" }
"motor.poles" = { at = "poles", default = 16 }
[kept]
at = ["calm *"]
"""


def test_a_dialect_without_tables_of_changes() -> None:
    """What is uncertain goes on the hand list, and nothing is left to a default."""
    own = load_dialect("own.toml", NO_TABLES)
    text = "# board B version 1 {}\nsignal = brushed\ncalm-a = 3\nwhat = 4\n"
    side = read_side(Source.from_text("x.txt", text.format("full")), own)
    found = carry(side, own, "2")
    assert [row.bucket for row in found.moved] == ["no setting", "as it is", "by hand", "by hand"]
    assert found.lines == ("# board B version 2 changes", "signal = brushed")
    assert "no table of changes" in found.moved[2].note
    # At the same version there is nothing uncertain; what held by default is not said either way.
    side = read_side(Source.from_text("x.txt", text.format("changes")), own)
    assert carry(side, own, "1").lines == ("# board B version 1 changes", "calm-a = 3")
    assert carry(side, own, "2").stated == ()


def test_a_name_that_only_the_newer_version_has() -> None:
    more = NO_TABLES + b'[[changes]]\nat = "2"\nkept = ["new"]\n'
    own = load_dialect("own.toml", more)
    side = read_side(Source.from_text("x.txt", "# board B version 2 full\nnew = 1\n"), own)
    found = carry(side, own, "1")
    assert found.moved[1].bucket == "by hand"
    assert found.moved[1].note == "the target does not know this name"


def test_a_removed_setting() -> None:
    more = NO_TABLES + b'[[changes]]\nat = "2"\nremove = { poles = "counted by itself now" }\n'
    own = load_dialect("own.toml", more)
    side = read_side(Source.from_text("x.txt", "# board B version 1 full\npoles = 12\n"), own)
    row = carry(side, own, "2").moved[1]
    assert (row.bucket, row.note) == ("removed", "counted by itself now")


def test_a_setting_that_gets_another_name_by_its_table() -> None:
    more = NO_TABLES + (b'[[changes]]\nat = "2"\n[changes.map]\n"motor.poles" = { at = "bells" }\n')
    own = load_dialect("own.toml", more)
    side = read_side(Source.from_text("x.txt", "# board B version 1 full\npoles = 12\n"), own)
    row = carry(side, own, "2").moved[1]
    assert (row.bucket, row.lines, row.note) == (
        "new name", ("bells = 12",), "`poles` is `bells` now",
    )  # fmt: skip


def test_what_a_target_has_no_line_for() -> None:
    own = load_dialect("own.toml", NO_TABLES)
    line = "use arm along with beacon"
    side = read_side(Source.from_text("x.txt", line + "\nstow\n"), bundled("plain"))
    found = carry(side, own, "1")
    assert [(row.bucket, row.note) for row in found.moved] == [
        ("by hand", "own 1 has no line for it that this dialect file knows"),
        ("no setting", "a command"),
    ]


def test_unconfirmed_mappings() -> None:
    """What a dialect file is not sure of is carried, and on the hand list all the same."""
    text = NO_TABLES.replace(b"default = 16", b"default = 16, sure = false")
    own = load_dialect("own.toml", text)
    lines = "# board B version 1 full\npoles = 12\n"
    side = read_side(Source.from_text("x.txt", lines), own)
    row = carry(side, bundled("plain"), "7.10").moved[1]
    assert (row.bucket, row.lines) == ("by hand", ("let bell-magnet be 12",))
    assert "unconfirmed" in row.note
    # Within the dialect the line stays as it is, whatever it means.
    assert carry(side, own, "1").moved[1].bucket == "as it is"
    back = read_side(Source.from_text("x.txt", "let bell-magnet be 12\n"), bundled("plain"))
    assert carry(back, own, "1").moved[0].bucket == "by hand"


GUESSED = b"""
[dialect]
id = "own"
[marks]
assign = "put {name} {value}"
[traits]
inversion = "relative"
range_ends = "half-open"
[map]
"motor.signal" = { at = "put talk", words = { dshot300 = 81, dshot600 = 34 } }
"receiver.link" = { at = "put rx" }
"receiver.inverted" = { at = "put flip" }
[modes]
arm = 27
beacon = 6
[[rows]]
at = "{mode} on ch{channel} {low}-{high}"
makes = "range"
[[rows]]
at = "{mode} with {follows}"
makes = "link"
[[rows]]
at = "port {N} {what}"
sets = { what = "port.N.functions" }
fields = { what = { words = { gps = "g", log = "l" } } }
"""


@pytest.mark.parametrize(
    ("line", "mark"),
    [
        ("let motor-signal be dshot600", (b"34 } }", b'34 }, unsure = ["dshot600"] }')),
        ("use arm while channel 5 in 1765..2175", (b"arm = 27", b'arm = 27\nunsure = ["arm"]')),
        ("use arm while channel 5 in 1765..2175", (b'"range"', b'"range"\nsure = false')),
        ("use arm along with beacon", (b"arm = 27", b'arm = 27\nunsure = ["beacon"]')),
        ("use arm along with beacon", (b'"link"', b'"link"\nsure = false')),
        ("port 2 carries log", (b'"l" }', b'"l" }, unsure = ["log"]')),
        ("port 2 carries log", (b'"l" } }', b'"l" }, sure = false }')),
    ],
)
def test_single_words_and_lines_that_are_unconfirmed(line: str, mark: tuple[bytes, bytes]) -> None:
    """A line that rests on a guess of either dialect file is on the hand list."""
    sure, guessed = (load_dialect("own.toml", text) for text in (GUESSED, GUESSED.replace(*mark)))
    text = PLAIN.format("7.9", "full listing") + line + "\n"
    side = read_side(Source.from_text("x.txt", text), bundled("plain"))
    (row,) = carry(side, sure, "1").moved[1:]
    assert row.bucket == "new name"
    (marked,) = carry(side, guessed, "1").moved[1:]
    assert (marked.bucket, marked.lines) == ("by hand", row.lines)
    assert "unconfirmed" in marked.note
    # And back, where the guess is the old file's.
    for own, bucket in ((sure, "new name"), (guessed, "by hand")):
        side = read_side(Source.from_text("x.txt", row.lines[0] + "\n"), own)
        assert carry(side, bundled("plain"), "7.9").moved[0].bucket == bucket
    # Within the dialect it stays as it is, whatever it means.
    assert carry(side, guessed, "1").moved[0].bucket == "as it is"


def test_a_word_that_is_no_guess_beside_one_that_is() -> None:
    own = load_dialect("own.toml", GUESSED.replace(b"34 } }", b'34 }, unsure = ["dshot600"] }'))
    side = read_side(Source.from_text("x.txt", "let motor-signal be dshot300\n"), bundled("plain"))
    assert carry(side, own, "1").moved[0].bucket == "new name"


def test_a_flag_turned_by_an_unconfirmed_trait() -> None:
    text = "let receiver-link be sbus\nlet receiver-flip be no\n"
    side = read_side(
        Source.from_text("x.txt", PLAIN.format("7.9", "full listing") + text), bundled("plain")
    )
    for sense, bucket in ((b"absolute", "new name"), (b"relative", "rescaled")):
        inside = GUESSED.replace(b"relative", sense)
        assert carry(side, load_dialect("own.toml", inside), "1").moved[2].bucket == bucket
        guessed = inside.replace(b"[map]", b'unsure = ["inversion"]\n[map]')
        own = load_dialect("own.toml", guessed)
        assert carry(side, own, "1").moved[2].bucket == "by hand"
    back = read_side(Source.from_text("x.txt", "put rx sbus\nput flip yes\n"), own)
    row = carry(back, bundled("plain"), "7.9").moved[1]
    assert (row.bucket, row.lines) == ("by hand", ())
    assert "the target's default is that, by a mapping that" in row.note
    assert carry(back, own, "1").moved[1].bucket == "as it is"


# ---------------------------------------------------------------- units

UNITS = pint.UnitRegistry()
#: The unit in which a dialect writes a setting, as its name says.
WRITTEN_IN = {
    ("blocks", "after-ms"): "ms",
    ("blocks", "full-mv"): "mV",
    ("blocks", "warn-mv"): "mV",
    ("blocks", "empty-mv"): "mV",
    ("blocks", "idle-permille"): "permille",
    ("plain", "cell-full"): "V",
    ("plain", "lost-link-wait"): "s",
    ("plain", "least-spin"): "percent",
}
UNITS.define("permille = 0.001 * count")


@pytest.mark.parametrize(
    ("there", "back"),
    [
        ("let lost-link-wait be 0.8", "after-ms"),
        ("let cell-full be 4.35", "full-mv"),
        ("let cell-warn be 3.62", "warn-mv"),
        ("let cell-empty be 3.41", "empty-mv"),
        ("let least-spin be 6.2", "idle-permille"),
    ],
)
def test_units_are_those_of_pint(there: str, back: str) -> None:
    """Reference: pint's own conversions, between what each dialect's name says it counts."""
    name = there.split()[1]
    amount = float(there.rsplit(maxsplit=1)[-1])
    found = plain(there + "\n", "blocks@5.6")
    line = next(line for line in found.lines if line.strip().startswith(back))
    unit = {"cell-warn": "V", "cell-empty": "V"}.get(name) or WRITTEN_IN["plain", name]
    wanted = UNITS.Quantity(amount, unit).to(WRITTEN_IN["blocks", back])
    assert float(line.split(":")[1]) == pytest.approx(wanted.magnitude)
    # The neutral unit is the one that plain writes in.
    neutral = next(key for key, value in found.side.craft.values.items()
                   if value.origin == "set" and not key.startswith("craft."))  # fmt: skip
    symbol = {"%": "percent"}.get(setting(neutral).unit, setting(neutral).unit)
    assert UNITS.Quantity(amount, unit) == UNITS.Quantity(amount, symbol)


# ---------------------------------------------------------------- batches


def test_batches() -> None:
    lines = [str(number) for number in range(5)]
    assert batches(lines, 0) == [lines]
    assert batches(lines, 2) == [["0", "1"], ["2", "3"], ["4"]]
    assert batches([], 2) == [[]]


def test_batches_keep_sections_whole() -> None:
    lines = ["a {", "  b: 1", "}", "c {", "  d: 1", "  e: 1", "  f: 1", "}", "store"]
    assert batches(lines, 4, bundled("blocks")) == [lines[:3], lines[3:7], lines[7:]]
    # A text that ends inside one.
    assert batches(lines[:2], 4, bundled("blocks")) == [lines[:2]]


def test_paste() -> None:
    found = plain("let motor-signal be dshot300\n")
    assert paste(found) == (
        "-- board SLATEX, firmware 7.10, changes only\nlet motor-signal be dshot300\nstow\n"
    )
    assert paste(found, 2) == (
        "-- batch 1 of 2\n-- board SLATEX, firmware 7.10, changes only\n"
        "let motor-signal be dshot300\n\n-- batch 2 of 2\nstow\n"
    )
    bare = load_dialect(
        "own.toml", NO_TABLES.replace(b'comment = "#"\n', b"").replace(b"# board", b"board")
    )
    side = read_side(Source.from_text("x.txt", "signal = dshot300\npoles = 12\n"), bare)
    assert paste(carry(side, bare, ""), 1) == "signal = dshot300\n\npoles = 12\n"
    several = load_dialect("own.toml", NO_TABLES.replace(b'comment = "#"', b'comment = ["#", "!"]'))
    side = read_side(Source.from_text("x.txt", "signal = dshot300\npoles = 12\n"), several)
    assert paste(carry(side, several, ""), 1).startswith("# batch 1 of 2\n")


# ---------------------------------------------------------------- targets and versions


def aim(text: str, own: str = "plain") -> str:
    def load(name: str) -> Dialect:
        return bundled(name)

    return str(target(text, bundled(own), ("plain", "terse", "blocks"), load))


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("7.10", "plain 7.10"),
        ("plain", "plain 7.10"),
        ("terse", "terse 2.65"),
        ("terse@2.57", "terse 2.57"),
        ("@7.9", "plain 7.9"),
        ("blocks@6", "blocks 6"),
    ],
)
def test_targets(text: str, wanted: str) -> None:
    assert aim(text) == wanted


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("5.1", "says nothing of version 5.1"),
        ("plain@3", "its file covers >=7.9,<8"),
        ("4.x", "cannot be placed"),
        ("plane", "did you mean `plain`?"),
        ("zzzzzz", "neither a version nor a dialect"),
        ("other@1", "there is no bundled dialect `other`"),
        ("a@b/own.toml", "there is no bundled dialect `a@b/own.toml`"),
    ],
)
def test_targets_that_are_not_there(text: str, says: str) -> None:
    with pytest.raises(Problem) as caught:
        aim(text)
    assert says in str(caught.value)


def test_newest() -> None:
    assert newest(load_dialect("own.toml", NO_TABLES)) == ""
    some = NO_TABLES.replace(b'id = "own"', b'id = "own"\nversions = ">=1.2,<3"')
    assert newest(load_dialect("own.toml", some)) == "1.2"


def test_the_dumps_own_version() -> None:
    def side(text: str, version: str = "") -> None:
        source = Source.from_text("x.txt", text)
        known_version(read_side(source, bundled("plain"), version=version))

    side(PLAIN.format("7.9", "full listing"))
    side("let bell-magnet be 12\n", "7.9")
    with pytest.raises(Problem, match="does not say its firmware version"):
        side("let bell-magnet be 12\n")
    with pytest.raises(Problem, match="says nothing of version 6"):
        side(PLAIN.format("6", "full listing"))
    own = load_dialect("own.toml", NO_TABLES)
    known_version(read_side(Source.from_text("x.txt", "poles = 12\n"), own))


def test_the_version_given_counts_only_where_the_dump_says_none() -> None:
    text = "let cell-full be 4350\n"
    said = read_side(Source.from_text("x.txt", text), bundled("plain"), version="7.10")
    assert said.craft.get("battery.full_v").value == 4.35
    text = PLAIN.format("7.9", "full listing") + "let cell-full be 4.35\n"
    said = read_side(Source.from_text("x.txt", text), bundled("plain"), version="7.10")
    assert said.craft.get("battery.full_v").value == 4.35


# ---------------------------------------------------------------- cut off


@pytest.mark.parametrize(
    ("dialect", "text", "says"),
    [
        ("plain", "", ""),
        ("plain", "let bell-magnet be 12\n", ""),
        ("plain", "let bell-magnet be 12", "line, 1, has no line end"),
        ("plain", "let bell-magnet be 12\r\nlet motor-sig", "line, 2, is not finished"),
        ("plain", "let bell-magnet be 12\nstow", ""),
        ("blocks", "drive {\n  talk: multi\n", "inside a section"),
        ("blocks", "drive {\n  talk: multi\n}\n", ""),
        ("blocks", "}\n}\ndrive {\n  talk: multi\n}\n", ""),
    ],
)
def test_cut_off(dialect: str, text: str, says: str) -> None:
    why = cut_off(read_side(Source.from_text("x.txt", text), bundled(dialect)))
    assert says in why
    assert bool(says) == bool(why)


# ---------------------------------------------------------------- judging the result


@rule("own/signal", grade="fix", title="t", why="w", source="common practice")
def _signal(craft, options):  # type: ignore[no-untyped-def]
    if craft.need("motor.signal").value == "brushed":
        yield Finding(craft.whole, "brushed")


@rule("own/crash", grade="fix", title="t", why="w", source="common practice")
def _crash(craft, options):  # type: ignore[no-untyped-def]
    raise RuntimeError("oh")


def test_judging_both() -> None:
    def craft(text: str):  # type: ignore[no-untyped-def]
        return read_craft(Source.from_text("x.txt", text), bundled("plain"))

    options = Options({})
    good, bad = craft("let motor-signal be dshot300\n"), craft("let motor-signal be brushed\n")
    empty = craft("")
    rules = [(_signal, options), (_crash, options)]
    found = judge_both(good, bad, rules)
    assert found.asked == 2
    assert [(row.rule.id, row.was) for row in found.relapses] == [("own/signal", "holds")]
    assert [(row.rule.id, row.wrong.text) for row in found.crashes] == [
        ("own/crash", "RuntimeError: oh")
    ]
    # Broken before is no fault of the carry; unknown before is told apart.
    assert judge_both(bad, bad, rules[:1]).relapses == ()
    assert judge_both(bad, good, rules[:1]).relapses == ()
    found = judge_both(empty, bad, rules[:1])
    assert [row.was for row in found.revealed] == ["unknown"]
    assert found.relapses == ()
