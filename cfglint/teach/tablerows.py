"""What tables say of channels, ports and modes: upright, counted by the header, or turned.

A column is what its values can be, helped by the words over it and by legends: three columns of
pulses that are ordered alike in every row are a channel's ends, whatever the header calls them.
A cell may hold two values with a mark between them, and numbers may be in a measure of their own.
"""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach import wires
from cfglint.teach.families import Expect, Item, _rows_item, clean, template, titled
from cfglint.teach.families import _roles as _ends_of
from cfglint.teach.levers import counted
from cfglint.teach.listed import listed_tables
from cfglint.teach.measures import (
    PLAIN,
    Measure,
    Numbers,
    likeliest,
    measures_of,
    numbers_of,
    pulses,
    saying,
)
from cfglint.teach.readings import loss_meaning, read_functions, read_loss
from cfglint.teach.roles import coded, short
from cfglint.teach.sense import best, english, is_nothing
from cfglint.teach.tables import COUNTED, Table, count_of, tables_of
from cfglint.teach.words import ideas_of, split

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from cfglint.dump.cells import Cell
    from cfglint.dump.layout import Row
    from cfglint.teach.codes import Legend
    from cfglint.teach.listed import Block


class Around(NamedTuple):
    """What holds for all tables of the samples."""

    comma: bool
    bare: bool
    measures: Sequence[Measure]
    legends: Sequence[Legend]
    notes: Sequence[str]
    #: Words before channels that are counted from 0.
    zero: frozenset[str]
    late: bool


class Taken(NamedTuple):
    """What tables are: entries, the lines they take, modes, and mode codes with their meaning."""

    items: list[Item]
    taken: set[tuple[int, int]]
    modes: list[str]
    coded: dict[str, tuple[str, bool]]


def table_items(
    rows: Sequence[tuple[int, Row]],
    comma: bool,
    bare: bool,
    notes: Sequence[str],
    legends: Sequence[Legend],
    zero: frozenset[str],
    blocks: Sequence[Block],
    *,
    late: bool = False,
) -> Taken:
    """What tables say of channels, ports and modes.

    Of rows whose cells a list names ``late`` finds what is counted, where other ways to read rows
    have left it; before them only mode ranges are.
    """
    out = Taken([], set(), [], {})
    alike: dict[tuple[str, ...], list[Table]] = defaultdict(list)
    heads = set(zero)
    headed = [] if late else tables_of(rows)
    under = {(table.sample, row.line) for table in headed for row, _ in table.rows}
    under |= {(table.sample, table.header) for table in headed}
    listed = [
        table
        for table in listed_tables(blocks)
        if not any((table.sample, row.line) in under for row, _ in table.rows)
    ]
    for table in (*headed, *listed):
        if len(table.rows) < 2:
            continue
        counts = [COUNTED.fullmatch(head) for head in table.heads]
        key = tuple(head for head, match in zip(table.heads, counts, strict=True) if match is None)
        if sum(match is not None for match in counts[1:]) >= 3 and len(key) <= 1:
            first = next(match for match in counts if match is not None)
            heads |= {first["word"].lower()} if first["number"] == "0" else set()
            lead = table.heads[0] if counts[0] is None else ""
            alike["turned", lead, first["word"], *table.path[-1:]].append(table)
        else:
            alike[("upright", f"{table.listed}", *table.heads)].append(table)
    texts = saying([*notes, *(row.text for _, row in rows)])
    measures = measures_of(tuple(texts), comma)
    around = Around(comma, bare, measures, legends, notes, frozenset(heads), late)
    for key, tables in alike.items():
        (_turned if key[0] == "turned" else _upright)(tables, around, out)
        for table in tables:
            if any((table.sample, row.line) in out.taken for row, _ in table.rows):
                out.taken.add((table.sample, table.header))
    return out


#: Measures that nobody tells, tried where three columns of pulses can be nothing else.
_GUESSES = (Measure(0, 0.5, told=False), Measure(0, 0.1, told=False))


