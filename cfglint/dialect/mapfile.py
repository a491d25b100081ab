"""Dialect files in the form of marks and map: plain tables, and the map that they make."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.dialect.mapping import Compiler, Map, marks_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dump.layout import Marks


def start(data: Mapping[str, Any]) -> dict[str, Any]:
    """The plain tables of a dialect file before any change; every entry of the map is a table."""
    modes, traits = dict(data.get("modes", {})), dict(data.get("traits", {}))
    return {
        "map": {name: whole(row) for name, row in data.get("map", {}).items()},
        "rows": list(data.get("rows", [])),
        "given": {name: whole(row) for name, row in data.get("given", {}).items()},
        "kept": list(data.get("kept", {}).get("at", [])),
        "profiles": dict(data.get("profiles", {})),
        "unsure_modes": modes.pop("unsure", []),
        "own_modes": modes.pop("own", []),
        "modes": modes,
        "unsure_traits": traits.pop("unsure", []),
        "traits": traits,
    }


def whole(row: Any) -> dict[str, Any]:
    """An entry of the map with all its keys: a bare text, or a list of texts, is its address."""
    return row if isinstance(row, dict) else {"at": row}


def map_of(data: Mapping[str, Any]) -> Map:
    """The map of a dialect file's data before any change."""
    return Compiler(data.get("marks", {})).map(start(data))


def marks(data: Mapping[str, Any]) -> Marks:
    """The marks of a dialect file's data."""
    return marks_of(data.get("marks", {}))
