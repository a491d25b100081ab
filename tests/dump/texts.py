"""Texts of dumps for property tests: statements, near-statements, every kind of newline."""

from __future__ import annotations

from hypothesis import strategies as st

NEWLINES = ("\n", "\r\n", "\r")

#: Whole lines, parts of them and marks of the bundled dialects.
PIECES = (
    "let motor-signal be dshot600",
    'let name-given be "Avocet"',
    "let",
    "be",
    "forget motor-rate",
    "use arm while channel 5 in 1675..2065",
    "channel 1 spans 1000 1500 2000",
    "stow",
    "--",
    ">>",
    "!! not taken: no such word",
    "!! not taken:",
    "vl:11:19",
    "vl:",
    "md:58:9:2:5:46",
    ";",
    "%",
    "pf:1",
    "pf:",
    "? no such record",
    "?",
    "drive {",
    "}",
    "when armed {",
    "talk: digital-600",
    "with reply",
    "WITHOUT Reply",
    "- reply",
    "^ not known",
    "~>",
    "//",
    "{",
    ":",
    "(motor",
    "(motor (idle 4,6)",
    ")",
    "| port | carries | baud |",
    "|  2  | gps |",
    "+---",
    "[motor]",
    "== motor ==",
    "  └─ low: 4",
    '"',
    "\\",
    " ",
    "\t",
    "\f",
    "\x00",
    "\x7f",
    "\u2028",
    "\x85",
    "\xa0",
    "µ",
    "\U0001f681",
    "1e5",
    "-",
    "a",
    "9",
)

lines = st.one_of(
    st.lists(st.sampled_from(PIECES), max_size=7).map("".join),
    st.lists(st.sampled_from(PIECES), max_size=5).map(" ".join),
    st.text(st.characters(exclude_characters="\r\n"), max_size=30),
)


@st.composite
def texts(draw: st.DrawFn) -> str:
    """A text of lines with newlines of any kind, mixed; the last one may have none."""
    parts = draw(st.lists(st.tuples(lines, st.sampled_from(NEWLINES)), max_size=12))
    last = draw(lines)
    return "".join(line + end for line, end in parts) + last
