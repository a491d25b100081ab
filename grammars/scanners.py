"""Scanners derived from the bundled grammars by Lark: made by cfglint.dump.ship."""

# fmt: off
# ruff: noqa: E501
SCANNERS: dict[str, tuple[tuple[str, str], ...]] = {
    "c9dc40ad24606a4529870d8f42821e0c4725c8ab64f8bfee5a7046bc3a158f9d": (
        ('BLANK', '(?:[ \t]*+(?:>>)[ \t]*+(?![^\r\n])|[ \t]++(?![^\r\n]))'),
        ('REFUSAL', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_refusal>)(?:!![ \t]++not[ \t]++taken:[ \t]++(?P<refusal0_reason>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('COMMENT', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_comment>)(?:\\-\\-)[^\r\n]*+'),
        ('SECTION', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_section>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SECTION_END', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_section_end>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('ASSIGNMENT', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_assignment>)(?:let[ \t]++(?P<assign0_name>"(?:[^"\\\\\r\n]|\\\\[^\r\n])*+"|[^ \t\r\n]++)[ \t]++be[ \t]++(?P<assign0_value>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('REMOVAL', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_removal>)(?:forget[ \t]++(?P<unset0_name>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('SWITCHED_OFF', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_switched_off>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SWITCHED_ON', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_switched_on>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('COMMAND', '[ \t]*+(?:(?:>>)[ \t]*+)*(?P<at_command>)[A-Za-z][^\x00-\x08\x0b-\x1f\x7f\r\n]*+'),
        ('UNREADABLE', '[^\r\n]++'),
    ),
    "30ee2674d119d622f9ecb525f24f15e8e1dfe653c35267003ed8003bebdeece6": (
        ('BLANK', '(?:[ \t]*+(?:%)[ \t]*+(?![^\r\n])|[ \t]++(?![^\r\n]))'),
        ('REFUSAL', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_refusal>)(?:\\?[ \t]++(?P<refusal0_reason>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('COMMENT', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_comment>)(?:;)[^\r\n]*+'),
        ('SECTION', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_section>)(?:pf:(?P<open0_title>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('SECTION_END', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_section_end>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('ASSIGNMENT', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_assignment>)(?:vl:(?P<assign0_name>"(?:[^"\\\\\r\n]|\\\\[^\r\n])*+"|(?:(?!:)[^ \t\r\n])++):(?P<assign0_value>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('REMOVAL', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_removal>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SWITCHED_OFF', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_switched_off>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('SWITCHED_ON', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_switched_on>)[^\\s\\S][ \t]*+(?![^\r\n])'),
        ('COMMAND', '[ \t]*+(?:(?:%)[ \t]*+)*(?P<at_command>)[A-Za-z]++:[^\x00-\x08\x0b-\x1f\x7f\r\n]*+'),
        ('UNREADABLE', '[^\r\n]++'),
    ),
    "bdfb8bf61321f947361dff7b82b7fcb400ad90cc853d55fabb71cc021509ba38": (
        ('BLANK', '(?:[ \t]*+(?:\\~>)[ \t]*+(?![^\r\n])|[ \t]++(?![^\r\n]))'),
        ('REFUSAL', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_refusal>)(?:\\^[ \t]++(?P<refusal0_reason>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('COMMENT', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_comment>)(?:\\/\\/)[^\r\n]*+'),
        ('SECTION', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_section>)(?:(?P<open0_title>(?:(?!\\{)[^\r\n])++)\\{)[ \t]*+(?![^\r\n])'),
        ('SECTION_END', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_section_end>)(?:\\})[ \t]*+(?![^\r\n])'),
        ('ASSIGNMENT', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_assignment>)(?:(?P<assign0_name>"(?:[^"\\\\\r\n]|\\\\[^\r\n])*+"|(?:(?!:)[^ \t\r\n])++):[ \t]++(?P<assign0_value>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('REMOVAL', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_removal>)(?:\\-[ \t]++(?P<unset0_name>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('SWITCHED_OFF', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_switched_off>)(?:without[ \t]++(?P<flagoff0_name>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('SWITCHED_ON', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_switched_on>)(?:with[ \t]++(?P<flagon0_name>[^ \t\r\n][^\r\n]*?))[ \t]*+(?![^\r\n])'),
        ('COMMAND', '[ \t]*+(?:(?:\\~>)[ \t]*+)*(?P<at_command>)[A-Za-z][^\x00-\x08\x0b-\x1f\x7f\r\n]*+'),
        ('UNREADABLE', '[^\r\n]++'),
    ),
}
