"""Receiver links: how each speaks on its wire, and which channel values it can carry.

Times and channel values are microseconds, baud is bits a second.  Functions take a link's id
and raise ValueError for an id that is not in :data:`LINKS`.  What no source gives is None and
stays unknown; nothing is filled in from a link that looks alike.
"""

from __future__ import annotations

from math import floor, isfinite
from typing import Literal

from cfglint.facts.table import Mark, row_of
from cfglint.record import NamedTuple

Wires = Literal["one way", "full duplex", "half duplex"]
Rounding = Literal["nearest"]
BaudVerdict = Literal["good", "limit", "fails"]

#: Channel value at 0 %, in the middle and at 100 %, unless the link's row says otherwise.
#: Source: MAVLink common message set, RC_CHANNELS (its two ends).
NOMINAL_LOW_US, NOMINAL_CENTRE_US, NOMINAL_HIGH_US = 1000.0, 1500.0, 2000.0


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


class Link(NamedTuple):
    """One receiver link.

    ``idle_inverted``: the wire idles low (None: either is allowed).  ``bauds``: in use, the
    usual one first (empty for a pulse train).  ``wire_bits``: bits on the wire for one byte
    (8N1 10, 8E2 12); ``data_bits``: data and parity bits among them, for
    :func:`baud_within`; both 0 for a pulse train.
    ``frame_bytes``: one frame that carries ``channels_a_frame`` channels, None for a pulse
    train.  Where ``bytes_a_channel`` is not 0, a frame with fewer channels is that much
    shorter each.  ``frame_fixed``: frames never come shorter.  ``largest_bytes``: the longest
    frame of any kind on this link, None where unknown.
    ``channels``: as many as the link knows; where a frame carries fewer, they take turns.
    ``periods_us``: usual times from frame to frame, shortest first (for a range, its ends).
    ``lowest_us`` and ``highest_us``: what can be sent at all, None where unknown;
    ``usual``: what is sent by ordinary settings, None where unknown.
    """

    id: str
    title: str
    idle_inverted: bool | None
    bauds: tuple[int, ...]
    wire_bits: int
    data_bits: int
    frame_bytes: int | None
    frame_fixed: bool
    bytes_a_channel: int
    largest_bytes: int | None
    channels: int
    channels_a_frame: int
    periods_us: tuple[float, ...]
    wires: Wires
    lowest_us: float | None
    highest_us: float | None
    usual: Travel | None
    scaling: Scaling | None
    source: str
    mark: Mark


_CRSF = "CRSF V3 Protocol Specification"
_SRXL2 = "Specification for Spektrum SRXL2, Rev K"
_INTERFACING = "Spektrum Remote Receiver Interfacing, Rev A"

#: Ticks 172 and 1811, the usual ends of 11-bit links; no specification states them.
USUAL_LOW_TICK, USUAL_HIGH_TICK = 172, 1811
_ELEVEN_BIT_TRAVEL = Travel(987.5, 2011.875, "common practice", "common practice")
_NOMINAL_TRAVEL = Travel(NOMINAL_LOW_US, NOMINAL_HIGH_US, "common practice", "common practice")
_SPEKTRUM_TRAVEL = Travel(1102, 1898, f"{_INTERFACING} (100 % either way)", "published")

# The published table of ticks ends at 1984, although 11 bits reach 2047.
_CRSF_SCALING = Scaling(880, 5 / 8, 0, 1984, "nearest", f"{_CRSF}, frame 0x16", "published")
_SBUS_SCALING = Scaling(880, 5 / 8, 0, 2047, None, "from memory", "from memory")

