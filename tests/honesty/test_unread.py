"""What was not read makes unknown, and is told by its line and word."""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.carry.carry import BUCKETS, carry
from cfglint.carry.refused import refused
from cfglint.carry.side import read_side
from cfglint.carry.versions import target
from cfglint.dialect import bundled, load_dialect
from cfglint.dialect.load import bundled_names
from cfglint.dump.source import Source
from cfglint.errors import EXIT_UNREAD, Problem
from cfglint.report.bench import sheet
from cfglint.runner.lint import Request, lint
from cfglint.switches.scene import scene

from .support import base, card_of, dialect_of, dump_of, grammar, read, said, said_whole

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.craft import Craft

MODES = (
    "modes/arm-missing",
    "modes/unreachable-range",
    "modes/arm-and-self-right-meet",
    "motor/self-right-needs-digital",
    "switches/cannot-fly",
    "failsafe/holds-last-values",
)


def of(name: str, *changes: tuple[str, str], dialect: Any = None, card: str = "") -> Craft:
    """A craft of the fleet, its dump changed by patterns that must be found."""
    dump = dump_of(name)
    for old, new in changes:
        dump, count = re.subn(old, new, dump, flags=re.MULTILINE)
        assert count, old
    return read(dump, card or card_of(name), dialect or dialect_of(name))


def state(craft: Craft, rule: str) -> str:
    return said(craft)[rule].state


def lacking(craft: Craft, rule: str) -> str:
    outcome = said(craft)[rule]
    assert outcome.state == "unknown", outcome
    return "; ".join(lack.text for lack in outcome.lacks)


def lesser(name: str, pattern: str) -> Any:
    """A bundled dialect without the lines of its file that a pattern fits."""
    kept = [line for line in grammar(name) if not re.match(pattern, line)]
    assert len(kept) < len(grammar(name))
    return load_dialect("other.toml", "\n".join(kept).encode())


# ---------------------------------------------------------------- versions


@pytest.mark.parametrize(
    ("name", "firmware", "other"),
    [("avocet", "firmware 7.9", "firmware 12.0"), ("curlew", "rev 2.57", "rev 6.8"),
     ("egret", "build 5.6", "build 12.0")],
)  # fmt: skip
def test_a_version_that_the_dialect_does_not_describe(name: str, firmware: str, other: str) -> None:
    outcomes = said(of(name, (firmware, other)))
    broken = [rule for rule, one in outcomes.items() if one.state == "broken"]
    assert broken == ["dump/firmware-not-described"]
    was = said_whole(name)
    content = [rule for rule, one in was.items() if one.state in ("holds", "broken")]
    unknown = [rule for rule in content if outcomes[rule].state == "unknown"]
    assert len(unknown) > 0.8 * len(content)
    # What still holds asks of the lines themselves, or of the card alone.
    held = {rule for rule in content if outcomes[rule].state == "holds"}
    assert {rule for rule in held if not rule.startswith("dump/")} <= {
        "failsafe/receiver-hides-the-loss",
        "switches/position-not-sent",
    }


def test_no_version_at_all() -> None:
    """Cells are in volts before 7.10 and in millivolts from then on."""
    text = lacking(of("avocet", (r"^-- board.*\n", "")), "battery/voltages-out-of-order")
    assert "craft.firmware" in text


def test_a_carry_to_a_version_that_nobody_describes_is_refused() -> None:
    with pytest.raises(Problem, match=r"says nothing of version 12\.0"):
        target("12.0", bundled("plain"), ["plain"], bundled)


def test_a_carry_by_a_dialect_that_does_not_say_its_versions() -> None:
    """Only what its changes name is known to be described."""
    silent = lesser("plain", "versions = ")
    with pytest.raises(Problem, match=r"does not say which versions .* how 7\.12 .* only of 7\.10"):
        target("7.12", silent, [], bundled)
    assert target("7.10", silent, [], bundled).version == "7.10"


# ---------------------------------------------------------------- words and rows


@pytest.mark.parametrize("mode", ["arm", "self-right"])
def test_a_mode_that_the_dialect_does_not_know(mode: str) -> None:
    craft = of("dunlin", dialect=lesser("plain", f"{mode} = "))
    for rule in MODES:
        assert f"use {mode} while" in "".join(lack.text for lack in said(craft)[rule].lacks), rule
        assert state(craft, rule) in ("unknown", "broken")


def test_a_mode_that_a_title_says() -> None:
    craft = of("egret", dialect=lesser("blocks", "arm = "))
    assert "armed" in lacking(craft, "modes/arm-missing")


