"""The one file of answers: a sheet, read, looked over, and written anew with what is open."""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING

from cfglint.errors import Problem, raise_all
from cfglint.span import on_line

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from cfglint.craft.card import Card
    from cfglint.craft.settings import Setting
    from cfglint.dump.source import Source
    from cfglint.span import Span
    from cfglint.teach.whole import Whole

    Parse = Callable[[str], tuple[dict[str, str], list[tuple[int, str]]]]

#: What a card says that a dump says as well: the card's field, and the setting.
CARD = {
    "receiver.link": "receiver.link",
    "receiver.port": "receiver.port",
    "transmitter.channel_order": "receiver.channel_order",
    "battery.chemistry": "battery.chemistry",
    "battery.cells": "battery.cells",
}
#: Of so many lines that are no question it is said which they are.
MOST_WRONG = 5


def read_sheet(path: str, parse: Parse) -> tuple[dict[str, str], str]:
    """A sheet's answers and its text; none if there is no sheet yet.  Raises Problem(s)."""
    if not path or not os.path.lexists(path):
        return {}, ""
    try:
        text = bytes_of(path).decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        raise Problem(
            f"it cannot be read: {wrong.reason}", file=path, instead="save it as UTF-8 text"
        ) from None
    answers, strange = parse(text)
    raise_all(
        Problem(
            f"`{line.strip()[:60]}` is no question of a sheet",
            span=on_line(path, at, 0, len(line)),
            instead="write answers behind the `=` of the sheet's own lines, several as "
            "`name = answer, name = answer`; remarks begin with `#`",
        )
        for at, line in strange[:MOST_WRONG]
    )
    if text.strip() and " =" not in text and not text.startswith("# What the samples"):
        raise Problem(
            "this is no sheet of questions, and is not written over",
            file=path,
            instead="name another file",
        )
    return answers, text


def bytes_of(path: str) -> bytes:
    """A file's bytes that is no sample: one that cannot be read is wrong use.  Raises Problem."""
    from cfglint.runner.reading import read_bytes

    try:
        return read_bytes(path, path)
    except Problem as wrong:
        raise Problem(wrong.message, file=path, instead=wrong.instead) from None


def read_answers(path: str, samples: Sequence[Source]) -> dict[str, str]:
    """The answers of a dialect's sheet, each of a kind that can be meant.  Raises Problem(s)."""
    from cfglint.teach.sheet import parse

    answers, text = read_sheet(path, parse)
    found = []
    for key, answer in answers.items():
        why = mistake(key, answer, samples)
        if why is not None:
            found.append(Problem(why[0], span=_place(path, text, key, answer), instead=why[1]))
    raise_all(found)
    return answers


def _place(path: str, text: str, key: str, answer: str) -> Span:
    """Where an answer stands in the sheet."""
    subject = key.rpartition(" ")[2]
    for at, line in enumerate(text.splitlines(), 1):
        name = line.find(subject, line.find(" ") + 1)
        start = line.rfind(answer) if name < 0 else line.find(answer, name + len(subject))
        if not line.startswith("#") and name >= 0 and start >= 0:
            return on_line(path, at, start, start + len(answer))
    return on_line(path, 1, 0, 0)


#: A sample (the first if none is said), a line of it, what stands there, and what that means.
_SPOT = re.compile(r"(?:(\d)/)?(\d+)[ \t]*:[ \t]*(.*?)[ \t]*(?:=>.*)?")


def mistake(key: str, answer: str, samples: Sequence[Source]) -> tuple[str, str] | None:
    """Why an answer cannot be meant, whatever is drafted, and what to write instead."""
    from cfglint.craft.settings import MODES, SETTINGS, family
    from cfglint.near import suggestion

    kind, _, rest = key.partition(" ")
    said = answer.removesuffix("!").strip()
    table = rest.partition(" ")[0] if kind == "word" else rest
    row = SETTINGS.get(family(table))
    if said == "-" or (kind in ("value", "find") and said == "ok"):
        return None
    if kind in ("value", "find") and row is None:
        return f"there is no setting `{rest}`", suggestion(rest, SETTINGS)
    spot = _SPOT.fullmatch(said) if kind in ("value", "find") else None
    if spot is not None:
        return _not_there(samples, int(spot[1] or 1), int(spot[2]), spot[3])
    if kind == "find":
        return f"`{said}` names no place", "write a line's number and the text there, `12: fast`"
    if kind not in ("word", "value"):
        return None
    words = MODES if table == "mode" else row.words if row is not None else ()
    if words and said not in words:
        return f"`{said}` is not a word for {table}", suggestion(said, words, most=20)
    return _no_value(row, said) if kind == "value" and row is not None else None


