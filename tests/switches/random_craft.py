"""Random craft for the oracles: few switches, few round numbers, so that edges are hit often."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from cfglint.craft import Traits

from .build import card, craft, link, row, switch

if TYPE_CHECKING:
    from cfglint.craft import Craft

MODES = ("arm", "arm", "self-right", "arm-permit", "lost-link", "beacon", "self-level", "lights")
CHANNELS = (5, 6, 7)
EDGES = st.sampled_from([790, 905, 1000, 1180, 1320, 1500, 1502, 1730, 1996, 2000, 2090, 2210])
PULSES = st.sampled_from([905, 1000, 1240, 1320, 1500, 1730, 1760, 2000, 2140])
JOINS = st.sampled_from(["any", "any", "all"])
PUTS = st.sampled_from(["hold", "drop", "1000", "1500", "1730", "2000"])


@st.composite
def crafts(draw: Any, *, link_known: bool | None = None) -> Craft:
    """A craft with two or three switches on its card and every fact stated."""
    channels = CHANNELS[: draw(st.integers(2, 3))]
    switches = [
        switch(
            f"S{channel}",
            channel,
            sorted(draw(st.sets(PULSES, min_size=2, max_size=3)), reverse=draw(st.booleans())),
            jitter=draw(st.sampled_from([0, 0, 2, 4])),
        )
        for channel in channels
    ]
    # Arm nearly always; the rest as it comes.
    ranges = [row("arm", 5, draw(EDGES), draw(EDGES), draw(JOINS))] if draw(st.booleans()) else []
    ranges += [row("arm", 5, 1685, 2075)] if draw(st.integers(0, 3)) else []
    ranges += [row("self-right", 6, 1610, 2160)] if draw(st.booleans()) else []
    for _ in range(draw(st.integers(0, 6))):
        low, high = draw(EDGES), draw(EDGES)
        if draw(st.integers(0, 9)):
            low, high = min(low, high), max(low, high)
        channel = draw(st.sampled_from(channels))
        ranges.append(row(draw(st.sampled_from(MODES)), channel, low, high, draw(JOINS)))
    links = [
        link(draw(st.sampled_from(MODES)), draw(st.sampled_from(MODES)), draw(JOINS))
        for _ in range(draw(st.sampled_from([0, 0, 0, 1, 2, 3])))
    ]
    known = draw(st.booleans()) if link_known is None else link_known
    values: dict[str, Any] = {
        "failsafe.action": draw(st.sampled_from(["stop", "none", "hold-last", "descend"])),
        **{f"failsafe.channel.{channel}": draw(PUTS) for channel in channels},
    }
    if known:
        values["receiver.link"] = "crsf"
    if draw(st.booleans()):
        # Steps of a quarter survive these exactly in neither direction: fractions are needed.
        values |= {"channel.6.low_us": 1020, "channel.6.mid_us": 1510, "channel.6.high_us": 1990}
    traits = Traits(
        draw(st.sampled_from(["half-open", "closed"])), "absolute", draw(st.booleans()), True
    )
    on_card = card(*switches, receiver__on_loss="silent")
    return craft(ranges, links, card=on_card, values=values, traits=traits)
