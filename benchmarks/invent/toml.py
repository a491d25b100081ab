"""The true dialect file of a plan, changes of a later version included."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

from invent.model import Spell
from invent.plan import Plan


class Changes(NamedTuple):
    """What a later version changed: old → new names, new scales, new neutral defaults."""

    renames: Mapping[str, str]
    rescaled: Mapping[str, Spell]
    moved: Mapping[str, Any]


def plain(value: Any) -> Any:
    """A neutral value as TOML has it."""
    return sorted(value) if isinstance(value, frozenset) else value


def inline(value: Any) -> str:
    """A value in one line of TOML."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key(k)} = {inline(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(inline, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def key(text: str) -> str:
    return text if text.replace("_", "").replace("-", "").isalnum() else json.dumps(text)


def _table(name: str, rows: Mapping[str, Any]) -> list[str]:
    return [f"[{name}]", *(f"{key(k)} = {inline(v)}" for k, v in rows.items()), ""]


def entries(plan: Plan) -> dict[str, dict[str, Any]]:
    """The ``[settings]`` table."""
    found: dict[str, dict[str, Any]] = {}
    for item in plan.items:
        row: dict[str, Any] = {"name": item.name, **item.spell.keys}
        if item.within:
            row["within"] = item.within
        if item.flag:
            row["flag"] = True
        if item.default is not None:
            row["default"] = plain(item.default)
        if item.number.base != 1:
            row["number_base"] = item.number.base
        found[item.setting] = row
    for setting, value in plan.defaults.items():
        if ".N" in setting and plan.families.has(setting):
            count = plan.ports if setting.startswith("port") else plan.channels
            found.setdefault(setting, {}).update(default=plain(value), count=count)
    return found


def dialect_file(plan: Plan, changes: Changes) -> str:
    """The whole dialect file."""
    extent = plan.extents[0] if len(plan.extents) == 1 else "full"
    out = _table(
        "dialect",
        {"id": f"invented-{plan.seed}", "version_order": plan.order, "extent": extent},
    )
    out += _table("shape", plan.shape.table())
    identity: dict[str, Any] = {"lines": list(plan.identity.forms)}
    if plan.identity.full:
        identity |= {"full": plan.identity.full, "changes": plan.identity.changes}
    out += _table("identity", identity)
    out += _table("settings", entries(plan))
    out += _table("modes", plan.modes.words)
    for record in plan.families.records:
        row: dict[str, Any] = {"id": record.id, "line": record.line, "makes": record.makes}
        if record.within:
            row["within"] = record.within
        if record.sets:
            row["sets"] = record.sets
        fields = {
            field: spell.keys
            for field, spell in record.fields.items()
            if spell.keys and field not in ("mode", "follows")
        }
        if fields:
            row["fields"] = fields
        if record.join != "any":
            row["join"] = record.join
        out += ["[[forms]]", *(f"{k} = {inline(v)}" for k, v in row.items()), ""]
    if plan.profiles:
        out += _table(
            "profiles",
            {
                "within": plan.profiles.within,
                "in_use": plan.profiles.in_use,
                "first": plan.profiles.numbers[0],
            },
        )
    out += _table("kept", {"names": [one.name for one in plan.noise]})
    out += _table("ignored", {"lines": [plan.shape.save], "save": plan.shape.save})
    rescaled = {
        name: {"scale": spell.scale, "offset": spell.offset}
        for name, spell in changes.rescaled.items()
    }
    patches: dict[str, Any] = {**rescaled}
    for name, value in changes.moved.items():
        patches[name] = {**patches.get(name, {}), "default": plain(value)}
    if changes.renames or patches:
        out += ["[[changes]]", f"at = {inline(plan.later)}"]
        if changes.renames:
            out.append(f"rename = {inline(changes.renames)}")
        out += ["", *(_table("changes.settings", patches) if patches else [])]
    return "\n".join(out)
