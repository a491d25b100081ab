"""Crafts built by hand, for tests of a rule's arithmetic without any dump."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from cfglint.craft import Card, Craft, ModeLink, ModeRange, Traits, Value
from cfglint.craft.model import show
from cfglint.span import on_line

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cfglint.span import Span

#: The file that values of a built craft say they come from, and that of its card.
BUILT, BUILT_CARD = "built.txt", "built.toml"


def build_craft(
    settings: Mapping[str, Any] | None = None,
    *,
    card: Mapping[str, Any] | None = None,
    ranges: Sequence[tuple[str, int, float, float]] = (),
    links: Sequence[tuple[str, str]] = (),
    defaults: Mapping[str, Any] | None = None,
    traits: Traits = Traits(),  # noqa: B008  (immutable)
    extent: Literal["full", "changes"] = "full",
    name: str = "Avocet",
) -> Craft:
    """A craft with these settings, each as if it stood on a line of its own.

    ``settings`` and ``card`` map neutral names to typed values (``{"motor.signal":
    "dshot300"}``); ``defaults`` hold without a line.  ``ranges`` are mode, channel, low and
    high in µs, joined by any; ``links`` a mode and the one it follows.  Without ``card`` the
    craft has none.
    """
    lines: list[str] = ["built by hand"]

    def stand(text: str, start: int = 0) -> Span:
        lines.append(text)
        return on_line(BUILT, len(lines), start, len(text))

    values: dict[str, Value] = {
        key: Value(key, value, "default") for key, value in (defaults or {}).items()
    }
    for key, value in (settings or {}).items():
        written = show("", value)
        span = stand(f"{key} {written}", len(key) + 1)
        line = on_line(BUILT, span.line, 0, span.end_column - 1)
        values[key] = Value(key, value, "set", span, line, written)
    mode_ranges = []
    for mode, channel, low, high in ranges:
        span = stand(f"{mode} {channel} {low:g} {high:g}")
        mode_ranges.append(ModeRange(mode, channel, low, high, "any", span, span, span, span))
    mode_links = [
        ModeLink(mode, follows, "any", stand(f"{mode} with {follows}")) for mode, follows in links
    ]
    fields = list(card or ())

    def locate(field: str) -> Span:
        at = fields.index(field)
        return on_line(BUILT_CARD, at + 1, 0, len(f"{field} {show('', (card or {})[field])}"))

    return Craft(
        file=BUILT,
        name=name,
        dialect="built",
        extent=extent,
        whole=on_line(BUILT, 1, 0, len(lines[0])),
        values=values,
        mode_ranges=tuple(mode_ranges),
        mode_links=tuple(mode_links),
        traits=traits,
        card=None if card is None else Card(BUILT_CARD, dict(card), (), locate),
        lines=len(lines),
    )
