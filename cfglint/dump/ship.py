"""Writes the scanners of the bundled dialects into ``grammars/scanners.py``.

Run as ``python -m cfglint.dump.ship`` after any change to a grammar or a bundled dialect's
``[shape]``; a test fails while the file is out of date.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def module_text(grammars: Iterable[str]) -> str:
    """The text of the module for these composed grammars."""
    from cfglint.dump.grammar import derive, derive_atoms, key_of
    from cfglint_grammars import read

    lines = [
        '"""Scanners derived from the bundled grammars by Lark: made by cfglint.dump.ship."""',
        "",
        "# fmt: off",
        "# ruff: noqa: E501",
        "SCANNERS: dict[str, tuple[tuple[str, str], ...]] = {",
    ]
    for grammar in grammars:
        lines.append(f'    "{key_of(grammar)}": (')
        lines += [f"        ({name!r}, {body!r})," for name, body in derive(grammar)]
        lines.append("    ),")
    lines += ["}", "ATOMS: tuple[tuple[str, str], ...] = ("]
    atoms = derive_atoms(read("atoms.lark").decode())
    lines += [f"    ({name!r}, {body!r})," for name, body in atoms]
    return "\n".join([*lines, ")", ""])


def main(grammars: Iterable[str]) -> None:
    """Write the module beside the grammars."""
    import cfglint_grammars

    with open(f"{cfglint_grammars.__path__[0]}/scanners.py", "w", encoding="utf-8") as file:
        file.write(module_text(grammars))


if __name__ == "__main__":
    import importlib

    # The dialects are a layer above: named here at run time only, for this one-off job.
    load = importlib.import_module("cfglint.dialect.load")
    main(load.bundled(name).grammar for name in load.bundled_names())
