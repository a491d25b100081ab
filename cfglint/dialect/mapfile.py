"""Dialect files in the form of marks and map: plain tables for a version, and their map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.dialect.mapping import Compiler, Map, marks_of, words_of
from cfglint.dialect.values import key

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dump.layout import Marks


def plain(data: Mapping[str, Any]) -> dict[str, Any]:
    """The plain tables of a dialect file before any change."""
    modes = {
        name: word for name, word in data.get("modes", {}).items() if name not in ("unsure", "own")
    }
    return {
        "map": dict(data.get("map", {})),
        "rows": [dict(row) for row in data.get("rows", [])],
        "given": dict(data.get("given", {})),
        "kept": list(data.get("kept", {}).get("at", [])),
        "traits": dict(data.get("traits", {})),
        "profiles": dict(data.get("profiles", {})),
        "modes": modes,
        "unsure_modes": data.get("modes", {}).get("unsure", []),
        "own_modes": data.get("modes", {}).get("own", []),
    }


def map_of(data: Mapping[str, Any]) -> Map:
    """The map of a dialect file's data before any change."""
    return Compiler(data.get("marks", {})).map(plain(data))


def marks(data: Mapping[str, Any]) -> Marks:
    """The marks of a dialect file's data."""
    return marks_of(data.get("marks", {}))


__all__ = ["key", "map_of", "marks", "plain", "words_of"]
