"""What is made at development time: up to date, used for these files only, and the same craft.

Reference: ``tomllib`` of the standard library, through ``load_dialect``.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import cfglint_grammars
from cfglint.dialect import bundled, load_dialect, ship
from cfglint.dialect.load import bundled_names
from cfglint_grammars import parsed, scanners

if TYPE_CHECKING:
    from collections.abc import Iterator

NAMES = bundled_names()


@pytest.fixture
def afresh() -> Iterator[None]:
    bundled.cache_clear()
    yield
    bundled.cache_clear()


def test_the_modules_are_up_to_date() -> None:
    for module, text in ((parsed, ship.parsed_text()), (scanners, ship.scanners_text())):
        assert module.__file__ is not None
        there = Path(module.__file__).read_text(encoding="utf-8")
        assert there == text, "run `python -m cfglint.dialect.ship`"


@pytest.mark.parametrize("name", NAMES)
def test_the_same_as_from_the_file(name: str) -> None:
    file = f"{name}.toml"
    ours, theirs = bundled(name), load_dialect(file, cfglint_grammars.read(file))
    assert ours.data == {key: row for key, row in theirs.data.items() if key != "examples"}
    assert ours.data is parsed.PARSED[name][1]
    assert ours.document.where("dialect", "id") == theirs.document.where("dialect", "id")


@pytest.mark.usefixtures("afresh")
def test_a_changed_file_is_read_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    real = cfglint_grammars.read

    def read(name: str) -> bytes:
        found: bytes = real(name)
        return found.replace(b'assign = "let', b'assign = "set') if name == "plain.toml" else found

    monkeypatch.setattr(cfglint_grammars, "read", read)
    assert bundled("plain").mark("assign") == "set {name} be {value}"
    assert bundled("terse").data is parsed.PARSED["terse"][1]


def test_ship_as_it_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in (*(f"{name}.toml" for name in NAMES), "atoms.lark"):
        (tmp_path / name).write_bytes(cfglint_grammars.read(name))
    monkeypatch.setattr(cfglint_grammars, "__path__", [str(tmp_path)])
    ship.main()
    assert (tmp_path / "parsed.py").read_text(encoding="utf-8") == ship.parsed_text()
    assert (tmp_path / "scanners.py").read_text(encoding="utf-8") == ship.scanners_text()
