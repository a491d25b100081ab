"""The picture of a craft's switches for the screen: lanes, tables of states, the way back."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from cfglint.near import listed
from cfglint.report.blocks import Columns, Drawing, Item
from cfglint.switches.picture import (
    CAUTION,
    LEGEND,
    NEUTRAL,
    NO_MODE,
    assumes,
    counts_alike,
    counts_as,
    headline,
    lane_parts,
    recovery_lines,
    room_of,
    sentence,
    style_of,
    unquoted,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.report.blocks import Block
    from cfglint.switches.scene import Lane, Scene, Table


def blocks(item: Scene) -> Iterator[Block]:
    """The whole picture."""
    yield Item("", f"{item.craft}: what each switch does", "bold")
    if item.link:
        yield Item("", f"Pulses as {item.link} delivers them.")
    shared = counts_alike(item)
    if shared:
        yield Item("", shared)
    # One scale for all lanes, so that they can be compared by eye.
    room = max(map(room_of, item.lanes), default=0)
    for one in item.lanes:
        yield None
        yield from lane(one, room, counted=bool(shared))
    if item.lanes:
        yield None
        yield from (Item("", text, "dim") for text in LEGEND)
    for note in (*([assumes(item)] if item.assumed else []), *item.notes):
        yield None
        yield Item("", unquoted(note))
    if item.tables:
        yield None
        yield Item("", "States, and what is on in them", "bold")
        for table in item.tables:
            yield None
            yield from _table(table)
        if len(item.tables) > 1 and item.combinations > 1:
            yield None
            yield Item(
                "",
                "Switches in different tables do not touch each other's modes; together they "
                f"have {item.combinations:,} combinations of positions.",
            )
    yield from _recovery(item)
    yield from _answers(item)


def lane(item: Lane, room: int = 0, *, counted: bool = False) -> Iterator[Block]:
    """One lane; ``room`` columns for labels (0: as many as they take).  ``counted``: what its
    calibration does is told already.
    """
    yield Item("", headline(item), "bold")
    if item.calibration and not counted:
        yield Item("", counts_as(item))
    if item.trouble:
        yield Item("", f"{unquoted(item.trouble)}.")
    yield Drawing(partial(lane_parts, item, room=room))


def _table(item: Table) -> Iterator[Block]:
    if item.trouble:
        yield Item("", f"{listed(list(item.switches))}: {unquoted(item.trouble)}.")
        return
    counted = not item.all_rows
    if counted:
        yield Item(
            "",
            f"{item.states:,} states, more than fit here: one row for each set of modes, with "
            "the first state that has it.",
        )
    rows = [
        (*positions, ", ".join(modes or [NO_MODE]) + (f" ({count:,})" if counted else ""))
        for positions, modes, count in item.rows
    ]
    styles = {mode: style_of(mode) for _, modes, _ in item.rows for mode in modes}
    last = "on (in so many states)" if counted else "on"
    yield Columns(tuple(rows), (*item.switches, last), styles)


def _recovery(item: Scene) -> Iterator[Block]:
    if not item.recovery and not item.stuck:
        return
    yield None
    yield Item("", "Righting an upturned craft", "bold")
    yield None
    if item.stuck:
        yield Item("", f"There is no way: {unquoted(item.stuck)}.")
        return
    assumed = ", with the switches assumed above" if item.recovery_assumed else ""
    yield Item("", f"It lies on its back, armed, with {item.start}{assumed}.")
    yield from map(_step, recovery_lines(item))
    yield None
    yield Item("", CAUTION)


def _step(text: str, indent: str = "") -> Item:
    number, _, rest = text.partition(" ")
    return Item(f"{indent}{number} ", rest)


def _answers(item: Scene) -> Iterator[Block]:
    for title, wanted in (("What is wrong", False), ("Worth knowing", True)):
        found = [
            one
            for one in item.answers
            if one.state == "broken"
            and one.question != "cannot-right-itself"  # told above
            and (one.question in NEUTRAL) is wanted
        ]
        if found:
            yield None
            yield Item("", title, "bold")
        for one in found:
            assumed = f" ({one.assumed})" if one.assumed else ""
            yield None
            yield Item("", f"{sentence(one.words)}{assumed}.")
            if len(one.steps) > 1:
                yield from (_step(step, "  ") for step in one.path())
    lacks = dict.fromkeys(
        unquoted(str(lack)) for one in item.answers if one.state == "unknown" for lack in one.lacks
    )
    if lacks:
        yield None
        yield Item("", "What cannot be told", "bold")
        yield None
        count = sum(one.state == "unknown" for one in item.answers)
        plural = "questions" if count > 1 else "question"
        yield Item("", f"{count} {plural} cannot be answered without:")
        yield from (Item("  - ", text) for text in lacks)
