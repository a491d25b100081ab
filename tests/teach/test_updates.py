"""Drafting what an update changed, from dumps of the same craft before and after it."""

from __future__ import annotations

import re
from inspect import getsource
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfglint.dialect import Dialect, load_dialect
from cfglint.dialect.load import bundled_bytes
from cfglint.dump.source import Source
from cfglint.errors import Problem
from cfglint.teach.updates import Drafter, changes_between
from cfglint.teach.updates_model import Changes, Kind, Row
from cfglint.teach.updates_proof import with_rows

UPDATES = Path(__file__).resolve().parents[2] / "fixtures" / "saltmarsh" / "updates"

REED = """\
[dialect]
id = "reed"
schema = 2
versions = ">=2.0,<3"

[marks]
comment = ";"
assign = "pin {name} = {value}"
removal = "forget {name}"
title = "[{title}]"
list = "/"
none = "idle"
save = "save"

[identity]
lines = ["; reed {board} {firmware} {extent}"]
full = "whole"
changes = "part"

[map]
"craft.name" = "pin nick"
"motor.signal" = { at = "pin motor_talk", words = { dshot300 = "DSHOT300", dshot600 = "DSHOT600" } }
"motor.idle_percent" = { at = "pin motor_idle", scale = 0.1, default = 5 }
"motor.poles" = { at = "pin magnets", default = 22 }
"motor.two_way" = { at = "{value} reply", words = { yes = "with", no = "without" } }
"loop.rate_hz" = { at = "pin loop_period", over = 1000000 }
"receiver.link" = "pin rx_link"
"receiver.inverted" = "pin rx_flip"
"failsafe.delay_s" = { at = "pin loss_wait", default = 0.7 }
"failsafe.throttle_us" = "pin loss_gas"
"battery.full_v" = { at = "pin cell_full", default = 4.2 }
"battery.warn_v" = { at = "pin cell_warn", step = 0.01, decimals = 0 }
"stick.low_us" = "sticks > pin low"
"channel.N.low_us" = "axis N > pin low"
"channel.N.high_us" = "pin ch{N}_high"
"port.N.functions" = { at = "pin port{N}_use", N = { first = 0 } }
"log.on" = { at = "pin keep_log", default = false }

[modes]
arm = "armed"
beacon = "chirp"
log = "diary"

[[rows]]
at = "{mode} on {channel} {low}-{high}"
makes = "range"

[kept]
at = [
  "pin gyro_cut", "pin gyro_band", "pin led_dim1", "pin led_dim2", "pin led_dim3",
  "pin osd_*", "pin tilt"]
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
    answers: dict[str, str] | None = None,
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
    found = changes_between(*sides, read, name="reed.toml", at=at, answers=answers)
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
    return [(one.kind, one.name, one.live) for one in found.rows if one.kind != "traits"]


# ------------------------------------------------------------------ the demo's own pair


def stripped() -> Dialect:
    """The bundled dialect of the demo's pair, as it was before the update was known."""
    text = bundled_bytes("blocks").decode().partition("[[changes]]")[0]
    return load_dialect("stripped.toml", text.replace('<6.4"', '<6"').encode())


def egret(**answers: str) -> Changes:
    before, after = (
        Source.from_bytes(name, (UPDATES / name).read_bytes())
        for name in ("egret-before.dump.txt", "egret-after.dump.txt")
    )
    told = {"name silence > after-ms": answers["wait"]} if answers else {}
    return changes_between([before], [after], stripped(), name="stripped.toml", answers=told)


def test_the_demos_update_is_found() -> None:
    found = egret()
    assert (found.since, found.at) == ("5.6", "6.3")
    assert found.live("rename") == {"calm-gyro": "calm-rate"}
    assert list(found.live("remove")) == ["lens"]
    assert found.live("boards") == {"KETTLE": "KETTLES"}
    assert found.versions == ">=5.6,<=6.3"
    wait = row(found, "rename", "after-ms")
    assert (wait.now, wait.live) == ("wait-ms", False)
    assert "it waits for your answer" in wait.reason, "what a lost link does is not guessed"
    assert next(iter(found.open)) == "name silence > after-ms"
    assert found.unread == (1, 1)


def test_the_demos_draft_agrees_with_the_bundled_table() -> None:
    from cfglint.dialect.load import bundled

    (true,) = bundled("blocks").data["changes"]
    found = egret(wait="wait-ms")
    (made,) = found.dialect.data["changes"]
    assert made["rename"] == true["rename"]
    assert made["boards"] == true["boards"]
    assert made["remove"].keys() == true["remove"].keys()
    assert "traits" not in made, "how a flag is meant is never guessed"
    assert found.unread == (1, 0)


def test_what_still_differs_is_named() -> None:
    found = egret(wait="wait-ms")
    lost = {one.name for one in found.differs if one.kind == "lost"}
    assert {"mode self-level", "mode log", "lens"} <= lost
    assert row(found, "rename", "after-ms").proof == "with it the value differs: 0.8 s → 0.3 s"
    assert row(found, "rename", "calm-gyro").proof == "with it both dumps say the same"
    assert "#   lost: mode log: channel 5, 1790 to 2200 µs → not set" in found.text
    assert "sense receiver.inverted" in found.open


def test_an_answer_that_the_dumps_contradict_is_asked_again() -> None:
    found = egret(wait="wait-hours")
    assert found.reopened == ("name silence > after-ms",)
    assert "contradicts the dumps" in found.open["name silence > after-ms"]


# ------------------------------------------------------------------ names


def test_nothing_changed() -> None:
    found = draft("", "")
    assert kinds(found) == []
    assert "[[changes]]" not in found.text
    assert found.differs == ()


def test_a_rename_by_words() -> None:
    found = draft("pin magnets = 14\n", "pin magnets_main = 14\n")
    one = row(found, "rename", "magnets")
    assert (one.now, one.live, one.setting) == ("magnets_main", True, "motor.poles")
    assert one.proof == "with it both dumps say the same"
    assert 'magnets = "magnets_main"' in found.text


