"""Forms that are filled in: boxes to tick, choices of which one is ticked, values in brackets.

A group of boxes of which each is a word of one setting is a choice; `yes` and `no` are a flag's; a
box alone is a flag whose name stands beside it.
"""

from __future__ import annotations

import re
from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.entries import Entry, titles_of
from cfglint.teach.families import Expect, Item, clean
from cfglint.teach.marked import listed_channels, marked_ports
from cfglint.teach.readings import loss_meaning, read_order
from cfglint.teach.saying import saying
from cfglint.teach.sense import best
from cfglint.teach.spoken import FLAGS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row

BOX = re.compile(r"\[[ xX]\]|\([ xXo•*]\)|[☐☑☒]")
_OPEN = re.compile(r"\[ \]|\( \)|☐")
_GAP = re.compile(r"[ \t]{3,}")
#: A number, a code or a letter that counts the lines of a form.
_LABEL = re.compile(r"[ \t]*(?:[A-Z]?\.?\d{1,2}(?:\.\d{1,2})?[.)]?|[A-Z])[ \t]{2,}(?=\S)")
#: Rows with boxes or values in brackets make a form.
_FORM = 4


class Option(NamedTuple):
    """One box: whether it is ticked, and the words behind it."""

    on: bool
    text: str
    start: int
    box: tuple[int, int]


class Group(NamedTuple):
    """Boxes under one name; ``own`` says that the name stands in the line of its boxes."""

    sample: int
    row: Row
    name: str
    own: bool
    options: tuple[Option, ...]


class Filled(NamedTuple):
    items: list[Item]
    entries: list[Entry]
    taken: set[tuple[int, int]]


def _options(text: str) -> tuple[str, list[Option], list[tuple[int, int]]]:
    """A line's name before its boxes, the boxes, and what other text stands between them."""
    boxes = list(BOX.finditer(text))
    name = text[: boxes[0].start()]
    options, rest = [], []
    for place, box in enumerate(boxes):
        stop = boxes[place + 1].start() if place + 1 < len(boxes) else len(text)
        words = text[box.end() : stop]
        lead = len(words) - len(words.lstrip())
        gap = _GAP.search(words, lead) if lead < 3 else None
        if gap and (pulse := re.match(r"\d{3,4}(?!\d)", words[gap.end() :])):
            # A line to write on within the words of a box: `set to  1213  us`.
            gap = _GAP.search(words, gap.end() + pulse.end())
        if lead >= 3:
            label, begin = "", box.end()
            rest.append((box.end() + lead, stop))
        else:
            label = words[lead : gap.start() if gap else len(words)].strip()
            begin = box.end() + lead
            if gap and words[gap.end() :].strip():
                rest.append((box.end() + gap.end(), stop))
        options.append(Option(_OPEN.fullmatch(box.group()) is None, label, begin, box.span()))
    return name, options, rest


def _groups(rows: Sequence[tuple[int, Row]]) -> list[Group]:
    """The boxes of all rows, those of lines that only go on under the name of the line before."""
    out: list[Group] = []
    name = ""
    last = (-1, -1)
    for sample, row in rows:
        text = row.text
        if not BOX.search(text):
            label = _LABEL.match(text)
            name = text[label.end() if label else 0 :].strip()
            last = (sample, row.line)
            continue
        own, options, rest = _options(text)
        label = _LABEL.match(own)
        own = own[label.end() if label else 0 :].strip(" \t.:…")
        if not own and last != (sample, row.line - 1):
            name = ""
        if own:
            name = own
        last = (sample, row.line)
        cuts = [0]
        for at, option in enumerate(options[1:], 1):
            if any(options[at - 1].box[1] < start < option.box[0] for start, _ in rest):
                cuts.append(at)
        cuts.append(len(options))
        for begin, end in pairwise(cuts):
            part = options[begin:end]
            here = name.strip(" \t.:…")
            if begin:
                between = text[options[begin - 1].box[1] : part[0].box[0]]
                here = _GAP.split(between.strip())[-1].strip(" \t.:…")
            out.append(Group(sample, row, here, bool(own) or begin > 0, tuple(part)))
    return out


_TABLES = ("motor.signal", "receiver.link", "failsafe.action", "battery.chemistry")


def _means(table: str, text: str) -> str:
    if table == "failsafe.action":
        word, weight = saying(table, text)
    else:
        word, weight = best(table, text)
    return word if weight >= 0.5 else ""


def _table(options: Sequence[str]) -> str:
    """The setting that a choice is of, by what its options mean; ``""`` for none."""
    if len(options) >= 2 and all(read_order([text]) for text in options):
        return "receiver.channel_order"
    shares = {
        table: sum(bool(_means(table, text)) for text in options) / len(options)
        for table in _TABLES
    }
    table = max(shares, key=lambda one: shares[one])
    return table if shares[table] >= 0.6 and len(options) >= 2 else ""


