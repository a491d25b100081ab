"""Tables of samples: a header and the rows under it, upright or turned.

Columns are what their values can be, helped by the words over them: three columns of pulses that
are ordered alike in every row are a channel's ends, whatever the header calls them.
"""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.dump.cells import Cell, divide, divider, single, under
from cfglint.record import NamedTuple
from cfglint.teach.codes import figure, is_hex
from cfglint.teach.entries import Entry, titles_of
from cfglint.teach.families import Expect, Item, _flag_of, _flag_words, _roles, clean, titled
from cfglint.teach.readings import number, read_functions, read_loss, read_numbers
from cfglint.teach.sense import best, english

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.dump.layout import Row


class Table(NamedTuple):
    """One table: the texts of its header's cells, and each row with the cells under them."""

    sample: int
    path: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[Row, tuple[Cell | None, ...]], ...]
    header: int = 0

    def text(self, at: int, column: int) -> str:
        row, cells = self.rows[at]
        cell = cells[column]
        return row.text[cell.start : cell.end] if cell is not None else ""

    def column(self, column: int) -> list[str]:
        return [self.text(at, column) for at in range(len(self.rows))]


_COUNTED = re.compile(r"(?P<word>[^\W\d_]*)[ \-_.#]?(?P<number>\d{1,2})")


def _bounds(row: Row, mark: str) -> tuple[int, int]:
    start = row.atoms[0].start
    head = row.text[:start].rstrip()
    if mark and head.endswith(mark):
        start = len(head) - 1
    return start, row.atoms[-1].end


def _heads(row: Row) -> tuple[str, list[Cell]] | None:
    """A row's cells as a header: most of them words, or numbers that count."""
    start, end = row.atoms[0].start, row.atoms[-1].end
    mark = divider(row.text, start, end)
    if mark in (",", ";"):
        mark = ""
    if mark:
        start, end = _bounds(row, mark)
    cells = divide(row.text, start, end, mark)
    if len(cells) < 3 and not mark:
        cells = single(row.text, start, end)
    if len(cells) < 3:
        return None
    texts = [row.text[cell.start : cell.end] for cell in cells]
    counted = [match for text in texts if (match := _COUNTED.fullmatch(text))]
    if len(counted) >= 3 and [int(m["number"]) for m in counted] == list(
        range(int(counted[0]["number"]), int(counted[0]["number"]) + len(counted))
    ):
        return mark, cells
    wordy = sum(
        1
        for text in texts
        if re.search(r"[^\W\d_]", text) and not re.search(r"\d{2}|[^\W\d_]\d$", text)
    )
    plain = all(len(text) < 30 and not re.search(r"[:=]", text) for text in texts)
    return (mark, cells) if wordy == len(texts) and plain else None


def _cells(row: Row, mark: str, heads: list[Cell]) -> list[Cell | None] | None:
    """A row's cells under a header, as the reader finds them; None for a row of another kind."""
    text = row.text
    start, end = row.atoms[0].start, row.atoms[-1].end
    if mark:
        if mark not in text[start:end]:
            return None
        start, end = _bounds(row, mark)
        cells: list[Cell | None] = list(divide(text, start, end, mark))
        cells = [cell if cell is not None and cell.start < cell.end else None for cell in cells]
        return cells + [None] * (len(heads) - len(cells)) if len(cells) >= 2 else None
    loose, tight = divide(text, start, end, ""), single(text, start, end)
    if len(loose) == len(heads):
        return list(loose)
    if len(tight) == len(heads):
        return list(tight)
    if len(loose) < 2:
        return None
    return under(heads, loose)


