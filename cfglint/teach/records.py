"""Lines of several fields: what they set, told by their columns.

A channel's ends, a port and its load, a mode's range: such lines are alike but for their
fields, and what stands in a column over all of them says what it is.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

from cfglint.dump.forms import mistake
from cfglint.record import NamedTuple
from cfglint.teach.fits import known_baud, loss_word
from cfglint.teach.meanings import YES_NO, best, is_nothing
from cfglint.teach.slots import section_forms
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.teach.shape import Row


class Cell(NamedTuple):
    """A piece of a line: ``text`` and whether it is a field that can vary (else literal)."""

    text: str
    field: bool


class Record(NamedTuple):
    """Lines that are alike: their cells, row by row, equally many in each."""

    rows: tuple[Row, ...]
    cells: tuple[tuple[Cell, ...], ...]
    within: str
    head: tuple[str, ...]

    def column(self, at: int) -> list[str]:
        return [cells[at].text for cells in self.cells]

    @property
    def fields(self) -> list[int]:
        return [at for at, cell in enumerate(self.cells[0]) if cell.field]


class FormGuess(NamedTuple):
    """A line form for several alike lines.

    ``makes`` as in a dialect file; ``roles`` maps field names to the columns they stand in, and
    ``sets`` fields to settings.  ``codes`` are written words without a known meaning, by field;
    ``doubts`` what is not certain, by field (``form`` for the whole), each with a clause.
    """

    makes: str
    line: str
    within: str
    sets: dict[str, str]
    fields: dict[str, dict[str, Any]]
    roles: dict[str, int]
    record: Record
    confidence: float
    reason: str
    codes: dict[str, tuple[str, ...]]
    doubts: dict[str, str]
    skip_empty: bool = False
    join: str = ""
    unsure: tuple[str, ...] = ()


# ------------------------------------------------------------------ cutting lines into cells


def _lists(text: str) -> str:
    """The text with the words of function lists joined, so that a list is one cell."""

    def join(match: re.Match[str]) -> str:
        mark = match["mark"]
        parts = match.group().split(mark)
        good = [best("port.N.functions", part)[1] >= 0.7 for part in parts]
        out = [parts[0]]
        for before, now, part in zip(good, good[1:], parts[1:], strict=False):
            out.append((mark.translate(_JOINED) if before and now else mark) + part)
        return "".join(out)

    text = _LIST.sub(join, text)
    # Blanks divide a list only where a line is about ports; elsewhere they divide fields.
    if "port" in _ideas(re.findall(r"[A-Za-z]+", text)[:4]):
        text = _SPACED.sub(join, text)
    return text


_SPACED = re.compile(
    r"(?<![\w.\-])[A-Za-z][\w\-]*(?P<mark> )[A-Za-z][\w\-]*(?:(?P=mark)[A-Za-z][\w\-]*)*"
)


def _lone(match: re.Match[str]) -> bool:
    """Whether a dash stands where a field would: it says that there is nothing."""
    text = match.string
    before, after = text[match.start() - 1 : match.start()], text[match.end() : match.end() + 1]
    return (
        before in " \t:/,|=" and bool(before) and after in ("", " ", "\t", "/", ",", "|", ";", ":")
    )


_LIST = re.compile(
    r"(?<![\w.])[A-Za-z][\w\-]*(?P<mark>[,/+|&;] ?)[A-Za-z][\w\-]*(?:(?P=mark)[A-Za-z][\w\-]*)*"
)
_MARKS = ",/+|&;"
#: Private characters that stand for a list's divider while a line is cut.
_JOINED = {ord(mark): chr(0xE000 + at) for at, mark in enumerate(_MARKS + " ")}
_BACK = {0xE000 + at: mark for at, mark in enumerate(_MARKS + " ")}


def cells_of(text: str) -> list[Cell]:
    """A line's cells: words and numbers apart from the marks between them."""
    out: list[Cell] = []
    for match in re.finditer(
        r"\"[^\"]*\"|(?<=[\s:/,|=])-(?=[\s/,|;:]|$)|[A-Za-z_\ue000-\uf000][\w\ue000-\uf000]*(?:[.-][A-Za-z][\w\ue000-\uf000]*)*|"
        r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w.]*[A-Za-z])|\d+(?:\.\d+)?|\w+|\s+|[^\w\s]",
        _lists(text),
    ):
        piece = match.group().translate(_BACK)
        if piece.isspace():
            out.append(Cell(" ", False))
        elif piece[0] == '"' and not any(cell.field for cell in out) and re.search(r"\w", piece):
            # A name in quotes is a name all the same.
            out += [Cell('"', False), *_pieces(piece.strip('"')), Cell('"', False)]
        elif re.match(r"[\w\"]|-?\d", piece) or (piece == "-" and _lone(match)):
            out.extend(_pieces(piece))
        else:
            out.append(Cell(piece, False))
    # Marks that stand together are one.
    merged: list[Cell] = []
    for cell in out:
        if merged and not cell.field and not merged[-1].field:
            merged[-1] = Cell(merged[-1].text + cell.text, False)
        else:
            merged.append(cell)
    return merged


