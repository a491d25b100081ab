"""``cfglint bench``: the sheet to walk through at the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import add_form, add_stdin, named_dump

if TYPE_CHECKING:
    from argparse import Namespace

    from cfglint.cli.parser import Parser

ABOUT = """\
Prints what only hands and eyes can check on one craft, in the order of work, with a box to tick
for each.  What the dump and the hardware card say is filled in."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("dump", metavar="DUMP", help="the craft's dump; `-` reads standard input")
    add_stdin(parser)
    add_form(parser, "write `text` (to print) or `markdown` (a task list)", "text", "markdown")
    add("--dialect", default="", metavar="NAME|FILE", help="read the dump by this dialect")
    add("--card", default="", metavar="FILE", help="the craft's hardware card")
    add("--config", default="", metavar="FILE", help="the hangar's cfglint.toml")


def run(options: Namespace) -> int:
    from cfglint.cli.output import to_screen, to_stdout
    from cfglint.dialect import read_craft
    from cfglint.report.bench import as_markdown, blocks, sheet

    one = named_dump(options)
    craft = read_craft(one.source, one.dialect, one.card, one.name, one.extent, whole=True)
    caution = ""
    if craft.unsure:
        from cfglint.report.unsure import caution_for

        caution = caution_for(craft, one.dialect, sheet)
    if options.form == "markdown":
        text = as_markdown(craft, caution)
        return to_stdout(lambda stream: stream.write(text))
    return to_screen(options, blocks(craft, caution))
