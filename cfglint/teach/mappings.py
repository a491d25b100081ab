"""A setting's entry in the map, in all forms that it may take, from the address chosen for it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import setting
from cfglint.teach import match
from cfglint.teach.entries import Entry
from cfglint.teach.families import (
    Expect,
    Item,
    clean,
    template,
    titled,
)
from cfglint.teach.fits import Habits
from cfglint.teach.readings import number

if TYPE_CHECKING:
    pass
from cfglint.teach.pairing import Slot, slot_of

#: Confidence of a name, and of the way to read its values, from which a mapping is not marked.
SURE, SURE_CODEC = 0.66, 0.75


#: How much of a name must speak of the setting, and of nothing else, for that.
CLEAR = 0.66


def single_item(choice: match.Choice, habits: Habits, comma: bool, port_base: int) -> Item:
    pair = choice.pair
    slot = slot_of(pair)
    first = pair.fits[0]
    keys = {key: value for key, value in first.codec.items() if key != "\0"}
    if slot.flag:
        return _named(choice, keys)
    name = pair.setting
    zero = any(re.search(r"(?<!\d)0$", text) for text in slot.written)
    if (
        name == "receiver.port"
        and port_base == 0
        and not zero
        and not re.search(r"[A-Za-z]$", slot.written[0])
    ):
        # Ports are counted from 0 where they are listed, and so here.
        if "words" in keys:
            keys["words"] = {str(int(count) + 1): text for count, text in keys["words"].items()}
        else:
            keys["first"] = 0
    if setting(name).kind == "flag" and keys.get("words") == {"yes": habits.yes, "no": habits.no}:
        del keys["words"]
    clear = choice.pair.name.precision >= CLEAR or choice.told
    sure = (
        clear
        and choice.confidence >= SURE
        and choice.codec_confidence >= SURE_CODEC
        and not first.codec.get("\0")
    )
    if not sure:
        keys["sure"] = False
    elif first.doubt:
        keys["unsure"] = list(first.doubt)
    if slot.family:
        base = 0 if 0 in slot.numbers else 1
        if base == 0:
            keys["N"] = {"first": 0}
    entry = slot.entries[0]
    member = slot.key[1].partition("\1")[0]
    called = clean_n(member.replace("\0", " N ")) if slot.family else clean(entry.name)
    path = slot.key[0].replace("\0", " N ").split("\n") if slot.key[0] else []
    counted = [step for step in path if " N " in step]
    forms: list[dict[str, Any]] = []
    texts = titled(path, called)
    if counted:
        last = max(at for at, step in enumerate(path) if " N " in step)
        texts = (" > ".join([*(clean_n(step) for step in path[last:]), called]), *texts[1:])
    if len(texts) > 1 and any(word not in slot.words.own for word in pair.name.words):
        # The title is half of the name: without it the words would say too little.
        texts = (texts[1], texts[0], *texts[2:])
    if entry.column:
        forms = [{"at": clean(entry.titles[-1]), "column": clean(entry.column), **keys}]
        texts = ()
    if entry.form:
        each = list(dict.fromkeys(one.form for one in slot.entries))
        texts = titled(path, each[0]) if len(each) == 1 else ()
        texts = (*texts[1:], *texts[:1])
    for text in texts:
        forms.append({"at": text, **keys})
    hexed = keys.get("base") == 16
    whole = [
        template(*_with_value(one, "" if hexed else setting(name).kind)) for one in slot.entries
    ]
    if slot.family and not counted:
        at = list(dict.fromkeys(_counted(one, member, setting(name).kind) for one in slot.entries))
        forms += [{"at": at[0] if len(at) == 1 else at, **keys}] if len(at) <= 3 else []
    if not slot.family and not entry.column and not entry.form and len(set(whole)) <= 3:
        for depth in range(len(texts)):
            at = [titled(path, one)[depth] for one in dict.fromkeys(whole)]
            forms.append({"at": at[0] if len(at) == 1 else at, **keys})
    reason = f"{first.note + '; ' if first.note else ''}{_examples(slot)}"
    return Item(
        name,
        name,
        tuple(forms),
        _expects(slot, name, comma, hexed),
        reason,
    )


def _named(choice: match.Choice, keys: dict[str, Any]) -> Item:
    """A flag that is set by being named: its rows are nothing but its words."""
    slot = slot_of(choice.pair)
    words = {entry.value: clean(entry.row.text[entry.start : entry.end]) for entry in slot.entries}
    form: dict[str, Any] = {"at": "{value}", "words": words}
    if choice.confidence < SURE:
        form["sure"] = False
    title = clean(slot.entries[0].titles[-1]) if slot.entries[0].titles else ""
    base = 0 if 0 in slot.numbers else 1
    if slot.family:
        title = clean_n(slot.key[0].replace("\0", " N "))
        form |= {"N": {"first": 0}} if base == 0 else {}
    forms = [{**form, "at": f"{title} > {{value}}"}] if title else []
    forms += [] if slot.family else [form]
    expects = tuple(
        Expect(
            one.sample,
            choice.pair.setting.replace(".N", f".{slot.numbers[place] + 1 - base}")
            if slot.family
            else choice.pair.setting,
            one.row.line,
            words[one.value],
        )
        for place, one in enumerate(slot.entries)
    )
    return Item(
        choice.pair.setting,
        choice.pair.setting,
        tuple(forms),
        expects,
        "a flag that is set by being named",
    )


def clean_n(step: str) -> str:
    return " N ".join(clean(part) for part in step.split(" N ")).strip()


def _with_value(entry: Entry, kind: str) -> tuple[str, list[tuple[int, int, str]]]:
    atoms = entry.row.atoms
    start, end = atoms[0].start, min(entry.row.note, atoms[-1].end)
    one = number(entry.value, True) if kind in ("number", "count") else None
    stop = entry.start + len(one.text) if one is not None else entry.end
    # Other values in the row are not its words.
    text, fields = entry.row.text[start:end], [(entry.start - start, stop - start, "value")]
    for found in re.finditer(
        r"(?<![\w.,])[+\-\u2212]?\d{1,3}(?: \d{3})+(?!\d)|(?<!\w)[0-9A-F]{1,8}h(?!\w)|(?<![\w.,])[+\-\u2212]?\d[\d.,]*(?![\w])",  # noqa: E501
        text,
    ):
        if found.start() >= stop - start or (
            found.end() <= entry.start - start and found.start() > 0
        ):
            fields.append((found.start(), found.end(), "_"))  # noqa: PERF401
    return text, fields


def _counted(entry: Entry, key: str, kind: str) -> str:
    """A family's row as a template with its number and its value."""
    text, fields = _with_value(entry, kind)
    number_at = re.search(re.escape(key.split("\0", maxsplit=1)[0].strip()) + r"\W*(\d{1,2})", text)
    if number_at is None:
        return template(text, fields)
    others = [one for one in fields if one[1] <= number_at.start(1) or one[0] >= number_at.end(1)]
    return template(text, [(number_at.start(1), number_at.end(1), "N"), *others])


def _expects(slot: Slot, name: str, comma: bool, hexed: bool = False) -> tuple[Expect, ...]:
    out = []
    base = 0 if 0 in slot.numbers else 1
    for place, entry in enumerate(slot.entries):
        one = (
            number(entry.value, comma)
            if not hexed and setting(name).kind in ("number", "count")
            else None
        )
        full = name.replace(".N", f".{slot.numbers[place] + 1 - base}") if slot.family else name
        out.append(
            Expect(entry.sample, full, entry.row.line, one.text if one is not None else entry.value)
        )
    return tuple(out)


def _examples(slot: Slot) -> str:
    seen = list(dict.fromkeys(slot.written))
    return "seen: " + ", ".join(seen[:4])
