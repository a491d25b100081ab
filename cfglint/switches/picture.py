"""The picture as plain text: lanes, tables of states, the way back; no colour needed.

One character cell is a stretch of µs.  A bar's ends say whether they belong to the range::

    [====)   from the left end up to, not including, the right one
    [====]   both ends belong          <===>  goes on beyond the link's travel
    [&&&&)   joined with "all": it counts only together with the mode's other such ranges
    ::::::   no mode here              ^  a position   -^-  with its jitter
    !        a position that wanders across an edge    ?  a position that is assumed
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.switches.asking import words_list

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.switches.scene import Bar, Lane, Mark, Scene, Table

#: Narrower than this nothing can be told apart.
LEAST_WIDTH = 50
#: A label longer than this is cut.
MOST_LABEL = 16

#: Stands where a switch turns nothing on.
NO_MODE = "–"

#: Colours by what a mode does to the motors (ANSI); everything is told in letters as well.
_STYLES = {"arm": "31", "self-right": "35", "lost-link": "33", "arm-permit": "33"}
_BOLD, _DIM, _OTHER = "1", "2", "36"

LEGEND = (
    "[==) a range without its right end; ] with it; < > it goes on; & all needed",
    "::: no mode; ^ a position, -^- its jitter; ! it crosses an edge; ? assumed",
)


class Scale(NamedTuple):
    """From µs to a column of ``cells`` columns."""

    low: float
    high: float
    cells: int

    def column(self, us: float) -> int:
        at = int((us - self.low) * self.cells / (self.high - self.low))
        return min(max(at, 0), self.cells - 1)


class Ink:
    """Colours, or none."""

    def __init__(self, colour: bool) -> None:
        self.colour = colour

    def __call__(self, text: str, style: str) -> str:
        text = text.rstrip()
        return f"\x1b[{style}m{text}\x1b[0m" if self.colour and text else text

    def mode(self, text: str, mode: str) -> str:
        return self(text, _STYLES.get(mode, _OTHER))


def draw(item: Scene, *, width: int = 80, colour: bool = False) -> str:
    """The whole picture, lines ended by newlines."""
    width = max(width, LEAST_WIDTH)
    ink = Ink(colour)
    lines = [ink(f"{item.craft}: what each switch does", _BOLD)]
    if item.link:
        lines += wrap(f"Pulses as {item.link} delivers them.", width)
    # One scale for all lanes, so that they can be compared by eye.
    room = max(map(_room, item.lanes), default=0)
    shared = counts_alike(item)
    lines += wrap(shared, width) if shared else []
    for one in item.lanes:
        drawn = lane_lines(one, width=width, colour=colour, room=room, counted=bool(shared))
        lines += ["", *drawn]
    if item.lanes:
        lines += ["", *(ink(line, _DIM) for text in LEGEND for line in wrap(text, width))]
    if item.assumed:
        lines += ["", *wrap(assumes(item), width)]
    for note in item.notes:
        lines += ["", *wrap(unquoted(note), width)]
    if item.tables:
        lines += ["", ink("States, and what is on in them", _BOLD)]
        for table in item.tables:
            lines += ["", *_table(table, width, ink)]
        if len(item.tables) > 1 and item.combinations > 1:
            lines += [
                "",
                *wrap(
                    f"Switches in different tables do not touch each other's modes; together they "
                    f"have {item.combinations:,} combinations of positions.",
                    width,
                ),
            ]
    lines += _recovery(item, width, ink)
    lines += _answers(item, width, ink)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def assumes(item: Scene) -> str:
    """On which channels a switch is assumed, in a sentence."""
    channels = words_list([str(channel) for channel in item.assumed])
    plural = "s" if len(item.assumed) > 1 else ""
    return (
        f"The card describes no switch on channel{plural} {channels}: three positions over the "
        "link's whole travel are assumed there, and what follows from them is assumed as well."
    )


# ---------------------------------------------------------------- lanes


def _room(item: Lane) -> int:
    """How many columns the labels of a lane take."""
    labels = ["no mode", item.switch, *(bar.mode for bar in item.bars)]
    return min(max(map(len, labels)), MOST_LABEL) + 2


def lane_lines(
    item: Lane,
    *,
    width: int = 80,
    colour: bool = False,
    room: int = 0,
    short: bool = False,
    counted: bool = False,
) -> list[str]:
    """One lane; ``room`` columns for labels (0: as many as they take).  ``short`` leaves out the
    headline, for the text of a finding; ``counted`` what is said of all lanes above them.
    """
    ink = Ink(colour)
    room = room or _room(item)
    scale = Scale(item.low, item.high, width - room)
    lines: list[str] = []
    if not short:
        lines += [ink(line, _BOLD) for line in wrap(headline(item), width, "    ")]
        lines += wrap(counts_as(item), width) if item.calibration and not counted else []
    if item.trouble:
        return [*lines, *wrap(f"{unquoted(item.trouble)}.", width, "    ")]
    numbers, ruler = _ruler(scale)
    lines += [" " * room + numbers, " " * room + ruler]
    for bar in item.bars:
        lines.append(_label(bar.mode, room) + ink.mode(_bar(bar, scale), bar.mode))
    if any(scale.column(high) > scale.column(low) for low, high in item.dead):
        lines.append(_label("no mode", room) + ink(_dead(item, scale), _DIM))
    if item.kind == "free":
        name = "stick" if not item.switch else item.switch
        lines.append(_label(name, room) + _any_value(scale))
    for number, row in enumerate(_marks(item, scale)):
        name = (item.switch or "assumed") if number == 0 else ""
        lines.append(_label(name, room) + ink(row, _BOLD if number == 0 else "0"))
    return lines


def headline(item: Lane) -> str:
    """A lane's channel and switch, with the pulses that it sends."""
    head = f"channel {item.channel}"
    if item.kind == "free":
        return f"{head}, a stick: any value"
    if item.kind == "assumed":
        pulses = ", ".join(f"{mark.sent_us:g}" for mark in item.marks)
        return f"{head}, no switch on the card; assumed at {pulses} µs"
    jitter = item.marks[0].jitter_us if item.marks else 0
    places = ", ".join(f"{mark.name} {mark.sent_us:g}" for mark in item.marks)
    spring = ", springs back to the first" if item.momentary else ""
    return f"{head}, {item.switch}: {places} µs{f', each ±{jitter:g}' if jitter else ''}{spring}"


