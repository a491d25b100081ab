"""``cfglint compare``: what differs between two dumps, by meaning."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import add_shared, add_stdin, add_update_form, check_stdin

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.carry.compare import Comparison
    from cfglint.carry.side import Side
    from cfglint.cli.parser import Parser

ABOUT = """\
Compares two dumps by what they mean: what was lost, changed, put back to its default, refused,
renamed or rescaled.  The order of lines and how values are written do not matter, nor whether
both dumps are of the same firmware or dialect.

`cfglint compare BEFORE AFTER`, or `cfglint compare --at REV FILE` to compare a file with what it
was at a revision of its Git repository.  Exit code 1 means that something needs putting right."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("files", nargs="+", metavar="FILE", help="BEFORE and AFTER, `-` being standard input; with "
        "--at the one file")  # fmt: skip
    add_stdin(parser)
    add("--at", metavar="REV", help="read the earlier dump from the repository's history")
    add_update_form(parser)
    add("--dialect", default="", metavar="NAME|FILE", help="read both dumps by this dialect")
    add(
        "--before-dialect",
        default="",
        metavar="NAME|FILE",
        help="read the earlier dump by this dialect",
    )
    add(
        "--different-craft",
        action="store_true",
        help="compare dumps although they are of different craft",
    )
    add("--all", action="store_true", help="also list what means the same")
    add_shared(parser)


def run(options: Namespace) -> int:
    from cfglint.carry.compare import compare

    before, after = read_both(options)
    found = compare(before, after)
    refuse_different(found, anyway=options.different_craft)
    code = print_form(options, found)
    return max(code, found.exit_code())


def read_both(options: Namespace) -> tuple[Side, Side]:
    """The two sides.  Raises Problem for wrong use and for what cannot be read."""
    from cfglint.errors import Problem

    files = options.files
    check_stdin(options, files)
    early = options.before_dialect or options.dialect
    if options.at is not None:
        if len(files) != 1:
            raise Problem("with --at one file is named", instead="cfglint compare --at REV FILE")
        from cfglint.cli.history import at_revision

        path = options.stdin_filename if files[0] == "-" else files[0]
        if not path:
            raise Problem(
                "with --at the file's name is needed",
                instead="say what `-` is: `--stdin-filename FILE`",
            )
        data, name = at_revision(options.at, path)
        before = side_of(path, options, early, data=data, file=name)
        return before, side_of(files[0], options, options.dialect)
    if len(files) != 2:
        raise Problem(
            f"two dumps are needed to compare, and there {_are(len(files))} named",
            instead="cfglint compare BEFORE AFTER, or cfglint compare --at REV FILE",
        )
    return side_of(files[0], options, early), side_of(files[1], options, options.dialect)


def _are(number: int) -> str:
    return "is one" if number == 1 else f"are {number}"


def side_of(
    path: str, options: Namespace, dialect: str, *, data: bytes | None = None, file: str = ""
) -> Side:
    from cfglint.carry.side import read_side
    from cfglint.carry.versions import covered_version
    from cfglint.runner.one import read_one

    one = read_one(
        path,
        data=data,
        file=file,
        dialect=dialect,
        config=options.config,
        stdin_name=options.stdin_filename if path == "-" else "",
    )
    side = read_side(one.source, one.dialect, one.name, extent=one.extent)
    covered_version(side)
    return side


def refuse_different(found: Comparison, *, anyway: bool) -> None:
    from cfglint.carry.compare import differing_craft
    from cfglint.errors import Problem

    why = differing_craft(found.before, found.after)
    if why and not anyway:
        raise Problem(
            f"these dumps are of different craft: {why}",
            span=found.after.craft.place(found.after.craft.get("craft.name")),
            instead="name two dumps of one craft, or say --different-craft",
        )


def print_form(options: Namespace, found: Comparison) -> int:
    from cfglint.cli.output import to_screen, to_stdout

    if options.form == "text":
        from cfglint.report.update import comparison

        return to_screen(options, comparison(found, options.all))
    if options.form == "json":
        from cfglint.report.update_json import comparison_json

        text = comparison_json(found, everything=options.all)
    elif options.form == "markdown":
        from cfglint.report.update_markdown import comparison_markdown

        text = comparison_markdown(found, everything=options.all)
    else:
        from cfglint.report.update_sarif import comparison_sarif

        text = comparison_sarif(found)
    return to_stdout(lambda stream: stream.write(text))