def _pieces(piece: str) -> list[Cell]:
    """A word cut where its parts may vary apart: ``range.arm``, ``ch5``, ``port_2_use``."""
    if piece[:1] == '"' or re.fullmatch(r"-?\d+(?:\.\d+)?", piece):
        return [Cell(piece, True)]
    # Words that mean something as they stand keep their digits.
    for table in ("mode", "port.N.functions", "receiver.link", "motor.signal"):
        if best(table, piece)[1] >= 0.9:
            return [Cell(piece, True)]
    match = re.fullmatch(r"([A-Za-z_][A-Za-z_.\-]*?)(\d+)([A-Za-z_.\-]*)", piece)
    if match:
        before, number, after = match.groups()
        out = [Cell(before, True), Cell("", False), Cell(number, True)]
        if after:
            out += [Cell("", False), Cell(after, True)]
        return out
    return [Cell(piece, True)]


def _heads(cells: Sequence[Cell]) -> list[int]:
    """Where a line's name may stand: its first field, or the one behind a verb."""
    return [at for at, cell in enumerate(cells) if cell.field][:2]


def _numbers(cells: Sequence[Cell]) -> int:
    return sum(cell.field and cell.text.lstrip("-").replace(".", "").isdigit() for cell in cells)


def _range_prefixes(lines: Iterable[Sequence[Cell]]) -> frozenset[str]:
    """What stands before the mode in names of lines with three numbers or more.

    Three lines have to begin so, and one of them go on with a mode that is known.
    """
    found: dict[str, set[str]] = defaultdict(set)
    for cells in lines:
        if _numbers(cells) < 3:
            continue
        for at in _heads(cells):
            match = re.match(r"([A-Za-z]+[_.\-])(.+)$", cells[at].text)
            if match:
                found[match[1]].add(match[2])
    return frozenset(
        prefix
        for prefix, rests in found.items()
        if len(rests) >= 3 and any(best("mode", rest)[1] >= 0.9 for rest in rests)
    )


def _mode_parts(cells: Sequence[Cell], prefixes: frozenset[str] = frozenset()) -> list[Cell]:
    """The cells with a mode's word in a longer name set apart: ``range_arm`` → range_, arm."""
    heads = _heads(cells)
    for first in heads:
        text = cells[first].text
        prefix = next((one for one in prefixes if text.startswith(one) and text != one), "")
        if prefix and _numbers(cells) >= 3:
            apart = [Cell(prefix, True), Cell("", False), Cell(text[len(prefix) :], True)]
            return [*cells[:first], *apart, *cells[first + 1 :]]
    for first in heads:
        made = _mode_split(cells, first)
        if made is not None:
            return made
    return list(cells)


def _mode_split(cells: Sequence[Cell], first: int) -> list[Cell] | None:
    text = cells[first].text
    if not re.search(r"[A-Za-z]", text) or not re.search(r"[_.\-]", text):
        return None
    head = re.match(r"([A-Za-z]+)([_.\-])(.+)$", text)
    if head and _is_range(head[1]) and best("mode", head[3])[1] >= 0.8:
        made = [Cell(head[1] + head[2], True), Cell("", False), Cell(head[3], True)]
        return [*cells[:first], *made, *cells[first + 1 :]]
    if best("mode", text)[1] >= 0.93:
        return None  # a mode's own name
    parts = re.split(r"([_.\-])", text)
    words = parts[::2]
    for size in range(len(words) - 1, 0, -1):
        for start in (len(words) - size, 0):
            inner = "".join(parts[2 * start : 2 * (start + size) - 1])
            outer = [w for at, w in enumerate(words) if not start <= at < start + size]
            if best("mode", inner)[1] < 0.8 or not all(_about_ranges(w) for w in outer):
                continue
            before = "".join(parts[: 2 * start])
            after = "".join(parts[2 * (start + size) - 1 :])
            made = [Cell(before, True), Cell("", False)] if before else []
            made.append(Cell(inner, True))
            if after:
                made += [Cell("", False), Cell(after, True)]
            return [*cells[:first], *made, *cells[first + 1 :]]
    # A word of its own for a mode, behind one that says what the line is about.
    if _numbers(cells) >= 3 and len(words) >= 2 and _is_range(words[0]) and "".join(parts[2:]):
        made = [Cell("".join(parts[:2]), True), Cell("", False), Cell("".join(parts[2:]), True)]
        return [*cells[:first], *made, *cells[first + 1 :]]
    return None


def _is_range(word: str) -> bool:
    return any(idea == "range" and weight >= 0.9 for idea, weight in ideas(word.lower()))


def _about_ranges(word: str) -> bool:
    return any(idea in ("range", "kind", "channel", "aux", "on") for idea, _ in ideas(word.lower()))