def test_a_channel_that_cannot_be_read() -> None:
    craft = of("avocet", (r"^(use arm while channel) 5", r"\1 V"))
    for rule in MODES[:-2]:
        assert "use arm while channel V" in lacking(craft, rule), rule


def test_a_function_of_a_port() -> None:
    craft = of("avocet", (r"^port 2 carries receiver", "port 2 carries reciever"))
    assert "port 2" in lacking(craft, "receiver/none-set")
    assert "reciever" in lacking(craft, "receiver/claimed-by-two-ports")


def test_a_word_of_a_value_is_not_its_default() -> None:
    craft = of("bittern", (r"^(let motor-signal be) .*", r"\1 dshott"))
    assert not craft.get("motor.signal").known
    assert "dshott" in lacking(craft, "motor/left-on-default-signal")


def test_a_word_of_the_firmwares_own_is_not_the_default() -> None:
    text = "\n".join(grammar("plain")).replace(
        '"motor.signal" = { at = "let motor-signal be",',
        '"motor.signal" = { at = "let motor-signal be", own = "house-blend",',
    )
    own = load_dialect("other.toml", text.encode())
    craft = of("bittern", (r"^(let motor-signal be) .*", r"\1 house-blend"), dialect=own)
    assert "firmware's own" in lacking(craft, "motor/left-on-default-signal")
    assert state(craft, "dump/value-not-understood") == "holds"


def test_a_mode_of_the_firmwares_own_is_simply_shown() -> None:
    text = "\n".join(grammar("plain")).replace("[modes]\n", '[modes]\nown = ["wobble"]\n')
    own = load_dialect("other.toml", text.encode())
    change = (r"^(use beacon while .*)$", r"\1\nuse wobble while channel 7 in 1290..1710")
    craft = of("avocet", change, dialect=own)
    assert {rule: one.state for rule, one in said(craft).items()} == {
        rule: one.state for rule, one in said_whole("avocet").items()
    }
    (lane,) = [one for one in scene(craft).lanes if one.channel == 7]
    assert [bar.mode for bar in lane.bars] == ["beacon", "wobble"]
    unknown = of("avocet", change)
    (lane,) = [one for one in scene(unknown).lanes if one.channel == 7]
    assert [bar.mode for bar in lane.bars] == ["beacon", "? wobble"]
    assert any("wobble" in note for note in scene(unknown).notes)
    assert not any(answer.state == "holds" for answer in scene(unknown).answers)
    texts = [item for part in sheet(unknown) for item in part.items]
    assert any("? wobble" in item for item in texts)
    assert any("To be found out" in item and "wobble" in item for item in texts)


def test_the_bench_sheet_says_nothing_only_where_all_was_read() -> None:
    craft = of("avocet", (r"^(use beacon while channel) 7", r"\1 V"))
    items = [item for part in sheet(craft) for item in part.items if "(channel 7)" in item]
    assert items
    assert all(": nothing" not in item for item in items)
    assert all("was not understood" in item for item in items)


def test_findings_about_what_stands_there_stay() -> None:
    stick = (r"^(use beacon while channel) 7", r"\1 3")
    more = (r"^(use lights while .*)$", r"\1\nuse wobble while channel 9 in 917..946")
    craft = of("avocet", stick, more)
    outcome = said(craft)["modes/range-on-a-stick"]
    assert outcome.state == "broken"
    assert any("wobble" in lack.text for lack in outcome.lacks)


# ---------------------------------------------------------------- what is not there


@pytest.mark.parametrize(
    ("name", "pattern", "rules"),
    [
        ("avocet", r"^channel [1-4] .*\n", ("channels/ends-out-of-order",
         "channels/end-out-of-reach", "channels/travel-cut-off", "channels/stick-off-centre")),
        ("curlew", r"^.*\bch:[1-4]:.*\n", ("channels/ends-out-of-order",
         "channels/end-out-of-reach")),
        ("avocet", r"^port 4 .*\n", ("receiver/claimed-by-two-ports",)),
    ],
)  # fmt: skip
def test_rows_missing_from_a_full_listing(name: str, pattern: str, rules: tuple[str, ...]) -> None:
    craft = of(name, (pattern, ""))
    for rule in rules:
        assert re.search("full listing|in the dump", lacking(craft, rule)), rule


