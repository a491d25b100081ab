"""Drafting what an update changed, from dumps of the same craft before and after it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.dialect import Dialect, load_dialect
from cfglint.dialect.load import bundled_bytes
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.teach.updates import changes_between
from cfglint.teach.updates_model import Changes, Kind, Row
from cfglint.teach.updates_proof import with_row

UPDATES = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh" / "updates"

REED = """\
[dialect]
id = "reed"
versions = ">=2.0,<3"

[shape]
grammar = "plain"
comment = ";"
assign = "pin {name} = {value}"
unset = "forget {name}"
flag_on = "with {name}"
flag_off = "without {name}"
open = "[{title}]"
list = "/"
none = "idle"

[identity]
lines = ["; reed {board} {firmware} {extent}"]
full = "whole"
changes = "part"

[settings]
"craft.name" = { name = "nick" }
"motor.signal" = { name = "motor_talk", values = { dshot300 = "DSHOT300", dshot600 = "DSHOT600" } }
"motor.idle_percent" = { name = "motor_idle", scale = 0.1, default = 5 }
"motor.poles" = { name = "magnets", default = 14 }
"motor.two_way" = { name = "reply", flag = true, default = false }
"loop.rate_hz" = { name = "loop_period", over = 1000000 }
"receiver.link" = { name = "rx_link" }
"receiver.inverted" = { name = "rx_flip" }
"failsafe.delay_s" = { name = "loss_wait", default = 0.5 }
"failsafe.throttle_us" = { name = "loss_gas" }
"battery.full_v" = { name = "cell_full", default = 4.2 }
"battery.warn_v" = { name = "cell_warn", step = 0.01, decimals = 0 }
"stick.low_us" = { name = "low", within = "sticks" }
"channel.N.low_us" = { name = "low", within = "axis {N}" }
"channel.N.high_us" = { name = "ch{N}_high" }
"port.N.functions" = { name = "port{N}_use", number_base = 0 }
"log.on" = { name = "keep_log", default = false }

[modes]
arm = "armed"
beacon = "chirp"
log = "diary"

[[forms]]
id = "when"
line = "{mode} on {channel} {low}-{high}"
makes = "range"

[kept]
names = ["gyro_cut", "gyro_band", "led_dim1", "led_dim2", "led_dim3", "osd_*", "tilt"]

[ignored]
lines = ["store"]
"""
OLD = "; reed TEAL 2.0 whole\n"
NEW = "; reed TEAL 2.1 whole\n"
#: Lines of both dumps, so that there is something to stand between.
SAME = """\
pin nick = Teal
pin motor_talk = DSHOT300
pin gyro_cut = 95
pin tilt = 40
"""


def draft(
    before: str | list[str],
    after: str | list[str],
    *,
    dialect: str | Dialect = REED,
    at: str = "",
    head: tuple[str, str] = (OLD, NEW),
    same: str = SAME,
) -> Changes:
    """A draft from the lines of dumps, those that every dump has put before them."""
    read = load_dialect("reed.toml", dialect.encode()) if isinstance(dialect, str) else dialect
    sides = []
    for which, text, start in (("before", before, head[0]), ("after", after, head[1])):
        texts = [text] if isinstance(text, str) else text
        sides.append(
            [
                Source.from_text(f"{which}-{number}.txt", start + same + one)
                for number, one in enumerate(texts, 1)
            ]
        )
    found = changes_between(*sides, read, name="reed.toml", at=at)
    if isinstance(dialect, str) and not found.joins:
        wide = dialect.replace(">=2.0,<3", found.versions or ">=2.0,<3")
        again = load_dialect("with.toml", f"{wide}\n{found.text}".encode())
        rows = again.data.get("changes", [])
        mine = [row for row in found.dialect.data.get("changes", []) if row["at"] == found.at]
        assert [row for row in rows if row["at"] == found.at] == mine, "the text is what was proved"
    return found


def row(found: Changes, kind: Kind, name: str) -> Row:
    (one,) = [one for one in found.rows if one.kind == kind and one.name == name]
    return one


def kinds(found: Changes) -> list[tuple[str, str, bool]]:
    return [
        (one.kind, one.name, one.drafted)
        for one in found.rows
        if (one.kind, one.name) != ("question", "receiver.inverted")
    ]


# ------------------------------------------------------------------ the demo's own pair


def stripped() -> Dialect:
    """The bundled dialect of the demo's pair, as it was before the update was known."""
    text = bundled_bytes("blocks").decode().partition("[[changes]]")[0]
    return load_dialect("stripped.toml", text.replace('<6.4"', '<6"').encode())


def egret() -> Changes:
    before, after = (
        Source.from_bytes(name, (UPDATES / name).read_bytes())
        for name in ("egret-before.dump.txt", "egret-after.dump.txt")
    )
    return changes_between([before], [after], stripped(), name="stripped.toml")


def test_the_demos_update_is_found() -> None:
    found = egret()
    assert (found.since, found.at) == ("5.6", "6.3")
    assert found.drafted("rename") == {"after-ms": "wait-ms", "calm-gyro": "calm-rate"}
    assert list(found.drafted("remove")) == ["lens"]
    assert found.drafted("boards") == {"KETTLE": "KETTLES"}
    assert found.drafted("default") == {"failsafe.delay_s": "{ default = 0.3 }"}
    assert found.versions == ">=5.6,<=6.3"
    assert found.unread == (1, 0)


def test_the_demos_draft_agrees_with_the_bundled_table() -> None:
    from cfglint.dialect.load import bundled

    (true,) = bundled("blocks").data["changes"]
    (made,) = egret().dialect.data["changes"]
    assert made["rename"] == true["rename"]
    assert made["boards"] == true["boards"]
    assert made["remove"].keys() == true["remove"].keys()
    assert made["settings"]["failsafe.delay_s"] == true["settings"]["failsafe.delay_s"]
    assert "traits" not in made, "how a flag is meant is never guessed"


