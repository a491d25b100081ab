"""What each command imports: start-up time is a feature, and imports are what it is made of."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

from cfglint.plugins import load_rules

#: What no quick path may touch: each takes as long to import as a bare interpreter takes to
#: start, or longer.
SLOW = {"rich", "lark", "importlib.metadata", "jsonschema", "asyncio", "multiprocessing"}
#: … or half as long.
SLOWISH = {"hashlib", "tomllib", "inspect", "shutil", "difflib", "pathlib"}


PROBE = """
import sys
from cfglint.cli import main
before = set(sys.modules)
code = main(sys.argv[1:])
print("".join(f"<{name}>" for name in sys.modules if name not in before), file=sys.stderr)
print("".join(f"[{name}]" for name in before), file=sys.stderr)
"""


def imported(*words: str | Path) -> set[str]:
    """The modules that a command imports, started afresh."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *map(str, words)],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    # What the site (an editable install, say) has loaded already would not show.
    assert not SLOW & set(re.findall(r"\[([^][]+)\]", done.stderr))
    return set(re.findall(r"<([^<>]+)>", done.stderr))


def test_version() -> None:
    modules = imported("--version")
    assert not modules & (
        SLOW | {"argparse", "pluggy", "tomllib", "json", "typing", "cfglint.rule", "shutil"}
    )
    assert {name for name in modules if name.startswith("cfglint")} <= {"cfglint.cli.output"}


def test_help() -> None:
    """It asks plug-ins for their commands, and no pack for its rules."""
    modules = imported("--help")
    assert not modules & (SLOW | {"argparse", "tomllib", "json", "shutil", "cfglint_rules.motor"})


def test_help_of_a_command() -> None:
    modules = imported("lint", "--help")
    assert "argparse" in modules
    assert not modules & (SLOW | {"tomllib", "json", "shutil", "cfglint_rules"})


def test_sarif(dump: Path) -> None:
    modules = imported("lint", dump, "--as", "sarif")
    assert {"json", "cfglint.report.sarif", "cfglint_rules.motor"} <= modules
    # pluggy imports `inspect` itself.
    assert not modules & (SLOW | SLOWISH - {"inspect"} | {"cfglint.report.terminal"})


def test_text(dump: Path) -> None:
    modules = imported("lint", dump)
    assert "cfglint.report.terminal" in modules
    assert not modules & (SLOW - {"rich"} | {"json", "cfglint.report.sarif"})


def test_one_line_a_finding_needs_no_layout(dump: Path) -> None:
    assert not imported("lint", dump, "--quiet") & (SLOW | {"json", "cfglint.report.screen"})


def test_rules() -> None:
    modules = imported("rules")
    assert not modules & (
        SLOW - {"rich"} | {"json", "tomllib", "cfglint.dialect", "cfglint.runner"}
    )
    assert load_rules().rules