def test_a_rename_by_meaning_and_value() -> None:
    found = draft("pin cell_warn = 353\n", "pin battery_alarm = 353\n")
    one = row(found, "rename", "cell_warn")
    assert one.live
    assert "the new name speaks of battery.warn_v" in one.reason


def test_shortened_words_are_the_same() -> None:
    found = draft("pin gyro_band = 120\n", "pin grbnd = 120\n")
    assert found.live("rename") == {"gyro_band": "grbnd"}


def test_words_that_both_live_on_are_two_things() -> None:
    dialect = REED.replace(
        '"pin tilt"]',
        '"pin tilt", "pin roll_shove", "pin roll_ease", "pin yaw_shove", "pin yaw_ease"]',
    )
    same = SAME + "pin yaw_shove = 3\npin yaw_ease = 4\n"
    found = draft(
        "pin roll_shove = 7\n", "pin roll_ease = 9\n",
        dialect=dialect.replace('"pin roll_ease", ', ""),
        same=same,
    )  # fmt: skip
    assert "roll_shove" not in found.live("rename")
    assert found.live("kept") == {"pin roll_ease": ""}


def test_a_family_of_kept_names_goes_together() -> None:
    before = "".join(f"pin led_dim{n} = {n}0\n" for n in (1, 2, 3))
    after = "".join(f"pin lamp_dim{n} = {n}0\n" for n in (1, 2, 3))
    found = draft(before, after)
    assert found.live("rename") == {f"led_dim{n}": f"lamp_dim{n}" for n in (1, 2, 3)}
    assert "3 names of this kind went the same way" in row(found, "rename", "led_dim2").reason


def test_a_family_of_a_setting_is_one_row() -> None:
    before = "pin port0_use = receiver\npin port1_use = gps\n"
    after = "pin serial0_use = receiver\npin serial1_use = gps\n"
    found = draft(before, after)
    assert found.live("rename") == {"port": "serial"}
    assert found.unread == (2, 0)
    assert found.differs == ()


def test_names_that_a_star_kept_are_kept_by_their_new_ones() -> None:
    found = draft("pin osd_clock = 7\n", "pin hud_clock = 7\n", same=SAME)
    assert found.live("rename") == {"osd_clock": "hud_clock"}
    assert found.live("kept") == {"pin hud_clock": ""}
    assert found.unread == (1, 0)


def test_a_name_that_another_section_has_as_well_is_changed_for_one_setting() -> None:
    before = "[sticks]\npin low = 1084\n[axis 1]\npin low = 1000\n[axis 2]\npin low = 1001\n"
    after = "[sticks]\npin lowest = 1084\n[axis 1]\npin low = 1000\n[axis 2]\npin low = 1001\n"
    found = draft(before, after)
    one = row(found, "at", "stick.low_us")
    assert (one.live, dict(one.keys)) == (True, {"at": "sticks > pin lowest"})
    assert found.differs == ()


def test_a_section_with_another_title() -> None:
    before = "[sticks]\npin low = 1084\n[axis 1]\npin low = 1000\n[axis 2]\npin low = 1001\n"
    after = "[pilot]\npin low = 1084\n[lane 1]\npin low = 1000\n[lane 2]\npin low = 1001\n"
    found = draft(before, after)
    assert found.live("rename") == {"axis N": "lane N", "sticks": "pilot"}
    assert found.differs == ()


def test_a_kept_name_in_another_section_needs_nothing() -> None:
    found = draft("[one]\npin gyro_band = 120\n", "[two]\npin gyro_band = 120\n")
    assert kinds(found) == []


def test_a_name_that_the_dialect_does_not_know_is_no_row() -> None:
    found = draft("pin strange = 71\n", "pin strange_new = 71\n")
    one = row(found, "rename", "strange")
    assert not one.live
    assert "the dialect does not know the old name" in one.reason


def test_a_name_that_something_else_has_is_no_row() -> None:
    dialect = REED.replace('"pin tilt"]', '"pin tilt", "pin magnets"]')
    found = draft(
        "[aft]\npin magnets = 71\n", "[aft]\npin magnets_new = 71\n", dialect=dialect.replace(
            'at = "pin magnets"', 'at = "drive > pin magnets"')
    )  # fmt: skip
    one = row(found, "rename", "magnets")
    assert not one.live
    assert "for something else" in one.reason


def test_two_new_names_as_good_leave_it_open() -> None:
    found = draft(
        "pin gyro_band = 120\n", "pin gyro_band_a = 120\npin gyro_band_b = 120\n"
    )  # fmt: skip
    one = row(found, "rename", "gyro_band")
    assert not one.live
    assert one.rival == "gyro_band_b"
    assert "# or: gyro_band_b" in found.text
    assert "# rename: gyro_band = " in found.text


def test_values_of_another_kind_are_another_thing() -> None:
    found = draft("pin gyro_band = 120\n", "pin gyro_band_kind = sharp\n")
    assert "gyro_band" not in found.live("rename")


def test_where_little_changed_another_value_speaks_against_a_rename() -> None:
    dialect = REED.replace(
        '"pin tilt"]', '"pin tilt", ' + ", ".join(f'"pin aux_{c}"' for c in "abcdefgh") + "]"
    )
    same = SAME + "".join(f"pin aux_{c} = 5\n" for c in "abcdefgh")
    other = draft("pin gyro_band = 120\n", "pin gyro_notch = 77\n", dialect=dialect, same=same)
    assert "gyro_band" not in other.live("rename")


def test_names_in_any_letter_case() -> None:
    found = draft("PIN MAGNETS = 12\n", "pin Magnets_Main = 12\n")
    assert {old.lower(): new for old, new in found.live("rename").items()} == {
        "magnets": "Magnets_Main"
    }


def test_joints_are_spelling() -> None:
    assert kinds(draft("pin loss_gas = 1350\n", "pin loss-gas = 1350\n")) == []


