"""Writes the bundled dialects, parsed, into ``grammars/parsed.py``.

Reading them as TOML at every start would take as long as the interpreter takes to start.  Run as
``python -m cfglint.dialect.ship`` after any change to a bundled dialect or grammar, after
``python -m cfglint.dump.ship``; a test fails while the file is out of date.  At run time it is
used only for files of exactly the bytes that it was made from.
"""

from __future__ import annotations

from pprint import pformat
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def module_text(names: Iterable[str]) -> str:
    """The text of the module for these bundled dialects."""
    from cfglint.dialect.load import load_dialect, sum_of
    from cfglint.dump.grammar import key_of
    from cfglint_grammars import read

    lines = [
        '"""The bundled dialects, parsed: made by cfglint.dialect.ship."""',
        "",
        "from typing import Any",
        "",
        "# fmt: off",
        "#: Name → sum of the files it was made from, key of its scanner, data.",
        "PARSED: dict[str, tuple[int, str, dict[str, Any]]] = {",
    ]
    for name in names:
        data = read(f"{name}.toml")
        dialect = load_dialect(f"{name}.toml", data, check=False)
        # Examples are only for `cfglint dialect test` and `check`, which read the file itself.
        kept = {key: value for key, value in dialect.data.items() if key != "examples"}
        shown = pformat(kept, width=100, sort_dicts=False)
        lines.append(f'    "{name}": ({sum_of(name, data)}, "{key_of(dialect.grammar)}",')
        lines.append(f"{shown}),")
    return "\n".join([*lines, "}", ""])


def main() -> None:
    """Write the module beside the dialects."""
    import cfglint_grammars
    from cfglint.dialect.load import bundled_names

    with open(f"{cfglint_grammars.__path__[0]}/parsed.py", "w", encoding="utf-8") as file:
        file.write(module_text(bundled_names()))


if __name__ == "__main__":
    main()
