"""``cfglint switches``: what every position of every switch does, as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.cli.parser import add_form, add_shared, add_stdin, named_dump

if TYPE_CHECKING:
    from argparse import Namespace
    from typing import TextIO

    from cfglint.cli.parser import Parser
    from cfglint.craft import Craft
    from cfglint.switches.scene import Scene

ABOUT = """\
Draws one craft's switches: a lane for each channel, from the lowest to the highest pulse that the
link sends, with the mode ranges as bars and the switch positions as marks; then what is on in
each state of the switches, and how an upturned craft is righted, flick by flick.

Switches come from the hardware card; where it describes none, three positions are assumed, and
the picture says so.  The exit code does not judge the craft: `cfglint lint` does."""


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    add("dump", metavar="CRAFT", help="the craft's dump; `-` reads standard input")
    add_stdin(parser)
    add_form(
        parser,
        "text (for people), svg (to look at or to print) or json (for programs)",
        "text",
        "svg",
        "json",
    )
    add("-o", "--output", metavar="FILE", help="write to a file instead, over what is there")
    add("--dialect", default="", metavar="NAME|FILE", help="read the dump by this dialect")
    add("--card", default="", metavar="FILE", help="the craft's hardware card")
    add_shared(parser)


def run(options: Namespace) -> int:
    from cfglint.cli.output import colour_of, to_stdout
    from cfglint.cli.whole import write_text
    from cfglint.dialect import read_craft
    from cfglint.errors import EXIT_NOTHING, Problem
    from cfglint.switches.scene import scene

    one = named_dump(options)
    craft = read_craft(one.source, one.dialect, one.card, one.name, one.extent, whole=True)
    told = craft.mode_ranges or craft.drawn or craft.unread_modes()
    if not told and not (craft.card is not None and craft.card.switches):
        raise Problem(
            "this craft has no mode range, and no card that describes a switch",
            file=craft.file,
            instead="there is nothing to draw; name its card with --card, if it has one",
            exit=EXIT_NOTHING,
        )
    if options.form != "json":
        craft = made_plain(craft)
    drawn = scene(craft)
    if craft.unsure:
        from cfglint.report.unsure import caution_for

        caution = caution_for(craft, one.dialect, scene)
        drawn = drawn._replace(notes=(*filter(None, (caution,)), *drawn.notes))
    if options.output:
        write_text(options.output, rendered(drawn, options, "utf-8", colour=False))
        return 0

    def write(stream: TextIO) -> None:
        encoding = getattr(stream, "encoding", None) or "utf-8"
        colour = colour_of(options)
        if colour is None and options.form == "text":
            from cfglint.report.screen import wants_colour

            colour = wants_colour(stream)
        stream.write(rendered(drawn, options, encoding, colour=bool(colour)))

    return to_stdout(write)


def made_plain(craft: Craft) -> Craft:
    """The craft with names that people chose made safe to print, to draw with."""
    from cfglint.report.plain import visible

    card = craft.card
    if card is not None:
        card = card.with_switches(
            tuple(
                row._replace(name=visible(row.name), names=tuple(map(visible, row.names)))
                for row in card.switches
            )
        )
    return craft.changed(
        name=visible(craft.name),
        drawn=tuple(row._replace(mode=visible(row.mode)) for row in craft.drawn),
        unread=tuple(row._replace(text=visible(row.text)) for row in craft.unread),
        card=card,
    )


def rendered(drawn: Scene, options: Namespace, encoding: str, *, colour: bool) -> str:
    """The scene in the form asked for."""
    if options.form == "svg":
        from cfglint.switches.svg import svg

        return svg(drawn)
    if options.form == "json":
        from cfglint.switches.as_json import as_json

        return as_json(drawn)
    from cfglint.cli.parser import page_width
    from cfglint.switches.picture import draw

    return written(draw(drawn, width=options.width or page_width() + 2, colour=colour), encoding)


def written(text: str, encoding: str) -> str:
    """Text with what the encoding does not hold written otherwise; colours stay."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        import re

        from cfglint.report.plain import visible

        parts = re.split("(\x1b\\[[0-9]*m|\n)", text)
        return "".join(part if at % 2 else visible(part, encoding) for at, part in enumerate(parts))
    return text
