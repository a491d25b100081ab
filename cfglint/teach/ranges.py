"""Mode ranges, told by their columns: a mode, a channel, and where its pulses begin and end."""

from __future__ import annotations

import re
from collections import defaultdict
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

from cfglint.record import NamedTuple
from cfglint.teach.meanings import best
from cfglint.teach.words import ideas_of, split

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row
from cfglint.teach.columns import (
    about_of,
    constant,
    headed,
    literal_words,
    mode_share,
    number_columns,
    plain_numbers,
    whole_numbers,
    word_before,
    wordy,
)
from cfglint.teach.forms import FormGuess, line_form
from cfglint.teach.records import Record


def range_guess(record: Record) -> FormGuess | None:
    """The record as mode ranges, or None."""
    fields = record.fields
    sectioned = "{mode}" in record.within
    about = about_of(record)
    if "port" not in about and any(
        ideas_of([word_before(record, at)]) & {"range", "functions"} for at in record.fields
    ):
        about = about | {"range"}
    floats = number_columns(record)
    mode_at, mode_weight = -1, 0.0
    for at in fields:
        weight = mode_share(record.column(at))
        literal = constant(record.column(at)) and len(record.rows) > 1
        literal = literal and not (weight >= 0.9 and at != fields[0])
        literal = literal or _joining(record, at)
        if weight > mode_weight and weight >= 0.45 and not literal:
            mode_at, mode_weight = at, weight
    if mode_at < 0 and not sectioned and len(record.rows) > 1:
        # Words that hardly any trade word fits, where only modes can stand.
        rest = [at for at in fields if wordy(record.column(at)) and not constant(record.column(at))]
        rest = [at for at in rest if not _joining(record, at)]
        rest.sort(key=lambda at: -len(set(record.column(at))))
        if rest and (
            about & {"range", "aux"}
            or mode_share(record.column(rest[0])) >= 0.12
            or sum(min(v) >= 750 and max(v) <= 2300 for v in floats.values()) == 2
        ):
            mode_at, mode_weight = rest[0], max(mode_share(record.column(rest[0])), 0.2)
    candidates: list[tuple[float, dict[str, int], Ends]] = []
    for low_at, high_at in combinations(floats, 2):
        pair = ends_of(record, floats[low_at], floats[high_at])
        if pair is None:
            continue
        between = [at for at in floats if low_at < at < high_at]
        if between:
            continue
        rest = [at for at in floats if at not in (low_at, high_at)]
        if not pair[1].sure:
            # Pulses are the largest numbers of a line, whatever their steps, and count nothing.
            largest = max(max(values) for values in floats.values())
            worth = pair[0] + (0.2 if max(floats[high_at]) == largest else -0.2)
            pair = worth - 0.4 * any(_counted(record, at) for at in (low_at, high_at)), pair[1]
        for channel_at in rest:
            channels = whole_numbers(record.column(channel_at))
            if channels is None or max(channels) > 24:
                continue
            near = ideas_of([word_before(record, channel_at)])
            chance = 0.5 + (0.3 if near & {"channel", "aux"} else 0.0)
            chance += 0.3 if headed(record, channel_at, "channel", "aux") else 0.0
            chance -= 0.3 if _counted(record, channel_at) else 0.0
            chance -= 0.3 if len(set(channels)) == 1 and len(channels) > 2 else 0.0
            others = [at for at in rest if at != channel_at]
            if mode_at >= 0:
                candidates.append(
                    (
                        pair[0] + chance + mode_weight,
                        {"mode": mode_at, "channel": channel_at, "low": low_at, "high": high_at},
                        pair[1],
                    )
                )
            elif sectioned:
                candidates.append(
                    (
                        pair[0] + chance + 0.8,
                        {"channel": channel_at, "low": low_at, "high": high_at},
                        pair[1],
                    )
                )
            else:
                for code_at in others:
                    codes = whole_numbers(record.column(code_at))
                    if codes is None or max(codes) > 99:
                        continue
                    code = 0.35 + (
                        0.2
                        if ideas_of([word_before(record, code_at)]) & {"range", "kind", "functions"}
                        else 0.0
                    )
                    code += 0.4 if headed(record, code_at, "range", "functions", "kind") else 0.0
                    # Slots are counted; a mode's number has more to choose from than a channel's.
                    code -= 0.5 if _counted(record, code_at) else 0.0
                    # Of two that count the lines the first is the slot.
                    code -= (
                        0.2 if any(at > code_at and _counted(record, at) for at in rest) else 0.0
                    )
                    code += 0.15 if len(set(codes)) > len(set(channels)) else 0.0
                    code -= 0.1 if len(set(codes)) < len(set(channels)) else 0.0
                    code += 0.25 if about & {"range"} else -0.1
                    candidates.append(
                        (
                            pair[0] + chance + code,
                            {
                                "mode": code_at,
                                "channel": channel_at,
                                "low": low_at,
                                "high": high_at,
                            },
                            pair[1],
                        )
                    )
    if not candidates:
        return None
    candidates.sort(key=lambda row: -row[0])
    score, roles, ends = candidates[0]
    rivals = [row for row in candidates if row[1]["channel"] != roles["channel"]]
    torn = bool(rivals) and mode_at < 0 and not sectioned and score - rivals[0][0] < 0.15
    few = len(record.rows) < 2 or (len(record.rows) < 3 and not about & {"range", "aux"})
    if ends.weight < 1 and few and mode_weight < 0.75 and not sectioned:
        return None  # small numbers of any kind
    if mode_at < 0 and not sectioned:
        if len(record.rows) < 2 or (not about & {"range", "aux", "on"} and len(record.rows) < 3):
            return None
        if about & {"channel", "port", "failsafe"} and not about & {"range", "aux"}:
            return None
    one = range_form(record, roles, ends, score, mode_weight if not sectioned else 0.9, about)
    if torn and one is not None:
        why = "two columns can be the channel"
        return one._replace(doubts={**one.doubts, "channel": why, "mode": why})
    return one


