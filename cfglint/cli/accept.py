"""``cfglint accept``: live with what is found today, and forget what is no longer found."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from cfglint.cli.parser import Parser
    from cfglint.finding import Finding
    from cfglint.results import Run

ABOUT = """\
Records what a hangar's dumps are found guilty of today as accepted, in the file accepted.toml
beside cfglint.toml: a start for a hangar that has lived with faults, so that new ones stand out.

Each finding is known by its fingerprint, which unrelated edits do not move. A finding that
grounds a craft needs a date. Single findings are better accepted where they are, by a comment in
the dump (`cfglint: accept RULE because REASON, by WHO, until DATE`) or an [[accept]] in
cfglint.toml. `cfglint lint --show-accepted` lists them all."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("paths", nargs="*", metavar="PATH", help="files and folders (here, if none is named)")
    add("--all-now", action="store_true", help="accept every finding that there is now")
    add("--prune", action="store_true", help="take out what fits no finding or is past its date")
    add("--reason", default="", metavar="TEXT", help="why they can be lived with")
    add("--by", default="", metavar="NAME", help="who decided it")
    add("--until", default="", metavar="DATE", help="the last day it holds for: 2027-03-31")
    add("--config", default="", metavar="FILE", help="a configuration other than cfglint.toml")
    add(
        "--only",
        action="append",
        default=[],
        metavar="RULE",
        help="accept what this rule or concern finds only (may be given again)",
    )


def run(options: Namespace) -> int:
    from cfglint.cli.output import complain_of_troubles, to_stdout
    from cfglint.cli.progress import at_work
    from cfglint.cli.whole import alone
    from cfglint.errors import Problem
    from cfglint.runner.config import ACCEPTED, find_root
    from cfglint.runner.here import Here
    from cfglint.runner.lint import Request, lint

    if options.all_now == options.prune:
        raise Problem("say what to do", instead="give `--all-now` or `--prune`, one of them")
    if options.prune and (options.only or options.reason or options.by or options.until):
        raise Problem("`--prune` goes with paths and --config alone", instead="leave the rest out")
    if options.all_now:
        _check_decision(options)
    if "-" in options.paths:
        raise Problem("what standard input holds is kept nowhere", instead="name the dump's file")
    start = options.paths[0] if options.paths else "."
    folder = start if os.path.isdir(start) else os.path.dirname(start)
    if not options.config and not find_root(folder):
        raise Problem(
            f"there is no hangar at `{start}`, so nowhere to keep what is accepted",
            instead="write a cfglint.toml first, or accept by a comment in the dump",
        )
    root = os.path.dirname(os.path.abspath(options.config)) if options.config else find_root(folder)
    # What is written rests on what was found: two runs at once would undo each other's work.
    with alone(root):
        with at_work("checking dumps") as tell:
            asked = Request(
                tuple(options.paths), options.config, only=tuple(options.only), tell=tell
            )
            result = lint(asked)
        path = os.path.join(result.root, ACCEPTED)
        said = _record(result, path, options) if options.all_now else _prune(result, path)
    code = to_stdout(lambda stream: stream.writelines(f"{line}\n" for line in said))
    complain_of_troubles(Here(result.root).run(result).troubles)
    return max([code, *(trouble.exit for trouble in result.troubles)])


def _check_decision(options: Namespace) -> None:
    from cfglint.errors import Problem
    from cfglint.runner import accept

    for option, text in (("--reason", options.reason), ("--by", options.by)):
        if not accept.says(text):
            raise Problem(
                f"`{option}` is not given", instead="a decision has a reason and a name; say both"
            )
    if options.until and not accept.day(options.until):
        raise Problem(f"--until: `{options.until}` is no date", instead="write it as 2027-03-31")
    if options.until and options.until < accept.today():
        raise Problem(f"--until: {options.until} is past", instead="write a day to come")


def _record(result: Run, path: str, options: Namespace) -> list[str]:
    """Write all findings down; what to say of it."""
    from cfglint.cli.whole import write_text
    from cfglint.errors import Problem
    from cfglint.report.plain import visible
    from cfglint.runner.accept import NEVER, OWN
    from cfglint.runner.accept_file import HEAD, block
    from cfglint.runner.here import Here, from_here
    from cfglint.runner.reading import read_bytes

    here = Here(result.root)
    found = [one for one in result.findings if one.accepted is None]
    left = [one for one in found if one.rule in NEVER or one.rule.startswith(OWN)]
    now = [one for one in found if one not in left]
    grounds = [one for one in now if one.grade == "ground"]
    if grounds and not options.until:
        raise Problem(
            f"{_many(grounds)} of grade `ground`, and such are accepted up to a date only",
            instead="put them right, or give `--until DATE`; nothing was written",
        )
    said = [f"left as it is: {visible(f'{here.span(one.span)}: {one.rule}')}" for one in left]
    if not now:
        return [*said, "nothing to accept"]
    before = HEAD
    if os.path.lexists(path):
        there = read_bytes(path, from_here(path), within=result.root)
        before = there.decode("utf-8").rstrip("\n") + "\n"
    blocks = (block(one, options.reason.strip(), options.by.strip(), options.until) for one in now)
    write_text(path, before + "".join(blocks))
    until = f" until {options.until}" if options.until else ""
    return [*said, f"{visible(from_here(path))}: {_many(now)} accepted{until}"]


def _many(found: Sequence[Finding]) -> str:
    return f"{len(found)} finding{'' if len(found) == 1 else 's'}"


def _prune(result: Run, path: str) -> list[str]:
    """Take out what is stale; what to say of it."""
    from cfglint.cli.whole import write_text
    from cfglint.report.plain import visible
    from cfglint.runner.accept import OWN, today
    from cfglint.runner.accept_file import read_recorded, without
    from cfglint.runner.config import ACCEPTED
    from cfglint.runner.here import Here, from_here

    here, shown = Here(result.root), visible(from_here(path))
    stale = [one.span for one in result.findings if one.rule == OWN + "matches-nothing"]
    said = [
        f"{visible(str(here.span(span)))}: this accept fits no finding; take it out by hand"
        for span in stale
        if span.file != ACCEPTED
    ]
    document = read_recorded(result.root)
    if document is None:
        return [*said, f"there is no {shown}, so nothing to prune there"]
    lines = {span.line for span in stale if span.file == ACCEPTED}
    rows = document.data.get("accept", ())
    gone = [
        at
        for at, row in enumerate(rows)
        if document.where_value("accept", at).line in lines
        or "" < str(row.get("until", "")) < today()
    ]
    for at in gone:
        row = rows[at]
        place = row.get("file", row.get("craft", ""))
        said.append(f"{shown}: taken out: {visible(row['rule'])} of {visible(place)}")
    if gone:
        with open(path, encoding="utf-8-sig") as stream:
            text = stream.read()
        write_text(path, without(text, document, gone))
    return [*said, f"{shown}: {len(gone)} taken out, {len(rows) - len(gone)} kept"]
