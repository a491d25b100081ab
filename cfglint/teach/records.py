"""Lines of several fields, those that are alike together.

A channel's ends, a port and its load, a mode's range: such lines are alike but for their fields,
and what stands in a column over all of them says what it is (:mod:`cfglint.teach.columns`).
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from cfglint.record import NamedTuple
from cfglint.teach.meanings import best
from cfglint.teach.slots import section_forms

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.teach.lines import Row
from cfglint.teach.cells import (
    Cell,
    about_ranges,
    cells_of,
    count_numbers,
    mode_parts,
    range_prefixes,
)
from cfglint.teach.headers import comments_above, header_of
from cfglint.teach.words import ideas_of


class Record(NamedTuple):
    """Lines that are alike: their cells, row by row, equally many in each.

    ``header`` is what a comment above says of the columns (:mod:`cfglint.teach.headers`).
    """

    rows: tuple[Row, ...]
    cells: tuple[tuple[Cell, ...], ...]
    within: str
    head: tuple[str, ...]
    header: Mapping[int, frozenset[str]] = {}

    def column(self, at: int) -> list[str]:
        return [cells[at].text for cells in self.cells]

    @property
    def fields(self) -> list[int]:
        return [at for at, cell in enumerate(self.cells[0]) if cell.field]


#: Lines with their cells; and these by home, marks between their cells, and head.
_Pairs = list[tuple["Row", tuple[Cell, ...]]]
_Found = dict[tuple[Any, ...], _Pairs]


def records_of(rows: Sequence[Row]) -> list[Record]:
    """Groups of alike lines that have several fields, those with most lines first."""
    homes = section_forms(rows)
    # Where sections never end, a line of a table stands in whatever section came before it.
    flat = not any(row.kind == "section_end" for row in rows)
    skeletons = frozenset(
        form for path in homes if path and "{mode}" in (form := _modeless(path, homes[path]))
    )
    found: _Found = defaultdict(list)
    cut = [(row, cells_of(row.text)) for row in rows if row.kind in ("assignment", "command")]
    prefixes = range_prefixes(cells for _, cells in cut)
    for row, whole in cut:
        cells = tuple(mode_parts(whole, prefixes))
        fields = [cell.text for cell in cells if cell.field]
        if not 2 <= len(fields) <= 14:
            continue
        home = homes[row.sections]
        if "{" not in home:
            home = _modeless(row.sections, home, skeletons)
        found[home, _marks(cells), _head(cells, row)].append((row, cells))
    found = _titled_by_modes(found)
    found = _by_attribute(_joined(_homeless(found) if flat else found))
    above = comments_above(rows)
    out = []
    for (home, _, head), pairs in found.items():
        per_file = {(row.file, row.sections) for row, _ in pairs}
        alone = len(per_file) == len({file for file, _ in per_file})
        # A whole table under one number is not that number's.
        within = (
            "" if flat and alone and len(pairs) > 1 and ("{N}" in home or "{P}" in home) else home
        )
        first, cells = pairs[0]
        header = header_of(cells, above.get((first.file, first.number), ()))
        out.append(
            Record(
                tuple(row for row, _ in pairs),
                tuple(cells for _, cells in pairs),
                within,
                head,
                header,
            )
        )
    out.sort(key=lambda record: -len(record.rows))
    return out


def _marks(cells: Sequence[Cell]) -> tuple[str, ...]:
    """What stands between the fields of a line; a null for each of these."""
    return tuple("\0" if cell.field else cell.text for cell in cells)


def _joined(found: _Found) -> _Found:
    """Lines that are like many others but for a word that was cut (`keep0`), among these."""
    out: _Found = defaultdict(list)
    for key, pairs in sorted(found.items(), key=lambda item: -len(item[1])):
        home, _, head = key
        for row, cells in pairs:
            whole = _whole(cells)
            like = (home, _marks(whole), head)
            if like != key and len(found.get(like, ())) > len(pairs):
                out[like].append((row, whole))
            else:
                out[key].append((row, cells))
    _strange_modes(out)
    for pairs in out.values():
        pairs.sort(key=lambda pair: (pair[0].file, pair[0].number))
    return out


def _by_attribute(found: _Found) -> _Found:
    """Numbered lines of which a word says what they are about (`port[2].use`), word by word."""
    out: _Found = defaultdict(list)
    for (home, marks, head), pairs in found.items():
        at = _attribute(pairs)
        for row, cells in pairs:
            word = (cells[at].text.lower(),) if at >= 0 else ()
            out[home, marks, (*head, *word)].append((row, cells))
    return out


def _attribute(pairs: _Pairs) -> int:
    """The column whose words come again for each number of another; -1 for none."""
    size = len(pairs[0][1])
    for at in range(size):
        words = Counter((row.file, cells[at].text.lower()) for row, cells in pairs)
        distinct = {word for _, word in words}
        if not 2 <= len(distinct) <= 6 or min(words.values()) < 2:
            continue
        if not all(re.match(r"[a-z]", word) for word in distinct):
            continue
        for number in range(at):
            texts = [(row.file, cells[number].text) for row, cells in pairs]
            if not all(text.isdigit() and len(text) <= 2 for _, text in texts):
                continue
            parts = zip(texts, pairs, strict=True)
            apart = {(*text, cells[at].text.lower()) for text, (_, cells) in parts}
            if len(apart) == len(pairs) and len(set(texts)) < len(pairs):
                return at
    return -1


def _strange_modes(found: _Found) -> None:
    """Put lines that are like those of modes, but for a word that nobody knows, among these."""
    for key in list(found):
        home, marks, head = key
        if "{mode}" in head or count_numbers(found[key][0][1]) < 3:
            continue
        for at in range(len(head)):
            like = (home, marks, (*head[:at], "{mode}", *head[at + 1 :]))
            others = found.get(like, [])
            if len(others) > max(2, len(found[key])) and _worded_alike(found[key], others):
                found[like].extend(found.pop(key))
                break


def _worded_alike(few: _Pairs, many: _Pairs) -> bool:
    """Whether all words that many lines share stand in a few others as well."""
    size = len(many[0][1])
    columns = [{cells[at].text for _, cells in many} for at in range(size)]
    return all(
        len(texts) > 1 or all(cells[at].text in texts for _, cells in few)
        for at, texts in enumerate(columns)
    )


def _whole(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """The cells with words and numbers joined again that nothing stands between."""
    out: list[Cell] = []
    at = 0
    while at < len(cells):
        cell = cells[at]
        if not cell.field and not cell.text and out and at + 1 < len(cells):
            out[-1] = Cell(out[-1].text + cells[at + 1].text, True)
            at += 2
            continue
        out.append(cell)
        at += 1
    return tuple(out)


def _titled_by_modes(found: _Found) -> _Found:
    """Lines that are alike in sections beside one another, whose titles are modes, as one table.

    Of titles of several words one tells the mode, and the others are the same in all.
    """
    beside: dict[tuple[Any, ...], set[str]] = defaultdict(set)
    for (home, marks, head), pairs in found.items():
        for parent, form, word in _title_forms(home) if count_numbers(pairs[0][1]) >= 3 else ():
            beside[parent, form, marks, head].add(word)
    out: _Found = defaultdict(list)
    for (home, marks, head), pairs in found.items():
        best_home, most = home, 0
        for parent, form, word in _title_forms(home):
            words = beside.get((parent, form, marks, head), set())
            known = sum(best("mode", one)[1] >= 0.75 for one in words)
            if word in words and len(words) >= 3 and known > max(most, 0.3 * len(words)):
                best_home = f"{parent}/{form}" if parent else form
                most = known
        out[best_home, marks, head].extend(pairs)
    return out


def _homeless(found: _Found) -> _Found:
    """The lines out of sections that never end, but for those that only their section explains."""
    out: _Found = defaultdict(list)
    for (home, marks, head), pairs in found.items():
        row = pairs[0][0]
        keep = "{" in home or (row.name.isdigit() and row.kind == "assignment")
        out[home if keep else "", marks, head].extend(pairs)
    for pairs in out.values():
        pairs.sort(key=lambda pair: (pair[0].file, pair[0].number))
    return out


def _title_forms(home: str) -> list[tuple[str, str, str]]:
    """What stands above a section, its title with one word taken out for a mode's, that word."""
    parent, _, title = home.rpartition("/")
    words = title.split()
    if not title or "{" in home or len(words) > 4:
        return []
    return [
        (parent, " ".join([*words[:at], "{mode}", *words[at + 1 :]]), word)
        for at, word in enumerate(words)
    ]