def tables_of(rows: Sequence[tuple[int, Row]]) -> list[Table]:
    """The tables of all samples."""
    out: list[Table] = []
    real = [
        (s, row)
        for s, row in rows
        if row.atoms and not row.comment and any(a.kind != "mark" for a in row.atoms)
    ]
    rules = {(s, row.line) for s, row in rows if all(atom.kind == "mark" for atom in row.atoms)}
    at = 0
    while at < len(real):
        sample, row = real[at]
        headed = _heads(row)
        body: list[tuple[Row, tuple[Cell | None, ...]]] = []
        if headed is not None:
            mark, heads = headed
            line = row.line
            # A row of words over a rule heads the table, whatever its rows hold.
            ruled = mark and (sample, line + 1) in rules
            for other, below in real[at + 1 :]:
                if (
                    other != sample
                    or below.line > line + 1 + ((sample, line + 1) in rules)
                    or len(titles_of(below)[0]) < len(titles_of(row)[0])
                ):
                    break
                if not mark and below.text.lstrip()[:1] in ("|", "│"):
                    break  # a table that only begins here
                cells = _cells(below, mark, heads)
                if cells is None or not (ruled or _alike(below, cells, heads)):
                    break
                if len(cells) > len(heads) + 1:
                    break
                body.append((below, tuple(cells[: len(heads)])))
                line = below.line
        if headed is not None and (
            len(body) >= 2
            or (len(body) == 1 and headed[0] and (sample, body[0][0].line - 1) in rules)
        ):
            texts = tuple(row.text[cell.start : cell.end] for cell in headed[1])
            out.append(Table(sample, titles_of(row)[0], texts, tuple(body), row.line))
            at += len(body)
        at += 1
    return out


def _alike(row: Row, cells: Sequence[Cell | None], heads: Sequence[Cell]) -> bool:
    filled = [cell for cell in cells if cell is not None]
    if len(filled) < 2:
        return False
    texts = [row.text[cell.start : cell.end] for cell in filled]
    return any(re.search(r"\d|^[A-Z]$", text) for text in texts) or (
        len(row.text) > 0 and len(filled) == len(heads) and len(texts[0]) <= 2
    )


class Taken(NamedTuple):
    items: list[Item]
    taken: set[tuple[int, int]]
    modes: list[str]


def table_items(rows: Sequence[tuple[int, Row]], comma: bool) -> Taken:
    """What tables say of channels, ports and modes."""
    out = Taken([], set(), [])
    alike: dict[tuple[str, ...], list[Table]] = defaultdict(list)
    for table in tables_of(rows):
        if len(table.rows) < 2:
            continue
        counted = [_COUNTED.fullmatch(head) for head in table.heads[1:]]
        key = tuple(
            head for head, match in zip(table.heads[1:], counted, strict=True) if match is None
        )
        if sum(match is not None for match in counted) >= 3 and len(key) <= 1:
            alike["turned", table.heads[0], *table.path[-1:]].append(table)
        else:
            alike[("upright", *table.heads)].append(table)
    for key, tables in alike.items():
        (_turned if key[0] == "turned" else _upright)(tables, comma, out)
        for table in tables:
            if any((table.sample, row.line) in out.taken for row, _ in table.rows):
                out.taken.add((table.sample, table.header))
    return out


# -- turned ------------------------------------------------------------------------------------


