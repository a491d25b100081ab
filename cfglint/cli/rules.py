"""``cfglint rules``: list the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import add_rules, one_of

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.cli.parser import Parser

ABOUT = """\
Lists every rule by where it comes from: its grade, its name, what it finds, its options.

In a hangar it says what counts there: which rules are off or have another grade or other options,
and by which line of cfglint.toml."""


def arguments(parser: Parser) -> None:
    add_rules(parser)
    parser.add_argument(
        "--here",
        default="",
        metavar="PATH",
        help="the hangar whose settings count (the one around this folder, if none is named)",
    )
    parser.add_argument(
        "--as",
        dest="form",
        type=one_of("text", "json"),
        default="text",
        metavar="FORM",
        help="write `text` (for people) or `json` (for programs)",
    )


def run(options: Namespace) -> int:
    from cfglint.cli.output import complain_of, to_screen, to_stdout
    from cfglint.cli.own import hangar_at
    from cfglint.report import rule_table
    from cfglint.report.rule_states import as_here

    loaded, config = hangar_at(options.here, options.rules)
    rows, wrong = as_here(loaded.rules, config)
    if options.form == "json":
        text = rule_table.as_json(rows)
        code = to_stdout(lambda stream: stream.write(text))
    else:
        code = to_screen(options, rule_table.table(rows))
    problems = (*loaded.problems, *wrong)
    for problem in problems:
        complain_of(problem)
    return max([code, *(problem.exit for problem in problems)])