def test_what_still_differs_is_named() -> None:
    found = egret()
    lost = {one.name for one in found.differs if one.kind == "lost"}
    assert {"mode self-level", "mode log", "lens"} <= lost
    assert row(found, "rename", "after-ms").proof == "with it the value differs: 0.8 s → 0.3 s"
    assert row(found, "rename", "calm-gyro").proof == "with it both dumps say the same"
    assert re.search(r"#   lost: mode log: channel \d+, \d+ to \d+ µs → not set", found.text)
    (question,) = [one for one in found.rows if one.kind == "question"]
    assert question.name == "receiver.inverted"
    assert "Only you can tell:" in found.text


# ------------------------------------------------------------------ names


def test_nothing_changed() -> None:
    found = draft("", "")
    assert kinds(found) == []
    assert "[[changes]]" not in found.text
    assert found.differs == ()


def test_a_rename_by_words() -> None:
    found = draft("pin magnets = 14\n", "pin magnets_main = 14\n")
    one = row(found, "rename", "magnets")
    assert (one.now, one.drafted, one.setting) == ("magnets_main", True, "motor.poles")
    assert one.proof == "with it both dumps say the same"
    assert 'magnets = "magnets_main"' in found.text


def test_a_rename_by_meaning_and_value() -> None:
    found = draft("pin cell_warn = 353\n", "pin battery_alarm = 353\n")
    one = row(found, "rename", "cell_warn")
    assert one.drafted
    assert "the new name speaks of battery.warn_v" in one.reason


def test_shortened_words_are_the_same() -> None:
    found = draft("pin gyro_band = 120\n", "pin grbnd = 120\n")
    assert found.drafted("rename") == {"gyro_band": "grbnd"}


def test_words_that_both_live_on_are_two_things() -> None:
    dialect = REED.replace('"tilt"]', '"tilt", "roll_shove", "roll_ease", "yaw_shove", "yaw_ease"]')
    same = SAME + "pin yaw_shove = 3\npin yaw_ease = 4\n"
    found = draft(
        "pin roll_shove = 7\n", "pin roll_ease = 9\n",
        dialect=dialect.replace('"roll_ease", ', ""),
        same=same,
    )  # fmt: skip
    assert "roll_shove" not in found.drafted("rename")
    assert found.drafted("kept") == {"roll_ease": ""}


def test_a_family_of_kept_names_goes_together() -> None:
    before = "".join(f"pin led_dim{n} = {n}0\n" for n in (1, 2, 3))
    after = "".join(f"pin lamp_dim{n} = {n}0\n" for n in (1, 2, 3))
    found = draft(before, after)
    assert found.drafted("rename") == {f"led_dim{n}": f"lamp_dim{n}" for n in (1, 2, 3)}
    assert "3 names of this kind went the same way" in row(found, "rename", "led_dim2").reason


def test_a_family_of_a_setting_is_one_row() -> None:
    before = "pin port0_use = receiver\npin port1_use = gps\n"
    after = "pin serial0_use = receiver\npin serial1_use = gps\n"
    found = draft(before, after)
    assert found.drafted("rename") == {"port{N}_use": "serial{N}_use"}
    assert found.unread == (2, 0)
    assert found.differs == ()


def test_names_that_a_star_kept_are_kept_by_their_new_ones() -> None:
    found = draft("pin osd_clock = 7\n", "pin hud_clock = 7\n", same=SAME)
    assert found.drafted("rename") == {"osd_clock": "hud_clock"}
    assert found.drafted("kept") == {"hud_clock": ""}
    assert found.unread == (1, 0)


def test_a_name_that_another_section_has_as_well_is_changed_for_one_setting() -> None:
    before = "[sticks]\npin low = 1084\n[axis 1]\npin low = 1000\n[axis 2]\npin low = 1001\n"
    after = "[sticks]\npin lowest = 1084\n[axis 1]\npin low = 1000\n[axis 2]\npin low = 1001\n"
    found = draft(before, after)
    one = row(found, "moved", "stick.low_us")
    assert (one.drafted, dict(one.keys)) == (True, {"name": "lowest"})
    assert found.differs == ()


def test_a_section_with_another_title() -> None:
    before = "[sticks]\npin low = 1084\n[axis 1]\npin low = 1000\n[axis 2]\npin low = 1001\n"
    after = "[pilot]\npin low = 1084\n[lane 1]\npin low = 1000\n[lane 2]\npin low = 1001\n"
    found = draft(before, after)
    assert dict(row(found, "moved", "channel.N.low_us").keys) == {"within": "lane {N}"}
    assert dict(row(found, "moved", "stick.low_us").keys) == {"within": "pilot"}
    assert found.differs == ()


def test_a_kept_name_in_another_section_needs_nothing() -> None:
    found = draft("[one]\npin gyro_band = 120\n", "[two]\npin gyro_band = 120\n")
    assert kinds(found) == []


def test_a_name_that_the_dialect_does_not_know_is_no_row() -> None:
    found = draft("pin strange = 71\n", "pin strange_new = 71\n")
    one = row(found, "rename", "strange")
    assert not one.drafted
    assert "the dialect does not know the old name" in one.reason


def test_a_name_that_something_else_has_is_no_row() -> None:
    dialect = REED.replace('"tilt"]', '"tilt", "magnets"]')
    found = draft(
        "[aft]\npin magnets = 71\n", "[aft]\npin magnets_new = 71\n", dialect=dialect.replace(
            'name = "magnets", default = 14', 'name = "magnets", within = "drive", default = 14')
    )  # fmt: skip
    one = row(found, "rename", "magnets")
    assert not one.drafted
    assert "for something else" in one.reason


def test_two_new_names_as_good_leave_it_open() -> None:
    found = draft(
        "pin gyro_band = 120\n", "pin gyro_band_a = 120\npin gyro_band_b = 120\n"
    )  # fmt: skip
    one = row(found, "rename", "gyro_band")
    assert not one.drafted
    assert one.rival == "gyro_band_b"
    assert "# or: gyro_band_b" in found.text
    assert "# rename: gyro_band = " in found.text


