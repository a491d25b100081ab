"""Writing TOML: a drafted dialect with its reasons beside it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def key(name: str) -> str:
    return name if _BARE.fullmatch(name) else text(name)


def text(value: str) -> str:
    """A TOML basic string."""
    out = []
    for char in value:
        code = ord(char)
        if char in '"\\':
            out.append("\\" + char)
        elif char == "\t":
            out.append("\\t")
        elif code < 32 or code == 127 or 0xD800 <= code <= 0xDFFF:
            out.append(f"\\u{code:04x}" if not 0xD800 <= code <= 0xDFFF else "?")
        else:
            out.append(char)
    return '"' + "".join(out) + '"'


def value(item: Any) -> str:
    """A TOML value on one line."""
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, int):
        return str(item)
    if isinstance(item, float):
        return repr(item)
    if isinstance(item, str):
        return text(item)
    if isinstance(item, dict):
        inner = ", ".join(f"{key(str(k))} = {value(v)}" for k, v in item.items())
        return f"{{ {inner} }}" if inner else "{}"
    return "[" + ", ".join(value(one) for one in item) + "]"


def lines(table: Mapping[str, Any]) -> list[str]:
    """A table's keys, a line each."""
    return [f"{key(name)} = {value(item)}" for name, item in table.items()]


def comment(words: str, width: int = 98) -> list[str]:
    """A comment, wrapped; nothing in it can end it."""
    from textwrap import wrap

    clean = re.sub(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]", " ", words)
    return [f"# {line}" for line in wrap(clean, width) or [""]]
