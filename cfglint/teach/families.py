"""Families of rows: channel ends, ports, mode ranges and links, found by what their fields can be.

Rows that stand under one title and begin with one word are a family where their numbers and words
fit the fields of one.  Which number is which is decided by the domain over all rows of all
samples: of three pulses the least is the low end in every row, or it is no family.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach import codes
from cfglint.teach.entries import text_of, titles_of
from cfglint.teach.readings import divider_of, loss_meaning
from cfglint.teach.sense import english
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.dump.layout import Row


class Expect(NamedTuple):
    """What a mapping must read: in a sample, a setting (or ``range``/``link``) from a line."""

    sample: int
    name: str
    line: int
    written: str


class Item(NamedTuple):
    """One entry of the dialect to be: the forms it may take, the plainest first.

    ``name`` is a neutral setting for an entry of ``[map]``, ``""`` for one of ``[[rows]]``.
    """

    id: str
    name: str
    forms: tuple[dict[str, Any], ...]
    expects: tuple[Expect, ...]
    reason: str


class Figure(NamedTuple):
    """A number in a row: its characters, its value, whether it is written in hexadecimal."""

    start: int
    end: int
    value: float
    text: str
    hexed: bool


_HEXED = re.compile(r"(?<!\w)(?:[0-9A-F]{1,8}h|0[xX][0-9A-Fa-f]{1,8})(?!\w)")


def figures(text: str) -> list[Figure]:
    """The numbers of a row, in order; where some are hexadecimal, only those behind its index."""
    hexed = [
        Figure(m.start(), m.end(), codes.figure(m.group()), m.group(), True)
        for m in _HEXED.finditer(text)
    ]
    if len(hexed) >= 2:
        index = re.match(r"\W*[^\W\d_]*?(\d{1,2})(?![\w])", text)
        first = (
            [Figure(index.start(1), index.end(1), int(index[1]), index[1], False)] if index else []
        )
        return [*first, *(one for one in hexed if not first or one.start > first[0].start)]
    return [
        Figure(m.start(), m.end(), _value(m.group()), m.group(), False) for m in _NUM.finditer(text)
    ]


class Line(NamedTuple):
    """One row with the number or letter that counts it."""

    sample: int
    row: Row
    text: str
    start: int
    path: tuple[str, ...]


_NUM = re.compile(
    r"(?<!\d)(?:(?<![\w)])[+\-\u2212])?(?:\d+[.,]\d{1,3}(?![\d]|[.,]\d)|(?<!\d\.)\d+)(?!\d)"
)
_HEAD = re.compile(r"[\W\d_]*([^\W\d_]*)")


def lines_of(rows: Sequence[tuple[int, Row]]) -> list[Line]:
    out = []
    for sample, row in rows:
        if row.comment or not row.atoms:
            continue
        text, start = text_of(row)
        if text:
            out.append(Line(sample, row, text, start, titles_of(row)[0]))
    return out


def clean(text: str) -> str:
    """A text as part of an address: what would mean something there is left out."""
    text = re.sub(r"\.{2,}|…", " ", text)
    text = re.sub(r"[*<>\[\](){}\"'«»|│├└─▸;,]+", " ", text)
    text = re.sub(r"(?<![^\W_])N(?![^\W_])", "n", text)
    return re.sub(r"[ \t\xa0]+", " ", text).strip(" .:=-→")


def template(text: str, fields: Iterable[tuple[int, int, str]]) -> str:
    """A row's text with fields in place of what varies."""
    out, at = [], 0
    for start, end, field in sorted(fields):
        out.append(clean(text[at:start]))
        out.append(field if field == "*" else "{" + ("_" if field[0] == "_" else field) + "}")
        at = end
    out.append(clean(text[at:]))
    return " ".join(part for part in out if part)


def unify(forms: Sequence[str]) -> list[str]:
    """Templates that differ in single words as one, with anything in their place."""
    out: dict[tuple[int, tuple[str, ...]], list[list[str]]] = defaultdict(list)
    for form in forms:
        words = form.split()
        out[len(words), tuple(word for word in words if word.startswith("{"))].append(words)
    made = []
    for group in out.values():
        if len(group) < 3:
            made += [" ".join(words) for words in group]
            continue
        columns = [set(column) for column in zip(*group, strict=True)]
        fields = any(
            len(column) > 1 and any(word.startswith("{") for word in column) for column in columns
        )
        varied = sum(len(column) > 1 for column in columns)
        if fields or varied > 1:
            made += [" ".join(words) for words in group]
        else:
            made.append(
                " ".join(next(iter(column)) if len(column) == 1 else "*" for column in columns)
            )
    return made


def titled(path: Sequence[str], text: str) -> tuple[str, ...]:
    """Forms of an address, by how many of its titles it names: one, none, all."""
    steps = [clean(part) for part in path if clean(part)]
    forms = [text]
    if steps:
        forms.append(f"{steps[-1]} > {text}")
    if len(steps) > 1:
        forms.append(" > ".join([*steps, text]))
    return tuple(forms)


