"""Loading dialect files: the bundled ones and anyone's."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from cfglint.dialect.model import Dialect
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
    if name not in bundled_names():
        from cfglint.near import suggestion

        raise Problem(
            f"there is no bundled dialect `{name}`", instead=suggestion(name, bundled_names())
        )
    file, data = f"{name}.toml", bundled_bytes(name)
    from cfglint_grammars.parsed import PARSED

    total, parsed = PARSED.get(name, (-1, {}))
    if total == sum_of(data):
        from cfglint.tomltext import Document

        return Dialect(Document(file, data.decode("utf-8").replace("\r\n", "\n"), parsed))
    # The bundled files are checked by the tests, not at every start.
    return load_dialect(file, data, check=False)


def sum_of(data: bytes) -> int:
    """A sum over a bundled dialect's file: whether it is what was parsed.

    Against forgetting, not against forgery: who can write these files can write the code.
    """
    from binascii import crc32

    return crc32(data)


def load_dialect(file: str, data: bytes, *, check: bool = True) -> Dialect:
    """A dialect from the bytes of its file; ``file`` is how messages name it.

    Raises Problem(s) with the place of every mistake.
    """
    from cfglint.tomltext import load

    document: Document = load(file, data)
    if check:
        from cfglint.dialect.checks import mistakes

        raise_all(mistakes(document))
    return Dialect(document)
