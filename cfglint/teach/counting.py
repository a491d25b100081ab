"""From where ports and channels are counted."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from cfglint.teach.columns import number_of
from cfglint.teach.fits import unquoted
from cfglint.teach.forms import FormGuess
from cfglint.teach.match import Choice
from cfglint.teach.meanings import best
from cfglint.teach.slots import Slot

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.teach.lines import Row


def bases_of(
    forms: Sequence[FormGuess], choices: Mapping[str, Choice], *, partial: bool = False
) -> dict[str, int]:
    """From where ports and channels are counted, as their own lines show; without those, nothing.

    One line numbered 0 is enough: what is counted from 0 here is counted so throughout.  From 1
    it is counted where all of them are there; with one left out, the first may be as well.
    """
    seen: dict[str, list[set[int]]] = {}

    def see(setting: str, numbers: Iterable[int]) -> None:
        group = "port" if setting.startswith("port.") else "channel"
        seen.setdefault(group, []).append(set(numbers))

    for form in forms:
        names = [name for name in form.sets.values() if ".N" in name]
        if names and "{N}" in form.within:
            see(names[0], [number_of(row) for row in form.record.rows])
        elif names and "N" in form.roles:
            texts = form.record.column(form.roles["N"])
            # Letters and the like are counted as they say.
            see(names[0], [int(text) for text in texts if text.isdigit()] or [1])
    for name, choice in choices.items():
        if choice.pair.slot.numbers:
            see(name, choice.pair.slot.numbers)
    least: dict[str, int] = {}
    for group, sets in seen.items():
        every: set[int] = set().union(*sets)
        if 0 in every:
            least[group] = 0
        elif not partial and every == set(range(1, len(every) + 1)):
            least[group] = 1
    return least


def counted_alike(one: FormGuess, bases: Mapping[str, int]) -> FormGuess:
    """A form whose numbers start where those of its kind do."""
    if one.makes == "range":
        return _range_counted(one, bases)
    group = "port" if any(name.startswith("port.") for name in one.sets.values()) else "channel"
    if bases.get(group) == 0 and any(".N" in name for name in one.sets.values()):
        fields = {**one.fields, "N": {**one.fields.get("N", {})}}
        if "values" not in fields["N"]:
            fields["N"]["base"] = 0
        doubts = {name: why for name, why in one.doubts.items() if name != "N"}
        return one._replace(fields=fields, doubts=doubts)
    if bases.get(group) == 1 and "N" in one.doubts:
        return one._replace(doubts={name: why for name, why in one.doubts.items() if name != "N"})
    if group not in bases and "N" in one.roles and "values" not in one.fields.get("N", {}):
        return one._replace(doubts={**one.doubts, "N": "taken as counted from 1"})
    return one


def _range_counted(one: FormGuess, bases: Mapping[str, int]) -> FormGuess:
    """A range's channel, numbered as channels are elsewhere in the dump."""
    if "channel" not in one.roles:
        return one
    texts = one.record.column(one.roles["channel"])
    if not all(text.isdigit() for text in texts):
        return one
    low = min(int(text) for text in texts)
    codec, doubts = one.fields.get("channel"), dict(one.doubts)
    fields = dict(one.fields)
    base = bases.get("channel", bases.get("port"))
    if codec is None and low >= 5:
        if base == 0:
            fields["channel"] = {"base": 0}
            doubts["channel"] = "counted from 0, as others are here"
    elif codec == {"first": 5} and base == 0:
        fields["channel"] = {"base": 0, "first": 5}
    return one._replace(fields=fields, doubts=doubts)


def receivers_of(
    forms: Sequence[FormGuess], choices: Mapping[str, Choice], bases: Mapping[str, int]
) -> dict[str, frozenset[int]]:
    """By sample, the ports (counted from 1) that carry the receiver, as far as words say so."""
    seen: dict[str, set[int]] = {}
    shift = 1 - bases.get("port", 1)

    def see(row: Row, number: str, text: str) -> None:
        words = re.split(r"[^\w-]+", text)
        if number.isdigit() and any(best("port.N.functions", w)[0] == "receiver" for w in words):
            seen.setdefault(row.file, set()).add(int(number) + shift)

    for form in forms:
        if form.sets.get("functions") == "port.N.functions" and "N" in form.roles:
            columns = (form.record.column(form.roles[name]) for name in ("N", "functions"))
            for row, number, text in zip(form.record.rows, *columns, strict=True):
                see(row, number, text)
    choice = choices.get("port.N.functions")
    if choice is not None and choice.pair.slot.numbers:
        slot = choice.pair.slot
        for row, one, text in zip(slot.rows, slot.numbers, slot.written, strict=True):
            see(row, str(one), text)
    return {file: frozenset(ports) for file, ports in seen.items() if len(ports) == 1}


def receiver_base(slot: Slot, receivers: Mapping[str, frozenset[int]]) -> int | None:
    """From where the receiver's port is counted, for it to be the port that carries one."""
    pairs = [
        (int(text), next(iter(receivers[row.file])))
        for row, text in zip(slot.rows, map(unquoted, slot.written), strict=True)
        if row.file in receivers and text.isdigit()
    ]
    for base in (1, 0):
        if pairs and all(written - base + 1 == port for written, port in pairs):
            return base
    return None
