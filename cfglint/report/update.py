"""What an update did, for people: comparisons, carried setups and refused lines as text.

As blocks for :func:`cfglint.report.screen.write`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.report.blocks import ASKS, GRADE_STYLE, Counts, Heading, Lines, Prose, Title, count

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.carry.carry import Carried, Carry
    from cfglint.carry.compare import Comparison, Entry
    from cfglint.carry.lint import Judged
    from cfglint.carry.refused import Refused
    from cfglint.carry.side import Side
    from cfglint.report.blocks import Block
    from cfglint.span import Span


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


def comparison(found: Comparison, everything: bool = False) -> Iterator[Block]:
    """A comparison; ``everything`` also lists what means the same."""
    before, after = found.before, found.after
    name = after.craft.name or before.craft.name
    yield Heading(
        (
            *filter(None, [name]),
            between(before, after),
        )
    )
    yield Prose("before", before.craft.file)
    yield Prose("after", after.craft.file)
    for about in found.fate.about:
        yield Prose("update", sentence(about))
    for note in found.notes():
        yield Prose("note", sentence(note))
    yield None
    graded = [entry for entry in found.entries if entry.grade is not None]
    for entry in graded:
        yield from _entry(entry)
        yield None
    quiet = [entry for entry in found.shown() if entry.grade is None]
    if quiet:
        yield Heading(("Nothing to do",))
        for entry in quiet:
            yield from _quiet(entry)
        yield None
    same = [entry for entry in found.entries if entry.kind == "same"]
    if everything and same:
        yield Heading(("The same",))
        for entry in same:
            yield from _quiet(entry)
        yield None
    yield from _all_to_enter(found)
    yield Counts(comparison_summary(found))


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


def _all_to_enter(found: Comparison) -> Iterator[Block]:
    text = to_enter(found)
    if not text:
        return
    yield Heading(("To put it right, enter",))
    yield Lines(None, text, copy=True)
    yield None


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


def _entry(entry: Entry) -> Iterator[Block]:
    assert entry.grade is not None
    tag, _ = GRADE_STYLE[entry.grade]
    yield Title(entry.grade.upper(), title(entry), entry.after or entry.before, tag)
    yield from _value("was", entry.was, entry.before)
    yield from _value("now", entry.now, entry.after)
    yield Prose("why", sentence(entry.meaning))
    if entry.enter:
        yield Lines("enter", entry.enter, copy=True)


def _value(word: str, value: str, span: Span | None) -> Iterator[Block]:
    place = f"  (line {span.line})" if span is not None else ""
    yield Prose(word, (value or "nothing") + place)


def _quiet(entry: Entry) -> Iterator[Block]:
    values = dict.fromkeys(value for value in (entry.was, entry.now) if value)
    text = f"{title(entry)}: {' → '.join(values)} ({entry.meaning}"
    here = entry.after or entry.before
    if entry.before is not None and here is not None and entry.before.line != here.line:
        text += f"; line {entry.before.line} before"
    yield Prose(str(here.line) if here is not None else "", text + ")")


# ---------------------------------------------------------------- carried setups


def carry(
    found: Carry, judged: Judged, paste: str, written: str = "", show: Sequence[str] = ()
) -> Iterator[Block]:
    """What became of a setup; ``paste`` is the text to paste, ``written`` the file that it was
    written to ("": it is shown at the end).  Of the buckets to ``show`` every line is told.
    """
    from cfglint.carry.carry import BUCKETS
    from cfglint.carry.side import cut_off

    side = found.side
    to = f"{found.target.id} {found.version}".strip()
    start = f"{side.dialect.id} {side.version or '?'}"
    parts = [*filter(None, [side.craft.name]), side.craft.file, f"{start} → {to}"]
    yield Heading(tuple(parts))
    for about in found.fate.about:
        yield Prose("update", sentence(about))
    if why := cut_off(side):
        yield Prose("note", sentence(f"the dump seems to be cut off: {why}"))
    for bucket, about in BUCKETS.items():
        number = found.counts()[bucket]
        if number:
            yield Prose(str(number), about)
    total = count(len(found.moved), "statement in all", "statements in all")
    yield Prose(str(len(found.moved)), total.partition(" ")[2])
    yield None
    for bucket, about in BUCKETS.items():
        rows = [row for row in found.moved if row.bucket == bucket]
        if bucket in show:
            yield Heading(
                (
                    sentence(bucket)[:-1],
                    about,
                )
            )
            yield from _moved(rows) if rows else [Prose("", "no line")]
            yield None
    notable = [row for row in found.moved if is_notable(row)]
    if notable:
        yield Heading(("Changed on the way",))
        yield from _moved(notable)
        yield None
    if found.stated:
        yield Heading(
            (
                "Said for the first time",
                "the target's default is another",
            )
        )
        yield Prose("", ", ".join(found.stated))
        yield None
    if not found.complete:
        yield Heading(("By hand",))
        yield from _moved(found.by_hand())
        for unsaid in found.unsaid:
            text = f"{unsaid.name}, {unsaid.value} until now by default: {unsaid.note}"
            yield Prose("default", text)
        yield None
    yield from _judged(judged)
    if written:
        yield Prose("written", written)
    else:
        yield Heading(
            (
                "To paste",
                "into a controller that is at its defaults",
            )
        )
        yield Lines(None, paste, copy=True)
        yield None
    yield Counts(carry_summary(found, judged))


def is_notable(row: Carried) -> bool:
    """Whether a person should read what became of a line that needs nothing done by hand."""
    if row.bucket == "removed":
        return True
    changed = row.bucket in ("new name", "rescaled", "as it is", "default says so")
    return changed and row.note not in ("", "identity", "put last", "the target's default")


def _moved(rows: Iterable[Carried]) -> Iterator[Block]:
    """Rows one by one; of several in a row with the same note it is told once, below them."""
    from itertools import groupby

    for note, group in groupby(rows, key=lambda row: row.note):
        alike = list(group)
        for row in alike:
            text = _statement(row)
            label = str(row.statement.line)
            yield Prose(label, f"{text}: {note}" if note and not alike[1:] else text)
        if note and alike[1:]:
            yield Prose("why", sentence(note))


def _statement(row: Carried) -> str:
    """A statement and what stands for it, if that differs."""
    from cfglint.carry.side import text_of

    text = text_of(row.statement)
    if row.lines and row.lines != (text,):
        text += " → " + " + ".join(line.strip() for line in row.lines)
    return text


def _judged(judged: Judged) -> Iterator[Block]:
    for title, about, relapses in (
        ("Not clean", "rules that held before and do not hold now", judged.relapses),
        ("Also broken", "the dump did not say enough to tell before", judged.revealed),
    ):
        if relapses:
            yield Heading(
                (
                    title,
                    about,
                )
            )
        for relapse in relapses:
            for finding in relapse.findings:
                grade = finding.grade or relapse.rule.grade
                tag, _ = GRADE_STYLE[grade]
                yield Title(grade.upper(), relapse.rule.id, None, tag)
                yield Prose("", finding.message)
                yield Prose("instead", finding.instead)
        if relapses:
            yield None
    for crash in judged.crashes:
        text = (
            f"{crash.rule.id} failed, so what it would have said is not known: {crash.wrong.text}"
        )
        yield Prose("crashed", text)


def carry_summary(found: Carry, judged: Judged) -> str:
    """Whether all went across, in one line."""
    hand = len(found.by_hand()) + len(found.unsaid)
    what = f"{count(hand, 'thing', 'things')} to do by hand" if hand else "nothing to do by hand"
    broken = len(judged.relapses)
    rules = f"{count(broken, 'rule', 'rules') if broken else 'no rule'} newly broken"
    lines = count(len(found.lines), "line", "lines")
    return f"{count(len(found.moved), 'statement', 'statements')} → {lines}; {what}; {rules}"


# ---------------------------------------------------------------- refused lines


def refused(rows: Sequence[Refused], name: str) -> Iterator[Block]:
    """The refused lines of a log; ``name`` is the log's."""
    yield Heading(
        (
            name,
            count(len(rows), "refused line", "refused lines"),
        )
    )
    for row in rows:
        tag, _ = GRADE_STYLE["fix"]
        yield Title("FIX", f"refused: {row.why}", row.cause or row.span, tag)
        yield Prose("line", row.text or "(none)")
        yield Prose("said", row.said)
        yield Prose("why", sentence(row.meaning))
        if row.enter:
            yield Lines("enter", row.enter, copy=True)
        yield None
    yield Counts(refused_summary(rows))


def refused_summary(rows: Sequence[Refused]) -> str:
    """How many refusals there are, and for how many a line to enter is known."""
    if not rows:
        return "no line was refused"
    known = sum(1 for row in rows if row.enter)
    return f"{count(len(rows), 'line', 'lines')} refused; what to enter is known for {known}"