def _turned(tables: Sequence[Table], comma: bool, out: Taken) -> None:
    """Rows named by their first cell, columns counted by the header."""
    values: dict[str, list[tuple[Table, int, int, str, str]]] = defaultdict(list)
    word = ""
    for table in tables:
        for column, head in enumerate(table.heads):
            match = _COUNTED.fullmatch(head)
            if match is None or column == 0:
                continue
            word = match["word"]
            for at in range(len(table.rows)):
                text = table.text(at, column)
                if text and re.search(r"\w", text):
                    values[clean(table.text(at, 0))].append(
                        (table, at, column, match["number"], text)
                    )
    header = f"{word} {{N}}".strip()
    pulses: dict[str, list[float]] = {}
    names: dict[str, str] = {}
    for label, cells in values.items():
        texts = [text for *_, text in cells]
        if not label or len(cells) < 2:
            continue
        figures = [number(text, comma) for text in texts]
        if all(one is not None and 650 <= one.value <= 2350 for one in figures):
            pulses[label] = [one.value for one in figures if one is not None]
        elif read_loss(texts, None, comma) and any(not number(text, comma) for text in texts):
            names.setdefault("failsafe.channel.N", label)
    order = sorted(pulses, key=lambda label: sum(pulses[label]) / len(pulses[label]))
    if len(order) == 3:
        names.update(
            zip(("channel.N.low_us", "channel.N.mid_us", "channel.N.high_us"), order, strict=True)
        )
    elif len(order) == 4 and "failsafe.channel.N" not in names:
        return
    for name, label in names.items():
        keys: dict[str, Any] = {}
        if name == "failsafe.channel.N":
            read = read_loss([text for *_, text in values[label]], None, comma)[0]
            keys = {**read.keys, **({"unsure": list(read.unsure)} if read.unsure else {})}
        expects = []
        for table, at, _, count, text in values[label]:
            expects.append(
                Expect(table.sample, name.replace("N", count, 1), table.rows[at][0].line, text)
            )
            out.taken.add((table.sample, table.rows[at][0].line))
        forms = tuple({"at": at, "column": header, **keys} for at in titled(tables[0].path, label))
        out.items.append(
            Item(
                name,
                name,
                forms,
                tuple(expects),
                f"row `{label}` of a table, a column for each channel",
            )
        )


# -- upright -----------------------------------------------------------------------------------


def _upright(tables: Sequence[Table], comma: bool, out: Taken) -> None:
    """Rows counted by their first cell, or named by a mode; columns by what they can be."""
    heads = tables[0].heads
    columns = [
        [table.text(at, column) for table in tables for at in range(len(table.rows))]
        for column in range(len(heads))
    ]
    roles = _ranges_of(columns, comma)
    if roles:
        _range_table(tables, roles, out)
        return
    index = next(
        (
            c
            for c, texts in enumerate(columns)
            if all(
                re.fullmatch(r"\W*(?:[^\W\d_]*[ \-#.]?\d{1,2}|[A-Z])\W*", text)
                for text in texts
                if text
            )
        ),
        None,
    )
    if index is None:
        return
    sets = _columns_of(heads, columns, index, comma)
    if len(sets) >= 2:
        _counted_table(tables, index, sets, out)


def _ranges_of(columns: Sequence[Sequence[str]], comma: bool) -> dict[str, int]:
    roles: dict[str, int] = {}
    pulses = []
    for column, texts in enumerate(columns):
        texts = [text for text in texts if text]  # noqa: PLW2901
        figures = [number(text, comma) for text in texts]
        if texts and all(one is not None for one in figures):
            values = [one.value for one in figures if one is not None]
            if all(650 <= value <= 2350 for value in values):
                pulses.append((sum(values) / len(values), column))
            elif all(4 <= value <= 32 for value in values):
                roles.setdefault("channel", column)
            elif all(5 <= value <= 800 for value in values):
                roles.setdefault("half", column)
            continue
        channels = [re.fullmatch(r"[^\W\d_]+[ ]?(\d{1,2})", text) for text in texts]
        if texts and all(channels):
            roles.setdefault("channel", column)
            continue
        if texts and all(best("join", text)[1] >= 0.9 for text in texts):
            roles.setdefault("join", column)
        elif texts and sum(best("mode", text)[1] >= 0.5 for text in texts) >= 0.4 * len(texts):
            roles.setdefault("mode", column)
    pulses.sort()
    if len(pulses) == 2:
        roles["low"], roles["high"] = pulses[0][1], pulses[1][1]
    elif len(pulses) == 1 and "half" in roles:
        roles["centre"] = pulses[0][1]
    whole = {"mode", "channel", "low", "high"} <= set(roles) or {
        "mode",
        "channel",
        "centre",
        "half",
    } <= set(roles)
    if "half" in roles and "low" in roles:
        del roles["half"]
    return roles if whole else {}


