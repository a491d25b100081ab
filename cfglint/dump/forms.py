"""Line forms: how a dialect file writes down a line, and the pattern that reads it.

A form is the line itself with braces where something varies::

    port {N} carries {functions} at {baud}

Blanks in a form stand for any run of blanks.  A field takes what is up to the next literal
character of the form, never a blank, or a quoted string; a field at the end of the form takes
the rest of the line, and a field `title` may hold blanks.  The patterns made from forms hold
only flat character classes and possessive repeats, so no dump can make them slow.
"""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import pairwise

from cfglint.record import NamedTuple

_PIECE = re.compile(r"\{([A-Za-z_][A-Za-z0-9_]*)\}|([ \t]+)|([^{ \t]+|\{)")
_QUOTED = r'"(?:[^"\\\r\n]|\\[^\r\n])*+"'


class Piece(NamedTuple):
    """A part of a form: ``kind`` is ``field``, ``gap`` or ``text``."""

    kind: str
    text: str


@lru_cache(maxsize=1024)
def pieces(form: str) -> tuple[Piece, ...]:
    """The parts of a form, in order."""
    found = []
    for match in _PIECE.finditer(form.strip()):
        field, gap, text = match.groups()
        found.append(
            Piece("field", field) if field else Piece("gap" if gap else "text", gap or text)
        )
    return tuple(found)


def field_names(form: str) -> tuple[str, ...]:
    """The names in braces, in order."""
    return tuple(piece.text for piece in pieces(form) if piece.kind == "field")


def head(form: str) -> str:
    """The literal text a form begins with, up to its first blank or field ("" if none)."""
    first = pieces(form)[:1]
    return first[0].text if first and first[0].kind == "text" else ""


def mistake(form: str) -> str:
    """What keeps a form from being read, in a clause, or ``""``."""
    parts = pieces(form)
    if not parts:
        return "is empty, so every line would fit"
    names = field_names(form)
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        return f"has {{{twice}}} twice; give each field its own name"
    for first, second in pairwise(parts):
        if first.kind == second.kind == "field":
            return f"has nothing between {{{first.text}}} and {{{second.text}}}"
    return ""


def pattern(form: str, prefix: str = "", *, named: bool = True) -> str:
    """The regular expression of a form; groups are named ``prefix`` + field name, if at all."""
    parts = pieces(form)
    out = []
    skip_gap = False
    for index, piece in enumerate(parts):
        if piece.kind == "gap" and skip_gap:
            skip_gap = False
        elif piece.kind == "gap":
            out.append(r"[ \t]++")
        elif piece.kind == "text":
            out.append(re.escape(piece.text))
        else:
            following = parts[index + 1] if index + 1 < len(parts) else None
            if piece.text == "title" and following is not None:
                # A section's title may hold blanks; those after it are the reader's to strip.
                literal = next((part.text for part in parts[index:] if part.kind == "text"), "")
                body = rf"(?:(?!{re.escape(literal)})[^\r\n])++" if literal else r"[^\r\n]++"
                out.append(f"(?P<{prefix}title>{body})" if named else f"(?:{body})")
                skip_gap = following.kind == "gap"
                continue
            if following is None:
                # Back from the line's end over the blanks there, once: never blank by blank.
                body = r"(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]"
            elif following.kind == "text":
                body = rf"{_QUOTED}|(?:(?!{re.escape(following.text)})[^ \t\r\n])++"
            else:
                body = rf"{_QUOTED}|[^ \t\r\n]++"
            out.append(f"(?P<{prefix}{piece.text}>{body})" if named else f"(?:{body})")
    return "".join(out)


def fill(form: str, values: dict[str, str]) -> str:
    """The line that a form and its fields' texts make."""
    return "".join(
        values[piece.text] if piece.kind == "field" else " " if piece.kind == "gap" else piece.text
        for piece in pieces(form)
    )
