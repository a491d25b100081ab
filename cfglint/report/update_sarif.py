"""Comparisons, carried setups and refused lines as SARIF, each with its cure as a fix object.

They become findings of the engine's own rules (``update/lost``, ``carry/by-hand``, …) and go
through :mod:`cfglint.report.sarif` like those of any run.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.prints import Prints
from cfglint.report.sarif import write_sarif
from cfglint.report.update import sentence
from cfglint.results import CraftLine, Found, Run, Trouble, Verdict
from cfglint.rule import Edit, Rule
from cfglint.span import Excerpt, Span

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.carry.carry import Carry
    from cfglint.carry.compare import Comparison, Entry
    from cfglint.carry.lint import Judged
    from cfglint.carry.refused import Refused
    from cfglint.carry.side import Side
    from cfglint.dump.source import Source
    from cfglint.rule import Grade

#: Our rule for each kind of difference: title, grade, why it matters.
KINDS: dict[str, tuple[str, Grade, str]] = {
    "lost": ("A line did not come back", "fix", "What it set is no longer so."),
    "back at default": ("A value is back at its default", "fix", "It was set otherwise before."),
    "default changed": ("A default is another now", "fix", "No line says it, so it changed."),
    "sense changed": ("A flag means something else now", "ground", "The same word says another."),
    "changed": ("A value is another", "fix", "It was set otherwise before."),
    "refused": ("A line was refused", "fix", "The controller did not take it."),
    "added": ("A line is new", "advise", "It was not there before."),
    "not understood": ("A line is not understood", "fix", "Nobody can say what it does."),
}
CARRIED: dict[str, tuple[str, Grade, str]] = {
    "by-hand": ("A line must be entered by hand", "fix", "It cannot be carried as it is."),
    "unreadable": ("A line cannot be read", "fix", "What it sets is not carried."),
    "unsaid-default": ("A default may not hold", "fix", "No line of the target says it."),
}


def comparison_sarif(found: Comparison) -> str:
    """A comparison.  The fixes are for the later dump."""
    rules = {kind: _rule(f"update/{_id(kind)}", *page) for kind, page in KINDS.items()}
    maker = _Maker(found.after.craft.name, [found.before.source, found.after.source])
    by_rule: dict[str, list[Found]] = {rule.id: [] for rule in rules.values()}
    for entry in found.entries:
        if entry.grade is not None:
            rule = rules[entry.kind]
            by_rule[rule.id].append(_difference(found, entry, rule, maker))
    crafts = [_craft_line(side) for side in (found.before, found.after)]
    return _write(rules.values(), by_rule, found.after, crafts)


def _difference(found: Comparison, entry: Entry, rule: Rule, maker: _Maker) -> Found:
    # What is gone is told of the later dump as a whole: the earlier one may be history only.
    span = entry.after or found.after.craft.whole
    assert entry.grade is not None
    beside = ((entry.before, "as it was before"),) if entry.before is not None else ()
    text = f"{entry.name}: {entry.was or 'nothing'} before, {entry.now or 'nothing'} now"
    return maker.found(
        rule,
        entry.grade,
        span,
        f"{text}. {sentence(entry.meaning)}",
        f"enter {entry.enter}" if entry.enter else "",
        beside,
        _fix(found.after, entry),
    )


def _fix(after: Side, entry: Entry) -> tuple[Edit, ...]:
    """The edit of the later dump that puts an entry right: in place, else before its last line
    if that only saves, else at its end.
    """
    if not entry.enter:
        return ()
    if entry.after is not None:
        return (Edit(entry.after, entry.line),)
    source = after.source
    line = len(source.lines) + 1
    if after.uses and after.uses[-1][1] == "ignored":
        line = after.uses[-1][0].line
    elif source.text and not source.text.endswith(("\n", "\r")):
        end = len(source.lines[-1]) + 1
        place = Span(source.file, line - 1, end, line - 1, end)
        return (Edit(place, f"\n{entry.enter}"),)
    return (Edit(Span(source.file, line, 1, line, 1), f"{entry.enter}\n"),)


def carry_sarif(found: Carry, judged: Judged) -> str:
    """What is left to do of a carry: the hand list, and rules that are broken now."""
    side = found.side
    rules = {key: _rule(f"carry/{key}", *page) for key, page in CARRIED.items()}
    maker = _Maker(side.craft.name, [side.source])
    by_rule: dict[str, list[Found]] = {rule.id: [] for rule in rules.values()}
    for row in found.by_hand():
        rule = rules["by-hand" if row.bucket == "by hand" else "unreadable"]
        span = row.statement.span(side.craft.file)
        by_rule[rule.id].append(maker.found(rule, rule.grade, span, sentence(row.note)))
    rule = rules["unsaid-default"]
    for one in found.unsaid:
        text = sentence(f"{one.name}, {one.value} until now by default: {one.note}")
        by_rule[rule.id].append(maker.found(rule, rule.grade, side.craft.whole, text))
    for relapse in (*judged.relapses, *judged.revealed):
        rules[relapse.rule.id] = relapse.rule
        by_rule[relapse.rule.id] = [
            # The carried text is in no file yet, so the dump it comes from is pointed at.
            maker.found(
                relapse.rule,
                row.grade or relapse.rule.grade,
                side.craft.whole,
                f"In the carried setup: {row.message}",
                row.instead,
            )
            for row in relapse.findings
        ]
    troubles = [
        Trouble("crash", "this rule crashed on one of the two craft", "tell its author", 3,
                side.craft.file, None, row.rule.id, row.wrong.text)
        for row in judged.crashes
    ]  # fmt: skip
    return _write(rules.values(), by_rule, side, [_craft_line(side)], troubles)


def refused_sarif(rows: Iterable[Refused], side: Side) -> str:
    """The refused lines of a log."""
    rule = _rule("update/refused", *KINDS["refused"])
    maker = _Maker(side.craft.name, [side.source])
    made = []
    for row in rows:
        beside = ((row.span, "what the controller said"),) if row.cause is not None else ()
        fix = (Edit(row.cause, row.enter),) if row.enter and row.cause is not None else ()
        text = f"Refused ({row.said}): {sentence(row.meaning)}" if row.said else row.meaning
        instead = f"enter {row.enter}" if row.enter else ""
        made.append(
            maker.found(rule, rule.grade, row.cause or row.span, text, instead, beside, fix)
        )
    return _write([rule], {rule.id: made}, side, [_craft_line(side)])


class _Maker:
    """Makes findings that point into some sources."""

    def __init__(self, craft: str, sources: Sequence[Source]) -> None:
        from cfglint.prints import LineHashes

        self.craft = craft
        self.lines = {source.file: source.lines for source in sources}
        self.hashes = {source.file: LineHashes(source.text, source.encoding) for source in sources}
        self.prints = Prints()

    def excerpt(self, span: Span) -> Excerpt:
        return Excerpt(span.line, tuple(self.lines[span.file][span.line - 1 : span.end_line]))

    def found(
        self,
        rule: Rule,
        grade: Grade,
        span: Span,
        message: str,
        instead: str = "",
        beside: Sequence[tuple[Span, str]] = (),
        fix: tuple[Edit, ...] = (),
    ) -> Found:
        from cfglint.rule import Related

        excerpt = self.excerpt(span)
        line = excerpt.lines[0] if excerpt.lines else ""
        return Found(
            rule.id,
            grade,
            span.file,
            self.craft,
            span,
            message,
            instead,
            excerpt,
            tuple(Related(place, text, self.excerpt(place)) for place, text in beside),
            fix,
            "",
            self.prints.of(rule.id, span.file, line),
            None,
            self.hashes[span.file].of(span.line),
        )


def _rule(name: str, title: str, grade: Grade, why: str) -> Rule:
    return Rule(name, grade, title, why, "cfglint's own", lambda _craft, _options: ())


def _id(kind: str) -> str:
    return kind.replace(" ", "-")


def _craft_line(side: Side) -> CraftLine:
    craft = side.craft
    return CraftLine(craft.file, craft.name, side.dialect.id, side.version, craft.lines)


def _write(
    rules: Iterable[Rule],
    by_rule: dict[str, list[Found]],
    side: Side,
    crafts: Iterable[CraftLine],
    troubles: Iterable[Trouble] = (),
) -> str:
    craft = side.craft
    pages = tuple(rules)
    verdicts = tuple(
        Verdict(
            rule.id,
            craft.file,
            craft.name,
            "broken" if by_rule[rule.id] else "holds",
            tuple(by_rule[rule.id]),
            whole=craft.whole,
        )
        for rule in pages
    )
    run = Run(os.getcwd(), pages, tuple(crafts), verdicts, tuple(troubles), "fix")
    return write_sarif(run)
