"""Second thoughts: settings that no name told, by free words, units, domains and neighbours.

What is found here is always a guess.  A name of which no word is known is looked at beside what
stands before and behind it: of three voltages of one cell that fall the first is the full one.
"""

from __future__ import annotations

import re
from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING

from cfglint.teach import match, names
from cfglint.teach.pairing import Slot, paired, parts_unit, unit_said
from cfglint.teach.readings import is_unit, number, readings_of
from cfglint.teach.saying import SAID, told_by
from cfglint.teach.sense import english
from cfglint.teach.spoken import FLAGS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from cfglint.teach.fits import Habits

#: Words of the matter and of what of it together make a guess worth it.
_ENOUGH = 0.7
#: How sure a place alone is: enough to be asked about, never enough to be believed.
_BY_PLACE = 0.5


def _units(slot: Slot) -> list[str | None]:
    """What may be the unit of a slot's values, ``None`` where nothing says one."""
    entry = slot.entries[0]
    one = number(entry.value, True)
    if one is not None and one.unit:
        return [one.unit]
    found = [part.strip("()[]").lower() for part in re.split(r"[\s,]+", entry.name)[1:]]
    found.append(entry.note.strip("\1 ").split(" ")[0])
    said: list[str | None] = [part for part in found if part and is_unit(part)]
    return said or [None]


def _spoken(
    slots: Sequence[Slot], open_: Collection[str], habits: Habits, comma: bool
) -> Iterator[match.Pair]:
    """Pairs by words as sentences use them, for names that are phrases."""
    for slot in slots:
        entry = slot.entries[0]
        name = english(entry.name)
        around = " ".join(
            [*(english(one) for one in entry.titles[-2:]), english(entry.heading), name]
        )
        tail = re.sub(r"^[\d.,\s]+", "", entry.value)
        for said in SAID:
            if said.setting not in open_:
                continue
            score = max(
                told_by(said, f"{name} {tail}", around, unit, known=unit is not None)
                for unit in (
                    (*_units(slot), tail) if tail and tail != entry.value else _units(slot)
                )
            )
            if score < _ENOUGH:
                continue
            scale = unit_said(slot.words.own) or "".join(parts_unit(entry.name))
            if readings := readings_of(said.setting, slot.written, scale, habits, comma):
                fit = names.Fit(score, score, 0.5, ())
                yield paired(said.setting, slot, fit, readings, "")
        for flag, (what, topic, bars) in FLAGS.items():
            if flag not in open_ or not re.search(rf"(?i)\b(?:{what})", name):
                continue
            if not re.search(rf"(?i)\b(?:{topic})", around) or re.search(
                rf"(?i)\b(?:{bars})", name
            ):
                continue
            if readings := readings_of(flag, slot.written, "", habits, comma):
                yield paired(flag, slot, names.Fit(0.75, 0.75, 0.5, ()), readings, "")


#: Settings that stand beside each other, with what each may be there (common practice).
_RUNS: tuple[tuple[tuple[str, float, float], ...], ...] = (
    (("battery.full_v", 3.5, 4.4), ("battery.warn_v", 2.8, 3.8), ("battery.empty_v", 2.4, 3.6)),
    (("motor.pulse_stop_us", 850, 1050), ("motor.pulse_min_us", 1000, 1120), ("motor.pulse_max_us", 1850, 2050)),  # noqa: E501
    (("stick.low_us", 1030, 1200), ("stick.high_us", 1800, 1980), ("stick.centre_us", 1470, 1530)),
    (("stick.low_us", 1030, 1200), ("stick.centre_us", 1470, 1530), ("stick.high_us", 1800, 1980)),
    (("stick.centre_us", 1470, 1530), ("stick.dead_band_us", 1, 40)),
    (("video.frequency_mhz", 5600, 5950), ("video.power_mw", 10, 1000)),
)  # fmt: skip


