"""What every test shares: the checkout's place and the two hypothesis profiles."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

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


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout's top folder."""
    return ROOT
