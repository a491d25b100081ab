"""Which modes are on: mode ranges cut a channel into stretches, and formulas join them.

Every range of the craft is one bit; ``any`` ranges of one mode on one channel share theirs, since
it makes no difference which of them holds.  A value of a channel is known by the bits of the
ranges that hold it, its *face*; two values with the same face cannot be told apart by any mode,
so nothing beyond this module ever looks at microseconds.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING, Literal, NamedTuple

from cfglint.craft import MODES, Missing, unwatched
from cfglint.switches.intervals import EMPTY, Intervals, between
from cfglint.switches.positions import calibration_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft import Craft, ModeRange
    from cfglint.switches.intervals import Cut
    from cfglint.switches.positions import Band

RangeEnds = Literal["half-open", "closed"]


class Stretch(NamedTuple):
    """The values of a band from ``low`` to ``high``, all of one face."""

    face: int
    low: float
    high: float


class Strip:
    """One channel: where, in arriving µs, its face changes, and what it is in between."""

    __slots__ = ("cuts", "faces")

    def __init__(self, ranges: Iterable[tuple[int, Intervals]]) -> None:
        """``ranges`` are pairs of a bit and the arriving values that set it."""
        turns: dict[Cut, int] = {}
        for bit, values in ranges:
            for cut in values.cuts:
                turns[cut] = turns.get(cut, 0) ^ bit
        self.cuts: list[Cut] = sorted(cut for cut, bits in turns.items() if bits)
        self.faces = [0]
        for cut in self.cuts:
            self.faces.append(self.faces[-1] ^ turns[cut])

    def face(self, arriving: float) -> int:
        return self.faces[bisect_right(self.cuts, (arriving, 0))]

    def walk(self, band: Band) -> list[Stretch]:
        """The faces that a band shows, in order of rising value.

        Costs as many steps as ranges begin or end within the band, however wide it is.
        """
        found: list[Stretch] = []
        cuts, faces, low = self.cuts, self.faces, band.low
        index = bisect_right(cuts, (low, 0))
        while index < len(cuts):
            cut, past = cuts[index]
            following = band.after(cut, past)
            if following is None:
                break
            found.append(Stretch(faces[index], low, following - band.step))
            # A band with steps may leap over a stretch that lies between two of them.
            index = bisect_right(cuts, (following, 0)) if band.step else index + 1
            low = following
        found.append(Stretch(faces[index], low, band.high))
        return found


class Formula(NamedTuple):
    """When one mode is on: all of its ``all`` terms hold, or any of its ``any`` terms does.

    Terms are ranges (bits of a face) and modes followed (bits of a set of modes).  With no
    ``all`` term only the ``any`` terms count, and the other way round.
    """

    all_ranges: int = 0
    all_modes: int = 0
    any_ranges: int = 0
    any_modes: int = 0

    def holds(self, face: int, modes: int) -> bool:
        if face & self.any_ranges or modes & self.any_modes:
            return True
        if not (self.all_ranges or self.all_modes):
            return False
        return (
            face & self.all_ranges == self.all_ranges and modes & self.all_modes == self.all_modes
        )


class Cone(NamedTuple):
    """All that some modes hang on: bits of ranges, bits of modes, channels in order."""

    ranges: int
    modes: int
    channels: tuple[int, ...]


class Logic:
    """The craft's ranges and mode links as formulas over faces.

    ``modes`` are the modes that anything is set for, in the table's order; a set of modes is
    an int with their bits.
    """

    __slots__ = (
        "_bit",
        "_channels",
        "_memo",
        "_range_bits",
        "_strips",
        "craft",
        "ends",
        "formulas",
        "modes",
        "ranges",
    )

    def __init__(self, craft: Craft, ends: RangeEnds) -> None:
        self.craft = craft
        self.ends: RangeEnds = ends
        self.ranges: tuple[ModeRange, ...] = craft.mode_ranges
        # Formulas are made of all rows; which of them an answer uses shows when it is asked for.
        plain, links = unwatched(craft.mode_ranges), unwatched(craft.mode_links)
        self._channels = tuple([row.channel for row in plain])
        named = {row.mode for row in plain} | {row.mode for row in links}
        followed = {row.follows for row in links}
        known = [mode for mode in MODES if mode in named | followed]
        self.modes = (*known, *sorted((named | followed) - set(known)))
        self._bit = {mode: 1 << index for index, mode in enumerate(self.modes)}
        rows = {mode: [0, 0, 0, 0] for mode in self.modes}
        shared: dict[tuple[str, int], int] = {}
        bits: list[int] = []
        for index, item in enumerate(plain):
            bit = 1 << index
            if item.join == "any":
                bit = shared.setdefault((item.mode, item.channel), bit)
            bits.append(bit)
            rows[item.mode][0 if item.join == "all" else 2] |= bit
        self._range_bits = tuple(bits)
        for link in links:
            rows[link.mode][1 if link.join == "all" else 3] |= self._bit[link.follows]
        self.formulas = tuple(Formula(*rows[mode]) for mode in self.modes)
        self._memo: dict[int, int] = {}
        self._strips: dict[int, Strip] = {}

    def bit(self, mode: str) -> int:
        """The mode's bit; 0 for a mode that nothing is set for."""
        return self._bit.get(mode, 0)

    def names(self, modes: int) -> list[str]:
        return [mode for mode, bit in self._bit.items() if modes & bit]

    def channels(self) -> list[int]:
        return sorted({*self._channels})

    def bits_of(self, channel: int) -> int:
        """The bits of all ranges on a channel."""
        found = 0
        for bit, home in zip(self._range_bits, self._channels, strict=True):
            if home == channel:
                found |= bit
        return found

    def rows_on(self, channel: int) -> list[ModeRange]:
        """The ranges on a channel."""
        pairs = zip(self.ranges, self._channels, strict=True)
        return [row for row, home in pairs if home == channel]

    def rows(self, bits: int) -> Iterator[ModeRange]:
        """The ranges whose bits are set."""
        pairs = zip(self._range_bits, self.ranges, strict=True)
        return (row for bit, row in pairs if bit & bits)

    def arriving(self, row: ModeRange) -> Intervals:
        """The arriving values, µs, at which a range holds: back through the calibration.

        Raises Missing where the channel's calibration is impossible (its ends do not rise).
        """
        calibration = calibration_of(self.craft, row.channel)
        if not calibration.possible:
            raise Missing(
                f"channel.{row.channel}.mid_us",
                "dump",
                f"channel {row.channel} is calibrated to {calibration.low:g}, "
                f"{calibration.mid:g} and {calibration.high:g} µs, which do not rise",
            )
        seen = between(row.low_us, row.high_us, self.ends)
        return seen if calibration.plain else seen.mapped(calibration.arriving)

    def strip(self, channel: int) -> Strip:
        """The channel's strip; raises Missing as :meth:`arriving`."""
        if channel not in self._strips:
            held: dict[int, Intervals] = {}
            for bit, row, home in zip(self._range_bits, self.ranges, self._channels, strict=True):
                if home == channel:
                    held[bit] = held.get(bit, EMPTY) | self.arriving(row)
            self._strips[channel] = Strip(held.items())
        return self._strips[channel]

    def seen_face(self, channel: int, pulse: float) -> int:
        """The face of a value that is put in after the calibration (a failsafe pulse)."""
        face = 0
        for bit, row, home in zip(self._range_bits, self.ranges, self._channels, strict=True):
            if home == channel and pulse in between(row.low_us, row.high_us, self.ends):
                face |= bit
        return face

    def on(self, face: int) -> int:
        """The modes that are on.  Links are followed to the end; modes that only follow one
        another in a ring stay off.
        """
        found = self._memo.get(face)
        if found is not None:
            return found
        modes = 0
        while True:
            # No term asks for something to be off, so the set only grows: at most one round
            # a mode.
            grown = modes
            for index, formula in enumerate(self.formulas):
                if not grown >> index & 1 and formula.holds(face, grown):
                    grown |= 1 << index
            if grown == modes:
                break
            modes = grown
        self._memo[face] = modes
        return modes

    def cone(self, modes: Iterable[str]) -> Cone:
        """All that these modes hang on, directly or along links."""
        ranges, seen = 0, 0
        asked = tuple(modes)
        todo = [self._bit[mode] for mode in asked if mode in self._bit]
        while todo:
            bit = todo.pop()
            if seen & bit:
                continue
            seen |= bit
            formula = self.formulas[bit.bit_length() - 1]
            ranges |= formula.all_ranges | formula.any_ranges
            follows = (formula.all_modes | formula.any_modes) & ~seen
            todo.extend(1 << index for index in range(len(self.modes)) if follows >> index & 1)
        if self.craft.unsure or self.craft.unread:
            self._look(asked, seen)
        return Cone(ranges, seen, tuple(sorted({row.channel for row in self.rows(ranges)})))

    def _look(self, asked: tuple[str, ...], seen: int) -> None:
        """Look, in the craft itself, at what was worked out in advance: an answer rests on it."""
        for mode in {*asked, *self.names(seen)}:
            self.craft.ranges_of(mode)
            [link.span for link in self.craft.mode_links if link.mode == mode]