def test_values_of_another_kind_are_another_thing() -> None:
    found = draft("pin gyro_band = 120\n", "pin gyro_band_kind = sharp\n")
    assert "gyro_band" not in found.drafted("rename")


def test_where_little_changed_another_value_speaks_against_a_rename() -> None:
    dialect = REED.replace(
        '"tilt"]', '"tilt", ' + ", ".join(f'"aux_{c}"' for c in "abcdefgh") + "]"
    )
    same = SAME + "".join(f"pin aux_{c} = 5\n" for c in "abcdefgh")
    other = draft("pin gyro_band = 120\n", "pin gyro_notch = 77\n", dialect=dialect, same=same)
    assert "gyro_band" not in other.drafted("rename")


def test_names_in_any_letter_case() -> None:
    dialect = REED.replace('none = "idle"', 'none = "idle"\ncase = "any"')
    found = draft("PIN MAGNETS = 12\n", "pin Magnets_Main = 12\n", dialect=dialect)
    assert found.drafted("rename") == {"magnets": "Magnets_Main"}


def test_flags_by_name() -> None:
    found = draft("with reply\n", "with reply_wire\n")
    assert found.drafted("rename") == {"reply": "reply_wire"}
    assert "reply" not in draft("with reply\n", "pin reply_wire = 3\n").drafted("rename")


# ------------------------------------------------------------------ gone and new


def test_a_name_that_is_gone() -> None:
    found = draft("pin gyro_band = 120\n", "")
    one = row(found, "remove", "gyro_band")
    assert (one.drafted, one.now) == (True, "not in the dump after; look up what took its place")
    assert 'gyro_band = "not in the dump after' in found.text


def test_a_setting_that_is_gone() -> None:
    found = draft("pin magnets = 12\n", "")
    assert row(found, "remove", "magnets").setting == "motor.poles"
    assert "motor.poles" not in found.dialect.at("2.1").by_setting


def test_gone_from_several_crafts() -> None:
    found = draft(["pin gyro_band = 120\n"] * 2, [""] * 2)
    assert row(found, "remove", "gyro_band").confidence > 0.9


def test_a_member_that_is_gone_may_only_be_hidden() -> None:
    found = draft("pin led_dim1 = 1\npin led_dim2 = 2\n", "pin led_dim1 = 1\n")
    assert not row(found, "remove", "led_dim2").drafted


def test_a_name_that_still_stands_elsewhere_is_not_removed() -> None:
    found = draft("[sticks]\npin low = 1\n[axis 1]\npin low = 2\n", "[axis 1]\npin low = 2\n")
    assert not row(found, "remove", "low").drafted


def test_an_unknown_name_that_is_gone_needs_nothing() -> None:
    assert not row(draft("pin strange = 1\n", ""), "remove", "strange").drafted


def test_a_new_name_in_the_place_of_one_that_went() -> None:
    found = draft(
        "pin gyro_band_width = 120\npin osd_a = 1\n", "pin gyro_cut_order = sharp\npin osd_a = 1\n",
    )  # fmt: skip
    one = row(found, "remove", "gyro_band_width") if any(
        one.kind == "remove" for one in found.rows
    ) else row(found, "rename", "gyro_band_width")  # fmt: skip
    assert not one.drafted


def test_a_dump_that_was_cut_off_tells_nothing_of_what_is_gone() -> None:
    found = draft("pin gyro_band = 120\npin magnets = 12\n", "pin gyro_b")
    assert found.drafted("remove") == {}
    assert any("cut off" in note for note in found.notes)


def test_too_much_is_gone() -> None:
    before = "".join(f"pin osd_{n} = {n}\n" for n in "abcdefgh")
    found = draft(before, "pin magnets = 12\n", same="pin tilt = 40\n")
    assert found.drafted("remove") == {}
    assert any("same firmware?" in note for note in found.notes)


def test_new_names_are_kept() -> None:
    found = draft("", "pin quiver = 3\n")
    assert found.drafted("kept") == {"quiver": ""}
    assert found.unread == (1, 0)


def test_a_new_name_may_be_a_setting() -> None:
    found = draft("", "pin battery_cell_empty_volt = 3.3\n")
    one = row(found, "setting", "battery.empty_v")
    assert one.drafted
    assert dict(one.keys) == {"name": "battery_cell_empty_volt", "sure": False}
    assert "battery.empty_v" in found.dialect.at("2.1").unsure


def test_a_new_setting_in_a_section() -> None:
    found = draft("", "[battery]\npin cell_empty_volt = 3.3\n")
    assert row(found, "setting", "battery.empty_v").keys["within"] == "battery"


def test_new_names_that_might_be_one_setting_are_only_kept() -> None:
    found = draft(
        "", "pin motor_pulse_min = 1036\npin motor_pulse_low = 1060\nwith quiver\n"
        "[axis 3]\npin video_power = 25\n",
    )  # fmt: skip
    assert found.drafted("setting") == {}
    assert set(found.drafted("kept")) == {
        "motor_pulse_min", "motor_pulse_low", "quiver", "video_power"
    }  # fmt: skip


# ------------------------------------------------------------------ values


@pytest.mark.parametrize(
    ("before", "after", "setting", "keys"),
    [
        ("cell_full = 4.35", "cell_full = 435", "battery.full_v", {"scale": 0.01}),
        ("cell_full = 4.3", "cell_full = 4300", "battery.full_v", {"scale": 0.001}),
        ("cell_warn = 353", "cell_warn = 3.53", "battery.warn_v", {"step": 1, "decimals": 2}),
        ("motor_idle = 62", "motor_idle = 6.2", "motor.idle_percent", {"scale": 1}),
        ("loss_gas = 1350", "loss_gas = 35", "failsafe.throttle_us", {"scale": 10, "offset": 1000}),
        ("loop_period = 250", "loop_period = 4", "loop.rate_hz", {"over": 0, "scale": 1000}),
        ("loss_wait = 0.4", "loss_wait = 400", "failsafe.delay_s", {"scale": 0.001}),
    ],
)
def test_another_scale(before: str, after: str, setting: str, keys: dict[str, Any]) -> None:
    found = draft(f"pin {before}\n", f"pin {after}\n")
    one = row(found, "rescale", setting)
    assert (one.drafted, dict(one.keys)) == (True, keys)
    assert one.proof == "with it both dumps say the same"
    assert found.differs == ()