def _group(lines: Sequence[Line]) -> dict[tuple[str, str], list[Line]]:
    groups: dict[tuple[str, str], list[Line]] = defaultdict(list)
    for line in lines:
        head = _HEAD.match(line.text)
        path = "/".join(re.sub(r"\d+", "#", part) for part in line.path)
        word = head[1].lower() if head and len(head[1]) > 1 else ""
        groups[path, word].append(line)
    return groups


def _value(text: str) -> float:
    return float(text.replace("\u2212", "-").replace(",", "."))


# -- channel ends ------------------------------------------------------------------------------

#: What a channel's ends and centre can be, in µs (common practice; as in :mod:`.numbers`).
_ENDS = {"low": (700, 1340), "mid": (1280, 1720), "high": (1660, 2300)}


def _ends(line: Line) -> tuple[Figure, list[Figure]] | None:
    found = figures(line.text)
    if len(found) not in (3, 4) or not found[0].text.isdigit() or found[0].value > 18:
        return None
    if all(one.value == int(one.value) and 700 <= one.value <= 2300 for one in found[1:]):
        return found[0], found[1:]
    return None


def channel_rows(lines: Sequence[Line]) -> tuple[list[Item], set[tuple[int, int]]]:
    """Rows with a channel's number and its two or three pulses."""
    items: list[Item] = []
    taken: set[tuple[int, int]] = set()
    for group in _group(lines).values():
        hits = [(line, ends) for line in group if (ends := _ends(line)) is not None]
        for many in (3, 2):
            rows = [(line, index, pulses) for line, (index, pulses) in hits if len(pulses) == many]
            if len(rows) < 3 or len({index.value for _, index, _ in rows}) < 3:
                continue
            roles = _roles([[int(one.value) for one in pulses] for _, _, pulses in rows])
            if roles is None:
                continue
            forms, expects = Counter[str](), []
            loss: dict[str, str] = {}
            base = 0 if any(index.value == 0 for _, index, _ in rows) else 1
            for line, index, pulses in rows:
                fields = [(index.start, index.end, "N")]
                number = int(index.value) + 1 - base
                for role, one in zip(roles, pulses, strict=True):
                    fields.append((one.start, one.end, role))
                    expects.append(
                        Expect(line.sample, f"channel.{number}.{role}_us", line.row.line, one.text)
                    )
                rest = line.text[pulses[-1].end :].strip(" \t)|│,")
                if (rest and not re.search(r"\w", rest)) or loss_meaning(rest)[0]:
                    at = line.text.index(rest, pulses[-1].end)
                    if loss_meaning(rest)[0]:
                        fields.append((at, at + len(rest), "loss"))
                        loss.setdefault(loss_meaning(rest)[0], rest)
                        expects.append(
                            Expect(line.sample, f"failsafe.channel.{number}", line.row.line, rest)
                        )
                forms[template(line.text, fields)] += 1
            unified = unify(list(forms))
            if len(unified) > 2:
                continue
            taken |= {(line.sample, line.row.line) for line, *_ in rows}
            sets = {role: f"channel.N.{role}_us" for role in roles}
            fields_of: dict[str, Any] = {"N": {"first": 0}} if base == 0 else {}
            if rows[0][2][0].hexed:
                fields_of.update({role: {"base": 16} for role in roles})
            if loss:
                sets["loss"] = "failsafe.channel.N"
                fields_of["loss"] = {"words": loss}
            items.append(
                _rows_item(
                    f"channels{len(items)}",
                    rows[0][0].path,
                    unified,
                    sets,
                    fields_of,
                    expects,
                    f"{len(rows)} rows with a number and pulses in the order {', '.join(roles)}",
                )
            )
    return items, taken


def _roles(rows: Sequence[Sequence[int]]) -> list[str] | None:
    """The roles of places by size, the same in every row."""
    names = ["low", "mid", "high"] if len(rows[0]) == 3 else ["low", "high"]
    order = sorted(range(len(names)), key=lambda place: sum(row[place] for row in rows))
    if any([row[place] for place in order] != sorted(row) for row in rows):
        return None
    roles = [""] * len(names)
    for name, place in zip(names, order, strict=True):
        low, high = _ENDS[name]
        if not all(low <= row[place] <= high for row in rows):
            return None
        roles[place] = name
    return roles


def _rows_item(
    name: str,
    path: Sequence[str],
    at: Sequence[str],
    sets: dict[str, str],
    fields: dict[str, Any],
    expects: Sequence[Expect],
    reason: str,
    **more: Any,
) -> Item:
    # Marks are spelling: templates that differ in them alone are one.
    unique = {re.sub(r"[^\w{}*]+", " ", one).strip(): one for one in sorted(set(at), reverse=True)}
    at = sorted(unique.values(), key=lambda one: (-len(one), one))
    forms = []
    for depth in range(len(titled(path, ""))):
        texts = [titled(path, one)[depth] for one in at]
        form: dict[str, Any] = {"at": texts[0] if len(texts) == 1 else texts, **more}
        if sets:
            form["sets"] = sets
        if fields:
            form["fields"] = fields
        forms.append(form)
    if not re.search(r"[^\W\d_]", re.sub(r"\{\w+\}", "", at[0])) and len(forms) > 1:
        forms = [*forms[1:], forms[0]]
    return Item(name, "", tuple(forms), tuple(expects), reason)


