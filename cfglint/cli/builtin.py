"""What is built in besides the rules, offered as any plug-in would: commands, and reports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cfglint.plugins import Command, Report

if TYPE_CHECKING:
    from argparse import Namespace
    from typing import TextIO

    from cfglint.results import Run


def cfglint_commands() -> list[Command]:
    """Each command is the module of its name."""
    abouts = {
        "lint": "check dumps, or every dump of a hangar",
        "accept": "live with findings of today, or forget old ones",
        "compare": "say what differs between two dumps, by meaning",
        "carry": "bring a setup to another version or dialect",
        "show": "print what a dump is read as",
        "refused": "say why lines were refused, and what to enter",
        "teach": "draft a dialect from sample dumps",
        "dialect": "check a dialect file, and what it understands",
        "rules": "list the rules",
        "switches": "draw what each switch position does",
        "bench": "print the sheet to walk through at the bench",
        "why": "explain a rule, with examples",
        "start": "set up a hangar, the demo, or a rule of yours",
    }
    return [Command(name, about, f"cfglint.cli.{name}") for name, about in abouts.items()]


def cfglint_reports() -> list[Report]:
    return [
        Report("text", "for people", _text),
        Report("sarif", "for programs", _sarif),
    ]


def _text(run: Run, options: Namespace, stream: TextIO) -> None:
    from cfglint.cli.output import colour_of
    from cfglint.report.terminal import write_text
    from cfglint.runner.here import Here

    write_text(
        Here(run.root).run(run),
        file=stream,
        width=options.width,
        colour=colour_of(options),
        quiet=options.quiet,
        show_accepted=options.show_accepted,
        everything=options.all,
    )


def _sarif(run: Run, options: Namespace, stream: TextIO) -> None:
    from cfglint.cli.lint import as_sarif

    stream.write(as_sarif(run, options.profile))
