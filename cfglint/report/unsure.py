"""What rests on unconfirmed mappings, in words: the same for every report.

Imported only where something does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from cfglint.craft import Craft
    from cfglint.dialect import Dialect
    from cfglint.dialect.unsure import Unsure
    from cfglint.results import CraftLine, Run, Verdict

#: Of a mapping's lines, and of a finding's mappings, so many are told.
MOST_LINES, MOST_NAMES = 4, 4
#: States that are counted, and how; what is not for a craft says nothing of it.
COUNTED = {"holds": ("holds", "hold"), "broken": ("broken",) * 2, "unknown": ("unknown",) * 2}
INSTEAD = (
    "confirm each: `cfglint teach --ask`; or look at the place in the dialect file and, if it is "
    "right, take the mark out (`sure = false`, or the word in `unsure`)"
)


class Resting(NamedTuple):
    """What rests on one unconfirmed mapping of one craft; ``text`` and ``mark`` tell of it."""

    name: str
    text: str
    mark: str
    verdicts: tuple[Verdict, ...]

    def counts(self) -> str:
        """``3 hold, 1 broken``."""
        states = [verdict.state for verdict in self.verdicts]
        return ", ".join(
            f"{number} {words[number != 1]}"
            for state, words in COUNTED.items()
            if (number := states.count(state))  # type: ignore[arg-type]
        )


def resting(run: Run) -> list[Verdict]:
    """The outcomes that rest on anything unconfirmed, but for what is not for a craft."""
    return [one for one in run.verdicts if one.rests and one.state in COUNTED]


def by_craft(run: Run) -> list[tuple[CraftLine, list[Resting]]]:
    """Each craft with its unconfirmed mappings on which something rests, most first."""
    rows: dict[tuple[str, str], dict[str, list[Verdict]]] = {}
    for verdict in resting(run):
        names = rows.setdefault((verdict.file, verdict.craft), {})
        for name in verdict.rests:
            names.setdefault(name, []).append(verdict)
    found = []
    for craft in run.crafts:
        known = {one.name: one for one in craft.unsure}
        each = [
            Resting(
                name,
                named(known[name], lines=False) if name in known else name,
                known[name].mark if name in known else "",
                tuple(verdicts),
            )
            for name, verdicts in rows.get((craft.file, craft.name), {}).items()
        ]
        if each:
            found.append((craft, sorted(each, key=lambda one: (-len(one.verdicts), one.name))))
    return found


def named(one: Unsure, *, lines: bool = True) -> str:
    """``motor.signal (`mot_out`, line 12)``."""
    parts = [f"`{one.written}`"] if one.written else []
    if lines and one.lines:
        shown = ", ".join(map(str, one.lines[:MOST_LINES]))
        more = len(one.lines) - MOST_LINES
        shown += f" and {more} more" if more > 0 else ""
        parts.append(f"line {shown}" if len(one.lines) == 1 else f"lines {shown}")
    return f"{one.name} ({', '.join(parts)})" if parts else one.name


def caution(rests: Iterable[str], unsure: Iterable[Unsure]) -> str:
    """``rests on unconfirmed: motor.signal (`mot_out`, line 12), mode arm``."""
    return f"rests on unconfirmed: {listed(rests, unsure)}"


def listed(rests: Iterable[str], unsure: Iterable[Unsure]) -> str:
    """Mappings in words, first those by which the dump has lines."""
    known = {one.name: one for one in unsure}
    names = sorted(rests, key=lambda name: (name not in known or not known[name].lines, name))
    told = [named(known[name]) if name in known else name for name in names[:MOST_NAMES]]
    if len(names) > MOST_NAMES:
        told.append(f"and {len(names) - MOST_NAMES} more")
    return ", ".join(told)


def caution_for(craft: Craft, dialect: Dialect, make: Callable[[Craft], object]) -> str:
    """One sentence for a page about a craft that rests on anything unconfirmed, else ``""``.

    ``make`` makes the page; what it looks at is what counts.
    """
    from cfglint.craft.unsure import watched
    from cfglint.dialect.unsure import unconfirmed

    seen: dict[str, None] = {}
    make(watched(craft, seen))
    if not seen:
        return ""
    mappings = listed(seen, unconfirmed(craft, dialect))
    return f"Caution: this page rests on unconfirmed mappings: {mappings}. Confirm them first."