@pytest.mark.parametrize(
    ("name", "pattern", "rule", "fact"),
    [
        ("avocet", r"^let receiver-baud .*\n", "receiver/baud-off-the-link", "receiver.baud"),
        ("avocet", r"^let receiver-port be .*\n", "receiver/port-setting-disagrees",
         "receiver.port"),
        ("avocet", r"^let receiver-link .*\n", "receiver/link-differs-from-card", "receiver.link"),
        ("curlew", r"^vl:17:.*\n", "motor/commands-too-seldom", "motor.rate_hz"),
        ("curlew", r"^vl:17:.*\n", "motor/command-outlasts-loop", "motor.rate_hz"),
        ("egret", r"^  speed: 100000\n(?=  with turned)", "receiver/baud-off-the-link",
         "receiver.baud"),
    ],
)  # fmt: skip
def test_a_setting_without_a_default(name: str, pattern: str, rule: str, fact: str) -> None:
    """A full listing has it: that it is not there says nothing."""
    assert said_whole(name)[rule].state == "holds"
    assert fact in lacking(of(name, (pattern, "")), rule)


def test_the_profile_in_use() -> None:
    dump = "; unit COCKLE rev 2.57 whole\npf:1\nvl:13:225\npf:2\nvl:13:310\n"
    dialect = bundled("terse")
    open_, told = (read(dump + more, "", dialect) for more in ("", "vl:95:2\n"))
    assert ["motor.idle_percent"] in [sorted(row.names) for row in open_.unread]
    assert all("motor.idle_percent" not in row.names for row in told.unread)
    assert told.get("motor.idle_percent").value == pytest.approx(6.2)


def test_a_receivers_flag_where_the_ports_own_is_there() -> None:
    craft = of("avocet", (r"^let receiver-flip.*\n", ""), (r"(port-2-flip be) no", r"\1 yes"))
    assert "receiver.inverted" in lacking(craft, "receiver/inversion-not-normal")


@pytest.mark.parametrize(
    ("pattern", "rule", "fact"),
    [
        (r"^reverses_from.*\n", "motor/self-right-firmware-too-old", "esc.reverses_from"),
        (r"(\[transmitter\][^[]*?)jitter_us.*\n", "channels/stick-off-centre", "jitter_us"),
    ],
)
def test_a_fact_of_the_card_that_was_taken_for_granted(pattern: str, rule: str, fact: str) -> None:
    card, count = re.subn(pattern, r"\1" if "(" in pattern else "", card_of("avocet"), flags=re.M)
    assert count == 1
    assert fact in lacking(of("avocet", card=card), rule)


def test_the_jitter_of_a_switch_that_nobody_told() -> None:
    """A position that lies 9 µs below the edge of arm."""
    near = (r"^use arm while channel 5 in 1740\.\.2150", "use arm while channel 5 in 997..2150")
    silent = re.sub(
        r"(positions_us = \[988, 2012\]\n)jitter_us = 2\n", r"\1", card_of("avocet"), count=1
    )
    assert silent != card_of("avocet")
    craft = of("avocet", near, card=silent)
    assert "jitter_us of switch K5" in lacking(craft, "switches/arms-by-itself")
    assert state(of("avocet", near), "switches/arms-by-itself") == "holds"
    # 30 µs are room enough only if it stands still.
    far = (r"^use arm while channel 5 in 1740\.\.2150", "use arm while channel 5 in 1018..2150")
    assert state(of("avocet", far), "modes/near-a-range-edge") == "holds"
    text = lacking(of("avocet", far, card=silent), "modes/near-a-range-edge")
    assert "jitter_us of switch K5" in text


def test_a_link_alone_puts_no_mode_on_a_switch() -> None:
    craft = of("avocet", (r"^use arm while.*", "use arm along with log"), (r"^use log.*\n", ""))
    outcomes = said(craft)
    assert outcomes["modes/arm-missing"].state == "broken"
    about = ("modes/permit-missing", "switches/flick-stops-motors", "switches/arms-by-itself",
             "switches/lost-link-turns-on")  # fmt: skip
    assert {outcomes[rule].state for rule in about} == {"not for this craft"}


# ---------------------------------------------------------------- refusals, colours, echoes

LOG = """\
-- board SLATE, firmware 7.9, full listing
>> let motor-signal be dshot300
>> let least-spin be 6.4
!! not taken: no such word
>> stow
"""


def test_a_dialect_that_knows_no_refusals() -> None:
    with pytest.raises(Problem, match="how a refusal looks") as told:
        refused(Source.from_text("log.txt", LOG), lesser("plain", "refusal = "))
    assert told.value.exit == EXIT_UNREAD
    assert "line 4 `!! not taken: no such word`" in told.value.message
    assert 'refusal = "!! {reason}"' in told.value.instead


def coloured(text: str) -> str:
    marks = itertools.cycle(
        ["\x1b[1;32m", "\x1b[0m", "\x1b]0;bench\x07", "\x1b[2K", "\x1b[38;5;208m"]
    )
    return "".join(f"{next(marks)}{line}{next(marks)}\n" for line in text.splitlines())


