"""What stands in a column of alike lines."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.teach.meanings import best

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.teach.lines import Row
from cfglint.teach.records import Record
from cfglint.teach.words import ideas_of


def number_columns(record: Record) -> dict[int, list[float]]:
    """The fields that hold numbers in every line, with these."""
    columns = ((at, plain_numbers(record.column(at))) for at in record.fields)
    return {at: values for at, values in columns if values is not None}


def whole_numbers(texts: Sequence[str]) -> list[int] | None:
    return (
        [int(text) for text in texts]
        if all(re.fullmatch(r"\d{1,5}", text) for text in texts)
        else None
    )


def plain_numbers(texts: Sequence[str]) -> list[float] | None:
    return (
        [float(t) for t in texts]
        if all(re.fullmatch(r"-?\d+(?:\.\d+)?", t) for t in texts)
        else None
    )


def index_of(record: Record, at: int, most: int = 32) -> dict[str, Any] | None:
    """How a column counts its lines: codec keys, or None where it does not count them."""
    texts = record.column(at)
    # Once in a sample; several samples number their lines alike.
    places = {(row.file, text) for row, text in zip(record.rows, texts, strict=True)}
    if len(places) != len(texts):
        return None
    ints = whole_numbers(texts)
    if ints is not None:
        return None if max(ints) > most else {"base": 0} if min(ints) == 0 else {}
    if all(re.fullmatch(r"[A-Z]|[a-z]", text) for text in texts) and len(set(texts)) > 1:
        first = ord("A" if texts[0].isupper() else "a")
        return {"values": {str(n + 1): chr(first + n) for n in range(26)}}
    return None


def from_one(record: Record, at: int) -> bool:
    """Whether a column has every number from 1 on: with one left out, the first may be as well."""
    numbers = set(whole_numbers(record.column(at)) or ())
    return numbers == set(range(1, len(numbers) + 1))


def constant(texts: Sequence[str]) -> bool:
    return len(set(texts)) == 1


def wordy(texts: Sequence[str]) -> bool:
    return all(re.match(r"[A-Za-z_]", text) for text in texts)


def mode_share(texts: Sequence[str]) -> float:
    """How surely a column's words are modes."""
    if not wordy(texts):
        return 0.0
    distinct = list(dict.fromkeys(texts))
    weights = [best("mode", text)[1] for text in distinct]
    return sum(weights) / len(weights)


def word_before(record: Record, at: int) -> str:
    """The literal word before a field, small."""
    for back in range(at - 1, -1, -1):
        cell = record.cells[0][back]
        if cell.field and wordy([cell.text]) and constant(record.column(back)):
            return cell.text.lower()
        if cell.field:
            return ""
    return ""


def number_of(row: Row) -> int:
    """The number in a row's section title."""
    match = re.search(r"\d+", row.sections[-1]) if row.sections else None
    return int(match.group()) if match else -1


def about_of(record: Record) -> set[str]:
    """What a table speaks of: its literal words, its section, and the heads of its columns."""
    heads: set[str] = set().union(*record.header.values())
    if heads & {"baud"} and heads & {"functions", "invert", "one-wire", "port"}:
        heads |= {"port"}
    kinds = {"channel", "port", "aux", "failsafe", "range"}
    about = ideas_of(literal_words(record)) | heads & kinds
    if not about & kinds:
        about |= ideas_of(record.rows[0].heading.split()) & kinds
    return about


def headed(record: Record, at: int, *wanted: str) -> bool:
    """Whether a column's head speaks of one of some ideas."""
    return bool(record.header.get(at, frozenset()) & set(wanted))


def literal_words(record: Record) -> list[str]:
    """Words that stand in every line, and those of the section."""
    out = [
        record.cells[0][at].text
        for at in record.fields
        if wordy(record.column(at)) and constant(record.column(at))
    ]
    return [
        *out,
        *re.findall(
            r"[A-Za-z]+", record.within.replace("{mode}", "").replace("{N}", "").replace("{P}", "")
        ),
    ]
