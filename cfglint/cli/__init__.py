"""The command line: one module a command, each thin.

Commands come from plug-ins, the built-in ones as well; a command's module is imported only when
that command is asked for, and other plug-ins only when none of ours is meant.
"""

from __future__ import annotations

import sys

# Not from typing: its import alone takes as long as everything else that --version needs.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

    from cfglint.plugins import Host

ABOUT = """\
usage: cfglint [--help] [--version] COMMAND ...

Reads the dumps of flight controllers and says what is
wrong before the craft flies."""

EXITS = """\
exit codes:
  0  all clear
  1  findings at or above the chosen grade
  2  wrong use or wrong configuration
  3  something could not be read, or a rule crashed
  4  nothing to check
when several apply, the highest number wins"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; gives the exit code, which is one of EXITS, or 130 when interrupted."""
    import gc

    words = list(sys.argv[1:] if argv is None else argv)
    steady_streams()
    # Looking for cycles while modules and dumps are read costs time and finds next to none.
    collecting = gc.isenabled()
    gc.disable()
    try:
        name = words[0] if words else ""
        if any("\0" in word for word in words):  # from another program; no shell can type it
            from cfglint.cli.output import complain

            complain("a word holds a NUL, which no name of a file can; leave it out")
            return 2
        if name in ("--version", "-V") and not words[1:]:
            from cfglint import __version__
            from cfglint.cli.output import to_stdout

            return to_stdout(lambda stream: stream.write(f"cfglint {__version__}\n"))
        return _with_plugins(name, words[1:])
    except KeyboardInterrupt as stop:
        from cfglint.cli.output import complain

        complain(" ".join(["stopped", *map(str, stop.args)]))
        return 130
    except SystemExit as stop:  # argparse, after --help or a wrong use
        return stop.code if isinstance(stop.code, int) else 0
    except Exception as wrong:
        from cfglint.cli.output import failed

        return failed(wrong)
    finally:
        if argv is None:
            # The process ends here: what is still there need not be looked through once more.
            gc.freeze()
        elif collecting:
            gc.enable()


def _with_plugins(name: str, words: Sequence[str]) -> int:
    """Run the command of that name.  A plug-in that is wrong is told of, if nobody else did."""
    from cfglint import plugins
    from cfglint.cli import builtin

    plugins.begin()
    host = plugins.host()
    host.register_ours(builtin)
    try:
        command = host.named("cfglint_commands", name) if name.isidentifier() else None
        if command is None:
            code = _no_command(name, words, host)
        else:
            from cfglint.cli.parser import parse

            run, options = parse(command, words)
            code = run(options)
    finally:
        wrong = {str(problem): problem for problem in host.untold}
        if wrong:
            from cfglint.cli.output import complain

            for text in wrong:
                complain(text)
    return max([code, *(problem.exit for problem in wrong.values())])


def steady_streams() -> None:
    """Have all that is written fit what it is written to: a character that the encoding does not
    hold goes out as our own words' plain one, or as an escape.
    """
    from codecs import register_error

    register_error("cfglint", _plainly)
    for stream, how in ((sys.stdin, "surrogateescape"), (sys.stdout, "cfglint"),
                        (sys.stderr, "cfglint")):  # fmt: skip
        # Started without one, or with one of another kind (in a test), which holds anything.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            try:
                reconfigure(errors=how)
            except (OSError, ValueError):  # it is closed, or was read from
                pass


def _plainly(wrong: UnicodeError) -> tuple[str, int]:
    if not isinstance(wrong, UnicodeEncodeError):
        raise wrong
    from cfglint.report.plain import PLAIN_WORDS, escaped

    chars = wrong.object[wrong.start : wrong.end]
    return "".join(PLAIN_WORDS.get(char) or escaped(char) for char in chars), wrong.end


def _no_command(name: str, rest: Sequence[str], host: Host) -> int:
    """What there is to say without a command: help, or what is wrong."""
    from cfglint.cli.output import complain, to_stdout

    if name in ("--help", "-h", "help") and not rest:
        return to_stdout(lambda stream: stream.write(help_text(host)))
    hint = ";"
    if not name:
        wrong = "no command is given"
    elif name in ("--help", "-h", "help", "--version", "-V"):
        wrong = f"`{name}` stands alone"
    elif name.startswith("-"):
        wrong = f"`{name}` is no option that stands before the command"
    else:
        from cfglint.near import nearest

        wrong = f"there is no command `{name}`"
        close = nearest(name, [one.name for one in host.every("cfglint_commands")])
        hint = f"; did you mean `{close}`?" if close else ";"
    complain(f"{wrong}{hint} `cfglint --help` shows what there is")
    return 2


def help_text(host: Host) -> str:
    """The page of ``cfglint --help``."""
    commands = "\n".join(f"  {one.name:<9} {one.about}" for one in host.every("cfglint_commands"))
    more = "`cfglint COMMAND --help` tells more of one."
    return f"{ABOUT}\n\ncommands:\n{commands}\n\n{more}\n\n{EXITS}\n"