def _range_table(tables: Sequence[Table], roles: dict[str, int], out: Taken) -> None:
    heads = tables[0].heads
    columns = {role: clean(heads[column]) for role, column in roles.items()}
    expects = []
    fields: dict[str, Any] = {}
    if "join" in roles:
        texts = {
            text
            for table in tables
            for at in range(len(table.rows))
            if (text := table.text(at, roles["join"]))
        }
        fields["join"] = {"words": {best("join", text)[0]: text for text in sorted(texts)}}
    for table in tables:
        for at, (row, _) in enumerate(table.rows):
            mode = table.text(at, roles["mode"])
            if not mode:
                continue
            if mode not in out.modes:
                out.modes.append(mode)
            expects.append(Expect(table.sample, "range", row.line, mode))
            out.taken.add((table.sample, row.line))
            channel = re.fullmatch(r"([^\W\d_]+[ ]?)(\d{1,2})", table.text(at, roles["channel"]))
            if channel is not None:
                fields.setdefault("channel", {"words": {}})["words"][channel[2]] = channel[0]
    form: dict[str, Any] = {"at": "*", "makes": "range", "columns": columns}
    if fields:
        form["fields"] = fields
    channels = [
        int(found[-1])
        for table in tables
        for at in range(len(table.rows))
        if (found := re.findall(r"\d+", table.text(at, roles["channel"])))
    ]
    if channels and min(channels) < 5:
        form["sure"] = False  # a stick turns nothing on
    forms = tuple({**form, "at": at} for at in [*titled(tables[0].path, "*")])
    out.items.append(
        Item(
            f"rangetable{len(out.items)}",
            "",
            forms,
            tuple(expects),
            "a table of modes, channels and ends",
        )
    )


def _columns_of(
    heads: Sequence[str], columns: Sequence[Sequence[str]], index: int, comma: bool
) -> dict[int, tuple[str, dict[str, Any]]]:
    """Which columns say what of a channel or a port, with how they are written."""
    out: dict[int, tuple[str, dict[str, Any]]] = {}
    pulses: list[tuple[int, list[int]]] = []
    hexed: dict[str, Any] = {}
    for column, texts in enumerate(columns):
        texts = [text for text in texts if text and re.search(r"[\w+\-✓✗.]", text)]  # noqa: PLW2901
        if column == index or not texts:
            continue
        figures = [number(text, comma) for text in texts]
        if all(one is not None and 650 <= one.value <= 2350 for one in figures) and not re.search(
            r"(?i)baud|speed", heads[column]
        ):
            pulses.append((column, [int(one.value) for one in figures if one is not None]))
            continue
        if is_hex(texts, True) and len(set(texts)) > 2 and not texts[0].isdigit():
            values = [figure(text) for text in texts]
            scale = next((s for s in (1, 0.5, 0.1) if all(650 <= v * s <= 2350 for v in values)), 0)
            if scale:
                hexed = {"base": 16, **({"scale": scale, "sure": False} if scale != 1 else {})}
                pulses.append((column, [int(value * scale) for value in values]))
                continue
        flag = _flag_of(heads[column]) or _flag_of(english(heads[column]))
        words = {text.lower() for text in texts}
        if flag and len(words) <= 3:
            written, unsure = _flag_side(texts)
            if written:
                out[column] = (
                    {"half": "port.N.half_duplex", "inverted": "port.N.inverted"}[flag],
                    {"words": written, **({"unsure": unsure} if unsure else {}), **_none_of(texts)},
                )
            continue
        bauds = [text for text in texts if re.search(r"\d", text)]
        if (
            bauds
            and read_numbers("port.N.baud", bauds, "", None, comma)
            and read_numbers("port.N.baud", bauds, "", None, comma)[0].fit > 0.5
        ):
            out[column] = (
                "port.N.baud",
                {**read_numbers("port.N.baud", bauds, "", None, comma)[0].keys, **_none_of(texts)},
            )
            continue
        functions = read_functions(texts, None)
        if functions and len(functions[0].opaque) <= 0.5 * len(set(texts)):
            keys = {
                **functions[0].keys,
                **({"unsure": list(functions[0].unsure)} if functions[0].unsure else {}),
            }
            out[column] = ("port.N.functions", keys)
            continue
        loss = read_loss(texts, None, comma)
        if loss and loss[0].keys:
            out[column] = (
                "failsafe.channel.N",
                {**loss[0].keys, **({"unsure": list(loss[0].unsure)} if loss[0].unsure else {})},
            )
    if len(pulses) in (2, 3) and len({len(values) for _, values in pulses}) == 1:
        roles = _roles([list(row) for row in zip(*(values for _, values in pulses), strict=True)])
        for role, (column, _) in zip(roles or (), pulses, strict=bool(roles)):
            out[column] = (f"channel.N.{role}_us", dict(hexed))
    if any(name.startswith("port.") for name, _ in out.values()):
        # A port does not say what becomes of a channel on lost link.
        out = {c: one for c, one in out.items() if one[0] != "failsafe.channel.N"}
    return out