def _ends(columns: Sequence[tuple[Any, Sequence[str]]], around: Around) -> _Ends | None:
    """Which columns are a channel's ends, in which measure; each by the rows that all have."""
    read = [(name, numbers_of(texts, around.comma, around.bare)) for name, texts in columns]
    for measure in (*around.measures, *_GUESSES):
        fits = []
        for name, ways in read:
            way = next(
                (w for w in ways if all(650 <= one <= 2350 for one in pulses(w, measure))), None
            )
            if way is not None:
                fits.append((name, way))
        for many in (3, 2) if measure == PLAIN else (3,):
            for group in itertools.combinations(fits, many) if len(fits) <= 5 else ():
                if len({len(way.values) for _, way in group}) != 1:
                    continue
                rows = list(zip(*(pulses(way, measure) for _, way in group), strict=True))
                roles = _ends_of(rows)
                if roles is not None and len(rows) >= 2:
                    placed = {role: name for role, (name, _) in zip(roles, group, strict=True)}
                    keys = {**group[0][1].keys(), **measure.keys()}
                    return _Ends(placed, keys, measure)
    if trims := _trims(read, around.notes):
        three = list(zip(("low", "mid", "high"), trims, strict=True))
        placed = {role: name for role, (name, _) in three}
        return _Ends(placed, {}, PLAIN, {role: keys for role, (_, keys) in three})
    return None


_THREE = re.compile(r"(?<!\d)(\d{3,4})\D{1,9}(1[45]\d\d)\D{1,9}([12]\d{3})(?!\d)")


def _trims(
    read: Sequence[tuple[Any, Sequence[Numbers]]], texts: Sequence[str]
) -> tuple[tuple[Any, dict[str, Any]], ...]:
    """Three columns of what is added to three pulses that a text tells: `-28  +4  +24`."""
    told = next((match for text in texts if (match := _THREE.search(text))), None)
    small = [
        (name, ways[0])
        for name, ways in read
        if ways and ways[0].base == 10 and max(map(abs, ways[0].values)) <= 200
    ]
    signed = any(value < 0 for _, way in small for value in way.values)
    if told is None or len(small) != 3 or not signed:
        return ()
    return tuple((name, {"offset": int(told[at])}) for at, (name, _) in enumerate(small, 1))


class _Ends(NamedTuple):
    placed: dict[str, Any]
    keys: dict[str, Any]
    measure: Measure
    #: What is added, by the end: where a column holds what a pulse is off by.
    offsets: Mapping[str, dict[str, Any]] = {}

    def field(self, role: str) -> dict[str, Any]:
        plain = self.measure == PLAIN and not self.offsets
        return {**self.keys, **self.offsets.get(role, {}), **({} if plain else {"sure": False})}


def _lost(
    texts: Sequence[str], name: str, measure: Measure, around: Around
) -> dict[str, Any] | None:
    """How a column says what channels become on lost link; None where it does not."""
    texts = list(dict.fromkeys(texts))
    words: dict[str, list[str]] = defaultdict(list)
    legends = [one for one in around.legends if set(split(one.label)) & set(split(name))]
    left = []
    for text in texts:
        meant = loss_meaning(text)[0]
        for legend in legends or around.legends:
            meant = loss_meaning(legend.codes[text])[0] if text in legend.codes else meant
        if meant:
            words[meant].append(text)
        else:
            left.append(text)
    if words and left:
        for way in numbers_of(left, around.comma, around.bare):
            if all(700 <= one <= 2300 for one in pulses(way, measure)):
                keys = {**way.keys(), **measure.keys()}
                sure = {} if measure == PLAIN else {"sure": False}
                return {"words": _short(words), **keys, **sure}
    read = read_loss(texts, None, around.comma)
    if read and (read[0].keys or len(texts) > 1):
        return {**read[0].keys, **({"unsure": list(read[0].unsure)} if read[0].unsure else {})}
    return None


def _short(words: dict[str, list[str]]) -> dict[str, Any]:
    return {word: every[0] if len(every) == 1 else every for word, every in words.items()}


# -- turned ------------------------------------------------------------------------------------


