"""How near a switch comes to the edge of a range."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing
from cfglint.facts.links import EDGE_MARGIN_SOURCE, EDGE_MARGIN_US
from cfglint.rule import Finding, Move, Option, Related, bad, good, not_for, rule, unknown
from cfglint.switches.asking import setup_of
from cfglint.switches.intervals import between, union
from cfglint.switches.positions import STICKS, calibration_of

from .._reach import View, comes, decide, seen, switches_of, us, views
from .ranges import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, ModeRange
    from cfglint.rule import Grade, Options
    from cfglint.switches.intervals import Intervals, Number
    from cfglint.switches.positions import Place, Switch


@rule(
    "modes/near-a-range-edge",
    grade="fix",
    title="A switch position close to a range's edge",
    why="""
    A switch does not send the same pulse every time.  Where the edge of a range lies within that
    wandering, the mode chatters: arm would drop out in mid-air (grade `ground`).  Close by, it may
    after a change of temperature, trim or receiver (for arm `fix`, otherwise `advise`).
    """,
    source=EDGE_MARGIN_SOURCE,
    options=(
        Option(
            "margin_us", EDGE_MARGIN_US, "room wanted between a position and an edge (µs)", 0, 500
        ),
    ),
    examples=(
        good(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1756..2162
            """,
            card="""
            [[switch]]
            name = "K1"
            channel = 5
            positions_us = [1000, 2000]
            jitter_us = 4
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            use beacon while channel 7 in 1480..2205
                                          ^^^^ K2 middle beacon
            """,
            card="""
            [[switch]]
            name = "K2"
            channel = 7
            positions_us = [1000, 1500, 2000]
            jitter_us = 4
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1787..2002
                                             ^^^^ K1 high arm chatters
            """,
            card="""
            [[switch]]
            name = "K1"
            channel = 5
            positions_us = [1000, 2000]
            jitter_us = 4
            """,
        ),
        good(
            """
            let receiver-link be sbus
            use beacon while channel 7 in 1480..2052
            """,
            card="""
            [[switch]]
            name = "K2"
            channel = 7
            positions_us = [1000, 1500, 2000]
            jitter_us = 4
            """,
            options={"margin_us": 10.0},
        ),
        unknown(
            """
            let receiver-link be sbus
            use arm while channel 5 in 1731..2175
            """,
            missing="switch on channel 5",
        ),
        not_for("let receiver-link be sbus"),
    ),
)
def near_a_range_edge(craft: Craft, options: Options) -> Iterator[Finding | Missing]:
    """Every position of the card's switches, wandering and margin included, is in or out."""
    switches = switches_of(craft)
    loose, silent = setup_of(craft).wandering() or (None, ())
    wider = switches_of(loose.craft) if loose is not None else {}
    lacking: set[int] = set()
    for rows in _groups(rows_of(craft)):
        channel = rows[0].channel
        if channel <= STICKS:
            continue  # another rule's finding
        here = switches.get(channel, [])
        if not here:
            if channel not in lacking and not _never_turns(craft, rows):
                lacking.add(channel)
                yield Missing(f"switch on channel {channel}", "card")
            continue
        for at, switch in enumerate(here):
            for spot, place in enumerate(switch.places):
                try:
                    found = _edge(craft, rows, switch, place, options.margin_us)
                    if found is None and switch.name in silent:
                        # Standing quite still it is clear of the edge; does it stand still?
                        wide = wider[channel][at]
                        if _edge(craft, rows, wide, wide.places[spot], options.margin_us):
                            yield Missing(f"jitter_us of switch {switch.name}", "card")
                except Missing as gap:
                    yield gap
                else:
                    if found is not None:
                        yield found


def _groups(rows: Iterable[ModeRange]) -> list[list[ModeRange]]:
    """Ranges whose common edges count: `any` ranges of one mode and channel go together."""
    groups: dict[tuple[str, int, int], list[ModeRange]] = {}
    for index, row in enumerate(rows):
        alone = 0 if row.join == "any" else index + 1
        groups.setdefault((row.mode, row.channel, alone), []).append(row)
    return list(groups.values())


def _never_turns(craft: Craft, rows: list[ModeRange]) -> bool:
    """Whether ranges surely take in all that comes, so that no edge is ever near."""
    channel = rows[0].channel
    return all(view.reach(channel) <= union(map(view.of, rows)) for view in views(craft))


def _edge(
    craft: Craft, rows: list[ModeRange], switch: Switch, place: Place, margin_us: float
) -> Finding | None:
    channel, mode = rows[0].channel, rows[0].mode
    calibration = calibration_of(craft, channel)
    wanders = seen(calibration, place.band.hull())
    low, high = wanders.low, wanders.high
    nears = between(float(low) - margin_us, float(high) + margin_us, "open") & comes(craft, channel)

    def crossing(view: View) -> tuple[bool, bool]:
        inside = union(map(view.of, rows))
        return (
            bool(wanders & inside) and bool(wanders - inside),
            bool(nears & inside) and bool(nears - inside),
        )

    chatters, close = decide(craft, crossing)
    if not chatters and not close:
        return None
    edges = [(row.low_us, row.low_span) for row in rows]
    edges += [(row.high_us, row.high_span) for row in rows]
    edge, span = min(edges, key=lambda one: max(float(low) - one[0], one[0] - float(high), 0.0))
    gap = max(float(low) - edge, edge - float(high), 0.0)
    at = f"{us(low)} to {us(high)} µs" if low != high else f"{us(low)} µs"
    head = (
        f"position {place.name} of {switch.name} comes in at {at}, and the edge of {mode} on "
        f"channel {channel} is at {edge:g}"
    )
    grade: Grade
    if chatters:
        grade = "ground" if mode == "arm" else "fix"
        what = f"{head}: within that wandering the mode chatters"
    else:
        grade = "fix" if mode == "arm" else "advise"
        what = (
            f"{head}: that leaves {us(gap)} µs, less than {margin_us:g}, before the mode chatters"
        )
    others = [seen(calibration, each.band.hull()) for each in switch.places]
    is_high = any(row.high_us == edge for row in rows)
    better, room = _better_edge(edge, is_high, low, high, others)
    own = next(row for row in rows if edge in (row.low_us, row.high_us))
    ends = (own.low_us, better) if own.high_us == edge else (better, own.high_us)
    clear = not any(each.low - margin_us < better < each.high + margin_us for each in others)
    if not clear:
        return Finding(
            span,
            what,
            f"the positions of {switch.name} lie too near each other for an edge between them: "
            "look after the switch, or spread its positions",
            (Related(place.span, "this position"),) if place.span is not None else (),
            grade,
        )
    return Finding(
        span,
        what,
        f"move the edge to about {better:g}, {room}",
        (Related(place.span, "this position"),) if place.span is not None else (),
        grade,
        edits=(Move(own, *ends),) if ends[0] < ends[1] else (),
    )


def _better_edge(
    edge: float, is_high: bool, low: Number, high: Number, others: list[Intervals]
) -> tuple[float, str]:
    """Where to put an edge: midway to the next position on its far side, else well away."""
    middle = (float(low) + float(high)) / 2
    if edge > high or (low <= edge and (edge > middle or (edge == middle and is_high))):
        beyond = [float(each.low) for each in others if each.low > high]
        better = (float(high) + min(beyond)) / 2 if beyond else float(high) + 100
    else:
        beyond = [float(each.high) for each in others if each.high < low]
        better = (float(low) + max(beyond)) / 2 if beyond else float(low) - 100
    room = "midway to the next position" if beyond else "well past the position"
    return float(5 * round(better / 5)), room
