"""Modes that follow another, told by their columns."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    pass
from cfglint.teach.columns import constant, literal_words, mode_share, number_columns
from cfglint.teach.forms import FormGuess, line_form
from cfglint.teach.records import Record


def link_guess(record: Record) -> FormGuess | None:
    """The record as modes that follow another, or None."""
    words = [at for at in record.fields if mode_share(record.column(at)) >= 0.6]
    literal = [at for at in words if constant(record.column(at)) and len(record.rows) > 1]
    words = [at for at in words if at not in literal[1:]]
    said = {word.lower() for word in literal_words(record)} | set(
        re.findall(r"[a-z]+", record.cells[0][0].text.lower())
    )
    if not said & _LINKING and "{mode}" not in record.within:
        return None
    if any(mode_share(record.column(at)) < 0.8 for at in (words[:1] + words[-1:])):
        return None
    if len(words) < 2 or len(record.fields) > 6:
        if "{mode}" in record.within and len(words) == 1:
            pair = {"follows": words[0]}
        else:
            return None
    else:
        pair = {"mode": words[0], "follows": words[-1]}
    if any(max(values) > 40 for values in number_columns(record).values()):
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