def _turned(tables: Sequence[Table], around: Around, out: Taken) -> None:
    """Rows named by their first cell or by what stands before it, columns counted by the header."""
    values: dict[str, list[tuple[Table, int, str, str]]] = defaultdict(list)
    word, base, numbers = "", 1, set[str]()
    for table in tables:
        counts = [COUNTED.fullmatch(head) for head in table.heads]
        for column, match in enumerate(counts):
            if match is None or (column == 0 and table.heads[0] == "") or not table.labels:
                continue
            word = match["word"]
            numbers.add(match["number"])
            base = 0 if match["number"] == "0" else base
            for at in range(len(table.rows)):
                text = table.text(at, column)
                if text and clean(table.labels[at]):
                    values[clean(table.labels[at])].append((table, at, match["number"], text))
    header = f"{word} {{N}}".strip() if not re.fullmatch(r"[^\W\d_]", word) else f"{word}{{N}}"
    for label, cells in values.items():
        if not {"+", "✓"} & {text for *_, text in cells}:
            values[label] = [cell for cell in cells if re.search(r"\w", cell[-1])]
        kept = {text for *_, text in values[label]}
        if len(kept) == 1 == len(min(kept)) < len({text for *_, text in cells}):
            values[label] = []  # a cross among dots: which column is ticked
    filled = {
        place: texts
        for place, cells in enumerate(values.values())
        if len(texts := [text for *_, text in cells]) > 1
    }
    heads = list(values)
    counting: dict[str, Any] = {"N": {"first": 0}} if base == 0 else {}
    letters = {str(count_of(n)): n for n in sorted(numbers) if not n.isdigit()}
    counting = {"N": {"words": letters}} if letters else counting
    above = [*tables[0].path, *tables[0].above]
    for name, place, keys in _columns_of(above, heads, filled, around):
        label = heads[place]
        expects = []
        for table, at, number, text in values[label]:
            if is_nothing(text) and not re.search(r"\w", text):
                continue
            count = str(count_of(number) + 1 - base)
            expects.append(
                Expect(table.sample, name.replace("N", count, 1), table.rows[at][0].line, text)
            )
            out.taken.add((table.sample, table.rows[at][0].line))
        forms = tuple(
            {"at": at, "column": header, **keys, **counting} for at in titled(tables[0].path, label)
        )
        reason = f"row `{label}` of a table, a column for each that is counted"
        out.items.append(Item(name, name, forms, tuple(expects), reason))


def number_like(text: str) -> bool:
    return bool(re.fullmatch(r"[+\-\u2212]?\d+(?:[.,]\d+)?", text))


# -- mode ranges -------------------------------------------------------------------------------

_TWO = re.compile(
    r"[\[(]?(?P<one>[+\-\u2212]?\w+(?:[.]\d+)?)[ ]?%?[ ]*"
    r"(?P<mark>,(?!\d\b)|±|\+/-|:|/|@|\.{2,3}|…|–|—|-|to|till|bis|do|a|à)"
    r"[ ]*(?P<two>[+\-\u2212]?\w+(?:[.,]\d+)?)[ ]?%?[\])]?"
)
_HALF = re.compile(r"±|\+/-|\+-")
_WIDE = re.compile(r"(?i)half|width|span|either side|±|\+/-|reach|spread")
_WHOLE = re.compile(r"(?i)^(?!.*half)(?=.*(?:whole|total|entire|full|width))")


class _Part(NamedTuple):
    """A column, or one of two values in its cells: the texts by row, the mark between the two."""

    column: int
    place: int
    texts: tuple[str, ...]
    head: str
    mark: str = ""

    def filled(self, rows: Sequence[int]) -> list[str]:
        return [self.texts[at] for at in rows]


def _parts(heads: Sequence[str], columns: Sequence[Sequence[str]]) -> Iterator[_Part]:
    for column, texts in enumerate(columns):
        found = [_TWO.fullmatch(text) for text in texts]
        marks = [match["mark"] for match in found if match is not None]
        filled = [text for text in texts if re.search(r"\w", text)]
        if (
            len(marks) >= 0.6 * max(1, len(filled))
            and len(set(marks)) == 1
            and any(re.search(r"\d", text) for text in filled)
        ):
            words = re.split(r"±|\+/-|[:/,]| to |\.\.|–", heads[column])
            for place, name in enumerate(("one", "two")):
                own = tuple(match[name] if match is not None else "" for match in found)
                head = words[place] if place < len(words) else heads[column]
                yield _Part(column, place, own, head, marks[0])
        else:
            yield _Part(column, 0, tuple(texts), heads[column])


class _Range(NamedTuple):
    """The parts of a table of mode ranges, and how each is written."""

    roles: dict[str, _Part]
    fields: dict[str, Any]
    sure: bool
    rows: tuple[int, ...]


