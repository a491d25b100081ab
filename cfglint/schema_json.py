"""``cfglint.toml`` as a JSON Schema (draft-07), for editors that complete and check TOML.

Made from the shape that cfglint itself checks by, so the two cannot differ but in what JSON
Schema cannot say: which rules, options and dialects there are, and what leads out of the hangar.
Run ``python -m cfglint.schema_json`` after a change of that shape; it writes
``cfglint/cfglint.schema.json``.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from cfglint.runner import config

if TYPE_CHECKING:
    from cfglint.schema import Shape

FILE = os.path.join(os.path.dirname(__file__), "cfglint.schema.json")
DRAFT = "http://json-schema.org/draft-07/schema#"

#: What can be said of the checks that are functions.  TOML's own dates become texts.
_NOT_BLANK = {"pattern": "\\S"}
HINTS: dict[str, dict[str, Any]] = {
    "_filled": _NOT_BLANK,
    "_path": _NOT_BLANK,
    "_pattern": _NOT_BLANK,
    "_template": _NOT_BLANK,
    "_card": _NOT_BLANK,
    "_rule_files": {"pattern": "\\S.*\\.toml$"},
    "_date": {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"},
    "_place": {"anyOf": [{"required": ["craft"]}, {"required": ["file"]}]},
}


def as_json_schema(shape: Shape) -> dict[str, Any]:
    """One shape, and all within it, as a schema."""
    out: dict[str, Any] = {"description": shape.about} if shape.about else {}
    if shape.check is not None:
        out |= HINTS.get(shape.check.__name__, {})
    kind = shape.kind
    if kind == "either":
        out["anyOf"] = [as_json_schema(one) for one in shape.shapes]
    elif kind == "text":
        out["type"] = "string"
        if shape.choices:
            out["enum"] = list(shape.choices)
    elif kind == "flag":
        out["type"] = "boolean"
    elif kind in ("whole", "number"):
        out["type"] = "integer" if kind == "whole" else "number"
        out |= _bounds(shape, "minimum", "maximum")
    elif kind == "list":
        assert shape.item is not None
        out |= {"type": "array", "items": as_json_schema(shape.item)}
        out |= _bounds(shape, "minItems", "maxItems")
    elif kind == "table":
        keys = shape.keys or {}
        out["type"] = "object"
        out["properties"] = {key: as_json_schema(one) for key, one in keys.items()}
        required = [key for key, one in keys.items() if one.required]
        if required:
            out["required"] = required
        free = shape.free
        out["additionalProperties"] = as_json_schema(free) if free is not None else False
    return out


def _bounds(shape: Shape, least: str, most: str) -> dict[str, Any]:
    pairs = ((least, shape.least), (most, shape.most))
    return {key: value for key, value in pairs if value is not None}


def text() -> str:
    """The whole schema of ``cfglint.toml``, as it is written."""
    import json

    head = {
        "$schema": DRAFT,
        "title": "cfglint.toml",
        "description": "The settings of a hangar: a folder of dumps and hardware cards.",
    }
    return json.dumps(head | as_json_schema(config.shape()), indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the file."""
    with open(FILE, "w", encoding="utf-8", newline="\n") as stream:
        stream.write(text())


if __name__ == "__main__":
    main()
