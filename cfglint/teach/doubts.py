"""What a draft reads without a mark although the samples speak against it, or do not bear it out.

A wrong value that looks sure is the worst that a draft can hold: what is doubtful is marked.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.teach import sheet
from cfglint.teach.encoding import sensible
from cfglint.teach.examples import MOST_CHANNELS, MOST_PORTS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.dialect.reader import MapReader
    from cfglint.dump.source import Source
    from cfglint.teach.families import Item
    from cfglint.teach.sheet import Answers

Proven = list[tuple["Item", dict[str, Any]]]

_BRACKETS = {"(": ")", "[": "]", "{": "}"}


def doubted(
    sources: Sequence[Source],
    readers: Sequence[MapReader],
    modes: Mapping[str, Any],
    proven: Proven,
    answers: Answers,
) -> Proven:
    """The mappings, marked where a sample shows that they read more than they should, or other."""
    names = {*_implausible(readers), *_half_channels(readers)}
    if "receiver.port" not in answers.places and not _port_is_receivers(readers):
        names.add("receiver.port")
    wide = _longer_modes(sources, readers, modes, proven)
    return [
        (item, {**form, "sure": False})
        if names & _sets(item, form) or _torn(form) or id(item) in wide
        else (item, form)
        for item, form in proven
    ]


def _sets(item: Item, form: Mapping[str, Any]) -> set[str]:
    return {item.name, *form.get("sets", {}).values()}


def _implausible(readers: Sequence[MapReader]) -> Iterator[str]:
    """Settings that have a value in some sample which they have in no craft."""
    for reader in readers:
        for name, value in reader.values.items():
            family = sheet.family(name)
            number = re.search(r"\.(\d+)(?:\.|$)", name)
            most = MOST_PORTS if family.startswith("port") else MOST_CHANNELS
            odd = number is not None and int(number[1]) > most
            if family == "craft.firmware" and not re.search(r"\d", str(value.value)):
                odd = True  # a version without a number
            if odd or not sensible(family, value.value):
                yield family


def _half_channels(readers: Sequence[MapReader]) -> Iterator[str]:
    """Ends of channels that one channel has alone, where others have all: a value of another kind."""
    ends = ("low_us", "mid_us", "high_us")
    for reader in readers:
        found: dict[str, set[str]] = {}
        for name in reader.values:
            parts = name.split(".")
            if parts[0] == "channel" and parts[-1] in ends:
                found.setdefault(parts[1], set()).add(parts[-1])
        most = max(map(len, found.values()), default=0)
        for every in found.values():
            if len(every) == 1 < most:
                yield from (f"channel.N.{end}" for end in every)


def _port_is_receivers(readers: Sequence[MapReader]) -> bool:
    """Whether no sample says that another port than the receiver's carries the receiver."""
    for reader in readers:
        port = reader.values.get("receiver.port")
        carry = {
            name
            for name, value in reader.values.items()
            if sheet.family(name) == "port.N.functions" and "receiver" in value.value
        }
        if port is not None and carry and f"port.{port.value}.functions" not in carry:
            return False
    return True


def _torn(form: Mapping[str, Any]) -> bool:
    """Whether a written word holds half of a pair of brackets: it is a piece of something else."""
    return any(
        text.count(one) != text.count(other)
        for every in form.get("words", {}).values()
        for text in ([every] if isinstance(every, str) else every)
        for one, other in _BRACKETS.items()
    )


def _longer_modes(
    sources: Sequence[Source],
    readers: Sequence[MapReader],
    modes: Mapping[str, Any],
    proven: Proven,
) -> set[int]:
    """Rows that take the first or last words of a mode's name for the mode, as `arm` of `arm
    permit`: beside the mode anything may stand, and in some lines there does a word.
    """
    out = set()
    for item, form in proven:
        at = form["at"]
        texts = [at] if isinstance(at, str) else at
        behind = any("{mode} *" in text for text in texts)
        before = any("* {mode}" in text for text in texts)
        if form.get("makes") != "range" or not (behind or before):
            continue
        told = {(one.sample, one.line) for one in item.expects}
        seen: dict[bool, set[str]] = {True: set(), False: set()}
        for sample, reader in enumerate(readers):
            for r in reader.ranges:
                if (sample, r.span.line) not in told:
                    continue
                line = sources[sample].lines[r.span.line - 1]
                seen[sample == 0] |= set(_beside(line, modes.get(r.mode, ()), before, behind))
        if seen[False] - seen[True]:
            out.add(id(item))
    return out


def _beside(line: str, written: str | Sequence[str], before: bool, behind: bool) -> Iterator[str]:
    """The words that stand directly beside a mode's word."""
    for text in sorted([written] if isinstance(written, str) else written, key=len, reverse=True):
        found = re.search(rf"(?i)(?<!\w){re.escape(text)}(?!\w)", line)
        if found is None:
            continue
        after = re.match(r" ?([^\W\d_]{2,})", line[found.end() :])
        if behind and after:
            yield after[1].lower()
        ahead = re.search(r"([^\W\d_]{2,}) ?$", line[: found.start()])
        if before and ahead:
            yield ahead[1].lower()
        return