def _name_in(name: str) -> str:
    """A name as an address: numbers in it may be others."""
    return re.sub(r"(?:^|(?<=\s))[\d.,]*\d[\d.,]*(?=\s|$)", "*", clean(name))


def _choice(table: str, groups: Sequence[Group]) -> Item | None:
    """The entry of a choice: what is ticked, beside its name or in a line under it."""
    words: dict[str, list[str]] = defaultdict(list)
    at, expects = [], []
    for group in groups:
        name = _name_in(group.name)
        at += [name, f"{name} > {{value}}"] if group.own else [f"{name} > {{value}}", name]
        for option in group.options:
            word = _means(table, option.text) if table in _TABLES else ""
            if word and option.text not in words[word]:
                words[word].append(option.text)
            if option.on:
                expects.append(Expect(group.sample, table, group.row.line, option.text))
    if not expects or not any(name for name in at):
        return None
    at = list(dict.fromkeys(one for one in at if one.strip("> ")))
    form: dict[str, Any] = {"at": at[0] if len(at) == 1 else at, "sure": False}
    if words:
        form["words"] = {word: t[0] if len(t) == 1 else t for word, t in words.items()}
    single = tuple({**form, "at": one} for one in at)
    return Item(table, table, (form, *single), tuple(expects), "a choice of which one is ticked")


def _spelled(text: str, spans: Sequence[tuple[int, int, str]]) -> str:
    """A line's own characters as a template with fields."""
    out, at = [], 0
    for start, end, field in sorted(spans):
        out.append(re.sub(r"\*", "'*'", text[at:start]))
        out.append("{" + field + "}")
        at = end
    out.append(re.sub(r"\*", "'*'", text[at:]))
    return re.sub(r"[ \t]+", " ", "".join(out)).strip()


def _flag_of(text: str) -> str:
    """The setting that a flag's words tell, ``""`` for none."""
    for name, (what, topic, bars) in FLAGS.items():
        told = re.search(rf"(?i)\b(?:{what})", text) and re.search(rf"(?i)\b(?:{topic})", text)
        barred = name != "motor.two_way" and re.search(rf"(?i)\b(?:{bars})", text)
        if told and not barred:
            return name
    return ""


def _alone(groups: Sequence[Group]) -> list[Item]:
    """Flags that are a box with words before or behind it."""
    found: dict[str, list[tuple[Group, Option, str]]] = defaultdict(list)
    for group in groups:
        title = " ".join(group.row.titles[-1].code.split() if group.row.titles else ())
        for option in group.options:
            words = option.text or group.name
            name = _flag_of(words) or _flag_of(f"{title} {words}")
            if name:
                found[name].append((group, option, option.text))
    out = []
    for name, every in found.items():
        first: dict[int, tuple[Group, Option, str]] = {}
        for one in every:
            first.setdefault(one[0].sample, one)
        at, expects = [], []
        for group, option, label in first.values():
            text = group.row.text
            start, end = option.box
            if label:
                before = "* " if text[:start].strip() else ""
                after = " *" if text[option.start + len(label) :].strip() else ""
                spelled = re.sub(r"[ \t]+", " ", label).replace("*", "'*'")
                at.append(f"{before}{{flag}} {spelled}{after}")
            else:
                tail = " *" if text[end:].strip() else ""
                at.append(f"{_spelled(text[:end], [(start, end, 'flag')])}{tail}")
            written = text[start:end]
            expects.append(Expect(group.sample, name, group.row.line, written))
        at = list(dict.fromkeys(at))
        ticks = {option.on: text for text, option in _both(groups)}
        form = {
            "at": at[0] if len(at) == 1 else at,
            "sets": {"flag": name},
            "characters": True,
            "fields": {
                "flag": {"words": {"yes": ticks.get(True, "[x]"), "no": ticks.get(False, "[ ]")}}
            },
            "sure": False,
        }
        out.append(Item(f"flag-{name}", "", (form,), tuple(expects), "a box with its words"))
    return out


def _both(groups: Sequence[Group]) -> list[tuple[str, Option]]:
    """Boxes as they are drawn."""
    return [
        (group.row.text[slice(*option.box)], option) for group in groups for option in group.options
    ]


_VALUE = re.compile(r"(?P<name>[^\[\]{}]*?)[ \t]*\[[ \t]+(?P<value>[^\[\]|]*[^\s\[\]|])[ \t]*\]")


_SECTION = re.compile(
    r"[ \t]*(?:\d{1,2}|[A-Z])[.)]?[ \t]+(?P<words>[A-Z][A-Z]+(?:[ ,]+[A-Z]{2,})*)"
)