def test_flags_by_name() -> None:
    found = draft("with reply\n", "with reply_wire\n")
    assert found.live("rename") == {"reply": "reply_wire"}
    assert "reply" not in draft("with reply\n", "pin reply_wire = 3\n").live("rename")


# ------------------------------------------------------------------ gone and new


def test_a_name_that_is_gone() -> None:
    found = draft("pin gyro_band = 120\n", "")
    one = row(found, "remove", "gyro_band")
    assert (one.live, one.now) == (True, "not in the dump after; look up what took its place")
    assert 'gyro_band = "not in the dump after' in found.text


def test_a_setting_that_is_gone() -> None:
    found = draft("pin magnets = 12\n", "")
    assert row(found, "remove", "magnets").setting == "motor.poles"
    assert not found.dialect.at("2.1").entries_of("motor.poles")


def test_gone_from_several_crafts() -> None:
    found = draft(["pin gyro_band = 120\n"] * 2, [""] * 2)
    assert row(found, "remove", "gyro_band").confidence > 0.9


def test_a_member_that_is_gone_may_only_be_hidden() -> None:
    found = draft("pin led_dim1 = 1\npin led_dim2 = 2\n", "pin led_dim1 = 1\n")
    assert not row(found, "remove", "led_dim2").live


def test_a_name_that_still_stands_elsewhere_is_removed_with_its_title() -> None:
    found = draft("[sticks]\npin low = 1\n[axis 1]\npin low = 2\n", "[axis 1]\npin low = 2\n")
    assert list(found.live("remove")) == ["sticks > pin low"]
    assert found.dialect.at("2.1").entries_of("channel.N.low_us")


def test_an_unknown_name_that_is_gone_needs_nothing() -> None:
    assert not row(draft("pin strange = 1\n", ""), "remove", "strange").live


def test_a_new_name_in_the_place_of_one_that_went() -> None:
    found = draft(
        "pin gyro_band_width = 120\npin osd_a = 1\n", "pin gyro_cut_order = sharp\npin osd_a = 1\n",
    )  # fmt: skip
    one = row(found, "remove", "gyro_band_width") if any(
        one.kind == "remove" for one in found.rows
    ) else row(found, "rename", "gyro_band_width")  # fmt: skip
    assert not one.live


def test_a_dump_that_was_cut_off_tells_nothing_of_what_is_gone() -> None:
    found = draft("pin gyro_band = 120\npin magnets = 12\n", "pin gyro_b")
    assert found.live("remove") == {}
    assert any("cut off" in note for note in found.notes)


def test_too_much_is_gone() -> None:
    before = "".join(f"pin osd_{n} = {n}\n" for n in "abcdefgh")
    found = draft(before, "pin magnets = 12\n", same="pin tilt = 40\n")
    assert found.live("remove") == {}
    assert any("same firmware?" in note for note in found.notes)


def test_new_names_are_kept() -> None:
    found = draft("", "pin quiver = 3\n")
    assert found.live("kept") == {"pin quiver": ""}
    assert found.unread == (1, 0)


def test_a_new_name_may_be_a_setting() -> None:
    found = draft("", "pin battery_cell_empty_volt = 3.3\n")
    one = row(found, "setting", "battery.empty_v")
    assert one.live
    assert dict(one.keys) == {"at": "pin battery_cell_empty_volt", "sure": False}
    assert "battery.empty_v" in found.dialect.at("2.1").unsure


def test_a_new_setting_in_a_section() -> None:
    found = draft("", "[battery]\npin cell_empty_volt = 3.3\n")
    assert row(found, "setting", "battery.empty_v").keys["at"] == "battery > pin cell_empty_volt"


def test_new_names_that_might_be_one_setting_are_only_kept() -> None:
    found = draft(
        "", "pin motor_pulse_min = 1036\npin motor_pulse_low = 1060\nwith quiver\n"
        "[axis 3]\npin video_power = 25\n",
    )  # fmt: skip
    assert found.live("setting") == {}
    assert set(found.live("kept")) == {
        "pin motor_pulse_min", "pin motor_pulse_low", "{value} quiver", "pin video_power"
    }  # fmt: skip


# ------------------------------------------------------------------ values


@pytest.mark.parametrize(
    ("before", "after", "setting", "keys"),
    [
        ("cell_full = 4.35", "cell_full = 435", "battery.full_v", {"scale": 0.01}),
        ("cell_full = 4.3", "cell_full = 4300", "battery.full_v", {"scale": 0.001}),
        ("cell_warn = 353", "cell_warn = 3.53", "battery.warn_v", {"step": 1, "decimals": 2}),
        ("motor_idle = 55", "motor_idle = 0.055", "motor.idle_percent", {"scale": 100}),
        ("loss_gas = 1350", "loss_gas = 35", "failsafe.throttle_us", {"scale": 10, "offset": 1000}),
        ("loop_period = 250", "loop_period = 4", "loop.rate_hz", {"over": 0, "scale": 1000}),
        ("loss_wait = 0.4", "loss_wait = 400", "failsafe.delay_s", {"scale": 0.001}),
    ],
)
def test_another_scale(before: str, after: str, setting: str, keys: dict[str, Any]) -> None:
    found = draft(f"pin {before}\n", f"pin {after}\n")
    one = row(found, "rescale", setting)
    assert (one.live, dict(one.keys)) == (True, keys)
    assert one.proof == "with it both dumps say the same"
    assert found.differs == ()


def test_a_rate_becomes_a_period() -> None:
    dialect = REED.replace('"pin loop_period", over = 1000000', '"pin loop_rate"')
    found = draft("pin loop_rate = 8000\n", "pin loop_rate = 125\n", dialect=dialect)
    assert dict(row(found, "rescale", "loop.rate_hz").keys) == {"over": 1000000}
    assert found.differs == ()


