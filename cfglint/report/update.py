"""What an update did, for people: comparisons, carried setups and refused lines as text.

In the layout of the report of a run (see :mod:`cfglint.report.terminal`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.report.layout import (
    ASKS,
    GRADE_STYLE,
    Line,
    Page,
    count,
    header,
    heading,
    labelled,
    last_lines,
    page_of,
    prose,
    write_lines,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from typing import TextIO

    from cfglint.carry.carry import Carried, Carry
    from cfglint.carry.compare import Comparison, Entry
    from cfglint.carry.lint import Judged
    from cfglint.carry.refused import Refused
    from cfglint.carry.side import Side
    from cfglint.span import Span


def write_comparison(
    found: Comparison,
    *,
    file: TextIO,
    width: int | None = None,
    colour: bool | None = None,
    everything: bool = False,
) -> None:
    """Write a comparison; ``everything`` also lists what means the same.

    ``width`` and ``colour`` are as in :func:`cfglint.report.terminal.write_text`.
    """
    page = page_of(file, width)
    write_lines(_comparison(found, page, everything), file, colour)


def write_carry(
    found: Carry,
    judged: Judged,
    *,
    file: TextIO,
    paste: str,
    written: str = "",
    width: int | None = None,
    colour: bool | None = None,
    show: Sequence[str] = (),
) -> None:
    """Write what became of a setup; ``paste`` is the text to paste, ``written`` the file that
    it was written to ("": it is shown at the end).  Of the buckets to ``show`` every line is told.
    """
    page = page_of(file, width)
    write_lines(_carry(found, judged, page, paste, written, show), file, colour)


def write_refused(
    rows: Iterable[Refused],
    name: str,
    *,
    file: TextIO,
    width: int | None = None,
    colour: bool | None = None,
) -> None:
    """Write the refused lines of a log; ``name`` is the log's."""
    page = page_of(file, width)
    write_lines(_refused(list(rows), name, page), file, colour)


# ---------------------------------------------------------------- comparisons


def between(before: Side, after: Side) -> str:
    """The two dialects and versions in words: ``blocks, firmware 5.6 → 6.3``."""
    first, second = before.version or "?", after.version or "?"
    if before.dialect.id != after.dialect.id:
        return f"{before.dialect.id} {first} → {after.dialect.id} {second}"
    return f"{before.dialect.id}, firmware {first}" + ("" if first == second else f" → {second}")


def sentence(text: str) -> str:
    """A clause as a sentence."""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")


def _comparison(found: Comparison, page: Page, everything: bool) -> Iterator[Line]:
    before, after = found.before, found.after
    name = after.craft.name or before.craft.name
    yield from heading([*filter(None, [name]), between(before, after)], page)
    yield from prose("before", before.craft.file, page)
    yield from prose("after", after.craft.file, page)
    for about in found.fate.about:
        yield from prose("update", sentence(about), page)
    for note in found.notes():
        yield from prose("note", sentence(note), page)
    yield []
    graded = [entry for entry in found.entries if entry.grade is not None]
    for entry in graded:
        yield from _entry(entry, page)
        yield []
    quiet = [entry for entry in found.shown() if entry.grade is None]
    if quiet:
        yield from heading(["Nothing to do"], page)
        for entry in quiet:
            yield from _quiet(entry, page)
        yield []
    same = [entry for entry in found.entries if entry.kind == "same"]
    if everything and same:
        yield from heading(["The same"], page)
        for entry in same:
            yield from _quiet(entry, page)
        yield []
    yield from _all_to_enter(found, page)
    yield from last_lines(comparison_summary(found), page)


def to_enter(found: Comparison) -> str:
    """All that puts a comparison right, in one text to be entered, gravest first; sections stay
    whole, what two differences ask for stands once, and what saves comes last.

    Empty if nothing is to be entered, or nothing is known.
    """
    texts = [entry.enter for entry in found.entries if entry.grade is not None and entry.enter]
    if not texts:
        return ""
    save = found.after.dialect.mark("save")
    return "\n".join(dict.fromkeys([*texts, *filter(None, [save])]))


