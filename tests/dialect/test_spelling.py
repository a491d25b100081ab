"""How a dialect writes a neutral setting."""

from __future__ import annotations

import pytest

from cfglint.craft.settings import SETTINGS
from cfglint.dialect import bundled, load_dialect
from cfglint.dialect.writing import settings_in, spell


def test_settings_that_a_text_speaks_of() -> None:
    text = "set failsafe.action to stop, port.2.baud too; failsafe.action again, not e.g. or a.b"
    assert settings_in(text) == ["failsafe.action", "port.2.baud"]


@pytest.mark.parametrize(
    ("dialect", "name", "line"),
    [
        ("plain", "motor.signal", "let motor-signal be …"),
        ("plain", "port.2.half_duplex", "let port-2-one-wire be …"),
        ("plain", "channel.3.low_us", "channel 3 spans … … …"),
        ("plain", "port.2.baud", "port 2 carries … at …"),
        ("terse", "failsafe.channel.3", "fs:3:…"),
        ("terse", "motor.idle_percent", "vl:13:… in …"),
        ("blocks", "receiver.inverted", "with turned or without turned in radio"),
        ("blocks", "port.2.baud", "speed: … in socket 2"),
        ("blocks", "craft.board", ""),
    ],
)
def test_bundled(dialect: str, name: str, line: str) -> None:
    assert spell(bundled(dialect), "", name) == line


@pytest.mark.parametrize(("version", "word"), [("7.9", "lost-link-wait"), ("7.10", "loss-wait")])
def test_the_name_of_the_version(version: str, word: str) -> None:
    assert spell(bundled("plain"), version, "failsafe.delay_s") == f"let {word} be …"


@pytest.mark.parametrize("dialect", ["plain", "terse", "blocks"])
def test_every_setting_but_identity_and_defaults_can_be_told(dialect: str) -> None:
    told = {name for name in SETTINGS if spell(bundled(dialect), "", name.replace("N", "2"))}
    assert set(SETTINGS) - told <= {"craft.board", "craft.firmware", "receiver.baud"}


def test_a_dialect_that_cannot_say_it() -> None:
    data = b"""
[dialect]
id = "reed"
[marks]
comment = "#"
[map]
"motor.signal" = { at = "let drive be" }
"port.N.baud" = { at = "let speed * N be" }
[[rows]]
at = "p {N} {f}"
sets = { f = "port.N.functions" }
fields = { N = { words = { 500 = "a" } } }
"""
    dialect = load_dialect("reed.toml", data)
    assert spell(dialect, "", "motor.signal") == "let drive be …"
    assert spell(dialect, "", "motor.poles") == ""
    assert spell(dialect, "", "port.2.baud") == ""
    assert spell(dialect, "", "port.2.functions") == ""