LINKS: dict[str, Link] = {
    row.id: row
    for row in (
        Link(
            id="sbus",
            title="SBUS",
            idle_inverted=True,
            bauds=(100_000,),
            wire_bits=12,
            data_bits=9,
            frame_bytes=25,
            frame_fixed=True,
            bytes_a_channel=0,
            largest_bytes=25,
            channels=16,
            channels_a_frame=16,
            periods_us=(7000, 14_000),
            wires="one way",
            lowest_us=880,
            highest_us=2159.375,
            usual=_ELEVEN_BIT_TRAVEL,
            scaling=_SBUS_SCALING,
            source="wire, frame and period: common practice; tick scaling: from memory",
            mark="from memory",
        ),
        Link(
            id="crsf",
            title="CRSF on two wires",
            idle_inverted=False,
            bauds=(416_666,),
            wire_bits=10,
            data_bits=8,
            frame_bytes=26,
            frame_fixed=True,
            bytes_a_channel=0,
            largest_bytes=64,
            channels=16,
            channels_a_frame=16,
            periods_us=(2000, 20_000),
            wires="full duplex",
            lowest_us=880,
            highest_us=2120,
            usual=_ELEVEN_BIT_TRAVEL,
            scaling=_CRSF_SCALING,
            source=f"{_CRSF}; usual periods: common practice",
            mark="common practice",
        ),
        Link(
            id="crsf-one-wire",
            title="CRSF on one wire",
            idle_inverted=None,
            bauds=(400_000, 115_200, 1_000_000, 2_000_000),
            wire_bits=10,
            data_bits=8,
            frame_bytes=26,
            frame_fixed=True,
            bytes_a_channel=0,
            largest_bytes=64,
            channels=16,
            channels_a_frame=16,
            # At 400 000 baud; see one_wire_ceiling_hz for the others.
            periods_us=(3200, 20_000),
            wires="half duplex",
            lowest_us=880,
            highest_us=2120,
            usual=_ELEVEN_BIT_TRAVEL,
            scaling=_CRSF_SCALING,
            source=f"{_CRSF}; longest usual period: common practice",
            mark="common practice",
        ),
        Link(
            id="ibus",
            title="iBUS",
            idle_inverted=False,
            bauds=(115_200,),
            wire_bits=10,
            data_bits=8,
            frame_bytes=32,
            frame_fixed=True,
            bytes_a_channel=0,
            largest_bytes=32,
            channels=14,
            channels_a_frame=14,
            periods_us=(7000,),
            wires="one way",
            lowest_us=None,
            highest_us=None,
            usual=_NOMINAL_TRAVEL,
            scaling=Scaling(0, 1, None, None, None, "from memory", "from memory"),
            source="wire and frame: common practice; channels, period and ticks: from memory",
            mark="from memory",
        ),
        Link(
            id="dsm",
            title="DSM serial",
            idle_inverted=False,
            bauds=(115_200, 125_000),  # both are reported
            wire_bits=10,
            data_bits=8,
            frame_bytes=16,
            frame_fixed=True,
            bytes_a_channel=0,
            largest_bytes=16,
            channels=12,
            channels_a_frame=7,
            periods_us=(11_000, 22_000),
            wires="one way",
            lowest_us=903,
            highest_us=2097,
            usual=_SPEKTRUM_TRAVEL,
            # Steps come in two sizes, by the way the receiver was bound.
            scaling=None,
            source=f"travel: {_INTERFACING}; frame and periods: common practice; "
            "channels: from memory",
            mark="from memory",
        ),
        Link(
            id="srxl2",
            title="SRXL2",
            idle_inverted=False,
            bauds=(115_200, 400_000),
            wire_bits=10,
            data_bits=8,
            frame_bytes=80,
            frame_fixed=False,
            bytes_a_channel=0,
            largest_bytes=80,
            channels=32,
            channels_a_frame=32,
            periods_us=(5500, 11_000),
            wires="half duplex",
            lowest_us=903,
            highest_us=903 + 65532 * 1194 / 65536,
            usual=_SPEKTRUM_TRAVEL,
            scaling=Scaling(
                903,
                1194 / 65536,
                0,
                65532,
                None,
                f"ticks: {_SRXL2}, §7.7.1; µs: {_INTERFACING}",
                "published",
            ),
            source=f"{_SRXL2}; number of channels: from memory",
            mark="from memory",
        ),
        Link(
            id="sumd",
            title="SUMD",
            idle_inverted=False,
            bauds=(115_200,),
            wire_bits=10,
            data_bits=8,
            frame_bytes=37,
            frame_fixed=False,
            bytes_a_channel=2,
            largest_bytes=None,
            channels=16,
            channels_a_frame=16,
            periods_us=(10_000,),
            wires="one way",
            lowest_us=900,
            highest_us=2100,
            usual=Travel(1100, 1900, "from memory", "from memory"),
            scaling=Scaling(0, 1 / 8, 7200, 16_800, None, "from memory", "from memory"),
            source="from memory",
            mark="from memory",
        ),
        Link(
            id="fport",
            title="FPort",
            idle_inverted=True,
            bauds=(115_200,),
            wire_bits=10,
            data_bits=8,
            frame_bytes=29,
            frame_fixed=True,
            bytes_a_channel=0,
            largest_bytes=None,
            channels=16,
            channels_a_frame=16,
            periods_us=(9000,),
            wires="half duplex",
            lowest_us=880,
            highest_us=2159.375,
            usual=_ELEVEN_BIT_TRAVEL,
            scaling=_SBUS_SCALING,
            source="from memory",
            mark="from memory",
        ),
        Link(
            id="ppm",
            title="PPM sum",
            # The sense of the pulses differs from receiver to receiver.
            idle_inverted=None,
            bauds=(),
            wire_bits=0,
            data_bits=0,
            frame_bytes=None,
            frame_fixed=False,
            bytes_a_channel=0,
            largest_bytes=None,
            channels=8,
            channels_a_frame=8,
            periods_us=(22_500,),
            wires="one way",
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
#: Source: Microchip USART data sheets, "Error Tolerance" (recommended, and at the limit).
BAUD_TOLERANCES: dict[int, BaudTolerance] = {
    8: BaudTolerance(-2.0, 2.0, -4.64, 4.58),
    9: BaudTolerance(-1.5, 1.5, -4.19, 4.14),
}


def frame_time_us(
    link: str, baud: int | None = None, *, channels: int | None = None, largest: bool = False
) -> float | None:
    """Time of one frame on the wire: bytes × bits a byte ÷ baud, in µs.

    ``baud`` None takes the link's usual one.  ``channels`` counts for links whose frames
    shrink with them and is ignored by others; None takes a full frame.  ``largest`` asks for
    the longest frame of any kind instead.  None where the length is unknown and for a pulse
    train.  Raises ValueError for a baud or a number of channels below 1, or more channels than
    the link has.
    """
    row = row_of(LINKS, link, "receiver link")
    length = row.largest_bytes if largest else row.frame_bytes
    if baud is not None:
        _positive(baud)
    if channels is not None and not 1 <= channels <= row.channels:
        raise ValueError(f"{row.title} carries 1 to {row.channels} channels, not {channels}")
    if length is None:
        return None
    if channels is not None and not largest:
        length -= (row.channels_a_frame - channels) * row.bytes_a_channel
    return length * row.wire_bits * 1e6 / (baud or row.bauds[0])


def baud_within(actual: float, wanted: float, bits: int = 8) -> BaudVerdict:
    """Whether a sender at ``actual`` baud is understood by a receiver at ``wanted``.

    ``bits`` counts data and parity bits (8N1: 8, 8E2: 9; a link's ``data_bits``).  ``good``:
    within the recommended error; ``limit``: works with luck; ``fails``: does not.
    Raises ValueError for bauds that are not above 0 and for bits other than 8 or 9.
    """
    _positive(actual)
    _positive(wanted)
    if bits not in BAUD_TOLERANCES:
        raise ValueError(f"no baud tolerance is known for {bits} bits; known: 8, 9")
    row = BAUD_TOLERANCES[bits]
    off = (actual - wanted) * 100 / wanted
    if row.good_low <= off <= row.good_high:
        return "good"
    return "limit" if row.limit_low <= off <= row.limit_high else "fails"


def link_baud_within(link: str, actual: float) -> BaudVerdict | None:
    """The best verdict of ``actual`` against any of the link's usual bauds.

    None for a pulse train, which has none.  Raises ValueError as :func:`baud_within`.
    """
    row = row_of(LINKS, link, "receiver link")
    _positive(actual)
    verdicts = {baud_within(actual, baud, row.data_bits) for baud in row.bauds}
    ranked: tuple[BaudVerdict, ...] = ("good", "limit", "fails")
    return next((verdict for verdict in ranked if verdict in verdicts), None)


def one_wire_ceiling_hz(baud: float) -> float:
    """Most frames a second on one-wire CRSF: a period holds one largest frame from each side.

    Derived from the CRSF V3 Protocol Specification (64 bytes at most, 8N1).
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
