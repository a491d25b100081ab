"""Writing TOML: texts, values and tables.

What is written by hand, and with comments, is put together from these; reading is
:mod:`cfglint.tomltext`'s.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def key(name: str) -> str:
    """A key, in quotes where it needs them."""
    return name if _BARE.fullmatch(name) else text(name)


def text(value: str, *, lost: str = "?") -> str:
    """A basic string; what is not plainly seen is escaped.

    TOML holds no surrogates (bytes that were no text): ``lost`` stands for each.
    """
    return '"' + "".join(_escaped(char, lost) for char in value) + '"'


def _escaped(char: str, lost: str) -> str:
    if char in '"\\':
        return "\\" + char
    if char in _SHORT:
        return _SHORT[char]
    if char.isprintable():
        return char
    code = ord(char)
    if 0xD800 <= code <= 0xDFFF:
        return lost
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


_SHORT = {"\t": "\\t", "\n": "\\n", "\r": "\\r"}


def value(item: Any) -> str:
    """A value on one line."""
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, int | float):
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
