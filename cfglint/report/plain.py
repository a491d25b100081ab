"""Text from outside made safe to print: nothing in it can steer a terminal or hide.

A dump may hold anything: escape sequences that repaint the screen, overrides that turn the
reading direction, blanks of no width.  Here each character becomes a *piece* of plain text: the
character itself where it is an ordinary visible one, else a visible escape:

=====================  =========================================
``\\x1b``               a control character below 32, or delete
``\\xe9``               a byte that is no UTF-8
``\\u202e``             any other character that is not plainly seen
``\\U000e0041``         the same, beyond four digits
=====================  =========================================

Nothing is lost and columns can be counted: one piece a code point.
"""

from __future__ import annotations

import unicodedata

#: General categories (Unicode Standard, 4.5) that are not plainly seen: controls, invisible
#: format characters (bidirectional overrides among them), surrogates, private use, unassigned,
#: line and paragraph separators, and spaces other than the ordinary one.
HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs"})

#: Seen, but terminals differ over how wide: variation selectors, flag letters, skin tones, and
#: the fillers and vowels that only join to the letter before (Unicode Standard, 23.4 and 18.6).
UNSTEADY = (
    (0x034F, 0x034F),
    (0x115F, 0x11FF),
    (0x17B4, 0x17B5),
    (0x180B, 0x180F),
    (0x3164, 0x3164),
    (0xD7B0, 0xD7FF),
    (0xFE00, 0xFE0F),
    (0xFFA0, 0xFFA0),
    (0x1F1E6, 0x1F1FF),
    (0x1F3FB, 0x1F3FF),
    (0xE0000, 0xE0FFF),
)

#: How many marks may be stacked on one letter; more would climb into the lines above.
MOST_MARKS = 3

#: What to write for our own words where the output's encoding does not hold them.
PLAIN_WORDS = {
    "µ": "u",
    "×": "x",
    "÷": "/",
    "·": ".",
    "±": "+-",
    "−": "-",
    "–": "-",
    "—": "-",
    "…": "...",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "→": "->",
    "≈": "~",
    "≤": "<=",
    "≥": ">=",
    "≠": "!=",
    "°": " deg",
}


def escaped(char: str) -> str:
    """One character as a visible escape, in ASCII."""
    code = ord(char)
    if code < 0x20 or code == 0x7F:
        return f"\\x{code:02x}"
    if 0xDC80 <= code <= 0xDCFF:  # a byte kept by the surrogateescape error handler
        return f"\\x{code - 0xDC00:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def pieces(text: str, encoding: str = "utf-8") -> list[str]:
    """One piece of printable text for each code point of ``text``.

    A tab is a control character here: whoever knows the column expands it first.  Characters
    that ``encoding`` does not hold are escaped as well.
    """
    if text.isascii() and text.isprintable():
        return list(text)
    everything = encoding.lower().replace("_", "-") in ("utf-8", "utf8")
    out: list[str] = []
    marks = MOST_MARKS  # nothing to stand on yet
    for char in text:
        if " " <= char <= "~":
            out.append(char)
            marks = 0
            continue
        kind = unicodedata.category(char)
        if kind in HIDDEN or _unsteady(ord(char)):
            out.append(escaped(char))
            marks = MOST_MARKS
        elif kind[0] == "M" and marks >= MOST_MARKS:
            out.append(escaped(char))
        elif everything or _fits(char, encoding):
            out.append(char)
            marks = marks + 1 if kind[0] == "M" else 0
        else:
            out.append(PLAIN_WORDS.get(char) or escaped(char))
            marks = MOST_MARKS
    return out


def visible(text: str, encoding: str = "utf-8") -> str:
    """``text`` with everything that is not plainly seen as a visible escape; always one line."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(pieces(text, encoding))


def _unsteady(code: int) -> bool:
    return any(first <= code <= last for first, last in UNSTEADY)


def _fits(char: str, encoding: str) -> bool:
    try:
        char.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True
