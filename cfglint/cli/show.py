"""``cfglint show``: what a dump is read as."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.cli.parser import add_form, add_shared, add_stdin, check_stdin

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.cli.parser import Parser
    from cfglint.dump.layout import Row
    from cfglint.dump.source import Source

ABOUT = """\
Prints what one dump is read as: every neutral setting with its value, the line that says it and
how it is written there, mode ranges and links, ports, and the lines that were not read, each with
the reason.  Nothing is judged: `cfglint lint` does that.

With --tree it prints how the text is taken apart before any meaning is looked for: titles, lines,
and the words, numbers and marks of each.  That is what addresses in a dialect file are written by,
and needs no dialect."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("dump", metavar="DUMP", help="the dump; `-` reads standard input")
    add_stdin(parser)
    add_form(parser, "text (for people) or json (for programs)", "text", "json")
    add("--dialect", default="", metavar="NAME|FILE", help="read the dump by this dialect")
    add("--tree", action="store_true", help="show titles, lines and words instead of meanings")
    add_shared(parser)


def run(options: Namespace) -> int:
    from cfglint.cli.output import to_screen, to_stdout
    from cfglint.dialect.reading import Reader
    from cfglint.report.show import meanings, show_json, shown, tree, tree_blocks
    from cfglint.runner.one import read_one

    check_stdin(options, [options.dump])
    if options.tree:
        source, rows = _rows(options)
        if options.form == "json":
            text = show_json({"file": source.file, "rows": tree(rows)})
            return to_stdout(lambda stream: stream.write(text))
        return to_screen(options, tree_blocks(rows))
    one = read_one(
        options.dump,
        dialect=options.dialect,
        config=options.config,
        stdin_name=options.stdin_filename,
    )
    reader = Reader(one.source, one.dialect, card=one.card, name=one.name, extent=one.extent)
    craft = reader.craft()
    if options.form == "json":
        text = show_json(shown(craft, reader))
        return to_stdout(lambda stream: stream.write(text))
    return to_screen(options, meanings(craft, reader))


def _rows(options: Namespace) -> tuple[Source, list[Row]]:
    """The rows of a dump, by the marks of its dialect, if it has one."""
    from cfglint.dump.layout import Marks, rows
    from cfglint.errors import Problem
    from cfglint.runner.check import as_source
    from cfglint.runner.config import find_root
    from cfglint.runner.one import read_one
    from cfglint.runner.reading import STDIN, read_bytes, standard_input

    path, file = options.dump, options.dump
    if path == "-":
        path, file = options.stdin_filename or ".", options.stdin_filename or STDIN
        data = standard_input(file)
    else:
        root = find_root(os.path.dirname(path) or ".")
        data = read_bytes(path, file, pipes=True, within=root)
    source = as_source(data, file)
    try:
        one = read_one(path, data=data, file=file, dialect=options.dialect, config=options.config)
    except Problem:
        if options.dialect:
            raise
        return source, list(rows(source, Marks()))
    return source, list(rows(source, one.dialect.marks))
