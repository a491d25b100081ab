"""What a dump sets by name: every name with all that is written for it, families together."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.teach.names import PROFILES, Words, fit
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.teach.lines import Row

_DIGITS = re.compile(r"\d+")


class Slot(NamedTuple):
    """A name (or a family of names with ``{N}`` in it) and the lines that set it.

    ``within`` is the form of its section, ``flag`` whether lines set it by naming it alone.
    ``numbers`` are the numbers of a family's members, row by row; empty for a single name.
    ``form`` is a whole line with ``{value}`` in it, where a name and a value are not all that
    stands there; ``values`` are then the values, row by row.
    """

    name: str
    within: str
    flag: bool
    words: Words
    rows: tuple[Row, ...]
    numbers: tuple[int, ...] = ()
    form: str = ""
    values: tuple[str, ...] = ()

    @property
    def written(self) -> list[str]:
        """What is written for it: values, or ``on`` and ``off`` of a flag that is named."""
        if self.flag:
            return [row.kind for row in self.rows]
        if self.form:
            return list(self.values)
        return [row.value for row in self.rows]

    @property
    def key(self) -> tuple[str, str]:
        return self.within, self.name

    @property
    def family(self) -> bool:
        return bool(self.numbers)

    @property
    def profiled(self) -> bool:
        return "{P}" in self.within


def section_forms(rows: Iterable[Row]) -> dict[tuple[str, ...], str]:
    """Section path → its form: ``port {N}`` where sections differ in a number alone.

    A number of a section that belongs to channels or ports is a family's, another one counts
    profiles.  Only a path's last part may have one.
    """
    paths = {row.sections for row in rows}
    alike: dict[tuple[str, ...], set[tuple[str, ...]]] = defaultdict(set)
    for path in paths:
        if path:
            skeleton = (*path[:-1], _DIGITS.sub("#", path[-1]))
            alike[skeleton].add(path)
    out: dict[tuple[str, ...], str] = {(): ""}
    inner: dict[tuple[str, ...], str] = {}
    for skeleton, members in alike.items():
        for path in members:
            text = path[-1]
            if "#" in skeleton[-1] and skeleton[-1].count("#") == 1:
                kinds = {idea for word in split(text) for idea, w in ideas(word) if w >= 0.8}
                several = len(members) >= 2
                if kinds & {"channel", "aux", "port"} and "profile" not in kinds:
                    text = _DIGITS.sub("{N}", text)
                elif several and "range" in kinds and "profile" not in kinds:
                    text = _DIGITS.sub("{mode}", text)
                elif several or "profile" in kinds:
                    text = _DIGITS.sub("{P}", text)
            inner[path] = text
    for path, text in inner.items():
        above = [inner.get(path[:n], path[n - 1]) for n in range(1, len(path))]
        # Two numbers on one path would need two letters.
        above = [part if "{" not in part else path[at] for at, part in enumerate(above)]
        out[path] = "/".join([*above, text])
    return out


def _skeletons(name: str) -> list[tuple[str, int]]:
    """The name with one of its numbers taken out, for each of them.

    A number for a name is one of many that have nothing in common, and none of a family.
    """
    if name.isdigit():
        return []
    return [
        (f"{name[: match.start()]}{{N}}{name[match.end() :]}", int(match.group()))
        for match in _DIGITS.finditer(name)
        if len(match.group()) <= 2
    ]


def slots_of(rows: Sequence[Row]) -> list[Slot]:
    """The slots of all rows that set something by name."""
    homes = section_forms(rows)
    if not any(row.kind == "section_end" for row in rows):
        rows = [_sufficient(row, homes) for row in rows]
    single: dict[tuple[str, str, bool], list[Row]] = defaultdict(list)
    for row in rows:
        if row.kind in ("assignment", "on", "off"):
            single[homes[row.sections], row.name, row.kind != "assignment"].append(row)
    families: dict[tuple[str, str, bool], set[int]] = defaultdict(set)
    stems: dict[str, set[int]] = defaultdict(set)
    for within, name, flag in single:
        for skeleton, number in _skeletons(name):
            families[within, skeleton, flag].add(number)
            stems[skeleton[: skeleton.index("{N}")]].add(number)
    grouped: dict[tuple[str, str, bool], list[tuple[int | None, Row]]] = defaultdict(list)
    for (within, name, flag), members in single.items():
        best: tuple[int, str, int] | None = None
        for skeleton, number in _skeletons(name) if "{" not in within else ():
            size = len(families[within, skeleton, flag])
            stem = skeleton[: skeleton.index("{N}")]
            # One member alone is of a family if its beginning is: `port2_flip` beside
            # `port2_use` and `port3_use`.
            if size < 2 and not (len(stems[stem]) >= 2 and re.search(r"[A-Za-z]", stem)):
                continue
            if best is None or size > best[0]:
                best = (size, skeleton, number)
        key = (within, best[1] if best else name, flag)
        grouped[key].extend((best[2] if best else None, row) for row in members)
    out = []
    for (within, name, flag), pairs in grouped.items():
        mine = tuple(row for _, row in pairs)
        numbers = tuple(number for number, _ in pairs if number is not None)
        if "{N}" in within and not numbers:
            numbers = tuple(_number_in(row.sections[-1]) for row in mine)
        title = " ".join(mine[0].sections)
        words = Words(
            tuple(word for word in split(name.replace("{N}", " ")) if not word.isdigit()),
            tuple(word for word in split(title) if not word.isdigit()),
            tuple(word for word in split(mine[0].heading) if not word.isdigit()),
        )
        out.append(Slot(name, within, flag, words, mine, numbers))
    return out


def _sufficient(row: Row, homes: dict[tuple[str, ...], str]) -> Row:
    """The row, out of its section where its name says all by itself.

    Where sections never end, what belongs in none may follow any of them.
    """
    if not row.sections or row.kind not in ("assignment", "on", "off"):
        return row
    if "{" in homes[row.sections] and not _DIGITS.search(row.name):
        return row  # one of a numbered section's own
    own = Words(tuple(word for word in split(row.name) if not word.isdigit()))
    if max(fit(profile, own).score for profile in PROFILES) < 0.8:
        return row
    return row._replace(sections=())


def _number_in(title: str) -> int:
    match = _DIGITS.search(title)
    return int(match.group()) if match else 0


_SIMPLE = re.compile(
    r"[+-]?\d+(?:\.\d+)?|\"[^\"]*\"|'[^']*'|[A-Za-z_][\w.\-+]*(?:\s?[,/+|;&]\s?[A-Za-z_][\w.\-]*)*|(?!\d+(?:\.\d+)?[A-Za-zµ]{1,5}$)\d[\w.\-]*"
)
_SPOT = re.compile(r"(?<![\w.\-])[+-]?\d+(?:\.\d+)?|(?<![\w])[A-Za-z][\w]*(?:[\-][A-Za-z0-9]+)*")


def line_slots(rows: Sequence[Row], homes: dict[tuple[str, ...], str]) -> list[Slot]:
    """Slots of lines that are more than a name and a value: sentences, units, columns.

    Every number of such a line, and every word that is known as a value, may be what it sets;
    the rest of the line is its name.
    """
    from cfglint.dump.forms import mistake

    found: dict[tuple[str, str], list[tuple[Row, str, tuple[str, ...]]]] = defaultdict(list)
    alike = Counter(
        (
            row.file,
            row.sections,
            _DIGITS.sub("#", row.text).split(" ")[0],
            re.sub(r"\w+", "w", row.text),
        )
        for row in rows
        if row.kind == "command"
    )
    for row in rows:
        key = (
            row.file,
            row.sections,
            _DIGITS.sub("#", row.text).split(" ")[0],
            re.sub(r"\w+", "w", row.text),
        )
        if row.kind == "command" and alike[key] >= 3:
            continue  # one of a table
        if row.kind == "command":
            start = 0
        elif row.kind == "assignment" and not _SIMPLE.fullmatch(row.value):
            start = row.text.rindex(row.value)
        else:
            continue
        if len(row.text.split()) > 16 or "{" in row.text:
            continue
        for place, (first, last) in enumerate(_spots(row.text, start, row.kind == "command")):
            if row.kind == "assignment" and place:
                break
            value = row.text[first:last]
            form = re.sub(r"\s+", " ", f"{row.text[:first]}{{value}}{row.text[last:]}")
            if mistake(form) or not re.search(r"[A-Za-z]", form.replace("{value}", "")):
                continue
            # `8k` is written where a unit goes without saying.
            after = ("khz",) if row.text[last:] == "k" else split(row.text[last:])
            around = (*split(row.text[:first]), *after)
            found[homes[row.sections], form].append((row, value, around))
    out = []
    for (within, form), members in found.items():
        if "{" in within:
            continue
        row = members[0][0]
        words = Words(
            tuple(word for word in members[0][2] if not word.isdigit()),
            tuple(word for word in split(" ".join(row.sections)) if not word.isdigit()),
            tuple(word for word in split(row.heading) if not word.isdigit()),
        )
        out.append(
            Slot(
                form,
                within,
                False,
                words,
                tuple(r for r, _, _ in members),
                (),
                form,
                tuple(value for _, value, _ in members),
            )
        )
    return out


def _spots(text: str, start: int, sentence: bool) -> list[tuple[int, int]]:
    """Where values may stand in a line, likeliest first: known words and numbers, late first."""
    from cfglint.teach.meanings import YES_NO, best

    numbers, words = [], []
    for match in _SPOT.finditer(text, start):
        first, last = match.span()
        piece = match.group()
        if piece[0].isdigit() or piece[0] in "+-":
            numbers.append((first, last))
            continue
        known = any(
            best(table, piece)[1] >= (0.9 if sentence else 0.75)
            for table in ("motor.signal", "receiver.link", "battery.chemistry", "failsafe.action")
        ) or any(piece.lower() in pair for pair in YES_NO)
        order = bool(re.fullmatch(r"[AETR]{4}\d*", piece))
        if known or order:
            words.append((first, last))
    if not sentence:
        return sorted([*numbers, *words])[:1]
    return [*reversed(words), *reversed(numbers)][:4]
