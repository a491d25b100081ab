"""The command line: one module a command, each thin.

Nothing but argparse is imported until a command runs, so that ``--help`` and ``--version`` are
quick; a command's module is imported only when that command is asked for.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

#: The commands, each in the module of its name: what it does, in a few words.
COMMANDS = {
    "lint": "check dumps, or every dump of a hangar",
    "rules": "list the rules",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; gives the exit code.

    0 all clear; 1 findings at or above the chosen grade; 2 wrong use or wrong configuration;
    3 something could not be read or a rule crashed; 4 nothing to check; a higher number wins.
    130 when interrupted.
    """
    from cfglint.cli.parser import parse

    words = list(sys.argv[1:] if argv is None else argv)
    try:
        run, options = parse(words)
        return run(options)
    except KeyboardInterrupt:
        from cfglint.cli.output import complain

        complain("stopped")
        return 130
    except SystemExit as stop:  # argparse, after --help, --version or a wrong use
        return stop.code if isinstance(stop.code, int) else 0
    except Exception as wrong:
        from cfglint.cli.output import failed

        return failed(wrong)
