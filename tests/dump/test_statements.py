"""Lines to statements, by the derived scanner and by Lark itself."""

from __future__ import annotations

import re
import time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cfglint.dialect import bundled
from cfglint.dump.grammar import load_lark
from cfglint.dump.source import Source
from cfglint.dump.statements import LONGEST_LINE, Scanner, Statement
from cfglint.dump.tree import parse_tree

from .texts import NAMES, NEWLINES, lines, texts

each = pytest.mark.parametrize("name", NAMES)


def read(name: str, text: str) -> list[Statement]:
    return list(bundled(name).scanner.statements(Source.from_text("x.txt", text)))


def kinds(name: str, text: str) -> list[str]:
    return [statement.kind for statement in read(name, text)]


def is_blank(name: str, line: str) -> bool:
    """Blanks, or up to four prompt marks and nothing else."""
    prompt = re.escape({"plain": ">>", "terse": "%", "blocks": "~>"}[name])
    return re.fullmatch(rf"[ \t]*(?:{prompt}[ \t]*){{0,4}}", line) is not None


# -- what the statements of the bundled dialects are ----------------------------------------------


def test_plain() -> None:
    text = (
        "-- note\nlet a be 1 2 \n  >> let b be x\n!! not taken: why not\nforget c\nsave\n"
        "\x00\n>>\n\n\tlet a\n!! not taken:\n>> >> -- x"
    )
    found = read("plain", text)
    assert [(s.kind, s.line, s.name, s.value, s.prompted) for s in found] == [
        ("comment", 1, "", "", False),
        ("assignment", 2, "a", "1 2", False),
        ("assignment", 3, "b", "x", True),
        ("refusal", 4, "", "why not", False),
        ("removal", 5, "c", "", False),
        ("command", 6, "", "", False),
        ("unreadable", 7, "", "", False),
        ("command", 10, "", "", False),
        ("unreadable", 11, "", "", False),
        ("comment", 12, "", "", True),
    ]


def test_terse() -> None:
    text = '; note\nvl:11:19\npf:1\nmd:58:9:2:5:46\n? no\nvl:11\n% vl:1:"A B"\n-'
    assert [(s.kind, s.name, s.value) for s in read("terse", text)] == [
        ("comment", "", ""),
        ("assignment", "11", "19"),
        ("section", "1", ""),
        ("command", "", ""),
        ("refusal", "", "no"),
        ("command", "", ""),
        ("assignment", "1", '"A B"'),
        ("unreadable", "", ""),
    ]


def test_blocks_in_either_letter_case() -> None:
    text = "// note\nwhen  armed {\nWITH reply\nwithout Reply\n- talk\ntalk: a b\n}\n^ no\n{"
    assert [(s.kind, s.name, s.value) for s in read("blocks", text)] == [
        ("comment", "", ""),
        ("section", "when  armed", ""),
        ("switched_on", "reply", ""),
        ("switched_off", "Reply", ""),
        ("removal", "talk", ""),
        ("assignment", "talk", "a b"),
        ("section_end", "", ""),
        ("refusal", "", "no"),
        ("unreadable", "", ""),
    ]


@each
def test_a_line_with_a_control_character_is_no_command(name: str) -> None:
    for line in ("save\x00", "ab: \x1b[0m", "md:1\x7f", "a\x07b"):
        found = read(name, line)
        assert [(s.kind, s.start, s.end) for s in found if s.kind != "assignment"] in (
            [], [("unreadable", 0, len(line))],
        )  # fmt: skip
        assert "command" not in kinds(name, line)


# -- nothing lost, every span exact ---------------------------------------------------------------


@each
@given(text=texts())
def test_every_line_that_is_not_blank_is_one_statement(name: str, text: str) -> None:
    source = Source.from_text("x.txt", text)
    found = list(bundled(name).scanner.statements(source))
    wanted = [n for n, line in enumerate(source.lines, 1) if not is_blank(name, line)]
    assert [statement.line for statement in found] == wanted


@each
@given(text=texts())
def test_spans_slice_back(name: str, text: str) -> None:
    source = Source.from_text("x.txt", text)
    for one in bundled(name).scanner.statements(source):
        assert one.text == source.lines[one.line - 1]
        assert source.slice(one.span("x.txt")) == one.text[one.start : one.end] != ""
        assert source.slice(one.name_span("x.txt")) == (one.name or one.text[one.start : one.end])
        assert source.slice(one.value_span("x.txt")) == (one.value or one.text[one.start : one.end])
        if one.kind != "unreadable":
            assert one.text[one.end :].strip(" \t") == ""
            assert one.text[one.start : one.end].strip(" \t") == one.text[one.start : one.end]
            assert one.prompted or one.text[: one.start].strip(" \t") == ""


@each
@given(before=texts(), after=texts(), junk=lines)
def test_a_line_changes_nothing_but_the_numbers_of_others(
    name: str, before: str, after: str, junk: str
) -> None:
    if before.endswith("\r"):
        before += "\n"
    plain = read(name, before + "\n" + after)
    mixed = read(name, before + "\n" + junk + "\n" + after)
    at = len(Source.from_text("x.txt", before + "\n").lines) + 1
    rest = [one for one in mixed if one.line != at]
    assert [one._replace(line=one.line - 1) if one.line > at else one for one in rest] == plain
    assert len(mixed) - len(rest) == (0 if is_blank(name, junk) else 1)