def _joining(record: Record, at: int) -> bool:
    """Whether a column's words are those by which ranges join, and no modes."""
    return all(best("join", text)[1] >= 0.9 for text in record.column(at))


def _counted(record: Record, at: int) -> bool:
    """Whether a column counts each sample's lines: up from line to line, hardly one left out."""
    texts = whole_numbers(record.column(at))
    if texts is None or len(texts) < 3:
        return False
    runs: dict[str, list[int]] = defaultdict(list)
    for row, value in zip(record.rows, texts, strict=True):
        runs[row.file].append(value)
    return all(
        run[0] <= 1 and all(a < b for a, b in pairwise(run)) and run[-1] <= 1.6 * len(run) + 1
        for run in runs.values()
    )


class Ends(NamedTuple):
    """How the ends of ranges are written: offset and step in µs, and how likely that is."""

    weight: float
    offset: float
    step: float
    sure: bool

    @property
    def codec(self) -> dict[str, Any]:
        out: dict[str, Any] = {}
        if self.offset:
            out["offset"] = _whole(self.offset)
        if self.step != 1:
            out["step"] = _whole(self.step)
        return out

    @property
    def note(self) -> str:
        if not self.offset and self.step == 1:
            return "pulses in µs" if self.sure else "steps that nobody has told yet"
        start = f" from {self.offset:g}" if self.offset else ""
        return f"steps of {self.step:g} µs{start}"


def _whole(value: float) -> int | float:
    return int(value) if value == int(value) else value


#: In what ends may be written beside µs: bounds of the written numbers, offset and step in µs.
#: Units, percent of a channel's way and counts of the link, common practice all of them.  Steps
#: of a firmware's own are as good as any others: a comment says them, or the owner.
_SCALES: tuple[tuple[tuple[float, float], float, float], ...] = (
    ((-100, 100), 1500, 5),
    ((0, 100), 1000, 10),
    ((0.7, 2.4), 0, 1000),
    ((7000, 24000), 0, 0.1),
    ((172, 2047), 880, 0.625),
)
#: No range has ends apart by fewer steps of whatever kind, if there are several.
_FEW_STEPS = 8


