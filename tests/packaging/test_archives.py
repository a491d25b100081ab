"""Both archives, built from a clean copy, and the wheel installed outside the checkout."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from email import message_from_bytes
from typing import TYPE_CHECKING, NamedTuple

import pytest
from packaging.requirements import Requirement

from .support import files, installed_name, is_module, project

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from _pytest.tmpdir import TempPathFactory


class Built(NamedTuple):
    copy: Path
    sdist: Path
    wheel: Path


class Place(NamedTuple):
    """A fresh environment with the wheel in it, and an empty folder to stand in."""

    bin: Path
    cwd: Path
    env: dict[str, str]

    def run(self, command: str, *args: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(self.bin / command), *args],
            cwd=self.cwd,
            env=self.env,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            encoding="utf-8",
        )

    def python(self, code: str) -> str:
        """What a program prints that sees nothing but the environment itself."""
        done = self.run("python", "-I", "-c", code)
        assert done.returncode == 0, done.stderr
        return done.stdout


def _quiet_environment() -> dict[str, str]:
    dropped = ("PYTHON", "PIP_", "COV_", "COVERAGE_", "VIRTUAL_ENV")
    kept = {key: value for key, value in os.environ.items() if not key.startswith(dropped)}
    # Where packages come from is the machine's business and stays.
    kept |= {key: value for key, value in os.environ.items() if key in _PIP_SOURCES}
    return kept | {"PIP_DISABLE_PIP_VERSION_CHECK": "1", "PYTHONUTF8": "1"}


_PIP_SOURCES = ("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL", "PIP_CERT", "PIP_PROXY", "PIP_CONFIG_FILE")


def _do(*command: str, cwd: Path) -> None:
    done = subprocess.run(
        command,
        cwd=cwd,
        env=_quiet_environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert done.returncode == 0, done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: TempPathFactory, copy_clean: Callable[[Path], Path]) -> Built:
    top = tmp_path_factory.mktemp("build")
    copy, out = copy_clean(top / "copy"), top / "out"
    # Builds leave things behind in the tree, so they get a copy of the copy.  Without --wheel the
    # wheel is made from the unpacked source archive, so that road is tried as well.
    tree = shutil.copytree(copy, top / "tree")
    _do(sys.executable, "-m", "build", "--outdir", str(out), str(tree), cwd=top)
    (sdist,) = out.glob("*.tar.gz")
    (wheel,) = out.glob("*.whl")
    return Built(copy, sdist, wheel)


@pytest.fixture(scope="module")
def place(built: Built, tmp_path_factory: TempPathFactory) -> Iterator[Place]:
    top = tmp_path_factory.mktemp("outside")
    venv, cwd = top / "venv", top / "cwd"
    cwd.mkdir()
    _do(sys.executable, "-m", "venv", "--without-pip", str(venv), cwd=top)
    python = str(venv / "bin" / "python")
    pip = (sys.executable, "-m", "pip", "--python", python, "install", "-q")
    _do(*pip, str(built.wheel), cwd=top)
    yield Place(venv / "bin", cwd, _quiet_environment())
    shutil.rmtree(top)


def test_source_archive_holds_the_whole_tree(built: Built) -> None:
    with tarfile.open(built.sdist) as archive:
        names = {member.name.partition("/")[2] for member in archive if member.isfile()}
    missing = [str(path) for path in files(built.copy) if str(path) not in names]
    assert missing == []
    # Beyond the tree only what the build writes itself.
    extra = {name for name in names if not (built.copy / name).is_file()}
    assert {name for name in extra if not name.startswith("cfglint_craft.egg-info/")} == {
        "PKG-INFO",
        "setup.cfg",
    }


def test_wheel_holds_every_file_of_the_packages_and_nothing_else(built: Built) -> None:
    with zipfile.ZipFile(built.wheel) as archive:
        names = {name for name in archive.namelist() if ".dist-info/" not in name}
    assert names == {name for path in files(built.copy) if (name := installed_name(path))}


def test_wheel_metadata(built: Built) -> None:
    with zipfile.ZipFile(built.wheel) as archive:
        (name,) = (name for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
        metadata = message_from_bytes(archive.read(name))
    assert metadata["Name"] == "cfglint-craft"
    assert metadata["Requires-Python"] == ">=3.11"
    assert metadata["License-Expression"] == "MIT"
    assert metadata["Author"] == "the cfglint authors"
    needs = [Requirement(text) for text in metadata.get_all("Requires-Dist", [])]
    # House rule: these three and no other at run time.
    runtime = {need.name for need in needs if need.marker is None}
    assert runtime == {"lark", "pluggy", "rich"}
    assert set(metadata.get_all("Provides-Extra", [])) == set(
        project(built.copy)["project"]["optional-dependencies"]
    )


def test_installed_outside_the_checkout_everything_imports(built: Built, place: Place) -> None:
    found = json.loads(
        place.python(
            "import importlib, json, pkgutil\n"
            "bad, files = {}, {}\n"
            "for top in ('cfglint', 'cfglint_fixtures', 'cfglint_rules', 'cfglint_grammars'):\n"
            "    module = importlib.import_module(top)\n"
            "    files[top] = module.__file__\n"
            "    for info in pkgutil.walk_packages(module.__path__, top + '.'):\n"
            "        if info.name.endswith('.__main__'): continue\n"
            "        try: files[info.name] = importlib.import_module(info.name).__file__\n"
            "        except ModuleNotFoundError as gap: bad[info.name] = gap.name\n"
            "print(json.dumps([bad, files]))\n"
        )
    )
    bad, imported = found
    # Only the test kit may want more than the runtime dependencies.
    assert {name for name in bad if not name.startswith("cfglint.kit")} == set()
    assert set(bad.values()) <= {"pytest", "_pytest", "hypothesis"}
    assert all(file.startswith(str(place.bin.parent)) for file in imported.values())
    expected = {
        name.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        for path in files(built.copy)
        if is_module(path) and (name := installed_name(path))
    }
    assert {name for name in expected if not name.endswith(".__main__")} == {*bad, *imported}


def test_installed_outside_the_checkout_the_data_is_found(built: Built, place: Place) -> None:
    text = place.python(
        "import json\n"
        "from importlib.resources import files\n"
        "def walk(node, path):\n"
        "    for child in node.iterdir():\n"
        "        name = f'{path}/{child.name}'\n"
        "        if child.is_dir(): yield from walk(child, name)\n"
        "        else: yield name, len(child.read_bytes())\n"
        "print(json.dumps(dict(walk(files('cfglint_grammars'), 'cfglint_grammars'))))\n"
    )
    expected = {
        name: (built.copy / path).stat().st_size
        for path in files(built.copy)
        if (name := installed_name(path)) and path.parts[0] == "grammars"
    }
    found = {name: size for name, size in json.loads(text).items() if "__pycache__" not in name}
    assert found == expected
    assert any(name.endswith(".toml") for name in expected)


def test_installed_outside_the_checkout_the_rules_are_announced(place: Place) -> None:
    text = place.python(
        "from importlib.metadata import entry_points\n"
        "(point,) = entry_points(group='cfglint.rules')\n"
        "print(point.name, point.load().__name__)\n"
    )
    assert text == "builtin cfglint_rules\n"


def test_installed_command_lists_rules_and_lints_the_demo_fleet(built: Built, place: Place) -> None:
    rules = place.run("cfglint", "rules")
    assert rules.returncode == 0, rules.stderr
    assert "modes/arm-and-self-right-meet" in rules.stdout
    started = place.run("cfglint", "start", "demo", "fleet")
    assert started.returncode == 0, started.stderr
    copied = {
        path: (place.cwd / "fleet" / path).read_bytes() for path in files(place.cwd / "fleet")
    }
    fleet = built.copy / "fixtures" / "saltmarsh"
    assert copied == {path: (fleet / path).read_bytes() for path in files(fleet)}
    linted = place.run("cfglint", "lint", "fleet")
    # As README says: two of the eight craft are faulty.
    assert linted.returncode == 1, linted.stdout + linted.stderr
    assert linted.stderr == ""
    headings = re.findall(r"(?m)^(\w+) ── fleet/dumps/", linted.stdout)
    assert set(headings) == {"Dunlin", "Lapwing"}
    assert linted.stdout.splitlines()[-1].startswith("8 crafts, ")
