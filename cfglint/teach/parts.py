"""Mode ranges and links whose parts stand in several entries, counted by a number or a title."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.families import Expect, Item, clean
from cfglint.teach.readings import number
from cfglint.teach.sense import best, is_nothing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.teach.entries import Entry

_COUNT = re.compile(r"(?<!\d)(?<!\d\.)\d{1,3}(?!\d|\.\d)")


class Key(NamedTuple):
    """What counts a record: the words before the number, or the title that holds its parts."""

    path: tuple[str, ...]
    head: str


class Member(NamedTuple):
    """One part of one record: its sample, what counts it, the name of the part."""

    record: tuple[int, str]
    part: str
    entry: Entry


def _members(entries: Sequence[Entry]) -> dict[Key, list[Member]]:
    groups: dict[Key, list[Member]] = defaultdict(list)
    for entry in entries:
        for found in _COUNT.finditer(entry.name):
            head, part = entry.name[: found.start()], entry.name[found.end() :]
            if re.search(r"\w", part):
                key = Key(entry.titles, f"{clean(head)} N".strip())
                groups[key].append(Member((entry.sample, found.group()), clean(part), entry))
        if entry.titles:
            line = next((t.line for t in reversed(entry.row.titles) if t.style != "comment"), 0)
            title = entry.titles[-1]
            count = _COUNT.search(title)
            if count is not None:
                head = f"{clean(title[: count.start()])} N {clean(title[count.end() :])}".strip()
                groups[Key(entry.titles[:-1], head)].append(
                    Member((entry.sample, count.group()), clean(entry.name), entry)
                )
            groups[Key(entry.titles[:-1], clean(title))].append(
                Member((entry.sample, f"@{line}"), clean(entry.name), entry)
            )
            groups[Key(entry.titles[:-1], "{mode}")].append(
                Member((entry.sample, f"@{line}"), clean(entry.name), entry)
            )
    return groups


def record_items(
    entries: Sequence[Entry], comma: bool
) -> tuple[list[Item], set[tuple[int, int]], list[str]]:
    """Ranges and links in records, the lines they take, the modes they name."""
    items: list[Item] = []
    taken: set[tuple[int, int]] = set()
    modes: list[str] = []
    groups = sorted(_members(entries).items(), key=lambda one: -len(one[1]))
    for key, members in groups:
        members = [m for m in members if (m.entry.sample, m.entry.row.line) not in taken]  # noqa: PLW2901
        found = _record(key, members, comma)
        if found is None:
            continue
        made, lines, named = found
        items += [one._replace(id=f"{one.id}{len(items) + n}") for n, one in enumerate(made)]
        taken |= lines
        modes += named
    return items, taken, modes


def _record(
    key: Key, members: Sequence[Member], comma: bool
) -> tuple[list[Item], set[tuple[int, int]], list[str]] | None:
    parts: dict[str, dict[tuple[int, str], Entry]] = defaultdict(dict)
    for member in members:
        parts[member.part].setdefault(member.record, member.entry)
    titles_name_modes = key.head == "{mode}"
    roles = _roles(parts, comma)
    need = {"channel", "low", "high"} if "low" in roles else {"channel", "centre", "half"}
    if not need <= set(roles) or len(parts[roles["channel"]]) < 2:
        return None
    if titles_name_modes == ("mode" in roles):
        return None
    titles = (
        {record: parts[roles["channel"]][record].titles[-1] for record in parts[roles["channel"]]}
        if titles_name_modes
        else {}
    )
    if titles and sum(best("mode", one)[1] >= 0.5 for one in titles.values()) < 0.4 * len(titles):
        return None
    at = " > ".join([clean(step) for step in key.path[-1:]] + [key.head])
    taken: set[tuple[int, int]] = set()
    expects, named = [], list(dict.fromkeys(titles.values()))
    whole = [
        record
        for record in parts[roles["channel"]]
        if all(record in parts[roles[role]] for role in need)
    ]
    for record in whole:
        entry = (
            parts[roles["mode"]].get(record) if "mode" in roles else parts[roles["channel"]][record]
        )
        if entry is None or is_nothing(entry.value):
            continue
        expects.append(Expect(entry.sample, "range", entry.row.line, entry.value))
    for role in (*need, "mode", "join", "follows"):
        for entry in parts[roles[role]].values() if role in roles else ():
            taken.add((entry.sample, entry.row.line))
            if role in ("mode", "follows") and not is_nothing(entry.value):
                named.append(entry.value)
    if "follows" in roles and "mode" in roles:
        expects += [
            Expect(e.sample, "link", parts[roles["mode"]][r].row.line, e.value)
            for r, e in parts[roles["follows"]].items()
            if r in parts[roles["mode"]] and r not in whole and not is_nothing(e.value)
        ]
    phrases = {
        role: roles[role] for role in ("mode", *sorted(need), "join", "follows") if role in roles
    }
    fields: dict[str, Any] = {}
    if "join" in roles:
        words = {
            best("join", entry.value)[0]: entry.value for entry in parts[roles["join"]].values()
        }
        fields = {"join": {"words": words}}
    none = (
        sorted({e.value for e in parts[roles["mode"]].values() if is_nothing(e.value)})
        if "mode" in roles
        else []
    )
    form: dict[str, Any] = {"at": at, "makes": "range", "parts": phrases}
    if fields:
        form["fields"] = fields
    made = [
        Item(
            "records",
            "",
            (form, {**form, "at": key.head}),
            tuple(expects),
            f"{len(whole)} records with a mode, a channel and two ends",
        )
    ]
    return made, taken, [one for one in dict.fromkeys(named) if one not in none]


def _roles(parts: Mapping[str, Mapping[tuple[int, str], Entry]], comma: bool) -> dict[str, str]:
    """Which part is what, by what its values can be."""
    roles: dict[str, str] = {}
    pulses: list[tuple[float, str]] = []
    for part, every in parts.items():
        values = [entry.value for entry in every.values()]
        numbers = [number(value, comma) for value in values if not is_nothing(value)]
        if numbers and all(one is not None for one in numbers):
            figures = [one.value for one in numbers if one is not None]
            if all(1 <= one <= 32 and one == int(one) for one in figures) and max(figures) >= 4:
                roles.setdefault("channel", part)
            elif all(650 <= one <= 2350 for one in figures):
                pulses.append((sum(figures) / len(figures), part))
            elif all(5 <= one <= 800 for one in figures):
                roles.setdefault("half", part)
            continue
        texts = {value for value in values if not is_nothing(value)}
        known = [text for text in texts if best("mode", text)[1] >= 0.5]
        if texts and all(best("join", text)[1] >= 0.9 for text in texts):
            roles.setdefault("join", part)
        elif texts and len(known) >= 0.4 * len(texts):
            held = roles.get("mode")
            if held is None or len(every) > len(parts[held]):
                roles["mode"] = part
                if held is not None:
                    roles["follows"] = held
            else:
                roles.setdefault("follows", part)
    pulses.sort()
    if len(pulses) == 2:
        roles["low"], roles["high"] = pulses[0][1], pulses[1][1]
        low, high = parts[roles["low"]], parts[roles["high"]]
        if any(_figure(low[r], comma) >= _figure(high[r], comma) for r in low if r in high):
            return {}
    elif len(pulses) == 1 and "half" in roles:
        roles["centre"] = pulses[0][1]
    return roles


def _figure(entry: Entry, comma: bool) -> float:
    one = number(entry.value, comma)
    return one.value if one is not None else 0.0
