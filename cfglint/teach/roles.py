"""Families of rows whose fields are told apart by what they can be, in whatever order they stand.

What a column is, is decided by its values over all rows of all samples, by the key before it or
the name above it; a legend explains codes.
"""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, NamedTuple

from cfglint.teach.codes import bit_numbers
from cfglint.teach.families import Expect, Item, Line, _rows_item, clean, template
from cfglint.teach.grids import FIGURE, Cell, Grid, cells_of, grids, shared_start
from cfglint.teach.measures import PLAIN, Measure, Numbers, likeliest
from cfglint.teach.readings import loss_meaning
from cfglint.teach.sense import best, english, is_nothing, phrase
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.dump.layout import Row
    from cfglint.teach.codes import Legend


#: A code as a column may hold it, and one that is a single bit.
_CODED = re.compile(r"\d+|0[xX][0-9A-Fa-f]+|[0-9A-F]{2,8}h?")
_MASK = re.compile(r"(?:0[xX])?0*(?:[1248]0*|16|32|64|128|256|512|1024|2048|4096)")


class Known(NamedTuple):
    """What a column's codes mean: words of neutral meaning, or bits."""

    keys: dict[str, Any]
    unsure: tuple[str, ...]
    score: float


def _figures(texts: Sequence[str]) -> list[float]:
    if not texts or not all(FIGURE.fullmatch(text) for text in texts):
        return []
    return [float(text.replace("\u2212", "-").replace(",", ".")) for text in texts]


def _ideas(name: str) -> set[str]:
    return {idea for word in split(english(name)) for idea, sure in ideas(word) if sure >= 0.75}


def coded(table: str, texts: Sequence[str], name: str, legends: Sequence[Legend]) -> Known | None:
    """What codes or words of a column mean, by themselves or by the legend that fits them best."""
    texts = list(dict.fromkeys(texts))
    if not texts:
        return None
    found: list[Known] = []
    if not all(text.isdigit() for text in texts):
        words: dict[str, Any] = {}
        unsure = []
        good = 0.0
        lead = _lead(texts)
        for text in texts:
            word, weight = best(table, text.strip('"'))
            if weight < 0.5 and lead:
                word, weight = best(table, text[len(lead) :])
            good += weight >= 0.5
            if weight >= 0.5:
                words.setdefault(word, []).append(text)
                if weight < 0.85:
                    unsure.append(word)
        if good:
            found.append(Known({"words": words}, tuple(unsure), good / len(texts)))
    for legend in legends:
        known = _by_legend(table, texts, name, legend)
        if known is not None:
            found.append(known)
    return max(found, key=lambda one: one.score, default=None)


def _by_legend(table: str, texts: Sequence[str], name: str, legend: Legend) -> Known | None:
    bits = legend.bits or (
        all(_MASK.fullmatch(code.removesuffix("h")) for code in legend.codes)
        and len(legend.codes) > 3
    )
    said = {code: phrase(table, english(text)) for code, text in legend.codes.items()}
    known = {code for code, (_, weight) in said.items() if weight >= 0.5}
    nothing = {code for code, text in legend.codes.items() if is_nothing(text)}
    if len(known) < 2 or len(known | nothing) < 0.6 * len(legend.codes):
        return None
    share = len(known) / len(legend.codes)
    if legend.label and set(split(legend.label)) & set(split(name)):
        share += 0.5
    base = 10 if all(text.isdigit() and text == str(int(text)) for text in texts) else 16
    if bits and table == "port.N.functions" and all(_CODED.fullmatch(text) for text in texts):
        places = bit_numbers(legend, base)
        numbers = {
            best_: bit for bit, text in places.items() if (best_ := phrase(table, english(text))[0])
        }
        whole = sum(1 << bit for bit in places if bit < 32)
        if all(int(text.removesuffix("h"), base) & ~whole == 0 for text in texts):
            return Known({"bits": numbers, **({"base": 16} if base == 16 else {})}, (), share)
        return None
    if not set(texts) <= set(legend.codes):
        return None
    words: dict[str, Any] = {}
    unsure = []
    for code, (word, weight) in said.items():
        if code in known and code in texts:
            words.setdefault(word, []).append(code)
            if weight < 0.8:
                unsure.append(word)
    keys: dict[str, Any] = {"words": words}
    none = [code for code in nothing if code in texts]
    if none:
        keys["none"] = none if len(none) > 1 else none[0]
    return Known(keys, tuple(unsure), share)


def short(keys: dict[str, Any]) -> dict[str, Any]:
    """Lists of one word as that word."""
    words = keys.get("words")
    if words is None:
        return keys
    return {
        **keys,
        "words": {w: e[0] if isinstance(e, list) and len(e) == 1 else e for w, e in words.items()},
    }


