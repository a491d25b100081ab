"""Every question that cfglint asks about a craft's switches, and all of its answers.

Questions about flying, righting and losing the link stand in their own modules; here are those
about single modes and single switches.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.facts.modes import CONFLICTS
from cfglint.switches.asking import Answer, Question, Setup, settle, words_list
from cfglint.switches.flight import (
    ARMS_BY_ITSELF,
    CANNOT_FLY,
    CANNOT_RIGHT_ITSELF,
    FLICK_ENTERS_SELF_RIGHT,
    FLICK_STOPS_MOTORS,
)
from cfglint.switches.intervals import union
from cfglint.switches.loss import LOST_LINK, RECEIVER_HIDES_LOSS
from cfglint.switches.positions import from_card
from cfglint.switches.states import Walk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.span import Span
    from cfglint.switches.asking import View
    from cfglint.switches.modes import Stretch
    from cfglint.switches.positions import Place, Switch

#: Modes by which a craft keeps itself level or in its place.
ASSISTS = ("self-level", "hold-height", "hold-position", "return-home")


def _lines(view: View, mode: str) -> tuple[Span, ...]:
    """The lines that turn a mode on, its own ranges first."""
    craft = view.setup.craft
    links = [row.span for row in craft.mode_links if row.mode == mode]
    return tuple([row.span for row in craft.ranges_of(mode)] + links)


# ---------------------------------------------------------------- one mode


def never_on(mode: str) -> Question:
    """Whether a mode can come on at all."""

    def ask(view: View) -> Iterator[Answer]:
        graph, bit = view.graph((mode,)), view.logic.bit(mode)
        if any(modes & bit for modes in graph.modes):
            return
        yield Answer(
            "never-on",
            mode,
            "broken",
            f"{mode} never comes on: {_why_never(view, mode)}",
            "move the range to where a position of its switch lies",
            (),
            _lines(view, mode),
            graph.cone.channels,
        )

    return Question("never-on", (mode,), ask, needs_switches=True)


def _why_never(view: View, mode: str) -> str:
    cone = view.logic.cone((mode,))
    if not cone.ranges:
        return "it follows nothing that any switch turns on"
    if len(cone.channels) > 1:
        return "no combination of positions meets all that it needs"
    channel = cone.channels[0]
    if not view.setup.wire.carries(channel):
        return f"the link does not carry channel {channel}"
    switch = view.setup.switch(channel, view.assume)
    if not switch.places:
        return f"nothing that channel {channel} can bring lies in its range"
    sent = words_list([f"{place.sent_us:g}" for place in switch.places])
    return f"{switch.name} sends {sent} µs, and none of that lies in its range"


def never_off(mode: str) -> Question:
    """Whether a mode can go off at all."""

    def ask(view: View) -> Iterator[Answer]:
        graph, bit = view.graph((mode,)), view.logic.bit(mode)
        if not bit or not all(modes & bit for modes in graph.modes):
            return
        yield Answer(
            "never-off",
            mode,
            "broken",
            f"{mode} never goes off: it is on in every position of every switch",
            "leave a position of the switch out of its range, unless it is meant to stay on",
            (),
            _lines(view, mode),
            graph.cone.channels,
        )

    return Question("never-off", (mode,), ask, needs_switches=True)


def meet(one: str, two: str) -> Question:
    """Whether two modes can be on at once; the witness says how."""

    def ask(view: View) -> Iterator[Answer]:
        graph = view.graph((one, two))
        first, second = view.logic.bit(one), view.logic.bit(two)
        for place, modes in enumerate(graph.modes):
            if modes & first and modes & second:
                yield Answer(
                    "meet",
                    f"{one} and {two}",
                    "broken",
                    f"{one} and {two} are on together with {graph.words(place)}",
                    "",
                    tuple(Walk(graph, place).steps),
                    (*_lines(view, one), *_lines(view, two)),
                    graph.cone.channels,
                )
                return

    return Question("meet", (one, two), ask)


# ---------------------------------------------------------------- one switch


def chatter(switch: Switch) -> Question:
    """Whether a position of a card's switch straddles an edge, and which modes flicker then."""

    def ask(view: View) -> Iterator[Answer]:
        strip = view.logic.strip(switch.channel)
        for place in switch.places:
            shown = strip.walk(place.band)
            modes = _flickering(view, switch, place, shown)
            if modes:
                yield _chatters(view, switch, place, shown, modes)

    return Question("chatter", (), ask)