def counts_as(item: Lane) -> str:
    """What a lane's calibration does, in a sentence; empty where there is none."""
    if item.calibration is None:
        return ""
    pulses = words_list([f"{pulse:g}" for pulse in item.calibration])
    return f"{pulses} µs count as 1000, 1500 and 2000; drawn as they arrive."


def counts_alike(item: Scene) -> str:
    """What the calibration of all lanes does, if they share one; else empty."""
    drawn = [lane for lane in item.lanes if not lane.trouble]
    if len(drawn) < 2 or len({lane.calibration for lane in drawn}) > 1 or not drawn[0].calibration:
        return ""
    return f"On every channel here {counts_as(drawn[0])}"


def cut(text: str, room: int) -> str:
    """A text of at most so many characters; what does not fit is left out, and shown to be."""
    return text if len(text) <= room else text[: room - 1] + "…"


def unquoted(text: str) -> str:
    """A message of a report as a picture shows it, without marks for names."""
    return text.replace("`", "")


def _label(text: str, room: int) -> str:
    return f"{cut(text, room - 2):<{room}}"


def _ruler(scale: Scale) -> tuple[str, str]:
    """Numbers and ticks: both ends, and round hundreds between as room allows."""
    step = next(
        size
        for size in (100, 200, 250, 500, 1000, 5000)
        if scale.cells * size / (scale.high - scale.low) >= 9
    )
    inner = range(int(scale.low // step + 1) * step, int(scale.high) + 1, step)
    numbers, ruler = [" "] * scale.cells, ["-"] * scale.cells

    def put(us: float, text: str, *, must: bool) -> None:
        at = scale.column(us)
        start = min(max(at - len(text) // 2, 0), scale.cells - len(text))
        taken = numbers[max(start - 1, 0) : start + len(text) + 1]
        if must or not "".join(taken).strip():
            numbers[start : start + len(text)] = text
        if ruler[at] == "-":
            ruler[at] = "|" if must else "+"

    put(scale.low, f"{scale.low:.0f}", must=True)
    put(scale.high, f"{scale.high:.0f} µs", must=True)
    for us in inner:
        if scale.low < us < scale.high:
            put(us, str(us), must=False)
    return "".join(numbers), "".join(ruler)


def _bar(bar: Bar, scale: Scale) -> str:
    ends = f"{bar.low_us:g}–{bar.high_us:g}"
    cells = [" "] * scale.cells
    if not bar.parts:
        why = "holds nothing" if bar.low_us >= bar.high_us else "lies beyond what can arrive"
        text = f"({ends} {why})"
        return text if len(text) <= scale.cells else f"({ends}: {NO_MODE})"
    fill = "&" if bar.join == "all" else "="
    first, last = scale.cells, 0
    for low, high, low_in, high_in in bar.parts:
        start, stop = scale.column(low), scale.column(high)
        cells[start : stop + 1] = fill * (stop - start + 1)
        if stop > start:
            cells[start] = "[" if low_in else "("
            cells[stop] = "]" if high_in else ")"
            # A range that runs off the lane was cut there by the link's travel.
            if low == scale.low and low_in:
                cells[start] = "<"
            if high == scale.high and high_in:
                cells[stop] = ">"
        else:
            cells[start] = "#"
        first, last = min(first, start), max(last, stop)
    text = f" {ends} "
    if last - first >= len(text) + 3 and len(bar.parts) == 1:
        at = (first + last + 1 - len(text)) // 2
    elif last + len(text) < scale.cells:
        at = last + 1
    elif first >= len(text):
        at = first - len(text)
    else:
        return "".join(cells)
    cells[at : at + len(text)] = text
    return "".join(cells)


def _dead(item: Lane, scale: Scale) -> str:
    cells = [" "] * scale.cells
    for low, high in item.dead:
        start, stop = scale.column(low), scale.column(high)
        # A cell that a bar's end shares with a dead stretch shows the bar's end.
        start = start if low == item.low else start + 1
        stop = stop if high == item.high else stop - 1
        cells[start : stop + 1] = ":" * (stop - start + 1)
    return "".join(cells)


def _any_value(scale: Scale) -> str:
    text = " any value "
    left = (scale.cells - len(text) - 2) // 2
    return "<" + "-" * left + text + "-" * (scale.cells - len(text) - 2 - left) + ">"


def _marks(item: Lane, scale: Scale) -> list[str]:
    """Marks, and below them what each position is called and turns on, clear of each other."""
    if not item.marks:
        return []
    cells = [" "] * scale.cells
    rows: list[list[str]] = []
    for mark in sorted(item.marks, key=lambda one: one.low):
        start, stop = scale.column(mark.low), scale.column(mark.high)
        if stop - start > 1:
            cells[start : stop + 1] = "-" * (stop - start + 1)
        middle = scale.column((mark.low + mark.high) / 2)
        cells[middle] = "!" if mark.sometimes else "?" if item.kind == "assumed" else "^"
        _under(rows, says(mark), middle, scale.cells)
    return ["".join(cells), *("".join(row) for row in rows)]


def says(mark: Mark) -> str:
    """A position and what it turns on: ``down: arm``."""
    parts = [*mark.modes, *(f"{mode} on and off" for mode in mark.sometimes)]
    return f"{mark.name}: {', '.join(parts) or NO_MODE}"


def _under(rows: list[list[str]], text: str, middle: int, cells: int) -> None:
    """Write a text below its mark, on the first row where it has room."""
    text = text[:cells]
    start = min(max(middle - len(text) // 2, 0), cells - len(text))
    for row in rows:
        if not "".join(row[max(start - 2, 0) : start + len(text) + 2]).strip():
            row[start : start + len(text)] = text
            return
    rows.append([" "] * cells)
    rows[-1][start : start + len(text)] = text


# ---------------------------------------------------------------- states


def _table(item: Table, width: int, ink: Ink) -> Iterator[str]:
    if item.trouble:
        yield from wrap(f"{words_list(list(item.switches))}: {unquoted(item.trouble)}.", width)
        return
    counted = not item.all_rows
    heads = [*item.switches]
    columns = [
        max(len(head), *(len(row[0][at]) for row in item.rows)) for at, head in enumerate(heads)
    ]
    # Many or long-winded switches: what is on goes on a line of its own.
    room = sum(columns) + 2 * len(columns)
    stacked = room > width - 24
    if counted:
        yield from wrap(
            f"{item.states:,} states, more than fit here: one row for each set of modes, with "
            "the first state that has it.",
            width,
        )
    if not stacked:
        yield _row(heads, columns) + ("on (in so many states)" if counted else "on")
        yield "-" * min(room + 24, width)
    for positions, modes, count in item.rows:
        words = [*modes] or [NO_MODE]
        if counted:
            words[-1] += f" ({count:,})"
        if stacked:
            where = ", ".join(
                f"{head} {place}" for head, place in zip(heads, positions, strict=True)
            )
            yield from wrap(where, width)
            yield from _modes(words, "    ", "    ", width, ink)
        else:
            yield from _modes(words, _row(positions, columns), " " * room, width, ink)


def _modes(words: list[str], first: str, rest: str, width: int, ink: Ink) -> Iterator[str]:
    """Modes behind a row's head, on as many lines as they take."""
    line, used = first, len(first)
    for at, word in enumerate(words):
        text = word + ("," if at + 1 < len(words) else "")
        if used > len(first) and used + len(text) > width:
            yield line
            line, used, first = rest, len(rest), rest
        line += ink.mode(text, word.partition(" ")[0]) + " "
        used += len(text) + 1
    yield line


def _row(cells: Iterable[str], columns: list[int]) -> str:
    return "".join(f"{cell:<{size + 2}}" for cell, size in zip(cells, columns, strict=True))


# ---------------------------------------------------------------- the way back, and answers


def _recovery(item: Scene, width: int, ink: Ink) -> list[str]:
    if not item.recovery and not item.stuck:
        return []
    lines = ["", ink("Righting an upturned craft", _BOLD), ""]
    if item.stuck:
        return lines + wrap(f"There is no way: {unquoted(item.stuck)}.", width)
    assumed = ", with the switches assumed above" if item.recovery_assumed else ""
    lines += wrap(f"It lies on its back, armed, with {item.start}{assumed}.", width)
    for line in recovery_lines(item):
        lines += wrap(line, width, "   ")
    return [*lines, "", *wrap(CAUTION, width)]


#: Common practice.
CAUTION = (
    "Brief blips only, in sight and with people well away. If nothing moves, stop and walk: "
    "blocked propellers overheat motors and ESCs. Local rules and the makers' instructions come "
    "first."
)


def recovery_lines(item: Scene) -> list[str]:
    """The way back into the air, one numbered line a thing to do."""
    lines = []
    for step in item.recovery:
        outcome = step.outcome()
        lines.append(f"{step.words()}{': ' + outcome if outcome else ''}.")
        if step.armed and not step.was_armed and "self-right" in step.modes:
            lines.append("Blip the roll stick until the craft has rolled over.")
    return [f"{number}. {line}" for number, line in enumerate(lines, 1)]


#: Questions whose "broken" is no more than something to know.
NEUTRAL = ("never-off", "meet")


def _answers(item: Scene, width: int, ink: Ink) -> list[str]:
    lines: list[str] = []
    for title, wanted in (("What is wrong", False), ("Worth knowing", True)):
        found = [
            one
            for one in item.answers
            if one.state == "broken"
            and one.question != "cannot-right-itself"  # told above
            and (one.question in NEUTRAL) is wanted
        ]
        if not found:
            continue
        lines += ["", ink(title, _BOLD)]
        for one in found:
            assumed = f" ({one.assumed})" if one.assumed else ""
            lines += ["", *wrap(f"{sentence(one.words)}{assumed}.", width)]
            if len(one.steps) > 1:
                for step in one.path():
                    lines += [f"  {row}" for row in wrap(step, width - 2, "   ")]
    lacks = dict.fromkeys(
        unquoted(str(lack)) for one in item.answers if one.state == "unknown" for lack in one.lacks
    )
    if lacks:
        lines += ["", ink("What cannot be told", _BOLD), ""]
        count = sum(one.state == "unknown" for one in item.answers)
        plural = "questions" if count > 1 else "question"
        lines += wrap(f"{count} {plural} cannot be answered without:", width)
        for text in lacks:
            lines += [f"  {row}" for row in wrap(f"- {text}", width - 2, "  ")]
    return lines


def sentence(text: str) -> str:
    """A text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def wrap(text: str, width: int, indent: str = "") -> list[str]:
    """Break a text into lines; ``indent`` stands before all but the first."""
    from textwrap import wrap as broken

    return broken(text, width, subsequent_indent=indent, break_on_hyphens=False) or [""]
