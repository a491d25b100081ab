"""Single changes of mode ranges and links, and of the dump as a text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchmarks.faults.setups import Change, Range, seen
from cfglint.craft.settings import MODES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from benchmarks.faults.setups import Setup

#: Modes that change how a craft flies.
FLIGHT = ("self-level", "idle-authority", "hold-height", "hold-position")


def mode_changes(setup: Setup) -> Iterator[Change]:
    """Every change of a range or link, and of the text."""
    for at, row in enumerate(setup.ranges):
        yield from _one(setup, at, row)
    yield from _arm(setup)
    yield from _links(setup)
    yield from _text(setup)


def _with(title: str, row: Range, *meant: str, at: int | None = None) -> Change:
    """A range is added or, with ``at``, put in the place of another."""

    def make(setup: Setup) -> None:
        if at is None:
            setup.ranges.append(row)
        else:
            setup.ranges[at] = row

    return Change("range", title, make, meant)


def _one(setup: Setup, at: int, row: Range) -> Iterator[Change]:
    """What can be wrong with any range by itself."""
    said = f"the range of {row.mode} on channel {row.channel}"
    never = ("modes/unreachable-range", "modes/never-on", "*")
    yield _with(f"{said} lies beyond all travel", row._replace(low=2216, high=2280), *never, at=at)
    yield _with(f"{said} moves to channel 40", row._replace(channel=40), *never, at=at)
    yield _with(f"{said} moves to a stick", row._replace(channel=2), "modes/range-on-a-stick", at=at)
    if setup.switch(row.channel) is not None:
        positions = [*setup.switch(row.channel)["positions_us"]]  # type: ignore[index]
        edge = min(positions, key=lambda pulse: abs(pulse - row.low))
        near = row._replace(low=seen(setup, row.channel, edge) - 6)
        # Below the lowest position nothing comes, and within the same mode's other ranges an edge
        # parts nothing.
        alone = [one[:2] for one in setup.ranges].count(row[:2]) == 1
        if edge != min(positions) and alone and near.low < near.high:
            yield _with(f"{said} begins at a switch's position", near, "modes/near-a-range-edge",
                        "*", at=at)  # fmt: skip


def _arm(setup: Setup) -> Iterator[Change]:
    """What can be wrong with arm, its switch and what shares it."""
    at = next(place for place, row in enumerate(setup.ranges) if row.mode == "arm")
    arm = setup.ranges[at]

    def without(mode: str) -> Change:
        def make(setup: Setup) -> None:
            setup.ranges = [row for row in setup.ranges if row.mode != mode]
            setup.links = [row for row in setup.links if row[0] != mode]

        rule = {"arm": "modes/arm-missing", "arm-permit": "modes/permit-missing"}[mode]
        needed = mode == "arm" or setup.needs_permit
        return Change("range", f"{mode} has no range", make, (rule,) if needed else ())

    yield without("arm")
    if setup.channels_of("arm-permit"):
        yield without("arm-permit")
        place = next(n for n, row in enumerate(setup.ranges) if row.mode == "arm-permit")
        yield _with(
            "the permit moves to the arm switch",
            arm._replace(mode="arm-permit"),
            "modes/permit-comes-with-arm",
            at=place,
        )
    yield _with("arm is always on", arm._replace(low=600, high=2400), "modes/always-on", "*", at=at)
    for row in setup.card.get("switch", ()):
        if len(row["positions_us"]) == 3:
            middle = arm._replace(channel=row["channel"], low=1320, high=1680)
            yield _with(
                f"arm moves to the middle of {row['name']}", middle, "switches/arm-in-the-middle",
                at=at,
            )  # fmt: skip
    for mode in ("return-home", "motor-stop"):
        yield _with(f"{mode} joins arm", arm._replace(mode=mode), "switches/arm-switch-shared")
    for mode in FLIGHT:
        for channel in setup.channels_of(mode):
            row = next(row for row in setup.ranges if row[:2] == (mode, channel))
            if row.low > 1150 and row.high > 1900 and channel not in setup.channels_of("arm"):
                moved = arm._replace(channel=channel, low=row.low, high=row.high)
                yield _with(f"arm moves onto {mode}", moved, "*", at=at)
    if setup.channels_of("self-right"):
        place = next(n for n, row in enumerate(setup.ranges) if row.mode == "self-right")
        yield _with(
            "self-right moves to the arm switch",
            arm._replace(mode="self-right"),
            "modes/arm-and-self-right-meet",
            at=place,
        )
    yield _with("log goes with arm", arm._replace(mode="log"))


def _links(setup: Setup) -> Iterator[Change]:
    def link(mode: str, follows: str, *meant: str) -> Change:
        title = f"{mode} follows {follows}"
        return Change("link", title, lambda setup: setup.links.append((mode, follows)), meant)

    nowhere = "modes/link-leads-nowhere"
    there = {row.mode for row in setup.ranges} | {mode for mode, _ in setup.links}
    for mode in ("beacon", "lights"):
        yield link(mode, mode, nowhere)
    for mode in MODES:
        if mode not in there and mode != "lost-link":
            yield link("beacon", mode, nowhere)
    yield link("log", "arm")


def _text(setup: Setup) -> Iterator[Change]:
    """Changes of the dump as a text: cut off, torn, or merely written otherwise."""

    def text(title: str, edit: object, *meant: str) -> Change:
        return Change("text", title, meant=meant, edit=edit)  # type: ignore[arg-type]

    whole = ("dump/not-saved", "dump/rows-missing", "dump/section-left-open", "*")
    yield text("the last line is lost", lambda one: _lines(one, slice(None, -1)), *whole)
    yield text("the last tenth is cut off", lambda one: one[: len(one) * 9 // 10], *whole)
    yield text("the last half is cut off", lambda one: one[: len(one) // 2], *whole)
    yield text(
        "a merge left its marks", lambda one: f"{one}<<<<<<< mine\n", "dump/unreadable-line"
    )
    yield text("line ends are CRLF", lambda one: one.replace("\n", "\r\n"))
    yield text("no last line end", lambda one: one.removesuffix("\n"))
    yield text("a byte-order mark", lambda one: "\ufeff" + one)
    yield text("blank lines at the end", lambda one: one + "\n\n")


def _lines(text: str, which: slice) -> str:
    return "\n".join(text.rstrip("\n").split("\n")[which]) + "\n"