def _none_of(texts: Sequence[str]) -> dict[str, Any]:
    none = sorted({text for text in texts if re.fullmatch(r"[.…—–]+|\.+", text)})
    return {"none": none if len(none) > 1 else none[0]} if none else {}


def _flag_side(texts: Sequence[str]) -> tuple[dict[str, str], list[str]]:
    from cfglint.teach.meanings import YES_NO

    low = {text.lower() for text in texts} - {".", "…", "—", "–"}
    for yes, no in (*YES_NO, ("oui", "non"), ("✓", "✗"), ("si", "no")):
        if low <= {yes, no}:
            return {
                "yes": next((t for t in texts if t.lower() == yes), yes),
                "no": next((t for t in texts if t.lower() == no), no),
            }, []
    return _flag_words("half", [text for text in texts if re.search(r"\w", text)])


def _counted_table(
    tables: Sequence[Table], index: int, sets: dict[int, tuple[str, dict[str, Any]]], out: Taken
) -> None:
    heads = tables[0].heads
    names = {
        "functions": "functions",
        "baud": "baud",
        "inverted": "inverted",
        "half_duplex": "half",
        "low_us": "low",
        "mid_us": "mid",
        "high_us": "high",
    }
    fields: dict[str, Any] = {}
    columns: dict[str, str] = {}
    setting: dict[str, str] = {}
    for column, (name, keys) in sets.items():
        field = names.get(name.rpartition(".")[2], "loss")
        if not clean(heads[column]):
            continue
        columns[field], setting[field] = clean(heads[column]), name
        if keys:
            fields[field] = keys
    every = [table.text(at, index) for table in tables for at in range(len(table.rows))]
    bare = [re.sub(r"\W", "", text) for text in every]
    letters = all(re.fullmatch(r"[A-Z]", text) for text in bare if text)
    base = 0 if any(re.fullmatch(r"[^\W\d_]*0", text) for text in bare) else 1
    word = "" if letters else re.sub(r"\d+\W*$", "", every[0]).strip()
    if letters:
        fields["N"] = {
            "words": {str(ord(one.lower()) - 96): one for one in sorted(set(bare)) if one}
        }
    elif base == 0:
        fields["N"] = {"first": 0}
    expects = []
    for table in tables:
        for at, (row, _) in enumerate(table.rows):
            text = re.sub(r"\W", "", table.text(at, index))
            if not text:
                continue
            out.taken.add((table.sample, row.line))
            count = ord(text.lower()) - 96 if letters else int(re.sub(r"\D", "", text)) + 1 - base
            for column, (name, keys) in sets.items():
                value = table.text(at, column)
                none = keys.get("none", ())
                if (
                    value
                    and re.search(r"[\w+\-✓✗]", value)
                    and value not in ([none] if isinstance(none, str) else none)
                ):
                    expects.append(
                        Expect(table.sample, name.replace("N", str(count), 1), row.line, value)
                    )
    address = f"{clean(word)} {{N}}".strip()
    form: dict[str, Any] = {"at": address, "columns": columns, "sets": setting}
    if fields:
        form["fields"] = fields
    with_n = (
        {**form, "columns": {"N": clean(heads[index]), **columns}}
        if clean(heads[index]) and index < len(heads)
        else form
    )
    forms = [
        {**one, "at": text} for text in titled(tables[0].path, address) for one in (form, with_n)
    ]
    out.items.append(
        Item(
            f"table{len(out.items)}",
            "",
            tuple(forms),
            tuple(expects),
            f"{len(every)} rows of a table counted by {'letters' if letters else 'numbers'}",
        )
    )


