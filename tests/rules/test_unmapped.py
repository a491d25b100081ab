"""What a dialect file has no line for is not taken to be absent from the craft."""

from __future__ import annotations

import pytest

from cfglint.craft import Craft
from cfglint.craft.settings import MODES, SETTINGS
from cfglint.dialect import load_dialect, read_craft
from cfglint.dialect.load import bundled, bundled_names
from cfglint.dump.source import Source
from cfglint.rule import Options, Rule, judge
from cfglint_rules.failsafe import never_set
from cfglint_rules.modes.arming import arm_missing, permit_missing

HEAD = """
[dialect]
id = "reed"
[marks]
assign = "put {name} {value}"
[traits]
arm_needs_permit = true
"""
RANGES = '[[rows]]\nat = "{mode} on ch{channel} {low}-{high}"\nmakes = "range"\n'
LOSS = '[map]\n"failsafe.action" = { at = "put loss" }\n'


def read(text: str, dump: str) -> Craft:
    return read_craft(Source.from_text("x.txt", dump), load_dialect("reed.toml", text.encode()))


@pytest.mark.parametrize(
    ("item", "text", "dump", "fact"),
    [
        (never_set, RANGES, "put loss drop", "failsafe.action"),
        (never_set, LOSS, "", ""),
        # A default is no line either; in a dump of changes it would hold.
        (never_set, LOSS.replace('at = "put loss"', 'default = "stop"'), "x", "failsafe.action"),
        (arm_missing, LOSS, "0 on ch5 1745-2155", "modes.arm"),
        (arm_missing, "[modes]\nbeacon = 3\n" + RANGES, "0 on ch5 1745-2155", "modes.arm"),
        (arm_missing, "[modes]\narm = 0\n" + RANGES, "put gain 4", ""),
        (arm_missing, RANGES, "put gain 4", ""),
        (permit_missing, "[modes]\narm = 0\n" + RANGES, "0 on ch5 1690-2198", "modes.arm-permit"),
        (permit_missing, RANGES, "arm on ch5 1690-2198", ""),
    ],
)
def test_what_cannot_be_read_is_unknown(item: Rule, text: str, dump: str, fact: str) -> None:
    """``fact`` is what the dialect file lacks; with it the rule is broken all the same."""
    outcome = judge(item, read(HEAD + text, dump), Options({}))
    if not fact:
        assert outcome.state == "broken"
        return
    lack = outcome.lacks[0]
    assert (outcome.state, lack.fact, lack.where) == ("unknown", fact, "dialect")
    assert "not be understood" in lack.text


def test_names_of_what_is_not_mapped() -> None:
    craft = read(HEAD + LOSS, "put loss stop")
    every = {name for name in SETTINGS if not name.startswith("craft.")}
    modes = {f"mode {mode}" for mode in MODES}
    assert craft.unmapped == (every | modes | {"range", "link"}) - {"failsafe.action"}
    words = '[modes]\narm = 0\n[[rows]]\nat = "{mode} with {follows}"\nmakes = "link"\n'
    assert read(HEAD + words, "0 with 0").unmapped == (every | modes | {"range"}) - {"mode arm"}


def test_bundled_dialects_map_everything() -> None:
    assert all(not bundled(name).at("").unmapped for name in bundled_names())