def records_of(rows: Sequence[Row]) -> list[Record]:
    """Groups of alike lines that have several fields, those with most lines first."""
    homes = section_forms(rows)
    # Where sections never end, a line of a table stands in whatever section came before it.
    flat = not any(row.kind == "section_end" for row in rows)
    skeletons = frozenset(
        form for path in homes if path and "{mode}" in (form := _modeless(path, homes[path]))
    )
    found: dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]] = defaultdict(list)
    cut = [(row, cells_of(row.text)) for row in rows if row.kind in ("assignment", "command")]
    prefixes = _range_prefixes(cells for _, cells in cut)
    for row, whole in cut:
        cells = tuple(_mode_parts(whole, prefixes))
        fields = [cell.text for cell in cells if cell.field]
        if not 2 <= len(fields) <= 14:
            continue
        marks = tuple(cell.text if not cell.field else "\0" for cell in cells)
        home = homes[row.sections]
        if "{" not in home:
            home = _modeless(row.sections, home, skeletons)
        if flat and "{" not in home:
            home = ""
        found[home, marks, _head(cells, row)].append((row, cells))
    found = _titled_by_modes(found)
    out = []
    for (home, _marks, head), pairs in found.items():
        per_file = {(row.file, row.sections) for row, _ in pairs}
        alone = len(per_file) == len({file for file, _ in per_file})
        # A whole table under one number is not that number's.
        within = (
            "" if flat and alone and len(pairs) > 1 and ("{N}" in home or "{P}" in home) else home
        )
        out.append(
            Record(tuple(row for row, _ in pairs), tuple(cells for _, cells in pairs), within, head)
        )
    out.sort(key=lambda record: -len(record.rows))
    return out


def _titled_by_modes(
    found: dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]],
) -> dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]]:
    """Lines that are alike in sections beside one another, whose titles are modes, as one table."""
    beside: dict[tuple[Any, ...], set[str]] = defaultdict(set)
    for home, marks, head in found:
        parent, _, title = home.rpartition("/")
        if title and "{" not in home and " " not in title:
            beside[parent, marks, head].add(title)
    out: dict[tuple[Any, ...], list[tuple[Row, tuple[Cell, ...]]]] = defaultdict(list)
    for (home, marks, head), pairs in found.items():
        parent, _, title = home.rpartition("/")
        titles = beside.get((parent, marks, head), set())
        known = any(best("mode", one)[1] >= 0.75 for one in titles)
        if title in titles and len(titles) >= 3 and known and _numbers(pairs[0][1]) >= 3:
            out[f"{parent}/{{mode}}" if parent else "{mode}", marks, head].extend(pairs)
        else:
            out[home, marks, head].extend(pairs)
    return out


def _modeless(sections: tuple[str, ...], home: str, skeletons: frozenset[str] = frozenset()) -> str:
    """A section's form with a mode's word in its title taken out: ``when {mode}``."""
    if not sections:
        return home
    words = sections[-1].split()
    for size in (2, 1):
        for start in range(len(words) - size + 1):
            inner = " ".join(words[start : start + size])
            if size == 1 and "." in inner:
                continue
            outer = [*words[:start], *words[start + size :]]
            if (
                size == 1
                and best("mode", inner)[1] >= 0.75
                and outer
                and any(map(_about_ranges, outer))
            ):
                title = " ".join([*words[:start], "{mode}", *words[start + size :]])
                return "/".join([*sections[:-1], title])
    for at in range(len(words)):
        # A word that nobody knows, in a title that is like those of modes.
        title = " ".join([*words[:at], "{mode}", *words[at + 1 :]])
        form = "/".join([*sections[:-1], title])
        if form in skeletons:
            return form
    return home


def _head(cells: Sequence[Cell], row: Row) -> tuple[str, ...]:
    """What a line begins with, in a form that alike lines share.

    An assignment's verb stands before its name, which says more.
    """
    words = [cell.text for cell in cells if cell.field][:2]
    if row.kind != "assignment" or row.text.startswith((row.name, '"')):
        words = words[:1]
    return tuple("{mode}" if best("mode", word)[1] >= 0.75 else word.lower() for word in words)


# ------------------------------------------------------------------ columns


def _ints(texts: Sequence[str]) -> list[int] | None:
    return (
        [int(text) for text in texts]
        if all(re.fullmatch(r"\d{1,5}", text) for text in texts)
        else None
    )


def _floats(texts: Sequence[str]) -> list[float] | None:
    return (
        [float(t) for t in texts]
        if all(re.fullmatch(r"-?\d+(?:\.\d+)?", t) for t in texts)
        else None
    )


