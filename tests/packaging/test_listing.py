"""The lists that are kept by hand agree with the tree."""

from __future__ import annotations

import subprocess
from typing import TYPE_CHECKING

from .support import HOUSES, block, files, is_module, project

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def test_every_package_of_the_tree_is_listed_and_no_other(
    tmp_path: Path, copy_clean: Callable[[Path], Path]
) -> None:
    copy = copy_clean(tmp_path / "copy")
    found = set()
    for path in files(copy):
        if is_module(path):
            first, *rest = path.parent.parts
            found.add(".".join([HOUSES[first], *rest]))
            # A folder without __init__.py is left out by the editable installation.
            assert (copy / path.parent / "__init__.py").is_file(), path.parent
    assert sorted(project(copy)["tool"]["setuptools"]["packages"]) == sorted(found)


def test_readme_names_the_two_commands(root: Path) -> None:
    readme = (root / "README.md").read_text(encoding="utf-8")
    demo, tests = block(readme, "demo"), block(readme, "tests")
    start = "python3 -m venv .venv && .venv/bin/pip install -q -e "
    assert demo == f"{start}. && .venv/bin/cfglint lint fixtures/saltmarsh"
    assert tests == f"{start}'.[test]' && .venv/bin/pytest --cov -n auto --dist worksteal"


def test_ci_script_is_sound_bash_and_executable(root: Path) -> None:
    script = root / ".ci" / "run"
    assert script.stat().st_mode & 0o111
    subprocess.run(["bash", "-n", str(script)], check=True)
