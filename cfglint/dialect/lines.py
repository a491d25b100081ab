"""Line forms: how a dialect file writes down a whole line, with braces where it varies.

``let {name} be {value}`` is such a form.  Reading compares words and ignores joints; writing takes
a form letter by letter.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from cfglint.dialect.address import final
from cfglint.dump.atoms import cut

if TYPE_CHECKING:
    from collections.abc import Mapping

_FIELD = re.compile(r"\{([A-Za-z_][A-Za-z0-9_]*)\}")


def fields(form: str) -> tuple[str, ...]:
    """The names in braces, in order."""
    return tuple(_FIELD.findall(form))


def fill(form: str, values: Mapping[str, str]) -> str:
    """The line that a form and its fields' texts make; a field without a text stays as it is."""
    return _FIELD.sub(lambda match: values.get(match[1], match[0]), form)


@lru_cache(maxsize=256)
def pattern(form: str, *, loose: bool = False) -> re.Pattern[str]:
    """The pattern of a whole line; blanks in the form are any run of them.

    A field may hold blanks; one with something behind it is as short as it can be.  If it is
    ``loose``, no blank need follow a mark (`V {title}` is no `VIDEO`, but `# {title}` is `#VIDEO`).
    """
    parts = re.findall(r"\{[A-Za-z_][A-Za-z0-9_]*\}|[ \t]+|[^ \t{]+|\{", form.strip())
    bits = [r"[ \t]*"]
    runs: list[str] = []
    for at, part in enumerate(parts):
        if _FIELD.fullmatch(part):
            body = r"\S(?:.*\S)?" if at == len(parts) - 1 else r'"[^"]*"|\S(?:.*?\S)??'
            runs.append("".join(bits))
            bits = [f"(?P<{part[1:-1]}>{body})"]
        elif part.isspace():
            bits.append(r"[ \t]*" if loose and not parts[at - 1][-1].isalnum() else r"[ \t]+")
        else:
            bits.append(re.escape(part))
    return re.compile(final([*runs, "".join(bits)], "") + r"[ \t]*")


def mistake(form: str, *needed: str) -> str:
    """What keeps a form from being read or written, in a clause, or ``""``."""
    if not form.strip():
        return "is empty, so every line would fit"
    names = fields(form)
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        return f"has {{{twice}}} twice; give each field its own name"
    beside = re.search(r"\}[ \t]*\{", form) if not needed or len(names) > 1 else None
    if beside is not None and "} {" not in form:
        return "has two fields with nothing between them"
    lacking = [name for name in needed if name not in names]
    if lacking:
        return f"needs {' and '.join('{' + name + '}' for name in lacking)}"
    return ""


@lru_cache(maxsize=1024)
def words(text: str) -> tuple[str, ...]:
    """The words and numbers of a text as they are compared."""
    return tuple(atom.text.lower() for atom in cut(text) if atom.kind != "mark")


def find(text: str, name: str) -> tuple[int, int] | None:
    """Where some words stand in a text as words of their own: its characters, from 0.

    Joints and letter case are spelling: ``gyro-calm`` is found in ``gyro_calm``, and ``low`` is
    not found in ``low-cell``.  Fields in braces are no words.
    """
    wanted = words(name)
    size = len(wanted)
    if not size or wanted[0] not in text.lower():
        return None
    braces = [match.span() for match in _FIELD.finditer(text)]
    atoms = [
        atom
        for atom in cut(text)
        if atom.kind != "mark" and not any(start < atom.end <= end for start, end in braces)
    ]
    for at in range(len(atoms) - size + 1):
        if tuple(atom.text.lower() for atom in atoms[at : at + size]) == wanted:
            start, end = atoms[at].start, atoms[at + size - 1].end
            before, after = text[:start][-1:], text[end : end + 1]
            if not _joint(before) and not _joint(after):
                return start, end
    return None


def _joint(char: str) -> bool:
    return char.isalnum() or (char != "" and char in "-_.")


def replaced(text: str, words: str, new: str) -> str:
    """A text in which some words are others; the text itself where it does not hold them."""
    place = find(text, words)
    return text if place is None else text[: place[0]] + new + text[place[1] :]
