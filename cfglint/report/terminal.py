"""The report for people: what is wrong, where it stands, why it matters, what to do.

Everything hangs on one edge: labels, line numbers and grade words stand right-aligned in a
narrow column, what they label stands to the right of it::

    Bittern ── craft/bittern.txt ── plain, firmware 7.9 ──────────────
     GROUND   motor/left-on-default-signal  craft/bittern.txt:4:21
          4 │ let motor-signal be brushed
            │                     ^^^^^^^
              Motor signal is brushed, which no brushless ESC understands.
    instead   let motor-signal be dshot300
        why   Some motors may spin at full drive.

Colour only repeats what the words say.  Nothing from a dump, a file name or a message reaches
the terminal but through :mod:`cfglint.report.plain`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.report.blocks import (
    ASKS,
    GRADE_STYLE,
    Counts,
    Heading,
    Lines,
    Prose,
    Quote,
    Title,
    count,
)
from cfglint.report.plain import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from typing import TextIO

    from cfglint.finding import Finding
    from cfglint.report.blocks import Block
    from cfglint.results import Aside, CraftLine, Run, Trouble

#: Of a rule's reasons this many lines at most, in whole sentences; `cfglint why` has them all.
MOST_WHY = 4
#: Craft without findings are named up to this many, and beyond that counted.
MOST_NAMES = 12
#: Of a crashed rule's traceback this many last lines are shown.
MOST_DETAIL = 12

#: What rests on a guess is counted in these states.
_STATES = ("holds", "broken", "unknown")
#: How it is told what to do: by a line that is shown, on the card, or with hand and head.
_BY = {"": "instead", "card": "on card", "hand": "by hand"}
TROUBLE_LABEL = {"file": "unread", "crash": "crashed", "config": "set-up", "nothing": "nothing"}


def write_text(
    run: Run,
    *,
    file: TextIO,
    width: int | None = None,
    colour: bool | None = None,
    quiet: bool = False,
    show_accepted: bool = False,
    everything: bool = False,
) -> None:
    """Write the report of a run to ``file``.

    ``width`` and ``colour`` are as in :func:`cfglint.report.screen.write`.  ``quiet`` writes one
    line a finding, then the last line.  ``show_accepted`` also lists findings that were accepted,
    with the reasons; ``everything`` those that go away with another one's cure.
    """
    held = {} if everything else run.held_back()
    if quiet:  # for programs as well as for people, so it is never coloured
        encoding = getattr(file, "encoding", None) or "utf-8"
        file.writelines(f"{visible(line, encoding)}\n" for line in _quiet(run, held))
        return
    from cfglint.report.screen import write

    write(_full(run, show_accepted, held), file, width, colour)


# ---------------------------------------------------------------- the whole report


def _full(run: Run, show_accepted: bool, held: Mapping[str, Sequence[Finding]]) -> Iterator[Block]:
    whys = {item.id: item.why for item in run.rules}
    crafts = {(item.file, item.name): item for item in run.crafts}
    groups: dict[tuple[str, str], list[Finding]] = {key: [] for key in crafts}
    for found in run.findings:
        if found.accepted is None and found.cause not in held:
            groups.setdefault((found.file, found.craft), []).append(found)
    for key, group in groups.items():
        if group:
            yield Heading(tuple(_craft_parts(key, crafts.get(key))))
            told: set[str] = set()
            for found in sorted(group, key=_worst_first):
                why = "" if found.rule in told else whys.get(found.rule, "")
                told.add(found.rule)
                yield from _finding(found, why)
                yield from _more(held.get(found.print, ()))
                yield from _caution(found, crafts.get(key))
                yield None
    yield from _unknown(run)
    yield from _unconfirmed(run)
    if show_accepted:
        yield from _accepted(run)
    yield from _troubles(run.troubles)
    yield from _aside(run.aside)
    yield from _last(run, held)


def _worst_first(found: Finding) -> tuple[int, bool, str, int, int, str]:
    span = found.span
    return (
        list(ASKS).index(found.graded),
        span.file != found.file,
        span.file,
        span.line,
        span.column,
        found.rule,
    )


def _craft_parts(key: tuple[str, str], craft: CraftLine | None) -> list[str]:
    file, name = key
    parts = [name, file] if name and name != file else [file]
    if craft is not None and craft.dialect:
        parts.append(
            f"{craft.dialect}, firmware {craft.firmware}" if craft.firmware else craft.dialect
        )
    return parts


def _finding(found: Finding, why: str) -> Iterator[Block]:
    tag, mark = GRADE_STYLE[found.graded]
    word = found.graded.upper()
    yield Title(word, found.rule, found.span, tag)
    yield Quote(found.excerpt, found.span, mark)
    yield Prose("", found.message)
    yield Prose(_BY[found.cure.by if found.cure is not None else ""], found.instead)
    yield from _enter(found)
    if found.picture:
        yield None
        yield Lines("", found.picture)
        yield None
    shown = {(found.excerpt, found.span)}
    for beside in found.related:
        place = str(beside.span) + ":"
        yield Prose("see", f"{place} {beside.message}", start=place)
        if (beside.excerpt, beside.span) not in shown:
            yield Quote(beside.excerpt, beside.span, "bold")
    more = f"(more: cfglint why {found.rule})"
    yield Prose("why", why, most=MOST_WHY, more=more)


def _enter(found: Finding) -> Iterator[Block]:
    """The lines that cure a finding, or why there are none."""
    cure = found.cure
    if cure is None:
        return
    for step in cure.steps:
        if step.text:
            yield Lines("enter", step.text, copy=True, style="bold")
            yield Prose("", f"({step.where()})")
        else:
            yield Prose("enter", f"nothing; {step.where()}")
    if cure.unwritten:
        yield Prose("enter", f"no line: {cure.unwritten}")
    for at, choice in enumerate(cure.choices):
        word = "or" if at else "then"
        if choice.unwritten:
            yield Prose(word, f"no line: {choice.unwritten}")
        for step in choice.steps:
            if step.text:
                yield Lines(word, step.text, copy=True, style="bold")
                yield Prose("", f"({step.where()})")
            else:
                yield Prose(word, f"nothing; {step.where()}")
            word = ""


def _more(held: Sequence[Finding]) -> Iterator[Block]:
    """What goes away with a finding's cure is counted, and told by `--all`."""
    if held:
        rules = ", ".join(dict.fromkeys(one.rule for one in held))
        say = "follows" if len(held) == 1 else "follow"
        yield Prose("more", f"{len(held)} more {say} from this ({rules}); --all shows")


