"""Scanners derived from the bundled grammars by Lark: made by cfglint.dump.ship."""

# fmt: off
# ruff: noqa: E501
SCANNERS: dict[str, tuple[tuple[str, str], ...]] = {
    "7804de71ad2a2e3f581afccd79f280c40c0002b3b4a7e227bf31abf3c8932699": (
        ('REFUSAL', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_refusal>)(?:!![ \t]++not[ \t]++taken:[ \t]++(?P<refusal0_reason>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('COMMENT', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_comment>)(?:\\-\\-)[^\r\n]*+'),
        ('BLANK', '(?:[ \t]*+(?:(?:>>)[ \t]*+){1,4}(?![^\r\n])|[ \t]++(?![^\r\n]))'),
        ('SECTION_END', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_section_end>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SECTION', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_section>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('ASSIGNMENT', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_assignment>)(?:let[ \t]++(?P<assign0_name>"(?:[^"\\\\\r\n]|\\\\[^\r\n])*+"|[^ \t\r\n]++)[ \t]++be[ \t]++(?P<assign0_value>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('REMOVAL', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_removal>)(?:forget[ \t]++(?P<unset0_name>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('SWITCHED_OFF', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_switched_off>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SWITCHED_ON', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_switched_on>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('COMMAND', '[ \t]*+(?:(?:>>)[ \t]*+){0,4}(?P<at_command>)[A-Za-z][^\x00-\x08\x0b-\x1f\x7f\r\n]*+[ \t]*+(?![^\r\n])'),
        ('UNREADABLE', '[^\r\n]++'),
    ),
    "e9e279e88feabd9a165c9fd6ce116b22c4c6a8b5addfd74a1aaa3b703ae28060": (
        ('REFUSAL', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_refusal>)(?:\\?[ \t]++(?P<refusal0_reason>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('COMMENT', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_comment>)(?:;)[^\r\n]*+'),
        ('BLANK', '(?:[ \t]*+(?:(?:%)[ \t]*+){1,4}(?![^\r\n])|[ \t]++(?![^\r\n]))'),
        ('SECTION_END', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_section_end>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SECTION', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_section>)(?:pf:(?P<open0_title>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('ASSIGNMENT', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_assignment>)(?:vl:(?P<assign0_name>"(?:[^"\\\\\r\n]|\\\\[^\r\n])*+"|(?:(?!:)[^ \t\r\n])++):(?P<assign0_value>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('REMOVAL', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_removal>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SWITCHED_OFF', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_switched_off>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SWITCHED_ON', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_switched_on>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('COMMAND', '[ \t]*+(?:(?:%)[ \t]*+){0,4}(?P<at_command>)[A-Za-z]++:[^\x00-\x08\x0b-\x1f\x7f\r\n]*+[ \t]*+(?![^\r\n])'),
        ('UNREADABLE', '[^\r\n]++'),
    ),
    "257d6d6f82f86f4d8b0716232ba3b8aa0378f5b1c6e0f36024add9ddb358e511": (
        ('REFUSAL', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_refusal>)(?i:\\^[ \t]++(?P<refusal0_reason>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('COMMENT', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_comment>)(?i:\\/\\/)[^\r\n]*+'),
        ('BLANK', '(?:[ \t]*+(?:(?i:\\~>)[ \t]*+){1,4}(?![^\r\n])|[ \t]++(?![^\r\n]))'),
        ('SECTION_END', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_section_end>)(?i:\\})[ \t]*+(?![^\r\n])'),
        ('SECTION', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_section>)(?i:(?P<open0_title>(?:(?!\\{)[^\r\n])++)\\{)[ \t]*+(?![^\r\n])'),
        ('ASSIGNMENT', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_assignment>)(?i:(?P<assign0_name>"(?:[^"\\\\\r\n]|\\\\[^\r\n])*+"|(?:(?!:)[^ \t\r\n])++):[ \t]++(?P<assign0_value>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('REMOVAL', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_removal>)(?i:\\-[ \t]++(?P<unset0_name>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('SWITCHED_OFF', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_switched_off>)(?i:without[ \t]++(?P<flagoff0_name>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('SWITCHED_ON', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_switched_on>)(?i:with[ \t]++(?P<flagon0_name>(?=[^ \t\r\n])[^\r\n]*[^ \t\r\n]))[ \t]*+(?![^\r\n])'),
        ('COMMAND', '[ \t]*+(?:(?i:\\~>)[ \t]*+){0,4}(?P<at_command>)[A-Za-z][^\x00-\x08\x0b-\x1f\x7f\r\n]*+[ \t]*+(?![^\r\n])'),
        ('UNREADABLE', '[^\r\n]++'),
    ),
}
ATOMS: tuple[tuple[str, str], ...] = (
    ('BLANK', '[ \t\xa0]++|\x1b\\[[0-9;?]*+[ -\\/]*+[@-~]'),
    ('QUOTED', '"(?:[^"\\\\\n]|\\\\.)*+"|(?<![^\\W_])\'(?=[^\\s\'])(?:[^\'\\\\\n]|\\\\.)*+\'(?![^\\W_])'),
    ('NUMBER', '(?<![\\w.)\\]])[+\\-−](?=\\.?[0-9])(?:0[xX][0-9A-Fa-f]++|[0-9]++(?:\\.[0-9]++)*+|\\.[0-9]++)|0[xX][0-9A-Fa-f]++|[0-9]++(?:\\.[0-9]++)*+|(?<![\\w.])\\.[0-9]++'),
    ('WORD', '[^\\W\\d_]++'),
    ('MARK', '[\\s\\S]'),
)
