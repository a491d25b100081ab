"""All rules as a table for people, and as JSON::

builtin: cfglint_rules.modes
  ground  modes/arm-missing
          No switch arms the craft
  off     modes/near-a-range-edge (fix elsewhere; cfglint.toml:14:29)
          A switch position close to a range's edge
          margin_us = 30 (22 elsewhere; cfglint.toml:15:12): how near is too near
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.report.blocks import Counts, Item, count

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.report.blocks import Block
    from cfglint.report.rule_states import RuleHere


def table(rows: Sequence[RuleHere]) -> Iterator[Block]:
    """Rules by where they come from, then how many."""
    home, under = "", " " * 10
    for row in rows:
        rule = row.rule
        above = rule.pack if row.file in ("", rule.pack) else f"{rule.pack}: {row.file}"
        if above != home:
            if home:
                yield None
            yield Item("", above, "bold")
            home = above
        yield Item(f"  {row.grade:<6}  ", rule.id)
        yield Item(under, rule.title)
        if "grade" in row.places:
            said = f"{row.grade} here, {rule.grade} elsewhere: {row.places['grade']}"
            yield Item(under, said)
        for option in rule.options:
            value, place = row.values[option.name], row.places.get(option.name)
            said = f" ({_shown(option.default)} elsewhere; {place})" if place else ""
            yield Item(under, f"{option.name} = {_shown(value)}{said}: {option.about}")
    off = sum(row.grade == "off" for row in rows)
    if rows:
        yield None
        yield Counts(f"{count(len(rows), 'rule', 'rules')}, {off} off here")


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return ", ".join(map(_shown, value)) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def as_json(rows: Sequence[RuleHere]) -> str:
    """A list of objects, one a rule; ASCII, indented."""
    import json

    return json.dumps([as_object(row) for row in rows], indent=2) + "\n"


def as_object(row: RuleHere) -> dict[str, Any]:
    """One rule: its page, and under ``here`` what this hangar makes of it."""
    from inspect import cleandoc

    rule = row.rule
    return {
        "id": rule.id,
        "grade": rule.grade,
        "title": rule.title,
        "why": cleandoc(rule.why),
        "source": rule.source,
        "confidence": rule.confidence,
        "pack": rule.pack,
        "file": row.file,
        "aliases": list(rule.aliases),
        "here": {
            "on": row.grade != "off",
            "grade": None if row.grade == "off" else row.grade,
            "set_at": row.places.get("grade"),
        },
        "options": [
            {
                "name": option.name,
                "default": option.default,
                "about": option.about,
                "least": option.least,
                "most": option.most,
                "value": row.values[option.name],
                "set_at": row.places.get(option.name),
            }
            for option in rule.options
        ],
    }
