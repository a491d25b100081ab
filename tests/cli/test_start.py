"""``cfglint start``: a rule that works at once, and nothing that is there is written over."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cfglint.rulefiles import rules_of

from .conftest import Call, Ended


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run_pytest(*words: str) -> Ended:
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONUTF8": "1", "PYTEST_ADDOPTS": ""},
        timeout=120,
    )
    return Ended(done.returncode, done.stdout, done.stderr)


def test_alone_it_says_what_there_is(call: Call) -> None:
    code, out, err = call("start")
    assert (code, err) == (0, "")
    assert "cfglint start rule CONCERN/WHAT-IS-WRONG" in out


def test_a_rule_that_passes_at_once(call: Call) -> None:
    code, out, err = call("start", "rule", "tide/no-float-mode")
    assert (code, err) == (0, "")
    file = Path("club-rules/tide_no_float_mode.py")
    assert out.startswith(f"{file} is written")
    assert [line[0] for line in out.split("\n") if line[:1].isdigit()] == ["1", "2", "3"]
    assert "1. pytest club-rules\n" in out
    assert "3. cfglint lint --rules club-rules --only tide/no-float-mode\n" in out
    (item,) = rules_of("club-rules")
    assert (item.id, item.title) == ("tide/no-float-mode", "No float mode")
    assert {example.kind for example in item.examples} == {"good", "bad", "unknown"}
    done = run_pytest("club-rules")
    assert "4 passed" in done.out
    assert done.code == 0


def test_what_is_changed_wrongly_fails(call: Call) -> None:
    call("start", "rule", "tide/no-float-mode")
    file = Path("club-rules/tide_no_float_mode.py")
    text = file.read_text(encoding="utf-8")
    assert text.count("^^ 15%") == 1
    file.write_text(text.replace("^^ 15%", "^  15%"), encoding="utf-8")
    done = run_pytest("club-rules")
    assert done.code == 1
    assert "1 failed, 3 passed" in done.out
    assert "    let least-spin be 15\n                      ^ 15% 10%\n" in done.out
    assert "    let least-spin be 15\n                      ^^ the motors idle at 15%" in done.out


def test_a_rule_without_code(call: Call) -> None:
    code, out, err = call("start", "rule", "tide/idle-high", "--as", "toml")
    assert (code, err) == (0, "")
    assert out.startswith("club-rules/tide_idle_high.toml is written")
    call("start", "rule", "test/tide", "--as", "toml")
    assert [item.id for item in rules_of("club-rules")] == ["test/tide", "tide/idle-high"]
    assert "8 passed" in run_pytest("club-rules").out
    code, _, err = call("start", "rule", "tide/idle-high", "--as", "toml")
    assert (code, "is there already" in err) == (2, True)


def test_it_meets_the_house_style(call: Call) -> None:
    call("start", "rule", "tide/a-name-as-long-as-rules-have-them")
    pyproject = Path(__file__).parents[2] / "pyproject.toml"
    for words in (["check"], ["format", "--check"]):
        done = subprocess.run(
            [sys.executable, "-m", "ruff", *words, "--config", str(pyproject), "club-rules"],
            capture_output=True,
            text=True,
        )
        if "No module named ruff" in done.stderr:
            pytest.skip("ruff is not installed")
        assert done.returncode == 0, done.stdout


def test_several_rules_and_a_folder_of_another_name(call: Call) -> None:
    for name in ("tide/one", "tide/two", "test/three", "tide/4-more", "tide/rule", "tide/for"):
        code, out, _ = call("start", "rule", name, "--in", "our rules/here")
        assert code == 0
        assert "1. pytest 'our rules/here'\n" in out
    assert [item.id for item in rules_of("our rules/here")] == [
        "test/three", "tide/4-more", "tide/for", "tide/one", "tide/rule", "tide/two",
    ]  # fmt: skip
    done = run_pytest("our rules/here")
    assert "24 passed" in done.out


def test_pytest_settings_of_ones_own_are_left_alone(call: Call) -> None:
    Path("club-rules").mkdir()
    settings = Path("club-rules/pytest.ini")
    settings.write_text("[pytest]\n", encoding="utf-8")
    _, out, _ = call("start", "rule", "tide/one")
    assert settings.read_text(encoding="utf-8") == "[pytest]\n"
    (line,) = [line for line in out.split("\n") if line.startswith("1. ")]
    assert "4 passed" in run_pytest(*line.split()[2:]).out
    settings.unlink()
    settings.symlink_to("nowhere")
    _, out, _ = call("start", "rule", "tide/two")
    assert settings.is_symlink()
    assert "1. pytest --cfglint-rules club-rules club-rules\n" in out


# ------------------------------------------------------------------ what cannot be


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["rule"], "cfglint: the rule needs a name; write `cfglint start rule CONCERN/WHAT"),
        (["rule", "tide"], "cfglint: `tide` cannot be a rule's name; write what it concerns"),
        (["rule", "Tide/high"], "cfglint: `Tide/high` cannot be"),
        (["rule", "tide/"], "cfglint: `tide/` cannot be"),
        (["rule", "tide/../x"], "cfglint: `tide/../x` cannot be"),
        (
            ["rule", "failsafe/never-set"],
            "cfglint: a rule is called `failsafe/never-set` already, in the pack `builtin`; ",
        ),
        (["rul", "tide/x"], "cfglint start: KIND: `rul` cannot be; did you mean `rule`?"),
        (["rule", "tide/x", "y"], "cfglint start: `y` is one word too many"),
    ],
)
def test_wrong_use(call: Call, words: list[str], message: str) -> None:
    code, out, err = call("start", *words)
    assert (code, out) == (2, "")
    assert err.startswith(message)
    assert err.count("\n") == 1
    assert not list(Path().iterdir())


def test_nothing_is_written_over(call: Call) -> None:
    call("start", "rule", "tide/one")
    file = Path("club-rules/tide_one.py")
    file.write_text("mine", encoding="utf-8")
    code, out, err = call("start", "rule", "tide/one")
    assert (code, out) == (2, "")
    assert err.startswith("cfglint: club-rules/tide_one.py: this file is there already, and ")
    assert file.read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in Path("club-rules").iterdir()) == [
        "pytest.ini",
        "tide_one.py",
    ]


def test_a_folder_that_cannot_be(call: Call) -> None:
    Path("club-rules").write_text("a file", encoding="utf-8")
    code, _, err = call("start", "rule", "tide/one")
    assert code == 2
    assert err.startswith("cfglint: club-rules: cannot be written: File exists; name another")
    Path("full").mkdir()
    Path("full/tide_one.py").mkdir()
    code, _, err = call("start", "rule", "tide/one", "--in", "full")
    assert (code, Path("full/tide_one.py").is_dir()) == (2, True)
    long = "x" * 300
    code, _, err = call("start", "rule", f"tide/{long}", "--in", "full")
    assert code == 2
    assert "cannot be written: File name too long" in err


def test_the_demo_fleet_is_copied_whole_and_never_twice(
    call: Call, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call("start", "demo").code == 0
    fleet = root / "fixtures" / "saltmarsh"
    for path in fleet.rglob("*"):
        if path.is_file() and "__pycache__" not in path.parts:
            copy = tmp_path / "saltmarsh" / path.relative_to(fleet)
            assert copy.read_bytes() == path.read_bytes()
    again = call("start", "demo")
    assert again.code == 2
    assert "there already, and nothing was written" in again.err
    assert call("lint", "saltmarsh").code == 1
