"""Loading dialect files: the bundled ones and anyone's."""

from __future__ import annotations

import os
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import FAMILIES_BY_NAME, MODES, setting
from cfglint.dialect.model import Dialect
from cfglint.dump.forms import field_names, head, mistake
from cfglint.dump.grammar import PARAMETERS, compose
from cfglint.errors import Problem, raise_all

if TYPE_CHECKING:
    from cfglint.tomltext import Document


def bundled_names() -> tuple[str, ...]:
    """The names of the dialects that come with cfglint."""
    from cfglint_grammars import DIALECTS

    names: tuple[str, ...] = DIALECTS
    return names


def bundled_bytes(name: str) -> bytes:
    """The file of a dialect that comes with cfglint: with its examples, which ``bundled`` lacks."""
    from cfglint_grammars import read

    data: bytes = read(f"{name}.toml")
    return data


@lru_cache(maxsize=8)
def bundled(name: str) -> Dialect:
    """A dialect that comes with cfglint.  Raises Problem for a name there is not."""
    from cfglint_grammars import read

    if name not in bundled_names():
        from cfglint.near import suggestion

        raise Problem(
            f"there is no bundled dialect `{name}`", instead=suggestion(name, bundled_names())
        )
    file, data = f"{name}.toml", read(f"{name}.toml")
    from cfglint_grammars.parsed import PARSED

    total, key, parsed = PARSED.get(name, (-1, "", {}))
    if total == sum_of(name, data):
        from cfglint.tomltext import Document

        document = Document(file, data.decode("utf-8").replace("\r\n", "\n"), parsed)
        return Dialect(document, lambda: composed(document), key)
    # The bundled files are checked by the tests, not at every start.
    return load_dialect(file, data, check=False)


def sum_of(name: str, data: bytes) -> int:
    """A sum over a bundled dialect's file and its grammar's: whether they are what was parsed.

    Against forgetting, not against forgery: who can write these files can write the code.
    """
    from binascii import crc32

    from cfglint_grammars import read

    # By convention of the bundled dialects the grammar has the dialect's name.
    return crc32(read(f"{name}.lark"), crc32(data))


def load_dialect(
    file: str, data: bytes, *, check: bool = True, folder: str = "", trust_grammar: bool = False
) -> Dialect:
    """A dialect from the bytes of its file; ``file`` is how messages name it.

    ``folder`` is where a grammar file of its own would stand; one is read only with
    ``trust_grammar``, since a pattern in it can be made to run for ever.  Raises Problem(s)
    with the place of every mistake.
    """
    from cfglint.tomltext import load

    document = load(file, data)
    if check:
        from cfglint.dialect.checks import mistakes

        raise_all(mistakes(document))
    return Dialect(document, composed(document, folder, trust=trust_grammar))


def composed(document: Document, folder: str = "", *, trust: bool = False) -> str:
    """The grammar of a dialect, composed for its line forms."""
    return compose(
        grammar_text(document, folder, trust),
        shape_forms(document),
        ignore_case=document.data["shape"].get("case") == "any",
        starts=starts(document.data),
    )


def shape_forms(document: Document) -> dict[str, list[str]]:
    """The line forms of ``[shape]``, by grammar parameter."""
    shape = document.data["shape"]
    found: dict[str, list[str]] = {}
    for key in PARAMETERS:
        if key in shape:
            value = shape[key]
            found[key] = [value] if isinstance(value, str) else value
    return found


def starts(data: dict[str, Any]) -> list[str]:
    """What the lines of ``[[forms]]`` and ``[ignored]`` begin with, at any version."""
    rows = [data, *data.get("changes", [])]
    found = [head(form["line"]) for row in rows for form in row.get("forms", [])]
    return found + [line.rstrip("*") for line in data.get("ignored", {}).get("lines", [])]


def grammar_text(document: Document, folder: str, trust: bool) -> str:
    """The text of the grammar that a dialect names: a bundled shape or a file of its own."""
    from cfglint_grammars import read

    name: str = document.data["shape"]["grammar"]
    if not name.endswith(".lark"):
        return str(read(f"{name}.lark"), "utf-8")
    span = document.where_value("shape", "grammar")
    if not trust:
        raise Problem(
            f"the grammar file `{name}` is read only for a dialect named on the command line",
            span=span,
            instead="use a bundled shape (plain, terse, blocks), or name the dialect with "
            "--dialect",
        )
    try:
        with open(os.path.join(folder, name), encoding="utf-8") as stream:
            return stream.read()
    except (OSError, UnicodeDecodeError) as error:
        raise Problem(
            f"the grammar file `{name}` cannot be read: {error}",
            span=span,
            instead="name a file beside the dialect file",
        ) from None


def unknown_setting(name: str) -> str:
    """What is wrong with a neutral setting's name in a dialect file, or ``""``."""
    try:
        setting(name)
    except KeyError:
        from cfglint.near import suggestion

        return f"is no neutral setting; {suggestion(name, FAMILIES_BY_NAME)}"
    return ""


def unknown_mode(name: str) -> str:
    """What is wrong with a mode's name in a dialect file, or ``""``."""
    if name in MODES:
        return ""
    from cfglint.near import suggestion

    return f"is no mode; {suggestion(name, MODES)}"


def has_fields(value: Any, *fields: str) -> str:
    """What is wrong with a line form (or one of several), which needs certain fields."""
    forms = [value] if isinstance(value, str) else value
    for form in forms:
        wrong = mistake(form)
        if wrong:
            return wrong
        lacking = [field for field in fields if field not in field_names(form)]
        if lacking:
            return f"needs {' and '.join('{' + field + '}' for field in lacking)}"
    return ""