@pytest.mark.parametrize("name", ["avocet", "curlew", "egret", "dunlin", "lapwing"])
def test_colours_change_nothing(name: str) -> None:
    plain = read(dump_of(name), card_of(name), dialect_of(name))
    source = coloured(dump_of(name))
    craft = read(source, card_of(name), dialect_of(name))
    assert {k: v.value for k, v in craft.values.items()} == {
        k: v.value for k, v in plain.values.items()
    }
    assert [row[:5] for row in craft.mode_ranges] == [row[:5] for row in plain.mode_ranges]
    assert len(craft.refusals) == len(plain.refusals)
    lines = source.split("\n")
    for value in craft.values.values():
        if value.span is not None:  # the file's own columns
            line = lines[value.span.line - 1]
            assert line[value.span.column - 1 : value.span.end_column - 1] == value.written


@pytest.mark.parametrize(
    "log",
    [
        # Pasted and then echoed behind the prompt; echoed by the controller; a block at once.
        ">> let poles be 9\nlet least-spin be 6.4\n>> let least-spin be 6.4\n!! not taken: no\n",
        ">> let poles be 9\n>> let least-spin be 6.4\nlet least-spin be 6.4\n!! not taken: no\n",
        "let cell-warn be 3.7\nlet least-spin be 6.4\n>> let cell-warn be 3.7\n"
        ">> let least-spin be 6.4\n!! not taken: no\n",
    ],
)
def test_what_was_refused_does_not_count_by_its_echo(log: str) -> None:
    head = "-- board SLATE, firmware 7.9, full listing\n"
    side = read_side(Source.from_text("log.txt", head + log), bundled("plain"))
    assert not side.craft.get("motor.idle_percent").known
    (row,) = refused(Source.from_text("log.txt", head + log), bundled("plain"))
    assert row.text == "let least-spin be 6.4"


# ---------------------------------------------------------------- carry


@pytest.mark.parametrize(
    ("lines", "bucket", "note"),
    [
        (["let least-spin be 6.4", "let least-spin be 6.6"], "overridden", "line 3 says otherwise"),
        (["let least-spin be 6.4", "forget least-spin"], "overridden", "line 3 takes it back"),
        (["use arm while channel 5 in 1760..2140", "forget arm"], "overridden",
         "line 3 takes it back"),
        (["forget arm"], "sets nothing", "it takes arm back"),
        (["forget least-spin", "let least-spin be 6.4"], "overridden", "line 3 says otherwise"),
    ],
)  # fmt: skip
def test_the_true_reason(lines: list[str], bucket: str, note: str) -> None:
    text = "\n".join(["-- board SLATE, firmware 7.9, full listing", *lines, ""])
    side = read_side(Source.from_text("x.txt", text), bundled("plain"))
    row = next(
        row for row in carry(side, bundled("plain"), "7.10").moved if row.statement.line == 2
    )
    assert (row.bucket, row.note.startswith(note)) == (bucket, True)


@pytest.mark.parametrize("name", ["avocet", "curlew", "egret", "dunlin", "lapwing", "plover"])
def test_every_line_is_in_one_bucket(name: str) -> None:
    side = read_side(Source.from_text("x.txt", coloured(dump_of(name))), dialect_of(name))
    found = carry(side, bundled("plain"), "7.10")
    numbers = [row.statement.line for row in found.moved]
    lines = dump_of(name).split("\n")
    assert numbers == [at for at, line in enumerate(lines, 1) if line.strip()]
    assert sum(found.counts().values()) == len(numbers)
    assert all(row.bucket in BUCKETS for row in found.moved)


# ---------------------------------------------------------------- what was switched off is told


def hangar(folder: Path) -> Path:
    own = "\n".join(grammar("plain")).replace('id = "plain"', 'id = "mine"', 1)
    own = own.replace('ignored = ["list"]', 'ignored = ["list", "let motor-sig*"]')
    (folder / "mine.toml").write_text(own, encoding="utf-8")
    (folder / "a.dump.txt").write_text(dump_of("avocet"), encoding="utf-8")
    (folder / "cfglint.toml").write_text(
        '[dialects]\nmine = "mine.toml"\n[[dumps]]\nfiles = "*.dump.txt"\ndialect = "mine"\n'
        '[lint]\nfloor = "fix"\n[rules]\n"modes/empty-range" = "off"\n'
        '"modes/always-on" = { grade = "advise" }\n'
        '"modes/near-a-range-edge" = { margin_us = 4 }\n',
        encoding="utf-8",
    )
    return folder


