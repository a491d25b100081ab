"""Teaching: a dialect file is drafted from dumps that nobody has described yet."""

from __future__ import annotations

from typing import Any

__all__ = ["Draft", "Question", "teach"]

_HOME = {"Draft": "openings", "Question": "sheet", "teach": "taught"}


def __getattr__(name: str) -> Any:
    # What an update changed is drafted without the rest of teaching, which takes time to import.
    if name not in __all__:
        raise AttributeError(name)
    from importlib import import_module

    return getattr(import_module(f"cfglint.teach.{_HOME[name]}"), name)
