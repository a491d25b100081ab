"""The picture as SVG: the same lanes, tables and steps, to open in any viewer or print.

Colour helps but never stands alone: every bar and mark has its words beside it, ``all`` ranges
are hatched, positions on an edge are drawn as crosses.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from cfglint.switches.page import CHAR, LEFT, LINE, RIGHT, WIDE, Page, escape, fill, stroke
from cfglint.switches.picture import (
    CAUTION,
    MOST_LABEL,
    NEUTRAL,
    NO_MODE,
    assumes,
    counts_alike,
    counts_as,
    cut,
    headline,
    recovery_lines,
    says,
    sentence,
    unquoted,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from cfglint.switches.asking import Answer
    from cfglint.switches.scene import Bar, Lane, Scene, Table

#: Left of the scale labels stand, and bars are this high and far apart.
_LABEL, _BAR, _GAP = 150, 18, 6
#: Between two tables that stand side by side.
_APART = 56

_ROLE = {"arm": "arm", "self-right": "right", "lost-link": "loss", "arm-permit": "loss"}


class Axis(NamedTuple):
    """From µs to the page's x."""

    low: float
    high: float
    left: float = LEFT + _LABEL
    right: float = WIDE - RIGHT

    def x(self, us: float) -> float:
        us = min(max(us, self.low), self.high)
        return self.left + (us - self.low) * (self.right - self.left) / (self.high - self.low)


def svg(item: Scene) -> str:
    """The whole picture as one SVG document, ended by a newline."""
    page = Page()
    title = f"{item.craft}: what each switch does"
    page.text(LEFT, title, kind="head")
    page.y += LINE + 2
    shared = counts_alike(item)
    if item.link:
        page.paragraph(f"Pulses as {item.link} delivers them.", kind="soft")
    if shared:
        page.paragraph(shared, kind="soft")
    for lane in item.lanes:
        page.together(partial(_lane, page, lane, counted=bool(shared)))
    if item.lanes:
        page.together(partial(_legend, page, item))
    for note in _notes(item):
        page.y += 4
        page.together(partial(page.paragraph, note))
    for heading, parts in (
        ("States, and what is on in them", [*_tables(page, item.tables)]),
        ("Righting an upturned craft", [*_recovery(page, item)]),
        *_answers(page, item),
    ):
        for number, part in enumerate(parts):
            page.together(part if number else partial(_under_heading, page, heading, part))
    return page.document(title)


def _under_heading(page: Page, heading: str, part: Callable[[], None]) -> None:
    page.title(heading)
    part()


def _notes(item: Scene) -> Iterator[str]:
    if item.assumed:
        yield assumes(item)
    yield from map(unquoted, item.notes)


# ---------------------------------------------------------------- lanes


def _lane(page: Page, item: Lane, *, counted: bool) -> None:
    page.y += 14
    page.paragraph(headline(item), kind="strong", indent="  ")
    if item.calibration is not None and not counted:
        page.paragraph(counts_as(item), kind="soft")
    if item.trouble:
        page.paragraph(f"{unquoted(item.trouble)}.", x=LEFT + 16)
        return
    axis = Axis(item.low, item.high)
    ticks = _ticks(axis)
    top = page.y - 10
    # All lanes have one scale: numbers stand at the top of each page, lines run down each lane.
    if page.ruled != (item.low, item.high):
        page.ruled = (item.low, item.high)
        for us in ticks:
            anchor = "start" if us == axis.low else "end" if us == axis.high else "middle"
            unit = " µs" if us == axis.high else ""
            page.text(axis.x(us), f"{us:.0f}{unit}", kind="small", anchor=anchor, y=top + 10)
        top += 16
    bottom = top + len(item.bars) * (_BAR + _GAP)
    for us in ticks:
        # Half-way between two units a thin line is sharp on most screens.
        x = int(axis.x(us)) + 0.5
        page.add(
            f'<line x1="{x}" y1="{top - 2:.1f}" x2="{x}" y2="{bottom + 10:.1f}" '
            f"{stroke('rule', 1)}/>"
        )
    for number, bar in enumerate(item.bars):
        _bar(page, bar, axis, top + number * (_BAR + _GAP))
    for low, high in item.dead:
        page.add(
            f'<line x1="{axis.x(low) + 2:.1f}" y1="{bottom + 4:.1f}" '
            f'x2="{max(axis.x(high) - 2, axis.x(low) + 2):.1f}" y2="{bottom + 4:.1f}" '
            f'{stroke("soft", 3)} stroke-linecap="round" stroke-dasharray="0.1 6">'
            f"<title>no mode from {low:g} to {high:g} µs</title></line>"
        )
    if item.dead:
        page.text(LEFT, "no mode", kind="soft", y=bottom + 9)
    page.y = bottom + 10
    if item.kind == "free":
        _any_value(page, item, axis)
    else:
        _marks(page, item, axis)