def test_an_offset_goes() -> None:
    dialect = REED.replace('"pin loss_gas"', '{ at = "pin loss_gas", scale = 10, offset = 1000 }')
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
    assert not one.live
    assert '# map: "failsafe.delay_s" = { scale = 0.1 }' in found.text
    assert row(found, "doubt", "failsafe.delay_s").live, "what it is pin to is marked meanwhile"
    assert "failsafe.delay_s" in found.dialect.at("2.1").unsure
    assert "value failsafe.delay_s" in found.open


def test_several_values_settle_a_scale() -> None:
    found = draft(
        ["pin loss_wait = 0.2\n", "pin loss_wait = 0.3\n"],
        ["pin loss_wait = 2\n", "pin loss_wait = 3\n"],
    )
    one = row(found, "rescale", "failsafe.delay_s")
    assert one.live
    assert "so with 2 different values" in one.reason


def test_a_scale_but_for_rounding() -> None:
    found = draft("pin cell_full = 4.35\n", "pin cell_full = 43\n")
    one = row(found, "rescale", "battery.full_v")
    assert "but for rounding" in one.reason
    assert one.proof.startswith("with it the value differs: 4.35 V → 4.3 V")


def test_a_scale_that_most_values_bear_out() -> None:
    before = [f"pin cell_full = {v}\n" for v in ("4.1", "4.2", "4.3", "4.35")]
    after = [f"pin cell_full = {v}\n" for v in ("410", "420", "430", "415")]
    one = row(draft(before, after), "rescale", "battery.full_v")
    assert (one.live, one.keys) == (False, {"scale": 0.01})
    assert "4.35 V → 4.15 V, so it waits for your answer" in one.reason


def test_a_number_without_a_usual_range() -> None:
    dialect = REED.replace('"log.on"', '"port.N.baud" = "pin speedN"\n"log.on"')
    found = draft("pin speed1 = 115200\n", "pin speed1 = 1152\n", dialect=dialect)
    assert dict(row(found, "rescale", "port.N.baud").keys) == {"scale": 100}
    tenfold = draft("pin speed1 = 115200\n", "pin speed1 = 11520\n", dialect=dialect)
    assert not row(tenfold, "rescale", "port.N.baud").live


def test_two_scales_as_good_are_a_comment() -> None:
    found = draft("pin loop_period = 1000\n", "pin loop_period = 1\n")
    assert row(found, "rescale", "loop.rate_hz").live
    dialect = REED.replace('"pin loop_period", over = 1000000', '"pin loop_rate"')
    both = draft("pin loop_rate = 1000\n", "pin loop_rate = 1000\n", dialect=dialect)
    assert kinds(both) == []


def test_a_rename_and_another_scale_at_once() -> None:
    found = draft("pin loss_wait = 0.4\n", "pin loss_wait_ms = 400\n")
    assert found.live("rename") == {"loss_wait": "loss_wait_ms"}
    assert dict(row(found, "rescale", "failsafe.delay_s").keys) == {"scale": 0.001}
    assert found.differs == ()


def test_a_wait_is_never_changed_without_a_mark() -> None:
    found = draft("pin loss_wait = 1\n", "pin loss_wait_ms = 30\n")
    rename, scale = row(found, "rename", "loss_wait"), row(found, "rescale", "failsafe.delay_s")
    assert (rename.live, scale.live, scale.keys) == (False, False, {"scale": 0.001})
    assert "its name ends in `ms`, so 30 is 0.03 s, where 1 s was" in scale.reason
    assert not found.dialect.data.get("changes")
    told = draft("pin loss_wait = 1\n", "pin loss_wait_ms = 30\n",
                 answers={"name loss_wait": "loss_wait_ms"})  # fmt: skip
    assert told.live("rename") == {"loss_wait": "loss_wait_ms"}
    assert row(told, "rescale", "failsafe.delay_s").live, "the unit goes with the name"
    assert [(one.was, one.now) for one in told.differs] == [("1 s", "0.03 s")]
    assert "value failsafe.delay_s" not in told.open


def test_an_answer_settles_a_scale() -> None:
    pair = "pin loss_wait = 0.2\n", "pin loss_wait = 2\n"
    key = "value failsafe.delay_s"
    assert dict(row(draft(*pair, answers={key: "0.2 s"}), "rescale", "failsafe.delay_s").keys) == {
        "scale": 0.1
    }
    same = draft(*pair, answers={key: "2"})
    assert [one for one in same.rows if one.kind in ("rescale", "doubt")] == []
    odd = draft(*pair, answers={key: "7"})
    assert odd.reopened == (key,)
    assert not row(odd, "rescale", "failsafe.delay_s").live


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("loss_gas = 1350", "loss_throttle = 1200"),
        ("rx_link = sbus", "rx_link_kind = ibus"),
        ("rx_flip = yes", "rx_flipped = no"),
        ("motor_talk = DSHOT300", "motor_talking = DSHOT600"),
        ("ch1_high = 2000", "ch1_highest = 1800"),
        ("port0_use = receiver", "port0_used = gps"),
    ],
)
def test_no_row_changes_a_value_without_an_answer(before: str, after: str) -> None:
    found = draft(f"pin {before}\n", f"pin {after}\n", same="pin tilt = 40\npin gyro_cut = 95\n")
    assert [one for one in found.rows if one.kind == "rename" and one.live and one.setting] == []


def test_no_ground_rule_looks_at_what_may_change_unasked() -> None:
    from cfglint.craft.settings import SETTINGS
    from cfglint.plugins import load_rules
    from cfglint.teach.updates import _HARMLESS

    texts = [
        text
        for one in load_rules().rules
        if '"ground"' in (text := getsource(one.check)) or one.grade == "ground"
    ]
    assert texts
    for name in SETTINGS:
        if name.startswith(_HARMLESS):
            assert not any(f'"{name}"' in text for text in texts), name


def test_a_number_that_is_none_any_more() -> None:
    found = draft("pin cell_full = 4.2\n", "pin cell_full = high\n")
    assert found.live("rescale") == {}
    assert found.differs