def test_a_rate_becomes_a_period() -> None:
    dialect = REED.replace('"loop_period", over = 1000000', '"loop_rate"')
    found = draft("pin loop_rate = 5000\n", "pin loop_rate = 200\n", dialect=dialect)
    assert dict(row(found, "rescale", "loop.rate_hz").keys) == {"over": 1000000}
    assert found.differs == ()


def test_an_offset_goes() -> None:
    dialect = REED.replace('"loss_gas"', '"loss_gas", scale = 10, offset = 1000')
    found = draft("pin loss_gas = 35\n", "pin loss_gas = 1350\n", dialect=dialect)
    assert dict(row(found, "rescale", "failsafe.throttle_us").keys) == {"scale": 1, "offset": 0}


def test_another_value_is_no_other_scale() -> None:
    found = draft("pin cell_full = 4.2\n", "pin cell_full = 4.3\n")
    assert kinds(found) == [("default", "battery.full_v", False)]
    assert "nobody can tell" in row(found, "default", "battery.full_v").reason
    assert found.differs[0].name == "battery.full_v"


def test_a_scale_that_may_be_another_value_is_a_comment() -> None:
    found = draft("pin loss_wait = 0.2\n", "pin loss_wait = 2\n")
    one = row(found, "rescale", "failsafe.delay_s")
    assert not one.drafted
    assert '# settings: "failsafe.delay_s" = { scale = 0.1 }' in found.text


def test_several_values_settle_a_scale() -> None:
    found = draft(
        ["pin loss_wait = 0.2\n", "pin loss_wait = 0.3\n"],
        ["pin loss_wait = 2\n", "pin loss_wait = 3\n"],
    )
    one = row(found, "rescale", "failsafe.delay_s")
    assert one.drafted
    assert "so with 2 different values" in one.reason


def test_a_scale_but_for_rounding() -> None:
    found = draft("pin cell_full = 4.35\n", "pin cell_full = 43\n")
    one = row(found, "rescale", "battery.full_v")
    assert "but for rounding" in one.reason
    assert one.proof.startswith("with it the value differs: 4.35 V → 4.3 V")


def test_a_scale_that_most_values_bear_out() -> None:
    before = [f"pin cell_full = {v}\n" for v in ("4.1", "4.2", "4.3", "4.35")]
    after = [f"pin cell_full = {v}\n" for v in ("410", "420", "430", "415")]
    assert row(draft(before, after), "rescale", "battery.full_v").drafted


def test_a_number_without_a_usual_range() -> None:
    dialect = REED.replace('"log.on"', '"port.N.baud" = { name = "speed{N}" }\n"log.on"')
    found = draft("pin speed1 = 115200\n", "pin speed1 = 1152\n", dialect=dialect)
    assert dict(row(found, "rescale", "port.N.baud").keys) == {"scale": 100}
    tenfold = draft("pin speed1 = 115200\n", "pin speed1 = 11520\n", dialect=dialect)
    assert not row(tenfold, "rescale", "port.N.baud").drafted


def test_two_scales_as_good_are_a_comment() -> None:
    found = draft("pin loop_period = 1000\n", "pin loop_period = 1\n")
    assert row(found, "rescale", "loop.rate_hz").drafted
    dialect = REED.replace('"loop_period", over = 1000000', '"loop_rate"')
    both = draft("pin loop_rate = 1000\n", "pin loop_rate = 1000\n", dialect=dialect)
    assert kinds(both) == []


def test_a_rename_and_another_scale_at_once() -> None:
    found = draft("pin loss_wait = 0.4\n", "pin loss_wait_ms = 400\n")
    assert found.drafted("rename") == {"loss_wait": "loss_wait_ms"}
    assert dict(row(found, "rescale", "failsafe.delay_s").keys) == {"scale": 0.001}
    assert found.differs == ()


def test_a_number_that_is_none_any_more() -> None:
    found = draft("pin cell_full = 4.2\n", "pin cell_full = high\n")
    assert found.drafted("rescale") == {}
    assert found.differs


@pytest.mark.parametrize(
    ("before", "after", "keys"),
    [
        ("DSHOT300", "digital_300", {"values": {"dshot300": "digital_300"}}),
        ("DSHOT300", "Dshot-300", {"values": {"dshot300": "Dshot-300"}}),
    ],
)
def test_another_word(before: str, after: str, keys: dict[str, Any]) -> None:
    found = draft(
        f"pin motor_talk = {before}\n", f"pin motor_talk = {after}\n", same="pin tilt = 1\n"
    )
    one = row(found, "words", "motor.signal")
    assert (one.drafted, dict(one.keys)) == (True, keys)
    assert found.differs == ()


def test_a_word_that_means_another_value_is_a_comment() -> None:
    dialect = REED.replace('dshot600 = "DSHOT600"', 'dshot600 = "fast"')
    found = draft("pin motor_talk = DSHOT300\n", "pin motor_talk = dshot600\n", dialect=dialect,
                  same="pin tilt = 1\n")  # fmt: skip
    one = row(found, "words", "motor.signal")
    assert not one.drafted
    assert "it means dshot600" in one.reason


def test_a_word_that_says_nothing_is_a_comment() -> None:
    found = draft("pin motor_talk = DSHOT300\n", "pin motor_talk = warble\n", same="pin tilt = 1\n")
    assert not row(found, "words", "motor.signal").drafted