def _mode_part(
    parts: Sequence[_Part], around: Around
) -> tuple[_Part | None, dict[str, tuple[str, bool]]]:
    """The part that names modes, by their words or by codes that a legend explains."""
    best_part, most = None, 0.0
    for part in parts:
        texts = list(dict.fromkeys(t for t in part.texts if re.search(r"\w", t)))
        if len(texts) < 2:
            continue
        share = sum(best("mode", text)[1] >= 0.5 and not number_like(text) for text in texts) / len(
            texts
        )
        if share >= 0.4 and share > most:
            best_part, most = part, share
    if best_part is not None:
        return best_part, {}
    for part in parts:
        texts = list(dict.fromkeys(t for t in part.texts if re.search(r"\w", t)))
        legends = [
            one
            for one in around.legends
            if one.label
            and set(split(english(one.label)))
            & (set(split(english(part.head))) | {"mode", "modes"})
        ]
        known = coded("mode", texts, part.head, legends) if len(texts) > 1 and legends else None
        if known is not None:
            words = known.keys.get("words", {}).items()
            # Of two codes for one mode one means another.
            return part, {
                text: (word, word not in known.unsure and len(every) == 1)
                for word, every in words
                for text in every
            }
    return None, {}


def _channel_worth(
    part: _Part, rows: Sequence[int], tables: Sequence[Table], around: Around
) -> tuple[float, list[int], str, int]:
    """How likely a part is the channel; its numbers, what stands before them, their base."""
    texts = part.filled(rows)
    leads = {m[1] for text in texts if (m := re.fullmatch(r"([^\W\d_]*[ .]?)\d{1,2}", text))}
    base = 10
    if all(re.fullmatch(r"[^\W\d_]*[ .]?\d{1,2}", text) for text in texts) and len(leads) == 1:
        lead = leads.pop()
        values = [int(text[len(lead) :]) for text in texts]
        if (
            around.bare
            and not lead
            and all(len(text) == 2 for text in texts)
            and any(t < "10" for t in texts)
        ):
            base, values = 16, [int(text, 16) for text in texts]
    elif around.bare and (ways := numbers_of(texts, False, True)) and ways[0].base == 16:
        lead, base, values = "", 16, [int(one) for one in ways[0].values]
    elif all(re.fullmatch(r"[A-T]", text) for text in texts):
        lead, values = "", [ord(text) - 64 for text in texts]
    else:
        return -9, [], "", 10
    if max(values) > 20:
        return -9, [], "", 10
    starts = list(itertools.accumulate((len(table.rows) for table in tables), initial=0))
    groups = [
        [value for at, value in zip(rows, values, strict=True) if a <= at < b]
        for a, b in itertools.pairwise(starts)
    ]
    rising = all(one == list(range(one[0], one[0] + len(one))) for one in groups if one)
    about = ideas_of([*split(english(part.head)), lead.strip().lower()])
    worth = (
        2.0 * bool(about & {"channel", "aux", "stick", "range"})
        + (max(values) >= 4)
        + (len(set(values)) < len(values))
        - 2.0 * rising
    )
    return worth, values, lead, base


def _join_words(part: _Part, rows: Sequence[int]) -> dict[str, Any] | None:
    """The words of a part that says how a mode's ranges are joined; None where it does not."""
    texts = [text for text in dict.fromkeys(part.filled(rows)) if text]
    words: dict[str, list[str]] = {}
    for text in texts:
        side, weight = best("join", text)
        if weight < 0.9:
            side, weight = best("join", english(text))
        if weight >= 0.9:
            words.setdefault(side, []).append(text)
    if words:
        left = [text for text in texts if not any(text in every for every in words.values())]
        if len(left) == len(words) == 1 and re.search(r"\w", left[0]):
            # Of two words for how ranges are joined one that nobody knows is the other.
            words["any" if "all" in words else "all"] = left
            return {"words": _short(words), "unsure": ["any", "all"]}
        if not all(re.fullmatch(r"[\W_]+", text) for text in left):
            return None
        # A dash beside one of the words: the mode has only this range.
        words.setdefault("any", []).extend(left)
        return {"words": _short({side: every for side, every in words.items() if every})}
    said = next(
        (
            side
            for word in (*split(part.head), *split(english(part.head)))
            if (side := best("join", word)[0])
        ),
        "",
    )
    if said == "all" and len({is_nothing(text) for text in texts}) == 2:
        none = [text for text in texts if is_nothing(text)]
        return {
            "words": _short({"any": none, "all": [text for text in texts if text not in none]}),
            "unsure": ["all"],
        }
    flags = {"1": "yes", "0": "no", "yes": "yes", "no": "no", "x": "yes", "-": "no", "+": "yes"}
    if said and texts and all(text.lower() in flags for text in texts):
        other = {"all": "any", "any": "all"}[said]
        sides = {"yes": said, "no": other}
        for text in texts:
            words.setdefault(sides[flags[text.lower()]], []).append(text)
        return {"words": _short(words), "unsure": ["all"]}
    return None


