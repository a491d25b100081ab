"""Rules besides the installed ones: which count, and that no checked repository has Python run."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cfglint.cli import main
from cfglint.errors import Problem
from cfglint.plugins import load_rules
from cfglint.runner.config import parse_config
from cfglint.runner.lint import Request, lint
from cfglint.runner.own_rules import rules_of_run

if TYPE_CHECKING:
    from .conftest import Write

TOML = """\
[[rule]]
id = "tide/poles"
grade = "fix"
title = "Poles are not fourteen"
why = "w"
source = "common practice"
setting = "motor.poles"
is = 14
"""
PYTHON = """\
from cfglint.rule import Finding, rule


@rule("tide/never", grade="fix", title="Never right", why="w", source="common practice")
def never(craft, options):
    yield Finding(craft.whole, "never right")
"""
DUMP = "-- board SLATE, firmware 7.9, full listing\nlet bell-magnet be 12\n"
CONFIG = (
    '[hangar]\nrule_files = ["rules/*.toml"]\n[[dumps]]\nfiles = "dumps/*"\ndialect = "plain"\n'
)


@pytest.fixture
def club(write: Write) -> Path:
    return write(
        {
            "cfglint.toml": CONFIG,
            "rules/poles.toml": TOML,
            "rules/never.py": PYTHON,
            "rules/_help.py": "raise SystemExit",
            "dumps/avocet.txt": DUMP,
        }
    )


def found(root: Path, *rules: str, **more: Any) -> list[str]:
    request = Request(paths=[str(root)], only=["tide"], rules=rules, **more)
    return [one.rule for one in lint(request).found]


def test_a_hangar_names_files_of_toml(club: Path) -> None:
    run = lint(Request(paths=[str(club)], only=["tide"]))
    assert [(one.rule, one.span.line) for one in run.found] == [("tide/poles", 2)]
    assert [rule.pack for rule in run.rules] == ["hangar"]


def test_python_is_run_only_where_it_is_named(club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert found(club) == ["tide/poles"]
    # The folder holds the hangar's own file as well: it counts once.
    both = ["tide/poles", "tide/never"]
    assert found(club, str(club / "rules")) == both
    assert found(club, str(club / "rules" / "never.py")) == both
    monkeypatch.setenv("CFGLINT_RULES", os.pathsep.join(["", str(club / "rules")]))
    assert found(club) == both


def test_a_hangar_cannot_have_python_run(club: Path) -> None:
    for wrong, told in (
        ("rules/never.py", "name its folder with --rules"),
        ("rules/*", "must end in `.toml`"),
        ("../rules/*.toml", "leads out of the hangar"),
    ):
        with pytest.raises(Problem) as caught:
            parse_config("cfglint.toml", str(club), f'[hangar]\nrule_files = "{wrong}"'.encode())
        assert told in str(caught.value)
        assert caught.value.span is not None


def told(root: Path, config: str, *rules: str) -> tuple[list[str], list[str]]:
    """The ids beyond the installed ones, and what is wrong."""
    made = parse_config("cfglint.toml", str(root), config.encode())
    loaded = rules_of_run(made, rules)
    own = loaded.rules[len(load_rules().rules) :]
    return [rule.id for rule in own], [str(problem) for problem in loaded.problems]


def test_what_is_wrong_with_one_file_leaves_the_others(club: Path, write: Write) -> None:
    write(
        {
            "rules/a.toml": TOML.replace("14", '"x"').replace('"fix"', '"fox"'),
            "rules/z.toml": TOML,
        }
    )
    ids, wrong = told(club, CONFIG)
    assert ids == ["tide/poles"]
    assert wrong[0].startswith("rules/a.toml:3:9: `fox`")
    assert wrong[1].startswith("rules/z.toml: two rules are called `tide/poles`: one of `rules/po")
    ids, wrong = told(
        club, CONFIG.replace('["rules/*.toml"]', '["rules/poles.toml", "rule/*.toml"]')
    )
    assert ids == ["tide/poles"]
    assert wrong == [
        "cfglint.toml:2:35: `rule/*.toml` fits no file of rules; look at the folder's name, or "
        "take the pattern out"
    ]
    _, wrong = told(club, CONFIG.replace('["rules/*.toml"]', '"rule/*.toml"'))
    assert wrong[0].startswith("cfglint.toml:2:14: ")


def test_named_folders_that_hold_no_rules(club: Path, write: Write) -> None:
    write({"empty/README.md": "", "bad/slip.py": "import nowhere_at_all\n"})
    _, wrong = told(club, "", str(club / "none"), str(club / "empty"), str(club / "bad"))
    assert [one.split(": ", 1)[1].split(";")[0].split(":")[0] for one in wrong] == [
        "there is no such file or folder of rules",
        "no file of rules is in this folder",
        "cannot be loaded",
    ]
    assert "No module named 'nowhere_at_all'" in wrong[2]


def test_an_installed_rule_keeps_its_name(club: Path, write: Write) -> None:
    installed = load_rules()
    name = installed.rules[0].id
    write({"more/twice.toml": TOML.replace("tide/poles", name)})
    loaded = rules_of_run(None, [str(club / "more")])
    assert loaded.rules == installed.rules
    assert f"two rules are called `{name}`: one of pack `builtin`" in str(loaded.problems[0])


def test_another_version_of_the_interface_is_refused(club: Path, write: Write) -> None:
    write({"more/late.py": "cfglint_api = (7, 9)\n" + PYTHON})
    ids, wrong = told(club, "", str(club / "more"))
    assert ids == []
    assert "upgrade cfglint" in wrong[0]


# ------------------------------------------------------------------ on the command line


def test_the_commands_know_them(
    club: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    rules = str(club / "rules")
    assert main(["lint", "--quiet", "--only", "tide", "--rules", rules, str(club)]) == 1
    assert "tide/never" in capsys.readouterr().out
    assert main(["why", "tide/never", "--rules", rules]) == 0
    assert "Never right" in capsys.readouterr().out
    assert main(["rules", "--rules", rules]) == 0
    listed = capsys.readouterr().out
    assert "tide/never" in listed
    assert "tide/poles" in listed
    # Those of the hangar that one is in need not be named.
    monkeypatch.chdir(club / "dumps")
    assert main(["why", "tide/poles"]) == 0
    assert "Poles are not fourteen" in capsys.readouterr().out
    assert main(["why", "tide/never"]) == 2
    capsys.readouterr()
    (club / "cfglint.toml").write_text("[hangar\n")
    assert main(["why", "tide/poles"]) == 2
    assert "cfglint.toml:1:8: this is not TOML" in capsys.readouterr().err


def test_a_run_goes_on_with_the_other_rules_and_ends_with_2(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (club / "rules" / "poles.toml").write_text("[[rule]\n")
    assert main(["lint", "--quiet", str(club)]) == 2
    assert "rules/poles.toml:1:" in "".join(capsys.readouterr())