def test_a_word_much_like_the_old_one() -> None:
    dialect = REED.replace('"DSHOT300"', '"warbling"')
    found = draft("pin motor_talk = warbling\n", "pin motor_talk = warblings\n", dialect=dialect,
                  same="pin tilt = 1\n")  # fmt: skip
    assert row(found, "words", "motor.signal").drafted


def test_words_where_the_neutral_ones_were_written() -> None:
    found = draft("pin rx_link = sbus\n", "pin rx_link = S_BUS\n")
    one = row(found, "words", "receiver.link")
    assert one.keys["values"]["sbus"] == "S_BUS"
    assert one.keys["values"]["crsf"] == "crsf", "the others are written as before"
    assert found.differs == ()


def test_one_word_of_a_list() -> None:
    found = draft("pin port0_use = receiver/gps\n", "pin port0_use = receiver/gnss\n")
    assert row(found, "words", "port.N.functions").keys["values"]["gps"] == "gnss"
    two = draft("pin port0_use = receiver/gps\n", "pin port0_use = rx/gnss\n")
    assert two.drafted("words") == {}


def test_one_word_for_two_values_is_nothing() -> None:
    found = draft(
        ["pin motor_talk = DSHOT300\n", "pin motor_talk = DSHOT600\n"],
        ["pin motor_talk = digital\n"] * 2, same="pin tilt = 1\n",
    )  # fmt: skip
    assert found.drafted("words") == {}
    other = draft(
        ["pin motor_talk = DSHOT300\n"] * 2,
        ["pin motor_talk = digital\n", "pin motor_talk = serial\n"], same="pin tilt = 1\n",
    )  # fmt: skip
    assert other.drafted("words") == {}


def test_yes_and_no() -> None:
    found = draft(
        "pin rx_flip = yes\npin keep_log = no\n", "pin rx_flip = on\npin keep_log = off\n"
    )
    assert dict(row(found, "words", "receiver.inverted").keys) == {"yes": "on", "no": "off"}
    assert dict(row(found, "words", "log.on").keys) == {"yes": "on", "no": "off"}
    assert found.differs == ()
    assert draft("pin rx_flip = yes\n", "pin rx_flip = maybe\n").drafted("words") == {}
    muddled = draft(
        "pin rx_flip = yes\npin keep_log = no\n", "pin rx_flip = on\npin keep_log = on\n"
    )
    assert muddled.drafted("words") == {}


# ------------------------------------------------------------------ defaults


def test_a_renamed_setting_at_another_value_may_be_at_its_new_default() -> None:
    found = draft("pin loss_wait = 0.8\n", "pin loss_wait_time = 0.3\n")
    assert not row(found, "default", "failsafe.delay_s").drafted
    reset = draft(
        "pin loss_wait = 0.8\npin magnets = 12\n", "pin loss_wait_time = 0.3\npin magnets = 14\n"
    )
    one = row(reset, "default", "failsafe.delay_s")
    assert one.drafted
    assert "motor.poles went back to its default as well" in one.reason


def test_several_crafts_that_agree_have_a_new_default() -> None:
    found = draft(["pin magnets = 12\n", "pin magnets = 16\n"], ["pin magnets = 20\n"] * 2)
    assert row(found, "default", "motor.poles").drafted
    assert row(found, "default", "motor.poles").keys == {"default": 20}


PART = ("; reed TEAL 2.0 part\n", "; reed TEAL 2.1 part\n")


def test_an_old_default_that_stands_in_a_dump_of_changes_is_none_any_more() -> None:
    found = draft("", "pin magnets = 14\n", head=PART)
    assert row(found, "question", "motor.poles").reason.startswith("14 poles stands in the dump")


def test_a_line_that_went_from_a_dump_of_changes() -> None:
    found = draft("pin magnets = 12\npin osd_a = 2\n", "", head=PART)
    one = row(found, "default", "motor.poles")
    assert (one.drafted, dict(one.keys)) == (False, {"default": 12})
    assert not row(found, "remove", "osd_a").drafted
    assert any("dumps of what differs" in note for note in found.notes)


def test_two_crafts_tell_the_new_default_between_them() -> None:
    found = draft(["", "pin magnets = 12\n"], ["pin magnets = 14\n", ""], head=PART)
    one = row(found, "default", "motor.poles")
    assert (one.drafted, dict(one.keys)) == (True, {"default": 12})


def test_flags_and_defaults_in_dumps_of_changes() -> None:
    found = draft("", "without reply\n", head=PART)
    assert row(found, "question", "motor.two_way")
    full_only = draft("", "pin magnets = 14\n", head=(PART[0], NEW))
    assert kinds(full_only) == []


def test_taken_back_is_not_gone() -> None:
    found = draft("forget gyro_band\npin osd_a = 2\n", "pin osd_a = 2\n")
    assert found.drafted("remove") == {}


# ------------------------------------------------------------------ what only a person can tell


def test_a_flipped_flag_is_a_question() -> None:
    found = draft(
        "pin rx_link = sbus\npin rx_flip = yes\n", "pin rx_link = sbus\npin rx_flip = no\n"
    )
    assert "was flipped while the link stayed" in row(found, "question", "receiver.inverted").reason
    assert "changes" not in found.dialect.data, "nothing is guessed of a trait"
    other = draft(
        "pin rx_link = sbus\npin rx_flip = yes\n", "pin rx_link = ibus\npin rx_flip = no\n"
    )
    assert [one for one in other.rows if one.kind == "question"] == []


# ------------------------------------------------------------------ boards and modes


def test_boards() -> None:
    near = draft("", "", head=(OLD, NEW.replace("TEAL", "TEALB")))
    assert near.drafted("boards") == {"TEAL": "TEALB"}
    far = draft("", "", head=(OLD, NEW.replace("TEAL", "HERON")))
    assert not row(far, "boards", "TEAL").drafted
    case = draft("", "", head=(OLD, NEW.replace("TEAL", "Teal")))
    assert kinds(case) == []