def _numbered(
    one: _Part, two: _Part, rows: Sequence[int], around: Around
) -> tuple[dict[str, _Part], dict[str, Any], Measure, float] | None:
    """Two parts as the ends of ranges, or as a centre and half of a width."""
    halves = [True] if _HALF.fullmatch(one.mark) and one.column == two.column else [False, True]
    if one.column != two.column and not _WIDE.search(f"{english(two.head)} {two.head}"):
        halves = [False]
    found = None
    for half in halves:
        for a, b in itertools.product(
            numbers_of(one.filled(rows), around.comma, around.bare),
            numbers_of(two.filled(rows), around.comma, around.bare),
        ):
            if a.base != b.base:
                continue
            whole = half and _WHOLE.search(f"{english(two.head)} {two.head}")
            wide = b._replace(values=tuple(v / 2 for v in b.values)) if whole else b
            measure = likeliest(a, wide, around.measures, half=half)
            if measure is None:
                continue
            names = ("centre", "half") if half else ("low", "high")
            names = ("centre", "width") if whole else names
            fields = {
                names[0]: {**a.keys(), **measure.keys()},
                names[1]: {**b.keys(), **measure.keys(half=half)},
            }
            fields = {name: keys for name, keys in fields.items() if keys}
            worth = 2.0 * (measure == PLAIN) + (one.column == two.column) - half * 0.5
            if found is None or worth > found[3]:
                found = dict(zip(names, (one, two), strict=True)), fields, measure, worth
    return found


def _ranges(
    tables: Sequence[Table], columns: Sequence[Sequence[str]], around: Around, out: Taken
) -> _Range | None:
    """The parts of a table of mode ranges."""
    parts = list(_parts(tables[0].heads, columns))
    mode, codes = _mode_part(parts, around)
    if mode is None:
        return None
    rest = [part for part in parts if part is not mode]
    options: list[Any] = []
    for one, two in itertools.permutations(rest, 2):
        if one.column > two.column or (one.column == two.column and one.place > two.place):
            continue
        rows = [
            at
            for at in range(len(one.texts))
            if all(re.search(r"\d|[A-F]{2}", part.texts[at]) for part in (one, two))
            and re.search(r"\w", mode.texts[at])
        ]
        if len(rows) < 2:
            continue
        found = _numbered(one, two, rows, around)
        if found is None:
            continue
        for part in rest:
            if part in (one, two) or not all(part.texts[at] for at in rows):
                continue
            worth, values, lead, base = _channel_worth(part, rows, tables, around)
            if worth > 0:
                options.append(
                    (worth + found[3], len(options), part, found, rows, (values, lead, base))
                )
    if not options:
        return None
    _, _, channel, (roles, fields, measure, _), rows, (values, lead, base) = max(options)
    roles = {"mode": mode, "channel": channel, **roles}
    counting, sure = counted(values, lead or channel.head, around.zero, around.notes)
    texts = channel.filled(rows)
    if (lead and not tables[0].listed) or all(re.fullmatch(r"[A-T]", text) for text in texts):
        first = counting.get("first", 1)
        fields["channel"] = {
            "words": {
                str(value + 1 - first): text
                for value, text in sorted(zip(values, texts, strict=True))
            }
        }
    elif counting or base == 16:
        fields["channel"] = {**counting, **({"base": 16} if base == 16 else {})}
    for part in parts:
        joined = _join_words(part, rows) if part not in roles.values() else None
        if joined is not None:
            roles["join"], fields["join"] = part, joined
            break
    out.coded.update(codes)
    # A stick turns nothing on.
    sure = sure and measure == PLAIN and (min(values) >= 5 or bool(counting))
    sure = sure and "width" not in roles
    return _Range(roles, fields, sure, tuple(rows))


def _joint(mark: str) -> str:
    return " " if mark == "," else mark if mark == ":" else f" {mark} "


