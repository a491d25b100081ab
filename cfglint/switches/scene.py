"""What the picture shows, as plain records: the same for text, SVG and JSON.

Values are arriving µs, what the link sends; ranges are drawn back through the calibration, and
keep the ends that the dump gives them for their labels.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.craft import Missing
from cfglint.switches.asking import CORE, Answer, Setup, View
from cfglint.switches.flight import recovery
from cfglint.switches.intervals import EMPTY, between
from cfglint.switches.positions import LEAST_US, MOST_US, calibration_of
from cfglint.switches.properties import answers
from cfglint.switches.states import Step, TooMany

if TYPE_CHECKING:
    from cfglint.craft import Craft, Unread
    from cfglint.switches.intervals import Intervals
    from cfglint.switches.positions import Assume, Place
    from cfglint.switches.states import Graph

#: A table longer than this is told by what is on, one row for each set of modes.
MOST_ROWS = 48
#: Beyond a link's own ends, or where it has none, lanes run this far.  Common practice.
USUAL_ENDS = (800.0, 2200.0)


class Bar(NamedTuple):
    """One mode range on its lane.

    ``parts`` are the arriving values (low, high, low belongs, high belongs), cut to the lane;
    empty when the range holds nothing there.  ``low_us`` and ``high_us`` are as configured.
    """

    mode: str
    join: Literal["any", "all"]
    low_us: float
    high_us: float
    parts: tuple[tuple[float, float, bool, bool], ...]


class Mark(NamedTuple):
    """One position: its pulse as sent, what arrives of it, and the modes whose ranges hold it.

    ``sometimes`` are modes whose ranges hold only part of what arrives: there it chatters.
    """

    name: str
    sent_us: float
    jitter_us: float
    low: float
    high: float
    modes: tuple[str, ...]
    sometimes: tuple[str, ...]


class Lane(NamedTuple):
    """One channel from the lowest to the highest µs that the link sends.

    ``dead`` are the stretches where no mode range lies.  ``calibration`` are the pulses that
    count as 1000, 1500 and 2000 µs, None where they are just these.  ``trouble`` says why a lane
    cannot be drawn (its calibration is impossible, the link does not carry it).
    """

    channel: int
    switch: str
    kind: Literal["card", "assumed", "free"]
    momentary: bool
    low: float
    high: float
    bars: tuple[Bar, ...]
    marks: tuple[Mark, ...]
    dead: tuple[tuple[float, float], ...]
    calibration: tuple[float, float, float] | None = None
    trouble: str = ""


class Table(NamedTuple):
    """States and what is on in them, for switches that decide over modes together.

    ``rows`` are (positions, modes, how many states like it).  Where there are too many states
    for one row each, ``all_rows`` is False and a row is the first state with just these modes.
    """

    switches: tuple[str, ...]
    modes: tuple[str, ...]
    rows: tuple[tuple[tuple[str, ...], tuple[str, ...], int], ...]
    states: int
    all_rows: bool
    assumed: bool = False
    trouble: str = ""


class Scene(NamedTuple):
    """Everything that the picture of one craft shows.

    ``assumed`` lists the channels whose switch was assumed (three positions).  ``recovery`` is
    the way back into the air, or ``stuck`` says why there is none (both empty without
    self-right).
    """

    craft: str
    link: str
    lanes: tuple[Lane, ...]
    tables: tuple[Table, ...]
    assumed: tuple[int, ...]
    recovery: tuple[Step, ...]
    start: str
    stuck: str
    recovery_assumed: bool
    answers: tuple[Answer, ...]
    combinations: int
    notes: tuple[str, ...] = ()


def scene(craft: Craft, assume: Assume = "three") -> Scene:
    """The scene of a craft; channels whose switch the card does not describe get an assumed
    one, and say so.
    """
    setup = Setup(craft)
    view = setup.view(setup.logic().ends, assume, _permit(setup))
    steps, start, stuck = _recovery(setup, view)
    # What has no neutral meaning is drawn beside the rest, but no question is asked of it.
    every = Setup(craft.changed(mode_ranges=(*craft.mode_ranges, *craft.drawn)))
    view = every.view(every.logic().ends, assume, _permit(every))
    channels = sorted({*every.logic().channels(), *every.claims})
    lanes = tuple(lane(view, channel) for channel in channels)
    tables, combinations = _tables(view)
    wire = setup.wire
    notes = []
    if not wire.link:
        notes.append(
            "The receiver's link is not known: pulses are taken to arrive as they are sent."
        )
    elif wire.step and wire.rounding == "either":
        notes.append(
            f"How {wire.title} rounds is not known: a pulse between two of its steps may arrive "
            "as either."
        )
    if craft.traits.range_ends is None:
        notes.append(
            "The dialect does not say whether a range's high end belongs to it; here it does not."
        )
    unread = craft.unread_modes()
    notes += [f"? {row.text}: there may be more than is drawn." for row in unread]
    return Scene(
        craft.name or craft.file,
        wire.title,
        lanes,
        tables,
        tuple(item.channel for item in lanes if item.kind == "assumed"),
        steps,
        start,
        stuck,
        core_is_assumed(setup),
        tuple(_doubted(answer, unread) for answer in answers(setup)),
        combinations,
        tuple(notes),
    )


def _doubted(answer: Answer, unread: tuple[Unread, ...]) -> Answer:
    """An answer that holds only if what was not read changes nothing."""
    if answer.state != "holds" or not unread:
        return answer
    lacks = tuple(Missing(row.fact, row.where, row.text) for row in unread)
    words = f"it cannot be told: {'; '.join(row.text for row in unread)}"
    return answer._replace(state="unknown", words=words, lacks=lacks)


def _permit(setup: Setup) -> bool:
    return bool(setup.craft.traits.arm_needs_permit) and setup.sets_up("arm-permit")


# ---------------------------------------------------------------- lanes


def ends_of_lane(view: View) -> tuple[float, float]:
    """From where to where lanes run: the link's own ends, or the usual ones."""
    wire = view.setup.wire
    low = USUAL_ENDS[0] if wire.lowest <= LEAST_US else wire.lowest
    high = USUAL_ENDS[1] if wire.highest >= MOST_US else wire.highest
    return (low, high) if low < high else USUAL_ENDS


