"""What a draft leaves open, as the questions of one sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.craft.settings import SETTINGS, family, setting
from cfglint.teach import match, sheet
from cfglint.teach.families import (
    Item,
)
from cfglint.teach.proof import read
from cfglint.teach.sheet import Question

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dialect.reader import MapReader
    from cfglint.dump.source import Source
from cfglint.teach.pairing import Slot, slot_of


class Draft(NamedTuple):
    """A dialect file's text, its tables, and what was left out with why.

    ``failed`` are families that could not be read in this try, ``left`` those left out before.
    """

    text: str
    data: dict[str, Any]
    dropped: tuple[str, ...]
    failed: frozenset[str] = frozenset()
    left: frozenset[str] = frozenset()
    #: Settings whose answers contradict the samples, and all that is open.
    reopened: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()


#: Settings that a person is asked to find where nothing was found, and what harm a gap does.
_WANTED = {name: 0.5 for name in SETTINGS if ".N" not in name} | {
    # Few dumps say all of how the craft is built.
    **{
        name: 0.3
        for name in SETTINGS
        if name.startswith(("board.", "frame.", "propellers.", "sensor.", "home."))
    },
    "motor.signal": 1.0,
    "receiver.link": 0.9,
    "failsafe.action": 0.9,
    "battery.cells": 0.7,
    "battery.empty_v": 0.7,
}


def questions(
    draft: Draft,
    proven: Sequence[tuple[Item, dict[str, Any]]],
    slots: Sequence[Slot],
    items: Sequence[Item],
    pairs: Sequence[match.Pair],
    reopened: Sequence[str],
    first: Sequence[Source],
) -> list[Question]:
    """All that is open: words that are guessed or unknown, mappings that are guesses, gaps."""
    out: list[Question] = []
    modes = draft.data.get("modes", {})
    for word in modes.get("unsure", ()):
        for text in [modes[word]] if isinstance(modes.get(word), str) else modes.get(word, ()):
            out.append(Question("word", "mode", text, f"mode `{text}`: perhaps {word}", 2.0))  # noqa: PERF401
    out += [
        Question("word", "mode", text, f"mode `{text}`: not known", 2.2)
        for text in modes.get("own", ())
    ]
    for item, form in proven:
        for field, codec in form.get("fields", {}).items():
            table = form.get("sets", {}).get(field, "")
            for word in codec.get("unsure", ()):
                every = codec["words"].get(word, ())
                for text in [every] if isinstance(every, str) else every:
                    if table in sheet.TABLES:
                        out.append(
                            Question("word", table, text, f"{table}: `{text}`, perhaps {word}", 1.5)
                        )
        if (
            item.name
            and item.name in sheet.TABLES
            and form.get("unsure")
            and form.get("sure", True)
        ):
            for word in form["unsure"]:
                every = form["words"].get(word, ())
                out += [
                    Question("word", item.name, text, f"{item.name}: `{text}`, perhaps {word}", 1.5)
                    for text in ([every] if isinstance(every, str) else every)
                ]
        if (
            item.name
            and ".N" not in item.name
            and (form.get("sure") is False or item.name in reopened)
        ):
            seen = "; ".join(f"line {one.line}: {one.written}" for one in item.expects[:3])
            about = f"{item.name}, {setting(item.name).about}{_in_unit(item.name)}: read from {form['at'] if isinstance(form['at'], str) else form['at'][0]!r} ({seen})"  # noqa: E501
            out.append(Question("value", "", item.name, about, 1.0 + _WANTED.get(item.name, 0)))
    readers = read(first, draft.data) if first else []
    for text in _unread_functions(draft, slots, items):
        out.append(Question("word", "port.N.functions", text, f"what port carries `{text}`", 1.6))
    have = {item.name for item, _ in proven}
    for name, harm in _WANTED.items():
        if name not in have:
            likely = next(
                (pair for pair in pairs if pair.setting == name and pair.score >= 0.2), None
            )
            hint = (
                f"; perhaps line {slot_of(likely).entries[0].row.line}: {slot_of(likely).entries[0].row.text.strip()[:60]}"  # noqa: E501
                if likely
                else ""
            )
            out.append(
                Question(
                    "find",
                    "",
                    name,
                    f"{name}, {setting(name).about}{_in_unit(name)}: not found{hint}",
                    harm,
                )
            )
    return out + _families(readers, have, proven)


#: How what is read is told of, by whether some of it is a guess.
_GUESS = {False: "read so far", True: "read so far, as a guess"}
#: What it is worth that one guess of many is said to be right.
_SETTLED = 0.5
#: How much harm a gap does in what is counted, and in when modes are on.
_COUNTED, _MODES = 0.8, 3.0


def _families(
    readers: Sequence[MapReader],
    have: set[str],
    proven: Sequence[tuple[Item, dict[str, Any]]],
) -> list[Question]:
    """What is counted, and mode ranges and links: what of them is read in the first sample."""
    out = []
    have = have | {one for item, _ in proven for one in item.forms[0].get("sets", {}).values()}
    reader = readers[0] if readers else None
    for name in SETTINGS:
        if ".N" not in name or reader is None:
            continue
        head, _, tail = name.partition(".N")
        seen = [
            f"{one.name[len(head) + 1 : len(one.name) - len(tail)]} = {one.written} (line {one.span.line})"  # noqa: E501
            for one in reader.values.values()
            if one.span is not None and family(one.name) == name
        ]
        guessed = sum(not one.sure for one in reader.values.values() if family(one.name) == name)
        read_ = f"{_GUESS[guessed > 0]}: {', '.join(seen)}" if seen else "not found"
        about = f"{name}, {setting(name).about}{_in_unit(name)}: {read_}"
        harm = max(guessed * _SETTLED, 0.2 if name in have else _COUNTED)
        out.append(Question("find", "", name, about, harm))
    if reader is None:
        return out
    ranges = [
        f"{r.span.line}: {r.mode} {r.channel} {r.low_us:g} {r.high_us:g}"
        f"{' all' if r.join == 'all' else ''}"
        for r in reader.ranges
    ]
    links = [f"{link.span.line}: {link.mode} follows {link.follows}" for link in reader.links]
    for what, about, seen, read_as in (
        ("range", "when modes are on", ranges, reader.ranges),
        ("link", "modes that are on along with others", links, reader.links),
    ):
        guessed = sum(not one.sure for one in read_as)
        said = f"{_GUESS[guessed > 0]}: {'; '.join(seen)}" if seen else "none found"
        harm = max(guessed * _SETTLED, 1.0) if seen else _MODES
        out.append(Question("rows", "", what, f"{about}: {said}", harm))
    return out


def _in_unit(name: str) -> str:
    row = setting(name)
    return f" ({', '.join(row.words)})" if row.words else f" in {row.unit}" if row.unit else ""


def _unread_functions(draft: Draft, slots: Sequence[Slot], items: Sequence[Item]) -> list[str]:
    """Words of ports that nobody understood."""
    out: list[str] = []
    for item in items:
        codec = item.forms[0].get("fields", {}).get("functions") or (
            item.forms[0] if item.name == "port.N.functions" else None
        )
        if codec is None:
            continue
        known = {
            text
            for every in codec.get("words", {}).values()
            for text in ([every] if isinstance(every, str) else every)
        }
        none = codec.get("none", ())
        known |= {none} if isinstance(none, str) else set(none)
        for one in item.expects:
            if one.name.endswith(".functions"):
                parts = (
                    one.written.split(codec.get("list", ",")) if one.written not in known else []
                )
                out += [
                    part.strip()
                    for part in parts
                    if part.strip() and part.strip() not in known and part.strip() not in out
                ]
    return out