def test_a_board_that_becomes_two() -> None:
    dialect = load_dialect("reed.toml", REED.encode())
    after = [NEW.replace("TEAL", name) + SAME for name in ("TEALA", "TEALB")]
    sources = [Source.from_text(f"{n}.txt", text) for n, text in enumerate(after)]
    before = [Source.from_text(f"b{n}.txt", OLD + SAME) for n in (1, 2)]
    found = changes_between(before, sources, dialect, name="reed.toml")
    assert row(found, "boards", "TEAL").reason == "it becomes TEALA and TEALB"
    assert not row(found, "boards", "TEAL").drafted


def test_a_mode_by_another_word() -> None:
    found = draft("chirp on 7 1730-2090\n", "buzzer on 7 1730-2090\n")
    one = row(found, "modes", "beacon")
    assert (one.now, one.drafted) == ("buzzer", True)
    assert "by its words" in one.reason
    assert found.differs == ()
    assert one.proof == "with it both dumps say the same"


def test_a_mode_by_a_word_that_says_nothing() -> None:
    assert row(
        draft("chirp on 7 1730-2090\n", "warble on 7 1730-2090\n"), "modes", "beacon"
    ).drafted


def test_a_mode_by_a_word_that_says_something_else() -> None:
    found = draft("chirp on 7 1730-2090\n", "turtle on 7 1730-2090\n")
    assert not row(found, "modes", "beacon").drafted


def test_two_modes_with_one_range() -> None:
    before = "chirp on 7 1730-2090\ndiary on 7 1730-2090\n"
    found = draft(before, "warble on 7 1730-2090\nflute on 7 1730-2090\n")
    assert found.drafted("modes") == {}
    assert found.rows


def test_mode_lines_that_cannot_be_read_otherwise() -> None:
    found = draft("chirp on 7 1730-2090\n", "warble on x 1730-2090\narmed on x 880-1000\n")
    assert found.drafted("modes") == {}


def test_a_mode_in_a_section_title() -> None:
    dialect = REED.replace(
        'line = "{mode} on {channel} {low}-{high}"',
        'line = "channel {channel} {low}-{high}"\nwithin = "when {mode}"',
    )
    found = draft(
        "[when chirp]\nchannel 7 1730-2090\n", "[when buzzer]\nchannel 7 1730-2090\n",
        dialect=dialect,
    )  # fmt: skip
    assert found.drafted("modes") == {"beacon": "buzzer"}
    elsewhere = draft(
        "[when chirp]\nchannel 7 1730-2090\n", "[else]\nchannel 7 1730-2090\n", dialect=dialect
    )
    assert any("read by no form any more" in note for note in elsewhere.notes)


def test_lines_that_no_form_reads_any_more() -> None:
    found = draft("chirp on 7 1730-2090\n", "chirp by 7 from 1730 to 2090\n")
    (note,) = found.notes
    assert "1 lines that are no name and value are read by no form any more" in note
    assert "the form `when` reads none" in note
    assert note in " ".join(found.text.replace("\n#", "").split()) or "Note: 1 lines" in found.text


# ------------------------------------------------------------------ versions and other tables


def test_the_versions_covered() -> None:
    assert draft("", "").versions == ""
    assert draft("", "", head=(OLD, NEW.replace("2.1", "3.2"))).versions == ">=2.0,<=3.2"
    exact = REED.replace(">=2.0,<3", "==2.0")
    wide = draft("", "", dialect=exact)
    assert wide.versions == ">=2.0,<=2.1"
    assert 'In [dialect] write: versions = ">=2.0,<=2.1"' in wide.text


def test_the_version_may_be_said() -> None:
    nobody = ("; reed TEAL\n", "; reed TEAL\n")
    with pytest.raises(Problem) as caught:
        draft("", "", head=nobody)
    assert "--at VERSION" in caught.value.instead
    found = draft("pin magnets = 12\n", "pin magnets_main = 12\n", head=nobody, at="2.1")
    assert (found.since, found.at) == ("", "2.1")
    assert found.text.startswith("# What changed up to 2.1")
    bare = REED.replace(">=2.0,<3", ">=1,<2")
    assert draft("", "", head=nobody, at="2.1", dialect=bare).versions == ">=1,<=2.1"


@pytest.mark.parametrize(
    ("old", "new", "words", "instead"),
    [
        ("2.1", "2.1", "both dumps are of version 2.1", "--at"),
        ("2.2", "2.1", "the later 2.2", "swap"),
        ("2.0", "x-ray", "cannot be ordered", "--at"),
        ("first", "2.1", "cannot be ordered", "--at"),
    ],
)
def test_versions_that_cannot_be(old: str, new: str, words: str, instead: str) -> None:
    with pytest.raises(Problem) as caught:
        draft("", "", head=(OLD.replace("2.0", old), NEW.replace("2.1", new)))
    assert words in caught.value.message
    assert instead in caught.value.instead


def test_dumps_that_the_dialect_does_not_read() -> None:
    with pytest.raises(Problem, match="does not read this dump"):
        draft("what = ever\nand = this\n", "", same="")
    with pytest.raises(Problem, match="it knows 0 of 0 lines"):
        draft("", "", same="")


def test_dumps_that_are_missing_or_cannot_be_paired() -> None:
    with pytest.raises(Problem, match="no dump of before"):
        draft([], "")
    with pytest.raises(Problem, match="no dump of after"):
        draft("", [])
    with pytest.raises(Problem, match="cannot be paired"):
        draft([""] * 2, "", same="pin tilt = 1\n")


def test_crafts_are_paired_by_their_names() -> None:
    names = ["pin nick = Teal\npin magnets = 12\n", "pin nick = Coot\npin magnets = 16\n"]
    found = draft(names, names[::-1], same="pin tilt = 1\n")
    assert found.differs == ()
    one = draft(names, names[1], same="pin tilt = 1\n")
    assert one.differs == ()


