"""Lines of a dump that know which of their pieces says what."""

from __future__ import annotations

from typing import Any, NamedTuple


class Mark(NamedTuple):
    """A piece of a line that holds facts: a setting's name and value, ``range`` or ``link``."""

    text: str
    facts: tuple[tuple[str, Any], ...] = ()


Piece = str | Mark
Text = list[Piece]


def text(*parts: Piece | Text) -> Text:
    """One text of all that is given."""
    out: Text = []
    for part in parts:
        if isinstance(part, list):
            out.extend(part)
        else:
            out.append(part)
    return out


def plain(line: Text) -> str:
    return "".join(piece if isinstance(piece, str) else piece.text for piece in line)


def pad(line: Text, width: int, *, right: bool = False) -> Text:
    """A text filled with blanks to a width."""
    blanks = " " * (width - len(plain(line)))
    return text(blanks, line) if right else text(line, blanks)


def joined(parts: list[Text], glue: str) -> Text:
    out: Text = []
    for place, part in enumerate(parts):
        out.extend(text(glue, part) if place else part)
    return out


class Page:
    """A dump while it is written."""

    def __init__(self) -> None:
        self.lines: list[Text] = []

    def add(self, *parts: Piece | Text) -> None:
        self.lines.append(text(*parts))

    def dump(self) -> str:
        return "".join(plain(line).rstrip() + "\n" for line in self.lines)

    def truth(self) -> dict[str, Any]:
        """What the lines say, in the form of a truth file."""
        settings: dict[str, Any] = {}
        lists: dict[str, list[Any]] = {"range": [], "link": []}
        for number, line in enumerate(self.lines, 1):
            for piece in line:
                if isinstance(piece, str):
                    continue
                for name, value in piece.facts:
                    if name in lists:
                        lists[name].append({**value, "line": number})
                    elif name in settings:
                        raise AssertionError(f"{name} is written twice")
                    else:
                        settings[name] = {"value": value, "line": number, "text": piece.text}
        return {"settings": settings, "ranges": lists["range"], "links": lists["link"]}