@pytest.mark.parametrize(
    ("before", "after", "keys"),
    [
        ("DSHOT300", "digital_300", {"words": {"dshot300": "digital_300"}}),
        ("DSHOT300", "Dshot.300", {"words": {"dshot300": "Dshot.300"}}),
    ],
)
def test_another_word(before: str, after: str, keys: dict[str, Any]) -> None:
    found = draft(
        f"pin motor_talk = {before}\n", f"pin motor_talk = {after}\n", same="pin tilt = 1\n"
    )
    one = row(found, "words", "motor.signal")
    assert (one.live, dict(one.keys)) == (True, keys)
    assert found.differs == ()


def test_a_word_that_means_another_value_is_a_comment() -> None:
    dialect = REED.replace('dshot600 = "DSHOT600"', 'dshot600 = "fast"')
    found = draft("pin motor_talk = DSHOT300\n", "pin motor_talk = dshot600\n", dialect=dialect,
                  same="pin tilt = 1\n")  # fmt: skip
    one = row(found, "words", "motor.signal")
    assert not one.live
    assert "it means dshot600" in one.reason


def test_a_word_that_says_nothing_is_a_comment() -> None:
    found = draft("pin motor_talk = DSHOT300\n", "pin motor_talk = warble\n", same="pin tilt = 1\n")
    assert not row(found, "words", "motor.signal").live


def test_a_word_much_like_the_old_one() -> None:
    dialect = REED.replace('"DSHOT300"', '"warbling"')
    found = draft("pin motor_talk = warbling\n", "pin motor_talk = warblings\n", dialect=dialect,
                  same="pin tilt = 1\n")  # fmt: skip
    assert row(found, "words", "motor.signal").live


def test_words_where_the_neutral_ones_were_written() -> None:
    found = draft("pin rx_link = sbus\n", "pin rx_link = S_BUS\n")
    one = row(found, "words", "receiver.link")
    assert one.keys["words"]["sbus"] == "S_BUS"
    assert one.keys["words"]["crsf"] == "crsf", "the others are written as before"
    assert found.differs == ()


def test_one_word_of_a_list() -> None:
    found = draft("pin port0_use = receiver/gps\n", "pin port0_use = receiver/gnss\n")
    assert row(found, "words", "port.N.functions").keys["words"]["gps"] == "gnss"
    two = draft("pin port0_use = receiver/gps\n", "pin port0_use = rx/gnss\n")
    assert two.live("words") == {}


def test_one_word_for_two_values_is_nothing() -> None:
    found = draft(
        ["pin motor_talk = DSHOT300\n", "pin motor_talk = DSHOT600\n"],
        ["pin motor_talk = digital\n"] * 2, same="pin tilt = 1\n",
    )  # fmt: skip
    assert found.live("words") == {}
    other = draft(
        ["pin motor_talk = DSHOT300\n"] * 2,
        ["pin motor_talk = digital\n", "pin motor_talk = serial\n"], same="pin tilt = 1\n",
    )  # fmt: skip
    assert other.live("words") == {}


def test_yes_and_no() -> None:
    found = draft(
        "pin rx_flip = yes\npin keep_log = no\n", "pin rx_flip = on\npin keep_log = off\n"
    )
    assert dict(row(found, "words", "receiver.inverted").keys) == {
        "words": {"yes": "on", "no": "off"}
    }
    assert dict(row(found, "words", "log.on").keys) == {"words": {"yes": "on", "no": "off"}}
    assert found.differs == ()
    assert draft("pin rx_flip = yes\n", "pin rx_flip = maybe\n").live("words") == {}
    muddled = draft(
        "pin rx_flip = yes\npin keep_log = no\n", "pin rx_flip = on\npin keep_log = on\n"
    )
    assert muddled.live("words") == {}


# ------------------------------------------------------------------ defaults


def test_a_renamed_setting_at_another_value_may_be_at_its_new_default() -> None:
    found = draft("pin loss_wait = 0.8\n", "pin loss_wait_time = 0.3\n")
    assert not row(found, "default", "failsafe.delay_s").live
    reset = draft(
        "pin loss_wait = 0.8\npin magnets = 12\n", "pin loss_wait_time = 0.3\npin magnets = 22\n"
    )
    one = row(reset, "default", "failsafe.delay_s")
    assert not one.live, "nobody is told what a lost link does but by a person"
    assert "default failsafe.delay_s" in reset.open
    assert "motor.poles went back to its default as well" in one.reason


def test_several_crafts_that_agree_have_a_new_default() -> None:
    found = draft(["pin magnets = 12\n", "pin magnets = 16\n"], ["pin magnets = 20\n"] * 2)
    assert row(found, "default", "motor.poles").live
    assert row(found, "default", "motor.poles").keys == {"default": 20}


PART = ("; reed TEAL 2.0 part\n", "; reed TEAL 2.1 part\n")


def test_an_old_default_that_stands_in_a_dump_of_changes_is_none_any_more() -> None:
    found = draft("", "pin magnets = 22\n", head=PART)
    one = row(found, "default", "motor.poles")
    assert (one.live, one.ask) == (False, "default motor.poles")
    assert one.reason.startswith("22 poles stands in the dump")


def test_a_line_that_went_from_a_dump_of_changes() -> None:
    found = draft("pin magnets = 12\npin osd_a = 2\n", "", head=PART)
    one = row(found, "default", "motor.poles")
    assert (one.live, dict(one.keys)) == (False, {"default": 12})
    assert not row(found, "remove", "osd_a").live
    assert any("dumps of what differs" in note for note in found.notes)


def test_two_crafts_tell_the_new_default_between_them() -> None:
    found = draft(["", "pin magnets = 12\n"], ["pin magnets = 22\n", ""], head=PART)
    one = row(found, "default", "motor.poles")
    assert (one.live, dict(one.keys)) == (True, {"default": 12})


def test_flags_and_defaults_in_dumps_of_changes() -> None:
    found = draft("", "pin keep_log = no\n", head=PART)
    assert row(found, "default", "log.on").ask
    full_only = draft("", "pin magnets = 22\n", head=(PART[0], NEW))
    assert kinds(full_only) == []


