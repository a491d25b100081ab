"""Receiver links: how each speaks on its wire, and which channel values it can carry.

Times and channel values are microseconds, baud is bits a second.  Functions take a link's id
and raise ValueError for an id that is not in :data:`LINKS`.  What no source gives is None and
stays unknown; nothing is filled in from a link that looks alike.
"""

from __future__ import annotations

from math import floor, isfinite
from typing import Literal, NamedTuple

from cfglint.facts.table import Mark, row_of

Wires = Literal["one way", "full duplex", "half duplex"]
Rounding = Literal["nearest"]
BaudVerdict = Literal["good", "limit", "fails"]

#: Channel value at 0 %, in the middle and at 100 %, unless the link's row says otherwise.
#: Source: {mavlink}, RC_CHANNELS (its two ends).
NOMINAL_LOW_US, NOMINAL_CENTRE_US, NOMINAL_HIGH_US = 1000.0, 1500.0, 2000.0

#: Room, µs, to keep between a switch position and the edge of a mode range.  It is more than 24
#: times the widest spread that a channel at rest shows in an open recording (0.2 to 0.9 µs
#: standard deviation), and leaves as much again for drift with temperature, trim and receiver.
EDGE_MARGIN_US = 22.0
EDGE_MARGIN_SOURCE = "spread of a channel at rest: {recorded}; margin over it: common practice"


class Travel(NamedTuple):
    """The channel values, µs, that a stick sends from end to end with ordinary settings."""

    low_us: float
    high_us: float
    source: str
    mark: Mark


class Scaling(NamedTuple):
    """How a link's whole numbers, ticks, stand for µs: ``offset_us + tick · step_us``.

    Every step here has a power of two below the line, so the arithmetic is exact.
    ``lowest_tick`` and ``highest_tick`` bound what can be sent (None: unknown).  ``rounding``
    is how µs become a tick, None where that is unknown; the functions below go to the nearest
    then too, which may differ from the real link by one step.
    """

    offset_us: float
    step_us: float
    lowest_tick: int | None
    highest_tick: int | None
    rounding: Rounding | None
    source: str
    mark: Mark


class Channels(NamedTuple):
    """How many channels a link carries.

    ``sure``: every receiver on this link; ``most``: with all that its specification allows for,
    None where no maximum is published.  ``on_off`` are channels that are only on or off; what
    µs a controller takes for either is not published, the ends of the usual travel are common.
    """

    sure: int
    most: int | None
    on_off: tuple[int, ...]
    source: str
    mark: Mark

    def may_carry(self, channel: int) -> bool:
        return self.most is None or channel <= self.most


class Link(NamedTuple):
    """One receiver link.

    ``idle_inverted``: the wire idles low (None: either is allowed).  ``bauds``: in use, the
    usual one first (empty for a pulse train); ``bauds_met``: met too, though the description of
    the link does not have them.  ``wire_bits``: bits on the wire for one byte
    (8N1 10, 8E2 12); ``data_bits``: data and parity bits among them, for
    :func:`baud_within`; both 0 for a pulse train.
    ``frame_bytes``: one frame that carries ``channels_a_frame`` channels, None for a pulse
    train.  Where ``bytes_a_channel`` is not 0, each channel more or fewer changes its length by
    so many bytes.  ``largest_bytes``: the longest frame of any kind on this link, None where
    unknown.  ``reply_bytes``: what the controller answers to a frame within the same period, 0
    where it does not or may leave it.
    Where a frame carries fewer than ``channels``, they take turns.
    ``periods_us``: usual times from frame to frame, shortest first (for a range, its ends).
    ``wires_too``: another way of wiring that the link's description allows.
    ``lowest_us`` and ``highest_us``: what can be sent at all, None where unknown;
    ``usual``: what is sent by ordinary settings, None where unknown.
    """

    id: str
    title: str
    idle_inverted: bool | None
    bauds: tuple[int, ...]
    bauds_met: tuple[int, ...]
    wire_bits: int
    data_bits: int
    frame_bytes: int | None
    bytes_a_channel: int
    largest_bytes: int | None
    reply_bytes: int
    channels: Channels
    channels_a_frame: int
    periods_us: tuple[float, ...]
    wires: Wires
    wires_too: Wires | None
    lowest_us: float | None
    highest_us: float | None
    usual: Travel | None
    scaling: Scaling | None
    source: str
    mark: Mark