def test_a_table_that_the_dialect_has_already() -> None:
    dialect = REED + '\n[[changes]]\nat = "2.1"\nrename = { magnets = "poles", tilt = "lean" }\n'
    dialect += 'remove = { gyro_band = "gone" }\n'
    found = draft(
        "pin magnets = 12\npin gyro_band = 1\npin keep_log = yes\n",
        "pin poles = 12\npin keep_logbook = yes\n",
        dialect=dialect, same="pin nick = Teal\n",
    )  # fmt: skip
    assert found.joins
    assert kinds(found) == [("rename", "keep_log", True)]
    assert "has a row of 2.1 already" in found.text
    (joined,) = found.dialect.data["changes"]
    assert joined["rename"] == {"magnets": "poles", "tilt": "lean", "keep_log": "keep_logbook"}
    assert [(one.kind, one.name) for one in found.differs] == [("lost", "gyro_band")]


def test_tables_of_other_versions_stay_in_order() -> None:
    dialect = (
        REED + '\n[[changes]]\nat = "2.0.5"\nkept = ["a"]\n[[changes]]\nat = "2.9"\nkept = ["b"]\n'
    )
    found = draft("pin magnets = 12\n", "pin magnets_main = 12\npin q = 1\n", same=SAME,
                  dialect=load_dialect("reed.toml", dialect.encode()))  # fmt: skip
    assert [one["at"] for one in found.dialect.data["changes"]] == ["2.0.5", "2.1", "2.9"]


def test_lists_are_joined() -> None:
    dialect = REED + '\n[[changes]]\nat = "2.1"\nkept = ["a"]\n'
    found = draft("", "pin quiver = 1\n", dialect=dialect)
    assert found.dialect.data["changes"] == [{"at": "2.1", "kept": ["a", "quiver"]}]


def test_a_row_that_makes_the_file_wrong_becomes_a_comment() -> None:
    dialect = load_dialect("reed.toml", REED.encode())
    rows = [
        Row("rename", "nowhere", "there", 0.9, "why", True),
        Row("rename", "magnets", "bells", 0.8, "why", True),
        Row("rescale", "battery.full_v", "", 0.7, "why", True, keys={"scale": 0},
            setting="battery.full_v"),
    ]  # fmt: skip
    kept, made, notes = with_row(dialect, "2.1", rows)
    assert [one.drafted for one in kept] == [False, True, False]
    assert len(notes) == 2
    assert made.data["changes"][0]["rename"] == {"magnets": "bells"}


def test_the_same_name_in_two_sections_has_one_row() -> None:
    dialect = REED.replace('"tilt"]', '"tilt", "slew"]')
    found = draft(
        "[one]\npin slew = 7\n[two]\npin slew = 8\n", "[one]\n[two]\n", dialect=dialect,
    )  # fmt: skip
    assert found.drafted("remove").keys() == {"slew"}
    both = draft(
        "[one]\npin slew = 71\n[two]\npin slew = 82\n",
        "[one]\npin slewing = 71\n[two]\npin slewing = 82\n", dialect=dialect,
    )  # fmt: skip
    assert both.drafted("rename") == {"slew": "slewing"}


def test_long_lists_are_cut_short() -> None:
    before = "".join(f"pin osd_{n} = {n}\n" for n in range(60))
    after = "".join(f"pin osd_{n} = {n + 1}\n" for n in range(60))
    found = draft(before, after)
    assert len(found.differs) == 60
    assert "# … and 20 more" in found.text


def test_profiles_lists_and_lines_that_set_nothing() -> None:
    dialect = REED + '\n[profiles]\nwithin = "bank {P}"\nin_use = "bank"\n'
    dialect = dialect.replace('"cell_full"', '"cell_full", within = "bank {P}"')
    lines = "pin bank = 2\nstore\n[bank 1]\npin cell_full = 4.2\n[bank 2]\npin cell_full = 4.3\n"
    found = draft(lines, lines.replace("4.3", "4.35"), dialect=dialect)
    assert [one.name for one in found.differs] == ["battery.full_v"]


# ------------------------------------------------------------------ corners


def test_a_word_that_had_none_yet_is_taken_by_its_meaning_and_marked() -> None:
    found = draft(
        "pin motor_talk = DSHOT300\n", "pin motor_talk = multishot\n", same="pin tilt = 1\n"
    )
    one = row(found, "words", "motor.signal")
    assert one.drafted
    assert dict(one.keys) == {"values": {"multishot": "multishot"}, "unsure": ["multishot"]}
    assert one.proof == "with it the value differs: dshot300 → multishot"
    assert [found.differs[0].name, found.unread] == ["motor.signal", (1, 0)]
    assert (
        draft(
            ["pin motor_talk = DSHOT300\n"] * 2,
            ["pin motor_talk = multishot\n", "pin motor_talk = multi-shot\n"],
            same="pin tilt = 1\n",
        ).drafted("words")
        == {}
    )


def test_dumps_that_hold_only_changes_without_saying_so() -> None:
    names = ", ".join(f'"rig_{n}", "rig_{n}_{n}"' for n in "abcdefgh")
    dialect = REED.replace('"osd_*"', f'"osd_*", {names}')
    before = "".join(f"pin osd_{n} = {k}{k}1\n" for k, n in enumerate("abcdef"))
    after = "".join(f"pin hud_{n}{n} = {k}{k}2\n" for k, n in enumerate("uvwxyz"))
    found = draft(before + "pin gyro_band = 3\n", after + "pin gyro_notch = 3\n", dialect=dialect)
    assert found.drafted("remove") == {}
    assert any("so nothing is taken for removed" in note for note in found.notes)
    assert "yet both may be names of their own" in row(found, "rename", "gyro_band").reason
    assert not row(found, "rename", "gyro_band").drafted


def test_a_starred_name_in_another_section_needs_nothing() -> None:
    found = draft("[one]\npin osd_a = 120\n", "[two]\npin osd_a = 120\n")
    assert kinds(found) == []


def test_a_section_whose_form_cannot_be_told() -> None:
    found = draft("[axis 1]\npin low = 1000\n", "[lane 1 of 2]\npin low = 1000\n")
    one = row(found, "moved", "channel.N.low_us")
    assert not one.drafted
    assert "the section's form is yours to write" in one.reason