def _flickering(view: View, switch: Switch, place: Place, shown: list[Stretch]) -> list[str]:
    """The modes that a position turns on and off by its jitter alone, wherever others are."""
    if len({part.face for part in shown}) < 2:
        return []
    found = []
    for mode in view.logic.modes:
        graph, bit = view.graph((mode,)), view.logic.bit(mode)
        if switch.channel not in graph.cone.channels:
            continue
        index = graph.cone.channels.index(switch.channel)
        dial = graph.dials[index]
        at = [
            spot for spot, (run, _) in enumerate(dial.spots) if place.name in dial.runs[run].names
        ]
        if any(
            (graph.modes[one] ^ graph.modes[two]) & bit
            for one in range(graph.places)
            if graph.spots(one)[index] in at
            for two, moved, move in graph.moves(one)
            if moved == index and move == "chatter"
        ):
            found.append(mode)
    return found


def _chatters(
    view: View, switch: Switch, place: Place, shown: list[Stretch], modes: list[str]
) -> Answer:
    bits = 0
    for part in shown:
        bits |= part.face ^ shown[0].face
    return Answer(
        "chatter",
        f"{switch.name} {place.name}",
        "broken",
        f"{switch.name} {place.name} arrives as {place.band.low:g} to {place.band.high:g} µs and "
        f"straddles an edge of {words_list(modes)}, which "
        f"{'flickers' if len(modes) == 1 else 'flicker'} on and off by itself",
        "move the edge away from the position by more than its jitter",
        (),
        tuple([row.span for row in view.logic.rows(bits)]),
        (switch.channel,),
    )


def middle(switch: Switch) -> Question:
    """What the middle of a three-position switch does that neither end leads to expect."""

    def ask(view: View) -> Iterator[Answer]:
        logic, strip = view.logic, view.logic.strip(switch.channel)
        faces = [{part.face for part in strip.walk(place.band)} for place in switch.places]
        if any(len(shown) != 1 for shown in faces):
            return  # chatter is told elsewhere
        low, mid, high = (shown.pop() for shown in faces)

        def modes(face: int) -> list[str]:
            return list(dict.fromkeys(row.mode for row in logic.rows(face)))

        ends, centre = (modes(low), modes(high)), modes(mid)
        name, (first, between, last) = switch.name, [place.name for place in switch.places]
        gone = [mode for mode in ends[0] if mode in ends[1] and mode not in centre]
        mixed = [
            (one, two)
            for one in ends[0]
            for two in ends[1]
            if one not in ends[1] and two not in ends[0] and one in centre and two in centre
            if _ends_near(view, switch, one) or _ends_near(view, switch, two)
        ]
        assists = [[mode for mode in end if mode in ASSISTS] for end in ends]
        what = instead = ""
        if gone:
            what = (
                f"{words_list(gone)} {'is' if len(gone) == 1 else 'are'} on at both ends of {name} "
                f"and off at its middle ({between}): a flick from {first} to {last} drops out on "
                "the way"
            )
            instead = "let one range reach across the middle, or leave one end free"
        elif mixed:
            one, two = mixed[0]
            what = (
                f"the middle of {name} ({between}) turns on both {one}, which belongs to {first}, "
                f"and {two}, which belongs to {last}"
            )
            instead = "let the two ranges end short of the middle position"
        elif assists[0] and assists[1] and not centre:
            what = (
                f"the middle of {name} ({between}) turns nothing on, between "
                f"{words_list(assists[0])} at {first} and {words_list(assists[1])} at {last}: on "
                "the way from one to the other the craft is flown by hand alone"
            )
            instead = "let one of the two ranges reach across the middle"
        if what:
            yield Answer(
                "middle",
                name,
                "broken",
                what,
                instead,
                (),
                tuple([row.span for row in logic.rows(low | mid | high)]),
                (switch.channel,),
            )

    return Question("middle", (), ask)