def test_taken_back_is_not_gone() -> None:
    found = draft("forget gyro_band\npin osd_a = 2\n", "pin osd_a = 2\n")
    assert found.live("remove") == {}
    back = draft("pin magnets = 12\n", "[sticks]\nforget magnets\n")
    assert back.live("remove") == {}


# ------------------------------------------------------------------ what only a person can tell


def test_a_flipped_flag_is_a_question() -> None:
    found = draft(
        "pin rx_link = sbus\npin rx_flip = yes\n", "pin rx_link = sbus\npin rx_flip = no\n"
    )
    assert "was flipped while the link stayed" in row(found, "traits", "inversion").reason
    assert "changes" not in found.dialect.data, "nothing is guessed of a trait"
    other = draft(
        "pin rx_link = sbus\npin rx_flip = yes\n", "pin rx_link = ibus\npin rx_flip = no\n"
    )
    assert [one for one in other.rows if one.kind == "traits"] == []


# ------------------------------------------------------------------ boards and modes


def test_boards() -> None:
    near = draft("", "", head=(OLD, NEW.replace("TEAL", "TEALB")))
    assert near.live("boards") == {"TEAL": "TEALB"}
    far = draft("", "", head=(OLD, NEW.replace("TEAL", "HERON")))
    assert not row(far, "boards", "TEAL").live
    case = draft("", "", head=(OLD, NEW.replace("TEAL", "Teal")))
    assert kinds(case) == []


def test_a_board_that_becomes_two() -> None:
    dialect = load_dialect("reed.toml", REED.encode())
    after = [NEW.replace("TEAL", name) + SAME for name in ("TEALA", "TEALB")]
    sources = [Source.from_text(f"{n}.txt", text) for n, text in enumerate(after)]
    before = [Source.from_text(f"b{n}.txt", OLD + SAME) for n in (1, 2)]
    found = changes_between(before, sources, dialect, name="reed.toml")
    assert row(found, "boards", "TEAL").reason == "it becomes TEALA and TEALB"
    assert not row(found, "boards", "TEAL").live


def test_a_mode_by_another_word() -> None:
    found = draft("chirp on 7 1730-2090\n", "buzzer on 7 1730-2090\n")
    one = row(found, "modes", "beacon")
    assert (one.now, one.live) == ("buzzer", True)
    assert "by its words" in one.reason
    assert found.differs == ()
    assert one.proof == "with it both dumps say the same"


def test_a_mode_by_a_word_that_says_nothing() -> None:
    assert row(draft("chirp on 7 1735-2165\n", "warble on 7 1735-2165\n"), "modes", "beacon").live


def test_a_mode_by_a_word_that_says_something_else() -> None:
    found = draft("chirp on 7 1735-2165\n", "turtle on 7 1735-2165\n")
    assert not row(found, "modes", "beacon").live


def test_two_modes_with_one_range() -> None:
    before = "chirp on 7 1735-2165\ndiary on 7 1735-2165\n"
    found = draft(before, "warble on 7 1735-2165\nflute on 7 1735-2165\n")
    assert found.live("modes") == {}
    assert found.rows


def test_mode_lines_that_cannot_be_read_otherwise() -> None:
    found = draft("chirp on 7 1735-2165\n", "warble on x 1735-2165\narmed on x 905-1015\n")
    assert found.live("modes") == {}


def test_a_mode_in_a_section_title() -> None:
    dialect = REED.replace(
        'at = "{mode} on {channel} {low}-{high}"',
        'at = "when {mode} > channel {channel} {low}-{high}"',
    )
    found = draft(
        "[when chirp]\nchannel 7 1730-2090\n", "[when buzzer]\nchannel 7 1730-2090\n",
        dialect=dialect,
    )  # fmt: skip
    assert found.live("modes") == {"beacon": "buzzer"}
    elsewhere = draft(
        "[when chirp]\nchannel 7 1730-2090\n", "[else]\nchannel 7 1730-2090\n", dialect=dialect
    )
    assert elsewhere.live("modes") == {}
    assert elsewhere.unread == (1, 1)


def test_lines_that_no_form_reads_any_more() -> None:
    found = draft("chirp on 7 1730-2090\n", "chirp by 7 from 1730 to 2090\n")
    (note,) = found.notes
    assert "1 lines are read by no row any more" in note
    assert "Note: 1 lines" in found.text


def test_lines_of_several_fields_in_other_words() -> None:
    found = draft("chirp on 7 1735-2165\ndiary on 8 1735-2165\n",
                  "chirp at 7 1735-2165\ndiary at 8 1735-2165\n")  # fmt: skip
    assert found.live("rename") == {"on": "at"}
    assert (found.unread, found.differs) == ((2, 0), ())
    moved = draft("chirp on 7 1735-2165\n", "chirp at 6 1735-2165\n")
    assert "on" not in moved.live("rename"), "a switch that does something else is asked about"


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
    assert found.dialect.data["changes"] == [{"at": "2.1", "kept": ["a", "pin quiver"]}]


def test_a_row_that_makes_the_file_wrong_becomes_a_comment() -> None:
    sources = [Source.from_text(f"{n}.txt", head + SAME) for n, head in enumerate((OLD, NEW))]
    drafter = Drafter(
        sources[:1], sources[1:], load_dialect("reed.toml", REED.encode()), "r", "", {}
    )
    rows = [
        Row("rename", "nowhere", "there", 0.9, "why", True),
        Row("rename", "magnets", "bells", 0.8, "why", True),
        Row("rescale", "battery.full_v", "", 0.7, "why", True, keys={"scale": 0},
            setting="battery.full_v"),
    ]  # fmt: skip
    kept, made, notes = with_rows(drafter, rows)
    assert [one.live for one in kept] == [False, True, False]
    assert len(notes) == 2
    assert made.dialect.data["changes"][0]["rename"] == {"magnets": "bells"}


