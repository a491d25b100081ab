"""Reading the command line: argparse, with one clear line for what is wrong."""

from __future__ import annotations

import argparse
from importlib import import_module
from typing import TYPE_CHECKING, NoReturn

from cfglint import __version__
from cfglint.cli import COMMANDS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

ABOUT = "Reads the dumps of flight controllers and says what is wrong before the craft flies."
EXITS = """\
exit codes:
  0  all clear
  1  findings at or above the chosen grade
  2  wrong use or wrong configuration
  3  something could not be read, or a rule crashed
  4  nothing to check
when several apply, the highest number wins"""


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line, on standard error, exit code 2."""

    def __init__(self, prog: str, about: str, *, epilog: str = "") -> None:
        super().__init__(
            prog=prog,
            description=about,
            epilog=epilog or None,
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )

    def error(self, message: str) -> NoReturn:
        from cfglint.cli.output import complain

        joint = " " if message.endswith("?") else "; "
        message = message.removeprefix("argument ")
        complain(f"{message}{joint}`{self.prog} --help` shows what there is", prog=self.prog)
        raise SystemExit(2)

    def read(self, words: Sequence[str]) -> argparse.Namespace:
        """The options; an unknown one is answered with the nearest there is."""
        options, unknown = self.parse_known_args(words)
        if unknown:
            from cfglint.near import nearest

            word = unknown[0].partition("=")[0]
            if not word.startswith("-"):
                self.error(f"`{word}` is one word too many")
            known = [name for name in self._option_string_actions if name.startswith("--")]
            close = nearest(word, known)
            self.error(
                f"there is no option `{word}`" + (f"; did you mean `{close}`?" if close else "")
            )
        return options


def one_of(*words: str) -> Callable[[str], str]:
    """An argument type: one of these words, else a message with the nearest."""

    def convert(text: str) -> str:
        if text in words:
            return text
        from cfglint.near import listing, nearest

        close = nearest(text, words)
        hint = f"did you mean `{close}`? " if close else ""
        raise argparse.ArgumentTypeError(f"`{text}` cannot be; {hint}it may be {listing(words)}")

    return convert


def columns(text: str) -> int:
    """An argument type: a width in terminal columns."""
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) < 100_000:
        return int(text)
    raise argparse.ArgumentTypeError(f"`{text}` is no width; write a whole number of columns")


def parse(
    words: Sequence[str],
) -> tuple[Callable[[argparse.Namespace], int], argparse.Namespace]:
    """The command's function and its options.  Raises SystemExit as argparse does."""
    listing = "\n".join(f"  {name:<9} {about}" for name, about in COMMANDS.items())
    top = Parser(
        "cfglint",
        ABOUT,
        epilog=f"commands:\n{listing}\n\n`cfglint COMMAND --help` tells more of one.\n\n{EXITS}",
    )
    top.usage = "cfglint [--help] [--version] COMMAND …"
    top.add_argument("--version", action="version", version=f"cfglint {__version__}")
    # What comes before the command belongs to cfglint, what comes after to the command.
    at = next((n for n, word in enumerate(words) if not word.startswith("-")), len(words))
    top.read(words[:at])
    if at == len(words):
        top.error("no command is given")
    name = words[at]
    if name not in COMMANDS:
        from cfglint.near import nearest

        close = nearest(name, COMMANDS)
        top.error(f"there is no command `{name}`" + (f"; did you mean `{close}`?" if close else ""))
    module = import_module(f"cfglint.cli.{name}")
    parser = Parser(f"cfglint {name}", module.ABOUT, epilog=EXITS)
    module.arguments(parser)
    run: Callable[[argparse.Namespace], int] = module.run
    return run, parser.read(words[at + 1 :])
