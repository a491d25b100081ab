"""Grammars of line shapes: composing one for a dialect, and deriving the scanner from it.

The grammar files are Lark's.  Their terminals are *whole lines* and the last of them takes any
line, so a dump always parses and one bad line costs no other.  A dialect sets a grammar's
parameters (NOTE, ASSIGN, …) from its line forms.

Importing Lark takes longer than reading a dump, so the everyday path does not: the scanner's
pattern is derived from Lark's own list of terminals, in Lark's own order, once for each composed
grammar, and kept (for the bundled dialects in ``cfglint_grammars.scanners``, else in the user's
cache folder).  Tests hold the two to the same statements.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from cfglint.dump.forms import pattern
from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

#: Grammar parameter for each kind of line form in a dialect's ``[shape]``.
PARAMETERS = {
    "prompt": "PROMPT",
    "comment": "NOTE",
    "refusal": "REFUSED",
    "assign": "ASSIGN",
    "unset": "UNSET",
    "flag_on": "FLAG_ON",
    "flag_off": "FLAG_OFF",
    "open": "OPEN",
    "close": "CLOSE",
}

#: Terminals that a grammar must have; the statement kinds are their names in lower case.
TERMINALS = (
    "BLANK",
    "COMMENT",
    "REFUSAL",
    "SECTION",
    "SECTION_END",
    "ASSIGNMENT",
    "REMOVAL",
    "SWITCHED_ON",
    "SWITCHED_OFF",
    "COMMAND",
    "UNREADABLE",
)

Spec = tuple[tuple[str, str], ...]


#: Parameters that stand in many terminals, or whose fields nobody asks for: groups unnamed.
_UNNAMED = ("prompt", "comment", "close")


def compose(
    grammar: str,
    shape: Mapping[str, Sequence[str]],
    *,
    ignore_case: bool = False,
    starts: Iterable[str] = (),
) -> str:
    """The grammar text of a dialect: the shape's grammar with its parameters set.

    ``shape`` maps the names of PARAMETERS to line forms; one that is not given keeps what the
    grammar file says, and one that the grammar file does not have is left to it.  With
    ``ignore_case`` the forms given fit in either letter case.
    ``starts`` are texts that a command must be able to begin with (``""``: anything), beside
    what the grammar's FIRST says.
    """
    lines = [grammar]
    for key, terminal in PARAMETERS.items():
        if key in shape and re.search(rf"^{terminal}(?:\.[0-9]+)?[ \t]*:", grammar, re.M):
            # Group names must be unique in the whole scanner: terminal, form number, field.
            patterns = [
                pattern(form, f"{key.replace('_', '')}{number}_", named=key not in _UNNAMED)
                for number, form in enumerate(shape[key])
            ]
            if key == "comment":
                # A mark that is a word ends where the word does: `rem` begins no `remote`.
                patterns = [
                    one + r"(?![A-Za-z0-9_])" if form[-1:].isalnum() else one
                    for one, form in zip(patterns, shape[key], strict=True)
                ]
            # Grouped, because a grammar goes on after its parameter.
            body = "|".join(patterns) or r"[^\s\S]"
            body = f"(?i:{body})" if ignore_case else f"(?:{body})"
            lines.append(f"%override {terminal}: /{body.replace('/', chr(92) + '/')}/")
    first = re.search(r"^FIRST: /(.*)/$", grammar, re.M)
    odd = sorted({text for text in starts if not re.match(first[1], text)}) if first else []
    if first and odd:
        body = "|".join([first[1], *(re.escape(text).replace("/", r"\/") for text in odd)])
        body = r"[^\x00-\x20\x7f]" if "" in odd else f"(?:{body})"
        lines.append(f"%override FIRST: /{f'(?i:{body})' if ignore_case else body}/")
    return "\n".join(lines) + "\n"


def load_lark(grammar: str, file: str = "") -> Any:
    """A Lark parser for a composed grammar.  Raises Problem when Lark refuses the grammar."""
    from lark import Lark
    from lark.exceptions import LarkError

    try:
        made = Lark(grammar, parser="lalr", lexer="contextual", maybe_placeholders=False)
    except (LarkError, re.error) as error:
        raise _unusable(str(error), file) from None
    missing = sorted(set(TERMINALS) - {terminal.name for terminal in made.terminals})
    if missing:
        raise Problem(
            f"the grammar has no terminal {', '.join(missing)}",
            file=file,
            instead="define a whole-line terminal of that name and use it in `start`",
        )
    return made


def _unusable(why: str, file: str) -> Problem:
    first = (why.strip().splitlines() or ["it says nothing more"])[0]
    return Problem(
        f"the grammar is not one that can be used: {first}",
        file=file,
        instead="mend the grammar file or the forms in [shape]",
    )


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


def derive_atoms(grammar: str) -> Spec:
    """The scanner of ``atoms.lark``: every terminal of it."""
    from lark import Lark

    return in_order(Lark(grammar, parser="lalr", lexer="basic").terminals)


def derive(grammar: str, file: str = "") -> Spec:
    """Terminal names and patterns of a grammar's lines, in the order in which Lark tries them.

    Raises Problem for a grammar of which no scanner can be made.
    """
    spec = in_order(item for item in load_lark(grammar, file).terminals if item.name in TERMINALS)
    try:
        re.compile(master(spec))
    except re.error as error:
        # Lark asks only that each terminal is well-formed alone.
        raise _unusable(str(error), file) from None
    return spec


def master(spec: Spec) -> str:
    """One pattern of all a scanner's lines: the group that matched names the terminal."""
    return "|".join(f"(?P<{name}>{body})" for name, body in spec)


def key_of(grammar: str) -> str:
    """The name under which a composed grammar's scanner is kept."""
    from hashlib import sha256

    return sha256(grammar.encode("utf-8", "surrogatepass")).hexdigest()


def shipped(key: str) -> Spec | None:
    """The scanner that comes with cfglint under a key, or None."""
    from cfglint_grammars.scanners import SCANNERS

    found: Spec | None = SCANNERS.get(key)
    return found


def scanner_spec(grammar: str, file: str = "") -> Spec:
    """The scanner of a composed grammar: shipped, kept from an earlier run, or derived now."""
    key = key_of(grammar)
    ours = shipped(key)
    if ours is not None:
        return ours
    from cfglint.dump import kept

    found = kept.read(key)
    if found is None:
        found = derive(grammar, file)
        kept.write(key, found)
    return found
