"""The published hook, used the way a club uses it: real pre-commit, real git, own repositories."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING, NamedTuple

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from _pytest.tmpdir import TempPathFactory

#: From the demo fleet: two craft that are sound, and one that is not.
SOUND = ("avocet", "curlew")
FAULTY = "dunlin"


class Shell(NamedTuple):
    """Runs commands in one folder, with git and pre-commit cut off from the user's settings."""

    cwd: Path
    env: dict[str, str]

    def __call__(self, *command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command,
            cwd=self.cwd,
            env=self.env,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
        )

    def well(self, *command: str) -> str:
        done = self(*command)
        assert done.returncode == 0, f"{command}\n{done.stdout}"
        return done.stdout

    def pre_commit(self, *args: str) -> subprocess.CompletedProcess[str]:
        return self(sys.executable, "-m", "pre_commit", *args)


@pytest.fixture(scope="module")
def env(tmp_path_factory: TempPathFactory) -> dict[str, str]:
    """The environment, without anything that would steer git, pip, coverage or pre-commit."""
    home = tmp_path_factory.mktemp("home")
    dropped = ("GIT_", "PRE_COMMIT", "PYTHON", "COV_", "COVERAGE_", "VIRTUAL_ENV", "SKIP")
    kept = {key: value for key, value in os.environ.items() if not key.startswith(dropped)}
    who = {
        f"GIT_{role}_{what}": value
        for role in ("AUTHOR", "COMMITTER")
        for what, value in (("NAME", "Saltmarsh Survey Club"), ("EMAIL", "club@cfglint.invalid"))
    }
    return {
        **kept,
        **who,
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_NOSYSTEM": "1",
        "PRE_COMMIT_HOME": str(home / "pre-commit"),
        "PRE_COMMIT_COLOR": "never",
        "PYTHONUTF8": "1",
    }


@pytest.fixture(scope="module")
def hook_repository(
    tmp_path_factory: TempPathFactory, copy_clean: Callable[[Path], Path], env: dict[str, str]
) -> Path:
    """This checkout as it stands, as a repository: a clone of it, and no tag."""
    place = copy_clean(tmp_path_factory.mktemp("hook") / "cfglint")
    shell = Shell(place, env)
    shell.well("git", "init", "-q", "-b", "main")
    shell.well("git", "add", "-A")
    shell.well("git", "commit", "-q", "-m", "As cloned")
    return place


def _bring(root: Path, club: Path, name: str) -> Path:
    """Copy a craft of the demo fleet, dump and card, into the club's repository."""
    for folder, ending in (("cards", ".toml"), ("dumps", ".dump.txt")):
        (club / folder).mkdir(exist_ok=True)
        shutil.copy(root / "fixtures" / "saltmarsh" / folder / f"{name}{ending}", club / folder)
    return club / "dumps" / f"{name}.dump.txt"


