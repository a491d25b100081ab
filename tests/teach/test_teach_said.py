"""What a dump says of itself: its board and version, its extent, what its numbers mean."""

from __future__ import annotations

from typing import Any

import pytest

from .samples import USUAL, read, taught, values

BODY = "esc_protocol = dshot600\nrx_link = sbus\n" + USUAL


def identity(head: str, *more: str) -> dict[str, Any]:
    """What a draft from a dump with such a first line reads about the craft itself."""
    text = "\n".join([head, *more]) + "\n" + BODY
    return {k: v for k, v in read(text).items() if k.startswith("craft.")}


@pytest.mark.parametrize(
    ("head", "board", "firmware"),
    [
        ("# board BASALT firmware 8.6", "BASALT", "8.6"),
        ("# sedge control v13.10.1 on EMBER", "EMBER", "13.10.1"),
        ("# EMBER board, release 11.4, built Mar 3 2026 12:40:11", "EMBER", "11.4"),
        ("# plate: OSIER_7, version: 8.2 (spring)", "OSIER_7", "8.2"),
        ("# version 6.8.1 / 2026-03-01", None, "6.8.1"),
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


def test_two_places_side_by_side_say_nothing() -> None:
    assert "craft.firmware" not in identity("# firmware 11.7 2026-03-0112:40")


# ---------------------------------------------------------------- legends


def test_a_comment_about_something_else_explains_nothing() -> None:
    text = f"{USUAL}# 3 reeds, 4 terns, 5 sluices and 2 gps, or 1 of each\nfailsafe_action = 4\n"
    assert "failsafe.action" not in read(text)
