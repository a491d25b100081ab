"""Putting changed lines into a dump."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cfglint.dialect.reading import Reader


def with_lines(reader: Reader, lines: Mapping[int, str]) -> str:
    """The whole text of a dump with some of its lines replaced; line ends stay as they are."""
    parts = re.split(r"(\r\n|\r|\n)", reader.source.text)
    for number, text in lines.items():
        parts[2 * (number - 1)] = text
    return "".join(parts)