def _no_value(row: Setting, said: str) -> tuple[str, str] | None:
    """Why a text is no value of a flag or a number."""
    from cfglint.teach.readings import number

    if row.kind == "flag" and said.lower() not in ("yes", "no", "true", "false", "on", "off"):
        return f"`{said}` is neither yes nor no", "write `yes` or `no`"
    if row.kind in ("number", "count") and number(said, False) is None:
        return f"`{said}` is no number", f"write one{f', in {row.unit}' if row.unit else ''}"
    return None


def _not_there(
    samples: Sequence[Source], sample: int, number: int, text: str
) -> tuple[str, str] | None:
    """Why a place is none: its sample or line is not there, or holds something else."""
    if not 0 < sample <= len(samples):
        return (
            f"there is no sample {sample}",
            f"there are {len(samples)}, counted as they are named",
        )
    source = samples[sample - 1]
    line = source.lines[number - 1] if 0 < number <= len(source.lines) else ""
    if text and text in line:
        return None
    there = f"`{line.strip()[:60]}`" if line else "nothing"
    return (
        f"line {number} of {source.file} does not hold `{text}`",
        f"there stands {there}; write the number of the line and the text as it is there",
    )


def write_sheet(path: str, made: Whole, answers: Mapping[str, str]) -> None:
    """Write the sheet with what was answered and what is open.  Raises Problem."""
    from cfglint.cli.teach_files import write_draft
    from cfglint.teach.sheet import text

    if made.questions or answers or os.path.lexists(path):
        write_draft(path, text(made.questions, answers).encode())


# ---------------------------------------------------------------- answers from elsewhere


def of_card(card: Card) -> dict[str, str]:
    """What a hardware card says that the first sample says as well, as answers."""
    found = {
        f"value {name}": str(card.values[field])
        for field, name in CARD.items()
        if field in card.values
    }
    signals = card.values.get("esc.signals", frozenset())
    return found | ({"value motor.signal": min(signals)} if len(signals) == 1 else {})


def of_change(setting: str, one: Source, two: Source) -> dict[str, str]:
    """Where a setting stands, from two dumps between which nothing else was changed.

    Raises Problem where no line, or more than one, differs.
    """
    from itertools import zip_longest

    from cfglint.craft.settings import SETTINGS
    from cfglint.near import suggestion

    if setting not in SETTINGS or ".N" in setting:
        known = [name for name in SETTINGS if ".N" not in name]
        raise Problem(
            f"--changed: there is no setting `{setting}` that stands alone",
            instead=suggestion(setting, known) or "look it up with `cfglint show`",
        )
    pairs = list(enumerate(zip_longest(one.lines, two.lines, fillvalue=""), 1))
    differ = [(at, a, b) for at, (a, b) in pairs if a.split() != b.split()]
    if len(differ) != 1:
        places = ", ".join(str(at) for at, _, _ in differ[:6])
        raise Problem(
            f"--changed: {len(differ) or 'no'} lines differ from {two.file}"
            + (f" ({places}{', …' if len(differ) > 6 else ''})" if differ else ""),
            file=one.file,
            instead="change this one setting at the controller, nothing else, and dump before and "
            "after",
        )
    at, before, after = differ[0]
    return {f"find {setting}": f"{at}: {_differing(before, after)}"}


#: A word or a number, or a mark by itself.
_TOKEN = re.compile(r"[\w+\-](?:[\w.,\-/]*\w)?|\S")


def _differing(before: str, after: str) -> str:
    """The words of a line that another has otherwise."""
    old, new = list(_TOKEN.finditer(before)), _TOKEN.findall(after)
    words = [one.group() for one in old]
    most = min(len(words), len(new))
    start = next((at for at in range(most) if words[at] != new[at]), most - 1)
    ends = (at for at in range(most - start) if words[-1 - at] != new[-1 - at])
    end = next(ends, most - start - 1)
    return before[old[start].start() : old[len(old) - 1 - end].end()] if old else ""
