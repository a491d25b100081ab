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

from cfglint.report.layout import (
    ASKS,
    GAP,
    GRADE_STYLE,
    LABELS,
    LEAST_WIDTH,
    Line,
    Page,
    count,
    excerpt_lines,
    header,
    heading,
    labelled,
    page_of,
    prose,
    verbatim,
    wrap,
    write_lines,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from typing import TextIO

    from cfglint.results import Aside, CraftLine, Found, Run, Trouble

__all__ = ["LEAST_WIDTH", "MOST_DETAIL", "summary", "write_text"]

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

    ``width`` is in terminal cells; None asks ``COLUMNS``, then the terminal, else takes 80.
    ``colour`` None colours a terminal unless ``NO_COLOR`` is set or ``TERM`` is ``dumb``, and
    anything else only if ``FORCE_COLOR`` is set.  ``quiet`` writes one line a finding, then the
    last line.  ``show_accepted`` also lists findings that were accepted, with the reasons;
    ``everything`` those that go away with another one's cure.
    """
    page = page_of(file, width)
    held = {} if everything else run.held_back()
    lines = _quiet(run, page, held) if quiet else _full(run, page, show_accepted, held)
    write_lines(lines, file, colour)


# ---------------------------------------------------------------- the whole report


def _full(
    run: Run, page: Page, show_accepted: bool, held: Mapping[str, Sequence[Found]]
) -> Iterator[Line]:
    whys = {item.id: item.why for item in run.rules}
    crafts = {(item.file, item.name): item for item in run.crafts}
    groups: dict[tuple[str, str], list[Found]] = {key: [] for key in crafts}
    for found in run.found:
        if found.accepted is None and found.cause not in held:
            groups.setdefault((found.file, found.craft), []).append(found)
    for key, group in groups.items():
        if group:
            yield from heading(_craft_parts(key, crafts.get(key)), page)
            told: set[str] = set()
            for found in sorted(group, key=_worst_first):
                why = "" if found.rule in told else whys.get(found.rule, "")
                told.add(found.rule)
                yield from _finding(found, why, page)
                yield from _more(held.get(found.print, ()), page)
                yield from _caution(found, crafts.get(key), page)
                yield []
    yield from _unknown(run, page)
    yield from _unconfirmed(run, page)
    if show_accepted:
        yield from _accepted(run, page)
    yield from _troubles(run.troubles, page)
    yield from _aside(run.aside, page)
    yield from _last(run, page, held)


def _worst_first(found: Found) -> tuple[int, bool, str, int, int, str]:
    span = found.span
    return (
        list(ASKS).index(found.grade),
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


def _finding(found: Found, why: str, page: Page) -> Iterator[Line]:
    tag, mark = GRADE_STYLE[found.grade]
    word = found.grade.upper()
    yield from header((word, tag), (page.plain(found.rule), "bold"), found.span, page)
    yield from excerpt_lines(found.excerpt, found.span, mark, page)
    yield from prose("", found.message, page)
    yield from prose(_BY[found.cure.by if found.cure is not None else ""], found.instead, page)
    yield from _enter(found, page)
    if found.picture:
        yield []
        yield from verbatim(found.picture, page)
        yield []
    shown = {(found.excerpt, found.span)}
    for beside in found.beside:
        place = page.plain(str(beside.span)) + ":"
        yield from prose("see", f"{place} {beside.message}", page, start=place)
        if (beside.excerpt, beside.span) not in shown:
            yield from excerpt_lines(beside.excerpt, beside.span, "bold", page)
    yield from _why(found.rule, why, page)


def _enter(found: Found, page: Page) -> Iterator[Line]:
    """The lines that cure a finding, or why there are none."""
    cure = found.cure
    if cure is None:
        return
    for step in cure.steps:
        if step.text:
            yield [*labelled("enter", page), (page.plain(step.text), "bold")]
            yield from prose("", f"({step.where()})", page)
        else:
            yield from prose("enter", f"nothing; {step.where()}", page)
    if cure.unwritten:
        yield from prose("enter", f"no line: {cure.unwritten}", page)


def _more(held: Sequence[Found], page: Page) -> Iterator[Line]:
    """What goes away with a finding's cure is counted, and told by `--all`."""
    if held:
        rules = ", ".join(dict.fromkeys(one.rule for one in held))
        say = "follows" if len(held) == 1 else "follow"
        yield from prose("more", f"{len(held)} more {say} from this ({rules}); --all shows", page)


def _why(rule: str, why: str, page: Page) -> Iterator[Line]:
    """A rule's reasons, or the first sentences of them and where to read on."""
    if len(wrap(why, page)) <= MOST_WHY:
        yield from prose("why", why, page)
        return
    from re import split

    first, *others = split(r"(?<=[.!?])\s+", why.strip())
    for sentence in others:
        if len(wrap(f"{first} {sentence}", page)) >= MOST_WHY:
            break
        first = f"{first} {sentence}"
    yield from prose("why", first, page)
    yield from prose("", f"(more: cfglint why {rule})", page)


# ---------------------------------------------------------------- what could not be told


def _unknown(run: Run, page: Page) -> Iterator[Line]:
    """One line a missing fact, with the rules that wait for it; crafts alike are told once."""
    by_craft: dict[str, dict[str, list[str]]] = {}
    for verdict in run.verdicts:
        for lack in verdict.lacks:
            rules = by_craft.setdefault(verdict.craft or verdict.file, {}).setdefault(lack.text, [])
            if verdict.rule not in rules:
                rules.append(verdict.rule)
    alike: dict[tuple[tuple[str, tuple[str, ...]], ...], list[str]] = {}
    for craft, facts in by_craft.items():
        key = tuple((fact, tuple(rules)) for fact, rules in facts.items())
        alike.setdefault(key, []).append(craft)
    if not alike:
        return
    yield from heading(["Not known", "for want of a fact"], page)
    for key, crafts in alike.items():
        yield from prose("craft", ", ".join(crafts), page)
        for fact, waiting in key:
            yield from prose("needs", f"{fact}: {', '.join(waiting)}", page)
        yield []


def _caution(found: Found, craft: CraftLine | None, page: Page) -> Iterator[Line]:
    if found.rests:
        from cfglint.report.unsure import caution

        unsure = craft.unsure if craft is not None else ()
        yield from prose("caution", caution(found.rests, unsure), page)


def _unconfirmed(run: Run, page: Page) -> Iterator[Line]:
    """The unconfirmed mappings on which outcomes rest; crafts alike are told once."""
    if not any(verdict.rests for verdict in run.verdicts):
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
    yield from heading(["Not confirmed", "what rests on guesses in the dialect file"], page)
    for texts, crafts in alike.items():
        yield from prose("craft", ", ".join(crafts), page)
        for text in texts:
            yield from prose("guess", text, page)
        yield []
    yield from prose("instead", INSTEAD, page)
    yield []


def _accepted(run: Run, page: Page) -> Iterator[Line]:
    items = [(found, found.accepted) for found in run.found if found.accepted is not None]
    if not items:
        return
    yield from heading(["Accepted"], page)
    for found, accepted in items:
        yield from header((found.grade, "dim"), (page.plain(found.rule), ""), found.span, page)
        until = f", until {accepted.until}" if accepted.until else ""
        by = f" ({accepted.by}{until})" if accepted.by else until
        yield from prose("reason", accepted.reason + by, page)
    yield []


def _troubles(troubles: Iterable[Trouble], page: Page) -> Iterator[Line]:
    items = list(troubles)
    if not items:
        return
    yield from heading(["Trouble"], page)
    for trouble in items:
        word = TROUBLE_LABEL[trouble.kind]
        place = str(trouble.span) if trouble.span is not None else trouble.file
        parts = [page.plain(part) for part in (trouble.rule, place) if part]
        if parts:
            yield [*labelled(word, page, "bold red"), ("  ".join(parts), "bold")]
            yield from prose("", trouble.message, page)
        else:
            first, *others = wrap(trouble.message, page) or [""]
            yield [*labelled(word, page, "bold red"), (first, "")]
            yield from ([*labelled("", page), (line, "")] for line in others)
        yield from prose("instead", trouble.instead, page)
        if trouble.detail:
            detail = trouble.detail.rstrip("\n").split("\n")
            if len(detail) > MOST_DETAIL:
                left_out = len(detail) - MOST_DETAIL
                detail = [f"({left_out} lines above left out)", *detail[-MOST_DETAIL:]]
            yield from verbatim("\n".join(detail), page)
        yield []


def _aside(rows: Iterable[Aside], page: Page) -> Iterator[Line]:
    """What the run was told to leave out, or to take less seriously."""
    items = list(rows)
    if not items:
        return
    yield from heading(["Set aside", "left out, or taken less seriously, as was asked"], page)
    for one in items:
        place = page.plain(str(one.span)) + ":" if one.span is not None else ""
        yield from prose("", f"{place} {one.text}".strip(), page, start=place)
    yield []


# ---------------------------------------------------------------- last lines


def summary(run: Run) -> tuple[str, str]:
    """How many crafts, rules and outcomes of each kind; and apart, what was not for a craft.

    Together they are the last line of every report.  What rests on unconfirmed mappings is counted
    only where there is any.
    """
    states = {"holds": 0, "broken": 0, "unknown": 0, "not for this craft": 0}
    for verdict in run.verdicts:
        states[verdict.state] += 1
    accepted = sum(found.accepted is not None for found in run.found)
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
    rests = sum(bool(verdict.rests) and verdict.state in _STATES for verdict in run.verdicts)
    if rests:
        text += f", {rests} unconfirmed"
    others = states["not for this craft"]
    return text, f"({others} not for this craft)" if others else ""


def _last(run: Run, page: Page, held: Mapping[str, Sequence[Found]]) -> Iterator[Line]:
    grades = [
        found.grade for found in run.found if found.accepted is None and found.cause not in held
    ]
    parts = [
        f"{grades.count(grade)} {grade} ({asks})" for grade, asks in ASKS.items() if grade in grades
    ]
    if parts:
        yield from _flush(", ".join(parts), page)
        if held:
            more = count(sum(map(len, held.values())), "more follows", "more follow")
            yield from _flush(f"{more} from these (--all shows what)", page)
        yield from _clean(run, page)
    text, others = summary(run)
    # The counts come last and, on pages of an ordinary width, in one line: `tail -1` finds them.
    if others and len(text) + 1 + len(others) > page.width:
        yield [(others, "")]
        others = ""
    yield from _flush(f"{text} {others}".rstrip(), page, "bold")


def _flush(text: str, page: Page, style: str = "") -> Iterator[Line]:
    """``text`` from the left edge of the page, on one line if it fits."""
    wide = page._replace(width=page.width + LABELS + GAP)
    lines = [page.plain(text)] if page.measure(text) <= page.width else wrap(text, wide)
    yield from ([(line, style)] for line in lines)


def _clean(run: Run, page: Page) -> Iterator[Line]:
    """The craft in which nothing was found, by name: it is good to see that they were looked at."""
    bad = {(found.file, found.craft) for found in run.found}
    odd = {trouble.file for trouble in run.troubles}
    names = [
        craft.name or craft.file
        for craft in run.crafts
        if (craft.file, craft.name) not in bad and craft.file not in odd
    ]
    if names:
        listed = ", ".join(names) if len(names) <= MOST_NAMES else f"{len(names)} craft"
        yield from _flush(f"nothing found in {listed}", page)


def _quiet_caution(found: Found, page: Page) -> str:
    if not found.rests:
        return ""
    from cfglint.report.unsure import caution

    return page.plain(f" ({caution(found.rests, ())})")


def _quiet(run: Run, page: Page, held: Mapping[str, Sequence[Found]]) -> Iterator[Line]:
    items = [found for found in run.found if found.accepted is None and found.cause not in held]
    for found in items:
        tag, _ = GRADE_STYLE[found.grade]
        message = " ".join(filter(None, found.message.replace("\n", " ").split(" ")))
        yield [
            (f"{page.plain(str(found.span))}: ", ""),
            (found.grade, tag),
            (f" {page.plain(found.rule)}: {page.plain(message)}{_quiet_caution(found, page)}", ""),
        ]
    for trouble in run.troubles:
        place = str(trouble.span) if trouble.span is not None else trouble.file
        message = ": ".join(filter(None, (place, trouble.rule, trouble.message)))
        yield [(page.plain("; ".join(filter(None, (message, trouble.instead)))), "")]
    for one in run.aside:
        place = f"{one.span}: " if one.span is not None else ""
        yield [(page.plain(f"{place}set aside: {one.text}"), "")]
    yield [(" ".join(summary(run)).rstrip(), "bold")]
