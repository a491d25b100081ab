"""Scanners of invented dialects are kept apart from anyone's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(autouse=True, scope="package")
def _cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CFGLINT_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield
