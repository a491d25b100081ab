"""Reading the command line: argparse, with one clear line for what is wrong."""

from __future__ import annotations

import argparse
import os
import sys

from cfglint.cli import EXITS

TYPE_CHECKING = False  # as in cfglint.cli
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import NoReturn

    from cfglint.plugins import Command
    from cfglint.runner.one import One


#: No terminal is wider; a line of that many would only fill the memory.
MOST_COLUMNS = 5000


class Formatter(argparse.RawDescriptionHelpFormatter):
    """Help as wide as the terminal.  Finding that out by itself, argparse would import the
    modules for packing archives, also when no help is asked for.
    """

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=28, width=page_width())


def page_width() -> int:
    """How wide prose is set: the terminal, but not wider than reads well."""
    return min(_columns(), 100) - 2


def fitted(text: str, width: int) -> str:
    """A text of paragraphs and of columns that fits a width.

    A paragraph is set anew.  A row of columns (it is indented, or goes on below one that is) stays
    as it is, or if the text does not fit is cut where its last column begins, and hangs from there.
    """
    if all(len(line) <= width for line in text.split("\n")):
        return text
    return "\n\n".join(
        _columned(part, width) if "\n  " in f"\n{part}" else _filled(part, width)
        for part in text.split("\n\n")
    )


def _filled(text: str, width: int, first: str = "", below: str = "") -> str:
    from textwrap import fill

    return fill(
        " ".join(text.split()),
        width,
        initial_indent=first,
        subsequent_indent=below,
        break_on_hyphens=False,
        break_long_words=False,
    )


def _columned(text: str, width: int) -> str:
    """Rows of a name, a gap and what is said of it; lines far indented go on with the one above."""
    rows: list[tuple[str, str]] = []
    for line in text.split("\n"):
        body = line.strip()
        indent = len(line) - len(line.lstrip())
        if indent > 4 and rows:
            rows[-1] = (rows[-1][0], f"{rows[-1][1]} {body}".strip())
            continue
        name, gap, said = body.partition("  ")
        rows.append((" " * indent + name, said.strip()) if gap or indent else (body, ""))
    out = []
    for name, said in rows:
        if not said:
            margin = " " * (len(name) - len(name.lstrip()))
            out.append(_filled(name, width, margin, margin + "  "))
        elif len(name) + 2 + 24 > width or len(name) > 28:
            out += [name, _filled(said, width, " " * 6, " " * 6)]
        else:
            column = max(len(one) for one, _ in rows if len(one) <= 28) + 2
            out.append(_filled(said, width, name.ljust(column), " " * column))
    return "\n".join(out)


