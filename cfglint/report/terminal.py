"""The report for people: what is wrong, where it stands, why it matters, what to do.

Everything hangs on one edge: labels, line numbers and grade words stand right-aligned in a
narrow column, what they label stands to the right of it::

    Bittern ── craft/bittern.txt ── plain, firmware 4.9 ──────────────
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

from typing import TYPE_CHECKING, NamedTuple

from cfglint.report.excerpt import rows, show_line
from cfglint.report.plain import visible

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from typing import TextIO

    from cfglint.results import CraftLine, Excerpt, Found, Run, Trouble
    from cfglint.rule import Grade
    from cfglint.span import Span

#: Cells of the label column, and of the gap between it and the rest.
LABELS, GAP = 7, 3
#: Narrower than this nothing is laid out, however narrow the terminal.
LEAST_WIDTH = 40
#: Prose is not set wider than this, however wide the terminal.
MOST_PROSE = 100
#: Of a crashed rule's traceback this many last lines are shown.
MOST_DETAIL = 12

#: What each grade asks of the pilot.
ASKS: dict[Grade, str] = {
    "ground": "do not fly",
    "fix": "before next flight",
    "advise": "worth a look",
}
GRADE_STYLE = {
    "ground": ("bold white on red", "bold red"),
    "fix": ("bold white on magenta", "bold magenta"),
    "advise": ("bold black on cyan", "bold cyan"),
}
TROUBLE_LABEL = {"file": "unread", "crash": "crashed", "config": "set-up", "nothing": "nothing"}

# A line to be written: stretches of text, each with a style ("" for none).
Stretch = tuple[str, str]
Line = list[Stretch]


class _Page(NamedTuple):
    """What the layout needs to know of the paper it is written on."""

    width: int
    encoding: str
    measure: Callable[[str], int]

    @property
    def room(self) -> int:
        """Cells to the right of the label column."""
        return self.width - LABELS - GAP

    @property
    def prose(self) -> int:
        return min(self.room, MOST_PROSE)

    def plain(self, text: str) -> str:
        return visible(text, self.encoding)

    def drawn(self, char: str, instead: str) -> str:
        """A character of our own layout, or ``instead`` where the encoding lacks it."""
        return char if visible(char, self.encoding) == char else instead


def write_text(
    run: Run,
    *,
    file: TextIO,
    width: int | None = None,
    colour: bool | None = None,
    quiet: bool = False,
    show_accepted: bool = False,
) -> None:
    """Write the report of a run to ``file``.

    ``width`` is in terminal cells; None asks ``COLUMNS``, then the terminal, else takes 80.
    ``colour`` None colours a terminal unless ``NO_COLOR`` is set or ``TERM`` is ``dumb``, and
    anything else only if ``FORCE_COLOR`` is set.  ``quiet`` writes one line a finding, then the
    last line.  ``show_accepted`` also lists findings that were accepted, with the reasons.
    """
    from rich.cells import cell_len

    encoding = getattr(file, "encoding", None) or "utf-8"
    page = _Page(max(LEAST_WIDTH, width or _terminal_width(file)), encoding, cell_len)
    lines = _quiet(run, page) if quiet else _full(run, page, show_accepted)
    if _wants_colour(file) if colour is None else colour:
        _write_coloured(lines, file)
    else:
        for line in lines:
            file.write("".join(text for text, _ in line).rstrip(" ") + "\n")


def _terminal_width(file: TextIO) -> int:
    import os

    columns = os.environ.get("COLUMNS", "")
    if columns.isdecimal() and int(columns):
        return int(columns)
    try:
        return os.get_terminal_size(file.fileno()).columns or 80
    except (AttributeError, OSError, ValueError):
        return 80


def _is_terminal(file: TextIO) -> bool:
    try:
        return file.isatty()
    except (AttributeError, ValueError):
        return False


def _wants_colour(file: TextIO) -> bool:
    import os

    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return _is_terminal(file) and os.environ.get("TERM", "") not in ("dumb", "unknown")


def _write_coloured(lines: Iterable[Line], file: TextIO) -> None:
    from rich.color import ColorSystem
    from rich.style import Style

    styles: dict[str, Style] = {}
    for line in lines:
        out = ""
        for text, name in line:
            style = styles.get(name)
            if style is None:
                style = styles[name] = Style.parse(name) if name else Style.null()
            out += style.render(text, color_system=ColorSystem.STANDARD)
        file.write(out + "\n")


# ---------------------------------------------------------------- the whole report


def _full(run: Run, page: _Page, show_accepted: bool) -> Iterator[Line]:
    whys = {item.id: item.why for item in run.rules}
    crafts = {(item.file, item.name): item for item in run.crafts}
    groups: dict[tuple[str, str], list[Found]] = {key: [] for key in crafts}
    for found in run.found:
        if found.accepted is None:
            groups.setdefault((found.file, found.craft), []).append(found)
    for key, group in groups.items():
        if group:
            yield _heading(_craft_parts(key, crafts.get(key)), page)
            told: set[str] = set()
            for found in sorted(group, key=_worst_first):
                why = "" if found.rule in told else whys.get(found.rule, "")
                told.add(found.rule)
                yield from _finding(found, why, page)
                yield []
    yield from _unknown(run, page)
    if show_accepted:
        yield from _accepted(run, page)
    yield from _troubles(run.troubles, page)
    yield from _last(run, page)


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


def _heading(parts: list[str], page: _Page) -> Line:
    bar = page.drawn("─", "-")
    line: Line = [(page.plain(parts[0]), "bold")]
    for part in parts[1:]:
        line += [(f" {bar * 2} ", "dim"), (page.plain(part), "")]
    used = sum(page.measure(text) for text, _ in line)
    return [*line, (" " + bar * max(2, page.width - used - 1), "dim")]


def _finding(found: Found, why: str, page: _Page) -> Iterator[Line]:
    tag, mark = GRADE_STYLE[found.grade]
    word = found.grade.upper()
    yield from _header((word, tag), (page.plain(found.rule), "bold"), found.span, page)
    yield from _excerpt(found.excerpt, found.span, mark, page)
    yield from _prose("", found.message, page)
    yield from _prose("instead", found.instead, page)
    if found.picture:
        yield []
        yield from _verbatim(found.picture, page)
        yield []
    shown = {(found.excerpt, found.span)}
    for beside in found.beside:
        place = page.plain(str(beside.span)) + ":"
        yield from _prose("see", f"{place} {beside.message}", page, start=place)
        if (beside.excerpt, beside.span) not in shown:
            yield from _excerpt(beside.excerpt, beside.span, "bold", page)
    yield from _prose("why", why, page)


def _header(label: Stretch, title: Stretch, span: Span | None, page: _Page) -> Iterator[Line]:
    place = "" if span is None else page.plain(str(span))
    first: Line = [*_label(label[0], page, label[1]), title]
    if place and page.measure(title[0]) + 2 + page.measure(place) > page.room:
        yield first
        yield [*_label("", page), (place, "")]
    else:
        yield [*first, (f"  {place}" if place else "", "")]


def _label(word: str, page: _Page, style: str = "dim") -> Line:
    blank = " " * max(0, LABELS - page.measure(word))
    return [(blank, ""), (word, style), (" " * GAP, "")]


def _excerpt(excerpt: Excerpt, span: Span, style: str, page: _Page) -> Iterator[Line]:
    bar = page.drawn("│", "|")
    for row in rows(excerpt, span, width=page.room, measure=page.measure, encoding=page.encoding):
        number = str(row.number) if row.number else ""
        yield [(f"{number:>{LABELS}} {bar} ", "dim"), (row.text, "" if row.number else "dim")]
        if row.carets:
            at = len(row.carets) - len(row.carets.lstrip(" "))
            yield [
                (f"{'':>{LABELS}} {bar} ", "dim"),
                (" " * at, ""),
                (row.carets[at:], style),
            ]


def _prose(label: str, text: str, page: _Page, start: str = "") -> Iterator[Line]:
    """``text`` wrapped; where it begins with ``start``, that is kept in one piece."""
    for place, line in enumerate(_wrap(text, page, start)):
        yield [*_label(label if place == 0 else "", page), (line, "")]


def _verbatim(text: str, page: _Page) -> Iterator[Line]:
    for line in text.rstrip("\n").split("\n"):
        shown = show_line(line, 0, 0, width=page.room, measure=page.measure, encoding=page.encoding)
        yield [*_label("", page), (shown.text, "")]


def _wrap(text: str, page: _Page, start: str = "") -> list[str]:
    """``text`` as lines that fit; a word too long for a line of its own is broken."""
    words = [page.plain(word) for word in text.replace("\n", " ").replace("\t", " ").split(" ")]
    lines: list[str] = []
    line = ""
    for word in filter(None, words):
        rest = word
        joined = f"{line} {rest}" if line else rest
        if page.measure(joined) <= page.prose:
            line = joined
            continue
        if line:
            lines.append(line)
        while page.measure(rest) > page.prose and rest != start:
            part = _fitting(rest, page)
            lines.append(part)
            rest = rest[len(part) :]
        line = rest
    return [*lines, line] if line else lines


def _fitting(word: str, page: _Page) -> str:
    used = 0
    for place, char in enumerate(word):
        used += page.measure(char)
        if used > page.prose:
            return word[:place]
    return word


# ---------------------------------------------------------------- what could not be told


def _unknown(run: Run, page: _Page) -> Iterator[Line]:
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
    yield _heading(["Not known", "a missing fact keeps these rules from an answer"], page)
    for key, crafts in alike.items():
        yield from _prose("craft", ", ".join(crafts), page)
        for fact, waiting in key:
            yield from _prose("needs", f"{fact}: {', '.join(waiting)}", page)
        yield []


def _accepted(run: Run, page: _Page) -> Iterator[Line]:
    items = [found for found in run.found if found.accepted is not None]
    if not items:
        return
    yield _heading(["Accepted"], page)
    for found in items:
        yield from _header((found.grade, "dim"), (page.plain(found.rule), ""), found.span, page)
        if (accepted := found.accepted) is not None:
            until = f", until {accepted.until}" if accepted.until else ""
            by = f" ({accepted.by}{until})" if accepted.by else until
            yield from _prose("reason", accepted.reason + by, page)
    yield []


def _troubles(troubles: Iterable[Trouble], page: _Page) -> Iterator[Line]:
    items = list(troubles)
    if not items:
        return
    yield _heading(["Trouble"], page)
    for trouble in items:
        label = TROUBLE_LABEL[trouble.kind]
        place = str(trouble.span) if trouble.span is not None else trouble.file
        parts = [page.plain(part) for part in (trouble.rule, place) if part]
        if parts:
            yield [*_label(label, page, "bold red"), ("  ".join(parts), "bold")]
            yield from _prose("", trouble.message, page)
        else:
            first, *others = _wrap(trouble.message, page)
            yield [*_label(label, page, "bold red"), (first, "")]
            yield from ([*_label("", page), (line, "")] for line in others)
        yield from _prose("instead", trouble.instead, page)
        if trouble.detail:
            detail = trouble.detail.rstrip("\n").split("\n")
            if len(detail) > MOST_DETAIL:
                left_out = len(detail) - MOST_DETAIL
                detail = [f"({left_out} lines above left out)", *detail[-MOST_DETAIL:]]
            yield from _verbatim("\n".join(detail), page)
        yield []


# ---------------------------------------------------------------- last lines


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def summary(run: Run) -> tuple[str, str]:
    """How many crafts, rules and outcomes of each kind; and apart, what was not for a craft.

    Together they are the last line of every report.
    """
    states = {"holds": 0, "broken": 0, "unknown": 0, "not for this craft": 0}
    for verdict in run.verdicts:
        states[verdict.state] += 1
    accepted = sum(found.accepted is not None for found in run.found)
    text = ", ".join(
        (
            _count(len(run.crafts), "craft", "crafts"),
            _count(len(run.rules), "rule", "rules"),
            f"{states['holds']} holds",
            f"{states['broken']} broken",
            f"{states['unknown']} unknown",
            f"{accepted} accepted",
        )
    )
    others = states["not for this craft"]
    return text, f"({others} not for this craft)" if others else ""


def _last(run: Run, page: _Page) -> Iterator[Line]:
    grades = [found.grade for found in run.found if found.accepted is None]
    parts = [
        f"{grades.count(grade)} {grade} ({asks})" for grade, asks in ASKS.items() if grade in grades
    ]
    if parts:
        yield [(", ".join(parts), "")]
    text, others = summary(run)
    # The counts always come last, so that `tail -1` finds them.
    if others and len(text) + 1 + len(others) > page.width:
        yield [(others, "")]
        others = ""
    yield [(f"{text} {others}" if others else text, "bold")]


def _quiet(run: Run, page: _Page) -> Iterator[Line]:
    items = [found for found in run.found if found.accepted is None]
    for found in items:
        tag, _ = GRADE_STYLE[found.grade]
        message = " ".join(filter(None, found.message.replace("\n", " ").split(" ")))
        yield [
            (f"{page.plain(str(found.span))}: ", ""),
            (found.grade, tag),
            (f" {page.plain(found.rule)}: {page.plain(message)}", ""),
        ]
    for trouble in run.troubles:
        place = str(trouble.span) if trouble.span is not None else trouble.file
        message = ": ".join(filter(None, (place, trouble.rule, trouble.message)))
        yield [(page.plain(message), "")]
    yield [(" ".join(summary(run)).rstrip(), "bold")]