def _ends_near(view: View, switch: Switch, mode: str) -> bool:
    """Whether a mode's ranges end so near to the middle that it is hardly meant: within a
    quarter of the way to the next position.  One that ends half-way takes in the middle on
    purpose.  Common practice.
    """
    # As they arrive: a link that holds a position back brings it nearer.
    pulses = [(place.band.low + place.band.high) / 2 for place in switch.places]
    near = min(abs(pulses[1] - pulses[0]), abs(pulses[2] - pulses[1])) / 4
    rows = [row for row in view.logic.ranges if row.mode == mode and row.channel == switch.channel]
    held = union(view.logic.arriving(row) for row in rows)
    gap = held.distance(pulses[1])
    return gap is not None and gap < near


def not_sent(setup: Setup, switch: Switch) -> Iterator[Answer]:
    """Positions that the link cannot deliver, and positions that cannot be told apart."""
    wire = setup.wire
    places = switch.places
    for place in places:
        if wire.lowest <= place.sent_us <= wire.highest:
            continue
        yield Answer(
            "not-sent",
            f"{switch.name} {place.name}",
            "broken",
            f"{switch.name} {place.name} is {place.sent_us:g} µs by the card, but the receiver "
            f"delivers {wire.lowest:g} to {wire.highest:g} µs: it arrives as "
            f"{place.band.low:g} µs",
            "write what the transmitter really sends, or correct the receiver's ends in the card",
            (),
            (place.span,) if place.span is not None else (),
            (switch.channel,),
        )
    rising = sorted(places, key=lambda place: place.sent_us)
    for one, two in pairwise(rising):
        words = instead = ""
        if one.sent_us + one.jitter_us >= two.sent_us - two.jitter_us:
            apart = two.sent_us - one.sent_us
            words = f"lie {apart:g} µs apart and wander by {one.jitter_us:g} µs each"
            instead = "correct jitter_us or positions_us in the card"
        elif switch.channel in wire.on_off and one.band == two.band:
            words = f"arrive alike on channel {switch.channel}, which is only on or off"
            instead = "put the switch on a channel below, or leave one of these positions out"
        if not words:
            continue
        yield Answer(
            "not-sent",
            f"{switch.name} {one.name} and {two.name}",
            "broken",
            f"{switch.name} {one.name} and {two.name} {words}: the controller cannot tell them "
            "apart",
            instead,
            (),
            tuple([place.span for place in (one, two) if place.span is not None]),
            (switch.channel,),
        )


# ---------------------------------------------------------------- all of them


def card_switches(setup: Setup) -> list[Switch]:
    """The card's switches, followed through the link, by channel; one a channel only."""
    return [
        from_card(rows[0], setup.wire) for _, rows in sorted(setup.claims.items()) if len(rows) == 1
    ]


def questions(setup: Setup) -> list[Question]:
    """Every question that makes sense for the craft, gravest first."""
    modes = [mode for mode in setup.logic().modes if setup.sets_up(mode)]
    found: list[Question] = []
    if setup.sets_up("arm"):
        found += [FLICK_STOPS_MOTORS, ARMS_BY_ITSELF, LOST_LINK, RECEIVER_HIDES_LOSS, CANNOT_FLY]
        if setup.sets_up("self-right"):
            found += [FLICK_ENTERS_SELF_RIGHT, CANNOT_RIGHT_ITSELF]
    found += [never_on(mode) for mode in modes]
    found += [never_off(mode) for mode in modes]
    found += [
        meet(pair.one, pair.two)
        for pair in CONFLICTS
        if pair.senseless and pair.one in modes and pair.two in modes
    ]
    on_card = [switch for switch in card_switches(setup) if setup.logic().bits_of(switch.channel)]
    found += [chatter(switch) for switch in on_card]
    found += [middle(switch) for switch in on_card if len(switch.places) == 3]
    return found


def answers(setup: Setup) -> list[Answer]:
    """The answers to every question, "holds" among them."""
    found = [answer for question in questions(setup) for answer in settle(setup, question)]
    for switch in card_switches(setup):
        found += not_sent(setup, switch)
    return found