def _all_to_enter(found: Comparison, page: Page) -> Iterator[Line]:
    text = to_enter(found)
    if not text:
        return
    yield from heading(["To put it right, enter"], page)
    # From the left edge and never cut, as they are to be copied.
    yield from ([(page.plain(line), "")] for line in text.split("\n"))
    yield []


def comparison_summary(found: Comparison) -> str:
    """How many differences there are of each grade, and how much means the same."""
    graded = [entry.grade for entry in found.entries if entry.grade is not None]
    parts = [
        f"{graded.count(grade)} {grade} ({asks})" for grade, asks in ASKS.items() if grade in graded
    ]
    quiet = len(found.shown()) - len(graded)
    if quiet:
        parts.append(f"{quiet} with nothing to do")
    same = len(found.entries) - len(found.shown())
    total = count(len(found.shown()), "difference", "differences")
    what = f"{total}: {', '.join(parts)}" if parts else "no difference in meaning"
    return f"{what}; {same} the same"


def title(entry: Entry) -> str:
    """What happened to what, in words."""
    return entry.name if entry.kind == "same" else f"{entry.kind}: {entry.name}"


def _entry(entry: Entry, page: Page) -> Iterator[Line]:
    assert entry.grade is not None
    tag, _ = GRADE_STYLE[entry.grade]
    name = (page.plain(title(entry)), "bold")
    yield from header((entry.grade.upper(), tag), name, entry.after or entry.before, page)
    yield from _value("was", entry.was, entry.before, page)
    yield from _value("now", entry.now, entry.after, page)
    yield from prose("why", sentence(entry.meaning), page)
    if entry.enter:
        yield from _to_enter(entry.enter, page)


def _value(word: str, value: str, span: Span | None, page: Page) -> Iterator[Line]:
    place = f"  (line {span.line})" if span is not None else ""
    yield from prose(word, (value or "nothing") + place, page)


def _to_enter(text: str, page: Page) -> Iterator[Line]:
    # Never cut to the page's width: it is to be copied.
    for number, line in enumerate(text.split("\n")):
        yield [*labelled("enter" if number == 0 else "", page), (page.plain(line), "")]


def _quiet(entry: Entry, page: Page) -> Iterator[Line]:
    values = dict.fromkeys(value for value in (entry.was, entry.now) if value)
    text = f"{title(entry)}: {' → '.join(values)} ({entry.meaning}"
    here = entry.after or entry.before
    if entry.before is not None and here is not None and entry.before.line != here.line:
        text += f"; line {entry.before.line} before"
    yield from prose(str(here.line) if here is not None else "", text + ")", page)


# ---------------------------------------------------------------- carried setups


def _carry(
    found: Carry, judged: Judged, page: Page, paste: str, written: str, show: Sequence[str]
) -> Iterator[Line]:
    from cfglint.carry.carry import BUCKETS
    from cfglint.carry.side import cut_off

    side = found.side
    to = f"{found.target.id} {found.version}".strip()
    start = f"{side.dialect.id} {side.version or '?'}"
    parts = [*filter(None, [side.craft.name]), side.craft.file, f"{start} → {to}"]
    yield from heading(parts, page)
    for about in found.fate.about:
        yield from prose("update", sentence(about), page)
    if why := cut_off(side):
        yield from prose("note", sentence(f"the dump seems to be cut off: {why}"), page)
    for bucket, about in BUCKETS.items():
        number = found.counts()[bucket]
        if number:
            yield from prose(str(number), about, page)
    total = count(len(found.moved), "statement in all", "statements in all")
    yield from prose(str(len(found.moved)), total.partition(" ")[2], page)
    yield []
    for bucket, about in BUCKETS.items():
        rows = [row for row in found.moved if row.bucket == bucket]
        if bucket in show:
            yield from heading([sentence(bucket)[:-1], about], page)
            yield from _moved(rows, page) if rows else prose("", "no line", page)
            yield []
    notable = [row for row in found.moved if is_notable(row)]
    if notable:
        yield from heading(["Changed on the way"], page)
        yield from _moved(notable, page)
        yield []
    if found.stated:
        yield from heading(["Said for the first time", "the target's default is another"], page)
        yield from prose("", ", ".join(found.stated), page)
        yield []
    if not found.complete:
        yield from heading(["By hand"], page)
        yield from _moved(found.by_hand(), page)
        for unsaid in found.unsaid:
            text = f"{unsaid.name}, {unsaid.value} until now by default: {unsaid.note}"
            yield from prose("default", text, page)
        yield []
    yield from _judged(judged, page)
    if written:
        yield from prose("written", written, page)
    else:
        yield from heading(["To paste", "into a controller that is at its defaults"], page)
        for line in paste.rstrip("\n").split("\n"):
            yield [(page.plain(line), "")]
        yield []
    yield from last_lines(carry_summary(found, judged), page)