def _ends(pairs: Sequence[tuple[float, float]]) -> Ends | None:
    """In what the ends of ranges are written, as far as their own domain tells."""
    edges = [edge for pair in pairs for edge in pair]
    bottom, top = min(edges), max(edges)
    if bottom >= 750 and top <= 2300:
        return Ends(1.0, 0, 1, True)
    for (least, most), offset, step in _SCALES:
        low, high = offset + step * bottom, offset + step * top
        signed = bottom < 0 or least >= 0
        if least <= bottom and top <= most and signed and high - low >= 250:
            sure = offset == 0 and (step < 1 or any(edge % 1 for edge in edges))
            return Ends(0.75 if sure else 0.6, offset, step, sure)
    if bottom >= 0 and top <= 2500 and top - bottom >= _FEW_STEPS:
        return Ends(0.5, 0, 1, False)
    return None


def told_steps(one: FormGuess, offset: float, step: float) -> FormGuess:
    """A range's form whose ends are written in steps that a comment tells, if they can be."""
    columns = (plain_numbers(one.record.column(one.roles[name])) for name in ("low", "high"))
    values = [offset + step * edge for column in columns for edge in column or ()]
    if "low" not in one.doubts or not values or min(values) < 750 or max(values) > 2300:
        return one
    codec = Ends(1.0, offset, step, True).codec
    doubts = {name: why for name, why in one.doubts.items() if name != "low"}
    return one._replace(fields={**one.fields, "low": codec, "high": codec}, doubts=doubts)


def ends_of(record: Record, lows: list[float], highs: list[float]) -> tuple[float, Ends] | None:
    """Whether two columns are the ends of ranges, and in what they are written."""
    if any(low > high for low, high in zip(lows, highs, strict=True)):
        return None
    used = [(a, b) for a, b in zip(lows, highs, strict=True) if a < b]
    if not used:
        return None
    ends = _ends(used)
    if ends is None:
        return None
    return (1.0 if ends.weight == 1 else 0.25 + 0.4 * ends.weight), ends


def range_form(
    record: Record,
    roles: dict[str, int],
    ends: Ends,
    score: float,
    mode_weight: float,
    about: set[str],
) -> FormGuess | None:
    roles = dict(roles)
    fields: dict[str, dict[str, Any]] = {}
    codes: dict[str, tuple[str, ...]] = {}
    doubts: dict[str, str] = {}
    taken = set(roles.values())
    for at in record.fields:
        texts = record.column(at)
        if at in taken or (constant(texts) and wordy(texts) and len(record.rows) > 1):
            continue
        words = [best("join", text)[0] for text in texts]
        between = roles["low"] < at < roles["high"]  # `between 1750 and 2080`
        if all(words) and wordy(texts) and not between and "join" not in roles:
            roles["join"] = at
            # Both words, so that one not seen yet is read as well.
            table = dict(zip(words, texts, strict=True))
            fields["join"] = {"values": _joins(table)}
            continue
        ints = whole_numbers(texts)
        if ints is None or constant(texts):
            continue
        if "N" not in roles and _counted(record, at) and at < roles["low"]:
            roles["N"] = at
            if min(ints) == 0:
                fields["N"] = {"base": 0}
        elif "join" not in roles and set(ints) <= {0, 1} and at > roles["high"]:
            roles["join"] = at
            fields["join"] = {"values": {"any": "0", "all": "1"}}
            doubts["join"] = "0 is taken for any, 1 for all"
    channels = _used_channels(record, roles)
    codec, doubt = channel_codec(record, roles["channel"], channels)
    if codec:
        fields["channel"] = codec
    if doubt:
        doubts["channel"] = doubt
    if ends.codec:
        fields["low"] = ends.codec
        fields["high"] = ends.codec
    if not ends.sure:
        doubts["low"] = f"taken for {ends.note}"
    if "mode" in roles:
        words = list(dict.fromkeys(record.column(roles["mode"])))
        unknown = tuple(word for word in words if best("mode", word)[1] < 0.5)
        if unknown:
            codes["mode"] = unknown
    elif record.within:
        words = list(dict.fromkeys(titled(row, record.within) for row in record.rows))
        unknown = tuple(word for word in words if best("mode", word)[1] < 0.5)
        if unknown:
            codes["mode"] = unknown
    literal = {word for text in literal_words(record) for word in split(text)}
    join = (
        "all"
        if literal & {"all", "both", "every", "only", "must", "also"} | _and_first(record)
        and "join" not in roles
        else ""
    )
    lows = plain_numbers(record.column(roles["low"])) or []
    highs = plain_numbers(record.column(roles["high"])) or []
    empty = any(low == high for low, high in zip(lows, highs, strict=True))
    line = line_form(record, roles, fields)
    confidence = min(0.98, 0.3 + 0.25 * score)
    if mode_weight >= 0.75 and ends.sure and score > 2.2:
        confidence = 0.95
    return FormGuess(
        "range", line, record.within, {}, fields, roles, record, confidence,
        f"{_lines(record)} with a mode, a channel and {ends.note}",
        codes, doubts, skip_empty=empty, join=join,
    )  # fmt: skip