#: Ticks 172 and 1811, the usual ends of 11-bit links; no specification states them.
USUAL_LOW_TICK, USUAL_HIGH_TICK = 172, 1811
_ELEVEN_BIT_TRAVEL = Travel(987.5, 2011.875, "common practice", "common practice")
_CRSF_TRAVEL = Travel(987.5, 2011.875, "{crsf-wiki}", "published")
_NOMINAL_TRAVEL = Travel(NOMINAL_LOW_US, NOMINAL_HIGH_US, "common practice", "common practice")
_SPEKTRUM_TRAVEL = Travel(1102, 1898, "100 % either way: {interfacing}", "published")

# Eleven bits reach 2047; the wiki's table of ticks ends at 1984.
_CRSF_SCALING = Scaling(
    880,
    5 / 8,
    0,
    1984,
    None,
    "formula: {crsf}, frame 0x16, which gives neither ends nor rounding; ends: {crsf-wiki}",
    "published",
)
_SBUS_SCALING = Scaling(880, 5 / 8, 0, 2047, None, "from memory", "from memory")
_CRSF_CHANNELS = Channels(
    16,
    32,
    (),
    "16 in frame 0x16: {crsf}; a frame of some channels that numbers them to 32: from memory",
    "from memory",
)

LINKS: dict[str, Link] = {
    row.id: row
    for row in (
        Link(
            id="sbus",
            title="SBUS",
            idle_inverted=True,
            bauds=(100_000,),
            bauds_met=(200_000,),
            wire_bits=12,
            data_bits=9,
            frame_bytes=25,
            bytes_a_channel=0,
            largest_bytes=25,
            reply_bytes=0,
            channels=Channels(
                18, 18, (17, 18), "16 of 11 bits, two that are on or off: {sbus}", "published"
            ),
            channels_a_frame=18,
            periods_us=(7000, 14_000),
            wires="one way",
            wires_too=None,
            lowest_us=880,
            highest_us=2159.375,
            usual=_ELEVEN_BIT_TRAVEL,
            scaling=_SBUS_SCALING,
            source="wire and frame: {sbus}; period and the fast variant: common practice; "
            "tick scaling: from memory",
            mark="from memory",
        ),
        Link(
            id="crsf",
            title="CRSF on two wires",
            idle_inverted=False,
            bauds=(416_666,),
            bauds_met=(),
            wire_bits=10,
            data_bits=8,
            frame_bytes=26,
            bytes_a_channel=0,
            largest_bytes=64,
            reply_bytes=0,
            channels=_CRSF_CHANNELS,
            channels_a_frame=16,
            periods_us=(2000, 20_000),
            wires="full duplex",
            wires_too=None,
            lowest_us=880,
            highest_us=2120,
            usual=_CRSF_TRAVEL,
            scaling=_CRSF_SCALING,
            source="{crsf}; usual periods: common practice",
            mark="common practice",
        ),
        Link(
            id="crsf-one-wire",
            title="CRSF on one wire",
            idle_inverted=None,
            bauds=(400_000, 115_200, 1_000_000, 2_000_000),
            # The half-duplex rules are written for handset and module.
            bauds_met=(416_666,),
            wire_bits=10,
            data_bits=8,
            frame_bytes=26,
            bytes_a_channel=0,
            largest_bytes=64,
            # A period must hold one largest frame from each side.
            reply_bytes=64,
            channels=_CRSF_CHANNELS,
            channels_a_frame=16,
            # At 400 000 baud; see one_wire_ceiling_hz for the others.
            periods_us=(3200, 20_000),
            wires="half duplex",
            wires_too=None,
            lowest_us=880,
            highest_us=2120,
            usual=_CRSF_TRAVEL,
            scaling=_CRSF_SCALING,
            source="{crsf}; longest usual period, and 416 666 baud: common practice",
            mark="common practice",
        ),
        Link(
            id="ibus",
            title="iBUS",
            idle_inverted=False,
            bauds=(115_200,),
            bauds_met=(),
            wire_bits=10,
            data_bits=8,
            frame_bytes=32,
            bytes_a_channel=0,
            largest_bytes=32,
            reply_bytes=0,
            channels=Channels(
                14, None, (), "14, on recent receivers more: common practice", "common practice"
            ),
            channels_a_frame=14,
            periods_us=(7000,),
            wires="one way",
            wires_too=None,
            lowest_us=None,
            highest_us=None,
            usual=_NOMINAL_TRAVEL,
            scaling=Scaling(0, 1, None, None, None, "from memory", "from memory"),
            source="wire and frame: common practice; period and ticks: from memory",
            mark="from memory",
        ),
        Link(
            id="dsm",
            title="DSM serial",
            idle_inverted=False,
            bauds=(115_200,),
            bauds_met=(125_000,),
            wire_bits=10,
            data_bits=8,
            frame_bytes=16,
            bytes_a_channel=0,
            largest_bytes=16,
            reply_bytes=0,
            channels=Channels(
                12,
                20,
                (),
                "12, and 8 more by its X-Plus extension: {interfacing}; that there are never more "
                "than 20: common practice",
                "common practice",
            ),
            channels_a_frame=7,
            periods_us=(11_000, 22_000),
            wires="one way",
            wires_too=None,
            lowest_us=903,
            highest_us=903 + 2047 * 1194 / 2048,
            usual=_SPEKTRUM_TRAVEL,
            scaling=Scaling(
                903,
                1194 / 2048,
                0,
                2047,
                None,
                "0.583 µs a step about 1500, or twice that, by the way the receiver was bound: "
                "{interfacing}; here the finer one, which has every value of the other",
                "published",
            ),
            source="{interfacing}; 125 000 baud: common practice",
            mark="common practice",
        ),
        Link(
            id="srxl2",
            title="SRXL2",
            idle_inverted=False,
            bauds=(115_200, 400_000),
            bauds_met=(),
            wire_bits=10,
            data_bits=8,
            # 14 bytes and two for each channel.
            frame_bytes=46,
            bytes_a_channel=2,
            # Of any message; the most channels make 78.
            largest_bytes=80,
            # One message of telemetry.
            reply_bytes=22,
            channels=Channels(32, 32, (), "the bits of its mask: {srxl2}", "published"),
            channels_a_frame=16,
            periods_us=(5500, 11_000),
            wires="half duplex",
            wires_too=None,
            lowest_us=903,
            highest_us=903 + 65532 * 1194 / 65536,
            usual=_SPEKTRUM_TRAVEL,
            scaling=Scaling(
                903,
                1194 / 65536,
                0,
                65532,
                None,
                "ticks: {srxl2}, §7.7.1; µs: {interfacing}",
                "published",
            ),
            source="{srxl2}; length of the reply: from memory",
            mark="from memory",
        ),
        Link(
            id="sumd",
            title="SUMD",
            idle_inverted=False,
            bauds=(115_200,),
            bauds_met=(),
            wire_bits=10,
            data_bits=8,
            frame_bytes=37,
            bytes_a_channel=2,
            largest_bytes=69,
            reply_bytes=0,
            channels=Channels(16, 32, (), "common practice", "common practice"),
            channels_a_frame=16,
            periods_us=(10_000,),
            wires="one way",
            wires_too=None,
            lowest_us=900,
            highest_us=2100,
            usual=Travel(1100, 1900, "from memory", "from memory"),
            scaling=Scaling(0, 1 / 8, 7200, 16_800, None, "from memory", "from memory"),
            source="frame of 3 + 2n + 2 bytes: common practice; the rest: from memory",
            mark="from memory",
        ),
        Link(
            id="fport",
            title="FPort",
            idle_inverted=True,
            bauds=(115_200,),
            bauds_met=(),
            wire_bits=10,
            data_bits=8,
            # Longer where a byte has to be stuffed.
            frame_bytes=29,
            bytes_a_channel=0,
            largest_bytes=None,
            reply_bytes=0,
            channels=Channels(18, 18, (17, 18), "data and flags as SBUS: {fport}", "published"),
            channels_a_frame=18,
            periods_us=(9000,),
            wires="half duplex",
            wires_too="full duplex",
            lowest_us=880,
            highest_us=2159.375,
            usual=_ELEVEN_BIT_TRAVEL,
            scaling=_SBUS_SCALING,
            source="{fport}; period and tick scaling: from memory",
            mark="from memory",
        ),
        Link(
            id="ppm",
            title="PPM sum",
            # The sense of the pulses differs from receiver to receiver.
            idle_inverted=None,
            bauds=(),
            bauds_met=(),
            wire_bits=0,
            data_bits=0,
            frame_bytes=None,
            bytes_a_channel=0,
            largest_bytes=None,
            reply_bytes=0,
            channels=Channels(
                8, None, (), "8, with no published maximum: common practice", "common practice"
            ),
            channels_a_frame=8,
            periods_us=(22_500,),
            wires="one way",
            wires_too=None,
            lowest_us=None,
            highest_us=None,
            usual=_NOMINAL_TRAVEL,
            scaling=None,
            source="common practice",
            mark="common practice",
        ),
    )
}


