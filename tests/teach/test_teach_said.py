"""What a dump says of itself: its board and version, its extent, what its numbers mean."""

from __future__ import annotations

from typing import Any

import pytest

from .samples import USUAL, asked, craft_of, ranges, read, taught, values

BODY = "esc_protocol = dshot600\nrx_link = sbus\n" + USUAL


def identity(head: str, *more: str) -> dict[str, Any]:
    """What a draft from a dump with such a first line reads about the craft itself."""
    text = "\n".join([head, *more]) + "\n" + BODY
    return {k: v for k, v in read(text).items() if k.startswith("craft.")}


@pytest.mark.parametrize(
    ("head", "board", "firmware"),
    [
        ("# board BASALT firmware 2.6", "BASALT", "2.6"),
        ("# sedge control v13.10.1 on EMBER", "EMBER", "13.10.1"),
        ("# EMBER board, release 11.4, built Mar 3 2026 12:40:11", "EMBER", "11.4"),
        ("# plate: RUSH_7, version: 3.2 (spring)", "RUSH_7", "3.2"),
        ("# version 3.2.1 / 2026-03-01", None, "3.2.1"),
        ("# hardware is EMBER", "EMBER", None),
        ("# 13.10", None, "13.10"),
        ("version = 13.10", None, "13.10"),
        ("board = EMBER", "EMBER", None),
    ],
)
def test_board_and_version(head: str, board: str | None, firmware: str | None) -> None:
    said = identity(head)
    assert said.get("craft.board") == board
    assert said.get("craft.firmware") == firmware


@pytest.mark.parametrize(
    "head",
    [
        "# the tide was 3.1 metres high when the last of the birds had gone to sleep",
        "# reeds and rushes",
        "# craft 12 of the fleet",
    ],
)
def test_a_number_in_a_sentence_is_no_version(head: str) -> None:
    assert identity(head) == {}
    notes = taught(head + "\n" + BODY).notes
    assert any("board" in note for note in notes)


@pytest.mark.parametrize(
    ("head", "name"),
    [
        ("# craft: Avocet", "Avocet"),
        ('# name is "Reed Bunting"', "Reed Bunting"),
        ("# board EMBER version 11.7 craft Avocet", "Avocet"),
    ],
)
def test_the_crafts_name(head: str, name: str) -> None:
    assert identity(head)["craft.name"] == name


@pytest.mark.parametrize(
    ("said", "extent"),
    [
        ("everything", "full"),
        ("full listing", "full"),
        ("changes only", "changes"),
        ("delta", "changes"),
    ],
)
def test_whether_a_dump_says_everything(said: str, extent: str) -> None:
    text = f"# board EMBER version 11.7 {said}\n{BODY}"
    draft = taught(text)
    assert craft_of(draft, text).extent == extent
    assert draft.dialect.data["identity"][extent]


def test_both_words_of_an_extent_from_two_samples() -> None:
    one, two = f"# EMBER v11.7 full\n{BODY}", f"# EMBER v11.7 delta\n{BODY}"
    data = taught(one, two=two).dialect.data
    assert (data["identity"]["full"], data["identity"]["changes"]) == ("full", "delta")
    # A dump that says nothing of it, in a dialect that tells, is a full one.
    assert data["dialect"].get("extent", "full") == "full"


def test_another_sample_may_say_it_another_way() -> None:
    one = f"# board EMBER version 11.7\n{BODY}"
    two = f"# board EMBER, built 3 Mar 2026, version 11.7\n{BODY}"
    draft = taught(one, two=two)
    for text in (one, two):
        assert values(draft, text)["craft.firmware"] == "11.7"
    assert len(draft.dialect.data["identity"]["lines"]) == 2


