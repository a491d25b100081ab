"""``cfglint teach --before … --after …``: draft what an update changed."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence
    from typing import TextIO

    from cfglint.cli.parser import Parser
    from cfglint.dialect.model import Dialect
    from cfglint.dump.source import Source
    from cfglint.report.teach_update import Updated
    from cfglint.teach.updates_model import Changes


def arguments(parser: Parser) -> None:
    """Options of the update."""
    add = parser.add_argument
    add(
        "--before",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="dumps from before an update, one a craft",
    )
    add(
        "--after",
        nargs="+",
        action="extend",
        default=[],
        metavar="FILE",
        help="the same craft's dumps from after the update, in the same order",
    )
    add(
        "--dialect",
        default="",
        metavar="FILE",
        help="with --before and --after: the dialect that the changes belong into, a file or the "
        "name of a bundled one",
    )
    add(
        "--at",
        default="",
        metavar="VERSION",
        help="the first version that has the changes (default: as the dump after says)",
    )


def wanted(options: Namespace) -> bool:
    """Whether an update is spoken of."""
    return bool(options.before or options.after or options.dialect or options.at)


def run(options: Namespace) -> int:
    """Draft, write and tell.  Raises Problem(s)."""
    from cfglint.cli.progress import at_work
    from cfglint.cli.teach_files import check_output, read_samples, sealed, write_whole
    from cfglint.report.teach_update import Updated
    from cfglint.teach.updates import changes_between

    _check(options)
    out = options.output
    if out:
        check_output(out, replace=options.replace)
    before, notes = read_samples(options.before, options.stdin_filename)
    after, more = read_samples(options.after, options.stdin_filename)
    name = options.dialect or out or "drafted from these dumps"
    with at_work("drafting what the update changed", quiet=options.form == "json", timed=True):
        base, dialect, drafted = _dialect(options, before)
        found = changes_between(before, after, dialect, name=name, at=options.at)
    if out:
        text = _whole(base, found, options.dialect)
        _sound(out, text)
        write_whole(out, sealed(text))
    told = Updated(
        out,
        options.dialect,
        drafted,
        tuple(one.file for one in before),
        tuple(one.file for one in after),
        found,
        (*notes, *more),
    )
    return max(_print(options, told, base), told.exit_code())


def _check(options: Namespace) -> None:
    """Raises Problem for options that do not go together."""
    from cfglint.cli.parser import check_stdin
    from cfglint.errors import Problem

    if options.samples:
        raise Problem(
            f"`{options.samples[0]}` is a sample, and an update has dumps before and after it",
            instead="write --before FILE or --after FILE, or leave --before and --after out",
        )
    for side, files in (("before", options.before), ("after", options.after)):
        if not files:
            raise Problem(
                f"no dump from {side} the update is named",
                instead="write `cfglint teach --before A --after B`, dumps of the same craft",
            )
    check_stdin(options, [*options.before, *options.after])
    if options.ask:
        raise Problem(
            "--ask is for a dialect, not for an update",
            instead="draft the dialect first: `cfglint teach A --ask -o mine.toml`; then write "
            "`cfglint teach --before A --after B --dialect mine.toml`",
        )
    if options.dialect:
        for option, value in (("--name", options.name), ("--answers", options.answers)):
            if value:
                raise Problem(
                    f"{option} is for a dialect that is drafted, and --dialect names one",
                    instead="leave one of the two out",
                )
    if options.output and options.dialect and _same_file(options.output, options.dialect):
        raise Problem(
            "this file is yours, and is never written over",
            file=options.output,
            instead="leave -o out and paste what is printed, or name another file with -o",
        )


def _same_file(one: str, other: str) -> bool:
    return os.path.realpath(one) == os.path.realpath(other)


def _dialect(options: Namespace, before: Sequence[Source]) -> tuple[str, Dialect, bool]:
    """The text of the dialect that reads the dumps before, itself, and whether it is drafted."""
    from cfglint.cli import teach
    from cfglint.cli.teach_files import read_answers

    if not options.dialect:
        # As it would be drafted from these dumps alone, by the answers kept beside it.
        name = teach._name(options)
        kept = teach._kept(options.output)
        given = read_answers(options.answers) if options.answers else None
        files = [one for one in (kept, given) if one is not None]
        draft = teach._first(before, files, name)
        return draft.text, draft.dialect, True
    from cfglint.cli.dialect import _bytes, _load

    dialect = _load(options.dialect)
    text = _bytes(options.dialect).decode("utf-8-sig").replace("\r\n", "\n")
    return text, dialect, False


def _whole(base: str, found: Changes, file: str) -> str:
    """The dialect's text with the changes in it.  Raises Problem where they cannot be added."""
    from cfglint.errors import Problem
    from cfglint.facts.versions import compare
    from cfglint.tomltext import load

    document = load(file or "the draft", base.encode())
    rows = document.data.get("changes", [])
    order = found.dialect.order
    if any(compare(row["at"], found.at, order) >= 0 for row in rows):
        raise Problem(
            f"this dialect has changes of {rows[-1]['at']} already, and these are of {found.at}",
            file=file,
            instead="leave -o out and put what is printed where it belongs by hand",
        )
    if found.versions:
        span = document.where_value("dialect", "versions")
        lines = base.split("\n")
        line = lines[span.line - 1]
        lines[span.line - 1] = (
            f'{line[: span.column - 1]}"{found.versions}"{line[span.end_column - 1 :]}'
        )
        base = "\n".join(lines)
    return f"{base.rstrip()}\n\n{found.text}"


def _sound(file: str, text: str) -> None:
    """Raises Problem where what would be written is no dialect file."""
    from cfglint.dialect import load_dialect

    folder = os.path.dirname(file) or "."
    load_dialect(file, text.encode(), folder=folder, trust_grammar=True)


def _print(options: Namespace, told: Updated, base: str) -> int:
    from cfglint.cli.output import complain, to_stdout
    from cfglint.cli.teach import _colour
    from cfglint.report.teach_update import summary, updated_json, write_updated

    if options.form == "json":
        text = updated_json(told)
        return to_stdout(lambda stream: stream.write(text))
    if not options.output:
        text = _whole(base, told.changes, "") if told.drafted else told.changes.text
        code = to_stdout(lambda stream: stream.write(text))
        for note in told.notes:
            complain(note)
        complain(summary(told))
        return code

    def write(stream: TextIO) -> None:
        write_updated(told, file=stream, width=options.width, colour=_colour(options))

    return to_stdout(write)
