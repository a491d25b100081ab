"""What the switch states cost, as ratios within this one run.

    python benchmarks/switches.py

Every figure is the median of fresh processes on the same machine, one kind after the other in
turn, so that only the ratios mean anything.  Wanted: all questions about 8 switches of three
positions with 20 ranges are answered in less time than importing rich takes; the cost grows with
the states that any mode can tell apart, not with microseconds or ticks.  Exit code 0 if the
first is met, else 1.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
from pathlib import Path

ROUNDS = 15
DECIDED = "8 switches, 20 ranges, all questions (imports counted)"
HERE = Path(__file__).resolve().parent

PLAIN = "import time"
#: rich's console is what printing with it needs; `import rich` alone does next to nothing.
RICH = "from rich.console import Console"
CRAFT = """
import sys
sys.path.insert(0, {here!r})
from switches import eight
craft = eight({arguments})
"""
DECIDE = """
from cfglint.switches.asking import Setup
from cfglint.switches.properties import answers
found = answers(Setup(craft))
assert len(found) > 20
"""
TIMED = """
import time
{prepare}
start = time.perf_counter()
{run}
print(time.perf_counter() - start)
"""


def eight(link: str = "crsf", places: int = 3, joined: int = 2):  # type: ignore[no-untyped-def]
    """A craft of eight switches and 20 ranges; ``joined`` of the switches decide over arm.

    ``places`` above 3 adds positions beside each of the three, within the same ranges.
    """
    from cfglint.craft import Card, Craft, ModeRange, SwitchCard, Traits, Value
    from cfglint.span import on_line

    span = on_line("bench", 1, 0, 1)

    def row(mode: str, channel: int, low: float, high: float, join: str = "any") -> ModeRange:
        return ModeRange(mode, channel, low, high, join, span, span, span, span)  # type: ignore[arg-type]

    ranges = [row("arm", 5 + at, 1670 - 50 * at, 2216, "all") for at in range(joined)]
    modes = (
        "self-right", "lost-link", "self-level", "idle-authority", "beacon", "motor-stop",
        "return-home", "hold-height", "hold-position", "log", "lights", "video-power",
    )  # fmt: skip
    at = 0
    while len(ranges) < 20:
        third = at % 3
        ranges.append(
            row(
                modes[at % len(modes)],
                5 + (3 + at) % 8,
                (779, 1352, 1670)[third] + 10,
                (1352, 1670, 2216)[third] - 10,
            )
        )
        at += 1
    each = max(places // 3, 1)
    positions = tuple(base + 8.0 * step for base in (1000, 1480, 1900) for step in range(each))
    switches = tuple(
        SwitchCard(f"S{n}", n, positions, (), 2.0, False, span, span, (span,) * len(positions))
        for n in range(5, 13)
    )
    values = {
        "receiver.link": Value("receiver.link", link, "set", span),
        "failsafe.action": Value("failsafe.action", "stop", "set", span),
    }
    return Craft(
        file="bench",
        name="Avocet",
        dialect="plain",
        extent="full",
        whole=span,
        values=values,
        mode_ranges=tuple(ranges),
        traits=Traits("half-open", "absolute", False, True),
        card=Card("card", {"receiver.on_loss": "silent"}, switches),
    )


def seconds(prepare: str, run: str) -> float:
    """How long ``run`` takes in a process of its own, ``prepare`` not counted."""
    code = TIMED.format(prepare=prepare, run=run)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout)


def craft(arguments: str = "") -> str:
    return CRAFT.format(here=str(HERE), arguments=arguments)


def main() -> int:
    kinds = {
        "import rich's console": (PLAIN, RICH),
        DECIDED: (craft(), DECIDE),
        "  on a link of 65,533 ticks instead of 1,985": (craft("'srxl2'"), DECIDE),
        "  with 15 positions each instead of 3, none told apart": (craft("places=15"), DECIDE),
        "  with 4 switches joined for arm instead of 2": (craft("joined=4"), DECIDE),
        "  with 6": (craft("joined=6"), DECIDE),
        "  with 8": (craft("joined=8"), DECIDE),
    }
    times: dict[str, list[float]] = {name: [] for name in kinds}
    for _ in range(ROUNDS):
        for name, (prepare, run) in kinds.items():
            times[name].append(seconds(prepare, run))
    middle = {name: statistics.median(found) for name, found in times.items()}
    rich = middle["import rich's console"]
    print(f"{'ratio':>7}  what (importing rich's console = 1)")
    for name, found in middle.items():
        print(f"{found / rich:7.2f}  {name}")
    return 0 if middle[DECIDED] < rich else 1


if __name__ == "__main__":
    raise SystemExit(main())
