"""Grammars of line shapes and the bundled dialects: data, found beside this file.

``importlib.resources.files("cfglint_grammars")`` finds the same files; reading through the
package's own loader saves that module's import, which costs more than the reading.
"""

from __future__ import annotations

from typing import Any

#: The bundled dialects; each has a ``.toml`` file here.
DIALECTS = ("plain", "terse", "blocks", "nested", "tables")


def read(name: str) -> bytes:
    """The bytes of a file of this package.  Raises OSError if there is none."""
    loader: Any = __loader__  # type: ignore[name-defined]
    folder = __path__[0]
    data: bytes = loader.get_data(f"{folder}/{name}")
    return data