def bracketed(sample: int, row: Row, heading: str) -> list[Entry]:
    """The values in brackets of a row, each with the words before it."""
    out = []
    lead = ""
    label = _LABEL.match(row.text)
    for match in _VALUE.finditer(row.text, label.end() if label else 0):
        parts = [
            part.strip(" \t:.") for part in re.split(r"[ \t]{2,}", match["name"]) if part.strip()
        ]
        if not parts or not re.search(r"[^\W\d_]", parts[-1]):
            continue
        unit = re.match(
            r"[ \t]?([^\W\d_]{1,3}(?:/[A-Za-z]+)?|%)(?=[ \t]|$)", row.text[match.end() :]
        )
        if len(parts) > 1 and ":" in match["name"]:
            lead = parts[0]
        note = f"\1{unit[1]}" if unit else ""
        out.append(
            Entry(
                sample, row, (), f"{heading} {lead}".strip(), parts[-1], match["value"],
                match.start("value"), match.end("value"), False, True, note,
            )
        )  # fmt: skip
    return out


def form_rows(rows: Sequence[tuple[int, Row]]) -> Filled:
    """What a form's boxes and brackets say, where a dump is one."""
    out = Filled([], [], set())
    held = [(s, r) for s, r in rows if not r.comment]
    ports, lines = marked_ports(held)
    listed, more = listed_channels(held)
    lines |= more
    out.items.extend([*ports, *listed])
    out.taken.update(lines)
    held = [(s, r) for s, r in held if (s, r.line) not in lines]
    boxed = [(s, r) for s, r in held if BOX.search(r.text)]
    values = []
    heading = ""
    for sample, row in held:
        section = _SECTION.match(row.text)
        heading = section["words"].lower() if section else heading
        values += bracketed(sample, row, heading)
    if len(values) >= _FORM:
        out.entries.extend(values)
        out.taken.update((entry.sample, entry.row.line) for entry in values)
    if len(boxed) < _FORM:
        return out
    groups = _groups(held)
    out.taken.update((group.sample, group.row.line) for group in groups)
    by: dict[str, list[Group]] = defaultdict(list)
    for group in groups:
        by[clean(re.sub(r"\d", "", group.name)).lower()].append(group)
    alone: list[Group] = []
    for name, every in by.items():
        texts = [option.text for group in every for option in group.options if option.text]
        table = _table(list(dict.fromkeys(texts))) if texts else ""
        item = _choice(table, every) if table and name else None
        if item is not None and all(one.name != table for one in out.items):
            out.items.append(item)
            continue
        lost = _lost(every, texts) if name else None
        if lost is not None:
            out.items.append(lost)
            continue
        answers = {text.lower() for text in texts}
        if name and len(answers) == 2 and answers in ({"yes", "no"}, {"on", "off"}):
            out.entries.extend(
                _ticked(group, option) for group in every for option in group.options if option.on
            )
        else:
            alone += every
    out.items.extend(_alone(alone))
    return out


def _lost(groups: Sequence[Group], texts: Sequence[str]) -> Item | None:
    """What becomes of channels, where each has a box for holding, for no pulse and for a pulse."""
    words: dict[str, str] = {}
    for text in dict.fromkeys(texts):
        word = loss_meaning(text)[0]
        if word and not re.search(r"\d", text):
            words.setdefault(word, text)
    numbers = [re.search(r"(?<!\d)\d{1,2}(?!\d)", group.name) for group in groups]
    if len(words) < 2 or not all(numbers):
        return None
    at, expects = [], []
    for group, count in zip(groups, numbers, strict=True):
        if count is None:
            continue
        head = f"{clean(group.name[: count.start()])} {{N}}"
        for option in group.options:
            pulse = re.search(r"(?<!\d)\d{3,4}(?!\d)", option.text)
            if option.on:
                lead = (
                    clean(option.text[: pulse.start()]).replace("_", " ").strip() if pulse else ""
                )
                end = option.start + len(option.text)
                # What stands behind a box that is not ticked, past a line to write on, is left.
                end = option.start + pulse.end() if pulse else end
                tail = [one.text for one in group.row.atoms if one.start >= end]
                at.append(" ".join(part for part in (head, lead, "{value}", *tail) if part))
                name = f"failsafe.channel.{int(count.group())}"
                written = pulse.group() if pulse else option.text
                expects.append(Expect(group.sample, name, group.row.line, written))
    at = sorted(set(at), key=len, reverse=True)
    form = {
        "at": at[0] if len(at) == 1 else at,
        "sets": {"value": "failsafe.channel.N"},
        "fields": {"value": {"words": words}},
        "sure": False,
    }
    return Item("lost-choices", "", (form,), tuple(expects), "a choice for each channel")


def _ticked(group: Group, option: Option) -> Entry:
    """A name with the one of its options that is ticked."""
    path, heading = titles_of(group.row)
    return Entry(
        group.sample, group.row, path, heading, group.name, option.text,
        option.start, option.start + len(option.text), False, True,
    )  # fmt: skip


__all__ = ["form_rows"]