def _index(grid: Grid, column: str) -> int | None:
    """What a column counts rows from, 0 or 1; None where it does not count them."""
    for base in (0, 1):
        good = True
        for sample in {line.sample for line, _ in grid.rows}:
            own = [cells[column].text for line, cells in grid.rows if line.sample == sample]
            figures = _figures(own)
            good = (
                good
                and bool(figures)
                and figures == sorted(set(figures))
                and (figures[0] == base and figures[-1] <= len(figures) + base + 1)
            )
        if good:
            return base
    return None


class Decided(NamedTuple):
    items: list[Item]
    taken: set[tuple[int, int]]
    modes: list[str]
    #: Mode codes with what a legend says they mean, and whether it is sure.
    coded: dict[str, tuple[str, bool]]


def role_rows(
    lines: Sequence[Line],
    rows: Sequence[tuple[int, Row]],
    legends: Sequence[Legend],
    first_channel: int,
    measures: Sequence[Measure] = (PLAIN,),
    *,
    early: bool = False,
) -> Decided:
    """Families of channel ends by what columns can be, and ranges under titles that are modes.

    ``early`` finds only what other ways to find families would take half of: channel ends that
    say what becomes of the channel on lost link.
    """
    out = Decided([], set(), [], {})
    first = first_channel
    for grid in sorted(grids(lines, rows), key=lambda one: not _ends(one)):
        made = _channels(grid, legends, len(out.items))
        if made is None or (early and "loss" not in made.forms[0].get("sets", {})):
            continue
        if "first" in made.forms[0].get("fields", {}).get("N", {}):
            first = 0
        out.items.append(made)
        out.taken.update((one.sample, one.line) for one in made.expects)
    if not early:
        left = [line for line in lines if (line.sample, line.row.line) not in out.taken]
        titled_ranges(left, first, measures, out)
    return out


def _ends(grid: Grid) -> dict[str, str]:
    """The columns of a channel's low end, centre and high end."""
    pulses = [
        (sum(figures) / len(figures), column)
        for column in grid.names
        if (figures := _figures(grid.column(column))) and all(700 <= one <= 2300 for one in figures)
    ]
    pulses.sort()
    if len(pulses) != 3:
        return {}
    (low, one), (mid, two), (high, three) = pulses
    ordered = all(
        float(cells[one].text) < float(cells[two].text) < float(cells[three].text)
        for _, cells in grid.rows
    )
    if not ordered or not (low < 1340 and 1280 < mid < 1720 and high > 1660):
        return {}
    return {"low": one, "mid": two, "high": three}


def _made(
    name: str,
    grid: Grid,
    roles: dict[str, str],
    sets: dict[str, str],
    fields: dict[str, Any],
    expects: Sequence[Expect],
    reason: str,
    **more: Any,
) -> Item:
    """The entry for a grid's rows: the columns that have a role, and anything for the others."""
    at = []
    for line, cells in grid.rows:
        spans = []
        placed = {column: role for role, column in roles.items()}
        other = 0
        for column, cell in cells.items():
            if column in placed:
                spans.append((cell.start, cell.end, placed[column]))
            elif column in grid.names:
                spans.append((cell.start, cell.end, "_"))
                other += 1
        at.append(template(line.text, spans))
    return _rows_item(
        name, grid.rows[0][0].path, list(dict.fromkeys(at)), sets, fields, expects, reason, **more
    )


def _lost(texts: Sequence[str], legends: Sequence[Legend]) -> dict[str, Any] | None:
    """How a column says what channels become on lost link; None where it does not."""
    if _figures(texts) and not any(700 <= one <= 2300 for one in _figures(texts)):
        return None
    words: dict[str, list[str]] = defaultdict(list)
    left = []
    for text in dict.fromkeys(texts):
        if _figures([text]) and 700 <= _figures([text])[0] <= 2300:
            continue
        word = loss_meaning(text)[0]
        for legend in legends:
            if text in legend.codes and loss_meaning(legend.codes[text])[0]:
                word = loss_meaning(legend.codes[text])[0]
        if word:
            words[word].append(text)
        else:
            left.append(text)
    if not words and not any(_figures([text]) for text in texts):
        return None
    keys: dict[str, Any] = {
        "words": {word: one[0] if len(one) == 1 else one for word, one in words.items()}
    }
    missing = [word for word in ("hold", "drop") if word not in words]
    if len(left) > len(missing):
        return None
    # Most channels keep what they had: of two codes that nothing explains a guess.
    left.sort(key=lambda text: -texts.count(text))
    for word, text in zip(missing, left, strict=False):
        keys["words"][word] = text
        keys.setdefault("unsure", []).append(word)
    return keys if keys["words"] else {}


def _number(cell: Cell, base: int) -> int:
    return int(cell.text) + 1 - base


