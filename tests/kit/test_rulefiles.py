"""Rules in files of one's own: what a path means, and what is wrong with it."""

from __future__ import annotations

from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

from cfglint import rulefiles
from cfglint.errors import Problem
from cfglint.rule import rule
from cfglint.rulefiles import OfFile, is_rule_file, rule_files, rules_of, rules_of_file

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from cfglint.rule import Rule

RULE = """
from cfglint.rule import rule

def made(id):
    @rule(id, grade="fix", title="t", why="w", source="common practice")
    def checked(craft, options):
        return ()
    return checked

"""


def write(folder: Path, name: str, text: str = "", head: str = RULE) -> str:
    file = folder / name
    file.parent.mkdir(exist_ok=True, parents=True)
    file.write_text(head + dedent(text), encoding="utf-8")
    return str(file)


def ids(rules: Iterable[Rule]) -> list[str]:
    return [item.id for item in rules]


def problem(path: str) -> str:
    with pytest.raises(Problem) as caught:
        rules_of(path)
    failed = any(word in str(caught.value) for word in ("cannot be loaded", "failed while "))
    assert caught.value.exit == (3 if failed else 2)
    assert path in str(caught.value)
    return str(caught.value)


# ---------------------------------------------------------------- paths


@pytest.mark.parametrize(
    ("name", "holds"),
    [
        ("tide.py", True),
        ("tide_1.py", True),
        ("tide.toml", True),
        ("_tide.py", False),
        ("_tide.toml", False),
        ("__init__.py", False),
        (".tide.py", False),
        ("test_tide.py", False),
        ("conftest.py", False),
        ("cfglint.toml", False),
        ("pyproject.toml", False),
        ("tide.txt", False),
        ("tide", False),
    ],
)
def test_names_of_rule_files(name: str, holds: bool) -> None:
    assert is_rule_file(name) is holds


def test_a_folder_means_its_rule_files_in_order(tmp_path: Path) -> None:
    for name in ("b.py", "a.py", "_c.py", "notes.txt", "below/d.py"):
        write(tmp_path, name)
    (tmp_path / "folder.py").mkdir()
    assert rule_files(str(tmp_path)) == [str(tmp_path / "a.py"), str(tmp_path / "b.py")]
    assert rule_files(str(tmp_path / "_c.py")) == [str(tmp_path / "_c.py")]


def test_paths_that_mean_nothing(tmp_path: Path) -> None:
    assert "there is no such file" in problem(str(tmp_path / "nowhere.py"))
    assert "this is no file of rules; it ends in" in problem(write(tmp_path, "notes.txt"))
    with pytest.raises(Problem, match="this is no file of rules"):
        rules_of_file(str(tmp_path / "notes.txt"))
    with pytest.raises(Problem, match="there is no such file"):
        rules_of_file(str(tmp_path / "nowhere"))
    with pytest.raises(Problem, match="many files"):
        rules_of_file(str(tmp_path))
    empty = tmp_path / "empty"
    empty.mkdir()
    assert "no file of rules is in this folder; `cfglint start rule" in problem(str(empty))


def test_another_form_of_file_is_one_more_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def load(path: str, shown: str) -> OfFile:
        with open(path, encoding="utf-8") as file:
            words = {"grade": "fix", "title": "t", "why": "w", "source": "common practice"}
            made = rule(file.read(), **words)(lambda craft, options: ())  # type: ignore[arg-type]
        return OfFile([made])

    monkeypatch.setitem(rulefiles.LOADERS, ".words", load)
    write(tmp_path, "a.words", "tide/one", head="")
    write(tmp_path, "b.py", "x = made('tide/two')")
    assert ids(rules_of(str(tmp_path))) == ["tide/one", "tide/two"]


# ---------------------------------------------------------------- Python


def test_rules_wherever_they_stand_in_a_file(tmp_path: Path) -> None:
    file = write(
        tmp_path,
        "tide.py",
        """
        one = made("tide/one")
        MORE = [made("tide/two"), "no rule", one]
        _hidden = made("tide/three")
        def cfglint_rules():
            return [one, made("tide/four")]
        """,
    )
    rules = rules_of_file(file)
    assert ids(rules) == ["tide/one", "tide/two", "tide/three", "tide/four"]
    assert {item.pack for item in rules} == {tmp_path.name}


