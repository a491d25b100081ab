"""The picture as SVG: the same lanes, tables and steps, to open in a browser or print.

Colour helps but never stands alone: every bar and mark has its words beside it, ``all`` ranges
are hatched, positions on an edge are drawn as crosses.  Colours are our own and keep a contrast
of at least 4.5 to 1 against their ground, in the light and in the dark (WCAG 2.1, 1.4.3).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.switches.picture import (
    CAUTION,
    NEUTRAL,
    counts_as,
    headline,
    recovery_lines,
    says,
    wrap,
)

if TYPE_CHECKING:
    from cfglint.switches.scene import Bar, Lane, Scene, Table

#: A page is this many units wide; text is sized for it.
WIDE = 960
_LEFT, _RIGHT, _LABEL, _LINE = 24, 24, 150, 20
_BAR, _GAP = 18, 6
#: A character of the text's 14-unit monospaced face, with room to spare for other faces.
_CHAR = 8.6

#: (light, dark) for each role: bars by what their mode does to the motors.
COLOURS = {
    "page": ("#fbfaf7", "#16191c"),
    "ink": ("#1d2326", "#e9e6df"),
    "soft": ("#58626a", "#a7b0b6"),
    "rule": ("#c9c5ba", "#444b51"),
    "arm": ("#b3261e", "#ff9c92"),
    "right": ("#7a2f8f", "#e0a3f2"),
    "loss": ("#8a5a00", "#f0bd62"),
    "mode": ("#0b6a76", "#6fd0dc"),
}
_ROLE = {"arm": "arm", "self-right": "right", "lost-link": "loss", "arm-permit": "loss"}


class Page:
    """Elements collected from the top down."""

    def __init__(self) -> None:
        self.items: list[str] = []
        self.y = 34.0

    def add(self, text: str) -> None:
        self.items.append(text)

    def text(
        self, x: float, text: str, *, kind: str = "", anchor: str = "start", y: float | None = None
    ) -> None:
        names = f' class="{kind}"' if kind else ""
        place = "" if anchor == "start" else f' text-anchor="{anchor}"'
        at = self.y if y is None else y
        self.add(f'<text x="{x:.1f}" y="{at:.1f}"{names}{place}>{escape(text)}</text>')

    def paragraph(self, text: str, *, x: float = _LEFT, kind: str = "", indent: str = "") -> None:
        columns = int((WIDE - _RIGHT - x) / _CHAR)
        for line in wrap(text, columns, indent):
            hang = len(line) - len(line.lstrip())
            self.text(x + hang * _CHAR, line.lstrip(), kind=kind)
            self.y += _LINE

    def title(self, text: str) -> None:
        self.y += 14
        self.text(_LEFT, text, kind="title")
        self.y += _LINE + 6


class Axis(NamedTuple):
    """From µs to the page's x."""

    low: float
    high: float
    left: float = _LEFT + _LABEL
    right: float = WIDE - _RIGHT

    def x(self, us: float) -> float:
        us = min(max(us, self.low), self.high)
        return self.left + (us - self.low) * (self.right - self.left) / (self.high - self.low)


def escape(text: str) -> str:
    """Text as XML content; characters that XML cannot hold become the replacement sign."""
    safe = "".join(char if _allowed(ord(char)) else "\ufffd" for char in text)
    return (
        safe.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    )


def _allowed(code: int) -> bool:
    """Whether XML 1.0 (section 2.2) allows a character."""
    return (
        code in (0x9, 0xA, 0xD)
        or 0x20 <= code <= 0xD7FF
        or 0xE000 <= code < 0xFFFE
        or (0x10000 <= code <= 0x10FFFF)
    )


def svg(item: Scene) -> str:
    """The whole picture as one SVG document, ended by a newline."""
    page = Page()
    page.text(_LEFT, f"{item.craft}: what each switch does", kind="head")
    page.y += _LINE + 4
    if item.link:
        page.paragraph(f"Pulses as {item.link} delivers them.", kind="soft")
    for lane in item.lanes:
        _lane(page, lane)
    if item.lanes:
        _legend(page)
    page.y += 6
    if item.assumed:
        channels = ", ".join(str(channel) for channel in item.assumed)
        page.paragraph(
            f"The card describes no switch on: channel {channels}. Three positions over the link's "
            "whole travel are assumed there, and what follows from them is assumed as well."
        )
    for note in item.notes:
        page.paragraph(note)
    if item.tables:
        page.y += 8
        page.title("States, and what is on in them")
        for table in item.tables:
            _table(page, table)
    _recovery(page, item)
    _answers(page, item)
    return _document(page, item)


