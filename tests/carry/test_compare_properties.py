"""Comparing accounts for everything: no line that differs goes without an entry."""

from __future__ import annotations

import difflib
import random
import re

from hypothesis import assume, given
from hypothesis import strategies as st

from cfglint.carry.carry import carry, paste
from cfglint.carry.compare import KINDS, Comparison, compare
from cfglint.carry.side import Side, read_side
from cfglint.dialect import bundled
from cfglint.dump.source import Source

from .dumps import Drawn, dumps, targets


def covered(found: Comparison) -> tuple[set[int], set[int]]:
    return (
        {entry.before.line for entry in found.entries if entry.before is not None},
        {entry.after.line for entry in found.entries if entry.after is not None},
    )


def check_covered(found: Comparison) -> None:
    """Reference: difflib's own idea of which lines differ."""
    before, after = found.before.source.lines, found.after.source.lines
    old, new = covered(found)
    blank = {"plain": ">", "terse": "%", "blocks": "~>"}
    matcher = difflib.SequenceMatcher(None, before, after, autojunk=False)
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        if tag == "equal":
            continue
        for lines, numbers, seen, side in (
            (before, range(i1, i2), old, found.before),
            (after, range(j1, j2), new, found.after),
        ):
            for number in numbers:
                if lines[number].strip(" \t" + blank[side.dialect.id]):
                    assert number + 1 in seen, lines[number]
    for entry in found.entries:
        assert entry.kind in KINDS
        assert entry.meaning
        assert (entry.grade is None) or entry.kind != "same"
        for span, source in (
            (entry.before, found.before.source),
            (entry.after, found.after.source),
        ):
            if span is not None:
                assert source.slice(span)


@given(data=st.data(), before=dumps())
def test_every_line_that_differs_is_in_an_entry(data: st.DataObject, before: Drawn) -> None:
    after = data.draw(st.one_of(dumps(before.dialect), dumps()))
    found = compare(before.side(), after.side())
    check_covered(found)
    grades = [entry.grade for entry in found.entries]
    order = ["ground", "fix", "advise", None]
    assert grades == sorted(grades, key=order.index)


@given(drawn=dumps())
def test_a_dump_is_as_itself(drawn: Drawn) -> None:
    side = drawn.side()
    found = compare(side, side)
    refused = [entry for entry in found.entries if entry.kind == "refused"]
    assert len(refused) == len(side.craft.refusals)
    assert [entry for entry in found.shown() if entry.kind != "refused"] == []


@given(drawn=dumps("plain"), seed=st.integers(0, 1000))
def test_the_order_of_lines_is_of_no_account(drawn: Drawn, seed: int) -> None:
    first, *rest = drawn.text.replace("\r\n", "\n").split("\n")
    assume(first.startswith("-- board"))
    # Of a setting given twice the later counts, refusals and removals speak of lines before.
    names: dict[str, str] = {}
    for line in rest:
        # A bracket that is never closed makes a section of whatever follows it.
        if not line.startswith((">>", "!!", "forget")) and not re.search(r"[^\w .,/\"-]", line):
            names["".join(line.split()[:2]) if line.startswith("let") else line] = line
    kept = [line for line in names.values() if not line.startswith(("channel", "port", "on "))]
    mixed = list(kept)
    random.Random(seed).shuffle(mixed)
    sides = [
        read_side(Source.from_text(name, "\n".join([first, *lines, ""])), bundled("plain"))
        for name, lines in (("before.txt", kept), ("after.txt", mixed))
    ]
    found = compare(*sides)
    assert found.shown() == ()
    check_covered(found)


@given(drawn=dumps(), to=targets())
def test_a_carried_setup_differs_only_where_the_hand_list_says(
    drawn: Drawn, to: tuple[str, str]
) -> None:
    side = drawn.side()
    made = carry(side, bundled(to[0]), to[1])
    after = read_side(
        Source.from_text("carried.txt", paste(made)),
        made.target,
        version=made.version,
        extent="changes",
    )
    found = compare(side, after)
    check_covered(found)
    told = {
        row.statement.line
        for row in made.moved
        if row.bucket in ("by hand", "unreadable", "removed", "no setting")
    }
    unsaid = {row.name for row in made.unsaid}
    for entry in found.entries:
        if entry.grade in ("ground", "fix") and entry.name not in unsaid:
            # What is new on the other side is a default that it did not have.
            assert (entry.before is not None and entry.before.line in told) or (
                entry.before is None and entry.name == "craft.board"
            ), entry


def depth(side: Side) -> int:
    """How many sections are open at a dump's end."""
    found = 0
    for statement, use in side.uses:
        if use == "section":
            found = max(0, found + (1 if statement.kind == "section" else -1))
    return found


@given(drawn=dumps(), data=st.data())
def test_lines_to_enter_put_it_right(drawn: Drawn, data: st.DataObject) -> None:
    """Whatever is to be entered, entered: none of it is told of again."""
    side = drawn.side()
    other = data.draw(dumps(drawn.dialect)).side()
    found = compare(side, other)
    lines = [
        entry.enter
        for entry in found.entries
        if entry.enter and not entry.name.startswith("mode ") and entry.kind != "refused"
    ]
    # A section that was left open is left first.
    open_ones = ["}"] * (depth(other) if drawn.dialect == "blocks" else 0)
    text = "\n".join([*other.source.lines, *open_ones, *lines, ""])
    again = compare(side, read_side(Source.from_text("entered.txt", text), side.dialect))
    still = {(entry.name, entry.enter) for entry in again.entries if entry.enter}
    assert not still & {
        (entry.name, entry.enter)
        for entry in found.entries
        if entry.enter in lines and entry.before is not None and entry.name in side.craft.values
    }
