"""The bundled dialects, parsed: up to date, used for these files only, and the same craft.

Reference: ``tomllib`` of the standard library, through ``load_dialect``.
"""

from __future__ import annotations

import runpy
from collections.abc import Iterator
from pathlib import Path

import pytest

import cfglint_grammars
from cfglint.dialect import Dialect, bundled, load_dialect, ship
from cfglint.dialect.load import bundled_names
from cfglint_grammars import parsed

NAMES = bundled_names()


def pattern(dialect: Dialect) -> str:
    """The pattern that a dialect's lines are read by."""
    found: str = dialect.scanner._match.__self__.pattern  # type: ignore[attr-defined]
    return found


@pytest.fixture
def afresh() -> Iterator[None]:
    bundled.cache_clear()
    yield
    bundled.cache_clear()


def test_the_parsed_dialects_are_up_to_date() -> None:
    assert parsed.__file__ is not None
    there = Path(parsed.__file__).read_text(encoding="utf-8")
    assert there == ship.module_text(NAMES), "run `python -m cfglint.dialect.ship`"


@pytest.mark.parametrize("name", NAMES)
def test_the_same_as_from_the_file(name: str) -> None:
    file = f"{name}.toml"
    ours, theirs = bundled(name), load_dialect(file, cfglint_grammars.read(file))
    assert ours.data == {key: row for key, row in theirs.data.items() if key != "examples"}
    assert ours.data is parsed.PARSED[name][2]
    assert ours.grammar == theirs.grammar
    assert pattern(ours) == pattern(theirs)
    assert ours.document.where("dialect", "id") == theirs.document.where("dialect", "id")


@pytest.mark.usefixtures("afresh")
@pytest.mark.parametrize("ending", ["toml", "lark"])
def test_a_changed_file_is_read_itself(ending: str, monkeypatch: pytest.MonkeyPatch) -> None:
    real = cfglint_grammars.read

    def read(name: str) -> bytes:
        extra = b"\n# changed\n" if ending == "toml" else b"\n// changed\n"
        found: bytes = real(name)
        return found + (extra if name == f"plain.{ending}" else b"")

    monkeypatch.setattr(cfglint_grammars, "read", read)
    changed = bundled("plain")
    assert changed.data.items() >= parsed.PARSED["plain"][2].items()
    assert changed.data is not parsed.PARSED["plain"][2]


@pytest.mark.usefixtures("afresh")
def test_a_table_that_lacks_the_dialect_is_no_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parsed, "PARSED", {})
    assert bundled("plain").id == "plain"


@pytest.mark.usefixtures("afresh")
def test_a_scanner_that_is_not_shipped_is_derived(monkeypatch: pytest.MonkeyPatch) -> None:
    total, _, data = parsed.PARSED["plain"]
    wanted = pattern(bundled("plain"))
    bundled.cache_clear()
    monkeypatch.setitem(parsed.PARSED, "plain", (total, "gone", data))
    assert pattern(bundled("plain")) == wanted


def test_ship_as_it_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in NAMES:
        for ending in ("toml", "lark"):
            file = f"{name}.{ending}"
            (tmp_path / file).write_bytes(cfglint_grammars.read(file))
    assert parsed.__file__ is not None
    wanted = Path(parsed.__file__).read_bytes()
    monkeypatch.setattr(cfglint_grammars, "__path__", [str(tmp_path)])
    runpy.run_path(str(Path(ship.__file__)), run_name="__main__")
    assert (tmp_path / "parsed.py").read_bytes() == wanted