def _range_table(tables: Sequence[Table], found: _Range, out: Taken) -> None:
    if tables[0].listed:
        _by_place(tables, found, out)
        return
    heads = tables[0].heads
    columns: dict[str, str] = {}
    doubled: dict[int, dict[int, str]] = defaultdict(dict)
    for role, part in found.roles.items():
        if part.mark:
            doubled[part.column][part.place] = role
        else:
            columns[role] = clean(heads[part.column])
    for column, places in doubled.items():
        mark = next(part.mark for part in found.roles.values() if part.column == column)
        names = [places.get(place, "_") for place in (0, 1)]
        columns[f"{{{names[0]}}}{_joint(mark)}{{{names[1]}}}"] = clean(heads[column])
    if len(doubled) > 1 or not all(columns.values()):
        return
    expects = []
    at = 0
    for table in tables:
        for row, _ in table.rows:
            if at in found.rows:
                mode = found.roles["mode"].texts[at]
                if mode not in out.modes and mode not in out.coded:
                    out.modes.append(mode)
                expects.append(Expect(table.sample, "range", row.line, mode))
                out.taken.add((table.sample, row.line))
            at += 1
    form: dict[str, Any] = {"at": "*", "makes": "range", "columns": columns}
    if found.fields:
        form["fields"] = found.fields
    if not found.sure:
        form["sure"] = False
    forms = tuple({**form, "at": at} for at in [*titled(tables[0].path, "*")])
    reason = "a table of modes, channels and ends"
    out.items.append(Item(f"rangetable{len(out.items)}", "", forms, tuple(expects), reason))


def _template(row: Row, cells: Sequence[Cell | None], roles: Mapping[str, _Part]) -> str:
    """A row as a template: its fields, and anything for the other cells."""
    spans = []
    for role, part in roles.items():
        cell = cells[part.column]
        text = row.text[cell.start : cell.end] if cell is not None else ""
        two = _TWO.fullmatch(text) if part.mark else None
        if cell is None:
            continue
        start, end = two.span(("one", "two")[part.place]) if two is not None else (0, len(text))
        if role in ("channel", "N") and (digits := re.search(r"\d+$|^[A-Z]$", text)):
            start, end = digits.span()
        quoted = text[start : start + 1] == '"' == text[end - 1 : end] and end - start > 2
        spans.append((cell.start + start + quoted, cell.start + end - quoted, role))
    held = {part.column for part in roles.values()}
    spans += [(cell.start, cell.end, "_") for c, cell in enumerate(cells) if cell and c not in held]
    text = row.text[row.start : row.note]
    return template(text, [(a - row.start, b - row.start, role) for a, b, role in spans])


def _by_place(tables: Sequence[Table], found: _Range, out: Taken) -> None:
    """Mode ranges whose cells count by their place."""
    rows = [(table, *one) for table in tables for one in table.rows]
    at, expects = [], []
    for place in found.rows:
        table, row, cells = rows[place]
        mode = found.roles["mode"].texts[place]
        if mode not in out.modes and mode not in out.coded:
            out.modes.append(mode)
        at.append(_template(row, cells, found.roles))
        expects.append(Expect(table.sample, "range", row.line, mode))
        out.taken.add((table.sample, row.line))
    out.items.append(
        _rows_item(
            f"rangetable{len(out.items)}", tables[0].path, at, {}, found.fields, expects,
            "rows of modes, channels and ends, as a list above names them", makes="range",
            **({} if found.sure else {"sure": False}),
        )
    )  # fmt: skip


# -- rows that are counted ---------------------------------------------------------------------


def _upright(tables: Sequence[Table], around: Around, out: Taken) -> None:
    """Rows counted by their first cell, or named by a mode; columns by what they can be."""
    heads = tables[0].heads
    columns = [
        [table.text(at, column) for table in tables for at in range(len(table.rows))]
        for column in range(len(heads))
    ]
    ranges = _ranges(tables, columns, around, out)
    if ranges is not None:
        _range_table(tables, ranges, out)
        return
    if tables[0].listed and not around.late:
        return
    index = next(
        (
            c
            for c, texts in enumerate(columns)
            if any(texts)
            and all(
                re.fullmatch(r"\W*(?:[^\W\d_]*[ \-#.]?\d{1,2}|[A-Z])\W*", text)
                for text in texts
                if text
            )
        ),
        None,
    )
    if index is None:
        return
    others = {c: texts for c, texts in enumerate(columns) if c != index}
    sets = _columns_of([*tables[0].path, *tables[0].above], heads, others, around)
    if len({name for name, *_ in sets}) >= 2:
        _counted_table(tables, index, sets, out)


