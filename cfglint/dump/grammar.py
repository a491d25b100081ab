"""The lexer of atoms, derived from Lark's own list of the terminals in ``atoms.lark``.

Importing Lark takes longer than reading a dump, so it happens once, at development time (see
``cfglint.dialect.ship``): one pattern of all terminals, in the order in which Lark tries them, is
what cuts lines at run time.  Tests hold the two to the same atoms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

Spec = tuple[tuple[str, str], ...]


def in_order(terminals: Iterable[Any]) -> Spec:
    """Names and patterns of Lark's terminals, in the order in which Lark tries them."""
    ordered = sorted(
        terminals,
        key=lambda item: (
            -item.priority,
            -item.pattern.max_width,
            -len(item.pattern.value),
            item.name,
        ),
    )
    return tuple((item.name, item.pattern.to_regexp()) for item in ordered)


def derive(grammar: str) -> Spec:
    """Terminal names and patterns of a grammar, in the order in which Lark tries them."""
    from lark import Lark

    return in_order(Lark(grammar, parser="lalr", lexer="basic").terminals)


def master(spec: Spec) -> str:
    """One pattern of all terminals: the group that matched names the terminal."""
    return "|".join(f"(?P<{name}>{body})" for name, body in spec)
