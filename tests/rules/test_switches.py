"""Rules about switch states: silent on sound craft, saying what no other rule says, drawn."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import pytest

from cfglint_rules import rules_of

from .crafts import read, said

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.rule import Rule

RULES = {rule.id: rule for rule in rules_of("switches")}

SOUND = """\
-- board SLATE, firmware 7.9, full listing
let receiver-link be crsf
let lost-link-action be stop
use arm while channel 5 in 1777..2148
use self-level while channel 6 in 1345..2060
use self-right while channel 7 in 1812..2185
use beacon while channel 8 in 1702..2123
"""


def card(*, positions: str = "[1000, 2000]", jitter: float = 4, without: int = 0) -> str:
    parts = []
    for name, channel in (("K1", 5), ("K4", 6), ("K2", 7), ("K7", 8)):
        pulses = "[1000, 1500, 2000]" if channel == 6 else positions
        if channel != without:
            parts.append(
                f'[[switch]]\nname = "{name}"\nchannel = {channel}\n'
                f"positions_us = {pulses}\njitter_us = {jitter}\n"
            )
    return "".join(parts)


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_a_sound_craft_breaks_none(rule: Rule) -> None:
    """Arm on two positions, self-level on three, self-right and beacon on their own."""
    for link, positions, jitter, without in product(
        ("crsf", "sbus", "ibus", "srxl2", "dsm"),
        ("[1000, 2000]", "[2000, 1000]", "[1110, 1890]"),
        (0, 4, 12),
        (0, 5, 6, 7, 8),
    ):
        made = read(
            SOUND.replace("crsf", link),
            card(positions=positions, jitter=jitter, without=without),
        )
        assert said(rule, made).state != "broken", (link, positions, jitter, without)
    assert said(rule, read(SOUND, "")).state != "broken"


@pytest.mark.parametrize(
    ("line", "more"),
    [
        ("self-level on a range of each position", "use self-level while channel 6 in 961..1213"),
        ("idle-authority for good", "use idle-authority while channel 6 in 961..2163"),
        ("log with arm", "use log along with arm"),
        ("beacon on a lost link", "use beacon along with lost-link"),
        ("return-home apart", "use return-home while channel 9 in 1622..2163"),
        ("lights below, beacon above", "use lights while channel 8 in 961..1213"),
        ("self-right with a beacon", "use beacon while channel 7 in 1213..2163"),
        ("a stop for motors at rest", "use props-rest while channel 10 in 1622..2163"),
        ("values on loss", "on loss channel 5 becomes 1000\non loss channel 7 becomes drop"),
    ],
)
@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_common_additions_break_none(rule: Rule, line: str, more: str) -> None:
    assert said(rule, read(f"{SOUND}{more}\n", card())).state != "broken", line


def test_a_finding_carries_the_lane_and_the_path() -> None:
    dump = SOUND + "use arm only while channel 6 in 930..1656\n"
    dump = dump.replace("use arm while", "use arm only while")
    found = said(RULES["switches/flick-stops-motors"], read(dump, card()))
    (finding,) = found.findings
    lines = finding.picture.splitlines()
    assert "880" in lines[0]
    assert any(line.startswith("arm") and "930–1656" in line for line in lines)
    assert any("low: arm" in line for line in lines)
    assert lines[-1] == "3. Flick K4 to high: disarmed."
    assert max(map(len, lines)) <= 70
    assert finding.instead


def test_what_other_rules_say_is_not_said_again() -> None:
    """Arm and self-right on one range: modes/arm-and-self-right-meet says it, no rule here."""
    both = "use self-right while channel 5 in 1777..2148"
    made = read(SOUND.replace("use self-right while channel 7 in 1812..2185", both), card())
    states = {rule_id: said(rule, made).state for rule_id, rule in RULES.items()}
    assert "broken" not in states.values()
    assert states["switches/cannot-fly"] == "not for this craft"
    assert states["switches/cannot-right-itself"] == "not for this craft"
    # Nor does the graph repeat that arm is never off, or that nothing is done on a lost link.
    always = read(SOUND.replace("1777..2148", "834..2148"), card())
    assert said(RULES["switches/cannot-fly"], always).state == "not for this craft"
    nothing = SOUND.replace("be stop", "be none") + "on loss channel 5 becomes hold\n"
    lost = said(RULES["switches/lost-link-turns-on"], read(nothing, card()))
    assert lost.state == "holds"


def test_a_path_over_several_lines_names_the_others() -> None:
    dump = SOUND + (
        "use self-level while channel 7 in 797..1242\non loss channel 5 becomes hold\n"
        "on loss channel 7 becomes 2000\n"
    )
    made = read(dump, card())
    enters = said(RULES["switches/flick-enters-self-right"], made).findings[0]
    assert [row.span.line for row in enters.related] == [8]
    lost = said(RULES["switches/lost-link-turns-on"], made).findings[0]
    assert lost.span.line == 10


def test_the_card_names_what_cannot_be() -> None:
    text = card().replace("[1000, 1500, 2000]", "[1000, 1500, 2300]")
    found = said(RULES["switches/position-not-sent"], read(SOUND, text))
    (finding,) = found.findings
    assert finding.span.file.endswith(".toml")
    assert "2300 µs by the card" in finding.message


def test_the_demo_fleet_breaks_none(root: Path) -> None:
    """The sound craft break no rule here; the faults of the others are told by other rules."""
    from cfglint.runner.lint import Request, lint

    found = lint(Request((str(root / "fixtures" / "saltmarsh"),), only=("switches",)))
    assert found.troubles == ()
    assert len(found.crafts) == 8
    assert {outcome.state for outcome in found.outcomes} <= {"holds", "not for this craft"}
    assert {outcome.rule for outcome in found.outcomes} >= set(RULES)