def test_the_same_name_in_two_sections_has_one_row() -> None:
    dialect = REED.replace('"pin tilt"]', '"pin tilt", "pin slew"]')
    found = draft(
        "[one]\npin slew = 7\n[two]\npin slew = 8\n", "[one]\n[two]\n", dialect=dialect,
    )  # fmt: skip
    assert found.live("remove").keys() == {"slew"}
    both = draft(
        "[one]\npin slew = 71\n[two]\npin slew = 82\n",
        "[one]\npin slewing = 71\n[two]\npin slewing = 82\n", dialect=dialect,
    )  # fmt: skip
    assert both.live("rename") == {"slew": "slewing"}


def test_long_lists_are_cut_short() -> None:
    before = "".join(f"pin osd_{n} = {n}\n" for n in range(60))
    after = "".join(f"pin osd_{n} = {n + 1}\n" for n in range(60))
    found = draft(before, after)
    assert len(found.differs) == 60
    assert "# … and 20 more" in found.text


def test_profiles_lists_and_lines_that_set_nothing() -> None:
    dialect = REED + '\n[profiles]\nin_use = "pin bank"\n'
    dialect = dialect.replace('"pin cell_full"', '"bank {P} > pin cell_full"')
    lines = "pin bank = 2\nsave\n[bank 1]\npin cell_full = 4.2\n[bank 2]\npin cell_full = 4.3\n"
    found = draft(lines, lines.replace("4.3", "4.35"), dialect=dialect)
    assert [one.name for one in found.differs] == ["battery.full_v"]


def carried(found: Changes, before: str, after: str) -> dict[str, tuple[Any, Any]]:
    """What a carry over the update says, read back, against the dump after: setting → both."""
    from cfglint.carry.carry import carry
    from cfglint.carry.side import read_side

    old, new = (Source.from_text(name, head + SAME + text)
                for name, head, text in (("old", OLD, before), ("new", NEW, after)))  # fmt: skip
    made = carry(read_side(old, found.dialect), found.dialect, found.at)
    lines = made.lines
    craft = read_side(
        Source.from_text("carried", NEW + "\n".join(lines) + "\n"), found.dialect
    ).craft
    assert craft.strays == craft.misread == ()
    later = read_side(new, found.dialect).craft
    return {name: (craft.get(name).value, value.value) for name, value in later.values.items()
            if name not in ("craft.firmware", "craft.board")}  # fmt: skip


def test_carrying_by_the_draft_says_what_the_dump_after_does() -> None:
    before = (
        "pin loss_wait = 0.4\npin magnets = 12\npin cell_full = 4.35\npin port0_use = gps\n"
        "[sticks]\npin low = 1050\n[axis 2]\npin low = 1001\n"
    )
    after = (
        "pin loss_wait_ms = 400\npin magnets_main = 12\npin cell_full = 435\n"
        "pin serial0_use = gps\n[pilot]\npin low = 1050\n[axis 2]\npin lowest = 1001\n"
    )
    found = draft(before, after)
    assert (found.differs, found.unread[1]) == ((), 0)
    both = carried(found, before, after)
    assert len(both) >= 8
    assert all(one == other for one, other in both.values()), both


# ------------------------------------------------------------------ corners


def test_a_word_that_had_none_yet_is_taken_by_its_meaning_and_marked() -> None:
    found = draft(
        "pin motor_talk = DSHOT300\n", "pin motor_talk = multishot\n", same="pin tilt = 1\n"
    )
    one = row(found, "words", "motor.signal")
    assert not one.live
    assert dict(one.keys) == {"words": {"multishot": "multishot"}, "unsure": ["multishot"]}
    assert "dshot300 → multishot, so it waits for your answer" in one.reason
    assert found.unread == (1, 1)
    assert (
        draft(
            ["pin motor_talk = DSHOT300\n"] * 2,
            ["pin motor_talk = multishot\n", "pin motor_talk = multi-shot\n"],
            same="pin tilt = 1\n",
        ).live("words")
        == {}
    )


def test_dumps_that_hold_only_changes_without_saying_so() -> None:
    names = ", ".join(f'"pin rig_{n}", "pin rig_{n}_{n}"' for n in "abcdefgh")
    dialect = REED.replace('"pin osd_*"', f'"pin osd_*", {names}')
    before = "".join(f"pin osd_{n} = {k}{k}1\n" for k, n in enumerate("abcdef"))
    after = "".join(f"pin hud_{n}{n} = {k}{k}2\n" for k, n in enumerate("uvwxyz"))
    found = draft(before + "pin gyro_band = 3\n", after + "pin gyro_notch = 3\n", dialect=dialect)
    assert found.live("remove") == {}
    assert any("so nothing is taken for removed" in note for note in found.notes)
    assert "yet both may be names of their own" in row(found, "rename", "gyro_band").reason
    assert not row(found, "rename", "gyro_band").live


def test_a_starred_name_in_another_section_needs_nothing() -> None:
    found = draft("[one]\npin osd_a = 120\n", "[two]\npin osd_a = 120\n")
    assert kinds(found) == []


def test_a_section_whose_form_cannot_be_told() -> None:
    found = draft("[axis 1]\npin low = 1000\n", "[lane 1 of 2]\npin low = 1000\n")
    one = row(found, "rename", "axis N > low")
    assert not one.live
    assert "the address is yours to write" in one.reason


def test_lines_that_a_row_reads_are_no_names() -> None:
    dialect = REED.replace(
        '"port.N.functions" = { at = "pin port{N}_use", N = { first = 0 } }\n', ""
    )
    dialect += '\n[[rows]]\nat = "pin bus{N} = {f} {b}"\n'
    dialect += 'sets = { f = "port.N.functions", b = "port.N.baud" }\n'
    found = draft("pin bus1 = gps 9600\n", "pin bus1 = gps 115200\n", dialect=dialect)
    assert [one.name for one in found.differs] == ["port.1.baud"]
    assert kinds(found) == []