def test_another_date_is_the_same_line() -> None:
    head = "# board EMBER version 11.7 built Mar 3 2026 at 12:40:11"
    draft = taught(f"{head}\n{BODY}")
    other = "# board CHALK version 11.9 built Nov 25 2026 at 09:05:59\n" + BODY
    assert values(draft, other)["craft.board"] == "CHALK"
    assert values(draft, other)["craft.firmware"] == "11.9"


def test_several_lines_may_say_it() -> None:
    said = identity("# board EMBER", "# version 11.7", "# craft: Avocet", "# 11.7 again, and 11.9")
    assert said == {"craft.board": "EMBER", "craft.firmware": "11.7", "craft.name": "Avocet"}


def test_what_comes_late_or_in_a_section_is_no_identity() -> None:
    late = BODY + "".join(f"rush.{n} = 4\n" for n in "abcdefghijklmnopqrstuvwxyzABCDEFGHIJ")
    assert "craft.firmware" not in read(late + "# board EMBER version 11.7\n")
    inside = BODY + "[lens]\nversion = 11.7\ntint = 4\n[reed]\ntint = 4\n"
    assert "craft.firmware" not in read(inside)


def test_two_places_side_by_side_say_nothing() -> None:
    assert "craft.firmware" not in identity("# firmware 11.7 2026-03-0112:40")


# ---------------------------------------------------------------- legends


@pytest.mark.parametrize(
    ("legend", "line", "setting", "meant"),
    [
        (
            "# signal: 14 brushed, 3 pwm, 27 dshot300, 8 dshot600",
            "esc_proto = 8",
            "motor.signal",
            "dshot600",
        ),
        ("# sbus=1, crsf=2, ibus=3", "rx_link = 2", "receiver.link", "crsf"),
        (
            "# 0 = do nothing, 1 = land now, 2 = stop motors",
            "failsafe_action = 1",
            "failsafe.action",
            "descend",
        ),
        (
            "# cell type: 0 lipo 1 lihv 2 li-ion",
            "battery_chemistry = 1",
            "battery.chemistry",
            "lihv",
        ),
    ],
)
def test_a_comment_says_what_numbers_mean(legend: str, line: str, setting: str, meant: str) -> None:
    text = f"{USUAL}{legend}\n{line}\n"
    assert read(text)[setting] == meant
    assert asked(taught(text), f"value {setting}") is None
    silent = f"{USUAL}{line}\n"
    assert setting not in read(silent)
    assert asked(taught(silent), f"value {setting}") is not None


def test_a_comment_says_which_modes() -> None:
    text = (
        f"{USUAL}# ranges: 0 arm, 3 level, 6 beeper\nrange 0 ch5 1750 2080\nrange 3 ch6 850 1210\n"
    )
    draft = taught(text)
    assert ranges(draft, text) == [("arm", 5, 1750, 2080), ("self-level", 6, 850, 1210)]
    assert asked(draft, "words mode") is None


def test_a_comment_over_several_lines() -> None:
    text = f"""{USUAL}
# ports: 0 none
# 1 receiver
# 2 telemetry
# 64 gps

# speeds: 1 = 9600, 2 = 57600, 4 = 115200
port 1 1 4
port 2 66 2
port 3 0 1
"""
    craft = craft_of(taught(text), text)
    assert [(p.functions.value, p.baud.value) for p in craft.ports()] == [
        (frozenset({"receiver"}), 115200),
        (frozenset({"telemetry", "gps"}), 57600),
        (frozenset(), 9600),
    ]


def test_what_the_owner_says_goes_before_a_comment() -> None:
    text = f"{USUAL}# signal: 41 pwm, 23 dshot600\nesc_protocol = 23\n"
    assert read(text, {"words motor.signal": "23 = dshot300"})["motor.signal"] == "dshot300"


def test_a_comment_about_something_else_explains_nothing() -> None:
    text = f"{USUAL}# 3 reeds, 4 terns, 5 sluices and 2 gps, or 1 of each\nfailsafe_action = 4\n"
    assert "failsafe.action" not in read(text)
