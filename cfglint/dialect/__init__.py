"""Dialects: what stands between a firmware's words and the neutral craft, in both directions."""

from __future__ import annotations

from cfglint.dialect.load import bundled, load_dialect
from cfglint.dialect.model import Dialect
from cfglint.dialect.reading import read_craft

__all__ = ["Dialect", "bundled", "load_dialect", "read_craft"]
