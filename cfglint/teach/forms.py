"""A line form for alike lines, and how sure it is."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from cfglint.dump.forms import mistake
from cfglint.record import NamedTuple

if TYPE_CHECKING:
    pass
from cfglint.teach.columns import constant
from cfglint.teach.records import Record


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
        elif not cell.field or constant(record.column(at)):
            out.append(cell.text)
        else:
            extra += 1
            field = f"other{extra}"
            out.append("{" + field + "}")
            common = Counter(record.column(at)).most_common(1)[0][0]
            spare[field] = {"none": common}
    form = "".join(out)
    return "" if mistake(form) else form