def _modeless(sections: tuple[str, ...], home: str, skeletons: frozenset[str] = frozenset()) -> str:
    """A section's form with a mode's word in its title taken out: ``when {mode}``."""
    if not sections:
        return home
    words = sections[-1].split()
    forms = [
        "/".join([*sections[:-1], " ".join([*words[:at], "{mode}", *words[at + 1 :]])])
        for at in range(len(words))
    ]
    for at, (word, form) in enumerate(zip(words, forms, strict=True)):
        outer = [*words[:at], *words[at + 1 :]]
        mode, weight = best("mode", word)
        if "." in word or (mode == "lost-link" and "channel" in ideas_of(outer)):
            continue  # what channels do on loss
        if weight >= 0.75 and any(map(about_ranges, outer)):
            return form
    # A word that nobody knows, in a title that is like those of modes.
    return next((form for form in forms if form in skeletons), home)


def _head(cells: Sequence[Cell], row: Row) -> tuple[str, ...]:
    """What a line begins with, in a form that alike lines share.

    An assignment's verb stands before its name, which says more.
    """
    words = [cell.text for cell in cells if cell.field][:2]
    if row.kind != "assignment" or row.text.startswith((row.name, '"')):
        words = words[:1]
    return tuple(
        "{mode}" if best("mode", word)[1] >= 0.75 else "{N}" if word.isdigit() else word.lower()
        for word in words
    )