def _lane(page: Page, item: Lane) -> None:
    page.y += 16
    page.paragraph(headline(item), kind="strong", indent="  ")
    if item.calibration is not None:
        page.paragraph(counts_as(item), kind="soft")
    if item.trouble:
        page.paragraph(f"{item.trouble}.", x=_LEFT + 16)
        return
    axis = Axis(item.low, item.high)
    top = page.y - 4
    for us in _ticks(axis):
        anchor = "start" if us == axis.low else "end" if us == axis.high else "middle"
        unit = " µs" if us == axis.high else ""
        page.text(axis.x(us), f"{us:.0f}{unit}", kind="small", anchor=anchor, y=top + 8)
    rows = max(len(item.bars), 1)
    bottom = top + 16 + rows * (_BAR + _GAP)
    for us in _ticks(axis):
        page.add(
            f'<line x1="{axis.x(us):.1f}" y1="{top + 12:.1f}" x2="{axis.x(us):.1f}" '
            f'y2="{bottom + 10:.1f}" class="rule"/>'
        )
    for low, high in item.dead:
        page.add(
            f'<line x1="{axis.x(low) + 2:.1f}" y1="{bottom + 4:.1f}" '
            f'x2="{max(axis.x(high) - 2, axis.x(low) + 2):.1f}" y2="{bottom + 4:.1f}" class="dead">'
            f"<title>no mode from {low:g} to {high:g} µs</title></line>"
        )
    if item.dead:
        page.text(_LEFT, "no mode", kind="soft", y=bottom + 9)
    y = top + 16
    for bar in item.bars:
        _bar(page, bar, axis, y)
        y += _BAR + _GAP
    page.y = bottom + 10
    if item.kind == "free":
        page.text(_LEFT, item.switch or "stick", y=page.y + 18)
        page.add(
            f'<line x1="{axis.left}" y1="{page.y + 13:.1f}" x2="{axis.right}" '
            f'y2="{page.y + 13:.1f}" class="any"/>'
        )
        page.text((axis.left + axis.right) / 2, "any value", anchor="middle", y=page.y + 30)
        page.y += 40
    else:
        _marks(page, item, axis)