def _lines(record: Record) -> str:
    count = len(record.rows)
    return f"{count} line" if count == 1 else f"{count} lines"


def _used_channels(record: Record, roles: dict[str, int]) -> list[int]:
    """The channels of lines whose range is one: what an unused slot names says nothing."""
    channels = whole_numbers(record.column(roles["channel"])) or []
    lows, highs = (
        plain_numbers(record.column(roles["low"])),
        plain_numbers(record.column(roles["high"])),
    )
    used = [
        channel
        for channel, low, high in zip(channels, lows or channels, highs or channels, strict=False)
        if low != high
    ]
    return used or channels


def _and_first(record: Record) -> set[str]:
    """`and` where a line begins with it; between two pulses it joins nothing else."""
    words = split(record.cells[0][record.fields[0]].text)
    return {"and"} & set(words)


def titled(row: Row, within: str) -> str:
    """The mode's word in a row's section title."""
    title = row.sections[-1] if row.sections else ""
    pattern = re.escape(within.rsplit("/", 1)[-1]).replace(re.escape("{mode}"), r"(\S+)")
    match = re.fullmatch(pattern, title)
    return match[1] if match and match.re.groups else title


def _joins(seen: dict[str, str]) -> dict[str, str]:
    """Both words of joining, where one of them is seen."""
    pairs = (("any", "all"), ("or", "and"), ("either", "both"), ("one", "all"))
    for one, two in pairs:
        for spell in (str, str.upper, str.capitalize):
            table = {"any": spell(one), "all": spell(two)}
            if all(table.get(word) == text for word, text in seen.items()):
                return table
    return seen


def channel_codec(record: Record, at: int, values: Sequence[int]) -> tuple[dict[str, Any], str]:
    """How a range's channel is numbered, and what is doubtful about it (``""``: nothing)."""
    if not values:
        return {}, ""
    low = min(values)
    near = ideas_of([word_before(record, at)])
    head = record.cells[0][at - 2].text.lower() if at >= 2 else ""
    aux = "aux" in near or "aux" in ideas_of([head])
    if aux:
        if low == 0:
            return {"base": 0, "first": 5}, ""
        return {"first": 5}, "aux 1 is taken for channel 5"
    if low == 0:
        return {"base": 0, "first": 5}, "0 is taken for channel 5, the first after the sticks"
    if low <= 3:
        return {"first": 5}, "1 is taken for channel 5, the first after the sticks"
    if low == 4:
        return {"base": 0}, "4 is taken for channel 5, counted from 0"
    if "channel" not in near and "channel" not in ideas_of([head]):
        return {}, "taken as counted from 1"
    return {}, ""
