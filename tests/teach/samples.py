"""Small invented dumps, taught from and read again."""

from __future__ import annotations

import signal
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from cfglint.dialect import read_craft
from cfglint.dump.source import Source
from cfglint.teach.whole import whole

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from cfglint.craft.model import Craft
    from cfglint.teach.sheet import Question
    from cfglint.teach.whole import Whole

#: So many lines more that a listing is taken for a full one.
REST = "".join(
    f"marsh.zw{first}{second} = {7 + 3 * at}\n"
    for at, (first, second) in enumerate(
        (first, second)
        for first in ("al", "el", "il", "ol", "ul", "am", "em", "im", "om")
        for second in ("da", "de", "di", "do", "du", "ga", "ge", "gi")
    )
)
#: What a listing says beside the few lines that a test is about: names that nobody knows, and
#: a few that everybody does.
USUAL = """\
tint.reed = 4
tint.mud = 9
wader.legs = 31
tide.table = 118
tide.lag = 12
ebb.slow = 40
ebb.fast = 70
sedge.tall = 3
"""


def source(text: str, file: str = "sample.txt") -> Source:
    return Source.from_text(file, text)


def taught(text: str, answers: Mapping[str, str] | None = None, **more: str) -> Whole:
    """The draft from one sample, or from several: ``more`` maps stems of files to texts."""
    files = [source(text), *(source(other, f"{stem}.txt") for stem, other in more.items())]
    return whole(files, "mine", answers=answers)


def craft_of(draft: Whole, text: str, file: str = "sample.txt") -> Craft:
    return read_craft(source(text, file), draft.dialect)


def values(draft: Whole, text: str, *, sure: bool | None = None) -> dict[str, Any]:
    """What the draft reads in a text: only the sure or the marked values, if ``sure`` is given."""
    return {
        name: value.value
        for name, value in craft_of(draft, text).values.items()
        if value.origin == "set" and sure in (None, value.sure)
    }


def read(text: str, answers: Mapping[str, str] | None = None) -> dict[str, Any]:
    """What a draft from a text reads in that text."""
    return values(taught(text, answers), text)


def ranges(draft: Whole, text: str) -> list[tuple[str, int, float, float]]:
    return [
        (row.mode, row.channel, row.low_us, row.high_us)
        for row in craft_of(draft, text).mode_ranges
    ]


def asked(draft: Whole, key: str) -> Question | None:
    return next((one for one in draft.open if one.key == key), None)


def unread(craft: Craft) -> list[int]:
    """Lines that cannot be read, or have no meaning."""
    spans = [
        *(row.span for row in craft.strays),
        *(row.span for row in craft.misread),
        *(row.span for row in craft.unreadable),
    ]
    return [span.line for span in spans]


def line(text: str, start: str) -> str:
    """The number of the one line that begins so, as an answer names it."""
    found = [n for n, row in enumerate(text.splitlines(), 1) if row.strip().startswith(start)]
    assert len(found) == 1, found
    return str(found[0])


@contextmanager
def within(seconds: int) -> Iterator[None]:
    """Fails what takes longer: a pattern that runs away would else never end."""

    def ring(_signal: int, _frame: object) -> None:
        raise AssertionError(f"this takes more than {seconds} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
