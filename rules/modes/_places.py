"""Where things stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.span import cover
from cfglint.switches.intervals import union

from .._reach import views

if TYPE_CHECKING:
    from cfglint.craft import Craft, ModeRange
    from cfglint.span import Span

    from .._reach import Box


def ends_of(row: ModeRange) -> Span:
    """The two ends of a range as they stand in the dump, or its line when they stand apart."""
    low, high = row.low_span, row.high_span
    together = low.line == high.line and low.column <= high.column
    return cover(low, high) if together else row.span


def spot_of(craft: Craft, mode: str, met: Box | None = None) -> Span:
    """Where a mode is turned on: a range (one that takes part in ``met``), else a link."""
    rows = craft.ranges_of(mode)
    if met:
        view = views(craft)[0]
        part = [r for r in rows if r.channel in met and view.of(r).overlaps(met[r.channel])]
        rows = tuple(part) or rows
    if rows:
        return ends_of(rows[0])
    return next((link.span for link in craft.mode_links if link.mode == mode), craft.whole)


#: The scale of a picture: its first value and the step of one character, in µs.
_FROM_US, _STEP_US, _WIDE = 800, 28, 51


def picture_of(craft: Craft, modes: tuple[str, ...]) -> str:
    """The ranges of some modes on the channels that they share, drawn to scale."""
    channels = [{row.channel for row in craft.ranges_of(mode)} for mode in modes]
    shared = sorted(set.intersection(*channels))
    view = views(craft)[0]
    lines: list[str] = []
    for channel in shared:
        lines.append(f"{f'channel {channel}':<16}{'800':<25}{'1500':<22}2200")
        for mode in modes:
            inside = union(view.of(r) for r in craft.ranges_of(mode) if r.channel == channel)
            marks = "".join(
                "=" if _FROM_US + step * _STEP_US in inside else "." for step in range(_WIDE)
            )
            lines.append(f"{mode:<16}{marks}")
    return "\n".join(lines)


def has_range(craft: Craft, mode: str) -> bool:
    """Whether a mode or any that it follows has a range."""
    wanted = [mode]
    for each in wanted:
        wanted += [
            link.follows
            for link in craft.mode_links
            if link.mode == each and link.follows not in wanted
        ]
    return any(row.mode in wanted for row in craft.mode_ranges)
