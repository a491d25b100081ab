"""Runs built by hand from invented dumps of the Saltmarsh Survey Club."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.prints import LineHashes, Prints
from cfglint.results import Accepted, CraftLine, Found, Run, Trouble, Verdict
from cfglint.rule import Edit, Lack, Option, Related, Rule, bad, good
from cfglint.span import Excerpt, Span

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cfglint.craft import Craft, Missing
    from cfglint.rule import Confidence, Finding, Grade

ROOT = "/srv/hangar"

BITTERN = """\
-- board SLATE, firmware 7.9, full listing
let name-given be "Bittern"
let loop-rate be 5600
let motor-signal be brushed
let receiver-link be sbus
port 1 carries nothing
port 2 carries telemetry at 57600
use arm while channel 5 in 1720..2110
use self-right while channel 5 in 1720..2110
let lost-link-action be hold-last
stow
"""

BITTERN_CARD = """\
craft = "Bittern"
[esc]
signals = ["dshot300", "dshot600"]
[receiver]
link = "sbus"
"""

CURLEW = """\
-- board SLATE, firmware 7.10, changes only
let name-given be "Curlew"
let motor-signal be dshot300
"""

FILES = {
    "craft/bittern.txt": BITTERN,
    "cards/bittern.toml": BITTERN_CARD,
    "craft/curlew.txt": CURLEW,
}


def _never(craft: Craft, options: object) -> Iterable[Finding | Missing]:
    raise AssertionError("a report runs no rule")


def rule(
    id: str,  # noqa: A002
    grade: Grade,
    title: str,
    why: str,
    **more: Any,
) -> Rule:
    return Rule(id, grade, title, why, more.pop("source", "common practice"), _never, **more)


CERTAIN: Confidence = "certain"

SIGNAL = rule(
    "motor/left-on-default-signal",
    "ground",
    "Motor signal left on brushed",
    "A brushless craft on a brushed output may spin some motors at full drive as soon as the "
    "battery is connected.",
    examples=(
        good("let motor-signal be dshot300"),
        bad("let motor-signal be brushed\n                    ^^^^^^^ brushed"),
    ),
    aliases=("motor/default-signal",),
    pack="builtin",
)
MEET = rule(
    "modes/arm-and-self-right-meet",
    "ground",
    "Arm and self-right are always on together",
    "A craft that is righting itself whenever it is armed can never fly.",
)
LOST = rule(
    "failsafe/holds-last-values",
    "ground",
    "Lost link keeps the motors running",
    "Holding the last values keeps throttle and arm where they were.",
)
LOOP = rule(
    "motor/loop-outruns-signal",
    "fix",
    "The control loop is faster than the motor signal",
    "Commands are dropped when one takes longer than a turn of the loop.",
    source="DShot frame layout as in the ESP-IDF RMT example; gap from common practice",
    options=(Option("gap_bits", 2, "bits of silence between two commands", 0, 16),),
    confidence="likely",
)
PORT = rule(
    "receiver/no-port-listens",
    "ground",
    "No port listens to the receiver",
    "Without a port the craft hears nobody.",
)
EDGE = rule(
    "channels/switch-near-edge",
    "advise",
    "A switch rests near the edge of a range",
    "A position nearer to an edge than the channel's jitter chatters.",
    confidence="hint",
)
RULES = (SIGNAL, MEET, LOST, LOOP, PORT, EDGE)


def place(file: str, line: int, text: str, files: dict[str, str] | None = None) -> Span:
    """The span of ``text`` on a line of a sample file."""
    lines = (files or FILES)[file].split("\n")
    column = lines[line - 1].index(text) + 1
    return Span(file, line, column, line, column + len(text))


def around(span: Span, files: dict[str, str] | None = None) -> Excerpt:
    lines = (files or FILES)[span.file].split("\n")
    return Excerpt(span.line, tuple(lines[span.line - 1 : span.end_line]))


def found(
    item: Rule,
    craft: str,
    span: Span,
    message: str,
    *,
    prints: Prints | None = None,
    files: dict[str, str] | None = None,
    **more: Any,
) -> Found:
    text = (files or FILES)[span.file]
    return Found(
        item.id,
        more.pop("grade", item.grade),
        more.pop("file", span.file),
        craft,
        span,
        message,
        more.pop("instead", ""),
        around(span, files),
        print=(prints or Prints()).of(item.id, span.file, text.split("\n")[span.line - 1]),
        line_hash=LineHashes(text).of(span.line),
        **more,
    )


def beside(span: Span, message: str) -> Related:
    return Related(span, message, around(span))


def saltmarsh() -> Run:
    """Two craft, every state, every grade, one accepted finding."""
    bittern, curlew = "craft/bittern.txt", "craft/curlew.txt"
    whole = Span(curlew, 1, 1, 1, 44)
    whole_hash = LineHashes(CURLEW).of(1)
    no_card = "`esc.signals` in the hardware card (this craft has no card)"
    lack = Lack("esc.signals", "card", no_card)
    link = Lack("receiver.link", "dump", "`receiver.link` in the dump")

    def said(item: Rule, state: Any, **more: Any) -> Verdict:
        return Verdict(item.id, curlew, "Curlew", state, whole=whole, line_hash=whole_hash, **more)

    return Run(
        ROOT,
        RULES,
        (
            CraftLine(bittern, "Bittern", "plain", "7.9", 11, "cards/bittern.toml"),
            CraftLine(curlew, "Curlew", "plain", "7.10", 3),
        ),
        (
            *of_bittern(bittern),
            said(SIGNAL, "unknown", lacks=(lack,)),
            said(MEET, "not for this craft", reason="it has no mode self-right"),
            said(LOST, "holds"),
            said(LOOP, "unknown", lacks=(lack,)),
            said(PORT, "unknown", lacks=(link,)),
            said(EDGE, "holds"),
        ),
        (),
    )


def of_bittern(file: str) -> tuple[Verdict, ...]:
    """What is wrong with Bittern."""
    signal = place(file, 4, "brushed")
    meet = place(file, 9, "1720..2110")
    loop = place(file, 3, "5600")
    lost = place(file, 10, "hold-last")
    edge = place(file, 8, "1720")
    whole = Span(file, 1, 1, 1, 42)
    whole_hash = LineHashes(BITTERN).of(1)

    def told(item: Rule, state: Any, **more: Any) -> Verdict:
        return Verdict(item.id, file, "Bittern", state, whole=whole, line_hash=whole_hash, **more)

    return (
        told(
            SIGNAL,
            "broken",
            found=(wrong_signal(signal),),
        ),
        told(
            MEET,
            "broken",
            found=(they_meet(file, meet),),
        ),
        told(
            LOST,
            "broken",
            found=(
                found(
                    LOST,
                    "Bittern",
                    lost,
                    "Lost link holds the last values",
                    instead="write stop",
                    accepted=Accepted(
                        "tethered test rig, never leaves the bench",
                        "Ilse",
                        "2027-03-01",
                        Span("cfglint.toml", 12, 1, 12, 9),
                    ),
                ),
            ),
        ),
        told(
            LOOP,
            "broken",
            found=(
                found(
                    LOOP,
                    "Bittern",
                    loop,
                    "The loop turns 5600 times a second, but servo pulses fit 490 times",
                ),
            ),
            lacks=(Lack("esc.two_way", "card", "`esc.two_way` in the hardware card"),),
        ),
        told(PORT, "holds"),
        told(
            EDGE,
            "broken",
            found=(
                found(
                    EDGE,
                    "Bittern",
                    edge,
                    "Switch K1 rests 4 µs below the edge at 1720 µs, and channel 5 wanders by 6 µs",
                    instead="begin the range at 1650",
                ),
            ),
        ),
    )


def wrong_signal(signal: Span) -> Found:
    """One with something beside it and a fix."""
    return found(
        SIGNAL,
        "Bittern",
        signal,
        "The motor signal is brushed, but the ESCs understand dshot300 and "
        "dshot600: some motors may spin at full drive, others not at all",
        instead="write dshot300, the fastest that fits a loop of 5600 Hz",
        beside=(
            beside(
                place("cards/bittern.toml", 3, '["dshot300", "dshot600"]'),
                "what the ESCs understand",
            ),
        ),
        fix=(Edit(signal, "dshot300"),),
    )


def they_meet(file: str, meet: Span) -> Found:
    """One with a picture."""
    return found(
        MEET,
        "Bittern",
        meet,
        "Self-right is on wherever arm is on (channel 5, 1720–2110 µs), so the craft can never fly",
        instead="give self-right a switch of its own",
        beside=(beside(place(file, 8, "1720..2110"), "arm is on here"),),
        picture=(
            "channel 5   1000      1500      2000\n"
            "arm                       |=======|\n"
            "self-right                |=======|"
        ),
    )


def clean() -> Run:
    """One craft, one rule that holds."""
    run = saltmarsh()
    return run._replace(
        rules=(LOST,),
        crafts=run.crafts[1:],
        verdicts=tuple(v for v in run.verdicts if v.craft == "Curlew" and v.rule == LOST.id),
    )


def troubled() -> Run:
    """Every kind of trouble."""
    return clean()._replace(
        troubles=(
            Trouble(
                "file",
                "this file cannot be read: permission denied",
                "let your account read it",
                3,
                file="craft/dunlin.txt",
            ),
            Trouble(
                "crash",
                "the rule crashed (ZeroDivisionError: division by zero)",
                "tell its author; its other findings are not affected",
                3,
                file="craft/curlew.txt",
                rule=LOST.id,
                detail='Traceback (most recent call last):\n  File "failsafe.py", line 9\n'
                "ZeroDivisionError: division by zero\n",
            ),
            Trouble(
                "config",
                "there is no rule `motor/left-on-defualt-signal`",
                "did you mean motor/left-on-default-signal?",
                2,
                file="cfglint.toml",
                span=Span("cfglint.toml", 4, 1, 4, 31),
                rule="motor/left-on-defualt-signal",
            ),
            Trouble("nothing", "there is no dump to check", "name a dump or a hangar", 4),
        )
    )