class BaudTolerance(NamedTuple):
    """How far, in percent, a sender's baud may lie from the receiver's: least and most."""

    good_low: float
    good_high: float
    limit_low: float
    limit_high: float


#: By data and parity bits in a character.
#: Source: {usart} (recommended, and at the limit).
BAUD_TOLERANCES: dict[int, BaudTolerance] = {
    8: BaudTolerance(-2.0, 2.0, -4.64, 4.58),
    9: BaudTolerance(-1.5, 1.5, -4.19, 4.14),
}


def frame_time_us(
    link: str, baud: int | None = None, *, channels: int | None = None, largest: bool = False
) -> float | None:
    """Time of one frame on the wire: bytes × bits a byte ÷ baud, in µs.

    ``baud`` None takes the link's usual one.  ``channels`` counts for links whose frames
    grow with them and is ignored by others; None takes ``channels_a_frame``.  ``largest`` asks
    for the longest frame of any kind instead.  None where the length is unknown and for a pulse
    train.  Raises ValueError for a baud or a number of channels below 1, or more channels than
    the link has.
    """
    row = row_of(LINKS, link, "receiver link")
    length = row.largest_bytes if largest else row.frame_bytes
    if baud is not None:
        _positive(baud)
    if channels is not None and not (channels >= 1 and row.channels.may_carry(channels)):
        raise ValueError(
            f"{row.title} carries 1 to {row.channels.most or 'any number of'} channels, "
            f"not {channels}"
        )
    if length is None:
        return None
    if channels is not None and not largest:
        length += (channels - row.channels_a_frame) * row.bytes_a_channel
    return _time_us(row, length, baud)


