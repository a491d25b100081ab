"""Trying one case: what must hold whatever the case is.  What does not hold raises."""

from __future__ import annotations

import io
import json
import os
import signal
import sys
from contextlib import contextmanager
from functools import cache
from random import Random
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from cfglint.cli import main
from cfglint.craft.cards import read_card
from cfglint.dialect import bundled
from cfglint.dialect.reading import Reader
from cfglint.errors import Problem, Problems
from cfglint.foreign import checked
from cfglint.plugins import load_rules
from cfglint.report.patch import patch_of
from cfglint.report.sarif import write_sarif
from cfglint.report.terminal import write_text
from cfglint.results import Run
from cfglint.rule import GRADES, judge
from cfglint.runner.accept_run import with_accepts
from cfglint.runner.check import Checker, as_source
from cfglint.runner.discover import Dump
from cfglint.runner.fleet import divide
from cfglint.runner.select import select

from .making import CommandCase, DumpCase, fleet_card

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from types import FrameType

    from cfglint.craft import Card, Craft
    from cfglint.dump.source import Source
    from cfglint.runner.check import Checked
    from cfglint.runner.select import Chosen
    from cfglint.span import Span

#: Processor seconds that one case may take, on a slow machine.
SECONDS = 20
STATES = ("holds", "broken", "unknown", "not for this craft")
CODES = (0, 1, 2, 3, 4)
FILE = "x.dump.txt"


class TooLong(BaseException):
    """Not an Exception: nothing that is tried may take it for its own."""


@contextmanager
def within(seconds: float = SECONDS) -> Iterator[None]:
    """Raises TooLong when what is inside takes more of the processor."""

    def over(_: int, __: FrameType | None) -> None:
        raise TooLong(f"more than {seconds} s")

    before = signal.signal(signal.SIGPROF, over)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


@cache
def rules() -> tuple[Chosen, ...]:
    own, _ = divide(select(load_rules().rules, None, [], []).rules)
    return tuple(own)


@cache
def card_of(craft: str) -> Card | None:
    return read_card("card.toml", fleet_card(craft)) if craft else None


def told(problem: Problem, *codes: int) -> None:
    """A Problem is one that can be shown: it says what and has a documented code."""
    for one in problem.each if isinstance(problem, Problems) else (problem,):
        assert one.message
        assert one.exit in (codes or CODES[1:])


# ------------------------------------------------------------------ dumps


