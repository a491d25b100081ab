"""A page of SVG that every viewer can draw: literal colours, text, and where paper ends.

Colours stand as attributes, so that programs without style sheets show them; a style block, which
these pass over, replaces them on a dark screen.  Both sets are our own and keep a contrast of at
least 4.5 to 1 against their ground (WCAG 2.1, 1.4.3).

A printed page is 186 x 270 mm, which leaves a rim of 12 mm on A4 (ISO 216: 210 x 297 mm).  What
is drawn :meth:`Page.together` is moved to the next page rather than cut in two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

#: A page is this many units wide; text is sized for it.
WIDE = 960
#: What of an A4 sheet is printed on, mm, and the units that its height holds.
PRINTED_MM = (186, 270)
HIGH = WIDE * PRINTED_MM[1] // PRINTED_MM[0]
LEFT, RIGHT, LINE = 24, 24, 20
#: From the top of a page to its first line of text, and what is kept free below the last.
_TOP, _FOOT = 34, 14
#: A character of the text's 14-unit monospaced face, with room to spare for other faces.
CHAR = 8.6

#: (light, dark) for each role: bars by what their mode does to the motors.
COLOURS = {
    "page": ("#fbfaf7", "#16191c"),
    "ink": ("#1d2326", "#e9e6df"),
    "soft": ("#58626a", "#a7b0b6"),
    "rule": ("#c9c5ba", "#444b51"),
    "arm": ("#b3261e", "#ff9c92"),
    "right": ("#7a2f8f", "#e0a3f2"),
    "loss": ("#8a5a00", "#f0bd62"),
    "mode": ("#0b6a76", "#6fd0dc"),
}
#: Attributes of each kind of text beside its colour: (colour, size, bold).
_KINDS = {
    "": ("", 0, False),
    "head": ("", 20, True),
    "title": ("", 16, True),
    "strong": ("", 0, True),
    "small": ("soft", 12, False),
    "soft": ("soft", 0, False),
    "on-bar": ("page", 0, True),
    **{role: (role, 0, True) for role in ("arm", "right", "loss", "mode")},
}


def fill(colour: str) -> str:
    """Attributes that fill a shape or a text."""
    return f'fill="{COLOURS[colour][0]}" class="{colour}"'


def stroke(colour: str, width: float, inside: str = "none") -> str:
    """Attributes that draw a line, and what is inside it."""
    line = f'stroke="{COLOURS[colour][0]}" stroke-width="{width:g}"'
    return f'fill="{inside}" {line} class="{colour}-line"'


class Page:
    """Elements collected from the top down, over as many printed pages as they take.

    ``y`` is the base of the next line of text; ``ruled`` is what scale stands on this page.
    """

    def __init__(self) -> None:
        self.items: list[str] = []
        self.y = float(_TOP)
        self.number = 1
        self.ruled: object = None

    @property
    def top(self) -> float:
        return (self.number - 1) * HIGH + _TOP

    @property
    def bottom(self) -> float:
        return self.number * HIGH - _FOOT

    def together(self, draw: Callable[[], None]) -> None:
        """Draw on this page, or on the next if it would be cut; what fits none is cut."""
        before, y = len(self.items), self.y
        draw()
        if self._last > self.bottom and y > self.top:
            del self.items[before:]
            self.number += 1
            self.y, self.ruled = self.top, None
            draw()
        while self._last > self.bottom:
            self.number += 1

    @property
    def _last(self) -> float:
        """The lowest that anything reaches: ``y`` is a line further down."""
        return self.y - 14

    def add(self, text: str) -> None:
        self.items.append(text)

    def text(
        self, x: float, text: str, *, kind: str = "", anchor: str = "start", y: float | None = None
    ) -> None:
        colour, size, bold = _KINDS[kind]
        parts = [f'x="{x:.1f}" y="{self.y if y is None else y:.1f}"']
        if size:
            parts.append(f'font-size="{size}"')
        if bold:
            parts.append('font-weight="700"')
        if colour:
            parts.append(fill(colour))
        if anchor != "start":
            parts.append(f'text-anchor="{anchor}"')
        self.add(f"<text {' '.join(parts)}>{escape(text)}</text>")

    def paragraph(self, text: str, *, x: float = LEFT, kind: str = "", indent: str = "") -> None:
        from textwrap import wrap  # only what is drawn needs it

        width = int((WIDE - RIGHT - x) / CHAR)
        lines = wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)
        for line in lines or [""]:
            hang = len(line) - len(line.lstrip())
            self.text(x + hang * CHAR, line.lstrip(), kind=kind)
            self.y += LINE

    def title(self, text: str) -> None:
        self.y += 12
        self.text(LEFT, text, kind="title")
        self.y += LINE + 4

    def document(self, title: str) -> str:
        """All of it as one SVG document, ended by a newline."""
        high = self._last + _FOOT
        # In px of 1/96 inch (CSS Values and Units 3, 5.2): not every viewer reads mm.
        px = PRINTED_MM[0] / 25.4 * 96 / WIDE
        rim = f"{(297 - PRINTED_MM[1]) / 2:g}mm {(210 - PRINTED_MM[0]) / 2:g}mm"
        dark = "".join(
            f".{name}{{fill:{pair[1]}}}.{name}-line{{stroke:{pair[1]}}}"
            for name, pair in COLOURS.items()
        )
        style = (
            f"@page{{size:A4;margin:{rim}}}"
            f"@media screen{{svg{{width:{WIDE}px;height:{high:.0f}px}}}}"
            f"@media screen and (prefers-color-scheme:dark){{{dark}}}"
        )
        hatches = "".join(
            f'<pattern id="hatch-{role}" width="8" height="8" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><rect width="3" height="8" {fill(role)}/></pattern>'
            for role in ("arm", "right", "loss", "mode")
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {high:.0f}" '
            f'width="{WIDE * px:.1f}" height="{high * px:.1f}" role="img" '
            f'aria-labelledby="t"><title id="t">{escape(title)}</title><style>{style}</style>'
            f'<defs>{hatches}</defs><rect width="{WIDE}" height="{high:.0f}" {fill("page")}/>\n'
            f'<g font-family="\'DejaVu Sans Mono\',ui-monospace,monospace" font-size="14" '
            f"{fill('ink')}>\n" + "\n".join(self.items) + "\n</g>\n</svg>\n"
        )


def escape(text: str) -> str:
    """Text as XML content; characters that XML cannot hold become the replacement sign."""
    safe = "".join(char if _allowed(ord(char)) else "\ufffd" for char in text)
    return (
        safe.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    )


def _allowed(code: int) -> bool:
    """Whether XML 1.0 (section 2.2) allows a character."""
    return (
        code in (0x9, 0xA, 0xD)
        or 0x20 <= code <= 0xD7FF
        or 0xE000 <= code < 0xFFFE
        or (0x10000 <= code <= 0x10FFFF)
    )