# ---------------------------------------------------------------- what could not be told


def _unknown(run: Run) -> Iterator[Block]:
    """One line a missing fact, with the rules that wait for it; crafts alike are told once."""
    by_craft: dict[str, dict[str, list[str]]] = {}
    for outcome in run.outcomes:
        for lack in outcome.lacks:
            rules = by_craft.setdefault(outcome.craft or outcome.file, {}).setdefault(lack.text, [])
            if outcome.rule not in rules:
                rules.append(outcome.rule)
    alike: dict[tuple[tuple[str, tuple[str, ...]], ...], list[str]] = {}
    for craft, facts in by_craft.items():
        key = tuple((fact, tuple(rules)) for fact, rules in facts.items())
        alike.setdefault(key, []).append(craft)
    if not alike:
        return
    yield Heading(
        (
            "Not known",
            "for want of a fact",
        )
    )
    for key, crafts in alike.items():
        yield Prose("craft", ", ".join(crafts))
        for fact, waiting in key:
            yield Prose("needs", f"{fact}: {', '.join(waiting)}")
        yield None


def _caution(found: Finding, craft: CraftLine | None) -> Iterator[Block]:
    if found.rests:
        from cfglint.report.unsure import caution

        unsure = craft.unsure if craft is not None else ()
        yield Prose("caution", caution(found.rests, unsure))


def _unconfirmed(run: Run) -> Iterator[Block]:
    """The unconfirmed mappings on which outcomes rest; crafts alike are told once."""
    if not any(outcome.rests for outcome in run.outcomes):
        return
    from cfglint.report.unsure import INSTEAD, by_craft

    alike: dict[tuple[str, ...], list[str]] = {}
    for craft, rows in by_craft(run):
        idle = len(craft.unsure) - sum(one.mark != "" for one in rows)
        key = [
            f"{one.text}: {one.counts()}" + (f" (marked in {one.mark})" if one.mark else "")
            for one in rows
        ]
        if idle:
            key.append(f"{idle} more, on which nothing rests")
        alike.setdefault(tuple(key), []).append(craft.name or craft.file)
    if not alike:
        return
    yield Heading(
        (
            "Not confirmed",
            "what rests on guesses in the dialect file",
        )
    )
    for texts, crafts in alike.items():
        yield Prose("craft", ", ".join(crafts))
        for text in texts:
            yield Prose("guess", text)
        yield None
    yield Prose("instead", INSTEAD)
    yield None


def _accepted(run: Run) -> Iterator[Block]:
    items = [(found, found.accepted) for found in run.findings if found.accepted is not None]
    if not items:
        return
    yield Heading(("Accepted",))
    for found, accepted in items:
        yield Title(found.graded, found.rule, found.span, style="")
        until = f", until {accepted.until}" if accepted.until else ""
        by = f" ({accepted.by}{until})" if accepted.by else until
        yield Prose("reason", accepted.reason + by)
    yield None