def is_notable(row: Carried) -> bool:
    """Whether a person should read what became of a line that needs nothing done by hand."""
    if row.bucket == "removed":
        return True
    changed = row.bucket in ("new name", "rescaled", "as it is", "default says so")
    return changed and row.note not in ("", "identity", "put last", "the target's default")


def _moved(rows: Iterable[Carried], page: Page) -> Iterator[Line]:
    """Rows one by one; of several in a row with the same note it is told once, below them."""
    from itertools import groupby

    for note, group in groupby(rows, key=lambda row: row.note):
        alike = list(group)
        for row in alike:
            text = _statement(row)
            label = str(row.statement.line)
            yield from prose(label, f"{text}: {note}" if note and not alike[1:] else text, page)
        if note and alike[1:]:
            yield from prose("why", sentence(note), page)


def _statement(row: Carried) -> str:
    """A statement and what stands for it, if that differs."""
    from cfglint.carry.side import text_of

    text = text_of(row.statement)
    if row.lines and row.lines != (text,):
        text += " → " + " + ".join(line.strip() for line in row.lines)
    return text


def _judged(judged: Judged, page: Page) -> Iterator[Line]:
    for title, about, relapses in (
        ("Not clean", "rules that held before and do not hold now", judged.relapses),
        ("Also broken", "the dump did not say enough to tell before", judged.revealed),
    ):
        if relapses:
            yield from heading([title, about], page)
        for relapse in relapses:
            for finding in relapse.findings:
                grade = finding.grade or relapse.rule.grade
                tag, _ = GRADE_STYLE[grade]
                name = (page.plain(relapse.rule.id), "bold")
                yield from header((grade.upper(), tag), name, None, page)
                yield from prose("", finding.message, page)
                yield from prose("instead", finding.instead, page)
        if relapses:
            yield []
    for crash in judged.crashes:
        text = (
            f"{crash.rule.id} failed, so what it would have said is not known: {crash.wrong.text}"
        )
        yield from prose("crashed", text, page)


def carry_summary(found: Carry, judged: Judged) -> str:
    """Whether all went across, in one line."""
    hand = len(found.by_hand()) + len(found.unsaid)
    what = f"{count(hand, 'thing', 'things')} to do by hand" if hand else "nothing to do by hand"
    broken = len(judged.relapses)
    rules = f"{count(broken, 'rule', 'rules') if broken else 'no rule'} newly broken"
    lines = count(len(found.lines), "line", "lines")
    return f"{count(len(found.moved), 'statement', 'statements')} → {lines}; {what}; {rules}"


# ---------------------------------------------------------------- refused lines


def _refused(rows: list[Refused], name: str, page: Page) -> Iterator[Line]:
    yield from heading([name, count(len(rows), "refused line", "refused lines")], page)
    for row in rows:
        tag, _ = GRADE_STYLE["fix"]
        yield from header(
            ("FIX", tag), (page.plain(f"refused: {row.why}"), "bold"), row.cause or row.span, page
        )
        yield from prose("line", row.text or "(none)", page)
        yield from prose("said", row.said, page)
        yield from prose("why", sentence(row.meaning), page)
        if row.enter:
            yield from _to_enter(row.enter, page)
        yield []
    yield from last_lines(refused_summary(rows), page)


def refused_summary(rows: list[Refused]) -> str:
    """How many refusals there are, and for how many a line to enter is known."""
    if not rows:
        return "no line was refused"
    known = sum(1 for row in rows if row.enter)
    return f"{count(len(rows), 'line', 'lines')} refused; what to enter is known for {known}"