def try_dump(case: DumpCase, random: Random, *, every: bool = False) -> None:
    """Read a dump and ask rules of it, a tenth of them or every one."""
    try:
        source = as_source(case.data, FILE)
    except Problem as problem:
        told(problem, 3)
        return
    card = card_of(case.card)
    reader = Reader(source, bundled(case.dialect), card=card, name="x", whole=True)
    craft = reader.craft()
    try_spans(source, reader, craft)
    for chosen in rules() if every else random.sample(rules(), len(rules()) // 10):
        outcome = checked(judge(chosen.rule, craft, chosen.options))
        assert outcome.state in STATES
        assert (outcome.state == "broken") == bool(outcome.findings)
        assert outcome.state != "unknown" or outcome.lacks
        for finding in outcome.findings:
            for span in (finding.span, *(row.span for row in finding.related)):
                if span.file == FILE:
                    inside(source, span)


def inside(source: Source, span: Span) -> str:
    """The text of a span that must lie in the source."""
    lines = source.lines or [""]
    assert span.file == source.file
    assert 1 <= span.line <= span.end_line <= len(lines), span
    assert 1 <= span.column <= len(lines[span.line - 1]) + 1, span
    assert 1 <= span.end_column <= len(lines[span.end_line - 1]) + 1, span
    assert (span.line, span.column) <= (span.end_line, span.end_column), span
    return source.slice(span)


def try_spans(source: Source, reader: Reader, craft: Craft) -> None:
    """Every place that reading tells of is one, and what was read there stands there."""
    for row in reader.rows:
        line = source.lines[row.line - 1]
        for atom in row.atoms:
            assert 0 <= atom.start <= atom.end <= len(line)
    assert reader.uses.keys() == {row.line for row in reader.rows} | reader.identity.numbers
    for value in craft.values.values():
        if value.span is None:
            continue
        if value.span.file == FILE:
            text = inside(source, value.span)
            if value.origin == "set":
                assert text.strip('"') in (value.written, value.written.strip('"')), value
    inside(source, craft.whole)
    for one in (*craft.strays, *craft.misread, *craft.unreadable, *craft.refusals):
        inside(source, one.span)
    for stray in craft.strays:
        inside(source, stray.name_span)
    for row in craft.mode_ranges:
        for span in (row.span, row.channel_span, row.low_span, row.high_span):
            inside(source, span)
    for link in craft.mode_links:
        inside(source, link.span)
    for unread in craft.unread:
        if unread.span is not None and unread.span.file == FILE:
            inside(source, unread.span)


# ------------------------------------------------------------------ whole runs


class Runs:
    """Checks dumps as a run of ``lint`` does, in one process for many of them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.checkers: dict[tuple[str, str], Checker] = {}

    def checker(self, craft: str, dialect: str) -> Checker:
        found = self.checkers.get((craft, dialect))
        if found is None:
            path = ""
            if craft:
                file = self.folder / f"{craft}.toml"
                file.write_bytes(fleet_card(craft))
                path = str(file)
            found = Checker(
                str(self.folder), None, rules(), dialect=dialect, card=path, hashes=True
            )
            self.checkers[craft, dialect] = found
        return found

    def try_run(self, case: DumpCase, random: Random) -> None:
        """Lint a dump, and write the report in every form."""
        checker = self.checker(case.card, random.choice((case.dialect, "")))
        dump = Dump(str(self.folder / FILE), FILE, None, True, case.data)
        found = checker.check(dump)
        run = run_of(str(self.folder), found, random)
        try_run(run, found)
        page = io.StringIO()
        width = random.choice((None, 5, 20, 80, 200))
        write_text(run, file=page, width=width, colour=False, everything=True, show_accepted=True)
        plain(page.getvalue())
        for profile in ("full", "hosted"):
            sarif(json.loads(write_sarif(run, profile=profile)), thorough=random.random() < 0.02)
        patch_of(run, lambda _: case.data, str)


def run_of(root: str, found: Checked, random: Random) -> Run:
    floor: Any = random.choice(GRADES)
    crafts = (found.craft,) if found.craft is not None else ()
    run = Run(
        root,
        tuple(one.rule for one in rules()),
        crafts,
        found.verdicts,
        found.troubles,
        floor,
        found.aside,
    )
    if found.accepts:
        every = [one.rule for one in rules()]
        run = with_accepts(
            run, found.accepts, every, [found], whole=True, crafts=crafts, now="2026-11-25"
        )
    return run


def try_run(run: Run, found: Checked) -> None:
    """One outcome for each rule, and the exit code that README documents."""
    crashed = [one for one in run.troubles if one.kind == "crash"]
    assert not crashed, crashed
    if found.craft is None:
        assert run.troubles
        assert run.exit_code() >= 2
        return
    assert [one.rule for one in found.verdicts] == [one.rule.id for one in rules()]
    for one in run.verdicts:
        assert one.state in STATES
        assert (one.state == "broken") == bool(one.found)
        assert one.state != "unknown" or one.lacks
    codes = [one.exit for one in run.troubles]
    worst = GRADES.index(run.floor)
    codes += [1 for one in run.found if one.accepted is None and GRADES.index(one.grade) <= worst]
    assert run.exit_code() == max(codes, default=0)


def plain(text: str) -> None:
    """Nothing in a page can steer a terminal."""
    odd = {char for char in text if char < " " or "\x7f" <= char <= "\x9f"} - {"\n"}
    assert not odd, odd


def sarif(log: Any, *, thorough: bool) -> None:
    from ..report.sarif_checks import trouble
    from ..report.test_sarif import invalid

    assert trouble(log) == []
    if thorough:
        assert invalid(log) == []


# ------------------------------------------------------------------ command lines


class Stream(io.TextIOWrapper):
    """A strict stream of one encoding."""

    def __init__(self, encoding: str, data: bytes = b"") -> None:
        super().__init__(io.BytesIO(data), encoding=encoding, errors="strict", newline="\n")

    def data(self) -> bytes:
        self.flush()
        found: bytes = self.buffer.getvalue()  # type: ignore[attr-defined]
        return found


def try_command(case: CommandCase, folder: Path, random: Random) -> int:
    """Run a command line in ``folder``, which is made anew; gives the exit code."""
    for path, data in case.files.items():
        file = folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)
    out, err = Stream(case.encoding), Stream(case.encoding)
    kept = sys.stdin, sys.stdout, sys.stderr, os.getcwd()
    os.chdir(folder)
    sys.stdin, sys.stdout, sys.stderr = Stream("utf-8", case.stdin), out, err
    try:
        code = main(case.words)
    finally:
        sys.stdin, sys.stdout, sys.stderr = kept[:3]
        os.chdir(kept[3])
    # A patch has the bytes of the dump, whatever they are.
    strictly = "replace" if "--diff" in case.words else "strict"
    text, said = out.data().decode(case.encoding, strictly), err.data().decode(case.encoding)
    assert code in CODES, code
    assert "itself failed" not in said + text, said + text
    assert "this rule crashed" not in said + text, said + text
    assert "Traceback" not in said, said
    plain(said)
    for line in said.splitlines():
        assert line.startswith("cfglint"), line
    assert code < 2 or said or text
    try_output(case.words, code, text, random)
    if not {"-o", "--output", "--sarif", "--sheet"} & {word.split("=")[0] for word in case.words}:
        for path, data in case.files.items():
            if path != "accepted.toml":
                assert (folder / path).read_bytes() == data, path
    left = [one for one in os.listdir(folder) if one.startswith(".") or one.endswith(".tmp")]
    assert not left, left
    return code


def try_output(words: tuple[str, ...], code: int, text: str, random: Random) -> None:
    """What is for programs is whole; what is for people steers no terminal."""
    form = words[words.index("--as") + 1] if "--as" in words[:-1] else "text"
    helped = "--help" in words or "-h" in words
    if not text or helped or (code == 2 and not text.startswith(("{", "[", "<"))):
        return
    if form == "json":
        json.loads(text)
    elif form == "sarif":
        sarif(json.loads(text), thorough=random.random() < 0.05)
    elif form == "svg":
        ElementTree.fromstring(text)
    elif not {"always", "--colour", "--color"} & set(words) and words[0] not in ("carry", "lint"):
        plain(text)
