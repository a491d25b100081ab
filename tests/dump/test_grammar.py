"""Composed grammars, the scanners derived from them, shipped and kept."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from cfglint.dialect import bundled
from cfglint.dump import kept, ship
from cfglint.dump.grammar import (
    PARAMETERS,
    TERMINALS,
    compose,
    derive,
    key_of,
    load_lark,
    master,
    scanner_spec,
)
from cfglint.errors import Problem

from .texts import NAMES

if TYPE_CHECKING:
    from pathlib import Path

GRAMMAR = bundled("plain").grammar


def base(name: str) -> str:
    from cfglint_grammars import read

    return str(read(f"{name}.lark"), "utf-8")


def test_the_shipped_scanners_are_up_to_date() -> None:
    from cfglint_grammars import scanners

    assert scanners.__file__ is not None
    with open(scanners.__file__, encoding="utf-8") as file:
        there = file.read()
    wanted = ship.module_text(bundled(name).grammar for name in NAMES)
    assert there == wanted, "run `python -m cfglint.dump.ship`"


def test_ship_writes_beside_the_grammars(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import cfglint_grammars

    (tmp_path / "atoms.lark").write_bytes(cfglint_grammars.read("atoms.lark"))
    monkeypatch.setattr(cfglint_grammars, "__path__", [str(tmp_path)])
    ship.main([GRAMMAR])
    space: dict[str, dict[str, object]] = {}
    exec((tmp_path / "scanners.py").read_text(encoding="utf-8"), space)
    assert space["SCANNERS"] == {key_of(GRAMMAR): derive(GRAMMAR)}


@pytest.mark.parametrize("name", NAMES)
def test_bundled_grammars_need_no_lark(name: str) -> None:
    code = (
        "import sys\n"
        "from cfglint.dialect import bundled\n"
        f"bundled({name!r}).scanner.line('x', 1)\n"
        "print(sorted({'lark', 'rich', 'json'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("name", NAMES)
def test_a_grammar_without_parameters_is_one_too(name: str) -> None:
    spec = derive(base(name))
    assert sorted(terminal for terminal, _ in spec) == sorted(TERMINALS)
    assert spec[-1][0] == "UNREADABLE"
    re.compile(master(spec))


def test_compose() -> None:
    assert compose("UNSET: x", {}) == "UNSET: x\n"
    assert compose("UNSET: x", {"unset": []}) == "UNSET: x\n%override UNSET: /(?:[^\\s\\S])/\n"
    assert compose("PROMPT.2 : x", {"prompt": ["a/b>", "#"]}).endswith(
        "%override PROMPT: /(?:a\\/b>|\\#)/\n"
    )
    assert "/(?i:end)/" in compose("CLOSE: x", {"close": ["end"]}, ignore_case=True)
    # A parameter that a grammar does not have is left to it.
    assert compose("x: CLOSED", {"close": ["end"]}) == "x: CLOSED\n"
    both = compose(base("plain"), {key: ["{name} {value} {reason} {title}"] for key in PARAMETERS})
    assert "(?P<assign0_name>" in both
    assert "(?P<flagon0_name>" in both
    assert "(?P<prompt0_" not in both
    assert "(?P<comment0_" not in both


def test_marks_may_vary() -> None:
    text = compose(base("plain"), {"prompt": ["[{board}]"], "comment": ["#", "note {x} :"]})
    spec = derive(text)
    from cfglint.dump.statements import Scanner

    scanner = Scanner(spec)
    found = scanner.line("[SLATE] let a be b", 1)
    assert found is not None
    assert (found.kind, found.name, found.prompted) == ("assignment", "a", True)
    noted = scanner.line("note 7 : said", 1)
    assert noted is not None
    assert noted.kind == "comment"


@pytest.mark.parametrize(
    ("grammar", "says"),
    [
        ("start: (", "not one that can be used"),
        ("start: A\nA: /(/", "not one that can be used"),
        ("start: A\nA: /x*/", "not one that can be used"),
        ("start: A\nA: /x/\n%override B: /y/", "not one that can be used"),
        ("start: COMMENT\nCOMMENT: /x/", "no terminal ASSIGNMENT, BLANK, COMMAND"),
    ],
)
def test_a_broken_grammar_is_a_problem(grammar: str, says: str) -> None:
    with pytest.raises(Problem, match=says) as caught:
        load_lark(grammar, "own.toml")
    assert caught.value.file == "own.toml"
    assert caught.value.instead
    assert "\n" not in str(caught.value)


# -- kept scanners --------------------------------------------------------------------------------

OWN = GRAMMAR + "// of no dialect that ships\n"


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "cache"
    monkeypatch.setenv("CFGLINT_CACHE", str(folder))
    return folder


def file_of(cache: Path) -> Path:
    return cache / f"scanner-{key_of(OWN)}.json"


def test_where_scanners_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CFGLINT_CACHE", "/a")
    assert kept.folder() == "/a"
    monkeypatch.delenv("CFGLINT_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", "/b")
    assert kept.folder() == os.path.join("/b", "cfglint")
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", "/c")
    assert kept.folder() == os.path.join("/c", ".cache", "cfglint")


def test_a_shipped_scanner_is_not_kept(cache: Path) -> None:
    assert scanner_spec(GRAMMAR) == derive(GRAMMAR)
    assert not cache.exists()


def test_a_scanner_is_derived_once(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = scanner_spec(OWN)
    assert first == derive(OWN)
    assert [path.name for path in cache.iterdir()] == [file_of(cache).name]
    monkeypatch.setattr("cfglint.dump.grammar.derive", None)
    assert scanner_spec(OWN) == first


@pytest.mark.parametrize(
    "content",
    [
        b"", b"{", b"null", b"7", b"{}", b"[]", b"[1]", b"[[1, 2, 3]]", b'[["COMMENT", "x"]]',
        b"\xff\xfe", b"[" * 100_000,
        json.dumps([[name, "("] for name in TERMINALS]).encode(),
        json.dumps([[name, "x{99999999999}"] for name in TERMINALS]).encode(),
        json.dumps([[f"{name} ", "x"] for name in TERMINALS]).encode(),
        json.dumps([["COMMENT", "x"]] * 11).encode(),
    ],
    ids=range(15),
)  # fmt: skip
def test_what_is_kept_and_damaged_counts_for_nothing(cache: Path, content: bytes) -> None:
    cache.mkdir()
    file_of(cache).write_bytes(content)
    assert kept.read(key_of(OWN)) is None
    assert scanner_spec(OWN) == derive(OWN)
    # … and is replaced.
    assert kept.read(key_of(OWN)) == derive(OWN)


def test_a_folder_that_cannot_be_written_is_no_matter(cache: Path) -> None:
    cache.write_text("a file stands where the folder should be")
    assert scanner_spec(OWN) == derive(OWN)
    assert cache.is_file()


def test_a_folder_where_the_file_should_be_is_no_matter(cache: Path) -> None:
    file_of(cache).mkdir(parents=True)
    assert scanner_spec(OWN) == derive(OWN)
    assert file_of(cache).is_dir()
    assert [path.name for path in cache.iterdir()] == [file_of(cache).name]


def test_ship_as_it_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import runpy

    import cfglint_grammars
    from cfglint_grammars import read

    for name in NAMES:
        for ending in ("toml", "lark"):
            (tmp_path / f"{name}.{ending}").write_bytes(read(f"{name}.{ending}"))
    (tmp_path / "atoms.lark").write_bytes(read("atoms.lark"))
    there = (cfglint_grammars.__path__[0], "scanners.py")
    monkeypatch.setattr(cfglint_grammars, "__path__", [str(tmp_path)])
    runpy.run_path(str(ship.__file__), run_name="__main__")
    with open(os.path.join(*there), "rb") as file:
        assert (tmp_path / "scanners.py").read_bytes() == file.read()
