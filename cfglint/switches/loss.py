"""What a lost link does, from every state that the switches can be in.

The receiver comes first.  One that holds the last frame, or sends values of its own, hides the
loss from the controller.  Once the controller notices, it puts its own values in the place of
channels (``failsafe.channel.N``: a pulse, ``hold`` or ``drop``) and, after a wait, carries out
``failsafe.action``.  Values that it puts in are not the pilot's: they do not count as having
seen arm off.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft import Missing
from cfglint.switches.asking import CORE, Answer, Question
from cfglint.switches.states import Walk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.span import Span
    from cfglint.switches.asking import View
    from cfglint.switches.states import Arming

#: Actions after which the craft is no longer on the pilot's last commands.
ACTS = ("stop", "descend", "return-home")


class Put(NamedTuple):
    """What the controller puts in a channel's place: a face, or None to hold what was there."""

    face: int | None
    span: Span | None


def _put(view: View, channel: int) -> Put | None:
    """What a channel becomes on loss; None where the dump does not say."""
    value = view.setup.craft.get(f"failsafe.channel.{channel}")
    if not value.known:
        return None
    word = str(value.value)
    if word == "hold":
        return Put(None, value.span)
    if word == "drop":
        return Put(0, value.span)
    try:
        pulse = float(word)
    except ValueError:
        return None
    return Put(view.logic.seen_face(channel, pulse), value.span)


class After(NamedTuple):
    """The modes on once the controller has put its values in.

    ``most`` takes channels that the dump is silent about as held, ``least`` as dropped: modes
    only ever need something to be on, so whatever such channels do lies between the two.
    """

    most: int
    least: int


def _after(view: View, found: Arming, place: int, puts: list[Put | None]) -> After:
    graph = found.graph
    most = least = 0
    for item, spot, put in zip(graph.dials, graph.spots(place), puts, strict=True):
        face = item.spots[spot][1]
        if put is None:
            most |= face
        else:
            shown = face if put.face is None else put.face
            most |= shown
            least |= shown
    mine = graph.cone.modes
    return After(view.logic.on(most) & mine, view.logic.on(least) & mine)


def _lost_link(view: View) -> Iterator[Answer]:
    """The controller's part."""
    found = view.arming()
    graph, logic, craft = found.graph, view.logic, view.setup.craft
    right = logic.bit("self-right")
    puts = [_put(view, item.switch.channel) for item in graph.dials]
    after = [_after(view, found, place, puts) for place in range(graph.places)]
    spans = tuple(put.span for put in puts if put is not None and put.span is not None)

    off = [place for place in range(graph.places) if not graph.modes[place] & found.arm]
    arms = [place for place in off if _arms(found, after[place].most)]
    surely = [place for place in arms if _arms(found, after[place].least)]
    for place in surely[:1]:
        yield Answer(
            "lost-link",
            "arms",
            "broken",
            f"disarmed with {graph.words(place)}, losing the link turns arm on: the values put in "
            "for a lost link lie in arm's range, and the craft may arm with nobody in control",
            "give the arm channel a pulse at which arm is off, or `drop`",
            tuple(Walk(graph, place).steps),
            _set_on(view, found, spans, "arm"),
            graph.cone.channels,
        )
    if arms and not surely:
        yield _silent(found, "arms", puts)
    turns = [
        place
        for place in found.armed
        if after[place].least & right
        and not graph.modes[place] & right
        and after[place].most & found.arm
    ]
    surely = [place for place in turns if after[place].least & found.arm]
    for place in surely[:1]:
        yield Answer(
            "lost-link",
            "self-right",
            "broken",
            f"in flight with {found.walk(place).words()}, losing the link turns self-right on: "
            "the motors reverse in the air before any action begins",
            "give the self-right channel a pulse at which it is off, or `drop`",
            tuple(found.walk(place).steps),
            _set_on(view, found, spans, "self-right"),
            graph.cone.channels,
        )
    if turns and not surely:
        yield _silent(found, "self-right", puts)
    yield from _stays_armed(craft, found, after, puts, spans)


def _silent(
    found: Arming, subject: str, puts: list[Put | None], lack: Missing | None = None
) -> Answer:
    """Unknown, for want of what the first silent channel of them becomes."""
    if lack is None:
        channels = [item.switch.channel for item in found.graph.dials]
        first = next(ch for ch, put in zip(channels, puts, strict=True) if put is None)
        lack = Missing(f"failsafe.channel.{first}", "dump")
    words = f"it cannot be told without {lack}"
    return Answer("lost-link", subject, "unknown", words, lacks=(lack,))


def _arms(found: Arming, modes: int) -> bool:
    return bool(modes & found.arm) and modes & found.permit == found.permit


def _set_on(view: View, found: Arming, spans: tuple[Span, ...], mode: str) -> tuple[Span, ...]:
    """The values that turn a mode on, before any others that are put in."""
    wanted = view.logic.cone((mode,)).ranges
    first = []
    for item in found.graph.dials:
        put = _put(view, item.switch.channel)
        if put is not None and put.face and put.face & wanted and put.span is not None:
            first.append(put.span)
    return tuple(dict.fromkeys((*first, *spans)))


def _stays_armed(
    craft: Craft,
    found: Arming,
    after: list[After],
    puts: list[Put | None],
    spans: tuple[Span, ...],
) -> Iterator[Answer]:
    action = craft.get("failsafe.action")
    graph = found.graph
    if action.value in ACTS:
        return
    for place in found.armed:
        if not after[place].most & found.arm:
            continue
        if action.known and (after[place].least & found.arm or action.value == "hold-last"):
            yield Answer(
                "lost-link",
                "stays-armed",
                "broken",
                f"in flight with {found.walk(place).words()}, losing the link leaves the craft "
                f"armed and does nothing about it (failsafe.action is {action.value})",
                "set failsafe.action to stop, or to what this craft can do by itself",
                tuple(found.walk(place).steps),
                (*((action.span,) if action.span is not None else ()), *spans),
                graph.cone.channels,
            )
            return
        lack = None if action.known else Missing("failsafe.action", "dump")
        yield _silent(found, "stays-armed", puts, lack)
        return


def _receiver(view: View) -> Iterator[Answer]:
    """The receiver's part: whether the controller notices at all."""
    found = view.arming()
    habit = view.setup.craft.from_card("receiver.on_loss")
    if habit.value == "silent" or not found.armed:
        return
    place = next(iter(found.armed))
    if habit.value == "hold":
        yield Answer(
            "receiver-hides-loss",
            "receiver",
            "broken",
            f"in flight with {found.walk(place).words()}, the receiver repeats its last frame when "
            "the radio link is lost: the craft stays armed on old commands, whatever is set in it",
            "set the receiver to fall silent on loss, then correct receiver.on_loss in the card",
            tuple(found.walk(place).steps),
            (habit.span,) if habit.span is not None else (),
            found.graph.cone.channels,
        )
    else:
        hint = "what a receiver sends by itself on loss is written nowhere; set it to fall silent"
        raise Missing("receiver.on_loss", "card", hint)


LOST_LINK = Question("lost-link", CORE, _lost_link, permit=True)
RECEIVER_HIDES_LOSS = Question("receiver-hides-loss", CORE, _receiver, permit=True)
