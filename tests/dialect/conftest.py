"""Scanners of invented dialects are kept apart from anyone's own."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _cache(own_cache: None) -> None:
    """Every test here has the package's own."""