def test_lines_that_a_form_reads_are_no_names() -> None:
    dialect = REED + '\n[[forms]]\nline = "pin bus{N} = {f} {b}"\n'
    dialect += 'sets = { f = "port.N.functions", b = "port.N.baud" }\n'
    dialect = dialect.replace(
        '"port.N.functions" = { name = "port{N}_use", number_base = 0 }\n', ""
    )
    found = draft("pin bus1 = gps 9600\n", "pin bus1 = gps 115200\n", dialect=dialect)
    assert [one.name for one in found.differs] == ["port.1.baud"]
    assert kinds(found) == []


def test_words_without_their_vowels() -> None:
    dialect = REED.replace('"tilt"]', '"tilt", "sag_wobble"]')
    found = draft("pin sag_wobble = 71\n", "pin sag_wbbl = 71\n", dialect=dialect)
    assert found.drafted("rename") == {"sag_wobble": "sag_wbbl"}


def test_likeness_of_names() -> None:
    from cfglint.teach.updates_names import kind_of, likeness

    assert likeness("__", "gain") == 0
    assert likeness("led_slot3", "led_slot4") < 0.4, "members differ in their number alone"
    assert likeness("SPINTHR", "SPINTHRNEW") > 0.8
    assert [kind_of(text) for text in ('"a"', "5.5", "fast", "1/2/3")] == [
        "quoted", "number", "word", "list 3"
    ]  # fmt: skip


def test_a_rate_that_may_be_a_period_is_a_comment() -> None:
    dialect = REED.replace('"loop_period", over = 1000000', '"loop_rate", scale = 1000')
    found = draft("pin loop_rate = 1\n", "pin loop_rate = 1000\n", dialect=dialect)
    one = row(found, "rescale", "loop.rate_hz")
    assert (one.drafted, one.now, one.rival) == (False, "{ scale = 1 }", "over = 1000000")


def test_an_offset_alone_goes() -> None:
    dialect = REED.replace('"loss_gas"', '"loss_gas", offset = 800')
    found = draft("pin loss_gas = 480\n", "pin loss_gas = 1280\n", dialect=dialect)
    assert dict(row(found, "rescale", "failsafe.throttle_us").keys) == {"scale": 1, "offset": 0}


def test_an_odd_value_before_tells_nothing_of_the_scale() -> None:
    found = draft("pin loss_wait = 50\n", "pin loss_wait = 5\n")
    assert not row(found, "rescale", "failsafe.delay_s").drafted


def test_another_word_with_the_same_number() -> None:
    found = draft("pin motor_talk = DSHOT300\n", "pin motor_talk = q300\n", same="pin tilt = 1\n")
    assert row(found, "words", "motor.signal").drafted


def test_a_setting_that_may_have_any_of_two_meanings_of_a_word() -> None:
    found = draft("pin rx_link = sbus\n", "pin sbus_rx_link = S_BUS\n")
    assert found.drafted("rename") == {"rx_link": "sbus_rx_link"}
    assert row(found, "words", "receiver.link").drafted
    assert found.differs == ()


def test_a_number_of_a_family_that_is_none() -> None:
    found = draft(
        "pin ch1_high = 2000\npin ch2_high = 2001\n", "pin ch0_top = 2000\npin ch1_top = 2001\n"
    )
    assert found.drafted("rescale") == {}


LINES = st.sampled_from(
    [
        "pin magnets = 12", "pin magnets = 14", "pin magnet_count = 12", "pin low = 1084",
        "[sticks]",
        "[pilot]", "[axis 1]", "pin loss_wait = 0.4", "pin loss_wait = 400", "pin lost_wait = 4",
        "with reply", "without reply", "forget magnets", "forget q", "pin port0_use = gps/receiver",
        "pin port1_use = gnss", "pin uart0_use = gps", "pin rx_flip = yes", "pin rx_flip = on",
        "pin rx_link = sbus", "pin rx_link = SBUS", "chirp on 7 1730-2090", "buzz on 7 1730-2090",
        "pin osd_a = 1", "pin osd_b = x/y", "pin ch1_high = 2000", "pin ch01_high = 2", "???", "",
        "pin led_dim1 = 5", "pin lamp_dim1 = 5", "pin led{N} = 5", 'pin "a b" = "c', "store", "; x",
    ]
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    st.lists(LINES, max_size=12), st.lists(LINES, max_size=12), st.sampled_from(["whole", "part"])
)
def test_whatever_stands_there_the_block_is_what_was_proved(
    before: list[str], after: list[str], extent: str
) -> None:
    head = OLD.replace("whole", extent), NEW.replace("whole", extent)
    same = SAME + "".join(f"pin osd_x{n} = {n}\n" for n in range(12))
    found = draft("\n".join([*before, ""]), "\n".join([*after, ""]), head=head, same=same)
    assert found.unread[1] <= found.unread[0]
    assert all(0 <= one.confidence <= 1 for one in found.rows)
    assert all(one.confidence >= 0.6 for one in found.rows if one.drafted)


def test_another_style_of_all_names_in_good_time() -> None:
    import time

    words = [
        f"{a}_{b}_{c}" for a in ("rig", "fin", "hub") for b in "klmnpqrst" for c in "abcdefghij"
    ]
    dialect = REED.replace('"osd_*"', ", ".join(f'"{one}"' for one in words))
    before = "".join(f"pin {one} = {n}\n" for n, one in enumerate(words))
    start = time.perf_counter()
    found = draft(before, before.replace("_", "-"), dialect=dialect, same="pin nick = Teal\n")
    assert time.perf_counter() - start < 10
    assert found.drafted("rename") == {one: one.replace("_", "-") for one in words}
    other = before.replace("rig", "oak").replace("fin", "elm").replace("hub", "ash")
    assert draft(before, other, dialect=dialect, same="pin nick = Teal\n").drafted("remove") == {}
    assert time.perf_counter() - start < 30