def _channels(grid: Grid, legends: Sequence[Legend], count: int) -> Item | None:
    ends = _ends(grid)
    if not ends:
        return None
    counted = next(((c, base) for c in grid.names if (base := _index(grid, c)) is not None), None)
    if counted is None:
        return None
    roles = {"N": counted[0], **ends}
    fields: dict[str, Any] = {"N": {"first": 0}} if counted[1] == 0 else {}
    sets = {role: f"channel.N.{role}_us" for role in ends}
    for column in grid.names:
        if column in roles.values():
            continue
        lost = _lost(grid.column(column), legends)
        if lost is not None:
            roles["loss"] = column
            sets["loss"] = "failsafe.channel.N"
            if lost:
                fields["loss"] = lost
            break
    expects = _expected(grid, roles, sets, counted[1])
    return _made(
        f"channels-r{count}", grid, roles, sets, fields, expects,
        f"{len(grid.rows)} rows with a number and three pulses",
    )  # fmt: skip


def _expected(
    grid: Grid, roles: Mapping[str, str], sets: Mapping[str, str], base: int
) -> list[Expect]:
    """What each row of a family must read as, a column at a time; a port that carries nothing
    sets nothing.
    """
    return [
        Expect(
            line.sample,
            name.replace("N", str(_number(cells[roles["N"]], base)), 1),
            line.row.line,
            cells[roles[role]].text,
        )
        for line, cells in grid.rows
        for role, name in sets.items()
        if not (role == "functions" and is_nothing(cells[roles[role]].text))
    ]


def _lead(texts: Sequence[str]) -> str:
    """What all of the words begin with, as `use` in `usebuzz` and `useglow`."""
    lead = shared_start(list(dict.fromkeys(texts)))
    return lead if len(lead) >= 2 and len(set(texts)) >= 3 else ""


def titled_ranges(
    lines: Sequence[Line], first: int, measures: Sequence[Measure], out: Decided
) -> None:
    """Rows with a channel and two ends under titles that are modes."""
    groups: dict[tuple[tuple[str, ...], str], list[tuple[Line, list[Cell]]]] = defaultdict(list)
    for line in lines:
        cells = [cell for cell in cells_of(line.text) if FIGURE.fullmatch(cell.text)]
        if line.path and len(cells) == 3 and re.fullmatch(r"\d{1,2}", cells[0].text):
            half = "±" in line.text[cells[1].end : cells[2].start]
            shape = re.sub(r"\d+", "#", re.sub(r"[+\-\u2212](?=\d)", "", line.text))
            groups[line.path[:-1], f"{half:d}{shape}"].append((line, cells))
    for (parents, shape), rows in groups.items():
        half = shape[0] == "1"
        low, high = (
            Numbers(tuple(_figures([cells[n].text for _, cells in rows])), 10) for n in (1, 2)
        )
        measure = likeliest(low, high, measures, half=half)
        small = [int(cells[0].text) for _, cells in rows]
        if measure is None or max(small) > 18:
            continue
        names = ("channel", "centre", "half") if half else ("channel", "low", "high")
        group = [(line, dict(zip(names, cells, strict=True))) for line, cells in rows]
        titles = list(dict.fromkeys(line.path[-1] for line, _ in group))
        lead = _first_words(titles)
        modes = [title[len(lead) :].strip() for title in titles]
        known = sum(phrase("mode", english(mode))[1] >= 0.5 for mode in modes)
        if len(modes) < 3 or known < 0.4 * len(modes):
            continue
        least = min(small)
        fields: dict[str, Any] = {
            name: keys
            for name, keys in zip(names[1:], (measure.keys(), measure.keys(half=half)), strict=True)
            if keys
        }
        more: dict[str, Any] = {"makes": "range"}
        if least < 5:
            fields["channel"] = {"first": 0 if least == 4 and first == 0 else least - 4}
            more["sure"] = least == 4 and first == 0
        if measure != PLAIN:
            more["sure"] = False
        texts = [
            template(line.text, [(cell.start, cell.end, role) for role, cell in cells.items()])
            for line, cells in group
        ]
        head = " ".join(part for part in (clean(lead), "{mode}") if part)
        at = list(dict.fromkeys(f"{head} > {text}" for text in texts))
        above = [f"{clean(parents[-1])} > {one}" for one in at] if parents else at
        expects = tuple(Expect(line.sample, "range", line.row.line, line.text) for line, _ in group)
        forms = tuple(
            {
                "at": one[0] if len(one) == 1 else one,
                **more,
                **({"fields": fields} if fields else {}),
            }
            for one in (at, above)
        )
        reason = f"{len(group)} rows with a channel and two ends under titles that are modes"
        out.items.append(Item(f"ranges-t{len(out.items)}", "", forms, expects, reason))
        out.taken.update((line.sample, line.row.line) for line, _ in group)
        out.modes.extend(modes)


def _first_words(titles: Sequence[str]) -> str:
    """The words that all titles begin with."""
    lead = shared_start([f"{title} " for title in titles])
    return lead[: lead.rfind(" ") + 1] if len(titles) > 1 else ""


__all__ = ["Decided", "role_rows"]