# -- tables of names and values ------------------------------------------------------------------

_FIGURE = re.compile(r"[+\-\u2212]?\d[\d.,]*|[0-9A-F]{2,8}h?|0[xX][0-9A-Fa-f]+")


def table_entries(rows: Sequence[tuple[int, Row]]) -> tuple[list[Entry], set[tuple[int, int]]]:
    """Entries of tables with a column of names and one of values; the unit's column is their note."""  # noqa: E501
    out: list[Entry] = []
    taken: set[tuple[int, int]] = set()
    rules = {(s, row.line) for s, row in rows if all(atom.kind == "mark" for atom in row.atoms)}
    for table in tables_of(rows):
        columns = [table.column(column) for column in range(len(table.heads))]
        count = len(table.rows)
        if count == 1:
            row, cells = table.rows[0]
            for column, head in enumerate(table.heads):
                cell = cells[column]
                if cell is not None and re.search(r"\w", head) and table.path:
                    out.append(
                        Entry(
                            table.sample,
                            row,
                            table.path,
                            "",
                            head,
                            columns[column][0],
                            cell.start,
                            cell.end,
                            False,
                            True,
                            "",
                            head,
                        )
                    )
            if table.path:
                taken |= {(table.sample, row.line), (table.sample, table.header)}
            continue
        named = [
            c
            for c, texts in enumerate(columns)
            if _wordy(texts) >= 0.7 * count and len(set(texts)) >= 0.8 * count
        ]
        if count < 4 or not named:
            continue
        name = max(named, key=lambda c: sum(len(text) for text in columns[c]))
        valued = [
            c
            for c, texts in enumerate(columns)
            if c != name and sum(bool(_FIGURE.fullmatch(t)) for t in texts) >= 0.6 * count
        ]
        valued = [c for c in valued if not _running(columns[c])] or valued[-1:]
        # Where a header says which column holds the values, it may hold words as well.
        valued = [
            c
            for c in range(len(columns))
            if c != name and _VALUED.fullmatch(english(table.heads[c]))
        ] or valued
        alike = {re.sub(r"[\d*\W]", "", table.heads[c]) for c in valued}
        if not valued or (len(valued) > 1 and len(alike) == 1):
            continue  # of several banks of values one is in use
        value = max(
            valued, key=lambda c: bool(re.search(r"(?i)value|word|now|set|wert", table.heads[c]))
        )
        rest = [c for c in range(len(columns)) if c not in (name, value, 0)]
        for at, (row, cells) in enumerate(table.rows):
            cell = cells[value]
            if cell is None or not columns[name][at]:
                continue
            note = " ".join(columns[c][at] for c in rest if columns[c][at])
            out.append(
                Entry(
                    table.sample,
                    row,
                    table.path,
                    "",
                    columns[name][at],
                    columns[value][at],
                    cell.start,
                    cell.end,
                    False,
                    True,
                    f"\1{note}",
                )
            )
            taken.add((table.sample, row.line))
            if (table.sample, table.header + 1) in rules:
                taken.add((table.sample, table.header))
    return out, taken


_VALUED = re.compile(r"(?i)values?|settings?|set to|content|wert|valeur")


def _wordy(texts: Sequence[str]) -> int:
    return sum(
        1 for text in texts if re.search(r"[^\W\d_]{3}", text) and not _FIGURE.fullmatch(text)
    )


def _running(texts: Sequence[str]) -> bool:
    """Whether a column only counts its rows."""
    try:
        figures = [int(text.removesuffix("h"), 16) for text in texts if text]
    except ValueError:
        return False
    return all(a < b for a, b in itertools.pairwise(figures))