def test_words_without_their_vowels() -> None:
    dialect = REED.replace('"pin tilt"]', '"pin tilt", "pin sag_wobble"]')
    found = draft("pin sag_wobble = 71\n", "pin sag_wbbl = 71\n", dialect=dialect)
    assert found.live("rename") == {"sag_wobble": "sag_wbbl"}


def test_likeness_of_names() -> None:
    from cfglint.teach.updates_pairs import kind_of, likeness

    assert likeness("__", "gain") == 0
    assert likeness("led_slot3", "led_slot4") < 0.4, "members differ in their number alone"
    assert likeness("SPINTHR", "SPINTHRNEW") > 0.8
    assert [kind_of(text) for text in ('"a"', "5.5", "fast", "1/2/3")] == [
        "quoted", "number", "word", "list 3"
    ]  # fmt: skip


def test_a_rate_that_may_be_a_period_is_a_comment() -> None:
    dialect = REED.replace('"pin loop_period", over = 1000000', '"pin loop_rate", scale = 1000')
    found = draft("pin loop_rate = 1\n", "pin loop_rate = 1000\n", dialect=dialect)
    one = row(found, "rescale", "loop.rate_hz")
    assert (one.live, one.now, one.rival) == (False, "{ scale = 1 }", "over = 1000000")


def test_an_offset_alone_goes() -> None:
    dialect = REED.replace('"pin loss_gas"', '{ at = "pin loss_gas", offset = 800 }')
    found = draft("pin loss_gas = 500\n", "pin loss_gas = 1300\n", dialect=dialect)
    assert dict(row(found, "rescale", "failsafe.throttle_us").keys) == {"scale": 1, "offset": 0}


def test_an_odd_value_before_tells_nothing_of_the_scale() -> None:
    found = draft("pin loss_wait = 50\n", "pin loss_wait = 5\n")
    assert not row(found, "rescale", "failsafe.delay_s").live


def test_another_word_with_the_same_number() -> None:
    found = draft("pin motor_talk = DSHOT300\n", "pin motor_talk = q300\n", same="pin tilt = 1\n")
    assert row(found, "words", "motor.signal").live


def test_a_setting_that_may_have_any_of_two_meanings_of_a_word() -> None:
    found = draft("pin rx_link = sbus\n", "pin sbus_rx_link = S_BUS\n")
    assert found.live("rename") == {"rx_link": "sbus_rx_link"}
    assert row(found, "words", "receiver.link").live
    assert found.differs == ()


def test_a_number_of_a_family_that_is_none() -> None:
    found = draft(
        "pin ch1_high = 2000\npin ch2_high = 2001\n", "pin ch0_top = 2000\npin ch1_top = 2001\n"
    )
    assert found.live("rescale") == {}


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


@settings(max_examples=60, deadline=None)
@given(st.lists(LINES, max_size=12), st.lists(LINES, max_size=12), st.sampled_from(["all", "diff"]))
def test_whatever_stands_there_the_block_is_what_was_proved(
    before: list[str], after: list[str], extent: str
) -> None:
    head = OLD.replace("whole", extent), NEW.replace("whole", extent)
    same = SAME + "".join(f"pin osd_x{n} = {n}\n" for n in range(12))
    found = draft("\n".join([*before, ""]), "\n".join([*after, ""]), head=head, same=same)
    assert found.unread[1] <= found.unread[0]
    assert all(0 <= one.confidence <= 1 for one in found.rows)
    assert all(one.confidence >= 0.6 for one in found.rows if one.live)


def test_another_style_of_all_names_in_good_time() -> None:
    import time

    words = [
        f"{a}_{b}_{c}" for a in ("rig", "fin", "hub") for b in "klmnpqrst" for c in "abcdefghij"
    ]
    dialect = REED.replace('"pin osd_*"', ", ".join(f'"pin {one}"' for one in words))
    before = "".join(f"pin {one} = {n}\n" for n, one in enumerate(words))
    start = time.perf_counter()
    found = draft(before, before.replace("_", "-"), dialect=dialect, same="pin nick = Teal\n")
    assert time.perf_counter() - start < 10
    assert kinds(found) == [], "joints are spelling"
    other = before.replace("rig", "oak").replace("fin", "elm").replace("hub", "ash")
    assert draft(before, other, dialect=dialect, same="pin nick = Teal\n").live("remove") == {}
    assert time.perf_counter() - start < 30


@pytest.mark.parametrize("name", ["plain", "blocks", "nested", "tables"])
def test_what_a_bundled_dialect_tells_of_its_update_is_found_again(name: str) -> None:
    """A craft is written as both versions have it; the table is taken out and drafted anew."""
    from cfglint.carry.carry import carry
    from cfglint.carry.side import Side, read_side
    from cfglint.dialect.load import bundled

    def written(side: Side, version: str) -> Source:
        return Source.from_text(f"at-{version}", "\n".join(carry(side, true, version).lines) + "\n")

    first = Source.from_bytes("egret", (UPDATES / "egret-before.dump.txt").read_bytes())
    true = bundled(name)
    (change,) = true.data["changes"]
    oldest = true.data["dialect"]["versions"].partition(",")[0].lstrip(">=")
    before = written(read_side(first, bundled("blocks")), oldest)
    after = written(read_side(before, true), change["at"])
    text = re.sub(r"\[\[changes\]\][\s\S]*?(?=\[\[examples)", "", bundled_bytes(name).decode())
    base = load_dialect(f"{name}.toml", text.encode())
    found = changes_between([before], [after], base, name=name, at=change["at"])
    renamed = found.live("rename")
    assert renamed
    assert renamed.items() <= change["rename"].items()
    for setting_, now in found.live("rescale").items():
        assert f"scale = {change['map'][setting_]['scale']}" in now
    assert len(found.live("rescale")) == sum("scale" in one for one in change["map"].values())
    assert found.live("remove") == found.live("words") == {}
    assert found.unread[1] == 0