def test_a_rule_counts_where_it_stands(tmp_path: Path) -> None:
    write(tmp_path, "_made.py")
    write(tmp_path, "a.py", "one = made('tide/one')")
    text = """
        from cfglint_rules.motor import left_on_default_signal
        from ._made import made
        from .a import one
        two = made("tide/two")
        """
    write(tmp_path, "b.py", text, head="")
    assert ids(rules_of(str(tmp_path))) == ["tide/one", "tide/two"]


def test_a_rule_of_an_installed_helper_counts(tmp_path: Path) -> None:
    text = """
        from cfglint.rule import rule
        from string import capwords
        words = {"grade": "fix", "title": "t", "why": "w", "source": "common practice"}
        one = rule("tide/one", **words)(capwords)
        """
    assert ids(rules_of(write(tmp_path, "tide.py", text, head=""))) == ["tide/one"]


def test_two_folders_with_files_of_one_name(tmp_path: Path) -> None:
    one = write(tmp_path, "east/tide.py", "x = made('tide/one')")
    two = write(tmp_path, "west/tide.py", "x = made('tide/two')")
    assert ids([*rules_of(one), *rules_of(two)]) == ["tide/one", "tide/two"]


def test_a_folder_that_is_a_package(tmp_path: Path) -> None:
    write(tmp_path, "pack/__init__.py", "MOST = 3")
    file = write(tmp_path, "pack/tide-high.py", "from . import MOST\nx = made(f'tide/{MOST}')")
    assert ids(rules_of(file)) == ["tide/3"]
    write(tmp_path, "broken/__init__.py", "1 / 0")
    file = write(tmp_path, "broken/tide.py", "x = made('tide/one')")
    for _ in range(2):
        assert "ZeroDivisionError: division by zero (line 10 of __init__.py)" in problem(file)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no rule is in this file; put `@rule(…)`"),
        ("x = made('tide')", "ValueError: rule id 'tide' is not of the form"),
        ("1 / 0", "cannot be loaded: ZeroDivisionError: division by zero (line 10 of tide.py)"),
        ("raise", "RuntimeError"),
        ("x = (", ":10:5: this is no Python: '(' was never closed"),
        ("x = '\0'", "this is no Python: source code string cannot contain null bytes"),
        (
            "def a(craft): pass\ndef a(craft): pass",
            ":11:1: `a` stands here and on line 10: the first is lost; give one of the two",
        ),
        (
            "x = made('tide/x')\ndef late(craft, options): pass",
            ":11:1: `late` takes a craft and options but is no rule, so it is never asked; put "
            "`@rule(…)` above it or, if it only helps, call it `_late`",
        ),
        ("cfglint_api = 0\nx = made('tide/x')", "as the version of the rule interface"),
        ("def cfglint_rules(): return 1 / 0", "failed while offering its rules: ZeroDivisionError"),
        ("def cfglint_rules(): return [made]", "offers `made`, which is no rule; make it with"),
        ("cfglint_api = (2, 9)\nx = made('tide/x')", "this cfglint has 1; upgrade cfglint"),
    ],
)
def test_what_is_wrong_with_a_file(tmp_path: Path, text: str, words: str) -> None:
    assert words in problem(write(tmp_path, "tide.py", text))


def test_what_only_looks_wrong(tmp_path: Path) -> None:
    text = """
        def _helps(craft, options): pass
        def other(craft): pass
        x = made("tide/x")
        """
    assert ids(rules_of(write(tmp_path, "tide.py", text))) == ["tide/x"]


def test_a_dot_in_the_name_and_a_file_that_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "a Python file with a dot" in problem(write(tmp_path, "tide.1.py"))
    file = write(tmp_path, "tide.py")

    def shut(*words: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(rulefiles, "open", shut, raising=False)
    with pytest.raises(Problem, match="cannot be read: Permission denied"):
        rules_of_file(file)
