"""The terminals of atoms.lark, in Lark's order: made by cfglint.dialect.ship."""

# fmt: off
# ruff: noqa: E501
ATOMS: tuple[tuple[str, str], ...] = (
    ('QUOTED', '"(?:[^"\\\\\n]|\\\\.)*+"|(?<![^\\W_])\'(?=[^\\s\'])(?:[^\'\\\\\n]|\\\\.)*+\'(?![^\\W_])'),
    ('NUMBER', '(?<![\\w.)\\]])[+\\-−](?=\\.?[0-9])(?:0[xX][0-9A-Fa-f]++|[0-9]++(?:\\.[0-9]++)*+|\\.[0-9]++)|0[xX][0-9A-Fa-f]++|[0-9]++(?:\\.[0-9]++)*+|(?<![\\w.])\\.[0-9]++'),
    ('WORD', '[^\\W\\d_]++'),
    ('BLANK', '[ \t\xa0]++'),
    ('MARK', '[\\s\\S]'),
)
