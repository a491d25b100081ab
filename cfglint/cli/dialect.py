"""``cfglint dialect``: whether a dialect file is right, and how much it understands."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from cfglint.cli.parser import add_form, add_shared, add_stdin, check_stdin, one_of

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterable

    from cfglint.cli.parser import Parser
    from cfglint.dialect.model import Dialect
    from cfglint.dialect.roundtrip import Trip
    from cfglint.errors import Problem
    from cfglint.runner.one import One

ABOUT = """\
What a dialect file is worth.  FILE is a dialect file, or the name of a dialect, bundled
or of the hangar here.

  check FILE [DUMP ...]   mistakes in it, else contradictions, such as two meanings that are
                          written alike, or an address that fits two places of a dump (exit code
                          2); and whether what the dumps and its own examples say survives being
                          written back and read again (1 if something does not)
  coverage FILE DUMP ...  which lines of the dumps it understands, half or not at all (1 if there
                          are such); which neutral settings it does not map, those first whose
                          lack leaves the most rules unknown; and what is marked unconfirmed
  test FILE               whether its [[examples]] hold, read and written back (1 if one does
                          not; 4 if there is none)"""

_FORMS = ("text", "json", "markdown")


def arguments(parser: Parser) -> None:
    add = parser.add_argument
    what = one_of("check", "coverage", "test")
    add("what", type=what, metavar="WHAT", help="check, coverage or test")
    add("file", metavar="FILE", help="the dialect file")
    add(
        "dumps",
        nargs="*",
        metavar="DUMP",
        help="dumps that it should understand; `-` reads standard input",
    )
    add_stdin(parser)
    add_form(parser, "text (for people), json (for programs) or, of coverage, markdown", *_FORMS)
    add("--all", action="store_true", help="show every line that is not understood")
    add("--card", default="", metavar="FILE", help="the hardware card of all the dumps")
    add_shared(parser)


def run(options: Namespace) -> int:
    from cfglint.errors import Problem

    what = options.what
    check_stdin(options, options.dumps)
    if options.form == "markdown" and what != "coverage":
        raise Problem(f"`dialect {what}` has no markdown", instead="write `--as text` or `json`")
    command: dict[str, Callable[[Namespace], int]] = {
        "check": _check,
        "coverage": _coverage,
        "test": _test,
    }
    options.file = _of_hangar(options.file)
    return command[what](options)


# ---------------------------------------------------------------- the dialect file


def _of_hangar(path: str) -> str:
    """The file of a dialect that the hangar around the current folder calls so, else ``path``.

    Raises Problem(s) for a hangar whose configuration is wrong.
    """
    if os.path.lexists(path) or path.endswith(".toml"):
        return path
    from cfglint.runner.config import find_root, own_config, own_dialects
    from cfglint.runner.here import Here

    root = find_root(".")
    own = own_dialects(own_config(root) if root else None)
    if path in own:
        return own[path] if os.path.isabs(own[path]) else Here(root).file(own[path])
    if not _is_bundled(path) and not os.path.dirname(path):
        from cfglint.dialect.load import bundled_names
        from cfglint.errors import Problem
        from cfglint.near import suggestion

        hint = suggestion(path, [*own, *bundled_names()])
        raise Problem(
            f"there is no dialect `{path}`, and no file of that name",
            instead=hint or "look at its name",
        )
    return path


def _is_bundled(path: str) -> bool:
    from cfglint.dialect.load import bundled_names

    return path in bundled_names() and not os.path.lexists(path)


def _bytes(path: str) -> bytes:
    if _is_bundled(path):
        from cfglint.dialect.load import bundled_bytes

        return bundled_bytes(path)
    from cfglint.runner.reading import read_bytes

    return read_bytes(path, path)


def _load(path: str) -> Dialect:
    """The dialect of a file, its examples included.  Raises Problem(s)."""
    from cfglint.dialect import load_dialect

    name = f"{path}.toml" if _is_bundled(path) else path
    return load_dialect(name, _bytes(path))


def _dumps(options: Namespace, dialect: Dialect) -> tuple[list[One], list[Problem]]:
    """The dumps named, to be read by a dialect, and what is wrong with those that cannot be."""
    from cfglint.cli.output import complain_of
    from cfglint.errors import Problem
    from cfglint.runner.one import read_one

    # A path even where the name does not look like one.
    path = options.file if _is_bundled(options.file) else os.path.abspath(options.file)
    ones: list[One] = []
    wrong: list[Problem] = []
    for dump in options.dumps:
        try:
            one = read_one(
                dump,
                dialect=path,
                card=options.card,
                config=options.config,
                stdin_name=options.stdin_filename if dump == "-" else "",
            )
            ones.append(one._replace(dialect=dialect))
        except Problem as problem:
            complain_of(problem)
            wrong.append(problem)
    return ones, wrong


def _worst(problems: Iterable[Problem], *codes: int) -> int:
    return max(*codes, *(one.exit for one in problems), 0)


def _print(lines: Iterable[str]) -> int:
    from cfglint.cli.output import to_stdout
    from cfglint.report.plain import visible

    return to_stdout(lambda stream: stream.write("".join(f"{visible(one)}\n" for one in lines)))


# ---------------------------------------------------------------- check


def _check(options: Namespace) -> int:
    from cfglint.cli.output import to_stdout
    from cfglint.dialect.contradictions import examine
    from cfglint.errors import EXIT_CLEAR, EXIT_FINDINGS, EXIT_USE, Problem
    from cfglint.report.dialect_check import check_json, check_lines

    path = options.file
    problems = examine(path, _bytes(path))
    trips: list[Trip] = []
    unread: list[Problem] = []
    try:
        dialect = _load(path)
    except Problem:
        pass  # among the problems already: no line can be read by it
    else:
        from cfglint.dialect.roundtrip import round_trip
        from cfglint.dialect.trials import trips_of_examples

        ones, unread = _dumps(options, dialect)
        trips = [round_trip(one.source, dialect, extent=one.extent) for one in ones]
        trips += trips_of_examples(dialect)
        problems += [one for trip in trips for one in trip.ambiguous]
    if options.form == "json":
        text = check_json(path, problems, trips)
        code = to_stdout(lambda stream: stream.write(text))
    else:
        code = _print(check_lines(path, problems, trips))
    lost = EXIT_FINDINGS if any(trip.lost for trip in trips) else EXIT_CLEAR
    return _worst(unread, code, lost, EXIT_USE if problems else EXIT_CLEAR)


# ---------------------------------------------------------------- coverage


def _coverage(options: Namespace) -> int:
    from cfglint.cli.output import complain_of, to_screen, to_stdout
    from cfglint.cli.progress import at_work
    from cfglint.errors import Problem
    from cfglint.report.coverage import coverage as told
    from cfglint.report.coverage import coverage_json, coverage_markdown
    from cfglint.runner.coverage import coverage

    if not options.dumps:
        raise Problem(
            "no dump is named", instead=f"write `cfglint dialect coverage {options.file} DUMP`"
        )
    dialect = _load(options.file)
    ones, unread = _dumps(options, dialect)
    if not ones:
        return _worst(unread)
    with at_work("looking what is understood", quiet=options.form != "text", timed=True) as tell:
        found = coverage(options.file, dialect, ones, unread, tell)
    for problem in found.unread[len(unread) :]:
        complain_of(problem)
    if options.form == "json":
        text = coverage_json(found)
        code = to_stdout(lambda stream: stream.write(text))
    elif options.form == "markdown":
        page = coverage_markdown(found, everything=options.all)
        code = to_stdout(lambda stream: stream.write(page))
    else:
        code = to_screen(options, told(found, options.all))
    return _worst(unread, code, found.exit_code())


# ---------------------------------------------------------------- test


def _test(options: Namespace) -> int:
    from cfglint.cli.output import to_stdout
    from cfglint.dialect.trials import sample_text, try_examples
    from cfglint.errors import EXIT_CLEAR, EXIT_FINDINGS, EXIT_NOTHING, Problem
    from cfglint.report.dialect_check import tried_json, tried_lines

    path = options.file
    if options.dumps:
        raise Problem(
            f"`{options.dumps[0]}` is one word too many: examples stand in the dialect file",
            instead="`cfglint dialect check FILE DUMP` looks at dumps",
        )
    dialect = _load(path)
    tried = try_examples(dialect)
    if not tried:
        raise Problem(
            "this dialect file has no examples",
            file=path,
            instead=f"write what a line means, for instance {sample_text(dialect)}",
            exit=EXIT_NOTHING,
        )
    if options.form == "json":
        text = tried_json(path, tried)
        code = to_stdout(lambda stream: stream.write(text))
    else:
        code = _print(tried_lines(tried))
    return max(code, EXIT_FINDINGS if any(one.failures for one in tried) else EXIT_CLEAR)
