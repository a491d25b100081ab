"""Which stick is which."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.rule import Drop, Finding, Put, bad, good, rule, unknown

from ._wiring import beside_value

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, Value
    from cfglint.rule import Options


@rule(
    "receiver/channel-order-differs",
    grade="ground",
    title="Sticks in another order than the transmitter's",
    why="""
    The four sticks go out in an order: A for roll, E for pitch, T for throttle, R for yaw.  If the
    controller expects another one, the throttle is on some other stick, and a stick let go to its
    centre may be half throttle.
    """,
    source="common practice",
    examples=(
        good(
            "let stick-order be AETR",
            card="""
            [transmitter]
            channel_order = "AETR"
            """,
        ),
        good(
            "let stick-order be TAER/K1/K2",
            card="""
            [transmitter]
            channel_order = "TAER"
            """,
        ),
        bad(
            """
            let stick-order be TAER
                               ^^^^ TAER AETR throttle
            """,
            card="""
            [transmitter]
            channel_order = "AETR"
            """,
        ),
        bad(
            """
            let stick-order be AETT
                               ^^^^ AETT once
            """
        ),
        bad(
            """
            let stick-order be AETR
                               ^^^^ AETR RETA throttle stays
            """,
            card="""
            [transmitter]
            channel_order = "RETA"
            """,
        ),
        unknown("let stick-order be AETR", missing="transmitter.channel_order"),
        unknown(
            "let receiver-link be sbus",
            missing="receiver.channel_order",
            card="""
            [transmitter]
            channel_order = "AETR"
            """,
        ),
    ),
)
def channel_order_differs(craft: Craft, options: Options) -> Iterator[Finding]:
    """The first four letters of both orders must be the same four sticks in the same places."""
    order = craft.need("receiver.channel_order")
    if not _four(order):
        yield Finding(
            craft.place(order),
            f"{str(order) or 'nothing'} is no order of the four sticks: A, E, T and R must each "
            "stand in it once",
            "write the order that the transmitter sends, AETR for instance",
            edits=_put_order(craft, order, craft.maybe_card("transmitter.channel_order")),
        )
        return
    sent = craft.from_card("transmitter.channel_order")
    if _four(order) == _four(sent):
        return
    stick = _STICKS[_four(sent)[_four(order).index("T")]]
    moves = (
        "the throttle stays in its place but other sticks change theirs"
        if stick == "throttle"
        else f"the {stick} stick moves the throttle"
    )
    yield Finding(
        craft.place(order),
        f"the controller takes the sticks for {order}, but the transmitter sends {sent}: {moves}",
        f"set receiver.channel_order to {_four(sent)}, and let what the sticks become on a lost "
        "link move with them",
        beside_value(sent, "the order that is sent"),
        edits=_put_order(craft, order, sent),
    )


def _put_order(craft: Craft, order: Value, sent: Value) -> tuple[Put | Drop, ...]:
    """The order that is sent, before what else the dump's own has after its first four letters.

    What a stick's channel becomes on a lost link goes where the stick goes: else a value that was
    meant for another stick is put in on the throttle.
    """
    four, own = _four(sent), _four(order)
    if not four or not own:
        return (Put(order.name, four),) if four else ()
    edits: list[Put | Drop] = [Put(order.name, four + str(order.value)[4:])]
    for place, letter in enumerate(four, 1):
        was = craft.get(f"failsafe.channel.{own.index(letter) + 1}")
        now = craft.get(f"failsafe.channel.{place}")
        if was.known and was.value != now.value:
            edits.append(Put(now.name, was.value))
        elif now.known and not was.known:
            if now.line_span is None or _said_besides(craft, now):
                return ()
            edits.append(Drop(now.line_span))
    return tuple(edits)


def _said_besides(craft: Craft, value: Value) -> bool:
    """Whether a value's line says another as well."""
    every = craft.values.values()
    return any(one.line_span == value.line_span and one.name != value.name for one in every)


_STICKS = {"A": "roll", "E": "pitch", "T": "throttle", "R": "yaw"}


def _four(order: Value) -> str:
    """The sticks' letters in capitals, such as AETR; empty where they are not each there once."""
    letters = "".join(letter for letter in str(order.value).upper() if letter.isalpha())[:4]
    return letters if sorted(letters) == sorted(_STICKS) else ""
