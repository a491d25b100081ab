"""``cfglint refused``: what a controller did not take, why, and what to enter instead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import add_shared, add_stdin, add_update_form, check_stdin

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.carry.refused import Refused
    from cfglint.carry.side import Side
    from cfglint.cli.parser import Parser

ABOUT = """\
Reads the log of a restore (the lines that were pasted, and what the controller answered) and
pairs each refusal with the line that caused it: renamed since, removed, out of range, misspelt;
and what to enter instead.  Exit code 1 means that there are refusals."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("log", metavar="LOG", help="the log; `-` reads standard input")
    add_stdin(parser)
    add_update_form(parser)
    add("--dialect", default="", metavar="NAME|FILE", help="read the log by this dialect")
    add("--to", dest="version", default="", metavar="VERSION", help="the firmware's version, if "
        "the log does not say")  # fmt: skip
    add_shared(parser)


def run(options: Namespace) -> int:
    from cfglint.carry.refused import refused
    from cfglint.carry.side import read_side
    from cfglint.carry.versions import checked, covered_version
    from cfglint.errors import EXIT_FINDINGS
    from cfglint.runner.one import read_one

    check_stdin(options, [options.log])
    one = read_one(
        options.log,
        dialect=options.dialect,
        config=options.config,
        stdin_name=options.stdin_filename,
        teach=False,
    )
    version = checked(one.dialect, options.version) if options.version else ""
    side = read_side(one.source, one.dialect, one.name, version=version, extent=one.extent)
    covered_version(side)
    rows = refused(one.source, one.dialect, version)
    code = print_form(options, rows, side)
    return max(code, EXIT_FINDINGS if rows else 0)


def print_form(options: Namespace, rows: tuple[Refused, ...], side: Side) -> int:
    from cfglint.cli.output import to_screen, to_stdout

    if options.form == "text":
        from cfglint.report.update import refused

        return to_screen(options, refused(rows, side.craft.file))
    if options.form == "json":
        from cfglint.report.update_json import refused_json

        report = refused_json(rows)
    elif options.form == "markdown":
        from cfglint.report.update_markdown import refused_markdown

        report = refused_markdown(rows, side.craft.file)
    else:
        from cfglint.report.update_sarif import refused_sarif

        report = refused_sarif(rows, side)
    return to_stdout(lambda stream: stream.write(report))