def _index(record: Record, at: int, most: int = 32) -> dict[str, Any] | None:
    """How a column counts its lines: codec keys, or None where it does not count them."""
    texts = record.column(at)
    # Once in a sample; several samples number their lines alike.
    places = {(row.file, text) for row, text in zip(record.rows, texts, strict=True)}
    if len(places) != len(texts):
        return None
    ints = _ints(texts)
    if ints is not None:
        return None if max(ints) > most else {"base": 0} if min(ints) == 0 else {}
    if all(re.fullmatch(r"[A-Z]|[a-z]", text) for text in texts) and len(texts) > 1:
        first = ord("A" if texts[0].isupper() else "a")
        return {"values": {str(n + 1): chr(first + n) for n in range(26)}}
    return None


def _from_one(record: Record, at: int) -> bool:
    """Whether a column has every number from 1 on: with one left out, the first may be as well."""
    numbers = set(_ints(record.column(at)) or ())
    return numbers == set(range(1, len(numbers) + 1))


def _constant(texts: Sequence[str]) -> bool:
    return len(set(texts)) == 1


def _wordy(texts: Sequence[str]) -> bool:
    return all(re.match(r"[A-Za-z_]", text) for text in texts)


def _modes(texts: Sequence[str]) -> float:
    """How surely a column's words are modes."""
    if not _wordy(texts):
        return 0.0
    distinct = list(dict.fromkeys(texts))
    weights = [best("mode", text)[1] for text in distinct]
    return sum(weights) / len(weights)


def _before(record: Record, at: int) -> str:
    """The literal word before a field, small."""
    for back in range(at - 1, -1, -1):
        cell = record.cells[0][back]
        if cell.field and _wordy([cell.text]) and _constant(record.column(back)):
            return cell.text.lower()
        if cell.field:
            return ""
    return ""


def _ideas(words: Iterable[str]) -> set[str]:
    return {idea for word in words for part in split(word) for idea, w in ideas(part) if w >= 0.7}


def number_of(row: Row) -> int:
    """The number in a row's section title."""
    match = re.search(r"\d+", row.sections[-1]) if row.sections else None
    return int(match.group()) if match else -1


def _literal_words(record: Record) -> list[str]:
    """Words that stand in every line, and those of the section."""
    out = [
        record.cells[0][at].text
        for at in record.fields
        if _wordy(record.column(at)) and _constant(record.column(at))
    ]
    return [
        *out,
        *re.findall(
            r"[A-Za-z]+", record.within.replace("{mode}", "").replace("{N}", "").replace("{P}", "")
        ),
    ]


def without(one: FormGuess, field: str) -> FormGuess:
    """A form in which a field is passed over: what is written in it nobody explained."""
    common = Counter(one.record.column(one.roles[field])).most_common(1)[0][0]
    fields = {name: codec for name, codec in one.fields.items() if name != field}
    fields[field] = {"none": common}
    sets = {name: target for name, target in one.sets.items() if name != field}
    return one._replace(sets=sets, fields=fields)


def line_form(record: Record, roles: dict[str, int], spare: dict[str, dict[str, Any]]) -> str:
    """The form of a record's lines; columns without a role that vary become spare fields."""
    by_column = {at: field for field, at in roles.items()}
    out = []
    extra = 0
    cells = record.cells[0]
    for at, cell in enumerate(cells):
        if at in by_column:
            out.append("{" + by_column[at] + "}")
        elif not cell.field or _constant(record.column(at)):
            out.append(cell.text)
        else:
            extra += 1
            field = f"other{extra}"
            out.append("{" + field + "}")
            common = Counter(record.column(at)).most_common(1)[0][0]
            spare[field] = {"none": common}
    form = "".join(out)
    return "" if mistake(form) else form


# ------------------------------------------------------------------ ranges