@pytest.fixture
def club(root: Path, tmp_path: Path, hook_repository: Path, env: dict[str, str]) -> Shell:
    """A hangar under git with two sound craft committed and the hook installed."""
    place = tmp_path / "club"
    shutil.copytree(root / "fixtures" / "saltmarsh", place)
    for folder in ("cards", "dumps"):
        shutil.rmtree(place / folder)
    for name in SOUND:
        _bring(root, place, name)
    # As README says, but for the address.
    readme = (root / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```yaml\n(repos:\n.*?)```", readme, re.DOTALL)
    (place / ".pre-commit-config.yaml").write_text(
        block.replace("path/or/address/of/this/repository", str(hook_repository)),
        encoding="utf-8",
    )
    shell = Shell(place, env)
    shell.well("git", "init", "-q", "-b", "main")
    shell.well("git", "add", "-A")
    shell.well("git", "commit", "-q", "-m", "Two sound craft")
    done = shell.pre_commit("install")
    assert done.returncode == 0, done.stdout
    return shell


def test_the_manifest_is_valid(root: Path, env: dict[str, str]) -> None:
    done = Shell(root, env).pre_commit("validate-manifest", ".pre-commit-hooks.yaml")
    assert done.returncode == 0, done.stdout


def test_sound_craft_pass_and_a_faulty_one_is_refused_until_it_is_gone(
    club: Shell, root: Path
) -> None:
    clean = club.pre_commit("run", "--all-files")
    assert clean.returncode == 0, clean.stdout
    # "Skipped" would be a success as well.
    assert "Passed" in clean.stdout

    bad = _bring(root, club.cwd, FAULTY)
    club.well("git", "add", "-A")
    run = club.pre_commit("run", "cfglint")
    assert run.returncode == 1, run.stdout
    assert "Failed" in run.stdout
    assert "exit code: 1" in run.stdout
    assert bad.name in run.stdout

    before = club.well("git", "rev-parse", "HEAD")
    refused = club("git", "commit", "-m", "Add a craft")
    assert refused.returncode != 0
    assert bad.name in refused.stdout
    assert club.well("git", "rev-parse", "HEAD") == before

    club.well("git", "rm", "-q", "-f", str(bad), str(club.cwd / "cards" / f"{FAULTY}.toml"))
    (club.cwd / "notes.txt").write_text("grounded until its setup is right\n", encoding="utf-8")
    club.well("git", "add", "-A")
    club.well("git", "commit", "-q", "-m", "Leave it out")
    assert club.well("git", "rev-parse", "HEAD") != before


def test_a_dump_that_cannot_be_read_is_refused_too(club: Shell) -> None:
    dump = club.cwd / "dumps" / f"{SOUND[0]}.dump.txt"
    dump.write_bytes(bytes(range(256)) * 8)
    club.well("git", "add", "-A")
    refused = club("git", "commit", "-m", "A broken download")
    assert refused.returncode != 0
    assert "exit code: 3" in refused.stdout
    assert dump.name in refused.stdout


def _pinned(club: Shell, hook_repository: Path) -> None:
    """Pin the hook to a commit, the way README and the files of a new hangar say."""
    done = club.pre_commit("autoupdate", "--bleeding-edge")
    assert done.returncode == 0, done.stdout
    commit = club.well("git", "-C", str(hook_repository), "rev-parse", "HEAD").strip()
    text = (club.cwd / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    assert f"    rev: {commit}\n" in text
    assert "rev: HEAD" not in text
    club.well("git", "add", "-A")
    run = club.pre_commit("run", "--all-files")
    assert run.returncode == 0, run.stdout
    assert "Passed" in run.stdout


def test_a_commit_is_named_until_there_is_a_tag(club: Shell, hook_repository: Path) -> None:
    readme = (hook_repository / "README.md").read_text(encoding="utf-8")
    assert "`pre-commit autoupdate --bleeding-edge`" in readme
    _pinned(club, hook_repository)


def test_the_hook_of_a_new_hangar(
    root: Path, tmp_path: Path, hook_repository: Path, env: dict[str, str]
) -> None:
    outside = Shell(tmp_path, env)
    dump = root / "fixtures" / "saltmarsh" / "dumps" / f"{SOUND[0]}.dump.txt"
    outside.well(
        sys.executable, "-m", "cfglint", "start", "hangar", "marsh",
        "--dump", str(dump), "--repo", str(hook_repository),
    )  # fmt: skip
    club = Shell(tmp_path / "marsh", env)
    club.well("git", "init", "-q", "-b", "main")
    club.well("git", "add", "-A")
    run = club.pre_commit("run", "--all-files")
    assert run.returncode == 0, run.stdout
    assert "Passed" in run.stdout
    text = (club.cwd / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    assert "autoupdate" in text
    _pinned(club, hook_repository)


def test_what_the_script_writes_is_not_taken_for_work(tmp_path: Path, env: dict[str, str]) -> None:
    outside = Shell(tmp_path, env)
    outside.well(sys.executable, "-m", "cfglint", "start", "hangar", "marsh")
    club = Shell(tmp_path / "marsh", env)
    club.well("git", "init", "-q", "-b", "main")
    club.well("git", "add", "-A")
    club.well("git", "commit", "-q", "-m", "A hangar")
    (tmp_path / "bin").mkdir()
    tool = tmp_path / "bin" / "cfglint"
    tool.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m cfglint "$@"\n')
    tool.chmod(0o755)
    path = f"{tool.parent}{os.pathsep}{env['PATH']}"
    done = Shell(tmp_path, {**env, "PATH": path})("sh", "marsh/.ci/lint")
    assert done.returncode == 4, done.stdout  # no dump yet
    assert (club.cwd / "cfglint.sarif").is_file()
    assert club.well("git", "status", "--porcelain") == ""