def reply_time_us(link: str, baud: int | None = None) -> float:
    """Time of what the controller answers to a frame within the same period, 0 if nothing.

    ``baud`` None takes the link's usual one.  Raises ValueError for a baud below 1.
    """
    row = row_of(LINKS, link, "receiver link")
    if baud is not None:
        _positive(baud)
    return _time_us(row, row.reply_bytes, baud) if row.reply_bytes else 0.0


def _time_us(row: Link, length: int, baud: int | None) -> float:
    return length * row.wire_bits * 1e6 / (baud or row.bauds[0])


def baud_within(sender: float, receiver: float, bits: int = 8) -> BaudVerdict:
    """Whether a sender at one baud is understood by a receiver at another.

    ``bits`` counts data and parity bits (8N1: 8, 8E2: 9; a link's ``data_bits``).  ``good``:
    within the recommended error; ``limit``: works with luck; ``fails``: does not.
    Raises ValueError for bauds that are not above 0 and for bits other than 8 or 9.
    """
    _positive(sender)
    _positive(receiver)
    if bits not in BAUD_TOLERANCES:
        raise ValueError(f"no baud tolerance is known for {bits} bits; known: 8, 9")
    row = BAUD_TOLERANCES[bits]
    off = (sender - receiver) * 100 / receiver
    if row.good_low <= off <= row.good_high:
        return "good"
    return "limit" if row.limit_low <= off <= row.limit_high else "fails"