def range_guess(record: Record) -> FormGuess | None:
    """The record as mode ranges, or None."""
    fields = record.fields
    sectioned = "{mode}" in record.within
    words = _literal_words(record)
    about = _ideas(words)
    floats = {at: values for at in fields if (values := _floats(record.column(at))) is not None}
    mode_at, mode_weight = -1, 0.0
    for at in fields:
        weight = _modes(record.column(at))
        literal = _constant(record.column(at)) and len(record.rows) > 1
        literal = literal and not (weight >= 0.9 and at != fields[0])
        if weight > mode_weight and weight >= 0.45 and not literal:
            mode_at, mode_weight = at, weight
    if mode_at < 0 and not sectioned and len(record.rows) > 1:
        # Words that hardly any trade word fits, where only modes can stand.
        rest = [
            at for at in fields if _wordy(record.column(at)) and not _constant(record.column(at))
        ]
        rest.sort(key=lambda at: -len(set(record.column(at))))
        if rest and (
            about & {"range", "aux"}
            or _modes(record.column(rest[0])) >= 0.12
            or sum(min(v) >= 750 and max(v) <= 2300 for v in floats.values()) == 2
        ):
            mode_at, mode_weight = rest[0], max(_modes(record.column(rest[0])), 0.2)
    candidates: list[tuple[float, dict[str, int], Ends]] = []
    for low_at, high_at in combinations(floats, 2):
        pair = _pair(record, floats[low_at], floats[high_at])
        if pair is None:
            continue
        between = [at for at in floats if low_at < at < high_at]
        if between:
            continue
        rest = [at for at in floats if at not in (low_at, high_at)]
        for channel_at in rest:
            channels = _ints(record.column(channel_at))
            if channels is None or max(channels) > 24:
                continue
            near = _ideas([_before(record, channel_at)])
            chance = 0.5 + (0.3 if near & {"channel", "aux"} else 0.0)
            # The channel stands right before the pulses nearly always.
            chance += (
                0.15
                if channel_at < low_at and not [a for a in floats if channel_at < a < low_at]
                else 0.0
            )
            chance -= 0.3 if _counted(record, channel_at) else 0.0
            chance -= 0.45 if channel_at > high_at else 0.0
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
                    codes = _ints(record.column(code_at))
                    if codes is None or code_at > low_at or max(codes) > 99:
                        continue
                    code = 0.35 + (
                        0.2 if _ideas([_before(record, code_at)]) & {"range", "kind"} else 0.0
                    )
                    code += 0.1 if code_at < channel_at else 0.0
                    # Slots are counted; a mode's number has more to choose from than a channel's.
                    code -= 0.5 if _counted(record, code_at) else 0.0
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
    few = len(record.rows) < 2 or (len(record.rows) < 3 and not about & {"range", "aux"})
    if ends.weight < 1 and few and mode_weight < 0.75 and not sectioned:
        return None  # small numbers of any kind
    if mode_at < 0 and not sectioned:
        if len(record.rows) < 2 or (not about & {"range", "aux", "on"} and len(record.rows) < 3):
            return None
        if about & {"channel", "port", "failsafe"} and not about & {"range", "aux"}:
            return None
    return _range_form(record, roles, ends, score, mode_weight if not sectioned else 0.9, about)


def _counted(record: Record, at: int) -> bool:
    """Whether a column counts each sample's lines: up from line to line, hardly one left out."""
    texts = _ints(record.column(at))
    if texts is None or len(texts) < 3:
        return False
    runs: dict[str, list[int]] = defaultdict(list)
    for row, value in zip(record.rows, texts, strict=True):
        runs[row.file].append(value)
    return all(
        run[0] <= 1 and all(a < b for a, b in pairwise(run)) and run[-1] <= 1.6 * len(run) + 1
        for run in runs.values()
    )


#: Pulses at which ranges begin and end most often, µs; common practice.
_USUAL = (900, 1300, 1700, 2100, 1000, 1500, 2000, 1100, 1200, 1400, 1600, 1800, 1900, 1250, 1750)


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
            return "pulses in µs"
        start = f" from {self.offset:g}" if self.offset else ""
        return f"steps of {self.step:g} µs{start}"


def _whole(value: float) -> int | float:
    return int(value) if value == int(value) else value


def _ends(pairs: Sequence[tuple[float, float]]) -> Ends | None:
    """In what the ends of ranges are written, by what makes usual pulses of them."""
    edges = [edge for pair in pairs for edge in pair]
    bottom, top = min(edges), max(edges)
    if bottom >= 750 and top <= 2300:
        return Ends(1.0, 0, 1, True)
    best_one: Ends | None = None
    second = 0.0
    for offset in (0, 500, 600, 700, 750, 800, 850, 880, 900, 950, 988, 1000, 1500):
        for step in (
            0.1,
            0.5,
            0.625,
            1,
            2,
            2.5,
            4,
            5,
            6,
            8,
            10,
            12,
            12.5,
            15,
            16,
            20,
            24,
            25,
            30,
            40,
            50,
            75,
            100,
        ):
            low, high = offset + step * bottom, offset + step * top
            if low < 820 or high > 2260 or high - low < 250:
                continue
            values = [offset + step * edge for edge in edges]
            usual = sum(
                any(abs(v - u) <= 0.6 * max(1, min(step, 3)) for u in _USUAL) for v in values
            ) / len(values)
            prime = sum(any(abs(v - u) <= 2 for u in _USUAL[:4]) for v in values) / len(values)
            weight = 0.35 * usual + 0.35 * prime
            weight += {
                (900, 25): 0.28,
                (0, 10): 0.2,
                (0, 0.1): 0.25,
                (880, 0.625): 0.15,
                (0, 100): 0.2,
                (0, 25): 0.1,
                (1000, 10): 0.1,
                (1500, 5): 0.1,
                (900, 10): 0.08,
                (800, 5): 0.0,
            }.get((offset, step), 0.0)
            if offset in (850, 950, 600, 700) or step in (6, 12, 15, 16, 24, 30, 75):
                weight -= 0.06
            one = Ends(weight, offset, step, step in (10, 0.1, 100) and offset == 0)
            if best_one is None or weight > best_one.weight:
                second = best_one.weight if best_one else 0.0
                best_one = one
            elif weight > second:
                second = weight
    return best_one


