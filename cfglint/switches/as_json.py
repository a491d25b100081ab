"""The picture as JSON, for programs: the scene's records with their field names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.switches.picture import recovery_lines

if TYPE_CHECKING:
    from cfglint.craft import Missing
    from cfglint.span import Span
    from cfglint.switches.asking import Answer
    from cfglint.switches.scene import Lane, Scene, Table
    from cfglint.switches.states import Step

#: Raised when the shape of the document changes in a way that a reader must know.
SCHEMA = 1


def as_json(item: Scene) -> str:
    """One document, ended by a newline; µs throughout, spans count from 1."""
    import json

    return json.dumps(document(item), indent=2) + "\n"


def document(item: Scene) -> dict[str, Any]:
    """The scene as dicts and lists."""
    return {
        "schema": SCHEMA,
        "craft": item.craft,
        "link": item.link,
        "combinations": item.combinations,
        "assumed_channels": list(item.assumed),
        "notes": list(item.notes),
        "lanes": [_lane(lane) for lane in item.lanes],
        "states": [_table(table) for table in item.tables],
        "recovery": {
            "start": item.start,
            "assumed": item.recovery_assumed,
            "stuck": item.stuck,
            "steps": [_step(step) for step in item.recovery],
            "words": recovery_lines(item),
        },
        "answers": [_answer(answer) for answer in item.answers],
    }


def _lane(lane: Lane) -> dict[str, Any]:
    return {
        "channel": lane.channel,
        "switch": lane.switch,
        "kind": lane.kind,
        "momentary": lane.momentary,
        "low_us": lane.low,
        "high_us": lane.high,
        "calibrated_us": list(lane.calibration) if lane.calibration is not None else None,
        "trouble": lane.trouble,
        "ranges": [
            {
                "mode": bar.mode,
                "join": bar.join,
                "low_us": bar.low_us,
                "high_us": bar.high_us,
                "arriving": [
                    {"low_us": low, "high_us": high, "low_in": low_in, "high_in": high_in}
                    for low, high, low_in, high_in in bar.parts
                ],
            }
            for bar in lane.bars
        ],
        "positions": [
            {
                "name": mark.name,
                "sent_us": mark.sent_us,
                "jitter_us": mark.jitter_us,
                "arrives_low_us": mark.low,
                "arrives_high_us": mark.high,
                "modes": list(mark.modes),
                "modes_on_and_off": list(mark.sometimes),
            }
            for mark in lane.marks
        ],
        "no_mode": [{"low_us": low, "high_us": high} for low, high in lane.dead],
    }


def _table(table: Table) -> dict[str, Any]:
    return {
        "switches": list(table.switches),
        "modes": list(table.modes),
        "states": table.states,
        "complete": table.all_rows,
        "assumed": table.assumed,
        "trouble": table.trouble,
        "rows": [
            {
                "positions": dict(zip(table.switches, positions, strict=True)),
                "on": list(modes),
                "count": count,
            }
            for positions, modes, count in table.rows
        ],
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "kind": step.kind,
        "switch": step.switch,
        "from": step.start,
        "to": step.to,
        "armed": step.armed,
        "on": list(step.modes),
        "words": step.words(),
        "outcome": step.outcome(),
    }


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "question": answer.question,
        "subject": answer.subject,
        "state": answer.state,
        "words": answer.words,
        "instead": answer.instead,
        "assumed": answer.assumed,
        "lacks": [_lack(lack) for lack in answer.lacks],
        "steps": [_step(step) for step in answer.steps],
        "spans": [_span(span) for span in answer.spans],
        "channels": list(answer.channels),
    }


def _lack(lack: Missing) -> dict[str, str]:
    return {"fact": lack.fact, "where": lack.where, "hint": lack.hint}


def _span(span: Span) -> dict[str, Any]:
    return {
        "file": span.file,
        "line": span.line,
        "column": span.column,
        "end_line": span.end_line,
        "end_column": span.end_column,
    }
