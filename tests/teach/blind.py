"""The benchmark that judges drafts, ``benchmarks/blind.py``, as a module."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


def _loaded() -> Any:
    spec = importlib.util.spec_from_file_location("blind", ROOT / "benchmarks" / "blind.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["blind"] = module
    spec.loader.exec_module(module)
    return module


blind = _loaded()