def _pair(record: Record, lows: list[float], highs: list[float]) -> tuple[float, Ends] | None:
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


def _range_form(
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
        if at in taken or (_constant(texts) and _wordy(texts) and len(record.rows) > 1):
            continue
        words = [best("join", text)[0] for text in texts]
        if all(words) and _wordy(texts) and "join" not in roles and at > roles.get("mode", -1):
            roles["join"] = at
            # Both words, so that one not seen yet is read as well.
            table = dict(zip(words, texts, strict=True))
            fields["join"] = {"values": _joins(table)}
            continue
        ints = _ints(texts)
        if ints is None or _constant(texts):
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
        words = list(dict.fromkeys(_titled(row, record.within) for row in record.rows))
        unknown = tuple(word for word in words if best("mode", word)[1] < 0.5)
        if unknown:
            codes["mode"] = unknown
    literal = {word for text in _literal_words(record) for word in split(text)}
    join = (
        "all"
        if literal & {"all", "both", "every", "only", "must", "also"} | _and_first(record)
        and "join" not in roles
        else ""
    )
    lows = _floats(record.column(roles["low"])) or []
    highs = _floats(record.column(roles["high"])) or []
    empty = any(low == high for low, high in zip(lows, highs, strict=True))
    line = line_form(record, roles, fields)
    confidence = min(0.98, 0.3 + 0.25 * score)
    if mode_weight >= 0.75 and ends.sure and score > 2.2:
        confidence = 0.95
    return FormGuess(
        "range", line, record.within, {}, fields, roles, record, confidence,
        f"{len(record.rows)} lines with a mode, a channel and {ends.note}",
        codes, doubts, skip_empty=empty, join=join,
    )  # fmt: skip


def _used_channels(record: Record, roles: dict[str, int]) -> list[int]:
    """The channels of lines whose range is one: what an unused slot names says nothing."""
    channels = _ints(record.column(roles["channel"])) or []
    lows, highs = _floats(record.column(roles["low"])), _floats(record.column(roles["high"]))
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


def _titled(row: Row, within: str) -> str:
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
    near = _ideas([_before(record, at)])
    head = record.cells[0][at - 2].text.lower() if at >= 2 else ""
    aux = "aux" in near or "aux" in _ideas([head])
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
    if "channel" not in near and "channel" not in _ideas([head]):
        return {}, "taken as counted from 1"
    return {}, ""


# ------------------------------------------------------------------ channels, ports, loss, links


def channel_guess(record: Record) -> FormGuess | None:
    """The record as the ends of channels, or None."""
    about = _ideas(_literal_words(record))
    floats = {
        at: values for at in record.fields if (values := _floats(record.column(at))) is not None
    }
    numbered = "{N}" in record.within
    pulses = [at for at, values in floats.items() if all(600 <= v <= 2500 for v in values)]
    if not 2 <= len(pulses) <= 3 or len(record.rows) < 2 or "aux" in about:
        return None
    ends = sorted(pulses, key=lambda at: sum(floats[at]))
    wide = all(a < 1200 for a in floats[ends[0]]) and all(b > 1750 for b in floats[ends[-1]])
    if len(pulses) == 2 and (
        not wide or any(best("mode", word)[1] >= 0.8 for word in _literal_words(record))
    ):
        return None  # the ends of ranges
    if not about & {"channel", "stick", "receiver"} and wide and len(record.rows) >= 4:
        about = about | {"stick"}
    if not about & {"channel", "stick", "receiver"} and (len(pulses) < 3 or len(record.rows) < 4):
        return None
    rest = [at for at in floats if at not in pulses]
    index = next((at for at in rest if _index(record, at) is not None), None)
    if index is None and not numbered:
        return None
    if any(_wordy(record.column(at)) and not _constant(record.column(at)) for at in record.fields):
        return None
    order = sorted(pulses, key=lambda at: sum(floats[at]))
    names = ["low", "mid", "high"] if len(pulses) == 3 else ["low", "high"]
    for lower, upper in pairwise(order):
        if any(a >= b for a, b in zip(floats[lower], floats[upper], strict=True)):
            return None
    if sum(floats[order[0]]) / len(record.rows) > 1350:
        return None
    roles = dict(zip(names, order, strict=True))
    fields: dict[str, dict[str, Any]] = {}
    doubts: dict[str, str] = {}
    if index is not None and not numbered:
        roles["N"] = index
        counted = _index(record, index)
        if counted:
            fields["N"] = counted
        elif not _from_one(record, index):
            doubts["N"] = "taken as counted from 1"
    sets = {name: f"channel.N.{name}_us" for name in names}
    line = line_form(record, roles, fields)
    return FormGuess(
        "settings", line, record.within, sets, fields, roles, record,
        0.96 if "channel" in about else 0.82,
        f"{len(record.rows)} numbered lines with {len(pulses)} pulses in µs, "
        "each higher than the last",
        {}, doubts,
    )  # fmt: skip


def port_guess(record: Record) -> FormGuess | None:
    """The record as ports and what they carry, or None."""
    about = _ideas(_literal_words(record))
    numbered = "{N}" in record.within
    if "port" not in about or len(record.rows) < 2:
        return None
    index = next(
        (
            at
            for at in record.fields
            if _index(record, at, 20) is not None and not _modes(record.column(at))
        ),
        None,
    )
    if index is None and not numbered:
        return None
    roles: dict[str, int] = {} if numbered or index is None else {"N": index}
    sets: dict[str, str] = {}
    fields: dict[str, dict[str, Any]] = {}
    codes: dict[str, tuple[str, ...]] = {}
    doubts: dict[str, str] = {}
    for at in record.fields:
        texts = record.column(at)
        if at == index or (_constant(texts) and _wordy(texts) and len(record.rows) > 1):
            continue
        if (
            "baud" not in sets
            and all(known_baud(text) or text == "0" for text in texts)
            and any(map(known_baud, texts))
        ):
            roles["baud"], sets["baud"] = at, "port.N.baud"
        elif (
            "functions" not in sets
            and _wordy([t for t in texts if not is_nothing(t)] or texts)
            and _functions(texts) >= 0.5
        ):
            roles["functions"], sets["functions"] = at, "port.N.functions"
    if "baud" not in sets:
        for at in record.fields:
            ints = _ints(record.column(at))
            if at in roles.values() or ints is None or max(ints) < 96:
                continue
            if all(v == 0 or known_baud(str(v * 100)) for v in ints):
                roles["baud"], sets["baud"] = at, "port.N.baud"
                fields["baud"] = {"scale": 100}
                break
    # Numbers for words: a column before the baud that is neither.
    if "functions" not in sets:
        for at in record.fields:
            ints = _ints(record.column(at))
            if at in roles.values() or ints is None or _constant(record.column(at)):
                continue
            roles["functions"], sets["functions"] = at, "port.N.functions"
            bits = sorted({bit for value in ints for bit in range(16) if value >> bit & 1})
            codes["functions"] = tuple(str(1 << bit) for bit in bits)
            break
    if "functions" not in sets:
        return None
    varying = [at for at in record.fields if not _constant(record.column(at))]
    if len(varying) <= 2 and all(row.kind == "assignment" for row in record.rows):
        return None  # a family of names; nothing here that names do not say
    if "baud" not in sets:
        for at in record.fields:
            ints = _ints(record.column(at))
            if at in roles.values() or ints is None:
                continue
            if max(ints) <= 20 and len(set(ints)) > 1 and set(ints) != {0, 1}:
                roles["baud"], sets["baud"] = at, "port.N.baud"
                codes["baud"] = tuple(dict.fromkeys(record.column(at)))
            else:
                continue
            break
    for at in record.fields:
        texts = record.column(at)
        pair = {text.lower() for text in texts}
        if (
            at in roles.values()
            or at == index
            or not _wordy(texts)
            or at < roles.get("functions", 99)
        ):
            continue
        yes_no = next(
            ((yes, no) for yes, no in YES_NO if pair <= {yes, no} and not yes.isdigit()), None
        )
        if yes_no is not None and "inverted" not in sets and "functions" in sets:
            spell = (
                str.upper
                if texts[0].isupper()
                else str.capitalize
                if texts[0][0].isupper()
                else str
            )
            roles["inverted"], sets["inverted"] = at, "port.N.inverted"
            fields["inverted"] = {"yes": spell(yes_no[0]), "no": spell(yes_no[1])}
            doubts["inverted"] = "the flag is taken for the port's inversion"
    counted = _index(record, index, 20) if index is not None else None
    if index is not None and counted == {} and not _from_one(record, index):
        doubts["N"] = "taken as counted from 1"
    if numbered and any(number_of(row) == 0 for row in record.rows):
        counted = {"base": 0}
    if counted:
        fields["N"] = counted
    line = line_form(record, roles, fields)
    return FormGuess(
        "settings", line, record.within, sets, fields, roles, record,
        0.9 if "functions" not in codes else 0.55,
        f"{len(record.rows)} numbered lines that name what a port carries", codes, doubts,
    )  # fmt: skip


def _functions(texts: Sequence[str]) -> float:
    weights = []
    for text in dict.fromkeys(texts):
        if is_nothing(text):
            continue
        parts = re.split(r"[,/+|&;]", text)
        weights += [best("port.N.functions", part)[1] for part in parts]
    return sum(weights) / len(weights) if weights else 0.0


def loss_guess(record: Record) -> FormGuess | None:
    """The record as what channels do on a lost link, or None."""
    about = _ideas(_literal_words(record))
    if "failsafe" not in about:
        return None
    pulses = [
        at for at in record.fields if all(re.fullmatch(r"\d{3,4}", t) for t in record.column(at))
    ]
    if len(pulses) > 1:
        return None
    numbered = "{N}" in record.within
    index = next((at for at in record.fields if _index(record, at) is not None), None)
    if index is None and not numbered:
        return None
    for at in record.fields:
        texts = record.column(at)
        if at == index or (
            _constant(texts) and len(record.rows) > 1 and not loss_word(texts[0]) and _wordy(texts)
        ):
            continue
        if all(loss_word(t) or (t.isdigit() and 700 <= int(t) <= 2300) for t in texts):
            roles = {"value": at}
            fields: dict[str, dict[str, Any]] = {}
            if index is not None and not numbered:
                roles["N"] = index
                counted = _index(record, index)
                if counted:
                    fields["N"] = counted
            words = {loss_word(t): t for t in texts if loss_word(t)}
            if any(word != text for word, text in words.items()):
                fields["value"] = {"values": words}
            line = line_form(record, roles, fields)
            return FormGuess(
                "settings", line, record.within, {"value": "failsafe.channel.N"}, fields, roles,
                record, 0.85, f"{len(record.rows)} numbered lines of what a channel does on loss",
                {}, {},
            )  # fmt: skip
    return None


def link_guess(record: Record) -> FormGuess | None:
    """The record as modes that follow another, or None."""
    words = [at for at in record.fields if _modes(record.column(at)) >= 0.6]
    literal = [at for at in words if _constant(record.column(at)) and len(record.rows) > 1]
    words = [at for at in words if at not in literal[1:]]
    said = {word.lower() for word in _literal_words(record)} | set(
        re.findall(r"[a-z]+", record.cells[0][0].text.lower())
    )
    if not said & _LINKING and "{mode}" not in record.within:
        return None
    if any(_modes(record.column(at)) < 0.8 for at in (words[:1] + words[-1:])):
        return None
    if len(words) < 2 or len(record.fields) > 6:
        if "{mode}" in record.within and len(words) == 1:
            pair = {"follows": words[0]}
        else:
            return None
    else:
        pair = {"mode": words[0], "follows": words[-1]}
    if any((v := _floats(record.column(at))) is not None and max(v) > 40 for at in record.fields):
        return None
    texts = [cells[pair["follows"]].text for cells in record.cells]
    if "mode" in pair and any(
        a == b for a, b in zip(record.column(pair["mode"]), texts, strict=True)
    ):
        return None
    fields: dict[str, dict[str, Any]] = {}
    line = line_form(record, pair, fields)
    return FormGuess(
        "link", line, record.within, {}, fields, pair, record, 0.7, "lines with two modes", {}, {},
    )  # fmt: skip


#: Words by which a line says that one mode goes with another.
_LINKING = frozenset(
    "link links linked along with follow follows following together same also like join joins "
    "tied tie whenever rides copies copy mirrors mirror shadow shadows couple coupled pair ml "
    "modelink accompany accompanies as".split()
)

GUESSERS = (range_guess, channel_guess, port_guess, loss_guess, link_guess)


def form_guesses(rows: Sequence[Row]) -> list[FormGuess]:
    """Every group of lines that could be told, the surest first; no line is in two of them."""
    found: list[FormGuess] = []
    for record in records_of(rows):
        best_one: FormGuess | None = None
        for guesser in GUESSERS:
            one = guesser(record)
            if (
                one is not None
                and one.line
                and (best_one is None or one.confidence > best_one.confidence)
            ):
                best_one = one
        if best_one is not None:
            found.append(best_one)
    found = _columns_alike(found)
    # Of ranges, the kind with most lines says most, and is asked about first.
    found.sort(
        key=lambda one: (
            -0.95 if one.makes == "range" else -one.confidence,
            -len(one.record.rows),
        )
    )
    return found


def _columns_alike(found: list[FormGuess]) -> list[FormGuess]:
    """Ranges of several heads (`when`, `when all`) have the same columns: the most lines' own."""
    groups: dict[tuple[Any, ...], list[FormGuess]] = defaultdict(list)
    for one in found:
        if one.makes == "range":
            cells = one.record.cells[0]
            groups[tuple(cell.field for cell in cells)].append(one)
    turned: dict[int, FormGuess] = {}
    for members in groups.values():
        leader = max(members, key=lambda one: len(one.record.rows))
        for one in members:
            if one is leader or one.roles == leader.roles:
                continue
            roles = {
                name: at
                for name, at in leader.roles.items()
                if name in ("mode", "channel", "low", "high")
            }
            numbers = [_floats(one.record.column(roles[name])) for name in ("low", "high")]
            if any(values is None for values in numbers):
                continue
            pair = _pair(one.record, numbers[0] or [], numbers[1] or [])
            if pair is not None:
                again = _range_form(one.record, roles, pair[1], 2.0, 0.5, set())
                if again is not None and again.line:
                    turned[id(one)] = again
    return [turned.get(id(one), one) for one in found]