class _Set(NamedTuple):
    """One column as one setting of what a row counts."""

    name: str
    column: int
    keys: dict[str, Any]


def _columns_of(
    above: Sequence[str], heads: Sequence[str], columns: Mapping[int, Sequence[str]], around: Around
) -> list[_Set]:
    """Which columns say what of a channel or a port, with how they are written."""
    filled = {
        c: [text for text in texts if text and re.search(r"[\w+\-✓✗.–—]", text)]
        for c, texts in columns.items()
    }
    filled = {
        c: texts for c, texts in filled.items() if any(re.search(r"[\w+✓✗]", t) for t in texts)
    }
    speedy = {c for c in filled if re.search(r"(?i)baud|speed", f"{heads[c]} {english(heads[c])}")}
    figures = [
        (c, [t for t in texts if re.search(r"\w", t)])
        for c, texts in filled.items()
        if c not in speedy
    ]
    ends = _ends(figures, around)
    if ends is not None:
        out = [_Set(f"channel.N.{role}_us", c, ends.field(role)) for role, c in ends.placed.items()]
        held = set(ends.placed.values())
        for c, texts in filled.items():
            lost = _lost(texts, heads[c], ends.measure, around) if c not in held else None
            if lost:
                out.append(_Set("failsafe.channel.N", c, lost))
                break
        return out
    ports = _port_columns(above, heads, filled, around)
    if ports:
        return ports
    for c, texts in filled.items():
        lost = _lost(texts, heads[c], PLAIN, around)
        if lost:
            return [_Set("failsafe.channel.N", c, lost)]
    return []


def _port_columns(
    above: Sequence[str], heads: Sequence[str], filled: dict[int, list[str]], around: Around
) -> list[_Set]:
    out: list[_Set] = []
    left = dict(filled)
    baud = max(
        (
            (reading[1], -c, reading[0])
            for c, texts in filled.items()
            if (reading := wires.speeds(texts, heads[c], above, around.comma, around.bare))
            or (reading := wires.coded_speeds(texts, heads[c], around.legends))
        ),
        default=None,
        key=lambda one: one[:2],
    )
    if baud is not None:
        out.append(_Set("port.N.baud", -baud[1], baud[2]))
        del left[-baud[1]]
    for c, texts in list(left.items()):
        functions = _functions(texts, heads[c], _of_column(heads, c, around))
        if functions is not None:
            if baud is not None and {"0", "0000"} & set(filled[-baud[1]]):
                functions["sure"] = False  # a port without a speed may not be there at all
            out.append(_Set("port.N.functions", c, functions))
            del left[c]
            if any(read_functions(other, None) for other in left.values()):
                functions["sure"] = False  # a second column may say more of them
            break
    if not out:
        return []
    for c, texts in left.items():
        for name, keys in wires.flags(texts, heads[c], _of_column(heads, c, around), around.bare):
            if not any(one.name == name for one in out):
                out.append(_Set(name, c, keys))
    return out


def _of_column(heads: Sequence[str], column: int, around: Around) -> list[Legend]:
    """The legends that may explain a column: its own, or those that are no other column's."""

    def called(one: Legend, head: str) -> bool:
        return bool(one.label) and set(split(one.label)) >= set(split(head)) != set()

    own = [one for one in around.legends if called(one, heads[column])]
    others = [head for at, head in enumerate(heads) if at != column]
    return own or [one for one in around.legends if not any(called(one, head) for head in others)]


def _functions(texts: Sequence[str], head: str, legends: Sequence[Legend]) -> dict[str, Any] | None:
    read = read_functions(texts, None)
    if read and len(read[0].opaque) <= 0.5 * len(set(texts)):
        return {**read[0].keys, **({"unsure": list(read[0].unsure)} if read[0].unsure else {})}
    known = coded("port.N.functions", texts, head, legends)
    if known is None:
        return None
    keys = short(known.keys)
    if set(keys) == {"words"} and len(keys["words"]) < 2:
        return None
    return {**keys, **({"unsure": list(known.unsure)} if known.unsure else {})}


_FIELDS = {
    "functions": "functions",
    "baud": "baud",
    "inverted": "inverted",
    "half_duplex": "half",
    "low_us": "low",
    "mid_us": "mid",
    "high_us": "high",
}


