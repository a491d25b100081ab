"""``cfglint dialect check``: mistakes and contradictions of a dialect file."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.cli.parser import one_of

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.cli.parser import Parser

ABOUT = """\
Checks a dialect file: mistakes in it, else contradictions between its tables, such as renames
that go round in a circle, changes outside the versions it covers, or two meanings that are
written alike and so cannot be read back.  Exit code 2 means that there are some."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("what", type=one_of("check"), metavar="check", help="what to do")
    add("file", metavar="FILE", help="the dialect file")
    add(
        "--as",
        dest="form",
        type=one_of("text", "json"),
        default="text",
        metavar="FORM",
        help="text (for people) or json (for programs)",
    )


def run(options: Namespace) -> int:
    from cfglint.cli.output import to_stdout
    from cfglint.dialect.contradictions import examine
    from cfglint.errors import EXIT_USE
    from cfglint.report.plain import visible
    from cfglint.runner.reading import read_bytes

    path = options.file
    folder = os.path.dirname(os.path.abspath(path))
    problems = examine(path, read_bytes(path, path), folder=folder)
    if options.form == "json":
        from cfglint.report.update_json import problems_json

        text = problems_json(path, problems)
    else:
        lines = [str(one) for one in problems]
        lines.append(f"{path}: {len(problems) or 'no'} {_noun(len(problems))}")
        text = "".join(visible(line) + "\n" for line in lines)
    code = to_stdout(lambda stream: stream.write(text))
    return max(code, EXIT_USE if problems else 0)


def _noun(number: int) -> str:
    return "contradiction" if number == 1 else "contradictions"