# -- the scanner and Lark -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def parsers() -> dict[str, object]:
    return {name: load_lark(bundled(name).grammar) for name in NAMES}


@each
@given(text=texts())
@example(text="let a be 1\r\rlet b be 2\r\n\x00\n>>\r")
@example(text="save\x00 more\n~> drive {\r}")
@example(text=">>>>>>>>>> let a be b\n%%%%% %\n~>~>~>~>~>{")
def test_the_scanner_is_lark(name: str, text: str, parsers: dict[str, object]) -> None:
    tree = parsers[name].parse(text)  # type: ignore[attr-defined]
    tokens = list(tree.scan_values(lambda _: True))
    # Lark does not count a lone CR as a line's end: count from the token's offset instead.
    ends = [found.end() for found in re.finditer(r"\r\n|\r|\n", text)]
    wanted = [
        (token.type.lower(), 1 + sum(end <= token.start_pos for end in ends), str(token))
        for token in tokens
        if token.type != "BLANK"
    ]
    assert [(one.kind, one.line, one.text) for one in read(name, text)] == wanted


@each
@given(text=texts())
def test_statements_of_the_tree_are_those_of_the_scanner(name: str, text: str) -> None:
    tree, statements = parse_tree(bundled(name).grammar, text)
    assert statements == read(name, text)
    assert [child.data for child in tree.children if hasattr(child, "data")] == [
        one.kind for one in statements
    ]


# -- long lines and lines made to be slow ---------------------------------------------------------

TRAPS = {
    "blanks": "let a be x" + " " * 60_000 + "y",
    "blanks and no end": "x" + " " * 60_000 + "\x00",
    "blanks alone": " " * 60_000 + "\x00",
    "tabs between": "let a be " + "x \t" * 20_000 + "\x00",
    "quotes": '"' * 60_000,
    "value of quotes": "let " + '"' * 60_000 + " be x",
    "backslashes": '"' + "\\" * 60_000,
    "named backslashes": "vl:" + '"' + "\\" * 60_000 + ":x",
    "escaped quotes": 'put "' + '\\"' * 30_000,
    "prompts": ">>" * 30_000 + "x",
    "prompts of blocks": "~>" * 30_000 + "x",
    "prompts of terse": "%" * 60_000 + "x",
    "prompts and blanks": "~> " * 20_000 + "\x00",
    "braces": "{" * 60_000,
    "title without an end": "a " * 30_000,
    "colons": ":" * 60_000,
    "words": "a" * 60_000 + "\x00",
    "refusal": "!! not taken: " + " " * 60_000 + "x \x00",
    "refusal of blanks": "? " + " " * 60_000 + "\x00",
}


@each
@pytest.mark.parametrize("trap", TRAPS)
def test_no_line_is_slow(name: str, trap: str) -> None:
    scanner = bundled(name).scanner
    scanner.line("warm", 1)
    text = TRAPS[trap]
    start = time.process_time()
    assert scanner.line(text, 1) is not None or is_blank(name, text)
    # A line that is looked at once takes some milliseconds, one looked at again for each of
    # its characters some seconds.
    assert time.process_time() - start < 0.5


@each
def test_longer_lines_are_not_looked_at(name: str) -> None:
    scanner = bundled(name).scanner
    longest = "a" * LONGEST_LINE
    assert scanner.line(longest, 1) == Statement(
        {"terse": "unreadable"}.get(name, "command"), 1, longest, 0, LONGEST_LINE
    )
    longer = longest + "a"
    assert scanner.line(longer, 7) == Statement("unreadable", 7, longer, 0, LONGEST_LINE + 1)


# -- grammars of one's own ------------------------------------------------------------------------


def test_a_scanner_without_marks_of_its_own() -> None:
    scanner = Scanner(
        (("COMMENT", "#.*"), ("ASSIGNMENT", r"[ ]*(?P<assign0_name>\w+)=(?P<assign0_value>\w+)"))
    )
    assert scanner.line("  a=b", 1) == Statement("assignment", 1, "  a=b", 2, 5, "a", 2, "b", 4)
    assert scanner.line("# x", 2) == Statement("comment", 2, "# x", 0, 3)
    # Neither a line that nothing fits nor one that fits in part is lost.
    assert scanner.line("a=b c", 3) == Statement("unreadable", 3, "a=b c", 0, 5)
    assert scanner.line("?", 4) == Statement("unreadable", 4, "?", 0, 1)


def test_only_names_and_values_of_the_right_terminal_count() -> None:
    scanner = Scanner(
        (
            ("SWITCHED_ON", r"on (?P<flagon0_name>\w+)"),
            ("COMMAND", r"(?P<assign0_name>\w+) (?P<assign0_user_name>\w+)"),
        )
    )
    on = scanner.line("on it", 1)
    other = scanner.line("be it", 1)
    assert on is not None
    assert other is not None
    assert (on.name, other.name) == ("it", "")


@given(st.sampled_from(NEWLINES))
def test_newlines_alone_are_no_statement(newline: str) -> None:
    assert read("plain", newline * 3) == []