def test_what_was_left_out_is_told(tmp_path: Path) -> None:
    from cfglint.report.sarif import write_sarif

    run = lint(Request([str(hangar(tmp_path))]))
    places = {str(one.span).rpartition(":")[0]: one.text for one in run.aside}
    assert "`modes/empty-range` (fix) is switched off" in places["cfglint.toml:9"]
    loosened = places["cfglint.toml:11"]
    assert loosened.startswith("`modes/near-a-range-edge` is asked with margin_us = 4, not ")
    assert "graded advise here" in places["cfglint.toml:10"]
    assert "the floor is fix" in places["cfglint.toml:7"]
    assert "let motor-signal be dshot300" in next(
        text for place, text in places.items() if place.startswith("mine.toml")
    )
    signal = next(one for one in run.outcomes if one.rule == "motor/left-on-default-signal")
    assert (signal.state, "ignored" in run.aside[-1].text) == ("unknown", True)
    log = write_sarif(run)
    assert log.count('"cfglint/set-aside"') == 1 + len(run.aside)


def test_nothing_is_told_where_nothing_was_left_out(root: Path) -> None:
    dump = root / "fixtures" / "saltmarsh" / "dumps" / "avocet.dump.txt"
    assert lint(Request([str(dump)])).aside == ()


# ---------------------------------------------------------------- a minus of another kind


@pytest.mark.parametrize(
    "stroke", "\u2212\u2010\u2011\u2012\u2013\u2014\u2015\u207b\u2796\ufe63\uff0d\xad"
)
@pytest.mark.parametrize("dialect", bundled_names())
def test_a_minus_as_word_processors_write_it_is_never_lost(dialect: str, stroke: str) -> None:
    """Every dash of Unicode (general category Pd, with U+2212) that a hyphen may become."""
    setup = base("avocet", dialect)
    setup.values["board.yaw_deg"] = -90.0
    dump, unwritten = setup.dump()
    assert not unwritten
    card, of = setup.card_text(), bundled(dialect)
    span = read(dump, card, of).values["board.yaw_deg"].span
    assert span is not None
    lines = dump.split("\n")
    line = lines[span.line - 1]
    assert line[span.column - 1] == "-"
    lines[span.line - 1] = line[: span.column - 1] + stroke + line[span.column :]
    craft = read("\n".join(lines), card, of)
    if stroke in "\u2014\u2015\u207b\u2796\xad":
        assert [slip.name for slip in craft.misread] == ["board.yaw_deg"]
        assert state(craft, "build/board-turned") == "unknown"
    else:
        assert craft.get("board.yaw_deg").value == -90


# ---------------------------------------------------------------- cut off


@pytest.mark.parametrize("name", ["avocet", "egret"])
def test_a_listing_that_is_cut_off_says_nothing_of_modes_that_it_lacks(name: str) -> None:
    """No line that saves, or a section left open: lines of modes may have stood there."""
    lines = dump_of(name).split("\n")
    at = next(
        one for one, line in enumerate(lines) if line.startswith(("use self-level", "when l"))
    )
    craft = read("\n".join(lines[:at]) + "\n", card_of(name), dialect_of(name))
    for rule in ("modes/arm-and-self-right-meet", "modes/conflicting-modes-meet"):
        assert "the end of the dump" in lacking(craft, rule), rule


def test_changes_that_nothing_saved_say_nothing_of_what_they_lack() -> None:
    """Without its end, what a dump of changes does not say need not be as it is by default."""
    text = dump_of("bittern")
    assert (
        state(
            read(text, card_of("bittern"), dialect_of("bittern")), "battery/voltages-out-of-order"
        )
        == "holds"
    )
    cut = read(text.replace("\nstow\n", "\n"), card_of("bittern"), dialect_of("bittern"))
    assert "the end of the dump" in lacking(cut, "battery/voltages-out-of-order")
    # What a line says it says.
    assert state(cut, "motor/signal-esc-does-not-speak") == "holds"


def test_a_link_may_lead_to_a_row_that_was_not_read() -> None:
    text = dump_of("avocet").replace("use self-right while", "use self-right during")
    craft = read(text, card_of("avocet"), dialect_of("avocet"))
    assert state(craft, "modes/link-leads-nowhere") == "unknown"


def test_a_section_that_is_left_open() -> None:
    text = dump_of("egret")
    craft = read(text[: text.index("channel 6 from 810")], card_of("egret"), dialect_of("egret"))
    assert "opens what nothing closes" in lacking(craft, "modes/conflicting-modes-meet")
