"""Single changes of mode ranges and links, and of the dump as a text."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from benchmarks.faults.setups import Change, Range, seen
from cfglint.craft.settings import MODES
from cfglint.dialect import bundled

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
    yield from _together(setup)
    yield from _text(setup)
    yield from _torn(setup)


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
    alone = [one.mode for one in setup.ranges].count(row.mode) == 1
    if alone and row.join == "any" and (row.low > 1150 or row.high < 1850):

        def torn(setup: Setup) -> None:
            setup.ranges[at] = row._replace(join="all")
            apart = (800, 1100) if row.low > 1150 else (1900, 2200)
            setup.ranges.append(Range(row.mode, row.channel, *apart, "all"))
            setup.links = [one for one in setup.links if one[0] != row.mode]

        yield Change("range", f"{row.mode} waits for two ends at once", torn,
                     ("modes/never-on", "*"))  # fmt: skip
    said = f"the range of {row.mode} on channel {row.channel}"
    never = ("modes/unreachable-range", "modes/never-on", "*")
    yield _with(f"{said} lies beyond all travel", row._replace(low=2216, high=2280), *never, at=at)
    yield _with(f"{said} moves to channel 40", row._replace(channel=40), *never, at=at)
    yield _with(
        f"{said} moves to a stick", row._replace(channel=2), "modes/range-on-a-stick", at=at
    )
    switch = setup.switch(row.channel)
    if switch is not None:
        positions = [*switch["positions_us"]]
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


def _together(setup: Setup) -> Iterator[Change]:
    """Ranges that are sound one by one, and not with what is there."""
    at = next(place for place, row in enumerate(setup.ranges) if row.mode == "arm")
    arm = setup.ranges[at]
    switch = setup.switch(arm.channel)
    assert switch is not None
    on = [seen(setup, arm.channel, pulse) for pulse in switch["positions_us"]]
    edge = next(pulse for pulse in on if arm.low <= pulse <= arm.high)
    itself = ("switches/arms-by-itself", "modes/near-a-range-edge", "*")
    yield _with("arm begins within a position", arm._replace(low=round(edge)), *itself, at=at)
    turned = arm._replace(low=arm.high, high=arm.low)
    yield _with("arm has its ends the wrong way round", turned, "modes/empty-range", at=at)
    yield _with(
        "arm is one value wide", arm._replace(low=arm.high), "modes/empty-range", "*", at=at
    )
    stops = ("switches/flick-stops-motors", "*")
    for row in setup.ranges:
        if row.mode in FLIGHT and row.channel != arm.channel and row.low > 1150:

            def both(setup: Setup, row: Range = row) -> None:
                setup.ranges[at] = arm._replace(join="all")
                setup.ranges.append(row._replace(mode="arm", join="all"))

            yield Change("range", f"arm waits for the switch of {row.mode} too", both, stops)
            if setup.get("failsafe.action") == "stop":
                lost = row._replace(mode="lost-link")
                yield _with(f"lost-link joins {row.mode}", lost, *stops)
            if row.mode == "idle-authority":
                rests = row._replace(mode="motor-stop")
                yield _with("motor-stop joins idle-authority", rests,
                            "modes/conflicting-modes-meet", "*")  # fmt: skip
            if setup.channels_of("self-right"):
                turn = next(n for n, one in enumerate(setup.ranges) if one.mode == "self-right")
                yield _with(
                    f"self-right moves onto {row.mode}",
                    row._replace(mode="self-right"),
                    "switches/flick-enters-self-right",
                    "*",
                    at=turn,
                )
    if setup.channels_of("self-right"):
        turn = next(n for n, one in enumerate(setup.ranges) if one.mode == "self-right")
        three = next(row for row in setup.card["switch"] if len(row["positions_us"]) == 3)

        def one_switch(setup: Setup) -> None:
            like = arm._replace(channel=three["channel"])
            setup.ranges[at] = like._replace(low=1303, high=2199)
            setup.ranges[turn] = like._replace(mode="self-right", low=1740, high=2200)

        rules = ("switches/cannot-right-itself", "*")
        yield Change("range", f"{three['name']} works arm and self-right", one_switch, rules)

        def pulses(setup: Setup) -> None:
            setup.values |= {"motor.signal": "multishot", "motor.two_way": False}
            setup.card["esc"] |= {
                "signals": ["multishot"],
                "pulse_min_us": setup.get("motor.pulse_stop_us") + 10,
                "pulse_max_us": setup.get("motor.pulse_max_us") + 10,
            }

        yield Change("motor.signal", "self-right with ESCs on pulses", pulses,
                     ("motor/self-right-needs-digital",))  # fmt: skip
        away = Range("self-right", arm.channel, 800, 1200)
        yield _with("self-right moves where arm is off", away, "modes/self-right-never-armed", "*",
                    at=turn)  # fmt: skip
    yield Change(
        "link",
        "lost-link follows arm",
        lambda setup: setup.links.append(("lost-link", "arm")),
        ("switches/cannot-fly", "*"),
    )
    for row in setup.ranges:
        there = setup.switch(row.channel)
        if row.mode != "self-level" or there is None or len(there["positions_us"]) != 3:
            continue
        alone = [one.mode for one in setup.ranges].count("self-level") == 1
        if alone and row.low < 1100 and row.high < 1400:
            other = row._replace(low=1749, high=2185)
            between = ("switches/middle-not-between", "*")
            yield _with("self-level comes at the other end too", other, *between)


def _text(setup: Setup) -> Iterator[Change]:
    """Changes of the dump as a text: cut off, torn, or merely written otherwise."""

    def text(title: str, edit: object, *meant: str) -> Change:
        return Change("text", title, meant=meant, edit=edit)  # type: ignore[arg-type]

    whole = ("dump/not-saved", "dump/rows-missing", "dump/section-left-open", "*")
    yield text("the last line is lost", lambda one: _lines(one, slice(None, -1)), *whole)
    yield text("the last tenth is cut off", lambda one: one[: len(one) * 9 // 10], *whole)
    yield text("the last half is cut off", lambda one: one[: len(one) // 2], *whole)
    yield text("a merge left its marks", lambda one: f"{one}<<<<<<< mine\n", "dump/unreadable-line")
    yield text("line ends are CRLF", lambda one: one.replace("\n", "\r\n"))
    yield text("no last line end", lambda one: one.removesuffix("\n"))
    yield text("a byte-order mark", lambda one: "\ufeff" + one)
    yield text("blank lines at the end", lambda one: one + "\n\n")


def _lines(text: str, which: slice) -> str:
    return "\n".join(text.rstrip("\n").split("\n")[which]) + "\n"


def _torn(setup: Setup) -> Iterator[Change]:
    """Lines that are lost, said twice, misspelt, or refused."""

    def drop(setup: Setup) -> None:
        setup.values = {k: v for k, v in setup.values.items() if not k.startswith("channel.3.")}

    if setup.extent == "full":
        yield Change("text", "the lines of channel 3 are lost", drop, ("dump/rows-missing",))

    def nobody(setup: Setup) -> None:
        del setup.values["receiver.port"]
        for number in setup.numbers("port.N.functions"):
            name = f"port.{number}.functions"
            setup.values[name] = setup.get(name) - {"receiver"}

    yield Change("text", "nothing is said of a receiver", nobody, ("receiver/none-set", "*"))
    here, there = setup.dump()[0].split("\n"), setup.copy()
    there.values["motor.poles"] = setup.get("motor.poles") + 4
    pairs = zip(here, there.dump()[0].split("\n"), strict=False)
    at = next((n for n, (one, two) in enumerate(pairs) if one != two), None)
    if at is None or "motor.poles" not in setup.values:
        return
    twice = there.dump()[0].split("\n")[at]

    def line(title: str, lines: list[str], *meant: str) -> Change:
        text = "\n".join([*here[:at], *lines, *here[at + 1 :]])
        return Change("text", title, meant=meant, edit=lambda _: text)

    own = here[at]
    if setup.dialect != "tables":  # there a line says too many things at once
        yield line("a setting is said twice", [own, twice], "dump/set-twice")
        word = max(re.findall("[A-Za-z]+", own), key=len)
        if len(word) > 4:
            slip = own.replace(word, word[0] + word[2] + word[1] + word[3:])
            yield line("a word is misspelt", [slip], "dump/unknown-setting", "*")
        figure = str(setup.get("motor.poles"))
        head, _, tail = own.rpartition(figure)
        yield line("a value is a slip", [f"{head}1o8x{tail}"], "dump/value-not-understood", "*")
    refusal = bundled(setup.dialect).mark("refusal").replace("{reason}", "not here")
    if refusal:
        yield line("a line is refused", [own, refusal], "dump/refused-line", "*")
