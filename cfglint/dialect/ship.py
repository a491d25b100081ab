"""Writes what is made from the grammars at development time, beside them.

``scanners.py``: the pattern of atoms, derived by Lark from ``atoms.lark`` (importing Lark takes
longer than reading a dump).  ``parsed.py``: the bundled dialects, parsed (reading them as TOML at
every start would take as long as the interpreter takes to start).  Run as
``python -m cfglint.dialect.ship``; a test fails while either is out of date.  At run time a parsed
dialect is used only for a file of exactly the bytes that it was made from.
"""

from __future__ import annotations

from pprint import pformat


def scanners_text() -> str:
    """The text of the module with the pattern of atoms."""
    from cfglint.dump.grammar import derive
    from cfglint_grammars import read

    rows = [f"    ({name!r}, {body!r})," for name, body in derive(read("atoms.lark").decode())]
    return "\n".join(
        [
            '"""The terminals of atoms.lark, in Lark\'s order: made by cfglint.dialect.ship."""',
            "",
            "# fmt: off",
            "# ruff: noqa: E501",
            "ATOMS: tuple[tuple[str, str], ...] = (",
            *rows,
            ")",
            "",
        ]
    )


def parsed_text() -> str:
    """The text of the module with the bundled dialects."""
    from cfglint.dialect.load import bundled_bytes, bundled_names, load_dialect, sum_of

    lines = [
        '"""The bundled dialects, parsed: made by cfglint.dialect.ship."""',
        "",
        "from typing import Any",
        "",
        "# fmt: off",
        "#: Name → sum of the file it was made from, data.",
        "PARSED: dict[str, tuple[int, dict[str, Any]]] = {",
    ]
    for name in bundled_names():
        data = bundled_bytes(name)
        dialect = load_dialect(f"{name}.toml", data, check=False)
        # Examples are only for `cfglint dialect test` and `check`, which read the file itself.
        kept = {key: value for key, value in dialect.data.items() if key != "examples"}
        lines.append(f'    "{name}": ({sum_of(data)},')
        lines.append(f"{pformat(kept, width=100, sort_dicts=False)}),")
    return "\n".join([*lines, "}", ""])


def main() -> None:
    """Write the modules beside the dialects."""
    import cfglint_grammars

    for name, text in (("scanners", scanners_text()), ("parsed", parsed_text())):
        with open(f"{cfglint_grammars.__path__[0]}/{name}.py", "w", encoding="utf-8") as file:
            file.write(text)


if __name__ == "__main__":
    main()
