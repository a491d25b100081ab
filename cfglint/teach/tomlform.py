"""A dialect file's text from its tables, each mapping with the reason above it."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

_BARE = re.compile(r"[A-Za-z0-9_\-]+")


def text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def key(name: str) -> str:
    return name if _BARE.fullmatch(name) else text(name)


def inline(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:g}" if isinstance(value, float) and abs(value) < 1e6 else str(value)
    if isinstance(value, str):
        return text(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(inline(one) for one in value) + "]"
    return "{ " + ", ".join(f"{key(name)} = {inline(one)}" for name, one in value.items()) + " }"


def comment(reason: str) -> Iterable[str]:
    if reason:
        yield f"# {' '.join(reason.split())}"


def table(name: str, rows: Mapping[str, Any]) -> list[str]:
    out = [f"[{name}]"]
    for one, value in rows.items():
        line = f"{key(one)} = {inline(value)}"
        if len(line) > 100 and isinstance(value, list):
            line = f"{key(one)} = [\n" + "".join(f"  {inline(part)},\n" for part in value) + "]"
        out.append(line)
    return out


def dialect(data: Mapping[str, Any], reasons: Mapping[str, str]) -> str:
    """The text of a dialect file; ``reasons`` are by a setting's name or ``rows0``, ``rows1``."""
    out = table("dialect", data["dialect"])
    if data.get("marks"):
        out += ["", *table("marks", data["marks"])]
    if data.get("identity"):
        out += ["", *table("identity", data["identity"])]
    if data.get("map"):
        out += ["", "[map]"]
        for name, entry in data["map"].items():
            out += comment(reasons.get(name, ""))
            out.append(f"{text(name)} = {inline(entry)}")
    if data.get("modes"):
        out += ["", *table("modes", data["modes"])]
    for place, row in enumerate(data.get("rows", [])):
        out += ["", *comment(reasons.get(f"rows{place}", "")), "[[rows]]"]
        for name, value in row.items():
            if name == "fields":
                out += [f"fields.{key(field)} = {inline(codec)}" for field, codec in value.items()]
            elif isinstance(value, list) and len(value) > 1 and len(inline(value)) > 80:
                out.append(f"{name} = [\n" + "".join(f"  {inline(one)},\n" for one in value) + "]")
            else:
                out.append(f"{name} = {inline(value)}")
    return "\n".join(out) + "\n"
