"""Speed and time on the wire."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from cfglint.craft import Missing, NotForThisCraft, listed
from cfglint.facts.links import (
    LINKS,
    frame_time_us,
    link_baud_within,
    one_wire_ceiling_hz,
    reply_time_us,
)
from cfglint.rule import Finding, Put, bad, good, not_for, rule, unknown

from ._wiring import bauds_of, beside_value, no_line_setting, wired_link

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft
    from cfglint.rule import Grade, Options


@rule(
    "receiver/baud-off-the-link",
    grade="ground",
    title="Line speed that the link does not use",
    why="""
    A serial input finds the bits of a byte by the clock.  Two per cent off is safe, near five the
    last bits are read wrongly, and beyond that no frame survives.  Near the limit it works on the
    bench and fails in the cold.  Some receivers run at a speed that the description of their link
    does not have; there the rule merely asks whether yours is one of them.
    """,
    source="tolerance: {usart}; speeds: {crsf}, {srxl2}, {interfacing}, {fport}, {sbus}; those of "
    "other links, and those that are met besides: common practice",
    examples=(
        good(
            """
            let receiver-link be sbus
            port 2 carries receiver at 100000
            """
        ),
        good(
            """
            let receiver-link be crsf
            let receiver-baud be 420000
            """
        ),
        good(
            """
            let receiver-link be srxl2
            let receiver-baud be 400000
            """
        ),
        bad(
            """
            let receiver-link be sbus
            port 2 carries receiver at 115200
                                       ^^^^^^ 115200 sbus 100000
            """
        ),
        bad(
            """
            let receiver-link be crsf
            let receiver-baud be 400000
                                 ^^^^^^ 400000 crsf 416666
            """
        ),
        # On one wire the same link runs at 400 000 by its specification; others are met.
        bad(
            """
            let receiver-link be crsf
            let receiver-one-wire be yes
            let receiver-baud be 420000
                                 ^^^^^^ 420000 crsf-one-wire 400000 met
            """
        ),
        bad(
            """
            let receiver-link be sbus
            port 3 carries receiver at 200000
                                       ^^^^^^ 200000 sbus met
            """
        ),
        unknown("let receiver-link be sbus", missing="receiver.baud"),
        unknown("let receiver-baud be 100000", missing="receiver.link"),
        not_for("let receiver-link be ppm"),
    ),
)
def baud_off_the_link(craft: Craft, options: Options) -> Iterator[Finding]:
    """Every baud that is configured must lie within tolerance of one that the link uses."""
    word = craft.need("receiver.link")
    link = wired_link(craft, word)
    if not LINKS[link].bauds:
        raise NotForThisCraft("a pulse train has no line speed")
    bauds = bauds_of(craft)
    if not bauds:
        raise no_line_setting(craft, "receiver.baud")
    uses = listed([str(baud) for baud in LINKS[link].bauds], "or")
    for baud in bauds:
        verdict = link_baud_within(link, baud.value)
        if verdict == "good":
            continue
        grade: Grade = "fix" if verdict == "limit" else "ground"
        what = "that works only with luck" if verdict == "limit" else "no frame is understood"
        instead = f"set {baud.name} to {uses}"
        if link_baud_within(link, baud.value, met=True) == "good":
            grade = "advise"
            what = "receivers that run so are met, but of any other no frame is understood"
            instead += ", unless the receiver's instructions name this speed"
        yield Finding(
            craft.place(baud),
            f"{baud.name} puts the receiver's line at {baud.value:.0f} baud, but {link} uses "
            f"{uses}: {what}",
            instead,
            beside_value(word, "the receiver's link"),
            grade,
            edits=() if grade == "advise" else (Put(baud.name, float(LINKS[link].bauds[0])),),
        )


@rule(
    "receiver/frames-outlast-rate",
    grade="fix",
    title="Frames take longer than the receiver's rate allows",
    why="""
    A frame takes its time on the wire: bytes × bits per byte ÷ baud.  If the next one is due
    before this one is over, frames are dropped or the rate falls behind what the transmitter
    promises.  Where both sides take turns on one wire, the answer of the other side counts too.
    Where a frame grows with its channels, sixteen are taken, and the rule merely advises.
    """,
    source="frames: {crsf}, {srxl2}, {sbus}, {interfacing}, {fport}; those of other links: common "
    "practice; length of an answer on SRXL2: from memory",
    examples=(
        good(
            """
            let receiver-link be crsf
            let receiver-baud be 420000
            """,
            card="""
            [receiver]
            rate_hz = 500
            """,
        ),
        good(
            "let receiver-link be sbus",
            card="""
            [receiver]
            rate_hz = 142
            """,
        ),
        bad(
            """
            let receiver-link be sbus
            port 2 carries receiver at 100000
            """,
            card="""
            [receiver]
            rate_hz = 500
                      ^^^ 500 2000 sbus 3000
            """,
        ),
        bad(
            """
            let receiver-link be crsf-one-wire
            let receiver-baud be 400000
            """,
            card="""
            [receiver]
            rate_hz = 500
                      ^^^ 500 crsf-one-wire each side
            """,
        ),
        # The frame alone would fit in 5650 µs; with the answer it does not.
        bad(
            """
            let receiver-link be srxl2
            let receiver-baud be 115200
            """,
            card="""
            [receiver]
            rate_hz = 177
                      ^^^ 177 srxl2 16 channels 3993 answer 1910 5903
            """,
        ),
        good(
            """
            let receiver-link be srxl2
            let receiver-baud be 115200
            """,
            card="""
            [receiver]
            rate_hz = 91
            """,
        ),
        # One link, two speeds: fast enough at one of them only.
        unknown(
            "let receiver-link be srxl2",
            missing="receiver.baud",
            card="""
            [receiver]
            rate_hz = 177
            """,
        ),
        unknown("let receiver-link be sbus", missing="receiver.rate_hz"),
        unknown(
            "let receiver-baud be 100000",
            missing="receiver.link",
            card="""
            [receiver]
            rate_hz = 50
            """,
        ),
        not_for(
            "let receiver-link be ppm",
            card="""
            [receiver]
            rate_hz = 44
            """,
        ),
    ),
)
def frames_outlast_rate(craft: Craft, options: Options) -> Iterator[Finding]:
    """A frame at the port's baud, and its answer, must fit in the period of the card's rate."""
    word = craft.need("receiver.link")
    link = wired_link(craft, word)
    row = LINKS[link]
    if row.frame_bytes is None:
        raise NotForThisCraft("in a pulse train the frame is the period")
    rate = craft.from_card("receiver.rate_hz")
    # A baud that the link does not use is another rule's matter; its own speeds are taken then.
    set_bauds = [baud for baud in bauds_of(craft) if _heard(link, baud.value)]
    bauds = [baud.value for baud in set_bauds] or list(row.bauds)
    period_us = 1e6 / rate.value
    needs = [period_needed(link, baud) for baud in bauds]
    if max(needs).us <= period_us:
        return
    if min(needs).us <= period_us and not set_bauds:
        raise Missing("receiver.baud", "dump", f"{link} is used at more than one speed")
    baud, need = max(zip(bauds, needs, strict=True), key=lambda pair: pair[1])
    grows = row.bytes_a_channel > 0
    yield Finding(
        rate.span or craft.place(word),
        f"{rate.value:g} frames a second leave {period_us:.4g} µs each, but on {link} at "
        f"{baud:.0f} baud {need.what}: "
        + ("only shorter frames fit" if grows else "frames are dropped or come late"),
        f"set the receiver to the next slower rate that it offers, at most {int(1e6 / need.us)} "
        "frames a second, or use a faster link",
        (
            *(beside_value(word, "the receiver's link") if rate.span else ()),
            *(related for value in set_bauds for related in beside_value(value, "its line speed")),
        ),
        "advise" if grows else None,
    )


def _heard(link: str, baud: float) -> bool:
    """Whether a port at this speed understands a sender on the link, if only with luck."""
    usual, met = link_baud_within(link, baud), link_baud_within(link, baud, met=True)
    return usual != "fails" or met == "good"


class _Need(NamedTuple):
    """The time that a frame takes with all that belongs to it, and words for that."""

    us: float
    what: str


def period_needed(link: str, baud: float) -> _Need:
    if link == "crsf-one-wire":
        us = 1e6 / one_wire_ceiling_hz(baud)
        return _Need(us, f"one longest frame from each side takes {us:.4g} µs")
    row = LINKS[link]
    frame_us, reply_us = frame_time_us(link, int(baud)), reply_time_us(link, int(baud))
    assert frame_us is not None  # pulse trains have been sent away
    frame = f"a frame of {row.channels_a_frame} channels" if row.bytes_a_channel else "a frame"
    if not reply_us:
        return _Need(frame_us, f"{frame} takes {frame_us:.4g} µs")
    us = frame_us + reply_us
    return _Need(
        us,
        f"{frame} takes {frame_us:.4g} µs and the answer {reply_us:.4g} µs, together {us:.4g} µs",
    )
