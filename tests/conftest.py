"""What every test shares: the checkout's place and the two hypothesis profiles."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parent.parent

# Ordinary runs draw the same examples each time, so a red run stays red until the cause is
# gone; the long profile (CFGLINT_PROFILE=long) goes looking for new ones.  No deadlines: the
# machines that run this are shared.
settings.register_profile(
    "ordinary",
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "long",
    max_examples=2000,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)

PROFILES = ("ordinary", "long")


def pytest_configure(config: pytest.Config) -> None:
    profile = os.environ.get("CFGLINT_PROFILE") or "ordinary"
    if profile not in PROFILES:
        raise pytest.UsageError(
            f"CFGLINT_PROFILE is {profile!r}; it may be {' or '.join(PROFILES)}"
        )
    settings.load_profile(profile)


@pytest.fixture(autouse=True)
def _a_run_of_its_own() -> None:
    """Each test has a host of plug-ins of its own."""
    from cfglint import plugins

    plugins.begin()


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout's top folder."""
    return ROOT


def _copy_clean(target: Path) -> Path:
    """Copy the checkout to ``target``, committed or not, leaving out what .gitignore names."""
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").split("\n")
    ignored = [line.strip() for line in lines if line.strip() and not line.startswith("#")]
    assert all("/" not in line and not line.startswith("!") for line in ignored)
    shutil.copytree(ROOT, target, ignore=shutil.ignore_patterns(".git", *ignored), symlinks=True)
    return target


@pytest.fixture(scope="session")
def copy_clean() -> Callable[[Path], Path]:
    """A function that makes a clean copy of the checkout, without its history, at a new path."""
    return _copy_clean