def _counted_table(tables: Sequence[Table], index: int, sets: Sequence[_Set], out: Taken) -> None:
    heads = tables[0].heads
    every = [table.text(at, index) for table in tables for at in range(len(table.rows))]
    bare = [re.sub(r"\W", "", text) for text in every]
    letters = all(re.fullmatch(r"[A-Z]", text) for text in bare if text)
    base = 0 if any(re.fullmatch(r"[^\W\d_]*0+", text) for text in bare) else 1
    word = "" if letters else re.sub(r"\d+\W*$", "", every[0]).strip()
    counting: dict[str, Any] = {}
    if letters:
        counting = {"words": {str(ord(o.lower()) - 96): o for o in sorted(set(bare)) if o}}
    elif base == 0:
        counting = {"first": 0}
    address = f"{clean(word)} {{N}}".strip()
    address = f"{clean(word)}{{N}}" if re.fullmatch(r"[^\W\d_]", clean(word)) else address
    if tables[0].listed:
        _counted_by_place(
            tables, index, sets, counting, _expected(tables, index, sets, base, letters, out), out
        )
        return
    # Two settings of one column are two entries.
    first = [one for n, one in enumerate(sets) if one.column not in {s.column for s in sets[:n]}]
    for group in (first, [one for one in sets if one not in first]):
        group = [one for one in group if clean(heads[one.column])]  # noqa: PLW2901
        if not group:
            continue
        fields: dict[str, Any] = {"N": counting} if counting else {}
        columns: dict[str, str] = {}
        setting: dict[str, str] = {}
        for one in group:
            field = _FIELDS.get(one.name.rpartition(".")[2], "loss")
            columns[field], setting[field] = clean(heads[one.column]), one.name
            if one.keys:
                fields[field] = one.keys
        expects = _expected(tables, index, group, base, letters, out)
        form: dict[str, Any] = {"at": address, "columns": columns, "sets": setting}
        if fields:
            form["fields"] = fields
        with_n = (
            {**form, "columns": {"N": clean(heads[index]), **columns}}
            if clean(heads[index])
            else form
        )
        forms = [
            {**one, "at": text}
            for text in titled(tables[0].path, address)
            for one in (form, with_n)
        ]
        reason = f"{len(every)} rows of a table counted by {'letters' if letters else 'numbers'}"
        out.items.append(Item(f"table{len(out.items)}", "", tuple(forms), tuple(expects), reason))


def _counted_by_place(
    tables: Sequence[Table],
    index: int,
    sets: Sequence[_Set],
    counting: dict[str, Any],
    expects: Sequence[Expect],
    out: Taken,
) -> None:
    """Rows that are counted, and whose cells count by their place."""
    roles = {"N": _Part(index, 0, (), "")}
    fields: dict[str, Any] = {"N": counting} if counting else {}
    setting = {}
    for one in sets:
        if one.column in {part.column for part in roles.values()}:
            continue
        field = _FIELDS.get(one.name.rpartition(".")[2], "loss")
        roles[field], setting[field] = _Part(one.column, 0, (), ""), one.name
        if one.keys:
            fields[field] = one.keys
    at = [_template(row, cells, roles) for table in tables for row, cells in table.rows]
    held = set(setting.values())
    kept = [one for one in expects if re.sub(r"\.\d+(?=\.|$)", ".N", one.name) in held]
    out.items.append(
        _rows_item(
            f"table{len(out.items)}", tables[0].path, at, setting, fields, kept,
            f"{len(at)} rows that are counted, as a list above names them",
        )
    )  # fmt: skip


def _expected(
    tables: Sequence[Table],
    index: int,
    sets: Sequence[_Set],
    base: int,
    letters: bool,
    out: Taken,
) -> list[Expect]:
    expects = []
    for table in tables:
        for at, (row, _) in enumerate(table.rows):
            text = re.sub(r"\W", "", table.text(at, index))
            if not text:
                continue
            out.taken.add((table.sample, row.line))
            count = ord(text.lower()) - 96 if letters else int(re.sub(r"\D", "", text)) + 1 - base
            for one in sets:
                value = table.text(at, one.column)
                none = one.keys.get("none", ())
                if (
                    value
                    and re.search(r"[\w+\-✓✗]", value)
                    and value not in ([none] if isinstance(none, str) else none)
                    and not (
                        is_nothing(value)
                        and one.name != "port.N.functions"
                        and not re.search(r"\w", value)
                    )
                ):
                    name = one.name.replace("N", str(count), 1)
                    expects.append(Expect(table.sample, name, row.line, value))
    return expects


__all__ = ["Taken", "table_items"]
