"""``cfglint carry``: bring a setup to another firmware version or dialect."""

from __future__ import annotations

import os
from argparse import ArgumentTypeError
from typing import TYPE_CHECKING

from cfglint.cli.parser import add_shared, add_stdin, add_update_form, named_dump

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from cfglint.carry.carry import Carry
    from cfglint.carry.lint import Judged
    from cfglint.cli.parser import Parser
    from cfglint.errors import Problem
    from cfglint.runner.one import One

ABOUT = """\
Turns a setup into lines for another firmware version or dialect, without losing one: every
statement of the dump is carried, left out for a reason that is told, or on the list of what to
do by hand, and the counts add up.  The lines are in the order that a controller needs and assume
one that is at its defaults; what saves comes last.

All rules are put to both setups.  Exit code 1 means that something is left to do by hand, or
that the carried setup breaks a rule that the original did not."""


#: What may become of a line, as it is asked for; ``cfglint.carry.carry.BUCKETS`` tells of each.
SHOWN = (
    "as-it-is",
    "new-name",
    "rescaled",
    "default-says-so",
    "removed",
    "overridden",
    "sets-nothing",
    "by-hand",
    "unreadable",
    "no-setting",
)


def bucket(text: str) -> tuple[str, ...]:
    """An argument type: the buckets that a word stands for."""
    word = text.strip().lower().replace(" ", "-")
    if word == "all":
        return tuple(one.replace("-", " ") for one in SHOWN)
    if word in SHOWN:
        return (word.replace("-", " "),)
    raise ArgumentTypeError(f"`{text}` is none of {', '.join(SHOWN)}, all")


def at_least_one(text: str) -> int:
    """An argument type: a number of lines."""
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) < 1_000_000:
        return int(text)
    raise ArgumentTypeError(f"`{text}` is no number of lines; write a whole number from 1")


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("dump", metavar="DUMP", help="the dump to carry; `-` reads standard input")
    add_stdin(parser)
    add(
        "--to",
        required=True,
        metavar="VERSION|DIALECT",
        help="`7.10`, `plain` (its newest version) or `plain@7.10`",
    )
    add("--from", dest="start", default="", metavar="VERSION", help="the dump's own version, if "
        "it does not say")  # fmt: skip
    add("-o", "--output", metavar="FILE", help="write the lines to paste to a file")
    add("--force", action="store_true", help="overwrite that file if it is there")
    add(
        "--batch",
        type=at_least_one,
        default=0,
        metavar="N",
        help="at most N lines at a time, for a slow serial line",
    )
    add(
        "--show",
        action="append",
        default=[],
        type=bucket,
        metavar="BUCKET",
        help="also print every line of the dump of which this became: "
        f"{', '.join(SHOWN)}, or all (may be given again)",
    )
    add_update_form(parser)
    add("--dialect", default="", metavar="NAME|FILE", help="read the dump by this dialect")
    add("--card", default="", metavar="FILE", help="the craft's hardware card")
    add(
        "--rules",
        action="append",
        default=[],
        metavar="PATH",
        help="also put the rules of this file or folder to it (may be given again)",
    )
    add_shared(parser)


def run(options: Namespace) -> int:
    from cfglint.carry.carry import carry, paste
    from cfglint.carry.side import read_side
    from cfglint.carry.versions import checked, known_version, target
    from cfglint.cli.output import complain_of
    from cfglint.errors import EXIT_FINDINGS, EXIT_UNREAD, Problem

    if options.output and _same_file(options.output, options.dump):
        # There may be no other copy of what was set before the update.
        raise Problem(
            "this is the dump that is carried, and it is not written over",
            file=options.output,
            instead="name another with -o, and keep the dump",
        )
    one = named_dump(options)
    to = target(options.to, one.dialect, one.dialects, one.load)
    start = checked(one.dialect, options.start) if options.start else ""
    side = read_side(
        one.source, one.dialect, one.name, version=start, card=one.card, extent=one.extent
    )
    known_version(side)
    found = carry(side, to.dialect, to.version)
    text = paste(found, options.batch)
    judged, problems = judge_carried(one, found, text, options.rules)
    if options.output:
        write_new(options.output, text, force=options.force)
    code = print_form(options, found, judged, text)
    for problem in problems:
        complain_of(problem)
        code = max(code, problem.exit)
    if judged.crashes:
        code = max(code, EXIT_UNREAD)
    if judged.relapses or not found.complete:
        code = max(code, EXIT_FINDINGS)
    return code


def judge_carried(
    one: One, found: Carry, text: str, rules: Sequence[str]
) -> tuple[Judged, tuple[Problem, ...]]:
    """Put all rules of single craft to the dump's craft and the carried one.

    Gives what they say, and what is wrong with rules that could not be loaded.  Raises
    Problem(s) for a wrong configuration of rules.
    """
    from cfglint.carry.lint import judge_both
    from cfglint.carry.side import read_side
    from cfglint.dump.source import Source
    from cfglint.errors import raise_all
    from cfglint.runner.fleet import divide
    from cfglint.runner.here import Here
    from cfglint.runner.own_rules import rules_of_run
    from cfglint.runner.select import select

    loaded = rules_of_run(one.config, rules)
    chosen = select(loaded.rules, one.config)
    here = Here(one.config.root if one.config is not None else os.getcwd())
    problems = tuple(map(here.problem, loaded.problems))
    if chosen.problems:
        # A rule may seem not to be there because its pack did not load.
        raise_all([*problems, *map(here.problem, chosen.problems)])
    before = found.side.craft
    source = Source.from_text("(carried)", text)
    after = read_side(
        source, found.target, before.name, version=found.version, card=one.card, extent="changes"
    )
    own, _fleet = divide(chosen.rules)
    judged = judge_both(before, after.craft, [(row.rule, row.options) for row in own])
    return judged, problems


def _same_file(one: str, other: str) -> bool:
    import os

    return os.path.exists(one) and os.path.exists(other) and os.path.samefile(one, other)


def write_new(path: str, text: str, *, force: bool) -> None:
    """Write a file; without ``force`` it must not be there yet.  Raises Problem if it is, or
    cannot be written.
    """
    from cfglint.cli.whole import write_text
    from cfglint.errors import Problem

    if not write_text(path, text, over=force):
        raise Problem(
            "this file is there already and was left as it is",
            file=path,
            instead="name another with -o, or say --force",
        )


def print_form(options: Namespace, found: Carry, judged: Judged, text: str) -> int:
    from cfglint.cli.output import to_screen, to_stdout

    if options.form == "text":
        from cfglint.report.update import carry

        show = [one for each in options.show for one in each]
        return to_screen(options, carry(found, judged, text, options.output or "", show))
    if options.form == "json":
        from cfglint.report.update_json import carry_json

        report = carry_json(found, judged, text)
    elif options.form == "markdown":
        from cfglint.report.update_markdown import carry_markdown

        report = carry_markdown(found, judged, text)
    else:
        from cfglint.report.update_sarif import carry_sarif

        report = carry_sarif(found, judged)
    return to_stdout(lambda stream: stream.write(report))
