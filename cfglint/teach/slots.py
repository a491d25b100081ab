"""What a dump sets by name: every name with all that is written for it, families together."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from cfglint.teach.lines import Row
    from cfglint.teach.names import Words


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