def _columns() -> int:
    columns = os.environ.get("COLUMNS", "")
    if columns.isascii() and columns.isdigit() and int(columns[:6]) > 20:
        return int(columns[:6])
    try:
        return max(os.get_terminal_size(sys.__stdout__.fileno()).columns, 40)  # type: ignore[union-attr]
    except (AttributeError, OSError, ValueError):
        return 80


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line, on standard error, exit code 2."""

    def __init__(self, prog: str, about: str, *, epilog: str = "") -> None:
        super().__init__(
            prog=prog,
            description=fitted(about, page_width()),
            epilog=fitted(epilog, page_width()) or None,
            formatter_class=Formatter,
            allow_abbrev=False,
        )

    def print_help(self, file: object = None) -> None:
        """Write the help where reports go.  Raises SystemExit if that cannot be written to."""
        from cfglint.cli.output import to_stdout

        code = to_stdout(lambda stream: stream.write(self.format_help()))
        if code:
            raise SystemExit(code)

    def error(self, message: str) -> NoReturn:
        from cfglint.cli.output import complain

        joint = " " if message.endswith("?") else "; "
        message = message.removeprefix("argument ")
        complain(f"{message}{joint}`{self.prog} --help` shows what there is", prog=self.prog)
        raise SystemExit(2)

    def read(self, words: Sequence[str]) -> argparse.Namespace:
        """The options; an unknown one is answered with the nearest there is."""
        self._habits(words)
        options, unknown = self.parse_known_args(words)
        if unknown:
            from cfglint.near import nearest

            word = unknown[0].partition("=")[0]
            if not word.startswith("-"):
                self.error(f"`{word}` is one word too many")
            known = [name for name in self._option_string_actions if name.startswith("--")]
            # Without the dashes, which would make any two short options look alike.
            close = nearest(word.lstrip("-"), [name.lstrip("-") for name in known])
            self.error(
                f"there is no option `{word}`" + (f"; did you mean `--{close}`?" if close else "")
            )
        return options

    def _habits(self, words: Sequence[str]) -> None:
        """Answers what is typed from habit first: argparse would take its value for a file, or ask
        for something else.
        """
        known = self._option_string_actions
        for word in words[: words.index("--")] if "--" in words else words:
            name = word.partition("=")[0]
            if name.startswith("-") and name != "-" and name not in known:
                from cfglint.cli.usual import usual

                if told := usual(name, known):
                    self.error(told)


def add_stdin(parser: Parser) -> None:
    """The option that names a dump which comes from standard input."""
    parser.add_argument(
        "--stdin-filename",
        default="",
        metavar="FILE",
        help="what `-` counts as: its name, and how the hangar says that it is read",
    )


def check_stdin(options: argparse.Namespace, dumps: Sequence[str]) -> None:
    """Raises Problem if standard input is to be read twice, or is named and not read at all."""
    from cfglint.errors import Problem

    number = list(dumps).count("-")
    if number > 1:
        raise Problem(
            f"`-` stands for {number} dumps, and there is one standard input", instead="name a file"
        )
    if options.stdin_filename and not number:
        raise Problem(
            "--stdin-filename is for standard input, which is not read",
            instead="name `-` as the dump, or leave the option out",
        )


def named_dump(options: argparse.Namespace) -> One:
    """The dump that a command names, with its dialect and card.  Raises Problem."""
    from cfglint.runner.one import read_one

    check_stdin(options, [options.dump])
    return read_one(
        options.dump,
        dialect=options.dialect,
        card=options.card,
        config=options.config,
        stdin_name=options.stdin_filename,
    )


def add_rules(parser: Parser) -> None:
    """The option that names rules of one's own."""
    parser.add_argument(
        "--rules",
        action="append",
        default=[],
        metavar="PATH",
        help="apply the rules in this folder or file too; Python in it is run (may be given "
        "again; $CFGLINT_RULES names some for every run)",
    )


def add_form(parser: Parser, about: str, *forms: str) -> None:
    """The option that says in which form to write; the first one is the usual one."""
    parser.add_argument(
        "--as",
        dest="form",
        type=one_of(*forms),
        default=forms[0],
        metavar="FORM",
        help=about,
    )


def add_update_form(parser: Parser) -> None:
    """The form of what is written about an update: for people, programs, or a pull request."""
    about = "text (for people), json or sarif (for programs), markdown (for a pull request)"
    add_form(parser, about, "text", "json", "sarif", "markdown")


def add_page(parser: Parser) -> None:
    """How the text for people is laid out."""
    parser.add_argument(
        "--colour",
        "--color",
        type=one_of("auto", "always", "never"),
        default="auto",
        metavar="WHEN",
        help="auto, always or never",
    )
    parser.add_argument("--width", type=columns, metavar="COLUMNS", help="width of the text")


def add_shared(parser: Parser) -> None:
    """The option of every command that reads a hangar's configuration."""
    parser.add_argument(
        "--config", default="", metavar="FILE", help="a configuration other than cfglint.toml"
    )


def named_file(text: str) -> str:
    """An argument type: a file's path, which nobody has left empty, as an unset variable does."""
    if not text.strip():
        raise argparse.ArgumentTypeError("no file is named; an empty name writes nothing")
    return text


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
    if text.isascii() and text.isdigit() and len(text) < 10 and 0 < int(text) <= MOST_COLUMNS:
        return int(text)
    raise argparse.ArgumentTypeError(
        f"`{text[:40]}` is no width; write a whole number of columns, 1 to {MOST_COLUMNS}"
    )


def parse(
    command: Command, words: Sequence[str]
) -> tuple[Callable[[argparse.Namespace], int], argparse.Namespace]:
    """A command's function and the options that ``words`` say.  Raises SystemExit as argparse
    does.
    """
    # By its full name, not import_module, which would cost one module more.
    module = __import__(command.module, fromlist=["run"])
    run: Callable[[argparse.Namespace], int] = module.run
    parser = Parser(f"cfglint {command.name}", module.ABOUT, epilog=EXITS)
    module.arguments(parser)
    add_page(parser)
    return run, parser.read(words)