def lane(view: View, channel: int) -> Lane:
    """A channel's lane."""
    setup, logic = view.setup, view.logic
    switch = setup.switch(channel, view.assume)
    low, high = ends_of_lane(view)
    frame = between(low, high)
    calibration = calibration_of(setup.craft, channel)
    rows = logic.rows_on(channel)
    trouble = ""
    if not setup.wire.carries(channel):
        trouble = f"{setup.wire.title} carries only {setup.wire.channels} channels: nothing arrives"
    bars: list[Bar] = []
    covered: Intervals = EMPTY
    marks: tuple[Mark, ...] = ()
    try:
        for row in rows:
            shown = EMPTY if trouble else logic.arriving(row) & frame
            covered |= shown
            parts = tuple(
                (float(part.low), float(part.high), part.low_in, part.high_in) for part in shown
            )
            bars.append(Bar(row.mode, row.join, row.low_us, row.high_us, parts))
        if not trouble:
            marks = tuple(_mark(view, channel, place) for place in switch.places)
    except Missing as gap:
        trouble, bars = gap.hint, []
    dead = tuple(
        (float(part.low), float(part.high)) for part in frame - covered if part.low < part.high
    )
    return Lane(
        channel,
        switch.name if switch.kind == "card" else "",
        switch.kind,
        switch.momentary,
        low,
        high,
        tuple(bars),
        marks,
        () if trouble else dead,
        None
        if calibration.plain or trouble
        else (calibration.low, calibration.mid, calibration.high),
        trouble,
    )


