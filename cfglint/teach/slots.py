"""What a dump sets by name: every name with all that is written for it, families together."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING

from cfglint.record import NamedTuple
from cfglint.teach.names import Words
from cfglint.teach.words import ideas, split

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cfglint.teach.shape import Row

_DIGITS = re.compile(r"\d+")


class Slot(NamedTuple):
    """A name (or a family of names with ``{N}`` in it) and the lines that set it.

    ``within`` is the form of its section, ``flag`` whether lines set it by naming it alone.
    ``numbers`` are the numbers of a family's members, row by row; empty for a single name.
    """

    name: str
    within: str
    flag: bool
    words: Words
    rows: tuple[Row, ...]
    numbers: tuple[int, ...] = ()

    @property
    def written(self) -> list[str]:
        """What is written for it: values, or ``on`` and ``off`` of a flag that is named."""
        if self.flag:
            return [row.kind for row in self.rows]
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
    """The name with one of its numbers taken out, for each of them."""
    out = []
    for match in _DIGITS.finditer(name):
        if len(match.group()) <= 2:
            out.append((f"{name[: match.start()]}{{N}}{name[match.end() :]}", int(match.group())))
    return out


def slots_of(rows: Sequence[Row]) -> list[Slot]:
    """The slots of all rows that set something by name."""
    homes = section_forms(rows)
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
        for skeleton, number in _skeletons(name):
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


def _number_in(title: str) -> int:
    match = _DIGITS.search(title)
    return int(match.group()) if match else 0
