"""A dialect with a grammar file of its own: the last resort, and only when it is trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from cfglint.dialect import bundled, load_dialect, read_craft
from cfglint.dump.source import Source
from cfglint.errors import Problem

if TYPE_CHECKING:
    from pathlib import Path

    from cfglint.dialect import Dialect

#: Lines of no bundled shape: `(set poles 14)`, comments in Forth's manner.
LARK = r"""
start: (line? _NL)* line?
?line: BLANK | COMMENT | REFUSAL | SECTION | SECTION_END | ASSIGNMENT | REMOVAL
     | SWITCHED_ON | SWITCHED_OFF | COMMAND | UNREADABLE
BLANK.99: /[ \t]++(?![^\r\n])/
COMMENT.9: /\\ [^\r\n]*+/
REFUSAL.9: /huh\? (?P<refusal0_reason>[^\r\n]++)/
SECTION.9: /<(?P<open0_title>[a-z ]++)>/
SECTION_END.9: /<\/>/
ASSIGNMENT.9: /[ \t]*+\(set (?P<assign0_name>[a-z]++) (?P<assign0_value>[^ \r\n()]++)\)/
REMOVAL.9: /\(unset (?P<unset0_name>[a-z]++)\)/
SWITCHED_ON.9: /\((?P<flagon0_name>[a-z]++)\)/
SWITCHED_OFF.9: /\(not (?P<flagoff0_name>[a-z]++)\)/
COMMAND.5: /[a-z]++ [^\r\n]*+/
UNREADABLE.1: /[^\r\n]++/
_NL: /\r\n|\r|\n/
"""
TOML = """
[dialect]
id = "own"
[shape]
grammar = "own.lark"
assign = "(set {name} {value})"
unset = "(unset {name})"
flag_on = "({name})"
flag_off = "(not {name})"
open = "<{title}>"
close = "</>"
[settings]
"motor.poles" = { name = "poles", default = 12 }
"motor.rate_hz" = { name = "rate", within = "part of it" }
"log.on" = { name = "diary", flag = true }
[[forms]]
line = "on {mode} {channel} {low} {high}"
makes = "range"
"""
DUMP = (
    "\\ note\n(set poles 14)\n<part of it>\n\t(set rate 420)\n</>\n(not diary)\n"
    "on arm 5 1685 2105\n(set poles 9)\nhuh? no\n(diary)\n \n((\n"
)


def own(folder: Path, grammar: str = LARK, *, trust: bool = True) -> Dialect:
    (folder / "own.lark").write_text(grammar, encoding="utf-8")
    return load_dialect("own.toml", TOML.encode(), folder=str(folder), trust_grammar=trust)


def test_it_is_read_only_when_trusted(tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"^own.toml:5:11: .*--dialect$") as caught:
        own(tmp_path, trust=False)
    assert caught.value.exit == 2


def test_it_yields_the_same_statements(tmp_path: Path) -> None:
    dialect = own(tmp_path)
    found = list(dialect.scanner.statements(Source.from_text("x.txt", DUMP)))
    assert [(s.kind, s.line, s.name, s.value, s.start, s.end) for s in found] == [
        ("comment", 1, "", "", 0, 6),
        ("assignment", 2, "poles", "14", 0, 14),
        ("section", 3, "part of it", "", 0, 12),
        ("assignment", 4, "rate", "420", 1, 15),
        ("section_end", 5, "", "", 0, 3),
        ("switched_off", 6, "diary", "", 0, 11),
        ("command", 7, "", "", 0, 18),
        ("assignment", 8, "poles", "9", 0, 13),
        ("refusal", 9, "", "no", 0, 7),
        ("switched_on", 10, "diary", "", 0, 7),
        ("unreadable", 12, "", "", 0, 2),
    ]
    craft = read_craft(Source.from_text("x.txt", DUMP), dialect)
    assert {name: value.value for name, value in craft.values.items()} == {
        "motor.poles": 14, "motor.rate_hz": 420.0, "log.on": True,
    }  # fmt: skip
    assert craft.mode_ranges[0][:4] == ("arm", 5, 1685.0, 2105.0)
    assert [row.cause_text for row in craft.refusals] == ["(set poles 9)"]


def test_it_is_lark_that_says_what_a_line_is(tmp_path: Path) -> None:
    from cfglint.dump.tree import parse_tree

    dialect = own(tmp_path)
    wanted = list(dialect.scanner.statements(Source.from_text("x.txt", DUMP)))
    assert parse_tree(dialect.grammar, DUMP)[1] == wanted


def test_a_copy_of_a_bundled_grammar_reads_alike(tmp_path: Path) -> None:
    from cfglint_grammars import read

    (tmp_path / "mine.lark").write_bytes(read("plain.lark"))
    text = str(read("plain.toml"), "utf-8").replace('grammar = "plain"', 'grammar = "mine.lark"')
    copy = load_dialect("x.toml", text.encode(), folder=str(tmp_path), trust_grammar=True)
    assert copy.grammar == bundled("plain").grammar


@pytest.mark.parametrize(
    ("grammar", "says"),
    [
        ("start: (", "not one that can be used"),
        ("", "not one that can be used"),
        (LARK.replace("REMOVAL.9: /", "REMOVAL.9: /("), "not one that can be used"),
        (LARK.replace("/[ \\t]++(?![^\\r\\n])/", "/[ \\t]*+/"), "not one that can be used"),
        (LARK.replace("SECTION_END", "END"), "no terminal SECTION_END"),
        # Each well-formed alone, but not in one scanner.
        (LARK.replace("unset0_name", "assign0_name"), "not one that can be used"),
    ],
)
def test_a_broken_grammar(tmp_path: Path, grammar: str, says: str) -> None:
    dialect = own(tmp_path, grammar)
    with pytest.raises(Problem, match=says) as caught:
        dialect.scanner.line("x", 1)
    assert caught.value.file == "own.toml"


@pytest.mark.parametrize("content", [None, b"\xff\xfe\xff"])
def test_a_grammar_file_that_cannot_be_read(tmp_path: Path, content: bytes | None) -> None:
    if content is not None:
        (tmp_path / "own.lark").write_bytes(content)
    with pytest.raises(Problem, match=r"^own.toml:5:11: .*own.lark.* cannot be read"):
        load_dialect("own.toml", TOML.encode(), folder=str(tmp_path), trust_grammar=True)
