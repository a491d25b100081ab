"""Comparisons, carried setups and refused lines for other programs: JSON.

ASCII, indented, ending in a line feed.  Spans count lines and columns from 1; the end column is
the first one after the stretch.  Text from a dump stands as it is, JSON's own escapes aside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.carry.carry import Carry
    from cfglint.carry.compare import Comparison, Entry
    from cfglint.carry.lint import Judged, Relapse
    from cfglint.carry.refused import Refused
    from cfglint.carry.side import Side
    from cfglint.span import Span


def comparison_json(found: Comparison, *, everything: bool = False) -> str:
    """A comparison; with ``everything`` what means the same as well."""
    rows = found.entries if everything else found.shown()
    return _dump(
        {
            "before": _side(found.before),
            "after": _side(found.after),
            "notes": list(found.notes()),
            "differences": [_entry(row) for row in rows],
            "same": len(found.entries) - len(found.shown()),
        }
    )


def carry_json(found: Carry, judged: Judged, paste: str) -> str:
    """What became of a setup, statement by statement, with the text to paste."""
    return _dump(
        {
            "from": _side(found.side),
            "to": {"dialect": found.target.id, "firmware": found.version},
            "statements": len(found.moved),
            "counts": found.counts(),
            "moved": [
                {
                    "line": row.statement.line,
                    "text": row.statement.text,
                    "bucket": row.bucket,
                    "lines": list(row.lines),
                    "note": row.note,
                }
                for row in found.moved
            ],
            "stated": list(found.stated),
            "unsaid": [row._asdict() for row in found.unsaid],
            "newly_broken": [_relapse(row) for row in judged.relapses],
            "also_broken": [_relapse(row) for row in judged.revealed],
            "crashed": [row.rule.id for row in judged.crashes],
            "rules": judged.asked,
            "paste": paste,
        }
    )


def refused_json(rows: Iterable[Refused]) -> str:
    """The refused lines of a log."""
    return _dump(
        {
            "refused": [
                {
                    "said": row.said,
                    "at": _span(row.span),
                    "line": row.text,
                    "cause": _span(row.cause),
                    "why": row.why,
                    "meaning": row.meaning,
                    "enter": row.enter,
                }
                for row in rows
            ]
        }
    )


def _relapse(relapse: Relapse) -> dict[str, Any]:
    return {
        "rule": relapse.rule.id,
        "was": relapse.was,
        "findings": [
            {
                "grade": row.grade or relapse.rule.grade,
                "message": row.message,
                "instead": row.instead,
            }
            for row in relapse.findings
        ],
    }


def _dump(value: dict[str, Any]) -> str:
    import json

    return json.dumps(value, indent=2) + "\n"


def _side(side: Side) -> dict[str, Any]:
    return {
        "file": side.craft.file,
        "craft": side.craft.name,
        "dialect": side.dialect.id,
        "firmware": side.version,
        "extent": side.craft.extent,
        "lines": side.craft.lines,
    }


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "kind": entry.kind,
        "name": entry.name,
        "grade": entry.grade,
        "was": entry.was,
        "now": entry.now,
        "before": _span(entry.before),
        "after": _span(entry.after),
        "meaning": entry.meaning,
        "enter": entry.enter,
    }


def _span(span: Span | None) -> dict[str, Any] | None:
    return span._asdict() if span is not None else None
