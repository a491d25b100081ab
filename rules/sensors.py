"""Sensors: whether what modes and the failsafe need is there and switched on.

A mode that wants a sensor which is off does nothing, or flies by what is left.  It is found out in
the air, when the craft is asked to hold or to come home.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.craft import Missing, NotForThisCraft
from cfglint.rule import Finding, Put, bad, good, not_for, rule, unknown

from ._reach import beside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cfglint.craft import Craft, ModeLink, ModeRange, Value
    from cfglint.rule import Options
    from cfglint.span import Span

#: Modes and actions that need each sensor.
_LEVEL = ("self-level", "hold-height", "hold-position", "return-home")
_PLACE = ("hold-position", "return-home")


class _Users:
    """What of a craft uses a sensor: its modes on switches, and the action on a lost link."""

    def __init__(self, craft: Craft, modes: tuple[str, ...], actions: tuple[str, ...]) -> None:
        rows: tuple[ModeRange | ModeLink, ...] = (*craft.mode_ranges, *craft.mode_links)
        self.modes: dict[str, Span] = {}
        for row in rows:
            if row.mode in modes:
                self.modes.setdefault(row.mode, row.span)
        action = craft.get("failsafe.action")
        self.action: Value | None = action if action.value in actions else None
        if not self.modes and self.action is None:
            if actions and not action.known:
                raise Missing("failsafe.action", "dump")
            raise NotForThisCraft("no mode and no action on a lost link needs it")

    def place(self, craft: Craft) -> Span:
        if self.action is not None:
            return craft.place(self.action)
        return next(iter(self.modes.values()))

    def words(self) -> str:
        said = [*self.modes] if self.action is None else [_ACTS[self.action.value], *self.modes]
        return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


_ACTS = {
    "descend": "the descent on a lost link",
    "return-home": "the way home on a lost link",
}


@rule(
    "sensors/no-gps",
    grade="fix",
    title="Holding a place or flying home without GPS",
    why="""
    To hold its place or fly home a craft has to know where it is.  Without satellite positioning
    the switch does nothing, or the craft drifts while its pilot takes the hands off; on a lost
    link it flies nowhere, or away.
    """,
    source="common practice",
    examples=(
        good(
            """
            let lost-link-action be stop
            port 3 carries gps
            use hold-position while channel 6 in 1735..2165
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            let lost-link-action be return-home
                                    ^^^^^^^^^^^ way home on a lost link GPS
            """
        ),
        bad(
            """
            let lost-link-action be stop
            port 3 carries telemetry
            use hold-position while channel 6 in 1735..2165
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ hold-position GPS
            """
        ),
        unknown("use hold-position while channel 6 in 1735..2165", missing="port.N.functions"),
        unknown("port 3 carries telemetry", missing="failsafe.action"),
        not_for("let lost-link-action be stop"),
    ),
)
def no_gps(craft: Craft, options: Options) -> Iterator[Finding]:
    """Some port carries GPS where a mode or the action needs it."""
    users = _Users(craft, _PLACE, ("return-home",))
    ports = craft.ports()
    if any("gps" in port.functions.value for port in ports if port.functions.known):
        return
    if not ports or "port.N.functions" in craft.unmapped:
        raise Missing("port.N.functions", "dump")
    for port in ports:
        if not port.functions.known:
            raise Missing(port.functions.name, "dump")
    yield Finding(
        users.place(craft),
        f"no port carries GPS, but {users.words()} needs to know where the craft is: it would "
        "drift, or fly nowhere",
        "set the port that the GPS is soldered to to carry it, or take away what needs it",
        grade="fix" if users.action is None else "ground",
    )


@rule(
    "sensors/no-barometer",
    grade="fix",
    title="Holding height without a barometer",
    why="""
    Height is held by air pressure; a rangefinder sees a few metres down and satellites are metres
    off.  With the barometer off the craft sinks or climbs while its pilot believes it held.
    """,
    source="common practice",
    examples=(
        good(
            """
            let sense-height be yes
            use hold-height while channel 6 in 1735..2165
            """
        ),
        bad(
            """
            let sense-height be no
                                ^^ barometer hold-height
            use hold-height while channel 6 in 1735..2165
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            use hold-height while channel 6 in 1735..2165
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ barometer hold-height
            """
        ),
        unknown("use hold-height while channel 6 in 1735..2165", missing="sensor.barometer"),
        not_for("let sense-height be no"),
    ),
)
def no_barometer(craft: Craft, options: Options) -> Iterator[Finding]:
    """``sensor.barometer`` is on where height is held."""
    users = _Users(craft, ("hold-height",), ())
    yield from _off(craft, "sensor.barometer", "barometer", users, "fix")


@rule(
    "sensors/no-accelerometer",
    grade="fix",
    title="Keeping level without an accelerometer",
    why="""
    What is level a controller learns from its accelerometer, and every mode that steadies the craft
    by itself rests on that.  With it off the craft keeps the angle that it has, and its pilot takes
    the hands off.  On a lost link it is the descent or the way home that is flown so.
    """,
    source="common practice",
    examples=(
        good(
            """
            let lost-link-action be stop
            let sense-level be yes
            use self-level while channel 6 in 1735..2165
            """
        ),
        bad(
            """
            let lost-link-action be stop
            let sense-level be no
                               ^^ accelerometer self-level
            use self-level while channel 6 in 1735..2165
            """
        ),
        bad(
            """
            let lost-link-action be descend
            let sense-level be no
                               ^^ accelerometer descent
            """
        ),
        unknown("use self-level while channel 6 in 1735..2165", missing="sensor.accelerometer"),
        unknown("let sense-level be no", missing="failsafe.action"),
        not_for("let lost-link-action be stop"),
    ),
)
def no_accelerometer(craft: Craft, options: Options) -> Iterator[Finding]:
    """``sensor.accelerometer`` is on where a mode or the action keeps level."""
    users = _Users(craft, _LEVEL, ("descend", "return-home"))
    grade = "fix" if users.action is None else "ground"
    yield from _off(craft, "sensor.accelerometer", "accelerometer", users, grade)


def _off(craft: Craft, name: str, called: str, users: _Users, grade: str) -> Iterator[Finding]:
    sensor = craft.need(name)
    if sensor.value:
        return
    how = "is off by default" if sensor.origin == "default" else "is off"
    yield Finding(
        sensor.span or users.place(craft),
        f"the {called} {how}, but {users.words()} cannot do without it",
        f"set {name} to yes if the board has one, or take away what needs it",
        beside(users.action, "this needs it") if users.action is not None and sensor.span else (),
        grade="ground" if grade == "ground" else "fix",
        choices=(Put(name, True),),
    )


@rule(
    "sensors/home-unknown",
    grade="fix",
    title="Armed before it is known where home is",
    why="""
    Home is where the craft was armed, if satellites had told by then where that is.  Armed earlier
    it has no home, or one that is far off, and flies there when the link is lost or the switch is
    flicked.
    """,
    source="common practice",
    examples=(
        good(
            """
            let lost-link-action be return-home
            let arm-after-fix be yes
            """
        ),
        bad(
            """
            let lost-link-action be return-home
            let arm-after-fix be no
                                 ^^ armed home
            """
        ),
        bad(
            """
            -- board SLATE, firmware 7.9, changes only
            use return-home while channel 6 in 1735..2165
            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ armed home
            """
        ),
        unknown("let lost-link-action be return-home", missing="home.needs_fix"),
        unknown("let arm-after-fix be no", missing="failsafe.action"),
        not_for("let lost-link-action be descend"),
    ),
)
def home_unknown(craft: Craft, options: Options) -> Iterator[Finding]:
    """Where the craft may fly home, arming waits for a fix."""
    users = _Users(craft, ("return-home",), ("return-home",))
    waits = craft.need("home.needs_fix")
    if not waits.value:
        yield Finding(
            waits.span or users.place(craft),
            "the craft may be armed before satellites have told where it is, "
            f"but {users.words()} leads to where it was armed: home may be nowhere, or far off",
            "set home.needs_fix to yes",
            beside(users.action, "this needs a home")
            if users.action is not None and waits.span
            else (),
            edits=(Put("home.needs_fix", True),),
        )
