"""Comparisons, carried setups and refused lines for a pull request: Markdown.

Text from a dump stands in code spans or code blocks only (:mod:`cfglint.report.markdown`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.report.markdown import block, code, table, words
from cfglint.report.update import (
    between,
    carry_summary,
    comparison_summary,
    is_notable,
    refused_summary,
    sentence,
    to_enter,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.carry.carry import Carry
    from cfglint.carry.compare import Comparison, Entry
    from cfglint.carry.lint import Judged
    from cfglint.carry.refused import Refused
    from cfglint.span import Span


def comparison_markdown(found: Comparison, *, everything: bool = False) -> str:
    """A comparison, gravest first; with ``everything`` what means the same as well."""
    before, after = found.before, found.after
    name = after.craft.name or before.craft.name or after.craft.file
    out = [
        f"## {words(name)}: {words(between(before, after))}",
        "",
        f"{words(comparison_summary(found))}.",
        "",
    ]
    out += [f"> {words(sentence(note))}\n" for note in found.notes()]
    graded = [entry for entry in found.entries if entry.grade is not None]
    if graded:
        rows = [
            (
                f"**{entry.grade}**",
                f"{entry.kind}: {code(entry.name)}",
                _value(entry.was, entry.before),
                _value(entry.now, entry.after),
                words(sentence(entry.meaning)),
            )
            for entry in graded
        ]
        out += table(("grade", "what", "was", "now", "why"), rows)
        if text := to_enter(found):
            out += ["To put it right, enter:", "", *block(text)]
    quiet = [entry for entry in found.shown() if entry.grade is None]
    if quiet:
        out += ["Nothing to do:", "", *_quiet(quiet)]
    if everything:
        same = [entry for entry in found.entries if entry.kind == "same"]
        out += ["The same:", "", *_quiet(same)]
    return "\n".join(out).rstrip("\n") + "\n"


def carry_markdown(found: Carry, judged: Judged, paste: str) -> str:
    """What became of a setup, with the text to paste."""
    from cfglint.carry.carry import BUCKETS

    side = found.side
    to = f"{found.target.id} {found.version}".strip()
    start = f"{side.dialect.id} {side.version or '?'}"
    name = side.craft.name or side.craft.file
    out = [f"## {words(name)}: {words(start)} → {words(to)}", ""]
    out += [f"{words(carry_summary(found, judged))}.", ""]
    counts = found.counts()
    rows = [(str(counts[key]), about) for key, about in BUCKETS.items() if counts[key]]
    out += table(("statements", "became of them"), [*rows, (str(len(found.moved)), "in all")])
    hand = [
        (str(row.statement.line), code(row.statement.text.strip()), words(row.note))
        for row in found.by_hand()
    ]
    hand += [("default", code(f"{row.name}: {row.value}"), words(row.note)) for row in found.unsaid]
    if hand:
        out += ["By hand:", "", *table(("line", "statement", "what to do"), hand)]
    changed = [
        (
            str(row.statement.line),
            code(row.statement.text.strip()),
            " ".join(code(line.strip()) for line in row.lines),
            words(row.note),
        )
        for row in found.moved
        if is_notable(row)
    ]
    if changed:
        heads = ("line", "statement", "now", "why")
        out += ["Changed on the way:", "", *table(heads, changed)]
    broken = [("not clean", row) for row in judged.relapses]
    broken += [("also broken", row) for row in judged.revealed]
    for title, relapse in broken:
        for finding in relapse.findings:
            grade = finding.grade or relapse.rule.grade
            text = f"**{grade}** {code(relapse.rule.id)}: {words(finding.message)}"
            out += [f"- {title}: {text} {words(finding.instead)}".rstrip(), ""]
    out += [f"- {code(row.rule.id)} failed; what it would have said is not known\n"
            for row in judged.crashes]  # fmt: skip
    out += ["To paste into a controller that is at its defaults:", "", *block(paste.rstrip("\n"))]
    return "\n".join(out).rstrip("\n") + "\n"


def refused_markdown(rows: Sequence[Refused], name: str) -> str:
    """The refused lines of a log."""
    out = [f"## {words(name)}", "", f"{words(refused_summary(list(rows)))}.", ""]
    told = [
        (
            str((row.cause or row.span).line),
            code(row.text),
            row.why,
            words(sentence(row.meaning)),
            code(row.enter),
        )
        for row in rows
    ]
    if told:
        out += table(("line", "refused", "why", "meaning", "enter instead"), told)
    return "\n".join(out).rstrip("\n") + "\n"


def _quiet(entries: Iterable[Entry]) -> list[str]:
    out = []
    for entry in entries:
        value = " → ".join(dict.fromkeys(code(text) for text in (entry.was, entry.now) if text))
        out.append(f"- {entry.kind}: {code(entry.name)} {value} ({words(entry.meaning)})")
    return [*out, ""]


def _value(value: str, span: Span | None) -> str:
    place = f" (line {span.line})" if span is not None else ""
    return f"{code(value or 'nothing')}{place}"