def link_baud_within(link: str, port: float, *, met: bool = False) -> BaudVerdict | None:
    """The best verdict of a port at baud ``port`` that listens to a sender on this link.

    The sender runs at any of the link's usual bauds or, with ``met``, at one that is met too.
    None where there is none (a pulse train).  Raises ValueError as :func:`baud_within`.
    """
    row = row_of(LINKS, link, "receiver link")
    _positive(port)
    bauds = row.bauds_met if met else row.bauds
    verdicts = {baud_within(baud, port, row.data_bits) for baud in bauds}
    ranked: tuple[BaudVerdict, ...] = ("good", "limit", "fails")
    return next((verdict for verdict in ranked if verdict in verdicts), None)


def one_wire_ceiling_hz(baud: float) -> float:
    """Most frames a second on one-wire CRSF: a period holds one largest frame from each side.

    Derived from {crsf} (64 bytes at most, 8N1).
    Raises ValueError for a baud that is not above 0.
    """
    _positive(baud)
    return baud / (2 * 64 * 10)


def sum_signal_rest_us(channels: int, highest_us: float = 2000, period_us: float = 22_500) -> float:
    """What is left of a PPM sum period when all channels are at ``highest_us``.

    The receiving end finds the first channel by this pause, so it must be longer than any
    channel; below 0 the channels do not even fit.  Common practice.
    """
    return period_us - channels * highest_us


def tick_to_us(link: str, tick: int) -> float | None:
    """The µs that a tick stands for, exactly; None where the link's scaling is unknown.

    Raises ValueError for a tick that the link cannot send.
    """
    row = row_of(LINKS, link, "receiver link")
    scale = row.scaling
    if scale is None:
        return None
    below = scale.lowest_tick is not None and tick < scale.lowest_tick
    above = scale.highest_tick is not None and tick > scale.highest_tick
    if below or above:
        raise ValueError(
            f"{row.title} has no tick {tick}: they run from {scale.lowest_tick} "
            f"to {scale.highest_tick}"
        )
    return scale.offset_us + tick * scale.step_us


def us_to_tick(link: str, us: float) -> int | None:
    """The tick nearest to ``us``, halves upward; None where the link's scaling is unknown.

    Raises ValueError for a value that the link cannot send (see :func:`clip_and_quantise`).
    """
    row = row_of(LINKS, link, "receiver link")
    if not isfinite(us):
        raise ValueError(f"{us} is no channel value in µs")
    below = row.lowest_us is not None and us < row.lowest_us
    above = row.highest_us is not None and us > row.highest_us
    if row.scaling is not None and (below or above):
        raise ValueError(
            f"{row.title} cannot send {us:g} µs: it carries {row.lowest_us:g} "
            f"to {row.highest_us:g} µs"
        )
    return _nearest_tick(row.scaling, us)


def clip_and_quantise(link: str, us: float) -> float:
    """What arrives when ``us`` is sent: held within the link's ends, then to its nearest step.

    Each of the two is left out where the link's row does not know it (``lowest_us`` and
    ``highest_us``, ``scaling``); the caller says so if that matters.
    Raises ValueError for a value that is not finite.
    """
    row = row_of(LINKS, link, "receiver link")
    if not isfinite(us):
        raise ValueError(f"{us} is no channel value in µs")
    if row.lowest_us is not None:
        us = max(us, row.lowest_us)
    if row.highest_us is not None:
        us = min(us, row.highest_us)
    tick = _nearest_tick(row.scaling, us)
    if row.scaling is None or tick is None:
        return us
    return row.scaling.offset_us + tick * row.scaling.step_us


def _nearest_tick(scale: Scaling | None, us: float) -> int | None:
    return None if scale is None else floor((us - scale.offset_us) / scale.step_us + 0.5)


def _positive(baud: float) -> None:
    if not (isfinite(baud) and baud > 0):
        raise ValueError(f"a baud of {baud} is impossible: it must be above 0")