def _ticks(axis: Axis) -> list[float]:
    inner = [
        us
        for us in range(int(axis.low // 100 + 1) * 100, int(axis.high) + 1, 100)
        if axis.x(us) - axis.left > 46 and axis.right - axis.x(us) > 66
    ]
    if len(inner) > 14:
        inner = [us for us in inner if us % 200 == 0]
    return [axis.low, *inner, axis.high]


def _bar(page: Page, bar: Bar, axis: Axis, y: float) -> None:
    role = _ROLE.get(bar.mode, "mode")
    page.text(_LEFT, bar.mode, kind=f"t-{role}", y=y + 14)
    ends = f"{bar.low_us:g}–{bar.high_us:g}"
    if not bar.parts:
        why = "holds nothing" if bar.low_us >= bar.high_us else "lies beyond what can arrive"
        page.text(axis.left, f"{ends} {why}", kind="soft", y=y + 14)
        return
    right = axis.left
    for low, high, _, high_in in bar.parts:
        left, right = axis.x(low), axis.x(high)
        wide = max(right - left, 2)
        hatch = " hatch" if bar.join == "all" else ""
        closed = "its end belongs to it" if high_in else "its end does not belong to it"
        page.add(
            f'<rect x="{left:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{_BAR}" '
            f'class="b-{role}{hatch}"><title>{escape(bar.mode)}: {ends} µs, {closed}'
            f"</title></rect>"
        )
    text = f"{ends}{', needed with the others' if bar.join == 'all' else ''}"
    size = len(text) * _CHAR
    left = axis.x(bar.parts[0][0])
    if right - left > size + 12:
        kind = "on-hatch" if bar.join == "all" else "on-bar"
        page.text(left + 8, text, kind=kind, y=y + 14)
    elif right + 8 + size < axis.right:
        page.text(right + 8, text, y=y + 14)
    else:
        page.text(left - 8, text, anchor="end", y=y + 14)


def _marks(page: Page, item: Lane, axis: Axis) -> None:
    page.text(_LEFT, item.switch or "assumed", kind="strong", y=page.y + 14)
    base = page.y
    rows: list[float] = []
    for mark in sorted(item.marks, key=lambda one: one.low):
        middle = axis.x((mark.low + mark.high) / 2)
        left, right = axis.x(mark.low), axis.x(mark.high)
        if right - left > 1:
            page.add(
                f'<rect x="{left:.1f}" y="{base + 12:.1f}" width="{right - left:.1f}" height="4" '
                f'class="jitter"><title>wanders from {mark.low:g} to {mark.high:g} µs</title>'
                "</rect>"
            )
        if mark.sometimes:
            page.add(
                f'<path d="M{middle - 5:.1f} {base + 1:.1f}l10 10m0 -10l-10 10" class="cross"/>'
            )
        else:
            fill = "open" if item.kind == "assumed" else "mark"
            page.add(
                f'<path d="M{middle:.1f} {base:.1f}l6 12h-12z" class="{fill}">'
                f"<title>{escape(mark.name)}: {mark.sent_us:g} µs</title></path>"
            )
        _under(page, says(mark), middle, base + 28, rows, axis)
    page.y = base + 28 + max(len(rows), 1) * 16


def _under(page: Page, text: str, middle: float, y: float, rows: list[float], axis: Axis) -> None:
    """Write below a mark, on the first row that is free there; ``rows`` hold their right ends."""
    half = len(text) * _CHAR / 2
    middle = min(max(middle, axis.left + half), max(axis.right - half, axis.left + half))
    for number, end in enumerate(rows):
        if middle - half > end + _CHAR:
            rows[number] = middle + half
            break
    else:
        number = len(rows)
        rows.append(middle + half)
    page.text(middle, text, anchor="middle", y=y + number * 16)


def _legend(page: Page) -> None:
    page.y += 14
    page.paragraph(
        "Filled triangle: a position; the strip below it: its jitter. Outlined triangle: an "
        "assumed position. Cross: a position that wanders across an edge. Hatched bar: needed "
        "together with the mode's other hatched ones. Dotted line: no mode there.",
        kind="soft",
    )


def _table(page: Page, item: Table) -> None:
    if item.trouble:
        page.paragraph(f"{', '.join(item.switches)}: {item.trouble}.")
        return
    if not item.all_rows:
        page.paragraph(
            f"{item.states:,} states, more than fit here: one row for each set of modes, with the "
            "first state that has it."
        )
    sizes = [
        max(len(head), *(len(row[0][at]) for row in item.rows)) * _CHAR + 20
        for at, head in enumerate(item.switches)
    ]
    if sum(sizes) > WIDE - 320:
        for positions, modes, count in item.rows:
            where = ", ".join(
                f"{head} {place}" for head, place in zip(item.switches, positions, strict=True)
            )
            page.paragraph(f"{where}: {_on(modes, count, item)}", indent="    ")
        page.y += 8
        return
    starts = [_LEFT + sum(sizes[:at]) for at in range(len(sizes) + 1)]
    for x, head in zip(starts, (*item.switches, "on"), strict=True):
        page.text(x, head, kind="strong")
    page.add(
        f'<line x1="{_LEFT}" y1="{page.y + 5:.1f}" x2="{WIDE - _RIGHT}" y2="{page.y + 5:.1f}" '
        'class="line"/>'
    )
    page.y += _LINE
    for positions, modes, count in item.rows:
        for x, cell in zip(starts, positions, strict=False):
            page.text(x, cell)
        page.paragraph(_on(modes, count, item), x=starts[-1])
    page.y += 12


def _on(modes: tuple[str, ...], count: int, item: Table) -> str:
    share = f" ({count:,} states)" if not item.all_rows else ""
    return f"{', '.join(modes) or '–'}{share}"


def _recovery(page: Page, item: Scene) -> None:
    if not item.recovery and not item.stuck:
        return
    page.title("Righting an upturned craft")
    if item.stuck:
        page.paragraph(f"There is no way: {item.stuck}.")
        return
    assumed = ", with the switches assumed above" if item.recovery_assumed else ""
    page.paragraph(f"It lies on its back, armed, with {item.start}{assumed}.")
    for line in recovery_lines(item):
        page.paragraph(line, x=_LEFT + 16, indent="   ")
    page.y += 6
    page.paragraph(CAUTION, kind="soft")


def _answers(page: Page, item: Scene) -> None:
    for title, neutral in (("What is wrong", False), ("Worth knowing", True)):
        found = [
            one
            for one in item.answers
            if one.state == "broken"
            and one.question != "cannot-right-itself"  # told above
            and (one.question in NEUTRAL) is neutral
        ]
        if found:
            page.title(title)
        for one in found:
            assumed = f" ({one.assumed})" if one.assumed else ""
            page.paragraph(f"{one.words[:1].upper()}{one.words[1:]}{assumed}.")
            for step in one.path() if len(one.steps) > 1 else ():
                page.paragraph(step, x=_LEFT + 16, indent="   ")
            page.y += 6
    lacks = dict.fromkeys(
        str(lack) for one in item.answers if one.state == "unknown" for lack in one.lacks
    )
    if lacks:
        page.title("What cannot be told without")
        for text in lacks:
            page.paragraph(text, x=_LEFT + 16, indent="  ")


def _document(page: Page, item: Scene) -> str:
    height = page.y + 10
    light = "".join(f"--{name}:{pair[0]};" for name, pair in COLOURS.items())
    dark = "".join(f"--{name}:{pair[1]};" for name, pair in COLOURS.items())
    bars = "".join(
        f".b-{role}{{fill:var(--{role})}}.t-{role}{{fill:var(--{role});font-weight:600}}"
        f".b-{role}.hatch{{fill:url(#h-{role});stroke:var(--{role})}}"
        for role in ("arm", "right", "loss", "mode")
    )
    hatches = "".join(
        f'<pattern id="h-{role}" width="8" height="8" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)">'
        f'<rect width="3" height="8" fill="var(--{role})"/></pattern>'
        for role in ("arm", "right", "loss", "mode")
    )
    style = (
        f":root{{{light}}}@media(prefers-color-scheme:dark){{:root{{{dark}}}}}"
        "text{font:14px ui-monospace,'DejaVu Sans Mono',monospace;fill:var(--ink)}"
        "text.head{font-size:20px;font-weight:700}text.title{font-size:16px;font-weight:700}"
        "text.strong{font-weight:700}text.small{font-size:11px;fill:var(--soft)}"
        "text.soft{fill:var(--soft)}text.on-bar{fill:var(--page);font-weight:600}"
        "text.on-hatch{paint-order:stroke;stroke:var(--page);stroke-width:5px;font-weight:600}"
        ".ground{fill:var(--page)}.rule{stroke:var(--rule);stroke-width:1}"
        ".line{stroke:var(--soft);stroke-width:1}"
        ".dead{stroke:var(--soft);stroke-width:3;stroke-linecap:round;stroke-dasharray:.1 6}"
        ".mark{fill:var(--ink)}"
        ".open{fill:none;stroke:var(--ink);stroke-width:1.6}"
        ".cross{stroke:var(--arm);stroke-width:2.6;fill:none}"
        ".any{stroke:var(--ink);stroke-width:2;stroke-dasharray:6 4}"
        f".jitter{{fill:var(--soft)}}{bars}"
    )
    title = escape(f"{item.craft}: what each switch does")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {height:.0f}" '
        f'width="{WIDE}" height="{height:.0f}" role="img" aria-labelledby="t">'
        f'<title id="t">{title}</title><style>{style}</style><defs>{hatches}</defs>'
        f'<rect width="{WIDE}" height="{height:.0f}" class="ground"/>\n'
        + "\n".join(page.items)
        + "\n</svg>\n"
    )