def _troubles(troubles: Iterable[Trouble]) -> Iterator[Block]:
    items = list(troubles)
    if not items:
        return
    yield Heading(("Trouble",))
    for trouble in items:
        word = TROUBLE_LABEL[trouble.kind]
        place = str(trouble.span) if trouble.span is not None else trouble.file
        parts = [part for part in (trouble.rule, place) if part]
        if parts:
            yield Title(word, "  ".join(parts), label_style="bold red")
            yield Prose("", trouble.message)
        else:
            yield Prose(word, trouble.message, label_style="bold red")
        yield Prose("instead", trouble.instead)
        if trouble.detail:
            detail = trouble.detail.rstrip("\n").split("\n")
            if len(detail) > MOST_DETAIL:
                left_out = len(detail) - MOST_DETAIL
                detail = [f"({left_out} lines above left out)", *detail[-MOST_DETAIL:]]
            yield Lines("", "\n".join(detail))
        yield None


def _aside(rows: Iterable[Aside]) -> Iterator[Block]:
    """What the run was told to leave out, or to take less seriously."""
    items = list(rows)
    if not items:
        return
    yield Heading(
        (
            "Set aside",
            "left out, or taken less seriously, as was asked",
        )
    )
    for one in items:
        place = str(one.span) + ":" if one.span is not None else ""
        yield Prose("", f"{place} {one.text}".strip(), start=place)
    yield None


# ---------------------------------------------------------------- last lines


def summary(run: Run) -> tuple[str, str]:
    """How many crafts, rules and outcomes of each kind; and apart, what was not for a craft.

    Together they are the last line of every report.  What rests on unconfirmed mappings is counted
    only where there is any.
    """
    states = {"holds": 0, "broken": 0, "unknown": 0, "not for this craft": 0}
    for outcome in run.outcomes:
        states[outcome.state] += 1
    accepted = sum(found.accepted is not None for found in run.findings)
    text = ", ".join(
        (
            count(len(run.crafts), "craft", "crafts"),
            count(len(run.rules), "rule", "rules"),
            f"{states['holds']} holds",
            f"{states['broken']} broken",
            f"{states['unknown']} unknown",
            f"{accepted} accepted",
        )
    )
    rests = sum(bool(outcome.rests) and outcome.state in _STATES for outcome in run.outcomes)
    if rests:
        text += f", {rests} unconfirmed"
    others = states["not for this craft"]
    return text, f"({others} not for this craft)" if others else ""


def _last(run: Run, held: Mapping[str, Sequence[Finding]]) -> Iterator[Block]:
    grades = [
        found.grade for found in run.findings if found.accepted is None and found.cause not in held
    ]
    parts = [
        f"{grades.count(grade)} {grade} ({asks})" for grade, asks in ASKS.items() if grade in grades
    ]
    if parts:
        yield Counts(", ".join(parts), style="")
        if held:
            more = count(sum(map(len, held.values())), "more follows", "more follow")
            yield Counts(f"{more} from these (--all shows what)", style="")
        yield from _clean(run)
    # The counts come last and, on pages of an ordinary width, in one line: `tail -1` finds them.
    yield Counts(*summary(run))


def _clean(run: Run) -> Iterator[Block]:
    """The craft in which nothing was found, by name: it is good to see that they were looked at."""
    bad = {(found.file, found.craft) for found in run.findings}
    odd = {trouble.file for trouble in run.troubles}
    names = [
        craft.name or craft.file
        for craft in run.crafts
        if (craft.file, craft.name) not in bad and craft.file not in odd
    ]
    if names:
        listed = ", ".join(names) if len(names) <= MOST_NAMES else f"{len(names)} craft"
        yield Counts(f"nothing found in {listed}", style="")


def _quiet(run: Run, held: Mapping[str, Sequence[Finding]]) -> Iterator[str]:
    for found in run.findings:
        if found.accepted is not None or found.cause in held:
            continue
        rests = ""
        if found.rests:
            from cfglint.report.unsure import caution

            rests = f" ({caution(found.rests, ())})"
        message = " ".join(filter(None, found.message.replace("\n", " ").split(" ")))
        yield f"{found.span}: {found.grade} {found.rule}: {message}{rests}".rstrip()
    for trouble in run.troubles:
        place = str(trouble.span) if trouble.span is not None else trouble.file
        message = ": ".join(filter(None, (place, trouble.rule, trouble.message)))
        yield "; ".join(filter(None, (message, trouble.instead)))
    for one in run.aside:
        place = f"{one.span}: " if one.span is not None else ""
        yield f"{place}set aside: {one.text}"
    yield " ".join(summary(run)).rstrip()
