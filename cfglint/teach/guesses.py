"""What lines of several fields set: every kind tried on each group of alike lines."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row
from cfglint.teach.columns import plain_numbers
from cfglint.teach.forms import FormGuess
from cfglint.teach.legends import steps
from cfglint.teach.links import link_guess
from cfglint.teach.numbered import channel_guess, loss_guess, port_guess
from cfglint.teach.ranges import ends_of, range_form, range_guess, told_steps
from cfglint.teach.records import records_of

GUESSERS = (range_guess, channel_guess, port_guess, loss_guess, link_guess)


def form_guesses(rows: Sequence[Row]) -> list[FormGuess]:
    """Every group of lines that could be told, the surest first; no line is in two of them."""
    found: list[FormGuess] = []
    for record in records_of(rows):
        best_one: FormGuess | None = None
        for guesser in GUESSERS:
            one = guesser(record)
            if (
                one is not None
                and one.line
                and (best_one is None or one.confidence > best_one.confidence)
            ):
                best_one = one
        if best_one is not None:
            found.append(best_one)
    found = _columns_alike(found)
    told = steps(rows)
    if told is not None:
        found = [told_steps(one, *told) if one.makes == "range" else one for one in found]
    # Of ranges, the kind with most lines says most, and is asked about first.
    found.sort(
        key=lambda one: (
            -0.95 if one.makes == "range" else -one.confidence,
            -len(one.record.rows),
        )
    )
    return found


def _columns_alike(found: list[FormGuess]) -> list[FormGuess]:
    """Ranges of several heads (`when`, `when all`) have the same columns: the most lines' own."""
    groups: dict[tuple[Any, ...], list[FormGuess]] = defaultdict(list)
    for one in found:
        if one.makes == "range":
            cells = one.record.cells[0]
            groups[tuple(cell.field for cell in cells)].append(one)
    turned: dict[int, FormGuess] = {}
    for members in groups.values():
        leader = max(members, key=lambda one: len(one.record.rows))
        for one in members:
            if one is leader or one.roles == leader.roles:
                continue
            roles = {
                name: at
                for name, at in leader.roles.items()
                if name in ("mode", "channel", "low", "high")
            }
            numbers = [plain_numbers(one.record.column(roles[name])) for name in ("low", "high")]
            if any(values is None for values in numbers):
                continue
            pair = ends_of(one.record, numbers[0] or [], numbers[1] or [])
            if pair is not None:
                again = range_form(one.record, roles, pair[1], 2.0, 0.5, set())
                if again is not None and again.line:
                    turned[id(one)] = again
    return [turned.get(id(one), one) for one in found]
