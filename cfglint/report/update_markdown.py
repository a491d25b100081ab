"""Comparisons, carried setups and refused lines for a pull request: Markdown.

GitHub-flavoured tables (GFM 0.29, 4.10).  Text from a dump stands in code spans or code blocks
only, whose fences are longer than any run of backticks within (CommonMark 0.31, 4.5 and 6.1), so
that nothing in a dump can turn into a link, a mention or a heading.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.report.plain import visible
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
        out += _table(("grade", "what", "was", "now", "why"), rows)
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
    out += _table(("statements", "became of them"), [*rows, (str(len(found.moved)), "in all")])
    hand = [
        (str(row.statement.line), code(row.statement.text.strip()), words(row.note))
        for row in found.by_hand()
    ]
    hand += [("default", code(f"{row.name}: {row.value}"), words(row.note)) for row in found.unsaid]
    if hand:
        out += ["By hand:", "", *_table(("line", "statement", "what to do"), hand)]
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
        out += ["Changed on the way:", "", *_table(heads, changed)]
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
    table = [
        (
            str((row.cause or row.span).line),
            code(row.text),
            row.why,
            words(sentence(row.meaning)),
            code(row.enter),
        )
        for row in rows
    ]
    if table:
        out += _table(("line", "refused", "why", "meaning", "enter instead"), table)
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


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    out = [f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}"]
    # In a table a bar ends the cell, even within a code span.
    out += [f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in row)} |" for row in rows]
    return [*out, ""]


def words(text: str) -> str:
    """Text of ours that may quote a dump, as Markdown: nothing in it is markup but code spans."""
    parts = re.split(r"`([^`]*)`", visible(text))
    return "".join(
        code(part) if number % 2 else re.sub(r"([\\`*_{}\[\]<>#|@~])", r"\\\1", part)
        for number, part in enumerate(parts)
    )


def code(text: str) -> str:
    """Text as a code span, ``""`` for none."""
    shown = visible(text.replace("\t", " "))
    if not shown:
        return ""
    fence = "`" * (_longest(shown) + 1)
    pad = " " if shown[0] == "`" or shown[-1] == "`" else ""
    return f"{fence}{pad}{shown}{pad}{fence}"


def block(text: str) -> list[str]:
    """Lines as a code block."""
    shown = [visible(line.replace("\t", " ")) for line in text.split("\n")]
    fence = "`" * max(3, _longest("\n".join(shown)) + 1)
    return [f"{fence}text", *shown, fence, ""]


def _longest(text: str) -> int:
    return max((len(run) for run in re.findall(r"`+", text)), default=0)