def _ticks(axis: Axis) -> list[float]:
    """Both ends of the scale, and round hundreds between as room allows."""
    inner = [
        us
        for us in range(int(axis.low // 100 + 1) * 100, int(axis.high) + 1, 100)
        if axis.x(us) - axis.left > 46 and axis.right - axis.x(us) > 76
    ]
    if len(inner) > 12:
        inner = [us for us in inner if us % 200 == 0]
    return [axis.low, *inner, axis.high]


def _bar(page: Page, bar: Bar, axis: Axis, y: float) -> None:
    role = _ROLE.get(bar.mode, "mode")
    page.text(LEFT, bar.mode, kind=role, y=y + 14)
    ends = f"{bar.low_us:g}–{bar.high_us:g}"
    if not bar.parts:
        why = "holds nothing" if bar.low_us >= bar.high_us else "lies beyond what can arrive"
        _label(page, axis.left + 8, f"{ends} {why}", "soft", y)
        return
    paint = stroke(role, 1, f"url(#hatch-{role})") if bar.join == "all" else fill(role)
    right = axis.left
    for low, high, low_in, high_in in bar.parts:
        left, right = axis.x(low), axis.x(high)
        closed = "its end belongs to it" if high_in else "its end does not belong to it"
        page.add(
            f'<rect x="{left:.1f}" y="{y:.1f}" width="{max(right - left, 2):.1f}" '
            f'height="{_BAR}" {paint}><title>{escape(bar.mode)}: {ends} µs, {closed}'
            "</title></rect>"
        )
        # A range that runs off the scale was cut there by the link's travel.
        for off, x, way in (
            (low == axis.low and low_in and bar.low_us < low, left, -7),
            (high == axis.high and high_in and bar.high_us > high, right, 7),
        ):
            if off:
                page.add(f'<path d="M{x:.1f} {y:.1f}l{way} {_BAR / 2:g}l{-way} 9z" {fill(role)}/>')
    text = f"{ends}{', needed with the others' if bar.join == 'all' else ''}"
    size = len(text) * CHAR
    left = axis.x(bar.parts[0][0])
    if right - left > size + 12:
        if bar.join == "all":
            _label(page, left + 8, text, "strong", y)
        else:
            page.text(left + 8, text, kind="on-bar", y=y + 14)
    elif right + 12 + size < axis.right:
        _label(page, right + 12, text, "", y)
    else:
        _label(page, left - 12 - size, text, "", y)


def _label(page: Page, x: float, text: str, kind: str, y: float) -> None:
    """A text with the page's ground behind it, where lines would run through."""
    page.add(
        f'<rect x="{x - 4:.1f}" y="{y + 1:.1f}" width="{len(text) * CHAR + 6:.1f}" '
        f'height="{_BAR - 2}" {fill("page")}/>'
    )
    page.text(x, text, kind=kind, y=y + 14)


def _any_value(page: Page, item: Lane, axis: Axis) -> None:
    page.text(LEFT, cut(item.switch or "stick", MOST_LABEL), kind="strong", y=page.y + 18)
    page.add(
        f'<line x1="{axis.left}" y1="{page.y + 13:.1f}" x2="{axis.right}" '
        f'y2="{page.y + 13:.1f}" {stroke("ink", 2)} stroke-dasharray="6 4"/>'
    )
    page.text((axis.left + axis.right) / 2, "any value", anchor="middle", y=page.y + 30)
    page.y += 44


def _marks(page: Page, item: Lane, axis: Axis) -> None:
    base = page.y
    page.text(LEFT, cut(item.switch or "assumed", MOST_LABEL), kind="strong", y=base + 27)
    rows: list[float] = []
    for mark in sorted(item.marks, key=lambda one: one.low):
        middle = axis.x((mark.low + mark.high) / 2)
        left, right = axis.x(mark.low), axis.x(mark.high)
        if right - left > 1:
            page.add(
                f'<rect x="{left:.1f}" y="{base + 12:.1f}" width="{right - left:.1f}" height="3" '
                f"{fill('soft')}><title>wanders from {mark.low:g} to {mark.high:g} µs</title>"
                "</rect>"
            )
        if mark.sometimes:
            page.add(
                f'<path d="M{middle - 5:.1f} {base + 1:.1f}l10 10m0 -10l-10 10" '
                f"{stroke('arm', 2.6)}/>"
            )
        else:
            paint = stroke("ink", 1.6) if item.kind == "assumed" else fill("ink")
            page.add(
                f'<path d="M{middle:.1f} {base:.1f}l6 12h-12z" {paint}>'
                f"<title>{escape(mark.name)}: {mark.sent_us:g} µs</title></path>"
            )
        _under(page, says(mark), middle, base + 27, rows, axis)
    page.y = base + 27 + max(len(rows), 1) * 17


def _under(page: Page, text: str, middle: float, y: float, rows: list[float], axis: Axis) -> None:
    """Write below a mark, on the first row that is free there; ``rows`` hold their right ends."""
    text = cut(text, int((axis.right - axis.left) / CHAR))
    half = len(text) * CHAR / 2
    # At an end of the scale the text is set flush with it, whatever the face is wide.
    at = middle
    anchor, start = "middle", middle - half
    if start < axis.left:
        at, anchor, start = axis.left, "start", axis.left
    elif middle + half > axis.right:
        at, anchor, start = axis.right, "end", axis.right - 2 * half
    for number, end in enumerate(rows):
        if start > end + CHAR:
            rows[number] = start + 2 * half
            break
    else:
        number = len(rows)
        rows.append(start + 2 * half)
    page.text(at, text, anchor=anchor, y=y + number * 17)


def _legend(page: Page, item: Scene) -> None:
    """What the signs mean that are in this picture."""
    lanes = item.lanes
    marks = [(lane, mark) for lane in lanes for mark in lane.marks]
    bars = [bar for lane in lanes for bar in lane.bars if bar.parts]
    signs = {
        "Filled triangle: a position.": any(lane.kind == "card" for lane, _ in marks),
        "Strip below it: its jitter.": any(mark.low < mark.high for _, mark in marks),
        "Outlined triangle: an assumed position.": any(lane.kind == "assumed" for lane, _ in marks),
        "Cross: a position that wanders across an edge.": any(mark.sometimes for _, mark in marks),
        "Hatched bar: needed together with the mode's other hatched ones.": any(
            bar.join == "all" for bar in bars
        ),
        "Pointed bar: the range goes on beyond what arrives.": any(
            (low == lane.low and bar.low_us < low and low_in)
            or (high == lane.high and bar.high_us > high and high_in)
            for lane in lanes
            for bar in lane.bars
            for low, high, low_in, high_in in bar.parts
        ),
        "Dotted line: no mode there.": any(lane.dead for lane in lanes),
        f"{NO_MODE}: no mode.": any(not mark.modes and not mark.sometimes for _, mark in marks),
    }
    page.y += 10
    page.paragraph(" ".join(sign for sign, there in signs.items() if there), kind="soft")


# ---------------------------------------------------------------- states


def _tables(page: Page, tables: tuple[Table, ...]) -> Iterator[Callable[[], None]]:
    """Short tables side by side, as many as fit in a row; the others by themselves."""
    row: list[tuple[Table, float]] = []
    at = float(LEFT)
    for item in tables:
        wide = _width(item)
        alone = bool(item.trouble) or not item.all_rows or LEFT + wide > WIDE - RIGHT
        if row and (alone or at + wide > WIDE - RIGHT):
            yield partial(_beside, page, row)
            row, at = [], float(LEFT)
        if alone:
            yield from _alone(page, item)
        else:
            row.append((item, at))
            at += wide + _APART
    if row:
        yield partial(_beside, page, row)


def _sizes(item: Table) -> list[float]:
    """How wide the columns of positions are."""
    return [
        max(len(head), *(len(row[0][at]) for row in item.rows), 0) * CHAR + 20
        for at, head in enumerate(item.switches)
    ]


def _width(item: Table) -> float:
    return sum(_sizes(item)) + max(map(len, ("on", *_ons(item)))) * CHAR


def _ons(item: Table) -> list[str]:
    def share(count: int) -> str:
        return "" if item.all_rows else f" ({count:,} state{'s' if count > 1 else ''})"

    return [f"{', '.join(modes) or NO_MODE}{share(count)}" for _, modes, count in item.rows]


def _beside(page: Page, row: list[tuple[Table, float]]) -> None:
    top = lowest = page.y
    for item, left in row:
        page.y = top
        _head(page, item, left, left + _width(item))
        for number, on in enumerate(_ons(item)):
            _places(page, item, number, left)
            page.text(left + sum(_sizes(item)), on)
            page.y += LINE
        lowest = max(lowest, page.y)
    page.y = lowest + 8


def _alone(page: Page, item: Table) -> Iterator[Callable[[], None]]:
    """A table over the page's whole width, row by row."""
    if item.trouble:
        yield partial(page.paragraph, f"{', '.join(item.switches)}: {unquoted(item.trouble)}.")
    for number in range(len(item.rows)):
        yield partial(_row, page, item, number)


def _row(page: Page, item: Table, number: int) -> None:
    wide = sum(_sizes(item))
    stacked = wide > WIDE - 320
    if not number and not item.all_rows:
        page.paragraph(
            f"{item.states:,} states, more than fit here: one row for each set of modes, with the "
            "first state that has it."
        )
    if not number and not stacked:
        _head(page, item, LEFT, WIDE - RIGHT)
    on = _ons(item)[number]
    if stacked:
        places = zip(item.switches, item.rows[number][0], strict=True)
        where = ", ".join(f"{head} {place}" for head, place in places)
        page.paragraph(f"{where}: {on}", indent="    ")
    else:
        _places(page, item, number, LEFT)
        page.paragraph(on, x=LEFT + wide)
    if number == len(item.rows) - 1:
        page.y += 8


def _head(page: Page, item: Table, left: float, right: float) -> None:
    x = left
    for size, head in zip((*_sizes(item), 0), (*item.switches, "on"), strict=True):
        page.text(x, head, kind="strong")
        x += size
    page.add(
        f'<line x1="{left:.1f}" y1="{page.y + 5:.1f}" x2="{right:.1f}" y2="{page.y + 5:.1f}" '
        f"{stroke('soft', 1)}/>"
    )
    page.y += LINE


def _places(page: Page, item: Table, number: int, left: float) -> None:
    for size, place in zip(_sizes(item), item.rows[number][0], strict=True):
        page.text(left, place)
        left += size


# ---------------------------------------------------------------- the way back, and answers


def _recovery(page: Page, item: Scene) -> Iterator[Callable[[], None]]:
    if item.stuck:
        yield partial(page.paragraph, f"There is no way: {unquoted(item.stuck)}.")
    elif item.recovery:
        yield partial(_way_back, page, item)


def _way_back(page: Page, item: Scene) -> None:
    assumed = ", with the switches assumed above" if item.recovery_assumed else ""
    page.paragraph(f"It lies on its back, armed, with {item.start}{assumed}.")
    for line in recovery_lines(item):
        page.paragraph(line, x=LEFT + 16, indent="   ")
    page.y += 4
    page.paragraph(CAUTION, kind="soft")


def _answers(page: Page, item: Scene) -> Iterator[tuple[str, list[Callable[[], None]]]]:
    for title, neutral in (("What is wrong", False), ("Worth knowing", True)):
        found = [
            one
            for one in item.answers
            if one.state == "broken"
            and one.question != "cannot-right-itself"  # told above
            and (one.question in NEUTRAL) is neutral
        ]
        yield title, [partial(_answer, page, one) for one in found]
    lacks = dict.fromkeys(
        unquoted(str(lack)) for one in item.answers if one.state == "unknown" for lack in one.lacks
    )
    told = [partial(page.paragraph, text, x=LEFT + 16, indent="  ") for text in lacks]
    yield "What cannot be told without", [*told]


def _answer(page: Page, one: Answer) -> None:
    assumed = f" ({one.assumed})" if one.assumed else ""
    page.paragraph(f"{sentence(one.words)}{assumed}.")
    for step in one.path() if len(one.steps) > 1 else ():
        page.paragraph(step, x=LEFT + 16, indent="   ")
    page.y += 4