def _mark(view: View, channel: int, place: Place) -> Mark:
    shown = view.logic.strip(channel).walk(place.band)
    always, ever = shown[0].face, 0
    for part in shown:
        always &= part.face
        ever |= part.face
    surely = list(dict.fromkeys(row.mode for row in view.logic.rows(always)))
    maybe = dict.fromkeys(row.mode for row in view.logic.rows(ever & ~always))
    return Mark(
        place.name,
        place.sent_us,
        place.jitter_us,
        place.band.low,
        place.band.high,
        tuple(surely),
        tuple(mode for mode in maybe if mode not in surely),
    )


# ---------------------------------------------------------------- states


def _tables(view: View) -> tuple[tuple[Table, ...], int]:
    """One table for each group of switches that decide together, and the number of all
    combinations of positions.
    """
    logic, setup = view.logic, view.setup
    groups: list[tuple[set[int], list[str]]] = []
    for mode in logic.modes:
        channels = set(logic.cone((mode,)).channels)
        if not channels:
            continue
        names = [mode]
        apart: list[tuple[set[int], list[str]]] = []
        for others, modes in groups:
            if others & channels:
                channels |= others
                names = modes + names
            else:
                apart.append((others, modes))
        groups = [*apart, (channels, names)]
    count = 1
    for channel in logic.channels():
        count *= max(len(setup.switch(channel, view.assume).places), 1)
    order = {mode: at for at, mode in enumerate(logic.modes)}
    groups.sort(key=lambda group: min(order[mode] for mode in group[1]))
    tables = [_table(view, tuple(sorted(modes, key=order.__getitem__))) for _, modes in groups]
    return tuple(tables), count


def _table(view: View, modes: tuple[str, ...]) -> Table:
    logic = view.logic
    channels = logic.cone(modes).channels
    switches = tuple(view.setup.switch(channel, view.assume).name for channel in channels)
    assumed = any(view.setup.switch(channel, view.assume).kind == "assumed" for channel in channels)
    try:
        graph = view.graph(modes)
    except TooMany as many:
        return Table(switches, modes, (), many.count // 2, False, assumed, str(many))
    except Missing as gap:
        return Table(switches, modes, (), 0, False, assumed, f"not known without {gap}")
    rows = _rows(graph)
    complete = graph.places <= MOST_ROWS
    if not complete:
        grouped: dict[tuple[str, ...], tuple[tuple[str, ...], int]] = {}
        for positions, on, _ in rows:
            first, count = grouped.get(on, (positions, 0))
            grouped[on] = first, count + 1
        rows = [(first, on, count) for on, (first, count) in grouped.items()]
    return Table(switches, modes, tuple(rows), graph.places, complete, assumed)


def _rows(graph: Graph) -> list[tuple[tuple[str, ...], tuple[str, ...], int]]:
    """One row a place; a position that chatters stands once for each of its faces."""
    rows = []
    for place, modes in enumerate(graph.modes):
        names = []
        for item, run in zip(graph.dials, graph.runs(place), strict=True):
            name = " or ".join(item.runs[run].names)
            names.append(name if item.runs[run].steady else f"{name} (wanders)")
        rows.append((tuple(names), tuple(graph.logic.names(modes)), 1))
    return rows


# ---------------------------------------------------------------- the way back


def _recovery(setup: Setup, view: View) -> tuple[tuple[Step, ...], str, str]:
    """The steps, the words for where they start, and why there are none."""
    if not setup.sets_up("self-right"):
        return (), "", ""
    try:
        found = recovery(view)
    except TooMany as many:
        return (), "", str(many)
    except Missing as gap:
        return (), "", gap.hint or str(gap)
    start = view.core().words(found.start) if found.steps else ""
    return found.steps, start, found.why


def lane_of(setup: Setup, channel: int) -> Lane:
    """One channel's lane by itself, for a finding."""
    return lane(setup.view(setup.logic().ends, "three", _permit(setup)), channel)


def core_is_assumed(setup: Setup) -> bool:
    """Whether the way back rests on a switch that the card does not describe."""
    return any(not setup.described(ch) for ch in setup.logic().cone(CORE).channels)