# -- lost link ---------------------------------------------------------------------------------

_LOSS = re.compile(
    r"(?P<head>(?:.*?[^\W\d_])?)[\W_]*(?P<index>\d{1,2})(?!\d|\.\d)[\W_]*(?:\([^)]*\)|[^\d=]*[^\W\d]\s*=(?=\s))?[\W_]*(?P<rest>\S.*?)[ \t\])}]*"  # noqa: E501
)


def loss_rows(
    lines: Sequence[Line], comma: bool, zero: frozenset[str]
) -> tuple[list[Item], set[tuple[int, int]]]:
    """Rows that say what each channel becomes on lost link, some by a pulse and some by words."""
    items: list[Item] = []
    taken: set[tuple[int, int]] = set()
    groups: dict[tuple[str, str], list[tuple[Line, re.Match[str]]]] = defaultdict(list)
    for line in lines:
        match = _LOSS.fullmatch(line.text)
        if match is not None and 1 <= int(match["index"]) <= 18 and len(match["head"]) < 30:
            groups[
                "/".join(re.sub(r"\d+", "#", part) for part in line.path), match["head"].lower()
            ].append((line, match))
    for (path, head), group in groups.items():
        if len(group) < 3:
            continue
        lead = Counter(
            m[1].strip()
            for _, match in group
            if (m := re.fullmatch(r"([^\d]*?)(\d{3,4})(?:[ ]?(?:us|µs))?", match["rest"]))
            and 700 <= int(m[2]) <= 2300
        )
        texts = [match["rest"] for _, match in group if not re.search(r"\d{3}", match["rest"])]
        about = {
            idea
            for word in split(english(f"{path} {head}"))
            for idea, sure in ideas(word)
            if sure >= 0.8
        }
        known = [text for text in texts if loss_meaning(text)[0]]
        if (
            sum(lead.values()) + len(texts) < len(group)
            or len(set(texts)) > 4
            or not (lead or known)
        ):
            continue
        if not ("failsafe" in about or len(known) >= 0.5 * max(1, len(texts)) > 0) or (
            "port" in about and "failsafe" not in about
        ):
            continue
        base = 0 if any(match["index"] == "0" for _, match in group) else 1
        base = 0 if set(re.findall(r"[^\W\d_]+", head)[-1:]) & zero else base
        items.append(_loss_item(f"loss{len(items)}", group, texts, base, comma))
        taken |= {(line.sample, line.row.line) for line, _ in group}
    return items, taken


def _loss_item(
    name: str,
    group: Sequence[tuple[Line, re.Match[str]]],
    texts: Sequence[str],
    base: int,
    comma: bool,
) -> Item:
    from cfglint.teach.readings import read_loss

    found = read_loss(texts, None, comma) if texts else []
    words = found[0] if found else None
    known = {
        one
        for every in (words.keys.get("words", {}) if words else {}).values()
        for one in ([every] if isinstance(every, str) else every)
    }
    at, expects = [], []
    for line, match in group:
        start, end = match.span("rest")
        pulse = re.search(r"\d{3,4}", match["rest"])
        if pulse is not None:
            start, end = start + pulse.start(), start + pulse.end()
        at.append(template(line.text, [(*match.span("index"), "N"), (start, end, "loss")]))
        if pulse is not None or match["rest"] in known:
            channel = f"failsafe.channel.{int(match['index']) + 1 - base}"
            expects.append(Expect(line.sample, channel, line.row.line, line.text[start:end]))
    fields: dict[str, Any] = {"N": {"first": 0}} if base == 0 else {}
    if words is not None and words.keys:
        unsure = {"unsure": list(words.unsure)} if words.unsure else {}
        fields["loss"] = {**words.keys, **unsure}
    return _rows_item(
        name, group[0][0].path, unify(list(dict.fromkeys(at))), {"loss": "failsafe.channel.N"},
        fields, expects, f"{len(group)} rows that say what channels become on lost link",
    )  # fmt: skip


# -- ports: what words say of a wire's flags ----------------------------------------------------


def _flag_of(text: str) -> str:
    """The flag of a wire that words speak of."""
    text = english(text)
    kinds = {idea for word in split(text) for idea, sure in ideas(word) if sure >= 0.8}
    if "one-wire" in kinds or re.search(
        r"(?i)one wire|single|1 ?wire|ein draht|un fil|wires?$|twin|^(?:full|half)(?:.?duplex)?$",
        text,
    ):
        return "half"
    if "invert" in kinds or re.search(
        r"(?i)upright|straight|flipped|upside|umgedreht|invers", text
    ):
        return "inverted"
    return ""


#: What says of a wire that it is as usual, by flag.


__all__ = [
    "Expect",
    "Item",
    "Line",
    "channel_rows",
    "clean",
    "divider_of",
    "lines_of",
    "template",
    "titled",
]