def _placed(
    slots: Sequence[Slot], open_: Collection[str], habits: Habits, comma: bool
) -> Iterator[match.Pair]:
    """Pairs by what stands beside each other, whatever it is called."""
    by: dict[int, list[tuple[int, int, float, Slot]]] = defaultdict(list)
    for slot in slots:
        for entry in slot.entries:
            one = number(entry.value, comma)
            if one is not None:
                by[entry.sample].append((entry.row.line, entry.start, one.value, slot))
    for run in _RUNS:
        if not all(name in open_ for name, _, _ in run):
            continue
        hits = []
        for rows in by.values():
            rows.sort(key=lambda row: row[:2])
            found = [
                rows[at : at + len(run)]
                for at in range(len(rows) - len(run) + 1)
                if all(
                    low <= row[2] <= high
                    for row, (_, low, high) in zip(rows[at : at + len(run)], run, strict=True)
                )
                and all(b[0] - a[0] <= 2 for a, b in pairwise(rows[at : at + len(run)]))
                and _falls(run, rows[at : at + len(run)])
            ]
            hits.append(found)
        if not hits or any(len(found) != 1 for found in hits):
            continue
        if len({tuple(row[3].key for row in found[0]) for found in hits}) != 1:
            continue
        for (name, _, _), row in zip(run, hits[0][0], strict=True):
            if readings := readings_of(name, row[3].written, "", habits, comma):
                yield paired(name, row[3], names.Fit(_BY_PLACE, _BY_PLACE, 0.4, ()), readings, "")


def _falls(
    run: Sequence[tuple[str, float, float]], rows: Sequence[tuple[int, int, float, Slot]]
) -> bool:
    """Of voltages each is less than the one before."""
    return not run[0][0].startswith("battery") or all(a[2] > b[2] for a, b in pairwise(rows))


def _at_ports(
    slots: Sequence[Slot], ports: Collection[str], habits: Habits, comma: bool
) -> Iterator[match.Pair]:
    """Pairs by values that are spelled as the rows of ports begin: `X4`, `siding 2`."""
    for slot in slots:
        heads = {re.sub(r"\W*\d{1,2}$", "", text.strip()).lower() for text in slot.written}
        counted = all(re.search(r"\d$", text.strip()) for text in slot.written)
        if not (counted and heads and heads <= set(ports)):
            continue
        fit = names.Fit(_ENOUGH, _ENOUGH, 0.5, ())
        written = [re.sub(r"\W+", "", text) for text in slot.written]
        for readings in (
            readings_of("receiver.port", slot.written, "", habits, comma),
            readings_of("receiver.port", written, "", habits, comma),
        ):
            if readings:
                yield paired("receiver.port", slot, fit, readings, "")
                break


def second_thoughts(
    slots: Sequence[Slot],
    chosen: dict[str, match.Choice],
    held: Collection[str],
    habits: Habits,
    comma: bool,
    ports: Collection[str] = (),
) -> dict[str, match.Choice]:
    """Choices for settings that have none, of slots that none has.

    ``ports`` are the words that rows of ports begin with.
    """
    used = {choice.pair.slot.key for choice in chosen.values()}
    open_ = {one.setting for one in SAID} | set(FLAGS) | {"receiver.port"}
    open_ = {name for name in open_ if name not in chosen and name not in held}
    free = [
        slot
        for slot in slots
        if slot.key not in used and not slot.family and not slot.flag and "\3" not in slot.key[1]
    ]
    found: dict[str, match.Choice] = {}
    for way in (_spoken, _at_ports, _placed):
        at = ports if way is _at_ports else open_
        if way is _at_ports and "receiver.port" not in open_:
            continue
        pairs = sorted(way(free, at, habits, comma), key=lambda pair: -pair.score)
        new = match.choose(pairs)
        found.update(new)
        open_ -= set(new)
        taken = {choice.pair.slot.key for choice in new.values()}
        free = [slot for slot in free if slot.key not in taken]
    return found


__all__ = ["second_thoughts"]
