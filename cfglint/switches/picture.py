"""Lanes drawn in characters, and the words that all forms of the picture share.

One character cell is a stretch of µs.  A bar's ends say whether they belong to the range::

    [====)   from the left end up to, not including, the right one
    [====]   both ends belong          <===>  goes on beyond the link's travel
    [&&&&)   joined with "all": it counts only together with the mode's other such ranges
    ::::::   no mode here              ^  a position   -^-  with its jitter
    !        a position that wanders across an edge    ?  a position that is assumed
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.near import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.switches.scene import Bar, Lane, Mark, Scene

#: A label longer than this is cut.
MOST_LABEL = 16

#: Stands where a switch turns nothing on.
NO_MODE = "–"

#: Colours by what a mode does to the motors; everything is told in letters as well.
_STYLES = {"arm": "red", "self-right": "magenta", "lost-link": "yellow", "arm-permit": "yellow"}

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


def style_of(mode: str) -> str:
    """The colour of a mode."""
    return _STYLES.get(mode, "cyan")


def assumes(item: Scene) -> str:
    """On which channels a switch is assumed, in a sentence."""
    channels = listed([str(channel) for channel in item.assumed])
    plural = "s" if len(item.assumed) > 1 else ""
    return (
        f"The card describes no switch on channel{plural} {channels}: three positions over the "
        "link's whole travel are assumed there, and what follows from them is assumed as well."
    )


# ---------------------------------------------------------------- lanes


def room_of(item: Lane) -> int:
    """How many columns the labels of a lane take."""
    labels = ["no mode", item.switch, *(bar.mode for bar in item.bars)]
    return min(max(map(len, labels)), MOST_LABEL) + 2


def lane_lines(item: Lane, *, width: int = 80, room: int = 0) -> list[str]:
    """The lines of :func:`lane_parts` as plain text."""
    return ["".join(text for text, _ in parts) for parts in lane_parts(item, width, room)]


def lane_parts(item: Lane, width: int, room: int = 0) -> Iterator[tuple[tuple[str, str], ...]]:
    """The lines of a lane, below its headline, each in parts: a text and how it is coloured.

    ``room`` is how many columns labels have (0: as many as they take).
    """
    room = room or room_of(item)
    scale = Scale(item.low, item.high, width - room)
    if item.trouble:
        return
    for row in _ruler(scale):
        yield ((" " * room + row, ""),)
    for bar in item.bars:
        yield (_label(bar.mode, room), ""), (_bar(bar, scale), style_of(bar.mode))
    if any(scale.column(high) > scale.column(low) for low, high in item.dead):
        yield (_label("no mode", room), ""), (_dead(item, scale), "dim")
    if item.kind == "free":
        name = "stick" if not item.switch else item.switch
        yield (_label(name, room), ""), (_any_value(scale), "")
    for number, row in enumerate(_marks(item, scale)):
        name = (item.switch or "assumed") if number == 0 else ""
        yield (_label(name, room), ""), (row, "" if number else "bold")


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
    pulses = listed([f"{pulse:g}" for pulse in item.calibration])
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
    text = cut(text, cells)
    start = min(max(middle - len(text) // 2, 0), cells - len(text))
    for row in rows:
        if not "".join(row[max(start - 2, 0) : start + len(text) + 2]).strip():
            row[start : start + len(text)] = text
            return
    rows.append([" "] * cells)
    rows[-1][start : start + len(text)] = text


# ---------------------------------------------------------------- the way back, and answers


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


def sentence(text: str) -> str:
    """A text that begins with a capital letter."""
    return text[:1].upper() + text[1:]
